package paper

import (
	"fmt"

	"hangtrue/pwa/markup"
)

// A Page is a document shown in a browser: each sheet as it will be on paper, and nothing
// else where it is printed. It needs no script.
type Page struct {
	Style string // the address of the style sheet
	Back  string // where the list of all paper is
	// Files are other forms of the same document: word and address.
	Files [][2]string
	// Form stands before the sheets on the screen alone; it may be nil.
	Form markup.Node
}

// HTML is the whole page.
func (p Page) HTML(d Document) string {
	class := func(names string) markup.Node { return markup.Attr("class", names) }
	return "<!DOCTYPE html>\n" + markup.String(markup.El("html", markup.Attr("lang", "en"),
		markup.El("head",
			markup.El("meta", markup.Attr("charset", "utf-8")),
			markup.El("title", markup.Text(d.Title+" · hangtrue")),
			markup.El("meta", markup.Attr("name", "viewport"), markup.Attr("content", "width=device-width, initial-scale=1")),
			markup.El("link", markup.Attr("rel", "stylesheet"), markup.Attr("href", p.Style)),
		),
		markup.El("body", class("sheets"),
			markup.El("header", class("about"),
				markup.El("p", markup.El("a", markup.Attr("href", p.Back), markup.Text("All paper of this job"))),
				markup.El("h1", markup.Text(d.Title)),
				markup.El("p", markup.Text(fmt.Sprintf("%d sheets. Print at 100 %%, without headers and without fitting to the page; then measure what says 100 mm.", len(d.Sheets)))),
				markup.El("p", markup.Each(p.Files, func(f [2]string) markup.Node {
					return markup.Group(markup.El("a", markup.Attr("href", f[1]), markup.Text(f[0])), markup.Text(" "))
				})),
				p.Form,
			),
			markup.El("main", markup.Each(d.Sheets, func(s Sheet) markup.Node {
				return markup.El("section", class("paper "+s.Size.Name), s.SVG())
			})),
		),
	))
}

package paper

import (
	"fmt"
	"maps"
	"net/url"
	"slices"
	"strconv"
	"strings"

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
	count := fmt.Sprintf("%d sheets. ", len(d.Sheets))
	if len(d.Sheets) == 1 {
		count = "1 sheet. "
	}
	return "<!DOCTYPE html>\n" + markup.String(markup.El("html", markup.Attr("lang", "en"),
		markup.El("head",
			markup.El("meta", markup.Attr("charset", "utf-8")),
			markup.El("title", markup.Text(d.Title+" · hangtrue")),
			markup.El("meta", markup.Attr("name", "viewport"), markup.Attr("content", "width=device-width, initial-scale=1")),
			markup.El("link", markup.Attr("rel", "stylesheet"), markup.Attr("href", p.Style)),
		),
		markup.El("body", class("sheets"),
			markup.El("header", class("about"),
				markup.El("p", class("alone"), markup.El("a", markup.Attr("href", p.Back), markup.Text("All paper of this job"))),
				markup.El("h1", markup.Text(d.Title)),
				p.Form,
				markup.If(len(d.Sheets) > 0, markup.El("p", markup.Text(count+"Print at 100%, without headers and without fitting to the page; then measure whatever says 100 mm."))),
				markup.If(len(d.Sheets) > 0, markup.El("p", markup.Each(p.Files, func(f [2]string) markup.Node {
					return markup.Group(markup.El("a", class("button second"), markup.Attr("href", f[1]), markup.Text(f[0])), markup.Text(" "))
				}))),
			),
			markup.El("main", markup.Each(d.Sheets, func(s Sheet) markup.Node {
				return markup.El("section", class("paper "+s.Size.Name), s.SVG())
			})),
		),
	))
}

func class(names string) markup.Node { return markup.Attr("class", names) }

// A gridField is one number that somebody types about a grid.
type gridField struct {
	name, label string
	value       func(*Grid) *float64 // millimetres, or
	count       func(*Grid) *int
}

var gridFields = []gridField{
	{name: "columns", label: "Labels side by side", count: func(g *Grid) *int { return &g.Columns }},
	{name: "rows", label: "Labels one below the other", count: func(g *Grid) *int { return &g.Rows }},
	{name: "width", label: "Width of a label (mm)", value: func(g *Grid) *float64 { return &g.Width }},
	{name: "height", label: "Height of a label (mm)", value: func(g *Grid) *float64 { return &g.Height }},
	{name: "left", label: "From the sheet's left edge to the first (mm)", value: func(g *Grid) *float64 { return &g.Left }},
	{name: "top", label: "From the sheet's upper edge to the first (mm)", value: func(g *Grid) *float64 { return &g.Top }},
	{name: "across", label: "Between two side by side (mm)", value: func(g *Grid) *float64 { return &g.Across }},
	{name: "down", label: "Between two, one below the other (mm)", value: func(g *Grid) *float64 { return &g.Down }},
	{name: "skip", label: "Labels used up on the first sheet", count: func(g *Grid) *int { return &g.Skip }},
}

// ReadGrid reads a grid as a form or an address gives it: the name of one of [Grids], and
// any of its numbers. What is not given is as in the named grid, or in the first one. The
// error is [ErrGrid] and names the field.
func ReadGrid(size Size, typed func(name string) string) (Grid, error) {
	all := Grids(size)
	g := all[0]
	if want := typed("grid"); want != "" {
		i := slices.IndexFunc(all, func(x Grid) bool { return x.Name == want })
		if i < 0 {
			return g, fmt.Errorf("%w: grid: read %.30q, want the name of one", ErrGrid, want)
		}
		g = all[i]
	}
	for _, f := range gridFields {
		text := strings.TrimSpace(strings.Replace(typed(f.name), ",", ".", 1))
		if text == "" {
			continue
		}
		if f.count != nil {
			n, err := strconv.Atoi(text)
			if err != nil {
				return g, fmt.Errorf("%w: %s: read %.30q, want a whole number", ErrGrid, f.name, text)
			}
			*f.count(&g) = n
			continue
		}
		x, err := strconv.ParseFloat(text, 64)
		if err != nil {
			return g, fmt.Errorf("%w: %s: read %.30q, want millimetres", ErrGrid, f.name, text)
		}
		*f.value(&g) = x
	}
	if cut := typed("cut"); cut != "" {
		g.Cut = cut == "yes"
	}
	return g, g.Check(size)
}

// Query is a grid as [ReadGrid] reads it from an address.
func (g Grid) Query() url.Values {
	q := url.Values{"cut": {"no"}}
	if g.Cut {
		q.Set("cut", "yes")
	}
	for _, f := range gridFields {
		q.Set(f.name, f.text(g))
	}
	return q
}

func (f gridField) text(g Grid) string {
	if f.count != nil {
		return strconv.Itoa(*f.count(&g))
	}
	return strconv.FormatFloat(*f.value(&g), 'f', -1, 64)
}

// GridForm asks for the grid of the labels. Problem is what was wrong with what was typed;
// kept are further words of the address.
func GridForm(size Size, g Grid, problem string, kept url.Values) markup.Node {
	address := func(name string) string {
		q := url.Values{"grid": {name}}
		for k, v := range kept {
			q[k] = v
		}
		return "?" + q.Encode()
	}
	var hidden []markup.Node
	for _, k := range slices.Sorted(maps.Keys(kept)) {
		hidden = append(hidden, markup.El("input", markup.Attr("type", "hidden"), markup.Attr("name", k), markup.Attr("value", kept.Get(k))))
	}
	return markup.Group(
		markup.El("p", markup.Text("Choose: "), markup.Each(Grids(size), func(x Grid) markup.Node {
			return markup.Group(markup.El("a", class("button second"), markup.Attr("href", address(x.Name)), markup.Text(x.Describes)), markup.Text(" "))
		})),
		markup.El("p", class("hint"), markup.Text("These sizes are common practice, no source. Measure your own sheet and type what it says:")),
		markup.El("form", markup.Attr("method", "get"), class("grid"), markup.Group(hidden...),
			markup.El("p", class("problem"), markup.Attr("role", "alert"), markup.Text(problem)),
			markup.Each(gridFields, func(f gridField) markup.Node {
				return markup.El("div", class("field"), markup.El("label", markup.Attr("for", "f-"+f.name), markup.Text(f.label)),
					markup.El("input", markup.Attr("type", "text"), markup.Attr("inputmode", "decimal"), markup.Attr("id", "f-"+f.name), markup.Attr("name", f.name), markup.Attr("value", f.text(g))))
			}),
			markup.El("div", class("field"), markup.El("label", markup.Attr("for", "f-cut"), markup.Text("Edges of the labels")),
				markup.El("select", markup.Attr("id", "f-cut"), markup.Attr("name", "cut"),
					markup.El("option", markup.Attr("value", "yes"), markup.Flag("selected", g.Cut), markup.Text("drawn, to cut plain paper")),
					markup.El("option", markup.Attr("value", "no"), markup.Flag("selected", !g.Cut), markup.Text("not drawn")))),
			markup.El("button", markup.Attr("type", "submit"), markup.Text("Show the labels"))))
}

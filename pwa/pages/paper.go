package pages

import (
	"fmt"

	. "hangtrue/pwa/markup"
)

// paperKinds are what can be printed, in the order of the work. The server lays it out:
// the typeface alone would be a quarter of this program, and what is printed is printed
// where the server is in reach. So the page is links to its files.
var paperKinds = []struct {
	name, title, says string
	table             bool
}{
	{"shopping", "Shopping list", "Cable, fixings, brackets and gear, with spares", true},
	{"mark-out", "Mark-out sheets", "Each wall and ceiling with every hole, to scale and as a table", true},
	{"template", "Drilling templates", "Each bracket's holes in true size, to lay on the wall", false},
	{"cables", "Cable list", "Every cable from where to where", true},
	{"labels", "Cable labels", "For both ends; the size of the labels is asked for there", false},
	{"steps", "Steps to carry", "All steps with their numbers, cautions, and room to write", false},
}

// paperPage lists everything that can be printed.
func (v view) paperPage() Document {
	s := v.State
	if s.Plan() == nil && !s.Drafted() {
		return missing("There is no plan yet that anything could be printed from.")
	}
	var settled, draft Node
	if s.Plan() != nil {
		r := s.Revisions[s.Revision()-1]
		settled = Group(
			El("p", Text(fmt.Sprintf("From revision %d of the plan, SHA-256 ", r.Number)), El("code", Text(r.SHA256[:min(12, len(r.SHA256))])),
				Text(". Every sheet says so: compare it before you use one that was printed earlier.")),
			v.paperFiles(""))
	}
	if s.Drafted() {
		draft = Group(El("h2", Text("From the draft")),
			El("p", Text("Nobody has settled it: each sheet says DRAFT. Do not drill by it.")),
			v.paperFiles("?draft=1"))
	}
	return Document{Title: "Paper", Main: Group(
		v.crumbs(""),
		El("div", class("title"), El("h1", Text("Paper"))),
		El("p", class("notice"), Text("The server makes the files: they open while it is in reach. A4 and Letter show the sheets, for the browser to print. Print at 100%, without fitting to the page, and measure what says 100 mm before you drill by it.")),
		settled, draft,
	)}
}

// paperFiles are the files of every kind, for both sizes of paper.
func (v view) paperFiles(query string) Node {
	file := func(name, words, label string) Node {
		return Group(El("a", class("button second"), Attr("href", v.path("paper", name)+query), Attr("aria-label", label+": "+words), Text(words)), Text(" "))
	}
	var rows []Node
	for _, k := range paperKinds {
		var files []Node
		for _, size := range [][2]string{{"a4", "A4"}, {"letter", "Letter"}} {
			files = append(files, file(k.name+"-"+size[0]+".html", size[1], k.title), file(k.name+"-"+size[0]+".pdf", size[1]+" PDF", k.title))
		}
		if k.table {
			files = append(files, file(k.name+".csv", "CSV", k.title))
		}
		rows = append(rows, El("section", class("card"), El("h3", Text(k.title)), El("p", class("quiet"), Text(k.says)), El("p", class("files"), Group(files...))))
	}
	rows = append(rows, El("section", class("card"), El("h3", Text("All of it")), El("p", class("quiet"), Text("In one file, labels on plain paper to cut")),
		El("p", class("files"), file("all-a4.pdf", "A4 PDF", "All of it"), file("all-letter.pdf", "Letter PDF", "All of it"))))
	return El("div", class("cards"), Group(rows...))
}

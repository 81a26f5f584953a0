package pages

import (
	"strconv"
	"strings"

	. "hangtrue/pwa/markup"
)

// paperKinds are what can be printed, in the order of the work: the name of its files,
// what it is, and their endings. The server lays it out: the typeface alone would be an
// eighth of this program, and where something is printed the server is in reach. So the
// page is links to its files.
var paperKinds = [][4]string{
	{"shopping", "Shopping list", "Cable, fixings, brackets and gear, with spares", sheets + pdfs + " .csv"},
	{"mark-out", "Mark-out sheets", "Each wall and ceiling with every hole, to scale and as a table", sheets + pdfs + " .csv"},
	{"template", "Drilling templates", "Each bracket's holes in true size, to lay on the wall", sheets + pdfs},
	{"cables", "Cable list", "Every cable from where to where", sheets + pdfs + " .csv"},
	{"labels", "Cable labels", "For both ends; the size of the labels is asked for there", sheets + pdfs},
	{"steps", "Steps to carry", "All steps with their numbers, cautions, and room to write", sheets + pdfs},
	{"all", "All of it", "In one file, labels on plain paper to cut", pdfs},
}

const (
	sheets = " -a4.html -letter.html"
	pdfs   = " -a4.pdf -letter.pdf"
)

// fileWords are what a file is called by its ending.
var fileWords = map[string]string{"-a4.html": "A4", "-letter.html": "Letter", "-a4.pdf": "A4 PDF", "-letter.pdf": "Letter PDF", ".csv": "CSV"}

// paperPage lists everything that can be printed.
func (v view) paperPage() Document {
	s := v.State
	var main []Node
	if n := s.Revision(); n > 0 {
		main = append(main, El("h2", Text("From revision "+strconv.Itoa(n))), El("p", Text("The plan's SHA-256 begins with "+s.Revisions[n-1].SHA256[:12]+". Every sheet says so: compare it before you use one that was printed earlier.")),
			v.paperFiles(""))
	}
	if s.Drafted() {
		main = append(main, El("h2", Text("From the draft")), El("p", Text("Nobody has settled it: each sheet says DRAFT. Do not drill by it.")), v.paperFiles("?draft=1"))
	}
	if main == nil {
		return missing("There is no plan yet that anything could be printed from.")
	}
	return Document{Title: "Paper", Main: Group(
		v.crumbs(""),
		El("div", class("title"), El("h1", Text("Paper"))),
		El("p", class("notice"), Text("The server makes the files: they open while it is in reach. A4 and Letter show the sheets, for the browser to print. Print at 100%, without fitting to the page, and measure what says 100 mm before you drill by it.")),
		Group(main...),
	)}
}

// paperFiles are the files of every kind, for both sizes of paper.
func (v view) paperFiles(query string) Node {
	return El("div", class("cards"), Each(paperKinds, func(k [4]string) Node {
		return El("section", class("card"), El("h3", Text(k[1])), El("p", class("quiet"), Text(k[2])),
			El("p", class("files"), Each(strings.Fields(k[3]), func(ending string) Node {
				words := fileWords[ending]
				return El("a", class("button second"), Attr("href", v.path("paper", k[0]+ending)+query), Attr("aria-label", k[1]+": "+words), Text(words))
			})))
	}))
}

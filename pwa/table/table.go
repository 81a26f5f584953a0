package table

import (
	"strings"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/pwa/forms"
	. "hangtrue/pwa/markup"
)

// A Table is one job, as its plan is made.
type Table struct {
	State *checklist.State
	Base  string // path of the job's plan: /jobs/ID/plan
	Phone bool   // false where the server shows its own page
	Known bool   // somebody has said who holds the phone
	Role  checklist.Role
}

// A Page is the content of a page.
type Page struct {
	Title string
	Main  Node
}

// Form and Submission are those of package forms.
type (
	Form       = forms.Form
	Submission = forms.Submission
)

// Page makes the page of a path below the plan's, false if there is none.
func (t Table) Page(path []string) (Page, bool) {
	if s, rest, ok := route(path); ok {
		return s.page(t, rest)
	}
	return t.partPage(path)
}

// Draft judges what is typed so far: element id to its new content.
func (t Table) Draft(path []string, form Form) map[string]string {
	if s, rest, ok := route(path); ok {
		if s.draft == nil {
			return nil
		}
		return s.draft(t, rest, form)
	}
	return t.partDraft(path, form)
}

// Submit turns a filled form into an entry, or tells what is wrong with it.
func (t Table) Submit(path []string, form Form) Submission {
	if s, rest, ok := route(path); ok {
		if s.submit == nil {
			return forms.Nothing
		}
		return s.submit(t, rest, form)
	}
	return t.partSubmit(path, form)
}

// A section is a page of its own kind; every other path names a part.
type section struct {
	page   func(t Table, rest []string) (Page, bool)
	draft  func(t Table, rest []string, form Form) map[string]string
	submit func(t Table, rest []string, form Form) Submission
}

// route finds the section that the first piece of a path names.
func route(path []string) (s section, rest []string, ok bool) {
	if len(path) == 0 {
		return section{page: Table.overview, submit: Table.editsSubmit}, nil, true
	}
	switch path[0] {
	case "edits":
		s = section{page: Table.editsPage, submit: Table.editsSubmit}
	case "take":
		s = section{page: Table.takePage, draft: Table.takeDraft, submit: Table.takeSubmit}
	case "spots":
		s = section{page: Table.spotsPage, draft: Table.spotsDraft, submit: Table.spotsSubmit}
	case "settle":
		s = section{page: Table.settlePage, submit: Table.settleSubmit}
	default:
		return section{}, nil, false
	}
	return s, path[1:], true
}

// edits tells whether this device may change the plan.
func (t Table) edits() bool { return t.Phone && t.Known && t.Role == checklist.Lead }

// mayNot says why this device cannot change the plan.
func (t Table) mayNot() Node {
	switch {
	case !t.Phone:
		return El("p", class("notice"), Text("You are reading the server's own page. To change the plan, open the same address with scripts on."))
	case !t.Known:
		return El("p", class("notice"), Text("Before you plan: "), link("/you", "say who holds this device"), Text("."))
	}
	return El("p", class("notice"), Text("A lead makes the plan. "), link("/you", "Change who holds this device"), Text("."))
}

// draft is the plan as it is being drafted.
func (t Table) draft() *plan.Plan { return plan.Assemble(t.State.Draft()) }

func (t Table) path(parts ...string) string {
	path := t.Base
	for _, part := range parts {
		// A dot at the end of a path would read as the name of a file.
		path += "/" + strings.ReplaceAll(Segment(part), ".", "%2E")
	}
	return path
}

// partPath is where a part's page is.
func (t Table) partPath(name string) string {
	kind, label, labelled := strings.Cut(name, "/")
	if !labelled {
		return t.path(kind)
	}
	return t.path(kind, label)
}

func link(href, text string) Node { return El("a", Attr("href", href), Text(text)) }

func class(names string) Node { return Attr("class", names) }

func title(text string) Node { return El("div", class("title"), El("h1", Text(text))) }

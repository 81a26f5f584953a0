package table

import (
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/strict"
	spreadsheet "hangtrue/checklist/table"
	"hangtrue/pwa/forms"
	. "hangtrue/pwa/markup"
)

// takePage takes mounts from a spreadsheet, or a whole plan, into the draft.
func (t Table) takePage(rest []string) (Page, bool) {
	if len(rest) > 0 {
		return Page{}, false
	}
	return Page{"From a file", Group(
		title("From a file"),
		El("p", Text("Mounts from a spreadsheet (CSV), a row for each channel, or a whole plan (JSON). What it changes is shown before it is taken; nothing is settled by it.")),
		El("p", Text("The columns are named in the file that this plan gives:")),
		El("p", class("files"),
			El("a", class("button second"), Attr("href", t.api("mounts.csv")), Attr("download", ""), Text("Mounts of the plan in force")),
			El("a", class("button second"), Attr("href", t.api("plan")), Attr("download", ""), Text("The plan itself"))),
		t.takeForm(),
	)}, true
}

// api is an address of the server's about this job.
func (t Table) api(what string) string {
	return "/api" + strings.TrimSuffix(t.Base, "/plan") + "/" + what
}

func (t Table) takeForm() Node {
	if !t.edits() {
		return t.mayNot()
	}
	return El("form", Attr("method", "post"), Attr("data-form", "take"), Attr("novalidate", ""),
		forms.Hidden("act", "take"),
		El("div", class("field"),
			El("label", Attr("for", "f-file"), Text("Choose a file")),
			El("input", Attr("type", "file"), Attr("id", "f-file"), Attr("name", "file"), Attr("accept", ".csv,.json,text/csv,application/json"), Attr("data-most", strconv.Itoa(strict.MaxSize)), Attr("aria-describedby", "p-text"))),
		El("div", class("field"),
			El("label", Attr("for", "f-text"), Text("or paste what is in it")),
			El("textarea", Attr("id", "f-text"), Attr("name", "text"), Attr("rows", "8"), Attr("spellcheck", "false"), Attr("aria-describedby", "p-text")),
			forms.Problem("text")),
		forms.Problem("form"),
		El("div", Attr("id", "says"), Attr("aria-live", "polite")),
		El("div", class("save"), El("button", Attr("type", "submit"), Text("Take it into the draft"))))
}

// taken is the draft with what a text says in it, and the changes in words.
func (t Table) taken(text string) (p *plan.Plan, about string, changes []plan.Change, err error) {
	p = t.draft()
	if strings.HasPrefix(strings.TrimSpace(text), "{") {
		next, err := plan.Decode([]byte(text))
		if err != nil {
			return nil, "", nil, err
		}
		return next, "A plan from a file", plan.Diff(p, next), nil
	}
	m, err := spreadsheet.ReadMounts([]byte(text), p, spreadsheet.Keep)
	if err != nil {
		return nil, "", nil, err
	}
	p.Mounts = m.Mounts
	return p, "Mounts from a file", m.Changes, nil
}

func (t Table) takeDraft(_ []string, form Form) map[string]string {
	text := forms.Value(form, "text")
	if text == "" {
		return map[string]string{"says": "", "p-text": ""}
	}
	_, _, changes, err := t.taken(text)
	if err != nil {
		lines := strings.Split(err.Error(), "\n")
		return map[string]string{"p-text": "", "says": String(Group(
			El("p", class("problem"), Text(fmt.Sprintf("It cannot be taken yet. Put right: %d.", len(lines)))),
			El("ul", Each(lines, func(s string) Node { return El("li", Text(s)) }))))}
	}
	if len(changes) == 0 {
		return map[string]string{"p-text": "", "says": String(El("p", Text("It changes nothing.")))}
	}
	return map[string]string{"p-text": "", "says": String(Group(
		El("h2", Text("What it changes")), El("ul", Each(said(changes), func(s string) Node { return El("li", Text(s)) }))))}
}

func (t Table) takeSubmit(_ []string, form Form) Submission {
	text := forms.Value(form, "text")
	if text == "" {
		return forms.Wrong("text", "Choose a file, or paste what is in it.")
	}
	p, about, _, err := t.taken(text)
	if err != nil {
		first, rest, more := strings.Cut(err.Error(), "\n")
		if more {
			first += fmt.Sprintf(" And %d more.", strings.Count(rest, "\n")+1)
		}
		return forms.Wrong("text", first)
	}
	changes := t.becoming(p)
	if len(changes) == 0 {
		return forms.Wrong("text", "It changes nothing.")
	}
	return Submission{Kind: checklist.DraftEdited, Body: checklist.Edit{About: about, Changes: changes}, Next: t.path()}
}

// becoming are the changes that make the draft into a plan, with what it leaves out taken out.
func (t Table) becoming(p *plan.Plan) []checklist.PartChange {
	changes := t.difference(p)
	parts, err := p.Parts()
	if err != nil {
		return changes
	}
	stays := map[string]bool{}
	for _, part := range parts {
		stays[part.Name] = true
	}
	for _, part := range t.State.Draft() {
		if !stays[part.Name] {
			changes = append(changes, t.State.Change(part.Name, ""))
		}
	}
	return changes
}

// File puts a chosen file's text where it could have been pasted.
func (t Table) File(path []string, data []byte) map[string]string {
	if len(path) != 1 || path[0] != "take" {
		return nil
	}
	if len(data) == 0 || len(data) > strict.MaxSize {
		return map[string]string{"p-text": String(Text(fmt.Sprintf("The file is empty, or larger than %d bytes.", strict.MaxSize)))}
	}
	if !utf8.Valid(data) {
		return map[string]string{"p-text": String(Text("The file is not UTF-8, so letters in it would be damaged. Save it again as UTF-8."))}
	}
	return map[string]string{"v-text": string(data), "p-text": ""}
}

package table

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/pwa/drawing"
	"hangtrue/pwa/forms"
	. "hangtrue/pwa/markup"
	"hangtrue/pwa/words"
)

// A crossing is an edit that was refused because somebody else came first, and that
// nobody has made again since.
type crossing struct {
	entry checklist.Entry
	edit  checklist.Edit
}

// crossed are the crossings, oldest first: of one part, or of all with no name.
func (t Table) crossed(part string) []crossing {
	var out []crossing
	for _, r := range t.State.Refused() {
		var edit checklist.Edit
		if r.Entry.Kind != checklist.DraftEdited || json.Unmarshal(r.Entry.Body, &edit) != nil || t.redone(r.Entry, edit) {
			continue
		}
		about, open := part == "", false
		for _, c := range edit.Changes {
			about = about || c.Part == part
			open = open || t.State.Part(c.Part) != c.Now
		}
		if about && open {
			out = append(out, crossing{r.Entry, edit})
		}
	}
	return out
}

// redone tells whether the device that made an edit has edited one of its parts again
// since: whatever was refused then, it has looked at it.
func (t Table) redone(e checklist.Entry, edit checklist.Edit) bool {
	return slices.ContainsFunc(t.State.Edits, func(done checklist.Edited) bool {
		return done.Record.Entry.Device == e.Device && done.Record.Entry.Number > e.Number &&
			slices.ContainsFunc(done.Edit.Changes, func(c checklist.PartChange) bool {
				return slices.ContainsFunc(edit.Changes, func(d checklist.PartChange) bool { return c.Part == d.Part })
			})
	})
}

// crossings shows what of this part, or of the whole plan, two people changed at once.
func (t Table) crossings(part string) Node {
	return Each(t.crossed(part), func(c crossing) Node {
		return El("div", class("notice"),
			El("p", El("strong", Text("Two people changed the same thing.")), Text(fmt.Sprintf(" %s saved this at %s, after somebody else's change. Both are kept; the draft has the other one.", c.entry.Who, words.Clock(c.entry.Clock)))),
			El("ul", Each(t.wouldChange(c.edit), func(s string) Node { return El("li", Text(s)) })),
			If(t.edits(), El("form", Attr("method", "post"), Attr("data-form", "again-"+c.entry.ID), Attr("novalidate", ""),
				forms.Hidden("act", "again"), forms.Hidden("id", c.entry.ID), forms.Problem("form"),
				El("p", El("button", Attr("type", "submit"), class("second"), Text("Make this change now"))))))
	})
}

// wouldChange says what an edit would make of the draft as it is.
func (t Table) wouldChange(edit checklist.Edit) []string {
	parts, _ := edit.Of(t.State.Draft())
	return said(plan.Diff(t.draft(), plan.Assemble(parts)))
}

func said(changes []plan.Change) []string {
	out := make([]string, len(changes))
	for i, c := range changes {
		out[i] = drawing.Capital(c.String())
	}
	return out
}

func (t Table) editsPage(rest []string) (Page, bool) {
	if len(rest) > 0 {
		return Page{}, false
	}
	edits := slices.Clone(t.State.Edits)
	slices.Reverse(edits)
	return Page{"What was edited", Group(
		title("What was edited"),
		t.crossings(""),
		If(len(edits) == 0, El("p", Text("Nothing yet."))),
		El("ol", class("history"), Attr("reversed", ""), Each(edits, func(e checklist.Edited) Node {
			return El("li",
				El("p", El("strong", Text(t.editName(e))), El("span", class("quiet"), Text(fmt.Sprintf(" %s, %s", e.Record.Entry.Who, words.Clock(e.Record.Entry.Clock))))),
				t.undoForm(e))
		})),
	)}, true
}

// editName says what an edit was about.
func (t Table) editName(e checklist.Edited) string {
	var names []string
	for i, c := range e.Edit.Changes {
		kind, label, _ := strings.Cut(c.Part, "/")
		name := kind
		if f := formOf(kind); f != nil {
			name = f.called(label)
		}
		switch {
		case e.Before[i] == "":
			name += " put in"
		case c.Now == "":
			name += " taken out"
		default:
			name += " changed"
		}
		names = append(names, name)
	}
	if e.Edit.About != "" {
		return e.Edit.About + ": " + list(names)
	}
	return list(names)
}

func (t Table) undoForm(e checklist.Edited) Node {
	if !t.edits() {
		return nil
	}
	if _, err := t.State.Undo(e); err != nil {
		return El("p", class("quiet"), Text("Cannot be undone: something it changed was changed again since."))
	}
	return El("form", Attr("method", "post"), Attr("data-form", "undo-"+e.Record.Entry.ID), Attr("novalidate", ""),
		forms.Hidden("act", "undo"), forms.Hidden("id", e.Record.Entry.ID), forms.Problem("form"),
		El("button", Attr("type", "submit"), class("second"), Text("Undo this")))
}

// editsSubmit undoes an edit, or makes one again that had crossed another.
func (t Table) editsSubmit(_ []string, form Form) Submission {
	id := forms.Value(form, "id")
	switch forms.Value(form, "act") {
	case "undo":
		for _, e := range t.State.Edits {
			if e.Record.Entry.ID == id {
				edit, err := t.State.Undo(e)
				if err != nil {
					return forms.Wrong("form", err.Error())
				}
				return Submission{Kind: checklist.DraftEdited, Body: edit}
			}
		}
	case "again":
		return t.again(id)
	}
	return forms.Wrong("form", "Open this page again.")
}

// again makes the change of an edit that was refused, upon the draft as it is.
func (t Table) again(id string) Submission {
	for _, c := range t.crossed("") {
		if c.entry.ID != id {
			continue
		}
		edit := checklist.Edit{About: c.edit.About}
		for _, change := range c.edit.Changes {
			if t.State.Part(change.Part) != change.Now {
				edit.Changes = append(edit.Changes, t.State.Change(change.Part, change.Now))
			}
		}
		return Submission{Kind: checklist.DraftEdited, Body: edit}
	}
	return forms.Wrong("form", "Open this page again.")
}

package table

import (
	"fmt"
	"strings"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/strict"
	"hangtrue/pwa/forms"
	. "hangtrue/pwa/markup"
)

func (t Table) settlePage(rest []string) (Page, bool) {
	if len(rest) > 0 {
		return Page{}, false
	}
	p := t.draft()
	problems := p.Problems()
	main := []Node{title("Settle the plan")}
	switch {
	case problems.Err() != nil:
		main = append(main, El("p", Text("Before it can be settled, this has to be put right:")), t.openProblems(p, problems))
	case t.State.Plan() != nil && !t.State.Drafted():
		main = append(main, El("p", Text(fmt.Sprintf("Revision %d is in force, and the draft is the same. There is nothing to settle.", t.State.Revision()))))
	default:
		main = append(main, t.changes(p), t.staleAfter(p), t.settleForm())
	}
	return Page{"Settle the plan", Group(main...)}, true
}

func (t Table) openProblems(p *plan.Plan, problems strict.Problems) Node {
	return El("ul", Each(problems, func(problem strict.Problem) Node { return t.openProblem(p, problem) }))
}

func (t Table) openProblem(p *plan.Plan, problem strict.Problem) Node {
	part, _ := p.PartAt(problem.Pointer)
	kind, label, _ := strings.Cut(part, "/")
	name := kind
	if f := formOf(kind); f != nil {
		name = f.called(label)
	}
	return El("li", link(t.partPath(part), name), Text(": "+complaint(problem)))
}

// changes says what the draft makes different from the plan in force.
func (t Table) changes(p *plan.Plan) Node {
	if t.State.Plan() == nil {
		return El("p", Text(fmt.Sprintf("This is the first revision: %d loudspeakers, layout %s. From then on the steps can be done.", len(p.Mounts), p.Layout)))
	}
	return Group(El("h2", Text("What changes")), El("ul", Each(said(plan.Diff(t.State.Plan(), p)), func(s string) Node { return El("li", Text(s)) })))
}

// staleAfter lists the steps that have to be looked at again.
func (t Table) staleAfter(p *plan.Plan) Node {
	if t.State.Plan() == nil {
		return nil
	}
	stale := t.State.StaleAfter(p)
	if len(stale) == 0 {
		return El("p", Text("No step that is done has to be looked at again."))
	}
	return Group(El("h2", Text("What has to be looked at again")), El("ul", Each(stale, func(k checklist.Key) Node {
		name := t.State.Template.Step(k.Step).Title
		if k.Mount != "" {
			name = k.Mount + " · " + name
		}
		return El("li", Text(name))
	})))
}

func (t Table) settleForm() Node {
	if !t.edits() {
		return t.mayNot()
	}
	return El("form", Attr("method", "post"), Attr("data-form", "settle"), Attr("novalidate", ""),
		forms.Hidden("act", "settle"), forms.Hidden("edits", fmt.Sprint(len(t.State.Edits))),
		El("div", class("field"),
			El("label", Attr("for", "f-reason"), Text("Why this revision")),
			El("span", class("hint"), Attr("id", "h-reason"), Text("one sentence; it stays in the record")),
			El("input", Attr("type", "text"), Attr("id", "f-reason"), Attr("name", "reason"), Attr("autocomplete", "off"), Attr("maxlength", "1000"),
				Attr("value", map[bool]string{true: "First plan."}[t.State.Plan() == nil]), Attr("aria-describedby", "h-reason p-reason")),
			forms.Problem("reason")),
		forms.Problem("form"),
		El("div", class("save"), El("button", Attr("type", "submit"), Text(fmt.Sprintf("Settle as revision %d", t.State.Revision()+1)))))
}

func (t Table) settleSubmit(_ []string, form Form) Submission {
	reason := forms.Value(form, "reason")
	if reason == "" {
		return forms.Wrong("reason", "Give the reason; it stays in the record.")
	}
	p := t.draft()
	if err := p.Problems().Err(); err != nil {
		return forms.Wrong("form", "Something has to be put right first: open this page again.")
	}
	if forms.Value(form, "edits") != fmt.Sprint(len(t.State.Edits)) {
		return forms.Wrong("form", "The draft was changed since you opened this page: open it again.")
	}
	document, err := p.Encode()
	if err != nil {
		return forms.Wrong("form", "The draft cannot be written: "+err.Error()+".")
	}
	body := checklist.NewSettlement(t.State.Revision()+1, reason, document)
	body.Edits = len(t.State.Edits)
	return Submission{Kind: checklist.PlanSettled, Body: body, Next: strings.TrimSuffix(t.Base, "/plan")}
}

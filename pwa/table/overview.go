package table

import (
	"fmt"
	"strings"

	"hangtrue/checklist/plan"
	"hangtrue/checklist/strict"
	. "hangtrue/pwa/markup"
)

// chapters are the plan's page, in the order in which a plan is made.
var chapters = []struct {
	title string
	kinds []string
}{
	{"The plan", []string{"about"}},
	{"Survey", []string{"room", "survey", "shape", "surface", "listening", "instrument", "tolerances"}},
	{"Gear", []string{"loudspeaker", "bracket", "fixing", "cable", "processor", "amplifier", "rack", "sound"}},
	{"Spots", []string{"mount"}},
}

// needed are the kinds without which no plan is settled, in the order in which they
// are asked for.
var needed = []string{"about", "room", "listening", "loudspeaker", "bracket", "fixing", "cable", "processor", "rack", "tolerances", "mount"}

func (t Table) overview(rest []string) (Page, bool) {
	if len(rest) > 0 {
		return Page{}, false
	}
	p := t.draft()
	problems := map[string][]strict.Problem{}
	for _, problem := range p.Problems() {
		part, _ := p.PartAt(problem.Pointer)
		problems[part] = append(problems[part], problem)
	}
	return Page{"Plan", Group(
		El("div", class("title"), El("h1", Text("Plan"))),
		If(!t.edits(), t.mayNot()),
		t.standing(p),
		t.next(p, problems),
		t.crossings(""),
		El("div", class("columns"),
			El("div", Each(chapters[:2], func(c chapter) Node { return t.chapter(c, p, problems) })),
			El("div", Each(chapters[2:], func(c chapter) Node { return t.chapter(c, p, problems) }))),
		El("p", class("alone"), link(t.path("take"), "From a file, or to one")),
		El("p", class("alone"), link(t.path("edits"), fmt.Sprintf("What was edited (%d)", len(t.State.Edits)))),
	)}, true
}

type chapter = struct {
	title string
	kinds []string
}

// standing says how the draft relates to the plan in force.
func (t Table) standing(*plan.Plan) Node {
	switch {
	case t.State.Plan() == nil:
		return El("p", Text("A draft: nothing is settled yet, so nothing is mounted after it."))
	case t.State.Drafted():
		return El("p", Text(fmt.Sprintf("Revision %d is in force. This draft differs from it: ", t.State.Revision())), link(t.path("settle"), "see how, and settle it"), Text("."))
	}
	return El("p", Text(fmt.Sprintf("Revision %d is in force, and the draft is the same.", t.State.Revision())))
}

// next is the one large link: what to fill in now.
func (t Table) next(p *plan.Plan, problems map[string][]strict.Problem) Node {
	if !t.edits() {
		return nil
	}
	card := func(href, word, name string) Node {
		return El("a", class("next"), Attr("href", href), El("span", Text(word)), El("strong", Text(name)))
	}
	for _, kind := range needed {
		if kind == "mount" && len(p.Names(kind)) == 0 {
			return card(t.path("spots"), "Next", "Spots")
		}
		if f := formOf(kind); len(p.Names(kind)) == 0 && !(kind == "bracket" && standing(p)) && !(kind == "fixing" && standing(p)) {
			return card(t.path(kind), "Next", f.title)
		}
	}
	for _, c := range chapters {
		for _, kind := range c.kinds {
			for _, label := range p.Names(kind) {
				if name := nameOf(kind, label); len(problems[name]) > 0 {
					return card(t.partPath(name), "Next: put right", formOf(kind).called(label))
				}
			}
		}
	}
	if t.State.Plan() == nil || t.State.Drafted() {
		return card(t.path("settle"), "Next", "Settle the plan")
	}
	return nil
}

// standing tells whether every loudspeaker of the plan stands, so that there is nothing to fix.
func standing(p *plan.Plan) bool {
	for _, m := range p.Mounts {
		if m.Bracket != "" {
			return false
		}
	}
	return len(p.Mounts) > 0
}

func nameOf(kind, label string) string {
	if label == "" {
		return kind
	}
	return kind + "/" + label
}

func (t Table) chapter(c chapter, p *plan.Plan, problems map[string][]strict.Problem) Node {
	return Group(El("h2", Text(c.title)), El("ul", class("rows"),
		If(c.title == "Spots" && t.edits() && p.Loudspeakers() != nil, t.row(t.path("spots"), "Propose spots", "for every channel, with the reasons")),
		Each(c.kinds, func(kind string) Node { return t.kind(kind, p, problems) }),
		If(c.title == "Gear" && t.State.Plan() != nil, t.row(strings.TrimSuffix(t.Base, "/plan")+"/parts", "On hand, or still to come", ""))))
}

// kind is a kind of part in its chapter: its parts, and the way to another.
func (t Table) kind(kind string, p *plan.Plan, problems map[string][]strict.Problem) Node {
	f := formOf(kind)
	labels := p.Names(kind)
	if f.label == "" {
		return t.row(t.path(kind), f.title, stateOf(len(labels) > 0, problems[kind]))
	}
	if f.named != nil {
		return Each(f.named(p), func(o option) Node {
			name := nameOf(kind, o.value)
			return t.row(t.partPath(name), f.called(o.value), stateOf(t.State.Part(name) != "", problems[name]))
		})
	}
	return Group(
		Each(labels, func(label string) Node {
			name := nameOf(kind, label)
			return t.row(t.partPath(name), f.called(label), stateOf(true, problems[name]))
		}),
		If(t.edits(), t.row(t.path(kind), "Add: "+strings.ToLower(f.title), "")))
}

func (t Table) row(href, name, state string) Node {
	return El("li", El("a", class("row"), Attr("href", href),
		El("span", class("name"), Text(name)),
		El("span", class("where"), Text(state))))
}

func stateOf(there bool, problems []strict.Problem) string {
	switch {
	case !there:
		return "not yet"
	case len(problems) == 1:
		return "1 thing to put right"
	case len(problems) > 1:
		return fmt.Sprintf("%d things to put right", len(problems))
	}
	return "✓"
}

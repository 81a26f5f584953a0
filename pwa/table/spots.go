package table

import (
	"fmt"
	"slices"
	"strings"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/propose"
	"hangtrue/compute/tape"
	"hangtrue/pwa/drawing"
	"hangtrue/pwa/forms"
	. "hangtrue/pwa/markup"
	"hangtrue/pwa/words"
)

// spotsPage proposes a spot for every channel, and says of each why it is there.
func (t Table) spotsPage(rest []string) (Page, bool) {
	if len(rest) > 0 {
		return Page{}, false
	}
	p := t.draft()
	ask := t.asked(p)
	return Page{"Spots", Group(
		title("Spots"),
		El("p", Text("A spot for every channel: its nominal direction met with the room, moved to where the layout, the brackets, openings and framing allow it, pairs alike. It is a proposal; each can be changed afterwards.")),
		El("div", class("columns"),
			El("div", t.askForm(p, ask)),
			El("div", Attr("id", "says"), Attr("aria-live", "polite"), proposed(p, ask))),
	)}, true
}

// asked is what stands in the form at first: what the plan suggests, with the mounts
// left alone on which work has begun.
func (t Table) asked(p *plan.Plan) propose.Ask {
	ask := propose.Defaults(p)
	for _, m := range p.Mounts {
		if t.begun(m.Channel) {
			ask.Keep = append(ask.Keep, m.Channel)
		}
	}
	return ask
}

// begun tells whether anything is recorded at a mount.
func (t Table) begun(channel string) bool {
	return slices.ContainsFunc(t.State.Keys(), func(k checklist.Key) bool { return k.Mount == channel && t.State.Evidence(k) != nil })
}

func (t Table) askForm(p *plan.Plan, ask propose.Ask) Node {
	if !t.edits() {
		return t.mayNot()
	}
	return El("form", Attr("method", "post"), Attr("data-form", "spots"), Attr("novalidate", ""),
		forms.Hidden("act", "take"),
		Each(groupsOf(p), func(g propose.Group) Node { return askGroup(p, g, ask.Of(g)) }),
		If(len(p.Mounts) > 0, El("fieldset", class("field"),
			El("legend", Text("Leave as they are")),
			Each(p.Mounts, func(m plan.Mount) Node {
				return El("label", class("option"),
					El("input", Attr("type", "checkbox"), Attr("name", "keep"), Attr("value", m.Channel), Flag("checked", slices.Contains(ask.Keep, m.Channel))),
					El("span", Text(m.Channel), If(t.begun(m.Channel), Text(", work has begun there"))))
			}))),
		forms.Problem("form"),
		El("div", class("save"), El("button", Attr("type", "submit"), Text("Take these spots"))))
}

// groupsOf are the groups of channels that the plan's layout has.
func groupsOf(p *plan.Plan) []propose.Group {
	l := p.Loudspeakers()
	if l == nil {
		return nil
	}
	return slices.DeleteFunc(slices.Clone(propose.Groups), func(g propose.Group) bool {
		for i := range l.Loudspeakers {
			if propose.GroupOf(&l.Loudspeakers[i]) == g {
				return false
			}
		}
		return true
	})
}

var groupTitles = map[propose.Group]string{
	propose.Screen: "In front", propose.Surround: "Around", propose.Height: "Above", propose.LFE: "Low-frequency effects",
}

func askGroup(p *plan.Plan, g propose.Group, gear *propose.Gear) Node {
	list := func(key, label, chosen, none, kind string) Node {
		name := key + "/" + g.String()
		return pick(name, Text(label), nil, "p-"+name, none, called(p.Names(kind)), chosen)
	}
	first := func(names []string) string { // "" where it stands
		if gear.Stands || len(names) == 0 {
			return ""
		}
		return names[0]
	}
	return Group(El("h2", Text(groupTitles[g])),
		list("model", "Loudspeaker", gear.Model, "choose", "loudspeaker"),
		If(g != propose.LFE, Group(
			list("wall", "Bracket on a wall or a slope", first(gear.Wall), "none: it stands", "bracket"),
			list("overhead", "Bracket on the ceiling", first(gear.Overhead), "none", "bracket"))))
}

// readAsk reads what was chosen.
func (t Table) readAsk(p *plan.Plan, form Form) propose.Ask {
	ask := propose.Defaults(p)
	for _, g := range groupsOf(p) {
		gear := ask.Of(g)
		gear.Model = forms.Value(form, "model/"+g.String())
		wall, overhead := forms.Value(form, "wall/"+g.String()), forms.Value(form, "overhead/"+g.String())
		gear.Stands = wall == "" && overhead == "" && g != propose.LFE
		gear.Wall, gear.Overhead = one(wall), one(overhead)
	}
	ask.Keep = form["keep"]
	return ask
}

func one(name string) []string {
	if name == "" {
		return nil
	}
	return []string{name}
}

// proposed shows a proposal.
func proposed(p *plan.Plan, ask propose.Ask) Node {
	proposal, err := propose.Mounts(p, ask)
	if err != nil {
		return Group(El("p", Text("Nothing can be proposed yet:")), El("ul", Each(strings.Split(err.Error(), "\n"), func(s string) Node { return El("li", Text(s)) })))
	}
	shown := *p
	shown.Mounts = nil
	for _, m := range p.Mounts {
		if slices.Contains(ask.Keep, m.Channel) {
			shown.Mounts = append(shown.Mounts, m)
		}
	}
	for _, s := range proposal.Spots {
		shown.Mounts = append(shown.Mounts, s.Mount)
	}
	return Group(
		fromAbove(drawing.PlanView{Plan: &shown}),
		If(len(proposal.Cannot) > 0, El("div", class("notice"),
			El("h2", Text("No spot for these")),
			El("ul", Each(proposal.Cannot, func(c propose.Cannot) Node {
				return El("li", El("strong", Text(c.Channel)), Text(": "+strings.Join(c.Why, " ")),
					If(len(c.Give) > 0, El("ul", Each(c.Give, func(s string) Node { return El("li", Text(s)) }))))
			})))),
		El("ul", class("proposals"), Each(proposal.Spots, func(s propose.Spot) Node { return spot(p, s) })))
}

func spot(p *plan.Plan, s propose.Spot) Node {
	m, system := s.Mount, p.Units.System()
	return El("li",
		El("h3", Text(m.Channel)),
		El("p", Text(fmt.Sprintf("%s, %s along, %s %s. Azimuth %s, elevation %s.", drawing.Capital(drawing.SurfaceName(m.Surface)),
			tape.Format(m.Along, system), tape.Format(m.Up, system), p.UpWord(m.Surface), words.Degrees(s.Direction.Azimuth), words.Degrees(s.Direction.Elevation)))),
		Each(s.Cautions, func(caution string) Node { return El("p", class("notice"), Text(caution)) }),
		El("details", El("summary", Text("Why there")), El("ul", Each(slices.Concat(s.Why, s.Open), func(why string) Node { return El("li", Text(why)) }))))
}

func (t Table) spotsDraft(_ []string, form Form) map[string]string {
	p := t.draft()
	return map[string]string{"says": String(proposed(p, t.readAsk(p, form)))}
}

func (t Table) spotsSubmit(_ []string, form Form) Submission {
	p := t.draft()
	if p.Loudspeakers() == nil {
		return forms.Wrong("form", "Choose a layout first, under About the plan.")
	}
	proposal, err := propose.Mounts(p, t.readAsk(p, form))
	if err != nil {
		return forms.Wrong("form", "Nothing can be proposed yet: "+strings.ReplaceAll(err.Error(), "\n", "; ")+".")
	}
	for _, s := range proposal.Spots {
		if m := p.MountByChannel(s.Mount.Channel); m != nil {
			*m = s.Mount
		} else {
			p.Mounts = append(p.Mounts, s.Mount)
		}
	}
	changes := t.difference(p)
	if len(changes) == 0 {
		return forms.Wrong("form", "These are the spots that the plan has.")
	}
	return Submission{Kind: checklist.DraftEdited, Body: checklist.Edit{About: "Proposed spots", Changes: changes}, Next: t.path()}
}

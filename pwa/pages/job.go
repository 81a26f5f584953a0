package pages

import (
	"fmt"

	"hangtrue/checklist"
	. "hangtrue/pwa/markup"
)

func (v view) jobPage() Document {
	s := v.State
	done, all := s.Progress()
	progress := fmt.Sprintf("%d of %s done. Revision %d of the plan.", done, plural(all, "step", "steps"), s.Revision())
	if s.Plan() == nil {
		progress = "No plan is settled yet."
	}
	return Document{Title: s.Title, Main: Group(
		v.crumbs(""),
		El("div", class("title"), El("h1", Text(s.Title))),
		El("p", Text(progress)),
		El("progress", Attr("max", fmt.Sprint(all)), Attr("value", fmt.Sprint(done)), Attr("aria-label", "Steps done")),
		v.photoCount(),
		El("div", class("columns"),
			El("div",
				v.nextCard(),
				v.troubles(),
				If(len(s.Mounts()) > 0, El("h2", Text("Loudspeakers"))),
				El("ul", class("rows"), Each(s.Mounts(), v.mountRow))),
			El("div",
				El("h2", Text("The whole job")),
				El("ul", class("rows"), Each(s.Template.Steps, func(step *checklist.Step) Node {
					if step.Scope != checklist.PerJob {
						return nil
					}
					return v.stepRow(checklist.Key{Step: step.ID})
				})),
				v.walls(),
				v.workedOut(),
				El("p", class("ways"),
					El("a", class("button second"), Attr("href", v.path("plan")), Text("The plan")),
					El("a", class("button second"), Attr("href", v.path("parts")), Text("Parts, and what is left over")),
					El("a", class("button second"), Attr("href", v.path("record")), Text("The record"))),
				v.planRemark()),
		),
	)}
}

func (v view) walls() Node {
	names := v.surfacesInUse()
	if len(names) == 0 {
		return nil
	}
	return Group(El("h2", Text("Walls, ceiling, floor")),
		El("ul", class("rows"), Each(names, func(name string) Node {
			return El("li", El("a", class("row"), Attr("href", v.path("walls", name)), El("span", class("name"), Text(capital(surfaceName(name))))))
		})))
}

// planRemark is what the plan says about itself.
func (v view) planRemark() Node {
	if p := v.State.Plan(); p != nil && p.Remark != "" {
		return El("p", class("quiet"), Text(p.Remark))
	}
	return nil
}

// nextCard leads to the step to do now, or to the record when all is done.
func (v view) nextCard() Node {
	if k, ok := v.next(); ok {
		return v.card(k, "Next")
	}
	if v.State.Locked() {
		return El("p", class("notice"), El("strong", Text("Signed off. ")), link(v.path("record"), "Open the record"), Text("."))
	}
	return El("p", class("notice"), Text("Nothing can be done just now. What holds each step stands beside it."))
}

// next is the first step that can be done now, one that the holder of this phone
// may record before one that another has to.
func (v view) next() (checklist.Key, bool) {
	if v.device.Role == checklist.Installer {
		for _, k := range v.State.Keys() {
			status := v.State.Status(k)
			if (status == checklist.Ready || status == checklist.Stale) && v.records(v.State.Template.Step(k.Step)) && len(v.State.Holds(k)) == 0 {
				return k, true
			}
		}
	}
	return v.State.Next("")
}

// card is the one large link of a page.
func (v view) card(k checklist.Key, word string) Node {
	if v.device.Role == checklist.Installer && v.State.Template.Step(k.Step).Role == checklist.Lead {
		word += ", for a lead"
	}
	return El("a", class("next"), Attr("href", v.stepPath(k)),
		El("span", Text(word)), El("strong", Text(v.stepName(k))),
		v.whereIf(k.Mount))
}

func (v view) whereIf(channel string) Node {
	if channel == "" {
		return nil
	}
	return El("span", Text(v.where(channel)))
}

// mostRefused is how many refused entries are listed where work goes on; the record
// has all of them.
const mostRefused = 40

// troubles lists what needs a person: entries that are refused, steps that are
// outside, unsure or stale. A long list is folded.
func (v view) troubles() Node {
	s := v.State
	var items []Node
	for _, e := range v.Pending {
		if d := v.Foreseen(e.ID); !d.Accepted {
			items = append(items, v.refusedEntry("will be refused", checklist.Record{Decision: d, Entry: e}))
		}
	}
	refused, before := s.LastRefused(mostRefused)
	if before > 0 {
		items = append(items, El("li", verdictWord("outside", "refused"), Text(fmt.Sprintf(" %d earlier; see ", before)), link("/jobs/"+s.Job+"/record", "the record")))
	}
	for _, r := range refused {
		if r.Position > 0 && !v.outlived(r) {
			items = append(items, v.refusedEntry("refused", r))
		}
	}
	for _, k := range s.Keys() {
		e, status := s.Evidence(k), s.Status(k)
		switch {
		case status == checklist.Stale:
			items = append(items, El("li", chip(status), Text(" "), link(v.stepPath(k), v.stepName(k)), Text(": "+s.StaleBecause(k)[0])))
		case e != nil && status != checklist.Done && status != checklist.Conceded:
			items = append(items, El("li", verdictWord(e.Record.Outcome, e.Record.Outcome), Text(" "), link(v.stepPath(k), v.stepName(k))))
		}
	}
	const shown = 4
	switch n := len(items); {
	case n == 0:
		return nil
	case n <= shown:
		return Group(El("h2", Text("Look at these")), El("ul", class("troubles"), Group(items...)))
	default:
		return Group(El("h2", Text("Look at these")), El("ul", class("troubles"), Group(items[:shown]...)),
			El("details", El("summary", Text(fmt.Sprintf("%d more", n-shown))), El("ul", class("troubles"), Group(items[shown:]...))))
	}
}

func (v view) keysOf(channel string) []checklist.Key {
	var keys []checklist.Key
	for _, k := range v.State.Keys() {
		if k.Mount == channel {
			keys = append(keys, k)
		}
	}
	return keys
}

func (v view) mountRow(channel string) Node {
	s := v.State
	keys := v.keysOf(channel)
	done, all := s.ProgressOf(keys)
	state := signed("done", "✓", "all done")
	if done < all {
		k := v.current(keys)
		state = Group(v.state(k), Text(" "+s.Template.Step(k.Step).Title))
	}
	return El("li", El("a", class("row"), Attr("href", v.path("mounts", channel)),
		El("span", class("name"), Text(channel)),
		El("span", class("where"), Text(v.where(channel))),
		El("span", class("state"), state),
		El("span", class("count"), Text(fmt.Sprintf("%d of %d", done, all))),
	))
}

// current is the first of a mount's steps that is not done.
func (v view) current(keys []checklist.Key) checklist.Key {
	for _, k := range keys {
		if status := v.State.Status(k); status != checklist.Done && status != checklist.Conceded {
			return k
		}
	}
	return keys[len(keys)-1]
}

// state shows a step's status, or the verdict that keeps it from being done.
func (v view) state(k checklist.Key) Node {
	status := v.State.Status(k)
	if e := v.State.Evidence(k); e != nil && status == checklist.Ready {
		return verdictWord(e.Record.Outcome, e.Record.Outcome)
	}
	return chip(status)
}

// stepRow is one step in a list, with why it is held.
func (v view) stepRow(k checklist.Key) Node {
	s := v.State
	status := s.Status(k)
	var why string
	switch status {
	case checklist.Held:
		holds := s.Holds(k)
		why = holds[0].Text
		if len(holds) > 1 {
			why += fmt.Sprintf(" And %s more.", plural(len(holds)-1, "thing", "things"))
		}
	case checklist.Stale:
		why = capital(s.StaleBecause(k)[0])
	}
	return El("li", El("a", class("row "+string(status)), Attr("href", v.stepPath(k)),
		El("span", class("name"), Text(s.Template.Step(k.Step).Title)),
		El("span", class("state"), v.state(k)),
		If(why != "", El("span", class("why"), Text(why))),
	))
}

func (v view) mountPage(channel string) Document {
	p := v.State.Plan()
	if p == nil || p.MountByChannel(channel) == nil {
		return missing("The plan has no mount of this name.")
	}
	m := p.MountByChannel(channel)
	v.mount = channel
	v.zone = v.elsewhere(checklist.Key{Mount: channel})
	keys := v.keysOf(channel)
	done, all := v.State.ProgressOf(keys)
	hung := m.Model + " on " + m.Bracket + ", " + surfaceName(m.Surface)
	if m.Bracket == "" {
		hung = m.Model + ", standing on the " + surfaceName(m.Surface)
	}
	return Document{Title: channel, Main: Group(
		v.crumbs(""),
		El("div", class("title"), El("h1", Text(channel)), El("span", Text(fmt.Sprintf("%d of %d done", done, all)))),
		El("p", Text(hung+".")),
		v.beside(Group(
			v.onward(checklist.Key{Mount: channel}),
			v.target(checklist.Key{Mount: channel}),
			El("h2", Text("Steps")),
			El("ol", class("rows"), Each(keys, v.stepRow)),
			v.seats(channel),
		), Group(v.elevation(m.Surface, channel), v.whereElse(channel), El("p", class("alone"), link(v.path("drawings"), "Where everything is in the room")))),
	)}
}

// crumbs lead back up: to all jobs, the job, the mount.
func (v view) crumbs(mount string) Node {
	return El("nav", Attr("aria-label", "Where you are"), class("crumbs"),
		link("/", "Jobs"), link(v.path(), v.State.Title), If(mount != "", link(v.path("mounts", mount), mount)))
}

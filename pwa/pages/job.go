package pages

import (
	"fmt"

	"hangtrue/checklist"
	. "hangtrue/pwa/markup"
)

func (v view) jobPage() Document {
	s := v.State
	done, all := Progress(s)
	return Document{Title: s.Title, Main: Group(
		El("h1", Text(s.Title)),
		If(s.Plan() != nil && s.Plan().Remark != "", Remark(s)),
		El("p", Text(fmt.Sprintf("Revision %d of the plan. %d of %s done.", s.Revision(), done, plural(all, "step", "steps")))),
		El("progress", Attr("max", fmt.Sprint(all)), Attr("value", fmt.Sprint(done)), Attr("aria-label", "steps done")),
		v.nextCard(""),
		v.troubles(),
		El("h2", Text("Loudspeakers")),
		El("ul", class("rows"), Each(s.Mounts(), v.mountRow)),
		El("h2", Text("The whole job")),
		El("ul", class("rows"), Each(s.Template.Steps, func(step *checklist.Step) Node {
			if step.Scope != checklist.PerJob {
				return nil
			}
			return v.stepRow(checklist.Key{Step: step.ID})
		})),
		El("h2", Text("Walls and ceiling")),
		El("ul", class("rows"), Each(v.surfacesInUse(), func(name string) Node {
			return El("li", El("a", class("row"), Attr("href", v.path("walls", name)), El("span", class("name"), Text(capital(surfaceName(name))))))
		})),
		El("p", El("a", class("button quiet"), Attr("href", v.path("record")), Text("The record"))),
	)}
}

// Remark is what the plan says about itself.
func Remark(s *checklist.State) Node {
	return El("p", class("quiet"), Text(s.Plan().Remark))
}

// nextCard leads to the step to do now, of one mount or of the whole job.
func (v view) nextCard(mount string) Node {
	s := v.State
	if s.Plan() == nil {
		return El("p", class("notice"), Text("No plan is settled yet."))
	}
	k, ok := s.Next(mount)
	if !ok {
		if s.Locked() {
			return El("p", class("notice"), Text("Signed off. "), link(v.path("record"), "Open the record"), Text("."))
		}
		return nil
	}
	what := s.Template.Step(k.Step).Title
	if k.Mount != "" {
		what = k.Mount + " · " + what
	}
	return El("a", class("next"), Attr("href", v.stepPath(k)),
		El("span", class("quiet"), Text("Next")),
		El("strong", Text(what)),
		If(k.Mount != "", El("span", Text(v.where(k.Mount)))),
	)
}

// troubles lists what needs a person: refused entries, entries not sent, steps
// that are outside, unsure or stale.
func (v view) troubles() Node {
	s := v.State
	var items []Node
	for _, e := range v.Pending {
		if d := v.Foreseen(e.ID); !d.Accepted {
			items = append(items, El("li", verdictWord("outside", "will be refused"), Text(" "+v.entryName(e)+". "+d.Reason)))
		}
	}
	for _, r := range s.Refused {
		if r.Position > 0 {
			items = append(items, El("li", verdictWord("outside", "refused"), Text(" "+v.entryName(r.Entry)+". "+r.Reason)))
		}
	}
	for _, k := range s.Keys() {
		e := s.Evidence(k)
		status := s.Status(k)
		name := s.Template.Step(k.Step).Title
		if k.Mount != "" {
			name = k.Mount + " " + name
		}
		switch {
		case status == checklist.Stale:
			items = append(items, El("li", chip(status), Text(" "), link(v.stepPath(k), name), Text(": "+s.StaleBecause(k)[0])))
		case e != nil && status != checklist.Done && status != checklist.Conceded:
			items = append(items, El("li", verdictWord(e.Record.Outcome, e.Record.Outcome), Text(" "), link(v.stepPath(k), name)))
		}
	}
	if len(items) == 0 {
		return nil
	}
	return Group(El("h2", Text("Look at these")), El("ul", class("troubles"), Group(items...)))
}

func verdictWord(kind, word string) Node {
	sign := map[string]string{"within": "✓", "outside": "✕", "unsure": "?"}[kind]
	return El("span", class("chip "+kind), El("span", Attr("aria-hidden", "true"), Text(sign)), Text(" "+word))
}

func (v view) mountRow(channel string) Node {
	s := v.State
	var keys []checklist.Key
	for _, k := range s.Keys() {
		if k.Mount == channel {
			keys = append(keys, k)
		}
	}
	done, all := tally(s, keys)
	state := El("span", class("quiet"), Text("all done"))
	if done < all {
		if k, ok := s.Next(channel); ok {
			state = Group(chip(s.Status(k)), Text(" "+s.Template.Step(k.Step).Title))
		} else {
			state = chip(checklist.Held)
		}
	}
	return El("li", El("a", class("row"), Attr("href", v.path("mounts", channel)),
		El("span", class("name"), Text(channel)),
		El("span", class("quiet"), Text(v.where(channel))),
		El("span", class("state"), state),
		El("span", class("count"), Text(fmt.Sprintf("%d/%d", done, all))),
	))
}

// stepRow is one step in a list, with why it is held.
func (v view) stepRow(k checklist.Key) Node {
	s := v.State
	step := s.Template.Step(k.Step)
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
		why = s.StaleBecause(k)[0]
	}
	return El("li", El("a", class("row "+string(status)), Attr("href", v.stepPath(k)),
		El("span", class("name"), Text(step.Title)),
		El("span", class("state"), chip(status)),
		If(why != "", El("span", class("why quiet"), Text(why))),
	))
}

func (v view) mountPage(channel string) Document {
	s := v.State
	m := s.Plan()
	if m == nil || m.MountByChannel(channel) == nil {
		return missing("The plan has no mount " + channel + ".")
	}
	var keys []checklist.Key
	for _, k := range s.Keys() {
		if k.Mount == channel {
			keys = append(keys, k)
		}
	}
	mount := m.MountByChannel(channel)
	return Document{Title: channel, Main: Group(
		v.crumbs(),
		El("h1", Text(channel)),
		El("p", Text(v.where(channel)+". "+mount.Model+".")),
		v.target(channel),
		v.nextCard(channel),
		El("h2", Text("Steps")),
		El("ol", class("rows"), Each(keys, v.stepRow)),
		v.elevation(mount.Surface, channel, nil),
	)}
}

// crumbs lead back up.
func (v view) crumbs(more ...Node) Node {
	return El("nav", Attr("aria-label", "Where you are"), class("crumbs"), link(v.path(), v.State.Title), Group(more...))
}

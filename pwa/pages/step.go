package pages

import (
	"fmt"
	"slices"
	"strings"

	"hangtrue/checklist"
	. "hangtrue/pwa/markup"
)

func (v view) stepPage(k checklist.Key) Document {
	s := v.State
	step := s.Template.Step(k.Step)
	if step == nil || s.Plan() == nil || !s.Applies(step, k.Mount) {
		return missing("This job has no such step.")
	}
	title := step.Title
	above := []Node(nil)
	if k.Mount != "" {
		title = k.Mount + " · " + step.Title
		above = append(above, link(v.path("mounts", k.Mount), k.Mount))
	}
	status := s.Status(k)
	return Document{Title: title, Main: Group(
		v.crumbs(above...),
		El("h1", Text(title), Text(" "), chip(status)),
		v.stale(k, status),
		El("p", class("do"), Text(step.Do)),
		If(k.Mount != "" && placed[k.Step], v.targetIfMount(k.Mount)),
		v.cautions(step),
		v.standing(k),
		v.form(step, k),
		v.drawingFor(step, k),
		v.history(k),
		v.after(k),
	)}
}

// placed are the steps at which a person needs the spot in front of them.
var placed = map[string]bool{"mark": true, "level": true, "studs": true, "drill": true, "hang": true}

func (v view) targetIfMount(channel string) Node {
	if channel == "" {
		return nil
	}
	return v.target(channel)
}

func (v view) stale(k checklist.Key, status checklist.Status) Node {
	if status != checklist.Stale {
		return nil
	}
	return El("div", class("notice"), El("p", Text("This was done, but something it rested on has changed. Look at it again:")),
		El("ul", Each(v.State.StaleBecause(k), func(because string) Node { return El("li", Text(capital(because))) })))
}

// cautions stand above the form; those to confirm are in it.
func (v view) cautions(step *checklist.Step) Node {
	var shown []string
	for _, id := range step.Cautions {
		if !slices.Contains(step.Confirm, id) {
			shown = append(shown, id)
		}
	}
	if len(shown) == 0 {
		return nil
	}
	return El("ul", class("cautions"), Attr("aria-label", "Cautions"), Each(shown, func(id string) Node {
		c := v.State.Template.Cautions[id]
		return El("li", El("span", Attr("aria-hidden", "true"), Text("⚠ ")), Text(c.Text))
	}))
}

// standing shows what is recorded, and the way to concede it.
func (v view) standing(k checklist.Key) Node {
	s := v.State
	e := s.Evidence(k)
	if e == nil {
		return nil
	}
	r := e.Record
	sent := El("span", class("quiet"), Text("received "+clock(r.Received)))
	if r.Position == 0 {
		sent = El("span", class("chip unsure"), Text("not sent yet"))
	}
	var passed Node
	if e.Concession != nil {
		passed = El("p", class("notice"), El("strong", Text("Conceded: ")), Text(e.Reason), El("span", class("quiet"), Text(" ("+e.Concession.Entry.Who+")")))
	}
	return El("section", class("standing"), Attr("aria-label", "Recorded"),
		El("h2", Text("Recorded")),
		El("p", Text(r.Entry.Who+", "+clock(r.Entry.Clock)+" by that phone's clock, "), sent),
		v.recorded(s.Template.Step(k.Step), e.Recording),
		v.checkList(s.Checks(e.Recording)),
		passed,
		v.concession(k, e),
	)
}

// recorded lists what was written down.
func (v view) recorded(step *checklist.Step, b checklist.Recording) Node {
	var rows []Node
	add := func(label, value string) { rows = append(rows, El("dt", Text(label)), El("dd", Text(value))) }
	for _, f := range step.Fields {
		for _, channel := range v.channels(f) {
			key, label := f.Key(channel), f.Label
			if channel != "" {
				label = channel + " " + f.Label
			}
			if readings := b.Measured[key]; len(readings) > 0 {
				texts := make([]string, len(readings))
				for i, r := range readings {
					texts[i] = v.typed(f.Quantity, r)
				}
				add(label, strings.Join(texts, "; "))
			}
			if chosen, ok := b.Chosen[key]; ok {
				add(label, v.optionLabel(f, b.Mount, chosen))
			}
		}
	}
	for _, id := range b.Confirmed {
		add("Confirmed", v.State.Template.Cautions[id].Text)
	}
	if b.Remark != "" {
		add("Remark", b.Remark)
	}
	return El("details", El("summary", Text("What was written down")), El("dl", class("written"), Group(rows...)))
}

func (v view) channels(f checklist.Field) []string {
	if f.Each {
		return v.State.Mounts()
	}
	return []string{""}
}

func (v view) optionLabel(f checklist.Field, mount, id string) string {
	for _, o := range v.State.Options(f, mount) {
		if o.ID == id {
			return o.Label
		}
	}
	return id
}

// concession is the lead's form to leave a step off plan, with a reason.
func (v view) concession(k checklist.Key, e *checklist.Evidence) Node {
	status := v.State.Status(k)
	if status == checklist.Done || status == checklist.Conceded {
		return nil
	}
	switch {
	case e.Record.Barred != "":
		return El("p", class("notice"), Text("No concession can pass this. Put it right and record it again."))
	case v.device.Role != checklist.Lead:
		return El("p", class("quiet"), Text("A lead can leave it as it is, with a reason."))
	case len(v.State.Holds(k)) > 0:
		return nil
	}
	return El("form", Attr("method", "post"), Attr("data-form", "concede"), class("concede"),
		El("input", Attr("type", "hidden"), Attr("name", "act"), Attr("value", "concede")),
		El("label", Attr("for", "reason"), Text("Leave it off plan, because")),
		El("textarea", Attr("id", "reason"), Attr("name", "reason"), Attr("rows", "3"), Attr("maxlength", "1000"), Flag("required", true)),
		problem("reason"),
		El("button", Attr("type", "submit"), class("quiet"), Text("Concede")),
	)
}

// history lists every accepted entry about the step once there is more than the
// one that stands.
func (v view) history(k checklist.Key) Node {
	entries := v.State.History(k)
	if len(entries) < 2 {
		return nil
	}
	return El("details", El("summary", Text(fmt.Sprintf("All that was written about this step (%d)", len(entries)))),
		El("ol", class("history"), Each(entries, func(r checklist.Record) Node {
			return El("li", Text(clock(r.Entry.Clock)+", "+r.Entry.Who+": "+v.entryName(r.Entry)), If(r.Outcome != "", verdictWord(r.Outcome, r.Outcome)))
		})))
}

// after leads on from a step that is done, and lets it be reopened.
func (v view) after(k checklist.Key) Node {
	status := v.State.Status(k)
	if status != checklist.Done && status != checklist.Conceded {
		return nil
	}
	next := v.nextCard(k.Mount)
	if k.Mount != "" {
		if _, ok := v.State.Next(k.Mount); !ok {
			next = v.nextCard("")
		}
	}
	reopen := El("details", El("summary", Text("Reopen this step")),
		El("form", Attr("method", "post"), Attr("data-form", "reopen"),
			El("input", Attr("type", "hidden"), Attr("name", "act"), Attr("value", "reopen")),
			El("p", Text("What rested on it will have to be looked at again.")),
			El("label", Attr("for", "reopen-reason"), Text("Why")),
			El("textarea", Attr("id", "reopen-reason"), Attr("name", "reason"), Attr("rows", "2"), Attr("maxlength", "1000"), Flag("required", true)),
			problem("reason"),
			El("button", Attr("type", "submit"), class("quiet"), Text("Reopen")),
		))
	if v.State.Template.Step(k.Step).Kind != checklist.StepRecorded || !v.device.Known {
		reopen = nil
	}
	return Group(next, reopen)
}

func (v view) drawingFor(step *checklist.Step, k checklist.Key) Node {
	if k.Mount == "" || !placed[step.ID] {
		return nil
	}
	m := v.State.Plan().MountByChannel(k.Mount)
	return v.elevation(m.Surface, k.Mount, nil)
}

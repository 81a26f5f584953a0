package pages

import (
	"encoding/json"
	"fmt"

	"hangtrue/checklist"
	. "hangtrue/pwa/markup"
	"hangtrue/pwa/words"
)

// outlived tells whether a refused entry is about a step of which something came
// later that counts. Nobody has to look at it any more then; the record has it.
func (v view) outlived(refused checklist.Record) bool {
	e := v.State.Evidence(checklist.About(refused.Entry))
	if e == nil {
		return false
	}
	later := func(r checklist.Record) bool {
		if r.Position == 0 && refused.Position == 0 { // both are this device's, and wait
			return r.Entry.Number > refused.Entry.Number
		}
		return r.Position == 0 || refused.Position > 0 && r.Position > refused.Position
	}
	return later(e.Record) || e.Concession != nil && later(*e.Concession)
}

// by says who made an entry and when.
func by(e checklist.Entry) string { return e.Who + ", " + words.Clock(e.Clock) }

// refusedEntry is one entry in a list of what has to be looked at that was refused, or
// will be: the page of its step says what to do first.
func (v view) refusedEntry(word string, r checklist.Record) Node {
	name := Node(Text(sentence(v.entryName(r.Entry))))
	if k := checklist.About(r.Entry); k != (checklist.Key{}) {
		if step := v.State.Template.Step(k.Step); step != nil && v.State.Applies(step, k.Mount) {
			name = Group(link(v.stepPath(k), v.stepName(k)), Text(": "+entryKind[r.Entry.Kind]+"."))
		}
	}
	return El("li", verdictWord("outside", word), Text(" "), name, Text(" "+r.Reason+" "), El("span", class("quiet"), Text("("+by(r.Entry)+")")))
}

// mostKept is how many refused entries the page of a step shows.
const mostKept = 3

// refusedAt are the entries about a step that a rule did not let count, with what they
// say: nobody should have to measure again what was measured.
func (v view) refusedAt(step *checklist.Step, k checklist.Key) Node {
	refused, _ := v.State.LastRefused(mostRefused)
	var items []Node
	for _, r := range refused {
		if checklist.About(r.Entry) == k && !v.outlived(r) {
			items = append(items, El("li", verdictWord("outside", "refused"), Text(" "+capital(entryKind[r.Entry.Kind])+" by "+by(r.Entry)+". "+r.Reason), v.said(step, r)))
		}
	}
	if len(items) == 0 {
		return nil
	}
	items = items[max(0, len(items)-mostKept):]
	return El("section", Attr("aria-label", "Refused"), El("ul", class("troubles"), Group(items...)),
		El("p", class("quiet"), Text("It is kept, and does not count. Where it is still true, record it again once nothing holds it.")))
}

// said is what an entry says beside its kind: a reason, or what was written down.
func (v view) said(step *checklist.Step, r checklist.Record) Node {
	switch r.Entry.Kind {
	case checklist.StepConceded, checklist.StepReopened:
		var b checklist.Reasoned
		if json.Unmarshal(r.Entry.Body, &b) == nil && b.Reason != "" {
			return El("p", Text("Because: "+b.Reason))
		}
	case checklist.StepRecorded:
		if b, ok := checklist.RecordingOf(r.Entry); ok {
			return Group(El("details", El("summary", Text("What was written down")), v.recorded(step, b)), v.photos(b.Photos, r.Entry))
		}
	}
	return v.photos(checklist.PhotosOf(r.Entry), r.Entry)
}

// reopened says of an open step who took back what stood, and why.
func (v view) reopened(k checklist.Key) Node {
	if v.State.Evidence(k) != nil {
		return nil
	}
	entries := v.State.History(k)
	if len(entries) == 0 {
		return nil
	}
	last := entries[len(entries)-1]
	var b checklist.Reasoned
	if last.Entry.Kind != checklist.StepReopened || json.Unmarshal(last.Entry.Body, &b) != nil {
		return nil
	}
	return El("p", class("notice"), El("strong", Text("Open again: ")), Text(b.Reason+" "), El("span", class("quiet"), Text("("+by(last.Entry)+")")))
}

// replaced says whose recording the one that stands took the place of, where that was
// another phone's. Two that crossed are not told from each other by anything else.
func (v view) replaced(step *checklist.Step, k checklist.Key, e *checklist.Evidence) Node {
	var before *checklist.Record
	for _, r := range v.State.History(k) {
		switch {
		case r.Entry.ID == e.Record.Entry.ID:
			if before == nil || before.Entry.Device == r.Entry.Device {
				return nil
			}
			text := "In place of what " + before.Entry.Who + " recorded, " + words.Clock(before.Entry.Clock) + ": "
			crossed := before.Position == 0 || before.Position > r.Entry.Seen
			return El("details", El("summary", Text(text), verdictWord(before.Outcome, before.Outcome)),
				If(crossed, El("p", Text("Neither phone knew of the other's. The one that the server got last stands. Where the two differ, measure once more, together."))),
				v.said(step, *before))
		case r.Entry.Kind == checklist.StepRecorded:
			before = &r
		case r.Entry.Kind == checklist.StepReopened:
			before = nil
		}
	}
	return nil
}

// formerPlan says of what does not pass that it was made for a plan that is no longer
// in force.
func (v view) formerPlan(e *checklist.Evidence) Node {
	made, now := e.Record.Entry.Plan, v.State.Revision()
	if made == 0 || made >= now {
		return nil
	}
	last := v.State.Revisions[now-1]
	return El("p", class("notice"), El("strong", Text("The plan has changed. ")),
		Text(fmt.Sprintf("This was made for revision %d; revision %d is in force: %s ", made, now, last.Reason)), El("span", class("quiet"), Text("("+by(last.Record.Entry)+")")))
}

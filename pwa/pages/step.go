package pages

import (
	"fmt"
	"slices"
	"strings"

	"hangtrue/checklist"
	"hangtrue/pwa/forms"
	. "hangtrue/pwa/markup"
	"hangtrue/pwa/words"
)

func (v view) stepPage(k checklist.Key) Document {
	s := v.State
	step := s.Template.Step(k.Step)
	if step == nil {
		return missing("This job has no such step.")
	}
	if !s.Applies(step, k.Mount) {
		return missing("This job has no such step.")
	}
	v.mount = k.Mount
	if k.Step == "calibration" && s.Plan() != nil {
		v.expects = v.expected()
	}
	v.zone = v.elsewhere(k)
	status := s.Status(k)
	return Document{Title: v.stepName(k), Mark: v.mark(step, k, status), Main: Group(
		v.crumbs(k.Mount),
		El("div", class("title"), El("h1", Text(v.stepName(k))), v.state(k)),
		v.refusedAt(step, k),
		v.reopened(k),
		v.beside(v.stepBody(step, k, status), v.drawingFor(k)),
	)}
}

// mark is the same as long as a form for the step is about the same.
func (v view) mark(step *checklist.Step, k checklist.Key, status checklist.Status) string {
	s := v.State
	mark := fmt.Sprint(s.Revision(), " ", status)
	if e := s.Evidence(k); e != nil {
		mark += " " + e.Record.Entry.ID
		if e.Concession != nil {
			mark += " " + e.Concession.Entry.ID
		}
	}
	if step.Kind == checklist.JobSigned {
		mark += fmt.Sprint(" ", s.Head)
	}
	return mark
}

// beside puts a drawing next to what it belongs to where the screen is wide, and
// below it where it is not.
func (v view) beside(body, drawn Node) Node {
	if drawn == nil {
		return body
	}
	return El("div", class("columns"), El("div", body), El("div", class("side"), drawn))
}

func (v view) stepBody(step *checklist.Step, k checklist.Key, status checklist.Status) Node {
	e := v.State.Evidence(k)
	switch {
	case status == checklist.Done || status == checklist.Conceded:
		return Group(v.standing(k, e), v.onward(k), v.written(step, e), v.target(k), v.later(step, k), v.again(step, k), v.reopening(step, k), v.history(k))
	case status == checklist.Stale:
		return Group(v.stale(k), v.todo(step, k), v.before(step, e), v.later(step, k), v.reopening(step, k), v.history(k))
	case e != nil:
		return Group(v.formerPlan(e), v.standing(k, e), v.retry(step, k, e.Record.Outcome), v.written(step, e), v.later(step, k), v.concession(k, e), v.history(k))
	}
	return Group(v.todo(step, k), v.remarksOn(k), v.history(k))
}

// later is what was added to a step, and the form to add more.
func (v view) later(step *checklist.Step, k checklist.Key) Node {
	return Group(v.remarksOn(k), v.remarkForm(step))
}

// todo is what a person needs to do a step: the numbers to aim at, the cautions,
// and the form.
func (v view) todo(step *checklist.Step, k checklist.Key) Node {
	if len(v.State.Holds(k)) > 0 {
		return Group(v.held(k), El("p", Text(step.Do)), v.target(k), v.cautions(step), v.ahead(k))
	}
	return Group(v.target(k), v.cautions(step), v.ahead(k), El("p", Text(step.Do)), v.form(step, k))
}

// ahead is what follows from the plan for what is about to be done: the load with
// each setting of the links, or what the cable comes to.
func (v view) ahead(k checklist.Key) Node {
	if k.Mount == "" {
		return nil
	}
	switch m := v.State.Plan().MountByChannel(k.Mount); k.Step {
	case "bridges":
		return v.settings(m)
	case "wire":
		return v.cableAhead(m)
	}
	return nil
}

// retry is the same once more, after a recording that did not pass.
func (v view) retry(step *checklist.Step, k checklist.Key, outcome string) Node {
	title := "Put it right, then record it again"
	if outcome == "unsure" {
		title = "Settle it, then record it again"
	}
	return Group(El("h2", Text(title)), v.todo(step, k))
}

// again folds the form of a step away that is done.
func (v view) again(step *checklist.Step, k checklist.Key) Node {
	if step.Kind != checklist.StepRecorded || !v.records(step) || len(v.State.Holds(k)) > 0 {
		if step.Kind == checklist.PlanSettled {
			return v.planSummary()
		}
		return nil
	}
	return El("details", El("summary", Text("Record it again")), v.cautions(step), El("p", Text(step.Do)), v.form(step, k))
}

// held says what to do first, and where.
func (v view) held(k checklist.Key) Node {
	holds := v.State.Holds(k)
	first, ok := v.firstOf(k, map[checklist.Key]bool{})
	var rest Node
	if len(holds) > 1 || !ok || holds[0].Key != first {
		rest = El("details", El("summary", Text("It waits for "+plural(len(holds), "thing", "things"))),
			El("ul", Each(holds, func(h checklist.Hold) Node {
				if h.Part != "" {
					return El("li", link(v.path("parts"), h.Text))
				}
				if h.Key.Step == "" {
					return El("li", Text(h.Text))
				}
				return El("li", link(v.stepPath(h.Key), h.Text))
			})))
	}
	if !ok {
		return El("section", class("held-first"), El("h2", Text("Held")), El("p", Text(holds[0].Text)),
			If(holds[0].Part != "", El("p", El("a", class("button second"), Attr("href", v.path("parts")), Text("What is on hand")))), If(len(holds) > 1, rest))
	}
	return El("section", class("held-first"),
		El("h2", Text("Held: do this first")),
		v.card(first, "First"),
		El("p", Text(v.reason(holds, first))), rest)
}

// reason is why the step that comes first has to be done: it is waited for itself,
// or something is that waits for it.
func (v view) reason(holds []checklist.Hold, first checklist.Key) string {
	for _, h := range holds {
		if h.Key == first {
			return h.Text
		}
	}
	for _, h := range holds {
		if found, ok := v.firstOf(h.Key, map[checklist.Key]bool{}); ok && found == first {
			return fmt.Sprintf("This waits for %s, and that waits for %s.", v.titleFor(h.Key), v.titleFor(first))
		}
	}
	return holds[0].Text
}

// titleFor names a step in a sentence, with its mount when it is another one's.
func (v view) titleFor(k checklist.Key) string {
	title := v.State.Template.Step(k.Step).Title
	if k.Mount != "" && k.Mount != v.mount {
		return k.Mount + " " + title
	}
	return title
}

// firstOf is the first step that a held one waits for and that can be done now.
func (v view) firstOf(k checklist.Key, seen map[checklist.Key]bool) (checklist.Key, bool) {
	if k.Step == "" || seen[k] {
		return checklist.Key{}, false
	}
	seen[k] = true
	for _, h := range v.State.Holds(k) {
		if h.Key.Step == "" {
			continue
		}
		if len(v.State.Holds(h.Key)) == 0 {
			return h.Key, true
		}
		if found, ok := v.firstOf(h.Key, seen); ok {
			return found, true
		}
	}
	return checklist.Key{}, false
}

func (v view) stale(k checklist.Key) Node {
	return El("div", class("notice"), El("p", Text("This was done, but something it rested on has changed since. Look at it again:")),
		El("ul", Each(v.State.StaleBecause(k), func(because string) Node { return El("li", Text(capital(because))) })))
}

// cautions stand above the form, short; the rest of a long one opens. Those to
// confirm are in the form.
func (v view) cautions(step *checklist.Step) Node {
	var shown []string
	for _, id := range step.Cautions {
		if !slices.Contains(step.Confirm, id) {
			shown = append(shown, id)
		}
	}
	return cautionList(v.cautionTexts(shown...))
}

// firstSentence parts a caution after its first sentence.
func firstSentence(text string) (first, rest string) {
	if i := strings.Index(text, ". "); i >= 0 {
		return text[:i+1], text[i+2:]
	}
	return text, ""
}

// standing shows what the recording came to, who made it and whether it has
// arrived.
func (v view) standing(k checklist.Key, e *checklist.Evidence) Node {
	if e == nil {
		return nil
	}
	r := e.Record
	sent := El("span", class("quiet"), Text("The server has it since "+words.Clock(r.Received)+"."))
	if r.Position == 0 {
		sent = signed("unsure", "↑", "not sent yet")
	}
	verdict := v.verdict(v.State.Checks(e.Recording), false)
	if verdict == nil {
		verdict = El("div", class("verdict within"), El("p", class("head"), verdictWord("within", "Recorded")))
	}
	if e.Concession != nil {
		verdict = El("details", El("summary", Text("What is off plan")), verdict)
	}
	return El("section", Attr("aria-label", "What was recorded"),
		v.conceded(e),
		verdict,
		El("p", class("quiet"), Text("Recorded by "+r.Entry.Who+", "+words.Clock(r.Entry.Clock)+" by that phone's clock. "), sent),
		v.replaced(v.State.Template.Step(k.Step), k, e),
		v.photos(e.Recording.Photos, r.Entry),
	)
}

func (v view) conceded(e *checklist.Evidence) Node {
	if e.Concession == nil {
		return nil
	}
	return El("p", class("notice"), El("strong", Text("Left off plan: ")), Text(e.Reason),
		El("span", class("quiet"), Text(" ("+e.Concession.Entry.Who+", "+words.Clock(e.Concession.Entry.Clock)+")")))
}

// written lists what was written down.
func (v view) written(step *checklist.Step, e *checklist.Evidence) Node {
	if e == nil {
		return nil
	}
	return El("details", El("summary", Text("What was written down")), v.recorded(step, e.Recording))
}

// before is what stood here before it went stale.
func (v view) before(step *checklist.Step, e *checklist.Evidence) Node {
	if e == nil {
		return nil
	}
	return El("details", El("summary", Text("What was recorded before")), v.standing(checklist.Key{Step: step.ID, Mount: e.Recording.Mount}, e), v.recorded(step, e.Recording))
}

func (v view) recorded(step *checklist.Step, b checklist.Recording) Node {
	var rows []Node
	add := func(label, value string) { rows = append(rows, El("dt", Text(label)), El("dd", Text(value))) }
	for _, f := range step.Fields {
		for _, channel := range v.channels(f) {
			key, label := f.Key(channel), v.label(f, b.Mount, channel)
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
	return El("dl", class("written"), Group(rows...))
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
	switch {
	case e.Record.Barred != "":
		return El("p", class("notice"), Text("No concession can pass this. Put it right and record it again."))
	case len(v.State.Holds(k)) > 0:
		return nil
	case v.device.Role != checklist.Lead:
		return El("p", class("quiet"), Text("If it cannot be put right, a lead can leave it as it is, with a reason."))
	}
	return El("details", El("summary", Text("Leave it off plan")),
		v.reasonForm("concede", "It stays as it is, because", "The reason stays in the record, with your name.", "Leave it off plan"))
}

// reasonForm is the form of an act that needs nothing but a reason.
func (v view) reasonForm(act, label, note, button string) Node {
	return El("form", Attr("method", "post"), Attr("data-form", act), Attr("novalidate", ""),
		El("input", Attr("type", "hidden"), Attr("name", "act"), Attr("value", act)),
		El("p", Attr("id", "h-reason"), Text(note)),
		El("label", Attr("for", "f-reason"), Text(label)),
		El("textarea", Attr("id", "f-reason"), Attr("name", "reason"), Attr("rows", "3"), Attr("maxlength", "1000"), Flag("required", true), Attr("aria-describedby", "h-reason p-reason")),
		forms.Problem("reason"),
		El("button", Attr("type", "submit"), class("second"), Text(button)),
	)
}

// reopening lets a step that stands be taken back.
func (v view) reopening(step *checklist.Step, k checklist.Key) Node {
	switch {
	case step.Kind != checklist.StepRecorded, !v.device.Known, v.device.Role == checklist.Viewer,
		v.State.Locked() && v.device.Role != checklist.Lead:
		return nil
	}
	return El("details", El("summary", Text("Reopen this step")),
		v.reasonForm("reopen", "It is open again, because", "What rested on it will have to be looked at again.", "Reopen"))
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
			return El("li", Text(words.Clock(r.Entry.Clock)+", "+r.Entry.Who+": "+entryKind[r.Entry.Kind]+" "), If(r.Outcome != "", verdictWord(r.Outcome, r.Outcome)), v.said(v.State.Template.Step(k.Step), r))
		})))
}

// onward leads on from a step that is done: to the next of the same mount, then to
// the next of the job.
func (v view) onward(k checklist.Key) Node {
	if k.Mount != "" {
		if next, ok := v.State.Next(k.Mount); ok {
			return v.card(next, "Next")
		}
	}
	return v.nextCard()
}

// drawn are the steps at which the wall is looked at.
var drawn = map[string]bool{"mark": true, "level": true, "studs": true, "drill": true, "hang": true}

func (v view) drawingFor(k checklist.Key) Node {
	if k.Mount == "" || !drawn[k.Step] {
		return nil
	}
	return Group(v.elevation(v.State.Plan().MountByChannel(k.Mount).Surface, k.Mount), v.whereElse(k.Mount))
}

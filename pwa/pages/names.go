package pages

import (
	"fmt"

	"hangtrue/checklist"
	"hangtrue/compute/tape"
	"hangtrue/pwa/drawing"
	. "hangtrue/pwa/markup"
)

func surfaceName(name string) string { return drawing.SurfaceName(name) }

func capital(s string) string { return drawing.Capital(s) }

// upWord is what the second tape coordinate of a surface is called on a form.
func (v view) upWord(surface string) string { return capital(v.State.Plan().UpWord(surface)) }

// datum says from where the two tape coordinates of a surface are measured.
func (v view) datum(surface string) (along, up string) { return drawing.Datum(v.State.Plan(), surface) }

// where says a mount's place in the plan in one line.
func (v view) where(channel string) string {
	m := v.State.Plan().MountByChannel(channel)
	return fmt.Sprintf("%s, %s along, %s %s", capital(surfaceName(m.Surface)),
		tape.Format(m.Along, v.system()), tape.Format(m.Up, v.system()), v.State.Plan().UpWord(m.Surface))
}

// surfacesInUse are the surfaces that carry a mount, in the plan's order of mounts.
func (v view) surfacesInUse() []string {
	p := v.State.Plan()
	if p == nil {
		return nil
	}
	var names []string
	seen := map[string]bool{}
	for _, m := range p.Mounts {
		if !seen[m.Surface] {
			seen[m.Surface] = true
			names = append(names, m.Surface)
		}
	}
	return names
}

// stepName names a step, with its mount where it has one.
func (v view) stepName(k checklist.Key) string {
	title := k.Step
	if step := v.State.Template.Step(k.Step); step != nil {
		title = step.Title
	}
	if k.Mount != "" {
		return k.Mount + " · " + title
	}
	return title
}

// entryName says what an entry is about.
func (v view) entryName(e checklist.Entry) string {
	name := entryKind[e.Kind]
	if name == "" {
		name = string(e.Kind)
	}
	if k := checklist.About(e); k != (checklist.Key{}) {
		return v.stepName(k) + ": " + name
	}
	return capital(name)
}

var entryKind = map[checklist.Kind]string{
	checklist.JobOpened: "job opened", checklist.DraftEdited: "draft of the plan edited",
	checklist.PartNoted: "part on hand noted", checklist.PartStowed: "put on the shelf", checklist.PartTaken: "taken from the shelf", checklist.PlanSettled: "plan settled", checklist.StepRecorded: "recorded",
	checklist.StepConceded: "conceded", checklist.StepReopened: "reopened", checklist.RemarkWritten: "remark", checklist.JobSigned: "signed off",
}

// signed is a word with a sign before it, so that neither it nor its colour has to
// tell alone.
func signed(kind, sign, word string) Node {
	return El("span", class("chip "+kind), El("span", class("sign"), Attr("aria-hidden", "true"), Text(sign)), Text(" "+word))
}

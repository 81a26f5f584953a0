package pages

import (
	"fmt"
	"math"
	"strings"

	"hangtrue/checklist"
	"hangtrue/compute/tape"
	. "hangtrue/pwa/markup"
)

// surfaceName says a surface as a person would: "left wall", "ceiling".
func surfaceName(name string) string {
	switch name {
	case "front", "right", "rear", "left":
		return name + " wall"
	}
	return name
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// datum says from where the two tape coordinates of a surface are measured.
func datum(name string) (along, upWord, up string) {
	switch name {
	case "front", "right", "rear", "left":
		return "from the left corner, facing the wall", "Up", "from the finished floor"
	case "ceiling":
		return "from the left wall", "Out", "from the front wall"
	case "floor":
		return "from the left wall", "Out", "from the rear wall"
	}
	return "from the datum corner", "Up", "from the datum edge"
}

// where says a mount's place in the plan in one line.
func (v view) where(channel string) string {
	m := v.State.Plan().MountByChannel(channel)
	_, up, _ := datum(m.Surface)
	return fmt.Sprintf("%s, %s along, %s %s", capital(surfaceName(m.Surface)),
		tape.Format(m.Along, v.system()), tape.Format(m.Up, v.system()), strings.ToLower(up))
}

// target shows a mount's place in tape terms, large enough to read on a ladder.
func (v view) target(channel string) Node {
	p := v.State.Plan()
	m := p.MountByChannel(channel)
	fromAlong, upWord, fromUp := datum(m.Surface)
	rows := []Node{
		El("dt", Text("Along")), El("dd", El("strong", Text(tape.Format(m.Along, v.system()))), El("span", class("quiet"), Text(" "+fromAlong))),
		El("dt", Text(upWord)), El("dd", El("strong", Text(tape.Format(m.Up, v.system()))), El("span", class("quiet"), Text(" "+fromUp))),
	}
	if sight, err := p.Sight(channel, ""); err == nil {
		rows = append(rows,
			El("dt", Text("Face")), El("dd", El("strong", Text(tape.Format(sight.Height, v.system()))), El("span", class("quiet"), Text(" above the floor, to its middle"))),
			El("dt", Text("From the ear")), El("dd", El("strong", Text(tape.Format(sight.Distance, v.system()))), El("span", class("quiet"), Text(fmt.Sprintf(" straight, azimuth %s, elevation %s", degrees(sight.Azimuth), degrees(sight.Elevation))))),
		)
	}
	return El("dl", class("target"), Group(rows...))
}

func degrees(rad float64) string { return fmt.Sprintf("%.1f°", rad*180/math.Pi) }

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

// entryName says what an entry is about.
func (v view) entryName(e checklist.Entry) string {
	about := checklist.About(e)
	name := entryKind[e.Kind]
	if name == "" {
		name = string(e.Kind)
	}
	if step := v.State.Template.Step(about.Step); step != nil {
		name = step.Title + ": " + name
	}
	if about.Mount != "" {
		name = about.Mount + " " + name
	}
	return name
}

var entryKind = map[checklist.Kind]string{
	checklist.JobOpened: "job opened", checklist.PlanSettled: "plan settled", checklist.StepRecorded: "recorded",
	checklist.StepConceded: "conceded", checklist.StepReopened: "reopened", checklist.RemarkWritten: "remark", checklist.JobSigned: "signed off",
}

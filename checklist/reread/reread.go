// Package reread says what a log adds up to by reading it from its start, in the
// plainest way, so that tests and the simulation of a server and its phones have
// something to hold the fold against.
//
// It shares no code with the fold: of package checklist it uses the records and
// the template's lists of steps. It knows what of a plan a step uses only for the
// parts that [Change] changes, and only for plans whose mounts all hang and take
// the first fixing, as those of the example document do.
package reread

import (
	"encoding/json"
	"fmt"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
)

// parts of the plan that Change changes.
var parts = map[string]func(p *plan.Plan, m *plan.Mount) any{
	"room":   func(p *plan.Plan, _ *plan.Mount) any { return p.Room.Box.Height },
	"rack":   func(p *plan.Plan, _ *plan.Mount) any { return p.Rack.Units },
	"fixing": func(p *plan.Plan, _ *plan.Mount) any { return p.Fixings[0].Length },
	"spot":   func(_ *plan.Plan, m *plan.Mount) any { return m.Along },
	"route":  func(_ *plan.Plan, m *plan.Mount) any { return m.Route },
	"every mount": func(p *plan.Plan, _ *plan.Mount) any {
		var all []float64
		for _, m := range p.Mounts {
			all = append(all, m.Along, m.Route)
		}
		return fmt.Sprint(all)
	},
}

// uses are the steps that use each part.
var uses = map[string][]string{
	"survey": {"room"}, "rack": {"rack"}, "mark": {"spot"}, "studs": {"fixing"}, "drill": {"fixing"},
	"wire": {"route"}, "hang": {"spot"}, "polarity": {"route"}, "calibration": {"every mount"},
}

// Parts are the names that Change takes.
var Parts = []string{"room", "rack", "fixing", "spot", "route"}

// Change is the plan with one part changed, at one of its mounts where the part is a mount's.
func Change(p *plan.Plan, part string, mount int) (*plan.Plan, error) {
	document, err := p.Encode()
	if err != nil {
		return nil, err
	}
	c, err := plan.Decode(document)
	if err != nil {
		return nil, err
	}
	m := &c.Mounts[mount%len(c.Mounts)]
	switch part {
	case "room":
		c.Room.Box.Height = 2.40 + 2.45 - c.Room.Box.Height
	case "rack":
		c.Rack.Units = 6 + 7 - c.Rack.Units
	case "fixing":
		c.Fixings[0].Length = 0.0762 + 0.08 - c.Fixings[0].Length
	case "spot":
		m.Along += 0.001
	case "route":
		m.Route += 0.5
	default:
		return nil, fmt.Errorf("reread: no part %q", part)
	}
	return c, nil
}

// A Log is what was read so far. The zero value is a log with nothing in it.
type Log struct {
	lines  []line
	mounts []string
	passes map[checklist.Key]bool // answered since the last line
}

// A line is what matters of one record.
type line struct {
	kind   checklist.Kind // "" when it was refused
	about  checklist.Key
	within bool
	plan   *plan.Plan // of a settlement
	part   string     // of a note on what is on hand
	onHand int
}

// Add reads one more record.
func (l *Log) Add(r checklist.Record) error {
	l.passes = nil
	if !r.Accepted {
		l.lines = append(l.lines, line{})
		return nil
	}
	at := line{kind: r.Entry.Kind, about: checklist.About(r.Entry), within: r.Outcome == "within"}
	if at.kind == checklist.PartNoted {
		var b checklist.Stock
		if err := json.Unmarshal(r.Entry.Body, &b); err != nil {
			return fmt.Errorf("reread: record %d: %w", r.Position, err)
		}
		at.part, at.onHand = b.Part, b.OnHand
	}
	if at.kind == checklist.PlanSettled {
		var b checklist.Settlement
		if err := json.Unmarshal(r.Entry.Body, &b); err != nil {
			return fmt.Errorf("reread: record %d: %w", r.Position, err)
		}
		var err error
		if at.plan, err = plan.Decode([]byte(b.Plan)); err != nil {
			return fmt.Errorf("reread: record %d: %w", r.Position, err)
		}
		l.mounts = nil
		for _, m := range at.plan.Mounts {
			l.mounts = append(l.mounts, m.Channel)
		}
	}
	l.lines = append(l.lines, at)
	return nil
}

// last is the index of the last accepted entry of a kind about a step, or about
// anything for the zero key, before an index; -1 if there is none.
func (l *Log) last(before int, kind checklist.Kind, k checklist.Key) int {
	for i := before - 1; i >= 0; i-- {
		if l.lines[i].kind == kind && (k == checklist.Key{} || l.lines[i].about == k) {
			return i
		}
	}
	return -1
}

// evidence is the index of what the step stands on, and whether that passes it.
func (l *Log) evidence(k checklist.Key) (at int, passes bool) {
	n := len(l.lines)
	recorded := l.last(n, checklist.StepRecorded, k)
	conceded := l.last(n, checklist.StepConceded, k)
	switch {
	case recorded < 0 || l.last(n, checklist.StepReopened, k) > recorded:
		return -1, false
	case conceded > recorded:
		return conceded, true
	}
	return recorded, l.lines[recorded].within
}

// planAt is the plan in force before the line at this index.
func (l *Log) planAt(i int) *plan.Plan {
	if at := l.last(i, checklist.PlanSettled, checklist.Key{}); at >= 0 {
		return l.lines[at].plan
	}
	return nil
}

func (l *Log) changed(k checklist.Key, since int) bool {
	then, now := l.planAt(since), l.planAt(len(l.lines))
	for _, part := range uses[k.Step] {
		if parts[part](then, then.MountByChannel(k.Mount)) != parts[part](now, now.MountByChannel(k.Mount)) {
			return true
		}
	}
	return false
}

func (l *Log) under(k checklist.Key, ids []string) []checklist.Key {
	var keys []checklist.Key
	for _, id := range ids {
		switch {
		case checklist.Loudspeakers.Step(id).Scope == checklist.PerJob:
			keys = append(keys, checklist.Key{Step: id})
		case k.Mount != "":
			keys = append(keys, checklist.Key{Step: id, Mount: k.Mount})
		default:
			for _, m := range l.mounts {
				keys = append(keys, checklist.Key{Step: id, Mount: m})
			}
		}
	}
	return keys
}

// Passes tells whether a step may be built upon.
func (l *Log) Passes(k checklist.Key) bool {
	if known, ok := l.passes[k]; ok {
		return known
	}
	passes := l.read(k)
	if l.passes == nil {
		l.passes = map[checklist.Key]bool{}
	}
	l.passes[k] = passes
	return passes
}

func (l *Log) read(k checklist.Key) bool {
	switch k.Step {
	case "plan":
		return l.planAt(len(l.lines)) != nil
	case "sign":
		return l.Locked()
	}
	at, ok := l.evidence(k)
	if !ok || l.changed(k, at) {
		return false
	}
	for _, u := range l.under(k, checklist.Loudspeakers.Step(k.Step).RestsOn) {
		if u.Step == "plan" {
			continue
		}
		if under, _ := l.evidence(u); under > at || !l.Passes(u) {
			return false
		}
	}
	return true
}

// Locked tells whether the job is signed off and nothing was reopened since.
func (l *Log) Locked() bool {
	n := len(l.lines)
	signed := l.last(n, checklist.JobSigned, checklist.Key{})
	return signed >= 0 && signed > l.last(n, checklist.PlanSettled, checklist.Key{}) && signed > l.last(n, checklist.StepReopened, checklist.Key{})
}

// here tells whether what a mount's step takes is on hand: a loudspeaker and a
// bracket to be marked, its bracket's holes in fixings to be drilled, cable and
// amplifier to be wired. What was never noted is taken to be there.
func (l *Log) here(k checklist.Key) bool {
	p := l.planAt(len(l.lines))
	takes := func(m *plan.Mount) map[string]int {
		switch k.Step {
		case "mark":
			return map[string]int{"loudspeaker/" + m.Model: 1, "bracket/" + m.Bracket: 1}
		case "drill":
			return map[string]int{"fixing/" + m.Fixing: len(p.Bracket(m.Bracket).Holes)}
		case "wire":
			return map[string]int{"cable/" + m.Cable: 0, "amplifier/" + m.Amplifier: 0}
		}
		return nil
	}
	for part, n := range takes(p.MountByChannel(k.Mount)) {
		noted := -1
		for _, x := range l.lines {
			if x.kind == checklist.PartNoted && x.part == part {
				noted = x.onHand
			}
		}
		for i := range p.Mounts {
			if at, _ := l.evidence(checklist.Key{Step: k.Step, Mount: p.Mounts[i].Channel}); at >= 0 && p.Mounts[i].Channel != k.Mount {
				n += takes(&p.Mounts[i])[part]
			}
		}
		if noted >= 0 && (noted == 0 || noted < n) {
			return false
		}
	}
	return true
}

// Free tells whether the hold points before a step are met.
func (l *Log) Free(k checklist.Key) bool { return l.Reached(k) && (k.Mount == "" || l.here(k)) }

// Reached tells the same by the first edition of the steps, which asked for nothing to
// be on hand.
func (l *Log) Reached(k checklist.Key) bool {
	if l.Locked() && k.Step != "plan" {
		return false
	}
	for _, before := range l.under(k, checklist.Loudspeakers.Step(k.Step).After) {
		if !l.Passes(before) {
			return false
		}
	}
	return true
}

// Open names a step that does not pass, of all that a sign-off waits for; "" when
// there is none.
func (l *Log) Open() string {
	for _, k := range l.under(checklist.Key{Step: "sign"}, checklist.Loudspeakers.Step("sign").After) {
		if !l.Passes(k) {
			return fmt.Sprintf("%s %s", k.Mount, k.Step)
		}
	}
	return ""
}

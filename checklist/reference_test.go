package checklist_test

import (
	"encoding/json"
	"fmt"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
)

// reference says what a log adds up to by reading it from the start each time, in
// the plainest way. It shares no code with the fold: only the template's lists.
type reference struct {
	records []checklist.Record
	mounts  []string
}

// aspects of the plan that the random revisions change, and the steps that used
// them. The example's mounts all hang and take the same fixing.
var aspects = map[string]func(p *plan.Plan, m *plan.Mount) any{
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

var uses = map[string][]string{
	"survey": {"room"}, "rack": {"rack"}, "mark": {"spot"}, "studs": {"fixing"}, "drill": {"fixing"},
	"wire": {"route"}, "hang": {"spot"}, "polarity": {"route"}, "calibration": {"every mount"},
}

func (r reference) accepted(upTo int, match func(checklist.Record) bool) (last int) {
	last = -1
	for i := 0; i < upTo; i++ {
		if r.records[i].Accepted && match(r.records[i]) {
			last = i
		}
	}
	return last
}

func is(kind checklist.Kind, k checklist.Key) func(checklist.Record) bool {
	return func(r checklist.Record) bool {
		return r.Entry.Kind == kind && (k == checklist.Key{} || checklist.About(r.Entry) == k)
	}
}

// evidence is the index of what the step stands on, and whether that passes it.
func (r reference) evidence(k checklist.Key) (at int, passes bool) {
	n := len(r.records)
	recorded := r.accepted(n, is(checklist.StepRecorded, k))
	conceded := r.accepted(n, is(checklist.StepConceded, k))
	reopened := r.accepted(n, is(checklist.StepReopened, k))
	switch {
	case recorded < 0 || reopened > recorded:
		return -1, false
	case conceded > recorded:
		return conceded, true
	}
	return recorded, r.records[recorded].Outcome == "within"
}

// planAt is the plan in force before the record at this index.
func (r reference) planAt(i int) *plan.Plan {
	at := r.accepted(i, is(checklist.PlanSettled, checklist.Key{}))
	if at < 0 {
		return nil
	}
	var b checklist.Settlement
	if err := json.Unmarshal(r.records[at].Entry.Body, &b); err != nil {
		panic(err)
	}
	p, err := plan.Decode([]byte(b.Plan))
	if err != nil {
		panic(err)
	}
	return p
}

func (r reference) changed(k checklist.Key, since int) bool {
	then, now := r.planAt(since), r.planAt(len(r.records))
	for _, aspect := range uses[k.Step] {
		if aspects[aspect](then, then.MountByChannel(k.Mount)) != aspects[aspect](now, now.MountByChannel(k.Mount)) {
			return true
		}
	}
	return false
}

func (r reference) under(k checklist.Key, ids []string) []checklist.Key {
	var keys []checklist.Key
	for _, id := range ids {
		switch {
		case checklist.Loudspeakers.Step(id).Scope == checklist.PerJob:
			keys = append(keys, checklist.Key{Step: id})
		case k.Mount != "":
			keys = append(keys, checklist.Key{Step: id, Mount: k.Mount})
		default:
			for _, m := range r.mounts {
				keys = append(keys, checklist.Key{Step: id, Mount: m})
			}
		}
	}
	return keys
}

// passes tells whether a step may be built upon.
func (r reference) passes(k checklist.Key) bool {
	switch k.Step {
	case "plan":
		return r.planAt(len(r.records)) != nil
	case "sign":
		return r.locked()
	}
	at, ok := r.evidence(k)
	if !ok || r.changed(k, at) {
		return false
	}
	for _, u := range r.under(k, checklist.Loudspeakers.Step(k.Step).RestsOn) {
		if u.Step == "plan" {
			continue
		}
		if under, _ := r.evidence(u); under > at || !r.passes(u) {
			return false
		}
	}
	return true
}

func (r reference) locked() bool {
	n := len(r.records)
	signed := r.accepted(n, is(checklist.JobSigned, checklist.Key{}))
	return signed >= 0 && signed > r.accepted(n, is(checklist.PlanSettled, checklist.Key{})) && signed > r.accepted(n, is(checklist.StepReopened, checklist.Key{}))
}

// free tells whether the hold points before a step are met.
func (r reference) free(k checklist.Key) bool {
	if r.locked() && k.Step != "plan" {
		return false
	}
	for _, before := range r.under(k, checklist.Loudspeakers.Step(k.Step).After) {
		if !r.passes(before) {
			return false
		}
	}
	return true
}

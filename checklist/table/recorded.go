package table

import (
	"fmt"
	"math"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
)

// Recorded is what a job's log holds of the places of its mounts: of each mount of the plan in force the latest
// readings that stand. Those of a loudspeaker that hangs go before those of its mark; where the hole was marked again
// since, what hung before says nothing any more. A mount of which nothing was read is left out. It is nil before the
// first plan.
func Recorded(s *checklist.State) *plan.Measured {
	p := s.Plan()
	if p == nil {
		return nil
	}
	m := &plan.Measured{Format: plan.MeasuredFormat, Plan: p.Title,
		Remark: fmt.Sprintf("The latest readings in the log of job %s, up to entry %d.", s.Job, s.Head)}
	for _, channel := range s.Mounts() {
		if e := latest(s, channel); e != nil {
			m.Mounts = append(m.Mounts, readings(channel, e.Recording))
		}
	}
	return m
}

// Steps that record where a mount is.
const (
	markStep = "mark"
	hangStep = "hang"
)

func latest(s *checklist.State, channel string) *checklist.Evidence {
	mark, hang := s.Evidence(checklist.Key{Step: markStep, Mount: channel}), s.Evidence(checklist.Key{Step: hangStep, Mount: channel})
	if hang == nil || mark != nil && mark.Record.Position > hang.Record.Position {
		return mark
	}
	return hang
}

// readings are a recording's in the terms of a measured file. The keys are those of the fields of both steps.
func readings(channel string, r checklist.Recording) plan.MeasuredMount {
	return plan.MeasuredMount{
		Channel: channel,
		Along:   lengths(r.Measured["along_um"]), Up: lengths(r.Measured["up_um"]),
		Height: lengths(r.Measured["height_um"]), Distance: lengths(r.Measured["distance_um"]), Tilt: angles(r.Measured["tilt_mdeg"]),
		Tape: r.Chosen["tape"], Laser: r.Chosen["laser"], Level: r.Chosen["level"],
	}
}

// lengths are metres out of micrometres.
func lengths(um []int64) (metres []float64) {
	for _, x := range um {
		metres = append(metres, float64(x)/1e6)
	}
	return metres
}

// angles are radians out of thousandths of a degree.
func angles(mdeg []int64) (radians []float64) {
	for _, x := range mdeg {
		radians = append(radians, float64(x)/1e3*(math.Pi/180))
	}
	return radians
}

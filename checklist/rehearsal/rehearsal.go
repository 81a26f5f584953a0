// Package rehearsal plays a job through without anybody in the room: recordings
// that follow a plan to the letter, and a whole log made of them. Tests,
// measurements and the generator of large stores use it; the program does not.
//
// It is deterministic: ids and clocks count up from fixed beginnings.
package rehearsal

import (
	"errors"
	"fmt"
	"math"

	"hangtrue/checklist"
	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
)

// Clock is the time on every device and on the server.
const Clock = "2030-01-31T09:00:00.000Z"

// Recording is what a person records at a step when everything is as planned.
func Recording(p *plan.Plan, step, mount string) (checklist.Recording, error) {
	r := recorder{p, p.MountByChannel(mount), checklist.Recording{
		Step: step, Mount: mount, Measured: map[string][]int64{}, Chosen: map[string]string{}, Confirmed: checklist.Loudspeakers.Step(step).Confirm,
	}}
	fill, ok := fillers[step]
	if !ok {
		return checklist.Recording{}, fmt.Errorf("rehearsal: step %q is not recorded", step)
	}
	if err := fill(r); err != nil {
		return checklist.Recording{}, fmt.Errorf("rehearsal: %s %s: %w", mount, step, err)
	}
	return r.Recording, nil
}

type recorder struct {
	p *plan.Plan
	m *plan.Mount
	checklist.Recording
}

func (r recorder) length(key string, metres float64) {
	r.Measured[key+"_um"] = []int64{int64(math.Round(metres * 1e6))}
}

// instrument chooses the plan's first instrument of a kind.
func (r recorder) instrument(key, kind string) {
	for _, i := range r.p.Instruments {
		if i.Kind == kind {
			r.Chosen[key] = i.Name
			return
		}
	}
}

func (r recorder) surface() plan.Surface {
	for _, s := range r.p.Room.Surfaces {
		if s.Name == r.m.Surface {
			return s
		}
	}
	return plan.Surface{Construction: plan.Construction{Kind: plan.Other}}
}

var errNoFixing = errors.New("the plan gives the mount no fixing")

var fillers = map[string]func(recorder) error{
	"survey": func(r recorder) error {
		box := r.p.Room.Box
		if box == nil {
			box = &plan.Box{Width: 1, Length: 1, Height: 1}
		}
		r.instrument("tape", plan.Tape)
		r.length("width", box.Width)
		r.length("length", box.Length)
		r.length("height", box.Height)
		return nil
	},
	"rack": func(r recorder) error {
		r.Measured["circuit_ma"] = []int64{int64(math.Round(r.p.Rack.Circuit * 1000))}
		r.Chosen["air"] = "free"
		return nil
	},
	"isolate": func(r recorder) error {
		r.Chosen["how"] = "unplugged"
		return nil
	},
	"mark": func(r recorder) error {
		r.Chosen["on_hand"] = "here"
		r.spot()
		return nil
	},
	"level": func(r recorder) error {
		r.instrument("with", plan.Level)
		r.Measured["reading_mdeg"] = []int64{0}
		return nil
	},
	"studs": func(r recorder) error {
		r.Chosen["looked"], r.Chosen["found"], r.Chosen["fixing"] = "detector", "nothing", r.m.Fixing
		r.instrument("tape", plan.Tape)
		switch s := r.surface(); s.Construction.Kind {
		case plan.Studs:
			r.Chosen["behind"] = "stud"
			return r.middle(s)
		default:
			r.Chosen["behind"] = s.Construction.Kind
		}
		return nil
	},
	"drill": func(r recorder) error {
		f := r.p.Fixing(r.m.Fixing)
		if f == nil {
			return errNoFixing
		}
		pilot := f.Pilot
		if pilot == 0 {
			pilot = 0.008
		}
		r.length("pilot", pilot)
		depth := f.Length
		if c := r.surface(); f.Kind != plan.Rated && c.Construction.Depth > 0 {
			depth = math.Min(depth, c.Lining+c.Construction.Depth-0.005)
		}
		r.length("depth", depth)
		r.Chosen["proof"] = "held"
		return nil
	},
	"wire": func(r recorder) error {
		r.Chosen["cable"], r.Chosen["feed"], r.Chosen["labels"] = r.m.Cable, judge.PlannedFeed(r.m), "both"
		r.length("run", r.m.Route)
		return nil
	},
	"bridges": func(r recorder) error {
		r.Chosen["setting"] = judge.NoBridges
		if r.m.Bridge != "" {
			r.Chosen["setting"] = r.m.Bridge
		}
		return nil
	},
	"hang": func(r recorder) error {
		sight, err := r.p.Sight(r.m.Channel, "")
		if err != nil {
			return err
		}
		placed, err := r.p.PlaceMount(r.m.Channel)
		if err != nil {
			return err
		}
		switch {
		case r.m.Bracket == "":
			r.Chosen["retained"] = "standing"
		case placed.Surface.Normal().Z < -0.5:
			r.Chosen["retained"] = "tethered"
		default:
			r.Chosen["retained"] = "locked"
		}
		r.spot()
		r.instrument("laser", plan.Laser)
		r.length("height", sight.Height)
		r.length("distance", sight.Distance)
		return nil
	},
	"polarity": func(r recorder) error {
		r.Chosen["method"], r.Chosen["result"], r.Chosen["from"] = "battery", "right", r.m.Channel
		return nil
	},
	"channels": func(r recorder) error {
		for _, m := range r.p.Mounts {
			r.Chosen["heard/"+m.Channel] = m.Channel
		}
		return nil
	},
	"calibration": func(r recorder) error {
		for _, m := range r.p.Mounts {
			sight, err := r.p.Sight(m.Channel, "")
			if err != nil {
				return err
			}
			r.Measured["reported_um/"+m.Channel] = []int64{int64(math.Round(sight.Distance * 1e6))}
		}
		return nil
	},
	"handover": func(r recorder) error {
		r.Chosen["shown"], r.Chosen["spares"] = "the owner", "in the rack drawer"
		return nil
	},
}

// spot records the reference hole where the plan has it.
func (r recorder) spot() {
	r.instrument("tape", plan.Tape)
	r.length("along", r.m.Along)
	r.length("up", r.m.Up)
}

// middle records the middle of the stud or joist nearest to the hole.
func (r recorder) middle(s plan.Surface) error {
	placed, err := r.p.PlaceMount(r.m.Channel)
	if err != nil {
		return err
	}
	at := r.m.Along
	if s.Construction.Across {
		at = r.m.Up
	}
	middle, least := at, math.Inf(1)
	for _, x := range placed.Surface.Framing.Members(at-1, at+1) {
		if d := math.Abs(x - at); d < least {
			middle, least = x, d
		}
	}
	r.length("centre", middle)
	return nil
}

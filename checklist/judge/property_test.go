package judge_test

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/compute/gauge"
	"hangtrue/compute/place"
	"hangtrue/compute/tape"
)

// Every number, name and answer may be nonsense: nothing panics, and what comes out
// is a number and a sentence.
func TestRun_AnyInput(t *testing.T) {
	plans := []*plan.Plan{demo(t), example(t), bare("ceiling", "T+000", 2, 3), bare("front", "M+000", 2, 1.2)}
	imperial := demo(t)
	imperial.Units = plan.Imperial
	plans = append(plans, imperial)
	lengths := []string{"along_um", "up_um", "height_um", "distance_um", "miss_um", "left_up_um", "right_up_um", "span_um", "centre_um", "hazard_um", "pilot_um", "depth_um", "run_um",
		"width_um", "length_um", "diagonal_1_um", "diagonal_2_um", "reading_mdeg", "turned_mdeg", "tilt_mdeg", "meter_mohm", "circuit_ma"}
	choices := []string{"tape", "laser", "level", "with", "behind", "fixing", "cable", "setting", "feed", "found", "looked", "proof", "how", "on_hand", "retained", "labels", "result", "from", "air"}
	words := []string{"", "?", "tape 8 m", "laser", "level 600", "phone level", "meter", "tape", "level", "known", "stud", "masonry", "concrete", "board", "Stud screw", "Joist screw",
		"Wall plug 8", "Loudspeaker cable", "Line cable", "open", "fitted", "none", "nothing", "clear", "unclear", "detector", "M+030", "held", "here"}
	rapid.Check(t, func(t *rapid.T) {
		p := plans[rapid.IntRange(0, len(plans)-1).Draw(t, "plan")]
		likely := rapid.OneOf(rapid.Int64Range(-10_000_000, 10_000_000), rapid.SampledFrom([]int64{0, 1, -1, 1e8, -1e8}))
		any := likely
		if rapid.IntRange(0, 9).Draw(t, "beyond") == 0 {
			any = rapid.OneOf(likely, rapid.SampledFrom([]int64{math.MaxInt64, math.MinInt64, 1e9 + 1, -1e9 - 1}))
		}
		draw := func(label string, value *rapid.Generator[int64]) judge.Evidence {
			e := judge.Evidence{Measured: measured{}, Chosen: chosen{}}
			for _, key := range lengths {
				if rapid.Bool().Draw(t, label) {
					e.Measured[key] = rapid.SliceOfN(value, 0, 3).Draw(t, label+key)
				}
			}
			for _, key := range choices {
				e.Chosen[key] = rapid.SampledFrom(words).Draw(t, label+key)
			}
			for _, m := range p.Mounts {
				if rapid.Bool().Draw(t, label) {
					e.Measured["reported_um/"+m.Channel] = rapid.SliceOfN(value, 0, 1).Draw(t, label)
				}
			}
			return e
		}
		now, before := draw("now ", any), draw("before ", likely)
		c := judge.Case{Plan: p, Measured: now.Measured, Chosen: now.Chosen, Prior: func(string, string) (judge.Evidence, bool) { return before, true }}
		if rapid.IntRange(0, 9).Draw(t, "job") > 0 {
			c.Mount = &p.Mounts[rapid.IntRange(0, len(p.Mounts)-1).Draw(t, "mount")]
		}
		for _, check := range judge.Run(judge.Names(), c) {
			sound(t, check)
		}
	})
}

// drawMount is a hung mount of the demo plan.
func drawMount(t *rapid.T, p *plan.Plan) *plan.Mount {
	var hung []*plan.Mount
	for i := range p.Mounts {
		if p.Mounts[i].Bracket != "" {
			hung = append(hung, &p.Mounts[i])
		}
	}
	return rapid.SampledFrom(hung).Draw(t, "mount")
}

// The words of a correction, as someone who stands in the middle of the room and
// faces the surface sees the way that package place gives it.
func words(p *plan.Plan, m *plan.Mount, dAlong, dUp float64) (along, up string) {
	placed, _ := p.PlaceMount(m.Channel)
	n := placed.Surface.Normal()
	side := func(by float64, way place.Vec, positive, negative string, sees place.Vec) string {
		if math.Abs(by) < 0.0005 {
			return ""
		}
		word := positive
		if by*way.Dot(sees) < 0 {
			word = negative
		}
		return fmt.Sprintf("%d mm %s", int(math.Round(math.Abs(by)*1000)), word)
	}
	if m.Surface == "ceiling" {
		return side(dAlong, placed.Surface.Along, "away from the left wall", "towards the left wall", place.Vec{X: 1}),
			side(dUp, placed.Surface.Up, "away from the front wall", "towards the front wall", place.Vec{Y: -1})
	}
	ahead := place.Vec{X: -n.X, Y: -n.Y} // facing it, level
	right := place.Vec{X: ahead.Y, Y: -ahead.X}
	return side(dAlong, placed.Surface.Along, "right", "left", right), side(dUp, placed.Surface.Up, "up", "down", place.Vec{Z: 1})
}

// A correction names the way that leads back: whoever goes it is within, at the hole
// and in direction.
func TestMarkSpot_CorrectionLeadsBack(t *testing.T) {
	p := known(demo(t), 1e-6)
	rapid.Check(t, func(t *rapid.T) {
		m := drawMount(t, p)
		// A half millimetre off may be said as either neighbour.
		off := rapid.Int64Range(-150_000, 150_000).Filter(func(um int64) bool { return um%1000 != 500 && um%1000 != -500 })
		dAlong, dUp := float64(off.Draw(t, "along"))*1e-6, float64(off.Draw(t, "up"))*1e-6
		run := func(along, up float64) []judge.Check {
			return judge.Run([]string{"mark.spot", "hang.angles"}, recorded(p, m.Channel, measured{"along_um": um(along), "up_um": um(up)}, chosen{"tape": "known"}, nil))
		}
		checks := run(m.Along+dAlong, m.Up+dUp)
		sayAlong, sayUp := words(p, m, -dAlong, -dUp)
		require.Equal(t, sayAlong, one(t, checks, "mark.spot along").Correction)
		require.Equal(t, sayUp, one(t, checks, "mark.spot up").Correction)
		both := strings.Trim(sayAlong+", "+sayUp, ", ")
		for _, c := range checks {
			if strings.HasPrefix(c.Name, "hang.angles") && c.Verdict != gauge.Within {
				require.Equal(t, both, c.Correction, c.Name)
			}
		}
		for _, c := range run(m.Along+dAlong-dAlong, m.Up+dUp-dUp) {
			require.Equal(t, gauge.Within, c.Verdict, c.Name)
		}
		// Whole millimetres are what the tape shows of it.
		for _, c := range run(m.Along+dAlong-math.Round(dAlong*1e3)/1e3, m.Up+dUp-math.Round(dUp*1e3)/1e3) {
			require.Equal(t, gauge.Within, c.Verdict, c.Name)
		}
	})
}

// one is the only check of a name.
func one(t *rapid.T, checks []judge.Check, name string) judge.Check {
	for _, c := range checks {
		if c.Name == name {
			return c
		}
	}
	t.Fatalf("no %s", name)
	return judge.Check{}
}

// Numbers that round to the same micrometres get the same verdict.
func TestMarkSpot_WholeMicrometres(t *testing.T) {
	p := known(demo(t), 0.001)
	instrument := &p.Instruments[len(p.Instruments)-1]
	rapid.Check(t, func(t *rapid.T) {
		instrument.LengthU = rapid.SampledFrom([]float64{1e-7, 0.0005, 0.001, 0.002}).Draw(t, "u")
		m := drawMount(t, p)
		planned, tolerance := m.Along, p.Tolerances.Mark
		defer func() { m.Along, p.Tolerances.Mark = planned, tolerance }()
		off := rapid.Int64Range(-8_000, 8_000).Draw(t, "off")
		verdict := func(target, tolerance float64) gauge.Verdict {
			m.Along, p.Tolerances.Mark = target, tolerance
			c := recorded(p, m.Channel, measured{"along_um": {int64(math.Round(planned*1e6)) + off}, "up_um": um(m.Up)}, chosen{"tape": "known"}, nil)
			return one(t, judge.Run([]string{"mark.spot"}, c), "mark.spot along").Verdict
		}
		less := rapid.Float64Range(-0.2e-6, 0.2e-6)
		want := verdict(planned, tolerance)
		require.Equal(t, want, verdict(planned+less.Draw(t, "target"), tolerance+less.Draw(t, "tolerance")))
	})
}

// distanceOf is the straight distance from the ear point that package place gives
// for a hole of a mount.
func distanceOf(t require.TestingT, p *plan.Plan, channel string, along, up float64) float64 {
	m, err := p.PlaceMount(channel)
	require.NoError(t, err)
	m.Hole = place.Spot{Along: along, Up: up}
	l, err := p.Listener("")
	require.NoError(t, err)
	pose, err := place.Aim(m, l.Ear)
	require.NoError(t, err)
	return l.See(pose.Centre).Distance
}

func slip(t *rapid.T, p *plan.Plan, channel string, along, up, distance float64) judge.Check {
	c := recorded(p, channel, measured{"along_um": um(along), "up_um": um(up), "distance_um": um(distance)}, chosen{"tape": "tape 8 m", "laser": "laser"}, nil)
	return one(t, judge.Run([]string{"hang.slip"}, c), "hang.slip distance")
}

// A laser that reads within 0.8 of the joint expanded uncertainty raises no alarm.
func TestHangSlip_NoFalseAlarm(t *testing.T) {
	p := demo(t)
	rapid.Check(t, func(t *rapid.T) {
		m := drawMount(t, p)
		off := rapid.Float64Range(-0.1, 0.1)
		along, up := m.Along+off.Draw(t, "along"), m.Up+off.Draw(t, "up")
		distance := distanceOf(t, p, m.Channel, along, up)
		exact := slip(t, p, m.Channel, along, up, distance)
		limit := exact.High - exact.Target
		noise := rapid.Float64Range(-0.8, 0.8).Draw(t, "noise") * limit
		require.Equal(t, gauge.Within, slip(t, p, m.Channel, along, up, distance+noise).Verdict)
	})
}

// Two neighbouring digits that were exchanged when the hole was written down are
// found, and said to be that, wherever the exchange moves the loudspeaker by 10 mm
// more than the measurements can tell.
func TestHangSlip_SwappedDigits(t *testing.T) {
	p := demo(t)
	rapid.Check(t, func(t *rapid.T) {
		m := drawMount(t, p)
		mm := int(math.Round(m.Along*1000)) + rapid.IntRange(-5, 5).Draw(t, "off")
		along, up := float64(mm)/1000, m.Up
		digits := []byte(fmt.Sprintf("%04d", mm))
		at := rapid.IntRange(0, 2).Draw(t, "digit")
		if digits[at] == digits[at+1] {
			return
		}
		digits[at], digits[at+1] = digits[at+1], digits[at]
		wrong, err := strconv.Atoi(string(digits))
		require.NoError(t, err)
		wrote := float64(wrong) / 1000
		placed, err := p.PlaceMount(m.Channel)
		require.NoError(t, err)
		if !placed.Surface.Contains(place.Spot{Along: wrote, Up: up}) {
			return
		}
		distance := distanceOf(t, p, m.Channel, along, up)
		got := slip(t, p, m.Channel, wrote, up, distance)
		if math.Abs(got.Target-distance) < got.High-got.Target+0.010 {
			return
		}
		require.Equal(t, gauge.Outside, got.Verdict)
		require.Contains(t, got.Says, fmt.Sprintf("by the tape it would be %s from the ear point, by the laser it is %s.",
			tape.Format(got.Target, tape.Metric), tape.Format(math.Round(distance*1e6)/1e6, tape.Metric)))
		require.Contains(t, got.Says, "changed places")
	})
}

// mirrored is the demo plan in a mirror that hangs along the room: left is right.
// Surfaces that carry no mount and matter to none are left out.
func mirrored(p *plan.Plan) *plan.Plan {
	width, length := p.Room.Box.Width, p.Room.Box.Length
	swap := map[string]string{"left": "right", "right": "left"}
	other := func(name string) string {
		if to, ok := swap[name]; ok {
			return to
		}
		return name
	}
	// along is where a stretch of a surface begins in the mirror.
	along := func(surface string, a, long float64) float64 {
		if surface == "left" || surface == "right" {
			return length - a - long
		}
		return width - a - long
	}
	q := *p
	q.Room.Surfaces, q.Mounts, q.Listening, q.Brackets, q.Models = nil, nil, nil, nil, nil
	for _, s := range p.Room.Surfaces {
		if strings.HasPrefix(s.Name, "breast") {
			continue
		}
		areas := func(list []plan.Area) (out []plan.Area) {
			for _, a := range list {
				a.Along = along(s.Name, a.Along, a.Width)
				out = append(out, a)
			}
			return out
		}
		s.Openings, s.KeepOuts = areas(s.Openings), areas(s.KeepOuts)
		if !s.Construction.Across {
			found := s.Construction.Found
			s.Construction.Found = nil
			for _, x := range found {
				s.Construction.Found = append(s.Construction.Found, along(s.Name, x, 0))
			}
			if spacing := s.Construction.Spacing; spacing > 0 {
				s.Construction.First = math.Mod(along(s.Name, s.Construction.First, 0), spacing)
			}
		}
		s.Name = other(s.Name)
		q.Room.Surfaces = append(q.Room.Surfaces, s)
	}
	for _, l := range p.Listening {
		l.Ear[0], l.Facing = width-l.Ear[0], -l.Facing
		q.Listening = append(q.Listening, l)
	}
	for _, b := range p.Brackets {
		holes := b.Holes
		b.Holes = nil
		for _, h := range holes {
			b.Holes = append(b.Holes, [2]float64{-h[0], h[1]})
		}
		b.PivotAlong, b.SwingMin, b.SwingMax = -b.PivotAlong, -b.SwingMax, -b.SwingMin
		q.Brackets = append(q.Brackets, b)
	}
	for _, m := range p.Models {
		m.AxisRight = -m.AxisRight
		q.Models = append(q.Models, m)
	}
	for _, m := range p.Mounts {
		m.Along, m.Channel = along(m.Surface, m.Along, 0), mirror(m.Channel)
		m.Surface = other(m.Surface)
		q.Mounts = append(q.Mounts, m)
	}
	return &q
}

var turn = strings.NewReplacer("+030", "-030", "-030", "+030", "+045", "-045", "-045", "+045", "+090", "-090", "-090", "+090", "+135", "-135", "-135", "+135")

func mirror(text string) string { return turn.Replace(text) }

// In a mirror everything is judged as it is: the same checks with the same verdicts,
// as far off, and worth as much.
func TestMirrored(t *testing.T) {
	type seen struct {
		verdict        gauge.Verdict
		off, u, lo, hi int64 // micrometres, microradians, millionths
	}
	fold := func(checks []judge.Check, through func(string) string) map[string]seen {
		all := map[string]seen{}
		for _, c := range checks {
			subject := strings.Split(through(c.Subject), " and ")
			if len(subject) == 2 && subject[0] < subject[1] {
				subject[0], subject[1] = subject[1], subject[0]
			}
			quanta := func(x float64) int64 { return int64(math.Round(math.Abs(x) * 1e6)) }
			lo, hi := quanta(c.Low-c.Target), quanta(c.High-c.Target)
			all[c.Name+" "+strings.Join(subject, " and ")] = seen{c.Verdict, quanta(c.Measured - c.Target), quanta(c.Expanded), min(lo, hi), max(lo, hi)}
		}
		return all
	}
	same := func(s string) string { return s }
	p := demo(t)
	m := demoMeasured(t, p)
	for i := range p.Instruments { // a tape is worth less the farther it reaches
		if p.Instruments[i].Kind == plan.Tape {
			p.Instruments[i] = plan.Instrument{Name: p.Instruments[i].Name, Kind: plan.Laser, LengthU: 0.0008}
		}
	}
	q := mirrored(p)
	compare := func(a, b map[string]seen) {
		require.Equal(t, len(a), len(b))
		for name, want := range a {
			got, ok := b[name]
			require.True(t, ok, name)
			require.Equal(t, want.verdict, got.verdict, name)
			for _, x := range [][2]int64{{want.off, got.off}, {want.u, got.u}, {want.lo, got.lo}, {want.hi, got.hi}} {
				require.InDelta(t, x[0], x[1], 1, name)
			}
		}
	}
	compare(fold(judge.WholePlan(p), same), fold(judge.WholePlan(q), mirror))

	n := &plan.Measured{}
	for _, x := range m.Mounts {
		mount := p.MountByChannel(x.Channel)
		side := p.Room.Box.Width
		if mount.Surface == "left" || mount.Surface == "right" {
			side = p.Room.Box.Length
		}
		read := x.Along
		x.Along = nil
		for _, a := range read {
			x.Along = append(x.Along, side-a)
		}
		x.Channel = mirror(x.Channel)
		n.Mounts = append(n.Mounts, x)
	}
	compare(fold(judge.AsBuilt(p, m), same), fold(judge.AsBuilt(q, n), mirror))
}

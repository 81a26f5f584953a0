package judge_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/compute/gauge"
)

// known adds an instrument whose standard uncertainty (metres) is all there is.
func known(p *plan.Plan, standard float64) *plan.Plan {
	p.Instruments = append(p.Instruments, plan.Instrument{Name: "known", Kind: plan.Laser, LengthU: standard})
	return p
}

// marked is the mark step of a mount with the hole off its planned spot.
func marked(p *plan.Plan, channel, tape string, dAlong, dUp float64) judge.Case {
	m := p.MountByChannel(channel)
	return recorded(p, channel, measured{"along_um": um(m.Along + dAlong), "up_um": um(m.Up + dUp)}, chosen{"tape": tape, "on_hand": "here"}, nil)
}

// A tolerance of 30 mm and an expanded uncertainty of 6 mm (u = 3 mm). The rule is
// ILAC-G8:09/2019 §4.2.3, whose two conditional results are unsure here; the
// probabilities are p = Φ((30-y)/3) - Φ((-30-y)/3) (JCGM 106:2012), worked apart
// from this program.
func TestMarkSpot_GuardedAcceptance(t *testing.T) {
	for _, row := range []struct {
		off         float64 // mm
		want        gauge.Verdict
		probability float64 // 0: not given
	}{
		{0, gauge.Within, 1},
		{20, gauge.Within, 0.999571},
		{24, gauge.Within, 0.977250},
		{24.01, gauge.Unsure, 0},
		{28, gauge.Unsure, 0.747507},
		{30, gauge.Unsure, 0.5},
		{32, gauge.Unsure, 0.252493},
		{36, gauge.Unsure, 0.022750},
		{36.01, gauge.Outside, 0},
	} {
		for _, sign := range []float64{1, -1} {
			p := known(demo(t), 0.003)
			p.Tolerances.Mark = 0.030
			along := named(t, judge.Run([]string{"mark.spot"}, marked(p, "M+030", "known", sign*row.off/1000, 0)), "mark.spot along")
			up := named(t, judge.Run([]string{"mark.spot"}, marked(p, "M+030", "known", 0, sign*row.off/1000)), "mark.spot up")
			for _, c := range []judge.Check{along, up} {
				assert.Equal(t, row.want, c.Verdict, "%s %g mm", c.Name, sign*row.off)
				assert.InDelta(t, 0.006, c.Expanded, 1e-12)
				assert.InDelta(t, 0.060, c.High-c.Low, 1e-12)
				assert.InDelta(t, sign*row.off/1000, c.Measured-c.Target, 1e-12)
				if row.probability > 0 {
					assert.InDelta(t, row.probability, c.Probability, 1e-6, "%g mm", row.off)
				}
			}
		}
	}
}

// Maximum permissible errors of a class II tape, a + b·L with L rounded up to whole
// metres: Directive 2014/32/EU Annex X, Chapter I (a 0.3 mm, b 0.2 mm, c 0.2 mm from
// a hook). What is left of U² after reading and division is (2·MPE/√3)².
func TestMarkSpot_TapeClassII(t *testing.T) {
	for _, row := range []struct {
		along    float64 // m
		fromHook bool
		mpe      float64 // mm
	}{
		{1, false, 0.5}, {3, false, 0.9}, {3.2, false, 1.1}, {5, false, 1.3}, {7.6, false, 1.9},
		{1, true, 0.7}, {3.2, true, 1.3}, {7.6, true, 2.1},
	} {
		p := demo(t)
		p.Instruments = append(p.Instruments, plan.Instrument{Name: "by class", Kind: plan.Tape, Class: "II", Reading: 0.0005, Resolution: 0.001, FromHook: row.fromHook})
		c := recorded(p, "M+030", measured{"along_um": um(row.along), "up_um": um(1.2)}, chosen{"tape": "by class"}, nil)
		got := named(t, judge.Run([]string{"mark.spot"}, c), "mark.spot along")
		own := math.Pow(got.Expanded/2, 2) - math.Pow(0.0005, 2) - math.Pow(0.001, 2)/12
		assert.InDelta(t, row.mpe, math.Sqrt(3*own)*1000, 1e-6, "%g m, from the hook: %t", row.along, row.fromHook)
	}
}

func TestMarkSpot_Correction(t *testing.T) {
	for _, row := range []struct {
		channel     string
		along, up   float64 // mm off
		wantA, want string
	}{
		{"M+030", 18, -4, "18 mm left", "4 mm up"},
		{"M-090", -18, 4, "18 mm right", "4 mm down"},
		{"U-045", 12, 45, "12 mm towards the left wall", "45 mm towards the front wall"},
		{"U+045", -12, -45, "12 mm away from the left wall", "45 mm away from the front wall"},
		{"LFE1", 30, -40, "30 mm towards the left wall", "40 mm away from the rear wall"},
		// The slope's along runs to the right of somebody who looks to the front, its
		// up axis from the ridge downhill: facing it, further along is left.
		{"U+135", 18, 20, "18 mm right", "20 mm up"},
		{"M+030", 0.4, 0, "", ""}, // less than half a millimetre is none
	} {
		checks := judge.Run([]string{"mark.spot"}, marked(demo(t), row.channel, "tape 8 m", row.along/1000, row.up/1000))
		assert.Equal(t, row.wantA, named(t, checks, "mark.spot along").Correction, row.channel)
		assert.Equal(t, row.want, named(t, checks, "mark.spot up").Correction, row.channel)
	}
	p := demo(t)
	p.Units = plan.Imperial
	checks := judge.Run([]string{"mark.spot"}, marked(p, "M+030", "tape 8 m", 0.0127, 0))
	assert.Equal(t, `1/2" left`, named(t, checks, "mark.spot along").Correction)
}

// A slope that a shape makes is measured along from its left edge and out from its front edge (as place.ShapedBox says):
// at a side wall out runs level, so that up and down, left and right would send a hole the wrong way.
func TestMarkSpot_CorrectionOnASlopeOfTheRoom(t *testing.T) {
	for _, row := range []struct{ wall, up, along, out string }{
		{"left", "Out", "18 mm back along", "20 mm further from the datum edge"},
		{"right", "Out", "18 mm back along", "20 mm further from the datum edge"},
		{"front", "Up", "18 mm left", "20 mm up"},    // faced to the front, out from the knee is uphill
		{"rear", "Out", "18 mm right", "20 mm down"}, // faced to the rear, out from the fold is downhill
	} {
		p := decoded(t, "../../testdata/plans/attic.json")
		slope := plan.Shape{Name: "slope", Kind: plan.Slope, Wall: row.wall, Knee: 1.4, Reach: 1.2}
		p.Room.Shapes = []plan.Shape{slope}
		*p.MountByChannel("M+030") = plan.Mount{Channel: "M+030", Model: "Front A", Bracket: "Wall bracket", Surface: "slope", Along: 0.8, Up: 1}
		checks := judge.Run([]string{"mark.spot"}, marked(p, "M+030", "tape", 0.018, -0.02))
		assert.Equal(t, row.along, named(t, checks, "mark.spot along").Correction, row.wall)
		assert.Equal(t, row.out, named(t, checks, "mark.spot up").Correction, row.wall)
		assert.Equal(t, row.up, named(t, checks, "mark.spot up").Title, row.wall)
	}
}

// A cabinet that is tilted by no more than the plan allows is not taken for a slip of the tape: its acoustic centre, 150 mm
// out from the pivot, lies 150·sin 1.4° = 3.7 mm lower. What no tilt within the tolerance explains still is one.
func TestHangSlip_TiltWithinTheToleranceIsNone(t *testing.T) {
	p := decoded(t, "../../testdata/plans/attic.json")
	pose, err := p.Pose("M+030")
	require.NoError(t, err)
	require.InDelta(t, 1.5, p.Tolerances.Tilt/degree, 1e-9)
	hung := func(by float64) judge.Case {
		m := p.MountByChannel("M+030")
		return recorded(p, "M+030", measured{"along_um": um(m.Along), "up_um": um(m.Up), "height_um": um(pose.Centre.Z + by), "tilt_mdeg": mdeg(pose.Elevation/degree - 1.4)},
			chosen{"tape": "tape", "level": "level"}, nil)
	}
	low := 0.15 * (math.Sin(pose.Elevation-1.4*degree) - math.Sin(pose.Elevation))
	checks := judge.Run([]string{"hang.slip", "hang.angles", "hang.tilt"}, hung(low))
	for _, c := range checks {
		assert.Equal(t, gauge.Within, c.Verdict, "%s: %s", c.Name, c.Says)
	}
	assert.Equal(t, gauge.Outside, named(t, judge.Run([]string{"hang.slip"}, hung(low-0.006)), "hang.slip height").Verdict)
}

// A ceiling 10 mm off its plane is built as DIN 18202 (Table 3, row 6, 4 m) allows, and the height of what hangs from it tells
// nothing of the tape: no slip is seen in it. A ceiling 20 mm lower than the plan says is another matter.
func TestHangSlip_ACeilingAsTheyAreBuilt(t *testing.T) {
	p := demo(t)
	pose, err := p.Pose("U+045")
	require.NoError(t, err)
	slip := func(by float64) gauge.Verdict {
		m := p.MountByChannel("U+045")
		c := recorded(p, "U+045", measured{"along_um": um(m.Along), "up_um": um(m.Up), "height_um": um(pose.Centre.Z + by)}, chosen{"tape": "tape 8 m"}, nil)
		return named(t, judge.Run([]string{"hang.slip"}, c), "hang.slip height").Verdict
	}
	assert.Equal(t, gauge.Within, slip(-0.010))
	assert.Equal(t, gauge.Outside, slip(-0.020))
}

// A pair is as high as it was measured, not as a plan with a level ceiling has it: 8 mm too high and 8 mm too low are within
// the plan's 10 mm each and 16 mm from one another, by hand. The tapes at U = 2u give U = 2·√(u² + u²).
func TestHangPair_HeightsAsMeasured(t *testing.T) {
	p := demo(t)
	require.InDelta(t, 0.01, p.Tolerances.PairHeight, 1e-9)
	at := func(channel string, by float64) (measured, chosen) {
		pose, err := p.Pose(channel)
		require.NoError(t, err)
		m := p.MountByChannel(channel)
		return measured{"along_um": um(m.Along), "up_um": um(m.Up), "height_um": um(pose.Centre.Z + by)}, chosen{"tape": "tape 8 m"}
	}
	m, chose := at("U+045", 0.008)
	n, other := at("U-045", -0.008)
	c := recorded(p, "U+045", m, chose, evidence{"hang/U-045": {Measured: n, Chosen: other}})
	checks := judge.Run([]string{"hang.pair", "hang.height"}, c)
	got := named(t, checks, "hang.pair height")
	assert.InDelta(t, 0.016, got.Measured, 1e-6)
	assert.Equal(t, gauge.Outside, got.Verdict)
	assert.Equal(t, "It hangs 16 mm higher than U-045.", got.Says)
	assert.InDelta(t, math.Sqrt2*named(t, checks, "hang.height").Expanded, got.Expanded, 1e-9)
}

// Where the plan itself hangs a loudspeaker off what the layout permits, going back to the plan's hole brings it no nearer:
// no move is named that would not help. Where the plan is within, the way back is.
func TestMarkZone_CorrectionOnlyWhereItHelps(t *testing.T) {
	p := decoded(t, "../../testdata/plans/attic.json")
	permitted := func(off float64) judge.Check {
		checks := judge.Run([]string{"mark.zone"}, marked(p, "M+030", "tape", off, 0))
		return named(t, checks, "mark.zone permitted azimuth")
	}
	p.Layout, p.MountByChannel("M+030").OffAngle = "4+7+0", "a pipe" // permits 30° to 45°, BS.2051 system J
	p.MountByChannel("M+030").Along = 1.1                            // about 20°
	got := permitted(0.002)
	assert.Equal(t, gauge.Outside, got.Verdict)
	assert.Empty(t, got.Correction)
	assert.Contains(t, got.Says, "The plan itself has it outside")
	p.MountByChannel("M+030").Along = 0.4 // about 34°
	got = permitted(0.3)
	assert.Equal(t, gauge.Outside, got.Verdict)
	assert.Equal(t, "300 mm left", got.Correction)
}

// What settles it has to be something that can be done on site.
func TestMarkSpot_Settle(t *testing.T) {
	p := demo(t)
	settle := func(p *plan.Plan, tape string, dUp float64) judge.Check {
		c := named(t, judge.Run([]string{"mark.spot"}, marked(p, "M+030", tape, 0, dUp)), "mark.spot up")
		require.Equal(t, gauge.Unsure, c.Verdict)
		return c
	}
	assert.Contains(t, settle(p, "tape 8 m", 0.0055).Settle, "measure again in case of a slip")
	by := settle(known(p, 0.002), "known", 0.002)
	assert.Equal(t, "known has to be known better: its part is 2.0 mm and may be 1.5 mm at most", by.Settle)
	assert.Equal(t, "known", by.Largest)
	p.Units = plan.Imperial
	assert.Contains(t, settle(p, "known", 0.002).Settle, "its part is 0.079 in")
	hand := demo(t)
	hand.Instruments = append(hand.Instruments, plan.Instrument{Name: "rough", Kind: plan.Tape, Class: "I", Reading: 0.0015})
	assert.Equal(t, "read it once or twice more; most of the doubt comes from reading it by hand", settle(hand, "rough", 0.0022).Settle)
}

// Whatever the level is good for, it does not measure where a hole is; and a tape no tilt.
func TestWrongInstrument(t *testing.T) {
	p := demo(t)
	long := measured{"along_um": um(0.33), "up_um": um(1.2), "height_um": um(1.15), "distance_um": um(4), "tilt_mdeg": mdeg(0), "centre_um": um(2.332),
		"width_um": um(4.9), "length_um": um(6.1)}
	for _, instrument := range []string{"level 600", "phone level", "meter", "no such thing", ""} {
		c := recorded(p, "M+030", long, chosen{"tape": instrument, "laser": instrument, "level": "tape 8 m"}, nil)
		for function, names := range map[string][]string{
			"mark.spot": {"mark.spot along", "mark.spot up"}, "hang.angles": {"hang.angles along", "hang.angles up"},
			"hang.height": {"hang.height"}, "hang.distance": {"hang.distance"}, "hang.tilt": {"hang.tilt"},
			"survey.size": {"survey.size width", "survey.size length", "survey.size height"},
		} {
			checks := judge.Run([]string{function}, c)
			require.Len(t, checks, len(names), "%s with %q", function, instrument)
			for _, name := range names {
				got := named(t, checks, name)
				assert.Equal(t, gauge.Unsure, got.Verdict, "%s with %q", name, instrument)
				assert.NotEmpty(t, got.Says)
				assert.NotEmpty(t, got.Settle)
			}
		}
	}
	c := recorded(p, "M+030", long, chosen{"tape": "level 600"}, nil)
	assert.Equal(t, "Level 600 cannot have measured this: a length is wanted, within what it can read.", judge.Run([]string{"mark.spot"}, c)[0].Says)
	c.Chosen["tape"] = ""
	assert.Equal(t, "Say what it was measured with.", judge.Run([]string{"mark.spot"}, c)[0].Says)
}

func TestMarkClear(t *testing.T) {
	// The window's sill is at 1.40 m, its clearance 50 mm, which with the tape's
	// U (about 1.4 mm) is unsure from 1.3486 m to 1.3514 m.
	for _, row := range []struct {
		channel   string
		along, up float64
		want      gauge.Verdict
		title     string
	}{
		{"M+000", 2.45, 1.2, gauge.Within, "Clear of window"},
		{"M+000", 2.45, 1.35, gauge.Unsure, "Clear of window"},
		{"M+000", 2.45, 1.36, gauge.Outside, "Clear of window"},
		{"M+000", 2.45, 1.5, gauge.Outside, "Clear of window"},
		{"M+030", 0.02, 1.2, gauge.Outside, "Clear of the edge"},
		{"M+090", 1.82, 1.2, gauge.Within, "Clear of cable drop to the socket"},
		{"M+090", 1.80, 1.2, gauge.Outside, "Clear of cable drop to the socket"},
	} {
		c := recorded(demo(t), row.channel, measured{"along_um": um(row.along), "up_um": um(row.up)}, chosen{"tape": "tape 8 m"}, nil)
		got := named(t, judge.Run([]string{"mark.clear"}, c), "mark.clear")
		assert.Equal(t, row.want, got.Verdict, "%s at %g, %g: %+v", row.channel, row.along, row.up, got)
		assert.Equal(t, row.title, got.Title)
		assert.True(t, got.Barred)
	}
	assert.Empty(t, judge.Run([]string{"mark.clear"}, recorded(demo(t), "M+000", nil, nil, nil)))
	standing := recorded(demo(t), "LFE1", measured{"along_um": um(0.01), "up_um": um(0.01)}, chosen{"tape": "tape 8 m"}, nil)
	assert.Empty(t, judge.Run([]string{"mark.clear"}, standing), "what stands needs no hole")
}

// bare is a room of 4.0 × 5.0 × 2.4 m with the ear point at (2.0, 2.0, 1.2) m and
// one mount whose acoustic centre lies in its reference hole.
func bare(surface, channel string, along, up float64) *plan.Plan {
	return &plan.Plan{
		Layout:      "4+7+0",
		Room:        plan.Room{Box: &plan.Box{Width: 4, Length: 5, Height: 2.4}},
		Listening:   []plan.Listening{{Name: "seat", Ear: [3]float64{2, 2, 1.2}, EarU: 0.005, Primary: true}},
		Models:      []plan.Model{{Name: "point"}},
		Brackets:    []plan.Bracket{{Name: "flat"}},
		Instruments: []plan.Instrument{{Name: "known", Kind: plan.Laser, LengthU: 0.0005}},
		Tolerances:  plan.Tolerances{Mark: 0.005, Azimuth: 2 * degree, Elevation: 2 * degree, Height: 0.01, Distance: 0.03, PairAzimuth: 1.5 * degree, PairHeight: 0.01},
		Mounts:      []plan.Mount{{Channel: channel, Model: "point", Bracket: "flat", Surface: surface, Along: along, Up: up}},
	}
}

// Where the ray of a direction meets the room, by spherical coordinates of
// ITU-R BS.2076 worked apart from this program: point and distance from the ear.
func TestHangAngles_Geometry(t *testing.T) {
	for _, row := range []struct {
		azimuth, elevation float64
		surface            string
		distance           float64
		x, y, z            float64
	}{
		{0, 0, "front", 3.0000, 2.0000, 5.0000, 1.2000},
		{30, 0, "front", 3.4641, 0.2679, 5.0000, 1.2000},
		{-30, 0, "front", 3.4641, 3.7321, 5.0000, 1.2000},
		{90, 0, "left", 2.0000, 0.0000, 2.0000, 1.2000},
		{110, 0, "left", 2.1284, 0.0000, 1.2721, 1.2000},
		{135, 0, "left", 2.8284, 0.0000, 0.0000, 1.2000},
		{45, 30, "ceiling", 2.4000, 0.5303, 3.4697, 2.4000},
		{135, 30, "ceiling", 2.4000, 0.5303, 0.5303, 2.4000},
		{30, 45, "ceiling", 1.6971, 1.4000, 3.0392, 2.4000},
		{110, 55, "ceiling", 1.4649, 1.2104, 1.7126, 2.4000},
	} {
		along, up := map[string]func() (float64, float64){
			"front":   func() (float64, float64) { return row.x, row.z },
			"left":    func() (float64, float64) { return row.y, row.z },
			"ceiling": func() (float64, float64) { return row.x, 5 - row.y },
		}[row.surface]()
		p := bare(row.surface, "M+000", along, up)
		c := recorded(p, "M+000", measured{"along_um": um(along), "up_um": um(up), "distance_um": um(row.distance), "height_um": um(row.z)},
			chosen{"tape": "known", "laser": "known"}, nil)
		checks := judge.Run([]string{"hang.angles", "hang.slip", "hang.height", "hang.distance"}, c)
		// The points are given to a tenth of a millimetre: 0.006° at the nearest.
		assert.InDelta(t, row.azimuth, named(t, checks, "hang.angles azimuth").Measured/degree, 0.006, "%+v", row)
		assert.InDelta(t, row.elevation, named(t, checks, "hang.angles elevation").Measured/degree, 0.006, "%+v", row)
		assert.InDelta(t, row.distance, named(t, checks, "hang.slip distance").Target, 0.0001, "%+v", row)
		for _, name := range []string{"hang.slip distance", "hang.slip height", "hang.height", "hang.distance"} {
			assert.Equal(t, gauge.Within, named(t, checks, name).Verdict, "%s %+v", name, row)
		}
	}
}

// The angle between two directions, worked apart from this program: from (45°, 30°)
// to (48°, 33°) it is 3.9420°, 3° in each coordinate.
func TestHangAngles_OutsideSaysWhereTo(t *testing.T) {
	p := demo(t)
	off := func(channel string, dAlong, dUp float64) []judge.Check {
		m := p.MountByChannel(channel)
		return judge.Run([]string{"hang.angles", "mark.zone"}, recorded(p, channel,
			measured{"along_um": um(m.Along + dAlong), "up_um": um(m.Up + dUp)}, chosen{"tape": "tape 8 m"}, nil))
	}
	for _, row := range []struct {
		channel     string
		along, up   float64
		check       string
		want        gauge.Verdict
		correction  string
		explanation string
	}{
		{"M+030", 0, 0, "azimuth", gauge.Within, "", "as planned"},
		{"M-090", 0.2, 0, "azimuth", gauge.Outside, "200 mm left", "atan(0.2/2.37) = 4.8° with 2° permitted"},
		{"M-090", 0, -0.15, "elevation", gauge.Outside, "150 mm up", "atan(0.15/2.37) = 3.6°"},
		{"M-090", 0.0885, 0, "azimuth", gauge.Unsure, "89 mm left", "U is 0.26°: between 1.74° and 2.26° nobody can tell"},
		{"M-090", 0.2, -0.15, "azimuth", gauge.Outside, "200 mm left, 150 mm up", "both"},
	} {
		checks := off(row.channel, row.along, row.up)
		for _, function := range []string{"hang.angles ", "mark.zone "} {
			got := named(t, checks, function+row.check)
			assert.Equal(t, row.want, got.Verdict, "%s: %+v", row.explanation, got)
			assert.Equal(t, row.correction, got.Correction, row.explanation)
		}
	}
	// M-090 may be seen from -85° to -110° (ITU-R BS.2051): half a metre to the front leaves it.
	permitted := named(t, off("M-090", -0.5, 0), "hang.angles permitted azimuth")
	assert.Equal(t, gauge.Outside, permitted.Verdict)
	assert.InDelta(t, -85, permitted.High/degree, 1e-9)
	assert.InDelta(t, -110, permitted.Low/degree, 1e-9)
	assert.Equal(t, "500 mm right", permitted.Correction)
}

func TestHangAngles_NothingToJudge(t *testing.T) {
	p := demo(t)
	for _, m := range []measured{nil, {"along_um": um(1)}, {"up_um": um(1)}, {"along_um": {}, "up_um": {}}} {
		for _, name := range []string{"mark.spot", "mark.zone", "mark.clear", "hang.slip", "hang.angles", "hang.height", "hang.distance", "hang.pair", "hang.tilt", "hang.aim"} {
			assert.Empty(t, judge.Run([]string{name}, recorded(p, "M+030", m, chosen{"tape": "tape 8 m", "laser": "laser", "level": "level 600"}, nil)), name)
		}
	}
	near := bare("front", "M+000", 2, 1.2)
	near.Models[0].AxisRight = 5 // no axis 5 m beside the pivot can pass through an ear point 3 m away
	c := recorded(near, "M+000", measured{"along_um": um(2), "up_um": um(1.2)}, chosen{"tape": "known"}, nil)
	for _, x := range judge.Run(judge.Names(), c) {
		sound(t, x)
	}
}

// Straight above the ear point azimuth means nothing: a hole 10 mm off is
// atan(10/1200) = 0.48° off, in whatever azimuth; 60 mm off are 2.86°.
func TestHangAngles_StraightAbove(t *testing.T) {
	for _, row := range []struct {
		along, up float64 // mm off
		want      gauge.Verdict
		off       float64 // degrees
	}{
		{0, 0, gauge.Within, 0},
		{10, 0, gauge.Within, 0.4775},
		{0, -10, gauge.Within, 0.4775},
		{42, 0, gauge.Unsure, 2.0045},
		{0, 60, gauge.Outside, 2.8624},
		{-36, 48, gauge.Outside, 2.8624},
	} {
		p := bare("ceiling", "T+000", 2, 3)
		p.Layout = "9+10+3"
		c := recorded(p, "T+000", measured{"along_um": um(2 + row.along/1000), "up_um": um(3 + row.up/1000), "distance_um": um(1.2), "height_um": um(2.4)},
			chosen{"tape": "known", "laser": "known"}, nil)
		checks := judge.Run([]string{"hang.angles", "hang.slip"}, c)
		got := named(t, checks, "hang.angles direction")
		assert.Equal(t, row.want, got.Verdict, "%+v: %+v", row, got)
		assert.InDelta(t, row.off, got.Measured/degree, 1e-3)
		assert.Equal(t, gauge.Within, named(t, checks, "hang.slip height").Verdict)
		// The azimuth of a hole that is off is no matter, and the plan itself stands.
		for _, x := range checks {
			assert.NotContains(t, x.Name, "azimuth")
		}
		for _, x := range judge.WholePlan(p) {
			if strings.HasPrefix(x.Name, "plan.direction") {
				assert.Equal(t, gauge.Within, x.Verdict, "%+v", x)
			}
		}
	}
}

func TestHangSlip(t *testing.T) {
	p := demo(t)
	m := p.MountByChannel("M-135")
	sight, err := p.Sight("M-135", "")
	require.NoError(t, err)
	run := func(along, up, distance, height float64) []judge.Check {
		return judge.Run([]string{"hang.slip"}, recorded(p, "M-135",
			measured{"along_um": um(along), "up_um": um(up), "distance_um": um(distance), "height_um": um(height)}, chosen{"tape": "tape 8 m", "laser": "laser"}, nil))
	}
	for _, row := range []struct {
		what                        string
		along, up, distance, height float64
		check                       string
		want                        gauge.Verdict
		says                        string
	}{
		{"all agree", m.Along, m.Up, sight.Distance, sight.Height, "distance", gauge.Within, ""},
		{"swapped digits", 5.933, m.Up, sight.Distance, sight.Height, "distance", gauge.Outside,
			"They disagree: by the tape it would be 3.136 m from the ear point, by the laser it is 2.793 m. One of them is a slip. " +
				"If along were 5.393 m instead of 5.933 m they would agree: the 9 and the 3 changed places."},
		{"a round step", m.Along, m.Up + 0.1, sight.Distance, sight.Height, "height", gauge.Outside,
			"If up were 1.200 m instead of 1.300 m they would agree: a round step was misread."},
		{"the other corner", 6.1 - m.Along, m.Up, sight.Distance, sight.Height, "distance", gauge.Outside,
			"If along were 5.393 m instead of 0.707 m they would agree: it was measured from the other corner."},
		{"nothing explains it", m.Along, m.Up, 1.234, sight.Height, "distance", gauge.Outside, "One of them is a slip. Measure both again."},
	} {
		got := named(t, run(row.along, row.up, row.distance, row.height), "hang.slip "+row.check)
		assert.Equal(t, row.want, got.Verdict, row.what)
		assert.Contains(t, got.Says, row.says, row.what)
	}
	// What rests on a contradicted reading is not judged until the slip is found.
	c := recorded(p, "M-135", measured{"along_um": um(5.933), "up_um": um(m.Up), "distance_um": um(sight.Distance)}, chosen{"tape": "tape 8 m", "laser": "laser"}, nil)
	for _, x := range judge.Run([]string{"hang.angles", "hang.pair"}, c) {
		assert.Equal(t, gauge.Unsure, x.Verdict, x.Name)
		assert.Empty(t, x.Correction, x.Name)
		assert.Equal(t, "find the slip first", x.Settle)
	}
}

func TestHangHeight(t *testing.T) {
	for _, row := range []struct {
		height     float64
		want       gauge.Verdict
		correction string
	}{
		{1.150, gauge.Within, ""},
		{1.157, gauge.Within, "lower it by 7 mm"},
		{1.160, gauge.Unsure, "lower it by 10 mm"},
		{1.120, gauge.Outside, "raise it by 30 mm"},
	} {
		c := recorded(demo(t), "M+030", measured{"height_um": um(row.height)}, chosen{"tape": "tape 8 m"}, nil)
		got := named(t, judge.Run([]string{"hang.height"}, c), "hang.height")
		assert.Equal(t, row.want, got.Verdict, "%g", row.height)
		assert.Equal(t, row.correction, got.Correction)
		assert.InDelta(t, 1.15, got.Target, 1e-6, "pivot 50 mm under the hole at 1.2 m, axis level")
	}
}

func TestHangDistance(t *testing.T) {
	planned := math.Hypot(2.12, 3.62) - 0.16 // pivot of M+030 from the ear point, less the reach: right-angled triangle
	for _, row := range []struct {
		off  float64
		want gauge.Verdict
		says string
	}{
		{0, gauge.Within, ""},
		{-0.019, gauge.Within, ""},
		{0.030, gauge.Unsure, "It is 30 mm farther from the ear point than planned."},
		{-0.060, gauge.Outside, "It is 60 mm nearer to the ear point than planned."},
	} {
		c := recorded(demo(t), "M+030", measured{"distance_um": um(planned + row.off)}, chosen{"laser": "laser"}, nil)
		got := named(t, judge.Run([]string{"hang.distance"}, c), "hang.distance")
		assert.Equal(t, row.want, got.Verdict, "%g", row.off)
		assert.Equal(t, row.says, got.Says)
		assert.InDelta(t, planned, got.Target, 1e-6)
		// u² = ear 5 mm² + laser 1 mm² + division 1/√12 mm²
		assert.InDelta(t, 2*math.Sqrt(25+1+1.0/12)/1000, got.Expanded, 1e-9)
	}
}

// Both azimuths of a pair hang on one ear point. Seen from it, two centres that
// mirror each other at azimuth θ and distance d in the plane change the sum of
// their azimuths by 2·cos θ/d for each metre that the ear point moves sideways, and
// by nothing when it moves ahead.
func TestHangPair_OneEarPoint(t *testing.T) {
	for _, theta := range []float64{10, 30, 60, 89} {
		along := 3 * math.Tan(theta*degree)
		p := bare("front", "M+030", 2-along, 1.2)
		p.Room.Box.Width = 400
		p.Listening[0].Ear[0] = 200
		left, right := p.Mounts[0], p.Mounts[0]
		left.Along, right.Along, right.Channel = 200-along, 200+along, "M-030"
		p.Mounts = []plan.Mount{left, right}
		p.Instruments[0].LengthU = 1e-9
		c := recorded(p, "M+030", measured{"along_um": um(left.Along), "up_um": um(1.2)}, chosen{"tape": "known"}, nil)
		got := named(t, judge.Run([]string{"hang.pair"}, c), "hang.pair azimuth")
		d := 3 / math.Cos(theta*degree)
		assert.InDelta(t, 2*0.005*2*math.Cos(theta*degree)/d, got.Expanded, 1e-6, "%g°", theta)
		assert.Equal(t, "the ear point", got.Largest)
	}
}

func TestHangPair(t *testing.T) {
	p := demo(t)
	hang := func(channel string, dAlong, dUp float64) measured {
		m := p.MountByChannel(channel)
		return measured{"along_um": um(m.Along + dAlong), "up_um": um(m.Up + dUp)}
	}
	tape := chosen{"tape": "tape 8 m"}
	partner := func(dAlong, dUp float64) evidence {
		return evidence{"hang/M-090": {Measured: hang("M-090", dAlong, dUp), Chosen: tape}}
	}
	for _, row := range []struct {
		along, up       float64
		prior           evidence
		azimuth, height gauge.Verdict
		title           string
	}{
		{0, 0, nil, gauge.Within, gauge.Within, "Mirrors M-090 as planned"},
		{0, 0, partner(0, 0), gauge.Within, gauge.Within, "Mirrors M-090 as built"},
		{0.1, 0, partner(0, 0), gauge.Outside, gauge.Within, "Mirrors M-090 as built"},
		// Both 100 mm further to the front mirror each other still: along the left wall
		// counts from the rear, along the right wall from the front.
		{0.1, 0, partner(-0.1, 0), gauge.Within, gauge.Within, "Mirrors M-090 as built"},
		{0, 0.02, partner(0, 0), gauge.Within, gauge.Outside, "Mirrors M-090 as built"},
		{0, 0.0105, partner(0, 0), gauge.Within, gauge.Unsure, "Mirrors M-090 as built"},
		{0, 0.02, partner(0, 0.02), gauge.Within, gauge.Within, "Mirrors M-090 as built"},
	} {
		checks := judge.Run([]string{"hang.pair"}, recorded(p, "M+090", hang("M+090", row.along, row.up), tape, row.prior))
		azimuth, height := named(t, checks, "hang.pair azimuth"), named(t, checks, "hang.pair height")
		assert.Equal(t, row.azimuth, azimuth.Verdict, "%+v", row)
		assert.Equal(t, row.height, height.Verdict, "%+v", row)
		assert.Equal(t, row.title, azimuth.Title)
	}
	lower := judge.Run([]string{"hang.pair"}, recorded(p, "M+090", hang("M+090", 0, -0.03), tape, partner(0, 0)))
	// 30 mm at the hole are 30·(1 - 0.12/2.37) mm at the centre: it turns up about its pivot, 120 mm behind.
	assert.Equal(t, "It hangs 28 mm lower than M-090.", named(t, lower, "hang.pair height").Says)
	assert.Empty(t, judge.Run([]string{"hang.pair"}, recorded(p, "M+000", hang("M+000", 0, 0), tape, nil)), "the centre has no partner")
	assert.Empty(t, judge.Run([]string{"hang.pair"}, recorded(p, "LFE1", hang("LFE1", 0, 0), tape, nil)))
}

func TestHangTilt(t *testing.T) {
	// U+045 has to point down by the elevation at which the ear point sees it, 36.78°.
	m := demo(t).MountByChannel("U+045")
	for _, row := range []struct {
		tilt       float64
		level      string
		want       gauge.Verdict
		correction string
	}{
		{-36.8, "level 600", gauge.Within, ""},
		{-38.2, "level 600", gauge.Within, ""},
		{-38.2, "phone level", gauge.Unsure, "nose 1.4° up"},
		{-33.0, "phone level", gauge.Outside, "nose 3.8° down"},
	} {
		c := recorded(demo(t), "U+045", measured{"along_um": um(m.Along), "up_um": um(m.Up), "tilt_mdeg": mdeg(row.tilt)},
			chosen{"tape": "tape 8 m", "level": row.level}, nil)
		got := named(t, judge.Run([]string{"hang.tilt"}, c), "hang.tilt")
		assert.Equal(t, row.want, got.Verdict, "%g", row.tilt)
		assert.Equal(t, row.correction, got.Correction)
		assert.InDelta(t, -math.Atan2(1.35-0.07, math.Hypot(1, 1.39))/degree, got.Target/degree, 1e-6, "pivot from the ear point by right-angled triangles")
	}
}

// angle = atan(miss/distance): 131 mm at 2.5 m are 3.0°, 2.9996° to four digits.
func TestHangAim(t *testing.T) {
	for _, row := range []struct {
		miss  float64
		angle float64
		want  gauge.Verdict
	}{
		{0, 0, gauge.Within}, {0.1, 2.2906, gauge.Within}, {0.131, 2.9996, gauge.Unsure}, {0.2, 4.5739, gauge.Outside},
	} {
		c := recorded(demo(t), "M+030", measured{"miss_um": um(row.miss), "distance_um": um(2.5)}, chosen{"laser": "laser"}, nil)
		got := named(t, judge.Run([]string{"hang.aim"}, c), "hang.aim")
		assert.InDelta(t, row.angle, got.Measured/degree, 1e-4)
		assert.Equal(t, row.want, got.Verdict)
		assert.InDelta(t, 2*0.010*2.5/(2.5*2.5+row.miss*row.miss), got.Expanded, 1e-9, "10 mm of seeing where the axis passes: common practice, no source")
	}
	c := recorded(demo(t), "M+030", measured{"miss_um": um(0.2), "distance_um": um(2.5)}, chosen{"laser": "laser"}, nil)
	assert.Equal(t, "turn it by 4.6° towards the ear point", judge.Run([]string{"hang.aim"}, c)[0].Correction)
	c.Measured["distance_um"] = um(0)
	assert.Empty(t, judge.Run([]string{"hang.aim"}, c))
}

// sound holds what no check may break, whatever it was given.
func sound(t require.TestingT, c judge.Check) {
	for name, x := range map[string]float64{"measured": c.Measured, "target": c.Target, "expanded": c.Expanded, "probability": c.Probability} {
		require.False(t, math.IsNaN(x) || math.IsInf(x, 0), "%s: %s is %g", c.Name, name, x)
	}
	require.False(t, math.IsNaN(c.Low) || math.IsNaN(c.High), c.Name)
	require.NotEmpty(t, c.Name)
	require.NotEmpty(t, c.Title, c.Name)
	require.NotEmpty(t, c.Source, c.Name)
	for _, phrase := range []string{c.Correction, c.Settle, c.Largest, c.Source} {
		require.False(t, strings.HasSuffix(phrase, "."), "%s: %q stands inside a sentence", c.Name, phrase)
	}
	if c.Says != "" {
		require.Regexp(t, `^[A-Z0-9].*[.]$`, c.Says, "%s: a whole sentence", c.Name)
	}
	if c.Unit == judge.Condition && c.Verdict != gauge.Within {
		require.NotEmpty(t, c.Says, "%s has no numbers: it has to say what is wrong", c.Name)
	}
	for _, text := range []string{c.Says, c.Correction, c.Settle, c.Title} {
		for _, never := range []string{"NaN", "Inf", "%!", "by out of range", "is out of range", "be out of range", "judge:", "gauge:", "place:", "fixing:", "rack:", "wiring:", "sound:", "  "} {
			require.NotContains(t, text, never, c.Name)
		}
	}
}

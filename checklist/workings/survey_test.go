package workings_test

import (
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/workings"
	"hangtrue/compute/gauge"
	"hangtrue/compute/place"
)

func attic(t require.TestingT) *plan.Plan {
	data, err := os.ReadFile("../../testdata/plans/attic.json")
	require.NoError(t, err)
	p, err := plan.Decode(data)
	require.NoError(t, err)
	return p
}

func checkNamed(t *testing.T, sheet *workings.SurveySheet, name string) judge.Check {
	i := slices.IndexFunc(sheet.Checks, func(c judge.Check) bool { return c.Name == name })
	require.GreaterOrEqual(t, i, 0, name)
	return sheet.Checks[i]
}

// onFloor writes what a perfect laser reads on a floor of four corners (by place.Corner).
func onFloor(p *plan.Plan, corners [4][2]float64) {
	for r := place.FrontWall; r <= place.FromFrontRight; r++ {
		a, b := corners[r.Ends()[0]], corners[r.Ends()[1]]
		x := p.Reading(plan.ReadingNames[r])
		x.Values, x.Instrument = []float64{math.Hypot(a[0]-b[0], a[1]-b[1])}, "laser"
	}
}

func TestSurvey_OfARectangle(t *testing.T) {
	p := attic(t)
	sheet := workings.Survey(p)
	require.NotNil(t, sheet)
	assert.Len(t, sheet.Lines, len(p.Survey.Readings))
	for _, l := range sheet.Lines {
		assert.Empty(t, l.Unknown, l.Name)
		assert.Positive(t, l.Worth.Uncertainty.Standard, l.Name)
	}
	var names []string
	for _, c := range sheet.Checks {
		names = append(names, c.Name)
		assert.Equal(t, gauge.Within, c.Verdict, "%s: %s", c.Name, c.Says)
		assert.NotEmpty(t, c.Source, c.Name)
		assert.LessOrEqual(t, len(c.Title), 30, "a column of the table: %s", c.Title)
	}
	assert.Equal(t, []string{
		"survey.repeat", "survey.closing", "survey.square", "survey.width", "survey.length", "survey.directions",
		"survey.height", "survey.knee rear right", "survey.box width", "survey.box length", "survey.box height",
	}, names)
	assert.Equal(t, []string{"As far as these readings can tell, the floor is a rectangle."}, sheet.Says)
	// Means of what the file says.
	assert.InDelta(t, (3.6005+3.5995)/2, sheet.Width.Value, 1e-9)
	assert.InDelta(t, (4.2005+4.1995)/2, sheet.Length.Value, 1e-9)
	assert.InDelta(t, (2.4003+2.401+2.4)/3, sheet.Height.Value, 1e-9, "the corner under the slope is not among them")
	for _, f := range sheet.Figures {
		assert.NotEmpty(t, f.Inputs, f.Name)
		assert.NotEmpty(t, f.Mark, f.Name)
	}
	checks := workings.Checks(p)
	assert.Equal(t, "survey.repeat", checks[0].Name, "the survey is among the plan's checks")
	p.Survey = nil
	assert.Nil(t, workings.Survey(p))
	for _, c := range workings.Checks(p) {
		assert.False(t, strings.HasPrefix(c.Name, "survey."), c.Name)
	}
	assert.Nil(t, workings.Survey(nil))
}

// What is wrong is said in a sentence, and judged, and nothing else is.
func TestSurvey_Findings(t *testing.T) {
	set := func(p *plan.Plan, name string, values ...float64) { p.Reading(name).Values = values }
	drop := func(p *plan.Plan, names ...string) {
		p.Survey.Readings = slices.DeleteFunc(p.Survey.Readings, func(r plan.Reading) bool { return slices.Contains(names, r.Name) })
	}
	// asin((5.547² - 5.516²) / (4·3.6·4.2)) = 0.325°, by a pocket calculator.
	leaning := func(p *plan.Plan) {
		set(p, plan.DiagonalFrontLeft, 5.547)
		set(p, plan.DiagonalFrontRight, 5.516)
	}
	for _, row := range []struct {
		what   string
		change func(*plan.Plan)
		says   []string
		want   map[string]gauge.Verdict // all others are within
	}{
		{"diagonals that differ", leaning,
			[]string{"The diagonals differ by 31 mm: the room is not square by 0.3°. Directions", "is seen 0.3° from where the box has it"}, nil},
		{"the same, and not all six were read", func(p *plan.Plan) { leaning(p); drop(p, plan.WidthRear) },
			[]string{"The diagonals differ by 31 mm: the room is not square by 0.3°, or one reading is wrong. Directions"}, nil},
		{"the same, by one diagonal", func(p *plan.Plan) { leaning(p); drop(p, plan.WidthRear, plan.DiagonalFrontRight) },
			[]string{"By the one diagonal that was read: the room is not square by 0.3°, or one reading is wrong. Directions"}, nil},
		{"the same, by the other", func(p *plan.Plan) { leaning(p); drop(p, plan.LengthLeft, plan.DiagonalFrontLeft) },
			[]string{"By the one diagonal that was read: the room is not square by 0.3°, or one reading is wrong. Directions"}, nil},
		{"a room that a box cannot stand for", func(p *plan.Plan) { // 5° out of square, √(3.6² + 4.2² ± 2·3.6·4.2·sin 5°)
			set(p, plan.DiagonalFrontLeft, 5.765)
			set(p, plan.DiagonalFrontRight, 5.288)
		}, []string{"The diagonals differ by 477 mm: the room is not square by 5.0°. Directions worked out in the box can be off by about as much. That is how the room is built, and nobody's fault on site", "That is how"},
			map[string]gauge.Verdict{"survey.square": gauge.Outside, "survey.directions": gauge.Outside}},
		{"swapped digits in a wall", func(p *plan.Plan) { set(p, plan.WidthRear, 3.060) },
			[]string{"The six lengths on the floor do not close: by the other five the diagonal from the front right is 5.", "nearest to square if it is the width at the rear wall: 3.599 m instead of 3.060 m (swapped digits)."},
			map[string]gauge.Verdict{"survey.closing": gauge.Outside, "survey.square": gauge.Unsure, "survey.width": gauge.Unsure, "survey.length": gauge.Unsure, "survey.box width": gauge.Unsure, "survey.box length": gauge.Unsure}},
		{"a diagonal 100 mm short", func(p *plan.Plan) { set(p, plan.DiagonalFrontLeft, 5.432) },
			[]string{"if it is the diagonal from the front left: 5.53", "instead of 5.432 m (100 mm misread)."},
			map[string]gauge.Verdict{"survey.closing": gauge.Outside, "survey.square": gauge.Unsure, "survey.width": gauge.Unsure, "survey.length": gauge.Unsure, "survey.box width": gauge.Unsure, "survey.box length": gauge.Unsure}},
		{"a diagonal that no walls have", func(p *plan.Plan) { set(p, plan.DiagonalFrontLeft, 15.531) },
			[]string{"No floor has these six lengths: one reading is wrong. Any one of them could be; the room would be nearest to square if it is the diagonal from the front left: 5.53"},
			map[string]gauge.Verdict{"survey.closing": gauge.Outside}},
		{"walls that are not parallel", func(p *plan.Plan) { onFloor(p, [4][2]float64{{0, 4.2}, {3.64, 4.2}, {3.6, 0}, {0, 0}}) },
			[]string{"not square by", "It is 40 mm wider at the front wall than at the rear wall: the left and the right wall are not parallel, by 0.5°.", "is seen 0.5°"}, map[string]gauge.Verdict{"survey.box width": gauge.Unsure}},
		{"lengths that are not equal", func(p *plan.Plan) { onFloor(p, [4][2]float64{{0, 4.19}, {3.6, 4.21}, {3.6, 0}, {0, 0}}) },
			[]string{"not square by", "It is 20 mm longer at the right wall than at the left wall: the front and the rear wall are not parallel, by 0.3°.", "is seen"}, nil},
		{"a ceiling that slopes", func(p *plan.Plan) { set(p, plan.HeightFrontRight, 2.412) },
			[]string{"rectangle", "From floor to ceiling it is 12 mm less at the lamp than at the front right: the floor or the ceiling slopes, or one reading is wrong."}, nil},
		{"a ceiling that slopes more than the plan allows", func(p *plan.Plan) { set(p, plan.HeightFrontRight, 2.45) },
			[]string{"rectangle", "From floor to ceiling it is 50 mm less"}, map[string]gauge.Verdict{"survey.height": gauge.Outside, "survey.box height": gauge.Unsure}},
		{"another knee", func(p *plan.Plan) { set(p, plan.HeightRearRight, 1.46) },
			[]string{"rectangle", "Height at the rear right was read 1.460 m; the slope there comes down to 1.400 m in the plan."}, map[string]gauge.Verdict{"survey.knee rear right": gauge.Outside}},
		{"another box", func(p *plan.Plan) { p.Room.Box.Width = 3.5 },
			[]string{"rectangle", "is seen", "By the readings the width is 3.600 m; the plan has 3.500 m, 100 mm less."}, map[string]gauge.Verdict{"survey.box width": gauge.Outside}},
		{"readings that lie apart", func(p *plan.Plan) { set(p, plan.LengthRight, 4.2, 4.199, 4.299) },
			[]string{"Readings of the length at the right wall lie 100 mm apart: one of them is a slip."}, map[string]gauge.Verdict{"survey.repeat": gauge.Outside}},
	} {
		t.Run(row.what, func(t *testing.T) {
			p := attic(t)
			row.change(p)
			sheet := workings.Survey(p)
			said := strings.Join(sheet.Says, "\n")
			for _, words := range row.says {
				assert.Contains(t, said, words)
			}
			for _, c := range sheet.Checks {
				want, off := row.want[c.Name]
				if row.what == "readings that lie apart" && !off || row.what == "a diagonal that no walls have" && !off {
					continue // what rests on it is in doubt as well
				}
				assert.Equal(t, map[bool]gauge.Verdict{true: want, false: gauge.Within}[off], c.Verdict, "%s: %v", c.Name, c)
			}
			for name := range row.want {
				checkNamed(t, sheet, name)
			}
			assert.NotContains(t, said, "  ")
		})
	}
}

// A floor that leans, affinely: a place of the box keeps its lengths along the walls, and the walls to the front lean left.
// Directions turn by what plane trigonometry says.
func TestSurvey_DirectionsByTrigonometry(t *testing.T) {
	const lean = 0.01
	p := attic(t)
	lean4 := func(x, y float64) [2]float64 { return [2]float64{x - y*math.Sin(lean), y * math.Cos(lean)} }
	onFloor(p, [4][2]float64{lean4(0, 4.2), lean4(3.6, 4.2), lean4(3.6, 0), lean4(0, 0)})
	sheet := workings.Survey(p)
	square := checkNamed(t, sheet, "survey.square")
	assert.InDelta(t, lean, square.Measured, 1e-9)
	var want float64
	for _, m := range p.Mounts {
		pose, err := p.Pose(m.Channel)
		require.NoError(t, err)
		ear := p.Primary().Ear
		dx, dy, dz := pose.Centre.X-ear[0], pose.Centre.Y-ear[1], pose.Centre.Z-ear[2]
		a, b := place.Vec{X: dx, Y: dy, Z: dz}, place.Vec{X: dx - dy*math.Sin(lean), Y: dy * math.Cos(lean), Z: dz}
		want = math.Max(want, math.Acos(a.Unit().Dot(b.Unit())))
	}
	check := checkNamed(t, sheet, "survey.directions")
	assert.InDelta(t, want, check.Measured, 1e-7)
	assert.Greater(t, want, lean/2)
	assert.LessOrEqual(t, want, lean, "no direction turns by more than the floor leans")
	assert.Equal(t, gauge.Within, check.Verdict)
}

// Half a survey of half a plan says what can be said.
func TestSurvey_Unfinished(t *testing.T) {
	sheet := workings.Survey(&plan.Plan{Survey: &plan.Survey{}})
	assert.Empty(t, sheet.Checks)
	assert.Empty(t, sheet.Says)
	p := attic(t)
	bare := &plan.Plan{Survey: p.Survey, Instruments: p.Instruments[1:]} // no tape, no box, no tolerances
	sheet = workings.Survey(bare)
	assert.Equal(t, `unknown name: instrument "tape"`, sheet.Lines[0].Unknown)
	assert.Zero(t, sheet.Width)
	assert.Empty(t, sheet.Checks)
	bare = &plan.Plan{Survey: p.Survey, Instruments: p.Instruments}
	p.Reading(plan.DiagonalFrontLeft).Values = []float64{5.432}
	sheet = workings.Survey(bare)
	assert.Contains(t, strings.Join(sheet.Says, " "), "do not close")
	assert.NotZero(t, sheet.Width)
}

// Whatever was typed, the numbers of the checks are finite where they are not bounds, and an unsure verdict says what
// would settle it.
func TestSurvey_OfAnything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := attic(t)
		for i := range p.Survey.Readings {
			r := &p.Survey.Readings[i]
			if rapid.Bool().Draw(t, "changed") {
				r.Values = rapid.SliceOfN(rapid.Float64Range(1e-6, 150), 1, 4).Draw(t, r.Name)
			}
		}
		keep := rapid.SliceOfN(rapid.Bool(), len(p.Survey.Readings), len(p.Survey.Readings)).Draw(t, "kept")
		n := 0
		p.Survey.Readings = slices.DeleteFunc(p.Survey.Readings, func(plan.Reading) bool { n++; return !keep[n-1] })
		sheet := workings.Survey(p)
		for _, c := range sheet.Checks {
			for _, x := range []float64{c.Measured, c.Target, c.Expanded} {
				if math.IsNaN(x) || math.IsInf(x, 0) {
					t.Fatalf("%s: %v", c.Name, c)
				}
			}
			if c.Verdict == gauge.Unsure && c.Settle == "" || c.Verdict == gauge.Outside && c.Says == "" {
				t.Fatalf("%s says nothing: %v", c.Name, c)
			}
		}
	})
}

package judge_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/compute/gauge"
)

func TestLevelLine_Heights(t *testing.T) {
	for _, row := range []struct {
		left, right, span float64 // m
		slope             float64 // degrees, atan(rise/run) by hand
		want              gauge.Verdict
		correction        string
	}{
		{1.2, 1.2, 0.6, 0, gauge.Within, ""},
		{1.2, 1.203, 0.6, 0.28648, gauge.Within, ""},
		{1.2, 1.204, 0.6, 0.38197, gauge.Unsure, "raise the left end by 4 mm over 600 mm"},
		{1.212, 1.2, 0.6, -1.14576, gauge.Outside, "raise the right end by 12 mm over 600 mm"},
	} {
		p := known(demo(t), 0.0007)
		c := recorded(p, "M+030", measured{"left_up_um": um(row.left), "right_up_um": um(row.right), "span_um": um(row.span)}, chosen{"with": "known"}, nil)
		got := named(t, judge.Run([]string{"level.line"}, c), "level.line")
		assert.InDelta(t, row.slope, got.Measured/degree, 1e-5)
		assert.Equal(t, row.want, got.Verdict, "%+v: U %g°", row, got.Expanded/degree)
		assert.Equal(t, row.correction, got.Correction)
		// Two readings of 0.7 mm at the ends of a line 600 mm long: √2·0.7/600 rad.
		assert.InDelta(t, 2*math.Sqrt2*0.0007/0.6, got.Expanded, 2e-6)
	}
}

func TestLevelLine_Level(t *testing.T) {
	for _, row := range []struct {
		reading, turned []int64
		with            string
		slope           float64
		want            gauge.Verdict
	}{
		{mdeg(0.2), nil, "level 600", 0.2, gauge.Within},
		{mdeg(0.47), nil, "level 600", 0.47, gauge.Unsure},
		{mdeg(0.9), nil, "level 600", 0.9, gauge.Outside},
		// A level with a zero error of 0.7° on a slope of 0.2° reads 0.9°, then 0.5° turned (arithmetic).
		{mdeg(0.9), mdeg(0.5), "level 600", 0.2, gauge.Within},
		{mdeg(0.2), nil, "phone level", 0.2, gauge.Unsure},
		{mdeg(2), mdeg(-2), "phone level", 2, gauge.Outside},
	} {
		c := recorded(demo(t), "M+030", measured{"reading_mdeg": row.reading, "turned_mdeg": row.turned}, chosen{"with": row.with}, nil)
		got := named(t, judge.Run([]string{"level.line"}, c), "level.line")
		assert.InDelta(t, row.slope, got.Measured/degree, 1e-9)
		assert.Equal(t, row.want, got.Verdict, "%+v", row)
		assert.InDelta(t, 2*demo(t).Instrument(row.with).AngleU, got.Expanded, 1e-12, "what the plan states of the instrument")
	}
}

// The step has nothing that it can do without: what was not measured is not level.
func TestLevelLine_NothingMeasured(t *testing.T) {
	for _, m := range []measured{nil, {"left_up_um": um(1.2), "right_up_um": um(1.2)}, {"left_up_um": um(1.2), "right_up_um": um(1.2), "span_um": um(0)}, {"turned_mdeg": mdeg(0)}} {
		got := named(t, judge.Run([]string{"level.line"}, recorded(demo(t), "M+030", m, chosen{"with": "tape 8 m"}, nil)), "level.line")
		assert.Equal(t, gauge.Unsure, got.Verdict)
		assert.Contains(t, got.Settle, "both heights")
	}
	wrong := recorded(demo(t), "M+030", measured{"reading_mdeg": mdeg(0)}, chosen{"with": "tape 8 m"}, nil)
	assert.Equal(t, gauge.Unsure, judge.Run([]string{"level.line"}, wrong)[0].Verdict)
}

func TestSurveySize(t *testing.T) {
	for _, row := range []struct {
		width float64
		want  gauge.Verdict
	}{{4.9, gauge.Within}, {4.927, gauge.Within}, {4.93, gauge.Unsure}, {4.87, gauge.Unsure}, {4.85, gauge.Outside}} {
		c := recorded(demo(t), "", measured{"width_um": um(row.width), "length_um": um(6.1)}, chosen{"tape": "tape 8 m"}, nil)
		checks := judge.Run([]string{"survey.size"}, c)
		assert.Equal(t, row.want, named(t, checks, "survey.size width").Verdict, "%g", row.width)
		assert.Equal(t, gauge.Within, named(t, checks, "survey.size length").Verdict)
		assert.Len(t, checks, 2, "the height was not given")
	}
	p := demo(t)
	p.Room.Box = nil
	assert.Empty(t, judge.Run([]string{"survey.size"}, recorded(p, "", measured{"width_um": um(4.9)}, chosen{"tape": "tape 8 m"}, nil)))
}

// The diagonals of a parallelogram with sides 3 and 4 and an angle of 91° between
// them, by the law of cosines: √(25 ± 24·cos 91°).
func TestSurveySquare(t *testing.T) {
	for _, row := range []struct {
		off  float64 // degrees from square
		want gauge.Verdict
	}{{0, gauge.Within}, {1, gauge.Within}, {-1, gauge.Within}, {1.98, gauge.Unsure}, {3, gauge.Outside}, {-3, gauge.Outside}} {
		cos := math.Sin(row.off * degree)
		c := recorded(known(demo(t), 0.001), "", measured{
			"width_um": um(3), "length_um": um(4), "diagonal_1_um": um(math.Sqrt(25 + 24*cos)), "diagonal_2_um": um(math.Sqrt(25 - 24*cos)),
		}, chosen{"tape": "known"}, nil)
		got := named(t, judge.Run([]string{"survey.square"}, c), "survey.square")
		assert.InDelta(t, row.off, got.Measured/degree, 1e-4)
		assert.Equal(t, row.want, got.Verdict, "%g°", row.off)
	}
	three := recorded(known(demo(t), 0.001), "", measured{
		"width_um": um(3), "length_um": um(4), "diagonal_1_um": um(5.123), "diagonal_2_um": um(4.870)}, chosen{"tape": "known"}, nil)
	got := named(t, judge.Run([]string{"survey.square"}, three), "survey.square")
	assert.Equal(t, "The diagonals differ by 253 mm: the room is not square by 3.0°, or one reading is wrong.", got.Says)
	three.Measured["diagonal_2_um"] = um(0.1)
	three.Measured["diagonal_1_um"] = um(9)
	got = named(t, judge.Run([]string{"survey.square"}, three), "survey.square")
	assert.Equal(t, gauge.Outside, got.Verdict)
	assert.Contains(t, got.Says, "One reading is wrong")
	delete(three.Measured, "diagonal_2_um")
	require.Empty(t, judge.Run([]string{"survey.square"}, three), "diagonals are optional")
	assert.Empty(t, judge.Run([]string{"survey.square"}, recorded(&plan.Plan{}, "", nil, nil, nil)))
}

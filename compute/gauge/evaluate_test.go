package gauge_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/compute/gauge"
)

func propagated(t require.TestingT, standards ...float64) gauge.Uncertainty {
	names := []string{"ear point", "tape", "reading", "resolution"}
	sens, components := make([]float64, len(standards)), make([]gauge.Component, len(standards))
	for i, s := range standards {
		sens[i], components[i] = 1, gauge.Component{Name: names[i], Standard: s}
	}
	u, err := gauge.Propagate(sens, components)
	require.NoError(t, err)
	return u
}

// Worked by hand in millimetres: u = 3, U = 6, tolerance 30 around 100.
func TestEvaluate(t *testing.T) {
	u := propagated(t, 0.0024, 0.0018) // 3-4-5 triangle: 0.0030
	j := gauge.Evaluate(0.122, u, gauge.Around(0.1, 0.030), gauge.Micrometre)
	assert.Equal(t, gauge.Within, j.Verdict)
	assert.InDelta(t, 0.022, j.Deviation, 1e-12)
	assert.InDelta(t, 0.030, j.Tolerance, 1e-12)
	assert.InDelta(t, 0.006, j.Expanded, 1e-12)
	assert.InDelta(t, 0.996170, j.Probability, 1e-6) // Phi(8/3), gonum gives the same
	assert.Equal(t, "ear point", j.Contributions[0].Name)
	assert.InDelta(t, 0.64, j.Contributions[0].Share, 1e-12)
	assert.Equal(t, gauge.Settle{}, j.Settle)

	// 26 off: 4 of room need u = 2; with 1.8 from the tape the ear point may have sqrt(4 - 3.24) = 0.8718.
	j = gauge.Evaluate(0.126, u, gauge.Around(0.1, 0.030), gauge.Micrometre)
	assert.Equal(t, gauge.Unsure, j.Verdict)
	assert.Equal(t, gauge.SettleLargest, j.Settle.Kind)
	assert.Equal(t, "ear point", j.Settle.Largest)
	assert.InDelta(t, 0.0024, j.Settle.Now, 1e-12)
	assert.InDelta(t, 0.000871780, j.Settle.Need, 1e-9)
	assert.InDelta(t, 0.002, j.Settle.Total, 1e-12)

	// 27 off: 3 of room need u = 1.5, and the tape alone has 1.8.
	j = gauge.Evaluate(0.127, u, gauge.Around(0.1, 0.030), gauge.Micrometre)
	assert.Equal(t, gauge.Unsure, j.Verdict)
	assert.Equal(t, gauge.SettleSeveral, j.Settle.Kind)
	assert.InDelta(t, 0.0015, j.Settle.Total, 1e-12)

	for _, past := range []float64{0.130, 0.133, 0.070, 0.067} {
		j = gauge.Evaluate(past, u, gauge.Around(0.1, 0.030), gauge.Micrometre)
		assert.Equal(t, gauge.Unsure, j.Verdict)
		assert.Equal(t, gauge.SettleMove, j.Settle.Kind, "%g", past)
	}

	j = gauge.Evaluate(0.137, u, gauge.Around(0.1, 0.030), gauge.Micrometre)
	assert.Equal(t, gauge.Outside, j.Verdict)
	assert.Equal(t, gauge.SettleNone, j.Settle.Kind)
}

func TestEvaluate_OneSidedAndBad(t *testing.T) {
	u := propagated(t, 0.003)
	j := gauge.Evaluate(1.75, u, gauge.AtMost(1.8), gauge.Micrometre)
	assert.Equal(t, gauge.Within, j.Verdict)
	assert.InDelta(t, -0.05, j.Deviation, 1e-12)
	assert.Zero(t, j.Tolerance)

	j = gauge.Evaluate(math.NaN(), u, gauge.AtMost(1.8), gauge.Micrometre)
	assert.Equal(t, gauge.Unsure, j.Verdict)
	assert.Equal(t, gauge.Settle{}, j.Settle)
	assert.Zero(t, j.Probability)

	j = gauge.Evaluate(1.799, gauge.Uncertainty{Standard: 0.003}, gauge.AtMost(1.8), gauge.Micrometre)
	assert.Equal(t, gauge.SettleSeveral, j.Settle.Kind, "nothing is known of the parts")
	assert.InDelta(t, 0.0005, j.Settle.Total, 1e-12)
}

// What the advice asks for is what the verdict then takes.
func TestEvaluate_SettleKeepsItsPromise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		standards := make([]float64, rapid.IntRange(1, 4).Draw(t, "n"))
		for i := range standards {
			standards[i] = rapid.Float64Range(1e-4, 5e-3).Draw(t, "u")
		}
		l := gauge.Around(0, rapid.Float64Range(0, 0.03).Draw(t, "tolerance"))
		x := rapid.Float64Range(-0.04, 0.04).Draw(t, "x")
		u := propagated(t, standards...)
		j := gauge.Evaluate(x, u, l, gauge.Micrometre)
		switch s := j.Settle; s.Kind {
		case gauge.SettleNone:
			if j.Verdict == gauge.Unsure {
				t.Fatal("unsure without advice")
			}
		case gauge.SettleLargest:
			rest := []float64{s.Need}
			for _, c := range u.Contributions[1:] {
				rest = append(rest, c.Effect)
			}
			if v := l.Judge(x, gauge.K*gauge.Combine(rest...), gauge.Micrometre); v != gauge.Within || s.Need >= s.Now {
				t.Fatalf("with %s at %g instead of %g: %v", s.Largest, s.Need, s.Now, v)
			}
		case gauge.SettleSeveral:
			if v := l.Judge(x, gauge.K*s.Total, gauge.Micrometre); v != gauge.Within {
				t.Fatalf("with %g in all: %v", s.Total, v)
			}
			rest := 0.0
			for _, c := range u.Contributions[1:] {
				rest = math.Hypot(rest, c.Effect)
			}
			if v := l.Judge(x, gauge.K*rest-2e-6, gauge.Micrometre); v == gauge.Within && rest*gauge.K > 2e-6 && gauge.K*(s.Total-rest) > 2e-6 {
				t.Fatal("the largest alone would have done")
			}
		case gauge.SettleMove:
			if v := l.Judge(x, gauge.Micrometre, gauge.Micrometre); v == gauge.Within {
				t.Fatal("a better instrument would have done")
			}
		}
	})
}

func TestEvaluate_AllocatesNothing(t *testing.T) {
	u := propagated(t, 0.0024, 0.0018)
	l := gauge.Around(0.1, 0.030)
	assert.Zero(t, testing.AllocsPerRun(100, func() { gauge.Evaluate(0.126, u, l, gauge.Micrometre) }))
}

func BenchmarkEvaluate(b *testing.B) {
	u := propagated(b, 0.0024, 0.0018, 0.001)
	l := gauge.Around(0.1, 0.030)
	b.ReportAllocs()
	for b.Loop() {
		gauge.Evaluate(0.126, u, l, gauge.Micrometre)
	}
}

package gauge_test

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/compute/gauge"
)

// Rows in millimetres with a quantum of a micrometre. The rule is ILAC-G8:09/2019 §4.2.3 (pass, conditional pass or fail,
// fail); the conditional results are unsure here, and the boundary itself counts as good.
func TestJudge(t *testing.T) {
	for _, row := range []struct {
		deviation, tolerance, expanded float64
		want                           gauge.Verdict
		source                         string
	}{
		{24, 30, 6, gauge.Within, "ILAC-G8 rule, worked: 24 + 6 = 30"},
		{24.01, 30, 6, gauge.Unsure, "ILAC-G8 rule: conditional pass"},
		{30, 30, 6, gauge.Unsure, "ILAC-G8 rule: conditional pass"},
		{32, 30, 6, gauge.Unsure, "ILAC-G8 rule: conditional fail"},
		{36, 30, 6, gauge.Unsure, "boundary: 36 - 6 is not above 30"},
		{36.01, 30, 6, gauge.Outside, "ILAC-G8 rule: fail"},
		{0, 30, 6, gauge.Within, "ILAC-G8 rule"},
		{0.0017, 0.003, 0.001, gauge.Within, "laboratory page on ILAC-G8 (talalspecialbolt.com): 0.0027 <= 0.0030"},
		{0.0025, 0.003, 0.001, gauge.Unsure, "same page: 0.0035 > 0.0030, grey zone"},
		{0, 6, 6, gauge.Within, "boundary"},
		{0, 5.999, 6, gauge.Unsure, "guard band wider than the tolerance"},
		{5, 0, 0, gauge.Outside, "no tolerance, no uncertainty"},
		{0, 0, 0, gauge.Within, "no tolerance, no uncertainty"},
	} {
		for _, sign := range []float64{1, -1} {
			got := gauge.Judge(sign*row.deviation, row.tolerance, row.expanded, 1e-6)
			assert.Equal(t, row.want, got, "%g +- %g, U %g: %s", sign*row.deviation, row.tolerance, row.expanded, row.source)
		}
	}
}

func TestJudge_ComparesWholeQuanta(t *testing.T) {
	// 0.1 + 0.2 > 0.3 in binary floating point, but not in micrometres.
	deviation, expanded, tolerance := 0.1, 0.2, 0.3
	require.Greater(t, deviation+expanded, tolerance)
	assert.Equal(t, gauge.Within, gauge.Judge(deviation, tolerance, expanded, gauge.Micrometre))
	assert.Equal(t, gauge.Within, gauge.Judge(0.0100004, 0.01, 0, gauge.Micrometre))
	assert.Equal(t, gauge.Outside, gauge.Judge(0.0100006, 0.01, 0, gauge.Micrometre))
	assert.Equal(t, gauge.Within, gauge.Judge(0.0104, 0.01, 0, 0.001))
}

func TestJudge_NothingSureFromBadInput(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, in := range [][4]float64{
		{nan, 1, 0, 1e-6}, {inf, 1, 0, 1e-6}, {-inf, 1, 0, 1e-6}, {0, nan, 0, 1e-6}, {0, -1, 0, 1e-6}, {2, -1, 0, 1e-6},
		{0, 1, nan, 1e-6}, {0, 1, inf, 1e-6}, {0, 1, -0.1, 1e-6}, {0, 1, 0, 0}, {0, 1, 0, -1}, {0, 1, 0, nan},
		{1e308, 1, 0, 1e-6}, {0, 1, 1e308, 1e-6},
	} {
		assert.Equal(t, gauge.Unsure, gauge.Judge(in[0], in[1], in[2], in[3]), "%v", in)
	}
	assert.Equal(t, gauge.Unsure, gauge.Limits{Lower: 2, Upper: 1}.Judge(1.5, 0, 1e-6))
	assert.Equal(t, gauge.Unsure, gauge.Limits{Lower: nan, Upper: 1}.Judge(0, 0, 1e-6))
	assert.Equal(t, gauge.Outside, gauge.Judge(1e6, 1, 0, gauge.Micrometre), "large but real numbers stay judged")
}

func TestLimits_Judge_OneSided(t *testing.T) { // the same rule with one limit, by hand
	for _, row := range []struct {
		limits   gauge.Limits
		value, u float64
		want     gauge.Verdict
	}{
		{gauge.AtMost(1.8), 1.7, 0.1, gauge.Within},
		{gauge.AtMost(1.8), 1.75, 0.1, gauge.Unsure},
		{gauge.AtMost(1.8), 1.9, 0.1, gauge.Unsure},
		{gauge.AtMost(1.8), 1.901, 0.1, gauge.Outside},
		{gauge.AtMost(1.8), -1e9, 0.1, gauge.Within},
		{gauge.AtLeast(1.2), 1.3, 0.1, gauge.Within},
		{gauge.AtLeast(1.2), 1.2, 0.1, gauge.Unsure},
		{gauge.AtLeast(1.2), 1.099, 0.1, gauge.Outside},
		{gauge.Interval(1, 2), 1.9, 0.1, gauge.Within},
		{gauge.Interval(1, 2), 1.5, 0.6, gauge.Unsure},
		{gauge.Interval(1, 2), 0.8, 0.1, gauge.Outside},
		{gauge.Around(0.5, 0.1), 0.45, 0.05, gauge.Within},
		{gauge.Limits{Lower: math.Inf(-1), Upper: math.Inf(1)}, 5, 1, gauge.Within},
	} {
		assert.Equal(t, row.want, row.limits.Judge(row.value, row.u, 1e-6), "%+v at %g, U %g", row.limits, row.value, row.u)
	}
}

func TestVerdict_Text(t *testing.T) {
	for v, want := range map[gauge.Verdict]string{gauge.Within: "within", gauge.Outside: "outside", gauge.Unsure: "unsure"} {
		assert.Equal(t, want, v.String())
		text, err := json.Marshal(map[string]gauge.Verdict{"verdict": v})
		require.NoError(t, err)
		assert.JSONEq(t, `{"verdict":"`+want+`"}`, string(text))
		var back map[string]gauge.Verdict
		require.NoError(t, json.Unmarshal(text, &back))
		assert.Equal(t, v, back["verdict"])
	}
	var v gauge.Verdict
	assert.Equal(t, gauge.Unsure, v, "the zero value claims nothing")
	assert.ErrorContains(t, v.UnmarshalText([]byte("Within")), "want within, outside or unsure")
	_, err := gauge.Verdict(9).MarshalText()
	assert.ErrorContains(t, err, "got 9")
}

var verdictRank = map[gauge.Verdict]int{gauge.Within: 0, gauge.Unsure: 1, gauge.Outside: 2}

func drawCase(t *rapid.T) (deviation, tolerance, expanded float64) {
	return rapid.Float64Range(-0.2, 0.2).Draw(t, "deviation"), rapid.Float64Range(0, 0.1).Draw(t, "tolerance"), rapid.Float64Range(0, 0.05).Draw(t, "expanded")
}

func TestJudge_Properties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d, tol, u := drawCase(t)
		more := rapid.Float64Range(0, 0.1).Draw(t, "more")
		judge := func(d, tol, u float64) gauge.Verdict { return gauge.Judge(d, tol, u, gauge.Micrometre) }
		v := judge(d, tol, u)
		if judge(-d, tol, u) != v {
			t.Fatal("not symmetric")
		}
		if far := judge(d+math.Copysign(more, d), tol, u); verdictRank[far] < verdictRank[v] {
			t.Fatalf("further off: %v became %v", v, far)
		}
		if wide := judge(d, tol+more, u); verdictRank[wide] > verdictRank[v] {
			t.Fatalf("a wider tolerance: %v became %v", v, wide)
		}
		if worse := judge(d, tol, u+more); worse != v && worse != gauge.Unsure {
			t.Fatalf("a worse instrument: %v became %v", v, worse)
		}
		p := gauge.Around(0, tol).Conformance(d, u/gauge.K)
		// Half a quantum of rounding moves the probability by less than 0.0002 at the smallest u that matters here.
		if u > 1e-3 && (v == gauge.Within && p < 0.954 || v == gauge.Outside && p > 0.0229) {
			t.Fatalf("%v with probability %g", v, p)
		}
	})
}

func BenchmarkJudge(b *testing.B) {
	b.ReportAllocs()
	var v gauge.Verdict
	for b.Loop() {
		v = gauge.Judge(0.018, 0.03, 0.006, gauge.Micrometre)
	}
	_ = v
}

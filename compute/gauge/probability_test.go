package gauge_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"hangtrue/compute/gauge"
)

func TestLimits_Conformance(t *testing.T) {
	for _, row := range []struct {
		limits     gauge.Limits
		value, u   float64
		want, tol  float64
		provenance string
	}{
		{gauge.Interval(9, 11), 10, 0.4, 1 - 0.01242, 1e-5, "sandialabs/suncal at d44c2cc1, test/test_risk.py"},
		{gauge.Interval(9, 11), 10.5, 0.4, 1 - 0.10574, 1e-5, "same"},
		{gauge.AtLeast(9), 10.5, 0.4, 1 - 0.00009, 1e-5, "same, lower side alone"},
		{gauge.AtMost(11), 10.5, 0.4, 1 - 0.10565, 1e-5, "same, upper side alone"},
		{gauge.Interval(9, 11), 12, 0.4, 1 - 0.99379, 1e-5, "same"},
		{gauge.Interval(12.5, 16.3), 13.6, 1.8, 0.6626, 1e-4, "JCGM 106:2012 clause 7, inputs from memory, not verified; prints 0.66"},
		{gauge.AtMost(-5.40), -5.47, 0.05, 0.9192, 1e-4, "JCGM 106:2012 clause 7, inputs from memory, not verified; prints 0.92"},
		{gauge.AtLeast(490), 509.7, 8.6, 0.9890, 1e-4, "JCGM 106:2012 clause 7, inputs from memory, not verified; prints 0.99"},
		{gauge.Around(0, 30), 20, 3, 0.999571, 1e-6, "worked from the formula in another language"},
		{gauge.Around(0, 30), 24, 3, 0.977250, 1e-6, "same"},
		{gauge.Around(0, 30), 28, 3, 0.747507, 1e-6, "same"},
		{gauge.Around(0, 30), 30, 3, 0.5, 1e-6, "same"},
		{gauge.Around(0, 30), 32, 3, 0.25249, 1e-5, "same"},
		{gauge.Around(0, 30), 36, 3, 0.022750, 1e-6, "same"},
		{gauge.Around(0, 30), 30, 0, 1, 0, "no uncertainty: the limit counts as good"},
		{gauge.Around(0, 30), 30.1, 0, 0, 0, "no uncertainty"},
		{gauge.Around(0, 30), math.NaN(), 3, 0, 0, "bad input"},
		{gauge.Around(0, 30), 0, math.NaN(), 0, 0, "bad input"},
		{gauge.Around(0, 30), 0, -1, 0, 0, "bad input"},
		{gauge.Interval(2, 1), 1.5, 0.1, 0, 0, "nothing permitted"},
		{gauge.Limits{Lower: math.Inf(-1), Upper: math.Inf(1)}, 5, 1, 1, 0, "everything permitted"},
	} {
		assert.InDelta(t, row.want, row.limits.Conformance(row.value, row.u), row.tol, "%+v at %g, u %g: %s", row.limits, row.value, row.u, row.provenance)
	}
}

func TestPhiInverse(t *testing.T) {
	// Quantiles found in any table of the normal distribution, six decimals worked in another language.
	assert.InDelta(t, 1.644854, gauge.PhiInverse(0.95), 1e-6)
	assert.InDelta(t, 1.959964, gauge.PhiInverse(0.975), 1e-6)
	for _, p := range []float64{0, 1, -0.1, 1.1, math.NaN()} {
		assert.True(t, math.IsNaN(gauge.PhiInverse(p)))
	}
}

// gonum's normal and Student distributions are the independent reference.
func TestPhi_Gonum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(-8, 8).Draw(t, "x")
		if want := distuv.UnitNormal.CDF(x); math.Abs(gauge.Phi(x)-want) > 1e-14 {
			t.Fatalf("Phi(%g) = %g, gonum %g", x, gauge.Phi(x), want)
		}
		p := rapid.Float64Range(1e-9, 1-1e-9).Draw(t, "p")
		if want := distuv.UnitNormal.Quantile(p); math.Abs(gauge.PhiInverse(p)-want) > 1e-7 {
			t.Fatalf("PhiInverse(%g) = %.12g, gonum %.12g", p, gauge.PhiInverse(p), want)
		}
	})
}

func TestCoverage_Gonum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.Float64Range(0.5, 0.999).Draw(t, "p")
		nu := rapid.Float64Range(1, 300).Draw(t, "nu")
		want := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: nu}.Quantile((1 + p) / 2)
		if got := gauge.Coverage(p, nu); math.Abs(got-want) > 1e-7*want {
			t.Fatalf("Coverage(%g, %g) = %.12g, gonum %.12g", p, nu, got, want)
		}
	})
	assert.InDelta(t, 1.959964, gauge.Coverage(0.95, 0), 1e-6)
	assert.InDelta(t, math.Tan(math.Pi/2*0.95), gauge.Coverage(0.95, 1), 1e-9) // one degree of freedom is Cauchy's distribution
	for _, bad := range [][2]float64{{0, 5}, {1, 5}, {math.NaN(), 5}, {0.95, 0.5}, {0.95, -1}, {0.95, math.NaN()}} {
		assert.True(t, math.IsNaN(gauge.Coverage(bad[0], bad[1])), "%v", bad)
	}
}

func TestConformance_NearZeroDistance(t *testing.T) { // worked from the formulas in another language, six decimals
	for _, row := range []struct{ z, disc, ball, tol float64 }{
		{1, 0.393469, 0.198748, 1e-6},
		{2, 0.864665, 0.738536, 1e-6},
		{2.4477, 0.95, math.NaN(), 1e-5},
		{2.7955, math.NaN(), 0.95, 1e-5},
		{3, math.NaN(), 0.970709, 1e-6},
		{0, 0, 0, 0},
	} {
		if !math.IsNaN(row.disc) {
			assert.InDelta(t, row.disc, gauge.ConformanceDisc(row.z*0.003, 0.003), row.tol)
		}
		if !math.IsNaN(row.ball) {
			assert.InDelta(t, row.ball, gauge.ConformanceBall(row.z*0.003, 0.003), row.tol)
		}
	}
	for _, f := range []func(t, s float64) float64{gauge.ConformanceDisc, gauge.ConformanceBall} {
		assert.Equal(t, 1.0, f(1, 0))
		assert.Equal(t, 1.0, f(1e300, 1e-300))
		assert.Equal(t, 0.0, f(-1, 1))
		assert.Equal(t, 0.0, f(1, -1))
		assert.Equal(t, 0.0, f(math.NaN(), 1))
		assert.Equal(t, 0.0, f(1, math.Inf(1)))
	}
}

// The same probabilities by drawing points: a fraction of 200,000 scatters by at most 0.0011, four times that is 0.0045.
func TestConformance_NearZeroDistance_MonteCarlo(t *testing.T) {
	n := distuv.Normal{Mu: 0, Sigma: 1, Src: rand.NewPCG(3, 4)}
	const draws, z = 200_000, 1.7
	disc, ball := 0, 0
	for range draws {
		a, b, c := n.Rand(), n.Rand(), n.Rand()
		if a*a+b*b < z*z {
			disc++
			if a*a+b*b+c*c < z*z {
				ball++
			}
		}
	}
	assert.InDelta(t, float64(disc)/draws, gauge.ConformanceDisc(z, 1), 0.0045)
	assert.InDelta(t, float64(ball)/draws, gauge.ConformanceBall(z, 1), 0.0045)
}

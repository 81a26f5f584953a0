package gauge_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"hangtrue/compute/gauge"
)

// JCGM 100:2008 Annex H.1, end gauge: inputs and rounded results as carried by two open libraries (MSLNZ/GTC at 1c165fce,
// docs/API/GUM_H1.rst; sandialabs/suncal at d44c2cc1). Lengths in nanometres.
func TestPropagate_GUM_H1(t *testing.T) {
	const ls, alpha, theta = 50_000_623.0, 11.5e-6, -0.1
	components := []gauge.Component{
		{Name: "standard", Standard: 25, Freedom: 18},
		{Name: "repeats", Standard: 5.8, Freedom: 24},
		{Name: "comparator, random", Standard: 3.9, Freedom: 5},
		{Name: "comparator, systematic", Standard: 6.7, Freedom: 8},
		{Name: "expansion difference", Standard: gauge.Rectangular(1e-6), Freedom: 50},
		{Name: "temperature difference", Standard: gauge.Rectangular(0.05), Freedom: 2},
		{Name: "expansion", Standard: gauge.Rectangular(2e-6)},
		{Name: "temperature", Standard: 0.41},
	}
	sens := []float64{1, 1, 1, 1, -ls * theta, -ls * alpha, 0, 0}
	u, err := gauge.Propagate(sens, components)
	require.NoError(t, err)
	assert.InDelta(t, 31.66, u.Standard, 0.005) // prints 32; the digits are worked from the inputs
	assert.InDelta(t, 16.7, u.Freedom, 0.1)     // 16.7 in the guide, from memory, not verified; 16.75 worked
	assert.Equal(t, 50_000_838.0, ls+215-ls*(0*theta+alpha*0), "l_S + d")

	var names []string
	var effects []float64
	share := 0.0
	for _, c := range u.Contributions {
		names, effects, share = append(names, c.Name), append(effects, math.Round(c.Effect*1000)/1000), share+c.Share
	}
	assert.Equal(t, []float64{25, 16.599, 6.7, 5.8, 3.9, 2.887, 0, 0}, effects)
	assert.Equal(t, "standard", names[0])
	assert.Equal(t, "temperature difference", names[1])
	assert.InDelta(t, 1, share, 1e-12)

	d, err := gauge.Propagate([]float64{1, 1, 1}, components[1:4])
	require.NoError(t, err)
	assert.InDelta(t, 9.7, d.Standard, 0.05) // u(d) as printed
	assert.InDelta(t, 9.682, d.Standard, 0.0005)

	// Expanded at 99 %: 93 nm in the guide with t = 2.92 for 16 degrees of freedom, both from memory, not verified.
	assert.InDelta(t, 2.92, gauge.Coverage(0.99, 16), 0.005)
	assert.InDelta(t, 93, gauge.Coverage(0.99, 16)*32, 0.5)
}

// JCGM 100:2008 Annex H.3, calibration line (MSLNZ/GTC at 1c165fce, docs/API/GUM_H3.rst). The line's coefficients are linear
// in the observations, so the law of propagation gives their uncertainties from that of one observation.
func TestPropagate_GUM_H3(t *testing.T) {
	temperature := []float64{21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511}
	b := []float64{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160}
	n := float64(len(b))
	x := make([]float64, len(b))
	for i, c := range temperature {
		x[i] = c - 20
	}
	mean := stat.Mean(x, nil)
	sxx := 0.0
	for _, v := range x {
		sxx += (v - mean) * (v - mean)
	}
	y1, y2 := stat.LinearRegression(x, b, nil, false)
	assert.InDelta(t, -0.1712, y1, 0.00005)
	assert.InDelta(t, 0.00218, y2, 0.000005)

	squares := 0.0
	slope, intercept := make([]float64, len(b)), make([]float64, len(b))
	for i, v := range x {
		squares += math.Pow(b[i]-y1-y2*v, 2)
		slope[i] = (v - mean) / sxx
		intercept[i] = 1/n - mean*slope[i]
	}
	assert.InDelta(t, 0.000110096583109, squares, 1e-12)
	each := make([]gauge.Component, len(b))
	for i := range each {
		each[i] = gauge.Component{Name: "observation", Standard: math.Sqrt(squares / (n - 2))}
	}
	u1, err := gauge.Propagate(intercept, each)
	require.NoError(t, err)
	u2, err := gauge.Propagate(slope, each)
	require.NoError(t, err)
	assert.InDelta(t, 0.0029, u1.Standard, 0.00005)
	assert.InDelta(t, 0.00067, u2.Standard, 0.000005)

	// The correction at 30 degrees with the printed correlation of the coefficients, -0.930.
	const r = -0.930
	u30, err := gauge.Correlated([]float64{1, 10}, []float64{u1.Standard, u2.Standard}, [][]float64{{1, r}, {r, 1}})
	require.NoError(t, err)
	assert.InDelta(t, -0.1494, y1+10*y2, 0.00005)
	assert.InDelta(t, 0.0041, u30, 0.00005)
}

func TestCombine(t *testing.T) { // worked from the formula in another language
	u := gauge.Combine(1.5, 0.64, 0.5)
	assert.InDelta(t, 1.705755, u, 1e-6)
	assert.InDelta(t, 3.411510, gauge.Uncertainty{Standard: u}.Expanded(), 1e-6)
	assert.Zero(t, gauge.Combine())
}

func TestPropagate_Extremes(t *testing.T) {
	u, err := gauge.Propagate([]float64{1, 1}, []gauge.Component{{Standard: 1e-200, Freedom: 4}, {Standard: 1e-200}})
	require.NoError(t, err)
	assert.InEpsilon(t, math.Sqrt2*1e-200, u.Standard, 1e-12)
	assert.InDelta(t, 16, u.Freedom, 1e-9) // (1+1)^2 / (1/4)
	u, err = gauge.Propagate(nil, nil)
	require.NoError(t, err)
	assert.Zero(t, u.Standard)
	assert.Zero(t, u.Freedom)
}

func TestPropagate_Refuses(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, row := range []struct {
		sens []float64
		c    []gauge.Component
	}{
		{[]float64{1}, nil},
		{[]float64{nan}, []gauge.Component{{Name: "tape"}}},
		{[]float64{inf}, []gauge.Component{{Name: "tape", Standard: 1}}},
		{[]float64{1}, []gauge.Component{{Name: "tape", Standard: nan}}},
		{[]float64{1}, []gauge.Component{{Name: "tape", Standard: -1}}},
		{[]float64{1}, []gauge.Component{{Name: "tape", Standard: inf}}},
		{[]float64{1}, []gauge.Component{{Name: "tape", Standard: 1, Freedom: -1}}},
		{[]float64{1e308, 1e308}, []gauge.Component{{Name: "tape", Standard: 1}, {Name: "hand", Standard: 1.7}}},
	} {
		u, err := gauge.Propagate(row.sens, row.c)
		require.ErrorIs(t, err, gauge.ErrInput)
		assert.Zero(t, u.Standard)
	}
	_, err := gauge.Propagate([]float64{nan}, []gauge.Component{{Name: "tape"}})
	assert.ErrorContains(t, err, "tape")
}

func TestCorrelated(t *testing.T) { // limits of the formula: full correlation adds or cancels, none is the root of squares
	for _, row := range []struct{ r, want float64 }{{0, 5}, {1, 7}, {-1, 1}} {
		u, err := gauge.Correlated([]float64{1, 1}, []float64{3, 4}, [][]float64{{1, row.r}, {row.r, 1}})
		require.NoError(t, err)
		assert.InDelta(t, row.want, u, 1e-12)
	}
	for _, bad := range [][][]float64{{{1}}, {{1, 0.5}, {0.4, 1}}, {{1, 2}, {2, 1}}, {{0.9, 0}, {0, 1}}, {{1, 0}}, {{1, math.NaN()}, {math.NaN(), 1}}} {
		_, err := gauge.Correlated([]float64{1, 1}, []float64{3, 4}, bad)
		assert.ErrorIs(t, err, gauge.ErrInput, "%v", bad)
	}
}

func TestRepeat(t *testing.T) {
	readings := []float64{1.254, 1.256, 1.255, 1.2545}
	mean, c, err := gauge.Repeat(readings)
	require.NoError(t, err)
	wantMean, wantS := stat.MeanStdDev(readings, nil)
	assert.InDelta(t, wantMean, mean, 1e-15)
	assert.InDelta(t, stat.StdErr(wantS, 4), c.Standard, 1e-15)
	assert.Equal(t, 3.0, c.Freedom)

	mean, c, err = gauge.Repeat([]float64{1.1, 1.1, 1.1})
	require.NoError(t, err)
	assert.Equal(t, 1.1, mean)
	assert.Zero(t, c.Standard)

	_, _, err = gauge.Repeat([]float64{1})
	assert.ErrorIs(t, err, gauge.ErrReadings)
	_, _, err = gauge.Repeat([]float64{1, math.NaN()})
	assert.ErrorIs(t, err, gauge.ErrInput)
	_, _, err = gauge.Repeat([]float64{-math.MaxFloat64, math.MaxFloat64})
	assert.ErrorIs(t, err, gauge.ErrInput)
}

func TestDistance(t *testing.T) {
	d, u, err := gauge.Distance([]float64{12, -9, 20}, []float64{1.5, 1.5, 2}) // worked from the formula in another language
	require.NoError(t, err)
	assert.InDelta(t, 25, d, 1e-12)
	assert.InDelta(t, 1.835756, u, 1e-6)
	d, u, err = gauge.Distance([]float64{0, 0}, []float64{1, 2})
	require.NoError(t, err)
	assert.Zero(t, d)
	assert.Equal(t, 2.0, u)
	for _, bad := range [][2][]float64{{{1}, {}}, {{math.NaN()}, {1}}, {{1}, {-1}}, {{1}, {math.Inf(1)}}} {
		_, _, err = gauge.Distance(bad[0], bad[1])
		assert.ErrorIs(t, err, gauge.ErrInput)
	}
}

// The azimuth atan2(y, x) of a point whose two coordinates are measured: the law of propagation against 200,000 draws.
// 0.5 % is four times the scatter of a standard deviation estimated from as many, 1/sqrt(2n) = 0.16 %.
func TestPropagate_MonteCarlo(t *testing.T) {
	const x, y, ux, uy = 1.8, 1.3, 0.003, 0.005
	r2 := x*x + y*y
	u, err := gauge.Propagate([]float64{-y / r2, x / r2}, []gauge.Component{{Name: "x", Standard: ux}, {Name: "y", Standard: uy}})
	require.NoError(t, err)
	source := rand.NewPCG(1, 2)
	nx, ny := distuv.Normal{Mu: x, Sigma: ux, Src: source}, distuv.Normal{Mu: y, Sigma: uy, Src: source}
	angles := make([]float64, 200_000)
	for i := range angles {
		angles[i] = math.Atan2(ny.Rand(), nx.Rand())
	}
	assert.InEpsilon(t, stat.StdDev(angles, nil), u.Standard, 0.005)
	assert.Equal(t, "y", u.Contributions[0].Name)
}

func TestPropagate_Properties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "n")
		sens, components := make([]float64, n), make([]gauge.Component, n)
		effects := make([]float64, n)
		smallest := math.Inf(1)
		for i := range n {
			sens[i] = rapid.Float64Range(-3, 3).Draw(t, "sens")
			components[i] = gauge.Component{
				Standard: rapid.Float64Range(1e-6, 0.01).Draw(t, "u"),
				Freedom:  float64(rapid.IntRange(0, 20).Draw(t, "freedom")),
			}
			effects[i] = sens[i] * components[i].Standard
			if f := components[i].Freedom; f > 0 {
				smallest = min(smallest, f)
			}
		}
		u, err := gauge.Propagate(sens, components)
		if err != nil {
			t.Fatal(err)
		}
		if want := gauge.Combine(effects...); math.Abs(u.Standard-want) > 1e-12*want {
			t.Fatalf("%g, root of squares %g", u.Standard, want)
		}
		// Welch-Satterthwaite never gives fewer degrees of freedom than the worst component has.
		if u.Freedom != 0 && u.Freedom < smallest*(1-1e-12) {
			t.Fatalf("freedom %g below %g", u.Freedom, smallest)
		}
		for i := 1; i < n; i++ {
			if u.Contributions[i].Share > u.Contributions[i-1].Share {
				t.Fatal("shares not in order")
			}
		}
	})
}

func BenchmarkPropagate(b *testing.B) {
	components := []gauge.Component{{Name: "along", Standard: 0.0011}, {Name: "up", Standard: 0.0013}, {Name: "ear", Standard: 0.005}}
	sens := []float64{0.3, 0.2, 0.4}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := gauge.Propagate(sens, components); err != nil {
			b.Fatal(err)
		}
	}
}

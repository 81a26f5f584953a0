package place_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/optimize"
	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"hangtrue/compute/place"
)

func vec(x, y, z float64) place.Vec { return place.Vec{X: x, Y: y, Z: z} }

// Reference points of the two examples in A. Norrdine, "An Algebraic Solution to the Multilateration Problem", IPIN 2012.
var (
	p37  = vec(27.297, -4.953, 1.470)
	p331 = vec(25.475, -6.124, 2.360)
	p102 = vec(22.590, 0.524, 1.200)
	p31  = vec(20.693, -4.849, 1.93)
	p43  = vec(17.113, -3.003, 2.17)
	p208 = vec(22.554, 4.727, 1.77)
	p101 = vec(22.447, -7.880, 1.6)
)

func ranges(u float64, pairs ...any) []place.Range {
	var out []place.Range
	for i := 0; i < len(pairs); i += 2 {
		out = append(out, place.Range{From: pairs[i].(place.Vec), Distance: pairs[i+1].(float64), U: u})
	}
	return out
}

// Three spheres: both mirror solutions of examples A and B of the paper, to its four decimals.
func TestFixPoint_ThreePoints(t *testing.T) {
	for name, row := range map[string]struct {
		ranges []place.Range
		want   []place.Vec
	}{
		"A": {ranges(0, p37, 3.851, p331, 3.875, p102, 3.514), []place.Vec{vec(24.3506, -2.4811, 1.6667), vec(24.3123, -2.5205, 1.5365)}},
		"B": {ranges(0, p37, 3.652, p31, 7.036, p102, 4.586), []place.Vec{vec(26.7726, -1.3389, 1.4584), vec(26.7234, -1.4152, 0.7685)}},
	} {
		fixes, err := place.FixPoint(row.ranges)
		require.NoError(t, err, name)
		require.Len(t, fixes, 2, name)
		got := fixes
		if got[0].Point.Z < got[1].Point.Z {
			got[0], got[1] = got[1], got[0]
		}
		for i, want := range row.want {
			assertVec(t, want, got[i].Point, 1e-4, name)
			assert.Zero(t, got[i].Scale)
			assert.Less(t, got[i].Squares, 1e-16)
			assert.True(t, got[i].Weak, name) // nearly in the plane of the known points
		}
	}
}

// Example B with all six ranges, two of them shortened by what the paper says the walls add. The expected values are a
// non-linear least-squares solution with equal weights made apart from this program; gonum's minimiser must agree.
func TestFixPoint_SixPoints(t *testing.T) {
	for name, row := range map[string]struct {
		ranges         []place.Range
		want           place.Vec
		squares, scale float64
		weak           bool
	}{
		"shortened": {ranges(0, p37, 3.652, p31, 7.036, p102, 4.586, p43, 9.840, p208, 7.402, p101, 7.883), vec(26.7840, -1.3287, 1.4526), 0.001029, 0.0185, true},
		"as read":   {ranges(0, p37, 3.652, p31, 7.036, p102, 4.586, p43, 9.960, p208, 7.542, p101, 7.883), vec(26.7827, -1.3992, 0.7564), 0.011768, 0.0626, false},
	} {
		fixes, err := place.FixPoint(row.ranges)
		require.NoError(t, err, name)
		best := fixes[0]
		assertVec(t, row.want, best.Point, 1e-4, name)
		assert.InDelta(t, row.squares, best.Squares, 6e-7, name)
		assert.InDelta(t, row.scale, best.Scale, 6e-5, name)
		assert.Equal(t, row.weak, best.Weak, name)
		found := minimise(t, row.ranges, best.Point)
		assertVec(t, found, best.Point, 1e-5, name)
	}
	fixes, err := place.FixPoint(ranges(0, p37, 3.652, p31, 7.036, p102, 4.586, p43, 9.840, p208, 7.402, p101, 7.883))
	require.NoError(t, err)
	for i, sd := range []float64{0.0122, 0.0116, 0.1839} {
		assert.InDelta(t, sd, math.Sqrt(fixes[0].Covariance[i][i]), 6e-5)
	}
}

// minimise is gonum's least sum of squared residuals near a place.
func minimise(t *testing.T, ranges []place.Range, near place.Vec) place.Vec {
	squares := func(x []float64) float64 {
		var sum float64
		for _, r := range ranges {
			v := r.Distance - vec(x[0], x[1], x[2]).Sub(r.From).Norm()
			w := 1.0
			if r.U > 0 {
				w = 1 / (r.U * r.U)
			}
			sum += w * v * v
		}
		return sum
	}
	start := []float64{near.X + 0.01, near.Y - 0.02, near.Z + 0.03}
	result, err := optimize.Minimize(optimize.Problem{Func: squares}, start, &optimize.Settings{
		Converger: &optimize.FunctionConverge{Absolute: 1e-17, Iterations: 400}, FuncEvaluations: 100000}, &optimize.NelderMead{})
	require.NoError(t, err)
	return vec(result.X[0], result.X[1], result.X[2])
}

// Known points (0,0), (4,0), (0,3) on a floor and distances 2.503, 2.498, 2.502: worked apart from this program.
func TestFixSpot_ThreePoints(t *testing.T) {
	floor := box(t, 6, 6, 2.4)[5]
	fixes, err := place.FixSpot(&floor, 0, ranges(0, vec(0, 0, 0), 2.503, vec(4, 0, 0), 2.498, vec(0, 3, 0), 2.502))
	require.NoError(t, err)
	require.Len(t, fixes, 1)
	assert.InDeltaSlice(t, []float64{2.003125, 1.500833}, []float64{fixes[0].Spot.Along, fixes[0].Spot.Up}, 1.1e-6)
	assert.False(t, fixes[0].Weak)
	assertVec(t, floor.At(fixes[0].Spot), fixes[0].Point, 1e-12)
}

// An exercise of geodetic adjustment (Gauss–Markov model): five distances, two fixed and two new points, coordinates in
// Gauss–Krüger metres. The exercise prints no answer; the solution was worked apart from this program.
func TestAdjustNet(t *testing.T) {
	points := []place.Spot{at(3494070, 5795260), at(3494260, 5795250), at(3494082.82, 5795440.63), at(3494259.39, 5795448.35)}
	fixed := []bool{false, false, true, true}
	ties := []place.Tie{{A: 0, B: 2, Distance: 181.868}, {A: 0, B: 3, Distance: 268.869}, {A: 0, B: 1, Distance: 193.284}, {A: 1, B: 2, Distance: 258.015}, {A: 1, B: 3, Distance: 193.999}}
	net, err := place.AdjustNet(points, fixed, ties)
	require.NoError(t, err)
	assert.InDelta(t, 3494068.1467, net.Points[0].Along, 1e-3)
	assert.InDelta(t, 5795259.3572, net.Points[0].Up, 1e-3)
	assert.InDelta(t, 3494261.3641, net.Points[1].Along, 1e-3)
	assert.InDelta(t, 5795254.3632, net.Points[1].Up, 1e-3)
	assert.Equal(t, points[2:], net.Points[2:])
	assert.InDeltaSlice(t, []float64{0.0023, -0.0032, 0.0021, -0.0031, 0.0022}, net.Residuals, 6e-5)
	assert.InDelta(t, 34.005e-6, net.Squares, 1e-8)
	assert.False(t, net.Weak)

	for name, row := range map[string]struct {
		points []place.Spot
		fixed  []bool
		ties   []place.Tie
		want   error
	}{
		"marks":       {points, fixed[:3], ties, place.ErrNumber},
		"nan":         {[]place.Spot{at(math.NaN(), 0), at(1, 1), at(2, 2), at(3, 3)}, fixed, ties, place.ErrNumber},
		"few ties":    {points, fixed, ties[:3], place.ErrReferences},
		"none free":   {points, []bool{true, true, true, true}, ties, place.ErrReferences},
		"to itself":   {points, fixed, append([]place.Tie{{A: 1, B: 1}}, ties...), place.ErrNumber},
		"no such":     {points, fixed, append([]place.Tie{{A: 1, B: 9}}, ties...), place.ErrNumber},
		"one known":   {points, fixed, append([]place.Tie{{A: 0, B: 2, Distance: 1, U: 1}}, ties...), place.ErrNumber},
		"not held":    {points, fixed, []place.Tie{ties[0], ties[1], ties[0], ties[1]}, place.ErrWeak},
		"bad measure": {points, fixed, append([]place.Tie{{A: 0, B: 2, Distance: math.Inf(1)}}, ties...), place.ErrNumber},
	} {
		_, err := place.AdjustNet(row.points, row.fixed, row.ties)
		assert.ErrorIs(t, err, row.want, name)
	}
}

// A 3-4-5 triangle by tape: 3 m from the left mark and 4 m from the right one, 5 m apart.
func TestTwoTapes(t *testing.T) {
	left, right, err := place.TwoTapes(at(1, 1), at(6, 1), 3, 4)
	require.NoError(t, err)
	assert.InDeltaSlice(t, []float64{2.8, 3.4, 2.8, -1.4}, []float64{left.Along, left.Up, right.Along, right.Up}, 1e-12)
	for name, row := range map[string]struct {
		a, b   place.Spot
		ra, rb float64
		want   error
	}{
		"short":       {at(1, 1), at(6, 1), 2, 2.9, place.ErrContradiction},
		"long":        {at(1, 1), at(6, 1), 9, 3.9, place.ErrContradiction},
		"longer":      {at(1, 1), at(6, 1), 1, 6.1, place.ErrContradiction},
		"same mark":   {at(1, 1), at(1, 1), 3, 4, place.ErrReferences},
		"nan":         {at(1, math.NaN()), at(6, 1), 3, 4, place.ErrNumber},
		"no distance": {at(1, 1), at(6, 1), math.NaN(), 4, place.ErrNumber},
	} {
		_, _, err := place.TwoTapes(row.a, row.b, row.ra, row.rb)
		assert.ErrorIs(t, err, row.want, name)
	}
}

// The ear point 2 m off the wall and 0.3 m below the line: 2.5 m reaches √(2.5² - 2² - 0.3²) = 1.4697 m to either side.
func TestFromEar(t *testing.T) {
	left := box(t, 4, 5, 2.4)[3]
	ear := vec(2, 2, 1.2)
	near, far, err := place.FromEar(&left, ear, 2.5, 1.5)
	require.NoError(t, err)
	assert.InDeltaSlice(t, []float64{2 - 1.4697, 1.5, 2 + 1.4697, 1.5}, []float64{near.Along, near.Up, far.Along, far.Up}, 5e-5)
	assert.InDelta(t, 2.5, left.At(near).Sub(ear).Norm(), 1e-12)
	_, _, err = place.FromEar(&left, ear, 2.02, 1.5)
	assert.ErrorIs(t, err, place.ErrContradiction)
	_, _, err = place.FromEar(nil, ear, 2.5, 1.5)
	assert.ErrorIs(t, err, place.ErrNoSurface)
	_, _, err = place.FromEar(&left, ear, math.NaN(), 1.5)
	assert.ErrorIs(t, err, place.ErrNumber)
}

func TestFix_Refuses(t *testing.T) {
	left := box(t, 4, 5, 2.4)[3]
	o, x, y, z := vec(0, 0, 0), vec(4, 0, 0), vec(0, 4, 0), vec(0, 0, 2)
	for name, row := range map[string]struct {
		ranges []place.Range
		want   error
	}{
		"none":           {nil, place.ErrReferences},
		"two":            {ranges(0, o, 3.0, x, 3.0), place.ErrReferences},
		"in one line":    {ranges(0, o, 3.0, x, 3.0, vec(2, 0, 0), 2.3), place.ErrReferences},
		"one place":      {ranges(0, o, 3.0, o, 3.0, o, 3.0), place.ErrReferences},
		"nan":            {ranges(0, o, math.NaN(), x, 3.0, y, 3.0), place.ErrNumber},
		"negative":       {ranges(0, o, -1.0, x, 3.0, y, 3.0), place.ErrNumber},
		"infinite":       {ranges(0, vec(math.Inf(1), 0, 0), 1.0, x, 3.0, y, 3.0), place.ErrNumber},
		"uncertainty":    {append(ranges(0.002, o, 3.0, x, 3.0), ranges(0, y, 3.0)...), place.ErrNumber},
		"too short":      {ranges(0, o, 1.0, x, 1.0, y, 1.0), place.ErrContradiction},
		"too short, u":   {ranges(0.002, o, 1.0, x, 1.0, y, 1.0), place.ErrContradiction},
		"in their plane": {ranges(0, o, math.Sqrt2, x, math.Sqrt(10), y, math.Sqrt(10)), place.ErrWeak},
	} {
		t.Run(name, func(t *testing.T) {
			fixes, err := place.FixPoint(row.ranges)
			require.ErrorIs(t, err, row.want)
			assert.Empty(t, fixes)
		})
	}
	for name, row := range map[string]struct {
		ranges []place.Range
		want   error
	}{
		"one":              {ranges(0, o, 3.0), place.ErrReferences},
		"behind another":   {ranges(0, vec(1, 2, 1), 3.0, vec(2, 2, 1), 3.5), place.ErrReferences},
		"before the wall":  {ranges(0, vec(2, 2, 1), 1.0, y, 3.0), place.ErrContradiction},
		"circles apart":    {ranges(0, o, 1.0, y, 1.0), place.ErrContradiction},
		"one in the other": {ranges(0.002, o, 9.0, z, 1.0), place.ErrContradiction},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := place.FixSpot(&left, 0, row.ranges)
			assert.ErrorIs(t, err, row.want)
		})
	}
	_, err := place.FixSpot(nil, 0, ranges(0, o, 3.0, y, 3.0))
	assert.ErrorIs(t, err, place.ErrNoSurface)
	_, err = place.FixSpot(&left, math.NaN(), ranges(0, o, 3.0, y, 3.0))
	assert.ErrorIs(t, err, place.ErrNumber)
}

// A swapped digit, 2.503 read as 5.203, is named.
func TestFixSpot_Contradictory(t *testing.T) {
	floor := box(t, 6, 6, 2.4)[5]
	good := ranges(0.002, vec(0, 0, 0), 2.503, vec(4, 0, 0), 2.498, vec(0, 3, 0), 2.502)
	fixes, err := place.FixSpot(&floor, 0, good)
	require.NoError(t, err)
	assert.False(t, fixes[0].Contradictory)
	good[0].Distance = 5.203
	fixes, err = place.FixSpot(&floor, 0, good)
	require.NoError(t, err)
	assert.True(t, fixes[0].Contradictory)
}

// Exact distances give the point back, and its mirror image where the known points lie in a plane.
func TestFixPoint_RoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := point(t, "point")
		n := rapid.IntRange(3, 6).Draw(t, "known points")
		var r []place.Range
		for i := range n {
			p := point(t, "known")
			r = append(r, place.Range{From: p, Distance: p.Sub(want).Norm(), U: 0.002})
			for _, other := range r[:i] {
				if other.From.Sub(p).Norm() < 0.5 {
					t.Skip("known points too close together")
				}
			}
		}
		if a, b := r[1].From.Sub(r[0].From), r[2].From.Sub(r[0].From); a.Cross(b).Norm() < 0.3*a.Norm()*b.Norm() {
			t.Skip("nearly in one line")
		}
		fixes, err := place.FixPoint(r)
		if err != nil {
			require.ErrorIs(t, err, place.ErrWeak)
			return
		}
		nearest := math.Inf(1)
		for _, f := range fixes {
			nearest = math.Min(nearest, f.Point.Sub(want).Norm())
		}
		require.Less(t, nearest, 1e-5*fixes[0].Condition)
	})
}

// The covariance against a Monte Carlo: a spot from two corners and the ear point, tapes of 2 mm, 20,000 trials (0.5 %).
func TestFixSpot_MonteCarlo(t *testing.T) {
	left := box(t, 4, 5, 2.4)[3]
	spot := at(1.3, 1.7)
	known := []place.Vec{vec(0, 0, 0), vec(0, 5, 0), vec(2, 2, 1.2)}
	const u = 0.002
	measure := func(noise func() float64) []place.Range {
		var out []place.Range
		for _, p := range known {
			out = append(out, place.Range{From: p, Distance: p.Sub(left.At(spot)).Norm() + noise(), U: u})
		}
		return out
	}
	fixes, err := place.FixSpot(&left, 0, measure(func() float64 { return 0 }))
	require.NoError(t, err)
	require.Len(t, fixes, 1)
	random := rand.New(rand.NewPCG(6, 2051))
	var along, up []float64
	for range 20000 {
		f, err := place.FixSpot(&left, 0, measure(func() float64 { return u * random.NormFloat64() }))
		require.NoError(t, err)
		along, up = append(along, f[0].Spot.Along), append(up, f[0].Spot.Up)
	}
	c := fixes[0].Covariance
	assert.InEpsilon(t, stat.StdDev(along, nil), math.Sqrt(c[0][0]), 0.02)
	assert.InEpsilon(t, stat.StdDev(up, nil), math.Sqrt(c[1][1]), 0.02)
	assert.InDelta(t, stat.Correlation(along, up, nil), c[0][1]/math.Sqrt(c[0][0]*c[1][1]), 0.03)
}

// Any input gives finite numbers or a named error.
func FuzzFixPoint(f *testing.F) {
	f.Add(0.0, 0.0, 0.0, 3.0, 4.0, 0.0, 0.0, 3.0, 0.0, 4.0, 0.0, 3.0)
	f.Add(0.0, 0.0, 0.0, 0.0, 1e-9, 0.0, 0.0, 1e9, 0.0, 1e300, 0.0, 3.0)
	f.Fuzz(func(t *testing.T, ax, ay, az, ad, bx, by, bz, bd, cx, cy, cz, cd float64) {
		fixes, err := place.FixPoint([]place.Range{{From: vec(ax, ay, az), Distance: ad}, {From: vec(bx, by, bz), Distance: bd}, {From: vec(cx, cy, cz), Distance: cd}})
		if err != nil {
			return
		}
		for _, fix := range fixes {
			for _, v := range []float64{fix.Point.X, fix.Point.Y, fix.Point.Z, fix.Squares, fix.Condition, fix.Covariance[0][0], fix.Covariance[2][1]} {
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Fatalf("%+v", fix)
				}
			}
		}
	})
}

package place_test

import (
	"fmt"
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

// four are a floor's corners by [place.Corner], x to the right and y to the front.
type four [4][2]float64

// lengths are what a perfect tape reads on it.
func (q four) lengths() (all [6]float64) {
	for r := range all {
		e := place.Run(r).Ends()
		all[r] = math.Hypot(q[e[0]][0]-q[e[1]][0], q[e[0]][1]-q[e[1]][1])
	}
	return all
}

func (q four) floor(u float64) (f place.Floor) {
	for r, l := range q.lengths() {
		f[r] = place.Measure{Value: l, Standard: u}
	}
	return f
}

// angle is a corner's inner angle from the directions of its walls.
func (q four) angle(c place.Corner) float64 {
	to := func(d place.Corner) float64 { return math.Atan2(q[d][1]-q[c][1], q[d][0]-q[c][0]) }
	return math.Abs(place.Wrap(to((c+1)%4) - to((c+3)%4)))
}

// drawFloor is a convex floor, each corner up to half a metre from where it is square.
func drawFloor(t *rapid.T) four {
	w, l := rapid.Float64Range(2, 8).Draw(t, "width"), rapid.Float64Range(2, 8).Draw(t, "length")
	q := four{{0, l}, {w, l}, {w, 0}, {0, 0}}
	for c := range q {
		for k := range q[c] {
			q[c][k] += rapid.Float64Range(-0.5, 0.5).Draw(t, fmt.Sprint(c, k))
		}
	}
	return q
}

// Triangles of school: 3, 4, 5; and a parallelogram of 3 and 4 with an angle of 60°, whose diagonals are √13 and √37 by the
// law of cosines.
func TestFloor_WorkedTriangles(t *testing.T) {
	u := 0.001
	square := place.Floor{{3, u}, {3, u}, {4, u}, {4, u}, {5, u}, {5, u}}
	skew, err := square.Skew()
	require.NoError(t, err)
	assert.Zero(t, skew.Value)
	// d(d²) = 2·5·u for each diagonal, over 4·3·4, by both: √2·10/48.
	assert.InDelta(t, math.Sqrt2*10/48*u, skew.Standard, 1e-12)
	for c := place.FrontLeft; c <= place.RearLeft; c++ {
		angle, err := square.Angle(c)
		require.NoError(t, err)
		assert.InDelta(t, math.Pi/2, angle.Value, 1e-12)
		// dγ = (5 dd - 3 dp - 4 dq) / 12
		assert.InDelta(t, math.Sqrt(25+9+16)/12*u, angle.Standard, 1e-12)
	}
	closing, err := square.Closing()
	require.NoError(t, err)
	assert.InDelta(t, 0, closing.Off, 1e-12)
	assert.InDelta(t, 5, closing.Predicted, 1e-12)

	// The front leans to the left: the corners at the front right and the rear left are 60°.
	leaning := place.Floor{{3, u}, {3, u}, {4, u}, {4, u}, {math.Sqrt(37), u}, {math.Sqrt(13), u}}
	leaning[place.FromFrontLeft].Value, leaning[place.FromFrontRight].Value = math.Sqrt(13), math.Sqrt(37)
	skew, err = leaning.Skew()
	require.NoError(t, err)
	assert.InDelta(t, -30*degree, skew.Value, 1e-12)
	for c, want := range map[place.Corner]float64{place.FrontLeft: 120, place.FrontRight: 60, place.RearRight: 120, place.RearLeft: 60} {
		angle, err := leaning.Angle(c)
		require.NoError(t, err)
		assert.InDelta(t, want*degree, angle.Value, 1e-12, "%v", c)
	}
}

const degree = math.Pi / 180

func TestFloor_OfCornersThatAreKnown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := drawFloor(t)
		f := q.floor(0.001)
		for c := place.FrontLeft; c <= place.RearLeft; c++ {
			angle, err := f.Angle(c)
			require.NoError(t, err)
			require.InDelta(t, q.angle(c), angle.Value, 1e-9, "%v", c)
		}
		for r := place.FrontWall; r <= place.FromFrontRight; r++ {
			predicted, err := f.Predict(r)
			require.NoError(t, err)
			require.InDelta(t, f[r].Value, predicted.Value, 1e-9, "%v", r)
		}
		corners, err := f.Corners()
		require.NoError(t, err)
		var again four
		for c, v := range corners {
			again[c] = [2]float64{v.X, v.Y}
			require.LessOrEqual(t, v.Y, 0.0)
		}
		for r, l := range again.lengths() {
			require.InDelta(t, f[r].Value, l, 1e-9, "%v", place.Run(r))
		}
		// The angle between the lines that join the middles of opposite walls, from the corners.
		middle := func(a, b place.Corner) (x, y float64) { return (q[a][0] + q[b][0]) / 2, (q[a][1] + q[b][1]) / 2 }
		lx, ly := middle(place.FrontLeft, place.RearLeft)
		rx, ry := middle(place.FrontRight, place.RearRight)
		fx, fy := middle(place.FrontLeft, place.FrontRight)
		bx, by := middle(place.RearLeft, place.RearRight)
		want := place.Wrap(math.Atan2(fy-by, fx-bx)-math.Atan2(ry-ly, rx-lx)) - math.Pi/2
		skew, err := f.Skew()
		require.NoError(t, err)
		// Second order in how far opposite walls are from parallel, up to atan(1/2) each here.
		off := func(a, b place.Corner, c, d place.Corner) float64 {
			return place.Wrap(math.Atan2(q[b][1]-q[a][1], q[b][0]-q[a][0]) - math.Atan2(q[d][1]-q[c][1], q[d][0]-q[c][0]))
		}
		second := math.Pow(off(0, 1, 3, 2), 2) + math.Pow(off(3, 0, 2, 1), 2)
		require.InDelta(t, want, skew.Value, 1e-9+math.Abs(want)*second/2)
	})
}

// The uncertainties against drawing readings at random, 20,000 times.
func TestFloor_UncertaintyByChance(t *testing.T) {
	q := four{{0.1, 5}, {4.05, 5.2}, {4, 0}, {0, 0.1}}
	f := q.floor(0)
	for r, u := range []float64{0.001, 0.0015, 0.002, 0.001, 0.0012, 0.003} {
		f[r].Standard = u
	}
	type quantity struct {
		name string
		of   func(place.Floor) (place.Measure, error)
	}
	quantities := []quantity{{"skew", place.Floor.Skew}}
	for c := place.FrontLeft; c <= place.RearLeft; c++ {
		quantities = append(quantities, quantity{c.String(), func(f place.Floor) (place.Measure, error) { return f.Angle(c) }})
	}
	for r := place.FrontWall; r <= place.FromFrontRight; r++ {
		quantities = append(quantities, quantity{r.String(), func(f place.Floor) (place.Measure, error) { return f.Predict(r) }})
	}
	random := rand.New(rand.NewPCG(1, 2))
	drawn := make([][]float64, len(quantities))
	for range 20000 {
		g := f
		for r := range g {
			g[r].Value += random.NormFloat64() * g[r].Standard
		}
		for i, x := range quantities {
			m, err := x.of(g)
			require.NoError(t, err)
			drawn[i] = append(drawn[i], m.Value)
		}
	}
	for i, x := range quantities {
		m, err := x.of(f)
		require.NoError(t, err)
		assert.InEpsilon(t, stat.StdDev(drawn[i], nil), m.Standard, 0.03, x.name) // six times the spread of such an estimate
	}
}

// The misclosure against an adjustment of all six readings by least squares, with an optimiser that knows nothing of it:
// with one redundancy, the least vᵀWv is the square of the misclosure over its standard uncertainty.
func TestFloor_ClosingByLeastSquares(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		q := drawFloor(t)
		f := q.floor(0)
		for r := range f {
			f[r].Standard = float64(rapid.IntRange(5, 30).Draw(t, "u")) / 1e4
			f[r].Value += float64(rapid.IntRange(-30, 30).Draw(t, "error")) / 1e4
		}
		squares := func(x []float64) float64 {
			var sum float64
			for r, l := range (four{{x[0], x[1]}, {x[2], x[3]}, {x[4], 0}, {0, 0}}).lengths() {
				sum += math.Pow((f[r].Value-l)/f[r].Standard, 2)
			}
			return sum
		}
		// Turned so that the rear wall lies on the x axis.
		sin, cos := math.Sincos(-math.Atan2(q[2][1]-q[3][1], q[2][0]-q[3][0]))
		turned := func(c int) (float64, float64) {
			x, y := q[c][0]-q[3][0], q[c][1]-q[3][1]
			return x*cos - y*sin, x*sin + y*cos
		}
		var start []float64
		for c := range 2 {
			x, y := turned(c)
			start = append(start, x, y)
		}
		x, _ := turned(2)
		start = append(start, x)
		best, err := optimize.Minimize(optimize.Problem{Func: squares}, start, &optimize.Settings{Converger: &optimize.FunctionConverge{Absolute: 1e-9, Iterations: 400}}, &optimize.NelderMead{SimplexSize: 0.002})
		require.NoError(t, err)
		closing, err := f.Closing()
		require.NoError(t, err)
		want := math.Pow(closing.Off/closing.Standard, 2)
		require.InDelta(t, want, best.F, 0.01+0.02*want)
		// And to first order it is the same whichever reading is held against the others.
		for _, s := range closing.Suspects {
			u := math.Hypot(s.Needed.Standard, f[s.Run].Standard)
			require.InDelta(t, math.Sqrt(want), math.Abs(s.Read-s.Needed.Value)/u, 0.05+0.02*math.Sqrt(want), "%v", s.Run)
		}
	})
}

// One wrong reading in a rectangular room is the first suspect, and what it should have been is found.
func TestFloor_Closing_Suspects(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		w, l := float64(rapid.IntRange(2000, 8000).Draw(t, "width"))/1e3, float64(rapid.IntRange(2000, 8000).Draw(t, "length"))/1e3
		f := four{{0, l}, {w, l}, {w, 0}, {0, 0}}.floor(0.001)
		wrong := place.Run(rapid.IntRange(0, 5).Draw(t, "wrong"))
		right := f[wrong].Value
		f[wrong].Value += rapid.SampledFrom([]float64{-0.2, -0.09, 0.04, 0.1, 0.3}).Draw(t, "by")
		closing, err := f.Closing()
		require.NoError(t, err)
		if math.Abs(closing.Off) < 2*closing.Standard {
			t.Fatalf("misclosure %v ± %v", closing.Off, closing.Standard)
		}
		first := closing.Suspects[0]
		require.Equal(t, wrong, first.Run)
		require.InDelta(t, right, first.Needed.Value, 1e-9)
		require.InDelta(t, 0, first.Lean, 1e-9)
		require.Equal(t, f[wrong].Value, first.Read)
	})
}

func TestFloor_Errors(t *testing.T) {
	u := 0.001
	whole := place.Floor{{3, u}, {3, u}, {4, u}, {4, u}, {5, u}, {5, u}}
	for r := range whole {
		f := whole
		f[r] = place.Measure{}
		_, err := f.Closing()
		assert.ErrorIs(t, err, place.ErrClose, "%v is missing", place.Run(r))
		needed, err := f.Predict(place.Run(r))
		require.NoError(t, err)
		assert.InDelta(t, whole[r].Value, needed.Value, 1e-12)
	}
	f := whole
	f[place.RearWall], f[place.RightWall] = place.Measure{}, place.Measure{}
	_, err := f.Skew()
	assert.NoError(t, err, "one width and one length are enough")
	f[place.FrontWall] = place.Measure{}
	_, err = f.Skew()
	assert.ErrorIs(t, err, place.ErrClose)
	_, err = f.Angle(place.RearRight)
	assert.ErrorIs(t, err, place.ErrClose)
	f = whole
	f[place.FromFrontLeft].Value = 9
	_, err = f.Angle(place.FrontRight)
	assert.ErrorIs(t, err, place.ErrClose)
	_, err = f.Skew()
	assert.ErrorIs(t, err, place.ErrClose)
	closing, err := f.Closing()
	assert.ErrorIs(t, err, place.ErrClose)
	require.NotEmpty(t, closing.Suspects, "the one that is wrong can be told nevertheless")
	assert.Equal(t, place.FromFrontLeft, closing.Suspects[0].Run)
	assert.InDelta(t, 5, closing.Suspects[0].Needed.Value, 1e-12)
	_, err = f.Corners()
	assert.ErrorIs(t, err, place.ErrClose)
}

func TestMidway(t *testing.T) {
	assert.Zero(t, place.Midway())
	assert.Zero(t, place.Midway(place.Measure{}, place.Measure{}))
	assert.Equal(t, place.Measure{Value: 3, Standard: 0.001}, place.Midway(place.Measure{Value: 3, Standard: 0.001}, place.Measure{}))
	// 3.000 m at one end and 3.012 m at the other: 3.006 m, and 6 mm either way as limits.
	m := place.Midway(place.Measure{Value: 3, Standard: 0.001}, place.Measure{Value: 3.012, Standard: 0.002})
	assert.InDelta(t, 3.006, m.Value, 1e-12)
	assert.InDelta(t, math.Sqrt(0.0015*0.0015+0.006*0.006/3), m.Standard, 1e-12)
}

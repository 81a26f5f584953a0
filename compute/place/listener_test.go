package place_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/diff/fd"
	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"hangtrue/compute/place"
)

// ITU-R BS.2051 system J (4+7+0) at 2.0 m about an ear point 1.20 m high: nominal directions of the recommendation's table
// as carried by the EBU reference renderer, coordinates worked from the BS.2076 convention to three decimals.
func TestListener_See(t *testing.T) {
	l := place.Listener{Ear: place.Vec{Z: 1.2}}
	for _, row := range []struct {
		label              string
		azimuth, elevation float64
		at                 place.Vec
	}{
		{"M+030", 30, 0, place.Vec{X: -1, Y: 1.732, Z: 1.2}},
		{"M-030", -30, 0, place.Vec{X: 1, Y: 1.732, Z: 1.2}},
		{"M+000", 0, 0, place.Vec{X: 0, Y: 2, Z: 1.2}},
		{"M+090", 90, 0, place.Vec{X: -2, Y: 0, Z: 1.2}},
		{"M-090", -90, 0, place.Vec{X: 2, Y: 0, Z: 1.2}},
		{"M+135", 135, 0, place.Vec{X: -1.414, Y: -1.414, Z: 1.2}},
		{"M-135", -135, 0, place.Vec{X: 1.414, Y: -1.414, Z: 1.2}},
		{"U+045", 45, 30, place.Vec{X: -1.225, Y: 1.225, Z: 2.2}},
		{"U-045", -45, 30, place.Vec{X: 1.225, Y: 1.225, Z: 2.2}},
		{"U+135", 135, 30, place.Vec{X: -1.225, Y: -1.225, Z: 2.2}},
		{"U-135", -135, 30, place.Vec{X: 1.225, Y: -1.225, Z: 2.2}},
	} {
		at := l.Ear.Add(l.Ray(aimed(row.azimuth, row.elevation)).Scale(2))
		assertVec(t, row.at, at, 5.1e-4, row.label)
		sight := l.See(at)
		assert.InDelta(t, row.azimuth, deg(sight.Azimuth), 1e-12, row.label)
		assert.InDelta(t, row.elevation, deg(sight.Elevation), 1e-12, row.label)
		assert.InDelta(t, 2, sight.Distance, 1e-14, row.label)
		assert.InDelta(t, row.at.Z, sight.Height, 5.1e-4, row.label)
	}
}

// A listener who faces the left wall sees the front at his right.
func TestListener_Facing(t *testing.T) {
	l := place.Listener{Ear: place.Vec{X: 2, Y: 2, Z: 1.2}, Facing: rad(90)}
	front := l.See(place.Vec{X: 2, Y: 5, Z: 1.2})
	assert.InDelta(t, -90, deg(front.Azimuth), 1e-12)
	assertVec(t, place.Vec{X: -1}, l.Ray(place.Direction{}), 1e-15)
	overhead := l.See(place.Vec{X: 2, Y: 2, Z: 2.4})
	assert.Zero(t, overhead.Azimuth)
	assert.InDelta(t, 90, deg(overhead.Elevation), 1e-12)
	assert.Equal(t, place.Sight{Height: 1.2}, l.See(l.Ear))
}

func TestListener_Check(t *testing.T) {
	require.NoError(t, place.Listener{}.Check())
	assert.ErrorIs(t, place.Listener{Ear: place.Vec{Y: math.Inf(1)}}.Check(), place.ErrNumber)
	assert.ErrorContains(t, place.Listener{Facing: math.NaN()}.Check(), "facing")
}

// The drop in horizontal distance that brings an upper loudspeaker to an elevation, ear point 1.20 m high: h/tan(el),
// worked by hand to three decimals.
func TestListener_UpperDistances(t *testing.T) {
	l := place.Listener{Ear: place.Vec{Z: 1.2}}
	for _, row := range []struct{ height, at30, at35, at45, at55 float64 }{
		{2.2, 1.732, 1.428, 1.000, 0.700},
		{2.3, 1.905, 1.571, 1.100, 0.770},
		{2.4, 2.078, 1.714, 1.200, 0.840},
		{2.6, 2.425, 1.999, 1.400, 0.980},
	} {
		for elevation, y := range map[float64]float64{30: row.at30, 35: row.at35, 45: row.at45, 55: row.at55} {
			got := l.See(place.Vec{Y: y, Z: row.height})
			assert.InDelta(t, elevation, deg(got.Elevation), 0.03)
		}
	}
}

// rows lays a Jacobian out as azimuth, elevation, distance, height by x, y, z.
func rows(j place.Jacobian) []float64 {
	var out []float64
	for _, v := range []place.Vec{j.Azimuth, j.Elevation, j.Distance, j.Height} {
		out = append(out, v.X, v.Y, v.Z)
	}
	return out
}

// differences is the Jacobian of a sight by gonum's central differences, where f takes the moved variables.
func differences(n int, f func(x []float64) place.Sight) []float64 {
	base := f(make([]float64, n))
	jacobian := mat.NewDense(4, n, nil)
	fd.Jacobian(jacobian, func(y, x []float64) {
		s := f(x)
		y[0] = place.Wrap(s.Azimuth - base.Azimuth)
		y[1], y[2], y[3] = s.Elevation, s.Distance, s.Height
	}, make([]float64, n), &fd.JacobianSettings{Formula: fd.Central, Step: 1e-5})
	return jacobian.RawMatrix().Data
}

func moved(p place.Vec, x []float64) place.Vec { return p.Add(place.Vec{X: x[0], Y: x[1], Z: x[2]}) }

func TestListener_SeeJacobian(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := place.Listener{Ear: point(t, "ear"), Facing: rapid.Float64Range(-4, 4).Draw(t, "facing")}
		p := point(t, "point")
		if d := p.Sub(l.Ear); math.Hypot(d.X, d.Y) < 0.3 {
			t.Skip("finite differences are no reference near the vertical axis")
		}
		toPoint, toEar, ok := l.SeeJacobian(p)
		require.True(t, ok)
		assert.InDeltaSlice(t, differences(3, func(x []float64) place.Sight { return l.See(moved(p, x)) }), rows(toPoint), 1e-7)
		assert.InDeltaSlice(t, differences(3, func(x []float64) place.Sight {
			return place.Listener{Ear: moved(l.Ear, x), Facing: l.Facing}.See(p)
		}), rows(toEar), 1e-7)
	})
}

func TestListener_SeeJacobian_Vertical(t *testing.T) {
	l := place.Listener{Ear: place.Vec{X: 2, Y: 2, Z: 1.2}}
	toPoint, toEar, ok := l.SeeJacobian(place.Vec{X: 2, Y: 2, Z: 2.4})
	assert.False(t, ok)
	assert.Equal(t, place.Jacobian{Distance: place.Vec{Z: 1}, Height: place.Vec{Z: 1}}, toPoint)
	assert.InDelta(t, -1, toEar.Distance.Z, 0)
	toPoint, _, ok = l.SeeJacobian(l.Ear)
	assert.False(t, ok)
	assert.Equal(t, place.Jacobian{Height: place.Vec{Z: 1}}, toPoint)
}

func TestPairDeviation(t *testing.T) {
	a := place.Sight{Direction: aimed(110, 2), Distance: 2.1, Height: 1.3}
	b := place.Sight{Direction: aimed(-108, 1), Distance: 2.0, Height: 1.25}
	got := place.PairDeviation(a, b)
	assert.InDeltaSlice(t, []float64{2, 1, 0.1, 0.05},
		[]float64{deg(got.Azimuth), deg(got.Elevation), got.Distance, got.Height}, 1e-12)
	rear := place.PairDeviation(place.Sight{Direction: aimed(179, 0)}, place.Sight{Direction: aimed(179, 0)})
	assert.InDelta(t, -2, deg(rear.Azimuth), 1e-12)
}

// A mirrored room gives mirrored sights, and a point and its mirror image are a perfect pair.
func TestPairDeviation_MirroredRoom(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := place.Listener{Ear: point(t, "ear"), Facing: rapid.Float64Range(-3, 3).Draw(t, "facing")}
		p := point(t, "point")
		if math.Hypot(p.X-l.Ear.X, p.Y-l.Ear.Y) < 1e-3 {
			t.Skip("straight above the ear an azimuth means nothing")
		}
		width := rapid.Float64Range(1, 9).Draw(t, "width")
		mirror := func(v place.Vec) place.Vec { return place.Vec{X: width - v.X, Y: v.Y, Z: v.Z} }
		twin := place.Listener{Ear: mirror(l.Ear), Facing: -l.Facing}
		got := place.PairDeviation(l.See(p), twin.See(mirror(p)))
		assert.InDeltaSlice(t, []float64{0, 0, 0, 0}, []float64{got.Azimuth, got.Elevation, got.Distance, got.Height}, 1e-9)
	})
}

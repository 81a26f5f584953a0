package place_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"

	"hangtrue/compute/place"
)

// tumbled is a cuboid turned any way about a middle near a point.
func tumbled(r *rand.Rand, near place.Vec, spread float64) place.Solid {
	number := func() float64 { return 2*r.Float64() - 1 }
	first := place.Vec{X: number(), Y: number(), Z: number()}.Unit()
	second := first.Cross(place.Vec{X: number(), Y: number(), Z: number()}).Unit()
	return place.Solid{
		Middle: near.Add(place.Vec{X: number(), Y: number(), Z: number()}.Scale(spread)),
		Axes:   [3]place.Vec{first, second, first.Cross(second)},
		Half:   [3]float64{0.05 + 0.3*r.Float64(), 0.05 + 0.3*r.Float64(), 0.05 + 0.3*r.Float64()},
	}
}

// nearest is the point of a solid nearest to another point.
func nearest(s place.Solid, p place.Vec) place.Vec {
	out := s.Middle
	for k := range 3 {
		x := p.Sub(s.Middle).Dot(s.Axes[k])
		out = out.Add(s.Axes[k].Scale(math.Max(-s.Half[k], math.Min(s.Half[k], x))))
	}
	return out
}

// gap is the distance between two solids by von Neumann's alternating projections, which come to the two nearest points
// of two convex bodies: an independent route, which knows no separating axes.
func gap(s, t place.Solid) float64 {
	p := s.Middle
	for range 4000 {
		p = nearest(t, nearest(s, p))
	}
	return p.Sub(nearest(s, p)).Norm()
}

func TestSolid_Overlaps_AsAlternatingProjections(t *testing.T) {
	r, met, apart := random(t, 31), 0, 0
	for range 2000 * *times {
		a, b := tumbled(r, place.Vec{}, 0.4), tumbled(r, place.Vec{}, 0.4)
		overlaps := a.Overlaps(b)
		assert.Equal(t, overlaps, b.Overlaps(a), "%v %v", a, b)
		switch d := gap(a, b); {
		case d > 1e-3: // nearer ones are still closing in on each other
			apart++
			assert.False(t, overlaps, "%v apart: %v %v", d, a, b)
		case gap(a.Grown(-0.001), b) < 1e-7:
			met++
			assert.True(t, overlaps, "%v %v", a, b)
		}
	}
	assert.Greater(t, met, 300**times)
	assert.Greater(t, apart, 300**times)
}

// Cuboids in line with the axes, by hand.
func TestSolid_Flush(t *testing.T) {
	axes := [3]place.Vec{{X: 1}, {Y: 1}, {Z: 1}}
	a := place.Solid{Middle: place.Vec{X: 1, Y: 1, Z: 1}, Axes: axes, Half: [3]float64{0.5, 0.5, 0.5}}
	b := place.Solid{Middle: place.Vec{X: 2, Y: 1, Z: 1}, Axes: axes, Half: [3]float64{0.5, 0.2, 0.2}}
	assert.False(t, a.Overlaps(b), "they touch")
	assert.True(t, a.Overlaps(b.Grown(0.001)))

	left := box(t, 4, 5, 2.4)[3]
	a.Middle.X = 0.5
	assert.False(t, a.Pierces(&left), "it stands against the wall")
	assert.InDelta(t, 0, a.Behind(&left), 1e-12)
	a.Middle.X = 0.4
	assert.True(t, a.Pierces(&left))
	assert.InDelta(t, 0.1, a.Behind(&left), 1e-12)
	low, high := a.Shadow(&left)
	assert.InDelta(t, 0.5, low.Along, 1e-12)
	assert.InDelta(t, 1.5, high.Up, 1e-12)
}

// A solid pierces a surface if a point of a fine grid on the surface lies in it; where it does not, no point does. The
// outline has a notch, so that the cutting meets one that is not convex, and a cut.
func TestSolid_Pierces_AsAGridOfPoints(t *testing.T) {
	notched, err := place.NewSurface(place.Surface{Name: "notched", Along: place.Vec{X: 1}, Up: place.Vec{Z: 1},
		Outline: []place.Spot{{}, at(1, 0), at(1, 1), at(0.7, 1), at(0.7, 0.3), at(0.3, 0.3), at(0.3, 1), at(0, 1)},
		Cuts:    []place.Cut{{Name: "mouth", Outline: []place.Spot{at(0.05, 0.4), at(0.25, 0.4), at(0.25, 0.9), at(0.05, 0.9)}}}})
	assert.NoError(t, err)
	const step = 0.02
	within := func(s place.Solid) bool {
		for a := step / 2; a < 1; a += step {
			for u := step / 2; u < 1; u += step {
				q := at(a, u)
				if p := notched.At(q); notched.Contains(q) && nearest(s, p).Sub(p).Norm() < 1e-9 {
					return true
				}
			}
		}
		return false
	}
	r, through, clear := random(t, 32), 0, 0
	for range 600 * *times {
		s := tumbled(r, place.Vec{X: 0.5, Z: 0.5}, 0.5)
		if within(s.Grown(-1e-5)) {
			through++
			assert.True(t, s.Pierces(&notched), "%v", s)
		} else if !within(s.Grown(step)) {
			clear++
			assert.False(t, s.Pierces(&notched), "%v", s)
		}
	}
	assert.Greater(t, through, 100**times)
	assert.Greater(t, clear, 100**times)
}

func TestHides(t *testing.T) {
	room := box(t, 4, 5, 2.4)
	// A face of a breast that stands out of the rear wall, 1 m wide and as high as the room.
	face, err := place.NewSurface(place.Surface{Name: "face", Origin: place.Vec{X: 2.5, Y: 0.5}, Along: place.Vec{X: -1}, Up: place.Vec{Z: 1},
		Outline: []place.Spot{{}, at(1, 0), at(1, 2.4), at(0, 2.4)}})
	assert.NoError(t, err)
	room = append(room, face)
	ear := place.Vec{X: 2, Y: 3, Z: 1.2}
	for _, row := range []struct {
		name   string
		from   place.Vec
		hidden bool
		by     string
	}{
		{"in front of the breast", place.Vec{X: 2, Y: 0.6, Z: 1}, false, ""},
		{"on the breast's face", place.Vec{X: 2, Y: 0.5, Z: 1}, false, ""},
		{"behind its face", place.Vec{X: 2, Y: 0.1, Z: 1}, true, "face"},
		{"on the rear wall behind it", place.Vec{X: 2, Y: 0, Z: 1}, true, "face"},
		{"beside it", place.Vec{X: 0.2, Y: 0.1, Z: 1}, false, ""},
		{"outside the room", place.Vec{X: -0.1, Y: 3, Z: 1}, true, "left"},
	} {
		i, hidden := place.Hides(room, row.from, ear)
		assert.Equal(t, row.hidden, hidden, row.name)
		if hidden {
			assert.Equal(t, row.by, room[i].Name, row.name)
		}
	}
}

package place_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/compute/place"
)

// wallWith is a wall of 5 by 2.5 m with a chimney breast before it and the mouth of an alcove in it.
func wallWith(t require.TestingT) place.Surface {
	s, err := place.NewSurface(place.Surface{
		Name: "wall", Along: place.Vec{X: 1}, Up: place.Vec{Z: 1}, Outline: []place.Spot{{}, {Along: 5}, {Along: 5, Up: 2.5}, {Up: 2.5}},
		Cuts: []place.Cut{
			{Name: "breast", Outline: []place.Spot{{Along: 1}, {Along: 2}, {Along: 2, Up: 2.5}, {Along: 1, Up: 2.5}}},
			{Name: "alcove", Outline: []place.Spot{{Along: 3, Up: 1}, {Along: 3, Up: 2}, {Along: 4, Up: 2}, {Along: 4, Up: 1}}}, // clockwise
		},
	})
	require.NoError(t, err)
	return s
}

func TestSurface_Cuts(t *testing.T) {
	s := wallWith(t)
	for _, row := range []struct {
		spot place.Spot
		edge float64 // by rectangles: to the nearest edge that is there
	}{
		{place.Spot{Along: 0.5, Up: 1}, 0.5},
		{place.Spot{Along: 0.9, Up: 1}, 0.1},                      // the breast's left side
		{place.Spot{Along: 1.5, Up: 1}, -0.5},                     // behind the breast
		{place.Spot{Along: 2.5, Up: 0.3}, 0.3},                    // the floor
		{place.Spot{Along: 3.5, Up: 0.8}, 0.2},                    // under the alcove
		{place.Spot{Along: 3.5, Up: 1.4}, -0.4},                   // in the alcove's mouth
		{place.Spot{Along: 2.7, Up: 0.6}, math.Sqrt(0.09 + 0.16)}, // the alcove's corner
		{place.Spot{Along: 5.2, Up: 1}, -0.2},
	} {
		assert.InDelta(t, row.edge, s.DistanceToEdge(row.spot), 1e-12, "%v", row.spot)
		assert.Equal(t, row.edge >= 0, s.Contains(row.spot), "%v", row.spot)
		assert.InDelta(t, row.edge, s.ClearOf(row.spot, 0).Distance, 1e-12, "%v", row.spot)
	}
	assert.InDelta(t, 5*2.5-2.5-1, s.Area(), 1e-12)
}

// A ray goes on through a cut to what is behind it.
func TestMeet_Cuts(t *testing.T) {
	wall := wallWith(t)
	back := wall
	back.Cuts, back.Origin = nil, place.Vec{Y: 0.3}
	from := place.Vec{X: 3.5, Y: -2, Z: 1.5}
	hit, ok := place.Meet([]place.Surface{wall, back}, from, place.Vec{Y: 1})
	require.True(t, ok)
	assert.Equal(t, 1, hit.Surface)
	assert.InDelta(t, 2.3, hit.Distance, 1e-12)
}

// A cabinet reaches through a wall, but not where the wall is cut out.
func TestSolid_Pierces_Cuts(t *testing.T) {
	wall := wallWith(t)
	cabinet := place.Solid{Axes: [3]place.Vec{{X: 1}, {Y: 1}, {Z: 1}}, Half: [3]float64{0.2, 0.2, 0.2}}
	for _, row := range []struct {
		along   float64
		pierces bool
	}{{2.5, true}, {3.1, true}, {3.5, false}, {3.2, false}, {1.5, false}, {0.81, true}} {
		cabinet.Middle = wall.At(place.Spot{Along: row.along, Up: 1.5})
		assert.Equal(t, row.pierces, cabinet.Pierces(&wall), "%v", row.along)
	}
}

// Whether a mount's hole may be at a spot is told by rectangles: off the breast, off the alcove and off the edges.
func TestZone_Cuts(t *testing.T) {
	s := wallWith(t)
	const keep = 0.1
	m := place.Mount{Surface: &s, Bracket: place.Bracket{PivotOut: 0.1, SwingMin: -1.5, SwingMax: 1.5, TiltMin: -1.5, TiltMax: 1.5}}
	z, err := place.NewZone(m, place.Vec{X: 2.5, Y: -3, Z: 1.2}, place.Limits{Margin: keep})
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		p := place.Spot{Along: rapid.Float64Range(-0.5, 5.5).Draw(t, "along"), Up: rapid.Float64Range(-0.5, 3).Draw(t, "up")}
		within := func(x0, x1, y0, y1 float64) bool { return x0 < p.Along && p.Along < x1 && y0 < p.Up && p.Up < y1 }
		dx, dy := math.Max(math.Max(3-p.Along, p.Along-4), 0), math.Max(math.Max(1-p.Up, p.Up-2), 0)
		want := within(keep, 5-keep, keep, 2.5-keep) && !within(1-keep, 2+keep, -1, 4) && math.Hypot(dx, dy) > keep
		if got := z.Contains(p); got != want && math.Abs(s.DistanceToEdge(p)-keep) > 1e-6 {
			t.Fatalf("%v: %v, want %v", p, got, want)
		}
	})
	// Left of the breast, and from the breast to the right wall less the alcove with round corners.
	outline, err := z.Outline()
	require.NoError(t, err)
	want := (1-2*keep)*(2.5-2*keep) + (3-2*keep)*(2.5-2*keep) - (1 + 4*keep + math.Pi*keep*keep)
	assert.InDelta(t, want, outline.Area(), 5e-3)
	assert.Len(t, outline, 3, "two pieces, one with a hole")
}

package plan_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/plan"
	"hangtrue/compute/place"
)

// demoByShapes is the demo's room with its slope and chimney breast described as shapes, instead of surfaces with frames
// and keep-outs for what lies behind them.
func demoByShapes(t *testing.T) *plan.Plan {
	p := decode(t, "demo/plan.json")
	p.Room.Shapes = []plan.Shape{
		{Name: "slope", Kind: plan.Slope, Wall: "rear", Knee: 2, Reach: 1.7},
		{Name: "breast", Kind: plan.Breast, Wall: "rear", Along: 1.7, Width: 1.3, Depth: 0.4},
	}
	for i := range p.Room.Surfaces {
		s := &p.Room.Surfaces[i]
		s.Frame = nil
		s.Name = strings.Replace(s.Name, "breast face", "breast", 1)
		s.KeepOuts = slices.DeleteFunc(s.KeepOuts, func(a plan.Area) bool { return a.Name == "behind the slope" || a.Name == "chimney breast" })
		for j := range s.KeepOuts { // nothing runs on over the slope
			a := &s.KeepOuts[j]
			a.Height = math.Min(a.Height, 2.4)
		}
	}
	data, err := p.Encode()
	require.NoError(t, err)
	again, err := plan.Decode(data)
	require.NoError(t, err)
	return again
}

func TestShapes_MakeTheSurfacesOfTheDemo(t *testing.T) {
	byHand, byShapes := decode(t, "demo/plan.json"), demoByShapes(t)
	want, err := byHand.Surfaces()
	require.NoError(t, err)
	got, err := byShapes.Surfaces()
	require.NoError(t, err)
	const rounding = 2e-6 // the demo's direction cosines and outlines have six decimals
	for _, w := range want[6:] {
		name := strings.Replace(w.Name, "breast face", "breast", 1)
		i := slices.IndexFunc(got, func(s place.Surface) bool { return s.Name == name })
		require.GreaterOrEqual(t, i, 0, name)
		g := got[i]
		for what, off := range map[string]place.Vec{"origin": g.Origin.Sub(w.Origin), "along": g.Along.Sub(w.Along), "up": g.Up.Sub(w.Up)} {
			assert.Less(t, off.Norm(), rounding, "%s of %s", what, name)
		}
		require.Len(t, g.Outline, len(w.Outline), name)
		for k := range g.Outline {
			assert.InDelta(t, w.Outline[k].Along, g.Outline[k].Along, rounding, "%s, corner %d", name, k)
			assert.InDelta(t, w.Outline[k].Up, g.Outline[k].Up, rounding, "%s, corner %d", name, k)
		}
		assert.Equal(t, w.Framing, g.Framing, name)
		assert.Equal(t, w.Lining, g.Lining, name)
	}
	assert.Len(t, got, len(want))
}

// Looked at from every seat, the two rooms are the same: rays over the whole sphere meet the same place.
func TestShapes_LookLikeTheDemo(t *testing.T) {
	byHand, byShapes := decode(t, "demo/plan.json"), demoByShapes(t)
	want, err := byHand.Surfaces()
	require.NoError(t, err)
	got, err := byShapes.Surfaces()
	require.NoError(t, err)
	for _, l := range byHand.Listening {
		ear := place.Vec{X: l.Ear[0], Y: l.Ear[1], Z: l.Ear[2]}
		const n = 5000
		for k := range n { // evenly over the sphere: equal steps of z, turned by the golden angle
			z, turn := (2*float64(k)+1)/n-1, float64(k)*math.Pi*(3-math.Sqrt(5))
			way := place.Vec{X: math.Cos(turn) * math.Sqrt(1-z*z), Y: math.Sin(turn) * math.Sqrt(1-z*z), Z: z}
			a, ok := place.Meet(want, ear, way)
			require.True(t, ok)
			b, ok := place.Meet(got, ear, way)
			require.True(t, ok)
			require.InDelta(t, a.Distance, b.Distance, 1e-4, "%v meets %s and %s", way, want[a.Surface].Name, got[b.Surface].Name)
		}
	}
	for _, m := range byHand.Mounts {
		a, err := byHand.Pose(m.Channel)
		require.NoError(t, err)
		b, err := byShapes.Pose(m.Channel)
		require.NoError(t, err)
		assert.Less(t, a.Centre.Sub(b.Centre).Norm(), 1e-5, m.Channel)
	}
}

// One surface by its name is the same as among all.
func TestShapes_PlaceMountOnAShape(t *testing.T) {
	p := decode(t, "plans/attic.json")
	all, err := p.Surfaces()
	require.NoError(t, err)
	var names []string
	for _, s := range all {
		names = append(names, s.Name)
		p.Mounts[0].Surface = s.Name
		m, err := p.PlaceMount(p.Mounts[0].Channel)
		require.NoError(t, err)
		assert.Equal(t, s, *m.Surface)
	}
	assert.Equal(t, []string{
		"front", "right", "rear", "left", "ceiling", "floor", "slope", "breast", "breast left cheek", "breast right cheek",
		"hearth", "hearth left cheek", "hearth right cheek", "hearth top", "niche", "niche left cheek", "niche right cheek", "niche base", "niche head",
	}, names)
	for _, s := range p.Room.Shapes {
		assert.Subset(t, s.SurfaceNames(), []string{s.Name})
	}
}

// An ear point in what a shape fills, or in an alcove, is told apart from one in the room.
// The second coordinate is called up only where it leads uphill: of the slope at each wall as place.ShapedBox measures it,
// out from its front edge, and of what lies level.
func TestUpWord(t *testing.T) {
	word := func(p *plan.Plan, surface string) string {
		s, err := p.Surfaces()
		require.NoError(t, err)
		i := slices.IndexFunc(s, func(s place.Surface) bool { return s.Name == surface })
		require.GreaterOrEqual(t, i, 0, surface)
		rises := s[i].At(place.Spot{Up: 1}).Z - s[i].At(place.Spot{}).Z
		want := map[bool]string{true: "up", false: "out"}[rises > 0.2]
		assert.Equal(t, want, p.UpWord(surface), "%s, which rises %g m in a metre", surface, rises)
		return p.UpWord(surface)
	}
	for wall, want := range map[string]string{"front": "up", "right": "out", "rear": "out", "left": "out"} {
		p := &plan.Plan{Room: plan.Room{Box: &plan.Box{Width: 3.6, Length: 4.2, Height: 2.4}, Shapes: []plan.Shape{
			{Name: "slope", Kind: plan.Slope, Wall: wall, Knee: 1.4, Reach: 1.2},
			{Name: "hearth", Kind: plan.Column, Wall: "left", Along: 1.9, Off: 0.4, Width: 1, Depth: 0.25, Height: 0.1},
		}}}
		assert.Equal(t, want, word(p, "slope"), wall)
		for surface, want := range map[string]string{"front": "up", "left": "up", "ceiling": "out", "floor": "out", "hearth": "up", "hearth top": "out"} {
			assert.Equal(t, want, word(p, surface), surface)
		}
	}
	assert.Equal(t, "up", (*plan.Plan)(nil).UpWord("front"))
	assert.Equal(t, "up", (&plan.Plan{}).UpWord("ceiling"), "a room that is not there")
}

func TestShapes_InsideTheRoom(t *testing.T) {
	for _, row := range []struct {
		what   string
		ear    [3]float64
		inside bool
	}{
		{"in the middle", [3]float64{2, 2, 1.2}, true},
		{"under the slope", [3]float64{2, 0.5, 1.2}, true},
		{"behind the slope", [3]float64{2, 0.5, 2}, false},
		{"in the breast", [3]float64{0.2, 2, 1.2}, false},
		{"in the hearth", [3]float64{0.5, 2, 0.05}, false},
		{"over the hearth", [3]float64{0.5, 2, 1.2}, true},
		{"in the niche", [3]float64{3.7, 2.2, 1.2}, true},
		{"behind the niche", [3]float64{3.9, 2.2, 1.2}, false},
		{"in the wall beside the niche", [3]float64{3.7, 3, 1.2}, false},
	} {
		p := decode(t, "plans/attic.json")
		p.Listening[0].Ear = row.ear
		data, err := p.Encode()
		require.NoError(t, err)
		_, err = plan.Decode(data)
		assert.Equal(t, row.inside, err == nil || !strings.Contains(err.Error(), "ear_m"), "%s: %v", row.what, err)
	}
}

func TestShapeSizes(t *testing.T) {
	for _, kind := range plan.ShapeKinds {
		assert.NotEmpty(t, plan.ShapeSizes(kind), kind)
	}
	assert.Nil(t, plan.ShapeSizes("arch"))
}

// Of a shape that is half typed, what is wrong with it by itself is said and nothing that follows from it.
func TestShapes_OfAnUnfinishedPlan(t *testing.T) {
	for _, row := range []struct {
		shape plan.Shape
		want  []string
	}{
		{plan.Shape{Name: "new", Kind: "", Wall: "left"}, []string{"/room/shapes/4/kind"}},
		{plan.Shape{Name: "new", Kind: plan.Slope, Wall: ""}, []string{"/room/shapes/4/knee_m", "/room/shapes/4/reach_m", "/room/shapes/4/wall"}},
		{plan.Shape{Name: "new", Kind: plan.Breast, Wall: "front", Width: 9, Depth: 0.1}, []string{"/room/shapes/4/width_m"}},
	} {
		p := decode(t, "plans/attic.json")
		p.Room.Shapes = append(p.Room.Shapes, row.shape)
		var got []string
		for _, x := range p.Problems() {
			got = append(got, x.Pointer)
		}
		slices.Sort(got)
		assert.Equal(t, row.want, got, "%v", row.shape)
	}
}

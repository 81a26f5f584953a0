package place_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/compute/place"
)

// solid is the room as a set of points, worked out from the sizes alone: an independent reckoning of what the surfaces
// enclose.
type solid struct{ place.ShapedBox }

// onWall are a point's distances from the left corner along a wall, and from the wall.
func (s solid) onWall(wall string, x, y float64) (along, off float64) {
	switch wall {
	case "front":
		return x, s.Length - y
	case "right":
		return s.Length - y, s.Width - x
	case "rear":
		return s.Width - x, y
	}
	return y, x
}

// ceiling is how high the room is over a point of its floor.
func (s solid) ceiling(x, y float64) float64 {
	high := s.Height
	for _, a := range s.Shapes {
		if _, off := s.onWall(a.Wall, x, y); a.Kind == place.Slope {
			high = math.Min(high, a.Knee+(s.Height-a.Knee)*off/a.Reach)
		}
	}
	return high
}

func (s solid) holds(x, y, z float64) bool {
	inBox := 0 < x && x < s.Width && 0 < y && y < s.Length && 0 < z && z < s.ceiling(x, y)
	for _, a := range s.Shapes {
		along, off := s.onWall(a.Wall, x, y)
		beside := a.Along <= along && along <= a.Along+a.Width
		switch {
		case a.Kind == place.Block && inBox && beside && a.Off <= off && off <= a.Off+a.Depth && (a.Height == 0 || z <= a.Height):
			return false
		case a.Kind == place.Alcove && beside && off <= 0 && off > -a.Depth && a.Up < z && z < a.Up+a.Height:
			return true
		}
	}
	return inBox
}

// volume adds up columns over a grid of the floor.
func (s solid) volume() float64 {
	const n = 200
	var sum float64
	for i := range n {
		for j := range n {
			x, y := (float64(i)+0.5)/n*s.Width, (float64(j)+0.5)/n*s.Length
			high := s.ceiling(x, y)
			for _, a := range s.Shapes {
				if along, off := s.onWall(a.Wall, x, y); a.Kind == place.Block && a.Along <= along && along <= a.Along+a.Width && a.Off <= off && off <= a.Off+a.Depth {
					high -= s.ceiling(x, y)
					if a.Height > 0 {
						high += math.Max(0, s.ceiling(x, y)-a.Height)
					}
				}
			}
			sum += high * s.Width * s.Length / (n * n)
		}
	}
	for _, a := range s.Shapes {
		if a.Kind == place.Alcove {
			sum += a.Width * a.Height * a.Depth
		}
	}
	return sum
}

// enclosed is the volume within closed surfaces by the divergence theorem, V = (1/3)∮ r·n dA with n outward, and the vector
// area ∮ n dA, which is zero exactly if they are closed. On a plane r·n is the same everywhere.
func enclosed(surfaces []place.Surface) (volume float64, vectorArea place.Vec) {
	for i := range surfaces {
		s := &surfaces[i]
		out := s.Normal().Scale(-s.Area())
		volume += s.Origin.Dot(out) / 3
		vectorArea = vectorArea.Add(out)
	}
	return volume, vectorArea
}

// drawShapedBox draws a room of up to five shapes that fit it, in whole millimetres.
func drawShapedBox(t *rapid.T) place.ShapedBox {
	mm := func(low, high float64, what string) float64 {
		return float64(rapid.IntRange(int(math.Round(low*1e3)), int(math.Round(high*1e3))).Draw(t, what)) / 1e3
	}
	room := place.ShapedBox{Width: mm(2, 6, "width"), Length: mm(2, 6, "length"), Height: mm(2, 3, "height")}
	for range rapid.IntRange(0, 5).Draw(t, "shapes") {
		s := place.Shape{
			Kind: rapid.SampledFrom([]place.ShapeKind{place.Slope, place.Block, place.Alcove}).Draw(t, "kind"),
			Name: string(rune('A' + len(room.Shapes))), Wall: rapid.SampledFrom(place.Walls).Draw(t, "wall"),
		}
		switch s.Kind {
		case place.Slope:
			s.Knee, s.Reach = mm(0.3, 2.5, "knee"), mm(0.2, 3, "reach")
		case place.Block:
			s.Along, s.Width, s.Depth = mm(0, 3, "along"), mm(0.02, 2, "width"), mm(0.02, 1, "depth")
			s.Off = rapid.SampledFrom([]float64{0, 0, 0.5}).Draw(t, "off")
			s.Height = rapid.SampledFrom([]float64{0, 1.1, 2.2}).Draw(t, "height")
		case place.Alcove:
			s.Along, s.Width, s.Depth = mm(0, 3, "along"), mm(0.05, 1, "width"), mm(0.05, 0.5, "depth")
			s.Up, s.Height = rapid.SampledFrom([]float64{0, 0.7}).Draw(t, "up"), mm(0.1, 1.5, "height")
		}
		// Corners and shapes that touch are where mistakes hide.
		if s.Kind != place.Slope {
			long := room.Width
			if s.Wall == "left" || s.Wall == "right" {
				long = room.Length
			}
			if rapid.Bool().Draw(t, "in the right corner") && s.Width < long {
				s.Along = math.Round((long-s.Width)*1e3) / 1e3
			}
		}
		room.Shapes = append(room.Shapes, s)
		if len(room.Misfits()) > 0 {
			room.Shapes = room.Shapes[:len(room.Shapes)-1]
		}
	}
	return room
}

func TestShapedBox_Surfaces_AreClosed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		room := drawShapedBox(t)
		surfaces, err := room.Surfaces()
		require.NoError(t, err)
		names := map[string]bool{}
		for _, s := range surfaces {
			if names[s.Name] {
				t.Fatalf("two surfaces are named %s", s.Name)
			}
			names[s.Name] = true
			checked, err := place.NewSurface(s)
			require.NoError(t, err)
			require.Equal(t, s.Outline, checked.Outline, "%s is in normal form", s.Name)
			for _, c := range s.Cuts {
				for _, p := range c.Outline {
					require.GreaterOrEqual(t, (&place.Surface{Outline: s.Outline}).DistanceToEdge(p), -1e-6, "%s, cut %s", s.Name, c.Name)
				}
			}
			one, ok, err := room.Surface(s.Name)
			require.NoError(t, err)
			require.True(t, ok)
			require.Equal(t, s, one)
		}
		volume, vectorArea := enclosed(surfaces)
		if vectorArea.Norm() > 1e-4 { // what is left out as too small, at most
			t.Fatalf("not closed: %v", vectorArea)
		}
		want := solid{room}.volume()
		if math.Abs(volume-want) > 0.01*want { // the grid's own error
			t.Fatalf("volume %v, want %v", volume, want)
		}
	})
}

// A ray from inside goes through the room until it meets a surface, and is out of the room behind it.
func TestShapedBox_Surfaces_StopRays(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		room := drawShapedBox(t)
		surfaces, err := room.Surfaces()
		require.NoError(t, err)
		s := solid{room}
		// Off the grid of whole millimetres that the shapes are drawn on, so that no ray starts in a plane.
		from := place.Vec{
			X: (float64(rapid.IntRange(0, 5999).Draw(t, "x")) + 0.37) / 1e3,
			Y: (float64(rapid.IntRange(0, 5999).Draw(t, "y")) + 0.37) / 1e3,
			Z: (float64(rapid.IntRange(0, 2999).Draw(t, "z")) + 0.37) / 1e3,
		}
		component := rapid.IntRange(-100, 100)
		way := place.Vec{X: float64(component.Draw(t, "dx")), Y: float64(component.Draw(t, "dy")), Z: float64(component.Draw(t, "dz"))}.Unit()
		inside := func(at float64) bool {
			p := from.Add(way.Scale(at))
			return s.holds(p.X, p.Y, p.Z)
		}
		if way == (place.Vec{}) || !inside(0) {
			t.Skip("not a ray from inside")
		}
		hit, ok := place.Meet(surfaces, from, way)
		if !ok {
			t.Fatal("the ray leaves the room unseen")
		}
		for k := range 200 {
			if at := hit.Distance * float64(k) / 200; !inside(at) {
				t.Fatalf("out of the room at %v, %v before %s", at, hit.Distance-at, surfaces[hit.Surface].Name)
			}
		}
		if grazing := math.Abs(way.Dot(surfaces[hit.Surface].Normal())) < 0.01; !grazing && inside(hit.Distance+1e-6) && surfaces[hit.Surface].DistanceToEdge(hit.Spot) > 1e-3 {
			t.Fatalf("still in the room behind %s", surfaces[hit.Surface].Name)
		}
		if way.Dot(surfaces[hit.Surface].Normal()) > 0 {
			t.Fatalf("%s is met from behind", surfaces[hit.Surface].Name)
		}
	})
}

// attic has all kinds of shape; its surfaces are worked out by hand below.
var attic = place.ShapedBox{Width: 5, Length: 6, Height: 2.5, Shapes: []place.Shape{
	{Kind: place.Slope, Name: "slope left", Wall: "left", Knee: 1, Reach: 2},
	{Kind: place.Slope, Name: "slope front", Wall: "front", Knee: 1.3, Reach: 1.6},
	{Kind: place.Block, Name: "breast", Wall: "rear", Along: 1, Width: 1.2, Depth: 0.4},
	{Kind: place.Block, Name: "pier", Wall: "right", Along: 5.7, Width: 0.3, Depth: 0.2, Height: 1.2},
	{Kind: place.Block, Name: "column", Wall: "rear", Along: 2, Off: 2, Width: 0.3, Depth: 0.3},
	{Kind: place.Alcove, Name: "niche", Wall: "right", Along: 3, Up: 0.8, Width: 0.9, Height: 1.1, Depth: 0.25},
}}

func TestShapedBox_Surfaces_ByHand(t *testing.T) {
	surfaces, err := attic.Surfaces()
	require.NoError(t, err)
	var names []string
	byName := map[string]*place.Surface{}
	for i := range surfaces {
		names = append(names, surfaces[i].Name)
		byName[surfaces[i].Name] = &surfaces[i]
	}
	assert.Equal(t, []string{
		"front", "right", "rear", "left", "ceiling", "floor", "slope left", "slope front",
		"breast", "breast left cheek", "breast right cheek",
		"pier", "pier left cheek", "pier top", // its right cheek lies in the rear wall
		"column", "column left cheek", "column right cheek", "column back",
		"niche", "niche left cheek", "niche right cheek", "niche base", "niche head",
	}, names)
	for _, row := range []struct {
		surface       string
		spot          place.Spot
		at            place.Vec
		normal        place.Vec
		area          float64
		areaReckoning string
	}{
		{"ceiling", place.Spot{}, place.Vec{X: 2, Y: 4.4, Z: 2.5}, place.Vec{Z: -1}, 3*4.4 - 1.2*0.4 - 0.09, "flat part less breast and column"},
		{"slope left", place.Spot{}, place.Vec{Y: 6, Z: 1}, place.Vec{X: 0.6, Z: -0.8}, 0, ""},
		{"slope left", place.Spot{Along: 2.5, Up: 1.6}, place.Vec{X: 2, Y: 4.4, Z: 2.5}, place.Vec{X: 0.6, Z: -0.8}, 0, ""},
		{"slope front", place.Spot{}, place.Vec{Y: 6, Z: 1.3}, place.Vec{Y: -0.6, Z: -0.8}, 0, ""},
		{"right", place.Spot{}, place.Vec{X: 5, Y: 6}, place.Vec{X: -1}, 6*2.5 - 1.6*1.2/2 - 0.9*1.1 - 0.3*1.2, "less the slope's triangle, the niche and the pier"},
		{"rear", place.Spot{}, place.Vec{X: 5}, place.Vec{Y: 1}, 5*2.5 - 2*1.5/2 - 1.2*2.5 - 0.2*1.2, "less the slope's triangle, the breast and the pier's cheek"},
		{"front", place.Spot{}, place.Vec{Y: 6}, place.Vec{Y: -1}, 5*1.3 - 0.4*0.3/2, "up to its knee, less the left slope's corner"},
		{"left", place.Spot{}, place.Vec{}, place.Vec{X: 1}, 6 * 1, "up to its knee, which is lower than the front slope there"},
		{"floor", place.Spot{}, place.Vec{}, place.Vec{Z: 1}, 5*6 - 1.2*0.4 - 0.3*0.2 - 0.09, ""},
		{"breast", place.Spot{}, place.Vec{X: 4, Y: 0.4}, place.Vec{Y: 1}, 1.2 * 2.5, ""},
		{"breast left cheek", place.Spot{}, place.Vec{X: 4}, place.Vec{X: 1}, 0.4 * 2.5, ""},
		{"breast right cheek", place.Spot{}, place.Vec{X: 2.8, Y: 0.4}, place.Vec{X: -1}, 0.4 * 2.5, ""},
		{"pier", place.Spot{}, place.Vec{X: 4.8, Y: 0.3}, place.Vec{X: -1}, 0.3 * 1.2, ""},
		{"pier left cheek", place.Spot{}, place.Vec{X: 5, Y: 0.3}, place.Vec{Y: 1}, 0.2 * 1.2, ""},
		{"pier top", place.Spot{}, place.Vec{X: 4.8, Y: 0.3, Z: 1.2}, place.Vec{Z: 1}, 0.3 * 0.2, ""},
		{"column", place.Spot{}, place.Vec{X: 3, Y: 2.3}, place.Vec{Y: 1}, 0.3 * 2.5, ""},
		{"column back", place.Spot{}, place.Vec{X: 2.7, Y: 2}, place.Vec{Y: -1}, 0.3 * 2.5, ""},
		{"niche", place.Spot{}, place.Vec{X: 5.25, Y: 3, Z: 0.8}, place.Vec{X: -1}, 0.9 * 1.1, ""},
		{"niche left cheek", place.Spot{}, place.Vec{X: 5, Y: 3, Z: 0.8}, place.Vec{Y: -1}, 0.25 * 1.1, ""},
		{"niche right cheek", place.Spot{}, place.Vec{X: 5.25, Y: 2.1, Z: 0.8}, place.Vec{Y: 1}, 0.25 * 1.1, ""},
		{"niche base", place.Spot{}, place.Vec{X: 5, Y: 3, Z: 0.8}, place.Vec{Z: 1}, 0.9 * 0.25, ""},
		{"niche head", place.Spot{}, place.Vec{X: 5.25, Y: 3, Z: 1.9}, place.Vec{Z: -1}, 0.9 * 0.25, ""},
	} {
		s := byName[row.surface]
		assert.InDelta(t, 0, s.At(row.spot).Sub(row.at).Norm(), 1e-12, "%s %v lies at %v", row.surface, row.spot, s.At(row.spot))
		assert.InDelta(t, 0, s.Normal().Sub(row.normal).Norm(), 1e-12, "%s faces %v", row.surface, s.Normal())
		if row.area > 0 {
			assert.InDelta(t, row.area, s.Area(), 1e-9, "%s: %s", row.surface, row.areaReckoning)
		}
	}
	assert.Equal(t, []string{"niche", "pier"}, []string{byName["right"].Cuts[1].Name, byName["right"].Cuts[0].Name})
}

// A pitched roof without a flat part has no ceiling, and a slope over the whole room leaves the wall across whole.
func TestShapedBox_Surfaces_NothingLeft(t *testing.T) {
	gable := place.ShapedBox{Width: 4, Length: 5, Height: 3, Shapes: []place.Shape{
		{Kind: place.Slope, Name: "L", Wall: "left", Knee: 1, Reach: 2}, {Kind: place.Slope, Name: "R", Wall: "right", Knee: 1, Reach: 2},
	}}
	surfaces, err := gable.Surfaces()
	require.NoError(t, err)
	assert.Len(t, surfaces, 7)
	_, ok, err := gable.Surface("ceiling")
	require.NoError(t, err)
	assert.False(t, ok)
	front, ok, err := gable.Surface("front")
	require.NoError(t, err)
	require.True(t, ok)
	assert.InDelta(t, 4*1+4*2/2, front.Area(), 1e-12)
	_, ok, err = gable.Surface("elsewhere")
	require.NoError(t, err)
	assert.False(t, ok)
}

// What stands against something takes its place off it: a hearth before a breast.
func TestShapedBox_Surfaces_Touching(t *testing.T) {
	room := place.ShapedBox{Width: 4, Length: 5, Height: 2.5, Shapes: []place.Shape{
		{Kind: place.Block, Name: "breast", Wall: "front", Along: 1, Width: 1.5, Depth: 0.4},
		{Kind: place.Block, Name: "hearth", Wall: "front", Along: 1.2, Off: 0.4, Width: 1, Depth: 0.3, Height: 0.3},
	}}
	breast, _, err := room.Surface("breast")
	require.NoError(t, err)
	assert.InDelta(t, 1.5*2.5-1*0.3, breast.Area(), 1e-12)
	require.Len(t, breast.Cuts, 1)
	assert.Equal(t, "hearth", breast.Cuts[0].Name)
	_, ok, err := room.Surface("hearth back")
	require.NoError(t, err)
	assert.False(t, ok, "it stands against the breast")
}

func TestShapedBox_Misfits(t *testing.T) {
	slope := place.Shape{Kind: place.Slope, Name: "slope", Wall: "rear", Knee: 1.5, Reach: 2}
	breast := place.Shape{Kind: place.Block, Name: "breast", Wall: "front", Along: 1, Width: 1, Depth: 0.4}
	niche := place.Shape{Kind: place.Alcove, Name: "niche", Wall: "left", Along: 4, Up: 1, Width: 1, Height: 1, Depth: 0.3}
	with := func(s place.Shape, change func(*place.Shape)) place.Shape {
		change(&s)
		return s
	}
	for _, row := range []struct {
		name   string
		shapes []place.Shape
		size   string // of the last shape, "-" for a collision with the first, "" for none
	}{
		{"all three", []place.Shape{slope, breast, niche}, ""},
		{"no such wall", []place.Shape{with(breast, func(s *place.Shape) { s.Wall = "ceiling" })}, "wall"},
		{"knee at the ceiling", []place.Shape{with(slope, func(s *place.Shape) { s.Knee = 2.5 })}, "knee"},
		{"no knee", []place.Shape{with(slope, func(s *place.Shape) { s.Knee = 0 })}, "knee"},
		{"reach as long as the room", []place.Shape{with(slope, func(s *place.Shape) { s.Reach = 6 })}, ""},
		{"reach beyond the room", []place.Shape{with(slope, func(s *place.Shape) { s.Reach = 6.000001 })}, "reach"},
		{"sideways reach beyond the room", []place.Shape{with(slope, func(s *place.Shape) { s.Wall, s.Reach = "left", 5 })}, "reach"},
		{"off its wall", []place.Shape{with(breast, func(s *place.Shape) { s.Along = 4 })}, "along"},
		{"before its wall", []place.Shape{with(breast, func(s *place.Shape) { s.Along = -0.1 })}, "along"},
		{"into the corner", []place.Shape{with(breast, func(s *place.Shape) { s.Along = 3 })}, ""},
		{"past the corner", []place.Shape{with(breast, func(s *place.Shape) { s.Along = 3.000001 })}, "width"},
		{"no width", []place.Shape{with(breast, func(s *place.Shape) { s.Width = 0 })}, "width"},
		{"a number that is none", []place.Shape{with(breast, func(s *place.Shape) { s.Width = math.NaN() })}, "width"},
		{"through the room", []place.Shape{with(breast, func(s *place.Shape) { s.Depth = 6 })}, "depth"},
		{"off and through", []place.Shape{with(breast, func(s *place.Shape) { s.Off, s.Depth = 5, 1 })}, "depth"},
		{"above the ceiling", []place.Shape{with(breast, func(s *place.Shape) { s.Height = 2.5 })}, "height"},
		{"an alcove above the ceiling", []place.Shape{with(niche, func(s *place.Shape) { s.Height = 1.6 })}, "height"},
		{"an alcove without depth", []place.Shape{with(niche, func(s *place.Shape) { s.Depth = 0 })}, "depth"},
		{"an alcove under the slope", []place.Shape{slope, with(niche, func(s *place.Shape) { s.Along = 0.1 })}, "-"},
		{"an alcove beyond the slope", []place.Shape{slope, with(niche, func(s *place.Shape) { s.Along = 2 })}, ""},
		{"slopes one over another", []place.Shape{slope, with(slope, func(s *place.Shape) { s.Knee = 2 })}, "-"},
		{"slopes that cross", []place.Shape{slope, with(slope, func(s *place.Shape) { s.Wall, s.Reach = "front", 4.1 })}, "-"},
		{"slopes that make a ridge", []place.Shape{slope, with(slope, func(s *place.Shape) { s.Wall, s.Reach = "front", 4 })}, ""},
		{"slopes that make a hip", []place.Shape{slope, with(slope, func(s *place.Shape) { s.Wall = "left" })}, ""},
		{"one in another", []place.Shape{breast, with(breast, func(s *place.Shape) { s.Along = 1.9 })}, "-"},
		{"side by side", []place.Shape{breast, with(breast, func(s *place.Shape) { s.Along = 2 })}, ""},
		{"an alcove in a breast", []place.Shape{breast, with(niche, func(s *place.Shape) { s.Wall, s.Along = "front", 1.5 })}, "-"},
		{"an alcove beside a breast", []place.Shape{breast, with(niche, func(s *place.Shape) { s.Wall, s.Along = "front", 2 })}, ""},
		{"an alcove behind a pier in the corner", []place.Shape{with(breast, func(s *place.Shape) { s.Along = 0 }), with(niche, func(s *place.Shape) { s.Along = 5 })}, "-"},
		{"an alcove over another", []place.Shape{niche, with(niche, func(s *place.Shape) { s.Up, s.Height = 2, 0.4 })}, ""},
		{"an alcove in another", []place.Shape{niche, with(niche, func(s *place.Shape) { s.Up, s.Height = 1.9, 0.4 })}, "-"},
	} {
		t.Run(row.name, func(t *testing.T) {
			room := place.ShapedBox{Width: 4, Length: 6, Height: 2.5, Shapes: row.shapes}
			misfits := room.Misfits()
			surfaces, err := room.Surfaces()
			if row.size == "" {
				assert.Empty(t, misfits)
				assert.NoError(t, err)
				return
			}
			require.Len(t, misfits, 1)
			assert.Nil(t, surfaces)
			assert.ErrorContains(t, err, misfits[0].Error())
			got := misfits[0]
			assert.NotEmpty(t, got.Read)
			assert.NotEmpty(t, got.Want)
			assert.Equal(t, len(row.shapes)-1, got.Shape)
			if row.size == "-" {
				assert.Equal(t, 0, got.Other)
				assert.Empty(t, got.Size)
				return
			}
			assert.Equal(t, -1, got.Other)
			assert.Equal(t, row.size, got.Size)
		})
	}
	assert.Empty(t, place.ShapedBox{Width: -1, Shapes: []place.Shape{slope}}.Misfits(), "a room that is none")
	_, err := place.ShapedBox{Width: -1}.Surfaces()
	assert.ErrorIs(t, err, place.ErrNumber)
}

package place_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/compute/place"
)

func box(t require.TestingT, width, length, height float64) []place.Surface {
	surfaces, err := place.Box(width, length, height)
	require.NoError(t, err)
	return surfaces
}

func assertVec(t assert.TestingT, want, got place.Vec, delta float64, note ...any) {
	assert.InDeltaSlice(t, []float64{want.X, want.Y, want.Z}, []float64{got.X, got.Y, got.Z}, delta, note...)
}

// The tape conventions, checked by where a person would put the tape: along 1 m and up 0.5 m in a room of 4 × 5 × 2.4 m.
func TestBox(t *testing.T) {
	for i, row := range []struct {
		name   string
		at     place.Vec
		normal place.Vec
		along  float64 // size of the outline
		up     float64
	}{
		{"front", place.Vec{X: 1, Y: 5, Z: 0.5}, place.Vec{Y: -1}, 4, 2.4},
		{"right", place.Vec{X: 4, Y: 4, Z: 0.5}, place.Vec{X: -1}, 5, 2.4},
		{"rear", place.Vec{X: 3, Y: 0, Z: 0.5}, place.Vec{Y: 1}, 4, 2.4},
		{"left", place.Vec{X: 0, Y: 1, Z: 0.5}, place.Vec{X: 1}, 5, 2.4},
		{"ceiling", place.Vec{X: 1, Y: 4.5, Z: 2.4}, place.Vec{Z: -1}, 4, 5},
		{"floor", place.Vec{X: 1, Y: 0.5, Z: 0}, place.Vec{Z: 1}, 4, 5},
	} {
		s := box(t, 4, 5, 2.4)[i]
		assert.Equal(t, row.name, s.Name)
		assertVec(t, row.at, s.At(place.Spot{Along: 1, Up: 0.5}), 1e-15, row.name)
		assertVec(t, row.normal, s.Normal(), 1e-15, row.name)
		assert.True(t, s.Contains(place.Spot{Along: row.along, Up: row.up}), row.name)
		assert.False(t, s.Contains(place.Spot{Along: row.along + 1e-6, Up: row.up}), row.name)
		assert.False(t, s.Contains(place.Spot{Along: row.along, Up: row.up + 1e-6}), row.name)
		_, err := place.NewSurface(s)
		assert.NoError(t, err)
	}
}

func TestBox_Refuses(t *testing.T) {
	for _, size := range []place.Vec{{X: 0, Y: 5, Z: 2.4}, {X: 4, Y: -5, Z: 2.4}, {X: 4, Y: 5, Z: math.NaN()}, {X: math.Inf(1), Y: 5, Z: 2.4}} {
		_, err := place.Box(size.X, size.Y, size.Z)
		assert.ErrorIs(t, err, place.ErrNumber, "%v", size)
	}
}

// Room 4.0 wide, 5.0 long, 2.4 high, ear point (2, 2, 1.2), facing the front. Worked by hand from the plane equations, to
// four decimals; the corner at 135° may be met on either wall.
func TestMeet(t *testing.T) {
	surfaces := box(t, 4, 5, 2.4)
	seat := place.Listener{Ear: place.Vec{X: 2, Y: 2, Z: 1.2}}
	for _, row := range []struct {
		azimuth, elevation float64
		surfaces           []string
		distance           float64
		at                 place.Vec
	}{
		{0, 0, []string{"front"}, 3.0000, place.Vec{X: 2, Y: 5, Z: 1.2}},
		{30, 0, []string{"front"}, 3.4641, place.Vec{X: 0.2679, Y: 5, Z: 1.2}},
		{-30, 0, []string{"front"}, 3.4641, place.Vec{X: 3.7321, Y: 5, Z: 1.2}},
		{90, 0, []string{"left"}, 2.0000, place.Vec{X: 0, Y: 2, Z: 1.2}},
		{110, 0, []string{"left"}, 2.1284, place.Vec{X: 0, Y: 1.2721, Z: 1.2}},
		{135, 0, []string{"left", "rear"}, 2.8284, place.Vec{X: 0, Y: 0, Z: 1.2}},
		{45, 30, []string{"ceiling"}, 2.4000, place.Vec{X: 0.5303, Y: 3.4697, Z: 2.4}},
		{135, 30, []string{"ceiling"}, 2.4000, place.Vec{X: 0.5303, Y: 0.5303, Z: 2.4}},
		{30, 45, []string{"ceiling"}, 1.6971, place.Vec{X: 1.4, Y: 3.0392, Z: 2.4}},
		{110, 55, []string{"ceiling"}, 1.4649, place.Vec{X: 1.2104, Y: 1.7126, Z: 2.4}},
	} {
		hit, ok := place.Meet(surfaces, seat.Ear, seat.Ray(aimed(row.azimuth, row.elevation)).Scale(7))
		require.True(t, ok)
		assert.Contains(t, row.surfaces, surfaces[hit.Surface].Name)
		assert.InDelta(t, row.distance, hit.Distance, 5.1e-5)
		assertVec(t, row.at, surfaces[hit.Surface].At(hit.Spot), 5.1e-5)
	}
	_, ok := place.Meet(surfaces, seat.Ear, place.Vec{})
	assert.False(t, ok)
	_, ok = place.Meet(surfaces, place.Vec{X: 9, Y: 9, Z: 1}, place.Vec{X: 1})
	assert.False(t, ok)
}

func TestNewSurface_Refuses(t *testing.T) {
	good := place.Surface{
		Name: "slope", Along: place.Vec{X: 2}, Up: place.Vec{Y: 3},
		Outline: []place.Spot{{Along: 0, Up: 0}, {Along: 4, Up: 0}, {Along: 4, Up: 3}, {Along: 0, Up: 3}},
	}
	_, err := place.NewSurface(good)
	require.NoError(t, err)
	for name, row := range map[string]struct {
		spoil func(*place.Surface)
		want  error
	}{
		"origin":       {func(s *place.Surface) { s.Origin.X = math.NaN() }, place.ErrNumber},
		"zero along":   {func(s *place.Surface) { s.Along = place.Vec{} }, place.ErrFrame},
		"skew":         {func(s *place.Surface) { s.Up = place.Vec{X: 1e-8, Y: 1} }, place.ErrFrame},
		"two vertices": {func(s *place.Surface) { s.Outline = s.Outline[:2] }, place.ErrOutline},
		"no area":      {func(s *place.Surface) { s.Outline = []place.Spot{{}, {Along: 1}, {Along: 2}} }, place.ErrOutline},
		"bow tie":      {func(s *place.Surface) { s.Outline = []place.Spot{{}, {Along: 4, Up: 3}, {Along: 4}, {Up: 4}} }, place.ErrOutline},
		"vertex twice": {func(s *place.Surface) { s.Outline = []place.Spot{{}, {}, {Along: 4}, {Up: 3}} }, place.ErrOutline},
		"spike": {func(s *place.Surface) {
			s.Outline = []place.Spot{{}, {Along: 4}, {Along: 4, Up: 3}, {Along: 4, Up: 1}, {Up: 3}}
		}, place.ErrOutline},
		"vertex infinite": {func(s *place.Surface) { s.Outline = []place.Spot{{}, {Along: math.Inf(1)}, {Up: 3}} }, place.ErrNumber},
		"lining":          {func(s *place.Surface) { s.Lining = -0.01 }, place.ErrNumber},
		"spacing":         {func(s *place.Surface) { s.Framing.Spacing = math.NaN() }, place.ErrNumber},
		"found":           {func(s *place.Surface) { s.Framing.Found = []float64{1, math.NaN()} }, place.ErrNumber},
		"framing kind":    {func(s *place.Surface) { s.Framing.Kind = 9 }, place.ErrNumber},
		"empty opening":   {func(s *place.Surface) { s.Openings = []place.Area{{Name: "door"}} }, place.ErrNumber},
		"keep-out": {func(s *place.Surface) {
			s.KeepOuts = []place.Area{{Name: "pipe", Max: place.Spot{Along: 1, Up: 1}, Clearance: math.Inf(1)}}
		}, place.ErrNumber},
	} {
		t.Run(name, func(t *testing.T) {
			s := good
			row.spoil(&s)
			_, err := place.NewSurface(s)
			require.ErrorIs(t, err, row.want)
			assert.ErrorContains(t, err, `surface "slope"`)
		})
	}
}

func TestNewSurface_NormalForm(t *testing.T) {
	s, err := place.NewSurface(place.Surface{
		Along: place.Vec{X: 3, Z: 4}, Up: place.Vec{Y: 0.1},
		Outline: []place.Spot{{Along: 0, Up: 3}, {Along: 4, Up: 3}, {Along: 4, Up: 0}, {Along: 0, Up: 0}},
	})
	require.NoError(t, err)
	assertVec(t, place.Vec{X: 0.6, Z: 0.8}, s.Along, 1e-15)
	assertVec(t, place.Vec{Y: 1}, s.Up, 1e-15)
	assert.Equal(t, []place.Spot{{Along: 0, Up: 0}, {Along: 4, Up: 0}, {Along: 4, Up: 3}, {Along: 0, Up: 3}}, s.Outline)
}

// An L-shaped outline with a door and a pipe; distances read off the drawing.
func TestSurface_ClearOf(t *testing.T) {
	s, err := place.NewSurface(place.Surface{
		Along: place.Vec{X: 1}, Up: place.Vec{Z: 1},
		Outline:  []place.Spot{{}, {Along: 4}, {Along: 4, Up: 1}, {Along: 2, Up: 1}, {Along: 2, Up: 3}, {Up: 3}},
		Openings: []place.Area{{Name: "door", Min: place.Spot{Along: 0.2}, Max: place.Spot{Along: 1, Up: 2}, Clearance: 0.05}},
		KeepOuts: []place.Area{{Name: "pipe", Min: place.Spot{Along: 1.5}, Max: place.Spot{Along: 1.6, Up: 3}, Clearance: 0.1}},
	})
	require.NoError(t, err)
	for _, row := range []struct {
		spot            place.Spot
		obstacle        place.Obstacle
		name            string
		distance, spare float64
	}{
		{place.Spot{Along: 3.9, Up: 0.5}, place.Edge, "", 0.1, 0.07},
		{place.Spot{Along: 2.3, Up: 1.4}, place.Edge, "", -0.3, -0.33},
		{place.Spot{Along: 2.0, Up: 0.5}, place.KeepOut, "pipe", 0.4, 0.3}, // the inner corner is 0.5 away
		{place.Spot{Along: 1.03, Up: 2.04}, place.Opening, "door", 0.05, 0},
		{place.Spot{Along: 1.55, Up: 1.5}, place.KeepOut, "pipe", -0.05, -0.15},
		{place.Spot{Along: 5, Up: 2}, place.Edge, "", -math.Sqrt2, -math.Sqrt2 - 0.03},
	} {
		got := s.ClearOf(row.spot, 0.03)
		assert.Equal(t, row.obstacle, got.Obstacle, "%v", row.spot)
		assert.Equal(t, row.name, got.Name)
		assert.InDelta(t, row.distance, got.Distance, 1e-12)
		assert.InDelta(t, row.spare, got.Spare, 1e-12)
	}
}

func TestFraming_Members(t *testing.T) {
	regular := place.Framing{Kind: place.Studs, Spacing: 0.4064, First: 0.1}
	found := regular
	found.Found = []float64{0.52, 1.7}
	for _, row := range []struct {
		framing  place.Framing
		from, to float64
		want     []float64
	}{
		{regular, 0, 1, []float64{0.1, 0.5064, 0.9128}},
		{regular, -1, 0, []float64{-0.7128, -0.3064}},
		{found, 0, 1.75, []float64{0.1, 0.52, 0.9128, 1.3192, 1.7}}, // 1.7256 was found at 1.7
		{found, 1.71, 1.75, nil},                                    // the regular centre in the range was found outside it
		{place.Framing{Kind: place.Studs, Found: []float64{2, 1}}, 0, 3, []float64{1, 2}},
		{place.Framing{Kind: place.Masonry, Spacing: 0.4}, 0, 3, nil},
		{place.Framing{Kind: place.Studs, Spacing: 1e-9}, 0, 3, nil},
	} {
		assert.InDeltaSlice(t, append([]float64{0}, row.want...), append([]float64{0}, row.framing.Members(row.from, row.to)...), 1e-12)
	}
}

func TestTapeCorrection(t *testing.T) {
	along, up := place.TapeCorrection(place.Spot{Along: 1.254, Up: 1.2}, place.Spot{Along: 1.236, Up: 1.204})
	assert.InDelta(t, -0.018, along, 1e-12)
	assert.InDelta(t, 0.004, up, 1e-12)
}

// slanted draws a surface of any tilt and turn.
func slanted(t *rapid.T) place.Surface {
	angle := rapid.Float64Range(-math.Pi, math.Pi)
	l := place.Listener{Facing: angle.Draw(t, "turn")}
	a := l.Ray(place.Direction{Azimuth: -math.Pi / 2})
	up := l.Ray(place.Direction{Elevation: angle.Draw(t, "tilt") / 2})
	size := rapid.Float64Range(0.5, 6)
	w, h := size.Draw(t, "width"), size.Draw(t, "height")
	s, err := place.NewSurface(place.Surface{
		Name: "slanted", Origin: point(t, "origin"), Along: a, Up: up,
		Outline: []place.Spot{{}, {Along: w}, {Along: w, Up: h}, {Up: h}},
	})
	require.NoError(t, err)
	return s
}

func point(t *rapid.T, name string) place.Vec {
	c := rapid.Float64Range(-5, 5)
	return place.Vec{X: c.Draw(t, name+" x"), Y: c.Draw(t, name+" y"), Z: c.Draw(t, name+" z")}
}

func TestSurface_RoundTrips(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s, p := slanted(t), point(t, "point")
		spot, out := s.Locate(p)
		assertVec(t, p, s.At(spot).Add(s.Normal().Scale(out)), 1e-12)
		back, zero := s.Locate(s.At(spot))
		assert.InDeltaSlice(t, []float64{spot.Along, spot.Up, 0}, []float64{back.Along, back.Up, zero}, 1e-12)
	})
}

// A spot seen from anywhere lies where its direction and distance say, and a ray that way meets the surface there.
func TestListener_SeesWhatItsRayMeets(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := slanted(t)
		l := place.Listener{Ear: point(t, "ear"), Facing: rapid.Float64Range(-4, 4).Draw(t, "facing")}
		spot := place.Spot{
			Along: rapid.Float64Range(0.01, 0.49).Draw(t, "along"),
			Up:    rapid.Float64Range(0.01, 0.49).Draw(t, "up"),
		}
		p := s.At(spot)
		sight := l.See(p)
		ray := l.Ray(sight.Direction)
		assertVec(t, p, l.Ear.Add(ray.Scale(sight.Distance)), 1e-11)
		assert.InDelta(t, p.Z, sight.Height, 1e-15)
		_, out := s.Locate(l.Ear)
		if math.Abs(out) < 1e-3 {
			t.Skip("seen edge on")
		}
		hit, ok := place.Meet([]place.Surface{s}, l.Ear, ray)
		require.True(t, ok)
		assert.InDelta(t, sight.Distance, hit.Distance, 1e-8)
		assert.InDeltaSlice(t, []float64{spot.Along, spot.Up}, []float64{hit.Spot.Along, hit.Spot.Up}, 1e-8)
	})
}

// A member found again replaces what was found near it, and no other.
func TestFraming_With(t *testing.T) {
	f := place.Framing{Kind: place.Studs, Spacing: 0.4, First: 0.2, Width: 0.038, Found: []float64{0.61, 1.4}}
	g := f.With(0.59)
	assert.Equal(t, []float64{1.4, 0.59}, g.Found)
	assert.Equal(t, []float64{0.61, 1.4}, f.Found, "the framing before is as it was")
	assert.Equal(t, []float64{0.2, 0.59, 1, 1.4}, g.Members(0, 1.5))
	assert.Equal(t, f, f.With(math.NaN()))
}

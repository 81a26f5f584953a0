package place_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/compute/place"
)

// The random draws of these tests: a run is repeated by its seed, and made longer by a factor.
var (
	seed  = flag.Uint64("place.seed", 2051, "seed of the random draws")
	times = flag.Int("place.times", 1, "multiple of the usual number of random draws")
)

func random(t *testing.T, stream uint64) *rand.Rand {
	t.Logf("-place.seed=%d", *seed)
	return rand.New(rand.NewPCG(stream, *seed))
}

// anyBracket never binds.
var anyBracket = place.Bracket{PivotOut: 0.1, SwingMin: -2, SwingMax: 2, TiltMin: -2, TiltMax: 2}

func at(along, up float64) place.Spot { return place.Spot{Along: along, Up: up} }

// sector takes radians.
func sector(azimuthMin, azimuthMax, elevationMin, elevationMax float64) place.Sector {
	return place.Sector{AzimuthMin: azimuthMin, AzimuthMax: azimuthMax, ElevationMin: elevationMin, ElevationMax: elevationMax}
}

func zoneOf(t require.TestingT, m place.Mount, target place.Vec, l place.Limits) *place.Zone {
	z, err := place.NewZone(m, target, l)
	require.NoError(t, err)
	return z
}

func outlineOf(t require.TestingT, z *place.Zone) place.Outline {
	o, err := z.Outline()
	require.NoError(t, err)
	return o
}

// Ear point 1.1 m below the plane of the pivots: the permitted elevations 50° to 55°, in any azimuth, are the ring
// between two circles of radius 1.1/tan(55°) and 1.1/tan(50°), whatever the reach.
func TestZone_RingOnTheCeiling(t *testing.T) {
	ceiling := box(t, 4, 5, 2.4)[4]
	l := place.Listener{Name: "seat", Ear: place.Vec{X: 2, Y: 2, Z: 1.2}}
	z := zoneOf(t, place.Mount{Surface: &ceiling, Bracket: anyBracket, Speaker: place.Speaker{Reach: 0.2}}, l.Ear, place.Limits{
		Views: []place.View{{Listener: l, Permitted: []place.Sector{sector(-math.Pi, math.Pi, rad(50), rad(55))}}},
	})
	inner, outer := 1.1/math.Tan(rad(55)), 1.1/math.Tan(rad(50))
	for _, row := range []struct {
		radius float64
		want   bool
	}{{inner - 1e-5, false}, {inner + 1e-5, true}, {outer - 1e-5, true}, {outer + 1e-5, false}} {
		assert.Equal(t, row.want, z.Contains(place.Spot{Along: 2 + row.radius, Up: 3}), "%v", row)
		assert.Equal(t, row.want, z.Contains(place.Spot{Along: 2, Up: 3 - row.radius}), "%v", row)
	}
	outline := outlineOf(t, z)
	require.Len(t, outline, 2)
	assert.InDelta(t, math.Pi*(outer*outer-inner*inner), outline.Area(), math.Pi*2*1e-3*(outer+inner))
	areas := []float64{place.Outline{outline[0]}.Area(), place.Outline{outline[1]}.Area()}
	slices.Sort(areas)
	assert.Negative(t, areas[0]) // the hole runs clockwise
	for _, loop := range outline {
		for _, v := range loop {
			r := math.Hypot(v.Along-2, v.Up-3)
			assert.InDelta(t, 0, math.Min(math.Abs(r-inner), math.Abs(r-outer)), 1e-8)
		}
	}
	b := z.Binding(place.Spot{Along: 2.5, Up: 3}) // 0.5 m off: elevation 65.6°
	assert.Equal(t, place.PermittedDirection, b.Rule)
	assert.Equal(t, place.Elevation, b.Quantity)
	assert.True(t, b.Upper)
	assert.InDeltaSlice(t, []float64{inner - 0.5, 0, 0.5 - inner}, []float64{b.Along, b.Up, b.Distance}, 1e-8)
	along, up, ok := z.Correction(place.Spot{Along: 2.5, Up: 3})
	require.True(t, ok)
	assert.InDeltaSlice(t, []float64{inner - 0.5, 0}, []float64{along, up}, 5e-3) // among the nearest on a flat arc
	assert.InDelta(t, inner-0.5, math.Hypot(along, up), 1e-4)
}

// On the left wall, 1.9 m from the ear point to the plane of the pivots, azimuth 85° to 110° lies between
// 2 + 1.9·tan(5°) and 2 - 1.9·tan(20°) along; elevation 0° to 15° makes a straight lower edge and a hyperbola on top.
func TestZone_SideWall(t *testing.T) {
	left := box(t, 4, 5, 2.4)[3]
	l := place.Listener{Name: "seat", Ear: place.Vec{X: 2, Y: 2, Z: 1.2}}
	z := zoneOf(t, place.Mount{Surface: &left, Bracket: anyBracket, Speaker: place.Speaker{Reach: 0.2}}, l.Ear, place.Limits{
		Views: []place.View{{Listener: l, Permitted: []place.Sector{sector(rad(85), rad(110), 0, rad(15))}}},
	})
	rear, front := 2-1.9*math.Tan(rad(20)), 2+1.9*math.Tan(rad(5))
	top := func(along float64) float64 { return 1.2 + math.Tan(rad(15))*math.Hypot(1.9, along-2) }
	outline := outlineOf(t, z)
	require.Len(t, outline, 1)
	corners := 0
	for _, v := range outline[0] {
		on := math.Min(math.Min(math.Abs(v.Along-rear), math.Abs(v.Along-front)), math.Min(math.Abs(v.Up-1.2), math.Abs(v.Up-top(v.Along))))
		assert.InDelta(t, 0, on, 2e-9)
		for _, corner := range []place.Spot{at(rear, 1.2), at(front, 1.2), at(rear, top(rear)), at(front, top(front))} {
			if math.Hypot(v.Along-corner.Along, v.Up-corner.Up) < 1e-8 {
				corners++
			}
		}
	}
	assert.Equal(t, 4, corners)
	along, up, ok := z.Correction(place.Spot{Along: front + 0.018, Up: 1.196})
	require.True(t, ok)
	assert.InDeltaSlice(t, []float64{-0.018, 0.004}, []float64{along, up}, 1e-5)
	b := z.Binding(place.Spot{Along: front - 0.007, Up: 1.3})
	assert.Equal(t, "seat", b.Name)
	assert.Equal(t, place.Azimuth, b.Quantity)
	assert.InDelta(t, 0.007, b.Distance, 1e-9)
	assert.InDelta(t, 0.007, b.Along, 1e-9)
}

// Sector ends are included and ranges run anticlockwise: rows of the range tests of the EBU reference renderer
// (ear/core/test), which follow ITU-R BS.2051.
func TestSector_Contains(t *testing.T) {
	for _, row := range []struct {
		azimuth, from, to float64
		want              bool
	}{
		{0, 0, 10, true}, {10, 0, 10, true}, {5, 10, 0, false}, {15, 10, 0, true}, {180, -10, 10, false}, {0, -180, 180, true},
		{180, 180, -180, true}, {90, 180, -180, false}, {90, 0, 0, false}, {180, 175, -175, true}, {10, -5, 5, false},
		{-1, 1 - 2, 2 + 2, true}, {359, 1 - 2, 2 + 2, true},
	} {
		s := sector(rad(row.from), rad(row.to), 0, rad(15))
		// A nanoradian inwards: degrees do not survive the conversion to radians exactly.
		s.AzimuthMin, s.AzimuthMax = s.AzimuthMin-1e-9, s.AzimuthMax+1e-9
		assert.Equal(t, row.want, s.Contains(aimed(row.azimuth, 10)), "%+v", row)
		assert.False(t, s.Contains(aimed(row.azimuth, 20)), "%+v", row)
	}
	overhead := sector(rad(100), rad(120), rad(80), rad(90))
	assert.True(t, overhead.Contains(aimed(0, 90)))
	assert.True(t, place.About(aimed(0, 90), rad(2), rad(2)).Contains(aimed(170, 89)))
	assert.False(t, place.About(aimed(0, 90), rad(2), rad(2)).Contains(aimed(170, 87)))
}

func TestNewZone_Refuses(t *testing.T) {
	left := box(t, 4, 5, 2.4)[3]
	m := place.Mount{Surface: &left, Bracket: anyBracket, Speaker: place.Speaker{AxisUp: 0.05}}
	ear := place.Vec{X: 2, Y: 2, Z: 1.2}
	view := func(v place.View) place.Limits { return place.Limits{Views: []place.View{v}} }
	for name, row := range map[string]struct {
		mount  place.Mount
		target place.Vec
		limits place.Limits
		want   error
	}{
		"no surface":    {place.Mount{}, ear, place.Limits{}, place.ErrNoSurface},
		"target":        {m, place.Vec{X: math.NaN()}, place.Limits{}, place.ErrNumber},
		"behind":        {m, place.Vec{X: -1, Y: 2, Z: 1.2}, place.Limits{}, place.ErrAim},
		"beside":        {m, place.Vec{X: 0.14, Y: 2, Z: 1.2}, place.Limits{}, place.ErrAim},
		"margin":        {m, ear, place.Limits{Margin: math.NaN()}, place.ErrNumber},
		"height":        {m, ear, place.Limits{HeightMax: -1}, place.ErrNumber},
		"listener":      {m, ear, view(place.View{Listener: place.Listener{Facing: math.Inf(1)}}), place.ErrNumber},
		"sector":        {m, ear, view(place.View{Permitted: []place.Sector{{ElevationMin: 1}}}), place.ErrNumber},
		"planned":       {m, ear, view(place.View{Planned: &place.Sector{AzimuthMax: math.NaN()}}), place.ErrNumber},
		"partner":       {m, ear, view(place.View{Pair: &place.Pair{Partner: place.Sight{Distance: math.NaN()}}}), place.ErrNumber},
		"pair distance": {m, ear, view(place.View{Pair: &place.Pair{Distance: -1}}), place.ErrNumber},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := place.NewZone(row.mount, row.target, row.limits)
			assert.ErrorIs(t, err, row.want)
		})
	}
	z := zoneOf(t, m, ear, place.Limits{})
	assert.False(t, z.Contains(place.Spot{Along: math.NaN(), Up: 1}))
}

// With nothing else to keep, the zone of a bare wall is the wall less the margin.
func TestZone_BareWall(t *testing.T) {
	left := box(t, 4, 5, 2.4)[3]
	z := zoneOf(t, place.Mount{Surface: &left, Bracket: anyBracket}, place.Vec{X: 2, Y: 2, Z: 1.2}, place.Limits{Margin: 0.05})
	outline := outlineOf(t, z)
	require.Len(t, outline, 1)
	assert.Len(t, outline[0], 4)
	assert.InDelta(t, 4.9*2.3, outline.Area(), 1e-6)
	b := z.Binding(at(-0.1, 1))
	assert.Equal(t, place.SurfaceEdge, b.Rule)
	assert.Equal(t, "left", b.Name)
	assert.InDeltaSlice(t, []float64{-0.15, 0.15, 0}, []float64{b.Distance, b.Along, b.Up}, 1e-9)
}

// A range without width is a target, not a tolerance: nothing but a line is left, and the zone says so.
func TestZone_Empty(t *testing.T) {
	left := box(t, 4, 5, 2.4)[3]
	l := place.Listener{Ear: place.Vec{X: 2, Y: 2, Z: 1.2}}
	for name, sector := range map[string]place.Sector{
		"no width": sector(rad(90), rad(90), 0, 0),
		"no wall":  sector(rad(-100), rad(-80), 0, 0.2),
	} {
		z := zoneOf(t, place.Mount{Surface: &left, Bracket: anyBracket}, l.Ear, place.Limits{Views: []place.View{{Listener: l, Permitted: []place.Sector{sector}}}})
		assert.Empty(t, outlineOf(t, z), name)
		_, _, ok := z.Correction(place.Spot{Along: 1, Up: 1})
		assert.False(t, ok, name)
	}
}

// task is one random mount with everything that limits it.
type task struct {
	mount  place.Mount
	target place.Vec
	limits place.Limits
}

// draw makes a task whose zone is often neither empty nor everything.
func draw(r *rand.Rand) task {
	between := func(low, high float64) float64 { return low + (high-low)*r.Float64() }
	either := func(p float64) bool { return r.Float64() < p }
	w, l, h := between(2.5, 6), between(3, 8), between(2.2, 3)
	room, _ := place.Box(w, l, h)
	s := room[r.IntN(5)]
	if either(0.3) { // a slope, turned about a corner of the ceiling
		turn := place.Listener{Facing: between(-3, 3)}
		s.Along, s.Up = turn.Ray(place.Direction{Azimuth: -math.Pi / 2}), turn.Ray(place.Direction{Elevation: between(-1.5, 1.5)})
		s.Outline = []place.Spot{{}, at(3, 0), at(3, 1), at(2, 2.5), at(1.4, 1.2), at(0, 2)}
	}
	area := func(name string) place.Area {
		corner := at(between(0, 3), between(0, 3))
		return place.Area{Name: name, Min: corner, Max: at(corner.Along+between(0.02, 1), corner.Up+between(0.02, 2)), Clearance: between(0, 0.1)}
	}
	if either(0.5) {
		s.Openings = append(s.Openings, area("door"))
	}
	if either(0.5) {
		s.KeepOuts = append(s.KeepOuts, area("pipe"))
	}
	surface, err := place.NewSurface(s)
	if err != nil {
		panic(err)
	}
	t := task{mount: place.Mount{
		Surface: &surface,
		Hole:    at(between(0, 4), between(0, 2.5)),
		Bracket: place.Bracket{
			PivotAlong: between(-0.05, 0.05), PivotUp: between(-0.05, 0.05), PivotOut: between(0.02, 0.15),
			SwingMin: between(-1.6, -0.2), SwingMax: between(0.2, 1.6), TiltMin: between(-1.4, -0.2), TiltMax: between(0, 1.2),
		},
		Speaker: place.Speaker{Reach: between(0, 0.3)},
	}}
	if either(0.5) {
		t.mount.Bracket.Holes = []place.Spot{{}, at(0, between(-0.2, -0.02)), at(between(0.02, 0.2), 0)}
	}
	if either(0.5) {
		t.mount.Speaker.AxisRight, t.mount.Speaker.AxisUp = between(-0.08, 0.08), between(-0.08, 0.08)
	}
	front := surface.At(at(between(0, 3), between(0, 2))).Add(surface.Normal().Scale(between(0.6, 3)))
	t.target = front
	t.limits = place.Limits{Margin: between(0, 0.06) * float64(r.IntN(2)), HeightMin: front.Z - between(0, 2)*float64(r.IntN(2)), HeightMax: math.Max(0, front.Z+between(0, 3)) * float64(r.IntN(2))}
	pose, err := place.Aim(t.mount, t.target)
	if err != nil {
		return draw(r)
	}
	for i := range 1 + r.IntN(3) {
		listener := place.Listener{Name: fmt.Sprint("seat ", i), Ear: front.Add(place.Vec{X: between(-1, 1), Y: between(-1, 1), Z: between(-0.2, 0.2)}.Scale(float64(min(i, 1)))), Facing: between(-3, 3)}
		seen := listener.See(pose.Centre)
		v := place.View{Listener: listener}
		for range r.IntN(3) {
			from, el := seen.Azimuth+between(-1, 0.1), math.Min(seen.Elevation+between(-0.5, 0.1), 1.5)
			v.Permitted = append(v.Permitted, sector(from, from+between(0, 4)*between(0, 1), el, math.Min(el+between(0, 1), math.Pi/2)))
		}
		if either(0.3) {
			sector := place.About(seen.Direction, between(0.02, 0.3), between(0.02, 0.3))
			v.Planned = &sector
		}
		if either(0.3) {
			partner := seen
			partner.Azimuth = -seen.Azimuth + between(-0.1, 0.1)
			v.Pair = &place.Pair{Partner: partner, Azimuth: between(0, 0.3), Elevation: between(0, 0.3) * float64(r.IntN(2)), Distance: between(0, 0.5) * float64(r.IntN(2)), Height: between(0, 0.4) * float64(r.IntN(2))}
		}
		t.limits.Views = append(t.limits.Views, v)
	}
	return t
}

// checks are the same rules point by point, by aiming the loudspeaker and looking at it.
func (t task) checks(spot place.Spot) bool {
	m := t.mount
	m.Hole = spot
	pose, err := place.Aim(m, t.target)
	if err != nil || pose.SwingExcess != 0 || pose.TiltExcess != 0 {
		return false
	}
	if z := pose.Centre.Z; z < t.limits.HeightMin || (t.limits.HeightMax > 0 && z > t.limits.HeightMax) {
		return false
	}
	for _, h := range m.Bracket.Pattern() {
		if m.Surface.ClearOf(at(spot.Along+h.Along, spot.Up+h.Up), t.limits.Margin).Spare < 0 {
			return false
		}
	}
	for _, v := range t.limits.Views {
		seen := v.Listener.See(pose.Centre)
		in := func(s place.Sector) bool { return s.Contains(seen.Direction) }
		if len(v.Permitted) > 0 && !slices.ContainsFunc(v.Permitted, in) || v.Planned != nil && !in(*v.Planned) {
			return false
		}
		if p := v.Pair; p != nil {
			d := place.PairDeviation(seen, p.Partner)
			for _, c := range [][2]float64{{d.Azimuth, p.Azimuth}, {d.Elevation, p.Elevation}, {d.Distance, p.Distance}, {d.Height, p.Height}} {
				if c[1] > 0 && math.Abs(c[0]) > c[1] {
					return false
				}
			}
		}
	}
	return true
}

// least is the least value of a zone's constraints.
func least(z *place.Zone, spot place.Spot) float64 {
	v := math.Inf(1)
	for i := range z.Constraints {
		v = math.Min(v, z.Value(i, spot))
	}
	return v
}

// spots draws places on and around a surface and near a zone's boundary.
func spots(r *rand.Rand, n int) []place.Spot {
	var out []place.Spot
	for range n {
		out = append(out, place.Spot{Along: -0.2 + 5*r.Float64(), Up: -0.2 + 3.2*r.Float64()})
	}
	return out
}

// A spot is in the zone exactly when it passes every check by itself. 10,000 random mounts on walls, ceilings and slopes.
func TestZone_IsWhereTheChecksPass(t *testing.T) {
	r := random(t, 1)
	within, compared := 0, 0
	for i := range 10000 * *times {
		task := draw(r)
		z, err := place.NewZone(task.mount, task.target, task.limits)
		if err != nil {
			require.ErrorIs(t, err, place.ErrAim)
			continue
		}
		for _, spot := range append(spots(r, 8), task.mount.Hole) {
			if math.Abs(least(z, spot)) < 2e-6 {
				continue // too close to call
			}
			want := task.checks(spot)
			if want {
				within++
			}
			compared++
			require.Equal(t, want, z.Contains(spot), "draw %d, spot %v, %+v", i, spot, z.Binding(spot))
			every := true
			for v := range task.limits.Views {
				every = every && z.Of(v).Contains(spot)
			}
			require.Equal(t, want, every, "the zone of all positions is what the zones of each have in common")
		}
	}
	t.Logf("%d spots compared, %d of them in their zone", compared, within)
	require.Greater(t, within, compared/50)
	require.Greater(t, compared-within, compared/50)
}

// The outline is on the exact curves, and encloses what Contains says, but for slivers.
func TestZone_Outline(t *testing.T) {
	r := random(t, 2)
	loops, missed, compared := 0, 0, 0
	for i := range 1500 * *times {
		task := draw(r)
		z, err := place.NewZone(task.mount, task.target, task.limits)
		if err != nil {
			continue
		}
		outline, err := z.Outline()
		require.NoError(t, err, "draw %d", i)
		for _, loop := range outline {
			loops++
			for k, v := range loop {
				require.InDelta(t, 0, least(z, v), 5e-9, "draw %d, vertex %v", i, v)
				next := loop[(k+1)%len(loop)]
				middle := place.Spot{Along: (v.Along + next.Along) / 2, Up: (v.Up + next.Up) / 2}
				require.LessOrEqual(t, math.Abs(least(z, middle)), 1e-3*1.5, "draw %d, between %v and %v", i, v, next)
			}
		}
		for _, spot := range spots(r, 20) {
			if math.Abs(z.Binding(spot).Distance) < 5e-3 {
				continue
			}
			compared++
			if z.Contains(spot) != winds(outline, spot) {
				missed++
				t.Logf("draw %d: %v, %+v", i, spot, z.Binding(spot))
			}
		}
	}
	t.Logf("%d loops, %d spots compared, %d differ", loops, compared, missed)
	require.Zero(t, missed)
	require.Greater(t, loops, 300)
}

// winds tells whether an outline encloses a spot, by counting crossings.
func winds(outline place.Outline, p place.Spot) bool {
	in := false
	for _, loop := range outline {
		for k, a := range loop {
			b := loop[(k+1)%len(loop)]
			if (a.Up > p.Up) != (b.Up > p.Up) && p.Along < a.Along+(p.Up-a.Up)*(b.Along-a.Along)/(b.Up-a.Up) {
				in = !in
			}
		}
	}
	return in
}

// Moving by the correction lands in the zone, passes every check but for rounding, and no sampled spot of the zone is
// much nearer. In the zone the binding constraint is met, outside it is not.
func TestZone_CorrectionLandsInside(t *testing.T) {
	r := random(t, 3)
	corrected := 0
	for i := range 1500 * *times {
		task := draw(r)
		z, err := place.NewZone(task.mount, task.target, task.limits)
		if err != nil {
			continue
		}
		for _, spot := range spots(r, 3) {
			b := z.Binding(spot)
			require.False(t, math.IsNaN(b.Distance+b.Along+b.Up) || math.IsInf(b.Distance, 0), "draw %d: %+v", i, b)
			require.Equal(t, z.Contains(spot), b.Value > -5e-7, "draw %d: %+v", i, b)
			along, up, ok := z.Correction(spot)
			if !ok {
				continue
			}
			corrected++
			to := place.Spot{Along: spot.Along + along, Up: spot.Up + up}
			require.True(t, z.Contains(to), "draw %d: %v to %v", i, spot, to)
			for _, other := range spots(r, 10) {
				if z.Contains(other) && math.Abs(least(z, other)) > 5e-3 {
					d := math.Hypot(other.Along-spot.Along, other.Up-spot.Up)
					require.LessOrEqual(t, math.Hypot(along, up), d+2e-3, "draw %d: %v is nearer to %v", i, other, spot)
				}
			}
		}
	}
	require.Greater(t, corrected, 300)
}

// A room mirrored left to right has the mirrored zone.
func TestZone_Mirrored(t *testing.T) {
	room := box(t, 4, 5, 2.4)
	l := place.Listener{Ear: place.Vec{X: 1.8, Y: 2, Z: 1.2}, Facing: 0.1}
	twin := place.Listener{Ear: place.Vec{X: 2.2, Y: 2, Z: 1.2}, Facing: -0.1}
	m := place.Mount{Surface: &room[3], Bracket: anyBracket, Speaker: place.Speaker{Reach: 0.2, AxisRight: 0.03, AxisUp: 0.02}}
	mirrored := m
	mirrored.Surface, mirrored.Speaker.AxisRight = &room[1], -0.03
	left := zoneOf(t, m, l.Ear, place.Limits{Views: []place.View{{Listener: l, Permitted: []place.Sector{sector(rad(85), rad(110), 0, rad(15))}}}, Margin: 0.1})
	right := zoneOf(t, mirrored, twin.Ear, place.Limits{Views: []place.View{{Listener: twin, Permitted: []place.Sector{sector(rad(-110), rad(-85), 0, rad(15))}}}, Margin: 0.1})
	assert.InDelta(t, outlineOf(t, left).Area(), outlineOf(t, right).Area(), 1e-3)
	r := random(t, 4)
	for _, spot := range spots(r, 2000) {
		mirror := place.Spot{Along: 5 - spot.Along, Up: spot.Up} // both walls count along from their left corner
		require.InDelta(t, least(left, spot), least(right, mirror), 1e-12)
	}
}

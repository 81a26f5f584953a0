package place_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/compute/place"
)

// A side wall with studs at 16 in (IRC table R602.3(5): 406.4 mm), a loudspeaker planned at azimuth 90°, and room for
// ±5°: 2 m ± 1.9·tan(5°) = 1.8338 to 2.1662 along. The only stud in there has its centre at 0.1 + 5·0.4064 = 2.132 m.
func sideWall(t require.TestingT, f place.Framing, tolerance float64) *place.Zone {
	left := box(t, 4, 5, 2.4)[3]
	left.Framing = f
	left.KeepOuts = []place.Area{{Name: "pipe", Min: at(2.1, 1.9), Max: at(2.2, 2.4), Clearance: 0.03}}
	l := place.Listener{Ear: place.Vec{X: 2, Y: 2, Z: 1.2}}
	planned := place.About(aimed(90, 10), rad(tolerance), rad(tolerance))
	bracket := anyBracket
	bracket.Holes = []place.Spot{at(0, 0.05), at(0, -0.05), at(0.1, 0)}
	m := place.Mount{Surface: &left, Hole: at(2, 1.535), Bracket: bracket, Speaker: place.Speaker{Reach: 0.2}}
	return zoneOf(t, m, l.Ear, place.Limits{Views: []place.View{{Listener: l, Planned: &planned}}})
}

var studs = place.Framing{Kind: place.Studs, Spacing: 0.4064, First: 0.1, Width: 0.038}

func TestZone_Fit(t *testing.T) {
	z := sideWall(t, studs, 5)
	fit, err := z.Fit(2, 0.007)
	require.NoError(t, err)
	require.Len(t, fit.Fittings, 1)
	assert.Empty(t, fit.Offers)
	f := fit.Fittings[0]
	assert.InDelta(t, 2.125, f.Spot.Along, 5e-6) // the near side of the margin about the stud
	assert.InDelta(t, 0.125, f.Along, 5e-6)
	assert.InDelta(t, 1.535, f.Spot.Up, 1e-3) // straight along, but for the millimetre of the outline
	require.Len(t, f.Meetings, 2)
	for i, m := range f.Meetings {
		assert.Equal(t, i, m.Hole)
		assert.InDelta(t, 2.132, m.Member, 1e-12)
		assert.InDelta(t, -0.007, m.Off, 5e-6)
	}
	assert.InDelta(t, math.Atan(0.125/1.9), f.Angle, 0.003)

	// One hole is enough: with the third on the stud the reference hole is 0.1 nearer to the rear.
	fit, err = z.Fit(1, 0.007)
	require.NoError(t, err)
	require.Len(t, fit.Fittings, 2)
	assert.InDelta(t, 2.025, fit.Fittings[0].Spot.Along, 5e-6)
	assert.Equal(t, 2, fit.Fittings[0].Meetings[0].Hole)
	assert.Less(t, fit.Fittings[0].Angle, fit.Fittings[1].Angle)

	// All three never meet studs 0.4064 apart, however wide the limits.
	fit, err = z.Fit(3, 0.007)
	require.NoError(t, err)
	assert.Empty(t, fit.Fittings)
	assert.NotContains(t, remedies(fit), place.WiderLimits)
}

func remedies(f place.Fit) []place.Remedy {
	var out []place.Remedy
	for _, o := range f.Offers {
		out = append(out, o.Remedy)
	}
	return out
}

// With ±2° no stud is in reach: 2 ± 1.9·tan(2°) is 1.934 to 2.066. The studs at 1.7256 and 2.132 stand on either side.
func TestZone_Fit_Offers(t *testing.T) {
	fit, err := sideWall(t, studs, 2).Fit(2, 0.007)
	require.NoError(t, err)
	assert.Empty(t, fit.Fittings)
	require.Equal(t, []place.Remedy{place.BackingBoard, place.OtherPattern, place.WiderLimits}, remedies(fit))
	board, pattern, wider := fit.Offers[0], fit.Offers[1], fit.Offers[2]
	assert.InDeltaSlice(t, []float64{2, 1.535, 1.7256, 2.132}, []float64{board.Spot.Along, board.Spot.Up, board.From, board.To}, 1e-3)
	assert.InDelta(t, 0.132, pattern.Offset, 1e-6)
	assert.InDelta(t, 2.125, wider.Spot.Along, 5e-6)
	assert.InDelta(t, math.Atan(0.125/1.9), wider.Angle, 0.003)
	require.Len(t, wider.Breaks, 1)
	assert.Equal(t, place.PlannedDirection, wider.Breaks[0].Rule)
	assert.Equal(t, place.Azimuth, wider.Breaks[0].Quantity)
	assert.InDelta(t, 2+1.9*math.Tan(rad(2))-2.125, wider.Breaks[0].Distance, 1e-5)
	assert.Len(t, wider.Meetings, 2)
}

func TestZone_Fit_OtherConstructions(t *testing.T) {
	for _, kind := range []place.FramingKind{place.Masonry, place.Concrete} {
		fit, err := sideWall(t, place.Framing{Kind: kind}, 5).Fit(3, 0)
		require.NoError(t, err)
		require.Len(t, fit.Fittings, 1)
		assert.Equal(t, at(2, 1.535), fit.Fittings[0].Spot)
	}
	fit, err := sideWall(t, place.Framing{}, 5).Fit(1, 0.01)
	require.NoError(t, err)
	assert.Empty(t, fit.Fittings)
	// Joists counted up the surface: a member at 1.55 m, both holes of the row at the same height.
	fit, err = sideWall(t, place.Framing{Kind: place.Studs, Across: true, Found: []float64{1.55}}, 5).Fit(1, 0.007)
	require.NoError(t, err)
	require.NotEmpty(t, fit.Fittings)
	assert.InDelta(t, 1.543, fit.Fittings[0].Spot.Up, 5e-6)
}

func TestZone_Fit_Refuses(t *testing.T) {
	z := sideWall(t, studs, 5)
	for _, row := range []struct {
		holes  int
		margin float64
		want   error
	}{{0, 0.007, place.ErrHoles}, {4, 0.007, place.ErrHoles}, {2, math.NaN(), place.ErrNumber}, {2, -1, place.ErrNumber}} {
		_, err := z.Fit(row.holes, row.margin)
		assert.ErrorIs(t, err, row.want)
	}
}

// Every fitting passes the checks of the zone and meets the framing; where a search over a fine raster finds a spot, so
// does Fit, and none that it finds is much nearer to the plan.
func TestZone_Fit_PassesTheChecks(t *testing.T) {
	r := random(t, 5)
	fittings, offers := 0, 0
	for i := range 500 * *times {
		task := draw(r)
		surface := *task.mount.Surface
		surface.Framing = place.Framing{Kind: place.Studs, Across: r.IntN(2) == 0, Spacing: 0.3 + 0.4*r.Float64(), First: r.Float64(), Width: 0.038, Found: []float64{r.Float64() * 3}}
		task.mount.Surface = &surface
		z, err := place.NewZone(task.mount, task.target, task.limits)
		if err != nil {
			continue
		}
		holes, margin := 1+r.IntN(len(task.mount.Bracket.Pattern())), 0.001+0.012*r.Float64()
		fit, err := z.Fit(holes, margin)
		require.NoError(t, err)
		members := surface.Framing.Members(-1, 9)
		meets := func(spot place.Spot, within float64) int {
			n := 0
			for _, h := range task.mount.Bracket.Pattern() {
				x := spot.Along + h.Along
				if surface.Framing.Across {
					x = spot.Up + h.Up
				}
				for _, c := range members {
					if math.Abs(x-c) <= within {
						n++
						break
					}
				}
			}
			return n
		}
		nearest := math.Inf(1)
		for k, f := range fit.Fittings {
			fittings++
			require.True(t, z.Contains(f.Spot), "draw %d", i)
			require.GreaterOrEqual(t, meets(f.Spot, margin+1e-6), holes, "draw %d", i)
			require.GreaterOrEqual(t, len(f.Meetings), holes, "draw %d", i)
			require.InDelta(t, task.mount.Hole.Along+f.Along, f.Spot.Along, 1e-12)
			if k > 0 {
				require.LessOrEqual(t, fit.Fittings[k-1].Angle, f.Angle)
			}
			nearest = math.Min(nearest, math.Hypot(f.Along, f.Up))
		}
		for _, o := range fit.Offers {
			offers++
			if o.Remedy == place.WiderLimits {
				require.NotEmpty(t, o.Breaks, "draw %d", i)
				require.GreaterOrEqual(t, len(o.Meetings), holes, "draw %d", i)
			}
		}
		for range 300 {
			spot := spots(r, 1)[0]
			if least(z, spot) > 5e-3 && meets(spot, margin) >= holes {
				d := math.Hypot(spot.Along-task.mount.Hole.Along, spot.Up-task.mount.Hole.Up)
				require.LessOrEqual(t, nearest, d+2e-3, "draw %d: %v", i, spot)
			}
		}
	}
	t.Logf("%d fittings, %d offers", fittings, offers)
	require.Greater(t, fittings, 100)
	require.Greater(t, offers, 100)
}

// A coordinate lies in a strip exactly when enough holes of the pattern, put there, are near enough to a member.
func TestZone_Strips(t *testing.T) {
	z := sideWall(t, studs, 5)
	const margin = 0.007
	for holes := 1; holes <= 3; holes++ {
		strips, err := z.Strips(holes, margin)
		require.NoError(t, err)
		for mm := 150; mm < 4800; mm++ {
			x := float64(mm)/1000 + 0.0003
			met := 0
			for _, hole := range []float64{0, 0, 0.1} {
				if math.Abs(math.Remainder(x+hole-0.1, 0.4064)) <= margin {
					met++
				}
			}
			in := slices.ContainsFunc(strips, func(s place.Strip) bool { return s.From <= x && x <= s.To })
			assert.Equal(t, met >= holes, in, "%d holes at %v", holes, x)
		}
	}
	_, err := z.Strips(4, margin)
	require.ErrorIs(t, err, place.ErrHoles)
	_, err = z.Strips(1, -0.001)
	require.ErrorIs(t, err, place.ErrNumber)
}

func TestZone_Centre_IsThatOfTheAimedLoudspeaker(t *testing.T) {
	z := sideWall(t, studs, 5)
	left := box(t, 4, 5, 2.4)[3]
	bracket := anyBracket
	for _, spot := range []place.Spot{at(2, 1.5), at(3.1, 0.4)} {
		pose, err := place.Aim(place.Mount{Surface: &left, Hole: spot, Bracket: bracket, Speaker: place.Speaker{Reach: 0.2}}, place.Vec{X: 2, Y: 2, Z: 1.2})
		require.NoError(t, err)
		assertVec(t, pose.Centre, z.Centre(spot), 1e-12)
	}
}

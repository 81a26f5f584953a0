package plan_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/plan"
	"hangtrue/compute/place"
	"hangtrue/compute/tape"
)

func TestUnitsSystem(t *testing.T) {
	assert.Equal(t, tape.Metric, plan.Metric.System())
	assert.Equal(t, tape.Imperial, plan.Imperial.System())
}

func TestSurfacesOfABoxKeepTheirDetails(t *testing.T) {
	p := decode(t, "demo/plan.json")
	all, err := p.Surfaces()
	require.NoError(t, err)
	var names []string
	for _, s := range all {
		names = append(names, s.Name)
	}
	assert.Equal(t, []string{"front", "right", "rear", "left", "ceiling", "floor", "slope", "breast face", "breast left cheek", "breast right cheek"}, names)
	front, left, slope := all[0], all[3], all[6]
	assert.Equal(t, []place.Area{{Name: "window", Min: place.Spot{Along: 1.65, Up: 1.4}, Max: place.Spot{Along: 3.25, Up: 2.3}, Clearance: 0.05}}, front.Openings)
	assert.Equal(t, place.Masonry, front.Framing.Kind)
	assert.Equal(t, 0.406, left.Framing.Spacing)
	assert.Equal(t, 0.0125, left.Lining)
	// The slope falls 0.5 m over 1.7 m, so its normal leans atan(0.5/1.7) from straight down towards the front.
	assert.InDelta(t, math.Atan(0.5/1.7), math.Atan2(slope.Normal().Y, -slope.Normal().Z), 1e-6)
	assert.InDelta(t, 2.0, slope.At(place.Spot{Up: math.Hypot(1.7, 0.5)}).Z, 1e-5)
}

// listed makes the example's room a list of walls, floor and ceiling over a floor plan given anticlockwise from above.
func listed(p *plan.Plan, corners [][2]float64) {
	var surfaces []plan.Surface
	var floor, ceiling [][2]float64
	for i, a := range corners {
		b := corners[(i+1)%len(corners)]
		dx, dy := b[0]-a[0], b[1]-a[1]
		n := math.Hypot(dx, dy)
		// Seen from inside, an anticlockwise wall runs from b on its left to a on its right.
		surfaces = append(surfaces, plan.Surface{
			Name: string(rune('A' + i)), Construction: plan.Construction{Kind: plan.Other},
			Frame: &plan.Frame{Origin: [3]float64{b[0], b[1], 0}, Along: [3]float64{-dx / n, -dy / n, 0}, Up: [3]float64{0, 0, 1}, Outline: [][2]float64{{0, 0}, {n, 0}, {n, 2.4}, {0, 2.4}}},
		})
		floor = append(floor, a)
	}
	for i := len(floor) - 1; i >= 0; i-- {
		ceiling = append(ceiling, [2]float64{floor[i][0], -floor[i][1]})
	}
	surfaces = append(surfaces,
		plan.Surface{Name: "floor", Construction: plan.Construction{Kind: plan.Other}, Frame: &plan.Frame{Along: [3]float64{1, 0, 0}, Up: [3]float64{0, 1, 0}, Outline: floor}},
		plan.Surface{Name: "ceiling", Construction: plan.Construction{Kind: plan.Other}, Frame: &plan.Frame{Origin: [3]float64{0, 0, 2.4}, Along: [3]float64{1, 0, 0}, Up: [3]float64{0, -1, 0}, Outline: ceiling}})
	p.Room = plan.Room{Surfaces: surfaces}
}

// An L-shaped and a U-shaped room, where a point can lie behind a wall's plane and yet inside.
func TestDecodeEarPointInListedRooms(t *testing.T) {
	l := [][2]float64{{0, 0}, {6, 0}, {6, 2}, {2, 2}, {2, 4}, {0, 4}}
	u := [][2]float64{{0, 0}, {6, 0}, {6, 4}, {4, 4}, {4, 2}, {2, 2}, {2, 4}, {0, 4}}
	for name, row := range map[string]struct {
		corners [][2]float64
		ear     [3]float64
		inside  bool
	}{
		"L, long leg":     {l, [3]float64{5, 1, 1.2}, true},
		"L, short leg":    {l, [3]float64{1, 3, 1.2}, true},
		"L, the notch":    {l, [3]float64{4, 3, 1.2}, false},
		"L, out of doors": {l, [3]float64{7, 5, 1.2}, false},
		"L, upstairs":     {l, [3]float64{1, 1, 3}, false},
		"L, cellar":       {l, [3]float64{1, 1, -0.5}, false},
		"U, left leg":     {u, [3]float64{1, 3, 1.2}, true},
		"U, right leg":    {u, [3]float64{5, 3, 1.2}, true},
		"U, base":         {u, [3]float64{3, 1, 1.2}, true},
		"U, the bay":      {u, [3]float64{3, 3, 1.2}, false},
	} {
		t.Run(name, func(t *testing.T) {
			p := decode(t, "plans/example.json")
			listed(p, row.corners)
			p.Listening[0].Ear = row.ear
			for i := range p.Mounts {
				p.Mounts[i].Surface, p.Mounts[i].Along = "A", 1+float64(i)
			}
			data, err := p.Encode()
			require.NoError(t, err)
			_, err = plan.Decode(data)
			if row.inside {
				assert.NoError(t, err)
			} else {
				assert.ErrorContains(t, err, "/listening_positions/0/ear_m")
				assert.ErrorContains(t, err, "an ear point inside the room")
			}
		})
	}
}

func TestPlaceMountThatStands(t *testing.T) {
	p := decode(t, "demo/plan.json")
	m, err := p.PlaceMount("LFE1")
	require.NoError(t, err)
	assert.Equal(t, place.Vec{X: 0.42, Y: 5.45, Z: 0.2}, m.Pivot())
	pose, err := p.Pose("LFE1")
	require.NoError(t, err)
	assert.Equal(t, m.Pivot(), pose.Centre)
}

func TestSurfacesRefuseWhatWasNotDecoded(t *testing.T) {
	_, err := (&plan.Plan{Room: plan.Room{Box: &plan.Box{Width: -1}}}).Surfaces()
	assert.ErrorIs(t, err, place.ErrNumber)
	_, err = (&plan.Plan{Room: plan.Room{Surfaces: []plan.Surface{{Name: "bay", Frame: &plan.Frame{}}}}}).Surfaces()
	assert.ErrorContains(t, err, `surface "bay"`)
	_, err = (&plan.Plan{Mounts: []plan.Mount{{Channel: "X", Surface: "bay"}}}).PlaceMount("X")
	assert.ErrorIs(t, err, plan.ErrUnknown)
}

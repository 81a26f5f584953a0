package wiring_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/compute/place"
	"hangtrue/compute/wiring"
)

type vec = place.Vec

// room is 4 m wide, 5 m long, 2.5 m high.
var room = vec{X: 4, Y: 5, Z: 2.5}

func TestRouteAddsUpStraightPieces(t *testing.T) {
	p, err := wiring.Route([]vec{{X: 0}, {X: 3}, {X: 3, Y: 4}, {X: 3, Y: 4, Z: 1.5}})
	require.NoError(t, err)
	assert.InDelta(t, 8.5, p.Length, 1e-12)
	p, err = wiring.Route([]vec{{}, {X: 3, Y: 4}})
	require.NoError(t, err)
	assert.InDelta(t, 5, p.Length, 1e-12)
	for _, points := range [][]vec{nil, {{X: 1}}, {{X: 1}, {X: 1}}, {{}, {X: math.NaN()}}, {{}, {X: math.Inf(1)}}, {{}, {X: 1e300}}} {
		_, err := wiring.Route(points)
		require.ErrorIs(t, err, wiring.ErrLength)
	}
}

// Lengths worked out by hand in the room above.
func TestBoxRouteByHand(t *testing.T) {
	for _, r := range []struct {
		what     string
		from, to vec
		want     float64
	}{
		{"same wall, along the floor", vec{X: 1, Z: 0.3}, vec{X: 3, Z: 0.4}, 0.3 + 2 + 0.4},
		{"same wall, along the ceiling", vec{X: 1, Z: 2.3}, vec{X: 3, Z: 2.2}, 0.2 + 2 + 0.3},
		{"same wall, one line", vec{X: 1, Z: 0.3}, vec{X: 1, Z: 1.9}, 1.6},
		{"neighbouring walls", vec{X: 1, Z: 0.3}, vec{X: 0, Y: 2, Z: 0.5}, 0.3 + 1 + 2 + 0.5},
		{"opposite walls, round the nearer side", vec{X: 1, Z: 0.3}, vec{X: 1, Y: 5, Z: 0.2}, 0.3 + 1 + 5 + 1 + 0.2},
		{"rear wall low to front wall high, along the ceiling", vec{X: 1, Z: 0.3}, vec{X: 1, Y: 5, Z: 2.3}, 2.2 + 1 + 5 + 1 + 0.2},
		{"wall to ceiling", vec{X: 1, Z: 2}, vec{X: 1, Y: 2, Z: 2.5}, 0.5 + 2},
		{"wall to ceiling by the left edge", vec{Y: 2, Z: 2}, vec{X: 1, Y: 3, Z: 2.5}, 0.5 + 1 + 1},
		{"floor to floor, square to one edge", vec{X: 1, Y: 2}, vec{X: 1, Y: 4}, 2},
		{"floor to floor by the left edge", vec{X: 1, Y: 2}, vec{X: 0.5, Y: 4}, 1 + 2 + 0.5},
		{"corner to corner", vec{}, vec{X: 4, Y: 5, Z: 2.5}, 11.5},
		{"along a vertical corner", vec{Z: 0.5}, vec{Z: 2}, 1.5},
		{"rack stands 0.3 m before the rear wall, 0.6 m up", vec{X: 1, Y: 0.3, Z: 0.6}, vec{X: 3, Z: 0.4}, 0.3 + 0.6 + 2 + 0.4},
		{"rack stands 0.2 m above the floor, away from walls", vec{X: 1, Y: 2, Z: 0.2}, vec{X: 0, Y: 2, Z: 1}, 0.2 + 1 + 1},
		{"half a millimetre outside", vec{X: 1, Y: -0.0005, Z: 0.3}, vec{X: 1, Z: 1.3}, 0.0005 + 1},
	} {
		t.Run(r.what, func(t *testing.T) {
			p, err := wiring.BoxRoute(room, r.from, r.to)
			require.NoError(t, err)
			assert.InDelta(t, r.want, p.Length, 1e-9)
			assert.Equal(t, r.from, p.Points[0])
			assert.Equal(t, r.to, p.Points[len(p.Points)-1])
		})
	}
}

func TestBoxRouteAroundADoor(t *testing.T) {
	from, to := vec{X: 1, Z: 0.3}, vec{X: 3, Z: 0.4}
	door := wiring.Stretch{A: vec{X: 1.5}, B: vec{X: 2.4}}
	p, err := wiring.BoxRoute(room, from, to, door)
	require.NoError(t, err)
	assert.InDelta(t, 2.2+2+2.1, p.Length, 1e-9, "over the door, along the ceiling")
	assert.Equal(t, []vec{from, {X: 1, Z: 2.5}, {X: 3, Z: 2.5}, to}, p.Points)

	ceiling := wiring.Stretch{A: vec{Z: 2.5}, B: vec{X: 4, Z: 2.5}}
	p, err = wiring.BoxRoute(room, from, to, door, ceiling)
	require.NoError(t, err)
	assert.InDelta(t, 0.3+1+5+4+5+1+0.4, p.Length, 1e-9, "round the room along the floor")

	floor := wiring.Stretch{A: vec{X: 4}, B: vec{}}
	_, err = wiring.BoxRoute(room, from, to, floor, ceiling)
	require.ErrorIs(t, err, wiring.ErrNoRoute, "up and down are free, but lead nowhere")
}

func TestBoxRouteWithoutAWay(t *testing.T) {
	// Out of the middle of the rear wall there are two ways, up and down; a stretch may cross both.
	stub := func(z float64) wiring.Stretch {
		return wiring.Stretch{A: vec{X: 1, Z: z}, B: vec{X: 1, Z: z + 0.1}}
	}
	_, err := wiring.BoxRoute(room, vec{X: 1, Z: 1}, vec{X: 3, Z: 1}, stub(0.5), stub(1.5))
	require.ErrorIs(t, err, wiring.ErrNoRoute)
}

func TestBoxRouteRefusesBadInput(t *testing.T) {
	on := vec{X: 1, Z: 1}
	for _, r := range []struct {
		what           string
		room, from, to vec
		want           error
		naming         string
	}{
		{"room without height", vec{X: 4, Y: 5}, on, vec{Y: 1}, wiring.ErrLength, "room height"},
		{"room with negative width", vec{X: -4, Y: 5, Z: 2.5}, on, vec{Y: 1}, wiring.ErrLength, "room width"},
		{"room NaN", vec{X: 4, Y: math.NaN(), Z: 2.5}, on, vec{Y: 1}, wiring.ErrLength, "room length"},
		{"outside", room, on, vec{X: 4.1, Y: 1, Z: 1}, wiring.ErrOutside, "to: read"},
		{"below the floor", room, vec{X: 1, Z: -0.1}, on, wiring.ErrOutside, "from: read"},
		{"NaN", room, vec{X: math.NaN()}, on, wiring.ErrOutside, "from: read"},
		{"infinite", room, on, vec{X: math.Inf(1)}, wiring.ErrOutside, "to: read"},
		{"one place", room, on, on, wiring.ErrLength, "route"},
	} {
		_, err := wiring.BoxRoute(r.room, r.from, r.to)
		require.ErrorIs(t, err, r.want, r.what)
		assert.ErrorContains(t, err, r.naming, r.what)
	}
	_, err := wiring.BoxRoute(room, on, vec{Y: 1}, wiring.Stretch{B: vec{X: 9}})
	require.ErrorIs(t, err, wiring.ErrOutside)
	assert.ErrorContains(t, err, "blocked stretch 1")
}

// cell is a point of a room measured in whole steps.
type cell [3]int

func (c cell) vec() vec { return vec{X: float64(c[0]), Y: float64(c[1]), Z: float64(c[2])} }

// surfacePoint draws a point of whole steps on a surface of the room.
func surfacePoint(t *rapid.T, size cell, name string) cell {
	var c cell
	for a := range c {
		c[a] = rapid.IntRange(0, size[a]).Draw(t, name)
	}
	a := rapid.IntRange(0, 2).Draw(t, name+" side")
	c[a] = rapid.SampledFrom([]int{0, size[a]}).Draw(t, name+" which")
	return c
}

// flood walks a room in unit steps and returns the fewest that lead from one point to another, -1 if none do. A step is
// allowed on an edge of the room and on the lines by which a point of a surface may be left; a turn only on an edge or at one of
// the two points. It shares nothing with the search it checks.
func flood(size, from, to cell, barred map[[2]cell]bool) int {
	side := func(c cell, a int) bool { return c[a] == 0 || c[a] == size[a] }
	edge := func(c cell, a int) bool { return side(c, (a+1)%3) && side(c, (a+2)%3) } // lies on an edge along axis a
	leaves := func(p, c cell, a int) bool {                                          // c lies on the line through p along a, and p may be left so
		for b := range c {
			if b != a && c[b] != p[b] {
				return false
			}
		}
		if a == 2 {
			return side(p, 0) || side(p, 1)
		}
		return side(p, 2)
	}
	type state struct {
		cell
		along int // the axis it came along; -1 where it may turn
	}
	steps := map[state]int{{from, -1}: 0}
	queue := []state{{from, -1}}
	for len(queue) > 0 {
		s := queue[0]
		queue = queue[1:]
		if s.cell == to {
			return steps[s]
		}
		for a := range s.cell {
			if s.along >= 0 && s.along != a || !edge(s.cell, a) && !leaves(from, s.cell, a) && !leaves(to, s.cell, a) {
				continue
			}
			for _, d := range []int{-1, 1} {
				n := state{s.cell, a}
				n.cell[a] += d
				if n.cell[a] < 0 || n.cell[a] > size[a] || barred[[2]cell{s.cell, n.cell}] {
					continue
				}
				if n.cell == from || edge(n.cell, 0) || edge(n.cell, 1) || edge(n.cell, 2) {
					n.along = -1
				}
				if _, seen := steps[n]; !seen {
					steps[n] = steps[s] + 1
					queue = append(queue, n)
				}
			}
		}
	}
	return -1
}

func TestBoxRouteIsTheShortestByFloodFill(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var size cell
		for a := range size {
			size[a] = rapid.IntRange(1, 7).Draw(t, "size")
		}
		from, to := surfacePoint(t, size, "from"), surfacePoint(t, size, "to")
		if from == to {
			t.Skip("one place")
		}
		// One blocked stretch on an edge along a random axis.
		var blocked []wiring.Stretch
		barred := map[[2]cell]bool{}
		if rapid.Bool().Draw(t, "door") {
			var a, b cell
			axis := rapid.IntRange(0, 2).Draw(t, "axis")
			for i := range a {
				a[i] = rapid.SampledFrom([]int{0, size[i]}).Draw(t, "edge")
			}
			b = a
			a[axis] = rapid.IntRange(0, size[axis]-1).Draw(t, "start")
			b[axis] = rapid.IntRange(a[axis]+1, size[axis]).Draw(t, "end")
			for i := a[axis]; i < b[axis]; i++ {
				p, q := a, a
				p[axis], q[axis] = i, i+1
				barred[[2]cell{p, q}], barred[[2]cell{q, p}] = true, true
			}
			blocked = append(blocked, wiring.Stretch{A: b.vec(), B: a.vec()})
		}
		want := flood(size, from, to, barred)
		got, err := wiring.BoxRoute(size.vec(), from.vec(), to.vec(), blocked...)
		if want < 0 {
			require.ErrorIs(t, err, wiring.ErrNoRoute)
			return
		}
		require.NoError(t, err)
		assert.InDelta(t, float64(want), got.Length, 1e-9)
	})
}

// point draws any point of the room, on a surface or not.
func point(t *rapid.T, name string) vec {
	p := vec{
		X: rapid.Float64Range(0, room.X).Draw(t, name+" x"),
		Y: rapid.Float64Range(0, room.Y).Draw(t, name+" y"),
		Z: rapid.Float64Range(0, room.Z).Draw(t, name+" z"),
	}
	switch rapid.IntRange(0, 6).Draw(t, name+" surface") {
	case 1:
		p.X = 0
	case 2:
		p.X = room.X
	case 3:
		p.Y = 0
	case 4:
		p.Y = room.Y
	case 5:
		p.Z = 0
	case 6:
		p.Z = room.Z
	}
	return p
}

func TestBoxRouteIsSymmetricAndNoShorterThanStraight(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from, to := point(t, "from"), point(t, "to")
		straight := to.Sub(from).Norm()
		if straight < 1e-6 {
			t.Skip("one place")
		}
		there, err := wiring.BoxRoute(room, from, to)
		require.NoError(t, err)
		back, err := wiring.BoxRoute(room, to, from)
		require.NoError(t, err)
		assert.InDelta(t, there.Length, back.Length, 1e-9)
		assert.GreaterOrEqual(t, there.Length, straight-1e-9)
		again, err := wiring.Route(there.Points)
		require.NoError(t, err)
		assert.Equal(t, there.Length, again.Length, "the points are the way")
		for _, p := range there.Points {
			assert.True(t, p.X >= 0 && p.X <= room.X && p.Y >= 0 && p.Y <= room.Y && p.Z >= 0 && p.Z <= room.Z)
		}
	})
}

func TestSlackAdds(t *testing.T) {
	got, err := wiring.UsualSlack().Add(10)
	require.NoError(t, err)
	assert.InDelta(t, 12, got, 1e-12, "a tenth and a metre; common practice, no source")
	_, err = wiring.Slack{Fraction: -1}.Add(10)
	require.ErrorIs(t, err, wiring.ErrNumber)
	_, err = wiring.Slack{Ends: math.NaN()}.Add(10)
	require.ErrorIs(t, err, wiring.ErrLength)
	_, err = wiring.UsualSlack().Add(0)
	require.ErrorIs(t, err, wiring.ErrLength)
}

func TestToBuyAddsUpByType(t *testing.T) {
	cuts := []wiring.Cut{{"thin", 4}, {"thick", 10}, {"thin", 6}, {"thick", 20}}
	got, err := wiring.ToBuy(cuts, wiring.Slack{Ends: 1}, map[string]float64{"thick": 25})
	require.NoError(t, err)
	assert.Equal(t, []wiring.Order{
		{Cable: "thick", Runs: 2, Net: 30, Total: 32, Reels: 2, Offcut: 18}, // 11 + 21 on reels of 25
		{Cable: "thin", Runs: 2, Net: 10, Total: 12},
	}, got)
	got, err = wiring.ToBuy(nil, wiring.UsualSlack(), nil)
	require.NoError(t, err)
	assert.Empty(t, got)
}

func TestToBuyFillsAReelExactly(t *testing.T) {
	cuts := []wiring.Cut{{"a", 0.1}, {"a", 0.2}, {"a", 0.7}, {"a", 1}}
	got, err := wiring.ToBuy(cuts, wiring.Slack{}, map[string]float64{"a": 1})
	require.NoError(t, err)
	assert.Equal(t, 2, got[0].Reels)
	assert.InDelta(t, 0, got[0].Offcut, 1e-9)
}

func TestToBuyRefusesBadInput(t *testing.T) {
	_, err := wiring.ToBuy([]wiring.Cut{{"a", 24.5}}, wiring.Slack{Ends: 1}, map[string]float64{"a": 25})
	require.ErrorIs(t, err, wiring.ErrReel)
	_, err = wiring.ToBuy([]wiring.Cut{{"a", 5}, {"a", 0}}, wiring.Slack{}, nil)
	require.ErrorIs(t, err, wiring.ErrLength)
	assert.ErrorContains(t, err, `run 2 of cable "a"`)
	_, err = wiring.ToBuy([]wiring.Cut{{"a", 5}}, wiring.Slack{}, map[string]float64{"a": 0})
	require.ErrorIs(t, err, wiring.ErrLength)
	_, err = wiring.ToBuy([]wiring.Cut{{"a", 5}}, wiring.Slack{Fraction: math.Inf(1)}, nil)
	require.ErrorIs(t, err, wiring.ErrNumber)
}

func TestToBuyIsEnough(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		runs := rapid.SliceOfN(rapid.Float64Range(1, 40), 1, 30).Draw(t, "runs")
		var cuts []wiring.Cut
		for _, l := range runs {
			cuts = append(cuts, wiring.Cut{Cable: "a", Length: l})
		}
		got, err := wiring.ToBuy(cuts, wiring.UsualSlack(), map[string]float64{"a": 50})
		require.NoError(t, err)
		o := got[0]
		assert.Equal(t, len(runs), o.Runs)
		assert.Greater(t, o.Total, o.Net)
		assert.GreaterOrEqual(t, float64(o.Reels)*50, o.Total-1e-6)
		assert.LessOrEqual(t, o.Reels, o.Runs)
		assert.InDelta(t, float64(o.Reels)*50, o.Total+o.Offcut, 1e-6)
		// First fit never leaves two reels that are both at most half full.
		assert.Less(t, float64(o.Reels-1)*25, o.Total)
	})
}

func BenchmarkBoxRoute(b *testing.B) {
	from, to := vec{X: 1, Y: 0.3, Z: 0.6}, vec{X: 3, Y: 5, Z: 2.3}
	door := wiring.Stretch{A: vec{X: 1.5}, B: vec{X: 2.4}}
	for b.Loop() {
		if _, err := wiring.BoxRoute(room, from, to, door); err != nil {
			b.Fatal(err)
		}
	}
}

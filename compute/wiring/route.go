package wiring

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"hangtrue/compute/place"
)

// Path is a cable's way: its corner points in the room frame, from the first to the last, and its length in metres.
type Path struct {
	Points []place.Vec
	Length float64
}

// Route is the length in metres of the straight pieces from point to point. Fewer than two points, or all in one place,
// have no length: an [ErrLength].
func Route(points []place.Vec) (Path, error) {
	length := 0.0
	for i, p := range points {
		if math.IsNaN(p.X + p.Y + p.Z) {
			return Path{}, fmt.Errorf("%w: point %d: read %v, want finite numbers", ErrLength, i+1, p)
		}
		if i > 0 {
			length += distance(points[i-1], p)
		}
	}
	if err := checkLength("route", length); err != nil {
		return Path{}, err
	}
	return Path{Points: slices.Clone(points), Length: length}, nil
}

func distance(a, b place.Vec) float64 { return b.Sub(a).Norm() }

// Slack is what is bought beyond the route: a part of its length, and metres at both ends together for terminating and
// for service. How much is common practice, no source.
type Slack struct {
	Fraction float64
	Ends     float64
}

// UsualSlack is a tenth of the route and a metre for the two ends together. Common practice, no source.
func UsualSlack() Slack { return Slack{Fraction: 0.10, Ends: 1} }

// Add is the length in metres to cut for a route: length·(1 + Fraction) + Ends. The whole of it counts for the cable's
// resistance when it stays in the run.
func (s Slack) Add(length float64) (float64, error) {
	if err := cmp.Or(checkLength("length", length), s.check()); err != nil {
		return 0, err
	}
	return s.add(length), nil
}

func (s Slack) add(length float64) float64 { return length + float64(length*s.Fraction) + s.Ends }

func (s Slack) check() error {
	return cmp.Or(between(ErrNumber, "slack fraction", s.Fraction, 0, 10), between(ErrLength, "slack at the ends", s.Ends, 0, MaxLength))
}

// Stretch is a part of an edge of the room, between two points on it, where no cable may run: a doorway in a floor edge.
type Stretch struct{ A, B place.Vec }

// tolerance is how far in metres a point may lie outside the room and still belong to its surface: what is left of
// tape readings rounded to a millimetre.
const tolerance = 0.001

// BoxRoute is the shortest way for a cable between two points of a box room (width along x, length along y, height along
// z, in metres) that keeps to the edges between its surfaces: from a point on a wall straight up or down to the ceiling's
// or the floor's edge, from one on the ceiling or the floor square to any of its edges, along edges, and the same way to
// the other point. Two points on one such line are joined directly. A point off all surfaces first goes straight to the
// nearest one (of several as near, in the order floor, left, right, rear, front, ceiling).
//
// The length is at least the straight distance and the same both ways. Points more than 1 mm outside the room are an
// [ErrOutside]; blocked stretches that leave no way are an [ErrNoRoute]; two points in one place are an [ErrLength].
func BoxRoute(room, from, to place.Vec, blocked ...Stretch) (Path, error) {
	err := cmp.Or(
		checkLength("room width", room.X), checkLength("room length", room.Y), checkLength("room height", room.Z),
		inside("from", room, from), inside("to", room, to),
	)
	if err != nil {
		return Path{}, err
	}
	for i, b := range blocked {
		name := fmt.Sprintf("blocked stretch %d", i+1)
		if err := cmp.Or(inside(name, room, b.A), inside(name, room, b.B)); err != nil {
			return Path{}, err
		}
	}
	g := graph{room: room, blocked: blocked}
	for c := range 8 {
		g.node(place.Vec{X: float64(c&1) * room.X, Y: float64(c>>1&1) * room.Y, Z: float64(c>>2) * room.Z})
	}
	start, end := foot(room, from), foot(room, to)
	a, b := g.attach(start), g.attach(end)
	if oneLine(room, start, end) {
		g.link(a, b)
	}
	g.edges()
	way := g.shortest(a, b)
	if way == nil {
		return Path{}, fmt.Errorf("%w: from %v to %v: every way is blocked", ErrNoRoute, from, to)
	}
	return Route(tidy(slices.Concat([]place.Vec{from}, way, []place.Vec{to})))
}

func inside(field string, room, p place.Vec) error {
	for _, axis := range axes {
		if v := axis.of(p); !(v >= -tolerance && v <= axis.of(room)+tolerance) {
			return fmt.Errorf("%w: %s: read %v, want a point in a room of %v m", ErrOutside, field, p, room)
		}
	}
	return nil
}

// axis reads and writes one coordinate.
type axis int

var axes = [...]axis{0, 1, 2}

func (a axis) of(v place.Vec) float64 { return [...]float64{v.X, v.Y, v.Z}[a] }

func (a axis) with(v place.Vec, x float64) place.Vec {
	*[...]*float64{&v.X, &v.Y, &v.Z}[a] = x
	return v
}

// foot is the nearest point on a surface of the room.
func foot(room, p place.Vec) place.Vec {
	for _, a := range axes {
		p = a.with(p, min(max(a.of(p), 0), a.of(room)))
	}
	best, nearest := p, math.Inf(1)
	for _, side := range [...]struct {
		axis
		far bool
	}{{2, false}, {0, false}, {0, true}, {1, false}, {1, true}, {2, true}} {
		at := 0.0
		if side.far {
			at = side.of(room)
		}
		if d := math.Abs(side.of(p) - at); d < nearest {
			best, nearest = side.with(p, at), d
		}
	}
	return best
}

// on tells whether a coordinate lies on one of the two surfaces square to the axis.
func (a axis) on(room, p place.Vec) bool { return a.of(p) == 0 || a.of(p) == a.of(room) }

// exits are the directions in which a cable may leave a point of a surface: up and down on walls, both ways on floor and
// ceiling.
func exits(room, p place.Vec) (along [3]bool) {
	flat := axis(2).on(room, p)
	return [3]bool{flat, flat, axis(0).on(room, p) || axis(1).on(room, p)}
}

// oneLine tells whether two points lie on one line that both may leave along.
func oneLine(room, p, q place.Vec) bool {
	differ := -1
	for _, a := range axes {
		if a.of(p) != a.of(q) {
			if differ >= 0 {
				return false
			}
			differ = int(a)
		}
	}
	return differ < 0 || exits(room, p)[differ] && exits(room, q)[differ]
}

// graph holds the points a cable may turn at and the pieces between them. There are at most 8 corners and 2 points with 6
// exits each, so plain search is fast enough.
type graph struct {
	room    place.Vec
	blocked []Stretch
	points  []place.Vec
	pieces  []piece
}

type piece struct {
	a, b   int
	length float64
}

func (g *graph) node(p place.Vec) int {
	if i := slices.Index(g.points, p); i >= 0 {
		return i
	}
	g.points = append(g.points, p)
	return len(g.points) - 1
}

func (g *graph) attach(p place.Vec) int {
	i := g.node(p)
	for a, free := range exits(g.room, p) {
		if free {
			g.link(i, g.node(axis(a).with(p, 0)))
			g.link(i, g.node(axis(a).with(p, axis(a).of(g.room))))
		}
	}
	return i
}

// link joins two points of a line parallel to an axis unless a blocked stretch lies between them.
func (g *graph) link(i, j int) {
	if i == j {
		return
	}
	for _, s := range g.blocked {
		if overlap(g.points[i], g.points[j], s.A, s.B) {
			return
		}
	}
	g.pieces = append(g.pieces, piece{i, j, distance(g.points[i], g.points[j])})
}

// overlap tells whether the line from p to q, parallel to an axis, shares more than a point with that from a to b. A
// stretch was measured with a tape, so it counts as on the line within the tolerance.
func overlap(p, q, a, b place.Vec) bool {
	for _, x := range axes {
		lo, hi := min(x.of(p), x.of(q)), max(x.of(p), x.of(q))
		from, to := min(x.of(a), x.of(b)), max(x.of(a), x.of(b))
		if lo == hi {
			if from < lo-tolerance || to > hi+tolerance {
				return false
			}
		} else if max(lo, from) >= min(hi, to) {
			return false
		}
	}
	return true
}

// edges links neighbours on each of the room's twelve edges.
func (g *graph) edges() {
	for _, a := range axes {
		b, c := (a+1)%3, (a+2)%3
		var on []int
		for i, p := range g.points {
			if b.on(g.room, p) && c.on(g.room, p) {
				on = append(on, i)
			}
		}
		slices.SortFunc(on, func(i, j int) int {
			p, q := g.points[i], g.points[j]
			for _, x := range [...]axis{b, c, a} {
				if x.of(p) != x.of(q) {
					if x.of(p) < x.of(q) {
						return -1
					}
					return 1
				}
			}
			return 0
		})
		for k := 1; k < len(on); k++ {
			p, q := g.points[on[k-1]], g.points[on[k]]
			if b.of(p) == b.of(q) && c.of(p) == c.of(q) {
				g.link(on[k-1], on[k])
			}
		}
	}
}

// shortest is the way from one point to another (Dijkstra), nil if there is none.
func (g *graph) shortest(from, to int) []place.Vec {
	length := make([]float64, len(g.points))
	before := make([]int, len(g.points))
	done := make([]bool, len(g.points))
	for i := range length {
		length[i], before[i] = math.Inf(1), -1
	}
	length[from] = 0
	for {
		next := -1
		for i := range length {
			if !done[i] && !math.IsInf(length[i], 1) && (next < 0 || length[i] < length[next]) {
				next = i
			}
		}
		if next < 0 {
			return nil
		}
		if next == to {
			break
		}
		done[next] = true
		for _, p := range g.pieces {
			other := p.a
			if p.a == next {
				other = p.b
			} else if p.b != next {
				continue
			}
			if l := length[next] + p.length; l < length[other] {
				length[other], before[other] = l, next
			}
		}
	}
	var way []place.Vec
	for i := to; i >= 0; i = before[i] {
		way = append(way, g.points[i])
	}
	slices.Reverse(way)
	return way
}

// tidy leaves out points that repeat and points in the middle of a straight piece.
func tidy(points []place.Vec) []place.Vec {
	var out []place.Vec
	for _, p := range points {
		if n := len(out); n > 0 && out[n-1] == p {
			continue
		}
		if n := len(out); n > 1 && straight(out[n-2], out[n-1], p) {
			out = out[:n-1]
		}
		out = append(out, p)
	}
	return out
}

// straight tells whether q lies between p and r on a line parallel to an axis.
func straight(p, q, r place.Vec) bool {
	moved := 0
	for _, a := range axes {
		lo, hi := min(a.of(p), a.of(r)), max(a.of(p), a.of(r))
		if a.of(q) < lo || a.of(q) > hi {
			return false
		}
		if lo != hi {
			moved++
		}
	}
	return moved == 1
}

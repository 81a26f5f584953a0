package place

import (
	"errors"
	"math"
	"slices"
)

const (
	// chord is how far (metres) a zone's outline may lie from the exact curves between its vertices. A third of it is
	// spent on the steps along a curve, a third on leaving out vertices.
	chord = 1e-3
	// onCurve is how far (metres) a vertex may lie from the exact curves.
	onCurve = 1e-9
	// finest is the size of cell (metres) down to which the surface is searched for a zone.
	finest = 4e-3
	// shortest is the shortest step (metres) along a curve that is taken only to look whether another constraint takes
	// over, and longest the longest.
	shortest, longest = 1e-3, 1.0
	// mostVertices bounds one loop: 20 m at the shortest step.
	mostVertices = 20000
)

// ErrUnclosed is returned when a boundary curve could not be followed back to where it began. [Zone.Contains] is right
// nevertheless.
var ErrUnclosed = errors.New("place: the outline of the zone could not be closed")

// Outline is the boundary of a zone as closed polygons, the zone to the left of every edge: outer boundaries run
// anticlockwise, holes clockwise. An empty zone has none.
type Outline [][]Spot

// Area is what the outline encloses, in m².
func (o Outline) Area() float64 {
	var sum float64
	for _, loop := range o {
		sum += area(loop)
	}
	return sum
}

// Outline traces the zone's boundary. Every vertex lies on the exact curves to a nanometre, corners included; between
// vertices polygon and curve are at most a millimetre apart. A zone, a hole or a gap narrower than about 4 mm may be
// left out. The error is [ErrUnclosed].
func (z *Zone) Outline() (Outline, error) {
	s := search{zone: z}
	low, high, ok := s.narrow(z.low, z.high)
	if !ok {
		return nil, nil
	}
	middle := low.plus(high).times(0.5)
	if err := s.cell(middle, high.minus(middle), s.level(middle, math.Inf(-1))); err != nil {
		return nil, err
	}
	outline := make(Outline, len(s.loops))
	for i, l := range s.loops {
		outline[i] = thin(l.vertices)
	}
	return outline, nil
}

// search finds the boundary curves of a zone.
type search struct {
	zone  *Zone
	loops []loop
}

type loop struct {
	vertices  []Spot
	low, high Spot
}

// level is the zone's level at a spot; below a floor any of the values there will do.
func (s *search) level(q Spot, floor float64) float64 {
	at := s.zone.sample(q)
	g, _ := s.zone.level(&at, floor)
	return g
}

// rim is left around the rectangle that is searched, so that a zone which fills it has an outside to cross to.
var rim = Spot{2 * finest, 2 * finest}

// narrow is a rectangle that holds all of the zone and a rim, false when there is no zone in the one given. The rectangle is
// halved again and again, and parts whose middle is too far outside to reach the zone are dropped, until more than a few
// remain. Constraints that hold all over the rectangle are dropped on the way.
func (s *search) narrow(low, high Spot) (Spot, Spot, bool) {
	middles, half := []Spot{low.plus(high).times(0.5)}, high.minus(low).times(0.5)
	for len(middles) <= 16 && half.norm() > finest {
		var way Spot
		half, way = halve(half)
		radius := half.norm() * s.zone.steepness
		var kept []Spot
		for _, m := range middles {
			for _, q := range [...]Spot{m.minus(way), m.plus(way)} {
				if s.level(q, -radius) >= -radius {
					kept = append(kept, q)
				}
			}
		}
		if len(kept) == 0 {
			return low, high, false
		}
		low, high = Extent(kept)
		low, high = low.minus(half), high.plus(half)
		s.zone = s.zone.near(low.plus(high).times(0.5), high.minus(low).norm()/2+rim.norm())
		middles = kept
	}
	return low.minus(rim), high.plus(rim), true
}

// near is the zone without the constraints that hold everywhere within a distance of a spot.
func (z *Zone) near(q Spot, within float64) *Zone {
	at := z.sample(q)
	less := *z
	less.Constraints = nil
	for i := range z.Constraints {
		if v, _ := z.Constraints[i].value(z, &at); v <= within*z.steepness {
			less.Constraints = append(less.Constraints, z.Constraints[i])
		}
	}
	return &less
}

// halve cuts a rectangle of half the size given across its longer side: the new half size, and the way from the old middle
// to that of either part.
func halve(half Spot) (part, way Spot) {
	if half.Along > half.Up {
		half.Along /= 2
		return half, Spot{Along: half.Along}
	}
	half.Up /= 2
	return half, Spot{Up: half.Up}
}

// cell looks for boundaries in a rectangle, given by its middle and half its size, whose middle has level g. No
// constraint changes faster than the zone's steepness, so that a cell whose middle is clear of every boundary by its own
// radius has none. The others are halved; where the middles of cell and part lie on different sides, the curve between
// them is followed, unless it has been already.
func (s *search) cell(middle, half Spot, g float64) error {
	radius := half.norm()
	if math.Abs(g) > radius*s.zone.steepness || radius < finest/2 || (radius < 16*finest && s.followed(middle, radius)) {
		return nil
	}
	half, way := halve(half)
	for _, part := range [...]Spot{middle.minus(way), middle.plus(way)} {
		h := s.level(part, -half.norm()*s.zone.steepness)
		if (g >= 0) != (h >= 0) {
			in, out := middle, part
			if h >= 0 {
				in, out = out, in
			}
			if err := s.crossing(in, out); err != nil {
				return err
			}
		}
		if err := s.cell(part, half, h); err != nil {
			return err
		}
	}
	return nil
}

// followed tells whether a curve already followed passes within a distance of q.
func (s *search) followed(q Spot, within float64) bool {
	for _, l := range s.loops {
		if q.Along < l.low.Along-within || q.Along > l.high.Along+within || q.Up < l.low.Up-within || q.Up > l.high.Up+within {
			continue
		}
		if d, _ := signedDistance(l.vertices, q); math.Abs(d) <= within {
			return true
		}
	}
	return false
}

// crossing follows the boundary that passes between a spot in the zone and one outside, if it is new.
func (s *search) crossing(in, out Spot) error {
	way := out.minus(in)
	t := root(func(t float64) float64 { return s.level(in.plus(way.times(t)), math.Inf(-1)) }, onCurve/2)
	start := in.plus(way.times(t))
	if s.followed(start, chord/2) {
		return nil
	}
	at := s.zone.sample(start)
	_, id := s.zone.level(&at, math.Inf(-1))
	vertices, err := s.zone.follow(start, id)
	if err != nil {
		return err
	}
	if vertices[0] != start && s.followed(vertices[0], chord/2) {
		return nil
	}
	low, high := Extent(vertices)
	s.loops = append(s.loops, loop{vertices, low, high})
	return nil
}

// follow walks along a boundary, the zone to the left, from a spot on one piece of a bound until it is back there.
func (z *Zone) follow(start Spot, id boundID) ([]Spot, error) {
	q, pace := start, shortest
	vertices := []Spot{start}
	var corners []turning
	for len(vertices) < mostVertices {
		w := z.walker(q, id)
		room := z.room(q, id)
		next, ok := w.step(math.Max(shortest, math.Min(math.Min(2*pace, longest), room/z.steepness)))
		if !ok {
			return nil, ErrUnclosed
		}
		pace = next.distance(q)
		nextID := id
		if z.room(next, id) < -onCurve {
			next, nextID = w.corner(next)
		}
		// The start need not be met on the same piece: two pieces may share a curve.
		if len(vertices) > 1 && between(start, q, next) && math.Abs(z.piece(id, start)) <= 100*onCurve*w.slope {
			return vertices, nil
		}
		if nextID != id {
			// Where a step has crossed a sliver, the walk may go round another boundary and never see its start again.
			for _, c := range corners {
				left := func(p Spot) bool { return p.distance(next) > shortest }
				if c.onto == nextID && next.distance(vertices[c.vertex]) <= 100*onCurve && slices.ContainsFunc(vertices[c.vertex:], left) {
					return vertices[c.vertex:], nil
				}
			}
			corners, pace = append(corners, turning{len(vertices), nextID}), shortest
		}
		vertices = append(vertices, next)
		q, id = next, nextID
	}
	return nil, ErrUnclosed
}

// turning is a corner of a walk: the vertex, and the piece on which the walk left it.
type turning struct {
	vertex int
	onto   boundID
}

// between tells whether a spot lies on the step from a to b of a curve. The end a does not count.
func between(p, a, b Spot) bool {
	way := b.minus(a)
	t := p.minus(a).dot(way) / way.dot(way)
	return t > 0 && t <= 1+onCurve && math.Abs(p.minus(a).cross(way)) <= chord*way.norm()
}

// walker is a spot on one piece of a bound, with the directions there.
type walker struct {
	zone          *Zone
	id            boundID
	at            Spot
	ahead, inward Spot    // unit vectors along the curve and into the zone
	slope         float64 // rate of change of the bound inwards
}

func (z *Zone) walker(q Spot, id boundID) walker {
	g := slope(func(p Spot) float64 { return z.piece(id, p) }, q)
	n := g.norm()
	inward := g.times(1 / n)
	return walker{z, id, q, Spot{inward.Up, -inward.Along}, inward, n}
}

// onto moves a spot near the curve square to the walk until it lies on the curve: secant steps on the bound's value.
func (w *walker) onto(q Spot) (Spot, bool) {
	value, rate := w.zone.piece(w.id, q), w.slope
	var moved float64
	for range 12 {
		if math.Abs(value) <= onCurve/100 {
			return q.plus(w.inward.times(moved)), true
		}
		by := -value / rate
		after := w.zone.piece(w.id, q.plus(w.inward.times(moved+by)))
		if rate = (after - value) / by; rate == 0 {
			return q, false
		}
		moved, value = moved+by, after
	}
	return q, false
}

// step goes along the curve by about a length, or by less where the curve bends away from its chord.
func (w *walker) step(length float64) (Spot, bool) {
	for ; length > onCurve; length /= 2 {
		q, ok := w.onto(w.at.plus(w.ahead.times(length)))
		if !ok || q.minus(w.at).norm() > 2*length {
			continue
		}
		if middle := w.at.plus(q).times(0.5); math.Abs(w.zone.piece(w.id, middle)) <= w.slope*chord/3 {
			return q, true
		}
	}
	return w.at, false
}

// corner is the place between here and beyond where another piece takes over, and that piece.
func (w *walker) corner(beyond Spot) (Spot, boundID) {
	way := beyond.minus(w.at)
	last, over := w.at, beyond // before and behind the corner
	root(func(t float64) float64 {
		q, ok := w.onto(w.at.plus(way.times(t)))
		if !ok {
			q = w.at.plus(way.times(t))
		}
		room := w.zone.room(q, w.id) + onCurve
		if room >= 0 {
			last = q
		} else {
			over = q
		}
		return room
	}, onCurve/10/math.Max(way.norm(), onCurve))
	at := w.zone.sample(over)
	_, id := w.zone.level(&at, math.Inf(-1))
	if own := w.zone.failing(&at, w.id); own != id && own != w.id {
		// Two alternatives may touch in a point, as two sectors do above the ear point: stay with the one walked around.
		ahead := w.zone.walker(last, own)
		if q, ok := ahead.step(shortest / 100); ok && w.zone.room(q, own) >= -onCurve {
			return last, own
		}
	}
	return last, id
}

// failing is the bound that fails worst in the alternative of a bound, or that bound itself.
func (z *Zone) failing(s *sample, id boundID) boundID {
	least, at := 0.0, id
	for k, bounds := 0, z.Constraints[id.constraint].alternatives[id.alternative]; k < len(bounds); k++ {
		if v, f := bounds[k].value(z, s); v < least {
			least = v
			at.bound, at.feature = k, f
		}
	}
	return at
}

// room is how far the zone's boundary is from leaving a piece of a bound at a spot on its curve: it stays there as long
// as the zone would reach across the curve without this piece, and would not without crossing it. Negative where the
// boundary has left the piece.
func (z *Zone) room(q Spot, id boundID) float64 {
	s := z.sample(q)
	without, never := math.Inf(1), math.Inf(1) // the level if the piece always held, and if it never did
	for i := range z.Constraints {
		if i != id.constraint {
			v, _ := z.Constraints[i].value(z, &s)
			without, never = math.Min(without, v), math.Min(never, v)
			continue
		}
		best, bestNever := math.Inf(-1), math.Inf(-1)
		for j, bounds := range z.Constraints[i].alternatives {
			least, leastNever := math.Inf(1), math.Inf(1)
			for k := range bounds {
				v, f := bounds[k].value(z, &s)
				// Holes in a row along an edge have that edge's curve in common.
				shared := f == id.feature && f%2 == 0 && bounds[k].kind == edgeBound && math.Abs(v) <= onCurve
				if j == id.alternative && (k == id.bound && f == id.feature || shared) {
					leastNever = math.Inf(-1)
					continue
				}
				if j == id.alternative && k == id.bound && math.Abs(v) > onCurve { // past the end of the piece
					return -math.Abs(v)
				}
				least, leastNever = math.Min(least, v), math.Min(leastNever, v)
			}
			best, bestNever = math.Max(best, least), math.Max(bestNever, leastNever)
		}
		without, never = math.Min(without, best), math.Min(never, bestNever)
	}
	return math.Min(without, -never)
}

// root narrows [0, 1], where f(0) >= 0 > f(1), down to a width about a change of sign and returns the end where f is not
// negative: regula falsi with the Illinois weights, bisection now and then in case it stalls or a value is infinite.
func root(f func(float64) float64, width float64) float64 {
	low, high := 0.0, 1.0
	atLow, atHigh := f(low), f(high)
	for i, last := 1, 0; high-low > 2*width && i < 200; i++ {
		t := low + (high-low)*atLow/(atLow-atHigh)
		if i%4 == 0 || !(t >= low && t <= high) {
			t = low + (high-low)/2
		}
		t = math.Max(low+width, math.Min(high-width, t))
		if v := f(t); v >= 0 {
			low, atLow = t, v
			if last > 0 {
				atHigh /= 2
			}
			last = 1
		} else {
			high, atHigh = t, v
			if last < 0 {
				atLow /= 2
			}
			last = -1
		}
	}
	return low
}

// thin leaves out vertices that lie within a third of the chord tolerance of the line between those kept. It starts at
// the vertex farthest from the one where the curve was taken up, which may lie in the middle of an edge.
//
// From a kept vertex every later one leaves open a wedge of directions that pass it within the tolerance; the next kept
// vertex is the last before the wedges have nothing in common. One pass over the loop does it, however long it is.
func thin(loop []Spot) []Spot {
	far := 0
	for i, p := range loop {
		if p.distance(loop[0]) > loop[far].distance(loop[0]) {
			far = i
		}
	}
	loop = slices.Concat(loop[far:], loop[:far])
	kept := loop[:1:1]
	from, middle, low, high := 0, 0.0, 0.0, 0.0
	open := false
	for to := 1; to <= len(loop); to++ {
		way := loop[to%len(loop)].minus(loop[from])
		away := way.norm()
		direction := math.Atan2(way.Up, way.Along)
		if open && away > 0 {
			if turn := Wrap(direction - middle); turn < low || turn > high {
				from = to - 1
				kept = append(kept, loop[from])
				open = false
				way = loop[to%len(loop)].minus(loop[from])
				away, direction = way.norm(), math.Atan2(way.Up, way.Along)
			}
		}
		if away <= chord/3 {
			continue // passed within the tolerance in any direction
		}
		half := math.Asin(chord / 3 / away)
		if !open {
			open, middle, low, high = true, direction, -half, half
			continue
		}
		turn := Wrap(direction - middle)
		low, high = math.Max(low, turn-half), math.Min(high, turn+half)
	}
	return kept
}

package place

import "math"

// farthest is the longest move (metres) to a boundary that is of use to anyone.
const farthest = 100.0

// Binding is how a spot stands to one constraint.
type Binding struct {
	Rule     Rule
	View     int    // index of the listening position, -1 when the constraint does not depend on one
	Name     string // of the listening position, opening or keep-out
	Quantity Quantity
	Upper    bool    // the greatest allowed value of the quantity binds, not the least
	Value    float64 // the constraint's function, metres; see [Constraint]
	// Distance is from the spot to the constraint's own boundary as a tape on the surface shows it (metres): positive,
	// what is left; negative, what is missing. Along and Up are the move that gets there. Where no move on the surface
	// reaches the boundary both are 0 and Distance is Value.
	Distance  float64
	Along, Up float64
}

// Binding is the constraint that binds at a spot: in the zone, the one whose boundary is nearest; outside, the one that
// asks for the longest move. A zone without constraints does not exist: the edges of the surface always count.
func (z *Zone) Binding(spot Spot) Binding {
	s := z.sample(spot)
	least := Binding{Distance: math.Inf(1)}
	for i := range z.Constraints {
		v, id := z.Constraints[i].value(z, &s)
		// A boundary lies no nearer than the value over the steepness.
		if v >= 0 && v/z.steepness >= least.Distance {
			continue
		}
		id.constraint = i
		if b := z.binding(spot, v, id); b.Distance < least.Distance {
			least = b
		}
	}
	return least
}

func (z *Zone) binding(spot Spot, value float64, id boundID) Binding {
	c, by := &z.Constraints[id.constraint], z.bound(id)
	b := Binding{Rule: c.Rule, View: c.View, Name: c.Name, Quantity: by.quantity, Upper: by.upper, Value: value, Distance: value}
	if to, ok := z.nearest(c, spot); ok {
		b.Along, b.Up = TapeCorrection(spot, to)
		b.Distance = math.Copysign(to.distance(spot), value)
	}
	return b
}

// nearest is the point of a constraint's boundary nearest to a spot: Newton steps onto the curve, at first with a step
// along it that brings the way back square to the curve.
func (z *Zone) nearest(c *Constraint, spot Spot) (Spot, bool) {
	q := spot
	for i := range 24 {
		s := z.sample(q)
		v, id := c.value(z, &s)
		if i > 5 && math.Abs(v) < onCurve {
			return q, true
		}
		g := z.slopeOf(&c.alternatives[id.alternative][id.bound], q)
		n := g.norm()
		if !(n > square) {
			return q, false
		}
		inward := g.times(1 / n)
		move := inward.times(-v / n)
		if i < 5 {
			back := spot.minus(q)
			move = move.plus(back.minus(inward.times(back.dot(inward))))
		}
		if q = q.plus(move); !(q.distance(spot) <= farthest) {
			return q, false
		}
	}
	return q, false
}

// slopeOf is the gradient of a bound's own function at a spot.
func (z *Zone) slopeOf(b *bound, q Spot) Spot {
	return slope(func(p Spot) float64 {
		s := z.sample(p)
		v, _ := b.value(z, &s)
		return v
	}, q)
}

// Correction is the shortest move from a spot into the zone, along and up as a tape shows it (metres): zero when the spot
// is in the zone. From a spot outside, the move ends inside by a few micrometres at most. It is false when the zone is
// empty, or too small to be found; see [Zone.Outline].
func (z *Zone) Correction(spot Spot) (dAlong, dUp float64, ok bool) {
	if z.Contains(spot) {
		return 0, 0, true
	}
	outline, err := z.Outline()
	if err != nil {
		return 0, 0, false
	}
	to, ok := z.enter(outline, spot)
	if !ok {
		return 0, 0, false
	}
	dAlong, dUp = TapeCorrection(spot, to)
	return dAlong, dUp, true
}

// enter is the spot of the zone nearest to one outside.
func (z *Zone) enter(outline Outline, spot Spot) (Spot, bool) {
	best, found := Spot{}, false
	try := func(q Spot) {
		if q, ok := z.inside(q); ok && (!found || q.distance(spot) < best.distance(spot)) {
			best, found = q, true
		}
	}
	for _, loop := range outline {
		nearest := loop[0]
		for k, a := range loop {
			if q := onSegment(a, loop[(k+1)%len(loop)], spot); q.distance(spot) < nearest.distance(spot) {
				nearest = q
			}
		}
		try(nearest)
	}
	for _, loop := range outline {
		if found {
			break
		}
		for _, v := range loop { // a corner so sharp that the steps inwards leave it again
			try(v)
		}
	}
	return best, found
}

// inside moves a spot at the boundary into the zone by steps against whichever constraint binds.
func (z *Zone) inside(q Spot) (Spot, bool) {
	const spare = 1e-6
	for range 40 {
		s := z.sample(q)
		v, id := z.level(&s, math.Inf(-1))
		if v >= 0 {
			return q, z.Contains(q)
		}
		g := z.slopeOf(z.bound(id), q)
		n2 := g.dot(g)
		if !(n2 > square) {
			return q, false
		}
		q = q.plus(g.times((spare - v) / n2))
	}
	return q, z.Contains(q)
}

// onSegment is the point of the segment from a to b nearest to q.
func onSegment(a, b, q Spot) Spot {
	way := b.minus(a)
	t := q.minus(a).dot(way) / way.dot(way)
	return a.plus(way.times(math.Max(0, math.Min(1, t))))
}

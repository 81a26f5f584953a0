package propose

import (
	"cmp"
	"math"
	"slices"

	"hangtrue/compute/place"
)

// both are the two candidates of a pair.
type both struct {
	one, two candidate
	cost     int64
}

// alike is how far from a mirror image a pair may be: the plan's tolerances, or a multiple of them while it is looked for
// what would have to give.
func (s *search) alike() (azimuth, height float64) {
	return s.p.Tolerances.PairAzimuth * s.loose, s.p.Tolerances.PairHeight * s.loose
}

// mirrored tells whether two sights mirror each other within the plan's tolerances, and what is left of them.
func (s *search) mirrored(a, b place.Sight) (place.PairDifference, bool) {
	d := place.PairDeviation(a, b)
	azimuth, height := s.alike()
	return d, math.Abs(d.Azimuth) <= azimuth-spare && math.Abs(d.Elevation) <= azimuth-spare && math.Abs(d.Height) <= height-spare
}

// together is what a pair costs beside its two: how far it is from a mirror image, and from one style.
func (s *search) together(a, b *candidate) int64 {
	d := place.PairDeviation(a.sight, b.sight)
	cost := micro(math.Abs(d.Azimuth)) + micro(math.Abs(d.Elevation))/4 + micro(math.Abs(d.Height))
	if a.way.side.style != b.way.side.style {
		cost += mixedStyles
	}
	if a.way.bracket == nil && b.way.bracket == nil {
		cost += int64(perMetre * math.Abs(d.Distance))
	}
	return cost
}

// pair is the best spot for two loudspeakers that mirror each other. Either of the two leads: for each of its spots the
// other goes as near to the mirror image as it can. The search ends when a lead alone costs more than the best pair.
func (s *search) pair(one, two *seeker, steps []float64) (both, bool) {
	for _, step := range steps {
		first, second := free(one.candidates(one.ways, step)), free(two.candidates(two.ways, step))
		if len(first) == 0 || len(second) == 0 {
			continue
		}
		best := both{cost: math.MaxInt64}
		s.lead(first, second, two, &best, step, false)
		s.lead(second, first, one, &best, step, true)
		if best.cost < math.MaxInt64 {
			best = s.refinePair(best, step/2)
			return best, best.one.passes() && best.two.passes()
		}
	}
	return both{}, false
}

// lead tries the spots of the leading loudspeaker, the cheapest first.
func (s *search) lead(leading, following []candidate, follower *seeker, best *both, step float64, swapped bool) {
	least := following[0].cost
	able := *follower
	able.ways = slices.DeleteFunc(slices.Clone(follower.ways), func(w *way) bool {
		return !slices.ContainsFunc(following, func(c candidate) bool { return c.way == w })
	})
	around := slices.Clone(following)
	slices.SortStableFunc(around, func(a, b candidate) int { return cmp.Compare(a.sight.Azimuth, b.sight.Azimuth) })
	for i := range leading {
		c := &leading[i]
		if c.cost+least >= best.cost {
			return
		}
		if !s.plausible(c.sight, around, step) {
			continue
		}
		// The cheapest follower may not be carried where another way is.
		for ways := able; len(ways.ways) > 0; {
			other, ok := s.follow(c, &ways, step <= fine, best.cost-c.cost)
			if !ok || !c.carries() {
				break
			}
			if other.carries() {
				*best = both{*c, other, c.cost + other.cost + s.together(c, &other)}
				if swapped {
					best.one, best.two = other, *c
				}
				break
			}
			ways.ways = slices.DeleteFunc(slices.Clone(ways.ways), func(w *way) bool { return w == other.way })
		}
	}
}

// plausible tells whether any of the follower's own spots, in ascending order of azimuth, comes near the mirror image, so
// that looking there is worth while.
func (s *search) plausible(a place.Sight, around []candidate, step float64) bool {
	azimuth, height := s.alike()
	const nearest = 0.3 // metres
	for _, turn := range [3]float64{0, 2 * math.Pi, -2 * math.Pi} {
		widest := azimuth + 1.5*step/nearest
		from, _ := slices.BinarySearchFunc(around, turn-a.Azimuth-widest, func(c candidate, az float64) int { return cmp.Compare(c.sight.Azimuth, az) })
		for i := from; i < len(around) && around[i].sight.Azimuth <= turn-a.Azimuth+widest; i++ {
			b := &around[i].sight
			near := 1.5 * step / math.Max(nearest, b.Distance*math.Cos(b.Elevation))
			if math.Abs(place.Wrap(a.Azimuth+b.Azimuth)) <= azimuth+near && math.Abs(a.Elevation-b.Elevation) <= azimuth+near && math.Abs(a.Height-b.Height) <= height+1.5*step {
				return true
			}
		}
	}
	return false
}

// follow is the follower's cheapest spot that mirrors a leading one and has room, if it and what the two are together
// cost less than a bound. On each way the exact mirror image is tried first, then, if that is wanted, what the tolerances
// leave about it.
func (s *search) follow(lead *candidate, k *seeker, closely bool, below int64) (best candidate, found bool) {
	for _, w := range k.ways {
		if w.penalty >= below {
			continue
		}
		for _, nearly := range [2]bool{false, true} {
			met := false
			for _, q := range w.mirrors(lead.sight, nearly) {
				c, ok := w.at(q)
				if !ok || !w.onFraming(q) {
					continue
				}
				if _, ok := s.mirrored(lead.sight, c.sight); !ok || s.meets(lead, &c) {
					continue
				}
				if _, ok := c.clear(); !ok {
					continue
				}
				met = true
				if cost := c.cost + s.together(lead, &c); cost < below {
					best, found, below = c, true, cost
				}
			}
			if met || !closely {
				break
			}
		}
	}
	return best, found
}

// meets tells whether the two cabinets of a pair are in each other's way.
func (s *search) meets(a, b *candidate) bool {
	one := s.body(a.way.seek.model, a.pose, a.way.bracket == nil)
	two := s.body(b.way.seek.model, b.pose, b.way.bracket == nil)
	return one.Grown(betweenCabinets).Overlaps(two)
}

// mirrors are holes of a way that bring the acoustic centre to a sight's mirror image: exactly, or nearly, spread over what
// the tolerances leave.
func (w *way) mirrors(of place.Sight, nearly bool) (all []place.Spot) {
	s := w.seek.s
	add := func(azimuth, higher float64) {
		q, ok := w.mirror(of, azimuth, higher)
		switch {
		case !ok:
		case w.framed:
			all = w.toFraming(all, q, of, azimuth, higher)
		default:
			all = append(all, place.Spot{Along: s.rounded(q.Along), Up: s.rounded(q.Up)})
		}
	}
	if !nearly {
		add(0, 0)
		return all
	}
	azimuth, height := s.alike()
	turns, raises := []float64{0, 0.9, -0.9}, []float64{0, 0.3, -0.3, 0.6, -0.6, 0.9, -0.9}
	switch {
	case !w.framed:
	case w.level() || w.side.Framing.Across:
		raises = raises[:1] // where the member is says how high
	default:
		turns = turns[:1] // where the member is says in which direction
	}
	for _, turned := range turns {
		for _, raised := range raises {
			add(turned*azimuth, raised*height)
		}
	}
	return all
}

// level tells whether a side lies flat, so that moving along it does not change the height.
func (w *way) level() bool { return math.Abs(w.side.Normal().Z) > 0.95 }

// mirror is the hole for the mirror image of a sight, turned by an azimuth and raised (radians, metres). On a wall the
// image is met in height, elsewhere in elevation.
func (w *way) mirror(of place.Sight, azimuth, higher float64) (place.Spot, bool) {
	l := w.seek.s.listener
	if w.bracket == nil {
		// What stands goes as far off as its partner.
		l.Ear.Z = w.side.At(place.Spot{}).Z + w.stand
		far := of.Distance * math.Cos(of.Elevation)
		q, _ := w.side.Locate(l.Ear.Add(l.Ray(place.Direction{Azimuth: -of.Azimuth + azimuth}).Scale(far)))
		return q, true
	}
	if w.level() {
		return w.toward(place.Direction{Azimuth: -of.Azimuth + azimuth, Elevation: of.Elevation + higher/of.Distance})
	}
	// The level ray at the wanted height comes to the side where the hole belongs.
	from := place.Vec{X: l.Ear.X, Y: l.Ear.Y, Z: of.Height + higher}
	return w.solve(from, l.Ray(place.Direction{Azimuth: -of.Azimuth + azimuth}))
}

// toFraming moves a hole across onto each strip of the framing in reach, and along the members back to the image.
func (w *way) toFraming(all []place.Spot, q place.Spot, of place.Sight, azimuth, higher float64) []place.Spot {
	s := w.seek.s
	cross, free := w.across(q)
	const reach = 0.3 // metres
	limit, _ := s.alike()
	for _, strip := range w.strips {
		x := s.within(strip, cross)
		if math.Abs(x-cross) > reach {
			continue
		}
		if !w.level() && !w.side.Framing.Across {
			// A stud's direction is hardly changed by going up or down it.
			if off := place.Wrap(of.Azimuth + s.listener.See(w.centre(w.spot(x, free))).Azimuth); math.Abs(off) > 1.2*limit {
				continue
			}
		}
		y := free
		for range 6 {
			by, ok := w.off(w.spot(x, y), of, azimuth, higher)
			if !ok {
				break
			}
			y += by
		}
		if math.Abs(y-free) < 1 {
			all = append(all, w.spot(x, s.rounded(y)))
		}
	}
	return all
}

// within is the coordinate of a strip nearest to one, on the tape's divisions where the strip has one.
func (s *search) within(strip place.Strip, x float64) float64 {
	near := s.rounded(math.Max(strip.From, math.Min(strip.To, x)))
	for _, at := range [3]float64{near, near + s.grid, near - s.grid} {
		if at >= strip.From && at <= strip.To {
			return at
		}
	}
	return math.Max(strip.From, math.Min(strip.To, x))
}

// off is how far to move along the members to meet the image: in height on a wall whose members stand, else in azimuth.
func (w *way) off(q place.Spot, of place.Sight, azimuth, higher float64) (float64, bool) {
	l := w.seek.s.listener
	const step = 1e-4
	cross, free := w.across(q)
	miss := func(q place.Spot) float64 {
		at := l.See(w.centre(q))
		if !w.level() && !w.side.Framing.Across {
			return of.Height + higher - at.Height
		}
		return place.Wrap(-of.Azimuth + azimuth - at.Azimuth)
	}
	here := miss(q)
	slope := (miss(w.spot(cross, free+step)) - here) / step
	if math.Abs(slope) < 1e-3 {
		return 0, false
	}
	return math.Max(-0.5, math.Min(0.5, -here/slope)), true
}

// refinePair moves a pair to where it costs least, one leading and the other following.
func (s *search) refinePair(p both, step float64) both {
	best := p
	for n := math.Max(1, math.Round(step/s.grid)); n >= 1; n = math.Floor(n / 2) {
		for s.nudge(&best, n*s.grid) {
		}
	}
	if !best.one.carries() || !best.two.carries() {
		return p
	}
	return best
}

// nudge moves a pair by a step to where it costs less, if there is such a place.
func (s *search) nudge(p *both, by float64) bool {
	for _, swapped := range [2]bool{false, true} {
		lead, other := p.one, p.two
		if swapped {
			lead, other = other, lead
		}
		for _, q := range lead.way.moves(lead.hole, by) {
			next, ok := lead.way.at(q)
			if !ok || next.cost >= p.cost {
				continue
			}
			if _, ok := next.clear(); !ok {
				continue
			}
			after, ok := s.follow(&next, other.way.only(), true, p.cost-next.cost)
			if !ok {
				continue
			}
			*p = both{next, after, next.cost + after.cost + s.together(&next, &after)}
			if swapped {
				p.one, p.two = after, next
			}
			return true
		}
	}
	return false
}

// only is the seeker with this way and no other.
func (w *way) only() *seeker {
	k := *w.seek
	k.ways = []*way{w}
	return &k
}

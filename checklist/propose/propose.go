package propose

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"hangtrue/checklist/plan"
	"hangtrue/checklist/strict"
	"hangtrue/compute/layout"
	"hangtrue/compute/place"
)

// A Proposal is a mount for every channel of the layout, or why there is none. Both lists are in the layout's order.
type Proposal struct {
	Spots  []Spot
	Cannot []Cannot
}

// A Spot is a proposed mount.
type Spot struct {
	Mount     plan.Mount
	Direction place.Direction // in which the primary seat sees it, radians
	Off       place.Direction // from the nominal direction, radians; zero where the layout gives none
	// Why says in plain sentences why it is there, Cautions what to mind, Open what the mount still lacks to be complete.
	Why, Cautions, Open []string
}

// A Cannot is a channel that no spot was found for: what is in the way, and what would have to give, each by itself.
type Cannot struct {
	Channel   string
	Why, Give []string
}

// Mounts proposes a mount for every channel of the plan's layout but those to be kept. The plan may lack mounts, gear and
// electronics; it must say what room, whose ears, which layout and what tolerances there are. The error is a
// [strict.Problems] that names what is missing of these, or says which surface is not sound.
func Mounts(p *plan.Plan, ask Ask) (Proposal, error) {
	if err := missing(p); err != nil {
		return Proposal{}, err
	}
	s, err := newSearch(p, ask)
	if err != nil {
		return Proposal{}, err
	}
	best := s.run(s.units())
	for range 2 {
		// A loudspeaker may have taken the only place of another: then that one goes first.
		first := s.crowdedOut(best)
		if len(first) == 0 {
			break
		}
		next := s.run(promoted(s.units(), first))
		if len(next.failed) >= len(best.failed) {
			break
		}
		best = next
	}
	all := s.inWords(best)
	s.feed(&all)
	return all, nil
}

// missing says what of a plan must be there before anything can be proposed.
func missing(p *plan.Plan) error {
	var all strict.Problems
	l := p.Loudspeakers()
	if l == nil {
		all.Add("/layout", strict.Quote(p.Layout), "a layout, so that it is known where the loudspeakers go")
	}
	if p.Room.Box == nil && len(p.Room.Surfaces) == 0 {
		all.Add("/room", "no surface", "a box or surfaces to hang on")
	}
	if p.Primary() == nil {
		all.Add("/listening_positions", "no primary position", "the ear point everything is aimed at")
	}
	if len(p.Models) == 0 {
		all.Add("/loudspeakers", "none", "at least one loudspeaker to hang")
	}
	t := p.Tolerances
	for _, x := range []struct {
		key   string
		value float64
	}{{"azimuth_deg", t.Azimuth}, {"elevation_deg", t.Elevation}, {"pair_azimuth_deg", t.PairAzimuth}, {"pair_height_m", t.PairHeight}} {
		if !(x.value > 0) {
			all.Add("/tolerances/"+x.key, fmt.Sprint(x.value), "more than 0: the plan's own choice")
		}
	}
	return all.Err()
}

// outcome is what one order of placing came to.
type outcome struct {
	placed []placed
	failed []failed
}

// placed is a candidate that was chosen, with its partner, and what stood before it.
type placed struct {
	candidate
	partner *candidate
	before  state
}

// failed is a loudspeaker without a spot, and what stood before it.
type failed struct {
	at     *layout.Loudspeaker
	seek   *seeker // nil, with a reason, where it could not even be looked for
	reason string
	paired []*seeker // both of a pair that have spots by themselves, but none alike
	before state
}

// promoted are the units with those of some channels first.
func promoted(units []unit, first []string) (all []unit) {
	for _, early := range [2]bool{true, false} {
		for _, u := range units {
			if slices.ContainsFunc(u.channels, func(c *layout.Loudspeaker) bool { return slices.Contains(first, c.Label) }) == early {
				all = append(all, u)
			}
		}
	}
	return all
}

// run places unit after unit.
func (s *search) run(units []unit) outcome {
	s.state = s.kept.clone()
	var out outcome
	for _, u := range units {
		s.settle(u, &out)
	}
	return out
}

// settle finds a place for one unit.
func (s *search) settle(u unit, out *outcome) {
	var seekers []*seeker
	for _, at := range u.channels {
		k, why := s.seeker(at)
		if k == nil {
			out.failed = append(out.failed, failed{at: at, reason: why})
			continue
		}
		seekers = append(seekers, k)
	}
	before := s.state.clone()
	if len(seekers) == 2 {
		if p, ok := s.pair(seekers[0], seekers[1], seekers[0].steps()); ok {
			out.placed = append(out.placed, placed{p.one, &p.two, before}, placed{p.two, &p.one, before})
			s.takeAll(p.one, p.two)
			return
		}
	}
	s.apart(seekers, before, out)
}

// apart places by themselves what is no pair, or could not be one: of two that cannot mirror each other only the cheaper
// one gets a place.
func (s *search) apart(seekers []*seeker, before state, out *outcome) {
	found := make([]candidate, len(seekers))
	better, both := -1, len(seekers) == 2
	for i, k := range seekers {
		var ok bool
		found[i], ok = k.alone()
		both = both && ok
		if ok && (better < 0 || found[i].cost < found[better].cost) {
			better = i
		}
	}
	if better >= 0 {
		out.placed = append(out.placed, placed{found[better], nil, before})
		s.takeAll(found[better])
	}
	for i, k := range seekers {
		if i == better {
			continue
		}
		f := failed{at: k.at, seek: k, before: s.state.clone()}
		if both {
			f.paired, f.before = seekers, before
		}
		out.failed = append(out.failed, f)
	}
}

// alone is the best spot for a loudspeaker by itself, or beside its partner where that is placed already.
func (k *seeker) alone() (candidate, bool) {
	partner, placed := k.s.sights[k.at.Pair]
	if !placed || k.at.LFE {
		return k.find(k.ways)
	}
	best, least := candidate{}, int64(math.MaxInt64)
	for _, w := range k.ways {
		for _, q := range append(w.mirrors(partner, false), w.mirrors(partner, true)...) {
			c, ok := w.at(q)
			if !ok || !w.onFraming(q) {
				continue
			}
			d, ok := k.s.mirrored(partner, c.sight)
			cost := c.cost + micro(math.Abs(d.Azimuth)) + micro(math.Abs(d.Height))
			if !ok || cost >= least {
				continue
			}
			if _, ok := c.clear(); ok && c.carries() {
				best, least = c, cost
			}
		}
	}
	return best, best.way != nil && best.passes()
}

// loosened is the pair with the least multiple of the plan's pair tolerances that makes one.
func (s *search) loosened(one, two *seeker) (both, bool) {
	defer func() { s.loose = 1 }()
	for _, s.loose = range [...]float64{3, 9, 27} {
		if p, ok := s.pair(one, two, one.steps()[:1]); ok {
			return p, true
		}
	}
	return both{}, false
}

// takeAll makes the candidates' cabinets stand where they are.
func (s *search) takeAll(all ...candidate) {
	for _, c := range all {
		k := c.way.seek
		s.take(k.at.Label, k.model, c.pose, c.way.bracket == nil)
	}
}

// crowdedOut are the channels of an outcome whose place other loudspeakers took.
func (s *search) crowdedOut(out outcome) (labels []string) {
	for _, f := range out.failed {
		if f.seek == nil || f.paired != nil {
			continue
		}
		s.state = f.before
		if _, _, ok := f.seek.crowded(); ok {
			labels = append(labels, f.at.Label)
		}
	}
	return labels
}

// inWords puts an outcome into words, in the layout's order. Each loudspeaker is seen with what stood before it.
func (s *search) inWords(out outcome) (all Proposal) {
	for i := range s.layout.Loudspeakers {
		label := s.layout.Loudspeakers[i].Label
		for k := range out.placed {
			if c := &out.placed[k]; c.way.seek.at.Label == label {
				s.state = c.before
				all.Spots = append(all.Spots, s.spot(c))
			}
		}
		for k := range out.failed {
			if f := &out.failed[k]; f.at.Label == label {
				s.state = f.before
				all.Cannot = append(all.Cannot, s.cannot(f))
			}
		}
	}
	return all
}

func (s *search) spot(c *placed) Spot {
	k := c.way.seek
	spot := Spot{Mount: *c.way.planned(c.hole), Direction: c.sight.Direction}
	if k.at.NominalSpecified {
		spot.Off.Azimuth, spot.Off.Elevation = k.at.Deviation(c.sight.Direction)
	}
	spot.Why = s.whyThere(&c.candidate, c.partner)
	if !k.at.Anywhere() && place.Between(k.at.Nominal(), c.sight.Direction) > s.p.Tolerances.Azimuth {
		spot.Mount.OffAngle = strings.Join(spot.Why, " ")
	}
	spot.Why = append(spot.Why, s.whySo(&c.candidate, c.partner)...)
	spot.Cautions = s.cautions(&c.candidate)
	return spot
}

func (s *search) cannot(f *failed) Cannot {
	c := Cannot{Channel: f.at.Label}
	switch {
	case f.seek == nil:
		c.Why, c.Give = []string{f.reason}, []string{"Add one to the plan."}
	case f.paired != nil:
		c.Why, c.Give = s.unlike(f.paired[0], f.paired[1])
	default:
		c.Why, c.Give = f.seek.cannot()
	}
	return c
}

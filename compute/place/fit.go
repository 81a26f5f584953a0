package place

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
)

// ErrHoles is returned when a bracket is asked to have more holes in the framing than it has.
var ErrHoles = errors.New("place: more holes asked for than the bracket has")

// Meeting is a hole of the bracket's pattern that meets a member of the framing.
type Meeting struct {
	Hole   int     // index into [Bracket.Pattern]
	Member float64 // centre of the member, metres along (or up, where the members run across)
	Off    float64 // how far the hole lies from it, metres, positive towards along (or up)
}

// Fitting is a spot of the zone where enough holes meet the framing.
type Fitting struct {
	Spot      Spot
	Along, Up float64 // the move from the mount's hole, as a tape shows it
	Angle     float64 // between the directions of the acoustic centre at the mount's hole and here, as the first listening position sees it
	Meetings  []Meeting
}

// Remedy is a way to make a fitting possible where there is none.
type Remedy uint8

const (
	BackingBoard Remedy = iota // a board across two members behind the spot
	OtherPattern               // a bracket, or a plate between, with a hole where the member is
	WiderLimits                // allow the place where the framing is
)

var remedyNames = [...]string{"backing board", "other pattern", "wider limits"}

// String names the remedy in plain words.
func (r Remedy) String() string {
	if int(r) < len(remedyNames) {
		return remedyNames[r]
	}
	return fmt.Sprintf("Remedy(%d)", uint8(r))
}

// Offer is a remedy with its figures.
type Offer struct {
	Remedy Remedy
	Spot   Spot // where the reference hole would go

	From, To float64   // backing board: centres of the members it spans
	Offset   float64   // other pattern: from the reference hole to the nearest member's centre, the way members are counted
	Angle    float64   // wider limits: how far the direction moves from that at the mount's hole
	Breaks   []Binding // wider limits: the constraints that the spot does not meet
	Meetings []Meeting // wider limits: the holes that then meet the framing
}

// Fit is the fittings of a zone, nearest in direction first, or what would make one.
type Fit struct {
	Fittings []Fitting
	Offers   []Offer // only where there are no fittings
}

// Fit finds the spots of the zone where at least a number of holes lie within a margin (metres) of the centre of a member,
// one spot for every set of members within reach, each the nearest to the mount's hole on the surface. The mount's hole
// is the plan's place. Masonry and concrete hold everywhere: the nearest spot of the zone is the one fitting. A surface of
// [Other] construction holds nowhere. Errors: [ErrNumber], [ErrHoles].
//
// When nothing fits, the offers tell what would: a board across the two members that stand on either side of the nearest
// spot of the zone, the hole a bracket would need there, and the nearest spot beyond the limits of direction, height and
// symmetry that keeps the bracket's and the surface's.
func (z *Zone) Fit(holes int, margin float64) (Fit, error) {
	if err := z.checkHoles(holes, margin); err != nil {
		return Fit{}, err
	}
	switch z.mount.Surface.Framing.Kind {
	case Masonry, Concrete:
		if spot, ok := z.closest(z.plan); ok {
			return Fit{Fittings: []Fitting{z.fitting(spot, nil)}}, nil
		}
		return Fit{}, nil
	case Studs:
	default:
		return Fit{}, nil
	}
	var fit Fit
	strips := z.strips(holes, margin)
	for _, s := range strips {
		if spot, ok := z.along(s).closest(z.plan); ok {
			fit.Fittings = append(fit.Fittings, z.fitting(spot, z.meetings(spot, margin)))
		}
	}
	slices.SortStableFunc(fit.Fittings, func(a, b Fitting) int { return cmp.Compare(a.Angle, b.Angle) })
	if len(fit.Fittings) > 0 {
		return fit, nil
	}
	fit.Offers = z.offers(strips, margin)
	if n := len(fit.Offers); n > 0 && fit.Offers[n-1].Remedy == WiderLimits && len(fit.Offers[n-1].Breaks) == 0 {
		// A part of the zone too small for its outline, which the wider limits led into.
		o := fit.Offers[n-1]
		return Fit{Fittings: []Fitting{z.fitting(o.Spot, o.Meetings)}}, nil
	}
	return fit, nil
}

// closest is the spot of the zone nearest to one.
func (z *Zone) closest(spot Spot) (Spot, bool) {
	along, up, ok := z.Correction(spot)
	return spot.plus(Spot{along, up}), ok
}

func (z *Zone) fitting(spot Spot, meetings []Meeting) Fitting {
	f := Fitting{Spot: spot, Angle: z.turned(spot), Meetings: meetings}
	f.Along, f.Up = TapeCorrection(z.plan, spot)
	return f
}

// turned is the angle between the directions in which the acoustic centre is seen at the plan's place and at a spot.
func (z *Zone) turned(spot Spot) float64 {
	l := Listener{Ear: z.target}
	if len(z.views) > 0 {
		l = z.views[0]
	}
	return Between(l.See(z.sample(z.plan).centre).Direction, l.See(z.sample(spot).centre).Direction)
}

// crosswise is the way in which members are counted.
func (z *Zone) crosswise() Spot {
	if z.mount.Surface.Framing.Across {
		return Spot{Up: 1}
	}
	return Spot{Along: 1}
}

// Strip is a range of the reference hole's coordinate across the members, along or up (metres).
type Strip struct{ From, To float64 }

// Strips are where on the surface at least a number of holes lie within a margin (metres) of the centre of a member,
// whether they are in the zone or not, in ascending order; none where the framing has no members. Errors: [ErrNumber],
// [ErrHoles].
func (z *Zone) Strips(holes int, margin float64) ([]Strip, error) {
	if err := z.checkHoles(holes, margin); err != nil {
		return nil, err
	}
	return z.strips(holes, margin), nil
}

func (z *Zone) checkHoles(holes int, margin float64) error {
	if err := notNegative("margin", margin); err != nil {
		return err
	}
	if n := len(z.mount.Bracket.Pattern()); holes < 1 || holes > n {
		return fmt.Errorf("%w: read %d, the pattern has %d", ErrHoles, holes, n)
	}
	return nil
}

// along is what lies of the zone in a strip.
func (z *Zone) along(s Strip) *Zone {
	part, across := *z, z.crosswise()
	n := Vec{X: across.Along, Y: across.Up}
	part.Constraints = append(slices.Clip(z.Constraints), Constraint{Rule: FramingMember, View: -1, alternatives: [][]bound{{
		{kind: lineBound, quantity: Room, normal: n, limit: s.From},
		{kind: lineBound, quantity: Room, upper: true, normal: n.Scale(-1), limit: -s.To},
	}}})
	// The search starts from the strip, so that the narrowest strip is not missed.
	part.low = part.low.plus(across.times(s.From - part.low.dot(across)))
	part.high = part.high.plus(across.times(s.To - part.high.dot(across)))
	return &part
}

// strips are where at least a number of holes lie within a margin of a member. Every hole and member make an interval of
// the reference hole's coordinate; a sweep over their ends counts how many holes are served at once.
func (z *Zone) strips(holes int, margin float64) []Strip {
	type end struct {
		at   float64
		hole int
		by   int // +1 opens, -1 closes
	}
	var ends []end
	for hole, h := range z.mount.Bracket.Pattern() {
		for _, c := range z.members() {
			at := c - h.dot(z.crosswise())
			ends = append(ends, end{at - margin, hole, 1}, end{at + margin, hole, -1})
		}
	}
	// Where one interval ends as another begins both hold: open first.
	slices.SortFunc(ends, func(a, b end) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(b.by, a.by)) })
	served, open := make([]int, len(z.mount.Bracket.Pattern())), 0
	var strips []Strip
	for _, e := range ends {
		before := open
		if served[e.hole] == 0 || served[e.hole]+e.by == 0 {
			open += e.by
		}
		served[e.hole] += e.by
		switch {
		case before < holes && open >= holes:
			strips = append(strips, Strip{e.at, e.at})
		case before >= holes && open < holes:
			strips[len(strips)-1].To = e.at
		}
	}
	return strips
}

// members are the centres of the surface's members.
func (z *Zone) members() []float64 {
	low, high := Extent(z.mount.Surface.Outline)
	return z.mount.Surface.Framing.Members(low.dot(z.crosswise()), high.dot(z.crosswise()))
}

// meetings are the holes that lie within a margin of a member, to the nearest micrometre.
func (z *Zone) meetings(spot Spot, margin float64) []Meeting {
	var met []Meeting
	for i, h := range z.mount.Bracket.Pattern() {
		at := spot.plus(h).dot(z.crosswise())
		if c, ok := nearestMember(z.members(), at); ok && holds(margin-math.Abs(at-c)) {
			met = append(met, Meeting{Hole: i, Member: c, Off: at - c})
		}
	}
	return met
}

func nearestMember(members []float64, at float64) (float64, bool) {
	if len(members) == 0 {
		return 0, false
	}
	return slices.MinFunc(members, func(a, b float64) int { return cmp.Compare(math.Abs(a-at), math.Abs(b-at)) }), true
}

func (z *Zone) offers(strips []Strip, margin float64) []Offer {
	var offers []Offer
	if spot, ok := z.closest(z.plan); ok {
		at, members := spot.dot(z.crosswise()), z.members()
		if i, _ := slices.BinarySearch(members, at); i > 0 && i < len(members) {
			offers = append(offers, Offer{Remedy: BackingBoard, Spot: spot, From: members[i-1], To: members[i]})
		}
		if c, ok := nearestMember(members, at); ok {
			offers = append(offers, Offer{Remedy: OtherPattern, Spot: spot, Offset: c - at})
		}
	}
	wider := *z
	wider.Constraints = slices.DeleteFunc(slices.Clone(z.Constraints), func(c Constraint) bool { return c.Rule <= CentreHeight })
	// The strips are tried from the nearest on; one that starts farther off than the best spot cannot have a nearer one.
	at := z.plan.dot(z.crosswise())
	off := func(s Strip) float64 { return math.Max(0, math.Max(s.From-at, at-s.To)) }
	strips = slices.Clone(strips)
	slices.SortStableFunc(strips, func(a, b Strip) int { return cmp.Compare(off(a), off(b)) })
	best, found := Spot{}, false
	for _, s := range strips {
		if found && off(s) >= best.distance(z.plan) {
			break
		}
		if spot, ok := wider.along(s).closest(z.plan); ok && (!found || spot.distance(z.plan) < best.distance(z.plan)) {
			best, found = spot, true
		}
	}
	if found {
		offers = append(offers, Offer{Remedy: WiderLimits, Spot: best, Angle: z.turned(best), Meetings: z.meetings(best, margin), Breaks: z.broken(best)})
	}
	return offers
}

// broken are the constraints that a spot does not meet, the farthest from it first.
func (z *Zone) broken(spot Spot) []Binding {
	var out []Binding
	s := z.sample(spot)
	for i := range z.Constraints {
		if v, id := z.Constraints[i].value(z, &s); !holds(v) {
			id.constraint = i
			out = append(out, z.binding(spot, v, id))
		}
	}
	slices.SortStableFunc(out, func(a, b Binding) int { return cmp.Compare(a.Distance, b.Distance) })
	return out
}

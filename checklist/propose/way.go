package propose

import (
	"math"
	"slices"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/compute/place"
)

// A way is one manner of mounting a loudspeaker: on a side of the room with a bracket and a fixing, or standing.
type way struct {
	seek    *seeker
	side    *side
	bracket *plan.Bracket  // nil: it stands
	fixing  *plan.Fixing   // nil: what is behind is not known, or it stands
	stand   float64        // height of the acoustic centre where it stands, metres
	mount   place.Mount    // with the reference hole at (0, 0)
	zone    *place.Zone    // nil where it stands: a stand may be as high as the ear
	sectors []place.Sector // the permitted directions, as far as they count
	strips  []place.Strip  // where the screws meet the framing; nil where they hold anywhere
	framed  bool
	waived  waiver
	penalty int64 // cost of choosing it

	low, high place.Spot // of the rectangle that holds what lies in the permitted directions
	says      string     // what the load screening said last against a spot of it
}

// waiver is a rule that is left aside, to find out what would have to give.
type waiver int

const (
	nothing    waiver = iota
	framing           // the screws need not meet the framing
	turning           // the bracket turns as far as it has to
	directions        // as far outside the permitted directions as it has to
	neighbours        // other cabinets do not count
)

// farOff is how far outside the permitted ranges (radians) a spot is looked for when that is what would have to give.
const farOff = 45 * math.Pi / 180

// Costs are angles in microradians, so that they add up with how far a direction is from nominal. How much each thing
// weighs is this program's own choice.
const (
	degree          = 17453 // of cost
	perBracket      = 1 * degree
	perFixing       = degree / 5
	perUnknown      = 3 * degree  // nothing says what is behind
	heightOnWall    = 8 * degree  // a height loudspeaker that is not overhead
	bedOverhead     = 30 * degree // a loudspeaker at ear height on a slope over people's heads
	touchesOwn      = 20 * degree // by the figures the cabinet touches what it hangs on
	underLeaf       = 10 * degree // where the leaf of a door may turn
	mixedStyles     = 20 * degree // a pair, one on the wall and one on the ceiling
	perMetre        = 2 * degree  // of a standing loudspeaker from its wall, or from its partner's distance
	outsideRange    = 3           // for each microradian of what had to give
	shortOfSpare    = 2           // for each microradian of the spare that a range should leave
	leastContact    = 0.002       // metres that a cabinet must be in its own surface to count: less is in the figures
	betweenCabinets = 0.02        // metres, for hands and cables; common practice, no source
	fromSurfaces    = 0.01        // metres from a surface that it does not hang on
)

// spare is kept from every limit (radians, metres): what lies so near to one that rounding decides is no spot.
const spare = 2e-5

// allWays are all manners of mounting that the gear allows, with what is waived, and why a side has none.
func (k *seeker) allWays(waived waiver) (ways []*way, barred map[*side]string) {
	barred = map[*side]string{}
	gear := k.gear
	for i := range k.s.sides {
		side := &k.s.sides[i]
		if k.stands {
			if side.style == onFloor {
				ways = append(ways, k.standing(side, waived)...)
			}
			continue
		}
		if side.style == onFloor {
			continue
		}
		why, before := "no bracket is chosen for "+side.title, len(ways)
		for b, name := range k.brackets(side) {
			bracket := k.s.p.Bracket(name)
			if bracket == nil {
				continue
			}
			if whole(k.model.Mass) > whole(bracket.RatedLoad) {
				why = "the loudspeaker weighs " + kilograms(k.model.Mass) + ", and " + bracket.Name + " is made for " + kilograms(bracket.RatedLoad)
				continue
			}
			fixings, reason := k.fixings(side, gear.Fixings)
			if len(fixings) == 0 {
				why = reason
			}
			for f, fixing := range fixings {
				w := &way{seek: k, side: side, bracket: bracket, fixing: fixing, waived: waived, penalty: int64(b)*perBracket + int64(f)*perFixing}
				if w.build() {
					ways = append(ways, w)
				} else {
					why = "no permitted direction comes to it"
				}
			}
		}
		if len(ways) == before {
			barred[side] = why
		}
	}
	return ways, barred
}

// brackets are those for a side, the best first: on a slope both kinds.
func (k *seeker) brackets(s *side) []string {
	wall, over := k.gear.Wall, k.gear.Overhead
	level := math.Abs(s.Normal().Z)
	switch {
	case level < 0.05:
		return wall
	case level > 0.95:
		return over
	case s.style == overhead:
		wall, over = over, wall
	}
	all := slices.Clone(wall)
	for _, name := range over {
		if !slices.Contains(all, name) {
			all = append(all, name)
		}
	}
	return all
}

// fixings are those that suit what is behind a side; a single nil where that is not known. The reason is for none.
func (k *seeker) fixings(s *side, names []string) (all []*plan.Fixing, reason string) {
	switch s.construction {
	case "":
		return []*plan.Fixing{nil}, ""
	case plan.Other:
		return nil, "nothing is known behind " + s.title + " that holds a fixing"
	}
	reason = "no fixing is chosen for " + s.construction
	for _, name := range names {
		f := k.s.p.Fixing(name)
		if f == nil {
			continue
		}
		if s.construction != plan.Studs {
			if f.Kind == plan.Rated && f.Base == s.construction {
				all = append(all, f)
			}
			continue
		}
		if f.Kind == plan.Rated {
			continue
		}
		if judge.Centring(f, s.Framing.Width) <= 0 {
			reason = "the studs are too narrow for " + f.Name
			continue
		}
		all = append(all, f)
	}
	return all, reason
}

// standing are the heights of a stand that may bring the loudspeaker to a permitted elevation.
func (k *seeker) standing(s *side, waived waiver) (ways []*way) {
	if k.group == Height {
		return nil // a stand that high is none
	}
	floor := s.At(place.Spot{}).Z
	least := k.model.Size.Height / 2
	heights := []float64{least}
	if k.group != LFE {
		ear := k.s.listener.Ear.Z - floor
		heights = nil
		// The first one is right in front of the wall in the nominal direction.
		first, ray := 0.0, k.s.listener.Ray(place.Direction{Azimuth: k.wanted.Azimuth})
		if hit, ok := place.Meet(k.s.surfaces, k.s.listener.Ear, ray); ok {
			first = (hit.Distance - 0.3) * math.Tan(k.wanted.Elevation)
		}
		for _, above := range [...]float64{first, 0, 0.04, 0.08, 0.16, -0.08, -0.3, -0.5, -0.7, 0.3} {
			if h := math.Round((ear+above)*100) / 100; h >= least && h < ear+0.35 && !slices.Contains(heights, h) {
				heights = append(heights, h)
			}
		}
		if len(heights) == 0 {
			heights = []float64{least}
		}
	}
	for i, h := range heights {
		w := &way{seek: k, side: s, stand: h, waived: waived, penalty: int64(i) * perFixing}
		if w.build() {
			ways = append(ways, w)
		}
	}
	return ways
}

// build works out where the way may go. It is false where it may go nowhere, as where the listener is behind the side.
func (w *way) build() bool {
	k := w.seek
	m, err := k.s.p.MountOn(w.planned(place.Spot{}), w.side.Surface)
	if err != nil {
		return false
	}
	if w.waived == turning {
		m.Bracket.SwingMin, m.Bracket.SwingMax, m.Bracket.TiltMin, m.Bracket.TiltMax = -math.Pi/2, math.Pi/2, -math.Pi/2, math.Pi/2
	}
	w.mount, w.sectors = m, k.sectors
	if w.waived == directions {
		w.sectors = slices.Clone(k.sectors)
		for i := range w.sectors {
			s := &w.sectors[i]
			s.AzimuthMin, s.AzimuthMax = s.AzimuthMin-farOff, s.AzimuthMax+farOff
			s.ElevationMin, s.ElevationMax = math.Max(s.ElevationMin-farOff, -math.Pi/2), math.Min(s.ElevationMax+farOff, math.Pi/2)
		}
	}
	if w.bracket != nil && !w.hang() {
		return false
	}
	w.low, w.high = w.bounds()
	return w.low.Along <= w.high.Along && w.low.Up <= w.high.Up
}

// hang works out the zone of what hangs, and where it meets the framing.
func (w *way) hang() bool {
	k := w.seek
	var err error
	w.zone, err = place.NewZone(w.mount, k.s.listener.Ear, place.Limits{
		Views:  []place.View{{Listener: k.s.listener, Permitted: w.sectors}},
		Margin: k.s.p.Tolerances.EdgeClearance + spare,
	})
	if err != nil {
		return false
	}
	switch {
	case w.side.construction == "":
		w.penalty += perUnknown
	case w.side.construction == plan.Studs && w.waived != framing:
		w.framed = true
		margin := judge.Centring(w.fixing, w.side.Framing.Width) - spare
		w.strips, _ = w.zone.Strips(len(w.mount.Bracket.Pattern()), math.Max(margin, 0))
	}
	switch {
	case k.group == Height && w.side.style == onWall:
		w.penalty += heightOnWall
	case k.group != Height && w.side.style == overhead:
		w.penalty += bedOverhead
	}
	return true
}

// centre is where the acoustic centre is with the reference hole at a spot.
func (w *way) centre(q place.Spot) place.Vec {
	if w.zone != nil {
		return w.zone.Centre(q)
	}
	return w.side.At(q).Add(w.side.Normal().Scale(w.stand))
}

// allows tells whether the zone has a spot: for what stands, whether it is on the floor and in a permitted direction.
func (w *way) allows(q place.Spot) bool {
	if w.zone != nil {
		return w.zone.Contains(q)
	}
	if !w.side.Contains(q) || w.side.ClearOf(q, 0).Spare < 0 {
		return false
	}
	d := w.seek.s.listener.See(w.centre(q)).Direction
	return len(w.sectors) == 0 || slices.ContainsFunc(w.sectors, func(s place.Sector) bool { return s.Contains(d) })
}

// planned is the mount with its reference hole at a spot, as far as where it hangs goes.
func (w *way) planned(hole place.Spot) *plan.Mount {
	m := &plan.Mount{Channel: w.seek.at.Label, Model: w.seek.model.Name, Surface: w.side.Name, Along: hole.Along, Up: hole.Up}
	if w.bracket != nil {
		m.Bracket = w.bracket.Name
	} else {
		m.Stand = w.stand
	}
	if w.fixing != nil {
		m.Fixing = w.fixing.Name
	}
	return m
}

// toward is the reference hole from which the acoustic centre is seen in a direction from the primary seat. The centre
// moves with the hole, but for the little that the loudspeaker turns: a few corrections find it. It is false where that
// direction does not come to the side.
func (w *way) toward(d place.Direction) (place.Spot, bool) {
	l := w.seek.s.listener
	return w.solve(l.Ear, l.Ray(d))
}

// solve is the reference hole that brings the acoustic centre onto a ray.
func (w *way) solve(from, ray place.Vec) (place.Spot, bool) {
	n := w.side.Normal()
	approach := -ray.Dot(n)
	if approach < 1e-6 {
		return place.Spot{}, false
	}
	foot, out := w.side.Locate(from)
	// A hole puts the centre onto the plane that lies off metres in front of the side; where the ray meets that plane the
	// centre should be.
	meet := func(off float64) (place.Spot, bool) {
		t := (out - off) / approach
		return place.Spot{Along: foot.Along + float64(t*ray.Dot(w.side.Along)), Up: foot.Up + float64(t*ray.Dot(w.side.Up))}, t > 0
	}
	// Without an axis offset the pivot lies on the same ray, if that comes from the ear.
	b := w.mount.Bracket
	hole, ok := meet(b.PivotOut)
	hole.Along, hole.Up = hole.Along-b.PivotAlong, hole.Up-b.PivotUp
	for range 40 {
		if !ok {
			return place.Spot{}, false
		}
		at, off := w.side.Locate(w.centre(hole))
		var want place.Spot
		if want, ok = meet(off); !ok {
			return place.Spot{}, false
		}
		along, up := want.Along-at.Along, want.Up-at.Up
		hole.Along, hole.Up = hole.Along+along, hole.Up+up
		if math.Abs(along)+math.Abs(up) < 1e-7 {
			break
		}
	}
	return hole, true
}

// bounds are the extent of the holes that the permitted directions ask for, within the side's own extent. A direction
// that misses the side's plane goes to infinity on the way: then more directions are asked for.
func (w *way) bounds() (low, high place.Spot) {
	low, high = extent(w.side.Outline)
	if len(w.sectors) == 0 || w.bracket == nil {
		return low, high
	}
	for _, steps := range [2]int{10, 120} {
		first, last := place.Spot{Along: math.Inf(1), Up: math.Inf(1)}, place.Spot{Along: math.Inf(-1), Up: math.Inf(-1)}
		missed := false
		for _, s := range w.sectors {
			width := s.AzimuthMax - s.AzimuthMin
			if width < 0 {
				width += 2 * math.Pi
			}
			for i := 0; i <= steps; i++ {
				for e := 0; e <= 4; e++ {
					d := place.Direction{Azimuth: s.AzimuthMin + float64(width*float64(i)/float64(steps)), Elevation: s.ElevationMin + float64((s.ElevationMax-s.ElevationMin)*float64(e)/4)}
					q, ok := w.toward(d)
					if !ok {
						missed = true
						continue
					}
					first.Along, first.Up = math.Min(first.Along, q.Along), math.Min(first.Up, q.Up)
					last.Along, last.Up = math.Max(last.Along, q.Along), math.Max(last.Up, q.Up)
				}
			}
		}
		if missed && steps == 10 {
			continue
		}
		const more = 0.05 // and a share for what a curved boundary may stand out between two directions
		along, up := more+(last.Along-first.Along)/float64(steps), more+(last.Up-first.Up)/float64(steps)
		low.Along, low.Up = math.Max(low.Along, first.Along-along), math.Max(low.Up, first.Up-up)
		high.Along, high.Up = math.Min(high.Along, last.Along+along), math.Min(high.Up, last.Up+up)
		break
	}
	return low, high
}

func extent(outline []place.Spot) (low, high place.Spot) {
	low, high = outline[0], outline[0]
	for _, q := range outline {
		low.Along, low.Up = math.Min(low.Along, q.Along), math.Min(low.Up, q.Up)
		high.Along, high.Up = math.Max(high.Along, q.Along), math.Max(high.Up, q.Up)
	}
	return low, high
}

// across is a spot's coordinate across the members, and along them.
func (w *way) across(q place.Spot) (cross, free float64) {
	if w.side.Framing.Across {
		return q.Up, q.Along
	}
	return q.Along, q.Up
}

func (w *way) spot(cross, free float64) place.Spot {
	if w.side.Framing.Across {
		return place.Spot{Along: free, Up: cross}
	}
	return place.Spot{Along: cross, Up: free}
}

// members are the centres of the side's framing.
func (w *way) members() []float64 {
	low, high := extent(w.side.Outline)
	from, _ := w.across(low)
	to, _ := w.across(high)
	return w.side.Framing.Members(from, to)
}

// rounded is a length on the tape's divisions.
func (s *search) rounded(x float64) float64 { return math.Round(x/s.grid) * s.grid }

// lines are the coordinates across the members to try in a strip: its middle and its ends.
func (s *search) lines(strip place.Strip) []float64 {
	middle, from, to := s.within(strip, (strip.From+strip.To)/2), s.within(strip, strip.From), s.within(strip, strip.To)
	all := []float64{middle}
	for _, x := range [2]float64{from, to} {
		if !slices.Contains(all, x) {
			all = append(all, x)
		}
	}
	return all
}

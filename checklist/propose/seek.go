package propose

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/compute/gauge"
	"hangtrue/compute/layout"
	"hangtrue/compute/place"
)

// A seeker looks for the mount of one channel.
type seeker struct {
	s       *search
	at      *layout.Loudspeaker
	group   Group
	gear    Gear
	model   *plan.Model
	stands  bool
	sectors []place.Sector
	wanted  place.Direction // nominal, moved in from the ends of the permitted ranges by the spare they should leave
	ways    []*way
	barred  map[*side]string
}

// A candidate is a spot that keeps what the zone and the framing ask.
type candidate struct {
	way     *way
	hole    place.Spot
	pose    place.Pose
	sight   place.Sight
	contact float64 // how deep the cabinet is in the surface it hangs on, by the figures, metres
	doorway string  // whose leaf may turn where it hangs
	cost    int64
}

// seeker is nil, with a reason, where the channel cannot be looked for at all.
func (s *search) seeker(at *layout.Loudspeaker) (*seeker, string) {
	if k := s.seekers[at.Label]; k != nil {
		return k, ""
	}
	k := &seeker{s: s, at: at, group: GroupOf(at)}
	k.gear = *s.ask.Of(k.group)
	k.model = s.p.Model(k.gear.Model)
	if k.model == nil {
		return nil, "The plan has no loudspeaker for the " + k.group.String() + " group yet."
	}
	k.stands = k.gear.Stands || len(k.gear.Wall)+len(k.gear.Overhead) == 0
	t := s.p.Tolerances
	k.sectors = at.Sectors(t.Azimuth, t.Elevation)
	for i := range k.sectors {
		x := &k.sectors[i]
		if x.AzimuthMax-x.AzimuthMin < 2*math.Pi-spare {
			x.AzimuthMin, x.AzimuthMax = x.AzimuthMin+spare, x.AzimuthMax-spare
		}
		x.ElevationMin, x.ElevationMax = x.ElevationMin+spare, x.ElevationMax-spare
		if x.ElevationMax > math.Pi/2-2*spare {
			x.ElevationMax = math.Pi / 2
		}
		if x.ElevationMin < -math.Pi/2+2*spare {
			x.ElevationMin = -math.Pi / 2
		}
	}
	k.wanted = k.at.Nominal()
	if band := k.band(k.wanted.Azimuth); !band.Target() && !band.AnyAzimuth() {
		k.wanted.Azimuth = inward(k.wanted.Azimuth, band, spareOf(band, t.Azimuth))
	}
	if r := at.ElevationRange(); !r.Target() && !at.Anywhere() {
		k.wanted.Elevation = inward(k.wanted.Elevation, r, spareOf(r, t.Elevation))
	}
	k.ways, k.barred = k.allWays(nothing)
	s.seekers[at.Label] = k
	return k, ""
}

// spareOf is what a permitted range should leave at its ends: the plan's own tolerance, so that what hangs within that is
// still permitted, but not more than a quarter of the range.
func spareOf(r layout.Range, tolerance float64) float64 {
	return math.Min(tolerance, arcWidth(r)/4)
}

func arcWidth(r layout.Range) float64 {
	w := r.To - r.From
	if w < 0 {
		w += 2 * math.Pi
	}
	return w
}

// inward is an angle moved in from the ends of a range.
func inward(x float64, r layout.Range, by float64) float64 {
	from := place.Wrap(x - r.From)
	return place.Wrap(r.From + math.Max(by, math.Min(arcWidth(r)-by, from)))
}

// band is the permitted range of azimuths that holds an azimuth, or the one nearest to it.
func (k *seeker) band(azimuth float64) layout.Range {
	best, least := k.at.Bands[0], math.Inf(1)
	for _, b := range k.at.Bands {
		middle := b.From + arcWidth(b)/2
		if off := math.Abs(place.Wrap(azimuth-middle)) - arcWidth(b)/2; off < least {
			best, least = b, off
		}
	}
	return best
}

// short is how much less than the spare a direction leaves to the ends of its ranges (radians).
func (k *seeker) short(d place.Direction) float64 {
	if k.at.Anywhere() {
		return 0
	}
	t, sum := k.s.p.Tolerances, 0.0
	if b := k.band(d.Azimuth); !b.Target() && !b.AnyAzimuth() {
		from := place.Wrap(d.Azimuth - b.From)
		left := math.Min(from, arcWidth(b)-from)
		sum += float64(math.Max(0, spareOf(b, t.Azimuth)-left) * math.Cos(d.Elevation))
	}
	if r := k.at.ElevationRange(); !r.Target() {
		left := math.Min(d.Elevation-r.From, r.To-d.Elevation)
		sum += math.Max(0, spareOf(r, t.Elevation)-left)
	}
	return sum
}

// at is the candidate with the reference hole at a spot, false where the zone does not allow it or the gap to another
// loudspeaker would be outside the layout's rule. Whether the spot is on the framing is the caller's business.
func (w *way) at(hole place.Spot) (c candidate, ok bool) {
	if !w.allows(hole) {
		return c, false
	}
	m := w.mount
	m.Hole = hole
	pose, err := place.Aim(m, w.seek.s.listener.Ear)
	if err != nil {
		return c, false
	}
	k := w.seek
	c = candidate{way: w, hole: hole, pose: pose, sight: k.s.listener.See(pose.Centre)}
	if _, bad := k.s.badGap(k.at.Label, c.sight); bad && w.waived != neighbours {
		return c, false
	}
	if w.bracket != nil {
		box := k.s.body(k.model, pose, false)
		c.contact = box.Behind(w.side.Surface)
		c.doorway, _ = k.s.inDoorway(box)
	}
	c.cost = w.price(&c)
	return c, true
}

func micro(x float64) int64 { return int64(math.Round(x * 1e6)) }

// price is what a candidate costs: how far it is from nominal, and what else it is not.
func (w *way) price(c *candidate) int64 {
	k := w.seek
	cost := w.penalty
	if k.at.Anywhere() {
		cost += micro(k.s.fromFront(k, c))
	} else {
		cost += micro(place.Between(k.at.Nominal(), c.sight.Direction))
		cost += shortOfSpare * micro(k.short(c.sight.Direction))
	}
	if c.contact > leastContact {
		cost += touchesOwn
	}
	if c.doorway != "" {
		cost += underLeaf
	}
	if w.framed {
		cost += micro(w.offMiddle(c.hole))
	}
	if w.bracket == nil && k.group != LFE {
		cost += int64(perMetre * k.s.fromWall(c))
	}
	switch w.waived {
	case turning:
		cost += outsideRange * micro(w.overTurned(c.pose))
	case directions:
		az, el := k.at.OutsideBy(c.sight.Direction)
		cost += outsideRange * micro(math.Abs(az)+math.Abs(el))
	}
	return cost
}

// overTurned is how far beyond the bracket's limits a pose is, swing and tilt together (radians).
func (w *way) overTurned(p place.Pose) float64 {
	beyond := func(x, low, high float64) float64 { return math.Max(0, math.Max(low-x, x-high)) }
	return beyond(p.Swing, w.bracket.SwingMin, w.bracket.SwingMax) + beyond(p.Tilt, w.bracket.TiltMin, w.bracket.TiltMax)
}

// offMiddle is how far the pattern is from the middle of the nearest strip (metres).
func (w *way) offMiddle(hole place.Spot) float64 {
	cross, _ := w.across(hole)
	least := math.Inf(1)
	for _, s := range w.strips {
		least = math.Min(least, math.Abs(cross-(s.From+s.To)/2))
	}
	return least
}

// onFraming tells whether the screws meet the framing, where they have to.
func (w *way) onFraming(hole place.Spot) bool {
	if !w.framed {
		return true
	}
	cross, _ := w.across(hole)
	return slices.ContainsFunc(w.strips, func(s place.Strip) bool { return s.From <= cross && cross <= s.To })
}

// candidates are spots at a step (metres), the cheapest first: about the wanted direction's own spot, or along the
// members of the framing. Ties stay in the order of the ways and of their spots.
func (k *seeker) candidates(ways []*way, step float64) []candidate {
	var all []candidate
	for _, w := range ways {
		all = w.scan(all, step)
	}
	type ranked struct {
		cost int64
		at   int
	}
	order := make([]ranked, len(all)) // sorted in their stead: a candidate is large
	for i := range all {
		order[i] = ranked{all[i].cost, i}
	}
	slices.SortFunc(order, func(a, b ranked) int { return cmp.Or(cmp.Compare(a.cost, b.cost), a.at-b.at) })
	sorted := make([]candidate, len(all))
	for i, p := range order {
		sorted[i] = all[p.at]
	}
	return sorted
}

// scan adds a way's candidates.
func (w *way) scan(all []candidate, step float64) []candidate {
	s := w.seek.s
	closely := step <= fine
	step = math.Max(1, math.Round(step/s.grid)) * s.grid
	anchor, ok := w.toward(w.seek.wanted)
	if !ok {
		anchor = place.Spot{Along: (w.low.Along + w.high.Along) / 2, Up: (w.low.Up + w.high.Up) / 2}
	}
	anchor = place.Spot{Along: s.rounded(anchor.Along), Up: s.rounded(anchor.Up)}
	if w.framed {
		from, first := w.across(w.low)
		to, last := w.across(w.high)
		_, free := w.across(anchor)
		if closely {
			step = math.Max(1, math.Round(step/4/s.grid)) * s.grid // there is one way to go only
		}
		for _, strip := range w.strips {
			if strip.To < from || strip.From > to {
				continue
			}
			for _, cross := range s.lines(strip) {
				for x := onLattice(free, step, first); x <= last; x += step {
					if c, ok := w.at(w.spot(cross, s.rounded(x))); ok {
						all = append(all, c)
					}
				}
			}
		}
		return all
	}
	along, up := step, step
	if closely {
		// What is low or narrow is searched in more rows than its size would give.
		along, up = s.narrowed(step, w.high.Along-w.low.Along), s.narrowed(step, w.high.Up-w.low.Up)
	}
	for a := onLattice(anchor.Along, along, w.low.Along); a <= w.high.Along; a += along {
		for u := onLattice(anchor.Up, up, w.low.Up); u <= w.high.Up; u += up {
			if c, ok := w.at(place.Spot{Along: s.rounded(a), Up: s.rounded(u)}); ok {
				all = append(all, c)
			}
		}
	}
	if closely && w.zone != nil {
		// A zone narrower than a step.
		if along, up, ok := w.zone.Correction(anchor); ok {
			if c, ok := w.at(place.Spot{Along: anchor.Along + along, Up: anchor.Up + up}); ok {
				all = append(all, c)
			}
		}
	}
	return all
}

// narrowed is a step that makes at least sixty rows of an extent (metres), on the tape's divisions.
func (s *search) narrowed(step, size float64) float64 {
	return math.Min(step, math.Max(1, math.Round(size/60/s.grid))*s.grid)
}

// onLattice is the first coordinate not below a bound that is a whole number of steps from an anchor.
func onLattice(anchor, step, from float64) float64 {
	return anchor + float64(math.Ceil((from-anchor)/step)*step)
}

// clear tells whether the cabinet has room and is seen, or what is in the way.
func (c *candidate) clear() (fault, bool) {
	w := c.way
	s := w.seek.s
	standing := w.bracket == nil
	box := s.body(w.seek.model, c.pose, standing)
	if !standing {
		low, high := box.Shadow(w.side.Surface)
		for _, a := range w.side.Openings {
			if low.Along < a.Max.Along && high.Along > a.Min.Along && low.Up < a.Max.Up && high.Up > a.Min.Up {
				return fault{kind: opening, name: a.Name}, false
			}
		}
	}
	for i := range s.sides {
		if side := &s.sides[i]; side != w.side && box.Grown(fromSurfaces).Pierces(side.Surface) {
			return fault{kind: sticks, name: side.title}, false
		}
	}
	if i, hidden := place.Hides(s.surfaces, c.pose.Centre, s.listener.Ear); hidden {
		return fault{kind: hiddenBy, name: s.sides[i].title}, false
	}
	if name, in := s.inDoorway(box); in && standing {
		return fault{kind: inDoorway, name: name}, false
	}
	if w.waived != neighbours {
		for _, o := range s.taken {
			if box.Grown(betweenCabinets).Overlaps(o.body) {
				return fault{kind: cabinet, name: o.channel}, false
			}
		}
	}
	return fault{}, true
}

// carries tells whether what a candidate hangs on carries it, as far as the checks can tell.
func (c *candidate) carries() bool {
	w := c.way
	if w.bracket == nil || w.fixing == nil || w.waived == framing {
		return true
	}
	s := w.seek.s
	s.trial.Mounts[0] = *w.planned(c.hole)
	for _, check := range judge.Carried(&s.trial, w.seek.at.Label) {
		if check.Verdict == gauge.Outside {
			w.says = check.Title + ": " + check.Says
			return false
		}
	}
	return true
}

// samples is how many spots of a way are screened before it is given up: a load changes little from spot to spot.
const samples = 8

// hopeless tells whether the load screening refuses every one of some candidates of a way, spread over all of them.
func hopeless(all []candidate, w *way) bool {
	var of []*candidate
	for i := range all {
		if all[i].way == w {
			of = append(of, &all[i])
		}
	}
	for n := 0; n < len(of); n += max(1, len(of)/samples) {
		if of[n].carries() {
			return false
		}
	}
	return true
}

// free are those of the candidates that have room and are seen, without the ways that are hopeless.
func free(all []candidate) []candidate {
	var clear []candidate
	for i := range all {
		if _, ok := all[i].clear(); ok {
			clear = append(clear, all[i])
		}
	}
	given := map[*way]bool{}
	return slices.DeleteFunc(clear, func(c candidate) bool {
		up, known := given[c.way]
		if !known {
			up = hopeless(clear, c.way)
			given[c.way] = up
		}
		return up
	})
}

// passes tells whether no check of a mount by itself is outside: the last word before a candidate is proposed. What
// concerns its cable and its amplifier is not decided yet.
func (c *candidate) passes() bool {
	if c.way.waived != nothing {
		return true
	}
	s, label := c.way.seek.s, c.way.seek.at.Label
	s.trial.Mounts[0] = *c.way.planned(c.hole)
	for _, check := range judge.WholePlan(&s.trial) {
		early := strings.HasPrefix(check.Name, "wire.") || strings.HasPrefix(check.Name, "bridges.") || check.Name == "plan.missing"
		if check.Subject == label && check.Verdict == gauge.Outside && !early {
			c.way.says = check.Title + ": " + check.Says
			return false
		}
	}
	return true
}

// pick is the first of the candidates that has room, is seen and is carried.
func pick(all []candidate) (candidate, bool) {
	given := map[*way]bool{}
	for i := range all {
		c := &all[i]
		if given[c.way] {
			continue
		}
		if _, ok := c.clear(); !ok {
			continue
		}
		if c.carries() {
			return *c, true
		}
		given[c.way] = hopeless(all[i:], c.way)
	}
	return candidate{}, false
}

// refine moves a candidate to where it costs least nearby, in ever smaller steps down to the tape's division.
func (c candidate) refine(step float64) candidate {
	w := c.way
	s := w.seek.s
	best := c
	for n := math.Max(1, math.Round(step/s.grid)); n >= 1; n = math.Floor(n / 2) {
		by := n * s.grid
		for moved := true; moved; {
			moved = false
			for _, q := range w.moves(best.hole, by) {
				next, ok := w.at(q)
				if !ok || next.cost >= best.cost {
					continue
				}
				if _, ok := next.clear(); ok {
					best, moved = next, true
				}
			}
		}
	}
	if best.hole != c.hole && !best.carries() {
		return c
	}
	return best
}

// moves are the spots a step away, along the members where the screws have to meet them.
func (w *way) moves(hole place.Spot, by float64) []place.Spot {
	s := w.seek.s
	step := func(da, du float64) place.Spot {
		return place.Spot{Along: s.rounded(hole.Along + da), Up: s.rounded(hole.Up + du)}
	}
	if !w.framed {
		return []place.Spot{step(by, 0), step(-by, 0), step(0, by), step(0, -by)}
	}
	cross, free := w.across(hole)
	all := []place.Spot{w.spot(cross, s.rounded(free+by)), w.spot(cross, s.rounded(free-by))}
	for _, x := range [2]float64{cross + by, cross - by} {
		if q := w.spot(s.rounded(x), free); w.onFraming(q) {
			all = append(all, q)
		}
	}
	return all
}

// find is the best spot for the channel by itself.
func (k *seeker) find(ways []*way) (candidate, bool) {
	for _, step := range k.steps() {
		if c, ok := pick(k.candidates(ways, step)); ok {
			c = c.refine(step / 2)
			return c, c.passes()
		}
	}
	return candidate{}, false
}

// fine is the least step on a wall, metres.
const fine = 0.02

// steps are how fine the search goes, in metres: first coarse, and fine where nothing was found.
func (k *seeker) steps() []float64 {
	if k.stands {
		return []float64{0.2, 0.05}
	}
	return []float64{0.08, fine}
}

func kilograms(mass float64) string { return fmt.Sprintf("%.1f kg", mass) }

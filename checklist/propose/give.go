package propose

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"hangtrue/checklist/plan"
	"hangtrue/compute/place"
	"hangtrue/compute/tape"
)

// cannot says why a channel has no spot, and what would have to give.
func (k *seeker) cannot() (why, give []string) {
	if partner, placed := k.s.sights[k.at.Pair]; placed && !k.at.LFE {
		if own, ok := k.find(k.ways); ok {
			return k.unmatched(own, partner)
		}
	}
	for _, would := range []func() (string, bool){k.wouldFrame, k.wouldTurn, k.wouldBeOutside, k.wouldStand, k.wouldCrowd} {
		if says, ok := would(); ok {
			give = append(give, says)
		}
	}
	if len(give) == 0 {
		give = []string{"More than one thing would have to give: another seat, another layout, or other gear."}
	}
	return k.inTheWay(), give
}

// unlike is the case of two loudspeakers that each have spots, but none that mirrors one of the other's.
func (s *search) unlike(one, two *seeker) (why, give []string) {
	t := s.p.Tolerances
	why = []string{fmt.Sprintf("%s and %s have spots, but none of one mirrors one of the other within %s and %s.",
		one.at.Label, two.at.Label, angleText(t.PairAzimuth), s.small(t.PairHeight))}
	if p, ok := s.boarded(one, two); ok {
		give = append(give, fmt.Sprintf("With backing boards behind the lining %s could be at %s and %s at %s.", one.at.Label, one.whereText(&p.one), two.at.Label, two.whereText(&p.two)))
	}
	p, ok := s.loosened(one, two)
	if !ok {
		return why, append(give, "The two would have to differ by far more than the plan's tolerances for pairs: another seat, or other gear.")
	}
	d := place.PairDeviation(p.one.sight, p.two.sight)
	return why, append(give, fmt.Sprintf("With %s at %s and %s at %s they would be %s from mirroring each other and %s apart in height: the plan's tolerances for pairs would have to be that wide.",
		one.at.Label, one.whereText(&p.one), two.at.Label, two.whereText(&p.two), angleText(math.Max(math.Abs(d.Azimuth), math.Abs(d.Elevation))), s.small(d.Height)))
}

// boarded is the pair that backing boards across the framing would make, where a framing is in the way.
func (s *search) boarded(one, two *seeker) (both, bool) {
	framed := func(w *way) bool { return w.framed }
	if !slices.ContainsFunc(one.ways, framed) && !slices.ContainsFunc(two.ways, framed) {
		return both{}, false
	}
	a, b := *one, *two
	a.ways, _ = one.allWays(framing)
	b.ways, _ = two.allWays(framing)
	return s.pair(&a, &b, one.steps()[:1])
}

// unmatched is the case of a loudspeaker whose partner stays where it is, and which finds no spot that mirrors that.
func (k *seeker) unmatched(own candidate, partner place.Sight) (why, give []string) {
	t := k.s.p.Tolerances
	d := place.PairDeviation(own.sight, partner)
	why = []string{fmt.Sprintf("By itself it could be at %s, but no spot of it mirrors %s within %s and %s.",
		k.whereText(&own), k.at.Pair, angleText(t.PairAzimuth), k.s.small(t.PairHeight))}
	return why, []string{fmt.Sprintf("There the pair would be %s from mirroring and %s apart in height. Move %s, or widen the plan's tolerances for pairs.",
		angleText(math.Max(math.Abs(d.Azimuth), math.Abs(d.Elevation))), k.s.small(d.Height), k.at.Pair)}
}

// inTheWay says for each side that the permitted directions come to what is in the way there.
func (k *seeker) inTheWay() (why []string) {
	if k.stands {
		return []string{k.noFloor()}
	}
	counts := map[*side]map[string]int{}
	for i := range k.s.sides {
		if side := &k.s.sides[i]; k.met(side) > 0 {
			counts[side] = map[string]int{}
		}
	}
	// A way is looked over in steps of 50 mm: enough to tell what is mostly in the way.
	for _, w := range k.ways {
		seen := counts[w.side]
		if seen == nil {
			continue
		}
		for a := w.low.Along; a <= w.high.Along; a += 0.05 {
			for u := w.low.Up; u <= w.high.Up; u += 0.05 {
				f, bad := w.fault(place.Spot{Along: a, Up: u})
				switch {
				case !bad && w.says != "":
					seen["what is behind does not carry it ("+strings.TrimSuffix(w.says, ".")+")"]++
				case bad && f.kind == unframed:
					seen["no spot has its screws on a "+w.side.member()]++
				case bad && f.kind != outsideSector && f.kind != beyond:
					f.angle = 0 // one reason for all angles
					seen[f.String()]++
				}
			}
		}
	}
	for i := range k.s.sides {
		side := &k.s.sides[i]
		seen, met := counts[side]
		switch {
		case !met:
			continue
		case side.style == onFloor:
			why = append(why, "The floor: what stands there cannot be as high as that.")
			if k.at.ElMin < 0 {
				why[len(why)-1] = "The floor: what hangs on a bracket does not stand there."
			}
			continue
		case k.barred[side] != "":
			why = append(why, sentence(side.title+": "+k.barred[side]))
			continue
		case len(seen) == 0:
			continue
		}
		text := mostly(seen)
		if delete(seen, text); len(seen) > 0 {
			text += ", or else " + mostly(seen)
		}
		why = append(why, sentence(side.title+": "+text))
	}
	if len(why) == 0 {
		why = []string{"No surface that it could hang on lies where the layout permits it: " + k.permittedText() + "."}
	}
	return why
}

// mostly is the reason that was seen most often; of several the first in the alphabet.
func mostly(seen map[string]int) (text string) {
	for s, n := range seen {
		if most := seen[text]; n > most || n == most && s < text {
			text = s
		}
	}
	return text
}

func (k *seeker) permittedText() string {
	var bands []string
	for _, b := range k.at.Bands {
		bands = append(bands, k.permittedAzimuth(b.From+arcWidth(b)/2))
	}
	return strings.Join(bands, " or ") + "; " + k.permittedElevation()
}

func (k *seeker) noFloor() string {
	if k.group == Height {
		return "It has no bracket, so it stands on the floor, and the layout wants it high up: " + k.permittedText() + "."
	}
	return "It has no bracket, so it stands on the floor, and no spot of the floor is both free and where the layout permits it: " + k.permittedText() + "."
}

// met counts how many of the permitted directions first come to a side.
func (k *seeker) met(side *side) int {
	n := 0
	for _, x := range k.sectors {
		width := x.AzimuthMax - x.AzimuthMin
		if width < 0 {
			width += 2 * math.Pi
		}
		for i := 0; i <= 24; i++ {
			for e := 0; e <= 8; e++ {
				d := place.Direction{Azimuth: x.AzimuthMin + width*float64(i)/24, Elevation: x.ElevationMin + (x.ElevationMax-x.ElevationMin)*float64(e)/8}
				hit, ok := place.Meet(k.s.surfaces, k.s.listener.Ear, k.s.listener.Ray(d))
				if ok && &k.s.sides[hit.Surface] == side {
					n++
				}
			}
		}
	}
	return n
}

// without is the best spot with one rule waived.
func (k *seeker) without(rule waiver) (candidate, bool) {
	ways, _ := k.allWays(rule)
	c, ok := pick(k.candidates(ways, 0.08))
	if !ok {
		return c, false
	}
	return c.refine(0.04), true
}

// wouldFrame: with a board across the studs any spot will do.
func (k *seeker) wouldFrame() (string, bool) {
	if !slices.ContainsFunc(k.ways, func(w *way) bool { return w.framed }) {
		return "", false
	}
	c, ok := k.without(framing)
	if !ok || c.way.side.construction != plan.Studs {
		return "", false
	}
	cross, _ := c.way.across(c.hole)
	from, to := math.Inf(-1), math.Inf(1)
	for _, m := range c.way.members() {
		if m <= cross {
			from = math.Max(from, m)
		} else {
			to = math.Min(to, m)
		}
	}
	board := "A backing board behind the lining"
	if !math.IsInf(from, 0) && !math.IsInf(to, 0) {
		board = fmt.Sprintf("A backing board across the %ss at %s and %s", c.way.side.member(), tape.Format(from, k.s.system), tape.Format(to, k.s.system))
	}
	return fmt.Sprintf("%s would make a spot at %s.", board, k.whereText(&c)), true
}

func (k *seeker) whereText(c *candidate) string {
	return fmt.Sprintf("%s (%s, %s)", k.s.spotText(c.way.side, c.hole), angleText(c.sight.Azimuth), upText(c.sight.Elevation))
}

// wouldTurn: a bracket that turns further.
func (k *seeker) wouldTurn() (string, bool) {
	if k.stands {
		return "", false
	}
	c, ok := k.without(turning)
	if !ok || c.way.overTurned(c.pose) == 0 {
		return "", false
	}
	return fmt.Sprintf("A bracket that swings %s and tilts %s would do at %s; %s does not.", angleText(c.pose.Swing), angleText(c.pose.Tilt), k.whereText(&c), c.way.bracket.Name), true
}

// wouldBeOutside: the nearest spot that the layout does not permit.
func (k *seeker) wouldBeOutside() (string, bool) {
	if k.at.Anywhere() {
		return "", false
	}
	c, ok := k.without(directions)
	if !ok {
		return "", false
	}
	az, el := k.at.OutsideBy(c.sight.Direction)
	var by []string
	if math.Abs(az) >= told {
		by = append(by, angleText(math.Abs(az))+" to the side")
	}
	if math.Abs(el) >= told {
		word := " too high"
		if el < 0 {
			word = " too low"
		}
		by = append(by, angleText(math.Abs(el))+word)
	}
	if len(by) == 0 {
		return "", false
	}
	return fmt.Sprintf("The nearest spot, %s, is outside what the layout permits, by %s.", k.whereText(&c), strings.Join(by, " and ")), true
}

// wouldStand: on a stand instead of on a bracket.
func (k *seeker) wouldStand() (string, bool) {
	if k.stands || k.group == Height {
		return "", false
	}
	other := *k
	other.stands = true
	other.ways, other.barred = other.allWays(nothing)
	c, ok := other.find(other.ways)
	if !ok {
		return "", false
	}
	return fmt.Sprintf("On a stand that brings its middle to %s it could be at %s.", tape.Format(c.way.stand, k.s.system), k.whereText(&c)), true
}

// crowded is the best spot that another loudspeaker takes, and which one that is.
func (k *seeker) crowded() (c candidate, by string, ok bool) {
	if c, ok = k.without(neighbours); !ok {
		return c, "", false
	}
	c.way.waived = nothing
	f, free := c.clear()
	c.way.waived = neighbours
	if free {
		if f.name, ok = k.s.badGap(k.at.Label, c.sight); !ok {
			return c, "", false
		}
	}
	return c, f.name, true
}

// wouldCrowd: where another loudspeaker is already.
func (k *seeker) wouldCrowd() (string, bool) {
	c, by, ok := k.crowded()
	if !ok {
		return "", false
	}
	return fmt.Sprintf("It could be at %s if %s were elsewhere.", k.whereText(&c), by), true
}

package propose

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"hangtrue/compute/place"
	"hangtrue/compute/tape"
)

// told is the least angle (radians) that is told as a difference: what the words show.
const told = 0.15 * math.Pi / 180

// tooNear is how near to the ear point (metres) a loudspeaker is worth a word: this program's own choice.
const tooNear = 0.6

// whyThere says why a candidate is where it is. The cabinets of what was placed before it stand, its own and its partner's
// do not yet.
func (s *search) whyThere(c, partner *candidate) []string {
	if c.way.seek.at.Anywhere() {
		return []string{s.whyFront(c)}
	}
	return s.whyDirection(c, partner)
}

// whySo says what it meets there, how like its partner it is, and how it hangs.
func (s *search) whySo(c, partner *candidate) (why []string) {
	if c.way.framed {
		why = append(why, s.whyFraming(c))
	}
	if partner != nil {
		why = append(why, s.whyPair(c, partner)...)
	}
	switch {
	case c.way.bracket != nil:
		why = append(why, fmt.Sprintf("%s swings %s and tilts %s there, within its limits.", c.way.bracket.Name, angleText(c.pose.Swing), angleText(c.pose.Tilt)))
	case c.way.seek.group != LFE:
		why = append(why, fmt.Sprintf("It has no bracket: it stands, its middle %s above the floor.", tape.Format(c.way.stand, s.system)))
	}
	return why
}

// cautions are what to mind about a candidate.
func (s *search) cautions(c *candidate) (all []string) {
	k := c.way.seek
	if c.contact > leastContact {
		all = append(all, fmt.Sprintf("By its size the cabinet would be %s in %s when it is aimed, and no permitted spot was found where it would not be. See whether the bracket holds it out far enough.",
			s.small(c.contact), c.way.side.title))
	}
	if c.way.bracket != nil && (c.way.side.style == overhead || c.pose.Centre.Z-s.listener.Ear.Z > 0.5) {
		all = append(all, "It hangs overhead: the load check is a screening aid and no approval. Local codes and licensed people decide.")
	}
	if c.doorway != "" {
		all = append(all, fmt.Sprintf("It hangs where the leaf of the %s would turn if it opens into the room on that side. See which way it opens.", c.doorway))
	}
	if c.sight.Distance < tooNear && k.group != LFE {
		all = append(all, fmt.Sprintf("It is only %s from the ear.", tape.Format(c.sight.Distance, s.system)))
	}
	return all
}

// whyFront is the reason of a loudspeaker that the layout lets stand anywhere.
func (s *search) whyFront(c *candidate) string {
	side := "in the middle"
	switch az := c.sight.Azimuth; {
	case az > 3*math.Pi/180:
		side = "left of the middle"
	case az < -3*math.Pi/180:
		side = "right of the middle"
	}
	return fmt.Sprintf("The layout lets it stand anywhere. At %s it is at the front, %s, beside the front loudspeakers and in no door's way.", s.spotText(c.way.side, c.hole), side)
}

// whyDirection says where nominal is, what is in its way, and where the candidate is instead.
func (s *search) whyDirection(c *candidate, partner *candidate) (why []string) {
	k := c.way.seek
	nominal := k.at.Nominal()
	word := "Nominal"
	if !k.at.NominalSpecified {
		word = "The direction held for it, where the layout gives only ranges,"
	}
	begins := ""
	if elsewhere := s.whySide(c, partner, word); elsewhere != "" {
		why, begins = append(why, elsewhere), "At nominal, "
	}
	at := s.spotText(c.way.side, c.hole)
	offAz, offEl := k.at.Deviation(c.sight.Direction)
	turned, raised := math.Abs(offAz) >= told, math.Abs(offEl) >= told
	if !turned && !raised {
		return append(why, fmt.Sprintf("%s is %s: it is there, at %s.", word, directionText(nominal, true, true), at))
	}
	if begins == "" {
		begins = fmt.Sprintf("%s is %s; ", word, directionText(nominal, turned, raised))
	}
	var permitted []string
	if turned {
		permitted = append(permitted, k.permittedAzimuth(c.sight.Azimuth))
	}
	if raised {
		permitted = append(permitted, k.permittedElevation())
	}
	return append(why, fmt.Sprintf("%s%s, so %s, still permitted (%s). It is at %s.",
		begins, s.cause(c, partner), directionText(c.sight.Direction, turned, raised), strings.Join(permitted, "; "), at))
}

// whySide says why a candidate hangs on another side than where it is first thought of: where the nominal direction comes
// to, or overhead for a height loudspeaker. Empty where it hangs there.
func (s *search) whySide(c *candidate, partner *candidate, word string) string {
	k := c.way.seek
	if c.way.bracket == nil {
		return ""
	}
	nominal := k.at.Nominal()
	hit, ok := place.Meet(s.surfaces, s.listener.Ear, s.listener.Ray(nominal))
	if !ok {
		return ""
	}
	met := &s.sides[hit.Surface]
	if k.group == Height && c.way.side.style == onWall {
		if up, ok := place.Meet(s.surfaces, s.listener.Ear, place.Vec{Z: 1}); ok && s.sides[up.Surface].style == overhead {
			above := &s.sides[up.Surface]
			return fmt.Sprintf("Its place would be %s, but %s. So it goes high on %s, where the layout permits it as well.",
				above.title, s.whyNot(k, above, partner), c.way.side.title)
		}
	}
	if met == c.way.side {
		return ""
	}
	return fmt.Sprintf("%s, %s, comes to %s, but %s. So it goes on %s.",
		word, directionText(nominal, true, true), met.title, s.whyNot(k, met, partner), c.way.side.title)
}

// cause is what keeps a candidate from nominal.
func (s *search) cause(c *candidate, partner *candidate) string {
	k := c.way.seek
	if text, ok := c.way.inTheWay(c); ok {
		return text
	}
	spared := place.Between(k.wanted, k.at.Nominal()) > told
	if spared && place.Between(k.wanted, c.sight.Direction) < 4*told {
		return "that is the end of what is permitted, and the plan's tolerance is to fit in"
	}
	if partner != nil {
		if text, ok := partner.way.inTheWay(partner); ok {
			return fmt.Sprintf("it mirrors %s, and at nominal on that side %s", partner.way.seek.at.Label, text)
		}
	}
	if partner != nil {
		return "the pair is to be alike in height and direction"
	}
	return "the nearest spot that keeps everything is there"
}

// inTheWay is what stands against the wanted direction on the candidate's own side.
func (w *way) inTheWay(c *candidate) (string, bool) {
	k := w.seek
	if w.bracket == nil {
		return "", false // it may stand anywhere on the way there
	}
	hole, ok := w.toward(k.wanted)
	if !ok {
		return "it would not come to " + w.side.title, true
	}
	hole = place.Spot{Along: k.s.rounded(hole.Along), Up: k.s.rounded(hole.Up)}
	if f, bad := w.fault(hole); bad && f.kind != outsideSector {
		if f.kind == unframed {
			return "no " + w.side.member() + " is there", true
		}
		return f.String(), true
	}
	there, ok := w.at(hole)
	switch {
	case ok && there.contact > leastContact && c.contact <= leastContact:
		return fmt.Sprintf("its cabinet would be %s in %s there", k.s.small(there.contact), w.side.title), true
	case ok && there.doorway != "" && c.doorway == "":
		return "the " + there.doorway + " may open there", true
	case ok && !there.carries():
		return "what is behind does not carry it there", true
	}
	return "", false
}

// whyNot says why a side will not do.
func (s *search) whyNot(k *seeker, met *side, partner *candidate) string {
	if met.style == onFloor {
		return "that is the floor"
	}
	var ways []*way
	for _, w := range k.ways {
		if w.side == met {
			ways = append(ways, w)
		}
	}
	if len(ways) == 0 {
		if why := k.barred[met]; why != "" {
			return why
		}
		return "no bracket of the plan goes there"
	}
	c, ok := k.find(ways)
	switch {
	case !ok:
		text, bad := ways[0].inTheWay(&candidate{way: ways[0]})
		if !bad {
			text = ways[0].says
		}
		return text + ", and no other spot there will do"
	case c.contact > leastContact:
		return fmt.Sprintf("its cabinet would be %s in it", s.small(c.contact))
	case partner != nil:
		return "its partner finds no spot like it"
	}
	return "another surface comes nearer to what is wanted"
}

// whyFraming says which members the screws meet and how far that is from the spot for the wanted direction.
func (s *search) whyFraming(c *candidate) string {
	w := c.way
	var centres []string
	members := w.members()
	for _, h := range w.mount.Bracket.Pattern() {
		cross, _ := w.across(place.Spot{Along: c.hole.Along + h.Along, Up: c.hole.Up + h.Up})
		best, least := 0.0, math.Inf(1)
		for _, m := range members {
			if d := math.Abs(m - cross); d < least {
				best, least = m, d
			}
		}
		if text := tape.Format(best, s.system); !slices.Contains(centres, text) {
			centres = append(centres, text)
		}
	}
	word := "the " + w.side.member() + " at " + centres[0]
	if len(centres) > 1 {
		word = "the " + w.side.member() + "s at " + strings.Join(centres, " and ")
	}
	if hole, ok := w.toward(w.seek.wanted); ok {
		from, _ := w.across(place.Spot{Along: s.rounded(hole.Along), Up: s.rounded(hole.Up)})
		to, free := w.across(c.hole)
		near := w.side.Contains(hole) && math.Abs(from-to) < math.Max(w.side.Framing.Spacing, 0.1)
		if move := s.moveText(w.side, w.spot(from, free), w.spot(to, free)); near && move != "" {
			return fmt.Sprintf("Moved %s onto %s.", move, word)
		}
	}
	return "Its screws meet " + word + "."
}

// whyPair says how alike the two are, and what one gave up for that.
func (s *search) whyPair(c, partner *candidate) (why []string) {
	k := c.way.seek
	d := place.PairDeviation(c.sight, partner.sight)
	other := partner.way.seek.at.Label
	alike := fmt.Sprintf("It mirrors %s to %s in direction and %s in height.", other, angleText(math.Abs(d.Azimuth)), s.small(d.Height))
	if d.Height = math.Round(d.Height*1000) / 1000; d.Height == 0 && math.Abs(d.Azimuth) < told {
		alike = "It mirrors " + other + " at the same height."
	}
	if place.Between(k.wanted, c.sight.Direction) < 2*told {
		return append(why, alike)
	}
	own, ok := k.find([]*way{c.way})
	if !ok {
		return append(why, alike)
	}
	higher, turned := c.sight.Height-own.sight.Height, place.Wrap(c.sight.Azimuth-own.sight.Azimuth)
	if math.Abs(higher) >= 0.003 {
		word := "higher"
		if higher < 0 {
			word = "lower"
		}
		why = append(why, fmt.Sprintf("%s %s than it would be by itself, to be as high as %s.", s.small(higher), word, other))
	}
	if _, blocked := c.way.inTheWay(c); blocked && math.Abs(turned) >= 2*told { // else that is said already
		why = append(why, fmt.Sprintf("By itself it would be at %s; it is turned to mirror %s.", angleText(own.sight.Azimuth), other))
	}
	return append(why, alike)
}

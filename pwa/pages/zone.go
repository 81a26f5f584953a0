package pages

import (
	"fmt"
	"math"
	"strings"

	"hangtrue/checklist"
	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/compute/place"
	"hangtrue/compute/tape"
	"hangtrue/pwa/drawing"
	. "hangtrue/pwa/markup"
	"hangtrue/pwa/words"
)

// zoned are the pages that show where else a hole may go: a mount's own, and the
// steps at which it can still be moved.
var zoned = map[string]bool{"": true, "mark": true, "studs": true}

// elsewhere is where a mount's reference hole may go, worked out for one page.
type elsewhere struct {
	zone    *place.Zone
	outline place.Outline
	fit     place.Fit
	others  []place.Fitting // those of fit that are not the plan's own spot
}

const (
	// sameSpot is how near to the plan's hole, in metres, another spot is the same: what a pencil marks.
	sameSpot = 0.001
	// mostOthers is how many further spots are shown, the nearest first.
	mostOthers = 3
)

// Zones remembers the zone that was worked out last: a mount's page, what is typed on it
// and the page after that are drawn with the same one. The zero value remembers none. It
// is not safe for concurrent use.
type Zones struct {
	of   zoneOf
	last *elsewhere
}

// zoneOf is all that a zone follows from; a plan in force never changes.
type zoneOf struct {
	plan    *plan.Plan
	channel string
	found   uint64 // the bits of the stud's middle
}

// elsewhere gives the zone of a page; nil where none can be told.
func (v view) elsewhere(k checklist.Key) *elsewhere {
	p := v.State.Plan()
	if p == nil || !zoned[k.Step] || p.MountByChannel(k.Mount) == nil {
		return nil
	}
	m, found := p.MountByChannel(k.Mount), v.foundMiddle(k.Mount)
	if v.Zones == nil {
		return elsewhereOf(p, m, found)
	}
	if of := (zoneOf{p, k.Mount, math.Float64bits(found)}); v.Zones.of != of {
		v.Zones.of, v.Zones.last = of, elsewhereOf(p, m, found)
	}
	return v.Zones.last
}

// elsewhereOf works the zone out.
func elsewhereOf(p *plan.Plan, m *plan.Mount, found float64) *elsewhere {
	zone, err := judge.Zone(p, m.Channel)
	if err != nil {
		return nil
	}
	e := &elsewhere{zone: zone}
	if e.outline, err = zone.Outline(); err != nil {
		e.outline = nil // what a spot says of itself is right nevertheless
	}
	if m.Bracket == "" {
		return e // what stands needs no framing
	}
	if e.fit, err = judge.Spots(p, m.Channel, found); err != nil {
		return e
	}
	for _, f := range e.fit.Fittings {
		if math.Hypot(f.Along, f.Up) > sameSpot && len(e.others) < mostOthers {
			e.others = append(e.others, f)
		}
	}
	return e
}

// foundMiddle is the middle of the stud as it was found on site, NaN until then.
func (v view) foundMiddle(channel string) float64 {
	if e := v.State.Evidence(checklist.Key{Step: "studs", Mount: channel}); e != nil && len(e.Recording.Measured["centre_um"]) > 0 {
		return mean(e.Recording.Measured["centre_um"])
	}
	return math.NaN()
}

// found are the middles of studs that were found on site behind a surface.
func (v view) found(surface string) []float64 {
	var all []float64
	for _, m := range v.State.Plan().Mounts {
		if x := v.foundMiddle(m.Channel); m.Surface == surface && !math.IsNaN(x) {
			all = append(all, x)
		}
	}
	return all
}

// draw hands the zone to a drawing.
func (e *elsewhere) draw(w *drawing.Wall) {
	if e == nil {
		return
	}
	w.Zone = e.outline
	for _, f := range e.others {
		w.Others = append(w.Others, f.Spot)
	}
}

// whereElse says where else a hole may go, and what binds where it is.
func (v view) whereElse(channel string) Node {
	e := v.zone
	if e == nil {
		return nil
	}
	m := v.State.Plan().MountByChannel(channel)
	return El("details", Flag("open", len(e.fit.Offers) > 0), El("summary", Text("Where else it may go")),
		v.binds(e, m), v.others(e, m), v.offers(e, m))
}

// binds says which limit is nearest at the measured spot, or the planned one, and
// how much is left.
func (v view) binds(e *elsewhere, m *plan.Mount) Node {
	at, what := place.Spot{Along: m.Along, Up: m.Up}, "From where it is planned"
	if s := v.asBuilt(m.Channel); s != nil {
		at, what = place.Spot{Along: s.Along, Up: s.Up}, "From where it was measured"
	}
	b := e.zone.Binding(at)
	rule, left := v.ruleWords(b, m), tape.FormatSmall(math.Abs(b.Distance), v.system())
	way := v.way(m.Surface, b.Along, b.Up)
	if way == "" {
		way = left + " away" // no move on the surface reaches it, or none that a tape shows
	}
	if b.Distance < 0 {
		return El("p", verdictWord("outside", "outside"), Text(fmt.Sprintf(" %s what binds is %s: %s to be inside.", what, rule, way)))
	}
	return El("p", Text(fmt.Sprintf("%s what binds first is %s: %s.", what, rule, way)))
}

// ruleWords names what a constraint keeps, with what the plan calls it.
func (v view) ruleWords(b place.Binding, m *plan.Mount) string {
	switch b.Rule {
	case place.PermittedDirection:
		return fmt.Sprintf("the %s that the layout permits", b.Quantity)
	case place.PlannedDirection:
		return fmt.Sprintf("the plan's tolerance of %s", b.Quantity)
	case place.PairSymmetry:
		return fmt.Sprintf("the mirror image of its partner in %s", b.Quantity)
	case place.CentreHeight:
		return "the height limit"
	case place.BracketSwing:
		return "the bracket's swing"
	case place.BracketTilt:
		return "the bracket's tilt"
	case place.SurfaceEdge:
		return "the distance to the edge of the " + surfaceName(m.Surface)
	case place.SurfaceOpening, place.SurfaceKeepOut:
		return "the distance to the " + b.Name
	case place.FramingMember:
		return "what is behind the lining"
	}
	return b.Rule.String()
}

// others lists the nearest other spots on framing and what moving there does.
func (v view) others(e *elsewhere, m *plan.Mount) Node {
	if m.Bracket == "" {
		return nil
	}
	if len(e.others) == 0 {
		switch {
		case len(e.fit.Fittings) == 0:
			return nil
		case v.holdsAnywhere(m):
			return El("p", Text("What is behind holds anywhere: any spot in the shaded zone will do."))
		}
		return El("p", Text("No other spot in the shaded zone meets a stud."))
	}
	return Group(
		El("ol", class("others"), Each(e.others, func(f place.Fitting) Node { return El("li", v.otherSays(f, m)) })),
		El("p", class("quiet"), Text("Off the plan's spot a lead revises the plan, or leaves it off plan with a reason.")))
}

func (v view) holdsAnywhere(m *plan.Mount) bool {
	placed, err := v.State.Plan().PlaceMount(m.Channel)
	return err == nil && (placed.Surface.Framing.Kind == place.Masonry || placed.Surface.Framing.Kind == place.Concrete)
}

func (v view) otherSays(f place.Fitting, m *plan.Mount) Node {
	says := El("strong", Text(v.spotText(f.Spot, m.Surface)))
	move := ": " + v.way(m.Surface, f.Along, f.Up) + " from the plan's."
	at, ok := v.seenFrom(m, f.Spot)
	if !ok {
		return Group(says, Text(move))
	}
	return Group(says, Text(move), El("span", class("from"), Text(fmt.Sprintf("The direction turns by %s: azimuth %s, elevation %s.", words.Degrees(f.Angle), words.Degrees(at.Azimuth), words.Degrees(at.Elevation)))))
}

func (v view) spotText(s place.Spot, surface string) string {
	return fmt.Sprintf("%s along, %s %s", tape.Format(s.Along, v.system()), tape.Format(s.Up, v.system()), v.State.Plan().UpWord(surface))
}

// seenFrom is how the main seat would see the loudspeaker with its hole at a spot.
func (v view) seenFrom(m *plan.Mount, spot place.Spot) (place.Sight, bool) {
	p := v.State.Plan()
	mount, err := p.PlaceMount(m.Channel)
	if err != nil {
		return place.Sight{}, false
	}
	mount.Hole = spot
	aimed, err := p.Listener(m.AimAt)
	if err != nil {
		return place.Sight{}, false
	}
	primary, err := p.Listener("")
	if err != nil {
		return place.Sight{}, false
	}
	pose, err := place.Aim(mount, aimed.Ear)
	if err != nil {
		return place.Sight{}, false
	}
	return primary.See(pose.Centre), true
}

// offers say in plain words what would make a spot possible where there is none.
func (v view) offers(e *elsewhere, m *plan.Mount) Node {
	if len(e.fit.Offers) == 0 {
		return nil
	}
	return Group(El("p", Text("No spot in the shaded zone meets a stud. What would help:")),
		El("ul", Each(e.fit.Offers, func(o place.Offer) Node { return El("li", Text(v.offerSays(o, m))) })))
}

func (v view) offerSays(o place.Offer, m *plan.Mount) string {
	at := "at " + v.spotText(o.Spot, m.Surface)
	length := func(x float64) string { return tape.Format(x, v.system()) }
	switch o.Remedy {
	case place.BackingBoard:
		return fmt.Sprintf("A backing board across the two studs at %s and %s, so that the hole can go %s.", length(o.From), length(o.To), at)
	case place.OtherPattern:
		more := "more"
		if o.Offset < 0 {
			more = "less"
		}
		way := "along"
		if placed, err := v.State.Plan().PlaceMount(m.Channel); err == nil && placed.Surface.Framing.Across {
			way = v.State.Plan().UpWord(m.Surface)
		}
		return fmt.Sprintf("A bracket with a hole %s %s %s than the reference hole, or a plate between, with the hole %s.",
			tape.FormatSmall(math.Abs(o.Offset), v.system()), more, way, at)
	}
	var breaks []string
	for _, b := range o.Breaks {
		breaks = append(breaks, v.ruleWords(b, m)+" by "+tape.FormatSmall(math.Abs(b.Distance), v.system()))
	}
	return fmt.Sprintf("A wider tolerance: %s, where the direction turns by %s and these are not kept: %s.", at, words.Degrees(o.Angle), strings.Join(breaks, "; "))
}

// way says a move on a surface as a tape shows it. Facing a wall it goes left and
// right, up and down; elsewhere towards what lies on that side.
func (v view) way(surface string, dAlong, dUp float64) string {
	sides := drawing.SidesOf(v.State.Plan(), surface)
	right, left, up, down := "right", "left", "up", "down"
	if sides.Below != "floor" {
		right, left, up, down = towards(sides.Right, "further along"), towards(sides.Left, "back along"),
			towards(sides.Above, "further from the datum edge"), towards(sides.Below, "nearer to the datum edge")
	}
	var parts []string
	for _, p := range []struct {
		by          float64
		more, other string
	}{{dAlong, right, left}, {dUp, up, down}} {
		switch {
		case p.by >= leastMove:
			parts = append(parts, tape.FormatSmall(p.by, v.system())+" "+p.more)
		case p.by <= -leastMove:
			parts = append(parts, tape.FormatSmall(-p.by, v.system())+" "+p.other)
		}
	}
	return strings.Join(parts, ", ")
}

// leastMove is the least that a tape shows, in metres.
const leastMove = 0.0005

func towards(side, other string) string {
	if side == "" {
		return other
	}
	return "towards the " + side
}

// seats are the directions in which the other listening positions see a mount, and
// what the layout permits the main one.
func (v view) seats(channel string) Node {
	p := v.State.Plan()
	zones, _, err := judge.Zones(p, channel)
	if err != nil || len(zones) < 2 {
		return nil
	}
	return Group(El("h2", Text("From every seat")),
		El("div", class("cards"), Each(zones, func(z judge.SeatZone) Node {
			s, err := p.Sight(channel, z.Seat)
			if err != nil {
				return nil
			}
			title, holds := z.Seat, verdictWord("within", "within what the layout permits")
			if l := p.Position(z.Seat); l != nil && l.Primary {
				title, holds = title+", the primary one", verdictWord("within", "within all limits")
			}
			if !z.Holds {
				holds = verdictWord("outside", capital(v.ruleWords(z.Binds, p.MountByChannel(channel)))+" is not kept")
			}
			return El("section", class("card"), El("h3", Text(title)), facts([]fact{
				{"Azimuth", Text(words.Degrees(s.Azimuth))}, {"Elevation", Text(words.Degrees(s.Elevation))}, {"Distance", Text(tape.Format(s.Distance, v.system()))},
			}), El("p", holds))
		})),
		v.permitted(channel))
}

// permitted is what the layout permits a channel's direction to be.
func (v view) permitted(channel string) Node {
	l := v.State.Plan().Loudspeakers()
	if l == nil {
		return nil
	}
	position, ok := l.Loudspeaker(channel)
	if !ok || position.Anywhere() {
		return nil
	}
	span := func(from, to float64) string {
		if from == to {
			return words.Degrees(from)
		}
		return words.Degrees(from) + " to " + words.Degrees(to)
	}
	var bands []string
	for _, b := range position.Bands {
		if b.AnyAzimuth() {
			bands = append(bands, "any")
			continue
		}
		bands = append(bands, span(b.From, b.To))
	}
	elevation := position.ElevationRange()
	return facts([]fact{
		{"Azimuth permitted", Text(strings.Join(bands, ", or "))}, {"Elevation permitted", Text(span(elevation.From, elevation.To))},
		{"By", Text(position.Edition + ", for the reference position")},
	})
}

package table

import (
	"fmt"
	"math"
	"strings"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/workings"
	"hangtrue/compute/gauge"
	"hangtrue/compute/place"
	"hangtrue/compute/tape"
	"hangtrue/pwa/drawing"
	. "hangtrue/pwa/markup"
	"hangtrue/pwa/words"
)

// drawMount shows the surface that carries a mount, where else its hole may go, and
// lets it be moved.
func drawMount(p *plan.Plan, channel string) Node {
	m := p.MountByChannel(channel)
	if m == nil {
		return nil
	}
	w := drawing.Wall{Plan: p, Surface: m.Surface, Channel: channel, Handles: true}
	if zone, err := judge.Zone(p, channel); err == nil {
		if outline, err := zone.Outline(); err == nil {
			w.Zone = outline
		}
	}
	wall, ok := w.SVG()
	if !ok {
		return nil
	}
	return Group(
		El("figure", wall, El("figcaption", class("quiet"), Text("Move the mark with a finger or the mouse, or type. The shaded part is where every limit is kept."))),
		fromAbove(drawing.PlanView{Plan: p, Channel: channel, Handles: true}))
}

// movedMount is where a mount's hole goes when its acoustic centre is moved to a place
// in the room, at its height: as far as its surface lets it.
func movedMount(p *plan.Plan, channel string, x, y float64) map[string]float64 {
	m := p.MountByChannel(channel)
	placed, err := p.PlaceMount(channel)
	if err != nil {
		return nil
	}
	pose, err := p.Pose(channel)
	if err != nil {
		return nil
	}
	by := place.Vec{X: x - pose.Centre.X, Y: y - pose.Centre.Y}
	return map[string]float64{
		"along_m": millimetre(m.Along + by.Dot(placed.Surface.Along)),
		"up_m":    millimetre(m.Up + by.Dot(placed.Surface.Up)),
	}
}

// millimetre rounds what a finger points at.
func millimetre(x float64) float64 { return math.Round(x*1000) / 1000 }

// mountSays tells how every listening position sees a mount, and what is not as the
// plan's limits want it.
func mountSays(p *plan.Plan, channel string) Node {
	m := p.MountByChannel(channel)
	if m == nil {
		return El("p", class("quiet"), Text("Say on which surface it goes and where: then its angles from every listening position stand here."))
	}
	zones, _, err := judge.Zones(p, channel)
	if err != nil {
		return El("p", class("quiet"), Text("Its angles cannot be told yet: something it rests on is missing."))
	}
	return Group(
		El("h2", Text("From every listening position")),
		El("ul", class("plainly"), Each(zones, func(z judge.SeatZone) Node { return seat(p, channel, z) })),
		aside(p, channel))
}

func seat(p *plan.Plan, channel string, z judge.SeatZone) Node {
	s, err := p.Sight(channel, z.Seat)
	if err != nil {
		return nil
	}
	verdict, sign, says := "within", "✓", "within all limits"
	if !z.Holds {
		verdict, sign, says = "outside", "✕", judge.BindingWords(z.Binds)+" is not kept"
	}
	return El("li", El("strong", Text(z.Seat)), Text(fmt.Sprintf(": azimuth %s, elevation %s, %s away. ", words.Degrees(s.Azimuth), words.Degrees(s.Elevation), tape.Format(s.Distance, p.Units.System()))),
		El("span", class("chip "+verdict), El("span", class("sign"), Attr("aria-hidden", "true"), Text(sign)), Text(" "+says)))
}

// finding says what a check found: in its own words, or its value and what is wanted.
func finding(c judge.Check, s tape.System) string {
	if c.Says != "" {
		return c.Says
	}
	show := func(x float64) string {
		switch c.Unit {
		case judge.Radian:
			return words.Degrees(x)
		case judge.Metre:
			return tape.Format(x, s)
		}
		return strings.TrimSpace(plain(x) + " " + string(c.Unit))
	}
	says := show(c.Measured)
	switch low, high := !math.IsInf(c.Low, 0), !math.IsInf(c.High, 0); {
	case low && high:
		says += ", wanted " + show(c.Low) + " to " + show(c.High)
	case low:
		says += ", wanted at least " + show(c.Low)
	case high:
		says += ", wanted at most " + show(c.High)
	}
	return says + "."
}

// aside lists the checks of a mount that are not within.
func aside(p *plan.Plan, channel string) Node {
	if p.Problems().Err() != nil {
		return nil // checks of a whole plan need a whole plan
	}
	var items []Node
	for _, c := range append(judge.WholePlan(p), workings.Checks(p)...) {
		if c.Subject != channel || c.Verdict == gauge.Within {
			continue
		}
		items = append(items, El("li", El("strong", Text(c.Title)), Text(": "+finding(c, p.Units.System()))))
	}
	if len(items) == 0 {
		return nil
	}
	return Group(El("h2", Text("To look at")), El("ul", Group(items...)))
}

package judge

import (
	"fmt"
	"math"

	"hangtrue/checklist/plan"
	"hangtrue/compute/gauge"
	"hangtrue/compute/place"
	"hangtrue/compute/tape"
)

// behindWords are what a person answers, in the plan's words for a construction.
var behindWords = map[string]string{"stud": plan.Studs, "masonry": plan.Masonry, "concrete": plan.Concrete, "board": "nothing but board"}

// studsBehind: board alone never carries a hung loudspeaker, and the fixing suits
// what it goes into.
func studsBehind(c Case) []Check {
	behind := c.Chosen["behind"]
	if behind == "" {
		return nil
	}
	word, known := behindWords[behind]
	if !known {
		return []Check{barred(condition("studs.behind", "Behind the mark", false, "Say what is behind the mark: a stud, masonry, concrete, or nothing but board."))}
	}
	holds := barred(condition("studs.behind", "Behind the mark", behind != "board",
		"Board alone never carries a hung loudspeaker. Find a stud, fit a backing board across two of them, or move the mount."))
	checks := []Check{holds}
	s := c.surface()
	if s != nil && behind != "board" && s.Construction.Kind != word {
		holds.Says = fmt.Sprintf("The plan says %s here. Take the fixing for what you found, and tell the lead.", s.Construction.Kind)
		checks[0] = holds
	}
	if f := c.Plan.Fixing(c.Chosen["fixing"]); f != nil && behind != "board" {
		suits := (f.Kind == plan.Rated && f.Base == word) || (f.Kind != plan.Rated && behind == "stud")
		checks = append(checks, barred(condition("studs.behind fixing", "Fixing suits it", suits,
			fmt.Sprintf("%s is not made for %s.", f.Name, word))))
	}
	return checks
}

// surface is the plan's surface of the case's mount; nil for a side of a box that
// the plan says nothing about.
func (c Case) surface() *plan.Surface {
	for i := range c.Plan.Room.Surfaces {
		if c.Plan.Room.Surfaces[i].Name == c.Mount.Surface {
			return &c.Plan.Room.Surfaces[i]
		}
	}
	return nil
}

// marked is the reference hole as the mark step recorded it.
func (c Case) marked() (spot, bool) {
	e, ok := c.Prior("mark", c.Mount.Channel)
	if !ok {
		return spot{}, false
	}
	c.Measured, c.Chosen = e.Measured, e.Chosen
	return c.hole()
}

// holes are where the bracket's screws go when its reference hole is at the mark.
func (c Case) holes(at spot) []place.Spot {
	m, err := c.placed(c.Mount.Channel)
	if err != nil {
		return nil
	}
	var out []place.Spot
	for _, h := range m.Bracket.Pattern() {
		out = append(out, place.Spot{Along: at.along.Value + h.Along, Up: at.up.Value + h.Up})
	}
	return out
}

// studsHoles: every hole lies within the stud by its edge distance. The margin
// either side of the stud's middle is [centring].
func studsHoles(c Case) []Check {
	if c.Chosen["behind"] != "stud" {
		return nil
	}
	at, ok := c.marked()
	f := c.Plan.Fixing(c.Chosen["fixing"])
	s := c.surface()
	if !ok || f == nil || s == nil {
		return nil
	}
	centre, ok := c.read("centre_um", "tape")
	switch {
	case !ok && len(c.Measured["centre_um"]) > 0:
		return c.unread("studs.holes", "Holes off the stud's middle", "centre_um", "tape")
	case !ok:
		return []Check{unsure("studs.holes", "Holes off the stud's middle", "Nothing tells where the middle of the stud is.",
			"find both edges of the stud, and give the point halfway between them")}
	}
	width := s.Construction.Width
	margin, source, err := centring(f, width)
	if err != nil || width <= 0 {
		return nil
	}
	worst, mine := 0.0, at.along
	for _, h := range c.holes(at) {
		off := h.Along - centre.Value
		if s.Construction.Across {
			off, mine = h.Up-centre.Value, at.up
		}
		if math.Abs(off) >= math.Abs(worst) {
			worst = off
		}
	}
	u, err := gauge.Propagate([]float64{1, -1}, []gauge.Component{mine.Uncertainty.As("the mark", byTape), centre.Uncertainty.As("the stud's middle", byTape)})
	if err != nil {
		return nil
	}
	if margin <= 0 {
		return []Check{barred(condition("studs.holes", "Holes in the stud", false,
			fmt.Sprintf("A stud of %s is too narrow for this fixing. Take a thinner one, or a wider backing.", tape.FormatSmall(width, c.system()))))}
	}
	check := c.evaluate("studs.holes", "Holes off the stud's middle", Metre, gauge.Measured{Value: worst, Uncertainty: u}, gauge.Around(0, margin), source)
	if check.Verdict != gauge.Within {
		by := [2]float64{-worst, 0}
		if s.Construction.Across {
			by = [2]float64{0, -worst}
		}
		if way := c.moves(by[0], by[1]); way != "" {
			check.Correction = "the middle of the stud lies " + way
		}
	}
	return []Check{check}
}

// studsKeepOut: every hole is clear of known pipes and cables, openings and edges.
func studsKeepOut(c Case) []Check {
	at, ok := c.marked()
	if !ok {
		return nil
	}
	return c.clear("studs.keep_out", c.holes(at), c.Plan.Tolerances.EdgeClearance, at)
}

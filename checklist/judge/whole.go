package judge

import (
	"fmt"
	"math"

	"hangtrue/checklist/plan"
	"hangtrue/compute/gauge"
	"hangtrue/compute/layout"
)

// WholePlan judges a plan before anything is measured: every mount's direction
// against the layout, the bracket's limits, the holes' clearance, what carries it,
// its cable and its load; then pairs, gaps and the rack.
func WholePlan(p *plan.Plan) []Check { return wholePlan(p, newResolved()) }

func wholePlan(p *plan.Plan, resolved *resolved) []Check {
	checks := make([]Check, 0, 16*len(p.Mounts)+16) // about as many as there will be
	for i := range p.Mounts {
		c := planned(p, &p.Mounts[i])
		c.resolved = resolved
		for _, f := range []Func{planDirection, planBracket, planClear, planZone, planStuds, planBehind, studsBehind, studsLoad, wireLoss, bridgesLoad} {
			checks = append(checks, named(c, f)...)
		}
	}
	c := Case{Plan: p, Prior: noPrior, resolved: resolved}
	checks = append(checks, planTogether(c)...)
	return append(checks, planRack(c)...)
}

// Carried judges what a planned mount hangs on: that the fixing suits what is behind
// the surface, and that it and the bracket carry the loudspeaker. Empty for what
// stands, and where the plan does not say what is behind.
func Carried(p *plan.Plan, channel string) []Check {
	m := p.MountByChannel(channel)
	if m == nil {
		return nil
	}
	c := planned(p, m)
	c.resolved = newResolved()
	return append(named(c, studsBehind), named(c, studsLoad)...)
}

// AsBuilt judges measured positions against the plan, mount by mount.
func AsBuilt(p *plan.Plan, m *plan.Measured) []Check {
	recorded := make(map[string]Evidence, len(m.Mounts))
	for _, built := range m.Mounts {
		recorded[built.Channel] = hangEvidence(built)
	}
	prior := func(step, mount string) (Evidence, bool) {
		e, ok := recorded[mount]
		return e, ok && step == "hang"
	}
	checks := make([]Check, 0, 16*len(m.Mounts))
	resolved := newResolved()
	for _, built := range m.Mounts {
		e := recorded[built.Channel]
		c := Case{Plan: p, Mount: p.MountByChannel(built.Channel), Measured: e.Measured, Chosen: e.Chosen, Prior: prior, resolved: resolved}
		if c.Mount == nil {
			continue
		}
		for _, f := range []Func{hangSlip, builtSpot, hangAngles, hangHeight, hangDistance, hangPair, hangTilt} {
			checks = append(checks, named(c, f)...)
		}
	}
	return checks
}

// named runs a check function for a case and names the mount on what it found.
func named(c Case, f Func) []Check {
	found := f(c)
	for i := range found {
		if c.Mount != nil && found[i].Subject == "" {
			found[i].Subject = c.Mount.Channel
		}
	}
	return found
}

func noPrior(string, string) (Evidence, bool) { return Evidence{}, false }

// builtSpot holds the hole as it was built against the plan.
func builtSpot(c Case) []Check {
	checks := markSpot(c)
	if s, ok := c.hole(); ok {
		if at, err := c.see(c.Mount.Channel, s); err == nil && c.contradicted(at) {
			return inDoubt(checks)
		}
	}
	return checks
}

// planned is the case in which everything is done as the plan says.
func planned(p *plan.Plan, m *plan.Mount) Case {
	bridge := m.Bridge
	if bridge == "" {
		bridge = NoBridges
	}
	c := Case{
		Plan: p, Mount: m, Prior: noPrior,
		Measured: map[string][]int64{"run_um": {micrometres(m.Route)}},
		Chosen:   map[string]string{"cable": m.Cable, "setting": bridge, "fixing": m.Fixing, "found": "nothing", "looked": "detector"},
	}
	if m.Bracket != "" {
		if s := c.surface(); s != nil {
			for answer, kind := range behindWords {
				if kind == s.Construction.Kind {
					c.Chosen["behind"] = answer
				}
			}
		}
	}
	return c
}

// hangEvidence is a measured mount as the hang step would record it.
func hangEvidence(m plan.MeasuredMount) Evidence {
	e := Evidence{Measured: map[string][]int64{}, Chosen: map[string]string{"tape": m.Tape, "laser": m.Laser, "level": m.Level}}
	for key, values := range map[string][]float64{"along_um": m.Along, "up_um": m.Up, "height_um": m.Height, "distance_um": m.Distance} {
		for _, x := range values {
			e.Measured[key] = append(e.Measured[key], micrometres(x))
		}
	}
	for _, x := range m.Tilt {
		e.Measured["tilt_mdeg"] = append(e.Measured["tilt_mdeg"], int64(math.Round(x*180/math.Pi*1000)))
	}
	return e
}

// atPlan is the mount's hole exactly where the plan has it.
func (c Case) atPlan() spot { return spot{exact(c.Mount.Along), exact(c.Mount.Up)} }

// planDirection holds the planned direction against what the layout permits.
func planDirection(c Case) []Check {
	at, err := c.see(c.Mount.Channel, c.atPlan())
	if err != nil {
		return []Check{condition("plan.direction", "Direction", false, "This loudspeaker cannot be aimed at the ear point from there.")}
	}
	// A plan is what it says: the ear point's uncertainty belongs to what is measured.
	at.azimuth, at.elevation = exact(at.Azimuth), exact(at.Elevation)
	checks := c.permitted("plan.direction", at)
	return append(checks, c.aimed(at)...)
}

// aimed holds a direction that the layout gives as a single target against it,
// with the plan's own tolerance.
func (c Case) aimed(at seen) []Check {
	l := c.Plan.Loudspeakers()
	if l == nil {
		return nil
	}
	position, ok := l.Loudspeaker(c.Mount.Channel)
	if !ok || position.Anywhere() || !position.NominalSpecified {
		return nil
	}
	var checks []Check
	off, up := position.Deviation(layout.Direction(at.Direction))
	if len(position.Bands) == 1 && position.Bands[0].Target() {
		checks = append(checks, c.evaluate("plan.direction azimuth", "Azimuth", Radian, exact(position.Azimuth+off),
			gauge.Around(position.Azimuth, c.Plan.Tolerances.Azimuth), position.Edition+" gives one direction; the tolerance is the plan's own"))
	}
	if position.ElevationRange().Target() {
		checks = append(checks, c.evaluate("plan.direction elevation", "Elevation", Radian, exact(position.Elevation+up),
			gauge.Around(position.Elevation, c.Plan.Tolerances.Elevation), position.Edition+" gives one direction; the tolerance is the plan's own"))
	}
	return checks
}

// planBracket holds swing and tilt against the bracket's limits.
func planBracket(c Case) []Check {
	if c.Mount.Bracket == "" {
		return nil
	}
	pose, err := c.pose(c.Mount.Channel)
	b := c.Plan.Bracket(c.Mount.Bracket)
	if err != nil || b == nil {
		return nil
	}
	return []Check{
		c.evaluate("plan.bracket swing", "Bracket's swing", Radian, exact(pose.Swing), gauge.Interval(b.SwingMin, b.SwingMax), "the bracket's limits, as the plan states them"),
		c.evaluate("plan.bracket tilt", "Bracket's tilt", Radian, exact(pose.Tilt), gauge.Interval(b.TiltMin, b.TiltMax), "the bracket's limits, as the plan states them"),
	}
}

// planClear keeps the planned holes away from openings, keep-outs and edges.
func planClear(c Case) []Check {
	if c.Mount.Bracket == "" {
		return nil
	}
	return c.clear("plan.clear", c.holes(c.atPlan()), c.Plan.Tolerances.EdgeClearance, c.atPlan())
}

// planBehind asks for what is behind the lining where the plan does not say it:
// without that nothing tells what the mount hangs on.
func planBehind(c Case) []Check {
	if c.Mount.Bracket == "" || c.Chosen["behind"] != "" {
		return nil
	}
	return []Check{unsure("plan.behind", "Behind the mark", fmt.Sprintf("The plan does not say what is behind the surface %q, so that the load cannot be worked out.", c.Mount.Surface),
		"find out whether there are studs, masonry or concrete, and write it into the plan")}
}

// planTogether judges what concerns several mounts: pairs that mirror each other
// and the azimuth gaps of the layout.
func planTogether(c Case) []Check {
	p := c.Plan
	l := p.Loudspeakers()
	directions, err := c.allDirections()
	if l == nil || err != nil {
		return nil
	}
	found, err := l.Check(directions)
	if err != nil {
		return nil
	}
	var checks []Check
	for _, pair := range found.Pairs {
		both := pair.Labels[0] + " and " + pair.Labels[1]
		source := pair.Rule.Source.Edition + "; the tolerance is the plan's own"
		azimuth := c.evaluate("plan.pair azimuth", "Mirrored azimuth", Radian, exact(pair.Azimuth), gauge.Around(0, p.Tolerances.PairAzimuth), source)
		elevation := c.evaluate("plan.pair elevation", "Same elevation", Radian, exact(pair.Elevation), gauge.Around(0, p.Tolerances.PairAzimuth), source)
		azimuth.Subject, elevation.Subject = both, both
		checks = append(checks, azimuth, elevation)
	}
	for _, gap := range found.Gaps {
		source := gap.Rule.Source.Edition
		if !gap.Rule.Verified {
			source += "; read for another system, assumed for this one"
		}
		check := c.evaluate("plan.gap", "Azimuth between them", Radian, exact(gap.Gap), gauge.Interval(gap.Rule.Min, gap.Rule.Max), source)
		check.Subject = gap.Labels[0] + " and " + gap.Labels[1]
		checks = append(checks, check)
	}
	for _, label := range found.Missing {
		missing := condition("plan.missing", "Has a mount", false, fmt.Sprintf("%s asks for %s, and the plan has no mount for it.", p.Layout, label))
		missing.Subject = label
		checks = append(checks, missing)
	}
	return checks
}

package judge

import (
	"fmt"
	"math"

	"hangtrue/checklist/plan"
	"hangtrue/compute/gauge"
	"hangtrue/compute/place"
	"hangtrue/compute/tape"
)

// planZone tells how much room the planned hole has left in its zone, and what
// binds it there.
func planZone(c Case) []Check {
	own := c.fitted(c.Mount.Channel)
	if own.err != nil {
		return nil
	}
	z := own.zone
	binds := z.Binding(c.atPlan().place())
	check := c.evaluate("plan.zone", "Room left in the allowed zone", Metre, exact(math.Max(binds.Distance, -farOutside)), gauge.AtLeast(0),
		"everything at once: layout, plan tolerances, height, partner, bracket, openings, keep-outs and edges")
	check.Says = capital(BindingWords(binds)) + " binds."
	if check.Verdict != gauge.Within {
		if dAlong, dUp, ok := z.Correction(c.atPlan().place()); ok {
			check.Correction = c.moves(dAlong, dUp)
		} else {
			check.Says += " No spot on this surface keeps everything at once."
		}
	}
	return []Check{check}
}

// farOutside bounds how far outside its zone a hole is said to be: no wall is longer.
const farOutside = 1000

// fitted is the zone of a mount for the primary listening position, and where in
// it a hung one meets the framing.
func (c Case) fitted(channel string) (f fitted) {
	if c.resolved != nil {
		if f, ok := c.resolved.fits[channel]; ok {
			return f
		}
		defer func() { c.resolved.fits[channel] = f }()
	}
	var view place.View
	if view, f.err = c.primaryView(channel); f.err != nil {
		return f
	}
	if f.zone, f.err = c.zone(channel, view); f.err != nil || c.Plan.MountByChannel(channel).Bracket == "" {
		return f
	}
	var m place.Mount
	if m, f.err = c.placed(channel); f.err == nil {
		f.fit, f.err = f.zone.Fit(len(m.Bracket.Pattern()), framingMargin(c.Plan, channel, m.Surface.Framing.Width))
	}
	return f
}

// BindingWords say in plain words what binds a spot: "the pair's symmetry in
// height, from below".
func BindingWords(b place.Binding) string {
	words := b.Rule.String()
	if b.Name != "" && (b.Rule == place.SurfaceOpening || b.Rule == place.SurfaceKeepOut) {
		return "the distance to the " + b.Name
	}
	return "the limit of " + words
}

// planStuds tells whether the bracket's screws meet the framing where the plan has
// them, and else where they would.
func planStuds(c Case) []Check {
	s := c.surface()
	f := c.Plan.Fixing(c.Mount.Fixing)
	if c.Mount.Bracket == "" || s == nil || s.Construction.Kind != plan.Studs || f == nil || f.Kind == plan.Rated {
		return nil
	}
	own := c.fitted(c.Mount.Channel)
	if own.err != nil {
		return nil
	}
	fit := own.fit
	check := condition("plan.studs", "Screws in the framing", len(fit.Fittings) > 0 && fit.Fittings[0].Angle < sameDirection, "")
	if _, source, err := centring(f, s.Construction.Width); err == nil {
		check.Source = source
	}
	switch {
	case check.Verdict == gauge.Within:
	case len(fit.Fittings) > 0:
		near := fit.Fittings[0]
		check.Correction = c.moves(near.Along, near.Up)
		check.Says = fmt.Sprintf("Not on the framing here. The nearest spot that is, and stays in the zone, turns the direction by %s.", degreesOf(near.Angle))
	default:
		check.Says = "Not on the framing here, and no spot of the zone is. " + offerWords(c, fit.Offers)
	}
	return []Check{check}
}

// sameDirection is how far a spot may turn the direction (radians) and still count
// as the plan's own: a millimetre at two metres.
const sameDirection = 0.0005

func degreesOf(rad float64) string { return fmt.Sprintf("%.1f°", rad*180/math.Pi) }

// offerWords say what would make a spot.
func offerWords(c Case, offers []place.Offer) string {
	words := "A wider tolerance, another bracket or another surface is needed."
	for i := len(offers) - 1; i >= 0; i-- {
		switch o := offers[i]; o.Remedy {
		case place.BackingBoard:
			return fmt.Sprintf("A backing board across the members at %s and %s would make one.", tape.Format(o.From, c.system()), tape.Format(o.To, c.system()))
		case place.OtherPattern:
			words = fmt.Sprintf("A bracket with a hole %s from its reference hole would meet the framing.", tape.FormatSmall(math.Abs(o.Offset), c.system()))
		case place.WiderLimits:
			words = fmt.Sprintf("Turning the direction by %s would reach the framing.", degreesOf(o.Angle))
		}
	}
	return words
}

package judge

import (
	"fmt"
	"math"

	"hangtrue/compute/gauge"
	"hangtrue/compute/tape"
	"hangtrue/compute/wiring"
)

// passive tells whether an amplifier feeds this mount through loudspeaker cable.
func (c Case) passive() bool {
	model := c.Plan.Model(c.Mount.Model)
	return model != nil && !model.Active
}

// wireLoss holds the cable's loop resistance against the rated impedance.
func wireLoss(c Case) []Check {
	length := c.Measured["run_um"]
	if len(length) == 0 || c.Chosen["cable"] == "" || !c.passive() {
		return nil
	}
	a, err := c.Plan.AssessRun(c.Mount, c.Chosen["cable"], metres(length[0]), c.Mount.Bridge)
	if err != nil {
		return []Check{condition("wire.loss", "Cable", false, "This cable cannot be judged: "+plain(err)+".")}
	}
	limit := c.Plan.Tolerances.CableLoss / 100
	check := Check{
		Name: "wire.loss", Title: "Cable resistance of the load", Unit: Ratio, Measured: a.Fraction,
		Target: limit, Low: -inf, High: limit, Verdict: gauge.Within,
		Says:   fmt.Sprintf("%.2f dB lost; with this cable the run may be %s at most.", a.Loss, c.roughly(a.LongestRun)),
		Source: "the plan's own limit; 5 % is common practice, no standard", Figures: a.Figures,
	}
	if !a.WithinLimit {
		check.Verdict = gauge.Outside
		check.Correction = "a thicker cable, or a shorter way"
	}
	return []Check{check}
}

// roughly shows a length that nobody measures to the millimetre.
func (c Case) roughly(metres float64) string {
	if c.system() == tape.Imperial {
		return fmt.Sprintf("%.0f ft", math.Floor(metres/0.3048))
	}
	return fmt.Sprintf("%.1f m", math.Floor(metres*10)/10)
}

// bridgesSetting holds the links against the plan.
func bridgesSetting(c Case) []Check {
	planned := c.Mount.Bridge
	if planned == "" {
		planned = NoBridges
	}
	got := c.Chosen["setting"]
	if got == "" {
		return nil
	}
	return []Check{condition("bridges.setting", "Links", got == planned, fmt.Sprintf("Links as found: %s. Links as planned: %s.", got, planned))}
}

// bridgesLoad holds what the amplifier then sees against the least load it allows.
func bridgesLoad(c Case) []Check {
	setting := c.Chosen["setting"]
	amplifier := c.Plan.Amplifier(c.Mount.Amplifier)
	if setting == "" || amplifier == nil || !c.passive() {
		return nil
	}
	if setting == NoBridges {
		setting = ""
	}
	rated, least, ok := c.Plan.Model(c.Mount.Model).Load(setting)
	if !ok {
		return nil
	}
	check := Check{
		Name: "bridges.load", Title: "Load on the amplifier", Unit: Ohm, Measured: rated, Target: amplifier.LeastLoad,
		Low: amplifier.LeastLoad, High: inf, Verdict: gauge.Within, Source: "the amplifier's least load, as the plan states it",
	}
	carries, known, err := wiring.Source{LeastLoad: amplifier.LeastLoad}.Carries(rated)
	if err != nil || (known && !carries) {
		check.Verdict = gauge.Outside
		check.Says = "The amplifier is not made for so low a load. Open the links if there are any, or take an amplifier that is."
		check.Barred = true
	} else if least > 0 && least < wiring.RatingDip*rated {
		check.Says = fmt.Sprintf("The impedance dips to %.1f ohm, lower than a rating of %.0f ohm lets expect.", least, rated)
	}
	return []Check{check}
}

// bridgesMeter reads the ohmmeter: a short stops everything.
func bridgesMeter(c Case) []Check {
	reading := c.Measured["meter_mohm"]
	setting := c.Chosen["setting"]
	if len(reading) == 0 || setting == "" || !c.passive() {
		return nil
	}
	if setting == NoBridges {
		setting = ""
	}
	rated, _, ok := c.Plan.Model(c.Mount.Model).Load(setting)
	wired, have := c.Prior("wire", c.Mount.Channel)
	if !ok || !have || len(wired.Measured["run_um"]) == 0 {
		return nil
	}
	a, err := c.Plan.AssessRun(c.Mount, wired.Chosen["cable"], metres(wired.Measured["run_um"][0]), setting)
	if err != nil {
		return nil
	}
	coil, err := wiring.RatedCoil(rated)
	if err != nil {
		return nil
	}
	expected, err := wiring.ExpectReading(a.Loop, coil)
	if err != nil {
		return nil
	}
	ohms := float64(reading[0]) * 1e-3
	check := Check{
		Name: "bridges.meter", Title: "Ohmmeter", Unit: Ohm, Measured: ohms, Target: (expected.Low + expected.High) / 2,
		Low: expected.Low - wiring.MeterTolerance, High: expected.High + wiring.MeterTolerance, Verdict: gauge.Within,
		Source: "a coil of 0.70 to 0.85 of the rated impedance (common practice, no source) and the cable's loop",
	}
	what, err := wiring.JudgeReading(ohms, a.Loop, wiring.MeterTolerance, expected)
	switch {
	case err != nil:
		return nil
	case what.Stops():
		check.Verdict, check.Barred = gauge.Outside, true
		check.Says = "Short circuit. Connect nothing: look for a link between plus and minus, or a bare strand."
	case what == wiring.OpenCircuit:
		check.Verdict = gauge.Outside
		check.Says = "The meter finds no way through. Look for a loose end or a broken core; a driver behind a capacitor also reads like this."
	case what == wiring.NotExpected:
		check.Verdict = gauge.Unsure
		check.Says = "That is not what these links should give. Something is not as the plan says: the links, the loudspeaker, or the cable."
		check.Settle = "look at the links again, and take off what the meter shows with its own leads held together"
	}
	return []Check{check}
}

package judge

import (
	"fmt"
	"strings"

	"hangtrue/checklist/plan"
	"hangtrue/compute/gauge"
	"hangtrue/compute/sound"
	"hangtrue/compute/tape"
)

// reportStep is the step in metres to which a calibration is taken to report a
// distance when it is written to whole centimetres: this program's own choice.
const reportStep = 0.01

// calibrationDistances holds the distances that the room correction reports
// against what was built. A constant offset is taken out, subwoofers stand apart,
// and channels that look exchanged are named.
func calibrationDistances(c Case) []Check {
	step, err := sound.StepUncertainty(reportStep)
	if err != nil {
		return nil
	}
	var channels []sound.Channel
	for i := range c.Plan.Mounts {
		m := &c.Plan.Mounts[i]
		reported := c.Measured["reported_um/"+m.Channel]
		if len(reported) == 0 {
			continue
		}
		distance, ok := c.builtDistance(m.Channel)
		if !ok {
			continue
		}
		kind := sound.Main
		if model := c.Plan.Model(m.Model); model != nil && model.Kind == plan.Subwoofer {
			kind = sound.Sub
		}
		channels = append(channels, sound.Channel{
			Name: m.Channel, Kind: kind,
			MountDistance:    sound.Estimate{Value: distance.Value, Uncertainty: distance.Uncertainty.Standard},
			ReportedDistance: sound.Estimate{Value: metres(reported[0]), Uncertainty: step},
		})
	}
	if len(channels) == 0 {
		return nil
	}
	groups, err := sound.CrossCheck(channels)
	if err != nil {
		return []Check{condition("calibration.distances", "Reported distances", false, "The distances cannot be compared: "+plain(err)+".")}
	}
	var checks []Check
	for _, g := range groups {
		for _, ch := range g.Channels {
			if !ch.Distance.Known {
				continue
			}
			m := gauge.Measured{Value: ch.Distance.Value, Uncertainty: gauge.Uncertainty{Standard: ch.Distance.Uncertainty}}
			check := c.evaluate("calibration.distances", "Reported distance, without what is added to every channel", Metre, m, gauge.Around(0, c.Plan.Tolerances.Distance), ownTolerance)
			check.Subject = ch.Name
			if check.Verdict == gauge.Outside {
				check.Says = fmt.Sprintf("%s is reported %s from where it hangs.", ch.Name, tape.FormatSmall(abs(ch.Distance.Value), c.system()))
			}
			checks = append(checks, check)
		}
		for _, swap := range g.Swaps {
			found := condition("calibration.distances swap", "Channels", false, capital(swap.String())+". Look at the cables before moving anything.")
			var names []string
			for _, move := range swap.Moves {
				names = append(names, move.Channel)
			}
			found.Subject = strings.Join(names, ", ")
			checks = append(checks, found)
		}
	}
	return checks
}

// builtDistance is the measured straight distance of a mount, or what follows
// from where it was hung, or the plan's.
func (c Case) builtDistance(channel string) (gauge.Measured, bool) {
	if e, ok := c.Prior("hang", channel); ok {
		other := c
		other.Measured, other.Chosen = e.Measured, e.Chosen
		if m, ok := other.read("distance_um", "laser"); ok && m.Value > 0 {
			return m, true
		}
	}
	at, _, err := c.asBuilt(channel)
	return at.distance, err == nil
}

func abs(x float64) float64 {
	if x < 0 {
		return -x
	}
	return x
}

package judge

import (
	"fmt"
	"strings"

	"hangtrue/compute/gauge"
	"hangtrue/compute/rack"
)

// rackSpace: every item has units of its own.
func rackSpace(c Case) []Check {
	fill, err := rack.Stack(c.Plan.Rack.Units, c.Plan.Rack.RatedLoad, c.Plan.RackItems())
	if err != nil {
		return []Check{condition("rack.space", "Room in the rack", false, "It cannot be worked out: "+plain(err)+".")}
	}
	var says []string
	for _, o := range fill.Overlaps {
		says = append(says, fmt.Sprintf("%s and %s want the same units.", o.A, o.B))
	}
	for _, name := range fill.Outside {
		says = append(says, name+" does not fit between bottom and top.")
	}
	for _, name := range fill.Unplaced {
		says = append(says, name+" has no place yet.")
	}
	if fill.Short > 0 {
		says = append(says, fmt.Sprintf("%d units are missing.", fill.Short))
	}
	check := condition("rack.space", "Room in the rack", len(says) == 0, strings.Join(says, " "))
	if len(says) == 0 {
		check.Says = fmt.Sprintf("%d of %d units are taken.", fill.Used, c.Plan.Rack.Units)
	}
	return []Check{check}
}

// rackLoad: the rack carries what is in it.
func rackLoad(c Case) []Check {
	limit := c.Plan.Rack.RatedLoad
	fill, err := rack.Stack(c.Plan.Rack.Units, limit, c.Plan.RackItems())
	if err != nil || limit <= 0 {
		return nil
	}
	check := condition("rack.load", "Weight in the rack", !fill.Overloaded, fmt.Sprintf("%.1f kg in a rack that carries %.1f kg.", fill.Mass, limit))
	if !fill.Overloaded {
		check.Says = fmt.Sprintf("%.1f kg of %.1f kg.", fill.Mass, limit)
	}
	check.Source = "the rack's rated load, as the plan states it"
	return []Check{check}
}

// rackMains holds what the rack draws against the circuit: as recorded at the
// step, or as the plan has it.
func rackMains(c Case) []Check {
	rating := c.Plan.Rack.Circuit
	if recorded := c.Measured["circuit_ma"]; len(recorded) > 0 {
		rating = float64(recorded[0]) * 1e-3
	}
	total, err := rack.Total(c.Plan.RackItems())
	if err != nil {
		return []Check{condition("rack.mains", "Mains", false, "It cannot be worked out: "+plain(err)+".")}
	}
	rule := rack.DesignCurrent
	if c.Plan.Rack.ContinuousRule {
		rule = rack.ContinuousLoad
	}
	circuit := rack.Circuit{Rule: rule, Rating: rating, Voltage: c.Plan.Rack.Voltage, PowerFactor: 1}
	load, err := circuit.Load(total.Mains)
	if err != nil {
		return []Check{condition("rack.mains", "Mains", false, "It cannot be worked out: "+plain(err)+".")}
	}
	check := c.evaluate("rack.mains", "Current from the circuit", Ampere, exact(load.Current), gauge.AtMost(load.Greatest), string(rule))
	check.Says = rack.Caution
	if check.Verdict != gauge.Within {
		check.Correction = "a circuit of its own, or the load spread over two: ask a licensed electrician"
	}
	check.Figures = append(check.Figures, load.Figure, total.Figure)
	return []Check{check}
}

// rackHeat holds the air that moves against the air the heat needs, where the plan
// says how warm it may get.
func rackHeat(c Case) []Check {
	r := c.Plan.Rack
	total, err := rack.Total(c.Plan.RackItems())
	if err != nil || r.Rise <= 0 {
		return nil
	}
	inlet := r.Inlet
	if inlet == 0 {
		inlet = roomTemperature
	}
	f, err := rack.AirflowFigure(total.Heat, r.Rise, inlet)
	if err != nil {
		return nil
	}
	needed := rack.CubicMetresPerHour(f.Value)
	check := condition("rack.heat", "Air", r.Airflow <= 0 || r.Airflow >= needed,
		fmt.Sprintf("%.0f W of heat need %.0f m³/h of air; only %.0f m³/h is moved.", total.Heat, needed, r.Airflow))
	if check.Verdict == gauge.Within {
		check.Says = fmt.Sprintf("%.0f W of heat need %.0f m³/h of air for a rise of %.0f K.", total.Heat, needed, r.Rise)
	}
	check.Source = "heat = density · specific heat · flow · rise"
	check.Figures = append(check.Figures, f, total.Figure)
	return []Check{check}
}

// roomTemperature stands for an inlet temperature that the plan does not state, °C.
const roomTemperature = 20

// planRack is the rack as the plan has it.
func planRack(c Case) []Check {
	var checks []Check
	for _, f := range []Func{rackSpace, rackLoad, rackMains, rackHeat} {
		checks = append(checks, f(c)...)
	}
	return checks
}

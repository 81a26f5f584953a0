package workings

import (
	"hangtrue/checklist/plan"
	"hangtrue/compute/figure"
	"hangtrue/compute/rack"
)

// roomTemperature stands for an inlet temperature or an air temperature that the
// plan does not state, °C. This program's own choice.
const roomTemperature = 20.0

// A RackSheet is what stands in the rack and what it asks for.
type RackSheet struct {
	Units   int     // height of the rack
	Carries float64 // kg, 0 where the plan does not say
	Items   []rack.Item
	Fill    rack.Fill
	// Unknown says why heat, air and mains could not be worked out; they are then 0.
	Unknown string
	Heat    float64 // W
	Thermal float64 // the same in Btu/h
	// Needed is the air that carries the heat off at the plan's rise, m³/h, 0 where it
	// gives none. Moved is what the plan says moves, 0 where it does not say.
	Needed, Moved, Rise, Inlet float64
	Mains                      float64 // W
	Circuit                    rack.Circuit
	Load                       rack.MainsLoad
	Order                      []rack.Stage // of switching on; off is the other way round
	OrderMark                  figure.Mark
	Caution                    string
	Figures                    []figure.Figure // of heat and air; that of the mains stands in Load
}

// Airy tells whether enough air moves, where the plan gives both.
func (r *RackSheet) Airy() (enough, known bool) {
	return r.Moved >= r.Needed, r.Moved > 0 && r.Needed > 0
}

// Rack works out space, weight, heat, air and mains of a plan's rack. Errors are
// [ErrPlan] and those of package rack; a heat that the plan does not give is no
// error and is said in Unknown.
func Rack(p *plan.Plan) (*RackSheet, error) {
	if p == nil {
		return nil, ErrPlan
	}
	r := p.Rack
	out := &RackSheet{Units: r.Units, Carries: r.RatedLoad, Items: p.RackItems(), Rise: r.Rise, Inlet: r.Inlet, Moved: r.Airflow,
		OrderMark: rack.InrushMark, Caution: rack.Caution}
	if out.Inlet == 0 {
		out.Inlet = roomTemperature
	}
	var err error
	if out.Fill, err = rack.Stack(r.Units, r.RatedLoad, out.Items); err != nil {
		return nil, of("rack", err)
	}
	out.Order = rack.SwitchOn(out.Items)
	out.Circuit = rack.Circuit{Rule: rack.DesignCurrent, Rating: r.Circuit, Voltage: r.Voltage, PowerFactor: 1}
	if r.ContinuousRule {
		out.Circuit.Rule = rack.ContinuousLoad
	}
	total, err := rack.Total(out.Items)
	if err != nil {
		out.Unknown = err.Error()
		return out, nil
	}
	out.Heat, out.Mains = total.Heat, total.Mains
	out.Figures = append(out.Figures, total.Figure)
	if out.Thermal, err = rack.BTUPerHour(total.Heat); err != nil {
		return nil, of("heat", err)
	}
	out.Figures = append(out.Figures, figure.Figure{Name: "heat in Btu per hour", Formula: "W·3600/1055.05585", Source: "definition of the Btu (International Table)",
		Mark: figure.Derived, Inputs: []figure.Input{{Name: "W, heat", Value: total.Heat, Unit: "W"}}, Value: out.Thermal, Unit: "Btu/h"})
	if r.Rise > 0 {
		f, err := rack.AirflowFigure(total.Heat, r.Rise, out.Inlet)
		if err != nil {
			return nil, of("air", err)
		}
		out.Needed = rack.CubicMetresPerHour(f.Value)
		out.Figures = append(out.Figures, f)
	}
	if out.Load, err = out.Circuit.Load(total.Mains); err != nil {
		return nil, of("circuit", err)
	}
	return out, nil
}

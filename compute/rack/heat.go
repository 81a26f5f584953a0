package rack

import (
	"cmp"
	"fmt"

	"hangtrue/compute/figure"
)

const (
	// DutyPart is the part of full power that makers quote for ordinary programme: 1/8, pink noise with 9 dB headroom,
	// the normal operating level of the former IEC 60065 (read in amplifier manuals).
	DutyPart = 1.0 / 8
	// LinearEfficiency and SwitchingEfficiency are what an output stage turns into sound power at 1/8 of full power.
	// Common practice, no source: use the maker's figure wherever there is one.
	LinearEfficiency    = 0.3
	SwitchingEfficiency = 0.8

	// wattPerBTU is one Btu per hour in watts: 1055.05585 J (International Table) in 3600 s.
	wattPerBTU = 1055.05585 / 3600

	gasConstant  = 287.05 // of dry air, J/(kg K)
	heatCapacity = 1005.0 // of air at constant pressure, J/(kg K)

	// StandardPressure is the atmosphere at sea level in pascals.
	StandardPressure = 101325.0

	cubicFoot = 0.028316846592 // m³
)

// Draw is what an item takes from the mains, sends to loudspeakers and leaves as heat, in watts.
type Draw struct {
	Mains     float64
	Delivered float64
	Heat      float64
	Figure    figure.Figure // how Heat came about
}

// DrawOf is an item's draw: the maker's figures where they are given, the missing one of the two from Heat = Mains -
// Delivered with Delivered = Rated/8, and where both are missing Mains = Delivered/Efficiency.
//
// An item without any figure draws nothing if its rated power is 0 (a panel, a shelf), else it is an [ErrNoHeat]. Maker's
// figures that contradict themselves (less from the mains than heat, or than what is delivered) are an [ErrNumber].
func DrawOf(it Item) (Draw, error) {
	if err := it.check(); err != nil {
		return Draw{}, err
	}
	d := Draw{Mains: it.Mains, Heat: it.Heat, Delivered: it.Rated * DutyPart}
	f := figure.Figure{Name: "heat of " + it.Name, Unit: "W"}
	watts := func(name string, v float64) figure.Input { return figure.Input{Name: name, Value: v, Unit: "W"} }
	const delivered = "1/8 of full power to the loudspeakers, the duty quoted in amplifier manuals"
	switch {
	case it.Heat > 0 && it.Mains > 0:
		if milli(it.Heat) > milli(it.Mains) {
			return Draw{}, fmt.Errorf("%w: item %q: heat %v W of %v W mains power, want no more heat than power", ErrNumber, it.Name, it.Heat, it.Mains)
		}
		d.Delivered = it.Mains - it.Heat
		f.Formula, f.Source, f.Mark = "P_heat", "the maker's figure", figure.Published
	case it.Heat > 0:
		d.Mains = it.Heat + d.Delivered
		f.Formula, f.Source, f.Mark = "P_heat", "the maker's figure", figure.Published
	case it.Mains > 0:
		if d.Heat = it.Mains - d.Delivered; d.Heat < 0 {
			return Draw{}, fmt.Errorf("%w: item %q: mains power %v W, want at least 1/8 of the rated power, %v W", ErrNumber, it.Name, it.Mains, d.Delivered)
		}
		f.Formula, f.Source, f.Mark = "P_mains - P_rated/8", "the maker's mains figure; "+delivered, figure.Secondary
		f.Inputs = []figure.Input{watts("P_mains", it.Mains), watts("P_rated", it.Rated)}
	case it.Rated == 0:
		f.Formula, f.Source, f.Mark = "0", "draws nothing", figure.Derived
	case it.Efficiency == 0:
		return Draw{}, fmt.Errorf("%w: item %q: want its heat, its mains power or its efficiency", ErrNoHeat, it.Name)
	default:
		d.Mains = d.Delivered / it.Efficiency
		d.Heat = d.Mains - d.Delivered
		f.Formula, f.Source, f.Mark = "P_rated/8·(1/η - 1)", delivered+"; efficiency is common practice, no source", figure.CommonPractice
		f.Inputs = []figure.Input{watts("P_rated", it.Rated), {Name: "η", Value: it.Efficiency}}
	}
	f.Value = d.Heat
	if f.Formula == "P_heat" {
		f.Inputs = []figure.Input{watts("P_heat", d.Heat)}
	}
	d.Figure = f
	return d, nil
}

// Total is the draw of all items. Its heat counts only those in the rack (with a height), its mains power all.
func Total(items []Item) (Draw, error) {
	if err := checkItems(items); err != nil {
		return Draw{}, err
	}
	sum := Draw{Figure: figure.Figure{Name: "heat in the rack", Formula: "ΣP_heat", Source: "sum over the items in the rack", Mark: figure.Derived, Unit: "W"}}
	for _, it := range items {
		d, err := DrawOf(it)
		if err != nil {
			return Draw{}, err
		}
		sum.Mains += d.Mains
		sum.Delivered += d.Delivered
		if it.Units > 0 {
			sum.Heat += d.Heat
			sum.Figure.Mark = figure.Weakest(sum.Figure.Mark, d.Figure.Mark)
			sum.Figure.Inputs = append(sum.Figure.Inputs, figure.Input{Name: it.Name, Value: d.Heat, Unit: "W"})
		}
	}
	sum.Figure.Value = sum.Heat
	if sum.Figure.Mark == figure.CommonPractice {
		sum.Figure.Source += "; some efficiencies are common practice, no source"
	}
	return sum, nil
}

// BTUPerHour is watts in Btu per hour: W·3600/1055.05585 (3.41214).
func BTUPerHour(power float64) (float64, error) {
	if err := between("power", power, 0, MaxItems*MaxPower); err != nil {
		return 0, err
	}
	return power / wattPerBTU, nil
}

// AirDensity is that of dry air in kg/m³ at a temperature in °C and a pressure in pascals: p/(287.05·T), the ideal gas law.
func AirDensity(temperature, pressure float64) (float64, error) {
	if err := cmp.Or(between("temperature", temperature, -50, 100), between("pressure", pressure, 3e4, 1.2e5)); err != nil {
		return 0, err
	}
	return pressure / (gasConstant * (temperature + 273.15)), nil
}

// Airflow is the flow in m³/s that carries a heat in watts away with a temperature rise in kelvin, from an inlet temperature in
// °C at [StandardPressure]: Q = P/(ρ·cp·ΔT). It is the flow that really passes, not a fan's rating in free air.
func Airflow(heat, rise, inlet float64) (float64, error) {
	density, err := AirDensity(inlet, StandardPressure)
	if err = cmp.Or(err, between("heat", heat, 0, MaxItems*MaxPower), between("temperature rise", rise, 0.1, 100)); err != nil {
		return 0, err
	}
	return heat / (density * heatCapacity * rise), nil
}

// Rise is the temperature rise in kelvin of a flow in m³/s that carries a heat in watts away: ΔT = P/(ρ·cp·Q), with the
// density at the inlet temperature in °C. A flow of 0 is an [ErrNumber]: without flow the formula has no answer.
func Rise(heat, flow, inlet float64) (float64, error) {
	density, err := AirDensity(inlet, StandardPressure)
	if err = cmp.Or(err, between("heat", heat, 0, MaxItems*MaxPower), above("air flow", flow, 1e3)); err != nil {
		return 0, err
	}
	return heat / (density * heatCapacity * flow), nil
}

// AirflowFigure is [Airflow] with its formula.
func AirflowFigure(heat, rise, inlet float64) (figure.Figure, error) {
	flow, err := Airflow(heat, rise, inlet)
	if err != nil {
		return figure.Figure{}, err
	}
	density, err := AirDensity(inlet, StandardPressure)
	return figure.Figure{
		Name: "air flow", Formula: "P/(ρ·cp·ΔT), ρ = p/(287.05·T)", Source: "heat balance of dry air at the inlet, cp 1005 J/(kg K)", Mark: figure.Derived,
		Inputs: []figure.Input{
			{Name: "P", Value: heat, Unit: "W"}, {Name: "ρ", Value: density, Unit: "kg/m³"},
			{Name: "cp", Value: heatCapacity, Unit: "J/(kg K)"}, {Name: "ΔT", Value: rise, Unit: "K"},
		},
		Value: flow, Unit: "m³/s",
	}, err
}

// CubicMetresPerHour is a flow in m³/s in m³/h.
func CubicMetresPerHour(flow float64) float64 { return flow * 3600 }

// CubicFeetPerMinute is a flow in m³/s in ft³/min.
func CubicFeetPerMinute(flow float64) float64 { return flow * 60 / cubicFoot }

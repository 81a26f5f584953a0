package plan

import (
	"fmt"

	"hangtrue/compute/gauge"
	"hangtrue/compute/rack"
	"hangtrue/compute/wiring"
)

// RackItems are the processor and the amplifiers as package rack sees them.
func (p *Plan) RackItems() []rack.Item {
	q := p.Processor
	all := []rack.Item{{Name: q.Name, Units: q.RackUnits, Position: q.Position, Mass: q.Mass, Heat: q.Heat, Mains: q.Mains}}
	for _, a := range p.Amplifiers {
		all = append(all, rack.Item{Name: a.Name, Units: a.RackUnits, Position: a.Position, Mass: a.Mass,
			Heat: a.Heat, Mains: a.Mains, Rated: float64(a.Channels) * a.Power, Efficiency: a.Efficiency})
	}
	return all
}

// ChannelMap is the way of every channel from output to mount as package wiring sees it.
func (p *Plan) ChannelMap() wiring.ChannelMap {
	m := wiring.ChannelMap{Outputs: p.Processor.Outputs}
	for _, a := range p.Amplifiers {
		m.Amps = append(m.Amps, wiring.Amp{Name: a.Name, Channels: a.Channels})
	}
	for i := range p.Mounts {
		x := &p.Mounts[i]
		model := p.Model(x.Model)
		m.Mounts = append(m.Mounts, x.Channel)
		m.Links = append(m.Links, wiring.Link{Mount: x.Channel, Output: x.Output, Amplifier: x.Amplifier, AmpChannel: x.AmpChannel,
			Active: model != nil && model.Active})
	}
	return m
}

// AssessRun works out a cable (metres, one way) from a mount's amplifier to its loudspeaker with the links set as named,
// "" for the model's own figures. It is [ErrUnknown] for a name the plan does not have; other errors are those of
// package wiring.
func (p *Plan) AssessRun(m *Mount, cable string, length float64, setting string) (wiring.Assessment, error) {
	model, kind := p.Model(m.Model), p.Cable(cable)
	switch {
	case model == nil:
		return wiring.Assessment{}, fmt.Errorf("%w: loudspeaker %q", ErrUnknown, m.Model)
	case kind == nil:
		return wiring.Assessment{}, fmt.Errorf("%w: cable %q", ErrUnknown, cable)
	}
	rated, least, ok := model.Load(setting)
	if !ok {
		return wiring.Assessment{}, fmt.Errorf("%w: driver bridge %q", ErrUnknown, setting)
	}
	conductor, err := wiring.ParseConductor(kind.Conductor)
	if err != nil {
		return wiring.Assessment{}, err
	}
	source := wiring.Source{}
	if a := p.Amplifier(m.Amplifier); a != nil {
		source = wiring.Source{LeastLoad: a.LeastLoad, Damping: a.DampingFactor}
	}
	return wiring.Assess(wiring.Run{Conductor: conductor, Length: length}, source, p.Tolerances.CableLoss/100,
		wiring.Load{Rated: rated, Least: least, Greatest: model.GreatestImpedance})
}

// Worth is the mean of readings taken with an instrument and its uncertainty: lengths in metres, or angles in radians. A
// class or a kind goes by its published or usual figure; a figure that the plan states for this very instrument goes
// before that. It fails for an instrument that measures something else, and with the errors of package gauge.
func (i *Instrument) Worth(values []float64, angle bool) (gauge.Measured, error) {
	if angle != (i.Kind == Level || i.Kind == PhoneLevel) {
		return gauge.Measured{}, fmt.Errorf("plan: a %s does not measure this", i.Kind)
	}
	stated := i.LengthU
	if angle {
		stated = i.AngleU
	}
	if stated > 0 && len(values) > 0 {
		mean, repeat, err := gauge.Repeat(values)
		if len(values) == 1 { // one reading has no spread
			mean, repeat = values[0], gauge.Component{Name: "repeat readings"}
		} else if err != nil {
			return gauge.Measured{}, err
		}
		u, err := gauge.Propagate([]float64{1, 1, 1}, []gauge.Component{
			{Name: i.Name, Standard: stated, Basis: "as the plan states it"},
			{Name: "resolution of the " + i.Kind, Standard: gauge.Resolution(i.Resolution), Basis: "rectangular"},
			repeat,
		})
		return gauge.Measured{Value: mean, Uncertainty: u}, err
	}
	r := gauge.Reading{Values: values, Division: i.Resolution, FromSurface: i.FromHook, ByHand: i.Reading}
	switch {
	case i.Kind == Tape:
		r.Instrument = map[string]gauge.Instrument{"I": gauge.TapeI, "II": gauge.TapeII, "III": gauge.TapeIII}[i.Class]
	case i.Kind == Laser:
		r.Instrument = gauge.Laser
	default:
		return gauge.Measured{}, fmt.Errorf("plan: what a %s is worth is not known", i.Kind)
	}
	return r.Evaluate()
}

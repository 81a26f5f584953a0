package plan

import (
	"fmt"

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

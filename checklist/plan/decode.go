package plan

import (
	"hangtrue/checklist/strict"
	"hangtrue/compute/layout"
	"hangtrue/compute/tape"
)

// Decode reads a plan document. The error is a [strict.Problems] with every problem that can be told: first the form
// and each value by itself; what one part says about another (names, channels, places in the room) is checked once all
// values could be read, because half a document would give false alarms.
func Decode(data []byte) (*Plan, error) {
	p := new(Plan)
	form := strict.Decode(data, p)
	c := checker{p: p, form: form, problems: form}
	c.values()
	if c.problems.Err() == nil {
		c.relations()
	}
	if c.problems.Err() != nil {
		c.problems.Sort(data)
		return nil, c.problems
	}
	return p, nil
}

// Encode writes the document as [Decode] reads it, in a stable form; it does not check it.
func (p *Plan) Encode() ([]byte, error) { return strict.Encode(p) }

// System is the units in package tape's terms.
func (u Units) System() tape.System {
	if u == Imperial {
		return tape.Imperial
	}
	return tape.Metric
}

// Model finds a loudspeaker type, nil if there is none of that name.
func (p *Plan) Model(name string) *Model {
	return find(p.Models, name, func(m *Model) string { return m.Name })
}

// Bracket finds a bracket model, nil if there is none of that name.
func (p *Plan) Bracket(name string) *Bracket {
	return find(p.Brackets, name, func(b *Bracket) string { return b.Name })
}

// Fixing finds a fixing, nil if there is none of that name.
func (p *Plan) Fixing(name string) *Fixing {
	return find(p.Fixings, name, func(f *Fixing) string { return f.Name })
}

// Cable finds a cable type, nil if there is none of that name.
func (p *Plan) Cable(name string) *Cable {
	return find(p.Cables, name, func(c *Cable) string { return c.Name })
}

// Amplifier finds an amplifier, nil if there is none of that name.
func (p *Plan) Amplifier(name string) *Amplifier {
	return find(p.Amplifiers, name, func(a *Amplifier) string { return a.Name })
}

// Instrument finds an instrument, nil if there is none of that name.
func (p *Plan) Instrument(name string) *Instrument {
	return find(p.Instruments, name, func(i *Instrument) string { return i.Name })
}

// Position finds a listening position, nil if there is none of that name. The empty name is the primary one.
func (p *Plan) Position(name string) *Listening {
	if name == "" {
		return p.Primary()
	}
	return find(p.Listening, name, func(l *Listening) string { return l.Name })
}

// Primary is the primary listening position; a decoded plan has exactly one.
func (p *Plan) Primary() *Listening {
	for i := range p.Listening {
		if p.Listening[i].Primary {
			return &p.Listening[i]
		}
	}
	return nil
}

// MountByChannel finds the mount of a channel, nil if there is none.
func (p *Plan) MountByChannel(channel string) *Mount {
	return find(p.Mounts, channel, func(m *Mount) string { return m.Channel })
}

// Loudspeakers is the layout that the plan is made for, nil if it is unknown.
func (p *Plan) Loudspeakers() *layout.Layout {
	l, _ := layout.ByName(p.Layout)
	return l
}

// Load is the rated and least impedance (ohms) that an amplifier sees with the links set as named: the model's own
// figures for "", those of the setting otherwise. ok is false for an unknown setting.
func (m *Model) Load(setting string) (rated, least float64, ok bool) {
	if setting == "" {
		return m.RatedImpedance, m.LeastImpedance, true
	}
	b := find(m.Bridges, setting, func(b *Bridge) string { return b.Setting })
	if b == nil {
		return 0, 0, false
	}
	return b.RatedImpedance, b.LeastImpedance, true
}

func find[T any](list []T, name string, nameOf func(*T) string) *T {
	for i := range list {
		if nameOf(&list[i]) == name {
			return &list[i]
		}
	}
	return nil
}

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

// Read reads a document that [Decode] has accepted before, for those who read it again and again: it looks at its form
// alone.
func Read(data []byte) (*Plan, error) {
	p := new(Plan)
	if err := strict.Decode(data, p).Err(); err != nil {
		return nil, err
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
	return find(p.Models, name)
}

// Bracket finds a bracket model, nil if there is none of that name.
func (p *Plan) Bracket(name string) *Bracket {
	return find(p.Brackets, name)
}

// Fixing finds a fixing, nil if there is none of that name.
func (p *Plan) Fixing(name string) *Fixing {
	return find(p.Fixings, name)
}

// Cable finds a cable type, nil if there is none of that name.
func (p *Plan) Cable(name string) *Cable {
	return find(p.Cables, name)
}

// Amplifier finds an amplifier, nil if there is none of that name.
func (p *Plan) Amplifier(name string) *Amplifier {
	return find(p.Amplifiers, name)
}

// Instrument finds an instrument, nil if there is none of that name.
func (p *Plan) Instrument(name string) *Instrument {
	return find(p.Instruments, name)
}

// Position finds a listening position, nil if there is none of that name. The empty name is the primary one.
func (p *Plan) Position(name string) *Listening {
	if name == "" {
		return p.Primary()
	}
	return find(p.Listening, name)
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
	return find(p.Mounts, channel)
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
	b := find(m.Bridges, setting)
	if b == nil {
		return 0, 0, false
	}
	return b.RatedImpedance, b.LeastImpedance, true
}

// named is a part of a document that others refer to by a name of its own.
type named[T any] interface {
	*T
	label() string
}

func (x *Surface) label() string       { return x.Name }
func (x *Shape) label() string         { return x.Name }
func (x *Reading) label() string       { return x.Name }
func (x *Area) label() string          { return x.Name }
func (x *Listening) label() string     { return x.Name }
func (x *Model) label() string         { return x.Name }
func (x *Bridge) label() string        { return x.Setting }
func (x *Bracket) label() string       { return x.Name }
func (x *Fixing) label() string        { return x.Name }
func (x *Cable) label() string         { return x.Name }
func (x *Amplifier) label() string     { return x.Name }
func (x *Instrument) label() string    { return x.Name }
func (x *Mount) label() string         { return x.Channel }
func (x *MeasuredMount) label() string { return x.Channel }

func find[T any, P named[T]](list []T, name string) *T {
	for i := range list {
		if P(&list[i]).label() == name {
			return &list[i]
		}
	}
	return nil
}

func namesOf[T any, P named[T]](list []T) []string {
	names := make([]string, len(list))
	for i := range list {
		names[i] = P(&list[i]).label()
	}
	return names
}

package plan

import (
	"errors"
	"fmt"
	"math"

	"hangtrue/compute/layout"
	"hangtrue/compute/place"
)

// ErrUnknown is returned, wrapped with the name, when a plan has no such channel, surface or listening position.
var ErrUnknown = errors.New("plan: unknown name")

// Surfaces are the surfaces of the room: the six sides of the box, if there is one, in the order of [place.Box], then
// those that its shapes make, as [place.ShapedBox] has them, then those that are listed with a frame. A side of which the
// shapes leave nothing is not there. It fails, naming the surface or the shape, where a frame, an outline or a shape is not
// sound, which cannot happen with a decoded plan.
func (p *Plan) Surfaces() ([]place.Surface, error) {
	var all []place.Surface
	if p.Room.Box != nil {
		made, err := p.Room.shaped().Surfaces()
		if err != nil {
			return nil, fmt.Errorf("plan: room: %w", err)
		}
		for i := range made {
			if s := p.surface(made[i].Name); s != nil {
				detail(&made[i], s)
			}
		}
		all = made
	}
	for i := range p.Room.Surfaces {
		s := &p.Room.Surfaces[i]
		if s.Frame == nil {
			continue
		}
		built, err := framed(s)
		if err != nil {
			return nil, fmt.Errorf("plan: surface %q: %w", s.Name, err)
		}
		all = append(all, built)
	}
	return all, nil
}

// surface is the listed surface of a name, nil if there is none.
func (p *Plan) surface(name string) *Surface {
	return find(p.Room.Surfaces, name)
}

// placed is one surface of the room, without building the others.
func (p *Plan) placed(name string) (*place.Surface, error) {
	s := p.surface(name)
	if s != nil && s.Frame != nil {
		built, err := framed(s)
		return &built, err
	}
	if p.Room.Box != nil {
		made, ok, err := p.Room.shaped().Surface(name)
		if err != nil {
			return nil, fmt.Errorf("plan: room: %w", err)
		}
		if ok {
			if s != nil {
				detail(&made, s)
			}
			return &made, nil
		}
	}
	return nil, fmt.Errorf("%w: surface %q", ErrUnknown, name)
}

// UpWord is what the second tape coordinate of a surface is called: "up" where it rises, "out" where it runs level or
// downhill, as on a ceiling or a slope at a side wall. What the room does not have is taken for a wall.
func (p *Plan) UpWord(surface string) string {
	if p == nil {
		return "up"
	}
	if s := p.surface(surface); p.Room.Box != nil && (s == nil || s.Frame == nil) { // a box need not be built for this
		switch surface {
		case "front", "right", "rear", "left":
			return "up"
		case "ceiling", "floor":
			return "out"
		}
	}
	if s, err := p.placed(surface); err == nil && !s.Rises() {
		return "out"
	}
	return "up"
}

func framed(s *Surface) (place.Surface, error) {
	raw := place.Surface{Name: s.Name, Origin: vec(s.Frame.Origin), Along: vec(s.Frame.Along), Up: vec(s.Frame.Up), Outline: spots(s.Frame.Outline)}
	detail(&raw, s)
	return place.NewSurface(raw)
}

// detail adds to a surface what the plan says beyond its frame.
func detail(to *place.Surface, s *Surface) {
	to.Openings, to.KeepOuts, to.Lining = areas(s.Openings), areas(s.KeepOuts), s.Lining
	k := s.Construction
	to.Framing = place.Framing{
		Kind: framingKinds[k.Kind], Across: k.Across, Spacing: k.Spacing, First: k.First, Width: k.Width, Depth: k.Depth, Found: k.Found,
	}
}

var framingKinds = map[string]place.FramingKind{Studs: place.Studs, Masonry: place.Masonry, Concrete: place.Concrete, Other: place.Other}

func areas(list []Area) []place.Area {
	var out []place.Area
	for _, a := range list {
		out = append(out, place.Area{
			Name: a.Name, Min: place.Spot{Along: a.Along, Up: a.Up}, Max: place.Spot{Along: a.Along + a.Width, Up: a.Up + a.Height}, Clearance: a.Clearance,
		})
	}
	return out
}

func vec(v [3]float64) place.Vec { return place.Vec{X: v[0], Y: v[1], Z: v[2]} }

func spots(list [][2]float64) []place.Spot {
	out := make([]place.Spot, len(list))
	for i, s := range list {
		out[i] = place.Spot{Along: s[0], Up: s[1]}
	}
	return out
}

// Listener is a listening position as package place sees it; the empty name is the primary one. It is [ErrUnknown] if
// there is none of that name.
func (p *Plan) Listener(name string) (place.Listener, error) {
	l := p.Position(name)
	if l == nil {
		return place.Listener{}, fmt.Errorf("%w: listening position %q", ErrUnknown, name)
	}
	return place.Listener{Name: l.Name, Ear: vec(l.Ear), Facing: l.Facing}, nil
}

// PlaceMount is a channel's mount as package place sees it. It is [ErrUnknown] for a channel without a mount, or a name
// in it that the plan does not have.
func (p *Plan) PlaceMount(channel string) (place.Mount, error) {
	m := p.MountByChannel(channel)
	if m == nil {
		return place.Mount{}, fmt.Errorf("%w: channel %q", ErrUnknown, channel)
	}
	s, err := p.placed(m.Surface)
	if err != nil {
		return place.Mount{}, err
	}
	return p.MountOn(m, s)
}

// MountOn is a mount, in the plan or not, on a surface of the room that was built before. A mount that stands has its
// pivot in the acoustic centre and turns freely. It is [ErrUnknown] for a bracket or loudspeaker the plan does not have.
func (p *Plan) MountOn(m *Mount, s *place.Surface) (place.Mount, error) {
	out := place.Mount{Surface: s, Hole: place.Spot{Along: m.Along, Up: m.Up}}
	if m.Bracket == "" {
		out.Bracket = place.Bracket{PivotOut: m.Stand, SwingMin: -math.Pi, SwingMax: math.Pi, TiltMin: -math.Pi, TiltMax: math.Pi}
		return out, nil
	}
	b, model := p.Bracket(m.Bracket), p.Model(m.Model)
	if b == nil {
		return place.Mount{}, fmt.Errorf("%w: bracket %q", ErrUnknown, m.Bracket)
	}
	if model == nil {
		return place.Mount{}, fmt.Errorf("%w: loudspeaker %q", ErrUnknown, m.Model)
	}
	out.Bracket = place.Bracket{
		Holes: spots(b.Holes), PivotAlong: b.PivotAlong, PivotUp: b.PivotUp, PivotOut: b.PivotOut,
		SwingMin: b.SwingMin, SwingMax: b.SwingMax, TiltMin: b.TiltMin, TiltMax: b.TiltMax,
	}
	out.Speaker = place.Speaker{Reach: model.Reach, AxisRight: model.AxisRight, AxisUp: model.AxisUp}
	return out, nil
}

// Pose is how a channel's loudspeaker is planned to hang: aimed at the listening position the mount names. Errors are
// those of [Plan.PlaceMount] and [place.Aim].
func (p *Plan) Pose(channel string) (place.Pose, error) {
	m, err := p.PlaceMount(channel)
	if err != nil {
		return place.Pose{}, err
	}
	l, err := p.Listener(p.MountByChannel(channel).AimAt)
	if err != nil {
		return place.Pose{}, err
	}
	pose, err := place.Aim(m, l.Ear)
	if err != nil {
		return place.Pose{}, fmt.Errorf("plan: channel %q: %w", channel, err)
	}
	return pose, nil
}

// Sight is how the named listening position sees a channel's planned acoustic centre. Errors are those of [Plan.Pose].
func (p *Plan) Sight(channel, position string) (place.Sight, error) {
	l, err := p.Listener(position)
	if err != nil {
		return place.Sight{}, err
	}
	pose, err := p.Pose(channel)
	if err != nil {
		return place.Sight{}, err
	}
	return l.See(pose.Centre), nil
}

// Directions are the planned directions of all mounts from the named listening position, by channel, as
// [layout.Layout.Check] takes them. Errors are those of [Plan.Sight].
func (p *Plan) Directions(position string) (map[string]layout.Direction, error) {
	all := make(map[string]layout.Direction, len(p.Mounts))
	for i := range p.Mounts {
		s, err := p.Sight(p.Mounts[i].Channel, position)
		if err != nil {
			return nil, err
		}
		all[p.Mounts[i].Channel] = layout.Direction(s.Direction)
	}
	return all, nil
}

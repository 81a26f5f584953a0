package propose

import (
	"maps"
	"math"
	"slices"

	"hangtrue/checklist/plan"
	"hangtrue/compute/layout"
	"hangtrue/compute/place"
	"hangtrue/compute/tape"
)

// A search is the state of looking for all mounts of a plan.
type search struct {
	p        *plan.Plan
	layout   *layout.Layout
	ask      Ask
	listener place.Listener
	surfaces []place.Surface
	sides    []side
	doorways []doorway
	grid     float64 // the tape's division, metres
	system   tape.System

	trial   plan.Plan // the plan with one mount, to ask the checks about
	loose   float64   // multiple of the pair tolerances
	seekers map[string]*seeker
	kept    state // the mounts that stay
	state
}

// state is what is placed at a time.
type state struct {
	taken  []occupant
	sights map[string]place.Sight // by channel
}

func (s state) clone() state { return state{slices.Clone(s.taken), maps.Clone(s.sights)} }

// occupant is a cabinet that is placed.
type occupant struct {
	channel string
	body    place.Solid
}

// newSearch starts with the mounts that are to be kept.
func newSearch(p *plan.Plan, ask Ask) (*search, error) {
	surfaces, err := p.Surfaces()
	if err != nil {
		return nil, err
	}
	listener, err := p.Listener("")
	if err != nil {
		return nil, err
	}
	s := &search{p: p, layout: p.Loudspeakers(), ask: ask.filled(p), listener: listener, surfaces: surfaces,
		grid: 0.001, loose: 1, system: p.Units.System(),
		seekers: map[string]*seeker{}, state: state{sights: map[string]place.Sight{}}}
	if s.system == tape.Imperial {
		s.grid = 0.0254 / 16
	}
	s.trial = *p
	s.trial.Mounts, s.trial.Amplifiers = make([]plan.Mount, 1), nil // what these carry and draw is not asked
	s.sides = sidesOf(p, surfaces)
	s.doorways = doorwaysOf(s.sides)
	for _, channel := range ask.Keep {
		m := p.MountByChannel(channel)
		if m == nil {
			continue
		}
		model := p.Model(m.Model)
		pose, err := p.Pose(channel)
		if err != nil || model == nil {
			continue
		}
		s.take(channel, model, pose, m.Bracket == "")
	}
	s.kept = s.state.clone()
	return s, nil
}

func (s *search) take(channel string, model *plan.Model, pose place.Pose, standing bool) {
	s.taken = append(s.taken, occupant{channel, s.body(model, pose, standing)})
	s.sights[channel] = s.listener.See(pose.Centre)
}

// keeps tells whether a channel's mount stays as it is.
func (s *search) keeps(channel string) bool {
	return slices.Contains(s.ask.Keep, channel) && s.p.MountByChannel(channel) != nil
}

// badGap is the other loudspeaker of a rule of the layout that a sight would break.
func (s *search) badGap(channel string, at place.Sight) (other string, bad bool) {
	for _, r := range s.layout.Rules {
		if r.Kind != layout.AzimuthGap {
			continue
		}
		i := slices.Index(r.Labels[:], channel)
		if i < 0 {
			continue
		}
		there, ok := s.sights[r.Labels[1-i]]
		if !ok {
			continue
		}
		between := math.Abs(place.Wrap(at.Azimuth - there.Azimuth))
		if between < r.Min+spare || between > r.Max-spare {
			return r.Labels[1-i], true
		}
	}
	return "", false
}

// A unit is what is placed together: a pair or a single loudspeaker.
type unit struct {
	channels []*layout.Loudspeaker
}

// units are the layout's pairs and single loudspeakers in the order of placing: the bed from the front to the rear, then
// what is above and below, low-frequency effects last. Kept channels are none.
func (s *search) units() []unit {
	var all []unit
	seen := map[string]bool{}
	for i := range s.layout.Loudspeakers {
		at := &s.layout.Loudspeakers[i]
		if seen[at.Label] || s.keeps(at.Label) {
			continue
		}
		u := unit{[]*layout.Loudspeaker{at}}
		if partner, ok := s.layout.Loudspeaker(at.Pair); ok && !at.LFE && !s.keeps(partner.Label) {
			u.channels = append(u.channels, partner)
		}
		for _, c := range u.channels {
			seen[c.Label] = true
		}
		i := 0
		for i < len(all) && all[i].rank() <= u.rank() {
			i++
		}
		all = slices.Insert(all, i, u)
	}
	return all
}

// rank orders units for placing.
func (u unit) rank() int {
	at := u.channels[0]
	side := int(math.Abs(at.Azimuth) * 180 / math.Pi)
	switch {
	case at.LFE:
		return 3000
	case GroupOf(at) == Height:
		return 1000 + side
	case at.Elevation < 0:
		return 2000 + side
	}
	return side
}

// fromWall is how far a standing loudspeaker is from the place in front of the wall behind it, seen from the seat
// (metres).
func (s *search) fromWall(c *candidate) float64 {
	away := c.pose.Centre.Sub(s.listener.Ear)
	away.Z = 0
	hit, ok := place.Meet(s.surfaces, place.Vec{X: s.listener.Ear.X, Y: s.listener.Ear.Y, Z: c.pose.Centre.Z}, away)
	if !ok {
		return 0
	}
	m := c.way.seek.model.Size
	want := hit.Distance - 0.1 - (m.Depth+m.Width)/2
	return math.Abs(want - away.Norm())
}

// fromFront is how far a low-frequency loudspeaker is from where it is wanted (metres): against the wall in front, halfway
// between the middle and the left or right front loudspeaker; a second one on the other side of the first.
func (s *search) fromFront(k *seeker, c *candidate) float64 {
	l := s.listener
	ahead, right := l.Ray(place.Direction{}), l.Ray(place.Direction{Azimuth: -math.Pi / 2})
	low := place.Vec{X: l.Ear.X, Y: l.Ear.Y, Z: c.pose.Centre.Z}
	depth := 0.0
	if hit, ok := place.Meet(s.surfaces, low, ahead); ok {
		depth = hit.Distance - 0.05 - k.model.Size.Depth/2
	}
	at := c.pose.Centre.Sub(low)
	wants := []float64{0}
	if left, ok := s.sights["M+030"]; ok {
		x := 0.5 * left.Distance * math.Sin(left.Azimuth)
		wants = []float64{-x, x}
	}
	for _, other := range [2]string{"LFE1", "LFE2"} {
		if there, ok := s.sights[other]; ok && other != k.at.Label {
			wants = []float64{there.Distance * math.Cos(there.Elevation) * math.Sin(there.Azimuth)}
		}
	}
	side := math.Inf(1)
	for i, x := range wants {
		side = math.Min(side, math.Abs(at.Dot(right)-x)+float64(0.001*float64(i)))
	}
	return math.Abs(depth-at.Dot(ahead)) + side/2
}

package judge

import (
	"hangtrue/checklist/plan"
	"hangtrue/compute/layout"
	"hangtrue/compute/place"
)

// resolved keeps what was worked out of a plan while its checks run, so that a
// room's surfaces are built once for a mount and not once for a check. It lives as
// long as one call of [Run], [WholePlan] or [AsBuilt], and no longer than the plan
// stays as it is.
type resolved struct {
	mounts map[string]mounted
	seen   map[hung]seen
	fits   map[string]fitted
}

// fitted is a mount's zone for the primary listening position and where in it the
// bracket meets the framing; the error is that of a mount that cannot be placed.
type fitted struct {
	zone *place.Zone
	fit  place.Fit
	err  error
}

// mounted is a mount as planned. What cannot be placed or aimed keeps its error.
type mounted struct {
	place.Mount
	pose             place.Pose
	sight            place.Sight
	unplaced, unseen error
}

// hung is a hole of a mount, and what its coordinates are worth.
type hung struct {
	channel                 string
	along, up               float64
	alongU, upU             float64
	alongFreedom, upFreedom float64
}

func newResolved() *resolved {
	return &resolved{mounts: map[string]mounted{}, seen: map[hung]seen{}, fits: map[string]fitted{}}
}

// mounted is the channel's mount with its planned pose and how the primary
// listening position sees it.
func (c Case) mounted(channel string) mounted {
	if c.resolved != nil {
		if m, ok := c.resolved.mounts[channel]; ok {
			return m
		}
	}
	m := resolve(c.Plan, channel)
	if c.resolved != nil {
		c.resolved.mounts[channel] = m
	}
	return m
}

func resolve(p *plan.Plan, channel string) (m mounted) {
	if m.Mount, m.unplaced = p.PlaceMount(channel); m.unplaced != nil {
		m.unseen = m.unplaced
		return m
	}
	var aimed, primary place.Listener
	if aimed, m.unseen = p.Listener(p.MountByChannel(channel).AimAt); m.unseen != nil {
		return m
	}
	if primary, m.unseen = p.Listener(""); m.unseen != nil {
		return m
	}
	if m.pose, m.unseen = place.Aim(m.Mount, aimed.Ear); m.unseen == nil {
		m.sight = primary.See(m.pose.Centre)
	}
	return m
}

// placed is the channel's mount as package place sees it.
func (c Case) placed(channel string) (place.Mount, error) {
	m := c.mounted(channel)
	return m.Mount, m.unplaced
}

// pose is how the channel's loudspeaker is planned to hang.
func (c Case) pose(channel string) (place.Pose, error) {
	m := c.mounted(channel)
	return m.pose, m.unseen
}

// sight is how the primary listening position sees it as planned.
func (c Case) sight(channel string) (place.Sight, error) {
	m := c.mounted(channel)
	return m.sight, m.unseen
}

// directions of all mounts as planned, by channel.
func (c Case) allDirections() (map[string]layout.Direction, error) {
	all := make(map[string]layout.Direction, len(c.Plan.Mounts))
	for i := range c.Plan.Mounts {
		s, err := c.sight(c.Plan.Mounts[i].Channel)
		if err != nil {
			return nil, err
		}
		all[c.Plan.Mounts[i].Channel] = layout.Direction(s.Direction)
	}
	return all, nil
}

// see carries a measured hole through the bracket to what the listener sees; see
// [Case.look].
func (c Case) see(channel string, s spot) (seen, error) {
	if c.resolved == nil {
		return c.look(channel, s)
	}
	along, up := s.along.Uncertainty, s.up.Uncertainty
	key := hung{channel, s.along.Value, s.up.Value, along.Standard, up.Standard, along.Freedom, up.Freedom}
	if at, ok := c.resolved.seen[key]; ok {
		return at, nil
	}
	at, err := c.look(channel, s)
	if err == nil {
		c.resolved.seen[key] = at
	}
	return at, err
}

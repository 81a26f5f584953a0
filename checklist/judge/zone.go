package judge

import (
	"math"

	"hangtrue/checklist/plan"
	"hangtrue/compute/place"
)

// Zone is where on its surface a mount's reference hole may go: inside the plan's
// tolerance about the planned direction and height, inside what the layout permits
// for the primary listening position, mirroring its partner as planned, within the
// bracket's limits, and clear of openings, keep-outs and edges.
func Zone(p *plan.Plan, channel string) (*place.Zone, error) {
	own := resolvedCase(p).fitted(channel)
	return own.zone, own.err
}

// A SeatZone is the zone of a mount for one listening position.
type SeatZone struct {
	Seat  string
	Zone  *place.Zone
	Holds bool          // the planned hole lies in it
	Binds place.Binding // how the planned hole stands to what binds there
}

// Zones are where a mount may go for every listening position by itself, the
// primary one first as [Zone] has it, and for all of them at once. From another
// position only what the layout permits counts: the plan's directions are those of
// the primary one.
func Zones(p *plan.Plan, channel string) (each []SeatZone, all SeatZone, err error) {
	return resolvedCase(p).zones(channel)
}

// An Evaluation is everything that follows from a plan alone.
type Evaluation struct {
	Checks []Check
	Mounts []MountEvaluation
}

// A MountEvaluation is one mount's zones and the spots where it meets the framing.
type MountEvaluation struct {
	Channel string
	Each    []SeatZone
	All     SeatZone
	Fit     place.Fit
}

// Evaluate judges a whole plan and works out every mount's zones and spots. The
// error is that of a mount that cannot be placed or aimed.
func Evaluate(p *plan.Plan) (Evaluation, error) {
	c := resolvedCase(p)
	e := Evaluation{Checks: wholePlan(p, c.resolved), Mounts: make([]MountEvaluation, 0, len(p.Mounts))}
	for i := range p.Mounts {
		m := MountEvaluation{Channel: p.Mounts[i].Channel}
		var err error
		if m.Each, m.All, err = c.zones(m.Channel); err != nil {
			return e, err
		}
		own := c.fitted(m.Channel)
		if own.err != nil {
			return e, own.err
		}
		m.Fit = own.fit
		e.Mounts = append(e.Mounts, m)
	}
	return e, nil
}

func resolvedCase(p *plan.Plan) Case {
	return Case{Plan: p, Prior: noPrior, resolved: newResolved()}
}

// Spots are the places of the zone where the bracket's screws meet the framing,
// nearest in direction first, or what would make one. found (metres, counted as
// the surface counts its members) is a member's middle that was found on site; it
// replaces the regular one nearest to it, and what the plan has as found within half
// a spacing of it. NaN stands for none.
func Spots(p *plan.Plan, channel string, found float64) (place.Fit, error) {
	m, err := p.PlaceMount(channel)
	if err != nil {
		return place.Fit{}, err
	}
	if !math.IsNaN(found) {
		surface := *m.Surface
		surface.Framing = surface.Framing.With(found)
		m.Surface = &surface
	}
	c := resolvedCase(p)
	view, err := c.primaryView(channel)
	if err != nil {
		return place.Fit{}, err
	}
	zone, err := c.zoneAt(channel, m, view)
	if err != nil {
		return place.Fit{}, err
	}
	return zone.Fit(len(m.Bracket.Pattern()), framingMargin(p, channel, m.Surface.Framing.Width))
}

// framingMargin is how far a screw may be off a member's middle, metres: the rule
// of [studsHoles], for the fixing the plan gives the mount.
func framingMargin(p *plan.Plan, channel string, width float64) float64 {
	f := p.Fixing(p.MountByChannel(channel).Fixing)
	if f == nil {
		return 0
	}
	return math.Max(0, Centring(f, width))
}

// Centring is how far a screw may be off the middle of a member of a width (metres): not positive where the member is
// too narrow for it, 0 for a fixing that does not go into wood.
func Centring(f *plan.Fixing, width float64) float64 {
	margin, _, err := centring(f, width)
	if err != nil {
		return 0
	}
	return margin
}

func (c Case) zones(channel string) (each []SeatZone, all SeatZone, err error) {
	placed, err := c.placed(channel)
	if err != nil {
		return nil, SeatZone{}, err
	}
	primary, err := c.primaryView(channel)
	if err != nil {
		return nil, SeatZone{}, err
	}
	views := []place.View{primary}
	permitted := permittedSectors(c.Plan, channel)
	for i := range c.Plan.Listening {
		if l := &c.Plan.Listening[i]; !l.Primary {
			listener, err := c.Plan.Listener(l.Name)
			if err != nil {
				return nil, SeatZone{}, err
			}
			views = append(views, place.View{Listener: listener, Permitted: permitted})
		}
	}
	whole, err := c.zone(channel, views...)
	if err != nil {
		return nil, SeatZone{}, err
	}
	seat := func(name string, z *place.Zone) SeatZone {
		return SeatZone{Seat: name, Zone: z, Holds: z.Contains(placed.Hole), Binds: z.Binding(placed.Hole)}
	}
	for i, v := range views {
		each = append(each, seat(v.Listener.Name, whole.Of(i)))
	}
	return each, seat("", whole), nil
}

// primaryView is what the primary listening position asks of a mount.
func (c Case) primaryView(channel string) (place.View, error) {
	m := c.mounted(channel)
	if m.unseen != nil {
		return place.View{}, m.unseen
	}
	primary, err := c.Plan.Listener("")
	if err != nil {
		return place.View{}, err
	}
	t := c.Plan.Tolerances
	about := place.About(m.sight.Direction, t.Azimuth, t.Elevation)
	view := place.View{Listener: primary, Planned: &about, Permitted: permittedSectors(c.Plan, channel)}
	c.Mount = c.Plan.MountByChannel(channel)
	if partner := c.partner(); partner != "" {
		other := c.mounted(partner)
		if other.unseen != nil {
			return place.View{}, other.unseen
		}
		view.Pair = &place.Pair{Partner: other.sight, Azimuth: t.PairAzimuth, Height: t.PairHeight}
	}
	return view, nil
}

func (c Case) zone(channel string, views ...place.View) (*place.Zone, error) {
	m, err := c.placed(channel)
	if err != nil {
		return nil, err
	}
	return c.zoneAt(channel, m, views...)
}

// zoneAt is the zone of a mount for the positions that are looked from. The height
// is the plan's, whoever listens.
func (c Case) zoneAt(channel string, m place.Mount, views ...place.View) (*place.Zone, error) {
	planned := c.mounted(channel)
	if planned.unseen != nil {
		return nil, planned.unseen
	}
	target, err := c.Plan.Listener(c.Plan.MountByChannel(channel).AimAt)
	if err != nil {
		return nil, err
	}
	t := c.Plan.Tolerances
	return place.NewZone(m, target.Ear, place.Limits{
		Views: views, HeightMin: planned.sight.Height - t.Height, HeightMax: planned.sight.Height + t.Height, Margin: t.EdgeClearance,
	})
}

// permittedSectors are the directions the layout permits a channel. A range
// without width names a direction; the plan's tolerance gives it room.
func permittedSectors(p *plan.Plan, channel string) []place.Sector {
	l := p.Loudspeakers()
	if l == nil {
		return nil
	}
	position, ok := l.Loudspeaker(channel)
	if !ok {
		return nil
	}
	return position.Sectors(p.Tolerances.Azimuth, p.Tolerances.Elevation)
}

package judge

import (
	"math"
	"slices"

	"hangtrue/checklist/plan"
	"hangtrue/compute/fixing"
	"hangtrue/compute/place"
)

// Zone is where on its surface a mount's reference hole may go: inside the plan's
// tolerance about the planned direction and height, inside what the layout permits
// for the primary listening position, mirroring its partner as planned, within the
// bracket's limits, and clear of openings, keep-outs and edges.
func Zone(p *plan.Plan, channel string) (*place.Zone, error) {
	m, err := p.PlaceMount(channel)
	if err != nil {
		return nil, err
	}
	return zoneOf(p, channel, m)
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
		framing := &surface.Framing
		others := slices.DeleteFunc(slices.Clone(framing.Found), func(x float64) bool { return math.Abs(x-found) < framing.Spacing/2 })
		framing.Found = append(others, found)
		m.Surface = &surface
	}
	zone, err := zoneOf(p, channel, m)
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
	d, err := diameter(f)
	if err != nil {
		return 0
	}
	margin, _ := fixing.CentringMargin(width, d)
	return math.Max(0, margin)
}

func zoneOf(p *plan.Plan, channel string, m place.Mount) (*place.Zone, error) {
	mount := p.MountByChannel(channel)
	target, err := p.Listener(mount.AimAt)
	if err != nil {
		return nil, err
	}
	primary, err := p.Listener("")
	if err != nil {
		return nil, err
	}
	planned, err := p.Sight(channel, "")
	if err != nil {
		return nil, err
	}
	t := p.Tolerances
	about := place.About(planned.Direction, t.Azimuth, t.Elevation)
	view := place.View{Listener: primary, Planned: &about, Permitted: permittedSectors(p, channel)}
	c := Case{Plan: p, Mount: mount}
	if partner := c.partner(); partner != "" {
		other, err := p.Sight(partner, "")
		if err != nil {
			return nil, err
		}
		view.Pair = &place.Pair{Partner: other, Azimuth: t.PairAzimuth, Height: t.PairHeight}
	}
	return place.NewZone(m, target.Ear, place.Limits{
		Views: []place.View{view}, HeightMin: planned.Height - t.Height, HeightMax: planned.Height + t.Height, Margin: t.EdgeClearance,
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
	if !ok || position.Anywhere() {
		return nil
	}
	t := p.Tolerances
	elevation := position.ElevationRange()
	if elevation.Target() {
		elevation.From, elevation.To = elevation.From-t.Elevation, elevation.To+t.Elevation
	}
	var sectors []place.Sector
	for _, band := range position.Bands {
		if band.Target() {
			band.From, band.To = band.From-t.Azimuth, band.To+t.Azimuth
		}
		sectors = append(sectors, place.Sector{AzimuthMin: band.From, AzimuthMax: band.To, ElevationMin: elevation.From, ElevationMax: elevation.To})
	}
	return sectors
}

package plan

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"

	"hangtrue/checklist/strict"
	"hangtrue/compute/place"
)

// relations checks what one part of the plan says about another. All values have been found sound by themselves.
func (c *checker) relations() {
	c.surveyed()
	surfaces, ok := c.surfaces()
	if !ok {
		return
	}
	c.insideSurfaces(surfaces)
	c.channels()
	for i := range c.p.Mounts {
		c.mount(strict.Pointer("/mounts", i), &c.p.Mounts[i], surfaces)
	}
}

// related checks as relations does, of an unfinished plan, what can be told of it.
func (c *checker) related() {
	c.surveyed()
	surfaces, ok := c.surfaces()
	if !ok {
		return
	}
	if len(surfaces) > 0 {
		c.insideSurfaces(surfaces)
	}
	if c.p.Loudspeakers() != nil {
		c.channels()
	}
	if len(surfaces) == 0 || c.p.Primary() == nil {
		return
	}
	for i := range c.p.Mounts {
		c.mount(strict.Pointer("/mounts", i), &c.p.Mounts[i], surfaces)
	}
}

// surfaces are the room's, false where they are not sound, which is then among the problems.
func (c *checker) surfaces() ([]place.Surface, bool) {
	if !c.shapesFit() {
		return nil, false
	}
	surfaces, err := c.p.Surfaces()
	if err != nil {
		c.unsoundSurfaces()
	}
	return surfaces, err == nil
}

// insideSurfaces wants what was surveyed to lie within the room.
func (c *checker) insideSurfaces(surfaces []place.Surface) {
	for i := range c.p.Room.Surfaces {
		c.areasInside(strict.Pointer("/room/surfaces", i), &c.p.Room.Surfaces[i], surfaces)
	}
	for i, l := range c.p.Listening {
		if !insideRoom(surfaces, vec(l.Ear)) {
			c.add(strict.Pointer("/listening_positions", i, "ear_m"), fmt.Sprintf("(%g, %g, %g)", l.Ear[0], l.Ear[1], l.Ear[2]), "an ear point inside the room")
		}
	}
}

func (c *checker) unsoundSurfaces() {
	for i := range c.p.Room.Surfaces {
		if s := &c.p.Room.Surfaces[i]; s.Frame != nil {
			_, err := framed(s)
			switch at := strict.Pointer("/room/surfaces", i, "frame"); {
			case errors.Is(err, place.ErrOutline):
				c.add(at+"/outline_m", "an outline that crosses itself", "corners in order around one area")
			case err != nil:
				c.add(at, err.Error(), "a frame of finite numbers, along and up square to each other")
			}
		}
	}
}

// areasInside wants the surface of an entry to be there, and every opening and keep-out on it. An opening has to be clear
// of what shapes take away; a known pipe may run on behind them.
func (c *checker) areasInside(at string, s *Surface, surfaces []place.Surface) {
	i := slices.IndexFunc(surfaces, func(x place.Surface) bool { return x.Name == s.Name })
	if i < 0 {
		if c.p.Room.makes(s.Name) {
			c.add(at+"/name", strict.Quote(s.Name), "a surface that is there: in this room nothing is left of it")
		}
		return // else of an unfinished room
	}
	whole := surfaces[i]
	whole.Cuts = nil
	for j, a := range areas(s.Openings) {
		if cut, ok := surfaces[i].Reaches(a); ok {
			c.add(strict.Pointer(at, "openings", j), strict.Quote(a.Name)+", which reaches into "+strict.Quote(cut.Name), "an opening beside it")
			continue
		}
		c.areaInside(strict.Pointer(at, "openings", j), a, &whole)
	}
	for j, a := range areas(s.KeepOuts) {
		c.areaInside(strict.Pointer(at, "keep_outs", j), a, &whole)
	}
}

// areaInside wants every corner of an area on a surface.
func (c *checker) areaInside(at string, a place.Area, s *place.Surface) {
	long, high := 0.0, 0.0
	for _, p := range s.Outline {
		for _, q := range s.Outline {
			long, high = max(long, p.Along-q.Along), max(high, p.Up-q.Up)
		}
	}
	for _, side := range [2]struct {
		key, way    string
		size, there float64
	}{{"width_m", "wide", a.Max.Along - a.Min.Along, long}, {"height_m", "high", a.Max.Up - a.Min.Up, high}} {
		if math.Round(side.size*1e6) > math.Round(side.there*1e6) {
			c.add(at+"/"+side.key, fmt.Sprintf("%s, %.3f m %s", strict.Quote(a.Name), side.size, side.way), fmt.Sprintf("at most %.3f m: %s is no more", side.there, strict.Quote(s.Name)))
			return
		}
	}
	for _, corner := range [4]place.Spot{a.Min, {Along: a.Max.Along, Up: a.Min.Up}, a.Max, {Along: a.Min.Along, Up: a.Max.Up}} {
		if !s.Contains(corner) {
			c.add(at, "a corner at "+spotText(corner), "an area inside the outline of "+strict.Quote(s.Name))
			return
		}
	}
}

func spotText(s place.Spot) string { return fmt.Sprintf("%.3f m along, %.3f m up", s.Along, s.Up) }

// insideRoom looks from a point square to every surface, both ways: inside a room the first face met shows its front,
// inside a wall, a chimney breast or out of doors it shows its back, or there is none at all.
func insideRoom(surfaces []place.Surface, p place.Vec) bool {
	met := false
	for i := range surfaces {
		for _, sign := range [2]float64{1, -1} {
			ray := surfaces[i].Normal().Scale(sign)
			hit, ok := place.Meet(surfaces, p, ray)
			if !ok {
				continue
			}
			if met = true; ray.Dot(surfaces[hit.Surface].Normal()) >= 0 {
				return false
			}
		}
	}
	return met
}

// channels checks the map from layout to outputs to amplifier channels: nothing twice, nothing out of range.
func (c *checker) channels() {
	l := c.p.Loudspeakers()
	outputs := map[int]string{}
	feeds := map[string]string{}
	for i := range c.p.Mounts {
		m, at := &c.p.Mounts[i], strict.Pointer("/mounts", i)
		if _, ok := l.Loudspeaker(m.Channel); !ok {
			var known []string
			for _, s := range l.Loudspeakers {
				known = append(known, s.Label)
			}
			c.add(at+"/channel", strict.Quote(m.Channel), "a channel of "+l.Name+": "+quoted(known))
		}
		if m.Output > c.p.Processor.Outputs {
			c.add(at+"/output", strconv.Itoa(m.Output), fmt.Sprintf("an output from 1 to %d", c.p.Processor.Outputs))
		}
		if other, ok := outputs[m.Output]; ok {
			c.add(at+"/output", strconv.Itoa(m.Output), "an output that "+other+" does not use")
		}
		outputs[m.Output] = m.Channel
		if m.Amplifier == "" {
			continue
		}
		a := c.p.Amplifier(m.Amplifier)
		if a == nil {
			c.add(at+"/amplifier", strict.Quote(m.Amplifier), "one of "+quoted(namesOf(c.p.Amplifiers)))
			continue
		}
		if m.AmpChannel < 1 || m.AmpChannel > a.Channels {
			c.add(at+"/amplifier_channel", strconv.Itoa(m.AmpChannel), fmt.Sprintf("a channel of %q from 1 to %d", a.Name, a.Channels))
		}
		feed := strconv.Itoa(m.AmpChannel) + " " + m.Amplifier
		if other, ok := feeds[feed]; ok {
			c.add(at+"/amplifier_channel", strconv.Itoa(m.AmpChannel), "an amplifier channel that "+other+" does not use")
		}
		feeds[feed] = m.Channel
	}
}

// known says a name the plan does not have; it is true if the plan has it.
func known[T any, P named[T]](c *checker, at, name string, list []T) bool {
	if find[T, P](list, name) != nil {
		return true
	}
	c.add(at, strict.Quote(name), "one of "+quoted(namesOf[T, P](list)))
	return false
}

func (c *checker) mount(at string, m *Mount, surfaces []place.Surface) {
	p := c.p
	sound := known(c, at+"/loudspeaker", m.Model, p.Models)
	if sound {
		c.feed(at, m, p.Model(m.Model))
	}
	known(c, at+"/cable", m.Cable, p.Cables)
	if m.Fixing != "" {
		known(c, at+"/fixing", m.Fixing, p.Fixings)
	}
	if m.AimAt != "" {
		sound = known(c, at+"/aim_at", m.AimAt, p.Listening) && sound
	}
	if m.Bracket != "" {
		sound = known(c, at+"/bracket", m.Bracket, p.Brackets) && sound
	}
	i := slices.IndexFunc(surfaces, func(x place.Surface) bool { return x.Name == m.Surface })
	if i < 0 {
		var names []string
		for _, x := range surfaces {
			names = append(names, x.Name)
		}
		c.add(at+"/surface", strict.Quote(m.Surface), "one of "+quoted(names))
		return
	}
	s := &surfaces[i]
	if m.Bracket == "" && s.Normal().Z < floorLike {
		c.add(at+"/bracket", "nothing", "a bracket: only what stands on a floor has none")
		return
	}
	if !sound {
		return
	}
	c.holes(at, m, s)
	if _, err := p.Pose(m.Channel); errors.Is(err, place.ErrAim) {
		c.add(at, "an ear point within the loudspeaker's reach", "a place from which it can aim at the listening position")
	} else if err != nil {
		c.add(at, err.Error(), "a mount that can be placed")
	}
}

// floorLike is the least rise of a surface's normal on which something can stand: a slope of about 25 degrees at most.
const floorLike = 0.9

// feed checks that amplifier, loudspeaker and driver bridge fit together.
func (c *checker) feed(at string, m *Mount, model *Model) {
	switch {
	case model.Active && m.Amplifier != "":
		c.add(at+"/amplifier", strict.Quote(m.Amplifier), "none: the loudspeaker is active")
	case !model.Active && m.Amplifier == "":
		c.add(at+"/amplifier", "nothing", "an amplifier: the loudspeaker is passive")
	}
	settings := namesOf(model.Bridges)
	switch {
	case len(settings) == 0 && m.Bridge != "":
		c.add(at+"/driver_bridge", strict.Quote(m.Bridge), "none: the loudspeaker has no driver bridges")
	case len(settings) > 0 && !slices.Contains(settings, m.Bridge):
		c.add(at+"/driver_bridge", strict.Quote(m.Bridge), "one of "+quoted(settings))
	}
}

// holes wants every screw of the bracket, or the spot of what stands, on the surface and clear of openings and
// keep-outs with the clearance these ask for. How close to an edge a hole may come is a tolerance and judged later.
func (c *checker) holes(at string, m *Mount, s *place.Surface) {
	pattern := []place.Spot{{}}
	if b := c.p.Bracket(m.Bracket); b != nil {
		pattern = spots(b.Holes)
	}
	for i, h := range pattern {
		spot := place.Spot{Along: m.Along + h.Along, Up: m.Up + h.Up}
		read := "hole " + strconv.Itoa(i+1) + " at " + spotText(spot)
		if m.Bracket == "" {
			read = spotText(spot)
		}
		if !s.Contains(spot) {
			want := "a spot inside the outline of " + strict.Quote(s.Name)
			for _, cut := range s.Cuts {
				if (&place.Surface{Outline: cut.Outline}).Contains(spot) {
					want = "a spot of " + strict.Quote(s.Name) + " beside " + strict.Quote(cut.Name)
				}
			}
			c.add(at+"/along_m", read, want)
			return
		}
		if near := s.ClearOf(spot, 0); near.Obstacle != place.Edge && near.Spare < 0 {
			c.add(at+"/along_m", read, fmt.Sprintf("a spot clear of %s %q", near.Obstacle, near.Name))
			return
		}
	}
}

package judge

import (
	"math"
	"strings"

	"hangtrue/compute/tape"
)

// moves says which way to move on the mount's surface in the words of someone
// facing it: dAlong and dUp (metres) are how far the spot has to go. Parts of less
// than half a millimetre are left out.
func (c Case) moves(dAlong, dUp float64) string {
	right, left, up, down := c.ways()
	var parts []string
	for _, m := range []struct {
		by             float64
		forward, other string
	}{{dAlong, right, left}, {dUp, up, down}} {
		if math.Abs(m.by) < 0.0005 {
			continue
		}
		word := m.forward
		if m.by < 0 {
			word = m.other
		}
		parts = append(parts, tape.FormatSmall(math.Abs(m.by), c.system())+" "+word)
	}
	return strings.Join(parts, ", ")
}

// ways are the words for further and back along a surface, and further and back
// up it. A wall or slope whose up axis runs downhill is faced the other way
// round: its along runs to the left. A slope at a side wall has along uphill and
// up level: left and right say nothing there.
func (c Case) ways() (right, left, up, down string) {
	if s := c.surface(); s == nil || s.Frame == nil { // made by the box or a shape
		switch c.Mount.Surface {
		case "ceiling":
			return "away from the left wall", "towards the left wall", "away from the front wall", "towards the front wall"
		case "floor":
			return "away from the left wall", "towards the left wall", "away from the rear wall", "towards the rear wall"
		}
	}
	m, err := c.placed(c.Mount.Channel)
	switch {
	case err != nil || math.Abs(m.Surface.Along.Z) > level || math.Abs(m.Surface.Up.Z) <= level:
		return "further along", "back along", "further from the datum edge", "nearer to the datum edge"
	case m.Surface.Up.Z < 0:
		return "left", "right", "down", "up"
	}
	return "right", "left", "up", "down"
}

// level is the rise in a metre up to which a direction on a surface counts as level.
const level = 0.2

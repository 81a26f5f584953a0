package judge

import (
	"math"
	"strings"

	"hangtrue/compute/tape"
)

// moves says which way to move on a surface in the words of someone facing it:
// dAlong and dUp (metres) are how far the spot has to go. Parts of less than half
// a millimetre are left out.
func (c Case) moves(surface string, dAlong, dUp float64) string {
	right, left, up, down := "right", "left", "up", "down"
	switch surface {
	case "front", "right", "rear", "left":
	case "ceiling":
		right, left, up, down = "away from the left wall", "towards the left wall", "away from the front wall", "towards the front wall"
	case "floor":
		right, left, up, down = "away from the left wall", "towards the left wall", "away from the rear wall", "towards the rear wall"
	default:
		right, left = "further along", "back along"
	}
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

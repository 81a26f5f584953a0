package propose

import (
	"fmt"
	"math"

	"hangtrue/compute/place"
)

// A fault is what stands against a spot.
type fault struct {
	kind         faultKind
	name         string
	angle, limit float64 // of a bracket that would have to turn too far, radians; no angle where it is about many spots
}

type faultKind int

const (
	beyond faultKind = iota + 1
	edge
	opening
	keepOut
	swing
	tilt
	unreachable
	unframed
	sticks
	hiddenBy
	inDoorway
	cabinet
	gap
	outsideSector
)

// fault is what stands against the reference hole at a spot, the first thing an installer would notice.
func (w *way) fault(hole place.Spot) (fault, bool) {
	if !w.side.Contains(hole) {
		return fault{kind: beyond, name: w.side.title}, true
	}
	sector := w.zone == nil && !w.allows(hole)
	for i := 0; w.zone != nil && i < len(w.zone.Constraints); i++ {
		c := &w.zone.Constraints[i]
		if math.Round(w.zone.Value(i, hole)*1e6) >= 0 {
			continue
		}
		switch c.Rule {
		case place.SurfaceOpening:
			return fault{kind: opening, name: c.Name}, true
		case place.SurfaceKeepOut:
			return fault{kind: keepOut, name: c.Name}, true
		case place.SurfaceEdge:
			return fault{kind: edge, name: w.side.title}, true
		case place.PermittedDirection:
			sector = true
		}
	}
	m := w.mount
	m.Hole = hole
	pose, err := place.Aim(m, w.seek.s.listener.Ear)
	if err != nil {
		return fault{kind: unreachable}, true
	}
	if w.bracket != nil && w.waived != turning {
		for _, x := range []struct {
			kind          faultKind
			by, low, high float64
			angle         float64
		}{{swing, pose.SwingExcess, w.bracket.SwingMin, w.bracket.SwingMax, pose.Swing}, {tilt, pose.TiltExcess, w.bracket.TiltMin, w.bracket.TiltMax, pose.Tilt}} {
			switch {
			case x.by > 0:
				return fault{kind: x.kind, angle: x.angle, limit: x.high}, true
			case x.by < 0:
				return fault{kind: x.kind, angle: x.angle, limit: x.low}, true
			}
		}
	}
	if sector {
		return fault{kind: outsideSector}, true
	}
	if !w.onFraming(hole) {
		return fault{kind: unframed, name: w.side.title}, true
	}
	c, ok := w.at(hole)
	if !ok {
		if label, bad := w.seek.s.badGap(w.seek.at.Label, w.seek.s.listener.See(pose.Centre)); bad {
			return fault{kind: gap, name: label}, true
		}
		return fault{kind: unreachable}, true
	}
	if f, ok := c.clear(); !ok {
		return f, true
	}
	return fault{}, false
}

func (f fault) turn() string {
	if f.kind == swing {
		return "swing"
	}
	return "tilt"
}

// String says a fault in plain words, to stand in the middle of a sentence.
func (f fault) String() string {
	switch f.kind {
	case beyond:
		return "it would lie beyond the edge of " + f.name
	case edge:
		return "the edge of " + f.name + " is too near"
	case opening:
		return "the " + f.name + " is there"
	case keepOut:
		return "the " + f.name + " is there"
	case swing, tilt:
		if f.angle == 0 {
			return fmt.Sprintf("the bracket does not %s beyond %s", f.turn(), angleText(f.limit))
		}
		return fmt.Sprintf("the bracket would have to %s %s and goes to %s", f.turn(), angleText(f.angle), angleText(f.limit))
	case unreachable:
		return "the loudspeaker cannot aim at the seat from there"
	case unframed:
		return "no framing is behind it"
	case sticks:
		return "the cabinet would stick into " + f.name
	case hiddenBy:
		return f.name + " hides it from the seat"
	case inDoorway:
		return "it would be in the way of the " + f.name
	case cabinet:
		return "the loudspeaker of " + f.name + " is there"
	case gap:
		return "the layout wants another angle between it and " + f.name
	}
	return "it is not where the layout permits it"
}

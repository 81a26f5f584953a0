package layout

import (
	"math"

	"hangtrue/compute/place"
)

// Direction is as package place sees it from a listening position, in radians.
type Direction = place.Direction

// Range is an interval of angles in radians, ends included. A range of azimuths starts at From and runs anticlockwise to To.
type Range struct {
	From float64
	To   float64
}

const (
	turn = 2 * math.Pi
	// quantum is the step in which angles are compared with limits: one microradian, 2.5 um at 2.5 m.
	quantum = 1e-6
)

// Target tells whether the range has no width, so that it names a direction and gives no room around it.
func (r Range) Target() bool { return steps(r.To-r.From) == 0 }

// AnyAzimuth tells whether a range of azimuths is the whole turn.
func (r Range) AnyAzimuth() bool { return steps(r.To-r.From) == steps(turn) }

// InAzimuth tells whether azimuth az lies on the arc that starts at from and runs anticlockwise to to, widened by tol at
// both ends. All are radians and may be given on any turn: pi and -pi are one direction. (-pi, pi) is any azimuth,
// (pi, pi) exactly rear, and so is (pi, -pi). A value that is not finite lies on no arc.
func InAzimuth(az, from, to, tol float64) bool {
	out, ok := outsideArc(az, Range{from, to})
	return ok && steps(math.Abs(out)) <= steps(tol)
}

// outsideArc is how far az lies beyond the nearer end of the arc: 0 on it, positive beyond To (further left), negative
// before From. It is not ok if a value is not finite.
func outsideArc(az float64, r Range) (out float64, ok bool) {
	if !finite(az) || !finite(r.From) || !finite(r.To) {
		return 0, false
	}
	if r.AnyAzimuth() {
		return 0, true
	}
	span := positive(r.To - r.From)
	ahead := positive(az - r.From)
	if steps(ahead) <= steps(span) || steps(ahead) == steps(turn) {
		return 0, true
	}
	if beyond, before := ahead-span, turn-ahead; beyond <= before {
		return beyond, true
	} else {
		return -before, true
	}
}

// outsideInterval is how far x lies beyond the nearer end of r, without wrapping: 0 inside, positive above, negative below.
func outsideInterval(x float64, r Range) float64 {
	switch {
	case steps(x) > steps(r.To):
		return x - r.To
	case steps(x) < steps(r.From):
		return x - r.From
	}
	return 0
}

func steps(angle float64) int64 { return int64(math.Round(angle / quantum)) }

// positive brings an angle into [0, 2 pi).
func positive(angle float64) float64 {
	a := math.Mod(angle, turn)
	if a < 0 {
		a += turn
	}
	return a
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

package place

import (
	"errors"
	"fmt"
	"math"
)

// Errors about what was handed in.
var (
	// ErrNumber is returned when a number is not finite or outside the range its field allows.
	ErrNumber = errors.New("place: number out of range")
	// ErrFrame is returned when a surface's along and up are zero or not square to each other.
	ErrFrame = errors.New("place: along and up must be square to each other")
	// ErrOutline is returned when a surface's outline is not a simple polygon with an area.
	ErrOutline = errors.New("place: outline must be a simple polygon")
	// ErrNoSurface is returned when a mount has no surface.
	ErrNoSurface = errors.New("place: mount without a surface")
)

// Errors about what cannot be done.
var (
	// ErrAim is returned when no swing and tilt bring the axis through the target: it lies within the loudspeaker's reach.
	ErrAim = errors.New("place: the axis cannot pass through the target")
	// ErrVertical is returned when a direction has no rates of change because the point lies straight above or below
	// the ear point, or in it.
	ErrVertical = errors.New("place: straight above or below the ear point azimuth has no rate of change")
)

// greatest is the largest number taken, in metres or radians. National grid coordinates are below 1e7; squares of what is
// beyond 1e9 leave no digits for a millimetre.
const greatest = 1e9

// finite refuses NaN and what is beyond [greatest] in a named field.
func finite(field string, values ...float64) error {
	for _, v := range values {
		if !(math.Abs(v) <= greatest) {
			return fmt.Errorf("%w: %s: read %v, want a number of at most %g either way", ErrNumber, field, v, float64(greatest))
		}
	}
	return nil
}

// notNegative refuses NaN, negative numbers and what is beyond [greatest] in a named field.
func notNegative(field string, v float64) error {
	if !(v >= 0 && v <= greatest) {
		return fmt.Errorf("%w: %s: read %v, want 0 to %g", ErrNumber, field, v, float64(greatest))
	}
	return nil
}

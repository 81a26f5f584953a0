package wiring

import (
	"errors"
	"fmt"
	"math"
)

// Errors about a number that was handed in.
var (
	// ErrLength is returned when a length is not finite, not positive or beyond [MaxLength].
	ErrLength = errors.New("wiring: length out of range")
	// ErrImpedance is returned when an impedance or a coil's resistance is not between [MinImpedance] and [MaxImpedance].
	ErrImpedance = errors.New("wiring: impedance out of range")
	// ErrResistance is returned when a resistance is negative, not finite or beyond [MaxImpedance].
	ErrResistance = errors.New("wiring: resistance out of range")
	// ErrTemperature is returned when a temperature is not between [MinTemperature] and [MaxTemperature].
	ErrTemperature = errors.New("wiring: temperature out of range")
	// ErrNumber is returned when a ratio, a factor or a level is not finite or outside what its field allows.
	ErrNumber = errors.New("wiring: number out of range")
)

// Errors about conductors.
var (
	// ErrConductor is returned when a text is not a conductor this package knows, or a Conductor was never set.
	ErrConductor = errors.New("wiring: unknown conductor")
	// ErrSize is returned when a conductor's size is outside the table its kind is looked up in.
	ErrSize = errors.New("wiring: conductor size outside the table")
)

// Errors about routes and lengths to buy.
var (
	// ErrOutside is returned when a point lies outside the room.
	ErrOutside = errors.New("wiring: point outside the room")
	// ErrNoRoute is returned when blocked stretches leave no way between two points.
	ErrNoRoute = errors.New("wiring: no route")
	// ErrReel is returned when one run is longer than a whole reel.
	ErrReel = errors.New("wiring: run longer than a reel")
)

// Errors about the channel map and labels.
var (
	// ErrMap is returned when the gear of a channel map is not well formed: counts below 0, names empty or given twice.
	ErrMap = errors.New("wiring: channel map not well formed")
	// ErrLabel is returned when a name is too long, empty or not printable on a label.
	ErrLabel = errors.New("wiring: name does not fit a label")
)

// Limits that keep every result finite. No house wiring comes near them; a number beyond one is a slip.
const (
	MaxLength      = 10_000.0 // metres
	MinImpedance   = 1e-3     // ohms
	MaxImpedance   = 1e6      // ohms
	MinTemperature = -40.0    // °C
	MaxTemperature = 105.0    // °C: the linear rules are not meant for more
)

// between refuses what is not in [low, high]; NaN is in no range.
func between(sentinel error, field string, v, low, high float64) error {
	if v >= low && v <= high {
		return nil
	}
	return fmt.Errorf("%w: %s: read %v, want %v to %v", sentinel, field, v, low, high)
}

func checkLength(field string, v float64) error {
	if v > 0 && v <= MaxLength {
		return nil
	}
	return fmt.Errorf("%w: %s: read %v, want more than 0 and at most %v m", ErrLength, field, v, MaxLength)
}

func checkImpedance(field string, v float64) error {
	return between(ErrImpedance, field, v, MinImpedance, MaxImpedance)
}

func checkResistance(field string, v float64) error {
	return between(ErrResistance, field, v, 0, MaxImpedance)
}

func checkTemperature(v float64) error {
	return between(ErrTemperature, "temperature", v, MinTemperature, MaxTemperature)
}

// micro counts millionths, halves away from zero: limits are compared as these. Beyond what an int64 holds it saturates.
func micro(v float64) int64 {
	switch {
	case v > 9e12:
		return math.MaxInt64
	case v < -9e12:
		return math.MinInt64
	}
	return int64(math.Round(v * 1e6))
}

package rack

import (
	"errors"
	"fmt"
	"math"
)

// Errors about what was handed in.
var (
	// ErrNumber is returned when a number is not finite or outside the range its field allows.
	ErrNumber = errors.New("rack: number out of range")
	// ErrUnits is returned when a height in rack units is not a number a rack or a panel can have.
	ErrUnits = errors.New("rack: rack units out of range")
	// ErrName is returned when an item has no name or one that another item has.
	ErrName = errors.New("rack: name missing or given twice")
	// ErrRule is returned when a rule is not one of those named here.
	ErrRule = errors.New("rack: unknown rule")
)

// Errors about what is not known.
var (
	// ErrNoHeat is returned when an item has neither a maker's figure nor an efficiency to work its heat out from.
	ErrNoHeat = errors.New("rack: heat is not known")
	// ErrNoBreaker is returned when no breaker size held here is large enough.
	ErrNoBreaker = errors.New("rack: no breaker large enough")
)

// Limits that keep every result finite and catch slips.
const (
	MaxUnits   = 100  // rack units
	MaxPower   = 1e6  // watts, of one item or a whole rack
	MaxMass    = 1e5  // kilograms
	MaxCurrent = 1e4  // amperes
	MaxVoltage = 1000 // volts
	MaxItems   = 1000
)

// between refuses what is not in [low, high]; NaN is in no range.
func between(field string, v, low, high float64) error {
	if v >= low && v <= high {
		return nil
	}
	return fmt.Errorf("%w: %s: read %v, want %v to %v", ErrNumber, field, v, low, high)
}

// above refuses what is not in (0, high].
func above(field string, v, high float64) error {
	if v > 0 {
		return between(field, v, 1e-6, high)
	}
	return fmt.Errorf("%w: %s: read %v, want more than 0", ErrNumber, field, v)
}

// milli counts thousandths, halves away from zero: limits are compared as these.
func milli(v float64) int64 { return int64(math.Round(v * 1e3)) }

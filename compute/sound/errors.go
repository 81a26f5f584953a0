package sound

import (
	"errors"
	"fmt"
	"math"
)

// Errors about numbers handed in.
var (
	// ErrInput is returned when a number is not finite or outside the range its field allows.
	ErrInput = errors.New("sound: number out of range")
	// ErrValidity is returned when a number is possible but outside the range a formula was published for.
	ErrValidity = errors.New("sound: outside the range of the formula")
	// ErrList is returned when a list is empty, too long, or its rows do not match.
	ErrList = errors.New("sound: bad list")
	// ErrChannel is returned when a channel has no name, one that another has too, or does not exist.
	ErrChannel = errors.New("sound: bad channel")
)

// Errors about a recording.
var (
	// ErrWAV is returned when data is not a RIFF WAVE file, or one that contradicts itself.
	ErrWAV = errors.New("sound: not a sound WAVE file")
	// ErrFormat is returned when a WAVE file's samples are of a kind that is not read here.
	ErrFormat = errors.New("sound: kind of samples not read")
	// ErrLength is returned when a recording is empty, cut off, or longer than the limit.
	ErrLength = errors.New("sound: bad length of recording")
	// ErrSilence is returned when every sample of the chosen channel is zero.
	ErrSilence = errors.New("sound: recording is silent")
	// ErrSample is returned when a sample is not a finite number.
	ErrSample = errors.New("sound: sample is not a finite number")
)

// The ranges that fields are held to. They are far wider than any installation, and narrow enough that no result overflows.
const (
	maxDistance  = 1000.0 // metres
	minDistance  = 0.01   // metres, where a level is computed from it: a point source has none at 0
	maxLevel     = 250.0  // decibels, also of gains, either sign
	minPower     = 1e-9   // watts
	maxPower     = 1e9    // watts
	minImpedance = 0.01   // ohms
	maxImpedance = 1e5    // ohms
	minFrequency = 1e-3   // hertz
	maxFrequency = 1e6    // hertz
	minSpeed     = 250.0  // metres a second, air far colder than any room
	maxSpeed     = 450.0  // metres a second, air far hotter
	maxDelay     = 1000.0 // seconds
)

// inRange refuses a number that is not finite or lies outside low to high, both included.
func inRange(field string, v, low, high float64, unit string) error {
	if v >= low && v <= high {
		return nil
	}
	return fmt.Errorf("%w: %s: read %g, want %g to %g%s", ErrInput, field, v, low, high, spaced(unit))
}

// spaced puts a space before a unit, if there is one.
func spaced(unit string) string {
	if unit == "" {
		return ""
	}
	return " " + unit
}

func distanceIn(field string, v float64) error {
	return inRange(field, v, minDistance, maxDistance, "m")
}
func levelIn(field string, v float64) error { return inRange(field, v, -maxLevel, maxLevel, "dB") }
func powerIn(field string, v float64) error { return inRange(field, v, minPower, maxPower, "W") }
func impedanceIn(field string, v float64) error {
	return inRange(field, v, minImpedance, maxImpedance, "ohm")
}
func frequencyIn(field string, v float64) error {
	return inRange(field, v, minFrequency, maxFrequency, "Hz")
}
func speedIn(v float64) error { return inRange("speed of sound", v, minSpeed, maxSpeed, "m/s") }

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

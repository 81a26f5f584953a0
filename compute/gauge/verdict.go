package gauge

import (
	"fmt"
	"math"
)

// Verdict is what a measurement supports. The zero value is Unsure, so that a verdict nobody gave claims nothing.
type Verdict uint8

const (
	Unsure  Verdict = iota // the measurement is not good enough to tell
	Within                 // inside the tolerance by at least its expanded uncertainty
	Outside                // outside the tolerance by more than its expanded uncertainty
)

var verdictNames = [...]string{Unsure: "unsure", Within: "within", Outside: "outside"}

// String gives "within", "outside" or "unsure".
func (v Verdict) String() string {
	if int(v) < len(verdictNames) {
		return verdictNames[v]
	}
	return fmt.Sprintf("Verdict(%d)", uint8(v))
}

// MarshalText writes the name; any other value is an error.
func (v Verdict) MarshalText() ([]byte, error) {
	if int(v) >= len(verdictNames) {
		return nil, fmt.Errorf("gauge: verdict: got %d, want within, outside or unsure", uint8(v))
	}
	return []byte(verdictNames[v]), nil
}

// UnmarshalText reads "within", "outside" or "unsure" exactly.
func (v *Verdict) UnmarshalText(text []byte) error {
	for i, name := range verdictNames {
		if string(text) == name {
			*v = Verdict(i)
			return nil
		}
	}
	return fmt.Errorf("gauge: verdict: got %.40q, want within, outside or unsure", text)
}

const (
	// Micrometre is the quantum of lengths in metres, Microradian that of angles in radians.
	Micrometre  = 1e-6
	Microradian = 1e-6

	// K is the coverage factor of every expanded uncertainty here: about 95 % of a normal distribution.
	K = 2.0
)

// Judge compares a signed deviation with a symmetric tolerance, given the expanded uncertainty: Within if
// |deviation| + expanded <= tolerance, Outside if |deviation| - expanded > tolerance, else Unsure. It is the guarded
// acceptance with a guard band of the expanded uncertainty on both sides of the limit (JCGM 106:2012; ILAC-G8:09/2019
// §4.2.3 calls the middle conditional). That text leaves the boundary itself open; here it counts as good.
//
// All share one unit; each is rounded to whole quanta before the comparison. Unsure if one is not finite, if tolerance or
// expanded is negative or quantum is not positive.
func Judge(deviation, tolerance, expanded, quantum float64) Verdict {
	if !(tolerance >= 0) {
		return Unsure
	}
	return Limits{Lower: -tolerance, Upper: tolerance}.Judge(deviation, expanded, quantum)
}

// Limits are what a value is held against. A side without a limit is infinite. The zero value permits exactly 0.
type Limits struct {
	Target float64 // what was aimed at; only [Evaluate] uses it
	Lower  float64
	Upper  float64
}

// Around permits tolerance on both sides of target.
func Around(target, tolerance float64) Limits {
	return Limits{Target: target, Lower: target - tolerance, Upper: target + tolerance}
}

// AtMost permits everything up to limit, which is also the target.
func AtMost(limit float64) Limits { return Limits{Target: limit, Lower: math.Inf(-1), Upper: limit} }

// AtLeast permits everything from limit on, which is also the target.
func AtLeast(limit float64) Limits { return Limits{Target: limit, Lower: limit, Upper: math.Inf(1)} }

// Interval permits lower to upper; the target is its middle.
func Interval(lower, upper float64) Limits {
	return Limits{Target: lower + (upper-lower)/2, Lower: lower, Upper: upper}
}

// Judge is the function [Judge] for these limits: Within if value is inside both by at least expanded, Outside if it is
// beyond one by more than expanded, else Unsure. Limits that permit nothing (Lower above Upper) are Unsure.
func (l Limits) Judge(value, expanded, quantum float64) Verdict {
	room, ok := l.room(value, quantum)
	u := math.Round(expanded / quantum)
	switch {
	case !ok || !(u >= 0) || math.IsInf(u, 0):
		return Unsure
	case u <= room:
		return Within
	case u < -room:
		return Outside
	}
	return Unsure
}

// room is how many quanta value lies inside the nearest limit: negative outside, infinite without a limit. Whole numbers
// in a float64 are exact and cannot overflow into others.
func (l Limits) room(value, quantum float64) (room float64, ok bool) {
	v := math.Round(value / quantum)
	if !(quantum > 0) || !finite(v) || !(l.Lower <= l.Upper) {
		return 0, false
	}
	return min(v-math.Round(l.Lower/quantum), math.Round(l.Upper/quantum)-v), true
}

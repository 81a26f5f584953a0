package gauge

import (
	"math"
	"slices"

	"hangtrue/compute/tape"
)

// Agreement compares two independent measurements of one thing.
type Agreement struct {
	Difference float64 // first - second
	Limit      float64 // largest difference that the joint uncertainty explains, K sqrt(ua^2 + ub^2)
	Agrees     bool    // |Difference| <= Limit in whole quanta
}

// Agree compares a and b with standard uncertainties ua and ub. Input that is not finite, or a negative uncertainty, does
// not agree.
func Agree(a, ua, b, ub, quantum float64) Agreement {
	g := Agreement{Difference: a - b, Limit: K * math.Hypot(ua, ub)}
	if ua >= 0 && ub >= 0 {
		g.Agrees = Judge(g.Difference, g.Limit, 0, quantum) == Within
	}
	return g
}

// SlipKind is a way to read or write a tape wrongly.
type SlipKind uint8

const (
	SwappedDigits SlipKind = iota + 1 // two neighbouring digits changed places
	WrongStep                         // a round step too many or too few: 10 mm, 100 mm, 1 m, or 1 in, 1 ft
	WrongCorner                       // measured from the other end of the surface
	HookMissed                        // the hook was not over the edge, or its length was counted
)

var slipNames = [...]string{SwappedDigits: "swapped digits", WrongStep: "wrong step", WrongCorner: "wrong corner", HookMissed: "hook missed"}

// String names the kind in plain words, empty for an unknown one.
func (k SlipKind) String() string {
	if int(k) < len(slipNames) {
		return slipNames[k]
	}
	return ""
}

// Slip is a guess at what went wrong: had the reading been Value, both measurements would agree.
type Slip struct {
	Kind     SlipKind
	Value    float64 // metres: what the tape should have said
	Step     float64 // metres: Value minus the reading
	Residual float64 // difference of the measurements that is left, in the unit of the check
}

// Doubt describes a tape reading that another measurement contradicts.
type Doubt struct {
	Reading float64     // metres, as the tape was read
	System  tape.System // whose digits were read: millimetres, or whole inches
	Span    float64     // metres from datum to the opposite corner, 0 if unknown
	Hook    float64     // metres by which a missed hook shifts the reading, 0 if unknown
	// Predict gives what the other instrument should show for a tape reading (metres); nil if both measure the same length.
	Predict func(reading float64) float64
	Other   float64 // what the other instrument shows
	Limit   float64 // [Agreement.Limit] of Predict(Reading) against Other, in their unit
	Quantum float64
}

// Slips lists the likely slips that would make the two measurements agree, smallest residual first, and among equals the
// commoner kind first (in the order of the kinds; common practice, no source). None is proven: it is a hint what to look
// for when measuring again. The list is empty if the measurements agree as they are, if nothing explains them, or if the
// input is not finite.
func Slips(d Doubt) []Slip {
	predict := d.Predict
	if predict == nil {
		predict = func(reading float64) float64 { return reading }
	}
	fits := func(reading float64) (residual float64, ok bool) {
		residual = predict(reading) - d.Other
		return residual, Judge(residual, d.Limit, 0, d.Quantum) == Within
	}
	if _, err := tape.Micrometres(d.Reading); err != nil || !(d.Quantum > 0) || !finite(d.Other) {
		return nil
	}
	if _, ok := fits(d.Reading); ok {
		return nil
	}
	var slips []Slip
	for _, c := range d.candidates() {
		if c.Value < 0 || d.Span > 0 && c.Value > d.Span {
			continue
		}
		var ok bool
		if c.Residual, ok = fits(c.Value); !ok {
			continue
		}
		c.Step = c.Value - d.Reading
		if !slices.ContainsFunc(slips, func(s Slip) bool { return math.Abs(s.Value-c.Value) < Micrometre }) {
			slips = append(slips, c)
		}
	}
	slices.SortStableFunc(slips, func(a, b Slip) int {
		ra, rb := math.Round(math.Abs(a.Residual)/d.Quantum), math.Round(math.Abs(b.Residual)/d.Quantum)
		switch {
		case ra < rb:
			return -1
		case ra > rb:
			return 1
		}
		return int(a.Kind) - int(b.Kind)
	})
	return slips
}

// candidates are the readings each kind of slip would come from, in the order of the kinds.
func (d Doubt) candidates() []Slip {
	var c []Slip
	unit, steps := 0.001, []float64{0.01, 0.1, 1}
	if d.System == tape.Imperial {
		unit, steps = 0.0254, []float64{0.0254, 0.3048}
	}
	for _, v := range swaps(d.Reading, unit) {
		c = append(c, Slip{Kind: SwappedDigits, Value: v})
	}
	for _, s := range steps {
		c = append(c, Slip{Kind: WrongStep, Value: d.Reading - s}, Slip{Kind: WrongStep, Value: d.Reading + s})
	}
	if d.Span > 0 {
		c = append(c, Slip{Kind: WrongCorner, Value: d.Span - d.Reading})
	}
	if d.Hook > 0 {
		c = append(c, Slip{Kind: HookMissed, Value: d.Reading - d.Hook}, Slip{Kind: HookMissed, Value: d.Reading + d.Hook})
	}
	return c
}

// swaps gives reading with each pair of neighbouring, different digits of its whole units exchanged; what is less than a
// unit stays. A leading zero counts as a digit one place up, so that 0954 for 9054 is found.
func swaps(reading, unit float64) []float64 {
	// A reading of whole units must not fall to the unit below by the last bit of the division.
	n := int64(math.Floor(reading/unit + 1e-6))
	rest := reading - float64(n)*unit
	if n <= 0 {
		return nil
	}
	var out []float64
	for low := int64(1); low <= n; low *= 10 {
		a, b := n/low%10, n/(low*10)%10
		if a != b {
			out = append(out, float64(n+(a-b)*(low*10)+(b-a)*low)*unit+rest)
		}
	}
	return out
}

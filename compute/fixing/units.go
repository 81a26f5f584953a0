package fixing

import "math"

// The empirical equations of NDS 2018 hold in pounds-force, inches and pounds per
// square inch only. Everything is converted here and nowhere else.
const (
	// Gravity is the standard acceleration of free fall, m/s² (conventional value).
	Gravity = 9.80665

	inch       = 0.0254                     // m, exact
	poundForce = 4.4482216152605            // N, exact product of the pound and Gravity
	psi        = poundForce / (inch * inch) // Pa
	mm         = 0.001                      // m
	megapascal = 1e6                        // Pa
)

// inches converts a length. Rounding to a billionth of an inch keeps a diameter
// that was written in inches on its side of a limit such as "D >= 1/4 in".
func inches(metres float64) float64 {
	return math.Round(metres/inch*1e9) / 1e9
}

func finite(values ...float64) bool {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

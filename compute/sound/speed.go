package sound

import (
	"cmp"
	"fmt"
	"math"
)

// zeroCelsius is 0 degrees Celsius in kelvin.
const zeroCelsius = 273.15

// Speed is the speed of sound in metres a second in air of the given temperature in degrees Celsius:
// c = 343.2 sqrt((t + 273.15) / 293.15) (ISO 9613-1:1993, read in a public implementation of it).
//
// The error is [ErrInput] outside -20 to 50 degrees Celsius, the range of that standard's tables (from memory, not verified).
func Speed(temperature float64) (float64, error) {
	if err := inRange("air temperature", temperature, -20, 50, "°C"); err != nil {
		return 0, err
	}
	return 343.2 * math.Sqrt((temperature+zeroCelsius)/293.15), nil
}

// Air is what the speed of sound depends on.
type Air struct {
	Temperature   float64 // degrees Celsius
	Humidity      float64 // relative, 0 to 1
	Pressure      float64 // pascals
	CarbonDioxide float64 // mole fraction, 0 to 0.01
}

// Ordinary values for [Air].
const (
	StandardPressure      = 101325.0 // pascals
	OrdinaryCarbonDioxide = 0.0004   // mole fraction outdoors; a closed room has more. Common practice, no source
)

// cramer holds the coefficients a0 to a15 of O. Cramer, J. Acoust. Soc. Am. 93 (1993), read in a public implementation.
var cramer = [16]float64{
	331.5024, 0.603055, -0.000528, 51.471935, 0.1495874, -0.000782, -1.82e-7, 3.73e-8,
	-2.93e-10, -85.20931, -0.228525, 5.91e-5, -2.835149, -2.15e-13, 29.179762, 0.000486,
}

// Speed is the speed of sound in metres a second in humid air (O. Cramer, J. Acoust. Soc. Am. 93, 1993, read in a public
// implementation). With t in degrees Celsius, p in pascals, xw and xc the mole fractions of water vapour and carbon dioxide:
//
//	c = a0 + a1 t + a2 t^2 + (a3 + a4 t + a5 t^2) xw + (a6 + a7 t + a8 t^2) p + (a9 + a10 t + a11 t^2) xc
//	    + a12 xw^2 + a13 p^2 + a14 xc^2 + a15 xw p xc
//
// The error is [ErrInput] for what cannot be, and [ErrValidity] outside 0 to 30 degrees Celsius and 75 to 102 kPa, where
// the formula was published, or above a mole fraction of 0.01 of carbon dioxide (from memory, not verified).
func (a Air) Speed() (float64, error) {
	err := cmp.Or(
		inRange("air temperature", a.Temperature, -zeroCelsius, 1000, "°C"),
		inRange("relative humidity", a.Humidity, 0, 1, ""),
		inRange("air pressure", a.Pressure, 0, 1e7, "Pa"),
		inRange("carbon dioxide fraction", a.CarbonDioxide, 0, 1, ""),
		validFor("air temperature", a.Temperature, 0, 30, "°C"),
		validFor("air pressure", a.Pressure, 75e3, 102e3, "Pa"),
		validFor("carbon dioxide fraction", a.CarbonDioxide, 0, 0.01, ""),
	)
	if err != nil {
		return 0, err
	}
	t, p, xc, xw := a.Temperature, a.Pressure, a.CarbonDioxide, a.waterVapour()
	in := func(i int) float64 { return cramer[i] + cramer[i+1]*t + cramer[i+2]*t*t }
	return in(0) + in(3)*xw + in(6)*p + in(9)*xc +
		cramer[12]*xw*xw + cramer[13]*p*p + cramer[14]*xc*xc + cramer[15]*xw*p*xc, nil
}

// waterVapour is the mole fraction xw = RH f psv / p, with the saturation pressure psv and the enhancement factor f of the
// same paper.
func (a Air) waterVapour() float64 {
	t, k := a.Temperature, a.Temperature+zeroCelsius
	saturation := math.Exp(1.2378847e-5*k*k - 1.9121316e-2*k + 33.93711047 - 6343.1645/k)
	enhancement := 1.00062 + 3.14e-8*a.Pressure + 5.6e-7*t*t
	return a.Humidity * enhancement * saturation / a.Pressure
}

// validFor refuses a possible number outside the range a formula was published for.
func validFor(field string, v, low, high float64, unit string) error {
	if v >= low && v <= high {
		return nil
	}
	return fmt.Errorf("%w: %s: read %g, want %g to %g%s", ErrValidity, field, v, low, high, spaced(unit))
}

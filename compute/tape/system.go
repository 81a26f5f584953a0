package tape

import "fmt"

// Unit is what a bare number counts.
type Unit uint8

const (
	Metre Unit = iota
	Centimetre
	Millimetre
	Inch
	Foot
)

// micrometres in one unit; the inch is 25.4 mm by definition (international yard and pound agreement of 1959), so all
// five are whole numbers.
var micrometres = [...]int64{Metre: 1_000_000, Centimetre: 10_000, Millimetre: 1_000, Inch: 25_400, Foot: 304_800}

var unitNames = [...]string{Metre: "m", Centimetre: "cm", Millimetre: "mm", Inch: "in", Foot: "ft"}

// String gives the unit's symbol ("m", "cm", "mm", "in", "ft").
func (u Unit) String() string {
	if int(u) < len(unitNames) {
		return unitNames[u]
	}
	return fmt.Sprintf("Unit(%d)", uint8(u))
}

// imperial tells whether fractions are usual with the unit.
func (u Unit) imperial() bool { return u == Inch || u == Foot }

// System is the family of units a job is worked in.
type System uint8

const (
	Metric System = iota
	Imperial
)

var systemNames = [...]string{Metric: "metric", Imperial: "imperial"}

// String gives "metric" or "imperial".
func (s System) String() string {
	if int(s) < len(systemNames) {
		return systemNames[s]
	}
	return fmt.Sprintf("System(%d)", uint8(s))
}

// Bare is the unit of a number typed without one: metres in metric, inches in imperial.
func (s System) Bare() Unit {
	if s == Imperial {
		return Inch
	}
	return Metre
}

// Division is the smallest step shown to people, in metres: 1 mm, or 1/16 in.
func (s System) Division() float64 {
	if s == Imperial {
		return 0.0254 / 16
	}
	return 0.001
}

// MarshalText writes "metric" or "imperial"; any other value is an error.
func (s System) MarshalText() ([]byte, error) {
	if int(s) >= len(systemNames) {
		return nil, fmt.Errorf("tape: system: got %d, want metric or imperial", uint8(s))
	}
	return []byte(systemNames[s]), nil
}

// UnmarshalText reads "metric" or "imperial" exactly.
func (s *System) UnmarshalText(text []byte) error {
	for i, name := range systemNames {
		if string(text) == name {
			*s = System(i)
			return nil
		}
	}
	return fmt.Errorf("tape: system: got %.40q, want metric or imperial", text)
}

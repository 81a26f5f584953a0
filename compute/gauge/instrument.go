package gauge

import (
	"fmt"
	"math"
	"slices"
)

// Instrument is a kind of instrument by the name a record keeps.
type Instrument string

const (
	TapeI        Instrument = "tape-1"        // tape of accuracy class I
	TapeII       Instrument = "tape-2"        // class II, the usual one
	TapeIII      Instrument = "tape-3"        // class III; assume it where no class is marked
	Laser        Instrument = "laser"         // laser distance meter
	Level        Instrument = "level"         // builder's spirit level, 0.5 mm/m
	LevelCoarse  Instrument = "level-coarse"  // cheaper spirit level, 1.0 mm/m
	Phone        Instrument = "phone"         // phone as inclinometer, not zeroed
	PhoneFlipped Instrument = "phone-flipped" // the same, zeroed by a flip test, see [Flip]
)

// Instruments lists every instrument.
func Instruments() []Instrument {
	return []Instrument{TapeI, TapeII, TapeIII, Laser, Level, LevelCoarse, Phone, PhoneFlipped}
}

// Known tells whether the name is one of [Instruments].
func (i Instrument) Known() bool { return slices.Contains(Instruments(), i) }

// Angular tells whether the instrument measures an angle (radians) rather than a length (metres).
func (i Instrument) Angular() bool {
	return i == Level || i == LevelCoarse || i == Phone || i == PhoneFlipped
}

const (
	// ReadingTape is the standard uncertainty, in metres, of reading a hand-held tape: sag, hook, parallax and the hand.
	// Practice ranges from 0.5 to 1.5 mm. Common practice, no source.
	ReadingTape = 0.001

	practice = "common practice, no source"
)

// MPE figures of tapes in tenths of a millimetre: a + b L, and c more if the measured length starts at a surface (hook or
// butt end). Directive 2014/32/EU, Annex X (MI-008), Chapter I.
var tapeMPE = map[Instrument]struct {
	a, b, c float64
	name    string
}{
	TapeI:   {1, 1, 1, "tape class I"},
	TapeII:  {3, 2, 2, "tape class II"},
	TapeIII: {6, 4, 3, "tape class III"},
}

// TapeMPE is the maximum permissible error, in metres, of a tape over a length (metres), by Directive 2014/32/EU Annex X:
// (a + b L) mm with L the length rounded up to a whole metre, + c if the length starts at a surface, as it does from a hook
// or butt end. The error is [ErrInput].
func TapeMPE(class Instrument, length float64, fromSurface bool) (float64, error) {
	m, ok := tapeMPE[class]
	if !ok {
		return 0, fmt.Errorf("%w: tape class: read %.40q, want %s, %s or %s", ErrInput, class, TapeI, TapeII, TapeIII)
	}
	if !(length >= 0 && length <= 1000) {
		return 0, fmt.Errorf("%w: length: read %g, want 0 to 1000 m", ErrInput, length)
	}
	// Whole micrometres first: 3 m must not become 4 m by the last bit of a sum.
	metres := math.Ceil(math.Round(length*1e6) / 1e6)
	tenths := m.a + float64(m.b*metres)
	if fromSurface {
		tenths += m.c
	}
	return tenths / 1e4, nil
}

// Rectangular is the standard uncertainty of a value known only to lie within halfWidth, a/sqrt(3) (JCGM 100:2008 4.3.7).
func Rectangular(halfWidth float64) float64 { return halfWidth / math.Sqrt(3) }

// Resolution is the standard uncertainty of reading to whole divisions, division/sqrt(12) (JCGM 100:2008 F.2.2.1).
func Resolution(division float64) float64 { return Rectangular(division / 2) }

// LaserStandard is the standard uncertainty, in metres, of a laser distance meter over a length (metres). The figure is one
// published statement of a usual instrument, 1 mm at two sigma up to 10 m and 0.025 mm/m beyond; ISO 16331-1:2017 fixes how
// such statements are tested, not how large they are.
func LaserStandard(length float64) float64 {
	return (0.001 + float64(0.025e-3*math.Max(0, length-10))) / 2
}

// angleStandard holds the standard uncertainty (radians) of each angular instrument and where it is from.
var angleStandard = map[Instrument]Component{
	Level:        {Name: "spirit level", Standard: Rectangular(0.5e-3), Basis: "0.5 mm/m as usually stated for builder's levels, taken as limits"},
	LevelCoarse:  {Name: "spirit level", Standard: Rectangular(1e-3), Basis: "1.0 mm/m as usually stated for cheaper levels, taken as limits"},
	Phone:        {Name: "phone level", Standard: 1.0 * math.Pi / 180, Basis: "1.0° not zeroed: " + practice},
	PhoneFlipped: {Name: "phone level", Standard: 0.3 * math.Pi / 180, Basis: "0.3° after a flip test: " + practice},
}

// Flip takes the readings of a level before and after it is turned end for end on the same surface: the surface's own
// slope is (a-b)/2, the level's zero error (a+b)/2.
func Flip(a, b float64) (slope, zero float64) { return (a - b) / 2, (a + b) / 2 }

// Reading is one quantity as it was measured: metres, or radians for an angular instrument.
type Reading struct {
	Instrument Instrument
	Values     []float64 // one reading or several repeats
	// Division is what the instrument resolves, or the step to which the readings were written if that is coarser; 0 if
	// the instrument's figure holds it already.
	Division float64
	// FromSurface is true where a tape's length starts at its hook or butt end.
	FromSurface bool
	// ByHand is the standard uncertainty of reading once by hand; 0 stands for [ReadingTape] with a tape, and for none
	// with other instruments.
	ByHand float64
}

// Evaluate gives the mean of the readings and its uncertainty: the instrument's own, which no repetition lessens, that of
// its division, and that of reading by hand. Repeat readings lessen the last by sqrt(n), but count their spread s/sqrt(n)
// instead wherever that is larger: two readings that agree by luck must not claim more than practice allows.
//
// The error is [ErrReadings] without a reading, else [ErrInput].
func (r Reading) Evaluate() (Measured, error) {
	if len(r.Values) == 0 {
		return Measured{}, fmt.Errorf("%w: read none, want at least 1", ErrReadings)
	}
	if !(r.Division >= 0) || !finite(r.Division) || !(r.ByHand >= 0) || !finite(r.ByHand) {
		return Measured{}, fmt.Errorf("%w: read division %g, by hand %g, want finite and not negative", ErrInput, r.Division, r.ByHand)
	}
	mean, s, err := meanAndSpread(r.Values)
	if err != nil {
		return Measured{}, err
	}
	own, err := r.Instrument.component(mean, r.FromSurface)
	if err != nil {
		return Measured{}, err
	}
	components := append(make([]Component, 0, 3), own)
	if r.Division > 0 {
		components = append(components, Component{Name: "resolution", Standard: Resolution(r.Division), Basis: "rectangular over one division"})
	}
	if hand := r.byHand(s); hand.Standard > 0 {
		components = append(components, hand)
	}
	u, err := Propagate(ones[:len(components)], components)
	if err != nil {
		return Measured{}, err
	}
	return Measured{Value: mean, Uncertainty: u}, nil
}

var ones = []float64{1, 1, 1}

// component is what the instrument itself contributes.
func (i Instrument) component(value float64, fromSurface bool) (Component, error) {
	if m, ok := tapeMPE[i]; ok {
		mpe, err := TapeMPE(i, math.Abs(value), fromSurface)
		return Component{Name: m.name, Standard: Rectangular(mpe), Basis: "Directive 2014/32/EU Annex X, taken as limits"}, err
	}
	if i == Laser {
		if !(value >= 0 && value <= 1000) {
			return Component{}, fmt.Errorf("%w: laser distance: read %g, want 0 to 1000 m", ErrInput, value)
		}
		return Component{Name: "laser", Standard: LaserStandard(value), Basis: "1 mm at two sigma as one maker states it"}, nil
	}
	if c, ok := angleStandard[i]; ok {
		return c, nil
	}
	return Component{}, fmt.Errorf("%w: instrument: read %.40q, want one of %q", ErrInput, i, Instruments())
}

// byHand is the reading contribution, s the spread of the readings.
func (r Reading) byHand(s float64) Component {
	once, basis := r.ByHand, "as given"
	if _, isTape := tapeMPE[r.Instrument]; isTape && once == 0 {
		once, basis = ReadingTape, practice
	}
	n := float64(len(r.Values))
	if s > once {
		return Component{Name: "repeat readings", Standard: s / math.Sqrt(n), Freedom: n - 1, Basis: "spread of the readings"}
	}
	return Component{Name: "reading", Standard: once / math.Sqrt(n), Basis: basis}
}

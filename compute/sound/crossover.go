package sound

import (
	"cmp"
	"fmt"
	"math"
	"math/cmplx"
)

// Slope is a kind of crossover filter. The zero value is none.
type Slope uint8

const (
	BW2 Slope = iota + 1 // Butterworth, 2nd order
	LR2                  // Linkwitz-Riley, 2nd order: two cascaded 1st-order sections
	LR4                  // Linkwitz-Riley, 4th order: two cascaded 2nd-order Butterworth sections, Q = 0.7071 each
)

var slopeNames = [...]string{BW2: "BW2", LR2: "LR2", LR4: "LR4"}

// String gives "BW2", "LR2" or "LR4".
func (s Slope) String() string {
	if s >= BW2 && int(s) < len(slopeNames) {
		return slopeNames[s]
	}
	return fmt.Sprintf("Slope(%d)", uint8(s))
}

// Crossover parts a channel at a corner between a loudspeaker (high pass) and a subwoofer (low pass).
type Crossover struct {
	Slope  Slope
	Corner float64 // hertz
}

// silence is the level in decibels below which a sum counts as none: a null has no logarithm.
const silence = -maxLevel

// LowPass is the complex gain of the low pass at a frequency in hertz, with s = j f/fc: 1/(s^2 + sqrt(2) s + 1) for BW2,
// 1/(s + 1)^2 for LR2, the square of BW2 for LR4. Magnitudes follow: -10 log10(1 + x^4), -20 log10(1 + x^2) and
// -20 log10(1 + x^4) dB, x = f/fc. The error is [ErrInput].
func (c Crossover) LowPass(frequency float64) (complex128, error) {
	if err := c.check(frequency); err != nil {
		return 0, err
	}
	s := complex(0, frequency/c.Corner)
	return c.at(1, s), nil
}

// HighPass is the complex gain of the high pass: s^2 or s^4 over the denominator of [Crossover.LowPass].
// The error is [ErrInput].
func (c Crossover) HighPass(frequency float64) (complex128, error) {
	if err := c.check(frequency); err != nil {
		return 0, err
	}
	s := complex(0, frequency/c.Corner)
	return c.at(s*s, s), nil
}

func (c Crossover) at(numerator, s complex128) complex128 {
	switch c.Slope {
	case LR2:
		return numerator / ((s + 1) * (s + 1))
	case LR4:
		h := numerator / (s*s + math.Sqrt2*s + 1)
		return h * h
	default:
		return numerator / (s*s + math.Sqrt2*s + 1)
	}
}

// Arrival is how a subwoofer's sound relates to the loudspeaker's at the seat.
type Arrival struct {
	Inverted bool    // the subwoofer's polarity is reversed
	Delay    float64 // seconds that the subwoofer comes later, negative if earlier
}

// Sum is the level in decibels of low and high pass together at a frequency in hertz, relative to one source without a
// filter, as complex numbers. LR4 sums flat with equal polarity; BW2 and LR2 cancel at the corner unless one is inverted.
// A null gives -250 dB. The error is [ErrInput].
func (c Crossover) Sum(frequency float64, sub Arrival) (float64, error) {
	if err := inRange("delay of the subwoofer", sub.Delay, -maxDelay, maxDelay, "s"); err != nil {
		return 0, err
	}
	high, err := c.HighPass(frequency)
	if err != nil {
		return 0, err
	}
	low, err := c.LowPass(frequency)
	if err != nil {
		return 0, err
	}
	if sub.Delay != 0 {
		low *= cmplx.Exp(complex(0, -2*math.Pi*frequency*sub.Delay))
	}
	if sub.Inverted {
		low = -low
	}
	return Decibels(high + low), nil
}

// Decibels is 20 log10 of the magnitude of a gain, held between -250 and 250 dB; what is not a number counts as nothing.
func Decibels(gain complex128) float64 {
	level := 20 * math.Log10(cmplx.Abs(gain))
	if !(level > silence) {
		return silence
	}
	return min(level, maxLevel)
}

// EqualSources is the level in decibels of two equal sources relative to one, whose phases differ by an angle in radians:
// 20 log10(2 |cos(phi/2)|), and -250 dB in a null. The error is [ErrInput].
func EqualSources(phase float64) (float64, error) {
	if err := inRange("phase", phase, -1e6, 1e6, "rad"); err != nil {
		return 0, err
	}
	return Decibels(complex(2*math.Cos(phase/2), 0)), nil
}

func (c Crossover) check(frequency float64) error {
	if c.Slope < BW2 || c.Slope > LR4 {
		return fmt.Errorf("%w: slope: read %v, want BW2, LR2 or LR4", ErrInput, c.Slope)
	}
	return cmp.Or(frequencyIn("crossover frequency", c.Corner), frequencyIn("frequency", frequency))
}

// Boost is a shelf in a target curve that raises everything below a corner.
type Boost struct {
	Gain   float64 // decibels, negative for a cut
	Corner float64 // hertz
}

// BoostCost is what a boost asks of every small loudspeaker, in the band that the crossover leaves to it.
type BoostCost struct {
	Low, High   float64 // hertz: the band from the crossover frequency to the boost's corner; both 0 if there is none
	Extra       float64 // decibels that the loudspeaker must deliver more in the band
	PowerFactor float64 // by which the amplifier's power grows there, 10^(Extra/10)
	Headroom    float64 // decibels left of the headroom in the band; negative: the level is not reached
}

// Cost is what the boost costs small loudspeakers that are high-passed at a crossover frequency in hertz and had a headroom
// in decibels without it. A boost that begins below the crossover falls to the subwoofers alone and costs them nothing.
// Above it, the band from crossover to corner is the loudspeakers': the shelf is taken as full there and the high pass as
// complete below, so the slopes of real filters are left out. 10 dB is ten times the power, 3 dB twice.
//
// The error is [ErrInput].
func (b Boost) Cost(crossover, headroom float64) (BoostCost, error) {
	err := cmp.Or(inRange("gain of the boost", b.Gain, -60, 60, "dB"), frequencyIn("corner of the boost", b.Corner),
		frequencyIn("crossover frequency", crossover), levelIn("headroom", headroom))
	if err != nil {
		return BoostCost{}, err
	}
	if b.Corner <= crossover {
		return BoostCost{PowerFactor: 1, Headroom: headroom}, nil
	}
	return BoostCost{
		Low: crossover, High: b.Corner,
		Extra: b.Gain, PowerFactor: math.Pow(10, b.Gain/10), Headroom: headroom - b.Gain,
	}, nil
}

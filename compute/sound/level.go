package sound

import (
	"cmp"
	"fmt"
	"math"
)

// PowerRatio is the ratio of powers of a level difference in decibels, 10^(L/10): 10 dB is ten times the power.
// The error is [ErrInput].
func PowerRatio(difference float64) (float64, error) {
	if err := levelIn("level difference", difference); err != nil {
		return 0, err
	}
	return math.Pow(10, difference/10), nil
}

// OneWattSensitivity turns a sensitivity stated for 2.83 V at 1 m into one for 1 W at 1 m, both in decibels, for a rated
// impedance in ohms: S + 10 log10(Z/8), since 2.83 V into 8 ohms is 1.001 W. The error is [ErrInput].
func OneWattSensitivity(sensitivity, impedance float64) (float64, error) {
	if err := cmp.Or(levelIn("sensitivity", sensitivity), impedanceIn("rated impedance", impedance)); err != nil {
		return 0, err
	}
	return sensitivity + 10*math.Log10(impedance/8), nil
}

// Level is the sound pressure level in decibels at a distance in metres of a loudspeaker with the given sensitivity in
// decibels (1 W, 1 m) fed with a power in watts: L = S + 10 log10(P/1 W) - 20 log10(d/1 m). Free field, on axis, a point
// source (public-address reference pages). The error is [ErrInput].
func Level(sensitivity, power, distance float64) (float64, error) {
	if err := cmp.Or(levelIn("sensitivity", sensitivity), powerIn("power", power), distanceIn("distance", distance)); err != nil {
		return 0, err
	}
	return sensitivity + 10*math.Log10(power) - 20*math.Log10(distance), nil
}

// Power is the power in watts that [Level] needs to reach a level in decibels: P = 10^((L + 20 log10 d - S)/10).
// The error is [ErrInput].
func Power(level, sensitivity, distance float64) (float64, error) {
	if err := cmp.Or(levelIn("level", level), levelIn("sensitivity", sensitivity), distanceIn("distance", distance)); err != nil {
		return 0, err
	}
	return math.Pow(10, (level+20*math.Log10(distance)-sensitivity)/10), nil
}

// Headroom is what an available power in watts leaves above the power needed, in decibels: 10 log10(Pa/Pn). Negative if
// it does not reach. The error is [ErrInput].
func Headroom(available, needed float64) (float64, error) {
	if err := cmp.Or(powerIn("available power", available), powerIn("power needed", needed)); err != nil {
		return 0, err
	}
	return 10 * math.Log10(available/needed), nil
}

// Drive is what an amplifier delivers into an impedance in ohms for a power in watts: V = sqrt(P Z) volts and
// I = sqrt(P/Z) amperes, r.m.s. (Ohm's law). The error is [ErrInput].
func Drive(power, impedance float64) (volts, amperes float64, err error) {
	if err := cmp.Or(powerIn("power", power), impedanceIn("impedance", impedance)); err != nil {
		return 0, 0, err
	}
	return math.Sqrt(power * impedance), math.Sqrt(power / impedance), nil
}

// DrivePower is the power in watts of a voltage in volts r.m.s. across an impedance in ohms, V^2/Z.
// The error is [ErrInput].
func DrivePower(volts, impedance float64) (float64, error) {
	if err := cmp.Or(inRange("voltage", volts, 0, 1e4, "V"), impedanceIn("impedance", impedance)); err != nil {
		return 0, err
	}
	return volts * volts / impedance, nil
}

// IncoherentSum is the level in decibels of unrelated sounds together, 10 log10(sum 10^(L/10)).
// The error is [ErrInput] or [ErrList].
func IncoherentSum(levels ...float64) (float64, error) { return levelSum(10, levels) }

// CoherentSum is the level in decibels of the same sound from several sources in phase, 20 log10(sum 10^(L/20)).
// The error is [ErrInput] or [ErrList].
func CoherentSum(levels ...float64) (float64, error) { return levelSum(20, levels) }

func levelSum(factor float64, levels []float64) (float64, error) {
	if err := listLength("levels", len(levels)); err != nil {
		return 0, err
	}
	sum := 0.0
	for i, l := range levels {
		if err := levelIn(fmt.Sprintf("level %d", i+1), l); err != nil {
			return 0, err
		}
		sum += math.Pow(10, l/factor)
	}
	return factor * math.Log10(sum), nil
}

// Source is a loudspeaker as the seat hears it.
type Source struct {
	Sensitivity float64 // decibels at 1 m: for one voltage where amplifiers of one gain drive them
	Distance    float64 // metres to the seat
}

// Trims are the gains in decibels that make the sources equally loud at the seat, from distance and sensitivity alone:
// trim_i = min L - L_i with L_i = S_i - 20 log10 d_i. The quietest gets 0 and all others are turned down. The sensitivities
// are for the same voltage, such as 2.83 V: for 1 W each, loudspeakers of different impedance would get different voltages.
// The error is [ErrInput] or [ErrList].
func Trims(sources []Source) ([]float64, error) {
	if err := listLength("sources", len(sources)); err != nil {
		return nil, err
	}
	trims := make([]float64, len(sources))
	quietest := math.Inf(1)
	for i, s := range sources {
		l, err := Level(s.Sensitivity, 1, s.Distance)
		if err != nil {
			return nil, fmt.Errorf("source %d: %w", i+1, err)
		}
		trims[i] = -l
		quietest = min(quietest, l)
	}
	for i := range trims {
		trims[i] += quietest
	}
	return trims, nil
}

// TrimUncertainty is the standard uncertainty in decibels of a trim, from the standard uncertainties of the distance in
// metres and of the sensitivity in decibels, by the law of propagation (JCGM 100:2008 Eq. 10): the distance counts with
// 20/(d ln 10). The error is [ErrInput].
func TrimUncertainty(distance, distanceUncertainty, sensitivityUncertainty float64) (float64, error) {
	err := cmp.Or(distanceIn("distance", distance),
		inRange("uncertainty of the distance", distanceUncertainty, 0, maxDistance, "m"),
		inRange("uncertainty of the sensitivity", sensitivityUncertainty, 0, maxLevel, "dB"))
	if err != nil {
		return 0, err
	}
	return math.Hypot(20/math.Ln10*distanceUncertainty/distance, sensitivityUncertainty), nil
}

// ReferenceLevel is the level in dBA at the seat of each of n channels of equal level, fed with pink noise at -18 dBFS:
// 85 - 10 log10 n, tolerance 0.25 dB (ITU-R BS.1116, EBU Tech 3276; from memory, not verified).
// The error is [ErrInput] for fewer than 1 or more than 32 channels.
func ReferenceLevel(channels int) (float64, error) {
	if err := inRange("number of channels", float64(channels), 1, maxChannels, ""); err != nil {
		return 0, err
	}
	return 85 - 10*math.Log10(float64(channels)), nil
}

// CWeighting is the C-weighting in decibels at a frequency in hertz,
// 20 log10(12194^2 f^2 / ((f^2 + 20.6^2)(f^2 + 12194^2))) + 0.06 (IEC 61672-1; the formula is from memory, not verified,
// and agrees to 0.1 dB with table rows printed in a sound-level-meter manual). The error is [ErrInput] outside 1 Hz to
// 100 kHz.
func CWeighting(frequency float64) (float64, error) {
	if err := inRange("frequency", frequency, 1, 1e5, "Hz"); err != nil {
		return 0, err
	}
	const low, high = 20.6 * 20.6, 12194.0 * 12194.0
	f := frequency * frequency
	return 20*math.Log10(high*f/((f+low)*(f+high))) + 0.06, nil
}

// ToneCaution is what to tell before test tones are played.
const ToneCaution = "Start test tones at a low level and raise them in steps. Leave the room or protect your hearing before loud ones."

// HearingTime is the longest time in seconds a day at a level in dBA, 8 h / 2^((L - 85)/3) (NIOSH criterion, read on an
// engineering reference site). It is a caution for whoever stands in the room during test tones, not medical advice;
// other rules differ. The error is [ErrInput] outside 0 to 194 dBA.
func HearingTime(level float64) (float64, error) {
	if err := inRange("A-weighted level", level, 0, 194, "dBA"); err != nil {
		return 0, err
	}
	return 8 * 3600 / math.Exp2((level-85)/3), nil
}

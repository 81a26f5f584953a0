package sound

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Polarity is the sign of the first motion. The zero value is Undetermined.
type Polarity uint8

const (
	Undetermined Polarity = iota
	Positive              // pressure rises first: a positive voltage moves the cone towards the listener
	Negative              // pressure falls first
)

// String gives "undetermined", "positive" or "negative".
func (p Polarity) String() string {
	switch p {
	case Undetermined:
		return "undetermined"
	case Positive:
		return "positive"
	case Negative:
		return "negative"
	}
	return fmt.Sprintf("Polarity(%d)", uint8(p))
}

// Reason says why a polarity is undetermined. It is empty where it is not.
type Reason string

// The reasons.
const (
	Silent     Reason = "the recording is silent"
	BelowGate  Reason = "the recording is below the gate"
	Noisy      Reason = "the first motion does not stand out of the noise"
	BandPassed Reason = "a band-passed section blurs its first motion; only the maker's sheet tells its polarity"
)

const (
	// ArrivalThreshold is the part of the largest magnitude at which the sound counts as arrived. Our own rule, from no
	// standard.
	ArrivalThreshold = 0.2
	// DefaultGate is the magnitude below which a recording is not judged, 60 dB below full scale. Our own rule.
	DefaultGate = 1e-3
	// noiseMargin is by how much the arrival threshold must exceed the noise: 12 dB. Our own rule.
	noiseMargin = 4
	// maxConfidence stands for any larger ratio, and for an impulse without an opposite side.
	maxConfidence = 1000
	// Samples from which noise is estimated: before the arrival, or of the whole recording.
	leastBefore, leastWhole = 32, 64
)

// Impulse is a recorded impulse response and how to read it.
type Impulse struct {
	Recording
	// Band limits the recording first, less its median from 64 samples on; zero leaves it as it is.
	Band Band
	// Gate is the least magnitude to judge, full scale 1; 0 means [DefaultGate].
	Gate float64
	// BandPassed says that a filter, passive or active, leaves only a part of the band to what was recorded (a tweeter, a
	// subwoofer), and the maker's sheet does not state that section's polarity.
	BandPassed bool
}

// PolarityResult is what a recording says.
type PolarityResult struct {
	Polarity Polarity
	Reason   Reason  // why Undetermined
	Arrival  int     // index of the first sample that reaches the threshold, -1 if there is none
	Time     float64 // seconds from the start of the recording to it
	Peak     float64 // largest magnitude after band limiting, full scale 1
	// Noise is the standard deviation of the noise, full scale 1; 0 if the recording is too short to tell.
	Noise float64
	// Confidence is the magnitude of the first extremum over that of the opposite extremum, at most 1000. Below 1 a later,
	// opposite motion is larger than the first.
	Confidence float64
}

// FirstMotion reads the polarity of an impulse response: the sign of the first sample whose magnitude reaches 0.2 of the
// largest (our own rule, from no standard). The first extremum is the largest magnitude from there until the sign changes,
// the opposite extremum the largest of the other sign anywhere. The rule of the sign itself, that a positive voltage on the
// positive terminal makes pressure rise in front, is AES26-2001 and IEC 60268-5 (from memory, not verified); the chain up
// to the loudspeaker and the microphone must keep polarity too.
//
// It is Undetermined, with the reason, if the recording is silent, below the gate, band-passed, or if the threshold is
// less than four times the noise. Noise is the r.m.s. of what comes before the arrival if that is at least 32 samples, else
// the median magnitude of all over 0.6745 if there are at least 64, else not known. Where the peak reaches the gate, arrival
// and confidence are given all the same.
//
// Comparisons are of whole millionths of the peak. Errors are [ErrLength] for no samples or more than [MaxSamples],
// [ErrSample], and [ErrInput] for rate, band or gate.
func FirstMotion(in Impulse) (PolarityResult, error) {
	result := PolarityResult{Arrival: -1}
	if n := len(in.Samples); n < 1 || n > MaxSamples {
		return result, fmt.Errorf("%w: read %d samples, want 1 to %d", ErrLength, n, MaxSamples)
	}
	err := cmp.Or(
		inRange("sampling rate", in.Rate, minRate, maxRate, "Hz"),
		inRange("gate", in.Gate, 0, 1e6, ""),
		checkSamples(in.Samples),
	)
	if err != nil {
		return result, err
	}
	samples := in.Samples
	if in.Band.limited() {
		if samples, err = in.Band.Limit(centred(samples), in.Rate); err != nil {
			return result, err
		}
	}
	gate := in.Gate
	if gate == 0 {
		gate = DefaultGate
	}
	for _, x := range samples {
		result.Peak = max(result.Peak, math.Abs(x))
	}
	switch {
	case result.Peak == 0:
		result.Reason = Silent
		return result, nil
	case result.Peak < gate:
		result.Reason = BelowGate
		return result, nil
	}
	result.Arrival = slices.IndexFunc(samples, func(x float64) bool { return parts(x, result.Peak) >= ArrivalThreshold*million })
	result.Time = float64(result.Arrival) / in.Rate
	result.Noise = noise(samples, result.Arrival)
	result.Confidence = confidence(samples, result.Arrival)
	switch {
	case in.BandPassed:
		result.Reason = BandPassed
	case noiseMargin*parts(result.Noise, result.Peak) > ArrivalThreshold*million:
		result.Reason = Noisy
	case samples[result.Arrival] > 0:
		result.Polarity = Positive
	default:
		result.Polarity = Negative
	}
	return result, nil
}

// centred takes out the median of a recording that is long enough to have one beside its impulse: a constant would
// otherwise strike the filter as a step at the very beginning, and pass for the first motion.
func centred(samples []float64) []float64 {
	if len(samples) < leastWhole {
		return samples
	}
	constant := median(samples)
	out := make([]float64, len(samples))
	for i, x := range samples {
		out[i] = x - constant
	}
	return out
}

const million = 1_000_000

// parts is a magnitude in whole millionths of the peak.
func parts(x, peak float64) float64 { return math.Round(math.Abs(x) / peak * million) }

// noise estimates the standard deviation of the noise, 0 if there is too little to take it from.
func noise(samples []float64, arrival int) float64 {
	switch {
	case arrival >= leastBefore:
		sum := 0.0
		for _, x := range samples[:arrival] {
			sum += float64(x * x)
		}
		return math.Sqrt(sum / float64(arrival))
	case len(samples) >= leastWhole:
		// The median hardly feels the impulse itself; of a normal distribution it is 0.6745 standard deviations.
		magnitudes := make([]float64, len(samples))
		for i, x := range samples {
			magnitudes[i] = math.Abs(x)
		}
		return median(magnitudes) / 0.6745
	}
	return 0
}

// confidence is the ratio of the first extremum to the opposite one.
func confidence(samples []float64, arrival int) float64 {
	sign := math.Copysign(1, samples[arrival])
	extremum, opposite := 0.0, 0.0
	for _, x := range samples[arrival:] {
		if x*sign <= 0 {
			break
		}
		extremum = max(extremum, x*sign)
	}
	for _, x := range samples {
		opposite = max(opposite, -x*sign)
	}
	if opposite*maxConfidence <= extremum {
		return maxConfidence
	}
	return extremum / opposite
}

package sound

import (
	"fmt"
	"math"
)

// Band is a range of frequencies in hertz. The zero value is all of them.
type Band struct{ Low, High float64 }

// limited tells whether the band leaves anything out.
func (b Band) limited() bool { return b != Band{} }

// Limit passes samples at a rate in hertz through a band-pass of 2nd order that is 3.01 dB down at both ends of the band:
// H(s) = B s / (s^2 + B s + w0^2) with B = w_high - w_low and w0^2 = w_high w_low, brought to samples by the bilinear
// transform with both ends prewarped, w = tan(pi f / rate). It is causal, and the first sample of its response is positive,
// so that it neither moves an arrival forward nor turns its sign. The samples given are not changed.
//
// The error is [ErrInput] unless 0 < Low < High < 0.45 rate, [ErrSample] for samples that are not finite or beyond 1e100.
func (b Band) Limit(samples []float64, rate float64) ([]float64, error) {
	if err := frequencyIn("sampling rate", rate); err != nil {
		return nil, err
	}
	if !(b.Low > 0) || !(b.Low < b.High) || !(b.High < 0.45*rate) {
		return nil, fmt.Errorf("%w: band: read %g to %g Hz, want rising, above 0 and below %g Hz", ErrInput, b.Low, b.High, 0.45*rate)
	}
	if err := checkSamples(samples); err != nil {
		return nil, err
	}
	low, high := math.Tan(math.Pi*b.Low/rate), math.Tan(math.Pi*b.High/rate)
	width, centre := high-low, high*low
	scale := 1 + width + centre
	gain, a1, a2 := width/scale, 2*(centre-1)/scale, (1-width+centre)/scale

	out := make([]float64, len(samples))
	var x1, x2, y1, y2 float64
	for i, x := range samples {
		y := float64(gain*(x-x2)) - float64(a1*y1) - float64(a2*y2)
		// What has died away is set to 0: numbers near the smallest there are take processors long.
		if math.Abs(y) < 1e-200 {
			y = 0
		}
		x1, x2, y1, y2 = x, x1, y, y1
		out[i] = y
	}
	return out, nil
}

// checkSamples refuses samples that are not finite, or so large that a filter could overflow.
func checkSamples(samples []float64) error {
	for i, x := range samples {
		if !(math.Abs(x) <= 1e100) {
			return fmt.Errorf("%w: sample %d: read %g", ErrSample, i+1, x)
		}
	}
	return nil
}

package sound_test

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/compute/sound"
)

func impulse(samples ...float64) sound.Impulse {
	return sound.Impulse{Recording: sound.Recording{Rate: 48000, Samples: samples}}
}

// These vectors define the rule; they are our own, published nowhere.
func TestFirstMotion_Vectors(t *testing.T) {
	for _, row := range []struct {
		name       string
		samples    []float64
		want       sound.Polarity
		arrival    int
		confidence float64 // first extremum over opposite, by hand
	}{
		{"first motion outward", []float64{0, 0.02, -0.01, 0.8, -0.6, 0.2}, sound.Positive, 3, 0.8 / 0.6},
		{"first motion inward", []float64{0, -0.02, 0.01, -0.8, 0.6, -0.2}, sound.Negative, 3, 0.8 / 0.6},
		{"a later, larger opposite peak", []float64{0, 0.03, 0.35, -1.0, 0.4}, sound.Positive, 2, 0.35},
		{"the threshold itself counts", []float64{0, 0.2, -1.0}, sound.Positive, 1, 0.2},
		{"just below it does not", []float64{0, 0.19999, -1.0}, sound.Negative, 2, 1 / 0.19999},
		{"the lobe grows after the threshold", []float64{0, -0.3, -0.9, -0.5, 0.45, -1}, sound.Negative, 1, 2},
		{"no opposite side", []float64{0, 1, 0.5}, sound.Positive, 1, 1000},
	} {
		t.Run(row.name, func(t *testing.T) {
			got, err := sound.FirstMotion(impulse(row.samples...))
			require.NoError(t, err)
			assert.Equal(t, row.want, got.Polarity)
			assert.Empty(t, got.Reason)
			assert.Equal(t, row.arrival, got.Arrival)
			assert.InDelta(t, float64(row.arrival)/48000, got.Time, 1e-15)
			assert.InDelta(t, row.confidence, got.Confidence, 1e-9)
		})
	}
}

func TestFirstMotion_Undetermined(t *testing.T) {
	quiet := impulse(0, 0.0005, -0.0009)
	got, err := sound.FirstMotion(quiet)
	require.NoError(t, err)
	assert.Equal(t, sound.PolarityResult{Reason: sound.BelowGate, Arrival: -1, Peak: 0.0009}, got)
	quiet.Gate = 0.0001
	got, err = sound.FirstMotion(quiet)
	require.NoError(t, err)
	assert.Equal(t, sound.Positive, got.Polarity, "a lower gate lets it through")

	got, err = sound.FirstMotion(impulse(0, 0, 0))
	require.NoError(t, err)
	assert.Equal(t, sound.PolarityResult{Reason: sound.Silent, Arrival: -1}, got)

	tweeter := impulse(0, -0.02, 0.01, -0.8, 0.6, -0.2)
	tweeter.BandPassed = true
	got, err = sound.FirstMotion(tweeter)
	require.NoError(t, err)
	assert.Equal(t, sound.Undetermined, got.Polarity)
	assert.Equal(t, sound.BandPassed, got.Reason)
	assert.Equal(t, 3, got.Arrival, "when it arrived is known all the same")
}

func TestFirstMotion_Noise(t *testing.T) {
	random := rand.New(rand.NewPCG(13, 17))
	noise := func(n int, deviation float64) []float64 {
		samples := make([]float64, n)
		for i := range samples {
			samples[i] = deviation * random.NormFloat64()
		}
		return samples
	}
	for range 200 {
		got, err := sound.FirstMotion(impulse(noise(4800, 0.1)...))
		require.NoError(t, err)
		assert.Equal(t, sound.Noisy, got.Reason, "noise alone has no polarity")
	}

	samples := noise(4800, 0.01)
	for i, x := range []float64{-0.3, -0.9, -0.4, 0.5, 0.2} {
		samples[1000+i] += x
	}
	got, err := sound.FirstMotion(impulse(samples...))
	require.NoError(t, err)
	assert.Equal(t, sound.Negative, got.Polarity)
	assert.Equal(t, 1000, got.Arrival)
	assert.InEpsilon(t, 0.01, got.Noise, 0.1, "the deviation that was put in; 1000 samples tell it to 2 %")

	// Cut so that nothing is left before the arrival, noise comes from the median of all.
	got, err = sound.FirstMotion(impulse(samples[1000:]...))
	require.NoError(t, err)
	assert.Equal(t, sound.Negative, got.Polarity)
	assert.InEpsilon(t, 0.01, got.Noise, 0.1)

	// Reverberation that fills the recording is not noise where there is quiet before the arrival to compare with.
	dense := make([]float64, 1064)
	for i := range dense {
		dense[i] = 0.0001 * random.NormFloat64()
		if i >= 64 {
			dense[i] = 0.3 * random.NormFloat64()
		}
	}
	dense[64] = -0.9
	got, err = sound.FirstMotion(impulse(dense...))
	require.NoError(t, err)
	assert.Equal(t, sound.Negative, got.Polarity)
	assert.Equal(t, 64, got.Arrival)

	// A constant voltage on the input, or hum, stands in the way as noise does.
	for i := range samples {
		samples[i] += 0.12
	}
	got, err = sound.FirstMotion(impulse(samples...))
	require.NoError(t, err)
	assert.Equal(t, sound.Noisy, got.Reason)
}

// Turning the sign turns the polarity and leaves the rest; more gain changes nothing but the magnitudes.
func TestFirstMotion_FollowsSignAndGain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		samples := rapid.SliceOfN(rapid.Float64Range(-1, 1), 1, 200).Draw(t, "samples")
		samples[rapid.IntRange(0, len(samples)-1).Draw(t, "at")] = 1
		in := impulse(samples...)
		if rapid.Bool().Draw(t, "band") {
			in.Band = sound.Band{Low: 100, High: 8000}
		}
		in.Gate = 1e-6
		straight, err := sound.FirstMotion(in)
		require.NoError(t, err)

		flipped := slices.Clone(samples)
		for i := range flipped {
			flipped[i] = -flipped[i]
		}
		in.Samples = flipped
		turned, err := sound.FirstMotion(in)
		require.NoError(t, err)
		opposite := map[sound.Polarity]sound.Polarity{
			sound.Positive: sound.Negative, sound.Negative: sound.Positive, sound.Undetermined: sound.Undetermined,
		}
		assert.Equal(t, opposite[straight.Polarity], turned.Polarity)
		turned.Polarity = straight.Polarity
		assert.Equal(t, straight, turned)

		louder := slices.Clone(samples)
		for i := range louder {
			louder[i] *= 8 // exact in binary
		}
		in.Samples = louder
		loud, err := sound.FirstMotion(in)
		require.NoError(t, err)
		assert.Equal(t, straight.Polarity, loud.Polarity)
		assert.Equal(t, straight.Arrival, loud.Arrival)
		assert.Equal(t, straight.Confidence, loud.Confidence)
		assert.Equal(t, 8*straight.Peak, loud.Peak)
	})
}

func TestFirstMotion_Refuses(t *testing.T) {
	_, err := sound.FirstMotion(impulse())
	assert.ErrorIs(t, err, sound.ErrLength)
	_, err = sound.FirstMotion(impulse(0, math.NaN()))
	assert.ErrorIs(t, err, sound.ErrSample)
	assert.ErrorContains(t, err, "sample 2")
	_, err = sound.FirstMotion(impulse(math.Inf(-1)))
	assert.ErrorIs(t, err, sound.ErrSample)
	_, err = sound.FirstMotion(impulse(make([]float64, sound.MaxSamples+1)...))
	assert.ErrorIs(t, err, sound.ErrLength)
	_, err = sound.Band{Low: 100, High: 1000}.Limit([]float64{1e200}, 48000)
	assert.ErrorIs(t, err, sound.ErrSample)
	_, err = sound.Band{Low: 100, High: 1000}.Limit([]float64{1}, 0)
	assert.ErrorIs(t, err, sound.ErrInput)
	in := impulse(1)
	in.Rate = math.NaN()
	_, err = sound.FirstMotion(in)
	assert.ErrorIs(t, err, sound.ErrInput)
	in = impulse(1)
	in.Gate = math.NaN()
	_, err = sound.FirstMotion(in)
	assert.ErrorContains(t, err, "gate")
	for _, band := range []sound.Band{{Low: 100}, {High: 100}, {Low: 200, High: 100}, {Low: 100, High: 24000}, {Low: math.NaN(), High: 100}, {Low: -1, High: 100}} {
		in = impulse(1)
		in.Band = band
		_, err = sound.FirstMotion(in)
		assert.ErrorIs(t, err, sound.ErrInput, "%v", band)
	}
	assert.Equal(t, "undetermined", sound.Undetermined.String())
	assert.Equal(t, "Polarity(9)", sound.Polarity(9).String())
}

// gain measures a filter at one frequency: the Fourier sum of its impulse response.
func gain(t *testing.T, band sound.Band, frequency, rate float64) float64 {
	t.Helper()
	samples := make([]float64, 1<<15)
	samples[0] = 1
	response, err := band.Limit(samples, rate)
	require.NoError(t, err)
	sum := complex(0, 0)
	for i, x := range response {
		sum += complex(x, 0) * cmplx.Exp(complex(0, -2*math.Pi*frequency/rate*float64(i)))
	}
	return 20 * math.Log10(cmplx.Abs(sum))
}

// The ends of the band are 3.01 dB down and its middle is not (the definition of the band). Five octaves below, the
// analogue H(s) of the comment gives B f/(f0^2 - f^2) = 3000 x 6.25/(800^2 - 6.25^2), which is -30.66 dB.
func TestBand_Limit(t *testing.T) {
	band := sound.Band{Low: 200, High: 3200}
	assert.InDelta(t, -3.0103, gain(t, band, 200, 48000), 0.001)
	assert.InDelta(t, -3.0103, gain(t, band, 3200, 48000), 0.001)
	assert.InDelta(t, 0, gain(t, band, 800, 48000), 0.05)
	assert.InDelta(t, -30.66, gain(t, band, 200.0/32, 48000), 0.01)
	assert.Less(t, gain(t, band, 0, 48000), -100.0, "a constant does not pass")

	step := []float64{0, 0, 1, 0, 0}
	out, err := band.Limit(step, 48000)
	require.NoError(t, err)
	assert.Equal(t, []float64{0, 0, 1, 0, 0}, step, "the input stays")
	assert.Zero(t, out[1], "causal")
	assert.Positive(t, out[2], "and upright")
}

// A constant voltage hides the first motion; the band limit takes it out.
func TestFirstMotion_BandTakesOutAConstant(t *testing.T) {
	samples := make([]float64, 9600)
	for i := range samples {
		samples[i] = 0.5
	}
	samples[4800], samples[4801] = -0.5, -0.2
	in := impulse(samples...)
	got, err := sound.FirstMotion(in)
	require.NoError(t, err)
	assert.Equal(t, sound.Noisy, got.Reason)
	in.Band = sound.Band{Low: 300, High: 12000}
	got, err = sound.FirstMotion(in)
	require.NoError(t, err)
	assert.Equal(t, sound.Negative, got.Polarity)
	assert.Equal(t, 4800, got.Arrival)
}

func BenchmarkFirstMotion(b *testing.B) {
	random := rand.New(rand.NewPCG(1, 2))
	in := impulse(make([]float64, 48000)...)
	for i := range in.Samples {
		in.Samples[i] = 0.001 * random.NormFloat64()
	}
	in.Samples[4800] = 1
	in.Band = sound.Band{Low: 100, High: 8000}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := sound.FirstMotion(in); err != nil {
			b.Fatal(err)
		}
	}
}

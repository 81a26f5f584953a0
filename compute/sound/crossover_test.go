package sound_test

import (
	"math"
	"math/cmplx"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/compute/sound"
)

// Expected levels are the closed forms worked in another language; the program computes complex transfer functions.
func TestCrossover_LowPass(t *testing.T) {
	for _, row := range []struct {
		slope sound.Slope
		x     float64 // f/fc
		want  float64 // dB
	}{
		{sound.BW2, 0.5, -0.263}, {sound.LR2, 0.5, -1.938}, {sound.LR4, 0.5, -0.527},
		{sound.BW2, 1, -3.010}, {sound.LR2, 1, -6.021}, {sound.LR4, 1, -6.021}, // -3 dB a section, published
		{sound.BW2, 2, -12.304}, {sound.LR2, 2, -13.979}, {sound.LR4, 2, -24.609},
		{sound.BW2, 4, -24.099}, {sound.LR2, 4, -24.609}, {sound.LR4, 4, -48.199},
	} {
		c := sound.Crossover{Slope: row.slope, Corner: 80}
		low, err := c.LowPass(80 * row.x)
		require.NoError(t, err)
		assert.InDelta(t, row.want, sound.Decibels(low), 0.002, "%v low pass at %g fc", row.slope, row.x)
		high, err := c.HighPass(80 / row.x)
		require.NoError(t, err)
		assert.InDelta(t, row.want, sound.Decibels(high), 0.002, "%v high pass at fc/%g", row.slope, row.x)
	}
}

func TestCrossover_Sum(t *testing.T) {
	for _, row := range []struct {
		slope    sound.Slope
		x        float64
		inverted bool
		want     float64
		source   string
	}{
		{sound.LR4, 0.5, false, 0, "an LR4 pair sums flat, published"},
		{sound.LR4, 1, false, 0, "an LR4 pair sums flat, published"},
		{sound.LR4, 2, false, 0, "an LR4 pair sums flat, published"},
		{sound.BW2, 1, true, 3.010, "a BW2 pair with one inverted sums to +3.01 dB at fc, closed form"},
		{sound.LR2, 0.5, true, 0, "an LR2 pair needs one inverted, published"},
		{sound.LR2, 1, true, 0, "an LR2 pair needs one inverted, published"},
	} {
		got, err := sound.Crossover{Slope: row.slope, Corner: 80}.Sum(80*row.x, sound.Arrival{Inverted: row.inverted})
		require.NoError(t, err)
		assert.InDelta(t, row.want, got, 0.001, row.source)
	}
	for _, null := range []struct {
		slope    sound.Slope
		inverted bool
	}{{sound.LR4, true}, {sound.BW2, false}, {sound.LR2, false}} {
		got, err := sound.Crossover{Slope: null.slope, Corner: 80}.Sum(80, sound.Arrival{Inverted: null.inverted})
		require.NoError(t, err)
		assert.Less(t, got, -100.0, "%v, inverted %v: null at fc", null.slope, null.inverted)
	}
}

// At one frequency a reversed polarity and half a period of delay are the same thing.
func TestCrossover_DelayEqualsFlip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := sound.Crossover{Slope: rapid.SampledFrom([]sound.Slope{sound.BW2, sound.LR2, sound.LR4}).Draw(t, "slope"),
			Corner: rapid.Float64Range(40, 200).Draw(t, "corner")}
		f := rapid.Float64Range(20, 400).Draw(t, "frequency")
		delay, err := sound.FlipDelay(f)
		require.NoError(t, err)
		flipped, err := c.Sum(f, sound.Arrival{Inverted: true})
		require.NoError(t, err)
		delayed, err := c.Sum(f, sound.Arrival{Delay: delay})
		require.NoError(t, err)
		assert.InDelta(t, math.Pow(10, flipped/20), math.Pow(10, delayed/20), 1e-9)
	})
}

// High pass is low pass mirrored about the corner, and the squares of a BW2 pair add to one.
func TestCrossover_Properties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(0.01, 100).Draw(t, "x")
		c := sound.Crossover{Slope: sound.BW2, Corner: 80}
		low, err := c.LowPass(80 * x)
		require.NoError(t, err)
		high, err := c.HighPass(80 * x)
		require.NoError(t, err)
		mirrored, err := c.HighPass(80 / x)
		require.NoError(t, err)
		assert.InDelta(t, 1, cmplx.Abs(low)*cmplx.Abs(low)+cmplx.Abs(high)*cmplx.Abs(high), 1e-9)
		assert.InDelta(t, sound.Decibels(low), sound.Decibels(mirrored), 1e-9)
	})
}

func TestEqualSources(t *testing.T) {
	for _, row := range []struct{ phase, want, tolerance float64 }{
		{0, 6.0206, 0.0005},                 // twice the pressure
		{2 * math.Pi / 3, 0, 1e-9},          // cos 60 deg = 1/2
		{math.Pi / 2, 3.0103, 0.0005},       // sqrt 2
		{28.8 * math.Pi / 180, 5.743, 0.01}, // 1 ms at 80 Hz: 20 log10(2 cos 14.4 deg), worked apart
	} {
		got, err := sound.EqualSources(row.phase)
		require.NoError(t, err)
		assert.InDelta(t, row.want, got, row.tolerance)
	}
	null, err := sound.EqualSources(math.Pi)
	require.NoError(t, err)
	assert.Less(t, null, -100.0)
	assert.False(t, math.IsInf(null, 0))
}

func TestCrossover_Refuses(t *testing.T) {
	for _, c := range []sound.Crossover{{}, {Slope: 9, Corner: 80}, {Slope: sound.LR4}, {Slope: sound.LR4, Corner: math.NaN()}} {
		_, err := c.LowPass(80)
		assert.ErrorIs(t, err, sound.ErrInput)
		_, err = c.Sum(80, sound.Arrival{})
		assert.ErrorIs(t, err, sound.ErrInput)
	}
	_, err := sound.Crossover{Slope: sound.LR4, Corner: 80}.HighPass(0)
	assert.ErrorIs(t, err, sound.ErrInput)
	_, err = sound.Crossover{Slope: sound.LR4, Corner: 80}.Sum(80, sound.Arrival{Delay: math.NaN()})
	assert.ErrorIs(t, err, sound.ErrInput)
	assert.Equal(t, -250.0, sound.Decibels(cmplx.NaN()))
	assert.Equal(t, 250.0, sound.Decibels(cmplx.Inf()))
	assert.Equal(t, "LR4", sound.LR4.String())
	assert.Equal(t, "Slope(0)", sound.Slope(0).String())
}

func TestBoost_Cost(t *testing.T) {
	// 10 dB is ten times the power, 6 dB 3.98 times and 3 dB twice: definition of the decibel. A 10 dB correction leaves a
	// tenth of the power that was to spare.
	cost, err := sound.Boost{Gain: 10, Corner: 160}.Cost(80, 12)
	require.NoError(t, err)
	assert.Equal(t, sound.BoostCost{Low: 80, High: 160, Extra: 10, PowerFactor: cost.PowerFactor, Headroom: 2}, cost)
	assert.InDelta(t, 10, cost.PowerFactor, 1e-9)

	cost, err = sound.Boost{Gain: 6, Corner: 200}.Cost(80, 2.441)
	require.NoError(t, err)
	assert.InDelta(t, 3.98, cost.PowerFactor, 0.005)
	assert.InDelta(t, -3.559, cost.Headroom, 1e-9, "the boost asks more than there is")

	cost, err = sound.Boost{Gain: 6, Corner: 80}.Cost(80, 2.441)
	require.NoError(t, err)
	assert.Equal(t, sound.BoostCost{PowerFactor: 1, Headroom: 2.441}, cost, "below the crossover the subwoofers carry it")

	for _, b := range []sound.Boost{{Gain: math.NaN(), Corner: 100}, {Gain: 61, Corner: 100}, {Gain: 6}} {
		_, err = b.Cost(80, 3)
		assert.ErrorIs(t, err, sound.ErrInput)
	}
	_, err = sound.Boost{Gain: 6, Corner: 100}.Cost(math.Inf(1), 3)
	assert.ErrorIs(t, err, sound.ErrInput)
}

// Headroom left, worked from watts: the power that the boosted level needs against what the amplifier has.
func TestBoost_CostAgreesWithPower(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		level := rapid.Float64Range(70, 105).Draw(t, "level")
		gain := rapid.Float64Range(-10, 15).Draw(t, "gain")
		needed, err := sound.Power(level, 87, 3)
		require.NoError(t, err)
		before, err := sound.Headroom(100, needed)
		require.NoError(t, err)
		boosted, err := sound.Power(level+gain, 87, 3)
		require.NoError(t, err)
		after, err := sound.Headroom(100, boosted)
		require.NoError(t, err)

		cost, err := sound.Boost{Gain: gain, Corner: 150}.Cost(80, before)
		require.NoError(t, err)
		assert.InEpsilon(t, boosted/needed, cost.PowerFactor, 1e-9)
		assert.InDelta(t, after, cost.Headroom, 1e-9)
	})
}

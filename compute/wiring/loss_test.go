package wiring_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/compute/figure"
	"hangtrue/compute/wiring"
)

// loop is the loop resistance of a cable in ohms at 20 °C.
func loop(text string, length float64) func() (float64, error) {
	return func() (float64, error) {
		c, err := wiring.ParseConductor(text)
		if err != nil {
			return 0, err
		}
		return wiring.Run{Conductor: c, Length: length}.Loop()
	}
}

// of feeds a loop resistance and a load to a function of both.
func of(f func(loop, impedance float64) (float64, error), resistance func() (float64, error), impedance float64) func() (float64, error) {
	return func() (float64, error) {
		r, err := resistance()
		if err != nil {
			return 0, err
		}
		return f(r, impedance)
	}
}

func is(v float64) func() (float64, error) { return func() (float64, error) { return v, nil } }

// longest is the longest run in metres by the 5 % rule.
func longest(text string, impedances ...float64) func() (float64, error) {
	return func() (float64, error) {
		c, err := wiring.ParseConductor(text)
		if err != nil {
			return 0, err
		}
		per, err := c.Resistance(20)
		if err != nil {
			return 0, err
		}
		z, err := wiring.Parallel(impedances...)
		if err != nil {
			return 0, err
		}
		return wiring.LongestRun(wiring.DefaultLimit, z, per)
	}
}

const (
	arithmetic = "computed apart from this code from the equation in the function's comment"
	rule5      = "5 % rule in a general encyclopaedia's length table, rounded"
)

func TestLossCheckValues(t *testing.T) {
	fourteen := loop("14 AWG", 15)
	check(t, []row{
		{"loop 14 AWG 15 m", fourteen, 0.2486, 0.0005, arithmetic, figure.Derived},
		{"loop 2.5 mm² class 5 20 m", loop("2.5 mm2 class 5", 20), 0.3192, 0.0001, "2·20 m·7.98 ohm/km, IEC 60228", figure.Secondary},
		{"part of 8 ohm", of(wiring.FractionOfLoad, is(0.2486), 8), 0.03107, 0.0001, arithmetic, figure.Derived},
		{"part of 4 ohm", of(wiring.FractionOfLoad, is(0.2486), 4), 0.06214, 0.0001, arithmetic, figure.Derived},
		{"loss at 5 %, dB", of(wiring.InsertionLoss, is(0.05), 1), 0.4238, 0.0005, arithmetic, figure.Derived},
		{"loss of 0.30 before 8 ohm, dB", of(wiring.InsertionLoss, is(0.30), 8), 0.3198, 0.001, arithmetic, figure.Derived},
		{"the same as published, dB", of(wiring.InsertionLoss, is(0.30), 8), 0.3, 0.05, "sound-engineering site: about 0.3 dB", figure.Secondary},
		{"loss 14 AWG 15 m at 8 ohm, dB", of(wiring.InsertionLoss, fourteen, 8), 0.2658, 0.001, arithmetic, figure.Derived},
		{"loss 14 AWG 15 m at 4 ohm, dB", of(wiring.InsertionLoss, fourteen, 4), 0.5236, 0.001, arithmetic, figure.Derived},
		{"longest 14 AWG at 4 ohm, m", longest("14 AWG", 4), 12.07, 0.005 * 12.07, rule5 + ": 40 ft (12 m)", figure.CommonPractice},
		{"longest 12 AWG at 8 ohm, m", longest("12 AWG", 8), 38.38, 0.005 * 38.38, arithmetic + "; 5 % rule", figure.CommonPractice},
		{"longest 2.5 mm² class 5 at 4 ohm, m", longest("2.5 mm2 class 5", 4), 12.53, 0.01, arithmetic + ", IEC 60228; 5 % rule", figure.CommonPractice},
		{"longest 2.5 mm² class 5 at 8 ohm, m", longest("2.5 mm2 class 5", 8), 25.06, 0.01, arithmetic + ", IEC 60228; 5 % rule", figure.CommonPractice},
		{"longest 14 AWG, 8 ohm alone, m", longest("14 AWG", 8), 24.14, 0.05, arithmetic + "; 5 % rule", figure.CommonPractice},
		{"longest 14 AWG, 8 ohm with 8 ohm linked in, m", longest("14 AWG", 8, 8), 12.07, 0.05, arithmetic + "; 5 % rule", figure.CommonPractice},
		{"damping factor", func() (float64, error) {
			amp, err := wiring.OutputResistance(200, 8)
			if err != nil {
				return 0, err
			}
			cable, err := fourteen()
			if err != nil {
				return 0, err
			}
			return wiring.DampingFactor(8, amp+cable)
		}, 27.72, 0.02, arithmetic, figure.Derived},
		{"damping factor 25 installation: loop", func() (float64, error) {
			amp, err := wiring.OutputResistance(400, 8)
			return 8.0/25 - amp, err
		}, 0.30, 0.001, "sound-engineering site: 25 in all with an amplifier of 400 and 0.3 dB", figure.Secondary},
		{"bound, Zmin 5.6, R 0.15, dB", func() (float64, error) { return wiring.ResponseBound(5.6, 0.15) }, 0.230, 0.002, arithmetic, figure.Derived},
		{"deviation, Zmin 3.2, Zmax 30, R 0.20, dB", func() (float64, error) { return wiring.ResponseDeviation(3.2, 30, 0.20) }, 0.4689, 0.001, arithmetic, figure.Derived},
		{"worst case at 5 % of a load that dips to 0.8, dB", func() (float64, error) { return wiring.ResponseBound(wiring.RatingDip*8, 0.05*8) }, 0.5266, 0.001, "IEC 60268-5, 80 % rule", figure.Memory},
		{"resistance for 0.230 dB on 5.6 ohm", func() (float64, error) { return wiring.ResistanceForDeviation(5.6, 0.230) }, 0.15, 0.001, "the bound above, solved for R", figure.Derived},
	})
}

// The length table of a general encyclopaedia (feet, one way, 2, 4, 6 and 8 ohm). It is rounded: within 5 % of the rule.
func TestLongestRunAgreesWithThePublishedTable(t *testing.T) {
	for gauge, feet := range map[string]float64{"18 AWG": 32, "16 AWG": 48, "14 AWG": 80, "12 AWG": 120, "10 AWG": 200} {
		for _, z := range []float64{2, 4, 6, 8} {
			got, err := longest(gauge, z)()
			require.NoError(t, err)
			assert.InEpsilon(t, feet*z/8, got/0.3048, 0.05, "%s at %v ohm; %s (%s)", gauge, z, rule5, figure.CommonPractice)
		}
	}
	// The same rule with IEC 60228 maxima, metres at 8 ohm, computed apart from this code.
	for text, metres := range map[string]float64{
		"1.5 mm2 class 5": 15.04, "2.5 mm2 class 5": 25.06, "4 mm2 class 5": 40.40, "6 mm2 class 5": 60.61,
		"2.5 mm2 class 2": 26.99, "4 mm2 class 2": 43.38,
	} {
		got, err := longest(text, 8)()
		require.NoError(t, err)
		assert.InDelta(t, metres, got, 0.006, text)
	}
}

func TestWithinComparesMillionths(t *testing.T) {
	assert.True(t, wiring.Within(0.05, 0.05))
	assert.True(t, wiring.Within(0.05+1e-12, 0.05), "a rounding error is no excess")
	assert.False(t, wiring.Within(0.050001, 0.05))
	assert.False(t, wiring.Within(math.NaN(), 0.05))
	assert.False(t, wiring.Within(0.05, math.NaN()))
	assert.False(t, wiring.Within(math.Inf(1), 0.05))
	assert.True(t, wiring.Within(math.Inf(-1), 0.05))
}

func TestLossRefusesBadNumbers(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	two := func(f func(a, b float64) (float64, error), a, b float64) func() (float64, error) {
		return func() (float64, error) { return f(a, b) }
	}
	for _, r := range []struct {
		what   string
		call   func() (float64, error)
		want   error
		naming string
	}{
		{"loop, length 0", two(wiring.LoopResistance, 0, 0.01), wiring.ErrLength, "length: read 0"},
		{"loop, length negative", two(wiring.LoopResistance, -1, 0.01), wiring.ErrLength, "length: read -1"},
		{"loop, length NaN", two(wiring.LoopResistance, nan, 0.01), wiring.ErrLength, "length"},
		{"loop, length infinite", two(wiring.LoopResistance, inf, 0.01), wiring.ErrLength, "length"},
		{"loop, resistance negative", two(wiring.LoopResistance, 1, -1), wiring.ErrResistance, "per metre"},
		{"loop, resistance NaN", two(wiring.LoopResistance, 1, nan), wiring.ErrResistance, "per metre"},
		{"part, impedance 0", two(wiring.FractionOfLoad, 1, 0), wiring.ErrImpedance, "impedance: read 0"},
		{"part, loop NaN", two(wiring.FractionOfLoad, nan, 8), wiring.ErrResistance, "resistance"},
		{"loss, impedance 0", two(wiring.InsertionLoss, 1, 0), wiring.ErrImpedance, "impedance: read 0"},
		{"loss, impedance negative", two(wiring.InsertionLoss, 1, -8), wiring.ErrImpedance, "impedance: read -8"},
		{"loss, impedance tiny", two(wiring.InsertionLoss, 1, 1e-300), wiring.ErrImpedance, "impedance"},
		{"output resistance, damping 0", two(wiring.OutputResistance, 0, 8), wiring.ErrNumber, "damping factor"},
		{"output resistance, reference 0", two(wiring.OutputResistance, 100, 0), wiring.ErrImpedance, "reference load"},
		{"damping, resistance 0", two(wiring.DampingFactor, 8, 0), wiring.ErrResistance, "resistance: read 0"},
		{"bound, least 0", two(wiring.ResponseBound, 0, 1), wiring.ErrImpedance, "impedance: read 0"},
		{"resistance for deviation, negative", two(wiring.ResistanceForDeviation, 8, -1), wiring.ErrNumber, "deviation"},
		{"resistance for deviation, huge", two(wiring.ResistanceForDeviation, 8, 1e9), wiring.ErrNumber, "deviation"},
		{"deviation, greatest below least", func() (float64, error) { return wiring.ResponseDeviation(8, 4, 1) }, wiring.ErrImpedance, "greatest impedance"},
		{"deviation, greatest infinite", func() (float64, error) { return wiring.ResponseDeviation(8, inf, 1) }, wiring.ErrImpedance, "greatest impedance"},
		{"longest, limit 0", func() (float64, error) { return wiring.LongestRun(0, 8, 0.01) }, wiring.ErrNumber, "limit"},
		{"longest, impedance 0", func() (float64, error) { return wiring.LongestRun(0.05, 0, 0.01) }, wiring.ErrImpedance, "impedance"},
		{"longest, resistance 0", func() (float64, error) { return wiring.LongestRun(0.05, 8, 0) }, wiring.ErrResistance, "per metre"},
		{"half load 0", func() (float64, error) { return wiring.HalfLoad(0) }, wiring.ErrImpedance, "load"},
		{"bridged least load NaN", func() (float64, error) { return wiring.BridgedLeastLoad(nan) }, wiring.ErrImpedance, "least load"},
		{"bridged power negative", func() (float64, error) { return wiring.BridgedPower(-1) }, wiring.ErrNumber, "power"},
		{"parallel of none", func() (float64, error) { return wiring.Parallel() }, wiring.ErrImpedance, "none were given"},
		{"parallel with 0", func() (float64, error) { return wiring.Parallel(8, 0) }, wiring.ErrImpedance, "parallel load 2"},
	} {
		t.Run(r.what, func(t *testing.T) {
			got, err := r.call()
			require.ErrorIs(t, err, r.want)
			assert.ErrorContains(t, err, r.naming)
			assert.Zero(t, got)
		})
	}
}

var (
	lengths    = rapid.Float64Range(0.1, 500)
	impedances = rapid.Float64Range(1, 32)
)

func TestLossGrowsWithLength(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyConductor().Draw(t, "conductor")
		short, more := lengths.Draw(t, "length"), rapid.Float64Range(0.01, 100).Draw(t, "more")
		load := wiring.Load{Rated: impedances.Draw(t, "impedance")}
		a, err := wiring.Assess(wiring.Run{Conductor: c, Length: short}, wiring.Source{}, wiring.DefaultLimit, load)
		require.NoError(t, err)
		b, err := wiring.Assess(wiring.Run{Conductor: c, Length: short + more}, wiring.Source{}, wiring.DefaultLimit, load)
		require.NoError(t, err)
		assert.Greater(t, b.Loop, a.Loop)
		assert.Greater(t, b.Loss, a.Loss)
		assert.Greater(t, b.Fraction, a.Fraction)
		assert.Greater(t, b.Deviation, a.Deviation)
		assert.Less(t, b.Damping, a.Damping)
		assert.Equal(t, a.LongestRun, b.LongestRun)
	})
}

func TestTwiceTheLengthIsTwiceTheResistance(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, length := anyConductor().Draw(t, "conductor"), lengths.Draw(t, "length")
		a, err := wiring.Run{Conductor: c, Length: length}.Loop()
		require.NoError(t, err)
		b, err := wiring.Run{Conductor: c, Length: 2 * length}.Loop()
		require.NoError(t, err)
		assert.InEpsilon(t, 2*a, b, 1e-12)
	})
}

func TestLongestRunIsTheLengthThatReachesTheLimit(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		per, err := anyConductor().Draw(t, "conductor").Resistance(20)
		require.NoError(t, err)
		limit, z := rapid.Float64Range(0.01, 0.2).Draw(t, "limit"), impedances.Draw(t, "impedance")
		length, err := wiring.LongestRun(limit, z, per)
		require.NoError(t, err)
		assert.InEpsilon(t, limit, 2*length*per/z, 1e-12)
		if length <= wiring.MaxLength {
			r, err := wiring.LoopResistance(length, per)
			require.NoError(t, err)
			fraction, err := wiring.FractionOfLoad(r, z)
			require.NoError(t, err)
			assert.True(t, wiring.Within(fraction, limit))
		}
	})
}

func TestParallelIsNoMoreThanTheLeast(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		zs := rapid.SliceOfN(rapid.Float64Range(0.5, 100), 1, 8).Draw(t, "loads")
		got, err := wiring.Parallel(zs...)
		require.NoError(t, err)
		least := zs[0]
		for _, z := range zs {
			least = min(least, z)
		}
		assert.LessOrEqual(t, got, least*(1+1e-12))
		assert.GreaterOrEqual(t, got, least/float64(len(zs))*(1-1e-12))
	})
}

func TestDeviationIsNoMoreThanItsBound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		least := impedances.Draw(t, "least")
		greatest := rapid.Float64Range(least, 200).Draw(t, "greatest")
		r := rapid.Float64Range(0, 2).Draw(t, "resistance")
		deviation, err := wiring.ResponseDeviation(least, greatest, r)
		require.NoError(t, err)
		bound, err := wiring.ResponseBound(least, r)
		require.NoError(t, err)
		assert.LessOrEqual(t, deviation, bound)
		assert.GreaterOrEqual(t, deviation, 0.0)
		back, err := wiring.ResistanceForDeviation(least, bound)
		require.NoError(t, err)
		assert.InDelta(t, r, back, 1e-9)
	})
}

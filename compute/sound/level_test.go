package sound_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/compute/sound"
)

// check is one figure: what was computed, what is expected, how near, and where the expectation comes from.
type check struct {
	name      string
	got       func() (float64, error)
	want      float64
	tolerance float64
	source    string
}

func run(t *testing.T, rows []check) {
	t.Helper()
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			got, err := row.got()
			require.NoError(t, err)
			assert.InDelta(t, row.want, got, row.tolerance, row.source)
		})
	}
}

func speedAt(temperature float64) func() (float64, error) {
	return func() (float64, error) { return sound.Speed(temperature) }
}

func cramerAt(temperature, humidity float64) func() (float64, error) {
	return func() (float64, error) {
		return sound.Air{Temperature: temperature, Humidity: humidity,
			Pressure: sound.StandardPressure, CarbonDioxide: sound.OrdinaryCarbonDioxide}.Speed()
	}
}

const (
	iso9613 = "ISO 9613-1:1993, c = 343.2 sqrt(T/293.15), worked in another language from the equation"
	cramer  = "Cramer, J. Acoust. Soc. Am. 93 (1993), worked in another language from published coefficients"
	halving = "definition: the direct sound of a point source falls as 1/d"
)

func TestSpeed(t *testing.T) {
	run(t, []check{
		{"ISO 0 C", speedAt(0), 331.286, 0.005, iso9613},
		{"ISO 10 C", speedAt(10), 337.296, 0.005, iso9613},
		{"ISO 20 C", speedAt(20), 343.2, 1e-9, "ISO 9613-1:1993 reference temperature"},
		{"ISO 25 C", speedAt(25), 346.114, 0.005, iso9613},
		{"ISO 30 C", speedAt(30), 349.005, 0.005, iso9613},
		{"Cramer 20 C 50 %", cramerAt(20, 0.5), 343.987, 0.005, cramer},
		{"Cramer 25 C 50 %", cramerAt(25, 0.5), 347.127, 0.005, cramer},
		{"Cramer 0 C dry", cramerAt(0, 0), 331.448, 0.005, cramer},
		{"Cramer 0 C 50 %", cramerAt(0, 0.5), 331.604, 0.005, cramer},
		{"Cramer 10 C dry", cramerAt(10, 0), 337.459, 0.005, cramer},
		{"Cramer 10 C 50 %", cramerAt(10, 0.5), 337.781, 0.005, cramer},
		{"Cramer 30 C dry", cramerAt(30, 0), 349.148, 0.005, cramer},
		{"Cramer 30 C 50 %", cramerAt(30, 0.5), 350.310, 0.005, cramer},
	})
}

// Two publications about the same air must agree: 0.4 % over 0 to 30 C and 0 to 50 % humidity, the largest 0.374 %.
func TestSpeed_FormulasAgree(t *testing.T) {
	largest := 0.0
	for temperature := 0.0; temperature <= 30; temperature++ {
		for _, humidity := range []float64{0, 0.25, 0.5} {
			a, err := sound.Speed(temperature)
			require.NoError(t, err)
			b, err := cramerAt(temperature, humidity)()
			require.NoError(t, err)
			largest = max(largest, math.Abs(b/a-1))
		}
	}
	assert.LessOrEqual(t, largest, 0.004)
	assert.InDelta(t, 0.00374, largest, 0.00001)
}

func TestTimeAndPhase(t *testing.T) {
	run(t, []check{
		{"ms per metre", func() (float64, error) { s, err := sound.TravelTime(1, 343.2); return s * 1000, err },
			2.9138, 0.0005, "d/c at 20 C"},
		{"ms per foot", func() (float64, error) { s, err := sound.TravelTime(0.3048, 343.2); return s * 1000, err },
			0.8881, 0.0005, "d/c at 20 C"},
		{"wavelength of 80 Hz", func() (float64, error) { return sound.Wavelength(80, 343.2) },
			4.290, 0.001, "c/f; 4.3 m printed with c = 344 m/s"},
		{"phase of 1 ms at 80 Hz", func() (float64, error) { p, err := sound.DelayPhase(0.001, 80); return p * 180 / math.Pi, err },
			28.80, 0.01, "360 f t"},
		{"flip at 80 Hz in ms", func() (float64, error) { s, err := sound.FlipDelay(80); return s * 1000, err },
			6.250, 0.001, "1/(2f)"},
		{"flip at 80 Hz in metres", func() (float64, error) { s, err := sound.FlipDelay(80); return s * 343.2, err },
			2.145, 0.001, "c/(2f) at 20 C"},
	})
}

func TestDelays(t *testing.T) {
	delays, err := sound.Delays([]float64{3.40, 2.10}, 343.2)
	require.NoError(t, err)
	assert.Zero(t, delays[0], "the farthest waits for nobody")
	assert.InDelta(t, 3.788e-3, delays[1], 0.001e-3, "(3.40 - 2.10)/343.2 s")
	samples, err := sound.Samples(delays[1], 48000)
	require.NoError(t, err)
	assert.Equal(t, 182, samples, "3.788 ms at 48 kHz, rounded")
}

// The arrival times differ by nothing after alignment, whatever the distances; a longer distance never means more delay.
func TestDelays_AlignArrivals(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		distances := rapid.SliceOfN(rapid.Float64Range(0, 20), 1, 24).Draw(t, "distances")
		speed := rapid.Float64Range(300, 360).Draw(t, "speed")
		delays, err := sound.Delays(distances, speed)
		require.NoError(t, err)
		for i := range delays {
			assert.GreaterOrEqual(t, delays[i], 0.0)
			assert.InDelta(t, delays[0]+distances[0]/speed, delays[i]+distances[i]/speed, 1e-12)
		}
	})
}

func TestLevelAndPower(t *testing.T) {
	run(t, []check{
		{"99 dB 1 W 10 m", func() (float64, error) { return sound.Level(99, 1, 10) },
			79.00, 0.01, "public-address reference page prints 79"},
		{"88 dB 800 W 4 m", func() (float64, error) { return sound.Level(88, 800, 4) },
			104.99, 0.01, "published discussion prints 105"},
		{"87 dB 100 W 3.5 m", func() (float64, error) { return sound.Level(87, 100, 3.5) },
			96.12, 0.01, "S + 10 log P - 20 log d, worked apart"},
		{"90 dB 50 W 2 m", func() (float64, error) { return sound.Level(90, 50, 2) },
			100.97, 0.01, "worked apart; a web page that prints 103.01 is wrong"},
		{"distance doubled", func() (float64, error) {
			near, err := sound.Level(90, 1, 2)
			if err != nil {
				return 0, err
			}
			far, err := sound.Level(90, 1, 4)
			return near - far, err
		}, 6.0206, 0.0005, halving},
		{"power for 102 dB at 2.5 m", func() (float64, error) { return sound.Power(102, 86, 2.5) },
			248.8, 0.2488, "worked apart, 0.1 %"},
		{"power for 85 dB at 3 m", func() (float64, error) { return sound.Power(85, 88, 3) },
			4.511, 0.004511, "worked apart, 0.1 %"},
		{"power for 105 dB is 100 times that for 85", func() (float64, error) { return sound.Power(105, 88, 3) },
			451.1, 0.4511, "20 dB are a factor of 100, definition of the decibel"},
		{"2.83 V into 8 ohm", func() (float64, error) { return sound.DrivePower(2.83, 8) }, 1.0011, 0.0005, "V^2/Z"},
		{"2.83 V into 4 ohm", func() (float64, error) { return sound.DrivePower(2.83, 4) }, 2.0022, 0.0005, "V^2/Z"},
		{"sensitivity of 4 ohm at 2.83 V", func() (float64, error) { return sound.OneWattSensitivity(90, 4) },
			86.99, 0.01, "half the impedance takes twice the power: 10 log 2 = 3.01 dB, definition"},
		{"volts for 100 W into 8 ohm", func() (float64, error) { v, _, err := sound.Drive(100, 8); return v, err },
			28.284, 0.001, "sqrt(P Z)"},
		{"amperes for 100 W into 8 ohm", func() (float64, error) { _, i, err := sound.Drive(100, 8); return i, err },
			3.536, 0.001, "sqrt(P/Z)"},
		{"headroom", func() (float64, error) { return sound.Headroom(100, 57) }, 2.441, 0.001, "10 log(100/57), worked apart"},
		{"10 dB", func() (float64, error) { return sound.PowerRatio(10) }, 10, 1e-9, "definition of the decibel"},
		{"6 dB", func() (float64, error) { return sound.PowerRatio(6) }, 3.98, 0.005, "10^0.6"},
		{"3 dB", func() (float64, error) { return sound.PowerRatio(3) }, 2.00, 0.005, "10^0.3"},
	})
}

func TestSums(t *testing.T) {
	bus := make([]float64, 12)
	for i := range bus {
		bus[i] = 105
	}
	bus[11] = 115
	run(t, []check{
		{"coherent 80 + 85", func() (float64, error) { return sound.CoherentSum(80, 85) }, 88.88, 0.01, "university lecture on sound prints 88.9"},
		{"coherent 80 + 80", func() (float64, error) { return sound.CoherentSum(80, 80) }, 86.02, 0.01, "university lecture on sound prints 86"},
		{"incoherent 90 + 96", func() (float64, error) { return sound.IncoherentSum(90, 96) }, 96.97, 0.05, "sound-system textbook p. 55 prints 97"},
		{"bass bus, unrelated", func() (float64, error) { return sound.IncoherentSum(bus...) }, 118.22, 0.01, "11 channels at 105 and LFE at 115: lower bound, worked apart"},
		{"bass bus, in phase", func() (float64, error) { return sound.CoherentSum(bus...) }, 128.02, 0.01, "the same: upper bound, worked apart"},
	})
}

// From memory, not verified: ITU-R BS.1116 and EBU Tech 3276 give 85 - 10 log n.
func TestReferenceLevel_FromMemory(t *testing.T) {
	for channels, want := range map[int]float64{1: 85, 2: 81.99, 5: 78.01, 11: 74.59} {
		got, err := sound.ReferenceLevel(channels)
		require.NoError(t, err)
		assert.InDelta(t, want, got, 0.01, "%d channels", channels)
	}
}

func TestHearingTime(t *testing.T) {
	run(t, []check{
		{"105 dBA in minutes", func() (float64, error) { s, err := sound.HearingTime(105); return s / 60, err },
			4.725, 0.01, "NIOSH criterion, engineering reference site prints 4 min 43 s"},
		{"100 dBA in minutes", func() (float64, error) { s, err := sound.HearingTime(100); return s / 60, err },
			15, 0.01, "NIOSH criterion, engineering reference site prints 15 minutes"},
		{"85 dBA in hours", func() (float64, error) { s, err := sound.HearingTime(85); return s / 3600, err },
			8, 1e-9, "NIOSH criterion, 8 hours by its definition"},
	})
}

// The formula is from memory, not verified; the rows are those of the C curve printed in a sound-level-meter manual.
func TestCWeighting(t *testing.T) {
	run(t, []check{
		{"31.5 Hz", func() (float64, error) { return sound.CWeighting(31.5) }, -3.0, 0.1, "sound-level-meter manual, C curve"},
		{"63 Hz", func() (float64, error) { return sound.CWeighting(63) }, -0.8, 0.1, "sound-level-meter manual, C curve"},
		{"1 kHz", func() (float64, error) { return sound.CWeighting(1000) }, 0, 0.01, "0 at 1 kHz by definition of the weighting"},
		{"8 kHz", func() (float64, error) { return sound.CWeighting(8000) }, -3.0, 0.1, "sound-level-meter manual, C curve"},
	})
}

func TestTrims(t *testing.T) {
	trims, err := sound.Trims([]sound.Source{{Sensitivity: 88, Distance: 2}, {Sensitivity: 88, Distance: 4}, {Sensitivity: 91, Distance: 4}})
	require.NoError(t, err)
	assert.InDelta(t, -6.0206, trims[0], 0.0005, halving)
	assert.Zero(t, trims[1], "the quietest sets the level")
	assert.InDelta(t, -3, trims[2], 1e-9, "3 dB more sensitive at the same distance")
}

// After the trims, every source gives the same level at the seat, and no gain is above 0.
func TestTrims_MakeEqual(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 24).Draw(t, "n")
		sources := make([]sound.Source, n)
		for i := range sources {
			sources[i] = sound.Source{Sensitivity: rapid.Float64Range(75, 110).Draw(t, "sensitivity"), Distance: rapid.Float64Range(0.3, 20).Draw(t, "distance")}
		}
		trims, err := sound.Trims(sources)
		require.NoError(t, err)
		at := func(i int) float64 {
			l, err := sound.Level(sources[i].Sensitivity, 1, sources[i].Distance)
			require.NoError(t, err)
			return l + trims[i]
		}
		for i := range sources {
			assert.LessOrEqual(t, trims[i], 0.0)
			assert.InDelta(t, at(0), at(i), 1e-9)
		}
	})
}

// The law of propagation against a central difference of the level itself.
func TestTrimUncertainty_AgainstDifference(t *testing.T) {
	const d, u = 2.5, 1e-4
	far, err := sound.Level(88, 1, d+u)
	require.NoError(t, err)
	near, err := sound.Level(88, 1, d-u)
	require.NoError(t, err)
	got, err := sound.TrimUncertainty(d, u, 0)
	require.NoError(t, err)
	assert.InEpsilon(t, (near-far)/2, got, 1e-6)
	got, err = sound.TrimUncertainty(d, 0, 0.5)
	require.NoError(t, err)
	assert.InDelta(t, 0.5, got, 1e-12)
}

// What a power gives as a level takes that power, and headroom is the level that is left.
func TestPower_UndoesLevel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.Float64Range(70, 115).Draw(t, "sensitivity")
		p := rapid.Float64Range(0.001, 5000).Draw(t, "power")
		d := rapid.Float64Range(0.1, 50).Draw(t, "distance")
		level, err := sound.Level(s, p, d)
		require.NoError(t, err)
		back, err := sound.Power(level, s, d)
		require.NoError(t, err)
		assert.InEpsilon(t, p, back, 1e-9)
		less, err := sound.Power(level-7, s, d)
		require.NoError(t, err)
		headroom, err := sound.Headroom(p, less)
		require.NoError(t, err)
		assert.InDelta(t, 7, headroom, 1e-9)
	})
}

func TestFiguresRefuseBadNumbers(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	for _, row := range []struct {
		name  string
		call  func(float64) (float64, error)
		bad   []float64
		field string
	}{
		{"Speed", sound.Speed, []float64{nan, inf, -inf, -20.1, 50.1}, "air temperature"},
		{"Air humidity", func(v float64) (float64, error) { return cramerAt(20, v)() }, []float64{nan, -0.01, 50}, "relative humidity"},
		{"TravelTime", func(v float64) (float64, error) { return sound.TravelTime(v, 343) }, []float64{nan, inf, -1}, "distance"},
		{"TravelTime speed", func(v float64) (float64, error) { return sound.TravelTime(1, v) }, []float64{nan, 0, 1000}, "speed of sound"},
		{"Wavelength", func(v float64) (float64, error) { return sound.Wavelength(v, 343) }, []float64{nan, 0, -80}, "frequency"},
		{"DelayPhase", func(v float64) (float64, error) { return sound.DelayPhase(v, 80) }, []float64{nan, -1, inf}, "delay"},
		{"FlipDelay", sound.FlipDelay, []float64{nan, 0, inf}, "frequency"},
		{"Level distance", func(v float64) (float64, error) { return sound.Level(88, 1, v) }, []float64{nan, 0, -2, inf}, "distance"},
		{"Level power", func(v float64) (float64, error) { return sound.Level(88, v, 1) }, []float64{nan, 0, -2, inf}, "power"},
		{"Power level", func(v float64) (float64, error) { return sound.Power(v, 88, 1) }, []float64{nan, 1e6, -inf}, "level"},
		{"Headroom", func(v float64) (float64, error) { return sound.Headroom(100, v) }, []float64{nan, 0, inf}, "power needed"},
		{"Drive", func(v float64) (float64, error) { x, _, err := sound.Drive(v, 8); return x, err }, []float64{nan, 0, -1}, "power"},
		{"DrivePower", func(v float64) (float64, error) { return sound.DrivePower(2.83, v) }, []float64{nan, 0, -8}, "impedance"},
		{"PowerRatio", sound.PowerRatio, []float64{nan, 4000}, "level difference"},
		{"OneWattSensitivity", func(v float64) (float64, error) { return sound.OneWattSensitivity(90, v) }, []float64{nan, 0}, "rated impedance"},
		{"CoherentSum", func(v float64) (float64, error) { return sound.CoherentSum(80, v) }, []float64{nan, inf}, "level 2"},
		{"HearingTime", sound.HearingTime, []float64{nan, -1, 195}, "A-weighted level"},
		{"CWeighting", sound.CWeighting, []float64{nan, 0, inf}, "frequency"},
		{"EqualSources", sound.EqualSources, []float64{nan, inf}, "phase"},
		{"TrimUncertainty", func(v float64) (float64, error) { return sound.TrimUncertainty(2, v, 1) }, []float64{nan, -1, inf}, "uncertainty of the distance"},
	} {
		for _, v := range row.bad {
			got, err := row.call(v)
			require.ErrorIs(t, err, sound.ErrInput, "%s(%g)", row.name, v)
			assert.ErrorContains(t, err, row.field, row.name)
			assert.Zero(t, got, row.name)
		}
	}
}

func TestFiguresRefuseOutsideValidity(t *testing.T) {
	for _, row := range []struct {
		air   sound.Air
		field string
	}{
		{sound.Air{Temperature: 31, Pressure: 101325}, "air temperature"},
		{sound.Air{Temperature: -1, Pressure: 101325}, "air temperature"},
		{sound.Air{Temperature: 20, Pressure: 74999}, "air pressure"},
		{sound.Air{Temperature: 20, Pressure: 102001}, "air pressure"},
		{sound.Air{Temperature: 20, Pressure: 101325, CarbonDioxide: 0.011}, "carbon dioxide fraction"},
	} {
		_, err := row.air.Speed()
		require.ErrorIs(t, err, sound.ErrValidity)
		assert.ErrorContains(t, err, row.field)
	}
}

func TestListsRefused(t *testing.T) {
	_, err := sound.Delays(nil, 343)
	assert.ErrorIs(t, err, sound.ErrList)
	_, err = sound.Delays(make([]float64, 33), 343)
	assert.ErrorIs(t, err, sound.ErrList)
	_, err = sound.Delays([]float64{1, math.NaN()}, 343)
	assert.ErrorIs(t, err, sound.ErrInput)
	assert.ErrorContains(t, err, "distance 2")
	_, err = sound.IncoherentSum()
	assert.ErrorIs(t, err, sound.ErrList)
	_, err = sound.Trims(nil)
	assert.ErrorIs(t, err, sound.ErrList)
	_, err = sound.Trims([]sound.Source{{Sensitivity: 88, Distance: 0}})
	assert.ErrorContains(t, err, "source 1")
	_, err = sound.Samples(math.Inf(1), 48000)
	assert.ErrorIs(t, err, sound.ErrInput)
	_, err = sound.ReferenceLevel(0)
	assert.ErrorIs(t, err, sound.ErrInput)
}

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

func known(t require.TestingT, ohms float64) wiring.Coil {
	c, err := wiring.KnownCoil(ohms)
	require.NoError(t, err)
	return c
}

func expect(t require.TestingT, loop float64, coils ...wiring.Coil) wiring.Expected {
	e, err := wiring.ExpectReading(loop, coils...)
	require.NoError(t, err)
	return e
}

func TestMeterCheckValues(t *testing.T) {
	reading := func(coils ...wiring.Coil) func() (float64, error) {
		return func() (float64, error) {
			r, err := loop("14 AWG", 15)()
			if err != nil {
				return 0, err
			}
			f, err := wiring.MeterFigure(r, coils...)
			return f.Value, err
		}
	}
	coil := known(t, 5.8)
	check(t, []row{
		{"links open", reading(coil), 6.049, 0.005, arithmetic, figure.Derived},
		{"links fitted", reading(coil, coil), 3.149, 0.005, arithmetic, figure.Derived},
		{"second group behind a capacitor", reading(coil, wiring.Coil{Capacitor: true}), 6.049, 0.005, "no direct current passes", figure.Derived},
	})
}

func TestRatedCoilIsCommonPractice(t *testing.T) {
	c, err := wiring.RatedCoil(8)
	require.NoError(t, err)
	assert.InDelta(t, 5.6, c.Low, 1e-12)
	assert.InDelta(t, 6.8, c.High, 1e-12)
	f, err := wiring.MeterFigure(0.25, c)
	require.NoError(t, err)
	assert.Equal(t, figure.CommonPractice, f.Mark)
	assert.Contains(t, f.Source, "common practice, no source")
	assert.InDelta(t, 6.45, f.Value, 1e-12)
	_, err = wiring.RatedCoil(0)
	require.ErrorIs(t, err, wiring.ErrImpedance)
	_, err = wiring.KnownCoil(math.NaN())
	require.ErrorIs(t, err, wiring.ErrImpedance)
}

func TestJudgeReading(t *testing.T) {
	const cable = 0.25
	expected := expect(t, cable, known(t, 5.8))
	for _, r := range []struct {
		reading float64
		want    wiring.Reading
		why     string
	}{
		{0, wiring.Short, "touching cores at the amplifier"},
		{0.25, wiring.Short, "the cable alone: a link across plus and minus"},
		{0.49, wiring.Short, "below half an ohm"},
		{0.74, wiring.Short, "less than half an ohm above the cable"},
		{0.75, wiring.NotExpected, "half an ohm above the cable"},
		{5.84, wiring.NotExpected, "below the tolerance"},
		{5.85, wiring.AsExpected, "at the tolerance"},
		{6.05, wiring.AsExpected, "as computed"},
		{6.25, wiring.AsExpected, "at the tolerance"},
		{6.26, wiring.NotExpected, "above the tolerance"},
		{999, wiring.NotExpected, "a number still"},
		{1000, wiring.OpenCircuit, "no number"},
		{math.Inf(1), wiring.OpenCircuit, "no number"},
	} {
		got, err := wiring.JudgeReading(r.reading, cable, wiring.MeterTolerance, expected)
		require.NoError(t, err)
		assert.Equal(t, r.want, got, "%v: %s", r.reading, r.why)
		assert.Equal(t, r.want == wiring.Short, got.Stops())
	}
	blocked := expect(t, cable, wiring.Coil{Capacitor: true})
	got, err := wiring.JudgeReading(math.Inf(1), cable, 0.2, blocked)
	require.NoError(t, err)
	assert.Equal(t, wiring.AsExpected, got, "behind a capacitor no number is right")
	got, err = wiring.JudgeReading(6, cable, 0.2, blocked)
	require.NoError(t, err)
	assert.Equal(t, wiring.NotExpected, got)
}

func TestJudgeLinks(t *testing.T) {
	const cable = 0.25
	main, side := known(t, 5.8), known(t, 5.8)
	open, fitted := expect(t, cable, main), expect(t, cable, main, side)
	unseen := expect(t, cable, main, wiring.Coil{Capacitor: true})
	for _, r := range []struct {
		reading float64
		fitted  wiring.Expected
		want    wiring.Reading
	}{
		{6.05, fitted, wiring.LinksOpen},
		{3.15, fitted, wiring.LinksFitted},
		{0.3, fitted, wiring.Short},
		{4.5, fitted, wiring.NotExpected},
		{math.Inf(1), fitted, wiring.OpenCircuit},
		{6.05, unseen, wiring.Ambiguous},
	} {
		got, err := wiring.JudgeLinks(r.reading, cable, wiring.MeterTolerance, open, r.fitted)
		require.NoError(t, err)
		assert.Equal(t, r.want, got, r.reading)
	}
}

func TestMeterRefusesBadInput(t *testing.T) {
	good := expect(t, 0.25, known(t, 5.8))
	low := expect(t, 0.25, known(t, 0.4))
	for _, r := range []struct {
		what                     string
		reading, loop, tolerance float64
		expected                 wiring.Expected
		want                     error
	}{
		{"reading NaN", math.NaN(), 0.25, 0.2, good, wiring.ErrResistance},
		{"reading negative", -1, 0.25, 0.2, good, wiring.ErrResistance},
		{"loop negative", 6, -1, 0.2, good, wiring.ErrResistance},
		{"tolerance NaN", 6, 0.25, math.NaN(), good, wiring.ErrResistance},
		{"coil like a short", 6, 0.25, 0.2, low, wiring.ErrImpedance},
		{"nothing expected", 6, 0.25, 0.2, wiring.Expected{}, wiring.ErrImpedance},
		{"expectation upside down", 6, 0.25, 0.2, wiring.Expected{Low: 6, High: 5}, wiring.ErrImpedance},
	} {
		got, err := wiring.JudgeReading(r.reading, r.loop, r.tolerance, r.expected)
		require.ErrorIs(t, err, r.want, r.what)
		assert.Empty(t, got)
		_, err = wiring.JudgeLinks(r.reading, r.loop, r.tolerance, r.expected, good)
		require.ErrorIs(t, err, r.want, r.what)
	}
	_, err := wiring.JudgeLinks(6, 0.25, 0.2, good, low)
	require.ErrorIs(t, err, wiring.ErrImpedance)
	for _, coils := range [][]wiring.Coil{nil, {{}}, {{Low: 5, High: 4}}, {{Low: 5, High: math.Inf(1)}}} {
		_, err := wiring.ExpectReading(0.25, coils...)
		require.ErrorIs(t, err, wiring.ErrImpedance)
	}
	_, err = wiring.ExpectReading(math.NaN(), known(t, 5))
	require.ErrorIs(t, err, wiring.ErrResistance)
	_, err = wiring.MeterFigure(0.25, wiring.Coil{Capacitor: true})
	require.ErrorIs(t, err, wiring.ErrNumber)
}

// What is expected is judged as expected, and more groups never raise a reading.
func TestExpectedReadingIsJudgedSo(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cable := rapid.Float64Range(0, 2).Draw(t, "loop")
		main, side := known(t, rapid.Float64Range(2, 20).Draw(t, "main")), known(t, rapid.Float64Range(2, 20).Draw(t, "side"))
		open, fitted := expect(t, cable, main), expect(t, cable, main, side)
		assert.Less(t, fitted.High, open.Low)
		got, err := wiring.JudgeReading(open.Low, cable, 0, open)
		require.NoError(t, err)
		assert.Equal(t, wiring.AsExpected, got)
		got, err = wiring.JudgeLinks(fitted.Low, cable, 0, open, fitted)
		require.NoError(t, err)
		assert.Equal(t, wiring.LinksFitted, got)
		got, err = wiring.JudgeReading(cable, cable, 0, open)
		require.NoError(t, err)
		assert.Equal(t, wiring.Short, got)
	})
}

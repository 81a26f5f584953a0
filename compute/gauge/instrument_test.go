package gauge_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/compute/gauge"
)

// Directive 2014/32/EU Annex X, Chapter I (figures as in UK SI 2016/1153 Sch. 1I), millimetres.
func TestTapeMPE(t *testing.T) {
	for _, row := range []struct {
		class       gauge.Instrument
		length      float64
		fromSurface bool
		want        float64
	}{
		{gauge.TapeII, 3.2, true, 1.3},
		{gauge.TapeI, 5, false, 0.6},
		{gauge.TapeI, 5, true, 0.7},
		{gauge.TapeIII, 2.35, false, 1.8},
		{gauge.TapeIII, 2.35, true, 2.1},
		{gauge.TapeI, 1, false, 0.2}, {gauge.TapeI, 3, false, 0.4}, {gauge.TapeI, 3.2, false, 0.5}, {gauge.TapeI, 7.6, false, 0.9},
		{gauge.TapeII, 1, false, 0.5}, {gauge.TapeII, 3, false, 0.9}, {gauge.TapeII, 3.2, false, 1.1}, {gauge.TapeII, 5, false, 1.3}, {gauge.TapeII, 7.6, false, 1.9},
		{gauge.TapeIII, 1, false, 1.0}, {gauge.TapeIII, 3, false, 1.8}, {gauge.TapeIII, 3.2, false, 2.2}, {gauge.TapeIII, 5, false, 2.6}, {gauge.TapeIII, 7.6, false, 3.8},
		{gauge.TapeII, 0, false, 0.3},
		{gauge.TapeII, 0.1 + 0.2 + 2.7, false, 0.9}, // 3.0000000000000004 in binary floating point
	} {
		got, err := gauge.TapeMPE(row.class, row.length, row.fromSurface)
		require.NoError(t, err)
		assert.InDelta(t, row.want, got*1000, 1e-9, "%s %g m", row.class, row.length)
	}
	for _, bad := range []float64{-0.1, 1001, math.NaN(), math.Inf(1)} {
		_, err := gauge.TapeMPE(gauge.TapeII, bad, false)
		assert.ErrorIs(t, err, gauge.ErrInput)
	}
	_, err := gauge.TapeMPE(gauge.Laser, 1, false)
	assert.ErrorContains(t, err, "tape class")
}

func TestResolution(t *testing.T) { // JCGM 100:2008 F.2.2.1 (from memory, not verified): 0.29 of a division
	assert.InDelta(t, 0.29, gauge.Resolution(1), 0.005)
	assert.InDelta(t, 1/math.Sqrt(12), gauge.Resolution(1), 1e-15)
}

func TestLaserStandard(t *testing.T) { // half the statement, 1 mm to 10 m and 1.5 mm at 30 m, both at two sigma
	assert.InDelta(t, 0.0005, gauge.LaserStandard(3), 1e-12)
	assert.InDelta(t, 0.0005, gauge.LaserStandard(10), 1e-12)
	assert.InDelta(t, 0.00075, gauge.LaserStandard(30), 1e-12)
}

func TestFlip(t *testing.T) { // arithmetic: a level with zero error 0.7 on a slope of 0.2 reads 0.9, then 0.5
	slope, zero := gauge.Flip(0.9, 0.5)
	assert.InDelta(t, 0.2, slope, 1e-12)
	assert.InDelta(t, 0.7, zero, 1e-12)
}

func TestReading_Evaluate(t *testing.T) {
	mm := func(xs ...float64) float64 { return gauge.Combine(xs...) / 1000 }
	third := math.Sqrt(3)
	for _, row := range []struct {
		name    string
		reading gauge.Reading
		value   float64
		want    float64 // root of squares of the parts, each worked by hand
		largest string
	}{
		{"one tape reading", gauge.Reading{Instrument: gauge.TapeII, Values: []float64{3.2}, Division: 0.001, FromSurface: true},
			3.2, mm(1.3/third, 1/math.Sqrt(12), 1), "reading"},
		{"two that agree", gauge.Reading{Instrument: gauge.TapeII, Values: []float64{3.2, 3.2}, Division: 0.001},
			3.2, mm(1.1/third, 1/math.Sqrt(12), 1/math.Sqrt2), "reading"},
		{"four that scatter", gauge.Reading{Instrument: gauge.TapeI, Values: []float64{1.998, 2.002, 1.998, 2.002}},
			2, mm(0.3/third, math.Sqrt(16.0/3)/2), "repeat readings"},
		{"careful hand", gauge.Reading{Instrument: gauge.TapeIII, Values: []float64{0.9}, ByHand: 0.0005},
			0.9, mm(1.0/third, 0.5), "tape class III"},
		{"laser", gauge.Reading{Instrument: gauge.Laser, Values: []float64{2.5}, Division: 0.001},
			2.5, mm(0.5, 1/math.Sqrt(12)), "laser"},
		{"level", gauge.Reading{Instrument: gauge.Level, Values: []float64{0.001}},
			0.001, mm(0.5 / third), "spirit level"},
		{"phone", gauge.Reading{Instrument: gauge.Phone, Values: []float64{0.02}},
			0.02, math.Pi / 180, "phone level"},
		{"phone after a flip test", gauge.Reading{Instrument: gauge.PhoneFlipped, Values: []float64{-0.02}},
			-0.02, 0.3 * math.Pi / 180, "phone level"},
	} {
		t.Run(row.name, func(t *testing.T) {
			m, err := row.reading.Evaluate()
			require.NoError(t, err)
			assert.InDelta(t, row.value, m.Value, 1e-12)
			assert.InDelta(t, row.want, m.Uncertainty.Standard, 1e-9)
			assert.Equal(t, row.largest, m.Uncertainty.Contributions[0].Name)
			for _, c := range m.Uncertainty.Contributions {
				assert.NotEmpty(t, c.Basis, c.Name)
			}
		})
	}
}

// What rests on practice alone says so wherever it is shown.
func TestReading_Evaluate_SaysWhatHasNoSource(t *testing.T) {
	for i, name := range map[gauge.Instrument]string{gauge.TapeII: "reading", gauge.Phone: "phone level", gauge.PhoneFlipped: "phone level"} {
		m, err := gauge.Reading{Instrument: i, Values: []float64{0.1}}.Evaluate()
		require.NoError(t, err)
		found := false
		for _, c := range m.Uncertainty.Contributions {
			if c.Name == name {
				found = true
				assert.Contains(t, c.Basis, "common practice, no source")
			}
		}
		assert.True(t, found, "%s", i)
	}
}

func TestReading_Evaluate_Refuses(t *testing.T) {
	for _, row := range []struct {
		reading gauge.Reading
		want    error
	}{
		{gauge.Reading{Instrument: gauge.TapeII}, gauge.ErrReadings},
		{gauge.Reading{Instrument: "ruler", Values: []float64{1}}, gauge.ErrInput},
		{gauge.Reading{Values: []float64{1}}, gauge.ErrInput},
		{gauge.Reading{Instrument: gauge.TapeII, Values: []float64{math.NaN()}}, gauge.ErrInput},
		{gauge.Reading{Instrument: gauge.TapeII, Values: []float64{2000}}, gauge.ErrInput},
		{gauge.Reading{Instrument: gauge.Laser, Values: []float64{-1}}, gauge.ErrInput},
		{gauge.Reading{Instrument: gauge.TapeII, Values: []float64{1}, Division: -1}, gauge.ErrInput},
		{gauge.Reading{Instrument: gauge.TapeII, Values: []float64{1}, ByHand: math.NaN()}, gauge.ErrInput},
	} {
		m, err := row.reading.Evaluate()
		require.ErrorIs(t, err, row.want)
		assert.Zero(t, m.Value)
	}
}

func TestInstrument(t *testing.T) {
	for _, i := range gauge.Instruments() {
		assert.True(t, i.Known())
		_, err := gauge.Reading{Instrument: i, Values: []float64{0.1}}.Evaluate()
		assert.NoError(t, err, "%s", i)
	}
	assert.False(t, gauge.Instrument("").Known())
	assert.True(t, gauge.Phone.Angular())
	assert.False(t, gauge.Laser.Angular())
}

// Reading again never makes agreeing readings worth less, and nothing beats the instrument itself.
func TestReading_Evaluate_MoreReadings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64Range(0.1, 9).Draw(t, "x")
		n := rapid.IntRange(1, 9).Draw(t, "n")
		i := rapid.SampledFrom([]gauge.Instrument{gauge.TapeI, gauge.TapeII, gauge.TapeIII}).Draw(t, "class")
		values := make([]float64, n+1)
		for k := range values {
			values[k] = x
		}
		fewer, err1 := gauge.Reading{Instrument: i, Values: values[:n]}.Evaluate()
		more, err2 := gauge.Reading{Instrument: i, Values: values}.Evaluate()
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		mpe, _ := gauge.TapeMPE(i, x, false)
		if more.Uncertainty.Standard > fewer.Uncertainty.Standard || more.Uncertainty.Standard < gauge.Rectangular(mpe) {
			t.Fatalf("%g then %g, the tape %g", fewer.Uncertainty.Standard, more.Uncertainty.Standard, gauge.Rectangular(mpe))
		}
	})
}

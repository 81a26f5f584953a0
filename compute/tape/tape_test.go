package tape_test

import (
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/compute/tape"
)

// Micrometres are worked from the definitions 1 in = 25.4 mm and 1 ft = 12 in (international yard and pound agreement,
// 1959), by hand: 49 3/8 in = 49.375 x 25 400 um.
func TestParse_Accepts(t *testing.T) {
	for _, row := range []struct {
		text       string
		bare       tape.Unit
		want       int64   // micrometres
		resolution float64 // metres
	}{
		{"1.254", tape.Metre, 1_254_000, 0.001},
		{"1,254", tape.Metre, 1_254_000, 0.001},
		{"1.254 m", tape.Inch, 1_254_000, 0.001},
		{"1,254m", tape.Inch, 1_254_000, 0.001},
		{"125.4 cm", tape.Metre, 1_254_000, 0.001},
		{"125,4cm", tape.Metre, 1_254_000, 0.001},
		{"1254 mm", tape.Metre, 1_254_000, 0.001},
		{"1254MM", tape.Inch, 1_254_000, 0.001},
		{"1254", tape.Millimetre, 1_254_000, 0.001},
		{"1.2", tape.Metre, 1_200_000, 0.1},
		{".5 m", tape.Metre, 500_000, 0.1},
		{"+1.254", tape.Metre, 1_254_000, 0.001},
		{"-1.254", tape.Metre, -1_254_000, 0.001},
		{"\u22121.254 m", tape.Metre, -1_254_000, 0.001},
		{"- 0.018", tape.Metre, -18_000, 0.001},
		{"0", tape.Metre, 0, 1},
		{" 1.254\u00a0m ", tape.Metre, 1_254_000, 0.001},
		{"2 metres", tape.Inch, 2_000_000, 1},
		{"0.000001", tape.Metre, 1, 0.000001},
		{"1000", tape.Metre, 1_000_000_000, 1},
		{`49 3/8"`, tape.Metre, 1_254_125, 0.0254 / 8},
		{"49 3/8", tape.Inch, 1_254_125, 0.0254 / 8},
		{"49-3/8 in.", tape.Metre, 1_254_125, 0.0254 / 8},
		{"49 3/8 inches", tape.Metre, 1_254_125, 0.0254 / 8},
		{"49⅜″", tape.Metre, 1_254_125, 0.0254 / 8},
		{"49 ⅜”", tape.Metre, 1_254_125, 0.0254 / 8},
		{"49.375''", tape.Metre, 1_254_125, 0.0254 / 1000},
		{"49,5 in", tape.Metre, 1_257_300, 0.0254 / 10},
		{`4' 1-3/8"`, tape.Metre, 1_254_125, 0.0254 / 8},
		{`4'-1 3/8"`, tape.Metre, 1_254_125, 0.0254 / 8},
		{`4'1 3/8"`, tape.Metre, 1_254_125, 0.0254 / 8},
		{"4ft 1 3/8in", tape.Metre, 1_254_125, 0.0254 / 8},
		{"4 ft. 1⅜ in.", tape.Metre, 1_254_125, 0.0254 / 8},
		{"4′ 1⅜″", tape.Metre, 1_254_125, 0.0254 / 8},
		{"4’ 1 3⁄8″", tape.Metre, 1_254_125, 0.0254 / 8},
		{"4' 1 3/8", tape.Metre, 1_254_125, 0.0254 / 8},
		{`-4' 1 3/8"`, tape.Metre, -1_254_125, 0.0254 / 8},
		{`4' 3/8"`, tape.Metre, 1_228_725, 0.0254 / 8},
		{`4' 0"`, tape.Metre, 1_219_200, 0.0254},
		{"4'", tape.Metre, 1_219_200, 0.3048},
		{"4.5 ft", tape.Metre, 1_371_600, 0.03048},
		{"4 1/2 feet", tape.Metre, 1_371_600, 0.3048 / 2},
		{`3/8"`, tape.Metre, 9_525, 0.0254 / 8},
		{"½ in", tape.Metre, 12_700, 0.0254 / 2},
		{"1/16", tape.Inch, 1_588, 0.0254 / 16}, // 1587.5 um, halves away from zero
		{"-1/16", tape.Inch, -1_588, 0.0254 / 16},
		{"49", tape.Inch, 1_244_600, 0.0254},
	} {
		t.Run(row.text, func(t *testing.T) {
			got, err := tape.Parse(row.text, row.bare)
			require.NoError(t, err)
			assert.Equal(t, row.want, got.Micrometres)
			assert.InDelta(t, float64(row.want)/1e6, got.Length, 0.5000001e-6)
			assert.InEpsilon(t, row.resolution, got.Resolution, 1e-12)
		})
	}
}

func TestParse_LengthIsNotRoundedToMicrometres(t *testing.T) {
	got, err := tape.Parse(`1/16"`, tape.Metre)
	require.NoError(t, err)
	assert.InDelta(t, 0.0015875, got.Length, 1e-15)
}

func TestParse_Refuses(t *testing.T) {
	for _, row := range []struct{ text, want string }{
		{"", "a length such as"},
		{"   ", "a length such as"},
		{"-", "a number"},
		{"m", "a number"},
		{"NaN", "a number with"},
		{"Inf", "a number with"},
		{"-inf", "a number with"},
		{"0x10", "a number with"},
		{"1e3", "a number with"},
		{"1e-400", "a number with"},
		{"1_000", "a number with"},
		{"1.254 km", "a number with"},
		{"1.254 yd", "a number with"},
		{"1.2.5", "one decimal mark"},
		{"1,254.5", "one decimal mark"},
		{"1.", "a digit after"},
		{".", "a digit after"},
		{"1.0000001", "at most 7 digits"},
		{"12345678", "at most 7 digits"},
		{"1000.001", "at most 1000 m"},
		{"-1001", "at most 1000 m"},
		{"1000001 mm", "at most 1000 m"},
		{"1.254 m x", "a number with"},
		{"1.254 m 3", "nothing after"},
		{"1 254", "nothing after"},
		{"1.254 1.256", "nothing after"},
		{"--1", "a number"},
		{"1.254-", "nothing after"},
		{`49 3/0"`, "a denominator"},
		{`49 3/129"`, "a denominator"},
		{`49 8/8"`, "a fraction below 1"},
		{`49 11/8"`, "a fraction below 1"},
		{`11/8"`, "a fraction below 1"},
		{`3/"`, "a fraction of two whole numbers"},
		{`3/8"/2`, "nothing after"},
		{`1.5/8"`, "nothing after"},
		{`3/1.5"`, "a fraction of two whole numbers"},
		{"3/8", "fractions go with inches or feet"},
		{"1 3/8 m", "fractions go with inches or feet"},
		{`4' 12"`, "less than 12 inches"},
		{`4' 13 1/2"`, "less than 12 inches"},
		{"4' 3 cm", "less than 12 inches"},
		{`4.5' 3"`, "whole feet"},
		{`4 1/2' 3"`, "whole feet"},
		{`3" 4'`, "nothing after"},
		{"1,254 mm", "no comma before three digits"},
		{`1,254"`, "no comma before three digits"},
		{"1,254 cm", "no comma before three digits"},
		{strings.Repeat("1", 65), "at most 64 characters"},
		{"1\x00", "a number with"},
		{"١٫٢", "a number with"},
	} {
		t.Run(row.text, func(t *testing.T) {
			got, err := tape.Parse(row.text, tape.Metre)
			var e *tape.Error
			require.ErrorAs(t, err, &e)
			assert.Contains(t, e.Want, row.want)
			assert.Contains(t, err.Error(), row.want)
			assert.Equal(t, tape.Reading{}, got)
		})
	}
	_, err := tape.Parse("1,254", tape.Millimetre)
	assert.ErrorContains(t, err, "no comma before three digits")
	_, err = tape.Parse("1", tape.Unit(9))
	assert.ErrorContains(t, err, "a known unit")
}

func TestParseMany(t *testing.T) {
	for _, row := range []struct {
		text string
		bare tape.Unit
		want []int64
	}{
		{"1.254", tape.Metre, []int64{1_254_000}},
		{"1.254; 1.256 1.255", tape.Metre, []int64{1_254_000, 1_256_000, 1_255_000}},
		{"1,254; 1,256;", tape.Metre, []int64{1_254_000, 1_256_000}},
		{"-1.254 +1.256", tape.Metre, []int64{-1_254_000, 1_256_000}},
		{"1.254 m\n1255 mm", tape.Inch, []int64{1_254_000, 1_255_000}},
		{"49 3/8; 49 7/16", tape.Inch, []int64{1_254_125, 1_255_713}},
	} {
		t.Run(row.text, func(t *testing.T) {
			got, err := tape.ParseMany(row.text, row.bare)
			require.NoError(t, err)
			var um []int64
			for _, r := range got {
				um = append(um, r.Micrometres)
			}
			assert.Equal(t, row.want, um)
		})
	}
}

func TestParseMany_Refuses(t *testing.T) {
	for _, row := range []struct{ text, want string }{
		{"", "a length such as"},
		{" ; ;", "a length such as"},
		{"1.254;;1.255", "a length such as"},
		{"1.254; 1.2x5", "a number with"},
		{"1.254 1", "nothing after"},
		{strings.Repeat("1.0;", tape.MaxReadings+1), "at most 50 readings"},
	} {
		t.Run(row.text, func(t *testing.T) {
			_, err := tape.ParseMany(row.text, tape.Metre)
			var e *tape.Error
			require.ErrorAs(t, err, &e)
			assert.Contains(t, e.Want, row.want)
		})
	}
}

func TestFormat(t *testing.T) {
	for _, row := range []struct {
		length                          float64
		metric, imperial, small, smallI string
	}{
		{1.254125, "1.254 m", `4' 1 3/8"`, "1254 mm", `4' 1 3/8"`}, // 1 in = 25.4 mm
		{0, "0.000 m", `0"`, "0 mm", `0"`},
		{-0.0001, "0.000 m", `0"`, "0 mm", `0"`},
		{-0.0005, "-0.001 m", `0"`, "-1 mm", `0"`},
		{0.018, "0.018 m", `11/16"`, "18 mm", `11/16"`}, // 0.70866 in
		{-0.018, "-0.018 m", `-11/16"`, "-18 mm", `-11/16"`},
		{1.2192, "1.219 m", `4' 0"`, "1219 mm", `4' 0"`},
		{0.3047, "0.305 m", `1' 0"`, "305 mm", `1' 0"`}, // rounds up into the next foot
		{0.2921, "0.292 m", `11 1/2"`, "292 mm", `11 1/2"`},
		{999.9999, "1000.000 m", `3280' 10 1/16"`, "1000000 mm", `3280' 10 1/16"`}, // 39370.0748 in
		{1000.1, "out of range", "out of range", "out of range", "out of range"},
		{math.NaN(), "out of range", "out of range", "out of range", "out of range"},
		{math.Inf(-1), "out of range", "out of range", "out of range", "out of range"},
	} {
		assert.Equal(t, row.metric, tape.Format(row.length, tape.Metric))
		assert.Equal(t, row.imperial, tape.Format(row.length, tape.Imperial))
		assert.Equal(t, row.small, tape.FormatSmall(row.length, tape.Metric))
		assert.Equal(t, row.smallI, tape.FormatSmall(row.length, tape.Imperial))
	}
}

func TestMicrometres(t *testing.T) {
	got, err := tape.Micrometres(-1.2540005)
	require.NoError(t, err)
	assert.Equal(t, int64(-1_254_001), got)
	assert.InDelta(t, -1.254001, tape.Metres(got), 1e-15)
	for _, bad := range []float64{math.NaN(), math.Inf(1), 1001} {
		_, err := tape.Micrometres(bad)
		assert.ErrorContains(t, err, "at most 1000 m")
	}
}

func TestSystem_Text(t *testing.T) {
	for _, s := range []tape.System{tape.Metric, tape.Imperial} {
		text, err := s.MarshalText()
		require.NoError(t, err)
		assert.Equal(t, s.String(), string(text))
		var back tape.System
		require.NoError(t, back.UnmarshalText(text))
		assert.Equal(t, s, back)
	}
	var s tape.System
	assert.ErrorContains(t, s.UnmarshalText([]byte("Metric")), "want metric or imperial")
	_, err := tape.System(7).MarshalText()
	assert.ErrorContains(t, err, "want metric or imperial")
}

// What is written reads back to within half a division (and the half micrometre both sides go through).
func TestFormat_ReadsBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		length := rapid.Float64Range(-tape.MaxLength+0.002, tape.MaxLength-0.002).Draw(t, "length")
		s := rapid.SampledFrom([]tape.System{tape.Metric, tape.Imperial}).Draw(t, "system")
		for _, text := range []string{tape.Format(length, s), tape.FormatSmall(length, s)} {
			got, err := tape.Parse(text, tape.Metre)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(got.Length-length) > s.Division()/2+1e-6 {
				t.Fatalf("%g m was written %s and read as %g m", length, text, got.Length)
			}
		}
	})
}

// A number and its unit mean the same in every unit that can hold it.
func TestParse_UnitsAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mm := rapid.IntRange(0, 9999).Draw(t, "mm")
		texts := []string{
			tape.Format(float64(mm)/1000, tape.Metric),
			tape.FormatSmall(float64(mm)/1000, tape.Metric),
		}
		for _, text := range texts {
			got, err := tape.Parse(text, tape.Inch)
			if err != nil || got.Micrometres != int64(mm)*1000 {
				t.Fatalf("%s: %+v, %v", text, got, err)
			}
		}
	})
}

// Any text is refused or is a finite length, and what is shown of it reads back as what is shown.
func FuzzParse(f *testing.F) {
	for _, s := range []string{
		"1.254", "1,254", "125.4 cm", "1254 mm", `49 3/8"`, `4' 1-3/8"`, "4ft 1 3/8in", "½″", "-4' 11 15/16\"",
		"1e309", "0x1p-2", "NaN", "9999999.999999 ft", `9999999' 11.999999"`, "3/128", "1000", "１.５",
	} {
		f.Add(s, uint8(0))
		f.Add(s, uint8(3))
	}
	f.Fuzz(func(t *testing.T, text string, bare uint8) {
		r, err := tape.Parse(text, tape.Unit(bare))
		if err != nil {
			var e *tape.Error
			require.ErrorAs(t, err, &e)
			require.NotEmpty(t, e.Want)
			require.Equal(t, tape.Reading{}, r)
			return
		}
		require.LessOrEqual(t, math.Abs(r.Length), tape.MaxLength+1e-6)
		require.InDelta(t, r.Length, tape.Metres(r.Micrometres), 0.51e-6)
		require.Greater(t, r.Resolution, 0.0)
		for _, s := range []tape.System{tape.Metric, tape.Imperial} {
			shown := tape.Format(tape.Metres(r.Micrometres), s)
			again, err := tape.Parse(shown, tape.Metre)
			require.NoError(t, err)
			require.Equal(t, shown, tape.Format(again.Length, s))
		}
	})
}

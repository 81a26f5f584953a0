package wiring_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/compute/figure"
	"hangtrue/compute/wiring"
)

// row is one number held against a source. A relative tolerance is part of want.
type row struct {
	what      string
	got       func() (float64, error)
	want, tol float64
	source    string
	mark      figure.Mark
}

func check(t *testing.T, rows []row) {
	t.Helper()
	for _, r := range rows {
		t.Run(r.what, func(t *testing.T) {
			got, err := r.got()
			require.NoError(t, err)
			assert.InDelta(t, r.want, got, r.tol, "%s (%s)", r.source, r.mark)
		})
	}
}

func conductor(t require.TestingT, text string) wiring.Conductor {
	c, err := wiring.ParseConductor(text)
	require.NoError(t, err)
	return c
}

// perKilometre is the resistance of a conductor in ohm/km at a temperature.
func perKilometre(text string, temperature float64) func() (float64, error) {
	return func() (float64, error) {
		c, err := wiring.ParseConductor(text)
		if err != nil {
			return 0, err
		}
		r, err := c.Resistance(temperature)
		return r * 1000, err
	}
}

func times(k float64, f func() (float64, error)) func() (float64, error) {
	return func() (float64, error) {
		v, err := f()
		return k * v, err
	}
}

func millimetres(gauge int) func() (float64, error) {
	return func() (float64, error) {
		d, err := wiring.GaugeDiameter(gauge)
		return d * 1e3, err
	}
}

const (
	kilofeet      = 0.3048 // km
	textbook      = "copper wire table of a circuits textbook, 20 °C"
	definition    = "ASTM B258: 36 AWG is 0.005 in, 4/0 is 0.4600 in"
	handbook      = "NBS Handbook 100 (1966), 100 % IACS, with the ASTM B258 size rule"
	transcription = "IEC 60228 (2004), read in cable makers' tables"
	nec           = "NEC chapter 9 Table 8, uncoated copper, 75 °C, read in a transcription"
)

func TestConductorCheckValues(t *testing.T) {
	check(t, []row{
		{"diameter 10 AWG, mm", millimetres(10), 2.5882, 0.0005, textbook + ": 2.588 mm", figure.Secondary},
		{"diameter 14 AWG, mm", millimetres(14), 1.6277, 0.0005, textbook + ": 0.06408 in", figure.Secondary},
		{"diameter 36 AWG, mm", millimetres(36), 0.1270, 0.0001, definition, figure.Secondary},
		{"diameter 4/0 AWG, mm", millimetres(-3), 11.6840, 0.0001, definition, figure.Secondary},
		{"area 12 AWG, mm²", func() (float64, error) { return conductor(t, "12 AWG").Area() * 1e6, nil }, 3.3088, 0.001, "wire table: 3.31 mm²", figure.Secondary},
		{"12 AWG, ohm/km", perKilometre("12 AWG", 20), 5.2108, 0.001 * 5.2108, handbook, figure.Derived},
		{"14 AWG, ohm/km", perKilometre("14 AWG", 20), 8.2855, 0.001 * 8.2855, handbook, figure.Derived},
		{"18 AWG, ohm/km", perKilometre("18 AWG", 20), 20.9482, 0.001 * 20.9482, handbook, figure.Derived},
		{"12 AWG, ohm/kft", times(kilofeet, perKilometre("12 AWG", 20)), 1.588, 0.001 * 1.588, textbook, figure.Secondary},
		{"14 AWG, ohm/kft", times(kilofeet, perKilometre("14 AWG", 20)), 2.525, 0.001 * 2.525, textbook, figure.Secondary},
		{"18 AWG, ohm/kft", times(kilofeet, perKilometre("18 AWG", 20)), 6.385, 0.001 * 6.385, textbook, figure.Secondary},
		{"14 AWG NEC solid at 20 °C, ohm/kft", times(kilofeet, perKilometre("14 AWG NEC solid", 20)), 2.525, 0.003 * 2.525, textbook + "; from NEC 3.07 at 75 °C, its coefficient 0.00323", figure.Memory},
		{"14 AWG NEC solid at 20 °C, computed, ohm/kft", times(kilofeet, perKilometre("14 AWG NEC solid", 20)), 2.5246, 0.0001, "3.07·(1 + 0.00323·(20 - 75))", figure.Memory},
		{"copper at 40 °C", func() (float64, error) { return wiring.CopperFactor(40) }, 1.0786, 0.0001, "1 + 0.00393·20", figure.Memory},
		{"IEC 60228 k_t at 25 °C", func() (float64, error) { return wiring.NominalFactor(25) }, 0.980, 0.0005, transcription + ": k_t 0.980", figure.Secondary},
		{"NEC 75 °C to 20 °C", func() (float64, error) { return wiring.TableFactor(20) }, 0.82, 0.005, "web page: 20 °C is about 82 % of the table", figure.Secondary},
	})
}

// The copper table of a circuits textbook (ohm/kft at 20 °C, four digits), against the size rule and 100 % IACS. The other
// columns were computed apart from this code from the same equations.
func TestGaugeTable(t *testing.T) {
	for _, r := range []struct {
		gauge                       int
		diameter, area, ohmKM, book float64 // mm, mm², ohm/km derived; ohm/kft printed
	}{
		{10, 2.5882, 5.261, 3.277, 0.9989},
		{11, 2.3048, 4.172, 4.132, 1.26},
		{12, 2.0525, 3.309, 5.211, 1.588},
		{13, 1.8278, 2.624, 6.571, 2.003},
		{14, 1.6277, 2.081, 8.286, 2.525},
		{15, 1.4495, 1.650, 10.448, 3.184},
		{16, 1.2908, 1.309, 13.175, 4.016},
		{17, 1.1495, 1.038, 16.613, 5.064},
		{18, 1.0237, 0.823, 20.948, 6.385},
	} {
		t.Run(fmt.Sprint(r.gauge, " AWG"), func(t *testing.T) {
			c, err := wiring.AWG(r.gauge)
			require.NoError(t, err)
			d, err := wiring.GaugeDiameter(r.gauge)
			require.NoError(t, err)
			assert.InDelta(t, r.diameter, d*1e3, 0.00005, "derived")
			assert.InDelta(t, r.area, c.Area()*1e6, 0.0005, "derived")
			per, err := c.Resistance(20)
			require.NoError(t, err)
			assert.InDelta(t, r.ohmKM, per*1e3, 0.0006, "derived")
			assert.InEpsilon(t, r.book, per*304.8, 0.0005, textbook)
			loop, err := wiring.LoopResistance(1, per)
			require.NoError(t, err)
			assert.InDelta(t, 2*r.ohmKM, loop*1e3, 0.0012, "loop of 1 m in mohm")
		})
	}
}

func TestNECTable(t *testing.T) {
	for _, r := range []struct {
		gauge           int
		solid, stranded float64 // ohm/kft at 75 °C, nec
		solidKM, km     float64 // the same in ohm/km, derived
	}{
		{10, 1.21, 1.24, 3.970, 4.068},
		{12, 1.93, 1.98, 6.332, 6.496},
		{14, 3.07, 3.14, 10.072, 10.302},
		{16, 4.89, 4.99, 16.043, 16.371},
		{18, 7.77, 7.95, 25.492, 26.083},
	} {
		solid, err := conductor(t, fmt.Sprint(r.gauge, " AWG NEC solid")).Resistance(75)
		require.NoError(t, err)
		stranded, err := conductor(t, fmt.Sprint(r.gauge, " AWG stranded")).Resistance(75)
		require.NoError(t, err)
		assert.InDelta(t, r.solid, solid*304.8, 1e-12, nec)
		assert.InDelta(t, r.stranded, stranded*304.8, 1e-12, nec)
		assert.InDelta(t, r.solidKM, solid*1e3, 0.0006)
		assert.InDelta(t, r.km, stranded*1e3, 0.0006)
		// Stranding makes a conductor about 2 % longer than its cable.
		assert.InDelta(t, 1.02, r.stranded/r.solid, 0.01)
	}
}

func TestNominalTable(t *testing.T) {
	for _, r := range []struct {
		size string
		// ohm/km at 20 °C: class 1, 2, 5, tinned 1, 2, 5, by transcription; copper of that area, derived.
		class1, class2, class5, tinned1, tinned2, tinned5, geometry float64
	}{
		{"0.75", 24.5, 24.5, 26.0, 24.8, 24.8, 26.7, 22.99},
		{"1", 18.1, 18.1, 19.5, 18.2, 18.2, 20.0, 17.24},
		{"1.5", 12.1, 12.1, 13.3, 12.2, 12.2, 13.7, 11.49},
		{"2.5", 7.41, 7.41, 7.98, 7.56, 7.56, 8.21, 6.90},
		{"4", 4.61, 4.61, 4.95, 4.70, 4.70, 5.09, 4.31},
		{"6", 3.08, 3.08, 3.30, 3.11, 3.11, 3.39, 2.87},
	} {
		for kind, want := range map[string]float64{
			"class 1": r.class1, "class 2": r.class2, "class 5": r.class5,
			"class 1 tinned": r.tinned1, "class 2 tinned": r.tinned2, "class 5 tinned": r.tinned5,
		} {
			t.Run(r.size+" "+kind, func(t *testing.T) {
				c := conductor(t, r.size+" mm2 "+kind)
				got, err := c.Resistance(20)
				require.NoError(t, err)
				assert.InDelta(t, want, got*1e3, 1e-12, transcription)
				assert.InDelta(t, r.geometry, 1e3/58/(c.Area()*1e6), 0.006, "derived")
				assert.Greater(t, want, r.geometry, "a maximum lies above copper of that area")
				assert.Equal(t, r.size+" mm2 "+kind, c.String())
			})
		}
	}
}

func TestCladConductorIsTwoGaugesSmaller(t *testing.T) {
	// General encyclopaedia text: copper-clad aluminium is roughly as resistive as copper two AWG sizes smaller.
	clad, err := conductor(t, "14 AWG CCA").Resistance(20)
	require.NoError(t, err)
	copper, err := conductor(t, "16 AWG").Resistance(20)
	require.NoError(t, err)
	assert.InDelta(t, copper, clad, 1e-15)
	solid, err := conductor(t, "14 AWG").Resistance(20)
	require.NoError(t, err)
	assert.InDelta(t, 1.590, clad/solid, 0.0005, "92^(4/39), derived")

	area, err := conductor(t, "2.5 mm² CCA").Resistance(20)
	require.NoError(t, err)
	assert.InDelta(t, 6.8966*1.590, area*1e3, 0.005, "100 % IACS copper of 2.5 mm² times that, derived")
	assert.InDelta(t, 2.5, conductor(t, "2.5 mm² CCA").Area()*1e6, 1e-12)
}

// Each table keeps its own temperature rule.
func TestTemperatureRulesAreNotMixed(t *testing.T) {
	for _, r := range []struct {
		text string
		want float64 // R(40)/R(20)
		why  string
	}{
		{"14 AWG", 1.0786, "1 + 0.00393·20; coefficient from memory, not verified"},
		{"14 AWG CCA", 1.0786, "as copper"},
		{"2.5 mm2 class 5", 1.08, "(230 + 40)/250, IEC 60228"},
		{"14 AWG stranded", (1 + 0.00323*(40-75)) / (1 + 0.00323*(20-75)), "NEC note; coefficient from memory, not verified"},
	} {
		c := conductor(t, r.text)
		warm, err := c.Resistance(40)
		require.NoError(t, err)
		cool, err := c.Resistance(20)
		require.NoError(t, err)
		assert.InDelta(t, r.want, warm/cool, 1e-9, "%s: %s", r.text, r.why)
	}
}

func TestConductorFigureSaysHowFarItCanBeTrusted(t *testing.T) {
	for _, r := range []struct {
		text        string
		temperature float64
		mark        figure.Mark
		source      string
	}{
		{"14 AWG", 20, figure.Derived, "from memory, agrees"},
		{"14 AWG", 30, figure.Memory, "from memory, not verified"},
		{"2.5 mm2 class 5", 30, figure.Secondary, "IEC 60228"},
		{"14 AWG CCA", 20, figure.Secondary, "general encyclopaedia text"},
		{"14 AWG stranded", 75, figure.Secondary, "NEC chapter 9 Table 8"},
		{"14 AWG stranded", 20, figure.Memory, "from memory, not verified"},
	} {
		f, err := conductor(t, r.text).Figure(r.temperature)
		require.NoError(t, err)
		assert.Equal(t, r.mark, f.Mark, r.text)
		assert.Contains(t, f.Source, r.source)
		want, err := conductor(t, r.text).Resistance(r.temperature)
		require.NoError(t, err)
		assert.Equal(t, want, f.Value)
	}
}

func TestParseConductorAccepts(t *testing.T) {
	for text, want := range map[string]string{
		"14 AWG":                           "14 AWG",
		"14awg":                            "14 AWG",
		"AWG 14":                           "14 AWG",
		" awg14 copper ":                   "14 AWG",
		"14 AWG solid":                     "14 AWG",
		"1/0 AWG":                          "1/0 AWG",
		"0 AWG":                            "1/0 AWG",
		"4/0 AWG":                          "4/0 AWG",
		"0000 AWG":                         "4/0 AWG",
		"36 AWG":                           "36 AWG",
		"16 AWG CCA":                       "16 AWG CCA",
		"16 AWG copper-clad aluminium":     "16 AWG CCA",
		"16 AWG Copper Clad Aluminum":      "16 AWG CCA",
		"14 AWG stranded":                  "14 AWG NEC stranded",
		"NEC 12 AWG solid":                 "12 AWG NEC solid",
		"2.5 mm2 class 5":                  "2.5 mm2 class 5",
		"2,5 mm² Class 5":                  "2.5 mm2 class 5",
		"2.50mm^2 flexible":                "2.5 mm2 class 5",
		"class 2 4 mm2":                    "4 mm2 class 2",
		"1.5 sq mm stranded":               "1.5 mm2 class 2",
		"0.75 mm2 solid":                   "0.75 mm2 class 1",
		"tinned copper 2.5 mm2 class5":     "2.5 mm2 class 5 tinned",
		"6 mm2 solid class 1 tinned":       "6 mm2 class 1 tinned",
		"4 mm2 cca":                        "4 mm2 CCA",
		"2.5 mm² plain flexible class 5  ": "2.5 mm2 class 5",
	} {
		c, err := wiring.ParseConductor(text)
		require.NoError(t, err, text)
		assert.Equal(t, want, c.String(), text)
	}
}

func TestParseConductorRejects(t *testing.T) {
	for _, r := range []struct {
		text   string
		want   error
		naming string
	}{
		{"", wiring.ErrConductor, "a size and a kind"},
		{"14", wiring.ErrConductor, "a size and a kind"},
		{"AWG", wiring.ErrConductor, "a size and a kind"},
		{"14 AWG 2.5 mm2", wiring.ErrConductor, "a size and a kind"},
		{"AWG 14 mm2", wiring.ErrConductor, "a size and a kind"},
		{"2 x 14 AWG", wiring.ErrConductor, "a size and a kind"},
		{"-14 AWG", wiring.ErrConductor, "a size and a kind"},
		{"14 AWG silver", wiring.ErrConductor, "a size and a kind"},
		{"14.5 AWG", wiring.ErrConductor, "a whole AWG number"},
		{"0/0 AWG", wiring.ErrConductor, "a whole AWG number"},
		{"5/0 AWG", wiring.ErrSize, "4/0 AWG to 36 AWG"},
		{"37 AWG", wiring.ErrSize, "4/0 AWG to 36 AWG"},
		{"99999999999999999999 AWG", wiring.ErrConductor, "a whole AWG number"},
		{"13 AWG stranded", wiring.ErrSize, "10, 12, 14, 16 or 18"},
		{"14 AWG NEC", wiring.ErrConductor, "solid or stranded"},
		{"14 AWG class 5", wiring.ErrConductor, "mm2 sizes only"},
		{"14 AWG tinned", wiring.ErrConductor, "mm2 sizes only"},
		{"14 AWG CCA stranded", wiring.ErrConductor, "without another kind"},
		{"14 AWG solid stranded", wiring.ErrConductor, "only one of"},
		{"2.5 mm2", wiring.ErrConductor, "the class too"},
		{"2.5 mm2 class 3", wiring.ErrConductor, "1, 2 or 5"},
		{"2.5 mm2 class", wiring.ErrConductor, "1, 2 or 5"},
		{"2.5 mm2 class 5 class 5", wiring.ErrConductor, "1, 2 or 5"},
		{"2.5 mm2 class 5 solid", wiring.ErrConductor, "class 1 for solid"},
		{"2.5 mm2 CCA class 5", wiring.ErrConductor, "without class"},
		{"2.5 mm2 NEC class 5", wiring.ErrConductor, "AWG sizes only"},
		{"2..5 mm2 class 5", wiring.ErrConductor, "a nominal size"},
		{"0 mm2 class 5", wiring.ErrConductor, "a nominal size"},
		{"2.501 mm2 class 5", wiring.ErrConductor, "a nominal size"},
		{"1e9 mm2 class 5", wiring.ErrConductor, "a size and a kind"},
		{"3 mm2 class 5", wiring.ErrSize, "0.75, 1, 1.5, 2.5, 4 or 6"},
		{"10 mm2 class 2", wiring.ErrSize, "0.75, 1, 1.5, 2.5, 4 or 6"},
		{"10 mm2 CCA", wiring.ErrSize, "0.75, 1, 1.5, 2.5, 4 or 6"},
		{"2.5 mm2 class 5                                                      ", wiring.ErrConductor, "at most 64"},
	} {
		_, err := wiring.ParseConductor(r.text)
		require.ErrorIs(t, err, r.want, r.text)
		assert.ErrorContains(t, err, r.naming, r.text)
	}
}

func TestConductorZeroValueIsNone(t *testing.T) {
	var c wiring.Conductor
	assert.Equal(t, "none", c.String())
	assert.Zero(t, c.Area())
	_, err := c.Resistance(20)
	require.ErrorIs(t, err, wiring.ErrConductor)
	_, err = c.Figure(20)
	require.ErrorIs(t, err, wiring.ErrConductor)
	_, err = c.MarshalText()
	require.ErrorIs(t, err, wiring.ErrConductor)
}

func TestConductorTemperatureIsBounded(t *testing.T) {
	for _, text := range []string{"14 AWG", "14 AWG stranded", "2.5 mm2 class 5"} {
		for _, temperature := range []float64{-41, 106, math.NaN(), math.Inf(1), math.Inf(-1)} {
			r, err := conductor(t, text).Resistance(temperature)
			require.ErrorIs(t, err, wiring.ErrTemperature)
			assert.Zero(t, r)
		}
	}
	_, err := wiring.AWG(37)
	require.ErrorIs(t, err, wiring.ErrSize)
	_, err = wiring.GaugeDiameter(-4)
	require.ErrorIs(t, err, wiring.ErrSize)
}

// anyConductor draws every kind and size there is.
func anyConductor() *rapid.Generator[wiring.Conductor] {
	return rapid.Custom(func(t *rapid.T) wiring.Conductor {
		gauge := rapid.IntRange(wiring.ThickestGauge, wiring.ThinnestGauge).Draw(t, "gauge")
		size := fmt.Sprint(gauge)
		if gauge <= 0 {
			size = fmt.Sprintf("%d/0", 1-gauge)
		}
		nominal := rapid.SampledFrom([]string{"0.75", "1", "1.5", "2.5", "4", "6"}).Draw(t, "nominal")
		class := rapid.SampledFrom([]string{"1", "2", "5"}).Draw(t, "class")
		table := rapid.SampledFrom([]string{"10", "12", "14", "16", "18"}).Draw(t, "table")
		text := rapid.SampledFrom([]string{
			size + " AWG", size + " AWG CCA", table + " AWG NEC solid", table + " AWG NEC stranded",
			nominal + " mm2 class " + class, nominal + " mm2 class " + class + " tinned", nominal + " mm2 CCA",
		}).Draw(t, "text")
		return conductor(t, text)
	})
}

func TestConductorTextRoundTrip(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyConductor().Draw(t, "conductor")
		text, err := c.MarshalText()
		require.NoError(t, err)
		var back wiring.Conductor
		require.NoError(t, back.UnmarshalText(text))
		assert.Equal(t, c, back)
		require.Error(t, back.UnmarshalText([]byte("wire")))
		assert.Equal(t, c, back, "an error leaves the conductor as it was")
	})
}

func TestConductorWarmIsMoreResistive(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := anyConductor().Draw(t, "conductor")
		cool := rapid.Float64Range(wiring.MinTemperature, wiring.MaxTemperature-1).Draw(t, "cool")
		warm := rapid.Float64Range(cool+0.5, wiring.MaxTemperature).Draw(t, "warm")
		a, err := c.Resistance(cool)
		require.NoError(t, err)
		b, err := c.Resistance(warm)
		require.NoError(t, err)
		assert.Greater(t, b, a)
		assert.Greater(t, a, 0.0)
	})
}

func FuzzParseConductor(f *testing.F) {
	f.Add("14 AWG")
	f.Add("2,5 mm² class 5 tinned")
	f.Add("0000 awg cca")
	f.Fuzz(func(t *testing.T, text string) {
		c, err := wiring.ParseConductor(text)
		if err != nil {
			if c != (wiring.Conductor{}) {
				t.Fatalf("%q: conductor beside an error", text)
			}
			return
		}
		again, err := wiring.ParseConductor(c.String())
		if err != nil || again != c {
			t.Fatalf("%q reads as %q, which reads as %v, %v", text, c, again, err)
		}
		if _, err := c.Resistance(20); err != nil {
			t.Fatalf("%q: %v", text, err)
		}
	})
}

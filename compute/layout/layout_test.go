package layout_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/compute/layout"
)

func rad(deg float64) float64 { return deg * math.Pi / 180 }
func deg(rad float64) float64 { return rad * 180 / math.Pi }

func dir(az, el float64) layout.Direction {
	return layout.Direction{Azimuth: rad(az), Elevation: rad(el)}
}

func named(t *testing.T, name string) *layout.Layout {
	t.Helper()
	l, ok := layout.ByName(name)
	require.True(t, ok, name)
	return l
}

func loudspeaker(t *testing.T, name, label string) *layout.Loudspeaker {
	t.Helper()
	s, ok := named(t, name).Loudspeaker(label)
	require.True(t, ok, label)
	return s
}

func span(a, b float64) string {
	if a, b = math.Round(deg(a)*10)/10, math.Round(deg(b)*10)/10; a != b {
		return fmt.Sprintf("%g..%g", a, b)
	}
	return fmt.Sprintf("%g", a)
}

func row(s layout.Loudspeaker) string {
	var bands []string
	for _, b := range s.Bands {
		bands = append(bands, span(b.From, b.To))
	}
	short := s.Short
	if short == "" {
		short = "-"
	}
	return fmt.Sprintf("%s %s %.4g/%.4g %s %s", s.Label, short, deg(s.Azimuth), deg(s.Elevation), strings.Join(bands, ","), span(s.ElMin, s.ElMax))
}

func right(s layout.Loudspeaker) bool { return s.Pair != "" && s.Azimuth < 0 }

func TestAll_MatchesTables(t *testing.T) {
	require.Len(t, layout.All(), len(tables))
	for _, l := range layout.All() {
		t.Run(l.Name, func(t *testing.T) {
			var rows []string
			for _, s := range l.Loudspeakers {
				if !right(s) {
					rows = append(rows, row(s))
				}
			}
			assert.ElementsMatch(t, tables[l.Name], rows)
		})
	}
}

// A BS.2051 name counts the upper, middle and lower loudspeakers; the LFE channels come on top of it.
func TestAll_NamesCountLoudspeakers(t *testing.T) {
	total := 0
	for _, l := range layout.All() {
		var upper, middle, lower int
		for _, s := range l.Loudspeakers {
			switch {
			case s.LFE:
			case s.Label[0] == 'U' || s.Label[0] == 'T':
				upper++
			case s.Label[0] == 'M':
				middle++
			case s.Label[0] == 'B':
				lower++
			}
		}
		assert.Equal(t, l.Name, fmt.Sprintf("%d+%d+%d", upper, middle, lower))
		total += len(l.Loudspeakers)
	}
	assert.Equal(t, 139, total)
}

func TestAll_LFECounts(t *testing.T) { // ITU-R BS.2051 by the same data: none in A, two in F and H, else one
	want := map[string]int{"0+2+0": 0, "3+7+0": 2, "9+10+3": 2}
	for _, l := range layout.All() {
		n := 0
		for _, s := range l.Loudspeakers {
			if s.LFE {
				n++
			}
		}
		expect, special := want[l.Name]
		if !special {
			expect = 1
		}
		assert.Equal(t, expect, n, l.Name)
	}
}

// The reference renderer's own test of its data (ear/core/test/test_bs2051.py): every pair mirrors in nominal azimuth,
// elevation and ranges; whatever is not paired stands at 0 or 180 degrees, or is an LFE without a prescribed position.
func TestAll_PairsMirror(t *testing.T) {
	for _, l := range layout.All() {
		for _, s := range l.Loudspeakers {
			name := l.Name + " " + s.Label
			if s.Pair == "" {
				if !s.LFE {
					assert.Contains(t, []float64{0, 180}, math.Round(deg(s.Azimuth)), name)
				}
				continue
			}
			p, ok := l.Loudspeaker(s.Pair)
			require.True(t, ok, name)
			assert.InDelta(t, -s.Azimuth, p.Azimuth, 1e-12, name)
			assert.InDelta(t, s.Elevation, p.Elevation, 1e-12, name)
			assert.Equal(t, s.ElevationRange(), p.ElevationRange(), name)
			require.Len(t, p.Bands, len(s.Bands), name)
			for i, b := range s.Bands {
				m := p.Bands[len(p.Bands)-1-i]
				assert.InDelta(t, -b.To, m.From, 1e-12, name)
				assert.InDelta(t, -b.From, m.To, 1e-12, name)
			}
			rules := 0
			for _, r := range l.Rules {
				if r.Kind == layout.SymmetricPair && (r.Labels[0] == s.Label || r.Labels[1] == s.Label) {
					rules++
				}
			}
			if s.LFE { // two LFE mirror each other in the data, but nothing read asks it of real ones
				assert.Zero(t, rules, name)
			} else {
				assert.Equal(t, 1, rules, name)
			}
		}
	}
}

// The facts of the reference renderer's range tests (ear/core/test/test_geom.py and the tests of its layouts), degrees.
func TestInAzimuth(t *testing.T) {
	for _, row := range []struct {
		az, from, to, tol float64
		want              bool
	}{
		{0, 0, 10, 0, true},
		{10, 0, 10, 0, true},
		{5, 10, 0, 0, false},
		{15, 10, 0, 0, true},
		{180, -10, 10, 0, false},
		{0, -180, 180, 0, true},
		{180, 180, -180, 0, true},
		{90, 180, -180, 0, false},
		{90, 0, 0, 0, false},
		{-1, 1, 2, 2, true},
		{359, 1, 2, 2, true},
		{180, 175, -175, 0, true},
		{10, -5, 5, 0, false},
		// from here on worked by hand from the rule
		{-180, 180, 180, 0, true},
		{0, 180, 180, 0, false},
		{4, 1, 2, 2, true},
		{5, 1, 2, 2, false},
		{-2, 1, 2, 2, false},
		{720 + 5, 0, 10, 0, true},
		{-360 - 5, 0, 10, 0, false},
		{math.NaN(), -180, 180, 0, false},
		{math.Inf(1), 0, 10, 0, false},
		{5, math.NaN(), 10, 0, false},
	} {
		got := layout.InAzimuth(rad(row.az), rad(row.from), rad(row.to), rad(row.tol))
		assert.Equal(t, row.want, got, "%g in [%g, %g] tol %g", row.az, row.from, row.to, row.tol)
	}
}

func TestOutsideBy_Elevation(t *testing.T) { // test of the same renderer: elevation 20 is not in [0, 15]
	s := loudspeaker(t, "0+5+0", "M+110")
	az, el := s.OutsideBy(dir(110, 20))
	assert.Zero(t, az)
	assert.InDelta(t, 5, deg(el), 1e-9)
}

func TestOutsideBy(t *testing.T) { // by hand from the tables, degrees; positive is too far left or too high
	for _, row := range []struct {
		name, label string
		az, el      float64
		wantAz      float64
		wantEl      float64
	}{
		{"4+7+0", "M+090", 90, 0, 0, 0},
		{"4+7+0", "M+090", 110, 0, 0, 0},
		{"4+7+0", "M+090", 111, 0, 1, 0},
		{"4+7+0", "M+090", 83, 0, -2, 0},
		{"4+7+0", "M+090", 83, 3, -2, 3},
		{"4+7+0", "M-090", -111, 0, -1, 0},
		{"4+7+0", "M-090", -83, -1, 2, -1},
		{"4+7+0", "M-135", 180, 0, -30, 0}, // the way through the rear: -180 is 30 right of -150
		{"9+10+3", "M+180", -179, 0, 1, 0},
		{"9+10+3", "M+180", 179, 0, -1, 0},
		{"9+10+3", "T+000", 77, 90, 0, 0},
		{"9+10+3", "T+000", 77, 88, 0, -2},
		{"4+9+0", "M+SC", 15, 0, 0, 0},
		{"4+9+0", "M+SC", 27, 0, 2, 0},
		{"4+9+0", "M+SC", 34, 0, -1, 0},
		{"4+9+0", "M+SC", 61, 0, 1, 0},
		{"4+9+0", "M-SC", -27, 0, -2, 0},
		{"4+9+0", "M-SC", -45, 0, 0, 0},
		{"4+7+0", "LFE1", -123, -45, 0, 0},
		{"4+7+0", "U+045", 45, 25, 0, -5},
		{"4+7+0", "U+045", 45, 56, 0, 1},
	} {
		az, el := loudspeaker(t, row.name, row.label).OutsideBy(dir(row.az, row.el))
		assert.InDelta(t, row.wantAz, deg(az), 1e-9, "%s %s at %g/%g", row.name, row.label, row.az, row.el)
		assert.InDelta(t, row.wantEl, deg(el), 1e-9, "%s %s at %g/%g", row.name, row.label, row.az, row.el)
	}
}

func TestDeviation(t *testing.T) {
	az, el := loudspeaker(t, "9+10+3", "M+180").Deviation(dir(-178, 3))
	assert.InDelta(t, 2, deg(az), 1e-9)
	assert.InDelta(t, 3, deg(el), 1e-9)
	az, el = loudspeaker(t, "9+10+3", "T+000").Deviation(dir(77, 89))
	assert.Zero(t, az)
	assert.InDelta(t, -1, deg(el), 1e-9)
}

// Positions that other published documents give must be permitted here.
func TestOutsideBy_OtherDocuments(t *testing.T) {
	for _, row := range []struct {
		name, label string
		az, el      float64
		inside      bool
		source      string
	}{
		{"0+5+0", "M+030", 30, 0, true, "ITU-R BS.775-3 Figure 1"},
		{"0+5+0", "M+110", 100, 0, true, "ITU-R BS.775-3 Figure 1, 100 to 120, 0 to 15 up"},
		{"0+5+0", "M-110", -120, 15, true, "ITU-R BS.775-3 Figure 1"},
		{"0+5+0", "M+110", 90, 0, false, "FFmpeg libavfilter/af_sofalizer.c, side of 5.1 at 90: no BS.775 surround"},
		{"0+7+0", "M+090", 90, 0, true, "FFmpeg libavfilter/af_sofalizer.c, side"},
		{"0+7+0", "M-135", -150, 0, true, "FFmpeg libavfilter/af_sofalizer.c, back"},
		{"4+7+0", "U+045", 30, 35, true, "ISO/IEC 23008-3, geometry of configuration 19, upper layer at 35"},
		{"9+10+3", "B+000", 0, -15, true, "ISO/IEC 23008-3, lower layer at -15"},
		{"9+10+3", "M+060", 45, 0, true, "Spatial_Audio_Framework at 4552872, 9+10+3 preset at the inner limits"},
		{"9+10+3", "M-030", -22.5, 0, true, "Spatial_Audio_Framework at 4552872"},
		{"9+10+3", "M+135", 110, 0, true, "Spatial_Audio_Framework at 4552872"},
		{"9+10+3", "B+045", 45, -22, true, "AES 142 e-Brief (2017) room, scene files of bbcrd-brirs at c88a293"},
		{"9+10+3", "U-135", -110, 40, true, "AES 142 e-Brief (2017), Table 1 as printed"},
		{"9+10+3", "T+000", 0, 40, false, "AES 142 e-Brief (2017), Table 1: a misprint, its scene file has 90"},
	} {
		az, el := loudspeaker(t, row.name, row.label).OutsideBy(dir(row.az, row.el))
		assert.Equal(t, row.inside, az == 0 && el == 0, "%s %s at %g/%g: %s", row.name, row.label, row.az, row.el, row.source)
	}
}

// Where the data for BS.2051-1 (ebu_adm_renderer) and for BS.2051-3 (libspatialaudio at cec181e) differ.
func TestDifferences(t *testing.T) {
	got := map[string][]string{}
	for _, l := range layout.All() {
		for _, s := range l.Loudspeakers {
			for _, d := range s.Differences() {
				got[l.Name+" "+s.Label] = append(got[l.Name+" "+s.Label], d.String())
			}
		}
	}
	surround := []string{"elevation: data of ITU-R BS.2051-1 0°, of ITU-R BS.2051-3 0 to 15°"}
	upperLeft := []string{"azimuth: data of ITU-R BS.2051-1 100 to 135°, of ITU-R BS.2051-3 110 to 135°"}
	upperRight := []string{"azimuth: data of ITU-R BS.2051-1 -135 to -100°, of ITU-R BS.2051-3 -135 to -110°"}
	lfe := func(azimuth string) []string {
		return []string{
			"azimuth: data of ITU-R BS.2051-1 " + azimuth + ", of ITU-R BS.2051-3 -180 to 180°",
			"elevation: data of ITU-R BS.2051-1 -30 to -15°, of ITU-R BS.2051-3 -90 to 90°",
		}
	}
	assert.Equal(t, map[string][]string{
		"4+5+0 M+110": surround, "4+5+0 M-110": surround, "4+5+1 M+110": surround, "4+5+1 M-110": surround,
		"4+5+0 U+110": upperLeft, "4+5+0 U-110": upperRight, "4+5+1 U+110": upperLeft, "4+5+1 U-110": upperRight,
		"3+7+0 LFE1": lfe("30 to 90°"), "3+7+0 LFE2": lfe("-90 to -30°"),
		"9+10+3 T+000": {"azimuth: data of ITU-R BS.2051-1 0°, of ITU-R BS.2051-3 -180 to 180°"},
	}, got)
}

// Placeholders: BS.2051 gives no position for one LFE, nor a nominal azimuth for the screen pair of System G.
func TestNominalSpecified(t *testing.T) {
	for _, l := range layout.All() {
		for _, s := range l.Loudspeakers {
			freeLFE := s.LFE && s.Anywhere()
			screen := strings.HasSuffix(s.Label, "SC")
			assert.Equal(t, !freeLFE && !screen, s.NominalSpecified, "%s %s", l.Name, s.Label)
		}
	}
}

func TestByHome(t *testing.T) {
	for home, want := range map[string]string{ // AOM layout tables (iamf at 551b23c, index.bs)
		"5.1": "0+5+0", "5.1.2": "2+5+0", "5.1.4": "4+5+0", "7.1": "0+7+0", "7.1.4": "4+7+0", "7.1.2": "2+7+0",
		"3.1.2": "2+3+0", "9.1.6": "6+9+0", "22.2": "9+10+3", "7.x.4": "4+7+0", "5.2": "0+5+0", "2.0": "0+2+0",
	} {
		l, ok := layout.ByHome(home)
		require.True(t, ok, home)
		assert.Equal(t, want, l.Name)
	}
	for _, home := range []string{"", "x", "7.14", "7.1.4 ", "7.y.4", "4+7+0"} {
		_, ok := layout.ByHome(home)
		assert.False(t, ok, home)
	}
	_, ok := layout.ByName("7.1.4")
	assert.False(t, ok)
}

func TestPermitted(t *testing.T) {
	az, el, ok := named(t, "4+9+0").Permitted("M+SC")
	require.True(t, ok)
	require.Len(t, az, 2)
	assert.Equal(t, "5 to 25°", az[0].String())
	assert.Equal(t, "35 to 60°", az[1].String())
	assert.True(t, el.Target())
	_, _, ok = named(t, "4+9+0").Permitted("M+110")
	assert.False(t, ok)
}

// Table 11 of BS.2051-3 (System I), read through a page that quotes it: the gap from side to rear is 30 to 60 degrees, so
// 110 and 120, each permitted alone, fail together.
func TestCheck_GapRule(t *testing.T) {
	for _, row := range []struct {
		name       string
		side, rear float64
		gap, out   float64
		verified   bool
	}{
		{"0+7+0", 110, 120, 10, -20, true},
		{"0+7+0", 90, 135, 45, 0, true},
		{"0+7+0", 90, 120, 30, 0, true},
		{"0+7+0", 90, 150, 60, 0, true},
		{"0+7+0", 85, 150, 65, 5, true},
		{"4+7+0", 110, 120, 10, -20, false},
		{"4+9+0", 110, 120, 10, -20, false},
		{"2+7+0", 110, 120, 10, -20, false},
	} {
		f, err := named(t, row.name).Check(map[string]layout.Direction{
			"M+090": dir(row.side, 0), "M+135": dir(row.rear, 0), "M-090": dir(-row.side, 0), "M-135": dir(-row.rear, 0),
		})
		require.NoError(t, err)
		require.Len(t, f.Gaps, 2)
		for _, g := range f.Gaps {
			assert.InDelta(t, row.gap, deg(g.Gap), 1e-9, row.name)
			assert.InDelta(t, row.out, deg(g.OutsideBy), 1e-9, row.name)
			assert.Equal(t, row.verified, g.Rule.Verified, row.name)
			assert.Equal(t, row.verified, g.Rule.Note == "", row.name)
		}
		for _, s := range f.Loudspeakers {
			assert.Zero(t, s.Outside, "%s %s", row.name, s.Loudspeaker.Label)
		}
	}
}

func TestCheck_Pairs(t *testing.T) {
	f, err := named(t, "0+2+0").Check(map[string]layout.Direction{"M+030": dir(32, 1), "M-030": dir(-29, -0.5)})
	require.NoError(t, err)
	require.Len(t, f.Pairs, 1)
	assert.InDelta(t, 3, deg(f.Pairs[0].Azimuth), 1e-9)
	assert.InDelta(t, 1.5, deg(f.Pairs[0].Elevation), 1e-9)
	require.Len(t, f.Loudspeakers, 2)
	assert.InDelta(t, 2, deg(f.Loudspeakers[0].Deviation.Azimuth), 1e-9)
	assert.InDelta(t, 2, deg(f.Loudspeakers[0].Outside.Azimuth), 1e-9)
	assert.Empty(t, f.Missing)
}

func TestCheck_Alternative(t *testing.T) {
	f, err := named(t, "4+5+0").Check(map[string]layout.Direction{"U+110": dir(104, 40), "M+110": dir(110, 10)})
	require.NoError(t, err)
	require.Len(t, f.Loudspeakers, 2)
	assert.Equal(t, "M+110", f.Loudspeakers[0].Loudspeaker.Label)
	assert.InDelta(t, 10, deg(f.Loudspeakers[0].Outside.Elevation), 1e-9)
	assert.Zero(t, f.Loudspeakers[0].OutsideAlternative)
	assert.Zero(t, f.Loudspeakers[1].Outside)
	assert.InDelta(t, -6, deg(f.Loudspeakers[1].OutsideAlternative.Azimuth), 1e-9)
	assert.Len(t, f.Missing, 8)
	assert.Empty(t, f.Pairs)
}

func TestCheck_Refuses(t *testing.T) {
	l := named(t, "0+2+0")
	for _, row := range []struct {
		label string
		d     layout.Direction
		want  error
	}{
		{"M+110", dir(110, 0), layout.ErrLabel},
		{"M+030", dir(math.NaN(), 0), layout.ErrDirection},
		{"M+030", dir(math.Inf(1), 0), layout.ErrDirection},
		{"M+030", dir(30, math.NaN()), layout.ErrDirection},
		{"M+030", dir(30, 91), layout.ErrDirection},
	} {
		_, err := l.Check(map[string]layout.Direction{row.label: row.d})
		require.ErrorIs(t, err, row.want)
		assert.ErrorContains(t, err, row.label)
	}
}

// A set of directions at the nominal positions is inside everything, and mirrored.
func TestCheck_Nominal(t *testing.T) {
	for _, l := range layout.All() {
		actual := map[string]layout.Direction{}
		for i := range l.Loudspeakers {
			actual[l.Loudspeakers[i].Label] = l.Loudspeakers[i].Nominal()
		}
		f, err := l.Check(actual)
		require.NoError(t, err)
		assert.Len(t, f.Loudspeakers, len(l.Loudspeakers))
		for _, s := range f.Loudspeakers {
			assert.Zero(t, s.Deviation, "%s %s", l.Name, s.Loudspeaker.Label)
			assert.Zero(t, s.Outside, "%s %s", l.Name, s.Loudspeaker.Label)
			assert.Zero(t, s.OutsideAlternative, "%s %s", l.Name, s.Loudspeaker.Label)
		}
		for _, p := range f.Pairs {
			assert.InDelta(t, 0, p.Azimuth, 1e-12)
			assert.Zero(t, p.Elevation)
		}
		for _, g := range f.Gaps {
			assert.Zero(t, g.OutsideBy, l.Name)
		}
	}
}

// Mirroring a room left to right turns every azimuth figure around and leaves every elevation figure.
func TestOutsideBy_Mirrors(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := rapid.SampledFrom(layout.All()).Draw(t, "layout")
		s := rapid.SampledFrom(l.Loudspeakers).Draw(t, "loudspeaker")
		if s.Pair == "" {
			return
		}
		p, _ := l.Loudspeaker(s.Pair)
		d := dir(rapid.Float64Range(-180, 180).Draw(t, "azimuth"), rapid.Float64Range(-90, 90).Draw(t, "elevation"))
		m := layout.Direction{Azimuth: -d.Azimuth, Elevation: d.Elevation}
		az, el := s.OutsideBy(d)
		azM, elM := p.OutsideBy(m)
		// straight across from a band both ways round are as far
		if math.Abs(math.Abs(az)-math.Abs(azM)) > 2e-6 || math.Abs(el-elM) > 2e-6 {
			t.Fatalf("%s %s: %g/%g against %g/%g", l.Name, s.Label, az, el, azM, elM)
		}
		if az == 0 && !layout.InAzimuth(d.Azimuth, s.Bands[0].From, s.Bands[len(s.Bands)-1].To, 0) {
			t.Fatalf("%s %s: inside a band but not inside the whole", l.Name, s.Label)
		}
	})
}

// Turning by whole turns changes nothing, and moving back by what is outside comes to the limit.
func TestInAzimuth_Turns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		az := rapid.Float64Range(-180, 180).Draw(t, "az")
		from := float64(rapid.IntRange(-180, 180).Draw(t, "from"))
		to := float64(rapid.IntRange(-180, 180).Draw(t, "to"))
		turns := float64(rapid.IntRange(-3, 3).Draw(t, "turns"))
		// stay a thousandth of a degree off the limits: a whole turn is no whole number of microradians
		for _, limit := range []float64{from, to} {
			if d := math.Abs(math.Mod(az-limit, 360)); d < 1e-3 || d > 360-1e-3 {
				return
			}
		}
		a := layout.InAzimuth(rad(az), rad(from), rad(to), 0)
		b := layout.InAzimuth(rad(az+360*turns), rad(from), rad(to), 0)
		if a != b {
			t.Fatalf("%g in [%g, %g]: %v, %g turns on %v", az, from, to, a, turns, b)
		}
	})
}

// A direction lies in a sector exactly when it is not outside the permitted ranges, where these have a width, and
// within the caller's tolerance of a target.
func TestLoudspeaker_Sectors(t *testing.T) {
	tolerance := rad(2)
	for _, l := range layout.All() {
		for i := range l.Loudspeakers {
			s := &l.Loudspeakers[i]
			sectors := s.Sectors(tolerance, tolerance)
			require.Equal(t, s.Anywhere(), len(sectors) == 0, s.Label)
			if s.Anywhere() {
				continue
			}
			for az := -179.93; az < 180; az += 1.9 { // never at the end of a range
				for el := -88.17; el < 90; el += 1.3 {
					d := dir(az, el)
					outAz, outEl := s.OutsideBy(d)
					room := func(out float64, target bool) float64 {
						if target {
							return tolerance - math.Abs(out)
						}
						return -math.Abs(out)
					}
					left := math.Min(room(outAz, s.Bands[0].Target()), room(outEl, s.ElevationRange().Target()))
					in := false
					for _, x := range sectors {
						in = in || x.Contains(d)
					}
					assert.Equal(t, left >= 0, in, "%s %s %v", l.Name, s.Label, d)
				}
			}
		}
	}
}

// The top loudspeaker of system H hangs straight above, where azimuth has no meaning.
func TestLoudspeaker_Sectors_StraightUp(t *testing.T) {
	sectors := loudspeaker(t, "9+10+3", "T+000").Sectors(rad(2), rad(3))
	require.Len(t, sectors, 1)
	assert.True(t, sectors[0].Contains(dir(140, 87.5)))
	assert.False(t, sectors[0].Contains(dir(140, 86.5)))
}

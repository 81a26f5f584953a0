package rack_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/compute/figure"
	"hangtrue/compute/rack"
)

// row is one number held against a source. A relative tolerance is part of tol.
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

const units = "rack unit tables for EIA/ECA-310-E, IEC 60297-3-100"

func TestPanelHeights(t *testing.T) {
	panel := func(n int) func() (float64, error) {
		return func() (float64, error) {
			h, err := rack.PanelHeight(n)
			return h * 1e3, err
		}
	}
	check(t, []row{
		{"1 U, mm", panel(1), 43.66, 0.01, units + ": 43.66 mm", figure.Secondary},
		{"2 U, mm", panel(2), 88.11, 0.01, "44.45·2 - 0.79", figure.Derived},
		{"4 U, mm", panel(4), 177.01, 0.01, "44.45·4 - 0.79", figure.Derived},
	})
	for _, n := range []int{0, -1, rack.MaxUnits + 1} {
		_, err := rack.PanelHeight(n)
		require.ErrorIs(t, err, rack.ErrUnits)
	}
}

func TestRackSizes(t *testing.T) {
	sum := 0.0
	for _, pitch := range rack.HolePitch() {
		sum += pitch
	}
	assert.InDelta(t, 0.04445, sum, 1e-15, "15.875 + 15.875 + 12.700 mm close one unit; %s", units)
	assert.InDelta(t, 1.75*0.0254, rack.UnitHeight, 1e-15, "1.75 in; %s", units)
	assert.InDelta(t, 19*0.0254, rack.PanelWidth, 1e-15, "19 in; %s", units)
	assert.InDelta(t, 18.312*0.0254, rack.HoleCentres, 0.00005, "18.312 in; %s", units)
	assert.InDelta(t, 17.75*0.0254, rack.Opening, 1e-15, "17.75 in; %s", units)
}

func TestStackFindsSpaceAndConflicts(t *testing.T) {
	f, err := rack.Stack(12, 60, []rack.Item{
		{Name: "Amp 1", Units: 3, Position: 1, Mass: 25},
		{Name: "Amp 2", Units: 3, Position: 3, Mass: 25},
		{Name: "Processor", Units: 2, Position: 8, Mass: 10},
		{Name: "Player", Units: 2, Position: 12, Mass: 0.001},
		{Name: "Shelf", Units: 1},
		{Name: "Subwoofer", Mass: 40},
	})
	require.NoError(t, err)
	assert.Equal(t, rack.Fill{
		Used: 8, Left: 4,
		Gaps:       []rack.Span{{First: 6, Last: 7}, {First: 10, Last: 11}},
		Overlaps:   []rack.Overlap{{A: "Amp 1", B: "Amp 2", Span: rack.Span{First: 3, Last: 3}}},
		Outside:    []string{"Player"},
		Unplaced:   []string{"Shelf"},
		Mass:       60.001,
		Overloaded: true,
	}, f)
	assert.False(t, f.Clear())
}

func TestStackThatIsRight(t *testing.T) {
	f, err := rack.Stack(4, 50, []rack.Item{
		{Name: "a", Units: 2, Position: 1, Mass: 25},
		{Name: "b", Units: 2, Position: 3, Mass: 25},
	})
	require.NoError(t, err)
	assert.True(t, f.Clear())
	assert.Zero(t, f.Left)
	f, err = rack.Stack(3, 0, []rack.Item{{Name: "a", Units: 2, Mass: 1e4}, {Name: "b", Units: 2}})
	require.NoError(t, err)
	assert.Equal(t, 1, f.Short, "4 units wanted, 3 there")
	assert.False(t, f.Overloaded, "not known what it may carry")
	f, err = rack.Stack(1, 0, []rack.Item{{Name: "a", Units: 1, Position: -4}})
	require.NoError(t, err)
	assert.Equal(t, []string{"a"}, f.Outside)
}

func TestStackRefusesBadInput(t *testing.T) {
	ok := rack.Item{Name: "a", Units: 1, Position: 1}
	with := func(change func(it *rack.Item)) []rack.Item {
		it := ok
		change(&it)
		return []rack.Item{it}
	}
	for _, r := range []struct {
		what    string
		units   int
		carries float64
		items   []rack.Item
		want    error
		naming  string
	}{
		{"no units", 0, 0, nil, rack.ErrUnits, "rack: read 0"},
		{"too many", 101, 0, nil, rack.ErrUnits, "rack: read 101"},
		{"load", 10, math.NaN(), nil, rack.ErrNumber, "load the rack may carry"},
		{"name", 10, 0, with(func(it *rack.Item) { it.Name = "" }), rack.ErrName, "item 1"},
		{"name twice", 10, 0, []rack.Item{ok, ok}, rack.ErrName, "item 2"},
		{"height", 10, 0, with(func(it *rack.Item) { it.Units = -1 }), rack.ErrUnits, `item "a" height`},
		{"position", 10, 0, with(func(it *rack.Item) { it.Position = math.MaxInt }), rack.ErrUnits, `item "a" position`},
		{"position below", 10, 0, with(func(it *rack.Item) { it.Position = math.MinInt }), rack.ErrUnits, `item "a" position`},
		{"mass", 10, 0, with(func(it *rack.Item) { it.Mass = -1 }), rack.ErrNumber, `item "a" mass`},
		{"heat", 10, 0, with(func(it *rack.Item) { it.Heat = math.Inf(1) }), rack.ErrNumber, `item "a" heat`},
		{"mains", 10, 0, with(func(it *rack.Item) { it.Mains = math.NaN() }), rack.ErrNumber, `item "a" mains power`},
		{"rated", 10, 0, with(func(it *rack.Item) { it.Rated = -5 }), rack.ErrNumber, `item "a" rated power`},
		{"efficiency", 10, 0, with(func(it *rack.Item) { it.Efficiency = 1.2 }), rack.ErrNumber, `item "a" efficiency`},
		{"items", 10, 0, make([]rack.Item, rack.MaxItems+1), rack.ErrNumber, "items"},
	} {
		_, err := rack.Stack(r.units, r.carries, r.items)
		require.ErrorIs(t, err, r.want, r.what)
		assert.ErrorContains(t, err, r.naming, r.what)
		if len(r.items) > 0 {
			_, err = rack.Total(r.items)
			require.ErrorIs(t, err, r.want, r.what)
		}
	}
}

// Counting unit by unit gives the same as counting by spans.
func TestStackCountsEveryUnitOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		units := rapid.IntRange(1, 20).Draw(t, "units")
		var items []rack.Item
		for i := range rapid.IntRange(0, 6).Draw(t, "items") {
			items = append(items, rack.Item{
				Name: string(rune('a' + i)), Units: rapid.IntRange(0, 5).Draw(t, "height"), Position: rapid.IntRange(-2, 22).Draw(t, "position"),
				Mass: rapid.Float64Range(0, 30).Draw(t, "mass"),
			})
		}
		f, err := rack.Stack(units, 0, items)
		require.NoError(t, err)
		assert.Equal(t, units, f.Used+f.Left)
		free, shared := 0, 0
		for u := 1; u <= units; u++ {
			n := 0
			for _, it := range items {
				if it.Position != 0 && u >= it.Position && u < it.Position+it.Units {
					n++
				}
			}
			inGap := slices.ContainsFunc(f.Gaps, func(s rack.Span) bool { return u >= s.First && u <= s.Last })
			assert.Equal(t, n == 0, inGap, "unit %d", u)
			if n == 0 {
				free++
			}
			if n > 1 {
				shared++
			}
		}
		assert.Equal(t, free, f.Left)
		if shared > 0 {
			assert.NotEmpty(t, f.Overlaps)
		}
		sum := 0
		for _, g := range f.Gaps {
			assert.Positive(t, g.Units())
			sum += g.Units()
		}
		assert.Equal(t, f.Left, sum)
	})
}

func BenchmarkStack(b *testing.B) {
	var items []rack.Item
	for i := range 40 {
		items = append(items, rack.Item{Name: string(rune('A' + i)), Units: 1, Position: i + 1, Mass: 10, Heat: 50})
	}
	for b.Loop() {
		if _, err := rack.Stack(44, 800, items); err != nil {
			b.Fatal(err)
		}
	}
}

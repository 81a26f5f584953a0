package rack_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/compute/figure"
	"hangtrue/compute/rack"
)

func TestMainsCheckValues(t *testing.T) {
	watts := func(r rack.Rule, rating, voltage float64) func() (float64, error) {
		return func() (float64, error) {
			amperes, err := r.Greatest(rating)
			if err != nil {
				return 0, err
			}
			return rack.Power(amperes, voltage, 1)
		}
	}
	const code = "NEC 210.19(A), 210.20(A): continuous loads at 80 %"
	check(t, []row{
		{"15 A, A", func() (float64, error) { return rack.ContinuousLoad.Greatest(15) }, 12, 0, code, figure.Secondary},
		{"20 A, A", func() (float64, error) { return rack.ContinuousLoad.Greatest(20) }, 16, 0, code + "; trade article: 20 A, 16 A", figure.Secondary},
		{"15 A at 120 V, W", watts(rack.ContinuousLoad, 15, 120), 1440, 0, code, figure.Secondary},
		{"20 A at 120 V, W", watts(rack.ContinuousLoad, 20, 120), 1920, 0, code, figure.Secondary},
		{"16 A at 230 V, W", watts(rack.DesignCurrent, 16, 230), 3680, 0, "IEC 60364-4-43, 433.1: Ib <= In", figure.Secondary},
		{"13 A at 230 V, W", watts(rack.DesignCurrent, 13, 230), 2990, 0, "IEC 60364-4-43, 433.1: Ib <= In", figure.Secondary},
		{"12.5 A, rating", func() (float64, error) { return rack.ContinuousLoad.LeastRating(12.5) }, 15.625, 0, code, figure.Secondary},
		{"12.5 A, breaker", func() (float64, error) { return rack.ContinuousLoad.Breaker(12.5) }, 20, 0, code + "; sizes of NEC 240.6(A)", figure.Memory},
		{"12 A, breaker", func() (float64, error) { return rack.ContinuousLoad.Breaker(12) }, 15, 0, code + "; sizes of NEC 240.6(A)", figure.Memory},
		{"13.5 A, breaker", func() (float64, error) { return rack.DesignCurrent.Breaker(13.5) }, 16, 0, "preferred ratings of IEC 60898-1", figure.Memory},
		{"1440 W at 120 V, A", func() (float64, error) { return rack.Current(1440, 120, 1) }, 12, 0, "I = P/(V·PF)", figure.Derived},
		{"920 W at 230 V, PF 0.8, A", func() (float64, error) { return rack.Current(920, 230, 0.8) }, 5, 1e-12, "I = P/(V·PF)", figure.Derived},
	})
}

func TestCircuitLoad(t *testing.T) {
	twenty := rack.Circuit{Rule: rack.ContinuousLoad, Rating: 20, Voltage: 120, PowerFactor: 1}
	l, err := twenty.Load(1920)
	require.NoError(t, err)
	assert.True(t, l.Within, "at the limit")
	assert.InDelta(t, 16, l.Current, 1e-12)
	assert.InDelta(t, 0.8, l.Part, 1e-12)
	assert.Equal(t, figure.Secondary, l.Figure.Mark)
	l, err = twenty.Load(1920.2)
	require.NoError(t, err)
	assert.False(t, l.Within, "2 mA above")

	twenty.Rule = rack.DesignCurrent
	l, err = twenty.Load(2400)
	require.NoError(t, err)
	assert.True(t, l.Within, "no 80 % elsewhere")

	twenty.Others = 1
	l, err = twenty.Load(2400)
	require.NoError(t, err)
	assert.False(t, l.Within)
	assert.InDelta(t, 21, l.Current, 1e-12)
	assert.Equal(t, l.Current, l.Figure.Value)
}

func TestCircuitLoadSaysWhenThePowerFactorIsNotKnown(t *testing.T) {
	c := rack.Circuit{Rule: rack.DesignCurrent, Rating: 16, Voltage: 230}
	l, err := c.Load(2300)
	require.NoError(t, err)
	assert.InDelta(t, 10, l.Current, 1e-12)
	assert.Equal(t, figure.CommonPractice, l.Figure.Mark)
	assert.Contains(t, l.Figure.Source, "power factor not known")
}

// Ib <= In <= Iz, read in a secondary text; I2 <= 1.45·Iz, from memory, not verified.
func TestCircuitProtectsItsCable(t *testing.T) {
	for _, r := range []struct {
		capacity, operates float64
		protected, known   bool
	}{
		{0, 0, false, false},
		{15.9, 0, false, true},
		{16, 0, true, true},
		{16, 23.2, true, true},
		{16, 23.3, false, true},
	} {
		c := rack.Circuit{Rule: rack.DesignCurrent, Rating: 16, Voltage: 230, Capacity: r.capacity, Operates: r.operates}
		l, err := c.Load(1000)
		require.NoError(t, err)
		assert.Equal(t, r.protected, l.CableProtected, r)
		assert.Equal(t, r.known, l.CableKnown, r)
	}
}

func TestMainsRefusesBadInput(t *testing.T) {
	good := rack.Circuit{Rule: rack.DesignCurrent, Rating: 16, Voltage: 230}
	load := func(change func(c *rack.Circuit), power float64) func() (float64, error) {
		return func() (float64, error) {
			c := good
			change(&c)
			l, err := c.Load(power)
			return l.Current, err
		}
	}
	same := func(*rack.Circuit) {}
	nan := math.NaN()
	for _, r := range []struct {
		what   string
		call   func() (float64, error)
		want   error
		naming string
	}{
		{"no rule", load(func(c *rack.Circuit) { c.Rule = "" }, 1), rack.ErrRule, `read ""`},
		{"rating 0", load(func(c *rack.Circuit) { c.Rating = 0 }, 1), rack.ErrNumber, "breaker rating: read 0"},
		{"rating NaN", load(func(c *rack.Circuit) { c.Rating = nan }, 1), rack.ErrNumber, "breaker rating"},
		{"rating tiny", load(func(c *rack.Circuit) { c.Rating = 1e-300 }, 1), rack.ErrNumber, "breaker rating"},
		{"voltage 0", load(func(c *rack.Circuit) { c.Voltage = 0 }, 1), rack.ErrNumber, "voltage: read 0"},
		{"power factor", load(func(c *rack.Circuit) { c.PowerFactor = 1.1 }, 1), rack.ErrNumber, "power factor"},
		{"power NaN", load(same, nan), rack.ErrNumber, "power: read NaN"},
		{"power negative", load(same, -1), rack.ErrNumber, "power: read -1"},
		{"others", load(func(c *rack.Circuit) { c.Others = -1 }, 1), rack.ErrNumber, "what else the circuit feeds"},
		{"capacity", load(func(c *rack.Circuit) { c.Capacity = nan }, 1), rack.ErrNumber, "what the cable may carry"},
		{"operates", load(func(c *rack.Circuit) { c.Operates = -1 }, 1), rack.ErrNumber, "protection operate"},
		{"current, power factor 0", func() (float64, error) { return rack.Current(100, 230, 0) }, rack.ErrNumber, "power factor: read 0"},
		{"power, current", func() (float64, error) { return rack.Power(-1, 230, 1) }, rack.ErrNumber, "current"},
		{"least rating, load 0", func() (float64, error) { return rack.DesignCurrent.LeastRating(0) }, rack.ErrNumber, "load current"},
		{"breaker, rule", func() (float64, error) { return rack.Rule("x").Breaker(1) }, rack.ErrRule, `read "x"`},
		{"breaker, 48.1 A at 80 %", func() (float64, error) { return rack.ContinuousLoad.Breaker(48.1) }, rack.ErrNoBreaker, "largest held here is 60 A"},
		{"breaker, 64 A", func() (float64, error) { return rack.DesignCurrent.Breaker(64) }, rack.ErrNoBreaker, "largest held here is 63 A"},
	} {
		t.Run(r.what, func(t *testing.T) {
			got, err := r.call()
			require.ErrorIs(t, err, r.want)
			assert.ErrorContains(t, err, r.naming)
			assert.Zero(t, got)
		})
	}
	assert.Empty(t, rack.Rule("x").Sizes())
}

// The breaker found carries the load, and the next smaller one does not.
func TestBreakerIsTheSmallestThatCarries(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rule := rapid.SampledFrom([]rack.Rule{rack.ContinuousLoad, rack.DesignCurrent}).Draw(t, "rule")
		load := float64(rapid.IntRange(1, 48_000).Draw(t, "load")) / 1000
		size, err := rule.Breaker(load)
		require.NoError(t, err)
		for _, s := range rule.Sizes() {
			greatest, err := rule.Greatest(s)
			require.NoError(t, err)
			assert.Equal(t, s >= size, greatest >= load-0.0005, "%v A for %v A", s, load)
		}
	})
}

func TestSwitchOnAmplifiersLast(t *testing.T) {
	assert.Equal(t, []rack.Stage{
		{Items: []string{"processor", "player"}},
		{Items: []string{"amp small"}, Amplifier: true},
		{Items: []string{"amp large"}, Amplifier: true},
		{Items: []string{"amp large too"}, Amplifier: true},
	}, rack.SwitchOn([]rack.Item{
		{Name: "amp large", Rated: 1000}, {Name: "processor", Mains: 60}, {Name: "shelf"},
		{Name: "amp large too", Rated: 1000}, {Name: "amp small", Rated: 200}, {Name: "player", Heat: 20},
	}))
	assert.Empty(t, rack.SwitchOn(nil))
	assert.Equal(t, figure.CommonPractice, rack.InrushMark)
}

func TestCautionDefersToCodeAndElectrician(t *testing.T) {
	assert.Contains(t, rack.Caution, "local code and the authority having jurisdiction decide")
	assert.Contains(t, rack.Caution, "licensed electrician")
}

func BenchmarkWholeRack(b *testing.B) {
	items := []rack.Item{
		{Name: "Amp 1", Units: 4, Position: 1, Mass: 30, Rated: 1600, Efficiency: rack.LinearEfficiency},
		{Name: "Amp 2", Units: 2, Position: 6, Mass: 12, Rated: 800, Heat: 60},
		{Name: "Processor", Units: 2, Position: 9, Mass: 10, Mains: 60},
	}
	circuit := rack.Circuit{Rule: rack.ContinuousLoad, Rating: 20, Voltage: 120}
	for b.Loop() {
		if _, err := rack.Stack(12, 100, items); err != nil {
			b.Fatal(err)
		}
		d, err := rack.Total(items)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := rack.AirflowFigure(d.Heat, 10, 25); err != nil {
			b.Fatal(err)
		}
		if _, err := circuit.Load(d.Mains); err != nil {
			b.Fatal(err)
		}
	}
}

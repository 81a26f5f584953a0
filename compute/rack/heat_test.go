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

const (
	arithmetic = "computed apart from this code from the equation in the function's comment"
	manual     = "amplifier manual's table, rounded"
)

func btu(watts float64) func() (float64, error) {
	return func() (float64, error) { return rack.BTUPerHour(watts) }
}

func flow(heat, rise, inlet float64, in func(float64) float64) func() (float64, error) {
	return func() (float64, error) {
		q, err := rack.Airflow(heat, rise, inlet)
		return in(q), err
	}
}

func density(t float64) func() (float64, error) {
	return func() (float64, error) { return rack.AirDensity(t, rack.StandardPressure) }
}

func TestHeatCheckValues(t *testing.T) {
	hour, minute := rack.CubicMetresPerHour, rack.CubicFeetPerMinute
	check(t, []row{
		{"1000 W, BTU/h", btu(1000), 3412.14, 0.05, arithmetic, figure.Derived},
		{"1 W, BTU/h", btu(1), 3.4123, 0.0002, "conversion table: 1 W = 3.4123 Btu/h", figure.Secondary},
		{"440 W, BTU/h", btu(440), 1501.3, 0.2, arithmetic, figure.Derived},
		{"310 W, BTU/h", btu(310), 1057.8, 0.2, arithmetic, figure.Derived},
		{"440 W as printed, BTU/h", btu(440), 1500, 5, manual, figure.Secondary},
		{"310 W as printed, BTU/h", btu(310), 1060, 5, manual, figure.Secondary},
		{"600 W 8 K, m³/h", flow(600, 8, 20, hour), 223.1, 0.005 * 223.1, arithmetic, figure.Derived},
		{"600 W 8 K, CFM", flow(600, 8, 20, minute), 131.3, 0.005 * 131.3, arithmetic, figure.Derived},
		{"300 W 5 K, m³/h", flow(300, 5, 20, hour), 178.5, 0.1, arithmetic, figure.Derived},
		{"300 W 5 K, CFM", flow(300, 5, 20, minute), 105.1, 0.1, arithmetic, figure.Derived},
		{"300 W, BTU/h", btu(300), 1023.6, 0.1, arithmetic, figure.Derived},
		{"600 W 10 K, m³/h", flow(600, 10, 20, hour), 178.5, 0.1, arithmetic, figure.Derived},
		{"600 W 10 K, CFM", flow(600, 10, 20, minute), 105.1, 0.1, arithmetic, figure.Derived},
		{"600 W, BTU/h", btu(600), 2047.3, 0.1, arithmetic, figure.Derived},
		{"1000 W 10 K, m³/h", flow(1000, 10, 20, hour), 297.5, 0.1, arithmetic, figure.Derived},
		{"1000 W 10 K, CFM", flow(1000, 10, 20, minute), 175.1, 0.1, arithmetic, figure.Derived},
		{"1000 W 1 °F, CFM", flow(1000, 5.0/9, 20, minute), 3160, 0.004 * 3160, "fan maker: 3160·kW/ΔT(°F)", figure.Secondary},
		{"warm inlet, ratio of flows", func() (float64, error) {
			warm, err := rack.Airflow(600, 8, 35)
			if err != nil {
				return 0, err
			}
			cool, err := rack.Airflow(600, 8, 20)
			return warm / cool, err
		}, 1.051, 0.0005, arithmetic, figure.Derived},
		{"dry air at 20 °C, kg/m³", density(20), 1.2041, 0.0005, arithmetic, figure.Derived},
		{"dry air at 35 °C, kg/m³", density(35), 1.1455, 0.0005, arithmetic, figure.Derived},
	})
}

func TestDrawOf(t *testing.T) {
	eleven := rack.Item{Name: "amp", Units: 4, Rated: 11 * 100}
	for _, r := range []struct {
		what                   string
		item                   rack.Item
		efficiency             float64
		mains, delivered, heat float64
		tol                    float64
		mark                   figure.Mark
	}{
		{"11 x 100 W, linear", eleven, rack.LinearEfficiency, 458, 137.5, 321, 0.5, figure.CommonPractice},
		{"11 x 100 W, switching", eleven, rack.SwitchingEfficiency, 172, 137.5, 34, 0.5, figure.CommonPractice},
		{"maker's mains figure at 1/8 of 8000 W: 1440 - 1000 W as printed in a manual", rack.Item{Name: "amp", Rated: 8000, Mains: 1440}, 0, 1440, 1000, 440, 0, figure.Secondary},
		{"maker's heat figure", rack.Item{Name: "amp", Rated: 8000, Heat: 440}, 0.3, 1440, 1000, 440, 0, figure.Published},
		{"both, as the maker has them", rack.Item{Name: "amp", Rated: 800, Heat: 300, Mains: 450}, 0.3, 450, 150, 300, 0, figure.Published},
		{"a processor turns all to heat", rack.Item{Name: "processor", Mains: 60}, 0, 60, 0, 60, 0, figure.Secondary},
		{"a shelf", rack.Item{Name: "shelf", Units: 1}, 0, 0, 0, 0, 0, figure.Derived},
	} {
		t.Run(r.what, func(t *testing.T) {
			r.item.Efficiency = r.efficiency
			d, err := rack.DrawOf(r.item)
			require.NoError(t, err)
			assert.InDelta(t, r.mains, d.Mains, r.tol)
			assert.InDelta(t, r.delivered, d.Delivered, r.tol)
			assert.InDelta(t, r.heat, d.Heat, r.tol)
			assert.Equal(t, r.mark, d.Figure.Mark)
			assert.Equal(t, d.Heat, d.Figure.Value)
			assert.NotEmpty(t, d.Figure.Source)
		})
	}
}

func TestDrawOfSaysThatAnEfficiencyIsCommonPractice(t *testing.T) {
	d, err := rack.DrawOf(rack.Item{Name: "amp", Rated: 100, Efficiency: rack.LinearEfficiency})
	require.NoError(t, err)
	assert.Contains(t, d.Figure.Source, "common practice, no source")
	sum, err := rack.Total([]rack.Item{{Name: "amp", Units: 2, Rated: 100, Efficiency: rack.LinearEfficiency}})
	require.NoError(t, err)
	assert.Equal(t, figure.CommonPractice, sum.Figure.Mark)
	assert.Contains(t, sum.Figure.Source, "common practice, no source")
}

func TestTotalCountsHeatInTheRackOnly(t *testing.T) {
	d, err := rack.Total([]rack.Item{
		{Name: "amp", Units: 3, Heat: 300, Mains: 450},
		{Name: "processor", Units: 2, Mains: 60},
		{Name: "subwoofer", Mains: 100},
	})
	require.NoError(t, err)
	assert.InDelta(t, 610, d.Mains, 1e-9)
	assert.InDelta(t, 360, d.Heat, 1e-9)
	assert.Equal(t, d.Heat, d.Figure.Value)
	assert.Len(t, d.Figure.Inputs, 2)
}

func TestHeatRefusesBadInput(t *testing.T) {
	draw := func(it rack.Item) func() (float64, error) {
		return func() (float64, error) {
			d, err := rack.DrawOf(it)
			return d.Heat, err
		}
	}
	nan := math.NaN()
	for _, r := range []struct {
		what   string
		call   func() (float64, error)
		want   error
		naming string
	}{
		{"no figure", draw(rack.Item{Name: "amp", Rated: 100}), rack.ErrNoHeat, `item "amp"`},
		{"more heat than power", draw(rack.Item{Name: "amp", Heat: 200, Mains: 100}), rack.ErrNumber, "no more heat"},
		{"delivers more than it takes", draw(rack.Item{Name: "amp", Rated: 8000, Mains: 900}), rack.ErrNumber, "1/8 of the rated power"},
		{"mass", draw(rack.Item{Name: "amp", Mass: nan}), rack.ErrNumber, "mass"},
		{"power negative", btu(-1), rack.ErrNumber, "power"},
		{"power NaN", btu(nan), rack.ErrNumber, "power"},
		{"absolute zero", density(-273.15), rack.ErrNumber, "temperature"},
		{"no pressure", func() (float64, error) { return rack.AirDensity(20, 0) }, rack.ErrNumber, "pressure"},
		{"flow, rise 0", func() (float64, error) { return rack.Airflow(100, 0, 20) }, rack.ErrNumber, "temperature rise: read 0"},
		{"flow, inlet", func() (float64, error) { return rack.Airflow(100, 5, nan) }, rack.ErrNumber, "temperature"},
		{"flow, heat", func() (float64, error) { return rack.Airflow(math.Inf(1), 5, 20) }, rack.ErrNumber, "heat"},
		{"rise, flow 0", func() (float64, error) { return rack.Rise(100, 0, 20) }, rack.ErrNumber, "air flow: read 0"},
		{"rise, flow NaN", func() (float64, error) { return rack.Rise(100, nan, 20) }, rack.ErrNumber, "air flow"},
		{"rise, flow tiny", func() (float64, error) { return rack.Rise(100, 1e-300, 20) }, rack.ErrNumber, "air flow"},
		{"figure", func() (float64, error) {
			f, err := rack.AirflowFigure(100, -1, 20)
			return f.Value, err
		}, rack.ErrNumber, "temperature rise"},
		{"total", func() (float64, error) {
			d, err := rack.Total([]rack.Item{{Name: "amp", Rated: 100}})
			return d.Heat, err
		}, rack.ErrNoHeat, `item "amp"`},
	} {
		t.Run(r.what, func(t *testing.T) {
			got, err := r.call()
			require.ErrorIs(t, err, r.want)
			assert.ErrorContains(t, err, r.naming)
			assert.Zero(t, got)
		})
	}
}

func TestAirflowAndRiseAreInverse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		heat := rapid.Float64Range(1, 5000).Draw(t, "heat")
		rise := rapid.Float64Range(1, 40).Draw(t, "rise")
		inlet := rapid.Float64Range(0, 45).Draw(t, "inlet")
		f, err := rack.AirflowFigure(heat, rise, inlet)
		require.NoError(t, err)
		back, err := rack.Rise(heat, f.Value, inlet)
		require.NoError(t, err)
		assert.InEpsilon(t, rise, back, 1e-12)
		warmer, err := rack.Airflow(heat, rise, inlet+1)
		require.NoError(t, err)
		assert.Greater(t, warmer, f.Value, "thinner air carries less")
	})
}

// What comes from the mains goes to loudspeakers or becomes heat.
func TestDrawConservesEnergy(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		it := rack.Item{
			Name: "amp", Rated: rapid.Float64Range(0, 4000).Draw(t, "rated"), Efficiency: rapid.Float64Range(0.05, 1).Draw(t, "efficiency"),
			Heat: rapid.SampledFrom([]float64{0, 100, 250}).Draw(t, "heat"), Mains: rapid.SampledFrom([]float64{0, 600, 900}).Draw(t, "mains"),
		}
		d, err := rack.DrawOf(it)
		require.NoError(t, err)
		assert.InDelta(t, d.Mains, d.Delivered+d.Heat, 1e-9)
		assert.GreaterOrEqual(t, d.Heat, 0.0)
	})
}

package sound_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/compute/figure"
	"hangtrue/compute/sound"
)

// Every figure repeats the value checked elsewhere, and says where it comes from and how far to trust it.
func TestFiguresForDisplay(t *testing.T) {
	air := sound.Air{Temperature: 20, Humidity: 0.5, Pressure: sound.StandardPressure, CarbonDioxide: sound.OrdinaryCarbonDioxide}
	measured := air
	measured.CarbonDioxide = 0.0008
	first := func(a, _ figure.Figure, err error) (figure.Figure, error) { return a, err }
	second := func(_, b figure.Figure, err error) (figure.Figure, error) { return b, err }
	lr4 := sound.Crossover{Slope: sound.LR4, Corner: 80}
	boost := sound.Boost{Gain: 10, Corner: 160}
	for _, row := range []struct {
		name   string
		get    func() (figure.Figure, error)
		want   float64
		within float64
		unit   string
		inputs int
		mark   figure.Mark
	}{
		{"speed", func() (figure.Figure, error) { return sound.SpeedFigure(25) }, 346.114, 0.005, "m/s", 1, figure.Secondary},
		{"humid air", air.Figure, 343.987, 0.005, "m/s", 4, figure.CommonPractice},
		{"humid air, carbon dioxide measured", measured.Figure, 343.951, 0.005, "m/s", 4, figure.Secondary},
		{"delay", func() (figure.Figure, error) { return sound.DelayFigure([]float64{3.4, 2.1}, 1, 343.2) }, 3.788e-3, 1e-6, "s", 3, figure.Derived},
		{"level", func() (figure.Figure, error) { return sound.LevelFigure(88, 800, 4) }, 104.99, 0.01, "dB", 3, figure.Secondary},
		{"power", func() (figure.Figure, error) { return sound.PowerFigure(102, 86, 2.5) }, 248.8, 0.25, "W", 3, figure.Secondary},
		{"headroom", func() (figure.Figure, error) { return sound.HeadroomFigure(100, 57) }, 2.441, 0.001, "dB", 2, figure.Derived},
		{"volts", func() (figure.Figure, error) { return first(sound.DriveFigures(100, 8)) }, 28.284, 0.001, "V", 2, figure.Derived},
		{"amperes", func() (figure.Figure, error) { return second(sound.DriveFigures(100, 8)) }, 3.536, 0.001, "A", 2, figure.Derived},
		{"reference", func() (figure.Figure, error) { return sound.ReferenceFigure(11) }, 74.59, 0.01, "dBA", 1, figure.Memory},
		{"hearing", func() (figure.Figure, error) { return sound.HearingFigure(105) }, 283.5, 0.5, "s", 1, figure.Secondary},
		{"crossover", func() (figure.Figure, error) { return lr4.SumFigure(80, sound.Arrival{}) }, 0, 0.001, "dB", 4, figure.Derived},
		{"boost headroom", func() (figure.Figure, error) { return boost.HeadroomFigure(80, 12) }, 2, 1e-9, "dB", 4, figure.Derived},
		{"boost power", func() (figure.Figure, error) { return boost.PowerFigure(80) }, 10, 1e-9, "", 3, figure.Derived},
	} {
		t.Run(row.name, func(t *testing.T) {
			f, err := row.get()
			require.NoError(t, err)
			assert.InDelta(t, row.want, f.Value, row.within)
			assert.Equal(t, row.unit, f.Unit)
			assert.Len(t, f.Inputs, row.inputs)
			assert.Equal(t, row.mark, f.Mark)
			assert.NotEmpty(t, f.Name)
			assert.NotEmpty(t, f.Formula)
			assert.NotEmpty(t, f.Source)
		})
	}
}

func TestFiguresForDisplay_PassErrorsOn(t *testing.T) {
	for name, get := range map[string]func() (figure.Figure, error){
		"speed":     func() (figure.Figure, error) { return sound.SpeedFigure(99) },
		"delay":     func() (figure.Figure, error) { return sound.DelayFigure([]float64{-1}, 0, 343) },
		"level":     func() (figure.Figure, error) { return sound.LevelFigure(88, 1, 0) },
		"drive":     func() (figure.Figure, error) { v, _, err := sound.DriveFigures(0, 8); return v, err },
		"reference": func() (figure.Figure, error) { return sound.ReferenceFigure(0) },
		"boost":     func() (figure.Figure, error) { return sound.Boost{Gain: 99, Corner: 100}.PowerFigure(80) },
	} {
		f, err := get()
		require.ErrorIs(t, err, sound.ErrInput, name)
		assert.Equal(t, figure.Figure{}, f, name)
	}
	_, err := sound.DelayFigure([]float64{1}, 1, 343)
	assert.ErrorIs(t, err, sound.ErrChannel)
}

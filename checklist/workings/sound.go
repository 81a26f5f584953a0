package workings

import (
	"fmt"

	"hangtrue/checklist/plan"
	"hangtrue/compute/figure"
	"hangtrue/compute/sound"
)

// SampleRate is what delays are counted in samples of, Hz. Processors that run at
// another rate take the seconds.
const SampleRate = 48000.0

// A SoundSheet is what delay, level and bass come to at the primary listening
// position. Levels are direct sound in a free field, on axis.
type SoundSheet struct {
	Asked plan.Sound // what the plan asks
	// Assumed tells that the plan gives no temperature and 20 °C were taken.
	Assumed  bool
	Speed    figure.Figure
	Channels []Heard // in the order of the plan's mounts
	// Filters are the crossover's attenuation an octave below and above its corner and
	// the sum at the corner; Boost the power that a boost asks for in the band which
	// the crossover leaves to the loudspeakers. Both are empty where the plan asks none.
	Filters  []figure.Figure
	Boost    []figure.Figure
	Hearing  *figure.Figure // nil where the plan asks no level
	Cautions []string
}

// A Heard is one channel as the primary listening position hears it.
type Heard struct {
	Channel  string
	Sub      bool
	Distance float64 // metres, ear point to acoustic centre
	Delay    float64 // seconds to arrive with the farthest
	Samples  int     // the same at [SampleRate]
	// Unknown says why there is no level, power or trim; the rest is then 0.
	Unknown   string
	Trim      float64 // dB, down to the quietest
	Level     float64 // dB at Full, or Takes where that is less
	Full      float64 // W, the amplifier's power
	Takes     float64 // W, the loudspeaker's
	Asked     bool    // the plan asks a level, so that Needed and Headroom say something
	Needed    float64 // W for the level asked
	Headroom  float64 // dB that Full, or Takes where that is less, leaves
	BoostLeft float64 // dB left of it below the boost's corner; Headroom where nothing is boosted
	Figures   []figure.Figure
}

// Sound works out delays, trims, levels and bass. Without a sound section the
// plan asks no level and no crossover, and the air is taken at 20 °C. Errors are
// [ErrPlan], [plan.ErrUnknown] and those of packages place and sound, with the
// mount's name.
func Sound(p *plan.Plan) (*SoundSheet, error) {
	if p == nil {
		return nil, ErrPlan
	}
	out := &SoundSheet{Cautions: []string{sound.ToneCaution}}
	if p.Sound != nil {
		out.Asked = *p.Sound
	}
	if out.Assumed = out.Asked.Temperature == 0; out.Assumed {
		out.Asked.Temperature = roomTemperature
	}
	var err error
	if out.Speed, err = sound.SpeedFigure(out.Asked.Temperature); err != nil {
		return nil, of("sound, temperature", err)
	}
	if err := out.bass(); err != nil {
		return nil, err
	}
	if out.Asked.Level > 0 {
		f, err := sound.HearingFigure(out.Asked.Level)
		if err != nil {
			return nil, of("sound, level", err)
		}
		out.Hearing = &f
	}
	return out, out.channels(p)
}

func (s *SoundSheet) channels(p *plan.Plan) error {
	distances := make([]float64, len(p.Mounts))
	for i := range p.Mounts {
		sight, err := p.Sight(p.Mounts[i].Channel, "")
		if err != nil {
			return of("mount "+p.Mounts[i].Channel, err)
		}
		distances[i] = sight.Distance
	}
	sub := false
	var sources []sound.Source
	var sounding []int // the channels that have a source
	for i := range p.Mounts {
		m := &p.Mounts[i]
		model, err := modelOf(p, m)
		if err != nil {
			return err
		}
		h := Heard{Channel: m.Channel, Sub: model.Kind == plan.Subwoofer, Distance: distances[i]}
		sub = sub || h.Sub
		delay, err := sound.DelayFigure(distances, i, s.Speed.Value)
		if err != nil {
			return of("mount "+m.Channel, err)
		}
		h.Delay, h.Figures = delay.Value, append(h.Figures, delay)
		if h.Samples, err = sound.Samples(h.Delay, SampleRate); err != nil {
			return of("mount "+m.Channel, err)
		}
		if err := s.level(p, m, model, &h); err != nil {
			return of("mount "+m.Channel, err)
		}
		if h.Unknown == "" && !h.Sub {
			// Amplifiers of one gain give every loudspeaker the same voltage, whatever its impedance.
			sources, sounding = append(sources, sound.Source{Sensitivity: model.Sensitivity, Distance: h.Distance}), append(sounding, i)
		}
		s.Channels = append(s.Channels, h)
	}
	if sub {
		s.Cautions = append(s.Cautions, sound.SubCaution)
	}
	return s.trims(sources, sounding)
}

// level works out what a channel reaches, and what of it is asked. The power goes into
// the impedance that the links on the loudspeaker's back make.
func (s *SoundSheet) level(p *plan.Plan, m *plan.Mount, model *plan.Model, h *Heard) error {
	amplifier := p.Amplifier(m.Amplifier)
	switch {
	case model.Active:
		h.Unknown = "it is active: its own amplifier and gain decide its level"
		return nil
	case model.Sensitivity == 0:
		h.Unknown = "the plan gives no sensitivity for " + model.Name
		return nil
	case amplifier == nil:
		return fmt.Errorf("%w: amplifier %q", plan.ErrUnknown, m.Amplifier)
	}
	rated, _, ok := model.Load(m.Bridge)
	if !ok {
		return fmt.Errorf("%w: driver bridge %q", plan.ErrUnknown, m.Bridge)
	}
	sensitivity, err := sound.OneWattSensitivity(model.Sensitivity, rated)
	if err != nil {
		return err
	}
	h.Figures = append(h.Figures, figure.Figure{Name: "sensitivity for 1 W at 1 m", Formula: "S + 10 log10(Z / 8 ohm)", Source: "2.83 V into 8 ohm is 1 W", Mark: figure.Derived,
		Inputs: []figure.Input{{Name: "S, sensitivity for 2.83 V at 1 m", Value: model.Sensitivity, Unit: "dB"}, {Name: "Z, rated impedance with the links as planned", Value: rated, Unit: "ohm"}},
		Value:  sensitivity, Unit: "dB"})
	h.Full, h.Takes = amplifier.Power, model.Power
	most := min(h.Full, h.Takes)
	level, err := sound.LevelFigure(sensitivity, most, h.Distance)
	if err != nil {
		return err
	}
	h.Level, h.Figures = level.Value, append(h.Figures, level)
	if s.Asked.Level <= 0 {
		return nil
	}
	needed, err := sound.PowerFigure(s.Asked.Level, sensitivity, h.Distance)
	if err != nil {
		return err
	}
	headroom, err := sound.HeadroomFigure(most, needed.Value)
	if err != nil {
		return err
	}
	h.Asked, h.Needed, h.Headroom, h.BoostLeft = true, needed.Value, headroom.Value, headroom.Value
	h.Figures = append(h.Figures, needed, headroom)
	if s.Asked.BassBoost != 0 && !h.Sub {
		left, err := s.boost().HeadroomFigure(s.Asked.Crossover, h.Headroom)
		if err != nil {
			return err
		}
		h.BoostLeft, h.Figures = left.Value, append(h.Figures, left)
	}
	return nil
}

// trims gives each loudspeaker the gain that makes all equally loud.
func (s *SoundSheet) trims(sources []sound.Source, channels []int) error {
	if len(sources) == 0 {
		return nil
	}
	trims, err := sound.Trims(sources)
	if err != nil {
		return of("trims", err)
	}
	for i, at := range channels {
		h := &s.Channels[at]
		h.Trim = trims[i]
		h.Figures = append(h.Figures, figure.Figure{Name: "level trim", Formula: "min over all of (S - 20 log10 d) less (S - 20 log10 d) here",
			Source: "free-field point source, public-address reference pages; amplifiers of one gain", Mark: figure.Secondary,
			Inputs: []figure.Input{{Name: "S, sensitivity for 2.83 V at 1 m", Value: sources[i].Sensitivity, Unit: "dB"}, {Name: "d, distance", Value: sources[i].Distance, Unit: "m"}},
			Value:  trims[i], Unit: "dB"})
	}
	return nil
}

func (s *SoundSheet) boost() sound.Boost {
	return sound.Boost{Gain: s.Asked.BassBoost, Corner: s.Asked.BoostCorner}
}

// slopes are the crossover filters by their names in a plan.
var slopes = map[string]sound.Slope{"BW2": sound.BW2, "LR2": sound.LR2, "LR4": sound.LR4}

// formulas are the attenuation of each filter's low pass, x = f/fc; a high pass has
// it with x = fc/f.
var formulas = map[sound.Slope]string{
	sound.BW2: "-10 log10(1 + x^4)", sound.LR2: "-20 log10(1 + x^2)", sound.LR4: "-20 log10(1 + x^4)",
}

// bass works out the crossover and what a boost costs.
func (s *SoundSheet) bass() error {
	if s.Asked.Crossover == 0 {
		return nil
	}
	c := sound.Crossover{Slope: slopes[s.Asked.Slope], Corner: s.Asked.Crossover}
	for _, way := range []struct {
		name, x   string
		frequency float64
		gain      func(float64) (complex128, error)
	}{
		{fmt.Sprintf("loudspeaker at %g Hz, an octave below the crossover", c.Corner/2), "x = fc/f", c.Corner / 2, c.HighPass},
		{fmt.Sprintf("subwoofer at %g Hz, an octave above the crossover", c.Corner*2), "x = f/fc", c.Corner * 2, c.LowPass},
	} {
		gain, err := way.gain(way.frequency)
		if err != nil {
			return of("sound, crossover", err)
		}
		s.Filters = append(s.Filters, figure.Figure{Name: way.name, Formula: formulas[c.Slope] + ", " + way.x,
			Source: "transfer functions of Butterworth and Linkwitz-Riley filters", Mark: figure.Derived,
			Inputs: []figure.Input{{Name: "f, frequency", Value: way.frequency, Unit: "Hz"}, {Name: "fc, crossover frequency", Value: c.Corner, Unit: "Hz"}},
			Value:  sound.Decibels(gain), Unit: "dB"})
	}
	sum, err := c.SumFigure(c.Corner, sound.Arrival{})
	if err != nil {
		return of("sound, crossover", err)
	}
	s.Filters = append(s.Filters, sum)
	if s.Asked.BassBoost == 0 {
		return nil
	}
	power, err := s.boost().PowerFigure(s.Asked.Crossover)
	if err != nil {
		return of("sound, bass boost", err)
	}
	s.Boost = append(s.Boost, power)
	return nil
}

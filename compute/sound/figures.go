package sound

import (
	"fmt"

	"hangtrue/compute/figure"
)

// The sources shown beside figures.
const (
	sourceISO       = "ISO 9613-1:1993, speed of sound, read in a public implementation"
	sourceCramer    = "O. Cramer, J. Acoust. Soc. Am. 93 (1993), read in a public implementation"
	sourceAlign     = "definition: equal arrival at the seat"
	sourceFreeField = "free-field point source, public-address reference pages"
	sourceOhm       = "Ohm's law"
	sourceReference = "ITU-R BS.1116, EBU Tech 3276"
	sourceNIOSH     = "NIOSH criterion, 85 dBA for 8 h, 3 dB exchange, read on an engineering reference site"
	sourceLR        = "transfer functions of Butterworth and Linkwitz-Riley filters"
	sourceBoost     = "definition of the decibel; shelf and high pass taken as complete"
)

// describe sets the value of a figure, or passes the error on.
func describe(f figure.Figure, value float64, err error) (figure.Figure, error) {
	if err != nil {
		return figure.Figure{}, err
	}
	f.Value = value
	return f, nil
}

// SpeedFigure is [Speed] with its formula.
func SpeedFigure(temperature float64) (figure.Figure, error) {
	v, err := Speed(temperature)
	return describe(figure.Figure{
		Name: "speed of sound", Formula: "c = 343.2 sqrt((t + 273.15) / 293.15)", Source: sourceISO, Mark: figure.Secondary,
		Inputs: []figure.Input{{Name: "t, air temperature", Value: temperature, Unit: "°C"}}, Unit: "m/s",
	}, v, err)
}

// Figure is [Air.Speed] with its formula.
func (a Air) Figure() (figure.Figure, error) {
	v, err := a.Speed()
	mark := figure.Secondary
	if a.CarbonDioxide == OrdinaryCarbonDioxide {
		mark = figure.Weakest(mark, figure.CommonPractice)
	}
	return describe(figure.Figure{
		Name: "speed of sound in humid air", Formula: "c = a0 + a1 t + a2 t^2 + (a3 + a4 t + a5 t^2) xw + (a6 + a7 t + a8 t^2) p" +
			" + (a9 + a10 t + a11 t^2) xc + a12 xw^2 + a13 p^2 + a14 xc^2 + a15 xw p xc, xw from t, RH and p",
		Source: sourceCramer, Mark: mark,
		Inputs: []figure.Input{
			{Name: "t, air temperature", Value: a.Temperature, Unit: "°C"}, {Name: "RH, relative humidity", Value: a.Humidity},
			{Name: "p, air pressure", Value: a.Pressure, Unit: "Pa"}, {Name: "xc, mole fraction of carbon dioxide", Value: a.CarbonDioxide},
		}, Unit: "m/s",
	}, v, err)
}

// DelayFigure is the delay of one of the channels of [Delays], counted from 0.
func DelayFigure(distances []float64, channel int, speed float64) (figure.Figure, error) {
	delays, err := Delays(distances, speed)
	if err != nil {
		return figure.Figure{}, err
	}
	if channel < 0 || channel >= len(delays) {
		return figure.Figure{}, fmt.Errorf("%w: channel: read %d, want 0 to %d", ErrChannel, channel, len(delays)-1)
	}
	farthest := distances[0]
	for _, d := range distances {
		farthest = max(farthest, d)
	}
	return describe(figure.Figure{
		Name: "alignment delay", Formula: "t = (d_max - d) / c", Source: sourceAlign, Mark: figure.Derived,
		Inputs: []figure.Input{
			{Name: "d_max, distance of the farthest", Value: farthest, Unit: "m"}, {Name: "d, distance", Value: distances[channel], Unit: "m"},
			{Name: "c, speed of sound", Value: speed, Unit: "m/s"},
		}, Unit: "s",
	}, delays[channel], nil)
}

// LevelFigure is [Level] with its formula.
func LevelFigure(sensitivity, power, distance float64) (figure.Figure, error) {
	v, err := Level(sensitivity, power, distance)
	return describe(figure.Figure{
		Name: "direct level at the seat", Formula: "L = S + 10 log10(P / 1 W) - 20 log10(d / 1 m)", Source: sourceFreeField, Mark: figure.Secondary,
		Inputs: []figure.Input{
			{Name: "S, sensitivity for 1 W at 1 m", Value: sensitivity, Unit: "dB"}, {Name: "P, power", Value: power, Unit: "W"},
			{Name: "d, distance", Value: distance, Unit: "m"},
		}, Unit: "dB",
	}, v, err)
}

// PowerFigure is [Power] with its formula.
func PowerFigure(level, sensitivity, distance float64) (figure.Figure, error) {
	v, err := Power(level, sensitivity, distance)
	return describe(figure.Figure{
		Name: "power needed", Formula: "P = 10^((L + 20 log10 d - S) / 10)", Source: sourceFreeField, Mark: figure.Secondary,
		Inputs: []figure.Input{
			{Name: "L, level at the seat", Value: level, Unit: "dB"}, {Name: "d, distance", Value: distance, Unit: "m"},
			{Name: "S, sensitivity for 1 W at 1 m", Value: sensitivity, Unit: "dB"},
		}, Unit: "W",
	}, v, err)
}

// HeadroomFigure is [Headroom] with its formula.
func HeadroomFigure(available, needed float64) (figure.Figure, error) {
	v, err := Headroom(available, needed)
	return describe(figure.Figure{
		Name: "headroom", Formula: "H = 10 log10(P_available / P_needed)", Source: "definition of the decibel", Mark: figure.Derived,
		Inputs: []figure.Input{
			{Name: "P_available", Value: available, Unit: "W"}, {Name: "P_needed", Value: needed, Unit: "W"},
		}, Unit: "dB",
	}, v, err)
}

// DriveFigures are the volts and amperes of [Drive] with their formulas.
func DriveFigures(power, impedance float64) (volts, amperes figure.Figure, err error) {
	v, i, err := Drive(power, impedance)
	if err != nil {
		return figure.Figure{}, figure.Figure{}, err
	}
	inputs := []figure.Input{{Name: "P, power", Value: power, Unit: "W"}, {Name: "Z, impedance", Value: impedance, Unit: "ohm"}}
	volts = figure.Figure{Name: "amplifier voltage, r.m.s.", Formula: "V = sqrt(P Z)", Source: sourceOhm, Mark: figure.Derived,
		Inputs: inputs, Value: v, Unit: "V"}
	amperes = figure.Figure{Name: "amplifier current, r.m.s.", Formula: "I = sqrt(P / Z)", Source: sourceOhm, Mark: figure.Derived,
		Inputs: inputs, Value: i, Unit: "A"}
	return volts, amperes, nil
}

// ReferenceFigure is [ReferenceLevel] with its formula, marked as from memory.
func ReferenceFigure(channels int) (figure.Figure, error) {
	v, err := ReferenceLevel(channels)
	return describe(figure.Figure{
		Name: "reference level of each channel", Formula: "L = 85 - 10 log10 n, pink noise at -18 dBFS, tolerance 0.25 dB",
		Source: sourceReference, Mark: figure.Memory,
		Inputs: []figure.Input{{Name: "n, number of channels", Value: float64(channels)}}, Unit: "dBA",
	}, v, err)
}

// HearingFigure is [HearingTime] with its formula.
func HearingFigure(level float64) (figure.Figure, error) {
	v, err := HearingTime(level)
	return describe(figure.Figure{
		Name: "longest time a day at this level", Formula: "t = 8 h / 2^((L - 85) / 3)", Source: sourceNIOSH, Mark: figure.Secondary,
		Inputs: []figure.Input{{Name: "L, A-weighted level", Value: level, Unit: "dBA"}}, Unit: "s",
	}, v, err)
}

// SumFigure is [Crossover.Sum] with its formula.
func (c Crossover) SumFigure(frequency float64, sub Arrival) (figure.Figure, error) {
	v, err := c.Sum(frequency, sub)
	polarity := 1.0
	if sub.Inverted {
		polarity = -1
	}
	return describe(figure.Figure{
		Name:    fmt.Sprintf("sum of loudspeaker and subwoofer, %v", c.Slope),
		Formula: "L = 20 log10 |HP(f/fc) + p LP(f/fc) e^(-j 2 pi f t)|", Source: sourceLR, Mark: figure.Derived,
		Inputs: []figure.Input{
			{Name: "f, frequency", Value: frequency, Unit: "Hz"}, {Name: "fc, crossover frequency", Value: c.Corner, Unit: "Hz"},
			{Name: "p, polarity of the subwoofer", Value: polarity}, {Name: "t, delay of the subwoofer", Value: sub.Delay, Unit: "s"},
		}, Unit: "dB",
	}, v, err)
}

// HeadroomFigure is the headroom that [Boost.Cost] leaves, with its formula.
func (b Boost) HeadroomFigure(crossover, headroom float64) (figure.Figure, error) {
	cost, err := b.Cost(crossover, headroom)
	return describe(figure.Figure{
		Name: "headroom left after the bass boost", Formula: "H' = H - B where fb > fc, else H", Source: sourceBoost, Mark: figure.Derived,
		Inputs: []figure.Input{
			{Name: "H, headroom without the boost", Value: headroom, Unit: "dB"}, {Name: "B, boost", Value: b.Gain, Unit: "dB"},
			{Name: "fb, corner of the boost", Value: b.Corner, Unit: "Hz"}, {Name: "fc, crossover frequency", Value: crossover, Unit: "Hz"},
		}, Unit: "dB",
	}, cost.Headroom, err)
}

// PowerFigure is the factor of power that [Boost.Cost] asks for, with its formula.
func (b Boost) PowerFigure(crossover float64) (figure.Figure, error) {
	cost, err := b.Cost(crossover, 0)
	return describe(figure.Figure{
		Name: "power factor of the bass boost", Formula: "10^(B / 10) where fb > fc, else 1", Source: sourceBoost, Mark: figure.Derived,
		Inputs: []figure.Input{
			{Name: "B, boost", Value: b.Gain, Unit: "dB"}, {Name: "fb, corner of the boost", Value: b.Corner, Unit: "Hz"},
			{Name: "fc, crossover frequency", Value: crossover, Unit: "Hz"},
		},
	}, cost.PowerFactor, err)
}

package wiring

import (
	"cmp"
	"fmt"
	"math"

	"hangtrue/compute/figure"
)

const (
	// ShortMargin is how many ohms above the cable's own resistance a reading must lie: below it the meter sees a short,
	// and nothing may be connected. This program's own choice; no loudspeaker's coil is so low.
	ShortMargin = 0.5
	// OpenReading is the reading in ohms from which on a circuit counts as open: an ohmmeter that shows no number
	// stands for more.
	OpenReading = 1000.0
	// MeterTolerance is what leads, contacts and the meter may add to or take from a reading, in ohms. This program's
	// own choice.
	MeterTolerance = 0.2
	// LeastCoil and GreatestCoil are the d.c. resistance of a voice coil as a part of the rated impedance. Common
	// practice, no source.
	LeastCoil    = 0.70
	GreatestCoil = 0.85
)

// Coil is the d.c. resistance in ohms of one driver group, between Low and High. A group behind a series capacitor passes
// no direct current: the meter cannot see it.
type Coil struct {
	Low, High float64
	Capacitor bool
}

// RatedCoil is the coil to expect behind a rated impedance in ohms: [LeastCoil] to [GreatestCoil] of it, common practice.
func RatedCoil(rated float64) (Coil, error) {
	if err := checkImpedance("rated impedance", rated); err != nil {
		return Coil{}, err
	}
	return Coil{Low: LeastCoil * rated, High: GreatestCoil * rated}, nil
}

// KnownCoil is a coil whose resistance in ohms is on the maker's sheet or was measured.
func KnownCoil(resistance float64) (Coil, error) {
	if err := checkImpedance("coil resistance", resistance); err != nil {
		return Coil{}, err
	}
	return Coil{Low: resistance, High: resistance}, nil
}

// Expected is what an ohmmeter at the amplifier's end of a disconnected cable should show, in ohms. Open means no number:
// no group passes direct current.
type Expected struct {
	Low, High float64
	Open      bool
}

// ExpectReading is the reading to expect through a loop resistance (ohms) with these groups joined in parallel:
// R_par(coils) + R_loop. Give the main group alone for open links, all groups for fitted ones.
func ExpectReading(loop float64, coils ...Coil) (Expected, error) {
	if err := checkResistance("loop resistance", loop); err != nil {
		return Expected{}, err
	}
	if len(coils) == 0 {
		return Expected{}, fmt.Errorf("%w: coils: none were given, want at least one", ErrImpedance)
	}
	var low, high []float64
	for i, c := range coils {
		if c.Capacitor {
			continue
		}
		field := fmt.Sprintf("coil %d", i+1)
		if err := cmp.Or(checkImpedance(field, c.Low), between(ErrImpedance, field, c.High, c.Low, MaxImpedance)); err != nil {
			return Expected{}, err
		}
		low, high = append(low, c.Low), append(high, c.High)
	}
	if len(low) == 0 {
		return Expected{Open: true}, nil
	}
	l, err := Parallel(low...)
	if err != nil {
		return Expected{}, err
	}
	h, err := Parallel(high...)
	return Expected{Low: l + loop, High: h + loop}, err
}

// MeterFigure is the middle of an expected reading, with its formula; an expectation without a number has none and is an
// [ErrNumber].
func MeterFigure(loop float64, coils ...Coil) (figure.Figure, error) {
	e, err := ExpectReading(loop, coils...)
	if err == nil && e.Open {
		err = fmt.Errorf("%w: coils: all behind capacitors, want one that passes direct current", ErrNumber)
	}
	if err != nil {
		return figure.Figure{}, err
	}
	f := figure.Figure{
		Name: "ohmmeter at the amplifier's end", Formula: "1/Σ(1/Re_i) + R", Source: "parallel coils and the cable's loop in series",
		Mark: figure.Derived, Value: (e.Low + e.High) / 2, Unit: "ohm",
	}
	for i, c := range coils {
		if c.Capacitor {
			continue
		}
		f.Inputs = append(f.Inputs, ohms(fmt.Sprintf("Re_%d", i+1), (c.Low+c.High)/2))
		if c.Low != c.High {
			f.Mark = figure.CommonPractice
		}
	}
	if f.Mark == figure.CommonPractice {
		f.Source += "; coil taken as 0.70 to 0.85 of the rated impedance, common practice, no source"
	}
	f.Inputs = append(f.Inputs, ohms("R", loop))
	return f, nil
}

// Reading is what a meter's number says about a loudspeaker line.
type Reading string

const (
	// Short: hardly more than the cable itself. Stop: a link across plus and minus, or touching cores.
	Short Reading = "short"
	// OpenCircuit: no number where one was expected: a broken core, a loose terminal.
	OpenCircuit Reading = "open circuit"
	// AsExpected and NotExpected: a number that fits what was expected, or does not.
	AsExpected  Reading = "as expected"
	NotExpected Reading = "not as expected"
	// LinksOpen and LinksFitted: a number that fits this state of the links and not the other.
	LinksOpen   Reading = "links open"
	LinksFitted Reading = "links fitted"
	// Ambiguous: it fits both states of the links; the meter cannot tell them apart.
	Ambiguous Reading = "fits both"
)

// Stops tells that nothing may be connected to the line.
func (r Reading) Stops() bool { return r == Short }

// JudgeReading compares a reading in ohms with the expected one, widened by a tolerance in ohms (see [MeterTolerance]), and
// is [Short], [OpenCircuit], [AsExpected] or [NotExpected]. A meter that shows no number is given as [OpenReading] or
// more, +Inf included. A reading less than [ShortMargin] above the loop resistance (ohms) is a [Short] before
// anything else, so an expectation that low cannot be judged and is an [ErrImpedance].
func JudgeReading(reading, loop, tolerance float64, expected Expected) (Reading, error) {
	err := cmp.Or(
		between(ErrResistance, "reading", reading, 0, math.Inf(1)),
		checkResistance("loop resistance", loop),
		checkResistance("tolerance", tolerance),
		expected.judgeable(loop),
	)
	if err != nil {
		return "", err
	}
	open := reading >= OpenReading
	switch {
	case !open && micro(reading-loop) < micro(ShortMargin):
		return Short, nil
	case open && !expected.Open:
		return OpenCircuit, nil
	case open, !expected.Open && micro(reading) >= micro(expected.Low-tolerance) && micro(reading) <= micro(expected.High+tolerance):
		return AsExpected, nil
	}
	return NotExpected, nil
}

// JudgeLinks tells from a reading whether the links on the back are open or fitted, by [JudgeReading] for each state: [Short],
// [LinksOpen], [LinksFitted], [Ambiguous] if it fits both, [OpenCircuit] or [NotExpected] if neither.
func JudgeLinks(reading, loop, tolerance float64, open, fitted Expected) (Reading, error) {
	asOpen, err := JudgeReading(reading, loop, tolerance, open)
	if err != nil {
		return "", fmt.Errorf("links open: %w", err)
	}
	asFitted, err := JudgeReading(reading, loop, tolerance, fitted)
	if err != nil {
		return "", fmt.Errorf("links fitted: %w", err)
	}
	switch {
	case asOpen == AsExpected && asFitted == AsExpected:
		return Ambiguous, nil
	case asOpen == AsExpected:
		return LinksOpen, nil
	case asFitted == AsExpected:
		return LinksFitted, nil
	}
	return asOpen, nil
}

func (e Expected) judgeable(loop float64) error {
	if e.Open {
		return nil
	}
	return cmp.Or(
		between(ErrImpedance, "expected reading", e.Low, loop+ShortMargin, OpenReading),
		between(ErrImpedance, "expected reading", e.High, e.Low, OpenReading),
	)
}

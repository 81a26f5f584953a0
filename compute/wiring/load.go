package wiring

import (
	"cmp"
	"fmt"

	"hangtrue/compute/figure"
)

// Load is a loudspeaker, or one driver group of it, as the amplifier sees it, in ohms.
type Load struct {
	Rated    float64
	Least    float64 // the lowest point of the impedance curve; 0: not known
	Greatest float64 // the highest point; 0: not known
}

func (l Load) check(field string) error {
	err := checkImpedance(field+" rated impedance", l.Rated)
	if err == nil && l.Least != 0 {
		err = checkImpedance(field+" least impedance", l.Least)
	}
	if err == nil && l.Greatest != 0 {
		err = between(ErrImpedance, field+" greatest impedance", l.Greatest, max(l.Least, MinImpedance), MaxImpedance)
	}
	return err
}

// least is the lowest impedance and whether it is only assumed from the rating.
func (l Load) least() (ohms float64, assumed bool) {
	if l.Least != 0 {
		return l.Least, false
	}
	return RatingDip * l.Rated, true
}

// DipsBelowRating tells that the impedance curve goes lower than [RatingDip] of the rating: the loudspeaker is a heavier
// load than its label says.
func (l Load) DipsBelowRating() bool {
	return l.Least != 0 && micro(l.Least) < micro(RatingDip*l.Rated)
}

// Parallel is the impedance of loads in parallel: Z = 1/Σ(1/Z_i), in ohms. With magnitudes it is exact for equal phase
// angles and otherwise no more than the true value. No loads are an [ErrImpedance].
func Parallel(impedances ...float64) (float64, error) {
	if len(impedances) == 0 {
		return 0, fmt.Errorf("%w: parallel loads: none were given, want at least one", ErrImpedance)
	}
	sum := 0.0
	for i, z := range impedances {
		if err := checkImpedance(fmt.Sprintf("parallel load %d", i+1), z); err != nil {
			return 0, err
		}
		sum += 1 / z
	}
	return 1 / sum, nil
}

// Combine is the load of driver groups that links join in parallel: rated and least impedance by [Parallel], a least one
// that is not known taken as [RatingDip] of its rating. The greatest of several groups is left unknown, because the
// parallel formula bounds it from below only. One group stays as it is.
func Combine(groups ...Load) (Load, error) {
	rated, least := make([]float64, len(groups)), make([]float64, len(groups))
	for i, g := range groups {
		if err := g.check(fmt.Sprintf("driver group %d", i+1)); err != nil {
			return Load{}, err
		}
		rated[i] = g.Rated
		least[i], _ = g.least()
	}
	if len(groups) == 1 {
		return groups[0], nil
	}
	r, err := Parallel(rated...)
	if err != nil {
		return Load{}, err
	}
	l, err := Parallel(least...)
	if err != nil {
		return Load{}, err
	}
	if r < MinImpedance || l < MinImpedance {
		return Load{}, fmt.Errorf("%w: %d driver groups in parallel: come to %v ohm, want at least %v", ErrImpedance, len(groups), l, MinImpedance)
	}
	return Load{Rated: r, Least: l}, nil
}

// CombineFigure is the rated impedance of [Combine] with its formula.
func CombineFigure(groups ...Load) (figure.Figure, error) {
	load, err := Combine(groups...)
	if err != nil {
		return figure.Figure{}, err
	}
	f := figure.Figure{
		Name: "rated impedance of the driver groups together", Formula: "1/Σ(1/Z_i)",
		Source: "parallel impedances; magnitudes give the lower bound", Mark: figure.Derived, Value: load.Rated, Unit: "ohm",
	}
	for i, g := range groups {
		f.Inputs = append(f.Inputs, figure.Input{Name: fmt.Sprintf("Z_%d", i+1), Value: g.Rated, Unit: "ohm"})
	}
	return f, nil
}

// Source is an amplifier channel, or a bridged pair of them.
type Source struct {
	LeastLoad float64 // ohms, per channel as the maker states it; 0: not known
	Damping   float64 // damping factor; 0: not known
	Reference float64 // ohms the damping factor is quoted for; 0: 8
	Bridged   bool    // two channels drive one load
}

func (s Source) check() error {
	var least, damping, reference error
	if s.LeastLoad != 0 {
		least = checkImpedance("amplifier's least load", s.LeastLoad)
	}
	if s.Damping != 0 {
		damping = between(ErrNumber, "damping factor", s.Damping, 1e-3, MaxDamping)
	}
	if s.Reference != 0 {
		reference = checkImpedance("amplifier's reference load", s.Reference)
	}
	return cmp.Or(least, damping, reference)
}

// HalfLoad is what each half of a bridged pair sees of a load in ohms: Z/2 (published description of bridge-tied loads).
func HalfLoad(impedance float64) (float64, error) {
	if err := checkImpedance("load", impedance); err != nil {
		return 0, err
	}
	return impedance / 2, nil
}

// BridgedLeastLoad is the smallest load in ohms for a bridged pair whose channels each carry least: 2·least.
func BridgedLeastLoad(least float64) (float64, error) {
	if err := checkImpedance("least load per channel", least); err != nil {
		return 0, err
	}
	return 2 * least, nil
}

// BridgedPower is the ideal power in watts of a bridged pair into a load, from one channel's power into the same load:
// 4·P, because the voltage doubles. The supply and the heat of a real amplifier allow less.
func BridgedPower(power float64) (float64, error) {
	if err := between(ErrNumber, "power", power, 0, 1e6); err != nil {
		return 0, err
	}
	return 4 * power, nil
}

// Carries tells whether an amplifier may drive a load of this rated impedance (ohms), compared as whole micro-ohms. With
// no least load known the amplifier is not judged: known is false, and so is carries.
func (s Source) Carries(rated float64) (carries, known bool, err error) {
	if err := cmp.Or(s.check(), checkImpedance("rated impedance", rated)); err != nil {
		return false, false, err
	}
	if s.LeastLoad == 0 {
		return false, false, nil
	}
	seen := rated
	if s.Bridged {
		seen = rated / 2
	}
	return micro(seen) >= micro(s.LeastLoad), true, nil
}

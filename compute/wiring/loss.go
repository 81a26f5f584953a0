package wiring

import (
	"cmp"
	"math"
)

// DefaultLimit is the greatest loop resistance as a fraction of the rated impedance: 5 %. Common practice, no standard.
const DefaultLimit = 0.05

// RatingDip is how far below its rated impedance a loudspeaker may dip: to 0.8 of it. IEC 60268-5; from memory, not verified.
const RatingDip = 0.8

// MaxDamping bounds a damping factor; amplifiers are quoted up to some thousands.
const MaxDamping = 1e6

// MaxLevel bounds a level difference in decibels.
const MaxLevel = 60.0

// LoopResistance is the resistance in ohms of both cores of a run: R = 2·L·R', with the one-way length L in metres and
// R' in ohms per metre of one core.
func LoopResistance(length, resistance float64) (float64, error) {
	if err := cmp.Or(checkLength("length", length), checkResistance("resistance per metre", resistance)); err != nil {
		return 0, err
	}
	return float64(2 * length * resistance), nil
}

// FractionOfLoad is R/Z: the loop resistance (ohms) as a fraction of the rated impedance (ohms).
func FractionOfLoad(loop, impedance float64) (float64, error) {
	if err := checkLoop(loop, impedance); err != nil {
		return 0, err
	}
	return loop / impedance, nil
}

// Within tells whether a fraction keeps a limit, both compared as whole parts per million. NaN keeps none.
func Within(fraction, limit float64) bool {
	return !math.IsNaN(fraction) && !math.IsNaN(limit) && micro(fraction) <= micro(limit)
}

// InsertionLoss is the level in decibels lost in a loop resistance (ohms) before a load (ohms):
// 20·log10((Z + R)/Z). Lost voltage and lost power have the same number.
func InsertionLoss(loop, impedance float64) (float64, error) {
	if err := checkLoop(loop, impedance); err != nil {
		return 0, err
	}
	return insertionLoss(loop, impedance), nil
}

func insertionLoss(loop, impedance float64) float64 {
	return 20 * math.Log1p(loop/impedance) / math.Ln10
}

// LongestRun is the one-way length in metres at which the loop resistance reaches a limit (a fraction of the rated
// impedance in ohms): L = limit·Z/(2·R'), with R' in ohms per metre of one core. It may exceed [MaxLength].
func LongestRun(limit, impedance, resistance float64) (float64, error) {
	err := cmp.Or(
		between(ErrNumber, "limit", limit, 1e-6, 1),
		checkImpedance("impedance", impedance),
		between(ErrResistance, "resistance per metre", resistance, 1e-9, MaxImpedance),
	)
	if err != nil {
		return 0, err
	}
	return limit * impedance / (2 * resistance), nil
}

// OutputResistance is an amplifier's own resistance in ohms from its damping factor and the load in ohms it is quoted for,
// usually 8: R = Z/DF.
func OutputResistance(damping, reference float64) (float64, error) {
	if err := cmp.Or(between(ErrNumber, "damping factor", damping, 1e-3, MaxDamping), checkImpedance("reference load", reference)); err != nil {
		return 0, err
	}
	return reference / damping, nil
}

// DampingFactor is Z/R with the load and all resistance before it in ohms: amplifier, cable and connectors. R must be
// more than 0.
func DampingFactor(impedance, resistance float64) (float64, error) {
	if err := cmp.Or(checkImpedance("impedance", impedance), between(ErrResistance, "resistance", resistance, 1e-9, MaxImpedance)); err != nil {
		return 0, err
	}
	return impedance / resistance, nil
}

// ResponseDeviation is by how many decibels the response follows the impedance curve through a resistance R (ohms) before
// it: 20·log10((Zmin + R)/Zmin) - 20·log10((Zmax + R)/Zmax). It is an estimate for resistive loads; for any phase
// [ResponseBound] is the bound.
func ResponseDeviation(least, greatest, resistance float64) (float64, error) {
	err := cmp.Or(
		checkImpedance("least impedance", least),
		between(ErrImpedance, "greatest impedance", greatest, least, MaxImpedance),
		checkResistance("resistance", resistance),
	)
	if err != nil {
		return 0, err
	}
	return insertionLoss(resistance, least) - insertionLoss(resistance, greatest), nil
}

// ResponseBound is the most by which the response can follow the impedance curve, in decibels, whatever the load's phase:
// 20·log10((Zmin + R)/Zmin).
func ResponseBound(least, resistance float64) (float64, error) {
	return InsertionLoss(resistance, least)
}

// ResistanceForDeviation is the resistance in ohms at which [ResponseBound] reaches a deviation in decibels:
// R = Zmin·(10^(x/20) - 1).
func ResistanceForDeviation(least, deviation float64) (float64, error) {
	if err := cmp.Or(checkImpedance("least impedance", least), between(ErrNumber, "deviation", deviation, 0, MaxLevel)); err != nil {
		return 0, err
	}
	return least * math.Expm1(deviation/20*math.Ln10), nil
}

func checkLoop(loop, impedance float64) error {
	return cmp.Or(checkResistance("resistance", loop), checkImpedance("impedance", impedance))
}

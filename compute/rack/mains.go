package rack

import (
	"cmp"
	"fmt"
	"slices"

	"hangtrue/compute/figure"
)

// Rule is how a load is held against a circuit's breaker. Which one applies is for local code to say.
type Rule string

const (
	// ContinuousLoad: a load of three hours or more may take 80 % of the breaker's rating (NEC 210.19(A), 210.20(A)).
	ContinuousLoad Rule = "continuous load, 80 %"
	// DesignCurrent: the load may take the breaker's rating, Ib <= In (IEC 60364-4-43, 433.1).
	DesignCurrent Rule = "design current, Ib <= In"
)

// OverloadFactor bounds the current that makes the protection operate against the cable's rating: I2 <= 1.45·Iz (IEC 60364-4-43,
// 433.1; from memory, not verified).
const OverloadFactor = 1.45

// part is how much of the rating a load may take.
func (r Rule) part() (numerator, denominator float64, err error) {
	switch r {
	case ContinuousLoad:
		return 4, 5, nil
	case DesignCurrent:
		return 1, 1, nil
	}
	return 0, 0, fmt.Errorf("%w: read %q, want %q or %q", ErrRule, string(r), ContinuousLoad, DesignCurrent)
}

// source is what the rule rests on and how far that was read.
func (r Rule) source() (string, figure.Mark) {
	if r == ContinuousLoad {
		return "NEC 210.19(A), 210.20(A): continuous loads at 80 %", figure.Secondary
	}
	return "IEC 60364-4-43, 433.1: Ib <= In", figure.Secondary
}

// Greatest is the most current in amperes a load may take from a breaker's rating in amperes.
func (r Rule) Greatest(rating float64) (float64, error) {
	n, d, err := r.part()
	if err = cmp.Or(err, above("breaker rating", rating, MaxCurrent)); err != nil {
		return 0, err
	}
	return rating * n / d, nil
}

// LeastRating is the smallest rating in amperes, before rounding up to a size that is made, for a load in amperes.
func (r Rule) LeastRating(load float64) (float64, error) {
	n, d, err := r.part()
	if err = cmp.Or(err, above("load current", load, MaxCurrent)); err != nil {
		return 0, err
	}
	return load * d / n, nil
}

// Sizes are the breaker ratings in amperes that go with a rule, smallest first: NEC 240.6(A) up to 60 A, or the preferred
// ratings of IEC 60898-1 up to 63 A. Both from memory, not verified.
func (r Rule) Sizes() []float64 {
	switch r {
	case ContinuousLoad:
		return []float64{15, 20, 25, 30, 35, 40, 45, 50, 60}
	case DesignCurrent:
		return []float64{6, 10, 13, 16, 20, 25, 32, 40, 50, 63}
	}
	return nil
}

// Breaker is the smallest of [Rule.Sizes] in amperes for a load in amperes; a load beyond the largest is an [ErrNoBreaker].
// It is the size the load asks for, not a proposal to change a breaker: that follows from the cable in the wall.
func (r Rule) Breaker(load float64) (float64, error) {
	least, err := r.LeastRating(load)
	if err != nil {
		return 0, err
	}
	sizes := r.Sizes()
	for _, size := range sizes {
		if milli(size) >= milli(least) {
			return size, nil
		}
	}
	return 0, fmt.Errorf("%w: load of %v A wants %v A, the largest held here is %v A", ErrNoBreaker, load, least, sizes[len(sizes)-1])
}

// Current is what a power in watts draws from a voltage: I = P/(V·PF). The power factor is more than 0 and at most 1.
func Current(power, voltage, powerFactor float64) (float64, error) {
	err := cmp.Or(between("power", power, 0, MaxItems*MaxPower), between("voltage", voltage, 1, MaxVoltage), between("power factor", powerFactor, 0.05, 1))
	if err != nil {
		return 0, err
	}
	return power / (voltage * powerFactor), nil
}

// Power is what a current in amperes carries at a voltage and a power factor, in watts: P = I·V·PF.
func Power(current, voltage, powerFactor float64) (float64, error) {
	err := cmp.Or(between("current", current, 0, MaxCurrent), between("voltage", voltage, 1, MaxVoltage), between("power factor", powerFactor, 0.05, 1))
	if err != nil {
		return 0, err
	}
	return current * voltage * powerFactor, nil
}

// Circuit is what feeds the rack.
type Circuit struct {
	Rule    Rule
	Rating  float64 // of the breaker, amperes
	Voltage float64
	// PowerFactor of the load; 0: not known, counted as 1, the least current the watts can mean.
	PowerFactor float64
	// Capacity is what the cable in the wall may carry, Iz in amperes; 0: not known. In <= Iz is then checked too.
	Capacity float64
	// Operates is the current in amperes that makes the protection operate within its conventional time, I2; 0: not
	// known. With Capacity, I2 <= 1.45·Iz is then checked too.
	Operates float64
	// Others is what else the circuit feeds, in amperes.
	Others float64
}

// MainsLoad is a load held against a circuit.
type MainsLoad struct {
	Current  float64 // amperes, with what else the circuit feeds
	Greatest float64 // amperes the rule allows
	Part     float64 // Current over the breaker's rating
	Within   bool    // Current <= Greatest, in whole milliamperes
	// CableProtected tells In <= Iz and, where I2 is known, I2 <= 1.45·Iz; it means nothing unless CableKnown.
	CableProtected, CableKnown bool
	Figure                     figure.Figure
}

// Load holds a mains power in watts against the circuit. Show [Caution] with it.
func (c Circuit) Load(power float64) (MainsLoad, error) {
	factor := c.PowerFactor
	if factor == 0 {
		factor = 1
	}
	greatest, err := c.Rule.Greatest(c.Rating)
	err = cmp.Or(err,
		between("what else the circuit feeds", c.Others, 0, MaxCurrent),
		between("what the cable may carry", c.Capacity, 0, MaxCurrent),
		between("current that makes the protection operate", c.Operates, 0, MaxCurrent),
	)
	if err != nil {
		return MainsLoad{}, err
	}
	own, err := Current(power, c.Voltage, factor)
	if err != nil {
		return MainsLoad{}, err
	}
	l := MainsLoad{Current: own + c.Others, Greatest: greatest, CableKnown: c.Capacity > 0}
	l.Part = l.Current / c.Rating
	l.Within = milli(l.Current) <= milli(greatest)
	l.CableProtected = l.CableKnown && milli(c.Rating) <= milli(c.Capacity) && milli(c.Operates) <= milli(OverloadFactor*c.Capacity)
	source, mark := c.Rule.source()
	if c.PowerFactor == 0 {
		source += "; power factor not known, counted as 1: the real current is higher"
		mark = figure.Weakest(mark, figure.CommonPractice)
	}
	l.Figure = figure.Figure{
		Name: "mains current", Formula: "P/(V·PF) + I_others, at most I_max", Source: source, Mark: mark,
		Inputs: []figure.Input{
			{Name: "P", Value: power, Unit: "W"}, {Name: "V", Value: c.Voltage, Unit: "V"}, {Name: "PF", Value: factor},
			{Name: "I_others", Value: c.Others, Unit: "A"}, {Name: "I_max", Value: greatest, Unit: "A"},
		},
		Value: l.Current, Unit: "A",
	}
	return l, nil
}

// SwitchOn is the order to switch items on so that their inrush currents do not add: everything without an output stage
// first, then the amplifiers, each on its own; off is the other way round, amplifiers first. Common practice, no source. That
// the amplifier with the largest rated power comes last is this program's own choice; equal ones keep their order.
func SwitchOn(items []Item) []Stage {
	var quiet []string
	var amps []Item
	for _, it := range items {
		if it.Rated == 0 {
			if it.Mains > 0 || it.Heat > 0 {
				quiet = append(quiet, it.Name)
			}
			continue
		}
		amps = append(amps, it)
	}
	slices.SortStableFunc(amps, func(a, b Item) int { return cmp.Compare(a.Rated, b.Rated) })
	var stages []Stage
	if len(quiet) > 0 {
		stages = append(stages, Stage{Items: quiet})
	}
	for _, it := range amps {
		stages = append(stages, Stage{Items: []string{it.Name}, Amplifier: true})
	}
	return stages
}

// Stage is what is switched on at once.
type Stage struct {
	Items     []string
	Amplifier bool
}

// InrushMark says how well founded [SwitchOn] is.
const InrushMark = figure.CommonPractice

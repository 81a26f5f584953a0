package gauge

import "math"

// Settling says what would turn an unsure verdict into a sure one.
type Settling uint8

const (
	// SettleNone: the verdict is sure, or its input was not good enough to say anything.
	SettleNone Settling = iota
	// SettleLargest: the value is inside, and the largest contribution alone made smaller would show it.
	SettleLargest
	// SettleSeveral: the value is inside, but more than the largest contribution must become smaller to show it.
	SettleSeveral
	// SettleMove: the value is at or past a limit, so that no better instrument can make it within; the thing must be moved
	// (or measured again, in case the reading was at fault).
	SettleMove
)

// Settle is advice for an unsure verdict. Standard uncertainties are in the unit of the result.
type Settle struct {
	Kind    Settling
	Largest string  // name of the largest contribution, empty if there is none
	Now     float64 // its effect on the result now
	Need    float64 // with SettleLargest: the effect it may have at most
	Total   float64 // with SettleLargest and SettleSeveral: the combined standard uncertainty there may be at most
}

// Judgement is a verdict and everything that led to it.
type Judgement struct {
	Limits
	Measured      float64
	Deviation     float64 // Measured - Target
	Tolerance     float64 // half the width of the limits, 0 where a side has none
	Expanded      float64
	Verdict       Verdict
	Probability   float64        // that the true value is inside the limits, [Limits.Conformance]
	Contributions []Contribution // largest share first; shared with the uncertainty that was given
	Settle        Settle
}

// Evaluate judges a measured value against limits, comparing in whole quanta.
func Evaluate(measured float64, u Uncertainty, l Limits, quantum float64) Judgement {
	j := Judgement{
		Limits:        l,
		Measured:      measured,
		Deviation:     measured - l.Target,
		Expanded:      u.Expanded(),
		Verdict:       l.Judge(measured, u.Expanded(), quantum),
		Probability:   l.Conformance(measured, u.Standard),
		Contributions: u.Contributions,
	}
	if width := l.Upper - l.Lower; finite(width) {
		j.Tolerance = width / 2
	}
	if j.Verdict == Unsure {
		j.Settle = settle(measured, u, l, quantum)
	}
	return j
}

// settle works in the rounded room that the verdict used, so that what it asks for is what the verdict takes.
func settle(measured float64, u Uncertainty, l Limits, quantum float64) Settle {
	room, ok := l.room(measured, quantum)
	if !ok || !(u.Standard >= 0) || !finite(u.Standard) {
		return Settle{}
	}
	var s Settle
	if len(u.Contributions) > 0 {
		s.Largest, s.Now = u.Contributions[0].Name, u.Contributions[0].Effect
	}
	if room <= 0 {
		s.Kind = SettleMove
		return s
	}
	s.Kind, s.Total = SettleSeveral, room*quantum/K
	if len(u.Contributions) == 0 {
		return s
	}
	rest := 0.0
	for _, c := range u.Contributions[1:] {
		rest += float64(c.Effect * c.Effect)
	}
	if need := float64(s.Total*s.Total) - rest; need > 0 {
		s.Kind, s.Need = SettleLargest, math.Sqrt(need)
	}
	return s
}

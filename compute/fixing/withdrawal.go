package fixing

import (
	"cmp"
	"math"

	"hangtrue/compute/figure"
)

// The gravities of NDS 2018 Tables 12.2A to 12.2C, outside which their equations
// are not valid.
const (
	LeastGravity    = 0.31
	GreatestGravity = 0.73
)

func checkGravity(g float64) error {
	if err := positive("gravity", g, 10, ""); err != nil {
		return err
	}
	// A rounded integer, so that 0.73 read from text stays inside.
	if r := math.Round(g * 1e6); r < LeastGravity*1e6 || r > GreatestGravity*1e6 {
		return badNumber(ErrGravity, "gravity", g, "", "0.31 to 0.73")
	}
	return nil
}

// Withdrawal is the reference withdrawal design value W from side grain, N per
// metre of penetration, of a fixing of nominal diameter D (m) in wood of specific
// gravity G. With W in lbf/in and D in inches:
//
//	wood screw      W = 2850·G²·D          NDS 2018 Eq. 12.2-2, No. 6 to No. 24
//	lag screw       W = 1800·G^1.5·D^0.75  NDS 2018 Eq. 12.2-1, 1/4 to 1-1/4 in
//	plain nail      W = 1380·G^2.5·D       NDS 2018 Eq. 12.2-3, 0.092 to 0.375 in
//	ring-shank nail W = 1800·G²·D          NDS 2018 Eq. 12.2-5
//
// G outside 0.31 to 0.73 is [ErrGravity]; D outside its range [ErrDiameter].
func Withdrawal(kind Kind, gravity, diameter float64) (float64, error) {
	return perLength(kind, gravity, diameter, 2850, 1800, 1380, 1800)
}

// UltimateWithdrawal is the mean tested withdrawal strength, N per metre of
// penetration: in lbf/in with D in inches, 15700·G²·D for wood screws (Wood
// Handbook, FPL-GTR-190 Eq. 8-10b, read in a transcription), 8100·G^1.5·D^0.75
// for lag screws and 7850·G^2.5·D for plain nails (both from memory, not
// verified). Ring-shank nails have none here: [ErrBasis].
func UltimateWithdrawal(kind Kind, gravity, diameter float64) (float64, error) {
	if kind == RingNail {
		return 0, bad(ErrBasis, "fixing.kind", kind.String(), "a kind with an ultimate equation")
	}
	return perLength(kind, gravity, diameter, 15700, 8100, 7850, 0)
}

func perLength(kind Kind, g, diameter, screw, lag, nail, ring float64) (float64, error) {
	if err := cmp.Or(checkGravity(g), positive("fixing.diameter", diameter, 1, "m")); err != nil {
		return 0, err
	}
	d := inches(diameter)
	least, greatest := 0.092, 0.375
	var w float64
	switch kind {
	case WoodScrew:
		least, greatest = 0.138, 0.372
		w = screw * g * g * d
	case LagScrew:
		least, greatest = 0.25, 1.25
		w = lag * g * math.Sqrt(g) * math.Sqrt(d*math.Sqrt(d))
	case PlainNail:
		w = nail * g * g * math.Sqrt(g) * d
	case RingNail:
		w = ring * g * g * d
	default:
		return 0, bad(ErrRules, "fixing.kind", kind.String(), "a kind of NDS 2018 §12.2")
	}
	if d < least || d > greatest {
		return 0, badNumber(ErrDiameter, "fixing.diameter", diameter, "m",
			number(least*inch, "m")+" to "+number(greatest*inch, "m"))
	}
	return w * poundForce / inch, nil
}

func withdrawalSource(kind Kind, basis Basis) (formula, source string, mark figure.Mark) {
	switch {
	case kind == WoodScrew && basis == UltimateValues:
		return "15700·G²·D, lbf/in", "Wood Handbook FPL-GTR-190 Eq. 8-10b", figure.Secondary
	case kind == LagScrew && basis == UltimateValues:
		return "8100·G^1.5·D^0.75, lbf/in", "Wood Handbook FPL-GTR-190 ch. 8", figure.Memory
	case basis == UltimateValues:
		return "7850·G^2.5·D, lbf/in", "Wood Handbook FPL-GTR-190 ch. 8", figure.Memory
	case kind == WoodScrew:
		return "2850·G²·D, lbf/in", "NDS 2018 Eq. 12.2-2", figure.Secondary
	case kind == LagScrew:
		return "1800·G^1.5·D^0.75, lbf/in", "NDS 2018 Eq. 12.2-1", figure.Published
	case kind == PlainNail:
		return "1380·G^2.5·D, lbf/in", "NDS 2018 Eq. 12.2-3", figure.Secondary
	}
	return "1800·G²·D, lbf/in", "NDS 2018 Eq. 12.2-5", figure.Secondary
}

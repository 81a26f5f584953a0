package fixing

import (
	"cmp"
	"math"
)

// A Mode is a way in which a dowel in single shear yields (NDS 2018 Table 12.3.1A).
type Mode int

// Modes: I bearing, II the dowel turns, III one hinge, IV two hinges; m in the
// main member (the wood), s in the side member (the plate).
const (
	ModeIm Mode = iota
	ModeIs
	ModeII
	ModeIIIm
	ModeIIIs
	ModeIV
)

// String gives the name the standard uses.
func (m Mode) String() string {
	return [...]string{"Im", "Is", "II", "IIIm", "IIIs", "IV"}[m]
}

// Modes holds one value for each [Mode], N.
type Modes [6]float64

// Least returns the governing mode and its value, the first of equals.
func (m Modes) Least() (Mode, float64) {
	least := ModeIm
	for mode, v := range m {
		if v < m[least] {
			least = Mode(mode)
		}
	}
	return least, m[least]
}

// Over divides each mode by its reduction term.
func (m Modes) Over(rd Modes) Modes {
	for i := range m {
		m[i] /= rd[i]
	}
	return m
}

// A Shear is one dowel between a side and a main member. Its equations are
// homogeneous, so SI goes in and comes out.
type Shear struct {
	// Diameter D of the equations: the root for threaded fixings (NDS 2018
	// §12.3.7.1), the nominal one for nails, m.
	Diameter float64
	// MainBearing and SideBearing are the dowel bearing strengths Fem, Fes, Pa.
	MainBearing, SideBearing float64
	// Bending is the bending yield strength Fyb, Pa.
	Bending float64
	// MainLength and SideLength are the dowel bearing lengths lm, ls, m.
	MainLength, SideLength float64
	// Gap between the members, m.
	Gap float64
}

func (s Shear) check() error {
	return cmp.Or(
		positive("shear.diameter", s.Diameter, 1, "m"),
		positive("shear.main_bearing", s.MainBearing, 1e12, "Pa"),
		positive("shear.side_bearing", s.SideBearing, 1e12, "Pa"),
		positive("shear.bending", s.Bending, 1e12, "Pa"),
		positive("shear.main_length", s.MainLength, maxLength, "m"),
		positive("shear.side_length", s.SideLength, maxLength, "m"),
		notNegative("shear.gap", s.Gap, maxLength, "m"),
	)
}

// Yield gives the six modes for members in contact, not yet divided by Rd: NDS
// 2018 Table 12.3.1A, Eqs. 12.3-1 to 12.3-6, with Re = Fem/Fes, Rt = lm/ls:
//
//	Im   = D·lm·Fem                Is = D·ls·Fes
//	II   = k1·D·ls·Fes
//	IIIm = k2·D·lm·Fem/(1+2Re)     IIIs = k3·D·ls·Fem/(2+Re)
//	IV   = D²·sqrt(2·Fem·Fyb/(3(1+Re)))
//	k1   = [sqrt(Re + 2Re²(1+Rt+Rt²) + Rt²·Re³) - Re(1+Rt)]/(1+Re)
//	k2   = -1 + sqrt(2(1+Re) + 2Fyb(1+2Re)D²/(3Fem·lm²))
//	k3   = -1 + sqrt(2(1+Re)/Re + 2Fyb(2+Re)D²/(3Fem·ls²))
//
// The faces must touch (§12.3.1); a gap is not seen here but in [Shear.WithGap].
func (s Shear) Yield() (Modes, error) {
	if err := s.check(); err != nil {
		return Modes{}, err
	}
	return s.yield(), nil
}

func (s Shear) yield() Modes {
	d, lm, ls := s.Diameter, s.MainLength, s.SideLength
	re, rt := s.MainBearing/s.SideBearing, lm/ls
	bend := 2 * s.Bending * d * d / (3 * s.MainBearing)
	k1 := (math.Sqrt(re+2*re*re*(1+rt+rt*rt)+rt*rt*re*re*re) - re*(1+rt)) / (1 + re)
	k2 := -1 + math.Sqrt(2*(1+re)+bend*(1+2*re)/(lm*lm))
	k3 := -1 + math.Sqrt(2*(1+re)/re+bend*(2+re)/(ls*ls))
	return Modes{
		ModeIm:   d * lm * s.MainBearing,
		ModeIs:   d * ls * s.SideBearing,
		ModeII:   k1 * d * ls * s.SideBearing,
		ModeIIIm: k2 * d * lm * s.MainBearing / (1 + 2*re),
		ModeIIIs: k3 * d * ls * s.MainBearing / (2 + re),
		ModeIV:   d * d * math.Sqrt(2*s.MainBearing*s.Bending/(3*(1+re))),
	}
}

// WithGap gives the six modes for members held Gap apart, not yet divided by Rd:
// AWC Technical Report 12 Table 1-1, from memory, not verified. With q = Fe·D and
// M = Fyb·D³/6 in each member, P solves A·P² + B·P + C = 0:
//
//	Im    P = qm·lm        Is    P = qs·ls
//	II    A = 1/4qs + 1/4qm   B = ls/2 + g + lm/2   C = -qs·ls²/4 - qm·lm²/4
//	IIIm  A = 1/2qs + 1/4qm   B = g + lm/2          C = -M - qm·lm²/4
//	IIIs  A = 1/4qs + 1/2qm   B = ls/2 + g          C = -qs·ls²/4 - M
//	IV    A = 1/2qs + 1/2qm   B = g                 C = -2M
//
// At Gap 0 the values are those of [Shear.Yield].
func (s Shear) WithGap() (Modes, error) {
	if err := s.check(); err != nil {
		return Modes{}, err
	}
	return s.withGap(), nil
}

func (s Shear) withGap() Modes {
	qm, qs := s.MainBearing*s.Diameter, s.SideBearing*s.Diameter
	lm, ls, g := s.MainLength, s.SideLength, s.Gap
	hinge := s.Bending * s.Diameter * s.Diameter * s.Diameter / 6
	side, main := qs*ls*ls/4, qm*lm*lm/4
	return Modes{
		ModeIm:   qm * lm,
		ModeIs:   qs * ls,
		ModeII:   rootOf(1/(4*qs)+1/(4*qm), ls/2+g+lm/2, side+main),
		ModeIIIm: rootOf(1/(2*qs)+1/(4*qm), g+lm/2, hinge+main),
		ModeIIIs: rootOf(1/(4*qs)+1/(2*qm), ls/2+g, side+hinge),
		ModeIV:   rootOf(1/(2*qs)+1/(2*qm), g, 2*hinge),
	}
}

// rootOf is the positive root of a·P² + b·P - c = 0, written without the
// difference of two near numbers.
func rootOf(a, b, c float64) float64 {
	return 2 * c / (b + math.Sqrt(b*b+4*a*c))
}

// KD is the reduction term of fixings under 1/4 in, of the diameter used in the
// yield equations, m: 2.2 up to 0.17 in, 10·D + 0.5 (D in inches) above (NDS 2018
// Table 12.3.1B).
func KD(diameter float64) float64 {
	if d := inches(diameter); d > 0.17 {
		return 10*d + 0.5
	}
	return 2.2
}

// Reduction gives Rd for each mode (NDS 2018 Table 12.3.1B) of a fixing of the
// given nominal diameter, the diameter used in the yield equations (both m) and
// the angle between load and grain, rad:
//
//   - nominal under 1/4 in: KD;
//   - nominal from 1/4 in, used diameter under it: KD·Kθ (note 1);
//   - both from 1/4 in: 4Kθ (I), 3.6Kθ (II), 3.2Kθ (III, IV);
//
// with Kθ = 1 + 0.25·θ/90°.
func Reduction(nominal, used, angle float64) Modes {
	k := 1 + 0.25*math.Min(math.Abs(angle), math.Pi/2)/(math.Pi/2)
	if inches(nominal) >= 0.25 && inches(used) >= 0.25 {
		return Modes{4 * k, 4 * k, 3.6 * k, 3.2 * k, 3.2 * k, 3.2 * k}
	}
	rd := KD(used)
	if inches(nominal) >= 0.25 {
		rd *= k
	}
	return Modes{rd, rd, rd, rd, rd, rd}
}

// WoodBearing is the dowel bearing strength of wood, Pa, for a nominal diameter
// (m) and an angle between load and grain (rad), rounded to 50 psi as the table
// is: under 1/4 in 16600·G^1.84 psi; from 1/4 in 11200·G psi along and
// 6100·G^1.45/sqrt(D) psi across the grain (NDS 2018 Table 12.3.3, note 2), and
// between them Fe∥·Fe⊥/(Fe∥·sin²θ + Fe⊥·cos²θ) (Eq. 12.3-11).
func WoodBearing(gravity, diameter, angle float64) (float64, error) {
	if err := cmp.Or(checkGravity(gravity), positive("fixing.diameter", diameter, 1, "m"), within("angle", angle, 10, "rad")); err != nil {
		return 0, err
	}
	d := inches(diameter)
	if d < 0.25 {
		return toFifty(16600*math.Pow(gravity, 1.84)) * psi, nil
	}
	along, across := toFifty(11200*gravity), toFifty(6100*math.Pow(gravity, 1.45)/math.Sqrt(d))
	sin, cos := math.Sincos(angle)
	return along * across / (along*sin*sin + across*cos*cos) * psi, nil
}

func toFifty(v float64) float64 { return math.Round(v/50) * 50 }

// SteelBearing is the dowel bearing strength of a steel plate, Pa: 61 850 psi
// under 1/4 in (ASTM A653 SS Grade 33), 87 000 psi from 1/4 in (ASTM A36) (NDS
// 2018 notes to Tables 12K, 12M, 12P). Thickness in m.
func SteelBearing(thickness float64) float64 {
	if inches(thickness) < 0.25 {
		return 61850 * psi
	}
	return 87000 * psi
}

// BendingYield is Fyb by nominal diameter (m), Pa: NDS 2018 Table I1, in psi
// 100 000 from 0.099 to 0.142 in, 90 000 to 0.177, 80 000 to 0.236, 70 000 to
// 0.273, 60 000 to 0.344, 45 000 above. Under 0.099 in it is [ErrDiameter].
func BendingYield(diameter float64) (float64, error) {
	if err := positive("fixing.diameter", diameter, 1, "m"); err != nil {
		return 0, err
	}
	d := inches(diameter)
	if d < 0.099 {
		return 0, badNumber(ErrDiameter, "fixing.diameter", diameter, "m", "0.0025146 m or more")
	}
	for _, band := range [...]struct{ to, strength float64 }{
		{0.142, 100000}, {0.177, 90000}, {0.236, 80000}, {0.273, 70000}, {0.344, 60000},
	} {
		if d <= band.to {
			return band.strength * psi, nil
		}
	}
	return 45000 * psi, nil
}

// Combined is the value Z'α of one fixing under pull and shear together, N, from
// its withdrawal value W'p and lateral value Z' (N) and the angle α between the
// load and the face of the wood, rad (0 is pure shear):
//
//	wood and lag screws  W'p·Z'/(W'p·cos²α + Z'·sin²α)   NDS 2018 Eq. 12.4-1
//	nails                W'p·Z'/(W'p·cosα + Z'·sinα)     NDS 2018 Eq. 12.4-2
//
// Both values must be above zero and α from 0 to π/2.
func Combined(kind Kind, withdrawal, lateral, angle float64) (float64, error) {
	if err := cmp.Or(
		positive("withdrawal", withdrawal, 1e12, "N"),
		positive("lateral", lateral, 1e12, "N"),
		within("angle", angle, math.Pi/2+1e-9, "rad"),
	); err != nil {
		return 0, err
	}
	if angle < 0 {
		return 0, badNumber(ErrNotPositive, "angle", angle, "rad", "0 to π/2")
	}
	sin, cos := math.Sincos(angle)
	cos = max(0, cos)
	if kind == PlainNail || kind == RingNail {
		return withdrawal * lateral / (withdrawal*cos + lateral*sin), nil
	}
	return withdrawal * lateral / (withdrawal*cos*cos + lateral*sin*sin), nil
}

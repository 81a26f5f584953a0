package fixing

import (
	"cmp"
	"math"

	"hangtrue/compute/figure"
)

// An ActionClass is how long a load lasts, for Eurocode 5.
type ActionClass int

// Load-duration classes of EN 1995-1-1:2004 §2.3.1.2.
const (
	PermanentAction ActionClass = iota
	LongTerm
	MediumTerm
	ShortTerm
	Instantaneous
)

// A Material is what a metric screw goes into.
type Material int

// Materials with a modification factor here.
const (
	SolidTimber Material = iota
	OSB3
	ParticleboardP4
	MDF
)

// KMod is the modification factor k_mod for a material, a service class (1 to 3)
// and a load-duration class (EN 1995-1-1:2004 Table 3.1, as reprinted in the ICE
// Manual of Structural Design, Table 19.9). The boards are given for service class
// 1 only; anything else is [ErrRules].
func KMod(material Material, serviceClass int, class ActionClass) (float64, error) {
	if class < PermanentAction || class > Instantaneous {
		return 0, badNumber(ErrUnknownKind, "load duration class", float64(class), "", "permanent to instantaneous")
	}
	var row [5]float64
	switch {
	case material == SolidTimber && (serviceClass == 1 || serviceClass == 2):
		row = [5]float64{0.60, 0.70, 0.80, 0.90, 1.10}
	case material == SolidTimber && serviceClass == 3:
		row = [5]float64{0.50, 0.55, 0.65, 0.70, 0.90}
	case material == OSB3 && serviceClass == 1:
		row = [5]float64{0.40, 0.50, 0.70, 0.90, 1.10}
	case material == ParticleboardP4 && serviceClass == 1:
		row = [5]float64{0.30, 0.45, 0.65, 0.85, 1.10}
	case material == MDF && serviceClass == 1:
		row = [5]float64{0.20, 0.40, 0.60, 0.80, 1.10}
	default:
		return 0, badNumber(ErrRules, "service class", float64(serviceClass), "", "1 to 3 for solid timber, 1 for boards")
	}
	return row[class], nil
}

// Partial factors: solid timber (EN 1995-1-1:2004 Table 2.3) and permanent action
// (EN 1990 set B, as a published worked example uses it).
const (
	GammaM = 1.3
	GammaG = 1.35
)

// A StrengthClass is a softwood class with its characteristic density, kg/m³.
type StrengthClass struct {
	Name    string
	Density float64
}

// EN 338, from memory, not verified.
var strengthClasses = []StrengthClass{
	{"C14", 290}, {"C16", 310}, {"C18", 320}, {"C20", 330}, {"C22", 340},
	{"C24", 350}, {"C27", 360}, {"C30", 380},
}

// StrengthClasses lists the classes from the weakest to the strongest.
func StrengthClasses() []StrengthClass { return append([]StrengthClass(nil), strengthClasses...) }

// FindStrengthClass looks a class up. An unknown one gives the lowest, C14, and
// known false. The densities are from memory, not verified (EN 338).
func FindStrengthClass(name string) (c StrengthClass, known bool) {
	for _, c := range strengthClasses {
		if c.Name == name {
			return c, true
		}
	}
	return strengthClasses[0], false
}

// AxialStrength is the characteristic withdrawal strength f_ax,k, Pa, of a screw
// of diameter d with thread in the wood over lef (m), in wood of characteristic
// density rho (kg/m³): EN 1995-1-1:2004+A1 Eq. 8.39, in N/mm² with d and lef in mm
//
//	f_ax,k = 0.52·d^-0.5·lef^-0.1·rho^0.8
//
// for 6 mm <= d <= 12 mm; other diameters are [ErrDeclared]. (The limit 0.6 <= d1/d
// <= 0.75 on the core, from memory, not verified, is for the caller.)
func AxialStrength(d, lef, density float64) (float64, error) {
	if err := cmp.Or(
		positive("fixing.diameter", d, 1, "m"),
		positive("penetration.thread", lef, maxLength, "m"),
		positive("density", density, 2000, "kg/m³"),
	); err != nil {
		return 0, err
	}
	if um := micro(d); um < 6000 || um > 12000 {
		return 0, badNumber(ErrDeclared, "fixing.diameter", d, "m", "0.006 m to 0.012 m, or the maker's declared f_ax,k")
	}
	return 0.52 / math.Sqrt(d/mm) * math.Pow(lef/mm, -0.1) * math.Pow(density, 0.8) * megapascal, nil
}

// AxialCapacity is the characteristic withdrawal capacity of one screw, N, from
// its strength f_ax,k (Pa), diameter and thread length (m) and the angle between
// screw and grain (rad, π/2 square to the grain): EN 1995-1-1:2004+A1 Eqs. 8.38 and
// 8.40, F = f·d·lef·k_d/(1.2·cos²α + sin²α), k_d = min(d/8 mm, 1).
func AxialCapacity(strength, d, lef, angle float64) float64 {
	sin, cos := math.Sincos(angle)
	return strength * d * lef * min(d/(8*mm), 1) / (1.2*cos*cos + sin*sin)
}

// EffectiveNumber is n_ef = n^0.9 for n screws pulled together (EN 1995-1-1:2004
// §8.7.2).
func EffectiveNumber(n int) float64 { return math.Pow(float64(n), 0.9) }

// LeastEdge is the least distance from a metric screw of diameter d (m) to the
// edge of the timber, m (EN 1995-1-1:2004+A1): 4d for pull (Table 8.6); for load
// along the grain 5d not predrilled, 3d predrilled (Table 8.2, unloaded edge).
// The largest that applies is returned.
func LeastEdge(d float64, pull, shear, predrilled bool) float64 {
	var k float64
	if pull {
		k = 4
	}
	switch {
	case shear && predrilled:
		k = max(k, 3)
	case shear:
		k = max(k, 5)
	}
	return k * d
}

// loadedEdge is the factor for an edge loaded across the grain, from memory, not
// verified (EN 1995-1-1:2004 Table 8.2 at 90°).
func loadedEdge(d float64, predrilled bool) float64 {
	thick := micro(d) >= 5000
	switch {
	case predrilled && !thick:
		return 5 * d
	case !predrilled && thick:
		return 10 * d
	}
	return 7 * d
}

// LargestDiameter is the thickest metric screw that the edge rules allow in the
// middle of a member of the given width, m. A 38 mm stud takes 4.75 mm in pull,
// so that the diameters of Eq. 8.39 (from 6 mm) do not fit in it.
func LargestDiameter(width float64, pull, shear, predrilled bool) float64 {
	k := LeastEdge(1, pull, shear, predrilled)
	if k == 0 {
		return 0
	}
	return width / 2 / k
}

// LeastWidth is the narrowest member that takes a metric screw of diameter d in
// its middle, m.
func LeastWidth(d float64, pull, shear, predrilled bool) float64 {
	return 2 * LeastEdge(d, pull, shear, predrilled)
}

// embedding is the characteristic embedment strength f_h,k, Pa, along the grain
// (angle 0) or at an angle to it: EN 1995-1-1:2004 Eqs. 8.15, 8.16, 8.31 to 8.33,
// from memory, not verified. Screws up to 6 mm count as nails, without an angle.
func embedding(d, density, angle float64, predrilled bool) float64 {
	dmm := d / mm
	if micro(d) <= 6000 && !predrilled {
		return 0.082 * density * math.Pow(dmm, -0.3) * megapascal
	}
	f := 0.082 * (1 - 0.01*dmm) * density * megapascal
	if micro(d) <= 6000 {
		return f
	}
	sin, cos := math.Sincos(angle)
	return f / ((1.35+0.015*dmm)*sin*sin + cos*cos)
}

// yieldMoment is M_y,Rk = 0.3·f_u·d_ef^2.6 N·mm with d_ef = 1.1 × core diameter in
// mm (EN 1995-1-1:2004 Eq. 8.14, §8.7.1) and f_u = 400 N/mm², in N·m; equation and
// strength from memory, not verified.
func yieldMoment(core float64) float64 {
	return 0.3 * 400 * math.Pow(1.1*core/mm, 2.6) * mm
}

// thinPlate is the characteristic lateral capacity of a screw under a steel plate
// that does not clamp its head, held off the timber by a gap, N, and its mode:
// the timber crushes (IIIm without a hinge in the plate) or one hinge forms in it.
// At gap 0 these are EN 1995-1-1:2004 Eq. 8.9 (a) and (b) without the factor 1.15
// and the rope effect. Derived here from equilibrium.
func thinPlate(embed, d, lm, moment, gap float64) (float64, Mode) {
	q := embed * d
	crush := rootOf(1/(4*q), gap+lm/2, q*lm*lm/4)
	hinge := rootOf(1/(2*q), gap, moment)
	if crush < hinge {
		return crush, ModeIIIm
	}
	return hinge, ModeIIIs
}

// judgeEurocode fills a screening by the Eurocode 5 rules.
func (s *Screening) judgeEurocode(j *job) error {
	if j.fixing.Kind != MetricScrew {
		return bad(ErrRules, "fixing.kind", j.fixing.Kind.String(), "a metric wood screw under Eurocode 5")
	}
	if j.load.Basis != DesignValues {
		return bad(ErrBasis, "load.basis", "ultimate values", "design values: Eurocode 5 has its own partial factors")
	}
	d := j.dim
	core := j.fixing.Declared.Core
	if core == 0 {
		core = d.Root
	}
	class, known := FindStrengthClass(j.base.Species)
	w := &s.work
	w.species, w.density = class.Name, class.Density
	if !known {
		s.caution("The strength class is not known: the lowest density, " + class.Name + ", is taken.")
	}
	service := 1
	if j.base.Moisture != Dry {
		service = 3
	}
	kmod, err := KMod(SolidTimber, service, PermanentAction)
	if err != nil {
		return err
	}
	w.kmod = kmod
	// k_mod holds for timber that stays below 50 °C, from memory, not verified.
	if celsius := j.base.Temperature; celsius > 50 {
		return badNumber(ErrTemperature, "base.temperature", celsius, "°C", "at most 50 °C")
	}
	if j.base.EndGrain {
		s.refuse("End grain", "A screw in end grain is not judged here.", 0, 0, "", "EN 1995-1-1:2004 §8.7.2", figure.Memory)
	}

	lef := j.pen.Thread
	var axial float64
	if declared := j.fixing.Declared; declared.Withdrawal > 0 {
		if err := cmp.Or(
			positive("declared.withdrawal", declared.Withdrawal, 1e9, "Pa"),
			positive("declared.density", declared.Density, 2000, "kg/m³"),
		); err != nil {
			return err
		}
		w.strength = declared.Withdrawal * math.Pow(class.Density/declared.Density, 0.8)
		w.declaredAxial = true
		axial = w.strength * d.Diameter * lef
	} else {
		if lef > 0 {
			if w.strength, err = AxialStrength(d.Diameter, lef, class.Density); err != nil {
				return err
			}
		}
		if ratio := core / d.Diameter; ratio < 0.6 || ratio > 0.75 {
			return badNumber(ErrDeclared, "declared.core", core, "m", "0.6 to 0.75 of the diameter, or the maker's declared f_ax,k")
		}
		axial = AxialCapacity(w.strength, d.Diameter, lef, math.Pi/2)
	}
	n := len(j.load.Plate.Holes)
	w.group = EffectiveNumber(n) / float64(n)
	w.pull = axial * w.group * kmod / GammaM

	predrilled := j.fixing.Pilot > 0
	w.predrilled = predrilled
	moment := j.fixing.Declared.YieldMoment
	if moment == 0 {
		moment = yieldMoment(core)
	}
	w.moment = moment
	shears := j.load.shears()
	least := LeastPenetration(MetricScrew, d.Diameter)
	s.penetration(j, least, "EN 1995-1-1:2004 §8.7.2")
	// Counted from 6d to 8d, the lateral value grows to its full size (§8.3.1.2).
	reach := math.Max(0, math.Min(1, (j.pen.Counted-least)/(2*d.Diameter)))
	last := math.Inf(1)
	var lateral float64
	var mode Mode
	for i, f := range s.Forces {
		cap := &s.Capacities[i]
		cap.Pull = w.pull
		if shears {
			angle := grainAngle(f, j.base.Grain)
			if angle != last {
				last = angle
				lateral, mode = 0, ModeIIIm
				if lm := j.pen.Bearing; lm > 0 {
					lateral, mode = thinPlate(embedding(d.Diameter, class.Density, angle, predrilled), 1.1*core, lm, moment, j.base.Lining)
				}
				lateral *= reach * kmod / GammaM
			}
			cap.Shear, cap.Mode = lateral, mode
		}
		cap.combine(GammaG*f.Tension, GammaG*f.Shear, interactSquares)
	}
	s.eurocodeDistances(j, predrilled)
	return nil
}

func (s *Screening) eurocodeDistances(j *job, predrilled bool) {
	d, shears := j.dim.Diameter, j.load.shears()
	edge := LeastEdge(d, true, shears, predrilled)
	mark := figure.Secondary
	if j.load.acrossGrain(j.base.Grain) {
		edge, mark = max(edge, loadedEdge(d, predrilled)), figure.Memory
	}
	s.edge(j, edge, "EN 1995-1-1:2004+A1 Tables 8.2, 8.6", mark)
	if depth := j.base.Depth; depth > 0 && micro(depth) < micro(12*d) {
		s.refuse("Depth of the timber", "The timber is too thin for this diameter.", 12*d, depth, "m", "EN 1995-1-1:2004+A1 Table 8.6", figure.Secondary)
	}
	end := 10 * d
	if shears && !predrilled {
		end = 15 * d
	} else if shears {
		end = 12 * d
	}
	if j.base.End > 0 && micro(j.base.End) < micro(end) {
		s.refuse("End distance", "The screw is too close to the end of the timber.", end, j.base.End, "m", "EN 1995-1-1:2004+A1 Tables 8.2, 8.6", figure.Secondary)
	}
	for i, a := range j.load.Plate.Holes {
		for _, b := range j.load.Plate.Holes[:i] {
			across, along := math.Abs(a.X-b.X), math.Abs(a.Y-b.Y)
			if j.base.Grain == GrainAcross {
				across, along = along, across
			}
			if micro(across) < micro(5*d) && micro(along) < micro(7*d) {
				s.refuse("Spacing of the holes", "Two screws are too close to each other for this diameter.",
					7*d, max(across, along), "m", "EN 1995-1-1:2004+A1 Table 8.6", figure.Secondary)
				return
			}
		}
	}
	if micro(d) > 6000 && !predrilled {
		s.refuse("Pilot hole", "Above 6 mm the hole must be drilled first; give the pilot hole's diameter.",
			0.7*d, 0, "m", "EN 1995-1-1:2004 §10.4.5", figure.Secondary)
	}
}

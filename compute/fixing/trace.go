package fixing

import (
	"math"

	"hangtrue/compute/figure"
)

// Trace gives the calculation behind a screening, in the order of the work: load,
// force on the worst fixing, what it carries and the utilisation. Each figure
// holds its formula, inputs and source. The zero Screening has none.
func (s *Screening) Trace() []figure.Figure {
	if len(s.Forces) == 0 {
		return nil
	}
	t := trace{s: s, j: &s.job}
	t.load()
	switch {
	case s.job.base.Kind == Plasterboard:
	case s.job.fixing.Kind == Rated:
		t.rated()
	case s.job.base.Kind != Framing:
	case s.job.base.Rules == Eurocode5:
		t.eurocode()
	default:
		t.nds()
	}
	t.proof()
	return t.figures
}

// trace gathers figures.
type trace struct {
	s       *Screening
	j       *job
	figures []figure.Figure
}

func (t *trace) add(name, formula, source string, mark figure.Mark, value float64, unit string, inputs ...figure.Input) {
	t.figures = append(t.figures, figure.Figure{
		Name: name, Formula: formula, Source: source, Mark: mark, Inputs: inputs, Value: value, Unit: unit,
	})
}

func in(name string, value float64, unit string) figure.Input {
	return figure.Input{Name: name, Value: value, Unit: unit}
}

const sourceStatics = "equilibrium of a stiff plate; Bhandari, Design of Machine Elements, ch. 7"

func (t *trace) load() {
	s, j := t.s, t.j
	f := s.Forces[s.Worst]
	hole := j.load.Plate.Holes[s.Worst]
	n := float64(len(s.Forces))
	t.add("Weight", "W = m·g", "standard gravity", figure.Memory, s.Statics.Weight, "N",
		in("m", j.load.Mass, "kg"), in("g", Gravity, "m/s²"))
	switch j.load.On {
	case Wall:
		t.add("Tilting moment", "M = W·e", sourceStatics, figure.Derived, s.Statics.Moment, "N·m",
			in("W", s.Statics.Weight, "N"), in("e", j.load.Reach, "m"))
		t.add("Pull on the worst fixing", "T = M·y / Σ y²", sourceStatics, figure.Published, f.Tension, "N",
			in("M", s.Statics.Moment, "N·m"), in("y", hole.Y-j.load.Plate.Edge, "m"), in("Σ y²", sumSquares(j.load.Plate), "m²"))
		t.add("Shear on the worst fixing", "V = hypot(W·s·y/J, W/n + W·s·x/J), x and y from the centroid", sourceStatics, figure.Published, f.Shear, "N",
			in("W", s.Statics.Weight, "N"), in("n", n, ""), in("s", j.load.Side-s.Statics.Centroid.X, "m"),
			in("x", hole.X-s.Statics.Centroid.X, "m"), in("y", hole.Y-s.Statics.Centroid.Y, "m"))
		t.add("Pressure at the lower edge", "C = Σ T", sourceStatics, figure.Derived, s.Statics.Contact.Force, "N", in("n", n, ""))
	case Slope:
		formula := "T = N/n + the plane of the moments about the centroid"
		if s.Statics.Form == EdgeForm {
			formula = "the plate presses at its edge: least energy of equal springs under a stiff plate"
		}
		d := j.load.Down
		pull := s.Statics.Weight * d.Out
		t.add("Pull square to the slope", "N = W·cos φ, φ from level", sourceStatics, figure.Derived, pull, "N",
			in("W", s.Statics.Weight, "N"), in("cos φ", d.Out, ""))
		t.add("Pull on the worst fixing", formula+"; N acts straight above the centre of mass", sourceStatics, figure.Derived, f.Tension, "N",
			in("N", pull, "N"), in("n", n, ""), in("e across", j.load.Side-j.load.Out*d.X/d.Out-s.Statics.Centroid.X, "m"),
			in("e along", j.load.Reach-j.load.Out*d.Y/d.Out-s.Statics.Centroid.Y, "m"))
		t.add("Shear on the worst fixing", "V = W·sin φ/n and its torsion about the centroid", sourceStatics, figure.Derived, f.Shear, "N",
			in("W", s.Statics.Weight, "N"), in("sin φ", math.Hypot(d.X, d.Y), ""), in("n", n, ""),
			in("x", hole.X-s.Statics.Centroid.X, "m"), in("y", hole.Y-s.Statics.Centroid.Y, "m"))
		t.add("Pressure at the edge", "C = Σ T - N", sourceStatics, figure.Derived, s.Statics.Contact.Force, "N", in("N", pull, "N"))
	default:
		formula := "T = W/n + the plane of the moments about the centroid"
		if s.Statics.Form == EdgeForm {
			formula = "the plate presses at its edge: least energy of equal springs under a stiff plate"
		}
		t.add("Pull on the worst fixing", formula, sourceStatics, figure.Derived, f.Tension, "N",
			in("W", s.Statics.Weight, "N"), in("n", n, ""),
			in("e across", j.load.Side-s.Statics.Centroid.X, "m"), in("e along", j.load.Reach-s.Statics.Centroid.Y, "m"))
		t.add("Pressure at the edge", "C = Σ T - W", sourceStatics, figure.Derived, s.Statics.Contact.Force, "N", in("W", s.Statics.Weight, "N"))
	}
	t.add("Resultant on the worst fixing", "R = hypot(T, V)", sourceStatics, figure.Derived, f.Resultant, "N",
		in("T", f.Tension, "N"), in("V", f.Shear, "N"))
	t.add("Angle to the face of the base", "α = atan2(T, V)", sourceStatics, figure.Derived, f.Angle, "rad",
		in("T", f.Tension, "N"), in("V", f.Shear, "N"))
}

func sumSquares(p Plate) float64 {
	var sum float64
	for _, h := range p.Holes {
		sum += (h.Y - p.Edge) * (h.Y - p.Edge)
	}
	return sum
}

func (t *trace) sitting() {
	s, j := t.s, t.j
	t.add("Penetration into the member", "p = L - plate - lining", "NDS 2018 §12.1", figure.Secondary, s.Penetration.Embedded, "m",
		in("L", j.fixing.Length, "m"), in("plate", j.load.Plate.Thickness, "m"), in("lining", j.base.Lining, "m"))
	formula, mark, source := "p_t = thread in the member, tip included", j.dim.Mark, j.dim.Source
	if j.fixing.Kind == LagScrew {
		formula = "p_t = thread in the member less the tip E"
	}
	if j.fixing.Kind == MetricScrew && j.fixing.Thread == 0 {
		mark, source = figure.CommonPractice, "thread taken as 0.6 L"
	}
	t.add("Thread in the member", formula, source, mark, s.Penetration.Thread, "m",
		in("T", j.thread, "m"), in("p", s.Penetration.Embedded, "m"), in("E", j.dim.Tip, "m"))
}

func (t *trace) nds() {
	s, j, w := t.s, t.j, t.s.work
	ultimate := j.load.Basis == UltimateValues
	t.sitting()
	t.add("Specific gravity of "+w.species, "G by species", sourceSpecies, markSpecies, w.gravity, "")
	formula, source, withdrawMark := withdrawalSource(j.fixing.Kind, j.load.Basis)
	t.add("Withdrawal value of one fixing", "W = "+formula, source, withdrawMark, w.perLength, "N/m",
		in("G", w.gravity, ""), in("D", j.dim.Diameter, "m"))
	mark := figure.Weakest(withdrawMark, figure.Secondary)
	t.add("Pull that one fixing carries", "W'p = W·p_t·C_D·C_M·C_t·C_eg", "NDS 2018 Table 11.3.1", mark, w.pull, "N",
		in("W", w.perLength, "N/m"), in("p_t", s.Penetration.Thread, "m"), in("C_D", w.duration, ""),
		in("C_M", w.wetPull, ""), in("C_t", w.heat, ""), in("C_eg", w.endPull, ""))
	if j.load.shears() {
		lateral := t.lateral(ultimate)
		rule, source := "1/Z'α = sin²α/W'p + cos²α/Z'", "NDS 2018 Eq. 12.4-1"
		if j.fixing.Kind == PlainNail || j.fixing.Kind == RingNail {
			rule, source = "1/Z'α = sinα/W'p + cosα/Z'", "NDS 2018 Eq. 12.4-2"
		}
		mark = figure.Weakest(mark, lateral)
		if ultimate {
			source += ", used on ultimate values: derived here, not a rule of the standard"
			mark = figure.Weakest(mark, figure.Derived)
		}
		c := s.Capacities[s.Worst]
		t.add("Load that one fixing carries in this direction", rule, source, mark, c.Combined, "N",
			in("W'p", c.Pull, "N"), in("Z'", c.Shear, "N"), in("α", s.Forces[s.Worst].Angle, "rad"))
	}
	t.utilisation(j.load.Basis.factor(), mark)
}

func (t *trace) lateral(ultimate bool) figure.Mark {
	s, j, w := t.s, t.j, t.s.work
	angle := grainAngle(s.Forces[s.Worst], j.base.Grain)
	z, mode, err := w.lateral(j, angle, ultimate)
	if err != nil || j.pen.Bearing <= 0 {
		return figure.Secondary
	}
	t.add("Bearing strength of the wood", "Fem by G, D and the angle to the grain", "NDS 2018 Table 12.3.3", figure.Secondary, w.embed, "Pa",
		in("G", w.gravity, ""), in("D", j.dim.Diameter, "m"), in("θ", angle, "rad"))
	t.add("Bearing strength of the plate", "Fes of a steel plate by thickness", "NDS 2018 notes to Tables 12K, 12M, 12P", figure.Secondary, w.plate, "Pa",
		in("ls", j.load.Plate.Thickness, "m"))
	t.add("Bending strength of the fixing", "Fyb by D", "NDS 2018 Table I1", figure.Secondary, w.bending, "Pa", in("D", j.dim.Diameter, "m"))
	source, mark := "NDS 2018 Table 12.3.1A", figure.Secondary
	if j.base.Lining > 0 {
		source, mark = "AWC Technical Report 12 Table 1-1", figure.Memory
	}
	inputs := []figure.Input{
		in("Dr", j.dim.Root, "m"), in("lm", j.pen.Bearing, "m"), in("ls", j.load.Plate.Thickness, "m"), in("g", j.base.Lining, "m"),
	}
	for m, p := range w.modes {
		t.add("Yield load in mode "+Mode(m).String(), "yield equation "+Mode(m).String(), source, mark, p, "N", inputs...)
	}
	t.add("Reduction term in mode "+mode.String(), "Rd", "NDS 2018 Table 12.3.1B", figure.Secondary, w.reduction[mode], "",
		in("Dr", j.dim.Root, "m"), in("θ", angle, "rad"))
	t.add("Side load that one fixing carries, mode "+mode.String(), "Z' = P/Rd·C_D·C_M·C_t·C_eg·C_Δ", "NDS 2018 Table 11.3.1", mark, z, "N",
		in("P", w.modes[mode], "N"), in("Rd", w.reduction[mode], ""), in("C_D", w.duration, ""), in("C_M", w.wetShear, ""),
		in("C_t", w.heat, ""), in("C_eg", w.endShear, ""), in("C_Δ", w.geometry, ""))
	return mark
}

func (t *trace) eurocode() {
	s, j, w := t.s, t.j, t.s.work
	t.sitting()
	t.add("Characteristic density of "+w.species, "ρ by strength class", "EN 338", figure.Memory, w.density, "kg/m³")
	formula, source, mark := "f_ax,k = 0.52·d^-0.5·lef^-0.1·ρ^0.8 (mm, N/mm²)", "EN 1995-1-1:2004+A1 Eq. 8.39", figure.Secondary
	capacity := "F = n_ef/n·f_ax,k·d·lef·k_d·k_mod/γ_M"
	if w.declaredAxial {
		formula, source, mark = "f_ax,k declared, times (ρ/ρa)^0.8", "the maker's declaration; EN 1995-1-1:2004+A1 Eq. 8.40a", figure.Memory
		capacity = "F = n_ef/n·f_ax,k·d·lef·k_mod/γ_M"
	}
	t.add("Withdrawal strength", formula, source, mark, w.strength, "Pa",
		in("d", j.dim.Diameter, "m"), in("lef", s.Penetration.Thread, "m"), in("ρ", w.density, "kg/m³"))
	mark = figure.Weakest(mark, figure.Memory) // the density
	t.add("Pull that one screw carries", capacity, "EN 1995-1-1:2004+A1 Eqs. 8.38, 8.40, 2.17", mark, w.pull, "N",
		in("f_ax,k", w.strength, "Pa"), in("d", j.dim.Diameter, "m"), in("lef", s.Penetration.Thread, "m"),
		in("n_ef/n", w.group, ""), in("k_mod", w.kmod, ""), in("γ_M", GammaM, ""))
	c := s.Capacities[s.Worst]
	if j.load.shears() {
		t.add("Yield moment of the screw", "M_y,Rk = 0.3·f_u·d_ef^2.6, or declared", "EN 1995-1-1:2004 Eq. 8.14", figure.Memory, w.moment, "N·m",
			in("f_u", 400*megapascal, "Pa"), in("d1", j.dim.Root, "m"))
		t.add("Side load that one screw carries, mode "+c.Mode.String(), "thin plate at a gap g: crushing or one hinge, times k_mod/γ_M",
			"equilibrium; at g = 0 EN 1995-1-1:2004 Eq. 8.9 without 1.15 and rope effect", figure.Memory, c.Shear, "N",
			in("g", j.base.Lining, "m"), in("lm", j.pen.Bearing, "m"), in("M_y,Rk", w.moment, "N·m"), in("k_mod", w.kmod, ""), in("γ_M", GammaM, ""))
	}
	t.utilisation(GammaG, mark)
}

func (t *trace) rated() {
	s, j, w := t.s, t.j, t.s.work
	r := j.fixing.Rating
	t.add("Pull that one fixing carries", "rated load / factor", sourceRated, figure.Published, w.pull, "N",
		in("rated pull", r.Pull, "N"), in("factor", w.divide, ""))
	if j.load.shears() {
		t.add("Side load that one fixing carries", "rated load / factor", sourceRated, figure.Published, s.Capacities[s.Worst].Shear, "N",
			in("rated shear", r.Shear, "N"), in("factor", w.divide, ""))
	}
	t.utilisation(j.load.Basis.factor(), figure.Derived)
}

func (t *trace) utilisation(factor float64, mark figure.Mark) {
	s := t.s
	c, f := s.Capacities[s.Worst], s.Forces[s.Worst]
	formula, source := "u = factor·R / Z'α", "NDS 2018 §12.4"
	switch {
	case t.j.fixing.Kind == Rated:
		formula, source = "u = factor·(T/T_carried + V/V_carried)", "linear sum, common practice"
		mark = figure.Weakest(mark, figure.CommonPractice)
	case t.j.base.Rules == Eurocode5:
		formula, source = "u = γ_G·sqrt((T/F_ax,Rd)² + (V/F_v,Rd)²)", "EN 1995-1-1:2004 Eq. 8.28"
	case t.j.load.On == Ceiling:
		formula = "u = factor·T / W'p"
	}
	t.add("Utilisation of the worst fixing", formula, source, mark, s.Utilisation, "",
		in("factor on the load", factor, ""), in("T", f.Tension, "N"), in("V", f.Shear, "N"),
		in("pull carried", c.Pull, "N"), in("side load carried", c.Shear, "N"))
}

func (t *trace) proof() {
	p := t.s.Proof
	t.add("Proof load in all", "P = 4·W, held 60 s", p.Source, p.Mark, p.Total, "N",
		in("W", t.s.Statics.Weight, "N"), in("factor", ProofFactor, ""))
}

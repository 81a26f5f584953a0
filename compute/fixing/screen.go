package fixing

import (
	"cmp"
	"math"

	"hangtrue/compute/figure"
)

// A Basis picks one way to compare load and strength. A withdrawal value of the
// standard already holds a factor of about five on the mean test strength
// (15700/2850 = 5.5 for wood screws), so a factor on the weight and a design value
// are never used at once.
type Basis int

const (
	// DesignValues compares the weight itself with design values: adjusted NDS
	// values, Eurocode 5 design resistances, working loads.
	DesignValues Basis = iota
	// UltimateValues compares four times the weight with mean tested strengths
	// (withdrawal), yield loads without a reduction term (lateral) and tested
	// failure loads.
	UltimateValues
)

// factor is what the weight is multiplied with.
func (b Basis) factor() float64 {
	if b == UltimateValues {
		return ProofFactor
	}
	return 1
}

// Rules are the rules for fixings in framing.
type Rules int

const (
	// NDS is the National Design Specification for Wood Construction, 2018.
	NDS Rules = iota
	// Eurocode5 is EN 1995-1-1:2004 + A1, for metric screws.
	Eurocode5
)

// A Base is what the fixing goes into and what lies before it.
type Base struct {
	Kind BaseKind
	// Lining is the thickness of board between plate and base, m. It carries nothing.
	Lining float64

	// The rest describes framing.

	Rules Rules
	// Species is a group of NDS Table 12.3.3A, or a strength class of EN 338 under
	// Eurocode 5. Empty or unlisted: the lowest that cannot be ruled out.
	Species string
	// Width is the face that is screwed into, Depth how far it goes back, m; 0: not
	// known. Without Width no screening passes.
	Width, Depth float64
	// OffCentre is how far the worst hole may be from the centre line of its
	// member, m.
	OffCentre float64
	// End is the distance to the end of the member, m; 0: far away.
	End      float64
	Grain    Grain
	EndGrain bool // the fixing is driven along the grain
	Moisture Moisture
	// Temperature that the wood stays at, °C.
	Temperature float64
}

// An Outcome is what a screening comes to.
type Outcome int

const (
	// DoesNotPass is the zero value: nothing passes by being forgotten.
	DoesNotPass Outcome = iota
	// Undecided tells that something must be known first; see Screening.Open.
	Undecided
	// Passes tells that the load is within the screening values. It allows nothing
	// by itself; see Screening.Requires.
	Passes
)

// String gives the outcome in words.
func (o Outcome) String() string {
	switch o {
	case Passes:
		return "passes the screening"
	case Undecided:
		return "undecided"
	}
	return "does not pass the screening"
}

// Statement stands beside every screening.
const Statement = "A screening aid, not an engineer's judgement. Local building rules, and whoever is licensed or qualified to apply them, decide."

// A Finding is one rule that is not met, or one thing that is not known.
type Finding struct {
	Name   string
	Says   string
	Wanted float64 // limit, 0 if the rule has none
	Found  float64
	Unit   string
	Source string
	Mark   figure.Mark
}

// An Action is which part of the load governs a fixing.
type Action int

const (
	Pull Action = iota
	SideLoad
)

// String names the action.
func (a Action) String() string {
	if a == SideLoad {
		return "side load"
	}
	return "withdrawal"
}

// MaxUtilisation stands for a utilisation of a thousand or more, also where a
// fixing has no capacity at all.
const MaxUtilisation = 1000.0

// A Capacity is what one fixing carries on the chosen basis, N.
type Capacity struct {
	Pull  float64 // along the fixing
	Shear float64 // across it; 0 on a ceiling, where it is not needed
	// Combined is the value in the direction of the fixing's resultant.
	Combined float64
	// Mode is the yield mode behind Shear.
	Mode Mode
	// Utilisation is load over capacity, in proportion to the load.
	Utilisation float64
	// Governs is the larger part of Utilisation.
	Governs Action
}

// A Screening is the result of [Screen].
type Screening struct {
	Outcome    Outcome
	Statics    Statics
	Forces     []Force // those of Statics
	Capacities []Capacity
	// Worst is the index of the fixing with the greatest utilisation.
	Worst       int
	Utilisation float64
	// Governing names what governs the worst fixing: "withdrawal", or "side load,
	// mode IIIs".
	Governing string
	// Refused lists the rules that are not met: with any, the outcome is
	// DoesNotPass. Open lists what must be known first.
	Refused, Open []Finding
	Cautions      []string

	Penetration Penetration // in framing
	Pilot       PilotHole   // in framing
	// LeastLength is the shortest fixing that reaches the least penetration, m;
	// framing only.
	LeastLength float64
	// EdgeWanted and EdgeLeft are the distance from the fixing to the edge of the
	// member that the rules want and that is left, m; framing only.
	EdgeWanted, EdgeLeft float64
	Proof                Proof
	// Tether tells that a second, independent tether is required.
	Tether bool

	work work
	job  job
}

// Requires lists what must be done whatever the numbers say.
func (s *Screening) Requires() []string {
	list := []string{
		"Hang the proof load on the bracket for one minute before the loudspeaker goes on.",
		"Look for cables and pipes before drilling.",
	}
	if s.Tether {
		list = append(list, "Fit a second, independent tether to another fixing in the structure.")
	}
	return append(list, Statement)
}

// work keeps what the trace shows beside the results.
type work struct {
	species                   string
	gravity, density          float64
	perLength, pull           float64
	duration, heat            float64
	wetPull, wetShear         float64
	endPull, endShear         float64
	geometry                  float64
	embed, plate, bending     float64
	modes, reduction          Modes
	kmod, strength, group     float64
	moment, divide            float64
	predrilled, declaredAxial bool
}

// job is a checked input.
type job struct {
	load   Load
	fixing Fixing
	base   Base
	dim    Dimensions
	pen    Penetration
	thread float64
}

// Screen judges one bracket. It gives the force on each fixing, its capacity and
// utilisation, what governs and the rules that are not met; [Screening.Helps] then
// says what would help.
//
// In framing the rules are NDS 2018 with a permanent load (C_D 0.9) or Eurocode 5
// (k_mod for permanent load, action times 1.35); in masonry, concrete and hollow
// walls the maker's rating. Plasterboard alone never passes. The input is wrong in
// one named field, or the screening is whole.
func Screen(load Load, fixing Fixing, base Base) (Screening, error) {
	statics, err := Forces(load)
	if err != nil {
		return Screening{}, err
	}
	j := job{load: load, fixing: fixing, base: base}
	if err := j.prepare(); err != nil {
		return Screening{}, err
	}
	var s Screening
	if err := j.judge(&s, &statics); err != nil {
		return Screening{}, err
	}
	return s, nil
}

// prepare checks the fixing and the base and places the one in the other.
func (j *job) prepare() error {
	f, b := j.fixing, j.base
	if err := cmp.Or(
		notNegative("fixing.length", f.Length, 1, "m"),
		notNegative("fixing.thread", f.Thread, 1, "m"),
		notNegative("fixing.pilot", f.Pilot, 0.1, "m"),
		notNegative("declared.core", f.Declared.Core, 0.1, "m"),
		notNegative("declared.yield_moment", f.Declared.YieldMoment, 1e6, "N·m"),
		notNegative("declared.withdrawal", f.Declared.Withdrawal, 1e9, "Pa"),
		notNegative("base.lining", b.Lining, 1, "m"),
		notNegative("base.width", b.Width, maxLength, "m"),
		notNegative("base.depth", b.Depth, maxLength, "m"),
		notNegative("base.end", b.End, maxLength, "m"),
		within("base.off_centre", b.OffCentre, maxLength, "m"),
		within("base.temperature", b.Temperature, 1000, "°C"),
	); err != nil {
		return err
	}
	switch {
	case b.Kind < Framing || b.Kind > Plasterboard:
		return badNumber(ErrUnknownKind, "base.kind", float64(b.Kind), "", "framing to plasterboard")
	case j.load.Basis != DesignValues && j.load.Basis != UltimateValues:
		return badNumber(ErrUnknownKind, "load.basis", float64(j.load.Basis), "", "design or ultimate values")
	case b.Rules != NDS && b.Rules != Eurocode5:
		return badNumber(ErrUnknownKind, "base.rules", float64(b.Rules), "", "NDS or Eurocode5")
	case b.Grain != GrainUp && b.Grain != GrainAcross:
		return badNumber(ErrUnknownKind, "base.grain", float64(b.Grain), "", "GrainUp or GrainAcross")
	}
	before := j.load.Plate.Thickness + b.Lining
	if f.Kind == Rated {
		if f.Length > 0 && f.Length <= before {
			return badNumber(ErrTooShort, "fixing.length", f.Length, "m", "more than plate and lining, "+number(before, "m"))
		}
		return nil
	}
	var err error
	if j.dim, err = Lookup(f.Kind, f.Size); err != nil {
		return err
	}
	if err := positive("fixing.length", f.Length, 1, "m"); err != nil {
		return err
	}
	j.thread = f.Thread
	if j.thread == 0 {
		j.thread = ThreadLength(f.Kind, j.dim.Diameter, f.Length)
	}
	if j.thread > f.Length {
		return badNumber(ErrTooLarge, "fixing.thread", f.Thread, "m", "at most the length, "+number(f.Length, "m"))
	}
	j.pen, err = Penetrate(f.Kind, j.dim, f.Length, j.thread, before, b.Depth)
	return err
}

// judge fills a screening for one job without looking for help. What the
// screening held before is dropped, and its slices are used again.
func (j *job) judge(s *Screening, statics *Statics) error {
	n := len(statics.Forces)
	capacities := s.Capacities
	if cap(capacities) < n {
		capacities = make([]Capacity, n)
	}
	capacities = capacities[:n]
	clear(capacities)
	*s = Screening{
		Statics: *statics, Forces: statics.Forces, Capacities: capacities,
		Refused: s.Refused[:0], Open: s.Open[:0], Cautions: s.Cautions[:0],
		Proof: proofLoad(j.load.Mass), Tether: j.load.hangs(), job: *j,
	}
	var err error
	switch {
	case j.base.Kind == Plasterboard:
		s.refuse("Plasterboard alone", "Plasterboard does not hold a hung loudspeaker, whatever is used to fix it. Screw into framing, masonry or concrete behind it.",
			0, 0, "", "carpentry handbooks; trade articles rule it out above about 2.3 kg", figure.Published)
		s.unable()
	case j.fixing.Kind == Rated:
		err = s.judgeRated(j)
	case j.base.Kind != Framing:
		s.refuse("Wrong fixing for the base", "A "+j.fixing.Kind.String()+" is judged in framing only, and the base is "+j.base.Kind.String()+".",
			0, 0, "", "NDS 2018 ch. 12", figure.Secondary)
		s.unable()
	case j.base.Rules == Eurocode5:
		err = s.judgeEurocode(j)
	default:
		err = s.judgeNDS(j)
	}
	if err != nil {
		return err
	}
	if j.base.Kind == Framing && j.fixing.Kind != Rated {
		s.inFraming(j)
	}
	if edge := pressing[j.load.On]; edge != "" && j.base.Lining > 0 && statics.Contact.Force > 0 {
		s.caution("The lining under the " + edge + " edge takes the pressure of the plate: do not crush it by over-tightening (common practice, no source).")
	}
	for i, c := range s.Capacities {
		if c.Utilisation > s.Capacities[s.Worst].Utilisation {
			s.Worst = i
		}
	}
	worst := s.Capacities[s.Worst]
	s.Utilisation = worst.Utilisation
	s.Governing = worst.Governs.String()
	if worst.Governs == SideLoad && j.fixing.Kind != Rated {
		s.Governing += ", mode " + worst.Mode.String()
	}
	switch {
	case len(s.Refused) > 0 || math.Round(s.Utilisation*1e6) > 1e6:
		s.Outcome = DoesNotPass
	case len(s.Open) > 0:
		s.Outcome = Undecided
	default:
		s.Outcome = Passes
	}
	return nil
}

// pressing names the edge of the plate that is pressed on.
var pressing = map[Surface]string{Wall: "lower", Slope: "downhill"}

// inFraming adds what every fixing in framing has: its hole, its least length.
func (s *Screening) inFraming(j *job) {
	s.Penetration = j.pen
	plate, lining := j.load.Plate.Thickness, j.base.Lining
	s.LeastLength = LeastLength(j.fixing.Kind, j.dim, plate, lining, 0)
	gravity := s.work.gravity
	s.Pilot = Pilot(j.fixing.Kind, j.dim, gravity, true, j.load.shears(), j.fixing.Length, j.thread, plate, lining)
	if drilled := j.fixing.Pilot; drilled > 0 {
		// A tenth of a millimetre is as near as drill bits come.
		switch {
		case drilled > s.Pilot.Greatest+0.1*mm:
			s.refuse("Pilot hole", "The pilot hole is too wide for the thread to hold.", s.Pilot.Greatest, drilled, "m", s.Pilot.Source, s.Pilot.Mark)
		case drilled < s.Pilot.Least-0.1*mm:
			s.caution("The pilot hole is narrower than the rules ask for: the wood may split or the screw shear off.")
		}
	}
	if j.pen.Through {
		s.caution("The point comes out at the back of the member: look for what is behind it.")
	}
}

// judgeNDS fills a screening by NDS 2018.
func (s *Screening) judgeNDS(j *job) error {
	kind, d := j.fixing.Kind, j.dim
	if kind == MetricScrew {
		return bad(ErrRules, "fixing.kind", kind.String(), "a screw or nail of NDS 2018, or base.rules Eurocode5")
	}
	shears, ultimate := j.load.shears(), j.load.Basis == UltimateValues
	w := &s.work
	wood, known := FindSpecies(j.base.Species)
	w.species, w.gravity = wood.Name, wood.Gravity
	if !known {
		s.caution("The species is not known: the lowest specific gravity that cannot be ruled out, 0.35, is taken.")
	}
	if err := w.adjust(j, ultimate); err != nil {
		return err
	}
	if j.base.EndGrain && kind != LagScrew {
		s.refuse("End grain", "A "+kind.String()+" may not be pulled out of end grain.", 0, 0, "", "NDS 2018 §12.2.2.3, §12.2.3.3", figure.Secondary)
	}
	nail := kind == PlainNail || kind == RingNail
	if nail && j.load.hangs() {
		s.refuse("Nails overhead", "Nails do not hold a loudspeaker overhead: use screws.", 0, 0, "", "", figure.CommonPractice)
	}
	s.penetration(j, LeastPenetration(kind, d.Diameter), "NDS 2018 §12.1.4.6, §12.1.5.6, §12.1.6.4")
	w.geometry = s.arrange(j, d, j.pen.Bearing)

	var err error
	if ultimate {
		w.perLength, err = UltimateWithdrawal(kind, w.gravity, d.Diameter)
	} else {
		w.perLength, err = Withdrawal(kind, w.gravity, d.Diameter)
	}
	if err != nil {
		return err
	}
	w.pull = w.perLength * j.pen.Thread * w.duration * w.wetPull * w.heat * w.endPull
	rule := interactScrews
	if nail {
		rule = interactLinear
	}
	if w.bending, err = BendingYield(d.Diameter); err != nil {
		return err
	}
	factor := j.load.Basis.factor()
	last := math.Inf(1)
	var lateral float64
	var mode Mode
	for i, f := range s.Forces {
		cap := &s.Capacities[i]
		cap.Pull = w.pull
		if shears {
			if angle := grainAngle(f, j.base.Grain); angle != last {
				last = angle
				if lateral, mode, err = w.lateral(j, angle, ultimate); err != nil {
					return err
				}
			}
			cap.Shear, cap.Mode = lateral, mode
		}
		cap.combine(factor*f.Tension, factor*f.Shear, rule)
	}
	return nil
}

// adjust gathers the adjustment factors of NDS 2018 Table 11.3.1. On ultimate
// values the load duration does not act.
func (w *work) adjust(j *job, ultimate bool) error {
	var err error
	w.duration = 1
	if !ultimate {
		if w.duration, err = LoadDuration(Permanent); err != nil {
			return err
		}
	}
	if w.wetPull, w.wetShear, err = WetService(j.fixing.Kind, j.dim.Diameter, j.base.Moisture); err != nil {
		return err
	}
	if w.heat, err = TemperatureFactor(j.base.Temperature, j.base.Moisture); err != nil {
		return err
	}
	w.endPull, w.endShear = 1, 1
	if j.base.EndGrain {
		// The refusal is a finding of the screening; the factors are used either way.
		w.endPull, w.endShear, _ = EndGrain(j.fixing.Kind)
	}
	return nil
}

// lateral is Z', or the yield load on ultimate values, for load at an angle to the
// grain.
func (w *work) lateral(j *job, angle float64, ultimate bool) (float64, Mode, error) {
	d := j.dim
	if j.base.EndGrain {
		angle = math.Pi / 2
	}
	embed, err := WoodBearing(w.gravity, d.Diameter, angle)
	if err != nil {
		return 0, 0, err
	}
	w.embed, w.plate = embed, SteelBearing(j.load.Plate.Thickness)
	if j.pen.Bearing <= 0 {
		return 0, ModeIm, nil
	}
	dowel := Shear{
		Diameter: d.Root, MainBearing: embed, SideBearing: w.plate, Bending: w.bending,
		MainLength: j.pen.Bearing, SideLength: j.load.Plate.Thickness, Gap: j.base.Lining,
	}
	if dowel.Gap > 0 {
		w.modes = dowel.withGap()
	} else {
		w.modes = dowel.yield()
	}
	w.reduction = Modes{1, 1, 1, 1, 1, 1}
	if !ultimate {
		w.reduction = Reduction(d.Diameter, d.Root, angle)
	}
	mode, z := w.modes.Over(w.reduction).Least()
	return z * w.duration * w.wetShear * w.heat * w.endShear * w.geometry, mode, nil
}

// grainAngle is the angle between a fixing's shear and the grain, 0 to π/2.
func grainAngle(f Force, grain Grain) float64 {
	if grain == GrainAcross {
		return math.Atan2(math.Abs(f.Down), math.Abs(f.Right))
	}
	return math.Atan2(math.Abs(f.Right), math.Abs(f.Down))
}

// An interaction combines the two parts of a utilisation.
type interaction int

const (
	// interactScrews is NDS 2018 Eq. 12.4-1 as a ratio: R/Z'α = (T/W'p)·sinα + (V/Z')·cosα.
	interactScrews interaction = iota
	// interactLinear is Eq. 12.4-2 as a ratio: T/W'p + V/Z'.
	interactLinear
	// interactSquares is EN 1995-1-1 Eq. 8.28 as a ratio: sqrt((T/R_ax)² + (V/R_v)²).
	interactSquares
)

// combine judges a demand of pull and shear, N.
func (c *Capacity) combine(pull, shear float64, rule interaction) {
	p, canPull := ratio(pull, c.Pull)
	v, canShear := ratio(shear, c.Shear)
	resultant := math.Hypot(pull, shear)
	if rule == interactScrews && resultant > 0 {
		p, v = p*(pull/resultant), v*(shear/resultant)
	}
	u := p + v
	if rule == interactSquares {
		u = math.Hypot(p, v)
	}
	switch {
	case !canPull || !canShear || u >= MaxUtilisation:
		u = MaxUtilisation
	case u > 0:
		c.Combined = resultant / u
	}
	c.Utilisation = u
	if canPull && (!canShear || v > p) {
		c.Governs = SideLoad
	}
}

// ratio is load over capacity; no load needs no capacity. A capacity under a
// nanonewton is none, ok false.
func ratio(load, capacity float64) (u float64, ok bool) {
	if load <= 0 {
		return 0, true
	}
	if capacity < 1e-9 {
		return 0, false
	}
	return load / capacity, true
}

// unable marks every fixing as without capacity.
func (s *Screening) unable() {
	for i := range s.Capacities {
		s.Capacities[i].Utilisation = MaxUtilisation
	}
}

func (s *Screening) penetration(j *job, least float64, source string) {
	if micro(j.pen.Counted) < micro(least) {
		s.refuse("Penetration", "The fixing does not go deep enough into the member.", least, j.pen.Counted, "m", source, figure.Secondary)
	}
}

func (s *Screening) refuse(name, says string, wanted, found float64, unit, source string, mark figure.Mark) {
	s.Refused = append(s.Refused, Finding{Name: name, Says: says, Wanted: wanted, Found: found, Unit: unit, Source: source, Mark: mark})
}

func (s *Screening) caution(text string) { s.Cautions = append(s.Cautions, text) }

package judge

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"hangtrue/checklist/plan"
	"hangtrue/compute/fixing"
	"hangtrue/compute/gauge"
	"hangtrue/compute/place"
	"hangtrue/compute/tape"
)

// fixingKinds are the plan's kinds of fixing as package fixing has them.
var fixingKinds = map[string]fixing.Kind{
	plan.WoodScrew: fixing.WoodScrew, plan.LagScrew: fixing.LagScrew, plan.PlainNail: fixing.PlainNail,
	plan.RingNail: fixing.RingNail, plan.MetricScrew: fixing.MetricScrew, plan.Rated: fixing.Rated,
}

var baseKinds = map[string]fixing.BaseKind{"stud": fixing.Framing, "masonry": fixing.Masonry, "concrete": fixing.Concrete, "board": fixing.Plasterboard}

// diameter is the nominal diameter of a fixing, in metres.
func diameter(f *plan.Fixing) (float64, error) {
	d, err := fixing.Lookup(fixingKinds[f.Kind], f.Size)
	return d.Diameter, err
}

// centring is how far a screw may be off the middle of a member of a width (metres),
// and the rule it comes from: Eurocode 5's least edge distance for a metric screw,
// else that of [fixing.CentringMargin]. It is negative where the member is too narrow.
func centring(f *plan.Fixing, width float64) (margin float64, source string, err error) {
	d, err := diameter(f)
	if err != nil {
		return 0, "", err
	}
	if f.Kind == plan.MetricScrew {
		return width/2 - fixing.LeastEdge(d, true, true, f.Pilot > 0), "half the stud less the least edge distance (EN 1995-1-1:2004 Tables 8.2 and 8.6)", nil
	}
	margin, _ = fixing.CentringMargin(width, d)
	return margin, "half the stud less 2.5 diameters (commentary's advice, from memory) or 1.5 from 1/4 in (NDS 2018 Table 12.5.1C)", nil
}

// through turns a plan's fixing into package fixing's. A maker's figure is a
// working load unless the plan gives a factor on a tested failure load.
func through(f *plan.Fixing) fixing.Fixing {
	out := fixing.Fixing{Kind: fixingKinds[f.Kind], Size: f.Size, Length: f.Length, Pilot: f.Pilot, Declared: fixing.Declared{
		Withdrawal: f.DeclaredWithdrawal * 1e6, Density: f.DeclaredDensity, Core: f.DeclaredCore, YieldMoment: f.DeclaredYield / 1000,
	}}
	if f.Kind == plan.Rated {
		out.Rating = fixing.Rating{Pull: f.RatedLoad, Shear: f.RatedLoad, Basis: fixing.WorkingLoad, For: fixing.HollowWall}
		if base, ok := map[string]fixing.BaseKind{plan.Masonry: fixing.Masonry, plan.Concrete: fixing.Concrete}[f.Base]; ok {
			out.Rating.For = base
		}
		if f.Factor > 0 {
			out.Rating.Basis, out.Rating.Factor = fixing.FailureLoad, f.Factor
		}
	}
	return out
}

// screen judges what holds this mount: the fixing that was chosen, in what was
// found behind, with the loudspeaker as the plan aims it.
func (c Case) screen() (fixing.Screening, bool, error) {
	f := c.Plan.Fixing(c.Chosen["fixing"])
	model, bracket := c.Plan.Model(c.Mount.Model), c.Plan.Bracket(c.Mount.Bracket)
	base, known := baseKinds[c.Chosen["behind"]]
	if f == nil || model == nil || bracket == nil || !known {
		return fixing.Screening{}, false, nil
	}
	pose, err := c.pose(c.Mount.Channel)
	if err != nil {
		return fixing.Screening{}, false, err
	}
	mount, err := c.placed(c.Mount.Channel)
	if err != nil {
		return fixing.Screening{}, false, err
	}
	mass := pose.Pivot.Add(pose.Axis.Scale(model.CentreOut))
	at, out := mount.Surface.Locate(mass)
	load := fixing.Load{Mass: model.Mass + bracket.Mass, Side: at.Along - mount.Hole.Along}
	load.Plate = fixing.Plate{Edge: -bracket.LowerEdge, Side: bracket.SideEdge, Thickness: bracket.Plate}
	for _, h := range mount.Bracket.Pattern() {
		load.Plate.Holes = append(load.Plate.Holes, fixing.Hole{X: h.Along, Y: h.Up})
	}
	under := fixing.Base{Kind: base}
	if f.Kind == plan.MetricScrew {
		under.Rules = fixing.Eurocode5
	}
	if s := c.surface(); s != nil {
		under.Lining = s.Lining
		if base == fixing.Framing {
			under.Species, under.Width, under.Depth = s.Construction.Species, s.Construction.Width, s.Construction.Depth
			under.OffCentre = c.offCentre(s)
			if s.Construction.Across {
				under.Grain = fixing.GrainAcross
			}
		}
	}
	load.On, load.Reach = fixing.Slope, at.Up-mount.Hole.Up
	load.Out, load.Down = math.Max(out, 0), down(mount.Surface)
	switch {
	case load.Down.Out < leastLean:
		load.On, load.Reach = fixing.Wall, math.Max(out, 0)
	case load.Down.Out > 1-1e-9:
		load.On = fixing.Ceiling
	}
	s, err := fixing.Screen(load, through(f), under)
	if err != nil {
		return fixing.Screening{}, true, err
	}
	return s, true, nil
}

// leastLean is how much of the weight pulls off a surface that is no wall any more: about 3° from plumb.
const leastLean = 0.05

// down is which way weight pulls at a surface, in the coordinates of a plate on it: x along, y up.
func down(s *place.Surface) fixing.Direction {
	return fixing.Direction{X: -s.Along.Z, Y: -s.Up.Z, Out: -s.Normal().Z}
}

// offCentre is how far the worst hole is from the middle of its stud: of the one
// found, or of the regular one nearest to the plan's spot.
func (c Case) offCentre(s *plan.Surface) float64 {
	at, ok := c.marked()
	if !ok {
		at = c.atPlan()
	}
	centre, found := c.read("centre_um", "tape")
	worst := 0.0
	for _, h := range c.holes(at) {
		x := h.Along
		if s.Construction.Across {
			x = h.Up
		}
		middle := centre.Value
		if !found {
			middle = c.nearestMember(x)
		}
		worst = math.Max(worst, math.Abs(x-middle))
	}
	return worst
}

// nearestMember is the plan's stud or joist nearest to a coordinate; the
// coordinate itself when the plan has none near.
func (c Case) nearestMember(x float64) float64 {
	m, err := c.placed(c.Mount.Channel)
	if err != nil {
		return x
	}
	best, least := x, inf
	for _, member := range m.Surface.Framing.Members(x-1, x+1) {
		if d := math.Abs(member - x); d < least {
			best, least = member, d
		}
	}
	return best
}

// studsLoad is the load screening. It is an aid and never an approval.
func studsLoad(c Case) []Check {
	s, ok, err := c.screen()
	switch {
	case errors.Is(err, fixing.ErrNoLever) && c.Plan.Bracket(c.Mount.Bracket) != nil:
		return []Check{barred(condition("studs.load", "Load on the fixings", false, fmt.Sprintf(
			"By the plan no part of %s presses against the surface on the far side of the load, so that nothing holds it against tilting. Give its lower and side edges, turn it, or take one whose holes lie farther apart.",
			c.Mount.Bracket)))}
	case err != nil:
		return []Check{barred(condition("studs.load", "Load on the fixings", false, "It cannot be worked out: "+plain(err)+"."))}
	case !ok:
		return nil
	}
	check := Check{
		Name: "studs.load", Title: "Load on the worst fixing", Unit: Ratio, Measured: s.Utilisation, Target: 1, Low: -inf, High: 1,
		Verdict: gauge.Within, Figures: s.Trace(), Source: strings.TrimSuffix(fixing.Statement, "."),
	}
	switch s.Outcome {
	case fixing.DoesNotPass:
		check.Verdict, check.Barred = gauge.Outside, true
	case fixing.Undecided:
		check.Verdict = gauge.Unsure
	}
	var says []string
	for _, f := range s.Refused {
		says = append(says, f.Says)
	}
	for _, f := range s.Open {
		says = append(says, f.Says)
	}
	if check.Verdict == gauge.Outside && len(says) == 0 {
		says = append(says, "Overloaded: "+governs(s)+".")
	}
	if check.Verdict == gauge.Within {
		says = append(says, capital(governs(s))+". A screening aid, no approval.")
		says = append(says, s.Cautions...)
	}
	for _, h := range s.Helps() {
		says = append(says, h.In(c.sold))
	}
	check.Says = strings.Join(says, " ")
	return append([]Check{check}, c.bracketCarries()...)
}

// sold is a length rounded up to what a person can ask for: a tenth of a millimetre, as
// package fixing has it, or a sixteenth of an inch.
func (c Case) sold(x float64) string {
	if c.system() == tape.Imperial {
		const sixteenth = 0.0254 / 16
		return tape.FormatSmall(math.Ceil(x/sixteenth-1e-6)*sixteenth, tape.Imperial)
	}
	return strconv.FormatFloat(math.Ceil(x*1e4-1e-6)/10, 'f', -1, 64) + " mm"
}

// governs says what the worst fixing is nearest to failing by.
func governs(s fixing.Screening) string {
	if mode, ok := strings.CutPrefix(s.Governing, "side load, "); ok {
		return "the load to the side counts most (yield " + mode + ")"
	}
	if s.Governing == fixing.SideLoad.String() {
		return "the load to the side counts most"
	}
	return "the pull outward counts most"
}

// bracketCarries holds the loudspeaker's mass against what the bracket is made for.
func (c Case) bracketCarries() []Check {
	model, bracket := c.Plan.Model(c.Mount.Model), c.Plan.Bracket(c.Mount.Bracket)
	if model == nil || bracket == nil || bracket.RatedLoad <= 0 {
		return nil
	}
	check := condition("studs.load bracket", "Load on the bracket", math.Round(model.Mass*1e6) <= math.Round(bracket.RatedLoad*1e6),
		fmt.Sprintf("The loudspeaker weighs %.1f kg, and the bracket is made for %.1f kg. Take a stronger one.", model.Mass, bracket.RatedLoad))
	check.Source = "the bracket's rated load, as the plan states it"
	return []Check{barred(check)}
}

// planned or found: what the drill step needs of the studs step.
func (c Case) chosenFixing() (Case, *plan.Fixing, bool) {
	e, ok := c.Prior("studs", c.Mount.Channel)
	if !ok {
		return c, nil, false
	}
	d := c
	d.Chosen, d.Measured = e.Chosen, e.Measured
	f := c.Plan.Fixing(e.Chosen["fixing"])
	return d, f, f != nil
}

// drillPilot holds the drill bit against what the fixing asks for: the rules for
// wood, or the hole the plan states for a rated fixing.
func drillPilot(c Case) []Check {
	bit := c.Measured["pilot_um"]
	d, f, ok := c.chosenFixing()
	if len(bit) == 0 || !ok {
		return nil
	}
	diameter := metres(bit[0])
	if f.Kind == plan.Rated {
		if f.Pilot <= 0 {
			return nil
		}
		return c.bit(diameter, gauge.Around(f.Pilot, bitStep), "the maker's hole, as the plan states it")
	}
	s, ok, err := d.screen()
	if err != nil || !ok {
		return nil
	}
	hole := s.Pilot
	return c.bit(diameter, gauge.Limits{Target: hole.Advised, Lower: hole.Least - bitStep, Upper: hole.Greatest + bitStep},
		hole.Source+" ("+hole.Mark.String()+"), to the nearest bit")
}

func (c Case) bit(diameter float64, limits gauge.Limits, source string) []Check {
	check := c.evaluate("drill.pilot", "Drill bit", Metre, exact(diameter), limits, source)
	if check.Verdict != gauge.Within {
		check.Correction = fmt.Sprintf("take a bit of %.1f mm", limits.Target*1000)
		if diameter > limits.Upper {
			check.Says = "The hole is too wide for the thread to hold: take another fixing or another spot if it is drilled already."
		}
	}
	return []Check{check}
}

// bitStep is half the step between drill bits, in metres: a bit this near to the
// rule is the nearest there is. This program's own choice.
const bitStep = 0.00025

// drillDepth: deep enough that the fixing does not bottom out before it holds, and
// not through what it goes into.
func drillDepth(c Case) []Check {
	depth := c.Measured["depth_um"]
	d, f, ok := c.chosenFixing()
	s := c.surface()
	if len(depth) == 0 || !ok || s == nil {
		return nil
	}
	limits := gauge.AtLeast(f.Length - c.plate())
	source := "the fixing's length behind the plate"
	if f.Kind != plan.Rated {
		screening, ok, err := d.screen()
		if err != nil || !ok {
			return nil
		}
		least, _ := fixing.Lookup(fixingKinds[f.Kind], f.Size)
		limits = gauge.AtLeast(s.Lining + fixing.LeastPenetration(fixingKinds[f.Kind], least.Diameter))
		if s.Construction.Depth > 0 {
			limits = gauge.Limits{Target: screening.Pilot.Depth, Lower: limits.Lower, Upper: s.Lining + s.Construction.Depth}
		}
		source = "lining and least penetration (NDS 2018 §12.1; EN 1995-1-1:2004 §8.7.2 for a metric screw), and not out at the back of the stud"
	}
	check := c.evaluate("drill.depth", "Depth drilled", Metre, exact(metres(depth[0])), limits, source)
	switch {
	case check.Verdict == gauge.Within:
	case check.Measured < check.Low:
		check.Correction = "drill " + tape.FormatSmall(check.Low-check.Measured, c.system()) + " deeper"
	default:
		check.Says = fmt.Sprintf("That is through the stud, which ends %s behind the face of the wall. Find out what is behind it before going on.", tape.FormatSmall(limits.Upper, c.system()))
	}
	return []Check{check}
}

func (c Case) plate() float64 {
	if b := c.Plan.Bracket(c.Mount.Bracket); b != nil {
		return b.Plate
	}
	return 0
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

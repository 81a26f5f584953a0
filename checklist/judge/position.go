package judge

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"hangtrue/compute/gauge"
	"hangtrue/compute/layout"
	"hangtrue/compute/place"
	"hangtrue/compute/tape"
)

// upTitle is what the second tape coordinate of the mount's surface is called.
func (c Case) upTitle() string { return capital(c.Plan.UpWord(c.Mount.Surface)) }

// spot is a measured reference hole.
type spot struct{ along, up gauge.Measured }

func (s spot) place() place.Spot { return place.Spot{Along: s.along.Value, Up: s.up.Value} }

// hole reads the reference hole that a step recorded.
func (c Case) hole() (spot, bool) {
	along, ok := c.read("along_um", "tape")
	up, also := c.read("up_um", "tape")
	return spot{along, up}, ok && also
}

func (c Case) unreadHole(name string) []Check {
	return append(c.unread(name+" along", "Along", "along_um", "tape"), c.unread(name+" up", c.upTitle(), "up_um", "tape")...)
}

// markSpot holds the marked hole against the plan, each coordinate by itself.
func markSpot(c Case) []Check {
	s, ok := c.hole()
	if !ok {
		return c.unreadHole("mark.spot")
	}
	tolerance := c.Plan.Tolerances.Mark
	along := c.evaluate("mark.spot along", "Along", Metre, s.along, gauge.Around(c.Mount.Along, tolerance), ownTolerance)
	up := c.evaluate("mark.spot up", c.upTitle(), Metre, s.up, gauge.Around(c.Mount.Up, tolerance), ownTolerance)
	along.Correction = c.moves(c.Mount.Along-s.along.Value, 0)
	up.Correction = c.moves(0, c.Mount.Up-s.up.Value)
	return []Check{along, up}
}

// markZone holds the direction that follows from the marked hole against what the
// layout permits.
func markZone(c Case) []Check {
	s, ok := c.hole()
	if !ok {
		return nil
	}
	return c.directions("mark.zone", s)
}

// hangAngles holds the direction of the hung loudspeaker's acoustic centre against
// the plan and the layout.
func hangAngles(c Case) []Check {
	s, ok := c.hole()
	if !ok {
		return c.unreadHole("hang.angles")
	}
	checks := c.directions("hang.angles", s)
	if at, err := c.see(c.Mount.Channel, s); err == nil && c.contradicted(at) {
		return inDoubt(checks)
	}
	return checks
}

// seen is how the primary listening position sees the acoustic centre of a mount
// whose reference hole is at a measured spot, with the uncertainties that follow.
type seen struct {
	place.Sight
	hole                                 spot
	pose                                 place.Pose
	azimuth, elevation, distance, height gauge.Measured
	rates                                place.Sensitivity
}

// look carries a measured hole through the bracket to what the listener sees. The
// contributions are those of both tape readings and of the ear point.
func (c Case) look(channel string, s spot) (seen, error) {
	m, err := c.placed(channel)
	if err != nil {
		return seen{}, err
	}
	m.Hole = s.place()
	mount := c.Plan.MountByChannel(channel)
	aimed, err := c.Plan.Listener(mount.AimAt)
	if err != nil {
		return seen{}, err
	}
	listener, err := c.Plan.Listener("")
	if err != nil {
		return seen{}, err
	}
	pose, err := place.Aim(m, aimed.Ear)
	if err != nil {
		return seen{}, err
	}
	sight := listener.See(pose.Centre)
	rates, err := place.SightSensitivity(m, aimed.Ear, listener)
	if errors.Is(err, place.ErrVertical) {
		rates, err = straightAbove(m, pose, listener, sight), nil
	}
	if err != nil {
		return seen{}, err
	}
	ear := c.Plan.Primary().EarU
	components := []gauge.Component{
		s.along.Uncertainty.As("the tape along", byTape), s.up.Uncertainty.As("the tape up", byTape),
		{Name: "the ear point", Standard: ear, Basis: "the plan"},
	}
	carry := func(value, along, up float64, byEar place.Vec) gauge.Measured {
		// The ear point's three coordinates are equally uncertain and independent, so
		// that their joint effect is the length of the gradient.
		u, uErr := gauge.Propagate([]float64{along, up, byEar.Norm()}, components)
		if uErr != nil {
			err = uErr
		}
		return gauge.Measured{Value: value, Uncertainty: u}
	}
	out := seen{
		Sight: sight, hole: s, pose: pose, rates: rates,
		azimuth:   carry(sight.Azimuth, rates.Along.Azimuth, rates.Up.Azimuth, rates.Ear.Azimuth),
		elevation: carry(sight.Elevation, rates.Along.Elevation, rates.Up.Elevation, rates.Ear.Elevation),
		distance:  carry(sight.Distance, rates.Along.Distance, rates.Up.Distance, rates.Ear.Distance),
		height:    carry(sight.Height, rates.Along.Height, rates.Up.Height, place.Vec{}),
	}
	return out, err
}

// straightAbove is what can be told of the rates of change straight above or below
// the ear point, where azimuth and elevation have none: along the line of sight
// one metre is one metre. The directions are then judged by [Case.steep].
func straightAbove(m place.Mount, pose place.Pose, l place.Listener, sight place.Sight) place.Sensitivity {
	line := pose.Centre.Sub(l.Ear).Scale(1 / sight.Distance)
	rates := place.Sensitivity{
		Along: place.Rates{Distance: line.Dot(m.Surface.Along), Height: m.Surface.Along.Z},
		Up:    place.Rates{Distance: line.Dot(m.Surface.Up), Height: m.Surface.Up.Z},
	}
	rates.Ear.Distance = line.Scale(-1)
	return rates
}

// steepFrom is the elevation, up or down, from which on an azimuth says little:
// at 80° a degree of it turns the direction by a sixth of a degree. This program's
// own choice.
const steepFrom = 80 * math.Pi / 180

// steep judges a direction nearly straight above or below by its angle from the
// planned one, because a small move there turns the azimuth right round. Each
// metre of the hole or of the ear point counts as a metre across the line of sight.
func (c Case) steep(name string, at seen, planned place.Sight) []Check {
	across := 1 / at.Distance
	u, err := gauge.Propagate([]float64{across, across, across}, []gauge.Component{
		at.hole.along.Uncertainty.As("the tape along", byTape), at.hole.up.Uncertainty.As("the tape up", byTape),
		{Name: "the ear point", Standard: c.Plan.Primary().EarU, Basis: "the plan"}})
	if err != nil {
		return nil
	}
	off := gauge.Measured{Value: place.Between(at.Direction, planned.Direction), Uncertainty: u}
	return []Check{c.evaluate(name+" direction", "Off the planned direction", Radian, off, gauge.AtMost(c.Plan.Tolerances.Elevation), ownTolerance)}
}

// directions judges azimuth and elevation at the acoustic centre: within the
// plan's tolerance of the planned direction, and within what the layout permits
// where that is a range and not a single direction.
func (c Case) directions(name string, s spot) []Check {
	planned, err := c.sight(c.Mount.Channel)
	if err != nil {
		return nil
	}
	at, err := c.see(c.Mount.Channel, s)
	if err != nil {
		return []Check{condition(name, "Direction", false, "From this spot the loudspeaker cannot be aimed at the ear point.")}
	}
	t := c.Plan.Tolerances
	var checks []Check
	if math.Abs(planned.Elevation) >= steepFrom {
		checks = c.steep(name, at, planned)
	} else {
		// Azimuths are compared as differences, so that ±180 is one direction.
		at.azimuth.Value = planned.Azimuth + place.Wrap(at.Azimuth-planned.Azimuth)
		checks = append([]Check{
			c.evaluate(name+" azimuth", "Azimuth", Radian, at.azimuth, gauge.Around(planned.Azimuth, t.Azimuth), ownTolerance),
			c.evaluate(name+" elevation", "Elevation", Radian, at.elevation, gauge.Around(planned.Elevation, t.Elevation), ownTolerance),
		}, c.permitted(name, at)...)
	}
	// Only from the planned hole is the loudspeaker seen in the planned direction.
	back := c.moves(c.Mount.Along-s.along.Value, c.Mount.Up-s.up.Value)
	for i := range checks {
		switch check := &checks[i]; {
		case check.Verdict == gauge.Within:
		case c.planMisses(check, planned):
			check.Says = "The plan itself has it outside of that, so that going back to the plan's hole does not help."
		default:
			check.Correction = back
		}
	}
	return checks
}

// planMisses tells whether the planned direction is itself outside of what the layout permits.
func (c Case) planMisses(check *Check, planned place.Sight) bool {
	var off float64
	switch {
	case strings.HasSuffix(check.Name, " permitted azimuth"):
		off = place.Wrap(planned.Azimuth - check.Target)
	case strings.HasSuffix(check.Name, " permitted elevation"):
		off = planned.Elevation - check.Target
	default:
		return false
	}
	return gauge.Limits{Lower: check.Low, Upper: check.High}.Judge(check.Target+off, 0, gauge.Micrometre) == gauge.Outside
}

// permitted holds the direction against the layout's range. A range without width
// is a target, around which only the plan's tolerance counts.
func (c Case) permitted(name string, at seen) []Check {
	l := c.Plan.Loudspeakers()
	if l == nil {
		return nil
	}
	position, ok := l.Loudspeaker(c.Mount.Channel)
	if !ok || position.Anywhere() {
		return nil
	}
	var checks []Check
	if band := nearestBand(position.Bands, at.Azimuth); !band.AnyAzimuth() && !band.Target() {
		middle, half := arc(band)
		measured := at.azimuth
		measured.Value = middle + place.Wrap(at.Azimuth-middle)
		checks = append(checks, c.evaluate(name+" permitted azimuth", "Azimuth the layout permits", Radian, measured,
			gauge.Interval(middle-half, middle+half), position.Edition))
	}
	if band := position.ElevationRange(); !band.Target() {
		checks = append(checks, c.evaluate(name+" permitted elevation", "Elevation the layout permits", Radian, at.elevation,
			gauge.Interval(band.From, band.To), position.Edition))
	}
	return checks
}

// arc is the middle of a range of azimuths and half its width.
func arc(r layout.Range) (middle, half float64) {
	half = math.Mod(r.To-r.From+2*math.Pi, 2*math.Pi) / 2
	return r.From + half, half
}

// nearestBand is the band that holds the azimuth, or the one nearest to it.
func nearestBand(bands []layout.Range, azimuth float64) layout.Range {
	best, least := bands[0], inf
	for _, b := range bands {
		middle, half := arc(b)
		if off := math.Abs(place.Wrap(azimuth-middle)) - half; off < least {
			best, least = b, off
		}
	}
	return best
}

// markClear keeps the hole away from openings, keep-outs and edges.
func markClear(c Case) []Check {
	s, ok := c.hole()
	if !ok || c.Mount.Bracket == "" { // what stands needs no hole
		return nil
	}
	return c.clear("mark.clear", []place.Spot{s.place()}, c.Plan.Tolerances.EdgeClearance, s)
}

// clear judges what leaves a set of holes the least room.
func (c Case) clear(name string, holes []place.Spot, margin float64, s spot) []Check {
	m, err := c.placed(c.Mount.Channel)
	if err != nil {
		return nil
	}
	worst := place.Clearance{Spare: inf}
	for _, h := range holes {
		if near := m.Surface.ClearOf(h, margin); near.Spare < worst.Spare {
			worst = near
		}
	}
	u := gauge.Combine(s.along.Uncertainty.Standard, s.up.Uncertainty.Standard)
	measured := gauge.Measured{Value: worst.Distance, Uncertainty: gauge.Uncertainty{
		Standard: u, Contributions: []gauge.Contribution{{Component: gauge.Component{Name: "the tape", Standard: u}, Effect: u, Share: 1}}}}
	check := c.evaluate(name, "Clear of "+obstacle(worst), Metre, measured, gauge.AtLeast(worst.Distance-worst.Spare), "the plan's clearance")
	if check.Verdict != gauge.Within {
		check.Says = fmt.Sprintf("That is too near to %s, or too near to tell. Move the mount.", obstacle(worst))
	}
	return []Check{barred(check)}
}

func obstacle(c place.Clearance) string {
	if c.Obstacle == place.Edge {
		return "the edge"
	}
	return c.Name
}

// witness is another measurement that the tape can be held against.
type witness struct {
	name, title     string
	says            string // with what follows from the tape, and what was measured
	key, instrument string
	from            func(seen) gauge.Measured
}

var witnesses = []witness{
	{"hang.slip distance", "Tape against laser", "by the tape it would be %s from the ear point, by the laser it is %s.", "distance_um", "laser", func(x seen) gauge.Measured { return x.distance }},
	{"hang.slip height", "Tape against height", "by the hole the middle of the face would be %s above the floor, as measured it is %s.", "height_um", "tape", func(x seen) gauge.Measured { return x.height }},
}

// compare holds what follows from the tape against a witness. ok is false when
// there is nothing to compare: a standing loudspeaker's height does not follow
// from its spot on the floor.
func (c Case) compare(w witness, at seen) (tape, other gauge.Measured, agreement gauge.Agreement, ok bool) {
	other, ok = c.read(w.key, w.instrument)
	if !ok || (w.key == "height_um" && c.Mount.Bracket == "") {
		return gauge.Measured{}, gauge.Measured{}, gauge.Agreement{}, false
	}
	tape = w.from(at)
	if w.key == "height_um" {
		if tape, ok = c.builtHeight(tape, at); !ok {
			return gauge.Measured{}, gauge.Measured{}, gauge.Agreement{}, false
		}
	}
	agreement = gauge.Agree(other.Value, other.Uncertainty.Standard, tape.Value, tape.Uncertainty.Standard, gauge.Micrometre)
	return tape, other, agreement, true
}

// builtHeight adds to the height that follows from a hole what the cabinet and the room may do to it, neither of which is a
// slip of the tape: a tilt off by as much as the plan allows, and a ceiling or slope that is as even as they are built. With
// the elevation e of the axis the centre rises by reach·cos e - axisUp·sin e for a radian.
func (c Case) builtHeight(height gauge.Measured, at seen) (gauge.Measured, bool) {
	model := c.Plan.Model(c.Mount.Model)
	m, err := c.placed(c.Mount.Channel)
	if model == nil || err != nil {
		return height, false
	}
	sin, cos := math.Sincos(at.pose.Elevation)
	u, err := gauge.Propagate([]float64{1, float64(model.Reach*cos) - float64(model.AxisUp*sin), m.Surface.Normal().Z}, []gauge.Component{
		height.Uncertainty.As("the hole", byTape),
		{Name: "the cabinet's tilt", Standard: gauge.Rectangular(c.Plan.Tolerances.Tilt), Basis: "the plan's tolerance, taken as limits"},
		{Name: "how even the surface is", Standard: gauge.Rectangular(evenness), Basis: "DIN 18202 Table 3, row 6: 10 mm over 4 m, taken as limits"},
	})
	height.Uncertainty = u
	return height, err == nil
}

// evenness is how far a finished ceiling may be off its plane over 4 m, metres (DIN 18202 Table 3, row 6).
const evenness = 0.010

// contradicted tells whether a witness disagrees with the measured hole, so that
// nothing may be concluded from it before the slip is found.
func (c Case) contradicted(at seen) bool {
	for _, w := range witnesses {
		if _, _, agreement, ok := c.compare(w, at); ok && !agreement.Agrees {
			return true
		}
	}
	return false
}

// inDoubt takes the verdicts of checks back that rest on a contradicted reading.
func inDoubt(checks []Check) []Check {
	for i := range checks {
		checks[i].Verdict, checks[i].Correction = gauge.Unsure, ""
		checks[i].Says = "It rests on a reading that another one contradicts."
		checks[i].Settle = "find the slip first"
	}
	return checks
}

// hangSlip compares the two ways the place was measured: what follows from the
// tape, and what the laser and the height say. A disagreement that the joint
// uncertainty does not explain is a slip, and is named.
func hangSlip(c Case) []Check {
	s, ok := c.hole()
	if !ok {
		return nil
	}
	at, err := c.see(c.Mount.Channel, s)
	if err != nil {
		return nil
	}
	var checks []Check
	for _, w := range witnesses {
		follows, other, agreement, ok := c.compare(w, at)
		if !ok {
			continue
		}
		check := Check{
			Name: w.name, Title: w.title, Unit: Metre, Measured: other.Value, Target: follows.Value,
			Low: follows.Value - agreement.Limit, High: follows.Value + agreement.Limit,
			Verdict: gauge.Within, Source: "two independent measurements agree within their joint uncertainty, k = 2 (JCGM 100:2008)",
		}
		if !agreement.Agrees {
			check.Verdict = gauge.Outside
			check.Says = "They disagree: " + fmt.Sprintf(w.says, tape.Format(follows.Value, c.system()), tape.Format(other.Value, c.system())) +
				" One of them is a slip." + c.slips(s, other.Value, agreement.Limit, w.from)
		}
		checks = append(checks, check)
	}
	return checks
}

// slips names what could have been misread, the likeliest first.
func (c Case) slips(s spot, other, limit float64, of func(seen) gauge.Measured) string {
	m, err := c.placed(c.Mount.Channel)
	if err != nil {
		return ""
	}
	var span [2]float64
	for _, v := range m.Surface.Outline {
		span[0], span[1] = math.Max(span[0], v.Along), math.Max(span[1], v.Up)
	}
	type guess struct {
		title string
		slip  gauge.Slip
		read  float64
	}
	var best *guess
	for i, read := range []float64{s.along.Value, s.up.Value} {
		title := []string{"along", c.Plan.UpWord(c.Mount.Surface)}[i]
		found := gauge.Slips(gauge.Doubt{
			Reading: read, System: c.system(), Span: span[i], Other: other, Limit: limit, Quantum: gauge.Micrometre,
			Predict: func(x float64) float64 {
				moved := s
				if i == 0 {
					moved.along.Value = x
				} else {
					moved.up.Value = x
				}
				at, err := c.see(c.Mount.Channel, moved)
				if err != nil {
					return math.NaN()
				}
				return of(at).Value
			},
		})
		for _, slip := range found {
			g := guess{title, slip, read}
			if best == nil || better(g.slip, best.slip) {
				best = &g
			}
		}
	}
	if best == nil {
		return " Measure both again."
	}
	read, should := tape.Format(best.read, c.system()), tape.Format(best.slip.Value, c.system())
	words := slipWords[best.slip.Kind]
	if a, b, ok := swapped(read, should); ok && best.slip.Kind == gauge.SwappedDigits {
		words = fmt.Sprintf("the %c and the %c changed places", a, b)
	}
	return fmt.Sprintf(" If %s were %s instead of %s they would agree: %s.", best.title, should, read, words)
}

// swapped finds the two digits that changed places between two texts.
func swapped(read, should string) (a, b byte, ok bool) {
	if len(read) != len(should) {
		return 0, 0, false
	}
	var at []int
	for i := range len(read) {
		if read[i] != should[i] {
			at = append(at, i)
		}
	}
	if len(at) != 2 || read[at[0]] != should[at[1]] || read[at[1]] != should[at[0]] {
		return 0, 0, false
	}
	return read[at[0]], read[at[1]], true
}

// better prefers the commoner kind of slip, then the smaller disagreement left.
func better(a, b gauge.Slip) bool {
	if a.Kind != b.Kind {
		return a.Kind < b.Kind
	}
	return math.Abs(a.Residual) < math.Abs(b.Residual)
}

var slipWords = map[gauge.SlipKind]string{
	gauge.SwappedDigits: "two digits changed places",
	gauge.WrongStep:     "a round step was misread",
	gauge.WrongCorner:   "it was measured from the other corner",
	gauge.HookMissed:    "the hook was not over the edge",
}

// hangHeight holds the acoustic centre's height above the floor against the plan.
func hangHeight(c Case) []Check {
	m, ok := c.read("height_um", "tape")
	pose, err := c.pose(c.Mount.Channel)
	if !ok {
		return c.unread("hang.height", "Height", "height_um", "tape")
	}
	if err != nil {
		return nil
	}
	check := c.evaluate("hang.height", "Height", Metre, m, gauge.Around(pose.Centre.Z, c.Plan.Tolerances.Height), ownTolerance)
	check.Correction = c.vertical(pose.Centre.Z - m.Value)
	return []Check{check}
}

func (c Case) vertical(by float64) string {
	word := "raise"
	if by < 0 {
		word = "lower"
	}
	if math.Abs(by) < 0.0005 {
		return ""
	}
	return word + " it by " + tape.FormatSmall(math.Abs(by), c.system())
}

// hangDistance holds the straight distance from the ear point against the plan.
func hangDistance(c Case) []Check {
	m, ok := c.read("distance_um", "laser")
	planned, err := c.sight(c.Mount.Channel)
	if !ok {
		return c.unread("hang.distance", "Distance from the ear point", "distance_um", "laser")
	}
	if err != nil {
		return nil
	}
	ear := gauge.Component{Name: "the ear point", Standard: c.Plan.Primary().EarU, Basis: "the plan"}
	u, err := gauge.Propagate([]float64{1, 1}, []gauge.Component{m.Uncertainty.As("the laser", "laser"), ear})
	if err != nil {
		return nil
	}
	m.Uncertainty = u
	check := c.evaluate("hang.distance", "Distance from the ear point", Metre, m, gauge.Around(planned.Distance, c.Plan.Tolerances.Distance), ownTolerance)
	if off := m.Value - planned.Distance; check.Verdict != gauge.Within {
		check.Says = fmt.Sprintf("It is %s %s the ear point than planned.", tape.FormatSmall(math.Abs(off), c.system()),
			map[bool]string{true: "farther from", false: "nearer to"}[off > 0])
	}
	return []Check{check}
}

// hangPair holds a loudspeaker against its partner: mirrored azimuth and equal
// height. The partner counts as it was built, or as planned until then.
func hangPair(c Case) []Check {
	s, ok := c.hole()
	partner := c.partner()
	if !ok || partner == "" {
		return nil
	}
	mine, err := c.see(c.Mount.Channel, s)
	if err != nil {
		return nil
	}
	other, built, err := c.asBuilt(partner)
	if err != nil {
		return nil
	}
	against := partner + " as planned"
	if built {
		against = partner + " as built"
	}
	difference := place.PairDeviation(mine.Sight, other.Sight)
	azimuth, err := c.pairUncertainty(mine, other, partner)
	if err != nil {
		return nil
	}
	higher, err := c.pairHeight(mine, other, partner, built)
	if err != nil {
		return nil
	}
	t := c.Plan.Tolerances
	checks := []Check{
		c.evaluate("hang.pair azimuth", "Mirrors "+against, Radian, gauge.Measured{Value: difference.Azimuth, Uncertainty: azimuth}, gauge.Around(0, t.PairAzimuth), ownTolerance),
		c.evaluate("hang.pair height", "As high as "+against, Metre, higher, gauge.Around(0, t.PairHeight), ownTolerance),
	}
	if checks[0].Verdict != gauge.Within {
		checks[0].Says = fmt.Sprintf("The two are %.1f° from mirroring each other.", math.Abs(difference.Azimuth)*180/math.Pi)
	}
	if checks[1].Verdict != gauge.Within {
		checks[1].Says = fmt.Sprintf("It hangs %s %s than %s.", tape.FormatSmall(math.Abs(higher.Value), c.system()),
			map[bool]string{true: "higher", false: "lower"}[higher.Value > 0], partner)
	}
	if c.contradicted(mine) {
		return inDoubt(checks)
	}
	return checks
}

// pairHeight is how much higher a loudspeaker hangs than its partner: by the heights that
// were measured where they were, else by what follows from the hole.
func (c Case) pairHeight(mine, other seen, partner string, built bool) (gauge.Measured, error) {
	a, b := mine.height, other.height
	if m, ok := c.read("height_um", "tape"); ok {
		a = m
	}
	if e, ok := c.Prior("hang", partner); ok && built {
		c.Measured, c.Chosen = e.Measured, e.Chosen
		if m, ok := c.read("height_um", "tape"); ok {
			b = m
		}
	}
	u, err := gauge.Propagate([]float64{1, -1}, []gauge.Component{
		a.Uncertainty.As("the height of "+c.Mount.Channel, byTape), b.Uncertainty.As("the height of "+partner, byTape)})
	return gauge.Measured{Value: a.Value - b.Value, Uncertainty: u}, err
}

// pairUncertainty is what the sum of two azimuths is worth. Both loudspeakers are
// seen from the same ear point, so that its gradients add before they are squared:
// for a mirrored pair the part sideways counts twice and the part ahead cancels.
func (c Case) pairUncertainty(mine, other seen, partner string) (gauge.Uncertainty, error) {
	components := []gauge.Component{
		mine.hole.along.Uncertainty.As("the tape along at "+c.Mount.Channel, byTape), mine.hole.up.Uncertainty.As("the tape up at "+c.Mount.Channel, byTape),
		other.hole.along.Uncertainty.As("the tape along at "+partner, byTape), other.hole.up.Uncertainty.As("the tape up at "+partner, byTape),
		{Name: "the ear point", Standard: c.Plan.Primary().EarU, Basis: "the plan"},
	}
	a, b := mine.rates, other.rates
	return gauge.Propagate([]float64{a.Along.Azimuth, a.Up.Azimuth, b.Along.Azimuth, b.Up.Azimuth, a.Ear.Azimuth.Add(b.Ear.Azimuth).Norm()}, components)
}

// partner is the channel that mirrors this one and is in the plan, or empty.
func (c Case) partner() string {
	if l := c.Plan.Loudspeakers(); l != nil {
		if position, ok := l.Loudspeaker(c.Mount.Channel); ok && position.Pair != "" && !position.LFE && c.Plan.MountByChannel(position.Pair) != nil {
			return position.Pair
		}
	}
	return ""
}

// asBuilt is how a mount is seen as it was hung, or as planned if it was not or if
// what was measured there contradicts itself.
func (c Case) asBuilt(channel string) (at seen, built bool, err error) {
	if e, ok := c.Prior("hang", channel); ok {
		other := c
		other.Mount, other.Measured, other.Chosen = c.Plan.MountByChannel(channel), e.Measured, e.Chosen
		if s, ok := other.hole(); ok {
			if at, err = other.see(channel, s); err != nil || !other.contradicted(at) {
				return at, true, err
			}
		}
	}
	m := c.Plan.MountByChannel(channel)
	at, err = c.see(channel, spot{exact(m.Along), exact(m.Up)})
	return at, false, err
}

// hangTilt holds the cabinet's tilt against the elevation its axis needs to point
// at the ear point from where it hangs.
func hangTilt(c Case) []Check {
	m, ok := c.read("tilt_mdeg", "level")
	if !ok {
		return c.unread("hang.tilt", "Tilt", "tilt_mdeg", "level")
	}
	s, ok := c.hole()
	if !ok {
		return nil
	}
	at, err := c.see(c.Mount.Channel, s)
	if err != nil {
		return nil
	}
	check := c.evaluate("hang.tilt", "Tilt", Radian, m, gauge.Around(at.pose.Elevation, c.Plan.Tolerances.Tilt), ownTolerance)
	if by := at.pose.Elevation - m.Value; check.Verdict != gauge.Within {
		check.Correction = fmt.Sprintf("nose %.1f° %s", math.Abs(by)*180/math.Pi, map[bool]string{true: "up", false: "down"}[by > 0])
	}
	return []Check{check}
}

// hangAim holds how far the axis misses the ear point, as an angle seen from the
// loudspeaker: angle = atan(miss / distance).
func hangAim(c Case) []Check {
	miss := c.Measured["miss_um"]
	distance, ok := c.read("distance_um", "laser")
	if len(miss) == 0 || !ok || distance.Value <= 0 {
		return nil
	}
	angle := math.Atan2(metres(miss[0]), distance.Value)
	u, err := gauge.Propagate([]float64{distance.Value / (distance.Value*distance.Value + metres(miss[0])*metres(miss[0]))},
		[]gauge.Component{{Name: "where the axis was seen to pass", Standard: aimReading, Basis: "common practice, no source"}})
	if err != nil {
		return nil
	}
	limits := gauge.AtMost(c.Plan.Tolerances.Aim)
	check := c.evaluate("hang.aim", "Aim", Radian, gauge.Measured{Value: angle, Uncertainty: u}, limits, ownTolerance)
	if check.Verdict != gauge.Within {
		check.Correction = fmt.Sprintf("turn it by %.1f° towards the ear point", angle*180/math.Pi)
	}
	return []Check{check}
}

// aimReading is the standard uncertainty in metres of seeing where a loudspeaker's
// axis passes the ear point: common practice, no source.
const aimReading = 0.010

// overhead tells whether the mount's surface looks down on people.
func overhead(c Case) bool {
	m, err := c.placed(c.Mount.Channel)
	return err == nil && m.Surface.Normal().Z < -0.5
}

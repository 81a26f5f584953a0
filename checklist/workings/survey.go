package workings

import (
	"fmt"
	"math"
	"strings"
	"unicode"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/compute/figure"
	"hangtrue/compute/gauge"
	"hangtrue/compute/place"
	"hangtrue/compute/tape"
)

// A SurveySheet is what a plan's survey comes to, as far as it goes: the plan need
// not be finished, nor every reading taken.
type SurveySheet struct {
	Lines []SurveyLine // in the order of the survey
	// Width, Length and Height are the box that the readings propose, metres, each
	// with its standard uncertainty; zero where nothing was read for it.
	Width, Length, Height place.Measure
	// Says are the findings in sentences, what matters most first.
	Says   []string
	Checks []judge.Check
	// Figures are the calculations, each with formula, inputs and source.
	Figures []figure.Figure
}

// A SurveyLine is one reading and what its mean is worth. Unknown says why that
// cannot be told, and then Worth means nothing.
type SurveyLine struct {
	plan.Reading
	Worth   gauge.Measured
	Unknown string
}

// Survey works out what the readings of a plan's survey come to, nil where the plan
// has none. It never fails: what cannot be told is left out.
func Survey(p *plan.Plan) *SurveySheet {
	if p == nil || p.Survey == nil {
		return nil
	}
	s := surveyor{p: p, system: p.Units.System(), sheet: &SurveySheet{}, read: map[string]place.Measure{}}
	for _, r := range p.Survey.Readings {
		line := SurveyLine{Reading: r}
		var err error
		if line.Worth, err = p.Measured(r); err != nil {
			line.Unknown = strings.TrimPrefix(err.Error(), "plan: ")
		} else {
			s.read[r.Name] = place.Measure{Value: line.Worth.Value, Standard: line.Worth.Uncertainty.Standard}
		}
		s.sheet.Lines = append(s.sheet.Lines, line)
	}
	for r := place.FrontWall; r <= place.FromFrontRight; r++ {
		s.floor[r] = s.read[plan.ReadingNames[r]]
	}
	s.propose()
	s.repeats()
	s.closing()
	s.square()
	s.opposite("survey.width", "Width, front less rear", place.FrontWall, place.RearWall, s.sheet.Length, "It is %s wider at the %s wall than at the %s wall: the left and the right wall are not parallel, by %s")
	s.opposite("survey.length", "Length, left less right", place.LeftWall, place.RightWall, s.sheet.Width, "It is %s longer at the %s wall than at the %s wall: the front and the rear wall are not parallel, by %s")
	s.rectangle()
	s.directions()
	s.heights()
	s.box()
	return s.sheet
}

// surveyor is a survey while it is worked out.
type surveyor struct {
	p      *plan.Plan
	system tape.System
	sheet  *SurveySheet
	read   map[string]place.Measure // what is known, by name
	floor  place.Floor
	closes closes
	apart  bool // something on the floor differs by more than the readings can
}

// closes is what the six lengths on the floor say of each other.
type closes uint8

const (
	untested closes = iota // not all were read
	fitting
	contradictory
)

// flag adds a check, where the plan gives it limits, and what it says.
func (s *surveyor) flag(c judge.Check, limited bool) {
	if c.Says != "" {
		s.sheet.Says = append(s.sheet.Says, c.Says)
	}
	if limited {
		s.sheet.Checks = append(s.sheet.Checks, c)
	}
}

// judged is a measured value held against limits; what contradictory readings on the
// floor leave of it is told apart.
func (s *surveyor) judged(name, title string, unit judge.Unit, m place.Measure, limits gauge.Limits, says, source string, onFloor bool) judge.Check {
	j := gauge.Evaluate(m.Value, gauge.Uncertainty{Standard: m.Standard}, limits, gauge.Micrometre)
	c := judge.Check{
		Name: name, Title: title, Unit: unit, Measured: m.Value, Target: limits.Target, Low: limits.Lower, High: limits.Upper,
		Expanded: j.Expanded, Verdict: j.Verdict, Probability: j.Probability, Says: says, Source: source,
	}
	switch {
	case onFloor && s.closes == contradictory:
		c.Verdict, c.Says, c.Settle = gauge.Unsure, "", "find first which of the lengths on the floor is wrong"
	case c.Verdict == gauge.Unsure:
		c.Settle = "read it again, with a better instrument if there is one"
	}
	return c
}

// propose is the box that the readings make: the middle between opposite walls, and
// the mean of the heights up to the flat ceiling.
func (s *surveyor) propose() {
	s.sheet.Width = place.Midway(s.floor[place.FrontWall], s.floor[place.RearWall])
	s.sheet.Length = place.Midway(s.floor[place.LeftWall], s.floor[place.RightWall])
	var flat []place.Measure
	for _, h := range s.flatHeights() {
		flat = append(flat, h.Measure)
	}
	s.sheet.Height = place.Midway(flat...)
	for _, m := range []struct {
		name string
		of   place.Measure
		from []string
	}{
		{"width of the room", s.sheet.Width, []string{plan.WidthFront, plan.WidthRear}},
		{"length of the room", s.sheet.Length, []string{plan.LengthLeft, plan.LengthRight}},
	} {
		if m.of.Value > 0 {
			s.sheet.Figures = append(s.sheet.Figures, figure.Figure{Name: m.name, Formula: "the mean of what was read at either wall",
				Source: "this program's own choice of a box for the room", Mark: figure.Derived, Inputs: s.inputs(m.from...), Value: m.of.Value, Unit: "m"})
		}
	}
}

func (s *surveyor) inputs(names ...string) []figure.Input {
	var in []figure.Input
	for _, name := range names {
		if m, ok := s.read[name]; ok {
			in = append(in, figure.Input{Name: title(name), Value: m.Value, Unit: "m"})
		}
	}
	return in
}

// repeats holds repeat readings of one length against each other: what they may lie
// apart is what two readings by this instrument may.
func (s *surveyor) repeats() {
	var worst judge.Check
	most := math.Inf(-1)
	for _, l := range s.sheet.Lines {
		if len(l.Values) < 2 || l.Unknown != "" {
			continue
		}
		low, high := l.Values[0], l.Values[0]
		for _, x := range l.Values {
			low, high = math.Min(low, x), math.Max(high, x)
		}
		once := l.Reading
		once.Values = []float64{low}
		m, err := s.p.Measured(once)
		if err != nil {
			continue
		}
		a := gauge.Agree(high, m.Uncertainty.Standard, low, m.Uncertainty.Standard, gauge.Micrometre)
		if beyond := a.Difference - a.Limit; beyond > most {
			most = beyond
			worst = judge.Check{Name: "survey.repeat", Title: "Repeat readings, apart", Unit: judge.Metre, Measured: a.Difference, Target: a.Limit, Low: math.Inf(-1), High: a.Limit,
				Verdict: gauge.Within, Source: "two readings of one length agree within their joint uncertainty, k = 2 (JCGM 100:2008)"}
			if !a.Agrees {
				worst.Verdict = gauge.Outside
				worst.Says = fmt.Sprintf("Readings of %s lie %s apart: one of them is a slip.", inSentence(l.Title()), tape.FormatSmall(a.Difference, s.system))
			}
		}
	}
	if !math.IsInf(most, -1) {
		s.flag(worst, true)
	}
}

// closing holds the six lengths on the floor against each other.
func (s *surveyor) closing() {
	for _, m := range s.floor {
		if m.Value == 0 {
			return
		}
	}
	source := "six lengths of a floor with four corners, of which five fix it: the sixth agrees within the joint uncertainty, k = 2 (JCGM 100:2008)"
	c, err := s.floor.Closing()
	if err != nil {
		s.closes = contradictory
		s.flag(judge.Check{Name: "survey.closing", Title: "Lengths on the floor close", Unit: judge.Condition, Verdict: gauge.Outside, Source: source,
			Says: "No floor has these six lengths: one reading is wrong." + s.blame(c)}, true)
		return
	}
	read := s.floor[place.FromFrontRight]
	a := gauge.Agree(read.Value, c.Standard, c.Predicted, 0, gauge.Micrometre)
	check := judge.Check{Name: "survey.closing", Title: "Diagonal by the other five", Unit: judge.Metre, Measured: read.Value, Target: c.Predicted,
		Low: c.Predicted - a.Limit, High: c.Predicted + a.Limit, Verdict: gauge.Within, Source: source}
	s.closes = fitting
	if !a.Agrees {
		s.closes = contradictory
		check.Verdict = gauge.Outside
		check.Says = fmt.Sprintf("The six lengths on the floor do not close: by the other five %s is %s, and %s was read. One reading is wrong.%s",
			inSentence(title(plan.DiagonalFrontRight)), tape.Format(c.Predicted, s.system), tape.Format(read.Value, s.system), s.blame(c))
	}
	s.sheet.Figures = append(s.sheet.Figures, figure.Figure{Name: "diagonal from the front right, by the other five",
		Formula: "two triangles on the diagonal from the front left: x = (e² + p² - q²) / 2e and y = √(p² - x²) for either corner; √((x1 - x2)² + (y1 + y2)²)",
		Source:  "law of cosines; derived here", Mark: figure.Derived, Inputs: s.inputs(plan.ReadingNames[:5]...), Value: c.Predicted, Unit: "m"})
	s.flag(check, true)
}

// blame says which reading alone could be wrong. Any of the six can make up for the
// misclosure; rooms being nearly square, the likeliest is the one that then leaves
// the squarest, and swapped digits or a round step speak for themselves.
func (s *surveyor) blame(c place.Closing) string {
	if len(c.Suspects) == 0 {
		return ""
	}
	name := func(x place.Suspect) string { return inSentence(title(plan.ReadingNames[x.Run])) }
	instead := func(x place.Suspect) string {
		words := fmt.Sprintf("%s instead of %s", tape.Format(x.Needed.Value, s.system), tape.Format(x.Read, s.system))
		if slip := s.slip(x); slip != "" {
			words += " (" + slip + ")"
		}
		return words
	}
	first := c.Suspects[0]
	says := fmt.Sprintf(" Any one of them could be; the room would be nearest to square if it is %s: %s.", name(first), instead(first))
	if s.slip(first) != "" {
		return says
	}
	for _, x := range c.Suspects[1:] {
		if s.slip(x) != "" {
			return says + fmt.Sprintf(" Or %s: %s.", name(x), instead(x))
		}
	}
	return says
}

// slip names how a reading could have been misread so that it would fit, "" if in no
// usual way.
func (s *surveyor) slip(x place.Suspect) string {
	limit := gauge.K * math.Hypot(x.Needed.Standard, s.floor[x.Run].Standard)
	slips := gauge.Slips(gauge.Doubt{Reading: x.Read, System: s.system, Other: x.Needed.Value, Limit: limit, Quantum: gauge.Micrometre})
	if len(slips) == 0 {
		return ""
	}
	if slips[0].Kind == gauge.WrongStep {
		return tape.FormatSmall(math.Abs(slips[0].Step), s.system) + " misread"
	}
	return slips[0].Kind.String()
}

// square tells how far the floor leans out of square by its diagonals, or by one of
// them where only one was read.
func (s *surveyor) square() {
	skew, err := s.floor.Skew()
	words := "The diagonals differ by " + tape.FormatSmall(math.Abs(s.floor[place.FromFrontLeft].Value-s.floor[place.FromFrontRight].Value), s.system)
	formula, names := "asin((d1² - d2²) / 4ab), in degrees, with a the mean width and b the mean length", []string{plan.DiagonalFrontLeft, plan.DiagonalFrontRight, plan.WidthFront, plan.WidthRear, plan.LengthLeft, plan.LengthRight}
	if err != nil {
		if skew, err = s.oneDiagonal(); err != nil {
			return
		}
		words = "By the one diagonal that was read"
		formula = "how far the corner across the diagonal is from 90°: acos((a² + b² - d²) / 2ab), with a the width and b the length"
	}
	s.sheet.Figures = append(s.sheet.Figures, figure.Figure{Name: "floor out of square", Formula: formula,
		Source: "law of cosines; for a floor that is no parallelogram a and b stand for the lines between the middles of opposite walls, derived here",
		Mark:   figure.Derived, Inputs: s.inputs(names...), Value: skew.Value / degree, Unit: "°"})
	says := ""
	if limit := gauge.K * skew.Standard; math.Round(math.Abs(skew.Value)*1e6) > math.Round(limit*1e6) {
		says = words + ": the room is not square by " + inDegrees(skew.Value) + s.orWrong() +
			" Directions worked out in the box can be off by about as much."
		s.apart = true
	}
	check := s.judged("survey.square", "Floor out of square", judge.Radian, skew, gauge.Around(0, s.p.Tolerances.Azimuth), says,
		"the plan's azimuth tolerance: a box that leans turns the directions worked out in it", true)
	if check.Verdict == gauge.Outside {
		check.Says += builtThatWay
	}
	s.flag(check, s.p.Tolerances.Azimuth > 0)
}

// builtThatWay says what to do about a room that a box stands for badly.
const builtThatWay = " That is how the room is built, and nobody's fault on site; but the box stands for it worse than the plan's tolerance allows. Give the walls as surfaces with frames of their own."

// orWrong ends a sentence about the floor: where all six lengths close, no single
// reading is to blame.
func (s *surveyor) orWrong() string {
	if s.closes == fitting {
		return "."
	}
	return ", or one reading is wrong."
}

// oneDiagonal is the skew by one diagonal, opposite walls being taken as equal where
// only one was read.
func (s *surveyor) oneDiagonal() (place.Measure, error) {
	f := s.floor
	for _, pair := range [][2]place.Run{{place.FrontWall, place.RearWall}, {place.LeftWall, place.RightWall}} {
		for k := range pair {
			if f[pair[k]].Value == 0 {
				f[pair[k]] = f[pair[1-k]]
			}
		}
	}
	// The longer the diagonal from the front left, the blunter the corners beside it.
	angle, err := f.Angle(place.FrontRight)
	sign := 1.0
	if err != nil {
		angle, err = f.Angle(place.FrontLeft)
		sign = -1
	}
	return place.Measure{Value: sign * (angle.Value - math.Pi/2), Standard: angle.Standard}, err
}

// opposite holds two opposite walls against each other. The box takes the middle
// between them, so that each wall stands off it by up to half the difference.
func (s *surveyor) opposite(name, title string, a, b place.Run, across place.Measure, words string) {
	if s.floor[a].Value == 0 || s.floor[b].Value == 0 {
		return
	}
	m := place.Measure{Value: s.floor[a].Value - s.floor[b].Value, Standard: math.Hypot(s.floor[a].Standard, s.floor[b].Standard)}
	says := ""
	if !gauge.Agree(m.Value, m.Standard, 0, 0, gauge.Micrometre).Agrees {
		more, less := wallOf(a), wallOf(b)
		if m.Value < 0 {
			more, less = less, more
		}
		s.apart = true
		turned := "an angle that no length tells"
		if across.Value > 0 {
			turned = inDegrees(math.Atan2(m.Value, across.Value))
		}
		says = fmt.Sprintf(words, tape.FormatSmall(math.Abs(m.Value), s.system), more, less, turned) + s.orWrong()
	}
	limit := 2 * s.p.Tolerances.Distance
	s.flag(s.judged(name, title, judge.Metre, m, gauge.Around(0, limit), says,
		"twice the plan's distance tolerance: the box takes the middle, so that either wall stands off it by half the difference", true), limit > 0)
}

func wallOf(r place.Run) string { return strings.TrimSuffix(r.String(), " wall") }

// rectangle says so where everything on the floor was read and nothing differs.
func (s *surveyor) rectangle() {
	if s.closes == fitting && !s.apart {
		s.sheet.Says = append(s.sheet.Says, "As far as these readings can tell, the floor is a rectangle.")
	}
}

// directions works out how far the planned directions from the primary listening
// position turn if the floor is what was read and not the box: every place of the
// box goes to the same part of the way between the corners that were read. The seat
// is taken to face square to the front wall.
func (s *surveyor) directions() {
	box, listener := s.p.Room.Box, place.Listener{}
	l, err := s.p.Listener("")
	if err != nil || box == nil || s.closes != fitting {
		return
	}
	listener = l
	worst, channel := place.Measure{Value: -1}, ""
	for i := range s.p.Mounts {
		pose, err := s.p.Pose(s.p.Mounts[i].Channel)
		if err != nil {
			continue
		}
		seen := func(f place.Floor) (place.Direction, bool) {
			corners, err := f.Corners()
			if err != nil {
				return place.Direction{}, false
			}
			there := listener
			there.Ear = inFloor(corners, box, listener.Ear)
			return there.See(inFloor(corners, box, pose.Centre)).Direction, true
		}
		asRead, ok := seen(s.floor)
		if !ok {
			return
		}
		off := place.Between(asRead, listener.See(pose.Centre).Direction)
		if off <= worst.Value {
			continue
		}
		worst, channel = place.Measure{Value: off}, s.p.Mounts[i].Channel
		for r := range s.floor {
			f := s.floor
			f[r].Value += f[r].Standard
			if moved, ok := seen(f); ok {
				worst.Standard = math.Hypot(worst.Standard, place.Between(moved, asRead))
			}
		}
	}
	if channel == "" {
		return
	}
	says := ""
	if math.Round(worst.Value*1e6) > math.Round(gauge.K*worst.Standard*1e6) {
		says = fmt.Sprintf("On the floor as it was read, %s is seen %s from where the box has it; no other loudspeaker by more.", channel, inDegrees(worst.Value))
	}
	check := s.judged("survey.directions", "Directions, box or survey", judge.Radian, worst, gauge.Around(0, s.p.Tolerances.Azimuth), says,
		"the plan's azimuth tolerance; every place moved with the corners, the seat facing square to the front wall: worked out here", true)
	if check.Verdict == gauge.Outside {
		check.Says += builtThatWay
	}
	s.flag(check, s.p.Tolerances.Azimuth > 0)
}

// inFloor takes a place of the box to a floor with other corners, bilinearly.
func inFloor(corners [4]place.Vec, box *plan.Box, v place.Vec) place.Vec {
	x, y := v.X/box.Width, v.Y/box.Length
	rear := corners[place.RearLeft].Scale(1 - x).Add(corners[place.RearRight].Scale(x))
	front := corners[place.FrontLeft].Scale(1 - x).Add(corners[place.FrontRight].Scale(x))
	at := rear.Scale(1 - y).Add(front.Scale(y))
	at.Z = v.Z
	return at
}

// A height is one that was read, and where.
type height struct {
	place.Measure
	where string
}

// knee is how low the lowest slope is at a corner, by the name of its reading: the
// words of that name say which two walls meet there. It is false where no slope is.
func (s *surveyor) knee(name string) (knee float64, ok bool) {
	knee = math.Inf(1)
	for _, shape := range s.p.Room.Shapes {
		if shape.Kind == plan.Slope && strings.Contains(" "+name+" ", " "+shape.Wall+" ") {
			knee, ok = math.Min(knee, shape.Knee), true
		}
	}
	return knee, ok
}

// flatHeights are the heights that were read up to the flat ceiling.
func (s *surveyor) flatHeights() []height {
	var all []height
	for _, l := range s.sheet.Lines {
		corner := plan.Published(l.Name) && strings.HasPrefix(l.Name, "height ")
		if l.Unknown != "" || !corner && l.Kind != plan.HeightReading {
			continue
		}
		if _, sloped := s.knee(l.Name); corner && sloped {
			continue
		}
		all = append(all, height{s.read[l.Name], strings.TrimPrefix(l.Title(), "Height at ")})
	}
	return all
}

// heights holds the heights up to the flat ceiling against each other, and those
// under a slope against its knee.
func (s *surveyor) heights() {
	if flat := s.flatHeights(); len(flat) > 1 {
		low, high := flat[0], flat[0]
		for _, h := range flat {
			if h.Value < low.Value {
				low = h
			}
			if h.Value > high.Value {
				high = h
			}
		}
		m := place.Measure{Value: high.Value - low.Value, Standard: math.Hypot(high.Standard, low.Standard)}
		says := ""
		if !gauge.Agree(m.Value, m.Standard, 0, 0, gauge.Micrometre).Agrees {
			says = fmt.Sprintf("From floor to ceiling it is %s less at %s than at %s: the floor or the ceiling slopes, or one reading is wrong.", tape.FormatSmall(m.Value, s.system), low.where, high.where)
		}
		limit := 2 * s.p.Tolerances.Height
		s.flag(s.judged("survey.height", "Heights, most less least", judge.Metre, m, gauge.AtMost(limit), says,
			"twice the plan's height tolerance: the box takes the middle", false), limit > 0)
	}
	for _, name := range plan.ReadingNames {
		knee, sloped := s.knee(name)
		m, read := s.read[name]
		if !strings.HasPrefix(name, "height ") || !sloped || !read {
			continue
		}
		says := ""
		if !gauge.Agree(m.Value, m.Standard, knee, 0, gauge.Micrometre).Agrees {
			says = fmt.Sprintf("%s was read %s; the slope there comes down to %s in the plan.", title(name), tape.Format(m.Value, s.system), tape.Format(knee, s.system))
		}
		tolerance := s.p.Tolerances.Distance
		s.flag(s.judged("survey.knee "+strings.TrimPrefix(name, "height "), "Slope at the "+strings.TrimPrefix(name, "height "), judge.Metre, m, gauge.Around(knee, tolerance), says,
			planDistance, false), tolerance > 0)
	}
}

const planDistance = "the plan's distance tolerance: a wall or ceiling that is elsewhere moves every loudspeaker on it"

// box holds the plan's box against the one that the readings propose.
func (s *surveyor) box() {
	b := s.p.Room.Box
	if b == nil {
		return
	}
	for _, x := range []struct {
		name    string
		planned float64
		read    place.Measure
		onFloor bool
	}{{"width", b.Width, s.sheet.Width, true}, {"length", b.Length, s.sheet.Length, true}, {"height", b.Height, s.sheet.Height, false}} {
		if x.read.Value == 0 {
			continue
		}
		says := ""
		if off := x.read.Value - x.planned; !gauge.Agree(off, x.read.Standard, 0, 0, gauge.Micrometre).Agrees {
			says = fmt.Sprintf("By the readings the %s is %s; the plan has %s, %s.", x.name, tape.Format(x.read.Value, s.system), tape.Format(x.planned, s.system),
				tape.FormatSmall(math.Abs(off), s.system)+map[bool]string{true: " less", false: " more"}[off > 0])
		}
		tolerance := s.p.Tolerances.Distance
		check := s.judged("survey.box "+x.name, "Box, "+x.name, judge.Metre, x.read, gauge.Around(x.planned, tolerance), says, planDistance, x.onFloor)
		if check.Verdict == gauge.Unsure && (s.closes != contradictory || !x.onFloor) {
			check.Settle = "put " + tape.Format(x.read.Value, s.system) + " into the plan, as the readings have it; where walls or heights differ no better instrument helps"
		}
		s.flag(check, tolerance > 0)
	}
}

const degree = math.Pi / 180

// inDegrees writes the size of an angle, to a tenth of a degree, finer where that is
// nothing.
func inDegrees(angle float64) string {
	d := math.Abs(angle) / degree
	if d < 0.095 {
		return fmt.Sprintf("%.2f°", d)
	}
	return fmt.Sprintf("%.1f°", d)
}

// title is what a published reading is called.
func title(name string) string { return plan.Reading{Name: name}.Title() }

// inSentence is a title for the middle of a sentence.
func inSentence(title string) string {
	for i, r := range title {
		return "the " + string(unicode.ToLower(r)) + title[i+len(string(r)):]
	}
	return title
}

package fixing

import (
	"math"
	"strconv"
)

// A HelpKind is a change that would bring a bracket nearer to passing.
type HelpKind int

const (
	// LongerFixing goes deeper into the member.
	LongerFixing HelpKind = iota
	// ThickerFixing takes the next size that helps.
	ThickerFixing
	// SecondMember spreads the load over the same pattern in a second member.
	SecondMember
	// OnTheWood brings the plate onto the wood, through the lining.
	OnTheWood
	// NearerCentre moves the holes to the middle of the member.
	NearerCentre
	// WiderMember adds a wider backing.
	WiderMember
	// Backing puts framing behind, or moves to where there is some.
	Backing
)

// A Help is one change and what it would do.
type Help struct {
	Kind HelpKind
	// Length of the longer fixing, Width of the wider member, m; Size of the thicker
	// fixing. The others are empty.
	Length, Width float64
	Size          string
	// Utilisation after the change, and whether the screening would then pass. Both
	// are empty for Backing, which needs a screening of its own.
	Utilisation float64
	Passes      bool
}

// String gives one sentence.
func (h Help) String() string {
	var text string
	switch h.Kind {
	case LongerFixing:
		text = "A longer fixing, " + millimetres(h.Length)
	case ThickerFixing:
		text = "A thicker fixing, " + h.Size
	case SecondMember:
		text = "The same fixings again in a second stud or joist"
	case OnTheWood:
		text = "The plate on the wood itself, with the lining cut away or packed solid"
	case NearerCentre:
		text = "Holes in the middle of the member"
	case WiderMember:
		text = "A member at least " + millimetres(h.Width) + " wide, or as wide a backing"
	case Backing:
		return "Move to framing, masonry or concrete, or fix a timber backing between the framing first."
	}
	if h.Passes {
		return text + ", brings it to " + percent(h.Utilisation) + "."
	}
	return text + ", helps but is not enough by itself (" + percent(h.Utilisation) + ")."
}

func millimetres(v float64) string {
	return strconv.FormatFloat(math.Ceil(v*1e4-1e-6)/10, 'f', -1, 64) + " mm"
}

func percent(v float64) string { return strconv.FormatFloat(math.Ceil(v*100-1e-9), 'f', 0, 64) + " %" }

// Lengths that are sold, common practice, no source: inches and millimetres.
var (
	inchLengths   = []float64{1, 1.25, 1.5, 1.75, 2, 2.25, 2.5, 3, 3.5, 4, 5, 6}
	metricLengths = []float64{25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 120, 140, 160}
)

// Helps tries the changes a person on the ladder can make, one at a time, and
// lists those that would pass or come nearer to it. A screening that passes, and
// the zero Screening, have none.
func (s *Screening) Helps() []Help {
	if s.Outcome == Passes || len(s.Forces) == 0 {
		return nil
	}
	return s.job.helps(s.Statics, s)
}

func (j *job) helps(statics Statics, now *Screening) []Help {
	if j.base.Kind != Framing || j.fixing.Kind == Rated {
		list := []Help{}
		if j.base.Kind == Plasterboard || j.base.Kind == HollowWall || j.fixing.Kind != Rated {
			list = append(list, Help{Kind: Backing})
		}
		return j.second(list, now)
	}
	var list []Help
	if h, ok := j.longer(statics, now); ok {
		list = append(list, h)
	}
	if h, ok := j.thicker(statics, now); ok {
		list = append(list, h)
	}
	list = j.second(list, now)
	if j.base.Lining > 0 && j.load.On == Wall {
		list = j.try(list, statics, now, Help{Kind: OnTheWood}, func(c *job) { c.base.Lining = 0 })
	}
	if now.EdgeLeft < now.EdgeWanted && j.base.Width > 0 {
		if j.base.OffCentre != 0 && j.base.Width/2 >= now.EdgeWanted {
			list = j.try(list, statics, now, Help{Kind: NearerCentre}, func(c *job) { c.base.OffCentre = 0 })
		}
		width := 2 * (now.EdgeWanted + math.Abs(j.base.OffCentre))
		list = j.try(list, statics, now, Help{Kind: WiderMember, Width: width}, func(c *job) { c.base.Width = width + 1e-6 })
	}
	return list
}

// attempt judges a changed copy of the job.
func (j *job) attempt(statics Statics, change func(*job)) (Screening, bool) {
	c := *j
	change(&c)
	if c.prepare() != nil {
		return Screening{}, false
	}
	s, err := c.judge(statics)
	return s, err == nil
}

// better tells whether a change is worth naming: fewer rules broken, or a
// twentieth less utilisation with no new rule broken.
func better(now, then *Screening) bool {
	return len(then.Refused) < len(now.Refused) ||
		len(then.Refused) == len(now.Refused) && then.Utilisation < 0.95*now.Utilisation
}

func (j *job) try(list []Help, statics Statics, now *Screening, h Help, change func(*job)) []Help {
	then, ok := j.attempt(statics, change)
	if !ok || !better(now, &then) {
		return list
	}
	h.Utilisation, h.Passes = then.Utilisation, then.Outcome == Passes
	return append(list, h)
}

// longer finds the shortest length sold that passes without coming out at the
// back, or else the longest one.
func (j *job) longer(statics Statics, now *Screening) (Help, bool) {
	ladder, unit := inchLengths, inch
	if j.fixing.Kind == MetricScrew {
		ladder, unit = metricLengths, mm
	}
	limit := math.Inf(1)
	if j.base.Depth > 0 {
		limit = j.load.Plate.Thickness + j.base.Lining + j.base.Depth
	}
	low, high := 0, len(ladder)
	for low < high && micro(ladder[low]*unit) <= micro(j.fixing.Length) {
		low++
	}
	for high > low && ladder[high-1]*unit > limit {
		high--
	}
	if low == high || j.fixing.Kind == PlainNail || j.fixing.Kind == RingNail {
		return Help{}, false
	}
	at := func(i int) (Screening, bool) {
		return j.attempt(statics, func(c *job) { c.fixing.Length, c.fixing.Thread = ladder[i]*unit, 0 })
	}
	best, ok := at(high - 1)
	if !ok || !better(now, &best) {
		return Help{}, false
	}
	found := high - 1
	// Longer never holds less, so that the shortest that passes can be halved for.
	for best.Outcome == Passes && low < found {
		middle := (low + found) / 2
		if s, ok := at(middle); ok && s.Outcome == Passes {
			best, found = s, middle
		} else {
			low = middle + 1
		}
	}
	return Help{Kind: LongerFixing, Length: ladder[found] * unit, Utilisation: best.Utilisation, Passes: best.Outcome == Passes}, true
}

// thicker looks at the next three sizes.
func (j *job) thicker(statics Statics, now *Screening) (Help, bool) {
	rows, _, _, _ := table(j.fixing.Kind)
	var help Help
	found := false
	after := 0
	for _, r := range rows {
		if r.size == j.dim.Size {
			after = 1
			continue
		}
		if after == 0 || after > 3 {
			continue
		}
		after++
		then, ok := j.attempt(statics, func(c *job) { c.fixing.Size, c.fixing.Declared, c.fixing.Pilot = r.size, Declared{}, 0 })
		if !ok || !better(now, &then) {
			continue
		}
		if !found || then.Outcome == Passes || then.Utilisation < help.Utilisation {
			help, found = Help{Kind: ThickerFixing, Size: r.size, Utilisation: then.Utilisation, Passes: then.Outcome == Passes}, true
		}
		if help.Passes {
			break
		}
	}
	return help, found
}

// second spreads the load over twice the fixings: each force halves.
func (j *job) second(list []Help, now *Screening) []Help {
	if len(now.Refused) > 0 || now.Utilisation >= MaxUtilisation || now.Utilisation <= 1 {
		return list
	}
	u := now.Utilisation / 2
	if j.base.Rules == Eurocode5 && j.fixing.Kind != Rated {
		// n_ef = n^0.9 takes a little of it back.
		u *= math.Pow(2, 0.1)
	}
	return append(list, Help{Kind: SecondMember, Utilisation: u, Passes: math.Round(u*1e6) <= 1e6 && len(now.Open) == 0})
}

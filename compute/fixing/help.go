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

// String gives one sentence, with lengths in millimetres.
func (h Help) String() string { return h.In(millimetres) }

// In gives one sentence with lengths written by a function, which must not round them down.
func (h Help) In(length func(metres float64) string) string {
	var text string
	switch h.Kind {
	case LongerFixing:
		text = "A longer fixing, " + length(h.Length)
	case ThickerFixing:
		text = "A thicker fixing, " + h.Size
	case SecondMember:
		text = "The same fixings again in a second stud or joist"
	case OnTheWood:
		text = "The plate on the wood itself, with the lining cut away or packed solid"
	case NearerCentre:
		text = "Holes in the middle of the member"
	case WiderMember:
		text = "A member at least " + length(h.Width) + " wide, or as wide a backing"
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
	j := &s.job
	t := trial{job: j, now: s}
	if j.base.Kind != Framing || j.fixing.Kind == Rated {
		if j.base.Kind == Plasterboard || j.base.Kind == HollowWall || j.fixing.Kind != Rated {
			t.list = append(t.list, Help{Kind: Backing})
		}
		t.second()
		return t.list
	}
	t.longer()
	t.thicker()
	t.second()
	if j.base.Lining > 0 && j.load.shears() {
		c := *j
		c.base.Lining = 0
		t.try(Help{Kind: OnTheWood}, &c)
	}
	if s.EdgeLeft < s.EdgeWanted && j.base.Width > 0 {
		if j.base.OffCentre != 0 && j.base.Width/2 >= s.EdgeWanted {
			c := *j
			c.base.OffCentre = 0
			t.try(Help{Kind: NearerCentre}, &c)
		}
		c := *j
		width := 2 * (s.EdgeWanted + math.Abs(j.base.OffCentre))
		c.base.Width = width + 1e-6
		t.try(Help{Kind: WiderMember, Width: width}, &c)
	}
	return t.list
}

// A trial judges changed copies of a job one at a time, and keeps the room it needs.
type trial struct {
	job  *job
	now  *Screening
	then Screening
	list []Help
}

// better judges a changed job and tells whether the change is worth naming: fewer
// rules broken, or, where the load is too much, a twentieth less utilisation with no new
// rule broken. Where the load is carried and a rule is broken, carrying it better helps
// nobody.
func (t *trial) better(changed *job) bool {
	if changed.prepare() != nil || changed.judge(&t.then, &t.now.Statics) != nil {
		return false
	}
	broken, were := len(t.then.Refused), len(t.now.Refused)
	return broken < were || broken == were && t.now.Utilisation > 1 && t.then.Utilisation < 0.95*t.now.Utilisation
}

func (t *trial) passes() bool { return t.then.Outcome == Passes }

func (t *trial) try(h Help, changed *job) {
	if t.better(changed) {
		h.Utilisation, h.Passes = t.then.Utilisation, t.passes()
		t.list = append(t.list, h)
	}
}

// longer finds the shortest length sold that passes without coming out at the
// back, or else the longest one.
func (t *trial) longer() {
	j := t.job
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
		return
	}
	c := *j
	at := func(i int) bool {
		c.fixing.Length, c.fixing.Thread = ladder[i]*unit, 0
		return t.better(&c)
	}
	found := high - 1
	if !at(found) {
		return
	}
	h := Help{Kind: LongerFixing, Utilisation: t.then.Utilisation, Passes: t.passes()}
	// Longer never holds less, so that the shortest that passes can be halved for.
	for h.Passes && low < found {
		middle := (low + found) / 2
		if at(middle) && t.passes() {
			h.Utilisation, found = t.then.Utilisation, middle
		} else {
			low = middle + 1
		}
	}
	h.Length = ladder[found] * unit
	t.list = append(t.list, h)
}

// thicker looks at the next three sizes: the first that passes, or else the best.
func (t *trial) thicker() {
	rows, _, _, _ := table(t.job.fixing.Kind)
	next := 0
	for i, r := range rows {
		if r.size == t.job.dim.Size {
			next = i + 1
		}
	}
	var help Help
	c := *t.job
	c.fixing.Declared, c.fixing.Pilot = Declared{}, 0
	for _, r := range rows[next:min(next+3, len(rows))] {
		c.fixing.Size = r.size
		if !t.better(&c) || help.Size != "" && !t.passes() && t.then.Utilisation >= help.Utilisation {
			continue
		}
		help = Help{Kind: ThickerFixing, Size: r.size, Utilisation: t.then.Utilisation, Passes: t.passes()}
		if help.Passes {
			break
		}
	}
	if help.Size != "" {
		t.list = append(t.list, help)
	}
}

// second spreads the load over twice the fixings: each force halves.
func (t *trial) second() {
	j, now := t.job, t.now
	if len(now.Refused) > 0 || now.Utilisation >= MaxUtilisation || now.Utilisation <= 1 {
		return
	}
	u := now.Utilisation / 2
	if j.base.Rules == Eurocode5 && j.fixing.Kind != Rated {
		// n_ef = n^0.9 takes a little of it back: never more than all of it.
		u *= math.Pow(2, 0.1)
	}
	t.list = append(t.list, Help{Kind: SecondMember, Utilisation: u, Passes: math.Round(u*1e6) <= 1e6 && len(now.Open) == 0})
}

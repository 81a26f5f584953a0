package fixing

import (
	"math"

	"hangtrue/compute/figure"
)

// Grain is how the grain of the member runs in plate coordinates.
type Grain int

const (
	// GrainUp runs along y: a stud, or a joist along the load's reach.
	GrainUp Grain = iota
	// GrainAcross runs along x: a rail, a noggin, a joist across the load's reach.
	GrainAcross
)

// EdgeDistance is the least distance from the centre of a fixing to the edge of
// the member, m:
//
//   - under 1/4 in: 2.5D, advice of the NDS commentary, from memory, not verified
//     (the standard asks only that the wood does not split, NDS 2018 §12.1.5.7);
//   - from 1/4 in: 1.5D for load along the grain and for pull, 4D for the edge that
//     is loaded across the grain (NDS 2018 Tables 12.5.1C, 12.5.1E).
//
// Two rows of fixings in one member may ask for more ([Screen] looks at them).
func EdgeDistance(diameter float64, acrossGrain bool) (float64, figure.Mark) {
	switch {
	case inches(diameter) < 0.25:
		return 2.5 * diameter, figure.Memory
	case acrossGrain:
		return 4 * diameter, figure.Secondary
	}
	return 1.5 * diameter, figure.Published
}

// CentringMargin is how far a fixing of nominal diameter D may be off the centre
// line of a member of width b, m: b/2 - k·D with k = 2.5 under 1/4 in and 1.5 from
// 1/4 in, the factors of [EdgeDistance] along the grain. A negative margin means
// that the member is too narrow.
func CentringMargin(width, diameter float64) (float64, figure.Mark) {
	edge, mark := EdgeDistance(diameter, false)
	return width/2 - edge, mark
}

// A distances is what the hole pattern and the member leave round the fixings.
type distances struct {
	spacing float64 // least distance between two holes, 0 for one hole
	rows    float64 // least distance across the grain between two holes, 0 if none
	span    float64 // greatest distance across the grain
}

func measure(holes []Hole, grain Grain) distances {
	var d distances
	for i, a := range holes {
		for _, b := range holes[:i] {
			apart := math.Hypot(a.X-b.X, a.Y-b.Y)
			across := math.Abs(a.X - b.X)
			if grain == GrainAcross {
				across = math.Abs(a.Y - b.Y)
			}
			if d.spacing == 0 || apart < d.spacing {
				d.spacing = apart
			}
			if across > nearest && (d.rows == 0 || across < d.rows) {
				d.rows = across
			}
			d.span = max(d.span, across)
		}
	}
	return d
}

// acrossLimit is the greatest span of one group of fixings across the grain of
// sawn lumber: 5 in (NDS 2018 §12.5.1.3).
const acrossLimit = 5 * inch

// arrange applies NDS 2018 §12.5.1 to the pattern and returns C_Δ, the geometry
// factor on lateral values.
func (s *Screening) arrange(j *job, d Dimensions, bearing float64) float64 {
	dia := d.Diameter
	large := inches(dia) >= 0.25
	shears, hangs := j.load.shears(), j.load.hangs()
	across := j.load.acrossGrain(j.base.Grain)
	m := measure(j.load.Plate.Holes, j.base.Grain)

	edge, mark := EdgeDistance(dia, across)
	source := "NDS commentary"
	if large {
		source = "NDS 2018 Tables 12.5.1C, 12.5.1E"
	}
	if large && shears && !across && bearing > 6*dia && m.rows > 0 && m.rows < j.base.Width {
		edge = max(edge, m.rows/2)
	}
	s.edge(j, edge, source, mark)
	if !large {
		return 1
	}
	geometry := 1.0
	if m.spacing > 0 {
		least := 3 * dia
		if hangs {
			least = 4 * dia
		}
		switch {
		case micro(m.spacing) < micro(least):
			s.refuse("Spacing of the holes", "The holes are too close to each other for this diameter.",
				least, m.spacing, "m", "NDS 2018 Tables 12.5.1B, 12.5.1E", figure.Secondary)
		case m.spacing < 4*dia:
			geometry = m.spacing / (4 * dia)
		}
	}
	if end := j.base.End; end > 0 {
		half, full := 3.5*dia, 7*dia
		if across || !shears {
			half, full = 2*dia, 4*dia
		}
		if hangs {
			half = 4 * dia
		}
		if micro(end) < micro(half) {
			s.refuse("End distance", "The fixing is too close to the end of the member.",
				half, end, "m", "NDS 2018 Tables 12.5.1A, 12.5.1E", figure.Secondary)
		} else if end < full {
			geometry = min(geometry, end/full)
		}
	}
	// Holes further apart than the member is wide sit in different members.
	if m.span > acrossLimit && j.base.Width >= m.span {
		s.refuse("Span across the grain", "Fixings this far apart across the grain of one member split it as it shrinks.",
			acrossLimit, m.span, "m", "NDS 2018 §12.5.1.3", figure.Secondary)
	}
	return geometry
}

// edge judges the distance to the edge of the member.
func (s *Screening) edge(j *job, wanted float64, source string, mark figure.Mark) {
	s.EdgeWanted = wanted
	if j.base.Width == 0 {
		s.Open = append(s.Open, Finding{Name: "Edge distance", Says: "The width of the member is not known, so the distance to its edge cannot be judged.",
			Wanted: wanted, Unit: "m", Source: source, Mark: mark})
		return
	}
	s.EdgeLeft = j.base.Width/2 - math.Abs(j.base.OffCentre)
	if micro(s.EdgeLeft) < micro(wanted) {
		s.refuse("Edge distance", "The fixing is too close to the edge of the member.", wanted, s.EdgeLeft, "m", source, mark)
	}
}

// micro rounds to whole micrometres: limits are judged on integers.
func micro(metres float64) int64 { return int64(math.Round(metres * 1e6)) }

package layout

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"hangtrue/compute/place"
)

var (
	// ErrLabel is returned when a direction is given for a loudspeaker that the layout does not have.
	ErrLabel = errors.New("layout: unknown loudspeaker")
	// ErrDirection is returned when a direction is not finite or its elevation is beyond straight up or down.
	ErrDirection = errors.New("layout: direction out of range")
)

// Finding compares one actual direction with its position. All angles are radians.
type Finding struct {
	Loudspeaker *Loudspeaker
	Actual      Direction
	// Deviation from the nominal direction, see [Loudspeaker.Deviation]; means nothing unless Loudspeaker.NominalSpecified.
	Deviation Direction
	// Outside is how far beyond the permitted ranges, see [Loudspeaker.OutsideBy].
	Outside Direction
	// OutsideAlternative is the same by the other edition's data; equal to Outside where the editions agree.
	OutsideAlternative Direction
}

// PairFinding compares two loudspeakers that mirror each other.
type PairFinding struct {
	Labels [2]string
	// Azimuth is the sum of both azimuths, 0 when mirrored, positive when the pair as a whole is turned left.
	Azimuth float64
	// Elevation is the first minus the second.
	Elevation float64
	Rule      Rule
}

// GapFinding is the azimuth between two loudspeakers.
type GapFinding struct {
	Labels [2]string
	Gap    float64 // 0 to pi
	// OutsideBy is 0 inside Rule.Min to Rule.Max, positive when too wide, negative when too narrow.
	OutsideBy float64
	Rule      Rule
}

// Findings is what a set of directions gives against a layout.
type Findings struct {
	Loudspeakers []Finding // in the layout's order
	Missing      []string  // labels without a direction, in the layout's order
	Pairs        []PairFinding
	Gaps         []GapFinding
}

// Check compares actual directions, by label, with the layout. Labels without a direction are listed as missing, and
// rules that need one of them are left out. The error is [ErrLabel] or [ErrDirection] and names the label.
func (l *Layout) Check(actual map[string]Direction) (Findings, error) {
	if err := l.validate(actual); err != nil {
		return Findings{}, err
	}
	var f Findings
	for i := range l.Loudspeakers {
		s := &l.Loudspeakers[i]
		d, ok := actual[s.Label]
		if !ok {
			f.Missing = append(f.Missing, s.Label)
			continue
		}
		one := Finding{Loudspeaker: s, Actual: d}
		one.Deviation.Azimuth, one.Deviation.Elevation = s.Deviation(d)
		one.Outside.Azimuth, one.Outside.Elevation = s.OutsideBy(d)
		one.OutsideAlternative = one.Outside
		if s.Alternative != nil {
			one.OutsideAlternative.Azimuth, one.OutsideAlternative.Elevation = s.Alternative.OutsideBy(d)
		}
		f.Loudspeakers = append(f.Loudspeakers, one)
	}
	for _, r := range l.Rules {
		a, okA := actual[r.Labels[0]]
		b, okB := actual[r.Labels[1]]
		if !okA || !okB {
			continue
		}
		switch r.Kind {
		case SymmetricPair:
			f.Pairs = append(f.Pairs, PairFinding{r.Labels, place.Wrap(a.Azimuth + b.Azimuth), a.Elevation - b.Elevation, r})
		case AzimuthGap:
			gap := math.Abs(place.Wrap(a.Azimuth - b.Azimuth))
			f.Gaps = append(f.Gaps, GapFinding{r.Labels, gap, outsideInterval(gap, Range{r.Min, r.Max}), r})
		}
	}
	return f, nil
}

// validate reports the alphabetically first bad label, so that the same input gives the same error.
func (l *Layout) validate(actual map[string]Direction) error {
	labels := make([]string, 0, len(actual))
	for label := range actual {
		labels = append(labels, label)
	}
	slices.Sort(labels)
	for _, label := range labels {
		if _, ok := l.Loudspeaker(label); !ok {
			return fmt.Errorf("%w: read %.40q, want a label of %s", ErrLabel, label, l.Name)
		}
		d := actual[label]
		if !finite(d.Azimuth) || !(math.Abs(d.Elevation) <= math.Pi/2+quantum) {
			return fmt.Errorf("%w: %s: read azimuth %g, elevation %g, want finite radians with elevation within half pi",
				ErrDirection, label, d.Azimuth, d.Elevation)
		}
	}
	return nil
}

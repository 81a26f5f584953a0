package layout

import (
	"fmt"
	"math"
	"slices"

	"hangtrue/compute/place"
)

// Layout is a named set of loudspeaker directions.
type Layout struct {
	System       string // letter of the Sound System in BS.2051, empty if Derived
	Name         string // upper + middle + lower loudspeakers, "4+7+0"
	Title        string
	Basis        string // the document the layout is taken from
	Derived      bool   // a subset of a Sound System that has no letter of its own
	Note         string
	Home         []string // home notations for display, with x for the number of subwoofers: "7.x.4"
	Sources      []Source
	Loudspeakers []Loudspeaker // in the order of the source
	Rules        []Rule
}

// Source is where figures come from.
type Source struct {
	Edition string // edition of the standard that the source carries
	Where   string
}

// Loudspeaker is one position of a layout.
type Loudspeaker struct {
	Label     string // layer and nominal azimuth in degrees: "M+090"; U upper, UH upper-high, T top, M middle, B bottom
	Short     string // common short name, may be empty
	Pair      string // label of the mirrored loudspeaker, empty if none
	Azimuth   float64
	Elevation float64
	// NominalSpecified is false if the recommendation gives no nominal direction; Azimuth and Elevation then only hold a place.
	NominalSpecified bool
	Bands            []Range // permitted azimuths, at least one
	ElMin, ElMax     float64 // permitted elevations
	LFE              bool
	Edition          string       // edition of the data that Bands, ElMin and ElMax are from
	Alternative      *Alternative // nil where the editions agree
}

// Alternative is the permitted range by the data for another edition.
type Alternative struct {
	Azimuth   Range
	Elevation Range
	Source    Source
}

// RuleKind says what a rule of a layout compares.
type RuleKind string

const (
	// SymmetricPair wants mirrored azimuths and equal elevations; no tolerance is known to be published.
	SymmetricPair RuleKind = "symmetric_pair"
	// AzimuthGap wants the difference of two azimuths between Min and Max.
	AzimuthGap RuleKind = "azimuth_gap"
)

// Rule ties two loudspeakers together.
type Rule struct {
	Kind     RuleKind
	Labels   [2]string
	Min, Max float64 // radians, for AzimuthGap
	Source   Source
	Verified bool // false: read for another system, assumed for this one
	Note     string
}

// All returns every layout, Sound Systems A to J first. Layouts are shared: do not change them.
func All() []*Layout { return slices.Clone(published().list) }

// ByName finds a layout by its n+n+n name. The layout is shared: do not change it.
func ByName(name string) (*Layout, bool) {
	l, ok := published().byName[name]
	return l, ok
}

// ByHome finds the layout a home notation is shown for; any digit may stand for the x ("7.1.4" for "7.x.4"). Home
// notations are trade convention and name no layout in a job: store [Layout.Name].
func ByHome(home string) (*Layout, bool) {
	for _, l := range published().list {
		for _, h := range l.Home {
			if sameHome(h, home) {
				return l, true
			}
		}
	}
	return nil, false
}

func sameHome(pattern, home string) bool {
	if len(pattern) != len(home) {
		return false
	}
	for i := range len(home) {
		digit := '0' <= home[i] && home[i] <= '9'
		if pattern[i] != home[i] && !(pattern[i] == 'x' && digit) {
			return false
		}
	}
	return true
}

// Loudspeaker finds a position by its label.
func (l *Layout) Loudspeaker(label string) (*Loudspeaker, bool) {
	for i := range l.Loudspeakers {
		if l.Loudspeakers[i].Label == label {
			return &l.Loudspeakers[i], true
		}
	}
	return nil, false
}

// Permitted gives the ranges (radians) in which the named loudspeaker may stand; ok is false for an unknown label.
func (l *Layout) Permitted(label string) (azimuth []Range, elevation Range, ok bool) {
	s, ok := l.Loudspeaker(label)
	if !ok {
		return nil, Range{}, false
	}
	return s.Bands, s.ElevationRange(), true
}

// Nominal is the direction the layout asks for.
func (s *Loudspeaker) Nominal() Direction {
	return Direction{Azimuth: s.Azimuth, Elevation: s.Elevation}
}

// ElevationRange is the permitted range of elevation.
func (s *Loudspeaker) ElevationRange() Range { return Range{s.ElMin, s.ElMax} }

// Sectors are the permitted directions, one sector for each range of azimuths, none where [Loudspeaker.Anywhere]. A
// range of no width only names a direction: it is widened by a tolerance of the caller's own (radians).
func (s *Loudspeaker) Sectors(azimuth, elevation float64) []place.Sector {
	if s.Anywhere() {
		return nil
	}
	widened := func(r Range, by float64) Range {
		if r.Target() {
			r.From, r.To = r.From-by, r.To+by
		}
		return r
	}
	el := widened(s.ElevationRange(), elevation)
	var sectors []place.Sector
	for _, band := range s.Bands {
		if s.zenith() {
			band = Range{-math.Pi, math.Pi}
		}
		az := widened(band, azimuth)
		sectors = append(sectors, place.Sector{AzimuthMin: az.From, AzimuthMax: az.To,
			ElevationMin: math.Max(el.From, -math.Pi/2), ElevationMax: math.Min(el.To, math.Pi/2)})
	}
	return sectors
}

// Anywhere tells whether every direction is permitted, as for a low-frequency loudspeaker without a prescribed position.
func (s *Loudspeaker) Anywhere() bool {
	return s.Bands[0].AnyAzimuth() && steps(s.ElMin) == steps(-math.Pi/2) && steps(s.ElMax) == steps(math.Pi/2)
}

// zenith tells whether the position is straight up, where azimuth has no meaning.
func (s *Loudspeaker) zenith() bool { return steps(s.ElMin) == steps(math.Pi/2) }

// Deviation is d minus the nominal direction, in radians: azimuth in (-pi, pi], positive when d is too far left,
// elevation positive when too high. Straight up the azimuth deviation is 0. It says nothing about a position whose
// nominal direction is not specified.
func (s *Loudspeaker) Deviation(d Direction) (azimuth, elevation float64) {
	if !s.zenith() {
		azimuth = place.Wrap(d.Azimuth - s.Azimuth)
	}
	return azimuth, d.Elevation - s.Elevation
}

// OutsideBy is how far d lies outside the permitted ranges, in radians: 0 inside, azimuth positive when too far left,
// elevation positive when too high. Straight up the azimuth is never outside.
func (s *Loudspeaker) OutsideBy(d Direction) (azimuth, elevation float64) {
	if !s.zenith() {
		azimuth = outsideBands(d.Azimuth, s.Bands)
	}
	return azimuth, outsideInterval(d.Elevation, s.ElevationRange())
}

func outsideBands(az float64, bands []Range) float64 {
	best := math.Inf(1)
	for _, b := range bands {
		if out, ok := outsideArc(az, b); ok && math.Abs(out) < math.Abs(best) {
			best = out
		}
	}
	return best
}

// OutsideBy is as [Loudspeaker.OutsideBy], for the other edition's range.
func (a *Alternative) OutsideBy(d Direction) (azimuth, elevation float64) {
	azimuth = outsideBands(d.Azimuth, []Range{a.Azimuth})
	return azimuth, outsideInterval(d.Elevation, a.Elevation)
}

// Difference is one range that two editions' data give differently.
type Difference struct {
	Quantity string // "azimuth" or "elevation"
	Edition  string
	Range    Range
	Other    string // the other edition
	OtherIs  Range
}

// Differences lists what the editions disagree on, empty where they agree.
func (s *Loudspeaker) Differences() []Difference {
	a := s.Alternative
	if a == nil {
		return nil
	}
	var d []Difference
	if whole := (Range{s.Bands[0].From, s.Bands[len(s.Bands)-1].To}); !same(whole, a.Azimuth) {
		d = append(d, Difference{"azimuth", s.Edition, whole, a.Source.Edition, a.Azimuth})
	}
	if el := s.ElevationRange(); !same(el, a.Elevation) {
		d = append(d, Difference{"elevation", s.Edition, el, a.Source.Edition, a.Elevation})
	}
	return d
}

// String states both sides in degrees: "azimuth: data of ITU-R BS.2051-1 100 to 135°, of ITU-R BS.2051-3 110 to 135°".
func (d Difference) String() string {
	return fmt.Sprintf("%s: data of %s %s, of %s %s", d.Quantity, d.Edition, d.Range, d.Other, d.OtherIs)
}

// String writes the range in degrees: "100 to 120°", a target as "30°".
func (r Range) String() string {
	if r.Target() {
		return fmt.Sprintf("%g°", degrees(r.From))
	}
	return fmt.Sprintf("%g to %g°", degrees(r.From), degrees(r.To))
}

// degrees is rounded to a thousandth, below what any text shows, so that 30° does not print as 29.999999999999996.
func degrees(angle float64) float64 { return math.Round(angle*180/math.Pi*1000) / 1000 }

func same(a, b Range) bool { return steps(a.From) == steps(b.From) && steps(a.To) == steps(b.To) }

package rack

import (
	"cmp"
	"fmt"
	"math"
)

// Sizes of 19 in racks in metres (EIA/ECA-310-E and the IEC 60297-3-100 series, read through secondary tables).
const (
	UnitHeight  = 0.04445 // 1 U
	PanelGap    = 0.00079 // by which a panel is lower than its units
	PanelWidth  = 0.4826
	HoleCentres = 0.4651  // across, hole centre to hole centre
	Opening     = 0.45085 // clear width between the rails
)

// HolePitch is the spacing of the mounting holes within one unit, in metres, from one hole to the next and on to the next
// unit's first.
func HolePitch() [3]float64 { return [3]float64{0.015875, 0.015875, 0.0127} }

// PanelHeight is the height in metres of a panel of n units: 44.45 mm·n - 0.79 mm. n is 1 to [MaxUnits], else an [ErrUnits].
func PanelHeight(n int) (float64, error) {
	if err := checkUnits("panel", n, 1); err != nil {
		return 0, err
	}
	return float64(float64(n)*UnitHeight) - PanelGap, nil
}

func checkUnits(field string, n, least int) error {
	if n < least || n > MaxUnits {
		return fmt.Errorf("%w: %s: read %d, want %d to %d", ErrUnits, field, n, least, MaxUnits)
	}
	return nil
}

// Item is a piece of equipment in the rack, or outside it on the same circuit. Powers are watts, the mass kilograms.
type Item struct {
	Name     string
	Units    int // height; 0: it stands elsewhere
	Position int // its lowest unit, counted from 1 at the bottom; 0: not placed yet
	Mass     float64
	// Heat and Mains are the maker's figures at the duty to plan for, 1/8 of full power for amplifiers; 0: not known.
	Heat  float64
	Mains float64
	// Rated is the full power of all channels of an amplifier together, 0 for anything else.
	Rated float64
	// Efficiency is an amplifier's at 1/8 of full power, used only where a maker's figure is missing; 0: not known. See
	// [LinearEfficiency] and [SwitchingEfficiency].
	Efficiency float64
}

// Span is a run of units, First to Last, counted from 1 at the bottom.
type Span struct{ First, Last int }

// Units is how many it holds.
func (s Span) Units() int { return s.Last - s.First + 1 }

// Overlap is two items that want the same units.
type Overlap struct {
	A, B string
	Span
}

// Fill is how a rack is filled.
type Fill struct {
	Used     int       // units that at least one placed item takes
	Left     int       // units that none takes
	Gaps     []Span    // where those are, from the bottom
	Overlaps []Overlap // in the order of the items
	Outside  []string  // items that reach below or above the rack
	Unplaced []string  // items with a height and no position
	Short    int       // units by which all items with a height need more than the rack has; 0: they fit in number
	Mass     float64   // kilograms, of items with a height
	// Overloaded tells that the mass is more than the rack may carry, compared in whole grams.
	Overloaded bool
}

// Clear tells that every item has a place of its own and the rack carries them.
func (f Fill) Clear() bool {
	return len(f.Overlaps) == 0 && len(f.Outside) == 0 && len(f.Unplaced) == 0 && f.Short == 0 && !f.Overloaded
}

// Stack puts the items into a rack of some units that may carry a mass in kilograms (0: not known) and tells what is taken,
// left and in conflict. Conflicts are findings; an error is input that means nothing.
func Stack(units int, carries float64, items []Item) (Fill, error) {
	if err := cmp.Or(checkUnits("rack", units, 1), between("load the rack may carry", carries, 0, MaxMass), checkItems(items)); err != nil {
		return Fill{}, err
	}
	var f Fill
	taken := make([]bool, units+1)
	wanted := 0
	for i, it := range items {
		if it.Units == 0 {
			continue
		}
		f.Mass += it.Mass
		wanted += it.Units
		if it.Position == 0 {
			f.Unplaced = append(f.Unplaced, it.Name)
			continue
		}
		s := it.span()
		if s.First < 1 || s.Last > units {
			f.Outside = append(f.Outside, it.Name)
		}
		for u := max(1, s.First); u <= min(units, s.Last); u++ {
			taken[u] = true
		}
		for _, other := range items[:i] {
			if both := s.meet(other.span()); other.Position != 0 && other.Units != 0 && both.Units() > 0 {
				f.Overlaps = append(f.Overlaps, Overlap{A: other.Name, B: it.Name, Span: both})
			}
		}
	}
	f.free(taken)
	f.Short = max(0, wanted-units)
	f.Overloaded = carries > 0 && milli(f.Mass) > milli(carries)
	return f, nil
}

func (it Item) span() Span { return Span{it.Position, it.Position + it.Units - 1} }

func (s Span) meet(t Span) Span { return Span{max(s.First, t.First), min(s.Last, t.Last)} }

// free counts the units and finds the gaps; unit 0 does not exist.
func (f *Fill) free(taken []bool) {
	for u := 1; u < len(taken); u++ {
		switch {
		case taken[u]:
			f.Used++
			continue
		case len(f.Gaps) > 0 && f.Gaps[len(f.Gaps)-1].Last == u-1:
			f.Gaps[len(f.Gaps)-1].Last = u
		default:
			f.Gaps = append(f.Gaps, Span{u, u})
		}
		f.Left++
	}
}

func checkItems(items []Item) error {
	if len(items) > MaxItems {
		return fmt.Errorf("%w: items: read %d, want at most %d", ErrNumber, len(items), MaxItems)
	}
	names := make(map[string]bool, len(items))
	for i, it := range items {
		if it.Name == "" || names[it.Name] {
			return fmt.Errorf("%w: item %d: read %q, want a name of its own", ErrName, i+1, it.Name)
		}
		names[it.Name] = true
		if err := it.check(); err != nil {
			return err
		}
	}
	return nil
}

func (it Item) check() error {
	field := func(name string) string { return fmt.Sprintf("item %q %s", it.Name, name) }
	err := cmp.Or(
		checkUnits(field("height"), it.Units, 0),
		between(field("mass"), it.Mass, 0, MaxMass),
		between(field("heat"), it.Heat, 0, MaxPower),
		between(field("mains power"), it.Mains, 0, MaxPower),
		between(field("rated power"), it.Rated, 0, MaxPower),
	)
	if err == nil && it.Efficiency != 0 {
		err = between(field("efficiency"), it.Efficiency, 0.01, 1)
	}
	if err == nil && math.Abs(float64(it.Position)) > 10*MaxUnits {
		err = fmt.Errorf("%w: %s: read %d, want a unit of the rack", ErrUnits, field("position"), it.Position)
	}
	return err
}

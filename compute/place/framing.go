package place

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// FramingKind is what a surface is built of behind its lining.
type FramingKind uint8

const (
	Other    FramingKind = iota // nothing known to hold a fixing
	Studs                       // studs or joists at a spacing
	Masonry                     // brick or block: holds anywhere
	Concrete                    // holds anywhere
)

var framingNames = [...]string{Other: "other", Studs: "studs", Masonry: "masonry", Concrete: "concrete"}

// String gives "other", "studs", "masonry" or "concrete".
func (k FramingKind) String() string {
	if int(k) < len(framingNames) {
		return framingNames[k]
	}
	return fmt.Sprintf("FramingKind(%d)", uint8(k))
}

// Framing is the construction of a surface. Studs run in the up direction, their centres at First + k·Spacing along;
// with Across they run in the along direction and the centres are counted up (joists, battens). All in metres.
type Framing struct {
	Kind    FramingKind
	Across  bool
	Spacing float64   // from centre to centre; 0 when only Found is known
	First   float64   // centre of one regular member
	Width   float64   // of a member's face, the side a screw enters
	Depth   float64   // of a member, from its face on
	Found   []float64 // centres found on site; each replaces the regular one nearest to it
}

func (f Framing) check() error {
	if int(f.Kind) >= len(framingNames) {
		return fmt.Errorf("%w: framing kind: read %d, want other, studs, masonry or concrete", ErrNumber, uint8(f.Kind))
	}
	return cmp.Or(notNegative("framing spacing", f.Spacing), finite("framing first", f.First),
		notNegative("framing width", f.Width), notNegative("framing depth", f.Depth), finite("framing found", f.Found...))
}

// With is the framing after a member's centre (metres) was found on site. It takes the place of what was found before
// within half a spacing of it. A centre that is not finite changes nothing.
func (f Framing) With(found float64) Framing {
	if finite("found", found) != nil {
		return f
	}
	others := slices.DeleteFunc(slices.Clone(f.Found), func(x float64) bool { return math.Abs(x-found) < f.Spacing/2 })
	f.Found = append(others, found)
	return f
}

// mostMembers bounds the regular members of one surface: a longer list means a slip in the spacing.
const mostMembers = 1000

// Members are the centres of the studs between two coordinates, in ascending order: the regular ones, but where a found
// centre lies within half a spacing of one, the found centre in its place. Found centres count even where nothing is
// regular. Only [Studs] have members; more than 1000 regular ones in the range count as none.
func (f Framing) Members(from, to float64) []float64 {
	if f.Kind != Studs {
		return nil
	}
	var centres []float64
	if f.Spacing > 0 {
		// One more on either side: a found centre may move it into the range, or the regular one out.
		k0, k1 := math.Ceil((from-f.First)/f.Spacing)-1, math.Floor((to-f.First)/f.Spacing)+1
		for k := k0; k <= k1 && k1-k0 < mostMembers; k++ {
			regular := f.First + float64(k*f.Spacing)
			replaced := slices.ContainsFunc(f.Found, func(c float64) bool { return math.Round((c-f.First)/f.Spacing) == k })
			if !replaced && from <= regular && regular <= to {
				centres = append(centres, regular)
			}
		}
	}
	for _, c := range f.Found {
		if from <= c && c <= to {
			centres = append(centres, c)
		}
	}
	slices.Sort(centres)
	return slices.Compact(centres)
}

// MemberFaces are the rectangles (low corner, high corner) that the members behind a surface show on it: as wide as each is,
// over every stretch of its middle line that lies inside the outline. They may reach past an outline that is not
// upright there.
func (s *Surface) MemberFaces() [][2]Spot {
	f := s.Framing
	low, high := Extent(s.Outline)
	from, to := low.Along, high.Along
	if f.Across {
		from, to = low.Up, high.Up
	}
	var all [][2]Spot
	for _, c := range f.Members(from, to) {
		for _, run := range runs(s.Outline, c, f.Across) {
			a, b := Spot{Along: c - f.Width/2, Up: run[0]}, Spot{Along: c + f.Width/2, Up: run[1]}
			if f.Across {
				a, b = Spot{Along: run[0], Up: c - f.Width/2}, Spot{Along: run[1], Up: c + f.Width/2}
			}
			all = append(all, [2]Spot{a, b})
		}
	}
	return all
}

// runs are the stretches of a line that lie within an outline, from where it enters to where it leaves, by even and odd.
// The line stands at middle along and runs up; with across it stands at middle up and runs along.
func runs(outline []Spot, middle float64, across bool) [][2]float64 {
	var cuts []float64
	for i, a := range outline {
		b := outline[(i+1)%len(outline)]
		if across {
			a, b = Spot{Along: a.Up, Up: a.Along}, Spot{Along: b.Up, Up: b.Along}
		}
		if (a.Along <= middle) != (b.Along <= middle) {
			cuts = append(cuts, a.Up+(middle-a.Along)/(b.Along-a.Along)*(b.Up-a.Up))
		}
	}
	slices.Sort(cuts)
	var all [][2]float64
	for i := 0; i+1 < len(cuts); i += 2 {
		all = append(all, [2]float64{cuts[i], cuts[i+1]})
	}
	return all
}

package place

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

const (
	// square is how far along·up of a surface may be from zero after normalising.
	square = 1e-9
	// border is how far outside an outline (metres) a point still counts as on it: rounding, not tolerance.
	border = 1e-9
	// leastArea is the smallest area (m²) an outline may have; less is a slip.
	leastArea = 1e-9
)

// Spot is a point on a surface in tape coordinates (metres): along from the surface's datum corner, up from its datum edge.
type Spot struct{ Along, Up float64 }

// TapeCorrection is how far to move from one spot to another, as a tape shows it (metres).
func TapeCorrection(from, to Spot) (dAlong, dUp float64) {
	return to.Along - from.Along, to.Up - from.Up
}

func (p Spot) plus(q Spot) Spot        { return Spot{p.Along + q.Along, p.Up + q.Up} }
func (p Spot) minus(q Spot) Spot       { return Spot{p.Along - q.Along, p.Up - q.Up} }
func (p Spot) times(k float64) Spot    { return Spot{k * p.Along, k * p.Up} }
func (p Spot) dot(q Spot) float64      { return float64(p.Along*q.Along) + float64(p.Up*q.Up) }
func (p Spot) cross(q Spot) float64    { return float64(p.Along*q.Up) - float64(p.Up*q.Along) }
func (p Spot) norm() float64           { return math.Hypot(p.Along, p.Up) }
func (p Spot) check(f string) error    { return finite(f, p.Along, p.Up) }
func (p Spot) distance(q Spot) float64 { return p.minus(q).norm() }

// Area is a rectangle in tape coordinates: a door, a window, a strip where a pipe or cable is known to run. Clearance is
// the distance (metres) to keep around it.
type Area struct {
	Name      string
	Min, Max  Spot
	Clearance float64
}

func (a Area) check(kind string) error {
	field := fmt.Sprintf("%s %q", kind, a.Name)
	if err := cmp.Or(a.Min.check(field), a.Max.check(field), notNegative(field+" clearance", a.Clearance)); err != nil {
		return err
	}
	if !(a.Min.Along < a.Max.Along && a.Min.Up < a.Max.Up) {
		return fmt.Errorf("%w: %s: read %v to %v, want a rectangle with a size", ErrNumber, field, a.Min, a.Max)
	}
	return nil
}

// corners are the area's corners, anticlockwise.
func (a Area) corners() []Spot {
	return []Spot{a.Min, {a.Max.Along, a.Min.Up}, a.Max, {a.Min.Along, a.Max.Up}}
}

// Surface is a plane of the room with its own tape coordinates. Along and Up are unit vectors square to each other, and
// Along × Up points into the room. Facing a wall from inside, along starts at its left corner and up at the finished
// floor; on a ceiling along starts at the left wall and up (there called out) at the front wall.
type Surface struct {
	Name      string
	Origin    Vec     // where along and up are both zero
	Along, Up Vec     // unit vectors in the room frame
	Outline   []Spot  // simple polygon, anticlockwise
	Cuts      []Cut   // parts of the outline that are not there
	Openings  []Area  // doors, windows
	KeepOuts  []Area  // known pipes and cables
	Lining    float64 // thickness of what covers the construction, metres
	Framing   Framing
}

// Cut is a part of a surface's outline that is not there: where a chimney breast stands against a wall, or the mouth of an
// alcove. It is a simple polygon, anticlockwise, within the outline; it may share an edge with the outline or with another
// cut, but overlaps none.
type Cut struct {
	Name    string
	Outline []Spot
}

// Extent is the rectangle around a cut, under its name.
func (c Cut) Extent() Area {
	low, high := Extent(c.Outline)
	return Area{Name: c.Name, Min: low, Max: high}
}

// NewSurface checks a surface and brings it into normal form: along and up of length 1, the outline anticlockwise. The
// outline and the cuts may be given either way round and must have at least three vertices, an area and no crossing; that
// the cuts lie apart and within the outline is not looked at. Errors: [ErrNumber], [ErrFrame], [ErrOutline].
func NewSurface(s Surface) (Surface, error) {
	if err := cmp.Or(s.Origin.check("origin"), s.Along.check("along"), s.Up.check("up"), notNegative("lining", s.Lining), s.Framing.check()); err != nil {
		return Surface{}, s.wrap(err)
	}
	s.Along, s.Up = s.Along.Unit(), s.Up.Unit()
	if along, up := s.Along.Norm(), s.Up.Norm(); math.Abs(along-1) > square || math.Abs(up-1) > square || math.Abs(s.Along.Dot(s.Up)) > square {
		return Surface{}, s.wrap(fmt.Errorf("%w: read along %v and up %v", ErrFrame, s.Along, s.Up))
	}
	var err error
	if s.Outline, err = anticlockwise("outline", s.Outline); err != nil {
		return Surface{}, s.wrap(err)
	}
	cuts := make([]Cut, len(s.Cuts))
	for i, c := range s.Cuts {
		if c.Outline, err = anticlockwise(fmt.Sprintf("cut %q", c.Name), c.Outline); err != nil {
			return Surface{}, s.wrap(err)
		}
		cuts[i] = c
	}
	if s.Cuts = cuts; len(cuts) == 0 {
		s.Cuts = nil
	}
	for _, a := range s.Openings {
		if err := a.check("opening"); err != nil {
			return Surface{}, s.wrap(err)
		}
	}
	for _, a := range s.KeepOuts {
		if err := a.check("keep-out"); err != nil {
			return Surface{}, s.wrap(err)
		}
	}
	return s, nil
}

// anticlockwise is a simple polygon with an area, brought into the order of normal form.
func anticlockwise(field string, polygon []Spot) ([]Spot, error) {
	if len(polygon) < 3 {
		return nil, fmt.Errorf("%w: %s: read %d vertices, want at least 3", ErrOutline, field, len(polygon))
	}
	for i, v := range polygon {
		if err := v.check(fmt.Sprintf("%s vertex %d", field, i)); err != nil {
			return nil, err
		}
	}
	size := area(polygon)
	if math.Abs(size) < leastArea || !simple(polygon) {
		return nil, fmt.Errorf("%w: %s: read %v, want an area and edges that do not cross", ErrOutline, field, polygon)
	}
	ordered := slices.Clone(polygon)
	if size < 0 {
		slices.Reverse(ordered)
	}
	return ordered, nil
}

func (s Surface) wrap(err error) error { return fmt.Errorf("surface %q: %w", s.Name, err) }

// At is the point of the room frame at a spot.
func (s *Surface) At(p Spot) Vec { return s.Origin.plus(p.Along, s.Along).plus(p.Up, s.Up) }

// levelRise is the rise in a metre up to which a direction on a surface counts as level.
const levelRise = 0.2

// Rises tells whether up leads uphill, as on a wall. On a ceiling and a floor it runs level, on a slope it may run level or
// downhill: there the second coordinate is called out.
func (s *Surface) Rises() bool { return s.Up.Z > levelRise }

// AlongIsLevel tells whether the line through a spot along the surface is level, as on a wall. On a slope at a side wall it
// leads uphill, and the level line through a spot is that of one along.
func (s *Surface) AlongIsLevel() bool { return math.Abs(s.Along.Z) <= levelRise }

// Normal is the unit vector square to the surface that points into the room, Along × Up.
func (s *Surface) Normal() Vec { return s.Along.Cross(s.Up) }

// Locate is the spot at the foot of the perpendicular from a point of the room frame, and how far out from the surface
// into the room the point lies (metres, negative behind).
func (s *Surface) Locate(p Vec) (spot Spot, out float64) {
	d := p.Sub(s.Origin)
	return Spot{d.Dot(s.Along), d.Dot(s.Up)}, d.Dot(s.Normal())
}

// Contains tells whether a spot lies on the surface, its edges included: within the outline and not in a cut. Openings are
// part of the surface.
func (s *Surface) Contains(p Spot) bool { return s.DistanceToEdge(p) >= -border }

// DistanceToEdge is the distance (metres) from a spot to the nearest edge of the surface, be it of the outline or of a cut;
// negative off the surface.
func (s *Surface) DistanceToEdge(p Spot) float64 {
	least, _ := signedDistance(s.Outline, p)
	for _, c := range s.Cuts {
		d, _ := signedDistance(c.Outline, p)
		least = math.Min(least, -d)
	}
	return least
}

// Area is what the surface measures, openings included and cuts left out, in m².
func (s *Surface) Area() float64 {
	sum := area(s.Outline)
	for _, c := range s.Cuts {
		sum -= area(c.Outline)
	}
	return sum
}

// Reaches tells whether an area reaches into a cut, and into which first.
func (s *Surface) Reaches(a Area) (Cut, bool) {
	window := block{low: Vec{a.Min.Along, a.Min.Up, -1}, high: Vec{a.Max.Along, a.Max.Up, 1}}
	for _, c := range s.Cuts {
		if len(window.covers(&Surface{Along: Vec{X: 1}, Up: Vec{Y: 1}, Outline: c.Outline})) > 0 {
			return c, true
		}
	}
	return Cut{}, false
}

// Obstacle is what a hole must keep away from.
type Obstacle uint8

const (
	Edge    Obstacle = iota // of the surface: of its outline or a cut
	Opening                 // a door or window
	KeepOut                 // a known pipe or cable
)

var obstacleNames = [...]string{Edge: "edge", Opening: "opening", KeepOut: "keep-out"}

// String gives "edge", "opening" or "keep-out".
func (o Obstacle) String() string {
	if int(o) < len(obstacleNames) {
		return obstacleNames[o]
	}
	return fmt.Sprintf("Obstacle(%d)", uint8(o))
}

// Clearance is the obstacle that leaves a spot the least room.
type Clearance struct {
	Obstacle Obstacle
	Name     string  // of the opening or keep-out; empty for the edge
	Distance float64 // from the spot to the obstacle, metres; negative within an opening or keep-out, or outside the outline
	Spare    float64 // Distance less the distance to keep; negative when it is not kept
}

// ClearOf is what stands closest to a spot, by what is left of the distance to keep (metres): margin from the edges, the
// greater of margin and its own clearance from an opening or keep-out.
func (s *Surface) ClearOf(p Spot, margin float64) Clearance {
	d := s.DistanceToEdge(p)
	least := Clearance{Obstacle: Edge, Distance: d, Spare: d - margin}
	for i, areas := range [...][]Area{s.Openings, s.KeepOuts} {
		for _, a := range areas {
			inside, _ := signedDistance(a.corners(), p)
			if spare := -inside - math.Max(margin, a.Clearance); spare < least.Spare {
				least = Clearance{Obstacle: Opening + Obstacle(i), Name: a.Name, Distance: -inside, Spare: spare}
			}
		}
	}
	return least
}

// Hit is where a ray meets a surface.
type Hit struct {
	Surface  int // index in the list
	Spot     Spot
	Distance float64 // metres
}

// Meet is the first surface that a ray from a point meets, from either side: within its outline and not in a cut. The direction need not
// have length 1. Where two surfaces are met in one point, as in a corner, the earlier of the list counts. It is false
// when none is met, as for the zero direction.
func Meet(surfaces []Surface, from, direction Vec) (Hit, bool) {
	u := direction.Unit()
	best, found := Hit{Distance: math.Inf(1)}, false
	for i := range surfaces {
		s := &surfaces[i]
		spot, out := s.Locate(from)
		approach := -u.Dot(s.Normal())
		if approach == 0 {
			continue
		}
		t := out / approach
		if !(t > border && t < best.Distance-border) {
			continue
		}
		spot = Spot{spot.Along + t*u.Dot(s.Along), spot.Up + t*u.Dot(s.Up)}
		if s.Contains(spot) {
			best, found = Hit{i, spot, t}, true
		}
	}
	if !found {
		return Hit{}, false
	}
	return best, true
}

// Extent is the smallest rectangle around spots, of which there has to be one.
func Extent(spots []Spot) (low, high Spot) {
	low, high = spots[0], spots[0]
	for _, p := range spots[1:] {
		low = Spot{math.Min(low.Along, p.Along), math.Min(low.Up, p.Up)}
		high = Spot{math.Max(high.Along, p.Along), math.Max(high.Up, p.Up)}
	}
	return low, high
}

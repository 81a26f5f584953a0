package drawing

import (
	"math"
	"unicode"
	"unicode/utf8"

	"hangtrue/checklist/plan"
	"hangtrue/compute/place"
)

// SurfaceName says a surface as a person would: "left wall", "ceiling".
func SurfaceName(name string) string {
	switch name {
	case "front", "right", "rear", "left":
		return name + " wall"
	}
	return name
}

// Capital is a text with its first letter in upper case.
func Capital(s string) string {
	first, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToUpper(first)) + s[n:]
}

// member is what the framing of a surface is called by how it lies.
func member(s *place.Surface) string {
	switch z := math.Abs(s.Normal().Z); {
	case z < 0.3:
		return "stud"
	case z > 0.99:
		return "joist"
	}
	return "rafter"
}

func meets(s *place.Surface, all []place.Surface) Sides {
	side := func(right, up float64) string {
		best, most := place.Spot{}, math.Inf(-1)
		for i, a := range s.Outline {
			b := s.Outline[(i+1)%len(s.Outline)]
			// The outline runs anticlockwise, so that the outside is to its right.
			if facing := (b.Up-a.Up)*right - (b.Along-a.Along)*up; facing > most {
				best, most = place.Spot{Along: (a.Along + b.Along) / 2, Up: (a.Up + b.Up) / 2}, facing
			}
		}
		return nextTo(s, s.At(best), all)
	}
	return Sides{side(-1, 0), side(1, 0), side(0, -1), side(0, 1)}
}

// nextTo names the surface, other than s, that a point on the edge of s lies on.
func nextTo(s *place.Surface, p place.Vec, all []place.Surface) string {
	const near = 1e-3 // a survey's corners meet to a millimetre
	for i := range all {
		if all[i].Name == s.Name {
			continue
		}
		if spot, out := all[i].Locate(p); math.Abs(out) < near && all[i].DistanceToEdge(spot) > -near {
			return SurfaceName(all[i].Name)
		}
	}
	return ""
}

// Sides are the names of the surfaces that a surface meets as it is drawn, ""
// where there is none: the datum corner lies at its left and lower side.
type Sides struct{ Left, Right, Below, Above string }

// Datum says from where the two tape coordinates of a surface are measured.
func Datum(p *plan.Plan, surface string) (along, up string) {
	along, up = "from the datum corner", "from the datum edge"
	s, sides := surfaceAndSides(p, surface)
	if s == nil {
		return along, up
	}
	switch {
	case sides.Below == "floor":
		along, up = "from the left corner, facing it", "from the finished floor"
	case sides.Below != "" && sides.Left != "":
		along, up = "from the "+sides.Left, "from the "+sides.Below
	}
	return along + onSlope(s.Along), up + onSlope(s.Up)
}

// onSlope says of a tape coordinate that is neither level nor plumb that the tape lies on
// the surface: held level or plumb it would read less.
func onSlope(way place.Vec) string {
	if z := math.Abs(way.Z); 0.1 < z && z < 0.98 {
		return ", along the slope"
	}
	return ""
}

// SidesOf gives the sides of a plan's surface, all "" for one it does not have.
func SidesOf(p *plan.Plan, surface string) Sides {
	_, sides := surfaceAndSides(p, surface)
	return sides
}

func surfaceAndSides(p *plan.Plan, surface string) (*place.Surface, Sides) {
	if p == nil {
		return nil, Sides{}
	}
	all, err := p.Surfaces()
	if err != nil {
		return nil, Sides{}
	}
	for i := range all {
		if all[i].Name == surface {
			return &all[i], meets(&all[i], all)
		}
	}
	return nil, Sides{}
}

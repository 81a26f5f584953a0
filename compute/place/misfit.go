package place

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Misfit is a shape that its room cannot have. Other is the index of the shape that it runs into, -1 if the room itself is
// in the way. Size is the size at fault, in the words of [Shape] in lower case, empty where it is none alone. Read and
// Want say it in words.
type Misfit struct {
	Shape, Other int
	Size         string
	Read, Want   string
}

// Error names the shape by its number, from 1.
func (m Misfit) Error() string {
	return strings.Join(strings.Fields(fmt.Sprintf("place: shape %d %s", m.Shape+1, m.Size)), " ") + ": read " + m.Read + ", want " + m.Want
}

// Misfits are the shapes that the room cannot have: larger than the room, or running into each other. Sizes are compared
// in whole micrometres. What a shape that does not fit by itself would run into is not told, and nothing is told of a room
// whose own sizes mean nothing.
func (r ShapedBox) Misfits() []Misfit {
	sides, err := Box(r.Width, r.Length, r.Height)
	if err != nil {
		return nil
	}
	return r.misfits(sides)
}

func (r ShapedBox) misfits(sides []Surface) []Misfit {
	var found []Misfit
	fits := make([]bool, len(r.Shapes))
	for i, s := range r.Shapes {
		if m, ok := r.alone(s); !ok {
			m.Shape, m.Other = i, -1
			found = append(found, m)
			continue
		}
		fits[i] = true
	}
	for i, s := range r.Shapes {
		for j, other := range r.Shapes[:i] {
			if fits[i] && fits[j] && (r.collide(s, other, sides) || r.collide(other, s, sides)) {
				found = append(found, Misfit{Shape: i, Other: j, Read: fmt.Sprintf("%q, which runs into %q", s.Name, other.Name), Want: "shapes that keep clear of each other"})
			}
		}
	}
	return found
}

// micro is a length in whole micrometres.
func micro(x float64) float64 { return math.Round(x * 1e6) }

func inMetres(micrometres float64) string { return fmt.Sprintf("%.3f m", micrometres/1e6) }

// demand is what a size must keep, in whole micrometres, both ends included.
type demand struct {
	size        string
	value       float64 // metres
	least, most float64
	want        string
}

// alone holds a shape against the room by itself.
func (r ShapedBox) alone(s Shape) (Misfit, bool) {
	if !slices.Contains(Walls, s.Wall) {
		return Misfit{Size: "wall", Read: fmt.Sprintf("%q", s.Wall), Want: "one of " + strings.Join(Walls, ", ")}, false
	}
	for _, d := range r.demands(s) {
		if v := micro(d.value); !(d.least <= v && v <= d.most) {
			return Misfit{Size: d.size, Read: inMetres(v), Want: d.want}, false
		}
	}
	return Misfit{}, true
}

func (r ShapedBox) demands(s Shape) []demand {
	long, across, high := micro(r.Width), micro(r.Length), micro(r.Height)
	if r.sideways(s.Wall) {
		long, across = across, long
	}
	if s.Kind == Slope {
		return []demand{
			{"knee", s.Knee, 1, high - 1, "a height above 0 and below the room's, " + inMetres(high)},
			{"reach", s.Reach, 1, across, "more than 0 and at most the " + inMetres(across) + " to the wall across"},
		}
	}
	rest := long - micro(s.Along)
	all := []demand{
		{"along", s.Along, 0, long - 1, "a place on its wall, which is " + inMetres(long) + " long"},
		{"width", s.Width, 1, rest, "more than 0 and at most the " + inMetres(rest) + " that are left of its wall"},
	}
	if s.Kind == Alcove {
		over := high - micro(s.Up)
		return append(all,
			demand{"up", s.Up, 0, high - 1, "a height below the room's, " + inMetres(high)},
			demand{"height", s.Height, 1, over, "more than 0 and at most the " + inMetres(over) + " that are left of its wall"},
			demand{"depth", s.Depth, 1, micro(greatest), "more than 0"})
	}
	free := across - micro(s.Off)
	return append(all,
		demand{"off", s.Off, 0, across - 1, "less than the " + inMetres(across) + " to the wall across"},
		demand{"depth", s.Depth, 1, free - 1, "more than 0 and less than the " + inMetres(free) + " to the wall across"},
		demand{"height", s.Height, 0, high - 1, "a height below the room's, " + inMetres(high) + ", or none for up to the ceiling"})
}

// sideways tells whether a wall runs the way of the room's length.
func (r ShapedBox) sideways(wall string) bool { return wall == "left" || wall == "right" }

// collide tells whether two shapes that fit the room by themselves run into each other, if a is the kind that is looked
// at first: it is asked both ways round.
func (r ShapedBox) collide(a, b Shape, sides []Surface) bool {
	wall := func(s Shape) Surface { return sides[slices.Index(Walls, s.Wall)] }
	switch {
	case a.Kind == Slope && b.Kind == Slope:
		across := r.Length
		if r.sideways(a.Wall) {
			across = r.Width
		}
		facing := r.sideways(a.Wall) == r.sideways(b.Wall) && a.Wall != b.Wall
		return a.Wall == b.Wall || facing && micro(a.Reach)+micro(b.Reach) > micro(across)
	case a.Kind == Slope && b.Kind == Alcove:
		w := wall(b)
		over := a.halfSpace(r, wall(a))
		return slices.ContainsFunc(b.mouth(), func(p Spot) bool { return over.at(w.At(p)) < -flush })
	case a.Kind == Block && b.Kind == Block:
		p, q := a.block(r, wall(a)), b.block(r, wall(b))
		return deeper(p.low.X, p.high.X, q.low.X, q.high.X) && deeper(p.low.Y, p.high.Y, q.low.Y, q.high.Y) && deeper(p.low.Z, p.high.Z, q.low.Z, q.high.Z)
	case a.Kind == Block && b.Kind == Alcove:
		mouth := wall(b)
		mouth.Outline = b.mouth()
		return len(a.block(r, wall(a)).covers(&mouth)) > 0
	case a.Kind == Alcove && b.Kind == Alcove:
		return a.Wall == b.Wall && deeper(a.Along, a.Along+a.Width, b.Along, b.Along+b.Width) && deeper(a.Up, a.Up+a.Height, b.Up, b.Up+b.Height)
	}
	return false
}

// deeper tells whether two ranges have more than an end in common.
func deeper(low1, high1, low2, high2 float64) bool {
	return micro(math.Min(high1, high2))-micro(math.Max(low1, low2)) > 0
}

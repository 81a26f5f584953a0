package place

import "math"

// Solid is a cuboid standing any way round in the room frame: a cabinet, or the room that a door needs. Axes are unit
// vectors square to each other, Half the half sizes along them (metres).
type Solid struct {
	Middle Vec
	Axes   [3]Vec
	Half   [3]float64
}

// skin is how deep (metres) two solids, or a solid and a surface, must be in each other to count: flush is not through.
const skin = 1e-6

// Grown is the solid with every face moved outwards (metres).
func (s Solid) Grown(by float64) Solid {
	for i := range s.Half {
		s.Half[i] += by
	}
	return s
}

// Corners are the eight corners.
func (s Solid) Corners() (all [8]Vec) {
	for i := range all {
		c := s.Middle
		for k := range 3 {
			c = c.plus(s.Half[k]*(float64(i>>k&1)*2-1), s.Axes[k])
		}
		all[i] = c
	}
	return all
}

// Extent is how far the solid reaches from its middle in a direction given by a unit vector (metres).
func (s Solid) Extent(direction Vec) float64 {
	sum := 0.0
	for k := range 3 {
		sum += float64(s.Half[k] * math.Abs(s.Axes[k].Dot(direction)))
	}
	return sum
}

// Behind is how deep the solid reaches behind the plane of a surface (metres): negative when it stands clear in front.
func (s Solid) Behind(f *Surface) float64 {
	n := f.Normal()
	return s.Extent(n) - s.Middle.Sub(f.Origin).Dot(n)
}

// Shadow is the rectangle in tape coordinates that the solid covers when looked at square to a surface.
func (s Solid) Shadow(f *Surface) (low, high Spot) {
	at, _ := f.Locate(s.Middle)
	half := Spot{s.Extent(f.Along), s.Extent(f.Up)}
	return at.minus(half), at.plus(half)
}

// Overlaps tells whether two solids have more than a micrometre of depth in common. Two convex bodies are apart exactly
// when they are apart as seen along one of their face normals or along a cross product of two edges (separating axis
// theorem).
func (s Solid) Overlaps(t Solid) bool {
	between := t.Middle.Sub(s.Middle)
	apart := func(axis Vec) bool {
		n := axis.Norm()
		if n < square { // two edges run the same way: their face normals tell
			return false
		}
		axis = axis.Scale(1 / n)
		return math.Abs(between.Dot(axis)) >= s.Extent(axis)+t.Extent(axis)-skin
	}
	for i := range 3 {
		if apart(s.Axes[i]) || apart(t.Axes[i]) {
			return false
		}
	}
	for i := range 3 {
		for j := range 3 {
			if apart(s.Axes[i].Cross(t.Axes[j])) {
				return false
			}
		}
	}
	return true
}

// Pierces tells whether a part of a surface lies inside the solid, deeper than a micrometre below its faces: what the six
// faces leave of the outline, cut by one after the other, is more than what they leave of the surface's cuts.
func (s Solid) Pierces(f *Surface) bool {
	n := f.Normal()
	if math.Abs(s.Middle.Sub(f.Origin).Dot(n)) >= s.Extent(n)-skin {
		return false
	}
	inside := s.within(f, f.Outline)
	for _, c := range f.Cuts {
		inside -= s.within(f, c.Outline)
	}
	return inside > leastArea
}

// within is the area (m²) of what of a polygon on a surface lies inside the solid.
func (s Solid) within(f *Surface, polygon []Spot) float64 {
	for k := range 3 {
		for _, sign := range [2]float64{1, -1} {
			// A face keeps what lies below it: sign·axis·(point - middle) <= half - skin.
			axis := s.Axes[k].Scale(sign)
			polygon = clip(polygon, Spot{axis.Dot(f.Along), axis.Dot(f.Up)}, s.Half[k]-skin-axis.Dot(f.Origin.Sub(s.Middle)))
			if len(polygon) < 3 {
				return 0
			}
		}
	}
	return area(polygon)
}

// clip is what of a polygon lies where n·q <= at, by Sutherland and Hodgman: a polygon that is not convex may come back
// with pieces joined by edges that enclose nothing.
func clip(polygon []Spot, n Spot, at float64) []Spot {
	var out []Spot
	for k, a := range polygon {
		b := polygon[(k+1)%len(polygon)]
		da, db := n.dot(a)-at, n.dot(b)-at
		if da <= 0 {
			out = append(out, a)
		}
		if da < 0 && db > 0 || da > 0 && db < 0 {
			out = append(out, a.plus(b.minus(a).times(da/(da-db))))
		}
	}
	return out
}

// Hides is the first surface that stands between two points of the room, false when they see each other. A surface that
// an end lies on does not hide it.
func Hides(surfaces []Surface, a, b Vec) (surface int, hidden bool) {
	way := b.Sub(a)
	hit, ok := Meet(surfaces, a, way)
	if !ok || hit.Distance >= way.Norm()-skin {
		return 0, false
	}
	if hit.Distance > skin {
		return hit.Surface, true
	}
	// The first one met is the one that a lies on: what comes after it counts.
	rest, ok := Meet(surfaces, a.plus(2*skin, way.Unit()), way)
	if !ok || rest.Distance+2*skin >= way.Norm()-skin {
		return 0, false
	}
	return rest.Surface, true
}

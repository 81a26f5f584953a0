package place

import "math"

// feature is a piece of a polygon's border: edge k, from vertex k to the next, is 2k; vertex k is 2k+1.
type feature int

// signedDistance is the distance (metres) from q to the border of a polygon, positive inside, and the nearest piece of
// the border.
func signedDistance(polygon []Spot, q Spot) (float64, feature) {
	best, nearest, inside := math.Inf(1), feature(0), false
	for k, a := range polygon {
		b := polygon[(k+1)%len(polygon)]
		if (a.Up > q.Up) != (b.Up > q.Up) && q.Along < a.Along+(q.Up-a.Up)*(b.Along-a.Along)/(b.Up-a.Up) {
			inside = !inside
		}
		e, w := b.minus(a), q.minus(a)
		t, f := w.dot(e)/e.dot(e), feature(2*k)
		switch {
		case t <= 0:
			t, f = 0, feature(2*k+1)
		case t >= 1:
			t, f = 1, feature(2*((k+1)%len(polygon))+1)
		}
		d := w.minus(e.times(t))
		if dd := d.dot(d); dd < best {
			best, nearest = dd, f
		}
	}
	if inside {
		return math.Sqrt(best), nearest
	}
	return -math.Sqrt(best), nearest
}

// area is the signed area of a polygon, positive when its vertices run anticlockwise (along to the right, up upwards).
func area(polygon []Spot) float64 {
	var sum float64
	for k, a := range polygon {
		sum += a.cross(polygon[(k+1)%len(polygon)])
	}
	return sum / 2
}

// simple tells whether no two edges of a polygon touch but for neighbours in their common vertex.
func simple(polygon []Spot) bool {
	n := len(polygon)
	for i := range n {
		a, b := polygon[i], polygon[(i+1)%n]
		if a == b {
			return false
		}
		for j := i + 1; j < n; j++ {
			c, d := polygon[j], polygon[(j+1)%n]
			switch {
			case j == i+1: // a–b–d: back over itself?
				if e, f := b.minus(a), d.minus(c); e.cross(f) == 0 && e.dot(f) < 0 {
					return false
				}
			case (j+1)%n == i: // c–a–b
				if e, f := d.minus(c), b.minus(a); e.cross(f) == 0 && e.dot(f) < 0 {
					return false
				}
			case touch(a, b, c, d):
				return false
			}
		}
	}
	return true
}

// touch tells whether the segments a–b and c–d have a point in common.
func touch(a, b, c, d Spot) bool {
	ab, cd := b.minus(a), d.minus(c)
	s, t := ab.cross(c.minus(a)), ab.cross(d.minus(a))
	u, v := cd.cross(a.minus(c)), cd.cross(b.minus(c))
	if s == 0 && t == 0 { // on one line
		return math.Max(math.Min(a.Along, b.Along), math.Min(c.Along, d.Along)) <= math.Min(math.Max(a.Along, b.Along), math.Max(c.Along, d.Along)) &&
			math.Max(math.Min(a.Up, b.Up), math.Min(c.Up, d.Up)) <= math.Min(math.Max(a.Up, b.Up), math.Max(c.Up, d.Up))
	}
	return opposite(s, t) && opposite(u, v)
}

// opposite tells whether two numbers have not the same sign.
func opposite(a, b float64) bool { return (a <= 0 && b >= 0) || (a >= 0 && b <= 0) }

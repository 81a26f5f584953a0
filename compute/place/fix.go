package place

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
)

const (
	// weakCondition is the condition beyond which a fix is called weak: ten times less sure one way than another. The
	// figure is this package's own choice.
	weakCondition = 10.0
	// hopeless is the condition beyond which there is no fix at all.
	hopeless = 1e6
	// likely is how many standard uncertainties a distance may be off before distances contradict each other, and before
	// they rule out a mirror solution.
	likely = 3.0
	// roundOff is the residual (metres) below which distances without a stated uncertainty still agree.
	roundOff = 1e-6
)

// Errors about fixes.
var (
	// ErrReferences is returned when there are too few known points, or they coincide or stand in one line, so that no
	// distances from them fix a point.
	ErrReferences = errors.New("place: the known points do not fix a place")
	// ErrContradiction is returned when no place has the distances given, within their uncertainties.
	ErrContradiction = errors.New("place: the distances contradict each other")
	// ErrWeak is returned when the distances leave one way of moving free: the place lies in line with the known points.
	ErrWeak = errors.New("place: the distances leave the place free to move one way")
)

// Range is a measured straight distance from a known point of the room frame, and its standard uncertainty, in metres. U
// is 0 in all ranges of a fix where it is not known.
type Range struct {
	From        Vec
	Distance, U float64
}

// Fix is a place from measured distances, by least squares with weights 1/U² (equal weights where U is not known).
type Fix struct {
	Point      Vec
	Spot       Spot        // tape coordinates, for a fix on a surface
	Covariance [][]float64 // (JᵀWJ)⁻¹, m², of x, y, z or of along, up; where U is not known, times Scale²
	Residuals  []float64   // measured less computed distances, metres
	Squares    float64     // vᵀWv: in units of U², or m² where U is not known
	Scale      float64     // s₀ = √(vᵀWv/(n-m)), 0 where nothing is left over: about 1 when U fits the residuals; metres where U is not known
	Condition  float64     // greatest standard uncertainty any way over the least
	Weak       bool        // Condition is beyond 10: one way is far less sure than another
	// Contradictory tells that the distances are farther off than their uncertainties explain: one of them is a slip.
	// Never set where U is not known.
	Contradictory bool
}

// FixPoint is a point from its distances to three or more known points. There are two solutions, mirror images in the
// plane of the known points, unless these stand out of a plane far enough for the distances to rule one out; the better
// comes first, and only a person can tell which side of the plane is meant. Errors: [ErrNumber], [ErrReferences],
// [ErrContradiction], [ErrWeak].
func FixPoint(ranges []Range) ([]Fix, error) {
	axes := []Vec{{X: 1}, {Y: 1}, {Z: 1}}
	middle, spread, normal, err := referencePlane(ranges, 3)
	if err != nil {
		return nil, err
	}
	if spread[1] < 1e-6*spread[2] {
		return nil, fmt.Errorf("%w: they stand in one line", ErrReferences)
	}
	// In the plane of the known points the place is that of the plane's own fix; out of it, what the distances leave.
	var foot Vec
	if len(ranges) >= 3 {
		foot = linearFoot(ranges, middle, normal)
	}
	var out float64
	for _, r := range ranges {
		out += (r.Distance*r.Distance - foot.Sub(r.From).Dot(foot.Sub(r.From))) / float64(len(ranges))
	}
	out = math.Sqrt(math.Max(out, 1e-4))
	return solutions(ranges, Vec{}, axes, foot.plus(out, normal), foot.plus(-out, normal))
}

// FixSpot is a spot from its distances to two or more known points, which may stand anywhere: other spots of the surface,
// the ear point, a corner of the room. The spot lies out metres in front of the surface. There are two solutions, mirror
// images in the line of the known points as the surface sees them, unless the distances rule one out. Errors as for
// [FixPoint].
func FixSpot(s *Surface, out float64, ranges []Range) ([]Fix, error) {
	if s == nil {
		return nil, ErrNoSurface
	}
	if err := finite("out", out); err != nil {
		return nil, err
	}
	if _, _, _, err := referencePlane(ranges, 2); err != nil {
		return nil, err
	}
	origin := s.Origin.plus(out, s.Normal())
	// The two known points farthest apart on the surface give the starting places.
	type circle struct {
		middle Spot
		radius float64
	}
	var circles []circle
	for i, r := range ranges {
		foot, height := s.Locate(r.From)
		flat := r.Distance*r.Distance - (height-out)*(height-out)
		if flat < 0 && -flat > 2*r.Distance*math.Max(likely*r.U, roundOff) {
			return nil, fmt.Errorf("%w: distance %d is %v m, the surface is %v m away", ErrContradiction, i, r.Distance, math.Abs(height-out))
		}
		circles = append(circles, circle{foot, math.Sqrt(math.Max(flat, 0))})
	}
	a, b := circles[0], circles[0]
	for _, c := range circles {
		for _, d := range circles {
			if c.middle.distance(d.middle) > a.middle.distance(b.middle) {
				a, b = c, d
			}
		}
	}
	if a.middle.distance(b.middle) < roundOff {
		return nil, fmt.Errorf("%w: they stand in front of one another", ErrReferences)
	}
	left, right, _ := cut(a.middle, b.middle, a.radius, b.radius)
	at := func(p Spot) Vec { return origin.plus(p.Along, s.Along).plus(p.Up, s.Up) }
	fixes, err := solutions(ranges, origin, []Vec{s.Along, s.Up}, at(left), at(right))
	for i := range fixes {
		fixes[i].Spot, _ = s.Locate(fixes[i].Point)
	}
	return fixes, err
}

// TwoTapes are the two spots at given distances (metres) from two others of the same surface: left and right of the line
// from a to b. Errors: [ErrNumber], [ErrReferences] when a and b coincide, [ErrContradiction] when the tapes do not meet.
func TwoTapes(a, b Spot, fromA, fromB float64) (left, right Spot, err error) {
	if err := cmp.Or(a.check("first point"), b.check("second point"), notNegative("first distance", fromA), notNegative("second distance", fromB)); err != nil {
		return Spot{}, Spot{}, err
	}
	if a.distance(b) < roundOff {
		return Spot{}, Spot{}, fmt.Errorf("%w: both tapes start at %v", ErrReferences, a)
	}
	left, right, gap := cut(a, b, fromA, fromB)
	if gap > roundOff {
		return Spot{}, Spot{}, fmt.Errorf("%w: read %v and %v m from points %v m apart, they miss each other by %v m",
			ErrContradiction, fromA, fromB, a.distance(b), gap)
	}
	return left, right, nil
}

// cut is where circles about two spots meet, left and right of the line from a to b, and by how much they miss each
// other; then both are the place nearest to both circles.
func cut(a, b Spot, ra, rb float64) (left, right Spot, gap float64) {
	d := a.distance(b)
	u := b.minus(a).times(1 / d)
	switch gap = math.Max(math.Max(d-ra-rb, ra-d-rb), rb-d-ra); {
	case gap <= 0:
		x := (d*d + ra*ra - rb*rb) / (2 * d)
		y := math.Sqrt(math.Max(0, ra*ra-x*x))
		foot, across := a.plus(u.times(x)), Spot{-u.Up, u.Along}.times(y)
		return foot.plus(across), foot.minus(across), 0
	case gap == d-ra-rb:
		left = a.plus(u.times(ra + gap/2))
	case gap == ra-d-rb:
		left = a.plus(u.times(ra - gap/2))
	default:
		left = a.minus(u.times(ra + gap/2))
	}
	return left, left, gap
}

// FromEar are the two spots at a height up the surface that lie at a straight distance from the ear point (metres), with
// the lesser along first. Errors: [ErrNoSurface], [ErrNumber], [ErrContradiction] when the distance does not reach.
func FromEar(s *Surface, ear Vec, distance, up float64) (near, far Spot, err error) {
	if s == nil {
		return Spot{}, Spot{}, ErrNoSurface
	}
	if err := cmp.Or(ear.check("ear"), notNegative("distance", distance), finite("up", up)); err != nil {
		return Spot{}, Spot{}, err
	}
	foot, out := s.Locate(ear)
	least := math.Hypot(out, up-foot.Up)
	if distance < least-roundOff {
		return Spot{}, Spot{}, fmt.Errorf("%w: read %v m, the line is at least %v m away", ErrContradiction, distance, least)
	}
	half := math.Sqrt(math.Max(0, (distance-least)*(distance+least)))
	return Spot{foot.Along - half, up}, Spot{foot.Along + half, up}, nil
}

// referencePlane checks the ranges and gives the middle of the known points, their spread along the principal axes
// (ascending) and the normal of the plane nearest to them.
func referencePlane(ranges []Range, least int) (middle Vec, spread []float64, normal Vec, err error) {
	if len(ranges) < least {
		return Vec{}, nil, Vec{}, fmt.Errorf("%w: read %d, want at least %d", ErrReferences, len(ranges), least)
	}
	for i, r := range ranges {
		if err := cmp.Or(r.From.check(fmt.Sprintf("known point %d", i)), notNegative(fmt.Sprintf("distance %d", i), r.Distance),
			notNegative(fmt.Sprintf("uncertainty %d", i), r.U)); err != nil {
			return Vec{}, nil, Vec{}, err
		}
		if (r.U == 0) != (ranges[0].U == 0) {
			return Vec{}, nil, Vec{}, fmt.Errorf("%w: uncertainty %d: read %v, want all known or none", ErrNumber, i, r.U)
		}
		middle = middle.plus(1/float64(len(ranges)), r.From)
	}
	scatter := matrix(3)
	for _, r := range ranges {
		d := r.From.Sub(middle)
		v := [3]float64{d.X, d.Y, d.Z}
		for j := range v {
			for k := range v {
				scatter[j][k] += v[j] * v[k]
			}
		}
	}
	values, vectors := eigen(scatter)
	for _, v := range values {
		spread = append(spread, math.Sqrt(math.Max(v, 0)))
	}
	if spread[2] < roundOff {
		return Vec{}, nil, Vec{}, fmt.Errorf("%w: they coincide", ErrReferences)
	}
	n := vectors[0]
	return middle, spread, Vec{n[0], n[1], n[2]}, nil
}

// linearFoot is the foot, in the plane through the known points, of the place with the given distances. Differences of
// squared distances are linear in it:
//
//	2(P_i - c)·(x - c) = mean(s²) - s_i² + |P_i - c|² - mean(|P - c|²),  c the middle of the known points
func linearFoot(ranges []Range, middle, normal Vec) Vec {
	var squares, sizes float64
	n := float64(len(ranges))
	for _, r := range ranges {
		d := r.From.Sub(middle)
		squares, sizes = squares+r.Distance*r.Distance/n, sizes+d.Dot(d)/n
	}
	linear := adjustment{unknowns: 3, observe: func(x []float64, i int, row []float64) float64 {
		d := ranges[i].From.Sub(middle)
		d = d.plus(-d.Dot(normal), normal).Scale(2)
		row[0], row[1], row[2] = d.X, d.Y, d.Z
		return d.Dot(Vec{x[0], x[1], x[2]})
	}}
	for _, r := range ranges {
		d := r.From.Sub(middle)
		linear.distances = append(linear.distances, squares-r.Distance*r.Distance+d.Dot(d)-sizes)
		linear.weights = append(linear.weights, 1)
	}
	x := linear.at(make([]float64, 3)).step(0)
	return middle.Add(Vec{x[0], x[1], x[2]})
}

// solutions are the places, in the space that axes span from an origin, to which least squares leads from two starting
// places, the better first, without one that the distances rule out.
func solutions(ranges []Range, origin Vec, axes []Vec, starts ...Vec) ([]Fix, error) {
	known := ranges[0].U > 0
	p := adjustment{unknowns: len(axes), observe: func(x []float64, i int, row []float64) float64 {
		d := origin.Sub(ranges[i].From)
		for k, a := range axes {
			d = d.plus(x[k], a)
		}
		r := d.Norm()
		for k, a := range axes {
			if r > 0 {
				row[k] = d.Dot(a) / r
			}
		}
		return r
	}}
	for _, r := range ranges {
		p.distances = append(p.distances, r.Distance)
		if known {
			p.weights = append(p.weights, 1/(r.U*r.U))
		} else {
			p.weights = append(p.weights, 1)
		}
	}
	over := len(ranges) - len(axes)
	var fixes []Fix
	var failed error
	for _, start := range starts {
		x := make([]float64, len(axes))
		for k, a := range axes {
			x[k] = start.Sub(origin).Dot(a)
		}
		a := p.solve(x)
		f := Fix{Point: origin, Residuals: a.residuals, Squares: a.squares, Condition: a.condition()}
		for k, axis := range axes {
			f.Point = f.Point.plus(a.x[k], axis)
		}
		if over == 0 && !(a.squares <= tolerated(known)) {
			return nil, fmt.Errorf("%w: the nearest place misses them by %v m", ErrContradiction, a.residuals)
		}
		if !(f.Condition < hopeless) {
			failed = fmt.Errorf("%w: %v", ErrWeak, f.Point)
			continue
		}
		f.Weak = f.Condition > weakCondition
		f.Covariance = a.covariance()
		if over > 0 {
			f.Scale = math.Sqrt(a.squares / float64(over))
			f.Contradictory = known && a.squares > quantile(over)
			if !known {
				scale(f.Covariance, f.Scale*f.Scale)
			}
		}
		if len(fixes) == 0 || fixes[0].Point.Sub(f.Point).Norm() > roundOff {
			fixes = append(fixes, f)
		}
	}
	if len(fixes) == 0 {
		return nil, failed
	}
	slices.SortStableFunc(fixes, func(a, b Fix) int {
		switch {
		case a.Squares < b.Squares:
			return -1
		case a.Squares > b.Squares:
			return 1
		}
		return 0
	})
	if len(fixes) == 2 && over > 0 {
		noise := fixes[0].Squares / float64(over)
		if known {
			noise = math.Max(noise, 1)
		}
		if fixes[1].Squares-fixes[0].Squares > likely*likely*noise+roundOff*roundOff {
			fixes = fixes[:1]
		}
	}
	return fixes, nil
}

// tolerated is the sum of squares up to which as many distances as unknowns agree.
func tolerated(known bool) float64 {
	if known {
		return likely * likely
	}
	return roundOff * roundOff
}

// quantile is about the 99.9 % point of χ² with n degrees of freedom: Wilson and Hilferty's approximation
// n(1 - 2/9n + z√(2/9n))³, z = 3.0902 (from memory, not verified).
func quantile(n int) float64 {
	v := 2 / (9 * float64(n))
	c := 1 - v + 3.0902*math.Sqrt(v)
	return float64(n) * c * c * c
}

// Tie is a measured distance between two points of a net, by their indices, and its standard uncertainty (metres; 0 in
// all ties where it is not known).
type Tie struct {
	A, B        int
	Distance, U float64
}

// Net is an adjusted net of distances.
type Net struct {
	Points     []Spot      // all of them, the fixed ones unchanged
	Covariance [][]float64 // of along and up of every free point, in order; as in [Fix]
	Residuals  []float64
	Squares    float64
	Scale      float64
	Condition  float64
	Weak       bool
}

// AdjustNet places the free points of a plane net, such as the corners of a floor measured with diagonals, so that the
// squares of the weighted residuals are least. The points' approximate coordinates choose between mirror solutions and
// must be near enough to tell. Errors: [ErrNumber], [ErrReferences] when there are fewer than two fixed points, no free
// ones or too few ties, [ErrWeak] when a point is not held.
func AdjustNet(points []Spot, fixed []bool, ties []Tie) (Net, error) {
	if len(points) != len(fixed) {
		return Net{}, fmt.Errorf("%w: fixed: read %d marks for %d points", ErrNumber, len(fixed), len(points))
	}
	unknown, free := make([]int, len(points)), 0 // index of a free point's first unknown, or -1
	for i, p := range points {
		if err := p.check(fmt.Sprintf("point %d", i)); err != nil {
			return Net{}, err
		}
		if unknown[i] = -1; !fixed[i] {
			unknown[i] = 2 * free
			free++
		}
	}
	if free == 0 || len(points)-free < 2 || len(ties) < 2*free {
		return Net{}, fmt.Errorf("%w: read %d fixed and %d free points and %d ties", ErrReferences, len(points)-free, free, len(ties))
	}
	p := adjustment{unknowns: 2 * free}
	known := ties[0].U > 0
	for i, t := range ties {
		field := fmt.Sprintf("tie %d", i)
		if err := cmp.Or(notNegative(field+" distance", t.Distance), notNegative(field+" uncertainty", t.U)); err != nil {
			return Net{}, err
		}
		if t.A == t.B || min(t.A, t.B) < 0 || max(t.A, t.B) >= len(points) || (t.U > 0) != known {
			return Net{}, fmt.Errorf("%w: %s: read %+v, want two points of the net and uncertainties for all ties or none", ErrNumber, field, t)
		}
		p.distances, p.weights = append(p.distances, t.Distance), append(p.weights, 1)
		if known {
			p.weights[i] = 1 / (t.U * t.U)
		}
	}
	place := func(x []float64, i int) Spot {
		if k := unknown[i]; k >= 0 {
			return points[i].plus(Spot{x[k], x[k+1]})
		}
		return points[i]
	}
	p.observe = func(x []float64, i int, row []float64) float64 {
		d := place(x, ties[i].B).minus(place(x, ties[i].A))
		r := d.norm()
		for _, end := range []struct {
			point int
			sign  float64
		}{{ties[i].A, -1}, {ties[i].B, 1}} {
			if k := unknown[end.point]; k >= 0 && r > 0 {
				row[k], row[k+1] = end.sign*d.Along/r, end.sign*d.Up/r
			}
		}
		return r
	}
	a := p.solve(make([]float64, p.unknowns))
	n := Net{Residuals: a.residuals, Squares: a.squares, Condition: a.condition()}
	if !(n.Condition < hopeless) {
		return Net{}, fmt.Errorf("%w: condition %v", ErrWeak, n.Condition)
	}
	n.Weak = n.Condition > weakCondition
	n.Covariance = a.covariance()
	if over := len(ties) - p.unknowns; over > 0 {
		n.Scale = math.Sqrt(a.squares / float64(over))
		if !known {
			scale(n.Covariance, n.Scale*n.Scale)
		}
	}
	for i := range points {
		n.Points = append(n.Points, place(a.x, i))
	}
	return n, nil
}

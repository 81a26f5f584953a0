package place

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
)

// ErrClose is returned, wrapped with what was read, when lengths cannot be those of one floor: a side longer than the two
// others of its triangle together, or diagonals that no angle brings about.
var ErrClose = errors.New("place: lengths that do not make a floor")

// Measure is a value and its standard uncertainty: metres, or radians for an angle. As a length, the zero Measure was not
// read.
type Measure struct{ Value, Standard float64 }

func (m Measure) given() bool { return m.Value != 0 }

// Run is one of the six lengths that a floor of four corners has.
type Run int

const (
	FrontWall      Run = iota // from the left wall to the right wall, at the front
	RearWall                  // the same at the rear
	LeftWall                  // from the rear wall to the front wall, at the left
	RightWall                 // the same at the right
	FromFrontLeft             // the diagonal from the front left corner to the rear right one
	FromFrontRight            // the diagonal from the front right corner to the rear left one
)

var runNames = [...]string{"front wall", "rear wall", "left wall", "right wall", "diagonal from the front left", "diagonal from the front right"}

// String names the run in plain words.
func (r Run) String() string {
	if int(r) < len(runNames) && r >= 0 {
		return runNames[r]
	}
	return fmt.Sprintf("Run(%d)", int(r))
}

// Corner is one of a floor's four corners, as named by someone facing the front.
type Corner int

const (
	FrontLeft Corner = iota
	FrontRight
	RearRight
	RearLeft
)

var cornerNames = [...]string{"front left", "front right", "rear right", "rear left"}

// String gives "front left", "front right", "rear right" or "rear left".
func (c Corner) String() string {
	if int(c) < len(cornerNames) && c >= 0 {
		return cornerNames[c]
	}
	return fmt.Sprintf("Corner(%d)", int(c))
}

// Ends are the corners that a run joins.
func (r Run) Ends() [2]Corner {
	return [...][2]Corner{{FrontLeft, FrontRight}, {RearLeft, RearRight}, {RearLeft, FrontLeft}, {RearRight, FrontRight}, {FrontLeft, RearRight}, {FrontRight, RearLeft}}[r]
}

// runBetween is the run that joins two corners.
func runBetween(a, b Corner) Run {
	for r := FrontWall; r <= FromFrontRight; r++ {
		if e := r.Ends(); e == [2]Corner{a, b} || e == [2]Corner{b, a} {
			return r
		}
	}
	panic(fmt.Sprintf("place: no run from corner %d to corner %d", a, b)) // the callers' corners are two of the four
}

// Floor is what was read of a floor of four corners, by [Run]. The readings are taken as independent: an error that all
// have in common, as of one tape, hardly changes an angle or what is left over, so that the uncertainties here are rather
// too large than too small.
type Floor [6]Measure

// Midway is the mean of readings of one size in several places, such as the width at either end of a room, and how well it
// stands for the size in between: as uncertain as the readings themselves, since they may share an error, and as half of
// what they differ by at most, taken as limits (rectangular, 1/√3; JCGM 100:2008 4.3.7). Readings that were not taken are
// left out; without any, the result is zero.
func Midway(readings ...Measure) Measure {
	var n, sum, doubt float64
	low, high := math.Inf(1), math.Inf(-1)
	for _, m := range readings {
		if m.given() {
			n++
			sum, doubt = sum+m.Value, doubt+m.Standard
			low, high = math.Min(low, m.Value), math.Max(high, m.Value)
		}
	}
	if n == 0 {
		return Measure{}
	}
	return Measure{sum / n, math.Hypot(doubt/n, (high-low)/2/math.Sqrt(3))}
}

// mean is the plain mean of those of two readings that were taken.
func mean(a, b Measure) Measure {
	switch {
	case !a.given():
		return b
	case !b.given():
		return a
	}
	return Measure{(a.Value + b.Value) / 2, math.Hypot(a.Standard, b.Standard) / 2}
}

// Skew is the angle by which the floor leans out of square, radians; positive where the diagonal from the front left is the
// longer one, so that the front stands farther to the left than it should. It needs both diagonals, a width and a length.
//
// Let m be the vector from the middle of the left wall to that of the right one, and n from the middle of the rear wall to
// that of the front. The diagonals are m - n (from the front left) and m + n (from the rear left), so that for any
// quadrilateral
//
//	d1² - d2² = |m - n|² - |m + n|² = -4 m·n = -4 |m| |n| cos φ
//
// with φ the angle from m to n. In a parallelogram |m| and |n| are its sides a and b, the known 4ab·cos θ of its acute
// angle; else they are the means of opposite sides up to terms of second order in the angle between those. So
//
//	skew = φ - 90° = asin((d1² - d2²) / 4ab)
//
// Its uncertainty is by the law of propagation. The error is [ErrClose] if a length is missing or no angle fits.
func (f Floor) Skew() (Measure, error) {
	a, b := mean(f[FrontWall], f[RearWall]), mean(f[LeftWall], f[RightWall])
	d1, d2 := f[FromFrontLeft], f[FromFrontRight]
	if !a.given() || !b.given() || !d1.given() || !d2.given() {
		return Measure{}, fmt.Errorf("%w: a width, a length and both diagonals are wanted", ErrClose)
	}
	area := 4 * a.Value * b.Value
	x := (float64(d1.Value*d1.Value) - float64(d2.Value*d2.Value)) / area
	if !(math.Abs(x) < 1) {
		return Measure{}, fmt.Errorf("%w: read diagonals of %.3f m and %.3f m in %.3f m by %.3f m", ErrClose, d1.Value, d2.Value, a.Value, b.Value)
	}
	by := 1 / math.Sqrt(1-float64(x*x))
	return Measure{math.Asin(x), norm([]float64{
		2 * d1.Value / area * by * d1.Standard, 2 * d2.Value / area * by * d2.Standard,
		x / a.Value * by * a.Standard, x / b.Value * by * b.Standard,
	})}, nil
}

// Angle is the inner angle of a corner, radians, from its two walls and the diagonal that joins their other ends, by the
// law of cosines,
//
//	cos γ = (p² + q² - d²) / 2pq
//
// and its uncertainty by d·dd = (p - q cos γ) dp + (q - p cos γ) dq + pq sin γ dγ. The error is [ErrClose] if one of the
// three is missing or they make no triangle.
func (f Floor) Angle(c Corner) (Measure, error) {
	before, after := (c+3)%4, (c+1)%4
	p, q, d := f[runBetween(before, c)], f[runBetween(c, after)], f[runBetween(before, after)]
	if !p.given() || !q.given() || !d.given() {
		return Measure{}, fmt.Errorf("%w: both walls of the %v corner and the diagonal across it are wanted", ErrClose, c)
	}
	cos := (float64(p.Value*p.Value) + float64(q.Value*q.Value) - float64(d.Value*d.Value)) / (2 * p.Value * q.Value)
	if !(math.Abs(cos) < 1) {
		return Measure{}, fmt.Errorf("%w: read %.3f m and %.3f m with %.3f m across the %v corner", ErrClose, p.Value, q.Value, d.Value, c)
	}
	by := p.Value * q.Value * math.Sqrt(1-float64(cos*cos))
	return Measure{math.Acos(cos), norm([]float64{
		d.Value / by * d.Standard, (p.Value - float64(q.Value*cos)) / by * p.Standard, (q.Value - float64(p.Value*cos)) / by * q.Standard,
	})}, nil
}

// Predict is what a run should measure by the five others: two triangles stand on the run that has no corner in common with
// it, on one side of it if the missing run is a wall, on both if it is a diagonal. The error is [ErrClose] if one of the
// five is missing or they make no triangles.
func (f Floor) Predict(r Run) (Measure, error) {
	value, err := f.predict(r)
	if err != nil {
		return Measure{}, err
	}
	const h = 1e-6 // metres, for the central differences of the law of propagation
	var effects []float64
	for k := range f {
		if Run(k) == r {
			continue
		}
		more, less := f, f
		more[k].Value += h
		less[k].Value -= h
		high, err1 := more.predict(r)
		low, err2 := less.predict(r)
		if err := cmp.Or(err1, err2); err != nil {
			return Measure{}, err // a triangle so flat that a micrometre breaks it
		}
		effects = append(effects, (high-low)/(2*h)*f[k].Standard)
	}
	return Measure{value, norm(effects)}, nil
}

func (f Floor) predict(r Run) (float64, error) {
	from, to := r.Ends()[0], r.Ends()[1]
	var rest []Corner
	for c := FrontLeft; c <= RearLeft; c++ {
		if c != from && c != to {
			rest = append(rest, c)
		}
	}
	base := f[runBetween(rest[0], rest[1])].Value
	foot := func(c Corner) (x, y float64, err error) {
		p, q := f[runBetween(rest[0], c)].Value, f[runBetween(rest[1], c)].Value
		if !(p > 0 && q > 0 && base > 0) {
			return 0, 0, fmt.Errorf("%w: the %v can be told only from all five others", ErrClose, r)
		}
		x = (float64(base*base) + float64(p*p) - float64(q*q)) / (2 * base)
		square := float64(p*p) - float64(x*x)
		if !(square > 0) {
			return 0, 0, fmt.Errorf("%w: read %.3f m, %.3f m and %.3f m, which make no triangle", ErrClose, base, p, q)
		}
		return x, math.Sqrt(square), nil
	}
	x1, y1, err := foot(from)
	if err != nil {
		return 0, err
	}
	x2, y2, err := foot(to)
	if err != nil {
		return 0, err
	}
	if r >= FromFrontLeft {
		y2 = -y2
	}
	return math.Hypot(x2-x1, y2-y1), nil
}

// A Suspect is a reading that, if it alone were wrong, would let the others close.
type Suspect struct {
	Run    Run
	Read   float64
	Needed Measure // what it would have to be
	// Lean is how far the corner that is then farthest from square would be out of it, radians: rooms being nearly square,
	// the suspect with the least of it is the likeliest.
	Lean float64
}

// Closing is how well all six lengths of a floor go together. Five fix a quadrilateral; the sixth is one too many, and
// tells that one of them is wrong, but by itself not which: each could make up for the misclosure.
type Closing struct {
	// Off is the diagonal from the front right less what the other five make it, metres, and Standard its standard
	// uncertainty. Over Standard it is the same, to first order, whichever reading is held against the others.
	Off, Standard float64
	Predicted     float64   // that diagonal by the other five
	Suspects      []Suspect // the likeliest first
}

// Closing holds the six lengths against each other. The error is [ErrClose] if one is missing, or if without the diagonal
// from the front right they make no quadrilateral; then there are suspects at most.
func (f Floor) Closing() (Closing, error) {
	read := f[FromFrontRight]
	if !read.given() {
		return Closing{}, fmt.Errorf("%w: the %v is wanted", ErrClose, FromFrontRight)
	}
	var out Closing
	predicted, failed := f.Predict(FromFrontRight)
	if failed == nil {
		out = Closing{Off: read.Value - predicted.Value, Standard: math.Hypot(read.Standard, predicted.Standard), Predicted: predicted.Value}
	}
	for r := FrontWall; r <= FromFrontRight; r++ {
		if needed, err := f.Predict(r); err == nil {
			put := f
			put[r] = needed
			if lean, err := put.lean(); err == nil {
				out.Suspects = append(out.Suspects, Suspect{Run: r, Read: f[r].Value, Needed: needed, Lean: lean})
			}
		}
	}
	slices.SortStableFunc(out.Suspects, func(a, b Suspect) int { return cmp.Compare(math.Round(a.Lean*1e6), math.Round(b.Lean*1e6)) })
	return out, failed
}

// Corners are the floor's corners by [Corner], as the readings have them but for the rear wall's: in a frame of its own, x
// along the front wall with the front left corner at 0, y square to it, the room at negative y. The error is [ErrClose] if
// one of the other five is missing or they make no triangles.
func (f Floor) Corners() ([4]Vec, error) {
	if _, err := f.predict(RearWall); err != nil {
		return [4]Vec{}, err
	}
	front := f[FrontWall].Value
	back := func(fromLeft, fromRight float64) Vec {
		x := (float64(front*front) + float64(fromLeft*fromLeft) - float64(fromRight*fromRight)) / (2 * front)
		return Vec{X: x, Y: -math.Sqrt(float64(fromLeft*fromLeft) - float64(x*x))}
	}
	return [4]Vec{
		FrontRight: {X: front},
		RearRight:  back(f[FromFrontLeft].Value, f[RightWall].Value),
		RearLeft:   back(f[LeftWall].Value, f[FromFrontRight].Value),
	}, nil
}

// lean is how far the corner farthest from square is out of it, of those that can be told.
func (f Floor) lean() (float64, error) {
	most, told := 0.0, false
	for c := FrontLeft; c <= RearLeft; c++ {
		if angle, err := f.Angle(c); err == nil {
			most, told = math.Max(most, math.Abs(angle.Value-math.Pi/2)), true
		}
	}
	if !told {
		return 0, fmt.Errorf("%w: no corner can be told", ErrClose)
	}
	return most, nil
}

package place

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// leastRound is the smallest distance (metres) kept from an obstacle: it rounds the corners of a zone that runs along a
// bare edge by the micrometre in which places are compared.
const leastRound = 1e-6

// Pair asks that the acoustic centre mirror another loudspeaker's. The tolerances are the greatest differences allowed
// by [PairDeviation]; one that is 0 does not count.
type Pair struct {
	Partner                              Sight
	Azimuth, Elevation, Distance, Height float64 // rad, rad, m, m
}

// View is what one listening position asks of the acoustic centre. An empty list or a nil pointer asks nothing.
type View struct {
	Listener  Listener
	Permitted []Sector // at least one of them must hold
	Planned   *Sector
	Pair      *Pair
}

// Limits are what a mount's place must keep. The bracket's limits and the surface's obstacles always count.
type Limits struct {
	Views     []View
	HeightMin float64 // of the acoustic centre above the floor, metres
	HeightMax float64 // 0: none
	Margin    float64 // from every hole to every edge, opening and keep-out, metres; an area's own clearance counts where it is greater
}

func (l Limits) check() error {
	if err := cmp.Or(finite("least height", l.HeightMin), notNegative("greatest height", l.HeightMax), notNegative("margin", l.Margin)); err != nil {
		return err
	}
	for _, v := range l.Views {
		sectors := v.Permitted
		if v.Planned != nil {
			sectors = append(slices.Clip(sectors), *v.Planned)
		}
		if err := v.Listener.Check(); err != nil {
			return err
		}
		for _, s := range sectors {
			if err := s.check("direction"); err != nil {
				return err
			}
		}
		if p := v.Pair; p != nil {
			if err := cmp.Or(finite("partner", p.Partner.Azimuth, p.Partner.Elevation, p.Partner.Distance, p.Partner.Height),
				notNegative("pair azimuth", p.Azimuth), notNegative("pair elevation", p.Elevation),
				notNegative("pair distance", p.Distance), notNegative("pair height", p.Height)); err != nil {
				return err
			}
		}
	}
	return nil
}

// Zone is where on its surface a mount's reference hole may go: where every constraint holds with the loudspeaker aimed
// at its target.
//
// The boundary consists of exact curves, given by the zeros of the constraints. A limit of azimuth is a plane and one of
// elevation a cone; a loudspeaker aimed at the listener's own ear point, with no axis offset, has its acoustic centre on
// the line from the pivot to the ear point, so there they meet the surface in lines and conics, whatever the reach. For
// other targets, for axis offsets, and for heights and distances the same functions are evaluated at the acoustic centre
// itself, and the curve is found by root finding on them.
type Zone struct {
	Constraints []Constraint

	mount     Mount // with the reference hole at (0, 0)
	plan      Spot  // the mount's own hole
	views     []Listener
	low, high Spot // of the rectangle that holds all places where every screw is on the surface
	target    Vec
	speaker   Speaker
	zero      Vec     // pivot with the reference hole at (0, 0)
	normal    Vec     // of the surface
	a, u, n   float64 // from zero to the target: along, up, out
	steepness float64 // no constraint changes faster than this, in metres a metre of the hole's movement
	onTheLine bool    // no axis offset: the acoustic centre lies on the line from pivot to target
}

// NewZone is the zone of a mount aimed at a target, usually the ear point of the primary listening position. The mount's
// hole does not change the zone; [Zone.Fit] starts from it. Errors: those of [Mount.Check], [ErrNumber], and [ErrAim] when the target is not in front of
// the mount by more than the axis offsets, as for a listener behind the wall.
func NewZone(m Mount, target Vec, limits Limits) (*Zone, error) {
	if err := cmp.Or(m.Check(), target.check("target"), limits.check()); err != nil {
		return nil, err
	}
	z := &Zone{mount: m, target: target, speaker: m.Speaker, normal: m.Surface.Normal()}
	z.plan, z.mount.Hole = m.Hole, Spot{}
	z.zero = z.mount.Pivot()
	low, high := Extent(m.Surface.Outline)
	first, last := Extent(m.Bracket.Pattern())
	z.low, z.high = low.minus(first), high.minus(last)
	v := target.Sub(z.zero)
	z.a, z.u, z.n = v.Dot(m.Surface.Along), v.Dot(m.Surface.Up), v.Dot(z.normal)
	offset := math.Hypot(m.Speaker.AxisRight, m.Speaker.AxisUp)
	if !(z.n > offset) {
		return nil, fmt.Errorf("%w: target %v lies %v m in front of the pivots, want more than the axis offset of %v m", ErrAim, target, z.n, offset)
	}
	z.onTheLine = offset == 0
	z.steepness = 1 + 3*(math.Abs(m.Speaker.AxisRight)+math.Abs(m.Speaker.AxisUp))/math.Sqrt(z.n*z.n-offset*offset)
	for i, v := range limits.Views {
		z.views = append(z.views, v.Listener)
		z.addView(i, v)
	}
	z.addHeight(limits)
	z.addBracket()
	z.addSurface(limits.Margin)
	return z, nil
}

// add takes a constraint on, unless one of its alternatives asks nothing.
func (z *Zone) add(r Rule, view int, name string, alternatives ...[]bound) {
	for _, bounds := range alternatives {
		if len(bounds) == 0 {
			return
		}
	}
	z.Constraints = append(z.Constraints, Constraint{Rule: r, View: view, Name: name, alternatives: alternatives})
}

func (z *Zone) addView(i int, v View) {
	var permitted [][]bound
	for _, s := range v.Permitted {
		permitted = append(permitted, v.Listener.inSector(s)...)
	}
	if len(permitted) > 0 {
		z.add(PermittedDirection, i, v.Listener.Name, permitted...)
	}
	if v.Planned != nil {
		z.add(PlannedDirection, i, v.Listener.Name, v.Listener.inSector(*v.Planned)...)
	}
	if v.Pair != nil {
		z.add(PairSymmetry, i, v.Listener.Name, v.Listener.mirrors(*v.Pair)...)
	}
}

// mirrors are the alternatives that keep the acoustic centre within a pair's tolerances of the partner's mirror image.
func (l Listener) mirrors(p Pair) [][]bound {
	given := func(tolerance float64) float64 {
		if tolerance > 0 {
			return tolerance
		}
		return math.Pi // any
	}
	mirror := Direction{-p.Partner.Azimuth, p.Partner.Elevation}
	var also []bound
	for _, upper := range []bool{false, true} {
		if p.Distance > 0 {
			also = append(also, bound{kind: ballBound, quantity: Distance, upper: upper, sign: side(upper), normal: l.Ear,
				limit: p.Partner.Distance - side(upper)*p.Distance})
		}
		if p.Height > 0 {
			also = append(also, half(Height, Vec{Z: 1}, Vec{Z: p.Partner.Height - side(upper)*p.Height}, upper))
		}
	}
	alternatives := l.inSector(About(mirror, given(p.Azimuth), given(p.Elevation)))
	for i := range alternatives {
		alternatives[i] = append(alternatives[i], also...)
	}
	return alternatives
}

func (z *Zone) addHeight(l Limits) {
	bounds := []bound{half(Height, Vec{Z: 1}, Vec{Z: l.HeightMin}, false)}
	if l.HeightMax > 0 {
		bounds = append(bounds, half(Height, Vec{Z: 1}, Vec{Z: l.HeightMax}, true))
	}
	z.add(CentreHeight, -1, "", bounds)
}

// addBracket limits swing and tilt. The target being in front, both lie within a quarter turn of the normal, and a limit
// beyond that never binds; so the sign of right·v - axisRight, with the bracket at the limit, tells on which side of the
// limit the swing lies, and that of up·v - axisUp for the tilt.
func (z *Zone) addBracket() {
	b := z.mount.Bracket
	at := func(kind boundKind, q Quantity, limit float64, upper bool) bound {
		sin, cos := math.Sincos(math.Max(-math.Pi/2, math.Min(math.Pi/2, limit)))
		sign := side(upper)
		if kind == swingBound {
			sign = -sign
		}
		return bound{kind: kind, quantity: q, upper: upper, sign: sign, sin: sin, cos: cos}
	}
	z.add(BracketSwing, -1, "", []bound{at(swingBound, Swing, b.SwingMin, false), at(swingBound, Swing, b.SwingMax, true)})
	z.add(BracketTilt, -1, "", []bound{at(tiltBound, Tilt, b.TiltMin, false), at(tiltBound, Tilt, b.TiltMax, true)})
	if s := z.speaker; z.n <= (Vec{s.Reach, s.AxisRight, s.AxisUp}).Norm() {
		z.add(SpeakerReach, -1, "", []bound{{kind: reachBound, quantity: Distance, limit: Vec{s.Reach, s.AxisRight, s.AxisUp}.Norm()}})
	}
}

func (z *Zone) addSurface(margin float64) {
	clear := func(outline []Spot, sign, limit float64) (bounds []bound) {
		for _, h := range z.mount.Bracket.Pattern() {
			bounds = append(bounds, bound{kind: edgeBound, quantity: Room, sign: sign, hole: h, outline: outline, limit: math.Max(limit, leastRound)})
		}
		return bounds
	}
	s := z.mount.Surface
	edges := clear(s.Outline, 1, margin)
	for _, c := range s.Cuts {
		edges = append(edges, clear(c.Outline, -1, margin)...)
	}
	z.add(SurfaceEdge, -1, s.Name, edges)
	for _, a := range s.Openings {
		z.add(SurfaceOpening, -1, a.Name, clear(a.corners(), -1, math.Max(margin, a.Clearance)))
	}
	for _, a := range s.KeepOuts {
		z.add(SurfaceKeepOut, -1, a.Name, clear(a.corners(), -1, math.Max(margin, a.Clearance)))
	}
}

// Of is the zone that one listening position allows: without what the others ask.
func (z *Zone) Of(view int) *Zone {
	one := *z
	one.Constraints = slices.DeleteFunc(slices.Clone(z.Constraints), func(c Constraint) bool { return c.View >= 0 && c.View != view })
	return &one
}

// sample is what follows from a spot.
func (z *Zone) sample(q Spot) sample {
	s := sample{spot: q, a: z.a - q.Along, u: z.u - q.Up, n: z.n}
	pivot := z.zero.plus(q.Along, z.mount.Surface.Along).plus(q.Up, z.mount.Surface.Up)
	if z.onTheLine {
		s.level = math.Sqrt(float64(s.a*s.a) + float64(s.n*s.n))
		d := math.Sqrt(float64(s.level*s.level) + float64(s.u*s.u))
		s.centre = pivot.plus(z.speaker.Reach/d, z.target.Sub(pivot))
		return s
	}
	t := z.speaker.turn(s.a, s.u, s.n)
	s.level = t.level
	along, up, out := z.speaker.centre(t)
	s.centre = pivot.plus(along, z.mount.Surface.Along).plus(up, z.mount.Surface.Up).plus(out, z.normal)
	return s
}

// Centre is where the acoustic centre is with the reference hole at a spot and the loudspeaker aimed (room frame).
func (z *Zone) Centre(spot Spot) Vec { return z.sample(spot).centre }

// Value is the function of a constraint at a spot (metres): not negative where it is met.
func (z *Zone) Value(constraint int, spot Spot) float64 {
	s := z.sample(spot)
	v, _ := z.Constraints[constraint].value(z, &s)
	return v
}

// Contains tells whether every constraint holds at a spot, to the nearest micrometre.
func (z *Zone) Contains(spot Spot) bool {
	s := z.sample(spot)
	for i := range z.Constraints {
		if v, _ := z.Constraints[i].value(z, &s); !holds(v) {
			return false
		}
	}
	return true
}

// holds compares a constraint's value with zero in whole micrometres.
func holds(value float64) bool { return math.Round(value*1e6) >= 0 }

// level is the least of the constraints' values at a sample, and the bound that decides it. It is content with the first
// value below a floor.
func (z *Zone) level(s *sample, floor float64) (float64, boundID) {
	least, at := math.Inf(1), boundID{}
	for i := range z.Constraints {
		if v, id := z.Constraints[i].value(z, s); v < least {
			least, at = v, id
			at.constraint = i
			if least < floor {
				break
			}
		}
	}
	return least, at
}

func (z *Zone) bound(id boundID) *bound {
	return &z.Constraints[id.constraint].alternatives[id.alternative][id.bound]
}

// piece is the function of one piece of a bound at a spot.
func (z *Zone) piece(id boundID, q Spot) float64 {
	s := z.sample(q)
	return z.bound(id).piece(z, &s, id.feature)
}

// step of the differences in slope, metres.
const step = 1e-7

// slope is the gradient of a function of the spot, by central differences.
func slope(f func(Spot) float64, q Spot) Spot {
	d := func(e Spot) float64 { return (f(q.plus(e)) - f(q.minus(e))) / (2 * step) }
	return Spot{d(Spot{Along: step}), d(Spot{Up: step})}
}

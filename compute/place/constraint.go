package place

import (
	"fmt"
	"math"
)

// Rule is what a constraint keeps.
type Rule uint8

const (
	PermittedDirection Rule = iota // a direction the layout permits
	PlannedDirection               // the plan's tolerance about the planned direction
	PairSymmetry                   // mirror image of the partner, within tolerance
	CentreHeight                   // height of the acoustic centre above the floor
	BracketSwing                   // the bracket's limits of swing
	BracketTilt                    // the bracket's limits of tilt
	SpeakerReach                   // the target is not within the loudspeaker's reach
	SurfaceEdge                    // every hole keeps its distance from the edges
	SurfaceOpening                 // every hole keeps its distance from a door or window
	SurfaceKeepOut                 // every hole keeps its distance from a known pipe or cable
	FramingMember                  // enough holes meet a member of the framing
)

var ruleNames = [...]string{
	"permitted direction", "planned direction", "pair symmetry", "height of the acoustic centre", "bracket swing",
	"bracket tilt", "reach", "edge", "opening", "keep-out", "framing member",
}

// String names the rule in plain words.
func (r Rule) String() string {
	if int(r) < len(ruleNames) {
		return ruleNames[r]
	}
	return fmt.Sprintf("Rule(%d)", uint8(r))
}

// Quantity is what one bound of a constraint limits.
type Quantity uint8

const (
	Azimuth Quantity = iota
	Elevation
	Distance // from the ear point to the acoustic centre
	Height   // of the acoustic centre above the floor
	Swing
	Tilt
	Room // on the surface: between a hole and an obstacle, or a hole and a member's centre
)

var quantityNames = [...]string{"azimuth", "elevation", "distance", "height", "swing", "tilt", "room"}

// String names the quantity.
func (q Quantity) String() string {
	if int(q) < len(quantityNames) {
		return quantityNames[q]
	}
	return fmt.Sprintf("Quantity(%d)", uint8(q))
}

// Constraint is one condition on the reference hole's place: a function of the spot, in metres, that is not negative
// where the condition is met. Its size is a distance at the acoustic centre (for directions, heights, distances and
// bracket angles) or at the hole (for obstacles).
type Constraint struct {
	Rule Rule
	View int    // index of the listening position, -1 when it does not depend on one
	Name string // of the listening position, opening or keep-out

	// The condition is met where every bound of at least one alternative is: value = max over alternatives of min over bounds.
	alternatives [][]bound
}

// bound is one smooth function of the spot whose zero set is a curve on the surface. Each is a signed distance to the
// limit, in metres, so that its rate of change with the point it measures is at most 1.
type bound struct {
	kind     boundKind
	quantity Quantity
	upper    bool    // limits the quantity from above
	sign     float64 // +1 where more is inside, -1 where less is
	normal   Vec     // of a plane, or the apex of a cone, or the middle of a ball
	limit    float64
	sin, cos float64 // of the limiting angle
	hole     Spot    // relative to the reference hole
	outline  []Spot
}

type boundKind uint8

const (
	planeBound boundKind = iota // normal·centre - limit: a half-space for the acoustic centre
	coneBound                   // ±(z·cos - √(x²+y²)·sin) from the ear point: a limit of elevation
	ballBound                   // ±(|centre - middle| - limit)
	swingBound                  // ±(n·sin - a·cos - axisRight): right·v - axisRight with the bracket at the limit
	tiltBound                   // ±(u·cos - level·sin - axisUp): up·v - axisUp with the bracket at the limit
	reachBound                  // |v| - limit
	edgeBound                   // ±(distance of the hole inside the outline) - limit
	lineBound                   // a line of the surface: normal·(along, up) - limit
)

// sample is a spot and what follows from it.
type sample struct {
	spot    Spot
	centre  Vec     // acoustic centre, room frame
	a, u, n float64 // from the pivot to the target: along, up and out
	level   float64 // see turn
}

// value is the bound's function at a sample, and for an edge the nearest piece of the outline.
func (b *bound) value(z *Zone, s *sample) (float64, feature) {
	switch b.kind {
	case planeBound:
		return b.normal.Dot(s.centre) - b.limit, 0
	case coneBound:
		w := s.centre.Sub(b.normal)
		return b.sign * (float64(w.Z*b.cos) - float64(math.Sqrt(float64(w.X*w.X)+float64(w.Y*w.Y))*b.sin)), 0
	case ballBound:
		return b.sign * (s.centre.Sub(b.normal).Norm() - b.limit), 0
	case swingBound:
		return b.sign * (float64(s.n*b.sin) - float64(s.a*b.cos) - z.speaker.AxisRight), 0
	case tiltBound:
		return b.sign * (float64(s.u*b.cos) - float64(s.level*b.sin) - z.speaker.AxisUp), 0
	case reachBound:
		return Vec{s.a, s.u, s.n}.Norm() - b.limit, 0
	case edgeBound:
		d, f := signedDistance(b.outline, s.spot.plus(b.hole))
		return b.sign*d - b.limit, f
	default:
		return float64(b.normal.X*s.spot.Along) + float64(b.normal.Y*s.spot.Up) - b.limit, 0
	}
}

// piece is the bound's function as if one piece of the outline, extended, were all of it: a line for an edge, a circle
// for a vertex. Other bounds have one piece.
func (b *bound) piece(z *Zone, s *sample, f feature) float64 {
	if b.kind != edgeBound {
		v, _ := b.value(z, s)
		return v
	}
	k := int(f) / 2
	w := s.spot.plus(b.hole).minus(b.outline[k])
	if f%2 == 1 {
		// Only corners that stick out on the side of the hole are nearest to it.
		return w.norm() - b.limit
	}
	e := b.outline[(k+1)%len(b.outline)].minus(b.outline[k])
	return b.sign*(e.cross(w)/e.norm()) - b.limit
}

// value is the constraint's function at a sample and the bound that decides it.
func (c *Constraint) value(z *Zone, s *sample) (float64, boundID) {
	best, at := math.Inf(-1), boundID{}
	for i, bounds := range c.alternatives {
		least, id := math.Inf(1), boundID{}
		for j := range bounds {
			if v, f := bounds[j].value(z, s); v < least {
				least, id = v, boundID{alternative: i, bound: j, feature: f}
			}
		}
		if least > best {
			best, at = least, id
		}
	}
	return best, at
}

// boundID names a piece of a bound of a zone.
type boundID struct {
	constraint, alternative, bound int
	feature                        feature
}

// half is the half-space where normal·centre >= normal·through, or the other half with upper.
func half(q Quantity, normal, through Vec, upper bool) bound {
	if upper {
		normal = normal.Scale(-1)
	}
	return bound{kind: planeBound, quantity: q, upper: upper, normal: normal, limit: normal.Dot(through)}
}

// side is +1 for a lower limit and -1 for an upper one.
func side(upper bool) float64 {
	if upper {
		return -1
	}
	return 1
}

// inSector are the alternatives that keep the acoustic centre in a sector as the listener sees it. A limit of azimuth is
// a half-plane that ends in the vertical axis through the ear point. Up to half a turn the sector is what two half-spaces
// have in common; beyond, what they cover together. A limit of elevation is a cone with its apex in the ear point.
func (l Listener) inSector(s Sector) [][]bound {
	var elevation []bound
	for _, limit := range []struct {
		angle float64
		upper bool
	}{{s.ElevationMin, false}, {s.ElevationMax, true}} {
		if math.Abs(limit.angle) < math.Pi/2 || limit.upper == (limit.angle < 0) {
			sin, cos := math.Sincos(limit.angle)
			elevation = append(elevation, bound{kind: coneBound, quantity: Elevation, upper: limit.upper, sign: side(limit.upper), normal: l.Ear, sin: sin, cos: cos})
		}
	}
	// leftOf is the normal, to the left, of the vertical plane in which the listener sees an azimuth.
	leftOf := func(azimuth float64) Vec { return l.Ray(Direction{Azimuth: azimuth + math.Pi/2}) }
	low := half(Azimuth, leftOf(s.AzimuthMin), l.Ear, false)
	high := half(Azimuth, leftOf(s.AzimuthMax), l.Ear, true)
	switch width := s.width(); {
	case width >= 2*math.Pi:
		return [][]bound{elevation}
	case width > math.Pi:
		return [][]bound{append([]bound{low}, elevation...), append([]bound{high}, elevation...)}
	default:
		return [][]bound{append([]bound{low, high}, elevation...)}
	}
}

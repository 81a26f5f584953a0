package place

import (
	"cmp"
	"math"
)

// Listener is a listening position: the point between the ears in the room frame (metres), and the azimuth of the
// facing direction in the room frame (radians, 0 = front, positive left).
type Listener struct {
	Name   string
	Ear    Vec
	Facing float64
}

// Check tells whether the ear point and the facing are finite; the error is [ErrNumber].
func (l Listener) Check() error {
	return cmp.Or(l.Ear.check("ear"), finite("facing", l.Facing))
}

// Sight is how a listener sees a point: direction (radians), straight distance from the ear point and height above the
// finished floor (metres).
type Sight struct {
	Direction
	Distance float64
	Height   float64
}

// See is how the listener sees the point p of the room frame. The ear point itself is seen at distance 0 in direction
// (0, 0).
func (l Listener) See(p Vec) Sight {
	right, ahead := l.axes()
	d := p.Sub(l.Ear)
	direction, distance := DirectionOf(Vec{d.Dot(right), d.Dot(ahead), d.Z})
	return Sight{Direction: direction, Distance: distance, Height: p.Z}
}

// Ray is the unit vector, in the room frame, in which the listener sees a direction.
func (l Listener) Ray(d Direction) Vec {
	right, ahead := l.axes()
	u := d.Unit()
	return Vec{Z: u.Z}.plus(u.X, right).plus(u.Y, ahead)
}

// axes are the listener's right and ahead in the room frame.
func (l Listener) axes() (right, ahead Vec) {
	sin, cos := math.Sincos(l.Facing)
	return Vec{X: cos, Y: sin}, Vec{X: -sin, Y: cos}
}

// Jacobian holds the gradients of a sight with respect to a moving point: azimuth and elevation in rad/m, distance and
// height in m/m.
type Jacobian struct{ Azimuth, Elevation, Distance, Height Vec }

// Rates is how a sight changes along one way of moving: azimuth and elevation in rad/m, distance and height in m/m.
type Rates struct{ Azimuth, Elevation, Distance, Height float64 }

// Along is the rates of change when the point moves by v for each metre.
func (j Jacobian) Along(v Vec) Rates {
	return Rates{j.Azimuth.Dot(v), j.Elevation.Dot(v), j.Distance.Dot(v), j.Height.Dot(v)}
}

// SeeJacobian is the gradients of See(p) with respect to p and to the ear point. With d = p - ear, horizontal distance
// h and distance r:
//
//	∂azimuth/∂p   = (-d_y, d_x, 0)/h²
//	∂elevation/∂p = (-d_x d_z/h, -d_y d_z/h, h)/r²
//	∂distance/∂p  = d/r
//
// and the gradients with respect to the ear point are their negatives, but for the height, which does not depend on it.
// The facing turns the azimuth one for one, the other way. Straight above and below the ear point azimuth and elevation
// have no gradient: ok is false and both are zero; in the ear point itself distance has none either.
func (l Listener) SeeJacobian(p Vec) (point, ear Jacobian, ok bool) {
	d := p.Sub(l.Ear)
	h, r := math.Hypot(d.X, d.Y), d.Norm()
	point.Height = Vec{Z: 1}
	if r > 0 {
		point.Distance = d.Scale(1 / r)
	}
	if ok = h > vertical*r; ok {
		point.Azimuth = Vec{-d.Y, d.X, 0}.Scale(1 / (h * h))
		point.Elevation = Vec{-d.X * d.Z / h, -d.Y * d.Z / h, h}.Scale(1 / (r * r))
	}
	ear = Jacobian{
		Azimuth:   point.Azimuth.Scale(-1),
		Elevation: point.Elevation.Scale(-1),
		Distance:  point.Distance.Scale(-1),
	}
	return point, ear, ok
}

// PairDifference is how far two loudspeakers are from mirroring each other about the listener's median plane. Each
// figure is zero for a perfect pair.
type PairDifference struct {
	Azimuth   float64 // a's azimuth plus b's, in (-π, π]: how far the pair's middle line is off, times two
	Elevation float64 // a's less b's
	Distance  float64 // a's less b's, metres
	Height    float64 // a's less b's, metres
}

// PairDeviation compares the sights of the two loudspeakers of a pair.
func PairDeviation(a, b Sight) PairDifference {
	return PairDifference{
		Azimuth:   Wrap(a.Azimuth + b.Azimuth),
		Elevation: a.Elevation - b.Elevation,
		Distance:  a.Distance - b.Distance,
		Height:    a.Height - b.Height,
	}
}

package place

import "math"

// vertical is the share of a vector's length that its horizontal part must exceed to have an azimuth. Turning a
// listener leaves rounding of about 1e-16 on a vertical line; a picometre in a metre is no direction.
const vertical = 1e-12

// Direction is a direction as a listener sees it, in radians: azimuth positive to the left in (-π, π], elevation
// positive up in [-π/2, π/2].
type Direction struct{ Azimuth, Elevation float64 }

// DirectionOf is the direction and length (metres) of a vector in the listener's frame, x to the right, y ahead, z up:
//
//	azimuth = -atan2(x, y)   elevation = atan2(z, √(x²+y²))   distance = √(x²+y²+z²)
//
// (ITU-R BS.2076 convention). Straight behind is +π, never -π. On the vertical axis azimuth is 0; the zero vector has
// direction (0, 0).
func DirectionOf(v Vec) (Direction, float64) {
	horizontal, distance := math.Hypot(v.X, v.Y), v.Norm()
	d := Direction{Elevation: math.Atan2(v.Z, horizontal)}
	if horizontal <= vertical*distance {
		return d, distance
	}
	d.Azimuth = math.Atan2(-v.X, v.Y)
	if d.Azimuth <= -math.Pi {
		d.Azimuth = math.Pi
	}
	return d, distance
}

// Unit is the unit vector of the direction in the listener's frame:
//
//	x = -cos(el)·sin(az)   y = cos(el)·cos(az)   z = sin(el)
func (d Direction) Unit() Vec {
	sinAz, cosAz := math.Sincos(d.Azimuth)
	sinEl, cosEl := math.Sincos(d.Elevation)
	return Vec{-cosEl * sinAz, cosEl * cosAz, sinEl}
}

// Between is the great-circle angle from a to b in [0, π]: atan2(|a×b|, a·b), which stays accurate where the arc cosine
// of the dot product does not, near 0 and near π.
func Between(a, b Direction) float64 {
	u, v := a.Unit(), b.Unit()
	return math.Atan2(u.Cross(v).Norm(), u.Dot(v))
}

// Wrap brings an angle (radians) into (-π, π].
func Wrap(angle float64) float64 {
	a := math.Remainder(angle, 2*math.Pi)
	if a <= -math.Pi {
		return math.Pi
	}
	return a
}

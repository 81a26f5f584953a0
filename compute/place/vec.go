package place

import "math"

// Vec is a point or a displacement in the room frame, in metres; as a direction it has no unit.
type Vec struct{ X, Y, Z float64 }

// Add is v + w.
func (v Vec) Add(w Vec) Vec { return Vec{v.X + w.X, v.Y + w.Y, v.Z + w.Z} }

// Sub is v - w.
func (v Vec) Sub(w Vec) Vec { return Vec{v.X - w.X, v.Y - w.Y, v.Z - w.Z} }

// Scale is k·v.
func (v Vec) Scale(k float64) Vec { return Vec{k * v.X, k * v.Y, k * v.Z} }

// Dot is v·w = v_x w_x + v_y w_y + v_z w_z. The conversions keep the compiler from fusing multiply and add, so that
// every processor rounds alike.
func (v Vec) Dot(w Vec) float64 {
	return float64(v.X*w.X) + float64(v.Y*w.Y) + float64(v.Z*w.Z)
}

// Cross is v × w; x × y = z.
func (v Vec) Cross(w Vec) Vec {
	return Vec{
		float64(v.Y*w.Z) - float64(v.Z*w.Y),
		float64(v.Z*w.X) - float64(v.X*w.Z),
		float64(v.X*w.Y) - float64(v.Y*w.X),
	}
}

// Norm is |v| = √(v·v).
func (v Vec) Norm() float64 { return math.Sqrt(v.Dot(v)) }

// Unit is v/|v|; the zero vector stays the zero vector.
func (v Vec) Unit() Vec {
	n := v.Norm()
	if n == 0 {
		return Vec{}
	}
	return v.Scale(1 / n)
}

// plus is v + k·w, unfused.
func (v Vec) plus(k float64, w Vec) Vec {
	return Vec{v.X + float64(k*w.X), v.Y + float64(k*w.Y), v.Z + float64(k*w.Z)}
}

func (v Vec) check(field string) error { return finite(field, v.X, v.Y, v.Z) }

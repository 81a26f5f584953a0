package place

import (
	"cmp"
	"fmt"
	"math"
)

// Bracket is what joins a loudspeaker to a surface. Lengths in metres, angles in radians.
//
// The pivot stands PivotOut in front of the surface, shifted by PivotAlong and PivotUp from the reference hole. Swing
// turns about the surface's up, positive towards along; tilt then turns about the swung cabinet's own cross axis,
// positive towards up. Both are zero with the loudspeaker's axis square to the surface, so that in the surface's frame
//
//	axis = cos(tilt)·(cos(swing)·normal + sin(swing)·along) + sin(tilt)·up
//
// On a plumb wall tilt is the elevation of the axis above the horizontal. On a sloped surface it is the angle of the
// axis out of the plane that holds the normal and along. On a ceiling of a [Box], where the normal points down and up
// points from the front wall to the rear, swing leans the axis from straight down towards the right wall and tilt
// towards the rear wall. [Pose] gives the heading and the elevation in room terms for every surface.
type Bracket struct {
	Holes              []Spot // screw holes relative to the reference hole; none: the reference hole alone
	PivotAlong         float64
	PivotUp            float64
	PivotOut           float64
	SwingMin, SwingMax float64
	TiltMin, TiltMax   float64
}

// Pattern is where the screws go relative to the reference hole: Holes, or the reference hole alone. The reference hole
// takes a screw only if it is listed among Holes.
func (b Bracket) Pattern() []Spot {
	if len(b.Holes) == 0 {
		return []Spot{{}}
	}
	return b.Holes
}

// Speaker is the geometry of a loudspeaker on its bracket, in metres: Reach from the pivot to the acoustic centre along
// the axis, and the shift of the acoustic axis from the pivot as seen from behind the cabinet.
type Speaker struct {
	Reach     float64
	AxisRight float64
	AxisUp    float64
}

// Mount is a loudspeaker on a bracket whose reference hole goes at a spot of a surface.
type Mount struct {
	Surface *Surface
	Hole    Spot
	Bracket Bracket
	Speaker Speaker
}

// Check tells whether the mount has a surface and its numbers make sense. Errors: [ErrNoSurface], [ErrNumber].
func (m Mount) Check() error {
	if m.Surface == nil {
		return ErrNoSurface
	}
	b := m.Bracket
	if err := cmp.Or(m.Hole.check("hole"), finite("pivot", b.PivotAlong, b.PivotUp, b.PivotOut),
		finite("swing limits", b.SwingMin, b.SwingMax), finite("tilt limits", b.TiltMin, b.TiltMax),
		notNegative("reach", m.Speaker.Reach), finite("axis offset", m.Speaker.AxisRight, m.Speaker.AxisUp)); err != nil {
		return err
	}
	for _, h := range b.Holes {
		if err := h.check("bracket holes"); err != nil {
			return err
		}
	}
	if b.SwingMin > b.SwingMax || b.TiltMin > b.TiltMax {
		return fmt.Errorf("%w: bracket limits: read swing %v to %v and tilt %v to %v, want the lower first",
			ErrNumber, b.SwingMin, b.SwingMax, b.TiltMin, b.TiltMax)
	}
	return nil
}

// Pivot is the bracket's pivot in the room frame.
func (m Mount) Pivot() Vec {
	b := m.Bracket
	return m.Surface.At(m.Hole.plus(Spot{b.PivotAlong, b.PivotUp})).plus(b.PivotOut, m.Surface.Normal())
}

// Pose is how a loudspeaker hangs.
type Pose struct {
	Pivot, Centre   Vec     // pivot and acoustic centre, room frame
	Axis, Right, Up Vec     // unit vectors, room frame: the acoustic axis, the cabinet's right as seen from behind, its top
	Swing, Tilt     float64 // bracket angles, see [Bracket]
	Heading         float64 // azimuth of the axis in the room frame: 0 towards the front, positive left
	Elevation       float64 // of the axis above the horizontal
	SwingExcess     float64 // how far Swing lies beyond the bracket's limits: positive above, negative below, 0 within
	TiltExcess      float64 // likewise for Tilt
}

// Swung is the pose of a mount at given bracket angles (radians). The acoustic centre is
//
//	pivot + reach·axis + axisRight·right + axisUp·up
func Swung(m Mount, swing, tilt float64) Pose {
	s := m.Surface
	sinS, cosS := math.Sincos(swing)
	sinT, cosT := math.Sincos(tilt)
	normal := s.Normal()
	level := normal.Scale(cosS).plus(sinS, s.Along) // the axis before tilting
	p := Pose{
		Pivot: m.Pivot(),
		Axis:  level.Scale(cosT).plus(sinT, s.Up),
		Right: normal.Scale(sinS).plus(-cosS, s.Along),
		Up:    level.Scale(-sinT).plus(cosT, s.Up),
		Swing: swing, Tilt: tilt,
		SwingExcess: excess(swing, m.Bracket.SwingMin, m.Bracket.SwingMax),
		TiltExcess:  excess(tilt, m.Bracket.TiltMin, m.Bracket.TiltMax),
	}
	p.Centre = p.Pivot.plus(m.Speaker.Reach, p.Axis).plus(m.Speaker.AxisRight, p.Right).plus(m.Speaker.AxisUp, p.Up)
	facing, _ := DirectionOf(p.Axis)
	p.Heading, p.Elevation = facing.Azimuth, facing.Elevation
	return p
}

func excess(v, low, high float64) float64 {
	switch {
	case v > high:
		return v - high
	case v < low:
		return v - low
	}
	return 0
}

// Aim is the pose in which the acoustic axis, through the acoustic centre, passes through the target (room frame). With
// v = target - pivot and its parts a, u, n along, up and along the normal, swing and tilt follow in closed form from the
// two offsets of the axis, right·v = axisRight and up·v = axisUp:
//
//	swing = atan2(a, n) + asin(axisRight/√(a²+n²))
//	m     = √(a²+n² - axisRight²)
//	tilt  = atan2(u, m) - asin(axisUp/√(m²+u²))
//
// A target on the swing axis itself leaves the swing free: it is 0. Bracket limits are reported in the pose, they are no
// error. Errors: those of [Mount.Check], [ErrNumber] for the target, [ErrAim] when the target lies within the
// loudspeaker's reach.
func Aim(m Mount, target Vec) (Pose, error) {
	if err := cmp.Or(m.Check(), target.check("target")); err != nil {
		return Pose{}, err
	}
	v := target.Sub(m.Pivot())
	t := m.Speaker.turn(v.Dot(m.Surface.Along), v.Dot(m.Surface.Up), v.Dot(m.Surface.Normal()))
	if !(t.ahead > m.Speaker.Reach) {
		return Pose{}, fmt.Errorf("%w: target %v, pivot %v, reach %v m", ErrAim, target, m.Pivot(), m.Speaker.Reach)
	}
	return Swung(m, math.Atan2(t.sinS, t.cosS), math.Atan2(t.sinT, t.cosT)), nil
}

// turn is the bracket's swing (S) and tilt (T) that bring the axis through a point, by sine and cosine.
type turn struct {
	sinS, cosS, sinT, cosT float64
	level                  float64 // how far ahead the point lies after swinging, before tilting
	ahead                  float64 // how far ahead along the axis, from the pivot; 0 where no turn reaches the point
}

// turn is the closed form of [Aim] for the point at (a, u, n) from the pivot, along, up and out. It needs no
// trigonometry: with h² = a²+n² and level = √(h²-right²), sin(swing) = (right·n + level·a)/h², and so on for the tilt.
func (s Speaker) turn(a, u, n float64) turn {
	t := turn{cosS: 1, cosT: 1}
	h2 := float64(a*a) + float64(n*n)
	m2 := h2 - float64(s.AxisRight*s.AxisRight)
	q2 := m2 + float64(u*u)
	k2 := q2 - float64(s.AxisUp*s.AxisUp)
	if m2 < 0 || k2 <= 0 {
		return t
	}
	t.level, t.ahead = math.Sqrt(m2), math.Sqrt(k2)
	if h2 > 0 {
		t.sinS = (float64(s.AxisRight*n) + float64(t.level*a)) / h2
		t.cosS = (float64(t.level*n) - float64(s.AxisRight*a)) / h2
	}
	t.sinT = (float64(u*t.ahead) - float64(t.level*s.AxisUp)) / q2
	t.cosT = (float64(t.level*t.ahead) + float64(u*s.AxisUp)) / q2
	return t
}

// centre is the acoustic centre relative to the pivot, along, up and out.
func (s Speaker) centre(t turn) (along, up, out float64) {
	level := float64(s.Reach*t.cosT) - float64(s.AxisUp*t.sinT)
	along = float64(level*t.sinS) - float64(s.AxisRight*t.cosS)
	out = float64(level*t.cosS) + float64(s.AxisRight*t.sinS)
	return along, float64(s.Reach*t.sinT) + float64(s.AxisUp*t.cosT), out
}

package place

import "math"

// Sensitivity is how the sight of an aimed loudspeaker's acoustic centre changes.
type Sensitivity struct {
	Along, Up Rates    // the reference hole moves along or up, the axis stays on the target
	Ear       Jacobian // the ear point moves, the loudspeaker stays as it hangs
	Target    Jacobian // the target moves and the axis follows, the ear point stays
}

// SightSensitivity is the exact rates of change of l.See(centre), the centre being that of the mount aimed at the target.
// Where the target is the ear point and the loudspeaker is aimed anew when the ear point moves, the gradient with respect
// to the ear point is Ear + Target.
//
// With v = target - pivot, the conditions right·v = axisRight and up·v = axisUp give the change of the bracket angles,
//
//	dswing = -right·dv / m           m = level·v, level = the axis before tilting
//	dtilt  = (up·dv + sin(tilt)·axisRight·dswing) / k    k = axis·v
//
// and from them the centre's. Errors: those of [Aim], and [ErrVertical].
func SightSensitivity(m Mount, target Vec, l Listener) (Sensitivity, error) {
	pose, err := Aim(m, target)
	if err != nil {
		return Sensitivity{}, err
	}
	if err := l.Check(); err != nil {
		return Sensitivity{}, err
	}
	point, ear, ok := l.SeeJacobian(pose.Centre)
	v := target.Sub(pose.Pivot)
	sinT, cosT := math.Sincos(pose.Tilt)
	level := pose.Axis.Scale(cosT).plus(-sinT, pose.Up)
	ahead, straight := level.Dot(v), pose.Axis.Dot(v)
	if !ok || ahead <= vertical*straight {
		return Sensitivity{}, ErrVertical
	}
	speaker := m.Speaker
	bySwing := pose.Right.Scale(-speaker.Reach*cosT+speaker.AxisUp*sinT).plus(speaker.AxisRight, level)
	byTilt := pose.Up.Scale(speaker.Reach).plus(-speaker.AxisUp, pose.Axis)
	// follow is how the centre moves about its pivot when v changes by dv.
	follow := func(dv Vec) Vec {
		dSwing := -pose.Right.Dot(dv) / ahead
		dTilt := (pose.Up.Dot(dv) + sinT*speaker.AxisRight*dSwing) / straight
		return bySwing.Scale(dSwing).plus(dTilt, byTilt)
	}
	hole := func(way Vec) Rates { return point.Along(way.Sub(follow(way))) }
	byX, byY, byZ := point.Along(follow(Vec{X: 1})), point.Along(follow(Vec{Y: 1})), point.Along(follow(Vec{Z: 1}))
	return Sensitivity{
		Along: hole(m.Surface.Along),
		Up:    hole(m.Surface.Up),
		Ear:   ear,
		Target: Jacobian{
			Azimuth:   Vec{byX.Azimuth, byY.Azimuth, byZ.Azimuth},
			Elevation: Vec{byX.Elevation, byY.Elevation, byZ.Elevation},
			Distance:  Vec{byX.Distance, byY.Distance, byZ.Distance},
			Height:    Vec{byX.Height, byY.Height, byZ.Height},
		},
	}, nil
}

package fixing_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/compute/fixing"
)

const (
	inch  = 0.0254
	pound = 4.4482216152605
	psi   = pound / (inch * inch)
)

// newtons makes a mass that weighs w.
func newtons(w float64) float64 { return w / fixing.Gravity }

func column(ys ...float64) []fixing.Hole {
	holes := make([]fixing.Hole, len(ys))
	for i, y := range ys {
		holes[i] = fixing.Hole{Y: y}
	}
	return holes
}

func TestForcesPublishedExamples(t *testing.T) {
	plate := func(holes ...fixing.Hole) fixing.Plate { return fixing.Plate{Holes: holes, Thickness: 0.003} }

	// V. B. Bhandari, Design of Machine Elements, Ex. 7.10, loads divided by 100 so
	// that the mass stays one of a loudspeaker: 150 N at 200 mm, two bolts in each of
	// the rows at 50 and 150 mm: 90 N on a bolt of the far row (printed 9000 N for 15 kN).
	s, err := fixing.Forces(fixing.Load{Mass: newtons(150), Reach: 0.200,
		Plate: plate(fixing.Hole{X: -0.04, Y: 0.05}, fixing.Hole{X: 0.04, Y: 0.05}, fixing.Hole{X: -0.04, Y: 0.15}, fixing.Hole{X: 0.04, Y: 0.15})})
	require.NoError(t, err)
	assert.InDelta(t, 90, s.Forces[2].Tension, 1e-8)
	assert.InDelta(t, 90, s.Forces[3].Tension, 1e-8)

	// The same book, Ex. 7.8, divided by 100: 200 N along the bolts, e 550 mm, bolts
	// at 450 and 50 mm from the edge. The book adds a direct share of 100 N to a
	// tilting share of 241.4634 N: 341.4634 N (printed area 455.284553 mm² at 75 N/mm²).
	s, err = fixing.Forces(fixing.Load{Mass: newtons(200), Reach: 0.550, Plate: plate(column(0.450, 0.050)...)})
	require.NoError(t, err)
	assert.InDelta(t, 100, s.Forces[0].Shear, 1e-9, "direct share")
	assert.InDelta(t, 455.284553*75/100, s.Forces[0].Tension+s.Forces[0].Shear, 1e-6)
	// Hung from a ceiling with the load 550 mm from that edge, the edge form is the
	// tilting share alone: the direct share is already in it. With 550 mm read from
	// the centroid of the bolts the edge form asks for no less than the book.
	s, err = fixing.Forces(fixing.Load{Mass: newtons(200), On: fixing.Ceiling, Reach: 0.550, Plate: plate(column(0.450, 0.050)...)})
	require.NoError(t, err)
	assert.Equal(t, fixing.EdgeForm, s.Form)
	assert.InDelta(t, 24146.34/100, s.Forces[0].Tension, 1e-4)
	s, err = fixing.Forces(fixing.Load{Mass: newtons(200), On: fixing.Ceiling, Reach: 0.550 + 0.250, Plate: plate(column(0.450, 0.050)...)})
	require.NoError(t, err)
	assert.GreaterOrEqual(t, s.Forces[0].Tension, 34146.34/100)

	// In-plane torsion, textbook exercise, divided by 100: 100 N, 100 mm to the side,
	// bolts at (±40, ±30) mm: worst resultant 71.6 N (printed 7.16 kN for 10 kN).
	s, err = fixing.Forces(fixing.Load{Mass: newtons(100), Side: 0.100,
		Plate: fixing.Plate{Edge: -0.05, Thickness: 0.003, Holes: []fixing.Hole{{X: -0.04, Y: -0.03}, {X: 0.04, Y: -0.03}, {X: 0.04, Y: 0.03}, {X: -0.04, Y: 0.03}}}})
	require.NoError(t, err)
	assert.InDelta(t, 71.59, s.Forces[2].Shear, 0.05)
	assert.InDelta(t, 25+50*0.8, s.Forces[2].Down, 1e-9, "direct 25 N and the down part of 50 N")
	assert.Zero(t, s.Forces[2].Tension)
}

func TestForcesOfBrackets(t *testing.T) {
	// Derived from the formulas of the doc comment of Forces, by hand.
	s, err := fixing.Forces(fixing.Load{Mass: 12, Reach: 0.22, Plate: fixing.Plate{Holes: column(0.170, 0.030), Thickness: 0.003}})
	require.NoError(t, err)
	assert.InDelta(t, 117.680, s.Weight, 1e-3)
	assert.InDelta(t, 25.8896, s.Moment, 1e-4)
	assert.InDelta(t, 147.692, s.Forces[0].Tension, 1e-3)
	assert.InDelta(t, 26.063, s.Forces[1].Tension, 1e-3)
	assert.InDelta(t, 58.840, s.Forces[0].Shear, 1e-3)
	assert.InDelta(t, 158.981, s.Forces[0].Resultant, 1e-3)
	assert.InDelta(t, 68.278, s.Forces[0].Angle*180/math.Pi, 1e-3)
	assert.InDelta(t, 147.692+26.063, s.Contact.Force, 2e-3, "the lower edge presses with the sum")

	s, err = fixing.Forces(fixing.Load{Mass: 25, Reach: 0.25, Plate: fixing.Plate{Thickness: 0.003,
		Holes: []fixing.Hole{{X: -0.03, Y: 0.2}, {X: 0.03, Y: 0.2}, {X: -0.03, Y: 0.05}, {X: 0.03, Y: 0.05}}}})
	require.NoError(t, err)
	assert.InDelta(t, 144.215, s.Forces[0].Tension, 1e-3)
	assert.InDelta(t, 36.054, s.Forces[2].Tension, 1e-3)
	assert.InDelta(t, 61.292, s.Forces[0].Shear, 1e-3)
}

func TestForcesOnACeilingInTheCentroidForm(t *testing.T) {
	// W/n ± W·e·y/Σy²: 100 N, four holes at ±50 mm, e 20 mm: 25 ± 100·0.02·0.05/0.01.
	s, err := fixing.Forces(fixing.Load{Mass: newtons(100), On: fixing.Ceiling, Reach: 0.02, Plate: fixing.Plate{Edge: -0.05, Thickness: 0.003,
		Holes: []fixing.Hole{{X: -0.05, Y: 0.05}, {X: 0.05, Y: 0.05}, {X: -0.05, Y: -0.05}, {X: 0.05, Y: -0.05}}}})
	require.NoError(t, err)
	assert.Equal(t, fixing.CentroidForm, s.Form)
	assert.InDelta(t, 35, s.Forces[0].Tension, 1e-9)
	assert.InDelta(t, 15, s.Forces[2].Tension, 1e-9)
	assert.Zero(t, s.Contact.Force)
	assert.InDelta(t, math.Pi/2, s.Forces[0].Angle, 1e-12, "pure pull")
}

func TestForcesOnACeilingWithOneHole(t *testing.T) {
	// Lever: hole 60 mm and load 100 mm from the edge: T = W·100/60.
	s, err := fixing.Forces(fixing.Load{Mass: newtons(60), On: fixing.Ceiling, Reach: 0.04, Plate: fixing.Plate{Edge: -0.06, Thickness: 0.003, Holes: column(0)}})
	require.NoError(t, err)
	assert.InDelta(t, 100, s.Forces[0].Tension, 1e-9)
	assert.InDelta(t, 40, s.Contact.Force, 1e-9)
	assert.InDelta(t, -0.06, s.Contact.Y, 1e-12)
}

func holesGen(t *rapid.T, most int) []fixing.Hole {
	return rapid.SliceOfNDistinct(rapid.Custom(func(t *rapid.T) fixing.Hole {
		return fixing.Hole{X: float64(rapid.IntRange(-15, 15).Draw(t, "x")) / 100, Y: float64(rapid.IntRange(1, 40).Draw(t, "y")) / 100}
	}), 2, most, rapid.ID[fixing.Hole]).Draw(t, "holes")
}

func TestForcesOnAWallBalanceAboutEveryAxis(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := fixing.Load{
			Mass:  rapid.Float64Range(1, 60).Draw(t, "mass"),
			Reach: rapid.Float64Range(0, 1).Draw(t, "reach"),
			Side:  rapid.Float64Range(-0.5, 0.5).Draw(t, "side"),
			Plate: fixing.Plate{Holes: holesGen(t, 8), Edge: rapid.Float64Range(-0.1, 0.008).Draw(t, "edge"), Thickness: 0.003},
		}
		s, err := fixing.Forces(l)
		require.NoError(t, err)
		// Out of the wall: pulls hold the plate back, the edge presses it out. Moments
		// about the origin: x (tilting), y (turning), z (torsion).
		var right, down, out, mx, my, mz float64
		for i, f := range s.Forces {
			h := l.Plate.Holes[i]
			right += f.Right
			down += f.Down
			out += f.Tension
			mx += f.Tension * h.Y
			my += f.Tension * h.X
			mz += f.Down*h.X + f.Right*h.Y
			assert.GreaterOrEqual(t, f.Tension, 0.0)
		}
		mx -= s.Contact.Force * s.Contact.Y
		my -= s.Contact.Force * s.Contact.X
		w := s.Weight
		assert.InDelta(t, 0, right, 1e-9*w)
		assert.InDelta(t, w, down, 1e-9*w)
		assert.InDelta(t, s.Contact.Force, out, 1e-9*w)
		assert.InDelta(t, w*l.Reach, mx, 1e-9*w)
		assert.InDelta(t, 0, my, 1e-9*w)
		assert.InDelta(t, w*l.Side, mz, 1e-9*w)
	})
}

func TestForcesOnACeilingBalanceAndTouchOnlyWhereThePlateIsShut(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		// Three holes that are not in one line, and more.
		holes := append([]fixing.Hole{{X: 0.005, Y: 0.005}, {X: 0.065, Y: 0.015}, {X: -0.015, Y: 0.115}}, holesGen(t, 5)...)
		l := fixing.Load{
			Mass: rapid.Float64Range(1, 60).Draw(t, "mass"), On: fixing.Ceiling,
			Reach: rapid.Float64Range(-1, 1).Draw(t, "reach"),
			Side:  rapid.Float64Range(-1, 1).Draw(t, "side"),
			Plate: fixing.Plate{Holes: holes, Edge: rapid.Float64Range(-0.1, 0.005).Draw(t, "edge"), Side: rapid.Float64Range(0, 0.05).Draw(t, "overhang"), Thickness: 0.003},
		}
		s, err := fixing.Forces(l)
		require.NoError(t, err)
		var out, mx, my float64
		left, right, high := math.Inf(1), math.Inf(-1), math.Inf(-1)
		for i, f := range s.Forces {
			h := holes[i]
			out += f.Tension
			mx += f.Tension * h.Y
			my += f.Tension * h.X
			left, right, high = min(left, h.X), max(right, h.X), max(high, h.Y)
			assert.GreaterOrEqual(t, f.Tension, 0.0)
			assert.Zero(t, f.Shear)
		}
		left, right = left-l.Plate.Side, right+l.Plate.Side
		w, c := s.Weight, s.Contact
		tol := 1e-6 * w
		assert.InDelta(t, w+c.Force, out, tol)
		assert.InDelta(t, w*l.Reach+c.Force*c.Y, mx, tol)
		assert.InDelta(t, w*l.Side+c.Force*c.X, my, tol)
		// The plate stays flat: the opening is one plane over the three first holes,
		// which the others lie on, which is nowhere negative on the plate and shut
		// where it presses. With equilibrium this is the least-energy solution, and
		// there is only one.
		at := plane(holes, s.Forces)
		for i, h := range holes {
			assert.InDelta(t, at(h.X, h.Y), s.Forces[i].Tension, tol)
		}
		for _, corner := range []fixing.Hole{{X: left, Y: l.Plate.Edge}, {X: right, Y: l.Plate.Edge}, {X: right, Y: high}, {X: left, Y: high}} {
			assert.GreaterOrEqual(t, at(corner.X, corner.Y), -tol)
		}
		assert.GreaterOrEqual(t, c.Force, 0.0)
		if c.Force > 1e-3*w {
			assert.InDelta(t, 0, at(c.X, c.Y), 1e-4*w, "pressing where the plate is shut")
			assert.True(t, c.X >= left-1e-4 && c.X <= right+1e-4 && c.Y >= l.Plate.Edge-1e-4 && c.Y <= high+1e-4, "pressing on the plate")
		}
	})
}

// plane is the plane through the tensions of the first three holes.
func plane(h []fixing.Hole, f []fixing.Force) func(x, y float64) float64 {
	x1, y1, z1 := h[1].X-h[0].X, h[1].Y-h[0].Y, f[1].Tension-f[0].Tension
	x2, y2, z2 := h[2].X-h[0].X, h[2].Y-h[0].Y, f[2].Tension-f[0].Tension
	det := x1*y2 - x2*y1
	b, c := (z1*y2-z2*y1)/det, (x1*z2-x2*z1)/det
	return func(x, y float64) float64 { return f[0].Tension + b*(x-h[0].X) + c*(y-h[0].Y) }
}

func TestTwiceTheMassIsTwiceEveryForce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := fixing.Load{
			Mass: rapid.Float64Range(1, 60).Draw(t, "mass"), On: rapid.SampledFrom([]fixing.Surface{fixing.Wall, fixing.Ceiling}).Draw(t, "on"),
			Reach: rapid.Float64Range(0, 1).Draw(t, "reach"), Side: 0.0,
			Plate: fixing.Plate{Holes: append(holesGen(t, 6), fixing.Hole{X: 0.005, Y: 0.005}, fixing.Hole{X: -0.095, Y: 0.305}), Side: 0.05, Thickness: 0.003},
		}
		one, err := fixing.Forces(l)
		require.NoError(t, err)
		l.Mass *= 2
		two, err := fixing.Forces(l)
		require.NoError(t, err)
		for i := range one.Forces {
			assert.InEpsilon(t, 1+2*one.Forces[i].Resultant, 1+two.Forces[i].Resultant, 1e-9)
			assert.InDelta(t, one.Forces[i].Angle, two.Forces[i].Angle, 1e-6)
		}
	})
}

func TestForcesRefuseWhatCannotBeHeld(t *testing.T) {
	good := func() fixing.Load {
		return fixing.Load{Mass: 10, Reach: 0.2, Plate: fixing.Plate{Holes: column(0.05, 0.15), Thickness: 0.003}}
	}
	for name, row := range map[string]struct {
		change func(*fixing.Load)
		want   error
		field  string
	}{
		"no mass":         {func(l *fixing.Load) { l.Mass = 0 }, fixing.ErrNotPositive, "load.mass"},
		"negative mass":   {func(l *fixing.Load) { l.Mass = -3 }, fixing.ErrNotPositive, "load.mass"},
		"NaN mass":        {func(l *fixing.Load) { l.Mass = math.NaN() }, fixing.ErrNotFinite, "load.mass"},
		"infinite reach":  {func(l *fixing.Load) { l.Reach = math.Inf(1) }, fixing.ErrNotFinite, "load.reach"},
		"into the wall":   {func(l *fixing.Load) { l.Reach = -0.1 }, fixing.ErrNotPositive, "load.reach"},
		"huge":            {func(l *fixing.Load) { l.Mass = 1e300 }, fixing.ErrTooLarge, "load.mass"},
		"no holes":        {func(l *fixing.Load) { l.Plate.Holes = nil }, fixing.ErrNoHoles, "plate.holes"},
		"same hole twice": {func(l *fixing.Load) { l.Plate.Holes = column(0.1, 0.1) }, fixing.ErrCoincident, "plate.holes"},
		"under the edge":  {func(l *fixing.Load) { l.Plate.Edge = 0.06 }, fixing.ErrBelowEdge, "plate.holes.y"},
		"on the edge":     {func(l *fixing.Load) { l.Plate.Holes = column(0) }, fixing.ErrNoLever, "plate.edge"},
		"no plate":        {func(l *fixing.Load) { l.Plate.Thickness = 0 }, fixing.ErrNotPositive, "plate.thickness"},
		"no such surface": {func(l *fixing.Load) { l.On = 7 }, fixing.ErrUnknownKind, "load.on"},
		"one screw, load aside": {func(l *fixing.Load) { l.Plate.Holes, l.Side = column(0.1), 0.1 },
			fixing.ErrTorsion, "load.side"},
		"a line of holes, load aside": {func(l *fixing.Load) { l.On, l.Side = fixing.Ceiling, 0.1 },
			fixing.ErrNoLever, "load.reach"},
	} {
		t.Run(name, func(t *testing.T) {
			l := good()
			row.change(&l)
			_, err := fixing.Forces(l)
			require.ErrorIs(t, err, row.want)
			var input *fixing.InputError
			require.ErrorAs(t, err, &input)
			assert.Equal(t, row.field, input.Field)
			assert.Contains(t, err.Error(), input.Want)
		})
	}
}

// Of four holes 100 mm apart whose square is the plate, on a slope of 45° that falls towards -x, with the load 200 mm out
// from their middle. By hand: W/√2 pulls, straight above the centre of mass, 200 mm uphill of the middle and 250 mm from
// the downhill edge, so that the two upper fixings hold W/√2·250/(2·100) each and the edge presses with 1.5·W/√2; each
// fixing shears with a quarter of W/√2.
func TestForcesOnASlopeByHand(t *testing.T) {
	half := math.Sqrt(0.5)
	holes := []fixing.Hole{{X: 0.05, Y: 0.05}, {X: 0.05, Y: -0.05}, {X: -0.05, Y: 0.05}, {X: -0.05, Y: -0.05}}
	s, err := fixing.Forces(fixing.Load{Mass: newtons(100), On: fixing.Slope, Out: 0.2, Down: fixing.Direction{X: -half, Out: half},
		Plate: fixing.Plate{Holes: holes, Edge: -0.05, Thickness: 0.003}})
	require.NoError(t, err)
	for i, want := range []float64{125 * half, 125 * half, 0, 0} {
		assert.InDelta(t, want, s.Forces[i].Tension, 1e-9, "fixing %d", i)
		assert.InDelta(t, -25*half, s.Forces[i].Right, 1e-9)
		assert.InDelta(t, 0, s.Forces[i].Down, 1e-9)
	}
	assert.InDelta(t, 150*half, s.Contact.Force, 1e-9)
	assert.InDelta(t, -0.05, s.Contact.X, 1e-12)
}

// All forces on a plate on any slope balance about every axis, with the weight where it is: Side, Reach and Out from the
// plate, in the direction Down.
func TestForcesOnASlopeBalanceAboutEveryAxis(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		holes := append([]fixing.Hole{{X: 0.005, Y: 0.005}, {X: 0.065, Y: 0.015}, {X: -0.015, Y: 0.115}}, holesGen(t, 5)...)
		lean, turn := rapid.Float64Range(0.05, 1.5).Draw(t, "lean"), rapid.Float64Range(-math.Pi, math.Pi).Draw(t, "turn")
		d := fixing.Direction{X: math.Cos(lean) * math.Cos(turn), Y: math.Cos(lean) * math.Sin(turn), Out: math.Sin(lean)}
		l := fixing.Load{
			Mass: rapid.Float64Range(1, 60).Draw(t, "mass"), On: fixing.Slope, Down: d,
			Reach: rapid.Float64Range(-0.5, 0.5).Draw(t, "reach"), Side: rapid.Float64Range(-0.5, 0.5).Draw(t, "side"), Out: rapid.Float64Range(0, 0.5).Draw(t, "out"),
			Plate: fixing.Plate{Holes: holes, Edge: rapid.Float64Range(-0.1, 0.005).Draw(t, "edge"), Side: rapid.Float64Range(0, 0.05).Draw(t, "overhang"), Thickness: 0.003},
		}
		s, err := fixing.Forces(l)
		require.NoError(t, err)
		w, c := s.Weight, s.Contact
		fx, fy, fz := w*d.X, w*d.Y, w*d.Out // of the weight, at (Side, Reach, Out)
		mx, my, mz := l.Reach*fz-l.Out*fy, l.Out*fx-l.Side*fz, l.Side*fy-l.Reach*fx
		for i, f := range s.Forces { // the fixings hold the plate back, in its plane
			h := holes[i]
			assert.GreaterOrEqual(t, f.Tension, 0.0)
			fx, fy, fz = fx-f.Right, fy+f.Down, fz-f.Tension
			mx, my, mz = mx-h.Y*f.Tension, my+h.X*f.Tension, mz-(h.X*-f.Down-h.Y*f.Right)
		}
		fz, mx, my = fz+c.Force, mx+c.Y*c.Force, my-c.X*c.Force // the base presses it out
		tol := 1e-6 * w * (1 + 1/d.Out)
		for i, x := range []float64{fx, fy, fz, mx, my, mz} {
			assert.InDelta(t, 0, x, tol, "equation %d", i)
		}
	})
}

// A slope that is nearly level is a ceiling, and one that is nearly plumb a wall that falls towards its lower edge.
func TestForcesOnASlopeGoOverIntoCeilingAndWall(t *testing.T) {
	plate := fixing.Plate{Holes: []fixing.Hole{{X: -0.03, Y: 0.02}, {X: 0.04, Y: 0.03}, {X: -0.03, Y: 0.15}, {X: 0.04, Y: 0.16}}, Edge: -0.05, Side: 0.02, Thickness: 0.003}
	slope := fixing.Load{Mass: 12, On: fixing.Slope, Reach: 0.1, Side: 0.01, Out: 0.2, Plate: plate}
	for _, row := range []struct {
		other fixing.Load
		lean  float64
	}{
		{fixing.Load{Mass: 12, On: fixing.Ceiling, Reach: 0.1, Side: 0.01, Plate: plate}, 1e-7},
		{fixing.Load{Mass: 12, On: fixing.Wall, Reach: 0.2, Side: 0.01, Plate: plate}, math.Pi/2 - 1.1e-3},
	} {
		slope.Down = fixing.Direction{Y: -math.Sin(row.lean), Out: math.Cos(row.lean)}
		got, err := fixing.Forces(slope)
		require.NoError(t, err)
		want, err := fixing.Forces(row.other)
		require.NoError(t, err)
		for i := range want.Forces {
			assert.InDelta(t, want.Forces[i].Tension, got.Forces[i].Tension, 2e-3*want.Weight)
			assert.InDelta(t, want.Forces[i].Shear, got.Forces[i].Shear, 2e-3*want.Weight)
		}
	}
}

func TestForcesRefuseASlopeThatIsNone(t *testing.T) {
	l := fixing.Load{Mass: 10, On: fixing.Slope, Out: 0.1, Plate: fixing.Plate{Holes: column(0.05, 0.15), Edge: 0, Thickness: 0.003}}
	for _, d := range []fixing.Direction{{}, {Y: -1}, {Y: -0.6, Out: 0.9}, {Y: -0.8, Out: -0.6}, {X: math.NaN(), Out: 1}} {
		l.Down = d
		_, err := fixing.Forces(l)
		require.ErrorIs(t, err, fixing.ErrNotPositive, "%v", d)
		assert.ErrorContains(t, err, "load.down.out")
	}
	l.Down, l.Out = fixing.Direction{Y: -0.6, Out: 0.8}, -0.1
	_, err := fixing.Forces(l)
	assert.ErrorContains(t, err, "load.out")
	l.Out, l.Plate.Holes, l.Side, l.Plate.Side = 0.1, column(0.1), 0.05, 0.1
	_, err = fixing.Forces(l)
	assert.ErrorIs(t, err, fixing.ErrTorsion, "one hole does not keep the plate from turning")
}

// On a slope weight shears along the rafters that run downhill, and across battens.
func TestScreenASlopeByItsGrain(t *testing.T) {
	load := fixing.Load{Mass: 10, On: fixing.Slope, Reach: 0.12, Out: 0.15, Down: fixing.Direction{X: -0.6, Out: 0.8}, Plate: fixing.Plate{
		Holes: []fixing.Hole{{Y: 0.1}, {X: 0.05, Y: 0.1}}, Side: 0.03, Thickness: 0.003}}
	lag := fixing.Fixing{Kind: fixing.LagScrew, Size: "5/16 in", Length: 0.0889}
	edge := func(g fixing.Grain) float64 {
		s, err := fixing.Screen(load, lag, fixing.Base{Kind: fixing.Framing, Species: "Spruce-Pine-Fir", Width: 0.1, Depth: 0.1, Grain: g})
		require.NoError(t, err)
		assert.True(t, s.Tether)
		assert.Positive(t, s.Capacities[0].Shear)
		return s.EdgeWanted / (0.3125 * inch)
	}
	assert.InDelta(t, 1.5, edge(fixing.GrainAcross), 1e-9, "along the grain: NDS 2018 Table 12.5.1C")
	assert.InDelta(t, 4, edge(fixing.GrainUp), 1e-9, "the edge that is loaded across the grain: NDS 2018 Table 12.5.1C")
}

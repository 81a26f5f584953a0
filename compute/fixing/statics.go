package fixing

import (
	"cmp"
	"math"
)

// A Surface is what the plate is fixed to: it decides which way weight pulls.
type Surface int

const (
	// Wall is upright: weight shears the fixings and tilts the plate outwards.
	Wall Surface = iota
	// Ceiling is level, seen from below: weight pulls the fixings out.
	Ceiling
	// Slope leans over people: weight pulls and shears at once.
	Slope
)

// MaxHoles is the largest number of holes a plate may have.
const MaxHoles = 32

// nearest is the least distance that holes and levers are taken apart at, m.
const nearest = 0.001

// A Hole is a fixing's place in plate coordinates: x to the right, y up (on a
// ceiling: y towards the load's reach), metres, from any origin on the plate.
type Hole struct{ X, Y float64 }

// A Plate is the bracket's foot. It is taken as a stiff rectangle that reaches
// from Edge up to the highest hole and Side beyond the outermost holes: less than
// it really covers, which asks more of the fixings, never less.
type Plate struct {
	Holes []Hole
	// Edge is y of the lower edge, about which the plate tilts, m.
	Edge float64
	// Side is how far the plate reaches beyond the outermost holes left and right,
	// m; 0 if not known. It matters on a ceiling only.
	Side float64
	// Thickness of the plate, m. It is taken as steel.
	Thickness float64
}

// A Load is one loudspeaker hanging on one plate.
type Load struct {
	// Mass of all that hangs: loudspeaker, arm and plate, kg.
	Mass float64
	// Reach places the centre of mass. Wall: its distance e from the wall, m, not
	// negative. Ceiling and slope: its y in plate coordinates, m.
	Reach float64
	// Out is its distance from a slope, m, not negative.
	Out float64
	// Down is which way weight pulls at a slope.
	Down Direction
	// Side is x of the centre of mass in plate coordinates, m.
	Side float64
	On   Surface
	// Plate carries the holes. They must not be changed while in use.
	Plate Plate
	// Basis picks what the load is compared with.
	Basis Basis
}

// A Direction is of length one in plate coordinates: X and Y as those of a [Hole], Out
// away from the base, square to it.
type Direction struct{ X, Y, Out float64 }

// shears tells whether weight acts in the plane of the plate as well, and hangs whether
// it pulls the plate off.
func (l *Load) shears() bool { return l.On != Ceiling }
func (l *Load) hangs() bool  { return l.On != Wall }

// acrossGrain tells whether weight shears across the grain: on a slope from 10° off it.
func (l *Load) acrossGrain(g Grain) bool {
	across, along := math.Abs(l.Down.X), math.Abs(l.Down.Y)
	switch {
	case l.On == Wall:
		return g == GrainAcross
	case l.On == Ceiling:
		return false
	case g == GrainAcross:
		across, along = along, across
	}
	return across > along*math.Tan(10*math.Pi/180)
}

// A Force is what one fixing must hold, N.
type Force struct {
	// Tension pulls along the fixing, away from the base; never negative.
	Tension float64
	// Right and Down are the shear that the plate puts on the fixing, in plate
	// coordinates (Down is positive towards -y).
	Right, Down float64
	// Shear = hypot(Right, Down).
	Shear float64
	// Resultant = hypot(Tension, Shear).
	Resultant float64
	// Angle between the resultant and the face of the base, rad: 0 is pure
	// shear, π/2 pure pull.
	Angle float64
}

// A Contact is where the plate presses on the base: its force, N, and the point
// it acts at in plate coordinates, m. Force 0 means no contact is needed.
type Contact struct{ Force, X, Y float64 }

// A Form names which of the published forms the tensions follow.
type Form string

const (
	// TiltForm: T_i = W·e·y_i / Σ y_j², y from the lower edge.
	TiltForm Form = "tilting about the lower edge"
	// CentroidForm: T_i = W/n + W·e·y_i / Σ y_j², y from the centroid.
	CentroidForm Form = "whole plate pulled, no contact"
	// EdgeForm: the plate presses on the ceiling at an edge or a corner.
	EdgeForm Form = "plate pressing at an edge"
)

// A Statics is the equilibrium of one plate.
type Statics struct {
	Weight float64 // W = m·g, N
	// Moment that tilts the plate, N·m: about the lower edge on a wall, about the
	// centroid of the fixings on a ceiling or a slope.
	Moment   float64
	Centroid Hole
	Forces   []Force // one for each hole, in their order
	Contact  Contact
	Form     Form
}

// Forces solves a plate for the pull and shear on each fixing.
//
// On a wall the plate is stiff and tilts about its lower edge, so that tension
// grows with height: T_i = W·e·y_i / Σ y_j². The lower edge presses with Σ T_i.
// Shear is shared equally, W/n, and a load to the side of the fixings' centroid
// adds in-plane torsion: right W·s·y_i/J, down W·s·x_i/J with J = Σ(x² + y²) about
// the centroid. (Machine-design textbooks, e.g. Bhandari, "Design of Machine
// Elements", ch. 7; the same formulas are derived here from equilibrium.)
//
// On a ceiling tension is T_i = W/n + the plane through the moments about the
// centroid (W·e·y_i/Σ y_j² for a symmetric pattern). Where that plane would push
// the plate into the ceiling, the plate presses there instead: the least energy
// of equal springs under a stiff plate that may touch along its outline. On an
// edge this is the edge form, T_i = W·e·y_i/Σ y_j² with e and y from the edge.
//
// On a slope the part of the weight square to it, W·Out, pulls as on a ceiling at the
// point of the slope straight above the centre of mass: the part in the plane of the
// plate, W·X and W·Y, acts a distance e out from it, and its moment is the same as if
// the pull acted further uphill, at x - e·X/Out, y - e·Y/Out. That part shears, shared
// and with torsion as on a wall.
//
// Forces and moments balance about all axes in every case.
func Forces(load Load) (Statics, error) {
	if err := checkLoad(load); err != nil {
		return Statics{}, err
	}
	holes := load.Plate.Holes
	s := Statics{Weight: load.Mass * Gravity, Forces: make([]Force, len(holes))}
	for _, h := range holes {
		s.Centroid.X += h.X
		s.Centroid.Y += h.Y
	}
	s.Centroid.X /= float64(len(holes))
	s.Centroid.Y /= float64(len(holes))
	var err error
	switch load.On {
	case Wall:
		err = s.wall(load)
	case Slope:
		err = s.slope(load)
	default:
		err = s.ceiling(load, s.Weight)
	}
	if err != nil {
		return Statics{}, err
	}
	for i := range s.Forces {
		f := &s.Forces[i]
		f.Shear = math.Hypot(f.Right, f.Down)
		f.Resultant = math.Hypot(f.Tension, f.Shear)
		f.Angle = math.Atan2(f.Tension, f.Shear)
	}
	return s, nil
}

func checkLoad(load Load) error {
	p := load.Plate
	if err := cmp.Or(
		positive("load.mass", load.Mass, 1000, "kg"),
		within("load.reach", load.Reach, maxLength, "m"),
		within("load.side", load.Side, maxLength, "m"),
		within("plate.edge", p.Edge, maxLength, "m"),
		notNegative("plate.side", p.Side, maxLength, "m"),
		positive("plate.thickness", p.Thickness, 0.1, "m"),
	); err != nil {
		return err
	}
	if load.On < Wall || load.On > Slope {
		return badNumber(ErrUnknownKind, "load.on", float64(load.On), "", "Wall, Ceiling or Slope")
	}
	if load.On == Slope {
		d := load.Down
		if err := notNegative("load.out", load.Out, maxLength, "m"); err != nil {
			return err
		}
		if length := math.Hypot(math.Hypot(d.X, d.Y), d.Out); !(math.Abs(length-1) < 1e-6) || !(d.Out > leastPull) {
			return badNumber(ErrNotPositive, "load.down.out", d.Out, "", "more than "+number(leastPull, "")+" in a direction of length 1")
		}
	}
	if load.On == Wall && load.Reach < 0 {
		return badNumber(ErrNotPositive, "load.reach", load.Reach, "m", "0 or more from a wall")
	}
	if n := len(p.Holes); n == 0 || n > MaxHoles {
		return badNumber(ErrNoHoles, "plate.holes", float64(n), "", "1 to "+number(MaxHoles, ""))
	}
	for i, h := range p.Holes {
		if err := cmp.Or(within("plate.holes.x", h.X, maxLength, "m"), within("plate.holes.y", h.Y, maxLength, "m")); err != nil {
			return err
		}
		if h.Y < p.Edge {
			return badNumber(ErrBelowEdge, "plate.holes.y", h.Y, "m", "at or above the edge at "+number(p.Edge, "m"))
		}
		for _, other := range p.Holes[:i] {
			if math.Hypot(h.X-other.X, h.Y-other.Y) < nearest {
				return badNumber(ErrCoincident, "plate.holes", float64(i+1), "", "a place of its own for each hole")
			}
		}
	}
	return nil
}

// leastPull is how much of the weight a slope must be pulled by: less is a wall.
const leastPull = 1e-3

// slope adds what the weight does in the plane of the plate to what it pulls.
func (s *Statics) slope(load Load) error {
	holes, d := load.Plate.Holes, load.Down
	rx, ry := load.Side-s.Centroid.X, load.Reach-s.Centroid.Y
	px, py := s.Weight*d.X, s.Weight*d.Y
	var polar float64
	for _, h := range holes {
		dx, dy := h.X-s.Centroid.X, h.Y-s.Centroid.Y
		polar += float64(dx*dx) + dy*dy
	}
	torque := float64(rx*py) - ry*px
	if polar < nearest*nearest {
		if math.Abs(torque) > 1e-6*s.Weight {
			return badNumber(ErrTorsion, "load.side", load.Side, "m", "straight downhill of the only hole, or a second hole")
		}
		torque, polar = 0, 1
	}
	above := load
	above.Side, above.Reach = load.Side-load.Out*d.X/d.Out, load.Reach-load.Out*d.Y/d.Out
	if err := s.ceiling(above, s.Weight*d.Out); err != nil {
		return err
	}
	n := float64(len(holes))
	for i, h := range holes {
		s.Forces[i].Right = px/n - torque*(h.Y-s.Centroid.Y)/polar
		s.Forces[i].Down = -py/n - torque*(h.X-s.Centroid.X)/polar
	}
	return nil
}

func (s *Statics) wall(load Load) error {
	s.Form = TiltForm
	s.Moment = s.Weight * load.Reach
	n := float64(len(s.Forces))
	var squares, polar, highest float64
	for _, h := range load.Plate.Holes {
		y := h.Y - load.Plate.Edge
		highest = max(highest, y)
		squares += y * y
		dx, dy := h.X-s.Centroid.X, h.Y-s.Centroid.Y
		polar += float64(dx*dx) + dy*dy
	}
	if highest < nearest {
		return badNumber(ErrNoLever, "plate.edge", load.Plate.Edge, "m", "below the highest hole")
	}
	aside := load.Side - s.Centroid.X
	if polar < nearest*nearest {
		if math.Abs(aside) > 1e-6 {
			return badNumber(ErrTorsion, "load.side", load.Side, "m", "under the only hole, or a second hole")
		}
		aside, polar = 0, 1
	}
	for i, h := range load.Plate.Holes {
		tension := s.Moment * (h.Y - load.Plate.Edge) / squares
		s.Forces[i] = Force{
			Tension: tension,
			Right:   s.Weight * aside * (h.Y - s.Centroid.Y) / polar,
			Down:    s.Weight/n + s.Weight*aside*(h.X-s.Centroid.X)/polar,
		}
		s.Contact.Force += tension
		s.Contact.X += tension * h.X
	}
	s.Contact.Y = load.Plate.Edge
	if s.Contact.Force > 0 {
		s.Contact.X /= s.Contact.Force
	} else {
		s.Contact.X = s.Centroid.X
	}
	return nil
}

// plane is the opening of the plate at a point (x, y): a + b·x + c·y, in newtons
// on a spring of unit stiffness, with x and y from the centroid.
type plane struct{ a, b, c float64 }

func (p plane) at(x, y float64) float64 { return p.a + float64(p.b*x) + float64(p.c*y) }

// ceiling finds the one equilibrium in which the plate touches nowhere, at one
// corner or along one side. The problem is convex with four limits, so trying
// the nine cases finds the only answer there is.
// pull is what draws the plate off, N, the weight itself on a ceiling.
func (s *Statics) ceiling(load Load, pull float64) error {
	ex, ey := load.Side-s.Centroid.X, load.Reach-s.Centroid.Y
	s.Moment = pull * math.Hypot(ex, ey)
	g := newGroup(load.Plate, s.Centroid)
	if p, ok := g.free(pull, ex, ey); ok {
		s.Form = CentroidForm
		s.settle(load.Plate, p)
		return nil
	}
	s.Form = EdgeForm
	p, ok := g.touching(pull, ex, ey)
	if !ok {
		return badNumber(ErrNoLever, "load.reach", load.Reach, "m", "holes, plate.edge or plate.side beyond the far side of the load")
	}
	s.settle(load.Plate, p)
	// What the fixings pull beyond the weight is pressed back into the ceiling, at
	// the point that balances the moments.
	var mx, my float64
	for i, h := range load.Plate.Holes {
		s.Contact.Force += s.Forces[i].Tension
		mx += s.Forces[i].Tension * h.X
		my += s.Forces[i].Tension * h.Y
	}
	s.Contact.Force -= pull
	if s.Contact.Force <= touch*pull {
		s.Contact = Contact{X: s.Centroid.X, Y: s.Centroid.Y}
		return nil
	}
	s.Contact.X = (mx - pull*load.Side) / s.Contact.Force
	s.Contact.Y = (my - pull*load.Reach) / s.Contact.Force
	return nil
}

func (s *Statics) settle(plate Plate, p plane) {
	for i, h := range plate.Holes {
		s.Forces[i].Tension = max(0, p.at(h.X-s.Centroid.X, h.Y-s.Centroid.Y))
	}
}

// touch is the part of the weight below which an opening or a contact force counts as none.
const touch = 1e-9

// group is a hole pattern about its centroid with the plate's outline.
type group struct {
	holes                    []Hole
	at                       Hole
	left, right, low, high   float64
	sxx, sxy, syy, n, spread float64
}

func newGroup(plate Plate, centroid Hole) group {
	g := group{holes: plate.Holes, at: centroid, n: float64(len(plate.Holes)), low: plate.Edge - centroid.Y}
	for _, h := range plate.Holes {
		x, y := h.X-centroid.X, h.Y-centroid.Y
		g.left, g.right = min(g.left, x), max(g.right, x)
		g.high = max(g.high, y)
		g.sxx += x * x
		g.sxy += x * y
		g.syy += y * y
	}
	g.left -= plate.Side
	g.right += plate.Side
	g.spread = g.sxx + g.syy
	return g
}

func (g *group) corners() [4]Hole {
	return [4]Hole{{g.left, g.low}, {g.right, g.low}, {g.right, g.high}, {g.left, g.high}}
}

// open tells whether no corner is pressed into the ceiling.
func (g *group) open(p plane, weight float64) bool {
	for _, c := range g.corners() {
		if p.at(c.X, c.Y) < -touch*weight {
			return false
		}
	}
	return true
}

// free is the plane with no contact.
func (g *group) free(w, ex, ey float64) (plane, bool) {
	p := plane{a: w / g.n}
	b, c, ok := solve2(g.sxx, g.sxy, g.syy, w*ex, w*ey)
	if !ok {
		// All holes in one line, or one hole: only a load in that line hangs free.
		if g.spread < nearest*nearest {
			return p, math.Hypot(ex, ey) < 1e-6
		}
		angle := math.Atan2(2*g.sxy, g.sxx-g.syy) / 2
		tx, ty := math.Cos(angle), math.Sin(angle)
		if math.Abs(float64(ex*ty)-ey*tx) > 1e-6 {
			return p, false
		}
		along := w * (float64(ex*tx) + ey*ty) / g.spread
		b, c = along*tx, along*ty
	}
	p.b, p.c = b, c
	return p, g.open(p, w)
}

// touching is the plane with the plate pressing along one side or at one corner.
func (g *group) touching(w, ex, ey float64) (plane, bool) {
	sides := [4]struct{ nx, ny, at, from, to float64 }{
		{0, 1, g.low, g.left, g.right},
		{0, -1, -g.high, g.left, g.right},
		{1, 0, g.left, g.low, g.high},
		{-1, 0, -g.right, g.low, g.high},
	}
	for _, side := range sides {
		// Opening grows with the distance u from the side.
		var uu, sum, along float64
		for _, h := range g.holes {
			x, y := h.X-g.at.X, h.Y-g.at.Y
			u := float64(side.nx*x) + side.ny*y - side.at
			uu += u * u
			sum += u
			along += u * (float64(side.ny*side.ny*x) + side.nx*side.nx*y)
		}
		if uu < nearest*nearest {
			continue
		}
		k := w * (float64(side.nx*ex) + side.ny*ey - side.at) / uu
		press := k*sum - w
		if k < 0 || press < 0 {
			continue
		}
		// The pressure must find its point between the two corners.
		moment := k*along - w*(float64(side.ny*side.ny*ex)+side.nx*side.nx*ey)
		slack := touch * w
		if moment < press*side.from-slack || moment > press*side.to+slack {
			continue
		}
		return plane{a: -k * side.at, b: k * side.nx, c: k * side.ny}, true
	}
	for _, corner := range g.corners() {
		var xx, xy, yy, sx, sy float64
		for _, h := range g.holes {
			x, y := h.X-g.at.X-corner.X, h.Y-g.at.Y-corner.Y
			xx += x * x
			xy += x * y
			yy += y * y
			sx += x
			sy += y
		}
		b, c, ok := solve2(xx, xy, yy, w*(ex-corner.X), w*(ey-corner.Y))
		if !ok {
			continue
		}
		p := plane{a: -float64(b*corner.X) - c*corner.Y, b: b, c: c}
		if float64(b*sx)+c*sy-w >= -touch*w && g.open(p, w) {
			return p, true
		}
	}
	return plane{}, false
}

// solve2 solves the symmetric [xx xy; xy yy]·(b, c) = (p, q). It refuses a matrix
// that is singular to a part in 10⁹.
func solve2(xx, xy, yy, p, q float64) (b, c float64, ok bool) {
	det := float64(xx*yy) - xy*xy
	trace := xx + yy
	if det <= 1e-9*trace*trace || trace < nearest*nearest {
		return 0, 0, false
	}
	return (float64(yy*p) - xy*q) / det, (float64(xx*q) - xy*p) / det, true
}

package paper

import "math"

// Widths of lines in millimetres.
const (
	hair  = 0.13
	thin  = 0.2
	plain = 0.35
	thick = 0.7
)

// pen draws on one sheet.
type pen struct{ marks []Mark }

func (p *pen) line(a, b Point, width float64, dash Dash) {
	p.marks = append(p.marks, Path{Points: []Point{a, b}, Width: width, Dash: dash})
}

func (p *pen) box(b Box, width float64, dash Dash, fill Fill) {
	p.shape([]Point{{b.X0, b.Y0}, {b.X1, b.Y0}, {b.X1, b.Y1}, {b.X0, b.Y1}}, width, dash, fill)
}

func (p *pen) shape(points []Point, width float64, dash Dash, fill Fill) {
	p.marks = append(p.marks, Path{Points: points, Closed: true, Width: width, Dash: dash, Fill: fill})
}

func (p *pen) circle(c Point, radius, width float64, fill Fill) {
	p.marks = append(p.marks, Circle{Centre: c, Radius: radius, Width: width, Fill: fill})
}

func (p *pen) cross(c Point, arm, width float64) {
	p.line(c.plus(-arm, 0), c.plus(arm, 0), width, Solid)
	p.line(c.plus(0, -arm), c.plus(0, arm), width, Solid)
}

func (p *pen) text(t Text) {
	if t.Text = clean(t.Text); t.Text != "" {
		p.marks = append(p.marks, t)
	}
}

// head is a filled arrowhead whose tip is at b, coming from a.
func (p *pen) head(a, b Point, length float64) {
	d := math.Hypot(b.X-a.X, b.Y-a.Y)
	if d == 0 {
		return
	}
	ux, uy := (b.X-a.X)/d, (b.Y-a.Y)/d
	back := b.plus(-length*ux, -length*uy)
	half := length * 0.28
	p.shape([]Point{b, back.plus(-half*uy, half*ux), back.plus(half*uy, -half*ux)}, 0, Solid, Black)
}

// clipLine is the part of a line within a box.
func (b Box) clipLine(from, to Point) (p, q Point, ok bool) {
	t0, t1 := 0.0, 1.0
	dx, dy := to.X-from.X, to.Y-from.Y
	for _, side := range [4][2]float64{{-dx, from.X - b.X0}, {dx, b.X1 - from.X}, {-dy, from.Y - b.Y0}, {dy, b.Y1 - from.Y}} {
		switch {
		case side[0] == 0:
			if side[1] < 0 {
				return p, q, false
			}
		case side[0] < 0:
			t0 = math.Max(t0, side[1]/side[0])
		default:
			t1 = math.Min(t1, side[1]/side[0])
		}
	}
	if t0 >= t1 {
		return p, q, false
	}
	return from.plus(t0*dx, t0*dy), from.plus(t1*dx, t1*dy), true
}

// clipped draws a line as far as it lies within a box.
func (p *pen) clipped(within Box, a, b Point, width float64, dash Dash) {
	if a, b, ok := within.grown(-width/2).clipLine(a, b); ok {
		p.line(a, b, width, dash)
	}
}

// clippedCircle draws what lies within a box of a circle: all of it as such, a part as
// short straight pieces.
func (p *pen) clippedCircle(within Box, c Circle) {
	if within.Holds(c.Bounds()) {
		p.marks = append(p.marks, c)
		return
	}
	const pieces = 96
	at := func(i int) Point {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / pieces)
		return c.Centre.plus(c.Radius*cos, c.Radius*sin)
	}
	for i := range pieces {
		p.clipped(within, at(i), at(i+1), c.Width, Solid)
	}
}

// hatch fills a box with slanted lines.
func (p *pen) hatch(b Box, apart float64) {
	for d := apart; d < b.width()+b.height(); d += apart {
		p.clipped(b, Point{b.X0 + d, b.Y0}, Point{b.X0 + d - b.height(), b.Y1}, hair, Solid)
	}
}

// placer seats texts so that none covers another or what is blocked.
type placer struct {
	bounds Box
	taken  []Box
}

func (p *placer) block(boxes ...Box) { p.taken = append(p.taken, boxes...) }

func (p *placer) free(b Box) bool {
	if !p.bounds.Holds(b) {
		return false
	}
	for _, t := range p.taken {
		if t.overlaps(b) {
			return false
		}
	}
	return true
}

// put writes lines of a size, on white, at the first of the corners where they find room.
// A corner is where the upper left of the lines' box goes.
func (p *placer) put(on *pen, lines []string, size float64, bold bool, corners func(w, h float64) []Point) bool {
	var w float64
	for _, l := range lines {
		w = math.Max(w, textWidth(l, size, bold))
	}
	h := lineHeight(size) * float64(len(lines))
	for _, c := range corners(w, h) {
		b := Box{c.X, c.Y, c.X + w, c.Y + h}
		if !p.free(b.grown(0.3)) {
			continue
		}
		p.block(b)
		on.box(b, 0, Solid, White)
		for i, l := range lines {
			on.text(Text{At: c.plus(0, lineHeight(size)*float64(i)+ascent*size*Pt), Text: l, Size: size, Bold: bold})
		}
		return true
	}
	return false
}

// beside offers corners around a box, the easiest to read first, then farther off.
func beside(b Box, gap float64) func(w, h float64) []Point {
	return func(w, h float64) []Point {
		var all []Point
		m := b.middle()
		for _, g := range []float64{gap, gap + 2.5, gap + 6} {
			all = append(all,
				Point{b.X1 + g, b.Y0 - h - g/2}, Point{b.X1 + g, m.Y - h/2}, Point{b.X0 - g - w, m.Y - h/2},
				Point{m.X - w/2, b.Y0 - g - h}, Point{m.X - w/2, b.Y1 + g},
				Point{b.X0 - g - w, b.Y0 - h - g/2}, Point{b.X1 + g, b.Y1 + g/2}, Point{b.X0 - g - w, b.Y1 + g/2})
		}
		return all
	}
}

// within offers corners inside a box, from its middle outward.
func within(b Box) func(w, h float64) []Point {
	return func(w, h float64) []Point {
		if w > b.width() || h > b.height() {
			return nil
		}
		var all []Point
		for _, fy := range []float64{0.5, 0.25, 0.75, 0.05, 0.95} {
			for _, fx := range []float64{0.5, 0.25, 0.75, 0.05, 0.95} {
				all = append(all, Point{b.X0 + fx*(b.width()-w), b.Y0 + fy*(b.height()-h)})
			}
		}
		return all
	}
}

// either tries one list of corners after another.
func either(lists ...func(w, h float64) []Point) func(w, h float64) []Point {
	return func(w, h float64) []Point {
		var all []Point
		for _, l := range lists {
			all = append(all, l(w, h)...)
		}
		return all
	}
}

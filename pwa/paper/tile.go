package paper

import (
	"fmt"
	"math"

	"hangtrue/compute/tape"
)

// tile is one sheet of a template while it is drawn.
type tile struct {
	*template
	pen      *pen
	row, col int
	shift    Point // from the template's coordinates to the sheet's
	labels   placer
}

func (t *template) sheet(row, col int) {
	w, h := t.window.width(), t.window.height()
	x, y := t.first.X0+float64(col)*(w-overlap), t.first.Y0+float64(row)*(h-overlap)
	p := tile{template: t, pen: t.flow.on(), row: row, col: col, shift: Point{t.window.X0 - x, t.window.Y0 - y}}
	p.labels.bounds = t.window.inset(1)
	p.says()
	p.bars()
	p.pen.box(t.window, hair, Solid, Empty)
	p.axes()
	p.framing()
	p.outline()
	p.joints()
	p.drill()
	p.names()
}

func (p *tile) at(q Point) Point { return q.plus(p.shift.X, p.shift.Y) }

// says what the template is for, and where its reference hole goes.
func (p *tile) says() {
	j, m, f := p.flow.job, p.mount, p.flow
	along, up := j.datum(m.Surface)
	b := f.body()
	// Names come last: what is too long is cut there.
	f.lines(wrap(fmt.Sprintf("Reference hole at %s along (%s) and %s %s (%s). %s, %s.", j.length(m.Along), along, j.length(m.Up), j.upWord(m.Surface), up,
		surfaceName(m.Surface), joined(" on ", m.Model, m.Bracket)), normal, false, b.width(), 2), b.X0, normal, false)
	f.lines(wrap("Printed side towards you. A cable or pipe may run behind: look before you drill. Local rules decide what may be drilled. "+j.fixing(m)+".",
		small, false, b.width(), 2), b.X0, small, false)
}

// The bars' length, in millimetres; in an imperial job they have a tick at 4 in as well.
const (
	barLength = 100.0
	fourInch  = 101.6
	barText   = "100 mm: measure this before you drill"
)

// bars are two lines of a known length: whoever drills measures them first.
func (p *tile) bars() {
	w := p.window
	p.bar(Point{w.X0 + 1, w.Y1 + 6}, 1, 0)
	p.bar(Point{w.X0 - 5, w.Y1 - 1}, 0, -1)
	p.pen.text(Text{At: Point{w.X0 + 1 + barLength/2, w.Y1 + 12}, Text: barText, Size: normal, Bold: true, Anchor: Middle})
	p.pen.text(Text{At: Point{w.X0 - 9, w.Y1 - 1 - barLength/2}, Text: barText, Size: normal, Bold: true, Anchor: Middle, Turned: true})
	says := "Not 100 mm, in both directions? Then the printer scaled the page: throw it away. Print again at 100%, without fitting to the page."
	if p.flow.job.system() == tape.Imperial {
		says = "The outer tick is at 4\". " + says
	}
	x := w.X0 + barLength + 8
	for i, l := range wrap(says, small, false, w.X1-x, 4) {
		p.pen.text(Text{At: Point{x, w.Y1 + 5 + lineHeight(small)*float64(i)}, Text: l, Size: small})
	}
}

// bar goes from a point along a direction of length one.
func (p *tile) bar(from Point, dx, dy float64) {
	end := barLength
	if p.flow.job.system() == tape.Imperial {
		end = fourInch
		p.tick(from, dx, dy, fourInch, 3)
	}
	p.pen.line(from, from.plus(dx*end, dy*end), plain, Solid)
	for i := 0; i <= 10; i++ {
		half := 1.0
		if i == 0 || i == 10 {
			half = 2.5
		}
		p.tick(from, dx, dy, float64(i)*barLength/10, half)
	}
}

func (p *tile) tick(from Point, dx, dy, at, half float64) {
	c := from.plus(dx*at, dy*at)
	p.pen.line(c.plus(-dy*half, -dx*half), c.plus(dy*half, dx*half), hair, Solid)
}

// framing is the stud or joist next to the mount, where the plan has it.
func (p *tile) framing() {
	f := p.surface.Framing
	centre, ok := nearest(f, p.mount)
	if !ok {
		return
	}
	at := func(by float64) (a, b Point) {
		if f.Across {
			y := -(centre+by-p.mount.Up)*1000 + p.shift.Y
			return Point{p.window.X0, y}, Point{p.window.X1, y}
		}
		x := (centre+by-p.mount.Along)*1000 + p.shift.X
		return Point{x, p.window.Y0}, Point{x, p.window.Y1}
	}
	for _, side := range []float64{-f.Width / 2, f.Width / 2} {
		a, b := at(side)
		p.pen.clipped(p.window, a, b, hair, Broken)
		if m, ok := p.window.clipLineBox(a, b); ok {
			p.put([]string{member(p.surface) + "'s edge, as planned"}, small, false, alongside(m, f.Across, 0.5))
		}
	}
}

// clipLineBox is the box around what a window shows of a line.
func (b Box) clipLineBox(from, to Point) (Box, bool) {
	p, q, ok := b.clipLine(from, to)
	return Box{math.Min(p.X, q.X), math.Min(p.Y, q.Y), math.Max(p.X, q.X), math.Max(p.Y, q.Y)}, ok
}

// alongside offers corners beside a line: near its ends first, where a pattern leaves room.
func alongside(line Box, level bool, gap float64) func(w, h float64) []Point {
	return func(w, h float64) []Point {
		var all []Point
		for _, f := range []float64{0.04, 0.96, 0.2, 0.8, 0.35, 0.65} {
			x, y := line.X0+f*(line.width()-w), line.Y0+f*(line.height()-h)
			if level {
				all = append(all, Point{x, line.Y0 - gap - h}, Point{x, line.Y0 + gap})
			} else {
				all = append(all, Point{line.X0 + gap, y}, Point{line.X0 - gap - w, y})
			}
		}
		return all
	}
}

func (p *tile) put(lines []string, size float64, bold bool, corners func(w, h float64) []Point) bool {
	return p.labels.put(p.pen, lines, size, bold, corners)
}

// outline is what the plan knows of the bracket's plate.
func (p *tile) outline() {
	b, ok := p.plate()
	if !ok {
		return
	}
	ll, lr := p.at(Point{b.X0, b.Y1}), p.at(Point{b.X1, b.Y1})
	if p.bracket.SideEdge > 0 {
		p.pen.clipped(p.window, ll, p.at(Point{b.X0, b.Y0}), thin, Broken)
		p.pen.clipped(p.window, lr, p.at(Point{b.X1, b.Y0}), thin, Broken)
	} else {
		ll, lr = ll.plus(-15, 0), lr.plus(15, 0) // how wide the plate is the plan does not say
	}
	p.pen.clipped(p.window, ll, lr, thin, Broken)
}

// axes are the lines that the template is laid by, through the reference hole.
func (p *tile) axes() {
	ref, w := p.at(Point{}), p.window
	if w.Y0 < ref.Y && ref.Y < w.Y1 {
		p.pen.line(Point{w.X0, ref.Y}, Point{w.X1, ref.Y}, thin, Solid)
		p.labels.block(Box{w.X0, ref.Y - 0.3, w.X1, ref.Y + 0.3})
	}
	if w.X0 < ref.X && ref.X < w.X1 {
		p.pen.line(Point{ref.X, w.Y0}, Point{ref.X, w.Y1}, hair, DashDot)
		p.labels.block(Box{ref.X - 0.3, w.Y0, ref.X + 0.3, w.Y1})
	}
}

// plumb tells whether the surface stands upright, so that a level serves on it.
func (p *tile) plumb() bool { return abs(p.surface.Normal().Z) < 1e-9 }

// names tells what the lines are, and which way is up.
func (p *tile) names() {
	ref, w := p.at(Point{}), p.window
	level, upright := "level line", "plumb line"
	if abs(p.surface.Up.Z) < 1e-9 { // a ceiling or a floor
		level, upright = "parallel to the datum edge", "square to the datum edge"
		if p.sides.Below != "" {
			level, upright = "parallel to the "+clean(p.sides.Below), "away from the "+clean(p.sides.Below)
		}
		if !p.surface.AlongIsLevel() { // a slope at a side wall: the other line leads uphill
			upright += ", level"
		}
	} else if !p.plumb() {
		upright = "square to the level line"
	}
	if w.Y0 < ref.Y && ref.Y < w.Y1 {
		p.put([]string{cut(level, normal, true, 80)}, normal, true, alongside(Box{w.X0, ref.Y, w.X1, ref.Y}, true, 0.8))
	}
	if w.X0 < ref.X && ref.X < w.X1 {
		p.put([]string{cut(upright, small, false, 60)}, small, false, alongside(Box{ref.X, w.Y0, ref.X, w.Y1}, false, 0.8))
	}
	if b, ok := p.plate(); ok {
		edge := Box{p.at(Point{b.X0, 0}).X - 15, p.at(Point{0, b.Y1}).Y, p.at(Point{b.X1, 0}).X + 15, p.at(Point{0, b.Y1}).Y}
		if shown, ok := w.clipLineBox(Point{edge.X0, edge.Y0}, Point{edge.X1, edge.Y1}); ok {
			p.put([]string{"plate's lower edge"}, small, false, either(beside(shown, 0.5), alongside(shown, true, 0.5)))
		}
	}
	top := "▲ this way up"
	if abs(p.surface.Up.Z) < 1e-9 {
		top = "▲ away from the datum edge"
		if p.sides.Below != "" {
			top = "▲ away from the " + clean(p.sides.Below)
		}
	}
	p.put([]string{cut(top, large, true, 90)}, large, true, func(tw, h float64) []Point {
		var all []Point
		for _, y := range []float64{w.Y0 + 2, w.Y0 + 9, w.Y1 - h - 2} {
			all = append(all, Point{w.X1 - tw - 3, y}, Point{w.X0 + 3, y}, Point{w.middle().X - tw/2, y})
		}
		return all
	})
}

// drill draws each hole as wide as its pilot, its middle and its number.
func (p *tile) drill() {
	for _, h := range p.holes {
		c := p.at(p.spot(h.offset))
		r := p.pilot / 2
		if h.number > 0 && r > 0 {
			p.pen.clippedCircle(p.window, Circle{Centre: c, Radius: r, Width: hair})
		}
		arm := math.Max(r+3, 5)
		for _, d := range [4]Point{{1, 0}, {-1, 0}, {0, 1}, {0, -1}} {
			p.pen.clipped(p.window, c, c.plus(arm*d.X, arm*d.Y), hair, Solid)
		}
		p.labels.block(around(c, math.Max(r, 1)+0.5))
	}
	for _, h := range p.holes {
		if c := p.at(p.spot(h.offset)); h.number == 0 && p.window.contains(c) {
			p.nothing(c)
		}
	}
	for _, h := range p.holes {
		c := p.at(p.spot(h.offset))
		if h.number == 0 || !p.window.contains(c) {
			continue
		}
		lines := []string{fmt.Sprint(h.number), "pilot not in the plan"}
		if p.pilot > 0 {
			lines[1] = "pilot " + p.flow.job.bit(p.pilot/1000)
		}
		if h.reference {
			lines[0] += " reference hole"
		}
		p.put(lines, normal, true, beside(around(c, math.Max(p.pilot/2, 1.2)), 1.2))
	}
}

// nothing says that nothing is drilled at a reference point. It comes first and stands close by, in narrow lines where
// holes are near: beside one of those it would keep that from being drilled.
func (p *tile) nothing(c Point) {
	close := func(w, h float64) []Point { return beside(around(c, 1.2), 1.2)(w, h)[:8] }
	for _, lines := range [][]string{{"reference point:", "do not drill"}, {"reference", "point: do", "not drill"}, {"ref.:", "do not", "drill"}} {
		if p.put(lines, normal, true, close) {
			return
		}
	}
	p.put([]string{"reference point, where the", "lines cross: do not drill there"}, small, false, func(w, h float64) []Point {
		var all []Point
		for y := p.window.Y0 + 2; y+h < p.window.Y1; y += h {
			all = append(all, Point{p.window.X0 + 3, y}, Point{p.window.X1 - w - 3, y})
		}
		return all
	})
}

// joints are the marks by which the sheets of one pattern are laid together: a line down
// the middle of what two sheets share, and crosses on it that fall on each other.
func (p *tile) joints() {
	if p.across*p.down == 1 {
		return
	}
	w := p.window
	here := tileName(p.row, p.col)
	joint := func(row, col int, upright bool) { // between this and the next, or the one before and this
		x0, y0 := w.X0+float64(col-p.col)*(w.width()-overlap), w.Y0+float64(row-p.row)*(w.height()-overlap)
		a, b := tileName(row, col), tileName(row, col+1)
		from, to := Point{x0 + w.width() - overlap/2, y0}, Point{x0 + w.width() - overlap/2, y0 + w.height()}
		if !upright {
			b = tileName(row+1, col)
			from, to = Point{x0, y0 + w.height() - overlap/2}, Point{x0 + w.width(), y0 + w.height() - overlap/2}
		}
		p.pen.clipped(w, from, to, hair, Broken)
		other := b
		if here == b {
			other = a
		}
		for i, f := range []float64{0.25, 0.75} {
			c := Point{from.X + f*(to.X-from.X), from.Y + f*(to.Y-from.Y)}
			p.pen.circle(c, 2, hair, Empty)
			p.pen.cross(c, 4, hair)
			p.labels.block(around(c, 4))
			id := fmt.Sprintf("%s-%s %d", a, b, i+1)
			corners := beside(around(c, 4), 0.5)
			p.put([]string{id}, small, true, corners)
		}
		m := Point{(from.X + to.X) / 2, (from.Y + to.Y) / 2}
		p.put([]string{"lay on " + other}, small, false, beside(around(m, 1), 1))
	}
	if p.col > 0 {
		joint(p.row, p.col-1, true)
	}
	if p.col+1 < p.across {
		joint(p.row, p.col, true)
	}
	if p.row > 0 {
		joint(p.row-1, p.col, false)
	}
	if p.row+1 < p.down {
		joint(p.row, p.col, false)
	}
	p.index()
}

// index is a small map of the sheets of one pattern with this one in black.
func (p *tile) index() {
	const cellWide, cellHigh = 7.0, 5.0
	w, h := cellWide*float64(p.across), cellHigh*float64(p.down)
	corners := func(bw, bh float64) []Point {
		return []Point{{p.window.X1 - w - 3, p.window.Y1 - h - 3}, {p.window.X0 + 3, p.window.Y1 - h - 3}, {p.window.X0 + 3, p.window.Y0 + 3}, {p.window.X1 - w - 3, p.window.Y0 + 3}}
	}
	for _, c := range corners(w, h) {
		if !p.labels.free(Box{c.X, c.Y, c.X + w, c.Y + h}) {
			continue
		}
		p.labels.block(Box{c.X, c.Y, c.X + w, c.Y + h})
		for row := range p.down {
			for col := range p.across {
				cell := Box{c.X + cellWide*float64(col), c.Y + cellHigh*float64(row), c.X + cellWide*float64(col+1), c.Y + cellHigh*float64(row+1)}
				width := hair
				if row == p.row && col == p.col {
					width = thick
				}
				p.pen.box(cell.inset(0.4), width, Solid, White)
				p.pen.text(Text{At: Point{cell.middle().X, cell.middle().Y + 1}, Text: tileName(row, col), Size: small, Bold: row == p.row && col == p.col, Anchor: Middle})
			}
		}
		return
	}
}

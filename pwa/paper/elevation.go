package paper

import (
	"fmt"
	"math"
	"slices"

	"hangtrue/compute/place"
	"hangtrue/pwa/drawing"
	"hangtrue/pwa/words"
)

// elevation is one surface while it is drawn to scale: along to the right, up upward.
type elevation struct {
	job     Job
	pen     *pen
	surface *place.Surface
	sides   drawing.Sides
	one     float64 // the scale is one to this
	zero    Point   // the datum corner
	frame   Box     // the surface's extent
	labels  placer
	ears    []Box // the line of ear height, where it is drawn
	left    int   // labels that found no room
}

// Room around the drawing, in millimetres.
const (
	aboveWall = 6.0
	belowWall = 27.0 // running dimensions
	besides   = 7.0  // between two base-line dimensions
	mostBase  = 4    // of them; more are drawn as running dimensions
)

// elevation draws a surface across the sheet.
func (f *flow) elevation(s *place.Surface) {
	low, high := place.Extent(append([]place.Spot{{}}, s.Outline...)) // the datum is in the picture
	body := f.body()
	every := f.job.holesOn(s.Name)
	holes := slices.DeleteFunc(slices.Clone(every), func(h hole) bool {
		return !inside(low, high, h.at) || !inside(low, high, place.Spot{Along: h.mount.Along, Up: h.mount.Up})
	})
	gutter := 12 + besides*float64(min(len(levels(f.job, holes)), mostBase))
	if len(levels(f.job, holes)) > mostBase {
		gutter = 28
	}
	most := 0.42 * body.height()
	one := max(scaleFor(high.Along-low.Along, body.width()-gutter-6), scaleFor(high.Up-low.Up, most))
	height := aboveWall + (high.Up-low.Up)*1000/one + belowWall
	f.need(height)
	e := &elevation{job: f.job, pen: f.on(), surface: s, sides: drawing.SidesOf(f.job.Plan, s.Name), one: one}
	x0, y0 := body.X0+gutter, f.y+aboveWall
	e.frame = Box{x0, y0, x0 + (high.Along-low.Along)*1000/one, y0 + (high.Up-low.Up)*1000/one}
	e.zero = Point{e.frame.X0 - low.Along*1000/one, e.frame.Y1 + low.Up*1000/one}
	e.labels.bounds = Box{body.X0, f.y, body.X1, f.y + height}
	e.left = len(every) - len(holes)
	e.build()
	e.areas()
	e.ear()
	e.outline()
	e.dimensions(holes)
	e.marks(holes)
	e.names()
	f.y += height
	note := fmt.Sprintf("Scale 1:%s, for orientation: the numbers count, do not measure in the drawing.", words.Decimals(one, 0))
	if e.left > 0 {
		note += fmt.Sprintf(" Of its labels %d found no room; the tables have them all.", e.left)
	}
	f.para(note, small, false)
}

// inside tells whether a spot lies in the picture; the edge belongs to it.
func inside(low, high, s place.Spot) bool {
	const slack = 1e-6
	return low.Along-slack <= s.Along && s.Along <= high.Along+slack && low.Up-slack <= s.Up && s.Up <= high.Up+slack
}

// levels are the different heights of mounts, as they are shown.
func levels(j Job, holes []hole) []float64 {
	return distinct(j, holes, func(h hole) float64 { return h.mount.Up })
}

func distinct(j Job, holes []hole, of func(hole) float64) []float64 {
	seen := map[string]bool{}
	var all []float64
	for _, h := range holes {
		if v := of(h); !seen[j.length(v)] {
			seen[j.length(v)] = true
			all = append(all, v)
		}
	}
	slices.Sort(all)
	return all
}

func (e *elevation) at(s place.Spot) Point {
	return Point{e.zero.X + s.Along*1000/e.one, e.zero.Y - s.Up*1000/e.one}
}

func (e *elevation) boxOf(a, b place.Spot) Box {
	p, q := e.at(a), e.at(b)
	return Box{math.Min(p.X, q.X), math.Min(p.Y, q.Y), math.Max(p.X, q.X), math.Max(p.Y, q.Y)}
}

// build draws what stands behind the face, where it stands and as wide as it is.
func (e *elevation) build() {
	for _, member := range e.surface.MemberFaces() {
		if m, ok := e.boxOf(member[0], member[1]).meet(e.frame); ok {
			e.pen.box(m, 0, Solid, Grey)
		}
	}
}

func (e *elevation) areas() {
	draw := func(a place.Area, hatched bool) {
		b, ok := e.boxOf(a.Min, a.Max).meet(e.frame)
		if !ok {
			return
		}
		e.pen.box(b, thin, Solid, White)
		e.labels.block(Box{b.X0, b.Y0, b.X0, b.Y1}.grown(0.2), Box{b.X1, b.Y0, b.X1, b.Y1}.grown(0.2),
			Box{b.X0, b.Y0, b.X1, b.Y0}.grown(0.2), Box{b.X0, b.Y1, b.X1, b.Y1}.grown(0.2))
		if hatched {
			e.pen.hatch(b, 1.6)
		}
		if around, ok := b.grown(a.Clearance * 1000 / e.one).meet(e.frame); ok && a.Clearance > 0 {
			e.pen.box(around, hair, Broken, Empty)
		}
	}
	for _, c := range e.surface.Cuts { // not there: behind a breast, in front of an alcove
		e.pen.shape(e.all(c.Outline), plain, Solid, Grey)
	}
	for _, a := range e.surface.Openings {
		draw(a, false)
	}
	for _, a := range e.surface.KeepOuts {
		draw(a, true)
	}
}

// ear is the height of the primary listening position on a plumb surface.
func (e *elevation) ear() {
	l := e.job.Plan.Primary()
	if l == nil || e.surface.Up != (place.Vec{Z: 1}) {
		return
	}
	y := e.at(place.Spot{Up: l.Ear[2] - e.surface.Origin.Z}).Y
	if y <= e.frame.Y0 || y >= e.frame.Y1 {
		return
	}
	e.pen.line(Point{e.frame.X0, y}, Point{e.frame.X1, y}, hair, DashDot)
	e.ears = append(e.ears, Box{e.frame.X0, y, e.frame.X1, y})
}

func (e *elevation) all(spots []place.Spot) []Point {
	points := make([]Point, len(spots))
	for i, s := range spots {
		points[i] = e.at(s)
	}
	return points
}

func (e *elevation) outline() {
	e.pen.shape(e.all(e.surface.Outline), plain, Solid, Empty)
	if e.sides.Below == "floor" {
		e.pen.line(Point{e.frame.X0, e.frame.Y1}, Point{e.frame.X1, e.frame.Y1}, thick, Solid)
	}
	e.pen.circle(e.zero, 1, 0, Black)
	e.labels.block(around(e.zero, 1.5))
}

// marks draws every hole, numbered, and names its mount.
func (e *elevation) marks(holes []hole) {
	for _, h := range holes {
		p := e.at(h.at)
		if h.reference {
			e.pen.cross(p, 1.8, thin)
		}
		if h.number > 0 {
			e.pen.circle(p, 0.55, thin, White)
		}
		e.labels.block(around(p, 1))
	}
	for _, m := range e.job.mountsOn(e.surface.Name) {
		var numbers []int
		var all Box
		first := true
		for _, h := range holes {
			if h.mount != m {
				continue
			}
			b := around(e.at(h.at), 1.2)
			if first {
				all, first = b, false
			}
			all = Box{math.Min(all.X0, b.X0), math.Min(all.Y0, b.Y0), math.Max(all.X1, b.X1), math.Max(all.Y1, b.Y1)}
			if h.number > 0 {
				numbers = append(numbers, h.number)
			}
		}
		if first {
			continue // none of them is in the picture
		}
		lines := []string{cut(m.Channel, small, true, 40)}
		if n := len(numbers); n > 0 {
			lines = append(lines, numbered(numbers[0], numbers[n-1]))
		}
		e.put(lines, small, true, beside(all, 0.8))
	}
}

func numbered(first, last int) string {
	if first == last {
		return fmt.Sprintf("hole %d", first)
	}
	return fmt.Sprintf("holes %d to %d", first, last)
}

func (e *elevation) put(lines []string, size float64, bold bool, corners func(w, h float64) []Point) {
	if !e.labels.put(e.pen, lines, size, bold, corners) {
		e.left++
	}
}

// names tells what the areas and the neighbours are.
func (e *elevation) names() {
	var gone []place.Area
	for _, c := range e.surface.Cuts {
		gone = append(gone, c.Extent())
	}
	for _, list := range [][]place.Area{gone, e.surface.Openings, e.surface.KeepOuts} {
		for _, a := range list {
			if b, ok := e.boxOf(a.Min, a.Max).meet(e.frame); ok {
				lines := wrap(a.Name, small, false, 34, 2)
				e.put(lines, small, false, either(within(b), beside(b, 0.8)))
			}
		}
	}
	for _, line := range e.ears {
		e.put([]string{"ear height " + e.job.length(e.job.Plan.Primary().Ear[2])}, small, false, alongside(line, true, 0.5))
	}
	m := e.frame.middle()
	side := func(name string, corners func(w, h float64) []Point) {
		if name != "" {
			e.put([]string{cut(name, small, false, 60)}, small, false, corners)
		}
	}
	above := func(y float64) func(w, h float64) []Point {
		return func(w, h float64) []Point {
			var all []Point
			for _, x := range []float64{m.X - w/2, e.frame.X0 + 1, e.frame.X1 - w - 1} {
				all = append(all, Point{x, y - h/2 - h}, Point{x, y + 0.8})
			}
			return all
		}
	}
	side(e.sides.Above, above(e.frame.Y0))
	inside := func(left bool) func(w, h float64) []Point {
		return func(w, h float64) []Point {
			var all []Point
			for _, fy := range []float64{0.12, 0.3, 0.5, 0.7, 0.9} {
				x := e.frame.X1 - w - 1
				if left {
					x = e.frame.X0 + 1
				}
				all = append(all, Point{x, e.frame.Y0 + fy*(e.frame.height()-h)})
			}
			return all
		}
	}
	arrow := func(name, before, after string) string {
		if name == "" {
			return ""
		}
		return joined(" ", before, name, after)
	}
	if e.sides.Below != "floor" {
		side(arrow(e.sides.Below, "↓", ""), func(w, h float64) []Point {
			var all []Point
			for _, f := range []float64{0.5, 0.3, 0.7, 0.05, 0.95} {
				all = append(all, Point{e.frame.X0 + f*(e.frame.width()-w), e.frame.Y1 - h - 0.8})
			}
			return all
		})
	}
	side(arrow(e.sides.Left, "←", ""), inside(true))
	side(arrow(e.sides.Right, "", "→"), inside(false))
}

// dimensions are the tape's readings from the datum: along as running dimensions below
// the surface, heights as base-line dimensions beside it, or as running ones where there
// are many.
func (e *elevation) dimensions(holes []hole) {
	e.alongs(distinct(e.job, holes, func(h hole) float64 { return h.mount.Along }), holes)
	ups := levels(e.job, holes)
	if len(ups) <= mostBase {
		e.baseLines(ups, holes)
	} else {
		e.risers(ups)
	}
}

// spread moves places apart so that neighbours have least between them, within a range;
// ok is false where there is no room for all.
func spread(places []float64, least, low, high float64) (moved []float64, ok bool) {
	n := len(places)
	if float64(n-1)*least > high-low {
		return nil, false
	}
	moved = make([]float64, n)
	for i, p := range places {
		moved[i] = math.Max(p, low)
		if i > 0 {
			moved[i] = math.Max(moved[i], moved[i-1]+least)
		}
	}
	for i := n - 1; i >= 0; i-- {
		limit := high - float64(n-1-i)*least
		if moved[i] <= limit {
			break
		}
		moved[i] = limit
	}
	return moved, true
}

func (e *elevation) alongs(values []float64, holes []hole) {
	y := e.frame.Y1 + 4
	places := make([]float64, len(values))
	for i, v := range values {
		places[i] = e.at(place.Spot{Along: v}).X
	}
	step := lineHeight(small)
	moved, ok := spread(places, step, math.Max(e.zero.X, e.labels.bounds.X0+step), e.labels.bounds.X1-1)
	if !ok {
		e.left += len(values)
		return
	}
	e.pen.circle(Point{e.zero.X, y}, 0.9, thin, White)
	last := e.zero.X
	for _, x := range places {
		last = math.Max(last, x)
	}
	e.pen.line(Point{e.zero.X + 0.9, y}, Point{last, y}, thin, Solid)
	for i, x := range places {
		bottom := e.frame.Y1
		for _, h := range holes {
			if e.job.length(h.mount.Along) == e.job.length(values[i]) {
				bottom = math.Min(bottom, e.at(place.Spot{Up: h.mount.Up}).Y)
			}
		}
		e.pen.line(Point{x, bottom}, Point{x, y + 1}, hair, Broken)
		e.labels.block(Box{x - 0.2, bottom, x + 0.2, y + 1})
		e.pen.head(Point{e.zero.X, y}, Point{x, y}, 1.8)
		e.pen.line(Point{x, y + 1}, Point{moved[i], y + 3}, hair, Solid)
		t := Text{At: Point{moved[i] + ascent*small*Pt/2, y + 3.4}, Text: e.job.length(values[i]), Size: small, Bold: true, Anchor: End, Turned: true}
		e.pen.text(t)
		e.labels.block(t.Bounds())
	}
	e.labels.block(Box{e.zero.X - 1, y - 1, last, y + 3})
	zero := Text{At: Point{e.zero.X - 1.6, y + 1}, Text: "0", Size: small, Anchor: End}
	e.pen.text(zero)
	e.labels.block(zero.Bounds())
}

func (e *elevation) baseLines(values []float64, holes []hole) {
	for i, v := range values {
		x := e.frame.X0 - 5 - besides*float64(i)
		y := e.at(place.Spot{Up: v}).Y
		from := e.frame.X0
		for _, h := range holes {
			if e.job.length(h.mount.Up) == e.job.length(v) {
				from = math.Max(from, e.at(place.Spot{Along: h.mount.Along}).X)
			}
		}
		e.pen.line(Point{x - 1, y}, Point{from, y}, hair, Broken)
		e.labels.block(Box{x - 1, y - 0.2, from, y + 0.2})
		e.pen.line(Point{x - 1, e.zero.Y}, Point{e.frame.X0, e.zero.Y}, hair, Solid)
		e.pen.line(Point{x, e.zero.Y}, Point{x, y}, thin, Solid)
		if math.Abs(y-e.zero.Y) > 4 {
			e.pen.head(Point{x, y}, Point{x, e.zero.Y}, 1.8)
		}
		e.pen.head(Point{x, e.zero.Y}, Point{x, y}, 1.8)
		t := Text{At: Point{x - 0.8, 0}, Text: e.job.length(v), Size: small, Bold: true, Anchor: Middle, Turned: true}
		half := t.Width() / 2
		t.At.Y = math.Max((y+e.zero.Y)/2, e.labels.bounds.Y0+half)
		t.At.Y = math.Min(t.At.Y, e.labels.bounds.Y1-half)
		e.pen.text(t)
		e.labels.block(t.Bounds(), Box{x - 1, math.Min(y, e.zero.Y), x + 1, math.Max(y, e.zero.Y)})
	}
}

func (e *elevation) risers(values []float64) {
	x := e.frame.X0 - 4
	step := lineHeight(small)
	places := make([]float64, len(values))
	for i, v := range values { // from the datum up is from high to low on the sheet
		places[i] = -e.at(place.Spot{Up: v}).Y
	}
	moved, ok := spread(places, step, -(e.labels.bounds.Y1 - 1), -(e.labels.bounds.Y0 + step))
	if !ok {
		e.left += len(values)
		return
	}
	e.pen.circle(Point{x, e.zero.Y}, 0.9, thin, White)
	e.pen.line(Point{x, e.zero.Y - 0.9}, Point{x, -places[len(places)-1]}, thin, Solid)
	for i, v := range values {
		y, to := -places[i], -moved[i]
		e.pen.line(Point{x - 1, y}, Point{e.frame.X0, y}, hair, Solid)
		e.pen.head(Point{x, e.zero.Y}, Point{x, y}, 1.8)
		e.pen.line(Point{x - 1, y}, Point{x - 3, to}, hair, Solid)
		t := Text{At: Point{x - 3.4, to + ascent*small*Pt/2}, Text: e.job.length(v), Size: small, Bold: true, Anchor: End}
		e.pen.text(t)
		e.labels.block(t.Bounds())
	}
	e.labels.block(Box{x - 3, -places[len(places)-1], e.frame.X0, e.zero.Y})
}

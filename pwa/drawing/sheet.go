package drawing

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"hangtrue/compute/place"
	"hangtrue/compute/tape"
	. "hangtrue/pwa/markup"
)

// phoneWidth is the width of a sheet where no other is asked.
const phoneWidth = 360.0

// sheetWidth is the width that was asked for, or a phone's.
func sheetWidth(asked float64) float64 {
	if asked > phoneWidth && !math.IsInf(asked, 0) {
		return asked
	}
	return phoneWidth
}

// A picture is a drawing while it is made.
type picture struct {
	width    float64 // of the sheet
	system   tape.System
	marks    []Node
	labels   placer
	leftOver []string // labels that found no seat
}

func (p *picture) add(nodes ...Node) { p.marks = append(p.marks, nodes...) }

// put seats a label, or keeps it for the lines under the picture.
func (p *picture) put(l *label, seats ...[]seat) {
	if !p.labels.put(seats...) {
		p.leftOver = append(p.leftOver, strings.Join(l.lines, " "))
	}
}

// lines writes texts below y, one under the other, and gives the height they reach.
func (p *picture) lines(texts []string, y float64) (Node, float64) {
	nodes := make([]Node, len(texts))
	for i, text := range texts {
		y += small * 1.35
		nodes[i] = note(8, y, "start", text)
	}
	return Group(nodes...), y + 8
}

func note(x, y float64, anchor, text string) Node {
	return El("text", class("note"), Attr("x", num(x)), Attr("y", num(y)), Attr("font-size", num(small)), Attr("text-anchor", anchor), Text(text))
}

// wrapped is a text in lines that fit the sheet.
func (p *picture) wrapped(text string, lines int) []string {
	return wrap(text, small, p.width-16, lines)
}

// alsoHere are the labels that found no seat, in lines.
func (p *picture) alsoHere() []string {
	if len(p.leftOver) == 0 {
		return nil
	}
	return p.wrapped("Also here: "+strings.Join(p.leftOver, "; ")+".", 6)
}

// drawn is the finished drawing.
func (p *picture) drawn(kind, title, says string, height float64, more ...Node) Node {
	return El("svg", class("drawing "+kind), Attr("xmlns", "http://www.w3.org/2000/svg"), Attr("role", "img"),
		Attr("viewBox", "0 0 "+num(p.width)+" "+num(height)),
		El("title", Text(title)), El("desc", Text(says)),
		Group(p.marks...), Group(p.labels.texts...), Group(more...))
}

// point is a place on the sheet: x to the right, y downward, in units of a CSS
// pixel on a phone.
type point struct{ x, y float64 }

func (p point) plus(dx, dy float64) point { return point{p.x + dx, p.y + dy} }

// box is an upright rectangle on the sheet.
type box struct{ x0, y0, x1, y1 float64 }

func around(p point, half float64) box { return box{p.x - half, p.y - half, p.x + half, p.y + half} }

func (b box) width() float64        { return b.x1 - b.x0 }
func (b box) height() float64       { return b.y1 - b.y0 }
func (b box) middle() point         { return point{(b.x0 + b.x1) / 2, (b.y0 + b.y1) / 2} }
func (b box) grown(by float64) box  { return box{b.x0 - by, b.y0 - by, b.x1 + by, b.y1 + by} }
func (b box) overlaps(c box) bool   { return b.x0 < c.x1 && c.x0 < b.x1 && b.y0 < c.y1 && c.y0 < b.y1 }
func (b box) holds(c box) bool      { return b.x0 <= c.x0 && c.x1 <= b.x1 && b.y0 <= c.y0 && c.y1 <= b.y1 }
func (b box) contains(p point) bool { return b.holds(box{p.x, p.y, p.x, p.y}) }

// nearest is the point of the box nearest to p.
func (b box) nearest(p point) point {
	return point{math.Min(math.Max(p.x, b.x0), b.x1), math.Min(math.Max(p.y, b.y0), b.y1)}
}

func (b box) meet(c box) (box, bool) {
	m := box{math.Max(b.x0, c.x0), math.Max(b.y0, c.y0), math.Min(b.x1, c.x1), math.Min(b.y1, c.y1)}
	return m, m.x0 < m.x1 && m.y0 < m.y1
}

// clip is the part of the segment from a to b that lies in the box.
func (b box) clip(p, q point) (point, point, bool) {
	from, to := 0.0, 1.0
	dx, dy := q.x-p.x, q.y-p.y
	for _, side := range [4][2]float64{{-dx, p.x - b.x0}, {dx, b.x1 - p.x}, {-dy, p.y - b.y0}, {dy, b.y1 - p.y}} {
		speed, room := side[0], side[1]
		switch {
		case speed == 0 && room < 0:
			return p, q, false
		case speed < 0:
			from = math.Max(from, room/speed)
		case speed > 0:
			to = math.Min(to, room/speed)
		}
	}
	if from > to {
		return p, q, false
	}
	return p.plus(from*dx, from*dy), p.plus(to*dx, to*dy), true
}

// projection carries tape coordinates (metres) to the sheet.
type projection struct {
	zero  point   // where along and up are zero
	scale float64 // sheet units to the metre
}

func (p projection) at(s place.Spot) point {
	return p.zero.plus(p.scale*s.Along, -p.scale*s.Up)
}

func (p projection) box(low, high place.Spot) box {
	a, b := p.at(low), p.at(high)
	return box{a.x, b.y, b.x, a.y}
}

// sortBy puts n things in order and keeps those together that are alike, by insertion:
// lists here are short, and a generic sort would be compiled anew for every type.
func sortBy(n int, less func(i, j int) bool, swap func(i, j int)) {
	for i := 1; i < n; i++ {
		for j := i; j > 0 && less(j, j-1); j-- {
			swap(j, j-1)
		}
	}
}

// num writes a coordinate to a tenth of a unit.
func num(x float64) string {
	s := strconv.FormatFloat(x, 'f', 1, 64)
	if s = strings.TrimSuffix(s, ".0"); s == "-0" {
		return "0"
	}
	return s
}

func class(names string) Node { return Attr("class", names) }

func rect(names string, b box) Node {
	return El("rect", class(names), Attr("x", num(b.x0)), Attr("y", num(b.y0)), Attr("width", num(b.width())), Attr("height", num(b.height())))
}

func line(names string, a, b point) Node {
	return El("line", class(names), Attr("x1", num(a.x)), Attr("y1", num(a.y)), Attr("x2", num(b.x)), Attr("y2", num(b.y)))
}

func circle(names string, c point, r float64) Node {
	return El("circle", class(names), Attr("cx", num(c.x)), Attr("cy", num(c.y)), Attr("r", num(r)))
}

func polygon(names string, corners ...point) Node {
	var b strings.Builder
	for i, c := range corners {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(num(c.x) + "," + num(c.y))
	}
	return El("polygon", class(names), Attr("points", b.String()))
}

// hatch fills a polygon with slanting lines, drawn one by one: a pattern would need an
// id that is unique in the page.
func hatch(names string, corners []point) Node {
	const step = 8
	b := bounds(corners)
	var path strings.Builder
	for x := b.x0 - b.height() + step/2; x < b.x1; x += step {
		// Along the line y runs from b.y1 upward as x grows from here.
		var meets []float64
		for i, p := range corners {
			q := corners[(i+1)%len(corners)]
			from, to := p.x+p.y-x-b.y1, q.x+q.y-x-b.y1
			if (from <= 0) != (to <= 0) {
				meets = append(meets, p.x+from/(from-to)*(q.x-p.x))
			}
		}
		slices.Sort(meets)
		for i := 0; i+1 < len(meets); i += 2 {
			path.WriteString("M" + num(meets[i]) + " " + num(b.y1-meets[i]+x) + "L" + num(meets[i+1]) + " " + num(b.y1-meets[i+1]+x))
		}
	}
	return El("path", class(names), Attr("d", path.String()))
}

func (b box) corners() []point {
	return []point{{b.x0, b.y0}, {b.x1, b.y0}, {b.x1, b.y1}, {b.x0, b.y1}}
}

// arrow is a line from a to b with a head at b.
func arrow(names string, a, b point) Node {
	dx, dy := b.x-a.x, b.y-a.y
	length := math.Hypot(dx, dy)
	if length < 1 {
		return nil
	}
	dx, dy = dx/length, dy/length
	head := math.Min(8, length)
	foot := b.plus(-head*dx, -head*dy)
	return Group(line(names, a, foot),
		polygon(names+" head", b, foot.plus(-head*dy/2.5, head*dx/2.5), foot.plus(head*dy/2.5, -head*dx/2.5)))
}

// cross marks what is planned: two strokes through the spot.
func cross(names string, c point, arm float64) Node {
	return Group(line(names, c.plus(-arm, 0), c.plus(arm, 0)), line(names, c.plus(0, -arm), c.plus(0, arm)))
}

// spotMark marks what was measured: a ring when it is within, a diamond when it is
// outside, a square when it is unsure, a triangle when it stays off plan, and a
// dotted ring while it is being typed.
func spotMark(outcome string, c point, r float64) Node {
	switch outcome {
	case "outside":
		r *= 1.3
		return polygon("spot outside", c.plus(0, -r), c.plus(r, 0), c.plus(0, r), c.plus(-r, 0))
	case conceded:
		r *= 1.3
		return polygon("spot conceded", c.plus(0, -r), c.plus(r, 0.7*r), c.plus(-r, 0.7*r))
	case "unsure":
		return rect("spot unsure", around(c, r*0.9))
	case "within":
		return circle("spot within", c, r)
	}
	return Group(circle("spot typed", c, r), circle("spot typed dot", c, 1.5))
}

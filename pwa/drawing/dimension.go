package drawing

import (
	"math"
	"slices"

	"hangtrue/compute/place"
	"hangtrue/compute/tape"
	. "hangtrue/pwa/markup"
)

// Dimensions is a way to give every hole its dimension lines, all from the datum. It is
// a value that brings its code along: a program that names none does without it.
type Dimensions struct {
	margins func(*elevation) (left, below float64)
	draw    func(*elevation)
}

var (
	// Running gives one scale for every direction, with each hole's reading at its tick.
	Running = &Dimensions{(*elevation).besideRunning, (*elevation).running}
	// Baseline gives every reading a line of its own, the shortest nearest the wall.
	Baseline = &Dimensions{(*elevation).besideBaseline, (*elevation).baseline}
)

const (
	offAxis = 12.0                     // from the frame to the scale of running dimensions
	stacked = 19.0                     // from one baseline dimension to the next
	besides = normal*1.2 + apart + 0.5 // from one running dimension to the next
	nameAt  = 16.0                     // for the name of the neighbour beyond the dimensions
)

// A reading is what a tape shows at one or more holes.
type reading struct {
	at    float64 // metres
	text  string
	main  bool // a reference hole's
	holes []place.Spot
}

// read collects the readings of all holes along and up, in ascending order: of the
// reference holes, which the tape is judged by, and of the bracket's other holes.
func (d *elevation) read() {
	for _, m := range d.mounts {
		for i, hole := range d.holes(m) {
			if !d.on(hole) {
				d.leftOver = append(d.leftOver, "a hole at "+d.says(Spot{Along: hole.Along, Up: hole.Up}))
			} else {
				d.readings[0] = taken(d.readings[0], hole.Along, hole, i == 0, d.system)
				d.readings[1] = taken(d.readings[1], hole.Up, hole, i == 0, d.system)
			}
		}
	}
	for _, list := range d.readings {
		sortBy(len(list), func(i, j int) bool { return list[i].at < list[j].at }, func(i, j int) { list[i], list[j] = list[j], list[i] })
	}
}

// thin leaves no more readings up than find room beside the wall, those of reference
// holes alone where not all do; the rest is said under the picture.
func (d *elevation) thin(most int) {
	if len(d.readings[1]) <= most {
		return
	}
	var kept []*reading
	for _, r := range d.readings[1] {
		if len(kept) < most && r.main {
			kept = append(kept, r)
		} else {
			d.leftOver = append(d.leftOver, r.text+" "+d.Plan.UpWord(d.Surface))
		}
	}
	d.readings[1] = kept
}

// taken adds a hole to the reading that a tape cannot tell from its own.
func taken(list []*reading, at float64, hole place.Spot, main bool, s tape.System) []*reading {
	text := tape.Format(at, s)
	i := slices.IndexFunc(list, func(r *reading) bool { return r.text == text })
	if i < 0 {
		i, list = len(list), append(list, &reading{at: at, text: text})
	}
	list[i].main = list[i].main || main
	list[i].holes = append(list[i].holes, hole)
	return list
}

func (r *reading) label() *label {
	l := &label{lines: []string{r.text}, size: small, bold: r.main, class: "reading"}
	if r.main {
		l.size = normal
	}
	return l
}

// besideRunning and besideBaseline are what the dimension lines need to the left and
// below.
func (d *elevation) besideRunning() (atLeft, under float64) {
	d.read()
	widest := func(list []*reading) (w float64) {
		for _, r := range list {
			one, _ := r.label().size2()
			w = math.Max(w, one)
		}
		return w
	}
	return nameAt + offAxis + 18 + widest(d.readings[1]), offAxis + 18 + widest(d.readings[0]) + 2*nameAt
}

func (d *elevation) besideBaseline() (atLeft, under float64) {
	d.read()
	d.thin(int(d.width/2/stacked) - 1)
	return nameAt + stacked*float64(1+len(d.readings[1])), stacked*float64(1+len(d.readings[0])) + 2*nameAt
}

// running draws a scale under the wall and one at its left.
func (d *elevation) running() {
	zero := d.at(place.Spot{})
	y, x := d.frame.y1+offAxis, d.frame.x0-offAxis
	d.nameDatum(zero)
	d.add(line("axis", point{d.frame.x0, y}, point{d.frame.x1, y}), line("axis", point{x, d.frame.y0}, point{x, d.frame.y1}))
	d.labels.block(box{d.frame.x0, y - 2, d.frame.x1, y + 2}, box{x - 2, d.frame.y0, x + 2, d.frame.y1})
	d.add(line("axis", point{zero.x, y - 4}, point{zero.x, y + 4}), line("axis", point{x - 4, zero.y}, point{x + 4, zero.y}))
	along, up := make([]*tick, len(d.readings[0])), make([]*tick, len(d.readings[1]))
	for i, r := range d.readings[0] {
		along[i] = &tick{d.lowest(r.holes), r.label(), " along"}
	}
	for i, r := range d.readings[1] {
		up[i] = &tick{d.leftmost(r.holes), r.label(), " " + d.Plan.UpWord(d.Surface)}
	}
	d.scaleAlong(along, y, d.frame.x0-nameAt, d.width-10)
	d.scaleUp(up, x, 10, d.frame.y1+below/2)
}

// A tick is one running dimension: where its extension line starts, what it says, and
// what is added where that is said under the picture.
type tick struct {
	from  point
	label *label
	word  string
}

// spots sorts ticks by where they are on the sheet and gives where each is said between
// two places; none where there is no room, and then it is said under the picture.
func (p *picture) spots(ticks []*tick, of func(point) float64, low, high float64) []float64 {
	sortBy(len(ticks), func(i, j int) bool { return of(ticks[i].from) < of(ticks[j].from) }, func(i, j int) { ticks[i], ticks[j] = ticks[j], ticks[i] })
	wants := make([]float64, len(ticks))
	for i, t := range ticks {
		wants[i] = of(t.from)
	}
	spots := spread(wants, besides, low, high)
	if spots == nil {
		for _, t := range ticks {
			p.leftOver = append(p.leftOver, t.label.lines[0]+t.word)
		}
	}
	return spots
}

// scaleAlong writes running dimensions under a level scale, reading upward, between
// two places on the sheet.
func (p *picture) scaleAlong(ticks []*tick, y, low, high float64) {
	for i, spot := range p.spots(ticks, func(at point) float64 { return at.x }, low, high) {
		t := ticks[i]
		t.label.turned = true
		at, foot := point{t.from.x, y}, point{spot, y + 12}
		p.add(line("extension", t.from, at), line("axis", at.plus(0, -4), at.plus(0, 4)), line("leader", at.plus(0, 4), foot))
		_, h := t.label.size2()
		p.put(t.label, t.label.at(foot.plus(0, 3+h/2)))
	}
}

// scaleUp writes running dimensions to the left of an upright scale.
func (p *picture) scaleUp(ticks []*tick, x, low, high float64) {
	for i, spot := range p.spots(ticks, func(at point) float64 { return at.y }, low, high) {
		t := ticks[i]
		at, foot := point{x, t.from.y}, point{x - 12, spot}
		p.add(line("extension", t.from, at), line("axis", at.plus(-4, 0), at.plus(4, 0)), line("leader", at.plus(-4, 0), foot))
		w, h := t.label.size2()
		p.put(t.label, []seat{t.label.seat(foot.x-3-w, foot.y-h/2, "end")})
	}
}

// lowest and leftmost are the holes that an extension line starts from.
func (d *elevation) lowest(holes []place.Spot) point {
	out := d.at(holes[0])
	for _, h := range holes[1:] {
		if at := d.at(h); at.y > out.y {
			out = at
		}
	}
	return out
}

func (d *elevation) leftmost(holes []place.Spot) point {
	out := d.at(holes[0])
	for _, h := range holes[1:] {
		if at := d.at(h); at.x < out.x {
			out = at
		}
	}
	return out
}

// baseline stacks one dimension line for every reading.
func (d *elevation) baseline() {
	zero := d.at(place.Spot{})
	d.nameDatum(zero)
	far := [2]float64{d.frame.y1 + stacked*(float64(len(d.readings[0]))+0.5), d.frame.x0 - stacked*(float64(len(d.readings[1]))+0.5)}
	d.add(line("extension", zero, point{zero.x, far[0]}), line("extension", zero, point{far[1], zero.y}))
	for i, r := range d.readings[0] {
		y, end := d.frame.y1+stacked*float64(i+1), d.at(place.Spot{Along: r.at}).x
		d.add(line("extension", d.lowest(r.holes), point{end, y + 3}), arrow("dimension", point{zero.x, y}, point{end, y}))
		l := r.label()
		w, h := l.size2()
		x := math.Max(zero.x+8, (zero.x+end-w)/2)
		d.put(l, []seat{l.seat(x, y-h-1, "middle"), l.seat(end+6, y-h/2, "start")})
		d.labels.block(box{math.Min(zero.x, end), y - 0.5, math.Max(zero.x, end), y + 0.5})
	}
	for i, r := range d.readings[1] {
		x, end := d.frame.x0-stacked*float64(i+1), d.at(place.Spot{Up: r.at}).y
		d.add(line("extension", d.leftmost(r.holes), point{x - 3, end}), arrow("dimension", point{x, zero.y}, point{x, end}))
		l := r.label()
		l.turned = true
		w, h := l.size2()
		y := math.Min(zero.y-8-h, (zero.y+end-h)/2)
		d.put(l, []seat{l.seat(x-w-1, y, "middle"), l.seat(x-w/2, end-6-h, "middle")})
		d.labels.block(box{x - 0.5, math.Min(zero.y, end), x + 0.5, math.Max(zero.y, end)})
	}
}

// spread moves wanted places, which ascend, as little as it must so that they stand
// a gap apart and lie between low and high; nil where there is no room. The least
// sum of squares keeps together what was pushed together (pool adjacent violators).
func spread(wants []float64, gap, low, high float64) []float64 {
	n := len(wants)
	if float64(n-1)*gap > high-low {
		return nil
	}
	type block struct {
		sum   float64
		count int
	}
	var blocks []block
	for i, w := range wants {
		b := block{w - gap*float64(i), 1}
		for len(blocks) > 0 {
			last := blocks[len(blocks)-1]
			if last.sum/float64(last.count) <= b.sum/float64(b.count) {
				break
			}
			b = block{b.sum + last.sum, b.count + last.count}
			blocks = blocks[:len(blocks)-1]
		}
		blocks = append(blocks, b)
	}
	out := make([]float64, 0, n)
	for _, b := range blocks {
		for range b.count {
			at := math.Min(math.Max(b.sum/float64(b.count), low), high-gap*float64(n-1))
			out = append(out, at+gap*float64(len(out)))
		}
	}
	return out
}

// overall is a dimension line between two points, with an arrow at either end.
func overall(a, b point) Node {
	m := point{(a.x + b.x) / 2, (a.y + b.y) / 2}
	return Group(arrow("dimension", m, a), arrow("dimension", m, b))
}

// bar is a line of a known length that ends at a point, with its length before it.
func bar(b point, length float64, text string) Node {
	a := b.plus(-length, 0)
	return Group(line("bar", a, b), line("bar", a.plus(0, -4), a.plus(0, 4)), line("bar", b.plus(0, -4), b.plus(0, 4)),
		note(a.x-5, b.y+4, "end", text))
}

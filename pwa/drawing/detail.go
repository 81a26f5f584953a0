package drawing

import (
	"fmt"
	"math"
	"strings"

	"hangtrue/checklist/plan"
	"hangtrue/compute/place"
	"hangtrue/compute/tape"
	. "hangtrue/pwa/markup"
)

// The detail window, and the wall that must show around the outermost holes.
const (
	detailHeight = 220.0
	aroundHoles  = 0.06   // metres
	mostDetail   = 1500.0 // sheet units to the metre
)

// detail draws the wall around the mount in question enlarged: the bracket's
// holes, the edges of the studs, the tolerance true to scale, what was measured.
func (d *elevation) detail(y float64) (Node, float64) {
	holes := d.holes(d.asked)
	low, high := place.Extent(holes)
	window := box{10, y + 24, d.width - 10, y + 24 + detailHeight}
	e := *d
	e.marks, e.leftOver, e.shaded = nil, nil, nil
	e.labels = placer{bounds: window.grown(-2)}
	e.scale = math.Min(mostDetail, math.Min(window.width()/(high.Along-low.Along+2*aroundHoles), window.height()/(high.Up-low.Up+2*aroundHoles)))
	e.zero = point{}
	m := window.middle()
	at := e.at(place.Spot{Along: (low.Along + high.Along) / 2, Up: (low.Up + high.Up) / 2})
	e.zero = point{m.x - at.x, m.y - at.y}
	e.frame = window

	e.add(rect("window", window))
	e.detailFraming(window)
	e.zone(window)
	e.detailAreas(window)
	e.detailOutline(window)
	e.others(window, 0)
	e.detailTarget(window, holes)
	title := El("text", class("note strong"), Attr("x", num(window.x0)), Attr("y", num(window.y0-7)), Attr("font-size", num(normal)), Attr("font-weight", "700"),
		Text(cropped("Around "+d.asked.Channel+", enlarged", normal, 210)))
	return Group(title, e.scaleBar(window), Group(e.marks...), rect("window-edge", window), Group(e.labels.texts...)), window.y1 + 8
}

// holes are where the bracket's screws go, the reference hole first: at the plan's
// spot, or at the one that was conceded.
func (d *elevation) holes(m *plan.Mount) []place.Spot {
	at := place.Spot{Along: m.Along, Up: m.Up}
	if s, ok := d.Built[m.Channel]; ok && s.Outcome == conceded && s.finite() {
		at = s.place()
	}
	holes := []place.Spot{at}
	if b := d.Plan.Bracket(m.Bracket); b != nil {
		for _, h := range b.Holes {
			if h != [2]float64{} {
				holes = append(holes, place.Spot{Along: at.Along + h[0], Up: at.Up + h[1]})
			}
		}
	}
	return holes
}

// drilled tells whether the reference hole itself takes a screw.
func (d *elevation) drilled() bool {
	b := d.Plan.Bracket(d.asked.Bracket)
	if b == nil || len(b.Holes) == 0 {
		return true
	}
	for _, h := range b.Holes {
		if h == [2]float64{} {
			return true
		}
	}
	return false
}

func (d *elevation) detailFraming(window box) {
	f := d.surface.Framing
	low, high := place.Extent(d.surface.Outline)
	from, to := low.Along, high.Along
	if f.Across {
		from, to = low.Up, high.Up
	}
	for _, centre := range f.Members(from, to) {
		a, b := place.Spot{Along: centre - f.Width/2, Up: low.Up}, place.Spot{Along: centre + f.Width/2, Up: high.Up}
		if f.Across {
			a, b = place.Spot{Along: low.Along, Up: centre - f.Width/2}, place.Spot{Along: high.Along, Up: centre + f.Width/2}
		}
		m, ok := d.box(a, b).meet(window)
		if !ok {
			continue
		}
		d.add(rect("stud", m))
		l := &label{size: small, class: "stud-name", lines: []string{
			fmt.Sprintf("%s %s", member(d.surface), tape.Format(centre-f.Width/2, d.system)),
			"to " + tape.Format(centre+f.Width/2, d.system),
		}}
		w, h := l.size2()
		top, bottom, x := m.y0+4, m.y1-4-h, m.middle().x-w/2
		d.put(l, []seat{
			l.seat(x, top, "middle"), l.seat(x, bottom, "middle"), l.seat(m.x1+4, top, "start"), l.seat(m.x0-4-w, top, "end"),
			l.seat(window.x0+4, m.middle().y-h/2, "start"), l.seat(window.x0+4, m.y1+3, "start"),
		})
	}
}

func (d *elevation) detailAreas(window box) {
	for i, list := range [][]place.Area{d.surface.KeepOuts, d.surface.Openings} {
		for _, a := range list {
			b := d.box(a.Min, a.Max)
			if i == 0 {
				d.add(d.keepOut(b, a.Clearance*d.scale, window))
			} else {
				d.add(d.opening(b, a.Clearance*d.scale, window))
			}
			if seen, ok := b.meet(window); ok {
				l := &label{lines: wrap(a.Name, small, 110, 2), size: small, class: "area"}
				d.put(l, l.inside(seen), l.beside(seen, 4))
			}
		}
	}
}

func (d *elevation) detailOutline(window box) {
	corners := d.corners()
	for i, a := range corners {
		if p, q, ok := window.clip(a, corners[(i+1)%len(corners)]); ok {
			d.add(line("outline", p, q))
		}
	}
}

func (d *elevation) detailTarget(window box, holes []place.Spot) {
	tolerance := d.Plan.Tolerances.Mark * d.scale
	at := d.at(place.Spot{Along: d.asked.Along, Up: d.asked.Up})
	if t, ok := around(at, tolerance).meet(window); ok {
		d.add(rect("tolerance", t))
	}
	if window.grown(-14).contains(at) {
		d.add(cross("target", at, 13))
		d.labels.block(around(at, math.Max(14, math.Min(tolerance, 40))))
	}
	radius := d.pilot() * d.scale / 2
	for i, h := range holes {
		if i > 0 || d.drilled() {
			d.add(circle("hole", d.at(h), math.Max(radius, 3)))
			d.labels.block(around(d.at(h), math.Max(radius, 3)+2))
		}
	}
	spots := map[string]Spot{}
	if s, ok := d.Built[d.asked.Channel]; ok && d.Draft == nil && s.finite() {
		spots["measured"] = s
	}
	if d.Draft != nil {
		spots["typed now"] = *d.Draft
	}
	for name, s := range spots { // at most one
		d.detailSpot(window, at, name, s)
	}
	if planned := (place.Spot{Along: d.asked.Along, Up: d.asked.Up}); planned != holes[0] && window.grown(-14).contains(at) {
		l := &label{lines: []string{"planned"}, size: small, class: "hole-name"}
		d.put(l, l.beside(around(at, 15), 3))
	}
	for i, h := range holes {
		text := "reference hole"
		if i > 0 {
			text = d.offset(place.Spot{Along: h.Along - holes[0].Along, Up: h.Up - holes[0].Up})
		}
		l := &label{lines: wrap(text, small, 120, 2), size: small, class: "hole-name"}
		half := 6.0
		if i == 0 {
			half = 15
		}
		d.put(l, l.beside(around(d.at(h), half), 3), pointing(l.beside(around(d.at(h), 2*half), 10), around(d.at(h), 5)))
	}
}

// detailSpot shows what was measured, or from which side it has to come when it
// lies outside the window.
func (d *elevation) detailSpot(window box, target point, name string, s Spot) {
	at := d.at(s.place())
	text := []string{name}
	if s.Outcome != "" {
		text = append(text, s.Outcome)
	}
	l := &label{lines: text, size: small, bold: true, class: "measured-name"}
	edge, _, ok := window.grown(-12).clip(at, target)
	if s.Outcome != conceded {
		d.moveArrow(at, target, window.grown(-12), 12)
	}
	if !window.grown(-8).contains(at) {
		if ok {
			l.lines = append(l.lines, "beyond this picture")
			d.put(l, l.beside(around(edge, 3), 3))
		}
		return
	}
	d.add(spotMark(s.Outcome, at, 7))
	d.labels.block(around(at, 9))
	d.put(l, l.beside(around(at, 9), 3))
}

// pilot is the pilot hole's diameter, 0 when the plan gives none.
func (d *elevation) pilot() float64 {
	if f := d.Plan.Fixing(d.asked.Fixing); f != nil {
		return f.Pilot
	}
	return 0
}

// offset says where a hole lies from the reference hole.
func (d *elevation) offset(by place.Spot) string {
	more, less, up, down := "to the right", "to the left", "above", "below"
	if math.Abs(d.surface.Normal().Z) > 0.3 {
		more, less, up, down = "more along", "less along", "more "+d.Plan.UpWord(d.Surface), "less "+d.Plan.UpWord(d.Surface)
	}
	var parts []string
	for _, p := range []struct {
		by          float64
		more, other string
	}{{by.Along, more, less}, {by.Up, up, down}} {
		switch {
		case p.by > 5e-5:
			parts = append(parts, tape.FormatSmall(p.by, d.system)+" "+p.more)
		case p.by < -5e-5:
			parts = append(parts, tape.FormatSmall(-p.by, d.system)+" "+p.other)
		}
	}
	return strings.Join(parts, ", ")
}

// scaleBar is a line of a known length on the wall.
func (d *elevation) scaleBar(window box) Node {
	length, text := 0.05, "50 mm"
	if d.Plan.Units == plan.Imperial {
		length, text = 0.0508, "2 in"
	}
	return bar(point{window.x1, window.y0 - 10}, length*d.scale, text)
}

package drawing

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"hangtrue/compute/place"
	"hangtrue/compute/tape"
	. "hangtrue/pwa/markup"
)

// rings are the outline of the zone that can be drawn: nothing where no mount is in
// question or a vertex is not a number.
func (d *elevation) rings() place.Outline {
	if d.asked == nil {
		return nil
	}
	for _, ring := range d.Zone {
		for _, s := range ring {
			if !finite(s) {
				return nil
			}
		}
	}
	return d.Zone
}

func finite(s place.Spot) bool { return Spot{Along: s.Along, Up: s.Up}.finite() }

// zone shades where the reference hole may go, true to scale, and draws the
// boundary as far as it lies in the window.
func (d *elevation) zone(window box) {
	var area strings.Builder
	var edges []Node
	for _, ring := range d.rings() {
		corners := make([]point, len(ring))
		for i, s := range ring {
			corners[i] = d.at(s)
		}
		seen := window.cut(corners)
		area.WriteString(ringPath(seen))
		if b := bounds(seen); b.height() < window.height()/4 || b.width() < window.width()/4 {
			d.shaded = append(d.shaded, b)
		}
		corners = thinned(corners)
		for i, a := range corners {
			if p, q, ok := window.clip(a, corners[(i+1)%len(corners)]); ok {
				edges = append(edges, line("zone-edge", p, q))
			}
		}
	}
	if area.Len() == 0 {
		return
	}
	d.add(El("path", class("zone"), Attr("fill-rule", "evenodd"), Attr("d", area.String())), Group(edges...))
}

// ringPath is a closed ring, without the corners that fall together on the sheet.
func ringPath(corners []point) string {
	if len(corners) < 3 {
		return ""
	}
	var path strings.Builder
	last := ""
	for _, c := range corners {
		at := num(c.x) + " " + num(c.y)
		if at == last {
			continue
		}
		path.WriteString(map[bool]string{true: "M", false: "L"}[last == ""] + at)
		last = at
	}
	return path.String() + "Z"
}

// bounds is the smallest box around corners; the zero box for none.
func bounds(corners []point) box {
	if len(corners) == 0 {
		return box{}
	}
	b := around(corners[0], 0)
	for _, c := range corners {
		b = box{math.Min(b.x0, c.x), math.Min(b.y0, c.y), math.Max(b.x1, c.x), math.Max(b.y1, c.y)}
	}
	return b
}

// thinned leaves out corners nearer to the one before than can be seen.
func thinned(corners []point) []point {
	const seen = 0.3
	var out []point
	for _, c := range corners {
		if n := len(out); n == 0 || math.Hypot(c.x-out[n-1].x, c.y-out[n-1].y) > seen {
			out = append(out, c)
		}
	}
	return out
}

// cut is the part of a polygon that lies in the box, side after side (Sutherland
// and Hodgman's way of clipping).
func (b box) cut(corners []point) []point {
	for _, keeps := range []func(point) float64{
		func(p point) float64 { return p.x - b.x0 }, func(p point) float64 { return b.x1 - p.x },
		func(p point) float64 { return p.y - b.y0 }, func(p point) float64 { return b.y1 - p.y },
	} {
		var out []point
		for i, q := range corners {
			p := corners[(i+len(corners)-1)%len(corners)]
			from, to := keeps(p), keeps(q)
			if (from >= 0) != (to >= 0) {
				f := from / (from - to)
				out = append(out, p.plus(f*(q.x-p.x), f*(q.y-p.y)))
			}
			if to >= 0 {
				out = append(out, q)
			}
		}
		corners = out
	}
	for i, c := range corners { // what rounding left outside
		corners[i] = b.nearest(c)
	}
	return corners
}

// others marks the further spots with their numbers, but for those nearer to the
// mount in question on the sheet than apart. What is labelled after them stands
// beside the zone, not on it.
func (d *elevation) others(window box, apart float64) {
	if d.asked == nil {
		return
	}
	defer func() { d.labels.block(d.shaded...) }()
	target := d.at(place.Spot{Along: d.asked.Along, Up: d.asked.Up})
	for i, s := range d.Others {
		at := d.at(s)
		if !finite(s) || !window.grown(-9).contains(at) || math.Hypot(at.x-target.x, at.y-target.y) < apart {
			continue
		}
		l := &label{lines: []string{strconv.Itoa(i + 1)}, size: small, bold: true, class: "other-name"}
		if d.labels.put(l.at(at)) {
			d.add(circle("other", at, 8))
			d.labels.block(around(at, 9))
		}
	}
}

// zoneNotes say what the shading and the numbers are.
func (d *elevation) zoneNotes() []string {
	var lines []string
	if len(d.rings()) > 0 {
		may := "where the reference hole may go"
		if d.asked.Bracket == "" {
			may = "where it may stand"
		}
		lines = append(lines, "Shaded: "+may+".")
	}
	if d.asked != nil && len(d.Others) > 0 {
		lines = append(lines, "Numbered: other spots that hold.")
	}
	return lines
}

// zoneSays is the zone and the further spots in words.
func (d *elevation) zoneSays() string {
	var b strings.Builder
	var all []place.Spot
	for _, ring := range d.rings() {
		all = append(all, ring...)
	}
	if len(all) > 0 {
		low, high := place.Extent(all)
		may := "The reference hole of " + d.asked.Channel + " may go into"
		if d.asked.Bracket == "" {
			may = d.asked.Channel + " may stand in"
		}
		fmt.Fprintf(&b, "%s the shaded zone, which lies from %s to %s along and from %s to %s %s. ", may,
			tape.Format(low.Along, d.system), tape.Format(high.Along, d.system), tape.Format(low.Up, d.system), tape.Format(high.Up, d.system), d.Plan.UpWord(d.Surface))
	}
	if d.asked != nil {
		for i, s := range d.Others {
			if finite(s) {
				fmt.Fprintf(&b, "Other spot %d: %s. ", i+1, d.says(Spot{Along: s.Along, Up: s.Up}))
			}
		}
	}
	return b.String()
}

package drawing

import (
	"fmt"
	"math"
	"strings"

	"hangtrue/checklist/plan"
	"hangtrue/compute/rack"
	. "hangtrue/pwa/markup"
)

// A RackView is the rack from the front, its units counted from the bottom: what
// stands where, how heavy it is and how much heat it gives off, and which units are
// free. Width is the sheet's, as in [Wall].
type RackView struct {
	Plan  *plan.Plan
	Width float64
}

type racked struct {
	picture
	units     int
	slot, top float64 // height of a unit, and where the highest begins
	inside    box
	says      strings.Builder
}

// SVG draws the rack. It is false when the plan has none yet, or one of more units
// than package rack knows.
func (v RackView) SVG() (Node, bool) {
	if v.Plan == nil || v.Plan.Rack.Units < 1 || v.Plan.Rack.Units > rack.MaxUnits {
		return nil, false
	}
	d := &racked{units: v.Plan.Rack.Units, top: 10}
	d.picture = picture{width: sheetWidth(v.Width), system: v.Plan.Units.System()}
	d.slot = math.Min(22, math.Max(15, 480/float64(d.units)))
	d.inside = box{34, d.top, d.width - 10, d.top + d.slot*float64(d.units)}
	fmt.Fprintf(&d.says, "%d units, counted from the bottom. ", d.units)
	d.frame()
	var placed, elsewhere []rack.Item
	for _, it := range v.Plan.RackItems() {
		switch {
		case it.Name == "" && it.Units == 0:
		case it.Units < 1 || it.Position < 1 || it.Position+it.Units-1 > d.units:
			elsewhere = append(elsewhere, it)
		default:
			placed = append(placed, it)
		}
	}
	d.stack(placed)
	lines, height := d.lines(d.notes(v.Plan, elsewhere), d.inside.y1+4)
	return d.drawn("rack-view", "Rack, seen from the front", strings.TrimSpace(d.says.String()), height, lines), true
}

// unit is the place of some units, the lowest and how many.
func (d *racked) unit(lowest, count int) box {
	y := d.inside.y1 - d.slot*float64(lowest-1)
	return box{d.inside.x0, y - d.slot*float64(count), d.inside.x1, y}
}

func (d *racked) frame() {
	for u := 1; u <= d.units; u++ {
		at := d.unit(u, 1)
		d.add(note(at.x0-6, at.middle().y+4, "end", fmt.Sprint(u)))
		if u > 1 {
			d.add(line("shelf", point{at.x0, at.y1}, point{at.x1, at.y1}))
		}
	}
	d.add(rect("rack", d.inside))
}

// stack draws what stands in the rack from the bottom up. Two that want the same units
// stand side by side.
func (d *racked) stack(items []rack.Item) {
	taken := make([]bool, d.units+1)
	lane := make([]int, len(items))
	lanes := 1
	for i, it := range items {
		for free := false; !free; {
			free = true
			for j, other := range items[:i] {
				if lane[j] == lane[i] && it.Position < other.Position+other.Units && other.Position < it.Position+it.Units {
					lane[i]++
					free = false
				}
			}
		}
		lanes = max(lanes, lane[i]+1)
		for u := it.Position; u < it.Position+it.Units; u++ {
			taken[u] = true
		}
	}
	for u := 1; u <= d.units; u++ {
		for i, it := range items {
			if it.Position == u {
				wide := d.inside.width() / float64(lanes)
				at := d.unit(it.Position, it.Units)
				at.x0 += wide * float64(lane[i])
				if lanes > 1 {
					at.x1 = at.x0 + wide
				}
				d.item(it, box{at.x0 + 2, at.y0 + 1, at.x1 - 2, at.y1 - 1})
			}
		}
		if from := u; !taken[u] && (u == 1 || taken[u-1]) {
			for u < d.units && !taken[u+1] {
				u++
			}
			at := d.unit((from+u+1)/2, 1)
			d.add(note(at.x0+8, at.middle().y+4, "start", freeSays(from, u)))
			d.says.WriteString(Capital(freeSays(from, u)) + ". ")
		}
	}
}

func freeSays(from, to int) string {
	if from == to {
		return fmt.Sprintf("unit %d is free", from)
	}
	return fmt.Sprintf("units %d to %d are free", from, to)
}

// item is one unit's name and figures, in one line or two as it is high.
func (d *racked) item(it rack.Item, at box) {
	d.add(rect("device", at))
	facts := itemSays(it)
	bold := func(x, y, most float64) {
		d.add(El("text", class("device-name"), Attr("x", num(x)), Attr("y", num(y)), Attr("font-size", num(small)), Attr("font-weight", "700"),
			Text(cropped(it.Name, small*1.1, most))))
	}
	where := fmt.Sprintf("unit %d", it.Position)
	if it.Units > 1 {
		where = fmt.Sprintf("units %d to %d", it.Position, it.Position+it.Units-1)
	}
	if it.Units > 1 && at.height() >= 2.4*small {
		bold(at.x0+8, at.middle().y-2, at.width()-16)
		d.add(note(at.x0+8, at.middle().y+small+1, "start", cropped(where+", "+facts, small, at.width()-16)))
	} else {
		w := math.Min(textWidth(facts, small, false), 0.6*at.width())
		d.add(note(at.x1-8, at.middle().y+4, "end", cropped(facts, small, w)))
		bold(at.x0+8, at.middle().y+4, at.width()-28-w)
	}
	fmt.Fprintf(&d.says, "%s: %s, %s. ", it.Name, where, facts)
}

// itemSays are an item's mass and heat.
func itemSays(it rack.Item) string {
	text := "mass not given"
	if it.Mass > 0 {
		text = fmt.Sprintf("%g kg", it.Mass)
	}
	draw, err := rack.DrawOf(it)
	switch {
	case err != nil:
		return text + ", heat not known"
	case draw.Heat == 0:
		return text
	}
	return text + fmt.Sprintf(", %.0f W of heat", draw.Heat)
}

// notes sum up, and say what is wrong and what stands elsewhere.
func (d *racked) notes(p *plan.Plan, elsewhere []rack.Item) []string {
	var out []string
	add := func(text string) {
		out = append(out, d.wrapped(text, 3)...)
		d.says.WriteString(text + " ")
	}
	items := p.RackItems()
	fill, err := rack.Stack(d.units, p.Rack.RatedLoad, items)
	if err == nil {
		sum := fmt.Sprintf("%d of %d units taken, %g kg", fill.Used, d.units, math.Round(fill.Mass*1000)/1000)
		if p.Rack.RatedLoad > 0 {
			sum += fmt.Sprintf(" of %g kg that it may carry", p.Rack.RatedLoad)
		}
		if total, err := rack.Total(items); err == nil {
			sum += fmt.Sprintf(", %.0f W of heat", total.Heat)
		}
		add(sum + ".")
		if fill.Overloaded {
			add("✕ It carries more than it may.")
		}
		for _, o := range fill.Overlaps {
			add(fmt.Sprintf("✕ %s and %s want the same units.", o.A, o.B))
		}
	}
	for _, it := range elsewhere {
		switch {
		case it.Units < 1:
			add(it.Name + " stands outside the rack.")
		case it.Position < 1:
			add("✕ " + it.Name + " has no place yet: " + unitsSay(it.Units) + ", " + itemSays(it) + ".")
		default:
			add(fmt.Sprintf("✕ %s reaches beyond the rack: %s from %d on.", it.Name, unitsSay(it.Units), it.Position))
		}
	}
	return out
}

func unitsSay(n int) string {
	if n == 1 {
		return "1 unit"
	}
	return fmt.Sprintf("%d units", n)
}

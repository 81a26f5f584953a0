package drawing

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"hangtrue/checklist/plan"
	"hangtrue/compute/place"
	. "hangtrue/pwa/markup"
)

// A SideView is a section through a listening position seen from the right, the rear
// at the left and the front at the right: heights above the finished floor, and the
// elevation of every mount from there with what the layout permits at its place. Seat,
// Channel, Width and Handles are as in [PlanView], but that handles move in y and z.
type SideView struct {
	Plan          *plan.Plan
	Seat, Channel string
	Width         float64
	Handles       bool
}

type fromRight struct {
	SideView
	projected
	plane float64 // x of the section
}

// SVG draws the side view. It is false when the plan has no room yet.
func (v SideView) SVG() (Node, bool) {
	r, ok := look(v.Plan, v.Seat)
	if !ok {
		return nil, false
	}
	d := &fromRight{SideView: v, plane: (r.low.X + r.high.X) / 2}
	if r.seat != nil {
		d.plane = r.listener.Ear.X
	}
	d.projected = projected{room: r, flat: func(p place.Vec) place.Spot { return place.Spot{Along: p.Y, Up: p.Z} }}
	d.picture = picture{width: sheetWidth(v.Width), system: v.Plan.Units.System()}
	d.held, d.asked = held{v.Handles, d.picture.width}, v.Channel
	d.lay()
	d.beyond()
	d.permitted()
	d.rays()
	d.section()
	d.seats(func(ahead place.Vec) point { return point{ahead.Y, 0} })
	d.mounts()
	d.heights()
	d.spans()
	d.names()
	lines, height := d.lines(d.notes(), d.labels.bounds.y1)
	return d.drawn("side-view", d.title(), d.description(), height, d.axes(d.projection, "y", "z"), lines), true
}

func (d *fromRight) lay() {
	d.fit(margins{
		left:  nameAt + offAxis + 20 + textWidth(d.says(-d.room.high.Z), normal, true),
		right: 24,
		over:  24 + 17*float64(min(4, (len(d.stands)+4)/5)), // room for labels above the ceiling
		under: 72,
	}, 360)
}

// beyond is what one sees behind the section.
func (d *fromRight) beyond() {
	for i := range d.surfaces {
		s := &d.surfaces[i]
		if math.Abs(s.Normal().X) < 0.1 {
			continue // seen from its edge
		}
		if x := s.At(s.Outline[0]).X; x > d.plane {
			continue
		}
		d.add(polygon("behind", d.corners(s, s.Outline)...))
		for _, a := range s.Openings {
			d.add(d.opening("opening", s, a))
		}
	}
}

// section is the room cut through, with the openings that lie in the cut.
func (d *fromRight) section() {
	var bands []band
	for i := range d.surfaces {
		s := &d.surfaces[i]
		for _, part := range cut(s, place.Vec{X: 1}, d.plane) {
			bands = append(bands, band{d.on(part[0]), d.on(part[1]), d.outward(s)})
		}
	}
	d.walled(bands)
	for i := range d.surfaces {
		s := &d.surfaces[i]
		for _, o := range s.Openings {
			hole := *s
			hole.Outline = rectangle(o)
			for _, part := range cut(&hole, place.Vec{X: 1}, d.plane) {
				d.gap(part[0], part[1], d.outward(s), o.Name)
			}
		}
	}
}

// heightRange is between which heights the layout permits a mount where it stands.
func (d *fromRight) heightRange(s *stand) (from, to float64, ok bool) {
	sectors := d.sectors(s.where)
	if len(sectors) == 0 {
		return 0, 0, false
	}
	off := math.Hypot(s.at.X-d.listener.Ear.X, s.at.Y-d.listener.Ear.Y)
	if sectors[0].ElevationMax > math.Pi/2-0.01 || sectors[0].ElevationMin < 0.01-math.Pi/2 {
		return 0, 0, false // straight up or down: no height is meant
	}
	rise := func(elevation float64) float64 {
		z := d.listener.Ear.Z + off*math.Tan(elevation)
		return math.Min(math.Max(z, d.room.low.Z), d.room.high.Z)
	}
	return rise(sectors[0].ElevationMin), rise(sectors[0].ElevationMax), true
}

// permitted shows the elevations that the layout permits, where each mount stands: the
// sector from the ear point, and the heights between its sides.
func (d *fromRight) permitted() {
	seen := map[[3]string]bool{} // the two of a pair are drawn once
	for _, s := range d.stands {
		from, to, ok := d.heightRange(s)
		if !ok {
			continue
		}
		foot, head := d.on(place.Vec{Y: s.at.Y, Z: from}), d.on(place.Vec{Y: s.at.Y, Z: to})
		key := [3]string{num(foot.x), num(foot.y), num(head.y)}
		if seen[key] && s.Channel != d.Channel {
			continue
		}
		seen[key] = true
		kind := "sector"
		if s.Channel == d.Channel {
			kind = "sector asked"
		}
		d.add(polygon(kind+" faint", d.on(d.listener.Ear), foot, head))
		d.add(line("permitted", foot, head), line("permitted", foot.plus(-4, 0), foot.plus(4, 0)), line("permitted", head.plus(-4, 0), head.plus(4, 0)))
	}
}

// heights are running dimensions from the finished floor: of ear points, mounts, and
// where ceiling and slopes begin and end.
func (d *fromRight) heights() {
	var ticks []*tick
	add := func(v place.Vec, text string, main bool) {
		i := slices.IndexFunc(ticks, func(t *tick) bool { return t.label.lines[0] == text })
		if i < 0 {
			l := &label{lines: []string{text}, size: small, class: "reading"}
			i, ticks = len(ticks), append(ticks, &tick{from: d.on(v), label: l, word: " up"})
		}
		if main {
			ticks[i].label.bold, ticks[i].label.size = true, normal
		}
		if p := d.on(v); p.x < ticks[i].from.x {
			ticks[i].from = p
		}
	}
	for i := range d.surfaces {
		s := &d.surfaces[i]
		if s.Normal().Z > -0.1 {
			continue
		}
		for _, spot := range s.Outline {
			v := s.At(spot)
			add(v, d.says(v.Z), false)
		}
	}
	for i := range d.room.plan.Listening {
		if l := &d.room.plan.Listening[i]; d.shown(l) {
			add(ear(l), d.says(l.Ear[2]), l == d.seat)
		}
	}
	for _, s := range d.stands {
		add(s.at, d.says(s.at.Z), false)
	}
	x := d.frame.x0 - offAxis
	d.add(line("axis", point{x, d.frame.y0}, point{x, d.frame.y1}), line("axis", point{x - 4, d.frame.y1}, point{x + 4, d.frame.y1}))
	d.labels.block(box{x - 2, d.frame.y0, x + 2, d.frame.y1})
	d.scaleUp(ticks, x, 10, d.frame.y1+8)
}

// spans are how far the chosen ear point is from the rear, and the length of the room.
func (d *fromRight) spans() {
	corner, end := point{d.frame.x0, d.frame.y1}, point{d.frame.x1, d.frame.y1}
	var along []span
	if d.seat != nil {
		along = append(along, span{corner, point{d.on(d.listener.Ear).x, d.frame.y1}, d.says(d.listener.Ear.Y - d.room.low.Y)})
	}
	d.spansAlong(append(along, span{corner, end, d.says(d.room.high.Y - d.room.low.Y)}), d.frame.y1+wallThick+21)
}

// names write the channels with their elevations. Mounts that fall together on the
// sheet, as pairs do, share a label.
func (d *fromRight) names() {
	f := d.frame.grown(wallThick)
	for _, name := range []string{"rear wall", "front wall"} {
		if slices.ContainsFunc(d.surfaces, func(s place.Surface) bool { return SurfaceName(s.Name) == name }) {
			l := &label{lines: []string{name}, size: small, class: "neighbour"}
			w, h := l.size2()
			x := f.x0
			if name == "front wall" {
				x = f.x1 - w
			}
			d.labels.put([]seat{l.seat(x, f.y0-2-h, "middle"), l.seat(x, f.y0-6-2*h, "middle"), l.seat(x, f.y1+2, "middle"), l.seat(x, f.y1+46, "middle")})
		}
	}
	for _, group := range d.groups() {
		at := d.on(group[0].at)
		l := &label{lines: d.groupSays(group), size: small, class: "channel", of: &at}
		half := 6.0
		if slices.ContainsFunc(group, func(s *stand) bool { return s.Channel == d.Channel }) {
			l.bold, half = true, 8
		}
		b := around(at, half)
		d.put(l, append(l.naming(b), pointing(l.beside(b, 46), b), pointing(d.rows(l, at), b))...)
	}
	if d.seat != nil {
		l := &label{lines: wrap(d.seat.Name, small, 100, 2), size: small, bold: true, class: "ear-name"}
		d.labels.put(l.naming(around(d.on(d.listener.Ear), 7))...) // the title names it as well
	}
}

// rows are seats in the rows above the ceiling and below the floor, from the mark outward.
func (d *fromRight) rows(l *label, at point) []seat {
	w, h := l.size2()
	ys := []float64{d.frame.y1 + wallThick + 2, d.frame.y1 + 46}
	for y := d.frame.y0 - wallThick - 2 - h; y > 2; y -= h + apart + 1 {
		ys = append(ys, y)
	}
	var out []seat
	for off := 0.0; off < d.picture.width; off += 10 {
		for _, y := range ys {
			out = append(out, l.seat(at.x-w/2-off, y, "middle"), l.seat(at.x-w/2+off, y, "middle"))
		}
	}
	return out
}

// groups are the mounts by where they fall on the sheet, that in question first.
func (d *fromRight) groups() [][]*stand {
	const together = 7.0
	var groups [][]*stand
	for _, asked := range []bool{true, false} {
		for _, s := range d.stands {
			if (s.Channel == d.asked) != asked {
				continue
			}
			p := d.on(s.at)
			i := slices.IndexFunc(groups, func(g []*stand) bool {
				q := d.on(g[0].at)
				return math.Hypot(p.x-q.x, p.y-q.y) < together
			})
			if i < 0 {
				i, groups = len(groups), append(groups, nil)
			}
			groups[i] = append(groups[i], s)
		}
	}
	return groups
}

// groupSays has a line for every channel, or for both of a pair whose elevations are
// written alike.
func (d *fromRight) groupSays(group []*stand) []string {
	var out []string
	done := map[string]bool{}
	for _, s := range group {
		if done[s.Channel] {
			continue
		}
		name, elevation := s.Channel, ""
		if s.sight != nil {
			elevation = " " + degrees(s.sight.Elevation)
		}
		for _, other := range group {
			if s.where != nil && other.Channel == s.where.Pair && other.sight != nil && elevation == " "+degrees(other.sight.Elevation) && !done[other.Channel] {
				name = strings.NewReplacer("+", "±", "-", "±").Replace(s.Channel)
				done[other.Channel] = true
			}
		}
		done[s.Channel] = true
		out = append(out, name+elevation)
	}
	return out
}

func (d *fromRight) notes() []string {
	var out []string
	add := func(text string) {
		if text != "" {
			out = append(out, d.wrapped(text, 4)...)
		}
	}
	add(d.formNotes())
	if d.seat != nil && len(d.stands) > 0 {
		add("Angles: true elevations from the ear point of " + d.seat.Name + ", + up. A mount to the side seems nearer here than it is, and its ray steeper.")
	}
	if d.seat != nil && slices.ContainsFunc(d.stands, func(s *stand) bool { _, _, ok := d.heightRange(s); return ok }) {
		add("Shaded: elevations that the layout permits where each mount stands.")
	}
	for _, text := range d.lost {
		add(Capital(text) + ".")
	}
	return append(out, d.alsoHere()...)
}

func (d *fromRight) title() string {
	title := "Side view: a section seen from the right, the front at the right"
	if d.seat != nil {
		title += ", through " + d.seat.Name
	}
	return title
}

// description says in words what the drawing shows.
func (d *fromRight) description() string {
	var b strings.Builder
	b.WriteString(d.sizeSays())
	for _, s := range d.slopes() {
		bottom, top := math.Inf(1), math.Inf(-1)
		for _, spot := range s.Outline {
			z := s.At(spot).Z
			bottom, top = math.Min(bottom, z), math.Max(top, z)
		}
		fmt.Fprintf(&b, "%s, from %s to %s above the floor. ", Capital(slopeSays(s)), d.says(bottom), d.says(top))
	}
	for i := range d.room.plan.Listening {
		if l := &d.room.plan.Listening[i]; d.shown(l) {
			b.WriteString(d.seatSays(l))
		}
	}
	b.WriteString(d.mountsSay())
	return strings.TrimSpace(b.String())
}

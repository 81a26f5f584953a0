package drawing

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"hangtrue/checklist/plan"
	"hangtrue/compute/layout"
	"hangtrue/compute/place"
	. "hangtrue/pwa/markup"
)

// A PlanView is the room seen from above, the front at the top, as far as the plan
// goes: walls with their openings, what slopes overhead, listening positions, mounts
// at their acoustic centres, and from one listening position the azimuth and the
// distance of every mount with what the layout permits. Seat names that listening
// position; the primary one stands in for one that the plan does not have. Channel is
// the mount in question, whose permitted azimuths are shown as far as the walls. Width
// is the sheet's, as in [Wall]; Handles is as package drawing says, in x and y of the
// room, for mounts and, by their names, listening positions.
type PlanView struct {
	Plan          *plan.Plan
	Seat, Channel string
	Width         float64
	Handles       bool
}

// planCut is how high above the floor a plan is cut: what lies wholly above it is drawn
// in broken lines. About a metre is common practice.
const planCut = 1.0

// wallThick is how thick a wall is drawn, outside of its surface.
const wallThick = 5.0

// Rings around the ear point show the permitted azimuths: of the loudspeakers below,
// at and above ear height, from the inside out, on a sheet of a phone's width.
var rings = map[form][2]float64{low: {22, 33}, bass: {22, 33}, level: {36, 47}, high: {50, 61}}

type fromAbove struct {
	PlanView
	projected
}

// SVG draws the plan view. It is false when the plan has no room yet.
func (v PlanView) SVG() (Node, bool) {
	r, ok := look(v.Plan, v.Seat)
	if !ok {
		return nil, false
	}
	d := &fromAbove{PlanView: v}
	d.projected = projected{room: r, flat: func(p place.Vec) place.Spot { return place.Spot{Along: p.X, Up: p.Y} }}
	d.picture = picture{width: sheetWidth(v.Width), system: v.Plan.Units.System()}
	d.held, d.asked = held{v.Handles, d.picture.width}, v.Channel
	d.lay()
	d.floors()
	d.overhead()
	d.sectors()
	d.rays()
	d.walls()
	d.ghosts()
	d.seats(func(ahead place.Vec) point { return point{ahead.X, -ahead.Y} })
	d.mounts()
	d.dimensions()
	full := d.label()
	lines, height := d.lines(d.notes(full), d.labels.bounds.y1)
	if !full {
		lines, height = d.rows(lines, height)
	}
	return d.drawn("plan-view", d.title(), d.description(), height, d.axes(d.projection, "x", "y"), lines), true
}

// lay fits the room on the sheet.
func (d *fromAbove) lay() {
	d.fit(margins{left: 62, right: 24, over: 40, under: 102}, 440)
}

func tilted(s *place.Surface) bool { return math.Abs(s.Normal().Z) > 0.1 }

// floors are what one stands on.
func (d *fromAbove) floors() {
	for i := range d.surfaces {
		s := &d.surfaces[i]
		if s.Normal().Z <= 0.1 {
			continue
		}
		d.add(polygon("face", d.corners(s, s.Outline)...))
		if s.Origin.Z > d.room.low.Z+0.01 || s.Normal().Z < 0.999 {
			d.add(polygon("low", d.corners(s, s.Outline)...))
		}
		for _, a := range s.Openings {
			d.add(d.opening("opening", s, a))
		}
	}
}

// overhead hatches what slopes above, and shows where a ceiling is lower than another.
func (d *fromAbove) overhead() {
	for i := range d.surfaces {
		s := &d.surfaces[i]
		switch z := s.Normal().Z; {
		case z >= -0.1:
			continue
		case z > -0.999:
			d.add(hatch("hatch overhead", d.corners(s, s.Outline)), polygon("overhead", d.corners(s, s.Outline)...))
		case s.Origin.Z < d.room.high.Z-0.01:
			d.add(polygon("overhead", d.corners(s, s.Outline)...))
		}
		for _, a := range s.Openings {
			d.add(d.opening("overhead", s, a))
		}
	}
}

// walls are cut at about a metre; what is lower or higher than that is thinner.
func (d *fromAbove) walls() {
	var bands []band
	for i := range d.surfaces {
		s := &d.surfaces[i]
		parts := cut(s, place.Vec{Z: 1}, d.room.low.Z+planCut)
		for _, part := range parts {
			bands = append(bands, band{d.on(part[0]), d.on(part[1]), d.outward(s)})
		}
		if len(parts) == 0 && !tilted(s) {
			a, b := d.footprint(s)
			kind := "low"
			if lowest(s) > d.room.low.Z+planCut {
				kind = "overhead"
			}
			d.add(line(kind, a, b))
		}
	}
	d.walled(bands)
	d.openings()
}

// openings are gaps in the walls.
func (d *fromAbove) openings() {
	for i := range d.surfaces {
		s := &d.surfaces[i]
		if tilted(s) {
			continue
		}
		for _, a := range s.Openings {
			d.gap(s.At(a.Min), s.At(place.Spot{Along: a.Max.Along, Up: a.Min.Up}), d.outward(s), a.Name)
		}
	}
}

// footprint is a plumb surface seen from above.
func (d *fromAbove) footprint(s *place.Surface) (a, b point) {
	way := place.Vec{Z: 1}.Cross(s.Normal())
	from, to := s.At(s.Outline[0]), s.At(s.Outline[0])
	for _, spot := range s.Outline {
		v := s.At(spot)
		if v.Dot(way) < from.Dot(way) {
			from = v
		}
		if v.Dot(way) > to.Dot(way) {
			to = v
		}
	}
	return d.on(from), d.on(to)
}

func lowest(s *place.Surface) float64 {
	z := math.Inf(1)
	for _, spot := range s.Outline {
		z = math.Min(z, s.At(spot).Z)
	}
	return z
}

// toward is a place on the sheet some way from the ear point in a direction.
func (d *fromAbove) toward(azimuth, far float64) point {
	ray := d.listener.Ray(place.Direction{Azimuth: azimuth})
	return d.on(d.listener.Ear).plus(far*ray.X, -far*ray.Y)
}

// sectors are the permitted azimuths of every channel of the layout.
func (d *fromAbove) sectors() {
	if d.seat == nil || d.layout == nil {
		return
	}
	for i := range d.layout.Loudspeakers {
		s := &d.layout.Loudspeakers[i]
		ring, grown := rings[formOf(s.Elevation, s.LFE)], d.picture.width/phoneWidth
		ring[0], ring[1] = ring[0]*grown, ring[1]*grown
		for _, sector := range d.room.sectors(s) {
			from, to := sector.AzimuthMin, sector.AzimuthMax
			if to < from {
				to += 2 * math.Pi
			}
			if to-from > 1.999*math.Pi {
				continue // any azimuth
			}
			kind := "sector"
			if s.Label == d.Channel {
				kind = "sector asked"
				d.wedge(from, to)
			}
			d.add(polygon(kind, d.arc(from, to, ring)...))
		}
	}
}

// arc is a stretch of a ring, cut off where the sheet ends.
func (d *fromAbove) arc(from, to float64, ring [2]float64) []point {
	const step = math.Pi / 36
	n := max(1, int(math.Ceil((to-from)/step)))
	out := make([]point, 0, 2*n+2)
	for i := range n + 1 {
		out = append(out, d.toward(from+(to-from)*float64(i)/float64(n), ring[1]))
	}
	for i := range n + 1 {
		out = append(out, d.toward(to-(to-from)*float64(i)/float64(n), ring[0]))
	}
	return d.labels.bounds.cut(out)
}

// wedge shows the permitted azimuths of the mount in question as far as the walls.
func (d *fromAbove) wedge(from, to float64) {
	far := d.frame.width() + d.frame.height()
	n := max(1, int(math.Ceil((to-from)/(math.Pi/8))))
	corners := []point{d.on(d.listener.Ear)}
	for i := range n + 1 {
		corners = append(corners, d.toward(from+(to-from)*float64(i)/float64(n), 2*far))
	}
	d.add(El("path", class("zone"), Attr("d", ringPath(d.frame.cut(corners)))))
	for _, azimuth := range []float64{from, to} {
		if p, q, ok := d.frame.clip(d.on(d.listener.Ear), d.toward(azimuth, far)); ok {
			d.add(line("zone-edge", p, q))
		}
	}
}

// ghosts show where the layout's own directions meet the room, for channels that have
// no mount yet.
func (d *fromAbove) ghosts() {
	for _, s := range d.unplaced {
		if at, ok := d.nominal(s); ok && d.holds(at) {
			p, ear := d.on(at), d.on(d.listener.Ear)
			d.add(line("ghost", ear, p), formOf(s.Elevation, s.LFE).mark("mount ghost", p, 4))
			d.labels.avoid(ear, p)
			d.labels.block(around(p, 4))
		}
	}
}

// dimensions are the room's size, where the chosen ear point is, a scale and the datum.
func (d *fromAbove) dimensions() {
	f := d.frame
	corner, right, top := point{f.x0, f.y1}, point{f.x1, f.y1}, point{f.x0, f.y0}
	size := d.room.high.Sub(d.room.low)
	var along, up []span
	if d.seat != nil {
		at := d.on(d.listener.Ear)
		along = append(along, span{corner, point{at.x, f.y1}, d.says(d.listener.Ear.X - d.room.low.X)})
		up = append(up, span{corner, point{f.x0, at.y}, d.says(d.listener.Ear.Y - d.room.low.Y)})
	}
	d.spansAlong(append(along, span{corner, right, d.says(size.X)}), f.y1+wallThick+21)
	d.spansUp(append(up, span{corner, top, d.says(size.Y)}), f.x0-wallThick-19)
	d.datumCorner("datum: rear left corner", d.labels.bounds.y1-36)
	length, text := scaleLength(f.width()*0.45/d.scale, d.room.plan.Units)
	if length*d.scale > f.width() {
		return
	}
	end := point{math.Max(f.x1, 200), d.labels.bounds.y1 - 10}
	d.add(bar(end, length*d.scale, text))
	d.labels.block(box{end.x - length*d.scale - 6 - textWidth(text, small, false), end.y - 9, end.x, end.y + 7})
}

// scaleLength is a round length up to so many metres, or the shortest there is.
func scaleLength(most float64, units plan.Units) (length float64, text string) {
	if units == plan.Imperial {
		switch {
		case most > 0.9144:
			return 0.9144, "3 ft"
		case most > 0.3048:
			return 0.3048, "1 ft"
		}
		return 0.0762, "3 in"
	}
	switch {
	case most > 1:
		return 1, "1 m"
	case most > 0.5:
		return 0.5, "500 mm"
	}
	return 0.1, "100 mm"
}

// label names everything. It is false where the mounts' azimuths and distances do not
// stand well beside all of them: then they stand under the picture.
func (d *fromAbove) label() (full bool) {
	d.nameWalls()
	before := d.labels
	before.taken, before.seated, before.lines, before.texts = slices.Clone(before.taken), slices.Clone(before.seated), slices.Clone(before.lines), slices.Clone(before.texts)
	if d.seat != nil && d.nameMounts(true) && 4*d.labels.faults <= len(d.stands) {
		full = true
	} else {
		d.labels = before
		d.nameMounts(false)
	}
	for i := range d.room.plan.Listening {
		if l := &d.room.plan.Listening[i]; d.shown(l) {
			at := d.on(ear(l))
			name := &label{lines: wrap(l.Name, small, 100, 2), size: small, class: "ear-name", bold: l == d.seat, of: &at}
			d.put(name, name.naming(around(at, 7))...)
		}
	}
	for _, s := range d.unplaced {
		if at, ok := d.nominal(s); ok && d.holds(at) {
			l := &label{lines: []string{s.Label}, size: small, class: "ghost-name"}
			b := around(d.on(at), 4)
			d.put(l, append(l.naming(b), pointing(l.beside(b, 46), b))...)
		}
	}
	for _, s := range d.slopes() {
		l := &label{lines: wrap(s.Name, small, 120, 2), size: small, class: "area"}
		d.labels.put(l.inside(bounds(d.corners(s, s.Outline)))) // it stands under the picture as well
	}
	return full
}

// slopes are what slopes overhead.
func (r *room) slopes() []*place.Surface {
	var out []*place.Surface
	for i := range r.surfaces {
		if z := r.surfaces[i].Normal().Z; z < -0.1 && z > -0.999 {
			out = append(out, &r.surfaces[i])
		}
	}
	return out
}

func slopeSays(s *place.Surface) string {
	return fmt.Sprintf("%s, %.0f° steep", s.Name, math.Acos(math.Abs(s.Normal().Z))*180/math.Pi)
}

func (d *fromAbove) nameWalls() {
	f := d.frame.grown(wallThick)
	for _, w := range []struct {
		name   string
		turned bool
		seats  func(w, h float64) []point
	}{
		{"front", false, func(w, h float64) []point {
			y := f.y0 - 2 - h/2
			return []point{{f.middle().x, y}, {f.middle().x, y - h - apart}}
		}},
		{"rear", false, func(w, h float64) []point {
			y := f.y1 + 2 + h/2
			return []point{{f.x1 - w/2, y}, {f.middle().x, y}, {f.x1 - w/2, y + 40}}
		}},
		{"left", true, func(w, h float64) []point {
			x := f.x0 - 2 - w/2
			return []point{{x, f.y0 + h/2}, {x, f.middle().y}, {x, f.y1 - h}}
		}},
		{"right", true, func(w, h float64) []point {
			x := f.x1 + 2 + w/2
			return []point{{x, f.middle().y}, {x, f.y0 + h/2}, {x, f.y1 - h/2}}
		}},
	} {
		if !slices.ContainsFunc(d.surfaces, func(s place.Surface) bool { return s.Name == w.name }) {
			continue
		}
		l := &label{lines: []string{SurfaceName(w.name)}, size: small, class: "neighbour", turned: w.turned}
		var list []seat
		for _, p := range w.seats(l.size2()) {
			list = append(list, l.at(p)...)
		}
		d.labels.put(list)
	}
}

// nameMounts puts the channels beside their marks, the one in question first; with
// all, azimuth and distance below each. With all it stops at the first that finds no room.
func (d *fromAbove) nameMounts(all bool) bool {
	for _, asked := range []bool{true, false} {
		for _, s := range d.stands {
			if (s.Channel == d.Channel) != asked {
				continue
			}
			at := d.on(s.at)
			l, half := &label{lines: []string{s.Channel}, size: small, class: "channel", bold: asked, of: &at}, 6.0
			if asked {
				half = 8
			}
			if all {
				l.lines = append(l.lines, bearing(s.sight), d.says(s.sight.Distance))
			}
			b := around(at, half)
			seats := l.naming(b)
			if !all {
				d.put(l, append(seats, pointing(l.beside(b, 46), b))...)
			} else if !d.labels.put(seats...) {
				return false
			}
		}
	}
	return true
}

func (d *fromAbove) notes(full bool) []string {
	var out []string
	add := func(text string) {
		if text != "" {
			out = append(out, d.wrapped(text, 4)...)
		}
	}
	add(d.formNotes())
	if d.seat != nil && len(d.stands) > 0 {
		add("Azimuth from straight ahead of " + d.seat.Name + ", + to the left; straight distance from its ear point.")
	}
	if d.seat != nil && d.layout != nil {
		add("Rings: azimuths that the layout permits, from outside in: above, at ear height, below.")
	}
	if slices.ContainsFunc(d.unplaced, func(s *layout.Loudspeaker) bool { _, ok := d.nominal(s); return ok }) {
		add("Dotted: where the layout's own directions meet the room; nothing is planned there yet.")
	}
	for _, s := range d.slopes() {
		add("Hatched overhead: " + slopeSays(s) + ".")
	}
	for _, text := range d.lost {
		add(Capital(text) + ".")
	}
	return append(out, d.alsoHere()...)
}

// rows give azimuth and distance of every mount in columns.
func (d *fromAbove) rows(lines Node, y float64) (Node, float64) {
	if d.seat == nil || len(d.stands) == 0 {
		return lines, y
	}
	const bearings, distances = 104, 108 // from a column's left edge: where the former end and the latter begin
	widest := 0.0
	for _, s := range d.stands {
		widest = max(widest, distances+textWidth(d.says(s.sight.Distance), small, false))
	}
	columns := max(1, int((d.picture.width-8)/widest))
	tall := (len(d.stands) + columns - 1) / columns
	wide := (d.picture.width - 8) / float64(columns)
	nodes := []Node{lines}
	for i, s := range d.stands {
		x, at := 8+wide*float64(i/tall), y+small*1.35*float64(i%tall+1)
		nodes = append(nodes, note(x, at, "start", cropped(s.Channel, small, 50)), note(x+bearings, at, "end", bearing(s.sight)), note(x+distances, at, "start", d.says(s.sight.Distance)))
	}
	return Group(nodes...), y + small*1.35*float64(tall) + 8
}

func (d *fromAbove) title() string {
	title := "Plan view: the room from above, the front at the top"
	if d.seat != nil {
		title += ", as heard from " + d.seat.Name
	}
	return title
}

// description says in words what the drawing shows.
func (d *fromAbove) description() string {
	var b strings.Builder
	b.WriteString(d.sizeSays() + "The datum is the rear left corner on the floor. ")
	for i := range d.surfaces {
		s := &d.surfaces[i]
		for _, a := range s.Openings {
			fmt.Fprintf(&b, "%s in the %s, %s to %s along. ", Capital(a.Name), SurfaceName(s.Name), d.says(a.Min.Along), d.says(a.Max.Along))
		}
	}
	for _, s := range d.slopes() {
		b.WriteString("Overhead: " + slopeSays(s) + ". ")
	}
	for i := range d.room.plan.Listening {
		if l := &d.room.plan.Listening[i]; d.shown(l) {
			b.WriteString(d.seatSays(l))
		}
	}
	b.WriteString(d.mountsSay())
	return strings.TrimSpace(b.String())
}

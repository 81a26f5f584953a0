package drawing

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"hangtrue/checklist/plan"
	"hangtrue/compute/layout"
	"hangtrue/compute/place"
	"hangtrue/compute/tape"
	. "hangtrue/pwa/markup"
)

// A form is the shape of a mount's mark: how high its channel is meant to be.
type form string

const (
	level form = "at ear height"
	high  form = "above"
	low   form = "below"
	bass  form = "low-frequency"
)

// steep is the nominal elevation from which a channel counts as above or below ear
// height: halfway to the 30° of the published layers.
const steep = math.Pi / 12

// A stand is a mount as the room's drawings show it.
type stand struct {
	*plan.Mount
	at    place.Vec // the acoustic centre, or the reference hole where that cannot be told
	hole  place.Vec
	form  form
	where *layout.Loudspeaker // nil if the layout has no such channel
	sight *place.Sight        // from the chosen listening position, nil without one
}

// A room is what plan view and side view show: all that can be told of a plan,
// finished or not.
type room struct {
	plan      *plan.Plan
	surfaces  []place.Surface
	low, high place.Vec // corners of the box around it
	seat      *plan.Listening
	listener  place.Listener // of seat
	layout    *layout.Layout // nil while none is chosen
	stands    []*stand
	unplaced  []*layout.Loudspeaker // of the layout, without a mount
	lost      []string              // what the plan has and cannot be shown, in words
}

// look gathers a room as seen from a listening position; one that the plan does not
// have stands for the primary one. It is false where there is no room to draw.
func look(p *plan.Plan, seat string) (*room, bool) {
	if p == nil {
		return nil, false
	}
	surfaces, err := p.Surfaces()
	if err != nil || len(surfaces) == 0 {
		return nil, false
	}
	r := &room{plan: p, surfaces: surfaces, layout: p.Loudspeakers()}
	inf := math.Inf(1)
	r.low, r.high = place.Vec{X: inf, Y: inf, Z: inf}, place.Vec{X: -inf, Y: -inf, Z: -inf}
	for i := range surfaces {
		for _, s := range surfaces[i].Outline {
			v := surfaces[i].At(s)
			r.low = place.Vec{X: math.Min(r.low.X, v.X), Y: math.Min(r.low.Y, v.Y), Z: math.Min(r.low.Z, v.Z)}
			r.high = place.Vec{X: math.Max(r.high.X, v.X), Y: math.Max(r.high.Y, v.Y), Z: math.Max(r.high.Z, v.Z)}
		}
	}
	const least = 0.01 // metres: a room has a width, a length and a height
	if size := r.high.Sub(r.low); !(size.X > least && size.Y > least && size.Z > least) {
		return nil, false
	}
	r.sit(seat)
	for i := range p.Mounts {
		r.stand(&p.Mounts[i])
	}
	if r.layout != nil {
		for i := range r.layout.Loudspeakers {
			if s := &r.layout.Loudspeakers[i]; p.MountByChannel(s.Label) == nil {
				r.unplaced = append(r.unplaced, s)
			}
		}
	}
	return r, true
}

// holds tells whether a point can be shown: it lies in the room or just beyond.
func (r *room) holds(v place.Vec) bool {
	const beyond = 0.05 // metres
	return v.X >= r.low.X-beyond && v.X <= r.high.X+beyond && v.Y >= r.low.Y-beyond && v.Y <= r.high.Y+beyond &&
		v.Z >= r.low.Z-beyond && v.Z <= r.high.Z+beyond
}

func (r *room) sit(name string) {
	l := r.plan.Position(name)
	if l == nil {
		l = r.plan.Primary()
	}
	if l == nil && len(r.plan.Listening) > 0 {
		l = &r.plan.Listening[0]
	}
	if l != nil && r.shown(l) {
		r.seat, r.listener = l, place.Listener{Name: l.Name, Ear: ear(l), Facing: l.Facing}
	}
	for i := range r.plan.Listening {
		if l := &r.plan.Listening[i]; !r.shown(l) {
			r.lost = append(r.lost, l.Name+" lies outside the room")
		}
	}
}

// shown tells whether a listening position can be drawn.
func (r *room) shown(l *plan.Listening) bool {
	return r.holds(ear(l)) && !math.IsNaN(l.Facing) && !math.IsInf(l.Facing, 0)
}

func ear(l *plan.Listening) place.Vec { return place.Vec{X: l.Ear[0], Y: l.Ear[1], Z: l.Ear[2]} }

func (r *room) stand(m *plan.Mount) {
	i := slices.IndexFunc(r.surfaces, func(s place.Surface) bool { return s.Name == m.Surface })
	if i < 0 {
		r.lost = append(r.lost, m.Channel+" has no surface yet")
		return
	}
	s := &stand{Mount: m, form: level, hole: r.surfaces[i].At(place.Spot{Along: m.Along, Up: m.Up})}
	s.at = s.hole
	if pose, err := r.plan.Pose(m.Channel); err == nil {
		s.at = pose.Centre
	} else if m.Bracket == "" {
		s.at = s.hole.Add(r.surfaces[i].Normal().Scale(m.Stand))
	}
	if !r.holds(s.at) || !r.holds(s.hole) {
		r.lost = append(r.lost, m.Channel+" lies outside the room")
		return
	}
	if r.seat != nil {
		sight := r.listener.See(s.at)
		s.sight = &sight
	}
	elevation := 0.0
	if r.layout != nil {
		s.where, _ = r.layout.Loudspeaker(m.Channel)
	}
	switch {
	case s.where != nil:
		elevation = s.where.Elevation
	case s.sight != nil:
		elevation = s.sight.Elevation
	}
	s.form = formOf(elevation, s.where != nil && s.where.LFE)
	r.stands = append(r.stands, s)
}

func formOf(elevation float64, lfe bool) form {
	switch {
	case lfe:
		return bass
	case elevation > steep:
		return high
	case elevation < -steep:
		return low
	}
	return level
}

// sectors are the permitted directions of a channel as the plan's tolerances widen them.
func (r *room) sectors(s *layout.Loudspeaker) []place.Sector {
	if s == nil || r.seat == nil {
		return nil
	}
	tolerance := func(x float64) float64 {
		if !(x >= 0 && x < math.Pi/4) {
			return 0
		}
		return x
	}
	return s.Sectors(tolerance(r.plan.Tolerances.Azimuth), tolerance(r.plan.Tolerances.Elevation))
}

// nominal is where the layout's own direction meets the room.
func (r *room) nominal(s *layout.Loudspeaker) (place.Vec, bool) {
	if r.seat == nil || s.LFE || !s.NominalSpecified {
		return place.Vec{}, false
	}
	hit, ok := place.Meet(r.surfaces, r.listener.Ear, r.listener.Ray(s.Nominal()))
	if !ok {
		return place.Vec{}, false
	}
	return r.surfaces[hit.Surface].At(hit.Spot), true
}

// mark draws a mount: a disc at ear height, a triangle that points up above it and
// down below it, a square for low frequencies.
func (f form) mark(kind string, c point, r float64) Node {
	switch f {
	case high:
		return polygon(kind, c.plus(0, -1.25*r), c.plus(1.1*r, 0.75*r), c.plus(-1.1*r, 0.75*r))
	case low:
		return polygon(kind, c.plus(0, 1.25*r), c.plus(1.1*r, -0.75*r), c.plus(-1.1*r, -0.75*r))
	case bass:
		return rect(kind, around(c, 0.9*r))
	}
	return circle(kind, c, r)
}

// formNotes say what the marks in the drawing mean.
func (r *room) formNotes() string {
	var says []string
	for _, f := range []form{level, high, low, bass} {
		if slices.ContainsFunc(r.stands, func(s *stand) bool { return s.form == f }) {
			says = append(says, map[form]string{level: "Disc", high: "Triangle up", low: "Triangle down", bass: "Square"}[f]+": "+string(f)+".")
		}
	}
	return strings.Join(says, " ")
}

// A projected drawing shows a room along one of its axes.
type projected struct {
	picture
	projection
	held
	*room
	flat  func(place.Vec) place.Spot
	frame box    // the box around the room on the sheet
	asked string // channel of the mount in question
}

func (d *projected) on(v place.Vec) point { return d.at(d.flat(v)) }

// margins are what names and dimension lines need around the room.
type margins struct{ left, right, over, under float64 }

// fit puts the room on the sheet, as large as it may be there: on one of a phone's
// width no taller than so much.
func (d *projected) fit(m margins, tallest float64) {
	low, high := d.flat(d.room.low), d.flat(d.room.high)
	grown := d.picture.width / phoneWidth
	d.scale = math.Min(grown*mostScale, math.Min((d.picture.width-m.left-m.right)/(high.Along-low.Along), grown*tallest/(high.Up-low.Up)))
	d.zero = point{m.left - d.scale*low.Along, m.over + d.scale*high.Up}
	d.frame = d.box(low, high)
	d.labels.bounds = box{2, 2, d.picture.width - 2, d.frame.y1 + m.under}
}

// outward is the way out of the room through a surface, on the sheet; no way for one
// that is seen from the front.
func (d *projected) outward(s *place.Surface) point {
	n := d.flat(s.Normal())
	length := math.Hypot(n.Along, n.Up)
	if length < 1e-9 {
		return point{}
	}
	return point{-n.Along / length, n.Up / length}
}

// corners are a surface's, or an area's of it, on the sheet.
func (d *projected) corners(s *place.Surface, spots []place.Spot) []point {
	out := make([]point, len(spots))
	for i, spot := range spots {
		out[i] = d.on(s.At(spot))
	}
	return out
}

// A band is a wall cut through: its line, and the way out of the room through it.
type band struct{ a, b, outward point }

// walled draws the bands outside of their lines, and round the corners of the room.
func (d *projected) walled(bands []band) {
	for _, w := range bands {
		a, b := w.a, w.b
		length := math.Hypot(b.x-a.x, b.y-a.y)
		if length < 0.1 {
			continue
		}
		x, y := (b.x-a.x)/length*wallThick, (b.y-a.y)/length*wallThick
		if w.cornered(a, bands) {
			a = a.plus(-x, -y)
		}
		if w.cornered(b, bands) {
			b = b.plus(x, y)
		}
		x, y = w.outward.x*wallThick, w.outward.y*wallThick
		d.add(polygon("cut", a, b, b.plus(x, y), a.plus(x, y)))
		if w.a.x == w.b.x || w.a.y == w.b.y {
			d.labels.block(bounds([]point{a, b, b.plus(x, y)}))
		} else {
			d.labels.avoid(a, b)
		}
	}
}

// cornered tells whether another wall goes into the room from an end of this one.
func (w band) cornered(end point, all []band) bool {
	near := func(p point) bool { return math.Hypot(p.x-end.x, p.y-end.y) < 0.1 }
	return slices.ContainsFunc(all, func(v band) bool {
		far := v.b
		if near(v.b) {
			far = v.a
		}
		return near(v.a) != near(v.b) && (far.x-end.x)*w.outward.x+(far.y-end.y)*w.outward.y < -0.1
	})
}

// rays go from the ear point to every mount.
func (d *projected) rays() {
	if d.seat == nil {
		return
	}
	ear := d.on(d.listener.Ear)
	for _, s := range d.stands {
		kind := "ray"
		if s.form != level {
			kind += " broken"
		}
		d.add(line(kind, ear, d.on(s.at)))
		d.labels.avoid(ear, d.on(s.at))
	}
}

// seats are the listening positions, the chosen one on top; ahead brings the way they
// face to the sheet.
func (d *projected) seats(ahead func(place.Vec) point) {
	for _, chosen := range []bool{false, true} {
		for i := range d.plan.Listening {
			l := &d.plan.Listening[i]
			if !d.shown(l) || (l == d.seat) != chosen {
				continue
			}
			c := d.on(ear(l))
			way := ahead(place.Listener{Facing: l.Facing}.Ray(place.Direction{}))
			d.add(d.mark(l.Name, c, seatMark(c, way, chosen)))
			d.labels.block(around(c, 7), around(c.plus(10*way.x, 10*way.y), 4))
			d.labels.marks = append(d.labels.marks, c)
		}
	}
}

// mounts are drawn at their acoustic centres, each with a line to its reference hole,
// the one in question larger and on top.
func (d *projected) mounts() {
	for _, asked := range []bool{false, true} {
		for _, s := range d.stands {
			if (s.Channel == d.asked) != asked {
				continue
			}
			c, r := d.on(s.at), 5.0
			if asked {
				r = 7
			}
			d.add(line("arm", d.on(s.hole), c), d.mark(s.Channel, c, s.form.mark("mount", c, r)))
			d.labels.block(around(c, r+1))
			d.labels.marks = append(d.labels.marks, c)
		}
	}
}

// seatMark is a listening position: a head, and an arrow where it faces on the sheet.
func seatMark(c point, ahead point, chosen bool) Node {
	kind := "ear"
	if chosen {
		kind = "ear chosen"
	}
	var nose Node
	if length := math.Hypot(ahead.x, ahead.y); length > 0.2 {
		x, y := ahead.x/length, ahead.y/length
		nose = polygon(kind, c.plus(14*x, 14*y), c.plus(5*x-4.5*y, 5*y+4.5*x), c.plus(5*x+4.5*y, 5*y-4.5*x))
	}
	return Group(nose, circle(kind, c, 6))
}

// cut is where a plane meets a surface: the stretches of the line they share. The plane
// holds the points whose product with the normal is the limit.
func cut(s *place.Surface, normal place.Vec, limit float64) [][2]place.Vec {
	way := normal.Cross(s.Normal())
	var ends []place.Vec
	for i, a := range s.Outline {
		b := s.Outline[(i+1)%len(s.Outline)]
		p, q := s.At(a), s.At(b)
		from, to := p.Dot(normal)-limit, q.Dot(normal)-limit
		if (from <= 0) != (to <= 0) {
			ends = append(ends, p.Add(q.Sub(p).Scale(from/(from-to))))
		}
	}
	sortBy(len(ends), func(i, j int) bool { return ends[i].Dot(way) < ends[j].Dot(way) }, func(i, j int) { ends[i], ends[j] = ends[j], ends[i] })
	var out [][2]place.Vec
	for i := 0; i+1 < len(ends); i += 2 {
		out = append(out, [2]place.Vec{ends[i], ends[i+1]})
	}
	return out
}

// opening draws a door or window that is seen from its face.
func (d *projected) opening(kind string, s *place.Surface, a place.Area) Node {
	if corners := d.frame.cut(d.corners(s, rectangle(a))); len(corners) > 2 {
		return polygon(kind, corners...)
	}
	return nil
}

func rectangle(a place.Area) []place.Spot {
	return []place.Spot{a.Min, {Along: a.Max.Along, Up: a.Min.Up}, a.Max, {Along: a.Min.Along, Up: a.Max.Up}}
}

// gap draws a door or window that is seen from its edge, in the wall's band, and names it.
func (d *projected) gap(from, to place.Vec, outward point, name string) {
	a, b, ok := d.frame.grown(0.1).clip(d.on(from), d.on(to))
	if !ok || a == b {
		return
	}
	x, y := outward.x*wallThick, outward.y*wallThick
	d.add(polygon("gap", a, b, b.plus(x, y), a.plus(x, y)))
	at := bounds([]point{a, b}).grown(wallThick)
	l := &label{lines: wrap(name, small, 100, 2), size: small, class: "area"}
	if math.Abs(a.y-b.y) < math.Abs(a.x-b.x) {
		d.labels.put(l.beside(at, 1))
		return
	}
	turned := &label{lines: wrap(name, small, 100, 1), size: small, class: "area", turned: true}
	d.labels.put(l.beside(at, 1), turned.beside(at, 1))
}

// spansAlong are the dimension lines under a drawing: to the ear, and overall.
func (d *projected) spansAlong(to []span, y float64) {
	for i, s := range to {
		y := y + stacked*float64(i)
		d.add(line("extension", s.a, point{s.a.x, y + 3}), line("extension", s.b, point{s.b.x, y + 3}), overall(point{s.a.x, y}, point{s.b.x, y}))
		l := &label{lines: []string{s.text}, size: small, class: "reading"}
		w, h := l.size2()
		x := math.Max(s.a.x+8, (s.a.x+s.b.x-w)/2)
		d.put(l, []seat{l.seat(x, y-h-1, "middle"), l.seat(s.b.x+6, y-h/2, "start")})
		d.labels.block(box{s.a.x, y - 0.5, s.b.x, y + 0.5})
	}
}

// spansUp are the same at the left.
func (d *projected) spansUp(to []span, x float64) {
	for i, s := range to {
		x := x - stacked*float64(i)
		d.add(line("extension", s.a, point{x - 3, s.a.y}), line("extension", s.b, point{x - 3, s.b.y}), overall(point{x, s.a.y}, point{x, s.b.y}))
		l := &label{lines: []string{s.text}, size: small, class: "reading", turned: true}
		w, h := l.size2()
		y := math.Min(s.a.y-8-h, (s.a.y+s.b.y-h)/2)
		d.put(l, []seat{l.seat(x-w-1, y, "middle"), l.seat(x-w/2, s.b.y-6-h, "middle")})
		d.labels.block(box{x - 0.5, s.b.y, x + 0.5, s.a.y})
	}
}

// A span is a length between two points of the sheet.
type span struct {
	a, b point
	text string
}

// datumCorner marks where the room's coordinates start.
func (d *projected) datumCorner(text string, y float64) {
	if !d.holds(place.Vec{}) {
		return
	}
	zero := d.on(place.Vec{})
	d.add(circle("datum", zero, 4.5), line("datum-line", zero, point{zero.x, y}))
	d.labels.block(around(zero, 5))
	l := &label{lines: []string{text}, size: normal, class: "datum-name"}
	d.labels.put([]seat{l.seat(math.Max(zero.x-14, 4), y, "start")})
}

// room-wide words

func (r *room) says(v float64) string { return tape.Format(v, r.plan.Units.System()) }

func (r *room) sizeSays() string {
	size := r.high.Sub(r.low)
	return fmt.Sprintf("%s wide, %s long, %s high. ", r.says(size.X), r.says(size.Y), r.says(size.Z))
}

func (r *room) seatSays(l *plan.Listening) string {
	text := fmt.Sprintf("%s: ear point %s from the left, %s from the rear, %s above the finished floor", l.Name, r.says(l.Ear[0]), r.says(l.Ear[1]), r.says(l.Ear[2]))
	switch f := sideways(l.Facing); f {
	case "straight ahead":
	case "straight behind":
		text += ", facing the rear"
	default:
		text += ", facing " + f + " of the front"
	}
	return text + ". "
}

// sideways says an azimuth in words.
func sideways(azimuth float64) string {
	switch n := math.Round(azimuth * 1800 / math.Pi); {
	case n == 0:
		return "straight ahead"
	case math.Abs(n) == 1800:
		return "straight behind"
	case n > 0:
		return fmt.Sprintf("%.1f° to the left", n/10)
	default:
		return fmt.Sprintf("%.1f° to the right", -n/10)
	}
}

// upward says an elevation in words.
func upward(elevation float64) string {
	switch n := math.Round(elevation * 1800 / math.Pi); {
	case n == 0:
		return "level with the ear"
	case n > 0:
		return fmt.Sprintf("%.1f° up", n/10)
	default:
		return fmt.Sprintf("%.1f° down", -n/10)
	}
}

// degrees writes an angle with its sign, none where it makes no difference.
func degrees(angle float64) string {
	n := math.Round(angle * 1800 / math.Pi)
	if n == 0 || math.Abs(n) == 1800 {
		return fmt.Sprintf("%.1f°", math.Abs(n)/10)
	}
	return fmt.Sprintf("%+.1f°", n/10)
}

// bearing writes the azimuth of a sight; straight up and down there is none.
func bearing(s *place.Sight) string {
	switch n := math.Round(s.Elevation * 1800 / math.Pi); {
	case n >= 900:
		return "overhead"
	case n <= -900:
		return "below"
	}
	return degrees(s.Azimuth)
}

// mountsSay tell direction and distance of every mount, and what the layout permits.
func (r *room) mountsSay() string {
	var b strings.Builder
	if r.seat != nil && len(r.stands) > 0 {
		b.WriteString("From " + r.seat.Name + ": ")
	}
	for _, s := range r.stands {
		if s.sight == nil {
			fmt.Fprintf(&b, "%s: %s from the left, %s from the rear, %s up. ", s.Channel, r.says(s.at.X), r.says(s.at.Y), r.says(s.at.Z))
			continue
		}
		where := sideways(s.sight.Azimuth)
		if !strings.HasSuffix(bearing(s.sight), "°") {
			where = bearing(s.sight)
		}
		fmt.Fprintf(&b, "%s %s, %s, %s away, %s above the floor", s.Channel, where, upward(s.sight.Elevation), r.says(s.sight.Distance), r.says(s.sight.Height))
		if s.where != nil && !s.where.Anywhere() {
			var bands []string
			for _, band := range s.where.Bands {
				bands = append(bands, band.String())
			}
			fmt.Fprintf(&b, "; the layout permits azimuth %s, elevation %s", strings.Join(bands, " or "), s.where.ElevationRange())
		}
		b.WriteString(". ")
	}
	if len(r.unplaced) > 0 {
		var names []string
		for _, s := range r.unplaced {
			names = append(names, s.Label)
		}
		b.WriteString("Not planned yet: " + strings.Join(names, ", ") + ". ")
	}
	for _, text := range r.lost {
		b.WriteString(text + ". ")
	}
	return b.String()
}

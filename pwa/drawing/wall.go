package drawing

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"hangtrue/checklist/plan"
	"hangtrue/compute/place"
	"hangtrue/compute/tape"
	. "hangtrue/pwa/markup"
)

// A Spot is a measured place on a surface, in metres of its tape coordinates.
// Outcome is within, outside, unsure or conceded, and empty while nothing has
// judged it. Where a conceded spot is, the hole is and stays: the bracket's other
// holes are drawn from there, and nothing points back to the plan.
type Spot struct {
	Along, Up float64
	Outcome   string
}

const conceded = "conceded"

func (s Spot) place() place.Spot { return place.Spot{Along: s.Along, Up: s.Up} }

func (s Spot) finite() bool {
	return !math.IsNaN(s.Along+s.Up) && !math.IsInf(s.Along, 0) && !math.IsInf(s.Up, 0)
}

// A Wall is the elevation of one surface of a plan. Channel, if it has its mount
// there, is the mount in question: it gets dimensions and an enlarged detail.
// Draft is where that one was measured just now; Built is where mounts were
// measured before, by channel. Zone is where the reference hole of the mount in
// question may go, and Others are further spots for it, numbered from 1. Found are
// the middles of studs found on site, metres as the surface counts them; each
// stands in for the plan's nearest, and for what the plan had as found within half
// a spacing of it. Dimensions, if given, are the dimension lines of every hole
// instead of those of the mount in question, and Width is how wide
// the sheet is in units of its text, which is 11.5 of them high or more: 0 for a
// phone's 360; paper 180 mm wide takes about 640. Handles is as package drawing says.
type Wall struct {
	Plan             *plan.Plan
	Surface, Channel string
	Draft            *Spot
	Built            map[string]Spot
	Zone             place.Outline
	Others           []place.Spot
	Found            []float64
	Dimensions       *Dimensions
	Width            float64
	Handles          bool
}

// The margins hold the names of the neighbours, the dimensions and the datum. The
// last two are for a sheet of a phone's width.
const (
	left      = 46.0
	right     = 20.0
	above     = 22.0
	below     = 60.0
	tallest   = 380.0 // a ceiling still fits a phone's height
	mostScale = 160.0 // a small surface is not blown up
)

// elevation is a wall while it is drawn.
type elevation struct {
	Wall
	picture
	projection
	surface  *place.Surface
	meets    Sides
	mounts   []*plan.Mount // on this surface
	asked    *plan.Mount   // the mount in question, nil if none
	off      []*plan.Mount // of this surface by the plan, but beyond it
	frame    box           // the surface's extent on the sheet
	readings [2][]*reading // along and up, of the holes that get dimension lines
	shaded   []box         // where labels do not stand: a small zone
}

// SVG draws the wall. It is false when the plan has no such surface.
func (w Wall) SVG() (Node, bool) {
	if w.Plan == nil {
		return nil, false
	}
	surfaces, err := w.Plan.Surfaces()
	if err != nil {
		return nil, false
	}
	i := slices.IndexFunc(surfaces, func(s place.Surface) bool { return s.Name == w.Surface })
	if i < 0 {
		return nil, false
	}
	for _, found := range w.Found {
		surfaces[i].Framing = surfaces[i].Framing.With(found)
	}
	d := newElevation(w, &surfaces[i], surfaces)
	d.face()
	d.framing()
	d.areas()
	d.zone(d.frame)
	d.outline()
	d.datum()
	d.dimensions()
	d.others(d.frame, 24)
	for _, m := range d.mounts {
		if m != d.asked {
			d.mount(m)
		}
	}
	if d.asked != nil {
		d.mount(d.asked)
	}
	d.nameMounts()
	d.nameAreas()
	d.nameNeighbours()
	lines, height := d.lines(d.notes(), d.labels.bounds.y1)
	var detail Node
	if d.asked != nil && d.asked.Bracket != "" {
		detail, height = d.detail(height)
	}
	return d.drawn("wall", d.title(), d.description(), height, held{d.Handles, d.width}.axes(d.projection, "along", "up"), lines, detail), true
}

func newElevation(w Wall, s *place.Surface, all []place.Surface) *elevation {
	d := &elevation{Wall: w, surface: s, meets: meets(s, all)}
	d.picture = picture{width: sheetWidth(w.Width), system: w.Plan.Units.System()}
	if d.Draft != nil && !d.Draft.finite() {
		d.Draft = nil
	}
	for i := range w.Plan.Mounts {
		m := &w.Plan.Mounts[i]
		switch {
		case m.Surface != s.Name:
		case !d.on(place.Spot{Along: m.Along, Up: m.Up}):
			d.off = append(d.off, m)
		case m.Channel == w.Channel:
			d.asked = m
			fallthrough
		default:
			d.mounts = append(d.mounts, m)
		}
	}
	low, high := place.Extent(append([]place.Spot{{}}, s.Outline...))
	left, below := left, below
	if d.Dimensions != nil {
		left, below = d.Dimensions.margins(d)
	}
	wide, tall, grown := high.Along-low.Along, high.Up-low.Up, d.width/phoneWidth
	d.scale = math.Min(grown*mostScale, math.Min((d.width-left-right)/wide, grown*tallest/tall))
	d.zero = point{left - d.scale*low.Along, above + d.scale*high.Up}
	d.frame = d.box(low, high)
	d.labels.bounds = box{2, 2, d.width - 2, d.frame.y1 + below}
	return d
}

// on tells whether a spot lies where it can be drawn: on the surface or just beside it.
func (d *elevation) on(s place.Spot) bool {
	const beside = 0.05 // metres
	low, high := place.Extent(append([]place.Spot{{}}, d.surface.Outline...))
	return s.Along >= low.Along-beside && s.Along <= high.Along+beside && s.Up >= low.Up-beside && s.Up <= high.Up+beside
}

func (d *elevation) face() { d.add(polygon("face", d.corners()...)) }

func (d *elevation) corners() []point { return d.all(d.surface.Outline) }

func (d *elevation) all(spots []place.Spot) []point {
	points := make([]point, len(spots))
	for i, s := range spots {
		points[i] = d.at(s)
	}
	return points
}

// framing draws studs, joists or rafters where they stand, as wide as they are.
func (d *elevation) framing() {
	for _, member := range d.surface.MemberFaces() {
		if m, ok := d.box(member[0], member[1]).meet(d.frame); ok {
			d.add(rect("stud", m))
		}
	}
}

// areas draws what is not there, behind a breast or in front of an alcove, and openings and keep-outs with the distance
// to keep from them.
func (d *elevation) areas() {
	for _, c := range d.surface.Cuts {
		d.add(polygon("gone", d.all(c.Outline)...))
	}
	for _, a := range d.surface.KeepOuts {
		d.add(d.keepOut(d.box(a.Min, a.Max), a.Clearance*d.scale, d.frame))
	}
	for _, a := range d.surface.Openings {
		d.add(d.opening(d.box(a.Min, a.Max), a.Clearance*d.scale, d.frame))
	}
}

func (d *elevation) keepOut(b box, clearance float64, within box) Node {
	b, ok := b.meet(within)
	if !ok {
		return nil
	}
	return Group(margin(b, clearance, within), rect("keep-out", b), hatch("hatch", b.corners()))
}

func (d *elevation) opening(b box, clearance float64, within box) Node {
	b, ok := b.meet(within)
	if !ok {
		return nil
	}
	return Group(margin(b, clearance, within), rect("opening", b))
}

// margin is the broken line around what must be kept clear of.
func margin(b box, clearance float64, within box) Node {
	around, ok := b.grown(clearance).meet(within)
	if clearance <= 0 || !ok {
		return nil
	}
	return rect("margin", around)
}

func (d *elevation) outline() {
	corners := d.corners()
	d.add(polygon("outline", corners...))
	for i, a := range corners {
		if b := corners[(i+1)%len(corners)]; a.x == b.x || a.y == b.y {
			d.labels.block(box{math.Min(a.x, b.x), math.Min(a.y, b.y), math.Max(a.x, b.x), math.Max(a.y, b.y)}.grown(0.5))
		}
	}
	if d.meets.Below == "floor" {
		d.add(line("floor", point{d.frame.x0, d.frame.y1}, point{d.frame.x1, d.frame.y1}))
	}
}

// datum marks the corner that both tapes start from, with the two directions.
func (d *elevation) datum() {
	zero := d.at(place.Spot{})
	d.add(circle("datum", zero, 4.5))
	d.labels.block(around(zero, 5))
	if d.asked != nil || d.Dimensions != nil {
		return // the dimensions show the directions
	}
	along, up := zero.plus(46, 14), zero.plus(-12, -math.Min(46, zero.y-4))
	d.add(arrow("axis", zero.plus(0, 14), along), arrow("axis", zero.plus(-12, 0), up))
	d.labels.block(box{zero.x, zero.y + 10, along.x, zero.y + 18}, box{up.x - 4, up.y, up.x + 4, zero.y})
	alongWord := &label{lines: []string{"along"}, size: normal, class: "axis-name"}
	upWord := &label{lines: []string{d.Plan.UpWord(d.Surface)}, size: normal, class: "axis-name", turned: true}
	w, _ := alongWord.size2()
	_, h := upWord.size2()
	d.labels.put(alongWord.at(along.plus(5+w/2, 0)))
	d.labels.put(upWord.at(up.plus(0, -5-h/2)))
	d.nameDatum(zero)
}

func (d *elevation) nameDatum(zero point) {
	l := &label{lines: []string{"measure from here"}, size: normal, class: "datum-name"}
	y := math.Max(zero.y, d.labels.bounds.y1-18)
	d.labels.put([]seat{l.seat(math.Max(zero.x-14, 4), y, "start")})
	d.add(line("datum-line", zero.plus(0, 5), point{zero.x, y}))
}

// dimensions are the two tape readings of the mount in question, drawn from the
// datum to it.
func (d *elevation) dimensions() {
	switch {
	case d.Dimensions != nil:
		d.Dimensions.draw(d)
	case d.asked != nil:
		d.ofMount()
	}
}

func (d *elevation) ofMount() {
	zero, spot := d.at(place.Spot{}), d.at(place.Spot{Along: d.asked.Along, Up: d.asked.Up})
	y, x := zero.y+16, zero.x-12
	d.add(
		line("extension", spot, point{spot.x, y + 4}), line("extension", spot, point{x - 4, spot.y}),
		line("extension", zero.plus(0, 5), point{zero.x, y + 4}), line("extension", zero.plus(-5, 0), point{x - 4, zero.y}),
		arrow("dimension", point{zero.x, y}, point{spot.x, y}), arrow("dimension", point{x, zero.y}, point{x, spot.y}),
	)
	d.labels.block(box{zero.x, y - 4, spot.x, y + 4}, box{x - 4, spot.y, x + 4, zero.y})
	along := &label{lines: []string{tape.Format(d.asked.Along, d.system)}, size: large, bold: true, class: "reading"}
	up := &label{lines: []string{tape.Format(d.asked.Up, d.system)}, size: large, bold: true, class: "reading", turned: true}
	w, h := along.size2()
	d.labels.put([]seat{
		along.seat((zero.x+spot.x)/2-w/2, y+6, "middle"),
		along.seat(zero.x, y+6, "start"),
		along.seat(spot.x+6, y-h/2, "start"),
	})
	w, h = up.size2()
	middle := (zero.y + spot.y) / 2
	d.labels.put(up.at(point{x - 7 - w/2, middle}), up.at(point{x - 7 - w/2, zero.y - h/2}), up.at(point{x, spot.y - 8 - h/2}))
	d.nameDatum(zero)
}

// mount draws what is planned for a mount and where it was measured.
func (d *elevation) mount(m *plan.Mount) {
	at := d.at(place.Spot{Along: m.Along, Up: m.Up})
	if m != d.asked {
		d.add(held{d.Handles, d.width}.mark(m.Channel, at, cross("target quiet", at, 5)))
		d.labels.block(around(at, 6))
		if s, ok := d.Built[m.Channel]; ok {
			d.measured(s, 4)
		}
		return
	}
	tolerance := d.Plan.Tolerances.Mark * d.scale
	var exact Node
	if tolerance < 9 {
		exact = rect("tolerance true", around(at, math.Max(tolerance, 0.3)))
	}
	d.add(held{d.Handles, d.width}.mark(m.Channel, at, rect("tolerance", around(at, math.Max(tolerance, 9))), cross("target", at, 13), exact))
	d.labels.block(around(at, 14))
	if s, ok := d.Built[m.Channel]; ok && d.Draft == nil {
		d.measured(s, 6)
		if s.Outcome != conceded {
			d.move(s, at)
		}
	}
	if d.Draft != nil {
		d.measured(*d.Draft, 6)
		d.move(*d.Draft, at)
	}
}

// measured marks a spot if it lies in the picture.
func (d *elevation) measured(s Spot, r float64) {
	if at := d.at(s.place()); s.finite() && d.labels.bounds.holds(around(at, 1.5*r)) {
		d.add(spotMark(s.Outcome, at, r))
		d.labels.block(around(at, r+1))
	}
}

// move points from where it was measured to where it should be, if that is far
// enough to be seen; from the picture's edge when the spot lies beyond it.
func (d *elevation) move(s Spot, target point) {
	d.moveArrow(d.at(s.place()), target, d.labels.bounds.grown(-4), 14)
}

func (d *elevation) moveArrow(from, to point, within box, least float64) {
	length := math.Hypot(to.x-from.x, to.y-from.y)
	if length < least {
		return
	}
	a, b, ok := within.clip(from, to)
	if !ok {
		return
	}
	d.add(arrow("move", a, b))
	for f := 0.0; f <= 1; f += 0.1 {
		d.labels.block(around(a.plus(f*(b.x-a.x), f*(b.y-a.y)), 3))
	}
}

func (d *elevation) nameMounts() {
	name := func(m *plan.Mount) {
		text := m.Channel
		at := d.at(place.Spot{Along: m.Along, Up: m.Up})
		l := &label{lines: []string{text}, size: small, class: "channel"}
		half := 6.0
		if m == d.asked {
			l.size, l.bold, l.class, half = large, true, "channel asked", 15
		}
		if s, ok := d.Built[m.Channel]; ok && s.Outcome != "" {
			l.lines = append(l.lines, s.Outcome)
		}
		d.put(l, l.beside(around(at, half), 3))
	}
	if d.asked != nil {
		name(d.asked)
	}
	for _, m := range d.mounts {
		if m != d.asked {
			name(m)
		}
	}
	if d.Draft != nil {
		at := d.at(d.Draft.place())
		if d.labels.bounds.contains(at) {
			l := &label{lines: []string{"typed now"}, size: small, class: "typed-name"}
			d.put(l, l.beside(around(at, 8), 3))
		}
	}
}

func (d *elevation) nameAreas() {
	name := func(a place.Area) {
		b, ok := d.box(a.Min, a.Max).meet(d.frame)
		if !ok {
			return
		}
		words := func(most float64, lines int, more ...string) *label {
			return &label{lines: append(wrap(a.Name, small, most, lines), more...), size: small, class: "area"}
		}
		clear := d.clear(a)
		in := [][]seat{words(b.width()-4, 3, clear...).inside(b), words(b.width()-4, 3).inside(b)}
		wide, narrow := words(120, 2, clear...), words(70, 3, clear...)
		beside := [][]seat{kept(pointing(wide.beside(b, 4), b), d.frame), kept(pointing(narrow.beside(b, 4), b), d.frame),
			pointing(wide.beside(b, 4), b), pointing(wide.inside(d.frame), b)}
		if shortened(wrap(a.Name, small, b.width()-4, 3)) && !shortened(wide.lines) { // a letter or two name nothing
			in, beside = beside, in
		}
		d.put(wide, slices.Concat(in, beside)...)
	}
	for _, c := range d.surface.Cuts {
		name(c.Extent())
	}
	for _, a := range d.surface.Openings {
		name(a)
	}
	for _, a := range d.surface.KeepOuts {
		name(a)
	}
}

// clear says how far to stay away from an area.
func (d *elevation) clear(a place.Area) []string {
	if a.Clearance <= 0 {
		return nil
	}
	return []string{tape.FormatSmall(a.Clearance, d.system) + " clear"}
}

func (d *elevation) nameNeighbours() {
	f := d.frame
	put := func(name string, turned bool, seats func(w, h float64) []point) {
		if name == "" {
			return
		}
		l := &label{lines: []string{name}, size: small, class: "neighbour", turned: turned}
		w, h := l.size2()
		var list []seat
		for _, p := range seats(w, h) {
			list = append(list, l.at(p)...)
		}
		d.labels.put(list)
	}
	put(d.meets.Above, false, func(w, h float64) []point {
		return []point{{f.middle().x, f.y0 - 3 - h/2}}
	})
	put(d.meets.Below, false, func(w, h float64) []point {
		y := f.y1 + 4 + h/2
		return []point{{f.x1 - w/2, y}, {f.middle().x, y}, {f.x1 - w/2, y + 22}, {f.x1 - w/2, y + 36}}
	})
	put(d.meets.Left, true, func(w, h float64) []point {
		return []point{{f.x0 - 4 - w/2, f.y0 + h/2}, {12, f.middle().y}, {12, f.y0 + h/2}, {12, f.y1 - h/2}}
	})
	put(d.meets.Right, true, func(w, h float64) []point {
		return []point{{f.x1 + 4 + w/2, f.middle().y}, {f.x1 + 4 + w/2, f.y0 + h/2}}
	})
}

// notes are the lines under the picture: what is behind the lining, and the labels
// that found no seat.
func (d *elevation) notes() []string {
	var lines []string
	if behind := d.behind(); behind != "" {
		lines = append(lines, d.wrapped(Capital(behind)+".", 3)...)
	}
	if len(d.surface.KeepOuts) > 0 {
		lines = append(lines, "Hatched: keep out.")
	}
	lines = append(lines, d.zoneNotes()...)
	for _, m := range d.off {
		lines = append(lines, d.wrapped(d.offSays(m), 2)...)
	}
	return append(lines, d.alsoHere()...)
}

// behind says what a screw finds behind the lining.
func (d *elevation) behind() string {
	f := d.surface.Framing
	lining := ""
	if d.surface.Lining > 0 {
		lining = " behind " + tape.FormatSmall(d.surface.Lining, d.system) + " of lining"
	}
	switch f.Kind {
	case place.Studs:
		text := member(d.surface) + "s " + tape.FormatSmall(f.Width, d.system) + " wide"
		if f.Spacing > 0 {
			text += ", " + tape.FormatSmall(f.Spacing, d.system) + " from middle to middle"
		}
		return text + lining
	case place.Masonry, place.Concrete:
		return f.Kind.String() + lining
	}
	return ""
}

func (d *elevation) title() string {
	title := Capital(SurfaceName(d.Surface))
	if d.asked != nil {
		title += " with " + d.asked.Channel
	}
	return title + ", seen from inside the room"
}

// description says in words what the drawing shows.
func (d *elevation) description() string {
	low, high := place.Extent(d.surface.Outline)
	var b strings.Builder
	fmt.Fprintf(&b, "%s along by %s %s. ", tape.Format(high.Along-low.Along, d.system), tape.Format(high.Up-low.Up, d.system), d.Plan.UpWord(d.Surface))
	for _, side := range []struct{ at, name string }{
		{"To the left", d.meets.Left}, {"to the right", d.meets.Right}, {"at the lower edge", d.meets.Below}, {"at the upper edge", d.meets.Above},
	} {
		if side.name != "" {
			fmt.Fprintf(&b, "%s: %s. ", Capital(side.at), side.name)
		}
	}
	b.WriteString("Measure from the lower left corner of the picture. ")
	for _, m := range d.mounts {
		fmt.Fprintf(&b, "%s is planned at %s.", m.Channel, d.says(Spot{Along: m.Along, Up: m.Up}))
		if s, ok := d.Built[m.Channel]; ok && s.finite() {
			fmt.Fprintf(&b, " Measured at %s", d.says(s))
			if s.Outcome != "" {
				b.WriteString(": " + s.Outcome)
			}
			b.WriteString(".")
		}
		b.WriteString(" ")
	}
	for _, m := range d.off {
		b.WriteString(d.offSays(m) + " ")
	}
	if d.Draft != nil {
		fmt.Fprintf(&b, "Typed now: %s. ", d.says(*d.Draft))
	}
	b.WriteString(d.zoneSays())
	for _, c := range d.surface.Cuts {
		b.WriteString(d.areaSays(c.Extent(), "Not there"))
	}
	for _, a := range d.surface.Openings {
		b.WriteString(d.areaSays(a, "Opening"))
	}
	for _, a := range d.surface.KeepOuts {
		b.WriteString(d.areaSays(a, "Keep out"))
	}
	if behind := d.behind(); behind != "" {
		b.WriteString(Capital(behind) + ".")
	}
	return strings.TrimSpace(b.String())
}

func (d *elevation) offSays(m *plan.Mount) string {
	return m.Channel + " is planned beyond this surface, at " + d.says(Spot{Along: m.Along, Up: m.Up}) + "."
}

func (d *elevation) says(s Spot) string {
	return tape.Format(s.Along, d.system) + " along, " + tape.Format(s.Up, d.system) + " " + d.Plan.UpWord(d.Surface)
}

func (d *elevation) areaSays(a place.Area, kind string) string {
	text := fmt.Sprintf("%s: %s, %s to %s along, %s to %s %s", kind, a.Name,
		tape.Format(a.Min.Along, d.system), tape.Format(a.Max.Along, d.system),
		tape.Format(a.Min.Up, d.system), tape.Format(a.Max.Up, d.system), d.Plan.UpWord(d.Surface))
	if a.Clearance > 0 {
		text += ", keep " + tape.FormatSmall(a.Clearance, d.system) + " clear"
	}
	return text + ". "
}

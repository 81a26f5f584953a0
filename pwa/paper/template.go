package paper

import (
	"fmt"
	"math"
	"slices"

	"hangtrue/checklist/plan"
	"hangtrue/compute/place"
	"hangtrue/pwa/drawing"
)

// Templates are sheets in true size, one millimetre for one: each mount's holes as its
// bracket has them, to lay on the surface by the reference hole and the level line. A
// pattern that is larger than a sheet goes over several, which are joined by marks.
func (j Job) Templates(size Size) Document {
	f := j.flow(size, "template", "Drilling templates, full size")
	surfaces := j.surfacesInUse()
	for i := range surfaces {
		s := &surfaces[i]
		holes := j.holesOn(s.Name)
		for _, m := range j.mountsOn(s.Name) {
			if m.Bracket == "" {
				continue
			}
			mine := slices.DeleteFunc(slices.Clone(holes), func(h hole) bool { return h.mount != m })
			newTemplate(f, s, m, mine).draw()
		}
	}
	if len(f.sheets) == 0 {
		f.para("The plan has nothing that hangs on a bracket.", normal, false)
	}
	return f.finish()
}

const (
	overlap = 15.0 // that neighbouring sheets share, in millimetres
	around1 = 22.0 // kept around the pattern, for names of holes
	// mostTiles bounds the sheets of one pattern: a bracket of that size is a slip, or is
	// marked out by tape.
	mostTiles = 24
)

// template is one mount's pattern. Its own coordinates are millimetres from the reference
// hole, to the right and downward.
type template struct {
	flow    *flow
	surface *place.Surface
	sides   drawing.Sides
	mount   *plan.Mount
	bracket *plan.Bracket // nil where the plan has none of that name
	holes   []hole
	pilot   float64 // diameter in millimetres, 0 where it is not known
	window  Box     // of a sheet that shows the pattern
	first   Box     // what the first tile shows, in the template's coordinates
	across  int     // tiles side by side
	down    int
}

func newTemplate(f *flow, s *place.Surface, m *plan.Mount, holes []hole) *template {
	t := &template{flow: f, surface: s, sides: drawing.SidesOf(f.job.Plan, s.Name), mount: m, bracket: f.job.Plan.Bracket(m.Bracket),
		holes: holes, pilot: f.job.pilot(m) * 1000}
	b := f.body()
	t.window = Box{b.X0 + 15, b.Y0 + 15.5, b.X1, b.Y1 - 20}
	extent := t.extent()
	w, h := t.window.width(), t.window.height()
	t.across, t.down = tiles(extent.width(), w), tiles(extent.height(), h)
	all := Box{0, 0, float64(t.across)*(w-overlap) + overlap, float64(t.down)*(h-overlap) + overlap}
	m0, m1 := extent.middle(), all.middle()
	t.first = Box{m0.X - m1.X, m0.Y - m1.Y, m0.X - m1.X + w, m0.Y - m1.Y + h}
	return t
}

// tiles is how many windows of a width cover a length, where neighbours overlap.
func tiles(length, window float64) int {
	return max(1, int(math.Ceil((length-overlap)/(window-overlap))))
}

func (t *template) spot(s place.Spot) Point { return Point{s.Along * 1000, -s.Up * 1000} }

// extent is the pattern and the plate with what is kept around them.
func (t *template) extent() Box {
	b := Box{}
	add := func(p Point) {
		b = Box{math.Min(b.X0, p.X), math.Min(b.Y0, p.Y), math.Max(b.X1, p.X), math.Max(b.Y1, p.Y)}
	}
	for _, h := range t.holes {
		add(t.spot(h.offset))
	}
	if p, ok := t.plate(); ok {
		add(Point{p.X0, p.Y0})
		add(Point{p.X1, p.Y1})
	}
	return b.grown(around1)
}

// plate is what the plan knows of the plate's outline: its lower edge, and its sides
// where it gives them; else it is as wide as the holes lie apart. Its upper edge is not
// in the plan: the box ends at the highest hole.
func (t *template) plate() (b Box, ok bool) {
	if t.bracket == nil || t.bracket.LowerEdge <= 0 {
		return Box{}, false
	}
	b = Box{math.Inf(1), math.Inf(1), math.Inf(-1), t.bracket.LowerEdge * 1000}
	for _, h := range t.holes {
		if p := t.spot(h.offset); h.number > 0 {
			b.X0, b.X1, b.Y0 = math.Min(b.X0, p.X), math.Max(b.X1, p.X), math.Min(b.Y0, p.Y)
		}
	}
	b.X0 -= t.bracket.SideEdge * 1000
	b.X1 += t.bracket.SideEdge * 1000
	return b, b.X0 <= b.X1
}

func (t *template) draw() {
	name := clean(t.mount.Channel)
	if t.across*t.down > mostTiles || t.across*t.down < 1 {
		t.flow.section("Template: " + name)
		t.flow.para(fmt.Sprintf("The holes of %s lie too far apart for templates on this paper. Mark them with the tape, from the table of the mark-out sheet.", t.mount.Bracket), normal, false)
		return
	}
	for row := range t.down {
		for col := range t.across {
			title := "Template, full size: " + name
			if t.across*t.down > 1 {
				title += ", part " + tileName(row, col)
			}
			t.flow.section(title)
			t.sheet(row, col)
		}
	}
}

// tileName is a letter for the row and a number for the column: A1, A2, B1.
func tileName(row, col int) string {
	return string(rune('A'+row)) + fmt.Sprint(col+1)
}

package paper

import (
	"fmt"
	"math"
	"strings"
)

// flow lays out one document from top to bottom, sheet after sheet.
type flow struct {
	job    Job
	size   Size
	name   string
	title  string // of the document
	sheets []*pen
	titles []string // of each sheet
	now    string   // the title of the sheets that follow
	y      float64
}

// How much of a sheet its head and foot take.
const (
	headHeight = 16.0
	footHeight = 9.0
)

func (j Job) flow(size Size, name, title string) *flow {
	return &flow{job: j, size: size, name: name, title: title, now: title}
}

// frame keeps lines at the edge within what is printed, however thick they are.
func (f *flow) frame() Box { return f.size.Printable().inset(0.5) }

// body is what head and foot leave.
func (f *flow) body() Box {
	b := f.frame()
	b.Y0 += headHeight
	b.Y1 -= footHeight
	return b
}

func (f *flow) on() *pen {
	if len(f.sheets) == 0 {
		f.turn()
	}
	return f.sheets[len(f.sheets)-1]
}

// turn begins a sheet.
func (f *flow) turn() {
	f.sheets = append(f.sheets, &pen{})
	f.titles = append(f.titles, f.now)
	f.y = f.body().Y0
}

// section begins a sheet with a title of its own.
func (f *flow) section(title string) {
	f.now = title
	f.turn()
}

// need begins a sheet if less than a height is left on this one.
func (f *flow) need(height float64) {
	f.on()
	if b := f.body(); f.y+height > b.Y1 && f.y > b.Y0 {
		f.turn()
	}
}

func (f *flow) space(height float64) {
	if f.on(); f.y > f.body().Y0 {
		f.y += height
	}
}

// finish writes head and foot on every sheet, now that their number is known.
func (f *flow) finish() Document {
	f.on()
	d := Document{Name: f.name, Title: f.title}
	for i, p := range f.sheets {
		f.head(p, i)
		f.foot(p)
		title := f.titles[i]
		if len(f.sheets) > 1 {
			title += fmt.Sprintf(", sheet %d of %d", i+1, len(f.sheets))
		}
		d.Sheets = append(d.Sheets, Sheet{Title: clean(title), Size: f.size, Marks: p.marks})
	}
	return d
}

func (f *flow) head(p *pen, i int) {
	b := f.frame()
	count := Text{At: Point{b.X1, b.Y0 + 4.5}, Text: fmt.Sprintf("sheet %d of %d", i+1, len(f.sheets)), Size: normal, Anchor: End}
	p.text(count)
	room := b.width() - count.Width() - 4
	size := title
	for size > large && textWidth(clean(f.titles[i]), size, true) > room {
		size--
	}
	p.text(Text{At: Point{b.X0, b.Y0 + 4.5}, Text: cut(f.titles[i], size, true, room), Size: size, Bold: true})
	state := Text{At: Point{b.X1 - 1.5, b.Y0 + 10.5}, Text: f.job.stamp(), Size: normal, Bold: true, Anchor: End}
	p.text(state)
	left := state.At.X - state.Width() - 1.5
	if f.job.Draft {
		p.box(Box{left, b.Y0 + 6.5, b.X1, b.Y0 + 12}.inset(plain/2), plain, Solid, Empty)
	}
	p.text(Text{At: Point{b.X0, b.Y0 + 10.5}, Text: cut(f.job.title(), normal, false, left-b.X0-3), Size: normal})
	p.line(Point{b.X0, b.Y0 + 13.5}, Point{b.X1, b.Y0 + 13.5}, plain, Solid)
}

func (b Box) inset(by float64) Box { return b.grown(-by) }

// outdated tells how an old sheet is known.
const outdated = "Compare revision and SHA-256 with the program before using this sheet. Where they differ, it is outdated: do not drill by it."

func (f *flow) foot(p *pen) {
	b := f.frame()
	lost := 0
	for _, m := range p.marks {
		if t, ok := m.(Text); ok {
			_, n := Printable(t.Text)
			lost += n
		}
	}
	y := b.Y1 - 4.6
	p.line(Point{b.X0, y - 3.4}, Point{b.X1, y - 3.4}, thin, Solid)
	for i, l := range wrap(outdated, small, false, b.width(), 1) {
		p.text(Text{At: Point{b.X0, y + lineHeight(small)*float64(i)}, Text: l, Size: small})
	}
	if lost > 0 {
		says := fmt.Sprintf("%d characters of names here are not in the typeface of the PDF; there %c stands for each.", lost, Missing)
		p.text(Text{At: Point{b.X0, y + lineHeight(small)}, Text: cut(says, small, false, b.width()), Size: small})
	}
}

// heading stands above what follows, on the same sheet as at least a height of it.
func (f *flow) heading(text string, with float64) {
	lines := wrap(text, large, true, f.body().width(), 2)
	h := lineHeight(large) * float64(len(lines))
	f.need(h + 3 + with)
	f.space(3)
	f.lines(lines, f.body().X0, large, true)
	f.y += 1
}

// lines writes lines at the flow's place; there must be room.
func (f *flow) lines(lines []string, x, size float64, bold bool) {
	for _, l := range lines {
		f.on().text(Text{At: Point{x, f.y + ascent*size*Pt}, Text: l, Size: size, Bold: bold})
		f.y += lineHeight(size)
	}
}

// para writes a paragraph; it may go on on the next sheet.
func (f *flow) para(text string, size float64, bold bool) {
	for _, l := range wrap(text, size, bold, f.body().width(), 0) {
		f.need(lineHeight(size))
		f.lines([]string{l}, f.body().X0, size, bold)
	}
	f.space(1)
}

// cautions are told in a frame; each stays on one sheet.
func (f *flow) cautions(texts []string) {
	if len(texts) == 0 {
		return
	}
	b := f.body()
	const bar = 4.0
	for i, text := range texts {
		lines := wrap(text, small, false, b.width()-bar-2, 0)
		h := lineHeight(small)*float64(len(lines)) + 0.7
		head := 0.0
		if i == 0 {
			head = lineHeight(normal) + 0.5
		}
		f.need(h + head)
		top := f.y
		if i == 0 || f.y == b.Y0 {
			f.lines([]string{"Caution"}, b.X0+bar, normal, true)
			f.y += 0.5
		}
		f.lines(lines, b.X0+bar, small, false)
		f.y += 0.7
		f.on().box(Box{b.X0, top, b.X0 + 1.5, f.y}, 0, Solid, Black)
	}
	f.space(2)
}

// A column of a table; its share of the width is weight over all weights.
type column struct {
	head   string
	weight float64
	right  bool
}

// A cell holds a text, or a place to tick or to write in.
type cell struct {
	text  string
	bold  bool
	tick  bool
	blank bool
}

func plainCells(texts ...string) []cell {
	cells := make([]cell, len(texts))
	for i, t := range texts {
		cells[i].text = t
	}
	return cells
}

const (
	cellPad   = 1.1 // beside and above a cell's text
	writeHigh = 8.0 // a place to write in by hand
	tickSize  = 4.0
	mostLines = 6 // of one cell
)

// titled is a table under a heading, which stands on the sheet of the table's first row.
func (f *flow) titled(text string, columns []column, rows [][]cell) {
	x := f.edges(columns)
	f.heading(text, 1+f.headOf(columns, x).height+f.row(columns, x, rows[0], normal).height)
	f.table(columns, rows)
}

// edges are where a table's columns begin, and where the last one ends.
func (f *flow) edges(columns []column) []float64 {
	b := f.body()
	var all float64
	for _, c := range columns {
		all += c.weight
	}
	x := make([]float64, len(columns)+1)
	x[0] = b.X0
	for i, c := range columns {
		x[i+1] = x[i] + c.weight/all*b.width()
	}
	return x
}

func (f *flow) headOf(columns []column, x []float64) tableRow {
	cells := make([]cell, len(columns))
	for i, c := range columns {
		cells[i] = cell{text: c.head, bold: true}
	}
	return f.row(columns, x, cells, small)
}

// table writes rows under a head that comes again on each sheet.
func (f *flow) table(columns []column, rows [][]cell) {
	b, x := f.body(), f.edges(columns)
	head := f.headOf(columns, x)
	for i, cells := range rows {
		r := f.row(columns, x, cells, normal)
		if f.on(); i == 0 {
			f.need(head.height + r.height)
		}
		if i == 0 || f.y+r.height > b.Y1 {
			if i > 0 {
				f.turn()
			}
			head.draw(f)
			f.on().line(Point{b.X0, f.y}, Point{b.X1, f.y}, plain, Solid)
		}
		r.draw(f)
		f.on().line(Point{b.X0, f.y}, Point{b.X1, f.y}, thin, Solid)
	}
	f.space(2)
}

// A row that is broken into lines and waits for its place.
type tableRow struct {
	columns []column
	x       []float64
	cells   []cell
	lines   [][]string
	size    float64
	height  float64
}

func (f *flow) row(columns []column, x []float64, cells []cell, size float64) tableRow {
	r := tableRow{columns: columns, x: x, cells: cells, lines: make([][]string, len(cells)), size: size}
	for i, c := range cells {
		r.lines[i] = wrap(c.text, size, c.bold, x[i+1]-x[i]-2*cellPad, mostLines)
		r.height = math.Max(r.height, lineHeight(size)*float64(len(r.lines[i])))
		if c.tick {
			r.height = math.Max(r.height, tickSize)
		}
		if c.blank {
			r.height = math.Max(r.height, writeHigh-2*cellPad)
		}
	}
	r.height += 2 * cellPad
	return r
}

func (r tableRow) draw(f *flow) {
	p := f.on()
	for i, c := range r.cells {
		cell := Box{r.x[i], f.y, r.x[i+1], f.y + r.height}
		switch {
		case c.tick:
			m := cell.middle()
			p.box(around(m, tickSize/2-plain/2), plain, Solid, Empty)
		case c.blank:
			p.box(Box{cell.X0 + 0.6, cell.Y0 + 0.6, cell.X1 - 0.6, cell.Y1 - 0.6}, thin, Solid, Empty)
		}
		for k, l := range r.lines[i] {
			t := Text{At: Point{cell.X0 + cellPad, cell.Y0 + cellPad + lineHeight(r.size)*float64(k) + ascent*r.size*Pt}, Text: l, Size: r.size, Bold: c.bold}
			if r.columns[i].right {
				t.At.X, t.Anchor = cell.X1-cellPad, End
			}
			p.text(t)
		}
	}
	f.y += r.height
}

// fields are places to write in, each under its name, side by side.
func (f *flow) fields(names ...string) {
	b := f.body()
	w := b.width() / float64(len(names))
	h := lineHeight(small) + writeHigh
	f.need(h)
	for i, name := range names {
		x := b.X0 + w*float64(i)
		f.on().text(Text{At: Point{x, f.y + ascent*small*Pt}, Text: cut(name, small, false, w-3), Size: small})
		f.on().line(Point{x, f.y + h - 0.5}, Point{x + w - 3, f.y + h - 0.5}, thin, Solid)
	}
	f.y += h
	f.space(1)
}

// joined puts what is not empty in a row.
func joined(sep string, parts ...string) string {
	var kept []string
	for _, p := range parts {
		if p != "" {
			kept = append(kept, p)
		}
	}
	return strings.Join(kept, sep)
}

package paper

import (
	"errors"
	"fmt"

	"hangtrue/pwa/words"
)

// A Grid is how labels lie on a sheet. Lengths are millimetres: of one label, from the
// sheet's upper left corner to the first one, and between two.
type Grid struct {
	Columns, Rows int
	Width, Height float64
	Left, Top     float64
	Across, Down  float64
	Skip          int  // labels of the first sheet that are used up already
	Cut           bool // the labels' edges are drawn, to cut them out of plain paper
	// Name and Describes are of a grid that can be chosen without typing.
	Name, Describes string
}

// ErrGrid is returned, wrapped with the field, what was read and what is wanted, for a
// grid that no sheet can hold.
var ErrGrid = errors.New("paper: label grid")

// Grids are what can be chosen for a size of paper without typing: plain paper to cut,
// and sizes that label sheets often have. Common practice, no source: measure your own.
func Grids(size Size) []Grid {
	if size.Name == Letter.Name {
		return []Grid{
			{Name: "plain", Describes: "plain paper, to cut", Columns: 3, Rows: 9, Width: 62, Height: 27, Left: 14.95, Top: 18.2, Cut: true},
			{Name: "3x10", Describes: "3 × 10 labels of 66.7 × 25.4 mm", Columns: 3, Rows: 10, Width: 66.7, Height: 25.4, Left: 4.8, Top: 12.7, Across: 3.1},
			{Name: "2x7", Describes: "2 × 7 labels of 101.6 × 33.9 mm", Columns: 2, Rows: 7, Width: 101.6, Height: 33.9, Left: 4.8, Top: 21, Across: 3.1},
		}
	}
	return []Grid{
		{Name: "plain", Describes: "plain paper, to cut", Columns: 3, Rows: 9, Width: 60, Height: 28, Left: 15, Top: 22.5, Cut: true},
		{Name: "3x8", Describes: "3 × 8 labels of 70 × 37 mm", Columns: 3, Rows: 8, Width: 70, Height: 37, Top: 0.5},
		{Name: "4x10", Describes: "4 × 10 labels of 48.5 × 25.4 mm", Columns: 4, Rows: 10, Width: 48.5, Height: 25.4, Left: 8, Top: 21.5},
	}
}

// mostLabels bounds the labels of a sheet, each way.
const mostLabels = 30

// Check tells whether a grid fits on a size of paper. The error is [ErrGrid] and names the
// first field that does not.
func (g Grid) Check(size Size) error {
	whole := func(field string, n, low, high int) error {
		if n < low || n > high {
			return fmt.Errorf("%w: %s: read %d, want %d to %d", ErrGrid, field, n, low, high)
		}
		return nil
	}
	length := func(field string, x, low, high float64) error {
		if !(x >= low && x <= high) {
			return fmt.Errorf("%w: %s: read %s mm, want %s to %s mm", ErrGrid, field, words.Decimals(x, 3), words.Decimals(low, 3), words.Decimals(high, 3))
		}
		return nil
	}
	for _, err := range []error{
		whole("columns", g.Columns, 1, mostLabels), whole("rows", g.Rows, 1, mostLabels),
		length("width", g.Width, 15, size.Width), length("height", g.Height, 8, size.Height),
		length("left", g.Left, 0, size.Width), length("top", g.Top, 0, size.Height),
		length("across", g.Across, 0, size.Width), length("down", g.Down, 0, size.Height),
		whole("skip", g.Skip, 0, max(0, g.Columns*g.Rows-1)),
	} {
		if err != nil {
			return err
		}
	}
	const slack = 0.05 // of a size that was rounded
	if w := g.Left + float64(g.Columns)*g.Width + float64(g.Columns-1)*g.Across; w > size.Width+slack {
		return fmt.Errorf("%w: columns: read %d that come to %s mm, want at most the paper's %s mm", ErrGrid, g.Columns, words.Decimals(w, 2), words.Decimals(size.Width, 1))
	}
	if h := g.Top + float64(g.Rows)*g.Height + float64(g.Rows-1)*g.Down; h > size.Height+slack {
		return fmt.Errorf("%w: rows: read %d that come to %s mm, want at most the paper's %s mm", ErrGrid, g.Rows, words.Decimals(h, 2), words.Decimals(size.Height, 1))
	}
	return nil
}

// label is the nth of a sheet, from the upper left along the rows.
func (g Grid) label(n int) Box {
	col, row := float64(n%g.Columns), float64(n/g.Columns)
	x, y := g.Left+col*(g.Width+g.Across), g.Top+row*(g.Height+g.Down)
	return Box{x, y, x + g.Width, y + g.Height}
}

// labelPad is kept free inside a label's edge, in millimetres: printers feed a sheet a
// little askew.
const labelPad = 2.0

// Labels are the labels of every cable, one for each end, in the order of the cable list.
// Errors are [ErrGrid], also where a label's text does not go on a label of this size, and
// those of package wiring where the plan's names cannot go on labels at all.
func (j Job) Labels(size Size, g Grid) (Document, error) {
	d := Document{Name: "labels", Title: "Cable labels"}
	if err := g.Check(size); err != nil {
		return d, err
	}
	labels, err := j.Plan.ChannelMap().Labels()
	if err != nil {
		return d, err
	}
	var texts [][]string
	for _, l := range labels {
		lines := l.Lines()
		texts = append(texts, lines[:])
	}
	texts = append(texts, []string{cut(j.title(), small, false, g.Width-2*labelPad), j.stamp()}) // so that old labels are known
	each := g.Columns * g.Rows
	for i, text := range texts {
		n := i + g.Skip
		if n/each >= len(d.Sheets) {
			d.Sheets = append(d.Sheets, Sheet{Size: size})
		}
		p := pen{d.Sheets[n/each].Marks}
		if err := g.write(&p, g.label(n%each), text, size); err != nil {
			return Document{Name: d.Name, Title: d.Title}, err
		}
		d.Sheets[n/each].Marks = p.marks
	}
	for i := range d.Sheets {
		d.Sheets[i].Title = fmt.Sprintf("Cable labels, sheet %d of %d", i+1, len(d.Sheets))
	}
	return d, nil
}

// write fills one label, in the largest size that fits.
func (g Grid) write(p *pen, label Box, text []string, size Size) error {
	reach := size.Printable().grown(Margin - leastMargin)
	room, ok := label.inset(labelPad).meet(reach)
	if g.Cut {
		a, b := Point{label.X0, label.Y0}, Point{label.X1, label.Y1}
		c, d := Point{label.X1, label.Y0}, Point{label.X0, label.Y1}
		for _, edge := range [4][2]Point{{a, c}, {c, b}, {d, b}, {a, d}} {
			p.clipped(reach, edge[0], edge[1], hair, Broken)
		}
	}
	for s := large; ok && s >= Smallest; s -= 0.5 {
		var lines []string
		for i, t := range text {
			lines = append(lines, wrap(t, s, i == 0, room.width(), 0)...)
		}
		if lineHeight(s)*float64(len(lines)) > room.height() {
			continue
		}
		if s > Smallest && len(lines) > len(text) {
			continue // a smaller size may not have to break lines
		}
		first := len(wrap(text[0], s, true, room.width(), 0))
		for i, l := range lines {
			p.text(Text{At: Point{room.X0, room.Y0 + lineHeight(s)*float64(i) + ascent*s*Pt}, Text: l, Size: s, Bold: i < first})
		}
		return nil
	}
	return fmt.Errorf("%w: width: read %s × %s mm, want labels that hold %q in %s pt", ErrGrid, words.Decimals(g.Width, 2), words.Decimals(g.Height, 2), text, words.Decimals(Smallest, 1))
}

// leastMargin is what a printer leaves at the least, in millimetres, where a label runs to
// the edge of its sheet. Common practice, no source.
const leastMargin = 5.0

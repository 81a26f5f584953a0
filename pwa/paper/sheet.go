package paper

import "math"

// A Size is a size of paper, in millimetres, upright.
type Size struct {
	Name          string // as files are named: "a4", "letter"
	Width, Height float64
}

// The two sizes. Letter is 8.5 × 11 in.
var (
	A4     = Size{"a4", 210, 297}
	Letter = Size{"letter", 215.9, 279.4}
)

// Sizes are all sizes.
var Sizes = []Size{A4, Letter}

// SizeNamed finds a size by its name.
func SizeNamed(name string) (Size, bool) {
	for _, s := range Sizes {
		if s.Name == name {
			return s, true
		}
	}
	return Size{}, false
}

// Margin is how much of a sheet stays empty on each side, in millimetres: more than
// what printers leave. Common practice, no source.
const Margin = 10.0

// Printable is where marks may be.
func (s Size) Printable() Box { return Box{Margin, Margin, s.Width - Margin, s.Height - Margin} }

// A Point of a sheet, in millimetres from its upper left corner, y downward.
type Point struct{ X, Y float64 }

func (p Point) plus(dx, dy float64) Point { return Point{p.X + dx, p.Y + dy} }

// A Box is a rectangle of a sheet.
type Box struct{ X0, Y0, X1, Y1 float64 }

func (b Box) width() float64  { return b.X1 - b.X0 }
func (b Box) height() float64 { return b.Y1 - b.Y0 }
func (b Box) middle() Point   { return Point{(b.X0 + b.X1) / 2, (b.Y0 + b.Y1) / 2} }
func (b Box) grown(by float64) Box {
	return Box{b.X0 - by, b.Y0 - by, b.X1 + by, b.Y1 + by}
}

func (b Box) overlaps(c Box) bool {
	return b.X0 < c.X1 && c.X0 < b.X1 && b.Y0 < c.Y1 && c.Y0 < b.Y1
}

// Holds tells whether another box lies inside, to a hundredth of a millimetre.
func (b Box) Holds(c Box) bool {
	const slack = 0.01
	return b.X0-slack <= c.X0 && c.X1 <= b.X1+slack && b.Y0-slack <= c.Y0 && c.Y1 <= b.Y1+slack
}

func (b Box) contains(p Point) bool {
	return b.X0 <= p.X && p.X <= b.X1 && b.Y0 <= p.Y && p.Y <= b.Y1
}

// meet is what two boxes share; ok is false when that is nothing.
func (b Box) meet(c Box) (shared Box, ok bool) {
	m := Box{math.Max(b.X0, c.X0), math.Max(b.Y0, c.Y0), math.Min(b.X1, c.X1), math.Min(b.Y1, c.Y1)}
	return m, m.X0 < m.X1 && m.Y0 < m.Y1
}

// around is the square about a point.
func around(p Point, half float64) Box { return Box{p.X - half, p.Y - half, p.X + half, p.Y + half} }

// A Mark is one thing drawn on a sheet: a [Path], a [Circle] or a [Text].
type Mark interface{ Bounds() Box }

// A Fill of a closed path or a circle.
type Fill uint8

const (
	Empty Fill = iota // what is below shows
	White
	Grey // a light one; it never tells anything alone
	Black
)

// A Dash of a line.
type Dash uint8

const (
	Solid   Dash = iota
	Broken       // strokes
	DashDot      // a centre line
)

// Pattern is the dash as lengths of stroke and gap in millimetres, none for a solid line.
func (d Dash) Pattern() []float64 {
	switch d {
	case Broken:
		return []float64{2, 1.2}
	case DashDot:
		return []float64{6, 1.2, 0.6, 1.2}
	}
	return nil
}

// A Path goes from point to point, and back to the first where it is closed. Width is
// the line's, in millimetres; 0 draws none.
type Path struct {
	Points []Point
	Closed bool
	Width  float64
	Dash   Dash
	Fill   Fill
}

// Bounds includes the line's width.
func (p Path) Bounds() Box {
	b := Box{math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)}
	for _, q := range p.Points {
		b = Box{math.Min(b.X0, q.X), math.Min(b.Y0, q.Y), math.Max(b.X1, q.X), math.Max(b.Y1, q.Y)}
	}
	return b.grown(p.Width / 2)
}

// A Circle with its line's width, all in millimetres.
type Circle struct {
	Centre        Point
	Radius, Width float64
	Fill          Fill
}

// Bounds includes the line's width.
func (c Circle) Bounds() Box { return around(c.Centre, c.Radius+c.Width/2) }

// An Anchor is which part of a text stands at its point.
type Anchor uint8

const (
	Start Anchor = iota
	Middle
	End
)

// A Text is one line. At is on its base line; Size is in points (1/72 in). A turned
// one reads upward.
type Text struct {
	At     Point
	Text   string
	Size   float64
	Bold   bool
	Anchor Anchor
	Turned bool
}

// Bounds are what the text may cover in the typeface it is laid out with.
func (t Text) Bounds() Box {
	w := t.Width()
	back := map[Anchor]float64{Start: 0, Middle: w / 2, End: w}[t.Anchor]
	up, down := ascent*t.Size*Pt, descent*t.Size*Pt
	if t.Turned {
		return Box{t.At.X - up, t.At.Y + back - w, t.At.X + down, t.At.Y + back}
	}
	return Box{t.At.X - back, t.At.Y - up, t.At.X - back + w, t.At.Y + down}
}

// Width is how long the text runs, in millimetres.
func (t Text) Width() float64 { return textWidth(t.Text, t.Size, t.Bold) }

// A Sheet is what is drawn on one page.
type Sheet struct {
	Title string // "Mark-out: left wall, sheet 2 of 5"
	Size  Size
	Marks []Mark
}

// A Document is sheets that belong together.
type Document struct {
	Name   string // as files are named
	Title  string
	Sheets []Sheet
}

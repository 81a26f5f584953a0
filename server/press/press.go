package press

import (
	"bytes"
	"fmt"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"hangtrue/pwa/paper"
)

// printed stands for the date of every file, so that the same sheets give the same bytes.
var printed = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

const face = "Go"

// PDF writes documents one after the other into one file. It fails when there is no
// sheet, and when the library does.
func PDF(title string, documents ...paper.Document) ([]byte, error) {
	p := fpdf.NewCustom(&fpdf.InitType{UnitStr: "mm"})
	p.SetCatalogSort(true)
	p.SetCreationDate(printed)
	p.SetModificationDate(printed)
	p.SetProducer("hangtrue", true)
	p.SetTitle(title, true)
	p.SetDisplayMode("fullpage", "single")
	p.SetAutoPageBreak(false, 0)
	p.SetMargins(0, 0, 0)
	p.SetLineCapStyle("butt")
	regular, bold := paper.Fonts()
	p.AddUTF8FontFromBytes(face, "", regular)
	p.AddUTF8FontFromBytes(face, "B", bold)
	for _, d := range documents {
		for _, s := range d.Sheets {
			// The library takes the shorter side for the width of an upright page.
			p.AddPageFormat("P", fpdf.SizeType{Wd: s.Size.Width, Ht: s.Size.Height})
			sheet{p, s}.draw()
		}
	}
	if p.PageCount() == 0 {
		return nil, fmt.Errorf("press: %s: it has no sheets, wanted at least one", title)
	}
	var out bytes.Buffer
	if err := p.Output(&out); err != nil {
		return nil, fmt.Errorf("press: %s: %w", title, err)
	}
	return out.Bytes(), nil
}

type sheet struct {
	*fpdf.Fpdf
	paper.Sheet
}

func (s sheet) draw() {
	for _, m := range s.Marks {
		switch m := m.(type) {
		case paper.Path:
			s.path(m)
		case paper.Circle:
			if style := s.ink(m.Width, paper.Solid, m.Fill); style != "" {
				s.Circle(m.Centre.X, m.Centre.Y, m.Radius, style)
			}
		case paper.Text:
			s.text(m)
		}
	}
}

// greys of the fills, 0 to 255.
var greys = map[paper.Fill]int{paper.White: 255, paper.Grey: 221, paper.Black: 0}

// ink sets line and fill and gives the library's word for what to draw, "" for nothing.
func (s sheet) ink(width float64, dash paper.Dash, fill paper.Fill) string {
	style := ""
	if fill != paper.Empty {
		g := greys[fill]
		s.SetFillColor(g, g, g)
		style = "F"
	}
	if width > 0 {
		s.SetLineWidth(width)
		s.SetDashPattern(dash.Pattern(), 0)
		style += "D"
	}
	return style
}

func (s sheet) path(p paper.Path) {
	style := s.ink(p.Width, p.Dash, p.Fill)
	if style == "" || len(p.Points) < 2 {
		return
	}
	s.MoveTo(p.Points[0].X, p.Points[0].Y)
	for _, q := range p.Points[1:] {
		s.LineTo(q.X, q.Y)
	}
	if p.Closed {
		s.ClosePath()
	}
	s.DrawPath(style)
}

func (s sheet) text(t paper.Text) {
	text, _ := paper.Printable(t.Text)
	if text == "" {
		return
	}
	style := ""
	if t.Bold {
		style = "B"
	}
	s.SetFont(face, style, t.Size)
	back := map[paper.Anchor]float64{paper.Middle: 0.5, paper.End: 1}[t.Anchor] * s.GetStringWidth(text)
	if !t.Turned {
		s.Text(t.At.X-back, t.At.Y, text)
		return
	}
	s.TransformBegin()
	s.TransformRotate(90, t.At.X, t.At.Y)
	s.Text(t.At.X-back, t.At.Y, text)
	s.TransformEnd()
}

package paper

import (
	"strconv"
	"strings"

	"hangtrue/pwa/markup"
)

// SVG draws the sheet in its true size: one unit is a millimetre, and width and height
// say so. A text keeps the width it was laid out with, whatever typeface shows it.
func (s Sheet) SVG() markup.Node {
	return markup.El("svg", markup.Attr("xmlns", "http://www.w3.org/2000/svg"), markup.Attr("role", "img"), markup.Attr("class", "sheet"),
		markup.Attr("width", num(s.Size.Width)+"mm"), markup.Attr("height", num(s.Size.Height)+"mm"),
		markup.Attr("viewBox", "0 0 "+num(s.Size.Width)+" "+num(s.Size.Height)),
		markup.Attr("font-family", "Go, Arial, Helvetica, sans-serif"), markup.Attr("fill", "#000"),
		markup.El("title", markup.Text(s.Title)),
		markup.El("rect", markup.Attr("width", num(s.Size.Width)), markup.Attr("height", num(s.Size.Height)), markup.Attr("fill", "#fff")),
		markup.Each(s.Marks, svgMark))
}

func svgMark(m Mark) markup.Node {
	switch m := m.(type) {
	case Path:
		tag, points := "polyline", make([]string, len(m.Points))
		if m.Closed {
			tag = "polygon"
		}
		for i, p := range m.Points {
			points[i] = num(p.X) + "," + num(p.Y)
		}
		return markup.El(tag, markup.Attr("points", strings.Join(points, " ")), ink(m.Width, m.Dash, m.Fill))
	case Circle:
		return markup.El("circle", markup.Attr("cx", num(m.Centre.X)), markup.Attr("cy", num(m.Centre.Y)), markup.Attr("r", num(m.Radius)), ink(m.Width, Solid, m.Fill))
	case Text:
		return svgText(m)
	}
	return nil
}

var fills = map[Fill]string{Empty: "none", White: "#fff", Grey: "#ddd", Black: "#000"}

func ink(width float64, dash Dash, fill Fill) markup.Node {
	attrs := []markup.Node{markup.Attr("fill", fills[fill])}
	if width > 0 {
		attrs = append(attrs, markup.Attr("stroke", "#000"), markup.Attr("stroke-width", num(width)))
	}
	if pattern := dash.Pattern(); pattern != nil {
		lengths := make([]string, len(pattern))
		for i, l := range pattern {
			lengths[i] = num(l)
		}
		attrs = append(attrs, markup.Attr("stroke-dasharray", strings.Join(lengths, " ")))
	}
	return markup.Group(attrs...)
}

func svgText(t Text) markup.Node {
	anchor := map[Anchor]string{Middle: "middle", End: "end"}[t.Anchor]
	return markup.El("text", markup.Attr("x", num(t.At.X)), markup.Attr("y", num(t.At.Y)), markup.Attr("font-size", num(t.Size*Pt)),
		markup.If(t.Bold, markup.Attr("font-weight", "700")), markup.If(anchor != "", markup.Attr("text-anchor", anchor)),
		markup.If(t.Turned, markup.Attr("transform", "rotate(-90 "+num(t.At.X)+" "+num(t.At.Y)+")")),
		markup.Attr("textLength", num(t.Width())), markup.Attr("lengthAdjust", "spacingAndGlyphs"), markup.Text(t.Text))
}

// num writes millimetres to the micrometre.
func num(x float64) string {
	s := strings.TrimRight(strings.TrimRight(strconv.FormatFloat(x, 'f', 3, 64), "0"), ".")
	if s == "-0" {
		return "0"
	}
	return s
}

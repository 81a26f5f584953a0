package drawing

import (
	"strconv"

	. "hangtrue/pwa/markup"
)

// grip is the radius of what a finger takes hold of, on a sheet of a phone's width:
// 44 CSS pixels across where the sheet is shown 328 pixels wide, as on a phone of
// 360 with its margins (WCAG 2.2, 2.5.5: 44).
const grip = 24.5

// A held mark is one that a script may move.
type held struct {
	on    bool
	width float64 // of the sheet
}

// mark is a mount's mark, with a disc around it that is not seen where it may be moved.
func (h held) mark(channel string, at point, mark ...Node) Node {
	if !h.on {
		return Group(mark...)
	}
	return El("g", Attr("data-drag", channel), Group(mark...), circle("handle", at, grip*h.width/phoneWidth))
}

// axes say how the sheet lies on what is drawn.
func (h held) axes(p projection, right, up string) Node {
	if !h.on {
		return nil
	}
	return Group(Attr("data-per-metre", strconv.FormatFloat(p.scale, 'f', 4, 64)), Attr("data-zero", num(p.zero.x)+" "+num(p.zero.y)),
		Attr("data-right", right), Attr("data-up", up))
}

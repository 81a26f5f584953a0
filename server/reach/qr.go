package reach

import (
	"fmt"
	"image/color"
	"strings"

	"github.com/boombuler/barcode/qr"

	"hangtrue/pwa/markup"
)

// quiet is the margin that a reader needs around a code, in modules (ISO/IEC 18004).
const quiet = 4

// QR draws a text as a QR code (ISO/IEC 18004, error correction level M) in SVG. One
// user unit is one module. It fails when the text is too long for a code.
func QR(text, title string) (markup.Node, error) {
	code, err := qr.Encode(text, qr.M, qr.Auto)
	if err != nil {
		return nil, fmt.Errorf("reach: a QR code of %d characters: %w", len(text), err)
	}
	size := code.Bounds().Dx()
	var path strings.Builder
	for y := range size {
		for x := 0; x < size; x++ {
			run := 0
			for x+run < size && code.At(x+run, y) == color.Black {
				run++
			}
			if run > 0 {
				fmt.Fprintf(&path, "M%d %dh%dv1h-%dz", x+quiet, y+quiet, run, run)
				x += run
			}
		}
	}
	side := size + 2*quiet
	return markup.El("svg", markup.Attr("xmlns", "http://www.w3.org/2000/svg"), markup.Attr("viewBox", fmt.Sprintf("0 0 %d %d", side, side)),
		markup.Attr("width", fmt.Sprint(side*5)), markup.Attr("height", fmt.Sprint(side*5)), markup.Attr("role", "img"), markup.Attr("shape-rendering", "crispEdges"),
		markup.El("title", markup.Text(title)),
		markup.El("path", markup.Attr("fill", "#fff"), markup.Attr("d", fmt.Sprintf("M0 0h%dv%dH0z", side, side))),
		markup.El("path", markup.Attr("fill", "#000"), markup.Attr("d", path.String()))), nil
}

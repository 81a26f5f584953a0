package press_test

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf16"

	"github.com/stretchr/testify/require"
)

// A page as it stands in a PDF file, read by this file alone: nothing here knows the
// program's own layout. Lengths are millimetres from the upper left corner of the page's
// box; ISO 32000-1:2008 §8.3.2.3 has a unit of user space as 1/72 in.
type page struct {
	width, height float64
	paths         []drawn
	texts         []written
}

// drawn is one painted path, as the points it goes through.
type drawn struct {
	points []spot
	curved bool
	closed bool
	dashes int // numbers in the dash pattern, 0 for a solid line
}

type spot struct{ x, y float64 }

// written is a text where it starts; turned ones read upward.
type written struct {
	at     spot
	size   float64 // points
	text   string
	turned bool
}

const mm = 25.4 / 72

var (
	object    = regexp.MustCompile(`(?s)(\d+) 0 obj\n(.*?)\nendobj`)
	reference = regexp.MustCompile(`(\d+) 0 R`)
	mediaBox  = regexp.MustCompile(`/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]`)
	contents  = regexp.MustCompile(`/Contents (\d+) 0 R`)
	kids      = regexp.MustCompile(`(?s)/Kids \[(.*?)\]`)
)

// readPDF reads the pages of a file: page tree, boxes, and the drawing operators.
func readPDF(t require.TestingT, file []byte) []page {
	require.True(t, bytes.HasPrefix(file, []byte("%PDF-1.")))
	objects := map[string][]byte{}
	var tree []byte
	for _, m := range object.FindAllSubmatch(file, -1) {
		objects[string(m[1])] = m[2]
		if bytes.Contains(m[2], []byte("/Type /Pages")) {
			tree = m[2]
		}
	}
	require.NotNil(t, tree, "a page tree")
	var pages []page
	for _, kid := range reference.FindAllSubmatch(kids.FindSubmatch(tree)[1], -1) {
		dict := objects[string(kid[1])]
		box := mediaBox.FindSubmatch(dict)
		if box == nil {
			box = mediaBox.FindSubmatch(tree) // inherited
		}
		require.NotNil(t, box)
		p := page{width: real(t, box[1]) * mm, height: real(t, box[2]) * mm}
		p.run(t, stream(t, objects[string(contents.FindSubmatch(dict)[1])]))
		pages = append(pages, p)
	}
	return pages
}

func real(t require.TestingT, b []byte) float64 {
	x, err := strconv.ParseFloat(string(b), 64)
	require.NoError(t, err)
	return x
}

func stream(t require.TestingT, object []byte) []byte {
	head, body, ok := bytes.Cut(object, []byte("stream\n"))
	require.True(t, ok)
	body = bytes.TrimSuffix(body, []byte("\nendstream"))
	if !bytes.Contains(head, []byte("/FlateDecode")) {
		return body
	}
	r, err := zlib.NewReader(bytes.NewReader(body))
	require.NoError(t, err)
	out, err := io.ReadAll(r)
	require.NoError(t, err)
	return out
}

// matrix is a, b, c, d, e, f of ISO 32000-1 §8.3.3.
type matrix [6]float64

func (m matrix) times(n matrix) matrix {
	return matrix{
		m[0]*n[0] + m[1]*n[2], m[0]*n[1] + m[1]*n[3], m[2]*n[0] + m[3]*n[2], m[2]*n[1] + m[3]*n[3],
		m[4]*n[0] + m[5]*n[2] + n[4], m[4]*n[1] + m[5]*n[3] + n[5],
	}
}

// run follows the operators of a content stream; one it does not know fails the test.
func (p *page) run(t require.TestingT, content []byte) {
	ctm := matrix{1, 0, 0, 1, 0, 0}
	var stack []matrix
	var args []string
	var path drawn
	var start spot
	size, dashes := 0.0, 0
	var at [2]float64
	place := func(x, y float64) spot {
		return spot{(x*ctm[0] + y*ctm[2] + ctm[4]) * mm, p.height - (x*ctm[1]+y*ctm[3]+ctm[5])*mm}
	}
	num := func(i int) float64 { return real(t, []byte(args[i])) }
	paint := func(closed bool) {
		path.closed, path.dashes = path.closed || closed, dashes
		p.paths = append(p.paths, path)
		path = drawn{}
	}
	for _, token := range tokens(content) {
		switch token {
		case "q":
			stack = append(stack, ctm)
		case "Q":
			ctm, stack = stack[len(stack)-1], stack[:len(stack)-1]
		case "cm":
			ctm = matrix{num(0), num(1), num(2), num(3), num(4), num(5)}.times(ctm)
		case "m":
			require.Empty(t, path.points, "a path in one piece")
			start = place(num(0), num(1))
			path.points = append(path.points, start)
		case "l":
			path.points = append(path.points, place(num(0), num(1)))
		case "c":
			path.points, path.curved = append(path.points, place(num(4), num(5))), true
		case "h":
			path.closed = true
		case "S", "f", "B":
			paint(false)
		case "s", "b":
			paint(true)
		case "BT", "ET":
		case "Tf":
			size = num(1)
		case "Td":
			at = [2]float64{num(0), num(1)}
		case "Tj":
			p.texts = append(p.texts, written{place(at[0], at[1]), size, decode(args[0]), ctm[1] > 0.5})
		case "d":
			dashes = len(args) - 3 // the brackets and the phase
		case "w", "J", "j", "G", "g", "RG", "rg":
		default:
			if c := token[0]; c >= '0' && c <= '9' || strings.ContainsRune("-.[]/(", rune(c)) {
				args = append(args, token)
				continue
			}
			require.Fail(t, "an operator that is not known: "+token)
		}
		args = nil
	}
}

// tokens parts a content stream; a string keeps its opening bracket.
func tokens(content []byte) []string {
	var all []string
	for i := 0; i < len(content); {
		switch c := content[i]; {
		case bytes.IndexByte([]byte(" \n\r\t"), c) >= 0:
			i++
		case c == '[' || c == ']':
			all = append(all, string(c))
			i++
		case c == '(':
			var s []byte
			for i++; content[i] != ')'; i++ {
				if content[i] == '\\' {
					i++
					if content[i] == 'r' {
						s = append(s, '\r')
						continue
					}
				}
				s = append(s, content[i])
			}
			i++
			all = append(all, "("+string(s))
		default:
			from := i
			for i < len(content) && bytes.IndexByte([]byte(" \n\r\t[]()"), content[i]) < 0 {
				i++
			}
			all = append(all, string(content[from:i]))
		}
	}
	return all
}

// decode reads a string of two-byte codes, which stand for characters of the basic plane.
func decode(s string) string {
	b := []byte(s[1:])
	var units []uint16
	for i := 0; i+1 < len(b); i += 2 {
		units = append(units, uint16(b[i])<<8|uint16(b[i+1]))
	}
	return string(utf16.Decode(units))
}

// circle is a curved path's centre and radius, where all its points lie as far from one.
func (d drawn) circle() (c spot, radius float64, ok bool) {
	if !d.curved {
		return spot{}, 0, false
	}
	round := d.points[1:] // the first is the last again
	for _, p := range round {
		c.x += p.x / float64(len(round))
		c.y += p.y / float64(len(round))
	}
	radius = math.Hypot(round[0].x-c.x, round[0].y-c.y)
	for _, p := range round {
		if math.Abs(math.Hypot(p.x-c.x, p.y-c.y)-radius) > 0.005 {
			return spot{}, 0, false
		}
	}
	return c, radius, true
}

// line is a path's ends, where it is one straight line.
func (d drawn) line() (a, b spot, ok bool) {
	if d.curved || d.closed || len(d.points) != 2 {
		return spot{}, spot{}, false
	}
	return d.points[0], d.points[1], true
}

// dump tells what is on a page in words and numbers, a line each.
func (p page) dump() string {
	var out strings.Builder
	fmt.Fprintf(&out, "page %.2f x %.2f mm, %d paths\n", p.width, p.height, len(p.paths))
	for _, w := range p.texts {
		turned := ""
		if w.turned {
			turned = " turned"
		}
		fmt.Fprintf(&out, "%7.2f %7.2f %4.1f pt%s %s\n", w.at.x, w.at.y, w.size, turned, w.text)
	}
	return out.String()
}

package paper

import (
	"strings"
	"sync"
	"unicode"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

const (
	// Pt is one point in millimetres, 1/72 in.
	Pt = 25.4 / 72
	// Smallest is the least size of a text, in points.
	Smallest = 8.0

	small  = Smallest
	normal = 9.0
	large  = 11.0
	title  = 14.0

	// How far a line reaches above and below its base line, as a part of its size, and
	// how far lines stand apart.
	ascent, descent = 0.80, 0.22
	leading         = 1.22
)

// Missing stands on paper for a character that the typeface does not have.
const Missing = '□'

// Fonts are the two faces of the typeface that sheets are laid out with, as TrueType
// files: regular and bold.
func Fonts() (regular, bold []byte) { return goregular.TTF, gobold.TTF }

// widths are how wide each character of a face runs, as a part of its size.
type widths map[rune]float64

// faces are measured once: it takes a few milliseconds.
var faces = sync.OnceValue(func() [2]widths {
	return [2]widths{measure(goregular.TTF), measure(gobold.TTF)}
})

// lastRune is beyond every character of the typeface but two ligatures, which nobody types.
const lastRune = 0x2600

func measure(ttf []byte) widths {
	w := widths{}
	f, err := sfnt.Parse(ttf)
	if err != nil {
		return w // the typeface is part of the program: a test reads it
	}
	var buffer sfnt.Buffer
	em := f.UnitsPerEm()
	for r := rune(' '); r < lastRune; r++ {
		glyph, err := f.GlyphIndex(&buffer, r)
		if err != nil || glyph == 0 {
			continue
		}
		if advance, err := f.GlyphAdvance(&buffer, glyph, fixed.I(int(em)), font.HintingNone); err == nil {
			w[r] = float64(advance) / 64 / float64(em)
		}
	}
	return w
}

// of is a character's width. One that the face lacks is as wide as the widest script's.
func (w widths) of(r rune) float64 {
	if x, ok := w[r]; ok {
		return x
	}
	if unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf) {
		return 0 // it stands on the one before
	}
	return 1
}

func textWidth(s string, size float64, bold bool) float64 {
	w := faces()[0]
	if bold {
		w = faces()[1]
	}
	var ems float64
	for _, r := range s {
		ems += w.of(r)
	}
	return ems * size * Pt
}

// Printable is a text as the typeface can print it: [Missing] stands for each of the
// lost characters that it lacks.
func Printable(s string) (text string, lost int) {
	w := faces()[0]
	return strings.Map(func(r rune) rune {
		switch _, ok := w[r]; {
		case ok:
			return r
		case unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf):
			return -1
		}
		lost++
		return Missing
	}, s), lost
}

// clean makes one line of a text: breaks become spaces, and what is not to be seen but
// turns the order of what stands around it is left out.
func clean(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case unicode.IsSpace(r) || r == '\u2028' || r == '\u2029':
			return ' '
		case unicode.IsControl(r), r == unicode.ReplacementChar, r >= '\u202a' && r <= '\u202e', r >= '\u2066' && r <= '\u2069', r == '\u200e', r == '\u200f', r == '\u061c':
			return -1
		}
		return r
	}, s)
}

// wrap breaks a text into lines no wider than width, in millimetres. What does not fit
// into most lines is cut with an ellipsis; most 0 allows any number.
func wrap(s string, size float64, bold bool, width float64, most int) []string {
	var lines []string
	for _, word := range strings.Fields(clean(s)) {
		if n := len(lines); n > 0 && textWidth(lines[n-1]+" "+word, size, bold) <= width {
			lines[n-1] += " " + word
			continue
		}
		for _, piece := range pieces(word, size, bold, width) {
			if most > 0 && len(lines) == most {
				lines[most-1] = cut(lines[most-1]+" "+piece, size, bold, width)
				return lines
			}
			lines = append(lines, piece)
		}
	}
	return lines
}

// pieces breaks a word that is wider than a line.
func pieces(word string, size float64, bold bool, width float64) []string {
	if textWidth(word, size, bold) <= width {
		return []string{word}
	}
	var all []string
	from := 0
	for i, r := range word {
		if i > from && textWidth(word[from:i]+string(r), size, bold) > width {
			all = append(all, word[from:i])
			from = i
		}
	}
	return append(all, word[from:])
}

// cut shortens a text to a width; the ellipsis tells.
func cut(s string, size float64, bold bool, width float64) string {
	s = strings.TrimSpace(clean(s))
	if textWidth(s, size, bold) <= width {
		return s
	}
	runes := []rune(s)
	for len(runes) > 0 && textWidth(string(runes)+"…", size, bold) > width {
		runes = runes[:len(runes)-1]
	}
	return strings.TrimSpace(string(runes)) + "…"
}

func lineHeight(size float64) float64 { return leading * size * Pt }

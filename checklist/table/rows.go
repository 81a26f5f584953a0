package table

import (
	"slices"
	"strings"
)

// A cell as the file has it. Where it is no cell, fault says what is wanted instead.
type cell struct{ text, fault string }

// A row of cells, numbered from 1 as a spreadsheet numbers it: a blank line counts, a line break inside a quoted cell
// does not.
type row struct {
	number int
	cells  []cell
	beyond bool // there is something in a cell beyond those
}

// at is the cell at a place; a row that ends early has empty ones there.
func (r row) at(place int) cell {
	if place >= len(r.cells) {
		return cell{}
	}
	return r.cells[place]
}

// blank tells whether nothing is in the row: sheets end in such rows.
func (r row) blank() bool {
	return !r.beyond && !slices.ContainsFunc(r.cells, func(c cell) bool { return !c.blank() })
}

func (c cell) blank() bool { return c.fault == "" && strings.TrimSpace(c.text) == "" }

// maxCells bounds the cells of a row: no table here has a quarter of it, and a row that goes on is no row.
const maxCells = 100

// A scanner takes rows off a text (RFC 4180) in which every line break is one \n. Beyond the RFC it lets spaces stand
// around a quoted cell, and quotes inside one that does not begin with a quote, for a tape says 49 3/8": both can be
// read in one way only.
type scanner struct {
	text  string
	comma byte
	row   int
}

// next is the next row that is not blank.
func (s *scanner) next() (row, bool) {
	for s.text != "" {
		s.row++
		r := row{number: s.row}
		for last := false; !last; {
			var c cell
			if c, last = s.cell(); len(r.cells) <= maxCells {
				r.cells = append(r.cells, c)
			} else {
				r.beyond = r.beyond || !c.blank()
			}
		}
		if !r.blank() {
			return r, true
		}
	}
	return row{}, false
}

// cell takes a cell and what ends it; it is the last of its row before a line break or the end.
func (s *scanner) cell() (c cell, last bool) {
	if inside, ok := strings.CutPrefix(strings.TrimLeft(s.text, " "), `"`); ok {
		return s.quoted(inside)
	}
	c.text, last = s.plain()
	return c, last
}

func (s *scanner) plain() (text string, last bool) {
	i := strings.IndexAny(s.text, string(s.comma)+"\n")
	if i < 0 {
		text, s.text = s.text, ""
		return text, true
	}
	text, last = s.text[:i], s.text[i] == '\n'
	s.text = s.text[i+1:]
	return text, last
}

// quoted takes the rest of a cell whose opening quote has been taken.
func (s *scanner) quoted(inside string) (c cell, last bool) {
	var b strings.Builder
	for {
		before, after, closed := strings.Cut(inside, `"`)
		b.WriteString(before)
		if !closed {
			s.text = ""
			return cell{b.String(), "a closing quote after the cell's opening one; a quote inside is doubled"}, true
		}
		var doubled bool
		if inside, doubled = strings.CutPrefix(after, `"`); !doubled {
			break
		}
		b.WriteByte('"')
	}
	s.text = inside
	tail, last := s.plain()
	if strings.TrimSpace(tail) == "" {
		return cell{text: b.String()}, last
	}
	return cell{b.String() + `"` + tail, "nothing between a cell's closing quote and the next cell; a quote inside is doubled"}, last
}

// delimiters a file may have, the first being taken where the header leaves it open.
const delimiters = ",;\t"

// begin puts a scanner on a text: with the delimiter that it names in a first line "sep=;", or with the one that finds
// most known names in the header.
func begin(text string, known func(name string) bool) scanner {
	if rest, ok := strings.CutPrefix(text, "sep="); ok && len(rest) > 1 && rest[1] == '\n' && strings.IndexByte(delimiters, rest[0]) >= 0 {
		return scanner{text: rest[2:], comma: rest[0], row: 1}
	}
	best, most := scanner{}, -1
	for _, comma := range []byte(delimiters) {
		s := scanner{text: text, comma: comma}
		found := 0
		header, _ := s.next()
		for _, c := range header.cells {
			if known(c.text) {
				found++
			}
		}
		if found > most {
			best, most = scanner{text: text, comma: comma}, found
		}
	}
	return best
}

package table

import (
	"bytes"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"unicode/utf8"

	"hangtrue/checklist/strict"
)

// A sheet is a file whose header was read, and what is wrong with it so far.
type sheet struct {
	scanner
	columns  []column
	place    []int    // of each column in a row; -1 where the file does not have it
	names    []string // of the file's columns as it writes them
	problems Problems
}

// open reads the header. Where there is a problem that makes the rows unreadable, rows gives none.
func open(data []byte, columns []column) *sheet {
	s := &sheet{columns: columns, place: make([]int, len(columns))}
	for i := range s.place {
		s.place[i] = -1
	}
	switch {
	case len(data) > strict.MaxSize:
		s.problems.add(Problem{Place: "the file", Read: fmt.Sprintf("%d bytes", len(data)), Want: fmt.Sprintf("at most %d bytes", strict.MaxSize)})
		return s
	case bytes.HasPrefix(data, []byte{0xff, 0xfe}) || bytes.HasPrefix(data, []byte{0xfe, 0xff}):
		s.problems.add(Problem{Place: "the file", Read: "UTF-16 text", Want: saveAs})
		return s
	}
	text := strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(strings.TrimPrefix(string(data), "\ufeff"))
	s.scanner = begin(text, func(name string) bool { return s.find(name) >= 0 })
	s.header()
	return s
}

const saveAs = "UTF-8 text: save the sheet as CSV in UTF-8"

// plainName is a column's name as people write it, spelled as its key.
func plainName(written string) string {
	return strings.NewReplacer(" ", "_", "-", "_").Replace(strings.ToLower(strings.TrimSpace(written)))
}

// find is the index of the column that a header cell names, -1 if there is none.
func (s *sheet) find(written string) int {
	name := plainName(written)
	return slices.IndexFunc(s.columns, func(c column) bool { return c.key == name })
}

func (s *sheet) keys() []string {
	keys := make([]string, len(s.columns))
	for i, c := range s.columns {
		keys[i] = c.key
	}
	return keys
}

func (s *sheet) header() {
	header, ok := s.next()
	if !ok {
		s.problems.add(Problem{Place: "the file", Read: "nothing", Want: "a header row with the names of the columns: " + strings.Join(s.keys(), ", ")})
		return
	}
	if !slices.ContainsFunc(header.cells, func(c cell) bool { return s.find(c.text) >= 0 }) {
		s.problems.add(Problem{Row: header.number, Read: strict.Quote(header.cells[0].text), Want: "a header row with the names of the columns: " + strings.Join(s.keys(), ", ")})
		s.text = ""
		return
	}
	s.names = make([]string, len(header.cells))
	for at, c := range header.cells {
		s.names[at] = strings.TrimSpace(c.text)
		here := Problem{Row: header.number, Column: s.names[at], Read: strict.Quote(s.names[at]), Want: c.fault}
		switch i := s.find(c.text); {
		case c.fault != "":
			here.Column = ""
			s.problems.add(here)
		case s.names[at] == "": // a column without a name may stay empty
		case !utf8.ValidString(c.text):
			here.Want = saveAs
			s.problems.add(here)
		case i < 0:
			here.Read, here.Want = "the unknown name "+here.Read, "one of "+strings.Join(s.keys(), ", ")
			if near := strict.Nearest(plainName(c.text), s.keys()); near != "" {
				here.Want = "a known name; perhaps " + strict.Quote(near)
			}
			s.problems.add(here)
		case s.place[i] >= 0:
			here.Read, here.Want = "the name a second time", "each column once"
			s.problems.add(here)
		default:
			s.place[i] = at
		}
	}
	s.missing(header.number, "it says which mount a row is about", func(i int, _ column) bool { return i == 0 })
}

// missing says which of the wanted columns the file does not have.
func (s *sheet) missing(row int, why string, wanted func(i int, c column) bool) {
	var keys []string
	for i, c := range s.columns {
		if s.place[i] < 0 && wanted(i, c) {
			keys = append(keys, strict.Quote(c.key))
		}
	}
	if len(keys) > 0 {
		s.problems.add(Problem{Row: row, Read: "no column " + strings.Join(keys, ", "), Want: "one: " + why})
	}
}

// nameOf is a column of a key in the words of the file.
func (s *sheet) nameOf(key string) string {
	for i, c := range s.columns {
		if c.key == key && s.place[i] >= 0 {
			return s.names[s.place[i]]
		}
	}
	return key
}

// rows gives every row that is not blank and whose first column, which names what the row is about, can be read.
func (s *sheet) rows(each func(r row, first string)) {
	found := false
	for !s.problems.full() {
		r, ok := s.next()
		if !ok {
			break
		}
		found = true
		if !s.whole(r) || s.place[0] < 0 {
			continue
		}
		var first struct{ Name string }
		if s.put(r, 0, reflect.ValueOf(&first).Elem().Field(0)) {
			each(r, first.Name)
		}
	}
	if !found && len(s.problems) == 0 {
		s.problems.add(Problem{Place: "the file", Read: "a header and no rows", Want: "a row below the header"})
	}
}

// whole tells whether a row can be read cell by cell, and says what is in the way or stands where no column is.
func (s *sheet) whole(r row) bool {
	if len(r.cells) > maxCells {
		s.problems.add(Problem{Row: r.number, Read: fmt.Sprintf("more than %d cells", maxCells), Want: fmt.Sprintf("%d, as the header has", len(s.names))})
		return false
	}
	for at, c := range r.cells {
		named := at < len(s.names) && s.names[at] != ""
		switch {
		case c.fault != "": // where it ends, and with it what comes after, is not known
			p := Problem{Row: r.number, Read: strict.Quote(c.text), Want: c.fault}
			if named {
				p.Column = s.names[at]
			}
			s.problems.add(p)
			return false
		case !named && !c.blank():
			s.problems.add(Problem{Row: r.number, Read: fmt.Sprintf("%s in column %d", strict.Quote(c.text), at+1), Want: "nothing, or a name for the column in the header"})
		}
	}
	return true
}

// put reads a row's cell of a column into a field, and says what is wrong with it. It is true where the field was read.
func (s *sheet) put(r row, i int, v reflect.Value) bool {
	c := s.columns[i]
	if s.place[i] < 0 {
		return false
	}
	in := r.at(s.place[i])
	read, want := strict.Quote(in.text), ""
	switch {
	case !utf8.ValidString(in.text):
		want = saveAs
	case strings.ContainsRune(in.text, 0):
		read, want = "a zero byte", saveAs
	default:
		if in.blank() {
			read = "nothing"
		}
		want = c.put(v, in.text)
	}
	if want != "" {
		s.problems.add(Problem{Row: r.number, Column: s.names[s.place[i]], Read: read, Want: want})
	}
	return want == ""
}

package table

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"hangtrue/checklist/strict"
)

// A Problem is one thing wrong with a file, in the file's own words: the row as a spreadsheet counts it, the column as
// the header names it, what was read and what is wanted. Row 0 is for what no row is about; Place then says what is.
type Problem struct {
	Row    int    `json:"row,omitempty"`
	Column string `json:"column,omitempty"`
	Place  string `json:"place,omitempty"`
	Read   string `json:"read"`
	Want   string `json:"want"`
}

// Error says the problem in one line.
func (p Problem) Error() string {
	place := p.Place
	switch {
	case p.Row > 0 && p.Column != "":
		place = fmt.Sprintf("row %d, column %q", p.Row, p.Column)
	case p.Row > 0:
		place = fmt.Sprintf("row %d", p.Row)
	}
	return place + ": read " + p.Read + ", want " + p.Want
}

// Problems are all problems of one file, in the order of its rows; what no row is about comes last. There are at most
// [strict.MaxProblems] and one that says that there are more.
type Problems []Problem

// Error gives one problem a line.
func (ps Problems) Error() string {
	lines := make([]string, len(ps))
	for i, p := range ps {
		lines[i] = p.Error()
	}
	return strings.Join(lines, "\n")
}

func (ps *Problems) add(p Problem) {
	p.Read = strict.Shorten(p.Read)
	switch n := len(*ps); {
	case n < strict.MaxProblems:
		*ps = append(*ps, p)
	case n == strict.MaxProblems:
		*ps = append(*ps, Problem{Place: "the file", Read: fmt.Sprintf("more than %d problems", strict.MaxProblems), Want: "these put right first"})
	}
}

// full tells whether no more problems are taken.
func (ps Problems) full() bool { return len(ps) > strict.MaxProblems }

func (ps Problems) err() error {
	if len(ps) == 0 {
		return nil
	}
	slices.SortStableFunc(ps, func(a, b Problem) int { return cmp.Compare(order(a), order(b)) })
	return ps
}

func order(p Problem) int {
	if p.Row == 0 {
		return math.MaxInt
	}
	return p.Row
}

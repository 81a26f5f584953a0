package table

import "strings"

// Rows are the rows of a text with their numbers, as the scanner takes them; ok is false where a cell is none.
func Rows(text string, comma byte) (rows [][]string, numbers []int, ok bool) {
	s := scanner{text: strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(text), comma: comma}
	for ok = true; ; {
		r, more := s.next()
		if !more {
			return rows, numbers, ok
		}
		cells := make([]string, len(r.cells))
		for i, c := range r.cells {
			cells[i] = c.text
			ok = ok && c.fault == ""
		}
		rows, numbers = append(rows, cells), append(numbers, r.number)
	}
}

// Guard and Unguard are what becomes of a text between a plan and a cell.
var Guard, Unguard = guard, unguard

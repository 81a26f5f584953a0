package paper

import (
	"encoding/csv"
	"strconv"
	"strings"

	"hangtrue/pwa/words"
)

// writeCSV writes a table as RFC 4180 has it: lines end with CR LF, the first one names the
// columns, and a field that holds a comma, a quote or a break is quoted. A text that a
// spreadsheet would take for a formula gets an apostrophe before it, so that a name of
// the plan runs nothing; numbers are left alone.
func writeCSV(head []string, rows [][]field) []byte {
	var out strings.Builder
	w := csv.NewWriter(&out)
	w.UseCRLF = true
	_ = w.Write(head) // a strings.Builder takes everything
	line := make([]string, len(head))
	for _, r := range rows {
		for i, f := range r {
			line[i] = f.write()
		}
		_ = w.Write(line)
	}
	w.Flush()
	return []byte(out.String())
}

// stamped are the columns that say which plan a table was made from.
var stamped = []string{"revision", "plan_sha256"}

func (j Job) stampFields() []field {
	if j.Draft {
		return []field{text("draft"), text(j.SHA256)}
	}
	return []field{whole(j.Revision), text(j.SHA256)}
}

// MarkOutCSV is the mark-out of all surfaces as a table. Lengths are metres.
func (j Job) MarkOutCSV() []byte {
	head := append([]string{"surface", "hole", "channel", "loudspeaker", "reference", "along_m", "up_m", "bracket", "fixing", "pilot_m", "into"}, stamped...)
	var rows [][]field
	surfaces := j.surfacesInUse()
	for i := range surfaces {
		s := &surfaces[i]
		for _, h := range j.holesOn(s.Name) {
			number, pilot, into, reference := field{}, field{}, field{}, "no"
			if h.number > 0 {
				number, into = whole(h.number), text(j.into(h.at, s))
				if d := j.pilot(h.mount); d > 0 {
					pilot = metres(d)
				}
			}
			if h.reference {
				reference = "yes"
			}
			rows = append(rows, append([]field{text(s.Name), number, text(h.mount.Channel), text(h.mount.Model), text(reference),
				metres(h.at.Along), metres(h.at.Up), text(h.mount.Bracket), text(h.mount.Fixing), pilot, into}, j.stampFields()...))
		}
	}
	return writeCSV(head, rows)
}

// CablesCSV is the cable list as a table. The error is that of [Job.Cables]'s paper.
func (j Job) CablesCSV() ([]byte, error) {
	runs, err := j.cableRuns()
	if err != nil {
		return nil, err
	}
	head := append([]string{"cable", "channel", "from", "to", "kind", "conductor", "route_m"}, stamped...)
	var rows [][]field
	for _, c := range runs {
		rows = append(rows, append([]field{text(c.id), text(c.channel), text(c.from), text(c.to), text(c.kind), text(c.conductor), metres(c.route)}, j.stampFields()...))
	}
	return writeCSV(head, rows), nil
}

// ShoppingCSV is the shopping list as a table: cable in metres, all else in pieces. The
// error is why cable is not known.
func (j Job) ShoppingCSV() ([]byte, error) {
	items, err := j.shopping()
	if err != nil {
		return nil, err
	}
	head := append([]string{"group", "what", "kind", "needed", "spare", "buy", "unit"}, stamped...)
	var rows [][]field
	for _, i := range items {
		unit := "pieces"
		if i.metres {
			unit = "m"
		}
		rows = append(rows, append([]field{text(i.group), text(i.name), text(i.detail), number(i.need), number(i.spare), number(i.buy()), text(unit)}, j.stampFields()...))
	}
	return writeCSV(head, rows), nil
}

// A field is a text of the plan or a number.
type field struct {
	text   string
	number float64
	places int // of the number; 0 with a text
}

func text(s string) field { return field{text: clean(s)} }

// metres are written to the micrometre, and pieces whole.
func metres(x float64) field { return field{number: x, places: 6} }
func number(x float64) field { return field{number: x, places: 3} }
func whole(n int) field      { return field{text: strconv.Itoa(n)} }

func (f field) write() string {
	if f.places > 0 {
		return words.Decimals(f.number, f.places)
	}
	if strings.ContainsRune("=+-@＝＋－＠", first(strings.TrimLeft(f.text, " "))) {
		return "'" + f.text
	}
	return f.text
}

func first(s string) rune {
	for _, r := range s {
		return r
	}
	return ' '
}

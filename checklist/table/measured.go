package table

import (
	"fmt"
	"reflect"

	"hangtrue/checklist/plan"
	"hangtrue/checklist/strict"
)

var measuredColumns = columnsOf(reflect.TypeFor[plan.MeasuredMount]())

// ReadMeasured reads a file of measured positions for a plan. The rows of a channel add up: each brings readings, and
// names the instruments or leaves them to another row. The error is a [Problems], which has what plan.DecodeMeasured
// finds as well.
func ReadMeasured(data []byte, p *plan.Plan) (*plan.Measured, error) {
	s := open(data, measuredColumns)
	g := gathering{sheet: s, measured: plan.Measured{Format: plan.MeasuredFormat}, from: map[string]*origin{}}
	if len(s.names) > 0 {
		s.missing(s.row, "every mount has it", func(i int, c column) bool { return i > 0 && c.required })
	}
	s.rows(g.row)
	if err := s.problems.err(); err != nil {
		return nil, err
	}
	document, err := g.measured.Encode()
	if err != nil {
		return nil, err
	}
	m, err := plan.DecodeMeasured(document, p)
	problems, _ := err.(strict.Problems)
	for _, found := range problems {
		s.problems.add(g.told(found))
	}
	return m, s.problems.err()
}

// gathering puts the rows of a sheet together.
type gathering struct {
	*sheet
	measured plan.Measured
	from     map[string]*origin // by channel
}

// origin says which rows a channel's values come from.
type origin struct {
	first    int
	readings map[string][]int // by key, one row for each reading
	names    map[string]int
}

func (g *gathering) row(r row, channel string) {
	from := g.from[channel]
	if from == nil {
		from = &origin{first: r.number, readings: map[string][]int{}, names: map[string]int{}}
		g.from[channel] = from
		g.measured.Mounts = append(g.measured.Mounts, plan.MeasuredMount{Channel: channel})
	}
	v := reflect.ValueOf(g.measured.MountByChannel(channel)).Elem()
	for k, c := range g.columns[1:] {
		if c.many {
			g.readings(r, k+1, v.Field(c.field), from)
		} else {
			g.instrument(r, k+1, v.Field(c.field), from)
		}
	}
}

func (g *gathering) readings(r row, k int, v reflect.Value, from *origin) {
	key, before := g.columns[k].key, v.Len()
	g.put(r, k, v)
	for range v.Len() - before {
		from.readings[key] = append(from.readings[key], r.number)
	}
}

// instrument wants the same name in every row of a channel that has one.
func (g *gathering) instrument(r row, k int, v reflect.Value, from *origin) {
	if g.place[k] < 0 || r.at(g.place[k]).blank() {
		return
	}
	key, before := g.columns[k].key, v.String()
	if !g.put(r, k, v) {
		return
	}
	if first := from.names[key]; first > 0 && v.String() != before {
		g.problems.add(Problem{Row: r.number, Column: g.nameOf(key), Read: strict.Quote(v.String()),
			Want: fmt.Sprintf("%s, as in row %d: one instrument for all readings of a channel", strict.Quote(before), first)})
		v.SetString(before)
		return
	}
	if from.names[key] == 0 {
		from.names[key] = r.number
	}
}

// told says a problem of the measured file in the words of the sheet.
func (g *gathering) told(p strict.Problem) Problem {
	told := Problem{Place: "the file's " + p.Pointer, Read: p.Read, Want: p.Want}
	i, key, reading, ok := split(p.Pointer)
	if !ok || i >= len(g.measured.Mounts) {
		return told
	}
	from := g.from[g.measured.Mounts[i].Channel]
	told.Place, told.Row, told.Column = "", from.first, g.nameOf(key)
	if row := from.names[key]; row > 0 {
		told.Row = row
	}
	if rows := from.readings[key]; reading >= 0 && reading < len(rows) {
		told.Row = rows[reading]
	}
	return told
}

// WriteMeasured writes what was measured as [ReadMeasured] reads it: a channel a row, repeat readings in one cell with
// "; " between them. The plan's title and the remark have no place in it.
func WriteMeasured(m *plan.Measured) ([]byte, error) {
	return write(measuredColumns, reflect.ValueOf(m.Mounts))
}

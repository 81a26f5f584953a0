package table

import (
	"fmt"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"hangtrue/checklist/plan"
	"hangtrue/checklist/strict"
)

var mountColumns = columnsOf(reflect.TypeFor[plan.Mount]())

// Mounts are what a file makes of a plan's mounts.
type Mounts struct {
	Mounts  []plan.Mount  // the plan's in its order, then those that the file adds, in its own
	Edited  []string      // channels whose mount was added or changed, in the order of Mounts
	Left    []string      // channels of the plan that the file does not list
	Changes []plan.Change // all of it in words
}

// Rest is what becomes of the plan's mounts that a file does not list.
type Rest bool

const (
	Keep Rest = false
	Drop Rest = true
)

// ReadMounts reads a file of mounts, one row a mount, into a plan. The plan is not changed. A row replaces or adds the
// mount of its channel; what its file has no column for stays as the plan's mount has it.
//
// The error is a [Problems]. Beside the form it has what package plan finds wrong with the plan as the file makes it,
// told by row and column, unless the plan had the same problem before: an unfinished plan takes a file too. plan.Decode
// looks at names and places only in a plan whose every value is sound by itself, and so does this.
func ReadMounts(data []byte, p *plan.Plan, rest Rest) (Mounts, error) {
	s := open(data, mountColumns)
	m := merge{sheet: s, before: p, mounts: slices.Clone(p.Mounts), rows: map[string]int{}}
	s.rows(m.row)
	if err := s.problems.err(); err != nil {
		return Mounts{}, err
	}
	for _, old := range p.Mounts {
		if m.rows[old.Channel] == 0 {
			m.left = append(m.left, old.Channel)
		}
	}
	if rest == Drop {
		m.mounts = slices.DeleteFunc(m.mounts, func(x plan.Mount) bool { return m.rows[x.Channel] == 0 })
	}
	after := *p
	after.Mounts = m.mounts
	if err := m.check(&after); err != nil {
		return Mounts{}, err
	}
	merged := Mounts{Mounts: m.mounts, Left: m.left, Changes: plan.Diff(p, &after)}
	for _, x := range m.mounts {
		if old := p.MountByChannel(x.Channel); old == nil || *old != x {
			merged.Edited = append(merged.Edited, x.Channel)
		}
	}
	return merged, nil
}

// merge brings the rows of a sheet into a plan's mounts.
type merge struct {
	*sheet
	before *plan.Plan
	mounts []plan.Mount
	rows   map[string]int // the row of each channel
	left   []string
}

func (m *merge) row(r row, channel string) {
	if other, twice := m.rows[channel]; twice {
		m.problems.add(Problem{Row: r.number, Column: m.nameOf("channel"), Read: strict.Quote(channel), Want: fmt.Sprintf("a channel that row %d does not have", other)})
		return
	}
	m.rows[channel] = r.number
	i := slices.IndexFunc(m.mounts, func(x plan.Mount) bool { return x.Channel == channel })
	if i < 0 {
		i = len(m.mounts)
		m.mounts = append(m.mounts, plan.Mount{})
		m.missing(r.number, "this mount is new to the plan", func(_ int, c column) bool { return c.required })
	}
	v := reflect.ValueOf(&m.mounts[i]).Elem()
	for k, c := range m.columns {
		m.put(r, k, v.Field(c.field))
	}
}

// check holds the plan as the file makes it to the plan's own rules.
func (m *merge) check(after *plan.Plan) error {
	found, err := problemsOf(after)
	if err != nil || len(found) == 0 {
		return err
	}
	known, err := problemsOf(m.before)
	if err != nil {
		return err
	}
	for _, p := range found {
		if !slices.ContainsFunc(known, func(k strict.Problem) bool { return k.Error() == p.Error() }) {
			m.problems.add(m.told(p))
		}
	}
	return m.problems.err()
}

// problemsOf are the problems that a plan has as a document.
func problemsOf(p *plan.Plan) (strict.Problems, error) {
	data, err := p.Encode()
	if err != nil {
		return nil, err
	}
	_, err = plan.Decode(data)
	problems, _ := err.(strict.Problems)
	return problems, nil
}

// told says a problem of the plan in the words of the file.
func (m *merge) told(p strict.Problem) Problem {
	told := Problem{Place: "the plan's " + p.Pointer, Read: p.Read, Want: p.Want}
	i, key, _, ok := split(p.Pointer)
	if !ok || i >= len(m.mounts) {
		return told
	}
	channel := m.mounts[i].Channel
	if told.Row = m.rows[channel]; told.Row > 0 {
		told.Place, told.Column = "", m.nameOf(key)
		return told
	}
	told.Place = strings.TrimSuffix("mount "+channel+", which the file does not list, "+key, ", ")
	return told
}

// split takes a pointer to an entry of "mounts" apart: which one, its key and which of the key's readings; -1 and ""
// where the pointer does not go that far.
func split(pointer string) (entry int, key string, reading int, ok bool) {
	parts := strings.Split(pointer, "/")
	if len(parts) < 3 || parts[1] != "mounts" {
		return 0, "", -1, false
	}
	entry, err := strconv.Atoi(parts[2])
	if err != nil {
		return 0, "", -1, false
	}
	if reading = -1; len(parts) > 3 {
		key = parts[3]
	}
	if len(parts) > 4 {
		if reading, err = strconv.Atoi(parts[4]); err != nil {
			reading = -1
		}
	}
	return entry, key, reading, true
}

// WriteMounts writes a plan's mounts as [ReadMounts] reads them: every column there is, one row a mount.
func WriteMounts(p *plan.Plan) ([]byte, error) {
	return write(mountColumns, reflect.ValueOf(p.Mounts))
}

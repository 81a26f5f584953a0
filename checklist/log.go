package checklist

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
)

// A Log is what a device knows of a job: the server's records up to a position
// without gaps, later ones that arrived early, and the device's own entries that
// the server has not decided yet. Its state is the fold of the records followed
// by the pending entries. It is not safe for concurrent use.
type Log struct {
	job      string
	template *Template
	base     *State           // the fold of the records
	records  []Record         // 1 … len, without gaps
	early    map[int64]Record // after a gap
	pending  []Entry          // in the order they were made
	shown    *State           // base and pending, nil when it has to be folded again
	foreseen map[string]Decision
}

// NewLog is an empty log of a job.
func NewLog(t *Template, job string) *Log {
	return &Log{job: job, template: t, base: NewState(t, job), early: map[int64]Record{}}
}

// Receive takes records from the server, in any order and as often as they come.
// It refuses a record of another job and one that contradicts what is known at
// its position; such a record says that the server's log was replaced.
func (l *Log) Receive(records ...Record) error {
	for _, r := range records {
		if r.Entry.Job != l.job || r.Position < 1 {
			return fmt.Errorf("checklist: record %d of job %s does not belong to job %s", r.Position, r.Entry.Job, l.job)
		}
		if r.Position <= int64(len(l.records)) {
			if known := l.records[r.Position-1]; known.Entry.ID != r.Entry.ID || known.Decision != r.Decision || known.Received != r.Received {
				return fmt.Errorf("checklist: record %d is not the one known before", r.Position)
			}
			continue
		}
		l.early[r.Position] = r
	}
	for {
		r, ok := l.early[int64(len(l.records))+1]
		if !ok {
			return nil
		}
		delete(l.early, r.Position)
		l.records = append(l.records, r)
		l.base.Fold(r)
		l.pending = slices.DeleteFunc(l.pending, func(e Entry) bool { return e.ID == r.Entry.ID })
		l.shown = nil
	}
}

// Keep adds an entry this device made. One that is known already changes nothing.
func (l *Log) Keep(e Entry) error {
	if e.Job != l.job {
		return fmt.Errorf("checklist: entry %s belongs to job %s, not %s", e.ID, e.Job, l.job)
	}
	if _, decided := l.base.Decided(e.ID); decided || slices.ContainsFunc(l.pending, func(p Entry) bool { return p.ID == e.ID }) {
		return nil
	}
	last := len(l.pending) == 0 || l.pending[len(l.pending)-1].Number < e.Number
	l.pending = append(l.pending, e)
	if !last {
		slices.SortStableFunc(l.pending, func(a, b Entry) int { return cmp.Compare(a.Number, b.Number) })
		l.shown = nil
		return nil
	}
	// What is kept last is folded onto what is shown, so that a long day out of reach
	// of the server does not make every save slower than the one before.
	if l.shown != nil {
		l.foresee(e)
	}
	return nil
}

// foresee folds a pending entry onto the state that is shown, which stops being the
// fold of the records alone.
func (l *Log) foresee(e Entry) {
	if l.shown == l.base {
		l.shown, l.foreseen = l.base.Clone(), map[string]Decision{}
	}
	d := l.shown.Decide(e)
	l.foreseen[e.ID] = d
	l.shown.Fold(Record{Decision: d, Entry: e})
}

// Pending are the entries the server has not decided, oldest first.
func (l *Log) Pending() []Entry { return l.pending }

// Records are the server's records without gaps, oldest first. The caller must not change them.
func (l *Log) Records() []Record { return l.records }

// Known are the server's records and behind them those that came early, in order.
func (l *Log) Known() []Record {
	if len(l.early) == 0 {
		return l.records
	}
	known := slices.Clip(l.records)
	for _, position := range slices.Sorted(maps.Keys(l.early)) {
		known = append(known, l.early[position])
	}
	return known
}

// Head is the position up to which the server's records are known without a gap.
func (l *Log) Head() int64 { return int64(len(l.records)) }

// State is the fold of everything known. The caller must not fold into it.
func (l *Log) State() *State {
	if l.shown == nil {
		l.shown, l.foreseen = l.base, nil
		for _, e := range l.pending {
			l.foresee(e)
		}
	}
	return l.shown
}

// Foreseen is what the rules say now about a pending entry; the server decides.
func (l *Log) Foreseen(id string) Decision {
	l.State()
	return l.foreseen[id]
}

// NextNumber is the number of the next entry of this device. Records after a gap
// count: their numbers are used.
func (l *Log) NextNumber(device string) int64 {
	last := l.State().LastNumber(device)
	for _, r := range l.early {
		if r.Entry.Device == device {
			last = max(last, r.Entry.Number)
		}
	}
	return last + 1
}

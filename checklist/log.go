package checklist

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
)

// A Log is what a device knows of a job: the server's records up to a position
// without gaps, later ones that arrived early, and the device's own entries that
// the server has not decided yet. Its state is the fold of the records followed
// by the pending entries. It is not safe for concurrent use.
type Log struct {
	job      string
	template *Template
	base     *State           // the fold of the records
	past     *kept            // the first of them, nil unless the log was resumed
	records  []Record         // those behind it, without gaps
	early    map[int64]Record // after a gap
	pending  []Entry          // in the order they were made
	shown    *State           // base and pending, nil when it has to be folded again
	foreseen map[string]Decision
}

// NewLog is an empty log of a job.
func NewLog(t *Template, job string) *Log {
	return &Log{job: job, template: t, base: NewState(t, job), early: map[int64]Record{}}
}

// ResumeLog is a log that begins with the records that [Log.Snapshot] was taken with.
// The texts of their JSON, in order, stay texts until somebody asks for them; those
// behind them are left out. Where they are not the same to the byte, or anything else
// is not as it should be, that is [ErrSnapshot]: then every text has to be read.
func ResumeLog(t *Template, job, snapshot string, texts []string) (*Log, error) {
	sum, shot, _ := strings.Cut(snapshot, "\n")
	past := &kept{texts: texts, read: map[int64]Record{}}
	base, err := resume(t, job, []byte(shot), past, func(head int64, _ string, _ Record) bool {
		past.texts = texts[:head]
		return sumOf(past.texts) == sum
	})
	if err != nil {
		return nil, err
	}
	return &Log{job: job, template: t, base: base, past: past, early: map[int64]Record{}}, nil
}

// Snapshot is that of the server's records, whose texts it is taken with, "" where
// there is none: see [State.Snapshot] and [ResumeLog].
func (l *Log) Snapshot(texts []string) string {
	shot := l.base.Snapshot()
	if shot == nil || l.Head() != int64(len(texts)) {
		return ""
	}
	return sumOf(texts) + "\n" + string(shot)
}

// sumOf tells texts from others by chance: they are the phone's own. It is FNV-1a of 64
// bits, each text ended by a line break.
func sumOf(texts []string) string {
	const basis, prime = 0xcbf29ce484222325, 0x100000001b3
	h := uint64(basis)
	for _, text := range texts {
		for i := range len(text) {
			h = (h ^ uint64(text[i])) * prime
		}
		h = (h ^ '\n') * prime
	}
	return strconv.FormatUint(h, 16)
}

// kept is a past of texts. What was read of it stays read.
type kept struct {
	texts []string
	read  map[int64]Record
}

func (k *kept) one(position int64) (Record, error) {
	if r, ok := k.read[position]; ok {
		return r, nil
	}
	if position < 1 || position > int64(len(k.texts)) {
		return Record{}, fmt.Errorf("%w: there is no record %d", ErrSnapshot, position)
	}
	var r Record
	if err := r.UnmarshalJSON([]byte(k.texts[position-1])); err != nil || r.Position != position {
		return Record{}, fmt.Errorf("%w: record %d cannot be read", ErrSnapshot, position)
	}
	k.read[position] = r
	return r, nil
}

// At and Find are as [Past] has them.
func (k *kept) At(positions []int64) ([]Record, error) {
	records := make([]Record, len(positions))
	for i, at := range positions {
		var err error
		if records[i], err = k.one(at); err != nil {
			return nil, err
		}
	}
	return records, nil
}

func (k *kept) Find(id string) (Record, bool, error) {
	for i, text := range k.texts {
		if !strings.Contains(text, id) {
			continue
		}
		if r, err := k.one(int64(i + 1)); err != nil || r.Entry.ID == id {
			return r, err == nil, err
		}
	}
	return Record{}, false, nil
}

// behind is up to where the past goes.
func (l *Log) behind() int64 {
	if l.past == nil {
		return 0
	}
	return int64(len(l.past.texts))
}

// Receive takes records from the server, in any order and as often as they come.
// It refuses a record of another job and one that contradicts what is known at
// its position; such a record says that the server's log was replaced.
func (l *Log) Receive(records ...Record) error {
	for _, r := range records {
		if r.Entry.Job != l.job || r.Position < 1 {
			return fmt.Errorf("checklist: record %d of job %s does not belong to job %s", r.Position, r.Entry.Job, l.job)
		}
		if r.Position <= l.Head() {
			if known, err := l.at(r.Position); err != nil || known.Entry.ID != r.Entry.ID || known.Decision != r.Decision || known.Received != r.Received {
				return fmt.Errorf("checklist: record %d is not the one known before", r.Position)
			}
			continue
		}
		l.early[r.Position] = r
	}
	for {
		r, ok := l.early[l.Head()+1]
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
	if l.base.known(Record{Entry: e}) || l.waits(e.ID) {
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

// Knows tells whether an entry is among the records without gaps or the pending ones.
func (l *Log) Knows(id string) bool {
	_, decided := l.base.Decided(id)
	return decided || l.waits(id)
}

// waits tells whether an entry is among the pending ones.
func (l *Log) waits(id string) bool {
	return slices.ContainsFunc(l.pending, func(p Entry) bool { return p.ID == id })
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

// at is a record up to the head.
func (l *Log) at(position int64) (Record, error) {
	if position <= l.behind() {
		return l.past.one(position)
	}
	return l.records[position-l.behind()-1], nil
}

// After are the server's records behind a position, without gaps, oldest first. The
// caller must not change them.
func (l *Log) After(position int64) []Record {
	if position >= l.behind() {
		return l.records[position-l.behind():]
	}
	var records []Record
	for at := position + 1; at <= l.behind(); at++ {
		r, _ := l.past.one(at) // which was read before, byte by byte the same
		records = append(records, r)
	}
	return append(records, l.records...)
}

// Records are all of the server's records without gaps.
func (l *Log) Records() []Record { return l.After(0) }

// Gap tells whether records came early.
func (l *Log) Gap() bool { return len(l.early) > 0 }

// Last is the last of the server's records without gaps, false if there is none.
func (l *Log) Last() (Record, bool) { return l.base.last, l.Head() > 0 }

// Known are the server's records and behind them those that came early, in order.
func (l *Log) Known() []Record {
	known := slices.Clip(l.Records())
	for _, position := range slices.Sorted(maps.Keys(l.early)) {
		known = append(known, l.early[position])
	}
	return known
}

// Head is the position up to which the server's records are known without a gap.
func (l *Log) Head() int64 { return l.behind() + int64(len(l.records)) }

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

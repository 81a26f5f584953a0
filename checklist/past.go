package checklist

// A Past gives back what a state that was resumed does not hold of its log.
type Past interface {
	// At gives the records at these positions, in their order.
	At(positions []int64) ([]Record, error)
	// Find gives the record of an entry, false if the log has none.
	Find(id string) (Record, bool, error)
}

// A trail is a list of records, oldest first, of which those that a state was
// resumed behind are known by their positions alone.
type trail struct {
	past []int64
	own  []Record
}

func (t trail) add(r Record) trail {
	t.own = append(t.own, r)
	return t
}

// clip is the same trail for a clone: what either appends lies beyond the other's end.
func (t trail) clip() trail { return trail{t.past, t.own[:len(t.own):len(t.own)]} }

// positions are where its records are in the log.
func (t trail) positions() []int64 {
	all := t.past[:len(t.past):len(t.past)]
	for _, r := range t.own {
		all = append(all, r.Position)
	}
	return all
}

// records are those of a trail. What cannot be read is a fault, see [State.Fault].
func (s *State) records(t trail) []Record {
	if len(t.past) == 0 {
		return t.own
	}
	records, err := s.past.At(t.past)
	if err != nil {
		s.failed(err)
		return t.own
	}
	return append(records, t.own...)
}

// Fault is why something that this state told was not all: its past could not be
// read. A state that was not resumed has none. Who shows or keeps what follows from
// a state asks for it afterwards.
func (s *State) Fault() error { return s.fault }

func (s *State) failed(err error) {
	if s.fault == nil {
		s.fault = err
	}
}

// Refused are the refused entries, oldest first.
func (s *State) Refused() []Record { return s.records(s.refused) }

// LastRefused are the last refused entries, oldest first, and how many came before
// them: of a long log, what can be read at once.
func (s *State) LastRefused(most int) (records []Record, before int) {
	t := s.refused
	before = max(0, len(t.past)+len(t.own)-most)
	past := min(before, len(t.past))
	return s.records(trail{t.past[past:], t.own[before-past:]}), before
}

// Remarks are the free remarks, oldest first.
func (s *State) Remarks() []Record { return s.records(s.remarks) }

// History is every accepted entry about the step, oldest first.
func (s *State) History(k Key) []Record { return s.records(s.history[k]) }

// Decided gives the decision on an entry that was folded already.
func (s *State) Decided(id string) (Decision, bool) {
	if d, ok := s.seen.get(id); ok || s.past == nil {
		return d, ok
	}
	r, found, err := s.past.Find(id)
	if err != nil {
		s.failed(err)
	}
	if !found || r.Position > s.resumed {
		return Decision{}, false
	}
	return r.Decision, true
}

// Resumed tells whether the state rests on a snapshot and not on its whole log.
func (s *State) Resumed() bool { return s.past != nil }

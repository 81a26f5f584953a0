// Package memory keeps logs in memory, for tests and for trying the program out.
//
// It keeps every promise of package store but that of outliving the process.
package memory

import (
	"slices"
	"strings"
	"sync"

	"hangtrue/checklist"
	"hangtrue/server/store"
)

// A Store in memory. The zero value is not usable: see [New].
type Store struct {
	mu     sync.RWMutex
	jobs   map[string]*job
	strays []store.Stray
	size   int // of the strays' entries, in bytes
	known  map[[32]byte]bool
	closed bool
}

type job struct {
	line    store.Line
	records [][]byte // packed
	ids     map[string]int64
	seals   []store.Seal

	snapshot []byte
}

// New is an empty store.
func New() *Store { return &Store{jobs: map[string]*job{}, known: map[[32]byte]bool{}} }

var _ store.Store = (*Store)(nil)

// Append checks everything before it changes anything, which makes it all or nothing.
func (s *Store) Append(additions ...store.Addition) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return store.ErrClosed
	}
	heads, ids, strays, size := map[string]int64{}, map[string]bool{}, map[[32]byte]bool{}, s.size
	packed := make([][][]byte, len(additions))
	for i, a := range additions {
		j := s.jobs[a.Job]
		if _, ok := heads[a.Job]; !ok && j != nil {
			heads[a.Job] = j.line.Head
		}
		for _, r := range a.Records {
			heads[a.Job]++
			id := a.Job + r.Entry.ID
			if r.Position != heads[a.Job] || r.Entry.Job != a.Job || ids[id] || j != nil && j.ids[r.Entry.ID] != 0 {
				return store.ErrConflict
			}
			ids[id] = true
			packed[i] = append(packed[i], store.PackRecord(r))
		}
		for _, stray := range a.Strays {
			if key := stray.StrayKey(); !s.known[key] && !strays[key] {
				strays[key] = true
				size += len(stray.Entry)
			}
		}
	}
	if len(strays) > 0 && (len(s.strays)+len(strays) > store.MaxStrays || size > store.MaxStrayBytes) {
		return store.ErrStrays
	}
	for i, a := range additions {
		s.add(a, packed[i])
	}
	return nil
}

func (s *Store) add(a store.Addition, packed [][]byte) {
	if len(a.Records) > 0 {
		j := s.jobs[a.Job]
		if j == nil {
			j = &job{ids: map[string]int64{}}
			s.jobs[a.Job] = j
		}
		for i, r := range a.Records {
			j.records = append(j.records, packed[i])
			j.ids[r.Entry.ID] = r.Position
		}
		j.line = a.Line
		j.seals = append(j.seals, a.Seals...)
	}
	if j := s.jobs[a.Job]; j != nil && len(a.Snapshot) > 0 {
		j.snapshot = slices.Clone(a.Snapshot)
	}
	for _, stray := range a.Strays {
		if key := stray.StrayKey(); !s.known[key] {
			s.known[key] = true
			stray.Entry = slices.Clone(stray.Entry)
			s.strays = append(s.strays, stray)
			s.size += len(stray.Entry)
		}
	}
}

// Lines, Line, Records, Find, Seals and Strays are as [store.Store] has them.
func (s *Store) Lines() ([]store.Line, error) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if s.closed {
		return nil, store.ErrClosed
	}
	lines := make([]store.Line, 0, len(s.jobs))
	for _, j := range s.jobs {
		lines = append(lines, j.line)
	}
	slices.SortFunc(lines, func(a, b store.Line) int { return strings.Compare(a.ID, b.ID) })
	return lines, nil
}

func (s *Store) Line(id string) (store.Line, error) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	switch j := s.jobs[id]; {
	case s.closed:
		return store.Line{}, store.ErrClosed
	case j == nil:
		return store.Line{}, store.ErrNoJob
	default:
		return j.line, nil
	}
}

func (s *Store) Records(id string, after int64, limit, bytes int) ([]checklist.Record, error) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if s.closed {
		return nil, store.ErrClosed
	}
	j := s.jobs[id]
	if j == nil || after >= int64(len(j.records)) {
		return nil, nil
	}
	var records []checklist.Record
	for position := max(after, 0) + 1; position <= int64(len(j.records)) && len(records) < limit; position++ {
		r, err := store.UnpackRecord(id, position, j.records[position-1])
		if err != nil {
			return nil, err
		}
		if bytes -= len(r.Entry.Bytes()); bytes < 0 && len(records) > 0 {
			break
		}
		records = append(records, r)
	}
	return records, nil
}

// At and Snapshot are as [store.Store] has them.
func (s *Store) At(id string, positions []int64) ([]checklist.Record, error) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if s.closed {
		return nil, store.ErrClosed
	}
	j := s.jobs[id]
	if j == nil {
		return nil, store.ErrNoJob
	}
	records := make([]checklist.Record, len(positions))
	for i, at := range positions {
		if at < 1 || at > int64(len(j.records)) {
			return nil, &store.Damage{Job: id, Position: at, What: "it is not there"}
		}
		r, err := store.UnpackRecord(id, at, j.records[at-1])
		if err != nil {
			return nil, err
		}
		records[i] = r
	}
	return records, nil
}

func (s *Store) Snapshot(id string) ([]byte, error) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if s.closed {
		return nil, store.ErrClosed
	}
	if j := s.jobs[id]; j != nil {
		return slices.Clone(j.snapshot), nil
	}
	return nil, nil
}

func (s *Store) Find(id, entry string) (checklist.Record, error) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if s.closed {
		return checklist.Record{}, store.ErrClosed
	}
	j := s.jobs[id]
	if j == nil || j.ids[entry] == 0 {
		return checklist.Record{}, store.ErrNoRecord
	}
	position := j.ids[entry]
	return store.UnpackRecord(id, position, j.records[position-1])
}

func (s *Store) Seals(id string) ([]store.Seal, error) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if s.closed {
		return nil, store.ErrClosed
	}
	if j := s.jobs[id]; j != nil {
		return slices.Clone(j.seals), nil
	}
	return nil, nil
}

func (s *Store) Strays(after int64, limit, bytes int) ([]store.Stray, error) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	if s.closed {
		return nil, store.ErrClosed
	}
	var strays []store.Stray
	for at := max(after, 0); at < int64(len(s.strays)) && len(strays) < limit; at++ {
		stray := s.strays[at]
		if bytes -= len(stray.Entry); bytes < 0 && len(strays) > 0 {
			break
		}
		stray.Entry = slices.Clone(stray.Entry)
		strays = append(strays, stray)
	}
	return strays, nil
}

// Close forgets nothing, so that a test can look at what a closed store held; it only ends its use.
func (s *Store) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.closed = true
	return nil
}

package bolt

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"sync/atomic"

	"github.com/google/uuid"
	"go.etcd.io/bbolt"

	"hangtrue/checklist"
	"hangtrue/server/store"
	"hangtrue/server/together"
)

// A Store in one bbolt file. See [Open].
type Store struct {
	db   *bbolt.DB
	file *os.File // the one that db has open
	head bool     // one of its heads was damaged when it was opened

	aside  string      // see Aside
	broken atomic.Bool // see update
	group  together.Group[[]addition]

	// ends are of jobs that were added to lately, as the file has them: a line is read
	// and checked once and not for each addition to its job. They belong to the write
	// transaction.
	ends map[uuid.UUID]end
}

var _ store.Store = (*Store)(nil)

var (
	aboutBucket   = []byte("about")
	recordsBucket = []byte("records")
	idsBucket     = []byte("ids")
	sealsBucket   = []byte("seals")
	linesBucket   = []byte("lines")
	straysBucket  = []byte("strays")
	strayedBucket = []byte("strayed")

	// Not in every store: what is in it follows from the rest.
	snapshotsBucket = []byte("snapshots")

	// In the about bucket: the stored format, the public key that seals are checked
	// with, and the bytes of all strays' entries.
	formatKey     = []byte("format")
	publicKey     = []byte("key")
	strayBytesKey = []byte("stray bytes")

	buckets = [][]byte{aboutBucket, recordsBucket, idsBucket, sealsBucket, linesBucket, straysBucket, strayedBucket}
)

// Append is as [store.Store] has it; it returns after the file was synced.
func (s *Store) Append(additions ...store.Addition) error {
	packed := make([]addition, len(additions))
	for i, a := range additions {
		var err error
		if packed[i], err = pack(a); err != nil {
			return err
		}
	}
	return s.group.Run(packed)
}

// An addition is one as the buckets take it, packed by who brings it: the transaction
// that several share does nothing that each can do before.
type addition struct {
	store.Addition
	job     uuid.UUID
	records []row
	ids     []uuid.UUID // of the records' entries
	seals   []row
	line    []byte // JSON
}

type row struct{ key, value []byte }

func pack(a store.Addition) (p addition, err error) {
	p.Addition = a
	if len(a.Records) == 0 && len(a.Snapshot) == 0 {
		return p, nil
	}
	if p.job, err = uuid.Parse(a.Job); err != nil {
		return p, fmt.Errorf("bolt: job %q is no UUID", a.Job)
	}
	if len(a.Records) == 0 {
		return p, nil
	}
	p.records, p.ids = make([]row, 0, len(a.Records)), make([]uuid.UUID, 0, len(a.Records))
	for i, r := range a.Records {
		id, err := uuid.Parse(r.Entry.ID)
		if err != nil {
			return p, fmt.Errorf("bolt: entry %q is no UUID", r.Entry.ID)
		}
		if r.Position != a.Records[0].Position+int64(i) || r.Entry.Job != a.Job {
			return p, store.ErrConflict
		}
		p.records = append(p.records, row{key(p.job, r.Position), store.PackRecord(r)})
		p.ids = append(p.ids, id)
	}
	for _, seal := range a.Seals {
		value, err := store.Pack(seal)
		if err != nil {
			return p, err
		}
		p.seals = append(p.seals, row{key(p.job, seal.Position), value})
	}
	p.line, err = json.Marshal(a.Line)
	return p, err
}

// appendAll keeps what several callers bring in one transaction. When that fails,
// each gets one of his own, so that nobody fails for another.
func (s *Store) appendAll(calls [][]addition) []error {
	errs := make([]error, len(calls))
	err := s.addAll(calls...)
	switch {
	case err == nil:
	case len(calls) == 1:
		errs[0] = err
	default:
		for i, additions := range calls {
			errs[i] = s.addAll(additions)
		}
	}
	return errs
}

// addAll adds in one transaction, all or none.
func (s *Store) addAll(calls ...[]addition) error {
	err := s.update(func(tx *bbolt.Tx) error {
		for _, additions := range calls {
			for _, a := range additions {
				if err := s.addOne(tx, a); err != nil {
					return err
				}
			}
		}
		return nil
	})
	if err != nil || len(s.ends) > maxEnds {
		s.ends = nil // what was not kept must not be gone by
	}
	return err
}

// full is how full a page is left when what follows goes to a new one. A log grows at its
// end: bbolt's own half would stay half empty for ever.
const full = 0.9

// maxEnds is how many ends are kept at hand: a megabyte or two.
const maxEnds = 4096

func (s *Store) addOne(tx *bbolt.Tx, a addition) error {
	if len(a.records) > 0 {
		if err := s.addRecords(tx, a); err != nil {
			return err
		}
	}
	if len(a.Snapshot) > 0 {
		if err := addSnapshot(tx, a); err != nil {
			return err
		}
	}
	for _, stray := range a.Strays {
		if err := addStray(tx, stray); err != nil {
			return err
		}
	}
	return nil
}

func (s *Store) addRecords(tx *bbolt.Tx, a addition) error {
	log, known := s.ends[a.job]
	if !known {
		var err error
		if _, log, err = readLine(tx, a.Job, a.job); err != nil && !errors.Is(err, store.ErrNoJob) {
			return err
		}
	}
	if a.Records[0].Position != log.head+1 {
		return store.ErrConflict
	}
	records, ids, seals := tx.Bucket(recordsBucket), tx.Bucket(idsBucket), tx.Bucket(sealsBucket)
	records.FillPercent, ids.FillPercent = full, full
	for i, r := range a.records {
		// What a line says is held against the records once; behind an end that this
		// program has written itself there is nothing.
		if !known && records.Get(r.key) != nil || log.place(a.ids[i]) > 0 || ids.Get(idKey(a.job, a.ids[i])) != nil {
			return store.ErrConflict
		}
		if err := records.Put(r.key, r.value); err != nil {
			return err
		}
		log.add(a.ids[i])
	}
	for _, seal := range a.seals {
		if err := seals.Put(seal.key, seal.value); err != nil {
			return err
		}
	}
	if log.count() > maxLate {
		if err := log.index(ids, a.job); err != nil {
			return err
		}
	}
	if s.ends == nil {
		s.ends = map[uuid.UUID]end{}
	}
	s.ends[a.job] = log
	return tx.Bucket(linesBucket).Put(a.job[:], packLine(a.line, log.late))
}

func addSnapshot(tx *bbolt.Tx, a addition) error {
	b, err := tx.CreateBucketIfNotExists(snapshotsBucket)
	if err != nil {
		return err
	}
	return b.Put(a.job[:], store.PackBytes(a.Snapshot))
}

func addStray(tx *bbolt.Tx, stray store.Stray) error {
	strays, strayed := tx.Bucket(straysBucket), tx.Bucket(strayedBucket)
	hash := stray.StrayKey()
	if strayed.Get(hash[:]) != nil {
		return nil
	}
	next, err := strays.NextSequence()
	if err != nil {
		return err
	}
	about, size := tx.Bucket(aboutBucket), int64(len(stray.Entry))
	if kept := about.Get(strayBytesKey); len(kept) == 8 {
		size += int64(binary.BigEndian.Uint64(kept))
	}
	if next > store.MaxStrays || size > store.MaxStrayBytes {
		return store.ErrStrays
	}
	return errors.Join(
		putPacked(strays, number(int64(next)), stray),
		strayed.Put(hash[:], number(int64(next))),
		about.Put(strayBytesKey, number(size)))
}

func putPacked(b *bbolt.Bucket, key []byte, v any) error {
	packed, err := store.Pack(v)
	if err != nil {
		return err
	}
	return b.Put(key, packed)
}

// Lines is as [store.Store] has it.
func (s *Store) Lines() (lines []store.Line, err error) {
	err = s.view(func(tx *bbolt.Tx) error {
		return tx.Bucket(linesBucket).ForEach(func(k, v []byte) error {
			id, err := uuid.FromBytes(k)
			if err != nil {
				return &store.Damage{What: "a job's key"}
			}
			line, _, err := unpackLine(id.String(), v)
			var damage *store.Damage
			if errors.As(err, &damage) {
				line = store.Line{ID: id.String(), Title: store.DamagedTitle}
			}
			lines = append(lines, line)
			return nil
		})
	})
	if err != nil {
		return nil, err
	}
	return lines, nil
}

// Line is as [store.Store] has it.
func (s *Store) Line(id string) (line store.Line, err error) {
	job, err := uuid.Parse(id)
	if err != nil {
		return store.Line{}, store.ErrNoJob
	}
	err = s.view(func(tx *bbolt.Tx) error {
		line, _, err = readLine(tx, id, job)
		return err
	})
	return line, err
}

// Records is as [store.Store] has it.
func (s *Store) Records(id string, after int64, limit, size int) (records []checklist.Record, err error) {
	job, err := uuid.Parse(id)
	if err != nil {
		return nil, nil
	}
	err = s.view(func(tx *bbolt.Tx) error {
		records = nil
		line, _, err := readLine(tx, id, job)
		if errors.Is(err, store.ErrNoJob) {
			return nil
		} else if err != nil {
			return err
		}
		if after >= line.Head {
			return nil // also where there is no position behind it any more
		}
		c := tx.Bucket(recordsBucket).Cursor()
		want := max(after, 0) + 1
		for k, v := c.Seek(key(job, want)); len(records) < limit && want <= line.Head; k, v = c.Next() {
			if !bytes.Equal(k, key(job, want)) {
				return &store.Damage{Job: id, Position: want, What: "it is not there"}
			}
			r, err := store.UnpackRecord(id, want, v)
			if err != nil {
				return err
			}
			if size -= len(r.Entry.Bytes()); size < 0 && len(records) > 0 {
				return nil
			}
			records = append(records, r)
			want++
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return records, nil
}

// At is as [store.Store] has it.
func (s *Store) At(id string, positions []int64) (records []checklist.Record, err error) {
	job, err := uuid.Parse(id)
	if err != nil {
		return nil, store.ErrNoJob
	}
	err = s.view(func(tx *bbolt.Tx) error {
		records = make([]checklist.Record, len(positions))
		b := tx.Bucket(recordsBucket)
		for i, at := range positions {
			packed := b.Get(key(job, at))
			if packed == nil {
				return &store.Damage{Job: id, Position: at, What: "it is not there"}
			}
			r, err := store.UnpackRecord(id, at, packed)
			if err != nil {
				return err
			}
			records[i] = r
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return records, nil
}

// Snapshot is as [store.Store] has it.
func (s *Store) Snapshot(id string) (snapshot []byte, err error) {
	job, err := uuid.Parse(id)
	if err != nil {
		return nil, nil
	}
	err = s.view(func(tx *bbolt.Tx) error {
		b := tx.Bucket(snapshotsBucket)
		if b == nil {
			return nil
		}
		if data, ok := store.UnpackBytes(b.Get(job[:])); ok {
			snapshot = bytes.Clone(data)
		}
		return nil
	})
	var damage *store.Damage
	if errors.As(err, &damage) {
		return nil, nil
	}
	return snapshot, err
}

// Find is as [store.Store] has it.
func (s *Store) Find(id, entry string) (r checklist.Record, err error) {
	job, jobErr := uuid.Parse(id)
	entryID, entryErr := uuid.Parse(entry)
	if jobErr != nil || entryErr != nil {
		return checklist.Record{}, store.ErrNoRecord
	}
	err = s.view(func(tx *bbolt.Tx) error {
		position, err := place(tx, id, job, entryID)
		if err != nil {
			return err
		}
		packed := tx.Bucket(recordsBucket).Get(key(job, position))
		if packed == nil {
			return &store.Damage{Job: id, Position: position, What: "it is not there"}
		}
		if r, err = store.UnpackRecord(id, position, packed); err != nil {
			return err
		}
		if r.Entry.ID != entry {
			return &store.Damage{Job: id, Position: position, What: "the place of entry " + entry}
		}
		return nil
	})
	if err != nil {
		return checklist.Record{}, err
	}
	return r, nil
}

// Seals is as [store.Store] has it.
func (s *Store) Seals(id string) (seals []store.Seal, err error) {
	job, err := uuid.Parse(id)
	if err != nil {
		return nil, nil
	}
	err = s.view(func(tx *bbolt.Tx) error {
		seals = nil
		c := tx.Bucket(sealsBucket).Cursor()
		for k, v := c.Seek(job[:]); bytes.HasPrefix(k, job[:]); k, v = c.Next() {
			var seal store.Seal
			if err := store.Unpack(id, "a seal", v, &seal); err != nil {
				return err
			}
			if !bytes.Equal(k, key(job, seal.Position)) {
				return &store.Damage{Job: id, Position: seal.Position, What: "its seal stands in another place"}
			}
			seals = append(seals, seal)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return seals, nil
}

// Strays is as [store.Store] has it.
func (s *Store) Strays(after int64, limit, size int) (strays []store.Stray, err error) {
	err = s.view(func(tx *bbolt.Tx) error {
		strays = nil
		c := tx.Bucket(straysBucket).Cursor() // the sequence has no gaps: strays are never taken away
		for k, v := c.Seek(number(max(after, 0) + 1)); k != nil && len(strays) < limit; k, v = c.Next() {
			var stray store.Stray
			if err := store.Unpack("", "a stray", v, &stray); err != nil {
				return err
			}
			if size -= len(stray.Entry); size < 0 && len(strays) > 0 {
				return nil
			}
			strays = append(strays, stray)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return strays, nil
}

// Close waits for transactions that are running. Of a broken store it lets go without
// asking bbolt, which would wait for ever.
func (s *Store) Close() error {
	if s.broken.Load() {
		return s.file.Close() // and with it the lock
	}
	return s.db.Close()
}

// key orders a job's records by position.
func key(job uuid.UUID, position int64) []byte {
	return binary.BigEndian.AppendUint64(append(make([]byte, 0, 24), job[:]...), uint64(position))
}

func number(n int64) []byte { return binary.BigEndian.AppendUint64(nil, uint64(n)) }

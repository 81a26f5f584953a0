package bolt

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"maps"
	"math"
	"os"
	"regexp"
	"slices"
	"strings"

	"github.com/google/uuid"
	"go.etcd.io/bbolt"

	"hangtrue/checklist"
	"hangtrue/server/store"
)

// An Examination is what was found in a store.
type Examination struct {
	Format int
	Key    string // the public key bound to it; empty when there is none, or it is damaged
	Strays int
	Pages  []string       // what is wrong with the file's pages
	Damage []store.Damage // what is wrong with what is kept in them
}

// Sound tells that everything is what was written.
func (e Examination) Sound() bool { return len(e.Pages) == 0 && len(e.Damage) == 0 }

// A Job is all that a store has of one job, as far as it can be read.
type Job struct {
	ID      string
	Line    store.Line // its Title is [store.DamagedTitle] when it cannot be read
	Records []checklist.Record
	Seals   []store.Seal
	Whole   bool // nothing of the job is damaged or missing
}

// Examine reads every byte of the store in a file without changing one, and names
// everything that is not what was written. Each job is handed over as far as it can
// be read. An error means that the file could not be looked at.
func Examine(path string, each func(Job) error) (Examination, error) {
	s, err := openReadOnly(path)
	if errors.Is(err, ErrUnreadable) {
		_, cause, _ := strings.Cut(err.Error(), ErrUnreadable.Error()+": ")
		cause, _, _ = strings.Cut(cause, ". Put a backup")
		return Examination{Pages: []string{"nothing in it can be read: " + cause}}, nil
	}
	if err != nil {
		return Examination{}, err
	}
	defer s.Close()
	structure, err := s.structure(math.MaxInt64)
	if err != nil {
		return Examination{}, fmt.Errorf("bolt: %w", err)
	}
	s.head = structure.Head
	if structure.Astray {
		return Examination{Pages: structure.Problems}, nil
	}
	format, err := s.format()
	var damage *store.Damage
	switch {
	case errors.Is(err, ErrUnreadable), errors.As(err, &damage):
		structure.Problems = append(structure.Problems, "its format cannot be read")
	case err != nil:
		return Examination{}, err
	case format < alike:
		return Examination{}, fmt.Errorf("bolt: %s: %w: its format is %d and this program looks into %d. hangtrue serve brings it up to date", path, ErrOlder, format, Format())
	}
	e, err := s.Examine(each)
	e.Format = format
	e.Pages = append(structure.Problems, e.Pages...)
	return e, err
}

// Small tells that the store is small enough to be examined whenever it is opened.
func (s *Store) Small() bool { return s.size() <= checkedSize }

// Examine is as the function has it, for a store that is open, without its pages.
func (s *Store) Examine(each func(Job) error) (Examination, error) {
	x := examiner{s: s, Examination: Examination{Format: Format()}}
	if s.head {
		x.damage("", 0, "one of the two heads of its file was damaged: the last thing that was recorded before may be missing")
	}
	x.about()
	for _, job := range x.jobs() {
		if err := x.job(job, each); err != nil {
			return x.Examination, err
		}
	}
	x.strays()
	return x.Examination, nil
}

type examiner struct {
	s *Store
	Examination
	keptBytes int64 // of strays, as the store says
}

func (x *examiner) damage(job string, position int64, what string, args ...any) {
	x.Damage = append(x.Damage, store.Damage{Job: job, Position: position, What: fmt.Sprintf(what, args...)})
}

// walk gives every key and value under a prefix. Damage of the pages ends it and is noted.
func (x *examiner) walk(bucket, prefix []byte, job string, do func(k, v []byte)) (whole bool) {
	err := x.s.view(func(tx *bbolt.Tx) error {
		b := tx.Bucket(bucket)
		if b == nil {
			return &store.Damage{What: "there are none"}
		}
		c := b.Cursor()
		for k, v := c.Seek(prefix); k != nil && bytes.HasPrefix(k, prefix); k, v = c.Next() {
			do(k, v)
		}
		return nil
	})
	var damage *store.Damage
	if errors.As(err, &damage) {
		what, _, _ := strings.Cut(damage.What, " (") // what follows is for programmers
		x.damage(job, 0, "the %s cannot be read to the end: %s", bucket, what)
	} else if err != nil {
		x.damage(job, 0, "the %s cannot be read to the end: %v", bucket, err)
	}
	return err == nil
}

func (x *examiner) about() {
	x.walk(aboutBucket, nil, "", func(k, v []byte) {
		switch {
		case bytes.Equal(k, formatKey):
		case bytes.Equal(k, publicKey):
			if store.Unpack("", "", v, &x.Key) != nil {
				x.damage("", 0, "the public key is not what was written")
			}
		case bytes.Equal(k, strayBytesKey) && len(v) == 8:
			x.keptBytes = int64(binary.BigEndian.Uint64(v))
		default:
			x.damage("", 0, "it says %.40q about itself, which means nothing", k)
		}
	})
}

// jobs are the ids of all jobs that anything is kept of.
func (x *examiner) jobs() []uuid.UUID {
	lengths := map[string]int{string(recordsBucket): 24, string(idsBucket): 32, string(sealsBucket): 24, string(linesBucket): 16}
	known := map[uuid.UUID]bool{}
	for _, bucket := range [][]byte{linesBucket, recordsBucket, idsBucket, sealsBucket} {
		x.walk(bucket, nil, "", func(k, _ []byte) {
			if len(k) != lengths[string(bucket)] {
				x.damage("", 0, "the %s have a key that belongs to nothing", bucket)
				return
			}
			known[uuid.UUID(k[:16])] = true
		})
	}
	return slices.SortedFunc(maps.Keys(known), func(a, b uuid.UUID) int { return bytes.Compare(a[:], b[:]) })
}

func (x *examiner) job(id uuid.UUID, each func(Job) error) error {
	job, before := Job{ID: id.String(), Line: store.Line{ID: id.String(), Title: store.DamagedTitle}}, len(x.Damage)
	log := end{head: -1} // not known
	hasLine := false
	x.walk(linesBucket, id[:], job.ID, func(_, v []byte) {
		hasLine = true
		line, at, err := unpackLine(job.ID, v)
		var damage *store.Damage
		if errors.As(err, &damage) {
			x.Damage = append(x.Damage, *damage)
			return
		}
		job.Line, log = line, at
	})
	if !hasLine {
		x.damage(job.ID, 0, "it is in no list of jobs although something of it is kept")
	}
	x.records(id, &job, x.index(id, job.ID, log), log.head)
	x.walk(sealsBucket, id[:], job.ID, func(k, v []byte) {
		var seal store.Seal
		at := int64(binary.BigEndian.Uint64(k[16:]))
		switch {
		case store.Unpack("", "", v, &seal) != nil:
			x.damage(job.ID, at, "its seal is not what was written")
		case seal.Position != at || log.head >= 0 && at > log.head:
			x.damage(job.ID, at, "its seal stands in another place")
		default:
			job.Seals = append(job.Seals, seal)
		}
	})
	job.Whole = len(x.Damage) == before
	if each == nil {
		return nil
	}
	return each(job)
}

// index reads which entry stands at which position: in the index of ids, and behind it in
// the job's line.
func (x *examiner) index(id uuid.UUID, job string, log end) map[int64]string {
	places := map[int64]string{}
	place := func(entry string, at int64) {
		if other, twice := places[at]; twice {
			x.damage(job, at, "the index of ids has entries %s and %s at one place", other, entry)
		}
		places[at] = entry
	}
	x.walk(idsBucket, id[:], job, func(k, v []byte) {
		entry := uuid.UUID(k[16:]).String()
		if len(v) != 8 {
			x.damage(job, 0, "the place of entry %s is not what was written", entry)
			return
		}
		place(entry, int64(binary.BigEndian.Uint64(v)))
	})
	for i := range log.count() {
		place(log.id(i).String(), log.position(i))
	}
	return places
}

// records reads a job's records in order and holds the index of ids to them, both ways.
func (x *examiner) records(id uuid.UUID, job *Job, places map[int64]string, head int64) {
	last, late := int64(0), int64(math.MaxInt64)
	if head < 0 { // the ids of the last entries stood in the line
		late = slices.Max(append(slices.Collect(maps.Keys(places)), 0))
	}
	missing := func(until int64) {
		if last+1 >= until {
			return
		}
		what := "it is not there"
		if until > last+2 {
			what += fmt.Sprintf(", nor is any up to record %d", until-1)
		}
		if entry := places[last+1]; entry != "" {
			what += ". It was entry " + entry
		}
		x.damage(job.ID, last+1, "%s", what)
		for at := range places {
			if at > last && at < until {
				delete(places, at)
			}
		}
	}
	whole := x.walk(recordsBucket, id[:], job.ID, func(k, v []byte) {
		at := int64(binary.BigEndian.Uint64(k[16:]))
		if at < 1 || head >= 0 && at > head {
			x.damage(job.ID, at, "the job has no such position")
			return
		}
		missing(at)
		last = at
		entry, indexed := places[at]
		delete(places, at)
		r, err := store.UnpackRecord(job.ID, at, v)
		switch {
		case err != nil:
			x.damage(job.ID, at, "its bytes are not the ones that were written. %s", remains(v, entry))
		case !indexed && at <= late:
			x.damage(job.ID, at, "the index of ids does not have entry %s", r.Entry.ID)
		case indexed && entry != r.Entry.ID:
			x.damage(job.ID, at, "the index of ids has entry %s here, which is entry %s", entry, r.Entry.ID)
		}
		if err == nil {
			job.Records = append(job.Records, r)
		}
	})
	if !whole { // what was not reached is not missing
		if last < head {
			x.damage(job.ID, last+1, "it cannot be read, nor can any up to record %d", head)
		}
		return
	}
	if head >= 0 {
		missing(head + 1)
	}
	for _, at := range slices.Sorted(maps.Keys(places)) {
		x.damage(job.ID, at, "the index of ids has entry %s here, where there is no record", places[at])
	}
}

func (x *examiner) strays() {
	places := map[string]uint64{}
	x.walk(strayedBucket, nil, "", func(k, v []byte) {
		if len(k) != 32 || len(v) != 8 {
			x.damage("", 0, "the list of strays is not what was written")
			return
		}
		places[string(k)] = binary.BigEndian.Uint64(v)
	})
	next, size := uint64(1), int64(0)
	x.walk(straysBucket, nil, "", func(k, v []byte) {
		if len(k) != 8 || binary.BigEndian.Uint64(k) != next {
			x.damage("", 0, "stray %d is not there", next)
			if len(k) != 8 {
				return
			}
			next = binary.BigEndian.Uint64(k)
		}
		var stray store.Stray
		hash := [32]byte{}
		if store.Unpack("", "", v, &stray) != nil {
			x.damage("", 0, "stray %d is not what was written", next)
		} else if hash = stray.StrayKey(); places[string(hash[:])] != next {
			x.damage("", 0, "stray %d is not in the list of strays", next)
		}
		delete(places, string(hash[:]))
		size += int64(len(stray.Entry))
		next++
		x.Strays++
	})
	if len(x.Damage) > 0 {
		return
	}
	if len(places) > 0 {
		x.damage("", 0, "the list of strays has %d that are not there", len(places))
	}
	if size != x.keptBytes {
		x.damage("", 0, "the strays have %d bytes, and %d were written", size, x.keptBytes)
	}
}

// What a damaged record still shows of itself, each a value in its JSON or in the
// JSON text inside it.
var traces = []struct {
	name string
	form *regexp.Regexp
}{
	{"kind", trace("kind")}, {"step", trace("step")}, {"mount", trace("mount")}, {"who", trace("who")}, {"received", trace("received")},
}

func trace(name string) *regexp.Regexp {
	return regexp.MustCompile(`\\?"` + name + `\\?":\s?\\?"([ -!#-\[\]-~]{1,60})\\?"`)
}

// remains says what a damaged record was, as far as that can be told.
func remains(packed []byte, entry string) string {
	var parts []string
	for _, t := range traces {
		if m := t.form.FindSubmatch(packed); m != nil {
			parts = append(parts, t.name+" "+string(m[1]))
		}
	}
	text := "Nothing of it can be read"
	if len(parts) > 0 {
		text = "What can still be read, and may itself be wrong: " + strings.Join(parts, ", ")
	}
	if entry != "" {
		text += ". It was entry " + entry
	}
	return text
}

// Check runs bbolt's own check over a file, which ends the program on some damage.
// Run it in a process of its own.
func Check(path string) (problems []string, err error) {
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("bolt: %w", err)
	}
	db, err := bbolt.Open(path, 0o600, &bbolt.Options{Timeout: lockTimeout, ReadOnly: true, PreLoadFreelist: true, NoStatistics: true})
	if err != nil {
		return []string{err.Error()}, nil
	}
	err = db.View(func(tx *bbolt.Tx) error {
		for problem := range tx.Check() {
			if len(problems) < maxProblems {
				problems = append(problems, problem.Error())
			}
		}
		return nil
	})
	return problems, errors.Join(err, db.Close())
}

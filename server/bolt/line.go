package bolt

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"errors"

	"github.com/google/uuid"
	"go.etcd.io/bbolt"

	"hangtrue/server/store"
)

// An end is where a job's log ends: the position of its last record, and the ids of the
// last entries, which the index of ids does not have yet.
//
// The ids of many jobs lie far apart, so that each put into their index writes a page of
// the file. A job's line is written with each addition in any case; it keeps the ids
// until there are enough of them, which then lie side by side, for one page.
type end struct {
	head int64
	late []byte // ids of 16 bytes, the last one that of head
}

// maxLate is how many ids a line keeps.
const maxLate = 16

const idSize = len(uuid.UUID{})

func (e *end) count() int { return len(e.late) / idSize }

func (e *end) id(i int) uuid.UUID { return uuid.UUID(e.late[i*idSize:]) }

// position is where the record of the ith of the ids stands.
func (e *end) position(i int) int64 { return e.head - int64(e.count()-1-i) }

func (e *end) add(id uuid.UUID) {
	e.head++
	e.late = append(e.late, id[:]...)
}

// place is the position of the record of an entry that is among the ids, 0 if it is not.
func (e *end) place(id uuid.UUID) int64 {
	for i := range e.count() {
		if e.id(i) == id {
			return e.position(i)
		}
	}
	return 0
}

// index puts the ids into their index.
func (e *end) index(ids *bbolt.Bucket, job uuid.UUID) error {
	for i := range e.count() {
		if err := ids.Put(idKey(job, e.id(i)), number(e.position(i))); err != nil {
			return err
		}
	}
	e.late = e.late[:0]
	return nil
}

// idKey orders the ids of a job's entries.
func idKey(job, entry uuid.UUID) []byte {
	return append(append(make([]byte, 0, 2*idSize), job[:]...), entry[:]...)
}

// place is the position of an entry's record, store.ErrNoRecord if the job's log has none.
func place(tx *bbolt.Tx, id string, job, entry uuid.UUID) (int64, error) {
	if at := tx.Bucket(idsBucket).Get(idKey(job, entry)); len(at) == 8 {
		return int64(binary.BigEndian.Uint64(at)), nil
	} else if at != nil {
		return 0, &store.Damage{Job: id, What: "the place of entry " + entry.String()}
	}
	_, log, err := readLine(tx, id, job)
	if errors.Is(err, store.ErrNoJob) {
		return 0, store.ErrNoRecord
	} else if err != nil {
		return 0, err
	}
	if at := log.place(entry); at > 0 {
		return at, nil
	}
	return 0, store.ErrNoRecord
}

// lateMember is where the ids begin in a line's JSON; they stand there in base64.
const lateMember = `,"late":"`

// packLine is a job's line as it is kept, made of its JSON.
func packLine(line, ids []byte) []byte {
	packed := make([]byte, sha256.Size, sha256.Size+len(line)+len(lateMember)+base64.StdEncoding.EncodedLen(len(ids))+1)
	if len(ids) == 0 {
		packed = append(packed, line...)
	} else {
		packed = append(append(packed, line[:len(line)-1]...), lateMember...)
		packed = append(base64.StdEncoding.AppendEncode(packed, ids), `"}`...)
	}
	sum := sha256.Sum256(packed[sha256.Size:])
	copy(packed, sum[:])
	return packed
}

func readLine(tx *bbolt.Tx, id string, job uuid.UUID) (store.Line, end, error) {
	packed := tx.Bucket(linesBucket).Get(job[:])
	if packed == nil {
		return store.Line{}, end{}, store.ErrNoJob
	}
	return unpackLine(id, packed)
}

func unpackLine(id string, packed []byte) (store.Line, end, error) {
	var kept struct {
		store.Line
		Late []byte `json:"late"`
	}
	if err := store.Unpack(id, "its line", packed, &kept); err != nil {
		return store.Line{}, end{}, err
	}
	switch {
	case kept.ID != id:
		return store.Line{}, end{}, &store.Damage{Job: id, What: "its line is that of another job"}
	case len(kept.Late)%idSize != 0 || int64(len(kept.Late)/idSize) > kept.Head:
		return store.Line{}, end{}, &store.Damage{Job: id, What: "its line has ids of no entries"}
	}
	return kept.Line, end{kept.Head, kept.Late}, nil
}

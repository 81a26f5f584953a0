package store

import (
	"errors"
	"fmt"

	"hangtrue/checklist"
)

// A Store keeps the logs of jobs. It is safe for concurrent use. What it returns
// belongs to the caller.
type Store interface {
	// Append keeps the additions, all or none. ErrConflict is returned when an
	// addition's first record is not the one after the job's last, or an id is in
	// the job's log already.
	Append(additions ...Addition) error

	// Lines gives one line for each job, in the order of their ids. A job whose line
	// is damaged has DamagedTitle for its title, and whatever else is asked about it
	// is a Damage, so that one damaged job does not hide the others.
	Lines() ([]Line, error)
	// Line gives one job's line, ErrNoJob if there is none.
	Line(job string) (Line, error)
	// Records gives the records after a position, in order: at most limit of them
	// and, from the second on, no more than bytes of entries. No such job is no records.
	Records(job string, after int64, limit, bytes int) ([]checklist.Record, error)
	// At gives the records at positions, in their order. One that is not there is a Damage.
	At(job string, positions []int64) ([]checklist.Record, error)
	// Find gives the record of an entry, ErrNoRecord if the job's log has none.
	Find(job, id string) (checklist.Record, error)
	// Seals gives a job's seals, oldest first.
	Seals(job string) ([]Seal, error)
	// Snapshot gives the snapshot that was kept last of a job, nil if there is none or
	// it is damaged: it is a help and follows from the log.
	Snapshot(job string) ([]byte, error)
	// Strays gives what could not go into any log, oldest first, after as many: at
	// most limit of them and, from the second on, no more than bytes of entries.
	Strays(after int64, limit, bytes int) ([]Stray, error)

	// Close ends the store. Everything after it returns ErrClosed.
	Close() error
}

// An Addition is what one push adds.
type Addition struct {
	Job     string
	Records []checklist.Record
	Seals   []Seal
	// Line is the job's line after the records; it is kept when there are records.
	Line   Line
	Strays []Stray
	// Snapshot is of the job's state after the records; none leaves the one before.
	Snapshot []byte
}

// A Line is one job in a list. Everything in it follows from the log; it is kept
// so that a list of many jobs need not fold every log.
type Line struct {
	ID       string `json:"id"`
	Title    string `json:"title"`
	Head     int64  `json:"head"`     // position of the last record
	Received string `json:"received"` // the server's clock at that record
	Done     int    `json:"done"`     // steps that stand
	All      int    `json:"all"`      // steps
	Signed   bool   `json:"signed"`   // signed off, and nothing reopened since
}

// DamagedTitle stands where a job's line cannot be read.
const DamagedTitle = "(damaged: restore it from a backup)"

// A Seal is the note made at a position of a job's log.
type Seal struct {
	Position int64  `json:"position"`
	Note     string `json:"note"`
}

// A Stray is an entry that could not go into any log: unreadable, or of a job
// that is not the one it was sent to. It is kept as it came.
type Stray struct {
	Job      string `json:"job"` // the job it was sent to
	Received string `json:"received"`
	Reason   string `json:"reason"`
	Entry    []byte `json:"entry"` // base64 in JSON: the bytes may be no text
}

// The bounds of all strays together. They come from a program's fault or from
// somebody playing; a store that took them without end could be filled by one phone.
const (
	MaxStrays     = 5000
	MaxStrayBytes = 64 << 20 // of entries
)

// Errors of a store.
var (
	// ErrNoJob is returned when the store has no such job.
	ErrNoJob = errors.New("store: no such job")
	// ErrNoRecord is returned when a job's log has no such entry.
	ErrNoRecord = errors.New("store: no such record")
	// ErrConflict is returned when an addition does not follow the log's last record.
	ErrConflict = errors.New("store: the addition does not follow the log")
	// ErrStrays is returned when the store has as many strays as it takes.
	ErrStrays = errors.New("store: there are too many strays already")
	// ErrFull is returned when the disk has no room; nothing was kept.
	ErrFull = errors.New("store: the disk is full")
	// ErrClosed is returned after Close.
	ErrClosed = errors.New("store: closed")
)

// Damage is returned when what was kept is not what was written.
type Damage struct {
	Job      string
	Position int64 // 0 when it is not about one record
	What     string
}

func (d *Damage) Error() string {
	switch {
	case d.Job == "":
		return "store: damaged: " + d.What
	case d.Position == 0:
		return fmt.Sprintf("store: job %s is damaged: %s", d.Job, d.What)
	}
	return fmt.Sprintf("store: record %d of job %s is damaged: %s", d.Position, d.Job, d.What)
}

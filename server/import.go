package server

import (
	"bytes"
	"errors"
	"fmt"

	"hangtrue/checklist"
	"hangtrue/checklist/seal"
)

// Imported tells what became of a record that was brought in.
type Imported struct {
	Job     string `json:"job"`
	Title   string `json:"title"`
	Records int    `json:"records"` // of the file
	Added   bool   `json:"added"`   // false: this server had them all
	Later   int64  `json:"later"`   // what its log has beyond them
}

// A Difference is returned when a record is not what this server has of the job.
type Difference struct {
	Job      string
	Position int64 // the first record that differs
	Head     int64 // of this server's log
}

func (d *Difference) Error() string {
	if d.Position > d.Head {
		return fmt.Sprintf("job %s is on this server already, and its log ends at entry %d; the record goes on from entry %d. A job lives on one server: nothing was added", d.Job, d.Head, d.Position)
	}
	return fmt.Sprintf("job %s is on this server already, and its log differs from the record at entry %d. Nothing was added", d.Job, d.Position)
}

// ErrNoOpening is returned when a record does not begin with a job that was opened.
var ErrNoOpening = errors.New("server: the record does not begin with an opened job")

// Import makes a job of another server's record: its entries with that server's
// decisions, each at its position. Where the job is here already, nothing is added,
// and it is a [Difference] if the two do not agree.
//
// The record has to be intact: who calls this has verified it. The sign-offs get this
// server's own seals, over the same records, because what a server hands out is
// sealed with one key; they say what it was given, and the caller keeps the file for
// what the other server said.
func (k *Keeper) Import(f seal.File) (Imported, error) {
	in := Imported{Job: f.Job, Title: f.Title, Records: len(f.Records)}
	if len(f.Records) == 0 || !f.Records[0].Accepted || f.Records[0].Entry.Kind != checklist.JobOpened {
		return in, ErrNoOpening
	}
	d := k.desks.take(f.Job)
	defer k.desks.put(d)
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := k.load(d); err != nil {
		return in, err
	}
	if d.state.Head > 0 {
		in.Later = d.state.Head - int64(len(f.Records))
		return in, k.agree(f, d.state.Head)
	}
	if err := k.take(d, f); err != nil {
		d.forget()
		k.reread(f.Job)
		return in, err
	}
	in.Added = true
	return in, nil
}

// agree holds a record to the log that is here.
func (k *Keeper) agree(f seal.File, head int64) error {
	differs := int64(0)
	err := k.each(f.Job, 0, func(r checklist.Record) {
		if differs == 0 && r.Position <= int64(len(f.Records)) && !bytes.Equal(r.Leaf(), f.Records[r.Position-1].Leaf()) {
			differs = r.Position
		}
	})
	if differs == 0 && int64(len(f.Records)) > head {
		differs = head + 1
	}
	if err == nil && differs > 0 {
		err = &Difference{f.Job, differs, head}
	}
	return err
}

// take keeps a record as a new job. The caller holds the desk, which is empty.
func (k *Keeper) take(d *desk, f seal.File) error {
	w := &work{keeper: k, desk: d, received: f.Records[len(f.Records)-1].Received}
	w.Job = f.Job
	for i, r := range f.Records {
		w.Records = f.Records[:i+1]
		d.state.Fold(r)
		d.size.Add(costOf(r))
		if r.Accepted && r.Entry.Kind == checklist.JobSigned {
			if err := w.seal(r.Position); err != nil {
				return err
			}
		}
	}
	return w.keep()
}

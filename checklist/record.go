package checklist

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
)

// A Decision is what the rules said about an entry when it was given its place.
type Decision struct {
	Accepted bool   `json:"accepted"`
	Reason   string `json:"reason,omitempty"`  // why it was refused: one sentence for a person
	Outcome  string `json:"outcome,omitempty"` // of a recorded step: within, outside or unsure
	Barred   string `json:"barred,omitempty"`  // the check that no concession may pass, if one failed
	// Edition is that of the steps it was decided by, see [Template.Version]. 0 is a
	// decision from before editions were written down: it was made by edition 1 or 2.
	Edition int `json:"edition,omitempty"`
}

// A Record is an entry with its place in the log. Accepted and refused entries
// share one sequence 1, 2, 3 … without gaps; refused ones change no state but the
// list of refusals.
type Record struct {
	Position int64
	Received string // the server's clock, RFC 3339, UTC
	Decision
	Entry Entry
}

// Leaf is what the log's tree hashes for this record. It names the job and the
// position, so that a valid record cannot be moved elsewhere, and carries the
// entry's bytes as they are. A record without an edition has the leaf that it always
// had; with one, another first line tells that its number follows.
func (r Record) Leaf() []byte {
	b := make([]byte, 0, len(r.Entry.raw)+len(r.Reason)+200)
	if r.Edition == 0 {
		b = append(b, "hangtrue record 1\n"...)
	} else {
		b = append(strconv.AppendInt(append(b, "hangtrue record 2\n"...), int64(r.Edition), 10), '\n')
	}
	b = append(append(b, r.Entry.Job...), '\n')
	b = append(strconv.AppendInt(b, r.Position, 10), '\n')
	b = append(append(b, r.Received...), '\n')
	b = append(strconv.AppendBool(b, r.Accepted), '\n')
	b = append(strconv.AppendQuote(b, r.Reason), '\n')
	b = append(append(b, r.Outcome...), '\n')
	b = append(append(b, r.Barred...), '\n')
	return append(b, r.Entry.raw...)
}

// ErrRecord is wrapped by every complaint about JSON that is not a record as this program
// knows them. It may have been written by a later one.
var ErrRecord = errors.New("checklist: record")

// recordJSON is a record on the wire and on disk: the entry is one JSON text, so
// that its bytes survive any JSON reader.
type recordJSON struct {
	Position int64  `json:"position"`
	Received string `json:"received"`
	Decision
	Entry string `json:"entry"`
}

// MarshalJSON keeps the entry's bytes as one text.
func (r Record) MarshalJSON() ([]byte, error) { return r.AppendJSON(nil), nil }

// AppendJSON appends what MarshalJSON gives.
func (r Record) AppendJSON(b []byte) []byte {
	b = slices.Grow(b, len(r.Entry.raw)*5/4+len(r.Reason)+160)
	b = append(b, `{"position":`...)
	b = strconv.AppendInt(b, r.Position, 10)
	b = AppendText(append(b, `,"received":`...), r.Received)
	b = strconv.AppendBool(append(b, `,"accepted":`...), r.Accepted)
	for _, given := range []struct{ key, text string }{
		{`,"reason":`, r.Reason}, {`,"outcome":`, r.Outcome}, {`,"barred":`, r.Barred},
	} {
		if given.text != "" {
			b = AppendText(append(b, given.key...), given.text)
		}
	}
	if r.Edition != 0 {
		b = strconv.AppendInt(append(b, `,"edition":`...), int64(r.Edition), 10)
	}
	b = AppendText(append(b, `,"entry":`...), string(r.Entry.raw))
	return append(b, '}')
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (r *Record) UnmarshalJSON(data []byte) error {
	j, ok := canonicalRecord(data)
	if !ok {
		if err := decodeStrict(data, &j); err != nil {
			return fmt.Errorf("%w: %w", ErrRecord, err)
		}
	}
	if j.Edition < 0 {
		return fmt.Errorf("%w %d: /edition is %d, wanted 1 or more", ErrRecord, j.Position, j.Edition)
	}
	e, err := parseEntry([]byte(j.Entry))
	if err != nil {
		return fmt.Errorf("%w %d: %w", ErrRecord, j.Position, err)
	}
	*r = Record{j.Position, j.Received, j.Decision, e}
	return nil
}

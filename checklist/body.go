package checklist

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"
)

// An Opening begins a job.
type Opening struct {
	Title string `json:"title"`
}

// A Settlement makes a plan document the job's next revision. The document
// travels as one text, exactly as it was written, with its SHA-256.
type Settlement struct {
	Revision int    `json:"revision"`
	Reason   string `json:"reason"`
	SHA256   string `json:"sha256"`
	Plan     string `json:"plan"`
	// Edits is how many edits the draft had of which this is the document; 0 for a
	// document that comes from elsewhere.
	Edits int `json:"edits,omitempty"`
}

// NewSettlement wraps a plan document.
func NewSettlement(revision int, reason string, document []byte) Settlement {
	sum := sha256.Sum256(document)
	return Settlement{Revision: revision, Reason: reason, SHA256: hex.EncodeToString(sum[:]), Plan: string(document)}
}

// A Recording is what a person did and measured at a step. Mount is empty for a
// step of the whole job. Measured quantities are whole numbers in the unit that
// the key ends with (see [Quantity]); several numbers are repeat readings. A key
// for a field that is asked for each mount ends in "/" and the channel.
type Recording struct {
	Step      string             `json:"step"`
	Mount     string             `json:"mount,omitempty"`
	Measured  map[string][]int64 `json:"measured,omitempty"`
	Chosen    map[string]string  `json:"chosen,omitempty"`
	Confirmed []string           `json:"confirmed,omitempty"` // ids of the cautions acknowledged
	Remark    string             `json:"remark,omitempty"`
	Photos    []Photo            `json:"photos,omitempty"`
}

// A Reasoned act on a step: a concession or a reopening.
type Reasoned struct {
	Step   string `json:"step"`
	Mount  string `json:"mount,omitempty"`
	Reason string `json:"reason"`
}

// A Remark is free text or photos on the job, a mount or a step; it decides nothing.
type Remark struct {
	Step   string  `json:"step,omitempty"`
	Mount  string  `json:"mount,omitempty"`
	Text   string  `json:"text"` // may be empty where there are photos
	Photos []Photo `json:"photos,omitempty"`
}

// A Signing signs the job off as it stands after log position Head.
type Signing struct {
	Revision int    `json:"revision"`
	Head     int64  `json:"head"`
	Remark   string `json:"remark,omitempty"`
}

const (
	maxReason = 1000 // characters of a reason or remark: a paragraph, not a file
	maxTitle  = 120
)

// readBody decodes a body.
func readBody(e Entry, into any) error {
	if canonicalBody(e.Body, into) {
		return nil
	}
	if err := decodeStrict(e.Body, into); err != nil {
		return fmt.Errorf("the body of %s cannot be read: %v", e.Kind, err)
	}
	return nil
}

// readNewBody decodes the body of an entry that is not decided yet. It has to be
// written as this program writes it, so that no key stands twice and no other
// reader can read something else into the same bytes.
func readNewBody(e Entry, into any) error {
	if e.alike && canonicalBody(e.Body, into) {
		return nil
	}
	if err := readBody(e, into); err != nil {
		return Refusal(capital(err.Error()) + ".")
	}
	if again, err := json.Marshal(into); err != nil || !bytes.Equal(again, e.Body) {
		return refuse("The body of %s is not written as this program writes it.", e.Kind)
	}
	return nil
}

func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// RecordingOf is what an entry recorded; false for an entry of another kind and for one
// that cannot be read.
func RecordingOf(e Entry) (b Recording, ok bool) {
	ok = e.Kind == StepRecorded && readBody(e, &b) == nil
	return b, ok
}

// About tells which step an entry is about, as far as its body can be read; the
// zero Key when it is about none.
func About(e Entry) Key {
	var b struct {
		Step  string `json:"step"`
		Mount string `json:"mount"`
	}
	_ = json.Unmarshal(e.Body, &b) // a body that cannot be read is about nothing
	return Key{b.Step, b.Mount}
}

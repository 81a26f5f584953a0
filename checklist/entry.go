package checklist

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strconv"
	"time"
	"unicode"
	"unicode/utf8"
)

// A Role is what a device may do on a job.
type Role string

const (
	Lead      Role = "lead"      // plans, concedes, signs
	Installer Role = "installer" // records
	Viewer    Role = "viewer"    // reads
)

// A Kind of entry. Kinds travel and are kept for years: append, never rename.
type Kind string

const (
	JobOpened     Kind = "job.open"     // body: [Opening]
	DraftEdited   Kind = "draft.edit"   // body: [Edit]
	PlanSettled   Kind = "plan.settle"  // body: [Settlement]
	StepRecorded  Kind = "step.record"  // body: [Recording]
	StepConceded  Kind = "step.concede" // body: [Reasoned]
	StepReopened  Kind = "step.reopen"  // body: [Reasoned]
	RemarkWritten Kind = "remark"       // body: [Remark]
	PartNoted     Kind = "part.note"    // body: [Stock]
	PartStowed    Kind = "part.stow"    // body: [Stow]
	PartTaken     Kind = "part.take"    // body: [Taking]
	JobSigned     Kind = "job.sign"     // body: [Signing]
)

// EntryVersion is the edition of the envelope this package writes.
const EntryVersion = 1

// MaxEntry bounds one entry's bytes. The largest lawful one carries a plan of
// some hundred mounts; a push of several entries still fits a request.
const MaxEntry = 192 << 10

// An Entry is one line of a log as a device made it. Its bytes are fixed when it
// is made: what is stored, sent, hashed and sealed is what [Entry.Bytes] returns.
// All quantities in bodies are whole numbers (micrometres, millidegrees,
// milliohms), so that no floating-point text is ever signed.
type Entry struct {
	Version int             `json:"v"`
	ID      string          `json:"id"`     // UUIDv7, made on the device
	Job     string          `json:"job"`    // the job's id, a UUID
	Device  string          `json:"device"` // the device's id, a UUID
	Number  int64           `json:"n"`      // 1, 2, 3 … on this device and job
	Seen    int64           `json:"seen"`   // the last log position the device knew
	Who     string          `json:"who"`    // as the person is called on the job
	Role    Role            `json:"role"`
	Clock   string          `json:"clock"` // the device's clock, RFC 3339, UTC
	Plan    int             `json:"plan"`  // the plan revision it was made against
	Kind    Kind            `json:"kind"`
	Body    json.RawMessage `json:"body"`

	raw   []byte
	alike bool // raw is known to be what encoding/json makes of the entry
}

// Errors of [ParseEntry].
var (
	// ErrEntryTooLarge is returned when an entry has more than MaxEntry bytes.
	ErrEntryTooLarge = errors.New("checklist: an entry has at most " + strconv.Itoa(MaxEntry) + " bytes")
	// ErrEntry is wrapped by every other complaint about an envelope.
	ErrEntry = errors.New("checklist: not an entry")
)

// IsUUID tells whether a text is a UUID in the form of RFC 9562, in lower case.
func IsUUID(s string) bool {
	if len(s) != 36 {
		return false
	}
	for i, r := range []byte(s) {
		switch {
		case i == 8 || i == 13 || i == 18 || i == 23:
			if r != '-' {
				return false
			}
		case (r < '0' || r > '9') && (r < 'a' || r > 'f'):
			return false
		}
	}
	return true
}

// NewEntry fixes an entry's bytes. The caller fills everything but Version; the
// body is any value that encodes as a JSON object without floating-point numbers.
func NewEntry(e Entry, body any) (Entry, error) {
	var err error
	if e.Body, err = json.Marshal(body); err != nil {
		return Entry{}, fmt.Errorf("%w: body: %v", ErrEntry, err)
	}
	e.Version = EntryVersion
	if e.raw, err = json.Marshal(e); err != nil {
		return Entry{}, fmt.Errorf("%w: %v", ErrEntry, err)
	}
	return ParseEntry(e.raw)
}

// ParseEntry reads an envelope strictly. It does not look into the body; that is
// [State.Decide]'s work, so that an entry with a bad body can still be kept.
func ParseEntry(raw []byte) (Entry, error) { return parseEntry(bytes.Clone(raw)) }

// parseEntry reads an envelope whose bytes are the entry's own from here on.
func parseEntry(raw []byte) (Entry, error) {
	if len(raw) > MaxEntry {
		return Entry{}, ErrEntryTooLarge
	}
	if !utf8.Valid(raw) {
		return Entry{}, fmt.Errorf("%w: the bytes are not UTF-8", ErrEntry)
	}
	e, ok := canonicalEntry(raw)
	if !ok {
		if err := decodeStrict(raw, &e); err != nil {
			return Entry{}, fmt.Errorf("%w: %v", ErrEntry, err)
		}
	}
	if err := e.complaint(); err != nil {
		return Entry{}, err
	}
	e.alike = ok && compact(raw)
	e.raw = raw // in which the body is, so that a log in memory has each once
	return e, nil
}

// complaint names the first field of an envelope that is not what it has to be.
func (e Entry) complaint() error {
	for _, rule := range []struct {
		field, read, want string
		ok                bool
	}{
		{"v", strconv.Itoa(e.Version), strconv.Itoa(EntryVersion) + ", the edition this program reads", e.Version == EntryVersion},
		{"id", e.ID, "a UUID in lower case", IsUUID(e.ID)},
		{"job", e.Job, "a UUID in lower case", IsUUID(e.Job)},
		{"device", e.Device, "a UUID in lower case", IsUUID(e.Device)},
		{"n", strconv.FormatInt(e.Number, 10), "1 or more", e.Number >= 1},
		{"seen", strconv.FormatInt(e.Seen, 10), "0 or more", e.Seen >= 0},
		{"who", e.Who, "1 to 60 printable characters", printable(e.Who, 60)},
		{"role", string(e.Role), "lead, installer or viewer", e.Role == Lead || e.Role == Installer || e.Role == Viewer},
		{"clock", e.Clock, "a time in UTC such as 2030-01-31T09:15:00.000Z", isUTC(e.Clock)},
		{"plan", strconv.Itoa(e.Plan), "0 or more", e.Plan >= 0},
		{"kind", string(e.Kind), "a word of 1 to 40 characters", printable(string(e.Kind), 40)},
		{"body", "nothing", "an object", len(e.Body) > 0 && e.Body[0] == '{'},
	} {
		if !rule.ok {
			return fmt.Errorf("%w: /%s is %q, wanted %s", ErrEntry, rule.field, clip(rule.read), rule.want)
		}
	}
	return nil
}

// Bytes are the entry as it was made. The caller must not change them.
func (e Entry) Bytes() []byte { return e.raw }

// Time is the device's clock. It tells when the device thought it was, and orders nothing.
func (e Entry) Time() time.Time {
	t, _ := time.Parse(time.RFC3339, e.Clock)
	return t
}

func isUTC(clock string) bool {
	t, err := time.Parse(time.RFC3339, clock)
	return err == nil && len(clock) <= 30 && clock[len(clock)-1] == 'Z' && t.Year() >= 1970
}

// decodeStrict decodes one JSON value: unknown keys and trailing data are errors.
func decodeStrict(data []byte, into any) error {
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		return err
	}
	if _, err := d.Token(); err != io.EOF {
		return errors.New("something follows the value")
	}
	return nil
}

func printable(s string, most int) bool {
	n := 0
	for _, r := range s {
		if !unicode.IsPrint(r) {
			return false
		}
		n++
	}
	return n >= 1 && n <= most
}

// clip shortens foreign text for a message.
func clip(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:57]) + "…"
	}
	return s
}

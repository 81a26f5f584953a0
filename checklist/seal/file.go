package seal

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"golang.org/x/mod/sumdb/tlog"

	"hangtrue/checklist"
)

// The first value of a record file. Programs from before editions cannot read a record
// that names one: of another format they say just that, and do not call it changed.
const (
	formatPrefix   = "hangtrue-record/"
	formatPlain    = formatPrefix + "1" // no record names an edition of the steps
	formatEditions = formatPrefix + "2" // one does
)

// IsFormat tells whether a document's first value is that of a record file, of whatever edition.
func IsFormat(format string) bool { return strings.HasPrefix(format, formatPrefix) }

// formatOf is the format of a file with these records.
func formatOf(records []checklist.Record) string {
	if slices.ContainsFunc(records, func(r checklist.Record) bool { return r.Edition != 0 }) {
		return formatEditions
	}
	return formatPlain
}

const (
	// MaxFile bounds a record file in bytes. A job of some hundred mounts with a
	// plan revised a hundred times stays below a quarter of it.
	MaxFile = 128 << 20
	// MaxRecords bounds the records of one file.
	MaxRecords = 200_000
	maxSeals   = 1000
)

// ErrFile is wrapped when a record file cannot be read at all. What can be read
// but is not what was sealed is a finding of [File.Verify] instead.
var ErrFile = errors.New("seal: not a record file")

// A File is a job's record as it is handed out and kept.
type File struct {
	Job, Title string
	Key        string // the public key
	Records    []checklist.Record
	Hashes     []tlog.Hash // the leaf hash of each record
	Seals      []string

	format string // as it was read, "" for a file that was put together here
	// unreadable says why records, by index, cannot be what was sealed although
	// the file around them can be read.
	unreadable map[int]string
}

// NewFile puts a record file together.
func NewFile(job, title, key string, records []checklist.Record, seals []string) File {
	f := File{Job: job, Title: title, Key: key, Records: records, Hashes: make([]tlog.Hash, len(records)), Seals: seals}
	for i, r := range records {
		f.Hashes[i] = Leaf(r)
	}
	return f
}

// wire is the file as JSON has it. Records and hashes stay raw, so that one that
// was damaged can be named while the others are still checked.
type wire struct {
	Format  string            `json:"format"`
	Job     string            `json:"job"`
	Title   string            `json:"title"`
	Key     string            `json:"key"`
	Records []json.RawMessage `json:"records"`
	Hashes  []string          `json:"hashes"`
	Seals   []string          `json:"seals"`
}

// Encode writes the file, one value a line, in the only form that [Read] takes
// apart from white space.
func (f File) Encode() ([]byte, error) {
	w := wire{formatOf(f.Records), f.Job, f.Title, f.Key, make([]json.RawMessage, len(f.Records)), make([]string, len(f.Hashes)), f.Seals}
	for i, r := range f.Records {
		raw, err := json.Marshal(r)
		if err != nil {
			return nil, fmt.Errorf("seal: record %d: %w", r.Position, err)
		}
		w.Records[i] = raw
	}
	for i, h := range f.Hashes {
		w.Hashes[i] = h.String()
	}
	if w.Seals == nil {
		w.Seals = []string{}
	}
	data, err := json.MarshalIndent(w, "", " ")
	return append(data, '\n'), err
}

// Read reads a record file. It refuses, with [ErrFile], what is not one; a record
// inside that cannot be read is kept as a finding for [File.Verify].
func Read(data []byte) (File, error) {
	if len(data) > MaxFile {
		return File{}, fmt.Errorf("%w: it has %d bytes, more than %d", ErrFile, len(data), MaxFile)
	}
	if at := invalidUTF8(data); at >= 0 {
		return File{}, fmt.Errorf("%w: %s: a byte that is no text", ErrFile, place(data, at))
	}
	var w wire
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&w); err != nil {
		var syntax *json.SyntaxError
		if errors.As(err, &syntax) {
			return File{}, fmt.Errorf("%w: %s: %v", ErrFile, place(data, int(syntax.Offset)), err)
		}
		return File{}, fmt.Errorf("%w: %v", ErrFile, err)
	}
	if _, err := d.Token(); err != io.EOF {
		return File{}, fmt.Errorf("%w: %s: something follows the record", ErrFile, place(data, int(d.InputOffset())))
	}
	switch {
	case w.Format != formatPlain && w.Format != formatEditions:
		return File{}, fmt.Errorf("%w: its format is %.40q, wanted %q or %q; a newer hangtrue may know more", ErrFile, w.Format, formatPlain, formatEditions)
	case !checklist.IsUUID(w.Job):
		return File{}, fmt.Errorf("%w: its job is %.60q, wanted a UUID", ErrFile, w.Job)
	case w.Records == nil || w.Hashes == nil || w.Seals == nil:
		return File{}, fmt.Errorf("%w: records, hashes and seals are wanted, each a list", ErrFile)
	case len(w.Records) > MaxRecords || len(w.Hashes) > MaxRecords || len(w.Seals) > maxSeals:
		return File{}, fmt.Errorf("%w: more than %d records or %d seals", ErrFile, MaxRecords, maxSeals)
	}
	if err := oneForm(data, w); err != nil {
		return File{}, err
	}
	f := File{Job: w.Job, Title: w.Title, Key: w.Key, Seals: w.Seals, format: w.Format, unreadable: map[int]string{}}
	for i, raw := range w.Records {
		r, err := readRecord(raw)
		if err != nil {
			f.unreadable[i] = strings.ReplaceAll(err.Error(), "checklist: ", "")
		}
		f.Records = append(f.Records, r)
	}
	for i, text := range w.Hashes {
		h, err := parseHash(text)
		if err != nil {
			return File{}, fmt.Errorf("%w: hash %d is not a hash in base64", ErrFile, i+1)
		}
		f.Hashes = append(f.Hashes, h)
	}
	return f, nil
}

// oneForm refuses a file whose values are spelled in another way than Encode
// spells them: a key twice or in capitals, an escape that was not needed, a value
// left out. Everything else that a JSON reader passes over without a word would
// be a place where a change goes unnoticed.
func oneForm(data []byte, w wire) error {
	again, err := json.Marshal(w)
	if err != nil {
		return fmt.Errorf("%w: %v", ErrFile, err)
	}
	var compact bytes.Buffer
	if err := json.Compact(&compact, data); err != nil {
		return fmt.Errorf("%w: %v", ErrFile, err)
	}
	if got := compact.Bytes(); !bytes.Equal(got, again) {
		at := 0
		for at < len(got) && at < len(again) && got[at] == again[at] {
			at++
		}
		return fmt.Errorf("%w: a value is not spelled as this program spells it, near %q", ErrFile, around(got, at))
	}
	return nil
}

// readRecord reads one record and holds it to its one form and to values whose
// leaf cannot be read in two ways.
func readRecord(raw json.RawMessage) (checklist.Record, error) {
	var r checklist.Record
	if err := json.Unmarshal(raw, &r); err != nil {
		return checklist.Record{}, err
	}
	again, err := json.Marshal(r)
	if err != nil {
		return r, err
	}
	if !bytes.Equal(raw, again) {
		var compact bytes.Buffer
		if err := json.Compact(&compact, raw); err != nil || !bytes.Equal(compact.Bytes(), again) {
			return r, errors.New("it is not spelled as this program spells it")
		}
	}
	for _, line := range []struct{ name, text string }{{"received", r.Received}, {"outcome", r.Outcome}, {"barred", r.Barred}} {
		if !oneLine.MatchString(line.text) {
			return r, fmt.Errorf("%s is not one line of text", line.name)
		}
	}
	return r, nil
}

var (
	oneLine    = regexp.MustCompile(`^[^\x00-\x1f\x7f]*$`)
	positionOf = regexp.MustCompile(`"position":\s*(\d+)`)
)

func invalidUTF8(data []byte) int {
	for i := 0; i < len(data); {
		r, size := utf8.DecodeRune(data[i:])
		if r == utf8.RuneError && size == 1 {
			return i
		}
		i += size
	}
	return -1
}

// place tells a person where in the file a byte is: the line, and the entry if it
// stands in one.
func place(data []byte, at int) string {
	before := data[:min(max(at, 0), len(data))]
	where := fmt.Sprintf("line %d", bytes.Count(before, []byte("\n"))+1)
	if bytes.Contains(before, []byte(`"hashes"`)) {
		return where
	}
	if all := positionOf.FindAllSubmatch(before, -1); len(all) > 0 {
		where += fmt.Sprintf(", in or after entry %s", all[len(all)-1][1])
	}
	return where
}

func around(data []byte, at int) string {
	from := bytes.ToValidUTF8(data[max(at-20, 0):min(at+20, len(data))], nil)
	return string(from)
}

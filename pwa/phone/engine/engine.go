package engine

import (
	"encoding/json"
	"fmt"
	"io"
	"runtime"

	"hangtrue/checklist"
	"hangtrue/pwa/pages"
)

// Edition numbers the commands and their JSON. The script that calls them holds
// the same number and refuses any other.
const Edition = 4

// An Engine holds what the phone knows. It is not safe for concurrent use.
type Engine struct {
	template *checklist.Template
	random   io.Reader
	every    int64
	piece    int64 // bytes

	device     device
	persistent bool // the browser promised to keep the storage
	secure     bool // the address is one where a service worker may run
	version    string

	jobs   map[string]*job
	strays []Stray
	made   *checklist.Entry // whose bytes are on their way to the storage
	sought string           // id of an entry for which a job was read again

	albums  map[string]*album // by job
	asked   map[string]string // in which run of the server this program asked which photos of a job it has
	untaken map[string]string // photos that the server does not take, by job and hash, and why
	taken   []pages.Taken     // on the page that is asked for
	room    room

	strain int // how often what one request brings was halved
	eased  int // requests that went through since

	want string
	sync exchange
}

// snapshotEvery is how many records are folded again at most when a job is loaded.
const snapshotEvery = 50

// SnapshotEvery sets after how many records a job's state is written down again, for
// tests that want it soon.
func (e *Engine) SnapshotEvery(records int64) { e.every = records }

// PieceBytes sets what one request brings of a photo, for tests that want many.
func (e *Engine) PieceBytes(bytes int64) { e.piece = bytes }

// New is an engine that knows nothing yet. Random is where ids come from.
func New(t *checklist.Template, random io.Reader) *Engine {
	return &Engine{template: t, random: random, every: snapshotEvery, piece: maxPiece, jobs: map[string]*job{}, albums: map[string]*album{}, asked: map[string]string{}, untaken: map[string]string{}}
}

// A job as the phone knows it: its line always, its log once it is loaded.
type job struct {
	id      string
	line    line
	pending int            // entries not decided by the server
	log     *checklist.Log // nil until loaded
	stale   bool           // line is older than log
	used    int64          // the last number of this device, as the storage had it when the log was loaded
	unread  bool           // the storage may hold more than this engine knows
	stored  string         // the line as the storage has it
	behind  bool           // the server decided its last record by steps that came after this program
	refusal string         // the reason of the last one, while this program knows it
	zones   pages.Zones    // of the page that was shown last
}

// A line is what the job list shows, kept so that the list needs no log.
type line struct {
	Title  string   `json:"title"`
	Head   int64    `json:"head"`
	Done   int      `json:"done"`
	All    int      `json:"all"`
	Signed bool     `json:"signed"`
	News   string   `json:"news"` // when the server received its last record
	Seals  []string `json:"seals,omitempty"`
	// Refused counts the entries of this device that came back refused, and Looked those
	// of them that the job's page has shown.
	Refused int `json:"refused,omitempty"`
	Looked  int `json:"looked,omitempty"`
	// Turn counts the changes of the job's rows on the storage: while it is the one
	// known here, so are the rows.
	Turn int64 `json:"turn"`
}

// A device is who holds the phone, as it is stored.
type device struct {
	ID   string         `json:"id"`
	Who  string         `json:"who,omitempty"`
	Role checklist.Role `json:"role,omitempty"`
}

// A Stray is an entry that the server could not take into any log.
type Stray struct {
	Reason string `json:"reason"`
	Entry  string `json:"entry"`
	Job    string `json:"job,omitempty"`    // in whose queue it was
	Number int64  `json:"number,omitempty"` // its number there
	// Missing tells that the server had no such job. The entry waits again when it has.
	Missing bool `json:"missing,omitempty"`
}

// The stores of the phone that an engine reads and writes. Their values are texts.
const (
	inMeta      = "meta"      // name → JSON
	inJobs      = "jobs"      // job → line
	inNumbers   = "numbers"   // job → the last number this device used
	inRecords   = "records"   // [job, position] → record
	inSnapshots = "snapshots" // job → snapshot of the state at some record
	inPending   = "pending"   // [job, number] → entry
	inStrays    = "strays"    // entry id → Stray
)

// A Write is one change of the phone's storage. All writes of an answer are made
// in one transaction, or none is; what they go by is looked at before any is made.
//
// Op is put; add (the key must be new, or hold the same value: then everything
// was written before); delete; free (a photo goes, unless it is noted as not sent);
// owe (a photo is noted as not sent, if it is there); clear (key is a job: all of its rows); rise (value
// is a number that must be above the stored one); swap (the row must be as it was,
// "" for none, or hold the value already); keep (value is the key [path, sha256] of a
// photo that was taken: it becomes the photo of this key, is noted as not sent, and is
// no longer one that was taken; one that is not there fails all of it).
//
// Every answer that changes a job's records swaps its line. A tab that does not
// know what another has written, where tabs cannot tell each other, is refused
// then: what it would write over may be the only copy of an entry.
type Write struct {
	Op    string `json:"op"`
	In    string `json:"in"`
	Key   any    `json:"key"`
	Value any    `json:"value,omitempty"`
	Was   string `json:"was,omitempty"`
}

// An Answer is what every command returns; most members are empty.
type Answer struct {
	Fault string  `json:"fault,omitempty"` // the engine failed: start another
	Need  string  `json:"need,omitempty"`  // load this job, then ask again
	Write []Write `json:"write,omitempty"`

	Status int    `json:"status,omitempty"`
	Path   string `json:"path,omitempty"`
	Title  string `json:"title,omitempty"`
	HTML   string `json:"html,omitempty"`
	Mark   string `json:"mark,omitempty"`  // see [pages.Document]
	Empty  bool   `json:"empty,omitempty"` // the phone has no job and has not asked the server yet

	Parts    map[string]string `json:"parts,omitempty"`    // element id → inner HTML
	Problems map[string]string `json:"problems,omitempty"` // form name → text

	ID      string   `json:"id,omitempty"` // of the entry that was made
	Job     string   `json:"job,omitempty"`
	Whole   bool     `json:"whole,omitempty"` // only the whole program has this page: load it and ask again
	Go      string   `json:"go,omitempty"`    // the path to show once it is saved, if another
	Request *Request `json:"request,omitempty"`

	Photo *pages.Taken `json:"photo,omitempty"` // what a picture is called
	Data  []byte       `json:"data,omitempty"`  // the picture, where it is another than was given

	Changed []string `json:"changed,omitempty"` // jobs that look different now
	Forget  string   `json:"forget,omitempty"`  // after the writes, call "forget" with this job
	Failed  bool     `json:"failed,omitempty"`  // the exchange stopped; try again later
	Update  bool     `json:"update,omitempty"`  // see whether the server has a newer program for this phone
	Say     *Say     `json:"say,omitempty"`

	Edition int    `json:"edition,omitempty"`
	Program string `json:"program,omitempty"`
}

// A Request to the server.
type Request struct {
	Method string `json:"method"`
	URL    string `json:"url"`
	Body   string `json:"body,omitempty"`
	Piece  *Piece `json:"piece,omitempty"` // the body, out of the storage
}

// command is one thing a caller may ask for. Only "load" takes texts.
type command func(e *Engine, in []byte, texts []string) (Answer, error)

var commands = map[string]command{
	"version": func(*Engine, []byte, []string) (Answer, error) {
		return Answer{Edition: Edition, Program: runtime.Version() + " " + runtime.GOOS + "/" + runtime.GOARCH}, nil
	},
	"start":   with((*Engine).start),
	"load":    withTexts((*Engine).load),
	"forget":  with((*Engine).forget),
	"page":    with((*Engine).page),
	"draft":   with((*Engine).draft),
	"file":    with((*Engine).file),
	"submit":  with((*Engine).submit),
	"kept":    with((*Engine).kept),
	"begin":   with((*Engine).begin),
	"next":    with((*Engine).next),
	"answer":  with((*Engine).answer),
	"say":     with((*Engine).sayNow),
	"persist": with((*Engine).persist),
	"photo":   with((*Engine).photo),
	"taken":   with((*Engine).takenNow),
	"release": with((*Engine).release),
	"resend":  with((*Engine).resend),
}

// with reads a command's JSON into its own type.
func with[In any](do func(*Engine, In) (Answer, error)) command {
	return withTexts(func(e *Engine, in In, _ []string) (Answer, error) { return do(e, in) })
}

func withTexts[In any](do func(*Engine, In, []string) (Answer, error)) command {
	return func(e *Engine, data []byte, texts []string) (Answer, error) {
		var in In
		if len(data) > 0 {
			if err := json.Unmarshal(data, &in); err != nil {
				return Answer{}, fmt.Errorf("its JSON cannot be read: %w", err)
			}
		}
		return do(e, in, texts)
	}
}

// nothing is the input of a command that takes none.
type nothing struct{}

// Call runs a command. It always returns a JSON object, see [Answer]. Texts are a job's
// snapshot, empty where there is none, and its records, in order: they are the bulk of
// what is stored, and are looked at where they are.
func (e *Engine) Call(name string, in []byte, texts ...string) (out []byte) {
	defer func() {
		if r := recover(); r != nil {
			out = fault(fmt.Sprintf("%s: %v", name, r))
		}
	}()
	do, ok := commands[name]
	if !ok {
		return fault(fmt.Sprintf("there is no command %q", name))
	}
	answer, err := do(e, in, texts)
	if err != nil {
		return fault(fmt.Sprintf("%s: %v", name, err))
	}
	if out, err = answer.spell(); err != nil {
		return fault(fmt.Sprintf("%s: %v", name, err))
	}
	return out
}

func fault(text string) []byte {
	out, _ := json.Marshal(Answer{Fault: text}) // a text always encodes
	return out
}

// Device tells the pages who holds this phone.
func (e *Engine) Device() pages.Device {
	return pages.Device{ID: e.device.ID, Who: e.device.Who, Role: e.device.Role, Known: e.device.Who != "", Persistent: e.persistent}
}

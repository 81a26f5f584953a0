package engine

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"hangtrue/checklist"
	"hangtrue/pwa/pages"
)

// A row of the phone's storage: a key and a text.
type row struct {
	Key  []any  `json:"key"`
	Text string `json:"text"`
}

type starting struct {
	Device     string            `json:"device"`  // the stored device, empty on a new phone
	Jobs       map[string]string `json:"jobs"`    // job → line
	Pending    [][]any           `json:"pending"` // the keys [job, number] of entries not sent
	Strays     []string          `json:"strays"`
	Persistent bool              `json:"persistent"`
	Secure     bool              `json:"secure"`
	Version    string            `json:"version"` // of the files this phone loaded
	Photos     photoKeys         `json:"photos"`
	Room       room              `json:"room"`
}

// start takes what the phone has stored, without any log. A phone that has no
// device yet gets one: storage that was cleared never goes on with old numbers.
func (e *Engine) start(in starting) (Answer, error) {
	e.persistent, e.secure, e.version, e.room = in.Persistent, in.Secure, in.Version, in.Room
	e.albumsFrom(in.Photos)
	var a Answer
	if in.Device == "" || json.Unmarshal([]byte(in.Device), &e.device) != nil || e.device.ID == "" {
		id, err := newDeviceID(e.random)
		if err != nil {
			return Answer{}, err
		}
		e.device = device{ID: id}
		a.Write = append(a.Write, put(inMeta, "device", e.device))
	}
	for id, text := range in.Jobs {
		j := &job{id: id, stored: text}
		_ = json.Unmarshal([]byte(text), &j.line) // a line that cannot be read is made anew when the job is loaded
		e.jobs[id] = j
	}
	for _, key := range in.Pending {
		if id, ok := jobOf(key); ok {
			e.job(id).pending++
		}
	}
	e.keptApart(in.Strays)
	a.Edition, a.Say = Edition, e.say("")
	return a, nil
}

func jobOf(key []any) (string, bool) {
	if len(key) != 2 {
		return "", false
	}
	id, ok := key[0].(string)
	return id, ok
}

// job is the job with this id, known or not.
func (e *Engine) job(id string) *job {
	j := e.jobs[id]
	if j == nil {
		j = &job{id: id}
		e.jobs[id] = j
	}
	return j
}

type loading struct {
	Job     string   `json:"job"`
	Pending []row    `json:"pending"`
	Line    string   `json:"line"`   // as it is stored
	Number  int64    `json:"number"` // the last that this device used
	Small   []string `json:"small"`  // hashes of the photos that are here in a small size
}

// load takes what is stored of a job: as texts a snapshot of its records up to some
// position and all records, and its pending entries. A record that cannot be read is passed over: the server has it and is asked again. A
// pending entry that cannot be read becomes a stray. One whose record is there is
// dropped: the tab that fetched the record did not know of it.
func (e *Engine) load(in loading, texts []string) (Answer, error) {
	if len(texts) == 0 {
		return Answer{}, errors.New("wanted a snapshot and records")
	}
	j, records := e.job(in.Job), texts[1:]
	var a Answer
	log, before := e.read(in.Job, texts[0], records)
	if log.Head()-before >= e.every {
		if shot := log.Snapshot(records); shot != "" {
			a.Write = append(a.Write, put(inSnapshots, in.Job, shot))
		}
	}
	for _, p := range in.Pending {
		entry, err := checklist.ParseEntry([]byte(p.Text))
		if err == nil {
			err = log.Keep(entry)
		}
		switch {
		case err != nil:
			a.Write = append(a.Write, e.stray(fmt.Sprint(p.Key...), p.Key, Stray{Reason: err.Error(), Entry: p.Text})...)
		case !slices.ContainsFunc(log.Pending(), func(kept checklist.Entry) bool { return kept.ID == entry.ID }):
			a.Write = append(a.Write, Write{Op: "delete", In: inPending, Key: p.Key})
		}
	}
	if j.stored = in.Line; in.Line != "" {
		_ = json.Unmarshal([]byte(in.Line), &j.line)
	}
	j.used = in.Number
	j.log, j.pending, j.stale = log, len(log.Pending()), true
	j.unread = false
	small := e.album(in.Job).small
	for _, hash := range in.Small {
		small[hash] = true
	}
	return a, nil
}

// read is a job's log, and up to where it rests on a snapshot.
func (e *Engine) read(job, snapshot string, records []string) (log *checklist.Log, before int64) {
	log = checklist.NewLog(e.template, job)
	if snapshot != "" {
		if resumed, err := checklist.ResumeLog(e.template, job, snapshot, records); err == nil {
			log, before = resumed, resumed.Head()
		}
	}
	for _, text := range records[before:] {
		var r checklist.Record
		if r.UnmarshalJSON([]byte(text)) == nil { // which checks by itself what json.Unmarshal would check first
			_ = log.Receive(r) // one that contradicts another is asked for again
		}
	}
	return log, before
}

// keptApart takes the stored strays.
func (e *Engine) keptApart(texts []string) {
	e.strays = make([]Stray, len(texts))
	for i, text := range texts {
		if err := json.Unmarshal([]byte(text), &e.strays[i]); err != nil {
			e.strays[i] = Stray{Reason: "it cannot be read", Entry: text}
		}
	}
}

// recall puts the entries back in the queue that were kept apart because the server
// had no such job.
func (e *Engine) recall(j *job) (writes []Write) {
	e.strays = slices.DeleteFunc(e.strays, func(s Stray) bool {
		entry, err := checklist.ParseEntry([]byte(s.Entry))
		if !s.Missing || s.Job != j.id || err != nil {
			return false
		}
		writes = append(writes, put(inPending, key(entry), s.Entry), Write{Op: "delete", In: inStrays, Key: entry.ID})
		j.pending++
		return true
	})
	if len(writes) > 0 {
		e.drop(j) // once it is written, the log is read again with them
	}
	return writes
}

// stray writes an entry from the queue to the list of strays. Its number stays
// used: see [Engine.nextNumber].
func (e *Engine) stray(id string, key []any, s Stray) []Write {
	s.Job, _ = jobOf(key)
	if n, ok := key[len(key)-1].(float64); ok { // as JSON brings it
		s.Number = int64(n)
	}
	if n, ok := key[len(key)-1].(int64); ok {
		s.Number = n
	}
	if !slices.Contains(e.strays, s) {
		e.strays = append(e.strays, s)
	}
	return []Write{put(inStrays, id, s), {Op: "delete", In: inPending, Key: key}}
}

// nextNumber is the number of this device's next entry of a job. One that was kept
// apart is not in the log and had its number all the same: the storage lets no
// number be used twice. What another tab has used since the log was loaded shows
// by the storage refusing it.
func (e *Engine) nextNumber(j *job) int64 {
	return max(j.log.NextNumber(e.device.ID), j.used+1)
}

type naming struct {
	Job string `json:"job"`
}

func (e *Engine) forget(in naming) (Answer, error) {
	e.drop(e.job(in.Job))
	return Answer{}, nil
}

// drop lets go of a job's log, so that it is read again from the storage, where
// another tab has changed it.
func (e *Engine) drop(j *job) {
	j.log, j.unread = nil, true
}

// Jobs lists the jobs, the one with the latest news first.
func (e *Engine) Jobs() []pages.JobLine {
	jobs := slices.SortedFunc(maps.Values(e.jobs), func(a, b *job) int {
		if c := strings.Compare(b.line.News, a.line.News); c != 0 {
			return c
		}
		return strings.Compare(a.id, b.id)
	})
	lines := make([]pages.JobLine, 0, len(jobs))
	for _, j := range jobs {
		j.refresh()
		title := j.line.Title
		if title == "" {
			title = j.id
		}
		lines = append(lines, pages.JobLine{
			ID: j.id, Title: title, Head: j.line.Head, Pending: j.pending,
			Done: j.line.Done, All: j.line.All, Signed: j.line.Signed,
		})
	}
	return lines
}

// refresh brings the line up to the log.
func (j *job) refresh() {
	if !j.stale || j.log == nil {
		return
	}
	s := j.log.State()
	j.stale = false
	j.pending = len(j.log.Pending())
	j.line.Head = j.log.Head()
	if s.Title != "" {
		j.line.Title = s.Title
	}
	j.line.Done, j.line.All = s.Progress()
	j.line.Signed = s.Locked()
	j.behind = s.Edition() > s.Template.Version
	if last, ok := j.log.Last(); ok {
		j.line.News = last.Received
	}
}

// Job opens a job for a page. One that is known but not loaded is noted as wanted.
func (e *Engine) Job(id string) (*pages.Job, bool) {
	j := e.jobs[id]
	if j == nil {
		return nil, false
	}
	if j.log == nil {
		e.want = id
		return nil, false
	}
	return &pages.Job{State: j.log.State(), Pending: j.log.Pending(), Foreseen: j.log.Foreseen, Seals: j.line.Seals,
		Photo: e.photoPlace(id), Taken: e.taken, Zones: &j.zones}, true
}

// swap writes the job's line in the place of the one that is stored.
func (j *job) swap() Write {
	j.line.Turn++
	w := put(inJobs, j.id, j.line)
	w.Op, w.Was = "swap", j.stored
	j.stored = w.Value.(string)
	return w
}

func put(in string, key, value any) Write {
	text, ok := value.(string)
	if !ok {
		data, _ := json.Marshal(value) // engine's own types always encode
		text = string(data)
	}
	return Write{Op: "put", In: in, Key: key, Value: text}
}

package engine

import (
	"strings"
	"unicode"

	"hangtrue/checklist"
	"hangtrue/pwa/pages"
)

type showing struct {
	Path string     `json:"path"`
	Form pages.Form `json:"form"`
	Now  string     `json:"now"` // the phone's clock, RFC 3339, UTC
	// Taken are the photos that were taken on this page and are not saved yet.
	Taken []pages.Taken `json:"taken"`
}

// youPath is the one page whose form makes no entry.
const youPath = "/you"

// page renders a page out of the phone's own copy.
func (e *Engine) page(in showing) (Answer, error) {
	e.want, e.taken = "", in.Taken
	d := pages.Render(in.Path, e)
	if e.want != "" {
		return Answer{Need: e.want}, nil
	}
	a := Answer{
		Status: d.Status, Whole: d.Whole, Path: d.Path, Title: title(d.Title), HTML: d.Fragment(), Mark: d.Mark,
		Empty: len(e.jobs) == 0 && !e.sync.sent, Say: e.say(""),
	}
	if in.Path == youPath {
		a.HTML += e.aboutPhone()
	}
	// The page of the job itself lists what was refused.
	if j := e.jobs[strings.TrimPrefix(in.Path, "/jobs/")]; j != nil && j.line.Looked < j.line.Refused {
		j.line.Looked = j.line.Refused
		a.Write, a.Changed = []Write{j.swap()}, []string{j.id}
	}
	return a, nil
}

// draft judges what is typed so far.
func (e *Engine) draft(in showing) (Answer, error) {
	e.want = ""
	parts := pages.Draft(in.Path, in.Form, e)
	if e.want != "" {
		return Answer{Need: e.want}, nil
	}
	return Answer{Parts: parts}, nil
}

// submit makes an entry of a form. Nothing is shown of it before "kept".
func (e *Engine) submit(in showing) (Answer, error) {
	if in.Path == youPath {
		return e.you(in.Form)
	}
	e.want, e.taken = "", in.Taken
	made := pages.Submit(in.Path, in.Form, e)
	if e.want != "" {
		return Answer{Need: e.want}, nil
	}
	if len(made.Problems) > 0 || made.Kind == "" {
		return Answer{Problems: made.Problems}, nil
	}
	if e.device.Who == "" {
		return Answer{Problems: map[string]string{"form": "Say first who holds this phone: open You, above."}}, nil
	}
	if made.Kind == checklist.JobOpened {
		id, err := newEntryID(e.random, in.Now)
		if err != nil {
			return Answer{}, err
		}
		j := e.job(id)
		j.log, j.line.Title = checklist.NewLog(e.template, id), made.Body.(checklist.Opening).Title
		made.Next = "/jobs/" + id + "/" + made.Next
		return e.make(j, in.Now, made)
	}
	parts := strings.Split(in.Path, "/")
	if len(parts) < 3 || e.jobs[parts[2]] == nil {
		return Answer{Problems: map[string]string{"form": "This page does not record anything."}}, nil
	}
	a, err := e.make(e.jobs[parts[2]], in.Now, made)
	if err == nil && e.made != nil {
		a.Write = append(a.Write, keeps(in.Path, *e.made)...)
	}
	return a, err
}

// make fixes the bytes of a job's next entry.
func (e *Engine) make(j *job, now string, made pages.Submission) (Answer, error) {
	id, err := newEntryID(e.random, now)
	if err != nil {
		return Answer{}, err
	}
	entry, err := checklist.NewEntry(checklist.Entry{
		ID: id, Job: j.id, Device: e.device.ID, Number: e.nextNumber(j), Seen: j.log.Head(),
		Who: e.device.Who, Role: e.device.Role, Clock: now, Plan: j.log.State().Revision(), Kind: made.Kind,
	}, made.Body)
	if err != nil {
		return Answer{Problems: map[string]string{"form": "This cannot be kept: " + err.Error()}}, nil
	}
	e.made = &entry
	writes := []Write{
		{Op: "add", In: inPending, Key: key(entry), Value: string(entry.Bytes())},
		{Op: "rise", In: inNumbers, Key: j.id, Value: entry.Number},
	}
	if made.Kind == checklist.JobOpened {
		writes = append(writes, put(inJobs, j.id, j.line))
	}
	return Answer{ID: id, Job: j.id, Go: made.Next, Write: writes}, nil
}

// unmake lets go of the entry that could not be stored, and of the job it opened.
func (e *Engine) unmake() {
	if e.made != nil && e.made.Kind == checklist.JobOpened {
		delete(e.jobs, e.made.Job)
	}
	e.made = nil
}

func key(e checklist.Entry) []any { return []any{e.Job, e.Number} }

// you keeps who holds the phone.
func (e *Engine) you(form pages.Form) (Answer, error) {
	problems := map[string]string{}
	who := strings.TrimSpace(strings.Join(form["who"], ""))
	if n := len([]rune(who)); n < 1 || n > 60 || strings.ContainsFunc(who, func(r rune) bool { return !unicode.IsPrint(r) }) {
		problems["who"] = "Wanted: 1 to 60 characters."
	}
	role := checklist.Role(strings.Join(form["role"], ""))
	if role != checklist.Lead && role != checklist.Installer && role != checklist.Viewer {
		problems["role"] = "Choose one."
	}
	if len(problems) > 0 {
		return Answer{Problems: problems}, nil
	}
	e.device.Who, e.device.Role = who, role
	return Answer{Write: []Write{put(inMeta, "device", e.device)}}, nil
}

// title is what the browser shows for a page, as a page from the server has it.
func title(of string) string {
	if of == "hangtrue" {
		return of
	}
	return of + " · hangtrue"
}

type keeping struct {
	ID  string `json:"id"`
	Job string `json:"job"`
}

// kept takes the entry that was made into what is shown, now that its bytes are
// on the phone's storage.
func (e *Engine) kept(in keeping) (Answer, error) {
	if in.ID == "" {
		return Answer{Say: e.say("Saved on this phone.")}, nil
	}
	j := e.job(in.Job)
	if j.log == nil {
		return Answer{Need: j.id}, nil // which brings the entry from the storage
	}
	switch {
	case e.made != nil && e.made.ID == in.ID:
		if err := j.log.Keep(*e.made); err != nil {
			return Answer{}, err
		}
		e.keptPhotos(*e.made)
		e.made = nil
	case e.sought != in.ID && !j.log.Knows(in.ID):
		// A program before this one made it, and it was stored after this one had read
		// the job. It is there, unless another tab has done something with it already.
		e.sought = in.ID
		e.drop(j)
		return Answer{Need: j.id}, nil
	}
	j.pending, j.stale = len(j.log.Pending()), true
	text := "Saved on this phone."
	if d := j.log.Foreseen(in.ID); !d.Accepted && d.Reason != "" {
		text = "Saved on this phone, but it will be refused: " + d.Reason
	}
	return Answer{Changed: []string{j.id}, Say: e.say(text)}, nil
}

type persisting struct {
	Persistent bool `json:"persistent"`
}

// persist notes what the browser said about keeping the storage.
func (e *Engine) persist(in persisting) (Answer, error) {
	e.persistent = in.Persistent
	return Answer{}, nil
}

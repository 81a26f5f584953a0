package server

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"hangtrue/checklist"
	"hangtrue/checklist/seal"
	"hangtrue/server/news"
	"hangtrue/server/store"
)

// stamp is how the server writes its clock.
const stamp = "2006-01-02T15:04:05.000Z"

// A Keeper gives entries their place in the log of their job. It is safe for
// concurrent use.
type Keeper struct {
	store store.Store
	steps *checklist.Template
	key   *seal.Key
	now   func() time.Time

	desks desks
	news  *news.Hub
	every int64 // entries from one snapshot of a job to the next

	mu    sync.RWMutex
	lines map[string]store.Line
}

// NewKeeper opens the jobs of a store. Nothing is folded before it is asked for.
func NewKeeper(s store.Store, key *seal.Key, now func() time.Time) (*Keeper, error) {
	lines, err := s.Lines()
	if err != nil {
		return nil, err
	}
	k := &Keeper{store: s, steps: checklist.Loudspeakers, key: key, now: now, news: news.New(maxListeners), every: snapshotEvery, lines: make(map[string]store.Line, len(lines))}
	k.desks.open = k.newDesk
	for _, l := range lines {
		k.lines[l.ID] = l
	}
	return k, nil
}

// snapshotEvery is from how many entries on a push writes a job's state down; a page,
// for which somebody waits, does it from twice as many on. Folding so many again when a
// job is opened takes some milliseconds, and writing about as long, once for as many.
const snapshotEvery = 500

// SnapshotEvery sets after how many entries a job's state is written down again, for
// tests that want it soon.
func (k *Keeper) SnapshotEvery(entries int64) { k.every = entries }

// Steps has the keeper decide by another edition of the steps, as a program of its day
// does, for tests. It comes before the first push.
func (k *Keeper) Steps(t *checklist.Template) { k.steps = t }

// An Answer is what a phone is told about one entry it pushed: exactly one of
// Record, Expected and Stray is set.
type Answer struct {
	ID       string            `json:"id"`
	Record   *checklist.Record `json:"record,omitempty"`
	Expected int64             `json:"expected,omitempty"` // a gap: send from this number of the device on
	Stray    string            `json:"stray,omitempty"`    // why it belongs to no log here
	Missing  bool              `json:"missing,omitempty"`  // a stray of a job that is not here: it may be sent again when the job is
}

// A Sender is the paired device that brings entries. The zero value is the server's
// owner, who may bring what any device made.
type Sender struct {
	Device string
	Role   checklist.Role // the highest that its entries may have
}

// Push is [Keeper.PushFrom] by the owner.
func (k *Keeper) Push(job string, entries [][]byte) (head int64, answers []Answer, err error) {
	return k.PushFrom(Sender{}, job, entries)
}

// PushFrom decides and keeps entries, in the order they come, and gives one answer
// each and the log's last position. An error means that nothing was answered and
// the phone has to send them again.
//
// An entry of a higher role than the sender's is refused and kept in the log, as the
// rules refuse others. One of another device is kept apart: in the log it would use
// up a number of that device, and whatever that device made under it would be refused.
func (k *Keeper) PushFrom(s Sender, job string, entries [][]byte) (head int64, answers []Answer, err error) {
	d := k.desks.take(job)
	defer k.desks.put(d)
	p := &push{sender: s, entries: entries}
	if err := d.group.Run(p); err != nil {
		return 0, nil, err
	}
	return p.head, p.answers, nil
}

// Lines are the jobs, the one with the latest news first.
func (k *Keeper) Lines() []store.Line {
	k.mu.RLock()
	lines := make([]store.Line, 0, len(k.lines))
	for _, l := range k.lines {
		lines = append(lines, l)
	}
	k.mu.RUnlock()
	slices.SortFunc(lines, func(a, b store.Line) int {
		if c := strings.Compare(b.Received, a.Received); c != 0 {
			return c
		}
		return strings.Compare(a.ID, b.ID)
	})
	return lines
}

// Line is one job's, store.ErrNoJob if there is none.
func (k *Keeper) Line(job string) (store.Line, error) {
	k.mu.RLock()
	defer k.mu.RUnlock()
	if l, ok := k.lines[job]; ok {
		return l, nil
	}
	return store.Line{}, store.ErrNoJob
}

// reread takes a job's line from the store after an addition that failed. It may
// have been kept all the same, and phones look at the line for what is new.
func (k *Keeper) reread(job string) {
	if line, err := k.store.Line(job); err == nil { // else the next push reads it
		k.setLine(line)
	}
}

func (k *Keeper) setLine(l store.Line) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.lines[l.ID] = l
}

// State is a copy of a job's state, for one reader alone.
func (k *Keeper) State(job string) (copied *checklist.State, err error) {
	err = k.look(job, func(s *checklist.State) error {
		copied = s.Clone()
		return nil
	})
	return copied, err
}

// look reads a job's state where it lies.
func (k *Keeper) look(job string, at func(*checklist.State) error) error {
	if _, err := k.Line(job); err != nil {
		return err
	}
	d := k.desks.take(job)
	defer k.desks.put(d)
	d.mu.Lock()
	defer d.mu.Unlock()
	if err := k.load(d); err != nil {
		return err
	}
	return at(d.state)
}

// Records hands out records after a position, bounded by count and bytes.
func (k *Keeper) Records(job string, after int64, limit, size int) ([]checklist.Record, error) {
	return k.store.Records(job, after, limit, size)
}

// Seals are a job's seals, oldest first. Each is opened again before it is handed out.
func (k *Keeper) Seals(job string) ([]string, error) {
	kept, err := k.store.Seals(job)
	if err != nil {
		return nil, err
	}
	notes := make([]string, len(kept))
	for i, s := range kept {
		c, err := k.key.Open(s.Note)
		if err != nil || c.Job != job || c.Size != s.Position {
			return nil, &store.Damage{Job: job, Position: s.Position, What: "its seal was not made with this server's key"}
		}
		notes[i] = s.Note
	}
	return notes, nil
}

// Strays are entries that could not go into any log, oldest first, after as many,
// bounded by count and bytes.
func (k *Keeper) Strays(after int64, limit, size int) ([]store.Stray, error) {
	return k.store.Strays(after, limit, size)
}

// File is a job's record as it stands, with the seals of its sign-offs and one
// over all of it.
func (k *Keeper) File(job string) (seal.File, error) {
	line, err := k.Line(job)
	if err != nil {
		return seal.File{}, err
	}
	// What arrives while this reads is left out: the line fixes where the file ends.
	records, err := k.store.Records(job, 0, int(line.Head), seal.MaxFile)
	if err != nil {
		return seal.File{}, err
	}
	if int64(len(records)) != line.Head || len(records) > seal.MaxRecords {
		return seal.File{}, fmt.Errorf("server: the log of job %s is too large for one record file", job)
	}
	notes, err := k.Seals(job)
	if err != nil {
		return seal.File{}, err
	}
	f := seal.NewFile(job, line.Title, k.key.Public(), records, nil)
	var tree seal.Tree
	for _, leaf := range f.Hashes {
		tree.Add(leaf)
	}
	for _, note := range notes {
		if c, err := k.key.Open(note); err == nil && c.Size <= line.Head {
			f.Seals = append(f.Seals, note)
		}
	}
	extract, err := k.key.Sign(seal.Checkpoint{Job: job, Size: line.Head, Root: tree.Root(line.Head), Purpose: seal.Extract})
	if err != nil {
		return seal.File{}, err
	}
	f.Seals = append(f.Seals, extract)
	return f, nil
}

// PublicKey is the key that this server's seals are checked with.
func (k *Keeper) PublicKey() string { return k.key.Public() }

// newDesk opens the place where one job's pushes are worked on.
func (k *Keeper) newDesk(job string) *desk {
	d := &desk{job: job}
	d.group.Do = func(pushes []*push) []error {
		d.mu.Lock()
		defer d.mu.Unlock()
		err := k.process(d, pushes)
		if err != nil {
			d.forget() // what was folded was not kept; fold again from what was
			k.reread(job)
		}
		return slices.Repeat([]error{err}, len(pushes))
	}
	return d
}

// load puts a job's state on the desk if it is not there: from its snapshot, where
// there is one, and the log behind it. The caller holds the desk.
func (k *Keeper) load(d *desk) error {
	if d.state != nil {
		return nil
	}
	state, size, err := k.resume(d.job)
	if err != nil {
		return err
	}
	if err := k.fold(d, state, size); err != nil {
		return err
	}
	if state.Head > 0 {
		line, err := k.store.Line(d.job)
		if err != nil {
			return err
		}
		k.setLine(line)
	}
	if state.Head-d.shot >= 2*k.every { // who looks at a page waits for it
		if err := k.store.Append(store.Addition{Job: d.job, Snapshot: state.Snapshot()}); err != nil {
			slog.Warn("a job opens slowly: its snapshot cannot be kept", "job", d.job, "cause", err)
			return nil
		}
		k.slim(d)
	}
	return nil
}

// slim goes on from the snapshot that was just kept, which takes less memory than the
// records that it was made of. The caller holds the desk.
func (k *Keeper) slim(d *desk) {
	d.shot = d.state.Head
	state, size, err := k.resume(d.job)
	if err != nil || state.Head != d.shot {
		return // the one there is as good
	}
	d.state = state
	d.size.Store(size)
}

// whole folds a job's log from its first record on, where the desk's state rests on a
// snapshot. The caller holds the desk.
func (k *Keeper) whole(d *desk) error {
	if !d.state.Resumed() {
		return nil
	}
	return k.fold(d, checklist.NewState(k.steps, d.job), 0)
}

// resume is the state that a job's snapshot was taken of, or an empty one, and what
// it takes in memory, about.
func (k *Keeper) resume(job string) (state *checklist.State, size int64, err error) {
	shot, err := k.store.Snapshot(job)
	if err != nil {
		return nil, 0, err
	}
	if shot != nil {
		size = 2 * int64(len(shot))
		p := &past{Store: k.store, job: job, size: &size}
		state, err := checklist.Resume(k.steps, job, shot, p)
		if p.size = nil; err == nil {
			return state, size, nil
		}
		slog.Info("folding a job's whole log again", "job", job, "cause", err) // where the log is damaged, that tells it
	}
	return checklist.NewState(k.steps, job), 0, nil
}

// past reads a job's log for a state that was resumed.
type past struct {
	store.Store
	job  string
	size *int64 // grows by what is read while the state is made
}

func (p *past) At(positions []int64) ([]checklist.Record, error) {
	records, err := p.Store.At(p.job, positions)
	if p.size != nil {
		for _, r := range records {
			*p.size += costOf(r)
		}
	}
	return records, err
}

func (p *past) Find(id string) (checklist.Record, bool, error) {
	r, err := p.Store.Find(p.job, id)
	if errors.Is(err, store.ErrNoRecord) {
		return r, false, nil
	}
	return r, err == nil, err
}

// fold folds the log onto a state from behind its head on and puts it on the desk.
func (k *Keeper) fold(d *desk, state *checklist.State, size int64) error {
	d.shot = state.Head
	err := k.each(d.job, state.Head, func(r checklist.Record) {
		state.Fold(r)
		size += costOf(r)
	})
	if err != nil {
		return err
	}
	d.state = state
	d.size.Store(size)
	return nil
}

// each gives the records of a job's log after a position.
func (k *Keeper) each(job string, after int64, do func(checklist.Record)) error {
	for {
		records, err := k.store.Records(job, after, loadCount, loadBytes)
		if err != nil || len(records) == 0 {
			return err
		}
		for _, r := range records {
			do(r)
		}
		after = records[len(records)-1].Position
	}
}

const (
	loadCount = 1000
	loadBytes = 4 << 20
)

// a push is one request's entries on their way through a desk.
type push struct {
	sender  Sender
	entries [][]byte
	answers []Answer
	head    int64
}

// process decides the entries of several pushes and keeps them in one addition.
// The caller holds the desk. A fault of this program while it decides must not
// take the process down with everybody's requests.
func (k *Keeper) process(d *desk, pushes []*push) (err error) {
	defer func() {
		if p := recover(); p != nil {
			slog.Error("deciding an entry failed", "job", d.job, "cause", p)
			err = errors.New("server: an entry could not be decided")
		}
	}()
	if err := k.load(d); err != nil {
		return err
	}
	if e, own := d.state.Edition(), d.state.Template.Version; e > own {
		return problem(http.StatusServiceUnavailable, "This job was decided by edition %d of the steps, and this server is of a program that knows up to %d. Nothing of this was kept; it is taken when the newer program serves again.", e, own)
	}
	w := &work{keeper: k, desk: d, received: k.now().UTC().Format(stamp)}
	w.Job = d.job
	entries := 0
	for _, p := range pushes {
		entries += len(p.entries)
	}
	w.Records = make([]checklist.Record, 0, entries) // to which answers point
	for _, p := range pushes {
		p.answers = make([]Answer, 0, len(p.entries))
		for _, raw := range p.entries {
			answer, err := w.take(p.sender, raw)
			if err != nil {
				return err
			}
			p.answers = append(p.answers, answer)
		}
	}
	if err := d.state.Fault(); err != nil {
		return err
	}
	if err := w.keep(); err != nil {
		return err
	}
	for _, p := range pushes {
		p.head = d.state.Head
	}
	return nil
}

// work is what one round at a desk adds.
type work struct {
	store.Addition
	keeper   *Keeper
	desk     *desk
	received string
}

// take decides one entry.
func (w *work) take(from Sender, raw []byte) (Answer, error) {
	e, err := checklist.ParseEntry(raw)
	if err != nil {
		return w.stray(idOf(raw), "It cannot be read: "+strings.TrimPrefix(err.Error(), "checklist: ")+".", raw), nil
	}
	if e.Job != w.desk.job {
		return w.stray(e.ID, "It belongs to job "+e.Job+" and was sent to another.", raw), nil
	}
	if _, known := w.desk.state.Decided(e.ID); known {
		return w.again(e)
	}
	if e.Kind == checklist.JobSigned {
		if err := w.whole(); err != nil {
			return Answer{}, err
		}
	}
	if from.Device != "" && e.Device != from.Device {
		return w.stray(e.ID, "It was made by another device than the one that sent it.", raw), nil
	}
	last := w.desk.state.LastNumber(e.Device)
	switch {
	case w.desk.state.Head == 0 && e.Kind != checklist.JobOpened: // whatever its number: none before it would open the job
		a := w.stray(e.ID, "There is no such job on this server.", raw)
		a.Missing = true
		return a, nil
	case e.Number > last+1:
		return Answer{ID: e.ID, Expected: last + 1}, nil
	}
	decision := w.desk.state.Decide(e)
	if top := levelOf(from.Role); from.Device != "" && levelOf(e.Role) > top {
		decision = checklist.Decision{Edition: decision.Edition, Reason: fmt.Sprintf("This device is paired as %s and the entry says that %s made it.", named(top), named(levelOf(e.Role)))}
	}
	if w.desk.state.Head == 0 && !decision.Accepted {
		return w.stray(e.ID, "The job could not be opened: "+decision.Reason, raw), nil
	}
	r := checklist.Record{Position: w.desk.state.Head + 1, Received: w.received, Decision: decision, Entry: e}
	w.desk.state.Fold(r)
	w.desk.size.Add(costOf(r))
	w.Records = append(w.Records, r)
	if decision.Accepted && e.Kind == checklist.JobSigned {
		if err := w.seal(r.Position); err != nil {
			return Answer{}, err
		}
	}
	return Answer{ID: e.ID, Record: &w.Records[len(w.Records)-1]}, nil
}

// again answers an entry that is in the log. Other bytes under its id are not it.
func (w *work) again(e checklist.Entry) (Answer, error) {
	var r *checklist.Record
	if i := slices.IndexFunc(w.Records, func(r checklist.Record) bool { return r.Entry.ID == e.ID }); i >= 0 {
		r = &w.Records[i]
	} else if found, err := w.keeper.store.Find(w.desk.job, e.ID); err == nil {
		r = &found
	} else {
		return Answer{}, err
	}
	if !bytes.Equal(r.Entry.Bytes(), e.Bytes()) {
		return w.stray(e.ID, fmt.Sprintf("Its id is that of another entry, number %d of the log.", r.Position), e.Bytes()), nil
	}
	return Answer{ID: e.ID, Record: r}, nil
}

// whole has what follows decided by the log itself: nothing is signed off by what a
// snapshot says of it.
func (w *work) whole() error {
	if err := w.keeper.whole(w.desk); err != nil {
		return err
	}
	for _, r := range w.Records {
		w.desk.state.Fold(r) // those that were folded before it change nothing
	}
	return nil
}

// seal signs the tree over the log up to a position, which is its last.
func (w *work) seal(position int64) error {
	var tree seal.Tree
	add := func(r checklist.Record) { tree.Add(seal.Leaf(r)) }
	if err := w.keeper.each(w.desk.job, 0, add); err != nil {
		return err
	}
	for _, r := range w.Records {
		add(r)
	}
	note, err := w.keeper.key.Sign(seal.Checkpoint{Job: w.desk.job, Size: position, Root: tree.Root(position), Purpose: seal.SignOff})
	if err != nil {
		return err
	}
	w.Seals = append(w.Seals, store.Seal{Position: position, Note: note})
	return nil
}

func (w *work) stray(id, reason string, raw []byte) Answer {
	w.Strays = append(w.Strays, store.Stray{Job: w.desk.job, Received: w.received, Reason: reason, Entry: bytes.Clone(raw)})
	slog.Warn("kept an entry apart", "job", w.desk.job, "reason", reason)
	return Answer{ID: id, Stray: reason}
}

// keep appends what was decided.
func (w *work) keep() error {
	if len(w.Records) == 0 && len(w.Strays) == 0 {
		return nil
	}
	if len(w.Records) > 0 {
		w.Line = lineOf(w.desk.state, w.received)
		if w.desk.state.Head-w.desk.shot >= w.keeper.every {
			w.Snapshot = w.desk.state.Snapshot()
		}
	}
	if err := w.keeper.store.Append(w.Addition); err != nil {
		return err
	}
	if len(w.Records) > 0 {
		w.keeper.setLine(w.Line)
		w.keeper.news.Tell(w.Line.ID, w.Line.Head)
	}
	if len(w.Snapshot) > 0 {
		w.keeper.slim(w.desk)
	}
	return nil
}

func lineOf(s *checklist.State, received string) store.Line {
	done, all := s.Progress()
	return store.Line{ID: s.Job, Title: s.Title, Head: s.Head, Received: received, Done: done, All: all, Signed: s.Locked()}
}

// idOf reads an entry's id as far as it can be read, so that a phone can tell
// which of its entries an answer is about.
func idOf(raw []byte) string {
	var e struct {
		ID string `json:"id"`
	}
	if json.Unmarshal(raw, &e) != nil || len(e.ID) > 60 {
		return ""
	}
	return e.ID
}

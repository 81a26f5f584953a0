package engine

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"hangtrue/checklist"
)

// Bounds of one push on a good line. The server takes 200 entries and 1 MiB; half of that keeps
// an answer that was lost on a bad line cheap to ask for again, and the largest
// lawful entry still fits alone.
const (
	maxPush      = 200
	maxPushBytes = 512 << 10
	pullLimit    = 200
)

// mostStrain is how often the bounds of a request are halved at most, and carried after
// how many requests that went through they are doubled again.
const (
	mostStrain = 7
	carried    = 8
)

// bound is what a request brings at most on this line. One that takes all of the time
// that a request is given, or breaks whenever it has carried so much, would never bring
// all that waits: there less is tried until something goes through.
func (e *Engine) bound(good, least int) int { return max(least, good>>e.strain) }

// weigh learns from a request how much the line carries. Out of reach of the server the
// first request of an exchange fails already, and tells nothing.
func (e *Engine) weigh(in answering) {
	switch {
	case e.sync.stage == idle, e.sync.stage == listing, in.Gone:
	case in.Status == 0:
		e.strain, e.eased = min(e.strain+1, mostStrain), 0
	case e.strain > 0:
		if e.eased++; e.eased == carried {
			e.strain, e.eased = e.strain-1, 0
		}
	}
}

// exchange is one meeting with the server: ask what it has, push what waits, pull
// what is new. Where its log is not the one known here, or has grown, that is
// fetched before anything is pushed: an answer to a push tells only of the log's
// end, and on top of another beginning it would be kept for good. Its requests are
// made one after another by the caller.
type exchange struct {
	stage   stage
	queue   []string          // jobs to push, or jobs to pull
	listed  []string          // the server's jobs
	sentAll bool              // what waited was pushed
	heads   map[string]int64  // the server's heads, by job
	last    map[string]string // when the server received its last record, by job, while that is known
	from    map[string]int64  // the number that the server wants next, by job
	asked   map[string]int64  // the number that it wanted before, to see that it moves on
	told    map[string]bool   // entries answered in this exchange
	other   map[string]bool   // jobs whose log at the server is not the one known here
	pushed  []checklist.Entry // in the request that is on its way
	renew   *checklist.Log    // while a log is fetched again from its start
	run     string            // which run of the server this is
	uploads []*upload         // photos to send
	sent    bool              // the last exchange went through
	trouble string            // why it did not
}

type stage int

const (
	idle stage = iota
	pushing
	listing
	pulling
	renewing
	checking
	sending
)

type stored struct {
	Pending [][]any   `json:"pending"` // the keys [job, number] of entries not sent
	Strays  []string  `json:"strays"`
	Photos  photoKeys `json:"photos"`
	Room    room      `json:"room"`
}

// begin opens an exchange. One that was cut off is simply begun again: every
// request may be repeated. A job of which more waits in the storage than is known
// here is read again: another tab was closed before it could tell of its entry.
func (e *Engine) begin(in stored) (Answer, error) {
	e.keptApart(in.Strays)
	e.albumsFrom(in.Photos)
	e.room = in.Room
	waiting := map[string]int{}
	for _, key := range in.Pending {
		if id, ok := jobOf(key); ok {
			waiting[id]++
		}
	}
	for id, n := range waiting {
		if j := e.job(id); n > j.pending {
			e.drop(j)
		}
	}
	e.sync = exchange{
		stage: listing, sent: e.sync.sent, trouble: e.sync.trouble,
		heads: map[string]int64{}, last: map[string]string{}, from: map[string]int64{}, asked: map[string]int64{}, told: map[string]bool{}, other: map[string]bool{},
	}
	return Answer{}, nil
}

// toPush goes on with the jobs of which something waits, and with those that the
// server had once and has lost.
func (e *Engine) toPush() {
	x := &e.sync
	x.stage, x.queue = pushing, nil
	for id, j := range e.jobs {
		if _, there := x.heads[id]; j.pending > 0 || j.unread || !there && j.head() > 0 {
			x.queue = append(x.queue, id)
		}
	}
	slices.Sort(x.queue)
}

// toPull goes on with the jobs of which the server has something else than this phone.
func (e *Engine) toPull() {
	x := &e.sync
	x.stage, x.queue, x.sentAll = pulling, nil, true
	for _, id := range x.listed {
		if j := e.job(id); x.other[id] || j.gap() || j.head() != x.heads[id] {
			x.queue = append(x.queue, id)
		}
	}
}

// gap tells whether a row of the job could not be read and one behind it could. The
// server's log may not be the one that the later row is of.
func (j *job) gap() bool { return j.log != nil && j.log.Gap() }

// head is the position up to which the job is known.
func (j *job) head() int64 {
	if j.log != nil {
		return j.log.Head()
	}
	return j.line.Head
}

// next is the request to make now; an answer without one ends the exchange.
func (e *Engine) next(nothing) (Answer, error) {
	x := &e.sync
	for {
		switch x.stage {
		case pushing:
			if len(x.queue) == 0 {
				e.toPull()
				continue
			}
			j := e.job(x.queue[0])
			if j.log == nil {
				return Answer{Need: j.id}, nil
			}
			switch _, there := x.heads[j.id]; {
			case there && j.gap():
				x.stage, x.renew = renewing, checklist.NewLog(e.template, j.id)
				continue
			case !there && x.from[j.id] == 0 && e.opened(j.log):
				x.from[j.id], x.other[j.id] = 1, true // its own opening comes first, and opens the job again
			}
			body := e.batch(j)
			if body == "" {
				x.queue = x.queue[1:]
				continue
			}
			return Answer{Request: &Request{Method: "POST", URL: "/api/jobs/" + j.id + "/entries", Body: body}}, nil
		case listing:
			return Answer{Request: &Request{Method: "GET", URL: "/api/jobs"}}, nil
		case pulling, renewing:
			if len(x.queue) == 0 && !x.sentAll {
				e.toPush()
				continue
			}
			if len(x.queue) == 0 {
				e.toCheck()
				continue
			}
			j := e.job(x.queue[0])
			if j.log == nil {
				return Answer{Need: j.id}, nil
			}
			after := j.log.Head()
			switch {
			case x.stage == renewing:
				after = x.renew.Head()
			case after > x.heads[j.id] || x.other[j.id] || j.gap() || after == x.heads[j.id] && x.replaced(j):
				// The server has less than it had: an old copy of it came back. It may
				// have grown to the same length since.
				x.stage, x.renew = renewing, checklist.NewLog(e.template, j.id)
				continue
			case after == x.heads[j.id]:
				x.queue = x.queue[1:]
				continue
			}
			// The last record is fetched once more: if the server's is another one, its
			// log was replaced, even if it has grown since.
			path := fmt.Sprintf("/api/jobs/%s/records?after=%d&limit=%d", j.id, max(0, after-1), e.bound(pullLimit, 2))
			return Answer{Request: &Request{Method: "GET", URL: path}}, nil
		case checking:
			if len(x.queue) == 0 {
				e.toSend()
				continue
			}
			return Answer{Request: &Request{Method: "GET", URL: "/api/jobs/" + x.queue[0] + "/photos"}}, nil
		case sending:
			return e.nextPiece()
		default:
			return Answer{Say: e.say("")}, nil
		}
	}
}

// replaced tells whether the server's last record is not the one known at its place.
func (x *exchange) replaced(j *job) bool {
	last, ok := j.log.Last()
	return x.last[j.id] != "" && ok && last.Received != x.last[j.id]
}

// batch is the body of the next push of a job, empty when nothing is left. What
// the server asks for again comes from the log: this device's own entries, in
// the order of their numbers.
func (e *Engine) batch(j *job) string {
	x := &e.sync
	var own []checklist.Entry
	if from, ok := x.from[j.id]; ok {
		for _, r := range j.log.Known() {
			if r.Entry.Device == e.device.ID && r.Entry.Number >= from && !x.told[r.Entry.ID] {
				own = append(own, r.Entry)
			}
		}
	}
	for _, p := range j.log.Pending() {
		if !x.told[p.ID] {
			own = append(own, p)
		}
	}
	slices.SortStableFunc(own, func(a, b checklist.Entry) int { return int(a.Number - b.Number) })
	var body bytes.Buffer
	encode := json.NewEncoder(&body)
	encode.SetEscapeHTML(false)
	body.WriteString(`{"entries":[`)
	x.pushed = x.pushed[:0]
	for _, entry := range own {
		if from, ok := x.from[j.id]; ok && entry.Number < from {
			continue
		}
		before := body.Len()
		if len(x.pushed) > 0 {
			body.WriteByte(',')
		}
		_ = encode.Encode(string(entry.Bytes())) // a text always encodes
		body.Truncate(body.Len() - 1)            // the encoder ends with a line's end
		if len(x.pushed) > 0 && (body.Len() > e.bound(maxPushBytes, 0) || len(x.pushed) == e.bound(maxPush, 1)) {
			body.Truncate(before)
			break
		}
		x.pushed = append(x.pushed, entry)
	}
	if len(x.pushed) == 0 {
		return ""
	}
	body.WriteString("]}")
	return body.String()
}

type answering struct {
	Status int    `json:"status"` // 0 when the server could not be reached
	Body   string `json:"body"`
	Gone   bool   `json:"gone"` // the picture that was to be sent is not in the storage
}

// problem is what the server says when it answers with an error (RFC 9457).
type problem struct {
	Title  string `json:"title"`
	Detail string `json:"detail"`
}

// answer takes the server's answer to the request that "next" gave. Its writes
// belong together; when they fail, the caller starts a new engine.
func (e *Engine) answer(in answering) (Answer, error) {
	e.weigh(in)
	switch e.sync.stage {
	case checking:
		return e.checked(in), nil
	case sending:
		return e.arrived(in)
	}
	if in.Status != 200 {
		return e.stop(in), nil
	}
	if x := &e.sync; x.stage != idle && x.stage != listing {
		// Another tab's news may have come while the request was on its way, and with
		// it the word to forget the log.
		if j := e.job(x.queue[0]); j.log == nil {
			return Answer{Need: j.id}, nil
		}
	}
	var a Answer
	var err error
	switch e.sync.stage {
	case pushing:
		a, err = e.pushed([]byte(in.Body))
	case listing:
		a, err = e.listed([]byte(in.Body))
	case pulling, renewing:
		a, err = e.pulled([]byte(in.Body))
	default:
		return Answer{}, fmt.Errorf("nothing was asked")
	}
	if err != nil {
		e.sync.stage, e.sync.sent, e.sync.trouble = idle, false, capital(err.Error())+"."
		a.Failed, a.Update, a.Say = true, errors.Is(err, checklist.ErrRecord), e.say("")
		return a, nil
	}
	a.Update = len(a.Changed) > 0 && e.behind()
	if a.Say == nil && len(a.Changed) > 0 {
		a.Say = e.say("")
	}
	return a, nil
}

// unread says of an answer that it cannot be read. Where it has records and they are
// other than this program's, the server's program may be the later one: what waits stays
// here and is sent by the program that can read them.
func unread(what string, err error) error {
	if errors.Is(err, checklist.ErrRecord) {
		return fmt.Errorf("the server may have a later program than this phone, which cannot read %s (%w)", what, err)
	}
	return fmt.Errorf("%s cannot be read: %w", what, err)
}

// behind tells whether the server decides by steps that came after this program. What
// they hold is not foreseen here.
func (e *Engine) behind() bool {
	for _, j := range e.jobs {
		if j.behind {
			return true
		}
	}
	return false
}

// stop ends an exchange that went wrong. Nothing that waits is dropped.
func (e *Engine) stop(in answering) Answer {
	e.sync.stage, e.sync.sent, e.sync.trouble = idle, false, ""
	if in.Status != 0 {
		var p problem
		_ = json.Unmarshal([]byte(in.Body), &p) // not every answer in between is the server's own
		switch {
		case p.Detail != "":
			e.sync.trouble = p.Detail
		case p.Title != "":
			e.sync.trouble = p.Title + "."
		default:
			e.sync.trouble = fmt.Sprintf("The server answered with status %d.", in.Status)
		}
	}
	return Answer{Failed: true, Say: e.say("")}
}

type pushAnswer struct {
	Head    int64 `json:"head"`
	Answers []struct {
		ID       string            `json:"id"`
		Record   *checklist.Record `json:"record"`
		Expected int64             `json:"expected"`
		Stray    string            `json:"stray"`
		Missing  bool              `json:"missing"`
	} `json:"answers"`
}

func (e *Engine) pushed(body []byte) (Answer, error) {
	x := &e.sync
	j := e.job(x.queue[0])
	var in pushAnswer
	if err := json.Unmarshal(body, &in); err != nil {
		return Answer{}, unread("the server's answer", err)
	}
	x.heads[j.id] = in.Head
	delete(x.last, j.id)
	var records []checklist.Record
	var a Answer
	progress, strays := false, 0
	for _, one := range in.Answers {
		i := slices.IndexFunc(x.pushed, func(p checklist.Entry) bool { return p.ID == one.ID })
		if i < 0 {
			continue // not what was sent
		}
		entry := x.pushed[i]
		switch {
		case one.Record != nil:
			if !bytes.Equal(one.Record.Entry.Bytes(), entry.Bytes()) {
				return a, fmt.Errorf("the server answered entry %s with other bytes", entry.ID)
			}
			records = append(records, *one.Record)
			x.told[entry.ID], progress = true, true
		case one.Stray != "":
			a.Write = append(a.Write, e.stray(entry.ID, key(entry), Stray{Reason: one.Stray, Entry: string(entry.Bytes()), Missing: one.Missing})...)
			x.told[entry.ID], progress = true, true
			strays++
		case one.Expected > 0 && x.asked[j.id] != one.Expected:
			x.from[j.id], x.asked[j.id], progress = one.Expected, one.Expected, true
			// What it wants again it had decided once: it has lost that.
			x.other[j.id] = x.other[j.id] || one.Expected <= e.lastDecided(j.log)
		}
	}
	if !progress && in.Head > 0 {
		return e.standIn(j, x.asked[j.id])
	}
	if !progress {
		return a, fmt.Errorf("the server wants entry %d of this phone before it takes more, and this phone does not have it", x.asked[j.id])
	}
	if !x.other[j.id] { // another log is fetched whole, later
		taken, err := e.take(j, records)
		a.Write = append(a.Write, taken...)
		x.other[j.id] = err != nil
	}
	a.Changed = []string{j.id}
	if strays > 0 {
		a.Forget = j.id // once it is written, the log is read again without the strays
		j.pending = max(0, len(j.log.Pending())-strays)
	}
	return a, nil
}

// standIn puts a remark in the place of an entry that this phone no longer has:
// one that could not be read, or that the server kept apart. Without an entry of
// that number the server takes none of the later ones.
func (e *Engine) standIn(j *job, number int64) (Answer, error) {
	own := func(entry checklist.Entry) bool { return entry.Device == e.device.ID && entry.Number == number }
	has := slices.ContainsFunc(j.log.Pending(), own) ||
		slices.ContainsFunc(e.strays, func(s Stray) bool { return s.Missing && s.Job == j.id && s.Number == number }) || // it comes back in the next exchange
		slices.ContainsFunc(j.log.Known(), func(r checklist.Record) bool { return own(r.Entry) })
	later := slices.IndexFunc(j.log.Pending(), func(p checklist.Entry) bool { return p.Number > number })
	if has || number < 1 || later < 0 {
		return Answer{}, fmt.Errorf("the server wants entry %d of this phone before it takes more, and this phone does not have it", number)
	}
	next := j.log.Pending()[later] // as it was made: there is no clock here
	id, err := newEntryID(e.random, next.Clock)
	if err != nil {
		return Answer{}, err
	}
	next.ID, next.Number, next.Kind = id, number, checklist.RemarkWritten
	entry, err := checklist.NewEntry(next, checklist.Remark{
		Text: fmt.Sprintf("Entry %d of this device could not be delivered; this stands in its place.", number),
	})
	if err != nil {
		return Answer{}, err
	}
	if err := j.log.Keep(entry); err != nil {
		return Answer{}, err
	}
	j.stale = true
	j.refresh()
	return Answer{Write: []Write{j.swap(), {Op: "add", In: inPending, Key: key(entry), Value: string(entry.Bytes())}}, Changed: []string{j.id}}, nil
}

// opened tells whether this device opened the job.
func (e *Engine) opened(log *checklist.Log) bool {
	return slices.ContainsFunc(log.Known(), func(r checklist.Record) bool {
		return r.Entry.Device == e.device.ID && r.Entry.Kind == checklist.JobOpened
	})
}

// lastDecided is the highest number of this device among the log's records.
func (e *Engine) lastDecided(log *checklist.Log) (last int64) {
	for _, r := range log.Known() {
		if r.Entry.Device == e.device.ID {
			last = max(last, r.Entry.Number)
		}
	}
	return last
}

// take folds records into a job's log and says what to write: the records that
// joined it without a gap, and with them the end of the entries they decide. One
// that came early is not kept; it is pulled in its turn.
func (e *Engine) take(j *job, records []checklist.Record) ([]Write, error) {
	head, before := j.log.Head(), slices.Clone(j.log.Pending())
	err := j.log.Receive(records...)
	var writes []Write
	for _, r := range j.log.After(head) {
		writes = append(writes, put(inRecords, []any{j.id, r.Position}, r))
		if !r.Accepted && r.Entry.Device == e.device.ID {
			j.line.Refused++
			j.refusal = r.Reason
		}
	}
	if len(writes) == 0 {
		return nil, err
	}
	for _, p := range before {
		if !slices.ContainsFunc(j.log.Pending(), func(left checklist.Entry) bool { return left.ID == p.ID }) {
			writes = append(writes, Write{Op: "delete", In: inPending, Key: key(p)})
		}
	}
	j.stale = true
	j.refresh()
	return append([]Write{j.swap()}, writes...), err
}

type jobList struct {
	Jobs []struct {
		ID    string `json:"id"`
		Title string `json:"title"`
		Head  int64  `json:"head"`
		// Received is when the server received the last record. An old copy of the
		// server that came back and grew to the same length tells another time.
		Received string `json:"received"`
	} `json:"jobs"`
	Run string `json:"run"`
}

func (e *Engine) listed(body []byte) (Answer, error) {
	x := &e.sync
	var in jobList
	if err := json.Unmarshal(body, &in); err != nil {
		return Answer{}, unread("the server's list of jobs", err)
	}
	if in.Jobs == nil { // something in between answered
		return Answer{}, errors.New("the server's list of jobs has no jobs in it")
	}
	var a Answer
	x.run = in.Run
	x.stage, x.queue = pulling, nil // of the logs that have to be right before something is pushed
	for _, listed := range in.Jobs {
		if strings.ContainsFunc(listed.ID, func(r rune) bool { return r != '-' && !unicode.IsLetter(r) && !unicode.IsDigit(r) }) {
			return Answer{}, fmt.Errorf("the server's list of jobs has the id %q, wanted a UUID", listed.ID)
		}
		j := e.job(listed.ID)
		if back := e.recall(j); len(back) > 0 {
			a.Write, a.Changed = append(a.Write, back...), append(a.Changed, j.id)
		}
		if j.line.Title == "" {
			j.line.Title = listed.Title
		}
		j.refresh()
		known := j.head() // of a job that is to be read again it may be an old figure
		same := !j.unread && known == listed.Head && (listed.Received == "" || listed.Received == j.line.News)
		if !same && (j.pending > 0 || j.unread || known >= listed.Head) {
			x.queue = append(x.queue, j.id)
		}
		x.last[j.id] = listed.Received
		x.listed = append(x.listed, j.id)
		x.heads[j.id] = listed.Head
	}
	return a, nil
}

type pullAnswer struct {
	Head    int64              `json:"head"`
	Records []checklist.Record `json:"records"`
	Seals   []string           `json:"seals"`
}

func (e *Engine) pulled(body []byte) (Answer, error) {
	x := &e.sync
	j := e.job(x.queue[0])
	var in pullAnswer
	if err := json.Unmarshal(body, &in); err != nil {
		return Answer{}, unread("the server's records", err)
	}
	if in.Records == nil {
		return Answer{}, errors.New("the server's answer has no records in it")
	}
	x.heads[j.id] = in.Head
	delete(x.last, j.id)
	if x.stage == renewing {
		return e.renewed(j, in)
	}
	head := j.log.Head()
	if in.Seals != nil {
		j.line.Seals = in.Seals
	}
	writes, err := e.take(j, in.Records)
	switch {
	case err != nil:
		x.stage, x.renew = renewing, checklist.NewLog(e.template, j.id)
		j.log = nil // what was folded of it is not stored; the log is read again as it was
		return Answer{}, nil
	case j.log.Head() == head && in.Head > head:
		return Answer{}, fmt.Errorf("the server has %d records of this job but gave none after %d", in.Head, head)
	}
	return Answer{Write: writes, Changed: []string{j.id}}, nil
}

// renewed goes on with a log that is fetched again from its start, because the
// server's is not the one this phone knew. When it is whole, it takes the old
// one's place, and this device's entries that are not in it wait to be sent again.
func (e *Engine) renewed(j *job, in pullAnswer) (Answer, error) {
	x := &e.sync
	head := x.renew.Head()
	if err := x.renew.Receive(in.Records...); err != nil {
		return Answer{}, err
	}
	if x.renew.Head() < in.Head {
		if x.renew.Head() == head {
			return Answer{}, fmt.Errorf("the server has %d records of this job but gave none after %d", in.Head, head)
		}
		return Answer{}, nil
	}
	old, log := j.log, x.renew
	writes := []Write{{Op: "clear", In: inRecords, Key: j.id}, {Op: "delete", In: inSnapshots, Key: j.id}}
	for _, r := range log.Records() {
		writes = append(writes, put(inRecords, []any{j.id, r.Position}, r))
	}
	own := slices.Clone(old.Pending())
	for _, r := range old.Known() {
		if r.Entry.Device == e.device.ID {
			own = append(own, r.Entry)
		}
	}
	for _, entry := range own {
		if err := log.Keep(entry); err != nil {
			return Answer{}, err
		}
	}
	// Rows of the queue go one by one: there may be some that another tab has just
	// written and this one does not know of.
	for _, entry := range old.Pending() {
		if !slices.ContainsFunc(log.Pending(), func(p checklist.Entry) bool { return p.ID == entry.ID }) {
			writes = append(writes, Write{Op: "delete", In: inPending, Key: key(entry)})
		}
	}
	for _, entry := range log.Pending() {
		writes = append(writes, put(inPending, key(entry), string(entry.Bytes())))
	}
	writes = append(writes, e.sendAgain(j.id, nil)...)
	j.log, j.stale, x.renew = log, true, nil
	delete(x.other, j.id)
	j.line.Seals = in.Seals
	j.refresh()
	x.stage, x.queue = pulling, x.queue[1:]
	if x.sentAll && j.pending > 0 { // push them before anything else is pulled
		x.stage, x.queue, x.from, x.asked, x.told = pushing, []string{j.id}, map[string]int64{}, map[string]int64{}, map[string]bool{}
	}
	return Answer{Write: append([]Write{j.swap()}, writes...), Changed: []string{j.id}}, nil
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

package simulate

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"golang.org/x/mod/sumdb/tlog"

	"hangtrue/checklist"
	"hangtrue/checklist/reread"
	"hangtrue/checklist/seal"
	"hangtrue/pwa/phone/engine"
	"hangtrue/server"
	"hangtrue/server/store"
)

type record = checklist.Record

// An audit follows the server's log from outside: each record once, as soon as it
// is kept, and everything that is answered.
type audit struct {
	world   *world
	records []record
	leaves  []tlog.Hash
	ids     map[string]int64
	numbers map[string]int64
	log     reread.Log
	seals   []store.Seal
}

// look reads what came since it last looked.
func (a *audit) look() {
	if a.ids == nil {
		a.ids, a.numbers = map[string]int64{}, map[string]int64{}
	}
	w := a.world
	records, err := w.server.kept.Records(job, int64(len(a.records)), 1<<20, 1<<30)
	if err != nil {
		w.fail("keeping: %v", err)
	}
	for _, r := range records {
		a.next(r)
	}
	if len(records) == 0 {
		return
	}
	line, err := w.server.kept.Line(job)
	if err != nil || line.Head != int64(len(a.records)) {
		w.fail("keeping: the line says %d records, there are %d (%v)", line.Head, len(a.records), err)
	}
	seals, err := w.server.kept.Seals(job)
	if err != nil {
		w.fail("sealing: %v", err)
	}
	if len(seals) < len(a.seals) || !slices.Equal(seals[:len(a.seals)], a.seals) {
		w.fail("sealing: a seal is gone or another one")
	}
	a.seals = seals
	for _, r := range records {
		if r.Accepted && r.Entry.Kind == checklist.JobSigned {
			w.count("sign-offs")
			if !slices.ContainsFunc(seals, func(s store.Seal) bool { return s.Position == r.Position }) {
				w.fail("sealing: the sign-off at %d has no seal", r.Position)
			}
		}
	}
}

// next holds a record against all before it.
func (a *audit) next(r record) {
	w, e := a.world, r.Entry
	about := checklist.About(e)
	verdict := "accepted " + r.Outcome
	if !r.Accepted {
		verdict = "refused: " + r.Reason
		w.count("refused")
		if i := slices.IndexFunc(w.phones, func(p *phone) bool { return p.disk.device() == e.Device }); i >= 0 && r.Edition > w.phones[i].steps.Version {
			w.count("refused to a phone by later steps than its own")
		}
	}
	w.count("records")
	w.note("server: record %d is %s %s %s %s number %d: %s", r.Position, e.Kind, about.Step, about.Mount, e.ID[24:], e.Number, verdict)
	if r.Position != int64(len(a.records))+1 {
		w.fail("positions: record %d follows %d", r.Position, len(a.records))
	}
	if before := a.ids[e.ID]; before != 0 {
		w.fail("once: entry %s is at %d and at %d", e.ID, before, r.Position)
	}
	if last := a.numbers[e.Device]; e.Number != last+1 {
		w.fail("numbers: device %s used %d after %d", e.Device, e.Number, last)
	}
	a.ids[e.ID], a.numbers[e.Device] = r.Position, e.Number
	if r.Accepted {
		a.holds(r, about)
	}
	if err := a.log.Add(r); err != nil {
		w.fail("keeping: %v", err)
	}
	a.records, a.leaves = append(a.records, r), append(a.leaves, seal.Leaf(r))
}

// holds sees that an accepted entry was free to come.
func (a *audit) holds(r record, about checklist.Key) {
	w := a.world
	switch r.Entry.Kind {
	case checklist.StepRecorded, checklist.StepConceded:
		if free := a.log.Free(about); !free && (r.Edition >= 2 || !a.log.Reached(about)) {
			w.fail("hold points: record %d, %s %s, was accepted before its hold points were met", r.Position, about.Mount, about.Step)
		}
		if r.Entry.Role == checklist.Viewer {
			w.fail("hold points: record %d was accepted from a viewer", r.Position)
		}
		if r.Entry.Kind == checklist.StepConceded {
			w.count("concessions")
			if r.Entry.Role != checklist.Lead {
				w.fail("hold points: record %d, a concession, was accepted from an installer", r.Position)
			}
		}
	case checklist.JobSigned:
		if open := a.log.Open(); open != "" || a.log.Locked() {
			w.fail("hold points: record %d, a sign-off, was accepted while %q was open", r.Position, open)
		}
	case checklist.StepReopened:
		w.count("reopenings")
	case checklist.PlanSettled:
		w.count("plans settled")
	case checklist.PartNoted:
		w.count("parts noted")
	case checklist.JobOpened, checklist.RemarkWritten:
	default:
		w.fail("hold points: record %d was accepted though nobody knows its kind %s", r.Position, r.Entry.Kind)
	}
}

// answered holds what the server said against what it kept.
func (a *audit) answered(r engine.Request, body []byte) {
	var said struct {
		Answers []server.Answer `json:"answers"`
		Records []record        `json:"records"`
		Head    int64           `json:"head"`
	}
	if !strings.HasPrefix(r.URL, "/api/jobs/"+job) || strings.Contains(r.URL, "/photos") {
		return
	}
	if err := json.Unmarshal(body, &said); err != nil {
		a.world.fail("answering: %v", err)
	}
	if said.Head != int64(len(a.records)) {
		a.world.fail("keeping: the server says its log ends at %d, and %d records are kept", said.Head, len(a.records))
	}
	for _, one := range said.Answers {
		switch {
		case one.Record != nil:
			a.same(*one.Record)
		case one.Expected != 0:
			a.world.count("gaps told")
		default:
			a.world.count("strays told")
		}
	}
	for _, one := range said.Records {
		a.same(one)
	}
	if r.Method == "POST" {
		a.world.count("pushes answered")
	}
}

func (a *audit) same(r record) {
	if r.Position < 1 || r.Position > int64(len(a.leaves)) || seal.Leaf(r) != a.leaves[r.Position-1] {
		a.world.fail("keeping: the server answered with record %d (%s), which is not what it keeps there", r.Position, r.Entry.ID)
	}
}

// judge holds everything together at the end.
func (w *world) judge() {
	a := &w.audit
	kept, err := w.server.kept.Records(job, 0, 1<<20, 1<<30)
	if err != nil || len(kept) != len(a.leaves) {
		w.fail("keeping: %d records are kept of %d (%v)", len(kept), len(a.leaves), err)
	}
	plain := checklist.NewState(w.server.steps, job)
	for i, r := range kept {
		if seal.Leaf(r) != a.leaves[i] {
			w.fail("keeping: record %d is not what it was", i+1)
		}
		plain.Fold(r)
	}
	want := dump(plain)
	if len(kept) == 0 {
		return
	}
	state, err := w.server.keeper.State(job)
	if err != nil || dump(state) != want {
		w.fail("same state: the server shows something else than its log adds up to (%v)\n%s", err, difference(want, dump(state)))
	}
	w.sealed()
	w.album.look()
	w.shown(kept)
	for _, p := range w.phones {
		w.settled(p, kept, want)
		w.pictured(p, kept)
	}
}

// sealed holds the record file to its seals.
func (w *world) sealed() {
	file, err := w.server.keeper.File(job)
	if err != nil {
		w.fail("sealing: %v", err)
	}
	report := file.Verify(sealKey.Public())
	if !report.Intact() {
		w.fail("sealing: %v", report.Findings)
	}
	if len(report.SignOffs) != len(w.audit.seals) {
		w.fail("sealing: %d sign-offs verify of %d", len(report.SignOffs), len(w.audit.seals))
	}
}

// settled holds a phone against the server.
func (w *world) settled(p *phone, kept []record, want string) {
	if left := p.disk.keys("pending"); len(left) > 0 {
		w.fail("queue: %s still has %d entries to send, the first is number %d", p.name, len(left), left[0].number)
	}
	for _, v := range p.vows {
		at, there := w.audit.ids[v.id]
		switch stray, apart := p.stray(v.id); {
		case there && string(kept[at-1].Entry.Bytes()) != v.text:
			w.fail("saved: entry %s of %s is in the log with other bytes", v.id, p.name)
		case there:
		case apart && stray == v.text && (w.era > 0 || p.apartE[v.id]):
			w.count("saved entries kept apart")
		case w.era > 0 && p.torn[v.id]:
			w.count("entries lost with a damaged row and an old backup")
		default:
			w.fail("saved: %s called entry %s saved, and it is lost (kept apart: %v)", p.name, v.id, apart)
		}
	}
	rows := p.disk.keys("records")
	if len(rows) != len(kept) {
		w.fail("same state: %s stores %d records, the server %d", p.name, len(rows), len(kept))
	}
	for i, k := range rows {
		var r record
		if err := json.Unmarshal([]byte(p.disk.text("records", k)), &r); err != nil || seal.Leaf(r) != w.audit.leaves[i] {
			w.fail("same state: %s stores another record %d than the server", p.name, i+1)
		}
	}
	for _, t := range p.tabs {
		t.show("/jobs/"+job, func() {})
		w.run(0)
		if j := t.state(); j == nil || dump(j.State) != want {
			got := "nothing"
			if j != nil {
				got = dump(j.State)
			}
			w.fail("same state: %s shows something else than the server\n%s", t.name, difference(want, got))
		}
	}
}

func (p *phone) stray(id string) (entry string, there bool) {
	var s engine.Stray
	text := p.disk.text("strays", key{name: id})
	if text == "" || json.Unmarshal([]byte(text), &s) != nil || s.Missing { // there is a job now
		return "", false
	}
	return s.Entry, true
}

func dump(s *checklist.State) string {
	var b strings.Builder
	if err := s.Dump(&b); err != nil {
		return err.Error()
	}
	return b.String()
}

// difference is the first line in which two texts differ.
func difference(want, got string) string {
	a, b := strings.Split(want, "\n"), strings.Split(got, "\n")
	for i := range max(len(a), len(b)) {
		x, y := "", ""
		if i < len(a) {
			x = a[i]
		}
		if i < len(b) {
			y = b[i]
		}
		if x != y {
			return fmt.Sprintf("want %s\n got %s", x, y)
		}
	}
	return ""
}

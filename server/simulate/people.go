package simulate

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"strings"
	"time"

	"hangtrue/checklist"
	"hangtrue/checklist/editions"
	"hangtrue/checklist/rehearsal"
	"hangtrue/checklist/reread"
	"hangtrue/pwa/pages"
	"hangtrue/pwa/phone/engine"
	"hangtrue/server/store"
)

// open makes the server, with a job at some stage, and the phones.
func (w *world) open() {
	r := w.chance("open")
	w.rough = []float64{0.05, 1, 1, 2.5}[r.IntN(4)]
	w.server = &house{world: w, steps: checklist.Loudspeakers}
	if r.IntN(3) == 0 {
		w.server.steps = former()
	}
	w.audit, w.album = audit{world: w}, album{world: w, whole: map[string]bool{}, spoilt: map[string]bool{}}
	w.server.build()
	w.begin(r)
	w.server.up()
	w.audit.look()
	for i := range w.Phones {
		p := &phone{world: w, steps: w.server.steps, name: fmt.Sprintf("phone %d", i+1), disk: newStorage(), apartE: map[string]bool{}, torn: map[string]bool{}, gone: map[string]int{}}
		p.role = []checklist.Role{checklist.Lead, checklist.Installer, checklist.Installer, checklist.Lead}[i%4]
		if i > 1 && r.IntN(8) == 0 {
			p.role = checklist.Viewer
		}
		p.who = fmt.Sprintf("%s %d", p.role, i+1)
		p.apart = r.IntN(8) == 0
		w.phones = append(w.phones, p)
		p.open()
		p.introduce()
	}
}

// begin fills the store: with nothing, with a job just opened, or with one that
// is on its way or nearly done.
func (w *world) begin(r *rand.Rand) {
	if r.IntN(6) == 0 {
		return
	}
	s := rehearsal.NewSite(job, "01900000-0000-7000-8000-0000000000a1")
	s.State = checklist.NewState(w.server.steps, job)
	if err := s.Open(w.Plan); err != nil {
		panic(err)
	}
	for range []int{0, 8, 16, 24, 25}[r.IntN(5)] {
		k, ok := s.State.Next("")
		if !ok || s.State.Template.Step(k.Step).Kind != checklist.StepRecorded {
			break
		}
		b, err := rehearsal.Recording(w.Plan, k.Step, k.Mount)
		if err == nil {
			err = s.Do(checklist.StepRecorded, b)
		}
		if err != nil {
			panic(err)
		}
	}
	last := s.Records[len(s.Records)-1]
	done, all := s.State.Progress()
	err := w.server.kept.Append(store.Addition{Job: job, Records: s.Records,
		Line: store.Line{ID: job, Title: s.State.Title, Head: last.Position, Received: last.Received, Done: done, All: all}})
	if err != nil {
		panic(err)
	}
}

// close lets go of what is outside the simulation.
func (w *world) close() { w.server.close() }

// A deed is one kind of step.
type deed struct {
	weight int
	do     func(*world, *rand.Rand, *phone, *tab)
}

var deeds = []deed{
	{60, (*world).work},
	{8, (*world).hurry},
	{3, func(w *world, r *rand.Rand, _ *phone, t *tab) {
		w.count("looks at a page")
		t.show(paths[r.IntN(len(paths))], func() {})
	}},
	{4, func(_ *world, _ *rand.Rand, _ *phone, t *tab) { t.exchangeNow() }},
	{5, func(w *world, _ *rand.Rand, p *phone, t *tab) {
		w.count("reloads")
		w.note("%s is closed", t.name)
		p.shut(t)
		p.open()
	}},
	{3, func(w *world, _ *rand.Rand, p *phone, _ *tab) {
		if len(p.tabs) < 3 {
			w.count("second tabs")
			p.open()
		}
	}},
	{2, func(w *world, _ *rand.Rand, p *phone, t *tab) {
		if len(p.tabs) > 1 {
			w.note("%s is closed", t.name)
			p.shut(t)
		}
	}},
	{5, func(w *world, r *rand.Rand, p *phone, _ *tab) {
		p.full = 1 + r.IntN(4)
		w.note("%s: storage full for %d writes", p.name, p.full)
	}},
	{1, func(w *world, r *rand.Rand, p *phone, _ *tab) {
		if r.IntN(2) == 0 {
			w.note("%s loses its storage", p.name)
			p.wipe()
		}
	}},
	{2, func(w *world, r *rand.Rand, p *phone, _ *tab) {
		w.count("clocks put wrong")
		p.offset = time.Duration(r.IntN(40)-20) * 365 * 24 * time.Hour
		if r.IntN(3) == 0 {
			w.server.offset = -time.Duration(r.IntN(72)) * time.Hour
		}
		w.note("%s: clock off by %v, the server's by %v", p.name, p.offset, w.server.offset)
	}},
	{6, func(w *world, r *rand.Rand, p *phone, _ *tab) {
		if p.away = !p.away; p.away {
			w.count("partitions")
		}
		w.note("%s away: %v", p.name, p.away)
	}},
	{2, func(w *world, _ *rand.Rand, _ *phone, _ *tab) {
		if w.server.answer != nil {
			w.server.crash()
		}
	}},
	{5, func(w *world, r *rand.Rand, _ *phone, _ *tab) {
		w.server.edge.due = due{[]string{"before", "after", "crash before", "crash after"}[r.IntN(4)], 1 + r.IntN(3)}
	}},
	{4, func(w *world, r *rand.Rand, _ *phone, _ *tab) {
		w.server.gate.due = due{[]string{"before", "after", "torn", "error"}[r.IntN(4)], 1 + r.IntN(12)}
	}},
	{2, func(w *world, r *rand.Rand, _ *phone, _ *tab) {
		w.server.gate.full = 1 + r.IntN(6)
		w.note("server: no room for photos, %d times", w.server.gate.full)
	}},
	{2, func(w *world, r *rand.Rand, _ *phone, _ *tab) { w.album.spoil(r) }},
	{3, func(w *world, r *rand.Rand, p *phone, _ *tab) {
		p.quota = 1 + p.disk.usage()*(80+r.IntN(60))/100
		w.note("%s: room for %d bytes of photos", p.name, p.quota)
	}},
	{2, func(w *world, _ *rand.Rand, p *phone, _ *tab) { p.quota = 0 }},
	{2, func(w *world, _ *rand.Rand, _ *phone, t *tab) {
		w.count("photos let go by hand")
		t.release(0, func(bool, error) {})
	}},
	{1, func(w *world, _ *rand.Rand, _ *phone, t *tab) {
		w.count("photos sent again by hand")
		t.resend()
	}},
	{2, (*world).upgrade},
	{5, (*world).stock},
	{12, (*world).remark},
	{4, (*world).settle},
	{3, (*world).meddle},
	{2, (*world).newer},
	{1, (*world).damage},
}

// restores tells whether old backups come back in this run.
func (w *world) restores() bool { return w.Seed%8 == 0 }

var paths = []string{"/", "/you", "/jobs/" + job, "/jobs/" + job + "/record", "/jobs/" + job + "/steps/survey"}

func (w *world) step(i int, r *rand.Rand) {
	if w.restores() && r.IntN(12) == 0 && (len(w.audit.records) > 0 || w.server.copied != nil) {
		w.note("step %d", i)
		if len(w.audit.records) > 0 && (w.server.copied == nil || r.IntN(3) == 0) {
			w.server.backUp()
		} else {
			w.server.restore(r.IntN(4) == 0)
		}
		return
	}
	all := 0
	for _, d := range deeds {
		all += d.weight
	}
	p := w.phones[r.IntN(len(w.phones))]
	t := p.tabs[r.IntN(len(p.tabs))]
	dice := r.IntN(all)
	for _, d := range deeds {
		if dice -= d.weight; dice < 0 {
			w.note("step %d", i)
			d.do(w, r, p, t)
			return
		}
	}
}

// work is a person doing something on the job: what is next, mostly.
func (w *world) work(r *rand.Rand, p *phone, t *tab) {
	if t.saving {
		return
	}
	t.call("draft", map[string]any{"path": paths[len(paths)-1]}, func(engine.Answer, error) { // loads the job
		j := t.state()
		if j == nil || j.State.Plan() == nil || t.saving {
			return
		}
		s := j.State
		mounts, keys := s.Mounts(), s.Keys()
		k, ok := s.Next([]string{"", "", mounts[r.IntN(len(mounts))]}[r.IntN(3)])
		dice := r.IntN(100)
		if !ok && dice < 76 {
			return
		}
		reason := map[string][]string{"act": {"concede"}, "reason": {"As it is, said the lead."}}
		switch {
		case dice < 76:
		case dice < 84:
			k = keys[r.IntN(len(keys))]
		case dice < 90:
			k = keys[r.IntN(len(keys))]
			t.submit(pathOf(k), reason)
			return
		case dice < 95:
			k = keys[r.IntN(len(keys))]
			reason["act"] = []string{"reopen"}
			t.submit(pathOf(k), reason)
			return
		default:
			k = checklist.Key{Step: "sign"}
		}
		step := s.Template.Step(k.Step)
		switch step.Kind {
		case checklist.JobSigned:
			if len(j.Pending) == 0 || r.IntN(5) == 0 {
				t.submit(pathOf(k), map[string][]string{"act": {"sign"}, "read": {"yes"}, "head": {fmt.Sprint(s.Head)}})
			}
		case checklist.StepRecorded:
			if p.role != checklist.Lead && p.role != step.Role && r.IntN(4) > 0 {
				return // the page offers no form
			}
			if e := s.Evidence(k); e != nil && p.role == checklist.Lead && s.Status(k) == checklist.Ready && r.IntN(2) == 0 {
				t.submit(pathOf(k), reason)
				return
			}
			b, err := rehearsal.Recording(s.Plan(), k.Step, k.Mount)
			if err != nil {
				w.fail("rehearsing: %v", err)
			}
			spoil(r, b)
			w.shoot(r, t, pathOf(k), "record", func() { t.submit(pathOf(k), formOf(b)) })
		}
	})
}

// shoot takes some photos for a form, mostly none, and goes on.
func (w *world) shoot(r *rand.Rand, t *tab, path, form string, then func()) {
	n := max(0, r.IntN(5)-2)
	var next func()
	next = func() {
		if n--; n < 0 {
			then()
			return
		}
		shot := pictures()[r.IntN(len(pictures()))]
		if len(w.shot) > 0 && r.IntN(4) == 0 {
			shot = w.shot[r.IntN(len(w.shot))] // the same again, perhaps on another phone
		}
		w.shot = append(w.shot, shot)
		t.take(path, form, shot, next)
	}
	next()
}

// former is the edition of the steps before today's.
func former() *checklist.Template {
	return editions.Loudspeakers().Edition(checklist.Loudspeakers.Version - 1)
}

// upgrade brings the server's program up to today's steps. The phones go by the former
// ones until they meet it.
func (w *world) upgrade(_ *rand.Rand, _ *phone, _ *tab) {
	if w.server.steps == checklist.Loudspeakers || w.server.answer == nil {
		return
	}
	w.server.steps = checklist.Loudspeakers
	w.count("servers that were brought up to later steps")
	w.note("server: stopped for its later program")
	w.server.crash()
}

// stock is a person's note on how much of a part is on hand, which former steps do not
// ask for.
func (w *world) stock(r *rand.Rand, _ *phone, t *tab) {
	if t.saving || t.steps != checklist.Loudspeakers || w.server.steps != checklist.Loudspeakers {
		return
	}
	m := w.Plan.Mounts[r.IntN(len(w.Plan.Mounts))]
	part := []string{"loudspeaker/" + m.Model, "bracket/" + m.Bracket, "fixing/" + m.Fixing, "cable/" + m.Cable}[r.IntN(4)]
	t.submit("/jobs/"+job+"/parts", map[string][]string{"act": {"stock"}, "part": {part}, "on_hand": {[]string{"0", "1", "100", "100"}[r.IntN(4)]}})
}

// remark is a person's remark on a step, with photos or without.
func (w *world) remark(r *rand.Rand, p *phone, t *tab) {
	if t.saving {
		return
	}
	t.call("draft", map[string]any{"path": paths[len(paths)-1]}, func(engine.Answer, error) { // loads the job
		j := t.state()
		if j == nil || j.State.Plan() == nil {
			return
		}
		keys := j.State.Keys()
		path := pathOf(keys[r.IntN(len(keys))])
		w.shoot(r, t, path, "remark", func() {
			t.submit(path, map[string][]string{"act": {"remark"}, "note": {"Seen."}})
			if r.IntN(4) == 0 {
				t.later(between(r, 0, 60*time.Millisecond), func() { w.closeInTheMiddle(p, t) })
			}
		})
	})
}

// hurry is several things within a moment: everybody on one phone works, meets the
// server, and something breaks in the middle of it.
func (w *world) hurry(r *rand.Rand, p *phone, t *tab) {
	w.count("moments of haste")
	if len(p.tabs) < 2 && r.IntN(2) == 0 {
		p.open()
	}
	for _, each := range p.tabs {
		for range 1 + r.IntN(3) {
			seed := rand.New(rand.NewPCG(r.Uint64(), 0))
			each.later(between(r, 0, 40*time.Millisecond), func() { w.work(seed, p, each) })
		}
		if r.IntN(2) == 0 {
			each.later(between(r, 0, 40*time.Millisecond), each.exchangeNow)
		}
	}
	switch r.IntN(4) {
	case 0:
		t.later(between(r, 0, 60*time.Millisecond), func() { w.closeInTheMiddle(p, t) })
	case 1:
		t.later(between(r, 0, 400*time.Millisecond), func() {
			if w.server.answer != nil && !w.calm {
				w.server.crash()
			}
		})
	case 2:
		t.later(between(r, 0, 60*time.Millisecond), func() {
			if !w.calm {
				p.full += 1 + r.IntN(2)
			}
		})
	}
}

func (w *world) closeInTheMiddle(p *phone, t *tab) {
	w.note("%s is closed in the middle", t.name)
	p.shut(t)
	if len(p.tabs) == 0 {
		p.open()
	}
}

func pathOf(k checklist.Key) string {
	if k.Mount == "" {
		return "/jobs/" + job + "/steps/" + k.Step
	}
	return "/jobs/" + job + "/mounts/" + k.Mount + "/" + k.Step
}

// spoil makes one recording in four a bad one.
func spoil(r *rand.Rand, b checklist.Recording) {
	if r.IntN(4) > 0 {
		return
	}
	if along := b.Measured["along_um"]; along != nil {
		along[0] += []int64{3000, 5000, 40000}[r.IntN(3)]
	}
	for key, bad := range map[string]string{"how": "live", "result": "reversed", "behind": "board", "labels": "one", "proof": "moved"} {
		if b.Chosen[key] != "" {
			b.Chosen[key] = bad
		}
	}
}

// formOf is how a person types a recording.
func formOf(b checklist.Recording) pages.Form {
	f := pages.Form{"act": {"record"}, "confirmed": b.Confirmed}
	for key, readings := range b.Measured {
		unit := ""
		divide := int64(1000)
		if base, _, _ := strings.Cut(key, "/"); strings.HasSuffix(base, "_um") {
			unit, divide = " m", 1_000_000
		}
		sign, n := "", readings[0]
		if n < 0 {
			sign, n = "-", -n
		}
		digits := len(fmt.Sprint(divide)) - 1
		f[key] = []string{fmt.Sprintf("%s%d.%0*d%s", sign, n/divide, digits, n%divide, unit)}
	}
	for key, value := range b.Chosen {
		f[key] = []string{value}
	}
	return f
}

// fresh is an entry of a device that nobody has heard of before.
func (w *world) fresh(r *rand.Rand, number int64, kind checklist.Kind, body any) checklist.Entry {
	id := func(version string) string {
		return fmt.Sprintf("%08x-%04x-%s%03x-8%03x-%012x", r.Uint32(), r.IntN(1<<16), version, r.IntN(1<<12), r.IntN(1<<12), r.Int64N(1<<48))
	}
	e, err := checklist.NewEntry(checklist.Entry{
		ID: id("7"), Job: job, Device: id("4"), Number: number, Who: "lead at the table", Role: checklist.Lead,
		Clock: beginning.Add(w.now).Format(stamp), Kind: kind,
	}, body)
	if err != nil {
		panic(err)
	}
	return e
}

// push sends texts to the server over the table's own line, which loses some; who
// sits there tries the same again until there is an answer.
func (w *world) push(r *rand.Rand, to string, texts ...string) {
	body, err := json.Marshal(map[string]any{"entries": texts})
	if err != nil {
		panic(err)
	}
	var try func(left int)
	try = func(left int) {
		w.after(between(r, 0, 3*time.Second), func() {
			if w.calm {
				return
			}
			status, _ := w.server.do(engine.Request{Method: "POST", URL: "/api/jobs/" + to + "/entries", Body: string(body)})
			if (status != 200 || r.IntN(4) == 0) && left > 0 {
				try(left - 1)
			}
		})
	}
	try(5)
}

// settle opens the job at the table if it is not open, and settles a plan.
func (w *world) settle(r *rand.Rand, _ *phone, _ *tab) {
	if len(w.audit.records) == 0 {
		document, err := w.Plan.Encode()
		if err != nil {
			panic(err)
		}
		opening := w.fresh(r, 1, checklist.JobOpened, checklist.Opening{Title: w.Plan.Title})
		plan := w.fresh(r, 1, checklist.PlanSettled, checklist.NewSettlement(1, "The first plan.", document))
		w.count("jobs opened")
		w.push(r, job, string(opening.Bytes()), string(plan.Bytes()))
		return
	}
	state, err := w.server.keeper.State(job)
	if err != nil || state.Plan() == nil {
		return
	}
	p, err := reread.Change(state.Plan(), reread.Parts[r.IntN(len(reread.Parts))], r.IntN(len(state.Mounts())))
	if err != nil {
		panic(err)
	}
	document, err := p.Encode()
	if err != nil {
		panic(err)
	}
	w.push(r, job, string(w.fresh(r, 1, checklist.PlanSettled, checklist.NewSettlement(state.Revision()+1, "A change.", document)).Bytes()))
}

// meddle sends what no phone of this edition sends.
func (w *world) meddle(r *rand.Rand, _ *phone, _ *tab) {
	remark := w.fresh(r, 1, checklist.RemarkWritten, checklist.Remark{Text: "seen"})
	text, to := string(remark.Bytes()), job
	switch r.IntN(7) {
	case 0:
		text = "not an entry"
	case 1:
		text = strings.Replace(text, `"v":1`, `"v":2`, 1)
	case 2:
		to = "01900000-0000-7000-8000-00000000000b"
	case 3:
		text = string(w.fresh(r, 3, checklist.RemarkWritten, checklist.Remark{Text: "after a gap"}).Bytes())
	case 4:
		text = string(w.fresh(r, 1, "step.dreamt", map[string]int{"of": 1}).Bytes())
	case 5:
		if n := len(w.audit.records); n > 0 {
			text = strings.Replace(text, remark.ID, w.audit.records[r.IntN(n)].Entry.ID, 1)
		}
	}
	w.count("strange entries sent")
	w.push(r, to, text, string(w.fresh(r, 1, checklist.RemarkWritten, checklist.Remark{Text: "and this is sound"}).Bytes()))
}

// newer plays a newer edition of the phone's program that made an entry, and was
// then taken back: an entry of a kind or an envelope that nobody knows waits.
func (w *world) newer(r *rand.Rand, p *phone, t *tab) {
	device := p.disk.device()
	if device == "" || p.busy > 0 || len(p.disk["records"]) == 0 || len(p.tabs) > 1 {
		return
	}
	last, _ := p.disk["numbers"][key{name: job}].(float64) // a stand-in never has the last number
	e := w.fresh(r, int64(last)+1, "step.dreamt", map[string]int{"of": 1})
	e.Device, e.Who, e.Role = device, p.who, p.role
	e, err := checklist.NewEntry(e, map[string]int{"of": 1})
	if err != nil {
		panic(err)
	}
	text := string(e.Bytes())
	if r.IntN(2) == 0 {
		text = strings.Replace(text, `"v":1`, `"v":2`, 1)
		w.count("entries of a newer envelope")
	} else {
		w.count("entries of a newer kind")
		p.vows = append(p.vows, vow{id: e.ID, text: text})
	}
	w.note("%s: a newer program left entry %d, %s", p.name, e.Number, text[:8])
	p.disk["pending"][key{name: job, number: e.Number}] = text
	p.disk["numbers"][key{name: job}] = float64(e.Number)
	p.shut(t)
	p.open()
}

// damage makes a stored row unreadable: one that can be fetched again.
func (w *world) damage(r *rand.Rand, p *phone, t *tab) {
	rows := p.disk.keys("records")
	if len(rows) == 0 || p.busy > 0 {
		return
	}
	w.count("rows damaged")
	k := rows[r.IntN(len(rows))]
	if w.restores() { // what an old backup took away can be in that row alone
		var torn record
		_ = json.Unmarshal([]byte(p.disk.text("records", k)), &torn) // one that is damaged already is no entry
		p.torn[torn.Entry.ID] = true
	}
	spoilt := []string{"{", strings.Replace(p.disk.text("records", k), "accepted", "excepted", 1)}[r.IntN(2)]
	p.disk["records"][k], p.damaged = spoilt, true
	p.disk["jobs"][key{name: job}] = "{"
	w.note("%s: record %d on its storage is damaged", p.name, k.number)
	for len(p.tabs) > 0 {
		p.shut(p.tabs[0])
	}
	p.open()
}

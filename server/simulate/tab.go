package simulate

import (
	"encoding/json"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"time"

	"hangtrue/checklist"
	"hangtrue/pwa/pages"
	"hangtrue/pwa/phone/engine"
)

// Figures of sync.js, engine.js and page.js.
const (
	patience = 20 * time.Second
	look     = 30 * time.Second
	longest  = 60 * time.Second
	broken   = 2 // failures after which the wait grows no more where the server can be reached
	tries    = 5 // to save, where other tabs were first
)

// A tab plays the scripts of one open page: engine.js, sync.js, page.js and
// tabs.js. What waits there for a promise goes on here in a function. A closed
// tab's functions are never called again.
type tab struct {
	phone *phone
	name  string
	steps *checklist.Template // that its program goes by
	gone  bool

	running *promise // of the program that runs
	program *program
	loading map[string]*promise

	saving   bool
	path     string // of the page that is shown
	looping  bool
	again    bool
	failures int
	pieces   int  // of photos in this exchange
	carried  bool // the line carried a request of this exchange
	broke    bool // and not the one after it
	era      int  // how often an old backup had come back when the server told its jobs last
	timer    int  // counts timers, so that an old one does nothing
	failed   string
	shared   bool // another tab was open beside this one
}

// A program is one start of the engine.
type program struct{ engine *engine.Engine }

func (p *program) raw(name string, in any, texts ...string) engine.Answer {
	data, err := json.Marshal(in)
	if err != nil {
		panic(err) // the simulation's own types always encode
	}
	var a engine.Answer
	if err := json.Unmarshal(p.engine.Call(name, data, texts...), &a); err != nil {
		panic(err) // what Call promises
	}
	return a
}

// A promise is done once, with an error or without.
type promise struct {
	done    bool
	err     error
	program *program
	waiting []func()
}

func (p *promise) then(do func()) {
	if p.done {
		do()
		return
	}
	p.waiting = append(p.waiting, do)
}

func (p *promise) settle(err error) {
	p.done, p.err = true, err
	for _, do := range p.waiting {
		do()
	}
	p.waiting = nil
}

// later does something in this tab after a while, if it is still open then.
func (t *tab) later(wait time.Duration, do func()) {
	t.phone.world.after(wait, func() {
		if !t.gone {
			do()
		}
	})
}

// start is the program of this tab.
func (t *tab) start(then func(*program, error)) {
	if t.running == nil {
		r := &promise{program: &program{engine.New(t.steps, t.phone.random())}}
		r.program.engine.SnapshotEvery(1 + int64(t.phone.world.Seed%6))
		r.program.engine.PieceBytes(pieceBytes)
		t.running = r
		failed := func(err error) { t.running = nil; r.settle(err) }
		t.phone.transact(t, func(disk storage) error {
			in := disk.started()
			in["room"] = t.phone.room()
			t.phone.world.after(0, func() { // the page may be gone before it is told
				if t.gone {
					return
				}
				a := r.program.raw("start", in)
				switch {
				case a.Fault != "":
					failed(errors.New(a.Fault))
				case a.Edition != engine.Edition:
					failed(errors.New("another edition"))
				case a.Write != nil:
					t.phone.apply(t, a.Write, func(err error) {
						if err != nil {
							failed(err)
							return
						}
						r.settle(nil)
					})
				default:
					r.settle(nil)
				}
			})
			return nil
		}, func(error) {})
	}
	r := t.running
	r.then(func() { then(r.program, r.err) })
}

func (t *tab) restart() {
	t.running = nil
	t.loading = nil
}

// call runs a command; what the program needs first is loaded, and a program that
// failed is started again once.
func (t *tab) call(name string, in any, then func(engine.Answer, error)) {
	failed, turns := false, 0
	var attempt func()
	attempt = func() {
		if turns++; turns > 50 {
			t.phone.world.fail("settling: %s needs a job again and again", name)
		}
		wrong := func(err error) {
			t.restart()
			if failed {
				then(engine.Answer{}, err)
				return
			}
			failed = true
			attempt()
		}
		t.start(func(p *program, err error) {
			if err != nil {
				wrong(err)
				return
			}
			a := p.raw(name, in)
			switch {
			case a.Fault != "":
				t.phone.world.count("engine faults")
				t.phone.world.note("%s: fault: %s", t.name, a.Fault)
				wrong(errors.New(a.Fault))
			case a.Need != "":
				t.load(p, a.Need, func(err error) {
					if err != nil {
						wrong(err)
						return
					}
					attempt()
				})
			default:
				then(a, nil)
			}
		})
	}
	attempt()
}

func (t *tab) load(p *program, job string, then func(error)) {
	l := t.loading[job]
	if l == nil {
		l = &promise{}
		if t.loading == nil {
			t.loading = map[string]*promise{}
		}
		t.loading[job] = l
		l.then(func() { delete(t.loading, job) })
		t.loadOnce(p, job, l.settle)
	}
	l.then(func() { then(l.err) })
}

func (t *tab) loadOnce(p *program, job string, then func(error)) {
	var stored loaded
	t.phone.transact(t, func(disk storage) error { stored = disk.job(job); return nil }, func(error) {
		in := map[string]any{"job": job, "pending": stored.pending, "line": stored.line, "number": stored.number, "small": stored.small}
		a := p.raw("load", in, append([]string{stored.shot}, stored.records...)...)
		switch {
		case a.Fault != "":
			then(errors.New(a.Fault))
		case a.Write == nil:
			then(nil)
		default:
			t.phone.apply(t, a.Write, then)
		}
	})
}

// exchangeNow is sync.now: an exchange, or one more after the one that runs.
func (t *tab) exchangeNow() {
	t.again = true
	if !t.looping {
		t.looping = true
		t.timer++
		t.loop()
	}
}

func (t *tab) loop() {
	w := t.phone.world
	if t.again {
		t.again = false
		t.phone.alone("sync", t, func(release func()) {
			t.exchange(func(err error) {
				release()
				t.failed = ""
				if err == nil {
					t.phone.damaged = false // what was missing is fetched
				}
				if err != nil {
					t.failed = err.Error()
					t.failures++
					if t.broke {
						t.failures = min(t.failures, broken)
					}
					w.count("exchanges failed")
				} else {
					t.failures = 0
					w.count("exchanges")
				}
				t.loop()
			})
		})
		return
	}
	t.looping = false
	if w.calm {
		return // the end is played by rounds, not by timers
	}
	most := look
	if t.failures > 0 {
		most = min(longest, time.Second<<min(t.failures, 10))
	}
	t.timer++
	mine := t.timer
	t.later(time.Duration(float64(most)*(0.5+w.chance("wait").Float64()/2)), func() {
		if t.timer == mine && !w.calm {
			t.exchangeNow()
		}
	})
}

// exchange is one meeting with the server; it gives why it did not go through.
func (t *tab) exchange(then func(error)) {
	in := t.phone.disk.waiting()
	in["room"] = t.phone.room()
	t.call("begin", in, func(_ engine.Answer, err error) {
		if err != nil {
			then(err)
			return
		}
		t.pieces, t.carried, t.broke = 0, false, false
		t.round(then)
	})
}

func (t *tab) round(then func(error)) {
	t.call("next", nil, func(a engine.Answer, err error) {
		switch {
		case err != nil:
			then(err)
		case a.Request == nil:
			t.phone.heard = t.era
			end := func(err error) {
				if err != nil {
					then(err)
					return
				}
				t.say(a.Say, true)
				t.refresh(func() { then(nil) })
			}
			if a.Write == nil {
				end(nil)
				return
			}
			written := func(err error) {
				if err != nil {
					end(err)
					return
				}
				t.call("say", map[string]any{"about": ""}, func(now engine.Answer, err error) {
					a.Say = now.Say // something may have been saved meanwhile
					end(err)
				})
			}
			a.Write = t.phone.bendRoom(a.Write)
			t.eldest(a.Write)
			t.applyPhotos(a.Write, written)
		case a.Request.Piece == nil:
			t.asked(*a.Request, false, then)
		default:
			if t.pieces++; t.pieces > 1 && t.again {
				then(nil) // what was recorded meanwhile goes first
				return
			}
			t.piece(*a.Request.Piece, func(data string, there bool) {
				a.Request.Body = data
				t.asked(*a.Request, !there, then)
			})
		}
	})
}

// hears notes of which server an exchange is: it begins with the list of jobs.
func (t *tab) hears(r engine.Request, era int) {
	if r.URL == "/api/jobs" {
		t.era = era
	}
}

// asked makes a request, unless what it would bring is gone, and takes its answer.
func (t *tab) asked(r engine.Request, gone bool, then func(error)) {
	answer := func(status int, body string) {
		status, body = t.phone.bendSent(r, status, body)
		t.broke = t.carried && status == 0
		t.carried = t.carried || status != 0
		t.call("answer", map[string]any{"status": status, "body": body, "gone": gone}, func(a engine.Answer, err error) {
			if err != nil {
				then(err)
				return
			}
			t.took(a, then)
		})
	}
	if gone {
		t.phone.world.count("photos that are gone from a storage")
		answer(0, "")
		return
	}
	t.phone.ask(t, r, answer)
}

// took does what the engine made of the server's answer.
func (t *tab) took(a engine.Answer, then func(error)) {
	w := t.phone.world
	if w.broken == flawBlock && slices.ContainsFunc(a.Write, refusedRecord) {
		a.Write, a.Failed, a.Say = nil, true, &engine.Say{HTML: "Refused."}
		t.restart()
	}
	onward := func() {
		if a.Changed != nil {
			t.phone.tell(t, a.Changed)
			t.refresh(func() { t.took2(a, then) })
			return
		}
		t.took2(a, then)
	}
	forget := func() {
		if a.Forget != "" {
			t.call("forget", map[string]any{"job": a.Forget}, func(engine.Answer, error) { onward() })
			return
		}
		onward()
	}
	if a.Write == nil {
		forget()
		return
	}
	t.phone.apply(t, a.Write, func(err error) {
		switch {
		case err == nil:
			forget()
		case errors.Is(err, errOutrun):
			w.count("exchanges that another tab outran")
			for _, job := range a.Changed {
				t.call("forget", map[string]any{"job": job}, func(engine.Answer, error) {})
			}
			t.again = true
			then(err)
		default:
			t.restart() // it knows more than is stored
			then(err)
		}
	})
}

func (t *tab) took2(a engine.Answer, then func(error)) {
	t.say(a.Say, false)
	if a.Update {
		t.phone.behind()
	}
	if a.Failed {
		text := "failed"
		if a.Say != nil {
			text = a.Say.HTML
		}
		then(errors.New(text))
		return
	}
	t.round(then)
}

func (t *tab) refresh(then func()) {
	if t.saving {
		then()
		return
	}
	t.show(t.path, then)
}

func (t *tab) show(path string, then func()) {
	t.path = path
	t.call("page", map[string]any{"path": path}, func(a engine.Answer, err error) {
		said := func() {
			if err == nil {
				t.say(a.Say, false)
			}
			then()
		}
		if a.Write == nil {
			said()
			return
		}
		t.phone.apply(t, a.Write, func(wrong error) {
			switch {
			case wrong == nil:
				t.phone.tell(t, a.Changed)
				said()
			case errors.Is(wrong, errOutrun):
				t.call("forget", map[string]any{"job": a.Changed[0]}, func(engine.Answer, error) { t.show(path, then) })
			default:
				t.restart()
				said()
			}
		})
	})
}

// forget is what a tab does when another tells it of news.
func (t *tab) forget(jobs []string) {
	for _, job := range jobs {
		t.call("forget", map[string]any{"job": job}, func(engine.Answer, error) {})
	}
	t.refresh(func() {})
}

// submit is a person's Save.
func (t *tab) submit(path string, form pages.Form) {
	if t.saving {
		return
	}
	t.saving = true
	t.path = path
	t.save(path, form, func(err error) {
		t.saving = false
		if err != nil {
			about := "unsaved"
			if errors.Is(err, errQuota) {
				about = "full"
			}
			t.phone.world.count("saves that failed")
			t.phone.world.note("%s: not saved: %v", t.name, err)
			t.call("say", map[string]any{"about": about}, func(engine.Answer, error) {})
		}
	})
}

func (t *tab) save(path string, form pages.Form, then func(error)) {
	t.taken(path, func(taken []pages.Taken) { t.saveWith(path, form, taken, then) })
}

func (t *tab) saveWith(path string, form pages.Form, taken []pages.Taken, then func(error)) {
	p := t.phone
	damaged := p.damaged
	in := func() map[string]any {
		return map[string]any{"path": path, "form": form, "taken": taken, "now": p.clock()}
	}
	kept := func(made engine.Answer) {
		if made.Problems != nil {
			p.world.count("forms with problems")
			then(nil)
			return
		}
		t.call("kept", map[string]any{"id": made.ID, "job": made.Job}, func(a engine.Answer, err error) {
			if err != nil {
				then(err)
				return
			}
			if made.ID != "" {
				p.saved(made)
			}
			t.show("/", func() { // the person goes back to the list, which is the cheapest to draw
				t.say(a.Say, true)
				if a.Changed != nil {
					p.tell(t, a.Changed)
				}
				t.exchangeNow()
				then(nil)
			})
		})
	}
	var attempt func(left int)
	attempt = func(left int) {
		t.call("submit", in(), func(made engine.Answer, err error) {
			if err != nil {
				then(err)
				return
			}
			if made.Problems != nil {
				kept(made)
				return
			}
			t.fitting(func(done func(error)) { p.apply(t, made.Write, done) }, func(err error) {
				switch {
				case err == nil || p.world.broken == flawSaid:
					kept(made)
				case !errors.Is(err, errOutrun) || left == 1:
					then(err)
				default:
					p.world.count("numbers taken by another tab")
					if left < tries && !t.shared && !damaged {
						p.world.fail("saving: %s was told twice that its number is taken: %v, wanted %v, last used %v, waiting %v",
							t.name, made.Write[0].Key, made.Write[1].Value, p.disk["numbers"], p.disk.keys("pending"))
					}
					t.call("forget", map[string]any{"job": made.Job}, func(engine.Answer, error) { attempt(left - 1) })
				}
			})
		})
	}
	attempt(tries)
}

var (
	waitingText = regexp.MustCompile(`(\d+) not sent yet`)
	photosText  = regexp.MustCompile(`(\d+) photos? not sent yet`)
)

// say shows a line. When it is exact, and the phone never had another tab beside
// this one and nothing is on its way, the line must tell what is on the storage. A
// tab that is closed after it wrote and before it told the others leaves them with
// an older count until they read the storage again.
func (t *tab) say(s *engine.Say, exact bool) {
	if s == nil {
		return
	}
	p := t.phone
	if !exact || t.shared || p.busy > 0 || t.saving && t.looping {
		return
	}
	for _, each := range []struct {
		text  *regexp.Regexp
		store string
	}{{waitingText, "pending"}, {photosText, "sending"}} {
		shown := 0
		if m := each.text.FindStringSubmatch(s.HTML); m != nil {
			shown, _ = strconv.Atoi(m[1]) // digits, by the expression
		}
		if stored := len(p.disk[each.store]); shown != stored {
			p.world.fail("counting: %s says %q but %d wait on its storage: %v", t.name, s.HTML, stored, p.disk.keys(each.store))
		}
	}
	p.world.count("lines held against the storage")
}

// state is the job as this tab shows it, nil when it is not loaded.
func (t *tab) state() *pages.Job {
	if t.running == nil || !t.running.done || t.running.err != nil {
		return nil
	}
	j, ok := t.running.program.engine.Job(job)
	if !ok {
		return nil
	}
	return j
}

func (t *tab) String() string { return fmt.Sprint(t.name) }

package simulate

import (
	"container/heap"
	"fmt"
	"hash/fnv"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"hangtrue/checklist/plan"
)

// Options of a run.
type Options struct {
	Seed   uint64
	Phones int // 3 if 0
	Steps  int // what people do and what breaks; 60 if 0
	// Plan is the document that the job is done by; its mounts all hang and take the
	// first fixing, as [reread] wants it.
	Plan *plan.Plan
	// Folder keeps the server's store in a file of a folder of its own below this
	// one; without it the store is in memory.
	Folder string
	// Skip leaves steps out.
	Skip map[int]bool

	broken flaw // for the tests of this package: what is broken on purpose
}

// A flaw is a fault of a program that the promises must bring to light.
type flaw string

// A Result of a run.
type Result struct {
	Seed   uint64
	Counts map[string]int // what happened, how often
	Broken string         // the promise that was broken, "" if none
	Trace  []string       // everything that happened, one line each
}

// A breach ends a run.
type breach string

// Run plays one seed.
func Run(o Options) (r Result) {
	if o.Phones == 0 {
		o.Phones = 3
	}
	if o.Steps == 0 {
		o.Steps = 60
	}
	w := &world{Options: o, counts: map[string]int{}}
	r = Result{Seed: o.Seed, Counts: w.counts}
	defer func() {
		r.Trace = w.trace
		switch p := recover().(type) {
		case nil:
		case breach:
			r.Broken = string(p)
			w.close()
		default:
			panic(p)
		}
	}()
	w.open()
	w.live()
	w.heal()
	w.judge()
	w.close()
	return r
}

// Shrink leaves out steps of a failing run that it fails without, and gives the
// options of the shortest run it found and that run.
func Shrink(o Options) (Options, Result) {
	best := Run(o)
	if best.Broken == "" {
		return o, best
	}
	what := subject(best.Broken)
	fails := func(c Options) bool {
		r := Run(c)
		if subject(r.Broken) != what {
			return false
		}
		best = r
		return true
	}
	if o.Steps == 0 {
		o.Steps = 60
	}
	for cut := o.Steps / 2; cut > 0; cut /= 2 {
		for c := o; c.Steps > cut; o = c {
			if c.Steps -= cut; !fails(c) {
				break
			}
		}
	}
	for i := range o.Steps {
		c := o
		c.Skip = maps.Clone(o.Skip)
		if c.Skip == nil {
			c.Skip = map[int]bool{}
		}
		if c.Skip[i] = true; fails(c) {
			o = c
		}
	}
	return o, best
}

// subject is the part of a breach that tells which promise it is about.
func subject(broken string) string {
	head, _, _ := strings.Cut(broken, ":")
	return head
}

// A world is everything in a run.
type world struct {
	Options
	now    time.Duration // simulated time since the beginning
	events events
	made   int // events so far, so that those of one moment keep their order
	drawn  map[string]uint64
	trace  []string
	counts map[string]int

	server *house
	phones []*phone
	shot   []picture // that were taken
	first  breach    // that ends the run
	audit  audit
	album  album
	calm   bool // nothing breaks any more, and nobody does anything
	rough  float64
	era    int // how often an old backup came back
}

type event struct {
	at    time.Duration
	order int
	do    func()
}

type events []event

func (e events) Len() int { return len(e) }
func (e events) Less(i, j int) bool {
	return e[i].at < e[j].at || e[i].at == e[j].at && e[i].order < e[j].order
}
func (e events) Swap(i, j int) { e[i], e[j] = e[j], e[i] }
func (e *events) Push(x any)   { *e = append(*e, x.(event)) }
func (e *events) Pop() any {
	last := (*e)[len(*e)-1]
	*e = (*e)[:len(*e)-1]
	return last
}

// after does something later.
func (w *world) after(wait time.Duration, do func()) {
	w.made++
	heap.Push(&w.events, event{w.now + wait, w.made, do})
}

// maxEvents ends a run that goes round in circles.
const maxEvents = 200_000

// run works events off until none is left or, with an end, until then.
func (w *world) run(end time.Duration) {
	for len(w.events) > 0 && (end == 0 || w.events[0].at <= end) {
		e := heap.Pop(&w.events).(event)
		w.now = e.at
		e.do()
		if w.first != "" {
			panic(w.first) // the server takes no fault of one request for the end
		}
		if w.count("events"); w.counts["events"] > maxEvents {
			w.fail("settling: the run does not come to rest")
		}
	}
	if end > 0 {
		w.now = end
	}
}

// chance is the next source of chance of a name. Each name has a sequence of its
// own, so that leaving one thing out leaves the others as they are.
func (w *world) chance(name string) *rand.Rand {
	if w.drawn == nil {
		w.drawn = map[string]uint64{}
	}
	w.drawn[name]++
	return w.chanceAt(name, w.drawn[name])
}

func (w *world) chanceAt(name string, n uint64) *rand.Rand {
	h := fnv.New64a()
	_, _ = h.Write([]byte(name)) // never fails
	return rand.New(rand.NewPCG(w.Seed, h.Sum64()+n*0x9e3779b97f4a7c15))
}

func (w *world) count(what string) { w.counts[what]++ }

func (w *world) note(format string, args ...any) {
	w.trace = append(w.trace, fmt.Sprintf("%9.3f ", w.now.Seconds())+fmt.Sprintf(format, args...))
}

// fail ends the run: what was promised, a colon, and what is the case.
func (w *world) fail(format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	w.note("BROKEN %s", text)
	if w.first == "" {
		w.first = breach(text)
	}
	panic(w.first)
}

// between is a time from a range.
func between(r *rand.Rand, least, most time.Duration) time.Duration {
	return least + time.Duration(r.Int64N(int64(most-least)+1))
}

// beginning is the time in the house when a run begins.
var beginning = time.Date(2030, 1, 31, 9, 0, 0, 0, time.UTC)

const stamp = "2006-01-02T15:04:05.000Z"

// live lets people work and things break.
func (w *world) live() {
	for i := range w.Steps {
		r := w.chanceAt("step", uint64(i))
		w.run(w.now + between(r, 200*time.Millisecond, 15*time.Second))
		if !w.Skip[i] {
			w.step(i, r)
		}
	}
}

// heal ends all trouble and lets everybody meet the server until nothing moves.
func (w *world) heal() {
	if len(w.audit.records) == 0 {
		w.server.restore(false) // the job comes back, or there is nothing to hold anybody to
	}
	w.calm = true
	w.note("everything works again")
	w.server.mend()
	for _, p := range w.phones {
		p.away, p.full, p.quota = false, 0, 0
		if len(p.tabs) == 0 {
			p.open()
		}
	}
	w.run(0)
	w.rounds()
	for _, p := range w.phones {
		if p.former(w.audit.records) && !p.told {
			w.fail("telling: %s goes by former steps and does not know it", p.name)
		}
		p.renew(w.chance("later program " + p.name))
	}
	w.run(0)
	w.rounds()
	if len(w.album.spoilt) > 0 {
		w.shown(w.audit.records)
		w.note("everybody sends all photos again")
		for _, p := range w.phones {
			p.tabs[0].resend()
			w.run(0)
		}
		w.rounds()
	}
}

// rounds lets all phones meet the server, one after another, until nothing moves.
func (w *world) rounds() {
	for round := 1; ; round++ {
		before, pushed := w.sight(), w.counts["pushes answered"]
		for _, p := range w.phones {
			for _, t := range slices.Clone(p.tabs) {
				t.exchangeNow()
				w.run(0)
			}
		}
		if w.sight() == before && w.counts["pushes answered"] == pushed {
			return
		}
		if round > maxRounds {
			w.fail("settling: after %d rounds of exchanges something still moves:\n%s\n%s", round, before, w.sight())
		}
	}
}

// maxRounds is how often all phones meet the server, one after another, until
// nothing moves: once to send everything, once to fetch what later phones sent,
// and once more where an old backup came back.
const maxRounds = 3

// sight is where everybody is.
func (w *world) sight() string {
	var b strings.Builder
	fmt.Fprintf(&b, "server %d and %d photos", len(w.audit.records), len(w.server.disk.whole()))
	for _, p := range w.phones {
		fmt.Fprintf(&b, ", %s %d+%d and %d+%d photos", p.name, len(p.disk["records"]), len(p.disk["pending"]), len(p.disk["photos"]), len(p.disk["sending"]))
		for _, t := range p.tabs {
			fmt.Fprintf(&b, " (%s)", t.failed)
		}
	}
	return b.String()
}

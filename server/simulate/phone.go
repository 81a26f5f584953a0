package simulate

import (
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"slices"
	"time"

	"hangtrue/checklist"
	"hangtrue/pwa/phone/engine"
)

// A phone is a storage and the tabs that share it.
type phone struct {
	world *world
	name  string
	who   string
	role  checklist.Role
	steps *checklist.Template // that its program goes by
	told  bool                // that the server goes by later ones
	apart bool                // an address that is not secure: no locks, and tabs do not tell each other

	disk    storage
	busy    int           // transactions on their way
	free    time.Duration // when the last of them is done
	damaged bool          // a record on it cannot be read, and was not fetched again yet
	full    int           // so many transactions find the storage full
	quota   int           // what photos may take of it, in bytes, if it is not 0
	shots   int           // pictures taken
	away    bool          // no network
	offset  time.Duration // of its clock

	tabs  []*tab
	opens int
	locks map[string]*lock

	heard int            // how often an old backup had come back when it last met the server
	gone  map[string]int // photos that it let go, and how often one had come back then

	vows   []vow           // what it called saved
	apartE map[string]bool // ids of entries that no server of this edition can read
	torn   map[string]bool // ids of entries whose record was damaged on its storage
}

// A vow is an entry that the screen called saved.
type vow struct {
	id, text string
	photos   []string // that it names, by SHA-256
}

type lock struct {
	held  *tab
	queue []func()
}

// source makes bytes out of chance.
type source struct{ *rand.Rand }

func (s source) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = byte(s.Uint32())
	}
	return len(p), nil
}

func (p *phone) random() io.Reader { return source{p.world.chance("random " + p.name)} }

func (p *phone) clock() string {
	return beginning.Add(p.world.now + p.offset).Format(stamp)
}

// open opens another tab, which begins as app.js does.
func (p *phone) open() *tab {
	p.opens++
	t := &tab{phone: p, name: fmt.Sprintf("%s.%d", p.name, p.opens), path: "/", steps: p.steps}
	p.tabs = append(p.tabs, t)
	for _, each := range p.tabs {
		each.shared = each.shared || len(p.tabs) > 1
	}
	p.world.note("%s opens", t.name)
	t.show("/", func() { t.exchangeNow() })
	return t
}

// shut closes a tab in the middle of whatever it does.
func (p *phone) shut(t *tab) {
	t.gone = true
	p.tabs = slices.DeleteFunc(p.tabs, func(o *tab) bool { return o == t })
	if l := p.locks["sync"]; l != nil && l.held == t {
		p.release(l)
	}
}

// behind is told that the server goes by later steps. The browser looks for the server's
// program, if it is in reach, and the person takes it after a while.
func (p *phone) behind() {
	w := p.world
	if w.broken == flawTold {
		return
	}
	if !p.told {
		w.note("%s is told that it goes by former steps", p.name)
		w.count("phones that were told of later steps")
	}
	p.told = true
	if r := w.chance("later program " + p.name); !p.away && w.server.answer != nil && !w.calm {
		w.after(between(r, 0, 2*time.Minute), func() {
			if !w.calm {
				p.renew(r)
			}
		})
	}
}

// renew goes on with the server's program: in a tab where somebody types, a little later.
func (p *phone) renew(r *rand.Rand) {
	w := p.world
	if p.steps == w.server.steps {
		return
	}
	w.count("phones that took a later program")
	w.note("%s takes the later program", p.name)
	p.steps, p.told = w.server.steps, false
	for _, t := range slices.Clone(p.tabs) {
		reload := func() {
			if !t.gone {
				p.shut(t)
				p.open()
			}
		}
		if r.IntN(4) > 0 || w.calm {
			reload()
		} else {
			t.later(between(r, time.Second, 20*time.Second), reload)
		}
	}
}

// alone runs work while no other tab of the phone runs work of this name.
func (p *phone) alone(name string, t *tab, work func(release func())) {
	if p.apart {
		work(func() {})
		return
	}
	l := p.locks[name]
	if l == nil {
		l = &lock{}
		if p.locks == nil {
			p.locks = map[string]*lock{}
		}
		p.locks[name] = l
	}
	begin := func() {
		if t.gone {
			p.release(l)
			return
		}
		l.held = t
		work(func() {
			if !t.gone {
				p.release(l)
			}
		})
	}
	if l.held != nil {
		l.queue = append(l.queue, begin)
		return
	}
	begin()
}

func (p *phone) release(l *lock) {
	l.held = nil
	if len(l.queue) > 0 {
		next := l.queue[0]
		l.queue = l.queue[1:]
		next()
	}
}

// tell tells the other tabs that jobs have changed in the storage.
func (p *phone) tell(from *tab, jobs []string) {
	if p.apart {
		return
	}
	for _, t := range p.tabs {
		if t != from {
			t.later(between(p.world.chance("tell "+p.name), 0, 30*time.Millisecond), func() { t.forget(jobs) })
		}
	}
}

// transact does something with the storage in its turn, and goes on in the tab
// after that. A page that is closed before its turn has asked for nothing; one
// that is closed after it is not told.
func (p *phone) transact(t *tab, do func(storage) error, then func(error)) {
	r := p.world.chance("disk " + p.name)
	wait := between(r, time.Millisecond, 10*time.Millisecond)
	if r.IntN(50) == 0 {
		wait = between(r, 100*time.Millisecond, 3*time.Second)
	}
	p.free = max(p.free, p.world.now+wait)
	p.busy++
	p.world.after(p.free-p.world.now, func() {
		if t.gone && r.IntN(2) == 0 {
			p.busy--
			p.world.count("transactions cut off")
			return
		}
		err := do(p.disk)
		p.world.after(between(r, 0, 2*time.Millisecond), func() {
			p.busy--
			if !t.gone {
				then(err)
			}
		})
	})
}

// apply makes an answer's writes in one transaction.
func (p *phone) apply(t *tab, writes []engine.Write, then func(error)) {
	broken := p.world.broken
	if broken == flawDrop && slices.ContainsFunc(writes, isDelete) {
		// The pending rows go first, in a transaction of their own.
		rest := slices.DeleteFunc(slices.Clone(writes), isDelete)
		first := slices.DeleteFunc(slices.Clone(writes), func(w engine.Write) bool { return !isDelete(w) })
		p.transact(t, func(disk storage) error { return p.write(disk, first) }, func(error) {
			p.transact(t, func(disk storage) error { return p.write(disk, rest) }, then)
		})
		return
	}
	if broken == flawKeep && slices.ContainsFunc(writes, isKeep) {
		first := slices.DeleteFunc(slices.Clone(writes), isKeep)
		rest := slices.DeleteFunc(slices.Clone(writes), func(w engine.Write) bool { return !isKeep(w) })
		p.transact(t, func(disk storage) error { return p.write(disk, first) }, func(err error) {
			if err != nil {
				then(err)
				return
			}
			p.transact(t, func(disk storage) error { return p.write(disk, rest) }, then)
		})
		return
	}
	if broken == flawAgain {
		writes = slices.DeleteFunc(slices.Clone(writes), isAgain)
	}
	p.transact(t, func(disk storage) error { return p.write(disk, writes) }, then)
}

// isKeep tells a write that saves a photo.
func isKeep(w engine.Write) bool { return w.Op == "keep" }

// isAgain tells a write that notes a photo as not sent.
func isAgain(w engine.Write) bool { return w.Op == "owe" }

func isDelete(w engine.Write) bool { return w.Op == "delete" && w.In == "pending" }

func refusedRecord(w engine.Write) bool {
	var r struct{ Accepted bool }
	text, _ := w.Value.(string)
	return w.In == "records" && json.Unmarshal([]byte(text), &r) == nil && !r.Accepted
}

func (p *phone) write(disk storage, writes []engine.Write) error {
	if p.full > 0 && slices.ContainsFunc(writes, func(w engine.Write) bool { return w.Op != "free" }) {
		p.full--
		p.world.count("writes that found the storage full")
		return errQuota
	}
	if p.world.broken == flawNumber {
		writes = slices.DeleteFunc(slices.Clone(writes), func(w engine.Write) bool { return w.Op == "rise" })
		for i := range writes {
			if writes[i].Op == "add" {
				writes[i].Op = "put"
			}
		}
	}
	photos := disk.keys("photos")
	err := disk.apply(writes)
	if err != nil {
		return err
	}
	p.world.count("transactions")
	for _, k := range photos {
		if _, there := disk["photos"][k]; !there {
			p.released(k)
		}
	}
	return nil
}

// saved notes what the screen called saved.
func (p *phone) saved(made engine.Answer) {
	text := made.Write[0].Value.(string)
	v := vow{id: made.ID, text: text}
	for _, w := range made.Write {
		if isKeep(w) {
			v.photos = append(v.photos, keyOf(w.Key).text)
			p.world.count("photos saved")
		}
	}
	p.vows = append(p.vows, v)
	p.world.count("entries saved")
	e, err := checklist.ParseEntry([]byte(text))
	if err != nil {
		p.world.fail("saving: %s saved what is no entry: %v", p.name, err)
	}
	about := checklist.About(e)
	p.world.note("%s saved %d %s %s %s %s", p.name, e.Number, e.Kind, about.Step, about.Mount, e.ID[24:])
	for _, hash := range v.photos {
		p.world.note("%s saved photo %s", p.name, hash[:8])
	}
}

// wipe loses the storage; the phone comes back as a new device.
func (p *phone) wipe() {
	for _, t := range slices.Clone(p.tabs) {
		p.shut(t)
	}
	p.world.count("storages lost")
	p.world.counts["entries lost with a storage"] += len(p.disk["pending"])
	p.world.counts["photos lost with a storage"] += len(p.disk["sending"])
	p.disk, p.vows, p.gone = newStorage(), nil, map[string]int{}
	p.steps, p.told = p.world.server.steps, false
	p.open()
	p.introduce()
}

// introduce says who holds the phone.
func (p *phone) introduce() {
	t := p.tabs[0]
	t.submit("/you", map[string][]string{"who": {p.who}, "role": {string(p.role)}})
}

// former tells whether the server decided any of the records by later steps than the
// phone's.
func (p *phone) former(records []record) bool {
	return slices.ContainsFunc(records, func(r record) bool { return r.Edition > p.steps.Version })
}

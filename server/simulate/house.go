package simulate

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/valyala/fasthttp"

	"hangtrue/checklist"
	"hangtrue/checklist/seal"
	"hangtrue/pwa"
	"hangtrue/pwa/pages"
	"hangtrue/pwa/phone/engine"
	"hangtrue/server"
	"hangtrue/server/bolt"
	"hangtrue/server/memory"
	"hangtrue/server/photos"
	"hangtrue/server/store"
)

// job is the one job of a run.
const job = "01900000-0000-7000-8000-00000000000a"

// A house is the server: its routes and keeper, which a crash takes away, and its
// store, which stays.
type house struct {
	world  *world
	kept   store.Store // what survives a crash
	file   string      // of the store, "" when it is in memory
	edge   *edge
	disk   *disk // of photos
	gate   *gate
	steps  *checklist.Template // that its program goes by
	keeper *server.Keeper
	answer fasthttp.RequestHandler
	offset time.Duration // of its clock
	copied []store.Addition
	shots  map[string][]byte // the photos in the copy
	copies int
}

// An edge stands between the keeper and the store and breaks what passes.
type edge struct {
	store.Store
	due   // of appends: before, after, crash before, crash after
	house *house
	dead  bool // the process is gone: nothing passes any more
}

// due is a fault that comes with a change, after some more.
type due struct {
	fault string // "" where none is to come
	in    int    // the first is 1
}

// next is the fault of the change that comes now, "" where it has none.
func (d *due) next() (fault string) {
	if d.fault == "" {
		return ""
	}
	if d.in--; d.in > 0 {
		return ""
	}
	fault, d.fault = d.fault, ""
	return fault
}

var errDisk = errors.New("the disk does not answer")

// Append passes one addition on, or breaks as told: before it is kept, or after.
func (e *edge) Append(additions ...store.Addition) error {
	if e.dead {
		return errDisk
	}
	w := e.house.world
	fault := e.next()
	if fault != "" {
		w.count("appends that failed " + fault)
		w.note("server: append fails %s", fault)
	}
	switch fault {
	case "before":
		if w.broken == flawEarly {
			return nil
		}
		return errDisk
	case "crash before":
		e.house.crash()
		return errDisk
	}
	err := e.Store.Append(e.bend(additions)...)
	switch fault {
	case "after":
		// The keeper is told that it failed, and the disk has it: as after a sync whose
		// answer was lost.
		return errDisk
	case "crash after":
		e.house.crash()
		return errDisk
	}
	return err
}

// bend is what the flaws of tests do to an addition.
func (e *edge) bend(additions []store.Addition) []store.Addition {
	for i := range additions {
		a := &additions[i]
		switch n := len(a.Records); {
		case e.house.world.broken == flawTorn && n > 1:
			a.Records = a.Records[:n-1]
			a.Line.Head--
		case e.house.world.broken == flawSeal:
			a.Seals = nil
		case e.house.world.broken == flawHold:
			for r := range a.Records {
				if !a.Records[r].Accepted {
					a.Records[r].Accepted, a.Records[r].Reason, a.Records[r].Outcome = true, "", "within"
				}
			}
		case e.house.world.broken == flawEdition:
			for r := range a.Records {
				a.Records[r].Edition = checklist.Loudspeakers.Version
			}
		}
	}
	return additions
}

func (e *edge) Records(job string, after int64, limit, size int) ([]record, error) {
	if e.dead {
		return nil, errDisk
	}
	records, err := e.Store.Records(job, after, limit, size)
	if n := len(records); e.house.world.broken == flawStale && n > 20 {
		records = records[:n-1]
	}
	return records, err
}

// noFiles stands for what a phone loads.
type noFiles struct{}

func (noFiles) Lookup(string) (pwa.File, bool) { return pwa.File{}, false }
func (noFiles) Assets() pages.Assets           { return pages.Assets{Version: "simulated"} }

var sealKey = func() *seal.Key {
	k, _, err := seal.GenerateKey(bytes.NewReader(bytes.Repeat([]byte{7}, 64)))
	if err != nil {
		panic(err)
	}
	return k
}()

func (h *house) now() time.Time { return beginning.Add(h.world.now + h.offset) }

// build makes the store and opens the server.
func (h *house) build() {
	h.kept, h.disk = memory.New(), newDisk()
	if h.world.Folder != "" {
		dir, err := os.MkdirTemp(h.world.Folder, "store")
		if err != nil {
			panic(err)
		}
		h.file = filepath.Join(dir, "0.db")
		h.reopenFile()
	}
}

func (h *house) reopenFile() {
	s, err := bolt.Open(h.file)
	if err != nil {
		h.world.fail("reopening: %v", err)
	}
	h.kept = s
}

// up starts the server's process.
func (h *house) up() {
	h.edge = &edge{Store: h.kept, house: h}
	k, err := server.NewKeeper(h.edge, sealKey, h.now)
	if err != nil {
		h.world.fail("reopening: %v", err)
	}
	k.Steps(h.steps)
	k.SnapshotEvery(1 + int64(h.world.Seed%7))
	h.keeper = k
	h.world.count("server starts")
	h.gate = &gate{disk: h.disk, house: h}
	limits := photos.Limits{Total: 1 << 40, Parts: 1 + int(h.world.Seed%4)}
	h.answer = server.New(server.Options{Keeper: k, Static: noFiles{}, Version: "simulated", Run: strconv.Itoa(h.world.counts["server starts"]), Photos: photos.On(h.gate, limits, h.now)}).Handler()
	h.world.note("server: up")
}

// crash takes the process away at once, by a power cut at times; it is started again
// after a while.
func (h *house) crash() {
	h.edge.dead, h.answer = true, nil
	h.world.count("server crashes")
	h.world.note("server: crash")
	if r := h.world.chance("power"); r.IntN(2) == 0 {
		h.world.count("power cuts")
		h.world.note("server: by a power cut")
		h.disk.cut(r)
		h.world.album.look()
	}
	if h.file != "" {
		h.imageOfDisk()
	}
	if h.world.calm {
		return
	}
	gone := h.edge
	h.world.after(between(h.world.chance("restart"), time.Second, 40*time.Second), func() {
		if h.edge == gone {
			h.up()
		}
	})
}

// imageOfDisk goes on with a copy of the file as a crash would leave it.
func (h *house) imageOfDisk() {
	h.copies++
	next := filepath.Join(filepath.Dir(h.file), fmt.Sprintf("%d.db", h.copies))
	from, err := os.Open(h.file)
	if err != nil {
		panic(err)
	}
	defer from.Close()
	to, err := os.Create(next)
	if err != nil {
		panic(err)
	}
	if _, err = io.Copy(to, from); err == nil {
		err = to.Close()
	}
	if err != nil {
		panic(err)
	}
	old, name := h.kept, h.file
	h.file = next
	h.reopenFile()
	_ = old.Close() // the process that had it open is gone
	_ = os.Remove(name)
}

// mend ends all trouble of the server.
func (h *house) mend() {
	h.offset = 0
	h.edge.fault, h.gate.fault, h.gate.full = "", "", 0
	if h.answer == nil {
		h.up()
	}
}

// do is one request and its answer; status 0 is none.
func (h *house) do(r engine.Request) (status int, body string) {
	if h.answer == nil {
		return 0, ""
	}
	var (
		request fasthttp.Request
		ctx     fasthttp.RequestCtx
	)
	request.Header.SetMethod(r.Method)
	request.SetRequestURI(r.URL)
	request.Header.SetHost("localhost")
	switch {
	case r.Piece != nil:
		request.Header.SetContentType("application/octet-stream")
		request.Header.Set("Upload-Offset", strconv.FormatInt(h.bendPlace(r), 10))
		request.SetBodyString(r.Body)
	case r.Body != "":
		request.Header.SetContentType("application/json")
		request.SetBodyString(r.Body)
	}
	ctx.Init(&request, nil, nil)
	here := h.edge
	h.answer(&ctx)
	h.world.audit.look()
	if here.dead {
		return 0, "" // it was gone before it could answer
	}
	status, body = ctx.Response.StatusCode(), string(ctx.Response.Body())
	h.world.count(fmt.Sprintf("answers %d", status))
	if strings.HasPrefix(r.URL, "/api/") && strings.Contains(r.URL, "/photos/") {
		h.world.album.answered(r, status, body)
		if status == 409 || status == 422 || status == 507 {
			return status, body
		}
	}
	if status == 200 {
		h.world.audit.answered(r, []byte(body))
	} else if status != 404 && status != 500 && status != 503 {
		h.world.fail("answering: %s %s got %d %s", r.Method, r.URL, status, body)
	}
	return status, body
}

// bendPlace is what a flaw of tests makes of the place where a piece begins.
func (h *house) bendPlace(r engine.Request) int64 {
	if h.world.broken == flawPlace {
		if f := h.disk.files[".parts/"+r.URL[len(r.URL)-64:]]; f != nil {
			return int64(len(f.data))
		}
	}
	return r.Piece.From
}

// backUp keeps a copy of the store as it is and, a while later, of the photos: those that
// are still what their names say.
func (h *house) backUp() {
	records := h.world.audit.records
	a := store.Addition{Job: job, Records: records[:len(records):len(records)]}
	var err error
	if a.Seals, err = h.kept.Seals(job); err == nil {
		a.Line, err = h.kept.Line(job)
	}
	if err != nil {
		panic(err)
	}
	h.world.note("server: backing up at %d", len(records))
	era := h.world.era
	h.world.after(between(h.world.chance("backup"), 0, 20*time.Second), func() {
		if h.world.era != era {
			return // it was stopped for another one to come back
		}
		h.copied, h.shots = []store.Addition{a}, map[string][]byte{}
		for hash, data := range h.disk.whole() {
			if hashOf(data) == hash {
				h.shots[hash] = data
			}
		}
		h.world.note("server: backed up at %d, with %d photos", len(records), len(h.shots))
	})
}

// restore puts the copy in the store's place, or one from before the job was opened. Somebody stops the server for it and
// starts it again, which takes longer than a phone waits for an answer: no exchange
// that began before goes on after it.
func (h *house) restore(before bool) {
	if h.copied == nil || h.file != "" {
		return
	}
	w := h.world
	h.edge.dead, h.answer = true, nil
	h.kept, h.disk = memory.New(), newDisk()
	w.album.whole, w.album.spoilt = map[string]bool{}, map[string]bool{}
	w.era++
	w.count("old backups brought back")
	if before {
		w.count("old backups without the job")
		w.note("server: a backup without the job came back")
	} else {
		if err := h.kept.Append(h.copied...); err != nil {
			panic(err)
		}
		for hash, data := range h.shots {
			h.disk.folders[hash[:2]], h.disk.homes[hash[:2]] = true, true
			f := &content{slices.Clone(data), slices.Clone(data), h.now()}
			h.disk.files[hash[:2]+"/"+hash+".jpg"], h.disk.names[hash[:2]+"/"+hash+".jpg"] = f, f
			w.album.whole[hash] = true
		}
		w.note("server: the backup at %d came back, with %d photos", len(h.copied[0].Records), len(h.shots))
	}
	w.audit = audit{world: w}
	w.audit.look()
	gone := &edge{Store: h.kept, house: h, dead: true}
	h.edge = gone
	w.after(between(w.chance("restart"), patience+time.Second, 2*patience), func() {
		if h.edge == gone {
			h.up()
		}
	})
}

func (h *house) close() {
	if h.file != "" {
		_ = h.kept.Close()
		_ = os.RemoveAll(filepath.Dir(h.file))
	}
}

// ask sends a tab's request over the network, which may lose it or its answer,
// hold either up, or bring it twice.
func (p *phone) ask(t *tab, r engine.Request, then func(status int, body string)) {
	w := p.world
	w.count("requests")
	if w.calm {
		t.later(time.Millisecond, func() {
			t.hears(r, w.era)
			then(w.server.do(r))
		})
		return
	}
	c := w.chance("net " + p.name)
	there, back := between(c, 5*time.Millisecond, 300*time.Millisecond), between(c, 5*time.Millisecond, 300*time.Millisecond)
	if c.IntN(12) == 0 {
		there = between(c, time.Second, 30*time.Second)
	}
	if c.IntN(12) == 0 {
		back = between(c, time.Second, 30*time.Second)
	}
	answered := false
	reply := func(status int, body string) {
		if !answered {
			answered = true
			then(status, body)
		}
	}
	t.later(patience, func() { reply(0, "") })
	lost := func() { t.later(there, func() { reply(0, "") }) }
	deliver := func(wait time.Duration, comes bool) {
		w.after(wait, func() { // the server does its part whether the page is there or not
			status, body := w.server.do(r)
			era := w.era
			if comes {
				t.later(back, func() {
					t.hears(r, era)
					reply(status, body)
				})
			}
		})
	}
	if p.away {
		w.count("requests without a network")
		lost()
		return
	}
	switch dice := c.Float64() / w.rough; {
	case dice < 0.05:
		w.count("requests lost")
		lost()
	case dice < 0.10:
		w.count("answers lost")
		deliver(there, false)
		t.later(there+back, func() { reply(0, "") })
	case dice < 0.14:
		w.count("requests that came twice")
		first := c.IntN(2) == 0
		deliver(there, first)
		deliver(there+between(c, 0, 40*time.Second), !first)
	case dice < 0.155:
		w.count("answers of something in between")
		status, body := 502, "<html>bad gateway</html>"
		switch c.IntN(3) {
		case 0:
			status, body = 200, "<html>please log in</html>"
		case 1:
			status, body = 200, "{}"
		}
		t.later(there, func() { reply(status, body) })
	default:
		deliver(there, true)
	}
}

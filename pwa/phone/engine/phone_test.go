package engine_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/httptest"
	"os"
	"slices"
	"strconv"
	"strings"

	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/rehearsal"
	"hangtrue/pwa/internal/stand"
	"hangtrue/pwa/phone/engine"
)

const (
	jobID = "01900000-0000-7000-8000-00000000000a"
	now   = "2030-01-31T10:00:00.000Z"
)

// phone plays the scripts around an engine: a storage of rows, and requests.
type phone struct {
	t      require.TestingT
	engine *engine.Engine
	rows   map[string]string // store + JSON of the key → value
	server http.Handler
	random io.Reader
	outrun int            // how often another tab was first in an exchange
	room   map[string]any // what the browser says about the storage

	// lose is asked before each request: "" lets it through, "request" loses it on
	// its way there, "answer" on its way back.
	lose func() string
	// line is how many bytes a request or an answer may have before it breaks, 0 for any.
	line, broken, requests int

	updated func() // is told when the engine asks for a newer program
}

func newPhone(t require.TestingT, server http.Handler, seed uint64) *phone {
	p := &phone{t: t, rows: map[string]string{}, server: server, lose: func() string { return "" }, updated: func() {}}
	p.random = seeded{rand.New(rand.NewPCG(seed, 1))}
	p.restart()
	return p
}

type seeded struct{ *rand.Rand }

func (s seeded) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = byte(s.Uint32())
	}
	return len(p), nil
}

// photoKeys are the keys of photos that are not sent, and of those that are here.
func (p *phone) photoKeys() map[string]any {
	all := map[string]any{}
	for _, store := range []string{"sending", "photos"} {
		keys := [][]any{}
		for _, name := range p.keys(store) {
			keys = append(keys, key(name, store))
		}
		all[store] = keys
	}
	return all
}

// restart is what closing the page and opening it again does.
func (p *phone) restart() {
	p.engine = engine.New(checklist.Loudspeakers, p.random)
	p.engine.SnapshotEvery(2)
	jobs, in := map[string]string{}, p.waiting()
	for _, name := range p.keys("jobs") {
		var job string
		require.NoError(p.t, json.Unmarshal([]byte(strings.TrimPrefix(name, "jobs")), &job))
		jobs[job] = p.rows[name]
	}
	in["device"], in["jobs"] = p.rows[`meta"device"`], jobs
	a := p.raw("start", in)
	p.apply(a.Write)
}

// waiting has what did not get into a log.
func (p *phone) waiting() map[string]any {
	pending, strays := [][]any{}, []string{}
	for _, name := range p.keys("pending") {
		pending = append(pending, key(name, "pending"))
	}
	for _, name := range p.keys("strays") {
		strays = append(strays, p.rows[name])
	}
	return map[string]any{"pending": pending, "strays": strays, "photos": p.photoKeys(), "room": p.room}
}

func (p *phone) keys(store string) []string {
	var names []string
	for name := range p.rows {
		if strings.HasPrefix(name, store+"[") || strings.HasPrefix(name, store+`"`) {
			names = append(names, name)
		}
	}
	// Keys [job, number] in the order of their numbers, as IndexedDB has them.
	slices.SortFunc(names, func(a, b string) int {
		if len(a) != len(b) {
			return len(a) - len(b)
		}
		return strings.Compare(a, b)
	})
	return names
}

func key(name, store string) []any {
	var k []any
	_ = json.Unmarshal([]byte(strings.TrimPrefix(name, store)), &k)
	return k
}

// apply writes as the storage does: all or nothing. It tells whether another tab
// had changed a row that was to be swapped.
func (p *phone) apply(writes []engine.Write) (outrun bool) {
	for _, w := range writes {
		k, err := json.Marshal(w.Key)
		require.NoError(p.t, err)
		name := w.In + string(k)
		switch w.Op {
		case "put":
			p.rows[name] = w.Value.(string)
		case "swap": // which comes first
			if there := p.rows[name]; there != w.Was && there != w.Value {
				return true
			}
			p.rows[name] = w.Value.(string)
		case "add":
			require.NotContains(p.t, p.rows, name, "a number used twice")
			p.rows[name] = w.Value.(string)
		case "keep":
			k, err := json.Marshal(w.Value)
			require.NoError(p.t, err)
			taken, ok := p.rows["taken"+string(k)]
			require.True(p.t, ok, "a photo is no longer there")
			delete(p.rows, "taken"+string(k))
			for _, store := range []string{"photos", "small", "sending"} {
				p.rows[strings.Replace(name, "photos", store, 1)] = map[string]string{"photos": taken, "small": "small"}[store]
			}
		case "free":
			if k, err := json.Marshal(w.Key); err != nil {
				panic(err)
			} else if _, waits := p.rows["sending"+string(k)]; waits {
				continue
			}
			delete(p.rows, name)
		case "owe":
			if _, there := p.rows[strings.Replace(name, "sending", "photos", 1)]; there {
				p.rows[name] = ""
			}
		case "delete":
			delete(p.rows, name)
		case "clear":
			for _, other := range p.keys(w.In) {
				if key(other, w.In)[0] == w.Key {
					delete(p.rows, other)
				}
			}
		case "rise":
			var was float64
			_ = json.Unmarshal([]byte(p.rows[name]), &was)
			require.Greater(p.t, w.Value.(float64), was)
			p.rows[name] = fmt.Sprint(w.Value)
		default:
			require.Fail(p.t, "no such write", w.Op)
		}
	}
	return false
}

func (p *phone) raw(name string, in any, texts ...string) engine.Answer {
	data, err := json.Marshal(in)
	require.NoError(p.t, err)
	var a engine.Answer
	require.NoError(p.t, json.Unmarshal(p.engine.Call(name, data, texts...), &a))
	return a
}

// call loads what is needed and requires that nothing failed.
func (p *phone) call(name string, in any) engine.Answer {
	for range 5 {
		a := p.raw(name, in)
		require.Empty(p.t, a.Fault)
		if a.Need == "" {
			return a
		}
		p.load(a.Need)
	}
	require.Fail(p.t, "a job is needed again and again")
	return engine.Answer{}
}

func (p *phone) load(job string) {
	texts := []string{p.rows[fmt.Sprintf("snapshots%q", job)]}
	for _, name := range p.keys("records") {
		if key(name, "records")[0] == job {
			texts = append(texts, p.rows[name])
		}
	}
	pending := []any{}
	for _, name := range p.keys("pending") {
		if key(name, "pending")[0] == job {
			pending = append(pending, map[string]any{"key": key(name, "pending"), "text": p.rows[name]})
		}
	}
	number, _ := strconv.Atoi(p.rows[fmt.Sprintf("numbers%q", job)]) // none is 0
	small := []string{}
	for _, name := range p.keys("small") {
		if k := key(name, "small"); k[0] == job {
			small = append(small, k[1].(string))
		}
	}
	a := p.raw("load", map[string]any{"job": job, "pending": pending, "line": p.rows[fmt.Sprintf("jobs%q", job)], "number": number, "small": small}, texts...)
	require.Empty(p.t, a.Fault)
	p.apply(a.Write)
}

// exchange meets the server once, or again where another tab was first, and tells
// whether it went through.
func (p *phone) exchange() (engine.Answer, bool) {
	p.call("begin", p.waiting())
	for range 3000 {
		next := p.call("next", nil)
		if next.Request == nil {
			p.apply(next.Write)
			return next, true
		}
		a := p.call("answer", p.ask(next.Request))
		if a.Update {
			p.updated()
		}
		if p.apply(a.Write) {
			p.outrun++
			for _, job := range a.Changed {
				p.call("forget", map[string]any{"job": job})
			}
			return p.exchange()
		}
		if a.Forget != "" {
			p.call("forget", map[string]any{"job": a.Forget})
		}
		if a.Failed {
			return a, false
		}
	}
	require.Fail(p.t, "the exchange does not end")
	return engine.Answer{}, false
}

func (p *phone) ask(r *engine.Request) map[string]any {
	lost := map[string]any{"status": 0}
	how := p.lose()
	if how == "request" {
		return lost
	}
	require.LessOrEqual(p.t, len(r.Body), 1<<20, "the server takes 1 MiB")
	body, header := r.Body, http.Header{"Content-Type": {"application/json"}}
	if r.Piece != nil {
		k, err := json.Marshal(r.Piece.Key)
		require.NoError(p.t, err)
		picture, ok := p.rows["photos"+string(k)]
		if !ok {
			return map[string]any{"status": 0, "gone": true}
		}
		body = picture[r.Piece.From:r.Piece.To]
		header = http.Header{"Content-Type": {"application/octet-stream"}, "Upload-Offset": {fmt.Sprint(r.Piece.From)}}
		require.LessOrEqual(p.t, len(body), 256<<10, "the server takes 256 KiB")
	}
	p.requests++
	if p.line > 0 && len(body) > p.line {
		p.broken++
		return lost
	}
	w := httptest.NewRecorder()
	request := httptest.NewRequest(r.Method, r.URL, bytes.NewBufferString(body))
	request.Header = header
	p.server.ServeHTTP(w, request)
	if how == "answer" {
		return lost
	}
	if p.line > 0 && w.Body.Len() > p.line {
		p.broken++
		return lost
	}
	return map[string]any{"status": w.Code, "body": w.Body.String()}
}

// be says who holds the phone.
func (p *phone) be(who string, role checklist.Role) {
	a := p.call("submit", map[string]any{"path": "/you", "form": map[string]any{"who": []string{who}, "role": []string{string(role)}}, "now": now})
	require.Empty(p.t, a.Problems)
	p.apply(a.Write)
	p.call("kept", map[string]any{})
}

// submit fills a form and stores what it gives, but does not say so to the engine.
func (p *phone) submit(path string, form map[string][]string) engine.Answer {
	a := p.call("submit", map[string]any{"path": path, "form": form, "now": now})
	require.Empty(p.t, a.Problems)
	p.apply(a.Write)
	return a
}

// save is submit and the word that it is stored.
func (p *phone) save(path string, form map[string][]string) engine.Answer {
	a := p.submit(path, form)
	return p.call("kept", map[string]any{"id": a.ID, "job": a.Job})
}

// dump is the state of the job as this phone has it.
func (p *phone) dump() string {
	p.call("page", map[string]any{"path": isolatePath}) // loads the job
	j, ok := p.engine.Job(jobID)
	require.True(p.t, ok)
	return dump(p.t, j.State)
}

func dump(t require.TestingT, s *checklist.State) string {
	var b strings.Builder
	require.NoError(t, s.Dump(&b))
	return b.String()
}

// stored are the keys of a store, for counting.
func (p *phone) stored(store string) int { return len(p.keys(store)) }

func newSite(t require.TestingT, records int) *rehearsal.Site {
	document, err := os.ReadFile("../../../testdata/plans/example.json")
	require.NoError(t, err)
	s, err := stand.Open(jobID, document)
	require.NoError(t, err)
	require.NoError(t, stand.Work(s, 1, records))
	return s
}

// atWork is a job and a phone that has it, held by somebody.
func atWork(t require.TestingT, records int, role checklist.Role) (*rehearsal.Site, *phone) {
	site := newSite(t, records)
	p := newPhone(t, stand.Serve(nil, site), 1)
	_, ok := p.exchange()
	require.True(t, ok)
	p.be("Somebody", role)
	return site, p
}

const (
	surveyPath  = "/jobs/" + jobID + "/steps/survey"
	isolatePath = "/jobs/" + jobID + "/steps/isolate"
)

// isolated is a form that may be sent at any time after the plan is settled.
func isolated(how string) map[string][]string {
	return map[string][]string{"act": {"record"}, "how": {how}}
}

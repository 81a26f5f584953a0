package server_test

import (
	"bytes"
	"cmp"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/rehearsal"
	"hangtrue/checklist/seal"
	"hangtrue/pwa"
	"hangtrue/pwa/pages"
	"hangtrue/server"
	"hangtrue/server/photos"
	"hangtrue/server/store"
	"hangtrue/testdata/demo"
)

const (
	jobA   = "018f3c5e-7a10-7000-8000-0000000000a1"
	jobB   = "018f3c5e-7a10-7000-8000-0000000000b2"
	phone1 = "018f3c5e-7a10-7000-8000-00000000d001"
	phone2 = "018f3c5e-7a10-7000-8000-00000000d002"
)

func TestMain(m *testing.M) {
	slog.SetDefault(slog.New(slog.DiscardHandler))
	os.Exit(m.Run())
}

// clock is the server's clock in tests: each look is a second later.
func clock() func() time.Time {
	var mu sync.Mutex
	now := time.Date(2030, 1, 31, 9, 15, 0, 0, time.UTC)
	return func() time.Time {
		mu.Lock()
		defer mu.Unlock()
		now = now.Add(time.Second)
		return now
	}
}

func key(t testing.TB) *seal.Key {
	k, _, err := seal.GenerateKey(bytes.NewReader(bytes.Repeat([]byte{7}, 64)))
	require.NoError(t, err)
	return k
}

func keeper(t testing.TB, s store.Store) *server.Keeper {
	k, err := server.NewKeeper(s, key(t), clock())
	require.NoError(t, err)
	return k
}

// files stands for what a phone loads.
type files map[string]pwa.File

func (f files) Lookup(path string) (pwa.File, bool) { file, ok := f[path]; return file, ok }

func (f files) Assets() pages.Assets {
	return pages.Assets{Style: "/assets/style.0123.css", Script: "/assets/app.0123.js", Version: "test"}
}

var someFiles = files{
	"/assets/style.0123.css": {Path: "/assets/style.0123.css", Type: "text/css; charset=utf-8", Hash: "aa", Immutable: true,
		Content: []byte("plain"), Encoded: map[string][]byte{"br": []byte("as br"), "gzip": []byte("as gzip")}},
	"/sw.js": {Path: "/sw.js", Type: "text/javascript; charset=utf-8", Hash: "bb", Content: []byte("worker")},
}

// a site is a server on a port of its own.
type site struct {
	t      testing.TB
	url    string
	app    *fiber.App
	keeper *server.Keeper
}

func serve(t testing.TB, s store.Store) *site {
	k := keeper(t, s)
	return listen(t, server.Options{Keeper: k, Static: someFiles, Version: "test", Photos: photos.Open(t.TempDir(), photos.Usual, time.Now)})
}

func listen(t testing.TB, o server.Options) *site {
	o.Run = cmp.Or(o.Run, "a run")
	app := server.New(o)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	done := make(chan error, 1)
	go func() { done <- app.Listener(l) }()
	t.Cleanup(func() {
		client.CloseIdleConnections()
		assert.NoError(t, app.ShutdownWithTimeout(5*time.Second))
		assert.NoError(t, <-done)
	})
	return &site{t, "http://" + l.Addr().String(), app, o.Keeper}
}

// client asks for no coding by itself and unpacks none.
var client = &http.Transport{DisableCompression: true, MaxIdleConnsPerHost: 64}

// A response, read whole.
type response struct {
	*http.Response
	body string
}

func (s *site) do(method, path, body string, headers ...string) response {
	req, err := http.NewRequest(method, s.url+path, strings.NewReader(body))
	require.NoError(s.t, err)
	if method == http.MethodPost {
		req.Header.Set("Content-Type", "application/json")
	}
	for i := 0; i < len(headers); i += 2 {
		if headers[i] == "Host" {
			req.Host = headers[i+1]
			continue
		}
		req.Header.Set(headers[i], headers[i+1])
	}
	res, err := client.RoundTrip(req)
	require.NoError(s.t, err)
	defer res.Body.Close()
	if res.Header.Get("Content-Type") == "text/event-stream" {
		return response{res, ""} // it has no end to wait for
	}
	data, err := io.ReadAll(res.Body)
	require.NoError(s.t, err)
	return response{res, string(data)}
}

func (s *site) get(path string, headers ...string) response {
	return s.do(http.MethodGet, path, "", headers...)
}

// problem checks that a response is a problem document and gives its detail.
func (r response) problem(t testing.TB, status int) string {
	require.Equal(t, status, r.StatusCode, r.body)
	assert.Equal(t, "application/problem+json; charset=utf-8", r.Header.Get("Content-Type"))
	assert.Equal(t, "no-store", r.Header.Get("Cache-Control"))
	var p struct {
		Type, Title, Detail string
		Status              int
	}
	require.NoError(t, json.Unmarshal([]byte(r.body), &p))
	assert.Equal(t, "about:blank", p.Type)
	assert.Equal(t, http.StatusText(status), p.Title)
	assert.Equal(t, status, p.Status)
	assert.NotEmpty(t, p.Detail)
	assert.NotRegexp(t, `\.go|json:|Go struct|\bnil\b`, p.Detail, "words of the program's inside")
	return p.Detail
}

// answers of a push.
type answers struct {
	Head    int64 `json:"head"`
	Answers []struct {
		ID       string            `json:"id"`
		Record   *checklist.Record `json:"record"`
		Expected int64             `json:"expected"`
		Stray    string            `json:"stray"`
		Missing  bool              `json:"missing"`
	} `json:"answers"`
}

func pushBody(entries ...string) string {
	data, err := json.Marshal(map[string]any{"entries": entries})
	if err != nil {
		panic(err)
	}
	return string(data)
}

func (s *site) push(job string, entries ...checklist.Entry) answers {
	texts := make([]string, len(entries))
	for i, e := range entries {
		texts[i] = string(e.Bytes())
	}
	return s.pushTexts(job, texts...)
}

func (s *site) pushTexts(job string, entries ...string) answers {
	a := s.do(http.MethodPost, "/api/jobs/"+job+"/entries", pushBody(entries...)).answers(s.t)
	require.Len(s.t, a.Answers, len(entries))
	return a
}

func (r response) answers(t testing.TB) answers {
	require.Equal(t, 200, r.StatusCode, r.body)
	var a answers
	require.NoError(t, json.Unmarshal([]byte(r.body), &a))
	return a
}

// pull gets all records of a job, page by page.
func (s *site) pull(job string) (records []checklist.Record, seals []string) {
	for {
		r := s.get(fmt.Sprintf("/api/jobs/%s/records?after=%d", job, len(records)))
		require.Equal(s.t, 200, r.StatusCode, r.body)
		var page struct {
			Head    int64
			Records []checklist.Record
			Seals   []string
		}
		require.NoError(s.t, json.Unmarshal([]byte(r.body), &page))
		records = append(records, page.Records...)
		if int64(len(records)) == page.Head {
			for i, r := range records {
				require.EqualValues(s.t, i+1, r.Position)
			}
			return records, page.Seals
		}
		require.NotEmpty(s.t, page.Records)
	}
}

// a device makes entries.
type device struct {
	t       testing.TB
	id, job string
	who     string
	role    checklist.Role
	number  int64
}

func lead(t testing.TB, job string) *device {
	return &device{t: t, id: phone1, job: job, who: "lead", role: checklist.Lead}
}

func installer(t testing.TB, job string) *device {
	return &device{t: t, id: phone2, job: job, who: "installer 1", role: checklist.Installer}
}

func (d *device) make(kind checklist.Kind, body any) checklist.Entry {
	return d.makeAt("2030-01-31T09:15:00.000Z", kind, body)
}

func (d *device) makeAt(clock string, kind checklist.Kind, body any) checklist.Entry {
	d.number++
	e, err := checklist.NewEntry(checklist.Entry{
		ID: fmt.Sprintf("018f3c5e-%s-7000-9000-%012d", d.id[len(d.id)-4:], d.number), Job: d.job, Device: d.id, Number: d.number,
		Who: d.who, Role: d.role, Clock: clock, Kind: kind,
	}, body)
	require.NoError(d.t, err)
	return e
}

func (d *device) open(title string) checklist.Entry {
	return d.make(checklist.JobOpened, checklist.Opening{Title: title})
}

func (d *device) remark(text string) checklist.Entry {
	return d.make(checklist.RemarkWritten, checklist.Remark{Text: text})
}

func (d *device) settle() checklist.Entry {
	return d.make(checklist.PlanSettled, checklist.NewSettlement(1, "First plan.", demo.Plan))
}

// finished is a store with the demo job done but for the sign-off, and the device
// that did it.
func finished(t testing.TB, s store.Store) (*device, *checklist.State) {
	p, err := plan.Decode(demo.Plan)
	require.NoError(t, err)
	r := rehearsal.NewSite(jobA, phone1)
	require.NoError(t, r.Open(p))
	require.NoError(t, r.Finish())
	last := r.Records[len(r.Records)-1]
	require.NoError(t, s.Append(store.Addition{Job: jobA, Records: r.Records,
		Line: store.Line{ID: jobA, Title: r.State.Title, Head: last.Position, Received: last.Received}}))
	d := lead(t, jobA)
	d.number = r.State.LastNumber(phone1)
	return d, r.State
}

package server_test

import (
	"bufio"
	"context"
	"net"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/valyala/fasthttp"

	"hangtrue/checklist"
	"hangtrue/server"
	"hangtrue/server/memory"
)

// a stream of news as a device hears it: the data of its events, and their end.
type stream struct {
	t      *testing.T
	events chan string
	id     string // of the last event, once events is closed
}

// patience is longer than anything here takes on a busy machine.
const patience = 20 * time.Second

func (s *site) listen(headers ...string) *stream {
	ctx, cancel := context.WithCancel(s.t.Context())
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, s.url+"/api/news", nil)
	require.NoError(s.t, err)
	for i := 0; i < len(headers); i += 2 {
		req.Header.Set(headers[i], headers[i+1])
	}
	res, err := client.RoundTrip(req)
	require.NoError(s.t, err)
	require.Equal(s.t, 200, res.StatusCode)
	assert.Equal(s.t, "text/event-stream", res.Header.Get("Content-Type"))
	assert.Equal(s.t, "no-store", res.Header.Get("Cache-Control"))
	l := &stream{t: s.t.(*testing.T), events: make(chan string, 100)}
	go func() {
		defer close(l.events)
		for lines := bufio.NewScanner(res.Body); lines.Scan(); {
			if data, ok := strings.CutPrefix(lines.Text(), "data: "); ok {
				l.events <- data
			}
			if id, ok := strings.CutPrefix(lines.Text(), "id: "); ok {
				l.id = id
			}
		}
	}()
	s.t.Cleanup(func() { cancel(); res.Body.Close() })
	return l
}

// next is the next event, "" when the stream has ended.
func (l *stream) next() string {
	select {
	case event := <-l.events:
		return event
	case <-time.After(patience):
		l.t.Fatal("no news")
		return ""
	}
}

// TestNews_TwoDevices: what one device records, another hears of within a second,
// and only of jobs that it may read.
func TestNews_TwoDevices(t *testing.T) {
	g := closed(t, true)
	installers, readers := g.pair(phone2, checklist.Installer), g.visit(jobB)
	revoked := g.pair(phone3, checklist.Viewer)
	other, reader, gone := g.listen("Cookie", installers), g.listen("Cookie", readers), g.listen("Cookie", revoked)
	for _, l := range []*stream{other, reader, gone} {
		assert.Equal(t, "{}", l.next(), "who listens for the first time is told to look")
	}
	leads, d := g.pair(phone1, checklist.Lead), lead(t, jobA)
	require.Equal(t, 200, g.do("POST", "/api/revoke", `{"id":"`+phone3+`"}`, "Cookie", leads).StatusCode)
	assert.Equal(t, "", gone.next(), "the stream of a device that is revoked ends, before there is any news")
	began := time.Now()
	a := g.do("POST", "/api/jobs/"+jobA+"/entries", pushBody(string(d.remark("The hall light stays on").Bytes())), "Cookie", leads).answers(t)
	require.NotNil(t, a.Answers[0].Record)
	assert.Equal(t, `{"job":"`+jobA+`","head":2}`, other.next())
	took := time.Since(began)
	t.Logf("another device heard of an entry %v after it was sent", took)
	assert.Less(t, took, time.Second)

	d = lead(t, jobB)
	g.do("POST", "/api/jobs/"+jobB+"/entries", pushBody(string(d.remark("Two spare brackets").Bytes())), "Cookie", leads).answers(t)
	assert.Equal(t, `{"job":"`+jobB+`","head":2}`, other.next())
	assert.Equal(t, `{"job":"`+jobB+`","head":2}`, reader.next(), "and nothing of the job that its link is not for")

	again := g.listen("Cookie", installers)
	assert.Equal(t, "", other.next(), "a device has one stream")
	assert.Equal(t, "{}", again.next())
	missedNothing := g.listen("Cookie", installers, "Last-Event-ID", other.id)
	d = lead(t, jobA)
	d.number = 1
	g.do("POST", "/api/jobs/"+jobA+"/entries", pushBody(string(d.remark("And off at night").Bytes())), "Cookie", leads).answers(t)
	assert.Equal(t, `{"job":"`+jobA+`","head":3}`, missedNothing.next(), "no word of what it knew")
}

// TestNews_Shutdown: a stream does not hold up the end of the server.
func TestNews_Shutdown(t *testing.T) {
	s := serve(t, memory.New())
	l := s.listen()
	l.next()
	began := time.Now()
	require.NoError(t, s.app.ShutdownWithTimeout(patience))
	assert.Equal(t, "", l.next())
	assert.Less(t, time.Since(began), 5*time.Second)
}

// TestNews_Full: one listener too many gets a plain answer and hurts nobody.
func TestNews_Full(t *testing.T) {
	handler := server.New(server.Options{Keeper: keeper(t, memory.New()), Static: someFiles, Version: "test"}).Handler()
	for i := 0; ; i++ {
		require.Less(t, i, 5000, "there is a bound")
		var c fasthttp.RequestCtx
		var req fasthttp.Request
		req.SetRequestURI("/api/news")
		req.Header.SetHost("127.0.0.1")
		c.Init(&req, &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 4000}, nil)
		handler(&c)
		if c.Response.StatusCode() == 200 {
			defer func() { _ = c.Response.CloseBodyStream() }()
			continue
		}
		assert.GreaterOrEqual(t, i, 1000)
		assert.Equal(t, 503, c.Response.StatusCode())
		assert.Equal(t, "application/problem+json; charset=utf-8", string(c.Response.Header.ContentType()))
		assert.Equal(t, "30", string(c.Response.Header.Peek("Retry-After")))
		assert.Contains(t, string(c.Response.Body()), "listen for news")
		return
	}
}

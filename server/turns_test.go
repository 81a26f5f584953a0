package server_test

import (
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
)

// TestRecord_OneAtATime: a device that has a record on its way gets no second one until
// it has arrived, whether it is read or not; others do, and after it the device as well.
func TestRecord_OneAtATime(t *testing.T) {
	g := closed(t, true)
	reader, viewer := g.visit(jobA), g.pair(phone3, checklist.Viewer)
	handler := server.New(server.Options{Keeper: g.keeper, Static: someFiles, Version: "test", Book: g.book, Locked: true}).Handler()
	ask := func(method, cookie string) *fasthttp.RequestCtx {
		var req fasthttp.Request
		req.Header.SetMethod(method)
		req.SetRequestURI("/jobs/" + jobA + "/record.json")
		req.Header.SetHost("localhost")
		req.Header.Set("Cookie", cookie)
		var c fasthttp.RequestCtx
		c.Init(&req, &net.TCPAddr{IP: net.IPv4(127, 0, 0, 1), Port: 4000}, nil)
		handler(&c)
		return &c
	}
	first := ask("GET", reader) // whose answer nobody has taken yet
	require.Equal(t, 200, first.Response.StatusCode())
	second := ask("GET", reader)
	assert.Equal(t, 429, second.Response.StatusCode())
	assert.Equal(t, "5", string(second.Response.Header.Peek("Retry-After")))
	assert.Equal(t, 429, ask("HEAD", reader).Response.StatusCode())
	other := ask("GET", viewer)
	assert.Equal(t, 200, other.Response.StatusCode(), "another device waits for nobody")
	require.NoError(t, other.Response.CloseBodyStream())
	require.NoError(t, first.Response.CloseBodyStream()) // sent, or its connection gone
	last := ask("GET", reader)
	assert.Equal(t, 200, last.Response.StatusCode())
	require.NoError(t, last.Response.CloseBodyStream())

	// Over real connections: each answer ends its turn, a HEAD's and an error's too.
	for range 3 {
		for _, method := range []string{"GET", "HEAD"} {
			r := g.do(method, "/jobs/"+jobA+"/record.json", "", "Cookie", reader)
			assert.Equal(t, 200, r.StatusCode)
			assert.Equal(t, method == "GET", strings.Contains(r.body, "hangtrue-record"))
		}
		g.get("/jobs/018f3c5e-7a10-7000-8000-0000000000c3/record.json", "Cookie", viewer).problem(t, 404)
	}
	conn, err := net.Dial("tcp", strings.TrimPrefix(g.url, "http://"))
	require.NoError(t, err)
	_, err = conn.Write([]byte("GET /jobs/" + jobA + "/record.json HTTP/1.1\r\nHost: localhost\r\nCookie: " + reader + "\r\n\r\n"))
	require.NoError(t, err)
	require.NoError(t, conn.Close())
	assert.Eventually(t, func() bool {
		return g.get("/jobs/"+jobA+"/record.json", "Cookie", reader).StatusCode == http.StatusOK
	}, patience, time.Millisecond)
}

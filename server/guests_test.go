package server_test

import (
	"bytes"
	"crypto/tls"
	"encoding/json"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"github.com/valyala/fasthttp"

	"hangtrue/checklist"
	"hangtrue/server"
	"hangtrue/server/authority"
	"hangtrue/server/memory"
	"hangtrue/server/pairing"
	"hangtrue/server/photos"
)

var opened = time.Date(2030, 1, 31, 9, 15, 0, 0, time.UTC)

func book(t testing.TB) *pairing.Book {
	b, err := pairing.Open(t.TempDir(), func() time.Time { return opened })
	require.NoError(t, err)
	return b
}

// a gate is a server that asks everybody, this computer too, with two jobs in it.
type gate struct {
	*site
	book    *pairing.Book
	photos  *photos.Store
	secrets []string // every code, link and token that was ever handed out
}

func closed(t testing.TB, locked bool) *gate {
	b := book(t)
	k := keeper(t, memory.New())
	kept := photos.Open(t.TempDir(), photos.Usual, time.Now)
	g := &gate{site: listen(t, server.Options{Keeper: k, Static: someFiles, Version: "test", Book: b, Locked: locked, Photos: kept}), book: b, photos: kept}
	for i, job := range []string{jobA, jobB} {
		d := lead(t, job)
		d.id = fmt.Sprintf("018f3c5e-7a10-7000-8000-00000000dd%02d", i)
		_, a, err := k.Push(job, [][]byte{d.open(fmt.Sprint("Lounge ", i)).Bytes()})
		require.NoError(t, err)
		require.NotNil(t, a[0].Record)
	}
	return g
}

// settle gives both jobs the demo's plan.
func (g *gate) settle() {
	for i, job := range []string{jobA, jobB} {
		d := lead(g.t, job)
		d.id, d.number = fmt.Sprintf("018f3c5e-7a10-7000-8000-00000000dd%02d", i), 1
		_, a, err := g.keeper.Push(job, [][]byte{d.settle().Bytes()})
		require.NoError(g.t, err)
		require.True(g.t, a[0].Record != nil && a[0].Record.Accepted, "%+v", a)
	}
}

func (g *gate) keep(secret string) string {
	g.secrets = append(g.secrets, secret)
	return secret
}

// code opens pairing as the owner does.
func (g *gate) code(role checklist.Role) pairing.Code {
	c, err := g.book.OpenCode(role)
	require.NoError(g.t, err)
	g.keep(c.Long)
	g.keep(c.Typed)
	return c
}

// token is the value of the one cookie that an answer sets.
func (g *gate) token(r response) string {
	cookies := r.Cookies()
	require.Len(g.t, cookies, 1, r.body)
	return g.keep(cookies[0].Value)
}

// pair pairs a device over HTTP and gives its cookie header.
func (g *gate) pair(id string, role checklist.Role) string {
	r := g.do("POST", "/api/pair", pairBody(g.code(role).Long, id, string(role)+" 1"))
	require.Equal(g.t, 200, r.StatusCode, r.body)
	return "hangtrue=" + g.token(r)
}

func pairBody(code, device, who string) string {
	data, err := json.Marshal(map[string]string{"code": code, "device": device, "who": who})
	if err != nil {
		panic(err)
	}
	return string(data)
}

// visit opens a link to a job and gives its cookie header.
func (g *gate) visit(job string) string {
	link, _, err := g.book.NewLink(job)
	require.NoError(g.t, err)
	r := g.do("POST", "/api/view", `{"link":"`+g.keep(link)+`"}`)
	require.Equal(g.t, 200, r.StatusCode, r.body)
	return "hangtrue=" + g.token(r)
}

const (
	phone3 = "018f3c5e-7a10-7000-8000-00000000d003"
	phone4 = "018f3c5e-7a10-7000-8000-00000000d004"
)

// TestRoutes_Roles walks every route of the app as everybody there is. A route that
// the table does not list fails the test.
func TestRoutes_Roles(t *testing.T) {
	type outcome struct{ lead, installer, viewer, own, other, nobody, revoked int }
	// own and other: the reader by a link to job A, asking about job A and about job B.
	table := map[string]outcome{
		"GET /healthz":                       {200, 200, 200, 200, 200, 200, 200},
		"GET /api/version":                   {200, 200, 200, 200, 200, 200, 200},
		"GET /api/openapi.json":              {200, 200, 200, 200, 200, 200, 200},
		"POST /api/pair":                     {400, 400, 400, 400, 400, 400, 400}, // nobody is refused before the code is read
		"POST /api/view":                     {403, 403, 403, 403, 403, 403, 403},
		"POST /api/unpair":                   {400, 400, 400, 400, 400, 401, 401}, // an empty wish: 400 is past the table
		"GET /api/jobs":                      {200, 200, 200, 200, 200, 401, 401},
		"GET /api/news":                      {200, 200, 200, 200, 200, 401, 401},
		"GET /api/jobs/:job/records":         {200, 200, 200, 200, 404, 401, 401},
		"GET /jobs/:job/record.json":         {200, 200, 200, 200, 404, 401, 401},
		"GET /jobs/:job/paper/:file":         {200, 200, 200, 200, 404, 401, 401},
		"GET /api/jobs/:job/plan":            {200, 200, 200, 200, 404, 401, 401},
		"GET /api/jobs/:job/mounts.csv":      {200, 200, 200, 200, 404, 401, 401},
		"GET /api/jobs/:job/measured.csv":    {200, 200, 200, 200, 404, 401, 401},
		"GET /api/jobs/:job/measured.json":   {200, 200, 200, 200, 404, 401, 401},
		"POST /api/jobs/:job/entries":        {200, 200, 403, 403, 403, 401, 401},
		"GET /jobs/:job/photos/:photo.jpg":   {200, 200, 200, 200, 404, 401, 401},
		"GET /api/jobs/:job/photos":          {200, 200, 200, 200, 404, 401, 401},
		"GET /api/jobs/:job/photos/:photo":   {200, 200, 403, 403, 403, 401, 401},
		"PATCH /api/jobs/:job/photos/:photo": {200, 200, 403, 403, 403, 401, 401},
		"GET /* (page of a photo)":           {200, 200, 200, 200, 404, 401, 401},
		"GET /api/strays":                    {200, 403, 403, 403, 403, 401, 401},
		"GET /api/devices":                   {200, 403, 403, 403, 403, 401, 401},
		"POST /api/pairing":                  {400, 403, 403, 403, 403, 401, 401},
		"POST /api/links":                    {404, 403, 403, 403, 403, 401, 401},
		"POST /api/revoke":                   {404, 403, 403, 403, 403, 401, 401},
		"GET /api/*":                         {404, 404, 404, 404, 404, 404, 404},
		"GET /*":                             {200, 200, 200, 200, 200, 401, 401}, // the list of jobs
		"GET /* (page of a job)":             {200, 200, 200, 200, 404, 401, 401},
		"GET /* (its record)":                {200, 200, 200, 200, 404, 401, 401},
		"GET /* (devices)":                   {200, 403, 403, 403, 403, 401, 401},
		"GET /* (pairing)":                   {200, 200, 200, 200, 200, 200, 200},
		"GET /* (link)":                      {200, 200, 200, 200, 200, 200, 200},
		"GET /* (unpairing)":                 {200, 200, 200, 200, 200, 200, 200},
		"GET /* (the phone's holder)":        {200, 200, 200, 200, 200, 200, 200},
		"GET /* (shell)":                     {200, 200, 200, 200, 200, 200, 200},
		"GET /* (service worker)":            {200, 200, 200, 200, 200, 200, 200},
		"GET /* (style)":                     {200, 200, 200, 200, 200, 200, 200},
		"GET /* (a file that is none)":       {404, 404, 404, 404, 404, 404, 404},
		"GET /* (a page that is none)":       {404, 404, 404, 404, 404, 401, 401},
	}
	paths := map[string]string{
		"GET /jobs/:job/paper/:file": "/jobs/:job/paper/cables-a4.pdf", "GET /* (page of a photo)": "/jobs/:job/photos/:photo", "GET /api/*": "/api/none", "GET /*": "/", "GET /* (page of a job)": "/jobs/:job", "GET /* (its record)": "/jobs/:job/record",
		"GET /* (devices)": "/devices", "GET /* (pairing)": "/pair", "GET /* (link)": "/view", "GET /* (unpairing)": "/unpair",
		"GET /* (the phone's holder)": "/you", "GET /* (shell)": "/shell", "GET /* (service worker)": "/sw.js",
		"GET /* (style)": "/assets/style.0123.css", "GET /* (a file that is none)": "/assets/none.js", "GET /* (a page that is none)": "/none",
	}
	bodies := map[string]string{"POST /api/jobs/:job/entries": `{"entries":[]}`}

	g := closed(t, true)
	leads, installers, viewers := g.pair(phone1, checklist.Lead), g.pair(phone2, checklist.Installer), g.pair(phone3, checklist.Viewer)
	reader := g.visit(jobA)
	revoked := g.pair(phone4, checklist.Lead)
	require.NoError(t, g.book.Revoke(phone4))
	g.settle()
	picture, photo := shot(t, 60)
	for i, job := range []string{jobA, jobB} { // both name it
		d := lead(t, job)
		d.id, d.number = fmt.Sprintf("018f3c5e-7a10-7000-8000-00000000dd%02d", i), 2
		_, a, err := g.keeper.Push(job, [][]byte{d.make(checklist.RemarkWritten, checklist.Remark{Photos: []checklist.Photo{photo}}).Bytes()})
		require.NoError(t, err)
		require.True(t, a[0].Record.Accepted, a[0].Record.Reason)
	}
	_, whole, err := g.photos.Add(photo, 0, picture)
	require.NoError(t, err)
	require.True(t, whole)

	for _, r := range g.app.GetRoutes(true) {
		if r.Method != fiber.MethodHead { // HEAD is GET's own handler
			assert.Contains(t, table, r.Method+" "+r.Path, "a route that nobody has said who may use")
		}
	}
	for name, want := range table {
		method, path, _ := strings.Cut(name, " ")
		if plain, ok := paths[name]; ok {
			path = plain
		}
		body := bodies[name]
		if body == "" && method == "POST" {
			body = "{}"
		}
		path = strings.ReplaceAll(path, ":photo", photo.SHA256)
		for _, row := range []struct {
			who, cookie, job string
			want             int
		}{
			{"lead", leads, jobA, want.lead}, {"installer", installers, jobA, want.installer}, {"viewer", viewers, jobA, want.viewer},
			{"viewer, other job", viewers, jobB, want.viewer},
			{"reader by link", reader, jobA, want.own}, {"reader by link, other job", reader, jobB, want.other},
			{"nobody", "", jobA, want.nobody}, {"revoked", revoked, jobA, want.revoked}, {"nonsense", "hangtrue=nonsense", jobA, want.nobody},
			{"the cookie of TLS on plain HTTP", "__Host-" + leads, jobA, want.nobody},
		} {
			headers := []string{"Cookie", row.cookie}
			if method == "PATCH" {
				headers = append(headers, "Content-Type", "application/octet-stream", "Upload-Offset", "0")
			}
			r := g.do(method, strings.ReplaceAll(path, ":job", row.job), body, headers...)
			assert.Equal(t, row.want, r.StatusCode, "%s as %s: %.200s", name, row.who, r.body)
			protected(t, r, name+" as "+row.who)
			if row.want == 401 || row.want == 403 {
				assert.NotContains(t, r.body, "Lounge", "%s as %s", name, row.who)
			}
			if method == "GET" {
				head := g.do("HEAD", strings.ReplaceAll(path, ":job", row.job), "", "Cookie", row.cookie)
				assert.Equal(t, row.want, head.StatusCode, "HEAD of %s as %s", name, row.who)
			}
		}
	}
	for _, path := range []string{"/", "/api/jobs"} {
		r := g.get(path, "Cookie", reader)
		assert.Contains(t, r.body, "Lounge 0")
		assert.NotContains(t, r.body, "Lounge 1", "a reader by link sees its job alone")
		assert.Contains(t, g.get(path, "Cookie", viewers).body, "Lounge 1")
	}
}

// protected holds an answer to what every answer has, whoever asked for what.
func protected(t *testing.T, r response, at string) {
	assert.Contains(t, []string{server.Policy, server.PhotoPolicy}, r.Header.Get("Content-Security-Policy"), at)
	assert.Equal(t, "nosniff", r.Header.Get("X-Content-Type-Options"), at)
	assert.Equal(t, "no-referrer", r.Header.Get("Referrer-Policy"), at)
	assert.Equal(t, "same-origin", r.Header.Get("Cross-Origin-Resource-Policy"), at)
	for _, header := range []string{"Access-Control-Allow-Origin", "Access-Control-Allow-Credentials", "Server", "X-Powered-By"} {
		assert.Empty(t, r.Header.Get(header), at)
	}
	kind := r.Header.Get("Content-Type")
	if r.StatusCode != 304 {
		assert.NotEmpty(t, kind, at)
	}
	if strings.HasPrefix(kind, "text/") && kind != "text/event-stream" || strings.Contains(kind, "json") || strings.Contains(kind, "svg") {
		assert.Contains(t, kind, "charset=utf-8", at)
	}
	switch cache := r.Header.Get("Cache-Control"); cache {
	case "no-store", "private, no-cache": // for who asked, if for anybody
	default: // what is the same for everybody
		assert.Regexp(t, `sw\.js|style\.0123|openapi\.json`, r.Request.URL.Path, "%s: %s", at, cache)
	}
}

// TestOwner: over this computer's own loopback and without a token, somebody is the
// owner; not so where it is locked, where the request was passed on, or from elsewhere.
func TestOwner(t *testing.T) {
	g := closed(t, false)
	assert.Equal(t, 200, g.get("/api/strays").StatusCode)
	assert.Contains(t, g.get("/devices").body, "Pair another device")
	for _, header := range []string{"Forwarded", "Via", "X-Forwarded-For", "X-Forwarded-Host", "X-Forwarded-Proto", "X-Real-IP"} {
		g.get("/api/jobs", header, "192.168.1.9").problem(t, 401)
	}
	g.get("/api/jobs", "Cookie", "hangtrue=nonsense").problem(t, 401)
	assert.Equal(t, 401, closed(t, true).get("/api/jobs").StatusCode)

	handler := server.New(server.Options{Keeper: g.keeper, Static: someFiles, Version: "test", Book: g.book, Answers: func(string) bool { return true }}).Handler()
	for from, want := range map[string]int{"192.168.1.9": 401, "fd00::9": 401, "127.0.0.1": 200, "127.8.8.8": 200, "::1": 200, "::ffff:127.0.0.1": 200, "0.0.0.0": 401} {
		var req fasthttp.Request
		req.SetRequestURI("/api/jobs")
		req.Header.SetHost("localhost") // which anybody may write
		var ctx fasthttp.RequestCtx
		ctx.Init(&req, &net.TCPAddr{IP: net.ParseIP(from), Port: 4000}, nil)
		handler(&ctx)
		assert.Equal(t, want, ctx.Response.StatusCode(), from)
	}
}

// TestPair_Cookie: what the cookie is over TLS (RFC 6265bis section 4.1.3.2 for the
// prefix) and on loopback, and that no answer has a token anywhere else.
func TestPair_Cookie(t *testing.T) {
	g := closed(t, true)
	r := g.do("POST", "/api/pair", pairBody(g.code(checklist.Installer).Typed, phone1, "installer 1"))
	require.Equal(t, 200, r.StatusCode, r.body)
	assert.NotContains(t, r.body, g.token(r))
	assert.Regexp(t, `^hangtrue=[\w-]{43}; max-age=34560000; path=/; HttpOnly; SameSite=Strict$`, r.Header.Get("Set-Cookie"))
	r = g.do("POST", "/api/unpair", `{"data":"keep"}`, "Cookie", "hangtrue="+g.secrets[len(g.secrets)-1])
	require.Equal(t, 200, r.StatusCode)
	assert.Regexp(t, `^hangtrue=; expires=Thu, 01 Jan 1970 00:00:01 GMT; path=/; HttpOnly; SameSite=Strict$`, r.Header.Get("Set-Cookie"))
	assert.Empty(t, r.Header.Get("Clear-Site-Data"))

	a, err := authority.Open(t.TempDir(), nil, time.Now())
	require.NoError(t, err)
	leaf, err := a.Issue(authority.Names{DNS: []string{"attic.local"}, Addresses: []netip.Addr{netip.MustParseAddr("127.0.0.1")}}, time.Now())
	require.NoError(t, err)
	l, err := tls.Listen("tcp", "127.0.0.1:0", &tls.Config{Certificates: []tls.Certificate{*leaf}, MinVersion: tls.VersionTLS12})
	require.NoError(t, err)
	app := server.New(server.Options{Keeper: g.keeper, Static: someFiles, Version: "test", Book: g.book, Locked: true, Strict: true, Answers: func(h string) bool { return h == "attic.local" }})
	done := make(chan error, 1)
	go func() { done <- app.Listener(l) }()
	secure := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}}} // who it is, is not what is looked at here
	defer func() {
		secure.CloseIdleConnections()
		assert.NoError(t, app.ShutdownWithTimeout(5*time.Second))
		assert.NoError(t, <-done)
	}()
	send := func(path, body, cookie string) *http.Response {
		req, err := http.NewRequest("POST", "https://"+l.Addr().String()+path, strings.NewReader(body))
		require.NoError(t, err)
		req.Host = "attic.local"
		req.Header.Set("Content-Type", "application/json")
		req.Header.Set("Cookie", cookie)
		res, err := secure.Do(req)
		require.NoError(t, err)
		require.NoError(t, res.Body.Close())
		return res
	}
	res := send("/api/pair", pairBody(g.code(checklist.Lead).Long, phone2, "lead"), "")
	require.Equal(t, 200, res.StatusCode)
	assert.Regexp(t, `^__Host-hangtrue=[\w-]{43}; max-age=34560000; path=/; HttpOnly; secure; SameSite=Strict$`, res.Header.Get("Set-Cookie"))
	assert.Equal(t, "max-age=31536000", res.Header.Get("Strict-Transport-Security"))
	assert.Empty(t, g.get("/").Header.Get("Strict-Transport-Security"), "on plain HTTP it means nothing (RFC 6797 section 7.2)")
	token := res.Cookies()[0].Value
	assert.Equal(t, 401, send("/api/unpair", `{"data":"clear"}`, "hangtrue="+token).StatusCode, "a cookie without the prefix may come from anywhere")
	res = send("/api/unpair", `{"data":"clear"}`, "__Host-hangtrue="+token)
	assert.Equal(t, 200, res.StatusCode)
	assert.Equal(t, `"cache", "storage"`, res.Header.Get("Clear-Site-Data"))
	res = send("/api/unpair", `{"data":"clear"}`, "__Host-hangtrue="+token)
	assert.Equal(t, 401, res.StatusCode)
	assert.Equal(t, "max-age=31536000", res.Header.Get("Strict-Transport-Security"), "on an error too")
}

// TestPair_Replay: a code that was used, by its device or another, pairs nothing.
func TestPair_Replay(t *testing.T) {
	g := closed(t, true)
	c := g.code(checklist.Lead)
	first := g.do("POST", "/api/pair", pairBody(c.Long, phone1, "lead"))
	require.Equal(t, 200, first.StatusCode)
	for _, body := range []string{pairBody(c.Long, phone1, "lead"), pairBody(c.Long, phone2, "lead"), pairBody(c.Typed, phone2, "lead")} {
		r := g.do("POST", "/api/pair", body)
		assert.Contains(t, r.problem(t, 403), "pairs nothing")
		assert.Empty(t, r.Header.Get("Set-Cookie"))
	}
	assert.Equal(t, 200, g.get("/api/jobs", "Cookie", "hangtrue="+g.token(first)).StatusCode)

	taken := g.do("POST", "/api/pair", pairBody(g.code(checklist.Installer).Long, phone1, "thief"))
	assert.Contains(t, taken.problem(t, 409), "is paired")
	assert.Contains(t, g.do("POST", "/api/pair", pairBody("x", "y", "z")).problem(t, 400), "device is")
}

// TestPair_Force: five wrong codes over HTTP, each on a connection of its own, and the
// right one is refused with the same words.
func TestPair_Force(t *testing.T) {
	g := closed(t, true)
	c := g.code(checklist.Lead)
	var said []string
	for i := range 5 {
		said = append(said, g.do("POST", "/api/pair", pairBody(fmt.Sprintf("2222-222%d", 2+i), phone1, "x"), "Connection", "close").problem(t, 403))
	}
	said = append(said, g.do("POST", "/api/pair", pairBody(c.Typed, phone1, "x")).problem(t, 403), g.do("POST", "/api/pair", pairBody(c.Long, phone1, "x")).problem(t, 403))
	assert.Len(t, slices.Compact(said), 1)
}

// TestPush_Sender: a device brings its own entries with its own role at most. What it
// may not bring stops nothing that comes behind it.
func TestPush_Sender(t *testing.T) {
	g := closed(t, true)
	cookie := g.pair(phone2, checklist.Installer)
	other := g.pair(phone1, checklist.Lead)
	mine := installer(t, jobA)
	first := mine.remark("Mine.")
	mine.role = checklist.Lead
	high := mine.makeAt("2030-01-31T09:15:00.000Z", checklist.JobSigned, checklist.Signing{})
	mine.role = checklist.Installer
	last := mine.remark("Mine too.")
	theirs := lead(t, jobA).remark("Under the lead's name.")

	push := func(cookie string, entries ...checklist.Entry) answers {
		texts := make([]string, len(entries))
		for i, e := range entries {
			texts[i] = string(e.Bytes())
		}
		return g.do("POST", "/api/jobs/"+jobA+"/entries", pushBody(texts...), "Cookie", cookie).answers(t)
	}
	a := push(cookie, first, theirs, high, last).Answers
	require.NotNil(t, a[0].Record)
	assert.True(t, a[0].Record.Accepted)
	assert.Equal(t, "It was made by another device than the one that sent it.", a[1].Stray)
	require.NotNil(t, a[2].Record)
	assert.False(t, a[2].Record.Accepted)
	assert.Equal(t, "This device is paired as an installer and the entry says that a lead made it.", a[2].Record.Reason)
	require.NotNil(t, a[3].Record)
	assert.True(t, a[3].Record.Accepted)

	b := push(other, theirs).Answers
	require.NotNil(t, b[0].Record, "the lead's own number 1 was not used up")
	assert.True(t, b[0].Record.Accepted)
	assert.Equal(t, b[0].Record.Position, push(cookie, theirs).Answers[0].Record.Position, "what is in the log is answered to whoever may read it")

	// A lower role than the device's is nothing to refuse.
	l := lead(t, jobA)
	l.number, l.role = 1, checklist.Installer
	assert.True(t, push(other, l.remark("As an installer.")).Answers[0].Record.Accepted)
	stranger := lead(t, "018f3c5e-7a10-7000-8000-0000000000c3")
	stranger.id = phone2
	e := stranger.open("A job of an installer's")
	r := g.do("POST", "/api/jobs/"+e.Job+"/entries", pushBody(string(e.Bytes())), "Cookie", cookie).answers(t)
	assert.Contains(t, r.Answers[0].Stray, "paired as an installer")
}

// TestRevoked_Offline: a phone that was revoked while it was away is refused whole,
// with a status on which it keeps its queue; paired again it sends everything.
func TestRevoked_Offline(t *testing.T) {
	g := closed(t, true)
	cookie := g.pair(phone2, checklist.Installer)
	leads := g.pair(phone1, checklist.Lead)
	mine := installer(t, jobA)
	body := pushBody(string(mine.remark("Made out of reach.").Bytes()), string(mine.remark("And this.").Bytes()))
	r := g.do("POST", "/api/revoke", `{"id":"`+phone2+`"}`, "Cookie", leads)
	require.Equal(t, 200, r.StatusCode, r.body)

	for range 2 {
		refused := g.do("POST", "/api/jobs/"+jobA+"/entries", body, "Cookie", cookie)
		assert.Contains(t, refused.problem(t, 401), "Pair it again")
		assert.NotEmpty(t, refused.Header.Get("WWW-Authenticate"))
	}
	line, err := g.keeper.Line(jobA)
	require.NoError(t, err)
	assert.EqualValues(t, 1, line.Head, "nothing was kept")
	again := g.do("POST", "/api/jobs/"+jobA+"/entries", body, "Cookie", g.pair(phone2, checklist.Installer)).answers(t)
	for _, a := range again.Answers {
		require.NotNil(t, a.Record)
		assert.True(t, a.Record.Accepted)
	}
	g.do("POST", "/api/revoke", `{"id":"nonsense"}`, "Cookie", leads).problem(t, 404)
	assert.Contains(t, g.get("/devices", "Cookie", leads).body, "installer 1")
}

// TestCrossSite: no route that changes something takes a request from another site,
// whatever cookie comes with it, and GET changes nothing.
func TestCrossSite(t *testing.T) {
	g := closed(t, true)
	cookie := g.pair(phone1, checklist.Lead)
	changing := 0
	for _, r := range g.app.GetRoutes(true) {
		if r.Method == fiber.MethodGet || r.Method == fiber.MethodHead {
			continue
		}
		changing++
		path := strings.ReplaceAll(r.Path, ":job", jobA)
		for _, headers := range [][]string{{"Sec-Fetch-Site", "cross-site"}, {"Sec-Fetch-Site", "same-site"}, {"Origin", "https://evil.example"}, {"Origin", "null"}, {"Origin", "http://127.0.0.1:1"}} {
			got := g.do(r.Method, path, "{}", append(headers, "Cookie", cookie)...)
			assert.Contains(t, got.problem(t, 403), "another site", "%s %s", r.Method, path)
			assert.Empty(t, got.Header.Get("Set-Cookie"))
		}
		g.do(r.Method, path, "{}", "Cookie", cookie, "Host", "evil.example").problem(t, 421)
		g.do(r.Method, path, "{}", "Cookie", cookie, "Content-Type", "text/plain").problem(t, 415)
	}
	assert.Equal(t, 8, changing)

	for _, r := range g.app.GetRoutes(true) {
		if r.Method != fiber.MethodGet {
			continue
		}
		path := strings.NewReplacer(":job", jobA, ":file", "all-a4.pdf", "*", "").Replace(r.Path)
		for _, site := range []string{"cross-site", "same-site"} {
			for _, method := range []string{"GET", "HEAD"} {
				got := g.do(method, path, "", "Cookie", cookie, "Sec-Fetch-Site", site, "Sec-Fetch-Mode", "no-cors", "Sec-Fetch-Dest", "image")
				assert.Equal(t, 403, got.StatusCode, "%s %s as a picture on another site's page", method, path)
			}
		}
	}
	assert.Equal(t, 200, g.get("/", "Cookie", cookie, "Sec-Fetch-Site", "cross-site", "Sec-Fetch-Mode", "navigate").StatusCode, "a link that somebody follows")
}

// TestNoSecretInLog runs every flow with the log caught, at its most talkative, and
// looks for every code, link and token in it, and in every address.
func TestNoSecretInLog(t *testing.T) {
	logged := catchLog(t)
	g := closed(t, true)
	leads := g.pair(phone1, checklist.Lead)
	installers := g.pair(phone2, checklist.Installer)
	reader := g.visit(jobA)
	used := g.secrets[0]
	var made struct{ Link, Typed, Html, ID string }
	r := g.do("POST", "/api/pairing", `{"role":"viewer"}`, "Cookie", leads)
	require.Equal(t, 200, r.StatusCode, r.body)
	require.NoError(t, json.Unmarshal([]byte(r.body), &made))
	at, code, _ := strings.Cut(made.Link, "#")
	assert.Equal(t, g.url+"/pair", at, "the code is in the fragment, which no browser sends")
	g.keep(code)
	g.keep(made.Typed)
	assert.Contains(t, made.Html, made.Typed)
	r = g.do("POST", "/api/links", `{"job":"`+jobA+`"}`, "Cookie", leads)
	require.Equal(t, 200, r.StatusCode, r.body)
	require.NoError(t, json.Unmarshal([]byte(r.body), &made))
	at, link, _ := strings.Cut(made.Link, "#")
	assert.Equal(t, g.url+"/view", at)
	g.keep(link)
	visited := g.do("POST", "/api/view", `{"link":"`+link+`"}`)
	require.Equal(t, 200, visited.StatusCode)
	g.token(visited)
	kept := g.do("POST", "/api/view", `{"link":"`+link+`"}`, "Cookie", leads)
	assert.JSONEq(t, `{"job":"`+jobA+`"}`, kept.body)
	assert.Empty(t, kept.Header.Get("Set-Cookie"), "a paired device stays what it is")

	for _, path := range []string{"/", "/devices", "/api/devices", "/api/strays", "/jobs/" + jobA, "/pair", "/view", "/unpair"} {
		for _, cookie := range []string{leads, installers, reader, ""} {
			body := g.get(path, "Cookie", cookie).body
			for _, secret := range g.secrets {
				assert.NotContains(t, body, secret, path)
			}
		}
	}
	for _, wrong := range []string{used, code + "x", "2222-2222"} { // what was mistyped is half a secret
		g.do("POST", "/api/pair", pairBody(wrong, phone3, "x")).problem(t, 403)
		g.keep(wrong)
	}
	g.do("POST", "/api/pair", `{"code":"`+code+`","more":1}`).problem(t, 400)
	g.do("POST", "/api/pair", pairBody(code, "a\nlevel=ERROR msg=forged", "x")).problem(t, 400)
	g.do("POST", "/api/pair", pairBody("", code, "x")).problem(t, 400) // in the wrong field
	g.do("POST", "/api/pair", pairBody("", phone3, code+"\u202e")).problem(t, 400)
	g.do("POST", "/api/pair", pairBody(code, phone3, "x"), "Sec-Fetch-Site", "cross-site", "Origin", "https://evil.example/\tlevel=ERROR").problem(t, 403)
	g.get("/", "Host", "evil.example").problem(t, 421)
	g.get("/api/jobs/"+jobB+"/records", "Cookie", reader).problem(t, 404)
	g.do("POST", "/api/view", `{"link":"`+link+`x"}`).problem(t, 403)
	g.do("POST", "/api/revoke", `{"id":"`+made.ID+`"}`, "Cookie", leads)
	g.do("POST", "/api/view", `{"link":"`+link+`"}`).problem(t, 403)
	g.do("POST", "/api/unpair", `{"data":"clear"}`, "Cookie", installers)
	g.get("/api/jobs", "Cookie", installers).problem(t, 401)

	text := logged()
	require.Contains(t, text, "paired a device")
	require.Contains(t, text, "refused to pair a device")
	require.Contains(t, text, "revoked")
	require.Contains(t, text, "refused from another site")
	require.Contains(t, text, `"msg":"refused","method":"GET","path":"/api/jobs/`+jobB+`/records"`, "who reads one job and asks for another")
	require.Contains(t, text, "refused by a name")
	assert.NotContains(t, text, "\nlevel=ERROR", "a line cannot be forged")
	assert.Greater(t, len(g.secrets), 12)
	for _, secret := range g.secrets {
		assert.NotContains(t, text, secret)
		assert.NotContains(t, text, strings.ReplaceAll(secret, "-", ""))
	}
}

// catchLog has the log written for the test alone, at its most talkative.
func catchLog(t *testing.T) (logged func() string) {
	var mu sync.Mutex
	var log bytes.Buffer
	before := slog.Default()
	slog.SetDefault(slog.New(slog.NewJSONHandler(writer(func(p []byte) (int, error) {
		mu.Lock()
		defer mu.Unlock()
		return log.Write(p)
	}), &slog.HandlerOptions{Level: slog.LevelDebug})))
	t.Cleanup(func() { slog.SetDefault(before) })
	return func() string {
		mu.Lock()
		defer mu.Unlock()
		return log.String()
	}
}

type writer func([]byte) (int, error)

func (w writer) Write(p []byte) (int, error) { return w(p) }

package server_test

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"html"
	"io"
	"net"
	"net/http"
	"regexp"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/server/memory"
)

const (
	waitFor = 5 * time.Second
	tick    = 5 * time.Millisecond
)

// TestHeaders: every answer, an error's too, has the same protection.
func TestHeaders(t *testing.T) {
	s := serve(t, memory.New())
	for _, r := range []response{
		s.get("/"), s.get("/you"), s.get("/nothing"), s.get("/sw.js"), s.get("/assets/style.0123.css"), s.get("/assets/none.js"),
		s.get("/healthz"), s.get("/api/jobs"), s.get("/api/none"), s.do("DELETE", "/api/jobs", ""), s.get("/", "Host", "evil.example"),
		s.do("POST", "/api/jobs/"+jobA+"/entries", "nonsense"),
	} {
		at := r.Request.Method + " " + r.Request.URL.Path
		assert.Equal(t, "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; img-src 'self' data: blob:; "+
			"connect-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'; object-src 'none'",
			r.Header.Get("Content-Security-Policy"), at)
		assert.Equal(t, "nosniff", r.Header.Get("X-Content-Type-Options"), at)
		assert.Equal(t, "no-referrer", r.Header.Get("Referrer-Policy"), at)
		assert.Equal(t, "same-origin", r.Header.Get("Cross-Origin-Opener-Policy"), at)
		assert.NotEmpty(t, r.Header.Get("Permissions-Policy"), at)
		assert.NotEmpty(t, r.Header.Get("Content-Type"), at)
		assert.NotEmpty(t, r.Header.Get("Cache-Control"), at)
		assert.Empty(t, r.Header.Get("Access-Control-Allow-Origin"), at)
		assert.Empty(t, r.Header.Get("Set-Cookie"), at)
	}
}

func TestProblems(t *testing.T) {
	s := serve(t, memory.New())
	entries := "/api/jobs/" + jobA + "/entries"
	many := pushBody(slices.Repeat([]string{"x"}, 201)...)
	for _, row := range []struct {
		name, method, path, body string
		headers                  []string
		status                   int
		says                     string
	}{
		{"unknown address of the interface", "GET", "/api/none", "", nil, 404, "nothing at this address"},
		{"unknown file", "GET", "/assets/none.js", "", nil, 404, "nothing at this address"},
		{"unknown job", "GET", "/api/jobs/" + jobA + "/records", "", nil, 404, "no such job"},
		{"unknown job's record", "GET", "/jobs/" + jobA + "/record.json", "", nil, 404, "no such job"},
		{"job that is no UUID", "GET", "/api/jobs/x/records", "", nil, 404, "UUID"},
		{"wrong method", "GET", entries, "", nil, 404, "nothing at this address"},
		{"wrong method on a page", "POST", "/", "{}", nil, 405, "does not take this method"},
		{"wrong method on the list", "POST", "/api/jobs", "{}", nil, 405, "does not take this method"},
		{"nonsense for JSON", "POST", entries, "{entries", nil, 400, "cannot be read"},
		{"nothing", "POST", entries, "", nil, 400, "The body cannot be read: it is empty."},
		{"unknown key", "POST", entries, `{"entries":[],"more":1}`, nil, 400, "unknown field"},
		{"two values", "POST", entries, `{"entries":[]}{}`, nil, 400, "something follows"},
		{"entries of another type", "POST", entries, `{"entries":[{}]}`, nil, 400, "is of type object, wanted string."},
		{"a list of another type", "POST", entries, `{"entries":7}`, nil, 400, "The body cannot be read: entries is of type number, wanted array."},
		{"no object", "POST", entries, `[]`, nil, 400, "The body cannot be read: it is of type array, wanted object."},
		{"cut short", "POST", entries, `{"entries":[`, nil, 400, "The body cannot be read: it ends too early."},
		{"deep nesting", "POST", entries, `{"entries":` + strings.Repeat("[", 200_000), nil, 400, "cannot be read"},
		{"too many entries", "POST", entries, many, nil, 413, "at most 200"},
		{"negative position", "GET", "/api/jobs/" + jobA + "/records?after=-1", "", nil, 400, "after is \"-1\""},
		{"position beyond all numbers", "GET", "/api/jobs/" + jobA + "/records?after=9223372036854775808", "", nil, 400, "whole number"},
		{"position that is no number", "GET", "/api/jobs/" + jobA + "/records?after=1e3", "", nil, 400, "whole number"},
		{"another host", "GET", "/", "", []string{"Host", "evil.example"}, 421, "127.0.0.1 or localhost"},
		{"another host with the port", "GET", "/", "", []string{"Host", "evil.example:8470"}, 421, "localhost"},
		{"a name that begins like ours", "GET", "/", "", []string{"Host", "localhost.evil.example"}, 421, "localhost"},
		{"an address that is not this computer", "GET", "/", "", []string{"Host", "192.168.1.5:8470"}, 421, "localhost"},
		{"another host by a proxy's header", "GET", "/", "", []string{"Host", "evil.example", "X-Forwarded-Host", "localhost"}, 421, "localhost"},
		{"compressed body", "POST", entries, "x", []string{"Content-Encoding", "gzip"}, 415, "compressed"},
		{"compressed body twice", "POST", entries, "x", []string{"Content-Encoding", "br, gzip"}, 415, "compressed"},
		{"a form", "POST", entries, "a=1", []string{"Content-Type", "application/x-www-form-urlencoded"}, 415, "JSON"},
		{"plain text", "POST", entries, "{}", []string{"Content-Type", "text/plain"}, 415, "JSON"},
		{"from another site", "POST", entries, "{}", []string{"Sec-Fetch-Site", "cross-site"}, 403, "another site"},
		{"from a neighbouring site", "POST", entries, "{}", []string{"Sec-Fetch-Site", "same-site"}, 403, "another site"},
		{"from another origin", "POST", entries, "{}", []string{"Origin", "http://evil.example"}, 403, "another site"},
		{"from no origin", "POST", entries, "{}", []string{"Origin", "null"}, 403, "another site"},
		{"from another port", "POST", entries, "{}", []string{"Origin", "http://127.0.0.1:1"}, 403, "another site"},
	} {
		t.Run(row.name, func(t *testing.T) {
			assert.Contains(t, s.do(row.method, row.path, row.body, row.headers...).problem(t, row.status), row.says)
		})
	}
	assert.Equal(t, "GET, HEAD", s.do("POST", "/api/jobs", "{}").Header.Get("Allow"))
}

// The server answers before it has read all of a header that is too large, so that a
// client that is still writing may find the connection closed instead of the answer.
func TestProblems_HeaderTooLarge(t *testing.T) {
	s := serve(t, memory.New())
	var last error
	for range 20 {
		request, err := http.NewRequest(http.MethodGet, s.url+"/", nil)
		require.NoError(t, err)
		request.Header.Set("X-Large", strings.Repeat("x", 20<<10))
		answer, err := http.DefaultClient.Do(request)
		if last = err; err != nil {
			continue
		}
		body, err := io.ReadAll(answer.Body)
		require.NoError(t, answer.Body.Close())
		if last = err; err != nil {
			continue
		}
		assert.Equal(t, 431, answer.StatusCode)
		assert.Contains(t, string(body), "header")
		return
	}
	t.Fatal(last)
}

// TestProblems_Broken: a connection that breaks in the middle of a request is no fault of
// the server's, and fills no log with errors.
func TestProblems_Broken(t *testing.T) {
	logged := catchLog(t)
	s := serve(t, memory.New())
	conn, err := net.Dial("tcp", strings.TrimPrefix(s.url, "http://"))
	require.NoError(t, err)
	_, err = io.WriteString(conn, "GET / HTTP/1.1\r\nHost: loc")
	require.NoError(t, err)
	require.NoError(t, conn.(*net.TCPConn).SetLinger(0)) // so that it is reset
	require.NoError(t, conn.Close())
	assert.Eventually(t, func() bool { return strings.Contains(logged(), "a connection broke") }, patience, time.Millisecond)
	assert.NotContains(t, logged(), "ERROR")
}

func TestPush_SameOriginPasses(t *testing.T) {
	s := serve(t, memory.New())
	for _, headers := range [][]string{
		nil, {"Sec-Fetch-Site", "same-origin"}, {"Sec-Fetch-Site", "none"}, {"Origin", s.url},
		{"Sec-Fetch-Site", "same-origin", "Origin", "http://evil.example"}, // a browser's word about the site decides
		{"Content-Type", "application/json; charset=utf-8"}, {"Host", "localhost"}, {"Host", "[::1]:8470"}, {"Host", "LOCALHOST:1"},
	} {
		r := s.do("POST", "/api/jobs/"+jobA+"/entries", `{"entries":[]}`, headers...)
		assert.Equal(t, 200, r.StatusCode, "%v: %s", headers, r.body)
		assert.JSONEq(t, `{"head":0,"answers":[]}`, r.body)
	}
}

// TestBody_TwoHundredMegabytes: a body far over the limit is refused, with a problem
// where the client still listens, and is never held in memory.
func TestBody_TwoHundredMegabytes(t *testing.T) {
	s := serve(t, memory.New())
	var before, after runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	for _, declared := range []bool{true, false} {
		req, err := http.NewRequest("POST", s.url+"/api/jobs/"+jobA+"/entries", io.LimitReader(zeros{}, 200<<20))
		require.NoError(t, err)
		req.Header.Set("Content-Type", "application/json")
		if declared {
			req.ContentLength = 200 << 20
		}
		res, err := client.RoundTrip(req)
		if err == nil { // else the connection was cut, which a client must expect too
			assert.Equal(t, 413, res.StatusCode)
			require.NoError(t, res.Body.Close())
		}
	}
	runtime.ReadMemStats(&after)
	assert.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(40<<20), "bytes allocated meanwhile")
	assert.Equal(t, 200, s.get("/healthz").StatusCode)
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

// TestBody_AtTheLimit: the client that waits for the answer reads the problem.
func TestBody_AtTheLimit(t *testing.T) {
	s := serve(t, memory.New())
	conn, err := net.Dial("tcp", strings.TrimPrefix(s.url, "http://"))
	require.NoError(t, err)
	defer conn.Close()
	_, err = fmt.Fprintf(conn, "POST /api/jobs/%s/entries HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: %d\r\n\r\n", jobA, 1<<20+1)
	require.NoError(t, err)
	answer, err := io.ReadAll(conn)
	require.NoError(t, err)
	assert.Contains(t, string(answer), "413")
	assert.Contains(t, string(answer), "A request has at most 1048576 bytes.")

	fits := `{"entries":["` + strings.Repeat("x", 1<<20-15) + `"]}`
	require.Len(t, fits, 1<<20-15+len(`{"entries":[""]}`))
	r := s.do("POST", "/api/jobs/"+jobA+"/entries", fits[:1<<20])
	r.problem(t, 400) // cut short by one byte, and read
}

// TestBody_GzipBomb: 300 MiB in 300 kB are refused unread.
func TestBody_GzipBomb(t *testing.T) {
	var bomb bytes.Buffer
	z := gzip.NewWriter(&bomb)
	_, err := io.Copy(z, io.LimitReader(zeros{}, 300<<20))
	require.NoError(t, err)
	require.NoError(t, z.Close())
	s := serve(t, memory.New())
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	s.do("POST", "/api/jobs/"+jobA+"/entries", bomb.String(), "Content-Encoding", "gzip").problem(t, 415)
	runtime.ReadMemStats(&after)
	assert.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(16<<20))
}

func TestStatic(t *testing.T) {
	s := serve(t, memory.New())
	for _, row := range []struct{ accept, coding, body string }{
		{"gzip, deflate, br, zstd", "br", "as br"},
		{"gzip, deflate", "gzip", "as gzip"},
		{"br;q=0, gzip;q=0.5", "gzip", "as gzip"},
		{"br; q=0.0, gzip;q=0", "", "plain"},
		{"identity", "", "plain"},
		{"*", "br", "as br"},
		{"deflate", "", "plain"},
	} {
		r := s.get("/assets/style.0123.css", "Accept-Encoding", row.accept)
		assert.Equal(t, row.coding, r.Header.Get("Content-Encoding"), row.accept)
		assert.Equal(t, row.body, r.body, row.accept)
		assert.Equal(t, "Accept-Encoding", r.Header.Get("Vary"))
		assert.Equal(t, "text/css; charset=utf-8", r.Header.Get("Content-Type"))
		assert.Equal(t, "public, max-age=31536000, immutable", r.Header.Get("Cache-Control"))
		again := s.get("/assets/style.0123.css", "Accept-Encoding", row.accept, "If-None-Match", r.Header.Get("ETag"))
		assert.Equal(t, 304, again.StatusCode)
		assert.Empty(t, again.body)
	}
	worker := s.get("/sw.js")
	assert.Equal(t, "no-cache", worker.Header.Get("Cache-Control"))
	assert.Equal(t, "text/javascript; charset=utf-8", worker.Header.Get("Content-Type"))
	head := s.do("HEAD", "/sw.js", "")
	assert.Equal(t, 200, head.StatusCode)
	assert.Empty(t, head.body)
}

func TestPages(t *testing.T) {
	s := serve(t, memory.New())
	d := lead(t, jobA)
	s.push(jobA, d.open(`Attic <img src=x onerror=alert(1)> "lounge"`), d.settle())
	for _, row := range []struct {
		path   string
		status int
		says   string
	}{
		{"/", 200, "Attic &lt;img"}, {"/jobs/" + jobA, 200, "Attic &lt;img"}, {"/jobs/" + jobA + "/mounts/M%2B090", 200, "M+090"},
		{"/jobs/" + jobA + "/mounts/M+090", 200, "M+090"}, {"/you", 200, "<main"}, {"/jobs/" + jobA + "/record", 200, "<main"},
		{"/jobs/" + jobB, 404, "<main"}, {"/nothing", 404, "<main"},
	} {
		r := s.get(row.path)
		assert.Equal(t, row.status, r.StatusCode, row.path)
		assert.Equal(t, "text/html; charset=utf-8", r.Header.Get("Content-Type"), row.path)
		assert.Equal(t, "private, no-cache", r.Header.Get("Cache-Control"), row.path)
		assert.Contains(t, r.body, row.says, row.path)
		assert.Contains(t, r.body, "/assets/style.0123.css", row.path)
		assert.NotContains(t, r.body, "<img src=x", row.path)
		assert.NotRegexp(t, `<script[^>]*>[^<]`, r.body, "no inline script on "+row.path)
		assert.NotRegexp(t, `<style|\sstyle=`, r.body, "no inline style on "+row.path)
	}
}

// TestPages_Addresses follows every link of the server's own pages of a job in which every
// text is hostile: none becomes an address, nor markup.
func TestPages_Addresses(t *testing.T) {
	s := serve(t, memory.New())
	d := lead(t, jobA)
	hostile := `javascript:alert(1)//"'><img src=x onerror=alert(1)></script>`
	s.push(jobA, d.open(hostile), d.settle(), d.remark(hostile))
	address := regexp.MustCompile(`\s(?:href|src|action|formaction|data|poster|xlink:href)="([^"]*)"`)
	seen, next := map[string]bool{"/": true}, []string{"/"}
	for len(next) > 0 {
		path := next[0]
		next = next[1:]
		r := s.get(path)
		if !strings.HasPrefix(r.Header.Get("Content-Type"), "text/html") {
			continue
		}
		assert.NotRegexp(t, `<img src=x|\son\w+="`, r.body, path)
		for _, m := range address.FindAllStringSubmatch(r.body, -1) {
			at := html.UnescapeString(m[1])
			assert.Regexp(t, `^($|/[^/]|/$|#|\?|[\w-]+\.(pdf|html|svg|csv|json)(\?|$))`, at, path)
			if page, _, _ := strings.Cut(at, "#"); strings.HasPrefix(page, "/") && !strings.HasPrefix(page, "/assets/") && !seen[page] {
				seen[page] = true
				next = append(next, page)
			}
		}
	}
	assert.Greater(t, len(seen), 50, "the job's pages were found")
	assert.Contains(t, s.get("/jobs/"+jobA).body, `javascript:alert(1)//"'&gt;&lt;img`, "the text is there, as a text")
}

// TestOpenAPI holds the description to the routes: every route of the interface is
// described, and nothing else is.
func TestOpenAPI(t *testing.T) {
	s := serve(t, memory.New())
	r := s.get("/api/openapi.json")
	require.Equal(t, 200, r.StatusCode)
	assert.Equal(t, "application/json; charset=utf-8", r.Header.Get("Content-Type"))
	var doc struct {
		OpenAPI string `json:"openapi"`
		Paths   map[string]map[string]struct {
			OperationID string `json:"operationId"`
			Responses   map[string]any
			Parameters  []map[string]any
		} `json:"paths"`
	}
	require.NoError(t, json.Unmarshal([]byte(r.body), &doc))
	assert.Equal(t, "3.1.0", doc.OpenAPI)
	var described []string
	for path, methods := range doc.Paths {
		for method, operation := range methods {
			described = append(described, strings.ToUpper(method)+" "+path)
			assert.NotEmpty(t, operation.OperationID, path)
			assert.Contains(t, operation.Responses, "200", path)
			if strings.Contains(path, "{job}") {
				assert.Contains(t, fmt.Sprint(operation.Parameters), "#/components/parameters/job", path)
			}
		}
	}
	var served []string
	parameter := regexp.MustCompile(`:(\w+)`)
	for _, route := range s.app.GetRoutes(true) {
		if route.Method == fiber.MethodHead || strings.HasSuffix(route.Path, "*") {
			continue // HEAD follows GET; the rest are pages and files
		}
		served = append(served, route.Method+" "+parameter.ReplaceAllString(route.Path, "{$1}"))
	}
	assert.ElementsMatch(t, served, described)

	for _, ref := range regexp.MustCompile(`"\$ref": "#/components/(\w+)/(\w+)"`).FindAllStringSubmatch(r.body, -1) {
		var whole struct{ Components map[string]map[string]any }
		require.NoError(t, json.Unmarshal([]byte(r.body), &whole))
		assert.Contains(t, whole.Components[ref[1]], ref[2])
	}
}

// TestPages_PathThatIsNone: a path no browser sends.
func TestPages_PathThatIsNone(t *testing.T) {
	s := serve(t, memory.New())
	for _, path := range []string{"/jobs/%zz", "/jobs/%00", "/%2e%2e/%2e%2e/etc/passwd", "/jobs/" + strings.Repeat("a/", 3000), "//evil.example/x"} {
		conn, err := net.Dial("tcp", strings.TrimPrefix(s.url, "http://"))
		require.NoError(t, err)
		_, err = fmt.Fprintf(conn, "GET %s HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n", path)
		require.NoError(t, err)
		answer, err := io.ReadAll(conn)
		require.NoError(t, err)
		require.NoError(t, conn.Close())
		assert.True(t, strings.HasPrefix(string(answer), "HTTP/1.1 404 "), "%.30s: %.100s", path, answer)
	}
}

func TestVersionAndHealth(t *testing.T) {
	s := serve(t, memory.New())
	assert.JSONEq(t, `{"version":"test"}`, s.get("/api/version").body)
	assert.JSONEq(t, `{"status":"ok"}`, s.get("/healthz").body)
	assert.JSONEq(t, `{"jobs":[],"run":"a run"}`, s.get("/api/jobs").body)
	assert.JSONEq(t, `{"strays":[]}`, s.get("/api/strays").body)
}

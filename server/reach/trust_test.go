package reach_test

import (
	"crypto/x509"
	"io"
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/pwa/markup"
	"hangtrue/server/authority"
	"hangtrue/server/reach"
)

func trust(t testing.TB) (*authority.Authority, http.Handler) {
	a, err := authority.Open(t.TempDir(), []string{"attic"}, made)
	require.NoError(t, err)
	return a, reach.TrustPage(reach.Trust{Authority: a, Port: "8470",
		Answers: func(host string) bool { return host == "attic.local" || host == "fd00::2" },
		Best:    func() string { return "192.168.1.5" }})
}

func ask(t testing.TB, h http.Handler, method, path, host string) (*http.Response, string) {
	w := httptest.NewRecorder()
	r := httptest.NewRequest(method, path, nil)
	r.Host = host
	h.ServeHTTP(w, r)
	body, err := io.ReadAll(w.Result().Body)
	require.NoError(t, err)
	return w.Result(), string(body)
}

// TestTrustPage_Certificate: the certificate as phones take it, RFC 5280's DER with
// the type that browsers know authorities by.
func TestTrustPage_Certificate(t *testing.T) {
	a, h := trust(t)
	res, body := ask(t, h, "GET", reach.CertificatePath, "192.168.1.5:8471")
	assert.Equal(t, 200, res.StatusCode)
	assert.Equal(t, "application/x-x509-ca-cert", res.Header.Get("Content-Type"))
	assert.True(t, strings.HasSuffix(reach.CertificatePath, ".crt"), "the file's name comes from the address")
	c, err := x509.ParseCertificate([]byte(body))
	require.NoError(t, err)
	assert.True(t, c.IsCA)
	assert.Equal(t, a.Fingerprint(), authority.Fingerprint(c.Raw))
	assert.Equal(t, a.Name(), c.Subject.CommonName)
}

// TestTrustPage_Page: it shows the fingerprint and the address by which the phone
// came, where the server's certificate is for that one.
func TestTrustPage_Page(t *testing.T) {
	a, h := trust(t)
	for _, row := range []struct{ host, address string }{
		{"attic.local:8471", "https://attic.local:8470/"},
		{"attic.local", "https://attic.local:8470/"},
		{"[fd00::2]:8471", "https://[fd00::2]:8470/"},
		{"192.0.2.2:8471", "https://192.168.1.5:8470/"},
		{`evil.example"><script>:1`, "https://192.168.1.5:8470/"},
	} {
		res, body := ask(t, h, "GET", "/", row.host)
		assert.Equal(t, 200, res.StatusCode)
		assert.Equal(t, "text/html; charset=utf-8", res.Header.Get("Content-Type"))
		assert.Contains(t, body, `<a class="go" href="`+row.address+`">`, row.host)
		assert.Contains(t, body, a.Fingerprint())
		assert.Contains(t, body, markup.String(markup.Text(a.Name())))
		assert.Contains(t, body, `href="`+reach.CertificatePath+`"`)
		assert.Contains(t, body, "From memory, not verified")
		assert.NotContains(t, body, "evil.example")
		code, err := reach.QR(row.address, "The address as a code for a camera")
		require.NoError(t, err)
		assert.Contains(t, body, markup.String(code))
	}
}

// TestTrustPage_NothingElse: whatever else is asked, and however, is not found; no
// key is ever in an answer, and every answer has the headers.
func TestTrustPage_NothingElse(t *testing.T) {
	_, h := trust(t)
	for _, row := range []struct {
		method, path string
		status       int
	}{
		{"GET", "/", 200}, {"HEAD", "/", 200}, {"GET", reach.CertificatePath, 200},
		{"POST", "/", 404}, {"PUT", reach.CertificatePath, 404}, {"DELETE", "/", 404},
		{"GET", "/api/jobs", 404}, {"GET", "/healthz", 404}, {"GET", "/jobs/x/record.json", 404}, {"POST", "/api/jobs/x/entries", 404},
		{"GET", "/keys/authority.key", 404}, {"GET", "/authority.key", 404}, {"GET", reach.CertificatePath + "/", 404}, {"GET", "/sw.js", 404}, {"OPTIONS", "/x", 404},
		{"GET", "/.well-known/acme-challenge/x", 404},
	} {
		res, body := ask(t, h, row.method, row.path, "attic.local")
		at := row.method + " " + row.path
		assert.Equal(t, row.status, res.StatusCode, at)
		assert.NotContains(t, body, "PRIVATE", at)
		assert.Regexp(t, `^default-src 'none'; style-src 'sha256-[A-Za-z0-9+/]{43}='; form-action 'none'; base-uri 'none'; frame-ancestors 'none'$`, res.Header.Get("Content-Security-Policy"), at)
		assert.Equal(t, "nosniff", res.Header.Get("X-Content-Type-Options"), at)
		assert.Equal(t, "DENY", res.Header.Get("X-Frame-Options"), at)
		assert.Equal(t, "no-referrer", res.Header.Get("Referrer-Policy"), at)
		assert.Equal(t, "no-store", res.Header.Get("Cache-Control"), at)
		assert.NotEmpty(t, res.Header.Get("Content-Type"), at)
		assert.Empty(t, res.Header.Get("Strict-Transport-Security"), at)
		assert.Empty(t, res.Header.Get("Set-Cookie"), at)
	}
	res, _ := ask(t, h, "GET", "/../keys/authority.key", "attic.local")
	assert.NotEqual(t, 200, res.StatusCode)
}

// TestQR reads the drawing back: its size, its three finder patterns and its margin
// are those of ISO/IEC 18004 (from memory, not verified). That a camera reads the
// text is seen by eye and by a reader, not by this test.
func TestQR(t *testing.T) {
	for _, text := range []string{"https://192.168.1.5:8470/", "HTTPS://ATTIC.LOCAL:8470/", strings.Repeat("long ", 100)} {
		code, err := reach.QR(text, "a title with <signs>")
		require.NoError(t, err)
		svg := markup.String(code)
		assert.Contains(t, svg, "<title>a title with &lt;signs&gt;</title>")
		dark, side := modules(t, svg)
		size := side - 8
		assert.True(t, size >= 21 && (size-21)%4 == 0, "%d modules", size)
		for y := range side {
			for x := range side {
				if x < 4 || y < 4 || x >= side-4 || y >= side-4 {
					require.False(t, dark[[2]int{x, y}], "the margin at %d, %d", x, y)
				}
			}
		}
		for _, corner := range [][2]int{{4, 4}, {4 + size - 7, 4}, {4, 4 + size - 7}} {
			for y := range 7 {
				for x := range 7 {
					ring := max(max(x-3, 3-x), max(y-3, 3-y))
					require.Equal(t, ring != 2, dark[[2]int{corner[0] + x, corner[1] + y}], "finder pattern at %v", corner)
				}
			}
		}
		for i := 8; i < size-8; i++ { // the timing pattern
			require.Equal(t, i%2 == 0, dark[[2]int{4 + i, 10}])
			require.Equal(t, i%2 == 0, dark[[2]int{10, 4 + i}])
		}
	}
	_, err := reach.QR(strings.Repeat("x", 5000), "")
	assert.Error(t, err)
}

// modules reads the runs of the dark path.
func modules(t testing.TB, svg string) (dark map[[2]int]bool, side int) {
	_, rest, ok := strings.Cut(svg, `viewBox="0 0 `)
	require.True(t, ok)
	number, _, _ := strings.Cut(rest, " ")
	side, err := strconv.Atoi(number)
	require.NoError(t, err)
	_, rest, ok = strings.Cut(svg, `fill="#000" d="`)
	require.True(t, ok)
	path, _, _ := strings.Cut(rest, `"`)
	dark = map[[2]int]bool{}
	for run := range strings.SplitSeq(strings.TrimSuffix(path, "z"), "z") {
		at, more, _ := strings.Cut(strings.TrimPrefix(run, "M"), "h")
		length, _, _ := strings.Cut(more, "v")
		xs, ys, _ := strings.Cut(at, " ")
		var n [3]int
		for i, s := range []string{xs, ys, length} {
			n[i], err = strconv.Atoi(s)
			require.NoError(t, err)
		}
		for x := range n[2] {
			dark[[2]int{n[0] + x, n[1]}] = true
		}
	}
	return dark, side
}

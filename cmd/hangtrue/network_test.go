package main

import (
	"bufio"
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/server/authority"
	"hangtrue/server/reach"
)

// attic is a computer of that name in a house.
func attic() reach.Machine {
	return reach.Machine{
		Hostname: func() (string, error) { return "attic", nil },
		Addresses: func() ([]net.Addr, error) {
			return []net.Addr{&net.IPNet{IP: net.IPv4(127, 0, 0, 1), Mask: net.CIDRMask(8, 32)}, &net.IPNet{IP: net.IPv4(192, 168, 1, 5), Mask: net.CIDRMask(24, 32)}}, nil
		},
	}
}

// onNetwork serves in this process, on ports of this computer, until the test ends.
type onNetwork struct {
	t           testing.TB
	own         string   // the first line of stdout: where this computer reaches it
	lines       []string // the others
	stop        func() string
	plain, port string // where the plain page is; the port of the server
}

func serveNetwork(t testing.TB, m Main, dir string, lines int, args ...string) *onNetwork {
	ctx, cancel := context.WithCancel(context.Background())
	out, in := io.Pipe()
	var stderr bytes.Buffer
	m.Stdout, m.Stderr, m.Now, m.Env = in, &stderr, time.Now, func(string) string { return "" }
	if m.Static == nil {
		m.Static = withoutFiles
	}
	done := make(chan int, 1)
	go func() {
		done <- m.Run(ctx, append([]string{"serve", "--addr", "127.0.0.1:0", "--data", dir}, args...))
		in.Close()
	}()
	n := &onNetwork{t: t}
	n.stop = sync.OnceValue(func() string {
		cancel()
		assert.Equal(t, 0, <-done, "%s", &stderr)
		return stderr.String()
	})
	t.Cleanup(func() { n.stop() })
	read := bufio.NewScanner(out)
	require.True(t, read.Scan(), "%s", &stderr)
	n.own = strings.TrimSuffix(read.Text(), "/")
	require.Regexp(t, `^http://127\.0\.0\.1:\d+$`, n.own)
	for range lines {
		require.True(t, read.Scan(), "%s", &stderr)
		n.lines = append(n.lines, read.Text())
	}
	_, n.port, _ = strings.Cut(strings.TrimSuffix(strings.TrimPrefix(n.lines[0], "https://"), "/"), ":")
	if lines > 1 {
		_, port, _ := strings.Cut(strings.TrimSuffix(strings.TrimPrefix(n.lines[1], "http://"), "/"), ":")
		n.plain = "http://127.0.0.1:" + port
	}
	return n
}

// client trusts one authority and finds every name on this computer.
func (n *onNetwork) client(roots *x509.CertPool) *http.Client {
	transport := &http.Transport{
		TLSClientConfig: &tls.Config{RootCAs: roots},
		DialContext: func(ctx context.Context, network, _ string) (net.Conn, error) {
			return new(net.Dialer).DialContext(ctx, network, "127.0.0.1:"+n.port)
		},
	}
	n.t.Cleanup(transport.CloseIdleConnections)
	return &http.Client{Transport: transport}
}

func fetch(t testing.TB, c *http.Client, url string) (*http.Response, []byte) {
	res, err := c.Get(url)
	require.NoError(t, err)
	defer res.Body.Close()
	body, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	return res, body
}

// TestServe_Lan walks a phone's way: the plain page, the certificate, the comparison
// with what the server printed, and then HTTPS by every name and address.
func TestServe_Lan(t *testing.T) {
	dir := t.TempDir()
	n := serveNetwork(t, Main{Machine: attic()}, dir, 4, "--lan", "--trust-addr", "127.0.0.1:0", "--name", "jobs.home.arpa")
	assert.Equal(t, "https://jobs.home.arpa:"+n.port+"/", n.lines[0])
	assert.Regexp(t, `^http://jobs\.home\.arpa:\d+/$`, n.lines[1])

	res, der := fetch(t, http.DefaultClient, n.plain+reach.CertificatePath)
	require.Equal(t, 200, res.StatusCode)
	assert.Equal(t, n.lines[3], authority.Fingerprint(der), "what the server printed is what a phone gets")
	root, err := x509.ParseCertificate(der)
	require.NoError(t, err)
	roots := x509.NewCertPool()
	roots.AddCert(root)
	res, page := fetch(t, http.DefaultClient, n.plain+"/")
	require.Equal(t, 200, res.StatusCode)
	assert.Contains(t, string(page), n.lines[3])
	assert.Contains(t, string(page), "https://127.0.0.1:"+n.port+"/", "the address by which it was asked")
	res, _ = fetch(t, http.DefaultClient, n.plain+"/api/jobs")
	assert.Equal(t, 404, res.StatusCode, "no job without protection")

	client := n.client(roots)
	for _, host := range []string{"jobs.home.arpa", "attic.local", "attic", "localhost", "127.0.0.1"} {
		res, body := fetch(t, client, "https://"+host+":"+n.port+"/healthz")
		assert.Equal(t, 200, res.StatusCode, "%s: %s", host, body)
		assert.Empty(t, res.Header.Get("Strict-Transport-Security"), "a lost authority would lock its names out")
		assert.NotEmpty(t, res.Header.Get("Content-Security-Policy"))
		c := res.TLS.PeerCertificates[0]
		assert.LessOrEqual(t, c.NotAfter.Sub(c.NotBefore), 398*24*time.Hour)
		assert.GreaterOrEqual(t, res.TLS.Version, uint16(tls.VersionTLS12))
	}
	// It listens on one address of the machine, so the other is not in the certificate.
	for _, host := range []string{"cellar.local", "evil.example", "192.168.1.5"} {
		_, err := client.Get("https://" + host + ":" + n.port + "/healthz")
		var wrong x509.HostnameError
		assert.ErrorAs(t, err, &wrong, host)
	}
	var unknown x509.UnknownAuthorityError
	_, err = n.client(x509.NewCertPool()).Get("https://localhost:" + n.port + "/healthz")
	assert.ErrorAs(t, err, &unknown)

	// A name that is made to lead here, by a client that lets any certificate pass.
	careless := n.client(roots)
	careless.Transport.(*http.Transport).TLSClientConfig.InsecureSkipVerify = true
	res, _ = fetch(t, careless, "https://evil.example:"+n.port+"/healthz")
	assert.Equal(t, 421, res.StatusCode)

	res, _ = fetch(t, http.DefaultClient, n.own+"/api/jobs")
	assert.Equal(t, 200, res.StatusCode, "this computer goes on as without the network")

	said := n.stop()
	assert.NotContains(t, said, "PRIVATE")
	info, err := os.Stat(filepath.Join(dir, authority.KeyFile))
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode())

	// Started again it is the same authority, with another certificate.
	again := serveNetwork(t, Main{Machine: attic()}, dir, 4, "--lan", "--trust-addr", "127.0.0.1:0")
	assert.Equal(t, n.lines[3], again.lines[3])
	assert.Equal(t, "https://attic.local:"+again.port+"/", again.lines[0])
	res, _ = fetch(t, again.client(roots), "https://attic.local:"+again.port+"/healthz")
	assert.Equal(t, 200, res.StatusCode)
}

// TestServe_LanMoves: a computer that gets another address shows a certificate for
// it at the next look, on the same port, and says which address is gone.
func TestServe_LanMoves(t *testing.T) {
	dir := t.TempDir()
	var mu sync.Mutex
	address := net.IPv4(192, 168, 1, 5)
	machine, look := attic(), make(chan time.Time)
	machine.Addresses = func() ([]net.Addr, error) {
		mu.Lock()
		defer mu.Unlock()
		return []net.Addr{&net.IPNet{IP: address, Mask: net.CIDRMask(24, 32)}}, nil
	}
	n := serveNetwork(t, Main{Machine: machine, Look: look}, dir, 4, "--lan", "--addr", "0.0.0.0:0", "--trust-addr", "127.0.0.1:0")
	assert.Equal(t, "https://192.168.1.5:"+n.port+"/", n.lines[0])
	_, der := fetch(t, http.DefaultClient, n.plain+reach.CertificatePath)
	root, err := x509.ParseCertificate(der)
	require.NoError(t, err)
	roots := x509.NewCertPool()
	roots.AddCert(root)
	at := func(host string) error {
		res, err := n.client(roots).Get("https://" + host + ":" + n.port + "/healthz")
		if err == nil {
			assert.Equal(t, 200, res.StatusCode, host)
			_ = res.Body.Close()
		}
		return err
	}
	require.NoError(t, at("192.168.1.5"))
	require.NoError(t, at("attic.local"))
	require.Error(t, at("192.168.1.9"))

	mu.Lock()
	address = net.IPv4(192, 168, 1, 9)
	mu.Unlock()
	look <- time.Time{}
	look <- time.Time{} // taken when the first look is over
	assert.NoError(t, at("192.168.1.9"))
	assert.NoError(t, at("attic.local"))
	assert.Error(t, at("192.168.1.5"))
	said := n.stop()
	assert.Contains(t, said, "no longer reached as before")
	assert.Contains(t, said, "gone=192.168.1.5")
}

// TestServe_LanGuarded: a stranger gets nothing of any job. All come from this computer
// in tests; locked, it is a stranger too.
func TestServe_LanGuarded(t *testing.T) {
	n := serveNetwork(t, Main{Machine: attic()}, t.TempDir(), 4, "--lan", "--locked", "--demo", "--trust-addr", "127.0.0.1:0")
	_, der := fetch(t, http.DefaultClient, n.plain+reach.CertificatePath)
	root, err := x509.ParseCertificate(der)
	require.NoError(t, err)
	roots := x509.NewCertPool()
	roots.AddCert(root)
	for _, path := range []string{"/", "/api/jobs", "/jobs/" + demoJob, "/jobs/" + demoJob + "/record.json"} {
		res, body := fetch(t, n.client(roots), "https://attic.local:"+n.port+path)
		assert.Equal(t, 401, res.StatusCode, path)
		assert.NotContains(t, string(body), "Attic lounge")
	}
}

func TestServe_NetworkFlags(t *testing.T) {
	dir := t.TempDir()
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer taken.Close()
	for _, row := range []struct {
		name string
		args []string
		want string
	}{
		{"a certificate without --lan", []string{"--cert", "a.crt", "--key", "a.key"}, "--cert is of use with --lan only"},
		{"a name without --lan", []string{"--name", "attic.local"}, "--name is of use with --lan only"},
		{"a page without --lan", []string{"--trust-addr", ":8471"}, "--trust-addr is of use with --lan only"},
		{"a certificate without its key", []string{"--lan", "--cert", "a.crt"}, "--cert and --key go together"},
		{"a key without its certificate", []string{"--lan", "--key", "a.key"}, "--cert and --key go together"},
		{"two sources", []string{"--lan", "--cert", "a.crt", "--key", "a.key", "--acme", "jobs.example.org"}, "exclude each other"},
		{"a directory without a name", []string{"--lan", "--acme-directory", "https://acme.example/"}, "--acme-directory goes with --acme"},
		{"a certificate that is not there", []string{"--lan", "--addr", "127.0.0.1:0", "--cert", dir + "/a.crt", "--key", dir + "/a.key"}, "no such file"},
		{"a name that is none", []string{"--lan", "--addr", "127.0.0.1:0", "--name", "a name"}, "--name"},
		{"a name that the authority may not vouch for", []string{"--lan", "--addr", "127.0.0.1:0", "--name", "jobs.example.org"}, "may not vouch for it"},
		{"a public name that is none", []string{"--lan", "--addr", "127.0.0.1:0", "--acme", "attic.local"}, "public DNS"},
		{"a page where another is", []string{"--lan", "--addr", "127.0.0.1:0", "--trust-addr", taken.Addr().String()}, "address already in use"},
	} {
		t.Run(row.name, func(t *testing.T) {
			var stdout, stderr bytes.Buffer
			data := filepath.Join(dir, "data")
			_, err := authority.Open(data, []string{"attic"}, time.Now())
			require.NoError(t, err)
			ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
			defer cancel()
			code := Main{Stdout: &stdout, Stderr: &stderr, Now: time.Now, Static: withoutFiles, Env: func(string) string { return "" }, Machine: attic()}.
				Run(ctx, append([]string{"serve", "--data", data}, row.args...))
			assert.Equal(t, 2, code, "%s", &stderr)
			assert.Contains(t, stderr.String(), row.want)
			assert.Empty(t, stdout.String(), "it says no address it does not serve")
		})
	}
}

// TestServe_Files: certificates of somebody else, with no plain page beside them.
func TestServe_Files(t *testing.T) {
	dir := t.TempDir()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	template := &x509.Certificate{DNSNames: []string{"*.example.org", "jobs.example.org"}, NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), BasicConstraintsValid: true, IsCA: true}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	require.NoError(t, err)
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(dir+"/a.crt", pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o600))
	require.NoError(t, os.WriteFile(dir+"/a.key", pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret}), 0o600))
	data := filepath.Join(dir, "data")
	n := serveNetwork(t, Main{Machine: attic()}, data, 1, "--lan", "--cert", dir+"/a.crt", "--key", dir+"/a.key")
	assert.Equal(t, "https://jobs.example.org:"+n.port+"/", n.lines[0])
	roots := x509.NewCertPool()
	roots.AppendCertsFromPEM(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}))
	for host, status := range map[string]int{"jobs.example.org": 200, "other.example.org": 200} {
		res, _ := fetch(t, n.client(roots), "https://"+host+":"+n.port+"/healthz")
		assert.Equal(t, status, res.StatusCode, host)
	}
	n.stop()
	assert.NoFileExists(t, filepath.Join(data, authority.KeyFile), "no authority is made that nobody needs")
}

// TestServe_HelpOfTheNetwork: the flags of the network are shown, in lines that fit.
func TestServe_HelpOfTheNetwork(t *testing.T) {
	var stdout bytes.Buffer
	code := Main{Stdout: &stdout, Stderr: io.Discard}.Run(t.Context(), []string{"serve", "--help"})
	require.Equal(t, 0, code)
	for _, flag := range append([]string{"lan", "locked"}, networkFlags...) {
		assert.Contains(t, stdout.String(), "--"+flag+" ")
	}
	for line := range strings.Lines(stdout.String()) {
		assert.LessOrEqual(t, len(line), 120, line)
	}
}

// TestStrict: only a name that a public authority vouches for has browsers insist on TLS.
func TestStrict(t *testing.T) {
	public, err := fromACME(network{acme: "jobs.example.org"}, t.TempDir())
	require.NoError(t, err)
	assert.True(t, public.strict)
	own, err := Main{Machine: attic(), Now: time.Now}.fromAuthority(network{}, t.TempDir(), netip.IPv4Unspecified(), "8470")
	require.NoError(t, err)
	assert.False(t, own.strict)
}

// TestInUTC: the log's times are in UTC (ASVS 5.0 V16.2.2).
func TestInUTC(t *testing.T) {
	var log strings.Builder
	h := slog.NewTextHandler(&log, &slog.HandlerOptions{ReplaceAttr: inUTC})
	r := slog.NewRecord(time.Date(2030, 1, 31, 9, 15, 0, 0, time.FixedZone("east", 5*3600)), slog.LevelInfo, "x", 0)
	r.Add("at", slog.GroupValue(slog.String("time", "kept")))
	require.NoError(t, h.Handle(t.Context(), r))
	assert.Equal(t, "time=2030-01-31T04:15:00.000Z level=INFO msg=x at.time=kept\n", log.String())
}

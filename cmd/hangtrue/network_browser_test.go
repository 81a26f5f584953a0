package main

import (
	"context"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"github.com/chromedp/cdproto/security"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/pwa"
	"hangtrue/pwa/browsertest"
	"hangtrue/server"
	"hangtrue/server/authority"
)

// home is a home folder whose list of authorities has one more, or none.
func home(t *testing.T, certutil, trusted string) string {
	dir := t.TempDir()
	db := filepath.Join(dir, ".pki", "nssdb")
	require.NoError(t, os.MkdirAll(db, 0o700))
	run := func(args ...string) {
		out, err := exec.Command(certutil, append(args, "-d", "sql:"+db)...).CombinedOutput()
		require.NoError(t, err, "%s", out)
	}
	run("-N", "--empty-password")
	if trusted != "" {
		run("-A", "-n", "the local authority", "-t", "C,,", "-i", trusted)
	}
	return dir
}

// forge serves under a name with a certificate of the authority in a folder that
// only somebody who took its key could make, and gives the address.
func forge(t *testing.T, dir, name string) string {
	text, err := os.ReadFile(filepath.Join(dir, authority.KeyFile))
	require.NoError(t, err)
	secret, rest := pem.Decode(text)
	key, err := x509.ParsePKCS8PrivateKey(secret.Bytes)
	require.NoError(t, err)
	public, _ := pem.Decode(rest)
	root, err := x509.ParseCertificate(public.Bytes)
	require.NoError(t, err)
	der, err := x509.CreateCertificate(rand.Reader, &x509.Certificate{DNSNames: []string{name}, NotBefore: time.Now().Add(-time.Minute), NotAfter: time.Now().Add(time.Hour),
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}}, root, root.PublicKey, key)
	require.NoError(t, err)
	s := httptest.NewUnstartedServer(http.NotFoundHandler())
	s.Config.ErrorLog = slog.NewLogLogger(slog.DiscardHandler, slog.LevelError) // a browser that refuses says so
	s.TLS = &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{der}, PrivateKey: key}}}
	s.StartTLS()
	t.Cleanup(s.Close)
	_, port, err := net.SplitHostPort(s.Listener.Addr().String())
	require.NoError(t, err)
	return "https://" + net.JoinHostPort(name, port) + "/"
}

// browserKit is what a browser needs beside itself: the program that makes it trust an
// authority, and what it loads. Without them the test is skipped, or fails where
// browsers are required.
func browserKit(t *testing.T) (certutil string, files server.Static) {
	certutil, err := exec.LookPath("certutil")
	if err != nil {
		if browsertest.Required() {
			t.Fatal("certutil (libnss3-tools) is not on the path")
		}
		t.Skip("certutil (libnss3-tools) is not on the path")
	}
	files, err = pwa.Files()
	if errors.Is(err, pwa.ErrNotBuilt) && !browsertest.Required() {
		t.Skip(err)
	}
	require.NoError(t, err)
	return certutil, files
}

// TestServe_LanInBrowser: a browser takes the page for work without the server from
// a name in the house, where the authority is trusted, and only there. Passing the
// warning by is not enough.
func TestServe_LanInBrowser(t *testing.T) {
	certutil, files := browserKit(t)
	dir := t.TempDir()
	n := serveNetwork(t, Main{Machine: attic(), Static: func() (server.Static, error) { return files, nil }}, dir, 4, "--lan", "--demo", "--trust-addr", "127.0.0.1:0")
	args := []string{"--host-resolver-rules=MAP * 127.0.0.1"}
	url := "https://attic.local:" + n.port + "/"

	b := browsertest.Start(t, browsertest.Options{Home: home(t, certutil, filepath.Join(dir, authority.CertificateFile)), Args: args})
	require.NoError(t, b.Open(n.plain))
	said, err := b.Text("code")
	require.NoError(t, err)
	assert.Equal(t, n.lines[3], said)
	if shots := os.Getenv("HANGTRUE_SHOTS"); shots != "" {
		require.NoError(t, b.Screenshot(filepath.Join(shots, "trust.png")))
	}
	for name, wanted := range map[string]string{"attic.local": "", "bank.example": "ERR_CERT_INVALID"} {
		err := b.Open(forge(t, dir, name))
		if wanted == "" {
			assert.NoError(t, err, name)
		} else {
			assert.ErrorContains(t, err, wanted, "the key, stolen, makes nobody another site")
		}
	}
	require.NoError(t, b.Open(url))
	var secure bool
	require.NoError(t, b.Eval("isSecureContext", &secure))
	assert.True(t, secure)
	require.NoError(t, b.Offline())
	n.stop()
	require.NoError(t, b.Open(url+"jobs/"+demoJob), "without the server")
	require.NoError(t, b.Until(`document.body.innerText.includes('Attic lounge')`))

	n = serveNetwork(t, Main{Machine: attic(), Static: func() (server.Static, error) { return files, nil }}, dir, 4, "--lan", "--trust-addr", "127.0.0.1:0")
	url = "https://attic.local:" + n.port + "/"
	stranger, err := browsertest.Open(context.Background(), browsertest.Options{Home: home(t, certutil, ""), Args: args})
	require.NoError(t, err)
	defer stranger.Close()
	assert.ErrorContains(t, stranger.Open(url), "ERR_CERT_AUTHORITY_INVALID")
	require.NoError(t, stranger.Run(security.SetIgnoreCertificateErrors(true)))
	require.NoError(t, stranger.Open(url))
	var answer string
	require.NoError(t, stranger.Eval(`navigator.serviceWorker.register('/sw.js').then(() => 'registered', (e) => e.name + ': ' + e.message)`, &answer))
	// Chromium calls the refusal an SSL certificate error or, at times, an unknown error.
	assert.Contains(t, answer, "Failed to register a ServiceWorker")
	assert.Contains(t, answer, "error occurred when fetching the script")
}

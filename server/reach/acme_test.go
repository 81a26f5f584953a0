package reach_test

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"encoding/base64"
	"encoding/json"
	"encoding/pem"
	"fmt"
	"io"
	"io/fs"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/server/reach"
)

// publicAuthority is a small server of RFC 8555: one account, one order at a time,
// validated over HTTP (section 8.3). It checks signatures of no request; it does
// check that the name's own server knows the token and the account's key, and that
// the request for a certificate is for the name that was validated.
type publicAuthority struct {
	*issuer
	*httptest.Server
	challenged func(path, host string) (string, error) // asks the name's server

	mu         sync.Mutex
	thumbprint string
	name       string
	valid      bool
	chain      []byte
	orders     int
}

func newPublicAuthority(t testing.TB) *publicAuthority {
	p := &publicAuthority{issuer: newIssuer(t, time.Now())}
	p.Server = httptest.NewServer(http.HandlerFunc(p.answer))
	t.Cleanup(p.Close)
	return p
}

const token = "any-token-of-this-alphabet_0123456789"

func (p *publicAuthority) answer(w http.ResponseWriter, r *http.Request) {
	p.mu.Lock()
	defer p.mu.Unlock()
	var message struct{ Protected, Payload string }
	_ = json.NewDecoder(r.Body).Decode(&message) // a GET has none
	header, payload := decode(message.Protected), decode(message.Payload)
	say := func(status int, v any) {
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(status)
		_ = json.NewEncoder(w).Encode(v)
	}
	w.Header().Set("Replay-Nonce", fmt.Sprintf("nonce%d", time.Now().UnixNano()))
	status := func(yes bool) string {
		if yes {
			return "valid"
		}
		return "pending"
	}
	challenge := func() map[string]any {
		return map[string]any{"type": "http-01", "url": p.URL + "/challenge", "token": token, "status": status(p.valid)}
	}
	order := func() map[string]any {
		o := map[string]any{"status": "pending", "identifiers": []any{map[string]any{"type": "dns", "value": p.name}},
			"authorizations": []string{p.URL + "/authorization"}, "finalize": p.URL + "/finalize"}
		if p.valid {
			o["status"] = "ready"
		}
		if p.chain != nil {
			o["status"], o["certificate"] = "valid", p.URL+"/certificate"
		}
		return o
	}
	switch r.URL.Path {
	case "/directory":
		say(200, map[string]string{"newNonce": p.URL + "/nonce", "newAccount": p.URL + "/account", "newOrder": p.URL + "/new"})
	case "/nonce":
	case "/account":
		p.thumbprint = thumbprint(header)
		w.Header().Set("Location", p.URL+"/account/1")
		say(201, map[string]string{"status": "valid"})
	case "/new":
		var asked struct {
			Identifiers []struct{ Type, Value string }
		}
		if json.Unmarshal(payload, &asked) != nil || len(asked.Identifiers) != 1 {
			say(400, map[string]string{"type": "urn:ietf:params:acme:error:malformed"})
			return
		}
		p.name, p.valid, p.chain = asked.Identifiers[0].Value, false, nil
		p.orders++
		w.Header().Set("Location", p.URL+"/order")
		say(201, order())
	case "/order":
		w.Header().Set("Location", p.URL+"/order")
		say(200, order())
	case "/authorization":
		say(200, map[string]any{"status": status(p.valid), "identifier": map[string]string{"type": "dns", "value": p.name}, "challenges": []any{challenge()}})
	case "/challenge":
		got, err := p.challenged("/.well-known/acme-challenge/"+token, p.name)
		if p.valid = err == nil && got == token+"."+p.thumbprint; !p.valid {
			say(400, map[string]string{"type": "urn:ietf:params:acme:error:unauthorized", "detail": fmt.Sprintf("got %q, %v", got, err)})
			return
		}
		say(200, challenge())
	case "/finalize":
		var asked struct{ CSR string }
		_ = json.Unmarshal(payload, &asked)
		csr, err := x509.ParseCertificateRequest(decode(asked.CSR))
		if !p.valid || err != nil || len(csr.DNSNames) != 1 || csr.DNSNames[0] != p.name {
			say(403, map[string]string{"type": "urn:ietf:params:acme:error:badCSR"})
			return
		}
		p.chain = p.sign(csr.PublicKey, csr.DNSNames, time.Now().Add(-time.Hour), time.Now().AddDate(0, 3, 0))
		w.Header().Set("Location", p.URL+"/order")
		say(200, order())
	case "/certificate":
		w.Header().Set("Content-Type", "application/pem-certificate-chain")
		_, _ = w.Write(append(bytes.Clone(p.chain), pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: p.certificate.Raw})...))
	default:
		say(404, map[string]string{"type": "urn:ietf:params:acme:error:malformed", "detail": r.URL.Path})
	}
}

// asked is how many orders there were.
func (p *publicAuthority) asked() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.orders
}

func decode(s string) []byte {
	data, err := base64.RawURLEncoding.DecodeString(s)
	if err != nil {
		return nil
	}
	return data
}

// thumbprint is the account key's (RFC 7638 section 3.1), from a message's header.
func thumbprint(header []byte) string {
	var h struct {
		JWK struct{ Crv, Kty, X, Y string }
	}
	_ = json.Unmarshal(header, &h)
	sum := sha256.Sum256(fmt.Appendf(nil, `{"crv":%q,"kty":%q,"x":%q,"y":%q}`, h.JWK.Crv, h.JWK.Kty, h.JWK.X, h.JWK.Y))
	return base64.RawURLEncoding.EncodeToString(sum[:])
}

// TestACME gets a certificate from a server of RFC 8555 on this computer, at the
// first connection, and keeps it.
func TestACME(t *testing.T) {
	p := newPublicAuthority(t)
	folder := filepath.Join(t.TempDir(), "acme")
	name := "jobs.example.org"
	a, err := reach.NewACME("Jobs.example.org.", folder, p.URL+"/directory")
	require.NoError(t, err)
	plain := httptest.NewServer(a.Challenges())
	defer plain.Close()
	p.challenged = func(path, host string) (string, error) {
		req, err := http.NewRequest("GET", plain.URL+path, nil)
		if err != nil {
			return "", err
		}
		req.Host = host
		res, err := http.DefaultClient.Do(req)
		if err != nil {
			return "", err
		}
		defer res.Body.Close()
		body, err := io.ReadAll(res.Body)
		return string(body), err
	}
	client := func(as string) *tls.Config { return &tls.Config{ServerName: as, RootCAs: p.roots()} }

	addr := listen(t, a)
	_, err = dial(t, addr, client("other.example.org"))
	require.Error(t, err, "no certificate for another name")
	assert.Zero(t, p.asked(), "and none was asked for")
	state, err := dial(t, addr, client(name))
	require.NoError(t, err)
	assert.Equal(t, []string{name}, state.PeerCertificates[0].DNSNames)
	assert.IsType(t, &ecdsa.PublicKey{}, state.PeerCertificates[0].PublicKey)
	assert.Equal(t, 1, p.asked())

	// Kept: a server that starts anew asks for none.
	again, err := reach.NewACME(name, folder, p.URL+"/directory")
	require.NoError(t, err)
	kept, err := dial(t, listen(t, again), client(name))
	require.NoError(t, err)
	assert.Equal(t, state.PeerCertificates[0].SerialNumber, kept.PeerCertificates[0].SerialNumber)
	assert.Equal(t, 1, p.asked())

	info, err := os.Stat(folder)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o700), info.Mode().Perm())
	files := 0
	require.NoError(t, filepath.WalkDir(folder, func(path string, d fs.DirEntry, err error) error {
		require.NoError(t, err)
		if !d.IsDir() {
			info, err := d.Info()
			require.NoError(t, err)
			assert.Equal(t, os.FileMode(0o600), info.Mode(), path)
			files++
		}
		return nil
	}))
	assert.Equal(t, 2, files, "the account's key and the certificate with its own")

	// The plain listener answers challenges and nothing else.
	for path, status := range map[string]int{"/": 404, "/api/jobs": 404, "/.well-known/acme-challenge/other": 404} {
		req, err := http.NewRequest("GET", plain.URL+path, nil)
		require.NoError(t, err)
		req.Host = name
		res, err := http.DefaultClient.Do(req)
		require.NoError(t, err)
		require.NoError(t, res.Body.Close())
		assert.Equal(t, status, res.StatusCode, path)
		assert.True(t, strings.HasPrefix(res.Header.Get("Content-Security-Policy"), "default-src 'none'"), path)
		assert.Empty(t, res.Header.Get("Strict-Transport-Security"), path)
	}
}

// TestACME_ChallengeFails: where the name's server does not know the token, no
// certificate comes, and the connection says so.
func TestACME_ChallengeFails(t *testing.T) {
	p := newPublicAuthority(t)
	a, err := reach.NewACME("jobs.example.org", t.TempDir(), p.URL+"/directory")
	require.NoError(t, err)
	a.Challenges()
	p.challenged = func(string, string) (string, error) { return "", net.ErrClosed }
	_, err = dial(t, listen(t, a), &tls.Config{ServerName: "jobs.example.org", RootCAs: p.roots()})
	assert.Error(t, err)
	assert.Positive(t, p.asked())
}

func TestNewACME_Names(t *testing.T) {
	for _, name := range []string{"", "attic", "localhost", "attic.local", "jobs.home.arpa", "192.168.1.5", "::1", "a b.example.org", "*.example.org", "https://jobs.example.org"} {
		_, err := reach.NewACME(name, t.TempDir(), "")
		assert.ErrorIs(t, err, reach.ErrPublicName, name)
		assert.ErrorContains(t, err, fmt.Sprintf("%q", name))
	}
	a, err := reach.NewACME("Jobs.Example.org", t.TempDir(), "")
	require.NoError(t, err)
	for host, want := range map[string]bool{"jobs.example.org": true, "JOBS.example.org.": true, "example.org": false, "192.168.1.5": false, "x.jobs.example.org": false} {
		assert.Equal(t, want, a.Answers(host), host)
	}
}

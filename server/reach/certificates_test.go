package reach_test

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/server/reach"
)

func TestLocal(t *testing.T) {
	for _, row := range []struct {
		addr  string
		local bool
	}{
		{"127.0.0.1:8470", true}, {"127.9.9.9:0", true}, {"[::1]:8470", true}, {"localhost:8470", true},
		{":8470", false}, {"0.0.0.0:8470", false}, {"[::]:8470", false}, {"192.168.1.5:8470", false}, {"attic.local:8470", false},
		{"localhost.example:80", false}, {"[::ffff:192.168.1.5]:80", false}, {"[::ffff:127.0.0.1]:80", true},
	} {
		local, err := reach.Local(row.addr)
		require.NoError(t, err, row.addr)
		assert.Equal(t, row.local, local, row.addr)
	}
	for _, addr := range []string{"", "127.0.0.1", "localhost", "::1:80:x"} {
		_, err := reach.Local(addr)
		assert.ErrorIs(t, err, reach.ErrAddress, addr)
	}
}

// files writes a certificate for attic.example and reads it as [reach.Files].
func files(t testing.TB) (i *issuer, certificate, key string, f *reach.Files) {
	dir := t.TempDir()
	i, certificate, key = newIssuer(t, made), filepath.Join(dir, "a.crt"), filepath.Join(dir, "a.key")
	i.write(certificate, key, []string{"attic.example"}, made, made.AddDate(0, 3, 0), made)
	f, err := reach.NewFiles(certificate, key, func() time.Time { return made })
	require.NoError(t, err)
	return i, certificate, key, f
}

// TestTLS_Versions: nothing below TLS 1.2, HTTP/1.1 by name.
func TestTLS_Versions(t *testing.T) {
	i, _, _, f := files(t)
	addr := listen(t, f)
	client := func(version uint16) *tls.Config {
		return &tls.Config{ServerName: "attic.example", RootCAs: i.roots(), Time: func() time.Time { return made },
			MinVersion: version, MaxVersion: version, NextProtos: []string{"h2", "http/1.1"}}
	}
	for _, version := range []uint16{tls.VersionTLS10, tls.VersionTLS11} {
		_, err := dial(t, addr, client(version))
		assert.ErrorContains(t, err, "protocol version", tls.VersionName(version))
	}
	for _, version := range []uint16{tls.VersionTLS12, tls.VersionTLS13} {
		state, err := dial(t, addr, client(version))
		require.NoError(t, err, tls.VersionName(version))
		assert.Equal(t, "http/1.1", state.NegotiatedProtocol)
	}
}

// TestFiles_Renew: files that change are shown from the next connection on, and what
// does not work out leaves the old certificate in place.
func TestFiles_Renew(t *testing.T) {
	i, certificate, key, f := files(t)
	addr := listen(t, f)
	names := func() []string {
		state, err := dial(t, addr, &tls.Config{ServerName: "attic.example", RootCAs: i.roots(), Time: func() time.Time { return made }})
		require.NoError(t, err)
		return state.PeerCertificates[0].DNSNames
	}
	renew := func(want bool) {
		t.Helper()
		changed, err := f.Renew()
		require.NoError(t, err)
		assert.Equal(t, want, changed)
	}
	assert.Equal(t, []string{"attic.example"}, names())
	assert.True(t, f.Answers("attic.example"))
	assert.False(t, f.Answers("jobs.example"))
	assert.Equal(t, "attic.example", f.Host())
	renew(false)

	i.write(certificate, key, []string{"attic.example", "jobs.example"}, made, made.AddDate(0, 3, 0), made.Add(time.Hour))
	assert.Len(t, names(), 1, "not before it was looked at")
	renew(true)
	assert.Len(t, names(), 2)
	assert.True(t, f.Answers("jobs.example"))
	renew(false)

	good, err := os.ReadFile(key)
	require.NoError(t, err)
	for _, row := range []struct {
		name  string
		spoil func()
	}{
		{"another certificate's key", func() {
			other := filepath.Join(t.TempDir(), "b.crt")
			i.write(other, key, []string{"attic.example"}, made, made.AddDate(0, 3, 0), made.Add(2*time.Hour))
		}},
		{"half a key", func() { put(t, key, good[:50], made.Add(3*time.Hour)) }},
		{"no key", func() { require.NoError(t, os.Remove(key)) }},
		{"an expired one", func() {
			i.write(certificate, key, []string{"attic.example"}, made.AddDate(0, -3, 0), made.AddDate(0, 0, -1), made.Add(4*time.Hour))
		}},
	} {
		row.spoil()
		_, err := f.Renew()
		assert.ErrorIs(t, err, reach.ErrFiles, row.name)
		_, err = f.Renew()
		assert.ErrorIs(t, err, reach.ErrFiles, row.name+", looked at again")
		assert.Len(t, names(), 2, row.name)
	}
	i.write(certificate, key, []string{"attic.example"}, made, made.AddDate(0, 3, 0), made.Add(5*time.Hour))
	renew(true)
	assert.Len(t, names(), 1)
}

func TestNewFiles_Refused(t *testing.T) {
	i, certificate, key, _ := files(t)
	_, err := reach.NewFiles(certificate, certificate, time.Now)
	assert.ErrorIs(t, err, reach.ErrFiles)
	_, err = reach.NewFiles(certificate, key+".none", time.Now)
	assert.ErrorIs(t, err, reach.ErrFiles)
	assert.ErrorIs(t, err, os.ErrNotExist)
	i.write(certificate, key, []string{"attic.example"}, made, made.AddDate(0, 3, 0), made)
	_, err = reach.NewFiles(certificate, key, func() time.Time { return made.AddDate(0, 3, 1) })
	assert.ErrorContains(t, err, "expired on 2030-05-01") // 31 January and three months
}

// renewals answers one after the other.
type renewals struct {
	reach.Certificates
	answers []error // nil: a new certificate; errNothing: no change
	looked  int
}

var errNothing = errors.New("nothing")

func (r *renewals) Renew() (bool, error) {
	answer := r.answers[r.looked]
	r.looked++
	if errors.Is(answer, errNothing) {
		return false, nil
	}
	return answer == nil, answer
}

// TestWatch: every change is reported, a failure once until something else happens.
func TestWatch(t *testing.T) {
	first, second := errors.New("no such file"), errors.New("they do not fit")
	r := &renewals{answers: []error{errNothing, nil, first, first, second, first, errNothing, first, nil, nil}}
	ctx, cancel := context.WithCancel(t.Context())
	ticks := make(chan time.Time)
	var reported []error
	done := make(chan struct{})
	go func() {
		defer close(done)
		reach.Watch(ctx, ticks, r, func(err error) { reported = append(reported, err) })
	}()
	for range r.answers {
		ticks <- made
	}
	cancel()
	<-done
	assert.Equal(t, []error{nil, first, second, first, first, nil, nil}, reported)
	assert.Equal(t, len(r.answers), r.looked)
}

// TestFiles_WrongClient: a client that does not know the authority refuses.
func TestFiles_WrongClient(t *testing.T) {
	_, _, _, f := files(t)
	_, err := dial(t, listen(t, f), &tls.Config{ServerName: "attic.example", RootCAs: x509.NewCertPool(), Time: func() time.Time { return made }})
	var unknown x509.UnknownAuthorityError
	assert.ErrorAs(t, err, &unknown)
}

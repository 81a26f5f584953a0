package authority_test

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"net"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/server/authority"
)

// a machine is a clock, names and addresses that a test moves.
type machine struct {
	mu    sync.Mutex
	now   time.Time
	names authority.Names
	err   error
}

func (m *machine) look() (authority.Names, error) {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.names, m.err
}

func (m *machine) clock() time.Time {
	m.mu.Lock()
	defer m.mu.Unlock()
	return m.now
}

func newLeaf(t testing.TB) (*authority.Authority, *machine, *authority.Leaf) {
	a := open(t, "attic")
	m := &machine{now: made, names: house}
	l, err := authority.NewLeaf(a, m.look, m.clock)
	require.NoError(t, err)
	return a, m, l
}

func shown(t testing.TB, l *authority.Leaf) *x509.Certificate {
	c, err := l.GetCertificate(nil)
	require.NoError(t, err)
	return c.Leaf
}

// TestLeaf_RenewByClock: at two thirds of 397 days, not a minute before.
func TestLeaf_RenewByClock(t *testing.T) {
	_, m, l := newLeaf(t)
	first := shown(t, l)
	twoThirds := first.NotBefore.Add(397 * 24 * time.Hour * 2 / 3)
	for _, row := range []struct {
		at      time.Time
		changed bool
	}{
		{made.Add(time.Minute), false},
		{twoThirds.Add(-time.Minute), false},
		{twoThirds, true},
		{twoThirds.Add(time.Minute), false},
	} {
		m.now = row.at
		changed, err := l.Renew()
		require.NoError(t, err)
		assert.Equal(t, row.changed, changed, row.at)
	}
	second := shown(t, l)
	assert.NotEqual(t, first.PublicKey, second.PublicKey, "a key of its own")
	assert.True(t, second.NotAfter.After(first.NotAfter))

	// A clock that was ahead and was put right: the certificate's time has not come.
	m.now = made.Add(time.Hour)
	changed, err := l.Renew()
	require.NoError(t, err)
	assert.True(t, changed)
	assert.False(t, shown(t, l).NotBefore.After(m.now))
}

func TestLeaf_RenewByNames(t *testing.T) {
	_, m, l := newLeaf(t)
	for _, row := range []struct {
		name    string
		names   authority.Names
		changed bool
	}{
		{"nothing", house, false},
		{"another order", authority.Names{DNS: []string{"localhost", "attic.local"}, Addresses: addresses("::1", "127.0.0.1", "192.168.1.5")}, false},
		{"an address it may not vouch for", authority.Names{DNS: house.DNS, Addresses: append(addresses("192.0.2.2"), house.Addresses...)}, false},
		{"an address more", authority.Names{DNS: house.DNS, Addresses: append(addresses("10.0.0.7"), house.Addresses...)}, true},
		{"an address less", house, true},
		{"another name", authority.Names{DNS: []string{"attic", "localhost"}, Addresses: house.Addresses}, true},
	} {
		m.names = row.names
		changed, err := l.Renew()
		require.NoError(t, err, row.name)
		assert.Equal(t, row.changed, changed, row.name)
	}
	assert.True(t, l.Answers("attic"))
	assert.False(t, l.Answers("attic.local"))
	assert.True(t, l.Answers("192.168.1.5"))
	assert.False(t, l.Answers("10.0.0.7"))
	assert.True(t, l.Answers("::1"))
}

// TestLeaf_LeftOut: what the authority may not vouch for is kept out of the
// certificate and said; one such name in it would spoil the whole certificate.
func TestLeaf_LeftOut(t *testing.T) {
	_, m, l := newLeaf(t)
	m.names = authority.Names{DNS: []string{"cellar", "attic.local"}, Addresses: addresses("192.0.2.2", "fd00::2")}
	_, err := l.Renew()
	require.NoError(t, err)
	assert.Equal(t, "attic.local, fd00::2", l.Names().String())
	assert.Equal(t, "cellar, 192.0.2.2", l.Left().String())
}

// TestLeaf_RenewFails: the certificate that was shown stays.
func TestLeaf_RenewFails(t *testing.T) {
	_, m, l := newLeaf(t)
	before := shown(t, l)
	broken := errors.New("no interfaces")
	m.err = broken
	_, err := l.Renew()
	assert.ErrorIs(t, err, broken)
	m.err, m.names = nil, authority.Names{}
	_, err = l.Renew()
	assert.ErrorIs(t, err, authority.ErrName)
	m.names, m.now = authority.Names{DNS: []string{"localhost"}}, made.AddDate(11, 0, 0)
	_, err = l.Renew()
	assert.ErrorIs(t, err, authority.ErrExpired)
	assert.Same(t, before, shown(t, l))
}

// TestLeaf_Handshake: a real client that trusts the authority and nothing else
// connects by name and by address, and by no other; the next handshake after a
// renewal shows the new certificate on the same listener.
func TestLeaf_Handshake(t *testing.T) {
	a, m, l := newLeaf(t)
	listener, err := tls.Listen("tcp", "127.0.0.1:0", &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: l.GetCertificate})
	require.NoError(t, err)
	defer listener.Close()
	go func() {
		for {
			c, err := listener.Accept()
			if err != nil {
				return
			}
			go func() {
				_ = c.(*tls.Conn).Handshake()
				_, _ = c.Read(make([]byte, 1))
				_ = c.Close()
			}()
		}
	}()
	roots := x509.NewCertPool()
	roots.AddCert(certificate(t, a))
	dial := func(as string, roots *x509.CertPool) (*x509.Certificate, error) {
		raw, err := net.Dial("tcp", listener.Addr().String())
		require.NoError(t, err)
		c := tls.Client(raw, &tls.Config{ServerName: as, RootCAs: roots, Time: m.clock})
		defer c.Close()
		if err := c.Handshake(); err != nil {
			return nil, err
		}
		return c.ConnectionState().PeerCertificates[0], nil
	}
	for _, as := range []string{"attic.local", "localhost", "127.0.0.1", "192.168.1.5", "::1", "ATTIC.local"} {
		_, err := dial(as, roots)
		assert.NoError(t, err, as)
	}
	for _, as := range []string{"cellar.local", "attic", "192.168.1.6", "attic.local.example", "::2"} {
		_, err := dial(as, roots)
		var wrong x509.HostnameError
		assert.ErrorAs(t, err, &wrong, as)
	}
	var unknown x509.UnknownAuthorityError
	_, err = dial("localhost", x509.NewCertPool())
	assert.ErrorAs(t, err, &unknown)

	first, err := dial("localhost", roots)
	require.NoError(t, err)
	m.mu.Lock()
	m.names = authority.Names{DNS: []string{"localhost"}, Addresses: addresses("10.0.0.7")}
	m.mu.Unlock()
	changed, err := l.Renew()
	require.NoError(t, err)
	require.True(t, changed)
	second, err := dial("10.0.0.7", roots)
	require.NoError(t, err)
	assert.NotEqual(t, first.SerialNumber, second.SerialNumber)
	_, err = dial("192.168.1.5", roots)
	assert.Error(t, err, "the address the machine no longer has")
}

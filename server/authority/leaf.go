package authority

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"fmt"
	"net"
	"sync"
	"time"
)

// Issue makes a server's certificate, with a key of its own, for names and
// addresses that the authority may vouch for. Anything else is refused with
// [ErrName], a time outside the authority's life with [ErrExpired].
func (a *Authority) Issue(n Names, now time.Time) (*tls.Certificate, error) {
	may, left := a.Vouches(n)
	if !left.Empty() {
		return nil, fmt.Errorf("authority: %s: %w", left, ErrName)
	}
	if may.Empty() {
		return nil, fmt.Errorf("authority: no name and no address: %w", ErrName)
	}
	start := now.Add(-early)
	if start.Before(a.certificate.NotBefore) {
		start = a.certificate.NotBefore
	}
	end := start.Add(LeafLife)
	if end.After(a.certificate.NotAfter) {
		end = a.certificate.NotAfter
	}
	if now.Before(start) || !now.Before(end) {
		return nil, fmt.Errorf("authority: %w, or its time has not come: it is valid from %s to %s", ErrExpired,
			a.certificate.NotBefore.Format(time.DateOnly), a.certificate.NotAfter.Format(time.DateOnly))
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("authority: %w", err)
	}
	var ips []net.IP
	for _, address := range may.Addresses {
		ips = append(ips, address.AsSlice())
	}
	template := &x509.Certificate{
		// No common name: what the certificate is for stands in subjectAltName alone.
		Subject:   pkix.Name{Organization: []string{"hangtrue"}},
		NotBefore: start, NotAfter: end.Add(-time.Second), // both ends count (RFC 5280 section 4.1.2.5)
		KeyUsage:              x509.KeyUsageDigitalSignature,
		ExtKeyUsage:           []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		BasicConstraintsValid: true,
		DNSNames:              may.DNS,
		IPAddresses:           ips,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, a.certificate, &key.PublicKey, a.key)
	if err != nil {
		return nil, fmt.Errorf("authority: %w", err)
	}
	parsed, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, fmt.Errorf("authority: %w", err)
	}
	return &tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key, Leaf: parsed}, nil
}

// A Leaf is the certificate that a server shows, renewed while it runs. Its key
// lives in memory and is another after every renewal and every start.
type Leaf struct {
	authority *Authority
	look      func() (Names, error)
	now       func() time.Time

	renewing sync.Mutex // one renewal at a time
	mu       sync.RWMutex
	shown    *tls.Certificate
	names    Names
	left     Names
}

// NewLeaf issues the first certificate. The look function gives the machine's names
// and addresses as they are now; those that the authority may not vouch for are left
// out of the certificate (see [Leaf.Left]).
func NewLeaf(a *Authority, look func() (Names, error), now func() time.Time) (*Leaf, error) {
	l := &Leaf{authority: a, look: look, now: now}
	if _, err := l.Renew(); err != nil {
		return nil, err
	}
	return l, nil
}

// Renew looks at the clock and at the machine's names and addresses, and issues a new
// certificate where two thirds of the old one's life are over, its time has not
// come, or they changed. When it fails the old certificate stays.
func (l *Leaf) Renew() (changed bool, err error) {
	l.renewing.Lock()
	defer l.renewing.Unlock()
	all, err := l.look()
	if err != nil {
		return false, fmt.Errorf("authority: this computer's names and addresses: %w", err)
	}
	may, left := l.authority.Vouches(all)
	now := l.now()
	if l.shown != nil && may.same(l.names) && !due(l.shown.Leaf, now) {
		return false, nil
	}
	fresh, err := l.authority.Issue(may, now)
	if err != nil {
		return false, err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	l.shown, l.names, l.left = fresh, may, left
	return true, nil
}

// due: two thirds of a certificate's life are over, or the clock went back behind its start.
func due(c *x509.Certificate, now time.Time) bool {
	life := c.NotAfter.Sub(c.NotBefore)
	return now.Before(c.NotBefore) || now.Sub(c.NotBefore) >= life/3*2
}

// GetCertificate is for [tls.Config].
func (l *Leaf) GetCertificate(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	l.mu.RLock()
	defer l.mu.RUnlock()
	return l.shown, nil
}

// Answers tells whether the certificate is for a name or address.
func (l *Leaf) Answers(host string) bool {
	l.mu.RLock()
	defer l.mu.RUnlock()
	return l.shown.Leaf.VerifyHostname(host) == nil
}

// Names are what the certificate is for.
func (l *Leaf) Names() Names {
	l.mu.RLock()
	defer l.mu.RUnlock()
	return l.names
}

// Left are the machine's names and addresses that the authority may not vouch for.
func (l *Leaf) Left() Names {
	l.mu.RLock()
	defer l.mu.RUnlock()
	return l.left
}

package reach

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"time"

	"golang.org/x/crypto/acme"
)

// Certificates are what a server shows to those who connect.
type Certificates interface {
	// GetCertificate is for [tls.Config].
	GetCertificate(*tls.ClientHelloInfo) (*tls.Certificate, error)
	// Renew looks whether another certificate is due or there. When it fails, the one
	// that was shown before stays.
	Renew() (changed bool, err error)
	// Answers tells whether the server is known by a name or address.
	Answers(host string) bool
}

// ErrAddress is wrapped for what is no address and port to listen on.
var ErrAddress = errors.New("an address and port such as 127.0.0.1:8470 is wanted")

// Local tells whether an address to listen on is reached from this computer only. A
// name other than localhost is not: it may mean another address tomorrow.
func Local(addr string) (bool, error) {
	host, _, err := net.SplitHostPort(addr)
	if err != nil {
		return false, fmt.Errorf("reach: %q: %w", addr, ErrAddress)
	}
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback(), nil
}

// TLS is the configuration of a listener that shows the certificates. It negotiates
// HTTP/1.1, and what a public authority checks a name with (RFC 8737).
func TLS(c Certificates) *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: c.GetCertificate, NextProtos: []string{"http/1.1", acme.ALPNProto}}
}

// Watch renews certificates at every tick until the context ends. It reports every
// change, and a failure once for as long as it stays the same.
func Watch(ctx context.Context, ticks <-chan time.Time, c Certificates, report func(err error)) {
	said := ""
	for {
		select {
		case <-ctx.Done():
			return
		case <-ticks:
		}
		changed, err := c.Renew()
		text := ""
		if err != nil {
			text = err.Error()
		}
		if changed || text != "" && text != said {
			report(err)
		}
		said = text
	}
}

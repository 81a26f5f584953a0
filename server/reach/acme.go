package reach

import (
	"crypto/tls"
	"errors"
	"fmt"
	"net/http"
	"strings"

	"golang.org/x/crypto/acme"
	"golang.org/x/crypto/acme/autocert"

	"hangtrue/server/authority"
)

// ErrPublicName is wrapped when a name cannot be one that a public authority vouches for.
var ErrPublicName = errors.New("a name in public DNS such as jobs.example.org is wanted")

// ACME gets a certificate for one public name from a public authority (RFC 8555), at
// the first connection, and renews it by itself.
type ACME struct {
	name    string
	manager *autocert.Manager
}

// NewACME takes the name, the folder that keys and certificates are kept in, and the
// address of the authority's directory, or "" for the one that package autocert takes.
// The terms of that authority are accepted.
func NewACME(name, folder, directory string) (*ACME, error) {
	canonical, err := authority.CanonicalName(name)
	if err != nil || !strings.Contains(canonical, ".") || strings.HasSuffix(canonical, ".local") || strings.HasSuffix(canonical, ".home.arpa") {
		return nil, fmt.Errorf("reach: %q: %w", name, ErrPublicName)
	}
	m := &autocert.Manager{
		Prompt:     autocert.AcceptTOS,
		Cache:      autocert.DirCache(folder),
		HostPolicy: autocert.HostWhitelist(canonical),
	}
	if directory != "" {
		m.Client = &acme.Client{DirectoryURL: directory}
	}
	return &ACME{canonical, m}, nil
}

// GetCertificate is for [tls.Config]. It refuses any name but the one.
func (a *ACME) GetCertificate(hello *tls.ClientHelloInfo) (*tls.Certificate, error) {
	return a.manager.GetCertificate(hello)
}

// Renew does nothing: the certificate is renewed in the background.
func (a *ACME) Renew() (bool, error) { return false, nil }

// Answers tells whether the host is the one name.
func (a *ACME) Answers(host string) bool {
	return strings.EqualFold(strings.TrimSuffix(host, "."), a.name)
}

// Challenges answers what the authority asks over plain HTTP, on port 80 of the name,
// to see that the name is ours; anything else is not found.
func (a *ACME) Challenges() http.Handler {
	return strict(a.manager.HTTPHandler(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { notFound(w) })))
}

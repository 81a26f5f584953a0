package reach

import (
	"crypto/tls"
	"errors"
	"fmt"
	"os"
	"strings"
	"sync"
	"time"
)

// ErrFiles is wrapped when a certificate's files cannot be used.
var ErrFiles = errors.New("the certificate cannot be used")

// Files is a certificate and its key in two files that somebody else renews.
type Files struct {
	certificate, key string
	now              func() time.Time

	renewing sync.Mutex // one look at a time
	stamp    [2]stamp
	mu       sync.RWMutex
	shown    *tls.Certificate
}

// stamp is what changes when a file is replaced or written.
type stamp struct {
	size    int64
	changed time.Time
}

// NewFiles reads both files (PEM), the certificate's with all that lead to its authority.
func NewFiles(certificate, key string, now func() time.Time) (*Files, error) {
	f := &Files{certificate: certificate, key: key, now: now}
	_, err := f.Renew()
	if err != nil {
		return nil, err
	}
	return f, nil
}

// Renew reads the files again where they changed. Files that do not fit together yet,
// as in the middle of a renewal, are looked at again the next time.
func (f *Files) Renew() (changed bool, err error) {
	f.renewing.Lock()
	defer f.renewing.Unlock()
	var seen [2]stamp
	for i, path := range []string{f.certificate, f.key} {
		info, err := os.Stat(path)
		if err != nil {
			return false, fmt.Errorf("reach: %w: %w", ErrFiles, err)
		}
		seen[i] = stamp{info.Size(), info.ModTime()}
	}
	if seen == f.stamp {
		return false, nil
	}
	fresh, err := tls.LoadX509KeyPair(f.certificate, f.key)
	if err != nil {
		return false, fmt.Errorf("reach: %s, %s: %w: %w", f.certificate, f.key, ErrFiles, err)
	}
	if end := fresh.Leaf.NotAfter; f.now().After(end) {
		return false, fmt.Errorf("reach: %s: %w: it expired on %s", f.certificate, ErrFiles, end.Format(time.DateOnly))
	}
	f.stamp = seen
	f.mu.Lock()
	defer f.mu.Unlock()
	f.shown = &fresh
	return true, nil
}

// GetCertificate is for [tls.Config].
func (f *Files) GetCertificate(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	f.mu.RLock()
	defer f.mu.RUnlock()
	return f.shown, nil
}

// Answers tells whether the certificate is for a name or address.
func (f *Files) Answers(host string) bool {
	f.mu.RLock()
	defer f.mu.RUnlock()
	return f.shown.Leaf.VerifyHostname(host) == nil
}

// Host is the first name or address that the certificate is for, to show to a person.
func (f *Files) Host() string {
	f.mu.RLock()
	defer f.mu.RUnlock()
	for _, name := range f.shown.Leaf.DNSNames {
		if !strings.HasPrefix(name, "*") {
			return name
		}
	}
	for _, ip := range f.shown.Leaf.IPAddresses {
		return ip.String()
	}
	return "localhost"
}

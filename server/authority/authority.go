package authority

import (
	"bytes"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"hangtrue/server/folder"
)

// Files of an authority, below the data folder. The key's file holds the
// certificate as well: one file is whole or not there, two may part.
const (
	KeyFile         = "keys/authority.key" // secret, mode 0600
	CertificateFile = "keys/authority.crt" // a copy of the certificate, for people
)

var (
	// ErrKey is wrapped when the key's file is missing, readable by others or damaged.
	ErrKey = errors.New("the key of the local authority cannot be used")
	// ErrExpired is wrapped when the authority's ten years are over.
	ErrExpired = errors.New("the local authority has expired")
	// ErrClock is wrapped when the clock cannot be right.
	ErrClock = errors.New("this computer's clock is not set")
	// ErrName is wrapped when the authority may not vouch for a name or address.
	ErrName = errors.New("the local authority may not vouch for it")
)

const (
	years = 10 // an authority's life
	// LeafLife is how long a server's certificate is valid. Public authorities keep
	// to 398 days at most (CA/Browser Forum, baseline requirements, ballot SC31), and
	// some phones hold a private one to 825.
	LeafLife = 397 * 24 * time.Hour
	// early is by how much a certificate starts before it is made, for phones whose
	// clocks are behind.
	early = time.Hour
)

// earliest is before this program was written: a clock that says less was not set,
// as on a small computer without a battery.
var earliest = time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)

// domains and ranges are a house's own, whatever the machine is called.
var (
	// RFC 6761 section 6.3 (localhost), RFC 6762 section 3 (local), RFC 8375 (home.arpa).
	domains = []string{"localhost", "local", "home.arpa"}
	ranges  = []netip.Prefix{
		netip.MustParsePrefix("10.0.0.0/8"), netip.MustParsePrefix("172.16.0.0/12"), netip.MustParsePrefix("192.168.0.0/16"), // RFC 1918 section 3
		netip.MustParsePrefix("169.254.0.0/16"), // RFC 3927: link-local
		netip.MustParsePrefix("127.0.0.0/8"),    // RFC 1122 section 3.2.1.3: loopback
		netip.MustParsePrefix("fc00::/7"),       // RFC 4193: unique local
		netip.MustParsePrefix("fe80::/10"),      // RFC 4291 section 2.5.6: link-local
		netip.MustParsePrefix("::1/128"),        // RFC 4291 section 2.5.3: loopback
	}
)

// An Authority that is open.
type Authority struct {
	key         *ecdsa.PrivateKey
	certificate *x509.Certificate
}

// Open opens the authority in a data folder and makes it where there is none. A new
// one may vouch for the given names too, which are the machine's own; one that is
// there stays as it is. It fails with [ErrKey], [ErrExpired] or [ErrClock].
func Open(dir string, names []string, now time.Time) (*Authority, error) {
	if now.Before(earliest) {
		return nil, fmt.Errorf("authority: %w: it says %s", ErrClock, now.UTC().Format(time.DateOnly))
	}
	keyPath, copyPath := filepath.Join(dir, KeyFile), filepath.Join(dir, CertificateFile)
	if err := os.MkdirAll(filepath.Dir(keyPath), 0o700); err != nil {
		return nil, fmt.Errorf("authority: %w", err)
	}
	a, err := find(keyPath, copyPath, now)
	if errors.Is(err, fs.ErrNotExist) {
		a, err = create(keyPath, names, now)
	}
	if err != nil {
		return nil, err
	}
	block := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: a.certificate.Raw})
	if held, err := os.ReadFile(copyPath); err != nil || !bytes.Equal(held, block) {
		if err := folder.WriteWhole(copyPath, block); err != nil {
			return nil, fmt.Errorf("authority: %w", err)
		}
	}
	return a, nil
}

// Look tells what is wrong with the authority of a data folder, without changing
// anything. None is nothing wrong.
func Look(dir string, now time.Time) error {
	_, err := find(filepath.Join(dir, KeyFile), filepath.Join(dir, CertificateFile), now)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}

// find reads an authority that is there. Where there is none and never was, it is
// fs.ErrNotExist.
func find(keyPath, copyPath string, now time.Time) (*Authority, error) {
	a, err := read(keyPath)
	if errors.Is(err, fs.ErrNotExist) {
		if _, err := os.Lstat(copyPath); err == nil {
			return nil, fmt.Errorf("authority: %s: %w: it is missing although its certificate is here. Put the backup's in its place. "+
				"If it is lost, remove %s: a new authority is made, and every phone has to trust that one", keyPath, ErrKey, copyPath)
		}
	}
	if err != nil {
		return nil, err
	}
	if end := a.certificate.NotAfter; now.After(end) {
		return nil, fmt.Errorf("authority: %s: %w on %s. Remove it and %s: a new authority is made, and every phone has to trust that one",
			keyPath, ErrExpired, end.Format(time.DateOnly), copyPath)
	}
	return a, nil
}

// maxFile bounds the key's file; a key and its certificate take some two thousand bytes.
const maxFile = 64 << 10

func read(path string) (*Authority, error) {
	refuse := func(what string) error { return fmt.Errorf("authority: %s: %w: %s", path, ErrKey, what) }
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("authority: %w", err)
	}
	if mode := info.Mode().Perm(); mode&0o077 != 0 {
		return nil, refuse(fmt.Sprintf("others may read it (mode %04o). Run chmod 600 on it, and think about who had access", mode))
	}
	if !info.Mode().IsRegular() || info.Size() > maxFile {
		return nil, refuse("it is not a key")
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("authority: %w", err)
	}
	keyBlock, rest := pem.Decode(data)
	if keyBlock == nil {
		return nil, refuse("it is not a key")
	}
	certBlock, _ := pem.Decode(rest)
	if certBlock == nil {
		return nil, refuse("the certificate in it is missing")
	}
	parsed, err := x509.ParsePKCS8PrivateKey(keyBlock.Bytes)
	if err != nil {
		return nil, refuse("it is damaged")
	}
	key, ok := parsed.(*ecdsa.PrivateKey)
	if !ok {
		return nil, refuse("it is a key of another kind")
	}
	certificate, err := x509.ParseCertificate(certBlock.Bytes)
	if err != nil {
		return nil, refuse("the certificate in it is damaged")
	}
	if public, ok := certificate.PublicKey.(*ecdsa.PublicKey); !ok || !public.Equal(&key.PublicKey) || !certificate.IsCA {
		return nil, refuse("the certificate in it is not of this key")
	}
	return &Authority{key, certificate}, nil
}

func create(path string, names []string, now time.Time) (*Authority, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("authority: %w", err)
	}
	permitted := slices.Clone(domains)
	called := "this computer"
	for _, name := range names {
		name, err := CanonicalName(name)
		if err != nil {
			return nil, err
		}
		if called == "this computer" {
			called = name
		}
		if !slices.ContainsFunc(permitted, func(domain string) bool { return below(name, domain) }) {
			permitted = append(permitted, name)
		}
	}
	// Two authorities of one name would be mixed up on a phone. A common name has 64
	// characters at most (RFC 5280 appendix A.1, ub-common-name).
	mark := make([]byte, 2)
	_, _ = rand.Read(mark) // never fails
	template := &x509.Certificate{
		Subject:               pkix.Name{Organization: []string{"hangtrue"}, CommonName: fmt.Sprintf("hangtrue on %.32s, %s, %X", called, now.UTC().Format(time.DateOnly), mark)},
		NotBefore:             now.Add(-early),
		NotAfter:              now.AddDate(years, 0, 0),
		KeyUsage:              x509.KeyUsageCertSign,
		BasicConstraintsValid: true, IsCA: true, MaxPathLenZero: true,
		PermittedDNSDomainsCritical: true,
		PermittedDNSDomains:         permitted,
		PermittedIPRanges:           ipNets(ranges),
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		return nil, fmt.Errorf("authority: %w", err)
	}
	certificate, err := x509.ParseCertificate(der)
	if err != nil {
		return nil, fmt.Errorf("authority: %w", err)
	}
	secret, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, fmt.Errorf("authority: %w", err)
	}
	text := append(pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret}), pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})...)
	if err := folder.WriteWhole(path, text); err != nil {
		return nil, fmt.Errorf("authority: %w", err)
	}
	return &Authority{key, certificate}, nil
}

func ipNets(prefixes []netip.Prefix) []*net.IPNet {
	var nets []*net.IPNet
	for _, p := range prefixes {
		nets = append(nets, &net.IPNet{IP: p.Addr().AsSlice(), Mask: net.CIDRMask(p.Bits(), p.Addr().BitLen())})
	}
	return nets
}

// Name is what phones list the authority under.
func (a *Authority) Name() string { return a.certificate.Subject.CommonName }

// Domains are the names that it may vouch for, with all names below them.
func (a *Authority) Domains() string { return strings.Join(a.certificate.PermittedDNSDomains, ", ") }

// Expires is when the authority's life ends. No certificate of it outlives it.
func (a *Authority) Expires() time.Time { return a.certificate.NotAfter }

// DER is the authority's certificate, which is public.
func (a *Authority) DER() []byte { return slices.Clone(a.certificate.Raw) }

// Fingerprint is the certificate's, as [Fingerprint] writes it.
func (a *Authority) Fingerprint() string { return Fingerprint(a.certificate.Raw) }

// Fingerprint is the SHA-256 hash of a certificate in sixteen groups of four
// hexadecimal digits, for a person to compare.
func Fingerprint(der []byte) string {
	var groups []string
	sum := sha256.Sum256(der)
	for pair := range slices.Chunk(sum[:], 2) {
		groups = append(groups, fmt.Sprintf("%X", pair))
	}
	return strings.Join(groups, " ")
}

package authority_test

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"encoding/hex"
	"encoding/pem"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/server/authority"
)

var made = time.Date(2030, 1, 31, 9, 15, 0, 0, time.UTC)

func open(t testing.TB, names ...string) *authority.Authority {
	a, err := authority.Open(t.TempDir(), names, made)
	require.NoError(t, err)
	return a
}

func certificate(t testing.TB, a *authority.Authority) *x509.Certificate {
	c, err := x509.ParseCertificate(a.DER())
	require.NoError(t, err)
	return c
}

// TestOpen_Certificate holds the authority to what RFC 5280 asks of one that signs
// servers' certificates and nothing else.
func TestOpen_Certificate(t *testing.T) {
	c := certificate(t, open(t, "attic"))
	assert.Equal(t, elliptic.P256(), c.PublicKey.(*ecdsa.PublicKey).Curve)
	assert.Equal(t, x509.ECDSAWithSHA256, c.SignatureAlgorithm)
	assert.True(t, c.BasicConstraintsValid && c.IsCA)
	assert.True(t, c.MaxPathLen == 0 && c.MaxPathLenZero, "no authority below it")
	assert.Equal(t, x509.KeyUsageCertSign, c.KeyUsage)
	assert.Equal(t, "2040-01-31T09:15:00Z", c.NotAfter.Format(time.RFC3339), "ten years")
	assert.True(t, c.NotBefore.Before(made))
	assert.NotEmpty(t, c.SubjectKeyId)
	assert.NoError(t, c.CheckSignatureFrom(c))
	assert.Contains(t, c.Subject.CommonName, "attic")
	assert.GreaterOrEqual(t, c.SerialNumber.BitLen(), 64, "CA/Browser Forum, baseline requirements 7.1")

	assert.True(t, c.PermittedDNSDomainsCritical, "RFC 5280 section 4.2.1.10")
	assert.Equal(t, []string{"localhost", "local", "home.arpa", "attic"}, c.PermittedDNSDomains)
	var ranges []string
	for _, r := range c.PermittedIPRanges {
		ranges = append(ranges, r.String())
	}
	assert.Equal(t, []string{
		"10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", // RFC 1918 section 3
		"169.254.0.0/16", // RFC 3927 section 2.1
		"127.0.0.0/8",    // RFC 1122 section 3.2.1.3
		"fc00::/7",       // RFC 4193 section 3.1
		"fe80::/10",      // RFC 4291 section 2.4
		"::1/128",        // RFC 4291 section 2.5.3
	}, ranges)

	assert.NotEqual(t, c.Subject.CommonName, certificate(t, open(t, "attic")).Subject.CommonName, "two authorities can be told apart")
}

// TestOpen_LongName: RFC 5280 appendix A.1 bounds a common name to 64 characters.
func TestOpen_LongName(t *testing.T) {
	name := strings.Repeat("a", 63) + ".local"
	c := certificate(t, open(t, name))
	assert.LessOrEqual(t, len(c.Subject.CommonName), 64)
	assert.Contains(t, c.Subject.CommonName, "2030-01-31")
}

// TestOpen_Once: opened again it is the same one, whatever the machine is called now.
func TestOpen_Once(t *testing.T) {
	dir := t.TempDir()
	first, err := authority.Open(dir, []string{"attic"}, made)
	require.NoError(t, err)
	again, err := authority.Open(dir, []string{"cellar"}, made.AddDate(9, 0, 0))
	require.NoError(t, err)
	assert.Equal(t, first.DER(), again.DER())
	n := authority.Names{DNS: []string{"attic.local"}}
	_, err = again.Issue(n, made)
	require.NoError(t, err)

	info, err := os.Stat(filepath.Join(dir, authority.KeyFile))
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode())
	entries, err := os.ReadDir(filepath.Join(dir, "keys"))
	require.NoError(t, err)
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	assert.Equal(t, []string{"authority.crt", "authority.key"}, names, "no rest of the writing is left")

	text, err := os.ReadFile(filepath.Join(dir, authority.CertificateFile))
	require.NoError(t, err)
	assert.NotContains(t, string(text), "PRIVATE")
	block, rest := pem.Decode(text)
	require.NotNil(t, block)
	assert.Empty(t, rest)
	assert.Equal(t, first.DER(), block.Bytes)
}

// TestOpen_CopyGone: the certificate's own file is a copy and is written again; a
// stop between the two files of a new authority leaves the same state.
func TestOpen_CopyGone(t *testing.T) {
	dir := t.TempDir()
	first, err := authority.Open(dir, nil, made)
	require.NoError(t, err)
	path := filepath.Join(dir, authority.CertificateFile)
	require.NoError(t, os.Remove(path))
	again, err := authority.Open(dir, nil, made)
	require.NoError(t, err)
	assert.Equal(t, first.DER(), again.DER())
	assert.FileExists(t, path)
}

func TestOpen_Refused(t *testing.T) {
	other := func(t *testing.T, dir string) []byte {
		_, err := authority.Open(filepath.Join(dir, "other"), nil, made)
		require.NoError(t, err)
		text, err := os.ReadFile(filepath.Join(dir, "other", authority.KeyFile))
		require.NoError(t, err)
		return text
	}
	for _, row := range []struct {
		name   string
		spoil  func(t *testing.T, dir, key string)
		at     time.Time
		want   error
		detail string
	}{
		{"others may read the key", func(t *testing.T, _, key string) { require.NoError(t, os.Chmod(key, 0o640)) }, made, authority.ErrKey, "chmod 600"},
		{"the key is gone", func(t *testing.T, _, key string) { require.NoError(t, os.Remove(key)) }, made, authority.ErrKey, "backup"},
		{"the key is cut short", func(t *testing.T, _, key string) { require.NoError(t, os.Truncate(key, 100)) }, made, authority.ErrKey, "not a key"},
		{"the key is empty", func(t *testing.T, _, key string) { require.NoError(t, os.Truncate(key, 0)) }, made, authority.ErrKey, "not a key"},
		{"the certificate is another's", func(t *testing.T, dir, key string) {
			mine, err := os.ReadFile(key)
			require.NoError(t, err)
			_, otherCert := pem.Decode(other(t, dir))
			myKey, _ := pem.Decode(mine)
			require.NoError(t, os.WriteFile(key, append(pem.EncodeToMemory(myKey), otherCert...), 0o600))
		}, made, authority.ErrKey, "not of this key"},
		{"the certificate in it is gone", func(t *testing.T, _, key string) {
			mine, err := os.ReadFile(key)
			require.NoError(t, err)
			myKey, _ := pem.Decode(mine)
			require.NoError(t, os.WriteFile(key, pem.EncodeToMemory(myKey), 0o600))
		}, made, authority.ErrKey, "missing"},
		{"its time is over", func(*testing.T, string, string) {}, made.AddDate(10, 0, 1), authority.ErrExpired, "2040-01-31"},
		{"the clock was never set", func(*testing.T, string, string) {}, time.Unix(0, 0), authority.ErrClock, "1970-01-01"},
	} {
		t.Run(row.name, func(t *testing.T) {
			dir := t.TempDir()
			_, err := authority.Open(dir, nil, made)
			require.NoError(t, err)
			row.spoil(t, dir, filepath.Join(dir, authority.KeyFile))
			_, err = authority.Open(dir, nil, row.at)
			assert.ErrorIs(t, err, row.want)
			assert.ErrorContains(t, err, row.detail)
		})
	}
}

// TestFingerprint: SHA-256 of "abc" from FIPS 180-4's published examples.
func TestFingerprint(t *testing.T) {
	assert.Equal(t, "BA78 16BF 8F01 CFEA 4141 40DE 5DAE 2223 B003 61A3 9617 7A9C B410 FF61 F200 15AD", authority.Fingerprint([]byte("abc")))
	a := open(t)
	sum := sha256.Sum256(a.DER())
	assert.Equal(t, strings.ToUpper(hex.EncodeToString(sum[:])), strings.ReplaceAll(a.Fingerprint(), " ", ""))
}

func addresses(texts ...string) []netip.Addr {
	var list []netip.Addr
	for _, s := range texts {
		list = append(list, netip.MustParseAddr(s))
	}
	return list
}

func TestAuthority_Vouches(t *testing.T) {
	a := open(t, "Attic.")
	may, left := a.Vouches(authority.Names{
		DNS: []string{"attic", "ATTIC.local", "attic.local.", "localhost", "jobs.home.arpa", "jobs.attic",
			"attic.example", "local.example", "notlocal", "homearpa", "", "a b.local", "-a.local", "192.168.1.5", "évier.local", "*.local"},
		Addresses: addresses("192.168.1.5", "::ffff:192.168.1.5", "10.255.255.255", "172.31.0.1", "169.254.3.4", "127.0.0.1", "::1", "fd00::2", "fe80::1%eth0",
			"192.0.2.2", "172.32.0.1", "11.0.0.0", "192.169.0.1", "2001:db8::1", "::2", "100.64.0.1"),
	})
	assert.Equal(t, []string{"attic", "attic.local", "localhost", "jobs.home.arpa", "jobs.attic"}, may.DNS)
	assert.Equal(t, addresses("192.168.1.5", "10.255.255.255", "172.31.0.1", "169.254.3.4", "127.0.0.1", "::1", "fd00::2", "fe80::1"), may.Addresses)
	assert.Equal(t, []string{"attic.example", "local.example", "notlocal", "homearpa", "", "a b.local", "-a.local", "192.168.1.5", "évier.local", "*.local"}, left.DNS)
	assert.Equal(t, addresses("192.0.2.2", "172.32.0.1", "11.0.0.0", "192.169.0.1", "2001:db8::1", "::2", "100.64.0.1"), left.Addresses)
}

var house = authority.Names{DNS: []string{"attic.local", "localhost"}, Addresses: addresses("192.168.1.5", "127.0.0.1", "::1")}

// TestAuthority_Issue holds a server's certificate to the rules that phones apply.
func TestAuthority_Issue(t *testing.T) {
	a := open(t)
	issued, err := a.Issue(house, made)
	require.NoError(t, err)
	require.Len(t, issued.Certificate, 1, "the authority itself is not sent")
	c, err := x509.ParseCertificate(issued.Certificate[0])
	require.NoError(t, err)
	assert.Equal(t, house.DNS, c.DNSNames)
	var ips []string
	for _, ip := range c.IPAddresses {
		ips = append(ips, ip.String())
	}
	assert.Equal(t, []string{"192.168.1.5", "127.0.0.1", "::1"}, ips)
	assert.Empty(t, c.Subject.CommonName, "nothing may rely on it (RFC 9525 section 2)")
	assert.Equal(t, []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}, c.ExtKeyUsage)
	assert.Equal(t, x509.KeyUsageDigitalSignature, c.KeyUsage)
	assert.True(t, c.BasicConstraintsValid && !c.IsCA)
	assert.Equal(t, elliptic.P256(), c.PublicKey.(*ecdsa.PublicKey).Curve)
	assert.Equal(t, x509.ECDSAWithSHA256, c.SignatureAlgorithm)
	// Both ends count (RFC 5280 section 4.1.2.5); 398 days is the limit of the
	// CA/Browser Forum's ballot SC31.
	life := c.NotAfter.Sub(c.NotBefore) + time.Second
	assert.Equal(t, 397*24*time.Hour, life)
	assert.LessOrEqual(t, life, 398*24*time.Hour)
	assert.True(t, c.NotBefore.Before(made), "a phone whose clock is behind still takes it")
	assert.NotEqual(t, certificate(t, a).PublicKey, c.PublicKey)

	later, err := a.Issue(house, made.AddDate(9, 11, 0))
	require.NoError(t, err)
	assert.False(t, later.Leaf.NotAfter.After(certificate(t, a).NotAfter), "no certificate outlives its authority")
}

func TestAuthority_IssueRefused(t *testing.T) {
	a := open(t)
	for _, row := range []struct {
		name string
		of   authority.Names
		at   time.Time
		want error
	}{
		{"a public name", authority.Names{DNS: []string{"attic.local", "attic.example"}}, made, authority.ErrName},
		{"a public address", authority.Names{Addresses: addresses("192.0.2.2")}, made, authority.ErrName},
		{"a name for every name", authority.Names{DNS: []string{"*.local"}}, made, authority.ErrName},
		{"nothing", authority.Names{}, made, authority.ErrName},
		{"after its end", house, made.AddDate(10, 0, 1), authority.ErrExpired},
		{"before its start", house, made.AddDate(0, 0, -1), authority.ErrExpired},
	} {
		_, err := a.Issue(row.of, row.at)
		assert.ErrorIs(t, err, row.want, row.name)
	}
}

// TestAuthority_Constraints: what the certificate permits is enforced by a verifier
// that is not ours, crypto/x509, on certificates that Issue would never make.
func TestAuthority_Constraints(t *testing.T) {
	dir := t.TempDir()
	a, err := authority.Open(dir, []string{"attic"}, made)
	require.NoError(t, err)
	text, err := os.ReadFile(filepath.Join(dir, authority.KeyFile))
	require.NoError(t, err)
	block, _ := pem.Decode(text)
	stolen, err := x509.ParsePKCS8PrivateKey(block.Bytes)
	require.NoError(t, err)
	roots := x509.NewCertPool()
	roots.AddCert(certificate(t, a))
	for _, row := range []struct {
		forged  x509.Certificate
		as      string
		refused bool
	}{
		{x509.Certificate{DNSNames: []string{"attic.local"}}, "attic.local", false},
		{x509.Certificate{DNSNames: []string{"attic"}}, "attic", false},
		{x509.Certificate{IPAddresses: []net.IP{net.ParseIP("10.1.2.3").To4()}}, "10.1.2.3", false},
		{x509.Certificate{IPAddresses: []net.IP{net.ParseIP("fd00::2")}}, "fd00::2", false},
		{x509.Certificate{DNSNames: []string{"bank.example"}}, "bank.example", true},
		{x509.Certificate{DNSNames: []string{"attic.local", "bank.example"}}, "attic.local", true},
		{x509.Certificate{IPAddresses: []net.IP{net.ParseIP("192.0.2.2").To4()}}, "192.0.2.2", true},
		{x509.Certificate{IPAddresses: []net.IP{net.ParseIP("2001:db8::1")}}, "2001:db8::1", true},
	} {
		row.forged.NotBefore, row.forged.NotAfter = made, made.AddDate(0, 1, 0)
		row.forged.ExtKeyUsage = []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}
		der, err := x509.CreateCertificate(rand.Reader, &row.forged, certificate(t, a), &stolen.(*ecdsa.PrivateKey).PublicKey, stolen)
		require.NoError(t, err)
		c, err := x509.ParseCertificate(der)
		require.NoError(t, err)
		_, err = c.Verify(x509.VerifyOptions{Roots: roots, DNSName: row.as, CurrentTime: made.AddDate(0, 0, 1)})
		if row.refused {
			var invalid x509.CertificateInvalidError
			require.ErrorAs(t, err, &invalid, row.as)
			assert.Equal(t, x509.CANotAuthorizedForThisName, invalid.Reason, row.as)
		} else {
			assert.NoError(t, err, row.as)
		}
	}
}

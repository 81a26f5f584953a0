package reach_test

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"net"
	"os"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hangtrue/server/reach"
)

var made = time.Date(2030, 1, 31, 9, 15, 0, 0, time.UTC)

// an issuer is an authority that is not ours.
type issuer struct {
	t           testing.TB
	key         *ecdsa.PrivateKey
	certificate *x509.Certificate
}

func newIssuer(t testing.TB, now time.Time) *issuer {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	template := &x509.Certificate{SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "another authority"}, NotBefore: now.Add(-time.Hour), NotAfter: now.AddDate(1, 0, 0),
		KeyUsage: x509.KeyUsageCertSign, BasicConstraintsValid: true, IsCA: true}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	require.NoError(t, err)
	c, err := x509.ParseCertificate(der)
	require.NoError(t, err)
	return &issuer{t, key, c}
}

func (i *issuer) roots() *x509.CertPool {
	pool := x509.NewCertPool()
	pool.AddCert(i.certificate)
	return pool
}

// sign issues a server's certificate as PEM.
func (i *issuer) sign(public any, names []string, from, to time.Time) []byte {
	der, err := x509.CreateCertificate(rand.Reader, &x509.Certificate{DNSNames: names, NotBefore: from, NotAfter: to,
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}}, i.certificate, public, i.key)
	require.NoError(i.t, err)
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
}

// write puts a certificate with a new key into two files, which change at a time.
func (i *issuer) write(certificate, key string, names []string, from, to, at time.Time) {
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(i.t, err)
	secret, err := x509.MarshalPKCS8PrivateKey(private)
	require.NoError(i.t, err)
	put(i.t, certificate, i.sign(&private.PublicKey, names, from, to), at)
	put(i.t, key, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: secret}), at)
}

func put(t testing.TB, path string, data []byte, at time.Time) {
	require.NoError(t, os.WriteFile(path, data, 0o600))
	require.NoError(t, os.Chtimes(path, at, at))
}

// listen shows certificates on a port of this computer and gives its address.
func listen(t testing.TB, c reach.Certificates) string {
	l, err := tls.Listen("tcp", "127.0.0.1:0", reach.TLS(c))
	require.NoError(t, err)
	t.Cleanup(func() { _ = l.Close() })
	go func() {
		for {
			conn, err := l.Accept()
			if err != nil {
				return
			}
			go func() {
				_ = conn.(*tls.Conn).Handshake()
				_ = conn.Close()
			}()
		}
	}()
	return l.Addr().String()
}

// dial connects as a client that trusts some authorities and gives what it was shown.
func dial(t testing.TB, addr string, c *tls.Config) (tls.ConnectionState, error) {
	raw, err := net.Dial("tcp", addr)
	require.NoError(t, err)
	conn := tls.Client(raw, c)
	defer conn.Close()
	err = conn.Handshake()
	return conn.ConnectionState(), err
}

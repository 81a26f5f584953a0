package main

import (
	"bytes"
	"context"
	"crypto/tls"
	"encoding/json"
	"image/color"
	"io"
	"net"
	"net/http"
	"regexp"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/boombuler/barcode/qr"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/server/pairing"
)

const phoneID = "018f3c5e-7a10-7000-8000-00000000d001"

// pairOver pairs a device over HTTP and gives the status and the cookie.
func pairOver(t *testing.T, url, code string) (int, *http.Cookie) {
	body, err := json.Marshal(map[string]string{"code": code, "device": phoneID, "who": "installer 1"})
	require.NoError(t, err)
	res, err := http.Post(url+"/api/pair", "application/json", bytes.NewReader(body))
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	if res.StatusCode != 200 {
		return res.StatusCode, nil
	}
	return 200, res.Cookies()[0]
}

func askWith(t *testing.T, url string, cookie *http.Cookie) int {
	req, err := http.NewRequest("GET", url+"/api/jobs", nil)
	require.NoError(t, err)
	if cookie != nil {
		req.AddCookie(cookie)
	}
	res, err := http.DefaultClient.Do(req)
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	return res.StatusCode
}

// TestPair_Command: a code from the command line pairs a phone with the server that
// runs meanwhile, and the command line revokes it at once.
func TestPair_Command(t *testing.T) {
	dir := t.TempDir()
	n := serveNetwork(t, Main{Machine: attic()}, dir, 4, "--lan", "--locked", "--trust-addr", "127.0.0.1:0")
	assert.Equal(t, 401, askWith(t, n.own, nil), "locked")
	got := command(t, "", "pair", "--data", dir, "--role", "installer")
	require.Equal(t, 0, got.code, got.stderr)
	assert.Contains(t, got.stdout, "https://attic.local:"+n.port+"/pair and type ")
	code := regexp.MustCompile(`type (\S{4}-\S{4})\n`).FindStringSubmatch(got.stdout)
	require.NotNil(t, code, got.stdout)
	status, cookie := pairOver(t, n.own, code[1])
	require.Equal(t, 200, status)
	assert.Equal(t, 200, askWith(t, n.own, cookie))
	status, _ = pairOver(t, n.own, code[1])
	assert.Equal(t, 403, status, "once")

	got = command(t, "", "devices", "--data", dir)
	require.Equal(t, 0, got.code, got.stderr)
	assert.Regexp(t, phoneID+`  installer 1  installer  \S+ \S+  \S+ \S+  paired\n`, got.stdout)
	got = command(t, "", "devices", "revoke", phoneID, "--data", dir)
	assert.Equal(t, 0, got.code, got.stderr)
	assert.Equal(t, 401, askWith(t, n.own, cookie), "the next request is refused")
	assert.Contains(t, command(t, "", "devices", "--data", dir).stdout, "revoked ")
	again := command(t, "", "devices", "revoke", phoneID, "--data", dir)
	assert.Equal(t, 2, again.code)
	assert.Contains(t, again.stderr, "could be revoked")

	for _, row := range []struct {
		args []string
		says string
	}{
		{[]string{"pair", "--data", dir, "--role", "owner"}, "wanted lead, installer or viewer"},
		{[]string{"pair", "--data", dir + "/none"}, "hangtrue serve makes the folder"},
		{[]string{"devices", "list", "--data", dir}, `no command "list"`},
		{[]string{"devices", "revoke", "--data", dir}, "wants one ID"},
	} {
		got := command(t, "", row.args...)
		assert.Equal(t, 2, got.code, row.args)
		assert.Contains(t, got.stderr, row.says)
	}
	said := n.stop()
	assert.Contains(t, said, "paired a device")
	assert.NotContains(t, said, code[1], "no code in the log")
	assert.NotContains(t, said, cookie.Value)
}

// TestServe_Greets: the first lead's code is shown where a person reads the messages,
// and nowhere else; once a lead is paired, no start opens pairing by itself.
func TestServe_Greets(t *testing.T) {
	dir := t.TempDir()
	said := serveNetwork(t, Main{Machine: attic()}, dir, 4, "--lan", "--trust-addr", "127.0.0.1:0").stop()
	assert.Contains(t, said, "hangtrue pair --role lead")
	assert.NotContains(t, said, "/pair")
	assert.NotContains(t, said, "█")

	said = serveNetwork(t, Main{Machine: attic(), Terminal: true}, dir, 4, "--lan", "--trust-addr", "127.0.0.1:0").stop()
	assert.Contains(t, said, "█")
	assert.Regexp(t, `https://attic\.local:\d+/pair and type [2-9A-HJ-NP-Z]{4}-[2-9A-HJ-NP-Z]{4}\n`, said)

	book, err := pairing.Open(dir, time.Now)
	require.NoError(t, err)
	c, err := book.OpenCode(checklist.Lead)
	require.NoError(t, err)
	_, _, err = book.Pair(c.Long, phoneID, "lead", "")
	require.NoError(t, err)
	said = serveNetwork(t, Main{Machine: attic(), Terminal: true}, dir, 4, "--lan", "--trust-addr", "127.0.0.1:0").stop()
	assert.NotContains(t, said, "█")
	assert.NotContains(t, said, "/pair and type")
}

// TestBlocks reads the half blocks back, module by module.
func TestBlocks(t *testing.T) {
	const text = "https://192.168.1.5:8470/pair#ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	drawn, err := blocks(text)
	require.NoError(t, err)
	code, err := qr.Encode(text, qr.L, qr.Auto)
	require.NoError(t, err)
	size := code.Bounds().Dx()
	lines := strings.Split(strings.TrimSuffix(drawn, "\n"), "\n")
	require.Len(t, lines, (size+8+1)/2)
	for row, line := range lines {
		line = strings.TrimSuffix(strings.TrimPrefix(line, "\x1b[30;107m"), "\x1b[0m")
		require.Equal(t, size+8, utf8.RuneCountInString(line), "four modules of margin on either side (ISO/IEC 18004)")
		assert.LessOrEqual(t, size+8, 80, "a usual terminal's width")
		for x, r := range []rune(line) {
			for half, is := range []bool{r == '▀' || r == '█', r == '▄' || r == '█'} {
				at, y := x-4, 2*row+half-4
				want := at >= 0 && y >= 0 && at < size && y < size && code.At(at, y) == color.Black
				require.Equal(t, want, is, "module %d, %d", at, y)
			}
		}
	}
}

// from is a connection that says it comes from elsewhere.
type from struct {
	net.Conn
	addr net.Addr
}

func (f from) RemoteAddr() net.Addr { return f.addr }

// oneDoor hands out connections.
type oneDoor struct {
	conns chan net.Conn
	done  chan struct{}
}

func (o oneDoor) Accept() (net.Conn, error) {
	select {
	case c := <-o.conns:
		return c, nil
	case <-o.done:
		return nil, net.ErrClosed
	}
}
func (o oneDoor) Close() error   { close(o.done); return nil }
func (o oneDoor) Addr() net.Addr { return &net.TCPAddr{} }

// TestDoorway: plain HTTP comes in from this computer alone, whatever it says of
// itself; TLS from everywhere.
func TestDoorway(t *testing.T) {
	for _, row := range []struct {
		ip    string
		first byte
		in    bool
	}{
		{"127.0.0.1", 'G', true}, {"::1", 'P', true}, {"127.0.0.1", 22, true}, {"192.168.1.9", 22, true}, {"fd00::9", 22, true},
		{"192.168.1.9", 'G', false}, {"fd00::9", 'P', false}, {"10.0.0.1", 0, false},
	} {
		door := oneDoor{make(chan net.Conn, 1), make(chan struct{})}
		d := newDoorway(&tls.Config{}, door)
		ours, theirs := net.Pipe()
		door.conns <- from{ours, &net.TCPAddr{IP: net.ParseIP(row.ip), Port: 4000}}
		_, err := theirs.Write([]byte{row.first})
		require.NoError(t, err)
		if !row.in {
			_, err := theirs.Read(make([]byte, 1))
			assert.ErrorIs(t, err, io.EOF, "%s %d: closed without a word", row.ip, row.first)
		} else {
			conn, err := d.Accept()
			require.NoError(t, err)
			_, secured := conn.(*tls.Conn)
			assert.Equal(t, row.first == 22, secured)
			if !secured {
				got := make([]byte, 1)
				_, err = conn.Read(got)
				require.NoError(t, err)
				assert.Equal(t, row.first, got[0], "the byte that was looked at is read again")
			}
		}
		_ = theirs.Close()
		_ = ours.Close()
		require.NoError(t, d.Close())
		_, err = d.Accept()
		assert.ErrorIs(t, err, net.ErrClosed)
	}
	// A name that leads somewhere else, for plain HTTP on the way to this computer's own.
	n := serveNetwork(t, Main{Machine: attic()}, t.TempDir(), 4, "--lan", "--trust-addr", "127.0.0.1:0")
	req, err := http.NewRequestWithContext(context.Background(), "GET", n.own+"/api/jobs", nil)
	require.NoError(t, err)
	req.Host = "evil.example"
	res, err := http.DefaultClient.Do(req)
	require.NoError(t, err)
	require.NoError(t, res.Body.Close())
	assert.Equal(t, 421, res.StatusCode)
}

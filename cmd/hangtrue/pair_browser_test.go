package main

import (
	"context"
	"encoding/json"
	"fmt"
	"path/filepath"
	"testing"
	"time"

	cdpnetwork "github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/pwa/browsertest"
	"hangtrue/server"
	"hangtrue/server/authority"
	"hangtrue/server/pairing"
)

// TestServe_PairsABrowser: over HTTPS, by a name in the house and with the authority
// trusted, a browser is paired by a link, records, and is revoked by the command line.
func TestServe_PairsABrowser(t *testing.T) {
	certutil, files := browserKit(t)
	dir := t.TempDir()
	n := serveNetwork(t, Main{Machine: attic(), Static: func() (server.Static, error) { return files, nil }}, dir, 4, "--lan", "--locked", "--demo", "--trust-addr", "127.0.0.1:0")
	url := "https://attic.local:" + n.port
	b := browsertest.Start(t, browsertest.Options{Home: home(t, certutil, filepath.Join(dir, authority.CertificateFile)), Args: []string{"--host-resolver-rules=MAP * 127.0.0.1"}})

	book, err := pairing.Open(dir, time.Now)
	require.NoError(t, err)
	address, err := book.Address()
	require.NoError(t, err)
	require.Equal(t, url, address)
	code, err := book.OpenCode(checklist.Installer)
	require.NoError(t, err)
	require.NoError(t, b.Open(address+"/pair#"+code.Long))
	require.NoError(t, b.Until(`performance.getEntriesByName('usable').length > 0`))
	require.NoError(t, b.Type("#who", "Installer one"))
	require.NoError(t, b.Click(`form[data-form=pair] button`))
	require.NoError(t, b.Until(`location.pathname === '/' && document.querySelector('a.row') !== null`))
	var cookies []*cdpnetwork.Cookie
	require.NoError(t, b.Run(chromedp.ActionFunc(func(ctx context.Context) (err error) {
		cookies, err = cdpnetwork.GetCookies().WithURLs([]string{url}).Do(ctx)
		return err
	})))
	require.Len(t, cookies, 1)
	c := cookies[0]
	assert.Equal(t, "__Host-hangtrue", c.Name)
	assert.True(t, c.Secure && c.HTTPOnly)
	assert.Equal(t, cdpnetwork.CookieSameSiteStrict, c.SameSite)
	assert.Equal(t, "attic.local", c.Domain, "of this host alone")
	assert.InDelta(t, time.Now().Add(pairing.TokenLife).Unix(), c.Expires, 3600, "the browser does not cut its life")

	// A remark, as the phone pushes it; the pages' own way is walked in pwa/browsertest.
	require.NoError(t, b.Open(url+"/jobs/"+demoJob))
	require.NoError(t, b.Until(`document.querySelector('h1')?.innerText.includes('Attic lounge')`))
	list, err := book.List()
	require.NoError(t, err)
	require.Len(t, list.Devices, 1)
	p := &phone{t: t, job: demoJob, id: list.Devices[0].ID, role: checklist.Installer}
	entry := p.make(checklist.RemarkWritten, checklist.Remark{Text: "From a paired browser."})
	send := func(e checklist.Entry) (answer []any) {
		body, err := json.Marshal(map[string]any{"entries": []string{string(e.Bytes())}})
		require.NoError(t, err)
		quoted, err := json.Marshal(string(body))
		require.NoError(t, err)
		require.NoError(t, b.Eval(fmt.Sprintf(`fetch('/api/jobs/%s/entries', { method: 'POST', headers: { 'Content-Type': 'application/json' }, body: %s })
			.then(async (r) => [r.status, r.ok ? (await r.json()).answers[0].record?.accepted ?? false : false])`, demoJob, quoted), &answer))
		return answer
	}
	assert.Equal(t, []any{200.0, true}, send(entry))

	got := command(t, "", "devices", "revoke", list.Devices[0].ID, "--data", dir)
	require.Equal(t, 0, got.code, got.stderr)
	assert.Equal(t, []any{401.0, false}, send(p.make(checklist.RemarkWritten, checklist.Remark{Text: "Too late."})))
	require.NoError(t, b.Open(url+"/you"))
	require.NoError(t, b.Until(`document.querySelector('#say').innerText.includes('Pair it again')`))
	said := n.stop()
	for _, secret := range []string{code.Long, code.Typed, c.Value} {
		assert.NotContains(t, said, secret)
	}
}

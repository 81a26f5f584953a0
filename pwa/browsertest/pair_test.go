package browsertest_test

import (
	"bytes"
	"net"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/seal"
	"hangtrue/pwa/browsertest"
	"hangtrue/server"
	"hangtrue/server/memory"
	"hangtrue/server/pairing"
)

// gated is a server that asks everybody, with the job of [newSite] in it.
func gated(t *testing.T) (url string, k *server.Keeper, book *pairing.Book) {
	key, _, err := seal.GenerateKey(bytes.NewReader(bytes.Repeat([]byte{7}, 64)))
	require.NoError(t, err)
	k, err = server.NewKeeper(memory.New(), key, time.Now)
	require.NoError(t, err)
	for _, r := range newSite(t, "plans/example.json", 2).Records {
		_, _, err := k.Push(jobID, [][]byte{r.Entry.Bytes()})
		require.NoError(t, err)
	}
	book, err = pairing.Open(t.TempDir(), time.Now)
	require.NoError(t, err)
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	app := server.New(server.Options{Keeper: k, Static: index(t), Version: "test", Book: book, Locked: true})
	go func() { _ = app.Listener(l) }() // ends with the test
	t.Cleanup(func() { _ = app.ShutdownWithTimeout(time.Second) })
	return "http://" + l.Addr().String(), k, book
}

// A browser that is a stranger is paired by a link, records a step, is revoked while
// it records another, keeps that, and sends it when it is paired again.
func TestPhoneIsPairedAndRevoked(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	url, keeper, book := gated(t)
	code := func(role checklist.Role) pairing.Code {
		c, err := book.OpenCode(role)
		require.NoError(t, err)
		return c
	}
	require.NoError(t, b.Open(url+"/jobs/"+jobID))
	text, err := b.Text("main")
	require.NoError(t, err)
	assert.Contains(t, text, "This device is not paired")

	first := code(checklist.Installer)
	require.NoError(t, b.Open(url+"/pair#"+first.Long))
	require.NoError(t, b.Until(usable))
	var address string
	require.NoError(t, b.Eval("location.href", &address))
	assert.Equal(t, url+"/pair", address, "the code is not left in the history")
	require.NoError(t, b.Until(`!document.querySelector('#scanned').hidden && document.querySelector('#field-code').hidden`))
	require.NoError(t, b.Type("#who", "Installer one"))
	require.NoError(t, b.Click(`form[data-form=pair] button`))
	require.NoError(t, b.Until(`location.pathname === '/' && document.querySelector('a.row') !== null`))
	var cookies string
	require.NoError(t, b.Eval("document.cookie", &cookies))
	assert.Empty(t, cookies, "no script reads the token")
	list, err := book.List()
	require.NoError(t, err)
	require.Len(t, list.Devices, 1)
	assert.Equal(t, "Installer one", list.Devices[0].Who)

	isolate := func(how string) {
		require.NoError(t, b.Open(url+isolatePath))
		require.NoError(t, b.Until(usable))
		require.NoError(t, b.Eval(`document.querySelectorAll('#page details').forEach((d) => { d.open = true })`, nil)) // a step that is done folds its form
		require.NoError(t, b.Click(`input[name=how][value=`+how+`]`))
		require.NoError(t, b.Click(`form[data-form=record] button[type=submit]`))
	}
	head := func() int64 {
		line, err := keeper.Line(jobID)
		require.NoError(t, err)
		return line.Head
	}
	// arrived waits until the log has grown to n, or more where a page that was drawn
	// anew took a click twice.
	arrived := func(n int64) int64 {
		t.Helper()
		require.Eventually(t, func() bool { return head() >= n }, time.Minute, 20*time.Millisecond)
		require.NoError(t, b.Until(kept("pending")+`.then((left) => !left)`), "and the phone knows it")
		return head()
	}
	isolate("unplugged")
	before := arrived(3)
	records, err := keeper.Records(jobID, 2, 1, 1<<20)
	require.NoError(t, err)
	assert.True(t, records[0].Accepted)
	assert.Equal(t, list.Devices[0].ID, records[0].Entry.Device, "the device that was paired is the one that records")
	assert.Equal(t, checklist.Installer, records[0].Entry.Role, "the role that the code gave")

	require.NoError(t, book.Revoke(list.Devices[0].ID))
	isolate("locked")
	require.NoError(t, b.Until(`document.querySelector('#say').innerText.includes('Pair it again')`))
	require.NoError(t, b.Until(`document.querySelector('#say').innerText.includes('not sent yet')`))
	assert.Equal(t, before, head())

	// The way back that the page about the phone shows, with a code that is typed.
	require.NoError(t, b.Open(url+"/you"))
	require.NoError(t, b.Until(usable))
	require.NoError(t, b.Click(`a[href="/pair"]`))
	require.NoError(t, b.Until(`location.pathname === '/pair' && document.querySelector('#who').value === 'Installer one'`))
	require.NoError(t, b.Type("#code", "2222-2222"))
	again := code(checklist.Installer)
	require.NoError(t, b.Click(`form[data-form=pair] button`))
	require.NoError(t, b.Until(`document.querySelector('#p-form').innerText.includes('This code pairs nothing')`))
	require.NoError(t, b.Eval(`(document.querySelector('#code').value = '')`, new(string)))
	require.NoError(t, b.Type("#code", again.Typed))
	require.NoError(t, b.Click(`form[data-form=pair] button`))
	require.NoError(t, b.Until(`location.pathname === '/'`))
	records, err = keeper.Records(jobID, arrived(before+1)-1, 1, 1<<20)
	require.NoError(t, err)
	assert.True(t, records[0].Accepted, "what was kept was sent")
	assert.Contains(t, string(records[0].Entry.Body), "locked")

	// Unpaired and cleared, it is a stranger that keeps nothing. A second tab that shows the
	// job leaves it, and puts nothing back.
	other := besides(t, b, url+isolatePath)
	require.NoError(t, other.Until(`caches.match('`+isolatePath+`', { cacheName: 'painted' }).then(Boolean)`))
	require.NoError(t, b.Open(url+"/unpair"))
	require.NoError(t, b.Until(`!document.querySelector('#settled').hidden && document.querySelector('#waiting').hidden`))
	require.NoError(t, b.Click(`#settled button`))
	require.NoError(t, b.Until(`location.pathname === '/pair'`))
	require.NoError(t, b.Until(`indexedDB.databases().then((all) => all.length === 0 || Promise.all(all.map(() => new Promise((yes) => {
		const r = indexedDB.open('hangtrue'); r.onsuccess = () => { const none = !r.result.objectStoreNames.contains('records') || r.result.transaction('records').objectStore('records').count();
			if (none === true) yes(true); else none.onsuccess = () => yes(none.result === 0); r.result.close(); } }))).then((empty) => empty.every(Boolean)))`))
	list, err = book.List()
	require.NoError(t, err)
	assert.False(t, list.Devices[0].Revoked.IsZero())
	require.NoError(t, other.Until(`location.pathname === '/pair'`))
	for _, tab := range []*browsertest.Browser{b, other} {
		require.NoError(t, tab.Until(`caches.keys().then((names) => !names.includes('painted'))`), "no page that was seen is kept")
	}
}

// A lead opens pairing and makes a link in the browser; who has the link reads that
// job and cannot record.
func TestPhoneOfALeadLetsOthersIn(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	url, _, book := gated(t)
	c, err := book.OpenCode(checklist.Lead)
	require.NoError(t, err)
	require.NoError(t, b.Open(url+"/pair#"+c.Long))
	require.NoError(t, b.Until(usable))
	require.NoError(t, b.Type("#who", "Lead"))
	require.NoError(t, b.Click(`form[data-form=pair] button`))
	require.NoError(t, b.Until(`location.pathname === '/' && document.querySelector('a.row') !== null`))
	require.NoError(t, b.Offline())

	require.NoError(t, b.Open(url+"/devices"))
	require.NoError(t, b.Until(usable))
	require.NoError(t, b.Click(`form[data-form=pairing] button`))
	require.NoError(t, b.Until(`document.querySelector('#typed-code') !== null`))
	typed, err := b.Text("#typed-code")
	require.NoError(t, err)
	if file := shown("devices"); file != "" {
		require.NoError(t, b.Screenshot(file))
	}
	_, d, err := book.Pair(typed, "018f3c5e-7a10-7000-8000-00000000d009", "another", "")
	require.NoError(t, err)
	assert.Equal(t, checklist.Installer, d.Role)

	require.NoError(t, b.Click(`form[data-form=links] button`))
	require.NoError(t, b.Until(`document.querySelector('#link') !== null`))
	link, err := b.Text("#link")
	require.NoError(t, err)
	require.NoError(t, b.Reload())
	require.NoError(t, b.Until(usable))
	require.NoError(t, b.Until(`document.querySelector('#page').innerText.includes('another, an installer')`))
	require.NoError(t, b.Click(`button[value="`+d.ID+`"]`))
	require.NoError(t, b.Until(`document.querySelector('#page').innerText.includes('Revoked ')`))

	reader := browsertest.Start(t, browsertest.Options{})
	require.NoError(t, reader.Open(link))
	require.NoError(t, reader.Until(usable))
	require.NoError(t, reader.Click(`form[data-form=view] button`))
	require.NoError(t, reader.Until(`location.pathname === '/jobs/`+jobID+`' && document.querySelector('h1')?.innerText.length > 0`))
	require.NoError(t, reader.Until(usable))
	text, err := reader.Text("#page")
	require.NoError(t, err)
	assert.NotContains(t, text, "not paired")
	var status int
	require.NoError(t, reader.Eval(`fetch('/api/jobs/`+jobID+`/entries', { method: 'POST', body: '{"entries":[]}', headers: { 'Content-Type': 'application/json' } }).then((r) => r.status)`, &status))
	assert.Equal(t, 403, status)
	require.NoError(t, reader.Eval(`fetch('/api/devices').then((r) => r.status)`, &status))
	assert.Equal(t, 403, status)
}

package browsertest_test

import (
	"errors"
	"fmt"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/pwa/browsertest"
)

const isolatePath = "/jobs/" + jobID + "/steps/isolate"

// usable is true when the engine has taken the page over.
const usable = `performance.getEntriesByName('usable').length > 0`

// be says on the page about the phone who holds it.
func be(t *testing.T, b *browsertest.Browser, h *house) {
	require.NoError(t, b.Open(h.url("/you")))
	require.NoError(t, b.Until(usable))
	require.NoError(t, b.Until(`document.querySelector('#who') !== null`))
	require.NoError(t, b.Type("#who", "Installer one"))
	require.NoError(t, b.Click(`input[name=role][value=installer]`))
	require.NoError(t, b.Click(`#page button[type=submit]`))
	require.NoError(t, b.Until(`document.querySelector('#who').defaultValue === 'Installer one'`), "the page was drawn again with it")
}

// away takes the phone out of reach of the server and opens a page there that it
// never had open before.
func away(t *testing.T, b *browsertest.Browser, h *house) {
	be(t, b, h)
	require.NoError(t, b.Offline())
	h.kill()
	require.NoError(t, b.Open(h.url(isolatePath)))
	require.NoError(t, b.Until(usable))
}

// save records how the amplifiers are isolated; so many entries wait afterwards.
func save(t *testing.T, b *browsertest.Browser, how string, waiting int) {
	require.NoError(t, b.Click(fmt.Sprintf(`input[name=how][value=%s]`, how)))
	require.NoError(t, b.Click(`form[data-form=record] button[type=submit]`))
	require.NoError(t, b.Until(fmt.Sprintf(`document.querySelector('#say').innerText.includes('%d not sent yet')`, waiting)))
}

// sent sends what waits and gives the log that the server has then.
func sent(t *testing.T, b *browsertest.Browser, h *house) []checklist.Record {
	require.NoError(t, b.Open(h.url("/you")))
	require.NoError(t, b.Click(`[data-act=sync]`))
	require.NoError(t, b.Until(`document.querySelector('#say').innerText.includes('Everything is sent')`))
	records, err := h.keeper.Records(jobID, 0, 100, 1<<20)
	require.NoError(t, err)
	return records
}

func TestPhoneWorksWithoutServer(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	h := newHouse(t, newSite(t, "plans/example.json", 2))
	away(t, b, h)
	require.NoError(t, b.Click(`input[name=how][value=unplugged]`))
	require.NoError(t, b.Until(`document.querySelector('#verdict').innerText !== ''`), "a verdict while typing")
	require.NoError(t, b.Click(`form[data-form=record] button[type=submit]`))
	require.NoError(t, b.Until(`document.querySelector('#say').innerText === 'Saved on this phone. 1 not sent yet.'`))
	require.NoError(t, b.Until(`document.querySelector('#page').innerText.includes('Recorded by Installer one')`))
	var title string
	require.NoError(t, b.Eval("document.title", &title))
	assert.Equal(t, "Isolate the amplifiers · hangtrue", title)

	require.NoError(t, b.Reload())
	require.NoError(t, b.Until(usable))
	text, err := b.Text("#page")
	require.NoError(t, err)
	assert.Contains(t, text, "not sent yet", "a reload without the server keeps it")
	assert.Contains(t, text, "Installer one")
	if file := shown("offline"); file != "" {
		require.NoError(t, b.Screenshot(file))
	}

	h.start()
	records := sent(t, b, h)
	require.Equal(t, 3, len(records))
	assert.True(t, records[2].Accepted)
}

// The document that the phone opens has the page as it was last seen, before any script
// has run; until one listens, nothing can be typed that would be lost.
func TestPhoneShowsLastPageAtOnce(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	h := newHouse(t, newSite(t, "plans/example.json", 2))
	away(t, b, h)
	require.NoError(t, b.Until(fmt.Sprintf(`caches.match(%q, { cacheName: 'painted' })`, isolatePath)))
	require.NoError(t, b.Run(emulation.SetScriptExecutionDisabled(true)))
	require.NoError(t, b.Open(h.url(isolatePath)))
	var seen struct {
		Text, Title string
		Inert       bool
	}
	look := `({ Text: document.querySelector('#page').innerText, Title: document.title, Inert: document.querySelector('#page').inert })`
	require.NoError(t, b.Eval(look, &seen))
	assert.Contains(t, seen.Text, "Isolate the amplifiers")
	assert.Equal(t, "Isolate the amplifiers · hangtrue", seen.Title)
	assert.True(t, seen.Inert)
	require.NoError(t, b.Open(h.url("/jobs/"+jobID+"/sound")))
	require.NoError(t, b.Eval(look, &seen))
	assert.Equal(t, "One moment.", seen.Text, "a page that was never seen")

	require.NoError(t, b.Run(emulation.SetScriptExecutionDisabled(false)))
	require.NoError(t, b.Open(h.url(isolatePath)))
	require.NoError(t, b.Until(usable))
	require.NoError(t, b.Eval(look, &seen))
	assert.False(t, seen.Inert)
	save(t, b, "unplugged", 1)
}

// News that come while a page is drawn do not take its focus: who goes by the keyboard
// stands at its beginning.
func TestPhoneFocusOutlivesNews(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	h := newHouse(t, newSite(t, "plans/example.json", 2))
	away(t, b, h)
	for _, path := range []string{"/jobs/" + jobID, isolatePath, "/jobs/" + jobID + "/wiring"} {
		require.NoError(t, b.Eval(`(() => {
			const other = new BroadcastChannel('hangtrue'); // as another tab tells of entries
			let left = 50;
			const timer = setInterval(() => { other.postMessage({ jobs: [] }); if (--left === 0) clearInterval(timer); }, 1);
		})()`, nil))
		require.NoError(t, b.Follow(path), path)
	}
}

func TestPhoneKeepsTyping(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	h := newHouse(t, newSite(t, "plans/example.json", 2))
	be(t, b, h)
	require.NoError(t, b.Open(h.url("/jobs/"+jobID+"/steps/isolate")))
	require.NoError(t, b.Until(usable))
	require.NoError(t, b.Click(`input[name=how][value=locked]`))
	require.NoError(t, b.Until(kept("drafts")))
	h.kill()
	require.NoError(t, b.Reload())
	require.NoError(t, b.Until(`document.querySelector('input[name=how][value=locked]')?.checked === true`))
	require.NoError(t, b.Until(`document.querySelector('#verdict').innerText !== ''`))
	require.NoError(t, b.Click(`form[data-form=record] button[type=submit]`))
	require.NoError(t, b.Until(`document.querySelector('#say').innerText.includes('1 not sent yet')`))
	var left any
	require.NoError(t, b.Eval(kept("drafts"), &left))
	assert.Equal(t, false, left, "the typed text ends with the entry")
}

// kept is true when a store of the phone has a row.
func kept(store string) string {
	return fmt.Sprintf(`new Promise((yes, no) => { const r = indexedDB.open('hangtrue'); r.onerror = no; r.onsuccess = () => {
		const c = r.result.transaction(%[1]q).objectStore(%[1]q).getAllKeys(); c.onsuccess = () => { r.result.close(); yes(c.result.length > 0 && c.result.join()) } } })`, store)
}

// The server's own pages about who may come in do not leave anybody before the browser's
// page about errors, from which a program on the home screen has no way back.
func TestPhoneGuestPagesOutOfReach(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	h := newHouse(t, newSite(t, "plans/example.json", 2))
	away(t, b, h)
	save(t, b, "unplugged", 1)
	require.NoError(t, b.Click(`a.you`))
	require.NoError(t, b.Click(`a[href="/pair"]`))
	require.NoError(t, b.Until(`location.pathname === '/pair' && document.querySelector('#who')?.value === 'Installer one'`))
	require.NoError(t, b.Type(`#code`, "2222-2222"))
	require.NoError(t, b.Click(`form[data-form=pair] button`))
	require.NoError(t, b.Until(`document.querySelector('#silence')?.checkVisibility()`))
	if file := shown("pair-away"); file != "" {
		require.NoError(t, b.Screenshot(file))
	}
	require.NoError(t, b.Open(h.url("/view#secret")))
	require.NoError(t, b.Until(`document.querySelector('form[data-form=view]') !== null && location.hash === ''`))
	require.NoError(t, b.Open(h.url("/unpair")))
	require.NoError(t, b.Until(`document.querySelector('#waiting')?.checkVisibility() && document.querySelector('#count').innerText === '1'`))
	require.NoError(t, b.Open(h.url("/devices")))
	require.NoError(t, b.Until(usable))
	require.NoError(t, b.Until(`document.querySelector('#page h1') !== null`))
	require.NoError(t, b.Click(`a.home`))
	require.NoError(t, b.Until(`location.pathname === '/' && document.querySelector('a.row') !== null`))
	require.NoError(t, b.Open(h.url("/jobs/"+jobID+"/plan")))
	require.NoError(t, b.Until(`document.querySelector('h1')?.innerText === 'Not on this phone yet'`), "it is there, only not here")
}

// A line that breaks whenever it has carried some records brings all of a job, and all
// that waits, while somebody looks on.
func TestPhoneThinLine(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	h := newHouse(t, newSite(t, "plans/example.json", 150))
	h.thin = 7 << 10
	be(t, b, h)
	require.NoError(t, b.Until(rows("records")+` === 150`))
	h.kill()
	require.NoError(t, b.Open(h.url(isolatePath)))
	require.NoError(t, b.Until(usable))
	for n := range 12 {
		require.NoError(t, b.Eval(`document.querySelectorAll('#page details').forEach((d) => { d.open = true })`, nil)) // a step that is done folds its form
		save(t, b, []string{"unplugged", "locked"}[n%2], n+1)
	}
	h.start()
	require.NoError(t, b.Until(rows("records")+` === 162`))
	require.NoError(t, b.Until(rows("pending")+` === 0`))
}

// What is half typed in one form of a page outlives the saving of another.
func TestPhoneKeepsTypingOfOtherForm(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	h := newHouse(t, newSite(t, "plans/example.json", 2))
	away(t, b, h)
	save(t, b, "unplugged", 1)
	require.NoError(t, b.Eval(`document.querySelectorAll('details').forEach((d) => { d.open = true; })`, nil))
	require.NoError(t, b.Type(`[name=note]`, "half a remark"))
	save(t, b, "locked", 2)
	for range 2 {
		require.NoError(t, b.Until(`document.querySelector('[name=note]')?.value === 'half a remark'`))
		require.NoError(t, b.Until(`document.querySelector('form[data-form=record] input[value=locked]:checked') === null`), "and what was saved is no longer typed")
		require.NoError(t, b.Until(kept("drafts")))
		require.NoError(t, b.Reload())
		require.NoError(t, b.Until(usable))
	}
}

// Two tabs of one phone never use a number twice, and each shows what the other saved.
func TestPhoneTwoTabs(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	h := newHouse(t, newSite(t, "plans/example.json", 2))
	away(t, b, h)
	other := besides(t, b, h.url(isolatePath))

	save(t, other, "live", 1)
	require.NoError(t, b.Until(`document.querySelector('#page').innerText.includes('not sent yet')`))
	save(t, b, "unplugged", 2)

	h.start()
	records := sent(t, b, h)
	require.Equal(t, 4, len(records))
	assert.Equal(t, int64(1), records[2].Entry.Number)
	assert.Equal(t, int64(2), records[3].Entry.Number)
	assert.Empty(t, other.Faults())
}

// besides opens a page in another tab of the same phone.
func besides(t *testing.T, b *browsertest.Browser, url string) *browsertest.Browser {
	other, err := b.Tab(browsertest.Options{})
	require.NoError(t, err)
	t.Cleanup(other.Close)
	require.NoError(t, other.Open(url))
	require.NoError(t, other.Until(usable))
	return other
}

// Two tabs in which somebody saves at the same moment, again and again: the storage takes
// every entry of both, each under a number of its own.
func TestPhoneTwoTabsAtOnce(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	h := newHouse(t, newSite(t, "plans/example.json", 2))
	away(t, b, h)
	other := besides(t, b, h.url(isolatePath))

	const times = 10
	const again = `(async () => {
		for (let n = 1; n <= %d; n++) {
			const form = document.querySelector('form[data-form=record]');
			form.querySelector('input[value=unplugged]').checked = true;
			form.requestSubmit();
			while (performance.getEntriesByName('save').length < n) await new Promise((end) => { setTimeout(end, 1); });
		}
	})()`
	done := make(chan error, 2)
	for _, tab := range []*browsertest.Browser{b, other} {
		go func() { done <- tab.Eval(fmt.Sprintf(again, times), nil) }()
	}
	require.NoError(t, errors.Join(<-done, <-done))

	h.start()
	records := sent(t, b, h)
	require.Len(t, records, 2+2*times)
	for i, r := range records[2:] {
		assert.Equal(t, int64(i+1), r.Entry.Number)
		assert.True(t, r.Accepted, r.Reason)
	}
	assert.Empty(t, append(b.Faults(), other.Faults()...))
}

// What is typed in one tab outlives another tab's saving the same step, whose own typing
// ends with it.
func TestPhoneTabKeepsTypingOfAnother(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	h := newHouse(t, newSite(t, "plans/example.json", 2))
	away(t, b, h)
	other := besides(t, b, h.url(isolatePath))
	require.NoError(t, other.Click(`input[name=how][value=locked]`))
	require.NoError(t, other.Until(kept("drafts")))
	save(t, b, "unplugged", 1)
	require.NoError(t, other.Until(`document.querySelector('[data-act=look]') !== null`))
	require.NoError(t, other.Until(kept("drafts")))
	other.Close()
	require.NoError(t, b.Reload())
	require.NoError(t, b.Until(`document.querySelector('input[name=how][value=locked]')?.checked === true`))
}

// A new version is offered, not forced: what is typed and what waits to be sent
// outlive the change, and the page is never of two versions.
func TestPhoneTakesNewVersion(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	h := newHouse(t, newSite(t, "plans/example.json", 2))
	away(t, b, h)
	save(t, b, "unplugged", 1)

	first := h.index.Version()
	h.index = changed(t)
	second := h.index.Version()
	require.NotEqual(t, first, second)
	// The phone reaches the new server for its files, but cannot send to it yet.
	h.closed = true
	h.start()
	require.NoError(t, b.Reload())
	require.NoError(t, b.Until(`document.querySelector('[data-act=update]') !== null`))
	require.NoError(t, b.Until(fmt.Sprintf(`document.body.dataset.version === %q`, first)), "nothing changes unasked")
	require.NoError(t, b.Eval(`window.sameDocument = true`, nil))
	require.NoError(t, b.Click(`[data-act=update]`))
	require.NoError(t, b.Until(`window.sameDocument === undefined`))
	require.NoError(t, b.Until(usable))
	require.NoError(t, b.Until(fmt.Sprintf(`document.body.dataset.version === %q`, second)))
	require.NoError(t, b.Until(`document.querySelector('#say').innerText.includes('1 not sent yet')`), "what the older storage held is still there")
	var later bool
	require.NoError(t, b.Eval(`indexedDB.databases().then((all) => all.some((d) => d.name === 'hangtrue' && d.version === 5))`, &later))
	require.True(t, later, "the storage is the later edition's")
	require.NoError(t, b.Until(`caches.keys().then((names) => names.filter((name) => name.startsWith('hangtrue-')).length === 1)`), "the old files are gone when nobody uses them")

	h.kill()
	h.closed = false
	h.start()
	records := sent(t, b, h)
	assert.Equal(t, 3, len(records))
}

// A storage as it was when the pages seen last were rows of it: they go, who holds the
// phone stays.
func TestPhoneStorageOfBefore(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	h := newHouse(t, newSite(t, "plans/example.json", 2))
	require.NoError(t, b.Open(h.url("/api/jobs"))) // where no script opens the storage
	require.NoError(t, b.Eval(`new Promise((yes, no) => {
		const r = indexedDB.open('hangtrue', 3);
		r.onerror = no;
		r.onupgradeneeded = () => {
			for (const name of ['meta', 'jobs', 'numbers', 'records', 'snapshots', 'pending', 'strays', 'photos', 'small', 'sending', 'taken', 'painted', 'drafts']) r.result.createObjectStore(name);
			const rows = (name) => r.transaction.objectStore(name);
			rows('meta').put(new TextEncoder().encode('{"id":"01900000-0000-7000-8000-0000000000b1","who":"Installer one","role":"installer"}').buffer, 'device');
			rows('painted').put('<p>as it was seen</p>', '/');
		};
		r.onsuccess = () => { r.result.close(); yes(true); };
	})`, nil))
	require.NoError(t, b.Open(h.url("/you")))
	require.NoError(t, b.Until(usable))
	require.NoError(t, b.Until(`document.querySelector('#who').defaultValue === 'Installer one'`))
	var stores []string
	require.NoError(t, b.Eval(`new Promise((yes) => { const r = indexedDB.open('hangtrue'); r.onsuccess = () => { yes([...r.result.objectStoreNames]); r.result.close(); }; })`, &stores))
	assert.NotContains(t, stores, "painted")
	assert.Contains(t, stores, "pending")
}

// Another tab has gone on to a later program, with a later edition of the storage, while
// somebody types in this one: it can still be saved.
func TestPhoneStorageOfLater(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	h := newHouse(t, newSite(t, "plans/example.json", 2))
	away(t, b, h)
	require.NoError(t, b.Eval(`new Promise((yes, no) => {
		const r = indexedDB.open('hangtrue', 99);
		r.onerror = no;
		r.onupgradeneeded = () => r.result.createObjectStore('later');
		r.onsuccess = () => { r.result.close(); yes(true); };
	})`, nil))
	save(t, b, "unplugged", 1)
	h.start()
	assert.Len(t, sent(t, b, h), 3)
}

// A page that is left open while the server gets a program whose records it cannot read
// says so, and finds the new version by itself: nobody has to reload it.
func TestPhoneFindsNewVersion(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	h := newHouse(t, newSite(t, "plans/example.json", 2))
	away(t, b, h)
	save(t, b, "unplugged", 1)
	h.index, h.later = changed(t), true
	h.start()
	require.NoError(t, b.Eval(`window.sameDocument = true`, nil))
	require.NoError(t, b.Until(`document.querySelector('#say').innerText.includes('1 not sent yet. The server may have a later program than this phone')`))
	require.NoError(t, b.Until(`window.sameDocument && document.querySelector('[data-act=update]') !== null`))

	h.later = false // to the new version it is nothing that it does not know
	require.NoError(t, b.Click(`[data-act=update]`))
	require.NoError(t, b.Until(`window.sameDocument === undefined`))
	require.NoError(t, b.Until(usable))
	assert.Len(t, sent(t, b, h), 3)
}

// The last resort: a worker that takes itself away, and leaves what was recorded.
func TestPhoneWorkerOff(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	h := newHouse(t, newSite(t, "plans/example.json", 2))
	be(t, b, h)
	require.NoError(t, b.Offline())
	h.off = true
	require.NoError(t, b.Eval(`navigator.serviceWorker.getRegistration().then((r) => r.update())`, nil))
	require.NoError(t, b.Until(`caches.keys().then((names) => names.length === 0)`))
	require.NoError(t, b.Open("about:blank"))
	require.NoError(t, b.Open(h.url("/manifest.webmanifest")))
	require.NoError(t, b.Until(`navigator.serviceWorker.getRegistration().then((r) => r === undefined)`))
	var device any
	require.NoError(t, b.Eval(kept("meta"), &device))
	assert.Equal(t, "device", device)
}

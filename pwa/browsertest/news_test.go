package browsertest_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/pwa/browsertest"
)

// What one phone records shows on the page of another, without a touch and long
// before that one would have looked by itself; one stream serves all of its tabs.
func TestPhoneHearsNews(t *testing.T) {
	one, other := browsertest.Start(t, browsertest.Options{}), browsertest.Start(t, browsertest.Options{})
	h := newHouse(t, newSite(t, "plans/example.json", 2))
	be(t, one, h)
	be(t, other, h)
	for _, b := range []*browsertest.Browser{one, other} {
		require.NoError(t, b.Open(h.url(isolatePath)))
		require.NoError(t, b.Until(usable))
		require.NoError(t, b.Until(`document.querySelector('input[name=how][value=unplugged]') !== null`))
	}
	tab, err := other.Tab(browsertest.Options{})
	require.NoError(t, err)
	t.Cleanup(tab.Close)
	require.NoError(t, tab.Open(h.url(isolatePath)))
	require.NoError(t, tab.Until(usable))
	require.NoError(t, tab.Until(`document.querySelector('input[name=how][value=unplugged]') !== null`))
	held := `navigator.locks.query().then(({ held }) => held.filter((lock) => lock.name === 'hangtrue-news').length === 1)`
	require.NoError(t, tab.Until(held), "one tab listens for all")

	// Both pages note when the entry shows, on the one clock of this machine.
	shown := `(() => { window.seen = 0; new MutationObserver(() => {
		if (!window.seen && document.querySelector('#page').innerText.includes('Recorded by Installer one')) window.seen = Date.now();
	}).observe(document.body, { childList: true, subtree: true, characterData: true }) })()`
	for _, b := range []*browsertest.Browser{one, other, tab} {
		require.NoError(t, b.Eval(shown, nil))
	}
	require.NoError(t, one.Click(`input[name=how][value=unplugged]`))
	require.NoError(t, one.Click(`form[data-form=record] button[type=submit]`))
	at := func(b *browsertest.Browser) time.Time {
		require.NoError(t, b.Until(`window.seen`))
		var ms int64
		require.NoError(t, b.Eval(`window.seen`, &ms))
		return time.UnixMilli(ms)
	}
	saved := at(one)
	for name, b := range map[string]*browsertest.Browser{"another phone": other, "its other tab": tab} {
		took := at(b).Sub(saved)
		t.Logf("%s showed the entry %v after the phone that recorded it", name, took)
		assert.Less(t, took, 10*time.Second, "%s: not by its own look at the server", name)
	}
}

// inSight is true when an element is on the screen, whole, and nothing lies over it.
func inSight(selector string) string {
	return fmt.Sprintf(`(() => { const e = document.querySelector(%q); if (!e?.checkVisibility()) return false;
		const r = e.getBoundingClientRect(); const over = document.elementFromPoint(r.x + r.width / 2, r.y + r.height / 2);
		return r.top >= 0 && r.bottom <= innerHeight && (e.contains(over) || over?.contains(e)); })()`, selector)
}

// Somebody else records the step that a form is being filled in for. Whoever fills it in
// is told where they are looking, and nothing is taken from them; what changes beside
// the step is not told.
func TestPhoneTellsOfChangesWhileTyping(t *testing.T) {
	one, other := browsertest.Start(t, browsertest.Options{}), browsertest.Start(t, browsertest.Options{})
	h := newHouse(t, newSite(t, "plans/example.json", 2))
	for _, b := range []*browsertest.Browser{one, other} {
		be(t, b, h)
		require.NoError(t, b.Open(h.url(isolatePath)))
		require.NoError(t, b.Until(usable))
	}
	require.NoError(t, other.Resize(390, 500)) // as with a keyboard on the screen
	require.NoError(t, other.Click(`input[name=how][value=locked]`))
	require.NoError(t, other.Eval(`scrollTo(0, document.body.scrollHeight)`, nil))
	require.NoError(t, other.Until(`!`+inSight(`#say`)))

	require.NoError(t, one.Click(`input[name=how][value=unplugged]`))
	require.NoError(t, one.Click(`form[data-form=record] button[type=submit]`))
	require.NoError(t, other.Until(inSight(`#say [data-act=look]`)))
	require.NoError(t, other.Until(`document.querySelector('#page h1 + .chip').innerText.includes('ready') && document.querySelector('input[name=how][value=locked]').checked`), "nothing is drawn anew unasked")
	if file := shown("changed"); file != "" {
		require.NoError(t, other.Screenshot(file))
	}
	require.NoError(t, other.Click(`[data-act=look]`))
	require.NoError(t, other.Until(`document.querySelector('#page').innerText.includes('Recorded by Installer one')`))
	require.NoError(t, other.Until(`document.querySelector('[data-act=look]') === null && document.querySelector('input[name=how][value=locked]').checkVisibility() && document.querySelector('input[name=how][value=locked]').checked`), "what was chosen stays")

	require.NoError(t, one.Eval(`document.querySelector('form[data-form=remark]').closest('details').open = true`, nil))
	require.NoError(t, one.Type(`#f-note`, "the key is with me"))
	require.NoError(t, one.Click(`form[data-form=remark] button[type=submit]`))
	require.NoError(t, other.Until(`new Promise((yes, no) => { const r = indexedDB.open('hangtrue'); r.onerror = no; r.onsuccess = () => {
		const c = r.result.transaction('records').objectStore('records').count(); c.onsuccess = () => { r.result.close(); yes(c.result === 4) } } })`))
	require.NoError(t, other.Click(`[data-form=record] input[name=how][value=live]`))
	require.NoError(t, other.Until(`document.querySelector('#verdict').innerText.includes('outside')`))
	require.NoError(t, other.Until(`document.querySelector('[data-act=look]') === null`), "a remark changes nothing that is typed for")
}

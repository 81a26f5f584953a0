package browsertest_test

import (
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

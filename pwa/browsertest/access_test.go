package browsertest_test

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"net/http"
	"net/http/httptest"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/pwa/browsertest"
	"hangtrue/server/authority"
	"hangtrue/server/reach"
)

const axeFile = "node_modules/axe-core/axe.min.js"

// off are the rules of axe-core that are not asked, with the reason. One more, about
// style sheets that hold a page upright, does not run without loading them again.
var off = map[string]string{
	"duplicate-id":            "out of use since WCAG 2.2 took 4.1.1 away; ids that something refers to are asked about by duplicate-id-aria",
	"color-contrast-enhanced": "level AAA; 1.4.3 (AA) is what holds here, and TestStyle_Contrast holds it for every pair of colours",
}

// newAxe is axe-core as package.json pins it; without it the test is passed over, or
// fails where browsers are required.
func newAxe(t testing.TB) browsertest.Axe {
	source, err := os.ReadFile(axeFile)
	if errors.Is(err, fs.ErrNotExist) {
		const says = "axe-core is not here: run npm ci in pwa/browsertest"
		if browsertest.Required() {
			t.Fatal(says)
		}
		t.Skip(says)
	}
	require.NoError(t, err)
	a := browsertest.Axe{Source: string(source)}
	for rule := range off {
		a.Off = append(a.Off, rule)
	}
	return a
}

// A screen is how a page is looked at.
type screen struct {
	name          string
	width, height int
	dark          bool
	// only are the rules asked; the others do not look at what differs from the
	// screens where all are asked.
	only []string
}

// whole tells whether everything is looked at on a screen.
func (s screen) whole() bool { return s.only == nil }

var screens = []screen{
	{name: "phone", width: 360, height: 780},
	{name: "phone, dark", width: 360, height: 780, dark: true, only: []string{"color-contrast", "link-in-text-block"}},
	{name: "laptop, dark", width: 1280, height: 800, dark: true},
	{name: "laptop", width: 1280, height: 800, only: []string{"color-contrast", "link-in-text-block"}},
}

// inspector looks at pages and tells the test what is wrong with them.
type inspector struct {
	t   *testing.T
	b   *browsertest.Browser
	axe browsertest.Axe

	pages int
}

func (i *inspector) must(err error) { i.t.Helper(); require.NoError(i.t, err) }

func (i *inspector) report(where string) func([]string, error) {
	return func(wrong []string, err error) {
		i.t.Helper()
		i.must(err)
		for n, w := range wrong {
			if n == 4 {
				i.t.Errorf("%s: and %d more", where, len(wrong)-n)
				break
			}
			i.t.Errorf("%s: %s", where, w)
		}
	}
}

// look looks at the page that is open: first by the keyboard, which opens everything
// that is folded, then on every screen.
func (i *inspector) look(where string, keyboard bool) {
	i.t.Helper()
	i.pages++
	b := i.b
	i.must(b.Show(360, 780, false))
	i.must(b.Examine())
	if keyboard {
		tell := i.report(where + " by keyboard")
		tell(b.OpenAll(2))
		tell(b.Buttons())
		tell(b.TabThrough())
	}
	for _, s := range screens {
		if !keyboard && !s.whole() {
			continue // the same elements, as the style sheet has them, were seen there
		}
		i.must(b.Show(s.width, s.height, s.dark))
		tell := i.report(where + " on a " + s.name)
		tell(i.axe.Run(b, s.only...))
		if file := shown("pages/" + strings.Trim(strings.NewReplacer("/", "_", " ", "_", ",", "").Replace(ids.ReplaceAllString(where, "")+"_"+s.name), "_")); file != "" {
			i.must(b.Screenshot(file))
		}
		if s.whole() {
			tell(b.Wrong("fit"))
			tell(b.Wrong("touch"))
		}
	}
}

// get is what the server answers to who has no scripts.
func get(t *testing.T, url string) (markup string, ok bool) {
	answer, err := http.Get(url)
	require.NoError(t, err)
	defer answer.Body.Close()
	data, err := io.ReadAll(answer.Body)
	require.NoError(t, err)
	return string(data), strings.HasPrefix(answer.Header.Get("Content-Type"), "text/html")
}

// ready is true when a page is as it stays: a page with scripts, when they took it over.
const ready = `document.readyState === 'complete' && (!document.scripts.length || (` + usable + ` && document.querySelector('#page h1') !== null))`

// Every kind of page that can be reached, in light and dark, on a phone and on a
// laptop, by touch and by keyboard: with the phone's own program, as the server has it
// for who has no scripts, and for who may not come in.
func TestEveryPage(t *testing.T) {
	axe := newAxe(t)
	b := browsertest.Start(t, browsertest.Options{Width: 360, Height: 780})
	w := newTown(t)
	i := &inspector{t: t, b: b, axe: axe}
	plain := i.everywhere(w)
	i.withoutScripts(w, plain)
	i.strangers(w)
}

// lead makes the phone a lead's and waits until it has all of the jobs.
func lead(t *testing.T, b *browsertest.Browser, w town) {
	require.NoError(t, b.Open(w.url+"/you"))
	require.NoError(t, b.Until(usable))
	require.NoError(t, b.Until(`document.querySelector('#who') !== null`))
	require.NoError(t, b.Type("#who", "Lead one"))
	require.NoError(t, b.Click(`input[name=role][value=lead]`))
	require.NoError(t, b.Click(`#page button[type=submit]`))
	require.NoError(t, b.Until(`document.querySelector('#who').defaultValue === 'Lead one'`))
	require.NoError(t, b.Offline())
	require.NoError(t, b.Until(`document.querySelector('#say').innerText.includes('Everything')`))
}

// everywhere goes through the pages by their links, as a lead. It gives the pages that
// the server has otherwise.
func (i *inspector) everywhere(w town) (plain *browsertest.Crawl) {
	t, b := i.t, i.b
	lead(t, b, w)
	crawl := browsertest.Crawl{Word: w.word, Fetch: func(path string) (string, bool) {
		if strings.Contains(path, "-letter.") {
			return "", false // the same on sheets of another size
		}
		return get(t, w.url+path)
	}}
	plain = &browsertest.Crawl{Word: w.word}
	// Beside the first page these are the ones that no page leads to.
	crawl.Add("/", "/nowhere", "/jobs/nowhere", "/view")
	began, seen := time.Now(), map[string]bool{}
	for path, ok := crawl.Next(); ok; path, ok = crawl.Next() {
		require.NoError(t, b.Follow(path))
		require.NoError(t, b.Until(ready), path)
		i.look(path, true)
		links, err := b.Links()
		require.NoError(t, err)
		crawl.Add(links...)
		seen[crawl.Pattern(path)] = true
		if path == "/" {
			i.skips()
		}
		var same bool
		require.NoError(t, b.Eval(`fetch(location.pathname).then((r) => r.text()).then((text) => new DOMParser().parseFromString(text, 'text/html').querySelector('#page')?.innerHTML === document.querySelector('#page')?.innerHTML)`, &same))
		if !same {
			plain.Add(path)
		}
	}
	t.Logf("%d pages of %d patterns in %s", i.pages, len(seen), time.Since(began).Round(time.Second))
	for _, want := range []string{"/", "/you", "/devices", "/pair", "/unpair", "/view", "/nowhere", "/jobs/*", "/jobs/*/record", "/jobs/*/wiring", "/jobs/*/rack", "/jobs/*/sound",
		"/jobs/*/walls/*", "/jobs/*/mounts/*", "/jobs/*/mounts/*/mark", "/jobs/*/mounts/*/polarity", "/jobs/*/steps/sign",
		"/jobs/*/plan", "/jobs/*/plan/mount/*", "/jobs/*/plan/surface/*", "/jobs/*/paper", "/jobs/*/paper/mark-out-a4.html", "/jobs/*/drawings", "/jobs/*/parts", "/jobs/*/shelf", "/jobs/*/photos/*"} {
		assert.True(t, seen[want], "the crawl came to %s", want)
	}
	return plain
}

// skips follows the link that leaves the top of the page out.
func (i *inspector) skips() {
	require.NoError(i.t, i.b.Eval(`examine.tabs()`, nil))
	require.NoError(i.t, i.b.Press("Tab", 1))
	var at string
	require.NoError(i.t, i.b.Eval(`document.activeElement.matches('.skip') && document.activeElement.getBoundingClientRect().left >= 0 ? 'shown' : examine.focused()`, &at))
	assert.Equal(i.t, "shown", at, "the first stop, in sight while it has the focus")
	require.NoError(i.t, i.b.Press("Enter", 1))
	require.NoError(i.t, i.b.Press("Tab", 1))
	require.NoError(i.t, i.b.Eval(`document.activeElement.closest('main') ? 'main' : examine.focused()`, &at))
	assert.Equal(i.t, "main", at, "the next stop is in the page")
}

// withoutScripts sees pages as the server makes them. They come from the same server
// under another name, where no service worker is.
func (i *inspector) withoutScripts(w town, crawl *browsertest.Crawl) {
	t, b := i.t, i.b
	before := i.pages
	for path, ok := crawl.Next(); ok; path, ok = crawl.Next() {
		require.NoError(t, b.Run(emulation.SetScriptExecutionDisabled(true)))
		require.NoError(t, b.Open(w.other+path))
		// What looks at the page is a script too; the page's own are passed over by now.
		require.NoError(t, b.Run(emulation.SetScriptExecutionDisabled(false)))
		var on bool
		require.NoError(t, b.Eval(usable, &on))
		require.False(t, on, "the page's scripts are off")
		i.look(path+" without scripts", false)
	}
	require.Greater(t, i.pages, before+10, "steps have no forms there")
}

// strangers sees the pages of who is not paired, not paired for this, or about to
// trust the server.
func (i *inspector) strangers(w town) {
	t, b := i.t, i.b
	locked := "http://127.0.0.1:" + w.listen(t, true)
	require.NoError(t, b.Open(locked+"/jobs"))
	require.NoError(t, b.Until(usable))
	text, err := b.Text("main")
	require.NoError(t, err)
	assert.Contains(t, text, "not paired")
	i.look("401", true)
	code, err := w.book.OpenCode(checklist.Installer)
	require.NoError(t, err)
	require.NoError(t, b.Open(locked+"/pair#"+code.Long))
	require.NoError(t, b.Until(usable))
	require.NoError(t, b.Until(`!document.querySelector('#scanned').hidden`))
	i.look("pairing by a link", true)
	require.NoError(t, b.Type("#who", "Installer one"))
	require.NoError(t, b.Click(`form[data-form=pair] button`))
	require.NoError(t, b.Until(`location.pathname === '/' && document.querySelector('a.row') !== null`))
	require.NoError(t, b.Open(locked+"/devices"))
	require.NoError(t, b.Until(usable))
	text, err = b.Text("main")
	require.NoError(t, err)
	assert.Contains(t, text, "takes a lead")
	i.look("403", true)

	// The server's owner sees who is paired, a code and a link.
	require.NoError(t, b.Open(w.other+"/devices"))
	require.NoError(t, b.Until(usable))
	require.NoError(t, b.Click(`form[data-form=pairing] button`))
	require.NoError(t, b.Until(`document.querySelector('#typed-code') !== null`))
	require.NoError(t, b.Click(`form[data-form=links] button`))
	require.NoError(t, b.Until(`document.querySelector('#link') !== null`))
	i.look("devices, a code and a link shown", true)

	a, err := authority.Open(t.TempDir(), []string{"attic"}, time.Now())
	require.NoError(t, err)
	trust := httptest.NewServer(reach.TrustPage(reach.Trust{Authority: a, Port: "8470", Answers: func(string) bool { return false }, Best: func() string { return "192.168.1.5" }}))
	defer trust.Close()
	require.NoError(t, b.Open(trust.URL))
	i.look("trust", true)
}

var ids = regexp.MustCompile(`0190[0-9a-f]*-[0-9a-f-]*`)

// The pages that people print: black on white, whatever they prefer on a screen,
// without what is there to be pressed, and nothing cut off at the sheet's edge. Paper
// made for its size is another test's, see paper_test.go.
func TestPagesOnPaper(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	w := newTown(t)
	lead(t, b, w)
	const printable = 718 // CSS pixels: A4 with margins of 10 mm, 190 mm at 96 to the inch
	for _, page := range []struct{ name, path string }{
		{"job", "/jobs/" + midwayJob},
		{"wall", "/jobs/" + midwayJob + "/walls/front"},
		{"mount", "/jobs/" + midwayJob + "/mounts/M+030"},
		{"mark", "/jobs/" + midwayJob + "/mounts/U-045/mark"},
		{"wiring", "/jobs/" + midwayJob + "/wiring"},
		{"record", "/jobs/" + finishedJob + "/record"},
	} {
		require.NoError(t, b.Paper(printable))
		require.NoError(t, b.Open(w.url+page.path))
		require.NoError(t, b.Until(ready), page.name)
		require.NoError(t, b.Examine())
		wrong, err := b.Wrong("printed")
		require.NoError(t, err)
		assert.Empty(t, wrong, page.name)
		pdf, err := b.PDF()
		require.NoError(t, err)
		assert.True(t, bytes.HasPrefix(pdf, []byte("%PDF-")), page.name)
		if file := shown("paper/" + page.name); file != "" {
			require.NoError(t, b.Screenshot(file))
			require.NoError(t, os.WriteFile(strings.TrimSuffix(file, "png")+"pdf", pdf, 0o644))
		}
	}
}

// A page with one fault of each kind, and what has to be said about it. Without its
// faults nothing is said.
func TestInspectorFindsFaults(t *testing.T) {
	axe := newAxe(t)
	b := browsertest.Start(t, browsertest.Options{Width: 360, Height: 780})
	var body string
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/html; charset=utf-8")
		_, _ = io.WriteString(w, body) // the browser may have gone on
	}))
	defer server.Close()
	const sound = `<!DOCTYPE html><html lang="en"><head><meta name="viewport" content="width=device-width"><title>Faults</title><style>
		body { font: 16px/1.5 sans-serif; margin: 0; background: #fff; color: #000 } :focus-visible { outline: 3px solid #00f }
		button, summary { display: inline-block; min-width: 48px; min-height: 48px; font-size: 16px } .far { margin-top: 2000px }
		svg { display: block }
		</style></head><body><main><h1>Faults</h1><p>Text.</p><button type="button">Press</button><details><summary>More</summary><p>Folded</p></details><!--here--></main></body></html>`
	for _, row := range []struct{ name, fault, says string }{
		{"none", "", ""},
		{"contrast", `<p style="color: #aaa">pale</p>`, "color-contrast"},
		{"a field without a label", `<input type="text" style="min-width: 48px; min-height: 48px; font-size: 16px">`, "label"},
		{"a button without a name", `<button type="button"></button>`, "button-name"},
		{"a picture without a text", `<img src="data:image/gif;base64,R0lGODlhAQABAAAAACH5BAEKAAEALAAAAAABAAEAAAICTAEAOw==">`, "image-alt"},
		{"a heading left out", `<h4>Deep</h4>`, "heading-order"},
		{"wider than the screen", `<div style="width: 500px">wide</div>`, "reaches from"},
		{"moved sideways without a name", `<div style="overflow-x: auto"><div style="width: 500px">wide</div></div>`, "is no region with a name"},
		{"cut off", `<div style="width: 50px; height: 30px; overflow: hidden; white-space: nowrap">much too long</div>`, "is cut off"},
		{"spilled", `<div style="width: 50px; white-space: nowrap">much too long</div>`, "spills out of its box"},
		{"a choice cut off", `<label>Of <select style="width: 60px; min-height: 48px; font-size: 16px"><option>much too long to read</option></select></label>`, "cuts off its option"},
		{"small text", `<p style="font-size: 11px">small</p>`, "11 pixels high"},
		{"small text in a drawing", `<svg width="100" height="100" viewBox="0 0 200 200" role="img" aria-label="d"><text x="10" y="50" font-size="20">small</text></svg>`, "10 pixels high"},
		{"text out of a drawing", `<svg width="100" height="100" viewBox="0 0 100 100" role="img" aria-label="d"><text x="80" y="50" font-size="20">outside</text></svg>`, "runs out of its drawing"},
		{"a small target", `<button type="button" style="min-height: 20px; height: 20px">Low</button>`, "Low"},
		{"links too near", `<p>Read <a href="/a">a</a> <a href="/b">b</a> now.</p>`, "is too near to"},
		{"not reached", `<button type="button" tabindex="-1">Away</button>`, "is not reached by Tab"},
		{"out of order", `<button type="button" tabindex="1">First</button>`, "tabindex"},
		{"a trap", `<button type="button" onkeydown="event.key === 'Tab' && event.preventDefault()">Trap</button><button type="button">Behind</button>`, "Trap"},
		{"the focus does not show", `<button type="button" style="outline: none">Plain</button>`, "does not show it"},
		{"the focus is covered", `<div style="position: fixed; inset: 0; background: #fff">over</div><button type="button">Under</button>`, "has the focus behind"},
		{"text under what stays in sight", `<div><div style="position: sticky; top: 0; height: 900px; background: #fff"></div><p>Under</p><div style="height: 900px"></div></div>`, "lies under"},
		{"keys that do nothing", `<button type="button" onkeydown="event.preventDefault()">Deaf</button>`, `was clicked 0 times by the key "Enter"`},
		{"folded for good", `<details><summary onkeydown="event.preventDefault()">Shut</summary><p>Folded</p></details>`, `does not heed the key`},
	} {
		body = strings.Replace(sound, "<!--here-->", row.fault, 1)
		require.NoError(t, b.Open(server.URL))
		require.NoError(t, b.Show(360, 780, false))
		require.NoError(t, b.Examine())
		var all []string
		collect := func(wrong []string, err error) {
			require.NoError(t, err, row.name)
			all = append(all, wrong...)
		}
		collect(b.OpenAll(2))
		collect(b.Buttons())
		collect(b.TabThrough())
		collect(axe.Run(b))
		collect(b.Wrong("fit"))
		collect(b.Wrong("touch"))
		if row.says == "" {
			assert.Empty(t, all, row.name)
			continue
		}
		assert.Contains(t, strings.Join(all, "\n"), row.says, row.name)
	}
}

// What a page on paper must not be.
func TestInspectorFindsFaultsOnPaper(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	for _, row := range []struct{ name, body, says string }{
		{"nothing wrong", `<p>Text</p>`, ""},
		{"dark", `<style>html { background: #222; color: #fff }</style><p>Text</p>`, "is not white"},
		{"pale", `<p style="color: #999">Text</p>`, "is too pale"},
		{"navigation", `<nav><a href="/">Jobs</a></nav>`, "is of no use on paper"},
		{"a button", `<button>Press</button>`, "is of no use on paper"},
		{"a table that is cut", `<div style="overflow-x: auto; width: 100px"><table><tr><td style="min-width: 200px">wide</td></tr></table></div>`, "is cut off"},
		{"wider than the sheet", `<div style="width: 900px">wide</div>`, "wide on a sheet of"},
	} {
		require.NoError(t, b.Open("about:blank"))
		require.NoError(t, b.Paper(718))
		require.NoError(t, b.Eval("document.body.innerHTML = "+strconv.Quote(row.body), nil))
		require.NoError(t, b.Examine())
		wrong, err := b.Wrong("printed")
		require.NoError(t, err)
		if row.says == "" {
			assert.Empty(t, wrong, row.name)
			continue
		}
		assert.Contains(t, strings.Join(wrong, "\n"), row.says, row.name)
	}
}

package main_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"hangtrue/pwa/browsertest"
)

// planner is somebody who makes a plan at a table, and how much that takes.
type planner struct {
	phone
	taps, typed, keys int // taps; fields typed into; keys pressed in them
}

// tap taps what a person would: a link, a button, a summary, by its words.
func (p *planner) tap(selector, words string) {
	p.t.Helper()
	mark := fmt.Sprintf(`(() => {
		document.querySelector('[data-aim]')?.removeAttribute('data-aim');
		const found = [...document.querySelectorAll(%q)].find((e) => e.checkVisibility() && e.innerText.includes(%q));
		found?.setAttribute('data-aim', '');
		return found !== undefined;
	})()`, selector, words)
	var err error
	for range 3 { // the page may be drawn again between finding and tapping
		p.must(p.Until(mark))
		if err = p.Click("[data-aim]"); err == nil {
			break
		}
	}
	p.must(err)
	p.taps++
}

// write types into fields by their names, in the place of what stands there.
func (p *planner) write(fields ...string) {
	p.t.Helper()
	for i := 0; i < len(fields); i += 2 {
		name, text := fields[i], fields[i+1]
		p.unfold(name)
		selector := fmt.Sprintf("#page [name=%q]", name)
		p.must(p.Click(selector))
		p.must(p.Eval(fmt.Sprintf("(document.querySelector(%q).select(), true)", selector), new(bool)))
		p.must(p.Browser.Keys(text))
		p.typed, p.keys = p.typed+1, p.keys+len(text)
	}
}

// unfold opens what a field is folded away in.
func (p *planner) unfold(name string) {
	p.t.Helper()
	selector := fmt.Sprintf("#page [name=%q]", name)
	p.must(p.Until(fmt.Sprintf("document.querySelector(%q) !== null", selector)))
	var folded int
	p.must(p.Eval(fmt.Sprintf(`(() => {
		let n = 0;
		for (let d = document.querySelector(%q).closest('details'); d; d = d.parentElement.closest('details')) if (!d.open) { d.open = true; n++; }
		return n;
	})()`, selector), &folded))
	p.taps += folded
}

// choose picks an option of a list.
func (p *planner) choose(fields ...string) {
	p.t.Helper()
	for i := 0; i < len(fields); i += 2 {
		p.unfold(fields[i])
		p.must(p.Eval(fmt.Sprintf(`(() => {
			const select = document.querySelector('#page select[name=%q]');
			select.value = %q;
			if (select.value !== %q) throw new Error('no such option: ' + [...select.options].map((o) => o.value));
			select.dispatchEvent(new Event('input', {bubbles: true}));
			return true;
		})()`, fields[i], fields[i+1], fields[i+1]), new(bool)))
		p.taps += 2
	}
}

// save presses the form's button and waits until it is said to be saved.
func (p *planner) save() {
	p.t.Helper()
	var before string
	p.must(p.Eval("location.pathname", &before))
	p.tap("#page form button[type=submit]", "")
	p.must(p.Until(`document.querySelector('#say').innerText.includes('aved') || [...document.querySelectorAll('.problem')].some((e) => e.innerText)`))
	var problems string
	p.must(p.Eval(`[...document.querySelectorAll('.problem')].filter((e) => e.innerText).map((e) => e.id + ': ' + e.innerText).join('\n')`, &problems))
	require.Empty(p.t, problems, before)
}

// A person with a notebook makes a plan of a small room on a phone, from an empty folder.
func TestPlanFromNothing(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	s := newServer(t, build(t))
	s.flags = nil
	s.start()
	p := &planner{phone: phone{Browser: b, t: t, s: s}}
	p.must(p.Resize(390, 844))

	p.must(p.Browser.Open(s.url("/")))
	p.must(p.Until(`performance.getEntriesByName('usable').length > 0`))
	p.tap("a.you", "You")
	p.write("who", "Owner")
	p.tap("label", "Lead")
	p.tap("button", "Keep this")
	p.tap("a", "To the jobs")
	p.tap("summary", "Open a new job")
	p.write("title", "Room on the first floor")
	p.shot("plan-00-open")
	p.save()
	p.says("nothing is settled yet")
	p.shot("plan-01-plan")

	p.tap("a.next", "")
	p.says("Layout")
	p.write("title", "Nine in a room under the roof")
	p.choose("layout", "4+5+0")
	p.shot("plan-02-about")
	p.save()

	p.tap("a.next", "Room")
	p.write("width_m", "4.6", "length_m", "3.9", "height_m", "2.5")
	p.shot("plan-03-room")
	p.save()

	p.tap("a.next", "Listening")
	p.write("ear_m/0", "2.3", "ear_m/1", "1.3", "ear_m/2", "1.1")
	p.shot("plan-04-listening")
	p.save()
	p.shot("plan-05-plan")

	p.finished()
}

// finished says what it took.
func (p *planner) finished() {
	p.t.Logf("%d taps, %d fields typed into, %d keys", p.taps, p.typed, p.keys)
	var list struct {
		Jobs []struct{ ID, Title string } `json:"jobs"`
	}
	require.NoError(p.t, json.Unmarshal(p.s.get("/api/jobs"), &list))
	require.Len(p.t, list.Jobs, 1)
	require.False(p.t, strings.Contains(list.Jobs[0].Title, "/"))
}

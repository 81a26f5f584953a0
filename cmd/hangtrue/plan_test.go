package main_test

import (
	"bytes"
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
	// The way to the element, not the element: the page may be drawn again at any time.
	way := fmt.Sprintf(`(() => {
		let e = [...document.querySelectorAll(%q)].find((e) => e.checkVisibility() && e.innerText.includes(%q));
		if (!e) return '';
		let way = '';
		for (; e !== document.body; e = e.parentElement) way = ' > :nth-child(' + ([...e.parentElement.children].indexOf(e) + 1) + ')' + way;
		return 'body' + way;
	})()`, selector, words)
	p.must(p.Until(way + " !== ''"))
	var found string
	p.must(p.Eval(way, &found))
	p.must(p.Click(found))
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
	var saves int
	const saved = "performance.getEntriesByName('save').length"
	p.must(p.Eval(saved, &saves))
	p.tap("#page form button[type=submit]", "")
	p.must(p.Until(fmt.Sprintf("%s > %d", saved, saves)))
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

	p.tap("a.row", "Add: shape")
	p.write("name", "slope", "knee_m", "1.4", "reach_m", "1.3")
	p.choose("kind", "slope", "wall", "left")
	p.shot("plan-06-slope")
	p.save()

	p.tap("a.row", "Rear wall")
	p.choose("construction/kind", "studs")
	p.write("lining_m", "12.5", "construction/spacing_m", "625", "construction/first_m", "300", "construction/width_m", "60", "construction/depth_m", "120", "construction/species", "C24",
		"openings/0/name", "door", "openings/0/along_m", "0.4", "openings/0/up_m", "0", "openings/0/width_m", "0.9", "openings/0/height_m", "2.05")
	p.shot("plan-07-rear")
	p.save()
	p.tap("a", "Plan")
	p.tap("a.row", "Right wall")
	p.choose("construction/kind", "masonry")
	p.write("openings/0/name", "window", "openings/0/along_m", "1.2", "openings/0/up_m", "0.9", "openings/0/width_m", "1.2", "openings/0/height_m", "1.1")
	p.save()
	for _, name := range []string{"Front wall", "Left wall"} {
		p.tap("a", "Plan")
		p.tap("a.row", name)
		p.choose("construction/kind", "masonry")
		p.save()
	}
	p.tap("a", "Plan")
	p.tap("a.row", "Ceiling")
	p.choose("construction/kind", "concrete")
	p.save()
	p.tap("a", "Plan")

	p.tap("a.next", "Loudspeaker")
	p.write("name", "Small A", "mass_kg", "4.2", "size/width_m", "160", "size/height_m", "260", "size/depth_m", "170", "reach_m", "130", "centre_of_mass_out_m", "85",
		"power_w", "80", "sensitivity_db", "86", "rated_impedance_ohm", "8", "least_impedance_ohm", "6.4")
	p.shot("plan-08-loudspeaker")
	p.save()
	p.tap("a.row", "Add: loudspeaker")
	p.write("name", "Subwoofer A", "mass_kg", "18", "size/width_m", "380", "size/height_m", "400", "size/depth_m", "380", "reach_m", "0", "centre_of_mass_out_m", "0", "power_w", "250")
	p.choose("kind", "subwoofer")
	p.tap("label", "It has its own amplifier")
	p.save()
	p.tap("a.next", "Bracket")
	p.write("name", "Swivel bracket", "mass_kg", "0.7", "rated_load_kg", "10", "pivot_out_m", "70", "swing_min_deg", "-60", "swing_max_deg", "60", "tilt_min_deg", "-60", "tilt_max_deg", "60",
		"plate_m", "4", "lower_edge_m", "30", "side_edge_m", "20",
		"holes_m/0/0", "0", "holes_m/0/1", "0", "holes_m/1/0", "0", "holes_m/1/1", "60")
	p.shot("plan-09-bracket")
	p.save()
	p.tap("a.next", "Fixing")
	p.write("name", "Wall plug 8", "length_m", "60", "pilot_m", "8", "rated_load_n", "700", "factor", "3")
	p.choose("kind", "rated", "base", "masonry")
	p.save()
	p.tap("a.row", "Add: fixing")
	p.write("name", "Concrete anchor 8", "length_m", "60", "pilot_m", "8", "rated_load_n", "1500", "factor", "3")
	p.choose("kind", "rated", "base", "concrete")
	p.save()
	p.tap("a.row", "Add: fixing")
	p.write("name", "Stud screw", "size", "6 mm", "length_m", "70", "pilot_m", "4")
	p.choose("kind", "metric wood screw")
	p.save()
	p.tap("a.next", "Cable")
	p.write("name", "Loudspeaker cable", "conductor", "2.5 mm2 class 5")
	p.save()
	p.tap("a.next", "Processor")
	p.write("outputs", "12")
	p.save()
	p.tap("a.next", "Rack")
	p.write("units", "10", "place_m/0", "4.2", "place_m/1", "0.4", "place_m/2", "0.3", "circuit_a", "16", "voltage_v", "230")
	p.save()
	p.tap("a.row", "Add: amplifier")
	p.write("name", "Amplifier 9", "channels", "9", "power_w", "100", "least_load_ohm", "4", "rack_units", "4", "rack_position", "1", "mass_kg", "14")
	p.save()
	p.shot("plan-10-plan")

	p.tap("a.next", "Spots")
	p.says("M+030")
	p.shot("plan-11-spots")
	p.must(p.Resize(1280, 900))
	p.shot("plan-11-spots-wide")
	p.must(p.Resize(390, 844))
	p.save()
	p.shot("plan-12-plan")

	p.tap("a.row", "M+030")
	p.says("From every listening position")
	p.moved()
	p.keptTyping()
	p.shot("plan-13-mount")
	p.must(p.Resize(1280, 900))
	p.shot("plan-13-mount-wide")
	p.must(p.Resize(390, 844))
	p.tap("a", "Plan")

	p.tap("a", "What was edited")
	p.tap("#page form button", "Undo this")
	p.must(p.Until(`document.querySelector('#page ol > li strong').innerText.startsWith('Undo')`))
	p.shot("plan-14-edits")
	p.tap("a", "Plan")
	p.tap("a.next", "Spots")
	p.save()

	p.tap("a.next", "Settle")
	p.shot("plan-15-settle")
	p.save()
	p.says("Agree the survey")
	p.shot("plan-16-job")
	p.status("Everything is sent")

	p.tap("a.row", "Paper")
	p.says("Mark-out")
	p.shot("plan-17-paper")
	p.must(p.Eval("location.pathname.split('/')[2]", &p.job))
	sheet := s.get(p.path("paper", "mark-out-a4.pdf"))
	require.True(t, bytes.HasPrefix(sheet, []byte("%PDF-")))
	require.Contains(t, string(s.get(p.path("paper", "mark-out.csv"))), "M+030")

	p.finished()
}

// moved moves the mark on the wall with the mouse: the fields follow, and the verdict.
func (p *planner) moved() {
	p.t.Helper()
	var before, after float64
	const along = `Number(document.querySelector('#page [name=along_m]').value.replace(' m', ''))`
	p.must(p.Eval(along, &before))
	p.must(p.Drag(`#drawing svg.wall [data-drag="M+030"] .handle`, 30, 0))
	p.must(p.Until(fmt.Sprintf("Math.abs(%s - %g) > 0.01 && !document.querySelector('[data-dragging]')", along, before)))
	p.must(p.Eval(along, &after))
	require.Greater(p.t, after, before, "to the right is along")
	p.must(p.Until(fmt.Sprintf(`document.querySelector('#drawing svg.wall').textContent.includes('%.3f')`, after)))
	p.must(p.Drag(`#drawing svg:not(.wall) [data-drag="M+030"] .handle`, 30, 30))
	p.must(p.Until(fmt.Sprintf("%s > %g", along, after))) // and in the view from above
	p.taps += 2
}

// keptTyping leaves the page in the middle of a form and comes back to what was typed.
func (p *planner) keptTyping() {
	p.t.Helper()
	p.write("off_angle_reason", "half a sentence")
	p.must(p.Until(`new Promise((done) => {
		const open = indexedDB.open('hangtrue');
		open.onsuccess = () => {
			const kept = open.result.transaction('drafts').objectStore('drafts').get(location.pathname);
			kept.onsuccess = () => { open.result.close(); done(kept.result && new TextDecoder().decode(kept.result).includes('half a sentence')) };
		};
	})`))
	p.must(p.Reload())
	p.must(p.Until(`document.querySelector('#page [name=off_angle_reason]')?.value === 'half a sentence'`))
	p.must(p.Eval(`(document.querySelector('#page [name=off_angle_reason]').value = '', document.querySelector('#page [name=off_angle_reason]').dispatchEvent(new Event('input', {bubbles: true})))`, nil))
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

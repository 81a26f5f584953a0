package table_test

import (
	"encoding/json"
	"fmt"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/rehearsal"
	"hangtrue/pwa/markup"
	"hangtrue/pwa/table"
)

// drafted is the table of a job whose draft is the plan of a file, with the units asked for.
func drafted(t *testing.T, file string, units plan.Units) (table.Table, *rehearsal.Site) {
	data, err := os.ReadFile("../../testdata/" + file)
	require.NoError(t, err)
	p, err := plan.Decode(data)
	require.NoError(t, err)
	p.Units = units
	site := rehearsal.NewSite("01900000-0000-7000-8000-00000000000a", "01900000-0000-7000-8000-0000000000a1")
	require.NoError(t, site.Do(checklist.JobOpened, checklist.Opening{Title: "A job"}))
	parts, err := p.Parts()
	require.NoError(t, err)
	edit := checklist.Edit{}
	for _, part := range parts {
		edit.Changes = append(edit.Changes, site.State.Change(part.Name, part.Value))
	}
	require.NoError(t, site.Do(checklist.DraftEdited, edit))
	return at(site), site
}

func at(site *rehearsal.Site) table.Table {
	return table.Table{
		State: site.State, Base: "/jobs/x/plan", Phone: true, Known: true, Role: checklist.Lead,
	}
}

// path is where a part's page is, below the plan's.
func path(name string) []string {
	kind, label, labelled := strings.Cut(name, "/")
	if !labelled {
		return []string{kind}
	}
	return []string{kind, label}
}

var (
	inputs   = regexp.MustCompile(`<input type="(\w+)"[^>]*? name="([^"]+)"[^>]*>`)
	values   = regexp.MustCompile(` value="([^"]*)"`)
	selects  = regexp.MustCompile(`(?s)<select id="[^"]+" name="([^"]+)".*?</select>`)
	selected = regexp.MustCompile(`<option value="([^"]*)" selected>`)
	areas    = regexp.MustCompile(`(?s)<textarea id="[^"]+" name="([^"]+)"[^>]*>(.*?)</textarea>`)
	back     = strings.NewReplacer("&lt;", "<", "&gt;", ">", "&#34;", `"`, "&#39;", "'", "&amp;", "&")
)

// shown is a page's first form as a browser would send it.
func shown(t require.TestingT, tb table.Table, path []string) table.Form {
	page, ok := tb.Page(path)
	require.True(t, ok, path)
	html := markup.String(page.Main)
	html, _, _ = strings.Cut(html, "</form>")
	form := table.Form{}
	for _, m := range inputs.FindAllStringSubmatch(html, -1) {
		if m[1] == "checkbox" && !strings.Contains(m[0], " checked") {
			continue
		}
		v := append(values.FindStringSubmatch(m[0]), "", "")
		form[m[2]] = append(form[m[2]], back.Replace(v[1]))
	}
	for _, m := range selects.FindAllStringSubmatch(html, -1) {
		if s := selected.FindStringSubmatch(m[0]); s != nil {
			form[m[1]] = []string{back.Replace(s[1])}
		}
	}
	for _, m := range areas.FindAllStringSubmatch(html, -1) {
		form[m[1]] = []string{back.Replace(m[2])}
	}
	return form
}

// Every part of a plan fits its form: what is shown and sent back untouched is the same part, to the last digit.
func TestFormsKeepWhatTheyShow(t *testing.T) {
	for _, file := range []string{"demo/plan.json", "plans/example.json"} {
		for _, units := range []plan.Units{plan.Metric, plan.Imperial} {
			tb, site := drafted(t, file, units)
			for _, part := range site.State.Draft() {
				if strings.Contains(part.Value, `"frame"`) {
					continue // a surface with a frame of its own is typed elsewhere
				}
				got := tb.Submit(path(part.Name), shown(t, tb, path(part.Name)))
				assert.Equal(t, "Nothing is changed.", got.Problems["form"], "%s %s %s: %v", file, units, part.Name, got)
			}
		}
	}
}

const surveyed = `{"remark":"after the plaster","readings":[` +
	`{"name":"width front","values_m":[4.01,4.012],"instrument":"tape","remark":"over the skirting"},` +
	`{"name":"alcove","kind":"other","values_m":[0.6],"instrument":"tape"},` +
	`{"name":"diagonal front left","values_m":[5.4],"instrument":"laser"},` +
	`{"name":"middle","kind":"height","values_m":[2.4],"instrument":"laser","remark":"by the lamp"}]}`

func TestSurveyForm(t *testing.T) {
	_, site := drafted(t, "plans/example.json", plan.Metric)
	part, err := plan.MakePart("survey", []byte(surveyed))
	require.NoError(t, err)
	require.NoError(t, site.Do(checklist.DraftEdited, checklist.Edit{Changes: []checklist.PartChange{site.State.Change(part.Name, part.Value)}}))
	form := shown(t, at(site), []string{"survey"})
	assert.Equal(t, []string{"4.01; 4.012"}, form["width_front/values_m"])
	got := at(site).Submit([]string{"survey"}, form)
	require.Empty(t, got.Problems)
	before := plan.Assemble(site.State.Draft()).Survey
	after := plan.Assemble([]plan.Part{{Name: "survey", Value: got.Body.(checklist.Edit).Changes[0].Now}})
	assert.ElementsMatch(t, before.Readings, after.Survey.Readings, "only their order is another")
	assert.Equal(t, before.Remark, after.Survey.Remark)

	form["length_left/values_m"], form["length_left/instrument"] = []string{"3.9"}, nil
	got = at(site).Submit([]string{"survey"}, form)
	require.Empty(t, got.Problems)
	assert.Contains(t, got.Body.(checklist.Edit).Changes[0].Now, `{"name":"length left","values_m":[3.9],"instrument":"tape"}`)

	page, _ := at(site).Page([]string{"survey"})
	html := markup.String(page.Main)
	assert.Contains(t, html, "The box they propose")
	assert.Contains(t, html, "4.011 m, give or take", "the mean of both readings")

	form["width_rear/values_m"] = []string{"-4"}
	form["further/1/kind"] = nil
	problems := at(site).Submit([]string{"survey"}, form).Problems
	assert.Equal(t, "Choose one.", problems["further/1/kind"])
	form["further/1/kind"] = []string{"other"}
	problems = at(site).Submit([]string{"survey"}, form).Problems
	assert.NotEmpty(t, problems["width_rear/values_m"], problems)
}

// A spreadsheet of mounts goes into the draft, and its faults are told by row and column.
func TestTakeASpreadsheet(t *testing.T) {
	tb, site := drafted(t, "plans/example.json", plan.Metric)
	take := func(text string) (map[string]string, table.Submission) {
		form := table.Form{"act": {"take"}, "text": {text}}
		return tb.Draft([]string{"take"}, form), tb.Submit([]string{"take"}, form)
	}
	shows, got := take("channel;up_m\nM+030;1,234\nM-030;tall\n")
	assert.Contains(t, shows["says"], "row 3, column")
	assert.Contains(t, got.Problems["text"], "up_m")
	shows, got = take("channel;up_m\nM+030;1,234\n")
	require.Empty(t, got.Problems)
	assert.Contains(t, shows["says"], "becomes 1.234 m")
	require.NoError(t, site.Do(got.Kind, got.Body))
	assert.Equal(t, 1.234, plan.Assemble(site.State.Draft()).MountByChannel("M+030").Up)
	_, got = take("channel;up_m\nM+030;1,234\n")
	assert.Equal(t, "It changes nothing.", got.Problems["text"])

	demo, err := os.ReadFile("../../testdata/demo/plan.json")
	require.NoError(t, err)
	_, got = take(string(demo))
	require.Empty(t, got.Problems)
	require.NoError(t, site.Do(got.Kind, got.Body))
	want, err := plan.Decode(demo)
	require.NoError(t, err)
	after := plan.Assemble(site.State.Draft())
	assert.Empty(t, after.Problems())
	assert.Empty(t, plan.Diff(want, after), "the whole plan, whatever order its parts stand in")
	assert.Contains(t, tb.File([]string{"take"}, []byte("Caf\xe9"))["p-text"], "not UTF-8")
	assert.Equal(t, "a;b", tb.File([]string{"take"}, []byte("a;b"))["v-text"])
}

// change submits a form with some fields typed anew.
func change(t *testing.T, tb table.Table, path []string, fields ...string) table.Submission {
	form := shown(t, tb, path)
	for i := 0; i < len(fields); i += 2 {
		form[fields[i]] = []string{fields[i+1]}
	}
	return tb.Submit(path, form)
}

func TestOneFieldChangesOneValue(t *testing.T) {
	tb, site := drafted(t, "plans/example.json", plan.Metric)
	before := plan.Assemble(site.State.Draft())
	got := change(t, tb, []string{"mount", "M+030"}, "up_m", "1.234")
	require.Empty(t, got.Problems)
	require.NoError(t, site.Do(got.Kind, got.Body))
	after := plan.Assemble(site.State.Draft())
	changes := plan.Diff(before, after)
	require.Len(t, changes, 1)
	assert.Equal(t, 1.234, after.MountByChannel("M+030").Up)
}

func TestTapeIsReadInEveryField(t *testing.T) {
	tb, _ := drafted(t, "plans/example.json", plan.Metric)
	for typed, want := range map[string]float64{"4.05": 4.05, "405.5 cm": 4.055, `13' 1 3/8"`: 3.997325, "4,1": 4.1} {
		got := change(t, tb, []string{"room"}, "length_m", typed)
		require.Empty(t, got.Problems, typed)
		var box plan.Box
		require.NoError(t, json.Unmarshal([]byte(got.Body.(checklist.Edit).Changes[0].Now), &box))
		assert.InDelta(t, want, box.Length, 1e-9, typed)
	}
}

func TestProblemsStandBesideTheirField(t *testing.T) {
	tb, _ := drafted(t, "demo/plan.json", plan.Metric)
	for _, row := range []struct {
		path         []string
		field, type_ string
		says         string
	}{
		{[]string{"room"}, "width_m", "wide", `"wide" cannot be read`},
		{[]string{"room"}, "width_m", "", "Fill this in."},
		{[]string{"room"}, "width_m", "460", "metres above 0 and up to 100"},
		{[]string{"room"}, "width_m", "3860", "at most 1000 m. If you read millimetres, write 3860 mm."},
		{[]string{"mount", "M+030"}, "along_m", "412", "If you read millimetres, write 412 mm."},
		{[]string{"rack"}, "units", "many", "is not a whole number"},
		{[]string{"loudspeaker", "Surround A"}, "mass_kg", "0", "a number above 0"},
		{[]string{"loudspeaker", "Surround A"}, "driver_bridges/0/least_impedance_ohm", "9", "at most the rated impedance"},
		{[]string{"mount", "M+030"}, "along_m", "12", "a spot inside the outline"},
		{[]string{"mount", "M+030"}, "output", "99", "an output from 1 to"},
		{[]string{"surface", "right"}, "openings/0/width_m", "9", "at most 6.100 m"},
		{[]string{"surface", "right"}, "openings/0/name", "", "Fill this in."},
	} {
		got := change(t, tb, row.path, row.field, row.type_)
		found := ""
		for name, says := range got.Problems {
			if strings.Contains(says, row.says) {
				found = name
			}
		}
		want := row.field
		if strings.Contains(row.says, "inside the outline of") {
			found, want = strings.Split(found, "/")[0], strings.Split(want, "/")[0]
		}
		assert.Equal(t, want, found, "%v %s: %v", row.path, row.type_, got.Problems)
		form := shown(t, tb, row.path)
		form[row.field] = []string{row.type_}
		assert.Contains(t, tb.Draft(row.path, form), "p-"+row.field)
	}
}

func TestRenamingFollowsTheMounts(t *testing.T) {
	tb, site := drafted(t, "demo/plan.json", plan.Metric)
	got := change(t, tb, []string{"bracket", "Wall bracket"}, "name", "Swivel bracket")
	require.Empty(t, got.Problems)
	require.NoError(t, site.Do(got.Kind, got.Body))
	p := plan.Assemble(site.State.Draft())
	assert.Nil(t, p.Bracket("Wall bracket"))
	assert.Equal(t, "Swivel bracket", p.MountByChannel("M+030").Bracket)
	assert.Empty(t, p.Problems())
	got = change(t, at(site), []string{"bracket", "Swivel bracket"}, "name", "Ceiling bracket")
	assert.Contains(t, got.Problems["name"], "already")
}

func TestPartInUseStays(t *testing.T) {
	tb, _ := drafted(t, "demo/plan.json", plan.Metric)
	got := tb.Submit([]string{"bracket", "Wall bracket"}, table.Form{"act": {"remove"}})
	assert.Contains(t, got.Problems["form"], "still need it")
}

// Two people open the same page and both save. Both edits are kept, and the second is shown the difference.
func TestCrossedEdit(t *testing.T) {
	tb, site := drafted(t, "plans/example.json", plan.Metric)
	first := change(t, tb, []string{"room"}, "width_m", "4.01")
	second := change(t, tb, []string{"room"}, "width_m", "4.02")
	require.NoError(t, site.Do(first.Kind, first.Body))
	entry, err := site.Entry("01900000-0000-7000-8000-0000000000b1", checklist.Lead, second.Kind, second.Body)
	require.NoError(t, err)
	record := site.Push(entry)
	require.False(t, record.Accepted)
	page, _ := at(site).Page([]string{"room"})
	html := markup.String(page.Main)
	assert.Contains(t, html, "Two people changed the same thing")
	assert.Contains(t, html, "4.010 m becomes 4.020 m")
	again := at(site).Submit([]string{"room"}, table.Form{"act": {"again"}, "id": {entry.ID}})
	require.Empty(t, again.Problems)
	require.NoError(t, site.Do(again.Kind, again.Body))
	assert.InDelta(t, 4.02, plan.Assemble(site.State.Draft()).Room.Box.Width, 1e-12)
	page, _ = at(site).Page([]string{"room"})
	assert.NotContains(t, markup.String(page.Main), "Two people")
}

func TestSettleFromTheTable(t *testing.T) {
	tb, site := drafted(t, "demo/plan.json", plan.Metric)
	form := shown(t, tb, []string{"settle"})
	assert.Equal(t, []string{"First plan."}, form["reason"])
	got := tb.Submit([]string{"settle"}, form)
	require.Empty(t, got.Problems)
	require.NoError(t, site.Do(got.Kind, got.Body))
	assert.Equal(t, 1, site.State.Revision())
	assert.Equal(t, "/jobs/x", got.Next)

	moved := change(t, at(site), []string{"mount", "M+030"}, "up_m", "1.21")
	require.Empty(t, moved.Problems)
	require.NoError(t, site.Do(moved.Kind, moved.Body))
	page, _ := at(site).Page([]string{"settle"})
	html := markup.String(page.Main)
	assert.Contains(t, html, "1.200 m becomes 1.210 m (10 mm more)")
	assert.Contains(t, html, "No step that is done")
	got = at(site).Submit([]string{"settle"}, table.Form{"act": {"settle"}, "edits": {"1"}, "reason": {"x"}})
	assert.Contains(t, got.Problems["form"], "changed since")
}

// However little there is of a plan, every page shows, and every form can be judged.
func TestPagesOfUnfinishedPlans(t *testing.T) {
	data, err := os.ReadFile("../../testdata/demo/plan.json")
	require.NoError(t, err)
	p, err := plan.Decode(data)
	require.NoError(t, err)
	parts, err := p.Parts()
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		site := rehearsal.NewSite("01900000-0000-7000-8000-00000000000a", "01900000-0000-7000-8000-0000000000a1")
		require.NoError(t, site.Do(checklist.JobOpened, checklist.Opening{Title: "A job"}))
		edit := checklist.Edit{}
		for _, part := range parts {
			if rapid.IntRange(0, 3).Draw(t, part.Name) > 0 {
				edit.Changes = append(edit.Changes, site.State.Change(part.Name, part.Value))
			}
		}
		if len(edit.Changes) > 0 {
			require.NoError(t, site.Do(checklist.DraftEdited, edit))
		}
		tb := at(site)
		for _, path := range [][]string{nil, {"edits"}, {"settle"}} {
			_, ok := tb.Page(path)
			require.True(t, ok)
		}
		for range 3 {
			part := rapid.SampledFrom(parts).Draw(t, "part")
			if _, ok := tb.Page(path(part.Name)); ok && !strings.Contains(part.Value, `"frame"`) {
				form := shown(t, tb, path(part.Name))
				tb.Draft(path(part.Name), form)
				tb.Submit(path(part.Name), form)
			}
		}
	})
}

// A mark moved in the room moves the hole on its surface, and what it says is what the form then has.
func TestMovedMark(t *testing.T) {
	tb, site := drafted(t, "demo/plan.json", plan.Metric)
	p := plan.Assemble(site.State.Draft())
	for _, channel := range []string{"M+030", "M-090", "U+045"} {
		pose, err := p.Pose(channel)
		require.NoError(t, err)
		m := p.MountByChannel(channel)
		placed, err := p.PlaceMount(channel)
		require.NoError(t, err)
		form := shown(t, tb, []string{"mount", channel})
		form["moved_x"], form["moved_y"] = []string{fmt.Sprintf("%.3f m", pose.Centre.X+0.05)}, []string{fmt.Sprintf("%.3f m", pose.Centre.Y-0.02)}
		out := tb.Draft([]string{"mount", channel}, form)
		along, err := strconv.ParseFloat(out["v-along_m"], 64)
		require.NoError(t, err)
		want := m.Along + float64(0.05*placed.Surface.Along.X) - float64(0.02*placed.Surface.Along.Y)
		assert.InDelta(t, want, along, 0.0011, channel)
		assert.Empty(t, out["v-moved_x"])
		assert.NotEmpty(t, out["drawing"])
	}
}

package pages_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/pwa/pages"
)

func path(k checklist.Key) string {
	if k.Mount == "" {
		return "/jobs/" + jobID + "/steps/" + k.Step
	}
	return "/jobs/" + jobID + "/mounts/" + k.Mount + "/" + k.Step
}

// typedAs is a recording as a browser would send it.
func typedAs(b checklist.Recording) pages.Form {
	form := pages.Form{"act": {"record"}, "remark": {b.Remark}, "confirmed": b.Confirmed}
	for key, readings := range b.Measured {
		for i, n := range readings {
			text := fmt.Sprintf("%d.%03d", n/1000, n%1000)
			if strings.Contains(key, "_um") {
				text += " mm"
			}
			form[key+[]string{"", "~2", "~3"}[i]] = []string{text}
		}
	}
	for key, chosen := range b.Chosen {
		form[key] = []string{chosen}
	}
	return form
}

// What a person types at any step of any mount becomes the same recording, which
// the rules take, and the draft says within before it is saved.
func TestSubmit_EveryStep(t *testing.T) {
	s := newSite(t, "Attic lounge", demoPlan(t))
	tried := 0
	for _, k := range s.log.State().Keys() {
		step := s.log.State().Template.Step(k.Step)
		if step.Kind != checklist.StepRecorded {
			continue
		}
		tried++
		want := s.good(k.Step, k.Mount)
		want.Remark = "all well"
		form := typedAs(want)
		draft := pages.Draft(path(k), form, s)
		require.NotEmpty(t, draft, k)
		if len(step.Checks) > 0 {
			assert.Contains(t, draft["verdict"], "within", k)
			assert.NotContains(t, draft["verdict"], "outside", k)
		}
		made := pages.Submit(path(k), form, s)
		kind, body, problems := made.Kind, made.Body, made.Problems
		require.Empty(t, problems, k)
		require.Equal(t, checklist.StepRecorded, kind)
		got := body.(checklist.Recording)
		if len(want.Measured) == 0 {
			want.Measured = nil
		}
		if len(want.Chosen) == 0 {
			want.Chosen = nil
		}
		require.Equal(t, want, got, k)
		d := s.accepted(kind, body)
		require.Equal(t, "within", d.Outcome, k)
	}
	assert.Equal(t, 99, tried, "six steps of the job, eight of each of eleven that hang, five of the one that stands")
}

// An empty form names every field that is wanted, and every caution.
func TestSubmit_EmptyForm(t *testing.T) {
	s := states(t)["finished"]
	for _, k := range s.log.State().Keys() {
		step := s.log.State().Template.Step(k.Step)
		if step.Kind != checklist.StepRecorded {
			continue
		}
		problems := pages.Submit(path(k), pages.Form{"act": {"record"}}, s).Problems
		for _, f := range step.Fields {
			key := f.Key("")
			if f.Each {
				key = f.Key("M+000")
			}
			assert.Equal(t, f.Optional, problems[key] == "", "%v %s", k, key)
		}
		assert.Equal(t, len(step.Confirm) == 0, problems["confirmed"] == "", k)
		html := pages.Render(path(k), s).Fragment()
		for key := range problems {
			assert.Contains(t, html, `id="p-`+key+`"`, "%v: a place for the message", k)
		}
	}
}

// What cannot be read is named in the words of the field, while typing and on saving.
func TestSubmit_Nonsense(t *testing.T) {
	s := states(t)["half"]
	for _, k := range s.log.State().Keys() {
		step := s.log.State().Template.Step(k.Step)
		for _, f := range step.Fields {
			if !f.Quantity.Measured() {
				continue
			}
			key := f.Key("")
			if f.Each {
				key = f.Key("M+000")
			}
			for _, text := range []string{"abc", "1.2.3", "1e99", "--1", strings.Repeat("9", 400), "NaN", "<b>", "\x00"} {
				form := pages.Form{"act": {"record"}, key: {text}}
				problems := pages.Submit(path(k), form, s).Problems
				assert.NotEmpty(t, problems[key], "%v %s %q", k, key, text)
				shown := pages.Draft(path(k), form, s)["p-"+key]
				assert.NotEmpty(t, shown, "%v %s %q", k, key, text)
				assert.NotContains(t, shown, "<b>")
			}
		}
	}
}

func TestSubmit_Reads(t *testing.T) {
	s := states(t)["half"]
	mark, level, drill := path(checklist.Key{Step: "mark", Mount: "M-090"}), path(checklist.Key{Step: "level", Mount: "M+135"}), path(checklist.Key{Step: "drill", Mount: "M+090"})
	for _, row := range []struct {
		path, key string
		typed     []string // in the field and in those for more readings of it
		want      []int64
		problem   string
	}{
		{mark, "along_um", []string{"3.787"}, []int64{3787000}, ""},
		{mark, "along_um", []string{"3,787"}, []int64{3787000}, ""},
		{mark, "along_um", []string{"3787 mm"}, []int64{3787000}, ""},
		{mark, "along_um", []string{`12' 5 1/16"`}, []int64{3786188}, ""},
		{mark, "along_um", []string{"3.787", "", "3.788"}, []int64{3787000, 3788000}, ""},
		{mark, "along_um", []string{"3787"}, nil, "If you read millimetres, write 3787 mm."},
		{mark, "along_um", []string{"378.7"}, nil, "378.700 m is not possible here: wanted -1.000 m to 100.000 m."},
		{mark, "along_um", []string{"37 87"}, nil, "cannot be read"},
		{drill, "pilot_um", []string{"3.5"}, []int64{3500}, ""},
		{drill, "pilot_um", []string{"0.0035 m"}, []int64{3500}, ""},
		{drill, "pilot_um", []string{`1/8"`}, []int64{3175}, ""},
		{drill, "pilot_um", []string{"0.0035"}, nil, "is not possible here: wanted 0.5 mm to 50 mm."},
		{mark, "along_um", []string{"3.787; 3.788"}, []int64{3787000, 3788000}, ""},
		{drill, "pilot_um", []string{"3.5; 3.5"}, nil, "One reading is wanted here, 2 were given."},
		{level, "reading_mdeg", []string{"-0.05°"}, []int64{-50}, ""},
		{level, "reading_mdeg", []string{"0,2"}, []int64{200}, ""},
		{level, "reading_mdeg", []string{"50"}, nil, "wanted -45° to 45°"},
	} {
		form := pages.Form{"act": {"record"}}
		for i, text := range row.typed {
			form[row.key+[]string{"", "~2", "~3"}[i]] = []string{text}
		}
		made := pages.Submit(row.path, form, s)
		body, problems := made.Body, made.Problems
		got := body.(checklist.Recording).Measured[row.key]
		assert.Equal(t, row.want, got, "%q", row.typed)
		if row.problem == "" {
			assert.Empty(t, problems[row.key], "%q", row.typed)
		} else {
			assert.Contains(t, problems[row.key], row.problem, "%q", row.typed)
		}
	}
}

// In feet and inches the same numbers are read as inches, and shown as such.
func TestSubmit_Imperial(t *testing.T) {
	p, err := plan.Decode(demoPlan(t))
	require.NoError(t, err)
	p.Units = plan.Imperial
	document, err := p.Encode()
	require.NoError(t, err)
	s := newSite(t, "Attic lounge", document)
	s.do("", "survey")
	mark := path(checklist.Key{Step: "mark", Mount: "M+090"})
	assert.Contains(t, pages.Render(mark, s).Fragment(), `7' 7 3/4"`, "2.331 m")
	made := pages.Submit(mark, pages.Form{"act": {"record"}, "up_um": {`47 1/4`}}, s)
	body, problems := made.Body, made.Problems
	assert.Empty(t, problems["up_um"])
	assert.Equal(t, []int64{1200150}, body.(checklist.Recording).Measured["up_um"])
}

func TestSubmit_Acts(t *testing.T) {
	all := states(t)
	mark := path(checklist.Key{Step: "mark", Mount: "M+000"})
	sign := path(checklist.Key{Step: "sign"})
	head := fmt.Sprint(all["finished"].log.Head())
	for _, row := range []struct {
		name, state, path string
		form              pages.Form
		kind              checklist.Kind
		body              any
		problem           string
	}{
		{"concede", "half", mark, pages.Form{"act": {"concede"}, "reason": {" a pipe "}}, checklist.StepConceded, checklist.Reasoned{Step: "mark", Mount: "M+000", Reason: "a pipe"}, ""},
		{"concede without a reason", "half", mark, pages.Form{"act": {"concede"}, "reason": {" "}}, "", nil, "reason"},
		{"reopen", "half", mark, pages.Form{"act": {"reopen"}, "reason": {"again"}}, checklist.StepReopened, checklist.Reasoned{Step: "mark", Mount: "M+000", Reason: "again"}, ""},
		{"reopen without a reason", "half", mark, pages.Form{"act": {"reopen"}}, "", nil, "reason"},
		{"sign", "finished", sign, pages.Form{"act": {"sign"}, "read": {"yes"}, "head": {head}, "remark": {"done"}}, checklist.JobSigned, checklist.Signing{Revision: 1, Head: all["finished"].log.Head(), Remark: "done"}, ""},
		{"sign unread", "finished", sign, pages.Form{"act": {"sign"}, "head": {head}}, "", nil, "read"},
		{"sign without a head", "finished", sign, pages.Form{"act": {"sign"}, "read": {"yes"}}, "", nil, "form"},
		{"no act", "half", mark, pages.Form{}, "", nil, "form"},
		{"another act", "half", mark, pages.Form{"act": {"delete"}}, "", nil, "form"},
		{"a page that records nothing", "half", "/jobs/" + jobID, pages.Form{"act": {"record"}}, "", nil, "form"},
		{"a job that is not here", "half", "/jobs/none/steps/survey", pages.Form{"act": {"record"}}, "", nil, "form"},
	} {
		t.Run(row.name, func(t *testing.T) {
			made := pages.Submit(row.path, row.form, all[row.state])
			kind, body, problems := made.Kind, made.Body, made.Problems
			assert.Equal(t, row.kind, kind)
			if row.problem != "" {
				assert.NotEmpty(t, problems[row.problem])
				return
			}
			assert.Empty(t, problems)
			assert.Equal(t, row.body, body)
		})
	}
}

// While typing, the verdict comes with the last number, and what was not answered
// yet is not held against anybody.
func TestDraft_WhileTyping(t *testing.T) {
	s := states(t)["half"]
	mark := path(checklist.Key{Step: "mark", Mount: "M-090"})
	form := pages.Form{"act": {"record"}, "tape": {"tape 8 m"}, "along_um": {"3.787"}}
	draft := pages.Draft(mark, form, s)
	assert.Empty(t, draft["verdict"])
	assert.NotContains(t, draft, "elevation")

	form["up_um"] = []string{"1.196"}
	draft = pages.Draft(mark, form, s)
	assert.Contains(t, draft["verdict"], "18 mm left, 4 mm up", "3.769 is planned, 1.200 is planned")
	assert.Contains(t, draft["verdict"], "Wanted: 3.769 m ± 5 mm")
	assert.NotContains(t, draft["verdict"], "Wait until both are here")
	assert.Contains(t, draft["elevation"], "typed now")

	form["along_um"] = []string{"3.769"}
	form["up_um"] = []string{"1.200"}
	draft = pages.Draft(mark, form, s)
	assert.Contains(t, draft["verdict"], "So far so good.")

	form["on_hand"] = []string{"missing"}
	draft = pages.Draft(mark, form, s)
	assert.Contains(t, draft["verdict"], "Wait until both are here")

	form["on_hand"] = []string{"here"}
	draft = pages.Draft(mark, form, s)
	assert.Contains(t, draft["verdict"], "All of it is as planned.")

	assert.Empty(t, pages.Draft(mark, pages.Form{"act": {"concede"}}, s))
}

// Two digits changed places: 5.933 for 5.393, which the laser contradicts. The
// reading is named, and nobody is told to move anything.
func TestDraft_Slip(t *testing.T) {
	s := states(t)["half"]
	form := typedAs(s.slipped("M-135", 5.933))
	verdict := pages.Draft(path(checklist.Key{Step: "hang", Mount: "M-135"}), form, s)["verdict"]
	assert.Contains(t, verdict, "slip")
	assert.Contains(t, verdict, "5.393 m")
	assert.NotContains(t, verdict, `class="move"`)
}

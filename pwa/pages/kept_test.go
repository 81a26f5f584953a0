package pages_test

import (
	"bytes"
	"fmt"
	"html"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/pwa/pages"
)

const otherID = "33333333-3333-7333-8333-333333333333"

// other makes an entry on another phone, which knew the log up to a position and the
// plan's revision of then.
func (s *site) other(number, seen int64, revision int, kind checklist.Kind, body any) checklist.Entry {
	e, err := checklist.NewEntry(checklist.Entry{
		ID: fmt.Sprintf("00000000-0000-7000-9000-%012x", number), Job: jobID, Device: otherID, Number: number, Seen: seen,
		Who: "Installer two", Role: checklist.Installer, Clock: "2031-05-04T09:30:00.000Z", Plan: revision, Kind: kind,
	}, body)
	require.NoError(s.t, err)
	return e
}

// arrives has the server decide an entry of another phone's.
func (s *site) arrives(e checklist.Entry) checklist.Decision {
	d := s.log.State().Decide(e)
	require.NoError(s.t, s.log.Receive(checklist.Record{Position: s.log.Head() + 1, Received: "2031-05-04T20:00:00.000Z", Decision: d, Entry: e}))
	return d
}

var tags = regexp.MustCompile(`<[^>]*>`)

// text is what a page says, without its markup.
func (s *site) text(path string) string {
	words := html.UnescapeString(tags.ReplaceAllString(pages.Render("/jobs/"+jobID+path, s).Fragment(), " "))
	return strings.Join(strings.Fields(words), " ")
}

// A phone was out of reach while the lead took the mark back. What it recorded
// meanwhile is refused; the job's page leads to the step, whose page says by whom it was
// made, why it does not count, what is in it, and why the mark is open. What is
// recorded anew takes it off the list.
func TestRender_RefusedIsShown(t *testing.T) {
	s := newSite(t, "Attic lounge", demoPlan(t))
	s.do("", "survey", "rack", "isolate")
	s.do("M+090", "mark", "level")
	seen := s.log.Head()
	s.accepted(checklist.StepReopened, checklist.Reasoned{Step: "mark", Mount: "M+090", Reason: "measured from the wrong corner"})
	b := s.good("studs", "M+090")
	b.Remark = "felt a nail"
	require.False(t, s.arrives(s.other(1, seen, 1, checklist.StepRecorded, b)).Accepted)

	job := s.text("")
	assert.Contains(t, job, "refused M+090 · Check for studs : recorded. Check for studs is held: Mark is not done. (Installer two, 2031-05-04 09:30 UTC)")
	assert.Contains(t, pages.Render("/jobs/"+jobID, s).Fragment(), `<a href="/jobs/`+jobID+`/mounts/M+090/studs">M+090 · Check for studs</a>: recorded.`)
	step := s.text("/mounts/M+090/studs")
	assert.Contains(t, step, "refused Recorded by Installer two, 2031-05-04 09:30 UTC. Check for studs is held: Mark is not done. What was written down")
	assert.Contains(t, step, "felt a nail", "nobody has to measure it again to know it")
	assert.Contains(t, step, "record it again once nothing holds it")
	assert.Contains(t, s.text("/mounts/M+090/mark"), "Open again: measured from the wrong corner (lead, 2031-05-04 08:08 UTC)")

	s.do("M+090", "mark", "level", "studs")
	assert.NotContains(t, s.text(""), "refused", "what was recorded since counts")
	assert.NotContains(t, s.text("/mounts/M+090/studs"), "felt a nail")
	assert.NotContains(t, s.text("/mounts/M+090/mark"), "Open again")
	assert.Contains(t, s.text("/mounts/M+090/mark"), "reopened Because: measured from the wrong corner", "the history keeps it")
	assert.Contains(t, s.text("/record"), "M+090 · Check for studs: recorded. Check for studs is held: Mark is not done.", "the record has all")

	s.pending(checklist.StepRecorded, s.good("wire", "M+090"))
	assert.Contains(t, s.text("/mounts/M+090/wire"), "refused Recorded by lead")
	assert.Contains(t, s.text(""), "will be refused M+090 · Wire : recorded.")
}

// Two phones recorded the same step, neither knowing of the other's entry: the page
// says whose stands and what the other one had. Where the second knew of the first, it
// says only that it took its place.
func TestRender_CrossedRecordings(t *testing.T) {
	s := newSite(t, "Attic lounge", demoPlan(t))
	s.do("", "survey", "rack", "isolate")
	seen := s.log.Head()
	s.accepted(checklist.StepRecorded, s.marked("M+090", 0.001, 0))
	const crossed = "Neither phone knew of the other's."
	assert.NotContains(t, s.text("/mounts/M+090/mark"), "In place of")
	require.True(t, s.arrives(s.other(1, seen, 1, checklist.StepRecorded, s.marked("M+090", 0.002, 0))).Accepted)
	step := s.text("/mounts/M+090/mark")
	assert.Contains(t, step, "Recorded by Installer two")
	assert.Contains(t, step, "In place of what lead recorded, 2031-05-04 08:06 UTC: ✓ within")
	assert.Contains(t, step, crossed)
	assert.Contains(t, step, "2.332 m", "what was replaced")
	assert.Contains(t, step, "2.333 m", "what stands")

	s.accepted(checklist.StepRecorded, s.marked("M+090", 0, 0))
	step = s.text("/mounts/M+090/mark")
	assert.Contains(t, step, "In place of what Installer two recorded, 2031-05-04 09:30 UTC: ✓ within")
	assert.NotContains(t, step, crossed)
	s.accepted(checklist.StepRecorded, s.marked("M+090", 0, 0))
	assert.NotContains(t, s.text("/mounts/M+090/mark"), "In place of", "a phone knows what it replaces of its own")

	s.accepted(checklist.StepReopened, checklist.Reasoned{Step: "mark", Mount: "M+090", Reason: "looked wrong"})
	require.True(t, s.arrives(s.other(2, s.log.Head(), 1, checklist.StepRecorded, s.marked("M+090", 0, 0))).Accepted)
	assert.NotContains(t, s.text("/mounts/M+090/mark"), "In place of", "nothing stood")
}

// A mark was made out of reach for a plan that was changed meanwhile: the page does not
// leave its maker to think that the tape was misread.
func TestRender_MadeForAFormerPlan(t *testing.T) {
	s := newSite(t, "Attic lounge", demoPlan(t))
	s.do("", "survey", "rack", "isolate")
	seen, made := s.log.Head(), s.marked("M-135", 0, 0)
	moved := bytes.Replace(demoPlan(t), []byte(`"along_m": 5.393`), []byte(`"along_m": 5.3`), 1)
	s.accepted(checklist.PlanSettled, checklist.NewSettlement(2, "the chair moved", moved))
	d := s.arrives(s.other(1, seen, 1, checklist.StepRecorded, made))
	require.Equal(t, "outside", d.Outcome)
	const changed = "The plan has changed. This was made for revision 1; revision 2 is in force: the chair moved (lead, "
	assert.Contains(t, s.text("/mounts/M-135/mark"), changed)
	require.Equal(t, "outside", s.arrives(s.other(2, s.log.Head(), 2, checklist.StepRecorded, made)).Outcome)
	assert.NotContains(t, s.text("/mounts/M-135/mark"), changed)
}

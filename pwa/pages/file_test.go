package pages_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/rehearsal"
	"hangtrue/pwa/pages"
)

// A recording that is chosen at the polarity step is read on the spot, and answers nothing by itself.
func TestFile(t *testing.T) {
	s := newSite(t, "Attic lounge", demoPlan(t))
	polarity := "/jobs/" + jobID + "/mounts/M+090/polarity"
	for _, row := range []struct {
		name, path string
		data       []byte
		want       string
	}{
		{"outward", polarity, rehearsal.Impulse(1, 0, 1000, 12000, -30000, 9000), "outward: right"},
		{"inward", polarity, rehearsal.Impulse(1, 0, -600, 300, -26000, 20000, -6000), "inward: reversed"},
		{"a subwoofer tells no sign", "/jobs/" + jobID + "/mounts/LFE1/polarity", rehearsal.Impulse(1, 0, 1000, 12000, -30000, 9000), "Undetermined"},
		{"two channels", polarity, rehearsal.Impulse(2, 0, 1000, 12000, -30000), "several channels"},
		{"silence", polarity, rehearsal.Impulse(1, 0, 0, 0, 0), "silent"},
		{"nonsense", polarity, []byte("<img onerror=x>"), "not a recording"},
		{"over its bound", polarity, nil, "too large"},
		{"longer than allowed", polarity, make([]byte, judge.MaxImpulse+1), "too large"},
	} {
		t.Run(row.name, func(t *testing.T) {
			html := pages.File(row.path, row.data, s)["impulse"]
			assert.Contains(t, html, row.want)
			assert.NotContains(t, html, "<img")
		})
	}
	assert.Nil(t, pages.File("/jobs/"+jobID+"/mounts/M+090/mark", rehearsal.Impulse(1, 1), s), "nothing is read at other steps")
	assert.Nil(t, pages.File("/", rehearsal.Impulse(1, 1), s))
}

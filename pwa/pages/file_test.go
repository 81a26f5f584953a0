package pages_test

import (
	"bytes"
	"encoding/binary"
	"testing"

	"github.com/stretchr/testify/assert"

	"hangtrue/checklist/judge"
	"hangtrue/pwa/pages"
)

// pulse is a mono 16-bit WAV file of a few samples at 48 kHz.
func pulse(channels uint16, samples ...int16) []byte {
	var file bytes.Buffer
	file.WriteString("RIFF")
	_ = binary.Write(&file, binary.LittleEndian, uint32(36+2*len(samples)))
	file.WriteString("WAVEfmt ")
	_ = binary.Write(&file, binary.LittleEndian, struct {
		Size           uint32
		Kind, Channels uint16
		Rate, Bytes    uint32
		Frame, Bits    uint16
	}{16, 1, channels, 48000, 96000 * uint32(channels), 2 * channels, 16})
	file.WriteString("data")
	_ = binary.Write(&file, binary.LittleEndian, uint32(2*len(samples)))
	_ = binary.Write(&file, binary.LittleEndian, samples)
	return file.Bytes()
}

// A recording that is chosen at the polarity step is read on the spot, and answers nothing by itself.
func TestFile(t *testing.T) {
	s := newSite(t, "Attic lounge", demoPlan(t))
	polarity := "/jobs/" + jobID + "/mounts/M+090/polarity"
	for _, row := range []struct {
		name, path string
		data       []byte
		want       string
	}{
		{"outward", polarity, pulse(1, 0, 1000, 12000, -30000, 9000), "outward: right"},
		{"inward", polarity, pulse(1, 0, -600, 300, -26000, 20000, -6000), "inward: reversed"},
		{"a subwoofer tells no sign", "/jobs/" + jobID + "/mounts/LFE1/polarity", pulse(1, 0, 1000, 12000, -30000, 9000), "Undetermined"},
		{"two channels", polarity, pulse(2, 0, 1000, 12000, -30000), "several channels"},
		{"silence", polarity, pulse(1, 0, 0, 0, 0), "silent"},
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
	assert.Nil(t, pages.File("/jobs/"+jobID+"/mounts/M+090/mark", pulse(1, 1), s), "nothing is read at other steps")
	assert.Nil(t, pages.File("/", pulse(1, 1), s))
}

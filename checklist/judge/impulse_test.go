package judge_test

import (
	"bytes"
	"encoding/binary"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/judge"
	acoustics "hangtrue/compute/sound"
)

// wav is a mono 16-bit WAV file at 48 kHz.
func wav(samples ...float64) []byte {
	var data bytes.Buffer
	for _, s := range samples {
		_ = binary.Write(&data, binary.LittleEndian, int16(s*32767))
	}
	var file bytes.Buffer
	file.WriteString("RIFF")
	_ = binary.Write(&file, binary.LittleEndian, uint32(36+data.Len()))
	file.WriteString("WAVEfmt ")
	_ = binary.Write(&file, binary.LittleEndian, struct {
		Size           uint32
		Kind, Channels uint16
		Rate, Bytes    uint32
		Frame, Bits    uint16
	}{16, 1, 1, 48000, 96000, 2, 16})
	file.WriteString("data")
	_ = binary.Write(&file, binary.LittleEndian, uint32(data.Len()))
	file.Write(data.Bytes())
	return file.Bytes()
}

// The vectors are the detector's own: this program's rule, no standard.
func TestReadImpulse(t *testing.T) {
	for _, row := range []struct {
		name    string
		samples []float64
		passed  bool
		choice  string
		says    string
	}{
		{"inward first", []float64{0, -0.02, 0.01, -0.8, 0.6, -0.2}, false, "reversed", "goes inward"},
		{"outward first, a larger swing back later", []float64{0, 0.03, 0.35, -1.0, 0.4}, false, "right", "goes outward"},
		{"a section alone", []float64{0, 0.03, 0.35, -1.0, 0.4}, true, "unclear", "Undetermined: a band-passed section"},
	} {
		got, err := judge.ReadImpulse(wav(row.samples...), 0, acoustics.Band{}, row.passed)
		require.NoError(t, err, row.name)
		assert.Equal(t, row.choice, got.Choice, row.name)
		assert.Contains(t, got.Says, row.says, row.name)
	}
	_, err := judge.ReadImpulse(wav(0, 0, 0), 0, acoustics.Band{}, false)
	assert.ErrorIs(t, err, acoustics.ErrSilence)
	_, err = judge.ReadImpulse([]byte("RIFFnonsense"), 0, acoustics.Band{}, false)
	assert.ErrorIs(t, err, acoustics.ErrWAV)
	_, err = judge.ReadImpulse(wav(0.5), 2, acoustics.Band{}, false)
	assert.ErrorIs(t, err, acoustics.ErrChannel)
}

package judge_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/rehearsal"
	acoustics "hangtrue/compute/sound"
)

// wav is a recording of samples with full scale 1.
func wav(samples ...float64) []byte {
	whole := make([]int16, len(samples))
	for i, s := range samples {
		whole[i] = int16(s * 32767)
	}
	return rehearsal.Impulse(1, whole...)
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

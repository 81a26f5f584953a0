package figure_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"hangtrue/compute/figure"
)

func TestMarksReadAsWords(t *testing.T) {
	for mark, text := range map[figure.Mark]string{
		figure.Published:      "published",
		figure.Secondary:      "published, read in a transcription",
		figure.Derived:        "derived here",
		figure.Memory:         "from memory, not verified",
		figure.CommonPractice: "common practice, no source",
	} {
		assert.Equal(t, text, mark.String())
	}
}

func TestAResultIsNoBetterFoundedThanItsPoorestInput(t *testing.T) {
	assert.Equal(t, figure.Memory,
		figure.Weakest(figure.Published, figure.Memory, figure.Secondary))
	assert.Equal(t, figure.Secondary, figure.Weakest(figure.Secondary, figure.Published))
	assert.Equal(t, figure.CommonPractice,
		figure.Weakest(figure.Derived, figure.CommonPractice))
	assert.Equal(t, figure.Derived, figure.Weakest(), "nothing but our own arithmetic")
	assert.Equal(t, figure.Mark(""), figure.Weakest(figure.Memory, ""), "unjudged is poorest")
}

package words_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"hangtrue/pwa/words"
)

func TestWords(t *testing.T) {
	for rad, want := range map[float64]string{0: "0.0°", -1e-9: "0.0°", math.Pi: "180.0°", -math.Pi / 6: "-30.0°", 0.7: "40.1°"} {
		assert.Equal(t, want, words.Degrees(rad))
	}
	for _, row := range []struct {
		x    float64
		n    int
		want string
	}{{1.50, 2, "1.5"}, {10, 1, "10"}, {-0.001, 2, "0"}, {0.126, 2, "0.13"}, {100, 0, "100"}} {
		assert.Equal(t, row.want, words.Decimals(row.x, row.n))
	}
	assert.Equal(t, "2030-01-31 09:15 UTC", words.Clock("2030-01-31T09:15:00.000Z"))
	assert.Equal(t, "soon", words.Clock("soon"))
}

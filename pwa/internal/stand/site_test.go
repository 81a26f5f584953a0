package stand_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/pwa/internal/stand"
)

func TestSiteWork(t *testing.T) {
	for _, file := range []string{"plans/example.json", "demo/plan.json"} {
		document, err := os.ReadFile("../../../testdata/" + file)
		require.NoError(t, err)
		s, err := stand.Open("01900000-0000-7000-8000-00000000000a", document)
		require.NoError(t, err)
		require.NoError(t, stand.Work(s, 2, 300))
		assert.Len(t, s.Records, 300)
		done, all := s.State.Progress()
		assert.Equal(t, all-1, done, "%s is done but for the sign-off", file)
		assert.Empty(t, s.State.Refused(), file)
	}
}

package stand_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/pwa/internal/stand"
	"hangtrue/pwa/pages"
)

func TestSiteWork(t *testing.T) {
	for _, file := range []string{"plans/example.json", "demo/plan.json"} {
		document, err := os.ReadFile("../../../testdata/" + file)
		require.NoError(t, err)
		s, err := stand.New("01900000-0000-7000-8000-00000000000a", "A job", document)
		require.NoError(t, err)
		require.NoError(t, s.Work(300))
		assert.Len(t, s.Records, 300)
		done, all := pages.Progress(s.State)
		assert.Greater(t, 2*done, all, "most of %s can be done as planned", file)
		assert.Empty(t, s.State.Refused, file)
	}
}

package rehearsal_test

import (
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/rehearsal"
)

// Both documents that ship can be hung as they are planned: every step within,
// down to the sign-off.
func TestSiteFinish(t *testing.T) {
	for _, file := range []string{"../../testdata/plans/example.json", "../../testdata/demo/plan.json"} {
		t.Run(file, func(t *testing.T) {
			data, err := os.ReadFile(file)
			require.NoError(t, err)
			p, err := plan.Decode(data)
			require.NoError(t, err)
			s := rehearsal.NewSite("01900000-0000-7000-8000-00000000000a", "01900000-0000-7000-8000-0000000000a1")
			require.NoError(t, s.Open(p))
			require.NoError(t, s.Finish())
			require.NoError(t, s.Do(checklist.JobSigned, checklist.Signing{Revision: 1, Head: s.State.Head}))
			assert.True(t, s.State.Locked())
		})
	}
}

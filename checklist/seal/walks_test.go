package seal_test

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist"
	"hangtrue/checklist/editions"
)

var makeWalk = flag.Bool("make-walk", false, "write the record file of the newest edition, where there is none")

const walks = "testdata/walks"

func walkOf(edition int) string { return filepath.Join(walks, fmt.Sprintf("edition-%d.json", edition)) }

// Logs that the program of an edition's day decided, at random and with much that it
// refused, verify for good. What a step says is pinned elsewhere; this is for the rules
// in code, which count for every edition.
func TestFile_Verify_WalksOfBefore(t *testing.T) {
	newest := checklist.Loudspeakers.Version
	if path := walkOf(newest); *makeWalk {
		require.NoFileExists(t, path, "one that is there is never written anew")
		require.NoError(t, os.WriteFile(path, walk(t, newest), 0o644))
	}
	all, err := os.ReadDir(walks)
	require.NoError(t, err)
	assert.Len(t, all, newest, "one for each edition: go test ./checklist/seal -run WalksOfBefore -make-walk")
	for n := 1; n <= newest; n++ {
		t.Run(fmt.Sprint("edition ", n), func(t *testing.T) {
			data, err := os.ReadFile(walkOf(n))
			require.NoError(t, err)
			f := read(t, data)
			report := f.Verify(keyOf(t, 1).Public())
			assert.Empty(t, texts(report), "a rule in code no longer lets pass what edition %d let pass: have something that a step says switch it on", n)
			assert.Empty(t, report.Unchecked)
			assert.NotEmpty(t, report.SignOffs)

			seen := map[checklist.Kind]int{}
			refused := 0
			for _, r := range f.Records {
				assert.Equal(t, n, r.Edition)
				if r.Accepted {
					seen[r.Entry.Kind]++
				} else {
					refused++
				}
			}
			assert.Greater(t, refused, 20)
			for kind, least := range map[checklist.Kind]int{checklist.StepRecorded: 50, checklist.StepConceded: 1, checklist.StepReopened: 3, checklist.PlanSettled: 3, checklist.JobSigned: 1} {
				assert.GreaterOrEqual(t, seen[kind], least, "%s", kind)
			}
		})
	}
}

// walk is the record file of a job that chance did much to, until it was signed off.
func walk(t *testing.T, edition int) []byte {
	steps := editions.Loudspeakers().Edition(edition)
	return rapid.Custom(func(t *rapid.T) []byte {
		s := serve(t, steps)
		for range 120 {
			s.chance(t, edition > 1)
		}
		require.NoError(t, s.Finish())
		require.NoError(t, s.Do(checklist.JobSigned, checklist.Signing{Revision: s.State.Revision(), Head: s.State.Head}))
		for range 40 {
			s.chance(t, edition > 1)
		}
		return s.file()
	}).Example(1)
}

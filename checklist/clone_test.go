package checklist_test

import (
	"bytes"
	"fmt"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist"
)

func dump(t require.TestingT, s *checklist.State) string {
	var b bytes.Buffer
	require.NoError(t, s.Dump(&b))
	return b.String()
}

// States that were cloned from each other go their own ways: each is the fold of its
// own records and knows no others, in whatever order they were cloned and folded.
func TestStateClonesPart(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		first := newSite(t)
		first.open(examplePlan(t))
		sites := []*site{first}
		for step := range rapid.IntRange(1, 60).Draw(t, "steps") {
			s := sites[rapid.IntRange(0, len(sites)-1).Draw(t, "which")]
			if rapid.IntRange(0, 3).Draw(t, "clone") == 0 && len(sites) < 8 {
				numbers := map[string]int64{}
				for device, n := range s.numbers {
					numbers[device] = n
				}
				sites = append(sites, &site{t: t, state: s.state.Clone(), records: slices.Clone(s.records), numbers: numbers, made: 1000 * (step + 1)})
				continue
			}
			act(t, s)
		}
		for i, s := range sites {
			alone := checklist.NewState(checklist.Loudspeakers, jobID)
			for _, r := range s.records {
				alone.Fold(r)
			}
			require.Equal(t, dump(t, alone), dump(t, s.state), "state %d", i)
			for _, other := range sites {
				for _, r := range other.records {
					want, known := alone.Decided(r.Entry.ID)
					got, ok := s.state.Decided(r.Entry.ID)
					require.Equal(t, known, ok, "state %d, entry %s", i, r.Entry.ID)
					require.Equal(t, want, got)
				}
			}
		}
	})
}

// BenchmarkStateClone clones logs of remarks; the time and the bytes must not follow
// the number of entries.
func BenchmarkStateClone(b *testing.B) {
	for _, entries := range []int{500, 50_000} {
		s := newSite(b)
		s.open(examplePlan(b))
		for len(s.records) < entries {
			s.do(checklist.Installer, checklist.RemarkWritten, checklist.Remark{Text: "as it is"})
		}
		b.Run(fmt.Sprint(entries, " entries"), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				s.state.Clone()
			}
		})
		b.Run(fmt.Sprint(entries, " entries, one more each time"), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				s.state.Clone()
				s.do(checklist.Installer, checklist.RemarkWritten, checklist.Remark{Text: "as it is"})
			}
		})
	}
}

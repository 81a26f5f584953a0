package main

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/server/memory"
	"hangtrue/server/store/storetest"
)

// The generator's logs are ones that a server would have kept: every record's
// decision is the one that the rules give there, for the log and for its copies.
func TestLogIsLawful(t *testing.T) {
	l, err := newLog(700)
	require.NoError(t, err)
	require.Len(t, l.records, 700)
	copied, err := l.of(42)
	require.NoError(t, err)
	for job, records := range map[string][]checklist.Record{l.job: l.records, copied.Job: copied.Records} {
		s := checklist.NewState(checklist.Loudspeakers, job)
		refused := 0
		for i, r := range records {
			require.EqualValues(t, i+1, r.Position)
			require.Equal(t, s.Decide(r.Entry), r.Decision, "record %d", r.Position)
			s.Fold(r)
			if !r.Accepted {
				refused++
			}
		}
		assert.Greater(t, refused, 10)
		assert.Greater(t, len(s.Remarks()), 100)
		assert.Greater(t, len(s.History(checklist.Key{Step: "survey"})), 3, "all steps again and again")
	}
	assert.Equal(t, l.line.Done, copied.Line.Done)
}

// A store that was filled is whole.
func TestFill(t *testing.T) {
	l, err := newLog(50)
	require.NoError(t, err)
	s := memory.New()
	require.NoError(t, fill(s, l, 0, 24))
	lines, err := s.Lines()
	require.NoError(t, err)
	require.Len(t, lines, 25)
	storetest.Check(t, s)
}

// The part that needs no program of its own runs, and says what it compares with.
func TestMeasurePushes(t *testing.T) {
	require.NoError(t, options{only: "pushes", phones: "1,8,64", rounds: 2, pushes: 64}.run())
	assert.ErrorContains(t, options{only: "puddings"}.run(), `"puddings"`)
	assert.ErrorContains(t, options{only: "pushes", phones: "none", rounds: 1}.run(), `-phones has "none"`)
}

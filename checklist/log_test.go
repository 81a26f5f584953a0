package checklist_test

import (
	"encoding/json"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist"
)

// statuses is what a state says of every step.
func statuses(s *checklist.State) map[checklist.Key]checklist.Status {
	all := map[checklist.Key]checklist.Status{}
	for _, k := range s.Keys() {
		all[k] = s.Status(k)
	}
	return all
}

// The same records give the same state, in whatever order and however often they
// come, and through their wire form.
func TestLogConverges(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := newSite(t)
		s.open(examplePlan(t))
		for range rapid.IntRange(1, 25).Draw(t, "acts") {
			act(t, s)
		}
		l := checklist.NewLog(checklist.Loudspeakers, jobID)
		arriving := slices.Concat(s.records, s.records[:len(s.records)/2])
		for _, i := range rapid.Permutation(indices(len(arriving))).Draw(t, "order") {
			data, err := json.Marshal(arriving[i])
			require.NoError(t, err)
			var r checklist.Record
			require.NoError(t, json.Unmarshal(data, &r))
			require.Equal(t, arriving[i].Leaf(), r.Leaf())
			require.NoError(t, l.Receive(r))
		}
		require.Equal(t, s.state.Head, l.Head())
		require.Equal(t, statuses(s.state), statuses(l.State()))
	})
}

func indices(n int) []int {
	all := make([]int, n)
	for i := range all {
		all[i] = i
	}
	return all
}

// An entry is kept and counts before the server has seen it, and does not count
// twice when it comes back.
func TestLogPending(t *testing.T) {
	p := examplePlan(t)
	s := newSite(t)
	s.open(p)
	l := checklist.NewLog(checklist.Loudspeakers, jobID)
	require.NoError(t, l.Receive(s.records...))
	survey := s.entry(deviceB, checklist.Lead, checklist.StepRecorded, good(t, p, "survey", ""))
	drill := s.entry(deviceB, checklist.Lead, checklist.StepRecorded, good(t, p, "drill", "M+030"))
	require.NoError(t, l.Keep(survey))
	require.NoError(t, l.Keep(drill))
	require.NoError(t, l.Keep(survey))
	assert.Len(t, l.Pending(), 2)
	assert.Equal(t, checklist.Done, l.State().Status(checklist.Key{Step: "survey"}))
	assert.True(t, l.Foreseen(survey.ID).Accepted)
	assert.Contains(t, l.Foreseen(drill.ID).Reason, "Mark is not done")
	assert.EqualValues(t, 3, l.NextNumber(deviceB))

	require.NoError(t, l.Receive(s.push(survey), s.push(drill)))
	assert.Empty(t, l.Pending())
	assert.Equal(t, checklist.Done, l.State().Status(checklist.Key{Step: "survey"}))
	require.Len(t, l.State().Refused(), 1)
	assert.Contains(t, l.State().Refused()[0].Reason, "Mark is not done")
}

// A number that is used after a gap is used.
func TestLogNextNumber(t *testing.T) {
	s := newSite(t)
	s.open(examplePlan(t))
	l := checklist.NewLog(checklist.Loudspeakers, jobID)
	require.NoError(t, l.Receive(s.records[1:]...))
	assert.Zero(t, l.Head())
	assert.EqualValues(t, 3, l.NextNumber(deviceA))
	assert.EqualValues(t, 1, l.NextNumber(deviceB))
	require.NoError(t, l.Receive(s.records[0]))
	assert.EqualValues(t, 3, l.NextNumber(deviceA))
}

// A record that contradicts a known one, or belongs to another job, is an error
// and changes nothing.
func TestLogContradiction(t *testing.T) {
	s := newSite(t)
	s.open(examplePlan(t))
	l := checklist.NewLog(checklist.Loudspeakers, jobID)
	require.NoError(t, l.Receive(s.records...))
	other := s.records[0]
	other.Accepted = false
	require.Error(t, l.Receive(other))
	later := s.records[0]
	later.Received = "2030-02-01T08:00:00.000Z"
	require.Error(t, l.Receive(later), "the same entry, received once more by a server that had lost it")
	moved := checklist.NewLog(checklist.Loudspeakers, deviceA)
	require.Error(t, moved.Receive(s.records[0]))
	assert.EqualValues(t, 2, l.Head())
}

// A device's number is used once; entries are decided in their order.
func TestStateNumbers(t *testing.T) {
	p := examplePlan(t)
	s := newSite(t)
	s.open(p)
	first := s.entry(deviceB, checklist.Lead, checklist.RemarkWritten, checklist.Remark{Text: "one"})
	require.True(t, s.push(first).Accepted)
	s.numbers[deviceB] = 0
	r := s.push(s.entry(deviceB, checklist.Lead, checklist.RemarkWritten, checklist.Remark{Text: "another"}))
	assert.False(t, r.Accepted)
	assert.Contains(t, r.Reason, "was used by another entry")
	entries := s.state.Entries
	s.state.Fold(r)
	assert.Equal(t, entries, s.state.Entries, "a record folded before changes nothing")
}

// Entries kept one by one show what the same entries show when they are folded
// together, in whatever order they are kept.
func TestLogKeepsOneByOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := newSite(t)
		s.open(examplePlan(t))
		known := len(s.records)
		for range rapid.IntRange(1, 15).Draw(t, "acts") {
			act(t, s)
		}
		var made []checklist.Entry
		for _, r := range s.records[known:] {
			made = append(made, r.Entry)
		}
		together := checklist.NewLog(checklist.Loudspeakers, jobID)
		require.NoError(t, together.Receive(s.records[:known]...))
		for _, e := range made {
			require.NoError(t, together.Keep(e))
		}
		single := checklist.NewLog(checklist.Loudspeakers, jobID)
		require.NoError(t, single.Receive(s.records[:known]...))
		order := made
		if rapid.Bool().Draw(t, "any order") {
			order = rapid.Permutation(made).Draw(t, "order")
		}
		for _, e := range order {
			single.State()
			require.NoError(t, single.Keep(e))
		}
		require.Equal(t, statuses(together.State()), statuses(single.State()))
		require.Equal(t, together.Pending(), single.Pending())
		for _, e := range made {
			require.Equal(t, together.Foreseen(e.ID), single.Foreseen(e.ID))
		}
		require.Equal(t, int64(known), single.Head())
	})
}

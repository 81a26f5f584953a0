package server_test

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/server/memory"
	"hangtrue/server/store"
)

// late is a store that keeps what it is given and says that it did not, as when a
// disk does not answer in time.
type late struct {
	store.Store
	fails bool
}

func (l *late) Append(additions ...store.Addition) error {
	if err := l.Store.Append(additions...); err != nil || !l.fails {
		return err
	}
	return errors.New("the disk does not answer")
}

// What was kept although the store said otherwise is told in the list of jobs, or
// no other phone would ask for it.
func TestPush_KeptAllTheSame(t *testing.T) {
	kept := &late{Store: memory.New()}
	k := keeper(t, kept)
	d := lead(t, jobA)
	_, _, err := k.Push(jobA, [][]byte{d.open("Attic lounge").Bytes()})
	require.NoError(t, err)
	kept.fails = true
	remark := d.remark("one")
	_, _, err = k.Push(jobA, [][]byte{remark.Bytes()})
	require.Error(t, err)
	line, err := k.Line(jobA)
	require.NoError(t, err)
	assert.EqualValues(t, 2, line.Head)
	kept.fails = false
	head, answers, err := k.Push(jobA, [][]byte{remark.Bytes()})
	require.NoError(t, err)
	assert.EqualValues(t, 2, head)
	require.NotNil(t, answers[0].Record)
	assert.EqualValues(t, 2, answers[0].Record.Position)
}

// A server of an older program decides nothing on a job that a newer one went on with:
// the phone keeps what it has until the newer one serves again.
func TestPush_NewerSteps(t *testing.T) {
	kept := memory.New()
	s := serve(t, kept)
	d := lead(t, jobA)
	s.push(jobA, d.open("Attic lounge"))
	later := d.remark("by the newer program")
	line, err := kept.Line(jobA)
	require.NoError(t, err)
	line.Head = 2
	require.NoError(t, kept.Append(store.Addition{Job: jobA, Line: line, Records: []checklist.Record{
		{Position: 2, Received: line.Received, Decision: checklist.Decision{Accepted: true, Edition: 99}, Entry: later}}}))
	s = serve(t, kept)
	said := s.do("POST", "/api/jobs/"+jobA+"/entries", pushBody(string(d.remark("one").Bytes()))).problem(t, 503)
	assert.Contains(t, said, "decided by edition 99 of the steps")
	records, _ := s.pull(jobA)
	assert.Len(t, records, 2)
	assert.Equal(t, 99, records[1].Edition)
	assert.Equal(t, 200, s.get("/jobs/"+jobA).StatusCode, "its pages are shown")
}

package server_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"slices"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/server/memory"
	"hangtrue/server/store"
)

// counted is a store that counts what is read of logs in a row, and whose single
// records can be out of reach.
type counted struct {
	store.Store
	read   int
	broken atomic.Bool
}

func (c *counted) Records(job string, after int64, limit, size int) ([]checklist.Record, error) {
	records, err := c.Store.Records(job, after, limit, size)
	c.read += len(records)
	return records, err
}

func (c *counted) At(job string, positions []int64) ([]checklist.Record, error) {
	if c.broken.Load() {
		return nil, errors.New("the disk does not answer")
	}
	return c.Store.At(job, positions)
}

func dumped(t testing.TB, s *checklist.State) string {
	var b bytes.Buffer
	require.NoError(t, s.Dump(&b))
	require.NoError(t, s.Fault())
	return b.String()
}

// whole is what a job's log adds up to, folded from its first record.
func whole(t testing.TB, s store.Store) string {
	records, err := s.Records(jobA, 0, 1<<20, 1<<30)
	require.NoError(t, err)
	state := checklist.NewState(checklist.Loudspeakers, jobA)
	for _, r := range records {
		state.Fold(r)
	}
	return dumped(t, state)
}

// A job that is opened again shows what its whole log adds up to and reads little of
// it; so does one on which people went on, whenever its snapshot was taken.
func TestSnapshot_Opens(t *testing.T) {
	for name, s := range map[string]store.Store{"memory": memory.New(), "bolt": openBolt(t)} {
		t.Run(name, func(t *testing.T) {
			d, finished := finished(t, s)
			for round := range 12 {
				c := &counted{Store: s}
				k := keeper(t, c)
				k.SnapshotEvery(5)
				state, err := k.State(jobA)
				require.NoError(t, err)
				assert.Equal(t, whole(t, s), dumped(t, state), "round %d", round)
				if round > 0 {
					assert.True(t, state.Resumed())
					assert.Less(t, c.read, 5)
				}
				for range round {
					head, a, err := k.Push(jobA, [][]byte{d.remark("goes on").Bytes()})
					require.NoError(t, err)
					require.True(t, a[0].Record.Accepted, a[0].Record.Reason)
					require.Equal(t, head, a[0].Record.Position)
				}
				first, err := s.Records(jobA, 2, 1, 1<<20)
				require.NoError(t, err)
				_, a, err := k.Push(jobA, [][]byte{first[0].Entry.Bytes()})
				require.NoError(t, err)
				assert.Equal(t, first[0], *a[0].Record, "an entry behind the snapshot is known")
			}
			assert.Greater(t, len(whole(t, s)), len(dumped(t, finished)))
		})
	}
}

// What a snapshot says is never signed: one that tells of a step which nobody did
// shows it, and the sign-off is decided by the log. What it seals verifies.
func TestSnapshot_SignsByTheLog(t *testing.T) {
	s := memory.New()
	d, state := finished(t, s)
	records, err := s.Records(jobA, 0, 1<<20, 1<<30)
	require.NoError(t, err)
	cut := slices.IndexFunc(records, func(r checklist.Record) bool { return checklist.About(r.Entry).Step == "handover" })
	require.Positive(t, cut)
	unfinished := memory.New()
	require.NoError(t, unfinished.Append(store.Addition{Job: jobA, Records: records[:cut],
		Line: store.Line{ID: jobA, Title: state.Title, Head: int64(cut), Received: records[cut-1].Received}}))
	k := keeper(t, unfinished)
	k.SnapshotEvery(1)
	_, err = k.State(jobA)
	require.NoError(t, err)

	var shot map[string]any
	data, err := unfinished.Snapshot(jobA)
	require.NoError(t, err)
	require.NoError(t, json.Unmarshal(data, &shot))
	shot["evidence"] = append(shot["evidence"].([]any), map[string]any{"Step": "handover", "record": cut, "revision": 1})
	lie, err := json.Marshal(shot)
	require.NoError(t, err)
	require.NoError(t, unfinished.Append(store.Addition{Job: jobA, Snapshot: lie}))
	k = keeper(t, unfinished)
	told, err := k.State(jobA)
	require.NoError(t, err)
	require.NotNil(t, told.Evidence(checklist.Key{Step: "handover"}), "the lie is told")
	d.number = told.LastNumber(phone1)
	sign := func() checklist.Record {
		head, err := k.Line(jobA)
		require.NoError(t, err)
		_, a, err := k.Push(jobA, [][]byte{d.make(checklist.JobSigned, checklist.Signing{Revision: 1, Head: head.Head}).Bytes()})
		require.NoError(t, err)
		require.NotNil(t, a[0].Record, a[0].Stray)
		return *a[0].Record
	}
	r := sign()
	assert.False(t, r.Accepted)
	assert.Contains(t, r.Reason, "Sign-off is held")

	body := json.RawMessage(records[cut].Entry.Body)
	k.SnapshotEvery(1)
	_, a, err := k.Push(jobA, [][]byte{d.make(checklist.StepRecorded, body).Bytes()})
	require.NoError(t, err)
	require.True(t, a[0].Record.Accepted, a[0].Record.Reason)
	k = keeper(t, unfinished)
	told, err = k.State(jobA)
	require.NoError(t, err)
	require.True(t, told.Resumed())
	r = sign()
	assert.True(t, r.Accepted, r.Reason)
	file, err := k.File(jobA)
	require.NoError(t, err)
	report := file.Verify(k.PublicKey())
	assert.True(t, report.Intact(), "%v", report.Findings)
	assert.Len(t, report.SignOffs, 1)
}

// A snapshot that is not one, or of another log, is passed over.
func TestSnapshot_PassedOver(t *testing.T) {
	s, other := memory.New(), memory.New()
	finished(t, s)
	finished(t, other)
	k := keeper(t, other)
	_, _, err := k.Push(jobA, [][]byte{lead(t, jobA).remark("only here").Bytes()})
	require.NoError(t, err)
	state, err := k.State(jobA)
	require.NoError(t, err)
	for name, shot := range map[string][]byte{"no snapshot": []byte("{"), "a longer log's": state.Snapshot()} {
		require.NoError(t, s.Append(store.Addition{Job: jobA, Snapshot: shot}))
		state, err := keeper(t, s).State(jobA)
		require.NoError(t, err, name)
		assert.False(t, state.Resumed(), name)
		assert.Equal(t, whole(t, s), dumped(t, state), name)
	}
}

// A page that needs what cannot be read is an error, and no page with something
// missing; the same of a push.
func TestSnapshot_PastOutOfReach(t *testing.T) {
	c := &counted{Store: memory.New()}
	d, _ := finished(t, c)
	for range 3 {
		k := keeper(t, c)
		_, _, err := k.Push(jobA, [][]byte{d.remark("a remark to show").Bytes()})
		require.NoError(t, err)
	}
	first := serve(t, c)
	first.keeper.SnapshotEvery(1)
	require.Equal(t, 200, first.get("/jobs/"+jobA).StatusCode)
	require.Contains(t, first.get("/jobs/"+jobA+"/record").body, "a remark to show")
	again := serve(t, c)
	require.Equal(t, 200, again.get("/jobs/"+jobA).StatusCode)
	c.broken.Store(true)
	assert.Equal(t, 500, again.get("/jobs/"+jobA+"/record").StatusCode)
	c.broken.Store(false)
	assert.Contains(t, again.get("/jobs/"+jobA+"/record").body, "a remark to show")
}

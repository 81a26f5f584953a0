package care_test

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/seal"
	"hangtrue/server/care"
	"hangtrue/server/folder"
	"hangtrue/server/store"
	"hangtrue/server/store/storetest"
)

// TestFolder_GoesOn: a job whose records name no edition of the steps goes on under this
// program. What was stays as it was, and the whole verifies.
func TestFolder_GoesOn(t *testing.T) {
	data := stored(t)
	f, err := folder.Open(data)
	require.NoError(t, err)
	before, err := f.Store.Records(storetest.JobA, 0, 1000, 1<<30)
	require.NoError(t, err)
	k := keeper(t, f)
	was, err := k.File(storetest.JobA)
	require.NoError(t, err)
	encoded, err := was.Encode()
	require.NoError(t, err)
	assert.Contains(t, string(encoded), `"hangtrue-record/1"`)

	last := before[len(before)-1].Entry
	last.ID, last.Number = "018f3c5e-7a10-7000-8000-00000000ffff", last.Number+1
	e, err := checklist.NewEntry(last, checklist.Remark{Text: "And again."})
	require.NoError(t, err)
	_, answers, err := k.Push(storetest.JobA, [][]byte{e.Bytes()})
	require.NoError(t, err)
	require.NotNil(t, answers[0].Record)
	assert.Equal(t, checklist.Loudspeakers.Version, answers[0].Record.Edition)
	file, err := k.File(storetest.JobA)
	require.NoError(t, err)
	require.NoError(t, f.Close())

	assert.Equal(t, was.Hashes, file.Hashes[:len(before)])
	for i, r := range before {
		assert.Zero(t, r.Edition)
		assert.Equal(t, r.Leaf(), file.Records[i].Leaf())
	}
	encoded, err = file.Encode()
	require.NoError(t, err)
	report := readFile(t, encoded).Verify(f.Key.Public())
	assert.Empty(t, report.Findings)
	assert.Equal(t, []int64{25}, report.SignOffs, "the seal of its day")

	// And so it is taken over by another server.
	there := filepath.Join(t.TempDir(), "data")
	in, err := bring(t, encoded, f.Key.Public(), there)
	require.NoError(t, err)
	assert.True(t, in.Added)
	other, err := folder.Open(there)
	require.NoError(t, err)
	taken, err := other.Store.Records(storetest.JobA, 0, 1000, 1<<30)
	require.NoError(t, err)
	require.NoError(t, other.Close())
	require.Len(t, taken, len(file.Records))
	for i, r := range taken {
		assert.Equal(t, file.Records[i].Leaf(), r.Leaf())
	}

	looked, err := care.Doctor{}.Look(t.Context(), data)
	require.NoError(t, err)
	assert.Empty(t, looked.Findings)
}

// TestNewerEdition: what was decided by steps that came after this program is told by
// the doctor as what it is, and is not taken over: what came next would go back behind it.
func TestNewerEdition(t *testing.T) {
	data := stored(t)
	f, err := folder.Open(data)
	require.NoError(t, err)
	records, err := f.Store.Records(storetest.JobB, 0, 10, 1<<20)
	require.NoError(t, err)
	e, err := checklist.NewEntry(checklist.Entry{
		ID: "018f3c5e-7a10-7000-8000-00000000ffff", Job: storetest.JobB, Device: records[0].Entry.Device, Number: 2, Seen: 1,
		Who: "lead", Role: checklist.Lead, Clock: records[0].Entry.Clock, Kind: checklist.RemarkWritten,
	}, checklist.Remark{Text: "seen"})
	require.NoError(t, err)
	r := checklist.Record{Position: 2, Received: "2031-01-31T09:15:00.000Z", Decision: checklist.Decision{Accepted: true, Edition: 99}, Entry: e}
	line, err := f.Store.Line(storetest.JobB)
	require.NoError(t, err)
	line.Head, line.Received = 2, r.Received
	require.NoError(t, f.Store.Append(store.Addition{Job: storetest.JobB, Records: []checklist.Record{r}, Line: line}))
	file, err := keeper(t, f).File(storetest.JobB)
	require.NoError(t, err)
	require.NoError(t, f.Close())

	report, err := care.Doctor{}.Look(t.Context(), data)
	require.NoError(t, err)
	assert.Empty(t, report.Findings)
	require.Equal(t, []care.Unchecked{{Job: storetest.JobB, Title: line.Title, Unchecked: seal.Unchecked{Edition: 99, First: 2, Last: 2}}}, report.Unchecked)

	made := backup(t, data, filepath.Join(t.TempDir(), "jobs.tar"))
	assert.Empty(t, made.Findings)
	record, err := file.Encode()
	require.NoError(t, err)
	_, err = bring(t, record, "", filepath.Join(t.TempDir(), "data"))
	assert.EqualError(t, err, "the record was decided by edition 99 of the steps, which this program does not know, so that nothing was added. Import it with a newer hangtrue")
}

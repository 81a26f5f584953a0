package folder_test

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/rehearsal"
	"hangtrue/server"
	"hangtrue/server/folder"
	"hangtrue/server/store/storetest"
)

var makeIn = flag.String("make", "", "folder to make a new stored folder in, as today's code writes it")

// fixtureDevice made every entry of the finished job.
const fixtureDevice = "018f3c5e-7a10-7000-8000-00000000d001"

// fill puts into a folder what every stored folder of testdata holds: a small job
// that is finished, signed off and remarked on, with a snapshot, a job that was only
// opened, and two entries that belong to no log.
func fill(t testing.TB, f *folder.Folder) {
	document, err := os.ReadFile("../../testdata/plans/example.json")
	require.NoError(t, err)
	p, err := plan.Decode(document)
	require.NoError(t, err)
	site := rehearsal.NewSite(storetest.JobA, fixtureDevice)
	require.NoError(t, site.Open(p))
	require.NoError(t, site.Finish())
	require.NoError(t, site.Do(checklist.JobSigned, checklist.Signing{Revision: 1, Head: site.State.Head}))
	require.NoError(t, site.Do(checklist.RemarkWritten, checklist.Remark{Text: "Seen again after a year: nothing moved."}))

	now := time.Date(2030, 1, 31, 9, 15, 0, 0, time.UTC)
	k, err := server.NewKeeper(f.Store, f.Key, func() time.Time { now = now.Add(time.Second); return now })
	require.NoError(t, err)
	k.SnapshotEvery(10)
	for _, r := range site.Records {
		_, answers, err := k.Push(storetest.JobA, [][]byte{r.Entry.Bytes()})
		require.NoError(t, err)
		require.NotNil(t, answers[0].Record)
		require.True(t, answers[0].Record.Accepted, answers[0].Record.Reason)
	}
	second := rehearsal.NewSite(storetest.JobB, fixtureDevice)
	require.NoError(t, second.Do(checklist.JobOpened, checklist.Opening{Title: "Garage, \"not begun\""}))
	_, _, err = k.Push(storetest.JobB, [][]byte{second.Records[0].Entry.Bytes(), []byte("not an entry"), site.Records[0].Entry.Bytes()})
	require.NoError(t, err)
}

// TestMakeFolder writes a stored folder for testdata when a new format needs one:
// go test ./server/folder -run TestMakeFolder -make ../../testdata/folders/format-4
func TestMakeFolder(t *testing.T) {
	if *makeIn == "" {
		t.Skip("only with -make")
	}
	require.NoError(t, os.Mkdir(*makeIn, 0o700), "a stored folder is never written anew")
	f, err := folder.Open(*makeIn)
	require.NoError(t, err)
	fill(t, f)
	require.NoError(t, f.Close())
	path := filepath.Join(*makeIn, "jobs.db")
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	const page = 4096
	used := (len(bytes.TrimRight(data, "\x00")) + page - 1) / page * page
	require.NoError(t, os.Truncate(path, int64(used)))
}

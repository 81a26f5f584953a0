package care_test

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/seal"
	"hangtrue/server"
	"hangtrue/server/care"
	"hangtrue/server/folder"
	"hangtrue/server/store/storetest"
)

func keeper(t testing.TB, f *folder.Folder) *server.Keeper {
	k, err := server.NewKeeper(f.Store, f.Key, func() time.Time { return now })
	require.NoError(t, err)
	return k
}

// handedOut are the record files of the jobs of testdata's stored folder, as its server
// would hand them out: one signed off with remarks after it, one only opened.
func handedOut(t testing.TB) (signed, opened []byte, public string) {
	f, err := folder.Open(stored(t))
	require.NoError(t, err)
	defer f.Close()
	k := keeper(t, f)
	for _, line := range k.Lines() {
		file, err := k.File(line.ID)
		require.NoError(t, err)
		data, err := file.Encode()
		require.NoError(t, err)
		if line.Signed {
			signed = data
		} else {
			opened = data
		}
	}
	require.NotNil(t, signed)
	require.NotNil(t, opened)
	return signed, opened, f.Key.Public()
}

func bring(t testing.TB, record []byte, key, data string) (server.Imported, error) {
	return care.Import{Record: record, Key: key, Data: data, Now: func() time.Time { return now }}.Do(t.Context())
}

func readFile(t testing.TB, data []byte) seal.File {
	f, err := seal.Read(data)
	require.NoError(t, err)
	return f
}

// TestImport: a job of another server goes on here: the same entries and decisions,
// sealed with this server's key, and the file as it came. Once more changes nothing.
func TestImport(t *testing.T) {
	signed, opened, public := handedOut(t)
	for name, served := range map[string]bool{"into a folder": false, "into a running server": true} {
		t.Run(name, func(t *testing.T) {
			data := filepath.Join(t.TempDir(), "data")
			f, err := folder.Open(data)
			require.NoError(t, err)
			k := keeper(t, f)
			if served {
				defer f.Close()
				defer care.Attend(f, k)()
			} else {
				require.NoError(t, f.Close())
			}
			was := readFile(t, signed)
			in, err := bring(t, signed, public, data)
			require.NoError(t, err)
			assert.Equal(t, server.Imported{Job: was.Job, Title: was.Title, Records: len(was.Records), Added: true}, in)
			in, err = bring(t, opened, "", data)
			require.NoError(t, err)
			assert.True(t, in.Added)
			before := contents(t, filepath.Join(data, folder.ImportsDir))
			assert.Equal(t, string(signed), before[was.Job+".json"], "as it came, with the other server's seals")
			for range 2 {
				in, err = bring(t, signed, "", data)
				require.NoError(t, err)
				assert.False(t, in.Added)
				assert.Zero(t, in.Later)
			}

			if !served {
				f, err = folder.Open(data)
				require.NoError(t, err)
				defer f.Close()
				k = keeper(t, f)
			}
			storetest.Check(t, f.Store)
			assert.Empty(t, f.Damage)
			file, err := k.File(was.Job)
			require.NoError(t, err)
			assert.Equal(t, was.Hashes, file.Hashes)
			report := file.Verify(f.Key.Public())
			assert.True(t, report.Intact(), "%+v", report.Findings)
			assert.Equal(t, was.Verify(public).SignOffs, report.SignOffs)
			assert.NotEqual(t, public, file.Key)
			line, err := k.Line(was.Job)
			require.NoError(t, err)
			assert.True(t, line.Signed)
			assert.Equal(t, line.All, line.Done)

			// The job goes on, and the file that was taken over is then the beginning of its log.
			state, err := k.State(was.Job)
			require.NoError(t, err)
			device := was.Records[0].Entry.Device
			e, err := checklist.NewEntry(checklist.Entry{ID: "018f3c5e-7a10-7000-9000-0000000000ff", Job: was.Job, Device: device, Number: state.LastNumber(device) + 1,
				Who: "lead", Role: checklist.Lead, Clock: "2030-02-01T18:30:00.000Z", Plan: state.Revision(), Kind: checklist.RemarkWritten}, checklist.Remark{Text: "Goes on here."})
			require.NoError(t, err)
			_, answers, err := k.Push(was.Job, [][]byte{e.Bytes()})
			require.NoError(t, err)
			require.NotNil(t, answers[0].Record, "%+v", answers)
			assert.True(t, answers[0].Record.Accepted, answers[0].Record.Reason)
			if !served {
				require.NoError(t, f.Close())
			}
			in, err = bring(t, signed, "", data)
			require.NoError(t, err)
			assert.Equal(t, server.Imported{Job: was.Job, Title: was.Title, Records: len(was.Records), Later: 1}, in)

			report2, err := care.Doctor{}.Look(t.Context(), data)
			require.NoError(t, err)
			assert.Empty(t, report2.Findings)
			made := backup(t, data, filepath.Join(t.TempDir(), "b"))
			assert.Equal(t, string(signed), contents(t, made.Path)[folder.ImportsDir+"/"+was.Job+".json"], "a backup has it too")
		})
	}
}

// TestImport_OwnRecord: a record that comes back to the server that made it has the
// seals it had: the same key signs the same text alike (RFC 8032: Ed25519 is deterministic).
func TestImport_OwnRecord(t *testing.T) {
	signed, _, _ := handedOut(t)
	data := filepath.Join(t.TempDir(), "data")
	require.NoError(t, os.MkdirAll(filepath.Join(data, folder.KeysDir), 0o700))
	key, err := os.ReadFile(filepath.Join(stored(t), folder.KeyFile))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(data, folder.KeyFile), key, 0o600))
	_, err = bring(t, signed, "", data)
	require.NoError(t, err)
	f, err := folder.Open(data)
	require.NoError(t, err)
	defer f.Close()
	file, err := keeper(t, f).File(readFile(t, signed).Job)
	require.NoError(t, err)
	again, err := file.Encode()
	require.NoError(t, err)
	assert.Equal(t, string(signed), string(again))
}

// TestImport_Refuses: what is not intact, not sealed with the key, or not what is
// here already adds nothing and leaves nothing behind.
func TestImport_Refuses(t *testing.T) {
	signed, opened, _ := handedOut(t)
	was := readFile(t, signed)
	other, _, err := seal.GenerateKey(bytes.NewReader(bytes.Repeat([]byte{9}, 64)))
	require.NoError(t, err)
	// resealed is a record made anew by somebody with a key of his own.
	resealed := func(records []checklist.Record) []byte {
		var notes []string
		for i, r := range records {
			if r.Accepted && r.Entry.Kind == checklist.JobSigned {
				note, err := other.Sign(seal.Checkpoint{Job: was.Job, Size: int64(i + 1), Root: seal.Root(records[:i+1]), Purpose: seal.SignOff})
				require.NoError(t, err)
				notes = append(notes, note)
			}
		}
		note, err := other.Sign(seal.Checkpoint{Job: was.Job, Size: int64(len(records)), Root: seal.Root(records), Purpose: seal.Extract})
		require.NoError(t, err)
		title := was.Title
		if len(records) == 0 {
			title = ""
		}
		data, err := seal.NewFile(was.Job, title, other.Public(), records, append(notes, note)).Encode()
		require.NoError(t, err)
		return data
	}
	n := len(was.Records)
	later := bytes.Clone(signed) // one that came a second later at a position
	changed := append([]checklist.Record(nil), was.Records...)
	changed[n-1].Received = "2031-01-01T00:00:00.000Z"
	longer, shorter := was.Records, was.Records[:n-1]

	for _, row := range []struct {
		name      string
		here      []byte // imported before
		record    []byte
		key, says string
	}{
		{"no record", nil, []byte("{}"), "", "not a record file"},
		{"cut short", nil, signed[:len(signed)/2], "", "not a record file"},
		{"a comma", nil, bytes.Replace(later, []byte(`\"kind\":`), []byte(`\"kind\";`), 1), "", "Entry 1"},
		{"another key", nil, signed, other.Public(), "not intact"},
		{"no job in it", nil, resealed(nil), "", "does not begin with an opened job"},
		{"another last entry", signed, resealed(changed), "", "differs from the record at entry " + strconv.Itoa(n)},
		{"goes on", resealed(shorter), resealed(longer), "", "its log ends at entry " + strconv.Itoa(n-1) + "; the record goes on from entry " + strconv.Itoa(n)},
	} {
		t.Run(row.name, func(t *testing.T) {
			data := filepath.Join(t.TempDir(), "data")
			_, err := bring(t, opened, "", data)
			require.NoError(t, err)
			if row.here != nil {
				_, err := bring(t, row.here, "", data)
				require.NoError(t, err)
			}
			before := contents(t, data)
			_, err = bring(t, row.record, row.key, data)
			assert.ErrorContains(t, err, row.says)
			after := contents(t, data)
			delete(before, folder.JobsFile) // whose pages say that it was opened
			delete(after, folder.JobsFile)
			assert.Equal(t, before, after)
			f, err := folder.Open(data)
			require.NoError(t, err)
			defer f.Close()
			lines, err := f.Store.Lines()
			require.NoError(t, err)
			assert.Len(t, lines, len(after)-1, "a job for each file that was taken over")

			// The server that uses the folder says the same.
			defer care.Attend(f, keeper(t, f))()
			_, err = bring(t, row.record, row.key, data)
			assert.ErrorContains(t, err, row.says)
		})
	}
	data := filepath.Join(t.TempDir(), "data")
	_, err = bring(t, bytes.Replace(signed, []byte(`\"kind\":`), []byte(`\"kind\";`), 1), "", data)
	var unsound care.Unsound
	require.ErrorAs(t, err, &unsound)
	_, err = os.Stat(data)
	assert.True(t, errors.Is(err, os.ErrNotExist), "no folder is made for it")
}

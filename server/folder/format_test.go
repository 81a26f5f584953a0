package folder_test

import (
	"bytes"
	"crypto/rand"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/seal"
	"hangtrue/server"
	"hangtrue/server/bolt"
	"hangtrue/server/folder"
	"hangtrue/server/store"
	"hangtrue/server/store/storetest"
)

// stored is a copy of a stored folder of testdata.
func stored(t testing.TB, name string) string {
	dir := filepath.Join(t.TempDir(), "data")
	require.NoError(t, os.CopyFS(dir, os.DirFS(filepath.Join("../../testdata/folders", name))))
	require.NoError(t, os.Chmod(filepath.Join(dir, folder.KeyFile), 0o600)) // git keeps no such modes
	return dir
}

// TestOpen_EveryFormat opens a folder of every format there ever was and finds all
// that is in it, with its seal.
func TestOpen_EveryFormat(t *testing.T) {
	entries, err := os.ReadDir("../../testdata/folders")
	require.NoError(t, err)
	keys := map[string]string{
		"format-1": "hangtrue+18a18d99+ARHDmoNx/VpKjylRr/ipWQ7OFUURSaUPH1Abtiqo2s2e",
		"format-2": "hangtrue+98a543eb+AfmOyEWtNlu8a1ppqaZqqbCtJV7L10ivGrHwr5FkNRdP",
		"format-3": "hangtrue+a929e1c2+AZcM8ruuV98ISwHKU5Yg2+HY1o3U1JHFkcebaYavVu/F",
	}
	seen := 0
	for _, entry := range entries {
		if !entry.IsDir() {
			continue
		}
		seen++
		t.Run(entry.Name(), func(t *testing.T) {
			dir := stored(t, entry.Name())
			for _, left := range []bool{false, true} { // as it was, and as today's program left it
				f := open(t, dir)
				if older := entry.Name() != fmt.Sprint("format-", bolt.Format()); older && !left {
					assert.Equal(t, filepath.Join(dir, "jobs.db."+entry.Name()), f.Store.Aside())
					assert.FileExists(t, f.Store.Aside())
				} else {
					assert.Empty(t, f.Store.Aside())
				}
				assert.Empty(t, f.Damage)
				assert.Equal(t, keys[entry.Name()], f.Key.Public())
				finds(t, f)
				storetest.Check(t, f.Store)
				k, err := server.NewKeeper(f.Store, f.Key, time.Now)
				require.NoError(t, err)
				state, err := k.State(storetest.JobA)
				require.NoError(t, err)
				assert.EqualValues(t, 26, state.Head)
				assert.True(t, state.Locked())
				shot, err := f.Store.Snapshot(storetest.JobA)
				require.NoError(t, err)
				assert.Equal(t, entry.Name() != "format-1", shot != nil, "the first format had none")
				bound, err := f.Store.Key()
				require.NoError(t, err)
				assert.Equal(t, f.Key.Public(), bound)
				require.NoError(t, f.Close())
			}
		})
	}
	assert.Equal(t, bolt.Format(), seen, "every format has a folder")
}

// finds looks for everything that fill puts in.
func finds(t testing.TB, f *folder.Folder) {
	lines, err := f.Store.Lines()
	require.NoError(t, err)
	require.Len(t, lines, 2)
	assert.Equal(t, storetest.JobA, lines[0].ID)
	assert.True(t, lines[0].Signed)
	assert.Equal(t, "Garage, \"not begun\"", lines[1].Title)

	records, err := f.Store.Records(storetest.JobA, 0, 1000, 1<<30)
	require.NoError(t, err)
	require.Equal(t, int(lines[0].Head), len(records))
	require.EqualValues(t, 26, lines[0].Head)
	last := records[len(records)-1]
	assert.Equal(t, checklist.RemarkWritten, last.Entry.Kind)
	assert.Contains(t, string(last.Entry.Bytes()), "Seen again after a year: nothing moved.")

	seals, err := f.Store.Seals(storetest.JobA)
	require.NoError(t, err)
	require.Len(t, seals, 1)
	c, err := f.Key.Open(seals[0].Note)
	require.NoError(t, err)
	assert.Equal(t, seal.Checkpoint{Job: storetest.JobA, Size: 25, Root: seal.Root(records[:25]), Purpose: seal.SignOff}, c)

	strays, err := f.Store.Strays(0, 10, 1<<20)
	require.NoError(t, err)
	require.Len(t, strays, 2)
	assert.Equal(t, "not an entry", string(strays[0].Entry))
}

// TestOpen_AnotherKey: a key that is one, but not the folder's. With a seal it is
// found even in a folder that knew no key yet.
func TestOpen_AnotherKey(t *testing.T) {
	_, secret, err := seal.GenerateKey(rand.Reader)
	require.NoError(t, err)
	for name, used := range map[string]bool{"never opened by this program": false, "opened before": true} {
		t.Run(name, func(t *testing.T) {
			dir := stored(t, "format-1")
			if used {
				require.NoError(t, open(t, dir).Close())
			}
			require.NoError(t, os.WriteFile(filepath.Join(dir, folder.KeyFile), []byte(secret), 0o600))
			_, err = folder.Open(dir)
			require.ErrorIs(t, err, folder.ErrKey)
			assert.ErrorContains(t, err, "it is another one than made the seals here. Put the backup's in its place")
		})
	}
	t.Run("no seal yet", func(t *testing.T) {
		dir := t.TempDir()
		f := open(t, dir)
		require.NoError(t, f.Store.Append(storetest.Addition(storetest.JobA, storetest.Records(t, storetest.JobA, 1, 1)...)))
		require.NoError(t, f.Close())
		require.NoError(t, os.WriteFile(filepath.Join(dir, folder.KeyFile), []byte(secret), 0o600))
		_, err = folder.Open(dir)
		assert.ErrorIs(t, err, folder.ErrKey, "records that were handed out before are sealed with the first")
	})
	t.Run("no job yet", func(t *testing.T) {
		dir := t.TempDir()
		require.NoError(t, open(t, dir).Close())
		require.NoError(t, os.Remove(filepath.Join(dir, folder.KeyFile)))
		f := open(t, dir)
		bound, err := f.Store.Key()
		require.NoError(t, err)
		assert.Equal(t, f.Key.Public(), bound, "a new key harms nothing")
	})
}

// TestOpen_Damage: a damaged record is told when the folder is opened. The other job
// and the records before it are served; what is damaged is never handed out.
func TestOpen_Damage(t *testing.T) {
	dir := stored(t, "format-1")
	path := filepath.Join(dir, folder.JobsFile)
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, bytes.ReplaceAll(data, []byte("Seen again"), []byte("Seem again")), 0o600))
	f := open(t, dir)
	require.Len(t, f.Damage, 1)
	assert.Equal(t, storetest.JobA, f.Damage[0].Job)
	assert.EqualValues(t, 26, f.Damage[0].Position)
	var damage *store.Damage
	_, err = f.Store.Records(storetest.JobA, 0, 1000, 1<<30)
	assert.ErrorAs(t, err, &damage)
	before, err := f.Store.Records(storetest.JobA, 0, 25, 1<<30)
	require.NoError(t, err)
	assert.Equal(t, 25, len(before))
	other, err := f.Store.Records(storetest.JobB, 0, 1000, 1<<30)
	require.NoError(t, err)
	assert.Len(t, other, 1)
}

// TestOpen_Newer: a folder of a later format is refused and left as it is.
func TestOpen_Newer(t *testing.T) {
	dir := stored(t, "format-1")
	path := filepath.Join(dir, folder.JobsFile)
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	data = bytes.ReplaceAll(data, []byte("hangtrue-store/1"), []byte("hangtrue-store/9"))
	require.NoError(t, os.WriteFile(path, data, 0o600))
	_, err = folder.Open(dir)
	require.ErrorIs(t, err, bolt.ErrNewer)
	after, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.True(t, bytes.Equal(data, after))
}

// TestOpen_LeftOvers: what a copy or a server that was killed left is no obstacle.
func TestOpen_LeftOvers(t *testing.T) {
	dir := stored(t, "format-1")
	left := filepath.Join(dir, ".copy-ABC.db")
	require.NoError(t, os.WriteFile(left, []byte("half"), 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "serving.json"), []byte(`{"address":"127.0.0.1:1","token":"old"}`), 0o600))
	f := open(t, dir)
	assert.NoFileExists(t, left)
	_, err := folder.ReadServing(dir)
	assert.ErrorIs(t, err, folder.ErrNotServing, "who served before is asked for nothing")
	s, err := f.Announce("127.0.0.1:2")
	require.NoError(t, err)
	read, err := folder.ReadServing(dir)
	require.NoError(t, err)
	assert.Equal(t, s, read)
	assert.NotEqual(t, "old", s.Token)
	assert.False(t, folder.Served(dir, "127.0.0.1:3"))
	require.NoError(t, f.Serves("127.0.0.1:3"))
	assert.True(t, folder.Served(dir, "127.0.0.1:3"))
	assert.False(t, folder.Served(dir, "127.0.0.1:4"))
	assert.False(t, folder.Served(dir, ""))
	said, err := os.ReadFile(filepath.Join(dir, "serving.json"))
	require.NoError(t, err)
	require.NoError(t, f.Close())
	_, err = folder.ReadServing(dir)
	assert.ErrorIs(t, err, folder.ErrNotServing)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "serving.json"), said, 0o600))
	assert.False(t, folder.Served(dir, "127.0.0.1:3"), "a server that was killed serves no more")
}

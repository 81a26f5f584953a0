package folder_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/server/bolt"
	"hangtrue/server/folder"
	"hangtrue/server/store/storetest"
)

func open(t *testing.T, dir string) *folder.Folder {
	f, err := folder.Open(dir)
	require.NoError(t, err)
	t.Cleanup(func() { _ = f.Close() })
	return f
}

func TestOpen_KeepsItsKey(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new", "data")
	f := open(t, dir)
	public := f.Key.Public()
	require.NoError(t, f.Close())
	assert.Equal(t, public, open(t, dir).Key.Public())

	for path, mode := range map[string]os.FileMode{"": 0o700, "keys": 0o700, "jobs.db": 0o600, "keys/seal.key": 0o600} {
		info, err := os.Stat(filepath.Join(dir, path))
		require.NoError(t, err)
		assert.Equal(t, mode, info.Mode().Perm(), path)
	}
	left, err := os.ReadDir(filepath.Join(dir, "keys"))
	require.NoError(t, err)
	assert.Len(t, left, 1)
}

func TestOpen_SecondProcess(t *testing.T) {
	dir := t.TempDir()
	open(t, dir)
	_, err := folder.Open(dir)
	assert.ErrorIs(t, err, bolt.ErrInUse)
}

func TestOpen_RefusesAKey(t *testing.T) {
	for name, row := range map[string]struct {
		harm func(t *testing.T, path string)
		says string
	}{
		"missing":            {func(t *testing.T, path string) { require.NoError(t, os.Remove(path)) }, "missing although jobs are here"},
		"readable by others": {func(t *testing.T, path string) { require.NoError(t, os.Chmod(path, 0o640)) }, "mode 0640"},
		"damaged":            {func(t *testing.T, path string) { require.NoError(t, os.WriteFile(path, []byte("secret-part"), 0o600)) }, "not a key"},
		"empty":              {func(t *testing.T, path string) { require.NoError(t, os.WriteFile(path, nil, 0o600)) }, "not a key"},
		"huge":               {func(t *testing.T, path string) { require.NoError(t, os.WriteFile(path, make([]byte, 1<<20), 0o600)) }, "not a key"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			f := open(t, dir)
			require.NoError(t, f.Store.Append(storetest.Addition(storetest.JobA, storetest.Records(t, storetest.JobA, 1, 1)...)))
			require.NoError(t, f.Close())
			row.harm(t, filepath.Join(dir, "keys", "seal.key"))
			_, err := folder.Open(dir)
			require.ErrorIs(t, err, folder.ErrKey)
			assert.Contains(t, err.Error(), row.says)
			assert.NotContains(t, err.Error(), "secret-part")
			_, err = folder.Open(dir)
			assert.ErrorIs(t, err, folder.ErrKey, "and the folder is free again")
		})
	}
}

// TestOpen_Lost: a folder whose store is gone is not begun anew, and nothing is made in it.
func TestOpen_Lost(t *testing.T) {
	dir := t.TempDir()
	f := open(t, dir)
	require.NoError(t, f.Close())
	path := filepath.Join(dir, "jobs.db")
	require.NoError(t, os.Remove(path))
	_, err := folder.Open(dir)
	require.ErrorIs(t, err, folder.ErrLost)
	assert.Contains(t, err.Error(), "Put a backup's in its place")
	assert.NoFileExists(t, path)

	require.NoError(t, os.Rename(filepath.Join(dir, "keys"), filepath.Join(dir, "old-keys")))
	open(t, dir)
	assert.FileExists(t, path)
}

// TestOpen_EverybodyMayWrite: whoever may write into the folder could put a key there.
func TestOpen_EverybodyMayWrite(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, open(t, dir).Close())
	for _, path := range []string{dir, filepath.Join(dir, "keys")} {
		require.NoError(t, os.Chmod(path, 0o777))
		_, err := folder.Open(dir)
		require.ErrorIs(t, err, folder.ErrOpen)
		assert.Contains(t, err.Error(), path+": everybody may write into it (mode 0777)")
		require.NoError(t, os.Chmod(path, 0o770), "a group may be the owner's own")
	}
	open(t, dir)
}

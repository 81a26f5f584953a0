//go:build linux

package bolt_test

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/server/bolt"
	"hangtrue/server/store"
	"hangtrue/server/store/storetest"
)

// smallDisk is a file system of its own, of so many bytes.
func smallDisk(t *testing.T, size string) (dir string, readOnly func()) {
	dir = t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size="+size); err != nil {
		t.Skipf("this machine lets nobody here mount a small disk: %v", err)
	}
	t.Cleanup(func() { assert.NoError(t, syscall.Unmount(dir, 0)) })
	return dir, func() {
		require.NoError(t, syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT|syscall.MS_RDONLY, "size="+size))
	}
}

// TestStore_DiskFull fills a real disk while records come in. What was answered is
// there, what was not left no trace, reading goes on, and when there is room again
// so does writing, without a new start.
func TestStore_DiskFull(t *testing.T) {
	dir, _ := smallDisk(t, "1m")
	path, filler := filepath.Join(dir, "jobs.db"), filepath.Join(dir, "filler")
	s := open(t, path)
	defer s.Close() // before the disk goes
	kept := int64(0)
	add := func() error {
		err := s.Append(storetest.Addition(storetest.JobA, storetest.Records(t, storetest.JobA, kept+1, kept+3)...))
		if err == nil {
			kept += 3
		}
		return err
	}
	for range 5 {
		require.NoError(t, add())
	}
	for round := range 3 {
		require.Error(t, os.WriteFile(filler, make([]byte, 2<<20), 0o600), "the disk is small")
		var err error
		for err == nil {
			err = add()
		}
		require.ErrorIs(t, err, store.ErrFull, "round %d", round)
		require.ErrorIs(t, add(), store.ErrFull, "and again")
		storetest.Check(t, s)
		line, err := s.Line(storetest.JobA)
		require.NoError(t, err)
		assert.Equal(t, kept, line.Head, "round %d", round)
		assert.Error(t, s.CopyTo(filepath.Join(dir, "copy.db")), "no room for a copy either")
		assert.NoFileExists(t, filepath.Join(dir, "copy.db"))

		require.NoError(t, os.Remove(filler))
		require.NoError(t, add(), "there is room again")
	}
	require.NoError(t, s.Close())
	all := examine(t, path)
	assert.True(t, all.Sound(), "%v %v", all.Pages, all.Damage)
	require.Len(t, all.Jobs, 1)
	assert.Equal(t, storetest.Records(t, storetest.JobA, 1, kept), all.Jobs[0].Records)
}

// TestOpen_DiskFull: no store can be made, which is said; and nothing half is left.
func TestOpen_DiskFull(t *testing.T) {
	dir, _ := smallDisk(t, "64k")
	require.Error(t, os.WriteFile(filepath.Join(dir, "filler"), make([]byte, 1<<20), 0o600))
	path := filepath.Join(dir, "jobs.db")
	_, err := bolt.Open(path)
	require.ErrorContains(t, err, "no space left on device")
	assert.NoFileExists(t, path)
	require.NoError(t, os.Remove(filepath.Join(dir, "filler")))
	require.NoError(t, open(t, path).Close())
}

// TestOpen_ReadOnlyDisk: a store there cannot be written to, which is said; it can be
// looked at and copied away.
func TestOpen_ReadOnlyDisk(t *testing.T) {
	dir, readOnly := smallDisk(t, "4m")
	path := filepath.Join(dir, "jobs.db")
	s := open(t, path)
	require.NoError(t, s.Append(storetest.Addition(storetest.JobA, storetest.Records(t, storetest.JobA, 1, 5)...)))
	require.NoError(t, s.Close())
	readOnly()
	_, err := bolt.Open(path)
	require.ErrorIs(t, err, syscall.EROFS)
	assert.NotContains(t, err.Error(), "goroutine")
	assert.True(t, examine(t, path).Sound())
	to := filepath.Join(t.TempDir(), "copy.db")
	require.NoError(t, bolt.Copy(path, to))
	assert.Equal(t, examine(t, path).Jobs, examine(t, to).Jobs)
	_, err = bolt.Open(filepath.Join(dir, "other.db"))
	assert.ErrorIs(t, err, syscall.EROFS)
}

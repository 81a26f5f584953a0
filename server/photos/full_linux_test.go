package photos_test

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/server/photos"
	"hangtrue/server/store"
)

// TestAdd_DiskFull: a real disk that fills in the middle of a picture. What had arrived
// before stays, nothing torn is there, and the upload goes on when there is room.
func TestAdd_DiskFull(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=512k"); err != nil {
		t.Skipf("this machine lets nobody here mount a small disk: %v", err)
	}
	defer func() { assert.NoError(t, syscall.Unmount(dir, 0)) }()
	data, p := shot(t, 1, 800)
	at := filepath.Join(dir, "photos")
	s := photos.Open(at, photos.Limits{Total: 1 << 40, Parts: 10, Reserve: -1 << 40}, now) // the disk itself says no
	_, _, err := s.Add(p, 0, data[:20_000])
	require.NoError(t, err)
	filler := filepath.Join(dir, "filler")
	require.Error(t, os.WriteFile(filler, make([]byte, 1<<20), 0o600), "the disk is small")
	_, _, err = s.Add(p, 20_000, data[20_000:60_000])
	require.ErrorIs(t, err, store.ErrFull)
	arrived, whole, err := s.Arrived(p)
	require.NoError(t, err)
	assert.EqualValues(t, 20_000, arrived)
	assert.False(t, whole)
	require.NoError(t, os.Remove(filler))
	send(t, s, p, data, 40_000)
	got, err := s.Read(p)
	require.NoError(t, err)
	assert.Equal(t, data, got)
}

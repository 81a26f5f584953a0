//go:build unix

package pairing_test

import (
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/server/pairing"
)

// TestBook_ByRoot: what an administrator does on a server's folder leaves every file to
// the server.
func TestBook_ByRoot(t *testing.T) {
	if os.Geteuid() != 0 {
		t.Skip("only root makes files for others")
	}
	const somebody = 12345
	w := open(t)
	require.NoError(t, os.Chown(filepath.Join(w.dir, "keys"), somebody, somebody))
	w.code(checklist.Lead)
	for _, name := range []string{pairing.File, pairing.File + ".lock"} {
		info, err := os.Stat(filepath.Join(w.dir, name))
		require.NoError(t, err)
		assert.EqualValues(t, somebody, info.Sys().(*syscall.Stat_t).Uid, name)
		assert.Equal(t, os.FileMode(0o600), info.Mode(), name)
	}

	// A link in the place of the lock leads to nobody's file.
	other := filepath.Join(t.TempDir(), "other")
	require.NoError(t, os.WriteFile(other, nil, 0o600))
	lock := filepath.Join(w.dir, pairing.File+".lock")
	require.NoError(t, os.Remove(lock))
	require.NoError(t, os.Symlink(other, lock))
	_, err := w.OpenCode(checklist.Lead)
	require.Error(t, err)
	info, err := os.Stat(other)
	require.NoError(t, err)
	assert.EqualValues(t, 0, info.Sys().(*syscall.Stat_t).Uid)
}

package care_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/server/care"
)

// FuzzLook: whatever is handed over as a backup, looking at it comes to an end, and
// restoring it writes into the one folder that was named, or nowhere.
func FuzzLook(f *testing.F) {
	path := filepath.Join(f.TempDir(), "b.tar")
	backup(f, stored(f), path)
	data, err := os.ReadFile(path)
	require.NoError(f, err)
	f.Add(data)
	f.Add(data[:5000])
	f.Add([]byte("no backup"))
	f.Fuzz(func(t *testing.T, data []byte) {
		dir := t.TempDir()
		path := filepath.Join(dir, "b.tar")
		require.NoError(t, os.WriteFile(path, data, 0o600))
		report, lookErr := care.Doctor{}.Look(t.Context(), path)
		_, err := care.Restore{Backup: path, Data: filepath.Join(dir, "data")}.Do(t.Context())
		if err == nil {
			require.NoError(t, lookErr)
			assert.Empty(t, report.Damaged())
			return
		}
		assert.Equal(t, []string{"b.tar"}, names(t, dir))
	})
}

package bolt_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"hangtrue/server/bolt"
)

// FuzzExamine: whatever stands in a store's file, looking at it and opening it come
// to an end and break nothing. What opens has sound pages.
func FuzzExamine(f *testing.F) {
	data, _ := dense(f)
	f.Add(data)
	f.Add(data[:20_000])
	f.Add([]byte("no store"))
	f.Fuzz(func(t *testing.T, data []byte) {
		path := filepath.Join(quickDir(t), "jobs.db")
		require.NoError(t, os.WriteFile(path, data, 0o600))
		before, err := bolt.Examine(path, nil)
		if err != nil {
			require.ErrorIs(t, err, bolt.ErrNewer)
			return
		}
		s, err := bolt.Open(path)
		if err != nil {
			return
		}
		require.Empty(t, before.Pages)
		_, err = s.Lines()
		_ = err // damage, or none
		require.NoError(t, s.Close())
	})
}

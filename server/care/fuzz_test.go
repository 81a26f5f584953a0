package care_test

import (
	"archive/tar"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/server/care"
	"hangtrue/server/pairing"
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

// FuzzParts: a backup whose manifest agrees with it, made by somebody who puts parts of
// any name into it. Restoring it writes them into the one folder that was named, as they
// were, or nothing at all.
func FuzzParts(f *testing.F) {
	path := filepath.Join(f.TempDir(), "b.tar")
	backup(f, stored(f), path)
	file, err := os.Open(path)
	require.NoError(f, err)
	defer file.Close()
	whole := map[string][]byte{}
	for r := tar.NewReader(file); ; {
		h, err := r.Next()
		if err == io.EOF {
			break
		}
		require.NoError(f, err)
		whole[h.Name], err = io.ReadAll(r)
		require.NoError(f, err)
	}
	for _, name := range []string{"../up", "/up", "photos/../../up", "names.json", "jobs.db", "keys/seal.key", "a/b/c", "a", ".copy-x.db", "manifest.json", "serving.json", "CON", "a\\b", "a//b", "é"} {
		f.Add(name, []byte("a"), "keys/more", []byte("b"))
	}
	f.Fuzz(func(t *testing.T, first string, a []byte, second string, b []byte) {
		var m care.Manifest
		require.NoError(t, json.Unmarshal(whole["manifest.json"], &m))
		var data bytes.Buffer
		w := tar.NewWriter(&data)
		put := func(name string, content []byte) bool {
			if w.WriteHeader(&tar.Header{Typeflag: tar.TypeReg, Name: name, Size: int64(len(content)), Mode: 0o600}) != nil {
				return false
			}
			_, err := w.Write(content)
			return err == nil
		}
		for _, part := range m.Parts {
			require.True(t, put(part.Name, whole[part.Name]))
		}
		for name, content := range map[string][]byte{first: a, second: b} {
			if !put(name, content) {
				return // no tar file has it
			}
			sum := sha256.Sum256(content)
			m.Parts = append(m.Parts, care.Part{Name: name, Size: int64(len(content)), SHA256: hex.EncodeToString(sum[:])})
		}
		manifest, err := json.Marshal(m)
		require.NoError(t, err)
		sum := sha256.Sum256(manifest)
		require.True(t, put("manifest.json", manifest))
		require.True(t, put("manifest.sha256", []byte(hex.EncodeToString(sum[:])+"  manifest.json\n")))
		require.NoError(t, w.Close())

		dir := t.TempDir()
		path := filepath.Join(dir, "b.tar")
		require.NoError(t, os.WriteFile(path, data.Bytes(), 0o600))
		if _, err := (care.Restore{Backup: path, Data: filepath.Join(dir, "data")}).Do(t.Context()); err != nil {
			assert.Equal(t, []string{"b.tar"}, names(t, dir))
			return
		}
		assert.Equal(t, []string{"b.tar", "data"}, names(t, dir))
		there := contents(t, filepath.Join(dir, "data"))
		for name, content := range map[string][]byte{first: a, second: b} {
			if name != pairing.File { // which restoring changes on purpose
				assert.Equal(t, string(content), there[name], "%q", name)
			}
		}
	})
}

package care_test

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/server/authority"
	"hangtrue/server/care"
	"hangtrue/server/folder"
	"hangtrue/server/pairing"
)

// TestDoctor_Look_Beside: what lies beside the store and keeps a server from starting, or
// is nowhere else, is looked at too, and nothing is changed by that.
func TestDoctor_Look_Beside(t *testing.T) {
	signed, _, _ := handedOut(t)
	job := readFile(t, signed).Job
	imported := folder.ImportsDir + "/" + job + ".json"
	put := func(t *testing.T, data, name, text string) {
		path := filepath.Join(data, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o700))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	}
	flip := func(name string, at int) func(t *testing.T, data string) {
		return func(t *testing.T, data string) {
			text, err := os.ReadFile(filepath.Join(data, name))
			require.NoError(t, err)
			text[(at+len(text))%len(text)] ^= 1
			put(t, data, name, string(text))
		}
	}
	photo := "photos/ab/ab" + strings.Repeat("0", 62) + ".jpg"
	for name, row := range map[string]struct {
		harm func(t *testing.T, data string)
		says string // nothing: sound
	}{
		"all there":          {func(*testing.T, string) {}, ""},
		"no list of devices": {func(t *testing.T, data string) { require.NoError(t, os.Remove(filepath.Join(data, pairing.File))) }, ""},
		"a bit of the list":  {flip(pairing.File, 100), "keys/devices.json: the list of paired devices cannot be read"},
		"the list cut short": {func(t *testing.T, data string) {
			require.NoError(t, os.Truncate(filepath.Join(data, pairing.File), 90))
		}, "the list of paired devices cannot be read"},
		"the authority's key":  {flip(authority.KeyFile, 80), "keys/authority.key: the key of the local authority cannot be used"},
		"the key that is gone": {func(t *testing.T, data string) { require.NoError(t, os.Remove(filepath.Join(data, authority.KeyFile))) }, "it is missing although its certificate is here"},
		"read by others": {func(t *testing.T, data string) {
			require.NoError(t, os.Chmod(filepath.Join(data, authority.KeyFile), 0o644))
		}, "others may read it (mode 0644)"},
		"written by everybody": {func(t *testing.T, data string) { require.NoError(t, os.Chmod(filepath.Join(data, "keys"), 0o777)) }, "everybody may write into it (mode 0777)"},
		"a bit of a record":    {flip(imported, -400), "The record " + imported + " is not as it came"},
		"a record of another": {func(t *testing.T, data string) {
			put(t, data, "imports/018f3c5e-7a10-7000-8000-0000000000c3.json", string(signed))
		}, "It is of another job."},
		"something beside them": {func(t *testing.T, data string) { put(t, data, "imports/notes.txt", "x") }, "The file imports/notes.txt is not named as a record is."},
		"photos are elsewhere": {func(t *testing.T, data string) {
			require.NoError(t, os.RemoveAll(filepath.Join(data, "photos")))
			require.NoError(t, os.Symlink("/etc", filepath.Join(data, "photos")))
		}, "The file photos is no folder."},
		"a photo is a link": {func(t *testing.T, data string) {
			put(t, data, "photos/ab/x", "")
			require.NoError(t, os.Symlink("/etc/passwd", filepath.Join(data, photo)))
		}, "The file " + photo + " is a link or no plain file."},
		"a photo is a pipe": {func(t *testing.T, data string) {
			put(t, data, "photos/ab/x", "")
			require.NoError(t, syscall.Mkfifo(filepath.Join(data, photo), 0o600))
		}, "The file " + photo + " is a link or no plain file."},
		"a link in the folder": {func(t *testing.T, data string) { require.NoError(t, os.Symlink("/etc", filepath.Join(data, "more"))) }, `"more" in the folder is a link`},
	} {
		t.Run(name, func(t *testing.T) {
			data := stored(t)
			naming(t, data, first, second)
			put(t, data, imported, string(signed))
			_, err := authority.Open(data, []string{"attic"}, now)
			require.NoError(t, err)
			book, err := pairing.Open(data, func() time.Time { return now })
			require.NoError(t, err)
			_, err = book.OpenCode(checklist.Lead)
			require.NoError(t, err)
			look := func() (texts []string) {
				report, err := care.Doctor{}.Look(t.Context(), data)
				require.NoError(t, err)
				for _, f := range report.Findings {
					texts = append(texts, f.Text)
					assert.Regexp(t, `^[A-Z"].*\.$`, f.Text, "a sentence")
					assert.False(t, f.Damage, "it is no damage to the store")
				}
				return texts
			}
			before := look()
			row.harm(t, data)
			after := look()
			if row.says == "" {
				assert.Equal(t, before, after)
				return
			}
			assert.Greater(t, len(after), len(before))
			assert.Contains(t, strings.Join(after, "\n"), row.says)
		})
	}
}

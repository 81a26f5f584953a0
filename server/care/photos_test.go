package care_test

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/server/bolt"
	"hangtrue/server/care"
	"hangtrue/server/folder"
	"hangtrue/server/photos"
	"hangtrue/server/store"
)

// naming adds an entry to the finished job of a stored folder that names photos, and
// gives its position.
func naming(t testing.TB, data string, of ...shot) int64 {
	all, line, _ := records(t, data)
	last := all[len(all)-1]
	body := checklist.Remark{Step: "wire", Mount: "M+030"}
	for _, s := range of {
		body.Photos = append(body.Photos, s.Photo)
	}
	e := last.Entry
	e.ID, e.Number = e.ID[:35]+"f", e.Number+1
	entry, err := checklist.NewEntry(e, body)
	require.NoError(t, err)
	r := last
	r.Position, r.Entry = last.Position+1, entry
	line.Head = r.Position
	s, err := bolt.Open(filepath.Join(data, folder.JobsFile))
	require.NoError(t, err)
	require.NoError(t, s.Append(store.Addition{Job: e.Job, Records: []checklist.Record{r}, Line: line}))
	require.NoError(t, s.Close())
	return r.Position
}

// about are the findings of a look that speak of photos.
func about(t testing.TB, path string) (found []care.Finding) {
	report, err := care.Doctor{}.Look(t.Context(), path)
	require.NoError(t, err)
	for _, f := range report.Findings {
		if strings.Contains(f.Text, "photo") {
			found = append(found, f)
		}
	}
	return found
}

// TestDoctor_Look_Photos: every photo is held to its name, and what an entry names is
// looked for.
func TestDoctor_Look_Photos(t *testing.T) {
	for name, row := range map[string]struct {
		harm   func(t *testing.T, data string)
		entry  bool // the finding is about the entry that names it
		says   string
		damage bool
	}{
		"all there": {func(*testing.T, string) {}, false, "", false},
		"one missing": {func(t *testing.T, data string) { require.NoError(t, os.Remove(filepath.Join(data, second.path()))) },
			true, "The photo " + second.SHA256 + " that it names is not here: it has not arrived yet, or was lost.", false},
		"one half arrived": {func(t *testing.T, data string) {
			require.NoError(t, os.Rename(filepath.Join(data, second.path()), filepath.Join(data, "photos/.parts", second.SHA256)))
		}, true, "The photo " + second.SHA256, false},
		"a bit flipped": {func(t *testing.T, data string) {
			flipped := append([]byte{}, second.data...)
			flipped[len(flipped)/2] ^= 1
			require.NoError(t, os.WriteFile(filepath.Join(data, second.path()), flipped, 0o600))
		}, false, "The file " + second.path() + " is not the picture that its name says.", true},
		"cut short": {func(t *testing.T, data string) {
			require.NoError(t, os.Truncate(filepath.Join(data, second.path()), 100))
		},
			false, "The file " + second.path() + " is not the picture that its name says.", true},
		"something else beside them": {func(t *testing.T, data string) {
			require.NoError(t, os.WriteFile(filepath.Join(data, "photos/thumbs.txt"), []byte("x"), 0o600))
		}, false, "The file photos/thumbs.txt is not named as a photo is.", false},
	} {
		t.Run(name, func(t *testing.T) {
			data := stored(t)
			position := naming(t, data, first, second)
			row.harm(t, data)
			before := contents(t, data)
			var found []care.Finding
			for _, f := range about(t, data) {
				if strings.Contains(f.Text, row.says) {
					found = append(found, f)
				}
				assert.Regexp(t, `^[A-Z].*\.$`, f.Text)
			}
			assert.Equal(t, before, contents(t, data), "looking changes nothing")
			if row.says == "" {
				assert.Empty(t, found)
				return
			}
			require.Len(t, found, 1, "%+v", about(t, data))
			assert.Equal(t, row.damage, found[0].Damage)
			if row.entry {
				assert.Equal(t, position, found[0].Position)
				assert.NotEmpty(t, found[0].Title)
			}
		})
	}
}

// TestBackup_Photos: photos are in the backup after the store and come back with it,
// as their names say; one that is damaged is left out and named, so that the phone that
// took it can send it again; one that has not arrived keeps no backup from being made.
func TestBackup_Photos(t *testing.T) {
	for _, name := range []string{"jobs.tar", "jobs"} {
		data, dir := stored(t), t.TempDir()
		position := naming(t, data, first, second)
		made := backup(t, data, filepath.Join(dir, name))
		assert.Equal(t, 2, made.Photos)
		assert.Empty(t, made.LeftOut)
		restored := filepath.Join(dir, "whole")
		report, err := care.Restore{Backup: made.Path, Data: restored}.Do(t.Context())
		require.NoError(t, err)
		assert.Equal(t, 2, report.Photos)
		f, err := folder.Open(restored)
		require.NoError(t, err)
		for _, s := range []shot{first, second} {
			got, err := f.Photos.Read(s.Photo)
			require.NoError(t, err)
			assert.Equal(t, s.data, got)
		}
		require.NoError(t, f.Close())

		flipped := append([]byte{}, first.data...)
		flipped[100] ^= 8
		require.NoError(t, os.WriteFile(filepath.Join(data, first.path()), flipped, 0o600))
		made = backup(t, data, filepath.Join(dir, "2-"+name))
		assert.Equal(t, []string{first.path()}, made.LeftOut)
		assert.Equal(t, 1, made.Photos)
		restored = filepath.Join(dir, "less")
		report, err = care.Restore{Backup: made.Path, Data: restored}.Do(t.Context())
		require.NoError(t, err)
		assert.Equal(t, 1, report.Photos)
		assert.NoFileExists(t, filepath.Join(restored, first.path()))
		missing := about(t, restored)
		require.Len(t, missing, 1)
		assert.Equal(t, position, missing[0].Position)
		assert.Contains(t, missing[0].Text, first.SHA256)
		f, err = folder.Open(restored)
		require.NoError(t, err)
		_, whole, err := f.Photos.Add(first.Photo, 0, first.data)
		require.NoError(t, err)
		assert.True(t, whole, "the phone sends it again")
		require.NoError(t, f.Close())
		assert.Empty(t, about(t, restored))
	}
}

// TestBackup_PhotosWhileServed: photos arrive while backups are made. Every photo that a
// backup's store names and that had arrived before is in it, and none is torn.
func TestBackup_PhotosWhileServed(t *testing.T) {
	data := stored(t)
	naming(t, data, first, second)
	require.NoError(t, os.RemoveAll(filepath.Join(data, "photos")))
	f, err := folder.Open(data)
	require.NoError(t, err)
	defer f.Close()
	defer care.Attend(f, keeper(t, f))()
	at, whole, err := f.Photos.Add(first.Photo, 0, first.data[:50])
	require.NoError(t, err)
	require.False(t, whole)
	dir := t.TempDir()
	made := backup(t, data, filepath.Join(dir, "1.tar"))
	assert.Zero(t, made.Photos, "what has arrived in part is no photo")
	_, whole, err = f.Photos.Add(first.Photo, at, first.data[50:])
	require.NoError(t, err)
	require.True(t, whole)
	made = backup(t, data, filepath.Join(dir, "2.tar"))
	assert.Equal(t, 1, made.Photos)
	assert.Contains(t, made.Source, "from a copy that the server")
	report, err := care.Doctor{}.Look(t.Context(), made.Path)
	require.NoError(t, err)
	assert.Empty(t, report.Damaged())
	_, err = photos.In(filepath.Join(data, "photos"), first.Photo)
	require.NoError(t, err)
}

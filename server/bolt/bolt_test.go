package bolt_test

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/server/bolt"
	"hangtrue/server/store"
	"hangtrue/server/store/storetest"
)

func open(t *testing.T, path string) *bolt.Store {
	s, err := bolt.Open(path)
	require.NoError(t, err)
	t.Cleanup(func() { _ = s.Close() })
	return s
}

func TestStore(t *testing.T) {
	storetest.Run(t, func(t *testing.T) store.Store { return open(t, filepath.Join(t.TempDir(), "jobs.db")) })
}

func TestOpen_Reopen(t *testing.T) {
	path := filepath.Join(t.TempDir(), "jobs.db")
	s := open(t, path)
	want := storetest.Records(t, storetest.JobA, 1, 5)
	require.NoError(t, s.Append(storetest.Addition(storetest.JobA, want...)))
	require.NoError(t, s.Close())

	s = open(t, path)
	got, err := s.Records(storetest.JobA, 0, 100, 1<<20)
	require.NoError(t, err)
	assert.Equal(t, want, got)
	storetest.Check(t, s)

	info, err := os.Stat(path)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	entries, err := os.ReadDir(filepath.Dir(path))
	require.NoError(t, err)
	assert.Len(t, entries, 1, "nothing is left beside the store")
}

// TestOpen_ReopenAnywhere closes a store after each addition: an entry is found and not
// taken again wherever the index of ids ends.
func TestOpen_ReopenAnywhere(t *testing.T) {
	path := filepath.Join(t.TempDir(), "jobs.db")
	for p := int64(1); p <= 40; p++ {
		s := open(t, path)
		again := storetest.Record(t, storetest.JobA, max(p/2, 1), "again")
		if again.Position = p; p > 1 {
			require.ErrorIs(t, s.Append(storetest.Addition(storetest.JobA, again)), store.ErrConflict)
		}
		require.NoError(t, s.Append(storetest.Addition(storetest.JobA, storetest.Records(t, storetest.JobA, p, p)...)))
		storetest.Check(t, s)
		e, err := s.Examine(nil)
		require.NoError(t, err)
		require.True(t, e.Sound(), "%v", e.Damage)
		require.NoError(t, s.Close())
	}
}

// TestOpen_LeftOver: what a power cut in the middle of making the store left behind is no obstacle.
func TestOpen_LeftOver(t *testing.T) {
	path := filepath.Join(t.TempDir(), "jobs.db")
	require.NoError(t, os.WriteFile(path+".new", []byte("half a page"), 0o600))
	s := open(t, path)
	storetest.Check(t, s)
	_, err := os.Stat(path + ".new")
	assert.ErrorIs(t, err, os.ErrNotExist)
}

func TestOpen_InUse(t *testing.T) {
	path := filepath.Join(t.TempDir(), "jobs.db")
	open(t, path)
	_, err := bolt.Open(path)
	require.ErrorIs(t, err, bolt.ErrInUse)
	assert.Contains(t, err.Error(), "another hangtrue is using this folder")
}

// filled is the bytes of a store with some records.
func filled(t *testing.T) []byte {
	path := filepath.Join(t.TempDir(), "jobs.db")
	s := open(t, path)
	for p := int64(1); p <= 40; p++ {
		require.NoError(t, s.Append(storetest.Addition(storetest.JobA, storetest.Records(t, storetest.JobA, p, p)...)))
	}
	require.NoError(t, s.Close())
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	const page = 4096 // bbolt makes the file larger at once than it needs
	used := (len(bytes.TrimRight(data, "\x00")) + page - 1) / page * page
	return data[:used]
}

// TestOpen_Truncated: a store cut short at any page is refused with a sentence,
// or its records are all there (the pages cut off were free).
func TestOpen_Truncated(t *testing.T) {
	data := filled(t)
	dir := t.TempDir()
	refused := 0
	for size := 0; size < len(data); size += 2048 {
		path := filepath.Join(dir, fmt.Sprintf("%d.db", size))
		require.NoError(t, os.WriteFile(path, data[:size], 0o600))
		s, err := bolt.Open(path)
		if err != nil {
			refused++
			assert.ErrorIs(t, err, bolt.ErrUnreadable, "%d bytes", size)
			assert.Contains(t, err.Error(), "Put a backup in its place", "%d bytes", size)
			continue
		}
		records, err := s.Records(storetest.JobA, 0, 100, 1<<20)
		assert.NoError(t, err, "%d bytes", size)
		assert.Len(t, records, 40, "%d bytes", size)
		require.NoError(t, s.Close())
	}
	assert.Positive(t, refused)
	t.Logf("%d of %d cuts refused", refused, (len(data)+2047)/2048)
}

// TestStore_CutShortWhileOpen: a store that is cut short under a server that has it open
// is told as damage, in words for people, and ends no process.
func TestStore_CutShortWhileOpen(t *testing.T) {
	path := filepath.Join(t.TempDir(), "jobs.db")
	require.NoError(t, os.WriteFile(path, filled(t), 0o600))
	s, err := bolt.Open(path)
	require.NoError(t, err)
	require.NoError(t, os.Truncate(path, 8192)) // its two heads
	_, records := s.Records(storetest.JobA, 0, 100, 1<<20)
	_, lines := s.Lines()
	_, strays := s.Strays(0, 10, 1<<20)
	add := func() error {
		return s.Append(storetest.Addition(storetest.JobB, storetest.Records(t, storetest.JobB, 1, 1)...))
	}
	for what, err := range map[string]error{
		"records": records, "lines": lines, "strays": strays, "append": add(), "copy": s.CopyTo(filepath.Join(t.TempDir(), "copy.db")),
	} {
		var damage *store.Damage
		require.ErrorAs(t, err, &damage, what)
		assert.Regexp(t, "cut short|do not fit together", damage.What, what)
		assert.NotRegexp(t, `runtime|nil pointer|0x|EOF`, err.Error(), what)
	}
	var damage *store.Damage
	assert.ErrorAs(t, add(), &damage, "nobody waits for the one whose write went wrong")
	require.NoError(t, s.Close(), "nor does the end of the server")
	_, err = bolt.Open(path)
	assert.ErrorIs(t, err, bolt.ErrUnreadable, "and not in use any more")
}

func TestOpen_NotAStore(t *testing.T) {
	path := filepath.Join(t.TempDir(), "jobs.db")
	require.NoError(t, os.WriteFile(path, bytes.Repeat([]byte("no store "), 4000), 0o600))
	_, err := bolt.Open(path)
	require.ErrorIs(t, err, bolt.ErrUnreadable)
}

// TestStore_BitRot flips one bit at many places of a store. What is read
// afterwards is what was written, or an error; a wrong record is never given.
// Where the flip hits a record's own bytes the error names the record.
func TestStore_BitRot(t *testing.T) {
	data := filled(t)
	want := storetest.Records(t, storetest.JobA, 1, 40)
	dir := t.TempDir()
	path := filepath.Join(dir, "jobs.db")
	var silent, found, named int
	for at := 7; at < len(data); at += 97 {
		changed := bytes.Clone(data)
		changed[at] ^= 1 << (at % 8)
		require.NoError(t, os.WriteFile(path, changed, 0o600))
		s, err := bolt.Open(path)
		if err != nil {
			found++
			continue
		}
		got, err := s.Records(storetest.JobA, 0, 100, 1<<20)
		var damage *store.Damage
		switch {
		case errors.As(err, &damage):
			found++
			if damage.Position > 0 {
				named++
				assert.Equal(t, storetest.JobA, damage.Job)
			}
		case err != nil:
			found++
		case len(got) == 0:
			// the job itself cannot be found: its line's key was hit
			_, err := s.Line(storetest.JobA)
			require.ErrorIs(t, err, store.ErrNoJob)
			found++
		default:
			silent++
			require.Equal(t, want, got, "byte %d: wrong records without an error", at)
		}
		require.NoError(t, s.Close())
	}
	t.Logf("%d flips: %d found (%d naming the record), %d without effect on the records", silent+found, found, named, silent)
	assert.Greater(t, named, 20)
}

// TestStore_BitRot_NamesTheRecord hits the text of one record.
func TestStore_BitRot_NamesTheRecord(t *testing.T) {
	data := filled(t)
	path := filepath.Join(t.TempDir(), "jobs.db")
	changed := bytes.ReplaceAll(data, []byte("remark 17,"), []byte("remark 18,"))
	require.NotEqual(t, data, changed)
	require.NoError(t, os.WriteFile(path, changed, 0o600))
	s := open(t, path)
	_, err := s.Records(storetest.JobA, 0, 100, 1<<20)
	var damage *store.Damage
	require.ErrorAs(t, err, &damage)
	assert.EqualValues(t, 17, damage.Position)
	assert.Contains(t, err.Error(), "record 17 of job "+storetest.JobA+" is damaged")
	_, err = s.Find(storetest.JobA, storetest.EntryID(17))
	assert.ErrorAs(t, err, &damage)
	before, err := s.Records(storetest.JobA, 0, 16, 1<<20)
	require.NoError(t, err, "the records before it can still be read")
	assert.Len(t, before, 16)
}

// TestOpen_DamageIsOneSentence: no message shows a goroutine or a source file.
func TestOpen_DamageIsOneSentence(t *testing.T) {
	data := filled(t)
	path := filepath.Join(t.TempDir(), "jobs.db")
	require.NoError(t, os.WriteFile(path, data[:len(data)/2], 0o600))
	_, err := bolt.Open(path)
	require.Error(t, err)
	assert.NotContains(t, err.Error(), "goroutine")
	assert.NotContains(t, err.Error(), ".go:")
	assert.False(t, strings.Contains(err.Error(), "\n"), err.Error())
}

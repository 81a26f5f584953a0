package bolt_test

import (
	"bytes"
	"encoding/base64"
	"encoding/binary"
	"errors"
	"flag"
	"math/rand"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.etcd.io/bbolt"

	"hangtrue/server/bolt"
	"hangtrue/server/store"
	"hangtrue/server/store/storetest"
)

var (
	flips    = flag.Int("flips", 300, "how many single bits are flipped")
	flipSeed = flag.Int64("flipseed", 1, "seed of which bits are flipped")
)

// Stores as the first program and the one of today's format wrote them.
const (
	stored = "../../testdata/folders/format-1/jobs.db"
	newest = "../../testdata/folders/format-3/jobs.db"
)

// everything is all that a store holds, for comparing.
type everything struct {
	bolt.Examination
	Jobs []bolt.Job
}

func examine(t testing.TB, path string) everything {
	var all everything
	var err error
	all.Examination, err = bolt.Examine(path, func(j bolt.Job) error { all.Jobs = append(all.Jobs, j); return nil })
	require.NoError(t, err)
	return all
}

// TestExamine_Sound: a store as the program of its day wrote it has nothing wrong,
// and neither have a store that was never written to and one that is in use.
func TestExamine_Sound(t *testing.T) {
	all := examine(t, stored)
	assert.True(t, all.Sound(), "%v %v", all.Pages, all.Damage)
	require.Len(t, all.Jobs, 2)
	assert.Equal(t, 1, all.Format)
	assert.Equal(t, 2, all.Strays)
	for _, j := range all.Jobs {
		assert.True(t, j.Whole)
		assert.EqualValues(t, j.Line.Head, len(j.Records))
	}
	path := filepath.Join(t.TempDir(), "jobs.db")
	s := open(t, path)
	e, err := s.Examine(nil)
	require.NoError(t, err)
	assert.True(t, e.Sound())
	require.NoError(t, s.Close())
	assert.True(t, examine(t, path).Sound())
}

// dense is a whole store without free pages, so that nearly every byte matters.
func dense(t testing.TB) ([]byte, everything) {
	path := filepath.Join(t.TempDir(), "dense.db")
	from, err := bbolt.Open(newest, 0o600, &bbolt.Options{ReadOnly: true})
	require.NoError(t, err)
	to, err := bbolt.Open(path, 0o600, nil)
	require.NoError(t, err)
	require.NoError(t, errors.Join(bbolt.Compact(to, from, 0), from.Close(), to.Close()))
	short := path + ".short" // without the room that bbolt makes in advance
	require.NoError(t, bolt.Copy(path, short))
	data, err := os.ReadFile(short)
	require.NoError(t, err)
	all := examine(t, short)
	require.True(t, all.Sound())
	return data, all
}

// TestExamine_FlippedBits flips single bits of a whole store, one at a time. Each
// flip is found, or changes nothing of what is kept: a page that is free, the room
// behind a page's last item.
func TestExamine_FlippedBits(t *testing.T) {
	data, want := dense(t)
	var err error
	random := rand.New(rand.NewSource(*flipSeed))
	path := filepath.Join(t.TempDir(), "jobs.db")
	found, none := 0, 0
	for range *flips {
		bit := random.Intn(len(data) * 8)
		data[bit/8] ^= 1 << (bit % 8)
		require.NoError(t, os.WriteFile(path, data, 0o600))
		data[bit/8] ^= 1 << (bit % 8)
		var got everything
		got.Examination, err = bolt.Examine(path, func(j bolt.Job) error { got.Jobs = append(got.Jobs, j); return nil })
		if err != nil {
			require.ErrorIs(t, err, bolt.ErrNewer, "bit %d", bit) // the format's own number was hit
			found++
			continue
		}
		if !got.Sound() {
			found++
			continue
		}
		require.Equal(t, want, got, "bit %d: changed in silence", bit)
		none++
	}
	t.Logf("%d flips with seed %d: %d found, %d without effect, 0 silent", *flips, *flipSeed, found, none)
	assert.Greater(t, found, *flips/3, "if nothing is found, the checker is broken")
}

// TestExamine_FlippedRecords flips bits of signed records alone. Each is found and
// the record named, unless the record still reads the same: the case of a JSON key.
func TestExamine_FlippedRecords(t *testing.T) {
	data, want := dense(t)
	random := rand.New(rand.NewSource(*flipSeed + 2))
	path := filepath.Join(t.TempDir(), "jobs.db")
	found, same := 0, 0
	for range *flips {
		job := want.Jobs[0] // the one that is signed off
		r := job.Records[random.Intn(len(job.Records))]
		packed := store.PackRecord(r)
		at := bytes.Index(data, packed)
		require.Positive(t, at)
		bit := at*8 + random.Intn(len(packed)*8)
		data[bit/8] ^= 1 << (bit % 8)
		require.NoError(t, os.WriteFile(path, data, 0o600))
		data[bit/8] ^= 1 << (bit % 8)
		got := examine(t, path)
		if got.Sound() {
			require.Equal(t, want, got, "bit %d: changed in silence", bit)
			same++
			continue
		}
		require.Len(t, got.Damage, 1, "bit %d", bit)
		require.Equal(t, job.ID, got.Damage[0].Job)
		require.Equal(t, r.Position, got.Damage[0].Position)
		found++
	}
	t.Logf("%d flips in signed records: %d found and named, %d read the same, 0 silent", *flips, found, same)
	assert.Less(t, same, *flips/20)
}

// TestOpen_FlippedBits: the same for a server that opens the store and answers from
// it. What it gives is what was written, or an error.
func TestOpen_FlippedBits(t *testing.T) {
	data, want := dense(t)
	random := rand.New(rand.NewSource(*flipSeed + 1))
	path := filepath.Join(t.TempDir(), "jobs.db")
	refused, told, none := 0, 0, 0
	for range *flips {
		bit := random.Intn(len(data) * 8)
		data[bit/8] ^= 1 << (bit % 8)
		require.NoError(t, os.WriteFile(path, data, 0o600))
		data[bit/8] ^= 1 << (bit % 8)
		s, err := bolt.Open(path)
		if err != nil {
			refused++
			continue
		}
		e, err := s.Examine(nil)
		require.NoError(t, err)
		for _, job := range want.Jobs {
			got, err := s.Records(job.ID, 0, 1<<30, 1<<30)
			if err == nil && (len(got) > 0 || e.Sound()) {
				require.Equal(t, job.Records, got, "bit %d", bit)
			}
			seals, err := s.Seals(job.ID)
			if err == nil && e.Sound() {
				require.Equal(t, job.Seals, seals, "bit %d", bit)
			}
		}
		if e.Sound() {
			none++
		} else {
			told++
		}
		require.NoError(t, s.Close())
	}
	t.Logf("%d flips: %d refused, %d told when it was opened, %d without effect", *flips, refused, told, none)
	assert.Positive(t, refused)
	assert.Positive(t, told)
}

// TestExamine_Wrecked damages several pages at once, as no flipped bit does: heads of
// pages, page numbers that lead elsewhere, pages copied over others, an end that is
// cut off anywhere. Looking and opening come to an end each time, without bbolt going
// round in circles, and what opens gives its records or an error.
func TestExamine_Wrecked(t *testing.T) {
	whole, _ := dense(t)
	random := rand.New(rand.NewSource(*flipSeed + 3))
	path := filepath.Join(quickDir(t), "jobs.db")
	const size = 4096
	pages := len(whole) / size
	page := func() int { return 2 + random.Intn(pages-2) }
	opened := 0
	for range *flips {
		data := bytes.Clone(whole)
		for range 1 + random.Intn(6) {
			switch at := page() * size; random.Intn(4) {
			case 0:
				data[random.Intn(len(data))] = byte(random.Intn(256))
			case 1:
				data[at+random.Intn(64)] = byte(random.Intn(256))
			case 2:
				binary.NativeEndian.PutUint64(data[at+8*random.Intn(64):], uint64(random.Intn(pages+2)))
			case 3:
				from := page() * size
				copy(data[at+8:at+size], data[from+8:from+size])
			}
		}
		if random.Intn(5) == 0 {
			data = data[:random.Intn(len(data))]
		}
		require.NoError(t, os.WriteFile(path, data, 0o600))
		before, err := bolt.Examine(path, nil)
		require.NoError(t, err)
		s, err := bolt.Open(path)
		if err != nil {
			continue
		}
		opened++
		assert.Empty(t, before.Pages, "what opens has sound pages")
		require.NoError(t, s.Close())
	}
	t.Logf("%d wrecked stores: %d opened, the others refused", *flips, opened)
	assert.Less(t, opened, *flips/2)
}

// harm changes a store through bbolt itself, so that its pages stay whole.
func harm(t testing.TB, path string, do func(tx *bbolt.Tx) error) {
	db, err := bbolt.Open(path, 0o600, nil)
	require.NoError(t, err)
	require.NoError(t, errors.Join(db.Update(do), db.Close()))
}

func storeKey(job string, position byte) []byte {
	id := uuid.MustParse(job)
	return append(id[:], 0, 0, 0, 0, 0, 0, 0, position)
}

// TestExamine_Names: what was done to the store is named, with job and position, and
// nothing else is.
func TestExamine_Names(t *testing.T) {
	put := func(bucket string, key, value []byte) func(*bbolt.Tx) error {
		return func(tx *bbolt.Tx) error { return tx.Bucket([]byte(bucket)).Put(key, value) }
	}
	drop := func(bucket string, key []byte) func(*bbolt.Tx) error {
		return func(tx *bbolt.Tx) error { return tx.Bucket([]byte(bucket)).Delete(key) }
	}
	idKey := func(job string, n int64) []byte {
		id, entry := uuid.MustParse(job), uuid.MustParse(storetest.EntryID(n))
		return append(id[:], entry[:]...)
	}
	// Another text in place of a job's line, whole by its hash.
	line := func(change func(text string) string) func(*bbolt.Tx) error {
		return func(tx *bbolt.Tx) error {
			id := uuid.MustParse(storetest.JobA)
			b := tx.Bucket([]byte("lines"))
			return b.Put(id[:], store.PackBytes([]byte(change(string(b.Get(id[:])[32:])))))
		}
	}
	lateOf := func(positions ...int64) string {
		var ids []byte
		for _, n := range positions {
			id := uuid.MustParse(storetest.EntryID(n))
			ids = append(ids, id[:]...)
		}
		return `"late":"` + base64.StdEncoding.EncodeToString(ids) + `"`
	}
	swap := func(old, new string) func(string) string {
		return func(text string) string { return strings.Replace(text, old, new, 1) }
	}
	jobA, jobC := uuid.MustParse(storetest.JobA), uuid.MustParse("018f3c5e-7a10-7000-8000-0000000000c3")
	other := store.PackRecord(storetest.Record(t, storetest.JobB, 3, "of another job"))
	forged := store.PackRecord(storetest.Record(t, storetest.JobA, 29, "beyond the end"))
	for _, row := range []struct {
		name     string
		do       func(*bbolt.Tx) error
		job      string
		position int64
		says     string
	}{
		{"a letter of a record", func(tx *bbolt.Tx) error {
			b := tx.Bucket([]byte("records"))
			text := strings.Replace(string(b.Get(storeKey(storetest.JobA, 3))), "remark 3", "remark 4", 1)
			return b.Put(storeKey(storetest.JobA, 3), []byte(text))
		}, storetest.JobA, 3, "its bytes are not the ones that were written. What can still be read, and may itself be wrong: kind remark, who installer 1, received 2030-01-31T09:15:02.000Z. It was entry " + storetest.EntryID(3)},
		{"a record's value gone", put("records", storeKey(storetest.JobA, 3), nil), storetest.JobA, 3, "Nothing of it can be read. It was entry " + storetest.EntryID(3)},
		{"a record gone", drop("records", storeKey(storetest.JobA, 3)), storetest.JobA, 3, "it is not there. It was entry " + storetest.EntryID(3)},
		{"the last record gone", drop("records", storeKey(storetest.JobA, 25)), storetest.JobA, 25, "it is not there. It was entry " + storetest.EntryID(25)},
		{"a record of another job in its place", put("records", storeKey(storetest.JobA, 3), other), storetest.JobA, 3, "its bytes are not the ones"},
		{"a record beyond the end", put("records", storeKey(storetest.JobA, 29), forged), storetest.JobA, 29, "no such position"},
		{"an id gone from the index", drop("ids", idKey(storetest.JobA, 2)), storetest.JobA, 2, "the index of ids does not have entry " + storetest.EntryID(2)},
		{"an id gone from the line", line(swap(lateOf(21, 22, 23, 24, 25), lateOf(22, 23, 24, 25))), storetest.JobA, 21, "the index of ids does not have entry " + storetest.EntryID(21)},
		{"another id in the line", line(swap(lateOf(21, 22, 23, 24, 25), lateOf(21, 22, 23, 99, 25))), storetest.JobA, 24, "the index of ids has entry " + storetest.EntryID(99) + " here, which is entry " + storetest.EntryID(24)},
		{"an id in the line that the index has", line(swap(lateOf(21, 22, 23, 24, 25), lateOf(20, 21, 22, 23, 24, 25))), storetest.JobA, 20, "at one place"},
		{"half an id in the line", line(swap(lateOf(21, 22, 23, 24, 25), `"late":"QUJD"`)), storetest.JobA, 0, "its line has ids of no entries"},
		{"more ids in the line than entries", line(swap(`"head":25`, `"head":4`)), storetest.JobA, 0, "its line has ids of no entries"},
		{"an id too many in the index", put("ids", idKey(storetest.JobA, 99), storeKey(storetest.JobA, 77)[16:]), storetest.JobA, 77, "where there is no record"},
		{"two ids at one place", put("ids", idKey(storetest.JobA, 99), storeKey(storetest.JobA, 2)[16:]), storetest.JobA, 2, "at one place"},
		{"an index entry that is no number", put("ids", idKey(storetest.JobA, 99), []byte("x")), storetest.JobA, 0, "is not what was written"},
		{"a seal's text", func(tx *bbolt.Tx) error {
			b := tx.Bucket([]byte("seals"))
			return b.Put(storeKey(storetest.JobA, 5), append([]byte{1}, b.Get(storeKey(storetest.JobA, 5))[1:]...))
		}, storetest.JobA, 5, "its seal is not what was written"},
		{"a seal in another place", func(tx *bbolt.Tx) error {
			b := tx.Bucket([]byte("seals"))
			return b.Put(storeKey(storetest.JobA, 4), b.Get(storeKey(storetest.JobA, 5)))
		}, storetest.JobA, 4, "its seal stands in another place"},
		{"a line", put("lines", jobA[:], []byte("{}")), storetest.JobA, 0, "its line is not what was written"},
		{"a line gone", drop("lines", jobA[:]), storetest.JobA, 0, "it is in no list of jobs although something of it is kept"},
		{"a record of no job", put("records", append(jobC[:], 0, 0, 0, 0, 0, 0, 0, 1), other), jobC.String(), 0, "it is in no list of jobs"},
		{"a key of another length", put("records", []byte("x"), other), "", 0, "the records have a key that belongs to nothing"},
		{"a stray", put("strays", []byte{0, 0, 0, 0, 0, 0, 0, 1}, []byte("{}")), "", 0, "stray 1 is not what was written"},
		{"a stray gone", drop("strays", []byte{0, 0, 0, 0, 0, 0, 0, 1}), "", 0, "that are not there"},
		{"the bytes of strays", put("about", []byte("stray bytes"), []byte{0, 0, 0, 0, 0, 0, 0, 9}), "", 0, "and 9 were written"},
		{"the key", put("about", []byte("key"), []byte("another")), "", 0, "the public key is not what was written"},
		{"something about itself", put("about", []byte("owner"), []byte("?")), "", 0, "which means nothing"},
		{"a bucket gone", func(tx *bbolt.Tx) error { return tx.DeleteBucket([]byte("strayed")) }, "", 0, "the strayed cannot be read to the end: there are none"},
	} {
		t.Run(row.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "jobs.db")
			s := open(t, path)
			a := storetest.Addition(storetest.JobA, storetest.Records(t, storetest.JobA, 1, 20)...) // their ids are in the index
			a.Seals = []store.Seal{{Position: 5, Note: "note"}}
			a.Strays = []store.Stray{{Job: storetest.JobA, Entry: []byte("?")}}
			last := storetest.Addition(storetest.JobA, storetest.Records(t, storetest.JobA, 21, 25)...) // theirs in the line
			require.NoError(t, s.Append(a, last, storetest.Addition(storetest.JobB, storetest.Records(t, storetest.JobB, 1, 2)...)))
			require.NoError(t, s.BindKey("a public key"))
			require.NoError(t, s.Close())
			require.True(t, examine(t, path).Sound())
			harm(t, path, row.do)

			all := examine(t, path)
			assert.Empty(t, all.Pages)
			texts := ""
			for _, d := range all.Damage {
				texts += d.Error() + "\n"
				if d.Job == row.job && d.Position == row.position && strings.Contains(d.What, row.says) {
					texts = ""
					break
				}
			}
			assert.Empty(t, texts)
			assert.LessOrEqual(t, len(all.Damage), 2, "and little else: %v", all.Damage)
			for _, j := range all.Jobs {
				if j.ID == storetest.JobB {
					assert.True(t, j.Whole, "the other job is sound")
				}
			}
		})
	}
}

// TestExamine_Circle: pages that lead back to themselves, on which bbolt would never
// come to an end.
func TestExamine_Circle(t *testing.T) {
	path := filepath.Join(t.TempDir(), "jobs.db")
	require.NoError(t, os.WriteFile(path, filled(t), 0o600))
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	pointed := false
	for at := 2 * 4096; at < len(data); at += 4096 {
		if data[at+8] == 1 && data[at+10] > 1 { // a branch: its first child is itself
			copy(data[at+16+8:at+16+16], data[at:at+8])
			pointed = true
		}
	}
	require.True(t, pointed, "the store must be large enough to have a branch")
	require.NoError(t, os.WriteFile(path, data, 0o600))
	assert.Contains(t, strings.Join(examine(t, path).Pages, "\n"), "is used twice")
	_, err = bolt.Open(path)
	assert.ErrorIs(t, err, bolt.ErrUnreadable)
}

func TestExamine_CannotLook(t *testing.T) {
	dir := t.TempDir()
	_, err := bolt.Examine(filepath.Join(dir, "none.db"), nil)
	assert.ErrorIs(t, err, os.ErrNotExist)
	path := filepath.Join(dir, "jobs.db")
	open(t, path)
	_, err = bolt.Examine(path, nil)
	assert.ErrorIs(t, err, bolt.ErrInUse)
	for name, data := range map[string]string{"empty": "", "short": "no store", "none": strings.Repeat("no store ", 4000)} {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, []byte(data), 0o600))
		e, err := bolt.Examine(path, nil)
		require.NoError(t, err, "a finding, and no failure to look")
		require.Len(t, e.Pages, 1)
		assert.Contains(t, e.Pages[0], "nothing in it can be read")
	}
}

// TestOpen_Newer: a store of a later format is refused with one sentence, untouched.
func TestOpen_Newer(t *testing.T) {
	path := filepath.Join(t.TempDir(), "jobs.db")
	require.NoError(t, open(t, path).Close())
	harm(t, path, func(tx *bbolt.Tx) error {
		return tx.Bucket([]byte("about")).Put([]byte("format"), []byte("hangtrue-store/4"))
	})
	_, err := bolt.Open(path)
	require.ErrorIs(t, err, bolt.ErrNewer)
	assert.EqualError(t, err, "bolt: "+path+": it was written by a newer hangtrue: its format is 4 and this program reads up to 3. Use the newer program")
	_, err = bolt.Examine(path, nil)
	assert.ErrorIs(t, err, bolt.ErrNewer)
	for _, format := range []string{"hangtrue-store/0", "hangtrue-store/01", "hangtrue-store/", "something/1", ""} {
		harm(t, path, func(tx *bbolt.Tx) error { return tx.Bucket([]byte("about")).Put([]byte("format"), []byte(format)) })
		_, err := bolt.Open(path)
		assert.ErrorIs(t, err, bolt.ErrUnreadable, format)
	}
}

// TestOpen_Upgrade plays a program with three more formats than the first. What was is kept
// beside; a step that fails changes nothing; the older program refuses the result.
func TestOpen_Upgrade(t *testing.T) {
	path := filepath.Join(t.TempDir(), "jobs.db")
	data, err := os.ReadFile(stored)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, data, 0o600))
	want := examine(t, path)
	mark := func(name string) func(*bbolt.Tx) error {
		return func(tx *bbolt.Tx) error {
			_, err := tx.CreateBucket([]byte(name))
			return err
		}
	}
	t.Run("later", func(t *testing.T) {
		bolt.WithUpgrades(t, mark("two"), mark("three"), func(*bbolt.Tx) error { return errors.New("on purpose") })
		_, err := bolt.Examine(path, nil)
		assert.ErrorIs(t, err, bolt.ErrOlder)
		_, err = bolt.Open(path)
		assert.ErrorContains(t, err, "could not be brought from format 1 to 4 and is as it was: on purpose")
	})
	assert.Equal(t, want, examine(t, path), "nothing changed")
	t.Run("later, and it works", func(t *testing.T) {
		bolt.WithUpgrades(t, mark("two"), mark("three"), mark("four"))
		require.NoError(t, open(t, path).Close())
		got := examine(t, path)
		assert.True(t, got.Sound())
		assert.Equal(t, want.Jobs, got.Jobs)
		assert.Equal(t, 4, got.Format)
	})
	_, err = bolt.Open(path)
	assert.ErrorIs(t, err, bolt.ErrNewer)
	require.NoError(t, os.WriteFile(path, data, 0o600))
	require.NoError(t, open(t, path).Close()) // today's program
	t.Run("the first program", func(t *testing.T) {
		bolt.WithUpgrades(t)
		_, err := bolt.Open(path)
		assert.ErrorIs(t, err, bolt.ErrNewer, "it would take records that say more for damaged")
	})
	assert.Equal(t, want, examine(t, path+".format-1"), "what was, beside it")
}

// TestStore_CopyTo: a copy made while others append is of one moment, and whole.
func TestStore_CopyTo(t *testing.T) {
	dir := t.TempDir()
	s := open(t, filepath.Join(dir, "jobs.db"))
	done := make(chan struct{})
	go func() {
		defer close(done)
		for p := int64(1); p <= 200; p++ {
			if !assert.NoError(t, s.Append(storetest.Addition(storetest.JobA, storetest.Records(t, storetest.JobA, p, p)...))) {
				return
			}
		}
	}()
	last := 0
	for n, running := 0, true; running; n++ {
		select {
		case <-done:
			running = false
		default:
		}
		path := filepath.Join(dir, "copy.db")
		require.NoError(t, s.CopyTo(path))
		all := examine(t, path)
		require.True(t, all.Sound(), "%v %v", all.Pages, all.Damage)
		for _, j := range all.Jobs {
			assert.GreaterOrEqual(t, len(j.Records), last, "a later copy has no less")
			last = len(j.Records)
		}
		assert.ErrorIs(t, s.CopyTo(path), os.ErrExist, "nothing is written over")
		require.NoError(t, os.Remove(path))
	}
	assert.Equal(t, 200, last)
}

// TestLines_DamagedLine: a job whose line is damaged hides no other, and nothing of
// it is handed out.
func TestLines_DamagedLine(t *testing.T) {
	path := filepath.Join(t.TempDir(), "jobs.db")
	s := open(t, path)
	require.NoError(t, s.Append(storetest.Addition(storetest.JobA, storetest.Records(t, storetest.JobA, 1, 2)...),
		storetest.Addition(storetest.JobB, storetest.Records(t, storetest.JobB, 1, 2)...)))
	require.NoError(t, s.Close())
	jobA := uuid.MustParse(storetest.JobA)
	harm(t, path, func(tx *bbolt.Tx) error { return tx.Bucket([]byte("lines")).Put(jobA[:], []byte("{}")) })
	s = open(t, path)
	lines, err := s.Lines()
	require.NoError(t, err)
	require.Len(t, lines, 2)
	assert.Equal(t, store.Line{ID: storetest.JobA, Title: store.DamagedTitle}, lines[0])
	var damage *store.Damage
	_, err = s.Records(storetest.JobA, 0, 10, 1<<20)
	assert.ErrorAs(t, err, &damage)
	assert.ErrorAs(t, s.Append(storetest.Addition(storetest.JobA, storetest.Records(t, storetest.JobA, 3, 3)...)), &damage)
	require.NoError(t, s.Append(storetest.Addition(storetest.JobB, storetest.Records(t, storetest.JobB, 3, 3)...)))
}

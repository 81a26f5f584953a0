// Package storetest holds an implementation of [store.Store] to its promises.
package storetest

import (
	"fmt"
	"math"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/server/store"
)

// Ids for tests.
const (
	JobA   = "018f3c5e-7a10-7000-8000-0000000000a1"
	JobB   = "018f3c5e-7a10-7000-8000-0000000000b2"
	Device = "018f3c5e-7a10-7000-8000-00000000d001"
)

// EntryID is the id of the nth entry of a test.
func EntryID(n int64) string { return fmt.Sprintf("018f3c5e-7a10-7000-9000-%012d", n) }

// Record is a remark at a position of a job.
func Record(t testing.TB, job string, position int64, text string) checklist.Record {
	e, err := checklist.NewEntry(checklist.Entry{
		ID: EntryID(position), Job: job, Device: Device, Number: position, Who: "installer 1",
		Role: checklist.Installer, Clock: "2030-01-31T09:15:00.000Z", Kind: checklist.RemarkWritten,
	}, checklist.Remark{Text: text})
	require.NoError(t, err)
	return checklist.Record{Position: position, Received: "2030-01-31T09:15:02.000Z", Decision: checklist.Decision{Accepted: true}, Entry: e}
}

// Records are remarks at positions first to last.
func Records(t testing.TB, job string, first, last int64) []checklist.Record {
	var all []checklist.Record
	for p := first; p <= last; p++ {
		all = append(all, Record(t, job, p, fmt.Sprintf("remark %d, \"quoted\" <and more>", p)))
	}
	return all
}

// Addition is records and the line that belongs to them.
func Addition(job string, records ...checklist.Record) store.Addition {
	a := store.Addition{Job: job, Records: records}
	if len(records) > 0 {
		last := records[len(records)-1]
		a.Line = store.Line{ID: job, Title: "Attic lounge", Head: last.Position, Received: last.Received, Done: 1, All: 9}
	}
	return a
}

// Run runs every test; open gives an empty store.
func Run(t *testing.T, open func(t *testing.T) store.Store) {
	for _, row := range []struct {
		name string
		test func(t *testing.T, s store.Store)
	}{
		{"Empty", empty}, {"Append_KeepsEveryByte", keepsBytes}, {"Append_Conflict", conflict},
		{"Append_AllOrNothing", allOrNothing}, {"Records_Bounds", bounds}, {"Find", find}, {"Find_InALongLog", findLong}, {"At", at}, {"Snapshot", snapshot}, {"Seals", seals},
		{"Lines", lines}, {"Strays", strays}, {"Strays_Bounded", straysBounded}, {"Strays_BytesBounded", strayBytesBounded},
		{"Append_ManyAtOnce", manyAtOnce}, {"Append_OneWinsAPosition", race}, {"Close", closed},
	} {
		t.Run(row.name, func(t *testing.T) {
			s := open(t)
			row.test(t, s)
			Check(t, s)
			require.NoError(t, s.Close())
		})
	}
}

// Check sees that a store is consistent: lines, records and ids say the same. A
// closed store is left alone.
func Check(t testing.TB, s store.Store) {
	all, err := s.Lines()
	if err == store.ErrClosed {
		return
	}
	require.NoError(t, err)
	for _, line := range all {
		records, err := s.Records(line.ID, 0, 1<<30, 1<<30)
		require.NoError(t, err)
		require.EqualValues(t, line.Head, len(records), "job %s", line.ID)
		for i, r := range records {
			require.EqualValues(t, i+1, r.Position)
			found, err := s.Find(line.ID, r.Entry.ID)
			require.NoError(t, err)
			require.Equal(t, r, found)
		}
	}
}

func empty(t *testing.T, s store.Store) {
	all, err := s.Lines()
	require.NoError(t, err)
	assert.Empty(t, all)
	_, err = s.Line(JobA)
	assert.ErrorIs(t, err, store.ErrNoJob)
	records, err := s.Records(JobA, 0, 10, 1000)
	require.NoError(t, err)
	assert.Empty(t, records)
	_, err = s.Find(JobA, EntryID(1))
	assert.ErrorIs(t, err, store.ErrNoRecord)
	require.NoError(t, s.Append())
}

func keepsBytes(t *testing.T, s store.Store) {
	want := Records(t, JobA, 1, 20)
	want[3].Decision = checklist.Decision{Reason: "Held: \"mark\" is not done.\n\tüber", Barred: "drill.proof"}
	want[4].Edition = 2
	require.NoError(t, s.Append(Addition(JobA, want[:7]...)))
	require.NoError(t, s.Append(Addition(JobA, want[7:]...)))
	got, err := s.Records(JobA, 0, 100, 1<<20)
	require.NoError(t, err)
	require.Equal(t, want, got)
	for i := range want {
		assert.Equal(t, string(want[i].Leaf()), string(got[i].Leaf()))
	}
	line, err := s.Line(JobA)
	require.NoError(t, err)
	assert.Equal(t, Addition(JobA, want...).Line, line)
}

func conflict(t *testing.T, s store.Store) {
	require.NoError(t, s.Append(Addition(JobA, Records(t, JobA, 1, 3)...)))
	foreign := Record(t, JobB, 4, "of another job")
	twice := Record(t, JobA, 4, "an id that is there")
	var err error
	e := twice.Entry
	e.ID = EntryID(2)
	twice.Entry, err = checklist.NewEntry(e, checklist.Remark{Text: "an id that is there"})
	require.NoError(t, err)
	for name, records := range map[string][]checklist.Record{
		"a position that is there": Records(t, JobA, 3, 3),
		"a gap":                    Records(t, JobA, 5, 5),
		"the beginning again":      Records(t, JobA, 1, 1),
		"a gap inside":             append(Records(t, JobA, 4, 4), Records(t, JobA, 6, 6)...),
		"a record of another job":  {foreign},
		"an id twice":              {twice},
	} {
		assert.ErrorIs(t, s.Append(Addition(JobA, records...)), store.ErrConflict, name)
	}
	line, err := s.Line(JobA)
	require.NoError(t, err)
	assert.EqualValues(t, 3, line.Head)
}

func allOrNothing(t *testing.T, s store.Store) {
	stray := store.Stray{Job: JobA, Received: "2030-01-31T09:15:02.000Z", Reason: "unreadable", Entry: []byte("{")}
	good := Addition(JobA, Records(t, JobA, 1, 2)...)
	good.Strays = []store.Stray{stray}
	good.Seals = []store.Seal{{Position: 2, Note: "note"}}
	require.ErrorIs(t, s.Append(good, Addition(JobB, Records(t, JobB, 2, 2)...)), store.ErrConflict)
	_, err := s.Line(JobA)
	assert.ErrorIs(t, err, store.ErrNoJob, "the first addition went with the second")
	kept, err := s.Strays(0, 10, 1<<20)
	require.NoError(t, err)
	assert.Empty(t, kept)
	seals, err := s.Seals(JobA)
	require.NoError(t, err)
	assert.Empty(t, seals)

	require.NoError(t, s.Append(good, Addition(JobB, Records(t, JobB, 1, 1)...), Addition(JobA, Records(t, JobA, 3, 3)...)))
	line, err := s.Line(JobA)
	require.NoError(t, err)
	assert.EqualValues(t, 3, line.Head, "two additions to one job follow each other")
}

func bounds(t *testing.T, s store.Store) {
	require.NoError(t, s.Append(Addition(JobA, Records(t, JobA, 1, 10)...)))
	require.NoError(t, s.Append(Addition(JobB, Records(t, JobB, 1, 10)...)))
	size := len(Record(t, JobA, 1, "remark 1, \"quoted\" <and more>").Entry.Bytes())
	for _, row := range []struct {
		after        int64
		limit, bytes int
		first, last  int64
	}{
		{0, 100, 1 << 20, 1, 10},
		{0, 3, 1 << 20, 1, 3},
		{7, 3, 1 << 20, 8, 10},
		{9, 100, 1 << 20, 10, 10},
		{-5, 2, 1 << 20, 1, 2},
		{0, 100, size*2 + size/2, 1, 2},
		{4, 100, 1, 5, 5}, // one record is always given, however large
	} {
		got, err := s.Records(JobA, row.after, row.limit, row.bytes)
		require.NoError(t, err)
		require.NotEmpty(t, got, "%+v", row)
		assert.Equal(t, row.first, got[0].Position, "%+v", row)
		assert.Equal(t, row.last, got[len(got)-1].Position, "%+v", row)
		assert.Equal(t, JobA, got[0].Entry.Job)
	}
	for _, after := range []int64{10, 11, 1 << 40, math.MaxInt64} { // behind the last there is no number
		got, err := s.Records(JobA, after, 100, 1<<20)
		require.NoError(t, err)
		assert.Empty(t, got, "after %d", after)
	}
}

func find(t *testing.T, s store.Store) {
	require.NoError(t, s.Append(Addition(JobA, Records(t, JobA, 1, 5)...)))
	r, err := s.Find(JobA, EntryID(4))
	require.NoError(t, err)
	assert.EqualValues(t, 4, r.Position)
	for _, row := range [][2]string{{JobB, EntryID(4)}, {JobA, EntryID(6)}, {JobA, "no id"}, {"no job", EntryID(1)}} {
		_, err = s.Find(row[0], row[1])
		assert.ErrorIs(t, err, store.ErrNoRecord, "%v", row)
	}
}

// findLong adds to a log in pieces of several sizes. After each, entries of all ages are
// found, others are not, and none is taken again.
func findLong(t *testing.T, s store.Store) {
	head := int64(0)
	for piece := range int64(30) {
		last := head + 1 + piece*7%5
		require.NoError(t, s.Append(Addition(JobA, Records(t, JobA, head+1, last)...)))
		head = last
		for p := int64(1); p <= head; p++ {
			r, err := s.Find(JobA, EntryID(p))
			require.NoError(t, err, "entry %d of %d", p, head)
			require.Equal(t, p, r.Position)
			again := Record(t, JobA, p, "again")
			again.Position = head + 1
			require.ErrorIs(t, s.Append(Addition(JobA, again)), store.ErrConflict, "entry %d of %d", p, head)
		}
		_, err := s.Find(JobA, EntryID(head+1))
		require.ErrorIs(t, err, store.ErrNoRecord)
	}
}

func at(t *testing.T, s store.Store) {
	want := Records(t, JobA, 1, 9)
	require.NoError(t, s.Append(Addition(JobA, want...), Addition(JobB, Records(t, JobB, 1, 3)...)))
	got, err := s.At(JobA, []int64{2, 9, 1, 2})
	require.NoError(t, err)
	assert.Equal(t, []checklist.Record{want[1], want[8], want[0], want[1]}, got)
	got, err = s.At(JobA, nil)
	require.NoError(t, err)
	assert.Empty(t, got)
	for _, position := range []int64{0, -1, 10} {
		_, err = s.At(JobA, []int64{1, position})
		var damage *store.Damage
		require.ErrorAs(t, err, &damage)
		assert.Equal(t, position, damage.Position)
	}
	_, err = s.At("018f3c5e-7a10-7000-8000-0000000000c3", []int64{1})
	assert.Error(t, err)
}

func snapshot(t *testing.T, s store.Store) {
	none, err := s.Snapshot(JobA)
	require.NoError(t, err)
	assert.Empty(t, none)
	first, second := Addition(JobA, Records(t, JobA, 1, 3)...), Addition(JobA, Records(t, JobA, 4, 5)...)
	first.Snapshot = []byte("the first")
	require.NoError(t, s.Append(first, Addition(JobB, Records(t, JobB, 1, 1)...)))
	require.NoError(t, s.Append(second))
	got, err := s.Snapshot(JobA)
	require.NoError(t, err)
	assert.Equal(t, "the first", string(got), "one that brings none leaves the one before")
	require.NoError(t, s.Append(store.Addition{Job: JobA, Snapshot: []byte("of its own")}))
	got, err = s.Snapshot(JobA)
	require.NoError(t, err)
	assert.Equal(t, "of its own", string(got))
	got, err = s.Snapshot(JobB)
	require.NoError(t, err)
	assert.Empty(t, got)
}

func seals(t *testing.T, s store.Store) {
	first, second := Addition(JobA, Records(t, JobA, 1, 3)...), Addition(JobA, Records(t, JobA, 4, 5)...)
	first.Seals = []store.Seal{{Position: 3, Note: "the first\nnote — ü\n"}}
	second.Seals = []store.Seal{{Position: 5, Note: "the second"}}
	other := Addition(JobB, Records(t, JobB, 1, 1)...)
	other.Seals = []store.Seal{{Position: 1, Note: "of another job"}}
	require.NoError(t, s.Append(first))
	require.NoError(t, s.Append(other))
	require.NoError(t, s.Append(second))
	got, err := s.Seals(JobA)
	require.NoError(t, err)
	assert.Equal(t, append(first.Seals, second.Seals...), got)
	none, err := s.Seals("018f3c5e-7a10-7000-8000-0000000000c3")
	require.NoError(t, err)
	assert.Empty(t, none)
}

func lines(t *testing.T, s store.Store) {
	b, a := Addition(JobB, Records(t, JobB, 1, 1)...), Addition(JobA, Records(t, JobA, 1, 2)...)
	b.Line.Title, b.Line.Signed = "Über \"den\" Garagen", true
	require.NoError(t, s.Append(b))
	require.NoError(t, s.Append(a))
	got, err := s.Lines()
	require.NoError(t, err)
	assert.Equal(t, []store.Line{a.Line, b.Line}, got)
}

func strays(t *testing.T, s store.Store) {
	all := []store.Stray{
		{Job: JobA, Received: "2030-01-31T09:15:02.000Z", Reason: "unreadable", Entry: []byte{0xff, 0, '{'}},
		{Job: JobB, Received: "2030-01-31T09:15:03.000Z", Reason: "no such job", Entry: []byte("{}")},
		{Job: "", Received: "2030-01-31T09:15:03.000Z", Reason: "no such job", Entry: nil},
	}
	require.NoError(t, s.Append(store.Addition{Job: JobA, Strays: all[:1]}))
	require.NoError(t, s.Append(store.Addition{Job: JobB, Strays: all[1:]}))
	again := all[0]
	again.Received = "2031-01-31T09:15:02.000Z"
	require.NoError(t, s.Append(store.Addition{Job: JobA, Strays: []store.Stray{again, again}}), "sent again it is the same stray")
	got, err := s.Strays(0, 10, 1<<20)
	require.NoError(t, err)
	require.Len(t, got, 3)
	for _, row := range []struct{ after, limit, bytes, first, n int }{{0, 2, 1 << 20, 0, 2}, {1, 10, 1 << 20, 1, 2}, {-1, 1, 0, 0, 1}, {0, 10, 4, 0, 1}, {3, 10, 1 << 20, 0, 0}, {math.MaxInt, 10, 1 << 20, 0, 0}} {
		some, err := s.Strays(int64(row.after), row.limit, row.bytes)
		require.NoError(t, err)
		require.Len(t, some, row.n, "%+v", row)
		for i := range some {
			assert.Equal(t, got[row.first+i], some[i])
		}
	}
	for i := range all {
		assert.Equal(t, string(all[i].Entry), string(got[i].Entry))
		assert.Equal(t, all[i].Reason, got[i].Reason)
		assert.Equal(t, all[i].Received, got[i].Received)
	}
	none, err := s.Lines()
	require.NoError(t, err)
	assert.Empty(t, none, "a stray makes no job")
}

func straysBounded(t *testing.T, s store.Store) {
	many := make([]store.Stray, store.MaxStrays)
	for i := range many {
		many[i] = store.Stray{Job: JobA, Reason: "unreadable", Entry: fmt.Append(nil, i)}
	}
	require.NoError(t, s.Append(store.Addition{Job: JobA, Strays: many}))
	one := store.Stray{Job: JobA, Reason: "unreadable", Entry: []byte("one more")}
	a := Addition(JobA, Records(t, JobA, 1, 1)...)
	a.Strays = []store.Stray{one}
	assert.ErrorIs(t, s.Append(a), store.ErrStrays)
	_, err := s.Line(JobA)
	assert.ErrorIs(t, err, store.ErrNoJob)
	assert.NoError(t, s.Append(store.Addition{Job: JobA, Strays: many[:1]}), "a known one may come again")
}

func strayBytesBounded(t *testing.T, s store.Store) {
	const size = 1 << 20
	for i := range store.MaxStrayBytes / size {
		large := store.Stray{Job: JobA, Reason: "unreadable", Entry: append(make([]byte, size-1), byte(i))}
		require.NoError(t, s.Append(store.Addition{Job: JobA, Strays: []store.Stray{large}}))
	}
	one := store.Stray{Job: JobA, Reason: "unreadable", Entry: []byte("one more")}
	assert.ErrorIs(t, s.Append(store.Addition{Job: JobA, Strays: []store.Stray{one}}), store.ErrStrays)
}

func manyAtOnce(t *testing.T, s store.Store) {
	const jobs, each = 12, 15
	var wait sync.WaitGroup
	for j := range jobs {
		job := fmt.Sprintf("018f3c5e-7a10-7000-8000-%012d", j)
		var additions []store.Addition
		for p := int64(1); p <= each; p++ {
			additions = append(additions, Addition(job, Records(t, job, p, p)...))
		}
		wait.Go(func() {
			for _, a := range additions {
				if err := s.Append(a); !assert.NoError(t, err) {
					return
				}
				line, err := s.Line(job) // what was answered can be read at once
				assert.NoError(t, err)
				assert.Equal(t, a.Line.Head, line.Head)
			}
		})
	}
	wait.Wait()
	all, err := s.Lines()
	require.NoError(t, err)
	assert.Len(t, all, jobs)
}

func race(t *testing.T, s store.Store) {
	const callers = 8
	outcomes := make(chan error, callers)
	additions := make([]store.Addition, callers)
	for c := range callers {
		additions[c] = Addition(JobA, Record(t, JobA, 1, fmt.Sprint("from ", c)))
	}
	for _, a := range additions {
		go func() { outcomes <- s.Append(a) }()
	}
	won := 0
	for range callers {
		if err := <-outcomes; err == nil {
			won++
		} else {
			assert.ErrorIs(t, err, store.ErrConflict)
		}
	}
	assert.Equal(t, 1, won)
}

func closed(t *testing.T, s store.Store) {
	a := Addition(JobA, Records(t, JobA, 1, 1)...)
	require.NoError(t, s.Close())
	assert.ErrorIs(t, s.Append(a), store.ErrClosed)
	_, err := s.Lines()
	assert.ErrorIs(t, err, store.ErrClosed)
	_, err = s.Line(JobA)
	assert.ErrorIs(t, err, store.ErrClosed)
	_, err = s.Records(JobA, 0, 1, 1)
	assert.ErrorIs(t, err, store.ErrClosed)
	_, err = s.Find(JobA, EntryID(1))
	assert.ErrorIs(t, err, store.ErrClosed)
	_, err = s.Seals(JobA)
	assert.ErrorIs(t, err, store.ErrClosed)
	_, err = s.Strays(0, 1, 1)
	assert.ErrorIs(t, err, store.ErrClosed)
}

package server_test

import (
	"errors"
	"fmt"
	"net"
	"net/http"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/seal"
	"hangtrue/server"
	"hangtrue/server/bolt"
	"hangtrue/server/memory"
	"hangtrue/server/store"
	"hangtrue/server/store/storetest"
)

func TestPush_OpensAJobAndKeepsBytes(t *testing.T) {
	s := serve(t, memory.New())
	d := lead(t, jobA)
	entries := []checklist.Entry{d.open("Attic lounge"), d.remark("40 mm off, \"asked\" <twice>\nü"), d.settle()}
	a := s.push(jobA, entries...)
	assert.EqualValues(t, 3, a.Head)
	for i, answer := range a.Answers {
		require.NotNil(t, answer.Record)
		assert.Equal(t, entries[i].ID, answer.ID)
		assert.EqualValues(t, i+1, answer.Record.Position)
		assert.True(t, answer.Record.Accepted, answer.Record.Reason)
		assert.Equal(t, string(entries[i].Bytes()), string(answer.Record.Entry.Bytes()))
	}
	records, seals := s.pull(jobA)
	require.Len(t, records, 3)
	assert.Empty(t, seals)
	for i, r := range records {
		assert.Equal(t, string(entries[i].Bytes()), string(r.Entry.Bytes()))
		assert.Equal(t, *a.Answers[i].Record, r)
	}
	assert.JSONEq(t, `{"jobs":[{"id":"`+jobA+`","title":"Attic lounge","head":3,"received":"`+records[2].Received+`"}],"run":"a run"}`, s.get("/api/jobs").body)
}

func TestPush_SameEntryAgain(t *testing.T) {
	s := serve(t, memory.New())
	d := lead(t, jobA)
	open, remark := d.open("Attic lounge"), d.remark("one")
	first := s.push(jobA, open, remark)
	again := s.push(jobA, remark, open, remark)
	assert.EqualValues(t, 2, again.Head)
	assert.Equal(t, first.Answers[1].Record, again.Answers[0].Record, "the same record, with the time of the first receipt")
	assert.Equal(t, first.Answers[0].Record, again.Answers[1].Record)
	next := d.remark("two")
	twice := s.push(jobA, next, next)
	assert.EqualValues(t, 3, twice.Head)
	assert.Equal(t, twice.Answers[0].Record, twice.Answers[1].Record, "twice in one push")
}

func TestPush_OutOfOrder(t *testing.T) {
	s := serve(t, memory.New())
	d := lead(t, jobA)
	open, two, three, four := d.open("Attic lounge"), d.remark("two"), d.remark("three"), d.remark("four")
	a := s.push(jobA, open, four, three)
	assert.EqualValues(t, 1, a.Head)
	assert.EqualValues(t, 2, a.Answers[1].Expected)
	assert.EqualValues(t, 2, a.Answers[2].Expected)
	assert.Nil(t, a.Answers[1].Record)
	a = s.push(jobA, two, three, four)
	assert.EqualValues(t, 4, a.Head)

	other := lead(t, jobB)
	other.number = 1
	a = s.push(jobB, other.open("begins with number 2"))
	assert.EqualValues(t, 1, a.Answers[0].Expected)
	assert.EqualValues(t, 0, a.Head)
}

func TestPush_RefusedEntryIsKeptAndBlocksNothing(t *testing.T) {
	s := serve(t, memory.New())
	d, w := lead(t, jobA), installer(t, jobA)
	a := s.push(jobA, d.open("Attic lounge"), w.open("again"), w.remark("goes on"))
	assert.EqualValues(t, 3, a.Head)
	assert.False(t, a.Answers[1].Record.Accepted)
	assert.NotEmpty(t, a.Answers[1].Record.Reason)
	assert.True(t, a.Answers[2].Record.Accepted)

	reused := d.remark("number used before")
	d.number = 1
	e := d.remark("with the number of another")
	e.ID = "018f3c5e-7a10-7000-9000-00000000ffff"
	e, err := checklist.NewEntry(e, checklist.Remark{Text: "with the number of another"})
	require.NoError(t, err)
	a = s.push(jobA, reused, e)
	assert.True(t, a.Answers[0].Record.Accepted)
	assert.False(t, a.Answers[1].Record.Accepted, "kept as refused")
	assert.EqualValues(t, 5, a.Head)
}

func TestPush_Strays(t *testing.T) {
	s := serve(t, memory.New())
	d, foreign, unopened := lead(t, jobA), lead(t, jobB), installer(t, jobB)
	open := d.open("Attic lounge")
	changed, err := checklist.NewEntry(open, checklist.Opening{Title: "Another title"})
	require.NoError(t, err)
	remark := d.remark("goes on")
	a := s.pushTexts(jobA,
		string(open.Bytes()),
		`{"id":"018f3c5e-7a10-7000-9000-000000000bad","job"`,
		`{"id":"readable","v":1}`,
		string(foreign.open("of another job").Bytes()),
		string(changed.Bytes()),
		strings.Repeat("x", checklist.MaxEntry+1),
		string(remark.Bytes()))
	assert.EqualValues(t, 2, a.Head, "strays hold up nothing")
	for i, want := range map[int]string{1: "cannot be read", 2: "cannot be read", 3: "belongs to job " + jobB, 4: "id is that of another entry", 5: "at most"} {
		assert.Contains(t, a.Answers[i].Stray, want)
		assert.Nil(t, a.Answers[i].Record)
	}
	assert.Equal(t, "readable", a.Answers[2].ID)

	b := s.push(jobB, unopened.remark("for a job that is not here"))
	assert.Contains(t, b.Answers[0].Stray, "no such job")
	assert.True(t, b.Answers[0].Missing)
	b = s.push(jobB, unopened.remark("and one that no number holds up"))
	assert.True(t, b.Answers[0].Missing)
	assert.Zero(t, b.Answers[0].Expected)
	unopened.number = 0
	b = s.push(jobB, unopened.open("an installer opens no job"))
	assert.Contains(t, b.Answers[0].Stray, "could not be opened")
	assert.EqualValues(t, 0, b.Head)
	assert.NotContains(t, s.get("/api/jobs").body, jobB)

	kept, err := s.keeper.Strays(0, 100, 64<<20)
	require.NoError(t, err)
	require.Len(t, kept, 8)
	assert.Equal(t, string(changed.Bytes()), string(kept[3].Entry), "a stray is kept as it came")
	assert.Contains(t, s.get("/api/strays").body, "could not be opened")

	unopened.number = 0
	s.push(jobB, unopened.remark("other bytes"))
	s.pushTexts(jobA, `{"id":"readable","v":1}`)
	again, err := s.keeper.Strays(0, 100, 64<<20)
	require.NoError(t, err)
	assert.Len(t, again, 9, "one new, and the one sent again is the same stray")
}

// TestPush_ClockYearsWrong: a device's clock decides nothing and stays readable beside the server's.
func TestPush_ClockYearsWrong(t *testing.T) {
	s := serve(t, memory.New())
	d := lead(t, jobA)
	a := s.push(jobA, d.open("Attic lounge"),
		d.makeAt("2028-01-31T09:15:00.000Z", checklist.RemarkWritten, checklist.Remark{Text: "two years behind"}),
		d.makeAt("2032-01-31T09:15:00.000Z", checklist.RemarkWritten, checklist.Remark{Text: "two years ahead"}),
		d.makeAt("1970-01-01T00:00:00.000Z", checklist.RemarkWritten, checklist.Remark{Text: "a dead battery"}))
	for i, clock := range []string{"2030", "2028", "2032", "1970"} {
		r := a.Answers[i].Record
		require.NotNil(t, r)
		assert.True(t, r.Accepted)
		assert.EqualValues(t, i+1, r.Position)
		assert.True(t, strings.HasPrefix(r.Entry.Clock, clock))
		assert.True(t, strings.HasPrefix(r.Received, "2030-01-31T09:15:0"), r.Received)
	}
}

// TestPush_TwoPhonesInterleaved: two phones push to one job at once; every entry
// gets one place, in the order of its phone.
func TestPush_TwoPhonesInterleaved(t *testing.T) {
	s := serve(t, memory.New())
	opener := lead(t, jobA)
	s.push(jobA, opener.open("Attic lounge"))
	const each = 40
	var wait sync.WaitGroup
	for _, d := range []*device{opener, installer(t, jobA)} {
		var entries []checklist.Entry
		for i := range each {
			entries = append(entries, d.remark(fmt.Sprintf("%s %d", d.who, i)))
		}
		wait.Go(func() {
			for len(entries) > 0 {
				n := min(len(entries), 1+len(entries)%3)
				a := s.push(jobA, entries[:n]...)
				for i, answer := range a.Answers {
					if assert.NotNil(t, answer.Record) {
						assert.Equal(t, entries[i].ID, answer.Record.Entry.ID)
						assert.True(t, answer.Record.Accepted, answer.Record.Reason)
					}
				}
				entries = entries[n:]
			}
		})
	}
	wait.Wait()
	records, _ := s.pull(jobA)
	require.Len(t, records, 1+2*each)
	last := map[string]int64{}
	for _, r := range records {
		assert.Equal(t, last[r.Entry.Device]+1, r.Entry.Number)
		last[r.Entry.Device] = r.Entry.Number
	}
}

// TestPush_LostResponse: the server kept the entry and the phone never heard; it
// sends again and gets the record of the first time.
func TestPush_LostResponse(t *testing.T) {
	s := serve(t, memory.New())
	d := lead(t, jobA)
	open := d.open("Attic lounge")
	body := pushBody(string(open.Bytes()))
	conn, err := net.Dial("tcp", strings.TrimPrefix(s.url, "http://"))
	require.NoError(t, err)
	_, err = fmt.Fprintf(conn, "POST /api/jobs/%s/entries HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\nContent-Length: %d\r\n\r\n%s", jobA, len(body), body)
	require.NoError(t, err)
	require.Eventually(t, func() bool { _, err := s.keeper.Line(jobA); return err == nil }, waitFor, tick)
	require.NoError(t, conn.Close())

	before, err := s.keeper.Records(jobA, 0, 10, 1<<20)
	require.NoError(t, err)
	require.Len(t, before, 1)
	a := s.push(jobA, open)
	assert.EqualValues(t, 1, a.Head)
	assert.Equal(t, before[0], *a.Answers[0].Record)
}

// TestPush_OneConnection sends many requests over one connection and then looks at
// everything kept: nothing may be text of a later request.
func TestPush_OneConnection(t *testing.T) {
	s := serve(t, memory.New())
	conn, err := net.Dial("tcp", strings.TrimPrefix(s.url, "http://"))
	require.NoError(t, err)
	defer conn.Close()
	buffer := make([]byte, 64<<10)
	var jobs, texts []string
	for i := range 26 {
		letter := string(rune('a' + i))
		job := fmt.Sprintf("018f3c5e-7a10-7000-8000-%012x", 0xabcdef000000+i*0x010101)
		d := &device{t: t, id: fmt.Sprintf("018f3c5e-7a10-7000-8000-%012x", i+1), job: job, who: "lead " + letter, role: checklist.Lead}
		open := d.open(strings.Repeat(letter, 30))
		stray := strings.Repeat(letter, 200)
		body := pushBody(string(open.Bytes()), stray)
		_, err := fmt.Fprintf(conn, "POST /api/jobs/%s/entries HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: application/json\r\nContent-Length: %d\r\n\r\n%s", job, len(body), body)
		require.NoError(t, err)
		n, err := conn.Read(buffer)
		require.NoError(t, err)
		require.Contains(t, string(buffer[:n]), "200 OK")
		jobs, texts = append(jobs, job), append(texts, string(open.Bytes()))
	}
	strays, err := s.keeper.Strays(0, 100, 64<<20)
	require.NoError(t, err)
	require.Len(t, strays, 26)
	for i, job := range jobs {
		letter := string(rune('a' + i))
		line, err := s.keeper.Line(job)
		require.NoError(t, err, job)
		assert.Equal(t, strings.Repeat(letter, 30), line.Title)
		assert.Equal(t, job, line.ID)
		records, err := s.keeper.Records(job, 0, 10, 1<<20)
		require.NoError(t, err)
		require.Len(t, records, 1)
		assert.Equal(t, texts[i], string(records[0].Entry.Bytes()))
		assert.Equal(t, job, strays[i].Job)
		assert.Equal(t, strings.Repeat(letter, 200), string(strays[i].Entry))
		state, err := s.keeper.State(job)
		require.NoError(t, err)
		assert.Equal(t, job, state.Job)
		assert.Equal(t, strings.Repeat(letter, 30), state.Title)
	}
}

// TestPush_SignOffIsSealed signs a finished job off through the server and checks
// the record file as anybody would.
func TestPush_SignOffIsSealed(t *testing.T) {
	for name, st := range map[string]store.Store{"memory": memory.New(), "bolt": openBolt(t)} {
		t.Run(name, func(t *testing.T) {
			d, state := finished(t, st)
			s := serve(t, st)
			a := s.push(jobA, d.make(checklist.JobSigned, checklist.Signing{Revision: 1, Head: state.Head}))
			require.True(t, a.Answers[0].Record.Accepted, a.Answers[0].Record.Reason)
			later := s.push(jobA, d.remark("afterwards"))
			require.True(t, later.Answers[0].Record.Accepted)

			records, seals := s.pull(jobA)
			require.Len(t, seals, 1)
			c, err := seal.Open(seals[0], key(t).Public())
			require.NoError(t, err)
			signed := a.Head
			assert.Equal(t, seal.Checkpoint{Job: jobA, Size: signed, Root: seal.Root(records[:signed]), Purpose: seal.SignOff}, c)

			r := s.get("/jobs/" + jobA + "/record.json")
			require.Equal(t, 200, r.StatusCode)
			assert.Equal(t, `attachment; filename=record-`+jobA+`.json; filename*=UTF-8''Attic%20lounge%20record.json`, r.Header.Get("Content-Disposition"))
			file, err := seal.Read([]byte(r.body))
			require.NoError(t, err)
			report := file.Verify(key(t).Public())
			assert.Empty(t, report.Findings)
			assert.Equal(t, []int64{signed}, report.SignOffs)
			assert.EqualValues(t, signed+1, report.Sealed)
			assert.Equal(t, 1, report.Later())

			line, err := s.keeper.Line(jobA)
			require.NoError(t, err)
			assert.True(t, line.Signed)
			assert.Equal(t, line.All, line.Done)

			// The same after a restart, from what was kept.
			again, err := server.NewKeeper(st, key(t), clock())
			require.NoError(t, err)
			notes, err := again.Seals(jobA)
			require.NoError(t, err)
			assert.Equal(t, seals, notes)
		})
	}
}

func openBolt(t testing.TB) *bolt.Store {
	s, err := bolt.Open(filepath.Join(t.TempDir(), "jobs.db"))
	require.NoError(t, err)
	t.Cleanup(func() { _ = s.Close() })
	return s
}

// failing is a store whose nth write fails, once or from then on: a full disk that
// is cleared, or is not.
type failing struct {
	store.Store
	mu      sync.Mutex
	n, at   int
	forever bool
}

var errNoSpace = errors.New("no space left on device")

func (f *failing) Append(additions ...store.Addition) error {
	f.mu.Lock()
	f.n++
	fails := f.n == f.at || f.forever && f.n > f.at
	f.mu.Unlock()
	if fails {
		return errNoSpace
	}
	return f.Store.Append(additions...)
}

// TestPush_DiskFull lets the 1st, 2nd, 3rd … write of one course of work fail, once
// and from then on, until the course has no more writes. What was answered is kept,
// what was not is answered when it is sent again, and a failed write leaves no trace.
func TestPush_DiskFull(t *testing.T) {
	for _, forever := range []bool{false, true} {
		failed := true
		n := 0
		for n = 1; failed; n++ {
			inner := openBolt(t)
			f := &failing{Store: inner, at: n, forever: forever}
			s := serve(t, f)
			d, w := lead(t, jobA), installer(t, jobA)
			course := [][]checklist.Entry{
				{d.open("Attic lounge")}, {d.settle()}, {w.remark("one"), d.remark("two")}, {w.open("refused"), w.remark("three")}, {d.remark("four")},
			}
			acknowledged := map[string]checklist.Record{}
			failed = false
			for round := 0; round < len(course); round++ {
				texts := []string{`{"stray":` + fmt.Sprint(round) + `}`}
				for _, e := range course[round] {
					texts = append(texts, string(e.Bytes()))
				}
				r := s.do(http.MethodPost, "/api/jobs/"+jobA+"/entries", pushBody(texts...))
				if r.StatusCode != 200 {
					failed = true
					assert.Contains(t, r.problem(t, 500), "Nothing was kept")
					assert.NotContains(t, r.body, "no space", "the cause is for the log")
					if forever {
						f.mu.Lock()
						f.at, f.forever = 1<<30, false // somebody made room
						f.mu.Unlock()
					}
					round-- // the phone sends it again
					continue
				}
				for _, answer := range r.answers(t).Answers[1:] {
					require.NotNil(t, answer.Record)
					acknowledged[answer.ID] = *answer.Record
				}
			}
			records, _ := s.pull(jobA)
			require.Len(t, records, 7, "write %d failed", n)
			for _, r := range records {
				assert.Equal(t, acknowledged[r.Entry.ID], r)
			}
			strays, err := s.keeper.Strays(0, 100, 64<<20)
			require.NoError(t, err)
			assert.Len(t, strays, len(course))
			storetest.Check(t, inner)
		}
		assert.Greater(t, n, 4, "the loop must have met several writes")
	}
}

// TestPull_DamageIsNamed: a record that changed on the disk is named, and neither
// served nor built upon.
func TestPull_DamageIsNamed(t *testing.T) {
	f := &rotten{Store: memory.New()}
	s := serve(t, f)
	d := lead(t, jobA)
	s.push(jobA, d.open("Attic lounge"), d.remark("one"))
	f.rotten = true
	want := "record 2 of job " + jobA + " is damaged"
	assert.Contains(t, s.get("/api/jobs/"+jobA+"/records").problem(t, 500), want)
	assert.Contains(t, s.get("/jobs/"+jobA+"/record.json").problem(t, 500), want)

	fresh := serve(t, f)
	r := fresh.do(http.MethodPost, "/api/jobs/"+jobA+"/entries", pushBody(string(d.remark("two").Bytes())))
	assert.Contains(t, r.problem(t, 500), want)
	assert.Contains(t, fresh.get("/jobs/"+jobA).problem(t, 500), want, "no page is made of it")
	assert.Equal(t, 200, fresh.get("/").StatusCode, "other pages are")
}

// rotten gives a damage for record 2.
type rotten struct {
	store.Store
	rotten bool
}

func (r *rotten) Records(job string, after int64, limit, bytes int) ([]checklist.Record, error) {
	if r.rotten {
		return nil, &store.Damage{Job: job, Position: 2, What: "its bytes are not the ones that were written"}
	}
	return r.Store.Records(job, after, limit, bytes)
}

// TestKeeper_ManyJobs: more jobs than are kept at hand, used in turn.
func TestKeeper_ManyJobs(t *testing.T) {
	k := keeper(t, memory.New())
	const jobs = 4200 // deskCost times this is more than maxHeld
	var devices []*device
	for i := range jobs {
		job := fmt.Sprintf("018f3c5e-7a10-7000-8000-%012d", i)
		d := lead(t, job)
		devices = append(devices, d)
		_, a, err := k.Push(job, [][]byte{d.open(fmt.Sprint("job ", i)).Bytes()})
		require.NoError(t, err)
		require.True(t, a[0].Record.Accepted)
	}
	for i, d := range devices {
		head, a, err := k.Push(d.job, [][]byte{d.remark("later").Bytes()})
		require.NoError(t, err)
		require.True(t, a[0].Record.Accepted)
		require.EqualValues(t, 2, head)
		state, err := k.State(d.job)
		require.NoError(t, err)
		require.Equal(t, fmt.Sprint("job ", i), state.Title)
	}
	lines := k.Lines()
	require.Len(t, lines, jobs)
	assert.Equal(t, devices[jobs-1].job, lines[0].ID, "the latest news first")
}

// counting counts how often records are read.
type counting struct {
	store.Store
	reads atomic.Int64
}

func (c *counting) Records(job string, after int64, limit, bytes int) ([]checklist.Record, error) {
	c.reads.Add(1)
	return c.Store.Records(job, after, limit, bytes)
}

// TestKeeper_LargeJob: a job that is over what is kept at hand is still not folded for
// every look at it, nor when another is looked at between.
func TestKeeper_LargeJob(t *testing.T) {
	s := &counting{Store: memory.New()}
	var records []checklist.Record
	for position := range int64(700) { // twice the bytes of these are more than maxHeld
		records = append(records, storetest.Record(t, jobA, position+1, strings.Repeat("a long remark ", 4000)))
	}
	require.NoError(t, s.Append(storetest.Addition(jobA, records...), storetest.Addition(jobB, storetest.Records(t, jobB, 1, 10)...)))
	k := keeper(t, s)
	for _, job := range []string{jobA, jobB} {
		_, err := k.State(job)
		require.NoError(t, err)
	}
	folded := s.reads.Load()
	require.Greater(t, folded, int64(4), "both were read whole")
	for range 3 {
		for _, job := range []string{jobA, jobB} {
			_, err := k.State(job)
			require.NoError(t, err)
		}
	}
	assert.Equal(t, folded, s.reads.Load())
}

package engine_test

import (
	"fmt"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/rehearsal"
	"hangtrue/pwa/internal/stand"
)

const later = "2030-02-01T08:00:00.000Z"

// afterwards plays a server whose records were all received later, and that tells so.
func afterwards(server http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		answer := httptest.NewRecorder()
		server.ServeHTTP(answer, r)
		body := strings.ReplaceAll(answer.Body.String(), `"received":"`+rehearsal.Clock+`"`, `"received":"`+later+`"`)
		if r.URL.Path == "/api/jobs" {
			body = strings.ReplaceAll(body, `"head":`, `"received":"`+later+`","head":`)
		}
		w.WriteHeader(answer.Code)
		_, _ = w.Write([]byte(body))
	})
}

// An old copy of the server that has grown to the length this phone knows is still
// another log: nothing is put on top of the old one, even if the answer to the
// first push is lost, and a phone that has nothing to send sees it too.
func TestEngineServerGrewToTheSameLength(t *testing.T) {
	for _, lost := range []string{"", "answer"} {
		site := newSite(t, 2)
		p, watcher := newPhone(t, stand.Serve(nil, site), 1), newPhone(t, stand.Serve(nil, site), 2)
		p.exchange()
		p.be("Installer one", checklist.Installer)
		p.save(isolatePath, isolated("locked"))
		p.exchange()
		watcher.exchange()
		require.Equal(t, 3, watcher.stored("records"))

		old := newSite(t, 2)
		p.server, watcher.server = afterwards(stand.Serve(nil, old)), afterwards(stand.Serve(nil, old))
		p.exchange()
		require.Equal(t, 3, len(old.Records), "this phone's entry came back")
		watcher.exchange()
		assert.Contains(t, watcher.rows[fmt.Sprintf(`records[%q,3]`, jobID)], later)
		p.save(isolatePath, isolated("unplugged"))
		p.lose = func() string { return lost }
		p.exchange()
		p.lose = func() string { return "" }
		for _, each := range []*phone{p, watcher} {
			_, ok := each.exchange()
			require.True(t, ok)
			require.Equal(t, 4, each.stored("records"))
			for _, name := range each.keys("records") {
				assert.Contains(t, each.rows[name], later)
			}
		}
	}
}

// A tab that knows of another tab's news only that there are some looks at what is
// stored before it compares.
func TestEngineOldCopySeenByAnotherTab(t *testing.T) {
	site, p := atWork(t, 2, checklist.Installer)
	p.call("page", map[string]any{"path": isolatePath})
	other := newPhone(t, stand.Serve(nil, site), 2)
	other.rows = p.rows
	other.restart()
	require.NoError(t, site.Do(checklist.RemarkWritten, checklist.Remark{Text: "news"}))
	other.exchange()
	p.call("forget", map[string]any{"job": jobID})
	other.save(isolatePath, isolated("locked"))

	old := newSite(t, 2)
	require.NoError(t, old.Do(checklist.RemarkWritten, checklist.Remark{Text: "other news"}))
	p.server = afterwards(stand.Serve(nil, old))
	_, ok := p.exchange()
	require.True(t, ok)
	require.Equal(t, 4, p.stored("records"))
	for _, name := range p.keys("records") {
		assert.Contains(t, p.rows[name], later)
	}
}

// Where tabs cannot tell each other of news, one of them has sent an entry and an
// old copy of the server, which has lost it, comes back. The stored record is the
// only copy then; the tab that has not heard of it puts nothing in its place, and
// the entry is sent again. The old copy may have grown since, or be shorter than
// what that tab knows.
func TestEngineOldCopyAndAnEntryOfAnotherTab(t *testing.T) {
	for _, known := range []int{2, 3} { // records that the tab knows; the old copy has two
		site, p := atWork(t, 2, checklist.Installer)
		other := newPhone(t, stand.Serve(nil, site), 2)
		other.rows = p.rows
		other.restart()
		for range known - 2 {
			require.NoError(t, site.Do(checklist.RemarkWritten, checklist.Remark{Text: "news"}))
			p.exchange()
		}
		p.call("page", map[string]any{"path": isolatePath})
		made := other.save(isolatePath, isolated("locked"))
		other.exchange()
		require.Equal(t, known+1, p.stored("records"))
		require.Zero(t, p.stored("pending"))
		require.NotEmpty(t, made.Changed)
		lost := site.Records[known].Entry

		old := newSite(t, 2)
		for range 2 * (3 - known) {
			require.NoError(t, old.Do(checklist.RemarkWritten, checklist.Remark{Text: "other news"}))
		}
		p.server = stand.Serve(nil, old)
		_, ok := p.exchange()
		require.True(t, ok)
		assert.Equal(t, 1, p.outrun)
		assert.Equal(t, lost.ID, old.Records[len(old.Records)-1].Entry.ID, "known %d", known)
		assert.Zero(t, p.stored("pending"))
		require.Equal(t, len(old.Records), p.stored("records"))

		other.server = p.server
		_, ok = other.exchange()
		require.True(t, ok)
		assert.Equal(t, p.dump(), other.dump())
	}
}

// A record that cannot be read stands before one whose entry the server has lost.
func TestEngineOldCopyAndADamagedRow(t *testing.T) {
	site, p := atWork(t, 2, checklist.Installer)
	require.NoError(t, site.Do(checklist.RemarkWritten, checklist.Remark{Text: "news"}))
	p.save(isolatePath, isolated("locked"))
	p.exchange()
	lost := site.Records[3].Entry
	p.rows[fmt.Sprintf(`records[%q,2]`, jobID)] = "{"
	p.restart()
	old := newSite(t, 2)
	p.server = afterwards(stand.Serve(nil, old))
	_, ok := p.exchange()
	require.True(t, ok)
	require.Equal(t, 3, len(old.Records))
	assert.Equal(t, lost.ID, old.Records[2].Entry.ID)
	assert.Equal(t, 3, p.stored("records"))
}

// A tab that was closed after it saved and before it told the others left its entry
// to them.
func TestEngineEntryOfAClosedTab(t *testing.T) {
	site, p := atWork(t, 2, checklist.Installer)
	p.call("page", map[string]any{"path": isolatePath})
	closed := newPhone(t, stand.Serve(nil, site), 2)
	closed.rows = p.rows
	closed.restart()
	closed.save(isolatePath, isolated("locked"))
	require.Equal(t, 1, p.stored("pending"))

	a, ok := p.exchange()
	require.True(t, ok)
	assert.Zero(t, p.stored("pending"))
	assert.Equal(t, 3, len(site.Records))
	assert.Contains(t, a.Say.HTML, "Everything is sent.")
}

// An answer of something in between is no empty server.
func TestEngineAnswerOfSomethingInBetween(t *testing.T) {
	for _, after := range []int{0, 1} { // answers of the server before it
		site := newSite(t, 2)
		p := newPhone(t, stand.Serve(nil, site), 1)
		p.exchange()
		require.NoError(t, site.Do(checklist.RemarkWritten, checklist.Remark{Text: "news"}))
		whole, asked := p.server, 0
		p.server = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if asked++; asked <= after {
				whole.ServeHTTP(w, r)
				return
			}
			_, _ = w.Write([]byte("{}"))
		})
		a, ok := p.exchange()
		assert.False(t, ok)
		assert.NotContains(t, a.Say.HTML, "Everything is sent.")
		assert.Equal(t, 2, p.stored("records"))
	}
}

// What another tab has kept apart had a number; a tab that was open before finds
// out by the storage.
func TestEngineNumberTakenByAnotherTab(t *testing.T) {
	site, p := atWork(t, 2, checklist.Installer)
	p.rows[fmt.Sprintf(`numbers%q`, jobID)] = "1"
	in := map[string]any{"path": isolatePath, "form": isolated("locked"), "now": now}
	first := p.call("submit", in)
	require.Equal(t, float64(1), first.Write[1].Value, "which the storage refuses")
	p.call("forget", map[string]any{"job": jobID})
	made := p.call("submit", in)
	p.apply(made.Write) // holds that no number is used twice
	p.call("kept", map[string]any{"id": made.ID, "job": made.Job})
	_, ok := p.exchange()
	require.True(t, ok)
	assert.Zero(t, p.stored("pending"))
	require.Equal(t, 4, len(site.Records))
	assert.Equal(t, checklist.RemarkWritten, site.Records[2].Entry.Kind)
}

// The answer that brings a lost entry back, itself lost, leaves no log that begins
// as the old one and ends as the new.
func TestEngineLostAnswerOfAnOldCopy(t *testing.T) {
	_, p := atWork(t, 2, checklist.Installer)
	p.save(isolatePath, isolated("locked"))
	p.exchange()
	old := newSite(t, 2)
	back, cut := afterwards(stand.Serve(nil, old)), false
	p.server = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		before, answer := len(old.Records), httptest.NewRecorder()
		back.ServeHTTP(answer, r)
		if len(old.Records) > before && !cut { // what stands in between says that nobody is there
			cut = true
			w.WriteHeader(http.StatusBadGateway)
			return
		}
		w.WriteHeader(answer.Code)
		_, _ = w.Write(answer.Body.Bytes())
	})
	p.save(isolatePath, isolated("unplugged"))
	for range 3 {
		p.exchange()
	}
	require.Equal(t, 4, len(old.Records))
	require.Equal(t, 4, p.stored("records"))
	for _, name := range p.keys("records") {
		assert.Contains(t, p.rows[name], later)
	}
}

// An entry that is on the storage, and that the tab which meets the server has not
// heard of, stays there when the log is fetched again.
func TestEngineRenewingLeavesForeignRows(t *testing.T) {
	_, p := atWork(t, 2, checklist.Installer)
	p.save(isolatePath, isolated("locked"))
	p.exchange()
	row := fmt.Sprintf(`pending[%q,2]`, jobID)
	text := ""
	server := stand.Serve(nil, newSite(t, 2)) // which has lost it
	p.server = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if text == "" {
			p.submit(isolatePath, isolated("unplugged")) // stored, and nobody was told yet
			text = p.rows[row]
		}
		server.ServeHTTP(w, r)
	})
	_, ok := p.exchange()
	require.True(t, ok)
	require.NotEmpty(t, text)
	assert.Equal(t, text, p.rows[row])
	p.restart()
	_, ok = p.exchange()
	require.True(t, ok)
	assert.Zero(t, p.stored("pending"))
	assert.Equal(t, 4, p.stored("records"))
}

// An entry that a program made which failed meanwhile is stored after the next one has
// read the job: it is shown, and counted as not sent.
func TestEngineEntryOfTheProgramBefore(t *testing.T) {
	_, p := atWork(t, 2, checklist.Installer)
	made := p.call("submit", map[string]any{"path": isolatePath, "form": isolated("locked"), "now": now})
	p.restart()
	p.call("page", map[string]any{"path": isolatePath}) // reads the job
	p.apply(made.Write)
	a := p.call("kept", map[string]any{"id": made.ID, "job": made.Job})
	assert.Contains(t, a.Say.HTML, "1 not sent yet.")
	j, ok := p.engine.Job(jobID)
	require.True(t, ok)
	require.Len(t, j.Pending, 1)
	assert.Equal(t, made.ID, j.Pending[0].ID)

	a = p.call("kept", map[string]any{"id": storedNowhere, "job": jobID})
	assert.Contains(t, a.Say.HTML, "1 not sent yet.", "what is nowhere is looked for once")
}

const storedNowhere = "01b97738-4877-76c8-855f-f841b722ac15"

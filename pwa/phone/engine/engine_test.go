package engine_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist"
	"hangtrue/checklist/rehearsal"
	"hangtrue/pwa/internal/stand"
	"hangtrue/pwa/phone/engine"
)

func TestEngineShowsWhatItPulled(t *testing.T) {
	site := newSite(t, 450) // more than one pull brings
	p := newPhone(t, stand.Serve(nil, site), 1)
	assert.True(t, p.call("page", map[string]any{"path": "/"}).Empty)
	_, ok := p.exchange()
	require.True(t, ok)
	assert.Equal(t, 450, p.stored("records"))
	list := p.call("page", map[string]any{"path": "/"})
	assert.Contains(t, list.HTML, "Two in a box")
	assert.False(t, list.Empty)

	p.restart()
	assert.Equal(t, list.HTML, p.call("page", map[string]any{"path": "/"}).HTML, "the list needs no log")
	job := p.call("page", map[string]any{"path": "/jobs/" + jobID})
	assert.Equal(t, 200, job.Status)
	assert.Equal(t, "Two in a box · hangtrue", job.Title)
	p.server = http.NotFoundHandler()
	_, ok = p.exchange()
	assert.False(t, ok)
	assert.Equal(t, 200, p.call("page", map[string]any{"path": surveyPath}).Status, "a server that is gone takes nothing away")
}

func TestEngineKeepsBeforeItShows(t *testing.T) {
	site, p := atWork(t, 2, checklist.Installer)
	before := p.call("page", map[string]any{"path": isolatePath}).HTML
	made := p.submit(isolatePath, isolated("unplugged"))
	assert.Equal(t, before, p.call("page", map[string]any{"path": isolatePath}).HTML, "nothing is shown before it is stored")
	kept := p.call("kept", map[string]any{"id": made.ID, "job": made.Job})
	assert.Equal(t, "Saved on this phone. 1 not sent yet.", kept.Say.HTML)
	shown := p.call("page", map[string]any{"path": isolatePath}).HTML
	assert.Contains(t, shown, "not sent yet")

	p.restart()
	assert.Equal(t, shown, p.call("page", map[string]any{"path": isolatePath}).HTML, "a closed page loses nothing")
	last, ok := p.exchange()
	require.True(t, ok)
	assert.Equal(t, "Everything is sent.", last.Say.HTML)
	assert.Zero(t, p.stored("pending"))
	assert.Equal(t, 3, p.stored("records"))
	require.Equal(t, 3, len(site.Records))
	e := site.Records[2].Entry
	assert.True(t, site.Records[2].Accepted)
	assert.Regexp(t, regexp.MustCompile(`^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$`), e.ID, "RFC 9562 §5.7")
	assert.Equal(t, fmt.Sprintf("%012x", e.Time().UnixMilli()), strings.ReplaceAll(e.ID[:13], "-", ""), "RFC 9562 §5.7: milliseconds first")
	assert.Equal(t, checklist.Installer, e.Role)
	assert.Equal(t, int64(2), e.Seen)
}

func TestEngineNamesWhatIsWrong(t *testing.T) {
	site := newSite(t, 2)
	p := newPhone(t, stand.Serve(nil, site), 1)
	p.exchange()
	form := map[string]any{"path": isolatePath, "form": isolated("unplugged"), "now": now}
	assert.Contains(t, p.call("submit", form).Problems, "form", "nobody said who holds the phone")
	a := p.call("submit", map[string]any{"path": "/you", "form": map[string]any{"who": []string{" "}}, "now": now})
	assert.Contains(t, a.Problems, "who")
	assert.Contains(t, a.Problems, "role")
	p.be("Lead", checklist.Lead)
	a = p.call("submit", map[string]any{"path": surveyPath, "form": map[string]any{"act": []string{"record"}, "width_um": []string{"wide"}}, "now": now})
	assert.Contains(t, a.Problems, "width_um")
	assert.Empty(t, a.Write)
	a = p.call("draft", map[string]any{"path": surveyPath, "form": map[string]any{"act": []string{"record"}, "width_um": []string{"wide"}}})
	assert.NotEmpty(t, a.Parts["p-width_um"])
	assert.Contains(t, p.raw("submit", map[string]any{"path": isolatePath, "form": isolated("unplugged"), "now": "noon"}).Fault, "now")
	assert.Contains(t, p.raw("dance", nil).Fault, "dance")
	assert.Contains(t, string(p.engine.Call("page", []byte("{"))), "fault")
}

func TestEngineLostAnswer(t *testing.T) {
	site, p := atWork(t, 2, checklist.Installer)
	p.save(isolatePath, isolated("unplugged"))
	p.lose = func() string { return "answer" }
	a, ok := p.exchange()
	assert.False(t, ok)
	assert.Equal(t, "Saved on this phone. 1 not sent yet.", a.Say.HTML)
	assert.Equal(t, 1, p.stored("pending"))
	p.lose = func() string { return "" }
	_, ok = p.exchange()
	require.True(t, ok)
	assert.Equal(t, 3, len(site.Records), "the entry is in the log once")
	assert.Zero(t, p.stored("pending"))
}

func TestEngineRefusedEntry(t *testing.T) {
	_, p := atWork(t, 2, checklist.Viewer)
	kept := p.save(isolatePath, isolated("unplugged"))
	assert.Contains(t, kept.Say.HTML, "will be refused: Only an installer may do this")
	last, ok := p.exchange()
	require.True(t, ok, "a refused entry does not block the queue")
	assert.Contains(t, last.Say.HTML, "Refused: Only an installer may do this")
	assert.Zero(t, p.stored("pending"))
	assert.Contains(t, p.call("page", map[string]any{"path": "/jobs/" + jobID}).HTML, "refused")
}

// What came back refused is said until the page of the job was opened, whatever is
// exchanged meanwhile: the next news of a server come within a second.
func TestEngineSaysWhatWasRefused(t *testing.T) {
	const link = `<a href="/jobs/` + jobID + `">See what to do</a>`
	site, p := atWork(t, 2, checklist.Viewer)
	p.save(isolatePath, isolated("unplugged"))
	p.save(isolatePath, isolated("locked"))
	const reason = "Only an installer may do this; this device is held by a viewer."
	for range 3 {
		last, ok := p.exchange()
		require.True(t, ok)
		assert.Equal(t, engine.Say{HTML: "Everything is sent. 2 refused; the last: " + reason + " " + link, Tone: "refused", Stay: true}, *last.Say)
		assert.Contains(t, p.call("page", map[string]any{"path": isolatePath}).Say.HTML, link)
	}
	p.restart()
	p.load(jobID)
	assert.Equal(t, "2 entries refused. "+link, strings.TrimSpace(p.call("say", nil).Say.HTML), "a closed page does not forget it")
	job := p.call("page", map[string]any{"path": "/jobs/" + jobID})
	assert.Contains(t, job.Say.HTML, link, "the page itself may be what somebody has before them")
	assert.Equal(t, 2, strings.Count(job.HTML, "> refused<"))
	require.False(t, p.apply(job.Write))
	assert.Empty(t, p.call("page", map[string]any{"path": "/jobs/" + jobID}).Write, "once")
	assert.Equal(t, "", p.call("say", nil).Say.HTML)
	require.NoError(t, site.Do(checklist.RemarkWritten, checklist.Remark{Text: "from somebody else"}))
	last, ok := p.exchange()
	require.True(t, ok)
	assert.Equal(t, engine.Say{HTML: "Everything is sent.", Tone: "sent"}, *last.Say)
	p.restart()
	p.load(jobID)
	assert.Equal(t, "", p.call("say", nil).Say.HTML, "it was looked at")
}

// Over a line on which nothing of some size comes through, be it that it breaks or that a
// request may only take so long, everything gets there in small parts, and soon; when it
// is better again, in large ones.
func TestEngineThinLine(t *testing.T) {
	h := newHouse(t, 450)
	p := newPhone(t, h, 1)
	p.be("Installer one", checklist.Installer)
	p.line = 32 << 10 // the first record, which opens the job, and the plan have to fit
	through := func() {
		t.Helper()
		before := p.broken
		for try := 0; ; try++ {
			require.Less(t, try, 200)
			if _, ok := p.exchange(); ok {
				break
			}
		}
		assert.LessOrEqual(t, p.broken-before, 25)
	}
	through()
	assert.Equal(t, 450, p.stored("records"))
	how := []string{"unplugged", "locked"}
	for i := range 60 {
		p.save(isolatePath, isolated(how[i%2]))
	}
	p.take(isolatePath, "record", shot(t, 1, 900))
	p.saveAt(isolatePath, isolated("unplugged"))
	through()
	assert.Equal(t, []int{511, 0, 0}, []int{p.stored("records"), p.stored("pending"), p.stored("sending")})
	assert.Len(t, h.kept(), 1)

	p.line = 0
	for range 3 {
		for i := range 60 {
			p.save(isolatePath, isolated(how[i%2]))
		}
		through()
	}
	p.requests = 0
	for i := range 60 {
		p.save(isolatePath, isolated(how[i%2]))
	}
	through()
	assert.LessOrEqual(t, p.requests, 4, "asked, pushed at once")
}

func TestEngineStray(t *testing.T) {
	_, p := atWork(t, 2, checklist.Installer)
	p.save(isolatePath, isolated("unplugged"))
	p.server = stand.Serve(nil) // a server that knows no job
	last, ok := p.exchange()
	require.True(t, ok)
	assert.Contains(t, last.Say.HTML, "1 entry could not be delivered")
	assert.Zero(t, p.stored("pending"))
	assert.Equal(t, 1, p.stored("strays"))
	p.restart()
	assert.Contains(t, p.call("page", map[string]any{"path": "/you"}).HTML, "it belongs to no job here")
	assert.NotContains(t, p.call("page", map[string]any{"path": isolatePath}).HTML, "not sent yet")
}

// What was kept apart because the server had no such job is sent when it has it
// again: also by a tab that was open before, and whose storage another tab wrote to.
func TestEngineStrayOfAMissingJobComesBack(t *testing.T) {
	for _, way := range []string{"the same tab", "opened again", "another tab"} {
		t.Run(way, func(t *testing.T) {
			site, p := atWork(t, 2, checklist.Installer)
			other := newPhone(t, p.server, 2)
			other.rows = p.rows
			other.restart()
			p.save(isolatePath, isolated("unplugged"))
			p.save(isolatePath, isolated("locked"))
			there := p.server
			p.server = stand.Serve(nil)
			p.exchange()
			require.Equal(t, 2, p.stored("strays"))
			switch p.server = there; way {
			case "opened again":
				p.restart()
			case "another tab":
				p = other
			}
			last, ok := p.exchange()
			require.True(t, ok)
			assert.Contains(t, last.Say.HTML, "Everything is sent.")
			assert.NotContains(t, last.Say.HTML, "could not be delivered")
			assert.Zero(t, p.stored("strays"))
			assert.Zero(t, p.stored("pending"))
			require.Equal(t, 4, len(site.Records))
			assert.True(t, site.Records[2].Accepted && site.Records[3].Accepted)
			assert.Equal(t, dump(t, site.State), p.dump())
		})
	}
}

// The device that opened a job opens it again on a server that has lost it, whether
// anything waits or not; another device does not.
func TestEngineMissingJobIsOpenedAgain(t *testing.T) {
	for _, waits := range []int{0, 1} {
		site := newSite(t, 2)
		watcher := newPhone(t, stand.Serve(nil, site), 2)
		watcher.exchange()
		p := newPhone(t, watcher.server, 1)
		p.rows[`meta"device"`] = fmt.Sprintf(`{"id":%q,"who":"Lead one","role":"lead"}`, site.Device)
		p.restart()
		p.exchange()
		for range waits {
			p.save(isolatePath, isolated("unplugged"))
		}
		empty := rehearsal.NewSite(jobID, site.Device)
		p.server, watcher.server = stand.Serve(nil, empty), stand.Serve(nil, empty)
		_, ok := watcher.exchange()
		require.True(t, ok)
		require.Zero(t, len(empty.Records))
		_, ok = p.exchange()
		require.True(t, ok)
		require.Equal(t, 2+waits, len(empty.Records))
		for _, r := range empty.Records {
			assert.True(t, r.Accepted, r.Reason)
		}
		assert.Zero(t, p.stored("strays"))
		for _, each := range []*phone{p, watcher} {
			_, ok = each.exchange()
			require.True(t, ok)
			assert.Zero(t, each.stored("pending"))
			assert.Equal(t, dump(t, empty.State), each.dump())
		}
	}
}

// A server that comes back with an old copy of the job gets again what this phone
// had recorded, and what only that copy has is taken over: whether the old log is
// shorter than the phone's by now, as long, or longer.
func TestEngineServerLostWhatItHad(t *testing.T) {
	for others := range 6 { // entries that came from elsewhere since the copy came back
		t.Run(fmt.Sprint(others), func(t *testing.T) {
			site, p := atWork(t, 2, checklist.Installer)
			for _, how := range []string{"absent", "locked", "unplugged"} {
				p.save(isolatePath, isolated(how))
				_, ok := p.exchange()
				require.True(t, ok)
			}
			require.Equal(t, 5, len(site.Records))
			old := newSite(t, 2)
			for range others {
				require.NoError(t, old.Do(checklist.RemarkWritten, checklist.Remark{Text: "after the loss"}))
			}
			p.server = stand.Serve(nil, old)
			p.save(isolatePath, isolated("live"))
			_, ok := p.exchange()
			require.True(t, ok)
			require.Equal(t, 2+others+4, len(old.Records))
			for _, r := range old.Records[2+others:] {
				assert.True(t, r.Accepted, r.Reason)
			}
			assert.Zero(t, p.stored("pending"))
			assert.Equal(t, len(old.Records), p.stored("records"))
			p.restart()
			assert.Equal(t, dump(t, old.State), p.dump())
		})
	}
}

func TestEngineDamagedStorage(t *testing.T) {
	site, p := atWork(t, 10, checklist.Installer)
	p.save(isolatePath, isolated("unplugged"))
	p.save(isolatePath, isolated("locked"))
	p.rows[fmt.Sprintf(`records[%q,5]`, jobID)] = "{"
	p.rows[fmt.Sprintf(`pending[%q,2]`, jobID)] = "{"
	p.rows[fmt.Sprintf(`jobs%q`, jobID)] = "{"
	p.restart()
	assert.Equal(t, 200, p.call("page", map[string]any{"path": "/jobs/" + jobID}).Status)
	_, ok := p.exchange()
	require.True(t, ok)
	assert.Equal(t, 1, p.stored("strays"), "the entry that cannot be read is kept apart")
	assert.Zero(t, p.stored("pending"))
	require.Equal(t, 11, len(site.Records))
	assert.Equal(t, 11, p.stored("records"))
	assert.NotEqual(t, "{", p.rows[fmt.Sprintf(`records[%q,5]`, jobID)], "the record was fetched again")
}

// An entry that can no longer be read keeps its number, and something stands in its
// place, or the server would wait for it and take nothing else.
func TestEngineUnreadableEntryBlocksNothing(t *testing.T) {
	for _, row := range []struct {
		name   string
		number int // of the entry that becomes unreadable
		text   string
	}{
		{"damaged, with others behind it", 1, "{"},
		{"of a later edition, with others behind it", 2, `{"v":2}`},
		{"damaged, the last", 3, "{"},
	} {
		t.Run(row.name, func(t *testing.T) {
			site, p := atWork(t, 2, checklist.Installer)
			for range 3 {
				p.save(isolatePath, isolated("locked"))
			}
			p.rows[fmt.Sprintf(`pending[%q,%d]`, jobID, row.number)] = row.text
			p.restart()
			p.save(isolatePath, isolated("unplugged")) // apply holds that no number is used twice
			_, ok := p.exchange()
			require.True(t, ok)
			assert.Zero(t, p.stored("pending"))
			assert.Equal(t, 1, p.stored("strays"), "it is kept apart")
			require.Equal(t, 2+4, len(site.Records))
			for i, r := range site.Records[2:] {
				assert.Equal(t, int64(i+1), r.Entry.Number)
				assert.Equal(t, i+1 == row.number, r.Entry.Kind == checklist.RemarkWritten)
				assert.True(t, r.Accepted, r.Reason)
			}
			assert.Equal(t, dump(t, site.State), p.dump())
		})
	}
}

// A server that has lost the whole job wants everything from the first entry on. A
// phone that does not have that one makes nothing up for it: the job may come back.
func TestEngineServerLostTheJob(t *testing.T) {
	site, p := atWork(t, 2, checklist.Installer)
	p.save(isolatePath, isolated("locked"))
	p.save(isolatePath, isolated("unplugged"))
	p.rows[fmt.Sprintf(`pending[%q,1]`, jobID)] = "{"
	p.restart()
	whole := p.server
	p.server = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method != http.MethodPost {
			_, _ = w.Write([]byte(`{"jobs":[]}`))
			return
		}
		var push struct{ Entries []string }
		require.NoError(t, json.NewDecoder(r.Body).Decode(&push))
		require.Len(t, push.Entries, 1)
		e, err := checklist.ParseEntry([]byte(push.Entries[0]))
		require.NoError(t, err)
		_, _ = fmt.Fprintf(w, `{"head":0,"answers":[{"id":%q,"expected":1}]}`, e.ID)
	})
	for range 3 {
		_, ok := p.exchange()
		require.False(t, ok)
	}
	assert.Equal(t, 1, p.stored("pending"))
	p.server = whole
	_, ok := p.exchange()
	require.True(t, ok)
	require.Equal(t, 4, len(site.Records))
	assert.Equal(t, checklist.StepRecorded, site.Records[3].Entry.Kind)
}

// A tab that fetches a record without knowing of the pending entry it decides
// leaves that entry behind; it goes when the job is read again.
func TestEnginePendingRowLeftBehind(t *testing.T) {
	site, p := atWork(t, 2, checklist.Installer)
	made := p.submit(isolatePath, isolated("locked"))
	left := fmt.Sprintf(`pending[%q,1]`, jobID)
	text := p.rows[left]
	p.call("kept", map[string]any{"id": made.ID, "job": made.Job})
	p.exchange()
	p.rows[left] = text
	p.restart()
	assert.Contains(t, p.call("page", map[string]any{"path": "/"}).Say.HTML, "1 not sent yet")
	last, ok := p.exchange()
	require.True(t, ok)
	assert.Equal(t, "Everything is sent.", last.Say.HTML)
	assert.Zero(t, p.stored("pending"))
	assert.Equal(t, 3, len(site.Records))
}

// News of another tab that come while a request is on its way do no harm.
func TestEngineForgetsWhileItWaits(t *testing.T) {
	_, p := atWork(t, 2, checklist.Installer)
	p.save(isolatePath, isolated("locked"))
	p.call("begin", nil)
	for {
		next := p.call("next", nil)
		if next.Request == nil {
			break
		}
		in := p.ask(next.Request)
		p.call("forget", map[string]any{"job": jobID})
		a := p.call("answer", in)
		require.False(t, a.Failed)
		p.apply(a.Write)
	}
	assert.Zero(t, p.stored("pending"))
	assert.Equal(t, 3, p.stored("records"))
}

// Whatever is lost on the way and however often pages are closed: every entry that
// a phone called saved is in the log once, in the order it was made, and in the
// end all phones and the server show the same.
func TestEngineNothingIsLost(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		site := newSite(t, 2)
		server := stand.Serve(nil, site)
		phones := []*phone{newPhone(t, server, 1), newPhone(t, server, 2), newPhone(t, server, 3)}
		saved := map[string][]string{}
		for i, p := range phones {
			_, ok := p.exchange()
			require.True(t, ok)
			p.be(fmt.Sprint("Phone ", i), []checklist.Role{checklist.Lead, checklist.Installer, checklist.Installer}[i])
			p.lose = func() string { return rapid.SampledFrom([]string{"", "", "request", "answer"}).Draw(t, "lost") }
		}
		for range rapid.IntRange(1, 25).Draw(t, "acts") {
			i := rapid.IntRange(0, len(phones)-1).Draw(t, "phone")
			p := phones[i]
			switch rapid.SampledFrom([]string{"save", "save", "save without a word", "exchange", "exchange", "restart", "forget"}).Draw(t, "act") {
			case "save":
				form := isolated(rapid.SampledFrom([]string{"unplugged", "locked", "live"}).Draw(t, "how"))
				a := p.submit(isolatePath, form)
				p.call("kept", map[string]any{"id": a.ID, "job": a.Job})
				saved[fmt.Sprint(i)] = append(saved[fmt.Sprint(i)], a.ID)
			case "save without a word": // the page is closed right after the storage has it
				a := p.submit(isolatePath, isolated("absent"))
				saved[fmt.Sprint(i)] = append(saved[fmt.Sprint(i)], a.ID)
				p.restart()
			case "exchange":
				p.exchange()
			case "restart":
				p.restart()
			case "forget":
				p.call("forget", map[string]any{"job": jobID})
			}
		}
		for range 2 { // the second time brings what the later phones sent in the first
			for _, p := range phones {
				p.lose = func() string { return "" }
				_, ok := p.exchange()
				require.True(t, ok)
			}
		}
		want := dump(t, site.State)
		for i, p := range phones {
			require.Zero(t, p.stored("pending"))
			var got []string
			device := p.engine.Device().ID
			for _, r := range site.Records {
				if r.Entry.Device == device {
					got = append(got, r.Entry.ID)
				}
			}
			require.Equal(t, saved[fmt.Sprint(i)], got)
			require.Equal(t, want, p.dump())
		}
	})
}

// A server whose answers make no sense stops the exchange and breaks nothing.
func TestEngineForeignAnswers(t *testing.T) {
	for name, body := range map[string]string{
		"no JSON":         "<html>",
		"a path as an id": `{"jobs":[{"id":"../../elsewhere","head":1}]}`,
	} {
		p := newPhone(t, http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { fmt.Fprint(w, body) }), 1)
		a, ok := p.exchange()
		assert.False(t, ok, name)
		assert.Contains(t, a.Say.HTML, "The server", name)
	}
	p := newPhone(t, http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		w.WriteHeader(http.StatusUnauthorized)
		fmt.Fprint(w, `{"title":"Unauthorized","detail":"This phone is not paired."}`) // RFC 9457
	}), 1)
	a, ok := p.exchange()
	assert.False(t, ok)
	assert.Contains(t, a.Say.HTML, "This phone is not paired.")
}

// A server of a later program, whose records have something that this one does not know,
// stops the exchange: the phone says so, asks for the new version, and loses nothing.
// The program that knows it goes on from what is stored.
func TestEngineServerOfALaterProgram(t *testing.T) {
	site, p := atWork(t, 2, checklist.Installer)
	p.save(isolatePath, isolated("unplugged"))
	rows := func() string { return fmt.Sprint(p.stored("records"), p.stored("pending"), p.stored("strays")) }
	was, server := rows(), p.server
	p.server = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		said := httptest.NewRecorder()
		server.ServeHTTP(said, r)
		fmt.Fprint(w, strings.ReplaceAll(said.Body.String(), `"accepted":`, `"weather":"fine","accepted":`))
	})
	for range 3 { // the first push is decided and its answer cannot be read; then the log is ahead
		a, ok := p.exchange()
		assert.False(t, ok)
		assert.True(t, a.Update)
		assert.Regexp(t, `^Saved on this phone\. 1 not sent yet\. The server may have a later program than this phone, which cannot read the server's (answer|records) \(checklist: record: json: unknown field "weather"\)\.$`, a.Say.HTML)
		assert.Equal(t, was, rows())
		assert.Equal(t, 200, p.call("page", map[string]any{"path": isolatePath}).Status)
	}
	p.server = server
	p.restart()
	a, ok := p.exchange()
	require.True(t, ok)
	assert.False(t, a.Update)
	assert.Equal(t, "Everything is sent.", a.Say.HTML)
	assert.Equal(t, 3, len(site.Records), "the entry is in the log once")
	assert.Equal(t, "3 0 0", rows())
}

// Where the server decides by later steps than this program has, the phone says so and
// asks for the new version; a log of before editions were written goes on under it.
func TestEngineServerOfLaterSteps(t *testing.T) {
	site := newSite(t, 2)
	for i := range site.Records {
		site.Records[i].Edition = 0
	}
	p := newPhone(t, stand.Serve(nil, site), 1)
	p.be("Installer one", checklist.Installer)
	a, ok := p.exchange()
	require.True(t, ok)
	assert.Equal(t, "Everything is sent.", a.Say.HTML)
	p.save(isolatePath, isolated("unplugged"))
	_, ok = p.exchange()
	require.True(t, ok)
	assert.Equal(t, checklist.Loudspeakers.Version, site.Records[2].Edition)

	p.save(isolatePath, isolated("locked"))
	later := *checklist.Loudspeakers
	later.Version++
	site.State.Template = &later
	var updates int
	p.updated = func() { updates++ }
	a, ok = p.exchange()
	require.True(t, ok)
	assert.Equal(t, later.Version, site.Records[3].Edition)
	assert.Equal(t, "Everything is sent. The server goes by later steps than this phone; use the new version when it is ready.", a.Say.HTML)
	assert.Positive(t, updates)
	p.restart()
	assert.Equal(t, 4, p.stored("records"))
	assert.Equal(t, 200, p.call("page", map[string]any{"path": isolatePath}).Status)
}

func TestEngineFaultIsAnAnswer(t *testing.T) {
	e := engine.New(nil, nil) // no source of ids: the first start cannot work
	assert.Contains(t, string(e.Call("start", nil)), `"fault":"start: `)
	assert.Contains(t, string(e.Call("version", nil)), `"edition":4`, "it still answers")
}

func TestEngineVersion(t *testing.T) {
	p := newPhone(t, stand.Serve(nil), 1)
	assert.Equal(t, engine.Edition, p.call("version", nil).Edition)
}

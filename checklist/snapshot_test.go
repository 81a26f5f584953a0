package checklist_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist"
)

// logPast is the past of a log in memory.
type logPast struct {
	records []checklist.Record
	broken  error
}

func (p *logPast) At(positions []int64) (records []checklist.Record, err error) {
	for _, at := range positions {
		if at <= int64(len(p.records)) {
			records = append(records, p.records[at-1])
		}
	}
	return records, p.broken
}

func (p *logPast) Find(id string) (checklist.Record, bool, error) {
	i := slices.IndexFunc(p.records, func(r checklist.Record) bool { return r.Entry.ID == id })
	if i < 0 || p.broken != nil {
		return checklist.Record{}, false, p.broken
	}
	return p.records[i], true, nil
}

func folded(records []checklist.Record) *checklist.State {
	s := checklist.NewState(checklist.Loudspeakers, jobID)
	for _, r := range records {
		s.Fold(r)
	}
	return s
}

// anyLog is what people may do to a job, drafts, refusals and sign-offs with it.
func anyLog(t *rapid.T, acts int) *site {
	s := newSite(t)
	s.open(examplePlan(t))
	if rapid.IntRange(0, 3).Draw(t, "nearly done") == 0 {
		s.finish()
	}
	mount := s.state.Part("mount/M-030")
	for range rapid.IntRange(1, acts).Draw(t, "acts") {
		switch rapid.IntRange(0, 8).Draw(t, "more") {
		case 8:
			photo := func(of string) checklist.Photo {
				return checklist.Photo{SHA256: strings.Repeat(of, 64), Bytes: 1000, Type: checklist.PhotoType, Width: 8, Height: 6}
			}
			role := rapid.SampledFrom([]checklist.Role{checklist.Lead, checklist.Viewer}).Draw(t, "photographer")
			s.do(role, checklist.RemarkWritten, checklist.Remark{Text: "look", Photos: []checklist.Photo{photo("a"), photo("b")}})
			continue
		case 0:
			s.do(checklist.Lead, checklist.PartStowed, checklist.Stow{What: "some cable", Count: 3, Where: "the cupboard"})
			continue
		case 1:
			if n := len(s.state.Shelf); n > 0 {
				s.do(checklist.Lead, checklist.PartTaken, checklist.Taking{Stow: s.state.Shelf[n-1].Record.Entry.ID, Count: 1, Reason: "used"})
			}
			continue
		case 2:
		default:
			act(t, s)
			continue
		}
		now := ""
		if s.state.Part("mount/M-030") == "" {
			now = mount
		}
		role := rapid.SampledFrom([]checklist.Role{checklist.Lead, checklist.Installer}).Draw(t, "drafter")
		s.do(role, checklist.DraftEdited, edit(s.state.Change("mount/M-030", now)))
	}
	return s
}

// A snapshot and the rest of the log come to what the whole log comes to, wherever it
// is cut and however often: the same shown, decided, known, and written down again.
func TestSnapshotAndTheRest(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyLog(t, 30)
		past := &logPast{records: s.records}
		whole := folded(s.records)
		want, shot := dump(t, whole), string(whole.Snapshot())
		require.NotEmpty(t, shot)
		next := s.entry(deviceB, checklist.Lead, checklist.StepRecorded, spoiled(t, s.state.Plan(), rapid.SampledFrom(s.state.Keys()).Draw(t, "next")))
		for cut := 1; cut <= len(s.records); cut++ {
			resumed, err := checklist.Resume(checklist.Loudspeakers, jobID, folded(s.records[:cut]).Snapshot(), past)
			require.NoError(t, err)
			require.Equal(t, dump(t, folded(s.records[:cut])), dump(t, resumed), "at %d", cut)
			require.Equal(t, checklist.Loudspeakers.Version, resumed.Edition())
			again := rapid.IntRange(cut, len(s.records)).Draw(t, "again")
			for _, r := range s.records[cut:again] {
				resumed.Fold(r)
			}
			resumed, err = checklist.Resume(checklist.Loudspeakers, jobID, resumed.Snapshot(), past)
			require.NoError(t, err)
			for _, r := range s.records[cut-1:] { // those before its head once more
				resumed.Fold(r)
			}
			require.Equal(t, want, dump(t, resumed), "at %d and %d", cut, again)
			require.Equal(t, shot, string(resumed.Snapshot()), "at %d and %d", cut, again)
			for _, most := range []int{0, 1, 3, 99} {
				want, before := whole.LastRefused(most)
				got, same := resumed.LastRefused(most)
				require.Equal(t, whole.Refused()[before:], want)
				require.LessOrEqual(t, len(want), most)
				require.Equal(t, before, same)
				require.Equal(t, len(want), len(got))
				for i, r := range want {
					require.Equal(t, r.Leaf(), got[i].Leaf())
				}
			}
			require.Equal(t, whole.Decide(next), resumed.Decide(next))
			clone := resumed.Clone()
			clone.Fold(checklist.Record{Decision: clone.Decide(next), Entry: next})
			require.Nil(t, clone.Snapshot(), "an entry that the server has not decided has no place in it")
			require.Equal(t, want, dump(t, resumed), "a clone goes its own way")
			for _, r := range s.records {
				d, known := resumed.Decided(r.Entry.ID)
				require.True(t, known)
				require.Equal(t, r.Decision, d)
			}
			_, known := resumed.Decided(next.ID)
			require.False(t, known)
			require.NoError(t, resumed.Fault())
		}
	})
}

// A snapshot of another log, job, template or edition is refused, and so is one that
// anything was changed in; nothing panics.
func TestSnapshotIsNotTrusted(t *testing.T) {
	s := newSite(t)
	s.open(examplePlan(t))
	s.finish()
	shot := folded(s.records).Snapshot()
	past := &logPast{records: s.records}
	_, err := checklist.Resume(checklist.Loudspeakers, jobID, shot, past)
	require.NoError(t, err)

	refused := func(name string, job string, data []byte, past checklist.Past) {
		_, err := checklist.Resume(checklist.Loudspeakers, job, data, past)
		assert.ErrorIs(t, err, checklist.ErrSnapshot, name)
	}
	last := len(s.records) - 1
	replaced := slices.Clone(s.records)
	replaced[last].Received = "2030-02-02T10:00:00.000Z"
	refused("another log", jobID, shot, &logPast{records: replaced})
	refused("a shorter log", jobID, shot, &logPast{records: s.records[:last]})
	refused("another job", deviceA, shot, past)
	refused("nothing", jobID, nil, past)
	for name, change := range map[string]func(map[string]any){
		"another edition":        func(m map[string]any) { m["edition"] = 99 },
		"another template":       func(m map[string]any) { m["template"] = "" },
		"a position of its own":  func(m map[string]any) { m["signatures"] = []any{map[string]int{"record": 99999}} },
		"positions out of order": func(m map[string]any) { m["refused"] = "AQA=" },
		"positions beyond":       func(m map[string]any) { m["folded"] = "//8D" },
		"another record":         func(m map[string]any) { m["evidence"] = []any{map[string]any{"Step": "survey", "record": 1}} },
		"a member more":          func(m map[string]any) { m["more"] = true },
	} {
		var m map[string]any
		require.NoError(t, json.Unmarshal(shot, &m))
		change(m)
		data, err := json.Marshal(m)
		require.NoError(t, err)
		refused(name, jobID, data, past)
	}
	broken := errors.New("the disk does not answer")
	_, err = checklist.Resume(checklist.Loudspeakers, jobID, shot, &logPast{records: s.records, broken: broken})
	assert.ErrorIs(t, err, broken)
}

// A past that cannot be read is told.
func TestSnapshotPastIsBroken(t *testing.T) {
	s := newSite(t)
	s.open(examplePlan(t))
	s.finish()
	past := &logPast{records: s.records}
	resume := func() *checklist.State {
		past.broken = nil
		resumed, err := checklist.Resume(checklist.Loudspeakers, jobID, folded(s.records).Snapshot(), past)
		require.NoError(t, err)
		past.broken = fmt.Errorf("the disk does not answer")
		return resumed
	}
	for name, ask := range map[string]func(*checklist.State){
		"history": func(s *checklist.State) { s.History(checklist.Key{Step: "survey"}) },
		"decided": func(s *checklist.State) { s.Decided(deviceA) },
	} {
		resumed := resume()
		ask(resumed)
		assert.ErrorIs(t, resumed.Fault(), past.broken, name)
		assert.Nil(t, resumed.Snapshot(), name)
	}
}

func FuzzResume(f *testing.F) {
	s := newSite(f)
	s.open(examplePlan(f))
	past := &logPast{records: s.records}
	f.Add(folded(s.records).Snapshot())
	f.Fuzz(func(t *testing.T, data []byte) {
		if resumed, err := checklist.Resume(checklist.Loudspeakers, jobID, data, past); err == nil {
			dump(t, resumed)
		}
	})
}

// A log that was resumed from the texts of its records is the log that reads them all:
// it shows, knows and refuses the same, and gives every record when it is asked.
func TestLogResumed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := anyLog(t, 20)
		var texts []string
		for _, r := range s.records {
			data, err := json.Marshal(r)
			require.NoError(t, err)
			texts = append(texts, string(data))
		}
		cut := rapid.IntRange(1, len(texts)).Draw(t, "cut")
		first := checklist.NewLog(checklist.Loudspeakers, jobID)
		require.NoError(t, first.Receive(s.records[:cut]...))
		shot := first.Snapshot(texts[:cut])
		require.NotEmpty(t, shot)
		require.Empty(t, first.Snapshot(texts[:cut-1]), "taken with other texts")

		whole := checklist.NewLog(checklist.Loudspeakers, jobID)
		require.NoError(t, whole.Receive(s.records...))
		l, err := checklist.ResumeLog(checklist.Loudspeakers, jobID, shot, texts)
		require.NoError(t, err)
		require.EqualValues(t, cut, l.Head())
		require.NoError(t, l.Receive(s.records[rapid.IntRange(0, cut).Draw(t, "from"):]...))
		require.Equal(t, whole.Head(), l.Head())
		require.Equal(t, dump(t, whole.State()), dump(t, l.State()))
		last, ok := l.Last()
		require.True(t, ok)
		require.Equal(t, s.records[len(s.records)-1].Leaf(), last.Leaf())
		for after := range int64(len(texts) + 1) {
			got := l.After(after)
			require.Len(t, got, len(texts)-int(after))
			for i, r := range got {
				require.Equal(t, s.records[int(after)+i].Leaf(), r.Leaf())
			}
		}
		require.Equal(t, whole.NextNumber(deviceA), l.NextNumber(deviceA))

		known := s.records[rapid.IntRange(0, len(texts)-1).Draw(t, "known")]
		require.NoError(t, l.Keep(known.Entry))
		require.Empty(t, l.Pending(), "what the log has is not kept again")
		other := known
		other.Received = "2030-02-02T10:00:00.000Z"
		require.Error(t, l.Receive(other), "a record that contradicts the one before the snapshot")
		next := s.entry(deviceB, checklist.Lead, checklist.RemarkWritten, checklist.Remark{Text: "and this"})
		require.NoError(t, whole.Keep(next))
		require.NoError(t, l.Keep(next))
		require.Equal(t, dump(t, whole.State()), dump(t, l.State()))

		spoilt := slices.Clone(texts)
		at := rapid.IntRange(0, cut-1).Draw(t, "spoilt")
		place := rapid.IntRange(0, len(spoilt[at])-1).Draw(t, "place")
		spoilt[at] = spoilt[at][:place] + "~" + spoilt[at][place+1:]
		_, err = checklist.ResumeLog(checklist.Loudspeakers, jobID, shot, spoilt)
		require.ErrorIs(t, err, checklist.ErrSnapshot)
		_, err = checklist.ResumeLog(checklist.Loudspeakers, jobID, shot, texts[:cut-1])
		require.ErrorIs(t, err, checklist.ErrSnapshot)
	})
}

// What a state holds comes back from a snapshot, each member in a way that
// snapshot.go has for it: a new one needs a way of its own, and a new edition.
func TestSnapshotHasEveryMember(t *testing.T) {
	members := func(of any) (names []string) {
		for i := range reflect.TypeOf(of).NumField() {
			names = append(names, reflect.TypeOf(of).Field(i).Name)
		}
		return names
	}
	assert.Equal(t, []string{
		"Template", "Job", "Title", "Head", "Entries", "Revisions", "Photos", "Edits", "Shelf", "Signatures", "locked", "stock", "draft",
		"refused", "remarks", "steps", "history", "seen", "numbers", "statuses", "progress", "prints", "others", "last", "past", "resumed", "fault",
	}, members(checklist.State{}))
	assert.Equal(t, []string{"Record", "Recording", "Concession", "Reason", "revision", "rested"}, members(checklist.Evidence{}))
}

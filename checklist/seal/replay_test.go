package seal_test

import (
	"encoding/json"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist"
	"hangtrue/checklist/editions"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/rehearsal"
	"hangtrue/checklist/reread"
	"hangtrue/checklist/seal"
)

// edition makes an edition up: the first one's steps under another number, with further
// hold points (step → the step that it also waits for).
func edition(t require.TestingT, version int, holds map[string]string) *checklist.Template {
	return editionOf(t, "../editions/1.json", version, holds)
}

func editionOf(t require.TestingT, path string, version int, holds map[string]string) *checklist.Template {
	document, err := os.ReadFile(path)
	require.NoError(t, err)
	var d map[string]any
	require.NoError(t, json.Unmarshal(document, &d))
	d["version"] = version
	for _, s := range d["steps"].([]any) {
		step := s.(map[string]any)
		if id, ok := holds[step["id"].(string)]; ok {
			step["after"] = append(step["after"].([]any), id)
		}
	}
	document, err = json.Marshal(d)
	require.NoError(t, err)
	template, err := checklist.ParseTemplate(document)
	require.NoError(t, err)
	return template
}

// three are the editions of a program to come: in its third, nothing is marked before
// the rack was checked.
func three(t require.TestingT) editions.List {
	return editions.List{edition(t, 1, nil), edition(t, 2, nil), edition(t, 3, map[string]string{"mark": "rack"})}
}

// server decides entries by one edition of the steps after another.
type server struct {
	*rehearsal.Site
	t require.TestingT
}

// serve begins a job with the two-loudspeaker example's plan.
func serve(t require.TestingT, steps *checklist.Template) *server {
	document, err := os.ReadFile("../../testdata/plans/example.json")
	require.NoError(t, err)
	p, err := plan.Decode(document)
	require.NoError(t, err)
	s := &server{rehearsal.NewSite(jobA, deviceID), t}
	s.upgrade(steps)
	require.NoError(t, s.Open(p))
	return s
}

// upgrade is a start of another program over the same log.
func (s *server) upgrade(steps *checklist.Template) {
	s.State = checklist.NewState(steps, s.Job)
	for _, r := range s.Records {
		s.State.Fold(r)
	}
}

func (s *server) record(step, mount string) error {
	b, err := rehearsal.Recording(s.State.Plan(), step, mount)
	require.NoError(s.t, err)
	return s.Do(checklist.StepRecorded, b)
}

// force has the last entry, which was refused, accepted all the same.
func (s *server) force() {
	last := &s.Records[len(s.Records)-1]
	require.False(s.t, last.Accepted)
	last.Decision = checklist.Decision{Accepted: true, Outcome: "within", Edition: last.Edition}
	s.upgrade(s.State.Template)
}

// unwritten makes records from an index on those of a program that wrote no edition.
func (s *server) unwritten(from int) {
	for i := range s.Records[from:] {
		s.Records[from+i].Edition = 0
	}
	s.upgrade(s.State.Template)
}

// verify checks the record file of the log as it stands, as it is read.
func (s *server) verify(steps editions.List) seal.Report {
	f, err := seal.Read(s.file())
	require.NoError(s.t, err)
	return f.VerifyBy(steps, keyOf(s.t, 1).Public())
}

// file seals the log as it stands and writes it as a file.
func (s *server) file() []byte {
	k := keyOf(s.t, 1)
	note := func(size int, purpose seal.Purpose) string {
		text, err := k.Sign(seal.Checkpoint{Job: s.Job, Size: int64(size), Root: seal.Root(s.Records[:size]), Purpose: purpose})
		require.NoError(s.t, err)
		return text
	}
	var notes []string
	for i, r := range s.Records {
		if r.Accepted && r.Entry.Kind == checklist.JobSigned {
			notes = append(notes, note(i+1, seal.SignOff))
		}
	}
	notes = append(notes, note(len(s.Records), seal.Extract))
	data, err := seal.NewFile(s.Job, s.State.Title, k.Public(), s.Records, notes).Encode()
	require.NoError(s.t, err)
	return data
}

// signed is a whole job, marked before the rack was checked as editions 1 and 2 let it.
func signed(t require.TestingT, steps *checklist.Template) *server {
	s := serve(t, steps)
	require.NoError(t, s.record("survey", ""))
	require.NoError(t, s.record("mark", "M+030"))
	require.NoError(t, s.Finish())
	require.NoError(t, s.Do(checklist.JobSigned, checklist.Signing{Revision: 1, Head: s.State.Head}))
	return s
}

// A record is held to the edition of its day: what a later one would not have let pass
// stays in order, whether its edition was written down or not.
func TestFile_Verify_EditionOfItsDay(t *testing.T) {
	steps := three(t)
	s := signed(t, steps.Edition(2))
	sign := []int64{s.State.Head}
	report := s.verify(steps)
	assert.Empty(t, report.Findings)
	assert.Empty(t, report.Unchecked)
	assert.Equal(t, sign, report.SignOffs)

	later := slices.Clone(s.Records) // the same, said to be of the third edition
	for i := range later {
		later[i].Edition = 3
	}
	written := s.Records
	s.Records = later
	report = s.verify(steps)
	require.Len(t, report.Findings, 1)
	assert.Contains(t, texts(report), "4: Entry 4 (M+030 Mark, recorded 2030-01-31 by lead) was accepted although a hold point of edition 3 of the steps was not met: Check the rack is not done.")
	assert.Equal(t, 3, report.Findings[0].Steps)

	s.Records = written
	s.unwritten(0)
	report = s.verify(steps)
	assert.Empty(t, report.Findings)
	assert.Equal(t, sign, report.SignOffs)
}

// A log goes on under a later edition: each entry is held to its own.
func TestFile_Verify_Upgrade(t *testing.T) {
	steps := three(t)
	for _, unwritten := range []bool{false, true} {
		s := serve(t, steps.Edition(2))
		require.NoError(t, s.record("survey", ""))
		require.NoError(t, s.record("mark", "M+030"))
		if unwritten {
			s.unwritten(0)
		}
		s.upgrade(steps.Edition(3))
		require.ErrorContains(t, s.record("mark", "M-030"), "Check the rack is not done")
		assert.Equal(t, 3, s.Records[4].Edition, "a refusal says by which edition it is one, too")
		assert.Empty(t, s.verify(steps).Findings)

		s.force()
		assert.Contains(t, texts(s.verify(steps)), "5: Entry 5 (M-030 Mark, recorded 2030-01-31 by lead) was accepted although a hold point of edition 3 of the steps was not met: Check the rack is not done.")
		require.NoError(t, s.Finish())
		require.NoError(t, s.Do(checklist.JobSigned, checklist.Signing{Revision: 1, Head: s.State.Head}))
		assert.Len(t, s.verify(steps).Findings, 1)
	}
}

// An edition never goes back along a log.
func TestFile_Verify_EditionGoesBack(t *testing.T) {
	steps := three(t)
	s := serve(t, steps.Edition(3))
	require.NoError(t, s.Do(checklist.RemarkWritten, checklist.Remark{Text: "seen"}))
	s.upgrade(steps.Edition(2))
	require.NoError(t, s.Do(checklist.RemarkWritten, checklist.Remark{Text: "seen again"}))
	assert.Equal(t, "4: Entry 4 (Remark, written 2030-01-31 by lead) was decided by edition 2 of the steps, and edition 3 had decided before it: an edition never goes back.", strings.TrimSpace(texts(s.verify(steps))))
	s.unwritten(3)
	assert.Equal(t, "4: Entry 4 (Remark, written 2030-01-31 by lead) does not say by which edition of the steps it was decided, and edition 3 had decided before it.", strings.TrimSpace(texts(s.verify(steps))))
}

// What a later edition decided is no failure: the seals hold, and what could not be
// followed is told. What this program knows is followed all the same.
func TestFile_Verify_UnknownEdition(t *testing.T) {
	steps := three(t)
	known := steps[:2]
	s := serve(t, steps.Edition(2))
	require.NoError(t, s.record("survey", ""))
	s.upgrade(steps.Edition(3))
	require.Error(t, s.record("drill", "M+030"))
	s.force()
	require.NoError(t, s.Do(checklist.RemarkWritten, checklist.Remark{Text: "seen"}))
	report := s.verify(known)
	assert.True(t, report.Intact(), texts(report))
	assert.Equal(t, int64(5), report.Sealed)
	require.Equal(t, []seal.Unchecked{{Edition: 3, First: 4, Last: 5}}, report.Unchecked)
	assert.Equal(t, "Entries 4 to 5 were decided by edition 3 of the steps, which this program does not know, so that no hold point could be followed there. Verify with a newer hangtrue.", report.Unchecked[0].String())
	assert.Len(t, s.verify(steps).Findings, 1, "the newer program follows it")

	s.Records[4].Edition = 5
	report = s.verify(known)
	assert.True(t, report.Intact(), texts(report))
	assert.Equal(t, []seal.Unchecked{{3, 4, 4}, {5, 5, 5}}, report.Unchecked)
	assert.Contains(t, report.Unchecked[1].String(), "Entry 5 was decided by edition 5")

	s = serve(t, steps.Edition(2))
	require.Error(t, s.record("drill", "M+030"))
	s.force()
	s.upgrade(steps.Edition(3))
	require.NoError(t, s.Do(checklist.RemarkWritten, checklist.Remark{Text: "seen"}))
	report = s.verify(known)
	assert.Contains(t, texts(report), "a hold point of edition 2 of the steps was not met")
	assert.Len(t, report.Unchecked, 1)
}

// An entry that names no edition passed a hold point only if it did by each edition
// that it can have been, and what an edition brought says that it was no earlier one.
func TestFile_Verify_Unwritten(t *testing.T) {
	steps := editions.List{edition(t, 1, nil), edition(t, 2, map[string]string{"mark": "rack"})}
	s := serve(t, steps.Edition(1))
	require.NoError(t, s.record("survey", ""))
	require.NoError(t, s.record("mark", "M+030"))
	s.unwritten(0)
	assert.Empty(t, s.verify(steps).Findings, "the first edition let it pass")

	require.Error(t, s.record("drill", "M+030"))
	s.force()
	s.unwritten(0)
	report := s.verify(steps)
	assert.Contains(t, texts(report), "5: Entry 5 (M+030 Drill, recorded 2030-01-31 by lead) was accepted although a hold point of edition 1 or 2 of the steps was not met: ")
	assert.Equal(t, 2, report.Findings[0].Steps)

	s = serve(t, steps.Edition(1))
	require.NoError(t, s.record("survey", ""))
	require.NoError(t, s.Do(checklist.PartNoted, checklist.Stock{Part: "bracket/Wall bracket", OnHand: 2})) // which came with the second
	require.NoError(t, s.record("mark", "M+030"))
	s.unwritten(0)
	assert.Contains(t, texts(s.verify(steps)), "5: Entry 5 (M+030 Mark, recorded 2030-01-31 by lead) was accepted although a hold point of edition 2 of the steps was not met: ")
}

// What is missing is found where its absence was noted, also in a record of before
// editions were written.
func TestFile_Verify_UnwrittenNeeds(t *testing.T) {
	s := serve(t, editions.Loudspeakers().Edition(2))
	require.NoError(t, s.record("survey", ""))
	require.NoError(t, s.Do(checklist.PartNoted, checklist.Stock{Part: "bracket/Wall bracket", OnHand: 0}))
	require.ErrorContains(t, s.record("mark", "M+030"), "Wall bracket is not on hand")
	s.force()
	s.unwritten(0)
	assert.Contains(t, texts(s.verify(editions.Loudspeakers())), "a hold point of edition 2 of the steps was not met: Wall bracket is not on hand.")
}

// A step that the edition has not cannot have been accepted by it.
func TestFile_Verify_StepThatIsNone(t *testing.T) {
	s := serve(t, checklist.Loudspeakers)
	require.Error(t, s.Do(checklist.StepRecorded, checklist.Recording{Step: "paint", Mount: "M+030"}))
	s.force()
	assert.Contains(t, texts(s.verify(editions.Loudspeakers())), `of the steps was not met: There is no step "paint".`)
}

// Which edition a record names is covered by the seal, and the file's format by its
// entries.
func TestFile_Verify_EditionChanged(t *testing.T) {
	s := serve(t, checklist.Loudspeakers)
	k := keyOf(t, 1)
	note, err := k.Sign(seal.Checkpoint{Job: jobA, Size: 2, Root: seal.Root(s.Records), Purpose: seal.Extract})
	require.NoError(t, err)
	f := seal.NewFile(jobA, s.State.Title, k.Public(), s.Records, []string{note})
	good := string(encode(t, f))
	require.Contains(t, good, `"hangtrue-record/2"`)
	require.True(t, read(t, []byte(good)).Verify(k.Public()).Intact())
	names := fmt.Sprintf(`"edition": %d`, checklist.Loudspeakers.Version)
	last := strings.LastIndex(good, names)
	for name, row := range map[string]struct{ changed, want string }{
		"another edition": {good[:last] + `"edition": 99` + good[last+len(names):], "2: Entry 2 (Plan, settled 2030-01-31 by lead) is not what was sealed."},
		"none":            {good[:last] + strings.TrimLeft(good[last+len(names+","):], " \n"), "2: Entry 2 (Plan, settled 2030-01-31 by lead) is not what was sealed."},
		"nought":          {good[:last] + `"edition": 0` + good[last+len(names):], "2: Entry 2 (Plan, settled 2030-01-31 by lead) is not what was sealed: it cannot be read (it is not spelled as this program spells it)."},
		"the format":      {strings.Replace(good, "hangtrue-record/2", "hangtrue-record/1", 1), `The file's format is "hangtrue-record/1", but that of its entries is "hangtrue-record/2".`},
	} {
		t.Run(name, func(t *testing.T) {
			require.NotEqual(t, good, row.changed)
			assert.Contains(t, texts(read(t, []byte(row.changed)).Verify(k.Public())), row.want)
		})
	}

	s.unwritten(0)
	f.Records = s.Records
	assert.Contains(t, string(encode(t, f)), `"hangtrue-record/1"`, "a file whose records name none stays what it was")
}

// chance does something to a job, lawful or not.
func (s *server) chance(t *rapid.T, parts bool) {
	p := s.State.Plan()
	role := rapid.SampledFrom([]checklist.Role{checklist.Lead, checklist.Lead, checklist.Installer}).Draw(t, "role")
	k := rapid.SampledFrom(s.State.Keys()).Draw(t, "key")
	var kind checklist.Kind
	var body any
	switch rapid.SampledFrom([]string{"next", "next", "next", "next", "any", "any", "concede", "reopen", "settle", "sign", "part"}).Draw(t, "act") {
	case "next":
		role = checklist.Lead
		if next, ok := s.State.Next(""); ok {
			k = next
		}
		fallthrough
	case "any":
		if s.State.Template.Step(k.Step).Kind != checklist.StepRecorded {
			kind, body = checklist.JobSigned, checklist.Signing{Revision: s.State.Revision(), Head: s.State.Head}
			break
		}
		b, err := rehearsal.Recording(p, k.Step, k.Mount)
		require.NoError(t, err)
		if off := rapid.SampledFrom([]int64{0, 0, 0, 40000}).Draw(t, "off"); k.Step == "mark" || k.Step == "hang" {
			b.Measured["along_um"][0] += off
		}
		kind, body = checklist.StepRecorded, b
	case "concede":
		kind, body = checklist.StepConceded, checklist.Reasoned{Step: k.Step, Mount: k.Mount, Reason: "as it is"}
	case "reopen":
		kind, body = checklist.StepReopened, checklist.Reasoned{Step: k.Step, Mount: k.Mount, Reason: "look again"}
	case "settle":
		changed, err := reread.Change(p, rapid.SampledFrom(reread.Parts).Draw(t, "part"), rapid.IntRange(0, len(p.Mounts)-1).Draw(t, "mount"))
		require.NoError(t, err)
		document, err := changed.Encode()
		require.NoError(t, err)
		kind, body = checklist.PlanSettled, checklist.NewSettlement(s.State.Revision()+1, "a change", document)
	case "sign":
		kind, body = checklist.JobSigned, checklist.Signing{Revision: s.State.Revision(), Head: s.State.Head}
	case "part":
		if !parts {
			return
		}
		kind, body = checklist.PartNoted, checklist.Stock{Part: "bracket/" + p.Mounts[0].Bracket, OnHand: rapid.IntRange(0, 2).Draw(t, "on hand")}
	}
	e, err := s.Entry(s.Device, role, kind, body)
	require.NoError(t, err)
	s.Push(e)
}

// Whatever is pushed to a server, and whenever it is brought up to a later edition of
// the steps, its own record verifies; and where it had let one entry pass that its
// edition held, that one is found.
func TestFile_Verify_AnyLog(t *testing.T) {
	next := checklist.Loudspeakers.Version + 1
	steps := append(slices.Clip(editions.Loudspeakers()), editionOf(t, "../steps.json", next, map[string]string{"mark": "rack", "wire": "survey"}))
	forced := 0
	rapid.Check(t, func(t *rapid.T) {
		at := rapid.IntRange(1, next).Draw(t, "edition")
		written := at > editions.Unwritten || at == editions.Unwritten && rapid.Bool().Draw(t, "written")
		s := serve(t, steps.Edition(at))
		for range rapid.IntRange(1, 40).Draw(t, "acts") {
			if !written {
				s.unwritten(0)
			}
			if at < next && rapid.IntRange(0, 9).Draw(t, "upgrade") == 0 {
				at++
				written = at > editions.Unwritten || at == editions.Unwritten && rapid.Bool().Draw(t, "written")
				s.upgrade(steps.Edition(at))
			}
			s.chance(t, at > 1)
		}
		if !written {
			s.unwritten(0)
		}
		report := s.verify(steps)
		require.True(t, report.Intact(), texts(report))
		require.Empty(t, report.Unchecked)

		for i, r := range s.Records {
			if r.Edition == 0 || !strings.Contains(r.Reason, " is held: ") && !strings.HasPrefix(r.Reason, "Sign-off is held") {
				continue
			}
			forced++
			s.Records = s.Records[:i+1]
			s.force()
			want := fmt.Sprintf("was accepted although a hold point of edition %d of the steps was not met: ", r.Edition)
			report := s.verify(steps)
			require.Len(t, report.Findings, 1, texts(report))
			require.Contains(t, report.Findings[0].Text, want)
			require.Equal(t, r.Position, report.Findings[0].Position)
			break
		}
	})
	assert.Positive(t, forced, "no log had an entry that was held")
}

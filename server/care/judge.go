package care

import (
	"crypto/rand"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"hangtrue/checklist"
	"hangtrue/checklist/seal"
	"hangtrue/server/bolt"
	"hangtrue/server/store"
)

// A judge holds what a store has of each job to what it must add up to.
type judge struct {
	report *Report
	titles map[string]string
	sealed []sealed
}

// sealed is a seal and what it should say.
type sealed struct {
	job  string
	seal store.Seal
	root *seal.Checkpoint // nil when records that it covers cannot be read
	sign bool             // it stands at an accepted sign-off
}

func (j *judge) find(job string, position int64, damage bool, text string, args ...any) {
	j.report.Findings = append(j.report.Findings, Finding{Job: job, Title: j.titles[job], Position: position, Text: fmt.Sprintf(text, args...), Damage: damage})
}

// job takes one job as the store has it.
func (j *judge) job(b bolt.Job) error {
	title := b.Line.Title
	state := checklist.NewState(checklist.Loudspeakers, b.ID)
	var tree seal.Tree
	for _, r := range b.Records {
		if r.Position == tree.Size()+1 {
			tree.Add(seal.Leaf(r))
		}
		if r.Position == state.Head+1 { // after a gap nothing can be followed
			state.Fold(r)
		}
	}
	if title == store.DamagedTitle && state.Title != "" {
		title = state.Title
	}
	j.titles[b.ID] = title
	j.report.Jobs = append(j.report.Jobs, Job{b.ID, title, len(b.Records), len(b.Seals), b.Line.Signed})
	j.report.Records += len(b.Records)
	j.report.Seals += len(b.Seals)

	at := map[int64]bool{}
	for _, s := range b.Seals {
		at[s.Position] = true
		one := sealed{job: b.ID, seal: s}
		if s.Position <= tree.Size() {
			one.root = &seal.Checkpoint{Job: b.ID, Size: s.Position, Root: tree.Root(s.Position), Purpose: seal.SignOff}
			one.sign = signsOff(b.Records[s.Position-1])
		}
		j.sealed = append(j.sealed, one)
	}
	j.photos(b)
	for _, r := range b.Records {
		if signsOff(r) && !at[r.Position] {
			j.find(b.ID, r.Position, true, "This sign-off has lost its seal.")
		}
	}
	if !b.Whole {
		return nil // one damaged record must not drag a tail of other findings behind it
	}
	if line := b.Line; line.Head != state.Head || line.Title != state.Title || line.Signed != state.Locked() ||
		line.Received != b.Records[len(b.Records)-1].Received {
		j.find(b.ID, 0, false, "Its line in the list of jobs does not say what its records add up to.")
	}
	return j.replay(b, state)
}

func signsOff(r checklist.Record) bool { return r.Accepted && r.Entry.Kind == checklist.JobSigned }

// replay follows the log again: hold points, plan documents, numbers of devices.
// A key of the moment stands in for the real one, so that [seal.File.Verify] can be
// asked about all the rest, whether or not the job has a seal yet.
func (j *judge) replay(b bolt.Job, state *checklist.State) error {
	key, _, err := seal.GenerateKey(rand.Reader)
	if err != nil {
		return err
	}
	var tree seal.Tree
	var notes []string
	sign := func(purpose seal.Purpose) error {
		note, err := key.Sign(seal.Checkpoint{Job: b.ID, Size: tree.Size(), Root: tree.Root(tree.Size()), Purpose: purpose})
		notes = append(notes, note)
		return err
	}
	for _, r := range b.Records {
		tree.Add(seal.Leaf(r))
		if signsOff(r) {
			if err := sign(seal.SignOff); err != nil {
				return err
			}
		}
	}
	if err := sign(seal.Extract); err != nil {
		return err
	}
	report := seal.NewFile(b.ID, state.Title, key.Public(), b.Records, notes).Verify(key.Public())
	for _, u := range report.Unchecked {
		j.report.Unchecked = append(j.report.Unchecked, Unchecked{b.ID, state.Title, u})
	}
	for _, f := range report.Findings {
		j.find(b.ID, f.Position, false, "%s", f.Text)
		j.report.Findings[len(j.report.Findings)-1].Steps = f.Steps
	}
	return nil
}

// seals checks every seal with the report's key.
func (j *judge) seals() {
	if len(j.sealed) == 0 {
		return
	}
	if j.report.Key == "" {
		j.report.find("No key is known, so that no seal could be checked.")
		return
	}
	for _, s := range j.sealed {
		at := s.seal.Position
		c, err := seal.Open(s.seal.Note, j.report.Key)
		switch {
		case err != nil:
			j.find(s.job, at, true, "The seal made at this record is not valid: %s.", strings.TrimPrefix(err.Error(), seal.ErrSeal.Error()+": "))
		case c.Job != s.job:
			j.find(s.job, at, true, "The seal kept at this record is that of another job (%s).", c.Job)
		case c.Size != at:
			j.find(s.job, at, true, "The seal kept at this record covers %d records.", c.Size)
		case s.root == nil:
			j.find(s.job, at, true, "The seal made at this record cannot be checked, because not every record that it covers can be read.")
		case c.Root != s.root.Root:
			j.find(s.job, at, true, "Records 1 to %d are not what was sealed at this one: something among them was changed, together with its hash.", at)
		case c.Purpose != seal.SignOff || !s.sign:
			j.find(s.job, at, true, "The seal kept at this record is a sign-off's, and the record is none.")
		}
	}
}

// sentence makes one of a part of one.
func sentence(text string) string {
	r := []rune(text)
	if len(r) == 0 {
		return text
	}
	r[0] = unicode.ToUpper(r[0])
	return strings.TrimSuffix(string(r), ".") + "."
}

// afterPrefix is an error without the name of the package it comes from.
func afterPrefix(err error) string {
	for _, prefix := range []string{"folder: ", "bolt: ", "pairing: ", "authority: ", "store: "} {
		if rest, ok := strings.CutPrefix(err.Error(), prefix); ok {
			return rest
		}
	}
	return err.Error()
}

// sorted are jobs as a backup lists them.
func sorted(jobs []Job) []Job {
	return slices.SortedFunc(slices.Values(jobs), func(a, b Job) int { return strings.Compare(a.ID, b.ID) })
}

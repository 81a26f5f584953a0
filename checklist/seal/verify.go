package seal

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"

	"hangtrue/checklist"
	"hangtrue/checklist/editions"
)

// A Finding is one thing that is wrong with a record, said for a person.
type Finding struct {
	Position int64  `json:"position,omitempty"` // of the entry it is about; 0 for the file
	Text     string `json:"text"`
	// Steps is the edition of the steps by which a hold point was not met, the newest
	// of them where the entry does not name one; 0 for a finding about anything else.
	Steps int `json:"steps,omitempty"`
}

// A Report is what [File.Verify] found.
type Report struct {
	Job, Title string
	Key        string    // the public key the seals were checked with
	Trusted    bool      // the key was given, not taken from the file
	Entries    int       // records in the file
	Sealed     int64     // the first records up to here are what a valid seal covers
	SignOffs   []int64   // positions of sign-offs with a valid seal, oldest first
	Findings   []Finding // empty when the record is intact
	// Unchecked are entries whose hold points could not be followed, oldest first. They
	// are what was sealed all the same, unless there is a finding that they are not.
	Unchecked []Unchecked
}

// Intact tells that nothing is wrong. Whether the job was signed off, and whether all
// could be checked, are other questions: see SignOffs and Unchecked.
func (r Report) Intact() bool { return len(r.Findings) == 0 }

// Later counts the entries that came after the last sign-off.
func (r Report) Later() int {
	if len(r.SignOffs) == 0 {
		return r.Entries
	}
	return r.Entries - int(r.SignOffs[len(r.SignOffs)-1])
}

// Verify checks every record against its hash, the tree against each seal, each
// seal's signature and job, the positions, the ids, the plan documents against
// their SHA-256, and whether every accepted step had its hold points met at its
// place. trusted is the public key as known from elsewhere; when it is empty the
// file's own key is used, and the report says so.
//
// The hold points are those of the edition of the steps that decided the entry; where
// a record of old does not name one, they are not met only if they are by none that it
// can have been. What an edition decided that this program does not know is no finding:
// see [Report]. They are replayed only when the records themselves are in order, so
// that one changed entry does not drag a tail of follow-up findings behind it.
func (f File) Verify(trusted string) Report { return f.VerifyBy(editions.Loudspeakers(), trusted) }

// VerifyBy is Verify for a program that knows these editions of the steps.
func (f File) VerifyBy(steps editions.List, trusted string) Report {
	v := verifier{f: f, report: Report{Job: f.Job, Title: f.Title, Key: f.Key, Entries: len(f.Records)}}
	v.key(trusted)
	v.order()
	v.leaves()
	v.seals()
	if len(v.report.Findings) == v.keyFindings {
		v.replay(steps)
	}
	slices.SortStableFunc(v.report.Findings, func(a, b Finding) int { return int(a.Position - b.Position) })
	return v.report
}

type verifier struct {
	f           File
	report      Report
	keyFindings int  // findings about the key alone
	noKey       bool // there is no usable key

	computed Tree // over the records as they are in the file
	listed   Tree // over the hashes as they are listed
	readable bool // every record can be read
	wrong    []int
}

func (v *verifier) find(position int64, format string, args ...any) {
	v.report.Findings = append(v.report.Findings, Finding{Position: position, Text: fmt.Sprintf(format, args...)})
}

func (v *verifier) key(trusted string) {
	if trusted != "" {
		v.report.Key, v.report.Trusted = trusted, true
		if trusted != v.f.Key {
			v.find(0, "The file names another key than the one you trust. Only what your key signed counts.")
		}
	}
	if err := CheckPublic(v.report.Key); err != nil {
		v.noKey = true
		v.find(0, "The key is not a public key, so no seal can be checked.")
	}
	v.keyFindings = len(v.report.Findings)
}

// order looks at positions and ids, which need no key.
func (v *verifier) order() {
	ids := map[string]int64{}
	for i, r := range v.f.Records {
		want := int64(i + 1)
		if why, bad := v.f.unreadable[i]; bad {
			v.find(want, "%s is not what was sealed: it cannot be read (%s).", v.name(i), why)
			continue
		}
		if r.Position != want {
			v.find(want, "%s stands at place %d of the record: entries are missing, doubled or out of order.", v.name(i), want)
		}
		if r.Entry.Job != v.f.Job {
			v.find(want, "%s belongs to another job (%s).", v.name(i), r.Entry.Job)
		}
		if before, twice := ids[r.Entry.ID]; twice {
			v.find(want, "%s has the id of entry %d.", v.name(i), before)
		}
		ids[r.Entry.ID] = want
	}
	if want := formatOf(v.f.Records); v.f.format != "" && v.f.format != want && len(v.f.unreadable) == 0 {
		v.find(0, "The file's format is %q, but that of its entries is %q.", v.f.format, want)
	}
	if len(v.f.Hashes) != len(v.f.Records) {
		v.find(0, "The file has %d entries but %d hashes.", len(v.f.Records), len(v.f.Hashes))
	}
}

func (v *verifier) leaves() {
	v.readable = len(v.f.unreadable) == 0
	for i, r := range v.f.Records {
		leaf := Leaf(r)
		v.computed.Add(leaf)
		if _, bad := v.f.unreadable[i]; !bad && i < len(v.f.Hashes) && leaf != v.f.Hashes[i] {
			v.wrong = append(v.wrong, i)
		}
	}
	for _, h := range v.f.Hashes {
		v.listed.Add(h)
	}
}

// seals opens every seal. Records proven by the root over the records themselves
// are intact whatever the list of hashes says; where that root differs, the list
// of hashes tells which record was changed, if the list itself is what was sealed.
func (v *verifier) seals() {
	last := int64(-1)
	var roots []Checkpoint
	for i, text := range v.f.Seals {
		if v.noKey {
			break
		}
		c, err := Open(text, v.report.Key)
		switch {
		case err != nil:
			v.find(0, "Seal %d is not valid: %s.", i+1, strings.TrimPrefix(err.Error(), ErrSeal.Error()+": "))
		case c.Job != v.f.Job:
			v.find(0, "Seal %d belongs to another job (%s).", i+1, c.Job)
		case c.Size < last:
			v.find(0, "Seal %d covers fewer entries than the one before it.", i+1)
		case c.Size > int64(len(v.f.Records)):
			v.find(0, "Seal %d covers %d entries, but the file has only %d: the last are missing.", i+1, c.Size, len(v.f.Records))
		default:
			last = c.Size
			roots = append(roots, c)
		}
	}
	proven := int64(0)
	for _, c := range roots {
		if v.readable && v.computed.Root(c.Size) == c.Root {
			proven = max(proven, c.Size)
			v.signOff(c)
			continue
		}
		v.changed(c, proven)
	}
	v.report.Sealed = proven
	for _, i := range v.wrong {
		if int64(i) < proven {
			v.find(int64(i+1), "%s is what was sealed, but the hash listed for it was changed.", v.name(i))
		} else {
			v.find(int64(i+1), "%s is not what was sealed.", v.name(i))
		}
	}
	v.coverage(last)
}

// changed reports a seal whose root is not that of the records.
func (v *verifier) changed(c Checkpoint, proven int64) {
	if v.listed.Size() >= c.Size && v.listed.Root(c.Size) == c.Root {
		return // the listed hashes are what was sealed: each changed record is named by its own
	}
	if !v.readable && len(v.f.Hashes) == len(v.f.Records) && len(v.wrong) == 0 {
		// Which record is damaged is known, but the list cannot vouch for the rest.
		v.find(0, "The hashes of entries %d to %d are not what was sealed either.", proven+1, c.Size)
		return
	}
	v.find(0, "Entries %d to %d are not what was sealed: something among them was changed, together with its hash.", proven+1, c.Size)
}

// signOff holds a valid seal to what it was made for.
func (v *verifier) signOff(c Checkpoint) {
	if c.Purpose != SignOff {
		return
	}
	if c.Size == 0 || !signsOff(v.f.Records[c.Size-1]) {
		v.find(c.Size, "A sign-off's seal ends at entry %d, which is no sign-off.", c.Size)
		return
	}
	v.report.SignOffs = append(v.report.SignOffs, c.Size)
}

func signsOff(r checklist.Record) bool { return r.Accepted && r.Entry.Kind == checklist.JobSigned }

// coverage reports entries that no seal vouches for.
func (v *verifier) coverage(last int64) {
	n := int64(len(v.f.Records))
	switch {
	case len(v.f.Seals) == 0:
		v.find(0, "The record has no seal: anything in it may have been changed.")
	case last >= 0 && last < n:
		v.find(last+1, "No seal covers entries %d to %d: anything in them may have been changed.", last+1, n)
	}
	for i, r := range v.f.Records {
		if position := int64(i + 1); signsOff(r) && position <= v.report.Sealed && !slices.Contains(v.report.SignOffs, position) {
			v.find(position, "%s has lost its seal.", v.name(i))
		}
	}
}

var deed = map[checklist.Kind]string{
	checklist.JobOpened: "opened", checklist.PlanSettled: "settled", checklist.StepRecorded: "recorded",
	checklist.StepConceded: "conceded", checklist.StepReopened: "reopened", checklist.RemarkWritten: "written",
	checklist.JobSigned: "signed", checklist.DraftEdited: "edited", checklist.PartNoted: "noted", checklist.PartStowed: "stowed", checklist.PartTaken: "taken",
}

var subject = map[checklist.Kind]string{
	checklist.JobOpened: "Job", checklist.PlanSettled: "Plan", checklist.RemarkWritten: "Remark", checklist.JobSigned: "Sign-off", checklist.DraftEdited: "Draft of the plan", checklist.PartNoted: "Part on hand", checklist.PartStowed: "Shelf", checklist.PartTaken: "Shelf",
}

// EntryName says for a person which entry a record of the file is, by its place.
func (f File) EntryName(i int) string { return (&verifier{f: f}).name(i) }

// name says which entry a record is: "Entry 37 (M+090 Hang and measure, recorded
// 2030-01-31 by installer 1)". The day is the server's.
func (v *verifier) name(i int) string {
	r := v.f.Records[i]
	if _, bad := v.f.unreadable[i]; bad && r.Position == 0 {
		return fmt.Sprintf("Entry %d", i+1)
	}
	e := r.Entry
	what := subject[e.Kind]
	about := checklist.About(e)
	if step := checklist.Loudspeakers.Step(about.Step); step != nil {
		what = step.Title
	}
	if about.Mount != "" {
		what = plain(about.Mount) + " " + what
	}
	if what = strings.TrimSpace(what); what == "" {
		what = plain(string(e.Kind))
	}
	done := deed[e.Kind]
	if done == "" {
		done = "made"
	}
	if !r.Accepted {
		done += " and refused"
	}
	day := "on an unreadable day"
	if t, err := time.Parse(time.RFC3339, r.Received); err == nil {
		day = t.UTC().Format(time.DateOnly)
	}
	return fmt.Sprintf("Entry %d (%s, %s %s by %s)", r.Position, what, done, day, plain(e.Who))
}

// plain keeps foreign text from doing anything to a terminal.
func plain(s string) string {
	n := 0
	return strings.Map(func(r rune) rune {
		if n++; n > 40 {
			return -1
		}
		if !unicode.IsPrint(r) {
			return '?'
		}
		return r
	}, s)
}

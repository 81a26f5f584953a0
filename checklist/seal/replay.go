package seal

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"

	"hangtrue/checklist"
	"hangtrue/checklist/editions"
)

// An Unchecked run of entries was decided by an edition of the steps that this program
// does not know, so that their hold points could not be followed.
type Unchecked struct {
	Edition int   `json:"edition"`
	First   int64 `json:"first"` // positions
	Last    int64 `json:"last"`
}

func (u Unchecked) String() string {
	which := fmt.Sprintf("Entries %d to %d were", u.First, u.Last)
	if u.First == u.Last {
		which = fmt.Sprintf("Entry %d was", u.First)
	}
	return fmt.Sprintf("%s decided by edition %d of the steps, which this program does not know, so that no hold point could be followed there. Verify with a newer hangtrue.", which, u.Edition)
}

// A replay folds the log again and sees that no accepted entry passed a hold point of
// the edition of the steps that decided it, and that every settled plan is the document
// its SHA-256 names.
type replay struct {
	*verifier
	steps   editions.List
	folds   map[int]*fold    // by edition, of those that were asked for
	numbers map[string]int64 // the last number of each device
	last    int              // the newest edition that an entry names so far, 0 for none
	least   int              // the first edition that an entry without one can be of
}

// a fold is what the log's first records come to by one edition.
type fold struct {
	state *checklist.State
	size  int
}

func (v *verifier) replay(steps editions.List) {
	r := replay{verifier: v, steps: steps, folds: map[int]*fold{}, numbers: map[string]int64{}}
	for i, record := range v.f.Records {
		if record.Accepted {
			r.accepted(i, record)
		}
		r.edition(i, record)
		r.numbers[record.Entry.Device] = max(r.numbers[record.Entry.Device], record.Entry.Number)
		r.least = max(r.least, editions.Since(record))
	}
	known := min(cmp.Or(r.last, editions.Unwritten), steps.Newest()) // the title is the same by each
	if title := r.state(known, len(v.f.Records)).Title; title != v.f.Title {
		v.find(0, "The file's title is %q, but the job was opened as %q.", v.f.Title, title)
	}
}

// state is what the log's first records come to by an edition. They are asked for in
// rising sizes, so that each record is folded once by each edition that is asked for.
func (r *replay) state(edition, size int) *checklist.State {
	f := r.folds[edition]
	if f == nil {
		f = &fold{state: checklist.NewState(r.steps.Edition(edition), r.f.Job)}
		r.folds[edition] = f
	}
	for ; f.size < size; f.size++ {
		f.state.Fold(r.f.Records[f.size])
	}
	return f.state
}

// edition sees that editions only go up along the log, and notes those that came after
// this program.
func (r *replay) edition(i int, record checklist.Record) {
	position := int64(i + 1)
	switch e := record.Edition; {
	case e == 0 && r.last != 0:
		r.find(position, "%s does not say by which edition of the steps it was decided, and edition %d had decided before it.", r.name(i), r.last)
	case e < r.last:
		r.find(position, "%s was decided by edition %d of the steps, and edition %d had decided before it: an edition never goes back.", r.name(i), e, r.last)
	case e > r.steps.Newest():
		if all := r.report.Unchecked; e > r.last {
			r.report.Unchecked = append(all, Unchecked{e, position, position})
		} else {
			all[len(all)-1].Last = position
		}
	}
	r.last = max(r.last, record.Edition)
}

func (r *replay) accepted(i int, record checklist.Record) {
	position := int64(i + 1)
	if next := r.numbers[record.Entry.Device] + 1; record.Entry.Number != next {
		r.find(position, "%s is number %d of its device, wanted %d.", r.name(i), record.Entry.Number, next)
	}
	switch record.Entry.Kind {
	case checklist.PlanSettled:
		r.settled(i, record)
	case checklist.StepRecorded, checklist.StepConceded, checklist.JobSigned:
		r.held(i, record)
	}
}

func (r *replay) settled(i int, record checklist.Record) {
	position := int64(i + 1)
	var b checklist.Settlement
	if err := json.Unmarshal(record.Entry.Body, &b); err != nil {
		r.find(position, "%s has a plan that cannot be read.", r.name(i))
		return
	}
	if sum := sha256.Sum256([]byte(b.Plan)); hex.EncodeToString(sum[:]) != b.SHA256 {
		r.find(position, "%s has a plan document that is not the one its SHA-256 names.", r.name(i))
	}
}

// held holds an accepted entry to the hold points of the edition that decided it. Where
// that is not written, one that may have been is enough.
func (r *replay) held(i int, record checklist.Record) {
	deciders := editions.Deciders(record, r.least)
	text, of := "", ""
	for _, e := range deciders {
		if e > r.steps.Newest() {
			return // which is told: see edition
		}
		hold := unmet(r.state(e, i), record)
		if hold == "" {
			return
		}
		text, of = cmp.Or(text, hold), strings.TrimSuffix(strconv.Itoa(e)+" or "+of, " or ")
	}
	r.find(int64(i+1), "%s was accepted although a hold point of edition %s of the steps was not met: %s", r.name(i), of, text)
	r.report.Findings[len(r.report.Findings)-1].Steps = deciders[0]
}

// unmet is the hold point that an accepted entry passed by, "" where there is none.
func unmet(s *checklist.State, record checklist.Record) string {
	k := checklist.About(record.Entry)
	if record.Entry.Kind == checklist.JobSigned {
		for _, step := range s.Template.Steps {
			if step.Kind == checklist.JobSigned {
				k = checklist.Key{Step: step.ID}
			}
		}
	}
	if s.Template.Step(k.Step) == nil {
		return fmt.Sprintf("There is no step %q.", plain(k.Step))
	}
	if holds := s.Holds(k); len(holds) > 0 {
		return holds[0].Text
	}
	return ""
}

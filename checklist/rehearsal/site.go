package rehearsal

import (
	"fmt"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
)

// A Site is a job's log and the device that makes its entries, without a store
// and without a network between them.
type Site struct {
	Job, Device string
	State       *checklist.State
	Records     []checklist.Record

	numbers map[string]int64
	made    int
}

// NewSite is an empty log of a job.
func NewSite(job, device string) *Site {
	return &Site{Job: job, Device: device, State: checklist.NewState(checklist.Loudspeakers, job), numbers: map[string]int64{}}
}

// Entry makes a device's next entry without deciding it.
func (s *Site) Entry(device string, role checklist.Role, kind checklist.Kind, body any) (checklist.Entry, error) {
	if s.numbers[device] == 0 {
		s.numbers[device] = s.State.LastNumber(device)
	}
	s.made++
	s.numbers[device]++
	return checklist.NewEntry(checklist.Entry{
		ID: fmt.Sprintf("%s-%012x", s.Job[:23], s.made), Job: s.Job, Device: device, Number: s.numbers[device],
		Seen: s.State.Head, Who: string(role), Role: role, Clock: Clock, Plan: s.State.Revision(), Kind: kind,
	}, body)
}

// Push decides an entry, gives it the next position and folds it, as a server does.
func (s *Site) Push(e checklist.Entry) checklist.Record {
	r := checklist.Record{Position: s.State.Head + 1, Received: Clock, Decision: s.State.Decide(e), Entry: e}
	s.State.Fold(r)
	s.Records = append(s.Records, r)
	return r
}

// Do makes and pushes an entry; a refusal is an error.
func (s *Site) Do(kind checklist.Kind, body any) error {
	e, err := s.Entry(s.Device, checklist.Lead, kind, body)
	if err != nil {
		return err
	}
	if r := s.Push(e); !r.Accepted {
		return fmt.Errorf("rehearsal: %s refused: %s", kind, r.Reason)
	}
	return nil
}

// Open opens the job with a plan as its first revision.
func (s *Site) Open(p *plan.Plan) error {
	document, err := p.Encode()
	if err != nil {
		return err
	}
	if err := s.Do(checklist.JobOpened, checklist.Opening{Title: p.Title}); err != nil {
		return err
	}
	return s.Do(checklist.PlanSettled, checklist.NewSettlement(s.State.Revision()+1, "first plan", document))
}

// Finish records every step in order, as planned, until only the sign-off is left.
func (s *Site) Finish() error {
	for {
		k, ok := s.State.Next("")
		if !ok {
			return fmt.Errorf("rehearsal: nothing can be done next")
		}
		if s.State.Template.Step(k.Step).Kind == checklist.JobSigned {
			return nil
		}
		b, err := Recording(s.State.Plan(), k.Step, k.Mount)
		if err != nil {
			return err
		}
		if err := s.Do(checklist.StepRecorded, b); err != nil {
			return err
		}
		if outcome := s.Records[len(s.Records)-1].Outcome; outcome != "within" {
			return fmt.Errorf("rehearsal: %s %s as planned is %s: %+v", k.Mount, k.Step, outcome, s.State.Checks(b))
		}
	}
}

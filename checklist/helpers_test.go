package checklist_test

import (
	"fmt"
	"os"
	"strings"

	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/rehearsal"
)

const (
	jobID    = "01900000-0000-7000-8000-00000000000a"
	deviceA  = "01900000-0000-7000-8000-0000000000a1"
	deviceB  = "01900000-0000-7000-8000-0000000000b1"
	received = "2030-01-31T09:00:00.000Z"
)

// examplePlan is the two-loudspeaker example document.
func examplePlan(t require.TestingT) *plan.Plan {
	data, err := os.ReadFile("../testdata/plans/example.json")
	require.NoError(t, err)
	p, err := plan.Decode(data)
	require.NoError(t, err)
	return p
}

func document(t require.TestingT, p *plan.Plan) []byte {
	data, err := p.Encode()
	require.NoError(t, err)
	return data
}

// site plays a server and the devices that push to it, one entry after another.
type site struct {
	t       require.TestingT
	state   *checklist.State
	records []checklist.Record
	numbers map[string]int64
	made    int
}

func newSite(t require.TestingT) *site {
	return &site{t: t, state: checklist.NewState(checklist.Loudspeakers, jobID), numbers: map[string]int64{}}
}

// entry makes the next entry of a device without giving it to the server.
func (s *site) entry(device string, role checklist.Role, kind checklist.Kind, body any) checklist.Entry {
	s.made++
	s.numbers[device]++
	e, err := checklist.NewEntry(checklist.Entry{
		ID: fmt.Sprintf("01900000-0000-7000-9000-%012x", s.made), Job: jobID, Device: device, Number: s.numbers[device],
		Seen: s.state.Head, Who: string(role), Role: role, Clock: received, Plan: s.state.Revision(), Kind: kind,
	}, body)
	require.NoError(s.t, err)
	return e
}

// push gives an entry to the server, as it does: decide, place, fold.
func (s *site) push(e checklist.Entry) checklist.Record {
	r := checklist.Record{Position: int64(len(s.records) + 1), Received: received, Decision: s.state.Decide(e), Entry: e}
	s.state.Fold(r)
	s.records = append(s.records, r)
	return r
}

func (s *site) do(role checklist.Role, kind checklist.Kind, body any) checklist.Record {
	return s.push(s.entry(deviceA, role, kind, body))
}

// accept does it and requires that it was accepted.
func (s *site) accept(role checklist.Role, kind checklist.Kind, body any) checklist.Record {
	r := s.do(role, kind, body)
	require.True(s.t, r.Accepted, "%s: %s", r.Entry.Kind, r.Reason)
	return r
}

// refuse does it and requires that it was refused with a reason that says so.
func (s *site) refuse(role checklist.Role, kind checklist.Kind, body any, says string) {
	r := s.do(role, kind, body)
	require.False(s.t, r.Accepted)
	require.Contains(s.t, r.Reason, says)
}

func (s *site) open(p *plan.Plan) {
	s.accept(checklist.Lead, checklist.JobOpened, checklist.Opening{Title: "A job"})
	s.accept(checklist.Lead, checklist.PlanSettled, checklist.NewSettlement(1, "first", document(s.t, p)))
}

// good is a recording that is all within, or an empty one for a step that has an
// entry of its own.
func good(t require.TestingT, p *plan.Plan, step, mount string) checklist.Recording {
	if checklist.Loudspeakers.Step(step).Kind != checklist.StepRecorded {
		return checklist.Recording{Step: step, Mount: mount}
	}
	r, err := rehearsal.Recording(p, step, mount)
	require.NoError(t, err)
	return r
}

// finish records every step in order until the job is ready to sign.
func (s *site) finish() {
	for {
		k, ok := s.state.Next("")
		require.True(s.t, ok, "nothing can be done: %v", s.unfinished())
		if s.state.Template.Step(k.Step).Kind == checklist.JobSigned {
			return
		}
		r := s.accept(checklist.Lead, checklist.StepRecorded, good(s.t, s.state.Plan(), k.Step, k.Mount))
		require.Equal(s.t, "within", r.Outcome, "%v: %+v", k, s.state.Checks(s.state.Evidence(k).Recording))
	}
}

func (s *site) unfinished() string {
	var b strings.Builder
	for _, k := range s.state.Keys() {
		if status := s.state.Status(k); status != checklist.Done {
			fmt.Fprintf(&b, "%v %s %v; ", k, status, s.state.Holds(k))
		}
	}
	return b.String()
}

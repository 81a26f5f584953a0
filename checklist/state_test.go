package checklist_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/reread"
)

// act does one random thing on the site: mostly what is next, sometimes anything.
func act(t *rapid.T, s *site) {
	p := s.state.Plan()
	keys := s.state.Keys()
	anyKey := func() checklist.Key { return rapid.SampledFrom(keys).Draw(t, "key") }
	role := rapid.SampledFrom([]checklist.Role{checklist.Lead, checklist.Lead, checklist.Lead, checklist.Installer, checklist.Viewer}).Draw(t, "role")
	switch rapid.SampledFrom([]string{"next", "next", "next", "next", "next", "next", "any", "concede", "reopen", "settle", "sign", "remark", "stock", "stock"}).Draw(t, "act") {
	case "next":
		if k, ok := s.state.Next(""); ok {
			s.do(checklist.Lead, checklist.StepRecorded, spoiled(t, p, k))
		}
	case "any":
		s.do(role, checklist.StepRecorded, spoiled(t, p, anyKey()))
	case "concede":
		k := anyKey()
		s.do(role, checklist.StepConceded, checklist.Reasoned{Step: k.Step, Mount: k.Mount, Reason: "as it is"})
	case "reopen":
		k := anyKey()
		s.do(role, checklist.StepReopened, checklist.Reasoned{Step: k.Step, Mount: k.Mount, Reason: "look again"})
	case "settle":
		s.do(role, checklist.PlanSettled, checklist.NewSettlement(s.state.Revision()+1, "a change", document(t, revised(t, p))))
	case "sign":
		s.do(role, checklist.JobSigned, checklist.Signing{Revision: s.state.Revision(), Head: s.state.Head})
	case "stock":
		m := p.Mounts[0]
		part := rapid.SampledFrom([]string{"loudspeaker/" + m.Model, "bracket/" + m.Bracket, "fixing/" + m.Fixing, "cable/" + m.Cable, "amplifier/" + m.Amplifier}).Draw(t, "part")
		s.do(role, checklist.PartNoted, checklist.Stock{Part: part, OnHand: rapid.IntRange(0, 4).Draw(t, "on hand")})
	case "remark":
		s.do(role, checklist.RemarkWritten, checklist.Remark{Text: "seen"})
	}
}

// spoiled is a good recording, or one whose mark is outside or at the limit.
func spoiled(t *rapid.T, p *plan.Plan, k checklist.Key) checklist.Recording {
	r := good(t, p, k.Step, k.Mount)
	if off := rapid.SampledFrom([]int64{0, 0, 0, 5000, 40000}).Draw(t, "off"); k.Step == "mark" || k.Step == "hang" {
		r.Measured["along_um"][0] += off
	}
	return r
}

// revised is the plan with one part changed.
func revised(t *rapid.T, p *plan.Plan) *plan.Plan {
	c, err := reread.Change(p, rapid.SampledFrom(reread.Parts).Draw(t, "part"), rapid.IntRange(0, len(p.Mounts)-1).Draw(t, "mount"))
	require.NoError(t, err)
	return c
}

// again reads the site's log in a way that shares no code with the fold.
func again(t require.TestingT, s *site) *reread.Log {
	l := &reread.Log{}
	for _, r := range s.records {
		require.NoError(t, l.Add(r))
	}
	return l
}

// Whatever is pushed, in whatever order: an entry is accepted exactly when its
// hold points are met by a reading of the log that shares no code with the fold,
// and the two agree on every step afterwards.
func TestStateHoldPoints(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := newSite(t)
		s.open(examplePlan(t))
		if rapid.Bool().Draw(t, "nearly done") {
			s.finish()
		}
		for range rapid.IntRange(1, 40).Draw(t, "acts") {
			before := again(t, s)
			n := len(s.records)
			act(t, s)
			if len(s.records) == n {
				continue
			}
			r := s.records[n]
			k := checklist.About(r.Entry)
			switch {
			case !r.Accepted:
			case r.Entry.Kind == checklist.StepRecorded:
				require.True(t, before.Free(k), "%v was accepted before its hold points were met", k)
				require.NotEqual(t, checklist.Viewer, r.Entry.Role)
			case r.Entry.Kind == checklist.JobSigned:
				for _, all := range s.state.Keys() {
					require.True(t, all.Step == "sign" || before.Passes(all), "signed while %v was open", all)
				}
			}
			if !r.Accepted && r.Entry.Kind == checklist.StepRecorded && r.Entry.Role == checklist.Lead && k.Step != "plan" && k.Step != "sign" {
				require.False(t, before.Free(k), "%v was refused though nothing held it: %s", k, r.Reason)
			}
		}
		after := again(t, s)
		for _, k := range s.state.Keys() {
			status := s.state.Status(k)
			require.Equal(t, after.Passes(k), status == checklist.Done || status == checklist.Conceded, "%v is %s: %v", k, status, s.state.StaleBecause(k))
		}
	})
}

func TestStateWholeJob(t *testing.T) {
	s := newSite(t)
	s.open(examplePlan(t))
	s.finish()
	r := s.accept(checklist.Lead, checklist.JobSigned, checklist.Signing{Revision: 1, Head: s.state.Head})
	assert.True(t, s.state.Locked())
	assert.Equal(t, r.Position, s.state.Head)
	s.refuse(checklist.Lead, checklist.StepRecorded, good(t, s.state.Plan(), "rack", ""), "signed off")
	s.refuse(checklist.Installer, checklist.StepReopened, checklist.Reasoned{Step: "rack", Reason: "look"}, "Only a lead")
	s.accept(checklist.Lead, checklist.StepReopened, checklist.Reasoned{Step: "rack", Reason: "look"})
	assert.False(t, s.state.Locked())
	assert.Equal(t, 1, s.state.Signatures[0].Since)
}

func TestStateRefuses(t *testing.T) {
	p := examplePlan(t)
	s := newSite(t)
	s.refuse(checklist.Lead, checklist.StepRecorded, good(t, p, "survey", ""), "not been opened")
	s.open(p)
	recorded := func(change func(*checklist.Recording)) checklist.Recording {
		r := good(t, p, "survey", "")
		change(&r)
		return r
	}
	for _, row := range []struct {
		name string
		role checklist.Role
		kind checklist.Kind
		body any
		says string
	}{
		{"a second opening", checklist.Lead, checklist.JobOpened, checklist.Opening{Title: "again"}, "open already"},
		{"a step out of order", checklist.Lead, checklist.StepRecorded, good(t, p, "drill", "M+030"), "Drill is held: Mark is not done"},
		{"a viewer", checklist.Viewer, checklist.StepRecorded, good(t, p, "isolate", ""), "Only an installer may"},
		{"an installer's survey", checklist.Installer, checklist.StepRecorded, good(t, p, "survey", ""), "Only a lead"},
		{"an unknown step", checklist.Lead, checklist.StepRecorded, checklist.Recording{Step: "paint"}, `no step "paint"`},
		{"an unknown mount", checklist.Lead, checklist.StepRecorded, checklist.Recording{Step: "mark", Mount: "M+001"}, "does not apply"},
		{"a mount at a step of the job", checklist.Lead, checklist.StepRecorded, checklist.Recording{Step: "survey", Mount: "M+030"}, "whole job"},
		{"a missing reading", checklist.Lead, checklist.StepRecorded, recorded(func(r *checklist.Recording) { delete(r.Measured, "width_um") }), "Left wall to right wall is missing"},
		{"a reading out of range", checklist.Lead, checklist.StepRecorded, recorded(func(r *checklist.Recording) { r.Measured["width_um"][0] = -5 }), "wanted 1 to"},
		{"a field nobody asked for", checklist.Lead, checklist.StepRecorded, recorded(func(r *checklist.Recording) { r.Measured["depth_um"] = []int64{1} }), `no field "depth_um"`},
		{"a choice that is none", checklist.Lead, checklist.StepRecorded, recorded(func(r *checklist.Recording) { r.Chosen["tape"] = "eye" }), "not one of its choices"},
		{"a body that is not one", checklist.Lead, checklist.StepRecorded, map[string]int{"step": 3}, "cannot be read"},
		{"a kind from the future", checklist.Lead, "step.dreamt", map[string]int{}, "does not know"},
		{"a revision that skips", checklist.Lead, checklist.PlanSettled, checklist.NewSettlement(5, "x", document(t, p)), "revision 1"},
		{"a plan that is none", checklist.Lead, checklist.PlanSettled, checklist.NewSettlement(2, "x", []byte(`{}`)), "cannot be settled"},
		{"a plan that is not its hash", checklist.Lead, checklist.PlanSettled, checklist.Settlement{Revision: 2, Reason: "x", SHA256: "00", Plan: "{}"}, "SHA-256"},
		{"a concession of nothing", checklist.Lead, checklist.StepConceded, checklist.Reasoned{Step: "survey", Reason: "x"}, "nothing recorded"},
		{"a concession without a reason", checklist.Lead, checklist.StepConceded, checklist.Reasoned{Step: "survey"}, "reason has 0 characters"},
		{"reopening nothing", checklist.Lead, checklist.StepReopened, checklist.Reasoned{Step: "survey", Reason: "x"}, "is open"},
		{"signing early", checklist.Lead, checklist.JobSigned, checklist.Signing{Revision: 1, Head: 2}, "Something arrived"},
	} {
		t.Run(row.name, func(t *testing.T) {
			r := s.do(row.role, row.kind, row.body)
			assert.False(t, r.Accepted)
			assert.Contains(t, r.Reason, row.says)
		})
	}
}

// A failed check that no concession may pass stays failed.
func TestStateBarred(t *testing.T) {
	p := examplePlan(t)
	s := newSite(t)
	s.open(p)
	for _, step := range []string{"survey", "isolate"} {
		s.accept(checklist.Lead, checklist.StepRecorded, good(t, p, step, ""))
	}
	for _, step := range []string{"mark", "level"} {
		s.accept(checklist.Lead, checklist.StepRecorded, good(t, p, step, "M+030"))
	}
	board := good(t, p, "studs", "M+030")
	board.Chosen["behind"] = "board"
	r := s.accept(checklist.Lead, checklist.StepRecorded, board)
	assert.Equal(t, "outside", r.Outcome)
	assert.Equal(t, "studs.behind", r.Barred)
	s.refuse(checklist.Lead, checklist.StepConceded, checklist.Reasoned{Step: "studs", Mount: "M+030", Reason: "it will hold"}, "cannot be conceded")
	s.refuse(checklist.Lead, checklist.StepRecorded, good(t, p, "drill", "M+030"), "Check for studs is outside")
}

// An off-plan mark passes by a lead's concession only, and a new reading ends it.
func TestStateConcession(t *testing.T) {
	p := examplePlan(t)
	s := newSite(t)
	s.open(p)
	s.accept(checklist.Lead, checklist.StepRecorded, good(t, p, "survey", ""))
	k := checklist.Key{Step: "mark", Mount: "M+030"}
	off := good(t, p, "mark", "M+030")
	off.Measured["along_um"][0] += 12000
	require.Equal(t, "outside", s.accept(checklist.Installer, checklist.StepRecorded, off).Outcome)
	assert.Equal(t, checklist.Ready, s.state.Status(k))
	s.refuse(checklist.Installer, checklist.StepConceded, checklist.Reasoned{Step: "mark", Mount: "M+030", Reason: "a pipe"}, "Only a lead")
	s.accept(checklist.Lead, checklist.StepConceded, checklist.Reasoned{Step: "mark", Mount: "M+030", Reason: "a pipe"})
	assert.Equal(t, checklist.Conceded, s.state.Status(k))
	s.accept(checklist.Installer, checklist.StepRecorded, off)
	assert.Equal(t, checklist.Ready, s.state.Status(k))
}

package checklist_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
)

func edit(changes ...checklist.PartChange) checklist.Edit { return checklist.Edit{Changes: changes} }

// opened is a job without a plan.
func opened(t require.TestingT) *site {
	s := newSite(t)
	s.accept(checklist.Lead, checklist.JobOpened, checklist.Opening{Title: "A job"})
	return s
}

func partsOf(t require.TestingT, p *plan.Plan) []plan.Part {
	parts, err := p.Parts()
	require.NoError(t, err)
	return parts
}

// drafted drafts a whole plan, one part at a time.
func (s *site) drafted(p *plan.Plan) {
	for _, part := range partsOf(s.t, p) {
		s.accept(checklist.Lead, checklist.DraftEdited, edit(s.state.Change(part.Name, part.Value)))
	}
}

func TestDraftBecomesThePlan(t *testing.T) {
	p, s := examplePlan(t), opened(t)
	assert.False(t, s.state.Drafted())
	s.drafted(p)
	assert.True(t, s.state.Drafted())
	draft := plan.Assemble(s.state.Draft())
	assert.Equal(t, p, draft)
	settlement := checklist.NewSettlement(1, "first", document(t, draft))
	settlement.Edits = len(s.state.Edits)
	s.accept(checklist.Lead, checklist.PlanSettled, settlement)
	assert.Equal(t, p, s.state.Plan())
	assert.False(t, s.state.Drafted())

	s.accept(checklist.Lead, checklist.DraftEdited, edit(s.state.Change("mount/M-030", "")))
	assert.True(t, s.state.Drafted())
	assert.Len(t, plan.Assemble(s.state.Draft()).Mounts, 1)
	assert.Equal(t, p, s.state.Plan(), "the plan in force stays")
	s.finish() // a draft holds nobody up
}

func TestDraftIsNotSettledUnread(t *testing.T) {
	p, s := examplePlan(t), opened(t)
	s.drafted(p)
	settlement := checklist.NewSettlement(1, "first", document(t, p))
	settlement.Edits = len(s.state.Edits) - 1
	s.refuse(checklist.Lead, checklist.PlanSettled, settlement, "changed while it was read")
}

func TestCrossedEditsAreKept(t *testing.T) {
	p, s := examplePlan(t), opened(t)
	s.drafted(p)
	narrow, wide := *p.Room.Box, *p.Room.Box
	narrow.Width, wide.Width = 3.9, 4.1
	value := func(b plan.Box) string {
		q := plan.Plan{Room: plan.Room{Box: &b}}
		return partsOf(t, &q)[0].Value
	}
	first := s.entry(deviceA, checklist.Lead, checklist.DraftEdited, edit(s.state.Change("room", value(narrow))))
	second := s.entry(deviceB, checklist.Lead, checklist.DraftEdited, edit(s.state.Change("room", value(wide))))
	require.True(t, s.push(first).Accepted)
	r := s.push(second)
	assert.False(t, r.Accepted)
	assert.Contains(t, r.Reason, "room was changed by lead after you opened it")
	assert.Equal(t, value(narrow), s.state.Part("room"))
	assert.Len(t, s.state.Refused(), 1, "what was refused can be looked at")
	s.accept(checklist.Lead, checklist.DraftEdited, edit(s.state.Change("room", value(wide))))
	assert.Equal(t, value(wide), s.state.Part("room"))
}

func TestEditsAreRefused(t *testing.T) {
	s := opened(t)
	s.drafted(examplePlan(t))
	room := s.state.Part("room")
	change := s.state.Change
	for says, e := range map[string]checklist.Edit{
		"wanted 1 to 800":           {},
		"twice":                     edit(change("rack", ""), change("rack", "")),
		"no part":                   edit(checklist.PartChange{Part: "wardrobe", Now: `{}`}),
		"stays as it is":            edit(change("room", room)),
		"/sound: read":              edit(change("room", strings.Replace(room, "{", `{"sound":1,`, 1))),
		"as this program writes it": edit(change("room", " "+room)),
		"was taken out by lead":     edit(checklist.PartChange{Part: "cable/rope", Was: checklist.Hash("x"), Now: "y"}),
		"about has 1001 characters": {About: strings.Repeat("x", 1001), Changes: []checklist.PartChange{change("rack", "")}},
	} {
		if says == "was taken out by lead" {
			says = "cable/rope was taken out"
		}
		s.refuse(checklist.Lead, checklist.DraftEdited, e, says)
	}
	s.refuse(checklist.Installer, checklist.DraftEdited, edit(change("rack", "")), "Only a lead")
}

// Whatever was edited, taking the edits back one by one, the last first, gives every draft before.
func TestUndoGivesTheFormerDraft(t *testing.T) {
	parts := partsOf(t, examplePlan(t))
	rapid.Check(t, func(t *rapid.T) {
		s := opened(t)
		var before [][]plan.Part
		for range rapid.IntRange(1, 12).Draw(t, "edits") {
			var e checklist.Edit
			for _, part := range parts {
				if rapid.IntRange(0, 4).Draw(t, part.Name) > 0 {
					continue
				}
				now := part.Value
				if s.state.Part(part.Name) != "" {
					now = ""
				}
				e.Changes = append(e.Changes, s.state.Change(part.Name, now))
			}
			if len(e.Changes) == 0 {
				continue
			}
			before = append(before, s.state.Draft())
			s.accept(checklist.Lead, checklist.DraftEdited, e)
		}
		edits := s.state.Edits
		for i := len(edits) - 1; i >= 0; i-- {
			undo, err := s.state.Undo(edits[i])
			require.NoError(t, err)
			s.accept(checklist.Lead, checklist.DraftEdited, undo)
			assert.ElementsMatch(t, before[i], s.state.Draft())
		}
	})
}

func TestUndoStopsAtALaterChange(t *testing.T) {
	s := opened(t)
	s.drafted(examplePlan(t))
	first, _ := s.state.LastEdit("rack")
	s.accept(checklist.Lead, checklist.DraftEdited, edit(s.state.Change("rack", "")))
	_, err := s.state.Undo(first)
	assert.ErrorContains(t, err, "rack was changed again since")
}

package checklist_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
)

// One bracket is here: the second mount waits for its own, and nothing else waits.
func TestStockHoldsWhatNeedsIt(t *testing.T) {
	s := newSite(t)
	p := examplePlan(t)
	s.open(p)
	s.accept(checklist.Lead, checklist.StepRecorded, good(t, p, "survey", ""))
	bracket := "bracket/" + p.Mounts[0].Bracket
	require.Equal(t, p.Mounts[0].Bracket, p.Mounts[1].Bracket)
	s.accept(checklist.Installer, checklist.PartNoted, checklist.Stock{Part: bracket, OnHand: 1, Expected: "2030-03-01"})
	first, second := p.Mounts[0].Channel, p.Mounts[1].Channel
	s.accept(checklist.Installer, checklist.StepRecorded, good(t, p, "mark", first))
	s.refuse(checklist.Installer, checklist.StepRecorded, good(t, p, "mark", second), "1 on hand, 1 in use, 1 needed here, expected 2030-03-01")
	s.accept(checklist.Installer, checklist.StepRecorded, good(t, p, "level", first))
	assert.Equal(t, checklist.Held, s.state.Status(checklist.Key{Step: "mark", Mount: second}))
	s.accept(checklist.Installer, checklist.PartNoted, checklist.Stock{Part: bracket, OnHand: 2})
	s.accept(checklist.Installer, checklist.StepRecorded, good(t, p, "mark", second))
	s.accept(checklist.Installer, checklist.PartNoted, checklist.Stock{Part: bracket, OnHand: 0})
	assert.Equal(t, checklist.Done, s.state.Status(checklist.Key{Step: "mark", Mount: second}), "what was done stays done")
	needed, used := checklist.Needed(p, "bracket", p.Mounts[0].Bracket)
	assert.Equal(t, 2, needed)
	assert.True(t, used)
}

func TestCableAndFixingsAreCounted(t *testing.T) {
	s := newSite(t)
	p := examplePlan(t)
	s.open(p)
	holes := len(p.Bracket(p.Mounts[0].Bracket).Holes)
	needed, _ := checklist.Needed(p, "fixing", p.Mounts[0].Fixing)
	assert.Equal(t, 2*holes, needed)
	needed, used := checklist.Needed(p, "cable", p.Mounts[0].Cable)
	assert.Zero(t, needed, "one drum serves all")
	assert.True(t, used)
	_, used = checklist.Needed(p, "cable", "rope")
	assert.False(t, used)
	s.accept(checklist.Lead, checklist.PartNoted, checklist.Stock{Part: "cable/" + p.Mounts[0].Cable, OnHand: 0})
	k := checklist.Key{Step: "wire", Mount: p.Mounts[0].Channel}
	holds := s.state.Holds(k)
	require.NotEmpty(t, holds)
	assert.Equal(t, checklist.Hold{Text: p.Mounts[0].Cable + " is not on hand.", Part: "cable/" + p.Mounts[0].Cable}, holds[len(holds)-1])
}

// What is left over is found again, and not taken twice.
func TestShelf(t *testing.T) {
	s := newSite(t)
	s.open(examplePlan(t))
	s.finish()
	s.accept(checklist.Lead, checklist.JobSigned, checklist.Signing{Revision: 1, Head: s.state.Head})
	r := s.accept(checklist.Installer, checklist.PartStowed, checklist.Stow{What: "Wall bracket", Count: 3, Where: "cellar, blue box"})
	assert.True(t, s.state.Locked(), "the shelf reopens nothing")
	before := s.state.Clone()
	s.accept(checklist.Installer, checklist.PartTaken, checklist.Taking{Stow: r.Entry.ID, Count: 2, Reason: "one more pair"})
	s.refuse(checklist.Installer, checklist.PartTaken, checklist.Taking{Stow: r.Entry.ID, Count: 2, Reason: "more"}, "1 of Wall bracket are on the shelf")
	assert.Equal(t, 1, s.state.Shelf[0].Left)
	assert.Equal(t, 3, before.Shelf[0].Left)
	assert.Empty(t, before.Shelf[0].Taken)
}

func TestPartsAreRefused(t *testing.T) {
	s := newSite(t)
	s.open(examplePlan(t))
	for says, b := range map[string]checklist.Stock{
		"nothing that can be on hand": {Part: "room", OnHand: 1},
		"0 to 10000":                  {Part: "cable/x", OnHand: -1},
		"no day":                      {Part: "cable/x", Expected: "soon"},
	} {
		s.refuse(checklist.Lead, checklist.PartNoted, b, says)
	}
	s.refuse(checklist.Viewer, checklist.PartNoted, checklist.Stock{Part: "cable/x"}, "Only an installer")
	s.refuse(checklist.Lead, checklist.PartStowed, checklist.Stow{What: "x", Where: "y"}, "1 to 10000")
	s.refuse(checklist.Lead, checklist.PartStowed, checklist.Stow{What: "x", Count: 1}, "where has 0 characters")
	s.refuse(checklist.Lead, checklist.PartTaken, checklist.Taking{Stow: "x", Count: 1, Reason: "y"}, "Nothing was put")
}

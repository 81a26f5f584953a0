package checklist

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"

	"hangtrue/checklist/plan"
	"hangtrue/checklist/strict"
)

// An Edit changes the draft of the plan. All of its changes are made, or none is.
type Edit struct {
	// About says what the edit was for, where its changes do not: one sentence.
	About   string       `json:"about,omitempty"`
	Changes []PartChange `json:"changes"`
}

// A PartChange puts a part of the plan in the place of what was there.
type PartChange struct {
	Part string `json:"part"`          // its name, as package plan has it
	Was  string `json:"was,omitempty"` // SHA-256 of the value it replaces, in hex; none where there was no such part
	Now  string `json:"now,omitempty"` // the value, one JSON text; none takes the part out
}

// maxChanges bounds the changes of one edit: every part of the largest plan at once.
const maxChanges = 800

// An Edited is an edit as the log holds it.
type Edited struct {
	Record Record
	Edit   Edit
	Before []string // the value each change replaced, "" where there was none
}

// Draft is the plan as it is being drafted, part by part: the plan in force with
// the edits since, or, before the first was settled, the edits alone. The caller
// must not change it.
func (s *State) Draft() []plan.Part {
	if s.draft == nil && s.Plan() != nil {
		// A plan that was decoded can be written.
		s.draft, _ = s.Plan().Parts()
	}
	return s.draft
}

// Drafted tells whether the draft differs from the plan in force.
func (s *State) Drafted() bool {
	if s.Plan() == nil {
		return len(s.Draft()) > 0
	}
	if s.draft == nil {
		return false
	}
	settled, _ := s.Plan().Parts()
	return !slices.Equal(s.draft, settled)
}

// Part is the value of a part of the draft, "" if it has none of that name.
func (s *State) Part(name string) string {
	for _, p := range s.Draft() {
		if p.Name == name {
			return p.Value
		}
	}
	return ""
}

// Hash names a value of a part: its SHA-256 in hex, "" for none.
func Hash(value string) string {
	if value == "" {
		return ""
	}
	sum := sha256.Sum256([]byte(value))
	return hex.EncodeToString(sum[:])
}

// Change puts a value in the place of the draft's part of that name; "" takes it out.
func (s *State) Change(part, now string) PartChange {
	return PartChange{Part: part, Was: Hash(s.Part(part)), Now: now}
}

// Undo is the edit that takes an edit back. It fails, naming the first, where
// a part was changed again since.
func (s *State) Undo(e Edited) (Edit, error) {
	undo := Edit{About: "Undo"}
	for i, c := range slices.Backward(e.Edit.Changes) {
		if s.Part(c.Part) != c.Now {
			return Edit{}, refuse("%s was changed again since.", c.Part)
		}
		undo.Changes = append(undo.Changes, s.Change(c.Part, e.Before[i]))
	}
	return undo, nil
}

// LastEdit is the last accepted edit of a part, false if it never was edited.
func (s *State) LastEdit(part string) (Edited, bool) {
	for _, e := range slices.Backward(s.Edits) {
		if slices.ContainsFunc(e.Edit.Changes, func(c PartChange) bool { return c.Part == part }) {
			return e, true
		}
	}
	return Edited{}, false
}

// StaleAfter are the steps that would have to be looked at again if this plan were
// settled now.
func (s *State) StaleAfter(p *plan.Plan) []Key {
	after := s.Clone()
	after.Revisions = append(after.Revisions, Revision{Number: s.Revision() + 1, Plan: p})
	after.locked = false
	after.unsettle()
	var stale []Key
	for _, k := range after.Keys() {
		if after.Status(k) == Stale && s.Status(k) != Stale {
			stale = append(stale, k)
		}
	}
	return stale
}

func (s *State) decideEdit(e Entry) error {
	var b Edit
	if err := readNewBody(e, &b); err != nil {
		return err
	}
	if err := cmp.Or(s.needs(e, Lead), optionalSentence("about", b.About)); err != nil {
		return err
	}
	if n := len(b.Changes); n < 1 || n > maxChanges {
		return refuse("The edit has %s, wanted 1 to %d.", count(n, "change"), maxChanges)
	}
	seen := map[string]bool{}
	for _, c := range b.Changes {
		if seen[c.Part] {
			return refuse("The edit changes %s twice.", clip(c.Part))
		}
		seen[c.Part] = true
		if err := s.decideChange(c); err != nil {
			return err
		}
	}
	return nil
}

func (s *State) decideChange(c PartChange) error {
	before := s.Part(c.Part)
	switch {
	case c.Was != Hash(before):
		return refuse("%s", s.crossed(c.Part, before))
	case c.Now == before:
		return refuse("%s stays as it is: the edit changes nothing there.", clip(c.Part))
	case c.Now == "":
		return nil
	}
	var problems strict.Problems
	switch err := plan.CheckPart(plan.Part{Name: c.Part, Value: c.Now}); {
	case errors.As(err, &problems):
		return refuse("%s cannot be taken into the plan: %v", clip(c.Part), problems[0])
	case err != nil:
		return refuse("A plan has no part %q.", clip(c.Part))
	}
	return nil
}

// crossed says that somebody else changed a part first.
func (s *State) crossed(part, now string) string {
	what := "changed"
	if now == "" {
		what = "taken out"
	}
	by := ""
	if e, ok := s.LastEdit(part); ok {
		by = fmt.Sprintf(" by %s", e.Record.Entry.Who)
	} else if n := len(s.Revisions); n > 0 {
		by = fmt.Sprintf(" by revision %d", n)
	}
	return fmt.Sprintf("%s was %s%s after you opened it. Both are kept: look at the difference, then save yours again if it should stand.", part, what, by)
}

// applyEdit makes an accepted edit's changes.
func (s *State) applyEdit(r Record, b Edit) {
	draft, before := b.Of(s.Draft())
	s.draft = draft
	s.Edits = append(s.Edits, Edited{Record: r, Edit: b, Before: before})
}

// Of is what an edit makes of a draft, which stays as it is, and the value that each
// change replaces, "" where there was none.
func (e Edit) Of(draft []plan.Part) (after []plan.Part, before []string) {
	after, before = slices.Clone(draft), make([]string, len(e.Changes))
	for i, c := range e.Changes {
		at := slices.IndexFunc(after, func(p plan.Part) bool { return p.Name == c.Part })
		if at >= 0 {
			before[i] = after[at].Value
		}
		switch {
		case at >= 0 && c.Now == "":
			after = slices.Delete(after, at, at+1)
		case at >= 0:
			after[at].Value = c.Now
		case c.Now != "":
			after = append(after, plan.Part{Name: c.Part, Value: c.Now})
		}
	}
	return after, before
}

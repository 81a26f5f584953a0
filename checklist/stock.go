package checklist

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"hangtrue/checklist/plan"
)

// A Stock is how much of a part of the plan is on hand. Parts arrive over months:
// what is not here holds the steps that need it, and only those. A part of which
// nothing was ever noted holds nothing.
type Stock struct {
	Part   string `json:"part"`    // as package plan names it: "bracket/Wall bracket"
	OnHand int    `json:"on_hand"` // pieces; of a cable or an amplifier, 0 is none and more is enough
	// Expected is the day when more is to come, such as 2030-01-31; none if nobody knows.
	Expected string `json:"expected,omitempty"`
	Remark   string `json:"remark,omitempty"`
}

// A Stow puts something that was left over on the shelf.
type Stow struct {
	What   string `json:"what"`
	Count  int    `json:"count"`
	Where  string `json:"where"`
	Remark string `json:"remark,omitempty"`
}

// A Taking takes something from the shelf.
type Taking struct {
	Stow   string `json:"stow"` // id of the entry that put it there
	Count  int    `json:"count"`
	Reason string `json:"reason"`
}

// Stocked is the last note on a part.
type Stocked struct {
	Record Record
	Stock  Stock
}

// Stowed is something on the shelf, or that was there.
type Stowed struct {
	Record Record
	Stow   Stow
	Left   int
	Taken  []Record
}

// maxPieces bounds a count: more of one part than any house takes.
const maxPieces = 10_000

// stockKinds are the kinds of part that can be on hand, and how many pieces a mount
// needs of it; 0 where one serves them all.
var stockKinds = map[string]func(p *plan.Plan, m *plan.Mount) (name string, pieces int){
	"loudspeaker": func(_ *plan.Plan, m *plan.Mount) (string, int) { return m.Model, 1 },
	"bracket":     func(_ *plan.Plan, m *plan.Mount) (string, int) { return m.Bracket, 1 },
	"fixing": func(p *plan.Plan, m *plan.Mount) (string, int) {
		if b := p.Bracket(m.Bracket); b != nil {
			return m.Fixing, len(b.Holes)
		}
		return m.Fixing, 1
	},
	"cable":     func(_ *plan.Plan, m *plan.Mount) (string, int) { return m.Cable, 0 },
	"amplifier": func(_ *plan.Plan, m *plan.Mount) (string, int) { return m.Amplifier, 0 },
}

// StockKinds are the kinds of part that can be on hand, in the order in which they are fitted.
func StockKinds() []string {
	return []string{"loudspeaker", "bracket", "fixing", "cable", "amplifier"}
}

// Stock is the last note on a part, false if there is none.
func (s *State) Stock(part string) (Stocked, bool) {
	noted, ok := s.stock[part]
	return noted, ok
}

// Needed is how many pieces of a part all mounts of a plan need, and whether any uses it.
func Needed(p *plan.Plan, kind, name string) (pieces int, used bool) {
	of := stockKinds[kind]
	for i := range p.Mounts {
		if uses, n := of(p, &p.Mounts[i]); uses == name {
			pieces, used = pieces+n, true
		}
	}
	return pieces, used
}

// lacking says that a step waits for a part of this kind; the zero Hold if it does
// not. What other mounts took at the same step is in use.
func (s *State) lacking(k Key, kind string) Hold {
	p := s.Plan()
	name, pieces := stockKinds[kind](p, p.MountByChannel(k.Mount))
	noted, ok := s.stock[kind+"/"+name]
	if name == "" || !ok {
		return Hold{}
	}
	used := 0
	for i := range p.Mounts {
		m := &p.Mounts[i]
		if other, takes := stockKinds[kind](p, m); m.Channel != k.Mount && other == name && s.steps[Key{k.Step, m.Channel}] != nil {
			used += takes
		}
	}
	if noted.Stock.OnHand >= max(1, used+pieces) {
		return Hold{}
	}
	says := fmt.Sprintf("%s is not on hand", name)
	if noted.Stock.OnHand > 0 {
		says = fmt.Sprintf("%s: %d on hand, %d in use, %d needed here", name, noted.Stock.OnHand, used, pieces)
	}
	if noted.Stock.Expected != "" {
		says += ", expected " + noted.Stock.Expected
	}
	return Hold{Part: noted.Stock.Part, Text: says + "."}
}

func (s *State) decideStock(e Entry) error {
	var b Stock
	if err := readNewBody(e, &b); err != nil {
		return err
	}
	if err := s.needs(e, Installer); err != nil {
		return err
	}
	if kind, _, ok := strings.Cut(b.Part, "/"); !ok || stockKinds[kind] == nil {
		return refuse("%q is nothing that can be on hand.", clip(b.Part))
	}
	if b.OnHand < 0 || b.OnHand > maxPieces {
		return refuse("%d pieces on hand will not do: wanted 0 to %d.", b.OnHand, maxPieces)
	}
	if b.Expected != "" {
		if _, err := time.Parse(time.DateOnly, b.Expected); err != nil {
			return refuse("%q is no day, wanted one such as 2030-01-31.", clip(b.Expected))
		}
	}
	return optionalSentence("remark", b.Remark)
}

func (s *State) decideStow(e Entry) error {
	var b Stow
	if err := readNewBody(e, &b); err != nil {
		return err
	}
	if err := cmp.Or(s.needs(e, Installer), sentence("what", b.What, maxTitle), sentence("where", b.Where, maxTitle), optionalSentence("remark", b.Remark)); err != nil {
		return err
	}
	if b.Count < 1 || b.Count > maxPieces {
		return refuse("%d pieces will not do: wanted 1 to %d.", b.Count, maxPieces)
	}
	return nil
}

func (s *State) decideTaking(e Entry) error {
	var b Taking
	if err := readNewBody(e, &b); err != nil {
		return err
	}
	if err := cmp.Or(s.needs(e, Installer), sentence("reason", b.Reason, maxReason)); err != nil {
		return err
	}
	i := s.stowed(b.Stow)
	if i < 0 {
		return refuse("Nothing was put on the shelf by that entry.")
	}
	if left := s.Shelf[i].Left; b.Count < 1 || b.Count > left {
		return refuse("%d cannot be taken: %d of %s are on the shelf.", b.Count, left, s.Shelf[i].Stow.What)
	}
	return nil
}

// stowed is the place of what an entry put on the shelf, -1 if it put nothing there.
func (s *State) stowed(id string) int {
	return slices.IndexFunc(s.Shelf, func(x Stowed) bool { return x.Record.Entry.ID == id })
}

func (s *State) applyStock(r Record) {
	var b Stock
	if readBody(r.Entry, &b) != nil {
		return
	}
	if s.stock == nil {
		s.stock = map[string]Stocked{}
	}
	s.stock[b.Part] = Stocked{r, b}
}

func (s *State) applyShelf(r Record) {
	switch r.Entry.Kind {
	case PartStowed:
		var b Stow
		if readBody(r.Entry, &b) == nil {
			s.Shelf = append(s.Shelf, Stowed{Record: r, Stow: b, Left: b.Count})
		}
	case PartTaken:
		var b Taking
		if readBody(r.Entry, &b) != nil {
			return
		}
		if i := s.stowed(b.Stow); i >= 0 {
			s.Shelf = slices.Clone(s.Shelf) // which a clone of this state may show as it was
			s.Shelf[i].Left -= b.Count
			s.Shelf[i].Taken = append(slices.Clip(s.Shelf[i].Taken), r)
		}
	}
}

package checklist

import (
	"cmp"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"

	"hangtrue/checklist/plan"
)

// snapshotEdition numbers what a snapshot means. It goes up with every change of
// [State.Fold] or of what a state holds, and when plan.Decode refuses what it took
// before; a snapshot of another edition is no use.
const snapshotEdition = 2

// ErrSnapshot is wrapped by every reason why a state cannot be resumed. The log tells
// all that the snapshot would.
var ErrSnapshot = errors.New("checklist: not a snapshot to go on from")

// A snapshot is what a state's log adds up to, up to a position. It has no record:
// where one matters it has its position, and what the record says is read from the
// log. What depends on no step (plans, drafts, stock) is folded again.
type snapshot struct {
	Edition  int    `json:"edition"`
	Template string `json:"template"` // its digest
	Job      string `json:"job"`
	Head     int64  `json:"head"`
	Last     string `json:"last"` // SHA-256 of the last record's leaf, in hex
	Locked   bool   `json:"locked,omitempty"`

	Folded     places           `json:"folded"` // what made title, plans, draft and whatever depends on no step
	Plans      places           `json:"plans"`  // of these, the plans that came into force
	Evidence   []keptEvidence   `json:"evidence"`
	History    []keptHistory    `json:"history"`
	Refused    places           `json:"refused"`
	Remarks    places           `json:"remarks"`
	Photos     places           `json:"photos"` // of records that name some
	Signatures []keptSignature  `json:"signatures"`
	Numbers    map[string]int64 `json:"numbers"`
}

type keptEvidence struct {
	Key
	Record     int64      `json:"record"`
	Concession int64      `json:"concession,omitempty"`
	Revision   int        `json:"revision"`
	Rested     []keptRest `json:"rested,omitempty"`
}

type keptRest struct {
	Key
	ID string `json:"id"`
}

type keptHistory struct {
	Key
	At places `json:"at"`
}

type keptSignature struct {
	Record int64 `json:"record"`
	Since  int   `json:"since"`
}

// places are rising positions, each as what it adds to the one before (unsigned
// varints, in base64 in JSON).
type places []byte

func placesOf(positions []int64) (p places) {
	last := int64(0)
	for _, at := range positions {
		p = binary.AppendUvarint(p, uint64(at-last))
		last = at
	}
	return p
}

// positions are those that come to no more than the head.
func (p places) positions(head int64) ([]int64, error) {
	var all []int64
	last := uint64(0)
	for len(p) > 0 {
		step, n := binary.Uvarint(p)
		if n <= 0 || step == 0 || step > uint64(head) || last+step > uint64(head) {
			return nil, fmt.Errorf("%w: its positions do not rise up to %d", ErrSnapshot, head)
		}
		last += step
		all = append(all, int64(last))
		p = p[n:]
	}
	return all, nil
}

// Snapshot writes the state down so that [Resume] can go on from it; nil where
// something is folded that has no place in the log, or none is.
func (s *State) Snapshot() []byte {
	if s.Head == 0 || int64(s.Entries) != s.Head || s.last.Position != s.Head || s.fault != nil {
		return nil
	}
	shot := snapshot{
		Edition: snapshotEdition, Template: s.Template.Digest(), Job: s.Job, Head: s.Head, Last: leafHash(s.last),
		Locked: s.locked, Folded: placesOf(s.others), Refused: placesOf(s.refused.positions()), Remarks: placesOf(s.remarks.positions()), Numbers: s.numbers,
	}
	var named []int64
	for _, p := range s.Photos {
		named = append(named, p.Record.Position)
	}
	shot.Photos = placesOf(slices.Compact(named))
	var plans []int64
	for _, r := range s.Revisions {
		plans = append(plans, r.Record.Position)
	}
	shot.Plans = placesOf(plans)
	for _, k := range sortedKeys(s.steps) {
		e := s.steps[k]
		kept := keptEvidence{Key: k, Record: e.Record.Position, Revision: e.revision}
		if e.Concession != nil {
			kept.Concession = e.Concession.Position
		}
		for _, under := range sortedKeys(e.rested) {
			kept.Rested = append(kept.Rested, keptRest{under, e.rested[under]})
		}
		shot.Evidence = append(shot.Evidence, kept)
	}
	for _, k := range sortedKeys(s.history) {
		shot.History = append(shot.History, keptHistory{k, placesOf(s.history[k].positions())})
	}
	for _, sig := range s.Signatures {
		shot.Signatures = append(shot.Signatures, keptSignature{sig.Record.Position, sig.Since})
	}
	data, _ := json.Marshal(shot) // whole numbers and texts always encode
	return data
}

func sortedKeys[V any](m map[Key]V) []Key {
	return slices.SortedFunc(maps.Keys(m), func(a, b Key) int {
		return cmp.Or(cmp.Compare(a.Step, b.Step), cmp.Compare(a.Mount, b.Mount))
	})
}

func leafHash(r Record) string {
	sum := sha256.Sum256(r.Leaf())
	return hex.EncodeToString(sum[:])
}

// Resume is the state that a snapshot was taken of. It is refused with [ErrSnapshot]
// where this program, the template or the log is another one than it was taken with;
// other errors are the past's. Records are folded onto it from the one after its
// head on.
func Resume(t *Template, job string, data []byte, past Past) (*State, error) {
	return resume(t, job, data, past, func(_ int64, leaf string, last Record) bool { return leafHash(last) == leaf })
}

// resume is [Resume] with a way of its own to tell that the log is the one that the
// snapshot was taken of, by its head, the hash of the leaf there, and the record.
func resume(t *Template, job string, data []byte, past Past, same func(head int64, leaf string, last Record) bool) (*State, error) {
	shot, ok := canonicalSnapshot(data)
	if !ok {
		shot = snapshot{}
		if err := decodeStrict(data, &shot); err != nil {
			return nil, fmt.Errorf("%w: %v", ErrSnapshot, err)
		}
	}
	if shot.Edition != snapshotEdition || shot.Template != t.Digest() || shot.Job != job || shot.Head < 1 {
		return nil, fmt.Errorf("%w: it is of another edition or job", ErrSnapshot)
	}
	s := NewState(t, job)
	s.past, s.resumed = past, shot.Head
	r := resuming{s, shot, same}
	for _, step := range []func() error{r.end, r.folded, r.evidence, r.photos, r.trails, r.signatures} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	s.Head, s.Entries, s.locked = shot.Head, int(shot.Head), shot.Locked
	maps.Copy(s.numbers, shot.Numbers)
	return s, nil
}

// canonicalSnapshot reads a snapshot as [State.Snapshot] spells it, with plain texts. ok is
// false for every other spelling.
func canonicalSnapshot(data []byte) (shot snapshot, ok bool) {
	c := cursor{string(data), true}
	c.skip(`{"edition":`)
	shot.Edition = int(c.number())
	c.skip(`,"template":"`)
	shot.Template = c.plain()
	c.skip(`,"job":"`)
	shot.Job = c.plain()
	c.skip(`,"head":`)
	shot.Head = c.number()
	c.skip(`,"last":"`)
	shot.Last = c.plain()
	shot.Locked = c.has(`,"locked":true`)
	c.skip(`,"folded":`)
	shot.Folded = c.places()
	c.skip(`,"plans":`)
	shot.Plans = c.places()
	c.skip(`,"evidence":`)
	c.list(func() {
		kept := keptEvidence{Key: c.key()}
		c.skip(`,"record":`)
		kept.Record = c.number()
		if c.has(`,"concession":`) {
			kept.Concession = c.number()
		}
		c.skip(`,"revision":`)
		kept.Revision = int(c.number())
		if c.has(`,"rested":`) {
			c.list(func() {
				rest := keptRest{Key: c.key()}
				c.skip(`,"id":"`)
				rest.ID = c.plain()
				kept.Rested = append(kept.Rested, rest)
			})
		}
		shot.Evidence = append(shot.Evidence, kept)
	})
	c.skip(`,"history":`)
	c.list(func() {
		kept := keptHistory{Key: c.key()}
		c.skip(`,"at":`)
		kept.At = c.places()
		shot.History = append(shot.History, kept)
	})
	c.skip(`,"refused":`)
	shot.Refused = c.places()
	c.skip(`,"remarks":`)
	shot.Remarks = c.places()
	c.skip(`,"photos":`)
	shot.Photos = c.places()
	c.skip(`,"signatures":`)
	c.list(func() {
		var kept keptSignature
		c.skip(`{"record":`)
		kept.Record = c.number()
		c.skip(`,"since":`)
		kept.Since = int(c.number())
		shot.Signatures = append(shot.Signatures, kept)
	})
	c.skip(`,"numbers":{`)
	shot.Numbers = map[string]int64{}
	for first := true; c.ok && !c.has("}"); first = false {
		if !first {
			c.skip(",")
		}
		c.skip(`"`)
		device := c.plain()
		c.skip(`:`)
		shot.Numbers[device] = c.number()
	}
	return shot, c.ok && c.rest == "}"
}

// places reads positions as they stand in JSON.
func (c *cursor) places() places {
	if c.has("null") {
		return nil
	}
	c.skip(`"`)
	p, err := base64.StdEncoding.DecodeString(c.plain())
	c.ok = c.ok && err == nil
	return p
}

// list reads an array of objects up to the brace that ends each, or null.
func (c *cursor) list(one func()) {
	if c.has("null") {
		return
	}
	c.skip("[")
	for first := true; c.ok && !c.has("]"); first = false {
		if !first {
			c.skip(",")
		}
		one()
		c.skip("}")
	}
}

// key reads the members that an object begins with.
func (c *cursor) key() (k Key) {
	c.skip(`{"Step":"`)
	k.Step = c.plain()
	c.skip(`,"Mount":"`)
	k.Mount = c.plain()
	return k
}

type resuming struct {
	state *State
	shot  snapshot
	same  func(head int64, leaf string, last Record) bool
}

// at gives the records at positions, which the log has to have.
func (r *resuming) at(positions []int64) ([]Record, error) {
	if len(positions) == 0 {
		return nil, nil
	}
	for _, at := range positions {
		if at < 1 || at > r.shot.Head {
			return nil, fmt.Errorf("%w: it names record %d and goes up to %d", ErrSnapshot, at, r.shot.Head)
		}
	}
	records, err := r.state.past.At(positions)
	if err == nil && len(records) != len(positions) {
		err = fmt.Errorf("%w: the log is shorter", ErrSnapshot)
	}
	return records, err
}

// end sees that the log is the one that the snapshot was taken of.
func (r *resuming) end() error {
	last, err := r.at([]int64{r.shot.Head})
	if err != nil {
		return err
	}
	if !r.same(r.shot.Head, r.shot.Last, last[0]) {
		return fmt.Errorf("%w: the log up to record %d is another one", ErrSnapshot, r.shot.Head)
	}
	r.state.last = last[0]
	return nil
}

func (r *resuming) folded() error {
	positions, err := r.shot.Folded.positions(r.shot.Head)
	if err != nil {
		return err
	}
	plans, err := r.shot.Plans.positions(r.shot.Head)
	if err != nil {
		return err
	}
	records, err := r.at(positions)
	for _, record := range records {
		if record.Entry.Kind != PlanSettled {
			r.state.apply(record)
			continue
		}
		r.state.others = append(r.state.others, record.Position)
		if slices.Contains(plans, record.Position) { // which was held against everything before
			r.state.applyPlan(record, plan.Read)
		}
	}
	if err == nil && len(r.state.Revisions) != len(plans) {
		err = fmt.Errorf("%w: its plans cannot be read", ErrSnapshot)
	}
	return err
}

func (r *resuming) photos() error {
	positions, err := r.shot.Photos.positions(r.shot.Head)
	if err != nil {
		return err
	}
	records, err := r.at(positions)
	for _, record := range records {
		r.state.name(record)
	}
	return err
}

func (r *resuming) evidence() error {
	s := r.state
	var positions []int64
	for _, kept := range r.shot.Evidence {
		positions = append(positions, kept.Record)
		if kept.Concession != 0 {
			positions = append(positions, kept.Concession)
		}
	}
	records, err := r.at(positions)
	if err != nil {
		return err
	}
	for _, kept := range r.shot.Evidence {
		e := &Evidence{Record: records[0], revision: kept.Revision, rested: map[Key]string{}}
		records = records[1:]
		if err := readBody(e.Record.Entry, &e.Recording); err != nil {
			return fmt.Errorf("%w: record %d: %v", ErrSnapshot, kept.Record, err)
		}
		if kept.Concession != 0 {
			concession := records[0]
			records = records[1:]
			var b Reasoned
			if err := readBody(concession.Entry, &b); err != nil {
				return fmt.Errorf("%w: record %d: %v", ErrSnapshot, kept.Concession, err)
			}
			e.Concession, e.Reason = &concession, b.Reason
		}
		for _, rest := range kept.Rested {
			e.rested[rest.Key] = rest.ID
		}
		s.steps[kept.Key] = e
	}
	return nil
}

func (r *resuming) trails() (err error) {
	positions := func(p places) (all []int64) {
		if err == nil {
			all, err = p.positions(r.shot.Head)
		}
		return all
	}
	r.state.refused.past, r.state.remarks.past = positions(r.shot.Refused), positions(r.shot.Remarks)
	for _, h := range r.shot.History {
		r.state.history[h.Key] = trail{past: positions(h.At)}
	}
	return err
}

func (r *resuming) signatures() error {
	var positions []int64
	for _, kept := range r.shot.Signatures {
		positions = append(positions, kept.Record)
	}
	records, err := r.at(positions)
	for i, record := range records {
		sig := Signature{Record: record, Since: r.shot.Signatures[i].Since}
		if err := readBody(record.Entry, &sig.Signing); err != nil {
			return fmt.Errorf("%w: record %d: %v", ErrSnapshot, record.Position, err)
		}
		r.state.Signatures = append(r.state.Signatures, sig)
	}
	return err
}

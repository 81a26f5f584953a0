package checklist

import (
	"fmt"
	"maps"
	"slices"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
)

// A Status of a step.
type Status string

const (
	Held     Status = "held"     // a hold point before it is not met
	Ready    Status = "ready"    // may be done now
	Done     Status = "done"     // recorded, and within
	Stale    Status = "stale"    // something it rested on changed since
	Conceded Status = "conceded" // off plan, with a lead's reason
)

// A Key names a step of one mount, or of the job when Mount is empty.
type Key struct{ Step, Mount string }

// A Hold is one reason why a step may not be recorded yet.
type Hold struct {
	Key  Key    // the step that is waited for; zero when it is something else
	Part string // the part that is not on hand, where that is what is waited for
	Text string // one sentence for a person
}

// Evidence is what a step's status stands on: a recording, and perhaps the
// concession that passed it.
type Evidence struct {
	Record     Record
	Recording  Recording
	Concession *Record // nil unless conceded
	Reason     string  // of the concession

	revision int            // the plan in force when it was recorded or conceded
	rested   map[Key]string // evidence ids of the steps it rested on, then
}

// id changes whenever what the evidence says changes.
func (e *Evidence) id() string {
	if e.Concession != nil {
		return e.Concession.Entry.ID
	}
	return e.Record.Entry.ID
}

func (e *Evidence) passed() bool {
	return e.Record.Outcome == within || e.Concession != nil
}

// A Revision of the plan as it was settled.
type Revision struct {
	Number int
	SHA256 string
	Reason string
	Record Record
	Plan   *plan.Plan
}

// Document is the plan document as it was settled, to the byte.
func (r Revision) Document() []byte {
	var b Settlement
	if readBody(r.Record.Entry, &b) != nil {
		return nil // which was read when it was folded
	}
	return []byte(b.Plan)
}

// A Signature is a sign-off as the log holds it.
type Signature struct {
	Record  Record
	Signing Signing
	// Since counts the accepted entries that came after it; 0 while it stands for
	// the job as it is.
	Since int
}

// Outcomes of a recorded step, as a [Decision] keeps them.
const (
	within  = "within"
	outside = "outside"
	unsure  = "unsure"
)

// A State is what a log adds up to. The zero value is not usable: see [NewState].
// It changes by [State.Fold] only and is not safe for concurrent use.
type State struct {
	Template *Template
	Job      string
	Title    string
	Head     int64 // position of the last record folded from the server
	Entries  int   // records folded, of any decision

	Revisions  []Revision
	Photos     []PhotoNamed       // photos that entries name, refused ones too, oldest first
	Edits      []Edited           // of the draft, oldest first
	Shelf      []Stowed           // what was left over, oldest first
	Signatures []Signature        // sign-offs, oldest first
	locked     bool               // signed off, and nothing reopened since
	stock      map[string]Stocked // the last note on each part
	draft      []plan.Part        // nil while it is the plan in force; never changed in place

	refused  trail // refused entries
	remarks  trail // free remarks
	steps    map[Key]*Evidence
	history  map[Key]trail // every accepted entry that names the step
	seen     decisions
	numbers  map[string]int64   // the last number of each device
	statuses map[Key]Status     // derived, and dropped when a step may have changed
	progress *progress          // derived from them, and dropped with them
	prints   map[printed]uint64 // fingerprints of plan inputs, worked out when a revision makes them differ

	others  []int64 // positions of accepted entries that are about no step, remarks and sign-offs left out
	last    Record  // the last of the server's that was folded
	past    Past    // nil unless the state was resumed
	resumed int64   // the position behind which it was
	fault   error   // why the past could not be read
}

// NewState is the state of a job whose log is empty.
func NewState(t *Template, job string) *State {
	return &State{
		Template: t, Job: job,
		steps: map[Key]*Evidence{}, history: map[Key]trail{},
		numbers: map[string]int64{},
	}
}

// Clone is a state that can be folded further without changing this one. It costs
// something for each step and device and nothing for each entry.
func (s *State) Clone() *State {
	c := *s
	// These lists only grow: what this state appends lies beyond the clone's end, and
	// what the clone appends goes into a list of its own.
	c.Revisions = slices.Clip(s.Revisions)
	c.refused, c.remarks = s.refused.clip(), s.remarks.clip()
	c.Photos = slices.Clip(s.Photos)
	c.Edits = slices.Clip(s.Edits)
	c.Shelf = slices.Clip(s.Shelf)
	c.stock = maps.Clone(s.stock)
	c.Signatures = slices.Clone(s.Signatures)
	c.others = slices.Clip(s.others)
	c.steps = maps.Clone(s.steps)
	c.history = make(map[Key]trail, len(s.history))
	for k, h := range s.history {
		c.history[k] = h.clip()
	}
	c.seen = s.seen.fork()
	c.numbers = maps.Clone(s.numbers)
	c.statuses, c.prints = maps.Clone(s.statuses), maps.Clone(s.prints)
	return &c
}

// Plan is the plan in force, nil before the first is settled.
func (s *State) Plan() *plan.Plan {
	if len(s.Revisions) == 0 {
		return nil
	}
	return s.Revisions[len(s.Revisions)-1].Plan
}

// Revision is the number of the plan in force, 0 before the first.
func (s *State) Revision() int { return len(s.Revisions) }

// Edition is that of the steps by which the log's last record was decided, see [Decision].
// One that is newer than the template's is no reason to decide by older steps: a program
// that finds it decides nothing on the job.
func (s *State) Edition() int { return s.last.Edition }

// LastNumber is the number of the device's last entry, 0 if it has none.
func (s *State) LastNumber(device string) int64 { return s.numbers[device] }

// Evidence is what the step stands on, nil if nothing valid was recorded.
func (s *State) Evidence(k Key) *Evidence { return s.steps[k] }

// Locked tells whether the job is signed off and nothing was reopened since.
func (s *State) Locked() bool { return s.locked }

// Mounts are the channels of the plan in force, in its order.
func (s *State) Mounts() []string {
	if s.Plan() == nil {
		return nil
	}
	names := make([]string, len(s.Plan().Mounts))
	for i, m := range s.Plan().Mounts {
		names[i] = m.Channel
	}
	return names
}

// Applies tells whether the step exists for the mount: a step for hung mounts
// does not exist for one that stands.
func (s *State) Applies(step *Step, mount string) bool {
	if step.Scope == PerJob {
		return mount == ""
	}
	m := s.mount(mount)
	return m != nil && (!step.Hung || m.Bracket != "")
}

func (s *State) mount(channel string) *plan.Mount {
	if p := s.Plan(); p != nil {
		return p.MountByChannel(channel)
	}
	return nil
}

// Keys are all steps of the job as the plan in force has them: the steps in the
// template's order, a mount's step once for each mount it applies to.
func (s *State) Keys() []Key {
	var keys []Key
	for _, step := range s.Template.Steps {
		keys = append(keys, s.keysOf(step)...)
	}
	return keys
}

func (s *State) keysOf(step *Step) []Key {
	if step.Scope == PerJob {
		return []Key{{Step: step.ID}}
	}
	var keys []Key
	for _, mount := range s.Mounts() {
		if s.Applies(step, mount) {
			keys = append(keys, Key{step.ID, mount})
		}
	}
	return keys
}

// Progress counts the steps of the job that are done or conceded, and all of them.
func (s *State) Progress() (done, all int) {
	if s.progress == nil {
		done, all := s.ProgressOf(s.Keys())
		s.progress = &progress{done, all}
	}
	return s.progress.done, s.progress.all
}

type progress struct{ done, all int }

// ProgressOf is Progress of some of the steps.
func (s *State) ProgressOf(keys []Key) (done, all int) {
	for _, k := range keys {
		if status := s.Status(k); status == Done || status == Conceded {
			done++
		}
	}
	return done, len(keys)
}

// unsettle drops what was derived of steps that may have changed.
func (s *State) unsettle() { s.statuses, s.progress = nil, nil }

// prerequisites are the keys that a list of step ids means for this key: the same
// mount's step, or a step of the job, or, from a step of the job, that step on
// every mount. A step that does not apply to the mount is passed over.
func (s *State) prerequisites(k Key, ids []string) []Key {
	var keys []Key
	for _, id := range ids {
		step := s.Template.Step(id)
		switch {
		case step.Scope == PerJob:
			keys = append(keys, Key{Step: id})
		case k.Mount == "":
			keys = append(keys, s.keysOf(step)...)
		case s.Applies(step, k.Mount):
			keys = append(keys, Key{id, k.Mount})
		}
	}
	return keys
}

// Status of a step as the log stands.
func (s *State) Status(k Key) Status {
	if status, ok := s.statuses[k]; ok {
		return status
	}
	status := s.status(k)
	if s.statuses == nil {
		s.statuses = make(map[Key]Status, 128)
	}
	s.statuses[k] = status
	return status
}

func (s *State) status(k Key) Status {
	switch step := s.Template.Step(k.Step); {
	case step.Kind == PlanSettled:
		if s.Plan() != nil {
			return Done
		}
	case step.Kind == JobSigned:
		if s.locked {
			return Done
		}
	default:
		if e := s.steps[k]; e != nil && e.passed() {
			if len(s.StaleBecause(k)) > 0 {
				return Stale
			}
			if e.Concession != nil {
				return Conceded
			}
			return Done
		}
	}
	if len(s.Holds(k)) > 0 {
		return Held
	}
	return Ready
}

// passes tells whether a step may be built upon.
func (s *State) passes(k Key) bool {
	status := s.Status(k)
	return status == Done || status == Conceded
}

// Holds are the reasons why the step may not be recorded now, empty if it may.
// The template's order makes this end: a step waits only for steps before it.
func (s *State) Holds(k Key) []Hold {
	step := s.Template.Step(k.Step)
	var holds []Hold
	if s.locked && step.Kind != PlanSettled {
		holds = append(holds, Hold{Text: "The job is signed off. A lead can reopen a step or settle a new revision."})
	}
	for _, before := range s.prerequisites(k, step.After) {
		if !s.passes(before) {
			holds = append(holds, Hold{Key: before, Text: s.wanting(k, before)})
		}
	}
	if k.Mount != "" && s.mount(k.Mount) != nil {
		for _, kind := range step.Needs {
			if hold := s.lacking(k, kind); hold.Text != "" {
				holds = append(holds, hold)
			}
		}
	}
	return holds
}

// wanting says in one sentence what is missing at a step that another waits for.
func (s *State) wanting(k, before Key) string {
	name := s.Template.Step(before.Step).Title
	if before.Mount != k.Mount && before.Mount != "" {
		name = before.Mount + " " + name
	}
	e := s.steps[before]
	switch {
	case s.Status(before) == Stale:
		return fmt.Sprintf("%s has to be looked at again: %s", name, s.StaleBecause(before)[0])
	case e != nil && e.Record.Outcome == outside:
		return name + " is outside its tolerance."
	case e != nil && e.Record.Outcome == unsure:
		return name + " is unsure."
	default:
		return name + " is not done."
	}
}

// StaleBecause says what a recorded step rested on has changed since, one
// sentence each; empty if nothing has.
func (s *State) StaleBecause(k Key) []string {
	e := s.steps[k]
	if e == nil {
		return nil
	}
	step := s.Template.Step(k.Step)
	var because []string
	if now := s.Revision(); e.revision != now && s.print(k, e.revision) != s.print(k, now) {
		because = append(because, "the plan changed here.")
	}
	for _, under := range s.prerequisites(k, step.RestsOn) {
		name := s.Template.Step(under.Step).Title
		if under.Mount != k.Mount && under.Mount != "" {
			name = under.Mount + " " + name
		}
		if s.Template.Step(under.Step).Kind != StepRecorded {
			continue // a plan's change shows in the inputs
		}
		now := s.steps[under]
		switch {
		case now == nil || !now.passed():
			because = append(because, name+" no longer stands.")
		case now.id() != e.rested[under]:
			because = append(because, name+" was done again.")
		case s.Status(under) == Stale:
			because = append(because, name+" is stale.")
		}
	}
	return because
}

// printed names the plan inputs of a step under one revision.
type printed struct {
	Key
	revision int
}

// print is the fingerprint of the step's plan inputs under a revision.
func (s *State) print(k Key, revision int) uint64 {
	at := printed{k, revision}
	if p, ok := s.prints[at]; ok {
		return p
	}
	var p uint64
	if revision >= 1 && revision <= len(s.Revisions) {
		plan := s.Revisions[revision-1].Plan
		if m := plan.MountByChannel(k.Mount); m != nil || k.Mount == "" {
			p = fingerprint(s.Template.Step(k.Step), plan, m)
		}
	}
	if s.prints == nil {
		s.prints = map[printed]uint64{}
	}
	s.prints[at] = p
	return p
}

// rested notes what a step rests on as it is recorded now.
func (s *State) restedOn(k Key) map[Key]string {
	rested := map[Key]string{}
	for _, under := range s.prerequisites(k, s.Template.Step(k.Step).RestsOn) {
		if e := s.steps[under]; e != nil {
			rested[under] = e.id()
		}
	}
	return rested
}

// Next is the step to do now: for a mount its first that is ready or stale and
// free of holds; for the job (empty mount) the first such step of any key. The
// second result is false when nothing can be done.
func (s *State) Next(mount string) (Key, bool) {
	for _, k := range s.Keys() {
		if mount != "" && k.Mount != mount {
			continue
		}
		if status := s.Status(k); (status == Ready || status == Stale) && len(s.Holds(k)) == 0 {
			return k, true
		}
	}
	return Key{}, false
}

// Case is what the step's check functions see when this is recorded now.
func (s *State) Case(r Recording) judge.Case {
	return judge.Case{
		Plan: s.Plan(), Mount: s.mount(r.Mount), Measured: r.Measured, Chosen: r.Chosen,
		Prior: func(step, mount string) (judge.Evidence, bool) {
			e := s.steps[Key{step, mount}]
			if e == nil {
				return judge.Evidence{}, false
			}
			return judge.Evidence{Measured: e.Recording.Measured, Chosen: e.Recording.Chosen}, true
		},
	}
}

// Checks judges a recording against the plan and the evidence in force.
func (s *State) Checks(r Recording) []judge.Check {
	step := s.Template.Step(r.Step)
	if step == nil || s.Plan() == nil || !s.Applies(step, r.Mount) {
		return nil
	}
	return judge.Run(step.Checks, s.Case(r))
}

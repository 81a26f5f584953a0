package checklist

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"slices"
	"unicode/utf8"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
)

// A Refusal is why an entry may not become part of the job's state: one sentence
// for the person who made it.
type Refusal string

func (r Refusal) Error() string { return string(r) }

func refuse(format string, args ...any) error { return Refusal(fmt.Sprintf(format, args...)) }

// Decide holds an entry against the state: who made it, what it says, the hold
// points, and, for a recorded step, the checks. It changes nothing. The server
// calls it once for each entry and keeps the answer; a phone calls it to show at
// once what the server will most likely say.
func (s *State) Decide(e Entry) Decision {
	d, err := s.decide(e)
	if err != nil {
		d = Decision{Reason: err.Error()}
	}
	d.Accepted, d.Edition = err == nil, s.Template.Version
	return d
}

func (s *State) decide(e Entry) (Decision, error) {
	if e.Job != s.Job {
		return Decision{}, refuse("The entry belongs to another job.")
	}
	if !e.alike {
		if again, err := json.Marshal(e); err != nil || !bytes.Equal(again, e.raw) {
			return Decision{}, refuse("The entry is not written as this program writes it.")
		}
	}
	if last := s.numbers[e.Device]; e.Number <= last {
		return Decision{}, refuse("Number %d of this device was used by another entry; the next is %d.", e.Number, last+1)
	}
	if (e.Kind == JobOpened) != (s.Title == "") {
		if s.Title == "" {
			return Decision{}, refuse("The job has not been opened yet.")
		}
		return Decision{}, refuse("The job is open already.")
	}
	switch e.Kind {
	case JobOpened:
		var b Opening
		if err := readNewBody(e, &b); err != nil {
			return Decision{}, err
		}
		return Decision{}, cmp.Or(s.needs(e, Lead), sentence("title", b.Title, maxTitle))
	case DraftEdited:
		return Decision{}, s.decideEdit(e)
	case PlanSettled:
		return Decision{}, s.decideSettlement(e)
	case StepRecorded:
		return s.decideRecording(e)
	case StepConceded:
		return Decision{}, s.decideConcession(e)
	case StepReopened:
		return Decision{}, s.decideReopening(e)
	case RemarkWritten:
		return Decision{}, s.decideRemark(e)
	case PartNoted:
		return Decision{}, s.decideStock(e)
	case PartStowed:
		return Decision{}, s.decideStow(e)
	case PartTaken:
		return Decision{}, s.decideTaking(e)
	case JobSigned:
		return Decision{}, s.decideSigning(e)
	}
	return Decision{}, refuse("This edition of the program does not know entries of kind %q.", e.Kind)
}

func (s *State) decideRemark(e Entry) error {
	var b Remark
	if err := readNewBody(e, &b); err != nil {
		return err
	}
	text := sentence("text", b.Text, maxReason)
	if b.Text == "" && len(b.Photos) > 0 {
		text = nil
	}
	return cmp.Or(s.needs(e, Installer), text, s.decidePhotos(e, b.Photos))
}

func (s *State) decideSettlement(e Entry) error {
	var b Settlement
	if err := readNewBody(e, &b); err != nil {
		return err
	}
	if err := cmp.Or(s.needs(e, Lead), sentence("reason", b.Reason, maxReason)); err != nil {
		return err
	}
	if b.Revision != s.Revision()+1 {
		return refuse("This would be revision %d, but the plan in force is revision %d.", b.Revision, s.Revision())
	}
	if b.Edits != 0 && b.Edits != len(s.Edits) {
		return refuse("The draft was changed while it was read: it was read with %s, it has %d.", count(b.Edits, "edit"), len(s.Edits))
	}
	if sum := sha256.Sum256([]byte(b.Plan)); hex.EncodeToString(sum[:]) != b.SHA256 {
		return refuse("The plan document is not the one its SHA-256 names.")
	}
	if _, err := plan.Decode([]byte(b.Plan)); err != nil {
		return refuse("The plan cannot be settled: %v", err)
	}
	return nil
}

func (s *State) decideRecording(e Entry) (Decision, error) {
	var b Recording
	if err := readNewBody(e, &b); err != nil {
		return Decision{}, err
	}
	step, err := s.step(b.Step, b.Mount)
	if err != nil {
		return Decision{}, err
	}
	if step.Kind != StepRecorded {
		return Decision{}, refuse("%s is not recorded; it has an entry of its own.", step.Title)
	}
	if err := cmp.Or(s.needs(e, step.Role), s.validate(step, b), s.decidePhotos(e, b.Photos)); err != nil {
		return Decision{}, err
	}
	if holds := s.Holds(Key{b.Step, b.Mount}); len(holds) > 0 {
		return Decision{}, refuse("%s is held: %s", step.Title, holds[0].Text)
	}
	verdict, barred := judge.Worst(judge.Run(step.Checks, s.Case(b)))
	return Decision{Outcome: verdict.String(), Barred: barred}, nil
}

func (s *State) decideConcession(e Entry) error {
	k, step, err := s.readReasoned(e, Lead)
	if err != nil {
		return err
	}
	evidence := s.steps[k]
	if evidence == nil {
		return refuse("%s has nothing recorded that could be conceded.", step.Title)
	}
	if status := s.Status(k); status == Done || status == Conceded {
		return refuse("%s stands; there is nothing to concede.", step.Title)
	}
	if evidence.Record.Barred != "" {
		return refuse("%s cannot be conceded: it failed %s. Put it right and record it again.", step.Title, evidence.Record.Barred)
	}
	if holds := s.Holds(k); len(holds) > 0 {
		return refuse("%s is held: %s", step.Title, holds[0].Text)
	}
	return nil
}

func (s *State) decideReopening(e Entry) error {
	role := Installer
	if s.locked {
		role = Lead
	}
	k, step, err := s.readReasoned(e, role)
	if err != nil {
		return err
	}
	if s.steps[k] == nil {
		return refuse("%s is open: nothing valid is recorded.", step.Title)
	}
	return nil
}

func (s *State) readReasoned(e Entry, role Role) (Key, *Step, error) {
	var b Reasoned
	if err := readNewBody(e, &b); err != nil {
		return Key{}, nil, err
	}
	step, err := s.step(b.Step, b.Mount)
	if err != nil {
		return Key{}, nil, err
	}
	return Key{b.Step, b.Mount}, step, cmp.Or(s.needs(e, role), sentence("reason", b.Reason, maxReason))
}

func (s *State) decideSigning(e Entry) error {
	var b Signing
	if err := readNewBody(e, &b); err != nil {
		return err
	}
	if err := s.needs(e, Lead); err != nil {
		return err
	}
	if err := optionalSentence("remark", b.Remark); err != nil {
		return err
	}
	if b.Revision != s.Revision() {
		return refuse("Revision %d was read for signing, but the plan in force is revision %d.", b.Revision, s.Revision())
	}
	if b.Head != s.Head {
		return refuse("Something arrived while the record was read: it was read up to entry %d, the log has %d.", b.Head, s.Head)
	}
	for _, step := range s.Template.Steps {
		if step.Kind == JobSigned {
			if holds := s.Holds(Key{Step: step.ID}); len(holds) > 0 {
				return refuse("Sign-off is held by %s: %s", count(len(holds), "step"), holds[0].Text)
			}
		}
	}
	return nil
}

// step finds a step and sees that it exists for the mount.
func (s *State) step(id, mount string) (*Step, error) {
	step := s.Template.Step(id)
	if step == nil {
		return nil, refuse("There is no step %q.", clip(id))
	}
	if s.Plan() == nil {
		return nil, refuse("%s has to wait: no plan is settled.", step.Title)
	}
	if !s.Applies(step, mount) {
		if step.Scope == PerJob {
			return nil, refuse("%s is a step of the whole job, not of mount %q.", step.Title, clip(mount))
		}
		return nil, refuse("%s does not apply to mount %q of this plan.", step.Title, clip(mount))
	}
	return step, nil
}

// needs refuses a device whose role may not do this.
func (s *State) needs(e Entry, role Role) error {
	if e.Role == Lead || (e.Role == Installer && role == Installer) {
		return nil
	}
	return refuse("Only %s may do this; this device is held by %s.", a(role), a(e.Role))
}

// a is a role with its article.
func a(r Role) string {
	if r == Installer {
		return "an installer"
	}
	return "a " + string(r)
}

// validate holds a recording against the step's fields.
func (s *State) validate(step *Step, b Recording) error {
	known := map[string]bool{}
	for _, f := range step.Fields {
		channels := []string{""}
		if f.Each {
			channels = s.Mounts()
		}
		for _, channel := range channels {
			key := f.Key(channel)
			known[key] = true
			if err := s.validateField(f, key, b); err != nil {
				return err
			}
		}
	}
	for key := range b.Measured {
		if !known[key] {
			return refuse("%s has no field %q.", step.Title, clip(key))
		}
	}
	for key := range b.Chosen {
		if !known[key] {
			return refuse("%s has no field %q.", step.Title, clip(key))
		}
	}
	for _, id := range step.Confirm {
		if !slices.Contains(b.Confirmed, id) {
			return refuse("%s is held until every caution is confirmed by the person doing it.", step.Title)
		}
	}
	for _, id := range b.Confirmed {
		if !slices.Contains(step.Cautions, id) {
			return refuse("%s has no caution %q.", step.Title, clip(id))
		}
	}
	return optionalSentence("remark", b.Remark)
}

// maxReadings bounds repeat readings of one field.
const maxReadings = 20

func (s *State) validateField(f Field, key string, b Recording) error {
	if f.Quantity.Measured() {
		readings, given := b.Measured[key]
		switch {
		case !given && f.Optional:
		case len(readings) == 0:
			return refuse("%s is missing.", f.Label)
		case len(readings) > 1 && !f.Repeat, len(readings) > maxReadings:
			return refuse("%s has %d readings, wanted %s.", f.Label, len(readings), most(f))
		}
		for _, r := range readings {
			if r < f.Least || r > f.Most {
				return refuse("%s is %d, wanted %d to %d (%s).", f.Label, r, f.Least, f.Most, key)
			}
		}
		return nil
	}
	value, given := b.Chosen[key]
	switch {
	case !given && f.Optional:
		return nil
	case !given || value == "":
		return refuse("%s is missing.", f.Label)
	case f.Quantity == Text:
		return sentence(f.Label, value, maxReason)
	}
	options := s.Options(f, b.Mount)
	if !slices.ContainsFunc(options, func(o Option) bool { return o.ID == value }) {
		return refuse("%s is %q, which is not one of its choices.", f.Label, clip(value))
	}
	return nil
}

func most(f Field) string {
	if f.Repeat {
		return fmt.Sprintf("%d at most", maxReadings)
	}
	return "one"
}

// Options of a choice: its own, or what the plan lists.
func (s *State) Options(f Field, mount string) []Option {
	p := s.Plan()
	if f.From == "" || p == nil {
		return f.Options
	}
	var options []Option
	add := func(id, label string) { options = append(options, Option{id, label}) }
	switch f.From {
	case "instruments":
		for _, i := range p.Instruments {
			add(i.Name, i.Name)
		}
	case "fixings":
		for _, i := range p.Fixings {
			add(i.Name, i.Name)
		}
	case "cables":
		for _, i := range p.Cables {
			add(i.Name, i.Name)
		}
	case "feeds":
		for _, a := range p.Amplifiers {
			for c := 1; c <= a.Channels; c++ {
				add(judge.Feed(a.Name, c), fmt.Sprintf("%s, channel %d", a.Name, c))
			}
		}
		for o := 1; o <= p.Processor.Outputs; o++ {
			add(judge.Feed("", o), fmt.Sprintf("%s, output %d", p.Processor.Name, o))
		}
	case "bridges":
		if m := s.mount(mount); m != nil {
			for _, b := range p.Model(m.Model).Bridges {
				add(b.Setting, b.Setting)
			}
		}
		add(judge.NoBridges, "no links on this loudspeaker")
	case "mounts":
		for _, m := range p.Mounts {
			add(m.Channel, m.Channel)
		}
		add(judge.Nothing, "nothing, or I cannot tell")
	}
	return options
}

// sentence refuses text that is missing, too long or has control characters
// other than a line's end.
func sentence(field, text string, most int) error {
	n := utf8.RuneCountInString(text)
	if n == 0 || n > most {
		return refuse("%s has %d characters, wanted 1 to %d.", field, n, most)
	}
	for _, r := range text {
		if r < ' ' && r != '\n' || r == 0x7f || r == utf8.RuneError {
			return refuse("%s has a character that cannot be printed.", field)
		}
	}
	return nil
}

// optionalSentence lets text be missing, and else refuses what sentence refuses.
func optionalSentence(field, text string) error {
	if text == "" {
		return nil
	}
	return sentence(field, text, maxReason)
}

func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// Fold adds a record to the state. A record folded before changes nothing. A
// record is never judged here: its decision is what it says.
func (s *State) Fold(r Record) {
	e := r.Entry
	if s.known(r) {
		return
	}
	s.seen.put(e.ID, r.Decision)
	s.Entries++
	if r.Position > s.Head {
		s.Head, s.last = r.Position, r
	}
	s.numbers[e.Device] = max(s.numbers[e.Device], e.Number)
	s.name(r)
	if !r.Accepted {
		s.refused = s.refused.add(r)
		return
	}
	switch e.Kind {
	case RemarkWritten, DraftEdited, PartStowed, PartTaken: // which change no step
	default:
		s.unsettle()
	}
	for i := range s.Signatures {
		s.Signatures[i].Since++
	}
	s.apply(r)
}

// known tells whether a record was folded before. What lies behind the past of a
// resumed state is not in it, nor is an entry whose number is above all of its device:
// neither is looked for there.
func (s *State) known(r Record) bool {
	if r.Position > s.resumed || r.Entry.Number > s.numbers[r.Entry.Device] {
		_, ok := s.seen.get(r.Entry.ID)
		return ok
	}
	_, ok := s.Decided(r.Entry.ID)
	return ok
}

// apply changes the state by an accepted record. What a later edition accepted and
// this one cannot read stays in the log and changes nothing here. An entry that is
// not about a step must change nothing that depends on steps: it is folded again
// when a state is resumed.
func (s *State) apply(r Record) {
	switch r.Entry.Kind {
	case StepRecorded, StepConceded, StepReopened, RemarkWritten, JobSigned:
	default:
		s.others = append(s.others, r.Position)
	}
	switch e := r.Entry; e.Kind {
	case JobOpened:
		var b Opening
		if readBody(e, &b) == nil {
			s.Title = b.Title
		}
	case DraftEdited:
		var b Edit
		if readBody(e, &b) == nil {
			s.applyEdit(r, b)
		}
	case PlanSettled:
		s.applyPlan(r, plan.Decode)
	case StepRecorded:
		var b Recording
		if readBody(e, &b) != nil || s.Template.Step(b.Step) == nil {
			return
		}
		k := Key{b.Step, b.Mount}
		s.steps[k] = &Evidence{Record: r, Recording: b, revision: s.Revision(), rested: s.restedOn(k)}
		s.history[k] = s.history[k].add(r)
	case StepConceded:
		var b Reasoned
		if readBody(e, &b) != nil {
			return
		}
		k := Key{b.Step, b.Mount}
		if before := s.steps[k]; before != nil {
			conceded := *before
			conceded.Concession, conceded.Reason = &r, b.Reason
			conceded.revision, conceded.rested = s.Revision(), s.restedOn(k)
			s.steps[k] = &conceded
		}
		s.history[k] = s.history[k].add(r)
	case StepReopened:
		var b Reasoned
		if readBody(e, &b) != nil {
			return
		}
		k := Key{b.Step, b.Mount}
		delete(s.steps, k)
		s.history[k] = s.history[k].add(r)
		s.locked = false
	case RemarkWritten:
		s.remarks = s.remarks.add(r)
	case PartNoted:
		s.applyStock(r)
	case PartStowed, PartTaken:
		s.applyShelf(r)
	case JobSigned:
		var b Signing
		if readBody(e, &b) == nil {
			s.Signatures = append(s.Signatures, Signature{Record: r, Signing: b})
			s.locked = true
		}
	}
}

// applyPlan puts the plan that was settled in force. One that cannot be read changes
// nothing.
func (s *State) applyPlan(r Record, read func([]byte) (*plan.Plan, error)) {
	b, ok := canonicalSettlement(r.Entry.Body)
	if !ok {
		b = Settlement{}
		if readBody(r.Entry, &b) != nil {
			return
		}
	}
	if p, err := read([]byte(b.Plan)); err == nil {
		s.Revisions = append(s.Revisions, Revision{b.Revision, b.SHA256, b.Reason, r, p})
		s.locked, s.draft = false, nil
	}
}

package stand

import (
	"fmt"

	"hangtrue/checklist"
	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
)

// A Site is one job with all its records, and the devices that wrote them.
type Site struct {
	ID      string
	State   *checklist.State
	Records []checklist.Record

	numbers map[string]int64
	made    int
}

// Device is the device that a site's own entries come from.
const Device = "01900000-0000-7000-8000-0000000000a1"

// Stamp is the one time that everything made up here carries.
const Stamp = "2030-01-31T09:00:00.000Z"

// New opens a job on a plan document.
func New(id, title string, document []byte) (*Site, error) {
	s := &Site{ID: id, State: checklist.NewState(checklist.Loudspeakers, id), numbers: map[string]int64{}}
	if r, err := s.Do(checklist.JobOpened, checklist.Opening{Title: title}); err != nil || !r.Accepted {
		return nil, fmt.Errorf("stand: open: %s %w", r.Reason, err)
	}
	if r, err := s.Do(checklist.PlanSettled, checklist.NewSettlement(1, "first", document)); err != nil || !r.Accepted {
		return nil, fmt.Errorf("stand: settle: %s %w", r.Reason, err)
	}
	return s, nil
}

// Do makes an entry of the lead's and takes it in.
func (s *Site) Do(kind checklist.Kind, body any) (checklist.Record, error) {
	s.made++
	e, err := checklist.NewEntry(checklist.Entry{
		ID: fmt.Sprintf("01900000-0000-7000-9000-%012x", s.made), Job: s.ID, Device: Device, Number: s.numbers[Device] + 1,
		Seen: s.State.Head, Who: "lead", Role: checklist.Lead, Clock: Stamp, Plan: s.State.Revision(), Kind: kind,
	}, body)
	if err != nil {
		return checklist.Record{}, err
	}
	return s.Take(e), nil
}

// Take decides an entry and gives it its place.
func (s *Site) Take(e checklist.Entry) checklist.Record {
	r := checklist.Record{Position: int64(len(s.Records) + 1), Received: Stamp, Decision: s.State.Decide(e), Entry: e}
	s.State.Fold(r)
	s.numbers[e.Device] = max(s.numbers[e.Device], e.Number)
	s.Records = append(s.Records, r)
	return r
}

// Work goes on with the job, step after step, until it has so many records: what
// is next is recorded as planned, what does not come out within is conceded where
// it may be, and when nothing can be done a remark is made.
func (s *Site) Work(records int) error {
	for stuck := map[checklist.Key]bool{}; len(s.Records) < records; {
		k, ok := s.next(stuck)
		if !ok {
			if _, err := s.Do(checklist.RemarkWritten, checklist.Remark{Text: "Nothing to do but wait."}); err != nil {
				return err
			}
			continue
		}
		r, err := s.Do(checklist.StepRecorded, AsPlanned(s.State, k))
		if err != nil {
			return err
		}
		if r.Accepted && r.Outcome != "within" && r.Barred == "" {
			r, err = s.Do(checklist.StepConceded, checklist.Reasoned{Step: k.Step, Mount: k.Mount, Reason: "Left as it is."})
			if err != nil {
				return err
			}
		}
		stuck[k] = !r.Accepted || r.Barred != ""
	}
	return nil
}

func (s *Site) next(stuck map[checklist.Key]bool) (checklist.Key, bool) {
	for _, k := range s.State.Keys() {
		status := s.State.Status(k)
		if status == checklist.Ready && !stuck[k] && s.State.Template.Step(k.Step).Kind == checklist.StepRecorded {
			return k, true
		}
	}
	return checklist.Key{}, false
}

// AsPlanned is the recording of a step whose readings are the plan's own numbers.
func AsPlanned(s *checklist.State, k checklist.Key) checklist.Recording {
	p, m := s.Plan(), s.Plan().MountByChannel(k.Mount)
	step := s.Template.Step(k.Step)
	r := checklist.Recording{
		Step: k.Step, Mount: k.Mount, Confirmed: step.Confirm,
		Measured: map[string][]int64{}, Chosen: map[string]string{},
	}
	values := numbers(p, m)
	for _, f := range step.Fields {
		channels := []string{k.Mount}
		if f.Each {
			channels = s.Mounts()
		}
		for _, channel := range channels {
			key := f.Key(channel)
			if f.Quantity == checklist.Text {
				r.Chosen[key] = "as agreed"
			} else if f.Quantity == checklist.Choice {
				r.Chosen[key] = choice(s, p, f, k, channel)
			} else if v, ok := values[f.ID]; ok {
				r.Measured[key] = []int64{v}
			} else if f.ID == "reported" {
				if sight, err := p.Sight(channel, ""); err == nil {
					r.Measured[key] = []int64{micrometres(sight.Distance)}
				}
			}
		}
	}
	return r
}

func micrometres(metres float64) int64 { return int64(metres*1e6 + 0.5) }

// numbers are the plan's values by field.
func numbers(p *plan.Plan, m *plan.Mount) map[string]int64 {
	v := map[string]int64{"depth": 75_000, "reading": 0, "circuit": int64(p.Rack.Circuit * 1000)}
	if box := p.Room.Box; box != nil {
		v["width"], v["length"], v["height"] = micrometres(box.Width), micrometres(box.Length), micrometres(box.Height)
	}
	if m == nil {
		return v
	}
	v["along"], v["up"], v["centre"], v["run"] = micrometres(m.Along), micrometres(m.Up), micrometres(m.Along), micrometres(m.Route)
	v["pilot"] = 8000 // the hole of a plug, whose fixing names no pilot
	if f := p.Fixing(m.Fixing); f != nil && f.Pilot > 0 {
		v["pilot"] = micrometres(f.Pilot)
	}
	if sight, err := p.Sight(m.Channel, ""); err == nil {
		v["height"], v["distance"] = micrometres(sight.Height), micrometres(sight.Distance)
	}
	return v
}

// choice picks what the plan says, and else the first that is offered.
func choice(s *checklist.State, p *plan.Plan, f checklist.Field, k checklist.Key, channel string) string {
	m := p.MountByChannel(channel)
	want := map[string]string{"heard": channel, "from": channel}
	if m != nil {
		want["fixing"], want["cable"], want["setting"], want["feed"] = m.Fixing, m.Cable, m.Bridge, judge.Feed(m.Amplifier, m.AmpChannel)
		if m.Amplifier == "" {
			want["feed"] = judge.Feed("", m.Output)
		}
		if m.Bridge == "" {
			want["setting"] = judge.NoBridges
		}
		want["retained"] = "tethered" // which is right overhead and not wrong elsewhere
		if m.Bracket == "" {
			want["retained"] = "standing"
		}
		for _, surface := range p.Room.Surfaces {
			if surface.Name == m.Surface && surface.Construction.Kind == "masonry" {
				want["behind"] = "masonry"
			}
		}
	}
	for _, i := range p.Instruments {
		switch {
		case f.ID == "tape" && i.Kind == "tape", f.ID == "laser" && i.Kind == "laser", (f.ID == "with" || f.ID == "level") && i.Kind == "level":
			want[f.ID] = i.Name
		}
	}
	options := s.Options(f, k.Mount)
	for _, o := range options {
		if o.ID == want[f.ID] {
			return o.ID
		}
	}
	return options[0].ID
}

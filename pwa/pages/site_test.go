package pages_test

import (
	"fmt"
	"math"
	"os"
	"strings"
	"time"

	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/rehearsal"
	"hangtrue/compute/gauge"
	"hangtrue/pwa/pages"
)

const (
	jobID    = "11111111-1111-7111-8111-111111111111"
	deviceID = "22222222-2222-7222-8222-222222222222"
)

// site is a job of the demo plan as a phone has it, with the server played by
// [checklist.State.Decide]. It is the Source that the tests render from.
type site struct {
	t      require.TestingT
	log    *checklist.Log
	device pages.Device
	number int64
	seals  []string
}

func (s *site) Jobs() []pages.JobLine {
	done, all := s.log.State().Progress()
	return []pages.JobLine{{ID: jobID, Title: s.log.State().Title, Head: s.log.Head(), Pending: len(s.log.Pending()), Done: done, All: all, Signed: s.log.State().Locked()}}
}

func (s *site) Job(id string) (*pages.Job, bool) {
	if id != jobID {
		return nil, false
	}
	return &pages.Job{State: s.log.State(), Pending: s.log.Pending(), Foreseen: s.log.Foreseen, Seals: s.seals}, true
}

func (s *site) Device() pages.Device { return s.device }

func demoPlan(t require.TestingT) []byte {
	data, err := os.ReadFile("../../testdata/demo/plan.json")
	require.NoError(t, err)
	return data
}

// newSite opens a job and settles the plan.
func newSite(t require.TestingT, title string, document []byte) *site {
	s := &site{t: t, log: checklist.NewLog(checklist.Loudspeakers, jobID),
		device: pages.Device{ID: deviceID, Who: "lead", Role: checklist.Lead, Known: true, Persistent: true}}
	s.accepted(checklist.JobOpened, checklist.Opening{Title: title})
	if document != nil {
		s.accepted(checklist.PlanSettled, checklist.NewSettlement(1, "first plan", document))
	}
	return s
}

func (s *site) entry(kind checklist.Kind, body any) checklist.Entry {
	s.number++
	clock := time.Date(2031, 5, 4, 8, 0, 0, 0, time.UTC).Add(time.Duration(s.number) * time.Minute)
	e, err := checklist.NewEntry(checklist.Entry{
		ID: fmt.Sprintf("00000000-0000-7000-8000-%012x", s.number), Job: jobID, Device: deviceID, Number: s.number, Seen: s.log.Head(),
		Who: "lead", Role: checklist.Lead, Clock: clock.Format("2006-01-02T15:04:05.000Z"), Plan: s.log.State().Revision(), Kind: kind,
	}, body)
	require.NoError(s.t, err)
	return e
}

// send makes an entry, lets the server decide it, and gives the decision.
func (s *site) send(kind checklist.Kind, body any) checklist.Decision {
	e := s.entry(kind, body)
	d := s.log.State().Decide(e)
	require.NoError(s.t, s.log.Receive(checklist.Record{Position: s.log.Head() + 1, Received: "2031-05-04T20:00:00.000Z", Decision: d, Entry: e}))
	return d
}

func (s *site) accepted(kind checklist.Kind, body any) checklist.Decision {
	d := s.send(kind, body)
	require.True(s.t, d.Accepted, "%s: %s", kind, d.Reason)
	return d
}

// pending makes an entry that the server has not seen.
func (s *site) pending(kind checklist.Kind, body any) {
	require.NoError(s.t, s.log.Keep(s.entry(kind, body)))
}

func um(x float64) int64 { return int64(math.Round(x * 1e6)) }

// good is what a person records when all goes well.
func (s *site) good(step, channel string) checklist.Recording {
	b, err := rehearsal.Recording(s.log.State().Plan(), step, channel)
	require.NoError(s.t, err)
	return b
}

// do records steps of a mount as they should be.
func (s *site) do(channel string, steps ...string) {
	for _, step := range steps {
		d := s.accepted(checklist.StepRecorded, s.good(step, channel))
		require.Equal(s.t, "within", d.Outcome, "%s %s: %s", channel, step, s.failing(step, channel))
	}
}

func (s *site) failing(step, channel string) (says []string) {
	for _, c := range s.log.State().Checks(s.good(step, channel)) {
		if c.Verdict != gauge.Within {
			says = append(says, fmt.Sprintf("%s: %g in %g to %g (%s)", c.Name, c.Measured, c.Low, c.High, c.Says))
		}
	}
	return says
}

// marked records a mark at some distance from the plan.
func (s *site) marked(channel string, dAlong, dUp float64) checklist.Recording {
	b, m := s.good("mark", channel), s.log.State().Plan().MountByChannel(channel)
	b.Measured["along_um"], b.Measured["up_um"] = []int64{um(m.Along + dAlong)}, []int64{um(m.Up + dUp)}
	return b
}

// slipped records a loudspeaker whose along reading has two digits swapped.
func (s *site) slipped(channel string, along float64) checklist.Recording {
	b := s.good("hang", channel)
	b.Measured["along_um"] = []int64{um(along)}
	return b
}

// all records a mount's steps up to one, or every one; what does not apply to it is left out.
func (s *site) all(channel string, until string) {
	st := s.log.State()
	for _, step := range st.Template.Steps {
		if step.Scope != checklist.PerMount || !st.Applies(step, channel) {
			continue
		}
		if step.ID == until {
			return
		}
		s.do(channel, step.ID)
	}
}

// states are jobs as they come about in use.
func states(t require.TestingT) map[string]*site {
	all := map[string]*site{
		"none":  newSite(t, "Attic lounge", nil),
		"fresh": newSite(t, "Attic lounge", demoPlan(t)),
	}
	half := newSite(t, "Attic lounge", demoPlan(t))
	half.do("", "survey", "rack", "isolate")
	half.all("M+030", "")
	half.all("M+090", "drill")
	half.all("M+135", "level")
	half.all("M-135", "hang")
	half.accepted(checklist.StepRecorded, half.slipped("M-135", 5.933))
	half.accepted(checklist.StepRecorded, half.marked("U-045", 0.018, -0.004))
	half.accepted(checklist.StepRecorded, half.marked("M+000", 0, 0.0045))
	half.accepted(checklist.RemarkWritten, checklist.Remark{Text: "Key is with the neighbour."})
	all["half"] = half

	midway := newSite(t, "Attic lounge", demoPlan(t))
	midway.do("", "survey", "rack", "isolate")
	midway.all("M+090", "studs")
	midway.all("U+045", "wire")
	midway.all("M-135", "bridges")
	midway.all("M-090", "hang")
	midway.all("M+135", "polarity")
	all["midway"] = midway

	trouble := newSite(t, "Attic lounge", demoPlan(t))
	trouble.do("", "survey", "rack", "isolate")
	trouble.all("M+030", "wire")
	trouble.do("M-030", "mark")
	trouble.accepted(checklist.StepReopened, checklist.Reasoned{Step: "mark", Mount: "M+030", Reason: "the ladder stood on the mark"})
	trouble.do("M+030", "mark")
	trouble.send(checklist.StepRecorded, trouble.good("wire", "M+030"))
	trouble.accepted(checklist.StepRecorded, trouble.marked("M+000", 0.04, 0))
	trouble.accepted(checklist.StepConceded, checklist.Reasoned{Step: "mark", Mount: "M+000", Reason: "a pipe is where the hole should be"})
	trouble.pending(checklist.StepRecorded, trouble.good("mark", "M+090"))
	trouble.pending(checklist.StepRecorded, trouble.good("drill", "M+090"))
	all["trouble"] = trouble

	finished := newSite(t, "Attic lounge", demoPlan(t))
	finished.do("", "survey", "rack", "isolate")
	for _, m := range finished.log.State().Mounts() {
		if m == "M+000" {
			finished.accepted(checklist.StepRecorded, finished.marked(m, 0, 0.0045))
			finished.accepted(checklist.StepConceded, checklist.Reasoned{Step: "mark", Mount: m, Reason: "the sill is in the way of the last millimetre"})
		}
		for _, step := range finished.log.State().Template.Steps {
			if step.Scope == checklist.PerMount && finished.log.State().Applies(step, m) && !(m == "M+000" && step.ID == "mark") {
				finished.do(m, step.ID)
			}
		}
	}
	finished.do("", "channels", "calibration", "handover")
	all["finished"] = finished

	signed := *finished
	signed.log = checklist.NewLog(checklist.Loudspeakers, jobID)
	require.NoError(t, signed.log.Receive(finished.log.Records()...))
	signed.accepted(checklist.JobSigned, checklist.Signing{Revision: 1, Head: signed.log.Head(), Remark: "All eleven hang, one stands."})
	signed.seals = []string{"hangtrue.example/11111111\n99\nroot hash\n\n— hangtrue.example signature\n"}
	all["signed"] = &signed
	return all
}

// until is the job as it was before a step was first recorded.
func (s *site) until(step string) *site {
	before := *s
	before.log = checklist.NewLog(checklist.Loudspeakers, jobID)
	for _, r := range s.log.Records() {
		if r.Entry.Kind == checklist.StepRecorded && checklist.About(r.Entry).Step == step {
			break
		}
		require.NoError(s.t, before.log.Receive(r))
	}
	return &before
}

// morePlaces are the states, and jobs that stand at one step or another.
func morePlaces(t require.TestingT) map[string]*site {
	all := states(t)
	all["distances"] = all["finished"].until("calibration")
	all["moved"], all["nowhere"] = studAt(t, 2.38), studAt(t, 2.42)
	ready := newSite(t, "Attic lounge", demoPlan(t))
	ready.do("", "survey", "rack", "isolate")
	ready.all("M-090", "drill")
	ready.all("U+045", "drill")
	ready.all("M-030", "wire")
	all["ready"] = ready
	return all
}

// studAt is a job in which the stud behind M+090 was found elsewhere (metres along)
// than the plan has it.
func studAt(t require.TestingT, along float64) *site {
	s := newSite(t, "Attic lounge", demoPlan(t))
	s.do("", "survey", "rack", "isolate")
	s.do("M+090", "mark", "level")
	b := s.good("studs", "M+090")
	b.Measured["centre_um"] = []int64{um(along)}
	s.accepted(checklist.StepRecorded, b)
	return s
}

// reported is a calibration that shows what geometry expects and 0.35 m more for
// every loudspeaker, with two channels exchanged.
func (s *site) reported(one, other string) checklist.Recording {
	b := s.good("calibration", "")
	for key := range b.Measured {
		b.Measured[key] = []int64{b.Measured[key][0] + 350_000}
	}
	a, c := "reported_um/"+one, "reported_um/"+other
	b.Measured[a], b.Measured[c] = b.Measured[c], b.Measured[a]
	return b
}

// imperial is the demo plan in feet and inches.
func imperial(t require.TestingT) []byte {
	p, err := plan.Decode(demoPlan(t))
	require.NoError(t, err)
	p.Units = plan.Imperial
	data, err := p.Encode()
	require.NoError(t, err)
	return data
}

// hostile is the demo plan with foreign text in every name.
func hostile(t require.TestingT) []byte {
	p, err := plan.Decode(demoPlan(t))
	require.NoError(t, err)
	const bad = `<img src=x onerror=alert(1)>"'&`
	p.Title, p.Remark = bad, bad
	for i := range p.Models {
		for j := range p.Mounts {
			if p.Mounts[j].Model == p.Models[i].Name {
				p.Mounts[j].Model += bad
			}
		}
		p.Models[i].Name += bad
	}
	for i := range p.Cables {
		for j := range p.Mounts {
			if p.Mounts[j].Cable == p.Cables[i].Name {
				p.Mounts[j].Cable += bad
			}
		}
		p.Cables[i].Name += bad
	}
	for i := range p.Room.Surfaces {
		s := &p.Room.Surfaces[i]
		for j := range s.Openings {
			s.Openings[j].Name += bad
		}
		for j := range s.KeepOuts {
			s.KeepOuts[j].Name += bad
		}
		if s.Name == "slope" {
			for j := range p.Mounts {
				if p.Mounts[j].Surface == s.Name {
					p.Mounts[j].Surface += bad
				}
			}
			s.Name += bad
		}
	}
	for i := range p.Instruments {
		p.Instruments[i].Name += bad
	}
	data, err := p.Encode()
	require.NoError(t, err)
	return data
}

// paths are all pages of a job.
func paths(s *checklist.State) []string {
	base := "/jobs/" + jobID
	all := []string{"/", "/you", base, base + "/record"}
	for _, k := range s.Keys() {
		if k.Mount == "" {
			all = append(all, base+"/steps/"+k.Step)
		} else {
			all = append(all, base+"/mounts/"+strings.ReplaceAll(k.Mount, "+", "%2B")+"/"+k.Step)
		}
	}
	for _, m := range s.Mounts() {
		all = append(all, base+"/mounts/"+m)
	}
	if p := s.Plan(); p != nil {
		all = append(all, base+"/drawings", base+"/wiring", base+"/rack", base+"/sound", base+"/paper")
		surfaces, _ := p.Surfaces()
		for _, surface := range surfaces {
			all = append(all, base+"/walls/"+strings.NewReplacer(" ", "%20", "<", "%3C", ">", "%3E", `"`, "%22").Replace(surface.Name))
		}
	}
	return all
}

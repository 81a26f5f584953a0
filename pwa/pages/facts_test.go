package pages_test

import (
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/pwa/pages"
)

// What a person needs to read on a page, in the order in which it has to stand.
func TestRender_Facts(t *testing.T) {
	base := "/jobs/" + jobID
	all := morePlaces(t)
	for _, row := range []struct {
		name, state, path string
		device            string
		facts             []string
		never             []string
	}{
		{"mark to be done", "half", base + "/mounts/M-090/mark", "lead",
			[]string{"M-090 · Mark", "ready", "3.769 m", "from the left corner, facing it", "1.200 m", "from the finished floor", "Ladder on firm level ground", "<form", `id="verdict"`, "Save", "<svg"}, nil},
		{"mark on the ceiling", "half", base + "/mounts/U+045/mark", "lead",
			[]string{"1.450 m", "from the left wall", "Out", "2.310 m", "from the front wall"}, []string{">Up<"}},
		{"mark on the slope", "half", base + "/mounts/U+135/mark", "lead",
			[]string{"1.250 m", "from the left wall", "Out", "0.670 m", "from the ceiling"}, nil},
		{"mark outside", "half", base + "/mounts/U-045/mark", "lead",
			[]string{"outside", "18 mm towards the left wall", "4 mm away from the front wall", "Wanted: 3.450 m ± 5 mm", "Put it right, then record it again", "Save", "Leave it off plan"}, []string{"Reopen"}},
		{"mark outside, for an installer", "half", base + "/mounts/U-045/mark", "installer",
			[]string{"outside", "a lead can leave it as it is"}, []string{`data-form="concede"`}},
		{"mark unsure", "half", base + "/mounts/M+000/mark", "lead",
			[]string{"unsure", "Too close to the limit to tell.", "5 mm down", "To settle it:", "Settle it, then record it again"}, nil},
		{"mark done", "half", base + "/mounts/M+090/mark", "lead",
			[]string{"done", "within", "All of it is as planned.", "Next", "M+090 · Drill", "Record it again", "Reopen this step"}, nil},
		{"mark done, for a reader", "half", base + "/mounts/M+090/mark", "server",
			[]string{"done", "within", "Next"}, []string{"<form"}},
		{"mark to be done, for a reader", "half", base + "/mounts/M-090/mark", "server",
			[]string{"3.769 m", "You are reading the server's own page."}, []string{"<form"}},
		{"mark, by nobody yet", "half", base + "/mounts/M-090/mark", "nobody",
			[]string{"3.769 m", "say who holds this phone"}, []string{"<form"}},
		{"mark conceded", "trouble", base + "/mounts/M+000/mark", "lead",
			[]string{"off plan, conceded", "Left off plan:", "a pipe is where the hole should be", "Next", "M+000 · Level"}, nil},
		{"mark not sent", "trouble", base + "/mounts/M+090/mark", "lead",
			[]string{"done", "not sent yet"}, []string{"The server has it"}},
		{"level stale", "trouble", base + "/mounts/M+030/level", "lead",
			[]string{"look again", "something it rested on has changed", "Mark was done again.", "1.200 m", "<form", "What was recorded before"}, nil},
		{"studs done", "half", base + "/mounts/M+090/studs", "lead", []string{"2.332 m", "Stud screw", "lag screw 1/4 in, 76.2 mm long"}, nil},
		{"drill to be done", "half", base + "/mounts/M+090/drill", "lead",
			[]string{"Drill bit", "3.5 mm", "Depth drilled", "Holes", "Drill bit", "in millimetres", "Read each caution and tick it", "A cable or pipe may run here", "Save"}, nil},
		{"drill held", "half", base + "/mounts/M+135/drill", "lead",
			[]string{"held", "Held: do this first", "M+135 · Level", "Level is not done.", "It waits for 2 things"}, []string{"<form"}},
		{"wire held from afar", "fresh", base + "/mounts/M+090/wire", "lead",
			[]string{"held", "Held: do this first", "Agree the survey", "This waits for Mark, and that waits for Agree the survey.", "It waits for 3 things"}, []string{"<form"}},
		{"wire to be done", "half", base + "/mounts/M-135/wire", "lead", []string{"Loudspeaker cable", "2.5 mm2 class 5, about 3.000 m one way", "channel 4", "of Amplifier 7"}, nil},
		{"bridges", "half", base + "/mounts/M-135/bridges", "lead", []string{"open", "the side drivers are silent; the amplifier then sees 8 ohm"}, nil},
		{"hang with a slip", "half", base + "/mounts/M-135/hang", "lead",
			[]string{"outside", "slip", "5.393 m", "5 checks are unsure", "Put it right, then record it again", "5.393 m"}, []string{`<p class="move">`}},
		{"job", "half", base, "lead",
			[]string{"Attic lounge", "22 of 101 steps done", "Next", "M-030 · Mark", "Look at these", "unsure", "M+000 · Mark", "outside", "U-045 · Mark", "Loudspeakers", "8 of 8", "3 of 8", "The whole job"}, nil},
		{"job just opened, for an installer", "fresh", base, "installer", []string{"Next", "Isolate the amplifiers"}, []string{"for a lead"}},
		{"job that waits for a lead", "finished", base, "installer", []string{"Next, for a lead", "Sign off"}, nil},
		{"mark held by a lead's step", "fresh", base + "/mounts/M+030/mark", "installer", []string{"Held: do this first", "First, for a lead", "Agree the survey"}, nil},
		{"job with refusals", "trouble", base, "lead",
			[]string{"will be refused", "M+090 · Drill", "refused", "M+030 · Wire", "Drill has to be looked at again", "look again", "M+030 · Level"}, nil},
		{"job signed", "signed", base, "viewer", []string{"101 of 101 steps done", "Signed off.", "Open the record"}, nil},
		{"step of a signed job", "signed", base + "/mounts/M+090/mark", "installer", []string{"done", "within", "Signed off."}, []string{"<form"}},
		{"step of a signed job, for a lead", "signed", base + "/mounts/M+090/mark", "lead", []string{"Reopen this step"}, []string{`data-form="record"`}},
		{"mount", "half", base + "/mounts/M+090", "lead",
			[]string{"3 of 8 done", "Surround A on Wall bracket, left wall", "M+090 · Drill", "2.331 m", "Steps", "Wire", "held", "Drill is not done."}, nil},
		{"mount that stands", "half", base + "/mounts/LFE1", "lead", []string{"Sub A, standing on the floor"}, []string{"Drill"}},
		{"sign to be done", "finished", base + "/steps/sign", "lead", []string{"ready", "You sign revision 1 of the plan and all 102 entries up to now.", "Read the record first", "I have read the record", "Sign off"}, nil},
		{"sign, for an installer", "finished", base + "/steps/sign", "installer", []string{"A lead records this; this phone is held by an installer."}, []string{"<form"}},
		{"sign held", "half", base + "/steps/sign", "lead", []string{"Held: do this first", "M-030 · Mark", "It waits for 78 things", "M+000 Mark is unsure.", "U-045 Mark is outside its tolerance."}, []string{"<form"}},
		{"record signed", "signed", base + "/record", "server",
			[]string{"Signed off", "by lead: revision 1, entry 103 of the log.", "It stands for the job as it is.", "All eleven hang, one stands.", "Seal", "root hash", "Download the record file", "Left off plan", "M+000 · Mark", "the sill is in the way", "Where they are", "Plan", "SHA-256", "M+030", "Mark", "The log has 103 entries."}, nil},
		{"record of a job under way", "trouble", base + "/record", "server",
			[]string{"Not signed off.", "What sign-off waits for", "Left off plan", "Refused entries", "Drill has to be looked at again"}, nil},
		{"record with a remark", "half", base + "/record", "server", []string{"Remarks", "Key is with the neighbour."}, nil},
		{"wall", "half", base + "/walls/left", "server", []string{"Left wall", "Along: from the left corner, facing it. Up: from the finished floor.", "M+090", "2.331 m", "within", "<svg", "cable drop to the socket"}, nil},
		{"drawings", "half", base + "/drawings", "server", []string{`aria-current="page">main seat`, "/drawings/left%20seat", "left seat", "From above", "<svg", "as heard from main seat", "From the side", "through main seat", "/walls/left"}, nil},
		{"drawings from elsewhere", "half", base + "/drawings/left%20seat", "server", []string{`aria-current="page">left seat`, "as heard from left seat", "through left seat"}, nil},
		{"job leads to what was worked out", "fresh", base, "viewer", []string{"Worked out from the plan", "/wiring", "Wiring", "/rack", "Rack", "/sound", "Sound", "/paper", "Paper"}, nil},
		{"wiring", "half", base + "/wiring", "server",
			[]string{"What may run inside a wall is decided by local code", "Nothing clashes", "Spare amplifier channels", "Amplifier 7 ch 7", "output 13", "Cable to buy", "112.2 m", "common practice, no source",
				"M+030", "Amplifier 5 ch 1, fed by output 1", "2.5 mm2 class 5", "11.5 m", "0.20 dB", "2.3 % of the load, 5 % at most", "25.1 m with this cable", "8 ohm", "C01 M+030", "How it was worked out", "IEC 60228",
				"LFE1", "a line signal", "M+090", "4 ohm, links fitted", "M-090", "5.0 m", "What the record should answer"}, nil},
		{"rack", "half", base + "/rack", "server",
			[]string{"licensed electrician", "9 of 15 taken", "59 of 120 kg", "442 W", "1510 Btu/h", "133 m³/h", "180 m³/h", "enough", "4.0 A", "16.0 A of a 16 A circuit", "design current", "IEC 60364-4-43",
				"Switching on, in this order", "Processor", "Amplifier 5", "Amplifier 7", "common practice, no source"}, nil},
		{"sound", "half", base + "/sound", "server",
			[]string{"Start test tones at a low level", "343.8 m/s", "at 21 °C", "92 dB at the seat", "1.6 h a day", "80 Hz, LR4", "Loudspeaker at 40 Hz", "-24.6 dB", "every small loudspeaker 2.5 times the power from 80 to 120 Hz",
				"M+030", "4.035 m", "0.00 ms", "96.7 dB with the 120 W that it takes", "41 W", "4.7 dB left", "0.7 dB left", "the amplifier gives 150 W, more than this loudspeaker takes", "LFE1", "not known: it is active"}, []string{"NaN", "Inf"}},
		{"bridges show the loads", "midway", base + "/mounts/M-135/bridges", "lead",
			[]string{"What the amplifier will see", "Links fitted", "4 ohm", "dips to 3.2 ohm", "the amplifier carries it", "Links open, as planned", "8 ohm", "made for 4 ohm and more", "<form"}, nil},
		{"wire shows the loss", "ready", base + "/mounts/M-030/wire", "lead", []string{"What the planned cable comes to", "0.15 dB", "Longest run", "25.1 m", "<form"}, nil},
		{"drill into masonry", "ready", base + "/mounts/M-090/drill", "lead", []string{"Drill bit", "8 mm", "8 mm ± 0.25 mm", "Depth drilled", "57 mm", "<form"}, nil},
		{"drill for a wood screw", "ready", base + "/mounts/U+045/drill", "lead", []string{"Drill bit", "mm", "Depth drilled", "<form"}, nil},
		{"distances to be typed", "distances", base + "/steps/calibration", "lead", []string{"M+030, reported distance", "Expect 4.035 m, as hung; delay 0.00 ms.", "M+090, reported distance", "Expect 2.251 m, as hung; delay 5.19 ms."}, nil},
		{"where else, with a stud found elsewhere", "moved", base + "/mounts/M+090/studs", "lead",
			[]string{"Where else it may go", "what binds first is the mirror image of its partner in height: 11 mm down", "2.371 m along, 1.200 m up", "40 mm right from the plan", "The direction turns by 1.0°: azimuth", "a lead revises the plan"}, nil},
		{"where else, with no stud near", "nowhere", base + "/mounts/M+090/studs", "lead",
			[]string{"<details open", "Where else it may go", "No spot in the shaded zone meets a stud", "A backing board across the two studs at 1.925 m and 2.420 m", "A bracket with a hole 89 mm more along", "A wider tolerance: at 2.411 m along", "its partner in azimuth by 17 mm"}, nil},
		{"where else in masonry", "half", base + "/mounts/M-090/mark", "lead", []string{"From where it is planned what binds first is", "holds anywhere"}, nil},
		{"where else, outside", "half", base + "/mounts/U-045/mark", "lead", []string{"From where it was measured what binds first is the plan", "tolerance of"}, nil},
		{"where else for what stands", "half", base + "/mounts/LFE1/mark", "lead", []string{"Where else it may go", "From where it is planned what binds first is the height limit: 10 mm away."}, []string{"meets a stud"}},
		{"every seat", "half", base + "/mounts/M+090", "lead",
			[]string{"From every seat", "main seat, the primary one", "91.7°", "within all limits", "left seat", "92.3°", "1.601 m", "within what the layout permits", "right seat", "91.3°", "Azimuth permitted", "85.0° to 110.0°", "ITU-R BS.2051"}, nil},
		{"how likely", "half", base + "/mounts/M+000/mark", "lead", []string{"Why", "The true value is within with a probability of", "%."}, nil},
		{"jobs", "trouble", "/", "lead", []string{"Jobs", "Attic lounge", "8 of 101 steps done", "2 not sent yet"}, nil},
		{"jobs, by nobody yet", "fresh", "/", "nobody", []string{"say who holds this phone"}, nil},
		{"you", "fresh", "/you", "lead", []string{"Who holds this phone", `value="lead"`, "Installer: marks", "Keep this", deviceID}, nil},
		{"you on the server", "fresh", "/you", "server", []string{"with scripts on, this device keeps its own copy"}, []string{"<form"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			s := *all[row.state]
			s.device = devices[row.device]
			html := pages.Render(row.path, &s).Fragment()
			rest := html
			for _, fact := range row.facts {
				at := strings.Index(rest, fact)
				require.GreaterOrEqual(t, at, 0, "%q has to stand there, after what comes before it", fact)
				rest = rest[at:]
			}
			for _, never := range row.never {
				assert.NotContains(t, html, never)
			}
		})
	}
}

// On a slope at a side wall the line that is levelled keeps the reading along it, on a wall its height.
func TestRender_LevelLine(t *testing.T) {
	data, err := os.ReadFile("../../testdata/plans/attic.json")
	require.NoError(t, err)
	p, err := plan.Decode(data)
	require.NoError(t, err)
	p.Survey, p.Room.Surfaces = nil, nil
	p.Room.Shapes = []plan.Shape{{Name: "slope", Kind: plan.Slope, Wall: "left", Knee: 1.4, Reach: 1.2}}
	m := p.MountByChannel("M+030")
	m.Surface, m.Along, m.Up = "slope", 0.7, 0.9
	data, err = p.Encode()
	require.NoError(t, err)
	s := newSite(t, "Attic", data)
	target := func(channel string) string {
		html := pages.Render("/jobs/"+jobID+"/mounts/"+channel+"/level", s).Fragment()
		_, html, found := strings.Cut(html, `aria-label="What the plan wants">`)
		require.True(t, found)
		html, _, _ = strings.Cut(html, "</dl>")
		return html
	}
	assert.Contains(t, target("M+030"), "0.700 m")
	assert.Contains(t, target("M+030"), "from the left wall, along the slope")
	assert.NotContains(t, target("M+030"), "0.900 m")
	assert.Contains(t, target("M-030"), "1.200 m")
	assert.NotContains(t, target("M-030"), "3.019 m")
}

// What a bracket would need is told the way the joists are counted: out from the front wall where they run across.
func TestRender_OffersAcross(t *testing.T) {
	for across, want := range map[bool]string{true: " out than the reference hole", false: " along than the reference hole"} {
		p, err := plan.Decode(demoPlan(t))
		require.NoError(t, err)
		m := p.MountByChannel("U+045")
		m.Fixing = "Joist screw"
		at := m.Along
		if across {
			at = m.Up
		}
		for i := range p.Room.Surfaces {
			if s := &p.Room.Surfaces[i]; s.Name == "ceiling" {
				s.Construction = plan.Construction{Kind: plan.Studs, Spacing: 0.6, First: math.Mod(at+0.3, 0.6), Width: 0.045, Depth: 0.145, Across: across}
			}
		}
		data, err := p.Encode()
		require.NoError(t, err)
		html := pages.Render("/jobs/"+jobID+"/mounts/U+045/studs", newSite(t, "Attic lounge", data)).Fragment()
		assert.Contains(t, html, want)
	}
}

// What the plan gets wrong stands out on the pages that follow from it.
func TestRender_WorkedOutWrong(t *testing.T) {
	p, err := plan.Decode(demoPlan(t))
	require.NoError(t, err)
	p.MountByChannel("M-030").Route = 2
	p.MountByChannel("M+090").Route = 60
	p.Amplifiers[1].Position = 3
	p.Rack.RatedLoad, p.Rack.Airflow, p.Rack.Circuit = 40, 50, 3
	p.Sound.Level = 110
	data, err := p.Encode()
	require.NoError(t, err)
	s := newSite(t, "Attic lounge", data)
	for page, facts := range map[string][]string{
		"wiring": {"too short?", "along the edges of the room it is 8.0 m", "23.9 % of the load, 5 % at most", "outside"},
		"rack":   {"Amplifier 7 and Amplifier 5 want the same units, 3 to 4.", "50 m³/h", "too little", "4.0 A", "outside", "3.0 A of a 3 A circuit"},
		"sound":  {"110 dB at the seat", "89 seconds a day", "dB short"},
	} {
		rest := pages.Render("/jobs/"+jobID+"/"+page, s).Fragment()
		for _, fact := range facts {
			at := strings.Index(rest, fact)
			require.GreaterOrEqual(t, at, 0, "%s: %q", page, fact)
			rest = rest[at:]
		}
	}
	s = newSite(t, "Attic lounge", imperial(t))
	html := pages.Render("/jobs/"+jobID+"/wiring", s).Fragment()
	assert.Contains(t, html, "37.7 ft", "11.5 m over 0.3048")
	assert.NotContains(t, html, "<strong>11.5 m", "figures are SI, what is bought is not")
	p.Amplifiers[1].Efficiency = 0
	p.Sound = nil
	data, err = p.Encode()
	require.NoError(t, err)
	s = newSite(t, "Attic lounge", data)
	html = pages.Render("/jobs/"+jobID+"/rack", s).Fragment()
	assert.Contains(t, html, "They cannot be worked out")
	assert.NotContains(t, html, "Btu/h")
	html = pages.Render("/jobs/"+jobID+"/sound", s).Fragment()
	assert.Contains(t, html, "because the plan gives no temperature")
	assert.Contains(t, html, "The plan names no crossover.")
	assert.NotContains(t, html, " dB left")
}

// Exchanged channels are named before anything else is said of the distances.
func TestDraft_Swap(t *testing.T) {
	s := morePlaces(t)["distances"]
	out := pages.Draft("/jobs/"+jobID+"/steps/calibration", typedAs(s.reported("M+090", "M+135")), s)
	verdict := out["verdict"]
	swap, distance := strings.Index(verdict, "M+090 and M+135 look swapped"), strings.Index(verdict, "is reported ")
	require.GreaterOrEqual(t, swap, 0, verdict)
	require.Greater(t, distance, swap)
	assert.Contains(t, verdict, "The true value is within with a probability of less than 0.1 %.")
	b := s.good("calibration", "")
	for key := range b.Measured {
		b.Measured[key][0] += 350_000
	}
	assert.Contains(t, pages.Draft("/jobs/"+jobID+"/steps/calibration", typedAs(b), s)["verdict"], "All of it is as planned.", "a constant does no harm")
}

// What no concession may pass offers none, not even to a lead.
func TestRender_Barred(t *testing.T) {
	s := newSite(t, "Attic lounge", demoPlan(t))
	b := s.good("isolate", "")
	b.Chosen["how"] = "live"
	d := s.accepted(checklist.StepRecorded, b)
	require.NotEmpty(t, d.Barred)
	html := pages.Render(path(checklist.Key{Step: "isolate"}), s).Fragment()
	assert.Contains(t, html, "The amplifiers are not isolated.")
	assert.Contains(t, html, "No concession can pass this.")
	assert.Contains(t, html, `data-form="record"`)
	assert.NotContains(t, html, `data-form="concede"`)
}

// A job without any is told so.
func TestRender_NoJobs(t *testing.T) {
	d := pages.Render("/", nowhere{})
	assert.Contains(t, d.Fragment(), "There is no job here yet.")
	assert.Equal(t, 404, pages.Render("/jobs/"+jobID, nowhere{}).Status)
}

type nowhere struct{}

func (nowhere) Jobs() []pages.JobLine         { return nil }
func (nowhere) Job(string) (*pages.Job, bool) { return nil, false }
func (nowhere) Device() pages.Device          { return pages.Device{} }

// The instrument that was used last is chosen already; what a step is there to
// find out never is.
func TestRender_UsualInstrument(t *testing.T) {
	s := states(t)["half"]
	html := pages.Render(path(checklist.Key{Step: "studs", Mount: "M-030"}), s).Fragment()
	assert.NotContains(t, html, "checked")
	html = pages.Render(path(checklist.Key{Step: "mark", Mount: "M-030"}), s).Fragment()
	assert.Contains(t, html, `<option value="tape 8 m" selected>`)
	assert.NotContains(t, html, "checked")
}

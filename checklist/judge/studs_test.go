package judge_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/compute/gauge"
)

// marks is what the mark step said: the hole where the plan has it, or off it.
func marks(p *plan.Plan, channel string, dAlong, dUp float64) judge.Evidence {
	m := p.MountByChannel(channel)
	return judge.Evidence{Measured: measured{"along_um": um(m.Along + dAlong), "up_um": um(m.Up + dUp)}, Chosen: chosen{"tape": "tape 8 m"}}
}

func TestStudsBehind(t *testing.T) {
	for _, row := range []struct {
		channel, behind, fixing string
		want                    []gauge.Verdict // what is behind, what the fixing is for
		says                    string
	}{
		{"M+090", "stud", "Stud screw", []gauge.Verdict{gauge.Within, gauge.Within}, ""},
		{"M+090", "stud", "Wall plug 8", []gauge.Verdict{gauge.Within, gauge.Outside}, "Wall plug 8 is not made for studs."},
		{"M+090", "masonry", "Wall plug 8", []gauge.Verdict{gauge.Within, gauge.Within}, "The plan says studs here. Take the fixing for what you found, and tell the lead."},
		{"M+090", "masonry", "Stud screw", []gauge.Verdict{gauge.Within, gauge.Outside}, "Stud screw is not made for masonry."},
		{"M+090", "board", "Stud screw", []gauge.Verdict{gauge.Outside}, "Board alone never carries"},
		{"M+090", "lath", "Stud screw", []gauge.Verdict{gauge.Outside}, "Say what is behind the mark"},
		{"M-090", "masonry", "no such fixing", []gauge.Verdict{gauge.Within}, ""},
	} {
		checks := judge.Run([]string{"studs.behind"}, recorded(demo(t), row.channel, nil, chosen{"behind": row.behind, "fixing": row.fixing}, nil))
		require.Len(t, checks, len(row.want), "%+v", row)
		said := ""
		for i, c := range checks {
			assert.Equal(t, row.want[i], c.Verdict, "%+v", row)
			assert.True(t, c.Barred)
			said += c.Says
		}
		assert.Contains(t, said, row.says)
	}
	assert.Empty(t, judge.Run([]string{"studs.behind"}, recorded(demo(t), "M+090", nil, nil, nil)))
}

// A stud of 38 mm and a lag screw of 1/4 in (6.35 mm): 19 - 1.5·6.35 = 9.475 mm
// either side of its middle (NDS 2018 Table 12.5.1C). Joists of 45 mm and a No. 12
// screw of 0.216 in: 22.5 - 2.5·5.4864 = 8.784 mm, the 2.5 being the commentary's
// advice, from memory, not verified.
func TestStudsHoles(t *testing.T) {
	for _, row := range []struct {
		channel, fixing string
		dAlong, dUp     float64 // mm by which the hole is off the stud's middle
		margin          float64 // mm
		want            gauge.Verdict
		correction      string
	}{
		{"M+090", "Stud screw", 0, 0, 9.475, gauge.Within, ""},
		{"M+090", "Stud screw", 7, 0, 9.475, gauge.Within, ""},
		{"M+090", "Stud screw", 9, 0, 9.475, gauge.Unsure, "the middle of the stud lies 9 mm left"},
		{"M+090", "Stud screw", -14, 0, 9.475, gauge.Outside, "the middle of the stud lies 14 mm right"},
		// Joists run across the ceiling: what counts is how far out the hole is.
		{"U+045", "Joist screw", 30, 0, 8.784, gauge.Within, ""},
		{"U+045", "Joist screw", 0, 14, 8.784, gauge.Outside, "the middle of the stud lies 14 mm towards the front wall"},
	} {
		p := demo(t)
		m := p.MountByChannel(row.channel)
		middle := m.Along
		if row.channel == "U+045" {
			middle = m.Up
		}
		c := recorded(p, row.channel, measured{"centre_um": um(middle)}, chosen{"behind": "stud", "fixing": row.fixing, "tape": "tape 8 m"},
			evidence{"mark": marks(p, row.channel, row.dAlong/1000, row.dUp/1000)})
		got := named(t, judge.Run([]string{"studs.holes"}, c), "studs.holes")
		assert.Equal(t, row.want, got.Verdict, "%+v: U %g", row, got.Expanded)
		assert.InDelta(t, row.margin, got.High*1000, 1e-3)
		assert.Equal(t, row.correction, got.Correction)
	}
}

func TestStudsHoles_Missing(t *testing.T) {
	p := demo(t)
	prior := evidence{"mark": marks(p, "M+090", 0, 0)}
	run := func(m measured, c chosen, prior evidence) []judge.Check {
		return judge.Run([]string{"studs.holes"}, recorded(p, "M+090", m, c, prior))
	}
	assert.Empty(t, run(nil, chosen{"behind": "masonry", "fixing": "Wall plug 8"}, prior), "only studs have a middle")
	assert.Empty(t, run(measured{"centre_um": um(2.3)}, chosen{"behind": "stud", "fixing": "Stud screw", "tape": "tape 8 m"}, nil), "the mark is not recorded")
	got := named(t, run(nil, chosen{"behind": "stud", "fixing": "Stud screw", "tape": "tape 8 m"}, prior), "studs.holes")
	assert.Equal(t, gauge.Unsure, got.Verdict)
	assert.Equal(t, "find both edges of the stud, and give the point halfway between them", got.Settle)
	got = named(t, run(measured{"centre_um": um(2.3)}, chosen{"behind": "stud", "fixing": "Stud screw", "tape": "level 600"}, prior), "studs.holes")
	assert.Equal(t, gauge.Unsure, got.Verdict)
	assert.Contains(t, got.Says, "Level 600 cannot have measured this")
	p.Room.Surfaces[3].Construction.Width = 0.015
	require.Equal(t, "left", p.Room.Surfaces[3].Name)
	got = named(t, run(measured{"centre_um": um(2.331)}, chosen{"behind": "stud", "fixing": "Stud screw", "tape": "tape 8 m"}, prior), "studs.holes")
	assert.Equal(t, gauge.Outside, got.Verdict)
	assert.Contains(t, got.Says, "A stud of 15 mm is too narrow for this fixing.")
}

func TestStudsKeepOut(t *testing.T) {
	// The bracket's second hole is 100 mm under the first; the pipe's upper side is at 0.16 m.
	for _, row := range []struct {
		up   float64
		want gauge.Verdict
	}{{1.2, gauge.Within}, {0.32, gauge.Within}, {0.31, gauge.Unsure}, {0.30, gauge.Outside}} {
		p := demo(t)
		prior := evidence{"mark": {Measured: measured{"along_um": um(3.769), "up_um": um(row.up)}, Chosen: chosen{"tape": "tape 8 m"}}}
		got := named(t, judge.Run([]string{"studs.keep_out"}, recorded(p, "M-090", nil, nil, prior)), "studs.keep_out")
		assert.Equal(t, row.want, got.Verdict, "%g: %+v", row.up, got)
		assert.Equal(t, "Clear of heating pipe", got.Title)
		assert.True(t, got.Barred)
	}
	assert.Empty(t, judge.Run([]string{"studs.keep_out"}, recorded(demo(t), "M-090", nil, nil, nil)))
}

func TestStudsHidden(t *testing.T) {
	for _, row := range []struct {
		looked, found string
		hazard        []int64
		want          [2]gauge.Verdict
		says          string
	}{
		{"detector", "nothing", nil, [2]gauge.Verdict{gauge.Within, gauge.Within}, ""},
		{"opened", "clear", um(0.05), [2]gauge.Verdict{gauge.Within, gauge.Within}, ""},
		{"opened", "clear", um(0.049), [2]gauge.Verdict{gauge.Within, gauge.Outside}, "Only 49 mm from the nearest hole. Keep 50 mm, or move the mount."},
		{"opened", "clear", um(0), [2]gauge.Verdict{gauge.Within, gauge.Outside}, "Only 0 mm"},
		{"opened", "clear", nil, [2]gauge.Verdict{gauge.Within, gauge.Outside}, "Give the distance"},
		{"not", "nothing", nil, [2]gauge.Verdict{gauge.Outside, gauge.Within}, "Look for cables and pipes"},
		{"detector", "unclear", nil, [2]gauge.Verdict{gauge.Within, gauge.Outside}, "it is not clear what"},
		{"", "", nil, [2]gauge.Verdict{gauge.Outside, gauge.Outside}, "Look for cables"}, // what nobody said does not hold
		{"guessed", "dunno", nil, [2]gauge.Verdict{gauge.Outside, gauge.Outside}, "Look for cables"},
	} {
		checks := judge.Run([]string{"studs.hidden"}, recorded(demo(t), "M+090", measured{"hazard_um": row.hazard}, chosen{"looked": row.looked, "found": row.found}, nil))
		require.Len(t, checks, 2)
		assert.Equal(t, row.want, [2]gauge.Verdict{checks[0].Verdict, checks[1].Verdict}, "%+v", row)
		assert.Contains(t, checks[0].Says+checks[1].Says, row.says)
		assert.True(t, checks[0].Barred && checks[1].Barred)
	}
	p := demo(t)
	p.Units = plan.Imperial
	checks := judge.Run([]string{"studs.hidden"}, recorded(p, "M+090", measured{"hazard_um": um(0.0254)}, chosen{"looked": "opened", "found": "clear"}, nil))
	assert.Equal(t, `Only 1" from the nearest hole. Keep 2", or move the mount.`, checks[1].Says)
}

// worked is a bracket on a framed wall that carries 12 kg, loudspeaker and arm, with
// the centre of mass 220 mm from the wall; one No. 10 × 2-1/2 in wood screw 170 mm
// and one 30 mm above the plate's lower edge; plate 0.120 in of steel, lining 1/2 in,
// Spruce-Pine-Fir (G 0.42).
func worked(t testing.TB) *plan.Plan {
	const inch = 0.0254
	p := example(t)
	p.Models[0].Mass, p.Models[0].CentreOut = 11, 0.12
	p.Brackets[0] = plan.Bracket{Name: "Wall bracket", Mass: 1, Holes: [][2]float64{{0, 0}, {0, -0.14}}, PivotOut: 0.1, PivotUp: -0.05,
		SwingMin: -1, SwingMax: 1, TiltMin: -1, TiltMax: 1, RatedLoad: 12, Plate: 0.120 * inch, LowerEdge: 0.17}
	p.Fixings[0] = plan.Fixing{Name: "Stud screw", Kind: plan.WoodScrew, Size: "No. 10", Length: 2.5 * inch}
	p.Listening[0].Ear = [3]float64{0.5808, 2, 1.15} // straight ahead: the arm stands square to the wall
	p.Mounts[0].Along, p.Mounts[0].Up = 0.5808, 1.2
	p.Room.Surfaces[0].Lining = 0.5 * inch
	return p
}

// Statics and capacity worked apart from this program: T = W·e·y/Σy² = 147.692 N and
// V = W/2 = 58.840 N on the upper screw; withdrawal 2850·G²·D·p (NDS 2018
// Eq. 12.2-2), yield equations with the lining as a gap (AWC TR12), combined by
// Eq. 12.4-1, permanent load C_D 0.9: 502.94 N at 68.278°, of which 158.981 N are 0.3161.
func TestStudsLoad_WorkedExample(t *testing.T) {
	p := worked(t)
	checks := judge.Run([]string{"studs.load"}, recorded(p, "M+030", measured{"centre_um": um(0.5808)},
		chosen{"behind": "stud", "fixing": "Stud screw", "tape": "tape"}, evidence{"mark": {Measured: measured{"along_um": um(0.5808), "up_um": um(1.2)}, Chosen: chosen{"tape": "tape"}}}))
	got := named(t, checks, "studs.load")
	assert.InDelta(t, 0.3161, got.Measured, 1e-4)
	assert.Equal(t, gauge.Within, got.Verdict)
	assert.Contains(t, got.Says, "A screening aid, no approval.")
	assert.Contains(t, got.Source, "whoever is licensed or qualified")
	assert.NotEmpty(t, got.Figures)
}

func TestStudsLoad(t *testing.T) {
	load := func(p *plan.Plan, behind, fixing string) []judge.Check {
		return judge.Run([]string{"studs.load"}, recorded(p, p.Mounts[0].Channel, nil, chosen{"behind": behind, "fixing": fixing, "tape": "tape"}, nil))
	}
	heavy := worked(t)
	heavy.Models[0].Mass = 60
	got := named(t, load(heavy, "stud", "Stud screw"), "studs.load")
	assert.Equal(t, gauge.Outside, got.Verdict)
	assert.InDelta(t, 0.3161*61/12, got.Measured, 1e-3, "forces grow with the weight")
	assert.True(t, got.Barred)
	assert.Regexp(t, `^Overloaded: the (pull outward|load to the side) counts most`, got.Says)
	assert.Contains(t, got.Says, "fixing", "what would help is said")

	got = named(t, load(heavy, "stud", "Stud screw"), "studs.load bracket")
	assert.Equal(t, gauge.Outside, got.Verdict)
	assert.True(t, got.Barred)
	assert.Equal(t, "The loudspeaker weighs 60.0 kg, and the bracket is made for 12.0 kg. Take a stronger one.", got.Says)
	assert.Equal(t, gauge.Within, named(t, load(worked(t), "stud", "Stud screw"), "studs.load bracket").Verdict)

	got = named(t, load(worked(t), "board", "Stud screw"), "studs.load")
	assert.Equal(t, gauge.Outside, got.Verdict)
	assert.Contains(t, got.Says, "Plasterboard does not hold a hung loudspeaker")

	narrow := worked(t)
	narrow.Room.Surfaces[0].Construction.Width = 0 // not known
	assert.Equal(t, gauge.Unsure, named(t, load(narrow, "stud", "Stud screw"), "studs.load").Verdict)

	short := worked(t)
	short.Fixings[0].Length = 0.010 // does not reach through plate and lining
	got = named(t, load(short, "stud", "Stud screw"), "studs.load")
	assert.Equal(t, gauge.Outside, got.Verdict)
	sound(t, got)

	assert.Empty(t, load(worked(t), "stud", "no such fixing"))
	assert.Empty(t, load(worked(t), "no such answer", "Stud screw"))
	assert.Empty(t, load(worked(t), "", ""))
}

// Two loudspeakers of 14 kg on a slope of 47° at the left wall. What is wanted was reckoned apart from this program, with
// springs under a stiff plate that presses at its corners, the weight in its true direction, and the formulas of NDS 2018
// and TR12: pulls of 413 N and 449 N on each of the two screws, W'p 958.8 N, Z' 411.4 N in mode IV.
func TestStudsLoad_OnASlope(t *testing.T) {
	for _, row := range []struct{ up, want float64 }{{1.431, 0.6412364416}, {2.996, 0.5483072076}} {
		c := underTheRoof(t, row.up)
		got := named(t, judge.Run([]string{"studs.load"}, c), "studs.load")
		assert.InDelta(t, row.want, got.Measured, 1e-6)
		assert.Equal(t, gauge.Within, got.Verdict)
	}
}

// A rule that is not met on a slope is not met, however the weight is shared: battens of 58 mm leave a screw of 5/16 in
// less than 4 diameters (31.75 mm) to the edge that is loaded across the grain (NDS 2018 Table 12.5.1C).
func TestStudsLoad_OnASlopeRefuses(t *testing.T) {
	c := underTheRoof(t, 1.431)
	c.Plan.Fixings[0] = plan.Fixing{Name: "Stud screw", Kind: plan.LagScrew, Size: "5/16 in", Length: 0.0889, Pilot: 0.0045}
	got := named(t, judge.Run([]string{"studs.load"}, c), "studs.load")
	assert.Equal(t, gauge.Outside, got.Verdict)
	assert.Contains(t, got.Says, "too close to the edge")
}

// What would help is told in the job's units, rounded up: 2·(2.5·6.147 mm + 20 mm) is 70.7 mm, more than 2 3/4 in.
func TestStudsLoad_HelpsInTheJobsUnits(t *testing.T) {
	c := underTheRoof(t, 1.431)
	c.Prior = func(step, _ string) (judge.Evidence, bool) {
		return judge.Evidence{Measured: measured{"along_um": um(1.632), "up_um": um(1.431)}, Chosen: chosen{"tape": "tape"}}, step == "mark"
	}
	says := func() string { return named(t, judge.Run([]string{"studs.load"}, c), "studs.load").Says }
	assert.Contains(t, says(), "A member at least 70.8 mm wide")
	c.Plan.Units = plan.Imperial
	assert.Contains(t, says(), `A member at least 2 13/16" wide`)
	assert.NotContains(t, says(), " mm")
}

// A plate of which nothing is known downhill of its holes cannot hold against tilting: somebody is told what to give.
func TestStudsLoad_WithoutALever(t *testing.T) {
	c := underTheRoof(t, 1.431)
	c.Plan.Brackets[0].SideEdge = 0
	got := named(t, judge.Run([]string{"studs.load"}, c), "studs.load")
	assert.True(t, got.Barred)
	assert.Contains(t, got.Says, "no part of Wall bracket presses against the surface")
	assert.NotContains(t, got.Says, "load.reach")
}

// underTheRoof is a heavy loudspeaker on a slope at the left wall, its battens counted along, at the studs step.
func underTheRoof(t *testing.T, up float64) judge.Case {
	p := decoded(t, "../../testdata/plans/attic.json")
	p.Room.Box = &plan.Box{Width: 3.86, Length: 5.12, Height: 2.45}
	p.Room.Shapes = []plan.Shape{{Name: "slope", Kind: plan.Slope, Wall: "left", Knee: 1.1, Reach: 1.25}}
	p.Room.Surfaces = []plan.Surface{{Name: "slope", Lining: 0.0125, Construction: plan.Construction{
		Kind: plan.Studs, Spacing: 0.6, First: 0.412, Width: 0.058, Depth: 0.098, Species: "Spruce-Pine-Fir"}}}
	p.Listening[0].Ear = [3]float64{1.93, 2.6, 1.08}
	p.Models[0].Mass, p.Models[0].Reach, p.Models[0].CentreOut = 14, 0.17, 0.12
	p.Brackets[0] = plan.Bracket{Name: "Wall bracket", Mass: 1.6, Holes: [][2]float64{{0, 0}, {0, -0.05}}, PivotOut: 0.09, PivotUp: -0.025,
		SwingMin: -1.3, SwingMax: 1.3, TiltMin: -1.3, TiltMax: 1.3, RatedLoad: 20, Plate: 0.005, LowerEdge: 0.075, SideEdge: 0.025}
	p.Fixings[0] = plan.Fixing{Name: "Stud screw", Kind: plan.WoodScrew, Size: "No. 14", Length: 0.075, Pilot: 0.0035}
	m := p.MountByChannel("M+030")
	m.Surface, m.Along, m.Up, m.AimAt = "slope", 1.612, up, ""
	return recorded(p, "M+030", nil, chosen{"fixing": "Stud screw", "behind": "stud"}, nil)
}

// A screw off the middle of its stud counts: the mark that was made, not the plan's.
func TestStudsLoad_CountsTheMark(t *testing.T) {
	p := worked(t)
	p.Fixings = append(p.Fixings, plan.Fixing{Name: "lag", Kind: plan.LagScrew, Size: "1/4 in", Length: 0.0762})
	run := func(off float64) judge.Check {
		c := recorded(p, "M+030", measured{"centre_um": um(0.5808)}, chosen{"behind": "stud", "fixing": "lag", "tape": "tape"},
			evidence{"mark": {Measured: measured{"along_um": um(0.5808 + off), "up_um": um(1.2)}, Chosen: chosen{"tape": "tape"}}})
		return named(t, judge.Run([]string{"studs.load"}, c), "studs.load")
	}
	assert.Equal(t, gauge.Within, run(0).Verdict)
	assert.Equal(t, gauge.Within, run(0.009).Verdict, "19 - 1.5·6.35 = 9.475 mm (NDS 2018 Table 12.5.1C)")
	assert.Equal(t, gauge.Outside, run(0.010).Verdict)
}

// No. 10 in G 0.42 needs no hole for withdrawal (NDS 2018 §12.1.5.2) and 7/8 of the
// shank at most sideways (§12.1.5.3): 7/8·0.190 in = 4.22 mm, so that 0 to 4.22 mm
// go, and half a step between bits beside.
func TestDrillPilot(t *testing.T) {
	p := worked(t)
	prior := evidence{"studs": {Measured: measured{"centre_um": um(0.5808)}, Chosen: chosen{"behind": "stud", "fixing": "Stud screw", "tape": "tape"}}}
	bit := func(p *plan.Plan, channel string, mm float64, prior evidence) []judge.Check {
		return judge.Run([]string{"drill.pilot"}, recorded(p, channel, measured{"pilot_um": um(mm / 1000)}, nil, prior))
	}
	right := named(t, bit(p, "M+030", 3, prior), "drill.pilot")
	assert.Equal(t, gauge.Within, right.Verdict, "%+v", right)
	wide := named(t, bit(p, "M+030", 6, prior), "drill.pilot")
	assert.Equal(t, gauge.Outside, wide.Verdict)
	assert.Contains(t, wide.Says, "too wide for the thread")
	assert.Regexp(t, `^take a bit of [2-4]\.[0-9] mm$`, wide.Correction)
	assert.Less(t, right.Target, right.High)

	d := demo(t)
	plug := evidence{"studs": {Chosen: chosen{"behind": "masonry", "fixing": "Wall plug 8", "tape": "tape 8 m"}}}
	d.Fixing("Wall plug 8").Pilot = 0
	assert.Empty(t, bit(d, "M-090", 8, plug), "the plan states no hole for this plug")
	d.Fixing("Wall plug 8").Pilot = 0.008
	assert.Equal(t, gauge.Within, named(t, bit(d, "M-090", 8.2, plug), "drill.pilot").Verdict)
	small := named(t, bit(d, "M-090", 7.5, plug), "drill.pilot")
	assert.Equal(t, gauge.Outside, small.Verdict)
	assert.Equal(t, "take a bit of 8.0 mm", small.Correction)
	assert.Empty(t, small.Says)

	assert.Empty(t, bit(p, "M+030", 3, nil), "the studs are not recorded")
	assert.Empty(t, judge.Run([]string{"drill.pilot"}, recorded(p, "M+030", nil, nil, prior)))
}

// Lining 12.7 mm and six diameters of a No. 10 screw, 6·0.190 in = 28.956 mm (NDS 2018
// §12.1.5.6): 41.656 mm at least; the stud ends 12.7 + 89 mm behind the face. A plug of
// 60 mm under a plate of 3 mm wants 57 mm.
func TestDrillDepth(t *testing.T) {
	for _, row := range []struct {
		channel, fixing string
		depth           float64 // mm
		want            gauge.Verdict
		correction      string
	}{
		{"M+030", "Stud screw", 41.656, gauge.Within, ""},
		{"M+030", "Stud screw", 40, gauge.Outside, "drill 2 mm deeper"},
		{"M+030", "Stud screw", 101.7, gauge.Within, ""},
		{"M+030", "Stud screw", 105, gauge.Outside, ""},
		{"M-090", "Wall plug 8", 57, gauge.Within, ""},
		{"M-090", "Wall plug 8", 50, gauge.Outside, "drill 7 mm deeper"},
	} {
		p, behind := worked(t), "stud"
		if row.channel == "M-090" {
			p, behind = demo(t), "masonry"
		}
		prior := evidence{"studs": {Chosen: chosen{"behind": behind, "fixing": row.fixing}}}
		got := named(t, judge.Run([]string{"drill.depth"}, recorded(p, row.channel, measured{"depth_um": um(row.depth / 1000)}, nil, prior)), "drill.depth")
		assert.Equal(t, row.want, got.Verdict, "%+v: %+v", row, got)
		assert.Equal(t, row.correction, got.Correction)
		if row.depth > 102 {
			assert.Equal(t, "That is through the stud, which ends 102 mm behind the face of the wall. Find out what is behind it before going on.", got.Says)
		}
	}
	assert.Empty(t, judge.Run([]string{"drill.depth"}, recorded(worked(t), "M+030", measured{"depth_um": um(0.05)}, nil, nil)))
}

func TestDrillProof(t *testing.T) {
	for answer, want := range map[string]gauge.Verdict{"held": gauge.Within, "moved": gauge.Outside, "": gauge.Outside} {
		got := named(t, judge.Run([]string{"drill.proof"}, recorded(demo(t), "M+090", nil, chosen{"proof": answer}, nil)), "drill.proof")
		assert.Equal(t, want, got.Verdict, answer)
		assert.True(t, got.Barred)
		assert.Contains(t, got.Source, "screening aid")
	}
}

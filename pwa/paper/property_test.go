package paper_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/pwa/paper"
)

// hostile are pieces of names that have made paper go wrong elsewhere: wide, tall,
// right to left, turning what stands around them, joined, without width, markup.
var hostile = []string{
	"Front A", "W", "WWWWWWWWWWWWWWWWWWWW", "i", " ", "\u05d7\u05d3\u05e8", "\u063a\u0631\u0641\u0629", "\u5ba2\u5385", "\u0e17\u0e35\u0e48", "\U0001f50a",
	"\U0001f468\u200d\U0001f469\u200d\U0001f467", "e\u0301\u0301\u0301", "\ufdfd", "\u202eabc", "\u2066", "\u200f", "<b>&amp;", "\"'", "=1+1", "\n", "\t", "\x00", "\u2028", "\xff", "%s%d", "\\(\\)", "½ ⅜",
}

func name(most int) *rapid.Generator[string] {
	return rapid.Custom(func(t *rapid.T) string {
		s := strings.Join(rapid.SliceOfN(rapid.SampledFrom(hostile), 1, 12).Draw(t, "pieces"), "")
		if r := []rune(s); len(r) > most {
			s = string(r[:most])
		}
		return s
	})
}

func between(t *rapid.T, low, high float64, label string) float64 {
	return rapid.Float64Range(low, high).Draw(t, label)
}

// anyPlan is a plan that need not be sound: names may be of nothing, and places outside.
func anyPlan(t *rapid.T) *plan.Plan {
	side := func(label string) float64 { return between(t, 0.5, plan.MaxSide, label) }
	p := &plan.Plan{Title: name(120).Draw(t, "title"), Units: rapid.SampledFrom([]plan.Units{plan.Metric, plan.Imperial}).Draw(t, "units"), Layout: "4+7+0"}
	p.Room.Box = &plan.Box{Width: side("width"), Length: side("length"), Height: between(t, 0.5, 20, "height")}
	surfaces := []string{"front", "left", "ceiling", "floor"}
	for _, s := range surfaces {
		d := plan.Surface{Name: s, Lining: 0.0125, Construction: plan.Construction{
			Kind: rapid.SampledFrom([]string{"studs", "masonry", "concrete", "other"}).Draw(t, "kind"), Across: rapid.Bool().Draw(t, "across"),
			Spacing: between(t, 0, 1, "spacing"), First: between(t, 0, 1, "first"), Width: between(t, 0, 0.1, "stud"), Depth: 0.1,
		}}
		area := rapid.Custom(func(t *rapid.T) plan.Area {
			return plan.Area{Name: name(60).Draw(t, "area"), Along: between(t, 0, p.Room.Box.Width/2, "along"), Up: between(t, 0, p.Room.Box.Height/2, "up"),
				Width: between(t, 0.01, 5, "width"), Height: between(t, 0.01, 5, "height"), Clearance: between(t, 0, 0.3, "clearance")}
		})
		d.Openings = rapid.SliceOfN(area, 0, 4).Draw(t, "openings")
		d.KeepOuts = rapid.SliceOfN(area, 0, 4).Draw(t, "keep-outs")
		p.Room.Surfaces = append(p.Room.Surfaces, d)
	}
	slope := name(60).Draw(t, "slope")
	p.Room.Surfaces = append(p.Room.Surfaces, plan.Surface{Name: slope, Construction: plan.Construction{Kind: "other"}, Frame: &plan.Frame{
		Origin: [3]float64{0, 1, 1}, Along: [3]float64{1, 0, 0}, Up: [3]float64{0, -0.6, 0.8}, Outline: [][2]float64{{0.2, 0.1}, {3, 0}, {2.5, 2}, {0.4, 1.5}}}})
	surfaces = append(surfaces, slope, "nowhere")
	if rapid.Bool().Draw(t, "heard") {
		p.Listening = []plan.Listening{{Name: name(60).Draw(t, "seat"), Ear: [3]float64{p.Room.Box.Width / 2, p.Room.Box.Length / 2, 1.1}, Primary: true}}
	}
	reach := rapid.SampledFrom([]float64{0.05, 0.3, 3, 40}).Draw(t, "reach")
	hole := rapid.Custom(func(t *rapid.T) [2]float64 {
		return [2]float64{between(t, -reach, reach, "along"), between(t, -reach, reach, "up")}
	})
	var brackets, models, fixings, cables, amplifiers []string
	names := rapid.SliceOfN(name(60), 1, 4).Draw(t, "names")
	for _, n := range names {
		p.Brackets = append(p.Brackets, plan.Bracket{Name: n, Holes: rapid.SliceOfN(hole, 0, 8).Draw(t, "holes"), PivotOut: 0.1,
			LowerEdge: between(t, 0, reach, "lower edge"), SideEdge: between(t, 0, 0.1, "side edge"), SwingMin: -1, SwingMax: 1, TiltMin: -1, TiltMax: 1})
		p.Models = append(p.Models, plan.Model{Name: n, Kind: "loudspeaker", Mass: 5, Reach: 0.1, RatedImpedance: 8, LeastImpedance: 6.4, GreatestImpedance: 30,
			Bridges: []plan.Bridge{{Setting: n, Does: n, RatedImpedance: 4, LeastImpedance: 3}}})
		p.Fixings = append(p.Fixings, plan.Fixing{Name: n, Kind: rapid.SampledFrom(plan.FixingKinds).Draw(t, "fixing"), Size: "No. 12", Length: 0.07, Pilot: between(t, 0, 0.03, "pilot")})
		p.Cables = append(p.Cables, plan.Cable{Name: n, Conductor: "14 AWG"})
		p.Amplifiers = append(p.Amplifiers, plan.Amplifier{Name: n, Channels: 8, LeastLoad: 4})
	}
	brackets, models, fixings, cables, amplifiers = append(names, "", "none"), append(names, "none"), append(names, "", "none"), append(names, "none"), append(names, "", "none")
	p.Processor = plan.Processor{Name: names[0], Outputs: 24}
	p.Rack = plan.Rack{Units: 10, Place: [3]float64{0.2, 0.2, 0.2}, Circuit: 16, Voltage: 230}
	p.Tolerances = plan.Tolerances{Mark: 0.005, Level: 0.01, CableLoss: 5}
	pick := func(list []string, label string) string { return rapid.SampledFrom(list).Draw(t, label) }
	for i := range rapid.IntRange(0, 30).Draw(t, "mounts") {
		p.Mounts = append(p.Mounts, plan.Mount{Channel: fmt.Sprint(i) + name(59).Draw(t, "channel"), Model: pick(models, "model"), Bracket: pick(brackets, "bracket"),
			Surface: pick(surfaces, "surface"), Along: between(t, -2, p.Room.Box.Width, "along"), Up: between(t, -2, p.Room.Box.Height, "up"), Stand: 0.3,
			Fixing: pick(fixings, "fixing"), Bridge: pick(append(names, ""), "bridge"), Cable: pick(cables, "cable"), Route: between(t, 0, 200, "route"),
			Output: i + 1, Amplifier: pick(amplifiers, "amplifier"), AmpChannel: i})
	}
	return p
}

// Whatever a plan says, every mark is within what is printed, no text is too small, and
// none covers another.
func TestProperty_EveryMarkIsOnThePaper(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := paper.Job{Plan: anyPlan(t), Template: checklist.Loudspeakers, Revision: rapid.IntRange(0, 1e6).Draw(t, "revision"),
			SHA256: rapid.SampledFrom([]string{"", "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"}).Draw(t, "hash"), Draft: rapid.Bool().Draw(t, "draft")}
		size := rapid.SampledFrom(paper.Sizes).Draw(t, "size")
		for _, d := range all(t, j, size) {
			sound(t, d, size)
		}
		for _, k := range paper.Kinds {
			if k.Table {
				_, _ = j.Table(k.Name) // must not panic
			}
		}
	})
}

// Any grid is refused with the field's name, or its labels are on the paper.
func TestProperty_Labels(t *testing.T) {
	fields := []string{"columns", "rows", "width", "height", "left", "top", "across", "down", "skip"}
	rapid.Check(t, func(t *rapid.T) {
		p := &plan.Plan{Title: name(120).Draw(t, "title"), Processor: plan.Processor{Outputs: 24}, Amplifiers: []plan.Amplifier{{Name: "A", Channels: 24}}}
		for i := range rapid.IntRange(0, 24).Draw(t, "mounts") {
			p.Mounts = append(p.Mounts, plan.Mount{Channel: fmt.Sprintf("M+%03d", i), Output: i + 1, Amplifier: "A", AmpChannel: i + 1})
		}
		number := func(low, high float64, label string) float64 {
			return rapid.OneOf(rapid.Float64Range(low, high), rapid.SampledFrom([]float64{0, -1, math.NaN(), math.Inf(1), 1e300})).Draw(t, label)
		}
		g := paper.Grid{Columns: rapid.IntRange(-1, 40).Draw(t, "columns"), Rows: rapid.IntRange(-1, 40).Draw(t, "rows"),
			Width: number(10, 120, "width"), Height: number(5, 80, "height"), Left: number(0, 20, "left"), Top: number(0, 20, "top"),
			Across: number(0, 5, "across"), Down: number(0, 5, "down"), Skip: rapid.IntRange(-1, 30).Draw(t, "skip"), Cut: rapid.Bool().Draw(t, "cut")}
		size := rapid.SampledFrom(paper.Sizes).Draw(t, "size")
		d, err := paper.Job{Plan: p, Template: checklist.Loudspeakers}.Labels(size, g)
		if err != nil {
			require.ErrorIs(t, err, paper.ErrGrid)
			require.True(t, slices.ContainsFunc(fields, func(f string) bool { return strings.Contains(err.Error(), f+": read ") }), err.Error())
			require.Empty(t, d.Sheets)
			return
		}
		sound(t, d, size)
		said := 0
		for _, s := range d.Sheets {
			for _, x := range texts(s) {
				if strings.HasPrefix(x, "C") {
					said++
				}
			}
		}
		require.GreaterOrEqual(t, said, 2*len(p.Mounts), "a label for each end")
	})
}

// The most mounts that a plan may have, all on one wall of 30 m.
func TestJob_FiveHundredMounts(t *testing.T) {
	j := job(t, "demo/plan.json")
	j.Plan.Room.Box.Width = 30
	m := j.Plan.Mounts[0]
	j.Plan.Mounts = nil
	for i := range plan.MaxMounts {
		m.Channel, m.Along, m.Up, m.Output = fmt.Sprintf("M+%03d", i), 0.05+0.0597*float64(i), 0.3+0.04*float64(i%50), i+1
		j.Plan.Mounts = append(j.Plan.Mounts, m)
	}
	for _, d := range all(t, j, paper.A4) {
		assert.NotEmpty(t, d.Sheets)
		if d.Name == "template" {
			assert.Len(t, d.Sheets, plan.MaxMounts)
		}
		d.Sheets = d.Sheets[:min(len(d.Sheets), 12)]
		sound(t, d, paper.A4)
	}
}

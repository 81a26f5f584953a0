package plan_test

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"

	"hangtrue/checklist/plan"
)

func TestDiff(t *testing.T) {
	for name, row := range map[string]struct {
		change func(p *plan.Plan)
		want   []string
	}{
		"nothing":          {func(p *plan.Plan) {}, nil},
		"order of a list":  {func(p *plan.Plan) { slices.Reverse(p.Mounts) }, nil},
		"a float's noise":  {func(p *plan.Plan) { p.Mounts[0].Along += 1e-9 }, nil},
		"a mount moved":    {func(p *plan.Plan) { p.MountByChannel("M+090").Along += 0.02 }, []string{"mount M+090, hole along from the datum corner: 2.331 m becomes 2.351 m (20 mm more)"}},
		"half a hair":      {func(p *plan.Plan) { p.MountByChannel("M+090").Up -= 0.0001 }, []string{"mount M+090, hole up from the datum edge: 1.200000 m becomes 1.199900 m"}},
		"units and length": {func(p *plan.Plan) { p.Units = plan.Imperial; p.Room.Box.Height = 2.4384 }, []string{`plan, units: "metric" becomes "imperial"`, `room, box, height: 8' 2 7/16" becomes 8' 0" (2 7/16" less)`}},
		"an angle":         {func(p *plan.Plan) { p.Listening[0].Facing = math.Pi / 36 }, []string{"listening position main seat, facing: 0° becomes 5°"}},
		"a mount gone":     {func(p *plan.Plan) { p.Mounts = p.Mounts[1:] }, []string{"mount M+030: removed"}},
		"a mount come":     {func(p *plan.Plan) { p.Mounts = append(p.Mounts, plan.Mount{Channel: "X"}) }, []string{"mount X: added"}},
		"a bracket's load": {func(p *plan.Plan) { p.Brackets[0].RatedLoad = 10 }, []string{"bracket Wall bracket, rated load: 12 kg becomes 10 kg"}},
		"a door":           {func(p *plan.Plan) { p.Room.Surfaces[1].Openings = nil }, []string{`surface right, opening "door": removed`}},
		"a pipe found": {func(p *plan.Plan) {
			p.Room.Surfaces[0].KeepOuts = append(p.Room.Surfaces[0].KeepOuts, plan.Area{Name: "pipe"})
		}, []string{`surface front, keep-out "pipe": added`}},
		"a stud found": {func(p *plan.Plan) { p.Room.Surfaces[3].Construction.Found = []float64{2.34} }, []string{"surface left, construction, members found on site: (2.332 m, 0.706 m) becomes (2.340 m)"}},
		"a bridge":     {func(p *plan.Plan) { p.MountByChannel("M+135").Bridge = "fitted" }, []string{`mount M+135, driver bridge: "open" becomes "fitted"`}},
		"aimed":        {func(p *plan.Plan) { p.MountByChannel("M+135").AimAt = "left seat" }, []string{`mount M+135, aimed at: now "left seat"`}},
		"no box":       {func(p *plan.Plan) { p.Room.Box = nil }, []string{"room, box: no longer width 4.900 m, length 6.100 m, height 2.500 m"}},
		"sound":        {func(p *plan.Plan) { p.Sound.Crossover = 90 }, []string{"sound, crossover: 80 Hz becomes 90 Hz"}},
		"no sound":     {func(p *plan.Plan) { p.Sound = nil }, []string{"sound: removed"}},
		"tolerance":    {func(p *plan.Plan) { p.Tolerances.CableLoss = 4 }, []string{"tolerances, cable loss: 5 % becomes 4 %"}},
	} {
		t.Run(name, func(t *testing.T) {
			a, b := decode(t, "demo/plan.json"), decode(t, "demo/plan.json")
			row.change(b)
			var got []string
			for _, c := range plan.Diff(a, b) {
				got = append(got, c.String())
			}
			assert.Equal(t, row.want, got)
		})
	}
}

func TestDiffOfUnlikePlans(t *testing.T) {
	small, demo := decode(t, "plans/example.json"), decode(t, "demo/plan.json")
	there, back := plan.Diff(small, demo), plan.Diff(demo, small)
	assert.Contains(t, there, plan.Change{Subject: "mount LFE1", To: "LFE1"})
	assert.Contains(t, back, plan.Change{Subject: "mount LFE1", From: "LFE1"})
	assert.Contains(t, there, plan.Change{Subject: "loudspeaker Surround A", To: "Surround A"})
}

func TestDiff_RoomAndSurvey(t *testing.T) {
	for name, row := range map[string]struct {
		change func(p *plan.Plan)
		want   []string
	}{
		"nothing":           {func(p *plan.Plan) {}, nil},
		"a knee":            {func(p *plan.Plan) { p.Room.Shapes[0].Knee = 1.5 }, []string{"shape slope, height at the wall: 1.400 m becomes 1.500 m (100 mm more)"}},
		"a reach":           {func(p *plan.Plan) { p.Room.Shapes[0].Reach = 1.1 }, []string{"shape slope, reach into the room: 1.200 m becomes 1.100 m (100 mm less)"}},
		"a breast moved":    {func(p *plan.Plan) { p.Room.Shapes[1].Along += 0.02 }, []string{"shape breast, along from the left corner of its wall: 1.400 m becomes 1.420 m (20 mm more)"}},
		"off its wall":      {func(p *plan.Plan) { p.Room.Shapes[1].Off = 0.1 }, []string{"shape breast, off its wall: 0.000 m becomes 0.100 m (100 mm more)"}},
		"another wall":      {func(p *plan.Plan) { p.Room.Shapes[3].Wall = "front" }, []string{`shape niche, wall: "right" becomes "front"`}},
		"a shape gone":      {func(p *plan.Plan) { p.Room.Shapes = p.Room.Shapes[1:] }, []string{"shape slope: removed"}},
		"a shape come":      {func(p *plan.Plan) { p.Room.Shapes = append(p.Room.Shapes, plan.Shape{Name: "pier"}) }, []string{"shape pier: added"}},
		"a window moved":    {func(p *plan.Plan) { p.Room.Surfaces[0].Openings[0].Along = 1.3 }, []string{`surface front, opening "window", along: 1.200 m becomes 1.300 m (100 mm more)`}},
		"read again":        {func(p *plan.Plan) { p.Survey.Readings[0].Values = []float64{3.6, 3.602} }, []string{"survey reading width front, read: (3.600 m, 3.601 m) becomes (3.600 m, 3.602 m)"}},
		"other instrument":  {func(p *plan.Plan) { p.Survey.Readings[0].Instrument = "laser" }, []string{`survey reading width front, instrument: "tape" becomes "laser"`}},
		"never read":        {func(p *plan.Plan) { p.Survey.Readings = p.Survey.Readings[1:] }, []string{"survey reading width front: removed"}},
		"no survey":         {func(p *plan.Plan) { p.Survey = nil }, []string{"survey: removed"}},
		"a survey's remark": {func(p *plan.Plan) { p.Survey.Remark = "" }, []string{`survey, remark: no longer "Read twice, once by each of two people."`}},
	} {
		t.Run(name, func(t *testing.T) {
			a, b := decode(t, "plans/attic.json"), decode(t, "plans/attic.json")
			row.change(b)
			var got []string
			for _, c := range plan.Diff(a, b) {
				got = append(got, c.String())
			}
			assert.Equal(t, row.want, got)
		})
	}
}

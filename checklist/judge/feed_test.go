package judge_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/compute/gauge"
)

// linked is a passive loudspeaker of 8 ohm alone and 4 ohm with its links fitted, on
// 14 AWG from an amplifier for 4 ohm and more.
func linked(t testing.TB, planned string) *plan.Plan {
	p := example(t)
	p.Models[0].Bridges = []plan.Bridge{
		{Setting: "open", Does: "front drivers alone", RatedImpedance: 8, LeastImpedance: 6.4},
		{Setting: "fitted", Does: "side drivers play along", RatedImpedance: 4, LeastImpedance: 3.2},
		{Setting: "other sides", Does: "two groups of 6 and 8 ohm", RatedImpedance: 6. * 8 / (6 + 8), LeastImpedance: 3},
		{Setting: "all", Does: "8 and 4 ohm", RatedImpedance: 8. * 4 / (8 + 4), LeastImpedance: 2.4},
	}
	p.Mounts[0].Bridge = planned
	return p
}

// 14 AWG is 8.286 mΩ/m at 20 °C (ASTM B258 diameter, IEC 60028 copper), so that 15 m
// there and back are 0.2486 ohm: 3.107 % of 8 ohm and 6.214 % of 4 ohm, losses of
// 0.2658 and 0.5236 dB, and 5 % is reached at 24.14 m and 12.07 m. Worked apart from
// this program; published tables for 5 % give 24 m and 12 m.
func TestWireLoss(t *testing.T) {
	for _, row := range []struct {
		setting  string
		run      float64
		fraction float64
		want     gauge.Verdict
		says     string
	}{
		{"open", 15, 0.03107, gauge.Within, "0.27 dB lost; with this cable the run may be 24.1 m at most."},
		{"fitted", 15, 0.06214, gauge.Outside, "0.52 dB lost; with this cable the run may be 12.0 m at most."},
		{"open", 24.13, 0.04998, gauge.Within, ""},
		{"open", 24.15, 0.05002, gauge.Outside, ""},
	} {
		p := linked(t, row.setting)
		c := recorded(p, "M+030", measured{"run_um": um(row.run)}, chosen{"cable": "Loudspeaker cable"}, nil)
		got := named(t, judge.Run([]string{"wire.loss"}, c), "wire.loss")
		assert.InDelta(t, row.fraction, got.Measured, 0.00001, "%+v", row)
		assert.Equal(t, row.want, got.Verdict, "%+v", row)
		assert.Contains(t, got.Says, row.says)
		assert.Equal(t, row.want != gauge.Within, got.Correction == "a thicker cable, or a shorter way")
		assert.Contains(t, got.Source, "common practice, no standard")
		assert.NotEmpty(t, got.Figures)
	}
	feet := linked(t, "open")
	feet.Units = plan.Imperial
	got := judge.Run([]string{"wire.loss"}, recorded(feet, "M+030", measured{"run_um": um(15)}, chosen{"cable": "Loudspeaker cable"}, nil))[0]
	assert.Contains(t, got.Says, "may be 79 ft at most", "79.2 ft in the published table")
}

func TestWireLoss_NothingOrNonsense(t *testing.T) {
	p := linked(t, "open")
	run := func(p *plan.Plan, channel string, m measured, cable string) []judge.Check {
		return judge.Run([]string{"wire.loss"}, recorded(p, channel, m, chosen{"cable": cable}, nil))
	}
	assert.Empty(t, run(p, "M+030", nil, "Loudspeaker cable"))
	assert.Empty(t, run(p, "M+030", measured{"run_um": um(15)}, ""))
	assert.Empty(t, run(demo(t), "LFE1", measured{"run_um": um(15)}, "Line cable"), "an active loudspeaker's cable carries no power")
	for _, x := range [][]judge.Check{run(p, "M+030", measured{"run_um": um(15)}, "no such cable"), run(p, "M+030", measured{"run_um": um(0)}, "Loudspeaker cable"), run(p, "M+030", measured{"run_um": um(-3)}, "Loudspeaker cable")} {
		require.Len(t, x, 1)
		assert.NotEqual(t, gauge.Within, x[0].Verdict)
		assert.Contains(t, x[0].Says, "This cable cannot be judged")
		sound(t, x[0])
	}
}

func TestWireFeedAndLabels(t *testing.T) {
	p := demo(t)
	for _, row := range []struct {
		channel, feed string
		want          gauge.Verdict
		says          string
	}{
		{"M+030", "Amplifier 5 channel 1", gauge.Within, ""},
		{"M+030", "Amplifier 5 channel 2", gauge.Outside, "Connected to Amplifier 5 channel 2; the plan says Amplifier 5 channel 1."},
		{"LFE1", "output 4", gauge.Within, ""},
		{"LFE1", "", gauge.Outside, "Say what it is connected to; the plan says output 4."},
	} {
		got := named(t, judge.Run([]string{"wire.feed"}, recorded(p, row.channel, nil, chosen{"feed": row.feed}, nil)), "wire.feed")
		assert.Equal(t, row.want, got.Verdict)
		assert.Equal(t, row.says, got.Says)
	}
	for answer, want := range map[string]gauge.Verdict{"both": gauge.Within, "one": gauge.Outside, "none": gauge.Outside, "": gauge.Outside} {
		assert.Equal(t, want, named(t, judge.Run([]string{"wire.labels"}, recorded(p, "M+030", nil, chosen{"labels": answer}, nil)), "wire.labels").Verdict)
	}
}

func TestBridgesSetting(t *testing.T) {
	for _, row := range []struct {
		planned, got string
		want         gauge.Verdict
	}{{"open", "open", gauge.Within}, {"open", "fitted", gauge.Outside}, {"", judge.NoBridges, gauge.Within}, {"", "fitted", gauge.Outside}} {
		got := named(t, judge.Run([]string{"bridges.setting"}, recorded(linked(t, row.planned), "M+030", nil, chosen{"setting": row.got}, nil)), "bridges.setting")
		assert.Equal(t, row.want, got.Verdict, "%+v", row)
	}
	assert.Empty(t, judge.Run([]string{"bridges.setting"}, recorded(linked(t, "open"), "M+030", nil, nil, nil)))
}

// Impedances in parallel, 1/Σ(1/Z): 8∥8 = 4.000, 6∥8 = 3.429, 8∥4 = 2.667 ohm.
func TestBridgesLoad(t *testing.T) {
	for _, row := range []struct {
		setting string
		ohms    float64
		want    gauge.Verdict
	}{
		{"open", 8, gauge.Within}, {"fitted", 4.000, gauge.Within}, {"other sides", 3.429, gauge.Outside}, {"all", 2.667, gauge.Outside},
	} {
		got := named(t, judge.Run([]string{"bridges.load"}, recorded(linked(t, "open"), "M+030", nil, chosen{"setting": row.setting}, nil)), "bridges.load")
		assert.InDelta(t, row.ohms, got.Measured, 0.001)
		assert.Equal(t, row.want, got.Verdict, "%+v", row)
		assert.Equal(t, row.want == gauge.Outside, got.Barred, "an amplifier is not run below its least load by anybody's leave")
	}
	deep := linked(t, "open")
	deep.Models[0].Bridges[0].LeastImpedance = 5 // under 0.8 of 8 ohm (IEC 60268-5, from memory)
	got := named(t, judge.Run([]string{"bridges.load"}, recorded(deep, "M+030", nil, chosen{"setting": "open"}, nil)), "bridges.load")
	assert.Equal(t, gauge.Within, got.Verdict)
	assert.Contains(t, got.Says, "5.0 ohm")
	assert.Empty(t, judge.Run([]string{"bridges.load"}, recorded(deep, "M+030", nil, nil, nil)))
	assert.Empty(t, judge.Run([]string{"bridges.load"}, recorded(deep, "M+030", nil, chosen{"setting": "no such"}, nil)))
	assert.Empty(t, judge.Run([]string{"bridges.load"}, recorded(demo(t), "LFE1", nil, chosen{"setting": judge.NoBridges}, nil)))
}

// A coil is taken as 0.70 to 0.85 of the rated impedance (common practice, no
// source): through 15 m of 14 AWG 5.6 + 0.249 to 6.8 + 0.249 ohm, and half of the
// coil with two groups of 8 ohm joined.
func TestBridgesMeter(t *testing.T) {
	wired := evidence{"wire": {Measured: measured{"run_um": um(15)}, Chosen: chosen{"cable": "Loudspeaker cable"}}}
	for _, row := range []struct {
		setting string
		mohm    int64
		want    gauge.Verdict
		barred  bool
		says    string
	}{
		{"open", 6300, gauge.Within, false, ""},
		{"open", 5700, gauge.Within, false, ""},
		{"open", 3300, gauge.Unsure, false, "That is not what these links should give."},
		{"fitted", 3300, gauge.Within, false, ""},
		{"fitted", 6300, gauge.Unsure, false, "That is not what these links should give."},
		{"open", 300, gauge.Outside, true, "Short circuit. Connect nothing"},
		{"open", 0, gauge.Outside, true, "Short circuit. Connect nothing"},
		{"open", 100_000_000, gauge.Outside, false, "The meter finds no way through."},
	} {
		got := named(t, judge.Run([]string{"bridges.meter"}, recorded(linked(t, "open"), "M+030", measured{"meter_mohm": {row.mohm}}, chosen{"setting": row.setting}, wired)), "bridges.meter")
		assert.Equal(t, row.want, got.Verdict, "%+v", row)
		assert.Equal(t, row.barred, got.Barred, "%+v", row)
		assert.Contains(t, got.Says, row.says)
		assert.Contains(t, got.Source, "common practice, no source")
		sound(t, got)
	}
	open := named(t, judge.Run([]string{"bridges.meter"}, recorded(linked(t, "open"), "M+030", measured{"meter_mohm": {6300}}, chosen{"setting": "open"}, wired)), "bridges.meter")
	assert.InDelta(t, 5.6+0.2486-0.2, open.Low, 0.001)
	assert.InDelta(t, 6.8+0.2486+0.2, open.High, 0.001)
	assert.Empty(t, judge.Run([]string{"bridges.meter"}, recorded(linked(t, "open"), "M+030", nil, chosen{"setting": "open"}, wired)), "the reading is optional")
	assert.Empty(t, judge.Run([]string{"bridges.meter"}, recorded(linked(t, "open"), "M+030", measured{"meter_mohm": {6300}}, chosen{"setting": "open"}, nil)))
}

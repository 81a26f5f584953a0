package judge_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/compute/gauge"
)

// racked is a rack with one amplifier whose maker's figures are given.
func racked(heat, mains float64) *plan.Plan {
	return &plan.Plan{
		Processor:  plan.Processor{Name: "Processor", Outputs: 2, RackUnits: 1, Position: 6, Mass: 4},
		Amplifiers: []plan.Amplifier{{Name: "Amplifier", Channels: 2, RackUnits: 2, Position: 1, Mass: 10, Heat: heat, Mains: mains}},
		Rack:       plan.Rack{Units: 6, RatedLoad: 20, Circuit: 15, Voltage: 120},
	}
}

func job(t testing.TB, name string, p *plan.Plan, m measured, c chosen) judge.Check {
	return named(t, judge.Run([]string{name}, recorded(p, "", m, c, nil)), name)
}

func TestRackSpace(t *testing.T) {
	for _, row := range []struct {
		what   string
		change func(*plan.Plan)
		want   gauge.Verdict
		says   string
	}{
		{"fits", func(*plan.Plan) {}, gauge.Within, "3 of 6 units are taken."},
		{"same units", func(p *plan.Plan) { p.Processor.Position = 2 }, gauge.Outside, "want the same units."},
		{"too high", func(p *plan.Plan) { p.Amplifiers[0].Position = 6; p.Processor.Position = 1 }, gauge.Outside, "Amplifier does not fit between bottom and top."},
		{"no place", func(p *plan.Plan) { p.Amplifiers[0].Position = 0 }, gauge.Outside, "Amplifier has no place yet."},
		{"no rack", func(p *plan.Plan) { p.Rack.Units = 0 }, gauge.Outside, "It cannot be worked out"},
	} {
		p := racked(100, 100)
		row.change(p)
		got := job(t, "rack.space", p, nil, nil)
		assert.Equal(t, row.want, got.Verdict, row.what)
		assert.Contains(t, got.Says, row.says, row.what)
		sound(t, got)
	}
}

func TestRackLoad(t *testing.T) {
	p := racked(100, 100)
	assert.Equal(t, "14.0 kg of 20.0 kg.", job(t, "rack.load", p, nil, nil).Says)
	p.Rack.RatedLoad = 13.9
	got := job(t, "rack.load", p, nil, nil)
	assert.Equal(t, gauge.Outside, got.Verdict)
	assert.Equal(t, "14.0 kg in a rack that carries 13.9 kg.", got.Says)
	p.Rack.RatedLoad = 0
	assert.Empty(t, judge.Run([]string{"rack.load"}, recorded(p, "", nil, nil, nil)), "the plan does not say what it carries")
}

// A load that runs for three hours or more may take 80 % of a circuit (NEC 210.20,
// as secondary sources have it): at 120 V 1440 W of 15 A and 1920 W of 20 A. At 230 V
// without that rule, 16 A are 3680 W.
func TestRackMains(t *testing.T) {
	for _, row := range []struct {
		power, rating, voltage float64
		continuous             bool
		want                   gauge.Verdict
	}{
		{1440, 15, 120, true, gauge.Within}, {1441, 15, 120, true, gauge.Outside},
		{1920, 20, 120, true, gauge.Within}, {1921, 20, 120, true, gauge.Outside},
		{3680, 16, 230, false, gauge.Within}, {3681, 16, 230, false, gauge.Outside},
	} {
		p := racked(100, row.power)
		p.Rack.Circuit, p.Rack.Voltage, p.Rack.ContinuousRule = 1, row.voltage, row.continuous
		got := job(t, "rack.mains", p, measured{"circuit_ma": {int64(row.rating * 1000)}}, nil)
		assert.Equal(t, row.want, got.Verdict, "%+v", row)
		assert.InDelta(t, row.power/row.voltage, got.Measured, 1e-9)
		assert.Contains(t, got.Says, "licensed electrician")
		p.Rack.Circuit = row.rating
		assert.Equal(t, row.want, job(t, "rack.mains", p, nil, nil).Verdict, "the plan's circuit counts where none was recorded")
	}
	p := racked(100, 100)
	p.Rack.Voltage = 0
	got := job(t, "rack.mains", p, nil, nil)
	assert.Equal(t, gauge.Outside, got.Verdict)
	sound(t, got)
}

// Flow = heat/(density · specific heat · rise). 600 W at a rise of 8 K need
// 223.1 m³/h with air of 1.204 kg/m³ and 1005 J/(kg·K), worked apart from this program.
func TestRackHeat(t *testing.T) {
	for _, row := range []struct {
		moves float64
		want  gauge.Verdict
		says  string
	}{
		{0, gauge.Within, "600 W of heat need 223 m³/h of air for a rise of 8 K."}, // the plan does not say what moves
		{225, gauge.Within, "600 W of heat need 223 m³/h of air for a rise of 8 K."},
		{221, gauge.Outside, "600 W of heat need 223 m³/h of air; only 221 m³/h is moved."},
	} {
		p := racked(600, 700)
		p.Rack.Rise, p.Rack.Inlet, p.Rack.Airflow = 8, 20, row.moves
		got := job(t, "rack.heat", p, nil, nil)
		assert.Equal(t, row.want, got.Verdict, "%+v", row)
		assert.Equal(t, row.says, got.Says)
		assert.InDelta(t, 223.1, got.Figures[0].Value*3600, 223.1*0.005)
	}
	assert.Empty(t, judge.Run([]string{"rack.heat"}, recorded(racked(600, 700), "", nil, nil, nil)), "the plan sets no rise")
}

func TestRackAir(t *testing.T) {
	for answer, want := range map[string]gauge.Verdict{"free": gauge.Within, "blocked": gauge.Outside, "": gauge.Outside} {
		assert.Equal(t, want, job(t, "rack.air", racked(1, 1), nil, chosen{"air": answer}).Verdict, answer)
	}
}

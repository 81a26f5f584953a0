package workings_test

import (
	"math"
	"os"
	"reflect"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/plan"
	"hangtrue/checklist/workings"
	"hangtrue/compute/figure"
	"hangtrue/compute/rack"
	"hangtrue/compute/wiring"
)

func demo(t require.TestingT) *plan.Plan {
	data, err := os.ReadFile("../../testdata/demo/plan.json")
	require.NoError(t, err)
	p, err := plan.Decode(data)
	require.NoError(t, err)
	return p
}

func feeds(t require.TestingT, p *plan.Plan) map[string]workings.Feed {
	sheet, err := workings.Feeds(p)
	require.NoError(t, err)
	all := map[string]workings.Feed{}
	for _, f := range sheet.Feeds {
		all[f.Channel] = f
	}
	return all
}

// 7.98 ohm/km is the greatest resistance of 2.5 mm² class 5 copper at 20 °C (IEC 60228, read in cable makers' tables);
// the rest is arithmetic by hand: 2·L·R', R/Z, 20·log10((Z + R)/Z), 5 % of Z (common practice) over 2·R'.
func TestFeeds_Cable(t *testing.T) {
	for _, row := range []struct {
		channel                   string
		length, rated             float64
		loop, part, loss, longest float64
	}{
		{"M+090", 7.5, 4, 0.1197, 0.029925, 0.256, 12.53},
		{"M+135", 5.5, 8, 0.08778, 0.010973, 0.0948, 25.06},
		{"M+030", 11.5, 8, 0.18354, 0.022943, 0.197, 25.06},
	} {
		f := feeds(t, demo(t))[row.channel]
		require.NotNil(t, f.Run, row.channel)
		assert.Equal(t, row.length, f.Route)
		assert.Equal(t, row.rated, f.Run.Load.Rated, "%s: links as planned", row.channel)
		assert.InDelta(t, row.loop, f.Run.Loop, 1e-4, row.channel)
		assert.InDelta(t, row.part, f.Run.Fraction, 1e-5, row.channel)
		assert.InDelta(t, row.loss, f.Run.Loss, 1e-3, row.channel)
		assert.InDelta(t, row.longest, f.Run.LongestRun, 0.01, row.channel)
		assert.True(t, f.Run.WithinLimit)
	}
	// 8 ohm over (8/200 + 0.18354): an amplifier with a damping factor of 200 at 8 ohm, and the cable (definition).
	assert.InDelta(t, 8/(0.04+0.18354), feeds(t, demo(t))["M+030"].Run.Damping, 0.01)
}

func TestFeeds_Map(t *testing.T) {
	p := demo(t)
	sheet, err := workings.Feeds(p)
	require.NoError(t, err)
	assert.Empty(t, sheet.Clashes)
	assert.Empty(t, sheet.Gaps)
	assert.Equal(t, []wiring.Port{{Amplifier: "Amplifier 7", Channel: 7}}, sheet.SpareChannels)
	assert.Equal(t, []wiring.Port{{Channel: 13}, {Channel: 14}, {Channel: 15}, {Channel: 16}}, sheet.SpareOutputs)
	assert.Len(t, sheet.Feeds, len(p.Mounts))
	seen := map[string]string{}
	for _, f := range sheet.Feeds {
		for i, end := range []wiring.End{wiring.SourceEnd, wiring.LoudspeakerEnd} {
			assert.Equal(t, end, f.Labels[i].End, f.Channel)
			assert.Equal(t, f.Channel, f.Labels[i].Channel)
		}
		assert.Equal(t, f.Labels[0].ID, f.Labels[1].ID, "both ends carry one number")
		assert.Empty(t, seen[f.Labels[0].ID], "%s has the number of another", f.Channel)
		seen[f.Labels[0].ID] = f.Channel
	}
	assert.Nil(t, feeds(t, p)["LFE1"].Run, "a line signal")

	p.MountByChannel("M-030").AmpChannel = 1
	p.MountByChannel("M+000").Output = 1
	sheet, err = workings.Feeds(p)
	require.NoError(t, err)
	var faults []wiring.Fault
	for _, c := range sheet.Clashes {
		faults = append(faults, c.Fault)
	}
	assert.Contains(t, faults, wiring.ChannelShared)
	assert.Contains(t, faults, wiring.OutputShared)
}

// What the maker's least load of 4 ohm allows, with the links as the plan has the settings.
func TestSettings(t *testing.T) {
	p := demo(t)
	m := p.MountByChannel("M+090")
	got, err := workings.Settings(p, m)
	require.NoError(t, err)
	require.Len(t, got, 2)
	assert.Equal(t, workings.Setting{Name: "fitted", Does: "the side drivers play along with the front drivers", Rated: 4, Least: 3.2, Carries: true, Known: true, Planned: true}, got[0])
	assert.False(t, got[1].Planned)
	p.Amplifiers[0].LeastLoad = 6
	got, err = workings.Settings(p, m)
	require.NoError(t, err)
	assert.False(t, got[0].Carries, "4 ohm on an amplifier made for 6")
	assert.True(t, got[1].Carries)
	got, err = workings.Settings(p, p.MountByChannel("LFE1"))
	require.NoError(t, err)
	assert.Empty(t, got)
}

// The way from the rack to M-090 by hand: the rack at (3.6, 0.35, 0.1) stands off every surface, 0.1 m above the floor;
// down to the floor 0.1 m, 1.3 m across it to the right wall's edge, 2.331 - 0.35 m along it (the hole is 6.1 - 3.769 m
// from the rear wall), up 1.2 m.
func TestFeeds_Route(t *testing.T) {
	short := demo(t)
	short.MountByChannel("M-090").Route = 4.5
	all := feeds(t, short)
	f := all["M-090"]
	assert.InDelta(t, 0.1+1.3+(2.331-0.35)+1.2, f.Estimate, 1e-6)
	assert.True(t, f.Short, "4.5 m planned")
	assert.False(t, all["M-135"].Short)
	for channel, f := range all {
		assert.Equal(t, f.Short, f.Route < f.Estimate, channel)
	}
	p := demo(t)
	p.Room.Box = nil
	p.Mounts = []plan.Mount{*p.MountByChannel("U+135")} // on a surface with a frame of its own
	sheet, err := workings.Feeds(p)
	require.NoError(t, err)
	assert.Zero(t, sheet.Feeds[0].Estimate, "no box, no edges to go along")
	assert.False(t, sheet.Feeds[0].Short)
}

// A cable does not cross a doorway: with the door of the right wall down to the floor the way to a hole beyond it goes
// round by the ceiling or the front.
func TestFeeds_RouteRoundADoor(t *testing.T) {
	p := demo(t)
	before := feeds(t, p)["M-090"].Estimate
	p.Room.Surfaces[1].Openings = append(p.Room.Surfaces[1].Openings, plan.Area{Name: "second door", Along: 4.2, Width: 0.8, Height: 2})
	after := feeds(t, p)["M-090"].Estimate
	assert.Greater(t, after, before+1)
}

// A tenth of the routes and a metre a run for its ends: common practice, no source.
func TestFeeds_ToBuy(t *testing.T) {
	sheet, err := workings.Feeds(demo(t))
	require.NoError(t, err)
	require.Len(t, sheet.ToBuy, 2)
	line, loud := sheet.ToBuy[0], sheet.ToBuy[1]
	assert.Equal(t, "Line cable", line.Cable)
	assert.InDelta(t, 10*1.1+1, line.Total, 1e-9)
	assert.Equal(t, 11, loud.Runs)
	assert.InDelta(t, 92.0, loud.Net, 1e-9, "the eleven routes added by hand")
	assert.InDelta(t, 92.0*1.1+11, loud.Total, 1e-9)
	assert.Equal(t, figure.CommonPractice, loud.Figure.Mark)
	assert.NotEmpty(t, sheet.Cautions)
}

// 60 W and 320 W are stated; the amplifier without a figure gives 750 W/8 at an efficiency of 0.6, so that 62.5 W are
// left as heat (1/8 of full power: IEC 60065, read in amplifier manuals). 1 W is 3.41214 Btu/h; dry air at 23 °C has
// 1.192 kg/m³ and 1005 J/(kg K); 16 A is the most that Ib <= In allows (IEC 60364-4-43, 433.1).
func TestRack(t *testing.T) {
	r, err := workings.Rack(demo(t))
	require.NoError(t, err)
	assert.Empty(t, r.Unknown)
	assert.Equal(t, 9, r.Fill.Used)
	assert.Equal(t, 6, r.Fill.Left)
	assert.Empty(t, r.Fill.Overlaps)
	assert.InDelta(t, 59, r.Fill.Mass, 1e-9)
	assert.InDelta(t, 60+320+62.5, r.Heat, 1e-9)
	assert.InDelta(t, 442.5*3.41214, r.Thermal, 0.01)
	assert.InDelta(t, 442.5/(1.192*1005*10)*3600, r.Needed, 0.02)
	enough, known := r.Airy()
	assert.True(t, enough && known, "180 m³/h move")
	assert.InDelta(t, (65+700+156.25)/230, r.Load.Current, 1e-9)
	assert.Equal(t, 16.0, r.Load.Greatest)
	assert.True(t, r.Load.Within)
	var order []string
	for _, s := range r.Order {
		order = append(order, s.Items...)
	}
	assert.Equal(t, []string{"Processor", "Amplifier 5", "Amplifier 7"}, order, "the largest amplifier last")
	assert.Contains(t, r.Caution, "licensed electrician")

	p := demo(t)
	p.Rack.ContinuousRule = true
	r, err = workings.Rack(p)
	require.NoError(t, err)
	assert.InDelta(t, 12.8, r.Load.Greatest, 1e-9, "80 % of 16 A (NEC 210.20(A))")
	assert.Equal(t, rack.ContinuousLoad, r.Circuit.Rule)
}

func TestRack_WhatThePlanDoesNotSay(t *testing.T) {
	p := demo(t)
	p.Amplifiers[1].Efficiency = 0
	p.Amplifiers[1].Position = 3
	r, err := workings.Rack(p)
	require.NoError(t, err)
	assert.Contains(t, r.Unknown, "Amplifier 5", "named, not guessed")
	assert.Zero(t, r.Heat)
	require.Len(t, r.Fill.Overlaps, 1)
	p = demo(t)
	p.Rack.Rise, p.Rack.Inlet = 0, 0
	r, err = workings.Rack(p)
	require.NoError(t, err)
	assert.Zero(t, r.Needed)
	_, known := r.Airy()
	assert.False(t, known)
}

// 343.2·√(294.15/293.15) is 343.785 m/s (ISO 9613-1:1993, read in a public implementation). The levels are of a free
// field: 88 dB and 120 W at 4.035 m (public-address reference pages), by hand.
func TestSound(t *testing.T) {
	p := demo(t)
	s, err := workings.Sound(p)
	require.NoError(t, err)
	assert.False(t, s.Assumed)
	assert.InDelta(t, 343.785, s.Speed.Value, 0.001)
	all := map[string]workings.Heard{}
	farthest := 0.0
	for _, h := range s.Channels {
		all[h.Channel] = h
		farthest = math.Max(farthest, h.Distance)
	}
	require.Len(t, all, len(p.Mounts))
	for channel, h := range all {
		sight, err := p.Sight(channel, "")
		require.NoError(t, err)
		assert.Equal(t, sight.Distance, h.Distance, channel)
		assert.InDelta(t, (farthest-h.Distance)/343.785, h.Delay, 1e-8, channel)
		assert.Equal(t, int(math.Round(h.Delay*48000)), h.Samples, channel)
		assert.LessOrEqual(t, h.Trim, 0.0, channel)
	}
	front, rear := all["M+030"], all["M+135"]
	assert.InDelta(t, 88+10*math.Log10(120)-20*math.Log10(front.Distance), front.Level, 1e-9, "the loudspeaker takes 120 W of the amplifier's 150")
	assert.InDelta(t, math.Pow(10, (92-88)/10.0)*front.Distance*front.Distance, front.Needed, 1e-9)
	assert.InDelta(t, 10*math.Log10(120/front.Needed), front.Headroom, 1e-9, "the loudspeaker takes 120 W of the amplifier's 150")
	assert.InDelta(t, front.Headroom-4, front.BoostLeft, 1e-9, "4 dB more from 80 to 120 Hz")
	assert.Zero(t, front.Trim, "the quietest")
	assert.InDelta(t, (88-20*math.Log10(front.Distance))-(87-20*math.Log10(rear.Distance)), rear.Trim, 1e-9)
	sub := all["LFE1"]
	assert.True(t, sub.Sub)
	assert.NotEmpty(t, sub.Unknown)
	assert.Zero(t, sub.Level)
	// An LR4 is 24.61 dB down an octave beyond its corner, -20·log10(1 + 2⁴), and sums flat (published).
	require.Len(t, s.Filters, 3)
	assert.InDelta(t, -24.609, s.Filters[0].Value, 0.001)
	assert.InDelta(t, -24.609, s.Filters[1].Value, 0.001)
	assert.InDelta(t, 0, s.Filters[2].Value, 1e-9)
	require.Len(t, s.Boost, 1)
	assert.InDelta(t, 2.512, s.Boost[0].Value, 0.001, "4 dB is 2.512 times the power (definition of the decibel)")
	// 8 h at 85 dBA, half for every 3 dB (NIOSH criterion).
	require.NotNil(t, s.Hearing)
	assert.InDelta(t, 8*3600/math.Pow(2, 7.0/3), s.Hearing.Value, 1e-6)
	assert.Len(t, s.Cautions, 2)
}

// Links that bring 8 ohm down to 4 draw 1 W at 2 V, 3 dB less than the 2.83 V of the sensitivity (2.83²/8 = 1.001 W, so that
// S_1W = S + 10·log10(Z/8)); amplifiers of one gain still drive it with the same voltage as its partner, so that the trims
// do not tell the two apart. What is most at the seat and what is asked lie as far apart as the headroom says.
func TestSound_Links(t *testing.T) {
	heard := func(bridge string) (left, right workings.Heard) {
		p := demo(t)
		m := p.MountByChannel("M+030")
		model := p.Model(m.Model)
		model.RatedImpedance, model.LeastImpedance = 8, 6.4
		model.Bridges = []plan.Bridge{{Setting: "fitted", RatedImpedance: 4, LeastImpedance: 3.4}, {Setting: "open", RatedImpedance: 8, LeastImpedance: 6.4}}
		for i := range p.Mounts {
			if p.Mounts[i].Model == model.Name {
				p.Mounts[i].Bridge = "open"
			}
		}
		m.Bridge = bridge
		s, err := workings.Sound(p)
		require.NoError(t, err)
		for _, h := range s.Channels {
			if h.Asked {
				assert.InDelta(t, s.Asked.Level+h.Headroom, h.Level, 1e-9, h.Channel)
			}
			switch h.Channel {
			case "M+030":
				left = h
			case "M-030":
				right = h
			}
		}
		return left, right
	}
	open, partner := heard("open")
	fitted, _ := heard("fitted")
	assert.InDelta(t, open.Level-10*math.Log10(2), fitted.Level, 1e-9)
	assert.InDelta(t, open.Needed*2, fitted.Needed, 1e-9)
	assert.InDelta(t, 20*math.Log10(open.Distance/partner.Distance), fitted.Trim-partner.Trim, 1e-9)
}

func TestSound_WhatThePlanDoesNotAsk(t *testing.T) {
	p := demo(t)
	p.Sound = nil
	p.Models[0].Sensitivity = 0
	s, err := workings.Sound(p)
	require.NoError(t, err)
	assert.True(t, s.Assumed)
	assert.InDelta(t, 343.2, s.Speed.Value, 1e-9, "20 °C")
	assert.Empty(t, s.Filters)
	assert.Empty(t, s.Boost)
	assert.Nil(t, s.Hearing)
	for _, h := range s.Channels {
		assert.False(t, h.Asked)
		assert.Zero(t, h.Needed)
		if p.MountByChannel(h.Channel).Model == "Front A" {
			assert.Contains(t, h.Unknown, "no sensitivity for Front A")
		}
	}
}

// Every figure can be followed: it has a name, a formula, a source and a mark, and its numbers are finite.
func TestFigures(t *testing.T) {
	marks := []figure.Mark{figure.Published, figure.Secondary, figure.Derived, figure.Memory, figure.CommonPractice}
	p := demo(t)
	f, err := workings.Feeds(p)
	require.NoError(t, err)
	r, err := workings.Rack(p)
	require.NoError(t, err)
	s, err := workings.Sound(p)
	require.NoError(t, err)
	all := slices.Concat(r.Figures, s.Filters, s.Boost, []figure.Figure{r.Load.Figure, s.Speed, *s.Hearing})
	for _, x := range f.Feeds {
		all = append(all, x.Figures...)
	}
	for _, x := range f.ToBuy {
		all = append(all, x.Figure)
	}
	for _, x := range s.Channels {
		all = append(all, x.Figures...)
	}
	assert.Greater(t, len(all), 100)
	for _, x := range all {
		assert.NotEmpty(t, x.Name)
		assert.NotEmpty(t, x.Formula, x.Name)
		assert.NotEmpty(t, x.Source, x.Name)
		assert.Contains(t, marks, x.Mark, x.Name)
		finite(t, reflect.ValueOf(x), x.Name)
	}
	for _, sheet := range []any{*f, *r, *s} {
		finite(t, reflect.ValueOf(sheet), "sheet")
	}
}

// finite looks at every number within a value.
func finite(t *testing.T, v reflect.Value, at string) {
	switch v.Kind() {
	case reflect.Float64:
		assert.False(t, math.IsNaN(v.Float()) || math.IsInf(v.Float(), 0), at)
	case reflect.Struct:
		for i := range v.NumField() {
			finite(t, v.Field(i), at+"."+v.Type().Field(i).Name)
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			finite(t, v.Index(i), at)
		}
	case reflect.Pointer:
		if !v.IsNil() {
			finite(t, v.Elem(), at)
		}
	}
}

// What cannot come from a decoded plan gives one error that names where it is and what was read.
func TestErrors(t *testing.T) {
	feed := func(p *plan.Plan) error { _, err := workings.Feeds(p); return err }
	stand := func(p *plan.Plan) error { _, err := workings.Rack(p); return err }
	hear := func(p *plan.Plan) error { _, err := workings.Sound(p); return err }
	for name, row := range map[string]struct {
		work  func(*plan.Plan) error
		spoil func(p *plan.Plan)
		is    error
		says  []string
	}{
		"no such loudspeaker":   {feed, func(p *plan.Plan) { p.Mounts[0].Model = "none" }, plan.ErrUnknown, []string{"mount M+030", `loudspeaker "none"`}},
		"heard without a model": {hear, func(p *plan.Plan) { p.Mounts[3].Model = "none" }, plan.ErrUnknown, []string{"mount LFE1", `loudspeaker "none"`}},
		"no such cable":         {feed, func(p *plan.Plan) { p.Mounts[0].Cable = "none" }, plan.ErrUnknown, []string{"mount M+030", `cable "none"`}},
		"no such bridge":        {feed, func(p *plan.Plan) { p.Mounts[4].Bridge = "half" }, plan.ErrUnknown, []string{"mount M+090", `"half"`}},
		"no such surface":       {feed, func(p *plan.Plan) { p.Mounts[0].Surface = "none" }, plan.ErrUnknown, []string{"mount M+030", `"none"`}},
		"no such amplifier":     {hear, func(p *plan.Plan) { p.Mounts[0].Amplifier = "none" }, plan.ErrUnknown, []string{"mount M+030", `"none"`}},
		"route of nothing":      {feed, func(p *plan.Plan) { p.Mounts[0].Route = math.NaN() }, wiring.ErrLength, []string{"mount M+030", "NaN"}},
		"impedance of nothing":  {feed, func(p *plan.Plan) { p.Models[0].RatedImpedance = 0 }, wiring.ErrImpedance, []string{"mount M+030"}},
		"outputs below none":    {feed, func(p *plan.Plan) { p.Processor.Outputs = -1 }, wiring.ErrMap, []string{"channel map", "-1"}},
		"rack of no height":     {stand, func(p *plan.Plan) { p.Rack.Units = 0 }, rack.ErrUnits, []string{"rack", "0"}},
		"circuit of nothing":    {stand, func(p *plan.Plan) { p.Rack.Voltage = 0 }, rack.ErrNumber, []string{"circuit", "0"}},
		"ice":                   {hear, func(p *plan.Plan) { p.Sound.Temperature = -80 }, nil, []string{"temperature", "-80"}},
		"no such slope":         {hear, func(p *plan.Plan) { p.Sound.Slope = "LR8" }, nil, []string{"crossover", "want BW2, LR2 or LR4"}},
	} {
		t.Run(name, func(t *testing.T) {
			p := demo(t)
			row.spoil(p)
			err := row.work(p)
			require.Error(t, err)
			if row.is != nil {
				assert.ErrorIs(t, err, row.is)
			}
			for _, says := range row.says {
				assert.ErrorContains(t, err, says)
			}
		})
	}
	for _, work := range []func(*plan.Plan) error{feed, stand, hear} {
		assert.ErrorIs(t, work(nil), workings.ErrPlan)
	}
}

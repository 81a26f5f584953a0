package drawing_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist/plan"
	"hangtrue/pwa/drawing"
	"hangtrue/pwa/markup"
)

// gears are plans of gear from the demo's to sixteen mounts with slips in them.
func gears(t require.TestingT) map[string]*plan.Plan {
	loose := &plan.Plan{Mounts: []plan.Mount{{Channel: "M+030"}, {Channel: "M-030", Amplifier: "gone", AmpChannel: 2, Output: 3}}}
	loose.Rack.Units = 6
	many := demo(t)
	many.Amplifiers[0].Channels = 9
	for i, channel := range []string{"U+090", "U-090", "B+000", "M+060"} {
		m := many.Mounts[4]
		m.Channel, m.Output, m.AmpChannel, m.Bridge = channel, 13+i, 6+i, ""
		m.Cable = []string{"Loudspeaker cable", "a cable with a name that goes on and on for ever"}[i%2]
		many.Mounts = append(many.Mounts, m)
	}
	many.Amplifiers[1].Position = 3
	many.Processor.Position = 15
	many.Units = plan.Imperial
	return map[string]*plan.Plan{"demo": demo(t), "loose": loose, "many": many}
}

func TestGear_SVG_Golden(t *testing.T) {
	for name, p := range gears(t) {
		t.Run(name, func(t *testing.T) {
			node, ok := drawing.WiringView{Plan: p}.SVG()
			require.True(t, ok)
			sound(t, markup.String(node))
			golden(t, "wiring-"+name, node)
			node, ok = drawing.RackView{Plan: p}.SVG()
			require.True(t, ok)
			sound(t, markup.String(node))
			golden(t, "rack-"+name, node)
		})
	}
	for _, p := range []*plan.Plan{nil, {}} {
		_, ok := drawing.WiringView{Plan: p}.SVG()
		assert.False(t, ok)
		_, ok = drawing.RackView{Plan: p}.SVG()
		assert.False(t, ok)
	}
}

// What stands in a row belongs together: a mount's output, channel and length are
// written at the height of its own name.
func TestWiringView_SVG_Rows(t *testing.T) {
	p := gears(t)["demo"]
	node, _ := drawing.WiringView{Plan: p}.SVG()
	all := texts(parse(t, markup.String(node)))
	for _, m := range p.Mounts {
		var y float64
		for _, e := range all {
			if e.text == m.Channel {
				y = e.num(t, "y")
			}
		}
		require.NotZero(t, y, m.Channel)
		var row []string
		for _, e := range all {
			if at := e.num(t, "y"); at > y-15 && at < y+20 {
				row = append(row, e.text)
			}
		}
		length := fmt.Sprintf("%.1f m", m.Route)
		if m.Bridge != "" {
			length += ", links " + m.Bridge
		}
		want := []string{fmt.Sprint(m.Output), m.Channel, m.Cable, length}
		if m.Amplifier != "" {
			want = append(want, fmt.Sprint(m.AmpChannel))
		}
		assert.Subset(t, row, want, m.Channel)
	}
}

// The demo's rack by its plan: what stands from unit 1, 7 and 12 upward is as many
// units high as it takes, and 5, 6, 10, 11, 14 and 15 are free.
func TestRackView_SVG_Units(t *testing.T) {
	p := gears(t)["demo"]
	node, _ := drawing.RackView{Plan: p}.SVG()
	all := parse(t, markup.String(node))
	var boxes []element
	var frame element
	heights := map[string]float64{}
	for _, e := range all {
		switch {
		case e.attrs["class"] == "rack":
			frame = e
		case e.attrs["class"] == "device":
			boxes = append(boxes, e)
		case e.attrs["class"] == "note" && e.attrs["text-anchor"] == "end":
			heights[e.text] = e.num(t, "y")
		}
	}
	unit := frame.num(t, "height") / 15
	assert.InDelta(t, 14*unit, heights["1"]-heights["15"], 0.11, "unit 1 at the bottom")
	require.Len(t, boxes, 3)
	bottom := frame.num(t, "y") + frame.num(t, "height")
	for i, want := range [][2]float64{{1, 4}, {7, 3}, {12, 2}} {
		assert.InDelta(t, bottom-(want[0]-1)*unit, boxes[i].num(t, "y")+boxes[i].num(t, "height")+1, 0.11)
		assert.InDelta(t, want[1]*unit, boxes[i].num(t, "height")+2, 0.11)
	}
	says := all[2].text
	for _, text := range []string{"Units 5 to 6 are free", "Units 10 to 11 are free", "Units 14 to 15 are free",
		"Amplifier 7: units 1 to 4, 28 kg, 320 W of heat", "Processor: units 12 to 13, 9 kg, 60 W of heat",
		// 5 channels of 150 W at 1/8 with an efficiency of 0.6: 93.75·(1/0.6 - 1) = 62.5 W
		"Amplifier 5: units 7 to 9, 22 kg, 62 W of heat", "9 of 15 units taken, 59 kg of 120 kg that it may carry, 442 W of heat"} {
		assert.Contains(t, says, text)
	}
}

func TestGear_SVG_Properties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := gears(t)["many"]
		n := rapid.SampledFrom([]int{-3, 0, 1, 2, 4, 5, 11, 40, 99, 1 << 30})
		name := rapid.SampledFrom([]string{"", "Amplifier 7", "<img src=x>", "a very long name of a device that nobody could ever read to its end"})
		p.Rack.Units = n.Draw(t, "units")
		p.Processor.Name, p.Processor.RackUnits, p.Processor.Position = name.Draw(t, "name"), n.Draw(t, "high"), n.Draw(t, "at")
		p.Processor.Outputs = n.Draw(t, "outputs")
		for i := range p.Amplifiers {
			a := &p.Amplifiers[i]
			a.Name, a.RackUnits, a.Position, a.Channels = name.Draw(t, "name"), n.Draw(t, "high"), n.Draw(t, "at"), n.Draw(t, "channels")
			a.Mass = rapid.SampledFrom([]float64{0, 12.3456789, -1}).Draw(t, "mass")
		}
		for i := range p.Mounts {
			m := &p.Mounts[i]
			m.Amplifier, m.AmpChannel, m.Output = name.Draw(t, "amplifier"), n.Draw(t, "channel"), n.Draw(t, "output")
			m.Cable, m.Bridge = name.Draw(t, "cable"), name.Draw(t, "links")
		}
		for _, width := range []float64{0, 640} {
			if node, ok := (drawing.WiringView{Plan: p, Width: width}).SVG(); ok {
				sound(t, markup.String(node))
			}
			if node, ok := (drawing.RackView{Plan: p, Width: width}).SVG(); ok {
				sound(t, markup.String(node))
			}
		}
	})
}

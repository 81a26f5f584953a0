package plan_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/plan"
	"hangtrue/compute/gauge"
	"hangtrue/compute/place"
)

func TestReading_Meaning(t *testing.T) {
	assert.Equal(t, "Width at the front wall: from the left wall to the right wall, along the skirting of the front wall",
		plan.Reading{Name: plan.WidthFront}.Meaning())
	seen := map[string]bool{}
	for _, name := range plan.ReadingNames {
		r := plan.Reading{Name: name}
		assert.True(t, plan.Published(name))
		assert.Contains(t, r.Meaning(), r.Title()+": ")
		assert.Contains(t, r.Meaning(), " to the ")
		for _, word := range strings.Fields(name)[1:] {
			assert.Contains(t, r.Title(), word, name)
		}
		assert.False(t, seen[r.Title()], r.Title())
		seen[r.Title()] = true
	}
	assert.Equal(t, "Height at the lamp: from the finished floor straight up to the flat ceiling", plan.Reading{Name: "the lamp", Kind: plan.HeightReading}.Meaning())
	assert.Equal(t, "sill of the window", plan.Reading{Name: "sill of the window", Kind: plan.OtherReading}.Meaning())
	assert.False(t, plan.Published("width middle"))
}

// The names of the floor's six lengths are in the order in which package place has them, and join the same corners.
func TestReadingNames_AreTheRunsOfAFloor(t *testing.T) {
	for r := place.FrontWall; r <= place.FromFrontRight; r++ {
		meaning := plan.Reading{Name: plan.ReadingNames[r]}.Meaning()
		if r < place.FromFrontLeft {
			assert.Contains(t, meaning, "skirting of the "+r.String())
			continue
		}
		for _, c := range r.Ends() {
			assert.Contains(t, meaning, c.String()+" corner")
		}
	}
}

func TestPlan_Measured(t *testing.T) {
	p := decode(t, "plans/attic.json")
	require.NotNil(t, p.Reading("width front"))
	got, err := p.Measured(*p.Reading("width front"))
	require.NoError(t, err)
	// A tape of class II over 4 m, read twice to the millimetre.
	want, err := gauge.Reading{Instrument: gauge.TapeII, Values: []float64{3.6, 3.601}, Division: 0.001}.Evaluate()
	require.NoError(t, err)
	assert.Equal(t, want, got)
	_, err = p.Measured(plan.Reading{Instrument: "yardstick", Values: []float64{1}})
	assert.ErrorIs(t, err, plan.ErrUnknown)
	for _, r := range []plan.Reading{{Instrument: "level", Values: []float64{1}}, {Instrument: "laser"}, {Instrument: "tape"}} {
		_, err = p.Measured(r)
		assert.Error(t, err, "%v", r)
	}
	assert.Nil(t, p.Reading("width middle"))
	p.Survey = nil
	assert.Nil(t, p.Reading("width front"))
}

package judge_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/compute/gauge"
	"hangtrue/compute/place"
)

// The zone that is drawn and the checks that judge say the same of a spot, but for
// the last millimetre at a limit: the hole measured without error, the ear point
// known.
func TestZone_AgreesWithTheChecks(t *testing.T) {
	p := known(demo(t), 1e-9)
	p.Listening[0].EarU = 0
	zones := map[string]*place.Zone{}
	inside := 0
	rapid.Check(t, func(t *rapid.T) {
		m := drawMount(t, p)
		zone := zones[m.Channel]
		if zone == nil {
			var err error
			zone, err = judge.Zone(p, m.Channel)
			require.NoError(t, err)
			zones[m.Channel] = zone
		}
		off := rapid.Float64Range(-0.12, 0.12)
		if rapid.Bool().Draw(t, "near") { // half of the spots as near as the height allows
			off = rapid.Float64Range(-0.015, 0.015)
		}
		along, up := math.Round((m.Along+off.Draw(t, "along"))*1e6)/1e6, math.Round((m.Up+off.Draw(t, "up"))*1e6)/1e6
		spot := place.Spot{Along: along, Up: up}
		if math.Abs(zone.Binding(spot).Distance) < 0.001 {
			return
		}
		placed, err := p.PlaceMount(m.Channel)
		require.NoError(t, err)
		placed.Hole = spot
		l, err := p.Listener("")
		require.NoError(t, err)
		pose, err := place.Aim(placed, l.Ear)
		require.NoError(t, err)
		hole := judge.Evidence{Measured: measured{"along_um": um(along), "up_um": um(up), "height_um": um(pose.Centre.Z)}, Chosen: chosen{"tape": "known"}}
		checks := judge.Run([]string{"mark.zone", "studs.keep_out", "hang.height", "hang.pair"}, recorded(p, m.Channel, hole.Measured, hole.Chosen, evidence{"mark": hole}))
		verdict, _ := judge.Worst(checks)
		want := verdict == gauge.Within && pose.SwingExcess == 0 && pose.TiltExcess == 0
		require.Equal(t, want, zone.Contains(spot), "%+v: %v", spot, verdicts(checks))
		if want {
			inside++
		}
	})
	assert.Positive(t, inside)
}

func TestZone_HoldsThePlan(t *testing.T) {
	p := demo(t)
	for _, m := range p.Mounts {
		zone, err := judge.Zone(p, m.Channel)
		require.NoError(t, err, m.Channel)
		assert.True(t, zone.Contains(place.Spot{Along: m.Along, Up: m.Up}), m.Channel)
	}
	_, err := judge.Zone(p, "no such")
	assert.ErrorIs(t, err, plan.ErrUnknown)
}

// Every mount of the demo plan hangs where its screws meet what is behind; testdata/demo/README.md.
func TestSpots(t *testing.T) {
	p := demo(t)
	for _, m := range p.Mounts {
		if m.Bracket == "" {
			continue
		}
		fit, err := judge.Spots(p, m.Channel, math.NaN())
		require.NoError(t, err, m.Channel)
		require.NotEmpty(t, fit.Fittings, m.Channel)
		nearest := fit.Fittings[0].Spot
		assert.InDelta(t, m.Along, nearest.Along, 0.01, m.Channel)
		assert.InDelta(t, m.Up, nearest.Up, 0.01, m.Channel)
	}
	// A stud that was found elsewhere takes the spot along, as far as the tolerances go.
	m := p.MountByChannel("M+090")
	fit, err := judge.Spots(p, "M+090", 2.351)
	require.NoError(t, err)
	require.NotEmpty(t, fit.Fittings)
	assert.InDelta(t, 2.351, fit.Fittings[0].Spot.Along, 0.0095, "within the 9.475 mm that a 1/4 in screw may be off the middle of 38 mm (NDS 2018 Table 12.5.1C)")
	assert.InDelta(t, m.Up, fit.Fittings[0].Spot.Up, 0.01)
	_, err = judge.Spots(p, "no such", math.NaN())
	assert.ErrorIs(t, err, plan.ErrUnknown)
}

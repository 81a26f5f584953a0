package judge_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/judge"
	"hangtrue/compute/place"
)

// Every planned hole of the demo lies in its zone for the primary position, with
// room to spare, and the bracket meets the framing there; what holds for all
// positions holds for each, and the other way round.
func TestZones_Demo(t *testing.T) {
	p := demo(t)
	e, err := judge.Evaluate(p)
	require.NoError(t, err)
	require.Len(t, e.Mounts, len(p.Mounts))
	for _, m := range e.Mounts {
		t.Run(m.Channel, func(t *testing.T) {
			require.Len(t, m.Each, len(p.Listening))
			assert.Equal(t, p.Primary().Name, m.Each[0].Seat)
			assert.True(t, m.Each[0].Holds)
			assert.Positive(t, m.Each[0].Binds.Distance)
			alone, err := judge.Zone(p, m.Channel)
			require.NoError(t, err)
			every := true
			for _, s := range m.Each {
				every = every && s.Holds
			}
			assert.Equal(t, every, m.All.Holds)
			placed, err := p.PlaceMount(m.Channel)
			require.NoError(t, err)
			for _, by := range []place.Spot{{}, {Along: 0.02}, {Up: -0.02}, {Along: -0.3, Up: 0.1}} {
				at := place.Spot{Along: placed.Hole.Along + by.Along, Up: placed.Hole.Up + by.Up}
				assert.Equal(t, alone.Contains(at), m.Each[0].Zone.Contains(at), "the primary position's zone is the mount's own")
			}
			if p.MountByChannel(m.Channel).Bracket != "" {
				require.NotEmpty(t, m.Fit.Fittings)
				assert.Less(t, m.Fit.Fittings[0].Angle, 0.001, "the plan's own spot meets the framing")
			}
		})
	}
}

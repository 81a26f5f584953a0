package plan_test

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/plan"
	"hangtrue/compute/gauge"
	"hangtrue/compute/layout"
	"hangtrue/compute/place"
)

const degree = math.Pi / 180

// microradian is how finely ranges are compared.
func microradians(angle float64) int64 { return int64(math.Round(angle * 1e6)) }

// Permitted ranges, pair symmetry and the side to rear gap of ITU-R BS.2051 Sound System J, as package layout holds them.
func TestDemoDirectionsArePermitted(t *testing.T) {
	p := decode(t, "demo/plan.json")
	directions, err := p.Directions("")
	require.NoError(t, err)
	f, err := p.Loudspeakers().Check(directions)
	require.NoError(t, err)
	assert.Empty(t, f.Missing)
	assert.Len(t, f.Loudspeakers, 12)
	for _, x := range f.Loudspeakers {
		for _, outside := range []layout.Direction{x.Outside, x.OutsideAlternative} {
			assert.Zero(t, microradians(outside.Azimuth), "%s azimuth %.3f°", x.Loudspeaker.Label, x.Actual.Azimuth/degree)
			assert.Zero(t, microradians(outside.Elevation), "%s elevation %.3f°", x.Loudspeaker.Label, x.Actual.Elevation/degree)
		}
	}
	require.Len(t, f.Pairs, 5)
	for _, x := range f.Pairs {
		assert.Zero(t, microradians(x.Azimuth), "%v", x.Labels)
		assert.Zero(t, microradians(x.Elevation), "%v", x.Labels)
	}
	require.Len(t, f.Gaps, 2)
	for _, x := range f.Gaps {
		assert.Zero(t, microradians(x.OutsideBy), "%v %.3f°", x.Labels, x.Gap/degree)
	}
}

// A loudspeaker that aims at the ear point is seen in the direction of its pivot, which follows from the sides of the
// room by right-angled triangles.
func TestDemoDirectionsByTriangles(t *testing.T) {
	p := decode(t, "demo/plan.json")
	for _, row := range []struct {
		channel            string
		right, ahead, over float64 // pivot from the ear point (2.45, 2.4, 1.15), metres
	}{
		{"M+030", 0.33 - 2.45, 6.1 - 0.08 - 2.4, 0},           // 80 mm in front of the front wall
		{"M-090", 4.9 - 0.08 - 2.45, 2.331 - 2.4, 0},          // 80 mm off the right wall, 2.331 m from the rear
		{"M+135", 0.08 - 2.45, 0.707 - 2.4, 0},                // 80 mm off the left wall
		{"U+045", 1.45 - 2.45, 6.1 - 2.31 - 2.4, 1.35 - 0.07}, // 70 mm under the ceiling
		{"LFE1", 0.42 - 2.45, 5.45 - 2.4, 0.2 - 1.15},         // stands; acoustic centre 200 mm over the floor
	} {
		s, err := p.Sight(row.channel, "")
		require.NoError(t, err)
		assert.InDelta(t, math.Atan2(-row.right, row.ahead), s.Azimuth, 1e-9, row.channel)
		assert.InDelta(t, math.Atan2(row.over, math.Hypot(row.right, row.ahead)), s.Elevation, 1e-9, row.channel)
	}
}

func TestDemoBracketsReachAndHold(t *testing.T) {
	p := decode(t, "demo/plan.json")
	for _, m := range p.Mounts {
		pose, err := p.Pose(m.Channel)
		require.NoError(t, err)
		assert.Zero(t, pose.SwingExcess, m.Channel)
		assert.Zero(t, pose.TiltExcess, m.Channel)
		if m.Bracket != "" {
			assert.GreaterOrEqual(t, p.Bracket(m.Bracket).RatedLoad, p.Model(m.Model).Mass, m.Channel)
		}
	}
}

// Nothing stands between the ear point and an acoustic centre, and no centre is inside the slope or the breast.
func TestDemoLoudspeakersAreInSight(t *testing.T) {
	p := decode(t, "demo/plan.json")
	surfaces, err := p.Surfaces()
	require.NoError(t, err)
	assert.Len(t, surfaces, 10)
	l, err := p.Listener("")
	require.NoError(t, err)
	for _, m := range p.Mounts {
		pose, err := p.Pose(m.Channel)
		require.NoError(t, err)
		ray := pose.Centre.Sub(l.Ear)
		hit, ok := place.Meet(surfaces, l.Ear, ray)
		require.True(t, ok, m.Channel)
		assert.Greater(t, hit.Distance, ray.Norm(), "%s meets %s first", m.Channel, surfaces[hit.Surface].Name)
	}
}

// Where there are studs, joists or rafters, every screw meets one within 2 mm of its middle.
func TestDemoScrewsMeetStuds(t *testing.T) {
	p := decode(t, "demo/plan.json")
	screws := 0
	for _, m := range p.Mounts {
		placed, err := p.PlaceMount(m.Channel)
		require.NoError(t, err)
		framing := placed.Surface.Framing
		if framing.Kind != place.Studs {
			continue
		}
		for _, h := range placed.Bracket.Pattern() {
			at := placed.Hole.Along + h.Along
			if framing.Across {
				at = placed.Hole.Up + h.Up
			}
			assert.Len(t, framing.Members(at-0.002, at+0.002), 1, "%s at %.3f", m.Channel, at)
			screws++
		}
	}
	assert.Equal(t, 12, screws, "two screws each of M+090, M+135, U+045, U-045, U+135, U-135")
}

// asBuilt is the demo plan with one mount's hole where the tape says it is.
func asBuilt(t *testing.T, p *plan.Plan, x *plan.MeasuredMount) (along, up gauge.Measured, distance float64) {
	t.Helper()
	along, up = taped(t, p, x.Tape, x.Along), taped(t, p, x.Tape, x.Up)
	q := *p
	q.Mounts = append([]plan.Mount(nil), p.Mounts...)
	m := q.MountByChannel(x.Channel)
	m.Along, m.Up = along.Value, up.Value
	s, err := q.Sight(x.Channel, "")
	require.NoError(t, err)
	return along, up, s.Distance
}

func taped(t *testing.T, p *plan.Plan, name string, values []float64) gauge.Measured {
	t.Helper()
	i := p.Instrument(name)
	require.Equal(t, plan.Tape, i.Kind)
	require.Equal(t, "II", i.Class)
	m, err := gauge.Reading{Instrument: gauge.TapeII, Values: values, Division: i.Resolution, FromSurface: i.FromHook, ByHand: i.Reading}.Evaluate()
	require.NoError(t, err)
	return m
}

// What testdata/demo/README.md says of the readings, by guarded acceptance (JCGM 106:2012).
func TestDemoReadings(t *testing.T) {
	p := decode(t, "demo/plan.json")
	m, err := plan.DecodeMeasured(read(t, "demo/measured.json"), p)
	require.NoError(t, err)
	require.Len(t, m.Mounts, len(p.Mounts))
	found := map[string][]string{}
	for _, x := range m.Mounts {
		along, up, predicted := asBuilt(t, p, &x)
		laser, err := gauge.Reading{Instrument: gauge.Laser, Values: x.Distance}.Evaluate()
		require.NoError(t, err)
		// The distance that the tape predicts cannot be known better than the ear point, nor moves more than the hole does.
		u := math.Sqrt(math.Pow(p.Primary().EarU, 2) + math.Pow(along.Uncertainty.Standard, 2) + math.Pow(up.Uncertainty.Standard, 2))
		if !gauge.Agree(predicted, u, laser.Value, laser.Uncertainty.Standard, gauge.Micrometre).Agrees {
			found["slip"] = append(found["slip"], x.Channel)
			continue
		}
		planned, worst := p.MountByChannel(x.Channel), gauge.Within
		for _, q := range []struct {
			gauge.Measured
			target float64
		}{{along, planned.Along}, {up, planned.Up}} {
			v := gauge.Evaluate(q.Value, q.Uncertainty, gauge.Around(q.target, p.Tolerances.Mark), gauge.Micrometre).Verdict
			if v == gauge.Outside || v == gauge.Unsure && worst == gauge.Within {
				worst = v
			}
		}
		found[worst.String()] = append(found[worst.String()], x.Channel)
	}
	assert.Equal(t, map[string][]string{
		"slip":    {"M-135"},
		"outside": {"U-045"},
		"unsure":  {"M+000"},
		"within":  {"M+030", "M-030", "LFE1", "M+090", "M-090", "M+135", "U+045", "U+135", "U-135"},
	}, found)
}

// The slip is the swapped digits that README.md names, and package gauge can find it.
func TestDemoSlipIsSwappedDigits(t *testing.T) {
	p := decode(t, "demo/plan.json")
	m, err := plan.DecodeMeasured(read(t, "demo/measured.json"), p)
	require.NoError(t, err)
	x := m.MountByChannel("M-135")
	assert.Equal(t, []float64{5.933}, x.Along)
	x.Along = []float64{5.393}
	_, _, predicted := asBuilt(t, p, x)
	assert.InDelta(t, x.Distance[0], predicted, 0.002)
	assert.Equal(t, p.MountByChannel("M-135").Along, x.Along[0])
}

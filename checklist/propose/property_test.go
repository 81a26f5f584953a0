package propose_test

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/propose"
	"hangtrue/checklist/workings"
	"hangtrue/compute/gauge"
	"hangtrue/compute/layout"
	"hangtrue/compute/place"
)

// The random draws of these tests: a run is repeated by its seed, and made longer by the number of rooms.
var (
	seed  = flag.Uint64("propose.seed", 2051, "seed of the random rooms")
	rooms = flag.Int("propose.rooms", 8, "random rooms for each layout")
)

// homes are the layouts of the 5.x to 7.x.4 class; others are tried in fewer rooms.
var (
	homes  = []string{"0+5+0", "2+5+0", "4+5+0", "4+5+1", "3+7+0", "0+7+0", "2+7+0", "4+7+0"}
	others = []string{"0+2+0", "2+3+0", "4+9+0", "6+9+0", "9+10+3"}
)

// room is a random room; every second one is a usual one.
func room(layout string, n int) *plan.Plan {
	r := rand.New(rand.NewPCG(*seed+uint64(n), uint64(len(layout))<<32|uint64(layout[0])<<16|uint64(layout[2])<<8|uint64(layout[4])))
	return anyRoom(r, layout, n%2 == 1)
}

// settled is the plan with the proposal in it. What a spot says is still open is filled in with something that fits, as a
// person would.
func settled(p *plan.Plan, proposed propose.Proposal) *plan.Plan {
	q := *p
	q.Mounts = nil
	for _, s := range proposed.Spots {
		m := s.Mount
		if m.Bracket != "" && m.Fixing == "" {
			m.Fixing = "Wall plug"
		}
		q.Mounts = append(q.Mounts, m)
	}
	return &q
}

// Every channel gets a spot or a reason. Every spot is held to the layout, to the rules of the document and to all checks
// by routes that know nothing of how it was found.
func TestMounts_KeepEveryRule(t *testing.T) {
	t.Logf("-propose.seed=%d", *seed)
	for i, name := range slices.Concat(homes, others) {
		var kinds [2]tally
		count := *rooms
		if i >= len(homes) {
			count = count/6 + 1
		}
		for n := range count {
			p := room(name, n)
			proposed, err := propose.Mounts(p, propose.Ask{})
			require.NoError(t, err)
			l := p.Loudspeakers()
			where := fmt.Sprintf("%s room %d", name, n)
			checkComplete(t, where, l, proposed)
			if len(proposed.Spots) > 0 {
				checkSpots(t, where, p, l, proposed)
			}
			kinds[n%2].count(proposed)
		}
		t.Logf("%s: any rooms: %v", name, kinds[0])
		t.Logf("%s: usual rooms: %v", name, kinds[1])
	}
}

// tally counts what became of rooms.
type tally struct {
	rooms, full, placed, refused int
	give                         map[string]int
}

func (y *tally) count(proposed propose.Proposal) {
	y.rooms++
	y.placed, y.refused = y.placed+len(proposed.Spots), y.refused+len(proposed.Cannot)
	if len(proposed.Cannot) == 0 {
		y.full++
	}
	if y.give == nil {
		y.give = map[string]int{}
	}
	for _, c := range proposed.Cannot {
		for _, g := range c.Give {
			y.give[strings.Join(strings.Fields(g)[:2], " ")]++
		}
	}
}

func (y tally) String() string {
	return fmt.Sprintf("%d of %d fully placed, %d of %d loudspeakers; what would have to give begins %v", y.full, y.rooms, y.placed, y.placed+y.refused, y.give)
}

func checkComplete(t *testing.T, where string, l *layout.Layout, proposed propose.Proposal) {
	var got []string
	for _, s := range proposed.Spots {
		got = append(got, s.Mount.Channel)
		assert.NotEmpty(t, s.Why, "%s %s", where, s.Mount.Channel)
	}
	for _, c := range proposed.Cannot {
		got = append(got, c.Channel)
		assert.NotEmpty(t, c.Why, "%s %s", where, c.Channel)
		assert.NotEmpty(t, c.Give, "%s %s", where, c.Channel)
	}
	var want []string
	for i := range l.Loudspeakers {
		want = append(want, l.Loudspeakers[i].Label)
	}
	slices.Sort(got)
	slices.Sort(want)
	assert.Equal(t, want, got, where)
}

func checkSpots(t *testing.T, where string, p *plan.Plan, l *layout.Layout, proposed propose.Proposal) {
	q := settled(p, proposed)
	data, err := q.Encode()
	require.NoError(t, err)
	q, err = plan.Decode(data)
	require.NoError(t, err, where)

	tolerances := p.Tolerances
	directions, err := q.Directions("")
	require.NoError(t, err, where)
	found, err := l.Check(directions)
	require.NoError(t, err, where)
	for _, f := range found.Loudspeakers {
		az, el := math.Abs(f.Outside.Azimuth), math.Abs(f.Outside.Elevation)
		if f.Loudspeaker.Bands[0].Target() {
			az -= tolerances.Azimuth
		}
		if f.Loudspeaker.ElevationRange().Target() {
			el -= tolerances.Elevation
		}
		assert.LessOrEqual(t, math.Max(az, el), 0.0, "%s %s is where the layout does not permit it", where, f.Loudspeaker.Label)
	}
	for _, pair := range found.Pairs {
		assert.LessOrEqual(t, math.Max(math.Abs(pair.Azimuth), math.Abs(pair.Elevation)), tolerances.PairAzimuth, "%s %v", where, pair.Labels)
		a, err := q.Sight(pair.Labels[0], "")
		require.NoError(t, err)
		b, err := q.Sight(pair.Labels[1], "")
		require.NoError(t, err)
		assert.LessOrEqual(t, math.Abs(a.Height-b.Height), tolerances.PairHeight, "%s %v", where, pair.Labels)
	}
	for _, g := range found.Gaps {
		assert.Zero(t, g.OutsideBy, "%s %v", where, g.Labels)
	}
	for _, c := range append(judge.WholePlan(q), workings.Checks(q)...) {
		if c.Verdict == gauge.Outside && c.Name != "plan.missing" {
			t.Errorf("%s: %s %s: %s %v", where, c.Subject, c.Name, c.Says, c.Measured)
		}
	}
	checkCabinets(t, where, q, proposed)
	for _, s := range proposed.Spots {
		for _, open := range s.Open {
			assert.True(t, strings.HasPrefix(open, "The plan does not say what is behind"), "%s %s: %s", where, s.Mount.Channel, open)
		}
	}
}

// checkCabinets holds the cabinets apart, clear of walls and openings and in sight, by sampling them. One may touch the
// surface it hangs on, if it says so.
func checkCabinets(t *testing.T, where string, q *plan.Plan, proposed propose.Proposal) {
	surfaces, err := q.Surfaces()
	require.NoError(t, err)
	listener, err := q.Listener("")
	require.NoError(t, err)
	var all []cabinet
	for i := range q.Mounts {
		m := &q.Mounts[i]
		at := fmt.Sprintf("%s %s", where, m.Channel)
		pose, err := q.Pose(m.Channel)
		require.NoError(t, err)
		box := cabinetOf(q, m, pose)
		own := slices.IndexFunc(surfaces, func(s place.Surface) bool { return s.Name == m.Surface })
		others := slices.Delete(slices.Clone(surfaces), own, own+1)
		assert.False(t, box.through(others), "%s sticks through a surface", at)
		way := listener.Ear.Sub(pose.Centre)
		if hit, ok := place.Meet(others, pose.Centre, way); ok {
			assert.Greater(t, hit.Distance, way.Norm()-1e-6, "%s is hidden", at)
		}
		deepest := 0.0
		for corner := range 8 {
			p := box.point(float64(corner&1)*2-1, float64(corner>>1&1)*2-1, float64(corner>>2)*2-1)
			spot, out := surfaces[own].Locate(p)
			deepest = math.Max(deepest, -out)
			for _, a := range surfaces[own].Openings {
				inside := spot.Along > a.Min.Along && spot.Along < a.Max.Along && spot.Up > a.Min.Up && spot.Up < a.Max.Up
				assert.False(t, inside, "%s covers the %s", at, a.Name)
			}
		}
		s := proposed.Spots[i]
		says := slices.ContainsFunc(s.Cautions, func(c string) bool { return strings.HasPrefix(c, "By its size") })
		assert.Equal(t, deepest > 0.002, says, "%s: %v deep in its own surface", at, deepest)
		for k, other := range all {
			assert.Greater(t, box.apart(other), 0.0199, "%s and %s", at, q.Mounts[k].Channel)
		}
		all = append(all, box)
	}
}

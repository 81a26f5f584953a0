package propose_test

import (
	"flag"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/propose"
	"hangtrue/compute/gauge"
	"hangtrue/compute/layout"
	"hangtrue/compute/place"
)

var refused = flag.Int("propose.refused", 6, "refused channels to search for by brute force")

// cabinet is a loudspeaker's box as this test sees it: its middle and its three half edges.
type cabinet struct {
	middle place.Vec
	half   [3]place.Vec
}

// cabinetOf is the box about the centre of mass of what hangs, or upright about the acoustic centre of what stands.
func cabinetOf(p *plan.Plan, m *plan.Mount, pose place.Pose) cabinet {
	model := p.Model(m.Model)
	w, h, d := model.Size.Width/2, model.Size.Height/2, model.Size.Depth/2
	if m.Bracket != "" {
		return cabinet{pose.Pivot.Add(pose.Axis.Scale(model.CentreOut)), [3]place.Vec{pose.Axis.Scale(d), pose.Right.Scale(w), pose.Up.Scale(h)}}
	}
	turned := pose.Heading
	if model.Kind == plan.Subwoofer {
		turned = p.Primary().Facing
	}
	sin, cos := math.Sincos(turned)
	return cabinet{pose.Centre, [3]place.Vec{{X: -sin * d, Y: cos * d}, {X: cos * w, Y: sin * w}, {Z: h}}}
}

// point is a place in the cabinet, its parts counted from -1 to 1.
func (c cabinet) point(a, b, e float64) place.Vec {
	return c.middle.Add(c.half[0].Scale(a)).Add(c.half[1].Scale(b)).Add(c.half[2].Scale(e))
}

// nearest is the point of the cabinet nearest to another.
func (c cabinet) nearest(p place.Vec) place.Vec {
	out := c.middle
	for _, h := range c.half {
		n := h.Norm()
		x := p.Sub(c.middle).Dot(h) / n
		out = out.Add(h.Scale(math.Max(-n, math.Min(n, x)) / n))
	}
	return out
}

// apart is the distance between two cabinets, by alternating projections.
func (c cabinet) apart(d cabinet) float64 {
	p := c.middle
	for range 300 {
		p = d.nearest(c.nearest(p))
	}
	return p.Sub(c.nearest(p)).Norm()
}

// through tells whether one of many straight ways from the cabinet's middle to its outside leads through a surface.
func (c cabinet) through(surfaces []place.Surface) bool {
	const n = 4
	for i := -n; i <= n; i++ {
		for j := -n; j <= n; j++ {
			for k := -n; k <= n; k++ {
				if max(i, -i, j, -j, k, -k) < n {
					continue
				}
				to := c.point(float64(i)/n, float64(j)/n, float64(k)/n).Sub(c.middle)
				if hit, ok := place.Meet(surfaces, c.middle, to); ok && hit.Distance < to.Norm()-1e-4 {
					return true
				}
			}
		}
	}
	return false
}

// trial looks for a spot of one channel by brute force.
type trial struct {
	p        *plan.Plan
	at       *layout.Loudspeaker
	gear     *propose.Gear
	surfaces []place.Surface
	listener place.Listener
	others   []cabinet
	gaps     map[string]float64 // azimuths of the others, by channel
	partner  *place.Sight
}

func newTrial(t *testing.T, p *plan.Plan, proposed propose.Proposal, channel string) *trial {
	surfaces, err := p.Surfaces()
	require.NoError(t, err)
	listener, err := p.Listener("")
	require.NoError(t, err)
	at, _ := p.Loudspeakers().Loudspeaker(channel)
	ask := propose.Defaults(p)
	b := &trial{p: p, at: at, gear: ask.Of(propose.GroupOf(at)), surfaces: surfaces, listener: listener, gaps: map[string]float64{}}
	q := settled(p, proposed)
	for i := range q.Mounts {
		m := &q.Mounts[i]
		pose, err := q.Pose(m.Channel)
		require.NoError(t, err)
		b.others = append(b.others, cabinetOf(q, m, pose))
		sight := listener.See(pose.Centre)
		b.gaps[m.Channel] = sight.Azimuth
		if m.Channel == at.Pair && !at.LFE {
			b.partner = &sight
		}
	}
	return b
}

// spots hands every spot of a grid of 20 mm, and of the lines of the framing, that keeps every rule to a function, until
// that has seen enough. What stands on the floor is not looked for.
func (b *trial) spots(enough func(m plan.Mount, at place.Sight) bool) {
	const step = 0.02
	for i := range b.surfaces {
		s := &b.surfaces[i]
		lean := s.Normal().Z
		var names []string
		if lean < 0.05 {
			if lean > -0.95 {
				names = append(names, b.gear.Wall...)
			}
			if lean < -0.05 {
				names = append(names, b.gear.Overhead...)
			}
		}
		for _, bracket := range names {
			for _, fixing := range b.fixings(s) {
				m := plan.Mount{Channel: b.at.Label, Model: b.gear.Model, Bracket: bracket, Surface: s.Name, Fixing: fixing}
				across := func(v float64) []float64 { return grid(0, v, step) }
				alongs, ups := across(extentOf(s.Outline, true)), across(extentOf(s.Outline, false))
				if s.Framing.Kind == place.Studs {
					if s.Framing.Across {
						ups = append(ups, s.Framing.Members(0, extentOf(s.Outline, false))...)
					} else {
						alongs = append(alongs, s.Framing.Members(0, extentOf(s.Outline, true))...)
					}
				}
				for _, m.Along = range alongs {
					for _, m.Up = range ups {
						if at, ok := b.keeps(&m, s); ok && enough(m, at) {
							return
						}
					}
				}
			}
		}
	}
}

func grid(from, to, step float64) (all []float64) {
	for x := from; x <= to; x += step {
		all = append(all, x)
	}
	return all
}

func extentOf(outline []place.Spot, along bool) float64 {
	most := 0.0
	for _, q := range outline {
		if along {
			most = math.Max(most, q.Along)
		} else {
			most = math.Max(most, q.Up)
		}
	}
	return most
}

// fixings are those that suit what is behind a surface; an empty name where the plan does not say.
func (b *trial) fixings(s *place.Surface) (all []string) {
	kind := ""
	for _, x := range b.p.Room.Surfaces {
		if x.Name == s.Name {
			kind = x.Construction.Kind
		}
	}
	for i := range b.p.Fixings {
		f := &b.p.Fixings[i]
		if f.Kind == plan.Rated && f.Base == kind || f.Kind != plan.Rated && kind == plan.Studs {
			all = append(all, f.Name)
		}
	}
	if kind == "" {
		return []string{""}
	}
	return all
}

// keeps tells whether a mount keeps every rule, the quickest to tell first.
func (b *trial) keeps(m *plan.Mount, s *place.Surface) (at place.Sight, ok bool) {
	placed, err := b.p.MountOn(m, s)
	if err != nil {
		return at, false
	}
	pose, err := place.Aim(placed, b.listener.Ear)
	if err != nil || pose.SwingExcess != 0 || pose.TiltExcess != 0 {
		return at, false
	}
	at = b.listener.See(pose.Centre)
	t := b.p.Tolerances
	az, el := b.at.OutsideBy(at.Direction)
	if b.at.Bands[0].Target() {
		az = math.Max(0, math.Abs(az)-t.Azimuth)
	}
	if b.at.ElevationRange().Target() {
		el = math.Max(0, math.Abs(el)-t.Elevation)
	}
	if az != 0 || el != 0 {
		return at, false
	}
	if b.partner != nil {
		d := place.PairDeviation(at, *b.partner)
		if math.Abs(d.Azimuth) > t.PairAzimuth || math.Abs(d.Elevation) > t.PairAzimuth || math.Abs(d.Height) > t.PairHeight {
			return at, false
		}
	}
	for _, r := range b.p.Loudspeakers().Rules {
		i := slices.Index(r.Labels[:], b.at.Label)
		if other, placed := b.gaps[r.Labels[1-max(i, 0)]]; r.Kind == layout.AzimuthGap && i >= 0 && placed {
			if gap := math.Abs(place.Wrap(at.Azimuth - other)); gap < r.Min || gap > r.Max {
				return at, false
			}
		}
	}
	margin := 0.0
	if f := b.p.Fixing(m.Fixing); f != nil {
		margin = judge.Centring(f, s.Framing.Width)
	}
	for _, h := range placed.Bracket.Pattern() {
		q := place.Spot{Along: m.Along + h.Along, Up: m.Up + h.Up}
		if s.ClearOf(q, t.EdgeClearance).Spare < 0 {
			return at, false
		}
		x := q.Along
		if s.Framing.Across {
			x = q.Up
		}
		if s.Framing.Kind == place.Studs && !slices.ContainsFunc(s.Framing.Members(x-1, x+1), func(c float64) bool { return math.Abs(c-x) <= margin }) {
			return at, false
		}
	}
	return at, b.fits(m, s, pose)
}

// fits tells whether the cabinet has room and is seen, and the checks have nothing against the mount.
func (b *trial) fits(m *plan.Mount, s *place.Surface, pose place.Pose) bool {
	box := cabinetOf(b.p, m, pose)
	others := slices.DeleteFunc(slices.Clone(b.surfaces), func(x place.Surface) bool { return x.Name == s.Name })
	grown := box
	for i, h := range grown.half {
		grown.half[i] = h.Scale(1 + 0.01/h.Norm())
	}
	if grown.through(others) {
		return false
	}
	way := b.listener.Ear.Sub(pose.Centre)
	if hit, ok := place.Meet(others, pose.Centre, way); ok && hit.Distance < way.Norm()-1e-6 {
		return false
	}
	low, high := place.Spot{Along: math.Inf(1), Up: math.Inf(1)}, place.Spot{Along: math.Inf(-1), Up: math.Inf(-1)}
	for corner := range 8 {
		q, _ := s.Locate(box.point(float64(corner&1)*2-1, float64(corner>>1&1)*2-1, float64(corner>>2)*2-1))
		low.Along, low.Up, high.Along, high.Up = math.Min(low.Along, q.Along), math.Min(low.Up, q.Up), math.Max(high.Along, q.Along), math.Max(high.Up, q.Up)
	}
	for _, a := range s.Openings {
		if low.Along < a.Max.Along && high.Along > a.Min.Along && low.Up < a.Max.Up && high.Up > a.Min.Up {
			return false
		}
	}
	for _, o := range b.others {
		if box.apart(o) < 0.045 { // 20 mm to every side, as far as a corner
			return false
		}
	}
	q := *b.p
	q.Mounts = []plan.Mount{*m}
	for _, c := range judge.WholePlan(&q) {
		if c.Subject == m.Channel && c.Verdict == gauge.Outside && c.Name != "plan.missing" && c.Name != "wire.loss" && c.Name != "bridges.load" {
			return false
		}
	}
	return true
}

// checkUnlike looks for two spots that mirror each other among all spots of both of a pair.
func checkUnlike(t *testing.T, where string, p *plan.Plan, proposed propose.Proposal, at *layout.Loudspeaker) {
	var alone propose.Proposal
	for _, s := range proposed.Spots {
		if s.Mount.Channel != at.Pair && s.Mount.Channel != at.Label {
			alone.Spots = append(alone.Spots, s)
		}
	}
	var seen [2][]place.Sight
	for i, label := range [2]string{at.Label, at.Pair} {
		newTrial(t, p, alone, label).spots(func(_ plan.Mount, at place.Sight) bool {
			seen[i] = append(seen[i], at)
			return false
		})
	}
	tolerances := p.Tolerances
	for _, a := range seen[0] {
		for _, b := range seen[1] {
			d := place.PairDeviation(a, b)
			alike := math.Max(math.Abs(d.Azimuth), math.Abs(d.Elevation)) <= tolerances.PairAzimuth && math.Abs(d.Height) <= tolerances.PairHeight
			if !assert.False(t, alike, "%s: %v mirrors %v", where, a, b) {
				return
			}
		}
	}
	t.Logf("%s: %d and %d spots, none alike", where, len(seen[0]), len(seen[1]))
}

// Where the proposal says that a channel cannot be placed, a search of every surface in steps of 20 mm finds no spot
// either that keeps all rules beside what was placed.
func TestMounts_RefusalsAreHonest(t *testing.T) {
	t.Logf("-propose.seed=%d", *seed)
	left := *refused
	for n := 1000; left > 0; n++ {
		name := homes[n%len(homes)]
		p := room(name, n)
		proposed, err := propose.Mounts(p, propose.Ask{})
		require.NoError(t, err)
		for _, c := range proposed.Cannot {
			at, _ := p.Loudspeakers().Loudspeaker(c.Channel)
			if at.LFE {
				continue
			}
			left--
			b := newTrial(t, p, proposed, c.Channel)
			found, where := 0, ""
			b.spots(func(m plan.Mount, at place.Sight) bool {
				found++
				where = fmt.Sprintf("%s %s at %.3f, %.3f on %s with %s: %.2f° %.2f°", name, m.Channel, m.Along, m.Up, m.Surface, m.Bracket, at.Azimuth/degree, at.Elevation/degree)
				return found > 100
			})
			assert.Zero(t, found, "room %d: %s, but it says %v", n, where, c.Why)
			if strings.Contains(c.Why[0], "have spots, but none of one") {
				checkUnlike(t, fmt.Sprintf("room %d: %s %s", n, name, c.Channel), p, proposed, at)
			}
		}
	}
}

package paper

import (
	"cmp"
	"slices"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/compute/place"
)

// A hole is one place on a surface that is marked: where a screw goes, or a reference
// point that nothing goes through.
type hole struct {
	mount *plan.Mount
	// number counts the surface's holes, by mounts from left to right; 0 is a reference
	// point that takes no screw.
	number    int
	at        place.Spot // tape coordinates, metres
	offset    place.Spot // from the reference hole, metres
	reference bool
}

// mountsOn are a surface's mounts, from left to right and then upward.
func (j Job) mountsOn(surface string) []*plan.Mount {
	var all []*plan.Mount
	for i := range j.Plan.Mounts {
		if m := &j.Plan.Mounts[i]; m.Surface == surface {
			all = append(all, m)
		}
	}
	slices.SortStableFunc(all, func(a, b *plan.Mount) int {
		return cmp.Or(cmp.Compare(a.Along, b.Along), cmp.Compare(a.Up, b.Up))
	})
	return all
}

// holesOn are a surface's holes in the order of their numbers; a mount's reference
// point without a screw stands before its holes, and what stands has that point alone.
func (j Job) holesOn(surface string) []hole {
	var all []hole
	number := 0
	for _, m := range j.mountsOn(surface) {
		spot := place.Spot{Along: m.Along, Up: m.Up}
		pattern := j.pattern(m)
		if !slices.Contains(pattern, place.Spot{}) {
			all = append(all, hole{mount: m, at: spot, reference: true})
		}
		for _, offset := range pattern {
			number++
			all = append(all, hole{mount: m, number: number, offset: offset, reference: offset == place.Spot{},
				at: place.Spot{Along: spot.Along + offset.Along, Up: spot.Up + offset.Up}})
		}
	}
	return all
}

// pattern are a mount's screws from its reference hole: as the bracket has them, the
// reference hole alone where it lists none; none for what stands.
func (j Job) pattern(m *plan.Mount) []place.Spot {
	if m.Bracket == "" {
		return nil
	}
	b := j.Plan.Bracket(m.Bracket)
	if b == nil || len(b.Holes) == 0 {
		return []place.Spot{{}}
	}
	pattern := make([]place.Spot, len(b.Holes))
	for i, h := range b.Holes {
		pattern[i] = place.Spot{Along: h[0], Up: h[1]}
	}
	return pattern
}

// surfacesInUse are the surfaces that carry a mount, in the room's order.
func (j Job) surfacesInUse() []place.Surface {
	all, err := j.Plan.Surfaces()
	if err != nil {
		return nil
	}
	return slices.DeleteFunc(all, func(s place.Surface) bool { return len(j.mountsOn(s.Name)) == 0 })
}

// unplaced are the mounts whose surface the plan does not have; a settled plan has none.
func (j Job) unplaced() []string {
	known := map[string]bool{}
	for _, s := range j.surfacesInUse() {
		known[s.Name] = true
	}
	var names []string
	for _, m := range j.Plan.Mounts {
		if !known[m.Surface] {
			names = append(names, m.Channel)
		}
	}
	return names
}

// pilot is the pilot hole of a mount's fixing in metres: the plan's own, else what the
// rule for the fixing advises; 0 where neither says.
func (j Job) pilot(m *plan.Mount) float64 {
	if f := j.Plan.Fixing(m.Fixing); f != nil && f.Pilot > 0 {
		return f.Pilot
	}
	for _, c := range j.drilling(m) {
		if c.Name == "drill.pilot" && c.Target > 0 && c.Target < 1 {
			return c.Target
		}
	}
	return 0
}

// behind is what the plan says that a surface's screws meet, as the step that looks for
// it has it.
var behind = map[place.FramingKind]string{place.Studs: "stud", place.Masonry: "masonry", place.Concrete: "concrete", place.Other: "board"}

// drilling is what the rules accept as bit and depth for the planned fixing in what the
// plan says is behind. The limits do not depend on what is drilled: any number gets them.
func (j Job) drilling(m *plan.Mount) []judge.Check {
	placed, err := j.Plan.PlaceMount(m.Channel)
	if err != nil {
		return nil
	}
	found := judge.Evidence{Chosen: map[string]string{"fixing": m.Fixing, "behind": behind[placed.Surface.Framing.Kind]}}
	return judge.Run([]string{"drill.pilot", "drill.depth"}, judge.Case{
		Plan: j.Plan, Mount: m, Measured: map[string][]int64{"pilot_um": {1}, "depth_um": {1}}, Chosen: map[string]string{},
		Prior: func(step, _ string) (judge.Evidence, bool) { return found, step == "studs" },
	})
}

// into says what a screw at a spot goes into, by the plan. One that passes the member by says so: whoever drills must not
// look for wood there.
func (j Job) into(at place.Spot, s *place.Surface) string {
	f := s.Framing
	if f.Kind != place.Studs {
		return map[place.FramingKind]string{place.Masonry: "masonry", place.Concrete: "concrete", place.Other: "not known"}[f.Kind]
	}
	centre, ok := nearestTo(f, counted(f, at))
	if !ok {
		return member(s)
	}
	text := member(s) + " at " + j.length(centre)
	if beside := abs(counted(f, at)-centre) - f.Width/2; f.Width > 0 && beside > 5e-7 {
		return misses + " the " + text + " by " + j.small(beside)
	}
	return text
}

// misses stands before what a screw does not meet, for all to see.
const misses = "MISSES"

// counted is a spot's coordinate in the way that a framing counts its members.
func counted(f place.Framing, at place.Spot) float64 {
	if f.Across {
		return at.Up
	}
	return at.Along
}

// nearest is the middle of the member closest to a mount.
func nearest(f place.Framing, m *plan.Mount) (centre float64, ok bool) {
	return nearestTo(f, counted(f, place.Spot{Along: m.Along, Up: m.Up}))
}

func nearestTo(f place.Framing, at float64) (centre float64, ok bool) {
	for _, c := range f.Members(at-2, at+2) {
		if !ok || abs(c-at) < abs(centre-at) {
			centre, ok = c, true
		}
	}
	return centre, ok
}

func abs(x float64) float64 { return max(x, -x) }

// member is what a surface's framing is called by how it lies.
func member(s *place.Surface) string {
	switch z := abs(s.Normal().Z); {
	case z < 0.3:
		return "stud"
	case z > 0.99:
		return "joist"
	}
	return "rafter"
}

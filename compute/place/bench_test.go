package place_test

import (
	"fmt"
	"math"
	"testing"

	"hangtrue/compute/place"
)

// plan is mounts of system J (4+7+0) directions, repeated, in a room of 4.4 × 6 × 2.5 m with a door, a window and pipes,
// and eight listening positions: the first with the layout's ranges and the plan's tolerance, the others with ranges
// wider by 15° that their place in the room asks for.
func plan(b *testing.B, n int) []task {
	room := box(b, 4.4, 6, 2.5)
	for i := range room {
		room[i].Openings = []place.Area{{Name: "window", Min: at(1.2, 0.9), Max: at(2.1, 2.05), Clearance: 0.05}}
		room[i].KeepOuts = []place.Area{{Name: "pipe", Min: at(3.6, 0), Max: at(3.65, 2.5), Clearance: 0.03}}
	}
	seats := make([]place.Listener, 8)
	for i := range seats {
		seats[i] = place.Listener{Name: fmt.Sprint("seat ", i+1), Ear: place.Vec{X: 2.2 + 0.6*float64((i+1)%4-1), Y: 2.6 - 1.1*float64(i/4), Z: 1.2}}
	}
	bracket := place.Bracket{
		Holes: []place.Spot{at(0, 0), at(0, -0.1)}, PivotUp: -0.05, PivotOut: 0.08,
		SwingMin: rad(-60), SwingMax: rad(60), TiltMin: rad(-60), TiltMax: rad(60),
	}
	var tasks []task
	for _, d := range []place.Direction{aimed(30, 0), aimed(-30, 0), aimed(90, 0), aimed(-90, 0), aimed(135, 0), aimed(-135, 0), aimed(45, 35), aimed(-45, 35), aimed(135, 35), aimed(-135, 35)} {
		hit, ok := place.Meet(room, seats[0].Ear, seats[0].Ray(d))
		if !ok {
			b.Fatal("the room is open")
		}
		t := task{target: seats[0].Ear, mount: place.Mount{Surface: &room[hit.Surface], Hole: hit.Spot, Bracket: bracket, Speaker: place.Speaker{Reach: 0.2}}}
		t.limits.Margin = 0.05
		planned := place.About(d, rad(2), rad(2))
		for i, seat := range seats {
			pose, err := place.Aim(t.mount, t.target)
			if err != nil {
				b.Fatal(err)
			}
			v := place.View{Listener: seat, Permitted: []place.Sector{place.About(seat.See(pose.Centre).Direction, rad(15), rad(15))}}
			if i == 0 {
				v.Planned = &planned
			}
			t.limits.Views = append(t.limits.Views, v)
		}
		tasks = append(tasks, t)
	}
	for len(tasks) < n {
		tasks = append(tasks, tasks[len(tasks)-10])
	}
	return tasks[:n]
}

// A whole plan, eight listening positions: every mount aimed and seen from each, its zone made, its hole judged, the zone
// of each position judged. With outlines the zones are traced as well. Budget: 2 ms for 16 mounts.
func BenchmarkPlan(b *testing.B) {
	for _, n := range []int{4, 16, 64} {
		tasks := plan(b, n)
		for _, outlines := range []bool{false, true} {
			b.Run(fmt.Sprintf("mounts=%d/outlines=%t", n, outlines), func(b *testing.B) {
				b.ReportAllocs()
				for b.Loop() {
					for _, t := range tasks {
						evaluate(b, t, outlines)
					}
				}
				b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N)/1e3, "ms/plan")
			})
		}
	}
}

func evaluate(b *testing.B, t task, outlines bool) {
	pose, err := place.Aim(t.mount, t.target)
	if err != nil {
		b.Fatal(err)
	}
	z, err := place.NewZone(t.mount, t.target, t.limits)
	if err != nil {
		b.Fatal(err)
	}
	for i, v := range t.limits.Views {
		if seen := v.Listener.See(pose.Centre); math.IsNaN(seen.Azimuth) {
			b.Fatal("no direction")
		}
		z.Of(i).Contains(t.mount.Hole)
	}
	z.Binding(t.mount.Hole)
	if outlines {
		if o, err := z.Outline(); err != nil || len(o) == 0 {
			b.Fatal("no outline", err, t.mount.Surface.Name, t.mount.Hole)
		}
	}
}

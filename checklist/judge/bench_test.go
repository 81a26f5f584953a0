package judge_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
)

// large is the attic lounge with as many mounts and listening positions as asked
// for. Mounts beyond the room's own hang where one of those hangs already, under
// names that no layout knows.
func large(t testing.TB, mounts, seats int) (*plan.Plan, *plan.Measured) {
	p := demo(t)
	m := demoMeasured(t, p)
	own, read := p.Mounts, m.Mounts
	p.Mounts, m.Mounts = nil, nil
	for i := range mounts {
		mount, built := own[i%len(own)], read[i%len(own)]
		if i >= len(own) {
			mount.Channel = fmt.Sprint("more ", i)
		}
		built.Channel = mount.Channel
		p.Mounts, m.Mounts = append(p.Mounts, mount), append(m.Mounts, built)
	}
	for len(p.Listening) > seats {
		p.Listening = p.Listening[:seats]
	}
	for i := len(p.Listening); i < seats; i++ {
		seat := p.Listening[0]
		seat.Name, seat.Primary = fmt.Sprintf("seat %d", i+1), false
		p.Listening = append(p.Listening, seat)
	}
	return p, m
}

var sizes = []struct{ mounts, seats int }{{4, 1}, {4, 8}, {16, 1}, {16, 8}, {64, 1}, {64, 8}}

// The budget for 16 mounts and 8 listening positions is 2 ms.
func BenchmarkWholePlan(b *testing.B) {
	for _, size := range sizes {
		p, _ := large(b, size.mounts, size.seats)
		b.Run(fmt.Sprintf("mounts=%d/seats=%d", size.mounts, size.seats), func(b *testing.B) {
			b.ReportAllocs()
			var checks []judge.Check
			for b.Loop() {
				checks = judge.WholePlan(p)
			}
			require.NotEmpty(b, checks)
		})
	}
}

func BenchmarkAsBuilt(b *testing.B) {
	for _, size := range sizes {
		p, m := large(b, size.mounts, size.seats)
		b.Run(fmt.Sprintf("mounts=%d/seats=%d", size.mounts, size.seats), func(b *testing.B) {
			b.ReportAllocs()
			var checks []judge.Check
			for b.Loop() {
				checks = judge.AsBuilt(p, m)
			}
			require.NotEmpty(b, checks)
		})
	}
}

// Every mount's zone, without its outline.
func BenchmarkZones(b *testing.B) {
	p, _ := large(b, 16, 8)
	b.ReportAllocs()
	for b.Loop() {
		for i := range p.Mounts {
			if _, err := judge.Zone(p, p.Mounts[i].Channel); err != nil {
				b.Fatal(err)
			}
		}
	}
}

// Everything that follows from a plan: all checks, the zone of every mount for
// every seat and for all, what binds there, and the spots on framing.
func BenchmarkEvaluate(b *testing.B) {
	for _, size := range sizes {
		p, _ := large(b, size.mounts, size.seats)
		b.Run(fmt.Sprintf("mounts=%d/seats=%d", size.mounts, size.seats), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := judge.Evaluate(p); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

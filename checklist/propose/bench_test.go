package propose_test

import (
	"fmt"
	"testing"

	"hangtrue/checklist/propose"
)

// A proposal for the demo room, all twelve loudspeakers of it, and for random rooms, in most of which some loudspeakers
// find no spot: what would have to give is looked for as well.
func BenchmarkMounts(b *testing.B) {
	lounge := demo(b)
	b.Run("demo", func(b *testing.B) {
		for b.Loop() {
			if _, err := propose.Mounts(lounge, propose.Ask{}); err != nil {
				b.Fatal(err)
			}
		}
	})
	for _, layout := range []string{"0+5+0", "4+5+0", "4+7+0"} {
		b.Run(fmt.Sprint("rooms/", layout), func(b *testing.B) {
			for n := 0; b.Loop(); n++ {
				if _, err := propose.Mounts(room(layout, n%40), propose.Ask{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

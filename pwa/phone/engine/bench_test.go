package engine_test

import (
	"fmt"
	"testing"

	"hangtrue/pwa/internal/stand"
)

// Loading a job of 450 records from the storage, as a launch does, with the snapshot
// that an earlier launch left and without.
func BenchmarkLoad(b *testing.B) {
	p := newPhone(b, stand.Serve(nil, newSite(b, 450)), 1)
	p.exchange()
	p.restart()
	p.load(jobID)
	b.Run("snapshot", func(b *testing.B) {
		for b.Loop() {
			p.restart()
			p.load(jobID)
		}
	})
	b.Run("whole", func(b *testing.B) {
		for b.Loop() {
			p.restart()
			p.engine.SnapshotEvery(1 << 30)
			delete(p.rows, fmt.Sprintf("snapshots%q", jobID))
			p.load(jobID)
		}
	})
}

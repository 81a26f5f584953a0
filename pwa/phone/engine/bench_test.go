package engine_test

import (
	"testing"

	"hangtrue/pwa/internal/stand"
)

// Loading a job of 450 records from the storage, as a launch does.
func BenchmarkLoad(b *testing.B) {
	p := newPhone(b, stand.Serve(nil, newSite(b, 450)), 1)
	p.exchange()
	for b.Loop() {
		p.restart()
		p.load(jobID)
	}
}

package bolt

import (
	"testing"

	"go.etcd.io/bbolt"
)

// WithUpgrades makes the program one of another stored format for a test: of the first
// one with no steps. It examines that one alone.
func WithUpgrades(t *testing.T, steps ...func(*bbolt.Tx) error) {
	before, oldest := upgrades, alike
	upgrades, alike = steps, 1+len(steps)
	t.Cleanup(func() { upgrades, alike = before, oldest })
}

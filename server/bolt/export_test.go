package bolt

import (
	"testing"

	"go.etcd.io/bbolt"
)

// WithUpgrades makes the program one of a later stored format for a test.
func WithUpgrades(t *testing.T, steps ...func(*bbolt.Tx) error) {
	before := upgrades
	upgrades = steps
	t.Cleanup(func() { upgrades = before })
}

package memory_test

import (
	"testing"

	"hangtrue/server/memory"
	"hangtrue/server/store"
	"hangtrue/server/store/storetest"
)

func TestStore(t *testing.T) {
	storetest.Run(t, func(*testing.T) store.Store { return memory.New() })
}

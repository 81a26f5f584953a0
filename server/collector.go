package server

import (
	"os"
	"runtime/debug"
)

// memoryBound is what the program aims to stay below, in bytes: 200 MB are allowed, and
// threads and stacks come on top.
const memoryBound = 160 << 20

// BoundMemory has the collector run seldom while the program is small, which a fifth of
// its time is saved by when many push at once, and the more often the nearer it comes to
// a bound. What GOGC and GOMEMLIMIT say in the environment goes before it.
func BoundMemory() {
	if os.Getenv("GOGC") == "" {
		debug.SetGCPercent(400)
	}
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(memoryBound)
	}
}

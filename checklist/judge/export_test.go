package judge

import (
	"maps"
	"slices"
)

// Names are those of all check functions, sorted.
func Names() []string { return slices.Sorted(maps.Keys(functions)) }

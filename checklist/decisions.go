package checklist

import (
	"maps"
	"slices"
)

// decisions are the decisions on entries, by id. A state and its clones share what
// was decided before they parted: in layers that never change again, each at least
// twice as large as the next, so that there are few to look through and an entry is
// moved into a larger one only as often as there are sizes. The zero value is empty.
type decisions struct {
	shared []map[string]Decision
	own    map[string]Decision // of this state alone
}

func (d *decisions) get(id string) (Decision, bool) {
	if found, ok := d.own[id]; ok {
		return found, true
	}
	for _, layer := range slices.Backward(d.shared) {
		if found, ok := layer[id]; ok {
			return found, true
		}
	}
	return Decision{}, false
}

// put adds the decision on an entry that has none yet.
func (d *decisions) put(id string, decision Decision) {
	if d.own == nil {
		d.own = map[string]Decision{}
	}
	d.own[id] = decision
}

// fork gives a second one that goes its own way from here.
func (d *decisions) fork() decisions {
	if len(d.own) > 0 {
		layer, below := d.own, d.shared
		for n := len(below); n > 0 && len(below[n-1]) < 2*len(layer); n-- {
			merged := maps.Clone(below[n-1])
			maps.Copy(merged, layer)
			layer, below = merged, below[:n-1]
		}
		d.shared, d.own = append(slices.Clip(below), layer), nil
	}
	return decisions{shared: d.shared}
}

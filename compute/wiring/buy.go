package wiring

import (
	"fmt"
	"maps"
	"slices"
)

// Cut is one run of a cable type, one way in metres, without slack.
type Cut struct {
	Cable  string
	Length float64
}

// Order is what to buy of one cable type, in metres.
type Order struct {
	Cable string
	Runs  int
	Net   float64 // along the routes
	Total float64 // with slack on every run
	// Reels is how many reels it takes when no run is joined from two pieces, 0 where the cable is sold by the metre.
	// Offcut is what the reels leave over, in metres.
	Reels  int
	Offcut float64
}

// ToBuy adds up runs by cable type, in the order of their names, with slack on every run. For the types in reels (metres
// on a reel) it also counts reels: the longest run first, each into the first reel that has enough left. That is
// never less than the runs need and not always the fewest possible. A run longer than its reel is an [ErrReel].
func ToBuy(cuts []Cut, slack Slack, reels map[string]float64) ([]Order, error) {
	if err := slack.check(); err != nil {
		return nil, err
	}
	lengths := map[string][]float64{}
	orders := map[string]*Order{}
	for i, c := range cuts {
		if err := checkLength(fmt.Sprintf("run %d of cable %q", i+1, c.Cable), c.Length); err != nil {
			return nil, err
		}
		o := orders[c.Cable]
		if o == nil {
			o = &Order{Cable: c.Cable}
			orders[c.Cable] = o
		}
		o.Runs++
		o.Net += c.Length
		o.Total += slack.add(c.Length)
		lengths[c.Cable] = append(lengths[c.Cable], slack.add(c.Length))
	}
	list := make([]Order, 0, len(orders))
	for _, cable := range slices.Sorted(maps.Keys(orders)) {
		o := orders[cable]
		if reel, sold := reels[o.Cable]; sold {
			if err := o.wind(lengths[o.Cable], reel); err != nil {
				return nil, err
			}
		}
		list = append(list, *o)
	}
	return list, nil
}

// wind counts reels, in whole micrometres so that pieces that fill a reel exactly do fit.
func (o *Order) wind(lengths []float64, reel float64) error {
	if err := checkLength(fmt.Sprintf("reel of cable %q", o.Cable), reel); err != nil {
		return err
	}
	slices.Sort(lengths)
	slices.Reverse(lengths)
	if micro(lengths[0]) > micro(reel) {
		return fmt.Errorf("%w: cable %q: a run of %v m with slack, want at most the reel's %v m", ErrReel, o.Cable, lengths[0], reel)
	}
	var left []int64
	for _, l := range lengths {
		i := slices.IndexFunc(left, func(free int64) bool { return free >= micro(l) })
		if i < 0 {
			i = len(left)
			left = append(left, micro(reel))
		}
		left[i] -= micro(l)
	}
	o.Reels = len(left)
	o.Offcut = max(0, float64(float64(o.Reels)*reel)-o.Total)
	return nil
}

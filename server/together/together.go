// Package together lets callers who come at the same time share one piece of
// work, such as one transaction and its sync to the disk.
//
// The first caller does the work for everybody who is waiting at that moment;
// those who come meanwhile wait for the next round, which one of them does. A lone
// caller waits for nobody.
//
// It has no timer and starts no goroutine.
package together

import "sync"

// A Group of callers. Do gets everybody's item and gives one error each, in
// order; it must not panic.
type Group[T any] struct {
	Do func(items []T) []error

	mu      sync.Mutex
	waiting []*call[T]
	busy    bool
}

type call[T any] struct {
	item T
	err  error
	turn chan bool // true: done; false: yours to do
}

// Run has the item done, by this caller or by another, and gives its error.
func (g *Group[T]) Run(item T) error {
	c := &call[T]{item: item, turn: make(chan bool, 1)}
	g.mu.Lock()
	g.waiting = append(g.waiting, c)
	if g.busy {
		g.mu.Unlock()
		if done := <-c.turn; done {
			return c.err
		}
		g.mu.Lock()
	}
	g.busy = true
	calls := g.waiting
	g.waiting = nil
	g.mu.Unlock()

	items := make([]T, len(calls))
	for i, other := range calls {
		items[i] = other.item
	}
	errs := g.Do(items)

	g.mu.Lock()
	if len(g.waiting) > 0 {
		g.waiting[0].turn <- false
	} else {
		g.busy = false
	}
	g.mu.Unlock()
	for i, other := range calls {
		other.err = errs[i]
		if other != c {
			other.turn <- true
		}
	}
	return c.err
}

// Waiting counts the callers who wait for a round to begin.
func (g *Group[T]) Waiting() int {
	g.mu.Lock()
	defer g.mu.Unlock()
	return len(g.waiting)
}

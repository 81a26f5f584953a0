// Package together lets callers who come at the same time share one piece of
// work, such as one transaction and its sync to the disk.
//
// A lone caller does its work itself and waits for nobody. Those who come while work
// is done wait for the next round, which is done for all of them. Rounds follow each
// other without a pause as long as somebody waits: a goroutine does them that none of
// the callers has to be woken for.
//
// It has no timer, and no goroutine while nobody waits.
package together

import "sync"

// A Group of callers. Do gets everybody's item and gives one error each, in
// order; it must not panic.
type Group[T any] struct {
	Do func(items []T) []error

	mu   sync.Mutex
	busy bool
	next *round[T] // nil while nobody waits
}

// A round is done once for all of its items.
type round[T any] struct {
	items []T
	errs  []error       // set before done is closed
	done  chan struct{} // closed when it was
}

// Run has the item done, by this caller or with those of others, and gives its error.
func (g *Group[T]) Run(item T) error {
	g.mu.Lock()
	if !g.busy {
		g.busy = true
		g.mu.Unlock()
		errs := g.Do([]T{item})
		g.goOn()
		return errs[0]
	}
	if g.next == nil {
		g.next = &round[T]{done: make(chan struct{})}
	}
	r, place := g.next, len(g.next.items)
	r.items = append(r.items, item)
	g.mu.Unlock()
	<-r.done
	return r.errs[place]
}

// goOn has the rounds done for which callers wait by now.
func (g *Group[T]) goOn() {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.busy = g.next != nil; g.busy {
		go func() {
			for r := g.take(); r != nil; r = g.take() {
				r.errs = g.Do(r.items)
				close(r.done)
			}
		}()
	}
}

// take gives the round for which callers wait, nil if there is none.
func (g *Group[T]) take() *round[T] {
	g.mu.Lock()
	defer g.mu.Unlock()
	r := g.next
	g.next, g.busy = nil, r != nil
	return r
}

// Waiting counts the callers who wait for a round to begin.
func (g *Group[T]) Waiting() int {
	g.mu.Lock()
	defer g.mu.Unlock()
	if g.next == nil {
		return 0
	}
	return len(g.next.items)
}

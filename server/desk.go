package server

import (
	"container/list"
	"sync"
	"sync/atomic"

	"hangtrue/checklist"
	"hangtrue/server/together"
)

// A desk is where one job's pushes are decided, one round after another.
type desk struct {
	job   string
	group together.Group[*push]

	mu    sync.Mutex       // guards what follows
	state *checklist.State // nil until it was folded
	shot  int64            // up to where its snapshot goes

	size  atomic.Int64  // what the records folded take in memory, about
	users int           // guarded by desks.mu
	place *list.Element // guarded by desks.mu
	held  int           // what desks counts for it, guarded by desks.mu
}

// forget makes the next user fold the log again. The caller holds the desk.
func (d *desk) forget() { d.state = nil; d.size.Store(0) }

// desks keeps the desks that are in use and the latest of those that were, so that
// a job is not folded for every request and memory stays bounded however many jobs
// there are. There is never more than one desk for a job.
type desks struct {
	open func(job string) *desk

	mu     sync.Mutex
	byJob  map[string]*desk
	latest list.List // the one used last in front
	held   int
}

const (
	// maxHeld bounds the memory of the states that are kept at hand, in bytes; Go's
	// collector lets a program hold about twice as much before it clears up. The few
	// desks used last stay however large they are: a job that alone is over the bound
	// would be folded again for every page.
	maxHeld, alwaysHeld = 48 << 20, 4
	// deskCost is what an empty desk counts, and recordCost what a record does beyond
	// twice its entry's bytes; both were measured.
	deskCost, recordCost = 16 << 10, 1 << 10
)

// costOf is about what a record takes in memory once it is folded.
func costOf(r checklist.Record) int64 { return recordCost + 2*int64(len(r.Entry.Bytes())) }

// take gives the job's desk, which stays until it was put back.
func (ds *desks) take(job string) *desk {
	ds.mu.Lock()
	defer ds.mu.Unlock()
	d := ds.byJob[job]
	if d == nil {
		if ds.byJob == nil {
			ds.byJob = map[string]*desk{}
		}
		d = ds.open(job)
		d.place = ds.latest.PushFront(d)
		ds.byJob[job] = d
	}
	d.users++
	ds.latest.MoveToFront(d.place)
	return d
}

// put gives a desk back and clears away those not used for longest.
func (ds *desks) put(d *desk) {
	ds.mu.Lock()
	defer ds.mu.Unlock()
	d.users--
	ds.held -= d.held
	d.held = int(d.size.Load()) + deskCost
	ds.held += d.held
	for place := ds.latest.Back(); place != nil && ds.held > maxHeld && ds.latest.Len() > alwaysHeld; {
		old, next := place.Value.(*desk), place.Prev()
		if old.users == 0 {
			ds.latest.Remove(place)
			delete(ds.byJob, old.job)
			ds.held -= old.held
		}
		place = next
	}
}

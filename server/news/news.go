package news

import (
	"bufio"
	"crypto/rand"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"
)

const (
	// Life is how long a stream lasts. A server that bounds the time of an answer
	// gives it more than that.
	Life = 50 * time.Second
	// Beat is the longest silence: a listener that is gone shows only in a write that fails.
	Beat = 15 * time.Second
	// retry is how long a listener waits before it listens again.
	retry = time.Second
	// most bounds the jobs that a stream has still to tell; beyond it tells of all of them.
	most = 64
)

// ErrFull is returned when there are as many listeners as the hub takes.
var ErrFull = errors.New("news: there are too many listeners")

// A Hub knows who listens. It is safe for concurrent use.
type Hub struct {
	limit int
	epoch string // of this hub: counts of another mean nothing here

	mu      sync.Mutex
	told    uint64
	streams map[*Stream]bool
	devices map[string]*Stream
}

// New is a hub for at most so many listeners.
func New(limit int) *Hub {
	return &Hub{limit: limit, epoch: rand.Text(), streams: map[*Stream]bool{}, devices: map[string]*Stream{}}
}

// A Stream is one listener's.
type Stream struct {
	hub    *Hub
	device string
	may    func(job string) bool
	stands func() bool
	wake   chan struct{}
	over   chan struct{} // closed when the device has opened another

	// Guarded by hub.mu: what is to be told, by job, or that it is too much to list.
	heads map[string]int64
	all   bool
}

// Tell says that a job's log reaches to a position now.
func (h *Hub) Tell(job string, head int64) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.told++
	for s := range h.streams {
		if _, listed := s.heads[job]; listed || len(s.heads) < most {
			s.heads[job] = max(head, s.heads[job])
		} else {
			s.all = true
		}
		s.rouse()
	}
}

// Ask has every stream ask at once whether its listener still stands, as after one
// was put out. Otherwise each asks before it tells something, and at every beat.
func (h *Hub) Ask() {
	h.mu.Lock()
	defer h.mu.Unlock()
	for s := range h.streams {
		s.rouse()
	}
}

// rouse never waits: a stream that is roused already looks at all there is.
func (s *Stream) rouse() {
	select {
	case s.wake <- struct{}{}:
	default:
	}
}

// Open adds a listener, until [Stream.Write] ends. A device has one stream: its
// older one ends. May tells of which jobs it may hear; it is asked each time, by the
// goroutine that writes. Last is the id of the last event that the listener heard,
// empty if it heard none; if something was told since, it is told to look.
func (h *Hub) Open(device string, may func(job string) bool, last string) (*Stream, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if older := h.devices[device]; older != nil {
		close(older.over)
		h.remove(older)
	}
	if len(h.streams) >= h.limit {
		return nil, ErrFull
	}
	s := &Stream{hub: h, device: device, may: may, stands: func() bool { return true }, wake: make(chan struct{}, 1), over: make(chan struct{}), heads: map[string]int64{}}
	s.all = last != h.id()
	h.streams[s] = true
	if device != "" {
		h.devices[device] = s
	}
	return s, nil
}

// While has the stream end once the function says no. It is for who opened the stream,
// before [Stream.Write]; it is asked by the goroutine that writes.
func (s *Stream) While(stands func() bool) { s.stands = stands }

// Listeners counts them.
func (h *Hub) Listeners() int {
	h.mu.Lock()
	defer h.mu.Unlock()
	return len(h.streams)
}

// id names this moment. The caller holds the hub.
func (h *Hub) id() string { return fmt.Sprintf("%s-%d", h.epoch, h.told) }

// remove takes a listener away. The caller holds the hub.
func (h *Hub) remove(s *Stream) {
	delete(h.streams, s)
	if h.devices[s.device] == s {
		delete(h.devices, s.device)
	}
}

// take gives what is to be told, and forgets it.
func (s *Stream) take() (id string, heads map[string]int64, all bool) {
	s.hub.mu.Lock()
	defer s.hub.mu.Unlock()
	id, heads, all = s.hub.id(), s.heads, s.all
	s.heads, s.all = map[string]int64{}, false
	return id, heads, all
}

// Write sends server-sent events (HTML Living Standard, section 9.2) until the
// listener is gone or stands no longer, done is closed or the stream has lived its time. A fault in it
// ends this stream and nothing else: nobody above it would catch one.
func (s *Stream) Write(w *bufio.Writer, done <-chan struct{}) {
	defer func() {
		if cause := recover(); cause != nil {
			slog.Error("a stream of news failed", "cause", cause)
		}
		s.hub.mu.Lock()
		defer s.hub.mu.Unlock()
		s.hub.remove(s)
	}()
	life, beat := time.NewTimer(Life), time.NewTicker(Beat)
	defer life.Stop()
	defer beat.Stop()
	fmt.Fprintf(w, "retry: %d\n", retry.Milliseconds()) // what fails here fails again at the flush
	s.tell(w, true)
	for w.Flush() == nil {
		beaten := false
		select {
		case <-done:
			return
		case <-s.over:
			return
		case <-life.C:
			return
		case <-beat.C:
			beaten = true
		case <-s.wake:
		}
		if !s.stands() {
			return
		}
		if beaten {
			fmt.Fprint(w, ":\n\n")
		} else {
			s.tell(w, false)
		}
	}
}

// tell writes one event for each job, or one without a job. The first block has the
// moment's id even when there is nothing to tell.
func (s *Stream) tell(w *bufio.Writer, first bool) {
	id, heads, all := s.take()
	if all {
		fmt.Fprintf(w, "id: %s\ndata: {}\n\n", id)
		return
	}
	for job, head := range heads {
		if s.may(job) {
			fmt.Fprintf(w, "id: %s\ndata: {\"job\":%q,\"head\":%d}\n\n", id, job, head)
		}
	}
	if first {
		fmt.Fprintf(w, "id: %s\n\n", id)
	}
}

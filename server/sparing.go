package server

import (
	"log/slog"
	"sync"
	"time"
)

const (
	// A kind of warning that anybody can cause is logged so often in a span of time; of
	// what comes beyond it the number is told, so that nobody fills the disk with a log.
	sparingLines = 100
	sparingSpan  = time.Minute
)

// sparing logs warnings that anybody can cause. The zero value is ready.
type sparing struct {
	now func() time.Time // time.Now where it is nil

	mu    sync.Mutex
	kinds map[string]*spell
}

// a spell is what was logged of one kind lately.
type spell struct {
	began      time.Time
	said, more int
}

// warn logs a warning; the message is its kind.
func (s *sparing) warn(message string, args ...any) {
	say, more := s.count(message)
	if more > 0 {
		slog.Warn("more of the same than is logged", "of", message, "times", more)
	}
	if say {
		slog.Warn(message, args...)
	}
}

// count tells whether one more is to be logged, and how many were not before it.
func (s *sparing) count(message string) (say bool, more int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	now := time.Now
	if s.now != nil {
		now = s.now
	}
	k := s.kinds[message]
	if k == nil {
		if s.kinds == nil {
			s.kinds = map[string]*spell{}
		}
		k = &spell{began: now()}
		s.kinds[message] = k
	}
	if now().Sub(k.began) >= sparingSpan {
		more = k.more
		*k = spell{began: now()}
	}
	if k.said == sparingLines {
		k.more++
		return false, more
	}
	k.said++
	return true, more
}

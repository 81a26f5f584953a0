package news_test

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/server/news"
)

func TestMain(m *testing.M) {
	slog.SetDefault(slog.New(slog.DiscardHandler))
	os.Exit(m.Run())
}

const jobA, jobB = "018f3c5e-7a10-7000-8000-0000000000a1", "018f3c5e-7a10-7000-8000-0000000000b2"

func everything(string) bool { return true }

// a wire is what a listener's connection carried.
type wire struct {
	mu     sync.Mutex
	text   strings.Builder
	broken bool
}

func (l *wire) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.broken {
		return 0, io.ErrClosedPipe
	}
	return l.text.Write(p)
}

// take gives what arrived since the last look.
func (l *wire) take() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	defer l.text.Reset()
	return l.text.String()
}

func (l *wire) cut() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.broken = true
}

// a listener whose stream is being written.
type listener struct {
	wire
	ended chan struct{}
}

func listen(t *testing.T, h *news.Hub, device, last string, may func(string) bool, done <-chan struct{}) *listener {
	s, err := h.Open(device, may, last)
	require.NoError(t, err)
	return write(s, done)
}

func write(s *news.Stream, done <-chan struct{}) *listener {
	l := &listener{ended: make(chan struct{})}
	go func() {
		defer close(l.ended)
		s.Write(bufio.NewWriter(l), done)
	}()
	synctest.Wait()
	return l
}

func (l *listener) over() bool {
	synctest.Wait()
	select {
	case <-l.ended:
		return true
	default:
		return false
	}
}

// lastID is the id of the last event in a piece of a stream.
func lastID(t *testing.T, text string) string {
	at := strings.LastIndex(text, "id: ")
	require.GreaterOrEqual(t, at, 0, text)
	id, _, _ := strings.Cut(text[at+4:], "\n")
	return id
}

func TestStream_Tells(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h, done := news.New(10), make(chan struct{})
		a := listen(t, h, "a", "", everything, done)
		onlyB := listen(t, h, "b", "", func(job string) bool { return job == jobB }, done)
		assert.Regexp(t, `^retry: 1000\nid: \S+\ndata: \{\}\n\n$`, a.take(), "one who heard nothing yet is told to look")
		onlyB.take()

		h.Tell(jobA, 7)
		synctest.Wait()
		heard := a.take()
		assert.Regexp(t, `^id: \S+\ndata: \{"job":"`+jobA+`","head":7\}\n\n$`, heard)
		assert.Empty(t, onlyB.take(), "not its business")
		h.Tell(jobB, 3)
		synctest.Wait()
		assert.Contains(t, onlyB.take(), `data: {"job":"`+jobB+`","head":3}`)

		nothingNew := listen(t, h, "c", lastID(t, a.take()), everything, done)
		assert.NotContains(t, nothingNew.take(), "data:")
		missed := listen(t, h, "d", lastID(t, heard), everything, done)
		assert.Contains(t, missed.take(), "data: {}")
		restarted := listen(t, news.New(10), "c", lastID(t, heard), everything, done)
		assert.Contains(t, restarted.take(), "data: {}", "another hub's count says nothing")

		close(done)
		for _, l := range []*listener{a, onlyB, nothingNew, missed, restarted} {
			assert.True(t, l.over(), "the server stops")
		}
		assert.Zero(t, h.Listeners())
	})
}

// TestStream_Ends: a silent stream has a heartbeat and ends by itself; the time
// is that of the bubble, so nothing waits.
func TestStream_Ends(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := news.New(10)
		began := time.Now()
		l := listen(t, h, "a", "", everything, nil)
		<-l.ended
		assert.Equal(t, news.Life, time.Since(began))
		assert.Equal(t, 3, strings.Count(l.take(), ":\n\n"), "at 15, 30 and 45 s")
		assert.Zero(t, h.Listeners())
	})
}

// TestStream_Gone: a listener that is gone is dropped at the next write.
func TestStream_Gone(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h := news.New(10)
		silent, told := listen(t, h, "a", "", everything, nil), listen(t, h, "b", "", everything, nil)
		silent.cut()
		time.Sleep(news.Beat - 1)
		assert.False(t, silent.over())
		told.cut()
		h.Tell(jobA, 1)
		assert.True(t, told.over())
		assert.True(t, silent.over(), "the news reached for it as well")
		assert.Zero(t, h.Listeners())

		alone := listen(t, h, "a", "", everything, nil)
		alone.cut()
		time.Sleep(news.Beat)
		assert.True(t, alone.over(), "by the heartbeat")
	})
}

// TestStream_While: who was put out hears nothing more and is not kept: at once when the
// streams are asked, before anything is told, and else at the next beat.
func TestStream_While(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h, done := news.New(10), make(chan struct{})
		var out atomic.Bool
		open := func(device string) *listener {
			s, err := h.Open(device, everything, "")
			require.NoError(t, err)
			s.While(func() bool { return !out.Load() })
			l := write(s, done)
			l.take()
			return l
		}
		other := listen(t, h, "other", "", everything, done)
		for name, how := range map[string]func(){"asked": h.Ask, "told": func() { h.Tell(jobA, 1) }, "a beat": func() { time.Sleep(news.Beat) }} {
			out.Store(false)
			l := open("a")
			h.Ask()
			assert.False(t, l.over(), "it stands")
			out.Store(true)
			how()
			assert.True(t, l.over(), name)
			assert.Empty(t, l.take(), name)
		}
		assert.False(t, other.over(), "the others go on")
		assert.Equal(t, 1, h.Listeners())
		close(done)
		assert.True(t, other.over())
	})
}

// TestStream_Fault: a fault while writing ends that stream alone.
func TestStream_Fault(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h, done := news.New(10), make(chan struct{})
		bad := listen(t, h, "a", "", func(string) bool { panic("a fault") }, done)
		good := listen(t, h, "b", "", everything, done)
		good.take()
		h.Tell(jobA, 1)
		assert.True(t, bad.over())
		assert.Contains(t, good.take(), jobA)
		assert.Equal(t, 1, h.Listeners())
		close(done)
		assert.True(t, good.over())
	})
}

func TestHub_OneStreamForADevice(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		h, done := news.New(2), make(chan struct{})
		first := listen(t, h, "a", "", everything, done)
		listen(t, h, "b", "", everything, done)
		_, err := h.Open("c", everything, "")
		assert.ErrorIs(t, err, news.ErrFull)
		second := listen(t, h, "a", "", everything, done)
		assert.True(t, first.over())
		assert.False(t, second.over())
		h.Tell(jobA, 1)
		synctest.Wait()
		assert.Contains(t, second.take(), jobA, "the end of the first did not take it away")
		assert.Equal(t, 2, h.Listeners())
		close(done)
		require.True(t, second.over())
		listen(t, h, "", "", everything, done)
		assert.Zero(t, h.Listeners())
	})
}

// TestHub_SlowListener: telling never waits for a listener, and what one has not
// taken is bounded.
func TestHub_SlowListener(t *testing.T) {
	h := news.New(1)
	s, err := h.Open("a", everything, "")
	require.NoError(t, err)
	for i := range 10_000 {
		h.Tell(fmt.Sprint("job ", i%200), int64(i))
	}
	var text strings.Builder
	done := make(chan struct{})
	close(done)
	s.Write(bufio.NewWriter(&text), done)
	assert.Equal(t, 1, strings.Count(text.String(), "data: {}"), "so much at once is one hint to look at all of it")
	assert.Less(t, text.Len(), 200)

	s, err = h.Open("a", everything, lastID(t, text.String()))
	require.NoError(t, err)
	for i := range 10_000 {
		h.Tell(jobA, int64(i+1))
	}
	w := &onceWriter{}
	s.Write(bufio.NewWriter(w), done)
	assert.Equal(t, 1, strings.Count(w.text, "data:"))
	assert.Contains(t, w.text, `"head":10000`)
}

// a onceWriter takes one write.
type onceWriter struct{ text string }

func (w *onceWriter) Write(p []byte) (int, error) {
	if w.text != "" {
		return 0, errors.New("closed")
	}
	w.text = string(p)
	return len(p), nil
}

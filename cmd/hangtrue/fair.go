package main

import (
	"log/slog"
	"net"
	"net/netip"
	"sync"
	"time"
)

const (
	// mostOfOne bounds the connections of one address. A browser opens six to a server,
	// as common practice; some twenty phones behind one address are let in, and one
	// machine that opens all it can does not keep the others out. Each may hold a
	// request's body in memory before it is known who sent it.
	mostOfOne = 128
	// sayEvery is how often it is logged that an address has too many.
	sayEvery = time.Minute
)

// A fair listener takes so many connections of one address at a time and closes what
// comes beyond. This computer's own are not counted: they may be a proxy's.
type fair struct {
	net.Listener
	most int

	mu   sync.Mutex
	open map[netip.Addr]int
	said time.Time
}

func newFair(l net.Listener, most int) *fair {
	return &fair{Listener: l, most: most, open: map[netip.Addr]int{}}
}

// Accept is a listener's.
func (f *fair) Accept() (net.Conn, error) {
	for {
		conn, err := f.Listener.Accept()
		if err != nil {
			return nil, err
		}
		from, counted := addressOf(conn)
		if !counted {
			return conn, nil
		}
		if f.enter(from) {
			return &counting{Conn: conn, leave: func() { f.leave(from) }}, nil
		}
		_ = conn.Close()
	}
}

// addressOf is where a connection comes from, and whether it is to be counted.
func addressOf(conn net.Conn) (from netip.Addr, counted bool) {
	at, ok := conn.RemoteAddr().(*net.TCPAddr)
	if !ok {
		return from, false
	}
	from = at.AddrPort().Addr().Unmap()
	return from, !from.IsLoopback()
}

func (f *fair) enter(from netip.Addr) bool {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.open[from] < f.most {
		f.open[from]++
		return true
	}
	if now := time.Now(); now.Sub(f.said) > sayEvery {
		f.said = now
		slog.Warn("an address has as many connections as one may have; more of it are closed", "from", from, "most", f.most)
	}
	return false
}

func (f *fair) leave(from netip.Addr) {
	f.mu.Lock()
	defer f.mu.Unlock()
	if f.open[from]--; f.open[from] == 0 {
		delete(f.open, from)
	}
}

// counting is a connection that is counted until it is closed.
type counting struct {
	net.Conn
	leave func()
	once  sync.Once
}

// Close is a connection's.
func (c *counting) Close() error {
	c.once.Do(c.leave)
	return c.Conn.Close()
}

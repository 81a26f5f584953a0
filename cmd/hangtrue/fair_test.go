package main

import (
	"net"
	"net/netip"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestFair: one address has so many connections at a time, others and this computer are
// not kept out by it, and a place that was given back, twice at that, is one place.
func TestFair(t *testing.T) {
	door := oneDoor{make(chan net.Conn, 100), make(chan struct{})}
	f := newFair(door, 3)
	come := func(ip string) (theirs net.Conn) {
		ours, theirs := net.Pipe()
		door.conns <- from{ours, &net.TCPAddr{IP: net.ParseIP(ip), Port: 4000}}
		return theirs
	}
	accept := func() net.Conn {
		conn, err := f.Accept()
		require.NoError(t, err)
		return conn
	}
	var greedy []net.Conn
	for range 3 {
		come("192.168.1.9")
		greedy = append(greedy, accept())
	}
	beyond := []net.Conn{come("192.168.1.9"), come("::ffff:192.168.1.9")} // RFC 4291 section 2.5.5.2: the same address
	come("192.168.1.10")
	for range 5 {
		come("127.0.0.1")
	}
	assert.Equal(t, "192.168.1.10:4000", accept().RemoteAddr().String())
	for range 5 {
		assert.Equal(t, "127.0.0.1:4000", accept().RemoteAddr().String())
	}
	for _, conn := range beyond {
		_, err := conn.Read(make([]byte, 1))
		assert.Error(t, err, "closed without a word")
	}

	require.NoError(t, greedy[0].Close())
	_ = greedy[0].Close()
	come("192.168.1.9")
	kept := accept()
	assert.Equal(t, "192.168.1.9:4000", kept.RemoteAddr().String())
	last := come("192.168.1.9")
	come("fd00::9")
	assert.Equal(t, "[fd00::9]:4000", accept().RemoteAddr().String())
	_, err := last.Read(make([]byte, 1))
	assert.Error(t, err)

	for _, conn := range append(greedy[1:], kept) {
		require.NoError(t, conn.Close())
	}
	assert.NotContains(t, f.open, netip.MustParseAddr("192.168.1.9"), "nothing is kept of who is gone")
	require.NoError(t, f.Close())
	_, err = f.Accept()
	assert.ErrorIs(t, err, net.ErrClosed)
}

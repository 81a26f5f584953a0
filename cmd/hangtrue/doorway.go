package main

import (
	"crypto/tls"
	"errors"
	"net"
	"sync"
	"time"
)

// A doorway takes TLS from everybody, and plain HTTP from this computer itself, all
// on the ports of its listeners. Phones need TLS; the browser and the commands on
// this computer go on as they did without the network.
type doorway struct {
	config *tls.Config
	came   chan net.Conn
	ended  chan struct{}
	err    error // why it ended, once it has
	once   sync.Once
	doors  []net.Listener
}

// firstByte is how long a connection may take to say what it is.
const firstByte = 10 * time.Second

// handshake is how a TLS connection begins (RFC 8446 section 5.1, ContentType).
const handshake = 22

func newDoorway(config *tls.Config, doors ...net.Listener) *doorway {
	d := &doorway{config: config, came: make(chan net.Conn), ended: make(chan struct{}), doors: doors}
	for _, door := range doors {
		go d.stand(newFair(door, mostOfOne))
	}
	return d
}

func (d *doorway) stand(door net.Listener) {
	for {
		conn, err := door.Accept()
		switch {
		case err == nil:
			go d.meet(conn)
		case errors.Is(err, net.ErrClosed):
			d.end(err)
			return
		default:
			time.Sleep(50 * time.Millisecond) // the system is out of something, for now
		}
	}
}

func (d *doorway) end(err error) {
	d.once.Do(func() { d.err = err; close(d.ended) })
}

// meet passes a connection on, or closes it where it is not for it to come.
func (d *doorway) meet(conn net.Conn) {
	first := make([]byte, 1)
	err := conn.SetReadDeadline(time.Now().Add(firstByte))
	if err == nil {
		_, err = conn.Read(first)
	}
	if err = errors.Join(err, conn.SetReadDeadline(time.Time{})); err != nil {
		_ = conn.Close()
		return
	}
	var passed net.Conn = &begun{conn, first}
	switch from, ok := conn.RemoteAddr().(*net.TCPAddr); {
	case first[0] == handshake:
		passed = tls.Server(passed, d.config)
	case !ok || !from.IP.IsLoopback():
		_ = conn.Close()
		return
	}
	select {
	case d.came <- passed:
	case <-d.ended:
		_ = conn.Close()
	}
}

// Accept is a listener's.
func (d *doorway) Accept() (net.Conn, error) {
	select {
	case conn := <-d.came:
		return conn, nil
	case <-d.ended:
		return nil, d.err
	}
}

// Close closes every door.
func (d *doorway) Close() error {
	var err error
	for _, door := range d.doors {
		err = errors.Join(err, door.Close())
	}
	d.end(net.ErrClosed)
	return err
}

// Addr is the first door's.
func (d *doorway) Addr() net.Addr { return d.doors[0].Addr() }

// begun is a connection whose first byte was read.
type begun struct {
	net.Conn
	first []byte
}

func (b *begun) Read(p []byte) (int, error) {
	if len(b.first) > 0 && len(p) > 0 {
		n := copy(p, b.first)
		b.first = b.first[n:]
		return n, nil
	}
	return b.Conn.Read(p)
}

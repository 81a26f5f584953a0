package server

import (
	"bytes"
	"net/http"
	"strconv"
	"sync"

	"github.com/gofiber/fiber/v2"
)

// turns lets a device have one large answer on its way at a time: it is held in memory
// until the last byte was taken, and one device could ask for as many as it has
// connections. The zero value is ready.
type turns struct {
	mu   sync.Mutex
	have map[string]bool
}

// take gives a device its turn, until it gives it back; ok is false while it has one.
// The owner has as many as he likes.
func (t *turns) take(device string) (back func(), ok bool) {
	if device == "" {
		return func() {}, true
	}
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.have[device] {
		return nil, false
	}
	if t.have == nil {
		t.have = map[string]bool{}
	}
	t.have[device] = true
	return sync.OnceFunc(func() {
		t.mu.Lock()
		defer t.mu.Unlock()
		delete(t.have, device)
	}), true
}

// turnAgain is when a device may ask again that has a large answer on its way, in seconds.
const turnAgain = 5

// large answers with what a function makes, in the caller's turn.
func (a api) large(c *fiber.Ctx, make func() ([]byte, error)) error {
	back, ok := a.turns.take(callerOf(c).ID)
	if !ok {
		c.Set(fiber.HeaderRetryAfter, strconv.Itoa(turnAgain))
		return problem(http.StatusTooManyRequests, "This device is being sent a record already. Ask again when that has arrived.")
	}
	data, err := make()
	if err != nil {
		back()
		return err
	}
	c.Context().Response.SetBodyStream(&turn{bytes.NewReader(data), back}, len(data))
	return nil
}

// a turn ends when its answer was sent, or will not be.
type turn struct {
	*bytes.Reader
	back func()
}

// Close is what the connection calls at the end.
func (t *turn) Close() error {
	t.back()
	return nil
}

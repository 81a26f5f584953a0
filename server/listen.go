package server

import (
	"bufio"
	"errors"
	"net/http"
	"strconv"

	"github.com/gofiber/fiber/v2"

	"hangtrue/server/news"
)

const (
	// maxListeners bounds the streams of news; each holds a connection.
	maxListeners = 1024
	// listenAgain is when one that found no place may ask again, in seconds.
	listenAgain = 30
)

// listen answers with a stream of news, which ends before writeTimeout would cut it.
func (a api) listen(c *fiber.Ctx) error {
	c.Set(fiber.HeaderCacheControl, "no-store")
	if c.Method() != fiber.MethodGet { // HEAD wants the header alone
		c.Set(fiber.HeaderContentType, "text/event-stream")
		return nil
	}
	who := callerOf(c)
	stream, err := a.Keeper.news.Open(who.ID, a.mayStill(who), c.Get("Last-Event-ID"))
	if errors.Is(err, news.ErrFull) {
		c.Set(fiber.HeaderRetryAfter, strconv.Itoa(listenAgain))
		return problem(http.StatusServiceUnavailable, "As many devices listen for news as this server takes. Look again by hand; what is recorded arrives all the same.")
	} else if err != nil {
		return err
	}
	stream.While(func() bool { _, ok := a.still(who); return ok })
	c.Set(fiber.HeaderContentType, "text/event-stream")
	done := c.Context().Done() // the request is another's when the stream is written
	c.Context().SetBodyStreamWriter(func(w *bufio.Writer) { stream.Write(w, done) })
	return nil
}

// mayStill tells whether a caller may read a job at the moment it is asked.
func (a api) mayStill(who caller) func(job string) bool {
	return func(job string) bool {
		now, ok := a.still(who)
		return ok && now.may(job)
	}
}

// still is who a caller is at the moment it is asked: a stream outlives the request,
// and a device may be revoked meanwhile.
func (a api) still(who caller) (now caller, ok bool) {
	if who.ID == "" {
		return who, true
	}
	d, err := a.Book.Who(who.token)
	if err != nil {
		return caller{}, false
	}
	who.Device, who.level = d, levelOf(d.Role)
	return who, true
}

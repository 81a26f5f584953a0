package server

import (
	"encoding/json"
	"errors"
	"fmt"
	"log/slog"
	"net/http"
	"strings"
	"syscall"

	"github.com/gofiber/fiber/v2"

	"hangtrue/server/pairing"
	"hangtrue/server/store"
)

// A Problem is an error as a client gets it (RFC 9457). Its type is always
// about:blank, so the title is the status's own phrase; detail is for a person.
type Problem struct {
	Type   string `json:"type"`
	Title  string `json:"title"`
	Status int    `json:"status"`
	Detail string `json:"detail,omitempty"`
	Offset *int64 `json:"offset,omitempty"` // where the next piece of a photo begins
}

func (p Problem) Error() string { return fmt.Sprintf("%d %s: %s", p.Status, p.Title, p.Detail) }

// problem makes one with a sentence for a person.
func problem(status int, detail string, args ...any) Problem {
	return Problem{Type: "about:blank", Title: http.StatusText(status), Status: status, Detail: fmt.Sprintf(detail, args...)}
}

// answerError turns whatever a handler returned into a problem document. What a
// person cannot act on goes to the log and not to the client.
func answerError(c *fiber.Ctx, err error) error {
	p := problemOf(err)
	if broken(err) {
		slog.Debug("a connection broke before its request was there", "from", c.IP())
	} else if p.Status >= 500 {
		slog.Error("request failed", "method", c.Method(), "path", string(c.Request().URI().PathOriginal()), "cause", err)
	}
	data, err := json.Marshal(p)
	if err != nil {
		return err
	}
	protect(c)
	if p.Status == http.StatusUnauthorized {
		c.Set(fiber.HeaderWWWAuthenticate, `Pairing realm="hangtrue"`) // RFC 9110 section 15.5.2 wants one
	}
	c.Set(fiber.HeaderCacheControl, "no-store")
	c.Set(fiber.HeaderContentType, "application/problem+json; charset=utf-8")
	return c.Status(p.Status).Send(data)
}

// broken tells fiber's word for a connection that broke while a request arrived: that
// is the client's doing, and nobody gets the answer.
func broken(err error) bool {
	var f *fiber.Error
	return errors.As(err, &f) && f.Code == http.StatusBadGateway
}

func problemOf(err error) Problem {
	var (
		p      Problem
		f      *fiber.Error
		damage *store.Damage
	)
	if p, ok := photoProblem(err); ok {
		return p
	}
	switch {
	case errors.As(err, &p):
		return p
	case errors.As(err, &damage):
		return problem(500, "Something kept on this server is damaged: %s. Restore it from a backup.", strings.TrimPrefix(damage.Error(), "store: "))
	case errors.Is(err, store.ErrNoJob):
		return problem(404, "There is no such job on this server.")
	case errors.Is(err, pairing.ErrCode):
		return problem(403, "This code pairs nothing. It is wrong, used, older than ten minutes, or closed after five wrong tries. Have a new one shown.")
	case errors.Is(err, pairing.ErrLink):
		return problem(403, "This link opens nothing. It is wrong, too old, or was taken back.")
	case errors.Is(err, pairing.ErrPaired):
		return problem(409, "A device of this id is paired. If it is this one, a lead has to revoke it first.")
	case errors.Is(err, pairing.ErrNone):
		return problem(404, "There is no such device or link, or it was revoked before.")
	case errors.Is(err, pairing.ErrFull):
		return problem(409, "There are too many devices or links. Revoke some first.")
	case errors.Is(err, pairing.ErrInput):
		return problem(400, "%s.", strings.TrimPrefix(err.Error(), "pairing: "))
	case errors.Is(err, pairing.ErrDamaged), errors.Is(err, pairing.ErrNewer):
		return problem(500, "The list of paired devices cannot be read, so nobody is let in. The server's log says what to do.")
	case errors.Is(err, store.ErrStrays):
		return problem(507, "This server keeps so many entries that belong to no job that it takes no more. Somebody has to look at them.")
	case errors.Is(err, store.ErrFull), isFull(err):
		return problem(507, "The server's disk is full. Nothing of this was kept; it is taken when there is room again.")
	case errors.Is(err, syscall.EROFS), errors.Is(err, syscall.EIO):
		return problem(500, "The server's disk cannot be written or read. Nothing of this was kept. Somebody has to look at it; its log says more.")
	case errors.Is(err, store.ErrClosed):
		return problem(503, "The server is stopping.")
	case errors.As(err, &f):
		return fromFiber(f)
	}
	return problem(500, "The server could not do this. Nothing was kept; try again. The cause is in its log.")
}

// isFull tells a disk, a quota or a bound on files that takes no more.
func isFull(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) || errors.Is(err, syscall.EFBIG)
}

func fromFiber(f *fiber.Error) Problem {
	switch f.Code {
	case 404:
		return problem(404, "There is nothing at this address.")
	case 405:
		return problem(405, "This address does not take this method.")
	case 408:
		return problem(408, "The request took too long to arrive.")
	case 413:
		return problem(413, "A request has at most %d bytes. Send fewer entries at once.", maxBody)
	case 431:
		return problem(431, "The request's header is too large.")
	}
	if f.Code >= 400 && f.Code < 500 {
		return problem(f.Code, "The request cannot be read.")
	}
	return problem(500, "The server could not do this. The cause is in its log.")
}

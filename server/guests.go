package server

import (
	"errors"
	"log/slog"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"hangtrue/checklist"
	"hangtrue/pwa/pages"
	"hangtrue/server/pairing"
	"hangtrue/server/reach"
)

// errAlone is answered where nothing can be paired.
var errAlone = problem(404, "This server pairs no devices.")

// cookieName: over TLS the browser itself holds the cookie to this origin and to TLS
// (RFC 6265bis section 4.1.3.2). On this computer's loopback there is no TLS to hold it to.
func cookieName(c *fiber.Ctx) string {
	if c.Context().IsTLS() {
		return "__Host-hangtrue"
	}
	return "hangtrue"
}

// give hands a token out, which no script can read and no other site can send.
func give(c *fiber.Ctx, token string, life time.Duration) {
	c.Cookie(&fiber.Cookie{
		Name: cookieName(c), Value: token, Path: "/", MaxAge: int(life / time.Second),
		Secure: c.Context().IsTLS(), HTTPOnly: true, SameSite: fiber.CookieSameSiteStrictMode,
	})
}

// take ends the cookie.
func take(c *fiber.Ctx) {
	c.Cookie(&fiber.Cookie{
		Name: cookieName(c), Path: "/", Expires: time.Unix(1, 0),
		Secure: c.Context().IsTLS(), HTTPOnly: true, SameSite: fiber.CookieSameSiteStrictMode,
	})
}

// pair turns a code into a device's token.
func (a api) pair(c *fiber.Ctx) error {
	var in struct{ Code, Device, Who string }
	if err := readJSON(c, &in); err != nil {
		return err
	}
	if a.Book == nil {
		return errAlone
	}
	token, d, err := a.Book.Pair(in.Code, in.Device, strings.TrimSpace(in.Who), callerOf(c).token)
	if err != nil {
		a.logUnpaired(c, in.Device, err)
		return err
	}
	slog.Info("paired a device", "from", c.IP(), "device", d.ID, "who", d.Who, "role", d.Role)
	give(c, token, pairing.TokenLife)
	return answer(c, fiber.Map{"device": d.ID, "who": d.Who, "role": d.Role})
}

// logUnpaired repeats nothing of what was sent but an id: somebody may have put the
// code into another field.
func (o Options) logUnpaired(c *fiber.Ctx, device string, err error) {
	if !checklist.IsUUID(device) {
		device = ""
	}
	if errors.Is(err, pairing.ErrInput) {
		err = errors.New("a field is not as wanted")
	}
	o.refusals.warn("refused to pair a device", "from", c.IP(), "device", device, "cause", err)
}

// view turns a link into a token that reads one job. A device that may read the job
// already keeps what it has.
func (a api) view(c *fiber.Ctx) error {
	var in struct{ Link string }
	if err := readJSON(c, &in); err != nil {
		return err
	}
	if a.Book == nil {
		return errAlone
	}
	token, d, err := a.Book.Visit(in.Link, callerOf(c).may)
	if err != nil {
		a.refusals.warn("refused a link", "from", c.IP(), "cause", err)
		return err
	}
	if token != "" {
		slog.Info("opened a link", "from", c.IP(), "link", d.Link, "job", d.Job)
		give(c, token, pairing.LinkLife)
	}
	return answer(c, fiber.Map{"job": d.Job})
}

// unpair ends the caller's own token, and has its browser forget what it keeps where
// the person said so.
func (a api) unpair(c *fiber.Ctx) error {
	var in struct{ Data string }
	if err := readJSON(c, &in); err != nil {
		return err
	}
	if in.Data != "keep" && in.Data != "clear" {
		return problem(400, "data is %.30q, wanted keep or clear.", in.Data)
	}
	w := callerOf(c)
	if w.ID == "" {
		return problem(409, "This is the server's own computer, which is not paired.")
	}
	if err := a.Book.Revoke(w.ID); err != nil && !errors.Is(err, pairing.ErrNone) {
		return err
	}
	a.Keeper.news.Ask()
	slog.Info("a device unpaired itself", "device", w.ID)
	take(c)
	if in.Data == "clear" {
		// Not "cookies": that word ends the cookies of all servers of this name.
		c.Set("Clear-Site-Data", `"cache", "storage"`)
	}
	return answer(c, fiber.Map{"unpaired": w.ID})
}

// devices lists who may come in.
func (a api) devices(c *fiber.Ctx) error {
	if a.Book == nil {
		return errAlone
	}
	l, err := a.Book.List()
	if err != nil {
		return err
	}
	if l.Devices == nil {
		l.Devices = []pairing.Device{}
	}
	if l.Links == nil {
		l.Links = []pairing.Link{}
	}
	return answer(c, fiber.Map{"devices": l.Devices, "links": l.Links})
}

// pairing opens a code.
func (a api) pairing(c *fiber.Ctx) error {
	var in struct{ Role checklist.Role }
	if err := readJSON(c, &in); err != nil {
		return err
	}
	if a.Book == nil {
		return errAlone
	}
	code, err := a.Book.OpenCode(in.Role)
	if err != nil {
		return err
	}
	slog.Info("opened pairing", "from", c.IP(), "by", callerOf(c).ID, "role", code.Role)
	link := a.address(c) + "/pair#" + code.Long
	picture, err := reach.QR(link, "The code as a picture for a phone's camera")
	if err != nil {
		return err
	}
	return answer(c, fiber.Map{
		"link": link, "typed": code.Typed, "role": code.Role, "until": code.Until,
		"html": pages.Opened(picture, a.address(c), code.Typed, code.Role),
	})
}

// link makes a link to one job.
func (a api) link(c *fiber.Ctx) error {
	var in struct{ Job string }
	if err := readJSON(c, &in); err != nil {
		return err
	}
	if a.Book == nil {
		return errAlone
	}
	line, err := a.Keeper.Line(in.Job)
	if err != nil {
		return err
	}
	text, l, err := a.Book.NewLink(line.ID)
	if err != nil {
		return err
	}
	slog.Info("made a link", "from", c.IP(), "by", callerOf(c).ID, "link", l.ID, "job", l.Job)
	link := a.address(c) + "/view#" + text
	picture, err := reach.QR(link, "The link as a picture for a phone's camera")
	if err != nil {
		return err
	}
	return answer(c, fiber.Map{"id": l.ID, "job": l.Job, "link": link, "until": l.Until, "html": pages.Linked(picture, link, line.Title)})
}

// revoke ends a device's token or a link.
func (a api) revoke(c *fiber.Ctx) error {
	var in struct{ ID string }
	if err := readJSON(c, &in); err != nil {
		return err
	}
	if a.Book == nil {
		return errAlone
	}
	if err := a.Book.Revoke(in.ID); err != nil {
		return err
	}
	a.Keeper.news.Ask()
	slog.Info("revoked", "from", c.IP(), "by", callerOf(c).ID, "id", in.ID)
	return answer(c, fiber.Map{"revoked": in.ID})
}

// address is where phones reach the server, else where this request did.
func (o Options) address(c *fiber.Ctx) string {
	host := string(c.Request().Host()) // the border has seen that it is ours
	switch {
	case c.Context().IsTLS() && !isLoopback(hostname(host)):
		return "https://" + host
	case o.Address != "":
		return o.Address
	case c.Context().IsTLS():
		return "https://" + host
	}
	return "http://" + host
}

// clip shortens foreign text for the log.
func clip(s string) string { return s[:min(len(s), 120)] }

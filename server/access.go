package server

import (
	"errors"
	"net"

	"github.com/gofiber/fiber/v2"

	"hangtrue/checklist"
	"hangtrue/server/pairing"
	"hangtrue/server/store"
)

// A level is what somebody may do; each holds all that are below it.
type level int

const (
	anybody   level = iota // a stranger too
	viewer                 // reads: every job, or the one that a link is for
	installer              // records
	manager                // a lead: opens pairing, makes links, ends both, sees what belongs to no job
)

func levelOf(r checklist.Role) level {
	switch r {
	case checklist.Lead:
		return manager
	case checklist.Installer:
		return installer
	case checklist.Viewer:
		return viewer
	}
	return anybody
}

// A route is one address of the app and who may use it. A path with :job is about
// that job, and whoever may read one job may use it for that one alone.
type route struct {
	method, path string
	least        level
	run          fiber.Handler
}

// routes is the one table that says who may do what; whatever is not in it does not
// exist. Pages and files share an address: see [site.get] for them.
func (o Options) routes() []route {
	a, s := api{o}, site{o}
	return []route{
		{"GET", "/healthz", anybody, a.health},
		{"GET", "/api/version", anybody, a.version},
		{"GET", "/api/openapi.json", anybody, a.description},
		{"POST", "/api/pair", anybody, a.pair},
		{"POST", "/api/view", anybody, a.view},

		{"POST", "/api/unpair", viewer, a.unpair},
		{"GET", "/api/jobs", viewer, a.jobs},
		{"GET", "/api/news", viewer, a.listen},
		{"GET", "/api/jobs/:job/records", viewer, a.records},
		{"GET", "/jobs/:job/record.json", viewer, a.record},
		{"GET", "/jobs/:job/paper/:file", viewer, a.paper},
		{"GET", "/api/jobs/:job/photos", viewer, a.photosHere},
		{"GET", "/api/jobs/:job/plan", viewer, a.plan},
		{"GET", "/api/jobs/:job/mounts.csv", viewer, a.mounts},
		{"GET", "/api/jobs/:job/measured.csv", viewer, a.measuredCSV},
		{"GET", "/api/jobs/:job/measured.json", viewer, a.measuredJSON},
		{"GET", "/jobs/:job/photos/:photo.jpg", viewer, a.photo},

		{"POST", "/api/jobs/:job/entries", installer, a.entries},
		{"GET", "/api/jobs/:job/photos/:photo", installer, a.arrived},
		{"PATCH", "/api/jobs/:job/photos/:photo", installer, a.piece},

		{"GET", "/api/strays", manager, a.strays},
		{"GET", "/api/devices", manager, a.devices},
		{"POST", "/api/pairing", manager, a.pairing},
		{"POST", "/api/links", manager, a.link},
		{"POST", "/api/revoke", manager, a.revoke},

		{"GET", "/api/*", anybody, func(*fiber.Ctx) error { return fiber.ErrNotFound }},
		{"GET", "/*", anybody, s.get},
	}
}

// A caller is who sends a request.
type caller struct {
	pairing.Device        // without an id for the owner
	level          level  // anybody for a stranger
	token          string // that it came with
}

// may tells whether the caller may read a job.
func (w caller) may(job string) bool { return w.level > anybody && (w.Job == "" || w.Job == job) }

// callerKey is where a request's caller is kept.
type callerKey struct{}

func callerOf(c *fiber.Ctx) caller {
	w, _ := c.Locals(callerKey{}).(caller)
	return w
}

// meet finds out who sends a request: a device by its token; or, without a token and
// over this computer's own loopback, the server's owner.
func (o Options) meet(c *fiber.Ctx) error {
	w := caller{token: c.Cookies(cookieName(c))}
	switch {
	case w.token != "" && o.Book != nil:
		d, err := o.Book.Who(w.token)
		if err != nil && !errors.Is(err, pairing.ErrToken) {
			return err // who cannot be known is let in nowhere
		}
		if err == nil {
			w.Device, w.level = d, levelOf(d.Role)
		}
	case o.Book == nil, !o.Locked && atThisComputer(c):
		w.level = manager
	}
	c.Locals(callerKey{}, w)
	return c.Next()
}

// relayed are headers of programs that pass on what others sent them.
var relayed = []string{"Forwarded", "Via", fiber.HeaderXForwardedFor, fiber.HeaderXForwardedHost, fiber.HeaderXForwardedProto, "X-Real-Ip"}

// atThisComputer tells whether the connection comes from this computer and nobody
// says that it was passed on from elsewhere.
func atThisComputer(c *fiber.Ctx) bool {
	for _, header := range relayed {
		if len(c.Request().Header.Peek(header)) > 0 {
			return false
		}
	}
	from, ok := c.Context().RemoteAddr().(*net.TCPAddr)
	return ok && from.IP.IsLoopback()
}

// allow puts the table before a route's own work.
func (o Options) allow(r route) fiber.Handler {
	return func(c *fiber.Ctx) error {
		w := callerOf(c)
		job := c.Params("job")
		another := job != "" && w.Job != "" && w.Job != job
		if w.level < r.least || another {
			o.refusals.warn("refused", "method", c.Method(), "path", clip(string(c.Request().URI().PathOriginal())), "from", c.IP(), "device", w.ID)
		}
		switch {
		case w.level < r.least && w.level == anybody:
			return errStranger
		case w.level < r.least:
			return problem(403, "This device is paired as %s; this takes %s.", named(w.level), named(r.least))
		}
		if another {
			return store.ErrNoJob // whether there is one is none of its business
		}
		return r.run(c)
	}
}

func named(l level) string {
	return map[level]string{viewer: "a viewer", installer: "an installer", manager: "a lead"}[l]
}

var errStranger = problem(401, "This device is not paired with this server, or no longer. What is recorded on it stays. Pair it again: open You, then Pair.")

package server

import (
	"fmt"
	"log/slog"
	"runtime/debug"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/gofiber/fiber/v2/middleware/recover"

	"hangtrue/pwa"
	"hangtrue/pwa/pages"
)

// Static are the files that a phone loads.
type Static interface {
	Lookup(path string) (pwa.File, bool)
	Assets() pages.Assets
}

// Options of [New].
type Options struct {
	Keeper  *Keeper
	Static  Static
	Version string // of the program, as it calls itself

	// Answers tells whether a name or address is this server's, beyond those of this
	// computer itself; without it there are no others.
	Answers func(host string) bool
	// Guard passes on every request that may go on to a route, and refuses the
	// rest. Without it whoever reaches the server may read and write.
	Guard fiber.Handler
}

const (
	// maxBody bounds a request's body in bytes; phones know it and send less.
	maxBody = 1 << 20
	// maxPush bounds the entries of one push.
	maxPush = 200

	// A phone on a poor network may take long for a megabyte; a connection that
	// sends nothing must still end.
	readTimeout  = 60 * time.Second
	writeTimeout = 60 * time.Second
	idleTimeout  = 75 * time.Second
)

// New puts HTTP around a keeper. The app listens where its caller lets it.
func New(o Options) *fiber.App {
	app := fiber.New(fiber.Config{
		AppName: "hangtrue", DisableStartupMessage: true,
		// Without it fiber hands out strings that the next request overwrites.
		Immutable:               true,
		BodyLimit:               maxBody,
		ReadTimeout:             readTimeout,
		WriteTimeout:            writeTimeout,
		IdleTimeout:             idleTimeout,
		ReadBufferSize:          16 << 10, // of a request's header
		Concurrency:             4096,
		CaseSensitive:           true,
		StrictRouting:           true,
		EnableTrustedProxyCheck: true, // and no proxy is trusted: X-Forwarded-* counts for nothing
		EnableIPValidation:      true,
		ErrorHandler:            answerError,
	})
	app.Use(recover.New(recover.Config{EnableStackTrace: true, StackTraceHandler: logPanic}))
	app.Use(o.border)
	if o.Guard != nil {
		app.Use(o.Guard)
	}

	a := api{o}
	app.Get("/healthz", a.health)
	app.Get("/api/version", a.version)
	app.Get("/api/openapi.json", a.description)
	app.Get("/api/jobs", a.jobs)
	app.Get("/api/strays", a.strays)
	app.Get("/api/jobs/:job/records", a.records)
	app.Post("/api/jobs/:job/entries", a.entries)
	app.Get("/jobs/:job/record.json", a.record)
	app.Get("/api/*", func(*fiber.Ctx) error { return fiber.ErrNotFound })
	app.Get("/*", site{o}.get)
	return app
}

func logPanic(c *fiber.Ctx, cause any) {
	slog.Error("a handler failed", "path", string(c.Request().URI().PathOriginal()), "cause", fmt.Sprint(cause), "stack", string(debug.Stack()))
}

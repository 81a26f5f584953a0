package server

import (
	"crypto/rand"
	"fmt"
	"log/slog"
	"runtime/debug"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/gofiber/fiber/v2/middleware/recover"

	"hangtrue/pwa"
	"hangtrue/pwa/pages"
	"hangtrue/server/pairing"
	"hangtrue/server/photos"
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
	// Photos are the pictures that entries name. Without it there are none.
	Photos *photos.Store
	// Run names this run of the server, so that phones see when it was started again,
	// perhaps with an older copy of its photos. Without it chance names it.
	Run string
	// Book is who is paired. Without it whoever reaches the server may do everything;
	// it then answers as this computer alone, whatever Answers says.
	Book *pairing.Book
	// Locked has this computer's own browsers and programs pair like all others.
	// Unlocked, whoever can open a connection from this computer is the owner.
	Locked bool
	// Address is where phones reach the server, such as https://192.168.1.5:8470.
	Address string
	// Strict has browsers that came over TLS come over TLS alone for a year. It is for a
	// name that a public authority vouches for; a local authority can be lost.
	Strict bool

	refusals *sparing // what is logged of them
	turns    *turns   // of devices with large answers
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
	o.refusals, o.turns = &sparing{}, &turns{}
	if o.Run == "" {
		o.Run = rand.Text()
	}
	app := fiber.New(fiber.Config{
		AppName: "hangtrue", DisableStartupMessage: true,
		// Without it fiber hands out strings that the next request overwrites.
		Immutable: true,
		BodyLimit: maxBody,
		// No address takes a form with files, so that nobody's is taken apart.
		DisablePreParseMultipartForm: true,
		ReadTimeout:                  readTimeout,
		WriteTimeout:                 writeTimeout,
		IdleTimeout:                  idleTimeout,
		ReadBufferSize:               16 << 10, // of a request's header
		Concurrency:                  4096,
		CaseSensitive:                true,
		StrictRouting:                true,
		EnableTrustedProxyCheck:      true, // and no proxy is trusted: X-Forwarded-* counts for nothing
		EnableIPValidation:           true,
		ErrorHandler:                 answerError,
	})
	app.Use(recover.New(recover.Config{EnableStackTrace: true, StackTraceHandler: logPanic}))
	app.Use(o.border)
	app.Use(o.meet)
	for _, r := range o.routes() {
		if r.method == fiber.MethodGet {
			app.Get(r.path, o.allow(r)) // and HEAD with it
		} else {
			app.Add(r.method, r.path, o.allow(r))
		}
	}
	return app
}

func logPanic(c *fiber.Ctx, cause any) {
	slog.Error("a handler failed", "path", string(c.Request().URI().PathOriginal()), "cause", fmt.Sprint(cause), "stack", string(debug.Stack()))
}

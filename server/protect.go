package server

import (
	"net"
	"net/url"
	"strings"

	"github.com/gofiber/fiber/v2"
)

// policy lets a page load its own files and nothing else: no inline script or
// style, no other host, no frame. The WebAssembly program needs its own word.
const policy = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; img-src 'self' data: blob:; " +
	"connect-src 'self'; manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'; object-src 'none'"

// permissions: the sensors a step may use later are this origin's, the rest nobody's.
const permissions = "camera=(self), accelerometer=(self), gyroscope=(self), magnetometer=(self), screen-wake-lock=(self), " +
	"geolocation=(), microphone=(), payment=(), usb=(), serial=(), bluetooth=(), midi=()"

// protect sets the headers that every answer has, an error's too.
func protect(c *fiber.Ctx) {
	c.Set(fiber.HeaderContentSecurityPolicy, policy)
	c.Set(fiber.HeaderXContentTypeOptions, "nosniff")
	c.Set(fiber.HeaderReferrerPolicy, "no-referrer")
	c.Set(fiber.HeaderPermissionsPolicy, permissions)
	c.Set("Cross-Origin-Opener-Policy", "same-origin")
	c.Set("Cross-Origin-Resource-Policy", "same-origin")
	c.Set(fiber.HeaderXFrameOptions, "DENY")
}

// border refuses what no page of this server sends.
func (o Options) border(c *fiber.Ctx) error {
	protect(c)
	if o.Strict && c.Context().IsTLS() {
		c.Set(fiber.HeaderStrictTransportSecurity, "max-age=31536000") // one year (ASVS 5.0 V3.4.1)
	}
	// A foreign name that resolves to this computer would otherwise make another
	// site's page one of the same origin.
	if host := hostname(string(c.Request().Host())); !isLoopback(host) {
		if o.Answers == nil || o.Book == nil {
			o.refuse(c, "by a name that is not this computer's own")
			return problem(421, "This server answers on this computer only, as 127.0.0.1 or localhost.")
		}
		if !o.Answers(host) {
			o.refuse(c, "by a name that is not the server's")
			return problem(421, "This server is not known by that name or address.")
		}
	}
	if c.Get(fiber.HeaderContentEncoding) != "" {
		// A kilobyte compressed can be a gigabyte unpacked.
		return problem(415, "A request's body is not to be compressed.")
	}
	if c.Method() == fiber.MethodGet || c.Method() == fiber.MethodHead || c.Method() == fiber.MethodOptions {
		if !mayLoad(c) {
			o.refuse(c, "loaded into another site's page")
			return problem(403, "The request comes from a page of another site.")
		}
		return c.Next()
	}
	if !sameOrigin(c) {
		o.refuse(c, "from another site")
		return problem(403, "The request comes from another site.")
	}
	want, what := fiber.MIMEApplicationJSON, "JSON"
	if c.Method() == fiber.MethodPatch {
		want, what = pieceType, "a piece of a photo"
	}
	if media, _, _ := strings.Cut(c.Get(fiber.HeaderContentType), ";"); !strings.EqualFold(strings.TrimSpace(media), want) {
		return problem(415, "A request's body is %s, of type %s.", what, want)
	}
	return c.Next()
}

// refuse logs what the border does not let in (ASVS 5.0 V16.3.3).
func (o Options) refuse(c *fiber.Ctx, why string) {
	o.refusals.warn("refused "+why, "method", c.Method(), "host", clip(string(c.Request().Host())), "path", clip(string(c.Request().URI().PathOriginal())),
		"site", clip(c.Get("Sec-Fetch-Site")), "origin", clip(c.Get(fiber.HeaderOrigin)), "from", c.IP())
}

// mayLoad keeps pages of other sites from loading anything, as a picture, a script or
// a stream: what comes of it they cannot read, but whether it came and when tells them
// something too. A link from elsewhere that a person follows is let through. A client
// that does not say what it is for is no browser of today.
func mayLoad(c *fiber.Ctx) bool {
	switch c.Get("Sec-Fetch-Site") {
	case "", "same-origin", "none":
		return true
	}
	return c.Get("Sec-Fetch-Mode") == "navigate"
}

// hostname is a Host header without its port and brackets.
func hostname(host string) string {
	if h, _, err := net.SplitHostPort(host); err == nil {
		host = h
	}
	return strings.TrimSuffix(strings.TrimPrefix(host, "["), "]")
}

// isLoopback tells whether a name or address is this computer's own.
func isLoopback(name string) bool {
	if strings.EqualFold(name, "localhost") {
		return true
	}
	ip := net.ParseIP(name)
	return ip != nil && ip.IsLoopback()
}

// sameOrigin is the rule of net/http's CrossOriginProtection: what the browser
// says about the request's site decides; else the origin must be this host. A
// client that says neither is no browser.
func sameOrigin(c *fiber.Ctx) bool {
	switch c.Get("Sec-Fetch-Site") {
	case "same-origin", "none":
		return true
	case "":
	default:
		return false
	}
	origin := c.Get(fiber.HeaderOrigin)
	if origin == "" {
		return true
	}
	u, err := url.Parse(origin)
	return err == nil && u.Host != "" && u.Host == string(c.Request().Host())
}

package server

import (
	"cmp"
	"fmt"
	"strings"

	"github.com/gofiber/fiber/v2"

	"hangtrue/checklist"
	"hangtrue/pwa"
	"hangtrue/pwa/pages"
)

// site answers browsers: the files a phone loads, and the pages.
type site struct{ Options }

func (s site) get(c *fiber.Ctx) error {
	path := string(c.Request().URI().PathOriginal())
	if file, ok := s.Static.Lookup(path); ok {
		return sendFile(c, file)
	}
	if strings.HasPrefix(path, "/assets/") {
		return fiber.ErrNotFound
	}
	who := callerOf(c)
	src := &source{Options: s.Options, who: who}
	var page pages.Document
	switch {
	case who.level == anybody && !pages.Open(path):
		page = pages.Refused(401)
	case who.level < manager && path == pages.DevicesPath:
		page = pages.Refused(403)
	default:
		page = pages.Render(path, src)
	}
	if err := src.fault(); err != nil {
		return err
	}
	c.Set(fiber.HeaderCacheControl, asked)
	c.Set(fiber.HeaderContentType, fiber.MIMETextHTMLCharsetUTF8)
	return c.Status(page.Status).SendString(page.Page(s.Static.Assets()))
}

// sendFile sends a file in the best form that the client takes. An address that
// names its content by a hash may be kept for ever; any other is asked for again.
func sendFile(c *fiber.Ctx, f pwa.File) error {
	body, coding := f.Content, ""
	if len(f.Encoded) > 0 {
		c.Set(fiber.HeaderVary, fiber.HeaderAcceptEncoding)
		body, coding = choose(f, c.Get(fiber.HeaderAcceptEncoding))
	}
	// The same bytes in another coding are another representation.
	tag := fmt.Sprintf("%q", strings.TrimSuffix(f.Hash+"-"+coding, "-"))
	c.Set(fiber.HeaderETag, tag)
	c.Set(fiber.HeaderContentType, f.Type)
	if f.Immutable {
		c.Set(fiber.HeaderCacheControl, "public, max-age=31536000, immutable")
	} else {
		c.Set(fiber.HeaderCacheControl, "no-cache")
	}
	if c.Get(fiber.HeaderIfNoneMatch) == tag {
		return c.SendStatus(fiber.StatusNotModified)
	}
	if coding != "" {
		c.Set(fiber.HeaderContentEncoding, coding)
	}
	return c.Send(body)
}

// codings are the codings that files come in, the smallest first.
var codings = []string{"br", "gzip"}

func choose(f pwa.File, accept string) (body []byte, coding string) {
	for _, coding := range codings {
		if body, ok := f.Encoded[coding]; ok && accepts(accept, coding) {
			return body, coding
		}
	}
	return f.Content, ""
}

// accepts reads an Accept-Encoding header: the coding is named, or all are, and
// not with a quality of zero.
func accepts(header, coding string) bool {
	all := false
	for part := range strings.SplitSeq(header, ",") {
		name, quality, _ := strings.Cut(strings.TrimSpace(part), ";")
		refused := strings.Trim(strings.ReplaceAll(quality, " ", ""), "0.") == "q="
		switch strings.ToLower(strings.TrimSpace(name)) {
		case coding:
			return !refused
		case "*":
			all = !refused
		}
	}
	return all
}

// source is where pages read from on the server. A page is rendered for one
// request, so what went wrong is kept for its handler.
type source struct {
	Options
	who    caller
	err    error
	states []*checklist.State // of the jobs that were asked for
}

// fault is what went wrong while a page was rendered.
func (s *source) fault() error {
	err := s.err
	for _, state := range s.states {
		err = cmp.Or(err, state.Fault())
	}
	return err
}

func (s *source) Jobs() []pages.JobLine {
	var lines []pages.JobLine
	for _, l := range s.Keeper.Lines() {
		if s.who.may(l.ID) {
			lines = append(lines, pages.JobLine{ID: l.ID, Title: l.Title, Head: l.Head, Done: l.Done, All: l.All, Signed: l.Signed})
		}
	}
	return lines
}

func (s *source) Job(id string) (*pages.Job, bool) {
	if !s.who.may(id) {
		return nil, false
	}
	if _, err := s.Keeper.Line(id); err != nil {
		return nil, false
	}
	state, err := s.Keeper.State(id)
	if err != nil {
		s.err = err
		return nil, false
	}
	seals, err := s.Keeper.Seals(id)
	if err != nil {
		s.err = err
		return nil, false
	}
	s.states = append(s.states, state)
	return &pages.Job{State: state, Seals: seals, Photo: s.photo}, true
}

// photo tells whether a photo has arrived.
func (s *source) photo(p checklist.Photo) pages.PhotoPlace {
	if s.Photos != nil && s.Photos.Has(p) {
		return pages.PhotoHere
	}
	return pages.PhotoAway
}

// Device is nobody: the server does not hold a phone.
func (s *source) Device() pages.Device { return pages.Device{} }

// Guests are who may come in, for a page that only leads get.
func (s *source) Guests() (pages.Guests, bool) {
	if s.who.level < manager || s.Book == nil {
		return pages.Guests{}, false
	}
	l, err := s.Book.List()
	if err != nil {
		s.err = err
		return pages.Guests{}, false
	}
	var g pages.Guests
	now := s.Keeper.now()
	for _, d := range l.Devices {
		g.Devices = append(g.Devices, pages.Guest{ID: d.ID, Who: d.Who, Role: d.Role, Job: s.title(d.Job), Paired: d.Paired, Seen: d.Seen,
			Ended: !now.Before(d.Ends()), Revoked: d.Revoked, Self: d.ID == s.who.ID})
	}
	for _, k := range l.Links {
		g.Links = append(g.Links, pages.GuestLink{ID: k.ID, Job: s.title(k.Job), Made: k.Made, Until: k.Until, Revoked: k.Revoked, Ended: !now.Before(k.Until)})
	}
	return g, true
}

func (s *source) title(job string) string {
	if line, err := s.Keeper.Line(job); err == nil {
		return line.Title
	}
	return job
}

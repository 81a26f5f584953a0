package server

import (
	"crypto/sha256"
	"encoding/hex"
	"strings"

	"github.com/gofiber/fiber/v2"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/table"
)

// plan hands out the plan document in force, or the revision that is asked for, as
// it was settled. Its tag is the document's SHA-256, which the log has too.
func (a api) plan(c *fiber.Ctx) error {
	state, r, err := a.revision(c)
	if err != nil {
		return err
	}
	document := r.Document()
	sum := sha256.Sum256(document)
	tag := `"` + hex.EncodeToString(sum[:]) + `"`
	c.Set(fiber.HeaderETag, tag)
	if matches(c.Get(fiber.HeaderIfNoneMatch), tag) {
		c.Set(fiber.HeaderCacheControl, asked)
		return c.SendStatus(fiber.StatusNotModified)
	}
	return attach(c, state, "plan.json", asked, document)
}

// matches reads an If-None-Match header (RFC 9110 section 13.1.2).
func matches(header, tag string) bool {
	for one := range strings.SplitSeq(header, ",") {
		if one = strings.TrimSpace(one); one == "*" || strings.TrimPrefix(one, "W/") == tag {
			return true
		}
	}
	return false
}

// mounts hands out a revision's mounts as a table.
func (a api) mounts(c *fiber.Ctx) error {
	state, r, err := a.revision(c)
	if err != nil {
		return err
	}
	data, err := table.WriteMounts(r.Plan)
	if err != nil {
		return err
	}
	return attach(c, state, "mounts.csv", unkept, data)
}

// measuredCSV hands out the latest readings of where the mounts are, as a table.
func (a api) measuredCSV(c *fiber.Ctx) error {
	return a.measured(c, "measured.csv", table.WriteMeasured)
}

// measuredJSON hands out the same as a measured file.
func (a api) measuredJSON(c *fiber.Ctx) error {
	return a.measured(c, "measured.json", (*plan.Measured).Encode)
}

func (a api) measured(c *fiber.Ctx, name string, write func(*plan.Measured) ([]byte, error)) error {
	state, err := a.state(c)
	if err != nil {
		return err
	}
	m := table.Recorded(state)
	if m == nil {
		return errNoPlan
	}
	data, err := write(m)
	if err != nil {
		return err
	}
	return attach(c, state, name, unkept, data)
}

// state is that of the job that the request is about.
func (a api) state(c *fiber.Ctx) (*checklist.State, error) {
	job, err := jobID(c)
	if err != nil {
		return nil, err
	}
	return a.Keeper.State(job)
}

// revision is the revision of the plan that the request asks for, the one in force
// if it says nothing.
func (a api) revision(c *fiber.Ctx) (*checklist.State, checklist.Revision, error) {
	state, err := a.state(c)
	if err != nil {
		return nil, checklist.Revision{}, err
	}
	n, err := number(c, "revision", int64(state.Revision()))
	switch {
	case err != nil:
		return nil, checklist.Revision{}, err
	case state.Revision() == 0:
		return nil, checklist.Revision{}, errNoPlan
	case n < 1 || n > int64(state.Revision()):
		return nil, checklist.Revision{}, problem(404, "There is no revision %d of this plan; the one in force is %d.", n, state.Revision())
	}
	return state, state.Revisions[n-1], nil
}

var errNoPlan = problem(404, "No plan is settled on this job yet.")

// How long a download may be kept: not at all, or as long as its tag is asked for.
const (
	unkept = "no-store"
	asked  = "private, no-cache"
)

// attach sends a file to be kept under the job's name and its own.
func attach(c *fiber.Ctx, s *checklist.State, name, cache string, data []byte) error {
	what, extension, _ := strings.Cut(name, ".")
	c.Set(fiber.HeaderCacheControl, cache)
	c.Set(fiber.HeaderContentType, map[string]string{"json": jsonType, "csv": csvType, "pdf": "application/pdf"}[extension])
	c.Set(fiber.HeaderContentDisposition, disposition(what, s.Job, s.Title, extension))
	return c.Send(data)
}

// csvType is a table's type with both parameters of RFC 4180 section 3.
const csvType = "text/csv; charset=utf-8; header=present"

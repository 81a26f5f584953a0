package server

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/url"
	"strconv"
	"strings"
	"sync"

	"github.com/gofiber/fiber/v2"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/pwa/markup"
	"hangtrue/pwa/paper"
	"hangtrue/server/press"
)

// A paperFile is what a file of paper is called: KIND-SIZE.pdf, KIND-SIZE.html,
// KIND-SIZE-NUMBER.svg for one sheet, KIND.csv, and all-SIZE.pdf.
type paperFile struct {
	kind, form string
	size       paper.Size
	sheet      int // counted from 1; of an SVG
}

var errNoPaper = problem(404, "There is no such paper of this job.")

func readPaperFile(name string) (paperFile, error) {
	stem, form, _ := strings.Cut(name, ".")
	f := paperFile{form: form}
	if form == "svg" {
		i := strings.LastIndexByte(stem, '-')
		if i < 0 {
			return f, errNoPaper
		}
		n, err := strconv.Atoi(stem[i+1:])
		if err != nil || n < 1 {
			return f, errNoPaper
		}
		f.sheet, stem = n, stem[:i]
	}
	if form == "csv" {
		f.kind = stem
		return f, nil
	}
	i := strings.LastIndexByte(stem, '-')
	if i < 0 || form != "svg" && form != "pdf" && form != "html" {
		return f, errNoPaper
	}
	size, ok := paper.SizeNamed(stem[i+1:])
	if !ok {
		return f, errNoPaper
	}
	f.kind, f.size = stem[:i], size
	return f, nil
}

// atPress lets one request at a time lay out paper: it takes a moment of the processor,
// and the phones' pushes come first.
var atPress sync.Mutex

// paper hands out one file of paper, made from the plan in force, from an earlier
// revision, or from the draft.
func (a api) paper(c *fiber.Ctx) error {
	f, err := readPaperFile(c.Params("file"))
	if err != nil {
		return err
	}
	state, job, err := a.paperJob(c)
	if err != nil {
		return err
	}
	// The same plan gives the same bytes until the program changes.
	sum := sha256.Sum256(fmt.Appendf(nil, "%s\n%s\n%v %d\n%s", a.Version, job.SHA256, job.Draft, job.Revision, c.Request().URI().RequestURI()))
	tag := `"` + hex.EncodeToString(sum[:16]) + `"`
	if matches(c.Get(fiber.HeaderIfNoneMatch), tag) {
		c.Set(fiber.HeaderETag, tag)
		c.Set(fiber.HeaderCacheControl, asked)
		return c.SendStatus(fiber.StatusNotModified)
	}
	atPress.Lock()
	defer atPress.Unlock()
	if f.form == "html" {
		return a.paperPage(c, f, job)
	}
	data, err := f.make(job, c)
	if err != nil {
		return paperProblem(err)
	}
	c.Set(fiber.HeaderETag, tag)
	if f.form == "svg" {
		c.Set(fiber.HeaderCacheControl, asked)
		c.Set(fiber.HeaderContentType, "image/svg+xml; charset=utf-8")
		return c.Send(data)
	}
	return attach(c, state, f.kind+"."+f.form, asked, data)
}

// make is the file's content.
func (f paperFile) make(job paper.Job, c *fiber.Ctx) ([]byte, error) {
	if f.form == "csv" {
		return job.Table(f.kind)
	}
	documents, err := f.documents(job, c)
	if err != nil {
		return nil, err
	}
	if f.form == "pdf" {
		return press.PDF(documents[0].Title, documents...)
	}
	if f.sheet > len(documents[0].Sheets) {
		return nil, errNoPaper
	}
	return []byte(markup.String(documents[0].Sheets[f.sheet-1].SVG())), nil
}

// documents are those of a file: one kind, or all.
func (f paperFile) documents(job paper.Job, c *fiber.Ctx) ([]paper.Document, error) {
	grid, err := paper.ReadGrid(f.size, func(name string) string { return c.Query(name) })
	if err != nil {
		return nil, err
	}
	if f.kind != "all" {
		d, err := job.Document(f.kind, f.size, grid)
		return []paper.Document{d}, err
	}
	var all []paper.Document
	for _, k := range paper.Kinds {
		d, err := job.Document(k.Name, f.size, grid)
		if k.Name == "labels" && err != nil {
			continue // a plan whose names go on no label still has all else
		}
		if err != nil {
			return nil, err
		}
		all = append(all, d)
	}
	return all, nil
}

// paperProblem says what is wrong with what was asked for.
func paperProblem(err error) error {
	switch {
	case errors.Is(err, errNoPaper), errors.Is(err, paper.ErrUnknown):
		return errNoPaper
	case errors.Is(err, paper.ErrGrid):
		return problem(400, "%s.", sentenceOf(err))
	}
	return problem(409, "This cannot be worked out from the plan: %v.", err)
}

// sentenceOf is an error of package paper without the package's name.
func sentenceOf(err error) string {
	s := strings.TrimPrefix(err.Error(), "paper: ")
	return strings.ToUpper(s[:1]) + s[1:]
}

// paperJob is what paper is made from.
func (a api) paperJob(c *fiber.Ctx) (*checklist.State, paper.Job, error) {
	if c.Query("draft") == "" {
		state, r, err := a.revision(c)
		if err != nil {
			return nil, paper.Job{}, err
		}
		return state, paper.Job{Plan: r.Plan, Template: state.Template, Revision: r.Number, SHA256: r.SHA256}, nil
	}
	state, err := a.state(c)
	if err != nil {
		return nil, paper.Job{}, err
	}
	draft := plan.Assemble(state.Draft())
	document, err := draft.Encode()
	if err != nil {
		return nil, paper.Job{}, err
	}
	sum := sha256.Sum256(document)
	return state, paper.Job{Plan: draft, Template: state.Template, SHA256: hex.EncodeToString(sum[:]), Draft: true}, nil
}

// paperPage shows a document to a browser, which prints it. Labels come with the form that
// asks for their grid.
func (a api) paperPage(c *fiber.Ctx, f paperFile, job paper.Job) error {
	kept := url.Values{}
	for _, name := range []string{"revision", "draft"} {
		if v := c.Query(name); v != "" {
			kept.Set(name, v)
		}
	}
	query := kept
	page := paper.Page{Style: a.Static.Assets().Style, Back: "/jobs/" + c.Params("job") + "/paper"}
	documents, err := f.documents(job, c)
	d, status := paper.Document{}, fiber.StatusOK
	switch {
	case err == nil:
		d = documents[0]
	case f.kind != "labels" || errors.Is(err, paper.ErrUnknown):
		return paperProblem(err)
	default:
		d, status = paper.Document{Name: "labels", Title: "Cable labels"}, fiber.StatusBadRequest
	}
	for _, more := range documents[min(1, len(documents)):] { // all kinds, on one page
		d.Title, d.Sheets = "All paper", append(d.Sheets, more.Sheets...)
	}
	if f.kind == "labels" {
		grid, wrong := paper.ReadGrid(f.size, func(name string) string { return c.Query(name) })
		says := ""
		if err != nil {
			says = sentenceOf(err)
		}
		page.Form = paper.GridForm(f.size, grid, says, kept)
		if wrong == nil {
			query = grid.Query()
			for k, v := range kept {
				query[k] = v
			}
		}
	}
	address := f.kind + "-" + f.size.Name + ".pdf"
	if q := query.Encode(); q != "" {
		address += "?" + q
	}
	page.Files = [][2]string{{"PDF", address}}
	c.Set(fiber.HeaderCacheControl, asked)
	c.Set(fiber.HeaderContentType, fiber.MIMETextHTMLCharsetUTF8)
	return c.Status(status).SendString(page.HTML(d))
}

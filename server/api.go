package server

import (
	"bytes"
	"cmp"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/url"
	"reflect"
	"regexp"
	"strconv"
	"strings"

	"github.com/gofiber/fiber/v2"

	"hangtrue/checklist"
	"hangtrue/server/store"
)

//go:embed openapi.json
var openapi []byte

const (
	// One pull answers with at most so many records and bytes of entries.
	maxPull      = 500
	maxPullBytes = 1 << 20
)

// api answers the phones' own requests.
type api struct{ Options }

func (a api) health(c *fiber.Ctx) error { return answer(c, fiber.Map{"status": "ok"}) }

func (a api) version(c *fiber.Ctx) error { return answer(c, fiber.Map{"version": a.Version}) }

func (a api) description(c *fiber.Ctx) error {
	c.Set(fiber.HeaderCacheControl, "no-cache")
	c.Set(fiber.HeaderContentType, jsonType)
	return c.Send(openapi)
}

func (a api) jobs(c *fiber.Ctx) error {
	type job struct {
		ID       string `json:"id"`
		Title    string `json:"title"`
		Head     int64  `json:"head"`
		Received string `json:"received"` // the last record
	}
	jobs := []job{}
	who := callerOf(c)
	for _, l := range a.Keeper.Lines() {
		if who.may(l.ID) {
			jobs = append(jobs, job{l.ID, l.Title, l.Head, l.Received})
		}
	}
	return answer(c, fiber.Map{"jobs": jobs, "run": a.Run})
}

func (a api) strays(c *fiber.Ctx) error {
	after, err := number(c, "after", 0)
	if err != nil {
		return err
	}
	strays, err := a.Keeper.Strays(after, maxPull, maxPullBytes)
	if err != nil {
		return err
	}
	if strays == nil {
		strays = []store.Stray{}
	}
	return answer(c, fiber.Map{"strays": strays})
}

// entries takes a push. The body has the entries as texts, so that their bytes
// survive any JSON writer.
func (a api) entries(c *fiber.Ctx) error {
	job, err := jobID(c)
	if err != nil {
		return err
	}
	entries, err := readPush(c)
	if err != nil {
		return err
	}
	if len(entries) > maxPush {
		return problem(413, "A push has at most %d entries, this one has %d.", maxPush, len(entries))
	}
	who := callerOf(c)
	head, answers, err := a.Keeper.PushFrom(Sender{who.ID, who.Role}, job, entries)
	if err != nil {
		return err
	}
	return answerJSON(c, appendAnswers(nil, head, answers))
}

// records answers a pull.
func (a api) records(c *fiber.Ctx) error {
	job, err := jobID(c)
	if err != nil {
		return err
	}
	after, err := number(c, "after", 0)
	if err != nil {
		return err
	}
	limit, err := number(c, "limit", maxPull)
	if err != nil {
		return err
	}
	line, err := a.Keeper.Line(job)
	if err != nil {
		return err
	}
	records, err := a.Keeper.Records(job, after, int(max(1, min(limit, maxPull))), maxPullBytes)
	if err != nil {
		return err
	}
	seals, err := a.Keeper.Seals(job)
	if err != nil {
		return err
	}
	if records == nil {
		records = []checklist.Record{}
	}
	head := line.Head
	if n := len(records); n > 0 { // records that came since the line was read
		head = max(head, records[n-1].Position)
	}
	return answer(c, fiber.Map{"head": head, "records": records, "seals": seals})
}

// record hands the job's record file out as a download.
func (a api) record(c *fiber.Ctx) error {
	job, err := jobID(c)
	if err != nil {
		return err
	}
	return a.large(c, func() ([]byte, error) {
		file, err := a.Keeper.File(job)
		if err != nil {
			return nil, err
		}
		c.Set(fiber.HeaderCacheControl, "no-store")
		c.Set(fiber.HeaderContentType, jsonType)
		c.Set(fiber.HeaderContentDisposition, disposition("record", job, file.Title, "json"))
		return file.Encode()
	})
}

// disposition names a download as RFC 6266 has it: a plain name, and the job's
// title for those who read the second form.
func disposition(what, job, title, extension string) string {
	plain := mime.FormatMediaType("attachment", map[string]string{"filename": what + "-" + job + "." + extension})
	return plain + "; filename*=UTF-8''" + url.PathEscape(unfit.ReplaceAllString(title, " ")+" "+what+"."+extension)
}

// unfit are characters that some file system does not take in a name, and those
// that url.PathEscape leaves but RFC 8187 wants escaped.
var unfit = regexp.MustCompile(`[\x00-\x1f\x7f/\\:*?"<>|;=@$&+,']+`)

const jsonType = "application/json; charset=utf-8"

func answer(c *fiber.Ctx, v any) error {
	data, err := json.Marshal(v)
	if err != nil {
		return err
	}
	return answerJSON(c, data)
}

func answerJSON(c *fiber.Ctx, data []byte) error {
	c.Set(fiber.HeaderCacheControl, "no-store")
	c.Set(fiber.HeaderContentType, jsonType)
	return c.Send(data)
}

// readJSON reads a body strictly. It takes the body as it was sent: fiber's own
// reader would unpack a compressed one without a limit.
func readJSON(c *fiber.Ctx, into any) error {
	d := json.NewDecoder(bytes.NewReader(c.Request().Body()))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		return problem(400, "The body cannot be read: %s.", plainJSON(err))
	}
	if _, err := d.Token(); err != io.EOF {
		return problem(400, "The body cannot be read: something follows the value.")
	}
	return nil
}

// plainJSON says what is wrong with JSON without the words of this program's inside.
func plainJSON(err error) string {
	var syntax *json.SyntaxError
	var kind *json.UnmarshalTypeError
	switch {
	case errors.Is(err, io.EOF):
		return "it is empty"
	case errors.Is(err, io.ErrUnexpectedEOF):
		return "it ends too early"
	case errors.As(err, &syntax):
		return fmt.Sprintf("it is not JSON at byte %d: %v", syntax.Offset, syntax)
	case errors.As(err, &kind):
		where := cmp.Or(strings.ToLower(kind.Field), "it")
		return fmt.Sprintf("%s is of type %s, wanted %s", where, kind.Value, jsonKinds[kind.Type.Kind()])
	}
	return strings.TrimPrefix(err.Error(), "json: ") // an unknown field
}

// jsonKinds are JSON's names of what this program reads into.
var jsonKinds = map[reflect.Kind]string{
	reflect.String: "string", reflect.Slice: "array", reflect.Struct: "object", reflect.Int: "number", reflect.Int64: "number", reflect.Bool: "boolean",
}

func jobID(c *fiber.Ctx) (string, error) {
	id := c.Params("job")
	if !checklist.IsUUID(id) {
		return "", problem(404, "A job's id is a UUID in lower case.")
	}
	return id, nil
}

// number reads a whole number of the query.
func number(c *fiber.Ctx, name string, absent int64) (int64, error) {
	text := c.Query(name)
	if text == "" {
		return absent, nil
	}
	n, err := strconv.ParseInt(text, 10, 64)
	if err != nil || n < 0 {
		return 0, problem(400, "%s is %s, wanted a whole number of 0 or more.", name, fmt.Sprintf("%.30q", text))
	}
	return n, nil
}

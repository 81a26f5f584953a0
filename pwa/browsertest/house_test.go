package browsertest_test

import (
	"bytes"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/rehearsal"
	"hangtrue/checklist/seal"
	"hangtrue/pwa"
	"hangtrue/pwa/internal/stand"
	"hangtrue/pwa/pages"
	"hangtrue/server"
	"hangtrue/server/memory"
	"hangtrue/server/photos"
)

const jobID = "01900000-0000-7000-8000-00000000000a"

// build makes what a phone loads out of the sources as they are.
func build(args ...string) (string, error) {
	dir, err := os.MkdirTemp("", "hangtrue-dist-")
	if err != nil {
		return "", err
	}
	c := exec.Command("go", append([]string{"run", "./internal/build", "-fast", "-out", dir}, args...)...)
	c.Dir = ".."
	if out, err := c.CombinedOutput(); err != nil {
		return dir, fmt.Errorf("%w\n%s", err, out)
	}
	return dir, nil
}

// built is made once.
var built = sync.OnceValues(func() (string, error) { return build() })

func TestMain(m *testing.M) {
	code := m.Run()
	if dir, err := built(); err == nil {
		_ = os.RemoveAll(dir)
	}
	os.Exit(code)
}

func index(t testing.TB) *pwa.Index {
	dir, err := built()
	require.NoError(t, err)
	return read(t, dir)
}

func read(t testing.TB, dir string) *pwa.Index {
	x, err := pwa.ReadFiles(os.DirFS(dir))
	require.NoError(t, err)
	return x
}

// house is the real server on one port that can be killed and started again.
type house struct {
	t      testing.TB
	keeper *server.Keeper
	index  *pwa.Index
	addr   string
	app    *fiber.App
	lines  *lines
	closed bool // answers nothing under /api
	photos string
	piece  func() // is told of each piece of a photo before it is taken
	off    bool   // serves the worker that takes itself away
	thin   int    // bytes that a request or an answer under /api may have before its connection breaks, 0 for any
	later  bool   // answers with records that have something which this program does not know
}

func newHouse(t testing.TB, sites ...*rehearsal.Site) *house {
	key, _, err := seal.GenerateKey(bytes.NewReader(bytes.Repeat([]byte{7}, 64)))
	require.NoError(t, err)
	k, err := server.NewKeeper(memory.New(), key, time.Now)
	require.NoError(t, err)
	for _, s := range sites {
		for _, r := range s.Records {
			_, _, err := k.Push(s.Job, [][]byte{r.Entry.Bytes()})
			require.NoError(t, err)
		}
	}
	h := &house{t: t, keeper: k, index: index(t), addr: "127.0.0.1:0", photos: t.TempDir(), piece: func() {}}
	h.start()
	t.Cleanup(h.kill)
	return h
}

func (h *house) start() {
	l, err := net.Listen("tcp", h.addr)
	require.NoError(h.t, err)
	h.addr = l.Addr().String()
	inner := server.New(server.Options{Keeper: h.keeper, Static: h, Version: "test", Photos: photos.Open(h.photos, photos.Usual, time.Now)})
	app := fiber.New(fiber.Config{Immutable: true, DisableStartupMessage: true, StrictRouting: true, CaseSensitive: true})
	app.Use("/api", func(c *fiber.Ctx) error {
		if c.Method() == fiber.MethodPatch {
			h.piece()
		}
		if h.closed {
			return c.SendStatus(503)
		}
		if h.thin > 0 && len(c.Request().Body()) > h.thin {
			return c.Context().Conn().Close()
		}
		err := c.Next()
		if h.thin > 0 && !c.Response().IsBodyStream() && len(c.Response().Body()) > h.thin {
			return c.Context().Conn().Close()
		}
		if h.later {
			c.Response().SetBody(bytes.ReplaceAll(c.Response().Body(), []byte(`"accepted":`), []byte(`"weather":"fine","accepted":`)))
		}
		return err
	})
	app.Mount("/", inner)
	h.app, h.lines = app, &lines{Listener: l}
	go func() { _ = app.Listener(h.lines) }() // ends with kill
}

// Lookup and Assets are the files that the server hands out.
func (h *house) Lookup(path string) (pwa.File, bool) {
	if h.off && path == "/sw.js" {
		return h.index.WorkerOff(), true
	}
	return h.index.Lookup(path)
}

func (h *house) Assets() pages.Assets { return h.index.Assets() }

// kill ends the server as a power cut does: its connections too, which a browser
// would go on using.
func (h *house) kill() {
	h.lines.cut()
	_ = h.app.ShutdownWithTimeout(time.Second)
}

// lines is a listener that can cut all of its connections.
type lines struct {
	net.Listener
	mu   sync.Mutex
	open []net.Conn
	dead bool
}

func (l *lines) Accept() (net.Conn, error) {
	c, err := l.Listener.Accept()
	if err != nil {
		return nil, err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.dead {
		_ = c.Close()
	}
	l.open = append(l.open, c)
	return c, nil
}

func (l *lines) cut() {
	_ = l.Close()
	l.mu.Lock()
	defer l.mu.Unlock()
	l.dead = true
	for _, c := range l.open {
		_ = c.Close()
	}
}

func (h *house) url(path string) string { return "http://" + h.addr + path }

// shown is where pictures of the pages go, if HANGTRUE_SHOTS names a folder.
func shown(name string) string {
	if dir := os.Getenv("HANGTRUE_SHOTS"); dir != "" {
		return filepath.Join(dir, name+".png")
	}
	return ""
}

func newSite(t testing.TB, file string, records int) *rehearsal.Site {
	document, err := os.ReadFile(filepath.Join("../../testdata", file))
	require.NoError(t, err)
	s, err := stand.Open(jobID, document)
	require.NoError(t, err)
	require.NoError(t, stand.Work(s, 1, records))
	return s
}

// changed is what a later version of the program hands out: another style sheet,
// and a storage with one more store than this one's.
func changed(t testing.TB) *pwa.Index {
	static := t.TempDir()
	require.NoError(t, os.CopyFS(static, os.DirFS("../static")))
	for file, change := range map[string]func(string) string{
		"hangtrue.css": func(text string) string { return text + "\n/* later */\n" },
		"store.js": func(text string) string {
			return strings.NewReplacer("const EDITION = 4;", "const EDITION = 5;", "'drafts'];", "'drafts', 'later'];").Replace(text)
		},
	} {
		path := filepath.Join(static, file)
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		later := change(string(text))
		require.NotEqual(t, string(text), later, file)
		require.NoError(t, os.WriteFile(path, []byte(later), 0o644))
	}
	dir, err := build("-static", static)
	require.NoError(t, err)
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	return read(t, dir)
}

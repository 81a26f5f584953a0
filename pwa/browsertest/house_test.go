package browsertest_test

import (
	"bytes"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/rehearsal"
	"hangtrue/checklist/seal"
	"hangtrue/pwa"
	"hangtrue/pwa/internal/stand"
	"hangtrue/server"
	"hangtrue/server/memory"
)

const jobID = "01900000-0000-7000-8000-00000000000a"

// built makes what a phone loads out of the sources as they are, once.
var built = sync.OnceValues(func() (string, error) {
	dir, err := os.MkdirTemp("", "hangtrue-dist-")
	if err != nil {
		return "", err
	}
	c := exec.Command("go", "run", "./internal/build", "-fast", "-out", dir)
	c.Dir = ".."
	if out, err := c.CombinedOutput(); err != nil {
		return "", &buildError{string(out), err}
	}
	return dir, nil
})

type buildError struct {
	out string
	err error
}

func (e *buildError) Error() string { return e.err.Error() + "\n" + e.out }

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
	h := &house{t: t, keeper: k, index: index(t), addr: "127.0.0.1:0"}
	h.start()
	t.Cleanup(h.kill)
	return h
}

func (h *house) start() {
	l, err := net.Listen("tcp", h.addr)
	require.NoError(h.t, err)
	h.addr = l.Addr().String()
	h.app = server.New(server.Options{Keeper: h.keeper, Static: h.index, Version: "test"})
	app := h.app
	go func() { _ = app.Listener(l) }() // ends with kill
}

func (h *house) kill() { _ = h.app.ShutdownWithTimeout(time.Second) }

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

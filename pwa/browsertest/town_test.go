package browsertest_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"image"
	"image/jpeg"
	"net"
	"os"
	"regexp"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/rehearsal"
	"hangtrue/checklist/seal"
	"hangtrue/pwa/internal/stand"
	"hangtrue/server"
	"hangtrue/server/memory"
	"hangtrue/server/pairing"
	"hangtrue/server/photos"
)

// town is a server with one job in each state that a page can be in.
type town struct {
	url, other string // the same server under two names, so as two sites
	keeper     *server.Keeper
	book       *pairing.Book
	photos     *photos.Store
	names      map[string]bool // that the plan gives to its parts
}

// jobs are the town's: nothing planned, fresh, finished and midway.
var jobs = [...]string{"01900000-0000-7000-8000-0000000000b0", "01900000-0000-7000-8000-0000000000b1", finishedJob, midwayJob}

const finishedJob, midwayJob = "01900000-0000-7000-8000-0000000000b2", "01900000-0000-7000-8000-0000000000b3"

func newTown(t *testing.T) town {
	key, _, err := seal.GenerateKey(bytes.NewReader(bytes.Repeat([]byte{7}, 64)))
	require.NoError(t, err)
	var w town
	w.keeper, err = server.NewKeeper(memory.New(), key, time.Now)
	require.NoError(t, err)
	document, err := os.ReadFile("../../testdata/demo/plan.json")
	require.NoError(t, err)
	w.names = names(t, document)
	for i, job := range []func(*testing.T, *rehearsal.Site){nil, fresh, finished, midway} {
		id := jobs[i]
		s := rehearsal.NewSite(id, stand.Device)
		if job == nil {
			require.NoError(t, s.Do(checklist.JobOpened, checklist.Opening{Title: "Nothing planned yet"}))
		} else {
			p, err := plan.Decode(document)
			require.NoError(t, err)
			require.NoError(t, s.Open(p))
			job(t, s)
		}
		for _, r := range s.Records {
			_, _, err := w.keeper.Push(id, [][]byte{r.Entry.Bytes()})
			require.NoError(t, err)
		}
	}
	w.photos = photos.Open(t.TempDir(), photos.Usual, time.Now)
	p, data := picture(t)
	_, whole, err := w.photos.Add(p, 0, data)
	require.NoError(t, err)
	require.True(t, whole)
	w.book, err = pairing.Open(t.TempDir(), time.Now)
	require.NoError(t, err)
	port := w.listen(t, false)
	w.url, w.other = "http://127.0.0.1:"+port, "http://localhost:"+port
	return w
}

// digest is what a photo's page is named by.
var digest = regexp.MustCompile(`^[0-9a-f]{64}$`)

// word is what a segment of an address stands for: a * for a name.
func (w town) word(segment string) string {
	if w.names[segment] || uuid.Validate(segment) == nil || digest.MatchString(segment) {
		return "*"
	}
	return segment
}

// listen serves the town's jobs on a port of its own.
func (w town) listen(t *testing.T, locked bool) (port string) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	app := server.New(server.Options{Keeper: w.keeper, Static: index(t), Version: "test", Book: w.book, Photos: w.photos, Locked: locked})
	go func() { _ = app.Listener(l) }() // ends with the test
	t.Cleanup(func() { _ = app.ShutdownWithTimeout(time.Second) })
	_, port, err = net.SplitHostPort(l.Addr().String())
	require.NoError(t, err)
	return port
}

// names are the names that a plan gives to its parts: what an address may have in it
// that is no word of the program.
func names(t *testing.T, document []byte) map[string]bool {
	all := map[string]bool{}
	var look func(any)
	look = func(v any) {
		switch v := v.(type) {
		case map[string]any:
			for key, inner := range v {
				if s, ok := inner.(string); ok && (key == "name" || key == "channel" || key == "surface") {
					all[s] = true
				}
				look(inner)
			}
		case []any:
			for _, inner := range v {
				look(inner)
			}
		}
	}
	var root any
	require.NoError(t, json.Unmarshal(document, &root))
	look(root)
	require.True(t, all["M+030"] && all["ceiling"], "a channel and a surface are among them")
	return all
}

// picture is a photo of a wall with nothing on it.
func picture(t *testing.T) (checklist.Photo, []byte) {
	m := image.NewGray(image.Rect(0, 0, 800, 600))
	for i := range m.Pix {
		m.Pix[i] = 200
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, m, nil))
	sum := sha256.Sum256(b.Bytes())
	return checklist.Photo{SHA256: hex.EncodeToString(sum[:]), Bytes: int64(b.Len()), Type: checklist.PhotoType, Width: 800, Height: 600}, b.Bytes()
}

func fresh(*testing.T, *rehearsal.Site) {}

// do records steps as planned; change, where it is given, spoils the recording.
func do(t *testing.T, s *rehearsal.Site, channel string, change func(*checklist.Recording), steps ...string) {
	for _, step := range steps {
		b, err := rehearsal.Recording(s.State.Plan(), step, channel)
		require.NoError(t, err)
		if change != nil {
			change(&b)
		}
		require.NoError(t, s.Do(checklist.StepRecorded, b), "%s %s", channel, step)
	}
}

// until records a mount's steps before one.
func until(t *testing.T, s *rehearsal.Site, channel, last string) {
	for _, step := range s.State.Template.Steps {
		switch {
		case step.Scope != checklist.PerMount || !s.State.Applies(step, channel):
		case step.ID == last:
			return
		default:
			do(t, s, channel, nil, step.ID)
		}
	}
}

// shifted is a recording that is off by so many micrometres.
func shifted(key string, by int64) func(*checklist.Recording) {
	return func(b *checklist.Recording) { b.Measured[key] = []int64{b.Measured[key][0] + by} }
}

// midway is a job in which every step stands ready at some mount, and every verdict
// and state is seen somewhere.
func midway(t *testing.T, s *rehearsal.Site) {
	do(t, s, "", nil, "survey", "rack", "isolate")
	until(t, s, "M+030", "")
	until(t, s, "M-030", "drill")
	until(t, s, "M+090", "studs")
	until(t, s, "M-090", "hang")
	until(t, s, "M+135", "polarity")
	until(t, s, "U+045", "wire")
	until(t, s, "M-135", "bridges")
	until(t, s, "LFE1", "wire")
	do(t, s, "U-045", shifted("along_um", 18_000), "mark") // outside
	do(t, s, "M+000", shifted("up_um", 4_500), "mark")     // unsure
	taken, _ := picture(t)
	do(t, s, "LFE1", func(b *checklist.Recording) { b.Photos = append(b.Photos, taken) }, "mark")
	do(t, s, "U+135", shifted("along_um", 40_000), "mark")
	require.NoError(t, s.Do(checklist.StepConceded, checklist.Reasoned{Step: "mark", Mount: "U+135", Reason: "a pipe is where the hole should be"}))
	until(t, s, "U-135", "studs")
	require.NoError(t, s.Do(checklist.StepReopened, checklist.Reasoned{Step: "mark", Mount: "U-135", Reason: "the ladder stood on the mark"}))
	do(t, s, "U-135", nil, "mark") // what rested on it is stale
	b, err := rehearsal.Recording(s.State.Plan(), "wire", "U-135")
	require.NoError(t, err)
	assert.Error(t, s.Do(checklist.StepRecorded, b), "a refused entry")
	require.NoError(t, s.Do(checklist.RemarkWritten, checklist.Remark{Text: "The key is with the neighbour."}))
}

// finished is a job that is signed off.
func finished(t *testing.T, s *rehearsal.Site) {
	require.NoError(t, s.Finish())
	require.NoError(t, s.Do(checklist.JobSigned, checklist.Signing{Revision: 1, Head: s.State.Head, Remark: "All of them hang, one stands."}))
}

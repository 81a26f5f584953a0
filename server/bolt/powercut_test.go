package bolt_test

import (
	"bytes"
	"encoding/binary"
	"flag"
	"fmt"
	"math/rand"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/server/bolt"
	"hangtrue/server/store"
	"hangtrue/server/store/storetest"
)

var (
	images    = flag.Int("images", 300, "how many files that a power cut could leave are opened")
	imageSeed = flag.Int64("imageseed", 1, "seed of what of a write reached the disk")
)

// recordVariable names the file that a recording bbolt writes its operations to.
const recordVariable = "HANGTRUE_TEST_RECORD"

// recorder is added to bbolt's package when the test is built anew: it writes down
// every write, change of size and sync of a store's file, in order.
const recorder = `package bbolt

import (
	"encoding/binary"
	"os"
	"syscall"
)

var recording = func() *os.File {
	f, err := os.OpenFile(os.Getenv("` + recordVariable + `"), os.O_WRONLY|os.O_APPEND|os.O_CREATE, 0o600)
	if err != nil {
		return nil
	}
	return f
}()

func recorded(kind byte, f *os.File, at int64, data []byte, err error) error {
	if recording == nil || err != nil {
		return err
	}
	b := binary.BigEndian.AppendUint16([]byte{kind}, uint16(len(f.Name())))
	b = append(b, f.Name()...)
	b = binary.BigEndian.AppendUint64(b, uint64(at))
	b = binary.BigEndian.AppendUint32(b, uint32(len(data)))
	_, err = recording.Write(append(b, data...))
	return err
}

func recordedWrite(f *os.File) func([]byte, int64) (int, error) {
	return func(b []byte, at int64) (int, error) {
		n, err := f.WriteAt(b, at)
		return n, recorded('w', f, at, b, err)
	}
}

func recordedTruncate(f *os.File, size int64) error { return recorded('t', f, size, nil, f.Truncate(size)) }

func recordedSync(f *os.File) error { return recorded('s', f, 0, nil, f.Sync()) }

func recordedDatasync(f *os.File) error {
	return recorded('s', f, 0, nil, syscall.Fdatasync(int(f.Fd())))
}
`

// patches say where bbolt reaches its file; each must be found once.
var patches = map[string][][2]string{
	"db.go": {
		{"db.ops.writeAt = db.file.WriteAt", "db.ops.writeAt = recordedWrite(db.file)"},
		{"db.file.Truncate(int64(sz))", "recordedTruncate(db.file, int64(sz))"},
		{"db.file.Sync()", "recordedSync(db.file)"},
	},
	"bolt_linux.go": {
		{"syscall.Fdatasync(int(db.file.Fd()))", "recordedDatasync(db.file)"},
		{"import (\n\t\"syscall\"\n)\n", ""},
	},
}

// recordingTest builds this test with a bbolt that records.
func recordingTest(t *testing.T) string {
	if runtime.GOOS != "linux" {
		t.Skip("where bbolt syncs is known for Linux only")
	}
	if _, err := exec.LookPath("go"); err != nil {
		t.Skip("no go to build with")
	}
	run := func(args ...string) string {
		out, err := exec.Command("go", args...).CombinedOutput()
		require.NoError(t, err, "%s", out)
		return strings.TrimSpace(string(out))
	}
	dir, from := t.TempDir(), run("list", "-m", "-f", "{{.Dir}}", "go.etcd.io/bbolt")
	to := filepath.Join(dir, "bbolt")
	require.NoError(t, os.CopyFS(to, os.DirFS(from)))
	for name, all := range patches {
		data, err := os.ReadFile(filepath.Join(from, name))
		require.NoError(t, err)
		text := string(data)
		for _, p := range all {
			require.Equal(t, 1, strings.Count(text, p[0]), "%s has %q once", name, p[0])
			text = strings.Replace(text, p[0], p[1], 1)
		}
		require.NoError(t, os.Remove(filepath.Join(to, name)))
		require.NoError(t, os.WriteFile(filepath.Join(to, name), []byte(text), 0o600))
	}
	require.NoError(t, os.WriteFile(filepath.Join(to, "zz_recorder.go"), []byte(recorder), 0o600))
	// A module file beside the project's own says to take that bbolt.
	modules := filepath.Join(dir, "recording.mod")
	for name, path := range map[string]string{"go.mod": modules, "go.sum": filepath.Join(dir, "recording.sum")} {
		data, err := os.ReadFile(filepath.Join("../..", name))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(path, data, 0o600))
	}
	run("mod", "edit", "-replace", "go.etcd.io/bbolt="+to, modules)
	binary := filepath.Join(dir, "recording.test")
	run("test", "-c", "-vet=off", "-modfile", modules, "-o", binary, ".")
	return binary
}

const (
	cutJobs  = 2
	cutBatch = 40
)

func cutJob(j int) string { return fmt.Sprintf("018f3c5e-7a10-7000-8000-%012d", j+1) }

// cutAddition is the nth thing that is recorded for a job: one to four records, some
// larger than a page, a seal now and then, and a stray.
func cutAddition(t testing.TB, j, n int) store.Addition {
	first := int64(1)
	for i := range n {
		first += int64(1 + (i+j)%4)
	}
	a := store.Addition{}
	for p := first; p < first+int64(1+(n+j)%4); p++ {
		a.Records = append(a.Records, storetest.Record(t, cutJob(j), p, strings.Repeat(fmt.Sprintf("remark %d of job %d. ", p, j), 1+int(p*p*7)%400)))
	}
	a = storetest.Addition(cutJob(j), a.Records...)
	if n%5 == 4 {
		a.Seals = []store.Seal{{Position: a.Line.Head, Note: fmt.Sprint("seal ", j, n)}}
		a.Strays = []store.Stray{{Job: cutJob(j), Reason: "unreadable", Entry: fmt.Append(nil, j, n)}}
	}
	return a
}

// TestPowerCutWriter is what runs with the recording bbolt.
func TestPowerCutWriter(t *testing.T) {
	record := os.Getenv(recordVariable)
	if record == "" {
		t.Skip("runs as part of TestPowerCut")
	}
	acknowledged, err := os.OpenFile(record, os.O_WRONLY|os.O_APPEND|os.O_CREATE, 0o600)
	require.NoError(t, err)
	mark := func(kind byte, j, n int) {
		_, err := acknowledged.Write(append([]byte{kind, 0, 0}, binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint64(nil, uint64(j)<<32|uint64(n)), 0)...))
		assert.NoError(t, err)
	}
	s := open(t, record+".db")
	mark('o', 0, 0)
	var wait sync.WaitGroup
	for j := range cutJobs {
		wait.Go(func() {
			for n := range cutBatch {
				if assert.NoError(t, s.Append(cutAddition(t, j, n))) {
					mark('a', j, n+1)
				}
			}
		})
	}
	wait.Wait()
	require.NoError(t, s.Close())
}

// an operation on the store's file, or a mark of the writer.
type operation struct {
	kind byte
	name string
	at   int64
	data []byte
}

func readRecording(t *testing.T, path string) (all []operation) {
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	for len(data) > 0 {
		o := operation{kind: data[0]}
		n := int(binary.BigEndian.Uint16(data[1:]))
		o.name = string(data[3 : 3+n])
		data = data[3+n:]
		o.at = int64(binary.BigEndian.Uint64(data))
		n = int(binary.BigEndian.Uint32(data[8:]))
		o.data = data[12 : 12+n]
		data = data[12+n:]
		all = append(all, o)
	}
	return all
}

// An image is a file's content, by sectors, so that most of a large file costs nothing.
type image struct {
	size    int64
	sectors map[int64][]byte
}

const sector = 512

func (i *image) clone() *image { // sectors are never written to again
	c := &image{i.size, make(map[int64][]byte, len(i.sectors))}
	for at, s := range i.sectors {
		c.sectors[at] = s
	}
	return c
}

// apply lets of an operation reach the disk what reached allows.
func (i *image) apply(o operation, reached func() bool) {
	if o.kind == 't' {
		i.size = o.at
		return
	}
	for from := 0; from < len(o.data); from += sector {
		if reached() {
			i.sectors[o.at+int64(from)] = o.data[from:min(from+sector, len(o.data))]
			i.size = max(i.size, o.at+int64(min(from+sector, len(o.data))))
		}
	}
}

func (i *image) write(t *testing.T, path string) {
	require.NoError(t, os.RemoveAll(path))
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	require.NoError(t, err)
	for at, s := range i.sectors {
		_, err := f.WriteAt(s, at)
		require.NoError(t, err)
	}
	require.NoError(t, f.Truncate(i.size))
	require.NoError(t, f.Close())
}

// TestPowerCut records what bbolt does to the file while two jobs are written to at
// the same time, and builds the files that a power cut after each step could leave:
// what was synced; that and all that was written since; that and some of the writes;
// that and some of their 512-byte sectors. Each is opened as a server opens it:
// everything that was acknowledged is there as it was written, and no batch in part.
//
// It supposes that a sync keeps what it says, and that a sector is written whole or
// not at all. go test ./server/bolt -run PowerCut -images 3000 makes more of them.
func TestPowerCut(t *testing.T) {
	writer := exec.Command(recordingTest(t), "-test.run", "^TestPowerCutWriter$", "-test.count", "1")
	record := filepath.Join(t.TempDir(), "record")
	writer.Env = append(os.Environ(), recordVariable+"="+record)
	out, err := writer.CombinedOutput()
	require.NoError(t, err, "%s", out)
	operations := readRecording(t, record)

	began := time.Now()
	r := newReplay(t, operations, *images)
	for _, o := range operations {
		r.step(o)
	}
	t.Logf("%d operations (%+v), %d images with seed %d in %.1fs: %d bad", len(operations), r.kinds, r.made, *imageSeed, time.Since(began).Seconds(), len(r.bad))
	assert.Empty(t, r.bad)
	assert.GreaterOrEqual(t, r.made, *images*3/4)
	assert.Equal(t, [cutJobs]int{cutBatch, cutBatch}, r.acknowledged)

	t.Run("a sync left out is found", func(t *testing.T) {
		// The sync between the pages and the head that leads to them is taken out.
		r := newReplay(t, operations, faulty)
		for n, o := range operations {
			if len(r.bad) > 0 {
				break
			}
			if o.kind == 's' && r.named && n+1 < len(operations) && operations[n+1].kind == 'w' && operations[n+1].at <= 4096 {
				continue
			}
			r.step(o)
		}
		assert.NotEmpty(t, r.bad, "if nothing is found, the test is broken")
	})
	t.Run("an answer before the sync is found", func(t *testing.T) {
		r := newReplay(t, operations, faulty)
		for n, o := range operations {
			if len(r.bad) > 0 {
				break
			}
			if o.kind == 'a' && r.named {
				continue
			}
			for _, later := range operations[n+1 : min(n+4, len(operations))] {
				if later.kind == 'a' && o.kind == 'w' {
					r.step(later) // before its head was synced
				}
			}
			r.step(o)
		}
		assert.NotEmpty(t, r.bad, "if nothing is found, the test is broken")
	})
}

// faulty bounds the images in which a planted fault has to show: far more than it
// takes, since the search ends at the first.
const faulty = 2000

// newReplay knows what the writer wrote, and makes about so many images.
func newReplay(t *testing.T, operations []operation, images int) *replay {
	r := &replay{t: t, path: filepath.Join(quickDir(t), "jobs.db"), random: rand.New(rand.NewSource(*imageSeed)), durable: &image{sectors: map[int64][]byte{}}}
	for j := range cutJobs {
		for n := range cutBatch {
			a := cutAddition(t, j, n)
			r.ends[j] = append(r.ends[j], a.Line.Head)
			for _, one := range a.Records {
				r.records[j] = append(r.records[j], store.PackRecord(one)...)
				r.wholes[j] = append(r.wholes[j], len(r.records[j]))
			}
		}
	}
	steps := slices.IndexFunc(operations, func(o operation) bool { return o.kind == 'o' })
	require.Positive(t, steps, "the store was made while it was recorded")
	// Some steps have nothing pending, and give one image instead of all.
	r.share = float64(images) / float64(len(operations)-steps) / imagesAStep * 1.5
	return r
}

// quickDir is a folder in memory where there is one: images are opened, not kept.
func quickDir(t testing.TB) string {
	dir, err := os.MkdirTemp("/dev/shm", "hangtrue-*")
	if err != nil {
		return t.TempDir()
	}
	t.Cleanup(func() { _ = os.RemoveAll(dir) })
	return dir
}

const (
	subsets, tears = 3, 3
	imagesAStep    = 2 + subsets + tears
)

type replay struct {
	t       *testing.T
	path    string
	random  *rand.Rand
	durable *image
	pending []operation
	named   bool    // the store has its name
	share   float64 // of the steps after which images are made; above 1, more than once
	steps   int
	made    int
	bad     []string
	kinds   counts

	acknowledged [cutJobs]int
	ends         [cutJobs][]int64 // heads after each batch
	records      [cutJobs][]byte  // packed, one after another
	wholes       [cutJobs][]int   // where each ends
}

type counts struct{ Writes, Sizes, Syncs, Acknowledged int }

func (r *replay) step(o operation) {
	switch o.kind {
	case 'o': // from here on the file has its name
		require.Empty(r.t, r.pending, "all of the store was on the disk before it got its name")
		r.named = true
		return
	case 'a':
		r.acknowledged[o.at>>32] = int(o.at & 0xffffffff)
		r.kinds.Acknowledged++
	case 's':
		for _, p := range r.pending {
			r.durable.apply(p, always)
		}
		r.pending = nil
		r.kinds.Syncs++
	case 't':
		r.pending = append(r.pending, o)
		r.kinds.Sizes++
	case 'w':
		r.pending = append(r.pending, o)
		r.kinds.Writes++
	}
	r.steps++
	if !r.named {
		return
	}
	for left := r.share; r.random.Float64() < left; left-- {
		r.images()
	}
}

// images makes what a power cut at this moment could leave.
func (r *replay) images() {
	r.open("what was synced", func(operation) func() bool { return never })
	if len(r.pending) == 0 {
		return
	}
	r.open("all that was written", func(operation) func() bool { return always })
	for range subsets {
		r.open("some of the writes", func(operation) func() bool {
			if r.random.Intn(2) == 0 {
				return never
			}
			return always
		})
	}
	for range tears {
		r.open("some of the sectors", func(operation) func() bool { return func() bool { return r.random.Intn(2) == 0 } })
	}
}

func always() bool { return true }
func never() bool  { return false }

// open makes one image and opens it.
func (r *replay) open(what string, reached func(operation) func() bool) {
	i := r.durable.clone()
	for _, o := range r.pending {
		if how := reached(o); o.kind != 't' || how() {
			i.apply(o, how)
		}
	}
	i.write(r.t, r.path)
	r.made++
	if err := r.check(); err != nil {
		r.bad = append(r.bad, fmt.Sprintf("step %d, %s, acknowledged %v: %v", r.steps, what, r.acknowledged, err))
	}
}

// check opens an image as a server does and looks at everything in it.
func (r *replay) check() error {
	s, err := bolt.Open(r.path)
	if err != nil {
		return err
	}
	defer s.Close()
	heads := [cutJobs]int64{}
	e, err := s.Examine(func(b bolt.Job) error {
		j := slices.IndexFunc([]string{cutJob(0), cutJob(1)}, func(id string) bool { return id == b.ID })
		heads[j] = b.Line.Head
		var records []byte
		for _, one := range b.Records {
			records = append(records, store.PackRecord(one)...)
		}
		if !bytes.Equal(r.records[j][:r.wholes[j][b.Line.Head-1]], records) {
			return fmt.Errorf("records of job %d are not what was written", j)
		}
		return nil
	})
	if err != nil {
		return err
	}
	if !e.Sound() {
		return fmt.Errorf("damaged: %v", e.Damage)
	}
	for j, head := range heads {
		batches := slices.Index(r.ends[j], head) + 1
		if head > 0 && batches == 0 {
			return fmt.Errorf("job %d ends in the middle of a batch, at %d", j, head)
		}
		if batches < r.acknowledged[j] {
			return fmt.Errorf("job %d has %d batches, %d were acknowledged", j, batches, r.acknowledged[j])
		}
	}
	return nil
}

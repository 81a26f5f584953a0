package engine_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"math/rand/v2"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/picture"
	"hangtrue/checklist/seal"
	"hangtrue/pwa"
	"hangtrue/pwa/pages"
	"hangtrue/pwa/phone/engine"
	"hangtrue/server"
	"hangtrue/server/memory"
	"hangtrue/server/pairing"
	"hangtrue/server/photos"
)

// shot is a picture of noise, as a phone's canvas gives it.
func shot(t require.TestingT, n uint64, side int) []byte {
	random := rand.New(rand.NewPCG(n, 1))
	m := image.NewGray(image.Rect(0, 0, side, side/2))
	for i := range m.Pix {
		m.Pix[i] = byte(random.Uint32())
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, m, nil))
	return b.Bytes()
}

func hash(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// house is the real server, without a network, with a folder for photos.
type house struct {
	t      *testing.T
	keeper *server.Keeper
	dir    string
	serve  http.HandlerFunc
	fail   func(*http.Request) int // a status instead of an answer, if it is not 0
	pieces []string                // every piece that came, as hash and offset
}

type noFiles struct{}

func (noFiles) Lookup(string) (pwa.File, bool) { return pwa.File{}, false }
func (noFiles) Assets() pages.Assets           { return pages.Assets{} }

func newHouse(t *testing.T, records int) *house {
	key, _, err := seal.GenerateKey(bytes.NewReader(bytes.Repeat([]byte{7}, 64)))
	require.NoError(t, err)
	k, err := server.NewKeeper(memory.New(), key, time.Now)
	require.NoError(t, err)
	for _, r := range newSite(t, records).Records {
		_, _, err := k.Push(jobID, [][]byte{r.Entry.Bytes()})
		require.NoError(t, err)
	}
	h := &house{t: t, keeper: k, dir: t.TempDir(), fail: func(*http.Request) int { return 0 }}
	h.open(photos.Usual)
	return h
}

// open is what starting the server again does.
func (h *house) open(limits photos.Limits) {
	app := server.New(server.Options{Keeper: h.keeper, Static: noFiles{}, Version: "test", Photos: photos.Open(h.dir, limits, time.Now)})
	h.serve = func(w http.ResponseWriter, r *http.Request) {
		r.Host = "localhost"
		answer, err := app.Test(r, -1)
		require.NoError(h.t, err)
		defer answer.Body.Close()
		w.WriteHeader(answer.StatusCode)
		_, _ = io.Copy(w, answer.Body)
	}
}

func (h *house) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if r.Method == "PATCH" {
		h.pieces = append(h.pieces, filepath.Base(r.URL.Path)+" "+r.Header.Get("Upload-Offset"))
	}
	if status := h.fail(r); status != 0 {
		w.WriteHeader(status)
		return
	}
	h.serve(w, r)
}

// kept are the pictures in the server's folder, by hash.
func (h *house) kept() map[string]string {
	all := map[string]string{}
	require.NoError(h.t, photos.Look(h.dir, func(f photos.Found) error {
		require.Empty(h.t, f.Fault)
		data, err := os.ReadFile(filepath.Join(h.dir, filepath.FromSlash(f.Name)))
		all[f.SHA256] = string(data)
		return err
	}))
	return all
}

func at(t *testing.T, records int) (*house, *phone) {
	h := newHouse(t, records)
	p := newPhone(t, h, 1)
	_, ok := p.exchange()
	require.True(t, ok)
	p.be("Somebody", checklist.Installer)
	return h, p
}

// withPhotos is a phone that has saved an entry with these pictures, and not sent it.
func withPhotos(t *testing.T, pictures ...[]byte) (*house, *phone) {
	h, p := at(t, 2)
	for _, data := range pictures {
		p.take(isolatePath, "record", data)
	}
	p.saveAt(isolatePath, isolated("unplugged"))
	return h, p
}

// taken are the photos taken at a path.
func (p *phone) taken(path string) []any {
	list := []any{}
	for _, name := range p.keys("taken") {
		if key(name, "taken")[0] == path {
			var t any
			require.NoError(p.t, json.Unmarshal([]byte(p.rows["meta of "+name]), &t))
			list = append(list, t)
		}
	}
	return list
}

// take does what choosing a picture does.
func (p *phone) take(path, form string, data []byte) engine.Answer {
	a := p.call("photo", map[string]any{"path": path, "form": form, "data": data, "taken": p.taken(path)})
	if a.Photo == nil {
		return a
	}
	if a.Data != nil {
		data = a.Data
	}
	k, err := json.Marshal([]any{path, a.Photo.SHA256})
	require.NoError(p.t, err)
	text, err := json.Marshal(a.Photo)
	require.NoError(p.t, err)
	p.rows["taken"+string(k)], p.rows["meta of taken"+string(k)] = string(data), string(text)
	require.Equal(p.t, a.Photo.SHA256, hash(data))
	return p.call("taken", map[string]any{"path": path, "form": form, "taken": p.taken(path)})
}

// saveAt is save with what was taken at the path.
func (p *phone) saveAt(path string, form map[string][]string) engine.Answer {
	a := p.call("submit", map[string]any{"path": path, "form": form, "now": now, "taken": p.taken(path)})
	require.Empty(p.t, a.Problems)
	p.apply(a.Write)
	return p.call("kept", map[string]any{"id": a.ID, "job": a.Job})
}

func (p *phone) page(path string) string {
	return p.call("page", map[string]any{"path": path, "taken": p.taken(path)}).HTML
}

// TestPhoto_Taken: a picture that was chosen is looked at, what else is in its file is left
// away, and the form shows it until it is saved or taken away.
func TestPhoto_Taken(t *testing.T) {
	_, p := at(t, 2)
	data := shot(t, 1, 100)
	place := append(append(bytes.Clone(data[:2]), 0xff, 0xe1, 0, 10, 'E', 'x', 'i', 'f', 0, 0, 'M', 'M'), data[2:]...)
	a := p.take(isolatePath, "record", place)
	assert.Contains(t, a.Parts["photos-record"], `data-taken="`+hash(data)+`"`, "named by what is left")
	assert.Contains(t, a.Parts["photos-record"], "1 photo goes with what you save.")
	assert.Empty(t, a.Parts["p-photo-record"])
	assert.NotContains(t, p.rows, "Exif")
	p.restart()
	html := p.page(isolatePath)
	assert.Contains(t, html, `data-taken="`+hash(data)+`"`, "after a reload it is still there")
	assert.Contains(t, html, `capture="environment"`)
	assert.Contains(t, html, `accept="image/*"`)

	for name, row := range map[string]struct {
		data []byte
		says string
	}{
		"no picture":     {nil, "This file cannot be shown as a picture."},
		"something":      {[]byte("GIF89a"), "This photo cannot be used (it is not a JPEG file)."},
		"cut short":      {data[:50], "cut short or damaged"},
		"too wide":       {shot(t, 2, 2050), "This photo is too large: 2050 × 1025 pixels"},
		"too many bytes": {append(bytes.Clone(data[:len(data)-2]), append(bytes.Repeat([]byte{1}, checklist.MaxPhotoBytes), 0xff, 0xd9)...), "This photo is too large: 100 × 50 pixels"},
	} {
		a := p.call("photo", map[string]any{"path": isolatePath, "form": "record", "data": row.data, "taken": p.taken(isolatePath)})
		assert.Nil(t, a.Photo, name)
		assert.Contains(t, a.Parts["p-photo-record"], row.says, name)
		assert.Contains(t, a.Parts["photos-record"], hash(data), name)
	}
	for n := range 11 {
		p.take(isolatePath, "record", shot(t, uint64(100+n), 20))
	}
	a = p.take(isolatePath, "record", shot(t, 200, 20))
	assert.Contains(t, a.Parts["p-photo-record"], "12 photos are as many as go with one entry.")
	a = p.take(isolatePath, "remark", shot(t, 201, 20))
	assert.Contains(t, a.Parts["photos-remark"], "1 photo goes", "another form has its own")
}

// TestPhoto_Saved: an entry and its photos are saved in one list of writes, or neither
// is. The entry names them; the page says that they are not sent.
func TestPhoto_Saved(t *testing.T) {
	_, p := at(t, 2)
	one, two := shot(t, 1, 100), shot(t, 2, 90)
	p.take(isolatePath, "record", one)
	p.take(isolatePath, "record", two)
	p.take(isolatePath, "remark", shot(t, 3, 50))
	a := p.call("submit", map[string]any{"path": isolatePath, "form": isolated("unplugged"), "now": now, "taken": p.taken(isolatePath)})
	var ops []string
	for _, w := range a.Write {
		ops = append(ops, w.Op)
	}
	assert.Equal(t, []string{"add", "rise", "keep", "keep"}, ops)
	p.apply(a.Write)
	a = p.call("kept", map[string]any{"id": a.ID, "job": a.Job})
	assert.Equal(t, "Saved on this phone. 1 not sent yet. 2 photos not sent yet.", a.Say.HTML)
	assert.Equal(t, "waiting", a.Say.Tone)
	assert.Equal(t, []int{2, 2, 2, 1}, []int{p.stored("photos"), p.stored("small"), p.stored("sending"), p.stored("taken")}, "the other form's is still only taken")
	for _, restarted := range []bool{false, true} {
		if restarted {
			p.restart()
			assert.Contains(t, p.call("say", map[string]any{}).Say.HTML, "2 photos not sent yet.")
		}
		html := p.page(isolatePath)
		for _, data := range [][]byte{one, two} {
			assert.Contains(t, html, `data-photo="`+hash(data)+`" data-job="`+jobID+`" data-file="/jobs/`+jobID+`/photos/`+hash(data)+`.jpg"`)
			assert.Contains(t, p.page("/jobs/"+jobID+"/photos/"+hash(data)), "It is on this phone only.")
		}
		assert.Equal(t, 3, strings.Count(html, "not sent yet"), "the entry and each photo")
		assert.NotContains(t, html, "<img src")
		assert.Contains(t, p.page("/jobs/"+jobID), "2 photos are on this phone only, not sent yet.")
	}
	a = p.saveAt(isolatePath, map[string][]string{"act": {"remark"}, "note": {""}})
	assert.Contains(t, a.Say.HTML, "2 not sent yet. 3 photos not sent yet.")
	a = p.call("submit", map[string]any{"path": isolatePath, "form": map[string][]string{"act": {"remark"}}, "now": now})
	assert.Contains(t, a.Problems["note"], "Write something or take a photo.")
	assert.Contains(t, p.page("/you"), "not sent yet: 2 entries and 3 photos.")
}

// TestPhoto_Sent: entries first, then photos in pieces of at most 128 KiB; the server has
// the same bytes; the phone then says that everything is sent.
func TestPhoto_Sent(t *testing.T) {
	large, small := shot(t, 1, 1200), shot(t, 2, 100)
	require.Greater(t, len(large), 3*128<<10)
	h, p := withPhotos(t, large, small)
	var order []string
	h.fail = func(r *http.Request) int {
		if r.Method != "GET" {
			order = append(order, r.Method)
		}
		return 0
	}
	end, ok := p.exchange()
	require.True(t, ok)
	assert.Equal(t, "Everything is sent.", end.Say.HTML)
	assert.Equal(t, "POST", order[0])
	assert.NotContains(t, order[1:], "POST")
	assert.Len(t, h.pieces, (len(large)+128<<10-1)/(128<<10)+1)
	assert.Equal(t, map[string]string{hash(large): string(large), hash(small): string(small)}, h.kept())
	assert.Zero(t, p.stored("sending"))
	assert.Equal(t, 2, p.stored("photos"), "they stay until room is wanted")
	h.pieces = nil
	_, ok = p.exchange()
	require.True(t, ok)
	assert.Empty(t, h.pieces)
	assert.NotContains(t, p.page(isolatePath), "not sent yet")
}

// TestPhoto_CutOff: connections break anywhere, answers are lost, phone and server start
// again; everything arrives once, as it was taken.
func TestPhoto_CutOff(t *testing.T) {
	for seed := range uint64(12) {
		random := rand.New(rand.NewPCG(seed, 2))
		want := map[string]string{}
		var pictures [][]byte
		for n := range 3 {
			data := shot(t, seed*10+uint64(n), 500+random.IntN(500))
			want[hash(data)] = string(data)
			pictures = append(pictures, data)
		}
		h, p := withPhotos(t, pictures...)
		p.lose = func() string { return []string{"request", "answer", "", "", ""}[random.IntN(5)] }
		done := false
		for tries := 0; !done; tries++ {
			require.Less(t, tries, 500, "seed %d", seed)
			_, done = p.exchange()
			if random.IntN(3) == 0 {
				p.restart()
			}
			if random.IntN(3) == 0 {
				h.open(photos.Usual)
			}
		}
		assert.Equal(t, want, h.kept(), "seed %d", seed)
		assert.Zero(t, p.stored("sending"))
	}
}

// TestPhoto_Answers: what the server says about a photo, and what becomes of the photo
// and of the next one.
func TestPhoto_Answers(t *testing.T) {
	one, two := shot(t, 1, 100), shot(t, 2, 100)
	if hash(one) > hash(two) {
		one, two = two, one // they are sent in the order of their names
	}
	for name, row := range map[string]struct {
		status  int
		times   int
		ok      bool
		says    string
		sent    []string
		patches int
	}{
		"not taken, once":   {422, 1, true, "Everything is sent.", []string{hash(one), hash(two)}, 3},
		"not taken, always": {422, 99, true, "1 photo is not taken by the server; see You.", []string{hash(two)}, 3},
		"unknown to it":     {404, 99, true, "1 photo not sent yet.", []string{hash(two)}, 2},
		"no room":           {507, 99, false, "2 photos not sent yet. The server answered with status 507.", nil, 1},
		"not paired":        {401, 99, false, "2 photos not sent yet.", nil, 1},
		"a fault":           {500, 99, false, "2 photos not sent yet.", nil, 1},
		"a crossed piece":   {409, 1, false, "2 photos not sent yet.", nil, 1}, // without its body something in between said so
	} {
		t.Run(name, func(t *testing.T) {
			h, p := withPhotos(t, one, two)
			left := row.times
			h.fail = func(r *http.Request) int {
				if r.Method == "PATCH" && strings.HasSuffix(r.URL.Path, hash(one)) && left > 0 {
					left--
					return row.status
				}
				return 0
			}
			if row.status == 422 || row.status == 409 {
				inner := h.serve
				h.fail = func(*http.Request) int { return 0 }
				h.serve = func(w http.ResponseWriter, r *http.Request) {
					if r.Method == "PATCH" && strings.HasSuffix(r.URL.Path, hash(one)) && left > 0 {
						left--
						w.WriteHeader(row.status)
						if row.status == 422 {
							_, _ = io.WriteString(w, `{"title":"Unprocessable Entity","detail":"It has a place in it."}`)
						}
						return
					}
					inner(w, r)
				}
			}
			end, ok := p.exchange()
			assert.Equal(t, row.ok, ok)
			assert.Contains(t, end.Say.HTML, row.says)
			assert.Len(t, h.pieces, row.patches)
			assert.Equal(t, row.sent, nilIfNone(h))
			assert.Equal(t, 2, p.stored("photos"), "nothing is dropped")
			if name == "not taken, always" {
				assert.Equal(t, "refused", end.Say.Tone)
				assert.Contains(t, p.page("/you"), "A photo</a> stays on this phone: It has a place in it.")
				assert.Contains(t, p.page(isolatePath), "not taken by the server; see You")
				h.pieces = nil
				_, ok = p.exchange()
				assert.True(t, ok)
				assert.Empty(t, h.pieces, "it is not tried again before the next start")
				left = 0
				p.restart()
			}
			h.fail, left = func(*http.Request) int { return 0 }, 0
			_, ok = p.exchange()
			assert.True(t, ok)
			assert.Len(t, h.kept(), 2, "and when all is well again it arrives")
		})
	}
}

func nilIfNone(h *house) (names []string) {
	for name := range h.kept() {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// TestPhoto_StrayEntry: a photo whose entry the server never got is not offered to it,
// and holds up nothing.
func TestPhoto_StrayEntry(t *testing.T) {
	h, p := withPhotos(t, shot(t, 1, 100))
	for _, name := range p.keys("pending") {
		p.rows[name] = "no entry"
	}
	p.restart()
	end, ok := p.exchange()
	require.True(t, ok)
	assert.Empty(t, h.pieces)
	assert.Contains(t, end.Say.HTML, "1 photo not sent yet.")
}

// TestPhoto_Release: only what the server has, by an accepted entry, is let go, the oldest
// first, by hand or where the browser's bound comes near; small ones stay.
func TestPhoto_Release(t *testing.T) {
	h, p := at(t, 2)
	var names []string
	for n := range 3 {
		data := shot(t, uint64(n), 200)
		names = append(names, hash(data))
		p.take(isolatePath, "record", data)
		p.saveAt(isolatePath, isolated("unplugged"))
		_, ok := p.exchange()
		require.True(t, ok)
		time.Sleep(2 * time.Millisecond) // the server's clock tells them apart
	}
	p.take(isolatePath, "remark", shot(t, 60, 200))
	p.saveAt(isolatePath, map[string][]string{"act": {"remark"}})

	assert.Contains(t, p.page("/you"), "4 photos are here in full.")
	a := p.call("release", map[string]any{"bytes": 1})
	require.Len(t, a.Write, 1)
	assert.Equal(t, []any{jobID, names[0]}, a.Write[0].Key, "the oldest")
	p.apply(a.Write)
	a = p.call("release", map[string]any{})
	assert.Len(t, a.Write, 2)
	p.apply(a.Write)
	assert.Equal(t, 1, p.stored("photos"), "what waits stays")
	assert.Equal(t, 4, p.stored("small"))
	assert.Empty(t, p.call("release", map[string]any{}).Write)
	p.restart()
	assert.Contains(t, p.page("/jobs/"+jobID+"/photos/"+names[0]), "This phone kept it small; the server has it whole.")
	_, ok := p.exchange()
	require.True(t, ok)
	assert.Len(t, h.kept(), 4)

	p.room = map[string]any{"usage": 79, "quota": 100}
	_, ok = p.exchange()
	require.True(t, ok)
	assert.Equal(t, 1, p.stored("photos"), "there is room yet")
	p.room = map[string]any{"usage": 8_100_000, "quota": 10_000_000}
	_, ok = p.exchange()
	require.True(t, ok)
	assert.Zero(t, p.stored("photos"), "over four fifths of the browser's bound")
	assert.Contains(t, p.page("/you"), "The browser keeps 9 MB for this program on this phone, and would keep 10 MB.")
}

// TestPhoto_RefusedEntry: the photo of an entry that the server refused is sent, as the
// entry is kept, and stays on the phone whatever is let go.
func TestPhoto_RefusedEntry(t *testing.T) {
	h, p := at(t, 2)
	data := shot(t, 1, 100)
	p.take(surveyPath, "remark", data)
	p.be("Somebody", checklist.Viewer)
	p.saveAt(surveyPath, map[string][]string{"act": {"remark"}})
	_, ok := p.exchange()
	require.True(t, ok)
	assert.Len(t, h.kept(), 1)
	assert.Empty(t, p.call("release", map[string]any{}).Write)
	assert.Contains(t, p.page("/jobs/"+jobID+"/record"), hash(data))
}

// TestPhoto_ServerLostIt: a server that came back from an old backup gets the entries
// again, and their photos too; and one that lost photos alone gets them when it is told so
// on the phone.
func TestPhoto_ServerLostIt(t *testing.T) {
	data := shot(t, 1, 100)
	_, p := withPhotos(t, data)
	_, ok := p.exchange()
	require.True(t, ok)
	old := newHouse(t, 2)
	p.server = old
	for range 3 {
		_, ok = p.exchange()
		require.True(t, ok)
	}
	assert.Equal(t, map[string]string{hash(data): string(data)}, old.kept())

	require.NoError(t, os.RemoveAll(old.dir))
	_, ok = p.exchange()
	require.True(t, ok)
	assert.Empty(t, old.kept())
	a := p.call("resend", nil)
	p.apply(a.Write)
	assert.Contains(t, a.Say.HTML, "1 photo not sent yet.")
	_, ok = p.exchange()
	require.True(t, ok)
	assert.Len(t, old.kept(), 1)
}

// TestPhoto_ServerStartedAgain: a server that was started again may have lost photos though
// its log is as it was; what this phone has of them is sent again, by itself. It is asked
// once for each start.
func TestPhoto_ServerStartedAgain(t *testing.T) {
	one, two := shot(t, 1, 100), shot(t, 2, 100)
	h, p := withPhotos(t, one, two)
	asked := 0
	h.fail = func(r *http.Request) int {
		if strings.HasSuffix(r.URL.Path, "/photos") {
			asked++
		}
		return 0
	}
	for range 4 {
		_, ok := p.exchange()
		require.True(t, ok)
	}
	assert.Equal(t, 1, asked)
	require.Len(t, h.kept(), 2)
	require.NoError(t, os.Remove(filepath.Join(h.dir, hash(one)[:2], hash(one)+".jpg")))
	h.open(photos.Usual)
	h.pieces = nil
	for range 3 {
		_, ok := p.exchange()
		require.True(t, ok)
	}
	assert.Equal(t, 2, asked)
	assert.Equal(t, []string{hash(one) + " 0"}, h.pieces, "what is there is not sent again")
	assert.Len(t, h.kept(), 2)

	for name, body := range map[string]string{"something in between": "<html>", "and another": "{}"} {
		h.open(photos.Usual)
		inner := h.serve
		h.serve = func(w http.ResponseWriter, r *http.Request) {
			if strings.HasSuffix(r.URL.Path, "/photos") {
				_, _ = io.WriteString(w, body)
				return
			}
			inner(w, r)
		}
		_, ok := p.exchange()
		assert.False(t, ok, name)
		assert.Zero(t, p.stored("sending"), name)
	}

	asked = 0
	p.server = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { // a server that lost the job
		if strings.Contains(r.URL.Path, "/photos") {
			asked++
		}
		if r.URL.Path == "/api/jobs" {
			_, _ = io.WriteString(w, `{"jobs":[],"run":"another"}`)
			return
		}
		w.WriteHeader(404)
	})
	for range 3 {
		p.exchange()
	}
	assert.Equal(t, 2, p.stored("sending"))
	assert.Equal(t, 1, asked, "of which nothing more is asked")
	assert.Empty(t, p.call("release", map[string]any{}).Write, "neither is let go")
}

// TestPhoto_ReleaseOutrun: what another tab noted as not sent stays, though this one takes
// it for sent.
func TestPhoto_ReleaseOutrun(t *testing.T) {
	data := shot(t, 1, 100)
	_, p := withPhotos(t, data)
	_, ok := p.exchange()
	require.True(t, ok)
	p.rows[`sending["`+jobID+`","`+hash(data)+`"]`] = "" // by another tab, to which the server had lost it
	a := p.call("release", map[string]any{})
	require.Len(t, a.Write, 1)
	assert.Equal(t, "free", a.Write[0].Op)
	p.apply(a.Write)
	assert.Equal(t, 1, p.stored("photos"))
}

// TestPhoto_ResendOutrun: what another tab let go is not noted as not sent: it could never
// be sent.
func TestPhoto_ResendOutrun(t *testing.T) {
	data := shot(t, 1, 100)
	_, p := withPhotos(t, data)
	_, ok := p.exchange()
	require.True(t, ok)
	delete(p.rows, `photos["`+jobID+`","`+hash(data)+`"]`) // by another tab
	a := p.call("resend", nil)
	require.Len(t, a.Write, 1)
	p.apply(a.Write)
	assert.Zero(t, p.stored("sending"))
	end, ok := p.exchange()
	require.True(t, ok)
	assert.Equal(t, "Everything is sent.", end.Say.HTML)
}

// TestPhoto_Share: a phone of an installer that names more photos than one may bring is
// told so, keeps what is beyond, and does not try again and again; its entries stand, and
// another's phone and a lead's still bring theirs.
func TestPhoto_Share(t *testing.T) {
	h, p := at(t, 2)
	book, err := pairing.Open(t.TempDir(), time.Now)
	require.NoError(t, err)
	app := server.New(server.Options{Keeper: h.keeper, Static: noFiles{}, Photos: photos.Open(h.dir, photos.Usual, time.Now), Book: book, Locked: true})
	asked := map[string]string{}
	paired := func(p *phone, role checklist.Role) {
		var d struct{ ID string }
		require.NoError(t, json.Unmarshal([]byte(p.rows[`meta"device"`]), &d))
		code, err := book.OpenCode(role)
		require.NoError(t, err)
		token, _, err := book.Pair(code.Long, d.ID, string(role), "")
		require.NoError(t, err)
		p.server = http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if name := filepath.Base(r.URL.Path); len(name) == 64 {
				asked[name] += r.Method
			}
			r.Host = "localhost"
			r.AddCookie(&http.Cookie{Name: "hangtrue", Value: token})
			answer, err := app.Test(r, -1)
			require.NoError(t, err)
			defer answer.Body.Close()
			w.WriteHeader(answer.StatusCode)
			_, _ = io.Copy(w, answer.Body)
		})
	}
	paired(p, checklist.Installer)
	for n := 0; n < 504; n += checklist.MaxPhotos {
		for i := range checklist.MaxPhotos {
			p.take(surveyPath, "remark", shot(t, uint64(n+i), 8))
		}
		p.saveAt(surveyPath, map[string][]string{"act": {"remark"}})
	}
	end, ok := p.exchange()
	require.True(t, ok, end.Say.HTML)
	assert.Equal(t, "Saved on this phone. 4 photos not sent yet. 4 photos are not taken by the server; see You.", end.Say.HTML)
	assert.Contains(t, p.page("/you"), "A photo</a> stays on this phone: One phone may bring 500 photos to a job, or 256 MiB of them, and this one has. Its entry stands;")
	kept := h.kept()
	assert.Len(t, kept, 500)
	state, err := h.keeper.State(jobID)
	require.NoError(t, err)
	assert.Len(t, state.Photos, 504)
	for i, named := range state.Photos {
		assert.True(t, named.Record.Accepted, named.Record.Reason)
		_, here := kept[named.SHA256]
		assert.Equal(t, i < 500, here, "those that were named first are taken")
	}
	clear(asked)
	for range 3 {
		_, ok = p.exchange()
		require.True(t, ok)
	}
	assert.Empty(t, asked, "nothing is tried again before the program is started again")
	p.restart()
	_, ok = p.exchange()
	require.True(t, ok)
	assert.Len(t, asked, 4)
	for name, methods := range asked {
		assert.Equal(t, "GETGET", methods, "%s: it is asked first, and then not sent", name)
	}
	p.apply(p.call("release", map[string]any{}).Write)
	for _, named := range state.Photos[500:] {
		assert.NotEmpty(t, p.rows[`photos["`+jobID+`","`+named.SHA256+`"]`], "what was not taken is not let go")
	}
	assert.Equal(t, 4, p.stored("photos"))

	for n, role := range []checklist.Role{checklist.Installer, checklist.Lead} {
		other := newPhone(t, h, uint64(20+n))
		_, ok := other.exchange()
		require.True(t, ok)
		other.be("Somebody else", role)
		paired(other, role)
		other.take(surveyPath, "remark", shot(t, uint64(9000+n), 100))
		other.saveAt(surveyPath, map[string][]string{"act": {"remark"}})
		end, ok := other.exchange()
		require.True(t, ok)
		assert.Equal(t, "Everything is sent.", end.Say.HTML)
	}
	assert.Len(t, h.kept(), 502)
}

// TestPhoto_Plain: what the engine hands back is what package picture makes of it.
func TestPhoto_Plain(t *testing.T) {
	_, p := at(t, 2)
	data := shot(t, 1, 64)
	with := append(append(bytes.Clone(data[:2]), []byte(fmt.Sprintf("\xff\xfe\x00\x07hello"))...), data[2:]...)
	a := p.call("photo", map[string]any{"path": isolatePath, "form": "record", "data": with})
	want, err := picture.Plain(with)
	require.NoError(t, err)
	assert.Equal(t, want, a.Data)
	assert.Equal(t, checklist.Photo{SHA256: hash(want), Bytes: int64(len(want)), Type: "image/jpeg", Width: 64, Height: 32}, a.Photo.Photo)
	assert.Nil(t, p.call("photo", map[string]any{"path": isolatePath, "form": "record", "data": data}).Data, "nothing was left away")
}

package server_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"image"
	"image/jpeg"
	"math/rand/v2"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/server"
	"hangtrue/server/memory"
	"hangtrue/server/photos"
)

// shot is a picture of noise and the photo that names it.
func shot(t testing.TB, side int) ([]byte, checklist.Photo) {
	random := rand.New(rand.NewPCG(uint64(side), 1))
	m := image.NewGray(image.Rect(0, 0, side, side/2))
	for i := range m.Pix {
		m.Pix[i] = byte(random.Uint32())
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, m, nil))
	return b.Bytes(), named(b.Bytes(), side, side/2)
}

func named(data []byte, width, height int) checklist.Photo {
	sum := sha256.Sum256(data)
	return checklist.Photo{SHA256: hex.EncodeToString(sum[:]), Bytes: int64(len(data)), Type: checklist.PhotoType, Width: width, Height: height}
}

// an album is a server with one job that names photos.
type album struct {
	*site
	dir string
	d   *device
}

func newAlbum(t testing.TB, limits photos.Limits, of ...checklist.Photo) *album {
	a := &album{dir: t.TempDir(), d: lead(t, jobA)}
	a.site = listen(t, server.Options{Keeper: keeper(t, memory.New()), Static: someFiles, Version: "test", Photos: photos.Open(a.dir, limits, time.Now)})
	a.push(jobA, a.d.open("Attic lounge"))
	if len(of) > 0 {
		got := a.push(jobA, a.d.make(checklist.RemarkWritten, checklist.Remark{Photos: of}))
		require.True(t, got.Answers[0].Record.Accepted, got.Answers[0].Record.Reason)
	}
	return a
}

func statusPath(p checklist.Photo) string { return "/api/jobs/" + jobA + "/photos/" + p.SHA256 }

func filePath(p checklist.Photo) string { return "/jobs/" + jobA + "/photos/" + p.SHA256 + ".jpg" }

func (a *album) piece(p checklist.Photo, from int, data []byte) response {
	return a.do("PATCH", statusPath(p), string(data), "Content-Type", "application/octet-stream", "Upload-Offset", strconv.Itoa(from))
}

// said is what an answer about a photo says.
type said struct {
	Offset int64
	Whole  bool
}

func (r response) said(t testing.TB) (s said) {
	require.Equal(t, 200, r.StatusCode, r.body)
	require.NoError(t, json.Unmarshal([]byte(r.body), &s))
	assert.Equal(t, strconv.FormatInt(s.Offset, 10), r.Header.Get("Upload-Offset"))
	return s
}

// TestPhoto_Upload: a photo arrives in pieces, goes on where it was, is told where that
// is when it does not, and can then be read, and by nobody before.
func TestPhoto_Upload(t *testing.T) {
	data, p := shot(t, 1200)
	require.Greater(t, len(data), photos.MaxPiece+1000)
	a := newAlbum(t, photos.Usual, p)
	assert.Equal(t, said{}, a.get(statusPath(p)).said(t))
	assert.Contains(t, a.get(filePath(p)).problem(t, 404), "has not arrived yet")
	head := a.do("HEAD", statusPath(p), "")
	assert.Equal(t, "0", head.Header.Get("Upload-Offset"))
	assert.Empty(t, head.body)

	assert.Equal(t, said{1000, false}, a.piece(p, 0, data[:1000]).said(t))
	wrong := a.piece(p, 0, data[:1000])
	assert.Contains(t, wrong.problem(t, 409), "begins at byte 1000")
	assert.Equal(t, "1000", wrong.Header.Get("Upload-Offset"))
	assert.Contains(t, wrong.body, `"offset":1000`)
	assert.Equal(t, "1000", a.do("HEAD", statusPath(p), "").Header.Get("Upload-Offset"))
	assert.Contains(t, a.piece(p, 1000, data[1000:1001+photos.MaxPiece]).problem(t, 413), "262144 bytes")
	assert.Contains(t, a.get(filePath(p)).problem(t, 404), "has not arrived yet", "a part is never served")
	for at := 1000; at < len(data); {
		end := min(at+photos.MaxPiece, len(data))
		assert.Equal(t, said{int64(end), end == len(data)}, a.piece(p, at, data[at:end]).said(t))
		at = end
	}
	assert.Equal(t, said{p.Bytes, true}, a.get(statusPath(p)).said(t))
	assert.Equal(t, said{p.Bytes, true}, a.piece(p, 0, data[:10]).said(t), "the same again is done at once")

	got := a.get(filePath(p))
	require.Equal(t, 200, got.StatusCode, got.body)
	assert.Equal(t, string(data), got.body)
	assert.Equal(t, "image/jpeg", got.Header.Get("Content-Type"))
	assert.Equal(t, "nosniff", got.Header.Get("X-Content-Type-Options"))
	assert.Equal(t, "default-src 'none'; sandbox", got.Header.Get("Content-Security-Policy"))
	assert.Equal(t, `inline; filename="photo-`+p.SHA256[:12]+`.jpg"`, got.Header.Get("Content-Disposition"))
	assert.Equal(t, "private, no-cache", got.Header.Get("Cache-Control"))
	assert.Equal(t, "same-origin", got.Header.Get("Cross-Origin-Resource-Policy"))
	again := a.get(filePath(p), "If-None-Match", got.Header.Get("ETag"))
	assert.Equal(t, 304, again.StatusCode)
	assert.Empty(t, again.body)
}

// TestPhoto_Unnamed: what no entry of the job names is neither taken nor handed out, also
// when another job names it.
func TestPhoto_Unnamed(t *testing.T) {
	data, p := shot(t, 100)
	a := newAlbum(t, photos.Usual)
	other := lead(t, jobB)
	other.id = phone2
	a.push(jobB, other.open("Garage"), other.make(checklist.RemarkWritten, checklist.Remark{Photos: []checklist.Photo{p}}))
	for _, r := range []response{a.get(statusPath(p)), a.piece(p, 0, data), a.get(filePath(p))} {
		assert.Contains(t, r.problem(t, 404), "No entry of this job names this photo.")
	}
	inB := func(path string) string { return strings.Replace(path, jobA, jobB, 1) }
	r := a.do("PATCH", inB(statusPath(p)), string(data), "Content-Type", "application/octet-stream", "Upload-Offset", "0")
	assert.True(t, r.said(t).Whole)
	assert.Equal(t, 200, a.get(inB(filePath(p))).StatusCode)
	assert.Contains(t, a.get(filePath(p)).problem(t, 404), "No entry of this job", "though it is here by now")

	held := a.d.make(checklist.StepRecorded, checklist.Recording{Step: "survey", Photos: []checklist.Photo{p}})
	got := a.push(jobA, held)
	require.False(t, got.Answers[0].Record.Accepted)
	assert.Equal(t, string(data), a.get(filePath(p)).body, "a refused entry is kept, and its photos with it")

	for _, name := range []string{"none", strings.Repeat("A", 64), "..%2f..%2fkeys%2fseal.key", strings.Repeat("0", 63), strings.Repeat("0", 65)} {
		assert.Equal(t, 404, a.get("/jobs/"+jobA+"/photos/"+name+".jpg").StatusCode, name)
		assert.Equal(t, 404, a.get("/api/jobs/"+jobA+"/photos/"+name).StatusCode, name)
	}
	assert.Equal(t, 404, a.get("/jobs/"+jobA[:35]+"f/photos/"+p.SHA256+".jpg").StatusCode)
}

// TestPhoto_Refused: what is not the picture that the entry names, or has more in it, is
// not taken; the reason is one that a person understands.
func TestPhoto_Refused(t *testing.T) {
	data, p := shot(t, 100)
	place := append(append(bytes.Clone(data[:2]), 0xff, 0xe1, 0, 10, 'E', 'x', 'i', 'f', 0, 0, 'M', 'M'), data[2:]...)
	page := []byte("<!DOCTYPE html><script>alert(1)</script>")
	a := newAlbum(t, photos.Usual, p, named(place, 100, 50), named(page, 1, 1))
	assert.Contains(t, a.piece(named(place, 100, 50), 0, place).problem(t, 422), "what a camera notes about place, time and itself")
	assert.Contains(t, a.piece(named(page, 1, 1), 0, page).problem(t, 422), "This photo is not taken: it is not a JPEG file.")
	data[len(data)-9]++
	assert.Contains(t, a.piece(p, 0, data).problem(t, 422), "is not the photo that its entry names")
	for _, of := range []checklist.Photo{p, named(place, 100, 50), named(page, 1, 1)} {
		assert.Contains(t, a.get(filePath(of)).problem(t, 404), "not arrived")
		assert.Equal(t, said{}, a.get(statusPath(of)).said(t))
	}
	for _, row := range []struct {
		headers []string
		status  int
		says    string
	}{
		{[]string{"Upload-Offset", "0"}, 415, "a piece of a photo, of type application/octet-stream"},
		{[]string{"Upload-Offset", "0", "Content-Type", "application/json"}, 415, "octet-stream"},
		{[]string{"Content-Type", "application/octet-stream"}, 400, `Upload-Offset is ""`},
		{[]string{"Content-Type", "application/octet-stream", "Upload-Offset", "-1"}, 400, `Upload-Offset is "-1"`},
		{[]string{"Content-Type", "application/octet-stream", "Upload-Offset", "1e3"}, 400, "a whole number of 0 or more"},
		{[]string{"Content-Type", "application/octet-stream", "Upload-Offset", "0", "Content-Encoding", "gzip"}, 415, "compressed"},
		{[]string{"Content-Type", "application/octet-stream", "Upload-Offset", "0", "Sec-Fetch-Site", "cross-site"}, 403, "another site"},
		{[]string{"Content-Type", "application/octet-stream", "Upload-Offset", "0", "Origin", "http://evil.example"}, 403, "another site"},
	} {
		assert.Contains(t, a.do("PATCH", statusPath(p), "x", row.headers...).problem(t, row.status), row.says)
	}
}

// TestPhoto_Flipped: one bit changed on the disk; it is told and never handed out, and a
// phone that still has the photo is asked for it again.
func TestPhoto_Flipped(t *testing.T) {
	data, p := shot(t, 200)
	a := newAlbum(t, photos.Usual, p)
	a.piece(p, 0, data)
	path := filepath.Join(a.dir, p.SHA256[:2], p.SHA256+".jpg")
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	kept[len(kept)/2] ^= 4
	require.NoError(t, os.WriteFile(path, kept, 0o600))
	r := a.get(filePath(p))
	assert.Contains(t, r.problem(t, 500), "the photo "+p.SHA256+" is not what its name says")
	assert.Empty(t, r.Header.Get("ETag"))
	assert.Equal(t, 500, a.get(filePath(p), "If-None-Match", fmt.Sprintf("%q", p.SHA256)).StatusCode)
	assert.Equal(t, said{}, a.get(statusPath(p)).said(t))
	assert.True(t, a.piece(p, 0, data).said(t).Whole)
	assert.Equal(t, string(data), a.get(filePath(p)).body)
}

// TestPhoto_NoRoom: photos stop before the disk is needed for entries, which are still
// taken.
func TestPhoto_NoRoom(t *testing.T) {
	data, p := shot(t, 100)
	a := newAlbum(t, photos.Limits{Total: 1 << 40, Parts: 1, Reserve: 1 << 62}, p)
	assert.Contains(t, a.piece(p, 0, data).problem(t, 507), "Entries are still taken")
	got := a.push(jobA, a.d.remark("no photo"))
	assert.True(t, got.Answers[0].Record.Accepted)
}

// TestPhoto_Pages: the server's pages show what has arrived and say what has not.
func TestPhoto_Pages(t *testing.T) {
	data, p := shot(t, 1000)
	_, q := shot(t, 500)
	a := newAlbum(t, photos.Usual)
	a.push(jobA, a.d.settle())
	a.push(jobA, a.d.make(checklist.StepRecorded, checklist.Recording{Step: "isolate", Chosen: map[string]string{"how": "unplugged"}, Photos: []checklist.Photo{p, q}}))
	a.piece(p, 0, data[:photos.MaxPiece])
	a.piece(p, photos.MaxPiece, data[photos.MaxPiece:])
	require.True(t, a.get(statusPath(p)).said(t).Whole)
	image := `<img loading="lazy" src="` + filePath(p) + `" width="320" height="160" alt="Photo 1 of 2: Isolate the amplifiers, `
	for _, path := range []string{"/jobs/" + jobA + "/steps/isolate", "/jobs/" + jobA + "/record"} {
		r := a.get(path)
		assert.Contains(t, r.body, image, path)
		assert.Contains(t, r.body, "A photo is on its way: it is still on the phone that took it.", path)
		assert.NotContains(t, r.body, q.SHA256+".jpg", path)
	}
	assert.Contains(t, a.get("/jobs/"+jobA).body, "1 photo is on the way")
	whole := a.get("/jobs/" + jobA + "/photos/" + p.SHA256)
	assert.Equal(t, 200, whole.StatusCode)
	assert.Contains(t, whole.body, `width="1000" height="500"`)
	assert.Contains(t, whole.body, "SHA-256 "+p.SHA256)
	assert.Contains(t, a.get("/jobs/"+jobA+"/photos/"+q.SHA256).body, "on its way")
	assert.Equal(t, 404, a.get("/jobs/"+jobA+"/photos/"+strings.Repeat("0", 64)).StatusCode)
}

// TestPhoto_NoStore: a server without a folder for photos takes none, and goes on.
func TestPhoto_NoStore(t *testing.T) {
	_, p := shot(t, 100)
	s := listen(t, server.Options{Keeper: keeper(t, memory.New()), Static: someFiles, Version: "test"})
	assert.Contains(t, s.get(statusPath(p)).problem(t, 404), "keeps no photos")
}

// TestPhoto_News: when a photo is whole, who listens is told to look at its job again,
// though the log has not grown; a piece alone is no news.
func TestPhoto_News(t *testing.T) {
	data, p := shot(t, 100)
	a := newAlbum(t, photos.Usual, p)
	l := a.listen()
	require.Equal(t, "{}", l.next())
	require.False(t, a.piece(p, 0, data[:100]).said(t).Whole)
	require.True(t, a.piece(p, 100, data[100:]).said(t).Whole)
	assert.Equal(t, `{"job":"`+jobA+`","head":2}`, l.next())
	a.push(jobA, a.d.remark("and on it goes"))
	assert.Equal(t, `{"job":"`+jobA+`","head":3}`, l.next(), "one word for the photo, and none for its pieces")
}

// TestPhoto_Share: a device that is no lead's has a share of a job's room. Beyond it its
// entries stand and their photos are not taken, also after the server started again; who
// is told so is the device alone, and others have the room.
func TestPhoto_Share(t *testing.T) {
	kept, taken := memory.New(), photos.Open(t.TempDir(), photos.Usual, time.Now)
	b := book(t)
	var g *gate
	open := func() {
		g = &gate{site: listen(t, server.Options{Keeper: keeper(t, kept), Static: someFiles, Version: "test", Book: b, Locked: true, Photos: taken}), book: b, photos: taken}
	}
	open()
	_, _, err := g.keeper.Push(jobA, [][]byte{lead(t, jobA).open("Lounge").Bytes()})
	require.NoError(t, err)
	first, second, leading := g.pair(phone2, checklist.Installer), g.pair("018f3c5e-7a10-7000-8000-00000000d003", checklist.Installer), g.pair("018f3c5e-7a10-7000-8000-00000000d004", checklist.Lead)
	mine, theirs, leads := installer(t, jobA), installer(t, jobA), lead(t, jobA)
	theirs.id, leads.id = "018f3c5e-7a10-7000-8000-00000000d003", "018f3c5e-7a10-7000-8000-00000000d004"

	// 128 photos of 2 MiB are a share. They are named and never sent.
	var named []checklist.Photo
	for n := range 128 {
		named = append(named, checklist.Photo{SHA256: fmt.Sprintf("%064x", n), Bytes: checklist.MaxPhotoBytes, Type: checklist.PhotoType, Width: 1, Height: 1})
	}
	push := func(cookie string, d *device, of ...checklist.Photo) {
		t.Helper()
		a := g.do("POST", "/api/jobs/"+jobA+"/entries", pushBody(string(d.make(checklist.RemarkWritten, checklist.Remark{Photos: of}).Bytes())), "Cookie", cookie).answers(t)
		require.NotNil(t, a.Answers[0].Record)
		assert.True(t, a.Answers[0].Record.Accepted, a.Answers[0].Record.Reason)
	}
	piece := func(cookie string, p checklist.Photo, data []byte) response {
		return g.do("PATCH", statusPath(p), string(data), "Content-Type", "application/octet-stream", "Upload-Offset", "0", "Cookie", cookie)
	}
	for n := 0; n < len(named); n += 8 {
		push(first, mine, named[n:n+8]...)
		push(first, mine, named[n]) // again, which counts once
	}
	data, p := shot(t, 100)
	other, q := shot(t, 102)
	third, r := shot(t, 104)
	push(first, mine, p)
	for n := range 2 {
		says := piece(first, p, data).problem(t, 422)
		assert.Equal(t, "One phone may bring 500 photos to a job, or 256 MiB of them, and this one has. Its entry stands; what more there is to show, a lead's phone can take.", says)
		assert.Equal(t, says, g.get(statusPath(p), "Cookie", first).problem(t, 422), "and before anything is sent")
		assert.Equal(t, said{}, g.get(statusPath(p), "Cookie", leading).said(t))
		assert.Equal(t, 200, piece(first, named[n], data[:100]).StatusCode, "what it named before has room")
		open() // and it is counted from the log again
	}
	push(second, theirs, q)
	assert.Equal(t, 200, piece(first, q, data[:100]).StatusCode, "wrong bytes, to spoil what the other brings")
	assert.True(t, piece(second, q, other).said(t).Whole)
	push(leading, leads, r)
	assert.True(t, piece(leading, r, third).said(t).Whole)
	for n := range 130 {
		named = append(named, checklist.Photo{SHA256: fmt.Sprintf("%064x", 1000+n), Bytes: checklist.MaxPhotoBytes, Type: checklist.PhotoType, Width: 1, Height: 1})
	}
	for n := 128; n < len(named); n += 10 {
		push(leading, leads, named[n:min(n+10, len(named))]...)
	}
	assert.Equal(t, 200, piece(leading, named[257], third[:100]).StatusCode, "a lead's phone has no share")
	assert.True(t, piece(leading, p, data).said(t).Whole, "and may bring what is beyond another's")
	push(leading, leads, p)
	assert.True(t, piece(first, p, data).said(t).Whole)
}

// TestPhoto_Here: a job's photos that have arrived, each once; neither a part nor one that
// only another job names. Each start of the server calls itself something else.
func TestPhoto_Here(t *testing.T) {
	data, p := shot(t, 100)
	other, q := shot(t, 102)
	a := newAlbum(t, photos.Usual, p, q)
	here := "/api/jobs/" + jobA + "/photos"
	assert.JSONEq(t, `{"photos":[]}`, a.get(here).body)
	a.piece(p, 0, data)
	a.piece(q, 0, other[:100])
	a.push(jobA, a.d.make(checklist.RemarkWritten, checklist.Remark{Photos: []checklist.Photo{p}}))
	assert.JSONEq(t, `{"photos":["`+p.SHA256+`"]}`, a.get(here).body)
	assert.Contains(t, a.get("/api/jobs/"+jobB+"/photos").problem(t, 404), "no such job")
	require.NoError(t, os.RemoveAll(a.dir))
	assert.JSONEq(t, `{"photos":[]}`, a.get(here).body)

	runs := map[string]bool{}
	for range 2 {
		app := server.New(server.Options{Keeper: a.keeper, Static: someFiles})
		request := httptest.NewRequest("GET", "/api/jobs", nil)
		request.Host = "localhost"
		r, err := app.Test(request)
		require.NoError(t, err)
		var said struct{ Run string }
		require.NoError(t, json.NewDecoder(r.Body).Decode(&said))
		runs[said.Run] = true
	}
	assert.Len(t, runs, 2)
	assert.NotContains(t, runs, "")
}

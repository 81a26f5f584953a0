package photos_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"flag"
	"fmt"
	"image"
	"image/jpeg"
	"math/rand/v2"
	"os"
	"path"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/picture"
	"hangtrue/server/photos"
	"hangtrue/server/store"
)

var seed = flag.Uint64("seed", 1, "seed of pictures and of the places where uploads are cut")

// wide limits nothing that a test would meet.
var wide = photos.Limits{Total: 1 << 40, Parts: 100}

func now() time.Time { return time.Now() }

// shot is a picture of noise, which is large for its size, and the photo that names it.
func shot(t testing.TB, n uint64, side int) ([]byte, checklist.Photo) {
	random := rand.New(rand.NewPCG(*seed, n))
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

// files are all files under a folder.
func files(t testing.TB, dir string) (names []string) {
	require.NoError(t, filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			name, _ := filepath.Rel(dir, path)
			names = append(names, filepath.ToSlash(name))
		}
		return err
	}))
	return names
}

func home(p checklist.Photo) string { return p.SHA256[:2] + "/" + p.SHA256 + ".jpg" }

// send brings a picture in pieces from where the store wants it on.
func send(t testing.TB, s *photos.Store, p checklist.Photo, data []byte, piece int) {
	at, whole, err := s.Arrived(p)
	require.NoError(t, err)
	for !whole {
		at, whole, err = s.Add(p, at, data[at:min(int(at)+piece, len(data))])
		require.NoError(t, err)
	}
}

// TestAdd: the picture arrives piece by piece, is not there before the last one, and
// then is there, once, as it was sent.
func TestAdd(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "photos")
	s := photos.Open(dir, wide, now)
	data, p := shot(t, 1, 800)
	require.Greater(t, len(data), 5*10_000)
	assert.NoDirExists(t, dir, "nothing is made before it is needed")
	_, err := s.Read(p)
	assert.ErrorIs(t, err, photos.ErrMissing)
	for at := 0; at < len(data); at += 10_000 {
		bytes, whole, err := s.Arrived(p)
		require.NoError(t, err)
		assert.EqualValues(t, at, bytes)
		assert.False(t, whole || s.Has(p))
		_, err = s.Read(p)
		assert.ErrorIs(t, err, photos.ErrMissing, "a part is never handed out")
		end := min(at+10_000, len(data))
		bytes, whole, err = s.Add(p, int64(at), data[at:end])
		require.NoError(t, err)
		assert.EqualValues(t, end, bytes)
		assert.Equal(t, end == len(data), whole)
	}
	got, err := s.Read(p)
	require.NoError(t, err)
	assert.Equal(t, data, got)
	assert.True(t, s.Has(p))
	assert.Equal(t, []string{home(p)}, files(t, dir))

	before, err := os.Stat(filepath.Join(dir, home(p)))
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), before.Mode().Perm())
	bytes, whole, err := s.Add(p, 0, data[:10]) // another phone, from the start
	require.NoError(t, err)
	assert.True(t, whole, "done at once")
	assert.EqualValues(t, len(data), bytes)
	assert.Equal(t, []string{home(p)}, files(t, dir))
	after, err := os.Stat(filepath.Join(dir, home(p)))
	require.NoError(t, err)
	assert.Equal(t, before.ModTime(), after.ModTime(), "and nothing is written")
}

// TestAdd_Place: a piece that does not follow is told where the next begins, and
// changes nothing.
func TestAdd_Place(t *testing.T) {
	s := photos.Open(t.TempDir(), wide, now)
	data, p := shot(t, 2, 400)
	_, _, err := s.Add(p, 0, data[:1000])
	require.NoError(t, err)
	for _, from := range []int64{0, 1, 999, 1001, p.Bytes - 1, -1} {
		_, _, err = s.Add(p, from, data[:10])
		var place *photos.Place
		require.ErrorAs(t, err, &place, from)
		assert.EqualValues(t, 1000, place.Want)
	}
	_, _, err = s.Add(p, 1000, data[:len(data)-999])
	assert.ErrorIs(t, err, photos.ErrLong, "beyond the end")
	send(t, s, p, data, 5000)
	assert.True(t, s.Has(p))

	noise := make([]byte, photos.MaxPiece+1)
	_, _, err = s.Add(checklist.Photo{SHA256: p.SHA256[:63] + "x", Bytes: checklist.MaxPhotoBytes}, 0, noise)
	assert.ErrorIs(t, err, photos.ErrLong)
}

// TestAdd_Refuses: what is not the picture that the entry names is dropped with the
// last piece, and nothing is left of it.
func TestAdd_Refuses(t *testing.T) {
	data, p := shot(t, 3, 100)
	place := append(append(bytes.Clone(data[:2]), 0xff, 0xe1, 0, 10, 'E', 'x', 'i', 'f', 0, 0, 'M', 'M'), data[2:]...)
	page := []byte("<!DOCTYPE html><script>alert(1)</script>")
	other := p
	other.Width++
	for name, row := range map[string]struct {
		data []byte
		p    checklist.Photo
		want error
		says string
	}{
		"another picture": {func() []byte { d := bytes.Clone(data); d[len(d)-5]++; return d }(), p, photos.ErrHash, "not what its hash names"},
		"a place":         {place, named(place, p.Width, p.Height), picture.ErrPicture, "what a camera notes about place"},
		"a page":          {page, named(page, 1, 1), picture.ErrPicture, "not a JPEG file"},
		"cut short":       {data[:len(data)-2], named(data[:len(data)-2], p.Width, p.Height), picture.ErrPicture, "cut short"},
		"another size":    {data, other, picture.ErrPicture, "it is 100 × 50 pixels, and its entry says 101 × 50"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			s := photos.Open(dir, wide, now)
			half := int64(len(row.data) / 2)
			_, _, err := s.Add(row.p, 0, row.data[:half])
			require.NoError(t, err)
			_, whole, err := s.Add(row.p, half, row.data[half:])
			require.ErrorIs(t, err, row.want)
			assert.ErrorContains(t, err, row.says)
			assert.False(t, whole)
			assert.Empty(t, files(t, dir))
			at, whole, err := s.Arrived(row.p)
			require.NoError(t, err)
			assert.False(t, whole)
			assert.Zero(t, at, "it may be brought again from its start")
		})
	}
}

// TestAdd_CutOff: at every place where a process can end, another one goes on, and
// nothing but the whole picture ever has its name. Whole is what Go's own SHA-256 of
// what is read says.
func TestAdd_CutOff(t *testing.T) {
	random := rand.New(rand.NewPCG(*seed, 99))
	for range 20 {
		dir := t.TempDir()
		data, p := shot(t, random.Uint64(), 300)
		for cuts := 0; ; cuts++ {
			s := photos.Open(dir, wide, now) // the process that starts after the cut
			at, whole, err := s.Arrived(p)
			require.NoError(t, err)
			if whole {
				break
			}
			for range 1 + random.IntN(3) {
				end := min(int(at)+1+random.IntN(9000), len(data))
				if at, whole, err = s.Add(p, at, data[at:end]); whole {
					break
				}
				require.NoError(t, err)
			}
			if part := filepath.Join(dir, ".parts", p.SHA256); random.IntN(4) == 0 && !whole {
				switch random.IntN(3) { // what a power cut leaves: less, nothing, or noughts
				case 0:
					require.NoError(t, os.Truncate(part, int64(random.IntN(int(at)))))
				case 1:
					require.NoError(t, os.Remove(part))
				case 2:
					require.NoError(t, os.WriteFile(part, make([]byte, at), 0o600))
					send0(t, photos.Open(dir, wide, now), p, data)
				}
			}
			require.Less(t, cuts, 1000)
		}
		got, err := photos.Open(dir, wide, now).Read(p)
		require.NoError(t, err)
		assert.Equal(t, data, got)
		assert.Equal(t, []string{home(p)}, files(t, dir))
	}
}

// send0 goes on after noughts, which the hash at the end finds.
func send0(t *testing.T, s *photos.Store, p checklist.Photo, data []byte) {
	at, _, err := s.Arrived(p)
	require.NoError(t, err)
	require.Positive(t, at)
	_, _, err = s.Add(p, at, data[at:])
	require.ErrorIs(t, err, photos.ErrHash)
}

// TestAdd_AnswerLost: all of it is there and has no name yet, as when the process ended
// between the two; an empty piece ends it.
func TestAdd_AnswerLost(t *testing.T) {
	dir := t.TempDir()
	data, p := shot(t, 4, 100)
	require.NoError(t, os.Mkdir(filepath.Join(dir, ".parts"), 0o700))
	require.NoError(t, os.WriteFile(filepath.Join(dir, ".parts", p.SHA256), data, 0o600))
	s := photos.Open(dir, wide, now)
	at, whole, err := s.Arrived(p)
	require.NoError(t, err)
	assert.Equal(t, p.Bytes, at)
	assert.False(t, whole)
	_, whole, err = s.Add(p, at, nil)
	require.NoError(t, err)
	assert.True(t, whole)

	require.NoError(t, os.WriteFile(filepath.Join(dir, ".parts", p.SHA256), append(data, 0), 0o600))
	require.NoError(t, os.Remove(filepath.Join(dir, home(p))))
	at, _, err = s.Arrived(p)
	require.NoError(t, err)
	assert.Zero(t, at, "a part that is too long is no part of it")
}

// TestRead_Flipped: one bit that changed on the disk is noticed at every reading, the
// picture is not handed out, and it is taken again from whoever still has it.
func TestRead_Flipped(t *testing.T) {
	dir := t.TempDir()
	s := photos.Open(dir, wide, now)
	data, p := shot(t, 5, 200)
	send(t, s, p, data, photos.MaxPiece)
	path := filepath.Join(dir, home(p))
	random := rand.New(rand.NewPCG(*seed, 5))
	for range 30 {
		flipped := bytes.Clone(data)
		flipped[random.IntN(len(data))] ^= 1 << random.IntN(8)
		require.NoError(t, os.WriteFile(path, flipped, 0o600))
		_, err := s.Read(p)
		var damage *store.Damage
		require.ErrorAs(t, err, &damage)
		assert.Contains(t, err.Error(), p.SHA256)
		_, whole, err := s.Arrived(p)
		require.NoError(t, err)
		assert.False(t, whole)
	}
	for _, cut := range [][]byte{nil, data[:100], append(bytes.Clone(data), 0)} {
		require.NoError(t, os.WriteFile(path, cut, 0o600))
		_, err := s.Read(p)
		var damage *store.Damage
		require.ErrorAs(t, err, &damage)
		assert.False(t, s.Has(p))
	}
	send(t, s, p, data, photos.MaxPiece)
	got, err := s.Read(p)
	require.NoError(t, err)
	assert.Equal(t, data, got)
}

// TestAdd_Again: what takes the place of a damaged picture takes its room, and no more.
func TestAdd_Again(t *testing.T) {
	dir := t.TempDir()
	data, p := shot(t, 6, 100)
	s := photos.Open(dir, photos.Limits{Total: 2 * p.Bytes, Parts: 10}, now)
	for range 4 {
		send(t, s, p, data, photos.MaxPiece)
		require.NoError(t, os.WriteFile(filepath.Join(dir, home(p)), make([]byte, len(data)), 0o600))
	}
}

// TestOpen_OldParts: what nobody went on with for a week is gone at the next start,
// and what was begun a day ago is not.
func TestOpen_OldParts(t *testing.T) {
	dir := t.TempDir()
	s := photos.Open(dir, wide, now)
	ages := []time.Duration{time.Hour, 6*24*time.Hour + 23*time.Hour, 7*24*time.Hour + time.Minute, 300 * 24 * time.Hour}
	for n := range ages {
		data, p := shot(t, uint64(n), 50)
		_, _, err := s.Add(p, 0, data[:10])
		require.NoError(t, err)
	}
	for n, name := range files(t, dir) {
		at := time.Now().Add(-ages[n])
		require.NoError(t, os.Chtimes(filepath.Join(dir, name), at, at))
	}
	require.Len(t, files(t, dir), 4)
	photos.Open(dir, wide, now)
	assert.Len(t, files(t, dir), 2)
	photos.Open(dir, wide, func() time.Time { return time.Now().Add(8 * 24 * time.Hour) })
	assert.Empty(t, files(t, dir))
}

// TestAdd_Limits: so many parts and so many bytes, and no room that the logs may need.
func TestAdd_Limits(t *testing.T) {
	dir := t.TempDir()
	s := photos.Open(dir, photos.Limits{Total: 1 << 40, Parts: 3}, now)
	var names []checklist.Photo
	for n := range 5 {
		data, p := shot(t, uint64(n), 50)
		_, _, err := s.Add(p, 0, data[:10])
		require.NoError(t, err)
		names = append(names, p)
		at := time.Now().Add(time.Duration(n-10) * time.Minute)
		require.NoError(t, os.Chtimes(filepath.Join(dir, ".parts", p.SHA256), at, at))
	}
	assert.ElementsMatch(t, []string{".parts/" + names[2].SHA256, ".parts/" + names[3].SHA256, ".parts/" + names[4].SHA256}, files(t, dir), "those that waited longest gave way")
	_, _, err := s.Add(names[0], 10, []byte("x"))
	var place *photos.Place
	require.ErrorAs(t, err, &place)
	assert.Zero(t, place.Want)

	a, pa := shot(t, 10, 100)
	b, pb := shot(t, 11, 100)
	dir = t.TempDir()
	send(t, photos.Open(dir, wide, now), pa, a, 1000)
	s = photos.Open(dir, photos.Limits{Total: pa.Bytes + pb.Bytes - 1, Parts: 3}, now) // a new process has to count first
	_, _, err = s.Add(pb, 0, b[:10])
	assert.ErrorIs(t, err, photos.ErrRoom)
	s = photos.Open(dir, photos.Limits{Total: pa.Bytes + pb.Bytes, Parts: 3}, now)
	send(t, s, pb, b, 1000)
	c, pc := shot(t, 12, 100)
	_, _, err = s.Add(pc, 0, c[:10])
	assert.ErrorIs(t, err, photos.ErrRoom, "what came since is counted")

	s = photos.Open(t.TempDir(), photos.Limits{Total: 1 << 40, Parts: 3, Reserve: 1 << 62}, now)
	_, _, err = s.Add(pa, 0, a[:10])
	require.ErrorIs(t, err, photos.ErrRoom)
	assert.ErrorContains(t, err, "bytes are free on the disk")
}

// TestAddFrom: a device with a share is stopped at it and has few pictures begun; who has
// no share, and other devices, go on.
func TestAddFrom(t *testing.T) {
	limits := wide
	data, p := shot(t, 1, 100)
	limits.Device, limits.DeviceParts = 2*int64(len(data)), 2
	dir := t.TempDir()
	clock := time.Date(2030, 1, 31, 9, 0, 0, 0, time.UTC)
	open := func() *photos.Store { return photos.Open(dir, limits, func() time.Time { return clock }) }
	s := open()
	one, two := photos.Sender{Device: "one", Shares: true}, photos.Sender{Device: "two", Shares: true}
	_, whole, err := s.AddFrom(one, p, 0, data)
	require.NoError(t, err)
	require.True(t, whole)
	_, whole, err = s.AddFrom(one, p, 0, data)
	require.NoError(t, err)
	assert.True(t, whole, "the same again costs nothing")
	var named []checklist.Photo
	var pictures [][]byte
	for n := range 6 {
		d, p := shot(t, uint64(10+n), 90) // less bytes, and two of them are too many
		pictures, named = append(pictures, d), append(named, p)
	}
	begin := func(by photos.Sender, n int) {
		_, _, err := s.AddFrom(by, named[n], 0, pictures[n][:10])
		require.NoError(t, err)
		at := clock.Add(time.Duration(n) * time.Second) // a disk's own clock may not tell them apart
		parts, err := filepath.Glob(filepath.Join(dir, ".parts", named[n].SHA256+"*"))
		require.NoError(t, err)
		for _, part := range parts {
			require.NoError(t, os.Chtimes(part, at, at))
		}
	}
	arrived := func(by photos.Sender, n int) int64 {
		bytes, _, err := s.ArrivedFrom(by, named[n])
		require.NoError(t, err)
		return bytes
	}
	begin(two, 0)
	begin(one, 1)
	begin(one, 2)
	assert.EqualValues(t, 10, arrived(one, 1))
	s = open() // whose the parts are is not forgotten
	begin(one, 3)
	assert.Equal(t, []int64{10, 0, 10, 10}, []int64{arrived(two, 0), arrived(one, 1), arrived(one, 2), arrived(one, 3)}, "its own oldest gave way")
	begin(photos.Sender{Device: "lead"}, 4)
	_, whole, err = s.AddFrom(one, named[2], 10, pictures[2][10:])
	require.NoError(t, err)
	require.True(t, whole)
	again, q := shot(t, 50, 100)
	_, whole, err = s.AddFrom(one, q, 0, again)
	require.NoError(t, err)
	require.True(t, whole, "what it brought is counted since the store was opened")
	_, _, err = s.AddFrom(one, named[1], 0, pictures[1])
	assert.ErrorIs(t, err, photos.ErrShare)
	_, whole, err = s.AddFrom(two, named[1], 0, pictures[1])
	require.NoError(t, err)
	assert.True(t, whole)
	_, whole, err = s.Add(named[5], 0, pictures[5])
	require.NoError(t, err)
	assert.True(t, whole)
}

// TestAddFrom_Spoilt: what one device sends of a picture, right or wrong, is nothing to
// another; when it is whole, no part of it is left.
func TestAddFrom_Spoilt(t *testing.T) {
	dir := t.TempDir()
	s := photos.Open(dir, wide, now)
	data, p := shot(t, 1, 200)
	spoiler, phone, lead := photos.Sender{Device: "spoiler", Shares: true}, photos.Sender{Device: "phone", Shares: true}, photos.Sender{Device: "lead"}
	wrong := bytes.Repeat([]byte{0xff}, len(data))
	add := func(by photos.Sender, data []byte, from, to int) (whole bool, err error) {
		_, whole, err = s.AddFrom(by, p, int64(from), data[from:to])
		return whole, err
	}
	for at := 0; at < len(data)-500; at += 500 {
		_, err := add(spoiler, wrong, at, at+500)
		require.NoError(t, err)
		_, err = add(phone, data, at, at+500)
		require.NoError(t, err)
	}
	_, err := add(lead, data, 0, 100)
	require.NoError(t, err)
	last := (len(data) - 1) / 500 * 500
	_, err = add(spoiler, wrong, last, len(data))
	require.ErrorIs(t, err, photos.ErrHash)
	whole, err := add(phone, data, last, len(data))
	require.NoError(t, err)
	assert.True(t, whole)
	assert.Equal(t, []string{home(p)}, files(t, dir))
	whole, err = add(lead, data, 100, 200)
	require.NoError(t, err)
	assert.True(t, whole)
}

// A killer is a disk on which a process is killed before a change: what was done stays,
// and names that were not synced are noted.
type killer struct {
	photos.Disk
	left    int // changes until then
	unnamed map[string]bool
}

var errKilled = errors.New("killed")

func (k *killer) change(do func() error) error {
	if k.left--; k.left < 0 {
		return errKilled
	}
	return do()
}

func (k *killer) Write(name string, at int64, data []byte) error {
	return k.change(func() error { return k.Disk.Write(name, at, data) })
}

func (k *killer) Rename(from, to string) error {
	return k.change(func() error {
		k.unnamed[path.Dir(to)] = true
		return k.Disk.Rename(from, to)
	})
}

func (k *killer) Sync(name string) error {
	return k.change(func() error {
		delete(k.unnamed, name)
		return k.Disk.Sync(name)
	})
}

// TestAdd_Killed: wherever a process is killed, the next one says that a picture is whole
// only after its name is on the disk; a power cut could take it away again.
func TestAdd_Killed(t *testing.T) {
	data, p := shot(t, 1, 100)
	for left := range 6 {
		dir := t.TempDir()
		k := &killer{Disk: photos.Folder(dir), left: left, unnamed: map[string]bool{}}
		_, whole, err := photos.On(k, wide, now).Add(p, 0, data)
		assert.Equal(t, err == nil, whole)
		assert.Equal(t, left > 4, whole, "it is written, synced, named, and its folder and the one above synced")
		k.left = 100
		s := photos.On(k, wide, now)
		at, whole, err := s.Arrived(p)
		require.NoError(t, err)
		if !whole {
			_, whole, err = s.Add(p, at, data[at:])
			require.NoError(t, err)
		}
		assert.True(t, whole)
		assert.Empty(t, k.unnamed, "killed before change %d", left)
	}
}

// stubborn removes nothing.
type stubborn struct{ photos.Disk }

func (stubborn) Remove(string) error { return syscall.EIO }

// TestAdd_NotDropped: what is not the picture is called so when it is gone, and not
// before: whoever brings it would be told so again and take it for the picture's fault.
func TestAdd_NotDropped(t *testing.T) {
	dir := t.TempDir()
	data, p := shot(t, 1, 100)
	wrong := bytes.Clone(data)
	wrong[50] ^= 1
	_, _, err := photos.On(stubborn{photos.Folder(dir)}, wide, now).Add(p, 0, wrong)
	assert.ErrorIs(t, err, syscall.EIO)
	assert.NotErrorIs(t, err, photos.ErrHash)
	s := photos.Open(dir, wide, now)
	_, _, err = s.Add(p, p.Bytes, nil)
	assert.ErrorIs(t, err, photos.ErrHash)
	_, whole, err := s.Add(p, 0, data)
	require.NoError(t, err)
	assert.True(t, whole)
}

// TestAdd_Together: many at once bring the same pictures, each in pieces, each going on
// where the store says. All get told that it is whole, and each picture is there once.
func TestAdd_Together(t *testing.T) {
	dir := t.TempDir()
	s := photos.Open(dir, wide, now)
	const pictures, phones = 6, 4
	var wait sync.WaitGroup
	for phone := range phones {
		for n := range pictures {
			data, p := shot(t, uint64(n), 150)
			wait.Go(func() {
				at, whole := int64(0), false
				for !whole {
					var err error
					var place *photos.Place
					end := min(at+int64(700+phone), p.Bytes)
					if at, whole, err = s.Add(p, at, data[at:end]); errors.As(err, &place) {
						at = place.Want
					} else if !assert.NoError(t, err) {
						return
					}
				}
			})
		}
	}
	wait.Wait()
	assert.Len(t, files(t, dir), pictures)
	for n := range pictures {
		data, p := shot(t, uint64(n), 150)
		got, err := s.Read(p)
		require.NoError(t, err)
		assert.Equal(t, data, got)
	}
}

// TestLook: every file is read; what is no photo, or another than its name says, is
// named, and parts are nobody's.
func TestLook(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, photos.Look(filepath.Join(dir, "none"), func(photos.Found) error { return errors.New("there is nothing") }))
	s := photos.Open(dir, wide, now)
	a, pa := shot(t, 1, 60)
	b, pb := shot(t, 2, 60)
	c, pc := shot(t, 3, 60)
	send(t, s, pa, a, 1000)
	send(t, s, pb, b, 1000)
	_, _, err := s.Add(pc, 0, c[:10])
	require.NoError(t, err)
	b[200] ^= 1
	for name, data := range map[string][]byte{home(pb): b, "ab/" + pa.SHA256 + ".jpg": a, pa.SHA256 + ".jpg": a, "ab/note.txt": []byte("note"), "ff/" + strings.Repeat("f", 64) + ".jpg": make([]byte, checklist.MaxPhotoBytes+1)} {
		require.NoError(t, os.MkdirAll(filepath.Dir(filepath.Join(dir, name)), 0o700))
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), data, 0o600))
	}
	var got []string
	require.NoError(t, photos.Look(dir, func(f photos.Found) error {
		got = append(got, fmt.Sprintf("%s %s %v", f.Name, f.Fault, f.Damage))
		assert.Equal(t, f.Fault == "", f.SHA256 != "")
		return nil
	}))
	assert.ElementsMatch(t, []string{
		home(pa) + "  false",
		home(pb) + " is not the picture that its name says true",
		"ff/" + strings.Repeat("f", 64) + ".jpg is not the picture that its name says true",
		"ab/" + pa.SHA256 + ".jpg is not named as a photo is false",
		pa.SHA256 + ".jpg is not named as a photo is false",
		"ab/note.txt is not named as a photo is false",
	}, got)
}

// TestIn: a folder as the server has it, and one with all pictures side by side.
func TestIn(t *testing.T) {
	dir, flat := t.TempDir(), t.TempDir()
	a, pa := shot(t, 1, 60)
	b, pb := shot(t, 2, 60)
	send(t, photos.Open(dir, wide, now), pa, a, 1000)
	require.NoError(t, os.WriteFile(filepath.Join(flat, pa.SHA256+".jpg"), a, 0o600))
	require.NoError(t, os.WriteFile(filepath.Join(flat, pb.SHA256+".jpg"), b[:len(b)-1], 0o600))
	for _, at := range []string{dir, flat} {
		got, err := photos.In(at, pa)
		require.NoError(t, err)
		assert.Equal(t, a, got)
	}
	_, err := photos.In(dir, pb)
	assert.ErrorIs(t, err, photos.ErrMissing)
	_, err = photos.In(flat, pb)
	var damage *store.Damage
	assert.ErrorAs(t, err, &damage)
}

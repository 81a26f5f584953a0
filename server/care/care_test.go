package care_test

import (
	"archive/tar"
	"bytes"
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	mathrand "math/rand"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"go.etcd.io/bbolt"

	"hangtrue/checklist"
	"hangtrue/checklist/seal"
	"hangtrue/server/bolt"
	"hangtrue/server/care"
	"hangtrue/server/folder"
	"hangtrue/server/pairing"
	"hangtrue/server/store"
	"hangtrue/server/store/storetest"
)

var (
	flips    = flag.Int("flips", 300, "how many single bits of a backup are flipped")
	flipSeed = flag.Int64("flipseed", 1, "seed of which bits are flipped")
)

var now = time.Date(2030, 2, 1, 18, 30, 0, 123, time.UTC)

// a shot is a picture and the photo that names it.
type shot struct {
	data []byte
	checklist.Photo
}

// path is where a data folder has it.
func (s shot) path() string { return "photos/" + s.SHA256[:2] + "/" + s.SHA256 + ".jpg" }

// shots are two pictures, in the order of their names.
func shots() (a, b shot) {
	draw := func(grey uint8) shot {
		m := image.NewGray(image.Rect(0, 0, 40, 30))
		for i := range m.Pix {
			m.Pix[i] = grey + uint8(i)
		}
		var data bytes.Buffer
		if err := jpeg.Encode(&data, m, nil); err != nil {
			panic(err)
		}
		sum := sha256.Sum256(data.Bytes())
		return shot{data.Bytes(), checklist.Photo{SHA256: hex.EncodeToString(sum[:]), Bytes: int64(data.Len()), Type: checklist.PhotoType, Width: 40, Height: 30}}
	}
	a, b = draw(1), draw(2)
	if a.SHA256 > b.SHA256 {
		a, b = b, a
	}
	return a, b
}

var first, second = shots()

// stored is a copy of the stored folder of testdata, with two photos and an open file.
func stored(t testing.TB) string {
	dir := filepath.Join(t.TempDir(), "data")
	require.NoError(t, os.CopyFS(dir, os.DirFS("../../testdata/folders/format-1")))
	require.NoError(t, os.Chmod(filepath.Join(dir, folder.KeyFile), 0o600)) // git keeps no such modes
	for name, text := range map[string]string{first.path(): string(first.data), second.path(): string(second.data), "photos/.parts/" + first.SHA256: "half", "names.json": "{}"} {
		path := filepath.Join(dir, name)
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o700))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	}
	return dir
}

// contents is every file under a folder.
func contents(t testing.TB, dir string) map[string]string {
	all := map[string]string{}
	require.NoError(t, filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		data, err := os.ReadFile(path)
		name, _ := filepath.Rel(dir, path)
		all[filepath.ToSlash(name)] = string(data)
		return err
	}))
	return all
}

func names(t testing.TB, dir string) (all []string) {
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, e := range entries {
		all = append(all, e.Name())
	}
	return all
}

func backup(t testing.TB, data, target string) care.Made {
	made, err := care.Backup{Data: data, Target: target, Now: now, Program: "test"}.Make(t.Context())
	require.NoError(t, err)
	return made
}

// TestBackup_Make: everything is in it, in either form, and nothing is left beside it.
func TestBackup_Make(t *testing.T) {
	data := stored(t)
	before := contents(t, data)
	for _, name := range []string{"jobs.tar", "jobs"} {
		t.Run(name, func(t *testing.T) {
			dir := t.TempDir()
			made := backup(t, data, filepath.Join(dir, name))
			assert.Equal(t, []string{name}, names(t, dir))
			assert.Equal(t, "2030-02-01T18:30:00Z", made.Made)
			assert.Contains(t, made.Source, "read directly")
			assert.Equal(t, 2, made.Photos)
			assert.True(t, made.Secret)
			require.Len(t, made.Jobs, 2)
			assert.True(t, made.Jobs[0].Signed)
			assert.Equal(t, 1, made.Jobs[0].Seals)
			var parts []string
			for _, p := range made.Parts {
				parts = append(parts, p.Name)
			}
			assert.Equal(t, []string{"jobs.db", "keys/seal.key", "names.json", first.path(), second.path()}, parts, "the store first")

			restored := filepath.Join(dir, "new", "data")
			report, err := care.Restore{Backup: made.Path, Data: restored}.Do(t.Context())
			require.NoError(t, err)
			assert.Empty(t, report.Damaged())
			got := contents(t, restored)
			for _, name := range parts[1:] {
				assert.Equal(t, before[name], got[name], name)
			}
			assert.Len(t, got, len(parts))
			f, err := folder.Open(restored)
			require.NoError(t, err)
			assert.Equal(t, made.Key, f.Key.Public())
			assert.Empty(t, f.Damage)
			storetest.Check(t, f.Store)
			require.NoError(t, f.Close())
			for path, mode := range map[string]os.FileMode{"": 0o700, "keys": 0o700, "jobs.db": 0o600, "keys/seal.key": 0o600, second.path(): 0o600} {
				info, err := os.Stat(filepath.Join(restored, path))
				require.NoError(t, err)
				assert.Equal(t, mode, info.Mode().Perm(), path)
			}
		})
	}
	assert.Equal(t, before, contents(t, data), "and the folder was not touched")
}

// TestBackup_Tar: the tar file can be taken apart without this program: plain names,
// and SHA-256 sums by which to check them.
func TestBackup_Tar(t *testing.T) {
	path := filepath.Join(t.TempDir(), "jobs.tar")
	backup(t, stored(t), path)
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	parts := map[string][]byte{}
	r := tar.NewReader(bytes.NewReader(data))
	last := ""
	for {
		h, err := r.Next()
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		assert.EqualValues(t, 0o600, h.Mode)
		parts[h.Name], err = io.ReadAll(r)
		require.NoError(t, err)
		last = h.Name
	}
	assert.Equal(t, "manifest.sha256", last, "what is cut short has none")
	sum := func(b []byte) string { s := sha256.Sum256(b); return hex.EncodeToString(s[:]) }
	assert.Equal(t, sum(parts["manifest.json"])+"  manifest.json\n", string(parts["manifest.sha256"]))
	var manifest struct {
		Parts []struct{ Name, SHA256 string }
	}
	require.NoError(t, json.Unmarshal(parts["manifest.json"], &manifest))
	require.Len(t, manifest.Parts, len(parts)-2)
	for _, p := range manifest.Parts {
		assert.Equal(t, p.SHA256, sum(parts[p.Name]), p.Name)
	}
}

func TestBackup_WithoutKey(t *testing.T) {
	dir := t.TempDir()
	made, err := care.Backup{Data: stored(t), Target: filepath.Join(dir, "share"), WithoutKey: true, Now: now}.Make(t.Context())
	require.NoError(t, err)
	assert.False(t, made.Secret)
	for name, text := range contents(t, dir) {
		assert.NotContains(t, text, "PRIVATE", name)
		assert.NotContains(t, name, "keys/")
	}
	report, err := care.Doctor{}.Look(t.Context(), made.Path)
	require.NoError(t, err)
	assert.Empty(t, report.Damaged(), "the seals are checked with the public key")
	assert.Equal(t, made.Key, report.Key)
	restored := filepath.Join(dir, "data")
	_, err = care.Restore{Backup: made.Path, Data: restored}.Do(t.Context())
	require.NoError(t, err)
	_, err = folder.Open(restored)
	assert.ErrorIs(t, err, folder.ErrKey, "a new key must not be made in its place")
}

// TestBackup_Refuses: no backup is better than one that looks like one. Nothing is
// left of it.
func TestBackup_Refuses(t *testing.T) {
	other := func(t *testing.T, data string) {
		_, secret, err := seal.GenerateKey(rand.Reader)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(data, folder.KeyFile), []byte(secret), 0o600))
	}
	for name, row := range map[string]struct {
		harm func(t *testing.T, data string)
		is   error
		says string
	}{
		"no folder":    {func(t *testing.T, data string) { require.NoError(t, os.RemoveAll(data)) }, care.ErrNoJobs, "no jobs are kept there"},
		"no key":       {func(t *testing.T, data string) { require.NoError(t, os.Remove(filepath.Join(data, folder.KeyFile))) }, os.ErrNotExist, "--without-key makes a backup without one"},
		"another key":  {func(t *testing.T, data string) { bind(t, data); other(t, data) }, folder.ErrKey, "another one than the seals here"},
		"another, old": {other, care.ErrDamaged, "The seal made at this record is not valid"},
		"a record":     {func(t *testing.T, data string) { flipText(t, data, "Seen again after a year") }, care.ErrDamaged, "Its bytes are not the ones"},
		"cut short": {func(t *testing.T, data string) {
			require.NoError(t, os.Truncate(filepath.Join(data, "jobs.db"), 40_000))
		}, bolt.ErrUnreadable, "40000 bytes"},
		"empty": {func(t *testing.T, data string) { require.NoError(t, os.Truncate(filepath.Join(data, "jobs.db"), 0)) }, bolt.ErrUnreadable, "it is empty"},
		"a link inside": {func(t *testing.T, data string) {
			require.NoError(t, os.Symlink("/etc/passwd", filepath.Join(data, "photos", "link")))
		}, nil, "is no file that a backup can have"},
	} {
		t.Run(name, func(t *testing.T) {
			data, dir := stored(t), t.TempDir()
			row.harm(t, data)
			for _, target := range []string{"jobs.tar", "jobs"} {
				_, err := care.Backup{Data: data, Target: filepath.Join(dir, target), Now: now}.Make(t.Context())
				require.Error(t, err)
				if row.is != nil {
					assert.ErrorIs(t, err, row.is)
				}
				assert.ErrorContains(t, err, row.says)
				assert.NotContains(t, err.Error(), "PRIVATE")
				assert.Empty(t, names(t, dir))
			}
		})
	}
}

// bind lets a server have used the folder, so that the store knows its key.
func bind(t testing.TB, data string) {
	f, err := folder.Open(data)
	require.NoError(t, err)
	require.NoError(t, f.Close())
}

// flipText changes a letter of a text in the store's file.
func flipText(t testing.TB, data, text string) {
	path := filepath.Join(data, "jobs.db")
	file, err := os.ReadFile(path)
	require.NoError(t, err)
	changed := bytes.ReplaceAll(file, []byte(text), []byte("X"+text[1:]))
	require.NotEqual(t, file, changed)
	require.NoError(t, os.WriteFile(path, changed, 0o600))
}

func TestBackup_WritesOverNothing(t *testing.T) {
	data, dir := stored(t), t.TempDir()
	for _, name := range []string{"a.tar", "b.tar/"} {
		path := filepath.Join(dir, name)
		if strings.HasSuffix(name, "/") {
			require.NoError(t, os.Mkdir(path, 0o700))
		} else {
			require.NoError(t, os.WriteFile(path, []byte("mine"), 0o600))
		}
	}
	_, err := care.Backup{Data: data, Target: filepath.Join(dir, "a.tar"), Now: now}.Make(t.Context())
	assert.ErrorIs(t, err, care.ErrExists)
	made := backup(t, data, filepath.Join(dir, "b.tar"))
	assert.Equal(t, filepath.Join(dir, "b.tar", "hangtrue-20300201T183000Z.tar"), made.Path, "an existing folder gets one inside")
	_, err = care.Backup{Data: data, Target: filepath.Join(dir, "b.tar"), Now: now}.Make(t.Context())
	assert.ErrorIs(t, err, care.ErrExists, "and not twice in a second")
	assert.Equal(t, []string{"a.tar", "b.tar"}, names(t, dir))
}

// TestBackup_Make_InsideItself: the next backup would hold this one too.
func TestBackup_Make_InsideItself(t *testing.T) {
	data := stored(t)
	link := filepath.Join(t.TempDir(), "link")
	require.NoError(t, os.Symlink(data, link))
	before := contents(t, data)
	for _, target := range []string{data, filepath.Join(data, "b.tar"), filepath.Join(data, "photos"), filepath.Join(link, "b"), filepath.Join(data, "..", "data", "b")} {
		_, err := care.Backup{Data: data, Target: target, Now: now}.Make(t.Context())
		assert.ErrorContains(t, err, "is inside the folder that is to be backed up", target)
	}
	assert.Equal(t, before, contents(t, data))
}

// TestBackup_Make_Stopped: a backup that is stopped leaves nothing.
func TestBackup_Make_Stopped(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	stop()
	for _, name := range []string{"b.tar", "b"} {
		dir := t.TempDir()
		_, err := care.Backup{Data: stored(t), Target: filepath.Join(dir, name), Now: now}.Make(ctx)
		assert.ErrorIs(t, err, context.Canceled)
		assert.Empty(t, names(t, dir))
	}
}

// TestBackup_Served: while a server has the folder open and phones push, it is asked
// for a copy. The backup is of one moment, and the server goes on.
func TestBackup_Served(t *testing.T) {
	data := stored(t)
	f, err := folder.Open(data)
	require.NoError(t, err)
	stop := care.Attend(f, keeper(t, f))
	const job = "018f3c5e-7a10-7000-8000-0000000000c3"
	halt, done := make(chan struct{}), make(chan int64)
	go func() {
		p := int64(0)
		for {
			select {
			case <-halt:
				done <- p
				return
			default:
			}
			if p++; !assert.NoError(t, f.Store.Append(storetest.Addition(job, storetest.Records(t, job, p, p)...))) {
				<-halt
				done <- p
				return
			}
			time.Sleep(time.Millisecond) // a phone is no faster
		}
	}()
	dir := t.TempDir()
	last := 0
	for _, name := range []string{"1.tar", "2", "3.tar"} {
		made, err := care.Backup{Data: data, Target: filepath.Join(dir, name), Now: now}.Make(t.Context())
		require.NoError(t, err)
		assert.Contains(t, made.Source, "from a copy that the server at 127.0.0.1:")
		require.Len(t, made.Jobs, 3)
		assert.Greater(t, made.Jobs[2].Records, last)
		last = made.Jobs[2].Records
		report, err := care.Doctor{}.Look(t.Context(), made.Path)
		require.NoError(t, err)
		assert.Empty(t, report.Damaged())
	}
	close(halt)
	assert.Greater(t, <-done, int64(last))
	report, err := care.Doctor{}.Look(t.Context(), data)
	require.NoError(t, err)
	assert.Contains(t, report.Source, "from a copy that the server")
	stop()
	require.NoError(t, f.Close())
	assert.NotContains(t, names(t, data), "serving.json")
	assert.Equal(t, []string{"1.tar", "2", "3.tar"}, names(t, dir))
	for _, name := range names(t, data) {
		assert.False(t, strings.HasPrefix(name, ".copy"), name)
	}
}

// TestAttend_AnswersOnlyWhoReadTheFolder: without the word from the folder there is
// nothing at the address.
func TestAttend_AnswersOnlyWhoReadTheFolder(t *testing.T) {
	f, err := folder.Open(stored(t))
	require.NoError(t, err)
	defer f.Close()
	defer care.Attend(f, keeper(t, f))()
	data := f.Dir()
	s, err := folder.ReadServing(data)
	require.NoError(t, err)
	require.Len(t, s.Token, 26)
	info, err := os.Stat(filepath.Join(data, "serving.json"))
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	for _, row := range []struct {
		method, path, word string
		want               int
	}{
		{"POST", "/copy", "Bearer " + s.Token, 200},
		{"POST", "/copy", "", 404}, {"POST", "/copy", "Bearer ", 404}, {"POST", "/copy", s.Token, 404}, {"POST", "/copy", "Bearer " + s.Token[:25], 404},
		{"GET", "/copy", "Bearer " + s.Token, 404}, {"POST", "/", "Bearer " + s.Token, 404},
		{"POST", "/import", "Bearer " + s.Token[:25], 404}, {"GET", "/import", "Bearer " + s.Token, 404}, {"POST", "/import", "Bearer " + s.Token, 422},
	} {
		request, err := http.NewRequestWithContext(t.Context(), row.method, "http://"+s.Address+row.path, nil)
		require.NoError(t, err)
		request.Header.Set("Authorization", row.word)
		client := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
		answer, err := client.Do(request)
		require.NoError(t, err)
		body, err := io.ReadAll(answer.Body)
		require.NoError(t, errors.Join(err, answer.Body.Close()))
		assert.Equal(t, row.want, answer.StatusCode, "%+v", row)
		assert.Equal(t, row.want == 200, len(body) > 10_000)
	}
}

// TestBackup_InUse: something has the store open that cannot be asked, or is gone.
func TestBackup_InUse(t *testing.T) {
	data := stored(t)
	f, err := folder.Open(data)
	require.NoError(t, err)
	defer f.Close()
	make := func() error {
		_, err := care.Backup{Data: data, Target: filepath.Join(t.TempDir(), "b.tar"), Now: now}.Make(t.Context())
		return err
	}
	err = make()
	assert.ErrorIs(t, err, bolt.ErrInUse)
	assert.ErrorContains(t, err, "no server has said that it uses this folder")
	for _, address := range []string{"127.0.0.1:1", "192.0.2.1:80", "example.org:80", "no address"} {
		_, err = f.Announce(address)
		require.NoError(t, err)
		err = make()
		require.Error(t, err)
		if strings.HasPrefix(address, "127.") {
			assert.ErrorContains(t, err, "does not answer at 127.0.0.1:1")
		} else {
			assert.ErrorContains(t, err, "is not on this computer", "the word goes nowhere else")
		}
	}
	_, err = care.Doctor{}.Look(t.Context(), data)
	assert.ErrorContains(t, err, "is not on this computer")
}

// TestRestore_Devices: a phone that was revoked after the backup was made does not come
// back with it; where the owner asks for it, everybody does.
func TestRestore_Devices(t *testing.T) {
	const phone = "018f3c5e-7a10-7000-8000-00000000d001"
	data, dir := stored(t), t.TempDir()
	book, err := pairing.Open(data, time.Now)
	require.NoError(t, err)
	code, err := book.OpenCode(checklist.Lead)
	require.NoError(t, err)
	token, _, err := book.Pair(code.Long, phone, "Somebody", "")
	require.NoError(t, err)
	link, _, err := book.NewLink("018f3c5e-7a10-7000-8000-0000000000a1")
	require.NoError(t, err)
	made := backup(t, data, filepath.Join(dir, "jobs.tar"))
	require.NoError(t, book.Revoke(phone))

	for _, keep := range []bool{false, true} {
		target := filepath.Join(dir, fmt.Sprint("keep ", keep))
		report, err := care.Restore{Backup: made.Path, Data: target, KeepDevices: keep}.Do(t.Context())
		require.NoError(t, err)
		restored, err := pairing.Open(target, time.Now)
		require.NoError(t, err)
		_, byToken := restored.Who(token)
		_, _, byLink := restored.Visit(link, func(string) bool { return false })
		if keep {
			assert.NoError(t, byToken)
			assert.NoError(t, byLink)
			assert.Zero(t, report.Ended)
			continue
		}
		assert.ErrorIs(t, byToken, pairing.ErrToken)
		assert.ErrorIs(t, byLink, pairing.ErrLink)
		assert.Equal(t, 2, report.Ended)
		l, err := restored.List()
		require.NoError(t, err)
		require.Len(t, l.Devices, 1)
		assert.Equal(t, "Somebody", l.Devices[0].Who, "the owner sees whom to pair again")
	}
	dry, err := care.Restore{Backup: made.Path, Data: filepath.Join(dir, "none"), Dry: true}.Do(t.Context())
	require.NoError(t, err)
	assert.Equal(t, 2, dry.Ended)

	// A list that cannot be read keeps no server from starting, and lets nobody in.
	require.NoError(t, os.WriteFile(filepath.Join(data, pairing.File), []byte("{"), 0o600))
	made = backup(t, data, filepath.Join(dir, "damaged.tar"))
	target := filepath.Join(dir, "undamaged")
	_, err = care.Restore{Backup: made.Path, Data: target}.Do(t.Context())
	require.NoError(t, err)
	restored, err := pairing.Open(target, time.Now)
	require.NoError(t, err)
	_, err = restored.Who(token)
	assert.ErrorIs(t, err, pairing.ErrToken)
}

// TestRestore_Refuses: what is not whole or would write elsewhere is not restored,
// and nothing is left of the attempt.
func TestRestore_Refuses(t *testing.T) {
	data := stored(t)
	asFolder := func(change func(t *testing.T, dir string)) func(t *testing.T) string {
		return func(t *testing.T) string {
			path := filepath.Join(t.TempDir(), "b")
			backup(t, data, path)
			change(t, path)
			return path
		}
	}
	asTar := func(parts ...string) func(t *testing.T) string {
		return func(t *testing.T) string {
			path := filepath.Join(t.TempDir(), "b.tar")
			f, err := os.Create(path)
			require.NoError(t, err)
			w := tar.NewWriter(f)
			for _, name := range parts {
				kind := byte(tar.TypeReg)
				if strings.HasSuffix(name, "@") {
					kind, name = tar.TypeSymlink, name[:len(name)-1]
				}
				require.NoError(t, w.WriteHeader(&tar.Header{Name: name, Typeflag: kind, Linkname: "/tmp", Mode: 0o600}))
			}
			require.NoError(t, errors.Join(w.Close(), f.Close()))
			return path
		}
	}
	// A part with holes (GNU tar's PAX sparse format 1.0) unpacks to any size.
	asHoles := func(parts int, size int64) func(t *testing.T) string {
		return func(t *testing.T) string {
			var b bytes.Buffer
			w := tar.NewWriter(&b)
			for i := range parts {
				holes := fmt.Sprintf("1\n%d\n0\n", size)
				holes += strings.Repeat("\x00", 512-len(holes))
				require.NoError(t, w.WriteHeader(&tar.Header{Name: fmt.Sprint("part", i), Typeflag: tar.TypeReg, Mode: 0o600, Size: int64(len(holes)), Format: tar.FormatPAX,
					PAXRecords: map[string]string{"OUR.sparse.major": "1", "OUR.sparse.minor": "0", "OUR.sparse.name": fmt.Sprint("part", i), "OUR.sparse.realsize": fmt.Sprint(size)}}))
				_, err := io.WriteString(w, holes)
				require.NoError(t, err)
			}
			require.NoError(t, w.Close())
			path := filepath.Join(t.TempDir(), "b.tar")
			require.NoError(t, os.WriteFile(path, bytes.ReplaceAll(b.Bytes(), []byte("OUR.sparse"), []byte("GNU.sparse")), 0o600)) // which the writer would not write
			return path
		}
	}
	write := func(t *testing.T, path, text string) {
		require.NoError(t, os.MkdirAll(filepath.Dir(path), 0o700))
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
	}
	for name, row := range map[string]struct {
		make func(t *testing.T) string
		says string
	}{
		"nothing":         {func(t *testing.T) string { return filepath.Join(t.TempDir(), "none") }, "no such file"},
		"no tar":          {func(t *testing.T) string { return "care_test.go" }, "neither a tar file nor a folder"},
		"a data folder":   {stored0, "its manifest is missing"},
		"an empty tar":    {asTar(), "its manifest is missing"},
		"up and away":     {asTar("../away"), "does not belong in it"},
		"absolute":        {asTar("/tmp/away"), "does not belong in it"},
		"a hidden name":   {asTar("photos/.hidden"), "does not belong in it"},
		"a server's word": {asTar("serving.json"), "does not belong in it"},
		"a back stroke":   {asTar(`photos\..\..\away`), "does not belong in it"},
		"a link":          {asTar("photos/x@"), "is no file"},
		"holes":           {asHoles(1, 64<<20), "its parts say that they have more bytes than it has"},
		"many holes":      {asHoles(100, 100_000), "its parts say that they have more bytes than it has"},
		"a name twice":    {asTar("jobs.db", "jobs.db"), "there twice"},
		"a part changed":  {asFolder(func(t *testing.T, dir string) { write(t, filepath.Join(dir, second.path()), "Another") }), second.path() + " is not what was backed up"},
		"a photo missing": {asFolder(func(t *testing.T, dir string) {
			require.NoError(t, os.Remove(filepath.Join(dir, first.path())))
		}), first.path() + " is missing"},
		"all photos missing": {asFolder(func(t *testing.T, dir string) { require.NoError(t, os.RemoveAll(filepath.Join(dir, "photos"))) }), "is missing from the backup"},
		"a part too many":    {asFolder(func(t *testing.T, dir string) { write(t, filepath.Join(dir, "photos/third.jpg"), "x") }), "photos/third.jpg is in the backup but not in its manifest"},
		"the store missing":  {asFolder(func(t *testing.T, dir string) { require.NoError(t, os.Remove(filepath.Join(dir, "jobs.db"))) }), "jobs.db is missing"},
		"the store changed":  {asFolder(func(t *testing.T, dir string) { flipText(t, dir, "Seen again after a year") }), "jobs.db is not what was backed up"},
		"the key missing":    {asFolder(func(t *testing.T, dir string) { require.NoError(t, os.RemoveAll(filepath.Join(dir, "keys"))) }), "keys/seal.key is missing"},
		"no manifest":        {asFolder(func(t *testing.T, dir string) { require.NoError(t, os.Remove(filepath.Join(dir, "manifest.sha256"))) }), "its manifest is missing"},
		"another manifest":   {asFolder(func(t *testing.T, dir string) { write(t, filepath.Join(dir, "manifest.json"), "{}") }), "its manifest is not what was written"},
		"a newer backup": {asFolder(func(t *testing.T, dir string) {
			write(t, filepath.Join(dir, "manifest.json"), `{"format": "hangtrue-backup/2"}`)
		}), `its format is "hangtrue-backup/2" and this program reads "hangtrue-backup/1". Use the newer program`},
	} {
		t.Run(name, func(t *testing.T) {
			path, dir := row.make(t), t.TempDir()
			for _, dry := range []bool{true, false} {
				_, err := care.Restore{Backup: path, Data: filepath.Join(dir, "data"), Dry: dry}.Do(t.Context())
				require.ErrorContains(t, err, row.says)
				assert.NotContains(t, err.Error(), "\n")
				assert.Empty(t, names(t, dir))
			}
		})
	}
}

func stored0(t *testing.T) string { return stored(t) }

func TestRestore_Do_LeavesWhatIsThere(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "b.tar")
	backup(t, stored(t), path)
	target := filepath.Join(dir, "data")
	require.NoError(t, os.Mkdir(target, 0o755))
	_, err := care.Restore{Backup: path, Data: target, Dry: true}.Do(t.Context())
	require.NoError(t, err)
	assert.Empty(t, names(t, target), "dry")
	_, err = care.Restore{Backup: path, Data: target}.Do(t.Context())
	require.NoError(t, err, "an empty folder may be there")
	before := contents(t, target)
	_, err = care.Restore{Backup: path, Data: target}.Do(t.Context())
	assert.ErrorIs(t, err, care.ErrExists)
	assert.ErrorContains(t, err, "jobs.db")
	assert.Equal(t, before, contents(t, target))
	assert.Equal(t, []string{"b.tar", "data"}, names(t, dir))
	_, err = care.Restore{Backup: path, Data: path}.Do(t.Context())
	assert.ErrorContains(t, err, "not a directory")
}

// TestRestore_Flipped flips single bits of a tar file, and cuts it at every kilobyte.
// Either it is refused, or what is restored is what was backed up: the rest of a
// block after a part's end, or a time that nothing depends on.
func TestRestore_Flipped(t *testing.T) {
	dir, err := os.MkdirTemp("/dev/shm", "hangtrue-*") // in memory where that is possible: it is written to often
	if err != nil {
		dir = t.TempDir()
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "b.tar")
	made := backup(t, stored(t), path)
	good := filepath.Join(dir, "good")
	_, err = care.Restore{Backup: path, Data: good}.Do(t.Context())
	require.NoError(t, err)
	want := contents(t, good)
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	try := func(data []byte) (refused bool) {
		require.NoError(t, os.WriteFile(path, data, 0o600))
		target := filepath.Join(dir, "data")
		report, err := care.Restore{Backup: path, Data: target}.Do(t.Context())
		if err != nil {
			assert.NoDirExists(t, target)
			return true
		}
		require.Equal(t, want, contents(t, target))
		require.Equal(t, made.Key, report.Key)
		require.NoError(t, os.RemoveAll(target))
		return false
	}
	random := mathrand.New(mathrand.NewSource(*flipSeed))
	refused := 0
	for range *flips {
		bit := random.Intn(len(data) * 8)
		data[bit/8] ^= 1 << (bit % 8)
		if try(data) {
			refused++
		}
		data[bit/8] ^= 1 << (bit % 8)
	}
	t.Logf("%d flips with seed %d: %d refused, %d without effect, 0 silent", *flips, *flipSeed, refused, *flips-refused)
	assert.Greater(t, refused, *flips*8/10)
	ends := len(bytes.TrimRight(data, "\x00"))
	for size := 0; size < ends; size += 1024 {
		require.True(t, try(data[:size]), "cut at %d", size)
	}
}

// TestDoctor_Look_Sound: nothing in what the program of its day made is damaged,
// before and after a server used it. (A step that came later may have hold points
// that an old log did not meet, which is a finding and no damage.)
func TestDoctor_Look_Sound(t *testing.T) {
	data := stored(t)
	for _, format := range []int{1, bolt.Format()} { // as it was found, and as it was left
		before := contents(t, data)
		report, err := care.Doctor{}.Look(t.Context(), data)
		require.NoError(t, err)
		assert.Empty(t, report.Damaged())
		assert.NotNil(t, report.Findings)
		assert.Equal(t, format, report.StoreFormat)
		assert.Equal(t, 2, report.Strays)
		assert.Equal(t, 2, report.Photos)
		assert.Equal(t, 1, report.Seals)
		assert.True(t, report.Secret)
		assert.Equal(t, before, contents(t, data), "looking changes nothing")
		bind(t, data)
	}
}

// harm changes a store through bbolt itself.
func harm(t testing.TB, data string, do func(tx *bbolt.Tx) error) {
	db, err := bbolt.Open(filepath.Join(data, "jobs.db"), 0o600, nil)
	require.NoError(t, err)
	require.NoError(t, errors.Join(db.Update(do), db.Close()))
}

func at(job string, position byte) []byte {
	id := uuid.MustParse(job)
	return append(id[:], 0, 0, 0, 0, 0, 0, 0, position)
}

// records reads the finished job of a stored folder.
func records(t testing.TB, data string) (all []checklist.Record, line store.Line, seals []store.Seal) {
	_, err := bolt.Examine(filepath.Join(data, "jobs.db"), func(j bolt.Job) error {
		if j.ID == storetest.JobA {
			all, line, seals = j.Records, j.Line, j.Seals
		}
		return nil
	})
	require.NoError(t, err)
	require.NotEmpty(t, all)
	return all, line, seals
}

// forge keeps a record as the store would, with the hash that belongs to it.
func forge(t testing.TB, data string, r checklist.Record) {
	packed := store.PackRecord(r)
	harm(t, data, func(tx *bbolt.Tx) error {
		return tx.Bucket([]byte("records")).Put(at(storetest.JobA, byte(r.Position)), packed)
	})
}

func reseal(t testing.TB, data string, position byte, note string) {
	packed, err := store.Pack(store.Seal{Position: int64(position), Note: note})
	require.NoError(t, err)
	harm(t, data, func(tx *bbolt.Tx) error { return tx.Bucket([]byte("seals")).Put(at(storetest.JobA, position), packed) })
}

// TestDoctor_Look_Finds: each thing that can be wrong is found, and said with the
// job, the place and what it was.
func TestDoctor_Look_Finds(t *testing.T) {
	all, line, seals := records(t, stored(t))
	signed := seals[0].Position
	require.EqualValues(t, len(all)-1, signed)
	sign := func(t *testing.T, data string, c seal.Checkpoint) string {
		key, err := folder.ReadKey(filepath.Join(data, folder.KeyFile))
		require.NoError(t, err)
		note, err := key.Sign(c)
		require.NoError(t, err)
		return note
	}
	remark := func(text string) checklist.Record {
		r := all[len(all)-1]
		e, err := checklist.NewEntry(r.Entry, checklist.Remark{Text: text})
		require.NoError(t, err)
		r.Entry = e
		return r
	}
	for name, row := range map[string]struct {
		harm     func(t *testing.T, data string)
		job      string
		position int64
		says     string
		damage   bool
	}{
		"a letter of a record": {func(t *testing.T, data string) { flipText(t, data, "Seen again after a year") },
			storetest.JobA, signed + 1, "What can still be read, and may itself be wrong: kind remark, who lead", true},
		"a record changed with its hash": {func(t *testing.T, data string) {
			r := all[1]
			r.Received = "2031-01-31T09:15:00.000Z"
			forge(t, data, r)
		}, storetest.JobA, signed, "are not what was sealed at this one: something among them was changed, together with its hash", true},
		"a later record changed with its hash": {func(t *testing.T, data string) {
			r := remark("Forged.")
			r.Received = "2031-01-31T09:15:00.000Z"
			forge(t, data, r)
		}, storetest.JobA, 0, "does not say what its records add up to", false},
		"a record gone": {func(t *testing.T, data string) {
			harm(t, data, func(tx *bbolt.Tx) error { return tx.Bucket([]byte("records")).Delete(at(storetest.JobA, 7)) })
		}, storetest.JobA, 7, "It is not there. It was entry", true},
		"a seal that then cannot be checked": {func(t *testing.T, data string) {
			harm(t, data, func(tx *bbolt.Tx) error { return tx.Bucket([]byte("records")).Delete(at(storetest.JobA, 7)) })
		}, storetest.JobA, signed, "cannot be checked, because not every record", true},
		"a seal's signature": {func(t *testing.T, data string) {
			reseal(t, data, byte(signed), strings.Replace(seals[0].Note, "sign-off", "extract", 1))
		}, storetest.JobA, signed, "is not valid: its text is not what was signed", true},
		"a seal of another job": {func(t *testing.T, data string) {
			reseal(t, data, byte(signed), sign(t, data, seal.Checkpoint{Job: storetest.JobB, Size: signed, Root: seal.Root(all[:signed]), Purpose: seal.SignOff}))
		}, storetest.JobA, signed, "is that of another job (" + storetest.JobB + ")", true},
		"a seal of another size": {func(t *testing.T, data string) {
			reseal(t, data, byte(signed), sign(t, data, seal.Checkpoint{Job: storetest.JobA, Size: 3, Root: seal.Root(all[:3]), Purpose: seal.SignOff}))
		}, storetest.JobA, signed, "covers 3 records", true},
		"a seal for something else": {func(t *testing.T, data string) {
			reseal(t, data, byte(signed), sign(t, data, seal.Checkpoint{Job: storetest.JobA, Size: signed, Root: seal.Root(all[:signed]), Purpose: seal.Extract}))
		}, storetest.JobA, signed, "is a sign-off's, and the record is none", true},
		"a seal gone": {func(t *testing.T, data string) {
			harm(t, data, func(tx *bbolt.Tx) error { return tx.Bucket([]byte("seals")).Delete(at(storetest.JobA, byte(signed))) })
		}, storetest.JobA, signed, "This sign-off has lost its seal.", true},
		"a line that says something else": {func(t *testing.T, data string) {
			wrong := line
			wrong.Signed = !line.Signed
			packed, err := store.Pack(wrong)
			require.NoError(t, err)
			job := uuid.MustParse(storetest.JobA)
			harm(t, data, func(tx *bbolt.Tx) error { return tx.Bucket([]byte("lines")).Put(job[:], packed) })
		}, storetest.JobA, 0, "does not say what its records add up to", false},
		"the key missing": {func(t *testing.T, data string) { require.NoError(t, os.Remove(filepath.Join(data, folder.KeyFile))) },
			"", 0, "is missing: hangtrue serve does not start without it", false},
		"the key readable by others": {func(t *testing.T, data string) {
			require.NoError(t, os.Chmod(filepath.Join(data, folder.KeyFile), 0o644))
		},
			"", 0, "others may read it (mode 0644)", false},
		"the key no key": {func(t *testing.T, data string) {
			require.NoError(t, os.WriteFile(filepath.Join(data, folder.KeyFile), []byte("no"), 0o600))
		}, "", 0, "it is not a key", false},
		"another key": {func(t *testing.T, data string) {
			bind(t, data)
			_, secret, err := seal.GenerateKey(rand.Reader)
			require.NoError(t, err)
			require.NoError(t, os.WriteFile(filepath.Join(data, folder.KeyFile), []byte(secret), 0o600))
		}, "", 0, "is another one than the seals here are made with", false},
		"cut short": {func(t *testing.T, data string) {
			require.NoError(t, os.Truncate(filepath.Join(data, "jobs.db"), 40_000))
		},
			"", 0, "The pages of jobs.db: it has 40000 bytes of", true},
		"empty": {func(t *testing.T, data string) { require.NoError(t, os.Truncate(filepath.Join(data, "jobs.db"), 0)) },
			"", 0, "nothing in it can be read: it is empty", true},
	} {
		t.Run(name, func(t *testing.T) {
			data := stored(t)
			row.harm(t, data)
			report, err := care.Doctor{}.Look(t.Context(), data)
			require.NoError(t, err)
			found := false
			for _, f := range report.Findings {
				found = found || f.Job == row.job && f.Position == row.position && strings.Contains(f.Text, row.says) && f.Damage == row.damage
				if f.Job == storetest.JobA {
					assert.Equal(t, line.Title, f.Title)
				}
				assert.NotContains(t, f.Text, "PRIVATE")
				assert.Regexp(t, `^[A-Z0-9].*\.$`, f.Text, "a sentence")
			}
			assert.True(t, found, "%+v", report.Findings)
		})
	}
}

// TestDoctor_Look_HoldPoints: a store in which a held step was accepted, hashes and
// all, and one with a plan that is not the one its SHA-256 names.
func TestDoctor_Look_HoldPoints(t *testing.T) {
	all, _, _ := records(t, stored(t))
	plan := all[1]
	require.Equal(t, checklist.PlanSettled, plan.Entry.Kind)
	var settled checklist.Settlement
	require.NoError(t, json.Unmarshal(plan.Entry.Body, &settled))
	settled.SHA256 = strings.Repeat("0", 64)
	swapped, err := checklist.NewEntry(plan.Entry, settled)
	require.NoError(t, err)
	plan.Entry = swapped
	early := all[len(all)-2] // the sign-off, long before its time
	early.Position = 3
	e := early.Entry
	e.Number = 3
	early.Entry, err = checklist.NewEntry(e, checklist.Signing{Revision: 1, Head: 2})
	require.NoError(t, err)
	for says, kept := range map[string][]checklist.Record{
		"has a plan document that is not the one its SHA-256 names.":                      {all[0], plan},
		"was accepted although a hold point of edition 1 or 2 of the steps was not met: ": {all[0], all[1], early},
	} {
		data := filepath.Join(t.TempDir(), "data")
		f, err := folder.Open(data)
		require.NoError(t, err)
		state := checklist.NewState(checklist.Loudspeakers, storetest.JobA)
		for _, r := range kept {
			state.Fold(r)
		}
		last := kept[len(kept)-1]
		require.NoError(t, f.Store.Append(store.Addition{Job: storetest.JobA, Records: kept,
			Line: store.Line{ID: storetest.JobA, Title: state.Title, Head: last.Position, Received: last.Received, Signed: state.Locked()}}))
		require.NoError(t, f.Close())
		report, err := care.Doctor{}.Look(t.Context(), data)
		require.NoError(t, err)
		texts := ""
		for _, f := range report.Findings {
			texts += f.Text + "\n"
			edition := 0
			if strings.Contains(f.Text, "hold point") {
				edition = 2 // the last that wrote down none
			}
			assert.Equal(t, edition, f.Steps, f.Text)
		}
		assert.Contains(t, texts, says)
	}
}

func TestDoctor_Look_CannotLook(t *testing.T) {
	dir := t.TempDir()
	_, err := care.Doctor{}.Look(t.Context(), dir)
	assert.ErrorIs(t, err, care.ErrNoJobs)
	_, err = care.Doctor{}.Look(t.Context(), filepath.Join(dir, "none"))
	assert.ErrorIs(t, err, care.ErrNoJobs)
	_, err = care.Doctor{}.Look(t.Context(), "care_test.go")
	assert.ErrorIs(t, err, care.ErrBackup)
	data := stored(t)
	harm(t, data, func(tx *bbolt.Tx) error {
		return tx.Bucket([]byte("about")).Put([]byte("format"), []byte("hangtrue-store/9"))
	})
	_, err = care.Doctor{}.Look(t.Context(), data)
	assert.ErrorIs(t, err, bolt.ErrNewer)
}

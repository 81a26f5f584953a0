package main

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"image"
	"image/jpeg"
	"io"
	"math/rand"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/seal"
	"hangtrue/server/photos"
)

// picture is one of noise, and the photo that names it.
func picture(t *testing.T, random *rand.Rand, side int) ([]byte, checklist.Photo) {
	m := image.NewGray(image.Rect(0, 0, side, side))
	for i := range m.Pix {
		m.Pix[i] = byte(random.Uint32())
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, m, nil))
	sum := sha256.Sum256(b.Bytes())
	return b.Bytes(), checklist.Photo{SHA256: hex.EncodeToString(sum[:]), Bytes: int64(b.Len()), Type: checklist.PhotoType, Width: side, Height: side}
}

// send brings a photo from where the server wants it on, in pieces of a size, until it
// is whole or the server no longer answers.
func send(client *http.Client, url string, p checklist.Photo, data []byte, piece int) (whole bool) {
	at := url + "/api/jobs/" + demoJob + "/photos/" + p.SHA256
	var said struct {
		Offset int64
		Whole  bool
	}
	ask := func(method string, body []byte) bool {
		request, err := http.NewRequest(method, at, bytes.NewReader(body))
		if err != nil {
			return false
		}
		if method == http.MethodPatch {
			request.Header.Set("Content-Type", "application/octet-stream")
			request.Header.Set("Upload-Offset", strconv.FormatInt(said.Offset, 10))
		}
		answer, err := client.Do(request)
		if err != nil {
			return false
		}
		defer answer.Body.Close()
		return answer.StatusCode == 200 && json.NewDecoder(answer.Body).Decode(&said) == nil
	}
	for ok := ask(http.MethodGet, nil); ok && !said.Whole; {
		ok = ask(http.MethodPatch, data[said.Offset:min(said.Offset+int64(piece), p.Bytes)])
	}
	return said.Whole
}

// named has the demo job name photos, by another device than the one that opened it.
func named(t *testing.T, url string, of ...checklist.Photo) {
	ph := &phone{t: t, job: demoJob, id: "018f3c5e-7a10-7000-8001-00000000d009", role: checklist.Installer}
	answers, ok := push(http.DefaultClient, url, demoJob, []checklist.Entry{ph.make(checklist.RemarkWritten, checklist.Remark{Step: "wire", Mount: "M+090", Photos: of})})
	require.True(t, ok && answers.Answers[0].Record.Accepted, "%+v", answers)
}

// TestServe_KilledDuringUpload kills the real program at random moments while a photo
// arrives in small pieces. Whatever has a photo's name then is whole; the next start goes
// on with the rest, and in the end all photos are there as they were sent.
func TestServe_KilledDuringUpload(t *testing.T) {
	if *seed == 0 {
		*seed = time.Now().UnixNano()
	}
	t.Logf("seed %d", *seed)
	random := rand.New(rand.NewSource(*seed))
	dir := t.TempDir()
	folder := filepath.Join(dir, "photos")
	pictures := map[string][]byte{}
	var of []checklist.Photo
	for range 4 {
		data, p := picture(t, random, 700)
		pictures[p.SHA256], of = data, append(of, p)
	}
	kept := func() (n int) {
		require.NoError(t, photos.Look(folder, func(f photos.Found) error {
			assert.Empty(t, f.Fault, f.Name)
			n++
			return nil
		}))
		return n
	}
	cuts := 0
	for round := 0; kept() < len(of); round++ {
		p := start(t, "--data", dir, "--demo")
		if round == 0 {
			named(t, p.url, of...)
		}
		kill := time.AfterFunc(time.Duration(1+random.Intn(60))*time.Millisecond, func() { _ = p.cmd.Process.Kill() }) // the moment of the kill, not a wait for something
		client := &http.Client{Transport: &http.Transport{}, Timeout: 10 * time.Second}
		for _, photo := range of {
			if !send(client, p.url, photo, pictures[photo.SHA256], 1<<10) {
				cuts++
				break
			}
		}
		kill.Stop()
		_ = p.cmd.Process.Kill()
		assert.Equal(t, -1, p.end())
		client.CloseIdleConnections()
		require.Less(t, round, 400, "it never comes to an end")
	}
	for _, photo := range of {
		got, err := photos.In(folder, photo)
		require.NoError(t, err)
		assert.Equal(t, pictures[photo.SHA256], got)
	}
	parts, err := os.ReadDir(filepath.Join(folder, ".parts"))
	require.NoError(t, err)
	assert.Empty(t, parts)
	got := at(t, nil, "doctor", "--data", dir)
	assert.Equal(t, 0, got.code, got.stdout)
	assert.Contains(t, got.stdout, "4 photos")
	require.Positive(t, cuts, "some kills came in the middle")
	t.Logf("cut off %d times", cuts)
}

// TestPhotos_Kept follows photos from the server into a backup, out of it again, and
// beside the record file; and every command says what of them is missing or changed.
func TestPhotos_Kept(t *testing.T) {
	random := rand.New(rand.NewSource(1))
	dir, out := t.TempDir(), t.TempDir()
	data, p := picture(t, random, 300)
	_, late := picture(t, random, 200)
	record := filepath.Join(out, "record.json")
	serveOnce(t, dir, "--demo")(func(url string) {
		named(t, url, p, late)
		require.True(t, send(http.DefaultClient, url, p, data, 64<<10))
		answer, err := http.Get(url + "/jobs/" + demoJob + "/photos/" + p.SHA256 + ".jpg")
		require.NoError(t, err)
		defer answer.Body.Close()
		got, err := io.ReadAll(answer.Body)
		require.NoError(t, err)
		assert.Equal(t, data, got)
		var file json.RawMessage
		get(t, url+"/jobs/"+demoJob+"/record.json", &file)
		require.NoError(t, os.WriteFile(record, file, 0o600))
	})
	dirs := map[string]string{dir: "DATA", out: "OUT"}
	got := at(t, dirs, "doctor", "--data", dir)
	assert.Equal(t, 1, got.code)
	assert.Contains(t, got.stdout, "1 photo.")
	assert.Contains(t, got.stdout, "record 3: The photo "+late.SHA256+" that it names is not here: it has not arrived yet, or was lost. A phone that took it may still have it.")

	got = at(t, dirs, "verify", record)
	assert.Contains(t, got.stdout, "It names 2 photos; --photos holds them to it.\n")
	folder := filepath.Join(dir, "photos")
	got = at(t, dirs, "verify", record, "--photos", folder)
	assert.Equal(t, 1, got.code)
	assert.Contains(t, got.stdout, "It names 2 photos; 1 in DATA/photos are those.\n- Entry 3 (M+090 Wire, written ")
	assert.Contains(t, got.stdout, "names the photo "+late.SHA256+", which is missing.\n")
	got = at(t, dirs, "verify", record, "--photos", filepath.Join(dir, "none"))
	assert.Equal(t, 2, got.code)
	assert.Equal(t, "hangtrue: DATA/none: no such file or directory\n", got.stderr)

	backup := filepath.Join(out, "jobs.tar")
	got = at(t, dirs, "backup", backup, "--data", dir)
	assert.Equal(t, 0, got.code, got.stderr)
	assert.Contains(t, got.stdout, "1 photo")
	restored := filepath.Join(out, "restored")
	got = at(t, dirs, "restore", backup, "--data", restored)
	assert.Equal(t, 0, got.code, got.stderr)
	here, err := photos.In(filepath.Join(restored, "photos"), p)
	require.NoError(t, err)
	assert.Equal(t, data, here)

	data[len(data)/2] ^= 1
	require.NoError(t, os.WriteFile(filepath.Join(folder, p.SHA256[:2], p.SHA256+".jpg"), data, 0o600))
	got = at(t, dirs, "verify", record, "--photos", folder)
	assert.Contains(t, got.stdout, "names the photo "+p.SHA256+", and what is there is another.\n")
	got = at(t, dirs, "verify", record, "--photos", folder, "--json")
	var said struct {
		Photos struct {
			Named            int
			Missing, Altered []struct {
				SHA256   string
				Position int64
			}
		}
	}
	require.NoError(t, json.Unmarshal([]byte(got.stdout), &said))
	assert.Equal(t, 2, said.Photos.Named)
	require.Len(t, said.Photos.Missing, 1)
	require.Len(t, said.Photos.Altered, 1)
	assert.Equal(t, p.SHA256, said.Photos.Altered[0].SHA256)
	assert.EqualValues(t, 3, said.Photos.Altered[0].Position)
	got = at(t, dirs, "doctor", "--data", dir)
	assert.Equal(t, 1, got.code)
	assert.Contains(t, got.stdout, fmt.Sprintf("The file photos/%s/%s.jpg is not the picture that its name says.", p.SHA256[:2], p.SHA256))
	got = at(t, dirs, "backup", filepath.Join(out, "2.tar"), "--data", dir)
	assert.Equal(t, 0, got.code, got.stderr)
	assert.Contains(t, got.stdout, fmt.Sprintf("Left out, because it is no longer the picture that its name says: photos/%s/%s.jpg\n", p.SHA256[:2], p.SHA256))
	assert.Contains(t, got.stdout, "0 photos")
}

// TestVerify_PhotosOfASignedRecord: a signed record whose photos are all there is good,
// wherever they lie, and is not when one is missing.
func TestVerify_PhotosOfASignedRecord(t *testing.T) {
	data, p := picture(t, rand.New(rand.NewSource(2)), 100)
	signed, key := signedRecord(t)
	file, err := seal.Read(signed)
	require.NoError(t, err)
	k := fixedKey(t, 7)
	last := file.Records[len(file.Records)-1]
	e := last.Entry
	e.ID, e.Number, e.Kind = e.ID[:35]+"f", e.Number+1, checklist.RemarkWritten
	entry, err := checklist.NewEntry(e, checklist.Remark{Photos: []checklist.Photo{p}})
	require.NoError(t, err)
	later := last
	later.Position, later.Entry = last.Position+1, entry
	records := append(file.Records, later)
	whole, err := seal.NewFile(recordJob, file.Title, key, records, append(file.Seals[:1], sealOf(t, k, records, seal.Extract))).Encode()
	require.NoError(t, err)
	dir := t.TempDir()
	record := filepath.Join(dir, "record.json")
	require.NoError(t, os.WriteFile(record, whole, 0o600))
	got := command(t, "", "verify", record, "--photos", dir)
	assert.Equal(t, 1, got.code)
	assert.Contains(t, got.stdout, "which is missing")
	require.NoError(t, os.WriteFile(filepath.Join(dir, p.SHA256+".jpg"), data, 0o600))
	got = command(t, "", "verify", record, "--photos", dir)
	assert.Equal(t, 0, got.code, got.stdout)
	assert.Contains(t, got.stdout, "It names 1 photo; 1 in "+dir+" are those.\n")
}

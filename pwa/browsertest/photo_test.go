package browsertest_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/pwa/browsertest"
	"hangtrue/server/photos"
)

// camera writes a file as a camera does that was held upright: the sensor's picture lies
// on its side, red to its left and blue to its right, and an Exif block says so (tag
// 0x0112, value 6: the first column is the top) and where it was taken (tag 0x8825). The
// noise makes the file large.
func camera(t *testing.T, width, height int) string {
	m := image.NewRGBA(image.Rect(0, 0, width, height))
	random := rand.New(rand.NewPCG(1, 2))
	for y := range height {
		for x := range width {
			n := uint8(random.IntN(120))
			c := color.RGBA{200, n, n, 255}
			if x >= width/2 {
				c = color.RGBA{n, n, 200, 255}
			}
			m.SetRGBA(x, y, c)
		}
	}
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, m, nil))
	block := "Exif\x00\x00MM\x00\x2a\x00\x00\x00\x08" +
		"\x00\x02" + "\x01\x12\x00\x03\x00\x00\x00\x01\x00\x06\x00\x00" + "\x88\x25\x00\x04\x00\x00\x00\x01\x00\x00\x00\x26" + "\x00\x00\x00\x00" +
		"\x00\x01" + "\x00\x01\x00\x02\x00\x00\x00\x02N\x00\x00\x00" + "\x00\x00\x00\x00"
	app1 := append(binary.BigEndian.AppendUint16([]byte{0xff, 0xe1}, uint16(len(block)+2)), block...)
	file := filepath.Join(t.TempDir(), "camera.jpg")
	require.NoError(t, os.WriteFile(file, append(append(bytes.Clone(b.Bytes()[:2]), app1...), b.Bytes()[2:]...), 0o600))
	return file
}

// choose gives a file to the camera's input of a form.
func choose(t *testing.T, b *browsertest.Browser, form, file string) {
	require.NoError(t, b.Run(chromedp.SetUploadFiles(fmt.Sprintf(`form[data-form=%s] input[data-take]`, form), []string{file})))
}

// loaded is true when a picture of the page is there.
func loaded(selector string) string {
	return fmt.Sprintf(`(document.querySelector(%q)?.complete && document.querySelector(%q).naturalWidth)`, selector, selector)
}

// A photo is taken without the server, sent in pieces with the server killed among them,
// and arrives as it was on the phone: upright, made small, without place and time.
// Another phone shows it, and the first lets go of its copy when told.
func TestPhoneTakesPhotos(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	h := newHouse(t, newSite(t, "plans/example.json", 2))
	away(t, b, h)
	file := camera(t, 2400, 1800)
	choose(t, b, "record", file)
	require.NoError(t, b.Until(loaded(`#photos-record img`)+` > 0`))
	choose(t, b, "record", camera(t, 300, 200))
	require.NoError(t, b.Until(`document.querySelectorAll('#photos-record img').length === 2`))
	if name := shown("photo-taken"); name != "" {
		require.NoError(t, b.Screenshot(name))
	}
	require.NoError(t, b.Reload())
	require.NoError(t, b.Until(usable))
	require.NoError(t, b.Until(`document.querySelectorAll('#photos-record img[data-taken]').length === 2`), "what was taken outlives a reload")
	require.NoError(t, b.Click(`#photos-record li:nth-child(2) button`))
	require.NoError(t, b.Until(`document.querySelectorAll('#photos-record img').length === 1`))

	require.NoError(t, b.Click(`input[name=how][value=unplugged]`))
	require.NoError(t, b.Click(`form[data-form=record] button[type=submit]`))
	require.NoError(t, b.Until(`document.querySelector('#say').innerText === 'Saved on this phone. 1 not sent yet. 1 photo not sent yet.'`))
	require.NoError(t, b.Until(loaded(`ul.photos img[data-photo]`)+` > 0`), "shown without the server")
	var sizes []int
	require.NoError(t, b.Eval(`[document.querySelector('ul.photos img').naturalWidth, document.querySelector('ul.photos img').naturalHeight]`, &sizes))
	assert.Equal(t, []int{240, 320}, sizes, "upright, and small")
	if name := shown("photo-waiting"); name != "" {
		require.NoError(t, b.Screenshot(name))
	}

	var pieces atomic.Int64
	h.piece = func() {
		if pieces.Add(1) == 2 {
			h.closed = true // from here on it is as good as dead
		}
	}
	h.start()
	require.NoError(t, b.Open(h.url("/you")))
	require.NoError(t, b.Until(`document.querySelector('#say').innerText.includes('1 photo not sent yet')`))
	require.NoError(t, b.Click(`[data-act=sync]`))
	require.Eventually(t, func() bool { return pieces.Load() >= 2 }, time.Minute, 20*time.Millisecond)
	h.kill()
	require.NoError(t, photos.Look(h.photos, func(f photos.Found) error { return fmt.Errorf("%s is there before its time", f.Name) }))
	h.closed = false
	h.start()
	before := pieces.Load()
	require.NoError(t, b.Click(`[data-act=sync]`))
	require.NoError(t, b.Until(`document.querySelector('#say').innerText.includes('Everything is sent')`))

	var kept []photos.Found
	require.NoError(t, photos.Look(h.photos, func(f photos.Found) error { kept = append(kept, f); return nil }))
	require.Len(t, kept, 1)
	data, err := os.ReadFile(filepath.Join(h.photos, filepath.FromSlash(kept[0].Name)))
	require.NoError(t, err)
	assert.LessOrEqual(t, pieces.Load()-before, int64(len(data)/(128<<10)+1), "it went on where it was cut off")
	sum := sha256.Sum256(data)
	hash := hex.EncodeToString(sum[:])
	records, err := h.keeper.Records(jobID, 0, 100, 1<<20)
	require.NoError(t, err)
	named := checklist.PhotosOf(records[2].Entry)
	require.Len(t, named, 1)
	assert.Equal(t, checklist.Photo{SHA256: hash, Bytes: int64(len(data)), Type: "image/jpeg", Width: 1200, Height: 1600}, named[0])
	assert.NotContains(t, string(data), "Exif")
	picture, err := jpeg.Decode(bytes.NewReader(data))
	require.NoError(t, err)
	assert.Equal(t, image.Rect(0, 0, 1200, 1600), picture.Bounds())
	red := func(x, y int) bool { r, _, b, _ := picture.At(x, y).RGBA(); return r > b }
	assert.True(t, red(600, 100) && red(100, 700) && red(1100, 700), "the top is red")
	assert.False(t, red(600, 1500) || red(100, 900) || red(1100, 900), "and the other half blue")

	other := browsertest.Start(t, browsertest.Options{})
	be(t, other, h)
	for _, path := range []string{isolatePath, "/jobs/" + jobID + "/record", "/jobs/" + jobID + "/photos/" + hash} {
		require.NoError(t, other.Open(h.url(path)))
		require.NoError(t, other.Until(usable))
		require.NoError(t, other.Eval(`document.querySelectorAll('details').forEach((d) => { d.open = true })`, nil))
		require.NoError(t, other.Eval(fmt.Sprintf(`document.querySelector('img[data-photo="%s"]').scrollIntoView()`, hash), nil)) // a picture far below is not fetched
		require.NoError(t, other.Until(loaded(fmt.Sprintf(`img[data-photo="%s"]`, hash))+` === 1200`), path)
	}
	if name := shown("photo-page"); name != "" {
		require.NoError(t, other.Screenshot(name))
	}

	require.NoError(t, b.Open(h.url("/you")))
	require.NoError(t, b.Until(usable))
	require.NoError(t, b.Click(`[data-act=release]`))
	require.NoError(t, b.Until(rows("photos")+` === 0`))
	require.NoError(t, b.Until(rows("small")+` === 1`))
	require.NoError(t, b.Open(h.url("/jobs/"+jobID+"/photos/"+hash)))
	require.NoError(t, b.Until(loaded(`img[data-photo]`)+` === 1200`), "the server gives it")
	h.kill()
	require.NoError(t, b.Reload())
	require.NoError(t, b.Until(usable))
	require.NoError(t, b.Until(loaded(`img[data-photo]`)+` === 240`), "without the server what is small stays")
	require.NoError(t, other.Reload())
	require.NoError(t, other.Until(usable))
	require.NoError(t, other.Until(`document.querySelector('#page').innerText.includes('This photo is not on this phone, and the server does not give it now')`))
}

// rows counts the rows of a store of the phone.
func rows(store string) string {
	return fmt.Sprintf(`(await new Promise((yes, no) => { const r = indexedDB.open('hangtrue'); r.onerror = no; r.onsuccess = () => {
		const c = r.result.transaction(%[1]q).objectStore(%[1]q).count(); c.onsuccess = () => { r.result.close(); yes(c.result) } } }))`, store)
}

// A full storage: a photo that finds no room is not taken, and an entry that finds none
// is not saved; both are said, and what is there and what was typed stays. Where the
// server has photos of this phone, those make room. The browser's own bound cannot be
// set from outside, so writing fails here as it does then.
func TestPhonePhotosFindNoRoom(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	h := newHouse(t, newSite(t, "plans/example.json", 2))
	away(t, b, h)
	require.NoError(t, b.Eval(`(() => {
		for (const name of ['put', 'add']) {
			const write = IDBObjectStore.prototype[name];
			IDBObjectStore.prototype[name] = function (...args) {
				if (window.full > 0 && this.transaction.durability === 'strict') { window.full--; throw new DOMException('full', 'QuotaExceededError'); }
				return write.apply(this, args);
			};
		}
	})()`, nil))
	full := func(times int) { require.NoError(t, b.Eval(fmt.Sprintf(`window.full = %d`, times), nil)) }
	says := func(text string) {
		require.NoError(t, b.Until(fmt.Sprintf(`document.querySelector('#say').innerText.includes(%q)`, text)))
	}
	refuses := func(text string) {
		t.Helper()
		says(text)
		require.NoError(t, b.Until(inSight(`#say`)), "whoever pressed the button stands below")
	}
	const noRoom = "Not saved: this phone's storage is full. What you typed is still here. Make room, then save again."
	file := camera(t, 1200, 900)
	require.NoError(t, b.Click(`input[name=how][value=unplugged]`))
	full(1)
	require.NoError(t, b.Resize(390, 500)) // as with a keyboard on the screen
	choose(t, b, "record", file)
	refuses(noRoom)
	require.NoError(t, b.Until(`document.querySelector('input[name=how][value=unplugged]').checked && document.querySelectorAll('#photos-record img').length === 0`))
	require.NoError(t, b.Until(rows("taken")+` === 0`))
	choose(t, b, "record", file)
	require.NoError(t, b.Until(loaded(`#photos-record img`)+` > 0`))
	full(1)
	require.NoError(t, b.Click(`form[data-form=record] button[type=submit]`))
	refuses(noRoom)
	require.NoError(t, b.Until(`document.querySelector('input[name=how][value=unplugged]').checked && document.querySelectorAll('#photos-record img').length === 1`))
	require.NoError(t, b.Until(rows("taken")+` === 1 && `+rows("pending")+` === 0 && `+rows("photos")+` === 0`), "all or nothing")
	require.NoError(t, b.Click(`form[data-form=record] button[type=submit]`))
	says("1 photo not sent yet")
	require.NoError(t, b.Until(rows("taken")+` === 0 && `+rows("pending")+` === 1 && `+rows("photos")+` === 1`))

	h.start()
	require.NoError(t, b.Until(rows("sending")+` === 0`))
	require.NoError(t, b.Eval(`document.querySelector('form[data-form=remark]').closest('details').open = true`, nil))
	full(1)
	choose(t, b, "remark", camera(t, 600, 400))
	require.NoError(t, b.Until(loaded(`#photos-remark img`)+` > 0`), "the first photo made room for the second")
	require.NoError(t, b.Until(rows("photos")+` === 0 && `+rows("small")+` === 1`))
	require.NoError(t, b.Click(`form[data-form=remark] button[type=submit]`))
	require.NoError(t, b.Until(`document.querySelectorAll('ul.photos img[data-photo]').length === 2`), "the step shows both")
}

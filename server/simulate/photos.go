package simulate

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"image"
	"image/jpeg"
	"maps"
	"math/rand/v2"
	"path"
	"slices"
	"strings"
	"sync"

	"hangtrue/checklist"
	"hangtrue/pwa/pages"
	"hangtrue/pwa/phone/engine"
)

// pieceBytes is what one request brings of a photo here, so that a small picture takes
// several.
const pieceBytes = 120

// roomWanted is a figure of photos.js: what is let go at once when the storage is full.
const roomWanted = 16 << 20

// A picture that can be taken: noise of 8 by 8 pixels, or of 16 by 8.
type picture struct {
	sha256 string
	data   []byte
	small  string // what stands for it in a small size
}

// pictures are all there are, by their number.
var pictures = sync.OnceValue(func() (all []picture) {
	for n := range uint64(256) {
		r := rand.New(rand.NewPCG(n, 1))
		m := image.NewGray(image.Rect(0, 0, 8*(1+r.IntN(2)), 8))
		for i := range m.Pix {
			m.Pix[i] = byte(r.Uint32())
		}
		var b bytes.Buffer
		if err := jpeg.Encode(&b, m, nil); err != nil {
			panic(err)
		}
		all = append(all, picture{hashOf(b.Bytes()), b.Bytes(), "small"})
	}
	return all
})

func hashOf(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// A takenRow is a photo that was taken on a page and is not saved.
type takenRow struct {
	photo        pages.Taken
	whole, small string
	at           int // counts the rows, for their order
}

// take plays Photos.take of photos.js: a picture is looked at, named, and kept until the
// form of the page is saved.
func (t *tab) take(path, form string, shot picture, then func()) {
	p := t.phone
	t.taken(path, func(taken []pages.Taken) {
		t.call("photo", map[string]any{"path": path, "form": form, "taken": taken, "data": shot.data}, func(a engine.Answer, err error) {
			if err != nil || a.Photo == nil {
				p.world.count("pictures not taken")
				then()
				return
			}
			if a.Photo.SHA256 != shot.sha256 {
				p.world.fail("photos: a picture is named %s and is %s", a.Photo.SHA256, shot.sha256)
			}
			p.shots++
			row := takenRow{*a.Photo, string(shot.data), shot.small, p.shots}
			t.fitting(func(done func(error)) {
				p.transact(t, func(disk storage) error { return p.keepTaken(disk, path, row) }, done)
			}, func(err error) {
				if err != nil {
					p.world.count("pictures not taken")
				} else {
					p.world.count("pictures taken")
				}
				then()
			})
		})
	})
}

func (p *phone) keepTaken(disk storage, path string, row takenRow) error {
	size := len(row.whole) + len(row.small)
	if p.full > 0 || p.quota > 0 && disk.usage()+size > p.quota {
		p.full = max(0, p.full-1)
		p.world.count("pictures that found the storage full")
		return errQuota
	}
	disk["taken"][key{name: path, text: row.photo.SHA256}] = row
	return nil
}

// taken gives what was taken at a path and is not saved.
func (t *tab) taken(path string, then func([]pages.Taken)) {
	var taken []pages.Taken
	t.phone.transact(t, func(disk storage) error { taken = disk.taken(path); return nil }, func(error) { then(taken) })
}

// fitting plays Photos.fitting: what needs room is done, and done again once room was made.
func (t *tab) fitting(work func(done func(error)), then func(error)) {
	work(func(err error) {
		if !errors.Is(err, errQuota) {
			then(err)
			return
		}
		t.release(roomWanted, func(had bool, wrong error) {
			switch {
			case wrong != nil:
				then(wrong)
			case !had:
				then(err)
			default:
				work(then)
			}
		})
	})
}

// release plays Photos.release.
func (t *tab) release(size int, then func(had bool, err error)) {
	t.call("release", map[string]any{"bytes": size}, func(a engine.Answer, err error) {
		if err != nil {
			then(false, err)
			return
		}
		t.applyPhotos(t.phone.bendRelease(a.Write), func(err error) { then(len(a.Write) > 0, err) })
	})
}

// eldest holds photos that are let go for want of room to their order: none that stays,
// and could go, came to the server earlier. Another tab may have changed what there is.
func (t *tab) eldest(writes []engine.Write) {
	p := t.phone
	if t.shared {
		return
	}
	came := p.came()
	last, going := "", map[string]bool{}
	for _, w := range writes {
		hash := keyOf(w.Key).text
		last, going[hash] = max(last, came[hash]), true
	}
	for _, k := range p.disk.keys("photos") {
		_, waits := p.disk["sending"][k]
		if when := came[k.text]; !waits && !going[k.text] && when != "" && when < last {
			p.world.fail("released: %s keeps photo %s and lets go of later ones", p.name, k.text[:8])
		}
	}
	p.world.count("times that photos made room by themselves")
}

// came tells of each photo when the server received the first accepted entry that names it.
func (p *phone) came() map[string]string {
	came := map[string]string{}
	for _, k := range p.disk.keys("records") {
		var r record
		if json.Unmarshal([]byte(p.disk.text("records", k)), &r) != nil || !r.Accepted {
			continue
		}
		for _, photo := range checklist.PhotosOf(r.Entry) {
			if came[photo.SHA256] == "" {
				came[photo.SHA256] = r.Received
			}
		}
	}
	return came
}

// resend plays Photos.resend and the button for it.
func (t *tab) resend() {
	t.call("resend", nil, func(a engine.Answer, err error) {
		if err == nil {
			t.applyPhotos(a.Write, func(error) { t.exchangeNow() })
		}
	})
}

func (t *tab) applyPhotos(writes []engine.Write, then func(error)) {
	t.phone.apply(t, writes, func(err error) {
		if err != nil {
			t.restart() // it knows more than is stored
		}
		then(err)
	})
}

// bendRelease is what a flaw of tests does to a release.
func (p *phone) bendRelease(writes []engine.Write) []engine.Write {
	if p.world.broken == flawRelease {
		for _, k := range p.disk.keys("photos") {
			writes = append(writes, engine.Write{Op: "delete", In: "photos", Key: k.wire()}, engine.Write{Op: "delete", In: "sending", Key: k.wire()})
		}
	}
	return writes
}

// bendRoom is what a flaw of tests makes of photos that are let go for want of room.
func (p *phone) bendRoom(writes []engine.Write) []engine.Write {
	if p.world.broken != flawLatest {
		return writes
	}
	came := p.came()
	keys := slices.DeleteFunc(p.disk.keys("photos"), func(k key) bool { _, waits := p.disk["sending"][k]; return waits || came[k.text] == "" })
	slices.SortFunc(keys, func(a, b key) int { return strings.Compare(came[b.text], came[a.text]) })
	for i := range min(len(writes), len(keys)) {
		writes[i].Key = keys[i].wire()
	}
	return writes
}

// bendSent is what flaws of tests do to the answer about a piece.
func (p *phone) bendSent(r engine.Request, status int, body string) (int, string) {
	if p.world.broken == flawSent && r.Piece != nil && status == 0 {
		return 200, `{"offset":0,"whole":true}`
	}
	return status, body
}

// piece reads a piece of a photo from the storage, as sync.js does before it asks;
// false if the photo is not there.
func (t *tab) piece(of engine.Piece, then func(data string, there bool)) {
	var whole string
	var there bool
	t.phone.transact(t, func(disk storage) error {
		whole, there = disk["photos"][keyOf(of.Key)].(string)
		return nil
	}, func(error) {
		if !there {
			then("", false)
			return
		}
		then(whole[min(int(of.From), len(whole)):min(int(of.To), len(whole))], true)
	})
}

// photoKeys are the keys of the stores of photos.
func (s storage) photoKeys() map[string]any {
	of := func(store string) []any {
		keys := []any{}
		for _, k := range s.keys(store) {
			keys = append(keys, k.wire())
		}
		return keys
	}
	return map[string]any{"sending": of("sending"), "photos": of("photos")}
}

// room is what the browser would say of it.
func (p *phone) room() map[string]int {
	return map[string]int{"usage": p.disk.usage(), "quota": p.quota}
}

// usage is what photos take, in bytes.
func (s storage) usage() (bytes int) {
	for _, store := range []string{"photos", "small"} {
		for _, data := range s[store] {
			bytes += len(data.(string))
		}
	}
	for _, row := range s["taken"] {
		bytes += len(row.(takenRow).whole) + len(row.(takenRow).small)
	}
	return bytes
}

// taken are the photos taken at a path, the first one first.
func (s storage) taken(path string) []pages.Taken {
	rows := []takenRow{}
	for _, k := range s.keys("taken") {
		if k.name == path {
			rows = append(rows, s["taken"][k].(takenRow))
		}
	}
	taken := make([]pages.Taken, len(rows))
	slices.SortFunc(rows, func(a, b takenRow) int { return a.at - b.at })
	for i, row := range rows {
		taken[i] = row.photo
	}
	return taken
}

// An album follows the server's photos from outside.
type album struct {
	world *world
	whole map[string]bool // what the server said it has whole, since an old backup came back
	// What the server's disk has spoilt: a byte of it turned.
	spoilt map[string]bool
}

// spoil turns a byte of something on the disk of photos.
func (a *album) spoil(r *rand.Rand) {
	w := a.world
	files := w.server.disk.files
	if len(files) == 0 {
		return
	}
	names := slices.Sorted(maps.Keys(files))
	name := names[r.IntN(len(names))]
	f := files[name]
	if len(f.data) == 0 {
		return
	}
	f.data = slices.Clone(f.data)
	f.data[r.IntN(len(f.data))] ^= 1 << r.IntN(8)
	f.synced = slices.Clone(f.data)
	hash := strings.TrimSuffix(path.Base(name), ".jpg")
	delete(a.whole, hash)
	a.spoilt[hash] = true
	w.count("bytes that turned on the photos' disk")
	w.note("server: a byte of %s turned", name)
}

// sound tells whether the server has a photo as it was taken.
func (a *album) sound(hash string) bool {
	shot, ok := shotOf(hash)
	data := a.world.server.disk.whole()[hash]
	return ok && data != nil && bytes.Equal(data, shot.data)
}

func shotOf(hash string) (picture, bool) {
	for _, shot := range pictures() {
		if shot.sha256 == hash {
			return shot, true
		}
	}
	return picture{}, false
}

// look holds every picture on the server's disk to its name, and what the server said it
// has to what is there.
func (a *album) look() {
	w := a.world
	here := w.server.disk.whole()
	for name := range w.server.disk.files {
		hash := hashOf(w.server.disk.files[name].data)
		if a.spoilt[strings.TrimSuffix(path.Base(name), ".jpg")] {
			continue
		}
		if _, known := shotOf(hash); name[0] != '.' && (!known || name != hash[:2]+"/"+hash+".jpg") {
			w.fail("photos: the server keeps %s, and it is another picture, or none", name)
		}
	}
	for hash := range a.whole {
		if here[hash] == nil {
			w.fail("photos: the server said that it has %s, and has lost it", hash[:8])
		}
	}
}

// answered takes what the server said about a photo.
func (a *album) answered(r engine.Request, status int, body string) {
	w := a.world
	hash := r.URL[len(r.URL)-64:]
	switch {
	case status == 422 && w.counts["power cuts"] == 0 && !a.spoilt[hash]:
		w.fail("photos: a piece of %s was not taken, though all are sent as they are: %s", hash[:8], body)
	case status == 409:
		w.count("pieces that did not follow")
	case status == 422:
		w.count("photos that a power cut spoilt")
	case status == 507:
		w.count("pieces that found no room")
	case status == 200:
		var said struct{ Whole bool }
		if err := json.Unmarshal([]byte(body), &said); err != nil {
			w.fail("answering: %v", err)
		}
		if said.Whole {
			if !a.sound(hash) {
				w.fail("photos: the server says that %s is whole, and it is not", hash[:8])
			}
			if !a.whole[hash] {
				w.count("photos whole at the server")
			}
			a.whole[hash] = true
			delete(a.spoilt, hash)
			a.look()
		}
	}
}

// released holds the phone to what it may let go of: what the server has then, or had
// when the phone last heard of it.
func (p *phone) released(k key) {
	w := p.world
	w.count("photos let go")
	w.note("%s lets go of photo %s", p.name, k.text[:8])
	p.gone[k.text] = min(w.era, p.heard)
	if p.heard != w.era {
		w.count("photos let go before an old backup was heard of")
		return
	}
	if w.server.disk.whole()[k.text] == nil {
		w.fail("released: %s let go of photo %s, and the server has not got it", p.name, k.text[:8])
	}
}

// lostLater tells of a photo that the phone let go when the server had it, and that an
// old backup may have taken away since, or a turned byte.
func (p *phone) lostLater(hash string) bool {
	era, let := p.gone[hash]
	return let && (era < p.world.era || p.world.album.spoilt[hash])
}

// shown holds the server's photos to what they are, when everything has settled: each is
// handed out as it was taken, and kept once.
func (w *world) shown(kept []record) {
	here := w.server.disk.whole()
	for name := range w.server.disk.files {
		if hash, part := strings.CutPrefix(name, ".parts/"); part && here[hash] != nil && !w.album.spoilt[hash] && w.counts["power cuts"] == 0 {
			w.fail("photos: of %s the server keeps a part beside the whole", hash[:8])
		}
	}
	seen := map[string]bool{}
	for _, r := range kept {
		for _, photo := range checklist.PhotosOf(r.Entry) {
			shot, _ := shotOf(photo.SHA256)
			if seen[photo.SHA256] || here[photo.SHA256] == nil {
				continue
			}
			seen[photo.SHA256] = true
			status, body := w.server.do(engine.Request{Method: "GET", URL: "/jobs/" + job + "/photos/" + photo.SHA256 + ".jpg"})
			if w.album.spoilt[photo.SHA256] && status == 500 {
				w.count("spoilt photos that are not handed out")
				continue
			}
			if status != 200 || body != string(shot.data) {
				w.fail("photos: the server hands %s out with status %d and %d bytes", photo.SHA256[:8], status, len(body))
			}
			w.count("photos handed out")
		}
	}
}

// pictured holds a phone's photos against the server's when everything has settled.
func (w *world) pictured(p *phone, kept []record) {
	named := map[string]bool{}
	for _, r := range kept {
		for _, photo := range checklist.PhotosOf(r.Entry) {
			named[photo.SHA256] = true
		}
	}
	for _, k := range p.disk.keys("photos") {
		if shot, ok := shotOf(k.text); !ok || p.disk.text("photos", k) != string(shot.data) {
			w.fail("photos: %s has another picture under %s", p.name, k.text[:8])
		}
		if named[k.text] && !w.album.sound(k.text) {
			w.fail("sent: photo %s, which the log names, is on %s and not at the server", k.text[:8], p.name)
		}
	}
	for _, k := range p.disk.keys("sending") {
		if named[k.text] {
			w.fail("sent: photo %s still waits on %s", k.text[:8], p.name)
		}
	}
	for _, v := range p.vows {
		for _, hash := range v.photos {
			_, onPhone := p.disk["photos"][key{name: job, text: hash}]
			switch {
			case onPhone || w.album.sound(hash):
			case p.lostLater(hash):
				w.count("photos lost with an old backup or a turned byte")
			default:
				w.fail("saved: %s called photo %s saved, and it is lost", p.name, hash[:8])
			}
		}
	}
	device := p.disk.device()
	for _, r := range kept {
		if r.Entry.Device != device {
			continue
		}
		for _, photo := range checklist.PhotosOf(r.Entry) {
			if !w.album.sound(photo.SHA256) && !p.lostLater(photo.SHA256) {
				w.fail("sent: record %d names photo %s of %s, and the server has not got it", r.Position, photo.SHA256[:8], p.name)
			}
		}
	}
}

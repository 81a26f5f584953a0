package engine

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"hangtrue/checklist"
	"hangtrue/checklist/picture"
	"hangtrue/pwa/pages"
)

// The stores of photos. Their keys are [job, sha256], and what is in the first two is
// the caller's: pictures never come in here but when they are taken.
const (
	inPhotos  = "photos"  // the picture
	inSmall   = "small"   // the same, small
	inSending = "sending" // nothing; that it is here means that the server has not got the picture
)

// maxPiece is what one request brings of a photo at most. The server takes twice as much; on a
// line of 100 kbit/s this takes ten seconds, half of what a request may.
const maxPiece = 128 << 10

// An album is what this phone has of a job's photos, by SHA-256.
type album struct{ sending, whole, small map[string]bool }

func newAlbum() *album {
	return &album{map[string]bool{}, map[string]bool{}, map[string]bool{}}
}

func (e *Engine) album(job string) *album {
	a := e.albums[job]
	if a == nil {
		a = newAlbum()
		e.albums[job] = a
	}
	return a
}

// photoKeys are keys of the stores of photos, as the storage has them.
type photoKeys struct {
	Sending [][]any `json:"sending"`
	Photos  [][]any `json:"photos"`
}

// room is how much the browser keeps for this address, and would keep (bytes).
type room struct {
	Usage int64 `json:"usage"`
	Quota int64 `json:"quota"`
}

// albumsFrom takes over what the storage has of all jobs, but for what is small.
func (e *Engine) albumsFrom(keys photoKeys) {
	for _, a := range e.albums {
		a.sending, a.whole = map[string]bool{}, map[string]bool{}
	}
	each := func(keys [][]any, of func(*album) map[string]bool) {
		for _, key := range keys {
			job, ok := jobOf(key)
			if hash, isText := key[len(key)-1].(string); ok && isText {
				of(e.album(job))[hash] = true
			}
		}
	}
	each(keys.Sending, func(a *album) map[string]bool { return a.sending })
	each(keys.Photos, func(a *album) map[string]bool { return a.whole })
}

// photoPlace tells a page where a job's photos are.
func (e *Engine) photoPlace(job string) func(checklist.Photo) pages.PhotoPlace {
	return func(p checklist.Photo) pages.PhotoPlace {
		a := e.album(job)
		switch {
		case e.untaken[upload{job: job, hash: p.SHA256}.name()] != "":
			return pages.PhotoRefused
		case a.sending[p.SHA256]:
			return pages.PhotoWaiting
		case a.whole[p.SHA256]:
			return pages.PhotoHere
		case a.small[p.SHA256]:
			return pages.PhotoSmall
		}
		return pages.PhotoAway
	}
}

type taking struct {
	Path  string        `json:"path"`
	Form  string        `json:"form"`
	Data  []byte        `json:"data"` // base64 on the way; empty when it could not be read as a picture
	Taken []pages.Taken `json:"taken"`
}

// photo looks at a picture that was taken: what is no picture in it is left away, and it
// is named by its hash. Nothing is kept of it here.
func (e *Engine) photo(in taking) (Answer, error) {
	wrong := func(text string, args ...any) (Answer, error) { return e.showTaken(in, fmt.Sprintf(text, args...)) }
	n := 0
	for _, t := range in.Taken {
		if t.Form == in.Form {
			n++
		}
	}
	if n >= checklist.MaxPhotos {
		return wrong("%d photos are as many as go with one entry. Save, then add more.", n)
	}
	if len(in.Data) == 0 {
		return wrong("This file cannot be shown as a picture.")
	}
	data, err := picture.Plain(in.Data)
	width, height := 0, 0
	if err == nil {
		width, height, err = picture.Check(data)
	}
	switch {
	case err != nil:
		return wrong("This photo cannot be used (%s).", picture.Reason(err))
	case len(data) > checklist.MaxPhotoBytes || max(width, height) > checklist.MaxPhotoSide:
		return wrong("This photo is too large: %d × %d pixels, %d bytes.", width, height, len(data))
	}
	sum := sha256.Sum256(data)
	a := Answer{Photo: &pages.Taken{Form: in.Form, Photo: checklist.Photo{
		SHA256: hex.EncodeToString(sum[:]), Bytes: int64(len(data)), Type: checklist.PhotoType, Width: width, Height: height,
	}}}
	if !bytes.Equal(data, in.Data) {
		a.Data = data
	}
	return a, nil
}

// taken shows what a form has of photos.
func (e *Engine) takenNow(in taking) (Answer, error) { return e.showTaken(in, "") }

func (e *Engine) showTaken(in taking, wrong string) (Answer, error) {
	e.want, e.taken = "", in.Taken
	parts := pages.PhotosTaken(in.Path, in.Form, wrong, e)
	if e.want != "" {
		return Answer{Need: e.want}, nil
	}
	return Answer{Parts: parts}, nil
}

// keeps are the writes that make the photos of an entry part of what is saved with it.
func keeps(path string, entry checklist.Entry) (writes []Write) {
	for _, p := range checklist.PhotosOf(entry) {
		writes = append(writes, Write{Op: "keep", In: inPhotos, Key: []any{entry.Job, p.SHA256}, Value: []any{path, p.SHA256}})
	}
	return writes
}

// keptPhotos notes that they were made.
func (e *Engine) keptPhotos(entry checklist.Entry) {
	a := e.album(entry.Job)
	for _, p := range checklist.PhotosOf(entry) {
		a.sending[p.SHA256], a.whole[p.SHA256], a.small[p.SHA256] = true, true, true
	}
}

// photosWaiting counts the photos that the server has not got.
func (e *Engine) photosWaiting() (n int) {
	for _, a := range e.albums {
		n += len(a.sending)
	}
	return n
}

// An upload is a photo on its way.
type upload struct {
	job, hash string
	bytes     int64
	asked     bool  // how much of it has arrived is known
	at        int64 // so much
	sent      int64 // bytes in the request that is on its way
	crossed   int   // pieces that did not follow
	dropped   int   // times that all of it was refused
}

func (u upload) name() string { return u.job + "/" + u.hash }

// A Piece is a part of a photo, which the caller reads from the storage.
type Piece struct {
	Key  []any `json:"key"`
	From int64 `json:"from"`
	To   int64 `json:"to"`
}

// toCheck goes on with the jobs of which this phone has photos that it takes for sent,
// and has not asked this run of the server whether it still has them: an old backup may
// have come back, or a disk may have lost some.
func (e *Engine) toCheck() {
	x := &e.sync
	x.stage, x.queue = checking, nil
	for _, job := range slices.Sorted(maps.Keys(e.albums)) {
		if a := e.albums[job]; x.run != "" && e.asked[job] != x.run && slices.ContainsFunc(slices.Collect(maps.Keys(a.whole)), func(hash string) bool { return !a.sending[hash] }) {
			x.queue = append(x.queue, job)
		}
	}
}

// checked takes the answer: what the server has not got is sent again.
func (e *Engine) checked(in answering) Answer {
	x := &e.sync
	var said struct {
		Photos []string `json:"photos"`
	}
	switch {
	case in.Status == 404: // it has lost the job too
	case in.Status != 200:
		return e.stop(in)
	case json.Unmarshal([]byte(in.Body), &said) != nil || said.Photos == nil:
		return e.stop(answering{}) // something in between answered
	}
	job := x.queue[0]
	x.queue, e.asked[job] = x.queue[1:], x.run
	writes := e.sendAgain(job, said.Photos)
	if len(writes) == 0 {
		return Answer{}
	}
	return Answer{Write: writes, Changed: []string{job}, Say: e.say("")}
}

// toSend goes on with the photos, after everything else of the exchange.
func (e *Engine) toSend() {
	x := &e.sync
	x.stage, x.uploads, x.sent, x.trouble = sending, nil, true, ""
	for _, job := range slices.Sorted(maps.Keys(e.albums)) {
		for _, hash := range slices.Sorted(maps.Keys(e.albums[job].sending)) {
			if u := (upload{job: job, hash: hash}); e.untaken[u.name()] == "" {
				x.uploads = append(x.uploads, &u)
			}
		}
	}
}

// nextPiece is the next request about a photo. One is sent only when the server has its
// job and knows an entry that names it; without one that is left the exchange is over.
func (e *Engine) nextPiece() (Answer, error) {
	x := &e.sync
	for ; len(x.uploads) > 0; x.uploads = x.uploads[1:] {
		u := x.uploads[0]
		if _, there := x.heads[u.job]; !there {
			continue
		}
		j := e.job(u.job)
		if j.log == nil {
			return Answer{Need: j.id}, nil
		}
		named, ok := j.log.State().Photo(u.hash)
		if !ok || named.Record.Position == 0 {
			continue
		}
		u.bytes = named.Bytes
		path := "/api/jobs/" + u.job + "/photos/" + u.hash
		if !u.asked {
			return Answer{Request: &Request{Method: "GET", URL: path}}, nil
		}
		u.sent = min(int64(e.bound(int(e.piece), 1)), u.bytes-u.at) // none, where the answer to the last was lost
		return Answer{Request: &Request{Method: "PATCH", URL: path, Piece: &Piece{[]any{u.job, u.hash}, u.at, u.at + u.sent}}}, nil
	}
	a, err := e.makeRoom()
	if err == nil && a.Need == "" {
		x.stage, a.Say = idle, e.say("")
	}
	return a, err
}

// arrived takes the server's answer about a photo. Whatever becomes of one, the next may
// be taken.
func (e *Engine) arrived(in answering) (Answer, error) {
	x := &e.sync
	u := x.uploads[0]
	var said struct {
		problem
		Offset int64 `json:"offset"`
		Whole  bool  `json:"whole"`
	}
	if in.Status == 200 || in.Status == 409 || in.Status == 422 {
		if err := json.Unmarshal([]byte(in.Body), &said); err != nil || said.Offset < 0 || said.Offset > u.bytes {
			in.Status = 0 // something in between answered
		}
	}
	switch {
	case in.Gone:
		x.uploads = x.uploads[1:]
		e.untaken[u.name()] = "its picture is not in this phone's storage"
		return Answer{Changed: []string{u.job}, Say: e.say("")}, nil
	case in.Status == 404: // the server has lost the entry, and gets it again
		x.uploads = x.uploads[1:]
		return Answer{}, nil
	case in.Status == 200 && said.Whole:
		x.uploads = x.uploads[1:]
		delete(e.album(u.job).sending, u.hash)
		return Answer{Write: []Write{{Op: "delete", In: inSending, Key: []any{u.job, u.hash}}}, Changed: []string{u.job}, Say: e.say("")}, nil
	case in.Status == 200 && (!u.asked || said.Offset > u.at):
		u.asked, u.at = true, said.Offset
		return Answer{}, nil
	case in.Status == 409 && u.crossed < 5: // another phone sends the same one
		u.crossed++
		u.at = said.Offset
		return Answer{}, nil
	case in.Status == 422 && u.dropped == 0: // it may be that the server lost what it had
		u.dropped++
		u.asked, u.at = false, 0
		return Answer{}, nil
	case in.Status == 422:
		x.uploads = x.uploads[1:]
		e.untaken[u.name()] = cmp.Or(said.Detail, said.Title, "no reason was given")
		return Answer{Changed: []string{u.job}, Say: e.say("")}, nil
	}
	return e.stop(in), nil
}

// Shares of the browser's bound, in percent, by common practice: over the first, whole
// photos that the server has are let go until the second.
const (
	tight = 80
	loose = 70
)

// makeRoom lets go of photos when the storage runs short.
func (e *Engine) makeRoom() (Answer, error) {
	if e.room.Quota == 0 || e.room.Usage < e.room.Quota/100*tight {
		return Answer{}, nil
	}
	return e.release(releasing{Bytes: e.room.Usage - e.room.Quota/100*loose})
}

type releasing struct {
	Bytes int64 `json:"bytes"` // to be made free; all that can be, if it is 0
}

// release lets go of whole photos that the server has and whose entry it accepted, the
// oldest first. What is small of them stays.
func (e *Engine) release(in releasing) (Answer, error) {
	sizes := map[string]int64{} // by when the server received the entry, job and hash
	for job, a := range e.albums {
		if len(a.whole) == 0 {
			continue
		}
		j := e.job(job)
		if j.log == nil {
			return Answer{Need: job}, nil
		}
		seen := map[string]bool{}
		for _, p := range j.log.State().Photos {
			if p.Record.Position > 0 && p.Record.Accepted && a.whole[p.SHA256] && !a.sending[p.SHA256] && !seen[p.SHA256] {
				seen[p.SHA256] = true
				sizes[p.Record.Received+" "+job+" "+p.SHA256] = p.Bytes
			}
		}
	}
	var a Answer
	free := int64(0)
	for _, name := range slices.Sorted(maps.Keys(sizes)) {
		if in.Bytes > 0 && free >= in.Bytes {
			break
		}
		free += sizes[name]
		of := strings.Split(name, " ")
		job, hash := of[len(of)-2], of[len(of)-1]
		delete(e.albums[job].whole, hash)
		a.Write = append(a.Write, Write{Op: "free", In: inPhotos, Key: []any{job, hash}})
	}
	return a, nil
}

// resend sends every whole photo again, to a server that may have lost some. It takes
// none twice.
func (e *Engine) resend(nothing) (Answer, error) {
	var a Answer
	clear(e.untaken)
	for _, job := range slices.Sorted(maps.Keys(e.albums)) {
		a.Write = append(a.Write, e.sendAgain(job, nil)...)
	}
	a.Say = e.say("")
	return a, nil
}

// sendAgain notes a job's whole photos as not sent, but for those that the server has.
func (e *Engine) sendAgain(job string, has []string) (writes []Write) {
	album := e.album(job)
	for _, hash := range slices.Sorted(maps.Keys(album.whole)) {
		if !album.sending[hash] && !slices.Contains(has, hash) {
			album.sending[hash] = true
			writes = append(writes, Write{Op: "owe", In: inSending, Key: []any{job, hash}})
		}
	}
	return writes
}

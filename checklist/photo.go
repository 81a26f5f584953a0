package checklist

import (
	"bytes"
	"cmp"
	"encoding/json"
)

// A Photo names a picture by its content. The picture itself is kept beside the
// log: the log, and what is sealed of it, has the hash.
type Photo struct {
	SHA256 string `json:"sha256"` // of the file, in hexadecimal
	Bytes  int64  `json:"bytes"`
	Type   string `json:"type"`   // PhotoType
	Width  int    `json:"width"`  // pixels
	Height int    `json:"height"` // pixels
}

// PhotoType is the one type that photos have.
const PhotoType = "image/jpeg"

// Bounds of photos, by common practice: a phone makes 1600 pixels in some 400 kB of
// one, which shows a screw's head on a wall.
const (
	MaxPhotos     = 12 // of one entry
	MaxPhotoBytes = 2 << 20
	MaxPhotoSide  = 2048 // pixels

	// All photos that a job's entries name.
	MaxJobPhotos     = 2000
	MaxJobPhotoBytes = 1 << 30

	// What the entries of one device may take of that, so that it leaves room for the
	// others; a lead's may take all of it.
	MaxDevicePhotos     = MaxJobPhotos / 4
	MaxDevicePhotoBytes = MaxJobPhotoBytes / 4
)

// A PhotoNamed is a photo with the entry that names it.
type PhotoNamed struct {
	Photo
	Record Record
}

// PhotosOf are the photos that an entry names, whatever was decided about it; none
// of an entry whose photos cannot be read.
func PhotosOf(e Entry) []Photo {
	if !bytes.Contains(e.Body, []byte(`"photos":`)) {
		return nil
	}
	var b struct {
		Photos []Photo `json:"photos"`
	}
	if json.Unmarshal(e.Body, &b) != nil || checkPhotos(b.Photos) != nil {
		return nil
	}
	return b.Photos
}

// name adds the photos that a record's entry names.
func (s *State) name(r Record) {
	for _, p := range PhotosOf(r.Entry) {
		s.Photos = append(s.Photos, PhotoNamed{p, r})
	}
}

// Photo finds a photo that an entry of the job names.
func (s *State) Photo(sha256 string) (PhotoNamed, bool) {
	for _, p := range s.Photos {
		if p.SHA256 == sha256 {
			return p, true
		}
	}
	return PhotoNamed{}, false
}

// A PhotoRoom tells whether a photo that a job names has room in it.
type PhotoRoom int

const (
	PhotoFits         PhotoRoom = iota
	PhotoBeyondDevice           // the device whose entry names it has taken its share
	PhotoBeyondJob              // the job has as many as it may
)

// PhotoRoom tells it of a photo that the job names. Those that were named first have
// room first, whether they have arrived or not; each counts once, for the device whose
// entry it first had room with, and one without room counts for nobody.
func (s *State) PhotoRoom(sha256 string) PhotoRoom {
	a := newAlbum()
	room := PhotoBeyondJob
	for _, p := range s.Photos {
		if got := a.add(p); p.SHA256 == sha256 {
			if room = got; room == PhotoFits {
				break
			}
		}
	}
	return room
}

// An album counts the photos that have room in a job.
type album struct {
	has     map[string]bool // by SHA-256
	devices map[string]size
	job     size
}

func newAlbum() *album { return &album{has: map[string]bool{}, devices: map[string]size{}} }

type size struct {
	photos int
	bytes  int64
}

func (s size) with(p Photo) size { return size{s.photos + 1, s.bytes + p.Bytes} }

func (s size) within(photos int, bytes int64) bool { return s.photos <= photos && s.bytes <= bytes }

// add counts a photo that is named, where it has room.
func (a *album) add(p PhotoNamed) PhotoRoom {
	device, job := a.devices[p.Record.Entry.Device].with(p.Photo), a.job.with(p.Photo)
	lead := p.Record.Entry.Role == Lead && p.Record.Accepted // a refused one may only say so
	switch {
	case a.has[p.SHA256]:
		return PhotoFits
	case !job.within(MaxJobPhotos, MaxJobPhotoBytes):
		return PhotoBeyondJob
	case !lead && !device.within(MaxDevicePhotos, MaxDevicePhotoBytes):
		return PhotoBeyondDevice
	}
	a.has[p.SHA256], a.devices[p.Record.Entry.Device], a.job = true, device, job
	return PhotoFits
}

// decidePhotos holds the photos of a new entry to their form and to the job's bounds.
// Those beyond its device's share do not make it false: they stay on the phone.
func (s *State) decidePhotos(e Entry, photos []Photo) error {
	if len(photos) == 0 {
		return nil
	}
	if err := checkPhotos(photos); err != nil {
		return err
	}
	a := newAlbum()
	for _, p := range s.Photos {
		a.add(p)
	}
	for _, p := range photos {
		if a.add(PhotoNamed{p, Record{Entry: e, Decision: Decision{Accepted: true}}}) == PhotoBeyondJob {
			return refuse("This job has as many photos as it may have: %d, or %d MiB of them.", MaxJobPhotos, MaxJobPhotoBytes>>20)
		}
	}
	return nil
}

func checkPhotos(photos []Photo) error {
	if len(photos) > MaxPhotos {
		return refuse("There are %d photos, wanted %d at most.", len(photos), MaxPhotos)
	}
	for i, p := range photos {
		switch err := p.check(); {
		case err != nil:
			return refuse("Photo %d: %v", i+1, err)
		case contains(photos[:i], p.SHA256):
			return refuse("Photo %d is there twice.", i+1)
		}
	}
	return nil
}

func contains(photos []Photo, sha256 string) bool {
	for _, p := range photos {
		if p.SHA256 == sha256 {
			return true
		}
	}
	return false
}

func (p Photo) check() error {
	side := func(name string, pixels int) error {
		if pixels < 1 || pixels > MaxPhotoSide {
			return refuse("%s is %d pixels, wanted 1 to %d.", name, pixels, MaxPhotoSide)
		}
		return nil
	}
	switch {
	case !IsSHA256(p.SHA256):
		return refuse("sha256 is %q, wanted 64 digits and letters a to f.", clip(p.SHA256))
	case p.Type != PhotoType:
		return refuse("type is %q, wanted %s.", clip(p.Type), PhotoType)
	case p.Bytes < 1 || p.Bytes > MaxPhotoBytes:
		return refuse("bytes is %d, wanted 1 to %d.", p.Bytes, MaxPhotoBytes)
	}
	return cmp.Or(side("width", p.Width), side("height", p.Height))
}

// IsSHA256 tells whether a text is a SHA-256 as photos are named by it.
func IsSHA256(s string) bool {
	if len(s) != 64 {
		return false
	}
	for _, r := range []byte(s) {
		if (r < '0' || r > '9') && (r < 'a' || r > 'f') {
			return false
		}
	}
	return true
}

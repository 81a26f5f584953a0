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

// PhotoFits tells whether a photo that the job names is within what all photos of a
// job may come to. Those that were named first are within it first.
func (s *State) PhotoFits(sha256 string) bool { return s.photosFit([]Photo{{SHA256: sha256}}) }

// photosFit counts the photos of the job, and then some more, up to the last of those.
func (s *State) photosFit(more []Photo) bool {
	seen, size, left := map[string]bool{}, int64(0), map[string]bool{}
	for _, p := range more {
		left[p.SHA256] = true
	}
	fits := func(p Photo) bool {
		if !seen[p.SHA256] {
			seen[p.SHA256], size = true, size+p.Bytes
		}
		delete(left, p.SHA256)
		return len(seen) <= MaxJobPhotos && size <= MaxJobPhotoBytes
	}
	for _, p := range s.Photos {
		if !fits(p.Photo) {
			return false
		}
		if len(left) == 0 {
			return true
		}
	}
	for _, p := range more {
		if !fits(p) {
			return false
		}
	}
	return true
}

// decidePhotos holds the photos of a new entry to their form and bounds.
func (s *State) decidePhotos(photos []Photo) error {
	if len(photos) == 0 {
		return nil
	}
	if err := checkPhotos(photos); err != nil {
		return err
	}
	if !s.photosFit(photos) {
		return refuse("This job has as many photos as it may have: %d, or %d MiB of them.", MaxJobPhotos, MaxJobPhotoBytes>>20)
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

package photos

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"
	"sync"
	"syscall"
	"time"

	"hangtrue/checklist"
	"hangtrue/checklist/picture"
	"hangtrue/server/store"
)

// MaxPiece bounds one piece in bytes. A request is held in memory whole before it is
// taken, and one that is cut off brings nothing.
const MaxPiece = 256 << 10

const (
	partsDir = ".parts"
	partLife = 7 * 24 * time.Hour // common practice, no source
	ending   = ".jpg"
)

// Limits of a store.
type Limits struct {
	Total   int64 // bytes of all pictures
	Reserve int64 // bytes that stay free on the disk, for the logs
	Parts   int   // pictures that are not whole; the one that waits longest gives way

	// Of one device that has a share: bytes that it made whole since the store was
	// opened, and pictures that are not whole. 0 is no bound.
	Device      int64
	DeviceParts int
}

// Usual are the limits of a server, by common practice: 64 GiB are some 160,000
// pictures as phones make them.
var Usual = Limits{Total: 64 << 30, Reserve: 256 << 20, Parts: 256, Device: 8 << 30, DeviceParts: 8}

// Errors of a store.
var (
	// ErrMissing is returned when a picture is not there.
	ErrMissing = errors.New("photos: it is not here")
	// ErrLong is returned when a piece is too long, or goes beyond the picture's end.
	ErrLong = errors.New("photos: the piece is too long")
	// ErrHash is returned with the last piece of what is not the picture of its name.
	// What had arrived is gone.
	ErrHash = errors.New("photos: it is not what its hash names")
	// ErrRoom is returned when there are as many pictures as the store takes, or the
	// disk has no more room than the logs may need.
	ErrRoom = errors.New("photos: there is no room for more")
)

// ErrShare is returned when the device that brings a picture has used up its share.
var ErrShare = errors.New("photos: this device has brought as many as one may")

// A Place is returned when a piece does not begin where the one before it ended.
type Place struct{ Want int64 }

func (p *Place) Error() string {
	return fmt.Sprintf("photos: the next piece begins at byte %d", p.Want)
}

// A Sender is the device that brings a picture; the zero value is the server's owner.
type Sender struct {
	Device string
	Shares bool // it has a share of the room, and not all of it
}

// mark is what the names of a device's parts end with.
func (by Sender) mark() string {
	if by.Device == "" {
		return ""
	}
	sum := sha256.Sum256([]byte(by.Device))
	return "-" + hex.EncodeToString(sum[:8])
}

// A Store keeps pictures in a folder. It is safe for concurrent use.
type Store struct {
	disk   Disk
	limits Limits
	now    func() time.Time

	locks [64]sync.Mutex // one for all pictures whose hashes begin alike

	mu    sync.Mutex // the rest
	total int64      // bytes of all pictures; -1 until they were counted
	// What devices that have a share took of it since the store was opened.
	brought map[string]int64

	naming sync.Mutex      // guards what follows
	named  map[string]bool // folders whose names are on the disk
}

// Open takes a folder, which need not be there yet. Old parts are removed.
func Open(dir string, limits Limits, now func() time.Time) *Store {
	return On(folder(dir), limits, now)
}

// On is Open with a disk of the caller's.
func On(disk Disk, limits Limits, now func() time.Time) *Store {
	s := &Store{disk: disk, limits: limits, now: now, total: -1, brought: map[string]int64{}, named: map[string]bool{}}
	s.tidy(limits.Parts)
	return s
}

// home is where a picture has its name.
func home(sha256 string) string { return sha256[:2] + "/" + sha256 + ending }

// part is where what a sender brought of a picture waits. Each has its own, so that
// nobody can spoil what another brings.
func part(by Sender, sha256 string) string { return partsDir + "/" + sha256 + by.mark() }

func (s *Store) lock(sha256 string) *sync.Mutex {
	first, _ := hex.DecodeString(sha256[:2]) // checked before
	return &s.locks[int(first[0])%len(s.locks)]
}

// Has tells whether a picture has arrived. It does not read it.
func (s *Store) Has(p checklist.Photo) bool {
	file, err := s.disk.Stat(home(p.SHA256))
	return err == nil && file.Size == p.Bytes
}

// Read gives a picture, ErrMissing if it has not arrived.
func (s *Store) Read(p checklist.Photo) ([]byte, error) { return read(s.disk, home(p.SHA256), p) }

func read(disk Disk, name string, p checklist.Photo) ([]byte, error) {
	data, err := disk.Read(name, p.Bytes+1)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, ErrMissing
	} else if err != nil {
		return nil, fmt.Errorf("photos: %w", err)
	}
	if int64(len(data)) != p.Bytes || !is(data, p.SHA256) {
		return nil, &store.Damage{What: "the photo " + p.SHA256 + " is not what its name says"}
	}
	return data, nil
}

func is(data []byte, want string) bool {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:]) == want
}

// Arrived is [Store.ArrivedFrom] the owner.
func (s *Store) Arrived(p checklist.Photo) (bytes int64, whole bool, err error) {
	return s.ArrivedFrom(Sender{}, p)
}

// ArrivedFrom tells how much a sender has brought of a picture, and whether it is whole,
// whoever brought it.
func (s *Store) ArrivedFrom(by Sender, p checklist.Photo) (bytes int64, whole bool, err error) {
	lock := s.lock(p.SHA256)
	lock.Lock()
	defer lock.Unlock()
	return s.arrived(by, p)
}

func (s *Store) arrived(by Sender, p checklist.Photo) (bytes int64, whole bool, err error) {
	var damage *store.Damage
	switch _, err := s.Read(p); {
	case err == nil:
		if err := s.sure(p.SHA256); err != nil {
			return 0, false, err
		}
		return p.Bytes, true, nil
	case !errors.Is(err, ErrMissing) && !errors.As(err, &damage):
		return 0, false, err
	}
	file, err := s.disk.Stat(part(by, p.SHA256))
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return 0, false, nil
	case err != nil:
		return 0, false, fmt.Errorf("photos: %w", err)
	case file.Size > p.Bytes: // it was begun for another length, and is none of it
		return 0, false, s.disk.Remove(part(by, p.SHA256))
	}
	return file.Size, false, nil
}

// Add is [Store.AddFrom] the owner.
func (s *Store) Add(p checklist.Photo, from int64, piece []byte) (bytes int64, whole bool, err error) {
	return s.AddFrom(Sender{}, p, from, piece)
}

// AddFrom takes a piece of a picture. With the last one it is whole, or refused: ErrHash,
// or a [picture.ErrPicture] that says why. An empty piece at the end asks for that
// again, where the answer to the last one was lost. What a sender with a share begins
// beyond it is ErrShare.
func (s *Store) AddFrom(by Sender, p checklist.Photo, from int64, piece []byte) (bytes int64, whole bool, err error) {
	lock := s.lock(p.SHA256)
	lock.Lock()
	defer lock.Unlock()
	bytes, whole, err = s.arrived(by, p)
	switch {
	case err != nil || whole:
		return bytes, whole, err
	case from != bytes:
		return bytes, false, &Place{bytes}
	case len(piece) > MaxPiece || from+int64(len(piece)) > p.Bytes:
		return bytes, false, fmt.Errorf("%w: %d bytes from %d, of %d", ErrLong, len(piece), from, p.Bytes)
	}
	if err := s.room(by, p, from); err != nil {
		return bytes, false, full(err)
	}
	if err := s.disk.Write(part(by, p.SHA256), from, piece); err != nil {
		return bytes, false, full(fmt.Errorf("photos: %w", err))
	}
	if bytes += int64(len(piece)); bytes < p.Bytes {
		return bytes, false, nil
	}
	if err := s.finish(by, p); err != nil {
		return 0, false, full(err)
	}
	return bytes, true, nil
}

// finish gives a part that is complete its name, or drops it.
func (s *Store) finish(by Sender, p checklist.Photo) error {
	data, err := read(s.disk, part(by, p.SHA256), p)
	var damage *store.Damage
	switch {
	case errors.As(err, &damage):
		return s.drop(by, p, ErrHash)
	case errors.Is(err, ErrMissing):
		return gaveWay
	case err != nil:
		return err
	}
	if err := check(data, p); err != nil {
		return s.drop(by, p, err)
	}
	spoilt, _ := s.disk.Stat(home(p.SHA256)) // of no size where there is none
	if err := s.publish(part(by, p.SHA256), p.SHA256); err != nil {
		return err
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.total >= 0 {
		s.total += p.Bytes - spoilt.Size
	}
	if by.Shares {
		s.brought[by.Device] += p.Bytes
	}
	for _, f := range s.parts() { // what others have brought of it
		if strings.HasPrefix(f.Name, p.SHA256) {
			_ = s.disk.Remove(partsDir + "/" + f.Name)
		}
	}
	return nil
}

// drop drops a part for a reason. One that cannot be dropped would be found wrong once
// more, and whoever brings it would take that for the picture's fault.
func (s *Store) drop(by Sender, p checklist.Photo, why error) error {
	if err := s.disk.Remove(part(by, p.SHA256)); err != nil {
		return fmt.Errorf("photos: %w", err)
	}
	return why
}

// check sees that the bytes are the picture that the entry describes.
func check(data []byte, p checklist.Photo) error {
	width, height, err := picture.Check(data)
	if err == nil && (width != p.Width || height != p.Height) {
		err = fmt.Errorf("%w: it is %d × %d pixels, and its entry says %d × %d", picture.ErrPicture, width, height, p.Width, p.Height)
	}
	return err
}

// gaveWay is what becomes of a part that had to make room for another meanwhile.
var gaveWay = &Place{0}

// publish puts a part on the disk and gives it its name there.
func (s *Store) publish(part, sha256 string) error {
	at := path.Dir(home(sha256))
	err := s.disk.Make(at)
	if err == nil {
		if err = s.disk.Sync(part); err != nil && !errors.Is(err, fs.ErrNotExist) {
			// Another try may be told that all is well, though what was written is lost.
			err = errors.Join(err, s.disk.Remove(part))
		}
	}
	if err == nil {
		err = s.disk.Rename(part, home(sha256))
		s.naming.Lock()
		delete(s.named, at) // after the new name is there: whoever syncs from here on syncs it
		s.naming.Unlock()
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return gaveWay
	case err != nil:
		return fmt.Errorf("photos: %w", err)
	}
	return s.sure(sha256)
}

// sure sees that the names in a picture's folder are on the disk: a process that was
// killed may have given some and not come to that.
func (s *Store) sure(sha256 string) error {
	s.naming.Lock()
	defer s.naming.Unlock()
	at := path.Dir(home(sha256))
	if s.named[at] {
		return nil
	}
	if err := errors.Join(s.disk.Sync(at), s.disk.Sync(".")); err != nil {
		return fmt.Errorf("photos: %w", err)
	}
	s.named[at] = true
	return nil
}

// room sees that there is room for the rest of a picture, and for one more part when
// it is a new one.
func (s *Store) room(by Sender, p checklist.Photo, from int64) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if err := s.disk.Make(partsDir); err != nil {
		return fmt.Errorf("photos: %w", err)
	}
	if from == 0 {
		if err := s.count(); err != nil {
			return err
		}
		if s.total+p.Bytes > s.limits.Total {
			return fmt.Errorf("%w: %d bytes of photos are here", ErrRoom, s.total)
		}
		if by.Shares && s.limits.Device > 0 && s.brought[by.Device]+p.Bytes > s.limits.Device {
			return ErrShare
		}
		s.begin(by, p.SHA256)
		s.tidy(s.limits.Parts - 1)
	}
	if left, known := s.disk.Free(); known && left < s.limits.Reserve+p.Bytes-from {
		return fmt.Errorf("%w: %d bytes are free on the disk", ErrRoom, left)
	}
	return nil
}

// count counts the bytes of all pictures, once. The caller holds mu.
func (s *Store) count() error {
	if s.total >= 0 {
		return nil
	}
	total := int64(0)
	folders, err := s.disk.List(".")
	for _, f := range folders {
		if err != nil || !f.Folder || f.Name == partsDir {
			continue
		}
		var files []File
		files, err = s.disk.List(f.Name)
		for _, f := range files {
			if strings.HasSuffix(f.Name, ending) {
				total += f.Size
			}
		}
	}
	if err != nil {
		return fmt.Errorf("photos: %w", err)
	}
	s.total = total
	return nil
}

// parts are those that wait, the one that waits longest first.
func (s *Store) parts() []File {
	parts, err := s.disk.List(partsDir)
	if err != nil {
		return nil // there are none
	}
	slices.SortFunc(parts, func(a, b File) int { return cmp.Or(a.Changed.Compare(b.Changed), cmp.Compare(a.Name, b.Name)) })
	return parts
}

// begin has the sender's own part that waits longest give way to a new one when it has
// as many as its share lets it. The caller holds mu.
func (s *Store) begin(by Sender, sha256 string) {
	if !by.Shares || s.limits.DeviceParts == 0 {
		return
	}
	own := slices.DeleteFunc(s.parts(), func(f File) bool { return !strings.HasSuffix(f.Name, by.mark()) || strings.HasPrefix(f.Name, sha256) })
	if len(own) >= s.limits.DeviceParts {
		_ = s.disk.Remove(partsDir + "/" + own[0].Name)
	}
}

// tidy removes parts that nobody went on with for a week, and those that wait longest
// beyond so many. One that is being written to loses nothing but time: its next piece
// is told to begin again.
func (s *Store) tidy(most int) {
	parts := s.parts()
	for i, f := range parts {
		if s.now().Sub(f.Changed) > partLife || len(parts)-i > most {
			_ = s.disk.Remove(partsDir + "/" + f.Name)
		}
	}
}

// full names an error of a disk without room by its own name.
func full(err error) error {
	if errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) || errors.Is(err, syscall.EFBIG) {
		return fmt.Errorf("%w: %w", store.ErrFull, err)
	}
	return err
}

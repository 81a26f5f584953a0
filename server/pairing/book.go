package pairing

import (
	"bytes"
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"time"

	"hangtrue/server/folder"
)

// File is where a book is, below the data folder.
const File = "keys/devices.json"

// Errors of a book.
var (
	// ErrCode is returned for a code that pairs nothing: wrong, used, late or closed.
	ErrCode = errors.New("pairing: the code is not open")
	// ErrToken is returned for a token that nobody holds, or holds no longer.
	ErrToken = errors.New("pairing: the token is not known")
	// ErrLink is returned for a link that opens nothing.
	ErrLink = errors.New("pairing: the link is not open")
	// ErrPaired is returned when the device is paired and the caller is not it.
	ErrPaired = errors.New("pairing: the device is paired already")
	// ErrNone is returned when there is no such device or link.
	ErrNone = errors.New("pairing: no such device or link")
	// ErrFull is returned when the book takes no more.
	ErrFull = errors.New("pairing: too many devices or links")
	// ErrInput is wrapped when a field cannot be taken as it is.
	ErrInput = errors.New("pairing")
	// ErrDamaged is wrapped when the file is not what was written.
	ErrDamaged = errors.New("the list of paired devices cannot be read")
	// ErrNewer is wrapped when the file is of a format that came later.
	ErrNewer = errors.New("the list of paired devices was written by a newer hangtrue")
)

// A Book is the list of who may come in, in one file. It is safe for concurrent use,
// by several processes too.
type Book struct {
	path string
	now  func() time.Time

	mu   sync.Mutex
	kept kept
	read fs.FileInfo // of the file that kept was read from, nil where there was none
}

// kept is what the file holds. Behind it stands a line with its hash: a single bit that
// turned over would let somebody in for longer, or lock a phone out, without a word.
type kept struct {
	Format  string   `json:"format"`
	Address string   `json:"address,omitempty"` // where phones reach the server, for links
	Codes   []code   `json:"codes,omitempty"`
	Devices []Device `json:"devices,omitempty"`
	Links   []Link   `json:"links,omitempty"`
}

// format is what is written. The first one had no hash; it is read, and written as
// this one with the next change.
const (
	formatPrefix = "hangtrue-devices/"
	format       = formatPrefix + "2"
	firstFormat  = formatPrefix + "1"
)

// maxFile bounds the file; what the book takes fits in a quarter of it.
const maxFile = 4 << 20

// Open opens the book of a data folder. A file that is damaged is refused with
// [ErrDamaged]; none is an empty book.
func Open(dir string, now func() time.Time) (*Book, error) {
	path := filepath.Join(dir, filepath.FromSlash(File))
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return nil, fmt.Errorf("pairing: %w", err)
	}
	b := &Book{path: path, now: now}
	b.mu.Lock()
	defer b.mu.Unlock()
	return b, b.load()
}

// Look tells what is wrong with the book of a data folder, without changing anything.
// None is nothing wrong.
func Look(dir string) error {
	b := &Book{path: filepath.Join(dir, filepath.FromSlash(File))}
	return b.load()
}

// load reads the file if it is not the one that was read last. A new file is always
// another one: it is written under another name and renamed.
func (b *Book) load() error {
	info, err := os.Stat(b.path)
	if errors.Is(err, fs.ErrNotExist) {
		b.kept, b.read = kept{Format: format}, nil
		return nil
	}
	if err != nil {
		return fmt.Errorf("pairing: %w", err)
	}
	if b.read != nil && os.SameFile(info, b.read) && info.ModTime().Equal(b.read.ModTime()) && info.Size() == b.read.Size() {
		return nil
	}
	b.read = nil // until it is read, nobody is known
	b.kept = kept{}
	damaged := func(what string) error {
		return fmt.Errorf("pairing: %s: %w: %s. Remove it, and pair every phone again", b.path, ErrDamaged, what)
	}
	if mode := info.Mode().Perm(); mode&0o022 != 0 {
		return damaged(fmt.Sprintf("others may write it (mode %04o)", mode))
	}
	if info.Size() > maxFile {
		return damaged("it is too large")
	}
	data, err := os.ReadFile(b.path)
	if err != nil {
		return fmt.Errorf("pairing: %w", err)
	}
	k, err := decode(data)
	switch {
	case errors.Is(err, ErrNewer):
		return fmt.Errorf("pairing: %s: %w. Use the newer program", b.path, err)
	case err != nil:
		return damaged(err.Error())
	}
	b.kept, b.read = k, info
	return nil
}

// encode is the file of what is kept.
func (k kept) encode() ([]byte, error) {
	k.Format = format
	data, err := json.MarshalIndent(k, "", "\t")
	data = append(data, '\n')
	return append(data, sumLine(data)...), err
}

// sumPrefix begins the line behind what is kept.
const sumPrefix = "sha256 "

func sumLine(data []byte) string { return fmt.Sprintf("%s%x\n", sumPrefix, sha256.Sum256(data)) }

// decode reads what encode wrote, and a file of the first format.
func decode(data []byte) (k kept, err error) {
	var head struct{ Format string }
	d := json.NewDecoder(bytes.NewReader(data))
	if err := d.Decode(&head); err != nil {
		return k, err
	}
	end := bytes.LastIndex(data, []byte("\n"+sumPrefix)) + 1
	switch number, err := strconv.Atoi(strings.TrimPrefix(head.Format, formatPrefix)); {
	case head.Format == firstFormat && end == 0:
		end = len(data)
	case head.Format == format && string(data[end:]) == sumLine(data[:end]):
	case head.Format == format:
		return k, errors.New("it is not what was written")
	case err == nil && head.Format == formatPrefix+strconv.Itoa(number) && number > 2:
		return k, fmt.Errorf("%w: its format is %q and this program reads up to %q", ErrNewer, head.Format, format)
	default:
		return k, fmt.Errorf("its format is %.40q, wanted %q", head.Format, format)
	}
	d = json.NewDecoder(bytes.NewReader(data[:end]))
	d.DisallowUnknownFields()
	if err := d.Decode(&k); err != nil {
		return k, err
	}
	if _, err := d.Token(); err != io.EOF {
		return k, errors.New("something follows it")
	}
	return k, nil
}

// change reads what the file has now, lets the function change it, and writes it
// back where it says so, even where it fails: a wrong try counts. The next question
// reads the file again, so that what was not written is not believed.
func (b *Book) change(do func(k *kept, now time.Time) (write bool, err error)) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	unlock, err := lockFile(b.path + ".lock")
	if err != nil {
		return fmt.Errorf("pairing: %w", err)
	}
	defer unlock()
	b.read = nil // the function may change what was read without keeping it
	defer func() { b.read = nil }()
	if err := b.load(); err != nil {
		return err
	}
	write, failed := do(&b.kept, b.now().UTC())
	if !write {
		return failed
	}
	data, err := b.kept.encode()
	if err == nil {
		err = folder.WriteWhole(b.path, data)
	}
	if err != nil {
		return fmt.Errorf("pairing: %w", err)
	}
	return failed
}

// look lets the function look at what the file has now. It costs a stranger's question
// next to nothing, where change takes the lock and reads the file again.
func (b *Book) look(see func(k *kept, now time.Time)) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if err := b.load(); err != nil {
		return err
	}
	see(&b.kept, b.now().UTC())
	return nil
}

// Announce keeps where phones reach the server, for links that others make.
func (b *Book) Announce(address string) error {
	return b.change(func(k *kept, _ time.Time) (bool, error) {
		changed := k.Address != address
		k.Address = address
		return changed, nil
	})
}

// Address is what was announced last.
func (b *Book) Address() (address string, err error) {
	err = b.change(func(k *kept, _ time.Time) (bool, error) { address = k.Address; return false, nil })
	return address, err
}

// secret makes a secret of 256 bits and the hash that is kept of it. Nobody guesses
// 256 bits, so the hash needs neither salt nor delay.
func secret() (text, hash string) {
	var bits [32]byte
	_, _ = rand.Read(bits[:]) // never fails
	text = base64.RawURLEncoding.EncodeToString(bits[:])
	return text, hashOf(text)
}

func hashOf(secret string) string {
	sum := sha256.Sum256([]byte(secret))
	return base64.RawURLEncoding.EncodeToString(sum[:])
}

// same compares in a time that tells nothing about where two texts differ.
func same(a, b string) bool {
	return a != "" && subtle.ConstantTimeCompare([]byte(a), []byte(b)) == 1
}

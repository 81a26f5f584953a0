package care

import (
	"archive/tar"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"hangtrue/server/bolt"
)

// A writer takes the parts of a backup one after another. Nothing has the
// backup's name before publish.
type writer interface {
	add(name string, size int64, from io.Reader) error
	// sync puts all of it on the disk; it can then be read under at.
	sync() (at string, err error)
	publish() error
	discard()
}

const partial = ".partial-"

// newWriter makes a tar file where the name says so, else a folder.
func newWriter(target string, made time.Time) (writer, error) {
	if _, err := os.Lstat(target); err == nil {
		return nil, fmt.Errorf("%s: %w; nothing is written over", target, ErrExists)
	} else if !errors.Is(err, os.ErrNotExist) {
		return nil, err
	}
	dir, name := filepath.Split(target)
	if dir == "" {
		dir = "."
	}
	if !strings.HasSuffix(target, ".tar") {
		at, err := os.MkdirTemp(dir, "."+name+partial)
		return &folderWriter{target: target, at: at}, err
	}
	f, err := os.CreateTemp(dir, "."+name+partial+"*")
	if err != nil {
		return nil, err
	}
	return &tarWriter{target, f, tar.NewWriter(f), made}, nil
}

type tarWriter struct {
	target string
	file   *os.File
	*tar.Writer
	made time.Time
}

func (w *tarWriter) add(name string, size int64, from io.Reader) error {
	err := w.WriteHeader(&tar.Header{Typeflag: tar.TypeReg, Name: name, Size: size, Mode: 0o600, ModTime: w.made, Format: tar.FormatPAX})
	if err != nil {
		return err
	}
	return copyExactly(w, from, size)
}

func (w *tarWriter) sync() (string, error) {
	return w.file.Name(), errors.Join(w.Close(), w.file.Sync(), w.file.Close())
}

func (w *tarWriter) publish() error {
	// Link, unlike rename, does not replace what another wrote meanwhile.
	switch err := os.Link(w.file.Name(), w.target); {
	case err == nil:
		_ = os.Remove(w.file.Name())
	case errors.Is(err, os.ErrExist):
		return fmt.Errorf("%s: %w; nothing is written over", w.target, ErrExists)
	default: // not every file system has links
		if err := os.Rename(w.file.Name(), w.target); err != nil {
			return err
		}
	}
	return bolt.SyncDir(filepath.Dir(w.target))
}

func (w *tarWriter) discard() { _, _ = w.file.Close(), os.Remove(w.file.Name()) }

type folderWriter struct{ target, at string }

func (w *folderWriter) add(name string, size int64, from io.Reader) error {
	f, err := createPart(w.at, name)
	if err != nil {
		return err
	}
	return errors.Join(copyExactly(f, from, size), f.Sync(), f.Close())
}

func (w *folderWriter) sync() (string, error) { return w.at, syncFolders(w.at) }

func (w *folderWriter) publish() error {
	if err := os.Rename(w.at, w.target); err != nil {
		return err
	}
	return bolt.SyncDir(filepath.Dir(w.target))
}

func (w *folderWriter) discard() { _ = os.RemoveAll(w.at) }

// createPart makes the file of a part in a folder, for its owner alone.
func createPart(dir, name string) (*os.File, error) {
	path := filepath.Join(dir, filepath.FromSlash(name))
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return nil, err
	}
	return os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
}

// syncFolders makes every name under a folder last.
func syncFolders(dir string) error {
	return filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || !d.IsDir() {
			return err
		}
		return bolt.SyncDir(path)
	})
}

func copyExactly(to io.Writer, from io.Reader, size int64) error {
	n, err := io.Copy(to, io.LimitReader(from, size+1))
	if err == nil && n != size {
		err = errors.New("it changed while it was copied")
	}
	return err
}

// a measured reader knows the size and hash of what went through it.
type measured struct {
	io.Reader
	size int64
	hash interface {
		io.Writer
		Sum([]byte) []byte
	}
}

func measure(r io.Reader) *measured { return &measured{Reader: r, hash: sha256.New()} }

func (m *measured) Read(p []byte) (int, error) {
	n, err := m.Reader.Read(p)
	m.size += int64(n)
	_, _ = m.hash.Write(p[:n])
	return n, err
}

func (m *measured) part(name string) Part {
	return Part{name, m.size, hex.EncodeToString(m.hash.Sum(nil))}
}

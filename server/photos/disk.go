package photos

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"time"

	"hangtrue/server/bolt"
)

// A Disk is the folder that a store keeps its files in. Names are within it, with
// slashes, "." is the folder itself; what is not there is fs.ErrNotExist. A power cut
// may take back what was not synced: the bytes of a file, and names of files in a folder.
type Disk interface {
	Stat(name string) (File, error)
	// Read gives at most so many bytes from the beginning.
	Read(name string, most int64) ([]byte, error)
	// Write writes at a place in a file, which is made if it is not there. After an
	// error the file ends at that place, if the disk still does what it is told.
	Write(name string, at int64, data []byte) error
	// Sync has a file or a folder on the medium.
	Sync(name string) error
	Rename(from, to string) error
	Remove(name string) error
	// Make makes a folder, and those above it, if they are not there.
	Make(folder string) error
	List(folder string) ([]File, error)
	// Free is how many bytes may still be written, where that is known.
	Free() (bytes int64, known bool)
}

// A File is one that is listed.
type File struct {
	Name    string // without its folder
	Size    int64
	Changed time.Time
	Folder  bool
}

// A folder is one of this machine's.
type folder string

// Folder is a folder of this machine's, which need not be there yet.
func Folder(dir string) Disk { return folder(dir) }

func (f folder) at(name string) string { return filepath.Join(string(f), filepath.FromSlash(name)) }

func fileOf(info os.FileInfo) File {
	return File{info.Name(), info.Size(), info.ModTime(), info.IsDir()}
}

func (f folder) Stat(name string) (File, error) {
	info, err := os.Stat(f.at(name))
	if err != nil {
		return File{}, err
	}
	return fileOf(info), nil
}

func (f folder) Read(name string, most int64) ([]byte, error) {
	file, err := os.Open(f.at(name))
	if err != nil {
		return nil, err
	}
	defer file.Close()
	return io.ReadAll(io.LimitReader(file, most))
}

func (f folder) Write(name string, at int64, data []byte) error {
	file, err := os.OpenFile(f.at(name), os.O_WRONLY|os.O_CREATE, 0o600)
	if err != nil {
		return err
	}
	if _, err = file.WriteAt(data, at); err != nil {
		err = errors.Join(err, file.Truncate(at)) // as it was
	}
	return errors.Join(err, file.Close())
}

func (f folder) Sync(name string) error {
	info, err := os.Stat(f.at(name))
	if err != nil {
		return err
	}
	if info.IsDir() {
		return bolt.SyncDir(f.at(name))
	}
	file, err := os.OpenFile(f.at(name), os.O_WRONLY, 0)
	if err != nil {
		return err
	}
	return errors.Join(file.Sync(), file.Close())
}

func (f folder) Rename(from, to string) error { return os.Rename(f.at(from), f.at(to)) }
func (f folder) Remove(name string) error     { return os.Remove(f.at(name)) }
func (f folder) Make(name string) error       { return os.MkdirAll(f.at(name), 0o700) }

func (f folder) List(name string) (files []File, err error) {
	entries, err := os.ReadDir(f.at(name))
	for _, e := range entries {
		if info, err := e.Info(); err == nil { // else it is gone meanwhile
			files = append(files, fileOf(info))
		}
	}
	return files, err
}

func (f folder) Free() (bytes int64, known bool) { return free(string(f)) }

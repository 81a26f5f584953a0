package folder

import (
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"hangtrue/server/bolt"
)

// Serving says where the server that uses a folder can be asked for a copy of its
// store, and with which word. Who may read the folder may ask.
type Serving struct {
	Address string `json:"address"` // host and port, of this computer
	Token   string `json:"token"`
	// Own is where this computer's browsers and commands reach the server's pages, as
	// host and port; empty where they do not.
	Own string `json:"own,omitempty"`
}

// ErrNotServing is returned when no server has said that it uses the folder.
var ErrNotServing = errors.New("no server has said that it uses this folder")

// Announce says that a server uses the folder; [Folder.Close] takes it back.
func (f *Folder) Announce(address string) (Serving, error) {
	f.serving.Address, f.serving.Token = address, rand.Text()
	return f.serving, f.announce()
}

// Serves says where the pages of the server that uses the folder are.
func (f *Folder) Serves(own string) error {
	f.serving.Own = own
	return f.announce()
}

// Served tells whether a server that uses the folder at this moment has its pages at an
// address. Another program may listen where one did that is gone.
func Served(dir, at string) bool {
	s, err := ReadServing(dir)
	return err == nil && s.Own != "" && s.Own == at && bolt.InUse(filepath.Join(dir, JobsFile))
}

func (f *Folder) announce() error {
	data, err := json.Marshal(f.serving)
	if err != nil {
		return err
	}
	if err := WriteWhole(filepath.Join(f.dir, servingFile), append(data, '\n')); err != nil {
		return fmt.Errorf("folder: %w", err)
	}
	f.announced = true
	return nil
}

// ReadServing reads what the server that uses a folder announced. After a crash it
// may be what one announced that is gone.
func ReadServing(dir string) (s Serving, err error) {
	data, err := os.ReadFile(filepath.Join(dir, servingFile))
	if errors.Is(err, fs.ErrNotExist) {
		return Serving{}, ErrNotServing
	}
	if err != nil {
		return Serving{}, fmt.Errorf("folder: %w", err)
	}
	if err := json.Unmarshal(data, &s); err != nil {
		return Serving{}, fmt.Errorf("folder: %s cannot be read: %w", servingFile, err)
	}
	return s, nil
}

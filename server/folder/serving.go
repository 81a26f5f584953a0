package folder

import (
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
)

// Serving says where the server that uses a folder can be asked for a copy of its
// store, and with which word. Who may read the folder may ask.
type Serving struct {
	Address string `json:"address"` // host and port, of this computer
	Token   string `json:"token"`
}

// ErrNotServing is returned when no server has said that it uses the folder.
var ErrNotServing = errors.New("no server has said that it uses this folder")

// Announce says that a server uses the folder; [Folder.Close] takes it back.
func (f *Folder) Announce(address string) (Serving, error) {
	s := Serving{address, rand.Text()}
	data, err := json.Marshal(s)
	if err != nil {
		return Serving{}, err
	}
	if err := WriteWhole(filepath.Join(f.dir, servingFile), append(data, '\n')); err != nil {
		return Serving{}, fmt.Errorf("folder: %w", err)
	}
	f.announced = true
	return s, nil
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

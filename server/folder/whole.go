package folder

import (
	"errors"
	"os"
	"path/filepath"

	"hangtrue/server/bolt"
)

// WriteWhole writes a file, for its owner alone, under another name, syncs it and
// then gives it its name, so that it is there whole or not at all.
func WriteWhole(path string, data []byte) error {
	dir := filepath.Dir(path)
	f, err := os.CreateTemp(dir, ".new-*") // mode 0600
	if err != nil {
		return err
	}
	defer os.Remove(f.Name())
	_, err = f.Write(data)
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return err
	}
	return bolt.SyncDir(dir)
}

package folder

import (
	"errors"
	"os"
	"path/filepath"
	"syscall"

	"hangtrue/server/bolt"
)

// Hand gives a file that root made to the owner of a folder: a command that an
// administrator runs must not keep the server from its own files.
func Hand(f *os.File, dir string) error {
	if os.Geteuid() != 0 {
		return nil
	}
	info, err := os.Stat(dir)
	if err != nil {
		return err
	}
	owner, ok := info.Sys().(*syscall.Stat_t)
	if !ok || owner.Uid == 0 {
		return nil
	}
	return f.Chown(int(owner.Uid), int(owner.Gid))
}

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
	if err := errors.Join(err, Hand(f, dir), f.Sync(), f.Close()); err != nil {
		return err
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return err
	}
	return bolt.SyncDir(dir)
}

// Package folder is the server's data folder: where the store and the keys are.
//
//	jobs.db        the logs of all jobs
//	keys/seal.key  the secret key that seals are signed with, mode 0600
//
// The folder is for its owner alone (mode 0700). One process at a time uses it.
package folder

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"hangtrue/checklist/seal"
	"hangtrue/server/bolt"
)

// A Folder that is open.
type Folder struct {
	Store *bolt.Store
	Key   *seal.Key
}

// ErrKey is wrapped when the key's file is missing, readable by others or damaged.
var ErrKey = errors.New("the key that seals are signed with cannot be used")

// Open opens a data folder and makes what is not there yet. A folder that has jobs
// but no key is refused: a new key would make every seal so far look forged.
func Open(dir string) (*Folder, error) {
	if err := os.MkdirAll(filepath.Join(dir, "keys"), 0o700); err != nil {
		return nil, fmt.Errorf("folder: %w", err)
	}
	store, err := bolt.Open(filepath.Join(dir, "jobs.db"))
	if err != nil {
		return nil, err
	}
	// The store's lock is held from here on, so that no two processes make a key.
	key, err := openKey(filepath.Join(dir, "keys", "seal.key"), func() (bool, error) {
		lines, err := store.Lines()
		return len(lines) == 0, err
	})
	if err != nil {
		_ = store.Close()
		return nil, err
	}
	return &Folder{store, key}, nil
}

// Close closes the store.
func (f *Folder) Close() error { return f.Store.Close() }

// maxKey bounds the key's file; a key takes some hundred bytes.
const maxKey = 4096

func openKey(path string, mayMake func() (bool, error)) (*seal.Key, error) {
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		fresh, err := mayMake()
		if err != nil {
			return nil, err
		}
		if !fresh {
			return nil, fmt.Errorf("folder: %s: %w: it is missing although jobs are here. Put the backup's in its place", path, ErrKey)
		}
		return makeKey(path)
	}
	if err != nil {
		return nil, fmt.Errorf("folder: %w", err)
	}
	if mode := info.Mode().Perm(); mode&0o077 != 0 {
		return nil, fmt.Errorf("folder: %s: %w: others may read it (mode %04o). Run chmod 600 on it, and think about who had access", path, ErrKey, mode)
	}
	if info.Size() > maxKey {
		return nil, fmt.Errorf("folder: %s: %w: it is not a key", path, ErrKey)
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("folder: %w", err)
	}
	key, err := seal.ParseKey(strings.TrimSpace(string(data)))
	if err != nil {
		return nil, fmt.Errorf("folder: %s: %w: it is not a key", path, ErrKey)
	}
	return key, nil
}

// makeKey writes a new key whole, under another name first, before anything is signed with it.
func makeKey(path string) (*seal.Key, error) {
	key, secret, err := seal.GenerateKey(rand.Reader)
	if err != nil {
		return nil, err
	}
	dir := filepath.Dir(path)
	f, err := os.CreateTemp(dir, ".key-*") // mode 0600
	if err != nil {
		return nil, fmt.Errorf("folder: %w", err)
	}
	defer os.Remove(f.Name())
	_, err = f.WriteString(secret + "\n")
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return nil, fmt.Errorf("folder: %w", err)
	}
	if err := os.Rename(f.Name(), path); err != nil {
		return nil, fmt.Errorf("folder: %w", err)
	}
	d, err := os.Open(dir)
	if err != nil {
		return nil, fmt.Errorf("folder: %w", err)
	}
	return key, errors.Join(d.Sync(), d.Close())
}

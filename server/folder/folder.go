// Package folder is the server's data folder: where the store and the keys are.
//
//	jobs.db        the logs of all jobs
//	keys/          all that is secret; it stays out of a backup without keys
//	keys/seal.key  the secret key that seals are signed with, mode 0600
//	photos/        the pictures that entries name (package photos)
//	imports/       record files that jobs were made of, as they came from elsewhere
//	serving.json   while a server runs: where it answers its own computer
//
// The folder is for its owner alone (mode 0700). One process at a time uses it.
//
// What becomes of a folder in which something is wrong:
//   - the store is gone although there is a key, its pages are damaged or cut short,
//     it is of a newer format, the key is missing, damaged, another one or readable by
//     others, or everybody may write into the folder: [Open] refuses it with a
//     sentence, and nothing is changed;
//   - records, seals or a job's line are damaged: it is opened, [Folder.Damage] says
//     what, all other jobs go on, and whoever asks for what is damaged is told so;
//   - the disk is full or becomes so: nothing that was answered is lost, what comes
//     gets store.ErrFull, and it goes on when there is room.
package folder

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"hangtrue/checklist/seal"
	"hangtrue/server/bolt"
	"hangtrue/server/photos"
	"hangtrue/server/store"
)

// Names in a folder.
const (
	JobsFile  = "jobs.db"
	KeysDir   = "keys"
	KeyFile   = KeysDir + "/seal.key"
	PhotosDir = "photos"
	// ImportsDir has the record files that were taken over, named by their job.
	ImportsDir = "imports"

	servingFile = "serving.json"
	copyPattern = ".copy-*.db"
)

// IsStore tells names that are the store's, or of the moment: a backup takes the
// store in another way, and the others not at all.
func IsStore(name string) bool {
	return name == JobsFile || strings.HasPrefix(name, JobsFile+".") || name == servingFile
}

// A Folder that is open.
type Folder struct {
	Store  *bolt.Store
	Key    *seal.Key
	Photos *photos.Store
	// Damage is what of the store is not what was written; it is looked for in
	// stores that are small enough.
	Damage []store.Damage

	dir       string
	serving   Serving
	announced bool
}

var (
	// ErrKey is wrapped when the key's file is missing, readable by others or damaged.
	ErrKey = errors.New("the key that seals are signed with cannot be used")
	// ErrLost is wrapped when a folder that had a store has none.
	ErrLost = errors.New("the jobs are gone")
	// ErrOpen is wrapped when everybody on the computer may change what is in a folder.
	ErrOpen = errors.New("everybody may write into it")
)

// Open opens a data folder and makes what is not there yet. A folder that has jobs
// but no key, or another than the one its seals were made with, is refused: a new
// key would make every seal so far look forged. One that has a key but no jobs is
// refused with [ErrLost]: an empty list would hide that they were lost.
func Open(dir string) (*Folder, error) {
	if err := lost(dir); err != nil {
		return nil, err
	}
	return Begin(dir)
}

// Begin is as Open, and makes a store beside a key too: for jobs that come back by
// their records where all else was lost.
func Begin(dir string) (*Folder, error) {
	for _, path := range []string{dir, filepath.Join(dir, KeysDir)} {
		if err := Closed(path); err != nil {
			return nil, err
		}
	}
	if err := os.MkdirAll(filepath.Join(dir, KeysDir), 0o700); err != nil {
		return nil, fmt.Errorf("folder: %w", err)
	}
	s, err := bolt.Open(filepath.Join(dir, JobsFile))
	if err != nil {
		return nil, err
	}
	// The store's lock is held from here on, so that no two processes make a key.
	f := &Folder{Store: s, Photos: photos.Open(filepath.Join(dir, PhotosDir), photos.Usual, time.Now), dir: dir}
	if err := f.open(); err != nil {
		_ = s.Close()
		return nil, err
	}
	return f, nil
}

// lost tells that a store is not where it was. The store is made before the key, so
// that the key is looked for first: another process may be making both.
func lost(dir string) error {
	if _, err := os.Lstat(filepath.Join(dir, filepath.FromSlash(KeyFile))); err != nil {
		return nil // a new folder, or what is said of a folder without a key
	}
	path := filepath.Join(dir, JobsFile)
	if _, err := os.Stat(path); errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("folder: %s: %w: it is missing although the key of its seals is here. "+
			"Put a backup's in its place, or bring jobs back by their records with hangtrue import. To begin anew without any, move %s away too", path, ErrLost, filepath.Join(dir, KeysDir))
	}
	return nil
}

// Closed refuses a folder that everybody on the computer may write into, with
// [ErrOpen]: whoever may do that can put his own key or list of devices there.
func Closed(path string) error {
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	} else if err != nil {
		return fmt.Errorf("folder: %w", err)
	}
	if mode := info.Mode().Perm(); mode&0o002 != 0 {
		return fmt.Errorf("folder: %s: %w (mode %04o). Run chmod 700 on it, and think about who had access", path, ErrOpen, mode)
	}
	return nil
}

func (f *Folder) open() error {
	lines, err := f.Store.Lines()
	if err != nil {
		return err
	}
	if f.Key, err = openKey(filepath.Join(f.dir, filepath.FromSlash(KeyFile)), len(lines) == 0); err != nil {
		return err
	}
	if err := f.bind(lines); err != nil {
		return err
	}
	// The store's lock is ours: what is announced here is of a server that is gone, and
	// another program may listen at its port by now.
	_ = os.Remove(filepath.Join(f.dir, servingFile))
	if left, err := filepath.Glob(filepath.Join(f.dir, copyPattern)); err == nil {
		for _, path := range left {
			_ = os.Remove(path) // a copy that was cut short
		}
	}
	if !f.Store.Small() {
		return nil
	}
	e, err := f.Store.Examine(nil)
	f.Damage = e.Damage
	return err
}

// bind sees that the key is the one the store's seals are checked with.
func (f *Folder) bind(lines []store.Line) error {
	bound, err := f.Store.Key()
	var damage *store.Damage
	if err != nil && !errors.As(err, &damage) {
		return err
	}
	another := fmt.Errorf("folder: %s: %w: it is another one than made the seals here. Put the backup's in its place", filepath.Join(f.dir, filepath.FromSlash(KeyFile)), ErrKey)
	switch {
	case bound == f.Key.Public():
		return nil
	case bound != "" && len(lines) > 0:
		return another
	}
	for _, line := range lines {
		seals, err := f.Store.Seals(line.ID)
		if err != nil {
			continue // damaged, which is told elsewhere
		}
		for _, s := range seals {
			if _, err := f.Key.Open(s.Note); err != nil {
				return another
			}
		}
	}
	if err := f.Store.BindKey(f.Key.Public()); err != nil && !errors.Is(err, store.ErrFull) {
		return err
	}
	return nil
}

// Dir is where the folder is.
func (f *Folder) Dir() string { return f.dir }

// Close closes the store.
func (f *Folder) Close() error {
	if f.announced {
		_ = os.Remove(filepath.Join(f.dir, servingFile))
	}
	return f.Store.Close()
}

// Copy makes a copy of the store as it stands and opens it. It is gone when it is closed.
func (f *Folder) Copy() (*os.File, error) {
	path := filepath.Join(f.dir, strings.Replace(copyPattern, "*", rand.Text(), 1))
	if err := f.Store.CopyTo(path); err != nil {
		return nil, err
	}
	file, err := os.Open(path)
	if err := errors.Join(err, os.Remove(path)); err != nil {
		if file != nil {
			_ = file.Close()
		}
		return nil, fmt.Errorf("folder: %w", err)
	}
	return file, nil
}

// maxKey bounds the key's file; a key takes some hundred bytes.
const maxKey = 4096

func openKey(path string, fresh bool) (*seal.Key, error) {
	_, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		if !fresh {
			return nil, fmt.Errorf("folder: %s: %w: it is missing although jobs are here. Put the backup's in its place", path, ErrKey)
		}
		return makeKey(path)
	}
	if err != nil {
		return nil, fmt.Errorf("folder: %w", err)
	}
	return ReadKey(path)
}

// ReadKey reads a key's file; its error never repeats what is in it.
func ReadKey(path string) (*seal.Key, error) {
	info, err := os.Stat(path)
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
	if err := WriteWhole(path, []byte(secret+"\n")); err != nil {
		return nil, fmt.Errorf("folder: %w", err)
	}
	return key, nil
}

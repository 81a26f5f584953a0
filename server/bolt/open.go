package bolt

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"time"

	"go.etcd.io/bbolt"
	bolterrors "go.etcd.io/bbolt/errors"

	"hangtrue/server/store"
)

// Errors of [Open].
var (
	// ErrInUse is returned when another process has the file open.
	ErrInUse = errors.New("another hangtrue is using this folder")
	// ErrUnreadable is returned when the file is not a store, or no longer a whole one.
	ErrUnreadable = errors.New("the store cannot be read")
)

const (
	format = "hangtrue-store/1"

	// lockTimeout is how long another process gets to let go of the file, which it
	// does in this time when it was just told to stop.
	lockTimeout = time.Second

	// reserved address space: a reader does not hold up a writer that must grow the
	// file while it fits in here. It takes no memory and no disk.
	reserved = 256 << 20

	// checkedSize is up to what size the file's structure is checked whole when it
	// is opened; 64 MiB take well below a second.
	checkedSize = 64 << 20
)

// Open opens the store in a file, and makes it if there is none.
func Open(path string) (*Store, error) {
	if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) {
		if err := create(path); err != nil {
			return nil, fmt.Errorf("bolt: make %s: %w", path, err)
		}
	} else if err != nil {
		return nil, fmt.Errorf("bolt: %w", err)
	}
	db, err := open(path)
	if err != nil {
		return nil, err
	}
	s := &Store{db: db}
	s.group.Do = s.appendAll
	if err := s.check(); err != nil {
		_ = db.Close()
		return nil, fmt.Errorf("bolt: %s: %w: %v. Put a backup in its place", path, ErrUnreadable, err)
	}
	return s, nil
}

// open opens the file; bbolt panics on one that was cut short.
func open(path string) (db *bbolt.DB, err error) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer guard(func(cause string) {
		err = fmt.Errorf("bolt: %s: %w: %s. Put a backup in its place", path, ErrUnreadable, cause)
	})
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("bolt: %w", err)
	}
	if info.Size() == 0 {
		// bbolt would take an empty file for a new one and start over in silence.
		return nil, fmt.Errorf("bolt: %s: %w: it is empty. Put a backup in its place", path, ErrUnreadable)
	}
	db, err = bbolt.Open(path, 0o600, &bbolt.Options{
		Timeout: lockTimeout, FreelistType: bbolt.FreelistMapType, InitialMmapSize: reserved, NoStatistics: true,
	})
	switch {
	case errors.Is(err, bolterrors.ErrTimeout):
		return nil, fmt.Errorf("bolt: %s: %w", path, ErrInUse)
	case err != nil:
		return nil, fmt.Errorf("bolt: %s: %w: %v. Put a backup in its place", path, ErrUnreadable, err)
	}
	return db, nil
}

// create makes the file under another name and gives it its own only when it is
// whole and on the disk.
func create(path string) error {
	dir := filepath.Dir(path)
	// A fixed name, so that what a power cut left behind is taken away here. Two
	// processes at once are told apart by bbolt's lock on it.
	temporary := path + ".new"
	if db, err := bbolt.Open(temporary, 0o600, &bbolt.Options{Timeout: lockTimeout, ReadOnly: true}); err == nil {
		_ = db.Close()
	} else if errors.Is(err, bolterrors.ErrTimeout) {
		return ErrInUse
	}
	if err := os.Remove(temporary); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	db, err := bbolt.Open(temporary, 0o600, &bbolt.Options{Timeout: lockTimeout, FreelistType: bbolt.FreelistMapType})
	if err != nil {
		return err
	}
	err = db.Update(func(tx *bbolt.Tx) error {
		for _, name := range buckets {
			if _, err := tx.CreateBucketIfNotExists(name); err != nil {
				return err
			}
		}
		return tx.Bucket(aboutBucket).Put([]byte("format"), []byte(format))
	})
	err = errors.Join(err, db.Sync(), db.Close())
	if err != nil {
		return err
	}
	// Link, unlike rename, does not replace a store that another process made meanwhile.
	if err := os.Link(temporary, path); err != nil && !errors.Is(err, os.ErrExist) {
		// Not every file system has links.
		if err := os.Rename(temporary, path); err != nil {
			return err
		}
		return syncDir(dir)
	}
	if err := os.Remove(temporary); err != nil {
		return err
	}
	return syncDir(dir)
}

func syncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// check looks at the format and, where it does not take long, at every page.
func (s *Store) check() error {
	return s.view(func(tx *bbolt.Tx) error {
		for _, name := range buckets {
			if tx.Bucket(name) == nil {
				return fmt.Errorf("it has no %s", name)
			}
		}
		if got := string(tx.Bucket(aboutBucket).Get([]byte("format"))); got != format {
			return fmt.Errorf("its format is %.40q, this program reads %q", got, format)
		}
		if info, err := os.Stat(s.db.Path()); err != nil {
			return err
		} else if info.Size() < tx.Size() {
			return fmt.Errorf("it has %d bytes of %d", info.Size(), tx.Size())
		}
		if tx.Size() > checkedSize {
			return nil
		}
		// bbolt's own check runs in a goroutine of its own, where the memory fault of a
		// damaged page number could not be caught and would end the program without a
		// word. So the trees are walked here: every page, every key in order, both
		// ends of every value. What the values say is checked when they are read.
		for _, name := range buckets {
			if err := walk(tx.Bucket(name)); err != nil {
				return fmt.Errorf("%s: %v", name, err)
			}
		}
		return nil
	})
}

func walk(b *bbolt.Bucket) error {
	var last []byte
	ends := byte(0)
	err := b.ForEach(func(k, v []byte) error {
		if last != nil && bytes.Compare(last, k) >= 0 {
			return errors.New("its keys are out of order")
		}
		last = k
		if len(v) > 0 {
			ends ^= v[0] ^ v[len(v)-1]
		}
		return nil
	})
	runtime.KeepAlive(ends)
	return err
}

// guard turns a panic into a sentence. A read beyond the end of a file that was
// cut short is a memory fault, which Go makes a panic only when asked to.
func guard(failed func(cause string)) {
	if p := recover(); p != nil {
		failed(fmt.Sprintf("its pages do not fit together (%v)", p))
	}
}

func (s *Store) view(do func(tx *bbolt.Tx) error) error { return s.safely(s.db.View, do) }

func (s *Store) update(do func(tx *bbolt.Tx) error) error { return s.safely(s.db.Update, do) }

func (s *Store) safely(run func(func(*bbolt.Tx) error) error, do func(tx *bbolt.Tx) error) (err error) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer guard(func(cause string) { err = &store.Damage{What: cause} })
	if err = run(do); errors.Is(err, bolterrors.ErrDatabaseNotOpen) {
		return store.ErrClosed
	}
	return err
}

package bolt

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"strconv"
	"strings"
	"syscall"
	"time"

	"go.etcd.io/bbolt"
	bolterrors "go.etcd.io/bbolt/errors"

	"hangtrue/server/store"
)

// Errors of [Open] and [Examine].
var (
	// ErrInUse is returned when another process has the file open.
	ErrInUse = errors.New("another hangtrue is using this folder")
	// ErrUnreadable is returned when the file is not a store, or no longer a whole one.
	ErrUnreadable = errors.New("the store cannot be read")
	// ErrNewer is returned when the file is of a stored format that came later.
	ErrNewer = errors.New("it was written by a newer hangtrue")
	// ErrOlder is returned by [Examine] when the file is of a stored format that came before.
	ErrOlder = errors.New("it was written by an older hangtrue")
)

const (
	formatPrefix = "hangtrue-store/"

	// lockTimeout is how long another process gets to let go of the file, which it
	// does in this time when it was just told to stop.
	lockTimeout = time.Second

	// reserved address space: a reader does not hold up a writer that must grow the
	// file while it fits in here. It takes no memory and no disk.
	reserved = 256 << 20

	// checkedSize is up to what size a store is checked whole when it is opened;
	// 64 MiB of records take some two seconds and a half.
	checkedSize = 64 << 20
)

// upgrades bring a store from one stored format to the next, the first one from 1
// to 2. Each gets the transaction in which the format's number changes too.
var upgrades = []func(*bbolt.Tx) error{
	// Since 2 a record says by which edition of the steps it was decided, and there are
	// snapshots: a program of 1 would take such records for damaged. What is kept of 1 is
	// as it was.
	func(*bbolt.Tx) error { return nil },
	// Since 3 a job's line has the ids of the last entries, and the index of ids has them
	// later: a program of 2 would miss them. One of 3 finds what is kept of 2 as it is.
	func(*bbolt.Tx) error { return nil },
}

// alike is the oldest format that is examined as it is: what today's has and it does
// not may be missing in today's too.
var alike = 1

// Format is the stored format that this program writes, and the newest it reads.
func Format() int { return 1 + len(upgrades) }

// Open opens the store in a file, and makes it if there is none. A store of an
// older format is copied beside itself and then brought to today's in one
// transaction; one of a newer format is refused.
func Open(path string) (*Store, error) {
	if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) {
		if err := create(path); err != nil {
			return nil, fmt.Errorf("bolt: make %s: %w", path, err)
		}
	} else if err != nil {
		return nil, fmt.Errorf("bolt: %w", err)
	}
	// The pages are looked at before bbolt goes by them for writing: from then on it
	// trusts its list of free pages.
	look, err := openReadOnly(path)
	if err != nil {
		return nil, err
	}
	structure, err := look.structure(checkedSize)
	if err := errors.Join(err, look.Close()); err != nil {
		return nil, fmt.Errorf("bolt: %w", err)
	}
	if len(structure.Problems) > 0 {
		return nil, unreadable(path, structure.Problems[0])
	}
	s, err := open(path, &bbolt.Options{
		Timeout: lockTimeout, FreelistType: bbolt.FreelistMapType, InitialMmapSize: reserved, NoStatistics: true,
	})
	if err != nil {
		return nil, err
	}
	s.head = structure.Head
	s.group.Do = s.appendAll
	if err := s.upgrade(); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	if err := s.check(); err != nil {
		_ = s.Close()
		return nil, unreadable(path, err.Error())
	}
	return s, nil
}

// openReadOnly opens a store without changing a byte of it; it reads no list of
// free pages, so that more damage can be looked at.
func openReadOnly(path string) (*Store, error) {
	return open(path, &bbolt.Options{Timeout: lockTimeout, ReadOnly: true, NoStatistics: true})
}

// open opens the file; bbolt panics on some that are damaged.
func open(path string, options *bbolt.Options) (s *Store, err error) {
	var file *os.File
	options.OpenFile = func(name string, flag int, mode os.FileMode) (*os.File, error) {
		f, err := os.OpenFile(name, flag, mode)
		file = f
		return f, err
	}
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer guard(func(cause string) {
		s, err = nil, unreadable(path, cause)
		_ = file.Close() // and with it the lock
	})
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("bolt: %w", err)
	}
	if info.Size() == 0 {
		// bbolt would take an empty file for a new one and start over in silence.
		return nil, unreadable(path, "it is empty")
	}
	db, err := bbolt.Open(path, 0o600, options)
	var system *os.PathError
	switch {
	case errors.Is(err, bolterrors.ErrTimeout):
		return nil, fmt.Errorf("bolt: %s: %w", path, ErrInUse)
	case errors.As(err, &system):
		return nil, fmt.Errorf("bolt: %w", err)
	case err != nil:
		return nil, unreadable(path, err.Error())
	}
	return &Store{db: db, file: file}, nil
}

// InUse tells whether a process has a store open for writing.
func InUse(path string) bool {
	s, err := openReadOnly(path)
	if err == nil {
		_ = s.Close()
	}
	return errors.Is(err, ErrInUse)
}

func unreadable(path, cause string) error {
	return fmt.Errorf("bolt: %s: %w: %s. Put a backup in its place; hangtrue doctor tells what is left", path, ErrUnreadable, cause)
}

// structure looks at the pages of a store up to some size.
func (s *Store) structure(most int64) (Structure, error) {
	info, err := s.file.Stat()
	if err != nil {
		return Structure{}, err
	}
	if size := s.size(); size > most {
		if info.Size() < size {
			return Structure{Problems: []string{fmt.Sprintf("it has %d bytes of %d", info.Size(), size)}}, nil
		}
		return Structure{}, nil
	}
	return structure(s.file, info.Size())
}

// size is how many bytes the store's newest head says it has.
func (s *Store) size() (size int64) {
	_ = s.view(func(tx *bbolt.Tx) error { size = tx.Size(); return nil })
	return size
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
		return putFormat(tx, Format())
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
		return SyncDir(dir)
	}
	if err := os.Remove(temporary); err != nil {
		return err
	}
	return SyncDir(dir)
}

// SyncDir makes the names in a folder last.
func SyncDir(dir string) error {
	d, err := os.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(d.Sync(), d.Close())
}

// format is the number of a store's format.
func (s *Store) format() (format int, err error) {
	err = s.view(func(tx *bbolt.Tx) error {
		about := tx.Bucket(aboutBucket)
		if about == nil {
			return unreadable(s.db.Path(), fmt.Sprintf("it has no %s", aboutBucket))
		}
		text := string(about.Get(formatKey))
		number, ok := strings.CutPrefix(text, formatPrefix)
		if format, err = strconv.Atoi(number); !ok || err != nil || format < 1 || formatPrefix+strconv.Itoa(format) != text {
			return unreadable(s.db.Path(), fmt.Sprintf("its format is %.40q", text))
		}
		if format > Format() {
			return fmt.Errorf("bolt: %s: %w: its format is %d and this program reads up to %d. Use the newer program", s.db.Path(), ErrNewer, format, Format())
		}
		return nil
	})
	return format, err
}

func putFormat(tx *bbolt.Tx, format int) error {
	return tx.Bucket(aboutBucket).Put(formatKey, []byte(formatPrefix+strconv.Itoa(format)))
}

// upgrade brings the store to today's format. What it was is kept beside it.
func (s *Store) upgrade() error {
	from, err := s.format()
	if err != nil || from == Format() {
		return err
	}
	aside := fmt.Sprintf("%s.format-%d", s.db.Path(), from)
	if err := os.Remove(aside); err != nil && !errors.Is(err, os.ErrNotExist) {
		return fmt.Errorf("bolt: %w", err) // from an upgrade that was cut short
	}
	if err := s.CopyTo(aside); err != nil {
		return err
	}
	if err := SyncDir(filepath.Dir(aside)); err != nil {
		return fmt.Errorf("bolt: %w", err)
	}
	err = s.update(func(tx *bbolt.Tx) error {
		for _, step := range upgrades[from-1:] {
			if err := step(tx); err != nil {
				return err
			}
		}
		return putFormat(tx, Format())
	})
	if err != nil {
		return fmt.Errorf("bolt: %s: it could not be brought from format %d to %d and is as it was: %w", s.db.Path(), from, Format(), err)
	}
	s.aside = aside
	return nil
}

// Aside is where the store lies as it was, if it was brought to today's format when it
// was opened; else it is empty.
func (s *Store) Aside() string { return s.aside }

// check sees that every bucket is there.
func (s *Store) check() error {
	return s.view(func(tx *bbolt.Tx) error {
		for _, name := range buckets {
			if tx.Bucket(name) == nil {
				return fmt.Errorf("it has no %s", name)
			}
		}
		return nil
	})
}

// CopyTo writes the store as it stands at one moment to a new file and syncs it.
// Others go on appending meanwhile.
func (s *Store) CopyTo(path string) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return fmt.Errorf("bolt: %w", err)
	}
	err = s.view(func(tx *bbolt.Tx) error {
		_, err := tx.WriteTo(f)
		return err
	})
	if errors.Is(err, io.EOF) {
		err = &store.Damage{What: "the store was cut short while it was open"}
	}
	if err = errors.Join(err, f.Sync(), f.Close()); err == nil {
		return nil
	}
	var damage *store.Damage
	if errors.As(err, &damage) { // where it was copied to has nothing to do with it
		return errors.Join(damage, os.Remove(path))
	}
	return fmt.Errorf("bolt: copy to %s: %w", path, errors.Join(err, os.Remove(path)))
}

// Key is the public key that the store's seals are checked with, empty when none
// was bound to it yet.
func (s *Store) Key() (public string, err error) {
	err = s.view(func(tx *bbolt.Tx) error {
		packed := tx.Bucket(aboutBucket).Get(publicKey)
		if packed == nil {
			return nil
		}
		return store.Unpack("", "the public key", packed, &public)
	})
	return public, err
}

// BindKey keeps the public key that the store's seals are checked with.
func (s *Store) BindKey(public string) error {
	return s.update(func(tx *bbolt.Tx) error { return putPacked(tx.Bucket(aboutBucket), publicKey, public) })
}

// guard turns a panic into a sentence. A read beyond the end of a file that was
// cut short is a memory fault, which Go makes a panic only when asked to.
func guard(failed func(cause string)) {
	if p := recover(); p != nil {
		if _, inside := p.(runtime.Error); inside {
			failed("its pages do not fit together, or it was cut short")
			return
		}
		failed(fmt.Sprintf("its pages do not fit together (%v)", p))
	}
}

func (s *Store) view(do func(tx *bbolt.Tx) error) error {
	return s.safely(s.db.View, do, func() {})
}

// update writes nothing more once bbolt itself has panicked in a transaction: it may hold
// its lock for ever, and whoever comes next would wait for it as long.
func (s *Store) update(do func(tx *bbolt.Tx) error) error {
	if s.broken.Load() {
		return &store.Damage{What: "its pages do not fit together, so that nothing more is written"}
	}
	return s.safely(s.db.Update, do, func() { s.broken.Store(true) })
}

// safely runs a transaction. A panic in what is done in it ends that transaction as an
// error does; one of bbolt's own is told to panicked.
func (s *Store) safely(run func(func(*bbolt.Tx) error) error, do func(tx *bbolt.Tx) error, panicked func()) (err error) {
	defer debug.SetPanicOnFault(debug.SetPanicOnFault(true))
	defer guard(func(cause string) {
		panicked()
		err = &store.Damage{What: cause}
	})
	err = run(func(tx *bbolt.Tx) (err error) {
		defer guard(func(cause string) { err = &store.Damage{What: cause} })
		return do(tx)
	})
	switch {
	case errors.Is(err, bolterrors.ErrDatabaseNotOpen):
		return store.ErrClosed
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT), errors.Is(err, syscall.EFBIG):
		return fmt.Errorf("%w: %w", store.ErrFull, err)
	}
	return err
}

// Copy copies a store that no process has open for writing, as CopyTo does.
func Copy(path, to string) error {
	s, err := openReadOnly(path)
	if err != nil {
		return err
	}
	structure, err := s.structure(checkedSize)
	if err == nil && len(structure.Problems) > 0 {
		err = unreadable(path, structure.Problems[0])
	}
	if err != nil {
		return errors.Join(err, s.Close())
	}
	return errors.Join(s.CopyTo(to), s.Close())
}

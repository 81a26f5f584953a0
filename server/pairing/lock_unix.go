//go:build unix

package pairing

import (
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"hangtrue/server/folder"
)

// lockFile waits until no other process holds the lock. The system frees it when a
// process ends.
func lockFile(path string) (unlock func(), err error) {
	f, err := openLock(path)
	if err != nil {
		return nil, err
	}
	for {
		if err = syscall.Flock(int(f.Fd()), syscall.LOCK_EX); err != syscall.EINTR {
			break
		}
	}
	if err != nil {
		_ = f.Close()
		return nil, err
	}
	return func() { _ = f.Close() }, nil
}

// openLock follows no link, and hands over only what it has made: the folder's owner must
// not get hold of another file by an administrator's command.
func openLock(path string) (*os.File, error) {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL|syscall.O_NOFOLLOW, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return os.OpenFile(path, os.O_RDWR|syscall.O_NOFOLLOW, 0)
	}
	if err != nil {
		return nil, err
	}
	if err := folder.Hand(f, filepath.Dir(path)); err != nil {
		_ = f.Close()
		return nil, err
	}
	return f, nil
}

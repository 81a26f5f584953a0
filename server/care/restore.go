package care

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"time"

	"hangtrue/server/bolt"
	"hangtrue/server/folder"
	"hangtrue/server/pairing"
)

// A Restore is one that is to be done.
type Restore struct {
	Doctor
	Backup string
	Data   string // the folder to make; what is there must be empty
	Dry    bool   // look only
	// KeepDevices leaves devices and links as the backup has them: also those that
	// were revoked after it was made.
	KeepDevices bool
}

// Do puts a backup into a new folder, or only looks when it is dry. Nothing is there
// under the folder's name before all of it was checked and is on the disk; what is
// there then is read once more.
func (r Restore) Do(ctx context.Context) (report Report, err error) {
	if err := isFree(r.Data); err != nil {
		return report, err
	}
	if r.Dry {
		err = inTemporary(func(dir string) (err error) { report, err = r.into(ctx, dir); return err })
		return report, err
	}
	parent := filepath.Dir(r.Data)
	if err := os.MkdirAll(parent, 0o700); err != nil {
		return report, err
	}
	dir, err := os.MkdirTemp(parent, "."+filepath.Base(r.Data)+partial)
	if err != nil {
		return report, err
	}
	defer os.RemoveAll(dir)
	if report, err = r.into(ctx, dir); err != nil {
		return report, err
	}
	if err := syncFolders(dir); err != nil {
		return report, err
	}
	if err := os.Remove(r.Data); err != nil && !errors.Is(err, os.ErrNotExist) { // an empty one
		return report, err
	}
	if err := errors.Join(os.Rename(dir, r.Data), bolt.SyncDir(parent)); err != nil {
		return report, err
	}
	return report, r.again(report)
}

// isFree tells whether a folder can be made at a path.
func isFree(path string) error {
	entries, err := os.ReadDir(path)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return nil
	case err != nil:
		return err
	case len(entries) > 0:
		return fmt.Errorf("%s: %w (%s); name a folder that is empty or not there", path, ErrExists, entries[0].Name())
	}
	return nil
}

// into puts the backup's parts into a folder and checks everything in it.
func (r Restore) into(ctx context.Context, dir string) (report Report, err error) {
	if !IsBackup(r.Backup) {
		if _, err := os.Stat(r.Backup); err != nil {
			return report, err
		}
		return report, fmt.Errorf("%s: %w: its manifest is missing", r.Backup, ErrBackup)
	}
	m, findings, err := read(r.Backup, extract(dir))
	if err != nil {
		return report, err
	}
	report = Report{Path: r.Backup, Source: "read directly: a backup"}
	if err := r.extracted(ctx, &report, m, findings, dir); err != nil {
		return report, err
	}
	for _, f := range report.Findings {
		if f.Damage {
			return report, fmt.Errorf("%s: %w, so nothing was restored: %s hangtrue doctor tells all of it", r.Backup, ErrDamaged, f.Text)
		}
	}
	if m.Secret && (!report.Secret || report.Key != m.Key) {
		return report, fmt.Errorf("%s: %w: its key is not the one that made the seals in it", r.Backup, ErrDamaged)
	}
	if !r.KeepDevices {
		if report.Ended, err = endPairings(dir); err != nil {
			return report, err
		}
	}
	return report, os.MkdirAll(filepath.Join(dir, folder.KeysDir), 0o700)
}

// endPairings ends everything that lets somebody in. A list that cannot be read lets
// nobody in; it would keep the server from starting, and goes.
func endPairings(dir string) (ended int, err error) {
	path := filepath.Join(dir, filepath.FromSlash(pairing.File))
	if _, err := os.Stat(path); errors.Is(err, os.ErrNotExist) {
		return 0, nil
	}
	book, err := pairing.Open(dir, time.Now)
	if err == nil {
		ended, err = book.End()
	}
	if errors.Is(err, pairing.ErrDamaged) {
		return 0, os.Remove(path)
	}
	return ended, err
}

// again holds what is in its place to what was asked for.
func (r Restore) again(before Report) error {
	m, _, err := read(r.Backup, nil)
	if err != nil {
		return err
	}
	for _, want := range m.Parts {
		if want.Name == pairing.File && !r.KeepDevices {
			continue // which was changed on purpose
		}
		f, err := os.Open(filepath.Join(r.Data, filepath.FromSlash(want.Name)))
		if err != nil {
			return err
		}
		got := measure(f)
		_, err = io.Copy(io.Discard, got)
		if err := errors.Join(err, f.Close()); err != nil {
			return err
		}
		if got.part(want.Name) != want {
			return fmt.Errorf("%s: %w: %s cannot be read back as it was written", r.Data, ErrDamaged, want.Name)
		}
	}
	records := 0
	e, err := bolt.Examine(filepath.Join(r.Data, folder.JobsFile), func(j bolt.Job) error { records += len(j.Records); return nil })
	if err != nil {
		return err
	}
	if !e.Sound() || records != before.Records {
		return fmt.Errorf("%s: %w: it cannot be read back as it was written", r.Data, ErrDamaged)
	}
	return nil
}

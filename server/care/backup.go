package care

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"hangtrue/server/folder"
)

// A Backup is one that is to be made.
type Backup struct {
	Data   string // the folder to back up
	Target string // a name that ends in .tar makes a tar file, an existing folder gets one with the time in its name, any other name becomes a folder
	// WithoutKey leaves everything in keys/ out.
	WithoutKey bool
	Program    string    // the edition that makes it
	Now        time.Time // its time
}

// Made is a backup that was made.
type Made struct {
	Manifest
	Path   string
	Source Source
	Photos int
	Size   int64 // of all parts, in bytes
	// Findings are what is wrong in the folder without being damage to the store.
	Findings []Finding
	// LeftOut are photos that are no longer what their names say.
	LeftOut []string
}

// Make makes a backup. A store in which anything is damaged is not backed up: the
// backup would take the place of a better one.
func (b Backup) Make(ctx context.Context) (made Made, err error) {
	if err := hasStore(b.Data); err != nil {
		return made, err
	}
	b.Target = filepath.Clean(b.Target)
	if err := outside(b.Target, b.Data); err != nil {
		return made, err
	}
	now := b.Now.UTC().Truncate(time.Second)
	made = Made{Path: b.Target, Manifest: Manifest{Format: Format, Made: now.Format(time.RFC3339), Program: b.Program}}
	if info, err := os.Stat(b.Target); err == nil && info.IsDir() {
		made.Path = filepath.Join(b.Target, "hangtrue-"+now.Format("20060102T150405Z")+".tar")
	}
	w, err := newWriter(made.Path, now)
	if err != nil {
		return made, err
	}
	defer func() {
		if err != nil {
			w.discard()
		}
	}()
	// The copy is made beside the backup: there must be room for it anyway.
	work, err := os.MkdirTemp(filepath.Dir(made.Path), ".hangtrue"+partial)
	if err != nil {
		return made, err
	}
	defer os.RemoveAll(work)
	p := packer{Backup: b, ctx: ctx, made: &made, w: w}
	if err := p.store(filepath.Join(work, folder.JobsFile)); err != nil {
		return made, err
	}
	if err := p.others(); err != nil {
		return made, err
	}
	return made, p.finish()
}

// outside refuses a backup inside the folder that it is of: the next one would hold it too.
func outside(target, data string) error {
	parent, err := filepath.EvalSymlinks(filepath.Dir(target))
	if err != nil {
		return err
	}
	if data, err = filepath.EvalSymlinks(data); err != nil {
		return err
	}
	if parent, err = filepath.Abs(parent); err != nil {
		return err
	}
	if data, err = filepath.Abs(data); err != nil {
		return err
	}
	if at, err := filepath.Rel(data, filepath.Join(parent, filepath.Base(target))); err == nil && filepath.IsLocal(at) {
		return fmt.Errorf("%s is inside the folder that is to be backed up; name another place", target)
	}
	return nil
}

type packer struct {
	Backup
	ctx  context.Context // of Make
	made *Made
	w    writer
}

// store packs the store, after every record of it was looked at, and the key.
func (p *packer) store(path string) error {
	source, err := copyStore(p.ctx, p.Data, path)
	if err != nil {
		return err
	}
	p.made.Source = source
	r := Report{}
	public := ""
	key := filepath.Join(p.Data, filepath.FromSlash(folder.KeyFile))
	if k, err := folder.ReadKey(key); err == nil {
		public = k.Public()
	} else if !p.WithoutKey {
		return fmt.Errorf("%w. --without-key makes a backup without one", err)
	}
	if err := (Doctor{}).store(p.ctx, &r, path, public); err != nil {
		return err
	}
	if damaged := r.Damaged(); len(damaged) > 0 {
		return fmt.Errorf("%s: %w, so no backup was made: %s hangtrue doctor tells all of it", p.Data, ErrDamaged, damaged[0].Text)
	}
	if !p.WithoutKey && public != r.Key {
		return fmt.Errorf("%s: %w: it is another one than the seals here are made with (%s)", key, folder.ErrKey, r.Key)
	}
	m := &p.made.Manifest
	m.StoreFormat, m.Key, m.Secret, m.Jobs, p.made.Findings = r.StoreFormat, r.Key, !p.WithoutKey, sorted(r.Jobs), r.Findings
	return p.file(folder.JobsFile, path)
}

// others packs keys, photos and whatever else there is, after the store, which
// names no photo that is not there.
func (p *packer) others() (err error) {
	p.made.Photos, err = others(p.Data, func(name string) error {
		if p.WithoutKey && strings.HasPrefix(name, folder.KeysDir+"/") {
			return nil
		}
		if out, err := p.leftOut(name); err != nil || out {
			return err
		}
		return p.file(name, filepath.Join(p.Data, filepath.FromSlash(name)))
	}, func(name string) error {
		return fmt.Errorf("%q is no file that a backup can have", filepath.Join(p.Data, filepath.FromSlash(name)))
	})
	p.made.Photos -= len(p.made.LeftOut)
	return err
}

func (p *packer) file(name, path string) error {
	if err := p.ctx.Err(); err != nil {
		return err
	}
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	m := measure(f)
	if err := p.w.add(name, info.Size(), m); err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	p.made.Size += m.size
	p.made.Parts = append(p.made.Parts, m.part(name))
	return nil
}

// finish writes the manifest, reads everything back and gives the backup its name.
func (p *packer) finish() error {
	manifest, sum, err := p.made.encode()
	if err != nil {
		return err
	}
	err = errors.Join(
		p.w.add(manifestFile, int64(len(manifest)), bytes.NewReader(manifest)),
		p.w.add(sumFile, int64(len(sum)), bytes.NewReader(sum)))
	if err != nil {
		return err
	}
	at, err := p.w.sync()
	if err != nil {
		return err
	}
	// The store that was packed was read record by record. What is read back has its hash.
	_, findings, err := read(at, nil)
	if err != nil {
		return err
	}
	if len(findings) > 0 {
		return fmt.Errorf("%w: what was written cannot be read back: %s", ErrBackup, findings[0].Text)
	}
	return p.w.publish()
}

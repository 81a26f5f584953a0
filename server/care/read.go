package care

import (
	"archive/tar"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
)

// IsBackup tells whether a path is a backup, or looks like one.
func IsBackup(path string) bool {
	info, err := os.Stat(path)
	if err != nil || !info.IsDir() {
		return err == nil
	}
	_, err = os.Stat(filepath.Join(path, manifestFile))
	return err == nil
}

// read reads every byte of a backup and holds it to its manifest. take says where
// a part's bytes go as well; nil is nowhere. Parts that are not what the manifest
// says are findings; an error means that there is no manifest to go by.
func read(path string, take func(name string) (io.WriteCloser, error)) (Manifest, []Finding, error) {
	info, err := os.Stat(path)
	if err != nil {
		return Manifest{}, nil, err
	}
	r := reader{take: take, parts: map[string]Part{}}
	if info.IsDir() {
		err = r.folder(path)
	} else {
		err = r.tar(path)
	}
	if err != nil {
		return Manifest{}, nil, err
	}
	m, err := readManifest(r.manifest, r.sum)
	if err != nil {
		return Manifest{}, nil, fmt.Errorf("%s: %w", path, err)
	}
	for _, want := range m.Parts {
		got, there := r.parts[want.Name]
		switch {
		case !there:
			r.find("The part %s is missing from the backup.", want.Name)
		case got != want:
			r.find("The part %s is not what was backed up (%d bytes, and %d were).", want.Name, got.Size, want.Size)
		}
		delete(r.parts, want.Name)
	}
	for name := range r.parts {
		r.find("The part %s is in the backup but not in its manifest.", name)
	}
	return m, r.findings, nil
}

type reader struct {
	take          func(name string) (io.WriteCloser, error)
	parts         map[string]Part
	manifest, sum []byte
	findings      []Finding
}

func (r *reader) find(text string, args ...any) {
	r.findings = append(r.findings, Finding{Text: fmt.Sprintf(text, args...), Damage: true})
}

func (r *reader) tar(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	defer f.Close()
	info, err := f.Stat()
	if err != nil {
		return err
	}
	left := info.Size() // a part with holes in it would unpack to any size
	t := tar.NewReader(f)
	for n := 0; ; n++ {
		h, err := t.Next()
		switch {
		case err == io.EOF:
			return nil
		case err != nil && n == 0:
			return fmt.Errorf("%s: %w: it is neither a tar file nor a folder", path, ErrBackup)
		case err != nil:
			return fmt.Errorf("%s: %w: it is damaged or was cut short (%v)", path, ErrBackup, err)
		case h.Typeflag != tar.TypeReg:
			return fmt.Errorf("%s: %w: %.60q in it is no file", path, ErrBackup, h.Name)
		}
		if left -= h.Size; left < 0 {
			return fmt.Errorf("%s: %w: its parts say that they have more bytes than it has", path, ErrBackup)
		}
		if err := r.part(path, h.Name, t); err != nil {
			return err
		}
	}
}

func (r *reader) folder(path string) error {
	return filepath.WalkDir(path, func(at string, d os.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case at != path && d.Name()[0] == '.': // what file managers leave on a stick
			if d.IsDir() {
				return filepath.SkipDir
			}
			return nil
		case d.IsDir():
			return nil
		}
		name, err := filepath.Rel(path, at)
		if err != nil {
			return err
		}
		if !d.Type().IsRegular() {
			return fmt.Errorf("%s: %w: %.60q in it is no file", path, ErrBackup, name)
		}
		f, err := os.Open(at)
		if err != nil {
			return err
		}
		defer f.Close()
		return r.part(path, filepath.ToSlash(name), f)
	})
}

// part reads one part. What a disk cannot give back is an error; what the file
// ends too early for is one too.
func (r *reader) part(path, name string, from io.Reader) error {
	if _, twice := r.parts[name]; twice || !isPart(name) {
		return fmt.Errorf("%s: %w: %.60q does not belong in it, or is there twice", path, ErrBackup, name)
	}
	if name == manifestFile || name == sumFile {
		data, err := io.ReadAll(io.LimitReader(from, maxManifest))
		if err != nil {
			return fmt.Errorf("%s: %w: it is damaged or was cut short (%v)", path, ErrBackup, err)
		}
		if name == manifestFile {
			r.manifest = data
		} else {
			r.sum = data
		}
		return nil
	}
	m := measure(from)
	to, err := io.WriteCloser(nil), error(nil)
	if r.take != nil {
		if to, err = r.take(name); err != nil {
			return err
		}
	}
	if to == nil {
		to = nowhere{io.Discard}
	}
	_, err = io.Copy(to, m)
	if err := errors.Join(err, to.Close()); err != nil {
		if errors.Is(err, io.ErrUnexpectedEOF) {
			return fmt.Errorf("%s: %w: it was cut short in %s", path, ErrBackup, name)
		}
		return err
	}
	r.parts[name] = m.part(name)
	return nil
}

type nowhere struct{ io.Writer }

func (nowhere) Close() error { return nil }

// synced closes a file when it is on the disk.
type synced struct{ *os.File }

func (f synced) Close() error { return errors.Join(f.Sync(), f.File.Close()) }

// extract gives what puts parts into a folder.
func extract(dir string) func(name string) (io.WriteCloser, error) {
	return func(name string) (io.WriteCloser, error) {
		f, err := createPart(dir, name)
		if err != nil {
			return nil, err
		}
		return synced{f}, nil
	}
}

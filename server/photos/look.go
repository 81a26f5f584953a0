package photos

import (
	"errors"
	"io/fs"
	"path/filepath"
	"strings"

	"hangtrue/checklist"
	"hangtrue/server/store"
)

// A Found is a file in a folder of photos.
type Found struct {
	Name   string // from the folder on, with slashes
	SHA256 string // of the picture that it is; empty when it is none
	// Fault says what is wrong with it, as the rest of a sentence that begins with its name.
	Fault  string
	Damage bool // it is not what was written
}

// Look reads every file of a folder of photos. Parts are passed over.
func Look(dir string, each func(Found) error) error {
	err := filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case path != dir && d.Name()[0] == '.':
			if d.IsDir() {
				return fs.SkipDir
			}
			return nil
		case d.IsDir():
			return nil
		case path == dir:
			return each(Found{Fault: "is no folder"})
		}
		name, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		if !d.Type().IsRegular() {
			return each(Found{Name: filepath.ToSlash(name), Fault: "is a link or no plain file"})
		}
		f, err := look(dir, filepath.ToSlash(name))
		if err != nil {
			return err
		}
		return each(f)
	})
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	return err
}

// One looks at one file, by its name in the folder.
func One(dir, name string) (Found, error) {
	return look(dir, name)
}

func look(dir, name string) (Found, error) {
	base := name[strings.LastIndex(name, "/")+1:]
	hash, ok := strings.CutSuffix(base, ending)
	if !ok || !checklist.IsSHA256(hash) || name != hash[:2]+"/"+base {
		return Found{Name: name, Fault: "is not named as a photo is"}, nil
	}
	file, err := folder(dir).Stat(name)
	if err != nil {
		return Found{}, err
	}
	var damage *store.Damage
	if file.Size > checklist.MaxPhotoBytes {
		err = &store.Damage{}
	} else {
		_, err = read(folder(dir), name, checklist.Photo{SHA256: hash, Bytes: file.Size})
	}
	if errors.As(err, &damage) {
		return Found{Name: name, Fault: "is not the picture that its name says", Damage: true}, nil
	}
	return Found{Name: name, SHA256: hash}, err
}

// In reads a picture out of a folder of photos, or out of one that has them all side
// by side. It is ErrMissing when it is in neither place, a [store.Damage] when it is
// another.
func In(dir string, p checklist.Photo) ([]byte, error) {
	data, err := read(folder(dir), home(p.SHA256), p)
	if errors.Is(err, ErrMissing) {
		return read(folder(dir), p.SHA256+ending, p)
	}
	return data, err
}

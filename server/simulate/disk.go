package simulate

import (
	"fmt"
	"io/fs"
	"maps"
	"math/rand/v2"
	"path"
	"slices"
	"strings"
	"syscall"
	"time"

	"hangtrue/server/photos"
)

// A disk plays the folder with the server's photos. What a process has written stays
// when the process is killed; a power cut takes back, whole or in part, what was not
// synced: bytes of files, and names in folders.
type disk struct {
	files   map[string]*content // by name, as processes see them
	folders map[string]bool

	names map[string]*content // on the medium
	homes map[string]bool     // folders on the medium
}

type content struct {
	data    []byte
	synced  []byte
	changed time.Time
}

func newDisk() *disk {
	return &disk{files: map[string]*content{}, folders: map[string]bool{}, names: map[string]*content{}, homes: map[string]bool{}}
}

// sync puts a file or the names in a folder on the medium.
func (d *disk) sync(name string) error {
	if f := d.files[name]; f != nil {
		f.synced = slices.Clone(f.data)
		return nil
	}
	if name == "." {
		maps.Copy(d.homes, d.folders)
		return nil
	}
	if !d.folders[name] {
		return fs.ErrNotExist
	}
	maps.DeleteFunc(d.names, func(n string, _ *content) bool { return path.Dir(n) == name })
	for n, f := range d.files {
		if path.Dir(n) == name {
			d.names[n] = f
		}
	}
	return nil
}

// cut is a power cut: for each thing that was not synced chance says how much of it
// had come to the medium.
func (d *disk) cut(r *rand.Rand) {
	for _, folder := range slices.Sorted(maps.Keys(d.folders)) {
		if !d.homes[folder] && r.IntN(2) == 0 {
			delete(d.folders, folder)
		}
	}
	all := map[string]*content{}
	maps.Copy(all, d.names)
	maps.Copy(all, d.files)
	left := map[string]*content{}
	for _, name := range slices.Sorted(maps.Keys(all)) {
		f := d.files[name]
		if d.names[name] != f && r.IntN(2) == 0 {
			f = d.names[name]
		}
		if f != nil && d.folders[path.Dir(name)] {
			left[name] = &content{f.left(r), nil, f.changed}
		}
	}
	for _, f := range left {
		f.synced = slices.Clone(f.data)
	}
	d.files, d.names, d.homes = left, maps.Clone(left), maps.Clone(d.folders)
}

// left is what a power cut leaves of a file.
func (f *content) left(r *rand.Rand) []byte {
	if string(f.data) == string(f.synced) {
		return slices.Clone(f.data)
	}
	switch r.IntN(4) {
	case 0:
		return slices.Clone(f.synced)
	case 1: // its length is there, and its bytes are not
		return append(slices.Clone(f.synced), make([]byte, max(0, len(f.data)-len(f.synced)))...)
	case 2:
		return slices.Clone(f.data[:r.IntN(len(f.data)+1)])
	}
	return slices.Clone(f.data)
}

// whole are the pictures in the folder, by their SHA-256 as their names have it.
func (d *disk) whole() map[string][]byte {
	whole := map[string][]byte{}
	for name, f := range d.files {
		if hash, ok := strings.CutSuffix(path.Base(name), ".jpg"); ok {
			whole[hash] = f.data
		}
	}
	return whole
}

// A gate is the disk as one process of the server has it, and breaks what passes.
type gate struct {
	*disk
	due   // of changes: before, after, torn, error
	house *house
	full  int // so many changes find no room
}

// change passes a change of the disk on, or breaks it. Torn does a part of it.
func (g *gate) change(do func() error, torn func()) error {
	w, h := g.house.world, g.house
	if h.edge.dead || h.gate != g {
		return errDisk
	}
	fault := g.next()
	if fault != "" {
		w.count("changes of the photos' disk that failed " + fault)
		w.note("server: a change of the photos' disk fails %s", fault)
	}
	switch fault {
	case "before":
		h.crash()
		return errDisk
	case "torn":
		torn()
		h.crash()
		return errDisk
	case "error":
		return errDisk
	}
	err := do()
	if fault == "after" {
		h.crash()
		return errDisk
	}
	return err
}

// gone tells that this process is gone: it can read nothing more.
func (g *gate) gone() bool { return g.house.edge.dead || g.house.gate != g }

func (g *gate) Stat(name string) (photos.File, error) {
	f := g.files[name]
	switch {
	case g.gone():
		return photos.File{}, errDisk
	case f == nil:
		return photos.File{}, fs.ErrNotExist
	}
	return photos.File{Name: path.Base(name), Size: int64(len(f.data)), Changed: f.changed}, nil
}

func (g *gate) Read(name string, most int64) ([]byte, error) {
	f := g.files[name]
	switch {
	case g.gone():
		return nil, errDisk
	case f == nil:
		return nil, fs.ErrNotExist
	}
	return slices.Clone(f.data[:min(int64(len(f.data)), most)]), nil
}

func (g *gate) Write(name string, at int64, data []byte) error {
	if !g.folders[path.Dir(name)] {
		return fs.ErrNotExist
	}
	write := func(data []byte) {
		f := g.files[name]
		if f == nil {
			f = &content{}
			g.files[name] = f
		}
		end := int(at) + len(data)
		f.data = append(f.data, make([]byte, max(0, end-len(f.data)))...)
		copy(f.data[at:], data)
		f.changed = g.house.now()
	}
	return g.change(func() error {
		if g.full > 0 {
			g.full--
			g.house.world.count("pieces that found the server's disk full")
			write(nil)
			return fmt.Errorf("write %s: %w", name, syscall.ENOSPC)
		}
		write(data)
		return nil
	}, func() { write(data[:len(data)/2]) })
}

func (g *gate) Sync(name string) error {
	return g.change(func() error {
		switch broken := g.house.world.broken; {
		case broken == flawSync && g.files[name] != nil, broken == flawName && g.folders[name]:
			return nil
		}
		return g.sync(name)
	}, func() {})
}

func (g *gate) Rename(from, to string) error {
	return g.change(func() error {
		f := g.files[from]
		if f == nil {
			return fs.ErrNotExist
		}
		delete(g.files, from)
		g.files[to] = f
		if g.house.world.broken == flawByte {
			f.data = slices.Clone(f.data)
			f.data[len(f.data)/2] ^= 1
		}
		return nil
	}, func() {})
}

func (g *gate) Remove(name string) error {
	return g.change(func() error {
		if g.files[name] == nil {
			return fs.ErrNotExist
		}
		delete(g.files, name)
		return nil
	}, func() {})
}

func (g *gate) Make(folder string) error {
	return g.change(func() error { g.folders[folder] = true; return nil }, func() {})
}

func (g *gate) List(folder string) (files []photos.File, err error) {
	if g.gone() {
		return nil, errDisk
	}
	if folder == "." {
		for _, name := range slices.Sorted(maps.Keys(g.folders)) {
			files = append(files, photos.File{Name: name, Folder: true})
		}
		return files, nil
	}
	if !g.folders[folder] {
		return nil, fs.ErrNotExist
	}
	for _, name := range slices.Sorted(maps.Keys(g.files)) {
		if f := g.files[name]; path.Dir(name) == folder {
			files = append(files, photos.File{Name: path.Base(name), Size: int64(len(f.data)), Changed: f.changed})
		}
	}
	return files, nil
}

// Free is all there is, or nothing.
func (g *gate) Free() (bytes int64, known bool) {
	if g.full > 0 && g.full%2 == 0 {
		g.full--
		g.house.world.count("photos that found no room at the server")
		return 0, true
	}
	return 1 << 40, true
}

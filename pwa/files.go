package pwa

import (
	"embed"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"sync"

	"hangtrue/pwa/pages"
)

//go:generate go run ./internal/build

//go:embed all:dist
var dist embed.FS

// ErrNotBuilt is returned when the folder dist has not been filled.
var ErrNotBuilt = errors.New("run go generate ./pwa first")

// Shell is the address of the page that the service worker answers every
// navigation with. The server renders it without a script's help or a job's data.
const Shell = pages.Shell

// A File is one thing a phone loads.
type File struct {
	Path      string // as in the address, "/assets/app.0123456789abcdef.js"
	Type      string // Content-Type
	Hash      string // SHA-256 of Content, hex; fit for an ETag
	Immutable bool   // the address names these bytes for ever
	Content   []byte
	// Encoded are the same bytes compressed, by the name of the content coding
	// ("br", "gzip"); empty for what does not get smaller. The caller must not
	// change any of them.
	Encoded map[string][]byte
}

// Index finds the files by address.
type Index struct {
	version string
	assets  pages.Assets
	files   []File
	byPath  map[string]int
}

// A Listing is files.json as the generator writes it.
type Listing struct {
	Version string       `json:"version"`
	Assets  pages.Assets `json:"assets"`
	Files   []ListedFile `json:"files"`
}

// A ListedFile is one file of a listing; its content is at dist + Path, and at
// that name with .br and .gz for the encodings.
type ListedFile struct {
	Path      string   `json:"path"`
	Type      string   `json:"type"`
	Hash      string   `json:"sha256"`
	Immutable bool     `json:"immutable"`
	Encodings []string `json:"encodings,omitempty"`
}

// Suffixes are the endings of compressed files by content coding.
var Suffixes = map[string]string{"br": ".br", "gzip": ".gz"}

var embedded = sync.OnceValues(func() (*Index, error) {
	sub, err := fs.Sub(dist, "dist")
	if err != nil {
		return nil, err
	}
	return ReadFiles(sub)
})

// Files is the index of what was built into this binary, or [ErrNotBuilt].
func Files() (*Index, error) { return embedded() }

// ReadFiles reads the index of a folder that the generator filled.
func ReadFiles(dir fs.FS) (*Index, error) {
	data, err := fs.ReadFile(dir, "files.json")
	if errors.Is(err, fs.ErrNotExist) {
		return nil, ErrNotBuilt
	}
	if err != nil {
		return nil, fmt.Errorf("pwa: %w", err)
	}
	var l Listing
	if err := json.Unmarshal(data, &l); err != nil {
		return nil, fmt.Errorf("pwa: files.json: %w", err)
	}
	index := &Index{version: l.Version, assets: l.Assets, byPath: map[string]int{}}
	for _, listed := range l.Files {
		f := File{Path: listed.Path, Type: listed.Type, Hash: listed.Hash, Immutable: listed.Immutable}
		if f.Content, err = fs.ReadFile(dir, listed.Path[1:]); err != nil {
			return nil, fmt.Errorf("pwa: %w; %w", err, ErrNotBuilt)
		}
		for _, coding := range listed.Encodings {
			if f.Encoded == nil {
				f.Encoded = map[string][]byte{}
			}
			if f.Encoded[coding], err = fs.ReadFile(dir, listed.Path[1:]+Suffixes[coding]); err != nil {
				return nil, fmt.Errorf("pwa: %w; %w", err, ErrNotBuilt)
			}
		}
		index.byPath[f.Path] = len(index.files)
		index.files = append(index.files, f)
	}
	return index, nil
}

// Lookup finds the file at the path of an address.
func (x *Index) Lookup(path string) (File, bool) {
	i, ok := x.byPath[path]
	if !ok {
		return File{}, false
	}
	return x.files[i], true
}

// Worker is the service worker. It is served without any caching.
func (x *Index) Worker() File { f, _ := x.Lookup("/sw.js"); return f }

// WorkerOff, served at the service worker's address instead of it, takes the
// service worker off every phone that comes by, and leaves what was recorded.
func (x *Index) WorkerOff() File {
	f, _ := x.Lookup("/sw-off.js")
	f.Path = "/sw.js"
	return f
}

// All are the files in the order of the listing.
func (x *Index) All() []File { return x.files }

// Version names this set of files.
func (x *Index) Version() string { return x.version }

// Assets are the addresses that a page's head needs.
func (x *Index) Assets() pages.Assets { return x.assets }

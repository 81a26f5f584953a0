package main

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"github.com/andybalholm/brotli"

	"hangtrue/pwa"
	"hangtrue/pwa/pages"
)

// A file of the output, before it is written.
type file struct {
	path      string // in the address
	kind      string // Content-Type
	immutable bool
	later     bool // fetched when it is needed, not on a first visit
	content   []byte
	encoded   map[string][]byte
}

func (f *file) hash() string { return sum(f.content) }

func (f *file) smallest() int {
	if br, ok := f.encoded["br"]; ok {
		return len(br)
	}
	return len(f.content)
}

// integrity is the hash in the form that a browser checks (W3C Subresource Integrity).
func (f *file) integrity() string {
	h := sha256.Sum256(f.content)
	return "sha256-" + base64.StdEncoding.EncodeToString(h[:])
}

func sum(content []byte) string {
	h := sha256.Sum256(content)
	return hex.EncodeToString(h[:])
}

var kinds = map[string]string{
	".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8", ".wasm": "application/wasm",
	".webmanifest": "application/manifest+json", ".png": "image/png", ".svg": "image/svg+xml",
}

// hashed is a file that is named by its content, so that its address never has
// other bytes.
func hashed(name string, content []byte) *file {
	ext := path.Ext(name)
	return &file{
		path: "/assets/" + strings.TrimSuffix(name, ext) + "." + sum(content)[:16] + ext,
		kind: kinds[ext], immutable: true, content: content,
	}
}

// plain is a file with a fixed address.
func plain(name string, content []byte) *file {
	return &file{path: "/" + name, kind: kinds[path.Ext(name)], content: content}
}

// build makes everything and writes it to out. It is run in the folder of package pwa.
func build(static, out string, level int) ([]*file, error) {
	ladder, starter, err := program("-tags=ladder")
	if err != nil {
		return nil, err
	}
	all, _, err := program("-tags=")
	if err != nil {
		return nil, err
	}
	engine, whole := hashed("phone.wasm", ladder), hashed("whole.wasm", all)
	whole.later = true
	files := []*file{engine}

	style, err := os.ReadFile(filepath.Join(static, "hangtrue.css"))
	if err != nil {
		return nil, err
	}
	css := hashed("hangtrue.css", style)
	files = append(files, css)

	icons, err := drawIcons()
	if err != nil {
		return nil, err
	}
	for _, i := range icons {
		files = append(files, i.file)
	}

	app, err := script(static, starter, map[string]string{"ENGINE": engine.path, "WHOLE": whole.path})
	if err != nil {
		return nil, err
	}
	files = append(files, app)

	manifest, err := manifest(icons)
	if err != nil {
		return nil, err
	}
	files = append(files, manifest)

	var precache []listed
	for _, f := range files {
		precache = append(precache, listed{URL: f.path, Integrity: f.integrity()})
	}
	version := sum(must(json.Marshal(precache)))[:16]
	later := []listed{{URL: whole.path, Integrity: whole.integrity()}}
	worker, err := serviceWorker(static, version, precache, later)
	if err != nil {
		return nil, err
	}
	off, err := os.ReadFile(filepath.Join(static, offScript))
	if err != nil {
		return nil, err
	}
	files = append(files, whole, worker, plain(offScript, off))

	for _, f := range files {
		if err := compress(f, level, out); err != nil {
			return nil, err
		}
	}
	assets := pages.Assets{
		Style: css.path, Script: app.path, Manifest: manifest.path,
		Icon: icons[0].file.path, AppleIcon: icons[len(icons)-1].file.path, Version: version,
	}
	return files, write(out, level, version, assets, files)
}

// notInlined leaves calls as calls: pages are built by many small functions, and the
// libraries are called from many places. With Go 1.26.8 it made the first program 1.52 MB
// in brotli; 1.58 MB with our own packages alone left so. What runs all the time, the
// runtime and its maps, stays as it is.
var notInlined = []string{"-gcflags=all=-l", "-gcflags=runtime=", "-gcflags=internal/runtime/maps="}

// program compiles the phone's program, with a flag of its own, and finds the script
// that belongs to it.
func program(flag string) (wasm, starter []byte, err error) {
	temp, err := os.MkdirTemp("", "hangtrue-build-")
	if err != nil {
		return nil, nil, err
	}
	defer os.RemoveAll(temp)
	target := filepath.Join(temp, "phone.wasm")
	args := slices.Concat([]string{"build", flag, "-trimpath", "-ldflags=-s"}, notInlined, []string{"-buildvcs=false", "-o", target, "./phone"})
	if _, err = run(args...); err != nil {
		return nil, nil, err
	}
	if wasm, err = os.ReadFile(target); err != nil {
		return nil, nil, err
	}
	root, err := run("env", "GOROOT")
	if err != nil {
		return nil, nil, err
	}
	starter, err = os.ReadFile(filepath.Join(strings.TrimSpace(string(root)), "lib", "wasm", "wasm_exec.js"))
	return wasm, starter, err
}

// run runs the go command for the browser's platform.
func run(args ...string) ([]byte, error) {
	cmd := exec.Command("go", args...)
	cmd.Env = append(os.Environ(), "GOOS=js", "GOARCH=wasm", "GOFLAGS=")
	var stderr bytes.Buffer
	cmd.Stderr = &stderr
	out, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("go %s: %w\n%s", strings.Join(args, " "), err, stderr.Bytes())
	}
	return out, nil
}

// compressible are the types that get smaller.
func compressible(kind string) bool {
	return !strings.HasPrefix(kind, "image/png")
}

// compress makes the encodings of a file, or takes them from an earlier output
// where the same bytes were compressed at the same level.
func compress(f *file, level int, out string) error {
	if !compressible(f.kind) {
		return nil
	}
	f.encoded = map[string][]byte{}
	if earlier(f, level, out) {
		return nil
	}
	var br bytes.Buffer
	bw := brotli.NewWriterOptions(&br, brotli.WriterOptions{Quality: level, LGWin: 24})
	if _, err := bw.Write(f.content); err != nil {
		return err
	}
	if err := bw.Close(); err != nil {
		return err
	}
	var gz bytes.Buffer
	gw, err := gzip.NewWriterLevel(&gz, min(level, gzip.BestCompression))
	if err != nil {
		return err
	}
	if _, err := gw.Write(f.content); err != nil {
		return err
	}
	if err := gw.Close(); err != nil {
		return err
	}
	f.encoded["br"], f.encoded["gzip"] = br.Bytes(), gz.Bytes()
	return nil
}

// levelFile notes at which level a folder was compressed.
const levelFile = "level"

// earlier takes the encodings from the folder, if it has the same file by content.
func earlier(f *file, level int, out string) bool {
	was, err := os.ReadFile(filepath.Join(out, levelFile))
	if err != nil || strings.TrimSpace(string(was)) != fmt.Sprint(level) || !f.immutable {
		return false
	}
	at := filepath.Join(out, filepath.FromSlash(f.path))
	if content, err := os.ReadFile(at); err != nil || !bytes.Equal(content, f.content) {
		return false
	}
	for coding, suffix := range pwa.Suffixes {
		content, err := os.ReadFile(at + suffix)
		if err != nil {
			return false
		}
		f.encoded[coding] = content
	}
	return true
}

// keptName is the one file of the output that is in git.
const keptName = "README"

// write makes the folder anew beside the old one and then changes places file by
// file, so that a build that fails leaves the old output whole.
func write(out string, level int, version string, assets pages.Assets, files []*file) error {
	listing := pwa.Listing{Version: version, Assets: assets}
	parts := map[string][]byte{levelFile: []byte(fmt.Sprintln(level))}
	for _, f := range files {
		l := pwa.ListedFile{Path: f.path, Type: f.kind, Hash: f.hash(), Immutable: f.immutable}
		parts[f.path[1:]] = f.content
		for coding, content := range f.encoded {
			if len(content) < len(f.content) {
				l.Encodings = append(l.Encodings, coding)
			}
			parts[f.path[1:]+pwa.Suffixes[coding]] = content
		}
		slices.Sort(l.Encodings)
		listing.Files = append(listing.Files, l)
	}
	index, err := json.MarshalIndent(listing, "", "\t")
	if err != nil {
		return err
	}
	for name, content := range parts {
		if err := writeFile(filepath.Join(out, filepath.FromSlash(name)), content); err != nil {
			return err
		}
	}
	// The index comes last: it is what makes the output valid.
	if err := writeFile(filepath.Join(out, "files.json"), append(index, '\n')); err != nil {
		return err
	}
	return tidy(out, parts)
}

func writeFile(name string, content []byte) error {
	if err := os.MkdirAll(filepath.Dir(name), 0o755); err != nil {
		return err
	}
	if was, err := os.ReadFile(name); err == nil && bytes.Equal(was, content) {
		return nil // the same bytes keep their time, and the Go build cache its work
	}
	next := name + ".next"
	if err := os.WriteFile(next, content, 0o644); err != nil {
		return err
	}
	return os.Rename(next, name)
}

// tidy removes what an earlier build left.
func tidy(out string, keep map[string][]byte) error {
	return filepath.WalkDir(out, func(at string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		name, err := filepath.Rel(out, at)
		if err != nil {
			return err
		}
		name = filepath.ToSlash(name)
		if _, ok := keep[name]; ok || name == "files.json" || name == keptName {
			return nil
		}
		if err := os.Remove(at); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return err
		}
		return nil
	})
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

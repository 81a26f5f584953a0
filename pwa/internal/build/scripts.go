package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"hangtrue/pwa"
)

// entryModule is the script that a page names; workerScript stands apart, since a
// service worker has a fixed address and imports nothing.
const (
	entryModule  = "app.js"
	workerScript = "sw.js"
	offScript    = "sw-off.js" // see pwa.Index.WorkerOff
)

type moduleSet struct {
	entry string // address
	files []*file
}

// imports finds what a module imports from beside it. The modules are ours, so
// one plain form is enough: from './name.js'.
var imports = regexp.MustCompile(`(from\s+|import\s+)'\./([a-z]+\.js)'`)

// modules names the scripts by their content. A module's name depends on the
// names of what it imports, so those come first. Words between @ signs in them
// stand for addresses that only the build knows.
func modules(static string, addresses map[string]string) (moduleSet, error) {
	var set moduleSet
	done := map[string]string{}
	var visit func(name string, from []string) error
	visit = func(name string, from []string) error {
		if done[name] != "" {
			return nil
		}
		if slices.Contains(from, name) {
			return fmt.Errorf("scripts import each other in a circle: %s", strings.Join(append(from, name), " → "))
		}
		source, err := os.ReadFile(filepath.Join(static, name))
		if err != nil {
			return err
		}
		for word, address := range addresses {
			source = bytes.ReplaceAll(source, []byte("@"+word+"@"), []byte(address))
		}
		for _, m := range imports.FindAllSubmatch(source, -1) {
			if err := visit(string(m[2]), append(from, name)); err != nil {
				return err
			}
		}
		source = imports.ReplaceAllFunc(source, func(found []byte) []byte {
			m := imports.FindSubmatch(found)
			return []byte(string(m[1]) + "'" + done[string(m[2])] + "'")
		})
		f := hashed(name, source)
		done[name] = f.path
		set.files = append(set.files, f)
		return nil
	}
	if err := visit(entryModule, nil); err != nil {
		return moduleSet{}, err
	}
	set.entry = done[entryModule]
	unused, err := filepath.Glob(filepath.Join(static, "*.js"))
	if err != nil {
		return moduleSet{}, err
	}
	for _, name := range unused {
		if base := filepath.Base(name); done[base] == "" && base != workerScript && base != offScript {
			return moduleSet{}, fmt.Errorf("%s is imported by nothing", base)
		}
	}
	return set, nil
}

// listed is a file in the service worker's list, with the hash that the browser
// holds the download to.
type listed struct {
	URL       string `json:"url"`
	Integrity string `json:"integrity"`
}

// serviceWorker puts the version and the list before the worker's script. Any
// change of any file changes the worker's bytes, which is what a browser looks at.
func serviceWorker(static, version string, files, later []listed) (*file, error) {
	source, err := os.ReadFile(filepath.Join(static, workerScript))
	if err != nil {
		return nil, err
	}
	list, err := json.MarshalIndent(files, "", "  ")
	if err != nil {
		return nil, err
	}
	once, err := json.MarshalIndent(later, "", "  ")
	if err != nil {
		return nil, err
	}
	head := fmt.Sprintf("const VERSION = %q;\nconst SHELL = %q;\nconst FILES = %s;\nconst LATER = %s;\n\n", version, pwa.Shell, list, once)
	return plain(workerScript, append([]byte(head), source...)), nil
}

// manifest tells a browser how to put the program on a home screen. Its id is
// fixed for ever: it is what an installed copy is known by.
func manifest(icons []icon) (*file, error) {
	type entry struct {
		Src     string `json:"src"`
		Sizes   string `json:"sizes"`
		Type    string `json:"type"`
		Purpose string `json:"purpose"`
	}
	var list []entry
	for _, i := range icons {
		if i.purpose != "" {
			list = append(list, entry{i.file.path, fmt.Sprintf("%dx%d", i.size, i.size), "image/png", i.purpose})
		}
	}
	content, err := json.MarshalIndent(map[string]any{
		"id": "/", "name": "hangtrue", "short_name": "hangtrue", "lang": "en",
		"description": "Hang and wire loudspeakers by the plan, and keep the record.",
		"start_url":   "/", "scope": "/", "display": "standalone",
		"background_color": paper.css(), "theme_color": paper.css(), "icons": list,
	}, "", "  ")
	if err != nil {
		return nil, err
	}
	return plain("manifest.webmanifest", append(content, '\n')), nil
}

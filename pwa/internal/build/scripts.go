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

// The modules are ours, so one plain form of import and of export is enough.
var (
	imports = regexp.MustCompile(`(?m)^import (?:\{ ([A-Za-z0-9, ]+) \} from )?'\./([a-z]+\.js)';\n`)
	exports = regexp.MustCompile(`(?m)^export ((?:class|const|function) ([A-Za-z0-9]+))`)
	remarks = regexp.MustCompile(`(?m)^[ \t]*(?:/\*[^*]*(?:\*+[^*/][^*]*)*\*+/|//.*)\n`)
	linked  = regexp.MustCompile(`(?m)^(?:import|export) .*`)
)

// script makes one file of the modules: every file that a page loads is one more
// errand to the service worker before the page can be used. Each module becomes a
// function that gives what it exports, after those it imports; comments on lines of their
// own stay behind. Words between @ signs stand for addresses that only the build knows.
func script(static string, starter []byte, addresses map[string]string) (*file, error) {
	b := bundle{static: static, exported: map[string]string{}}
	b.out.Write(starter)
	if err := b.add(entryModule, nil); err != nil {
		return nil, err
	}
	there, err := filepath.Glob(filepath.Join(static, "*.js"))
	if err != nil {
		return nil, err
	}
	for _, name := range there {
		if base := filepath.Base(name); !slices.Contains(b.done, base) && base != workerScript && base != offScript {
			return nil, fmt.Errorf("%s is imported by nothing", base)
		}
	}
	content := b.out.Bytes()
	for word, address := range addresses {
		content = bytes.ReplaceAll(content, []byte("@"+word+"@"), []byte(address))
	}
	return hashed(entryModule, content), nil
}

type bundle struct {
	static   string
	out      bytes.Buffer
	done     []string
	exported map[string]string // name → module
}

// add writes a module behind those it imports; from are those that led to it.
func (b *bundle) add(name string, from []string) error {
	if slices.Contains(b.done, name) {
		return nil
	}
	if slices.Contains(from, name) {
		return fmt.Errorf("scripts import each other in a circle: %s", strings.Join(append(from, name), " → "))
	}
	data, err := os.ReadFile(filepath.Join(b.static, name))
	if err != nil {
		return err
	}
	source := remarks.ReplaceAllString(string(data), "")
	for _, m := range imports.FindAllStringSubmatch(source, -1) {
		if err := b.add(m[2], append(from, name)); err != nil {
			return err
		}
		for _, word := range strings.Split(m[1], ", ") {
			if m[1] != "" && b.exported[word] != m[2] {
				return fmt.Errorf("%s: %s does not export %s", name, m[2], word)
			}
		}
	}
	var names []string
	for _, m := range exports.FindAllStringSubmatch(source, -1) {
		if other, ok := b.exported[m[2]]; ok {
			return fmt.Errorf("%s and %s both export %s", other, name, m[2])
		}
		names = append(names, m[2])
		b.exported[m[2]] = name
	}
	source = exports.ReplaceAllString(imports.ReplaceAllString(source, ""), "$1")
	if left := linked.FindString(source); left != "" {
		return fmt.Errorf("%s: wanted import { name } from './file.js' or export class, const or function; read %q", name, left)
	}
	b.done = append(b.done, name)
	if name == entryModule { // may wait, as a function may not
		fmt.Fprintf(&b.out, "\n%s", source)
		return nil
	}
	give := strings.Join(names, ", ")
	fmt.Fprintf(&b.out, "\nconst { %s } = (() => {\n%sreturn { %s };\n})();\n", give, source, give)
	return nil
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

package server_test

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestImports: nothing of the server takes chance from where it can be foreseen, a
// hash that is broken, or a page for debugging.
func TestImports(t *testing.T) {
	read := 0
	for _, root := range []string{".", "../cmd"} {
		err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			if err != nil || d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
				return err
			}
			if strings.HasPrefix(path, "simulate") || strings.HasPrefix(path, "measure") || strings.Contains(path, "storetest") {
				return nil // programs of their own that play and measure; chance is drawn from a seed there
			}
			file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
			require.NoError(t, err)
			read++
			for _, spec := range file.Imports {
				for _, bad := range []string{"math/rand", "math/rand/v2", "crypto/md5", "crypto/sha1", "net/http/pprof", "expvar", "crypto/des", "crypto/rc4"} {
					assert.NotEqual(t, `"`+bad+`"`, spec.Path.Value, path)
				}
			}
			return nil
		})
		require.NoError(t, err)
	}
	require.Greater(t, read, 40)
}

// TestNoSecretInSource: no file of the repository has a secret key in it, but the folders
// that tests open, whose keys sign nothing else.
func TestNoSecretInSource(t *testing.T) {
	secret := regexp.MustCompile(`-----BEGIN [A-Z ]*PRIVATE KEY-----\s*[A-Za-z0-9+/=]{40}|PRIVATE\+KEY\+[^\s+]+\+[0-9a-f]{8}\+[A-Za-z0-9+/=]{40}`)
	read := 0
	require.NoError(t, filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		switch {
		case err != nil:
			return err
		case d.IsDir() && (d.Name() == "node_modules" || d.Name() == "dist" || d.Name() == ".git" || path == "../testdata/folders"):
			return fs.SkipDir
		case !d.Type().IsRegular():
			return nil
		}
		text, err := os.ReadFile(path)
		read++
		assert.NotRegexp(t, secret, string(text), path)
		return err
	}))
	require.Greater(t, read, 200)
	key, err := os.ReadFile("../testdata/folders/format-1/keys/seal.key")
	require.NoError(t, err)
	require.Regexp(t, secret, string(key), "it would be found")
}

// TestScripts: no script makes code of text, no secret is kept where scripts can read it,
// and markup goes into a page at five places alone, which put what this program rendered.
func TestScripts(t *testing.T) {
	files, err := filepath.Glob("../pwa/static/*.js")
	require.NoError(t, err)
	require.Greater(t, len(files), 10)
	places := map[string]int{}
	for _, path := range files {
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		for what, pattern := range map[string]string{
			"code out of text":   `\beval\s*\(|\bFunction\s*\(|set(Timeout|Interval)\s*\(\s*['"\x60]|javascript:|\bimport\s*\(\s*[^'"\s)]*\+`,
			"markup out of text": `insertAdjacentHTML|\.outerHTML\s*=[^=]|document\.write|createContextualFragment|srcdoc`,
			"a secret kept":      `localStorage|sessionStorage|document\.cookie`,
			"a prototype":        `__proto__|setPrototypeOf|\.prototype\b`,
		} {
			assert.NotRegexp(t, pattern, string(text), "%s: %s", path, what)
		}
		if n := len(regexp.MustCompile(`\.innerHTML\s*=[^=]`).FindAll(text, -1)); n > 0 {
			places[filepath.Base(path)] = n
		}
	}
	assert.Equal(t, map[string]int{"page.js": 3, "pair.js": 1, "say.js": 1}, places)
}

// TestComponents: every module that go.mod asks for by itself is listed with its use.
func TestComponents(t *testing.T) {
	mod, err := os.ReadFile("../go.mod")
	require.NoError(t, err)
	text, err := os.ReadFile("../DEVELOPERS.md")
	require.NoError(t, err)
	_, list, found := strings.Cut(string(text), "## Dependencies")
	require.True(t, found)
	modules := regexp.MustCompile(`(?m)^\t(\S+) v\S+$`).FindAllStringSubmatch(string(mod), -1)
	require.Greater(t, len(modules), 10)
	for _, m := range modules {
		name := regexp.MustCompile(`/v\d+$`).ReplaceAllString(m[1], "")
		assert.Contains(t, list, name[strings.LastIndexByte(name, '/')+1:], m[1])
	}
}

// TestSecurityDocument: every test that SECURITY.md names is there.
func TestSecurityDocument(t *testing.T) {
	text, err := os.ReadFile("SECURITY.md")
	require.NoError(t, err)
	tests := map[string]bool{}
	for _, root := range []string{".", "../checklist", "../cmd", "../compute", "../pwa"} {
		require.NoError(t, filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			if err != nil || !strings.HasSuffix(path, "_test.go") {
				return err
			}
			source, err := os.ReadFile(path)
			for _, m := range regexp.MustCompile(`(?m)^func ((?:Test|Fuzz)\w+)\([tf] `).FindAllSubmatch(source, -1) {
				tests[string(m[1])] = true
			}
			return err
		}))
	}
	named := regexp.MustCompile("`((?:Test|Fuzz)\\w+)`").FindAllStringSubmatch(string(text), -1)
	require.Greater(t, len(named), 40)
	for _, m := range named {
		assert.True(t, tests[m[1]], "SECURITY.md names %s", m[1])
	}
	rows := regexp.MustCompile(`(?m)^\| (V\d[^|]*) \|.*\| *([^|]*?) *\|$`).FindAllStringSubmatch(string(text), -1)
	require.Greater(t, len(rows), 50)
	for _, row := range rows {
		if row[1] != "V11.1.2" { // the list of keys, which is on the page itself
			assert.Contains(t, row[2], "Test", "what holds %s?", row[1])
		}
	}
}

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

// TestSecurityDocument: every test that SECURITY.md names is there.
func TestSecurityDocument(t *testing.T) {
	text, err := os.ReadFile("SECURITY.md")
	require.NoError(t, err)
	tests := map[string]bool{}
	for _, root := range []string{".", "../checklist", "../cmd", "../pwa"} {
		require.NoError(t, filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
			if err != nil || !strings.HasSuffix(path, "_test.go") {
				return err
			}
			source, err := os.ReadFile(path)
			for _, m := range regexp.MustCompile(`(?m)^func (Test\w+)\(t `).FindAllSubmatch(source, -1) {
				tests[string(m[1])] = true
			}
			return err
		}))
	}
	named := regexp.MustCompile("`(Test\\w+)`").FindAllStringSubmatch(string(text), -1)
	require.Greater(t, len(named), 40)
	for _, m := range named {
		assert.True(t, tests[m[1]], "SECURITY.md names %s", m[1])
	}
}

package main_test

import (
	"go/parser"
	"go/token"
	"io/fs"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// storeys is the house from the ground up: a package imports from its own storey
// and those below it, never from above.
var storeys = map[string]int{"compute": 0, "checklist": 1, "pwa": 2, "server": 3, "cmd": 4}

// outside are standard packages that the pure storeys must do without: they reach
// a file, a network, a clock's zone or chance.
var outside = map[string][]string{
	"compute":   {"os", "net", "net/http", "time", "math/rand", "math/rand/v2", "syscall", "io/fs", "log", "log/slog"},
	"checklist": {"os", "net", "net/http", "math/rand", "math/rand/v2", "syscall", "io/fs", "log", "log/slog"},
}

// rooms are the packages that alone may import something heavy: what the phone's program
// is made of is not among them.
var rooms = map[string][]string{
	"codeberg.org/go-pdf/fpdf": {"server/press"},
	"hangtrue/server/press":    {"server", "cmd/hangtrue"},
	"hangtrue/pwa/paper":       {"server/press", "server", "cmd/hangtrue"},
	// A phone decides by the newest steps alone; the former ones are for what verifies, and
	// for playing programs of before.
	"hangtrue/checklist/editions": {"checklist/seal", "server/simulate"},
}

func TestHouseImportsRunOneWay(t *testing.T) {
	read := 0
	err := filepath.WalkDir("../..", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && strings.HasPrefix(d.Name(), ".") && d.Name() != ".." {
			return fs.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		storey, _, _ := strings.Cut(strings.TrimPrefix(filepath.ToSlash(path), "../../"), "/")
		level, ok := storeys[storey]
		if !ok {
			return nil
		}
		read++
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.ImportsOnly)
		require.NoError(t, err)
		for _, spec := range file.Imports {
			name, err := strconv.Unquote(spec.Path.Value)
			require.NoError(t, err)
			if rest, ours := strings.CutPrefix(name, "hangtrue/"); ours {
				from, _, _ := strings.Cut(rest, "/")
				above, known := storeys[from]
				assert.True(t, known && above <= level || from == "testdata" && level >= storeys["server"], "%s imports %s", path, name)
			}
			assert.NotContains(t, outside[storey], name, path)
			for kept, where := range rooms {
				assert.False(t, name == kept && !slices.Contains(where, filepath.ToSlash(filepath.Dir(path))[len("../../"):]), "%s imports %s", path, name)
			}
		}
		return nil
	})
	require.NoError(t, err)
	require.Greater(t, read, 50, "the walk must have found the house")
}

package main

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"image/png"
	"io"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/andybalholm/brotli"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/pwa"
)

func built(t *testing.T) *pwa.Index {
	t.Chdir("../..")
	out := t.TempDir()
	require.NoError(t, os.WriteFile(out+"/left.js", []byte("from an earlier build"), 0o644))
	_, err := build("static", out, 4)
	require.NoError(t, err)
	assert.NoFileExists(t, out+"/left.js")
	x, err := pwa.ReadFiles(os.DirFS(out))
	require.NoError(t, err)

	// The same sources give the same bytes, so a second build changes nothing.
	_, err = build("static", out, 4)
	require.NoError(t, err)
	again, err := pwa.ReadFiles(os.DirFS(out))
	require.NoError(t, err)
	require.Equal(t, x.Version(), again.Version())
	return x
}

func TestBuild(t *testing.T) {
	x := built(t)
	worker := string(x.Worker().Content)
	require.NotEmpty(t, worker)
	require.NotEmpty(t, x.WorkerOff().Content)
	assert.Equal(t, "/sw.js", x.WorkerOff().Path)
	for _, f := range x.All() {
		sum := sha256.Sum256(f.Content)
		assert.Equal(t, fmt.Sprintf("%x", sum), f.Hash, f.Path)
		assert.NotEmpty(t, f.Type, f.Path)
		assert.Equal(t, strings.HasPrefix(f.Path, "/assets/"), f.Immutable, f.Path)
		if f.Immutable {
			assert.Contains(t, f.Path, f.Hash[:16], "named by its content")
			// The form that browsers check: W3C Subresource Integrity §3.1.
			assert.Contains(t, worker, `"sha256-`+base64.StdEncoding.EncodeToString(sum[:])+`"`, f.Path)
		}
		for coding, packed := range f.Encoded {
			var r io.Reader = brotli.NewReader(bytes.NewReader(packed))
			if coding == "gzip" {
				var err error
				r, err = gzip.NewReader(bytes.NewReader(packed))
				require.NoError(t, err)
			}
			plain, err := io.ReadAll(r)
			require.NoError(t, err)
			assert.True(t, bytes.Equal(f.Content, plain), "%s %s", f.Path, coding)
		}
	}
	assets := x.Assets()
	for _, path := range []string{assets.Style, assets.Script, assets.Manifest, assets.Icon, assets.AppleIcon} {
		_, ok := x.Lookup(path)
		assert.True(t, ok, path)
	}
	assert.Equal(t, x.Version(), assets.Version)
	assert.Contains(t, worker, fmt.Sprintf("const VERSION = %q", x.Version()))
}

// Every address that a script names is one of the files, and nothing in them is
// left for the build to fill in.
func TestBuildScripts(t *testing.T) {
	x := built(t)
	named := regexp.MustCompile(`'(/[a-z-]+(?:/[^']*)?\.(?:js|wasm))'`)
	found := 0
	for _, f := range x.All() {
		if !strings.HasPrefix(f.Type, "text/javascript") {
			continue
		}
		assert.NotContains(t, string(f.Content), "'./", f.Path)
		assert.NotRegexp(t, `@[A-Z]+@`, string(f.Content), f.Path)
		for _, m := range named.FindAllSubmatch(f.Content, -1) {
			_, ok := x.Lookup(string(m[1]))
			assert.True(t, ok, "%s names %s", f.Path, m[1])
			found++
		}
	}
	assert.Equal(t, 3, found, "both programs and the service worker")
}

// W3C Web Application Manifest: the members that browsers ask for before they put
// a page on the home screen, and icons of the size they say they are.
func TestBuildManifest(t *testing.T) {
	x := built(t)
	f, ok := x.Lookup(x.Assets().Manifest)
	require.True(t, ok)
	assert.Equal(t, "application/manifest+json", f.Type)
	var m struct {
		ID        string `json:"id"`
		Name      string `json:"name"`
		ShortName string `json:"short_name"`
		StartURL  string `json:"start_url"`
		Display   string `json:"display"`
		Icons     []struct {
			Src, Sizes, Type, Purpose string
		} `json:"icons"`
	}
	require.NoError(t, json.Unmarshal(f.Content, &m))
	assert.Equal(t, "/", m.ID)
	assert.Equal(t, "/", m.StartURL)
	assert.Equal(t, "standalone", m.Display)
	assert.NotEmpty(t, m.Name)
	assert.NotEmpty(t, m.ShortName)
	var kinds []string
	for _, i := range m.Icons {
		icon, ok := x.Lookup(i.Src)
		require.True(t, ok, i.Src)
		c, err := png.DecodeConfig(bytes.NewReader(icon.Content))
		require.NoError(t, err)
		assert.Equal(t, i.Sizes, fmt.Sprintf("%dx%d", c.Width, c.Height))
		kinds = append(kinds, i.Sizes+" "+i.Purpose)
	}
	assert.ElementsMatch(t, []string{"192x192 any", "512x512 any", "512x512 maskable"}, kinds)
}

// What matters of a maskable icon lies inside a circle of 2/5 of its size (W3C Web
// Application Manifest, icon masks): outside there is background only.
func TestMaskableIcon(t *testing.T) {
	m := drawMark(512, maskScale)
	for y := range 512 {
		for x := range 512 {
			dx, dy := float64(x)-255.5, float64(y)-255.5
			if dx*dx+dy*dy > (0.4*512)*(0.4*512) {
				r, g, b, _ := m.At(x, y).RGBA()
				require.Equal(t, paper, shade{uint8(r >> 8), uint8(g >> 8), uint8(b >> 8)}, "at %d, %d", x, y)
			}
		}
	}
}

func TestScriptOfModules(t *testing.T) {
	write := func(files map[string]string) string {
		dir := t.TempDir()
		for name, text := range files {
			require.NoError(t, os.WriteFile(dir+"/"+name, []byte(text), 0o644))
		}
		return dir
	}
	const b = "/**\n * What b gives: 2 * 3 or **.\n */\nexport const a = '@WORD@'; // there\n  // once more\nexport class C {}\n"
	dir := write(map[string]string{"app.js": "import { a, C } from './b.js';\nawait new C(a);\n", "b.js": b})
	f, err := script(dir, []byte("starts();\n"), map[string]string{"WORD": "/there"})
	require.NoError(t, err)
	assert.Equal(t, "starts();\n\nconst { a, C } = (() => {\nconst a = '/there'; // there\nclass C {}\nreturn { a, C };\n})();\n\nawait new C(a);\n", string(f.content))

	for want, files := range map[string]map[string]string{
		"app.js → b.js → app.js":      {"app.js": "import { a } from './b.js';\n", "b.js": "import './app.js';\n"},
		"c.js is imported by nothing": {"app.js": "import { a } from './b.js';\n", "b.js": b, "c.js": b},
		"b.js does not export d":      {"app.js": "import { a, d } from './b.js';\n", "b.js": b},
		"b.js and c.js both export a": {"app.js": "import { a } from './b.js';\nimport { C } from './c.js';\n", "b.js": b, "c.js": b},
		`read "export default 1;"`:    {"app.js": "export default 1;\n"},
		`read "import a from`:         {"app.js": "import a from './b.js';\n"},
	} {
		_, err := script(write(files), nil, nil)
		assert.ErrorContains(t, err, want)
	}
}

package pwa_test

import (
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/pwa"
)

func TestReadFilesNotBuilt(t *testing.T) {
	_, err := pwa.ReadFiles(fstest.MapFS{"README": {}})
	assert.ErrorIs(t, err, pwa.ErrNotBuilt)
	assert.EqualError(t, err, "run go generate ./pwa first")

	// An index whose files are gone is as good as none.
	_, err = pwa.ReadFiles(fstest.MapFS{"files.json": {Data: []byte(`{"files":[{"path":"/assets/a.js"}]}`)}})
	assert.ErrorIs(t, err, pwa.ErrNotBuilt)

	_, err = pwa.ReadFiles(fstest.MapFS{"files.json": {Data: []byte(`{`)}})
	assert.ErrorContains(t, err, "files.json")
}

func TestReadFilesLookup(t *testing.T) {
	x, err := pwa.ReadFiles(fstest.MapFS{
		"files.json":     {Data: []byte(`{"version":"v","files":[{"path":"/assets/a.js","type":"text/javascript","immutable":true,"encodings":["br"]}]}`)},
		"assets/a.js":    {Data: []byte("plain")},
		"assets/a.js.br": {Data: []byte("packed")},
	})
	require.NoError(t, err)
	f, ok := x.Lookup("/assets/a.js")
	require.True(t, ok)
	assert.Equal(t, pwa.File{Path: "/assets/a.js", Type: "text/javascript", Immutable: true, Content: []byte("plain"), Encoded: map[string][]byte{"br": []byte("packed")}}, f)
	_, ok = x.Lookup("/assets/b.js")
	assert.False(t, ok)
	assert.Equal(t, "v", x.Version())
}

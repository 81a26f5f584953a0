package layout_test

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/compute/layout"
)

func TestDecode_Published(t *testing.T) {
	data, err := os.ReadFile("layouts.json")
	require.NoError(t, err)
	list, err := layout.Decode(data)
	require.NoError(t, err)
	assert.Equal(t, layout.All(), list)
}

func TestDecode_Refuses(t *testing.T) {
	data, err := os.ReadFile("layouts.json")
	require.NoError(t, err)
	for _, row := range []struct{ old, new, want string }{
		{`"schema_version": 1`, `"schema_version": 2`, "schema_version: read 2"},
		{`"schema_version": 1`, `"schema_versions": 1`, "unknown field"},
		{`"derived": false`, `"derived": "no"`, "cannot unmarshal"},
		{`"name": "0+5+0"`, `"name": "0+2+0"`, `layout name "0+2+0"`},
		{`"name": "0+2+0"`, `"name": ""`, `layout name ""`},
		{`"sources": ["data-1",`, `"sources": ["data-9",`, `source "data-9"`},
		{`"sources": ["data-1", "data-1-copy", "data-3"]`, `"sources": []`, "sources: read none"},
		{`"label": "M-030", "short": "R", "pair": "M+030"`, `"label": "M+030", "short": "R", "pair": "M+030"`, `label "M+030"`},
		{`"pair": "M+030"`, `"pair": "M+000"`, `pair "M-030"`},
		{`"azimuth_bands_deg": [[30, 30]]`, `"azimuth_bands_deg": []`, "azimuth_bands_deg: read none"},
		{`"azimuth_bands_deg": [[30, 30]]`, `"azimuth_bands_deg": [[30, 181]]`, "want -180 to 180"},
		{`"azimuth_bands_deg": [[30, 30]]`, `"azimuth_bands_deg": [[31, 35]]`, "inside its own range"},
		{`"elevation_range_deg": [0, 15]`, `"elevation_range_deg": [15, 0]`, "want -90 to 90 in order"},
		{`"kind": "symmetric_pair"`, `"kind": "mirror"`, `kind: read "mirror"`},
		{`"labels": ["M+030", "M-030"]`, `"labels": ["M+030", "M-031"]`, `label "M-031"`},
		{`"min_deg": 30, "max_deg": 60`, `"min_deg": 60, "max_deg": 30`, "gap: read 60 to 30"},
	} {
		t.Run(row.new, func(t *testing.T) {
			changed := strings.Replace(string(data), row.old, row.new, 1)
			require.NotEqual(t, string(data), changed)
			_, err := layout.Decode([]byte(changed))
			require.ErrorIs(t, err, layout.ErrData)
			assert.ErrorContains(t, err, row.want)
		})
	}
	_, err = layout.Decode(append(data, '{'))
	assert.ErrorIs(t, err, layout.ErrData)
}

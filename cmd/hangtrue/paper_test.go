package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestPaper writes all paper of a plan and leaves a folder alone that has anything in it.
func TestPaper(t *testing.T) {
	golden(t, "help-paper.txt", command(t, "", "paper", "--help").stdout)
	out := filepath.Join(t.TempDir(), "new", "sheets")
	got := command(t, "", "paper", demoPlan, "--out", out, "--paper", "letter")
	require.Equal(t, exitGood, got.code, got.stderr)
	entries, err := os.ReadDir(out)
	require.NoError(t, err)
	kinds := map[string]int{}
	for _, e := range entries {
		data, err := os.ReadFile(filepath.Join(out, e.Name()))
		require.NoError(t, err)
		extension := filepath.Ext(e.Name())
		kinds[extension]++
		switch extension {
		case ".pdf":
			assert.True(t, strings.HasPrefix(string(data), "%PDF-"), e.Name())
		case ".svg":
			assert.Contains(t, string(data), `width="215.9mm"`, e.Name())
			if !strings.HasPrefix(e.Name(), "labels-") {
				assert.Contains(t, string(data), "DRAFT, not settled", "%s: a file does not tell that it was settled", e.Name())
			}
		}
	}
	assert.Equal(t, 7, kinds[".pdf"], "six kinds, and all of it")
	assert.Equal(t, 3, kinds[".csv"])
	assert.Greater(t, kinds[".svg"], 20)
	assert.Contains(t, got.stdout, "Print all-letter.pdf at 100%")

	again := command(t, "", "paper", demoPlan, "--out", out)
	assert.Equal(t, exitBad, again.code)
	assert.Contains(t, again.stderr, "it is not empty; name a new folder")

	labels := filepath.Join(t.TempDir(), "labels")
	require.Equal(t, exitGood, command(t, "", "paper", demoPlan, "--out", labels, "--labels", "grid=3x8, skip=4").code)
}

func TestPaper_Refused(t *testing.T) {
	out := filepath.Join(t.TempDir(), "none")
	for _, row := range []struct {
		args []string
		says string
	}{
		{[]string{demoPlan}, "hangtrue: say with --out which folder to write into\n"},
		{[]string{demoPlan, "--out", out, "--paper", "a3"}, "hangtrue: --paper: read \"a3\", want a4 or letter\n"},
		{[]string{demoPlan, "--out", out, "--labels", "rows"}, "hangtrue: --labels: read \"rows\", want name=value\n"},
		{[]string{demoPlan, "--out", out, "--labels", "rows=99"}, "hangtrue: --labels: rows: read 99, want 1 to 30\n"},
		{[]string{"nowhere.json", "--out", out}, "hangtrue: nowhere.json: no such file or directory\n"},
		{[]string{demoPlan, "--out", demoPlan}, "hangtrue: " + demoPlan + ": not a directory\n"},
	} {
		got := command(t, "", append([]string{"paper"}, row.args...)...)
		assert.Equal(t, exitBad, got.code)
		assert.Equal(t, row.says, got.stderr)
	}
	bad := command(t, `{"format": "x"}`, "paper", "-", "--out", out)
	assert.Equal(t, exitBad, bad.code)
	assert.Contains(t, bad.stderr, "/format")
	_, err := os.Stat(out)
	assert.ErrorIs(t, err, os.ErrNotExist, "nothing was made")
}

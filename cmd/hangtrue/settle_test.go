package main

import (
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/plan"
)

// A plan becomes a job, a changed plan its next revision, and what changed is told
// before and after.
func TestSettle(t *testing.T) {
	p := start(t, "--data", t.TempDir())
	t.Cleanup(func() { _ = p.cmd.Process.Kill(); p.end() })
	const example = "../../testdata/plans/example.json"

	got := command(t, "", "settle", example, "--server", p.url)
	require.Equal(t, exitGood, got.code, got.stderr)
	job := regexp.MustCompile(`/jobs/([0-9a-f-]{36})`).FindStringSubmatch(got.stdout)
	require.NotNil(t, job, got.stdout)
	assert.Contains(t, got.stdout, "Settled as revision 1.")

	data, err := os.ReadFile(example)
	require.NoError(t, err)
	changed, err := plan.Decode(data)
	require.NoError(t, err)
	changed.Mounts[0].Along += 0.02
	data, err = changed.Encode()
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "changed.json")
	require.NoError(t, os.WriteFile(file, data, 0o600))

	got = command(t, "", "settle", file, "--server", p.url, "--job", job[1])
	assert.Equal(t, exitBad, got.code)
	assert.Contains(t, got.stderr, "--reason")
	got = command(t, "", "settle", file, "--server", p.url, "--job", job[1], "--dry-run")
	require.Equal(t, exitGood, got.code, got.stderr)
	assert.Contains(t, got.stdout, "M+030, hole along")
	assert.Contains(t, got.stdout, "20 mm more")
	assert.Contains(t, got.stdout, "Nothing was settled.")
	got = command(t, "", "settle", file, "--server", p.url, "--job", job[1], "--reason", "a pipe")
	require.Equal(t, exitGood, got.code, got.stderr)
	assert.Contains(t, got.stdout, "Settled as revision 2.")

	for _, row := range []struct {
		name string
		args []string
		says string
	}{
		{"no server", []string{"settle", example, "--server", "http://127.0.0.1:1"}, "no server answers"},
		{"an unknown job", []string{"settle", file, "--server", p.url, "--job", strings.Repeat("0", 8) + "-0000-7000-8000-000000000000", "--reason", "x"}, "job"},
		{"an unsound plan", []string{"settle", "../../testdata/plans/bad/channel-twice.json", "--server", p.url}, "/mounts/"},
		{"no plan", []string{"settle"}, "one plan"},
	} {
		t.Run(row.name, func(t *testing.T) {
			got := command(t, "", row.args...)
			assert.Equal(t, exitBad, got.code, got.stdout)
			assert.Contains(t, got.stderr, row.says)
		})
	}
}

// Where the server asks this computer to be paired too, who may write its folder is
// let in for one run and no longer; others are told what to do.
func TestSettle_Locked(t *testing.T) {
	dir := t.TempDir()
	p := start(t, "--data", dir, "--locked")
	t.Cleanup(func() { _ = p.cmd.Process.Kill(); p.end() })
	const example = "../../testdata/plans/example.json"
	other := start(t, "--data", t.TempDir()+"/other")
	require.NoError(t, other.cmd.Process.Kill())
	other.end()
	got := command(t, "", "settle", example, "--server", p.url, "--data", other.cmd.Args[len(other.cmd.Args)-1])
	assert.Equal(t, exitBad, got.code)
	assert.Contains(t, got.stderr, "this server's folder")
	// Another program of this computer that says what a locked server says gets no code.
	var asked []string
	impostor := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		asked = append(asked, r.URL.Path)
		w.WriteHeader(http.StatusUnauthorized)
	}))
	defer impostor.Close()
	for _, at := range []string{impostor.URL, strings.Replace(impostor.URL, "http://", "http://"+strings.TrimPrefix(p.url, "http://")+"@", 1)} {
		got = command(t, "", "settle", example, "--server", at, "--data", dir)
		assert.Equal(t, exitBad, got.code)
		assert.Contains(t, got.stderr, "this server's folder")
	}
	assert.NotContains(t, asked, "/api/pair")
	assert.NoFileExists(t, filepath.Join(dir, "keys", "devices.json"), "nor was one opened")

	got = command(t, "", "settle", example, "--server", p.url)
	assert.Equal(t, exitBad, got.code)
	assert.Contains(t, got.stderr, "--data")
	got = command(t, "", "settle", example, "--server", p.url, "--data", dir)
	require.Equal(t, exitGood, got.code, got.stderr)
	assert.Contains(t, got.stdout, "Settled as revision 1.")
	assert.Regexp(t, `lead +lead .* revoked `, command(t, "", "devices", "--data", dir).stdout)
}

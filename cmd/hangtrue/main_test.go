package main

import (
	"bytes"
	"context"
	"flag"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/pwa"
	"hangtrue/pwa/pages"
	"hangtrue/server"
)

var update = flag.Bool("update", false, "write the golden files anew")

// runVariable makes the test binary be the program itself, for tests that kill it.
const runVariable = "HANGTRUE_TEST_RUN"

func TestMain(m *testing.M) {
	if os.Getenv(runVariable) != "" {
		runAsProgram()
	}
	os.Exit(m.Run())
}

// noFiles stands for the part that runs on phones, which a test of the program need not build.
type noFiles struct{}

func (noFiles) Lookup(string) (pwa.File, bool) { return pwa.File{}, false }
func (noFiles) Assets() pages.Assets           { return pages.Assets{Version: "test"} }

func withoutFiles() (server.Static, error) { return noFiles{}, nil }

// an outcome of a command.
type outcome struct {
	code           int
	stdout, stderr string
}

// command runs a command line in this process.
func command(t testing.TB, stdin string, args ...string) outcome {
	var stdout, stderr bytes.Buffer
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	defer cancel()
	code := Main{
		Stdin: strings.NewReader(stdin), Stdout: &stdout, Stderr: &stderr, Now: time.Now, Static: withoutFiles,
		Env: func(string) string { return "" },
	}.Run(ctx, args)
	return outcome{code, stdout.String(), stderr.String()}
}

// golden compares with a file of testdata, or writes it.
func golden(t *testing.T, name, got string) {
	path := filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(want), got, "run the test with -update and look at what changed")
}

const (
	demoPlan     = "../../testdata/demo/plan.json"
	demoMeasured = "../../testdata/demo/measured.json"
)

// TestCommands runs whole command lines. Output is compared whole with a golden
// file where one is named.
func TestCommands(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) string {
		path := filepath.Join(dir, name)
		require.NoError(t, os.WriteFile(path, []byte(text), 0o600))
		return path
	}
	broken := write("broken.json", `{"format": "hangtrue-plan/1", "title": }`)
	empty := write("empty.json", `{}`)
	for _, row := range []struct {
		name   string
		args   []string
		code   int
		stdout string // golden file, empty: nothing is printed
		stderr string // contained; empty: nothing is printed
	}{
		{"no arguments", nil, 0, "help.txt", ""},
		{"help", []string{"--help"}, 0, "help.txt", ""},
		{"help as a word", []string{"help"}, 0, "help.txt", ""},
		{"help of serve", []string{"serve", "--help"}, 0, "help-serve.txt", ""},
		{"help of check", []string{"check", "-h"}, 0, "help-check.txt", ""},
		{"help of verify", []string{"help", "verify"}, 0, "help-verify.txt", ""},
		{"help of export", []string{"export", "--help"}, 0, "help-export.txt", ""},
		{"help of import", []string{"import", "--help"}, 0, "help-import.txt", ""},
		{"unknown command", []string{"hang"}, 2, "", `hangtrue: there is no command "hang"; hangtrue --help lists them`},
		{"unknown flag", []string{"check", "--fast", demoPlan}, 2, "", "hangtrue: unknown flag: --fast; hangtrue check --help lists what it takes"},
		{"no plan", []string{"check"}, 2, "", "hangtrue: hangtrue check wants one plan; hangtrue check --help shows how"},
		{"two plans", []string{"check", demoPlan, demoPlan}, 2, "", "wants one plan"},
		{"no such file", []string{"check", filepath.Join(dir, "none.json")}, 2, "", "none.json: no such file or directory"},
		{"a folder", []string{"check", dir}, 2, "", "is a directory"},
		{"not JSON", []string{"check", broken}, 2, "", "broken.json: "},
		{"an empty plan", []string{"check", empty}, 2, "", "empty.json: /format: "},
		{"the demo plan", []string{"check", demoPlan}, 0, "check-plan.txt", ""},
		{"the demo plan, briefly", []string{"check", "--brief", demoPlan}, 0, "check-plan-brief.txt", ""},
		{"the demo as measured", []string{"check", demoPlan, "--measured", demoMeasured, "--brief"}, 1, "check-measured.txt", ""},
		{"the demo as measured, JSON", []string{"check", demoPlan, "--measured", demoMeasured, "--json"}, 1, "check-measured.json", ""},
		{"measured without a plan for it", []string{"check", demoPlan, "--measured", demoPlan}, 2, "", "plan.json: "},
		{"no record", []string{"verify"}, 2, "", "wants one record"},
		{"a plan is no record", []string{"verify", demoPlan}, 2, "", "plan.json: not a record file: "},
		{"a bad key", []string{"verify", "--key", "hangtrue", demoPlan}, 2, "", "--key is not a public key"},
		{"serve with a file", []string{"serve", demoPlan}, 2, "", "wants no file"},
		{"serve without a port", []string{"serve", "--addr", "127.0.0.1"}, 2, "", "such as 127.0.0.1:8470"},
		{"serve without a home", []string{"serve"}, 2, "", "say where to keep jobs with --data"},
		{"serve in a file", []string{"serve", "--addr", "127.0.0.1:0", "--data", empty}, 2, "", "not a directory"},
	} {
		t.Run(row.name, func(t *testing.T) {
			got := command(t, "", row.args...)
			assert.Equal(t, row.code, got.code, got.stderr)
			if row.stdout == "" {
				assert.Empty(t, got.stdout)
			} else {
				golden(t, row.stdout, got.stdout)
			}
			if row.stderr == "" {
				assert.Empty(t, got.stderr)
				return
			}
			assert.Contains(t, got.stderr, row.stderr)
			for line := range strings.Lines(got.stderr) {
				assert.True(t, strings.HasPrefix(line, "hangtrue: "), line)
				assert.NotContains(t, line, "goroutine")
			}
		})
	}
}

// TestCheck_OneProblemALine: every problem of a bad plan is on a line of its own.
func TestCheck_OneProblemALine(t *testing.T) {
	got := command(t, "{}", "check", "-")
	assert.Equal(t, 2, got.code)
	lines := strings.Split(strings.TrimSpace(got.stderr), "\n")
	assert.Greater(t, len(lines), 3)
	for _, line := range lines {
		assert.Regexp(t, `^hangtrue: -: /\w+: read .+, want `, line)
	}
}

func TestCheck_FromStdin(t *testing.T) {
	document, err := os.ReadFile(demoPlan)
	require.NoError(t, err)
	got := command(t, string(document), "check", "-")
	assert.Equal(t, 0, got.code, got.stderr)
	golden(t, "check-plan.txt", got.stdout)
	got = command(t, string(document)+strings.Repeat(" ", 8<<20), "check", "-")
	assert.Equal(t, 2, got.code)
	assert.Contains(t, got.stderr, "more than")
}

// TestCheck_FitsAHundredColumns: no line of a table is wider, whatever the plan says.
func TestCheck_FitsAHundredColumns(t *testing.T) {
	got := command(t, "", "check", demoPlan, "--measured", demoMeasured)
	for line := range strings.Lines(got.stdout) {
		assert.LessOrEqual(t, len([]rune(strings.TrimRight(line, "\n"))), width, line)
	}
}

func TestVersion(t *testing.T) {
	got := command(t, "", "--version")
	assert.Equal(t, 0, got.code)
	assert.True(t, strings.HasPrefix(got.stdout, "hangtrue "), got.stdout)
}

// TestServe_NotBuilt: a program without its phone part says what to do.
func TestServe_NotBuilt(t *testing.T) {
	var stderr bytes.Buffer
	code := Main{Stdout: io.Discard, Stderr: &stderr, Env: func(string) string { return "" }, Now: time.Now,
		Static: func() (server.Static, error) { return nil, pwa.ErrNotBuilt }}.Run(t.Context(), []string{"serve", "--data", t.TempDir()})
	assert.Equal(t, 2, code)
	assert.Contains(t, stderr.String(), "run go generate ./pwa, then build again")
}

// TestDataFolder follows the XDG Base Directory Specification 0.8, sections 2 and 3,
// and systemd.exec(5) on StateDirectory.
func TestDataFolder(t *testing.T) {
	for _, row := range []struct {
		flag string
		env  map[string]string
		want string
	}{
		{"", map[string]string{"HOME": "/home/a"}, "/home/a/.local/share/hangtrue"},
		{"", map[string]string{"HOME": "/home/a", "XDG_DATA_HOME": "/data"}, "/data/hangtrue"},
		{"", map[string]string{"HOME": "/home/a", "XDG_DATA_HOME": "data"}, "/home/a/.local/share/hangtrue"},
		{"", map[string]string{"HOME": "/home/a", "XDG_DATA_HOME": "/data", "STATE_DIRECTORY": "/var/lib/hangtrue"}, "/var/lib/hangtrue"},
		{"here", map[string]string{"HOME": "/home/a", "STATE_DIRECTORY": "/var/lib/hangtrue"}, "here"},
		{"", nil, ""},
	} {
		got, err := Main{Env: func(name string) string { return row.env[name] }}.dataFolder(row.flag)
		assert.Equal(t, row.want, got)
		assert.Equal(t, row.want == "", err != nil)
	}
}

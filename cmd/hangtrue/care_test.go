package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/server/care"
	"hangtrue/server/pairing"
)

// storedFolder is a copy of the stored folder of testdata.
func storedFolder(t testing.TB) string {
	dir := filepath.Join(t.TempDir(), "data")
	require.NoError(t, os.CopyFS(dir, os.DirFS("../../testdata/folders/format-1")))
	require.NoError(t, os.Chmod(filepath.Join(dir, "keys", "seal.key"), 0o600))
	return dir
}

// at runs a command line at a fixed time, and gives what it printed with folders'
// names in place of their paths.
func at(t testing.TB, dirs map[string]string, args ...string) outcome {
	t.Setenv(runVariable, "1") // the process that checks pages is this program
	var stdout, stderr bytes.Buffer
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	code := Main{
		Stdin: strings.NewReader(""), Stdout: &stdout, Stderr: &stderr, Static: withoutFiles,
		Now: func() time.Time { return time.Date(2030, 2, 1, 18, 30, 0, 0, time.UTC) },
		Env: func(string) string { return "" },
	}.Run(ctx, args)
	plain := func(text string) string {
		for path, name := range dirs {
			text = strings.ReplaceAll(text, path, name)
		}
		return text
	}
	return outcome{code, plain(stdout.String()), plain(stderr.String())}
}

func TestCare_Help(t *testing.T) {
	for _, name := range []string{"backup", "restore", "doctor"} {
		got := command(t, "", name, "--help")
		assert.Equal(t, 0, got.code)
		golden(t, "help-"+name+".txt", got.stdout)
		for line := range strings.Lines(got.stdout) {
			assert.LessOrEqual(t, len([]rune(strings.TrimRight(line, "\n"))), width, line)
		}
		assert.NotContains(t, got.stdout, "--pages")
	}
}

// TestCare_Messages runs backup, doctor and restore over a stored folder and
// compares what they print, whole.
func TestCare_Messages(t *testing.T) {
	data, dir := storedFolder(t), t.TempDir()
	dirs := map[string]string{data: "DATA", dir: "DIR"}
	harmed := filepath.Join(dir, "harmed")
	require.NoError(t, os.CopyFS(harmed, os.DirFS(data)))
	require.NoError(t, os.Chmod(filepath.Join(harmed, "keys", "seal.key"), 0o600))
	path := filepath.Join(harmed, "jobs.db")
	file, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, bytes.ReplaceAll(file, []byte("Seen again"), []byte("Seem again")), 0o600))
	cut := filepath.Join(dir, "cut")
	require.NoError(t, os.CopyFS(cut, os.DirFS(data)))
	require.NoError(t, os.Truncate(filepath.Join(cut, "jobs.db"), 50_000))
	require.NoError(t, os.Remove(filepath.Join(cut, "keys", "seal.key")))
	in := func(name string) string { return filepath.Join(dir, name) }

	for _, row := range []struct {
		name   string
		args   []string
		code   int
		stdout string // golden file
		stderr string
	}{
		{"a backup", []string{"backup", in("jobs.tar"), "--data", data}, 0, "backup.txt", ""},
		{"a backup without the key", []string{"backup", in("share"), "--without-key", "--data", data}, 0, "backup-without-key.txt", ""},
		{"over a backup", []string{"backup", in("jobs.tar"), "--data", data}, 2, "", "hangtrue: DIR/jobs.tar: there is something already; nothing is written over\n"},
		{"into no folder", []string{"backup", in("none/jobs.tar"), "--data", data}, 2, "", "no such file or directory"},
		{"of no folder", []string{"backup", in("other.tar"), "--data", in("none")}, 2, "", "hangtrue: DIR/none: no jobs are kept there\n"},
		{"of a harmed folder", []string{"backup", in("other.tar"), "--data", harmed}, 2, "", "hangtrue: DIR/harmed: it is damaged, so no backup was made: Its bytes are not the ones that were written. "},
		{"no name", []string{"backup"}, 2, "", "hangtrue backup wants the file or folder to make; hangtrue backup --help shows how"},
		{"the doctor", []string{"doctor", "--data", data}, 0, "doctor.txt", ""},
		{"the doctor, JSON", []string{"doctor", "--data", data, "--json"}, 0, "doctor.json", ""},
		{"the doctor at a backup", []string{"doctor", in("jobs.tar")}, 0, "doctor-backup.txt", ""},
		{"the doctor at a folder, named", []string{"doctor", data}, 0, "doctor.txt", ""},
		{"the doctor at a harmed folder", []string{"doctor", "--data", harmed}, 1, "doctor-harmed.txt", ""},
		{"the doctor at a harmed folder, JSON", []string{"doctor", "--data", harmed, "--json"}, 1, "doctor-harmed.json", ""},
		{"the doctor at nothing", []string{"doctor", "--data", in("none")}, 2, "", "hangtrue: DIR/none: no jobs are kept there\n"},
		{"the doctor at a file", []string{"doctor", demoPlan}, 2, "", "not a whole backup: it is neither a tar file nor a folder"},
		{"the doctor at two", []string{"doctor", data, harmed}, 2, "", "hangtrue doctor wants one folder or backup"},
		{"restored, dry", []string{"restore", in("jobs.tar"), "--dry-run", "--data", in("new")}, 0, "restore-dry.txt", ""},
		{"restored", []string{"restore", in("jobs.tar"), "--data", in("new")}, 0, "restore.txt", ""},
		{"restored again", []string{"restore", in("jobs.tar"), "--data", in("new")}, 2, "", "hangtrue: DIR/new: there is something already (jobs.db); name a folder that is empty or not there\n"},
		{"restored without the key", []string{"restore", in("share"), "--data", in("shared")}, 0, "restore-without-key.txt", ""},
		{"served without the key", []string{"serve", "--addr", "127.0.0.1:0", "--data", in("shared")}, 2, "", "it is missing although jobs are here"},
		{"served, harmed beyond", []string{"serve", "--addr", "127.0.0.1:0", "--data", cut}, 2, "", "the store cannot be read: it has 50000 bytes of"},
		{"a folder restored", []string{"restore", data, "--data", in("newer")}, 2, "", "not a whole backup: its manifest is missing"},
		{"no backup", []string{"restore"}, 2, "", "hangtrue restore wants one backup"},
	} {
		t.Run(row.name, func(t *testing.T) {
			got := at(t, dirs, row.args...)
			assert.Equal(t, row.code, got.code, got.stderr)
			if row.stdout == "" {
				assert.Empty(t, got.stdout)
			} else {
				golden(t, row.stdout, strings.ReplaceAll(got.stdout, version(), "VERSION"))
			}
			assert.Contains(t, got.stderr, row.stderr)
			assert.Equal(t, row.stderr == "", got.stderr == "", got.stderr)
			assert.NotContains(t, got.stdout+got.stderr, "PRIVATE")
			assert.NotContains(t, got.stderr, "goroutine")
		})
	}
}

// TestRestore_Pairings: what becomes of paired phones is said in full, before and after.
func TestRestore_Pairings(t *testing.T) {
	data, dir := storedFolder(t), t.TempDir()
	book, err := pairing.Open(data, time.Now)
	require.NoError(t, err)
	code, err := book.OpenCode(checklist.Lead)
	require.NoError(t, err)
	_, _, err = book.Pair(code.Long, "018f3c5e-7a10-7000-8000-00000000d001", "Somebody", "")
	require.NoError(t, err)
	file := filepath.Join(dir, "jobs.tar")
	require.Equal(t, 0, at(t, nil, "backup", file, "--data", data).code)
	for _, row := range []struct {
		name, flag, want string
	}{
		{"dry", "--dry-run", "Restoring it ends the pairing of 1 device or link, unless with --keep-devices."},
		{"new", "--dry-run=false", "It ended the pairing of 1 device or link: who was revoked after the backup was made must not come back with it.\nPair the phones again"},
		{"kept", "--keep-devices", "who was revoked since is let in again."},
	} {
		got := at(t, nil, "restore", file, row.flag, "--data", filepath.Join(dir, row.name))
		assert.Equal(t, 0, got.code, got.stderr)
		assert.Contains(t, got.stdout, row.want)
	}
}

// TestDoctor_CutShort: of a store that was cut in half what is left is told, in
// words for people.
func TestDoctor_CutShort(t *testing.T) {
	data := storedFolder(t)
	require.NoError(t, os.Truncate(filepath.Join(data, "jobs.db"), 49_152))
	got := at(t, map[string]string{data: "DATA"}, "doctor", "--data", data)
	assert.Equal(t, 1, got.code, got.stderr)
	assert.Contains(t, got.stdout, "- The pages of jobs.db: it has 49152 bytes of 86016.\n")
	assert.Contains(t, got.stdout, "It cannot be read, nor can any up to record 26.\n")
	assert.Contains(t, got.stdout, "Restore a backup from before the damage.")
	for _, noise := range []string{"runtime error", "goroutine", "assertion", ".go:"} {
		assert.NotContains(t, got.stdout, noise)
	}
}

// TestDoctor_Pages: damage on which the database's own check ends its process is a
// finding, and the doctor lives.
func TestDoctor_Pages(t *testing.T) {
	data := storedFolder(t)
	path := filepath.Join(data, "jobs.db")
	file, err := os.ReadFile(path)
	require.NoError(t, err)
	t.Setenv(runVariable, "1")
	problems, err := Main{}.checkPages(t.Context(), path)
	require.NoError(t, err)
	assert.Empty(t, problems)
	broken := bytes.Clone(file)
	for at := 3 * 4096; at < len(broken); at += 4096 {
		copy(broken[at:at+8], "no page!")
	}
	require.NoError(t, os.WriteFile(path, broken, 0o600))
	problems, err = Main{}.checkPages(t.Context(), path)
	require.NoError(t, err)
	assert.NotEmpty(t, problems)
	got := at(t, map[string]string{data: "DATA"}, "doctor", "--data", data)
	assert.Equal(t, 1, got.code, got.stderr)
	assert.Contains(t, got.stdout, "The pages of jobs.db, by the database's own check: ")
}

// TestBackup_WhileServed: the real program serves, phones push, and backups are made
// by another process. What was answered before a backup began is in it.
func TestBackup_WhileServed(t *testing.T) {
	data, dir := t.TempDir(), t.TempDir()
	p := start(t, "--data", data)
	defer func() { _ = p.cmd.Process.Kill(); p.end() }()
	const job = "018f3c5e-7a10-7000-8000-0000000000a1"
	ph := &phone{t: t, job: job, id: "018f3c5e-7a10-7000-8001-00000000d001", role: checklist.Lead}
	add := func(kind checklist.Kind, body any) {
		answers, ok := push(http.DefaultClient, p.url, job, []checklist.Entry{ph.make(kind, body)})
		require.True(t, ok && answers.Answers[0].Record != nil, "%s", p.stderr)
	}
	add(checklist.JobOpened, checklist.Opening{Title: "Attic lounge"})
	for round := range 3 {
		for range 20 {
			add(checklist.RemarkWritten, checklist.Remark{Text: strings.Repeat("a remark ", 100)})
		}
		path := filepath.Join(dir, fmt.Sprintf("%d.tar", round))
		got := at(t, nil, "backup", path, "--data", data)
		require.Equal(t, 0, got.code, got.stderr)
		assert.Contains(t, got.stdout, "from a copy that the server at 127.0.0.1:")
		assert.Contains(t, got.stdout, fmt.Sprintf("1 job with %d records", ph.number))
		got = at(t, nil, "doctor", "--data", data)
		assert.Equal(t, 0, got.code, got.stdout+got.stderr)
		assert.Contains(t, got.stdout, "Sound: everything is what was written.")
	}
	// The server is killed: what it said about itself is no obstacle.
	require.NoError(t, p.cmd.Process.Kill())
	p.end()
	got := at(t, nil, "backup", filepath.Join(dir, "after.tar"), "--data", data)
	require.Equal(t, 0, got.code, got.stderr)
	assert.Contains(t, got.stdout, "read directly: no server uses the folder")

	restored := filepath.Join(dir, "restored")
	got = at(t, nil, "restore", filepath.Join(dir, "2.tar"), "--data", restored)
	require.Equal(t, 0, got.code, got.stderr)
	serveOnce(t, restored)(func(url string) {
		var jobs struct{ Jobs []struct{ Head int64 } }
		get(t, url+"/api/jobs", &jobs)
		require.Len(t, jobs.Jobs, 1)
		assert.Equal(t, ph.number, jobs.Jobs[0].Head)
	})
}

// TestBackup_Killed kills the real program while it makes backups. Under the
// backup's name there is a whole one or nothing.
func TestBackup_Killed(t *testing.T) {
	data, dir := storedFolder(t), t.TempDir()
	photo := filepath.Join(data, "photos", "large.jpg")
	require.NoError(t, os.MkdirAll(filepath.Dir(photo), 0o700))
	require.NoError(t, os.WriteFile(photo, make([]byte, 4<<20), 0o600))
	whole := 0
	for n := range 24 {
		name := filepath.Join(dir, fmt.Sprintf("%d", n))
		if n%2 == 0 {
			name += ".tar"
		}
		cmd := exec.Command(os.Args[0], "backup", name, "--data", data)
		cmd.Env = append(os.Environ(), runVariable+"=1")
		require.NoError(t, cmd.Start())
		time.Sleep(time.Duration(5*n) * time.Millisecond) // the moment of the kill, not a wait for something
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
		if _, err := os.Stat(name); errors.Is(err, os.ErrNotExist) {
			continue
		}
		whole++
		report, err := care.Doctor{}.Look(t.Context(), name)
		require.NoError(t, err, name)
		assert.Empty(t, report.Damaged(), name)
		assert.Equal(t, 1, report.Photos)
	}
	t.Logf("24 kills, %d backups whole, the others not there", whole)
}

// TestServe_Damaged: one damaged record is logged when the server starts and told to
// who asks for it; the other job is served, and can be written to.
func TestServe_Damaged(t *testing.T) {
	const jobA, jobB = "018f3c5e-7a10-7000-8000-0000000000a1", "018f3c5e-7a10-7000-8000-0000000000b2"
	data := storedFolder(t)
	path := filepath.Join(data, "jobs.db")
	file, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, bytes.ReplaceAll(file, []byte("Seen again"), []byte("Seem again")), 0o600))
	p := start(t, "--data", data)
	defer func() { _ = p.cmd.Process.Kill(); p.end() }()
	res, err := http.Get(p.url + "/api/jobs/" + jobA + "/records")
	require.NoError(t, err)
	body, err := io.ReadAll(res.Body)
	require.NoError(t, errors.Join(err, res.Body.Close()))
	assert.Equal(t, 500, res.StatusCode)
	assert.Contains(t, string(body), "record 26 of job "+jobA+" is damaged")
	assert.Contains(t, string(body), "Restore it from a backup")
	ph := &phone{t: t, job: jobB, id: "018f3c5e-7a10-7000-8001-00000000d001", role: checklist.Lead}
	answers, ok := push(http.DefaultClient, p.url, jobB, []checklist.Entry{ph.make(checklist.RemarkWritten, checklist.Remark{Text: "The other job goes on."})})
	require.True(t, ok && answers.Answers[0].Record != nil)
	require.NoError(t, p.cmd.Process.Kill())
	p.end()
	assert.Contains(t, p.stderr.String(), "something kept here is damaged; the rest is served")
	assert.Contains(t, p.stderr.String(), "record 26 of job "+jobA)
}

// TestDoctor_JSON: what another program reads.
func TestDoctor_JSON(t *testing.T) {
	got := at(t, nil, "doctor", "--data", storedFolder(t), "--json")
	var report care.Report
	require.NoError(t, json.Unmarshal([]byte(got.stdout), &report))
	assert.Equal(t, 2, len(report.Jobs))
	assert.Equal(t, 27, report.Records)
	assert.Empty(t, report.Damaged())
}

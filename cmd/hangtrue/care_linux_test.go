package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
)

// TestServe_DiskFull: the real program on a real disk that fills. Each phone is told,
// nothing that was answered is lost, and when there is room it goes on by itself.
func TestServe_DiskFull(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=1m"); err != nil {
		t.Skipf("this machine lets nobody here mount a small disk: %v", err)
	}
	defer func() { assert.NoError(t, syscall.Unmount(dir, 0)) }()
	data, filler := filepath.Join(dir, "data"), filepath.Join(dir, "filler")
	p := start(t, "--data", data)
	defer func() { _ = p.cmd.Process.Kill(); p.end() }()
	const job = "018f3c5e-7a10-7000-8000-0000000000a1"
	ph := &phone{t: t, job: job, id: "018f3c5e-7a10-7000-8001-00000000d001", role: checklist.Lead}
	post := func(e checklist.Entry) (status int, body string) {
		sent, err := json.Marshal(map[string]any{"entries": []string{string(e.Bytes())}})
		require.NoError(t, err)
		res, err := http.Post(p.url+"/api/jobs/"+job+"/entries", "application/json", bytes.NewReader(sent))
		require.NoError(t, err)
		got, err := io.ReadAll(res.Body)
		require.NoError(t, errors.Join(err, res.Body.Close()))
		return res.StatusCode, string(got)
	}
	status, body := post(ph.make(checklist.JobOpened, checklist.Opening{Title: "Attic lounge"}))
	require.Equal(t, 200, status, body)

	require.Error(t, os.WriteFile(filler, make([]byte, 2<<20), 0o600), "the disk is small")
	answered := ph.number
	var e checklist.Entry
	for status = 200; status == 200; {
		answered = ph.number
		e = ph.make(checklist.RemarkWritten, checklist.Remark{Text: strings.Repeat("a remark ", 200)})
		status, body = post(e)
	}
	assert.Equal(t, 507, status, body)
	assert.Contains(t, body, "The server's disk is full. Nothing of this was kept; it is taken when there is room again.")
	got := at(t, nil, "backup", filepath.Join(dir, "jobs.tar"), "--data", data)
	assert.Equal(t, 2, got.code)
	assert.Contains(t, got.stderr, "no space left on device")
	assert.NoFileExists(t, filepath.Join(dir, "jobs.tar"))

	var pull struct{ Head int64 }
	get(t, p.url+"/api/jobs/"+job+"/records", &pull)
	assert.Equal(t, answered, pull.Head)
	require.NoError(t, os.Remove(filler))
	status, body = post(e) // the phone sends the same again
	assert.Equal(t, 200, status, body)
	got = at(t, nil, "doctor", "--data", data)
	assert.Equal(t, 0, got.code, got.stdout+got.stderr)
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, entries, 1, "nothing half is left")
	entries, err = os.ReadDir(data)
	require.NoError(t, err)
	assert.Len(t, entries, 3, "jobs.db, keys and what the server says about itself: %v", entries)
}

// TestCare_ReadOnlyDisk: nothing can be served from it, which is said in a sentence;
// it can be looked through and backed up.
func TestCare_ReadOnlyDisk(t *testing.T) {
	dir := t.TempDir()
	if err := syscall.Mount("tmpfs", dir, "tmpfs", 0, "size=4m"); err != nil {
		t.Skipf("this machine lets nobody here mount a small disk: %v", err)
	}
	defer func() { assert.NoError(t, syscall.Unmount(dir, 0)) }()
	data := filepath.Join(dir, "data")
	require.NoError(t, os.CopyFS(data, os.DirFS(storedFolder(t))))
	require.NoError(t, os.Chmod(filepath.Join(data, "keys", "seal.key"), 0o600))
	require.NoError(t, syscall.Mount("tmpfs", dir, "tmpfs", syscall.MS_REMOUNT|syscall.MS_RDONLY, "size=4m"))

	got := at(t, nil, "serve", "--addr", "127.0.0.1:0", "--data", data)
	assert.Equal(t, 2, got.code)
	assert.Contains(t, got.stderr, "read-only file system")
	assert.Equal(t, 1, strings.Count(got.stderr, "\n"), got.stderr)
	got = at(t, nil, "doctor", "--data", data)
	assert.Equal(t, 0, got.code, got.stdout+got.stderr)
	path := filepath.Join(t.TempDir(), "jobs.tar")
	got = at(t, nil, "backup", path, "--data", data)
	assert.Equal(t, 0, got.code, got.stderr)
	got = at(t, nil, "restore", path, "--data", filepath.Join(dir, "new"))
	assert.Equal(t, 2, got.code)
	assert.Contains(t, got.stderr, "read-only file system")
}

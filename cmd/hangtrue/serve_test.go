package main

import (
	"bufio"
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"math/rand"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/server/bolt"
	"hangtrue/server/store/storetest"
)

var (
	seed  = flag.Int64("seed", 0, "seed of the random times at which the program is killed; 0 takes a new one")
	kills = flag.Int("kills", 50, "how often the program is killed")
)

// runAsProgram is the real program, but for the files a phone loads.
func runAsProgram() { mainWith(withoutFiles) }

// a program is the real program in a process of its own.
type program struct {
	t      *testing.T
	cmd    *exec.Cmd
	url    string
	stderr *bytes.Buffer
}

func start(t *testing.T, args ...string) *program {
	p := &program{t: t, cmd: exec.Command(os.Args[0], append([]string{"serve", "--addr", "127.0.0.1:0"}, args...)...), stderr: &bytes.Buffer{}}
	p.cmd.Env = append(os.Environ(), runVariable+"=1")
	p.cmd.Stderr = p.stderr
	stdout, err := p.cmd.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, p.cmd.Start())
	line, err := bufio.NewReader(stdout).ReadString('\n')
	require.NoError(t, err, "the address: %s", p.stderr)
	p.url = strings.TrimSuffix(line, "/\n")
	require.Regexp(t, `^http://127\.0\.0\.1:\d+$`, p.url)
	return p
}

// end waits for the process and gives its exit code, -1 when it was killed.
func (p *program) end() int {
	_ = p.cmd.Wait()
	return p.cmd.ProcessState.ExitCode()
}

func get(t *testing.T, url string, into any) {
	res, err := http.Get(url)
	require.NoError(t, err)
	defer res.Body.Close()
	data, err := io.ReadAll(res.Body)
	require.NoError(t, err)
	require.Equal(t, 200, res.StatusCode, "%s", data)
	require.NoError(t, json.Unmarshal(data, into))
}

type pushed struct {
	Answers []struct {
		ID     string
		Record *checklist.Record
	}
}

// push gives ok false when the server did not answer.
func push(client *http.Client, url, job string, entries []checklist.Entry) (answers pushed, ok bool) {
	texts := make([]string, len(entries))
	for i, e := range entries {
		texts[i] = string(e.Bytes())
	}
	body, err := json.Marshal(map[string]any{"entries": texts})
	if err != nil {
		return pushed{}, false
	}
	res, err := client.Post(url+"/api/jobs/"+job+"/entries", "application/json", bytes.NewReader(body))
	if err != nil {
		return pushed{}, false
	}
	defer res.Body.Close()
	return answers, res.StatusCode == 200 && json.NewDecoder(res.Body).Decode(&answers) == nil && len(answers.Answers) == len(entries)
}

// a phone makes remarks and keeps what was not answered.
type phone struct {
	t       *testing.T
	job, id string
	role    checklist.Role
	number  int64
	batch   []checklist.Entry            // being sent
	batches [][]string                   // ids of every batch ever sent
	answers map[string]*checklist.Record // what the server said was kept
}

func (p *phone) make(kind checklist.Kind, body any) checklist.Entry {
	p.number++
	e, err := checklist.NewEntry(checklist.Entry{
		ID: fmt.Sprintf("%s-%012d", p.id[:23], p.number), Job: p.job, Device: p.id, Number: p.number,
		Who: "installer 1", Role: p.role, Clock: demoClock, Kind: kind,
	}, body)
	if err != nil {
		panic(err)
	}
	return e
}

// work sends batches until the server no longer answers.
func (p *phone) work(url string, sizes *rand.Rand) {
	client := &http.Client{Transport: &http.Transport{}, Timeout: 10 * time.Second}
	defer client.CloseIdleConnections()
	for {
		if p.batch == nil {
			for range 1 + sizes.Intn(4) {
				p.batch = append(p.batch, p.make(checklist.RemarkWritten, checklist.Remark{Text: strings.Repeat("a remark of some length ", 1+sizes.Intn(40))}))
			}
			var ids []string
			for _, e := range p.batch {
				ids = append(ids, e.ID)
			}
			p.batches = append(p.batches, ids)
		}
		answers, ok := push(client, url, p.job, p.batch)
		if !ok {
			return // and the batch is sent again when the server is back
		}
		for _, a := range answers.Answers {
			if assert.NotNil(p.t, a.Record, a.ID) {
				p.answers[a.ID] = a.Record
			}
		}
		p.batch = nil
	}
}

// TestServe_Killed kills the real program at random moments while three phones push
// to two jobs. Afterwards every entry that was answered is there, at the place the
// answer said; every batch is there whole or not at all; every record is whole.
func TestServe_Killed(t *testing.T) {
	if *seed == 0 {
		*seed = time.Now().UnixNano()
	}
	t.Logf("seed %d", *seed)
	random := rand.New(rand.NewSource(*seed))
	dir := t.TempDir()
	const jobA, jobB = "018f3c5e-7a10-7000-8000-0000000000a1", "018f3c5e-7a10-7000-8000-0000000000b2"
	var phones []*phone
	for i, job := range []string{jobA, jobB, jobA} {
		phones = append(phones, &phone{t: t, job: job, id: fmt.Sprintf("018f3c5e-7a10-7000-8%03d-00000000d001", i+1), role: checklist.Lead, answers: map[string]*checklist.Record{}})
	}
	for round := range *kills {
		p := start(t, "--data", dir)
		if round == 0 {
			for _, ph := range phones[:2] {
				answers, ok := push(http.DefaultClient, p.url, ph.job, []checklist.Entry{ph.make(checklist.JobOpened, checklist.Opening{Title: "Attic lounge"})})
				require.True(t, ok && answers.Answers[0].Record != nil && answers.Answers[0].Record.Accepted, "%s", p.stderr)
			}
		}
		var wait sync.WaitGroup
		for _, ph := range phones {
			sizes := rand.New(rand.NewSource(random.Int63()))
			wait.Go(func() { ph.work(p.url, sizes) })
		}
		time.Sleep(time.Duration(2+random.Intn(120)) * time.Millisecond) // the moment of the kill, not a wait for something
		require.NoError(t, p.cmd.Process.Kill())
		assert.Equal(t, -1, p.end())
		wait.Wait()
	}

	store, err := bolt.Open(filepath.Join(dir, "jobs.db"))
	require.NoError(t, err)
	defer store.Close()
	storetest.Check(t, store)
	present := map[string]checklist.Record{}
	for _, job := range []string{jobA, jobB} {
		records, err := store.Records(job, 0, 1<<30, 1<<40)
		require.NoError(t, err)
		for _, r := range records {
			require.NotContains(t, present, r.Entry.ID, "kept twice")
			present[r.Entry.ID] = r
		}
	}
	answered, unanswered := 0, 0
	for _, ph := range phones {
		for id, want := range ph.answers {
			got, ok := present[id]
			require.True(t, ok, "entry %s was answered and is gone", id)
			require.Equal(t, *want, got)
			answered++
		}
		for _, ids := range ph.batches {
			kept := slices.DeleteFunc(slices.Clone(ids), func(id string) bool { _, ok := present[id]; return !ok })
			require.True(t, len(kept) == 0 || len(kept) == len(ids), "batch %v was kept in part: %v", ids, kept)
			if len(kept) > 0 && ph.answers[ids[0]] == nil {
				unanswered++
			}
		}
	}
	require.Greater(t, answered, *kills)
	t.Logf("%d kills, %d entries answered, all there; %d records in all, %d batches kept whose answer was lost", *kills, answered, len(present), unanswered)
}

// TestServe_Terminated: SIGTERM and SIGINT stop it cleanly with exit code 0, also
// while a connection is open.
func TestServe_Terminated(t *testing.T) {
	for _, sig := range []os.Signal{syscall.SIGTERM, syscall.SIGINT} {
		p := start(t, "--data", t.TempDir())
		var health map[string]string
		get(t, p.url+"/healthz", &health) // leaves a connection open
		require.NoError(t, p.cmd.Process.Signal(sig))
		began := time.Now()
		assert.Equal(t, 0, p.end(), "%v: %s", sig, p.stderr)
		assert.Less(t, time.Since(began), stopWithin+time.Second)
		assert.Contains(t, p.stderr.String(), "this computer only")
		http.DefaultClient.CloseIdleConnections()
	}
}

// TestServe_SecondProcess: a folder is one program's at a time, and the second says so.
func TestServe_SecondProcess(t *testing.T) {
	dir := t.TempDir()
	p := start(t, "--data", dir)
	defer func() { _ = p.cmd.Process.Kill(); p.end() }()
	got := command(t, "", "serve", "--addr", "127.0.0.1:0", "--data", dir)
	assert.Equal(t, 2, got.code)
	assert.Contains(t, got.stderr, "another hangtrue is using this folder")
	assert.Empty(t, got.stdout, "it says no address it does not serve")

	got = command(t, "", "serve", "--addr", strings.TrimPrefix(p.url, "http://"), "--data", t.TempDir())
	assert.Equal(t, 2, got.code)
	assert.Contains(t, got.stderr, "address already in use")
}

// TestServe_TruncatedStore: one sentence, exit code 2.
func TestServe_TruncatedStore(t *testing.T) {
	dir := t.TempDir()
	serveOnce(t, dir, "--demo")
	path := filepath.Join(dir, "jobs.db")
	require.NoError(t, os.Truncate(path, 30_000))
	got := command(t, "", "serve", "--addr", "127.0.0.1:0", "--data", dir)
	assert.Equal(t, 2, got.code)
	assert.Contains(t, got.stderr, "the store cannot be read")
	assert.Contains(t, got.stderr, "Put a backup in its place")
	assert.Len(t, strings.Split(strings.TrimSpace(got.stderr), "\n"), 1, got.stderr)
}

// serveOnce starts the program in this process, lets do work with it, and stops it.
func serveOnce(t *testing.T, dir string, args ...string) (do func(func(url string))) {
	run := func(work func(url string)) {
		ctx, cancel := context.WithCancel(t.Context())
		defer cancel()
		out, in := io.Pipe()
		var stderr bytes.Buffer
		done := make(chan int, 1)
		go func() {
			done <- Main{Stdout: in, Stderr: &stderr, Env: func(string) string { return "" }, Now: time.Now, Static: withoutFiles}.
				Run(ctx, append([]string{"serve", "--addr", "127.0.0.1:0", "--data", dir}, args...))
			in.Close()
		}()
		line, err := bufio.NewReader(out).ReadString('\n')
		require.NoError(t, err, "%s", &stderr)
		work(strings.TrimSuffix(line, "/\n"))
		http.DefaultClient.CloseIdleConnections()
		cancel()
		require.Equal(t, 0, <-done, "%s", &stderr)
		assert.NotContains(t, stderr.String(), "PRIVATE", "no secret in the log")
	}
	run(func(string) {})
	return run
}

// TestServe_Demo: the demo job is there once, however often it is asked for, and
// its record can be checked. It is not signed off, which verify says.
func TestServe_Demo(t *testing.T) {
	dir := t.TempDir()
	serve := serveOnce(t, dir, "--demo")
	record := filepath.Join(t.TempDir(), "record.json")
	serve(func(url string) {
		var jobs struct {
			Jobs []struct {
				ID    string
				Title string
				Head  int64
			}
		}
		get(t, url+"/api/jobs", &jobs)
		require.Len(t, jobs.Jobs, 1)
		assert.Equal(t, demoJob, jobs.Jobs[0].ID)
		assert.EqualValues(t, 2, jobs.Jobs[0].Head)
		for _, path := range []string{"/", "/jobs/" + demoJob, "/jobs/" + demoJob + "/mounts/M%2B090", "/jobs/" + demoJob + "/record"} {
			res, err := http.Get(url + path)
			require.NoError(t, err)
			require.NoError(t, res.Body.Close())
			assert.Equal(t, 200, res.StatusCode, path)
		}
		res, err := http.Get(url + "/jobs/" + demoJob + "/record.json")
		require.NoError(t, err)
		defer res.Body.Close()
		data, err := io.ReadAll(res.Body)
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(record, data, 0o600))
	})
	got := command(t, "", "verify", record)
	assert.Equal(t, 1, got.code)
	assert.Contains(t, got.stdout, "Intact: every entry is what was sealed.")
	assert.Contains(t, got.stdout, "Not signed off")
	assert.Contains(t, got.stdout, "Compare it with the one you noted")
	assert.Empty(t, got.stderr)
}

// TestServe_SecondSignal: while a request that never ends holds up the clean stop, a
// second signal ends the program at once.
func TestServe_SecondSignal(t *testing.T) {
	p := start(t, "--data", t.TempDir())
	conn, err := net.Dial("tcp", strings.TrimPrefix(p.url, "http://"))
	require.NoError(t, err)
	defer conn.Close()
	_, err = fmt.Fprintf(conn, "POST /api/jobs/%s/entries HTTP/1.1\r\nHost: localhost\r\nContent-Type: application/json\r\nContent-Length: 100\r\n\r\nhalf", demoJob)
	require.NoError(t, err)
	var health map[string]string
	get(t, p.url+"/healthz", &health) // the half request was accepted before this one
	began := time.Now()
	require.NoError(t, p.cmd.Process.Signal(syscall.SIGTERM))
	require.Eventually(t, func() bool { // the address is given up as soon as it stops
		c, err := net.Dial("tcp", strings.TrimPrefix(p.url, "http://"))
		if err == nil {
			_ = c.Close()
		}
		return err != nil
	}, stopWithin, time.Millisecond)
	require.NoError(t, p.cmd.Process.Signal(syscall.SIGTERM))
	assert.Equal(t, -1, p.end(), "ended by the signal")
	assert.Less(t, time.Since(began), stopWithin)
}

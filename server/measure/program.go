package main

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"time"
)

// build makes the program as a user has it, in a folder of its own.
func build() (dir, program string, err error) {
	dir, err = os.MkdirTemp("", "hangtrue-measure-")
	if err != nil {
		return "", "", err
	}
	program = filepath.Join(dir, "hangtrue")
	if out, err := exec.Command("go", "build", "-o", program, "hangtrue/cmd/hangtrue").CombinedOutput(); err != nil {
		return "", "", errors.Join(fmt.Errorf("build the program: %w\n%s", err, out), os.RemoveAll(dir))
	}
	return dir, program, nil
}

// a running program that serves a folder.
type running struct {
	*client
	cmd   *exec.Cmd
	said  bytes.Buffer
	start time.Duration // until it answered the first request
}

func serve(program, data string) (*running, error) {
	r := &running{cmd: exec.Command(program, "serve", "--addr", "127.0.0.1:0", "--data", data)}
	r.cmd.Stderr = &r.said
	out, err := r.cmd.StdoutPipe()
	if err != nil {
		return nil, err
	}
	began := time.Now()
	if err := r.cmd.Start(); err != nil {
		return nil, err
	}
	line, err := bufio.NewReader(out).ReadString('\n')
	if err != nil {
		r.kill()
		return nil, fmt.Errorf("the program said no address: %s", &r.said)
	}
	r.client = newClient(strings.TrimSuffix(line, "/\n"))
	if _, err := r.get("/healthz"); err != nil {
		r.kill()
		return nil, err
	}
	r.start = time.Since(began)
	return r, nil
}

// kill ends the program as a power cut does, but for what the disk still holds.
func (r *running) kill() {
	_ = r.cmd.Process.Kill()
	_ = r.cmd.Wait()
	if r.client != nil {
		r.http.CloseIdleConnections()
	}
}

// get asks for a page, reads it whole and gives the time of it.
func (c *client) get(path string) (time.Duration, error) {
	began := time.Now()
	res, err := c.http.Get(c.url + path)
	if err != nil {
		return 0, err
	}
	defer res.Body.Close()
	if _, err := io.Copy(io.Discard, res.Body); err != nil {
		return 0, err
	}
	if res.StatusCode != http.StatusOK {
		return 0, fmt.Errorf("GET %s was answered %s", path, res.Status)
	}
	return time.Since(began), nil
}

// spent is the processor time that the process has taken, which, unlike the time on
// the wall, does not follow what else the machine does.
func (r *running) spent() (time.Duration, error) {
	threads, err := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/schedstat", r.cmd.Process.Pid))
	if err != nil {
		return 0, err
	}
	var all time.Duration
	for _, thread := range threads {
		text, err := os.ReadFile(thread)
		if errors.Is(err, os.ErrNotExist) {
			continue // a thread that has ended
		} else if err != nil {
			return 0, err
		}
		first, _, _ := strings.Cut(string(text), " ")
		nanoseconds, err := strconv.ParseInt(first, 10, 64)
		if err != nil {
			return 0, err
		}
		all += time.Duration(nanoseconds)
	}
	return all, nil
}

// a cost is how long pages took, and the processor time of the program for each.
type cost struct {
	times
	each time.Duration
}

func (c cost) String() string { return fmt.Sprintf("%s of processor; %v", ms(c.each), c.times) }

// visit gets paths one after another.
func (r *running) visit(count int, path func(i int) string) (cost, error) {
	before, err := r.spent()
	if err != nil {
		return cost{}, err
	}
	took, err := r.client.each(count, path)
	if err != nil {
		return cost{}, err
	}
	after, err := r.spent()
	return cost{took, (after - before) / time.Duration(max(1, len(took)))}, err
}

// each gets paths one after another.
func (c *client) each(count int, path func(i int) string) (times, error) {
	var all times
	for i := range count {
		took, err := c.get(path(i))
		if err != nil {
			return nil, err
		}
		all = append(all, took)
	}
	return all, nil
}

// memory is what the process holds in bytes: of its own, and with the pages of files
// that it has mapped, which the system takes back when it needs them.
func (r *running) memory() (own, all int64, err error) {
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", r.cmd.Process.Pid))
	if err != nil {
		return 0, 0, err
	}
	for line := range strings.Lines(string(text)) {
		name, rest, _ := strings.Cut(line, ":")
		if name != "RssAnon" && name != "VmRSS" {
			continue
		}
		kilobytes, err := strconv.ParseInt(strings.Fields(rest)[0], 10, 64)
		if err != nil {
			return 0, 0, err
		}
		if name == "RssAnon" {
			own = kilobytes << 10
		} else {
			all = kilobytes << 10
		}
	}
	return own, all, nil
}

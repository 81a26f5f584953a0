package main_test

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/rehearsal"
	"hangtrue/pwa/browsertest"
)

// build makes the program as a user has it.
func build(t *testing.T) string {
	t.Helper()
	program := filepath.Join(t.TempDir(), "hangtrue")
	out, err := exec.Command("go", "build", "-o", program, ".").CombinedOutput()
	require.NoError(t, err, string(out))
	return program
}

// server is the real program, serving one folder on one address.
type server struct {
	t             *testing.T
	program, data string
	addr          string
	flags         []string // beside where its data and its address are
	process       *exec.Cmd
	said          bytes.Buffer
}

func newServer(t *testing.T, program string) *server {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	addr := l.Addr().String()
	require.NoError(t, l.Close())
	s := &server{t: t, program: program, data: t.TempDir(), addr: addr, flags: []string{"--demo"}}
	t.Cleanup(func() {
		s.kill()
		if t.Failed() {
			t.Log(s.said.String())
		}
	})
	return s
}

func (s *server) url(path string) string { return "http://" + s.addr + path }

func (s *server) start() {
	s.t.Helper()
	s.process = exec.Command(s.program, append([]string{"serve", "--data", s.data, "--addr", s.addr}, s.flags...)...)
	s.process.Stderr = &s.said
	out, err := s.process.StdoutPipe()
	require.NoError(s.t, err)
	require.NoError(s.t, s.process.Start())
	line, err := bufio.NewReader(out).ReadString('\n')
	require.NoError(s.t, err, s.said.String())
	require.Contains(s.t, line, s.url("/"))
	go func() { _, _ = io.Copy(io.Discard, out) }()
}

// kill ends the server without warning.
func (s *server) kill() {
	if s.process != nil {
		_ = s.process.Process.Kill()
		_ = s.process.Wait()
		s.process = nil
	}
}

func (s *server) get(path string) []byte {
	s.t.Helper()
	answer, err := http.Get(s.url(path))
	require.NoError(s.t, err)
	defer answer.Body.Close()
	body, err := io.ReadAll(answer.Body)
	require.NoError(s.t, err)
	require.Equal(s.t, http.StatusOK, answer.StatusCode, "%s: %s", path, body)
	return body
}

// records are the job's records as the server hands them out.
func (s *server) records(job string) []checklist.Record {
	s.t.Helper()
	var all []checklist.Record
	for {
		var page struct {
			Head    int64              `json:"head"`
			Records []checklist.Record `json:"records"`
		}
		require.NoError(s.t, json.Unmarshal(s.get(fmt.Sprintf("/api/jobs/%s/records?after=%d", job, len(all))), &page))
		all = append(all, page.Records...)
		if int64(len(all)) >= page.Head || len(page.Records) == 0 {
			return all
		}
	}
}

func (s *server) demoJob() string {
	var list struct {
		Jobs []struct{ ID, Title string } `json:"jobs"`
	}
	require.NoError(s.t, json.Unmarshal(s.get("/api/jobs"), &list))
	require.Len(s.t, list.Jobs, 1)
	return list.Jobs[0].ID
}

// push sends entries as another device would.
func (s *server) push(job string, entries ...checklist.Entry) {
	s.t.Helper()
	texts := make([]string, len(entries))
	for i, e := range entries {
		texts[i] = string(e.Bytes())
	}
	body, err := json.Marshal(map[string]any{"entries": texts})
	require.NoError(s.t, err)
	answer, err := http.Post(s.url("/api/jobs/"+job+"/entries"), "application/json", bytes.NewReader(body))
	require.NoError(s.t, err)
	defer answer.Body.Close()
	got, err := io.ReadAll(answer.Body)
	require.NoError(s.t, err)
	require.Equal(s.t, http.StatusOK, answer.StatusCode, string(got))
	require.NotContains(s.t, string(got), `"accepted":false`)
}

// phone is a browser and the job in it.
type phone struct {
	*browsertest.Browser
	t   *testing.T
	s   *server
	job string
}

func (p phone) must(err error) {
	p.t.Helper()
	require.NoError(p.t, err)
}

func (p phone) path(parts ...string) string {
	return "/jobs/" + p.job + "/" + strings.ReplaceAll(strings.Join(parts, "/"), "+", "%2B")
}

// open goes to a page and waits until the phone's own program shows it.
func (p phone) open(path string) {
	p.t.Helper()
	p.must(p.Browser.Open(p.s.url(path)))
	p.usable()
}

func (p phone) usable() {
	p.t.Helper()
	p.must(p.Until(`performance.getEntriesByName('usable').length > 0 && document.querySelector('#page h1') !== null`))
}

func (p phone) says(text string) {
	p.t.Helper()
	p.must(p.Until(fmt.Sprintf(`document.querySelector('#page').innerText.includes(%q)`, text)))
}

func (p phone) status(text string) {
	p.t.Helper()
	p.must(p.Until(fmt.Sprintf(`document.querySelector('#say').innerText.includes(%q)`, text)))
}

func (p phone) shot(name string) {
	dir := os.Getenv("HANGTRUE_SHOTS")
	if dir == "" {
		return
	}
	p.must(p.Screenshot(filepath.Join(dir, name+".png")))
}

// fill fills the form of a step as a person does: readings are typed, choices clicked.
func (p phone) fill(typed map[string]string, chosen map[string]string) {
	p.t.Helper()
	for name, value := range chosen {
		p.must(p.Eval(fmt.Sprintf(`(() => {
			const [name, value] = [%q, %q];
			const radio = [...document.querySelectorAll('form[data-form=record] input[type=radio]')].find((r) => r.name === name && r.value === value);
			if (radio) { radio.closest('label').click(); return }
			const select = [...document.querySelectorAll('form[data-form=record] select')].find((s) => s.name === name);
			select.value = value;
			if (select.value !== value) throw new Error('no option ' + value + ' in ' + name);
			select.dispatchEvent(new Event('input', {bubbles: true}));
			select.dispatchEvent(new Event('change', {bubbles: true}));
		})()`, name, value), nil))
	}
	for name, value := range typed {
		p.must(p.Type(fmt.Sprintf(`form[data-form=record] [name=%q]`, name), value))
	}
}

// confirm ticks every caution that has to be confirmed.
func (p phone) confirm() {
	p.t.Helper()
	p.must(p.Eval(`document.querySelectorAll('form[data-form=record] input[name=confirmed]').forEach((c) => { if (!c.checked) c.closest('label').click() })`, nil))
}

// save presses the form's button and waits until the page shows what came of it.
func (p phone) save(form, shows string) {
	p.t.Helper()
	p.must(p.Click(fmt.Sprintf(`form[data-form=%s] button[type=submit]`, form)))
	p.says(shows)
}

// record does one step of a mount as the rehearsal would, but by hand.
func (p phone) record(pl *plan.Plan, step, mount string) {
	p.t.Helper()
	b, err := rehearsal.Recording(pl, step, mount)
	p.must(err)
	typed := map[string]string{}
	for key, readings := range b.Measured {
		switch {
		case strings.HasSuffix(key, "_um"):
			typed[key] = fmt.Sprintf("%.1f mm", float64(readings[0])/1e3)
		default:
			typed[key] = fmt.Sprint(float64(readings[0]) / 1000)
		}
	}
	parts := []string{"steps", step}
	if mount != "" {
		parts = []string{"mounts", mount, step}
	}
	p.open(p.path(parts...))
	p.fill(typed, b.Chosen)
	p.confirm()
	p.save("record", "Recorded by lead")
	p.status("aved on this phone")
}

// The whole job for real: a phone loses the server, does all eight steps of a
// mount without it, is closed and opened again, finds the server, and the record
// that is signed at the end can be checked by anybody.
func TestJobOnAPhone(t *testing.T) {
	profile := t.TempDir()
	first := browsertest.Start(t, browsertest.Options{Profile: profile})
	program := build(t)
	s := newServer(t, program)
	s.start()
	job := s.demoJob()
	pl, err := plan.Decode(settled(t, s.records(job)))
	require.NoError(t, err)
	const mount = "M+090"

	p := phone{first, t, s, job}
	p.must(p.Browser.Open(s.url("/")))
	p.must(p.Offline())
	p.open("/")
	p.says(pl.Title)
	p.open("/you")
	p.must(p.Eval(`document.querySelector('input[name=role][value=lead]').closest('label').click()`, nil))
	p.must(p.Type(`[name=who]`, "lead"))
	p.must(p.Click(`form[data-form=you] button[type=submit]`))
	p.must(p.Until(`document.querySelector('[name=who]').defaultValue === 'lead'`))
	p.open("/jobs/" + job)
	p.shot("job")

	s.kill()
	p.must(p.Reload())
	p.usable()
	p.says(pl.Title)

	// A hold point refuses what is out of order.
	p.open(p.path("mounts", mount, "drill"))
	p.says("Held")
	var forms int
	p.must(p.Eval(`document.querySelectorAll('form[data-form=record]').length`, &forms))
	assert.Zero(t, forms, "a held step has no form")
	p.shot("held")

	p.record(pl, "survey", "")
	p.record(pl, "isolate", "")

	// The mark is 12 mm off plan: the verdict comes while typing, and a lead leaves it so.
	m := pl.MountByChannel(mount)
	p.open(p.path("mounts", mount, "mark"))
	tape := pl.Instruments[0].Name
	p.fill(map[string]string{"along_um": fmt.Sprintf("%.3f", m.Along), "up_um": fmt.Sprintf("%.3f", m.Up+0.012)}, map[string]string{"on_hand": "here", "tape": tape})
	p.must(p.Until(`document.querySelector('#verdict').innerText.includes('12 mm down')`))
	p.shot("typing")
	p.save("record", "Recorded by lead")
	p.says("12 mm down")
	p.shot("outside")
	p.must(p.Eval(`document.querySelectorAll('details').forEach((d) => { if (d.querySelector('form[data-form=concede]')) d.open = true })`, nil))
	p.must(p.Type(`form[data-form=concede] [name=reason]`, "a pipe is in the way"))
	p.save("concede", "a pipe is in the way")

	for _, step := range []string{"level", "studs", "drill", "wire", "bridges", "hang"} {
		p.record(pl, step, mount)
		p.shot("done-" + step)
	}
	// The phone reads a recorded impulse without the server too; the person answers.
	p.open(p.path("mounts", mount, "polarity"))
	impulse := filepath.Join(t.TempDir(), "impulse.wav")
	require.NoError(t, os.WriteFile(impulse, rehearsal.Impulse(1, 0, 900, 12000, -30000, 9000), 0o600))
	p.must(p.Eval(`document.querySelector('#f-impulse').closest('details').open = true`, nil))
	p.must(p.Run(chromedp.SetUploadFiles("#f-impulse", []string{impulse}, chromedp.ByQuery)))
	p.says("outward: right")
	p.record(pl, "polarity", mount)
	p.open(p.path("mounts", mount))
	before, err := p.Text("#page")
	require.NoError(t, err)
	p.shot("mount")

	// The phone is closed and opened again, the server still dead.
	p.Close()
	second := browsertest.Start(t, browsertest.Options{Profile: profile})
	p = phone{second, t, s, job}
	p.open(p.path("mounts", mount))
	after, err := p.Text("#page")
	require.NoError(t, err)
	assert.Equal(t, before, after, "everything is found again")
	p.status("11 not sent yet")

	// The server comes back and gets it all.
	s.start()
	p.must(p.Eval(`dispatchEvent(new Event('online'))`, nil))
	require.Eventually(t, func() bool { return len(s.records(job)) == 2+11 }, 60*time.Second, 200*time.Millisecond)
	for _, r := range s.records(job) {
		assert.True(t, r.Accepted, r.Reason)
	}

	// Another phone sees the same.
	other := phone{browsertest.Start(t, browsertest.Options{}), t, s, job}
	other.must(other.Browser.Open(s.url("/")))
	other.must(other.Offline())
	other.open(other.path("mounts", mount))
	other.says("off plan")
	p.open(p.path("mounts", mount))
	p.must(p.Until(`!document.querySelector('#say').innerText.includes('not sent')`))
	here, err := p.Text("#page")
	require.NoError(t, err)
	there, err := other.Text("#page")
	require.NoError(t, err)
	assert.Equal(t, here, there)

	// A second device does the rest; the lead signs off.
	finish(t, s, job)
	p.open(p.path("steps", "sign"))
	p.must(p.Until(`document.querySelector('form[data-form=sign]') !== null`))
	p.must(p.Eval(`document.querySelector('form[data-form=sign] input[name=read]').closest('label').click()`, nil))
	p.shot("sign")
	p.must(p.Click(`form[data-form=sign] button[type=submit]`))
	require.Eventually(t, func() bool {
		all := s.records(job)
		last := all[len(all)-1]
		return last.Entry.Kind == checklist.JobSigned && last.Accepted
	}, 60*time.Second, 200*time.Millisecond)
	p.open(p.path("record"))
	p.says("Signed off by lead")
	p.shot("record")

	record := s.get("/jobs/" + job + "/record.json")
	file := filepath.Join(t.TempDir(), "record.json")
	require.NoError(t, os.WriteFile(file, record, 0o600))
	out, err := exec.Command(program, "verify", file).CombinedOutput()
	require.NoError(t, err, string(out))

	digit := regexp.MustCompile(`along_um\\":\[\d`).FindIndex(record)
	require.NotNil(t, digit)
	changed := bytes.Clone(record)
	changed[digit[1]-1] = '0' + (changed[digit[1]-1]-'0'+1)%10
	require.NoError(t, os.WriteFile(file, changed, 0o600))
	out, err = exec.Command(program, "verify", file).CombinedOutput()
	var exit *exec.ExitError
	require.ErrorAs(t, err, &exit, string(out))
	assert.Equal(t, 1, exit.ExitCode(), string(out))
	assert.Contains(t, string(out), "Entry 5 (M+090 Mark", "the entry is named")
}

// settled is the document of the first plan in a log.
func settled(t *testing.T, records []checklist.Record) []byte {
	for _, r := range records {
		if r.Entry.Kind == checklist.PlanSettled {
			var b checklist.Settlement
			require.NoError(t, json.Unmarshal(r.Entry.Body, &b))
			return []byte(b.Plan)
		}
	}
	t.Fatal("the log has no plan")
	return nil
}

// finish records what is left of a job from a device of its own.
func finish(t *testing.T, s *server, job string) {
	t.Helper()
	site := rehearsal.NewSite(job, "01900000-0000-7000-8000-0000000000ff")
	for _, r := range s.records(job) {
		site.State.Fold(r)
	}
	require.NoError(t, site.Finish())
	var entries []checklist.Entry
	for _, r := range site.Records {
		entries = append(entries, r.Entry)
	}
	for len(entries) > 0 {
		n := min(len(entries), 100)
		s.push(job, entries[:n]...)
		entries = entries[n:]
	}
}

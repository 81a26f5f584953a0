package main

import (
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"

	"github.com/chromedp/cdproto/network"

	"hangtrue/pwa"
	"hangtrue/pwa/browsertest"
	"hangtrue/pwa/internal/stand"
)

const jobID = "01900000-0000-7000-8000-00000000000a"

// scene is a server with one job, and a bare one beside it.
type scene struct {
	mounts     int
	ours, bare *host
}

// host is a server that can be killed and started on the same port.
type host struct {
	handler http.Handler
	addr    string
	server  *http.Server
}

func (h *host) start() error {
	l, err := net.Listen("tcp", h.addr)
	if err != nil {
		return err
	}
	h.addr = l.Addr().String()
	h.server = &http.Server{Handler: h.handler}
	go func() { _ = h.server.Serve(l) }() // ends with kill
	return nil
}

func (h *host) kill() { _ = h.server.Close() }

func (h *host) url(path string) string { return "http://" + h.addr + path }

func newScene(index *pwa.Index, entries int, document string) (*scene, error) {
	plan, err := os.ReadFile(document)
	if err != nil {
		return nil, err
	}
	site, err := stand.Open(jobID, plan)
	if err != nil {
		return nil, err
	}
	if err := stand.Work(site, 4, entries); err != nil {
		return nil, err
	}
	empty, err := bareFiles()
	if err != nil {
		return nil, err
	}
	s := &scene{
		mounts: len(site.State.Mounts()),
		ours:   &host{handler: stand.Serve(index, site), addr: "127.0.0.1:0"},
		bare:   &host{handler: empty, addr: "127.0.0.1:0"},
	}
	if err := s.ours.start(); err != nil {
		return nil, err
	}
	return s, s.bare.start()
}

func (s *scene) close() { s.ours.kill(); s.bare.kill() }

func (s *scene) reopen() error { return errors.Join(s.ours.start(), s.bare.start()) }

const (
	barePage   = `<!doctype html><html lang="en"><title>bare</title><script type="module" src="/bare.js"></script><p>bare</p></html>`
	bareScript = `
performance.mark('painted');
navigator.serviceWorker.register('/sw.js');
await import('/wasm_exec.js');
const go = new Go();
const { instance } = await WebAssembly.instantiateStreaming(fetch('/empty.wasm'), go.importObject);
globalThis.hangtrueStarted = () => performance.mark('usable');
go.run(instance);
`
	bareWorker = `
const files = ['/', '/bare.js', '/wasm_exec.js', '/empty.wasm'];
addEventListener('install', (e) => e.waitUntil(caches.open('bare').then((c) => c.addAll(files))));
addEventListener('fetch', (e) => e.respondWith(caches.open('bare').then((c) => c.match(new URL(e.request.url).pathname)).then((r) => r ?? fetch(e.request))));
`
	bareProgram = `package main

import "syscall/js"

func main() {
	js.Global().Call("hangtrueStarted")
	select {}
}
`
)

// bareFiles serves the least there can be: a page, a service worker, and a Go
// program that only says that it runs.
func bareFiles() (http.Handler, error) {
	dir, err := os.MkdirTemp("", "hangtrue-bare-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	for name, text := range map[string]string{"main.go": bareProgram, "go.mod": "module bare\n\ngo 1.26\n"} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o644); err != nil {
			return nil, err
		}
	}
	c := exec.Command("go", "build", "-trimpath", "-ldflags=-s", "-o", "empty.wasm", ".")
	c.Dir, c.Env = dir, append(os.Environ(), "GOOS=js", "GOARCH=wasm", "GOFLAGS=-buildvcs=false")
	if out, err := c.CombinedOutput(); err != nil {
		return nil, fmt.Errorf("build the empty program: %w\n%s", err, out)
	}
	wasm, err := os.ReadFile(filepath.Join(dir, "empty.wasm"))
	if err != nil {
		return nil, err
	}
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		return nil, err
	}
	starter, err := os.ReadFile(filepath.Join(strings.TrimSpace(string(root)), "lib", "wasm", "wasm_exec.js"))
	if err != nil {
		return nil, err
	}
	files := map[string]struct {
		kind    string
		content []byte
	}{
		"/": {"text/html", []byte(barePage)}, "/bare.js": {"text/javascript", []byte(bareScript)},
		"/sw.js": {"text/javascript", []byte(bareWorker)}, "/wasm_exec.js": {"text/javascript", starter},
		"/empty.wasm": {"application/wasm", wasm},
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		f, ok := files[r.URL.Path]
		if !ok {
			http.NotFound(w, r)
			return
		}
		w.Header().Set("Content-Type", f.kind)
		_, _ = w.Write(f.content) // the other end may be gone
	}), nil
}

const usable = `performance.getEntriesByName('usable').length > 0`

func (s *scene) measure(b *browsertest.Browser, runs int, slower float64, taps bool) error {
	// A driven browser keeps every file that a page loads for whoever asks for it, which
	// costs the page's own thread as much as compiling the program: not asked for.
	if err := b.Run(network.Disable()); err != nil {
		return err
	}
	if err := s.visit(b); err != nil {
		return err
	}
	s.close() // from here on everything comes from the phone
	fmt.Printf("\nprocessor slowed down %gx\n", slower)
	if !taps {
		if err := s.launches(b, runs, "a first visit"); err != nil {
			return err
		}
		opened, err := s.leaf(b)
		if err != nil {
			return err
		}
		if err := s.launches(b, runs, fmt.Sprintf("%d pages were opened", opened)); err != nil {
			return err
		}
	}
	verdicts, saves, err := s.work(b, runs)
	if err != nil {
		return err
	}
	row("key to verdict while typing", verdicts)
	row("tap on save to the new page, saved on disk", saves)
	return nil
}

// launches opens the job's page again and again, and the bare page beside it.
func (s *scene) launches(b *browsertest.Browser, runs int, after string) error {
	times := map[string][]float64{}
	for range runs {
		if err := launch(b, s.bare.url("/"), "bare ", times); err != nil {
			return err
		}
		if err := launch(b, s.ours.url("/jobs/"+jobID), "", times); err != nil {
			return err
		}
	}
	fmt.Printf("  launch offline after %s\n", after)
	row("  to the last page in place", times["painted"])
	row("    bare: an empty page from a service worker", times["bare painted"])
	row("  to usable", times["usable"])
	row("    of this until the program is compiled", times["compiled"])
	row("    of this until it is started", times["started"])
	row("    of this until the job is loaded", times["loaded"])
	row("    bare: an empty Go program started", times["bare usable"])
	return nil
}

// leaf opens every page that the job's page leads to, twice, as who works with it does in
// time, and tells how many that were: a browser keeps the code that it compiled for a program
// once enough of it was in use for long. Pages of the whole program are left out.
func (s *scene) leaf(b *browsertest.Browser) (int, error) {
	if err := b.Open(s.ours.url("/jobs/" + jobID)); err != nil {
		return 0, err
	}
	if err := b.Until(usable); err != nil {
		return 0, err
	}
	var opened int
	err := b.Eval(`(async () => {
		const pause = (time) => new Promise((end) => setTimeout(end, time));
		const main = document.getElementById('page');
		const paths = [...new Set([...main.querySelectorAll('a[href^="/jobs/"]')].map((link) => link.pathname))]
			.filter((path) => !path.endsWith('/plan') && path !== location.pathname);
		paths.push(...paths);
		for (const path of paths) {
			const was = document.title;
			const link = document.createElement('a');
			link.href = path;
			main.append(link);
			link.click();
			while (document.title === was) await pause(10);
		}
		await pause(2000);
		return paths.length;
	})()`, &opened)
	return opened, err
}

// visit opens both servers once, takes the phone for a lead, and leaves when the
// service workers have everything.
func (s *scene) visit(b *browsertest.Browser) error {
	for _, step := range []func() error{
		func() error { return b.Open(s.bare.url("/")) },
		b.Offline,
		func() error { return b.Open(s.ours.url("/you")) },
		func() error { return b.Until(usable) },
		func() error { return b.Type("#who", "lead") },
		func() error { return b.Click("input[name=role][value=lead]") },
		func() error { return b.Click("#page button[type=submit]") },
		func() error { return b.Until("document.querySelector('#who').defaultValue === 'lead'") },
		b.Offline,
		func() error { return b.Open(s.ours.url("/jobs/" + jobID)) },
		func() error { return b.Until(usable) },
	} {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// launch opens an address and notes the times of its marks after the start of the
// navigation.
func launch(b *browsertest.Browser, url, prefix string, times map[string][]float64) error {
	if err := b.Open("about:blank"); err != nil {
		return err
	}
	if err := b.Open(url); err != nil {
		return err
	}
	if err := b.Until(usable); err != nil {
		return err
	}
	var marks map[string]float64
	if err := b.Eval(`Object.fromEntries(performance.getEntriesByType('mark').map((m) => [m.name, m.startTime]))`, &marks); err != nil {
		return err
	}
	for name, at := range marks {
		times[prefix+name] = append(times[prefix+name], at)
	}
	return nil
}

// work records one step of the job again and again, with nobody to send it to.
func (s *scene) work(b *browsertest.Browser, runs int) (verdicts, saves []float64, err error) {
	if err := b.Open(s.ours.url("/jobs/" + jobID + "/steps/isolate")); err != nil {
		return nil, nil, err
	}
	if err := b.Until(usable); err != nil {
		return nil, nil, err
	}
	for range runs {
		const form = `document.querySelector('form[data-form=record]')`
		if err := b.Until(form + " !== null"); err != nil {
			return nil, nil, err
		}
		if err := b.Eval(`{ performance.clearMeasures(); const f = `+form+`; f.closest('details')?.setAttribute('open', ''); f.querySelector('input[value=unplugged]').click() }`, new(any)); err != nil {
			return nil, nil, err
		}
		if err := b.Until(`performance.getEntriesByName('verdict').length > 0`); err != nil {
			return nil, nil, err
		}
		if err := b.Eval(form+`.requestSubmit()`, new(any)); err != nil {
			return nil, nil, err
		}
		if err := b.Until(`performance.getEntriesByName('save').length > 0`); err != nil {
			return nil, nil, err
		}
		var took []float64
		if err := b.Eval(`['verdict', 'save'].map((name) => performance.getEntriesByName(name).at(-1).duration)`, &took); err != nil {
			return nil, nil, err
		}
		verdicts, saves = append(verdicts, took[0]), append(saves, took[1])
	}
	return verdicts, saves, nil
}

func row(name string, ms []float64) {
	slices.Sort(ms)
	fmt.Printf("  %-46s %7.1f  (%.1f to %.1f)\n", name, ms[len(ms)/2], ms[0], ms[len(ms)-1])
}

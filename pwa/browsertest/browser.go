package browsertest

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	cdplog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// ErrNoBrowser is returned when no Chromium is on the path.
var ErrNoBrowser = errors.New("browsertest: no chromium, chromium-browser or google-chrome on the path")

// Options of a browser. The zero value is a phone held upright with a profile of
// its own.
type Options struct {
	Profile       string  // user data folder; a fresh one if empty
	Width, Height int     // CSS pixels; 390 × 844 if zero
	Throttle      float64 // the processor is slowed down by this; 1 if zero
	Dark          bool    // the person prefers a dark page

	Home string   // home folder, with the authorities that a person trusts (.pki/nssdb); the caller's own if empty
	Args []string // more switches, such as "--host-resolver-rules=MAP attic.local 127.0.0.1"
}

// A Browser is one tab of a running Chromium.
type Browser struct {
	ctx    context.Context
	cancel context.CancelFunc
	done   func()
	once   sync.Once

	mu     sync.Mutex
	faults []string
}

// limit bounds every single action; pages of this size answer within it on a
// machine with two busy cores.
const limit = 60 * time.Second

func find() (string, error) {
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path, nil
		}
	}
	return "", ErrNoBrowser
}

// Open starts a browser with an empty tab. [Browser.Close] ends it.
func Open(ctx context.Context, o Options) (*Browser, error) {
	path, err := find()
	if err != nil {
		return nil, err
	}
	remove := func() {}
	if o.Profile == "" {
		if o.Profile, err = os.MkdirTemp("", "hangtrue-browser-"); err != nil {
			return nil, err
		}
		remove = func() { _ = os.RemoveAll(o.Profile) } // a late write of the browser may keep it; it is in the temporary folder
	}
	if o.Width == 0 {
		o.Width, o.Height = 390, 844
	}
	if o.Throttle == 0 {
		o.Throttle = 1
	}
	flags := []chromedp.ExecAllocatorOption{
		chromedp.ExecPath(path), chromedp.UserDataDir(o.Profile),
		chromedp.Flag("headless", true), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun, chromedp.NoDefaultBrowserCheck,
		chromedp.Flag("disable-quic", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
		chromedp.Flag("disable-default-apps", true), chromedp.Flag("disable-features", "Translate"),
		chromedp.WSURLReadTimeout(limit),
	}
	if o.Home != "" {
		flags = append(flags, chromedp.Env("HOME="+o.Home))
	}
	for _, arg := range o.Args {
		name, value, _ := strings.Cut(strings.TrimPrefix(arg, "--"), "=")
		flags = append(flags, chromedp.Flag(name, value))
	}
	allocator, stop := chromedp.NewExecAllocator(ctx, flags...)
	// A Chromium newer than the protocol package sends values it does not know;
	// what that loses is no concern of a test, so its log is dropped.
	quiet := func(string, ...any) {}
	tab, cancel := chromedp.NewContext(allocator, chromedp.WithErrorf(quiet), chromedp.WithLogf(quiet))
	b := &Browser{ctx: tab, cancel: cancel, done: func() { stop(); remove() }}
	b.listen()
	if err := b.prepare(o); err != nil {
		b.Close()
		return nil, fmt.Errorf("browsertest: start %s: %w", path, err)
	}
	return b, nil
}

func (b *Browser) prepare(o Options) error {
	// The first run belongs to the whole browser: no limit of its own may end it.
	if err := chromedp.Run(b.ctx); err != nil {
		return err
	}
	scheme := "light"
	if o.Dark {
		scheme = "dark"
	}
	return b.run(
		cdplog.Enable(), runtime.Enable(), page.Enable(),
		emulation.SetDeviceMetricsOverride(int64(o.Width), int64(o.Height), 2, true),
		emulation.SetTouchEmulationEnabled(true),
		emulation.SetCPUThrottlingRate(o.Throttle),
		emulation.SetEmulatedMedia().WithFeatures([]*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}),
	)
}

// Tab opens another tab of the same browser, with the same storage.
func (b *Browser) Tab(o Options) (*Browser, error) {
	if o.Width == 0 {
		o.Width, o.Height = 390, 844
	}
	if o.Throttle == 0 {
		o.Throttle = 1
	}
	ctx, cancel := chromedp.NewContext(b.ctx)
	other := &Browser{ctx: ctx, cancel: cancel, done: func() {}}
	other.listen()
	return other, other.prepare(o)
}

// Close ends the tab, and with the first tab the browser. Closing twice is closing once.
func (b *Browser) Close() {
	// Cancel waits for the browser to write its profile, which the next start with
	// the same profile reads.
	b.once.Do(func() {
		_ = chromedp.Cancel(b.ctx)
		b.cancel()
		b.done()
	})
}

func (b *Browser) listen() {
	chromedp.ListenTarget(b.ctx, func(event any) {
		switch e := event.(type) {
		case *runtime.EventExceptionThrown:
			text := e.ExceptionDetails.Text
			if e.ExceptionDetails.Exception != nil {
				text += " " + e.ExceptionDetails.Exception.Description
			}
			b.fault("exception: " + text)
		case *runtime.EventConsoleAPICalled:
			if e.Type == runtime.APITypeError || e.Type == runtime.APITypeAssert {
				var words []string
				for _, a := range e.Args {
					words = append(words, strings.Trim(string(a.Value)+" "+a.Description, " "))
				}
				b.fault("console: " + strings.Join(words, " "))
			}
		case *cdplog.EventEntryAdded:
			if e.Entry.Level == cdplog.LevelError && e.Entry.Source != cdplog.SourceNetwork {
				b.fault(fmt.Sprintf("%s: %s (%s)", e.Entry.Source, e.Entry.Text, e.Entry.URL))
			}
		}
	})
}

func (b *Browser) fault(text string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.faults = append(b.faults, text)
}

// Faults are the exceptions and errors so far.
func (b *Browser) Faults() []string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return append([]string(nil), b.faults...)
}

// run bounds actions by the limit.
func (b *Browser) run(actions ...chromedp.Action) error {
	ctx, cancel := context.WithTimeout(b.ctx, limit)
	defer cancel()
	return chromedp.Run(ctx, actions...)
}

// Run runs actions of chromedp for what this package has no method for.
func (b *Browser) Run(actions ...chromedp.Action) error { return b.run(actions...) }

// Open goes to an address and waits until the document is there.
func (b *Browser) Open(url string) error {
	if err := b.run(chromedp.Navigate(url)); err != nil {
		return fmt.Errorf("browsertest: open %s: %w", url, err)
	}
	return nil
}

// Reload loads the page again, the way a person does.
func (b *Browser) Reload() error { return b.run(chromedp.Reload()) }

// Eval evaluates an expression, waits for a promise, and decodes the value into
// the pointer, which may be nil.
func (b *Browser) Eval(expression string, into any) error {
	wait := func(p *runtime.EvaluateParams) *runtime.EvaluateParams { return p.WithAwaitPromise(true) }
	if into == nil {
		var ignored any
		into = &ignored
		expression = "(async () => { await (" + expression + "); return true })()"
	}
	if err := b.run(chromedp.Evaluate(expression, into, wait)); err != nil {
		return fmt.Errorf("browsertest: %s: %w", expression, err)
	}
	return nil
}

// pause is how long Until waits between two looks.
const pause = 20 * time.Millisecond

// Until waits until an expression, or the promise that it gives, is true. It
// outlives a page that is being left.
func (b *Browser) Until(expression string) error {
	var last error
	for end := time.Now().Add(limit); time.Now().Before(end); time.Sleep(pause) {
		var yes bool
		if last = b.Eval("(async () => !!(await ("+expression+")))()", &yes); last == nil && yes {
			return nil
		}
		if b.ctx.Err() != nil {
			break
		}
	}
	var seen string
	_ = b.run(chromedp.Evaluate(`location.href + "\n" + document.body?.innerText`, &seen))
	return fmt.Errorf("browsertest: never true: %s\nlast error: %v\nthe page was: %s\nfaults: %v", expression, last, seen, b.Faults())
}

// Text is the text of the first element that the selector finds.
func (b *Browser) Text(selector string) (string, error) {
	var text string
	err := b.Eval(fmt.Sprintf("document.querySelector(%q)?.innerText ?? ''", selector), &text)
	return text, err
}

// still resolves to the middle of an element once it is there and has stopped
// moving, and watches whether the click that follows reaches it.
const still = `new Promise((found) => {
	let last = '', same = 0;
	const find = () => document.querySelector(%q);
	const look = () => {
		const e = find();
		const r = e?.checkVisibility() ? e.getBoundingClientRect() : null;
		if (r) e.scrollIntoView({ block: 'center', behavior: 'instant' });
		const at = r ? [r.x, r.y, r.width, r.height].join() : '';
		same = at && at === last ? same + 1 : 0;
		last = at;
		if (same < 3) return requestAnimationFrame(look);
		window.reached = false;
		addEventListener('click', (event) => { // the page may have been drawn again since
			window.reached = [e, find()].some((x) => x?.contains(event.target) || event.target.closest('label')?.control === x);
		}, { capture: true, once: true });
		found([r.x + r.width / 2, r.y + r.height / 2]);
	};
	look();
})`

// Click waits until an element stands still and clicks it with the mouse; a click
// that something else took, because the page moved under it, is made again.
func (b *Browser) Click(selector string) error {
	for range 10 {
		var at []float64
		if err := b.run(page.BringToFront()); err != nil { // a tab in the background draws no frames
			return err
		}
		if err := b.Eval(fmt.Sprintf(still, selector), &at); err != nil {
			return fmt.Errorf("browsertest: click %s: %w", selector, err)
		}
		if err := b.run(chromedp.MouseClickXY(at[0], at[1])); err != nil {
			return fmt.Errorf("browsertest: click %s: %w", selector, err)
		}
		var reached bool
		if err := b.Eval("window.reached ?? true", &reached); err != nil || reached {
			return nil // a page that is left by the click answers nothing
		}
	}
	return fmt.Errorf("browsertest: click %s: something else took every click", selector)
}

// Type waits for a field and types into it.
func (b *Browser) Type(selector, text string) error {
	if err := b.Click(selector); err != nil {
		return err
	}
	if err := b.run(chromedp.KeyEvent(text)); err != nil {
		return fmt.Errorf("browsertest: type into %s: %w", selector, err)
	}
	return nil
}

// Drag takes hold of an element in its middle and moves it by CSS pixels.
func (b *Browser) Drag(selector string, dx, dy float64) error {
	var at []float64
	if err := b.Eval(fmt.Sprintf(still, selector), &at); err != nil {
		return fmt.Errorf("browsertest: drag %s: %w", selector, err)
	}
	mouse := func(kind input.MouseType, x, y float64) chromedp.Action {
		return chromedp.MouseEvent(kind, x, y, chromedp.ButtonLeft)
	}
	return b.run(
		mouse(input.MousePressed, at[0], at[1]),
		mouse(input.MouseMoved, at[0]+dx/2, at[1]+dy/2),
		mouse(input.MouseMoved, at[0]+dx, at[1]+dy),
		mouse(input.MouseReleased, at[0]+dx, at[1]+dy),
	)
}

// Keys types into the field that has the focus.
func (b *Browser) Keys(text string) error { return b.run(chromedp.KeyEvent(text)) }

// Throttle slows the processor down.
func (b *Browser) Throttle(rate float64) error {
	return b.run(emulation.SetCPUThrottlingRate(rate))
}

// Resize changes the window.
func (b *Browser) Resize(width, height int) error {
	return b.run(emulation.SetDeviceMetricsOverride(int64(width), int64(height), 2, width < 700))
}

// Screenshot writes the whole page into a PNG file.
func (b *Browser) Screenshot(file string) error {
	var png []byte
	if err := b.run(chromedp.FullScreenshot(&png, 100)); err != nil {
		return err
	}
	if err := os.MkdirAll(filepath.Dir(file), 0o755); err != nil {
		return err
	}
	return os.WriteFile(file, png, 0o644)
}

// Offline waits until the service worker can serve the page without the server.
func (b *Browser) Offline() error {
	return b.Eval("navigator.serviceWorker.ready.then(() => true)", new(bool))
}

package browsertest

import (
	"context"
	_ "embed"
	"encoding/json"
	"fmt"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

//go:embed examine.js
var examine string

// Examine puts what [Browser.Wrong] asks into the page that is open. The page's own
// policy for scripts does not hold for what is evaluated from outside.
func (b *Browser) Examine() error { return b.load("examine.js", examine) }

// load evaluates a whole script.
func (b *Browser) load(name, script string) error {
	if err := b.run(chromedp.Evaluate(script, nil)); err != nil {
		return fmt.Errorf("browsertest: %s: %w", name, err)
	}
	return nil
}

// Wrong calls a function of examine.js that gives what is wrong with the page.
func (b *Browser) Wrong(function string) ([]string, error) {
	var wrong []string
	err := b.Eval("examine."+function+"()", &wrong)
	return wrong, err
}

// Follow goes on to a path of the same site as by a link on the page, which the page's
// own program may take over; then it puts the page there without loading it anew, and
// gives the focus to its main part.
func (b *Browser) Follow(path string) error {
	click := fmt.Sprintf(`(() => {
		const link = document.createElement('a');
		link.href = %q;
		document.body.append(link);
		document.activeElement?.blur();
		window.followed = true;
		link.click();
		link.remove();
	})()`, path)
	if err := b.load("follow "+path, click); err != nil {
		return err
	}
	return b.Until(fmt.Sprintf(`location.pathname === %q && (!window.followed || document.activeElement?.localName === 'main')`, path))
}

// Links are the paths that the page leads to, within its own site.
func (b *Browser) Links() ([]string, error) { return b.Wrong("links") }

// Show sets the size of the window in CSS pixels, and whether the person prefers a
// dark page. A narrow window is a phone's.
func (b *Browser) Show(width, height int, dark bool) error {
	scheme := "light"
	if dark {
		scheme = "dark"
	}
	return b.run(
		emulation.SetDeviceMetricsOverride(int64(width), int64(height), 1, width < 700),
		emulation.SetEmulatedMedia().WithFeatures([]*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}),
	)
}

// Paper shows the page as it is printed by somebody who prefers a dark page, on a
// sheet so many CSS pixels wide.
func (b *Browser) Paper(width int) error {
	return b.run(
		emulation.SetDeviceMetricsOverride(int64(width), 1000, 1, false),
		emulation.SetEmulatedMedia().WithMedia("print").WithFeatures([]*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: "dark"}}),
	)
}

// PDF prints the page on A4 as a browser does that nobody told more.
func (b *Browser) PDF() (data []byte, err error) {
	const inch = 25.4 // millimetres
	err = b.run(chromedp.ActionFunc(func(ctx context.Context) (err error) {
		data, _, err = page.PrintToPDF().WithPaperWidth(210 / inch).WithPaperHeight(297 / inch).Do(ctx)
		return err
	}))
	return data, err
}

// Keys that [Browser.Press] knows, with what they type and their virtual key codes.
var keys = map[string]struct {
	code, text string
	number     int64
}{
	"Tab": {"Tab", "", 9}, "Enter": {"Enter", "\r", 13}, " ": {"Space", " ", 32},
}

// Press presses a key so many times: Tab, Enter, or a space.
func (b *Browser) Press(key string, times int) error {
	k, ok := keys[key]
	if !ok {
		return fmt.Errorf("browsertest: press %q: it is not among the keys known", key)
	}
	down := input.KeyDown
	if k.text == "" {
		down = input.KeyRawDown
	}
	of := func(t input.KeyType) *input.DispatchKeyEventParams {
		return input.DispatchKeyEvent(t).WithKey(key).WithCode(k.code).WithWindowsVirtualKeyCode(k.number)
	}
	var actions []chromedp.Action
	for range times {
		actions = append(actions, of(down).WithText(k.text), of(input.KeyUp))
	}
	return b.run(actions...)
}

// TabThrough goes through the page by the keyboard alone and gives what is wrong: a control
// that is not reached, or out of order, without a mark, or behind something.
func (b *Browser) TabThrough() ([]string, error) {
	if err := b.run(page.BringToFront()); err != nil {
		return nil, err
	}
	var stops int
	if err := b.Eval("examine.tabs()", &stops); err != nil {
		return nil, err
	}
	if err := b.Press("Tab", stops+1); err != nil {
		return nil, err
	}
	return b.Wrong("tabbed")
}

// OpenAll opens everything that is folded, by Enter, and gives what does not open. So
// many of them, the first, are closed and opened by the space bar too.
func (b *Browser) OpenAll(spaced int) (wrong []string, err error) {
	for n := 0; ; n++ {
		step := "next()"
		if n == 0 {
			step = "first('summary')"
		}
		var on, open bool
		if err := b.Eval("examine."+step, &on); err != nil || !on {
			return wrong, err
		}
		if err := b.Eval("examine.open()", &open); err != nil {
			return wrong, err
		}
		var presses []string
		if n < spaced {
			presses = []string{" ", " "}
		}
		if !open {
			presses = append(presses, "Enter")
		}
		for _, key := range presses {
			before := open
			if err := b.Press(key, 1); err != nil {
				return wrong, err
			}
			if err := b.Eval("examine.open()", &open); err != nil {
				return wrong, err
			}
			if open == before {
				var name string
				if err := b.Eval("examine.focused()", &name); err != nil {
					return wrong, err
				}
				wrong = append(wrong, fmt.Sprintf("%s does not heed the key %q", name, key))
			}
		}
	}
}

// Buttons presses Enter and the space bar on every button and gives those that take
// either for nothing. Nothing comes of the presses.
func (b *Browser) Buttons() (wrong []string, err error) {
	if err := b.Eval("examine.hold()", nil); err != nil {
		return nil, err
	}
	for step := "first('button')"; ; step = "next()" {
		var on bool
		if err := b.Eval("examine."+step, &on); err != nil {
			return wrong, err
		}
		if !on {
			return wrong, b.Eval("examine.release()", nil)
		}
		for _, key := range []string{"Enter", " "} {
			var clicks int
			if err := b.Press(key, 1); err != nil {
				return wrong, err
			}
			if err := b.Eval("examine.clicks()", &clicks); err != nil {
				return wrong, err
			}
			if clicks != 1 {
				var name string
				if err := b.Eval("examine.focused()", &name); err != nil {
					return wrong, err
				}
				wrong = append(wrong, fmt.Sprintf("%s was clicked %d times by the key %q", name, clicks, key))
			}
		}
	}
}

// An Axe is the text of axe-core, and the rules of it that are not asked.
type Axe struct {
	Source string
	Off    []string
}

// Run gives what axe-core finds wrong with the page, and what it could not settle
// about colours. Rules, if there are any, are the only ones asked.
func (a Axe) Run(b *Browser, rules ...string) ([]string, error) {
	var there bool
	if err := b.Eval("'axe' in window", &there); err != nil {
		return nil, err
	}
	if !there {
		if err := b.load("axe-core", a.Source); err != nil {
			return nil, err
		}
	}
	off, err := json.Marshal(append([]string{}, a.Off...))
	if err != nil {
		return nil, err
	}
	only, err := json.Marshal(append([]string{}, rules...))
	if err != nil {
		return nil, err
	}
	var wrong []string
	return wrong, b.Eval(fmt.Sprintf("examine.rules(%s, %s)", off, only), &wrong)
}

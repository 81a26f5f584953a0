package browsertest_test

import (
	"context"
	"fmt"
	"os"
	"regexp"
	"strconv"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/pwa/browsertest"
)

// TestPaperPrintsInTrueSize: from the phone's own page of all paper to a template that the
// browser prints: one page a sheet, of the sheet's size, nothing but the sheet on it, and
// 100 mm of the bar is 100 mm, which is 100·96/25.4 of CSS's pixels (CSS Values 4 §6.2).
func TestPaperPrintsInTrueSize(t *testing.T) {
	b := browsertest.Start(t, browsertest.Options{})
	h := newHouse(t, newSite(t, "plans/example.json", 2))
	be(t, b, h)
	require.NoError(t, b.Open(h.url("/jobs/"+jobID)))
	require.NoError(t, b.Until(usable))
	require.NoError(t, b.Click(`a[href$="/paper"]`))
	require.NoError(t, b.Until(`document.querySelector('#page h1')?.innerText === 'Paper'`))
	if file := shown("paper"); file != "" {
		require.NoError(t, b.Screenshot(file))
	}
	for _, size := range []struct {
		name          string
		width, height float64 // millimetres
	}{{"a4", 210, 297}, {"letter", 215.9, 279.4}} {
		require.NoError(t, b.Click(fmt.Sprintf(`a[href$="/template-%s.html"]`, size.name)))
		require.NoError(t, b.Until(`document.querySelectorAll('svg.sheet').length === 2`))
		if file := shown("template-" + size.name); file != "" {
			require.NoError(t, b.Screenshot(file))
		}
		require.NoError(t, b.Run(emulation.SetEmulatedMedia().WithMedia("print")))
		var bar, sheet, shown float64
		require.NoError(t, b.Eval(`[...document.querySelector('svg.sheet').querySelectorAll('polyline')].map((l) => l.getBoundingClientRect())
			.filter((r) => r.height < 3 && r.width > 370 && r.width < 390).map((r) => r.width)[0]`, &bar))
		require.NoError(t, b.Eval(`document.querySelector('svg.sheet').getBoundingClientRect().width`, &sheet))
		require.NoError(t, b.Eval(`document.querySelector('.about').getBoundingClientRect().height`, &shown))
		assert.InDelta(t, 100*96/25.4, bar, 0.1)
		assert.InDelta(t, size.width*96/25.4, sheet, 0.1)
		assert.Zero(t, shown, "what is for the screen is not printed")

		var printed []byte
		require.NoError(t, b.Run(chromedp.ActionFunc(func(ctx context.Context) (err error) {
			printed, _, err = cdppage.PrintToPDF().WithPreferCSSPageSize(true).Do(ctx)
			return err
		})))
		if dir := os.Getenv("HANGTRUE_SHOTS"); dir != "" {
			require.NoError(t, os.WriteFile(dir+"/printed-"+size.name+".pdf", printed, 0o644))
		}
		boxes := regexp.MustCompile(`/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]`).FindAllSubmatch(printed, -1)
		require.Len(t, boxes, 2, "a page for each sheet")
		for _, box := range boxes {
			for i, want := range []float64{size.width, size.height} {
				got, err := strconv.ParseFloat(string(box[i+1]), 64)
				require.NoError(t, err)
				assert.InDelta(t, want*72/25.4, got, 1, "points; the browser has whole pixels")
			}
		}
		require.NoError(t, b.Run(emulation.SetEmulatedMedia().WithMedia("")))
		require.NoError(t, b.Click(`.about a`))
		require.NoError(t, b.Until(usable))
		require.NoError(t, b.Until(`document.querySelector('#page h1')?.innerText === 'Paper'`))
	}
}

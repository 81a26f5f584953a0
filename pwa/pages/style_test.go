package pages_test

import (
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func style(t require.TestingT) string {
	data, err := os.ReadFile("../static/hangtrue.css")
	require.NoError(t, err)
	return string(data)
}

// tokens are the colours of both themes.
func tokens(t *testing.T) (light, dark map[string]string) {
	css := style(t)
	read := func(block string) map[string]string {
		out := map[string]string{}
		for _, m := range regexp.MustCompile(`--([a-z-]+): (#[0-9a-f]{6});`).FindAllStringSubmatch(block, -1) {
			out[m[1]] = m[2]
		}
		return out
	}
	before, after, ok := strings.Cut(css, "@media (prefers-color-scheme: dark)")
	require.True(t, ok)
	after, _, _ = strings.Cut(after, "*, ::before")
	return read(before), read(after)
}

// contrast is the ratio of WCAG 2.2, "contrast ratio" and "relative luminance".
func contrast(t *testing.T, a, b string) float64 {
	luminance := func(hex string) float64 {
		var l float64
		for i, weight := range []float64{0.2126, 0.7152, 0.0722} {
			n, err := strconv.ParseUint(hex[1+2*i:3+2*i], 16, 8)
			require.NoError(t, err, hex)
			c := float64(n) / 255
			if c <= 0.04045 {
				c /= 12.92
			} else {
				c = math.Pow((c+0.055)/1.055, 2.4)
			}
			l += weight * c
		}
		return l
	}
	x, y := luminance(a), luminance(b)
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

// Text 4.5:1 (WCAG 2.2, 1.4.3), borders of controls and strokes of drawings 3:1
// (1.4.11). The rule between rows carries no meaning and is left out.
func TestStyle_Contrast(t *testing.T) {
	assert.InDelta(t, 21, contrast(t, "#000000", "#ffffff"), 1e-9, "WCAG 2.2: 1 to 21")
	assert.InDelta(t, 4.54, contrast(t, "#767676", "#ffffff"), 0.005, "a grey known to pass on white: 4.54")
	light, dark := tokens(t)
	for theme, c := range map[string]map[string]string{"light": light, "dark": dark} {
		for _, row := range []struct {
			fore  []string
			back  []string
			least float64
		}{
			{[]string{"ink", "quiet", "act", "within", "outside", "unsure", "stale"}, []string{"paper", "sheet"}, 4.5},
			{[]string{"ink", "quiet"}, []string{"field"}, 4.5},
			{[]string{"ink"}, []string{"caution"}, 4.5},
			{[]string{"on-act"}, []string{"act"}, 4.5},
			{[]string{"edge"}, []string{"paper", "sheet", "field"}, 3},
			{[]string{"ink", "outside", "act"}, []string{"stud", "glass"}, 3},
		} {
			for _, fore := range row.fore {
				for _, back := range row.back {
					require.NotEmpty(t, c[fore], fore)
					require.NotEmpty(t, c[back], back)
					assert.GreaterOrEqual(t, contrast(t, c[fore], c[back]), row.least, "%s: %s on %s", theme, fore, back)
				}
			}
		}
	}
}

// Nothing comes from elsewhere, and what moves stays still for who asks for that.
func TestStyle_Rules(t *testing.T) {
	css := style(t)
	assert.NotContains(t, css, "url(")
	assert.NotContains(t, css, "@import")
	assert.NotContains(t, css, "@font-face")
	still, _, _ := strings.Cut(css, "@media (prefers-reduced-motion: no-preference)")
	assert.NotRegexp(t, `transition|animation|translate`, still)
	assert.Contains(t, css, ":focus-visible")
	assert.NotRegexp(t, `outline: (0|none)`, strings.ReplaceAll(css, "main:focus { outline: none; }", ""), "only the page's own box, which no key reaches, goes without")
}

package markup_test

import (
	"net/url"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/pwa/markup"
)

// Addresses that were kept or printed stay what they were: net/url tells the same.
func TestSegment(t *testing.T) {
	for c := range 256 {
		text := string([]byte{byte(c)})
		require.Equal(t, url.PathEscape(text), markup.Segment(text), "byte %d", c)
	}
	rapid.Check(t, func(t *rapid.T) {
		text := string(rapid.SliceOf(rapid.Byte()).Draw(t, "text"))
		require.Equal(t, url.PathEscape(text), markup.Segment(text))
		back, ok := markup.FromSegment(markup.Segment(text))
		require.True(t, ok)
		require.Equal(t, text, back)

		given := rapid.StringMatching(`([a-z%+/ ]|%[0-9a-fA-FgG]{0,2})*`).Draw(t, "given")
		want, err := url.PathUnescape(given)
		got, ok := markup.FromSegment(given)
		require.Equal(t, err == nil, ok, "%q", given)
		require.Equal(t, want, got)
	})
}

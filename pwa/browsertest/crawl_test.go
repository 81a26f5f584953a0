package browsertest_test

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"hangtrue/pwa/browsertest"
)

// Pages of a small site: two jobs of which the second has a form that the first lacks,
// a file that is no page, a link elsewhere, and one that is downloaded.
func TestCrawl_Next(t *testing.T) {
	site := map[string]string{
		"/":            `<a href="/jobs/1">One</a> <a class="row" href="/jobs/2?x=1#y">Two</a> <a href="https://elsewhere.example/">Elsewhere</a> <a href="/list.pdf">List</a>`,
		"/jobs/1":      `<h1>One</h1><p class="quiet">a</p><a href="/jobs/1/a%20wall">Wall</a>`,
		"/jobs/2":      `<h1>Two</h1><p>b</p><a href="/jobs/2/mark">Mark</a> <a download href="/jobs/2.json">File</a>`,
		"/jobs/3":      `<h1>Three</h1><form data-form="record"></form><a href="/jobs/3/mark">Mark</a>`,
		"/jobs/2/mark": `<h1>Mark</h1>`, "/jobs/3/mark": `<h1>Mark again</h1>`,
		"/jobs/1/a%20wall": `<h1>Wall</h1><svg><text class="new">x</text></svg><a href="/jobs/3">Three</a>`,
	}
	names := map[string]bool{"1": true, "2": true, "3": true, "a wall": true}
	c := browsertest.Crawl{
		Word: func(s string) string {
			if names[s] {
				return "*"
			}
			return s
		},
		Fetch: func(path string) (string, bool) { markup, ok := site[path]; return markup, ok },
	}
	c.Add("/", "/", "//elsewhere.example/x", "mailto:x", "jobs/1")
	var order []string
	for path, ok := c.Next(); ok; path, ok = c.Next() {
		order = append(order, path)
	}
	assert.Equal(t, []string{"/", "/jobs/1", "/jobs/1/a%20wall", "/jobs/2/mark", "/jobs/3"}, order,
		"the second job has nothing new but is followed, the third has a form; the last mark is as the one before")
	assert.Equal(t, "/jobs/*/*", c.Pattern("/jobs/1/a%20wall"))
	c.Add("/jobs/3/mark", "/jobs/1")
	_, ok := c.Next()
	assert.False(t, ok, "what was found once is not found again")

	plain := browsertest.Crawl{}
	plain.Add("/a", "/b", "/a")
	order = nil
	for path, ok := plain.Next(); ok; path, ok = plain.Next() {
		order = append(order, path)
	}
	assert.Equal(t, []string{"/a", "/b"}, order)
}

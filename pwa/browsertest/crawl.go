package browsertest

import (
	"html"
	"net/url"
	"regexp"
	"slices"
	"strings"
)

// A Crawl goes through a site by its own links, breadth first, and gives the pages
// that have something to show which none before them had: the first of every pattern
// of addresses, and then each that is made of an element new to its pattern.
type Crawl struct {
	// Word gives what a segment of an address stands for: itself where it is a word of
	// the program, and one and the same for all names out of the data, such as ids of
	// jobs and channels. Nil: every segment stands for itself.
	Word func(segment string) string
	// Fetch gives the markup of the page at a path; ok is false where there is another
	// kind of file. Its links are followed even where the page itself has nothing new.
	// Nil: one page of a pattern is enough.
	Fetch func(path string) (markup string, ok bool)

	found []string
	known map[string]bool            // paths
	seen  map[string]map[string]bool // elements of each pattern
}

// Add takes links as a page has them, relative to the site. What leads elsewhere is
// passed over, and so are the fragment and the query.
func (c *Crawl) Add(links ...string) {
	if c.known == nil {
		c.known, c.seen = map[string]bool{}, map[string]map[string]bool{}
	}
	for _, link := range links {
		u, err := url.Parse(link)
		if err != nil || u.Host != "" || u.Scheme != "" || !strings.HasPrefix(u.Path, "/") {
			continue
		}
		if path := u.EscapedPath(); !c.known[path] {
			c.known[path] = true
			c.found = append(c.found, path)
		}
	}
}

// Next is the next path worth a look; ok is false when there is none.
func (c *Crawl) Next() (path string, ok bool) {
	for len(c.found) > 0 {
		path, c.found = c.found[0], c.found[1:]
		var markup string
		if c.Fetch != nil {
			if markup, ok = c.Fetch(path); !ok {
				continue
			}
		}
		pattern := c.Pattern(path)
		seen, again := c.seen[pattern]
		if !again {
			seen = map[string]bool{}
			c.seen[pattern] = seen
		}
		fresh := !again
		for _, e := range elements(markup) {
			fresh = fresh || !seen[e]
			seen[e] = true
		}
		for _, link := range links.FindAllStringSubmatch(markup, -1) {
			if !strings.Contains(link[0], " download") {
				c.Add(html.UnescapeString(link[1]))
			}
		}
		if fresh {
			return path, true
		}
	}
	return "", false
}

// Pattern is a path in the words that its segments stand for.
func (c *Crawl) Pattern(path string) string {
	parts := strings.Split(path, "/")
	for i, part := range parts {
		if plain, err := url.PathUnescape(part); err == nil && c.Word != nil {
			parts[i] = c.Word(plain)
		}
	}
	return strings.Join(parts, "/")
}

var (
	drawn   = regexp.MustCompile(`(?s)<svg.*?</svg>`)
	tags    = regexp.MustCompile(`<([a-z][a-z0-9]*)([^>]*)>`)
	links   = regexp.MustCompile(`<a [^>]*href="([^"]*)"[^>]*>`)
	telling = regexp.MustCompile(` (class|data-form|type)="([^"]*)"`)
)

// elements are what a page's markup is made of, each once: tags, and tags with a class,
// a form's name or a type. What a drawing holds does not count.
func elements(markup string) []string {
	var all []string
	for _, tag := range tags.FindAllStringSubmatch(drawn.ReplaceAllString(markup, "<svg>"), -1) {
		all = append(all, tag[1])
		for _, a := range telling.FindAllStringSubmatch(tag[2], -1) {
			for _, value := range strings.Fields(a[2]) {
				all = append(all, tag[1]+" "+a[1]+"="+value)
			}
		}
	}
	slices.Sort(all)
	return slices.Compact(all)
}

package pages_test

import (
	"encoding/xml"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/pwa/pages"
)

// tag is an element of a page with what a person is told of it.
type tag struct {
	name   string
	attrs  map[string]string
	text   string // of itself and all within
	within []string
	labels bool // stands in a label
	group  bool // stands in a fieldset
}

// read takes a page apart with a parser that shares nothing with package markup.
func read(t require.TestingT, html string) []*tag {
	d := xml.NewDecoder(strings.NewReader(html))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	var all, open []*tag
	for {
		token, err := d.Token()
		if err == io.EOF {
			require.Empty(t, open, "every element is closed")
			return all
		}
		require.NoError(t, err)
		switch token := token.(type) {
		case xml.StartElement:
			e := &tag{name: token.Name.Local, attrs: map[string]string{}}
			for _, a := range token.Attr {
				e.attrs[a.Name.Local] = a.Value
			}
			for _, o := range open {
				o.text += e.attrs["alt"] // which stands for a picture
				e.within = append(e.within, o.name)
				e.labels = e.labels || o.name == "label"
				e.group = e.group || o.name == "fieldset"
			}
			all, open = append(all, e), append(open, e)
		case xml.EndElement:
			require.Equal(t, open[len(open)-1].name, token.Name.Local)
			open = open[:len(open)-1]
		case xml.CharData:
			for _, o := range open {
				o.text += string(token)
			}
		}
	}
}

// devices are those who may look at a page.
var devices = map[string]pages.Device{
	"lead":      {ID: deviceID, Who: "lead", Role: checklist.Lead, Known: true},
	"installer": {ID: deviceID, Who: "installer 1", Role: checklist.Installer, Known: true},
	"viewer":    {ID: deviceID, Who: "Cleo", Role: checklist.Viewer, Known: true},
	"nobody":    {ID: deviceID},
	"server":    {},
}

func TestRender_EveryPageIsSound(t *testing.T) {
	all := states(t)
	all["imperial"] = newSite(t, "Attic lounge", imperial(t))
	all["foreign"] = newSite(t, `<img src=x onerror=alert(1)>"'&`, hostile(t))
	for state, s := range all {
		for who, device := range devices {
			if state != "half" && who != "lead" && who != "server" {
				continue // the roles differ in what they may record, which one state shows
			}
			t.Run(state+"/"+who, func(t *testing.T) {
				s := *s
				s.device = device
				status := map[string]int{}
				for _, path := range paths(s.log.State()) {
					d := pages.Render(path, &s)
					require.Equal(t, 200, d.Status, path)
					assert.NotEmpty(t, d.Title, path)
					html := d.Page(pages.Assets{})
					require.NotContains(t, html, "<img", path)
					require.NotContains(t, html, "NaN", path)
					require.NotContains(t, html, "Inf ", path)
					for _, href := range soundPage(t, path, read(t, d.Fragment())) {
						if strings.Contains(href[strings.LastIndexByte(href, '/'):], ".") {
							continue // a file of the server's, whose test follows these links
						}
						if _, ok := status[href]; !ok {
							status[href] = pages.Render(href, &s).Status
						}
						assert.Equal(t, 200, status[href], "%s leads to %s", path, href)
					}
				}
			})
		}
	}
}

// soundPage holds a page to what WCAG 2.2 and plain sense ask of its markup, and
// gives the addresses that it leads to.
func soundPage(t *testing.T, path string, all []*tag) (hrefs []string) {
	t.Helper()
	ids, labelled := map[string]*tag{}, map[string]string{}
	level, mains := 0, 0
	for _, e := range all {
		if id, ok := e.attrs["id"]; ok {
			assert.Nil(t, ids[id], "%s: id %q is there twice", path, id)
			assert.NotContains(t, id, " ", path)
			ids[id] = e
		}
		if e.name == "label" {
			assert.NotEmpty(t, strings.TrimSpace(e.text), "%s: a label says something", path)
			labelled[e.attrs["for"]] = e.text
		}
	}
	for _, e := range all {
		text := strings.TrimSpace(e.text)
		for name := range e.attrs {
			assert.False(t, name == "style" || strings.HasPrefix(name, "on"), "%s: %s has %s, which the page's policy forbids", path, e.name, name)
		}
		for _, id := range strings.Fields(e.attrs["aria-describedby"]) {
			assert.NotNil(t, ids[id], "%s: %s is described by %q, which is not there", path, e.attrs["id"], id)
		}
		switch e.name {
		case "script":
			assert.Fail(t, "a script", path)
		case "h1", "h2", "h3", "h4":
			n, _ := strconv.Atoi(e.name[1:])
			assert.NotEmpty(t, text, path)
			assert.LessOrEqual(t, n, level+1, "%s: %q skips a level", path, text)
			if level = n; n == 1 {
				mains++
			}
		case "a":
			assert.NotEmpty(t, text, "%s: a link to %s says nothing", path, e.attrs["href"])
			require.NotEmpty(t, e.attrs["href"], path)
			if _, download := e.attrs["download"]; !download {
				hrefs = append(hrefs, e.attrs["href"])
			}
		case "button", "summary", "legend", "caption", "option":
			assert.NotEmpty(t, text, "%s: an empty %s", path, e.name)
		case "input", "select", "textarea":
			if e.attrs["type"] == "hidden" {
				continue
			}
			assert.NotEmpty(t, e.attrs["name"], path)
			assert.True(t, e.labels || labelled[e.attrs["id"]] != "", "%s: %s %s has no label", path, e.name, e.attrs["name"])
			if e.attrs["type"] == "radio" {
				assert.True(t, e.group, "%s: the choices %s have no group", path, e.attrs["name"])
			}
		case "svg":
			assert.Equal(t, "img", e.attrs["role"], path)
		case "th":
			assert.NotEmpty(t, e.attrs["scope"], path)
		}
	}
	assert.Equal(t, 1, mains, "%s: one h1", path)
	return hrefs
}

// A form that records stands only where its entry would be let through.
func TestRender_FormsStandWhereTheyCount(t *testing.T) {
	for name, s := range states(t) {
		for who, device := range devices {
			s := *s
			s.device = device
			st := s.log.State()
			for _, path := range paths(st) {
				html := pages.Render(path, &s).Fragment()
				k, ok := keyOf(st, path)
				if !ok {
					assert.NotContains(t, html, `data-form="record"`, path)
					continue
				}
				step := st.Template.Step(k.Step)
				may := device.Known && (device.Role == checklist.Lead || device.Role == step.Role) && len(st.Holds(k)) == 0 && step.Kind == checklist.StepRecorded
				assert.Equal(t, may, strings.Contains(html, `data-form="record"`), "%s, %s: %s", name, who, path)
			}
		}
	}
}

var stepPath = regexp.MustCompile(`/(?:steps|mounts/([^/]+))/([a-z]+)$`)

func keyOf(s *checklist.State, path string) (checklist.Key, bool) {
	m := stepPath.FindStringSubmatch(strings.ReplaceAll(path, "%2B", "+"))
	if m == nil {
		return checklist.Key{}, false
	}
	k := checklist.Key{Step: m[2], Mount: m[1]}
	return k, slices.Contains(s.Keys(), k)
}

func TestRender_Missing(t *testing.T) {
	s := states(t)["half"]
	none := states(t)["none"]
	base := "/jobs/" + jobID
	for _, row := range []struct {
		src  *site
		path string
	}{
		{s, "/nowhere"}, {s, "/jobs"}, {s, "/jobs/unknown"}, {s, base + "/walls/cellar"}, {s, base + "/mounts/M+999"}, {s, base + "/mounts/M+999/mark"},
		{s, base + "/mounts/LFE1/drill"}, {s, base + "/mounts/M+030/survey"}, {s, base + "/steps/mark"}, {s, base + "/steps/nothing"}, {s, base + "/%zz"}, {s, base + "/a/b/c/d"}, {s, "/you/there"},
		{none, base + "/walls/left"}, {none, base + "/wiring"}, {none, base + "/drawings"}, {s, base + "/drawings/attic"}, {none, base + "/rack"}, {none, base + "/sound"}, {none, base + "/paper"}, {s, base + "/sound/more"}, {none, base + "/mounts/M+030"},
	} {
		d := pages.Render(row.path, row.src)
		assert.Equal(t, 404, d.Status, row.path)
		soundPage(t, row.path, read(t, d.Fragment()))
		assert.Nil(t, pages.Draft(row.path, pages.Form{"act": {"record"}}, row.src), row.path)
		made := pages.Submit(row.path, pages.Form{"act": {"record"}}, row.src)
		kind, problems := made.Kind, made.Problems
		assert.Empty(t, kind, row.path)
		assert.NotEmpty(t, problems["form"], row.path)
	}
}

// Before the plan is settled nothing is recorded, and every page says so.
func TestRender_NoPlan(t *testing.T) {
	s := states(t)["none"]
	path := "/jobs/" + jobID + "/steps/survey"
	html := pages.Render(path, s).Fragment()
	assert.Contains(t, html, "Settle the plan is not done.")
	assert.NotContains(t, html, "<form")
	problems := pages.Submit(path, pages.Form{"act": {"record"}}, s).Problems
	assert.NotEmpty(t, problems["form"])
	assert.Contains(t, pages.Render("/jobs/"+jobID+"/steps/plan", s).Fragment(), "No plan is settled yet.")
}

func TestRender_ChannelEitherWay(t *testing.T) {
	s := states(t)["half"]
	assert.Equal(t, pages.Render("/jobs/"+jobID+"/mounts/M+090/mark", s).Fragment(), pages.Render("/jobs/"+jobID+"/mounts/M%2B090/mark", s).Fragment())
}

// The colours of the browser's own bar are those of the sheet's paper.
func TestPage_ThemeColours(t *testing.T) {
	html := pages.Render("/", states(t)["none"]).Page(pages.Assets{})
	var papers []string
	for _, m := range regexp.MustCompile(`--paper: (#[0-9a-f]{6});`).FindAllStringSubmatch(style(t), -1) {
		papers = append(papers, m[1])
	}
	require.Len(t, papers, 2)
	for _, colour := range papers {
		assert.Contains(t, html, `content="`+colour+`"`)
	}
}

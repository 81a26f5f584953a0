package server_test

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"html"
	"io"
	"mime"
	"net/http"
	"net/http/httptest"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/pwa/paper"
	"hangtrue/server/memory"
	"hangtrue/testdata/demo"
)

func settled(t testing.TB) (*site, *device) {
	s, d := serve(t, memory.New()), lead(t, jobA)
	s.push(jobA, d.open("Attic lounge"), d.settle())
	return s, d
}

// TestPaper_EveryLink: what the page of all paper links to is there, of the kind that its
// name says, and every kind of paper is linked to.
func TestPaper_EveryLink(t *testing.T) {
	s, _ := settled(t)
	at := "/jobs/" + jobA + "/paper"
	list := s.get(at)
	require.Equal(t, 200, list.StatusCode)
	var links []string
	for _, m := range regexp.MustCompile(`href="(`+at+`/[^"]+)"`).FindAllStringSubmatch(list.body, -1) {
		links = append(links, html.UnescapeString(m[1]))
	}
	for _, k := range paper.Kinds {
		for _, size := range paper.Sizes {
			assert.Contains(t, links, at+"/"+k.Name+"-"+size.Name+".html")
			assert.Contains(t, links, at+"/"+k.Name+"-"+size.Name+".pdf")
		}
		if k.Table {
			assert.Contains(t, links, at+"/"+k.Name+".csv")
		}
	}
	for _, link := range links {
		r := s.get(link)
		require.Equal(t, 200, r.StatusCode, "%s: %s", link, r.body)
		kind, start := "application/pdf", "%PDF-"
		switch {
		case strings.HasSuffix(link, ".html"):
			kind, start = "text/html; charset=utf-8", "<!DOCTYPE html>"
			assert.NotContains(t, r.body, "<script")
			assert.NotRegexp(t, `<style|\sstyle=`, r.body)
		case strings.HasSuffix(link, ".csv"):
			kind, start = "text/csv; charset=utf-8; header=present", ""
		}
		assert.Equal(t, kind, r.Header.Get("Content-Type"), link)
		assert.True(t, strings.HasPrefix(r.body, start), link)
		if kind == "application/pdf" {
			_, names, err := mime.ParseMediaType(r.Header.Get("Content-Disposition"))
			require.NoError(t, err)
			assert.Regexp(t, `^Attic lounge [a-z-]+\.pdf$`, names["filename"])
		}
		if kind == "text/html; charset=utf-8" { // its own links
			for _, m := range regexp.MustCompile(`href="([^"/?][^"]*)"`).FindAllStringSubmatch(r.body, -1) {
				assert.Equal(t, 200, s.get(at+"/"+html.UnescapeString(m[1])).StatusCode, m[1])
			}
		}
	}
	svg := s.get(at + "/mark-out-letter-1.svg")
	assert.Equal(t, "image/svg+xml; charset=utf-8", svg.Header.Get("Content-Type"))
	assert.Contains(t, svg.body, `width="215.9mm"`)
}

// TestPaper_None: names that are none, and a job without a plan.
func TestPaper_None(t *testing.T) {
	s, _ := settled(t)
	at := "/jobs/" + jobA + "/paper/"
	for _, name := range []string{"poster-a4.pdf", "mark-out-a5.pdf", "mark-out-a4.svg", "mark-out-a4-0.svg", "mark-out-a4-999.svg", "template.csv", "mark-out.pdf", "mark-out-a4", ".pdf", "-a4.pdf", "a4.svg", "all-a4-1.doc"} {
		s.get(at+name).problem(t, 404)
	}
	s.get("/jobs/"+jobB+"/paper/cables-a4.pdf").problem(t, 404)
	d := lead(t, jobB)
	s.push(jobB, d.open("Empty"))
	assert.Contains(t, s.get("/jobs/"+jobB+"/paper/cables-a4.pdf").problem(t, 404), "No plan")
	assert.Equal(t, 404, s.get("/jobs/"+jobB+"/paper").StatusCode)
}

// TestPaper_Revisions: a sheet names the revision that it was made from, and is asked for
// by its tag, which another revision does not share.
func TestPaper_Revisions(t *testing.T) {
	s, d := settled(t)
	at := "/jobs/" + jobA + "/paper/cables-a4.html"
	odd := strings.Replace(string(demo.Plan), `"title":`, `"title"  :`, 1)
	first := s.get("/jobs/" + jobA + "/paper/cables-a4.pdf")
	s.push(jobA, d.make(checklist.PlanSettled, checklist.NewSettlement(2, "Spaces.", []byte(odd))))
	for query, want := range map[string]string{"": odd, "?revision=2": odd, "?revision=1": string(demo.Plan)} {
		sum := sha256.Sum256([]byte(want))
		hash := hex.EncodeToString(sum[:])
		n := 2
		if want != odd {
			n = 1
		}
		assert.Contains(t, s.get(at+query).body, fmt.Sprintf("revision %d · plan %s %s %s", n, hash[:4], hash[4:8], hash[8:12]))
	}
	tag := first.Header.Get("ETag")
	require.NotEmpty(t, tag)
	second := s.get("/jobs/"+jobA+"/paper/cables-a4.pdf", "If-None-Match", tag)
	require.Equal(t, 200, second.StatusCode, "another revision")
	third := s.get("/jobs/"+jobA+"/paper/cables-a4.pdf", "If-None-Match", second.Header.Get("ETag"))
	assert.Equal(t, 304, third.StatusCode)
	assert.Empty(t, third.body)
	assert.Contains(t, s.get(at+"?revision=3").problem(t, 404), "no revision 3")
}

// TestPaper_Draft: what is drafted and not settled is printed as a draft, also where
// nothing was ever settled and much is missing.
func TestPaper_Draft(t *testing.T) {
	s, d := settled(t)
	at := "/jobs/" + jobA + "/paper"
	assert.NotContains(t, s.get(at).body, "DRAFT")
	state, err := s.keeper.State(jobA)
	require.NoError(t, err)
	moved := strings.Replace(state.Part("mount/M+090"), "2.331", "2.345", 1)
	require.NotEqual(t, state.Part("mount/M+090"), moved)
	s.push(jobA, d.make(checklist.DraftEdited, checklist.Edit{Changes: []checklist.PartChange{state.Change("mount/M+090", moved)}}))
	assert.Contains(t, s.get(at).body, "DRAFT")
	assert.NotContains(t, s.get(at+"/mark-out-a4.html").body, "2.345 m")
	draft := s.get(at + "/mark-out-a4.html?draft=1").body
	assert.Contains(t, draft, "2.345 m")
	assert.Contains(t, draft, "DRAFT, not settled · plan ")
	assert.Contains(t, draft, `href="mark-out-a4.pdf?draft=1"`, "the PDF of the same")

	b := lead(t, jobB)
	s.push(jobB, b.open("New"), b.make(checklist.DraftEdited, checklist.Edit{Changes: []checklist.PartChange{{Part: "mount/M+090", Now: state.Part("mount/M+090")}}}))
	for _, file := range []string{"mark-out-a4.html", "template-letter.html", "steps-a4.html", "all-a4.pdf", "shopping-a4.html"} {
		assert.Equal(t, 200, s.get("/jobs/"+jobB+"/paper/"+file+"?draft=1").StatusCode, file)
	}
}

// TestPaper_Labels: the form shows what was typed and what is wrong with it, and goes on
// to the PDF with the same grid.
func TestPaper_Labels(t *testing.T) {
	s, _ := settled(t)
	at := "/jobs/" + jobA + "/paper/labels-a4"
	r := s.get(at + ".html?columns=2&rows=5&width=90%2C5&height=50&left=10&top=12")
	require.Equal(t, 200, r.StatusCode)
	assert.Contains(t, r.body, `name="width" value="90.5"`)
	assert.Contains(t, r.body, "width=90.5")
	for query, says := range map[string]string{
		"?columns=x":                     "Label grid: columns: read &#34;x&#34;, want a whole number.",
		"?columns=9":                     "Label grid: columns: read 9 that come to 555 mm, want at most the paper&#39;s 210 mm.",
		"?width=%3Cb%3E":                 "Label grid: width: read &#34;&lt;b&gt;&#34;, want millimetres.",
		"?grid=none":                     "Label grid: grid: read &#34;none&#34;, want the name of one.",
		"?columns=4&width=16&height=8.5": "want labels that hold",
	} {
		r := s.get(at + ".html" + query)
		assert.Equal(t, 400, r.StatusCode, query)
		plain := strings.NewReplacer("&#34;", `"`, "&#39;", "'").Replace(says)
		assert.Contains(t, strings.NewReplacer("&#34;", `"`, "&#39;", "'").Replace(r.body), strings.TrimSuffix(plain, "."), query)
		assert.Contains(t, r.body, `name="columns"`)
		s.get(at+".pdf"+query).problem(t, 400)
	}
}

// BenchmarkPaper is what paper of the demo plan costs the server.
func BenchmarkPaper(b *testing.B) {
	s, _ := settled(b)
	for _, file := range []string{"all-a4.pdf", "mark-out-a4.html", "template-a4.pdf", "steps-a4.pdf"} {
		b.Run(file, func(b *testing.B) {
			for b.Loop() {
				req := httptest.NewRequest(http.MethodGet, "/jobs/"+jobA+"/paper/"+file, nil)
				req.Host = "localhost"
				res, err := s.app.Test(req, -1)
				require.NoError(b, err)
				n, err := io.Copy(io.Discard, res.Body)
				require.NoError(b, err)
				b.ReportMetric(float64(n), "bytes")
			}
		})
	}
}

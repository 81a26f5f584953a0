package paper_test

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/pwa/markup"
	"hangtrue/pwa/paper"
)

var update = flag.Bool("update", false, "rewrite the golden files")

func golden(t *testing.T, name, got string) {
	path := filepath.Join("testdata", name)
	if *update {
		require.NoError(t, os.MkdirAll("testdata", 0o755))
		require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err, "go test -update writes it")
	assert.Equal(t, string(want), got, name)
}

// Every kind of paper as SVG; of the steps, which are many alike, the first sheet of the
// job and of a mount. The files open in a browser.
func TestGolden_SVG(t *testing.T) {
	j := job(t, "plans/example.json")
	for _, k := range paper.Kinds {
		d, err := j.Document(k.Name, paper.A4, paper.Grids(paper.A4)[0])
		require.NoError(t, err)
		for i, s := range d.Sheets {
			if k.Name == "steps" && i != 0 && i != 2 {
				continue
			}
			golden(t, fmt.Sprintf("%s-%d.svg", k.Name, i+1), strings.ReplaceAll(markup.String(s.SVG()), "><", ">\n<")+"\n")
		}
	}
}

func TestGolden_CSV(t *testing.T) {
	for _, k := range paper.Kinds {
		if k.Table {
			got, err := job(t, "demo/plan.json").Table(k.Name)
			require.NoError(t, err)
			golden(t, k.Name+".csv", string(got))
		}
	}
}

func TestGolden_HTML(t *testing.T) {
	d := job(t, "plans/example.json").Cables(paper.A4)
	d.Sheets[0].Marks = d.Sheets[0].Marks[:2]
	got := paper.Page{Style: "/assets/style.css", Back: "/jobs/x/paper", Files: [][2]string{{"PDF", "cables-a4.pdf"}}}.HTML(d)
	golden(t, "page.html", strings.ReplaceAll(got, "><", ">\n<")+"\n")
}

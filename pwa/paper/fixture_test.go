package paper_test

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"math"
	"os"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/pwa/paper"
)

// job reads a plan of testdata as the third revision of a job.
func job(t testing.TB, path string) paper.Job {
	data, err := os.ReadFile("../../testdata/" + path)
	require.NoError(t, err)
	p, err := plan.Decode(data)
	require.NoError(t, err)
	sum := sha256.Sum256(data)
	return paper.Job{Plan: p, Template: checklist.Loudspeakers, Revision: 3, SHA256: hex.EncodeToString(sum[:])}
}

// all are a job's documents for a size, labels on its first grid.
func all(t require.TestingT, j paper.Job, size paper.Size) []paper.Document {
	var documents []paper.Document
	for _, k := range paper.Kinds {
		d, err := j.Document(k.Name, size, paper.Grids(size)[0])
		if k.Name == "labels" && err != nil {
			continue // the plan's names cannot go on labels, which package wiring says
		}
		require.NoError(t, err)
		documents = append(documents, d)
	}
	return documents
}

// sound holds a document to what the package promises of every one.
func sound(t require.TestingT, d paper.Document, size paper.Size) {
	within := size.Printable()
	if d.Name == "labels" {
		within = paper.Box{X0: 5, Y0: 5, X1: size.Width - 5, Y1: size.Height - 5}
	}
	require.NotEmpty(t, d.Sheets, d.Name)
	for _, s := range d.Sheets {
		require.Equal(t, size, s.Size)
		var texts []paper.Text
		for _, m := range s.Marks {
			b := m.Bounds()
			require.False(t, math.IsNaN(b.X0+b.Y0+b.X1+b.Y1) || math.IsInf(b.X0+b.Y0+b.X1+b.Y1, 0), "%s: %+v", s.Title, m)
			require.True(t, within.Holds(b), "%s: %+v covers %+v of %+v", s.Title, m, b, within)
			if x, ok := m.(paper.Text); ok {
				require.GreaterOrEqual(t, x.Size, 8.0, x.Text)
				require.NotEmpty(t, x.Text)
				texts = append(texts, x)
			}
		}
		apart(t, s, texts)
	}
}

// apart wants no text on another.
func apart(t require.TestingT, s paper.Sheet, texts []paper.Text) {
	type placed struct {
		paper.Box
		text string
	}
	boxes := make([]placed, len(texts))
	for i, x := range texts {
		boxes[i] = placed{x.Bounds(), x.Text}
	}
	slices.SortFunc(boxes, func(a, b placed) int { return cmp.Compare(a.Y0, b.Y0) })
	for i, a := range boxes {
		for _, b := range boxes[i+1:] {
			if b.Y0 >= a.Y1 {
				break
			}
			w, h := math.Min(a.X1, b.X1)-math.Max(a.X0, b.X0), math.Min(a.Y1, b.Y1)-b.Y0
			require.False(t, w > 0.05 && h > 0.05, "%s: %q and %q share %.2f × %.2f mm", s.Title, a.text, b.text, w, h)
		}
	}
}

func texts(s paper.Sheet) []string {
	var all []string
	for _, m := range s.Marks {
		if x, ok := m.(paper.Text); ok {
			all = append(all, x.Text)
		}
	}
	return all
}

func TestJob_EveryPaperIsSound(t *testing.T) {
	for _, path := range []string{"demo/plan.json", "plans/example.json"} {
		for _, units := range []plan.Units{plan.Metric, plan.Imperial} {
			for _, draft := range []bool{false, true} {
				j := job(t, path)
				j.Plan.Units, j.Draft = units, draft
				for _, size := range paper.Sizes {
					for _, d := range all(t, j, size) {
						sound(t, d, size)
					}
				}
			}
		}
	}
}

// Every sheet but labels says which plan it was made from, and a draft that it is one.
func TestJob_SheetsNameTheirPlan(t *testing.T) {
	j := job(t, "demo/plan.json")
	for _, draft := range []bool{false, true} {
		j.Draft = draft
		want := "revision 3 · plan " + j.SHA256[:4] + " " + j.SHA256[4:8] + " " + j.SHA256[8:12]
		if draft {
			want = "DRAFT, not settled · plan " + j.SHA256[:4] + " " + j.SHA256[4:8] + " " + j.SHA256[8:12]
		}
		for _, d := range all(t, j, paper.A4) {
			for i, s := range d.Sheets {
				if d.Name != "labels" || i == len(d.Sheets)-1 {
					assert.Contains(t, texts(s), want, s.Title)
				}
			}
		}
	}
}

package press_test

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"flag"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/compute/tape"
	"hangtrue/pwa/paper"
	"hangtrue/server/press"
)

var update = flag.Bool("update", false, "rewrite the golden files")

func job(t testing.TB, path string) paper.Job {
	data, err := os.ReadFile("../../testdata/" + path)
	require.NoError(t, err)
	p, err := plan.Decode(data)
	require.NoError(t, err)
	sum := sha256.Sum256(data)
	return paper.Job{Plan: p, Template: checklist.Loudspeakers, Revision: 3, SHA256: hex.EncodeToString(sum[:])}
}

// wide has brackets whose holes lie farther apart than any sheet is wide and high.
func wide(t testing.TB) paper.Job {
	j := job(t, "demo/plan.json")
	j.Plan.Brackets[0].Holes = [][2]float64{{0, 0}, {-0.31, 0.0125}, {0.2875, -0.2}, {0.05, -0.2}, {-0.1234, 0.333}}
	j.Plan.Brackets[0].LowerEdge = 0.25
	j.Plan.Brackets[1].Holes = [][2]float64{{-0.3, 0.1}, {0.3, -0.1}} // the reference hole takes no screw
	return j
}

func pages(t testing.TB, d paper.Document) []page {
	file, err := press.PDF(d.Title, d)
	require.NoError(t, err)
	return readPDF(t, file)
}

// near is what two decimals of a point may be off, with room, in millimetres.
const near = 0.01

// sheet is a page of a template as a person with a ruler sees it.
type sheet struct {
	page
	mount, part string
	holes       []spot          // centres of circles as wide as the pilot
	marks       map[string]spot // of joints, by the name beside them
}

func (p page) text(prefix string) (written, bool) {
	i := slices.IndexFunc(p.texts, func(w written) bool { return strings.HasPrefix(w.text, prefix) })
	if i < 0 {
		return written{}, false
	}
	return p.texts[i], true
}

// read finds the mount, its holes and the joints of a template's page.
func read(t testing.TB, j paper.Job, p page) sheet {
	title, ok := p.text("Template, full size: ")
	require.True(t, ok)
	s := sheet{page: p, marks: map[string]spot{}}
	s.mount, s.part, _ = strings.Cut(strings.TrimPrefix(title.text, "Template, full size: "), ", part ")
	m := j.Plan.MountByChannel(s.mount)
	require.NotNil(t, m, title.text)
	pilot := j.Plan.Fixing(m.Fixing).Pilot * 1000
	for _, d := range p.paths {
		switch c, r, ok := d.circle(); {
		case ok && math.Abs(2*r-pilot) < near:
			s.holes = append(s.holes, c)
		case ok && math.Abs(r-2) < near: // a joint's mark
			name := p.nearest(c, func(w written) bool { return strings.Contains(w.text, "-") && len(w.text) == 7 })
			s.marks[name.text] = c
		}
	}
	return s
}

func (p page) nearest(c spot, which func(written) bool) written {
	best := written{}
	least := math.Inf(1)
	for _, w := range p.texts {
		if d := math.Hypot(w.at.x-c.x, w.at.y-c.y); which(w) && d < least {
			best, least = w, d
		}
	}
	return best
}

// window is the frame that the pattern is drawn in: the page's largest rectangle.
func (p page) window(t testing.TB) (low, high spot) {
	for _, d := range p.paths {
		if d.closed && !d.curved && len(d.points) == 4 && d.points[2].x-d.points[0].x > high.x-low.x {
			low, high = d.points[0], d.points[2]
		}
	}
	require.Greater(t, high.x-low.x, 100.0)
	return low, high
}

// axes are the level line, solid and from edge to edge of the window, and the upright one,
// a centre line from edge to edge.
func (p page) axes(t testing.TB) (level, upright []float64) {
	low, high := p.window(t)
	for _, d := range p.paths {
		a, b, ok := d.line()
		switch {
		case !ok:
		case d.dashes == 0 && a.y == b.y && math.Abs(a.x-low.x) < near && math.Abs(b.x-high.x) < near:
			level = append(level, a.y)
		case d.dashes == 4 && a.x == b.x && math.Abs(a.y-low.y) < near && math.Abs(b.y-high.y) < near:
			upright = append(upright, a.x)
		}
	}
	return level, upright
}

// The page's box is the paper's size: ISO 216 A4 is 210 × 297 mm, Letter is 8.5 × 11 in
// (ANSI/ASME Y14.1); two decimals of a point are within 0.005 pt.
func TestPDF_Boxes(t *testing.T) {
	for size, want := range map[string][2]float64{"a4": {210, 297}, "letter": {8.5 * 25.4, 11 * 25.4}} {
		s, ok := paper.SizeNamed(size)
		require.True(t, ok)
		for _, k := range paper.Kinds {
			d, err := job(t, "demo/plan.json").Document(k.Name, s, paper.Grids(s)[0])
			require.NoError(t, err)
			for _, p := range pages(t, d) {
				assert.InDelta(t, want[0], p.width, 0.005)
				assert.InDelta(t, want[1], p.height, 0.005)
			}
		}
	}
}

// True size, from the PDF's own numbers: on every template, every hole lies from the
// reference point where the plan's bracket has it, to a hundredth of a millimetre, and
// has its number beside it; both bars are 100 mm.
func TestPDF_TemplatesAreInTrueSize(t *testing.T) {
	for name, j := range map[string]paper.Job{"demo": job(t, "demo/plan.json"), "example": job(t, "plans/example.json"), "wide": wide(t)} {
		for _, size := range paper.Sizes {
			t.Run(name+" on "+size.Name, func(t *testing.T) {
				byMount := map[string][]sheet{}
				for _, p := range pages(t, j.Templates(size)) {
					bars(t, p)
					s := read(t, j, p)
					byMount[s.mount] = append(byMount[s.mount], s)
				}
				hung := 0
				for i := range j.Plan.Mounts {
					if m := &j.Plan.Mounts[i]; m.Bracket != "" {
						hung++
						trueSize(t, j, m, byMount[m.Channel])
					}
				}
				assert.Len(t, byMount, hung)
				if name == "wide" {
					assert.Greater(t, len(byMount["M+030"]), 4, "it must go over sheets both ways")
				}
			})
		}
	}
}

func bars(t testing.TB, p page) {
	level, upright := 0, 0
	for _, d := range p.paths {
		if a, b, ok := d.line(); ok {
			if math.Abs(a.y-b.y) < near && math.Abs(math.Abs(a.x-b.x)-100) < near {
				level++
			}
			if math.Abs(a.x-b.x) < near && math.Abs(math.Abs(a.y-b.y)-100) < near {
				upright++
			}
		}
	}
	assert.GreaterOrEqual(t, level, 1, "a bar of 100 mm across")
	assert.GreaterOrEqual(t, upright, 1, "a bar of 100 mm upright")
	said := 0
	for _, w := range p.texts {
		if w.text == "100 mm: measure this before you drill" {
			said++
		}
	}
	assert.Equal(t, 2, said)
}

// trueSize lays a mount's sheets together by the names of their joints' marks, and
// compares every hole with the plan.
func trueSize(t testing.TB, j paper.Job, m *plan.Mount, sheets []sheet) {
	require.NotEmpty(t, sheets, m.Channel)
	laid := map[string]spot{sheets[0].part: {}} // where each sheet's corner lies
	for range sheets {
		for _, s := range sheets {
			at, ok := laid[s.part]
			if !ok {
				continue
			}
			for _, other := range sheets {
				var shared []string
				for name := range s.marks {
					if _, both := other.marks[name]; both && other.part != s.part {
						shared = append(shared, name)
					}
				}
				if len(shared) == 0 {
					continue
				}
				require.Len(t, shared, 2, "%s: marks that %s and %s share", m.Channel, s.part, other.part)
				for _, name := range shared {
					to := spot{at.x + s.marks[name].x - other.marks[name].x, at.y + s.marks[name].y - other.marks[name].y}
					if was, known := laid[other.part]; known {
						require.InDelta(t, was.x, to.x, near, "%s: %s falls on itself", m.Channel, name)
						require.InDelta(t, was.y, to.y, near, "%s: %s falls on itself", m.Channel, name)
					}
					laid[other.part] = to
				}
			}
		}
	}
	require.Len(t, laid, len(sheets), "%s: every sheet is joined", m.Channel)

	var x, y []float64
	for _, s := range sheets {
		level, upright := s.axes(t)
		for _, v := range level {
			y = append(y, laid[s.part].y+v)
		}
		for _, v := range upright {
			x = append(x, laid[s.part].x+v)
		}
	}
	require.NotEmpty(t, x, m.Channel)
	require.NotEmpty(t, y, m.Channel)
	require.InDelta(t, slices.Min(x), slices.Max(x), near, "%s: the upright line goes on from sheet to sheet", m.Channel)
	require.InDelta(t, slices.Min(y), slices.Max(y), near, "%s: the level line goes on from sheet to sheet", m.Channel)
	reference := spot{x[0], y[0]}
	found := map[int]bool{}
	for i, h := range j.Plan.Bracket(m.Bracket).Holes {
		want := spot{h[0] * 1000, -h[1] * 1000}
		for _, s := range sheets {
			for _, c := range s.holes {
				at := spot{laid[s.part].x + c.x, laid[s.part].y + c.y}
				if math.Abs(at.x-reference.x-want.x) < near && math.Abs(at.y-reference.y-want.y) < near {
					found[i] = true
					number := s.nearest(c, func(w written) bool {
						return len(w.text) > 0 && w.text[0] >= '0' && w.text[0] <= '9' && w.size > 8 && !strings.Contains(w.text, "100 mm")
					})
					assert.Equal(t, fmt.Sprint(numberOf(j, m, i)), strings.Fields(number.text)[0], "%s: the number beside hole %d", m.Channel, i)
				}
			}
		}
		assert.True(t, found[i], "%s: hole %d at %v from the reference point", m.Channel, i, want)
	}
	along, up := tape.Format(m.Along, j.Plan.Units.System()), tape.Format(m.Up, j.Plan.Units.System())
	for _, s := range sheets {
		var all []string
		for _, w := range s.texts {
			all = append(all, w.text)
		}
		assert.Contains(t, strings.Join(all, " "), "Reference hole at "+along+" along")
		assert.Contains(t, strings.Join(all, " "), " and "+up+" ")
	}
}

// numberOf counts a surface's holes by mounts from left to right.
func numberOf(j paper.Job, m *plan.Mount, hole int) int {
	var mounts []*plan.Mount
	for i := range j.Plan.Mounts {
		if x := &j.Plan.Mounts[i]; x.Surface == m.Surface && x.Bracket != "" {
			mounts = append(mounts, x)
		}
	}
	slices.SortStableFunc(mounts, func(a, b *plan.Mount) int { return cmp.Or(cmp.Compare(a.Along, b.Along), cmp.Compare(a.Up, b.Up)) })
	n := 0
	for _, x := range mounts {
		if x == m {
			return n + hole + 1
		}
		n += len(j.Plan.Bracket(x.Bracket).Holes)
	}
	return 0
}

// Both writers say the same: every text of the sheet is in the PDF, at its place and in
// its size, and nothing else is.
func TestPDF_SaysWhatTheSheetSays(t *testing.T) {
	j := job(t, "demo/plan.json")
	for _, k := range paper.Kinds {
		d, err := j.Document(k.Name, paper.A4, paper.Grids(paper.A4)[0])
		require.NoError(t, err)
		got := pages(t, d)
		require.Len(t, got, len(d.Sheets))
		for i, s := range d.Sheets {
			var want []written
			for _, m := range s.Marks {
				if x, ok := m.(paper.Text); ok {
					b := x.Bounds()
					at := spot{b.X0, x.At.Y}
					if x.Turned {
						at = spot{x.At.X, b.Y1}
					}
					want = append(want, written{at, x.Size, x.Text, x.Turned})
				}
			}
			require.Len(t, got[i].texts, len(want))
			for n, w := range want {
				g := got[i].texts[n]
				assert.Equal(t, w.text, g.text)
				assert.InDelta(t, w.at.x, g.at.x, 0.15, w.text) // the file's widths are thousandths of the size
				assert.InDelta(t, w.at.y, g.at.y, 0.15, w.text)
				assert.InDelta(t, w.size, g.size, 0.001)
				assert.Equal(t, w.turned, g.turned)
			}
		}
	}
}

func TestPDF_SameSheetsSameBytes(t *testing.T) {
	j := job(t, "demo/plan.json")
	var first []byte
	for range 3 {
		file, err := press.PDF("All", j.MarkOut(paper.A4), j.Templates(paper.A4))
		require.NoError(t, err)
		if first != nil {
			assert.True(t, bytes.Equal(first, file))
		}
		first = file
	}
}

func TestPDF_NoSheets(t *testing.T) {
	_, err := press.PDF("Nothing", paper.Document{})
	require.EqualError(t, err, "press: Nothing: it has no sheets, wanted at least one")
}

// A character that the typeface lacks is printed as a box, and the sheet says so.
func TestPDF_LostCharacters(t *testing.T) {
	j := job(t, "plans/example.json")
	j.Plan.Title = "\u05d7\u05d3\u05e8 \U0001f50a room"
	p := pages(t, j.Cables(paper.A4))[0]
	_, ok := p.text("□□□ □ room")
	assert.True(t, ok, p.dump())
	_, ok = p.text("4 characters of names here are not in the typeface of the PDF; there □ stands for each.")
	assert.True(t, ok, p.dump())
}

// The golden files hold each text of each page with its place in millimetres: all paper of
// the small plan, and of the demo's what is drilled by.
func TestPDF_Golden(t *testing.T) {
	for _, d := range []paper.Document{job(t, "demo/plan.json").MarkOut(paper.A4), job(t, "demo/plan.json").Templates(paper.A4)} {
		var got strings.Builder
		for _, p := range pages(t, d) {
			got.WriteString(p.dump())
		}
		golden(t, "demo-"+d.Name+"-a4.txt", got.String())
	}
	j := job(t, "plans/example.json")
	for _, size := range paper.Sizes {
		for _, k := range paper.Kinds {
			d, err := j.Document(k.Name, size, paper.Grids(size)[0])
			require.NoError(t, err)
			var got strings.Builder
			for _, p := range pages(t, d) {
				got.WriteString(p.dump())
			}
			golden(t, k.Name+"-"+size.Name+".txt", got.String())
		}
	}
}

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

// Whatever a name holds, the file can be made and read, and says what the typeface can.
func TestProperty_PDFOfAnyText(t *testing.T) {
	j := job(t, "plans/example.json")
	rapid.Check(t, func(t *rapid.T) {
		j.Plan.Title = rapid.String().Draw(t, "title")
		j.Plan.Mounts[0].Model = strings.Join(rapid.SliceOfN(rapid.SampledFrom([]string{"\\", "(", ")", "\r", "\U0001f50a", "\ufdfd", "\u202e", "é", "\x00", "ﬁ", "\ufeff", "\u0301"}), 0, 20).Draw(t, "model"), "")
		d := j.Cables(paper.Letter)
		file, err := press.PDF(j.Plan.Title, d, j.MarkOut(paper.Letter))
		require.NoError(t, err)
		pages := readPDF(t, file)
		require.Greater(t, len(pages), 1)
		for i, m := range d.Sheets[0].Marks {
			if x, ok := m.(paper.Text); ok {
				want, _ := paper.Printable(x.Text)
				require.True(t, want == "" || slices.ContainsFunc(pages[0].texts, func(w written) bool { return w.text == want }), "mark %d: %q", i, want)
			}
		}
	})
}

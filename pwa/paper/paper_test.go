package paper_test

import (
	"encoding/csv"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist/plan"
	"hangtrue/compute/tape"
	"hangtrue/pwa/markup"
	"hangtrue/pwa/paper"
)

// said is everything a document says, in order.
func said(d paper.Document) string {
	var all []string
	for _, s := range d.Sheets {
		all = append(all, texts(s)...)
	}
	return strings.Join(all, " ")
}

// A hole beside its stud or joist is not said to go into it. The plan's studs are 38 mm wide with one at 0.5808 m, where
// the mount's reference hole is, so that a hole 25 mm aside passes it by 25 - 19 = 6 mm, and one 19 mm aside meets its edge.
func TestMarkOut_HolesBesideTheFraming(t *testing.T) {
	const meets, misses = "stud at 0.581 m", "MISSES the stud at 0.581 m by 6 mm"
	for _, row := range []struct {
		aside  float64
		across bool
		want   string
	}{{0.025, false, misses}, {-0.025, false, misses}, {0.019, false, meets}, {0.025, true, misses}, {-0.019, true, meets}} {
		j := job(t, "plans/attic.json")
		b, hole := j.Plan.Bracket("Wall bracket"), [2]float64{row.aside, 0}
		if row.across {
			hole = [2]float64{0, row.aside}
			j.Plan.MountByChannel("M+030").Up = 0.5808
			for i := range j.Plan.Room.Surfaces {
				if s := &j.Plan.Room.Surfaces[i]; s.Name == "front" {
					s.Construction.Across = true
				}
			}
		}
		b.Holes = [][2]float64{{0, 0}, hole}
		table, err := j.Table("mark-out")
		require.NoError(t, err)
		rows, err := csv.NewReader(strings.NewReader(string(table))).ReadAll()
		require.NoError(t, err)
		assert.Equal(t, "into", rows[0][10])
		assert.Equal(t, meets, rows[1][10])
		assert.Equal(t, row.want, rows[2][10])
		assert.Contains(t, said(j.MarkOut(paper.A4)), row.want)
		assert.Contains(t, said(j.Steps(paper.A4)), "into: "+meets)
	}
}

// What says that nothing is drilled at a bracket's reference point stands nearer to that point than to any hole of it:
// beside a hole it would be read as said of that one.
func TestTemplate_ReferencePointIsNotTakenForAHole(t *testing.T) {
	for _, apart := range []float64{0.02, 0.03, 0.04, 0.0508, 0.07, 0.1} {
		j := job(t, "plans/attic.json")
		b := j.Plan.Bracket("Wall bracket")
		b.LowerEdge = 0.03 // so that one sheet holds it
		b.Holes = [][2]float64{{-apart / 2, 0}, {apart / 2, 0}, {-apart / 2, 0.0762}, {apart / 2, 0.0762}}
		for _, s := range j.Templates(paper.A4).Sheets {
			var low []paper.Point // the two holes beside the reference point, as wide as the pilot hole of 3 mm
			var says []paper.Box
			for _, m := range s.Marks {
				switch x := m.(type) {
				case paper.Circle:
					if math.Abs(x.Radius-1.5) < 1e-9 {
						low = append(low, x.Centre)
					}
				case paper.Text:
					for _, word := range []string{"ref", "not", "drill", "point"} {
						if x.Bold && strings.HasPrefix(x.Text, word) || x.Text == "do not drill" {
							says = append(says, x.Bounds())
							break
						}
					}
				}
			}
			require.Len(t, low, 4)
			if apart < 0.03 { // no room between the holes for a word
				assert.Empty(t, says)
				assert.Contains(t, texts(s), "lines cross: do not drill there")
				continue
			}
			require.NotEmpty(t, says, "%g m", apart)
			point := paper.Point{X: (low[0].X + low[1].X) / 2, Y: (low[0].Y + low[1].Y) / 2}
			for _, text := range says {
				away := func(p paper.Point) float64 {
					return math.Hypot(math.Max(0, math.Max(text.X0-p.X, p.X-text.X1)), math.Max(0, math.Max(text.Y0-p.Y, p.Y-text.Y1)))
				}
				for _, h := range low {
					assert.Less(t, away(point), away(h), "holes %g m apart: %+v", apart, text)
				}
			}
		}
	}
}

// The level line through a reference hole keeps its height on a wall, and on a slope at a side wall the reading along it:
// there up runs level, and along leads uphill.
func TestSteps_LevelLine(t *testing.T) {
	for wall, want := range map[string]string{
		"left": "along 0.700 m from the left wall, along the slope, level within 0.5°", "right": "along 0.700 m from the ceiling, along the slope, level within 0.5°",
		"front": "up 0.900 m from the front wall, along the slope, level within 0.5°", "rear": "out 0.900 m from the ceiling, along the slope, level within 0.5°",
	} {
		j := job(t, "plans/attic.json")
		j.Plan.Room.Shapes = []plan.Shape{{Name: "slope", Kind: plan.Slope, Wall: wall, Knee: 1.4, Reach: 1.2}}
		m := j.Plan.MountByChannel("M+030")
		m.Surface, m.Along, m.Up = "slope", 0.7, 0.9
		assert.Contains(t, strings.ReplaceAll(said(j.Steps(paper.A4)), "  ", " "), want, wall)
		line := map[bool]string{true: "away from the front wall, level", false: "level line"}[wall == "left" || wall == "right"]
		assert.Contains(t, said(j.Templates(paper.A4)), line, wall)
	}
	assert.Contains(t, said(job(t, "plans/attic.json").Steps(paper.A4)), "up 1.200 m from the finished floor, level within 0.5°")
}

// No heading stands at the foot of a sheet with its table on the next: each additional loudspeaker on the floor moves what
// follows down by a row.
func TestMarkOut_HeadingsStandWithTheirTables(t *testing.T) {
	for n := range 45 {
		j := job(t, "plans/attic.json")
		m := plan.Mount{Channel: "M+030", Model: "Front A", Surface: "floor", Along: 1, Up: 1, Stand: 1}
		j.Plan.Listening[0].Name = "the chair by the window that the whole family calls the good one"
		j.Plan.Mounts = nil
		for i := range n + 1 {
			m.Channel = fmt.Sprintf("F%d", i)
			j.Plan.Mounts = append(j.Plan.Mounts, m)
		}
		for _, s := range j.MarkOut(paper.A4).Sheets {
			for _, m := range s.Marks {
				heading, ok := m.(paper.Text)
				if !ok || heading.Size != 11 || !heading.Bold {
					continue
				}
				follows := map[string]string{"Holes": "Along", "Heights and aim, to check once it hangs": "Mount",
					"What the plan knows of this surface": "Behind the face: not known. There may be more than the plan knows: look before drilling."}[heading.Text]
				assert.Contains(t, texts(s), follows, "%d on the floor: %q", n, heading.Text)
			}
		}
	}
}

// A bracket's angles say on paper which way they count: on a wall as one faces it, elsewhere by the tape's coordinates.
func TestMarkOut_WhichWayAnglesCount(t *testing.T) {
	words := said(job(t, "plans/attic.json").MarkOut(paper.A4))
	assert.Contains(t, words, "Azimuth counts + to the left of straight ahead")
	assert.Contains(t, words, "swing counts + to the right and its tilt + up")
	assert.NotContains(t, words, "towards more along")
	j := job(t, "plans/attic.json")
	j.Plan.MountByChannel("M+030").Surface = "ceiling"
	assert.Contains(t, said(j.MarkOut(paper.A4)), "swing counts + towards more along and its tilt + towards more out")
}

// Every hole of every bracket is on the mark-out sheet with the tape's two readings, and
// in the table to the micrometre: the plan's reference hole and the bracket's offset.
func TestMarkOut_EveryHole(t *testing.T) {
	for _, path := range []string{"demo/plan.json", "plans/example.json"} {
		j := job(t, path)
		words := said(j.MarkOut(paper.A4))
		table, err := j.Table("mark-out")
		require.NoError(t, err)
		rows, err := csv.NewReader(strings.NewReader(string(table))).ReadAll()
		require.NoError(t, err)
		for _, m := range j.Plan.Mounts {
			holes := [][2]float64{{0, 0}}
			if b := j.Plan.Bracket(m.Bracket); b != nil {
				holes = b.Holes
			}
			for _, h := range holes {
				along, up := m.Along+h[0], m.Up+h[1]
				assert.Contains(t, words, tape.Format(along, tape.Metric)+" "+tape.Format(up, tape.Metric)+" "+m.Channel)
				found := 0
				for _, r := range rows[1:] {
					a, _ := strconv.ParseFloat(r[5], 64)
					u, _ := strconv.ParseFloat(r[6], 64)
					if r[2] == m.Channel && math.Abs(a-along) < 1e-6 && math.Abs(u-up) < 1e-6 {
						found++
					}
				}
				assert.Equal(t, 1, found, "%s, hole at %v", m.Channel, h)
			}
		}
	}
}

// The cautions stand on the mark-out in full, and defer to local rules.
func TestMarkOut_Cautions(t *testing.T) {
	j := job(t, "demo/plan.json")
	for _, s := range j.MarkOut(paper.A4).Sheets {
		if !strings.HasPrefix(s.Title, "Mark-out: ") || strings.Contains(s.Title, "Floor") {
			continue
		}
		// A surface's first sheet has its drawing.
		words := strings.Join(texts(s), " ")
		if strings.Contains(words, "Scale 1:") {
			for _, id := range []string{"hidden", "power-off", "old-materials", "dust", "eyes", "ladder", "fall", "load"} {
				assert.Contains(t, words, j.Template.Cautions[id].Text, s.Title)
			}
			assert.Contains(t, words, "Local rules decide what may be drilled")
		}
	}
}

// What is to buy, reckoned by hand from testdata/demo/plan.json: 7 wall brackets, of which
// 2 are on studs, and 4 on the ceiling, each with 2 holes; a tenth of 10, 4 and 8 rounded
// up is 1, and the least spare is 2.
func TestShopping_CountsByHand(t *testing.T) {
	table, err := job(t, "demo/plan.json").Table("shopping")
	require.NoError(t, err)
	rows, err := csv.NewReader(strings.NewReader(string(table))).ReadAll()
	require.NoError(t, err)
	got := map[string][]string{}
	for _, r := range rows[1:] {
		got[r[1]] = r[3:7]
	}
	for what, want := range map[string][]string{
		"Wall bracket": {"7", "0", "7", "pieces"}, "Wall plug 8": {"10", "2", "12", "pieces"}, "Stud screw": {"4", "2", "6", "pieces"},
		"Joist screw": {"8", "2", "10", "pieces"}, "Second tether": {"4", "0", "4", "pieces"}, "Front A": {"3", "0", "3", "pieces"},
		"Height A": {"4", "0", "4", "pieces"}, "Line cable": {"10", "2", "12", "m"}, "Amplifier 7": {"1", "0", "1", "pieces"},
	} {
		assert.Equal(t, want, got[what], what)
	}
}

// A cable's label says on both ends what the cable list says.
func TestLabels_BothEnds(t *testing.T) {
	j := job(t, "demo/plan.json")
	d, err := j.Labels(paper.A4, paper.Grids(paper.A4)[0])
	require.NoError(t, err)
	words := said(d)
	table, err := j.Table("cables")
	require.NoError(t, err)
	rows, err := csv.NewReader(strings.NewReader(string(table))).ReadAll()
	require.NoError(t, err)
	require.Len(t, rows, 1+len(j.Plan.Mounts))
	for _, r := range rows[1:] {
		assert.Contains(t, words, fmt.Sprintf("%s %s at %s to %s", r[0], r[1], r[2], r[3]))
		assert.Contains(t, words, fmt.Sprintf("%s %s at %s from %s", r[0], r[1], r[3], r[2]))
	}
	for _, size := range paper.Sizes {
		for _, g := range paper.Grids(size) {
			_, err := j.Labels(size, g)
			assert.NoError(t, err, g.Describes)
		}
	}
}

// Labels that were used up are left out, and nothing else moves.
func TestLabels_Skip(t *testing.T) {
	j := job(t, "plans/example.json")
	g := paper.Grids(paper.A4)[1]
	d, err := j.Labels(paper.A4, g)
	require.NoError(t, err)
	g.Skip = 4 // a row of three, and one
	e, err := j.Labels(paper.A4, g)
	require.NoError(t, err)
	a, b := d.Sheets[0].Marks[0].(paper.Text), e.Sheets[0].Marks[0].(paper.Text)
	assert.Equal(t, a.Text, b.Text)
	assert.InDelta(t, 5, a.At.X, 0.01, "5 mm from the paper's edge, which printers leave")
	assert.InDelta(t, g.Width+2, b.At.X, 0.01, "2 mm from the label's edge")
	assert.Greater(t, b.At.Y, a.At.Y+30)
}

func TestGrid_Check(t *testing.T) {
	good := paper.Grid{Columns: 3, Rows: 8, Width: 70, Height: 37}
	require.NoError(t, good.Check(paper.A4))
	for want, change := range map[string]func(*paper.Grid){
		"paper: label grid: columns: read 0, want 1 to 30":                                        func(g *paper.Grid) { g.Columns = 0 },
		"paper: label grid: rows: read 31, want 1 to 30":                                          func(g *paper.Grid) { g.Rows = 31 },
		"paper: label grid: width: read 3 mm, want 15 to 210 mm":                                  func(g *paper.Grid) { g.Width = 3 },
		"paper: label grid: height: read NaN mm, want 8 to 297 mm":                                func(g *paper.Grid) { g.Height = math.NaN() },
		"paper: label grid: left: read -1 mm, want 0 to 210 mm":                                   func(g *paper.Grid) { g.Left = -1 },
		"paper: label grid: columns: read 3 that come to 214 mm, want at most the paper's 210 mm": func(g *paper.Grid) { g.Across = 2 },
		"paper: label grid: rows: read 8 that come to 306 mm, want at most the paper's 297 mm":    func(g *paper.Grid) { g.Top = 10 },
		"paper: label grid: skip: read 24, want 0 to 23":                                          func(g *paper.Grid) { g.Skip = 24 },
	} {
		g := good
		change(&g)
		require.EqualError(t, g.Check(paper.A4), want)
	}
}

// Every step that the template has for a mount stands on its sheet, with its cautions, and
// nothing that would open a hold point.
func TestSteps_AllOfThem(t *testing.T) {
	j := job(t, "demo/plan.json")
	words := said(j.Steps(paper.A4))
	for _, step := range j.Template.Steps {
		assert.Contains(t, words, " "+step.Title+" ")
		for _, id := range step.Cautions {
			assert.Contains(t, words, "Caution: "+j.Template.Cautions[id].Text)
		}
		for _, f := range step.Fields {
			assert.Contains(t, words, f.Label)
			for _, o := range f.Options {
				assert.Contains(t, words, o.Label)
			}
		}
	}
	assert.Contains(t, words, "bit 3.5 mm")
	assert.Contains(t, words, "links: fitted: the side drivers play along with the front drivers; the amplifier then sees 4 ohm")
}

// RFC 4180: lines end with CR LF, a field with a comma, a quote or a break is quoted and
// its quotes doubled. A name that a spreadsheet would run as a formula does not begin with
// what makes it one.
func TestCSV_Quoting(t *testing.T) {
	j := job(t, "plans/example.json")
	j.Plan.Models[0].Name, j.Plan.Mounts[0].Model, j.Plan.Mounts[1].Model = `=cmd|' /C calc'!A0`, `=cmd|' /C calc'!A0`, `a "b", c`
	for _, start := range []string{"=1", "+1", "-1", "@x", " =1", "\t=1", "\r=1", "＝1"} {
		j.Plan.Mounts[0].Fixing = start
		table, err := j.Table("mark-out")
		require.NoError(t, err)
		assert.Equal(t, strings.Count(string(table), "\n"), strings.Count(string(table), "\r\n"))
		assert.Contains(t, string(table), `,"a ""b"", c",`)
		rows, err := csv.NewReader(strings.NewReader(string(table))).ReadAll()
		require.NoError(t, err)
		for _, r := range rows {
			for _, f := range r {
				if _, err := strconv.ParseFloat(f, 64); err != nil {
					assert.NotRegexp(t, `^\s*[=+\-@＝＋－＠]`, f)
				}
			}
		}
	}
}

// The SVG is well-formed XML in true size, whatever a name holds.
func TestProperty_SVGIsXML(t *testing.T) {
	j := job(t, "plans/example.json")
	rapid.Check(t, func(t *rapid.T) {
		j.Plan.Mounts[0].Channel, j.Plan.Title = name(60).Draw(t, "channel"), name(120).Draw(t, "title")
		s := j.MarkOut(paper.Letter).Sheets[0]
		text := markup.String(s.SVG())
		assert.Contains(t, text, `width="215.9mm" height="279.4mm" viewBox="0 0 215.9 279.4"`)
		d := xml.NewDecoder(strings.NewReader(text))
		for {
			if _, err := d.Token(); errors.Is(err, io.EOF) {
				return
			} else if err != nil {
				t.Fatal(err)
			}
		}
	})
}

// An unfinished plan is printed as far as it goes.
func TestJob_UnfinishedPlan(t *testing.T) {
	j := job(t, "demo/plan.json")
	j.Draft = true
	j.Plan.Mounts[0].Surface, j.Plan.Mounts[1].Cable, j.Plan.Room.Box.Height = "nowhere", "none", 0
	for _, d := range all(t, j, paper.A4) {
		sound(t, d, paper.A4)
	}
	empty := paper.Job{Plan: &plan.Plan{}, Template: j.Template, Draft: true}
	for _, d := range all(t, empty, paper.Letter) {
		sound(t, d, paper.Letter)
	}
}

func TestJob_UnknownKind(t *testing.T) {
	_, err := job(t, "plans/example.json").Document("poster", paper.A4, paper.Grid{})
	require.ErrorIs(t, err, paper.ErrUnknown)
	_, err = job(t, "plans/example.json").Table("template")
	require.EqualError(t, err, `paper: there is no such paper: "template" as a table`)
}

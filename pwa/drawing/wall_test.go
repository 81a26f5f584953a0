package drawing_test

import (
	"encoding/xml"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/compute/place"
	"hangtrue/pwa/drawing"
	"hangtrue/pwa/markup"
)

var update = flag.Bool("update", false, "write the golden drawings anew")

func demo(t require.TestingT) *plan.Plan {
	data, err := os.ReadFile("../../testdata/demo/plan.json")
	require.NoError(t, err)
	p, err := plan.Decode(data)
	require.NoError(t, err)
	return p
}

func svg(t require.TestingT, w drawing.Wall) string {
	node, ok := w.SVG()
	require.True(t, ok)
	return markup.String(node)
}

func zone(t require.TestingT, p *plan.Plan, channel string) place.Outline {
	z, err := judge.Zone(p, channel)
	require.NoError(t, err)
	outline, err := z.Outline()
	require.NoError(t, err)
	return outline
}

// goldens are the drawings that are kept and reviewed like code.
func goldens(t require.TestingT, p *plan.Plan) map[string]drawing.Wall {
	walls := map[string]drawing.Wall{
		"front-asked":    {Channel: "M+000", Surface: "front", Draft: &drawing.Spot{Along: 2.45, Up: 1.218}},
		"left-asked":     {Channel: "M+090", Surface: "left", Built: map[string]drawing.Spot{"M+090": {Along: 2.349, Up: 1.196, Outcome: "outside"}, "M+135": {Along: 0.707, Up: 1.201, Outcome: "within"}}},
		"right-slip":     {Channel: "M-135", Surface: "right", Draft: &drawing.Spot{Along: 5.933, Up: 1.2}},
		"ceiling-asked":  {Channel: "U-045", Surface: "ceiling", Built: map[string]drawing.Spot{"U-045": {Along: 3.452, Up: 2.355, Outcome: "outside"}, "U+045": {Along: 1.451, Up: 2.31, Outcome: "unsure"}}},
		"right-conceded": {Channel: "M-090", Surface: "right", Built: map[string]drawing.Spot{"M-090": {Along: 3.809, Up: 1.2, Outcome: "conceded"}}},
		"slope-asked":    {Channel: "U+135", Surface: "slope"},
		"left-zone":      {Channel: "M+135", Surface: "left", Found: []float64{0.74}, Zone: zone(t, p, "M+135"), Others: []place.Spot{{Along: 0.738, Up: 1.2}, {Along: 1.3, Up: 1.1}}},
		"ceiling-zone":   {Channel: "U+045", Surface: "ceiling", Zone: zone(t, p, "U+045")},
		"floor-zone":     {Channel: "LFE1", Surface: "floor", Zone: zone(t, p, "LFE1")},
		"floor-standing": {Channel: "LFE1", Surface: "floor", Draft: &drawing.Spot{Along: 0.4, Up: 5.3}},
	}
	for _, name := range []string{"front", "left", "ceiling"} {
		walls[name+"-running"] = drawing.Wall{Surface: name, Dimensions: drawing.Running}
	}
	for _, name := range []string{"front", "slope"} {
		walls[name+"-baseline"] = drawing.Wall{Surface: name, Dimensions: drawing.Baseline}
	}
	walls["ceiling-paper"] = drawing.Wall{Surface: "ceiling", Dimensions: drawing.Baseline, Width: 640}
	walls["left-handles"] = drawing.Wall{Surface: "left", Channel: "M+090", Handles: true}
	for _, name := range []string{"front", "right", "rear", "left", "ceiling", "floor", "slope", "breast face", "breast left cheek"} {
		walls[strings.ReplaceAll(name, " ", "-")] = drawing.Wall{Surface: name}
	}
	for name, w := range walls {
		w.Plan = p
		walls[name] = w
	}
	return walls
}

func TestWall_SVG_Golden(t *testing.T) {
	for name, w := range goldens(t, demo(t)) {
		t.Run(name, func(t *testing.T) {
			got := strings.ReplaceAll(svg(t, w), "><", ">\n<") + "\n"
			path := filepath.Join("testdata", name+".svg")
			if *update {
				require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
			}
			want, err := os.ReadFile(path)
			require.NoError(t, err)
			assert.Equal(t, string(want), got, "run go test ./pwa/drawing -update and read the difference")
		})
	}
}

func TestWall_SVG_NoSuchSurface(t *testing.T) {
	for _, w := range []drawing.Wall{{}, {Plan: demo(t)}, {Plan: demo(t), Surface: "cellar"}} {
		_, ok := w.SVG()
		assert.False(t, ok)
	}
}

// element is what the tests read of an SVG element.
type element struct {
	name  string
	attrs map[string]string
	text  string
}

func (e element) num(t require.TestingT, key string) float64 {
	x, err := strconv.ParseFloat(e.attrs[key], 64)
	require.NoError(t, err, "%s %s=%q", e.name, key, e.attrs[key])
	return x
}

// parse reads a drawing with a parser of its own, which also shows that it is
// well-formed XML.
func parse(t require.TestingT, drawn string) []element {
	var all []element
	var open []int
	for d := xml.NewDecoder(strings.NewReader(drawn)); ; {
		token, err := d.Token()
		if err == io.EOF {
			return all
		}
		require.NoError(t, err)
		switch token := token.(type) {
		case xml.StartElement:
			e := element{name: token.Name.Local, attrs: map[string]string{}}
			for _, a := range token.Attr {
				e.attrs[a.Name.Local] = a.Value
			}
			open = append(open, len(all))
			all = append(all, e)
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if n := len(open); n > 0 {
				all[open[n-1]].text += string(token)
			}
		}
	}
}

type rectangle struct{ x0, y0, x1, y1 float64 }

// advances are how far DejaVu Sans goes on for a character, in parts of its size, read
// from the font's hmtx table and rounded up to hundredths. It is among the wide ones
// that a browser takes for "system-ui".
var advances = func() map[rune]float64 {
	all := map[rune]float64{}
	for set, w := range map[string]float64{
		"'ijl": 0.28, "IJ": 0.30, " ,.·": 0.32, "/:;|": 0.34, "f": 0.36, "-": 0.37, "()[]t": 0.40, "!": 0.41, "r": 0.42, "\"": 0.46,
		"*_°": 0.50, "sz": 0.53, "?": 0.54, "c": 0.55, "L": 0.56, "Fk": 0.58, "vxy": 0.60, "P": 0.61, "TYaeo": 0.62,
		"$0123456789ESbdghnpquß": 0.64, "K": 0.66, "ABVXZ": 0.69, "CR": 0.70, "U": 0.74, "N": 0.75, "H": 0.76, "D": 0.77, "&G": 0.78, "OQ": 0.79,
		"w": 0.82, "#+<=>~±→×": 0.84, "M": 0.87, "%": 0.96, "m": 0.98, "W": 0.99, "@…": 1,
	} {
		for _, r := range set {
			all[r] = w
		}
	}
	return all
}()

func advance(r rune) float64 {
	if w, ok := advances[r]; ok {
		return w
	}
	return 1
}

// textBox is where a text stands.
func textBox(t require.TestingT, e element) rectangle {
	x, y, size := e.num(t, "x"), e.num(t, "y"), e.num(t, "font-size")
	w := 0.0
	for _, r := range e.text {
		w += size * advance(r)
	}
	r := rectangle{x, y - 0.75*size, x + w, y + 0.2*size}
	switch e.attrs["text-anchor"] {
	case "middle":
		r.x0, r.x1 = x-w/2, x+w/2
	case "end":
		r.x0, r.x1 = x-w, x
	}
	if strings.HasPrefix(e.attrs["transform"], "rotate(-90") {
		require.Equal(t, "middle", e.attrs["text-anchor"])
		r = rectangle{x - 0.75*size, y - w/2, x + 0.2*size, y + w/2}
	}
	return r
}

func texts(all []element) []element {
	var out []element
	for _, e := range all {
		if e.name == "text" {
			out = append(out, e)
		}
	}
	return out
}

func TestWall_SVG_LabelsDoNotOverlap(t *testing.T) {
	for name, w := range goldens(t, demo(t)) {
		t.Run(name, func(t *testing.T) {
			apart(t, parse(t, svg(t, w)))
		})
	}
}

// apart wants texts, and no two of them on top of each other.
func apart(t require.TestingT, all []element) {
	all = texts(all)
	require.NotEmpty(t, all)
	for i, a := range all {
		p := textBox(t, a)
		for _, b := range all[:i] {
			q := textBox(t, b)
			require.False(t, p.x0 < q.x1 && q.x0 < p.x1 && p.y0 < q.y1 && q.y0 < p.y1, "%q covers %q", a.text, b.text)
		}
	}
}

// A small phone is 360 pixels wide; 12 pixels is what can still be read.
func TestWall_SVG_TextsAreLegible(t *testing.T) {
	for name, w := range goldens(t, demo(t)) {
		all := parse(t, svg(t, w))
		var width float64
		_, err := fmt.Sscanf(all[0].attrs["viewBox"], "0 0 %f", &width)
		require.NoError(t, err)
		for _, e := range texts(all) {
			shown := 360.0
			if w.Width > 0 {
				shown = 180 / 25.4 * 96 // on paper with margins of 15 mm
			}
			assert.GreaterOrEqual(t, e.num(t, "font-size")*shown/width, 12.0, "%s: %q", name, e.text)
		}
	}
}

// Every mount, opening and keep-out of the plan is named in the drawing of its
// surface and in its description.
func TestWall_SVG_NamesEverything(t *testing.T) {
	p := demo(t)
	for _, s := range p.Room.Surfaces {
		all := parse(t, svg(t, drawing.Wall{Plan: p, Surface: s.Name}))
		var drawn, described string
		for _, e := range all {
			switch e.name {
			case "text":
				drawn += e.text + " "
			case "desc":
				described = e.text
			}
		}
		var names []string
		for _, a := range append(s.Openings, s.KeepOuts...) {
			names = append(names, a.Name)
		}
		for _, m := range p.Mounts {
			if m.Surface == s.Name {
				names = append(names, m.Channel)
			}
		}
		for _, name := range names {
			assert.Contains(t, described, name, s.Name)
			assert.Contains(t, drawn, name, s.Name)
		}
	}
}

// What a shape takes of a wall is drawn to scale and named, as what is not there.
func TestWall_SVG_Cuts(t *testing.T) {
	data, err := os.ReadFile("../../testdata/plans/attic.json")
	require.NoError(t, err)
	p, err := plan.Decode(data)
	require.NoError(t, err)
	for surface, want := range map[string]struct {
		name, says string
		share      float64 // of the wall's width
	}{
		"left":  {"breast", "Not there: breast, 1.400 m to 2.600 m along, 0.000 m to 2.400 m up.", 1.2 / 4.2},
		"right": {"niche", "Not there: niche, 1.500 m to 2.400 m along, 0.800 m to 1.900 m up.", 0.9 / 4.2},
	} {
		all := parse(t, svg(t, drawing.Wall{Plan: p, Surface: surface}))
		width := map[string]float64{}
		var drawn, described string
		for _, e := range all {
			switch e.name {
			case "text":
				drawn += e.text + " "
			case "desc":
				described = e.text
			case "polygon":
				low, high := math.Inf(1), math.Inf(-1)
				for _, pair := range strings.Fields(e.attrs["points"]) {
					x, err := strconv.ParseFloat(strings.Split(pair, ",")[0], 64)
					require.NoError(t, err)
					low, high = math.Min(low, x), math.Max(high, x)
				}
				width[e.attrs["class"]] = high - low
			}
		}
		assert.Contains(t, drawn, want.name, surface)
		assert.Contains(t, described, want.says, surface)
		assert.InDelta(t, want.share, width["gone"]/width["outline"], 0.005, surface)
	}
}

// The reference hole is drawn where the tape says, to the scale of the outline:
// the sides of the room give the scale, without the package's own arithmetic.
// Where the name of an area does not fit into it, it stands beside it: cut to a letter or two it names nothing. The
// chimney breast takes a strip of 380 mm off a ceiling that is drawn 5 m high.
func TestWall_SVG_NamesNarrowAreasInFull(t *testing.T) {
	p := demo(t)
	p.Room = plan.Room{Box: &plan.Box{Width: 3.86, Length: 5.12, Height: 2.45}, Shapes: []plan.Shape{
		{Name: "slope", Kind: plan.Slope, Wall: "left", Knee: 1.1, Reach: 1.25},
		{Name: "chimney breast", Kind: plan.Breast, Wall: "right", Along: 1.9, Width: 1.15, Depth: 0.38}}}
	p.Mounts = nil
	drawn := svg(t, drawing.Wall{Plan: p, Surface: "ceiling"})
	var names []string
	for _, e := range texts(parse(t, drawn)) {
		assert.NotContains(t, e.text, "…")
		names = append(names, e.text)
	}
	assert.Contains(t, strings.Join(names, " "), "chimney breast")
}

func TestWall_SVG_ToScale(t *testing.T) {
	p := demo(t)
	all := parse(t, svg(t, drawing.Wall{Plan: p, Surface: "left", Channel: "M+090"}))
	var outline []float64
	var cross []element
	for _, e := range all {
		if e.name == "polygon" && e.attrs["class"] == "outline" && outline == nil {
			for _, n := range regexp.MustCompile(`[-0-9.]+`).FindAllString(e.attrs["points"], -1) {
				x, err := strconv.ParseFloat(n, 64)
				require.NoError(t, err)
				outline = append(outline, x)
			}
		}
		if e.name == "line" && e.attrs["class"] == "target" {
			cross = append(cross, e)
		}
	}
	require.Len(t, outline, 8)
	require.GreaterOrEqual(t, len(cross), 2)
	x0, y1, x1, y0 := outline[0], outline[1], outline[4], outline[5]
	assert.InDelta(t, 6.1/2.5, (x1-x0)/(y1-y0), 0.005, "the wall is 6.1 m by 2.5 m")
	assert.InDelta(t, 2.331/6.1, (cross[1].num(t, "x1")-x0)/(x1-x0), 0.001, "2.331 m along")
	assert.InDelta(t, 1.2/2.5, (y1-cross[0].num(t, "y1"))/(y1-y0), 0.001, "1.200 m up")
}

// The zone is drawn to the scale of the outline in the elevation, and to that of
// the bracket's holes, 100 mm apart, in the detail.
func TestWall_SVG_ZoneToScale(t *testing.T) {
	p := demo(t)
	w := drawing.Wall{Plan: p, Surface: "left", Channel: "M+090", Zone: zone(t, p, "M+090"), Others: []place.Spot{{Along: 2.361, Up: 1.205}, {Along: 4, Up: 1}}}
	low, high := place.Spot{Along: 9, Up: 9}, place.Spot{}
	for _, s := range w.Zone[0] {
		low = place.Spot{Along: math.Min(low.Along, s.Along), Up: math.Min(low.Up, s.Up)}
		high = place.Spot{Along: math.Max(high.Along, s.Along), Up: math.Max(high.Up, s.Up)}
	}
	drawn := svg(t, w)
	var wall float64
	var shaded [][]float64
	var holes, others []element
	for _, e := range parse(t, drawn) {
		switch e.attrs["class"] {
		case "outline":
			if e.name == "polygon" && wall == 0 {
				var x0, y, x1 float64
				_, err := fmt.Sscanf(e.attrs["points"], "%f,%f %f,", &x0, &y, &x1)
				require.NoError(t, err)
				wall = x1 - x0
			}
		case "zone":
			var numbers []float64
			for _, n := range regexp.MustCompile(`[-0-9.]+`).FindAllString(e.attrs["d"], -1) {
				x, err := strconv.ParseFloat(n, 64)
				require.NoError(t, err)
				numbers = append(numbers, x)
			}
			shaded = append(shaded, numbers)
		case "hole":
			holes = append(holes, e)
		case "other":
			others = append(others, e)
		}
	}
	require.Len(t, shaded, 2, "in the elevation and in the detail")
	size := func(numbers []float64) (w, h float64) {
		x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
		for i := 0; i < len(numbers); i += 2 {
			x0, x1 = math.Min(x0, numbers[i]), math.Max(x1, numbers[i])
			y0, y1 = math.Min(y0, numbers[i+1]), math.Max(y1, numbers[i+1])
		}
		return x1 - x0, y1 - y0
	}
	wide, tall := size(shaded[0])
	assert.InDelta(t, (high.Along-low.Along)*wall/6.1, wide, 0.15, "6.1 m of wall")
	assert.InDelta(t, (high.Up-low.Up)*wall/6.1, tall, 0.15)
	scale := (holes[1].num(t, "cy") - holes[0].num(t, "cy")) / 0.1
	wide, tall = size(shaded[1])
	assert.InDelta(t, (high.Along-low.Along)*scale, wide, 0.3)
	assert.InDelta(t, (high.Up-low.Up)*scale, tall, 0.3)
	require.Len(t, others, 2, "the one at the mark stands in the detail only, the far one in the elevation only")
	assert.InDelta(t, (4-2.331)*wall/6.1, others[0].num(t, "cx")-(46+2.331*wall/6.1), 0.15)
	assert.InDelta(t, 0.03*scale, others[1].num(t, "cx")-holes[0].num(t, "cx"), 0.15)
	assert.Contains(t, drawn, "The reference hole of M+090 may go into the shaded zone, which lies from ")
	assert.Contains(t, drawn, "Other spot 2: 4.000 m along, 1.000 m up.")
	w.Channel = ""
	assert.NotContains(t, svg(t, w), "zone", "no mount in question, no zone")
}

// Where a spot off plan was conceded the second hole is drawn below it, not below
// the plan's: 100 mm by the bracket's own pattern.
func TestWall_SVG_HolesFollowAConcession(t *testing.T) {
	p := demo(t)
	holes := func(w drawing.Wall) (at []float64) {
		for _, e := range parse(t, svg(t, w)) {
			if e.attrs["class"] == "hole" {
				at = append(at, e.num(t, "cx"), e.num(t, "cy"))
			}
		}
		return at
	}
	planned := holes(drawing.Wall{Plan: p, Surface: "left", Channel: "M+090"})
	w := drawing.Wall{Plan: p, Surface: "left", Channel: "M+090", Built: map[string]drawing.Spot{"M+090": {Along: 2.371, Up: 1.2, Outcome: "outside"}}}
	require.Len(t, planned, 4)
	moved := holes(w)
	require.Len(t, moved, 4)
	assert.Equal(t, []float64{planned[0], planned[2]}, []float64{moved[0], moved[2]}, "what is outside goes back to the plan")
	assert.Contains(t, svg(t, w), `class="move"`)
	w.Built["M+090"] = drawing.Spot{Along: 2.371, Up: 1.2, Outcome: "conceded"}
	drawn := svg(t, w)
	assert.NotContains(t, drawn, `class="move"`)
	var cross float64
	for _, e := range parse(t, drawn) {
		if e.name == "line" && e.attrs["class"] == "target" && e.attrs["x1"] == e.attrs["x2"] {
			cross = e.num(t, "x1") // the last one is the detail's
		}
	}
	at := holes(w)
	require.Len(t, at, 4)
	scale := (at[3] - at[1]) / 0.1 // sheet units to the metre, by the hole 100 mm below
	assert.InDelta(t, 0.04*scale, at[0]-cross, 0.2, "40 mm to the right of the plan's spot")
	assert.InDelta(t, at[0], at[2], 1e-9)
}

// Each hole of the demo's front wall and ceiling has its dimension from the datum.
// The numbers are the plan's own: the holes of the wall bracket lie 0 and 100 mm below
// the reference hole, those of the ceiling bracket 40 mm to either side of it.
func TestWall_SVG_Dimensions(t *testing.T) {
	p := demo(t)
	for _, row := range []struct {
		surface string
		along   map[string]float64
		up      map[string]float64
	}{
		{"front", map[string]float64{"0.330 m": 0.33, "2.450 m": 2.45, "4.570 m": 4.57}, map[string]float64{"1.200 m": 1.2, "1.100 m": 1.1}},
		{"ceiling", map[string]float64{"1.410 m": 1.41, "1.450 m": 1.45, "1.490 m": 1.49, "3.410 m": 3.41, "3.450 m": 3.45, "3.490 m": 3.49}, map[string]float64{"2.310 m": 2.31}},
	} {
		for style, dimensions := range map[string]*drawing.Dimensions{"running": drawing.Running, "baseline": drawing.Baseline} {
			for _, width := range []float64{0, 640} {
				all := parse(t, svg(t, drawing.Wall{Plan: p, Surface: row.surface, Dimensions: dimensions, Width: width, Handles: true}))
				var scale, x0, y0 float64
				_, err := fmt.Sscanf(all[0].attrs["data-zero"]+" "+all[0].attrs["data-per-metre"], "%f %f %f", &x0, &y0, &scale)
				require.NoError(t, err)
				var read []string
				ends := map[string][]float64{} // where extension lines come to
				for _, e := range all {
					switch {
					case e.attrs["class"] == "reading":
						read = append(read, e.text)
					case e.attrs["class"] == "extension" && e.attrs["x1"] == e.attrs["x2"]:
						ends["along"] = append(ends["along"], (e.num(t, "x1")-x0)/scale)
					case e.attrs["class"] == "extension":
						ends["up"] = append(ends["up"], (y0-e.num(t, "y1"))/scale)
					}
				}
				var want []string
				for way, numbers := range map[string]map[string]float64{"along": row.along, "up": row.up} {
					for text, at := range numbers {
						want = append(want, text)
						assert.Condition(t, func() bool {
							return slices.ContainsFunc(ends[way], func(x float64) bool { return math.Abs(x-at) < 0.11/scale })
						}, "%s %s %v: an extension line at %s", row.surface, style, width, text)
					}
				}
				assert.ElementsMatch(t, want, read, "%s %s", row.surface, style)
			}
		}
	}
}

// A pointer that goes from one mark to another has gone as far as the plan says.
func TestWall_SVG_Handles(t *testing.T) {
	p := demo(t)
	all := parse(t, svg(t, drawing.Wall{Plan: p, Surface: "left", Channel: "M+090", Handles: true}))
	assert.Equal(t, []string{"along", "up"}, []string{all[0].attrs["data-right"], all[0].attrs["data-up"]})
	at := map[string][2]float64{}
	for i, e := range all {
		if channel := e.attrs["data-drag"]; channel != "" {
			for _, e := range all[i:] {
				if e.attrs["class"] == "handle" {
					at[channel] = [2]float64{e.num(t, "cx"), e.num(t, "cy")}
					assert.GreaterOrEqual(t, 2*e.num(t, "r")*328/360, 44.0, "on a phone of 360 pixels with margins of 16 (WCAG 2.2, 2.5.5)")
					break
				}
			}
		}
	}
	require.Len(t, at, 2)
	scale := all[0].num(t, "data-per-metre")
	assert.InDelta(t, 2.331-0.707, (at["M+090"][0]-at["M+135"][0])/scale, 0.1/scale)
	assert.InDelta(t, at["M+090"][1], at["M+135"][1], 1e-9, "both 1.200 m up")
	var x0, y0 float64
	_, err := fmt.Sscanf(all[0].attrs["data-zero"], "%f %f", &x0, &y0)
	require.NoError(t, err)
	assert.InDelta(t, 2.331, (at["M+090"][0]-x0)/scale, 0.1/scale)
	assert.InDelta(t, 1.2, (y0-at["M+090"][1])/scale, 0.1/scale)
	assert.NotContains(t, svg(t, drawing.Wall{Plan: p, Surface: "left"}), "data-")
}

// No verdict is told by colour alone: each has a shape of its own.
func TestWall_SVG_VerdictsDifferInShape(t *testing.T) {
	p := demo(t)
	shapes := map[string]string{}
	for _, outcome := range []string{"within", "outside", "unsure", "conceded", ""} {
		w := drawing.Wall{Plan: p, Surface: "front", Built: map[string]drawing.Spot{"M+030": {Along: 0.33, Up: 1.2, Outcome: outcome}}}
		for _, e := range parse(t, svg(t, w)) {
			if strings.HasPrefix(e.attrs["class"], "spot") {
				shapes[outcome] += fmt.Sprint(e.name, strings.Count(e.attrs["points"], ","))
			}
		}
		if outcome != "" {
			assert.Contains(t, svg(t, w), ">"+outcome+"</text>")
		}
	}
	assert.Equal(t, map[string]string{"within": "circle0", "outside": "polygon4", "unsure": "rect0", "conceded": "polygon3", "": "circle0circle0"}, shapes)
}

// Whatever the plan and the readings, all coordinates are finite and in the
// picture, the document is well formed and foreign text stays text.
func TestWall_SVG_Properties(t *testing.T) {
	names := []string{`<img src=x onerror=alert(1)>`, `"quoted" & 'single'`, "a very long name that goes on and on until no wall of any room could hold it in one line", "ß", "配管"}
	rapid.Check(t, func(t *rapid.T) {
		p := demo(t)
		wide, tall := rapid.Float64Range(0.3, 20).Draw(t, "wide"), rapid.Float64Range(0.3, 8).Draw(t, "tall")
		p.Room.Box = &plan.Box{Width: wide, Length: 5, Height: tall}
		s := plan.Surface{Name: "front", Construction: plan.Construction{
			Kind: rapid.SampledFrom([]string{"studs", "masonry", "other"}).Draw(t, "kind"), Spacing: rapid.Float64Range(0.2, 1).Draw(t, "spacing"),
			Width: 0.04, Across: rapid.Bool().Draw(t, "across")}}
		w := drawing.Wall{Plan: p, Surface: "front", Built: map[string]drawing.Spot{}}
		w.Dimensions = rapid.SampledFrom([]*drawing.Dimensions{nil, drawing.Running, drawing.Baseline}).Draw(t, "dimensions")
		w.Width, w.Handles = rapid.SampledFrom([]float64{0, -1, 640, math.NaN(), math.Inf(1)}).Draw(t, "sheet"), rapid.Bool().Draw(t, "handles")
		for i := range rapid.IntRange(0, 5).Draw(t, "areas") {
			a := plan.Area{Name: rapid.SampledFrom(names).Draw(t, "name"), Along: rapid.Float64Range(0, wide).Draw(t, "a"), Up: rapid.Float64Range(0, tall).Draw(t, "u"), Width: rapid.Float64Range(0.01, 3).Draw(t, "w"), Height: rapid.Float64Range(0.01, 3).Draw(t, "h"), Clearance: 0.05}
			if i%2 == 0 {
				s.Openings = append(s.Openings, a)
			} else {
				s.KeepOuts = append(s.KeepOuts, a)
			}
		}
		p.Room.Surfaces = []plan.Surface{s}
		for i := range p.Mounts {
			m := &p.Mounts[i]
			m.Surface, m.Along, m.Up = "front", rapid.Float64Range(0, wide).Draw(t, "along"), rapid.Float64Range(0, tall).Draw(t, "up")
			m.Bracket = rapid.SampledFrom([]string{"Wall bracket", "Ceiling bracket", ""}).Draw(t, "bracket")
			if rapid.Bool().Draw(t, "built") {
				w.Built[m.Channel] = drawing.Spot{Along: rapid.Float64Range(-1, 100).Draw(t, "built along"), Up: rapid.Float64Range(-1, 100).Draw(t, "built up"), Outcome: rapid.SampledFrom([]string{"within", "outside", "unsure", "conceded", ""}).Draw(t, "outcome")}
			}
		}
		p.Mounts[0].Channel = names[0]
		w.Channel = rapid.SampledFrom([]string{"", names[0], p.Mounts[1].Channel}).Draw(t, "asked")
		if rapid.Bool().Draw(t, "draft") {
			off := rapid.SampledFrom([]float64{0, 0.003, 0.04, -0.5, 100, math.Inf(1), math.NaN()}).Draw(t, "off")
			w.Draft = &drawing.Spot{Along: p.Mounts[1].Along + off, Up: p.Mounts[1].Up - off}
		}
		number := rapid.SampledFrom([]float64{-3, 0, 0.5, 1, 7, 30, math.NaN(), math.Inf(-1)})
		for range rapid.IntRange(0, 3).Draw(t, "rings") {
			var ring []place.Spot
			for range rapid.IntRange(0, 6).Draw(t, "corners") {
				ring = append(ring, place.Spot{Along: number.Draw(t, "zone along"), Up: number.Draw(t, "zone up")})
			}
			w.Zone = append(w.Zone, ring)
		}
		for range rapid.IntRange(0, 3).Draw(t, "others") {
			w.Found = append(w.Found, number.Draw(t, "found"))
			w.Others = append(w.Others, place.Spot{Along: number.Draw(t, "other along"), Up: number.Draw(t, "other up")})
		}
		drawn := svg(t, w)
		sound(t, drawn)
	})
}

// sound wants a drawing whose coordinates are numbers on the sheet, without texts on
// top of each other, too small to read, or read as markup.
func sound(t require.TestingT, drawn string) []element {
	for _, never := range []string{"<img", "style=", "NaN", "Inf"} {
		require.NotContains(t, drawn, never)
	}
	all := parse(t, drawn)
	apart(t, all)
	var width, height float64
	_, err := fmt.Sscanf(all[0].attrs["viewBox"], "0 0 %f %f", &width, &height)
	require.NoError(t, err)
	for _, e := range all {
		for key, across := range coordinates {
			if _, ok := e.attrs[key]; !ok {
				continue
			}
			most := height
			if across {
				most = width
			}
			x := e.num(t, key)
			require.GreaterOrEqual(t, x, 0.0, "%s %v", e.name, e.attrs)
			require.LessOrEqual(t, x, most, "%s %v", e.name, e.attrs)
		}
		for i, n := range numbers.FindAllString(e.attrs["points"]+" "+e.attrs["d"], -1) {
			x, err := strconv.ParseFloat(n, 64)
			require.NoError(t, err)
			require.GreaterOrEqual(t, x, 0.0, "%s %v", e.name, e.attrs)
			require.LessOrEqual(t, x, []float64{width, height}[i%2], "%s %v", e.name, e.attrs)
		}
		if e.name == "text" && width == 360 {
			require.GreaterOrEqual(t, e.num(t, "font-size")*328/width, 10.0, "on a phone of 360 pixels with margins of 16: %q", e.text)
			r := textBox(t, e)
			require.True(t, r.x0 >= -1 && r.x1 <= width+1 && r.y0 >= -1 && r.y1 <= height+1, "%q leaves the sheet", e.text)
		}
	}
	return all
}

var (
	coordinates = map[string]bool{"x": true, "x1": true, "x2": true, "cx": true, "y": false, "y1": false, "y2": false, "cy": false}
	numbers     = regexp.MustCompile(`[-0-9.]+`)
)

func TestNames(t *testing.T) {
	assert.Equal(t, "left wall", drawing.SurfaceName("left"))
	assert.Equal(t, "ceiling", drawing.SurfaceName("ceiling"))
	assert.Equal(t, "Ärmel", drawing.Capital("ärmel"))
	assert.Empty(t, drawing.Capital(""))
}

// Of the two coordinates of a slope the one that is neither level nor plumb says that the tape lies along the slope: at 47°
// what a level tape reads is shorter by a third, cos 47.2° = 0.679.
func TestDatum(t *testing.T) {
	const on = ", along the slope"
	for _, row := range []struct{ wall, along, up string }{
		{"left", "from the left wall" + on, "from the front wall"},
		{"right", "from the ceiling" + on, "from the front wall"},
		{"front", "from the left wall", "from the front wall" + on},
		{"rear", "from the left wall", "from the ceiling" + on},
	} {
		p := demo(t)
		p.Room = plan.Room{Box: &plan.Box{Width: 3.86, Length: 5.12, Height: 2.45}, Shapes: []plan.Shape{
			{Name: "slope", Kind: plan.Slope, Wall: row.wall, Knee: 1.1, Reach: 1.25}}}
		along, up := drawing.Datum(p, "slope")
		assert.Equal(t, row.along, along, row.wall)
		assert.Equal(t, row.up, up, row.wall)
		for _, surface := range []string{"front", "left", "ceiling", "floor"} {
			along, up = drawing.Datum(p, surface)
			assert.NotContains(t, along+up, on, surface)
		}
	}
	along, up := drawing.Datum(nil, "front")
	assert.Equal(t, "from the datum corner, from the datum edge", along+", "+up)
}

// The demo's own page tells what meets what: the slope cuts off the rear, from the
// ceiling down to the rear wall; the breast stands on the floor under the slope.
func TestSidesOf(t *testing.T) {
	p := demo(t)
	for _, row := range []struct {
		surface string
		want    drawing.Sides
	}{
		{"front", drawing.Sides{Left: "left wall", Right: "right wall", Below: "floor", Above: "ceiling"}},
		{"left", drawing.Sides{Left: "rear wall", Right: "front wall", Below: "floor", Above: "ceiling"}},
		{"right", drawing.Sides{Left: "front wall", Right: "rear wall", Below: "floor", Above: "ceiling"}},
		{"ceiling", drawing.Sides{Left: "left wall", Right: "right wall", Below: "front wall", Above: "rear wall"}},
		{"floor", drawing.Sides{Left: "left wall", Right: "right wall", Below: "rear wall", Above: "front wall"}},
		{"slope", drawing.Sides{Left: "left wall", Right: "right wall", Below: "ceiling", Above: "rear wall"}},
		{"breast face", drawing.Sides{Left: "breast left cheek", Right: "breast right cheek", Below: "floor", Above: "slope"}},
		{"cellar", drawing.Sides{}},
	} {
		assert.Equal(t, row.want, drawing.SidesOf(p, row.surface), row.surface)
	}
	assert.Equal(t, drawing.Sides{}, drawing.SidesOf(nil, "front"))
}

package drawing_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist/plan"
	"hangtrue/compute/layout"
	"hangtrue/compute/place"
	"hangtrue/compute/tape"
	"hangtrue/pwa/drawing"
	"hangtrue/pwa/markup"
)

// golden compares a drawing with the one that was looked at.
func golden(t *testing.T, name string, node markup.Node) {
	got := strings.ReplaceAll(markup.String(node), "><", ">\n<") + "\n"
	path := filepath.Join("testdata", name+".svg")
	if *update {
		require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
	}
	want, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, string(want), got, "run go test ./pwa/drawing -update and read the difference")
}

// box is a plan of nothing but a room.
func box(width, length, height float64) *plan.Plan {
	return &plan.Plan{Units: plan.Metric, Room: plan.Room{Box: &plan.Box{Width: width, Length: length, Height: height}}}
}

// seated is that with somebody in it.
func seated(p *plan.Plan, x, y, z float64) *plan.Plan {
	p.Listening = append(p.Listening, plan.Listening{Name: "chair", Ear: [3]float64{x, y, z}, Primary: len(p.Listening) == 0})
	return p
}

// nominally puts every loudspeaker of a layout where its own direction meets the room.
func nominally(t require.TestingT, p *plan.Plan, name string) *plan.Plan {
	l, ok := layout.ByName(name)
	require.True(t, ok)
	p.Layout = name
	surfaces, err := p.Surfaces()
	require.NoError(t, err)
	seat, err := p.Listener("")
	require.NoError(t, err)
	for _, s := range l.Loudspeakers {
		hit, ok := place.Meet(surfaces, seat.Ear, seat.Ray(s.Nominal()))
		require.True(t, ok, s.Label)
		p.Mounts = append(p.Mounts, plan.Mount{Channel: s.Label, Surface: surfaces[hit.Surface].Name, Along: hit.Spot.Along, Up: hit.Spot.Up})
	}
	return p
}

// rooms are plans from nothing but walls to a large layout.
func rooms(t require.TestingT) map[string]*plan.Plan {
	undecided := seated(box(4.2, 5.6, 2.4), 2.1, 2.2, 1.2)
	undecided.Layout = "4+5+0"
	all := map[string]*plan.Plan{
		"demo":      demo(t),
		"walls":     box(4.2, 5.6, 2.4),
		"seat":      seated(box(4.2, 5.6, 2.4), 2.1, 2.2, 1.2),
		"undecided": undecided,
		"4+5+0":     nominally(t, seated(box(4.2, 5.6, 2.4), 2.1, 2.4, 1.2), "4+5+0"),
		"9+10+3":    nominally(t, seated(seated(box(7.4, 8.8, 3.6), 3.7, 4.6, 1.2), 3.7, 3.2, 1.3), "9+10+3"),
	}
	all["4+5+0"].Units = plan.Imperial
	return all
}

func above(t require.TestingT, v drawing.PlanView) string {
	node, ok := v.SVG()
	require.True(t, ok)
	return markup.String(node)
}

func TestPlanView_SVG_Golden(t *testing.T) {
	for name, p := range rooms(t) {
		t.Run(name, func(t *testing.T) {
			node, ok := drawing.PlanView{Plan: p}.SVG()
			require.True(t, ok)
			golden(t, "above-"+name, node)
		})
	}
	for name, v := range map[string]drawing.PlanView{
		"asked": {Plan: demo(t), Seat: "left seat", Channel: "M+135", Handles: true},
		"paper": {Plan: demo(t), Width: 640},
	} {
		t.Run(name, func(t *testing.T) {
			node, ok := v.SVG()
			require.True(t, ok)
			golden(t, "above-demo-"+name, node)
		})
	}
}

func TestSideView_SVG_Golden(t *testing.T) {
	for name, p := range rooms(t) {
		t.Run(name, func(t *testing.T) {
			node, ok := drawing.SideView{Plan: p}.SVG()
			require.True(t, ok)
			golden(t, "side-"+name, node)
		})
	}
	for name, v := range map[string]drawing.SideView{
		"asked": {Plan: demo(t), Seat: "left seat", Channel: "M+135", Handles: true},
		"paper": {Plan: demo(t), Width: 640},
	} {
		t.Run(name, func(t *testing.T) {
			node, ok := v.SVG()
			require.True(t, ok)
			golden(t, "side-demo-"+name, node)
		})
	}
}

// onBox is the room's point at a spot of a box's side, by the tape conventions of
// package place, written out by hand.
func onBox(b plan.Box, surface string, along, up float64) place.Vec {
	return map[string]place.Vec{
		"front": {X: along, Y: b.Length, Z: up}, "right": {X: b.Width, Y: b.Length - along, Z: up},
		"rear": {X: b.Width - along, Y: 0, Z: up}, "left": {X: 0, Y: along, Z: up},
		"ceiling": {X: along, Y: b.Length - up, Z: b.Height}, "floor": {X: along, Y: up, Z: 0},
	}[surface]
}

// boxed draws a plan of a box with somebody in it and mounts on its sides.
func boxed(t *rapid.T) *plan.Plan {
	size := rapid.Float64Range(1.5, 12)
	p := box(size.Draw(t, "width"), size.Draw(t, "length"), rapid.Float64Range(2, 5).Draw(t, "height"))
	b := p.Room.Box
	for range rapid.IntRange(1, 3).Draw(t, "seats") {
		part := rapid.Float64Range(0.15, 0.85)
		seated(p, part.Draw(t, "x")*b.Width, part.Draw(t, "y")*b.Length, 1.2)
	}
	p.Listening[0].Facing = rapid.Float64Range(-math.Pi, math.Pi).Draw(t, "facing")
	names := []string{"M+030", "M-030", "M+000", "LFE1", "M+090", "M-090", "M+135", "M-135", "U+045", "U-045", "U+135", "U-135", "U+090", "U-090", "B+000", "B+045"}
	for _, channel := range names[:rapid.IntRange(1, len(names)).Draw(t, "mounts")] {
		m := plan.Mount{Channel: channel, Surface: rapid.SampledFrom([]string{"front", "right", "rear", "left", "ceiling", "floor"}).Draw(t, "surface")}
		wide, tall := b.Width, b.Height
		switch m.Surface {
		case "right", "left":
			wide = b.Length
		case "ceiling", "floor":
			tall = b.Length
		}
		part := rapid.Float64Range(0, 1)
		m.Along, m.Up = part.Draw(t, "along")*wide, part.Draw(t, "up")*tall
		p.Mounts = append(p.Mounts, m)
	}
	p.Layout = rapid.SampledFrom([]string{"", "0+5+0", "4+7+0", "9+10+3"}).Draw(t, "layout")
	return p
}

// marks are the middles of the discs that hold a drawing's mounts and listening
// positions, in metres as the svg's own attributes bring them there.
func marks(t require.TestingT, all []element) map[string][2]float64 {
	var x0, y0 float64
	_, err := fmt.Sscanf(all[0].attrs["data-zero"], "%f %f", &x0, &y0)
	require.NoError(t, err)
	scale := all[0].num(t, "data-per-metre")
	out := map[string][2]float64{}
	for i, e := range all {
		if name := e.attrs["data-drag"]; name != "" {
			for _, e := range all[i:] {
				if e.attrs["class"] == "handle" {
					out[name] = [2]float64{(e.num(t, "cx") - x0) / scale, (y0 - e.num(t, "cy")) / scale}
					break
				}
			}
		}
	}
	return out
}

// Marks stand where the tape convention and nothing else puts them, and azimuths,
// elevations, distances are those of the triangles between ear point, mount and a
// point one metre straight ahead (law of cosines), not those of package place.
func TestRoom_SVG_Figures(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := boxed(t)
		above, ok := drawing.PlanView{Plan: p, Handles: true}.SVG()
		require.True(t, ok)
		side, ok := drawing.SideView{Plan: p, Handles: true}.SVG()
		require.True(t, ok)
		planned, sectioned := sound(t, markup.String(above)), sound(t, markup.String(side))
		flat, upright := marks(t, planned), marks(t, sectioned)
		assert.Equal(t, []string{"x", "y", "y", "z"}, []string{planned[0].attrs["data-right"], planned[0].attrs["data-up"], sectioned[0].attrs["data-right"], sectioned[0].attrs["data-up"]})
		l := p.Listening[0]
		ear := place.Vec{X: l.Ear[0], Y: l.Ear[1], Z: l.Ear[2]}
		ahead := place.Vec{X: ear.X - math.Sin(l.Facing), Y: ear.Y + math.Cos(l.Facing), Z: ear.Z}
		says := planned[2].text
		for _, m := range p.Mounts {
			at := onBox(*p.Room.Box, m.Surface, m.Along, m.Up)
			off := 0.11 / planned[0].num(t, "data-per-metre")
			assert.InDeltaSlice(t, []float64{at.X, at.Y}, []float64{flat[m.Channel][0], flat[m.Channel][1]}, off, m.Channel)
			off = 0.11 / sectioned[0].num(t, "data-per-metre")
			assert.InDeltaSlice(t, []float64{at.Y, at.Z}, []float64{upright[m.Channel][0], upright[m.Channel][1]}, off, m.Channel)

			distance := math.Sqrt(math.Pow(at.X-ear.X, 2) + math.Pow(at.Y-ear.Y, 2) + math.Pow(at.Z-ear.Z, 2))
			level := math.Hypot(at.X-ear.X, at.Y-ear.Y)
			third := math.Hypot(at.X-ahead.X, at.Y-ahead.Y)
			azimuth := math.Acos(math.Max(-1, math.Min(1, (level*level+1-third*third)/(2*level)))) * 180 / math.Pi
			elevation := math.Asin((at.Z-ear.Z)/distance) * 180 / math.Pi
			side := "left"
			if (ahead.X-ear.X)*(at.Y-ear.Y)-(ahead.Y-ear.Y)*(at.X-ear.X) < 0 {
				side = "right"
			}
			if ties := math.Abs(math.Mod(azimuth*10, 1)-0.5) < 1e-4 || math.Abs(math.Mod(math.Abs(elevation)*10, 1)-0.5) < 1e-4; ties || math.Abs(elevation) > 89.9 {
				continue // either side may be written
			}
			where := fmt.Sprintf("%s %.1f° to the %s, ", m.Channel, azimuth, side)
			switch fmt.Sprintf("%.1f", azimuth) {
			case "0.0":
				where = m.Channel + " straight ahead, "
			case "180.0":
				where = m.Channel + " straight behind, "
			}
			height := fmt.Sprintf("%.1f° up, ", elevation)
			switch {
			case fmt.Sprintf("%.1f", math.Abs(elevation)) == "0.0":
				height = "level with the ear, "
			case elevation < 0:
				height = fmt.Sprintf("%.1f° down, ", -elevation)
			}
			assert.Contains(t, says, where+height)
			_, rest, _ := strings.Cut(says, where+height)
			var read float64
			_, err := fmt.Sscanf(rest, "%f m away", &read)
			require.NoError(t, err)
			assert.InDelta(t, distance, read, 0.00051)
		}
	})
}

// What is shown beside or under the plan view is what its description says.
func TestPlanView_SVG_ShowsEveryAngle(t *testing.T) {
	for name, p := range rooms(t) {
		var shown []string
		for _, e := range texts(parse(t, above(t, drawing.PlanView{Plan: p}))) {
			shown = append(shown, e.text)
		}
		for _, m := range p.Mounts {
			s, err := p.Sight(m.Channel, "")
			require.NoError(t, err)
			assert.Contains(t, shown, m.Channel, name)
			assert.Contains(t, shown, tape.Format(s.Distance, p.Units.System()), "%s %s", name, m.Channel)
			if n := math.Round(s.Azimuth * 1800 / math.Pi); math.Abs(n) != 1800 && n != 0 {
				assert.Contains(t, shown, fmt.Sprintf("%+.1f°", n/10), "%s %s", name, m.Channel)
			}
		}
	}
}

// The rings of layout 4+5+0 (ITU-R BS.2051 Sound System D) cover 100 to 120° for M±110,
// 30 to 45° for U±030, 100 to 135° for U±110 and nothing else that has a width, from
// somebody who faces the front.
func TestPlanView_SVG_Sectors(t *testing.T) {
	p := rooms(t)["undecided"]
	all := parse(t, above(t, drawing.PlanView{Plan: p, Handles: true}))
	ear := marks(t, all)["chair"]
	var x0, y0 float64
	_, err := fmt.Sscanf(all[0].attrs["data-zero"], "%f %f", &x0, &y0)
	require.NoError(t, err)
	scale := all[0].num(t, "data-per-metre")
	var found [][2]float64
	for _, e := range all {
		if e.attrs["class"] != "sector" {
			continue
		}
		from, to := math.Inf(1), math.Inf(-1)
		read := numbers.FindAllString(e.attrs["points"], -1)
		for i := 0; i < len(read); i += 2 {
			x, _ := strconv.ParseFloat(read[i], 64)
			y, _ := strconv.ParseFloat(read[i+1], 64)
			angle := math.Atan2(x0+ear[0]*scale-x, y0-ear[1]*scale-y) * 180 / math.Pi
			from, to = math.Min(from, angle), math.Max(to, angle)
		}
		if to-from > 1 {
			found = append(found, [2]float64{math.Round(from), math.Round(to)})
		}
	}
	assert.ElementsMatch(t, [][2]float64{{100, 120}, {-120, -100}, {30, 45}, {-45, -30}, {100, 135}, {-135, -100}}, found)
}

// Where an upper loudspeaker of 4+5+0 stands 2.00 m off in plan, the layout permits 30
// to 55° of elevation: 1.155 m to 2.856 m above the ear, which is 1.2 m up; the room
// ends at 3.2 m.
func TestSideView_SVG_Permitted(t *testing.T) {
	p := seated(box(6, 6, 3.2), 3, 3, 1.2)
	p.Layout = "4+5+0"
	p.Mounts = []plan.Mount{{Channel: "U+030", Surface: "ceiling", Along: 3 - 2*math.Sin(0.6), Up: 3 - 2*math.Cos(0.6)}}
	node, ok := drawing.SideView{Plan: p, Handles: true}.SVG()
	require.True(t, ok)
	all := parse(t, markup.String(node))
	var x0, y0 float64
	_, err := fmt.Sscanf(all[0].attrs["data-zero"], "%f %f", &x0, &y0)
	require.NoError(t, err)
	scale := all[0].num(t, "data-per-metre")
	i := slices.IndexFunc(all, func(e element) bool { return e.attrs["class"] == "permitted" })
	require.GreaterOrEqual(t, i, 0)
	assert.InDelta(t, 3+2*math.Cos(0.6), (all[i].num(t, "x1")-x0)/scale, 0.11/scale)
	assert.InDelta(t, 1.2+2*math.Tan(math.Pi/6), (y0-all[i].num(t, "y1"))/scale, 0.11/scale)
	assert.InDelta(t, 3.2, (y0-all[i].num(t, "y2"))/scale, 0.11/scale, "1.2 m + 2.856 m is beyond the ceiling")
}

// Whatever is typed into an unfinished plan, there is a sound drawing or none.
func TestRoom_SVG_Unfinished(t *testing.T) {
	for _, p := range []*plan.Plan{nil, {}, {Room: plan.Room{Box: &plan.Box{Width: 3}}}, {Listening: []plan.Listening{{Name: "chair"}}}} {
		_, ok := drawing.PlanView{Plan: p}.SVG()
		assert.False(t, ok)
		_, ok = drawing.SideView{Plan: p}.SVG()
		assert.False(t, ok)
	}
	rapid.Check(t, func(t *rapid.T) {
		p := demo(t)
		odd := rapid.SampledFrom([]float64{-1, 0, 0.3, 1.2, 2.4, 7, 3000, math.NaN(), math.Inf(1)})
		if rapid.Bool().Draw(t, "box alone") {
			p.Room.Surfaces = nil
		}
		p.Room.Box = &plan.Box{Width: rapid.Float64Range(0.02, 40).Draw(t, "width"), Length: rapid.Float64Range(0.02, 40).Draw(t, "length"), Height: rapid.Float64Range(0.02, 9).Draw(t, "height")}
		for i := range p.Listening {
			p.Listening[i].Ear = [3]float64{odd.Draw(t, "x"), odd.Draw(t, "y"), odd.Draw(t, "z")}
			p.Listening[i].Facing = odd.Draw(t, "facing")
		}
		p.Listening = p.Listening[:rapid.IntRange(0, 3).Draw(t, "seats")]
		if len(p.Listening) > 0 {
			p.Listening[0].Name = "<img src=x> & a very long name for a chair that nobody would give it"
		}
		p.Layout = rapid.SampledFrom([]string{"", "no layout", "0+2+0", "4+5+0", "9+10+3"}).Draw(t, "layout")
		p.Tolerances.Azimuth, p.Tolerances.Elevation = odd.Draw(t, "azimuth"), odd.Draw(t, "elevation")
		for i := range p.Mounts {
			m := &p.Mounts[i]
			m.Surface = rapid.SampledFrom([]string{"front", "right", "rear", "left", "ceiling", "floor", "slope", ""}).Draw(t, "surface")
			m.Bracket = rapid.SampledFrom([]string{"", "Wall bracket", "none of ours"}).Draw(t, "bracket")
			m.Along, m.Up = odd.Draw(t, "along"), odd.Draw(t, "up")
		}
		p.Mounts = p.Mounts[:rapid.IntRange(0, len(p.Mounts)).Draw(t, "mounts")]
		if len(p.Mounts) > 1 {
			p.Mounts[1].Channel = "<img src=x>"
		}
		p.Units = rapid.SampledFrom([]plan.Units{plan.Metric, plan.Imperial, ""}).Draw(t, "units")
		width := rapid.SampledFrom([]float64{0, 640}).Draw(t, "sheet")
		channel, handles := rapid.SampledFrom([]string{"", "M+030", "M+135"}).Draw(t, "asked"), rapid.Bool().Draw(t, "handles")
		if node, ok := (drawing.PlanView{Plan: p, Channel: channel, Handles: handles, Width: width}).SVG(); ok {
			sound(t, markup.String(node))
		}
		if node, ok := (drawing.SideView{Plan: p, Channel: channel, Handles: handles, Width: width}).SVG(); ok {
			sound(t, markup.String(node))
		}
	})
}

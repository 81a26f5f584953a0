package propose_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"hangtrue/checklist/plan"
	"hangtrue/compute/place"
)

const degree = math.Pi / 180

// draw hands out random numbers.
type draw struct{ *rand.Rand }

func (d draw) between(low, high float64) float64 {
	return math.Round((low+(high-low)*d.Float64())*1000) / 1000
}
func (d draw) chance(p float64) bool { return d.Float64() < p }

// anyRoom draws a room of a house, gear and a seat: a box with doors, windows, pipes, studs or masonry, in some a sloped
// ceiling or a chimney breast. The seat may be anywhere; in a usual room it is near the middle line with some way to the
// front wall, which has neither door nor window, and the room has a size to live in. All gear is invented, its cabinets
// hang at their backs, so that they can turn.
func anyRoom(r *rand.Rand, layout string, usual bool) *plan.Plan {
	d := draw{r}
	box := plan.Box{Width: d.between(2.6, 8), Length: d.between(2.6, 9), Height: d.between(2.1, 3.5)}
	if usual {
		box = plan.Box{Width: d.between(3.4, 5.5), Length: d.between(4, 7), Height: d.between(2.3, 2.8)}
	}
	p := gear(d, layout)
	p.Room.Box = &box
	if d.chance(0.2) {
		p.Units = plan.Imperial
	}
	sides := []struct {
		name string
		long float64
	}{{"front", box.Width}, {"right", box.Length}, {"rear", box.Width}, {"left", box.Length}}
	door := d.IntN(4)
	for i, side := range sides {
		s := plan.Surface{Name: side.name, Construction: d.construction(false)}
		if s.Construction.Kind == plan.Studs {
			s.Lining = 0.0125
		}
		if usual && i == 0 {
			p.Room.Surfaces = append(p.Room.Surfaces, s)
			continue
		}
		if i == door || d.chance(0.15) {
			width := d.between(0.7, 1.0)
			s.Openings = append(s.Openings, plan.Area{Name: "door", Along: d.between(0.05, side.long-width-0.05), Width: width, Height: math.Min(2.0, box.Height-0.05), Clearance: 0.05})
		}
		for n := range []int{0, 0, 1, 1, 2}[d.IntN(5)] {
			a := plan.Area{Name: []string{"window", "second window"}[n], Up: d.between(0.3, 1.1), Width: d.between(0.5, math.Min(2.4, side.long-0.2)), Clearance: d.between(0, 0.08)}
			a.Along, a.Height = d.between(0.05, side.long-a.Width-0.05), d.between(0.4, box.Height-a.Up-0.1)
			if !slices.ContainsFunc(s.Openings, func(o plan.Area) bool { return a.Along < o.Along+o.Width && o.Along < a.Along+a.Width }) {
				s.Openings = append(s.Openings, a)
			}
		}
		if d.chance(0.3) {
			s.KeepOuts = append(s.KeepOuts, plan.Area{Name: "cable drop", Along: d.between(0.1, side.long-0.2), Width: 0.06, Height: box.Height, Clearance: 0.05})
		}
		if d.chance(0.2) {
			s.KeepOuts = append(s.KeepOuts, plan.Area{Name: "heating pipe", Along: 0.05, Up: d.between(0.1, 1.6), Width: side.long - 0.1, Height: 0.05, Clearance: 0.03})
		}
		if !d.chance(0.05) { // else nothing says what the wall is
			p.Room.Surfaces = append(p.Room.Surfaces, s)
		}
	}
	ceiling := plan.Surface{Name: "ceiling", Lining: 0.0125, Construction: d.construction(true)}
	if d.chance(0.4) {
		ceiling.KeepOuts = append(ceiling.KeepOuts, plan.Area{Name: "cable to the lamp", Along: d.between(0.3, box.Width-0.4), Width: 0.06, Height: box.Length / 2, Clearance: 0.05})
	}
	p.Room.Surfaces = append(p.Room.Surfaces, ceiling, plan.Surface{Name: "floor", Construction: plan.Construction{Kind: plan.Other}})
	ear := [3]float64{d.between(0.5, box.Width-0.5), d.between(0.5, box.Length-0.5), d.between(0.95, 1.3)}
	if usual {
		ear[0], ear[1] = box.Width/2+d.between(-0.15, 0.15), box.Length*d.between(0.3, 0.5)
	}
	d.shapes(p, ear)
	prune(p)
	facing := 0.0
	if d.chance(0.2) && !usual {
		facing = []float64{math.Pi / 2, -math.Pi / 2, math.Pi, d.between(-0.1, 0.1)}[d.IntN(4)]
	}
	p.Listening = []plan.Listening{{Name: "chair", Ear: ear, Facing: facing, EarU: 0.005, Primary: true}}
	return p
}

func (d draw) construction(ceiling bool) plan.Construction {
	studs := 0.5
	if ceiling {
		studs = 0.8
	}
	if !d.chance(studs) {
		return plan.Construction{Kind: []string{plan.Masonry, plan.Concrete}[d.IntN(2)]}
	}
	c := plan.Construction{Kind: plan.Studs, Spacing: []float64{0.4064, 0.4, 0.6, 0.6096}[d.IntN(4)], Width: []float64{0.038, 0.045, 0.06}[d.IntN(3)], Depth: 0.14,
		Species: "Spruce-Pine-Fir"}
	c.First = d.between(0, c.Spacing)
	c.Across = ceiling && d.chance(0.5)
	return c
}

// shapes makes some rooms other than a box, but nowhere near the seat. Some are shapes of the plan, some surfaces of their
// own that leave the box as it was.
func (d draw) shapes(p *plan.Plan, ear [3]float64) {
	box, room := p.Room.Box, &p.Room
	detail := func(name string, c plan.Construction) {
		room.Surfaces = append(room.Surfaces, plan.Surface{Name: name, Construction: c})
	}
	if reach, knee := d.between(0.6, 2), d.between(1, box.Height-0.4); d.chance(0.2) && reach < ear[1] {
		if d.chance(0.5) {
			room.Shapes = append(room.Shapes, plan.Shape{Name: "slope", Kind: plan.Slope, Wall: "rear", Knee: knee, Reach: reach})
			detail("slope", d.construction(true))
		} else {
			room.Surfaces = append(room.Surfaces, slope(d, *box, reach, knee))
		}
		return
	}
	width, depth := d.between(0.8, 1.4), d.between(0.2, 0.5)
	if from := d.between(0.1, box.Width-width-0.1); d.chance(0.25) && ear[1] > 0.9 && box.Width > width+0.4 {
		if d.chance(0.5) {
			room.Shapes = append(room.Shapes, plan.Shape{Name: "breast", Kind: plan.Breast, Wall: "rear", Along: box.Width - from - width, Width: width, Depth: depth})
			for _, name := range room.Shapes[0].SurfaceNames() {
				if name == "breast" || strings.HasSuffix(name, "cheek") {
					detail(name, plan.Construction{Kind: plan.Masonry})
				}
			}
		} else {
			room.Surfaces = append(room.Surfaces, breast(*box, from, width, depth)...)
		}
	}
	if d.chance(0.1) {
		room.Shapes = append(room.Shapes, plan.Shape{Name: "alcove", Kind: plan.Alcove, Wall: "left", Along: 0.3, Up: 0.5, Width: 0.8, Height: 1.2, Depth: 0.3})
		detail("alcove", plan.Construction{Kind: plan.Masonry})
	}
}

// prune leaves out openings and keep-outs where the shapes have left no wall for them.
func prune(p *plan.Plan) {
	surfaces, err := p.Surfaces()
	if err != nil {
		panic(err)
	}
	for i := range p.Room.Surfaces {
		entry := &p.Room.Surfaces[i]
		k := slices.IndexFunc(surfaces, func(s place.Surface) bool { return s.Name == entry.Name })
		off := func(a plan.Area) bool {
			for _, x := range [2]float64{a.Along, a.Along + a.Width} {
				for _, y := range [2]float64{a.Up, a.Up + a.Height} {
					if !surfaces[k].Contains(place.Spot{Along: x, Up: y}) {
						return true
					}
				}
			}
			// A breast or an alcove may stand in the midst of an opening.
			return len(p.Room.Shapes) > 0 && (entry.Name == "left" || entry.Name == "rear")
		}
		entry.Openings, entry.KeepOuts = slices.DeleteFunc(entry.Openings, off), slices.DeleteFunc(entry.KeepOuts, off)
	}
}

// slope is a sloped ceiling over the rear wall as a surface of its own: from run metres in front of it, at the ceiling,
// down to the knee.
func slope(d draw, box plan.Box, run, knee float64) plan.Surface {
	fall := box.Height - knee
	long := math.Hypot(run, fall)
	return plan.Surface{Name: "slope", Lining: 0.0125, Construction: d.construction(true), Frame: &plan.Frame{
		Origin: [3]float64{0, run, box.Height}, Along: [3]float64{1, 0, 0}, Up: [3]float64{0, -run / long, -fall / long},
		Outline: [][2]float64{{0, 0}, {box.Width, 0}, {box.Width, long}, {0, long}},
	}}
}

// breast is a chimney breast as high as the room in front of the rear wall.
func breast(box plan.Box, from, width, depth float64) []plan.Surface {
	side := func(name string, x, y float64, along [3]float64, long float64) plan.Surface {
		return plan.Surface{Name: name, Construction: plan.Construction{Kind: plan.Masonry}, Frame: &plan.Frame{
			Origin: [3]float64{x, y, 0}, Along: along, Up: [3]float64{0, 0, 1}, Outline: [][2]float64{{0, 0}, {long, 0}, {long, box.Height}, {0, box.Height}}}}
	}
	return []plan.Surface{
		side("breast face", from+width, depth, [3]float64{-1, 0, 0}, width),
		side("breast right cheek", from+width, 0, [3]float64{0, 1, 0}, depth),
		side("breast left cheek", from, depth, [3]float64{0, -1, 0}, depth),
	}
}

// gear is a plan with everything but a room and a seat.
func gear(d draw, layout string) *plan.Plan {
	p := &plan.Plan{
		Format: plan.Format, Title: "A room", Units: plan.Metric, Layout: layout,
		Processor: plan.Processor{Name: "Processor", Outputs: 32},
		Rack:      plan.Rack{Units: 20, Place: [3]float64{0.3, 0.3, 0.1}, Circuit: 32, Voltage: 230},
		Cables:    []plan.Cable{{Name: "Line cable", Conductor: "20 AWG"}, {Name: "Loudspeaker cable", Conductor: "4 mm2 class 5"}},
		Tolerances: plan.Tolerances{Mark: 0.005, Level: 0.5 * degree, Azimuth: 2 * degree, Elevation: 2 * degree, Height: 0.01, Distance: 0.03,
			Tilt: 1.5 * degree, Aim: 3 * degree, PairAzimuth: 1.5 * degree, PairHeight: 0.01, CableLoss: 5, EdgeClearance: 0.05},
		Fixings: []plan.Fixing{
			{Name: "Lag screw", Kind: plan.LagScrew, Size: "1/4 in", Length: 0.0762, Pilot: 0.0035},
			{Name: "Wood screw", Kind: plan.WoodScrew, Size: "No. 12", Length: 0.07, Pilot: 0.003},
			{Name: "Wall plug", Kind: plan.Rated, Length: 0.06, Pilot: 0.008, RatedLoad: 900, Base: plan.Masonry},
			{Name: "Concrete anchor", Kind: plan.Rated, Length: 0.06, Pilot: 0.008, RatedLoad: 1500, Base: plan.Concrete},
		},
	}
	for i := range 4 {
		p.Amplifiers = append(p.Amplifiers, plan.Amplifier{Name: fmt.Sprint("Amplifier ", i+1), Channels: 8, Power: 100, LeastLoad: 4,
			RackUnits: 3, Position: 1 + 3*i, Mass: 12, Heat: 80, Mains: 200})
	}
	model := func(name string, w, h, depth, mass float64) plan.Model {
		return plan.Model{Name: name, Kind: plan.Loudspeaker, Mass: mass, Size: plan.Size{Width: w, Height: h, Depth: depth}, Reach: depth, CentreOut: depth / 2,
			Sensitivity: 87, Power: 100, RatedImpedance: 8, LeastImpedance: 6.4}
	}
	p.Models = []plan.Model{model("Front A", 0.2, 0.38, 0.22, 8), model("Surround A", 0.2, 0.28, 0.16, 5), model("Height A", 0.16, 0.22, 0.14, 3.5),
		{Name: "Sub A", Kind: plan.Subwoofer, Mass: 21, Size: plan.Size{Width: 0.36, Height: 0.4, Depth: 0.42}, Active: true, Power: 300}}
	if d.chance(0.1) { // an axis beside the pivot
		p.Models[0].AxisRight, p.Models[1].AxisUp = d.between(-0.04, 0.04), d.between(-0.05, 0.05)
	}
	turn := d.between(40, 75) * degree
	p.Brackets = []plan.Bracket{
		{Name: "Wall bracket", Mass: 0.9, Holes: [][2]float64{{0, 0}, {0, -0.1}}, PivotOut: d.between(0.08, 0.16), PivotUp: -0.05, SwingMin: -turn, SwingMax: turn,
			TiltMin: -35 * degree, TiltMax: 30 * degree, RatedLoad: 12, Plate: 0.003, LowerEdge: 0.12},
		{Name: "Ceiling bracket", Mass: 0.6, Holes: [][2]float64{{-0.04, 0}, {0.04, 0}}, PivotOut: 0.15, SwingMin: -turn, SwingMax: turn,
			TiltMin: -turn, TiltMax: turn, RatedLoad: 8, Plate: 0.003, LowerEdge: 0.03, SideEdge: 0.02},
		{Name: "Ceiling bracket, turned", Mass: 0.6, Holes: [][2]float64{{0, -0.04}, {0, 0.04}}, PivotOut: 0.15, SwingMin: -turn, SwingMax: turn,
			TiltMin: -turn, TiltMax: turn, RatedLoad: 8, Plate: 0.003, LowerEdge: 0.055, SideEdge: 0.03},
	}
	return p
}

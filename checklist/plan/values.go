package plan

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"hangtrue/checklist/strict"
	"hangtrue/compute/fixing"
	"hangtrue/compute/layout"
	"hangtrue/compute/sound"
	"hangtrue/compute/wiring"
)

const (
	// MaxMounts bounds the mounts of a plan. The largest published layout has 24 channels; 500 is more than any house
	// and still keeps every check of pairs quick.
	MaxMounts = 500

	// MaxItems bounds every other list (surfaces, models, openings, …): more is a pasted mistake.
	MaxItems = 200

	// MaxName bounds a name in characters: it must fit on a cable label and a phone's line.
	MaxName = 60
	// MaxTitle bounds a title, MaxRemark every other text, in characters.
	MaxTitle  = 120
	MaxRemark = 2000

	// MaxSide bounds the sides of a room in metres: no room of a house is longer, but a millimetre figure typed as
	// metres is.
	MaxSide = 100.0
)

// checker collects what is wrong with a plan beyond its form.
type checker struct {
	p        *Plan
	form     strict.Problems // what could not be read: nothing more is said about those places
	problems strict.Problems
}

func (c *checker) add(at, read, want string) {
	if !c.form.Has(at) {
		c.problems.Add(at, read, want)
	}
}

func plainNumber(x float64) string { return strconv.FormatFloat(x, 'g', 6, 64) }

func inDegrees(angle float64) string { return plainNumber(angle * (180 / math.Pi)) }

// asWritten is a number in the unit of its key.
func asWritten(at string, x float64) string {
	if strings.HasSuffix(at, "_deg") {
		return inDegrees(x)
	}
	return plainNumber(x)
}

// above, from and between check one number against open and closed bounds.
func (c *checker) above(at string, x, bound float64) {
	if !(x > bound) {
		c.add(at, asWritten(at, x), "a number above "+asWritten(at, bound))
	}
}

func (c *checker) from(at string, x, bound float64) {
	if !(x >= bound) {
		c.add(at, asWritten(at, x), asWritten(at, bound)+" or more")
	}
}

func (c *checker) between(at string, x, low, high float64) {
	if !(low <= x && x <= high) {
		c.add(at, plainNumber(x), "a number from "+plainNumber(low)+" to "+plainNumber(high))
	}
}

// numbers checks several members of one object; rows keep the checks of a type readable as a table.
type numbers map[string]float64

func (c *checker) eachAbove(at string, bound float64, n numbers) {
	for key, x := range n {
		c.above(at+"/"+key, x, bound)
	}
}

func (c *checker) eachFrom(at string, bound float64, n numbers) {
	for key, x := range n {
		c.from(at+"/"+key, x, bound)
	}
}

// line checks a text of one line that must not be empty; lines may be empty and broken.
func (c *checker) line(at, s string, longest int) {
	switch {
	case strings.TrimSpace(s) == "":
		c.add(at, strict.Quote(s), "a text that is not empty")
	case s != strings.TrimSpace(s) || strings.Contains(s, "\n"):
		c.add(at, strict.Quote(s), "one line without space at its ends")
	default:
		c.lines(at, s, longest)
	}
}

func (c *checker) lines(at, s string, longest int) {
	if n := utf8.RuneCountInString(s); n > longest {
		c.add(at, fmt.Sprintf("%d characters", n), fmt.Sprintf("at most %d", longest))
	}
}

func (c *checker) oneOf(at, s string, known ...string) {
	if !slices.Contains(known, s) {
		c.add(at, strict.Quote(s), allowed(known))
	}
}

// allowed lists a closed set of words in full.
func allowed(words []string) string {
	if len(words) == 1 {
		return strconv.Quote(words[0])
	}
	return "one of " + strings.Join(words, ", ")
}

// quoted lists the first names of the plan's own, as many as a message can hold.
func quoted(names []string) string {
	if len(names) == 0 {
		return "(there are none)"
	}
	q := make([]string, len(names))
	for i, n := range names {
		q[i] = strconv.Quote(n)
	}
	return strict.Shorten(strings.Join(q[:min(len(q), 4)], ", ")) + more(len(q)-4)
}

func more(n int) string {
	if n <= 0 {
		return ""
	}
	return fmt.Sprintf(" or %d more", n)
}

// each checks a list's length and its names, each one line and none twice, and hands every entry on with its place.
func each[T any, P named[T]](c *checker, at, key string, least, most int, list []T, check func(at string, x *T)) {
	if len(list) < least || len(list) > most {
		c.add(at, fmt.Sprintf("%d entries", len(list)), fmt.Sprintf("%d to %d entries", least, most))
	}
	first := map[string]int{}
	for i := range list {
		name := P(&list[i]).label()
		here := strict.Pointer(at, i)
		c.line(here+"/"+key, name, MaxName)
		if j, ok := first[name]; ok && !c.form.Has(strict.Pointer(at, j, key)) {
			c.add(here+"/"+key, strict.Quote(name), fmt.Sprintf("a name that entry %d does not have", j))
		} else {
			first[name] = i
		}
		check(here, &list[i])
	}
}

// values checks everything that can be told from one value or one object alone.
func (c *checker) values() {
	p := c.p
	c.oneOf("/format", p.Format, Format)
	c.line("/title", p.Title, MaxTitle)
	c.lines("/remark", p.Remark, MaxRemark)
	c.oneOf("/units", string(p.Units), string(Metric), string(Imperial))
	if _, ok := layout.ByName(p.Layout); !ok {
		var known []string
		for _, l := range layout.All() {
			known = append(known, l.Name)
		}
		c.add("/layout", strict.Quote(p.Layout), allowed(known))
	}
	c.room()
	c.survey()
	c.listening()
	c.models()
	c.brackets()
	c.fixings()
	each(c, "/cables", "name", 1, MaxItems, p.Cables, func(at string, x *Cable) {
		if _, err := wiring.ParseConductor(x.Conductor); err != nil {
			c.add(at+"/conductor", strict.Quote(x.Conductor), `a conductor such as "14 AWG" or "2.5 mm2 class 5"`)
		}
		c.lines(at+"/in_wall_marking", x.InWall, MaxName)
	})
	c.electronics()
	c.sound()
	c.instruments()
	t := p.Tolerances
	c.eachAbove("/tolerances", 0, numbers{
		"mark_m": t.Mark, "level_deg": t.Level, "azimuth_deg": t.Azimuth, "elevation_deg": t.Elevation, "height_m": t.Height, "distance_m": t.Distance,
		"tilt_deg": t.Tilt, "aim_deg": t.Aim, "pair_azimuth_deg": t.PairAzimuth, "pair_height_m": t.PairHeight, "cable_loss_percent": t.CableLoss,
	})
	c.from("/tolerances/edge_clearance_m", t.EdgeClearance, 0)
	c.mounts()
}

func (c *checker) room() {
	r := &c.p.Room
	if r.Box != nil {
		for key, x := range (numbers{"width_m": r.Box.Width, "length_m": r.Box.Length, "height_m": r.Box.Height}) {
			if !(0 < x && x <= MaxSide) {
				c.add("/room/box/"+key, plainNumber(x), "metres above 0 and up to "+plainNumber(MaxSide))
			}
		}
	} else if len(r.Surfaces) == 0 && !c.form.Has("/room/box") {
		c.add("/room", "neither box nor surfaces", "a box, or a list of surfaces")
	}
	c.shapes()
	each(c, "/room/surfaces", "name", 0, MaxItems, r.Surfaces, func(at string, s *Surface) {
		made := r.makes(s.Name)
		switch {
		case s.Frame != nil && made && slices.Contains(boxSides, s.Name):
			c.add(at+"/frame", "a frame", "none: the box says where its "+s.Name+" is")
		case s.Frame != nil && made:
			c.add(at+"/frame", "a frame", "none: the shape says where its "+strict.Quote(s.Name)+" is")
		case s.Frame != nil:
			c.frame(at+"/frame", s.Frame)
		case !made:
			c.add(at+"/frame", "nothing", "a frame: "+strict.Quote(s.Name)+" is not a side of the box nor of a shape")
		}
		c.areas(at+"/openings", s.Openings)
		c.apart(at+"/openings", s.Openings)
		c.areas(at+"/keep_outs", s.KeepOuts)
		c.from(at+"/lining_m", s.Lining, 0)
		c.construction(at+"/construction", &s.Construction)
	})
}

// boxSides are the six surfaces a box makes, in the order they are listed in.
var boxSides = []string{"front", "right", "rear", "left", "ceiling", "floor"}

func (c *checker) frame(at string, f *Frame) {
	var dot float64
	for key, v := range map[string][3]float64{"along": f.Along, "up": f.Up} {
		if n := math.Hypot(math.Hypot(v[0], v[1]), v[2]); math.Abs(n-1) > unitSlack {
			c.add(at+"/"+key, fmt.Sprintf("a vector of length %s", plainNumber(n)), "a unit vector")
		}
	}
	for k := range 3 {
		dot += float64(f.Along[k] * f.Up[k])
	}
	if math.Abs(dot) > unitSlack {
		c.add(at+"/up", "a direction that leans towards along", "a direction square to along")
	}
	if n := len(f.Outline); n < 3 || n > MaxItems {
		c.add(at+"/outline_m", fmt.Sprintf("%d corners", n), fmt.Sprintf("3 to %d corners", MaxItems))
	} else if !(math.Abs(polygonArea(f.Outline)) > leastArea) {
		c.add(at+"/outline_m", "an outline without area", "corners in order around an area")
	}
}

const (
	// unitSlack lets hand-typed direction cosines of four decimals through.
	unitSlack = 1e-3
	// leastArea (square metres) is below any face worth listing: 1 cm by 1 cm.
	leastArea = 1e-4
)

// polygonArea is the signed area inside a closed outline (shoelace formula), positive anticlockwise.
func polygonArea(o [][2]float64) (area float64) {
	for i, a := range o {
		b := o[(i+1)%len(o)]
		area += (float64(a[0]*b[1]) - float64(a[1]*b[0])) / 2
	}
	return area
}

func (c *checker) areas(at string, list []Area) {
	each(c, at, "name", 0, MaxItems, list, func(at string, a *Area) {
		c.eachAbove(at, 0, numbers{"width_m": a.Width, "height_m": a.Height})
		c.from(at+"/clearance_m", a.Clearance, 0)
	})
}

// apart wants openings that do not overlap: a wall has one hole in one place.
func (c *checker) apart(at string, openings []Area) {
	for i, a := range openings {
		for _, b := range openings[:i] {
			if overlap(a.Along, a.Width, b.Along, b.Width) && overlap(a.Up, a.Height, b.Up, b.Height) {
				c.add(strict.Pointer(at, i), strict.Quote(a.Name)+", which overlaps "+strict.Quote(b.Name), "openings that do not overlap")
			}
		}
	}
}

// overlap tells, in whole micrometres, whether two stretches have more than an end in common.
func overlap(from1, size1, from2, size2 float64) bool {
	micro := func(x float64) float64 { return math.Round(x * 1e6) }
	return micro(math.Min(from1+size1, from2+size2)) > micro(math.Max(from1, from2))
}

// Kinds of construction.
const (
	Studs    = "studs"
	Masonry  = "masonry"
	Concrete = "concrete"
	Other    = "other"
)

func (c *checker) construction(at string, k *Construction) {
	c.oneOf(at+"/kind", k.Kind, Studs, Masonry, Concrete, Other)
	c.lines(at+"/species", k.Species, MaxName)
	members := numbers{"spacing_m": k.Spacing, "width_m": k.Width, "depth_m": k.Depth}
	if k.Kind != Studs {
		c.eachFrom(at, 0, members)
		return
	}
	c.eachAbove(at, 0, members)
	if k.Width > 0 && k.Spacing > 0 && k.Width >= k.Spacing {
		c.add(at+"/width_m", plainNumber(k.Width), "less than the spacing")
	}
	c.from(at+"/first_m", k.First, 0)
	if len(k.Found) > MaxItems {
		c.add(at+"/found_m", fmt.Sprintf("%d entries", len(k.Found)), fmt.Sprintf("at most %d", MaxItems))
	}
}

func (c *checker) listening() {
	var primary *Listening
	each(c, "/listening_positions", "name", 1, MaxItems, c.p.Listening, func(at string, l *Listening) {
		c.from(at+"/ear_u_m", l.EarU, 0)
		switch {
		case l.Primary && primary == nil:
			primary = l
		case l.Primary:
			c.add(at+"/primary", "a second primary position", "one; "+strict.Quote(primary.Name)+" is it already")
		}
	})
	if primary == nil && len(c.p.Listening) > 0 {
		c.add("/listening_positions", "no primary position", `one position with "primary": true`)
	}
}

// Kinds of loudspeaker.
const (
	Loudspeaker = "loudspeaker"
	Subwoofer   = "subwoofer"
)

func (c *checker) models() {
	each(c, "/loudspeakers", "name", 1, MaxItems, c.p.Models, func(at string, m *Model) {
		c.oneOf(at+"/kind", m.Kind, Loudspeaker, Subwoofer)
		c.eachAbove(at, 0, numbers{
			"mass_kg": m.Mass, "power_w": m.Power,
			"size/width_m": m.Size.Width, "size/height_m": m.Size.Height, "size/depth_m": m.Size.Depth,
		})
		c.eachFrom(at, 0, numbers{"reach_m": m.Reach, "centre_of_mass_out_m": m.CentreOut})
		if m.Active {
			for key, x := range (numbers{
				"rated_impedance_ohm": m.RatedImpedance, "least_impedance_ohm": m.LeastImpedance, "greatest_impedance_ohm": m.GreatestImpedance,
				"sensitivity_db": m.Sensitivity, "driver_bridges": float64(len(m.Bridges)),
			}) {
				if x != 0 {
					c.add(at+"/"+key, "a figure of a passive loudspeaker", "none: this one is active")
				}
			}
			return
		}
		c.between(at+"/sensitivity_db", m.Sensitivity, 50, 130)
		c.impedance(at, m.RatedImpedance, m.LeastImpedance)
		if m.GreatestImpedance != 0 && !(m.GreatestImpedance >= m.RatedImpedance) {
			c.add(at+"/greatest_impedance_ohm", plainNumber(m.GreatestImpedance), "the rated impedance or more")
		}
		each(c, at+"/driver_bridges", "setting", 0, MaxItems, m.Bridges, func(at string, b *Bridge) {
			c.line(at+"/does", b.Does, MaxRemark)
			c.impedance(at, b.RatedImpedance, b.LeastImpedance)
		})
	})
}

func (c *checker) impedance(at string, rated, least float64) {
	c.eachAbove(at, 0, numbers{"rated_impedance_ohm": rated, "least_impedance_ohm": least})
	if rated > 0 && least > rated {
		c.add(at+"/least_impedance_ohm", plainNumber(least), "at most the rated impedance")
	}
}

func (c *checker) brackets() {
	each(c, "/brackets", "name", 0, MaxItems, c.p.Brackets, func(at string, b *Bracket) {
		c.eachFrom(at, 0, numbers{"mass_kg": b.Mass, "pivot_out_m": b.PivotOut, "lower_edge_m": b.LowerEdge, "side_edge_m": b.SideEdge})
		c.eachAbove(at, 0, numbers{"rated_load_kg": b.RatedLoad, "plate_m": b.Plate})
		if n := len(b.Holes); n < 1 || n > fixing.MaxHoles {
			c.add(at+"/holes_m", fmt.Sprintf("%d holes", n), fmt.Sprintf("1 to %d holes", fixing.MaxHoles))
		}
		for j, h := range b.Holes {
			if k := slices.Index(b.Holes, h); k < j {
				c.add(strict.Pointer(at, "holes_m", j), "the same place as hole "+strconv.Itoa(k), "each hole at its own place")
			}
		}
		for j, h := range b.Holes {
			if h[1] < -b.LowerEdge {
				c.add(strict.Pointer(at, "holes_m", j), plainNumber(h[1])+" up", "a hole above the plate's lower edge, "+plainNumber(-b.LowerEdge))
			}
		}
		c.limits(at, "swing", b.SwingMin, b.SwingMax)
		c.limits(at, "tilt", b.TiltMin, b.TiltMax)
	})
}

// limits checks that a bracket's range has its ends in order and stays in front of the surface.
func (c *checker) limits(at, what string, low, high float64) {
	for key, x := range (numbers{"_min_deg": low, "_max_deg": high}) {
		if math.Abs(x) > math.Pi/2 {
			c.add(at+"/"+what+key, inDegrees(x), "degrees from -90 to 90")
		}
	}
	if low > high {
		c.add(at+"/"+what+"_min_deg", inDegrees(low), "at most "+what+"_max_deg")
	}
}

// Kinds of fixing.
const (
	WoodScrew   = "wood screw"
	LagScrew    = "lag screw"
	PlainNail   = "plain nail"
	RingNail    = "ring-shank nail"
	MetricScrew = "metric wood screw"
	Rated       = "rated"
)

// FixingKinds are the kinds of fixing a plan may name.
var FixingKinds = []string{WoodScrew, LagScrew, PlainNail, RingNail, MetricScrew, Rated}

func (c *checker) fixings() {
	each(c, "/fixings", "name", 0, MaxItems, c.p.Fixings, func(at string, f *Fixing) {
		c.oneOf(at+"/kind", f.Kind, FixingKinds...)
		c.above(at+"/length_m", f.Length, 0)
		c.from(at+"/pilot_m", f.Pilot, 0)
		switch f.Kind {
		case WoodScrew, LagScrew, PlainNail, RingNail, MetricScrew:
			kind, _ := fixing.ParseKind(f.Kind) // the names are that package's own
			c.oneOf(at+"/size", f.Size, fixing.Sizes(kind)...)
		case Rated:
			c.above(at+"/rated_load_n", f.RatedLoad, 0)
			if f.Factor != 0 {
				c.from(at+"/factor", f.Factor, 1)
			}
			c.oneOf(at+"/base", f.Base, Masonry, Concrete, HollowWall)
		}
		declared := numbers{"declared_withdrawal_n_mm2": f.DeclaredWithdrawal, "declared_density_kg_m3": f.DeclaredDensity,
			"declared_core_m": f.DeclaredCore, "declared_yield_moment_n_mm": f.DeclaredYield}
		c.eachFrom(at, 0, declared)
		for key, x := range declared {
			if x > 0 && f.Kind != MetricScrew {
				c.add(at+"/"+key, plainNumber(x), "none: only a metric wood screw is judged by what its maker declares")
			}
		}
		if (f.DeclaredWithdrawal > 0) != (f.DeclaredDensity > 0) {
			c.add(at+"/declared_density_kg_m3", plainNumber(f.DeclaredDensity), "a declared withdrawal strength and the density it holds at, both or neither")
		}
	})
}

// HollowWall is a base a fixing can be rated for, beside Masonry and Concrete.
const HollowWall = "hollow wall"

const (
	maxOutputs   = 128 // of a processor, and channels of an amplifier: above any unit for a house
	maxRackUnits = 100
)

func (c *checker) electronics() {
	r := &c.p.Rack
	c.between("/rack/units", float64(r.Units), 1, maxRackUnits)
	c.eachFrom("/rack", 0, numbers{"rated_load_kg": r.RatedLoad, "rise_k": r.Rise, "airflow_m3_h": r.Airflow})
	c.eachAbove("/rack", 0, numbers{"circuit_a": r.Circuit, "voltage_v": r.Voltage})
	c.between("/rack/inlet_c", r.Inlet, -20, 60)

	q := &c.p.Processor
	c.line("/processor/name", q.Name, MaxName)
	c.between("/processor/outputs", float64(q.Outputs), 1, maxOutputs)
	c.eachFrom("/processor", 0, numbers{"mass_kg": q.Mass, "heat_w": q.Heat, "mains_w": q.Mains, "rack_units": float64(q.RackUnits), "rack_position": float64(q.Position)})
	if q.RackUnits > 0 {
		c.shelf("/processor", q.Position, q.RackUnits)
	}

	each(c, "/amplifiers", "name", 0, MaxItems, c.p.Amplifiers, func(at string, a *Amplifier) {
		c.between(at+"/channels", float64(a.Channels), 1, maxOutputs)
		c.eachAbove(at, 0, numbers{"power_w": a.Power, "least_load_ohm": a.LeastLoad, "rack_units": float64(a.RackUnits)})
		c.eachFrom(at, 0, numbers{"damping_factor": a.DampingFactor, "mass_kg": a.Mass, "heat_w": a.Heat, "mains_w": a.Mains})
		c.between(at+"/efficiency", a.Efficiency, 0, 1)
		c.shelf(at, a.Position, a.RackUnits)
	})
}

// Bounds of what a plan may ask of the sound: the speed of sound is known from -20 to 50 °C (ISO 9613-1), no room of a
// house plays 140 dB, and crossovers and boosts are matters of the lowest thousand hertz. Beyond is a slip.
const (
	coldest, warmest = -20.0, 50.0
	maxLevel         = 140.0
	maxBass          = 1000.0
	maxBoost         = 24.0
)

// sound checks what is asked, and that what belongs together is there together.
func (c *checker) sound() {
	s := c.p.Sound
	if s == nil {
		return
	}
	c.between("/sound/temperature_c", s.Temperature, coldest, warmest)
	c.between("/sound/level_db", s.Level, 0, maxLevel)
	c.between("/sound/crossover_hz", s.Crossover, 0, maxBass)
	c.between("/sound/bass_boost_db", s.BassBoost, -maxBoost, maxBoost)
	c.between("/sound/boost_corner_hz", s.BoostCorner, 0, maxBass)
	if s.Slope != "" {
		c.oneOf("/sound/slope", s.Slope, slopes...)
	}
	switch {
	case s.Crossover != 0 && s.Slope == "":
		c.add("/sound/slope", "nothing", "a slope for the crossover: "+allowed(slopes))
	case s.Crossover == 0 && s.Slope != "":
		c.add("/sound/crossover_hz", "nothing", "the frequency at which the slope begins")
	}
	switch {
	case s.BassBoost != 0 && s.BoostCorner == 0:
		c.add("/sound/boost_corner_hz", "nothing", "the frequency below which the boost acts")
	case s.BassBoost == 0 && s.BoostCorner != 0:
		c.add("/sound/bass_boost_db", "nothing", "a boost or a cut below the corner")
	case s.BassBoost != 0 && s.Crossover == 0:
		c.add("/sound/crossover_hz", "nothing", "a crossover: without one a boost's cost cannot be told")
	}
}

// slopes are the kinds of crossover filter that a plan can name.
var slopes = []string{sound.BW2.String(), sound.LR2.String(), sound.LR4.String()}

// shelf checks that a unit lies inside the rack; whether two overlap is the rack check's to say.
func (c *checker) shelf(at string, position, units int) {
	if top := c.p.Rack.Units - units + 1; top >= 1 && !(1 <= position && position <= top) {
		c.add(at+"/rack_position", strconv.Itoa(position), fmt.Sprintf("a rack unit from 1 to %d", top))
	}
}

// Kinds of instrument.
const (
	Tape       = "tape"
	Laser      = "laser"
	Level      = "level"
	PhoneLevel = "phone level"
	Meter      = "meter"
)

func (c *checker) instruments() {
	each(c, "/instruments", "name", 0, MaxItems, c.p.Instruments, func(at string, n *Instrument) {
		c.oneOf(at+"/kind", n.Kind, Tape, Laser, Level, PhoneLevel, Meter)
		c.eachFrom(at, 0, numbers{"reading_u_m": n.Reading, "resolution_m": n.Resolution, "length_u_m": n.LengthU, "angle_u_deg": n.AngleU})
		switch n.Kind {
		case Tape:
			c.oneOf(at+"/class", n.Class, "I", "II", "III") // accuracy classes of Directive 2014/32/EU annex X, as UK SI 2016/1153 schedule 1I has them
		case Laser:
			c.above(at+"/length_u_m", n.LengthU, 0)
		case Level, PhoneLevel:
			c.above(at+"/angle_u_deg", n.AngleU, 0)
		}
		if n.Kind != Tape && n.Class != "" {
			c.add(at+"/class", strict.Quote(n.Class), "none: only a tape has a class")
		}
	})
}

// mounts checks what a mount says by itself. The names it uses are for relations.
func (c *checker) mounts() {
	each(c, "/mounts", "channel", 1, MaxMounts, c.p.Mounts, func(at string, m *Mount) {
		c.above(at+"/route_m", m.Route, 0)
		c.from(at+"/output", float64(m.Output), 1)
		c.lines(at+"/off_angle_reason", m.OffAngle, MaxRemark)
		if m.Bracket == "" {
			c.above(at+"/stand_m", m.Stand, 0)
		} else if m.Stand != 0 {
			c.add(at+"/stand_m", plainNumber(m.Stand), "none: the bracket says where the loudspeaker is")
		}
		if m.Bracket != "" && m.Fixing == "" {
			c.add(at+"/fixing", "nothing", "a fixing for the bracket")
		}
		if m.Bracket == "" && m.Fixing != "" {
			c.add(at+"/fixing", strict.Quote(m.Fixing), "none: there is no bracket to fix")
		}
		if m.Amplifier == "" && m.AmpChannel != 0 {
			c.add(at+"/amplifier_channel", strconv.Itoa(m.AmpChannel), "none: there is no amplifier")
		}
	})
}

package paper

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"hangtrue/checklist/plan"
	"hangtrue/compute/place"
	"hangtrue/pwa/words"
)

// MarkOut is a sheet for each wall, ceiling or floor that carries a mount: every hole
// with its two tape readings, to scale and as a table with room for what was measured.
func (j Job) MarkOut(size Size) Document {
	f := j.flow(size, "mark-out", "Mark-out sheets")
	surfaces := j.surfacesInUse()
	for i := range surfaces {
		f.markOut(&surfaces[i])
	}
	if names := j.unplaced(); len(names) > 0 {
		f.section("Mark-out: not placed")
		f.para("The plan does not have the surface of these mounts, so there is nothing to mark for them yet: "+list(names)+".", normal, false)
	}
	if len(f.sheets) == 0 {
		f.para("The plan has no mounts yet.", normal, false)
	}
	return f.finish()
}

// list names things, the first of many.
func list(names []string) string {
	const most = 40
	if len(names) > most {
		return joined(", ", names[:most]...) + fmt.Sprintf(" and %d more", len(names)-most)
	}
	return joined(", ", names...)
}

func (f *flow) markOut(s *place.Surface) {
	j := f.job
	f.section("Mark-out: " + surfaceName(s.Name))
	along, up := j.datum(s.Name)
	f.para(fmt.Sprintf("Seen from inside the room. Along: %s. %s: %s. Put the tape's end at the datum for every reading; do not add readings up.",
		along, j.upTitle(s.Name), up), normal, false)
	f.elevation(s)
	drilled := false
	for _, m := range j.mountsOn(s.Name) {
		drilled = drilled || m.Bracket != ""
	}
	ids := []string{"ladder", "lift"}
	if drilled {
		ids = []string{"hidden", "power-off", "old-materials", "dust", "eyes", "ladder", "lift", "fall", "load"}
	}
	f.cautions(j.cautions(ids...))
	f.holeTable(s)
	f.heights(s)
	f.known(s)
	f.fields("Measured by", "With which tape", "Date")
}

func (j Job) upTitle(surface string) string {
	if j.upWord(surface) == "out" {
		return "Out"
	}
	return "Up"
}

// holeTable is the mark-out as a table, with room for what was measured.
func (f *flow) holeTable(s *place.Surface) {
	j := f.job
	up := j.upTitle(s.Name)
	columns := []column{
		{head: "No.", weight: 8, right: true}, {head: "Along", weight: 19, right: true}, {head: up, weight: 18, right: true},
		{head: "Mount and what hangs there", weight: 27}, {head: "Pilot hole, fixing, bracket", weight: 40}, {head: "Into", weight: 25},
		{head: "Measured along", weight: 20}, {head: "Measured " + j.upWord(s.Name), weight: 20},
	}
	var rows [][]cell
	first := map[*plan.Mount]int{} // the hole that says how a mount is fastened
	for _, h := range j.holesOn(s.Name) {
		number, what := fmt.Sprint(h.number), h.mount.Channel+", "+h.mount.Model
		with, into := j.fastening(h.mount), j.into(h.at, s)
		if n, told := first[h.mount]; told {
			what, with = h.mount.Channel, fmt.Sprintf("as hole %d", n) // a long name on every row takes sheets
		} else if h.number > 0 {
			first[h.mount] = h.number
		}
		switch {
		case h.mount.Bracket == "":
			number, with, into = "", "stands here: nothing is drilled", ""
		case h.number == 0:
			number, what, with, into = "ref.", h.mount.Channel, "reference point: nothing is drilled here", ""
		case h.reference:
			with = "reference hole; " + with
		}
		rows = append(rows, []cell{{text: number, bold: true}, {text: j.length(h.at.Along), bold: true}, {text: j.length(h.at.Up), bold: true},
			{text: what}, {text: with}, {text: into, bold: strings.HasPrefix(into, misses)}, {blank: true}, {blank: true}})
	}
	f.titled("Holes", columns, rows)
}

// fastening is pilot hole, fixing and bracket in one line; the names come last, where what
// is too long is cut.
func (j Job) fastening(m *plan.Mount) string {
	pilot := "pilot not in the plan"
	if d := j.pilot(m); d > 0 {
		pilot = "pilot " + j.bit(d)
	}
	return joined(", ", pilot, j.fixing(m), m.Bracket)
}

// fixing is what goes through a mount's holes.
func (j Job) fixing(m *plan.Mount) string {
	f := j.Plan.Fixing(m.Fixing)
	if f == nil {
		return m.Fixing
	}
	return f.Name + " (" + joined(" ", f.Kind, f.Size, j.small(f.Length)) + ")"
}

// heights says where ears and loudspeakers are, and how each is aimed.
func (f *flow) heights(s *place.Surface) {
	j := f.job
	columns := []column{
		{head: "Mount", weight: 20}, {head: "Middle of its face above the floor", weight: 26}, {head: "Ear above the floor", weight: 30},
		{head: "Ear to the middle of the face", weight: 22}, {head: "Azimuth, elevation", weight: 24}, {head: "Bracket: swing, tilt", weight: 24},
		{head: "Measured height", weight: 20}, {head: "Measured distance", weight: 20},
	}
	var rows [][]cell
	for _, m := range j.mountsOn(s.Name) {
		row := plainCells(m.Channel, "not known", "", "not known", "", "")
		if l := j.Plan.Primary(); l != nil {
			row[2].text = j.length(l.Ear[2]) + ", " + l.Name
			if sight, err := j.Plan.Sight(m.Channel, ""); err == nil {
				row[1].text, row[3].text = j.length(sight.Height), j.length(sight.Distance)
				row[4].text = words.Degrees(sight.Azimuth) + ", " + words.Degrees(sight.Elevation)
			}
			if pose, err := j.Plan.Pose(m.Channel); err == nil && m.Bracket != "" {
				row[5].text = words.Degrees(pose.Swing) + ", " + words.Degrees(pose.Tilt)
			}
		}
		rows = append(rows, append(row, cell{blank: true}, cell{blank: true}))
	}
	f.titled("Heights and aim, to check once it hangs", columns, rows)
	says := "Azimuth counts + to the left of straight ahead, elevation + up."
	if slices.ContainsFunc(j.mountsOn(s.Name), func(m *plan.Mount) bool { return m.Bracket != "" }) {
		says += " " + swings(s)
	}
	f.para(says, small, false)
}

// swings says which way a bracket's angles count on a surface, as [place.Bracket] has them.
func swings(s *place.Surface) string {
	if s.Rises() {
		return "Facing the surface, the bracket's swing counts + to the right and its tilt + up, from square to the surface."
	}
	return "The bracket's swing counts + towards more along and its tilt + towards more out, from square to the surface."
}

// known are the openings, pipes and cables that the plan knows of, and what stands behind.
func (f *flow) known(s *place.Surface) {
	j := f.job
	span := func(a, b float64) string { return j.length(a) + " to " + j.length(b) }
	var rows [][]cell
	add := func(kind string, areas []place.Area) {
		for _, a := range areas {
			clear := ""
			if a.Clearance > 0 {
				clear = j.small(a.Clearance)
			}
			rows = append(rows, plainCells(a.Name, kind, span(a.Min.Along, a.Max.Along), span(a.Min.Up, a.Max.Up), clear))
		}
	}
	add("keep out", s.KeepOuts)
	add("opening", s.Openings)
	const title = "What the plan knows of this surface"
	if len(rows) == 0 {
		f.heading(title, 12)
	} else {
		f.titled(title, []column{{head: "What", weight: 40}, {head: "Kind", weight: 18}, {head: "Along", weight: 42}, {head: j.upTitle(s.Name), weight: 42}, {head: "Keep clear by", weight: 20}}, rows)
	}
	f.para(j.framing(s)+" There may be more than the plan knows: look before drilling.", normal, false)
}

// framing says what the surface is built of.
func (j Job) framing(s *place.Surface) string {
	k := s.Framing
	if k.Kind != place.Studs {
		return map[place.FramingKind]string{
			place.Masonry: "Behind the face: masonry.", place.Concrete: "Behind the face: concrete.", place.Other: "Behind the face: not known.",
		}[k.Kind]
	}
	text := fmt.Sprintf("Behind the face: %ss", member(s))
	if k.Width > 0 {
		text += " " + j.small(k.Width) + " wide"
	}
	if k.Spacing > 0 {
		way := "along"
		if k.Across {
			way = j.upWord(s.Name)
		}
		text += fmt.Sprintf(", %s apart, the first with its middle at %s %s", j.small(k.Spacing), j.length(k.First), way)
	}
	if s.Lining > 0 {
		text += "; lining " + j.small(s.Lining)
	}
	if len(k.Found) > 0 {
		var found []string
		for _, c := range k.Found {
			found = append(found, j.length(c))
		}
		text += "; found on site at " + list(found)
	}
	return text + "."
}

// A scale of a drawing: one to so many.
var scales = []float64{2, 5, 10, 15, 20, 25, 30, 40, 50, 75, 100, 150, 200, 250, 500, 1000, 2000, 5000}

// scaleFor is the largest scale at which a length fits.
func scaleFor(metres, millimetres float64) float64 {
	for _, s := range scales {
		if metres*1000/s <= millimetres {
			return s
		}
	}
	return math.Ceil(metres * 1000 / millimetres)
}

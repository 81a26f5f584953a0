package paper

import (
	"fmt"
	"math"
	"slices"

	"hangtrue/checklist"
	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/compute/place"
	"hangtrue/pwa/words"
)

// Steps are all steps of the job in order, to carry where no phone goes: what the plan
// wants, the cautions, boxes to tick and room to write. It records nothing: what is
// written is typed in afterwards, and judged then.
func (j Job) Steps(size Size) Document {
	f := steps{flow: j.flow(size, "steps", "Steps to carry"), labels: map[string]string{}}
	if runs, err := j.cableRuns(); err == nil {
		for _, c := range runs {
			f.labels[c.channel] = c.id
		}
	}
	f.now = "Steps: the whole job"
	f.para("This sheet judges nothing and opens no hold point. Type what you write here into the program, in the order of the steps, before you go on to a step that waits for it.", normal, false)
	for _, step := range j.Template.Steps {
		if step.Scope == checklist.PerJob {
			f.step(step, nil)
		}
	}
	for i := range j.Plan.Mounts {
		m := &j.Plan.Mounts[i]
		f.section("Steps: " + m.Channel)
		f.para(joined(", ", surfaceName(m.Surface), joined(" on ", m.Model, m.Bracket)), normal, false)
		for _, step := range j.Template.Steps {
			if step.Scope == checklist.PerMount && !(step.Hung && m.Bracket == "") {
				f.step(step, m)
			}
		}
	}
	return f.finish()
}

// steps is the step list while it is laid out.
type steps struct {
	*flow
	labels map[string]string // a cable's identifier by channel
}

// A strip is one line of a block that stays together.
type strip struct {
	height float64
	draw   func(p *pen, y float64)
}

// block draws strips on one sheet, unless they are more than a sheet holds.
func (f *flow) block(strips []strip) {
	var height float64
	for _, s := range strips {
		height += s.height
	}
	if height <= f.body().height() {
		f.need(height)
	}
	for _, s := range strips {
		f.need(s.height)
		s.draw(f.on(), f.y)
		f.y += s.height
	}
}

func (f *flow) textStrips(text string, x, size float64, bold bool) []strip {
	var all []strip
	for _, l := range wrap(text, size, bold, f.body().X1-x, 0) {
		all = append(all, strip{lineHeight(size), func(p *pen, y float64) {
			p.text(Text{At: Point{x, y + ascent*size*Pt}, Text: l, Size: size, Bold: bold})
		}})
	}
	return all
}

func gap(height float64) strip { return strip{height, func(*pen, float64) {}} }

func (f steps) step(step *checklist.Step, m *plan.Mount) {
	j, x := f.job, f.body().X0
	const indent = 7.0
	strips := []strip{{1.2, func(p *pen, y float64) {
		p.line(Point{x, y}, Point{f.body().X1, y}, thin, Solid)
	}}, {lineHeight(large) + 0.6, func(p *pen, y float64) {
		p.box(Box{x + 0.2, y + 0.2, x + 0.2 + tickSize, y + 0.2 + tickSize}, plain, Solid, Empty)
		p.text(Text{At: Point{x + indent, y + 0.3 + ascent*large*Pt}, Text: step.Title, Size: large, Bold: true})
	}}}
	strips = append(strips, f.textStrips(step.Do, x+indent, normal, false)...)
	for _, t := range f.targets(step.ID, m) {
		strips = append(strips, f.textStrips("Plan: "+t, x+indent, normal, true)...)
	}
	for _, id := range step.Cautions {
		text := "Caution: " + joined("", j.cautions(id)...)
		strips = append(strips, f.textStrips(text, x+indent, small, false)...)
	}
	strips = append(strips, f.fieldStrips(step, x+indent)...)
	f.block(append(strips, gap(1.5)))
}

// fieldStrips are the places to write in: numbers side by side, and choices to tick.
func (f steps) fieldStrips(step *checklist.Step, x float64) []strip {
	var all []strip
	var open []string
	flush := func() {
		for names := range slices.Chunk(open, 3) {
			all = append(all, f.blanks(names, x))
		}
		open = nil
	}
	for _, field := range step.Fields {
		label := field.Label
		if field.Optional {
			label += " (if measured)"
		}
		switch {
		case field.Each:
			flush()
			all = append(all, f.textStrips("For each: "+label, x, small, true)...)
			for _, m := range f.job.Plan.Mounts {
				open = append(open, fmt.Sprintf("output %d, %s", m.Output, m.Channel))
			}
			flush()
		case len(field.Options) > 0:
			flush()
			all = append(all, f.options(label, field.Options, x)...)
		default:
			open = append(open, label)
		}
	}
	if step.Kind != "" || len(step.Fields) == 0 {
		open = append(open, "Done by", "Date", "Remark")
	}
	flush()
	return all
}

func (f steps) blanks(names []string, x float64) strip {
	w := (f.body().X1 - x) / 3
	labels, most := make([][]string, len(names)), 1
	for i, name := range names {
		labels[i] = wrap(name, small, false, w-3, 2)
		most = max(most, len(labels[i]))
	}
	line := lineHeight(small)*float64(most) + writeHigh - 2.8
	return strip{line + 0.8, func(p *pen, y float64) {
		for i, lines := range labels {
			at := x + w*float64(i)
			for k, l := range lines {
				p.text(Text{At: Point{at, y + lineHeight(small)*float64(k) + ascent*small*Pt + 0.5}, Text: l, Size: small})
			}
			p.line(Point{at, y + line}, Point{at + w - 3, y + line}, thin, Solid)
		}
	}}
}

// options are the answers of a choice, each with a box.
func (f steps) options(label string, options []checklist.Option, x float64) []strip {
	const box, after = 3.2, 3.0
	type piece struct {
		x    float64
		text string
		tick bool
	}
	lines := [][]piece{nil}
	at := x
	put := func(text string, tick bool) {
		w := textWidth(clean(text), small, !tick) + after
		if tick {
			w += box + 1
		}
		if at+w > f.body().X1 && at > x {
			lines, at = append(lines, nil), x
		}
		lines[len(lines)-1] = append(lines[len(lines)-1], piece{at, text, tick})
		at += w
	}
	put(label+":", false)
	for _, o := range options {
		put(o.Label, true)
	}
	var all []strip
	for _, line := range lines {
		all = append(all, strip{box + 2, func(p *pen, y float64) {
			for _, c := range line {
				text := c.x
				if c.tick {
					p.box(Box{c.x + 0.2, y + 1, c.x + 0.2 + box, y + 1 + box}, thin, Solid, Empty)
					text += box + 1
				}
				p.text(Text{At: Point{text, y + 1.4 + ascent*small*Pt}, Text: cut(c.text, small, !c.tick, f.body().X1-text), Size: small, Bold: !c.tick})
			}
		}})
	}
	return all
}

// targets are what the plan wants at a step, a line each; none where it wants no number.
func (f steps) targets(step string, m *plan.Mount) []string {
	j := f.job
	if m == nil {
		return j.jobTargets(step)
	}
	along, up := j.datum(m.Surface)
	hole := fmt.Sprintf("along %s %s; %s %s %s", j.length(m.Along), along, j.upWord(m.Surface), j.length(m.Up), up)
	switch step {
	case "mark":
		return []string{fmt.Sprintf("%s; within %s each", hole, j.small(j.Plan.Tolerances.Mark))}
	case "level":
		line := fmt.Sprintf("%s %s %s", j.upWord(m.Surface), j.length(m.Up), up)
		if placed, err := j.Plan.PlaceMount(m.Channel); err == nil && !placed.Surface.AlongIsLevel() {
			line = fmt.Sprintf("along %s %s", j.length(m.Along), along)
		}
		return []string{fmt.Sprintf("%s, level within %s", line, words.Degrees(j.Plan.Tolerances.Level))}
	case "studs":
		return []string{hole, "fixing: " + j.fixing(m) + "; into: " + j.intoAt(m)}
	case "drill":
		return j.drillTargets(m)
	case "wire":
		return f.wireTargets(m)
	case "bridges":
		return []string{"links: " + j.bridge(m)}
	case "hang":
		return append([]string{hole}, j.sight(m)...)
	case "polarity":
		return []string{judge.PlannedFeed(m) + " alone"}
	}
	return nil
}

func (j Job) jobTargets(step string) []string {
	p := j.Plan
	switch b := p.Room.Box; {
	case step == "survey" && b != nil:
		return []string{fmt.Sprintf("left to right %s; rear to front %s; floor to ceiling %s", j.length(b.Width), j.length(b.Length), j.length(b.Height))}
	case step == "rack":
		return []string{fmt.Sprintf("circuit of %s A at %s V; %d units", words.Decimals(p.Rack.Circuit, 1), words.Decimals(p.Rack.Voltage, 0), p.Rack.Units)}
	}
	return nil
}

// intoAt says what a mount's screws go into.
func (j Job) intoAt(m *plan.Mount) string {
	placed, err := j.Plan.PlaceMount(m.Channel)
	if err != nil || placed.Surface == nil {
		return "not known"
	}
	var all []string
	for _, h := range j.pattern(m) {
		into := j.into(place.Spot{Along: m.Along + h.Along, Up: m.Up + h.Up}, placed.Surface)
		if !slices.Contains(all, into) {
			all = append(all, into)
		}
	}
	return list(all)
}

// drillTargets are the bit and the depth: the plan's, and what the rules accept.
func (j Job) drillTargets(m *plan.Mount) []string {
	holes := len(j.pattern(m))
	text := fmt.Sprintf("%d holes", holes)
	if holes == 1 {
		text = "1 hole"
	}
	if d := j.pilot(m); d > 0 {
		text += ", bit " + j.bit(d)
	}
	all := []string{text}
	for _, c := range j.drilling(m) {
		if c.Unit == judge.Metre {
			show := j.small
			if c.Name == "drill.pilot" { // bits differ by less than what a tape shows
				show = func(x float64) string { return words.Decimals(x*1000, 2) + " mm" }
			}
			all = append(all, c.Title+": the rule accepts "+span(c.Low, c.High, show))
		}
	}
	return all
}

// span shows the limits of a check.
func span(low, high float64, show func(float64) string) string {
	switch {
	case math.IsInf(high, 1):
		return show(low) + " or more"
	case math.IsInf(low, -1):
		return "at most " + show(high)
	}
	return show(low) + " to " + show(high)
}

func (f steps) wireTargets(m *plan.Mount) []string {
	j := f.job
	all := []string{joined(", ", m.Cable, j.conductor(m), "about "+j.run(m.Route)+" one way"), "from " + judge.PlannedFeed(m)}
	if id := f.labels[m.Channel]; id != "" {
		all[1] += ", labels " + id
	}
	return all
}

func (j Job) conductor(m *plan.Mount) string {
	if c := j.Plan.Cable(m.Cable); c != nil {
		return c.Conductor
	}
	return ""
}

func (j Job) bridge(m *plan.Mount) string {
	model := j.Plan.Model(m.Model)
	if m.Bridge == "" || model == nil {
		return "none in the plan"
	}
	for _, b := range model.Bridges {
		if b.Setting == m.Bridge {
			return fmt.Sprintf("%s: %s; the amplifier then sees %s ohm", b.Setting, b.Does, words.Decimals(b.RatedImpedance, 2))
		}
	}
	return m.Bridge
}

// sight is how the loudspeaker is to hang.
func (j Job) sight(m *plan.Mount) []string {
	s, err := j.Plan.Sight(m.Channel, "")
	if err != nil {
		return nil
	}
	all := []string{fmt.Sprintf("middle of the face %s above the floor, %s from the ear; azimuth %s, elevation %s", j.length(s.Height), j.length(s.Distance), words.Degrees(s.Azimuth), words.Degrees(s.Elevation))}
	if pose, err := j.Plan.Pose(m.Channel); err == nil && m.Bracket != "" {
		all = append(all, fmt.Sprintf("bracket: swing %s, tilt %s", words.Degrees(pose.Swing), words.Degrees(pose.Tilt)))
	}
	return all
}

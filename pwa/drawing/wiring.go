package drawing

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"hangtrue/checklist/plan"
	. "hangtrue/pwa/markup"
)

// A WiringView is how a plan's loudspeakers are fed: a row for every mount, from the
// processor's output by the amplifier's channel along the cable. Rows are in the order
// of amplifiers and their channels, so that no line crosses another; channels that
// nothing hangs on have rows as well. Width is the sheet's, as in [Wall].
type WiringView struct {
	Plan  *plan.Plan
	Width float64
}

const (
	outputAt   = 8.0 // where the outputs' column starts
	outputWide = 40.0
	channelAt  = 66.0
	chanWide   = 40.0
	mountWide  = 62.0
	feedHigh   = 40.0
	freeHigh   = 22.0
)

type wired struct {
	picture
	plan     *plan.Plan
	y        float64
	from, to float64 // of the processor's column
	says     strings.Builder
}

// SVG draws the wiring. It is false when the plan has no mounts and no amplifiers yet.
func (v WiringView) SVG() (Node, bool) {
	if v.Plan == nil || len(v.Plan.Mounts)+len(v.Plan.Amplifiers) == 0 {
		return nil, false
	}
	d := &wired{plan: v.Plan, y: 16}
	d.picture = picture{width: sheetWidth(v.Width), system: v.Plan.Units.System()}
	name := v.Plan.Processor.Name
	if name == "" {
		name = "Processor"
	}
	d.add(El("text", class("device-name"), Attr("x", num(outputAt)), Attr("y", num(d.y)), Attr("font-size", num(normal)), Attr("font-weight", "700"),
		Text(cropped(name, normal*1.1, d.width-2*outputAt))))
	d.y += 8
	d.from = d.y
	device := len(d.marks) // the processor lies under its outputs
	d.marks = append(d.marks, nil)
	done := map[*plan.Mount]bool{}
	for i := range v.Plan.Amplifiers {
		d.amplifier(&v.Plan.Amplifiers[i], done)
	}
	d.others(done)
	d.marks[device] = rect("device", box{outputAt - 4, d.from, outputAt + outputWide, d.y})
	lines, height := d.lines(d.notes(), d.y)
	return d.drawn("wiring-view", "Wiring: outputs, amplifier channels, cables, loudspeakers", strings.TrimSpace(d.says.String()), height, lines), true
}

// amplifier draws one amplifier with a row for each mount on its channels.
func (d *wired) amplifier(a *plan.Amplifier, done map[*plan.Mount]bool) {
	d.heading(a.Name)
	from := d.y
	device := len(d.marks)
	d.marks = append(d.marks, nil)
	var mounts []*plan.Mount
	for i := range d.plan.Mounts {
		if m := &d.plan.Mounts[i]; m.Amplifier == a.Name && !done[m] {
			mounts = append(mounts, m)
			done[m] = true
		}
	}
	sortBy(len(mounts), func(i, j int) bool { return mounts[i].AmpChannel < mounts[j].AmpChannel }, func(i, j int) { mounts[i], mounts[j] = mounts[j], mounts[i] })
	next := 1
	for _, m := range mounts {
		d.free(a.Name, next, m.AmpChannel-1)
		d.feed(m, strconv.Itoa(m.AmpChannel))
		next = max(next, m.AmpChannel+1)
	}
	d.free(a.Name, next, a.Channels)
	d.y += 4
	if d.y > from+4 {
		d.marks[device] = rect("device", box{channelAt - 4, from, channelAt + chanWide + 4, d.y})
	}
}

func (d *wired) heading(text string) {
	d.y += 20
	d.add(El("text", class("device-name"), Attr("x", num(channelAt-4)), Attr("y", num(d.y)), Attr("font-size", num(normal)), Attr("font-weight", "700"),
		Text(cropped(text, normal*1.1, d.width-channelAt-outputAt))))
	d.y += 6
}

// free is one row for channels that nothing hangs on.
func (d *wired) free(amplifier string, from, to int) {
	if from < 1 || to < from {
		return
	}
	text := strconv.Itoa(from)
	if to > from {
		text += "–" + strconv.Itoa(to)
	}
	at := box{channelAt, d.y + 4, channelAt + chanWide, d.y + freeHigh - 2}
	d.add(rect("port free", at))
	d.text("port-name", at, text)
	d.add(note(at.x1+10, at.middle().y+4, "start", "free"))
	fmt.Fprintf(&d.says, "%s channel %s is free. ", amplifier, text)
	d.y += freeHigh
}

// text stands in the middle of a port.
func (d *wired) text(kind string, at box, text string) {
	d.add(El("text", class(kind), Attr("x", num(at.middle().x)), Attr("y", num(at.middle().y+4)), Attr("font-size", num(small)), Attr("text-anchor", "middle"),
		Text(cropped(text, small, at.width()-2))))
}

// feed is a mount's row; channel is empty where no amplifier stands between.
func (d *wired) feed(m *plan.Mount, channel string) {
	y := d.y + feedHigh/2
	out := box{outputAt, y - 11, outputAt + outputWide - 4, y + 11}
	end := box{d.width - outputAt - mountWide, y - 13, d.width - outputAt, y + 13}
	output := "–"
	if m.Output > 0 {
		output = strconv.Itoa(m.Output)
	}
	d.add(rect("port", out))
	d.text("port-name", out, output)
	x := out.x1
	if channel != "" {
		at := box{channelAt, y - 11, channelAt + chanWide, y + 11}
		d.add(line("signal", point{x, y}, point{at.x0, y}), rect("port", at))
		d.text("port-name", at, channel)
		x = at.x1
	}
	kind := "cable"
	if channel == "" {
		kind = "signal"
	}
	d.add(line(kind, point{x, y}, point{end.x0, y}), rect("port mount-port", end))
	d.text("channel", end, m.Channel)
	from := math.Max(x, channelAt+chanWide) + 10
	cable, length := d.run(m)
	for i, text := range []string{cable, length} {
		d.add(note(from, y-5+19*float64(i), "start", cropped(text, small, end.x0-from-6)))
	}
	fmt.Fprintf(&d.says, "%s: ", m.Channel)
	if channel != "" {
		fmt.Fprintf(&d.says, "%s channel %s, ", m.Amplifier, channel)
	}
	fmt.Fprintf(&d.says, "output %s, %s, %s. ", output, cable, length)
	d.y += feedHigh
}

// run says which cable goes to a mount, how long it is and how the links are set.
func (d *wired) run(m *plan.Mount) (cable, length string) {
	cable, length = m.Cable, "length not planned"
	if cable == "" {
		cable = "no cable yet"
	}
	if m.Route > 0 {
		length = metres(m.Route, d.plan.Units)
	}
	if m.Bridge != "" {
		length += ", links " + m.Bridge
	}
	return cable, length
}

// metres shows a length that nobody cuts to the millimetre.
func metres(x float64, u plan.Units) string {
	if u == plan.Imperial {
		return fmt.Sprintf("%.1f ft", x/0.3048)
	}
	return fmt.Sprintf("%.1f m", x)
}

// others are the mounts that hang on no amplifier of the plan.
func (d *wired) others(done map[*plan.Mount]bool) {
	var active, none []*plan.Mount
	for i := range d.plan.Mounts {
		m := &d.plan.Mounts[i]
		model := d.plan.Model(m.Model)
		switch {
		case done[m]:
		case model != nil && model.Active:
			active = append(active, m)
		default:
			none = append(none, m)
		}
	}
	for _, group := range []struct {
		title  string
		mounts []*plan.Mount
	}{{"With amplifiers of their own", active}, {"No amplifier yet", none}} {
		if len(group.mounts) == 0 {
			continue
		}
		d.heading(group.title)
		d.says.WriteString(group.title + ": ")
		list := group.mounts
		sortBy(len(list), func(i, j int) bool { return list[i].Output < list[j].Output }, func(i, j int) { list[i], list[j] = list[j], list[i] })
		for _, m := range group.mounts {
			d.feed(m, "")
		}
	}
}

// notes say what clashes and what is missing or left.
func (d *wired) notes() []string {
	report, err := d.plan.ChannelMap().Check()
	if err != nil {
		return nil
	}
	out := d.wrapped("Numbered: outputs at the left, amplifier channels beside them.", 2)
	if slices.ContainsFunc(d.plan.Mounts, func(m plan.Mount) bool { return m.Bridge != "" }) {
		out = append(out, d.wrapped("Links: the driver bridges on the loudspeaker's back.", 2)...)
	}
	legend := len(out)
	for _, f := range slices.Concat(report.Clashes, report.Gaps) {
		out = append(out, d.wrapped("✕ "+Capital(f.String())+".", 3)...)
	}
	var spare []string
	for _, p := range report.SpareOutputs {
		spare = append(spare, strconv.Itoa(p.Channel))
	}
	if len(spare) > 0 {
		out = append(out, d.wrapped("Free outputs: "+strings.Join(spare, ", ")+".", 3)...)
	}
	for _, text := range out[legend:] {
		d.says.WriteString(text + " ")
	}
	return out
}

package pages

import (
	"fmt"

	"hangtrue/checklist"
	"hangtrue/compute/tape"
	"hangtrue/pwa/drawing"
	. "hangtrue/pwa/markup"
)

// wallPage shows one surface with everything on it, and the same as a table.
func (v view) wallPage(surface string) Document {
	p := v.State.Plan()
	if p == nil {
		return missing("No plan is settled yet.")
	}
	elevation := v.elevation(surface, "")
	if elevation == nil {
		return missing("The plan has no surface of this name.")
	}
	var rows []Node
	for _, m := range p.Mounts {
		if m.Surface != surface {
			continue
		}
		measured, verdict := Text("not yet"), Node(nil)
		if s := v.asBuilt(m.Channel); s != nil {
			measured = Text(tape.Format(s.Along, v.system()) + ", " + tape.Format(s.Up, v.system()))
			verdict = If(s.Outcome != "", verdictWord(s.Outcome, s.Outcome))
		}
		rows = append(rows, El("tr", El("th", Attr("scope", "row"), link(v.path("mounts", m.Channel), m.Channel)),
			El("td", Text(tape.Format(m.Along, v.system()))), El("td", Text(tape.Format(m.Up, v.system()))), El("td", measured, Text(" "), verdict)))
	}
	along, up := v.datum(surface)
	table := El("p", class("quiet"), Text("The plan has no loudspeaker here."))
	if len(rows) > 0 {
		table = El("div", class("scroll"), El("table",
			El("caption", Text(fmt.Sprintf("Reference holes. Along: %s. %s: %s.", along, upWord(surface), up))),
			El("thead", El("tr", El("th", Attr("scope", "col"), Text("Mount")), El("th", Attr("scope", "col"), Text("Along")), El("th", Attr("scope", "col"), Text(upWord(surface))), El("th", Attr("scope", "col"), Text("Measured")))),
			El("tbody", Group(rows...))))
	}
	name := capital(surfaceName(surface))
	return Document{Title: name, Main: Group(
		v.crumbs(""),
		El("div", class("title"), El("h1", Text(name))),
		v.beside(table, elevation),
	)}
}

// elevation draws a surface; channel, if given, is the mount in question.
func (v view) elevation(surface, channel string) Node {
	w := drawing.Wall{Plan: v.State.Plan(), Surface: surface, Channel: channel, Built: map[string]drawing.Spot{}}
	for _, m := range w.Plan.Mounts {
		if m.Surface == surface {
			if s := v.asBuilt(m.Channel); s != nil {
				w.Built[m.Channel] = *s
			}
		}
	}
	svg, ok := w.SVG()
	if !ok {
		return nil
	}
	return El("figure", class("elevation"), Attr("id", "elevation"), svg)
}

// asBuilt is where a mount's reference hole was last measured, by the latest step
// that did.
func (v view) asBuilt(channel string) *drawing.Spot {
	for _, step := range []string{"hang", "mark"} {
		if e := v.State.Evidence(checklist.Key{Step: step, Mount: channel}); e != nil {
			if s := v.spotOf(e.Recording); s != nil {
				s.Outcome = e.Record.Outcome
				return s
			}
		}
	}
	return nil
}

func (v view) spotOf(b checklist.Recording) *drawing.Spot {
	along, up := b.Measured["along_um"], b.Measured["up_um"]
	if len(along) == 0 || len(up) == 0 {
		return nil
	}
	return &drawing.Spot{Along: mean(along), Up: mean(up)}
}

func mean(readings []int64) float64 {
	var sum float64
	for _, r := range readings {
		sum += tape.Metres(r)
	}
	return sum / float64(len(readings))
}

// draftElevation redraws the wall with what is typed just now.
func (v view) draftElevation(k checklist.Key, b checklist.Recording) Node {
	s := v.spotOf(b)
	if s == nil || k.Mount == "" || !drawn[k.Step] {
		return nil
	}
	w := drawing.Wall{Plan: v.State.Plan(), Surface: v.State.Plan().MountByChannel(k.Mount).Surface, Channel: k.Mount, Draft: s}
	svg, ok := w.SVG()
	if !ok {
		return nil
	}
	return svg
}

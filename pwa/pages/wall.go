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
	var rows []Node
	along, up, from := datum(surface)
	for _, m := range p.Mounts {
		if m.Surface != surface {
			continue
		}
		built := Node(nil)
		if mark := v.asBuilt(m.Channel); mark != nil {
			built = Text(tape.Format(mark.Along, v.system()) + ", " + tape.Format(mark.Up, v.system()))
		}
		rows = append(rows, El("tr", El("th", Attr("scope", "row"), link(v.path("mounts", m.Channel), m.Channel)),
			El("td", Text(tape.Format(m.Along, v.system()))), El("td", Text(tape.Format(m.Up, v.system()))), El("td", built)))
	}
	drawn := v.elevation(surface, "", nil)
	if drawn == nil {
		return missing("The plan has no surface of this name.")
	}
	return Document{Title: capital(surfaceName(surface)), Main: Group(
		v.crumbs(),
		El("h1", Text(capital(surfaceName(surface)))),
		drawn,
		El("table",
			El("caption", Text(fmt.Sprintf("Reference holes: along %s, %s %s", along, up, from))),
			El("thead", El("tr", El("th", Attr("scope", "col"), Text("Mount")), El("th", Attr("scope", "col"), Text("Along")), El("th", Attr("scope", "col"), Text(up)), El("th", Attr("scope", "col"), Text("Measured")))),
			El("tbody", Group(rows...))),
	)}
}

// elevation draws a surface; channel, if given, is the mount in question, and
// draft a spot typed just now.
func (v view) elevation(surface, channel string, draft *drawing.Spot) Node {
	w := drawing.Wall{Plan: v.State.Plan(), Surface: surface, Channel: channel, Draft: draft, Built: map[string]drawing.Spot{}}
	for _, m := range v.State.Plan().Mounts {
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
func (v view) draftElevation(step *checklist.Step, k checklist.Key, b checklist.Recording) Node {
	if k.Mount == "" || !placed[step.ID] {
		return nil
	}
	s := v.spotOf(b)
	if s == nil {
		return nil
	}
	w := drawing.Wall{Plan: v.State.Plan(), Surface: v.State.Plan().MountByChannel(k.Mount).Surface, Channel: k.Mount, Draft: s}
	svg, ok := w.SVG()
	if !ok {
		return nil
	}
	return svg
}

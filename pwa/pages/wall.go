package pages

import (
	"fmt"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
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
	var mounts []plan.Mount
	for _, m := range p.Mounts {
		if m.Surface == surface {
			mounts = append(mounts, m)
		}
	}
	along, up := v.datum(surface)
	table := v.mountTable(fmt.Sprintf("Reference holes, along and %s. Along: %s. %s: %s.", p.UpWord(surface), along, v.upWord(surface), up), mounts)
	name := capital(surfaceName(surface))
	return Document{Title: name, Main: Group(
		v.crumbs(""),
		El("div", class("title"), El("h1", Text(name))),
		v.beside(table, elevation),
	)}
}

// mountTable holds where the reference holes are planned and where they were last
// measured.
func (v view) mountTable(caption string, mounts []plan.Mount) Node {
	if len(mounts) == 0 {
		return El("p", class("quiet"), Text("The plan has no loudspeaker here."))
	}
	at := func(along, up float64) Node {
		return Group(El("span", class("n"), Text(tape.Format(along, v.system())+",")), Text(" "), El("span", class("n"), Text(tape.Format(up, v.system()))))
	}
	return El("div", class("scroll"), Attr("role", "region"), Attr("aria-label", "Reference holes"), Attr("tabindex", "0"), El("table",
		El("caption", Text(caption)),
		El("thead", El("tr", Each([]string{"Mount", "Planned", "Measured"}, func(s string) Node {
			return El("th", Attr("scope", "col"), Text(s))
		}))),
		El("tbody", Each(mounts, func(m plan.Mount) Node {
			measured := Text("not yet")
			if s := v.asBuilt(m.Channel); s != nil {
				measured = Group(at(s.Along, s.Up), Text(" "), If(s.Outcome != "", verdictWord(s.Outcome, s.Outcome)))
			}
			return El("tr",
				El("th", Attr("scope", "row"), link(v.path("mounts", m.Channel), m.Channel), El("span", class("on"), Text(surfaceName(m.Surface)))),
				El("td", at(m.Along, m.Up)), El("td", measured))
		}))))
}

// elevation draws a surface; channel, if given, is the mount in question.
func (v view) elevation(surface, channel string) Node {
	w := drawing.Wall{Plan: v.State.Plan(), Surface: surface, Channel: channel, Built: map[string]drawing.Spot{}, Found: v.found(surface)}
	for _, m := range w.Plan.Mounts {
		if m.Surface == surface {
			if s := v.asBuilt(m.Channel); s != nil {
				w.Built[m.Channel] = *s
			}
		}
	}
	v.zone.draw(&w)
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
				if s.Outcome = e.Record.Outcome; e.Concession != nil {
					s.Outcome = "conceded"
				}
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
	surface := v.State.Plan().MountByChannel(k.Mount).Surface
	w := drawing.Wall{Plan: v.State.Plan(), Surface: surface, Channel: k.Mount, Draft: s, Found: v.found(surface)}
	v.elsewhere(k).draw(&w)
	svg, ok := w.SVG()
	if !ok {
		return nil
	}
	return svg
}

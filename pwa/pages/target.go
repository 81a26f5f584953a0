package pages

import (
	"fmt"
	"math"

	"hangtrue/checklist"
	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/compute/tape"
	. "hangtrue/pwa/markup"
	"hangtrue/pwa/words"
)

// A goal is one thing to aim at: a number that is read at arm's length, and from
// where it counts.
type goal struct{ name, value, from string }

// target shows what the plan wants at a step; nil where it wants no number.
func (v view) target(k checklist.Key) Node {
	goals := v.goals(k)
	if len(goals) == 0 {
		return nil
	}
	return El("dl", class("target"), Attr("aria-label", "What the plan wants"), Each(goals, func(g goal) Node {
		return Group(El("dt", Text(g.name)),
			El("dd", El("span", class("big"), Text(g.value)), If(g.from != "", El("span", class("from"), Text(" "+g.from)))))
	}))
}

func (v view) goals(k checklist.Key) []goal {
	if k.Mount == "" {
		return nil
	}
	switch m := v.State.Plan().MountByChannel(k.Mount); k.Step {
	case "mark", "":
		return v.hole(m)
	case "level":
		return v.levelLine(m)
	case "studs":
		return append(v.hole(m), v.behind(m)...)
	case "drill":
		return v.drilling(k)
	case "wire":
		return v.feed(m)
	case "bridges":
		return v.bridge(m)
	case "hang":
		return append(v.hole(m), v.sight(m)...)
	}
	return nil
}

// levelLine is the coordinate that the level line through the reference hole keeps.
func (v view) levelLine(m *plan.Mount) []goal {
	hole := v.hole(m)
	if placed, err := v.State.Plan().PlaceMount(m.Channel); err == nil && !placed.Surface.AlongIsLevel() {
		return hole[:1]
	}
	return hole[1:]
}

func (v view) hole(m *plan.Mount) []goal {
	along, up := v.datum(m.Surface)
	return []goal{
		{"Along", tape.Format(m.Along, v.system()), along},
		{v.upWord(m.Surface), tape.Format(m.Up, v.system()), up},
	}
}

// behind is what the plan says a screw meets, and the fixing it names.
func (v view) behind(m *plan.Mount) []goal {
	var goals []goal
	if placed, err := v.State.Plan().PlaceMount(m.Channel); err == nil {
		f := placed.Surface.Framing
		at, word := m.Along, "along"
		if f.Across {
			at, word = m.Up, "up"
		}
		nearest, off := 0.0, math.Inf(1)
		for _, centre := range f.Members(at-2, at+2) {
			if d := math.Abs(centre - at); d < off {
				nearest, off = centre, d
			}
		}
		if !math.IsInf(off, 1) {
			if word == "up" {
				_, from := v.datum(m.Surface)
				word = from
			} else {
				word, _ = v.datum(m.Surface)
			}
			goals = append(goals, goal{"Stud's middle", tape.Format(nearest, v.system()), "as planned, " + word})
		}
	}
	return append(goals, v.fixing(m))
}

func (v view) fixing(m *plan.Mount) goal {
	g := goal{"Fixing", m.Fixing, ""}
	if f := v.State.Plan().Fixing(m.Fixing); f != nil {
		g.from = f.Kind
		if f.Size != "" {
			g.from += " " + f.Size
		}
		g.from += ", " + v.length(f.Length) + " long"
	}
	return g
}

// drilling is what the rules accept as bit and depth for the fixing that was
// chosen. The limits do not depend on what is drilled, so that any number gets
// them told.
func (v view) drilling(k checklist.Key) []goal {
	checks := v.State.Checks(checklist.Recording{Step: k.Step, Mount: k.Mount,
		Measured: map[string][]int64{"pilot_um": {1}, "depth_um": {1}}, Chosen: map[string]string{}})
	var goals []goal
	for _, c := range checks {
		if c.Unit == judge.Metre {
			goals = append(goals, goal{c.Title, v.wanted(c), v.limits(c)})
		}
	}
	return append(goals, v.holesGoal(k.Mount)...)
}

// wanted is the one number to aim at: the target, or the limit that is given.
func (v view) wanted(c judge.Check) string {
	switch {
	case c.Target != 0 && !math.IsInf(c.Target, 0):
		return v.length(c.Target)
	case !math.IsInf(c.Low, -1):
		return v.length(c.Low)
	}
	return v.length(c.High)
}

// holesGoal says how many holes the bracket has.
func (v view) holesGoal(channel string) []goal {
	p := v.State.Plan()
	m := p.MountByChannel(channel)
	if b := p.Bracket(m.Bracket); b != nil {
		return []goal{{"Holes", fmt.Sprint(max(len(b.Holes), 1)), "for the " + b.Name + "; the drawing shows where"}}
	}
	return nil
}

func (v view) feed(m *plan.Mount) []goal {
	goals := []goal{{"Cable", m.Cable, fmt.Sprintf("about %s one way", tape.Format(m.Route, v.system()))}}
	if c := v.State.Plan().Cable(m.Cable); c != nil {
		goals[0].from = c.Conductor + ", " + goals[0].from
	}
	if m.Amplifier == "" {
		return append(goals, goal{"Feed", fmt.Sprintf("output %d", m.Output), "of " + v.State.Plan().Processor.Name})
	}
	return append(goals, goal{"Feed", fmt.Sprintf("channel %d", m.AmpChannel), "of " + m.Amplifier})
}

func (v view) bridge(m *plan.Mount) []goal {
	if m.Bridge == "" {
		return []goal{{"Links", "none", "this loudspeaker has no links in the plan"}}
	}
	g := goal{"Links", m.Bridge, ""}
	if model := v.State.Plan().Model(m.Model); model != nil {
		for _, b := range model.Bridges {
			if b.Setting == m.Bridge {
				g.from = fmt.Sprintf("%s; the amplifier then sees %g ohm", b.Does, b.RatedImpedance)
			}
		}
	}
	return []goal{g}
}

func (v view) sight(m *plan.Mount) []goal {
	s, err := v.State.Plan().Sight(m.Channel, "")
	if err != nil {
		return nil
	}
	return []goal{
		{"Face", tape.Format(s.Height, v.system()), "from the floor to its middle"},
		{"From the ear", tape.Format(s.Distance, v.system()), fmt.Sprintf("straight to the middle of the face; azimuth %s, elevation %s", words.Degrees(s.Azimuth), words.Degrees(s.Elevation))},
	}
}

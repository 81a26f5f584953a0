package propose

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"hangtrue/checklist/plan"
	"hangtrue/compute/layout"
	"hangtrue/compute/wiring"
)

// Group is a part of the layout that shares its gear.
type Group int

const (
	Screen   Group = iota // at ear height and in front: up to 60° to either side, and what is below
	Surround              // the other ones at ear height
	Height                // all above
	LFE                   // for low-frequency effects
)

var groupNames = [...]string{"screen", "surround", "height", "LFE"}

// String names the group.
func (g Group) String() string { return groupNames[g] }

// Groups are all of them, in the order of [Ask].
var Groups = []Group{Screen, Surround, Height, LFE}

// inFront is how far to the side (radians) a loudspeaker at ear height still belongs to the screen: common practice.
const inFront = 60.5 * math.Pi / 180

// GroupOf is the group of a loudspeaker of a layout.
func GroupOf(s *layout.Loudspeaker) Group {
	switch {
	case s.LFE:
		return LFE
	case strings.HasPrefix(s.Label, "U"), strings.HasPrefix(s.Label, "T"):
		return Height
	case math.Abs(s.Azimuth) <= inFront:
		return Screen
	}
	return Surround
}

// Ask is what a person chose beforehand. What is left out is filled in as [Defaults] does.
type Ask struct {
	Screen, Surround, Height, LFE Gear
	// Keep are channels whose mount stays as the plan has it: placed by hand, or hung already.
	Keep []string
}

// Gear is what a group is hung with: names of the plan, the best first. Each bracket and fixing is tried where it may go.
type Gear struct {
	Model string
	// Wall are the brackets for walls and slopes, Overhead those for ceilings and slopes. With neither the loudspeaker
	// stands on the floor.
	Wall, Overhead []string
	Fixings        []string
	Cables         []string
	Bridge         string // setting of the links on the back; empty: the first one the amplifier may drive
	Stands         bool   // on the floor in spite of brackets
}

// Of is the gear of a group.
func (a *Ask) Of(g Group) *Gear {
	return [...]*Gear{&a.Screen, &a.Surround, &a.Height, &a.LFE}[g]
}

// Defaults are the choices that a plan suggests: what its mounts use already, and where it has none, for a loudspeaker
// the only one, or in the plan's order the first for the screen, the second for the surround group and the lightest for
// the height group. A bracket that says how far it reaches to the sides is for overhead, the others are for walls, unless
// that leaves one of the two without. The fixings and cables are all of the plan's: for a loudspeaker with an amplifier of
// its own the thinnest cable first, else the thickest.
func Defaults(p *plan.Plan) Ask {
	var ask Ask
	for _, g := range Groups {
		*ask.Of(g) = defaults(p, g)
	}
	return ask
}

func defaults(p *plan.Plan, g Group) Gear {
	var gear Gear
	if mounts := mountsOf(p, g); len(mounts) > 0 {
		gear.Model = mounts[0].Model
		gear.Stands = mounts[0].Bracket == "" && g != LFE
	} else {
		gear.Model = usual(p, g)
	}
	if g != LFE {
		for i := range p.Brackets {
			if b := &p.Brackets[i]; b.SideEdge > 0 {
				gear.Overhead = append(gear.Overhead, b.Name)
			} else {
				gear.Wall = append(gear.Wall, b.Name)
			}
		}
		switch {
		case len(gear.Wall) == 0:
			gear.Wall = slices.Clone(gear.Overhead)
		case len(gear.Overhead) == 0:
			gear.Overhead = slices.Clone(gear.Wall)
		}
	}
	for i := range p.Fixings {
		gear.Fixings = append(gear.Fixings, p.Fixings[i].Name)
	}
	for i := range p.Cables {
		gear.Cables = append(gear.Cables, p.Cables[i].Name)
	}
	// Power asks for the thickest, a line signal for the thinnest.
	slices.SortStableFunc(gear.Cables, func(a, b string) int { return cmp.Compare(copper(p, b), copper(p, a)) })
	if m := p.Model(gear.Model); m != nil && m.Active {
		slices.Reverse(gear.Cables)
	}
	// What the group uses already comes first.
	for _, m := range mountsOf(p, g) {
		for _, list := range []struct {
			names []string
			used  string
		}{{gear.Wall, m.Bracket}, {gear.Overhead, m.Bracket}, {gear.Fixings, m.Fixing}, {gear.Cables, m.Cable}} {
			slices.SortStableFunc(list.names, func(a, b string) int { return unlike(a, list.used) - unlike(b, list.used) })
		}
	}
	return gear
}

func unlike(a, b string) int {
	if a == b {
		return 0
	}
	return 1
}

// mountsOf are the plan's mounts that belong to a group.
func mountsOf(p *plan.Plan, g Group) (all []*plan.Mount) {
	l := p.Loudspeakers()
	if l == nil {
		return nil
	}
	for i := range p.Mounts {
		if s, ok := l.Loudspeaker(p.Mounts[i].Channel); ok && GroupOf(s) == g && p.Model(p.Mounts[i].Model) != nil {
			all = append(all, &p.Mounts[i])
		}
	}
	return all
}

// usual is a group's model in a plan without mounts, empty if there is none of the kind.
func usual(p *plan.Plan, g Group) string {
	kind := plan.Loudspeaker
	if g == LFE {
		kind = plan.Subwoofer
	}
	var all []*plan.Model
	for i := range p.Models {
		if p.Models[i].Kind == kind {
			all = append(all, &p.Models[i])
		}
	}
	switch {
	case len(all) == 0:
		return ""
	case g == Surround && len(all) > 1:
		return all[1].Name
	case g == Height:
		return slices.MinFunc(all, func(a, b *plan.Model) int { return whole(a.Mass) - whole(b.Mass) }).Name
	}
	return all[0].Name
}

// copper is a cable's cross-section (m²), 0 where it cannot be told.
func copper(p *plan.Plan, cable string) float64 {
	c, err := wiring.ParseConductor(p.Cable(cable).Conductor)
	if err != nil {
		return 0
	}
	return c.Area()
}

// whole is a quantity in millionths, to compare by.
func whole(x float64) int { return int(math.Round(x * 1e6)) }

// filled puts the defaults where nothing was chosen, and leaves out names that the plan does not have.
func (a Ask) filled(p *plan.Plan) Ask {
	d := Defaults(p)
	for _, g := range Groups {
		gear, usual := a.Of(g), d.Of(g)
		if p.Model(gear.Model) == nil {
			gear.Model = usual.Model
		}
		if len(gear.Wall)+len(gear.Overhead) == 0 && !gear.Stands {
			gear.Wall, gear.Overhead, gear.Stands = usual.Wall, usual.Overhead, usual.Stands
		}
		if len(gear.Fixings) == 0 {
			gear.Fixings = usual.Fixings
		}
		if len(gear.Cables) == 0 {
			gear.Cables = usual.Cables
		}
	}
	return a
}

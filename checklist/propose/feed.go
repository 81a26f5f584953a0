package propose

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"hangtrue/checklist/plan"
	"hangtrue/checklist/workings"
	"hangtrue/compute/place"
	"hangtrue/compute/wiring"
)

// feed deals out outputs, amplifier channels, links and cables, in the layout's order.
func (s *search) feed(all *Proposal) {
	taken := map[int]bool{}
	busy := map[string]map[int]bool{}
	passive, kept := 0, 0
	for i := range s.p.Mounts {
		m := &s.p.Mounts[i]
		if !s.keeps(m.Channel) {
			continue
		}
		taken[m.Output] = true
		if m.Amplifier != "" {
			use(busy, m.Amplifier, m.AmpChannel)
			kept++
		}
	}
	for i := range all.Spots {
		if model := s.p.Model(all.Spots[i].Mount.Model); !model.Active {
			passive++
		}
	}
	total := 0
	for _, a := range s.p.Amplifiers {
		total += a.Channels
	}
	next := 1
	for i := range s.layout.Loudspeakers {
		label := s.layout.Loudspeakers[i].Label
		if s.keeps(label) {
			continue
		}
		for taken[next] {
			next++
		}
		// A channel without a spot keeps its output, so that the others need not change once it has one.
		output := next
		next++
		k := slices.IndexFunc(all.Spots, func(x Spot) bool { return x.Mount.Channel == label })
		if k < 0 {
			continue
		}
		spot := &all.Spots[k]
		switch outputs := s.p.Processor.Outputs; {
		case outputs == 0:
			spot.Open = append(spot.Open, "The plan has no processor yet, so there is no output for it.")
		case output > outputs:
			spot.Open = append(spot.Open, fmt.Sprintf("No output is left for it: the processor has %d, and the layout asks for %d loudspeakers.", outputs, len(s.layout.Loudspeakers)))
		default:
			spot.Mount.Output = output
		}
		s.amplify(spot, busy, passive+kept, total)
		s.fixed(spot)
		s.cable(spot)
	}
}

func use(busy map[string]map[int]bool, amplifier string, channel int) {
	if busy[amplifier] == nil {
		busy[amplifier] = map[int]bool{}
	}
	busy[amplifier][channel] = true
}

// amplify finds the first free amplifier channel that may drive the loudspeaker, with the links as chosen or in the first
// setting it may drive.
func (s *search) amplify(spot *Spot, busy map[string]map[int]bool, passive, total int) {
	m := &spot.Mount
	model := s.p.Model(m.Model)
	if model.Active {
		spot.Why = append(spot.Why, "It has an amplifier of its own: it is fed from the output.")
		return
	}
	settings := []string{""}
	if len(model.Bridges) > 0 {
		settings = nil
		for i := range model.Bridges {
			settings = append(settings, model.Bridges[i].Setting)
		}
		if chosen := s.gearOf(m.Channel).Bridge; slices.Contains(settings, chosen) {
			settings = []string{chosen}
		}
		m.Bridge = settings[0]
	}
	free := false
	for i := range s.p.Amplifiers {
		a := &s.p.Amplifiers[i]
		for channel := 1; channel <= a.Channels; channel++ {
			if busy[a.Name][channel] {
				continue
			}
			free = true
			for _, setting := range settings {
				rated, _, _ := model.Load(setting)
				carries, known, err := wiring.Source{LeastLoad: a.LeastLoad}.Carries(rated)
				if err != nil || known && !carries {
					continue
				}
				m.Amplifier, m.AmpChannel, m.Bridge = a.Name, channel, setting
				use(busy, a.Name, channel)
				if len(model.Bridges) > 0 {
					spot.Why = append(spot.Why, fmt.Sprintf("Links on the back: %s, a load of %.3g ohm, which %s may drive.", setting, rated, a.Name))
				}
				return
			}
			break // the other channels of this amplifier drive no more
		}
	}
	switch {
	case total == 0:
		spot.Open = append(spot.Open, "The plan has no amplifier yet, so there is no channel for it.")
	case free:
		spot.Open = append(spot.Open, "No free amplifier channel may drive so low a load. Open the links if there are any, or add an amplifier that may.")
	default:
		spot.Open = append(spot.Open, fmt.Sprintf("No amplifier channel is left for it: %d loudspeakers need one, and the amplifiers have %d.", passive, total))
	}
}

func (s *search) gearOf(channel string) *Gear {
	at, ok := s.layout.Loudspeaker(channel)
	if !ok {
		return &Gear{}
	}
	return s.ask.Of(GroupOf(at))
}

// fixed says what is missing of what holds the bracket.
func (s *search) fixed(spot *Spot) {
	m := &spot.Mount
	if m.Bracket == "" || m.Fixing != "" {
		return
	}
	spot.Open = append(spot.Open, fmt.Sprintf("The plan does not say what is behind %s: find out, and choose the fixing for it.", s.titleOf(m.Surface)))
}

func (s *search) titleOf(surface string) string {
	for i := range s.sides {
		if s.sides[i].Name == surface {
			return s.sides[i].title
		}
	}
	return surface
}

// cable takes the first of the chosen cables that loses no more than the plan allows.
func (s *search) cable(spot *Spot) {
	m := &spot.Mount
	m.Route = s.route(m)
	limit := s.p.Tolerances.CableLoss / 100
	says := "The plan has no cable for it yet."
	for _, name := range s.gearOf(m.Channel).Cables {
		if s.p.Cable(name) == nil {
			continue
		}
		if m.Cable == "" {
			m.Cable, says = name, ""
		}
		if s.p.Model(m.Model).Active || !(limit > 0) {
			break
		}
		a, err := s.p.AssessRun(m, name, m.Route, m.Bridge)
		if err != nil {
			continue
		}
		if a.WithinLimit {
			m.Cable, says = name, ""
			break
		}
		if m.Cable == name {
			says = fmt.Sprintf("%s is too thin for a way of %.1f m: its resistance is %.1f %% of the load, and the plan allows %.1f %%. Take a thicker one.",
				name, m.Route, a.Fraction*100, limit*100)
		}
	}
	if says != "" {
		spot.Open = append(spot.Open, says)
	}
}

// route is about how long the cable's way is (metres): along the edges of a box room, else along its axes; rounded up to
// a tenth.
func (s *search) route(m *plan.Mount) float64 {
	trial := *s.p
	trial.Mounts = []plan.Mount{*m}
	way, err := workings.EstimateRoute(&trial, m)
	if err != nil || way <= 0 {
		from := s.p.Rack.Place
		to := place.Vec{}
		if on, err := trial.PlaceMount(m.Channel); err == nil {
			to = on.Surface.At(on.Hole)
		}
		way = math.Abs(to.X-from[0]) + math.Abs(to.Y-from[1]) + math.Abs(to.Z-from[2])
	}
	return math.Max(math.Ceil(way*10-1e-6)/10, 0.1)
}

// sentence makes one of a phrase.
func sentence(phrase string) string {
	if phrase == "" {
		return ""
	}
	return strings.ToUpper(phrase[:1]) + phrase[1:] + "."
}

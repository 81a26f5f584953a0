package workings

import (
	"errors"
	"fmt"
	"math"

	"hangtrue/checklist/plan"
	"hangtrue/compute/figure"
	"hangtrue/compute/place"
	"hangtrue/compute/wiring"
)

// A FeedSheet is how a plan's loudspeakers are fed.
type FeedSheet struct {
	Clashes, Gaps               []wiring.Finding
	SpareChannels, SpareOutputs []wiring.Port
	Feeds                       []Feed // in the order of the plan's mounts
	ToBuy                       []Purchase
	Cautions                    []wiring.Caution // about cable in walls
}

// A Feed is the way to one mount. Lengths are metres, one way.
type Feed struct {
	Channel    string
	Output     int
	Amplifier  string // empty for an active loudspeaker
	AmpChannel int
	Cable      string
	Conductor  string
	Bridge     string // the planned setting of the links, "" where there are none
	Route      float64
	// Estimate is a way along the edges of a box room; 0 where the room is no box or
	// no way was found. Short tells that the plan's length is less, by whole millimetres.
	Estimate float64
	Short    bool
	// Run is what cable and links come to; nil for an active loudspeaker, whose cable
	// carries a line signal.
	Run *wiring.Assessment
	// Settings are the loads with each setting of the links, the planned one among them.
	Settings []Setting
	Labels   [2]wiring.Label // source end first
	Figures  []figure.Figure
}

// A Setting is what the amplifier sees with the links on the back set in one way.
type Setting struct {
	Name, Does   string
	Rated, Least float64 // ohms
	// Carries tells whether the amplifier may drive it; it means nothing unless Known.
	Carries, Known bool
	Planned        bool
}

// A Purchase is what to buy of one type of cable.
type Purchase struct {
	wiring.Order
	Conductor string
	Figure    figure.Figure
}

// Feeds works out the channel map, the cables and the loads of a plan. Errors are
// [ErrPlan], [plan.ErrUnknown] and those of package wiring, with the mount's name.
func Feeds(p *plan.Plan) (*FeedSheet, error) {
	if p == nil {
		return nil, ErrPlan
	}
	ways := p.ChannelMap()
	report, err := ways.Check()
	if err != nil {
		return nil, of("channel map", err)
	}
	out := &FeedSheet{Clashes: report.Clashes, Gaps: report.Gaps, SpareChannels: report.SpareChannels, SpareOutputs: report.SpareOutputs,
		Cautions: wiring.Cautions()}
	labels, err := ways.Labels()
	if err != nil {
		return nil, of("labels", err)
	}
	for i := range p.Mounts {
		f, err := feed(p, &p.Mounts[i])
		if err != nil {
			return nil, err
		}
		for _, l := range labels {
			if l.To == f.Channel {
				f.Labels[map[wiring.End]int{wiring.SourceEnd: 0, wiring.LoudspeakerEnd: 1}[l.End]] = l
			}
		}
		out.Feeds = append(out.Feeds, f)
	}
	out.ToBuy, err = toBuy(p)
	return out, err
}

func feed(p *plan.Plan, m *plan.Mount) (Feed, error) {
	at := "mount " + m.Channel
	model, err := modelOf(p, m)
	if err != nil {
		return Feed{}, err
	}
	kind := p.Cable(m.Cable)
	if kind == nil {
		return Feed{}, of(at, fmt.Errorf("%w: cable %q", plan.ErrUnknown, m.Cable))
	}
	f := Feed{Channel: m.Channel, Output: m.Output, Amplifier: m.Amplifier, AmpChannel: m.AmpChannel,
		Cable: m.Cable, Conductor: kind.Conductor, Bridge: m.Bridge, Route: m.Route}
	if !model.Active {
		a, err := p.AssessRun(m, m.Cable, m.Route, m.Bridge)
		if err != nil {
			return Feed{}, of(at, err)
		}
		f.Run, f.Figures = &a, a.Figures
		if f.Settings, err = Settings(p, m); err != nil {
			return Feed{}, err
		}
	}
	estimate, err := EstimateRoute(p, m)
	switch {
	case errors.Is(err, wiring.ErrNoRoute), errors.Is(err, wiring.ErrOutside), errors.Is(err, wiring.ErrLength):
		return f, nil // no way that can be told: nothing is said about one
	case err != nil:
		return Feed{}, of(at, err)
	case estimate > 0:
		f.Estimate = estimate
		f.Short = math.Round(m.Route*1e3) < math.Round(estimate*1e3)
		f.Figures = append(f.Figures, routeFigure(p, m, estimate))
	}
	return f, nil
}

// Settings are the loads that an amplifier sees with each setting of a mount's
// links; none for a loudspeaker without links. Errors are as for [Feeds].
func Settings(p *plan.Plan, m *plan.Mount) ([]Setting, error) {
	model, err := modelOf(p, m)
	if err != nil || model.Active {
		return nil, err
	}
	source := wiring.Source{}
	if a := p.Amplifier(m.Amplifier); a != nil {
		source.LeastLoad = a.LeastLoad
	}
	var all []Setting
	for _, b := range model.Bridges {
		s := Setting{Name: b.Setting, Does: b.Does, Rated: b.RatedImpedance, Least: b.LeastImpedance, Planned: b.Setting == m.Bridge}
		if s.Carries, s.Known, err = source.Carries(b.RatedImpedance); err != nil {
			return nil, of("mount "+m.Channel+", links "+b.Setting, err)
		}
		all = append(all, s)
	}
	return all, nil
}

// EstimateRoute is how long the way of a cable is (metres) from the rack to the
// reference hole of one of the plan's mounts, along the edges of a box room and not
// across a doorway; 0 where the room is no box. Errors are those of
// [plan.Plan.PlaceMount] and [wiring.BoxRoute].
func EstimateRoute(p *plan.Plan, m *plan.Mount) (float64, error) {
	box := p.Room.Box
	if box == nil {
		return 0, nil
	}
	mount, err := p.PlaceMount(m.Channel)
	if err != nil {
		return 0, err
	}
	path, err := wiring.BoxRoute(place.Vec{X: box.Width, Y: box.Length, Z: box.Height}, rackPlace(p), mount.Surface.At(mount.Hole), doorways(p)...)
	return path.Length, err
}

func rackPlace(p *plan.Plan) place.Vec {
	at := p.Rack.Place
	return place.Vec{X: at[0], Y: at[1], Z: at[2]}
}

// doorways are the stretches of floor edge that an opening down to the floor takes.
func doorways(p *plan.Plan) []wiring.Stretch {
	surfaces, err := p.Surfaces()
	if err != nil {
		return nil
	}
	var all []wiring.Stretch
	for i := range surfaces {
		s := &surfaces[i]
		if s.Up != (place.Vec{Z: 1}) || s.Origin.Z != 0 {
			continue
		}
		for _, a := range s.Openings {
			if a.Min.Up <= 0 {
				all = append(all, wiring.Stretch{A: s.At(place.Spot{Along: a.Min.Along}), B: s.At(place.Spot{Along: a.Max.Along})})
			}
		}
	}
	return all
}

func routeFigure(p *plan.Plan, m *plan.Mount, estimate float64) figure.Figure {
	f := figure.Figure{Name: "cable route, estimated", Formula: "the shortest way along the edges of the box room, round doorways",
		Source: "this program's own estimate; a real cable takes a real way", Mark: figure.Derived, Value: estimate, Unit: "m"}
	mount, err := p.PlaceMount(m.Channel)
	if err != nil {
		return f
	}
	for _, end := range []struct {
		name string
		at   place.Vec
	}{{"rack", rackPlace(p)}, {"reference hole", mount.Surface.At(mount.Hole)}} {
		f.Inputs = append(f.Inputs, figure.Input{Name: end.name + ", x", Value: end.at.X, Unit: "m"},
			figure.Input{Name: end.name + ", y", Value: end.at.Y, Unit: "m"}, figure.Input{Name: end.name + ", z", Value: end.at.Z, Unit: "m"})
	}
	return f
}

// toBuy adds up the plan's routes by type of cable, with the usual slack.
func toBuy(p *plan.Plan) ([]Purchase, error) {
	var cuts []wiring.Cut
	for i := range p.Mounts {
		cuts = append(cuts, wiring.Cut{Cable: p.Mounts[i].Cable, Length: p.Mounts[i].Route})
	}
	slack := wiring.UsualSlack()
	orders, err := wiring.ToBuy(cuts, slack, nil)
	if err != nil {
		return nil, of("cable to buy", err)
	}
	var all []Purchase
	for _, o := range orders {
		all = append(all, Purchase{Order: o, Conductor: p.Cable(o.Cable).Conductor, Figure: figure.Figure{
			Name: "cable to buy, " + o.Cable, Formula: "ΣL·(1 + f) + n·e", Source: "the plan's routes and the usual slack", Mark: figure.CommonPractice,
			Inputs: []figure.Input{{Name: "ΣL, routes together", Value: o.Net, Unit: "m"}, {Name: "f, slack as a part of the route", Value: slack.Fraction},
				{Name: "n, runs", Value: float64(o.Runs)}, {Name: "e, for both ends of a run", Value: slack.Ends, Unit: "m"}},
			Value: o.Total, Unit: "m",
		}})
	}
	return all, nil
}

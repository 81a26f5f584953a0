package checklist

import (
	"fmt"
	"hash/fnv"

	"hangtrue/checklist/plan"
	"hangtrue/checklist/strict"
)

// inputs are the named parts of a plan that a step can rest on: what each gives
// is what it reads of the plan, and two plans that give the same are the same to
// the step.
var inputs = map[string]func(p *plan.Plan, m *plan.Mount) []any{
	"room":    func(p *plan.Plan, _ *plan.Mount) []any { return []any{p.Room} },
	"spot":    func(p *plan.Plan, m *plan.Mount) []any { return []any{spot{m.Surface, m.Along, m.Up, m.Stand}} },
	"model":   func(p *plan.Plan, m *plan.Mount) []any { return []any{p.Model(m.Model)} },
	"bracket": func(p *plan.Plan, m *plan.Mount) []any { return []any{p.Bracket(m.Bracket)} },
	"fixing":  func(p *plan.Plan, m *plan.Mount) []any { return []any{p.Fixing(m.Fixing)} },
	"aim": func(p *plan.Plan, m *plan.Mount) []any {
		return []any{aim{p.Layout, *p.Position(m.AimAt), *p.Primary(), p.Tolerances}}
	},
	"feed": func(p *plan.Plan, m *plan.Mount) []any {
		return []any{feed{m.Output, m.Amplifier, m.AmpChannel, m.Cable, m.Route, p.Tolerances.CableLoss}, p.Cable(m.Cable), p.Amplifier(m.Amplifier)}
	},
	"bridge": func(_ *plan.Plan, m *plan.Mount) []any { return []any{bridge{m.Bridge}} },
	"rack":   func(p *plan.Plan, _ *plan.Mount) []any { return []any{rack{p.Rack, p.Amplifiers, p.Processor}} },
	"channels": func(p *plan.Plan, _ *plan.Mount) []any {
		all := make([]any, len(p.Mounts))
		for i, m := range p.Mounts {
			all[i] = feed{Output: m.Output, Amplifier: m.Amplifier, Channel: m.AmpChannel}
		}
		return all
	},
	"mounts": func(p *plan.Plan, _ *plan.Mount) []any { return []any{mounts{p.Mounts, p.Listening}} },
}

type aim struct {
	Layout     string          `json:"layout"`
	At         plan.Listening  `json:"at"`
	Primary    plan.Listening  `json:"primary"`
	Tolerances plan.Tolerances `json:"tolerances"`
}

type bridge struct {
	Setting string `json:"setting"`
}

type rack struct {
	Rack       plan.Rack        `json:"rack"`
	Amplifiers []plan.Amplifier `json:"amplifiers"`
	Processor  plan.Processor   `json:"processor"`
}

type mounts struct {
	Mounts    []plan.Mount     `json:"mounts"`
	Listening []plan.Listening `json:"listening"`
}

type spot struct {
	Surface string  `json:"surface"`
	Along   float64 `json:"along_m"`
	Up      float64 `json:"up_m"`
	Stand   float64 `json:"stand_m"`
}

type feed struct {
	Output    int     `json:"output"`
	Amplifier string  `json:"amplifier"`
	Channel   int     `json:"channel"`
	Cable     string  `json:"cable"`
	Route     float64 `json:"route_m"`
	Loss      float64 `json:"loss_percent"`
}

// fingerprint is what the step's plan inputs come to: equal while none of them
// changed. Lengths count in whole micrometres, as the plan document writes them.
func fingerprint(s *Step, p *plan.Plan, m *plan.Mount) uint64 {
	h := fnv.New64a()
	for _, name := range s.Inputs {
		for _, part := range inputs[name](p, m) {
			text, err := strict.Encode(part)
			if err != nil {
				text = []byte(err.Error()) // cannot be encoded twice alike: still one text
			}
			fmt.Fprintf(h, "%s\x00%s\x00", name, text)
		}
	}
	return h.Sum64()
}

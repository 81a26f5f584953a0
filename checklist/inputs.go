package checklist

import (
	"fmt"
	"hash/fnv"
	"io"

	"hangtrue/checklist/plan"
)

// inputs are the named parts of a plan that a step can rest on. Each writes what
// it reads of the plan, lengths as whole micrometres, and two plans that write
// the same are the same to the step.
var inputs = map[string]func(w io.Writer, p *plan.Plan, m *plan.Mount){
	"room": func(w io.Writer, p *plan.Plan, _ *plan.Mount) {
		fmt.Fprintf(w, "%+v", p.Room)
	},
	"spot": func(w io.Writer, p *plan.Plan, m *plan.Mount) {
		fmt.Fprintf(w, "%s %d %d %d", m.Surface, um(m.Along), um(m.Up), um(p.Tolerances.Mark))
	},
	"model": func(w io.Writer, p *plan.Plan, m *plan.Mount) {
		fmt.Fprintf(w, "%+v", rounded(p.Model(m.Model)))
	},
	"bracket": func(w io.Writer, p *plan.Plan, m *plan.Mount) {
		fmt.Fprintf(w, "%+v", rounded(p.Bracket(m.Bracket)))
	},
	"fixing": func(w io.Writer, p *plan.Plan, m *plan.Mount) {
		fmt.Fprintf(w, "%+v", rounded(p.Fixing(m.Fixing)))
	},
	"aim": func(w io.Writer, p *plan.Plan, m *plan.Mount) {
		fmt.Fprintf(w, "%s %s %+v %+v", p.Layout, m.AimAt, rounded(p.Listening), rounded(p.Tolerances))
	},
	"feed": func(w io.Writer, p *plan.Plan, m *plan.Mount) {
		fmt.Fprintf(w, "%d %s %d %s %d %+v %+v %d", m.Output, m.Amplifier, m.AmpChannel, m.Cable, um(m.Route),
			rounded(p.Cable(m.Cable)), rounded(p.Amplifier(m.Amplifier)), um(p.Tolerances.CableLoss))
	},
	"bridge": func(w io.Writer, _ *plan.Plan, m *plan.Mount) {
		fmt.Fprint(w, m.Bridge)
	},
	"rack": func(w io.Writer, p *plan.Plan, _ *plan.Mount) {
		fmt.Fprintf(w, "%+v %+v %+v", rounded(p.Rack), rounded(p.Amplifiers), rounded(p.Processor))
	},
	"channels": func(w io.Writer, p *plan.Plan, _ *plan.Mount) {
		for _, m := range p.Mounts {
			fmt.Fprintf(w, "%s %d %s %d;", m.Channel, m.Output, m.Amplifier, m.AmpChannel)
		}
	},
	"mounts": func(w io.Writer, p *plan.Plan, _ *plan.Mount) {
		fmt.Fprintf(w, "%+v %+v", rounded(p.Mounts), rounded(p.Listening))
	},
}

// fingerprint is what the step's plan inputs come to: equal while none of them changed.
func fingerprint(s *Step, p *plan.Plan, m *plan.Mount) uint64 {
	h := fnv.New64a()
	for _, name := range s.Inputs {
		io.WriteString(h, name)
		inputs[name](h, p, m)
		h.Write([]byte{0})
	}
	return h.Sum64()
}

package paper

import (
	"fmt"

	"hangtrue/checklist/workings"
	"hangtrue/compute/wiring"
)

// cable is one run of the cable list.
type cable struct {
	id, channel, from, to, kind, conductor string
	route                                  float64 // metres, one way
}

// cableRuns are all runs, in the order of the plan's mounts, with the labels of package
// wiring. The error is why there are none; it names the part of the plan.
func (j Job) cableRuns() ([]cable, error) {
	sheet, err := workings.Feeds(j.Plan)
	if err != nil {
		return nil, err
	}
	var all []cable
	for _, x := range sheet.Feeds {
		l := x.Labels[0]
		c := cable{id: l.ID, channel: x.Channel, from: l.From, to: l.To, kind: x.Cable, conductor: x.Conductor, route: x.Route}
		if c.id == "" {
			c.from, c.to = "not fed yet", x.Channel
		}
		all = append(all, c)
	}
	return all, nil
}

// Cables is the list of every cable: what it is, from where to where, how long, with
// room to write what was run.
func (j Job) Cables(size Size) Document {
	f := j.flow(size, "cables", "Cable list")
	runs, err := j.cableRuns()
	if err != nil {
		f.notFrom(err)
		return f.finish()
	}
	f.para("Each cable has its identifier on both ends. Lengths are one way along the plan's route, without slack.", normal, false)
	f.cautions(append(j.cautions("amplifier-off", "in-wall"), wiring.LocalCode))
	columns := []column{{head: "Cable", weight: 14}, {head: "Channel", weight: 18}, {head: "From", weight: 30}, {head: "To", weight: 24},
		{head: "Kind", weight: 40}, {head: "Route", weight: 16, right: true}, {head: "Length run", weight: 20}, {head: "Labels on", weight: 14}, {head: "Read back", weight: 14}}
	var rows [][]cell
	for _, c := range runs {
		rows = append(rows, append(plainCells(c.id, c.channel, c.from, c.to, joined(", ", c.kind, c.conductor), j.run(c.route)),
			cell{blank: true}, cell{tick: true}, cell{tick: true}))
		rows[len(rows)-1][0].bold = true
	}
	f.table(columns, rows)
	f.para(names(j), small, false)
	f.fields("Run by", "Date")
	return f.finish()
}

// names explains short names of amplifiers, where the labels use them.
func names(j Job) string {
	short := false
	for _, a := range j.Plan.Amplifiers {
		short = short || len([]rune(a.Name)) > wiring.MaxAmpName
	}
	if !short {
		return ""
	}
	text := "Amplifiers on the labels:"
	for i, a := range j.Plan.Amplifiers {
		sep := ","
		if i == 0 {
			sep = ""
		}
		text += fmt.Sprintf("%s A%d is %s", sep, i+1, a.Name)
	}
	return text + "."
}

// notFrom says why a list cannot be made from this plan.
func (f *flow) notFrom(err error) {
	f.para("This cannot be worked out from the plan: "+err.Error()+".", normal, false)
}

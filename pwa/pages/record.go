package pages

import (
	"fmt"

	"hangtrue/checklist"
	. "hangtrue/pwa/markup"
)

// recordPage shows what was done, mount by mount, and every sign-off and seal.
func (v view) recordPage() Document {
	s := v.State
	return Document{Title: "Record of " + s.Title, Main: Group(
		v.crumbs(),
		El("h1", Text("Record")),
		v.signatures(),
		El("p", El("a", class("button"), Attr("href", v.path("record.json")), Attr("download", ""), Attr("data-plain", ""), Text("Download the record file")),
			El("span", class("quiet"), Text(" Anyone can check it without a network: hangtrue verify FILE"))),
		El("h2", Text("Plan")),
		v.planSummary(),
		Each(s.Mounts(), v.mountRecord),
		El("h2", Text("The whole job")),
		Each(s.Template.Steps, func(step *checklist.Step) Node {
			if step.Scope != checklist.PerJob || step.Kind != checklist.StepRecorded {
				return nil
			}
			return v.stepRecord(checklist.Key{Step: step.ID})
		}),
		v.refused(),
		v.log(),
	)}
}

func (v view) signatures() Node {
	s := v.State
	if len(s.Signatures) == 0 {
		return El("p", class("notice"), Text("Not signed off yet."))
	}
	return El("ul", class("signatures"), Each(s.Signatures, func(g checklist.Signature) Node {
		since := "It stands for the job as it is."
		if g.Since > 0 {
			since = fmt.Sprintf("%s came after it.", plural(g.Since, "entry", "entries"))
		}
		at := fmt.Sprintf("entry %d of the log", g.Record.Position)
		if g.Record.Position == 0 {
			at = "not sent yet"
		}
		return El("li",
			El("strong", Text(fmt.Sprintf("Signed off by %s: revision %d, %s.", g.Record.Entry.Who, g.Signing.Revision, at))),
			El("p", Text("That phone's clock: "+clock(g.Record.Entry.Clock)+". Server's clock: "+clock(g.Record.Received)+". "+since)),
			If(g.Signing.Remark != "", El("p", Text(g.Signing.Remark))))
	}), Each(v.Seals, func(seal string) Node {
		return El("li", El("details", El("summary", Text("Seal")), El("pre", class("seal"), Text(seal))))
	}))
}

func (v view) mountRecord(channel string) Node {
	var keys []checklist.Key
	for _, k := range v.State.Keys() {
		if k.Mount == channel {
			keys = append(keys, k)
		}
	}
	return Group(
		El("h2", Text(channel)),
		El("p", class("quiet"), Text(v.where(channel)+".")),
		Each(keys, v.stepRecord),
	)
}

// stepRecord is one step in the record: what it came to, by whom, and the numbers
// when opened.
func (v view) stepRecord(k checklist.Key) Node {
	s := v.State
	step := s.Template.Step(k.Step)
	e := s.Evidence(k)
	head := El("span", El("strong", Text(step.Title)), Text(" "), chip(s.Status(k)))
	if e == nil {
		return El("p", class("step"), head)
	}
	by := e.Record.Entry.Who + ", " + clock(e.Record.Entry.Clock)
	if e.Concession != nil {
		by += ". Conceded by " + e.Concession.Entry.Who + ": " + e.Reason
	}
	return El("details", class("step"),
		El("summary", head, El("span", class("quiet"), Text(" "+by))),
		v.recorded(step, e.Recording),
		v.checkList(s.Checks(e.Recording)))
}

func (v view) refused() Node {
	if len(v.State.Refused) == 0 {
		return nil
	}
	return Group(
		El("h2", Text("Refused entries")),
		El("p", Text("These were kept, but a rule did not let them count.")),
		El("ul", class("history"), Each(v.State.Refused, func(r checklist.Record) Node {
			return El("li", Text(fmt.Sprintf("%s, %s: %s. %s", clock(r.Entry.Clock), r.Entry.Who, v.entryName(r.Entry), r.Reason)))
		})))
}

func (v view) log() Node {
	return El("p", class("quiet"), Text(fmt.Sprintf("The log has %d entries. Order is their place in the log; clocks are shown as each device had them.", v.State.Head)))
}

package pages

import (
	"fmt"
	"strings"

	"hangtrue/checklist"
	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	. "hangtrue/pwa/markup"
	"hangtrue/pwa/words"
)

// recordPage is what somebody opens years later: who signed what, what was left
// off plan and why, where every loudspeaker really is, and then everything that
// was written down.
func (v view) recordPage() Document {
	s := v.State
	return Document{Title: "Record of " + s.Title, Main: Group(
		v.crumbs(""),
		El("div", class("title"), El("h1", Text("Record of "+s.Title))),
		v.signatures(),
		El("p", El("a", class("button"), Attr("href", v.path("record.json")), Attr("download", ""), Attr("data-plain", ""), Text("Download the record file"))),
		El("p", class("quiet"), Text("Anyone can check the file without a network: "), El("code", Text("hangtrue verify FILE"))),
		v.photoCount(),
		v.offPlan(),
		v.asBuiltTable(),
		El("h2", Text("Plan")),
		v.planSummary(),
		v.planRemark(),
		Each(s.Mounts(), v.mountRecord),
		El("h2", Text("The whole job")),
		Each(s.Template.Steps, func(step *checklist.Step) Node {
			if step.Scope != checklist.PerJob || step.Kind != checklist.StepRecorded || s.Plan() == nil {
				return nil
			}
			return v.stepRecord(checklist.Key{Step: step.ID})
		}),
		v.remarks(),
		v.refused(),
		El("h2", Text("The log")),
		El("p", class("quiet"), Text(fmt.Sprintf("The log has %s. Order is their place in the log; clocks are shown as each device had them.", plural(int(s.Head), "entry", "entries")))),
	)}
}

func (v view) signatures() Node {
	s := v.State
	if len(s.Signatures) == 0 {
		done, all := s.Progress()
		return El("div", class("notice"), El("p", El("strong", Text("Not signed off. ")), Text(fmt.Sprintf("%d of %s done. ", done, plural(all, "step is", "steps are"))), link(v.path("steps", "sign"), "What sign-off waits for"), Text(".")))
	}
	return El("ul", class("signatures"), Each(s.Signatures, func(g checklist.Signature) Node {
		since := "It stands for the job as it is."
		if g.Since > 0 {
			since = fmt.Sprintf("%s came after it.", plural(g.Since, "entry", "entries"))
		}
		at, received := fmt.Sprintf("entry %d of the log", g.Record.Position), " Server's clock: "+words.Clock(g.Record.Received)+"."
		if g.Record.Position == 0 {
			at, received = "not sent yet", ""
		}
		return El("li",
			El("p", signed("done", "✓", "Signed off"), El("strong", Text(fmt.Sprintf(" by %s: revision %d, %s.", g.Record.Entry.Who, g.Signing.Revision, at)))),
			El("p", Text(since+" That phone's clock: "+words.Clock(g.Record.Entry.Clock)+"."+received)),
			If(g.Signing.Remark != "", El("p", Text(g.Signing.Remark))))
	}), Each(v.Seals, func(seal string) Node {
		return El("li", El("details", El("summary", Text("Seal")), El("pre", class("seal"), Text(seal))))
	}))
}

// offPlan lists every concession with its reason.
func (v view) offPlan() Node {
	var items []Node
	for _, k := range v.State.Keys() {
		if e := v.State.Evidence(k); e != nil && e.Concession != nil {
			items = append(items, El("li", link(v.stepPath(k), v.stepName(k)), Text(": "+e.Reason+" "),
				El("span", class("quiet"), Text("("+e.Concession.Entry.Who+", "+words.Clock(e.Concession.Entry.Clock)+")"))))
		}
	}
	if len(items) == 0 {
		return nil
	}
	return Group(El("h2", Text("Left off plan")), El("ul", class("history"), Group(items...)))
}

// asBuiltTable holds where each loudspeaker was measured against the plan.
func (v view) asBuiltTable() Node {
	p := v.State.Plan()
	if p == nil {
		return nil
	}
	return Group(El("h2", Text("Where they are")),
		v.mountTable("Reference holes as planned and as last measured: along and up (on ceiling and floor: out), as a tape shows them on the surface.", p.Mounts),
		El("p", class("alone"), El("a", Attr("href", "/api"+v.path("measured.csv")), Attr("download", ""), Attr("data-plain", ""), Text("The readings as a table (CSV)"))))
}

func (v view) mountRecord(channel string) Node {
	return Group(
		El("h2", Text(channel)),
		El("p", Text(v.where(channel)+". "+v.gear(v.State.Plan().MountByChannel(channel)))),
		Each(v.keysOf(channel), v.stepRecord),
	)
}

// gear says what hangs there, on what, and what feeds it.
func (v view) gear(m *plan.Mount) string {
	parts := []string{m.Model}
	if m.Bracket != "" {
		parts = append(parts, m.Bracket)
	}
	if m.Fixing != "" {
		parts = append(parts, m.Fixing)
	}
	if m.Bridge != "" {
		parts = append(parts, "links "+m.Bridge)
	}
	return strings.Join(append(parts, m.Cable+" from "+judge.PlannedFeed(m)), "; ") + "."
}

// stepRecord is one step in the record: what it came to, by whom, and the numbers
// when opened.
func (v view) stepRecord(k checklist.Key) Node {
	s := v.State
	v.mount = k.Mount
	step := s.Template.Step(k.Step)
	e := s.Evidence(k)
	head := Group(El("strong", Text(step.Title)), Text(" "), chip(s.Status(k)))
	if e == nil {
		return El("p", class("step"), head)
	}
	return El("details", class("step"),
		El("summary", head, El("span", class("quiet"), Text(" "+e.Record.Entry.Who+", "+words.Clock(e.Record.Entry.Clock)))),
		v.conceded(e),
		v.recorded(step, e.Recording),
		v.photos(e.Recording.Photos, e.Record.Entry),
		v.verdict(s.Checks(e.Recording), false))
}

func (v view) remarks() Node {
	remarks := v.State.Remarks()
	if len(remarks) == 0 {
		return nil
	}
	return Group(El("h2", Text("Remarks")),
		El("ul", class("history"), Each(remarks, func(r checklist.Record) Node {
			about := ""
			if k := checklist.About(r.Entry); k != (checklist.Key{}) {
				about = v.stepName(k) + ": "
			}
			return El("li", v.remarkText(r, about))
		})))
}

func (v view) refused() Node {
	refused := v.State.Refused()
	if len(refused) == 0 {
		return nil
	}
	return Group(
		El("h2", Text("Refused entries")),
		El("p", Text("These were kept, but a rule did not let them count.")),
		El("ul", class("history"), Each(refused, func(r checklist.Record) Node {
			return El("li", Text(fmt.Sprintf("%s, %s: %s %s", words.Clock(r.Entry.Clock), r.Entry.Who, sentence(v.entryName(r.Entry)), r.Reason)), v.photos(checklist.PhotosOf(r.Entry), r.Entry))
		})))
}

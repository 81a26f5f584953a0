package pages

import (
	"fmt"
	"slices"
	"strings"

	"hangtrue/checklist"
	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/workings"
	"hangtrue/compute/figure"
	"hangtrue/compute/gauge"
	"hangtrue/compute/rack"
	"hangtrue/compute/tape"
	"hangtrue/compute/wiring"
	"hangtrue/pwa/drawing"
	. "hangtrue/pwa/markup"
	"hangtrue/pwa/words"
)

// A fact is one line of a card: what it is, and how much.
type fact struct {
	name string
	says Node
}

func facts(rows []fact) Node {
	return El("dl", class("facts"), Each(rows, func(f fact) Node {
		if f.says == nil {
			return nil
		}
		return Group(El("dt", Text(f.name)), El("dd", f.says))
	}))
}

// opened shows figures to whoever wants to follow them by hand.
func (v view) opened(figures []figure.Figure) Node {
	if len(figures) == 0 {
		return nil
	}
	return El("details", El("summary", Text("How it was worked out")), Each(figures, v.figure))
}

// cautionList shows cautions, short; the rest of a long one opens.
func cautionList(texts []string) Node {
	if len(texts) == 0 {
		return nil
	}
	return El("ul", class("cautions"), Attr("aria-label", "Cautions"), Each(texts, func(text string) Node {
		short, rest := firstSentence(text)
		sign := El("span", class("sign"), Attr("aria-hidden", "true"), Text("⚠ "))
		if rest == "" {
			return El("li", sign, El("strong", Text(short)))
		}
		return El("li", El("details", El("summary", sign, El("span", Text(short))), El("p", Text(rest))))
	}))
}

// workedOut leads to the pages that follow from the plan as a whole.
func (v view) workedOut() Node {
	if v.State.Plan() == nil {
		return nil
	}
	return Group(El("h2", Text("Worked out from the plan")),
		El("ul", class("rows"), Each([][3]string{
			{"drawings", "Drawings", "The room from above and from the side"},
			{"wiring", "Wiring", "Channels, cables, loads, labels"},
			{"rack", "Rack", "Space, weight, heat, air, mains"},
			{"sound", "Sound", "Delays, levels, power, crossover"},
			{"paper", "Paper", "Mark-out, templates, labels, lists to print"},
		}, func(p [3]string) Node {
			return El("li", El("a", class("row"), Attr("href", v.path(p[0])),
				El("span", class("name"), Text(p[1])), El("span", class("where"), Text(p[2]))))
		})))
}

// sheet is a page that follows from the plan: a heading, the cautions, and what
// was worked out, or why it could not be.
func (v view) sheet(title string, err error, body func() Node) Document {
	var shown Node
	if err != nil {
		shown = El("p", class("notice"), Text("It cannot be worked out from this plan: "+sentence(err.Error())))
	} else {
		shown = body()
	}
	return Document{Title: title, Main: Group(
		v.crumbs(""),
		El("div", class("title"), El("h1", Text(title))),
		El("p", class("quiet"), Text(fmt.Sprintf("Worked out from revision %d of the plan.", v.State.Revision()))),
		shown,
	)}
}

func (v view) wiringPage() Document {
	p := v.State.Plan()
	if p == nil {
		return missing("No plan is settled yet.")
	}
	sheet, err := workings.Feeds(p)
	return v.sheet("Wiring", err, func() Node {
		var codes []string
		for _, c := range sheet.Cautions {
			codes = append(codes, sentence(c.Topic)+" "+sentence(c.Text)+" Source: "+c.Source+" ("+c.Mark.String()+").")
		}
		return Group(
			cautionList(append([]string{wiring.LocalCode}, v.cautionTexts("amplifier-off")...)),
			v.findings(sheet),
			El("h2", Text("What goes where")),
			v.wired(),
			El("h2", Text("Cable to buy")),
			El("div", class("cards"), Each(sheet.ToBuy, func(b workings.Purchase) Node {
				return El("section", class("card"), El("h3", Text(b.Cable)),
					facts([]fact{
						{"Buy", strong(v.metres(b.Total))},
						{"Runs", Text(fmt.Sprintf("%d, %s together without slack", b.Runs, v.metres(b.Net)))},
						{"Conductor", Text(b.Conductor)},
					}), v.opened([]figure.Figure{b.Figure}))
			})),
			El("h2", Text("Every loudspeaker's feed")),
			El("div", class("cards"), Each(sheet.Feeds, v.feedCard)),
			El("h2", Text("Cable in walls and ceilings")),
			El("details", El("summary", Text("What the record should answer")), El("ul", Each(codes, func(s string) Node { return El("li", Text(s)) }))),
		)
	})
}

// metres shows a length that nobody cuts to the millimetre.
func (v view) metres(x float64) string {
	if v.system() == tape.Imperial {
		return fmt.Sprintf("%.1f ft", x/0.3048)
	}
	return fmt.Sprintf("%.1f m", x)
}

func strong(s string) Node { return El("strong", Text(s)) }

// cautionTexts are the template's cautions of these names.
func (v view) cautionTexts(ids ...string) []string {
	var texts []string
	for _, id := range ids {
		texts = append(texts, v.State.Template.Cautions[id].Text)
	}
	return texts
}

// findings say what clashes, what is missing and what is spare.
func (v view) findings(sheet *workings.FeedSheet) Node {
	var wrong []Node
	for _, f := range slices.Concat(sheet.Clashes, sheet.Gaps) {
		wrong = append(wrong, El("li", verdictWord("outside", "wrong"), Text(" "+sentence(capital(f.String())))))
	}
	found := El("p", verdictWord("within", "Nothing clashes and nothing is missing."))
	if len(wrong) > 0 {
		found = El("ul", class("troubles"), Group(wrong...))
	}
	ports := func(list []wiring.Port) Node {
		var names []string
		for _, p := range list {
			names = append(names, p.String())
		}
		if len(names) == 0 {
			return Text("none")
		}
		return Text(strings.Join(names, ", "))
	}
	return Group(El("h2", Text("Channels")), found, facts([]fact{
		{"Spare amplifier channels", ports(sheet.SpareChannels)}, {"Spare outputs", ports(sheet.SpareOutputs)},
	}))
}

func (v view) feedCard(f workings.Feed) Node {
	from := fmt.Sprintf("output %d", f.Output)
	if f.Amplifier != "" {
		from = fmt.Sprintf("%s ch %d, fed by %s", f.Amplifier, f.AmpChannel, from)
	}
	rows := append([]fact{{"From", Text(from)}, {"Cable", Text(f.Cable + ", " + f.Conductor)}, {"Length", v.routeSays(f)}}, v.runFacts(f)...)
	rows = append(rows, fact{"Labels", Each(f.Labels[:], func(l wiring.Label) Node {
		lines := l.Lines()
		return El("span", class("label"), Attr("role", "group"), Attr("aria-label", "Label at the "+string(l.End)+" end"),
			Each(lines[:], func(s string) Node { return El("span", Text(s)) }))
	})})
	return El("section", class("card"), El("h3", link(v.stepPath(checklist.Key{Step: "wire", Mount: f.Channel}), f.Channel)), facts(rows), v.opened(f.Figures))
}

// routeSays is the plan's length beside the shortest way that the room allows.
func (v view) routeSays(f workings.Feed) Node {
	planned := strong(v.metres(f.Route))
	switch {
	case f.Short:
		return Group(planned, Text(" planned "), verdictWord("unsure", "too short?"),
			El("span", class("from"), Text(fmt.Sprintf("along the edges of the room it is %s", v.metres(f.Estimate)))))
	case f.Estimate > 0:
		return Group(planned, Text(" planned"), El("span", class("from"), Text(fmt.Sprintf("along the edges of the room it is %s", v.metres(f.Estimate)))))
	}
	return Group(planned, Text(" planned"))
}

// runFacts are what a loudspeaker cable comes to, with the links as planned.
func (v view) runFacts(f workings.Feed) []fact {
	if f.Run == nil {
		return []fact{{"Carries", Text("a line signal; the loudspeaker has its own amplifier")}}
	}
	r := f.Run
	verdict := verdictChip(gauge.Within)
	if !r.WithinLimit {
		verdict = verdictChip(gauge.Outside)
	}
	load := fmt.Sprintf("%g ohm", r.Load.Rated)
	if f.Bridge != "" {
		load += ", links " + f.Bridge
	}
	carries := Node(nil)
	if r.LeastLoadKnown && !r.Carries {
		carries = Group(Text(" "), verdictWord("outside", "the amplifier is not made for so little"))
	}
	return []fact{
		{"Lost", Group(Text(fmt.Sprintf("%.2f dB; the cable is %.1f %% of the load, %g %% at most ", r.Loss, r.Fraction*100, v.State.Plan().Tolerances.CableLoss)), verdict)},
		{"Longest run", Text(v.metres(r.LongestRun) + " with this cable")},
		{"Amplifier sees", Group(Text(load), carries)},
		{"Damping factor", Text(words.Decimals(r.Damping, 0) + " at the loudspeaker")},
	}
}

func (v view) rackPage() Document {
	p := v.State.Plan()
	if p == nil {
		return missing("No plan is settled yet.")
	}
	sheet, err := workings.Rack(p)
	return v.sheet("Rack", err, func() Node {
		return Group(
			cautionList(append([]string{sheet.Caution}, v.cautionTexts("mains", "lift")...)),
			El("p", El("a", class("button second"), Attr("href", v.stepPath(checklist.Key{Step: "rack"})), Text("To the step that checks it"))),
			v.racked(),
			El("div", class("cards"), v.rackSpace(sheet), v.rackHeat(sheet), v.rackMains(sheet), v.rackOrder(sheet)),
		)
	})
}

func (v view) rackSpace(r *workings.RackSheet) Node {
	f := r.Fill
	var wrong []string
	for _, o := range f.Overlaps {
		wrong = append(wrong, fmt.Sprintf("%s and %s want the same units, %s", o.A, o.B, span(o.Span)))
	}
	for _, name := range f.Outside {
		wrong = append(wrong, name+" does not fit between bottom and top")
	}
	for _, name := range f.Unplaced {
		wrong = append(wrong, name+" has no place yet")
	}
	if f.Short > 0 {
		wrong = append(wrong, plural(f.Short, "unit is", "units are")+" missing")
	}
	free := "none"
	if len(f.Gaps) > 0 {
		var gaps []string
		for _, g := range f.Gaps {
			gaps = append(gaps, span(g))
		}
		free = strings.Join(gaps, ", ")
	}
	weight := Text(fmt.Sprintf("%g kg; the plan does not say what the rack carries", f.Mass))
	if r.Carries > 0 {
		chip := verdictChip(gauge.Within)
		if f.Overloaded {
			chip = verdictChip(gauge.Outside)
		}
		weight = Group(Text(fmt.Sprintf("%g of %g kg ", f.Mass, r.Carries)), chip)
	}
	var stands []fact
	for _, it := range slices.Backward(slices.SortedFunc(slices.Values(r.Items), func(a, b rack.Item) int { return a.Position - b.Position })) {
		at := "not in the rack"
		if it.Units > 0 && it.Position > 0 {
			at = "units " + span(rack.Span{First: it.Position, Last: it.Position + it.Units - 1})
		}
		stands = append(stands, fact{it.Name, Text(fmt.Sprintf("%s; %g kg", at, it.Mass))})
	}
	return El("section", class("card"), El("h2", Text("Space and weight")),
		facts([]fact{
			{"Units", Group(strong(fmt.Sprintf("%d of %d taken", f.Used, r.Units)), El("span", class("from"), Text(fmt.Sprintf("%d left: %s, counted from the bottom", f.Left, free))))},
			{"Weight", weight},
		}),
		Each(wrong, func(s string) Node { return El("p", verdictWord("outside", sentence(s))) }),
		El("details", El("summary", Text("What stands where, from the top")), facts(stands)))
}

// framed puts a frame around a drawing; nil where there is none.
func framed(svg Node) Node {
	if svg == nil {
		return nil
	}
	return El("figure", class("elevation"), svg)
}

func (v view) wired() Node {
	svg, _ := drawing.WiringView{Plan: v.State.Plan()}.SVG()
	return framed(svg)
}

func (v view) racked() Node {
	svg, _ := drawing.RackView{Plan: v.State.Plan()}.SVG()
	return framed(svg)
}

func span(s rack.Span) string {
	if s.First == s.Last {
		return fmt.Sprint(s.First)
	}
	return fmt.Sprintf("%d to %d", s.First, s.Last)
}

func (v view) rackHeat(r *workings.RackSheet) Node {
	if r.Unknown != "" {
		return El("section", class("card"), El("h2", Text("Heat, air and mains")), El("p", class("notice"), Text("They cannot be worked out: "+sentence(r.Unknown))))
	}
	air := Text("the plan gives no allowed rise")
	if r.Needed > 0 {
		air = Group(strong(fmt.Sprintf("%.0f m³/h", r.Needed)), Text(fmt.Sprintf(" for a rise of %g K above %g °C", r.Rise, r.Inlet)))
		if enough, known := r.Airy(); known {
			chip := verdictWord("within", "enough")
			if !enough {
				chip = verdictWord("outside", "too little")
			}
			air = Group(air, El("span", class("from"), Text(fmt.Sprintf("the plan moves %.0f m³/h ", r.Moved)), chip))
		}
	}
	return El("section", class("card"), El("h2", Text("Heat and air")),
		facts([]fact{
			{"Heat", Group(strong(fmt.Sprintf("%.0f W", r.Heat)), Text(fmt.Sprintf(", %.0f Btu/h", r.Thermal)))},
			{"Air needed", air},
		}), v.opened(r.Figures))
}

func (v view) rackMains(r *workings.RackSheet) Node {
	if r.Unknown != "" {
		return nil
	}
	chip := verdictChip(gauge.Within)
	if !r.Load.Within {
		chip = verdictChip(gauge.Outside)
	}
	return El("section", class("card"), El("h2", Text("Mains")),
		facts([]fact{
			{"Drawn", Group(strong(fmt.Sprintf("%.1f A", r.Load.Current)), Text(fmt.Sprintf(", %.0f W at %g V ", r.Mains, r.Circuit.Voltage)), chip)},
			{"Allowed", Text(fmt.Sprintf("%.1f A of a %g A circuit", r.Load.Greatest, r.Circuit.Rating))},
			{"Rule", Text(string(r.Circuit.Rule) + ", as the plan says")},
			{"Mains work", strong("is for a licensed electrician")},
		}), v.opened([]figure.Figure{r.Load.Figure}))
}

func (v view) rackOrder(r *workings.RackSheet) Node {
	return El("section", class("card"), El("h2", Text("Switching on, in this order")),
		El("ol", Each(r.Order, func(s rack.Stage) Node { return El("li", Text(strings.Join(s.Items, ", "))) })),
		El("p", class("quiet"), Text("Off the other way round, amplifiers first ("+r.OrderMark.String()+").")))
}

func (v view) soundPage() Document {
	p := v.State.Plan()
	if p == nil {
		return missing("No plan is settled yet.")
	}
	sheet, err := workings.Sound(p)
	return v.sheet("Sound", err, func() Node {
		return Group(
			cautionList(append(slices.Clone(sheet.Cautions), v.cautionTexts("loud")...)),
			El("div", class("cards"), v.soundAir(sheet), v.soundBass(sheet)),
			El("h2", Text("Every loudspeaker from the main seat")),
			El("p", class("quiet"), Text("Direct sound in a free field, on axis: in a room it is louder. Start values for the processor, not a tuning.")),
			El("div", class("cards"), Each(sheet.Channels, func(h workings.Heard) Node { return v.heardCard(sheet, h) })),
		)
	})
}

func (v view) soundAir(s *workings.SoundSheet) Node {
	air := fmt.Sprintf("at %g °C", s.Asked.Temperature)
	if s.Assumed {
		air += ", because the plan gives no temperature"
	}
	figures := []figure.Figure{s.Speed}
	rows := []fact{{"Speed of sound", Group(strong(fmt.Sprintf("%.1f m/s", s.Speed.Value)), Text(" "+air))}}
	if s.Hearing != nil {
		figures = append(figures, *s.Hearing)
		rows = append(rows, fact{"Level wanted", Text(fmt.Sprintf("%g dB at the seat from each loudspeaker", s.Asked.Level))},
			fact{"Hearing", Text(fmt.Sprintf("a steady tone as loud as that is too much after %s a day", duration(s.Hearing.Value)))})
	} else {
		rows = append(rows, fact{"Level wanted", Text("the plan asks none, so that power and headroom are left out")})
	}
	return El("section", class("card"), El("h2", Text("Air and level")), facts(rows), v.opened(figures))
}

// duration shows seconds in the unit a person would take.
func duration(seconds float64) string {
	switch {
	case seconds >= 5400:
		return words.Decimals(seconds/3600, 1) + " h"
	case seconds >= 90:
		return fmt.Sprintf("%.0f minutes", seconds/60)
	}
	return fmt.Sprintf("%.0f seconds", seconds)
}

func (v view) soundBass(s *workings.SoundSheet) Node {
	if len(s.Filters) == 0 {
		return El("section", class("card"), El("h2", Text("Bass")), El("p", Text("The plan names no crossover.")))
	}
	rows := []fact{{"Crossover", strong(fmt.Sprintf("%g Hz, %s", s.Asked.Crossover, s.Asked.Slope))}}
	for _, f := range s.Filters {
		name, _, _ := strings.Cut(f.Name, ",")
		rows = append(rows, fact{capital(name), Text(level(f.Value))})
	}
	if len(s.Boost) > 0 {
		cost := fmt.Sprintf("every small loudspeaker %s times the power from %g to %g Hz", words.Decimals(s.Boost[0].Value, 1), s.Asked.Crossover, s.Asked.BoostCorner)
		if s.Asked.BoostCorner <= s.Asked.Crossover {
			cost = "the small loudspeakers nothing: it falls to the subwoofers alone"
		}
		rows = append(rows, fact{"Bass boost", Text(fmt.Sprintf("%+g dB below %g Hz costs %s", s.Asked.BassBoost, s.Asked.BoostCorner, cost))})
	}
	return El("section", class("card"), El("h2", Text("Bass")), facts(rows), v.opened(slices.Concat(s.Filters, s.Boost)))
}

func level(db float64) string {
	if db > -0.05 && db < 0.05 {
		return "0 dB"
	}
	return fmt.Sprintf("%+.1f dB", db)
}

func (v view) heardCard(s *workings.SoundSheet, h workings.Heard) Node {
	rows := []fact{
		{"Distance", Text(tape.Format(h.Distance, v.system()))},
		{"Delay", Group(strong(fmt.Sprintf("%.2f ms", h.Delay*1000)), Text(fmt.Sprintf(", %s at 48 kHz", plural(h.Samples, "sample", "samples"))))},
	}
	switch {
	case h.Unknown != "":
		rows = append(rows, fact{"Level", Text("not known: " + h.Unknown)})
	default:
		if !h.Sub {
			rows = append(rows, fact{"Trim", strong(level(h.Trim))})
		}
		most := fmt.Sprintf("%.1f dB with the amplifier's %g W", h.Level, h.Full)
		if h.Full > h.Takes {
			most = fmt.Sprintf("%.1f dB with the %g W that it takes", h.Level, h.Takes)
		}
		rows = append(rows, fact{"Most at the seat", Text(most)})
		if h.Asked {
			rows = append(rows, fact{fmt.Sprintf("For %g dB", s.Asked.Level), Group(Text(watts(h.Needed)+", "), headroom("", h.Headroom))})
			if h.BoostLeft != h.Headroom {
				rows = append(rows, fact{"With the boost", headroom(fmt.Sprintf("below %g Hz ", s.Asked.BoostCorner), h.BoostLeft)})
			}
		}
		if h.Full > h.Takes {
			rows = append(rows, fact{"Mind", Text(fmt.Sprintf("the amplifier gives %g W, more than this loudspeaker takes: turned up it can be harmed", h.Full))})
		}
	}
	return El("section", class("card"), El("h3", link(v.path("mounts", h.Channel), h.Channel)), facts(rows), v.opened(h.Figures))
}

func watts(p float64) string {
	if p < 10 {
		return words.Decimals(p, 1) + " W"
	}
	return fmt.Sprintf("%.0f W", p)
}

// headroom says what is left, and that it is not enough where it is not.
func headroom(before string, db float64) Node {
	if db < 0 {
		return Group(Text(before), verdictWord("outside", fmt.Sprintf("%.1f dB short", -db)))
	}
	return Text(fmt.Sprintf("%s%.1f dB left", before, db))
}

// settings shows the load that the amplifier will see, before a choice is made.
func (v view) settings(m *plan.Mount) Node {
	all, err := workings.Settings(v.State.Plan(), m)
	if err != nil || len(all) == 0 {
		return nil
	}
	var rows []fact
	for _, s := range all {
		chip := Node(nil)
		switch {
		case s.Known && s.Carries:
			chip = verdictWord("within", "the amplifier carries it")
		case s.Known:
			chip = verdictWord("outside", "the amplifier is not made for it")
		}
		planned := ""
		if s.Planned {
			planned = ", as planned"
		}
		rows = append(rows, fact{"Links " + s.Name + planned, Group(strong(fmt.Sprintf("%g ohm", s.Rated)), Text(fmt.Sprintf(", dips to %g ohm ", s.Least)), chip)})
	}
	least := Node(nil)
	if a := v.State.Plan().Amplifier(m.Amplifier); a != nil && a.LeastLoad > 0 {
		least = El("p", class("quiet"), Text(fmt.Sprintf("%s is made for %g ohm and more.", a.Name, a.LeastLoad)))
	}
	return El("section", class("aside"), El("h2", Text("What the amplifier will see")), facts(rows), least)
}

// cableAhead shows what the planned cable will come to, before it is run.
func (v view) cableAhead(m *plan.Mount) Node {
	p := v.State.Plan()
	model := p.Model(m.Model)
	if model == nil || model.Active {
		return nil
	}
	run, err := p.AssessRun(m, m.Cable, m.Route, m.Bridge)
	if err != nil {
		return nil
	}
	f := workings.Feed{Run: &run, Bridge: m.Bridge}
	return El("section", class("aside"), El("h2", Text("What the planned cable comes to")), facts(v.runFacts(f)), v.opened(run.Figures))
}

// expected is what the calibration should report for a channel, by where it was
// hung, or by the plan until then.
func (v view) expected() map[string]string {
	p := v.State.Plan()
	sheet, err := workings.Sound(p)
	if err != nil {
		return nil
	}
	distances, from := make([]float64, len(sheet.Channels)), make([]string, len(sheet.Channels))
	farthest := 0.0
	for i, h := range sheet.Channels {
		distances[i], from[i] = h.Distance, "as planned"
		if e := v.State.Evidence(checklist.Key{Step: "hang", Mount: h.Channel}); e != nil && len(e.Recording.Measured["distance_um"]) > 0 {
			distances[i], from[i] = mean(e.Recording.Measured["distance_um"]), "as hung"
		}
		farthest = max(farthest, distances[i])
	}
	out := map[string]string{}
	for i, h := range sheet.Channels {
		out[h.Channel] = fmt.Sprintf("Expect %s, %s; delay %.2f ms.", tape.Format(distances[i], v.system()), from[i], (farthest-distances[i])/sheet.Speed.Value*1000)
	}
	return out
}

// likely says how sure a check is, for whoever opens it.
func likely(c judge.Check) string {
	const text = "The true value is within with a probability of "
	switch p := c.Probability * 100; {
	case p > 99.95:
		return text + "more than 99.9 %."
	case p < 0.05:
		return text + "less than 0.1 %."
	default:
		return fmt.Sprintf(text+"%.1f %%.", p)
	}
}

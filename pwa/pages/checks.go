package pages

import (
	"fmt"
	"slices"
	"strings"

	"hangtrue/checklist/judge"
	"hangtrue/compute/figure"
	"hangtrue/compute/gauge"
	. "hangtrue/pwa/markup"
)

// verdict shows judged checks: what they come to and which way to move in large
// letters, what is wrong in full, the rest folded away. Open is set while
// something is still to be filled in.
func (v view) verdict(checks []judge.Check, open bool) Node {
	if len(checks) == 0 {
		return nil
	}
	worst, _ := judge.Worst(checks)
	says := overall[worst]
	if open && worst == gauge.Within {
		says = "So far so good."
	}
	wrong, right := apart(checks)
	wrong = swapsFirst(wrong)
	moves := movesFor(wrong, checks)
	var unsure []judge.Check
	if worst == gauge.Outside {
		at := slices.IndexFunc(wrong, func(c judge.Check) bool { return c.Verdict != gauge.Outside })
		if at >= 0 {
			wrong, unsure = wrong[:at], wrong[at:]
		}
	}
	return El("div", class("verdict "+worst.String()),
		El("p", class("head"), verdictChip(worst), Text(" "+says)),
		If(len(moves) > 0, El("p", class("move"), Text(capital(strings.Join(moves, ", "))))),
		v.list(plain(wrong, moves)),
		v.folded(unsure, "is unsure", "are unsure"),
		v.folded(right, "is within", "are within"),
	)
}

var overall = map[gauge.Verdict]string{
	gauge.Within:  "All of it is as planned.",
	gauge.Outside: "Not as planned.",
	gauge.Unsure:  "Too close to the limit to tell.",
}

// apart puts outside before unsure, and what is within by itself.
func apart(checks []judge.Check) (wrong, right []judge.Check) {
	for _, verdict := range []gauge.Verdict{gauge.Outside, gauge.Unsure, gauge.Within} {
		for _, c := range checks {
			switch {
			case c.Verdict != verdict:
			case verdict == gauge.Within:
				right = append(right, c)
			default:
				wrong = append(wrong, c)
			}
		}
	}
	return wrong, right
}

// swapsFirst puts exchanged channels before the distances that follow from them.
func swapsFirst(wrong []judge.Check) []judge.Check {
	slices.SortStableFunc(wrong, func(a, b judge.Check) int {
		rank := map[bool]int{true: 0, false: 1}
		return rank[strings.HasSuffix(a.Name, " swap")] - rank[strings.HasSuffix(b.Name, " swap")]
	})
	return wrong
}

// movesFor are the moves that put the first thing right that is wrong. The checks
// of one function go together: one along, one up. Where two readings contradict
// each other nothing is to be moved, and what is wrong says so itself.
func movesFor(wrong, checks []judge.Check) []string {
	if len(wrong) == 0 || wrong[0].Correction == "" {
		return nil
	}
	function := func(c judge.Check) string { name, _, _ := strings.Cut(c.Name, " "); return name }
	var moves []string
	for _, c := range checks {
		if function(c) == function(wrong[0]) && c.Correction != "" && !slices.Contains(moves, c.Correction) {
			moves = append(moves, c.Correction)
		}
	}
	return moves
}

// plain leaves the moves out that stand above in large letters.
func plain(checks []judge.Check, moves []string) []judge.Check {
	checks = slices.Clone(checks)
	for i := range checks {
		if slices.Contains(moves, checks[i].Correction) {
			checks[i].Correction = ""
		}
	}
	return checks
}

func (v view) list(checks []judge.Check) Node {
	if len(checks) == 0 {
		return nil
	}
	return El("ul", class("checks"), Each(checks, v.check))
}

// folded lists checks that need no look now: what is within, and what is unsure
// beside something that is outside.
func (v view) folded(checks []judge.Check, one, many string) Node {
	if len(checks) == 0 {
		return nil
	}
	return El("details", El("summary", Text(plural(len(checks), "check "+one, "checks "+many))), v.list(checks))
}

func (v view) check(c judge.Check) Node {
	var numbers, accepted Node
	if c.Unit != judge.Condition {
		numbers = El("span", class("measured"), Text(v.number(c.Measured, c.Unit)))
		if c.Expanded > 0 {
			numbers = Group(numbers, El("span", class("quiet"), Text("± "+v.small(c.Expanded, c.Unit))))
		}
		accepted = El("p", class("quiet"), Text("Wanted: "+v.limits(c)))
	}
	title := c.Title
	if c.Subject != "" && c.Subject != v.mount && !strings.Contains(title, c.Subject) {
		title = c.Subject + ": " + title
	}
	wrong := c.Verdict != gauge.Within
	return El("li", class(c.Verdict.String()),
		El("p", class("line"), El("strong", Text(title)), numbers, verdictChip(c.Verdict)),
		accepted,
		If(c.Says != "", El("p", Text(c.Says))),
		If(wrong && c.Correction != "", El("p", class("fix"), Text(capital(sentence(c.Correction))))),
		If(wrong && c.Settle != "", El("p", Text("To settle it: "+sentence(c.Settle)))),
		If(wrong && c.Barred, El("p", class("fix"), Text("No concession can pass this."))),
		v.why(c),
	)
}

// why gives the reasons behind a check, to whoever wants to follow it by hand.
func (v view) why(c judge.Check) Node {
	if c.Largest == "" && c.Source == "" && len(c.Figures) == 0 {
		return nil
	}
	return El("details",
		El("summary", Text("Why")),
		If(c.Expanded > 0, El("p", Text(fmt.Sprintf("The reading is worth ± %s (k = 2).", v.small(c.Expanded, c.Unit))))),
		If(c.Expanded > 0, El("p", Text(likely(c)))),
		If(c.Largest != "", El("p", Text("Most of that: "+sentence(c.Largest)))),
		If(c.Source != "", El("p", Text("The limit: "+sentence(c.Source)))),
		Each(c.Figures, v.figure),
	)
}

// figure shows one computed value so that it can be followed by hand.
func (v view) figure(f figure.Figure) Node {
	return El("dl", class("figure"),
		El("dt", Text(f.Name)), El("dd", Text(quantity(f.Value, f.Unit))),
		El("dt", Text("Formula")), El("dd", Text(f.Formula)),
		Each(f.Inputs, func(i figure.Input) Node {
			return Group(El("dt", Text(i.Name)), El("dd", Text(quantity(i.Value, i.Unit))))
		}),
		El("dt", Text("Source")), El("dd", Text(f.Source+" ("+string(f.Mark)+")")),
	)
}

// sentence ends a text with one full stop.
func sentence(s string) string { return strings.TrimSuffix(s, ".") + "." }

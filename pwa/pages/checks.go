package pages

import (
	"math"

	"hangtrue/checklist/judge"
	"hangtrue/compute/figure"
	"hangtrue/compute/gauge"
	. "hangtrue/pwa/markup"
)

// checkList shows judged checks: what is wrong first and large, what is right small.
func (v view) checkList(checks []judge.Check) Node {
	if len(checks) == 0 {
		return nil
	}
	worst, _ := judge.Worst(checks)
	return Group(
		El("p", class("verdict "+worst.String()), verdictChip(worst), Text(" "+overall[worst])),
		El("ul", class("checks"), Each(inOrder(checks), v.check)),
	)
}

var overall = map[gauge.Verdict]string{
	gauge.Within:  "All of it is within.",
	gauge.Outside: "Not as planned.",
	gauge.Unsure:  "Too close to the limit to tell.",
}

// inOrder puts outside before unsure before within, else as they were.
func inOrder(checks []judge.Check) []judge.Check {
	var sorted []judge.Check
	for _, verdict := range []gauge.Verdict{gauge.Outside, gauge.Unsure, gauge.Within} {
		for _, c := range checks {
			if c.Verdict == verdict {
				sorted = append(sorted, c)
			}
		}
	}
	return sorted
}

func (v view) check(c judge.Check) Node {
	var numbers, accepted Node
	if c.Unit != judge.Condition {
		numbers = El("span", class("measured"), Text(v.number(c.Measured, c.Unit)))
		if c.Expanded > 0 {
			numbers = Group(numbers, El("span", class("quiet"), Text(" ± "+v.small(c.Expanded, c.Unit))))
		}
		accepted = El("span", class("quiet"), Text("plan: "+v.limits(c)))
	}
	return El("li", class(c.Verdict.String()),
		El("p", class("line"), El("strong", Text(c.Title)), Text(" "), numbers, verdictChip(c.Verdict)),
		If(c.Correction != "" && c.Verdict != gauge.Within, El("p", class("move"), Text(c.Correction))),
		If(c.Says != "", El("p", Text(c.Says))),
		If(c.Settle != "" && c.Verdict != gauge.Within, El("p", Text("To settle it: "+c.Settle))),
		If(c.Barred && c.Verdict != gauge.Within, El("p", Text("This cannot be conceded."))),
		El("details",
			El("summary", Text("Why")),
			El("p", accepted),
			If(c.Largest != "", El("p", Text("Most of the uncertainty: "+c.Largest+"."))),
			If(c.Source != "", El("p", class("quiet"), Text("Limit: "+c.Source+"."))),
			Each(c.Figures, v.figure),
		),
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

// quantity writes a value with four significant digits.
func quantity(x float64, unit string) string {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return "0 " + unit
	}
	return trimFloat(x) + " " + unit
}

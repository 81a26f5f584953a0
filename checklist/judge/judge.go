package judge

import (
	"hangtrue/checklist/plan"
	"hangtrue/compute/figure"
	"hangtrue/compute/gauge"
)

// A Check is one judged statement about a step: a quantity against its target, or
// a plain condition. Lengths are metres, angles radians, ratios plain numbers.
type Check struct {
	Name     string // the function that made it and what it looked at: "mark.spot along"
	Title    string // for a person: "Along"
	Subject  string // the mount's channel, or empty for the job
	Unit     Unit
	Measured float64
	Target   float64
	// Low and High bound what is accepted; for a symmetric tolerance they lie
	// equally on both sides of Target. A side that is not bounded is infinite.
	Low, High float64
	Expanded  float64 // U, k = 2; 0 for a plain condition
	// Probability that the true value lies inside the limits; 0 for a plain condition.
	Probability float64
	Verdict     gauge.Verdict
	// Barred marks a check that no concession may pass.
	Barred bool
	// Says is one sentence for the person: what is wrong, or what was found.
	Says string
	// Correction tells which way to move, in tape terms: "18 mm left, 4 mm up".
	Correction string
	// Largest names what contributes most to U, and Settle what would settle an
	// unsure verdict. They and Correction and Source are phrases for the middle of a
	// sentence: no full stop, and no capital where none is due.
	Largest string
	Settle  string
	// Source is where the limit comes from, with its trust mark.
	Source string
	// Figures are the calculations behind the check, each with formula, inputs and source.
	Figures []figure.Figure
}

// A Unit tells how a check's numbers are shown.
type Unit string

const (
	Metre   Unit = "m"
	Radian  Unit = "deg"
	Ratio   Unit = "%"
	Ohm     Unit = "ohm"
	Ampere  Unit = "A"
	Number  Unit = ""
	Decibel Unit = "dB"
	// Condition has no numbers: Says tells all.
	Condition Unit = "condition"
)

// A Case is what a check function sees: the plan as it stands, the mount (nil at
// a step of the job), what was recorded, and the evidence of other steps.
type Case struct {
	Plan     *plan.Plan
	Mount    *plan.Mount
	Measured map[string][]int64
	Chosen   map[string]string
	// Prior gives what the latest passed record of another step said. It is never nil.
	Prior func(step, mount string) (Evidence, bool)

	resolved *resolved // nil outside of Run, WholePlan and AsBuilt: nothing is kept
}

// Evidence is a recorded step as another step's check sees it.
type Evidence struct {
	Measured map[string][]int64
	Chosen   map[string]string
}

// A Func judges one aspect of a recorded step. It returns nothing when there is
// nothing to judge (an optional field left empty).
type Func func(Case) []Check

// Known tells whether a check function of this name exists.
func Known(name string) bool { return functions[name] != nil }

// greatest bounds what may have been recorded, in micrometres and the other units
// of a log: a kilometre, and as much beyond anything here in each other unit.
const greatest = 1_000_000_000

// Run runs the named functions in order. A name that is not [Known], a function
// for a mount in a case without one, and a number that nothing here measures give
// a check that is outside: what was not judged does not pass.
func Run(names []string, c Case) []Check {
	var all []Check
	for _, readings := range c.Measured {
		for _, r := range readings {
			if r > greatest || r < -greatest {
				return []Check{barred(condition("readings", "Readings", false, "One of the numbers is too large for what is measured here. Type it again."))}
			}
		}
	}
	c.resolved = newResolved()
	for _, name := range names {
		f := functions[name]
		switch {
		case f == nil:
			all = append(all, barred(condition(name, "Check", false, "This program has no check of this name.")))
		case c.Mount == nil && !ofJob[name]:
			all = append(all, barred(condition(name, "Check", false, "This check belongs to a step of a mount.")))
		default:
			all = append(all, named(c, f)...)
		}
	}
	return all
}

// Worst is the verdict of a whole step: outside if any check is, else unsure if
// any is, else within. Barred names the first failing check that no concession may pass.
func Worst(checks []Check) (verdict gauge.Verdict, barred string) {
	verdict = gauge.Within
	for _, c := range checks {
		if c.Verdict == gauge.Outside || (c.Verdict == gauge.Unsure && verdict == gauge.Within) {
			verdict = c.Verdict
		}
		if c.Barred && c.Verdict != gauge.Within && barred == "" {
			barred = c.Name
		}
	}
	return verdict, barred
}

package judge

import (
	"fmt"
	"math"
	"strings"

	"hangtrue/compute/gauge"
	"hangtrue/compute/tape"
)

var inf = math.Inf(1)

func metres(um int64) float64 { return float64(um) * 1e-6 }

func micrometres(m float64) int64 { return int64(math.Round(m * 1e6)) }

func radians(mdeg int64) float64 { return float64(mdeg) * 1e-3 * math.Pi / 180 }

func (c Case) system() tape.System { return c.Plan.Units.System() }

// read turns a recorded length or angle into a value and what it is worth. The
// instrument is the plan's, by the name that was chosen under instrumentKey. ok is
// false when nothing was recorded or the instrument does not measure such a thing.
func (c Case) read(key, instrumentKey string) (m gauge.Measured, ok bool) {
	recorded := c.Measured[key]
	instrument := c.Plan.Instrument(c.Chosen[instrumentKey])
	if len(recorded) == 0 || instrument == nil {
		return gauge.Measured{}, false
	}
	values := make([]float64, len(recorded))
	angle := strings.HasSuffix(key, "_mdeg")
	for i, r := range recorded {
		if values[i] = metres(r); angle {
			values[i] = radians(r)
		}
	}
	m, err := instrument.Worth(values, angle)
	return m, err == nil
}

// unread says what is wrong where something was recorded that cannot be read: no
// instrument was named, or one that does not measure such a thing. It is empty
// where nothing was recorded. What nobody could judge must not pass.
func (c Case) unread(name, title, key, instrumentKey string) []Check {
	if _, ok := c.read(key, instrumentKey); ok || len(c.Measured[key]) == 0 {
		return nil
	}
	what := "a length"
	if strings.HasSuffix(key, "_mdeg") {
		what = "an angle"
	}
	check := unsure(name, title, "Say what it was measured with.", "choose the instrument it was read from")
	if i := c.Plan.Instrument(c.Chosen[instrumentKey]); i != nil {
		check.Says = fmt.Sprintf("%s cannot have measured this: %s is wanted, within what it can read.", capital(i.Name), what)
	}
	return []Check{check}
}

// evaluate judges a measured value and says it as a check.
func (c Case) evaluate(name, title string, unit Unit, m gauge.Measured, limits gauge.Limits, source string) Check {
	j := gauge.Evaluate(m.Value, m.Uncertainty, limits, gauge.Micrometre)
	check := Check{
		Name: name, Title: title, Unit: unit, Measured: m.Value, Target: limits.Target,
		Low: limits.Lower, High: limits.Upper, Expanded: j.Expanded, Verdict: j.Verdict,
		Probability: j.Probability, Source: source,
	}
	if len(j.Contributions) > 0 {
		check.Largest = plainly(j.Contributions[0].Name)
	}
	if j.Verdict == gauge.Unsure {
		check.Settle = c.settle(j, unit)
	}
	return check
}

// settle says in words what would settle an unsure verdict.
func (c Case) settle(j gauge.Judgement, unit Unit) string {
	amount := func(x float64) string {
		switch {
		case unit == Radian:
			return fmt.Sprintf("%.2f°", x*180/math.Pi)
		case c.system() == tape.Imperial:
			return fmt.Sprintf("%.3f in", x/0.0254)
		}
		return fmt.Sprintf("%.1f mm", x*1000)
	}
	largest := plainly(j.Settle.Largest)
	switch j.Settle.Kind {
	case gauge.SettleLargest:
		if j.Settle.Need > 0.7*j.Settle.Now && repeatable(j.Contributions[0].Component) {
			return fmt.Sprintf("read it once or twice more; most of the doubt comes from %s", largest)
		}
		return fmt.Sprintf("%s has to be known better: its part is %s and may be %s at most", largest, amount(j.Settle.Now), amount(j.Settle.Need))
	case gauge.SettleSeveral:
		return fmt.Sprintf("better instruments all round, or repeat readings; most of the doubt comes from %s", largest)
	case gauge.SettleMove:
		return "measure again in case of a slip; if it stays, it has to be moved: no better instrument can make it pass"
	}
	return "measure again"
}

// plainly names a component as a person would who does not know the word for it.
func plainly(component string) string {
	switch component {
	case "reading":
		return "reading it by hand"
	case "repeat readings":
		return "how far the readings lie apart"
	case "resolution":
		return "the divisions of the scale"
	}
	return component
}

// repeatable tells whether reading again lessens a component.
func repeatable(c gauge.Component) bool {
	return c.Name == "reading" || c.Name == "repeat readings" || c.Basis == byTape
}

// byTape is the basis of a component that a tape reading stands behind.
const byTape = "tape"

// exact is a value without uncertainty: counted, or taken from a maker's sheet.
func exact(x float64) gauge.Measured { return gauge.Measured{Value: x} }

const ownTolerance = "the plan's own tolerance; no published document gives one"

package pages

import (
	"fmt"
	"math"
	"strings"

	"hangtrue/checklist"
	"hangtrue/checklist/judge"
	"hangtrue/compute/gauge"
	"hangtrue/compute/tape"
	. "hangtrue/pwa/markup"
	"hangtrue/pwa/words"
)

var (
	statusSign = map[checklist.Status]string{
		checklist.Held: "■", checklist.Ready: "▶", checklist.Done: "✓", checklist.Stale: "↻", checklist.Conceded: "△",
	}
	statusWord = map[checklist.Status]string{
		checklist.Held: "held", checklist.Ready: "ready", checklist.Done: "done",
		checklist.Stale: "look again", checklist.Conceded: "off plan, conceded",
	}
	verdictSign = map[string]string{"within": "✓", "outside": "✕", "unsure": "?", "conceded": "△"}
)

// chip shows a status by a sign, a word and a colour, never by the colour alone.
func chip(s checklist.Status) Node { return signed(string(s), statusSign[s], statusWord[s]) }

// verdictWord shows a verdict, or another word in its place, in the same three ways.
func verdictWord(verdict, word string) Node { return signed(verdict, verdictSign[verdict], word) }

func verdictChip(v gauge.Verdict) Node { return verdictWord(v.String(), v.String()) }

func (v view) system() tape.System {
	if p := v.State.Plan(); p != nil {
		return p.Units.System()
	}
	return tape.Metric
}

// length shows a length in the job's units; a short one, such as a drill bit, in
// millimetres with a tenth where it has one.
func (v view) length(x float64) string {
	if v.system() == tape.Metric && math.Abs(x) < 0.15 {
		return words.Decimals(x*1000, 1) + " mm"
	}
	return tape.Format(x, v.system())
}

// number shows a check's value in its unit.
func (v view) number(x float64, u judge.Unit) string {
	switch u {
	case judge.Metre:
		return v.length(x)
	case judge.Radian:
		return words.Degrees(x)
	case judge.Ratio:
		return fmt.Sprintf("%.1f %%", x*100)
	case judge.Ohm:
		return fmt.Sprintf("%.2f ohm", x)
	case judge.Ampere:
		return fmt.Sprintf("%.1f A", x)
	case judge.Decibel:
		return fmt.Sprintf("%.1f dB", x)
	}
	return words.Decimals(x, 2)
}

// small shows a tolerance or an uncertainty in the check's unit.
func (v view) small(x float64, u judge.Unit) string {
	switch {
	case u != judge.Metre:
		return v.number(x, u)
	case v.system() == tape.Metric && x < 0.001:
		return words.Decimals(x*1000, 2) + " mm"
	case v.system() == tape.Metric && x < 0.01:
		return words.Decimals(x*1000, 1) + " mm"
	case v.system() == tape.Imperial && x > 0 && x < 0.0254/32:
		return words.Decimals(x/0.0254, 3) + " in"
	}
	return tape.FormatSmall(x, v.system())
}

// limits says what is accepted: "1.254 m ± 10 mm", "at most 5.0 %", "30.0° to 45.0°".
func (v view) limits(c judge.Check) string {
	low, high := !math.IsInf(c.Low, -1), !math.IsInf(c.High, 1)
	switch {
	case low && high && math.Abs((c.Target-c.Low)-(c.High-c.Target)) < 1e-9:
		return v.number(c.Target, c.Unit) + " ± " + v.small(c.High-c.Target, c.Unit)
	case low && high:
		return v.number(c.Low, c.Unit) + " to " + v.number(c.High, c.Unit)
	case high:
		return "at most " + v.number(c.High, c.Unit)
	case low:
		return "at least " + v.number(c.Low, c.Unit)
	}
	return ""
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// quantity writes a value with four significant digits.
func quantity(x float64, unit string) string {
	const nothing = 1e-9 // what rounding leaves of a zero
	if math.Abs(x) < nothing || math.IsNaN(x) || math.IsInf(x, 0) {
		return strings.TrimSpace("0 " + unit)
	}
	places := 3 - int(math.Floor(math.Log10(math.Abs(x))))
	return strings.TrimSpace(words.Decimals(x, max(places, 0)) + " " + unit)
}

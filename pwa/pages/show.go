package pages

import (
	"fmt"
	"math"
	"strings"
	"time"

	"hangtrue/checklist"
	"hangtrue/checklist/judge"
	"hangtrue/compute/gauge"
	"hangtrue/compute/tape"
	. "hangtrue/pwa/markup"
)

// chip shows a status by a sign, a word and a colour, never by the colour alone.
func chip(s checklist.Status) Node {
	sign := map[checklist.Status]string{
		checklist.Held: "⏸", checklist.Ready: "➜", checklist.Done: "✓", checklist.Stale: "↻", checklist.Conceded: "✓",
	}[s]
	return El("span", class("chip "+string(s)), El("span", Attr("aria-hidden", "true"), Text(sign)), Text(" "+statusWord[s]))
}

var statusWord = map[checklist.Status]string{
	checklist.Held: "held", checklist.Ready: "ready", checklist.Done: "done",
	checklist.Stale: "look again", checklist.Conceded: "off plan, conceded",
}

// verdictChip shows a verdict in the same three ways.
func verdictChip(v gauge.Verdict) Node {
	sign := map[gauge.Verdict]string{gauge.Within: "✓", gauge.Outside: "✕", gauge.Unsure: "?"}[v]
	return El("span", class("chip "+v.String()), El("span", Attr("aria-hidden", "true"), Text(sign)), Text(" "+v.String()))
}

func (v view) system() tape.System {
	if p := v.State.Plan(); p != nil {
		return p.Units.System()
	}
	return tape.Metric
}

// number shows a check's value in its unit.
func (v view) number(x float64, u judge.Unit) string {
	switch u {
	case judge.Metre:
		return tape.Format(x, v.system())
	case judge.Radian:
		return fmt.Sprintf("%.1f°", x*180/math.Pi)
	case judge.Ratio:
		return fmt.Sprintf("%.1f %%", x*100)
	case judge.Ohm:
		return fmt.Sprintf("%.2f ohm", x)
	case judge.Ampere:
		return fmt.Sprintf("%.1f A", x)
	case judge.Decibel:
		return fmt.Sprintf("%.1f dB", x)
	}
	return strings.TrimSuffix(strings.TrimRight(fmt.Sprintf("%.2f", x), "0"), ".")
}

// small shows a tolerance or an uncertainty in the check's unit.
func (v view) small(x float64, u judge.Unit) string {
	if u == judge.Metre {
		return tape.FormatSmall(x, v.system())
	}
	return v.number(x, u)
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

// clock shows a time as the log holds it.
func clock(stamp string) string {
	t, err := time.Parse(time.RFC3339, stamp)
	if err != nil {
		return stamp
	}
	return t.UTC().Format("2006-01-02 15:04 UTC")
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// trimFloat writes four significant digits without a needless tail.
func trimFloat(x float64) string {
	digits := 3 - int(math.Floor(math.Log10(math.Abs(x))))
	s := fmt.Sprintf("%.*f", max(digits, 0), x)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

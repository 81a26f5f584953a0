package main

import (
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"hangtrue/checklist/judge"
	"hangtrue/compute/gauge"
	"hangtrue/compute/tape"
)

// lines is an error of several problems, one a line.
type lines []string

func (l lines) Error() string { return strings.Join(l, "\n") }

// listing writes checks for a person, in 100 columns.
type listing struct {
	out    io.Writer
	system tape.System
	brief  bool // only what is not within
}

const width = 100

// columns and how wide each is; the verdict, which ends a row, stands free.
var columns = []struct {
	name  string
	width int
}{{"mount", 7}, {"check", 30}, {"measured", 13}, {"target", 13}, {"tolerance", 17}, {"U", 9}, {"verdict", 0}}

func (t listing) write(checks []judge.Check) error {
	var b strings.Builder
	header := make([]string, len(columns))
	for i, c := range columns {
		header[i] = c.name
	}
	row(&b, header...)
	counts := map[gauge.Verdict]int{}
	for _, c := range checks {
		counts[c.Verdict]++
		if c.Verdict == gauge.Within && t.brief {
			continue
		}
		t.check(&b, c)
	}
	fmt.Fprintf(&b, "\n%d checks: %d within, %d outside, %d unsure\n", len(checks), counts[gauge.Within], counts[gauge.Outside], counts[gauge.Unsure])
	_, err := io.WriteString(t.out, b.String())
	return err
}

// check writes a row and, for what is not within, what it means and what to do.
func (t listing) check(b *strings.Builder, c judge.Check) {
	subject := c.Subject
	if subject == "" {
		subject = "job"
	}
	cells := []string{subject, c.Title, "", "", "", "", c.Verdict.String()}
	if c.Unit != judge.Condition {
		cells[2] = t.number(c.Measured, c.Unit)
		cells[3], cells[4] = t.limits(c)
		if c.Expanded > 0 {
			cells[5] = t.small(c.Expanded, c.Unit)
		}
	}
	row(b, cells...)
	if c.Verdict == gauge.Within {
		return
	}
	for _, line := range []struct{ label, text string }{
		{"", c.Says}, {"move: ", c.Correction}, {"largest part of U: ", c.Largest}, {"to settle it: ", c.Settle}, {"source: ", c.Source},
	} {
		if line.text != "" {
			wrap(b, "        ", line.label+line.text)
		}
	}
	if c.Barred {
		wrap(b, "        ", "No concession passes this.")
	}
}

// row writes cells in their columns. A cell that is too long pushes the rest of its
// row to the right, as little as can be.
func row(b *strings.Builder, cells ...string) {
	var line strings.Builder
	at := 0
	for i, c := range columns {
		line.WriteString(cells[i])
		at += c.width
		if i < len(columns)-1 {
			line.WriteString(strings.Repeat(" ", max(1, at-utf8.RuneCountInString(line.String()))))
		}
	}
	b.WriteString(strings.TrimRight(line.String(), " "))
	b.WriteByte('\n')
}

// wrap writes a text below its row, broken between words.
func wrap(b *strings.Builder, indent, text string) {
	used := 0
	for _, word := range strings.Fields(text) {
		n := utf8.RuneCountInString(word)
		switch {
		case used == 0:
			b.WriteString(indent)
			used = len(indent)
		case used+1+n > width:
			b.WriteString("\n" + indent)
			used = len(indent)
		default:
			b.WriteByte(' ')
			used++
		}
		b.WriteString(word)
		used += n
	}
	b.WriteByte('\n')
}

// number writes a value in its unit.
func (t listing) number(x float64, u judge.Unit) string {
	switch v := inUnit(x, u); u {
	case judge.Metre:
		return tape.Format(x, t.system)
	case judge.Radian:
		return fmt.Sprintf("%.2f°", v)
	case judge.Ratio:
		return fmt.Sprintf("%.1f %%", v)
	case judge.Number:
		return fmt.Sprintf("%.4g", v)
	default:
		return fmt.Sprintf("%.2f %s", v, u)
	}
}

// small writes a tolerance or an uncertainty, a length of some millimetres with a tenth.
func (t listing) small(x float64, u judge.Unit) string {
	if u != judge.Metre {
		return t.number(x, u)
	}
	if t.system == tape.Metric && x < 0.1 {
		return strings.TrimSuffix(fmt.Sprintf("%.1f", x*1000), ".0") + " mm"
	}
	return tape.FormatSmall(x, t.system)
}

// limits are a check's target and tolerance: "1.254 m" and "± 10 mm", or, where
// the sides differ, what is allowed.
func (t listing) limits(c judge.Check) (target, tolerance string) {
	low, high := !math.IsInf(c.Low, -1), !math.IsInf(c.High, 1)
	switch {
	case low && high && math.Abs((c.Target-c.Low)-(c.High-c.Target)) < 1e-9:
		return t.number(c.Target, c.Unit), "± " + t.small(c.High-c.Target, c.Unit)
	case low && high:
		return t.number(c.Target, c.Unit), t.number(c.Low, c.Unit) + " to " + t.number(c.High, c.Unit)
	case high:
		return t.number(c.Target, c.Unit), "at most"
	case low:
		return t.number(c.Target, c.Unit), "at least"
	}
	return t.number(c.Target, c.Unit), ""
}

// inUnit is a check's value in the unit it is shown in.
func inUnit(x float64, u judge.Unit) float64 {
	switch u {
	case judge.Radian:
		return x * 180 / math.Pi
	case judge.Ratio:
		return x * 100
	}
	return x
}

// shown is inUnit for JSON, which has no infinity, to a millionth: a micrometre.
// Digits beyond that differ between processors.
func shown(x float64, u judge.Unit) *float64 {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	v := math.Round(inUnit(x, u)*1e6)/1e6 + 0 // and no -0
	return &v
}

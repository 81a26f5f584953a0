// Package words writes numbers and times for people, on screen and paper alike.
// Lengths are package tape's.
package words

import (
	"fmt"
	"math"
	"strings"
	"time"
)

// Degrees writes an angle (radians) to a tenth of a degree; what rounds to nothing
// has no sign.
func Degrees(rad float64) string { return fmt.Sprintf("%.1f°", math.Round(rad*1800/math.Pi)/10+0) }

// Decimals writes at most n decimals, without a needless tail or a sign on zero.
func Decimals(x float64, n int) string {
	s := fmt.Sprintf("%.*f", n, x)
	if strings.Contains(s, ".") {
		s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}

// Clock writes a time as the log holds it, or the text itself where it is none.
func Clock(stamp string) string {
	t, err := time.Parse(time.RFC3339, stamp)
	if err != nil {
		return stamp
	}
	return t.UTC().Format("2006-01-02 15:04 UTC")
}

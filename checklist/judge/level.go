package judge

import (
	"fmt"
	"math"

	"hangtrue/compute/gauge"
	"hangtrue/compute/tape"
)

// levelLine judges the slope of the bracket line: from two heights a span apart,
// atan((right - left) / span), or from a level's reading, halved with the reading
// of the level turned end for end when both are given. Positive runs up to the right.
func levelLine(c Case) []Check {
	slope, ok := c.slopeByLevel()
	if !ok {
		slope, ok = c.slopeByHeights()
	}
	limits := gauge.Around(0, c.Plan.Tolerances.Level)
	if !ok {
		return []Check{unsure("level.line", "Slope of the line", "Nothing here tells how level the line is.",
			"give both heights and how far apart they are, read with a tape; or the reading of a level")}
	}
	check := c.evaluate("level.line", "Slope of the line", Radian, slope, limits, ownTolerance)
	if check.Verdict != gauge.Within {
		end := "right"
		if slope.Value > 0 {
			end = "left"
		}
		span := 0.3
		if given := c.Measured["span_um"]; len(given) > 0 {
			span = metres(given[0])
		}
		check.Correction = fmt.Sprintf("raise the %s end by %s over %s", end,
			tape.FormatSmall(math.Abs(math.Tan(slope.Value))*span, c.system()), tape.FormatSmall(span, c.system()))
	}
	return []Check{check}
}

func (c Case) slopeByLevel() (gauge.Measured, bool) {
	a, ok := c.read("reading_mdeg", "with")
	if !ok {
		return gauge.Measured{}, false
	}
	b, ok := c.read("turned_mdeg", "with")
	if !ok {
		return a, true
	}
	slope, _ := gauge.Flip(a.Value, b.Value)
	// Turning takes the level's zero error out; what is left is worth what the plan
	// states of the instrument.
	return gauge.Measured{Value: slope, Uncertainty: a.Uncertainty}, true
}

func (c Case) slopeByHeights() (gauge.Measured, bool) {
	left, ok := c.read("left_up_um", "with")
	right, also := c.read("right_up_um", "with")
	span := c.Measured["span_um"]
	if !ok || !also || len(span) == 0 || span[0] <= 0 {
		return gauge.Measured{}, false
	}
	rise, run := right.Value-left.Value, metres(span[0])
	// d slope / d height = run / (run² + rise²)
	by := run / (float64(run*run) + float64(rise*rise))
	u, err := gauge.Propagate([]float64{-by, by}, []gauge.Component{
		left.Uncertainty.As("the left height", byTape), right.Uncertainty.As("the right height", byTape)})
	return gauge.Measured{Value: math.Atan2(rise, run), Uncertainty: u}, err == nil
}

// surveySize holds the measured room against the plan's box. A room that is not a
// box has its surfaces in the plan and is not judged by three lengths.
func surveySize(c Case) []Check {
	box := c.Plan.Room.Box
	if box == nil {
		return nil
	}
	var checks []Check
	for _, side := range []struct {
		name, title, key string
		planned          float64
	}{
		{"survey.size width", "Left wall to right wall", "width_um", box.Width},
		{"survey.size length", "Rear wall to front wall", "length_um", box.Length},
		{"survey.size height", "Floor to ceiling", "height_um", box.Height},
	} {
		checks = append(checks, c.unread(side.name, side.title, side.key, "tape")...)
		if m, ok := c.read(side.key, "tape"); ok {
			check := c.evaluate(side.name, side.title, Metre, m, gauge.Around(side.planned, c.Plan.Tolerances.Distance), "the plan's distance tolerance: a wall that stands elsewhere moves every loudspeaker on it")
			if off := m.Value - side.planned; check.Verdict != gauge.Within {
				check.Says = fmt.Sprintf("It is %s %s than in the plan. Measure it again; if it stays, the plan has to be revised.",
					tape.FormatSmall(math.Abs(off), c.system()), map[bool]string{true: "more", false: "less"}[off > 0])
			}
			checks = append(checks, check)
		}
	}
	return checks
}

// surveySquare judges how far the floor is from square by its diagonals. For a
// parallelogram with sides a and b, d1² - d2² = 4ab·cos θ, so that the room is off
// square by asin((d1² - d2²)/(4ab)).
func surveySquare(c Case) []Check {
	d1, ok := c.read("diagonal_1_um", "tape")
	d2, also := c.read("diagonal_2_um", "tape")
	a, hasA := c.read("width_um", "tape")
	b, hasB := c.read("length_um", "tape")
	if !ok || !also || !hasA || !hasB || a.Value <= 0 || b.Value <= 0 {
		return nil
	}
	area := 4 * a.Value * b.Value
	x := (float64(d1.Value*d1.Value) - float64(d2.Value*d2.Value)) / area
	if math.Abs(x) >= 1 {
		return []Check{condition("survey.square", "Square", false, "These diagonals do not belong to this width and length. One reading is wrong.")}
	}
	by := 1 / math.Sqrt(1-x*x)
	u, err := gauge.Propagate([]float64{2 * d1.Value / area * by, -2 * d2.Value / area * by}, []gauge.Component{
		d1.Uncertainty.As("the first diagonal", byTape), d2.Uncertainty.As("the second diagonal", byTape)})
	if err != nil {
		return nil
	}
	check := c.evaluate("survey.square", "Off square", Radian, gauge.Measured{Value: math.Asin(x), Uncertainty: u},
		gauge.Around(0, c.Plan.Tolerances.Azimuth), "the plan's azimuth tolerance")
	if check.Verdict == gauge.Outside {
		check.Says = fmt.Sprintf("The diagonals differ by %s: the room is not square by %.1f°, or one reading is wrong.",
			tape.FormatSmall(math.Abs(d1.Value-d2.Value), c.system()), math.Abs(math.Asin(x))*180/math.Pi)
	}
	return []Check{check}
}

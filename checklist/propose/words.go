package propose

import (
	"fmt"
	"math"
	"strings"

	"hangtrue/compute/layout"
	"hangtrue/compute/place"
	"hangtrue/compute/tape"
)

// angleText is an angle to a tenth of a degree, whole ones without the tenth.
func angleText(rad float64) string {
	deg := math.Round(rad*1800/math.Pi) / 10
	if deg == 0 {
		deg = 0 // no sign
	}
	return fmt.Sprintf("%g°", deg)
}

// upText is an elevation: "30° up", "at ear height", "5° down".
func upText(rad float64) string {
	switch {
	case rad >= told:
		return angleText(rad) + " up"
	case rad <= -told:
		return angleText(-rad) + " down"
	}
	return "at ear height"
}

// directionText is the azimuth, the elevation, or both.
func directionText(d place.Direction, azimuth, elevation bool) string {
	switch {
	case !elevation:
		return angleText(d.Azimuth)
	case !azimuth:
		return upText(d.Elevation)
	}
	return angleText(d.Azimuth) + " and " + upText(d.Elevation)
}

func rangeText(r layout.Range) string { return angleText(r.From) + " to " + angleText(r.To) }

// permittedAzimuth and permittedElevation say what the layout permits about a direction, a target with the plan's own
// tolerance.
func (k *seeker) permittedAzimuth(azimuth float64) string {
	b := k.band(azimuth)
	if b.Target() {
		return angleText(b.From) + " ± " + angleText(k.s.p.Tolerances.Azimuth) + ", the plan's own tolerance"
	}
	return rangeText(b)
}

func (k *seeker) permittedElevation() string {
	r := k.at.ElevationRange()
	if r.Target() {
		return upText(r.From) + " ± " + angleText(k.s.p.Tolerances.Elevation) + ", the plan's own tolerance"
	}
	if r.From < 0 {
		return rangeText(layout.Range{From: -r.To, To: -r.From}) + " down"
	}
	return rangeText(r) + " up"
}

// spotText is a spot in tape coordinates.
func (s *search) spotText(side *side, q place.Spot) string {
	return fmt.Sprintf("%s along and %s %s on %s", tape.Format(q.Along, s.system), tape.Format(q.Up, s.system), side.up, side.title)
}

func (s *search) small(x float64) string { return tape.FormatSmall(math.Abs(x), s.system) }

// moveText is a move on a surface in tape terms, empty where it is less than the tape shows.
func (s *search) moveText(side *side, from, to place.Spot) string {
	forward, back, up, down := "right", "left", "up", "down"
	if side.style != onWall || side.Up.Z <= 0 || math.Abs(side.Along.Z) > 1e-9 {
		forward, back, up, down = "further along", "back along", "further out", "back in"
	}
	var parts []string
	along, higher := place.TapeCorrection(from, to)
	for _, m := range []struct {
		by          float64
		word, other string
	}{{along, forward, back}, {higher, up, down}} {
		if math.Abs(m.by) < s.grid {
			continue
		}
		word := m.word
		if m.by < 0 {
			word = m.other
		}
		parts = append(parts, s.small(m.by)+" "+word)
	}
	return strings.Join(parts, " and ")
}

// member is what the framing of a side is called.
func (s *side) member() string {
	if s.style == overhead {
		return "joist"
	}
	if s.Framing.Across {
		return "rail"
	}
	return "stud"
}

package tape

import (
	"fmt"
	"math"
	"strconv"
)

// outOfRange is written for a length that is not finite or beyond [MaxLength]: text for people must not end a program.
const outOfRange = "out of range"

// Format writes a length (metres) to the division of the system: "1.254 m", or feet, inches and a reduced fraction to
// the nearest 1/16 in, `4' 1 3/8"`; below one foot the inches alone. Halves round away from zero; zero has no sign.
// A length that is not finite or beyond [MaxLength] is written "out of range".
func Format(length float64, s System) string {
	if s == Imperial {
		return feetInches(length)
	}
	n, ok := divisions(length, Metric)
	if !ok {
		return outOfRange
	}
	return fmt.Sprintf("%s%d.%03d m", sign(n), abs(n)/1000, abs(n)%1000)
}

// FormatSmall writes a correction (metres): whole millimetres, "18 mm", or inches to 1/16, `11/16"`; from one foot on
// as [Format] does. It keeps the limits of [Format].
func FormatSmall(length float64, s System) string {
	if s == Imperial {
		return feetInches(length)
	}
	n, ok := divisions(length, Metric)
	if !ok {
		return outOfRange
	}
	return strconv.FormatInt(n, 10) + " mm"
}

// Micrometres is length (metres) as a whole number of micrometres, halves away from zero, as it stands in a log. It is
// an error if the length is not finite or beyond [MaxLength].
func Micrometres(length float64) (int64, error) {
	if !(math.Abs(length) <= MaxLength) {
		return 0, refuse(strconv.FormatFloat(length, 'g', -1, 64), fmt.Sprintf("a finite length of at most %g m", MaxLength))
	}
	return int64(math.Round(length * 1e6)), nil
}

// Metres is the length (metres) of a whole number of micrometres.
func Metres(micrometres int64) float64 { return float64(micrometres) / 1e6 }

// divisions counts the steps of the system in a length. It goes by whole micrometres, so that a length which came
// through a log rounds as the original does.
func divisions(length float64, s System) (n int64, ok bool) {
	um, err := Micrometres(length)
	if err != nil {
		return 0, false
	}
	num, den := um, int64(1000) // micrometres in 1 mm
	if s == Imperial {
		num, den = 16*um, micrometres[Inch]
	}
	if num < 0 {
		return -((-2*num + den) / (2 * den)), true
	}
	return (2*num + den) / (2 * den), true
}

func feetInches(length float64) string {
	n, ok := divisions(length, Imperial)
	if !ok {
		return outOfRange
	}
	a := abs(n)
	text := sign(n)
	if a >= 12*16 {
		text += strconv.FormatInt(a/(12*16), 10) + "' "
	}
	inches, top, bottom := a/16%12, a%16, int64(16)
	for top > 0 && top%2 == 0 {
		top, bottom = top/2, bottom/2
	}
	switch {
	case top == 0:
		text += strconv.FormatInt(inches, 10)
	case inches == 0:
		text += fmt.Sprintf("%d/%d", top, bottom)
	default:
		text += fmt.Sprintf("%d %d/%d", inches, top, bottom)
	}
	return text + `"`
}

func sign(n int64) string {
	if n < 0 {
		return "-"
	}
	return ""
}

func abs(n int64) int64 {
	if n < 0 {
		return -n
	}
	return n
}

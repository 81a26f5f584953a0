package table

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"

	"hangtrue/checklist/strict"
	"hangtrue/compute/tape"
)

// A kind is what the cells of a column hold.
type kind uint8

const (
	name    kind = iota // a text without space at its ends
	prose               // a text as it stands
	whole               // a whole number
	metres              // a length, in the file metres or what a tape says
	degrees             // an angle, in the file degrees
)

// A column is one field of a struct that the plan or the measured file has too, under its key there.
type column struct {
	key      string
	field    int
	kind     kind
	many     bool // repeat readings, apart by ';' or a line break
	required bool
}

// proses are the fields whose texts people write freely.
var proses = map[string]bool{"off_angle_reason": true}

// columnsOf are the columns of a struct, one for each field. It panics at a field of a type that no cell holds, which
// is a fault of the program.
func columnsOf(t reflect.Type) []column {
	columns := make([]column, t.NumField())
	for i := range columns {
		f := t.Field(i)
		key, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		c := column{key: key, field: i, required: options != "omitempty"}
		of := f.Type
		if c.many = of.Kind() == reflect.Slice; c.many {
			of = of.Elem()
		}
		switch {
		case of.Kind() == reflect.Float64 && strings.HasSuffix(key, "_m"):
			c.kind = metres
		case of.Kind() == reflect.Float64 && strings.HasSuffix(key, "_deg"):
			c.kind = degrees
		case of.Kind() == reflect.Int && !c.many:
			c.kind = whole
		case of.Kind() == reflect.String && !c.many && proses[key]:
			c.kind = prose
		case of.Kind() == reflect.String && !c.many:
			c.kind = name
		default:
			panic(fmt.Sprintf("table: no cell holds %v.%s", t, f.Name))
		}
		columns[i] = c
	}
	return columns
}

// put reads a cell into its field, or says what is wanted of it. Readings come after those that are there.
func (c column) put(v reflect.Value, text string) (want string) {
	if c.kind != prose {
		text = strings.TrimSpace(text)
	}
	text = unguard(text)
	switch {
	case text == "" && c.required && !c.many:
		return wanted[c.kind]
	case text == "" && !c.many:
		v.SetZero()
		return ""
	case c.kind == name || c.kind == prose:
		if want = strict.TextFault(text); want == "" {
			v.SetString(text)
		}
		return want
	case c.kind == whole:
		x, ok := decimal(text)
		if !ok || x != math.Trunc(x) || math.Abs(x) >= maxWhole {
			return wanted[whole]
		}
		v.SetInt(int64(x))
		return ""
	case !c.many:
		x, want := c.number(text)
		if want == "" {
			v.SetFloat(x)
		}
		return want
	}
	for reading := range strings.FieldsFuncSeq(text, func(r rune) bool { return r == ';' || r == '\n' }) {
		x, want := c.number(reading)
		if want != "" {
			return want
		}
		v.Set(reflect.Append(v, reflect.ValueOf(x)))
	}
	return ""
}

// maxWhole keeps whole numbers inside an int everywhere; the plan's own bounds are far below.
const maxWhole = 1e9

var wanted = [...]string{
	name: "a text", prose: "a text", whole: "a whole number",
	metres: `a length such as 1.254 or 49 3/8"`, degrees: "degrees from -360 to 360, such as -36.8",
}

// number reads a length (metres, to whole micrometres) or an angle (radians, to whole millionths of a degree).
func (c column) number(text string) (x float64, want string) {
	if c.kind == degrees {
		x, ok := decimal(strings.TrimSuffix(strings.TrimSpace(text), "°"))
		if !ok || math.Abs(x) > strict.MaxAngle {
			return 0, wanted[degrees]
		}
		return math.Round(x*1e6)/1e6*(math.Pi/180) + 0, "" // + 0 turns -0 into 0
	}
	r, err := tape.Parse(text, tape.Metre)
	if err == nil {
		return tape.Metres(r.Micrometres), ""
	}
	// A sheet that works lengths out writes more digits than a tape has.
	if x, ok := decimal(text); ok {
		if um, err := tape.Micrometres(x); err == nil {
			return tape.Metres(um), ""
		}
	}
	want = wanted[metres]
	var fault *tape.Error
	if errors.As(err, &fault) {
		want += ": " + fault.Want
	}
	return 0, want
}

// decimal reads a number as sheets write it: digits, one decimal mark, point or comma, with digits on both sides, and
// perhaps an exponent.
func decimal(text string) (float64, bool) {
	s := strings.Replace(strings.Replace(strings.TrimSpace(text), "\u2212", "-", 1), ",", ".", 1)
	digits := strings.TrimLeft(s, "+-")
	if len(s)-len(digits) > 1 || digits == "" || strings.Trim(digits, "0123456789.eE+-") != "" || !isDigit(digits[0]) || !isDigit(digits[len(digits)-1]) {
		return 0, false
	}
	if before, _, ok := strings.Cut(digits, "."); ok {
		if after := digits[len(before)+1:]; !isDigit(after[0]) {
			return 0, false
		}
	}
	x, err := strconv.ParseFloat(s, 64)
	return x, err == nil
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }

// text writes a field as put reads it.
func (c column) text(v reflect.Value) (string, error) {
	switch {
	case c.kind == name || c.kind == prose:
		return guard(v.String()), nil
	case !c.required && !c.many && v.IsZero():
		return "", nil
	case c.kind == whole:
		return strconv.FormatInt(v.Int(), 10), nil
	case !c.many:
		return c.figure(v.Float())
	}
	readings := make([]string, v.Len())
	for i := range readings {
		var err error
		if readings[i], err = c.figure(v.Index(i).Float()); err != nil {
			return "", err
		}
	}
	all := strings.Join(readings, "; ")
	if len(readings) > 1 { // one number is no formula, whatever its sign
		all = guard(all)
	}
	return all, nil
}

// figure writes a length in metres or an angle in degrees, with at most six decimals and no exponent.
func (c column) figure(x float64) (string, error) {
	millionths := math.Round(x * 1e6)
	if c.kind == degrees {
		millionths = math.Round(x * (180 / math.Pi) * 1e6)
	}
	most := tape.MaxLength * 1e6
	if c.kind == degrees {
		most = strict.MaxAngle * 1e6
	}
	if !(math.Abs(millionths) <= most) {
		return "", fmt.Errorf("table: %s is %g, which no cell holds", c.key, x)
	}
	return strconv.FormatFloat(millionths/1e6+0, 'f', -1, 64), nil
}

package strict

import (
	"encoding"
	"errors"
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"
	"unicode/utf8"

	"hangtrue/compute/tape"
)

const (
	// MaxNumber is the bound no number may reach: nothing in a house has a million million of anything, and below it
	// sums and products stay finite.
	MaxNumber = 1e12

	// MaxAngle is the largest angle either way, in degrees: one whole turn; more is a slip.
	MaxAngle = 360.0

	// MaxText bounds a text in characters: a page of remarks.
	MaxText = 4000
)

// Decode reads one JSON document into the struct that into points to, and returns every problem in document order,
// none if all is well. After problems the struct holds what could be read. Decode panics if into is not a pointer to a
// struct of tagged fields: that is a fault of the program, never of the data.
func Decode(data []byte, into any) Problems {
	v := reflect.ValueOf(into)
	if v.Kind() != reflect.Pointer || v.IsNil() || v.Elem().Kind() != reflect.Struct {
		panic(fmt.Sprintf("strict: Decode into %T, want a pointer to a struct", into))
	}
	root, problem := parse(data)
	if problem != nil {
		return Problems{*problem}
	}
	d := decoder{types: map[reflect.Type][]field{}}
	d.value(root, v.Elem(), "", plain)
	d.problems.Sort(data)
	return d.problems
}

// A unit is what the key says about a number.
type unit uint8

const (
	plain unit = iota
	metres
	degrees
)

func unitOf(key string) unit {
	switch {
	case strings.HasSuffix(key, "_m"):
		return metres
	case strings.HasSuffix(key, "_deg"):
		return degrees
	}
	return plain
}

// A field is one struct field as the document knows it.
type field struct {
	key      string
	index    []int
	optional bool
	unit     unit
}

// fieldsOf lists the fields of a struct in order. Only exported fields with a json name take part; the fields of an
// embedded struct without one stand as if written out.
func fieldsOf(t reflect.Type) []field {
	var fields []field
	for i := range t.NumField() {
		f := t.Field(i)
		key, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		switch {
		case !f.IsExported() || key == "-":
			continue
		case key == "" && f.Anonymous && f.Type.Kind() == reflect.Struct:
			for _, in := range fieldsOf(f.Type) {
				in.index = append([]int{i}, in.index...)
				fields = append(fields, in)
			}
			continue
		case key == "":
			panic(fmt.Sprintf("strict: %v.%s has no json name", t, f.Name))
		}
		fields = append(fields, field{key: key, index: []int{i}, optional: options == "omitempty", unit: unitOf(key)})
	}
	return fields
}

type decoder struct {
	problems Problems
	types    map[reflect.Type][]field // of this document alone, so that the package keeps no state
}

func (d *decoder) wrong(n *node, pointer, want string) {
	d.problems.add(n.at, pointer, n.shown(), want)
}

func (d *decoder) value(n *node, v reflect.Value, pointer string, u unit) {
	if n.kind == null {
		d.wrong(n, pointer, wanted(v.Type(), u))
		return
	}
	if t, ok := v.Addr().Interface().(encoding.TextUnmarshaler); ok {
		if n.kind != text {
			d.wrong(n, pointer, "a text")
		} else if err := t.UnmarshalText([]byte(n.text)); err != nil {
			d.wrong(n, pointer, err.Error())
		}
		return
	}
	switch v.Kind() {
	case reflect.Pointer:
		v.Set(reflect.New(v.Type().Elem()))
		d.value(n, v.Elem(), pointer, u)
	case reflect.Struct:
		d.object(n, v, pointer)
	case reflect.Slice:
		d.slice(n, v, pointer, u)
	case reflect.Map:
		d.table(n, v, pointer)
	case reflect.Array:
		if n.kind != array || len(n.items) != v.Len() {
			read := n.shown()
			if n.kind == array {
				read = strconv.Itoa(len(n.items)) + " elements"
			}
			d.problems.add(n.at, pointer, read, wanted(v.Type(), u))
			return
		}
		for i, item := range n.items {
			d.value(item, v.Index(i), Pointer(pointer, i), u)
		}
	case reflect.String:
		if n.kind != text {
			d.wrong(n, pointer, "a text")
		} else if want := TextFault(n.text); want != "" {
			d.wrong(n, pointer, want)
		} else {
			v.SetString(n.text)
		}
	case reflect.Bool:
		if n.kind != boolean {
			d.wrong(n, pointer, wanted(v.Type(), u))
			return
		}
		v.SetBool(n.text == "true")
	case reflect.Float64:
		x, want := float(n, u)
		if want != "" {
			d.wrong(n, pointer, want)
			return
		}
		v.SetFloat(x)
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		x, ok := whole(n)
		if !ok || v.OverflowInt(x) {
			d.wrong(n, pointer, wanted(v.Type(), u))
			return
		}
		v.SetInt(x)
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		x, ok := whole(n)
		if !ok || x < 0 || v.OverflowUint(uint64(x)) {
			d.wrong(n, pointer, wanted(v.Type(), u))
			return
		}
		v.SetUint(uint64(x))
	default:
		panic(fmt.Sprintf("strict: cannot read into %v", v.Type()))
	}
}

func (d *decoder) slice(n *node, v reflect.Value, pointer string, u unit) {
	if n.kind != array {
		d.wrong(n, pointer, wanted(v.Type(), u))
		return
	}
	if len(n.items) == 0 {
		v.SetZero()
		return
	}
	v.Set(reflect.MakeSlice(v.Type(), len(n.items), len(n.items)))
	for i, item := range n.items {
		d.value(item, v.Index(i), Pointer(pointer, i), u)
	}
}

// table reads an object whose keys the program does not know beforehand.
func (d *decoder) table(n *node, v reflect.Value, pointer string) {
	if n.kind != object {
		d.wrong(n, pointer, "an object")
		return
	}
	if v.SetZero(); len(n.keys) == 0 {
		return
	}
	v.Set(reflect.MakeMapWithSize(v.Type(), len(n.keys)))
	for i, k := range n.keys {
		at, name := Pointer(pointer, k.name), reflect.ValueOf(k.name).Convert(v.Type().Key())
		if v.MapIndex(name).IsValid() {
			d.twice(k, at)
			continue
		}
		if want := TextFault(k.name); want != "" {
			d.problems.add(k.at, at, "the key "+Quote(k.name), want)
		}
		item := reflect.New(v.Type().Elem()).Elem()
		d.value(n.items[i], item, at, unitOf(k.name))
		v.SetMapIndex(name, item)
	}
}

func (d *decoder) twice(k key, pointer string) {
	d.problems.add(k.at, pointer, "the key a second time", "each key once")
}

func (d *decoder) object(n *node, v reflect.Value, pointer string) {
	if n.kind != object {
		d.wrong(n, pointer, "an object")
		return
	}
	fields, ok := d.types[v.Type()]
	if !ok {
		fields = fieldsOf(v.Type())
		d.types[v.Type()] = fields
	}
	seen := make(map[string]bool, len(n.keys))
	for i, k := range n.keys {
		at := Pointer(pointer, k.name)
		if seen[k.name] {
			d.twice(k, at)
			continue
		}
		seen[k.name] = true
		f, ok := lookup(fields, k.name)
		if !ok {
			d.problems.add(k.at, at, "the unknown key "+Quote(k.name), suggestion(k.name, fields))
			continue
		}
		d.value(n.items[i], v.FieldByIndex(f.index), at, f.unit)
	}
	for _, f := range fields {
		if !f.optional && !seen[f.key] {
			d.problems.add(n.at, Pointer(pointer, f.key), "nothing", wanted(v.Type().FieldByIndex(f.index).Type, f.unit))
		}
	}
}

func lookup(fields []field, key string) (field, bool) {
	for _, f := range fields {
		if f.key == key {
			return f, true
		}
	}
	return field{}, false
}

func suggestion(key string, fields []field) string {
	known := make([]string, len(fields))
	for i, f := range fields {
		known[i] = f.key
	}
	if k := Nearest(key, known); k != "" {
		return "a known key; perhaps " + Quote(k)
	}
	return "one of " + strings.Join(known, ", ")
}

// wanted says what a value of type t should look like.
func wanted(t reflect.Type, u unit) string {
	if reflect.PointerTo(t).Implements(reflect.TypeFor[encoding.TextUnmarshaler]()) {
		return "a text"
	}
	switch t.Kind() {
	case reflect.Pointer:
		return wanted(t.Elem(), u)
	case reflect.Struct, reflect.Map:
		return "an object"
	case reflect.Slice:
		return "an array"
	case reflect.Array:
		return fmt.Sprintf("an array of %d: %s", t.Len(), wanted(t.Elem(), u))
	case reflect.String:
		return "a text"
	case reflect.Bool:
		return "true or false"
	case reflect.Float64:
		return [...]string{plain: "a number", metres: wantMetres, degrees: wantDegrees}[u]
	case reflect.Int8, reflect.Int16, reflect.Int32, reflect.Uint8, reflect.Uint16, reflect.Uint32:
		return fmt.Sprintf("a whole number that fits %d bits", t.Bits())
	case reflect.Uint, reflect.Uint64:
		return "a whole number from 0"
	default:
		return "a whole number"
	}
}

const (
	wantMetres  = `metres as a number, or a text such as "1254 mm"`
	wantDegrees = "degrees as a number"
)

func wantSmall() string { return fmt.Sprintf("a number below %g", MaxNumber) }
func wantTurn() string  { return fmt.Sprintf("degrees from %g to %g", -MaxAngle, MaxAngle) }
func wantReach() string {
	return fmt.Sprintf("metres from %g to %g", -tape.MaxLength, tape.MaxLength)
}

// float reads a number in the unit of its key, or says what is wanted.
func float(n *node, u unit) (x float64, want string) {
	if n.kind == text && u == metres {
		r, err := tape.Parse(n.text, tape.Metre)
		if err != nil {
			var fault *tape.Error
			if errors.As(err, &fault) {
				return 0, fault.Want
			}
			return 0, err.Error()
		}
		return tape.Metres(r.Micrometres), ""
	}
	if n.kind != number {
		return 0, wanted(reflect.TypeFor[float64](), u)
	}
	x, err := strconv.ParseFloat(n.text, 64)
	if err != nil || math.Abs(x) >= MaxNumber {
		return 0, wantSmall()
	}
	switch u {
	case metres:
		um, err := tape.Micrometres(x)
		if err != nil {
			return 0, wantReach()
		}
		return tape.Metres(um), ""
	case degrees:
		if math.Abs(x) > MaxAngle {
			return 0, wantTurn()
		}
		return radians(math.Round(x * 1e6)), ""
	}
	return x + 0, "" // + 0 turns -0 into 0
}

// radians of a whole number of millionths of a degree.
func radians(microdegrees float64) float64 { return (microdegrees/1e6)*(math.Pi/180) + 0 }

// microdegrees is the whole number nearest to an angle in radians.
func microdegrees(angle float64) float64 { return math.Round(angle*(180/math.Pi)*1e6) + 0 }

// whole reads an integer, however it is spelt (5, 5.0, 5e0).
func whole(n *node) (int64, bool) {
	if n.kind != number {
		return 0, false
	}
	x, err := strconv.ParseFloat(n.text, 64) // exact: below MaxNumber every whole number is a float64
	if err != nil || math.Abs(x) >= MaxNumber || x != math.Trunc(x) {
		return 0, false
	}
	return int64(x), true
}

// TextFault says what is wanted of a text that may not stand as it is: control characters can hide or forge what a
// label or a record shows, the invisible direction marks above all. Line breaks are let through.
func TextFault(s string) string {
	if len(s) > MaxText && utf8.RuneCountInString(s) > MaxText {
		return fmt.Sprintf("at most %d characters", MaxText)
	}
	for _, r := range s {
		switch {
		case r == '\n':
		case r < ' ', 0x7f <= r && r < 0xa0, r == 0x2028, r == 0x2029, 0x202a <= r && r <= 0x202e, 0x2066 <= r && r <= 0x2069:
			return "no control characters"
		}
	}
	return ""
}

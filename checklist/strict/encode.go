package strict

import (
	"bytes"
	"encoding"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"hangtrue/compute/tape"
)

// ErrEncode is returned, wrapped with the place, when [Encode] meets a value that [Decode] would refuse.
var ErrEncode = errors.New("strict: value cannot be written")

// Encode writes a struct as [Decode] reads it: fields in their order, two spaces of indent, arrays of numbers or texts
// on one line, lengths in metres and angles in degrees with at most six decimals and no exponent, a line break at the
// end. Empty omitempty fields are left out; a nil slice that is required is written as an empty array. It refuses,
// with [ErrEncode], what could not be read back: NaN, infinities, numbers and texts beyond the limits.
func Encode(v any) ([]byte, error) {
	e := encoder{types: map[reflect.Type][]field{}}
	rv := reflect.ValueOf(v)
	for rv.Kind() == reflect.Pointer && !rv.IsNil() {
		rv = rv.Elem()
	}
	if rv.Kind() != reflect.Struct {
		return nil, fmt.Errorf("%w: %T, want a struct", ErrEncode, v)
	}
	if err := e.value(rv, "", plain, 0); err != nil {
		return nil, err
	}
	e.out.WriteByte('\n')
	return e.out.Bytes(), nil
}

// EncodeLine writes as [Encode] does, without indent or line break.
func EncodeLine(v any) ([]byte, error) {
	data, err := Encode(v)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	if err := json.Compact(&out, data); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrEncode, err)
	}
	return out.Bytes(), nil
}

type encoder struct {
	out   bytes.Buffer
	types map[reflect.Type][]field
}

func refuse(pointer, read, want string) error {
	return fmt.Errorf("%w: %w", ErrEncode, Problem{Pointer: pointer, Read: Shorten(read), Want: want})
}

func (e *encoder) value(v reflect.Value, pointer string, u unit, depth int) error {
	if v.Kind() == reflect.Pointer {
		if v.IsNil() {
			return refuse(pointer, "nil", wanted(v.Type(), u))
		}
		return e.value(v.Elem(), pointer, u, depth)
	}
	if t, ok := v.Interface().(encoding.TextMarshaler); ok {
		s, err := t.MarshalText()
		if err != nil {
			return refuse(pointer, err.Error(), "a text")
		}
		return e.text(string(s), pointer)
	}
	switch v.Kind() {
	case reflect.Struct:
		return e.object(v, pointer, depth)
	case reflect.Map:
		return e.table(v, pointer, depth)
	case reflect.Slice, reflect.Array:
		return e.array(v, pointer, u, depth)
	case reflect.String:
		return e.text(v.String(), pointer)
	case reflect.Bool:
		e.out.WriteString(strconv.FormatBool(v.Bool()))
	case reflect.Float64:
		return e.float(v.Float(), pointer, u)
	case reflect.Int, reflect.Int8, reflect.Int16, reflect.Int32, reflect.Int64:
		if math.Abs(float64(v.Int())) >= MaxNumber {
			return refuse(pointer, strconv.FormatInt(v.Int(), 10), wantSmall())
		}
		e.out.WriteString(strconv.FormatInt(v.Int(), 10))
	case reflect.Uint, reflect.Uint8, reflect.Uint16, reflect.Uint32, reflect.Uint64:
		if v.Uint() >= MaxNumber {
			return refuse(pointer, strconv.FormatUint(v.Uint(), 10), wantSmall())
		}
		e.out.WriteString(strconv.FormatUint(v.Uint(), 10))
	default:
		panic(fmt.Sprintf("strict: cannot write %v", v.Type()))
	}
	return nil
}

func (e *encoder) line(depth int) {
	e.out.WriteByte('\n')
	e.out.WriteString(strings.Repeat("  ", depth))
}

func (e *encoder) object(v reflect.Value, pointer string, depth int) error {
	fields, ok := e.types[v.Type()]
	if !ok {
		fields = fieldsOf(v.Type())
		e.types[v.Type()] = fields
	}
	e.out.WriteByte('{')
	first := true
	for _, f := range fields {
		fv := v.FieldByIndex(f.index)
		if f.optional && (fv.IsZero() || (fv.Kind() == reflect.Slice || fv.Kind() == reflect.Map) && fv.Len() == 0) {
			continue
		}
		if err := e.member(first, fv, f.key, Pointer(pointer, f.key), f.unit, depth); err != nil {
			return err
		}
		first = false
	}
	e.close(first, depth)
	return nil
}

// table writes a map in the order of its keys.
func (e *encoder) table(v reflect.Value, pointer string, depth int) error {
	keys := v.MapKeys()
	slices.SortFunc(keys, func(a, b reflect.Value) int { return strings.Compare(a.String(), b.String()) })
	e.out.WriteByte('{')
	for i, k := range keys {
		if err := e.member(i == 0, v.MapIndex(k), k.String(), Pointer(pointer, k.String()), unitOf(k.String()), depth); err != nil {
			return err
		}
	}
	e.close(len(keys) == 0, depth)
	return nil
}

func (e *encoder) member(first bool, v reflect.Value, key, pointer string, u unit, depth int) error {
	if !first {
		e.out.WriteByte(',')
	}
	e.line(depth + 1)
	if err := e.text(key, pointer); err != nil {
		return err
	}
	e.out.WriteString(": ")
	return e.value(v, pointer, u, depth+1)
}

func (e *encoder) close(empty bool, depth int) {
	if !empty {
		e.line(depth)
	}
	e.out.WriteByte('}')
}

func (e *encoder) array(v reflect.Value, pointer string, u unit, depth int) error {
	apart := holdsObjects(v.Type())
	e.out.WriteByte('[')
	for i := range v.Len() {
		if i > 0 {
			e.out.WriteByte(',')
		}
		if apart {
			e.line(depth + 1)
		} else if i > 0 {
			e.out.WriteByte(' ')
		}
		if err := e.value(v.Index(i), Pointer(pointer, i), u, depth+1); err != nil {
			return err
		}
	}
	if apart && v.Len() > 0 {
		e.line(depth)
	}
	e.out.WriteByte(']')
	return nil
}

func holdsObjects(t reflect.Type) bool {
	for t.Kind() == reflect.Slice || t.Kind() == reflect.Array || t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	return t.Kind() == reflect.Struct
}

func (e *encoder) text(s, pointer string) error {
	if !utf8.ValidString(s) {
		return refuse(pointer, strconv.Quote(s), "UTF-8 text")
	}
	if want := TextFault(s); want != "" {
		return refuse(pointer, strconv.Quote(s), want)
	}
	w := json.NewEncoder(&e.out)
	w.SetEscapeHTML(false)
	if err := w.Encode(s); err != nil {
		return refuse(pointer, strconv.Quote(s), "a text")
	}
	e.out.Truncate(e.out.Len() - 1) // the encoder's own line break
	return nil
}

func (e *encoder) float(x float64, pointer string, u unit) error {
	read := strconv.FormatFloat(x, 'g', -1, 64)
	switch u {
	case metres:
		um, err := tape.Micrometres(x)
		if err != nil {
			return refuse(pointer, read, wantReach())
		}
		e.decimal(tape.Metres(um))
	case degrees:
		if d := microdegrees(x); math.Abs(d) <= MaxAngle*1e6 { // false for NaN too
			e.decimal(d / 1e6)
		} else {
			return refuse(pointer, read, wantTurn())
		}
	default:
		if !(math.Abs(x) < MaxNumber) {
			return refuse(pointer, read, wantSmall())
		}
		e.out.WriteString(strconv.FormatFloat(x+0, shape(x), -1, 64))
	}
	return nil
}

// decimal writes a whole number of millionths: the shortest text that reads back never needs more than six decimals.
func (e *encoder) decimal(x float64) { e.out.WriteString(strconv.FormatFloat(x, 'f', -1, 64)) }

// shape keeps tiny numbers from filling the line with zeros.
func shape(x float64) byte {
	if x != 0 && math.Abs(x) < 1e-6 {
		return 'e'
	}
	return 'f'
}

package plan_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/plan"
	"hangtrue/checklist/strict"
	"hangtrue/compute/layout"
)

// closed are the words that a text may be, by type and key; the values are those of the program's own lists.
var closed = map[string][]string{
	"Plan.format":       {plan.Format},
	"Plan.units":        {string(plan.Metric), string(plan.Imperial)},
	"Plan.layout":       layouts(),
	"Shape.kind":        plan.ShapeKinds,
	"Shape.wall":        {"front", "right", "rear", "left"},
	"Reading.kind":      {plan.HeightReading, plan.OtherReading},
	"Construction.kind": {plan.Studs, plan.Masonry, plan.Concrete, plan.Other},
	"Model.kind":        {plan.Loudspeaker, plan.Subwoofer},
	"Fixing.kind":       plan.FixingKinds,
	"Fixing.base":       {plan.Masonry, plan.Concrete, plan.HollowWall},
	"Sound.slope":       {"BW2", "LR2", "LR4"},
	"Instrument.kind":   {plan.Tape, plan.Laser, plan.Level, plan.PhoneLevel, plan.Meter},
	"Instrument.class":  {"I", "II", "III"},
}

func layouts() (names []string) {
	for _, l := range layout.All() {
		names = append(names, l.Name)
	}
	return names
}

// object keeps its members in order, so that the file reads like the types.
type object []member

type member struct {
	key   string
	value any
}

func (o object) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, m := range o {
		if i > 0 {
			b.WriteByte(',')
		}
		value, err := json.Marshal(m.value)
		if err != nil {
			return nil, err
		}
		fmt.Fprintf(&b, "%q:%s", m.key, value)
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// generate writes the schema of a struct type by its tags, in the way package strict reads them.
func generate(t reflect.Type) []byte {
	g := generator{}
	g.object(t)
	slices.SortFunc(g.defs, func(a, b member) int { return strings.Compare(a.key, b.key) })
	root := object{
		{"$schema", "https://json-schema.org/draft/2020-12/schema"},
		{"$id", "urn:hangtrue:plan:1"},
		{"title", plan.Format},
		{"description", "The room as surveyed, the gear, and where each loudspeaker goes. The key carries the unit."},
		{"$ref", "#/$defs/" + t.Name()},
		{"$defs", append(object{
			{"length", object{{"description", "Metres as a number, or what a tape says."}, {"anyOf", []object{
				{{"type", "number"}, {"minimum", -1000}, {"maximum", 1000}},
				{{"type", "string"}, {"minLength", 1}, {"maxLength", 64}},
			}}}},
			{"angle", object{{"description", "Degrees."}, {"type", "number"}, {"minimum", -strict.MaxAngle}, {"maximum", strict.MaxAngle}}},
			{"number", object{{"type", "number"}, {"exclusiveMinimum", -strict.MaxNumber}, {"exclusiveMaximum", strict.MaxNumber}}},
			{"text", object{{"type", "string"}, {"maxLength", strict.MaxText}}},
		}, g.defs...)},
	}
	raw, err := json.Marshal(root)
	if err != nil {
		panic(err)
	}
	var out bytes.Buffer
	if err := json.Indent(&out, raw, "", "  "); err != nil {
		panic(err)
	}
	out.WriteByte('\n')
	return out.Bytes()
}

type generator struct{ defs object }

func (g *generator) object(t reflect.Type) object {
	ref := object{{"$ref", "#/$defs/" + t.Name()}}
	if slices.ContainsFunc(g.defs, func(m member) bool { return m.key == t.Name() }) {
		return ref
	}
	at := len(g.defs)
	g.defs = append(g.defs, member{key: t.Name()})
	var properties object
	var required []string
	for i := range t.NumField() {
		key, option, _ := strings.Cut(t.Field(i).Tag.Get("json"), ",")
		if option != "omitempty" {
			required = append(required, key)
		}
		if words := closed[t.Name()+"."+key]; words != nil {
			properties = append(properties, member{key, object{{"enum", words}}})
			continue
		}
		properties = append(properties, member{key, g.value(t.Field(i).Type, key)})
	}
	def := object{{"type", "object"}, {"additionalProperties", false}}
	if required != nil {
		def = append(def, member{"required", required})
	}
	g.defs[at].value = append(def, member{"properties", properties})
	return ref
}

func (g *generator) value(t reflect.Type, key string) any {
	switch t.Kind() {
	case reflect.Pointer:
		return g.value(t.Elem(), key)
	case reflect.Struct:
		return g.object(t)
	case reflect.Slice:
		return object{{"type", "array"}, {"items", g.value(t.Elem(), key)}}
	case reflect.Array:
		return object{{"type", "array"}, {"items", g.value(t.Elem(), key)}, {"minItems", t.Len()}, {"maxItems", t.Len()}}
	case reflect.String:
		return object{{"$ref", "#/$defs/text"}}
	case reflect.Bool:
		return object{{"type", "boolean"}}
	case reflect.Int:
		return object{{"type", "integer"}}
	case reflect.Float64:
		switch {
		case strings.HasSuffix(key, "_m"):
			return object{{"$ref", "#/$defs/length"}}
		case strings.HasSuffix(key, "_deg"):
			return object{{"$ref", "#/$defs/angle"}}
		}
		return object{{"$ref", "#/$defs/number"}}
	}
	panic(t.String() + " has no schema")
}

func TestSchemaIsThatOfTheTypes(t *testing.T) {
	want := generate(reflect.TypeFor[plan.Plan]())
	golden(t, "plan.schema.json", want)
	assert.True(t, string(want) == plan.Schema() || *update, "the embedded schema is the file")
}

// A schema holds the keywords that the generator uses; any other keyword fails the test, so that nothing goes unchecked.
type validator struct{ defs map[string]any }

func (v validator) check(schema map[string]any, x any) error {
	for keyword, arg := range schema {
		if err := v.keyword(keyword, arg, schema, x); err != nil {
			return fmt.Errorf("%s: %w", keyword, err)
		}
	}
	return nil
}

func (v validator) keyword(keyword string, arg any, schema map[string]any, x any) error {
	number, isNumber := x.(float64)
	text, isText := x.(string)
	list, isList := x.([]any)
	members, isObject := x.(map[string]any)
	fail := func(bad bool) error {
		if bad {
			return fmt.Errorf("%v does not agree with %v", x, arg)
		}
		return nil
	}
	switch keyword {
	case "$schema", "$id", "title", "description", "$defs":
		return nil
	case "$ref":
		return v.check(v.defs[strings.TrimPrefix(arg.(string), "#/$defs/")].(map[string]any), x)
	case "enum":
		return fail(!slices.Contains(arg.([]any), x))
	case "type":
		_, isBool := x.(bool)
		return fail(!map[string]bool{
			"object": isObject, "array": isList, "string": isText, "number": isNumber, "boolean": isBool, "integer": isNumber && number == float64(int64(number)),
		}[arg.(string)])
	case "minimum":
		return fail(isNumber && number < arg.(float64))
	case "maximum":
		return fail(isNumber && number > arg.(float64))
	case "exclusiveMinimum":
		return fail(isNumber && number <= arg.(float64))
	case "exclusiveMaximum":
		return fail(isNumber && number >= arg.(float64))
	case "minLength":
		return fail(isText && len([]rune(text)) < int(arg.(float64)))
	case "maxLength":
		return fail(isText && len([]rune(text)) > int(arg.(float64)))
	case "minItems":
		return fail(isList && len(list) < int(arg.(float64)))
	case "maxItems":
		return fail(isList && len(list) > int(arg.(float64)))
	case "items":
		for _, item := range list {
			if err := v.check(arg.(map[string]any), item); err != nil {
				return err
			}
		}
		return nil
	case "anyOf":
		return fail(!slices.ContainsFunc(arg.([]any), func(s any) bool { return v.check(s.(map[string]any), x) == nil }))
	case "required":
		for _, key := range arg.([]any) {
			if _, ok := members[key.(string)]; isObject && !ok {
				return fmt.Errorf("no %v", key)
			}
		}
		return nil
	case "properties":
		for key, s := range arg.(map[string]any) {
			if y, ok := members[key]; ok {
				if err := v.check(s.(map[string]any), y); err != nil {
					return fmt.Errorf("%s: %w", key, err)
				}
			}
		}
		return nil
	case "additionalProperties":
		for key := range members {
			if _, ok := schema["properties"].(map[string]any)[key]; !ok {
				return fmt.Errorf("unknown %s", key)
			}
		}
		return nil
	}
	return fmt.Errorf("unknown keyword")
}

func validate(t *testing.T, data []byte) error {
	t.Helper()
	var schema map[string]any
	require.NoError(t, json.Unmarshal([]byte(plan.Schema()), &schema))
	var x any
	if err := json.Unmarshal(data, &x); err != nil {
		return err
	}
	return validator{schema["$defs"].(map[string]any)}.check(schema, x)
}

func TestSchemaAcceptsPlans(t *testing.T) {
	for _, name := range []string{"plans/example.json", "plans/attic.json", "demo/plan.json"} {
		assert.NoError(t, validate(t, read(t, name)), name)
	}
}

func TestSchemaRefusesWrongForm(t *testing.T) {
	for name, want := range map[string]string{
		"unknown-key": "title", "null": "processor", "huge-number": "exclusiveMaximum", "fraction-of-an-output": "integer",
		"unknown-layout": "layout", "wrong-units": "units", "tape-class": "class", "unknown-construction": "kind", "array": "type",
	} {
		err := validate(t, read(t, "plans/bad/"+name+".json"))
		if want == "title" {
			require.Error(t, err, name) // the missing or the unknown key, whichever the map gives first
			continue
		}
		assert.ErrorContains(t, err, want, name)
	}
}

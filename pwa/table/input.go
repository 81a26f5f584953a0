package table

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"hangtrue/checklist/plan"
	"hangtrue/compute/tape"
	"hangtrue/pwa/forms"
	. "hangtrue/pwa/markup"
)

// An input asks for one value of a part.
type input struct {
	key   string // its place in the part's JSON: "size/width_m", "ear_m/0"
	label string
	help  string // from where to where, or how to find out
	kind  inputKind
	unit  string // of a number, where it is not told by the kind
	// axis is the coordinate of a drawing that it takes from a mark that is moved.
	axis string
	// optional may be left empty; the part then has no such value.
	optional bool
	// usual stands in the field of a new part.
	usual string
	// options of a choice, out of the draft.
	options func(p *plan.Plan) []option
}

type option struct{ value, label string }

type inputKind uint8

const (
	text    inputKind = iota
	remark            // text of several lines
	length            // metres, or feet and inches
	small             // a length that a tape or a caliper gives in millimetres
	lengths           // several, in metres
	angle             // degrees
	number            // with a unit
	whole             // a whole number
	choice
	yes // a box to tick
)

// tree is a part's JSON.
type tree = map[string]any

// at is the value at a key, nil if there is none.
func at(t tree, key string) any {
	var v any = t
	for _, step := range strings.Split(key, "/") {
		switch x := v.(type) {
		case tree:
			v = x[step]
		case []any:
			i, err := strconv.Atoi(step)
			if err != nil || i < 0 || i >= len(x) {
				return nil
			}
			v = x[i]
		default:
			return nil
		}
	}
	return v
}

// set puts a value at a key and makes what is missing on the way: a list where the
// next step is a number.
func set(t tree, key string, value any) {
	steps := strings.Split(key, "/")
	var put func(v any, steps []string) any
	put = func(v any, steps []string) any {
		if len(steps) == 0 {
			return value
		}
		if i, err := strconv.Atoi(steps[0]); err == nil {
			list, _ := v.([]any)
			for len(list) <= i {
				list = append(list, nil)
			}
			list[i] = put(list[i], steps[1:])
			return list
		}
		m, _ := v.(tree)
		if m == nil {
			m = tree{}
		}
		m[steps[0]] = put(m[steps[0]], steps[1:])
		return m
	}
	put(t, steps)
}

// parse reads a part's value.
func parse(value string) tree {
	t := tree{}
	_ = json.Unmarshal([]byte(value), &t) // what cannot be read shows as empty fields
	return t
}

// show writes a value as a person would type it, in the job's units.
func (in input) show(v any, s tape.System) string {
	switch x := v.(type) {
	case nil:
		return ""
	case string:
		return x
	case bool:
		if x {
			return "yes"
		}
		return ""
	case []any:
		var parts []string
		for _, one := range x {
			parts = append(parts, in.show(one, s))
		}
		return strings.Join(parts, "; ")
	case float64:
		switch {
		case in.kind.isLength() && s == tape.Imperial:
			return tape.Format(x, s)
		case in.kind == small:
			return plain(x * 1000)
		default:
			return plain(x)
		}
	}
	return fmt.Sprint(v)
}

func (k inputKind) isLength() bool { return k == length || k == small || k == lengths }

// plain writes a number without a needless tail, to a millionth.
func plain(x float64) string {
	return strconv.FormatFloat(math.Round(x*1e6)/1e6, 'f', -1, 64)
}

// bare is the unit of a length typed without one.
func (in input) bare(s tape.System) tape.Unit {
	if in.kind == small && s == tape.Metric {
		return tape.Millimetre
	}
	return s.Bare()
}

// read turns what was typed into a JSON value. What stands there unchanged keeps
// the value it shows; nil is nothing.
func (in input) read(typed string, before any, s tape.System) (any, error) {
	if typed == in.show(before, s) && typed != "" {
		return before, nil
	}
	if typed == "" {
		return nil, nil
	}
	switch in.kind {
	case length, small:
		r, err := tape.Parse(typed, in.bare(s))
		if err != nil {
			return nil, err
		}
		return tape.Metres(r.Micrometres), nil
	case lengths:
		rs, err := tape.ParseMany(typed, in.bare(s))
		if err != nil {
			return nil, err
		}
		var out []any
		for _, r := range rs {
			out = append(out, tape.Metres(r.Micrometres))
		}
		return out, nil
	case angle, number:
		x, err := strconv.ParseFloat(strings.Replace(strings.TrimSuffix(typed, "°"), ",", ".", 1), 64)
		if err != nil || math.IsInf(x, 0) || math.IsNaN(x) {
			return nil, fmt.Errorf("%.40q is not a number", typed)
		}
		return x, nil
	case whole:
		n, err := strconv.Atoi(typed)
		if err != nil {
			return nil, fmt.Errorf("%.40q is not a whole number", typed)
		}
		return n, nil
	case yes:
		return true, nil
	}
	return typed, nil
}

// write is the input on a form. name is its key there, which differs from its own
// in a row of a list.
func (in input) write(p *plan.Plan, name, shown string, s tape.System) Node {
	id, described := "f-"+name, "p-"+name
	hint := in.hint(s)
	if hint != "" {
		described = "h-" + name + " " + described
	}
	hinted := If(hint != "", El("span", class("hint"), Attr("id", "h-"+name), Text(hint)))
	label := Group(Text(in.label), If(in.optional && in.kind != yes, El("span", class("quiet"), Text(" (if you have it)"))))
	switch in.kind {
	case yes:
		return El("div", class("field"),
			El("label", class("option"), El("input", Attr("type", "checkbox"), Attr("name", name), Attr("value", "yes"), Flag("checked", shown == "yes"), Attr("aria-describedby", described)), El("span", label)),
			hinted, forms.Problem(name))
	case choice:
		options := in.options(p)
		if shown != "" && !slices.ContainsFunc(options, func(o option) bool { return o.value == shown }) {
			options = append(options, option{shown, shown + " (not in this plan)"})
		}
		none := "choose"
		if in.optional {
			none = "none"
		}
		return pick(name, label, hinted, described, none, options, shown)
	case remark:
		return El("div", class("field"), El("label", Attr("for", id), label), hinted,
			El("textarea", Attr("id", id), Attr("name", name), Attr("rows", "2"), Attr("maxlength", "2000"), Attr("aria-describedby", described), Text(shown)),
			forms.Problem(name))
	}
	mode, names := "decimal", "number"
	if in.kind == text {
		mode, names = "text", ""
	}
	if in.kind == whole {
		mode = "numeric"
	}
	if in.kind == angle || in.kind == lengths || in.kind.isLength() && s == tape.Imperial {
		mode = "text" // signs that a keyboard of digits does not have
	}
	return El("div", class("field"), El("label", Attr("for", id), label), hinted,
		El("input", Attr("type", "text"), If(names != "", class(names)), Attr("id", id), Attr("name", name), Attr("value", shown), Attr("autocomplete", "off"),
			Attr("inputmode", mode), Attr("enterkeyhint", "next"), Attr("maxlength", "200"), If(in.axis != "", Attr("data-axis", in.axis)), Attr("aria-describedby", described)),
		forms.Problem(name))
}

// hint says from where to where, and in which unit a number without one counts.
func (in input) hint(s tape.System) string {
	unit := in.unit
	switch {
	case in.kind.isLength() && s == tape.Imperial:
		unit = `such as 4' 1 3/8"`
	case in.kind == small:
		unit = "in millimetres"
	case in.kind == length:
		unit = "in metres"
	case in.kind == lengths:
		unit = "in metres, with ; between them"
	case in.kind == angle:
		unit = "in degrees"
	}
	return strings.TrimPrefix(strings.TrimSuffix(in.help+"; "+unit, "; "), "; ")
}

// fixed are the options that never change.
func fixed(options ...option) func(*plan.Plan) []option {
	return func(*plan.Plan) []option { return options }
}

// plainly are options that never change and are called what they are.
func plainly(values ...string) func(*plan.Plan) []option { return fixed(called(values)...) }

// called are options by names of the plan's own.
func called(names []string) []option {
	options := make([]option, len(names))
	for i, name := range names {
		options[i] = option{name, name}
	}
	return options
}

// parts are the draft's parts of a kind, by name.
func parts(kind string) func(*plan.Plan) []option {
	return func(p *plan.Plan) []option { return called(p.Names(kind)) }
}

// pick is a list of which one is chosen; none is what stands where nothing is.
func pick(name string, label, hinted Node, described, none string, options []option, shown string) Node {
	return El("div", class("field"), El("label", Attr("for", "f-"+name), label), hinted,
		El("select", Attr("id", "f-"+name), Attr("name", name), Attr("aria-describedby", described),
			El("option", Attr("value", ""), Flag("selected", shown == ""), Text(none)),
			Each(options, func(o option) Node {
				return El("option", Attr("value", o.value), Flag("selected", o.value == shown), Text(o.label))
			})),
		forms.Problem(name))
}

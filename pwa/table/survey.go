package table

import (
	"strconv"
	"strings"

	"hangtrue/checklist/plan"
)

// The survey's form has the published readings as fields of their own, in the order
// in which a person goes round the room, and further ones as rows. The part has them
// all in one list.

// further is the key of the rows of further readings.
const further = "further"

// readingKey is the key of a published reading on the form: its name without spaces.
func readingKey(name string) string { return strings.ReplaceAll(name, " ", "_") }

// readingRemarks are the keys of what was remarked on a published reading elsewhere.
func readingRemarks() []string {
	keys := make([]string, len(plan.ReadingNames))
	for i, name := range plan.ReadingNames {
		keys[i] = readingKey(name) + "/remark"
	}
	return keys
}

func surveyGroups() []group {
	instruments := named(func(p *plan.Plan) []plan.Instrument { return p.Instruments }, func(i plan.Instrument) string { return i.Name })
	titles := map[string]string{plan.WidthFront: "Walls", plan.DiagonalFrontLeft: "Floor diagonals", plan.HeightFrontLeft: "Heights"}
	var groups []group
	for _, name := range plan.ReadingNames {
		if title := titles[name]; title != "" {
			groups = append(groups, group{title: title, folded: name == plan.HeightFrontLeft})
		}
		label, help, _ := strings.Cut(plan.Reading{Name: name}.Meaning(), ": ")
		g := &groups[len(groups)-1]
		g.inputs = append(g.inputs,
			input{key: readingKey(name) + "/values_m", label: label, help: help, kind: lengths, optional: true},
			input{key: readingKey(name) + "/instrument", label: "read with", kind: choice, optional: true, options: instruments})
	}
	return append(groups,
		group{title: "Further readings", folded: true, rows: &rows{key: further, noun: "Reading", spare: 2, inputs: []input{
			{key: "name", label: "What was measured", help: "from where to where"},
			{key: "kind", label: "Kind", kind: choice, options: fixed(option{plan.HeightReading, "a height, from the floor to the flat ceiling"}, option{plan.OtherReading, "anything else"})},
			{key: "values_m", label: "Reading", kind: lengths},
			{key: "instrument", label: "read with", kind: choice, options: instruments},
			{key: "remark", label: "Remark", optional: true},
		}}},
		group{inputs: []input{{key: "remark", label: "Remark", kind: remark, optional: true}}})
}

// packSurvey makes the part of what the form holds. A reading that says no instrument
// was read with the one before it, as somebody goes round with one tape in hand.
func packSurvey(form tree) tree {
	part := tree{}
	var readings []any
	last := any(nil)
	for _, name := range plan.ReadingNames {
		one, _ := form[readingKey(name)].(tree)
		if one == nil || one["values_m"] == nil {
			continue
		}
		if one["instrument"] != nil {
			last = one["instrument"]
		}
		reading := tree{"name": name, "values_m": one["values_m"]}
		if last != nil {
			reading["instrument"] = last
		}
		if one["remark"] != nil {
			reading["remark"] = one["remark"]
		}
		readings = append(readings, reading)
	}
	more, _ := form[further].([]any)
	part["readings"] = append(readings, more...)
	if form["remark"] != nil {
		part["remark"] = form["remark"]
	}
	return part
}

func unpackSurvey(part tree) tree {
	form := tree{}
	if part["remark"] != nil {
		form["remark"] = part["remark"]
	}
	list, _ := part["readings"].([]any)
	var more []any
	for _, one := range list {
		reading, _ := one.(tree)
		name, _ := reading["name"].(string)
		if plan.Published(name) {
			form[readingKey(name)] = tree{"values_m": reading["values_m"], "instrument": reading["instrument"], "remark": reading["remark"]}
		} else {
			more = append(more, one)
		}
	}
	if more != nil {
		form[further] = more
	}
	return form
}

// placeReading finds the field of a pointer such as "/readings/3/values_m/0".
func placeReading(packed tree, pointer string) string {
	rest, ok := strings.CutPrefix(pointer, "/readings/")
	if !ok {
		return pointer
	}
	index, rest, _ := strings.Cut(rest, "/")
	i, err := strconv.Atoi(index)
	list, _ := packed["readings"].([]any)
	if err != nil || i >= len(list) {
		return pointer
	}
	before := 0
	for _, one := range list[:i] {
		if name, _ := at(one.(tree), "name").(string); !plan.Published(name) {
			before++
		}
	}
	if name, _ := at(list[i].(tree), "name").(string); plan.Published(name) {
		return "/" + readingKey(name) + "/" + rest
	}
	return "/" + further + "/" + strconv.Itoa(before) + "/" + rest
}

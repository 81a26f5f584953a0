package table

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"hangtrue/checklist/plan"
	"hangtrue/checklist/workings"
	"hangtrue/compute/place"
	"hangtrue/compute/tape"
	. "hangtrue/pwa/markup"
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
	instruments := parts("instrument")
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

// surveySays tells whether the readings close, and which box they propose.
func surveySays(p *plan.Plan, _ string) Node {
	sheet := workings.Survey(p)
	if sheet == nil || len(sheet.Lines) == 0 {
		return El("p", class("quiet"), Text("With both widths, both lengths and both diagonals it can be told whether one of them is wrong."))
	}
	return Group(
		El("h2", Text("What the readings come to")),
		El("ul", Each(sheet.Says, func(s string) Node { return El("li", Text(s)) })),
		proposedBox(p, sheet))
}

// proposedBox is the box that the readings propose, beside the one in the plan.
func proposedBox(p *plan.Plan, sheet *workings.SurveySheet) Node {
	var rows []Node
	for _, side := range []struct {
		name string
		read place.Measure
		box  func(*plan.Box) float64
	}{
		{"Width", sheet.Width, func(b *plan.Box) float64 { return b.Width }},
		{"Length", sheet.Length, func(b *plan.Box) float64 { return b.Length }},
		{"Height", sheet.Height, func(b *plan.Box) float64 { return b.Height }},
	} {
		if side.read.Value == 0 {
			continue
		}
		says := tape.Format(side.read.Value, p.Units.System()) + ", give or take " + tape.FormatSmall(2*side.read.Standard, p.Units.System())
		if b := p.Room.Box; b != nil {
			says += "; the plan has " + tape.Format(side.box(b), p.Units.System())
		}
		rows = append(rows, El("dt", Text(side.name)), El("dd", Text(says)))
	}
	if rows == nil {
		return nil
	}
	return Group(El("h2", Text("The box they propose")), El("dl", class("facts"), Group(rows...)))
}

// takeBox makes the box of the room out of the readings, where the plan has none.
func takeBox(t Table, p *plan.Plan) []plan.Part {
	sheet := workings.Survey(p)
	if p.Room.Box != nil || sheet == nil || sheet.Width.Value == 0 || sheet.Length.Value == 0 || sheet.Height.Value == 0 {
		return nil
	}
	micro := func(m place.Measure) float64 { return math.Round(m.Value*1e6) / 1e6 }
	p.Room.Box = &plan.Box{Width: micro(sheet.Width), Length: micro(sheet.Length), Height: micro(sheet.Height)}
	parts, err := p.Parts()
	if err != nil {
		return nil
	}
	return slices.DeleteFunc(parts, func(part plan.Part) bool { return part.Name != "room" })
}

package table

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/strict"
	"hangtrue/compute/tape"
	"hangtrue/pwa/drawing"
	"hangtrue/pwa/forms"
	. "hangtrue/pwa/markup"
)

// A partForm is how one kind of part is shown and typed.
type partForm struct {
	kind  string // as package plan has it
	title string // "Bracket"
	does  string // what it is for, in a sentence or two
	label string // the key of the name it goes by; "" for a part of which there is one
	// named are the names a part may have where they are not free: the sides of the room.
	named  func(p *plan.Plan) []option
	groups []group
	// says tells more of the part, as it is typed or as it is: what follows from it.
	says func(p *plan.Plan, label string) Node
	// draw shows it.
	draw func(p *plan.Plan, label string) Node
	// pack and unpack turn what the form holds into the part's JSON and back, and place
	// finds the key on the form that a pointer into a packed part is about; nil where
	// form and part are alike.
	pack, unpack func(tree) tree
	place        func(packed tree, pointer string) string
	// keeps are keys that no input shows, and that stay as they are.
	keeps []string
	// drags lets the part's mark be moved in a drawing.
	drags bool
	// moved says which values the fields take when the mark was moved in a drawing whose
	// coordinates are the room's, not the part's own.
	moved func(p *plan.Plan, label string, x, y float64) map[string]float64
	// with adds to an edit what has to be there with the part.
	with func(t Table, p *plan.Plan) []plan.Part
}

// A group of inputs under a heading, perhaps folded away.
type group struct {
	title  string
	folded bool
	inputs []input
	rows   *rows
}

// rows are a list inside a part: openings, holes, readings.
type rows struct {
	key    string
	noun   string // "Opening"
	inputs []input
	spare  int // empty rows to fill in
}

// onForm is a part on its form: its inputs with their values.
type onForm struct {
	*partForm
	t     Table
	label string // the name it goes by; "" for a new one
	value string // as the draft has it, "" for a new one
	tree  tree   // what stands in the fields before anything is typed
	copy  bool   // a new one that begins as a copy
}

func formOf(kind string) *partForm {
	for i := range partForms {
		if partForms[i].kind == kind {
			return &partForms[i]
		}
	}
	return nil
}

// open finds the part of a path: KIND, KIND/LABEL, or KIND/LABEL/copy.
func (t Table) open(path []string) (onForm, bool) {
	f := formOf(path[0])
	if f == nil || len(path) > 3 || (f.label == "" && len(path) > 1) || (len(path) == 3 && (path[2] != "copy" || f.named != nil)) {
		return onForm{}, false
	}
	o := onForm{partForm: f, t: t}
	switch {
	case f.label == "":
		o.value = t.State.Part(f.kind)
	case len(path) > 1:
		o.label = path[1]
		o.value = t.State.Part(f.kind + "/" + o.label)
		if o.value == "" && f.named == nil {
			return onForm{}, false
		}
	}
	o.tree = parse(o.value)
	if f.unpack != nil {
		o.tree = f.unpack(o.tree)
	}
	if f.label != "" && o.label != "" {
		o.tree[f.label] = o.label
	}
	if len(path) == 3 {
		o.label, o.value, o.copy = "", "", true
		delete(o.tree, f.label)
	}
	if o.value == "" && !o.copy {
		for _, g := range f.groups {
			for _, in := range g.inputs {
				if v, err := in.read(in.usual, nil, t.draft().Units.System()); err == nil && v != nil {
					set(o.tree, in.key, v)
				}
			}
		}
	}
	return o, true
}

func (o onForm) name() string {
	if o.partForm.label == "" {
		return o.kind
	}
	return o.kind + "/" + o.label
}

// heading is what the page is called.
func (o onForm) heading() string {
	switch {
	case o.partForm.label == "":
		return o.title
	case o.label == "":
		return "New: " + strings.ToLower(o.title[:1]) + o.title[1:]
	}
	return o.called(o.label)
}

// called is what a part of this kind and name is called.
func (f *partForm) called(label string) string {
	if f.kind == "surface" {
		return drawing.Capital(drawing.SurfaceName(label))
	}
	if strings.HasPrefix(strings.ToLower(label), strings.ToLower(f.title)) {
		return label
	}
	return strings.TrimSpace(f.title + " " + label)
}

// rowsOf counts the rows that stand in the part.
func (o onForm) rowsOf(r *rows) int {
	list, _ := at(o.tree, r.key).([]any)
	return len(list)
}

// each hands out every input of the form with its name there.
func (o onForm) each(hand func(in input, name string, row *rows)) {
	for _, g := range o.groups {
		for _, in := range g.inputs {
			if in.key == o.partForm.label && o.named != nil {
				continue
			}
			hand(in, in.key, nil)
		}
		if g.rows == nil {
			continue
		}
		for i := range o.rowsOf(g.rows) + g.rows.spare {
			for _, in := range g.rows.inputs {
				hand(in, g.rows.key+"/"+strconv.Itoa(i)+"/"+in.key, g.rows)
			}
		}
	}
}

// made is what a filled form comes to.
type made struct {
	part     plan.Part         // none while something typed cannot be read
	draft    *plan.Plan        // with the part in it
	told     strict.Problems   // of that draft
	problems map[string]string // by input
}

// make reads a filled form. Rows of a list that are empty are passed over.
func (o onForm) make(form Form) made {
	m := o.read(form)
	if o.t.draft().Units.System() != tape.Metric {
		return m
	}
	o.each(func(in input, name string, _ *rows) {
		says := m.problems[name]
		if mm, err := strconv.Atoi(forms.Value(form, name)); says != "" && err == nil && in.kind == length && mm > farthest {
			m.problems[name] = says + " " + forms.Millimetres(mm) + "."
		}
	})
	return m
}

// farthest is the greatest whole number of metres that anybody means in a room.
const farthest = 100

func (o onForm) read(form Form) made {
	m := made{problems: map[string]string{}}
	s := o.t.draft().Units.System()
	typed := tree{}
	if o.named != nil {
		typed[o.partForm.label] = o.label
	}
	for _, key := range o.keeps {
		if v := at(o.tree, key); v != nil {
			set(typed, key, v)
		}
	}
	filled := map[string]bool{} // rows in which something stands
	o.each(func(in input, name string, row *rows) {
		if row != nil && forms.Value(form, name) != "" {
			filled[rowOf(name, row)] = true
		}
	})
	places := map[string]string{} // a filled row to the one it becomes
	count := map[string]int{}
	o.each(func(in input, name string, row *rows) {
		key := name
		if row != nil {
			at := rowOf(name, row)
			if !filled[at] {
				return
			}
			if places[at] == "" {
				places[at] = row.key + "/" + strconv.Itoa(count[row.key])
				count[row.key]++
			}
			key = places[at] + "/" + in.key
		}
		v, err := in.read(forms.Value(form, name), at(o.tree, name), s)
		var refused *tape.Error
		switch {
		case errors.As(err, &refused):
			m.problems[name] = fmt.Sprintf("%q cannot be read: wanted %s.", refused.Input, refused.Want)
		case err != nil:
			m.problems[name] = drawing.Capital(err.Error()) + "."
		case v == nil && !in.optional && in.kind != yes:
			m.problems[name] = in.wanted()
		case v != nil:
			set(typed, key, v)
		}
	})
	if len(m.problems) > 0 {
		return m
	}
	if o.pack != nil {
		typed = o.pack(typed)
	}
	data, err := json.Marshal(typed)
	if err == nil {
		m.part, err = plan.MakePart(o.kind, data)
	}
	back := func(pointer string) string {
		if o.place != nil {
			pointer = o.place(typed, pointer)
		}
		return o.nameOf(pointer, places)
	}
	var problems strict.Problems
	switch {
	case errors.As(err, &problems):
		for _, p := range problems {
			m.problems[back(p.Pointer)] = complaint(p)
		}
	case err != nil:
		m.problems["form"] = drawing.Capital(err.Error()) + "."
	default:
		m.draft = o.drafted(m.part)
		m.told = m.draft.Problems()
		for _, p := range m.told {
			if part, rest := m.draft.PartAt(p.Pointer); part == m.part.Name {
				name := back(rest)
				if m.problems[name] == "" {
					m.problems[name] = complaint(p)
				}
			}
		}
	}
	return m
}

// drafted is the draft with this part in it.
func (o onForm) drafted(part plan.Part) *plan.Plan {
	parts := slices.Clone(o.t.State.Draft())
	name := o.name()
	if i := slices.IndexFunc(parts, func(p plan.Part) bool { return p.Name == name }); i >= 0 && o.value != "" {
		parts[i] = part
	} else {
		parts = append(parts, part)
	}
	p := plan.Assemble(parts)
	if o.label != "" && o.partForm.label != "" {
		rename(p, o.partForm, o.label, strings.TrimPrefix(part.Name, o.kind+"/"))
	}
	return p
}

// complaint says what is wrong for whoever typed it.
func complaint(p strict.Problem) string {
	if p.Read == "nothing" {
		return "Wanted: " + p.Want + "."
	}
	return drawing.Capital(p.Read) + " will not do: wanted " + p.Want + "."
}

func (in input) wanted() string {
	if in.kind == choice {
		return "Choose one."
	}
	return "Fill this in."
}

// rowOf is the row an input's name belongs to: "openings/2".
func rowOf(name string, r *rows) string {
	index, _, _ := strings.Cut(strings.TrimPrefix(name, r.key+"/"), "/")
	return r.key + "/" + index
}

// nameOf finds the input that a pointer into the part is about, the nearest there
// is; "form" where there is none.
func (o onForm) nameOf(pointer string, places map[string]string) string {
	key := strings.TrimPrefix(pointer, "/")
	for from, to := range places {
		if key == to || strings.HasPrefix(key, to+"/") {
			key = from + strings.TrimPrefix(key, to)
			break
		}
	}
	best := "form"
	o.each(func(in input, name string, _ *rows) {
		switch {
		case name == key, strings.HasPrefix(key, name+"/"):
			best = name
		case best == "form" && key != "" && strings.HasPrefix(name, key+"/"):
			best = name
		}
	})
	return best
}

func (t Table) partPage(path []string) (Page, bool) {
	o, ok := t.open(path)
	if !ok {
		return Page{}, false
	}
	p := t.draft()
	main := Group(
		title(o.heading()),
		El("p", Text(o.does)),
		t.crossings(o.name()),
		El("div", class("drafting"),
			El("div", class("drawn"), Attr("id", "drawing"), o.drawing(p)),
			El("div", class("typed"), o.form(p)),
			El("div", class("said"), Attr("id", "says"), Attr("aria-live", "polite"), o.saysOf(p, o.label))),
	)
	return Page{o.heading(), main}, true
}

func (o onForm) drawing(p *plan.Plan) Node {
	if o.draw == nil {
		return nil
	}
	return o.draw(p, o.label)
}

func (o onForm) saysOf(p *plan.Plan, label string) Node {
	if o.says == nil {
		return nil
	}
	return o.says(p, label)
}

func (o onForm) form(p *plan.Plan) Node {
	if !o.t.edits() {
		return Group(o.t.mayNot(), o.readOnly(p))
	}
	s := p.Units.System()
	return Group(
		El("form", Attr("method", "post"), Attr("data-form", "part"), If(o.drags, Attr("data-drags", o.label)), Attr("novalidate", ""),
			forms.Hidden("act", "save"), forms.Hidden("was", checklist.Hash(o.value)),
			If(o.moved != nil, Group(
				El("input", Attr("type", "hidden"), Attr("name", movedX), Attr("data-axis", "x")),
				El("input", Attr("type", "hidden"), Attr("name", movedY), Attr("data-axis", "y")))),
			Each(o.groups, func(g group) Node { return o.group(p, g, s) }),
			forms.Problem("form"),
			El("div", class("save"), El("button", Attr("type", "submit"), Text("Save"))),
		),
		If(o.value != "" && o.partForm.label != "", Group(
			If(o.named == nil, El("p", class("alone"), link(o.t.path(o.kind, o.label, "copy"), "Begin another as a copy of this"))),
			o.removal(p))),
	)
}

// removal takes a part out, unless a mount still needs it.
func (o onForm) removal(p *plan.Plan) Node {
	if users := usersOf(p, o.partForm, o.label); len(users) > 0 {
		return El("p", class("quiet"), Text("In use by "+list(users)+"."))
	}
	return El("form", Attr("method", "post"), Attr("data-form", "remove"), Attr("novalidate", ""),
		forms.Hidden("act", "remove"), forms.Hidden("was", checklist.Hash(o.value)), forms.Problem("form"),
		El("button", Attr("type", "submit"), class("second"), Text("Take it out of the plan")))
}

func (o onForm) group(p *plan.Plan, g group, s tape.System) Node {
	var nodes []Node
	for _, in := range g.inputs {
		if in.key == o.partForm.label && o.named != nil {
			continue
		}
		nodes = append(nodes, in.write(p, in.key, in.show(at(o.tree, in.key), s), s))
	}
	if g.rows != nil {
		n := o.rowsOf(g.rows)
		for i := range n {
			nodes = append(nodes, o.row(p, g.rows, i, s))
		}
		for i := range g.rows.spare {
			nodes = append(nodes, El("details", Flag("open", n == 0 && i == 0 && !g.folded), El("summary", Text("Add: "+strings.ToLower(g.rows.noun[:1])+g.rows.noun[1:])), o.row(p, g.rows, n+i, s)))
		}
	}
	if g.folded {
		return El("details", El("summary", Text(g.title)), Group(nodes...))
	}
	if g.title == "" {
		return Group(nodes...)
	}
	return Group(El("h2", Text(g.title)), Group(nodes...))
}

func (o onForm) row(p *plan.Plan, r *rows, i int, s tape.System) Node {
	return El("fieldset", class("field rows"),
		El("legend", Text(fmt.Sprintf("%s %d", r.noun, i+1))),
		Each(r.inputs, func(in input) Node {
			name := r.key + "/" + strconv.Itoa(i) + "/" + in.key
			return in.write(p, name, in.show(at(o.tree, name), s), s)
		}))
}

// readOnly lists what stands in the part.
func (o onForm) readOnly(p *plan.Plan) Node {
	s := p.Units.System()
	var items []Node
	o.each(func(in input, name string, row *rows) {
		shown := in.show(at(o.tree, name), s)
		if shown == "" {
			return
		}
		if in.kind == small && s == tape.Metric {
			shown += " mm"
		} else if in.kind == length && s == tape.Metric {
			shown += " m"
		} else if in.kind == angle {
			shown += "°"
		} else if in.unit != "" {
			shown += " " + in.unit
		}
		label := in.label
		if row != nil {
			index := strings.TrimPrefix(rowOf(name, row), row.key+"/")
			n, _ := strconv.Atoi(index)
			label = fmt.Sprintf("%s %d, %s", row.noun, n+1, label)
		}
		items = append(items, El("dt", Text(label)), El("dd", Text(shown)))
	})
	if len(items) == 0 {
		return nil
	}
	return El("dl", class("facts"), Group(items...))
}

func (t Table) partDraft(path []string, form Form) map[string]string {
	o, ok := t.open(path)
	if !ok || forms.Value(form, "act") != "save" {
		return nil
	}
	out := o.move(form)
	m := o.make(form)
	o.each(func(in input, name string, _ *rows) {
		says := m.problems[name]
		if forms.Value(form, name) == "" && says == in.wanted() {
			says = "" // not typed yet
		}
		out["p-"+name] = String(Text(says))
	})
	if m.draft == nil {
		return out
	}
	label := strings.TrimPrefix(m.part.Name, o.kind+"/")
	if o.draw != nil {
		out["drawing"] = String(o.draw(m.draft, label))
	}
	out["says"] = String(Group(o.elsewhere(m), o.saysOf(m.draft, label)))
	return out
}

// elsewhere tells what is wrong in other parts with the draft as it would be, and was not before.
func (o onForm) elsewhere(m made) Node {
	known := map[string]bool{}
	for _, problem := range o.t.draft().Problems() {
		known[problem.Error()] = true
	}
	var items []Node
	for _, problem := range m.told {
		if name, _ := m.draft.PartAt(problem.Pointer); name == m.part.Name || known[problem.Error()] {
			continue
		}
		items = append(items, o.t.openProblem(m.draft, problem))
	}
	if len(items) == 0 {
		return nil
	}
	return El("div", class("notice"), El("p", Text("With this, something else has to be put right:")), El("ul", Group(items...)))
}

// Where a mark was moved to in the room, on the form.
const movedX, movedY = "moved_x", "moved_y"

// move puts a mark that was moved in the room into the fields of the part: into the
// form that is judged, and as values to show.
func (o onForm) move(form Form) map[string]string {
	out := map[string]string{}
	if o.moved == nil || forms.Value(form, movedX) == "" {
		return out
	}
	s := o.t.draft().Units.System()
	x, errX := tape.Parse(forms.Value(form, movedX), tape.Metre)
	y, errY := tape.Parse(forms.Value(form, movedY), tape.Metre)
	before := o.make(form)
	if errX != nil || errY != nil || before.draft == nil {
		return out
	}
	moved := o.moved(before.draft, o.label, tape.Metres(x.Micrometres), tape.Metres(y.Micrometres))
	o.each(func(in input, name string, _ *rows) {
		if v, ok := moved[name]; ok {
			form[name] = []string{in.show(v, s)}
			out["v-"+name] = form[name][0]
		}
	})
	out["v-"+movedX], out["v-"+movedY] = "", ""
	return out
}

func (t Table) partSubmit(path []string, form Form) Submission {
	o, ok := t.open(path)
	if !ok {
		return forms.Wrong("form", "This plan has no such part.")
	}
	was := forms.Value(form, "was")
	switch forms.Value(form, "act") {
	case "remove":
		if users := usersOf(t.draft(), o.partForm, o.label); len(users) > 0 {
			return forms.Wrong("form", list(users)+" still need it.")
		}
		return Submission{Kind: checklist.DraftEdited, Body: checklist.Edit{Changes: []checklist.PartChange{{Part: o.name(), Was: was}}}, Next: t.path()}
	case "again":
		return t.again(forms.Value(form, "id"))
	case "save":
		m := o.make(form)
		if len(m.problems) > 0 {
			return Submission{Problems: m.problems}
		}
		return o.save(m, was)
	}
	return forms.Nothing
}

// save is the edit that puts the part in its place, under another name if it was renamed.
func (o onForm) save(m made, was string) Submission {
	part := m.part
	changes := []checklist.PartChange{}
	if part.Name == o.name() {
		if part.Value == o.value {
			return forms.Wrong("form", "Nothing is changed.")
		}
		changes = append(changes, checklist.PartChange{Part: part.Name, Was: was, Now: part.Value})
	} else {
		if o.t.State.Part(part.Name) != "" {
			return forms.Wrong(o.partForm.label, "There is one of that name already.")
		}
		if o.value != "" {
			changes = append(changes, checklist.PartChange{Part: o.name(), Was: was})
		}
		changes = append(changes, checklist.PartChange{Part: part.Name, Now: part.Value})
		if o.label != "" {
			changes = append(changes, o.t.difference(m.draft, part.Name, o.name())...)
		}
	}
	if o.with != nil {
		for _, extra := range o.with(o.t, m.draft) {
			changes = append(changes, o.t.State.Change(extra.Name, extra.Value))
		}
	}
	next := o.t.path()
	if o.partForm.label != "" && o.value != "" {
		next = o.t.partPath(part.Name)
	}
	return Submission{Kind: checklist.DraftEdited, Body: checklist.Edit{Changes: changes}, Next: next}
}

// difference are the changes that make the draft into a plan, but for the parts named.
func (t Table) difference(p *plan.Plan, but ...string) []checklist.PartChange {
	parts, err := p.Parts()
	if err != nil {
		return nil
	}
	var changes []checklist.PartChange
	for _, part := range parts {
		if !slices.Contains(but, part.Name) && t.State.Part(part.Name) != part.Value {
			changes = append(changes, t.State.Change(part.Name, part.Value))
		}
	}
	return changes
}

// list joins names as one says them.
func list(names []string) string {
	switch n := len(names); {
	case n == 0:
		return "nothing"
	case n == 1:
		return names[0]
	case n > 4:
		return fmt.Sprintf("%s and %d more", strings.Join(names[:3], ", "), n-3)
	default:
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
}

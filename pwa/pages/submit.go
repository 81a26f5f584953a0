package pages

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"hangtrue/checklist"
	"hangtrue/checklist/judge"
	"hangtrue/compute/gauge"
	"hangtrue/compute/tape"
	"hangtrue/pwa/forms"
	. "hangtrue/pwa/markup"
)

// Form and Submission are those of package form.
type (
	Form       = forms.Form
	Submission = forms.Submission
)

// Submit turns a filled form into an entry, or tells what is wrong with it.
// Everything typed is left as it was; nothing is decided here.
func Submit(path string, form Form, src Source) Submission {
	if path == "/" {
		return openJob(form)
	}
	if v, rest, ok := under(path, "plan", src); ok {
		return v.tableSubmit(rest, form)
	}
	for _, page := range []string{"parts", "shelf"} {
		if _, rest, ok := under(path, page, src); ok && len(rest) == 0 {
			return submitParts(form)
		}
	}
	v, k, ok := open(path, src)
	if !ok {
		return forms.Nothing
	}
	switch forms.Value(form, "act") {
	case "record":
		b, problems := v.recording(k, form)
		return Submission{Kind: checklist.StepRecorded, Body: b, Problems: problems}
	case "concede", "reopen":
		kind := checklist.StepConceded
		if forms.Value(form, "act") == "reopen" {
			kind = checklist.StepReopened
		}
		reason := forms.Value(form, "reason")
		if reason == "" {
			return forms.Wrong("reason", "Give the reason; it stays in the record.")
		}
		return Submission{Kind: kind, Body: checklist.Reasoned{Step: k.Step, Mount: k.Mount, Reason: reason}}
	case "remark":
		b, problems := v.remark(k, form)
		return Submission{Kind: checklist.RemarkWritten, Body: b, Problems: problems}
	case "sign":
		if forms.Value(form, "read") != "yes" {
			return forms.Wrong("read", "Read the record, then say so here.")
		}
		head, err := strconv.ParseInt(forms.Value(form, "head"), 10, 64)
		if err != nil {
			return forms.Wrong("form", "Open this page again and sign.")
		}
		return Submission{Kind: checklist.JobSigned, Body: checklist.Signing{Revision: v.State.Revision(), Head: head, Remark: forms.Value(form, "remark")}}
	}
	return forms.Nothing
}

// Draft judges what is typed so far: element id to its new content. Fields that
// are still empty are passed over, fields that cannot be read are named.
func Draft(path string, form Form, src Source) map[string]string {
	if v, rest, ok := under(path, "plan", src); ok {
		return v.tableDraft(rest, form)
	}
	if v, rest, ok := under(path, "shelf", src); ok && len(rest) == 0 && forms.Value(form, "act") == "search" {
		return map[string]string{"found": String(v.shelf(forms.Value(form, "words")))}
	}
	v, k, ok := open(path, src)
	if !ok || forms.Value(form, "act") != "record" {
		return nil
	}
	b, problems := v.recording(k, form)
	checks, missing := v.State.Checks(b), false
	step := v.State.Template.Step(k.Step)
	out := map[string]string{}
	for _, f := range step.Fields {
		for _, channel := range v.channels(f) {
			key := f.Key(channel)
			if text(form, key) != "" {
				out["p-"+key] = String(Text(problems[key]))
			} else if !f.Optional {
				missing = true
			}
		}
	}
	if missing {
		// A condition on what nobody has answered yet is no news.
		checks = slices.DeleteFunc(checks, func(c judge.Check) bool { return c.Unit == judge.Condition && c.Verdict != gauge.Within })
	}
	out["verdict"] = String(v.verdict(checks, missing))
	if drawn := v.draftElevation(k, b); drawn != nil {
		out["elevation"] = String(drawn)
	}
	return out
}

func open(path string, src Source) (view, checklist.Key, bool) {
	parts, ok := split(path)
	if !ok || len(parts) < 4 || parts[0] != "jobs" {
		return view{}, checklist.Key{}, false
	}
	job, ok := src.Job(parts[1])
	if !ok {
		return view{}, checklist.Key{}, false
	}
	var k checklist.Key
	switch {
	case parts[2] == "mounts" && len(parts) == 5:
		k = checklist.Key{Step: parts[4], Mount: parts[3]}
	case parts[2] == "steps" && len(parts) == 4:
		k = checklist.Key{Step: parts[3]}
	default:
		return view{}, checklist.Key{}, false
	}
	v := view{Job: job, id: parts[1], mount: k.Mount, device: src.Device()}
	step := v.State.Template.Step(k.Step)
	return v, k, step != nil && v.State.Plan() != nil && v.State.Applies(step, k.Mount)
}

// more are the endings of the names of the inputs for further readings. Each input
// has a name of its own, so that what was typed can be put back where it was.
var more = []string{"~2", "~3"}

// text is what stands in a field and in those for further readings of it.
func text(form Form, name string) string {
	parts := []string{forms.Value(form, name)}
	for _, ending := range more {
		parts = append(parts, forms.Value(form, name+ending))
	}
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return s == "" }), "; ")
}

// recording reads the form of a step.
func (v view) recording(k checklist.Key, form Form) (checklist.Recording, map[string]string) {
	step := v.State.Template.Step(k.Step)
	b := checklist.Recording{Step: k.Step, Mount: k.Mount, Remark: forms.Value(form, "remark"), Photos: v.taken(recordForm)}
	problems := map[string]string{}
	for _, f := range step.Fields {
		for _, channel := range v.channels(f) {
			key := f.Key(channel)
			typed := text(form, key)
			switch {
			case typed == "" && !f.Optional:
				problems[key] = missingField(f, v.label(f, k.Mount, channel))
			case typed == "":
			case !f.Quantity.Measured():
				if b.Chosen == nil {
					b.Chosen = map[string]string{}
				}
				b.Chosen[key] = forms.Value(form, key)
			default:
				readings, err := v.readings(f, typed)
				if err != nil {
					problems[key] = capital(sentence(err.Error()))
					break
				}
				if b.Measured == nil {
					b.Measured = map[string][]int64{}
				}
				b.Measured[key] = readings
			}
		}
	}
	given := map[string]bool{}
	for _, id := range form["confirmed"] {
		given[id] = true
	}
	for _, id := range step.Confirm {
		if given[id] {
			b.Confirmed = append(b.Confirmed, id)
		} else {
			problems["confirmed"] = "Every caution has to be confirmed by the person doing the work."
		}
	}
	return b, problems
}

func missingField(f checklist.Field, label string) string {
	switch f.Quantity {
	case checklist.Choice:
		return label + ": choose one."
	case checklist.Text:
		return label + ": write it down."
	}
	return label + ": give the reading."
}

// perUnit is how many of a quantity's whole-number units make the unit a person types.
const perUnit = 1000

func (v view) readings(f checklist.Field, typed string) ([]int64, error) {
	var out []int64
	if f.Quantity == checklist.Length {
		readings, err := tape.ParseMany(typed, v.bare(f))
		var refused *tape.Error
		if errors.As(err, &refused) {
			return nil, fmt.Errorf("%q cannot be read: wanted %s%s", refused.Input, refused.Want, v.meant(f, typed))
		}
		if err != nil {
			return nil, err
		}
		for _, r := range readings {
			out = append(out, r.Micrometres)
		}
	} else {
		x, err := strconv.ParseFloat(strings.Replace(strings.TrimSuffix(typed, "°"), ",", ".", 1), 64)
		if err != nil || math.Abs(x) > 1e9 || math.IsNaN(x) {
			return nil, fmt.Errorf("%q is not a number", typed)
		}
		scale := float64(perUnit)
		if f.Quantity == checklist.Count {
			scale = 1
		}
		out = append(out, int64(math.Round(x*scale)))
	}
	if len(out) > 1 && !f.Repeat {
		return nil, fmt.Errorf("one reading is wanted here, %d were given", len(out))
	}
	for _, r := range out {
		if r < f.Least || r > f.Most {
			return nil, fmt.Errorf("%s is not possible here: wanted %s to %s%s",
				v.typed(f.Quantity, r), v.typed(f.Quantity, f.Least), v.typed(f.Quantity, f.Most), v.meant(f, typed))
		}
	}
	return out, nil
}

// meant asks whether a number without a unit, far too large for metres, was read
// in millimetres.
func (v view) meant(f checklist.Field, typed string) string {
	mm, err := strconv.ParseInt(typed, 10, 32)
	if err != nil || f.Quantity != checklist.Length || v.system() != tape.Metric || mm*1000 < f.Least || mm*1000 > f.Most {
		return ""
	}
	return ". " + forms.Millimetres(int(mm))
}

// typed shows a recorded whole number as a person would type it.
func (v view) typed(q checklist.Quantity, n int64) string {
	switch q {
	case checklist.Length:
		return v.length(tape.Metres(n))
	case checklist.Count:
		return strconv.FormatInt(n, 10)
	}
	unit := map[checklist.Quantity]string{
		checklist.Angle: "°", checklist.Impedance: " ohm", checklist.Current: " A", checklist.Temperature: " °C", checklist.Level: " dB",
	}[q]
	return strconv.FormatFloat(float64(n)/perUnit, 'f', -1, 64) + unit
}

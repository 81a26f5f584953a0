package pages

import (
	"fmt"
	"slices"
	"strings"

	"hangtrue/checklist"
	"hangtrue/compute/tape"
	"hangtrue/pwa/forms"
	. "hangtrue/pwa/markup"
	"hangtrue/pwa/words"
)

// records tells whether this device may record the step.
func (v view) records(step *checklist.Step) bool {
	return v.device.Known && (v.device.Role == checklist.Lead || v.device.Role == step.Role)
}

// form asks for what the step records, or says why this device cannot.
func (v view) form(step *checklist.Step, k checklist.Key) Node {
	switch {
	case step.Kind == checklist.PlanSettled:
		return v.planSummary()
	case v.device.ID == "":
		return El("p", class("notice"), Text("You are reading the server's own page. To record this, open the same address on a phone with scripts on."))
	case !v.device.Known:
		return El("p", class("notice"), Text("Before you record: "), link("/you", "say who holds this phone"), Text("."))
	case !v.records(step):
		return El("p", class("notice"), Text(fmt.Sprintf("%s records this; this phone is held by %s. ", capital(withArticle(step.Role)), withArticle(v.device.Role))), link("/you", "Change that"), Text("."))
	case step.Kind == checklist.JobSigned:
		return v.signForm()
	}
	last := lastMeasured(step)
	return El("form", Attr("method", "post"), Attr("data-form", "record"), Attr("novalidate", ""),
		El("input", Attr("type", "hidden"), Attr("name", "act"), Attr("value", "record")),
		v.impulseField(step),
		Each(step.Fields[:last+1], func(f checklist.Field) Node { return v.fields(f, k) }),
		El("div", Attr("id", "verdict"), class("draft"), Attr("aria-live", "polite")),
		Each(step.Fields[last+1:], func(f checklist.Field) Node { return v.fields(f, k) }),
		v.confirmations(step),
		v.photoField(recordForm, step.Photo),
		El("details", El("summary", Text("Add a remark")),
			El("label", Attr("for", "f-remark"), Text("Remark, for whoever reads the record")),
			El("textarea", Attr("id", "f-remark"), Attr("name", "remark"), Attr("rows", "2"), Attr("maxlength", "1000"))),
		forms.Problem("form"),
		El("div", class("save"), El("button", Attr("type", "submit"), Text("Save"))),
	)
}

func withArticle(r checklist.Role) string {
	if r == checklist.Installer {
		return "an installer"
	}
	return "a " + string(r)
}

// lastMeasured is the place of the last field that holds a number, so that the
// verdict stands right under the numbers.
func lastMeasured(step *checklist.Step) int {
	last := len(step.Fields) - 1
	for i, f := range step.Fields {
		if f.Quantity.Measured() {
			last = i
		}
	}
	return last
}

func (v view) fields(f checklist.Field, k checklist.Key) Node {
	return Each(v.channels(f), func(channel string) Node { return v.field(f, k, channel) })
}

// label is what a field is called on a form of this mount, or for this channel.
func (v view) label(f checklist.Field, mount, channel string) string {
	if channel != "" {
		return channel + ", " + f.Label
	}
	if m := v.State.Plan().MountByChannel(mount); m != nil && f.ID == "up" && v.upWord(m.Surface) == "Out" {
		return strings.NewReplacer("Up", "Out", ", up", ", out").Replace(f.Label)
	}
	return f.Label
}

func (v view) field(f checklist.Field, k checklist.Key, channel string) Node {
	key := f.Key(channel)
	id, label := "f-"+key, v.label(f, k.Mount, channel)
	optional := If(f.Optional, El("span", class("quiet"), Text(" (if you have it)")))
	switch {
	case f.Quantity == checklist.Choice:
		return v.choice(f, k, key, El("span", Text(label), optional))
	case f.Quantity == checklist.Text:
		return El("div", class("field"),
			El("label", Attr("for", id), Text(label), optional),
			El("input", Attr("type", "text"), Attr("id", id), Attr("name", key), Attr("autocomplete", "off"), Attr("maxlength", "1000"), Attr("aria-describedby", "p-"+key)),
			forms.Problem(key))
	}
	hint := v.hint(f, k.Mount)
	described := "p-" + key
	if hint != "" {
		described = "h-" + key + " " + described
	}
	expected := v.expects[channel]
	if expected != "" {
		described = "e-" + key + " " + described
	}
	return El("div", class("field"),
		El("label", Attr("for", id), Text(label), optional),
		If(expected != "", El("span", class("hint"), Attr("id", "e-"+key), Text(expected))),
		If(hint != "", El("span", class("hint"), Attr("id", "h-"+key), Text(hint))),
		v.numberInput(f, id, key, described),
		forms.Problem(key),
		If(f.Repeat, El("details", El("summary", Text("More readings of it")), Each(more, func(ending string) Node {
			return Group(El("label", Attr("for", id+ending), Text(label+", reading "+ending[1:])), v.numberInput(f, id+ending, key+ending, "p-"+key))
		}))))
}

// choice offers few options as buttons one can hit, many as a list.
func (v view) choice(f checklist.Field, k checklist.Key, key string, label Node) Node {
	options, usual := v.State.Options(f, k.Mount), v.usual(f, key)
	if len(options) > 4 || f.Each {
		return El("div", class("field"),
			El("label", Attr("for", "f-"+key), label),
			El("select", Attr("id", "f-"+key), Attr("name", key), Attr("aria-describedby", "p-"+key),
				El("option", Attr("value", ""), Text("choose")),
				Each(options, func(o checklist.Option) Node {
					return El("option", Attr("value", o.ID), Flag("selected", o.ID == usual), Text(o.Label))
				})),
			forms.Problem(key))
	}
	return El("fieldset", class("field"),
		El("legend", label),
		Each(options, func(o checklist.Option) Node {
			return El("label", class("option"),
				El("input", Attr("type", "radio"), Attr("name", key), Attr("value", o.ID), Flag("checked", o.ID == usual), Attr("aria-describedby", "p-"+key)),
				El("span", Text(o.Label)))
		}),
		forms.Problem(key))
}

func (v view) numberInput(f checklist.Field, id, key, described string) Node {
	return El("input", Attr("type", "text"), class("number"), Attr("id", id), Attr("name", key), Attr("autocomplete", "off"),
		Attr("inputmode", v.inputMode(f)), Attr("enterkeyhint", "next"), Attr("aria-describedby", described))
}

// inputMode asks for the keyboard with digits; a slope or a length in feet and
// inches needs signs that it does not have.
func (v view) inputMode(f checklist.Field) string {
	if f.Quantity == checklist.Angle || (f.Quantity == checklist.Length && v.system() == tape.Imperial) {
		return "text"
	}
	return "decimal"
}

// hint says from where a length counts and how to write it.
func (v view) hint(f checklist.Field, mount string) string {
	hint := f.Help
	if m := v.State.Plan().MountByChannel(mount); m != nil {
		along, up := v.datum(m.Surface)
		hint = strings.NewReplacer("from the datum corner", along, "from the datum edge", up).Replace(hint)
		if f.ID == "centre" {
			if placed, err := v.State.Plan().PlaceMount(mount); err == nil && placed.Surface.Framing.Across {
				hint = strings.Replace(hint, along, up, 1)
			}
		}
	}
	if f.Quantity != checklist.Length {
		return hint
	}
	write := map[tape.Unit]string{tape.Metre: "in metres, such as 1.254", tape.Millimetre: "in millimetres, such as 45"}[v.bare(f)]
	if v.system() == tape.Imperial {
		write = "in inches, such as 3 1/8"
		if v.bare(f) != tape.Inch || f.Most > shortField {
			write = `such as 4' 1 3/8"`
		}
	}
	return strings.TrimPrefix(hint+"; "+write, "; ")
}

// shortField is the most (micrometres) of a field for what nobody gives in metres:
// a drill bit, a depth.
const shortField = 1_000_000

// bare is the unit of a number without one.
func (v view) bare(f checklist.Field) tape.Unit {
	if f.Most <= shortField && v.system() == tape.Metric {
		return tape.Millimetre
	}
	return v.system().Bare()
}

// usual is what was chosen for this field the last time, so that nobody is asked
// twice which tape they hold. It is given for instruments only: what a step is
// there to find out is never filled in beforehand.
func (v view) usual(f checklist.Field, key string) string {
	if f.From != "instruments" {
		return ""
	}
	s := v.State
	var last *checklist.Evidence
	for _, k := range s.Keys() {
		e := s.Evidence(k)
		if e == nil || e.Recording.Chosen[key] == "" {
			continue
		}
		if last == nil || e.Record.Entry.Clock > last.Record.Entry.Clock {
			last = e
		}
	}
	if last != nil {
		return last.Recording.Chosen[key]
	}
	if options := s.Options(f, ""); len(options) == 1 {
		return options[0].ID
	}
	return ""
}

// confirmations are the cautions the person confirms one by one.
func (v view) confirmations(step *checklist.Step) Node {
	if len(step.Confirm) == 0 {
		return nil
	}
	return El("fieldset", class("field confirm"),
		El("legend", Text("Read each caution and tick it")),
		Each(step.Confirm, func(id string) Node {
			short, rest := firstSentence(v.State.Template.Cautions[id].Text)
			return El("label", class("option caution"),
				El("input", Attr("type", "checkbox"), Attr("name", "confirmed"), Attr("value", id), Attr("aria-describedby", "p-confirmed")),
				El("span", El("strong", Text(short)), Text(" "+rest)))
		}),
		forms.Problem("confirmed"))
}

// signForm signs the job off. It needs the server's log up to now: what is still
// on this phone has to arrive first.
func (v view) signForm() Node {
	s := v.State
	if len(v.Pending) > 0 {
		return El("p", class("notice"), Text(fmt.Sprintf("%s not sent yet. Sign-off waits until the server has everything.", plural(len(v.Pending), "entry is", "entries are"))))
	}
	return El("form", Attr("method", "post"), Attr("data-form", "sign"), Attr("novalidate", ""),
		El("input", Attr("type", "hidden"), Attr("name", "act"), Attr("value", "sign")),
		El("input", Attr("type", "hidden"), Attr("name", "head"), Attr("value", fmt.Sprint(s.Head))),
		El("p", Text(fmt.Sprintf("You sign revision %d of the plan and all %d entries up to now. ", s.Revision(), s.Head)), link(v.path("record"), "Read the record first"), Text(".")),
		El("div", class("field"),
			El("label", class("option"), El("input", Attr("type", "checkbox"), Attr("name", "read"), Attr("value", "yes"), Attr("aria-describedby", "p-read")), El("span", Text("I have read the record"))),
			forms.Problem("read")),
		El("label", Attr("for", "f-remark"), Text("Remark"), El("span", class("quiet"), Text(" (if you have one)"))),
		El("textarea", Attr("id", "f-remark"), Attr("name", "remark"), Attr("rows", "2"), Attr("maxlength", "1000")),
		forms.Problem("form"),
		El("div", class("save"), El("button", Attr("type", "submit"), Text("Sign off"))),
	)
}

// planSummary shows the revisions that were settled.
func (v view) planSummary() Node {
	if len(v.State.Revisions) == 0 {
		return El("p", class("notice"), Text("No plan is settled yet. A lead makes one under "), link(v.path("plan"), "Plan"), Text("; as soon as it is settled, the steps appear."))
	}
	revisions := slices.Clone(v.State.Revisions)
	slices.Reverse(revisions)
	return El("ol", class("history"), Attr("reversed", ""), Each(revisions, func(r checklist.Revision) Node {
		return El("li", Text(fmt.Sprintf("Revision %d: %s (%s, %s)", r.Number, r.Reason, r.Record.Entry.Who, words.Clock(r.Record.Entry.Clock))),
			El("code", class("quiet hash"), Text("SHA-256 "+r.SHA256)))
	}))
}

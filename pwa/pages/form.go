package pages

import (
	"fmt"
	"slices"
	"strings"

	"hangtrue/checklist"
	. "hangtrue/pwa/markup"
)

// form asks for what the step records. It is there when the step may be recorded
// on this device; otherwise it says why not.
func (v view) form(step *checklist.Step, k checklist.Key) Node {
	s := v.State
	holds := s.Holds(k)
	switch {
	case len(holds) > 0:
		return El("section", class("held"), Attr("aria-label", "Held"),
			El("h2", Text("Held")),
			El("ul", Each(holds, func(h checklist.Hold) Node {
				if h.Key.Step == "" {
					return El("li", Text(h.Text))
				}
				return El("li", link(v.stepPath(h.Key), h.Text))
			})))
	case step.Kind == checklist.PlanSettled:
		return v.planSummary()
	case step.Kind == checklist.JobSigned:
		return v.signForm()
	case !v.device.Known:
		return El("p", class("notice"), Text("To record this, "), link("/you", "say who holds this phone"), Text("."))
	case v.device.Role == checklist.Viewer || (step.Role == checklist.Lead && v.device.Role != checklist.Lead):
		return El("p", class("notice"), Text(fmt.Sprintf("A %s records this; this phone is held by a %s.", step.Role, v.device.Role)))
	}
	fields := El("form", Attr("method", "post"), Attr("data-form", "record"), Attr("novalidate", ""), class("record"),
		El("input", Attr("type", "hidden"), Attr("name", "act"), Attr("value", "record")),
		Each(step.Fields, func(f checklist.Field) Node {
			return Each(v.channels(f), func(channel string) Node { return v.field(f, k, channel) })
		}),
		v.confirmations(step),
		El("div", Attr("id", "verdict"), class("draft"), Attr("aria-live", "polite")),
		El("details", El("summary", Text("Add a remark")),
			El("label", Attr("for", "f-remark"), Text("Remark")),
			El("textarea", Attr("id", "f-remark"), Attr("name", "remark"), Attr("rows", "2"), Attr("maxlength", "1000"))),
		problem("form"),
		El("button", Attr("type", "submit"), Text("Save")),
	)
	if status := s.Status(k); status == checklist.Done || status == checklist.Conceded {
		return El("details", El("summary", Text("Record it again")), fields)
	}
	return fields
}

// problem is where a message about a field goes.
func problem(name string) Node {
	return El("p", class("problem"), Attr("id", "p-"+name), Attr("role", "alert"))
}

func (v view) field(f checklist.Field, k checklist.Key, channel string) Node {
	key := f.Key(channel)
	id := "f-" + key
	label := f.Label
	if channel != "" {
		label = channel + " " + f.Label
	}
	if f.ID == "up" {
		if m := v.State.Plan().MountByChannel(k.Mount); m != nil {
			if _, word, _ := datum(m.Surface); word == "Out" {
				label = strings.Replace(strings.Replace(label, "Up", "Out", 1), ", up", ", out", 1)
			}
		}
	}
	optional := If(f.Optional, El("span", class("quiet"), Text(" (if you have it)")))
	switch {
	case f.Quantity == checklist.Choice:
		options := v.State.Options(f, k.Mount)
		if len(options) > 4 {
			return El("div", class("field"),
				El("label", Attr("for", id), Text(label), optional),
				El("select", Attr("id", id), Attr("name", key), Attr("aria-describedby", "p-"+key),
					El("option", Attr("value", ""), Text("choose")),
					Each(options, func(o checklist.Option) Node {
						return El("option", Attr("value", o.ID), Flag("selected", o.ID == v.usual(f, key)), Text(o.Label))
					})),
				problem(key))
		}
		return El("fieldset", class("field"),
			El("legend", Text(label), optional),
			Each(options, func(o checklist.Option) Node {
				return El("label", class("option"),
					El("input", Attr("type", "radio"), Attr("name", key), Attr("value", o.ID), Flag("checked", o.ID == v.usual(f, key)), Attr("aria-describedby", "p-"+key)),
					El("span", Text(o.Label)))
			}),
			problem(key))
	case f.Quantity == checklist.Text:
		return El("div", class("field"),
			El("label", Attr("for", id), Text(label), optional),
			El("input", Attr("type", "text"), Attr("id", id), Attr("name", key), Attr("autocomplete", "off"), Attr("maxlength", "1000"), Attr("aria-describedby", "p-"+key)),
			problem(key))
	}
	hint := f.Help
	if f.Repeat {
		hint = strings.TrimPrefix(hint+"; repeat readings with ; between them", "; ")
	}
	if from, _, up := v.datumOf(k.Mount); f.Quantity == checklist.Length && f.Help != "" {
		switch f.Help {
		case "from the datum corner":
			hint = strings.Replace(hint, f.Help, from, 1)
		case "from the datum edge":
			hint = strings.Replace(hint, f.Help, up, 1)
		}
	}
	return El("div", class("field"),
		El("label", Attr("for", id), Text(label), optional),
		If(hint != "", El("span", class("quiet hint"), Attr("id", "h-"+key), Text(hint))),
		El("input", Attr("type", "text"), Attr("id", id), Attr("name", key), Attr("autocomplete", "off"),
			Attr("inputmode", inputMode(f.Quantity, v)), Attr("enterkeyhint", "next"),
			Attr("aria-describedby", strings.TrimSpace(hintID(hint, key)+" p-"+key)), Attr("placeholder", placeholder(f.Quantity, v))),
		problem(key))
}

func hintID(hint, key string) string {
	if hint == "" {
		return ""
	}
	return "h-" + key
}

func (v view) datumOf(channel string) (along, upWord, up string) {
	if m := v.State.Plan().MountByChannel(channel); m != nil {
		return datum(m.Surface)
	}
	return datum("")
}

// inputMode asks for the keyboard with digits; a slope or a length in feet and
// inches needs signs that it does not have.
func inputMode(q checklist.Quantity, v view) string {
	if q == checklist.Angle || v.State.Plan().Units == "imperial" {
		return "text"
	}
	return "decimal"
}

func placeholder(q checklist.Quantity, v view) string {
	if q != checklist.Length {
		return ""
	}
	if v.State.Plan().Units == "imperial" {
		return `4' 1 3/8"`
	}
	return "1.254"
}

// usual is what was chosen for this field the last time, so that nobody is asked
// twice which tape they hold. It is given for instruments only: what a step is
// there to find out is never filled in beforehand.
func (v view) usual(f checklist.Field, key string) string {
	if !strings.HasPrefix(f.From, "instruments") {
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
	options := s.Options(f, "")
	if last != nil {
		return last.Recording.Chosen[key]
	}
	if len(options) == 1 {
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
		El("legend", Text("Read and confirm each")),
		Each(step.Confirm, func(id string) Node {
			return El("label", class("option caution"),
				El("input", Attr("type", "checkbox"), Attr("name", "confirmed"), Attr("value", id)),
				El("span", El("span", Attr("aria-hidden", "true"), Text("⚠ ")), Text(v.State.Template.Cautions[id].Text)))
		}),
		problem("confirmed"))
}

// signForm signs the job off. It needs the server's log up to now: what is still
// on this phone has to arrive first.
func (v view) signForm() Node {
	s := v.State
	if v.device.Role != checklist.Lead {
		return El("p", class("notice"), Text("A lead signs off."))
	}
	if len(v.Pending) > 0 {
		return El("p", class("notice"), Text(fmt.Sprintf("%s not sent yet. Sign-off waits until the server has everything.", plural(len(v.Pending), "entry is", "entries are"))))
	}
	return El("form", Attr("method", "post"), Attr("data-form", "sign"),
		El("input", Attr("type", "hidden"), Attr("name", "act"), Attr("value", "sign")),
		El("input", Attr("type", "hidden"), Attr("name", "head"), Attr("value", fmt.Sprint(s.Head))),
		El("p", Text(fmt.Sprintf("You sign revision %d of the plan and all %d entries up to now. ", s.Revision(), s.Head)), link(v.path("record"), "Read the record first"), Text(".")),
		El("label", class("option"), El("input", Attr("type", "checkbox"), Attr("name", "read"), Attr("value", "yes")), El("span", Text("I have read the record"))),
		problem("read"),
		El("label", Attr("for", "sign-remark"), Text("Remark"), El("span", class("quiet"), Text(" (if you have one)"))),
		El("textarea", Attr("id", "sign-remark"), Attr("name", "remark"), Attr("rows", "2"), Attr("maxlength", "1000")),
		problem("form"),
		El("button", Attr("type", "submit"), Text("Sign off")),
	)
}

// planSummary shows the revisions that were settled.
func (v view) planSummary() Node {
	revisions := slices.Clone(v.State.Revisions)
	slices.Reverse(revisions)
	return El("ol", class("history"), Each(revisions, func(r checklist.Revision) Node {
		return El("li", Text(fmt.Sprintf("Revision %d: %s (%s, %s)", r.Number, r.Reason, r.Record.Entry.Who, clock(r.Record.Entry.Clock))),
			El("code", class("quiet hash"), Text(r.SHA256)))
	}))
}

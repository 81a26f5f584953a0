package pages

import (
	"hangtrue/checklist"
	"hangtrue/pwa/forms"
	. "hangtrue/pwa/markup"
)

// youPage asks who holds this phone.
func youPage(src Source) Document {
	d := src.Device()
	if d.ID == "" {
		return Document{Title: "You", Main: Group(
			El("div", class("title"), El("h1", Text("You"))),
			El("p", Text("This page is for the program on a phone. Here you read what the server has; with scripts on, this device keeps its own copy and can record.")),
			El("p", El("a", class("button"), Attr("href", "/"), Text("All jobs"))))}
	}
	role := func(r checklist.Role, text string) Node {
		return El("label", class("option"),
			El("input", Attr("type", "radio"), Attr("name", "role"), Attr("value", string(r)), Flag("checked", d.Role == r), Attr("aria-describedby", "p-role")),
			El("span", Text(text)))
	}
	kept := "The browser may throw this phone's copy away when space runs short. Send what you recorded as soon as you are in reach of the server."
	if d.Persistent {
		kept = "The browser has promised to keep this phone's copy."
	}
	return Document{Title: "You", Main: Group(
		El("div", class("title"), El("h1", Text("Who holds this phone"))),
		El("p", Text("Your name and what you do stand beside everything recorded on this phone.")),
		El("form", Attr("method", "post"), Attr("data-form", "you"), Attr("novalidate", ""),
			El("div", class("field"),
				El("label", Attr("for", "who"), Text("As you are called on this job")),
				El("input", Attr("type", "text"), Attr("id", "who"), Attr("name", "who"), Attr("autocomplete", "name"), Attr("maxlength", "60"), Attr("value", d.Who), Attr("aria-describedby", "p-who")),
				forms.Problem("who")),
			El("fieldset", class("field"), El("legend", Text("What you do")),
				role(checklist.Installer, "Installer: marks, drills, wires, hangs, measures"),
				role(checklist.Lead, "Lead: plans, leaves things off plan with a reason, signs off"),
				role(checklist.Viewer, "Viewer: reads"),
				forms.Problem("role")),
			forms.Problem("form"),
			El("button", Attr("type", "submit"), Text("Keep this"))),
		If(d.Known, El("p", El("a", class("button second"), Attr("href", "/"), Text("To the jobs")))),
		El("h2", Text("This phone")),
		El("p", Text(kept)),
		pairing(),
		El("p", class("quiet"), Text("Device "+d.ID)),
	)}
}

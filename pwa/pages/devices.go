package pages

import (
	"time"

	"hangtrue/checklist"
	"hangtrue/pwa/forms"
	. "hangtrue/pwa/markup"
)

// A Gate is a [Source] that knows who may come in: the server's, when a lead asks.
type Gate interface {
	Guests() (g Guests, ok bool)
}

// Guests are who may come in, or could once.
type Guests struct {
	Devices []Guest
	Links   []GuestLink
}

// A Guest is a device that was paired, or a reader by link.
type Guest struct {
	ID, Who      string
	Role         checklist.Role
	Job          string // title of the one job it may read; all if empty
	Paired, Seen time.Time
	Ended        bool // by itself: unused for too long, or too old
	Revoked      time.Time
	Self         bool // the device that looks
}

// A GuestLink lets whoever has it read one job.
type GuestLink struct {
	ID, Job     string // the job's title
	Made, Until time.Time
	Revoked     time.Time
	Ended       bool
}

func day(t time.Time) string { return t.UTC().Format("2006-01-02 15:04") + " UTC" }

func devicesPage(src Source) Document {
	gate, ok := src.(Gate)
	var g Guests
	if ok {
		g, ok = gate.Guests()
	}
	if !ok {
		return Document{Title: "Devices", Main: Group(
			El("div", class("title"), El("h1", Text("Devices"))),
			El("p", Text("The server alone knows which devices are paired. Come into its reach and load this page again.")))}
	}
	role := func(r checklist.Role, text string) Node {
		return El("label", class("option"), El("input", Attr("type", "radio"), Attr("name", "role"), Attr("value", string(r)), Flag("checked", r == checklist.Installer)), El("span", Text(text)))
	}
	return Document{Title: "Devices", Main: Group(
		El("div", class("title"), El("h1", Text("Devices"))),
		El("h2", Text("Pair another device")),
		El("form", Attr("method", "post"), Attr("data-form", "pairing"), Attr("data-post", "/api/pairing"),
			El("fieldset", class("field"), El("legend", Text("It will be")),
				role(checklist.Installer, "An installer's: records"),
				role(checklist.Lead, "A lead's: plans, concedes, signs, pairs devices"),
				role(checklist.Viewer, "A viewer's: reads every job")),
			forms.Problem("form"),
			El("button", Attr("type", "submit"), Text("Show a code")),
			El("div", Attr("data-answer", ""), Attr("role", "status"))),
		silence(),
		El("h2", Text("Paired")),
		If(len(g.Devices) == 0, El("p", Text("No device is paired yet."))),
		El("ul", class("rows"), Each(g.Devices, guest)),
		El("h2", Text("Links to one job")),
		El("p", Text("Whoever has such a link reads that job and nothing else, for ninety days or until it is taken back.")),
		If(len(src.Jobs()) > 0, El("form", Attr("method", "post"), Attr("data-form", "links"), Attr("data-post", "/api/links"),
			El("div", class("field"), El("label", Attr("for", "job"), Text("Job")),
				El("select", Attr("id", "job"), Attr("name", "job"), Each(src.Jobs(), func(j JobLine) Node {
					return El("option", Attr("value", j.ID), Text(j.Title))
				}))),
			forms.Problem("form-link"),
			El("button", Attr("type", "submit"), Text("Make a link")),
			El("div", Attr("data-answer", ""), Attr("role", "status")))),
		El("ul", class("rows"), Each(g.Links, func(l GuestLink) Node {
			return El("li", El("p", El("strong", Text(l.Job)), Text(", made "+day(l.Made)+", opens until "+day(l.Until))),
				over(l.Revoked, l.Ended, l.ID, "Take this link back"))
		})),
	)}
}

func guest(g Guest) Node {
	reads := ""
	if g.Job != "" {
		reads = ", reads " + g.Job + " only"
	}
	return El("li",
		El("p", El("strong", Text(g.Who)), Text(", "+roleName(g.Role)+reads), If(g.Self, Text(" (this device)"))),
		El("p", class("quiet"), Text("Paired "+day(g.Paired)+", last seen "+day(g.Seen)+". Device "+g.ID)),
		If(g.Self, El("p", El("a", class("button second"), Attr("href", UnpairPath), Text("Unpair this device")))),
		If(!g.Self, over(g.Revoked, g.Ended, g.ID, "Revoke")))
}

// over tells how something ended, or is the button that ends it.
func over(revoked time.Time, ended bool, id, label string) Node {
	switch {
	case !revoked.IsZero():
		return El("p", Text("Revoked "+day(revoked)+"."))
	case ended:
		return El("p", Text("Ended: too old, or unused for too long."))
	}
	return El("form", Attr("method", "post"), Attr("data-form", "revoke-"+id), Attr("data-post", "/api/revoke"),
		El("button", class("second"), Attr("type", "submit"), Attr("name", "id"), Attr("value", id), Attr("aria-label", label+" "+id), Text(label)))
}

// Opened shows a code that pairs one device: its link as a picture, where to type it,
// and its letters.
func Opened(picture Node, address, typed string, r checklist.Role) string {
	return String(Group(
		El("p", Text("Point the other device's camera at this. It becomes "+roleName(r)+"'s.")),
		picture,
		El("p", Text("Or open "+address+PairPath+" on it and type:")),
		El("div", class("target"), El("strong", class("big"), Attr("id", "typed-code"), Text(typed))),
		El("p", class("quiet"), Text("It works once, within ten minutes.")),
	))
}

// Linked shows a link to one job. It is not shown again.
func Linked(picture Node, address, job string) string {
	return String(Group(
		El("p", Text("Whoever has this link reads "+job+". It is shown this once; give it to the reader now.")),
		El("p", El("code", Attr("id", "link"), Text(address))),
		picture,
	))
}

package pages

import (
	"hangtrue/checklist"
	"hangtrue/pwa/forms"
	. "hangtrue/pwa/markup"
)

// Pages about who may come in. Only the server shows them: what they are about is
// its own, and a phone that is not paired has nothing to show.
const (
	PairPath    = "/pair"    // a code is in the fragment, or is typed
	ViewPath    = "/view"    // a link's token is in the fragment
	UnpairPath  = "/unpair"  // ends this device's pairing
	DevicesPath = "/devices" // a lead's list
)

// Open tells whether a page shows nothing of any job, so that a stranger may see it.
func Open(path string) bool {
	switch path {
	case PairPath, ViewPath, UnpairPath, Shell, "/you":
		return true
	}
	return false
}

// guestPage is a page of this file or the next, ok false for any other path.
func guestPage(path string, src Source) (d Document, ok bool) {
	switch path {
	case PairPath:
		return pairPage(), true
	case ViewPath:
		return viewPage(), true
	case UnpairPath:
		return unpairPage(), true
	case DevicesPath:
		return devicesPage(src), true
	}
	return Document{}, false
}

// Refused is the page instead of one that its caller may not see: status 401 for a
// stranger, 403 for a device whose role is not enough.
func Refused(status int) Document {
	if status == 403 {
		return Document{Status: 403, Title: "Not yours", Main: Group(
			El("div", class("title"), El("h1", Text("This takes a lead"))),
			El("p", Text("This device is paired with another role. A lead can do this, or pair this device again.")),
			El("p", El("a", class("button"), Attr("href", "/"), Text("All jobs"))))}
	}
	return Document{Status: status, Title: "Not paired", Main: Group(
		El("div", class("title"), El("h1", Text("This device is not paired"))),
		El("p", Text("The server shows its jobs to paired devices only. What was recorded on this device stays on it.")),
		El("p", El("a", class("button"), Attr("href", PairPath), Text("Pair this device"))))}
}

func pairPage() Document {
	field := func(name, label, hint string, attrs ...Node) Node {
		return El("div", class("field"), Attr("id", "field-"+name),
			El("label", Attr("for", name), Text(label)),
			El("input", append([]Node{Attr("type", "text"), Attr("id", name), Attr("name", name), Attr("aria-describedby", "p-"+name+" h-"+name)}, attrs...)...),
			El("p", class("quiet"), Attr("id", "h-"+name), Text(hint)),
			forms.Problem(name))
	}
	return Document{Title: "Pair", Main: Group(
		El("div", class("title"), El("h1", Text("Pair this device"))),
		El("form", Attr("method", "post"), Attr("data-form", "pair"), Attr("data-post", "/api/pair"), Attr("novalidate", ""),
			field("who", "As you are called on the jobs", "It stands beside everything recorded on this device.", Attr("autocomplete", "name"), Attr("maxlength", "60")),
			El("p", Attr("id", "scanned"), Flag("hidden", true), Text("The code came with the link.")),
			field("code", "Code", "Eight letters and digits. A lead has one shown on a paired device, or the server's owner where the server runs.",
				Attr("autocomplete", "off"), Attr("autocapitalize", "characters"), Attr("spellcheck", "false"), Attr("maxlength", "40")),
			forms.Problem("form"),
			El("button", Attr("type", "submit"), Text("Pair this device"))),
		silence(),
		El("p", class("quiet"), Text("A code works once, within ten minutes. What was recorded on this device before stays on it and is sent after pairing.")),
	)}
}

// silence is shown when the server does not answer.
func silence() Node {
	return El("p", class("notice"), Attr("id", "silence"), Flag("hidden", true), Text("The server does not answer. Come into its reach and try again."))
}

func viewPage() Document {
	return Document{Title: "One job", Main: Group(
		El("div", class("title"), El("h1", Text("A link to one job"))),
		El("form", Attr("method", "post"), Attr("data-form", "view"), Attr("data-post", "/api/view"),
			El("p", Text("This link lets you read one job. It changes nothing and shows no other.")),
			forms.Problem("form"),
			El("button", Attr("type", "submit"), Text("Open the job"))),
		silence(),
	)}
}

func unpairPage() Document {
	choice := func(data, text string) Node {
		return El("button", Attr("type", "submit"), Attr("name", "data"), Attr("value", data), Text(text))
	}
	return Document{Title: "Unpair", Main: Group(
		El("div", class("title"), El("h1", Text("Unpair this phone"))),
		El("p", Text("The server takes nothing from it any more and shows it nothing, from now on. To come back it needs a new code.")),
		El("form", Attr("method", "post"), Attr("data-form", "unpair"), Attr("data-post", "/api/unpair"),
			El("div", Attr("id", "settled"), Flag("hidden", true),
				El("p", Text("Everything recorded on this phone is at the server. Its copy of the jobs is removed from the phone.")),
				choice("clear", "Unpair and clear this phone")),
			El("div", class("notice"), Attr("id", "waiting"), Flag("hidden", true),
				El("p", El("strong", Text("Entries and photos that are only on this phone: "), El("span", Attr("id", "count")), Text("."))),
				El("p", link("/", "Go back and send them first"), Text(". Or keep them here: they are sent if this phone is paired again.")),
				choice("keep", "Unpair and keep them here"),
				El("p", Text("If you clear the phone they are lost, and nobody can bring them back.")),
				choice("clear", "Throw them away and unpair")),
			forms.Problem("form")),
		silence(),
	)}
}

// pairing is what the page about the phone says of being paired.
func pairing() Node {
	return El("p", link(PairPath, "Pair this phone"), Text(" with a new code, or "), link(UnpairPath, "unpair it"), Text(". "),
		link(DevicesPath, "All paired devices"), Text(" are a lead's to see."))
}

// roleName is a role with its article.
func roleName(r checklist.Role) string {
	if r == checklist.Installer {
		return "an installer"
	}
	return "a " + string(r)
}

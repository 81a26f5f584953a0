package pages

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/pwa/forms"
	. "hangtrue/pwa/markup"
	"hangtrue/pwa/words"
)

// partsPage tells what the plan needs, what of it is on hand, and what is still to
// come. What is not here holds the steps that need it.
func (v view) partsPage() Document {
	main := []Node{v.crumbs(""), El("div", class("title"), El("h1", Text("Parts")))}
	p := v.State.Plan()
	if p == nil {
		main = append(main, El("p", Text("No plan is settled yet, so nothing is needed.")))
	} else {
		main = append(main,
			El("p", Text("What is not on hand holds the steps that need it, and only those. A part of which nothing is noted holds nothing.")),
			El("div", class("cards"), Each(stocked(p), func(part stockedPart) Node { return v.stockCard(part) })))
	}
	main = append(main, El("p", El("a", class("button second"), Attr("href", v.path("shelf")), Text("The shelf: what is left over"))))
	return Document{Title: "Parts", Main: Group(main...)}
}

// stockedPart is a part of the plan that somebody has to have in hand.
type stockedPart struct {
	kind, name string
	needed     int
}

// stocked are the parts that mounts use, in the order of the kinds as they are fitted.
func stocked(p *plan.Plan) []stockedPart {
	var parts []stockedPart
	for _, kind := range checklist.StockKinds() {
		for _, name := range p.Names(kind) {
			if n, used := checklist.Needed(p, kind, name); used {
				parts = append(parts, stockedPart{kind, name, n})
			}
		}
	}
	return parts
}

func (v view) stockCard(part stockedPart) Node {
	id := part.kind + "/" + part.name
	noted, known := v.State.Stock(id)
	says := "nothing noted"
	if known {
		says = fmt.Sprintf("%d on hand", noted.Stock.OnHand)
		if noted.Stock.Expected != "" {
			says += ", more expected " + noted.Stock.Expected
		}
		if noted.Stock.Remark != "" {
			says += ". " + noted.Stock.Remark
		}
	}
	title := capital(part.kind) + " " + part.name
	if strings.HasPrefix(strings.ToLower(part.name), part.kind) {
		title = part.name // it says so itself
	}
	needed := fmt.Sprintf("%d needed", part.needed)
	if part.needed == 0 {
		needed = "needed"
	}
	return El("section", class("card part"),
		El("h2", Text(title)),
		El("p", Text(needed+"; "+says+".")),
		If(v.mayNote(), v.stockForm(part, noted.Stock, known)))
}

// mayNote tells whether this device may say what is on hand.
func (v view) mayNote() bool { return v.device.Known && v.device.Role != checklist.Viewer }

func (v view) stockForm(part stockedPart, last checklist.Stock, known bool) Node {
	id := part.kind + "/" + part.name
	field := func(name, label, hint, mode, shown string) Node {
		at := name + "-" + id
		return El("div", class("field"), El("label", Attr("for", at), Text(label)),
			If(hint != "", El("span", class("hint"), Attr("id", "h-"+at), Text(hint))),
			El("input", Attr("type", "text"), Attr("id", at), Attr("name", name), Attr("inputmode", mode), Attr("value", shown), Attr("autocomplete", "off"), Attr("maxlength", "200")),
			El("p", class("problem"), Attr("id", "p-"+at), Attr("role", "alert")))
	}
	pieces := "pieces"
	if part.needed == 0 {
		pieces = "1 if it is here, 0 if not"
	}
	count := ""
	if known {
		count = strconv.Itoa(last.OnHand)
	}
	return El("details", El("summary", Text("Note what is on hand")),
		El("form", Attr("method", "post"), Attr("data-form", "stock "+id), Attr("novalidate", ""),
			forms.Hidden("act", "stock"), forms.Hidden("part", id),
			field("on_hand", "On hand", pieces, "numeric", count),
			field("expected", "More expected", "a day, such as 2030-01-31; empty if nobody knows", "text", last.Expected),
			field("remark", "Remark", "", "text", last.Remark),
			forms.Problem("form"),
			El("button", Attr("type", "submit"), Text("Save"))))
}

// shelfPage finds what was left over, years later as well.
func (v view) shelfPage() Document {
	return Document{Title: "The shelf", Main: Group(
		v.crumbs(""),
		El("div", class("title"), El("h1", Text("The shelf"))),
		El("p", Text("What was left over, and where it is stowed.")),
		El("form", Attr("method", "post"), Attr("data-form", "search"), Attr("novalidate", ""), Attr("role", "search"),
			forms.Hidden("act", "search"),
			El("div", class("field"), El("label", Attr("for", "f-words"), Text("Look for")),
				El("input", Attr("type", "search"), Attr("id", "f-words"), Attr("name", "words"), Attr("autocomplete", "off"), Attr("maxlength", "100")))),
		El("div", Attr("id", "found"), Attr("aria-live", "polite"), v.shelf("")),
		If(v.mayNote(), v.stowForm()),
	)}
}

// shelf lists what is there and has all the words, what was used up last.
func (v view) shelf(words string) Node {
	var found []checklist.Stowed
	for _, x := range v.State.Shelf {
		text := strings.ToLower(strings.Join([]string{x.Stow.What, x.Stow.Where, x.Stow.Remark}, " "))
		if !slices.ContainsFunc(strings.Fields(strings.ToLower(words)), func(word string) bool { return !strings.Contains(text, word) }) {
			found = append(found, x)
		}
	}
	slices.SortStableFunc(found, func(a, b checklist.Stowed) int { return min(b.Left, 1) - min(a.Left, 1) })
	switch {
	case len(v.State.Shelf) == 0:
		return El("p", Text("Nothing is on the shelf yet."))
	case len(found) == 0:
		return El("p", Text("Nothing on the shelf has these words."))
	}
	return El("ul", class("cards"), Each(found, v.stowed))
}

func (v view) stowed(x checklist.Stowed) Node {
	left := fmt.Sprintf("%d of %d left", x.Left, x.Stow.Count)
	if x.Left == x.Stow.Count {
		left = plural(x.Left, "piece", "pieces")
	}
	return El("li", class("card"),
		El("h2", Text(x.Stow.What)),
		El("p", Text(left+", "+x.Stow.Where+"."), If(x.Stow.Remark != "", Text(" "+x.Stow.Remark))),
		El("p", class("quiet"), Text("Put there by "+x.Record.Entry.Who+", "+words.Clock(x.Record.Entry.Clock))),
		If(v.mayNote() && x.Left > 0, v.takeForm(x)))
}

func (v view) takeForm(x checklist.Stowed) Node {
	id := x.Record.Entry.ID
	return El("details", El("summary", Text("Take some")),
		El("form", Attr("method", "post"), Attr("data-form", "take "+id), Attr("novalidate", ""),
			forms.Hidden("act", "take"), forms.Hidden("stow", id),
			El("div", class("field"), El("label", Attr("for", "count-"+id), Text("How many")),
				El("input", Attr("type", "text"), Attr("id", "count-"+id), Attr("name", "count"), Attr("inputmode", "numeric"), Attr("value", "1"), Attr("autocomplete", "off"), Attr("maxlength", "6"))),
			El("div", class("field"), El("label", Attr("for", "reason-"+id), Text("What for")),
				El("input", Attr("type", "text"), Attr("id", "reason-"+id), Attr("name", "reason"), Attr("autocomplete", "off"), Attr("maxlength", "200"))),
			forms.Problem("form"),
			El("button", Attr("type", "submit"), Text("Take"))))
}

func (v view) stowForm() Node {
	field := func(name, label, hint, mode string) Node {
		return El("div", class("field"), El("label", Attr("for", "f-"+name), Text(label)),
			If(hint != "", El("span", class("hint"), Attr("id", "h-"+name), Text(hint))),
			El("input", Attr("type", "text"), Attr("id", "f-"+name), Attr("name", name), Attr("inputmode", mode), Attr("autocomplete", "off"), Attr("maxlength", "120"), Attr("aria-describedby", "p-"+name)),
			forms.Problem(name))
	}
	return Group(El("h2", Text("Put something on the shelf")),
		El("form", Attr("method", "post"), Attr("data-form", "stow"), Attr("novalidate", ""),
			forms.Hidden("act", "stow"),
			field("what", "What", "such as: Wall bracket, spare", "text"),
			field("count", "How many", "", "numeric"),
			field("where", "Where it is stowed", "so that somebody else finds it", "text"),
			field("remark", "Remark", "", "text"),
			forms.Problem("form"),
			El("div", class("save"), El("button", Attr("type", "submit"), Text("Save")))))
}

// submitParts makes an entry of a form about what is on hand or on the shelf.
func submitParts(form Form) Submission {
	pieces := func(name string) (int, Submission) {
		n, err := strconv.Atoi(forms.Value(form, name))
		if err != nil || n < 0 {
			at := name
			if name == "on_hand" || forms.Value(form, "stow") != "" {
				at = "form" // of several forms on the page
			}
			return 0, forms.Wrong(at, "How many: wanted a whole number of 0 or more.")
		}
		return n, Submission{}
	}
	switch forms.Value(form, "act") {
	case "stock":
		n, bad := pieces("on_hand")
		if bad.Problems != nil {
			return bad
		}
		return Submission{Kind: checklist.PartNoted, Body: checklist.Stock{Part: forms.Value(form, "part"), OnHand: n, Expected: forms.Value(form, "expected"), Remark: forms.Value(form, "remark")}}
	case "stow":
		for _, name := range []string{"what", "where"} {
			if forms.Value(form, name) == "" {
				return forms.Wrong(name, "Write it down.")
			}
		}
		n, bad := pieces("count")
		if bad.Problems != nil {
			return bad
		}
		return Submission{Kind: checklist.PartStowed, Body: checklist.Stow{What: forms.Value(form, "what"), Count: n, Where: forms.Value(form, "where"), Remark: forms.Value(form, "remark")}}
	case "take":
		n, bad := pieces("count")
		if bad.Problems != nil {
			return bad
		}
		if forms.Value(form, "reason") == "" {
			return forms.Wrong("form", "Say what it is taken for.")
		}
		return Submission{Kind: checklist.PartTaken, Body: checklist.Taking{Stow: forms.Value(form, "stow"), Count: n, Reason: forms.Value(form, "reason")}}
	}
	return forms.Nothing
}

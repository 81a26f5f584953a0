package pages

import (
	"strings"

	"hangtrue/checklist"
	. "hangtrue/pwa/markup"
	"hangtrue/pwa/table"
)

// atTable opens the pages on which a plan is made, and gives the path below them.
func atTable(path string, src Source) (t table.Table, rest []string, ok bool) {
	parts, ok := split(path)
	if !ok || len(parts) < 3 || parts[0] != "jobs" || parts[2] != "plan" {
		return table.Table{}, nil, false
	}
	job, ok := src.Job(parts[1])
	if !ok {
		return table.Table{}, nil, false
	}
	v := view{Job: job, id: parts[1], device: src.Device()}
	return v.table(), parts[3:], true
}

func (v view) table() table.Table {
	return table.Table{
		State: v.State, Base: v.path("plan"), Pending: v.Pending, Foreseen: v.Foreseen,
		Phone: v.device.ID != "", Known: v.device.Known, Role: v.device.Role,
	}
}

func (v view) tablePage(rest []string) Document {
	page, ok := v.table().Page(rest)
	if !ok {
		return missing("This plan has no such page.")
	}
	return Document{Title: page.Title, Main: Group(v.planCrumbs(), page.Main)}
}

func (v view) planCrumbs() Node {
	return El("nav", Attr("aria-label", "Where you are"), class("crumbs"),
		link("/", "Jobs"), link(v.path(), v.State.Title), link(v.path("plan"), "Plan"))
}

// openJobForm begins a job, for a lead.
func openJobForm(d Device) Node {
	if !d.Known || d.Role != checklist.Lead {
		return nil
	}
	return El("details", class("new"), El("summary", Text("Open a new job")),
		El("form", Attr("method", "post"), Attr("data-form", "open"), Attr("novalidate", ""),
			El("div", class("field"),
				El("label", Attr("for", "f-title"), Text("What the job is called")),
				El("span", class("hint"), Attr("id", "h-title"), Text("such as: Room on the first floor")),
				El("input", Attr("type", "text"), Attr("id", "f-title"), Attr("name", "title"), Attr("autocomplete", "off"), Attr("maxlength", "120"), Attr("aria-describedby", "h-title p-title")),
				problem("title")),
			problem("form"),
			El("button", Attr("type", "submit"), Text("Open it"))))
}

func openJob(form Form) Submission {
	title := value(form, "title")
	if title == "" || strings.ContainsAny(title, "\n\r\t") || len([]rune(title)) > 120 {
		return wrong("title", "Wanted: 1 to 120 characters on one line.")
	}
	return Submission{Kind: checklist.JobOpened, Body: checklist.Opening{Title: title}, Next: "plan"}
}

package pages

import (
	"strings"

	"hangtrue/checklist"
	"hangtrue/pwa/forms"
	. "hangtrue/pwa/markup"
)

// under opens the job of a page that stands under one of its own, such as
// /jobs/ID/shelf, and gives what of the path lies below that.
func under(path, page string, src Source) (v view, rest []string, ok bool) {
	parts, ok := split(path)
	if !ok || len(parts) < 3 || parts[0] != "jobs" || parts[2] != page {
		return view{}, nil, false
	}
	job, ok := src.Job(parts[1])
	if !ok {
		return view{}, nil, false
	}
	return view{Job: job, id: parts[1], device: src.Device()}, parts[3:], true
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
				forms.Problem("title")),
			forms.Problem("form"),
			El("button", Attr("type", "submit"), Text("Open it"))))
}

func openJob(form Form) Submission {
	title := forms.Value(form, "title")
	if title == "" || strings.ContainsAny(title, "\n\r\t") || len([]rune(title)) > 120 {
		return forms.Wrong("title", "Wanted: 1 to 120 characters on one line.")
	}
	return Submission{Kind: checklist.JobOpened, Body: checklist.Opening{Title: title}, Next: "plan"}
}

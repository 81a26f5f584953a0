package pages

import (
	"fmt"

	. "hangtrue/pwa/markup"
)

func jobsPage(src Source) Document {
	jobs, device := src.Jobs(), src.Device()
	return Document{Title: "hangtrue", Main: Group(
		El("div", class("title"), El("h1", Text("Jobs"))),
		If(!device.Known && device.ID != "", El("p", class("notice"), Text("Before you record anything: "), link("/you", "say who holds this phone"), Text("."))),
		If(len(jobs) == 0, El("p", Text("There is no job here yet. A lead opens one here; one that is on the server appears as soon as this device reaches it."))),
		El("ul", class("rows"), Each(jobs, func(j JobLine) Node {
			return El("li", El("a", class("row"), Attr("href", "/jobs/"+Segment(j.ID)),
				El("span", class("name"), Text(j.Title)),
				El("span", class("where"), Text(fmt.Sprintf("%d of %s done", j.Done, plural(j.All, "step", "steps")))),
				El("span", class("state"),
					If(j.Signed, signed("done", "✓", "signed off ")),
					If(j.Pending > 0, signed("unsure", "↑", fmt.Sprintf("%d not sent yet", j.Pending)))),
			))
		})),
		openJobForm(device),
	)}
}

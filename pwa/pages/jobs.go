package pages

import (
	"fmt"

	"hangtrue/checklist"
	. "hangtrue/pwa/markup"
)

func jobsPage(src Source) Document {
	jobs := src.Jobs()
	return Document{Title: "hangtrue", Main: Group(
		El("h1", Text("Jobs")),
		If(!src.Device().Known && src.Device().ID != "", El("p", class("notice"), Text("Before you record anything: "), link("/you", "say who holds this phone"), Text("."))),
		If(len(jobs) == 0, El("p", Text("There is no job here yet."))),
		El("ul", class("rows"), Each(jobs, func(j JobLine) Node {
			return El("li", El("a", class("row"), Attr("href", "/jobs/"+j.ID),
				El("span", class("name"), Text(j.Title)),
				El("span", class("quiet"), Text(fmt.Sprintf("%d of %s", j.Done, plural(j.All, "step", "steps")))),
				If(j.Signed, El("span", class("chip done"), Text("✓ signed off"))),
				If(j.Pending > 0, El("span", class("chip unsure"), Text(fmt.Sprintf("%d not sent yet", j.Pending)))),
			))
		})),
	)}
}

// Progress counts the steps of a job that are done or conceded, and all of them.
func Progress(s *checklist.State) (done, all int) {
	return tally(s, s.Keys())
}

func tally(s *checklist.State, keys []checklist.Key) (done, all int) {
	for _, k := range keys {
		if status := s.Status(k); status == checklist.Done || status == checklist.Conceded {
			done++
		}
	}
	return done, len(keys)
}

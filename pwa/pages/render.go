package pages

import (
	"strings"

	"hangtrue/checklist"
	. "hangtrue/pwa/markup"
)

// Render makes the page of a path. A path that names nothing gives a page that
// says so, with status 404. It never fails.
func Render(path string, src Source) Document {
	d := route(path, src)
	if d.Status == 0 {
		d.Status = 200
	}
	d.Path = path
	return d
}

// Shell is the page that stands in while the phone's own program starts.
const Shell = "/shell"

func route(path string, src Source) Document {
	if d, ok := guestPage(path, src); ok {
		return d
	}
	parts, ok := split(path)
	switch {
	case !ok:
		return missing("There is no such page.")
	case len(parts) == 0:
		return jobsPage(src)
	case path == Shell:
		return Document{Title: "hangtrue", Main: El("p", Attr("class", "quiet"), Text("One moment."))}
	case path == "/you":
		return youPage(src)
	case parts[0] != "jobs" || len(parts) < 2:
		return missing("There is no such page.")
	}
	job, ok := src.Job(parts[1])
	if !ok {
		return missing("This job is not on this device. Connect to the server once to fetch it.")
	}
	v := view{Job: job, id: parts[1], device: src.Device()}
	switch rest := parts[2:]; {
	case len(rest) == 0:
		return v.jobPage()
	case rest[0] == "plan":
		return v.tablePage(rest[1:])
	case len(rest) == 1 && rest[0] == "parts":
		return v.partsPage()
	case len(rest) == 1 && rest[0] == "shelf":
		return v.shelfPage()
	case len(rest) == 1 && rest[0] == "record":
		return v.recordPage()
	case len(rest) == 1 && rest[0] == "paper":
		return v.paperPage()
	case len(rest) == 1 && rest[0] == "drawings":
		return v.drawingsPage("")
	case len(rest) == 2 && rest[0] == "drawings":
		return v.drawingsPage(rest[1])
	case len(rest) == 1 && rest[0] == "wiring":
		return v.wiringPage()
	case len(rest) == 1 && rest[0] == "rack":
		return v.rackPage()
	case len(rest) == 1 && rest[0] == "sound":
		return v.soundPage()
	case len(rest) == 2 && rest[0] == "photos":
		return v.photoPage(rest[1])
	case len(rest) == 2 && rest[0] == "walls":
		return v.wallPage(rest[1])
	case len(rest) == 2 && rest[0] == "steps":
		return v.stepPage(checklist.Key{Step: rest[1]})
	case len(rest) == 2 && rest[0] == "mounts":
		return v.mountPage(rest[1])
	case len(rest) == 3 && rest[0] == "mounts":
		return v.stepPage(checklist.Key{Step: rest[2], Mount: rest[1]})
	}
	return missing("There is no such page.")
}

// split takes a path apart; %2B and + both mean the + of a channel.
func split(path string) ([]string, bool) {
	var parts []string
	for _, part := range strings.Split(strings.Trim(path, "/"), "/") {
		if part == "" {
			continue
		}
		plain, ok := FromSegment(part)
		if !ok {
			return nil, false
		}
		parts = append(parts, plain)
	}
	return parts, true
}

func missing(says string) Document { return absent("Not found", says) }

func absent(title, says string) Document {
	return Document{Status: 404, Title: title, Main: Group(
		El("div", class("title"), El("h1", Text(title))),
		El("p", Text(says)),
		El("p", El("a", class("button"), Attr("href", "/"), Text("All jobs"))),
	)}
}

// view is one job being shown.
type view struct {
	*Job
	id     string
	mount  string // the mount whose page this is, if it is one
	device Device
	// expects is what stands beside a channel's field; nil but at the step that compares distances.
	expects map[string]string
	// zone is where else the mount in question may go; nil on pages that do not show it.
	zone *elsewhere
}

func (v view) path(parts ...string) string {
	path := "/jobs/" + Segment(v.id)
	for _, part := range parts {
		path += "/" + Segment(part)
	}
	return path
}

// stepPath is where a step's page is.
func (v view) stepPath(k checklist.Key) string {
	if k.Mount == "" {
		return v.path("steps", k.Step)
	}
	return v.path("mounts", k.Mount, k.Step)
}

func link(href, text string) Node { return El("a", Attr("href", href), Text(text)) }

func class(names string) Node { return Attr("class", names) }

package pages

import (
	"hangtrue/checklist"
	"hangtrue/pwa/markup"
)

// A Source is where pages read from: the server's store or the phone's.
type Source interface {
	// Jobs lists the jobs, the one with the latest news first.
	Jobs() []JobLine
	// Job opens one job.
	Job(id string) (*Job, bool)
	// Device tells about the device that shows the page; the zero Device for a
	// page rendered by the server.
	Device() Device
}

// A JobLine is one job in the list.
type JobLine struct {
	ID, Title string
	Head      int64 // log position
	Pending   int   // entries of this device not sent yet
	Done, All int   // steps
	Signed    bool
}

// A Job as a page shows it.
type Job struct {
	State *checklist.State
	// Pending are this device's entries that the server has not decided, and
	// Foreseen what the rules say about each.
	Pending  []checklist.Entry
	Foreseen func(id string) checklist.Decision
	// Seals are the checkpoints over the log, oldest first (server only; empty on
	// a phone that has not fetched them).
	Seals []string
	// Photo tells where a photo is; nil knows of none.
	Photo func(checklist.Photo) PhotoPlace
	// Taken are the photos that were taken on this page and are not saved yet.
	Taken []Taken
	// Zones, where there are any, spare working out the zone of the page before again.
	Zones *Zones
}

// A Device is who holds the phone.
type Device struct {
	ID   string
	Who  string
	Role checklist.Role
	// Known is false until the person has said who they are on this device.
	Known bool
	// Persistent tells whether the browser promised to keep the phone's copy.
	Persistent bool
}

// A Document is a rendered page.
type Document struct {
	Status int    // HTTP status: 200, 404
	Path   string // canonical
	Title  string
	Main   markup.Node
	// Mark names what a form on the page was filled in for: with another mark the page
	// tells another target, or somebody else has done the step. Empty where nothing does.
	Mark string
	// Whole tells that only the whole program has this page.
	Whole bool
}

// Assets are the addresses of the static files, with their hashed names.
type Assets struct {
	Style, Script, Manifest, Icon, AppleIcon string
	Version                                  string
}

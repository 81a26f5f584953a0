package engine

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	. "hangtrue/pwa/markup"
)

// A Say is the line that tells where what was recorded is now.
type Say struct {
	HTML string `json:"html"`
	// Tone is "", waiting, sent or refused.
	Tone string `json:"tone"`
	// Stay tells that it has to be in sight wherever on the page somebody is.
	Stay bool `json:"stay,omitempty"`
}

type saying struct {
	// About is what the caller wants said: update, changed, unsaved, full, or nothing.
	About string `json:"about"`
}

func (e *Engine) sayNow(in saying) (Answer, error) {
	switch in.About {
	case "update":
		return Answer{Say: &Say{HTML: String(Group(Text("A new version is ready. "), act("update", "Use it now"))), Tone: "waiting"}}, nil
	case "changed":
		return Answer{Say: &Say{HTML: String(Group(Text("This step has changed while you were at it. What you typed stays. "), act("look", "Show the change"))), Tone: "waiting", Stay: true}}, nil
	case "unsaved":
		e.unmake()
		return Answer{Say: &Say{HTML: String(Text("Not saved. What you typed is still here; save again.")), Tone: "refused", Stay: true}}, nil
	case "full":
		e.unmake()
		return Answer{Say: &Say{HTML: String(Text("Not saved: this phone's storage is full. What you typed is still here. Make room, then save again.")), Tone: "refused", Stay: true}}, nil
	}
	return Answer{Say: e.say("")}, nil
}

// act is a button for something that only the browser can do.
func act(name, label string) Node {
	return El("button", Attr("type", "button"), Attr("data-act", name), Text(label))
}

// say tells what waits, after a first sentence about what just happened.
func (e *Engine) say(first string) *Say {
	var texts []string
	tone := ""
	waiting, photos := e.waiting(), e.photosWaiting()
	if first == "" && waiting+photos > 0 {
		first = "Saved on this phone." // the word that matters most must not be talked over
	}
	if first != "" {
		texts = append(texts, first)
	}
	if waiting > 0 {
		texts = append(texts, fmt.Sprintf("%d not sent yet.", waiting))
		tone = "waiting"
	}
	if photos > 0 {
		texts = append(texts, count(photos, "photo", "photos")+" not sent yet.")
		tone = "waiting"
	}
	if waiting+photos == 0 && e.sync.sent {
		tone = "sent"
		if first == "" {
			texts = append(texts, "Everything is sent.")
		}
	}
	if e.sync.trouble != "" {
		texts = append(texts, e.sync.trouble)
	}
	if e.behind() {
		texts = append(texts, "The server goes by later steps than this phone; use the new version when it is ready.")
		tone = "waiting"
	}
	if len(e.strays) > 0 {
		texts = append(texts, fmt.Sprintf("%s could not be delivered; see You.", entries(len(e.strays))))
		tone = "refused"
	}
	if n := len(e.untaken); n > 0 {
		texts = append(texts, count(n, "photo is", "photos are")+" not taken by the server; see You.")
		tone = "refused"
	}
	refused := e.refused()
	if refused != nil {
		tone = "refused"
	}
	return &Say{HTML: String(Group(Text(strings.Join(texts, " ")), refused)), Tone: tone, Stay: refused != nil}
}

// refused says what came back refused, until the page of its job was opened: whoever is
// up a ladder does not look at this line every minute.
func (e *Engine) refused() Node {
	var nodes []Node
	for _, id := range slices.Sorted(maps.Keys(e.jobs)) {
		j := e.jobs[id]
		n := j.line.Refused - j.line.Looked
		if n <= 0 {
			continue
		}
		text := " Refused: "
		if n > 1 {
			text = fmt.Sprintf(" %d refused; the last: ", n)
		}
		if j.refusal == "" {
			text = " " + entries(n) + " refused."
		}
		nodes = append(nodes, Text(text+j.refusal+" "), El("a", Attr("href", "/jobs/"+id), Text("See what to do")))
	}
	if nodes == nil {
		return nil
	}
	return Group(nodes...)
}

func (e *Engine) waiting() int {
	n := 0
	for _, j := range e.jobs {
		n += j.pending
	}
	return n
}

func entries(n int) string { return count(n, "entry", "entries") }

func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// aboutPhotos is what the phone has of photos, and what it may let go.
func (e *Engine) aboutPhotos() Node {
	whole := 0
	for _, a := range e.albums {
		whole += len(a.whole)
	}
	const mega = 1_000_000
	var kept string
	if e.room.Quota > 0 {
		kept = fmt.Sprintf("The browser keeps %d MB for this program on this phone, and would keep %d MB. ", (e.room.Usage+mega-1)/mega, e.room.Quota/mega)
	}
	return Group(
		If(kept != "" || whole > 0, El("p", Text(kept+count(whole, "photo is", "photos are")+" here in full."))),
		If(whole > 0, El("p", act("release", "Let go of photos that the server has"), Text(" Small ones stay. "), act("resend", "Send all photos again"), Text(" if the server has lost some."))),
		Each(slices.Sorted(maps.Keys(e.untaken)), func(name string) Node {
			return El("p", Attr("class", "notice"), El("a", Attr("href", "/jobs/"+strings.Replace(name, "/", "/photos/", 1)), Text("A photo")), Text(" stays on this phone: "+e.untaken[name]))
		}))
}

// aboutPhone is what the page about the phone's holder says of the phone itself.
func (e *Engine) aboutPhone() string {
	waiting := "Everything recorded here is sent."
	var left []string
	if n := e.waiting(); n > 0 {
		left = append(left, entries(n))
	}
	if n := e.photosWaiting(); n > 0 {
		left = append(left, count(n, "photo", "photos"))
	}
	if len(left) > 0 {
		waiting = "Recorded here and not sent yet: " + strings.Join(left, " and ") + "."
	}
	return String(Group(
		El("p", Text(waiting+" "), act("sync", "Send and fetch now")),
		If(!e.secure, El("p", Attr("class", "notice"), Text("This address is not a secure one, so the phone cannot work out of reach of the server. Ask for the https address."))),
		If(!e.persistent, El("p", act("persist", "Ask the browser to keep this phone's copy"))),
		e.aboutPhotos(),
		El("p", Attr("id", "install"), Flag("hidden", true), act("install", "Put it on the home screen")),
		If(len(e.strays) > 0, Group(
			El("h2", Text("Could not be delivered")),
			El("p", Text("The server could not take these into any job. They stay on this phone.")),
			El("ol", Attr("class", "history"), Each(e.strays, func(s Stray) Node {
				return El("li", Text(s.Reason), El("pre", Text(s.Entry)))
			})))),
		El("p", Attr("class", "quiet"), Text("Version "+e.version)),
	))
}

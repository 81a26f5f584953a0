package pages

import (
	"encoding/json"
	"fmt"
	"strconv"

	"hangtrue/checklist"
	"hangtrue/pwa/forms"
	. "hangtrue/pwa/markup"
	"hangtrue/pwa/words"
)

// A PhotoPlace is where a photo is, as far as the device knows that shows it.
type PhotoPlace int

const (
	PhotoAway    PhotoPlace = iota // not here: a phone asks the server; at the server it has not arrived
	PhotoHere                      // here, whole; on a phone that took it: the server has it too
	PhotoSmall                     // on a phone: here in a small size, and at the server
	PhotoWaiting                   // on this phone, and not sent yet
	PhotoRefused                   // on this phone, and the server does not take it
)

// Taken is a photo that was taken on a page and is not saved yet.
type Taken struct {
	Form string `json:"form"` // whose it is
	checklist.Photo
}

// Forms that take photos.
const (
	recordForm = "record"
	remarkForm = "remark"
)

// What a phone makes of a photo, by common practice: a screw's head on a wall can be
// seen, and some 400 kB can be sent over a poor line.
const (
	photoSide    = 1600 // pixels of the longer side
	photoQuality = 80   // percent
	photoSmall   = 320  // pixels of the longer side of the small one that lists show
)

// place is where a photo is.
func (v view) place(p checklist.Photo) PhotoPlace {
	if v.Photo == nil {
		return PhotoAway
	}
	return v.Photo(p)
}

// photoPath is where a photo has its page; the file itself is under the same with .jpg.
func (v view) photoPath(p checklist.Photo) string { return v.path("photos", p.SHA256) }

// photos shows the photos that an entry names, small, each leading to its page.
func (v view) photos(of []checklist.Photo, e checklist.Entry) Node {
	if len(of) == 0 {
		return nil
	}
	about := v.photoAbout(e)
	nodes := make([]Node, len(of))
	for i, p := range of {
		name := "Photo"
		if len(of) > 1 {
			name = fmt.Sprintf("Photo %d of %d", i+1, len(of))
		}
		nodes[i] = El("li", v.thumbnail(p, name+": "+about))
	}
	return El("ul", class("photos"), Group(nodes...))
}

// photoAbout says in words what a photo belongs to.
func (v view) photoAbout(e checklist.Entry) string {
	about := "remark"
	if k := checklist.About(e); k != (checklist.Key{}) {
		about = v.stepName(k)
	}
	return about + ", " + e.Who + ", " + words.Clock(e.Clock)
}

// thumbnail is one photo in a list.
func (v view) thumbnail(p checklist.Photo, alt string) Node {
	place := v.place(p)
	if v.device.ID == "" && place == PhotoAway {
		return El("p", class("quiet"), Text(onItsWay))
	}
	width, height := fit(p, photoSmall)
	return Group(
		El("a", Attr("href", v.photoPath(p)), v.image(p, alt, width, height, false)),
		v.gone(),
		placeNote(place))
}

const onItsWay = "A photo is on its way: it is still on the phone that took it."

// image is the picture itself. On a phone the script puts it in, from the phone's
// storage or else from the server.
func (v view) image(p checklist.Photo, alt string, width, height int, whole bool) Node {
	file := v.photoPath(p) + ".jpg"
	size := Group(Attr("width", strconv.Itoa(width)), Attr("height", strconv.Itoa(height)), Attr("alt", alt))
	if v.device.ID == "" {
		return El("img", Attr("loading", "lazy"), Attr("src", file), size)
	}
	return El("img", Attr("loading", "lazy"), Attr("data-photo", p.SHA256), Attr("data-job", v.id), Attr("data-file", file), Flag("data-whole", whole), size)
}

// gone is shown by the script where neither the phone nor the server gives the picture.
func (v view) gone() Node {
	if v.device.ID == "" {
		return nil
	}
	return El("p", class("quiet"), Flag("hidden", true), Text("This photo is not on this phone, and the server does not give it now: it is out of reach, or the photo has not arrived there yet."))
}

func placeNote(place PhotoPlace) Node {
	switch place {
	case PhotoWaiting:
		return signed("unsure", "↑", "not sent yet")
	case PhotoRefused:
		return signed("outside", "✕", "not taken by the server; see You")
	}
	return nil
}

// fit is a photo's size where the longer side has at most so many pixels.
func fit(p checklist.Photo, side int) (width, height int) {
	long := max(p.Width, p.Height)
	if long <= side {
		return p.Width, p.Height
	}
	return max(1, p.Width*side/long), max(1, p.Height*side/long)
}

// photoPage shows one photo as large as the screen takes it, and what it belongs to.
func (v view) photoPage(sha256 string) Document {
	n, ok := v.State.Photo(sha256)
	if !ok {
		return missing("This job has no such photo.")
	}
	e := n.Record.Entry
	k := checklist.About(e)
	place := v.place(n.Photo)
	about := v.photoAbout(e)
	picture := Group(v.image(n.Photo, "Photo: "+about, n.Width, n.Height, true), v.gone(), placeNote(place))
	if v.device.ID == "" && place == PhotoAway {
		picture = El("p", class("notice"), Text(onItsWay))
	}
	where := ""
	switch place {
	case PhotoSmall:
		where = "This phone kept it small; the server has it whole."
	case PhotoWaiting, PhotoRefused:
		where = "It is on this phone only."
	}
	row := func(name string, value Node) Node { return Group(El("dt", Text(name)), El("dd", value)) }
	return Document{Title: "Photo", Main: Group(
		v.crumbs(k.Mount),
		El("div", class("title"), El("h1", Text("Photo"))),
		El("div", class("whole"), picture),
		If(where != "", El("p", Text(where))),
		El("dl", class("written"),
			If(v.State.Template.Step(k.Step) != nil, row("At", El("span", class("alone"), link(v.stepPath(k), v.stepName(k))))),
			row("By", Text(e.Who+", "+words.Clock(e.Clock)+" by that phone's clock")),
			If(n.Record.Position > 0, row("Named by", Text(fmt.Sprintf("entry %d of the log", n.Record.Position)))),
			row("Size", Text(fmt.Sprintf("%d × %d pixels, %d kB", n.Width, n.Height, (n.Bytes+999)/1000)))),
		If(place != PhotoAway || v.device.ID != "", El("p", class("alone"), El("a", Attr("href", v.photoPath(n.Photo)+".jpg"), Attr("download", ""), Text("Download the file from the server")))),
		El("code", class("quiet hash"), Text("SHA-256 "+n.SHA256)),
	)}
}

// photoCount says how many photos are not where they should be, nothing when all are.
func (v view) photoCount() Node {
	away, waiting, seen := 0, 0, map[string]bool{}
	for _, n := range v.State.Photos {
		if seen[n.SHA256] {
			continue
		}
		seen[n.SHA256] = true
		switch v.place(n.Photo) {
		case PhotoAway:
			away++
		case PhotoWaiting, PhotoRefused:
			waiting++
		}
	}
	switch {
	case v.device.ID == "" && away > 0:
		return El("p", class("quiet"), Text(fmt.Sprintf("%s on the way: still on the phone that took them.", plural(away, "photo is", "photos are"))))
	case v.device.ID != "" && waiting > 0:
		return El("p", class("quiet"), Text(fmt.Sprintf("%s on this phone only, not sent yet.", plural(waiting, "photo is", "photos are"))))
	}
	return nil
}

// photoField takes photos for a form.
func (v view) photoField(form, show string) Node {
	id := "f-photo-" + form
	hint := "Place and time that the camera notes are left away."
	if show != "" {
		hint = "Worth showing: " + show + ". " + hint
	}
	return El("div", class("field"),
		El("label", Attr("for", id), Text("Photo"), El("span", class("quiet"), Text(" (if you have one)"))),
		El("span", class("quiet hint"), Attr("id", "h-photo-"+form), Text(hint)),
		El("input", Attr("type", "file"), Attr("id", id), Attr("name", "photo-"+form), Attr("accept", "image/*"), Attr("capture", "environment"),
			Attr("data-take", form), Attr("data-most", strconv.Itoa(checklist.MaxPhotoBytes)), Attr("data-side", strconv.Itoa(photoSide)),
			Attr("data-quality", strconv.Itoa(photoQuality)), Attr("data-small", strconv.Itoa(photoSmall)),
			Attr("aria-describedby", "h-photo-"+form+" p-photo-"+form)),
		forms.Problem("photo-"+form),
		El("div", Attr("id", "photos-"+form), Attr("aria-live", "polite"), v.takenList(form)))
}

// takenList are the photos that a form has so far.
func (v view) takenList(form string) Node {
	taken := v.taken(form)
	if len(taken) == 0 {
		return nil
	}
	nodes := make([]Node, len(taken))
	for i, p := range taken {
		width, height := fit(p, photoSmall)
		name := fmt.Sprintf("Photo %d", i+1)
		nodes[i] = El("li",
			El("img", Attr("data-taken", p.SHA256), Attr("width", strconv.Itoa(width)), Attr("height", strconv.Itoa(height)), Attr("alt", name+", not saved yet")),
			El("button", Attr("type", "button"), class("second"), Attr("data-act", "untake"), Attr("data-photo", p.SHA256), Attr("aria-label", "Take "+name+" away"), Text("Take away")))
	}
	return Group(El("ul", class("photos"), Group(nodes...)), El("p", class("quiet"), Text(plural(len(taken), "photo goes", "photos go")+" with what you save.")))
}

// taken are the photos of a form.
func (v view) taken(form string) (photos []checklist.Photo) {
	for _, t := range v.Taken {
		if t.Form == form {
			photos = append(photos, t.Photo)
		}
	}
	return photos
}

// PhotosTaken is what a form shows of the photos that were taken for it: element id to
// its new content. Wrong says why the last one was not taken, empty when it was.
func PhotosTaken(path, form, wrong string, src Source) map[string]string {
	v, _, ok := open(path, src)
	if !ok {
		return nil
	}
	return map[string]string{"photos-" + form: String(Group(v.takenList(form))), "p-photo-" + form: String(Text(wrong))}
}

// remarkForm adds words or photos to a step later.
func (v view) remarkForm(step *checklist.Step) Node {
	if step.Kind != checklist.StepRecorded || !v.device.Known || v.device.Role == checklist.Viewer || v.State.Locked() && v.device.Role != checklist.Lead {
		return nil
	}
	return El("details", El("summary", Text("Add a remark or a photo")),
		El("form", Attr("method", "post"), Attr("data-form", remarkForm), Attr("novalidate", ""),
			El("input", Attr("type", "hidden"), Attr("name", "act"), Attr("value", "remark")),
			El("label", Attr("for", "f-note"), Text("Remark, for whoever reads the record")),
			El("textarea", Attr("id", "f-note"), Attr("name", "note"), Attr("rows", "2"), Attr("maxlength", "1000"), Attr("aria-describedby", "p-note")),
			forms.Problem("note"),
			v.photoField(remarkForm, ""),
			El("button", Attr("type", "submit"), class("second"), Text("Add it"))))
}

// remark reads the form of a remark.
func (v view) remark(k checklist.Key, form Form) (checklist.Remark, map[string]string) {
	b := checklist.Remark{Step: k.Step, Mount: k.Mount, Text: forms.Value(form, "note"), Photos: v.taken(remarkForm)}
	if b.Text == "" && len(b.Photos) == 0 {
		return b, map[string]string{"note": "Write something or take a photo."}
	}
	return b, nil
}

// remarksOn are the remarks about a step, oldest first.
func (v view) remarksOn(k checklist.Key) Node {
	var items []Node
	for _, r := range v.State.Remarks() {
		if checklist.About(r.Entry) == k {
			items = append(items, El("li", v.remarkText(r, "")))
		}
	}
	if len(items) == 0 {
		return nil
	}
	return Group(El("h2", Text("Remarks")), El("ul", class("history"), Group(items...)))
}

// remarkText is a remark with its photos and who made it.
func (v view) remarkText(r checklist.Record, about string) Node {
	var b checklist.Remark
	_ = json.Unmarshal(r.Entry.Body, &b) // an accepted remark has a body that can be read
	return Group(Text(about+b.Text+" "), El("span", class("quiet"), Text("("+r.Entry.Who+", "+words.Clock(r.Entry.Clock)+")")), v.photos(b.Photos, r.Entry))
}

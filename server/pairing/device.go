package pairing

import (
	"fmt"
	"slices"
	"time"
	"unicode"

	"github.com/google/uuid"

	"hangtrue/checklist"
)

const (
	// IdleLife is how long a token stands unused. A phone is out of reach for a night
	// or a week; one that lay in a drawer for a season is no key any more.
	IdleLife = 90 * 24 * time.Hour
	// TokenLife is how long a token stands at all, and its cookie: longer than a job
	// takes, and as long as browsers keep a cookie (400 days, RFC 6265bis section 5.5,
	// from memory, not verified).
	TokenLife = 400 * 24 * time.Hour
	// LinkLife is how long a link to one job opens.
	LinkLife = 90 * 24 * time.Hour

	// seenEvery is how exactly the book keeps when a device was here last. Each change
	// is written and synced.
	seenEvery = 10 * time.Minute

	maxDevices  = 500 // whose token stands
	maxRevoked  = 200 // kept for the list; the oldest are forgotten
	maxLinks    = 200
	maxVisitors = 20 // of one link; one more ends the oldest visit
)

// A Device is a phone or browser that holds a token, or held one.
type Device struct {
	ID     string         `json:"id"` // a UUID: the device's own, or a visitor's
	Who    string         `json:"who"`
	Role   checklist.Role `json:"role"`
	Job    string         `json:"job,omitempty"`  // the one job it may read; all if empty
	Link   string         `json:"link,omitempty"` // the link it came by
	Paired time.Time      `json:"paired"`
	Seen   time.Time      `json:"seen"`
	// Revoked is when its token ended by somebody's act; zero while it was not.
	Revoked time.Time `json:"revoked,omitzero"`

	Hash string `json:"hash,omitempty"` // of its token; empty once it was revoked
}

// Ends is when the token ends if the device does not come again.
func (d Device) Ends() time.Time {
	idle, end := d.Seen.Add(IdleLife), d.Paired.Add(TokenLife)
	if idle.Before(end) {
		return idle
	}
	return end
}

func (d Device) stands(now time.Time) bool { return d.Hash != "" && now.Before(d.Ends()) }

// A Link lets whoever has it read one job.
type Link struct {
	ID      string    `json:"id"`
	Job     string    `json:"job"`
	Made    time.Time `json:"made"`
	Until   time.Time `json:"until"`
	Revoked time.Time `json:"revoked,omitzero"`

	Hash string `json:"hash,omitempty"`
}

// Open tells whether the link opens its job.
func (l Link) Open(now time.Time) bool { return l.Hash != "" && now.Before(l.Until) }

// Pair turns a code into a token for a device. The token that the caller holds so far,
// if any, ends. A device whose token stands is paired again only by itself, with
// [ErrPaired] for others and the code left open; a code that is not open is [ErrCode].
func (b *Book) Pair(given, device, who, current string) (token string, d Device, err error) {
	if !checklist.IsUUID(device) {
		return "", Device{}, fmt.Errorf("%w: device is %.60q, wanted a UUID in lower case", ErrInput, device)
	}
	if err := checkName(who); err != nil {
		return "", Device{}, err
	}
	none := true
	if err := b.look(func(k *kept, now time.Time) {
		none = !slices.ContainsFunc(k.Codes, func(c code) bool { return c.open(now) })
	}); err != nil {
		return "", Device{}, err
	}
	if none {
		return "", Device{}, ErrCode
	}
	token, hash := secret()
	err = b.change(func(k *kept, now time.Time) (bool, error) {
		i := k.find(given, now)
		if i < 0 {
			return len(k.Codes) > 0, ErrCode // a stranger makes nothing be written but tries
		}
		var held string
		if current != "" {
			held = hashOf(current)
		}
		for _, o := range k.Devices {
			if o.ID == device && o.stands(now) && !same(o.Hash, held) {
				return false, ErrPaired
			}
		}
		d = Device{ID: device, Who: who, Role: k.Codes[i].Role, Paired: now, Seen: now, Hash: hash}
		k.Codes = slices.Delete(k.Codes, i, i+1)
		k.Devices = slices.DeleteFunc(k.Devices, func(o Device) bool { return o.ID == device || same(o.Hash, held) })
		err := k.add(d, now)
		return err == nil, err
	})
	if err != nil {
		return "", Device{}, err
	}
	return token, d, nil
}

func checkName(who string) error {
	n := 0
	for _, r := range who {
		if !unicode.IsPrint(r) {
			return fmt.Errorf("%w: who has a character that cannot be shown", ErrInput)
		}
		n++
	}
	if n < 1 || n > 60 {
		return fmt.Errorf("%w: who has %d characters, wanted 1 to 60", ErrInput, n)
	}
	return nil
}

// add takes a device in and forgets what ended long ago.
func (k *kept) add(d Device, now time.Time) error {
	k.Devices = slices.DeleteFunc(k.Devices, func(o Device) bool { return o.Link != "" && !o.stands(now) })
	standing, ended := 0, 0
	for _, o := range k.Devices {
		if o.stands(now) {
			standing++
		} else {
			ended++
		}
	}
	if standing >= maxDevices {
		return ErrFull
	}
	k.Devices = slices.DeleteFunc(k.Devices, func(o Device) bool { // oldest first
		if o.stands(now) || ended <= maxRevoked {
			return false
		}
		ended--
		return true
	})
	k.Devices = append(k.Devices, d)
	return nil
}

// Who is the device that holds a token, [ErrToken] for none.
func (b *Book) Who(token string) (Device, error) {
	if token == "" || len(token) > 100 {
		return Device{}, ErrToken
	}
	hash := hashOf(token)
	var (
		d   Device
		ok  bool
		now time.Time
	)
	if err := b.look(func(k *kept, at time.Time) { now = at; d, ok = k.who(hash, at) }); err != nil {
		return Device{}, err
	}
	if !ok {
		return Device{}, ErrToken
	}
	if now.Sub(d.Seen) < seenEvery {
		return d, nil
	}
	// Whether its visit could be noted or not, the device is who it is.
	_ = b.change(func(k *kept, now time.Time) (bool, error) {
		for i := range k.Devices {
			if same(k.Devices[i].Hash, hash) {
				k.Devices[i].Seen = now
				return true, nil
			}
		}
		return false, nil
	})
	return d, nil
}

func (k *kept) who(hash string, now time.Time) (found Device, ok bool) {
	for _, d := range k.Devices {
		if same(d.Hash, hash) && d.stands(now) {
			found, ok = d, true
		}
	}
	if found.Link != "" { // a visit ends with its link
		ok = slices.ContainsFunc(k.Links, func(l Link) bool { return l.ID == found.Link && l.Open(now) })
	}
	return found, ok
}

// A List is who may come in, and who might once.
type List struct {
	Devices []Device // the one seen last in front
	Links   []Link   // the newest in front
}

// List is without any hash.
func (b *Book) List() (l List, err error) {
	err = b.change(func(k *kept, _ time.Time) (bool, error) {
		l = List{slices.Clone(k.Devices), slices.Clone(k.Links)}
		return false, nil
	})
	for i := range l.Devices {
		l.Devices[i].Hash = ""
	}
	for i := range l.Links {
		l.Links[i].Hash = ""
	}
	slices.SortStableFunc(l.Devices, func(a, b Device) int { return b.Seen.Compare(a.Seen) })
	slices.SortStableFunc(l.Links, func(a, b Link) int { return b.Made.Compare(a.Made) })
	return l, err
}

// Revoke ends a device's token, or a link and all visits by it. [ErrNone] is returned
// when there is none of this id that stands.
func (b *Book) Revoke(id string) error {
	return b.change(func(k *kept, now time.Time) (bool, error) {
		done := false
		for i := range k.Links {
			if l := &k.Links[i]; l.ID == id && l.Hash != "" {
				l.Hash, l.Revoked, done = "", now, true
			}
		}
		k.Devices = slices.DeleteFunc(k.Devices, func(d Device) bool {
			gone := d.Link != "" && (d.Link == id || d.ID == id)
			done = done || gone
			return gone
		})
		for i := range k.Devices {
			if d := &k.Devices[i]; d.ID == id && d.Hash != "" {
				d.Hash, d.Revoked, done = "", now, true
			}
		}
		if !done {
			return false, ErrNone
		}
		return true, nil
	})
}

// End ends every token, link, visit and code, as where an old copy of the book came
// back that does not know who was revoked since. It tells how many devices and links
// stood.
func (b *Book) End() (stood int, err error) {
	err = b.change(func(k *kept, now time.Time) (bool, error) {
		for i := range k.Links {
			if l := &k.Links[i]; l.Open(now) {
				l.Revoked = now
				stood++
			}
			k.Links[i].Hash = ""
		}
		k.Devices = slices.DeleteFunc(k.Devices, func(d Device) bool { return d.Link != "" })
		for i := range k.Devices {
			if d := &k.Devices[i]; d.stands(now) {
				d.Revoked = now
				stood++
			}
			k.Devices[i].Hash = ""
		}
		k.Codes = nil
		return true, nil
	})
	return stood, err
}

// NewLink makes a link to one job. To call it is a lead's act: the caller sees to that.
func (b *Book) NewLink(job string) (text string, l Link, err error) {
	if !checklist.IsUUID(job) {
		return "", Link{}, fmt.Errorf("%w: job is %.60q, wanted a UUID in lower case", ErrInput, job)
	}
	text, hash := secret()
	err = b.change(func(k *kept, now time.Time) (bool, error) {
		k.Links = slices.DeleteFunc(k.Links, func(o Link) bool { return !o.Open(now) && now.Sub(o.Made) > LinkLife })
		if len(k.Links) >= maxLinks {
			return false, ErrFull
		}
		l = Link{ID: uuid.NewString(), Job: job, Made: now, Until: now.Add(LinkLife), Hash: hash}
		k.Links = append(k.Links, l)
		return true, nil
	})
	if err != nil {
		return "", Link{}, err
	}
	l.Hash = ""
	return text, l, nil
}

// link gives the place of the open link of a hash, -1 for none.
func (k *kept) link(hash string, now time.Time) int {
	at := -1
	for i, l := range k.Links {
		if same(l.Hash, hash) && l.Open(now) {
			at = i
		}
	}
	return at
}

// Visit turns a link into a token that reads its job, [ErrLink] for a link that is
// wrong, late or revoked. Where the visitor may read the job already there is no
// token, and the device has the job alone.
func (b *Book) Visit(link string, may func(job string) bool) (token string, d Device, err error) {
	if link == "" || len(link) > 100 {
		return "", Device{}, ErrLink
	}
	given := hashOf(link)
	at := -1
	if err := b.look(func(k *kept, now time.Time) { at = k.link(given, now) }); err != nil {
		return "", Device{}, err
	}
	if at < 0 {
		return "", Device{}, ErrLink
	}
	token, hash := secret()
	err = b.change(func(k *kept, now time.Time) (bool, error) {
		if at = k.link(given, now); at < 0 {
			return false, ErrLink
		}
		l := k.Links[at]
		if may(l.Job) {
			token, d = "", Device{Job: l.Job}
			return false, nil
		}
		visits := 0
		for _, o := range k.Devices {
			if o.Link == l.ID {
				visits++
			}
		}
		k.Devices = slices.DeleteFunc(k.Devices, func(o Device) bool { // oldest first
			if o.Link != l.ID || visits < maxVisitors {
				return false
			}
			visits--
			return true
		})
		d = Device{ID: uuid.NewString(), Who: "a reader by link", Role: checklist.Viewer, Job: l.Job, Link: l.ID, Paired: now, Seen: now, Hash: hash}
		err := k.add(d, now)
		return err == nil, err
	})
	if err != nil {
		return "", Device{}, err
	}
	return token, d, nil
}

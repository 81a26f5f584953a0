package simulate

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"

	"hangtrue/pwa/phone/engine"
)

// What a phone's storage refuses.
var (
	errOutrun = errors.New("another tab was first")
	errQuota  = errors.New("the storage is full")
)

// A key of a row: a name, or a job and a number, or a job or path and a photo's SHA-256.
type key struct {
	name   string
	number int64 // 0 when the key is another
	text   string
}

func keyOf(k any) key {
	switch k := k.(type) {
	case string:
		return key{name: k}
	case []any:
		if len(k) == 2 {
			name, ok := k[0].(string)
			switch second := k[1].(type) {
			case float64:
				if ok {
					return key{name: name, number: int64(second)}
				}
			case string:
				if ok {
					return key{name: name, text: second}
				}
			}
		}
	}
	panic(fmt.Sprintf("simulate: no key of a row: %v", k))
}

func (k key) wire() any {
	switch {
	case k.text != "":
		return []any{k.name, k.text}
	case k.number == 0:
		return k.name
	}
	return []any{k.name, k.number}
}

// A storage plays the phone's IndexedDB: stores of rows, changed by transactions.
type storage map[string]map[key]any // a row is a text, a number in "numbers", a takenRow in "taken"

func newStorage() storage {
	s := storage{}
	for _, name := range []string{"meta", "jobs", "numbers", "records", "snapshots", "pending", "strays", "photos", "small", "sending", "taken"} {
		s[name] = map[key]any{}
	}
	return s
}

func (s storage) keys(store string) []key {
	return slices.SortedFunc(maps.Keys(s[store]), func(a, b key) int {
		return cmp.Or(cmp.Compare(a.name, b.name), cmp.Compare(a.number, b.number), cmp.Compare(a.text, b.text))
	})
}

func (s storage) text(store string, k key) string {
	text, _ := s[store][k].(string)
	return text
}

// seen is what a write goes by, as it is before any of its transaction is made.
func (s storage) seen(w engine.Write) (row any, there bool) {
	store, k := w.In, w.Key
	switch w.Op {
	case "add", "swap", "rise":
	case "free":
		store = "sending"
	case "owe":
		store = "photos"
	case "keep":
		store, k = "taken", w.Value
	default:
		return nil, false
	}
	row, there = s[store][keyOf(k)]
	return row, there
}

// apply makes all writes or none, as store.js does.
func (s storage) apply(writes []engine.Write) (err error) {
	var undo []func()
	defer func() {
		if err != nil {
			for _, back := range slices.Backward(undo) {
				back()
			}
		}
	}()
	set := func(store string, k key, value any) {
		was, there := s[store][k]
		undo = append(undo, func() {
			if there {
				s[store][k] = was
			} else {
				delete(s[store], k)
			}
		})
		if value == nil {
			delete(s[store], k)
		} else {
			s[store][k] = value
		}
	}
	type sight struct {
		row   any
		there bool
	}
	before := make([]sight, len(writes))
	for i, w := range writes {
		if s[w.In] == nil {
			return fmt.Errorf("no such store: %s", w.In)
		}
		before[i].row, before[i].there = s.seen(w)
	}
	for i, w := range writes {
		was := before[i]
		switch w.Op {
		case "put":
			set(w.In, keyOf(w.Key), w.Value.(string))
		case "delete":
			set(w.In, keyOf(w.Key), nil)
		case "free":
			if !was.there {
				set(w.In, keyOf(w.Key), nil)
			}
		case "owe":
			if was.there {
				set(w.In, keyOf(w.Key), "")
			}
		case "clear":
			for _, k := range s.keys(w.In) {
				if k.name == w.Key && k.number != 0 {
					set(w.In, k, nil)
				}
			}
		case "add":
			switch {
			case !was.there:
				set(w.In, keyOf(w.Key), w.Value)
			case was.row == w.Value:
				return nil // an attempt whose answer was lost had succeeded
			default:
				return errOutrun
			}
		case "swap":
			if there, _ := was.row.(string); there != w.Was && there != w.Value {
				return errOutrun
			}
			set(w.In, keyOf(w.Key), w.Value)
		case "rise":
			if last, ok := was.row.(float64); ok && last >= w.Value.(float64) {
				return errOutrun
			}
			set(w.In, keyOf(w.Key), w.Value)
		case "keep":
			row, ok := was.row.(takenRow)
			if !ok {
				return errors.New("a photo is no longer there")
			}
			set("photos", keyOf(w.Key), row.whole)
			set("small", keyOf(w.Key), row.small)
			set("sending", keyOf(w.Key), "")
			set("taken", keyOf(w.Value), nil)
		default:
			return fmt.Errorf("no such write: %s", w.Op)
		}
	}
	return nil
}

// waiting has what did not get into a log: the keys of all entries not sent, and the
// strays; and the keys of photos.
func (s storage) waiting() map[string]any {
	pending, strays := []any{}, []string{}
	for _, k := range s.keys("pending") {
		pending = append(pending, k.wire())
	}
	for _, k := range s.keys("strays") {
		strays = append(strays, s.text("strays", k))
	}
	return map[string]any{"pending": pending, "strays": strays, "photos": s.photoKeys()}
}

// started is what an engine starts from.
func (s storage) started() map[string]any {
	started := s.waiting()
	jobs := map[string]string{}
	for _, k := range s.keys("jobs") {
		jobs[k.name] = s.text("jobs", k)
	}
	started["device"], started["jobs"] = s.text("meta", key{name: "device"}), jobs
	started["persistent"], started["secure"], started["version"] = true, true, "simulated"
	return started
}

// A loaded job: its line, last number, snapshot, records in order, entries not sent.
type loaded struct {
	line    string
	shot    string
	number  float64
	records []string
	pending []any
	small   []string
}

func (s storage) job(id string) loaded {
	l := loaded{line: s.text("jobs", key{name: id}), shot: s.text("snapshots", key{name: id}), pending: []any{}}
	l.number, _ = s["numbers"][key{name: id}].(float64)
	for _, k := range s.keys("records") {
		if k.name == id {
			l.records = append(l.records, s.text("records", k))
		}
	}
	for _, k := range s.keys("pending") {
		if k.name == id {
			l.pending = append(l.pending, map[string]any{"key": k.wire(), "text": s.text("pending", k)})
		}
	}
	for _, k := range s.keys("small") {
		if k.name == id {
			l.small = append(l.small, k.text)
		}
	}
	return l
}

// device is the stored device's id, "" on a new phone.
func (s storage) device() string {
	var d struct {
		ID string `json:"id"`
	}
	_ = json.Unmarshal([]byte(s.text("meta", key{name: "device"})), &d) // none is none
	return d.ID
}

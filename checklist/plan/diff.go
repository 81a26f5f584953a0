package plan

import (
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"

	"hangtrue/compute/tape"
)

// A Change is one thing that differs between two revisions of a plan, in words for whoever hangs the loudspeakers.
// Subject is the part ("mount M+090", "bracket Wall bracket", "room"), What the quantity in it, From and To its values as
// shown in the newer plan's units, and By how much more or less a single length is. From or To is empty for what was
// added or removed; What is empty where that is the whole part.
type Change struct {
	Subject, What, From, To, By string
}

// String is the change as one sentence.
func (c Change) String() string {
	subject := c.Subject
	if c.What != "" {
		subject += ", " + c.What
	}
	switch {
	case c.What == "" && c.From == "":
		return subject + ": added"
	case c.What == "" && c.To == "":
		return subject + ": removed"
	case c.From == "":
		return subject + ": now " + c.To
	case c.To == "":
		return subject + ": no longer " + c.From
	}
	if c.By != "" {
		return subject + ": " + c.From + " becomes " + c.To + " (" + c.By + ")"
	}
	return subject + ": " + c.From + " becomes " + c.To
}

// Diff lists what changed from plan a to plan b, in the order of the document. Parts with a name or a channel are
// compared by it, wherever they stand in their list; everything else by its place. Lengths are compared in whole
// micrometres and angles in whole millionths of a degree, as documents hold them.
func Diff(a, b *Plan) []Change {
	d := differ{system: b.Units.System()}
	d.object("plan", "", reflect.ValueOf(*a), reflect.ValueOf(*b))
	return d.changes
}

type differ struct {
	system  tape.System
	changes []Change
}

// subjects are the parts of a plan that are spoken of by themselves; every other key is a quantity of its part.
var subjects = map[string]string{
	"room": "room", "survey": "survey", "readings": "survey reading", "shapes": "shape", "surfaces": "surface", "listening_positions": "listening position", "loudspeakers": "loudspeaker", "brackets": "bracket",
	"fixings": "fixing", "cables": "cable", "processor": "processor", "amplifiers": "amplifier", "rack": "rack", "sound": "sound", "instruments": "instrument",
	"tolerances": "tolerances", "mounts": "mount",
}

// words are the keys that do not read as words by themselves.
var words = map[string]string{
	"Mount.along_m": "hole along from the datum corner", "Mount.up_m": "hole up from the datum edge", "values_m": "read",
	"Shape.along_m": "along from the left corner of its wall", "Shape.up_m": "up from the floor", "off_m": "off its wall", "knee_m": "height at the wall", "Shape.reach_m": "reach into the room",
	"ear_m": "ear point", "ear_u_m": "uncertainty of the ear point",
	"route_m": "cable route", "stand_m": "height of the acoustic centre over its spot", "in_wall_marking": "marking for use in walls",
	"holes_m": "holes", "origin_m": "origin", "outline_m": "outline", "found_m": "members found on site", "first_m": "first member", "width_m": "width",
	"depth_m": "depth", "spacing_m": "spacing", "place_m": "place", "plate_m": "plate thickness", "aim_at": "aimed at", "off_angle_reason": "reason for being off its angle",
	"openings": "opening", "keep_outs": "keep-out", "driver_bridges": "driver bridge", "pilot_m": "pilot hole", "inlet_c": "inlet air", "mark_m": "mark", "power_w": "power", "heat_w": "heat", "mains_w": "mains power",
	"centre_of_mass_out_m": "centre of mass from the pivot", "across": "members run across", "continuous_load_rule": "rule for continuous load",
}

// unitTexts are what the ends of keys say about plain numbers.
var unitTexts = []struct{ suffix, text string }{
	{"_kg", " kg"}, {"_ohm", " Ω"}, {"_w", " W"}, {"_db", " dB"}, {"_percent", " %"}, {"_m3_h", " m³/h"}, {"_a", " A"}, {"_v", " V"}, {"_n", " N"}, {"_hz", " Hz"}, {"_c", " °C"}, {"_k", " K"},
}

// wordsOf is what a key of a type is called; a key that means something else in one type stands with its name.
func wordsOf(of, key string) string {
	if w, ok := words[of+"."+key]; ok {
		return w
	}
	if w, ok := words[key]; ok {
		return w
	}
	key = strings.TrimSuffix(strings.TrimSuffix(key, "_m"), "_deg")
	for _, u := range unitTexts {
		key = strings.TrimSuffix(key, u.suffix)
	}
	return strings.ReplaceAll(key, "_", " ")
}

func (d *differ) add(c Change) { d.changes = append(d.changes, c) }

func (d *differ) object(subject, what string, a, b reflect.Value) {
	for i := range a.NumField() {
		key, _, _ := strings.Cut(a.Type().Field(i).Tag.Get("json"), ",")
		s, w := subject, strings.TrimPrefix(what+", "+wordsOf(a.Type().Name(), key), ", ")
		if part, ok := subjects[key]; ok && a.Field(i).Kind() != reflect.String {
			s, w = part, ""
		}
		d.value(s, w, key, a.Field(i), b.Field(i))
	}
}

func (d *differ) value(subject, what, key string, a, b reflect.Value) {
	switch {
	case a.Kind() == reflect.Pointer && !a.IsNil() && !b.IsNil():
		d.value(subject, what, key, a.Elem(), b.Elem())
	case a.Kind() == reflect.Struct:
		d.object(subject, what, a, b)
	case a.Kind() == reflect.Slice && a.Type().Elem().Kind() == reflect.Struct:
		d.list(subject, what, a, b)
	default:
		if from, to := d.show(key, a), d.show(key, b); from != to || d.exact(key, a) != d.exact(key, b) {
			if from == to { // smaller than what a tape shows
				from, to = d.exact(key, a), d.exact(key, b)
			}
			c := Change{Subject: subject, What: what, From: from, To: to}
			if strings.HasSuffix(key, "_m") && a.Kind() == reflect.Float64 {
				c.By = d.by(b.Float() - a.Float())
			}
			d.add(c)
		}
	}
}

// by says how far a length moved, empty where no tape would show it.
func (d *differ) by(delta float64) string {
	if math.Abs(delta) < d.system.Division()/2 {
		return ""
	}
	if delta < 0 {
		return tape.FormatSmall(-delta, d.system) + " less"
	}
	return tape.FormatSmall(delta, d.system) + " more"
}

// list compares two lists of named parts.
func (d *differ) list(subject, what string, a, b reflect.Value) {
	label := func(name string) (string, string) {
		if what == "" {
			return subject + " " + name, ""
		}
		return subject, what + " " + strconv.Quote(name)
	}
	whole := func(name, from, to string) {
		s, w := label(name)
		d.add(Change{Subject: strings.TrimSuffix(s+", "+w, ", "), From: from, To: to})
	}
	before := byName(a)
	for i := range b.Len() {
		name := nameOf(b.Index(i))
		old, ok := before[name]
		if !ok {
			whole(name, "", name)
			continue
		}
		delete(before, name)
		s, w := label(name)
		d.object(s, w, old, b.Index(i))
	}
	for i := range a.Len() {
		name := nameOf(a.Index(i))
		if _, left := before[name]; left {
			whole(name, name, "")
		}
	}
}

func byName(list reflect.Value) map[string]reflect.Value {
	m := make(map[string]reflect.Value, list.Len())
	for i := range list.Len() {
		m[nameOf(list.Index(i))] = list.Index(i)
	}
	return m
}

// nameOf is the first field, which names every part of a plan that stands in a list.
func nameOf(v reflect.Value) string { return v.Field(0).String() }

// show writes a value as the newer plan's units have it; "" for what is left out.
func (d *differ) show(key string, v reflect.Value) string {
	return d.text(key, v, func(length float64) string { return tape.Format(length, d.system) })
}

// exact writes a value as finely as documents hold it.
func (d *differ) exact(key string, v reflect.Value) string {
	return d.text(key, v, func(length float64) string { return fmt.Sprintf("%.6f m", math.Round(length*1e6)/1e6) })
}

func (d *differ) text(key string, v reflect.Value, length func(float64) string) string {
	switch v.Kind() {
	case reflect.Pointer:
		if v.IsNil() {
			return ""
		}
		return d.text(key, v.Elem(), length)
	case reflect.Struct:
		var parts []string
		for i := range v.NumField() {
			k, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ",")
			parts = append(parts, wordsOf(v.Type().Name(), k)+" "+d.text(k, v.Field(i), length))
		}
		return strings.Join(parts, ", ")
	case reflect.Slice, reflect.Array:
		var parts []string
		for i := range v.Len() {
			parts = append(parts, d.text(key, v.Index(i), length))
		}
		if v.Type().Elem().Kind() == reflect.Float64 && v.Len() > 0 {
			return "(" + strings.Join(parts, ", ") + ")"
		}
		return strings.Join(parts, " ")
	case reflect.Float64:
		switch x := v.Float(); {
		case strings.HasSuffix(key, "_m"):
			return length(x)
		case strings.HasSuffix(key, "_deg"):
			return strconv.FormatFloat(math.Round(x*(180/math.Pi)*1e6)/1e6, 'f', -1, 64) + "°"
		default:
			return number(key, x)
		}
	case reflect.Bool:
		return map[bool]string{true: "yes", false: "no"}[v.Bool()]
	case reflect.Int:
		return strconv.FormatInt(v.Int(), 10)
	}
	if v.String() == "" {
		return ""
	}
	return strconv.Quote(v.String())
}

func number(key string, x float64) string {
	text := strconv.FormatFloat(x, 'f', -1, 64)
	for _, u := range unitTexts {
		if strings.HasSuffix(key, u.suffix) {
			return text + u.text
		}
	}
	return text
}

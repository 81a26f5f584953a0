package checklist

import (
	_ "embed"
	"fmt"
	"slices"
	"strings"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/strict"
)

// A Template is a list of steps. It is data: another trade's list needs another
// file and, where its checks are new, functions in package judge.
type Template struct {
	Name     string             `json:"name"`
	Version  int                `json:"version"` // the edition of the list, counted from 1
	Cautions map[string]Caution `json:"cautions"`
	Steps    []*Step            `json:"steps"`

	byID   map[string]*Step
	digest string // of the document
}

// A Scope is what a step is done for.
type Scope string

const (
	PerJob   Scope = "job"
	PerMount Scope = "mount"
)

// A Step of the job, in the order of the template.
type Step struct {
	ID    string `json:"id"`
	Scope Scope  `json:"scope"`
	Title string `json:"title"`
	Do    string `json:"do"` // what to do, for the person doing it
	// Photo says what a photo should show at this step, where one is worth most. Every
	// recorded step takes photos.
	Photo string `json:"photo,omitempty"`

	// Hung keeps the step to mounts that hang on a bracket.
	Hung bool `json:"hung,omitempty"`
	// Kind is the entry that completes the step; StepRecorded if empty.
	Kind Kind `json:"kind,omitempty"`
	// Role is who may complete it; an installer's steps are a lead's too.
	Role Role `json:"role"`

	Fields   []Field  `json:"fields,omitempty"`
	Cautions []string `json:"cautions,omitempty"` // shown
	Confirm  []string `json:"confirm,omitempty"`  // of these, the ones the person must confirm

	// After names the steps that must be done or conceded before this one may be
	// recorded: its hold points. A mount's step named by a job's step means that
	// step on every mount.
	After []string `json:"after,omitempty"`
	// Needs names the kinds of part that have to be on hand for it; see [Stock].
	Needs []string `json:"needs,omitempty"`
	// RestsOn names the steps whose evidence this one used. When that evidence
	// changes, this step is stale.
	RestsOn []string `json:"rests_on,omitempty"`
	// Inputs names the parts of the plan this step used (see inputs.go). When one
	// of them changes with a revision, this step is stale.
	Inputs []string `json:"inputs,omitempty"`
	// Checks names the functions that judge what was recorded.
	Checks []string `json:"checks,omitempty"`
}

// A Field is one thing to record.
type Field struct {
	ID       string   `json:"id"`
	Label    string   `json:"label"`
	Help     string   `json:"help,omitempty"`
	Quantity Quantity `json:"quantity"`
	Optional bool     `json:"optional,omitempty"`
	Repeat   bool     `json:"repeat,omitempty"` // repeat readings may be given
	Each     bool     `json:"each,omitempty"`   // once for each mount, at a step of the job
	Least    int64    `json:"least,omitempty"`
	Most     int64    `json:"most,omitempty"`
	Options  []Option `json:"options,omitempty"` // of a choice
	From     string   `json:"from,omitempty"`    // of a choice whose options the plan lists
}

// An Option of a choice.
type Option struct {
	ID    string `json:"id"`
	Label string `json:"label"`
}

// A Quantity is what a field holds; it fixes the whole-number unit it is kept in.
type Quantity string

const (
	Length      Quantity = "length"      // micrometres
	Angle       Quantity = "angle"       // millidegrees
	Impedance   Quantity = "impedance"   // milliohms
	Current     Quantity = "current"     // milliamperes
	Temperature Quantity = "temperature" // millidegrees Celsius
	Level       Quantity = "level"       // millidecibels
	Count       Quantity = "count"
	Choice      Quantity = "choice" // one of the field's options
	Text        Quantity = "text"
)

var suffixes = map[Quantity]string{
	Length: "_um", Angle: "_mdeg", Impedance: "_mohm", Current: "_ma",
	Temperature: "_mc", Level: "_mdb", Count: "",
}

// Measured tells whether the quantity is a number.
func (q Quantity) Measured() bool { _, ok := suffixes[q]; return ok }

// Key is the field's key in [Recording.Measured] or [Recording.Chosen]; channel
// is only used by a field that is asked for each mount.
func (f Field) Key(channel string) string {
	key := f.ID + suffixes[f.Quantity]
	if f.Each {
		key += "/" + channel
	}
	return key
}

// A Caution is shown at a step where the work can hurt someone.
type Caution struct {
	Text   string `json:"text"`
	Source string `json:"source"` // where the advice comes from, with its trust mark
}

//go:embed steps.json
var stepsJSON []byte

// Loudspeakers is the template for hanging and wiring a loudspeaker system.
var Loudspeakers = mustTemplate(stepsJSON)

func mustTemplate(data []byte) *Template {
	t, err := ParseTemplate(data)
	if err != nil {
		panic(err)
	}
	return t
}

// ParseTemplate reads a template and holds it to its own rules: steps are unique,
// each rests on and comes after steps before it only, so that no hold point can
// wait for itself, and every caution named exists.
func ParseTemplate(data []byte) (*Template, error) {
	var t Template
	if err := strict.Decode(data, &t).Err(); err != nil {
		return nil, fmt.Errorf("checklist: template: %w", err)
	}
	t.digest = sumOf([]string{string(data)})
	if t.Version < 1 {
		return nil, fmt.Errorf("checklist: template: /version is %d, wanted 1 or more", t.Version)
	}
	t.byID = make(map[string]*Step, len(t.Steps))
	for i, s := range t.Steps {
		at := fmt.Sprintf("checklist: template: /steps/%d (%s)", i, s.ID)
		if s.ID == "" || t.byID[s.ID] != nil {
			return nil, fmt.Errorf("%s: wanted an id of its own", at)
		}
		if s.Scope != PerJob && s.Scope != PerMount {
			return nil, fmt.Errorf("%s: scope is %q, wanted job or mount", at, s.Scope)
		}
		if s.Kind == "" {
			s.Kind = StepRecorded
		}
		for _, id := range slices.Concat(s.After, s.RestsOn) {
			earlier := t.byID[id]
			if earlier == nil {
				return nil, fmt.Errorf("%s: %q is not a step before this one", at, id)
			}
		}
		for _, id := range s.Cautions {
			if _, ok := t.Cautions[id]; !ok {
				return nil, fmt.Errorf("%s: no caution %q", at, id)
			}
		}
		for _, id := range s.Confirm {
			if !slices.Contains(s.Cautions, id) {
				return nil, fmt.Errorf("%s: %q is to be confirmed but not shown", at, id)
			}
		}
		for _, kind := range s.Needs {
			if stockKinds[kind] == nil || s.Scope != PerMount {
				return nil, fmt.Errorf("%s: no mount needs a %q", at, kind)
			}
		}
		for _, name := range s.Checks {
			if !judge.Known(name) {
				return nil, fmt.Errorf("%s: no check %q", at, name)
			}
		}
		for _, name := range s.Inputs {
			if inputs[name] == nil {
				return nil, fmt.Errorf("%s: no plan input %q", at, name)
			}
		}
		fields := map[string]bool{}
		for _, f := range s.Fields {
			if !f.Quantity.Measured() && f.Quantity != Choice && f.Quantity != Text {
				return nil, fmt.Errorf("%s: field %s has no quantity %q", at, f.ID, f.Quantity)
			}
			if f.ID == "" || strings.ContainsAny(f.ID, "/ ") || fields[f.ID] {
				return nil, fmt.Errorf("%s: field %q: wanted an id of its own without / or space", at, f.ID)
			}
			fields[f.ID] = true
		}
		t.byID[s.ID] = s
	}
	return &t, nil
}

// Digest tells the template's document from others by chance.
func (t *Template) Digest() string { return t.digest }

// Step gives the step with this id, or nil.
func (t *Template) Step(id string) *Step { return t.byID[id] }

// Field gives the step's field with this id.
func (s *Step) Field(id string) (Field, bool) {
	for _, f := range s.Fields {
		if f.ID == id {
			return f, true
		}
	}
	return Field{}, false
}

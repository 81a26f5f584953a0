package plan

import (
	"fmt"
	"slices"
	"strings"

	"hangtrue/checklist/strict"
	"hangtrue/compute/gauge"
)

// A Survey is what was read in the room, kept beside the box that was made of it.
type Survey struct {
	Remark   string    `json:"remark,omitempty"`
	Readings []Reading `json:"readings"`
}

// A Reading is one quantity of the room as the instrument showed it, metres; several
// values are repeat readings. Name is one of [ReadingNames], whose meaning is
// published by [Reading.Meaning], and then Kind is left out; or a name of the plan's
// own, and Kind says what was read there.
type Reading struct {
	Name       string    `json:"name"`
	Kind       string    `json:"kind,omitempty"`
	Values     []float64 `json:"values_m"`
	Instrument string    `json:"instrument"`
	Remark     string    `json:"remark,omitempty"`
}

// Names of the readings that a box room closes by. Corners are named as seen by
// someone facing the front.
const (
	WidthFront         = "width front"
	WidthRear          = "width rear"
	LengthLeft         = "length left"
	LengthRight        = "length right"
	DiagonalFrontLeft  = "diagonal front left"
	DiagonalFrontRight = "diagonal front right"
	HeightFrontLeft    = "height front left"
	HeightFrontRight   = "height front right"
	HeightRearRight    = "height rear right"
	HeightRearLeft     = "height rear left"
)

// ReadingNames are the names with a published meaning, in the order in which a
// person goes round the room.
var ReadingNames = []string{
	WidthFront, WidthRear, LengthLeft, LengthRight, DiagonalFrontLeft, DiagonalFrontRight,
	HeightFrontLeft, HeightFrontRight, HeightRearRight, HeightRearLeft,
}

// Kinds of reading under a name of the plan's own.
const (
	HeightReading = "height" // from the finished floor up to the flat ceiling, at the named place
	OtherReading  = "other"  // whatever the name says; nothing is worked out of it
)

// meanings are what each reading is, and from where to where it goes.
var meanings = map[string]struct{ title, way string }{
	WidthFront:         {"Width at the front wall", "from the left wall to the right wall, along the skirting of the front wall"},
	WidthRear:          {"Width at the rear wall", "from the left wall to the right wall, along the skirting of the rear wall"},
	LengthLeft:         {"Length at the left wall", "from the rear wall to the front wall, along the skirting of the left wall"},
	LengthRight:        {"Length at the right wall", "from the rear wall to the front wall, along the skirting of the right wall"},
	DiagonalFrontLeft:  {"Diagonal from the front left", "from the front left corner to the rear right corner, on the floor"},
	DiagonalFrontRight: {"Diagonal from the front right", "from the front right corner to the rear left corner, on the floor"},
	HeightFrontLeft:    {"Height at the front left", cornerWay},
	HeightFrontRight:   {"Height at the front right", cornerWay},
	HeightRearRight:    {"Height at the rear right", cornerWay},
	HeightRearLeft:     {"Height at the rear left", cornerWay},
}

const cornerWay = "in the corner, from the finished floor straight up to the ceiling, be it flat or a slope"

// Title is what a reading is, in a few plain words: "Width at the front wall".
func (r Reading) Title() string {
	switch m, ok := meanings[r.Name]; {
	case ok:
		return m.title
	case r.Kind == HeightReading:
		return "Height at " + r.Name
	}
	return r.Name
}

// Meaning says in plain words what a reading is and from where to where it goes, without a full stop. Of a reading
// whose kind is "other" nothing is known but its name.
func (r Reading) Meaning() string {
	switch m, ok := meanings[r.Name]; {
	case ok:
		return m.title + ": " + m.way
	case r.Kind == HeightReading:
		return r.Title() + ": from the finished floor straight up to the flat ceiling"
	}
	return r.Name
}

// Published tells whether a name is one of [ReadingNames].
func Published(name string) bool { return slices.Contains(ReadingNames, name) }

// Reading finds a reading of the survey, nil if there is none of that name or no survey.
func (p *Plan) Reading(name string) *Reading {
	if p.Survey == nil {
		return nil
	}
	return find(p.Survey.Readings, name)
}

// Measured is what a reading's mean is worth, by the instrument it was read with. It
// is [ErrUnknown] for an instrument the plan does not have; other errors are those
// of [Instrument.Worth].
func (p *Plan) Measured(r Reading) (gauge.Measured, error) {
	i := p.Instrument(r.Instrument)
	if i == nil {
		return gauge.Measured{}, fmt.Errorf("%w: instrument %q", ErrUnknown, r.Instrument)
	}
	return i.Worth(r.Values, false)
}

// longest bounds a reading, metres: the diagonal of the largest room there can be, rounded up.
const longest = 1.5 * MaxSide

// survey checks each reading by itself. Whether they agree with each other and with the box is judged, not demanded: a
// wrong reading is for the verdict, not for the reader.
func (c *checker) survey() {
	s := c.p.Survey
	if s == nil {
		return
	}
	c.lines("/survey/remark", s.Remark, MaxRemark)
	each(c, "/survey/readings", "name", 1, MaxItems, s.Readings, func(at string, r *Reading) {
		switch {
		case Published(r.Name) && r.Kind != "":
			c.add(at+"/kind", strict.Quote(r.Kind), "none: it is published what "+strict.Quote(r.Name)+" is")
		case !Published(r.Name) && r.Kind == "":
			c.add(at+"/kind", "nothing", "one of "+HeightReading+", "+OtherReading+"; or for the name one of "+strings.Join(ReadingNames, ", "))
		case !Published(r.Name):
			c.oneOf(at+"/kind", r.Kind, HeightReading, OtherReading)
		}
		c.readings(at+"/values_m", r.Values, 1)
		for j, x := range r.Values {
			if !(0 < x && x <= longest) {
				c.add(strict.Pointer(at, "values_m", j), plainNumber(x), "metres above 0 and up to "+plainNumber(longest))
			}
		}
		c.lines(at+"/remark", r.Remark, MaxRemark)
	})
}

// surveyed checks that each reading was taken with an instrument of the plan that measures lengths.
func (c *checker) surveyed() {
	if c.p.Survey == nil {
		return
	}
	for i, r := range c.p.Survey.Readings {
		c.instrument(strict.Pointer("/survey/readings", i, "instrument"), r.Instrument, true, Tape, Laser)
	}
}

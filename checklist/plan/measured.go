package plan

import (
	"fmt"

	"hangtrue/checklist/strict"
)

// MeasuredFormat is the only format of measured files this package reads and writes.
const MeasuredFormat = "hangtrue-measured/1"

// MaxReadings bounds the repeat readings of one quantity: nobody reads a tape more often.
const MaxReadings = 50

// Measured is what was read on site, without judgement: several numbers are repeat readings of one quantity. Lengths are
// metres, angles radians; the document's keys carry the unit as those of a [Plan] do.
type Measured struct {
	Format string          `json:"format"`
	Plan   string          `json:"plan,omitempty"` // the plan's title, when the file is meant for one plan alone
	Remark string          `json:"remark,omitempty"`
	Mounts []MeasuredMount `json:"mounts"`
}

// A MeasuredMount is one channel as built: the reference hole's tape coordinates, the height of the acoustic centre
// above the floor, the straight distance from the primary ear point to it, and how far the cabinet's axis points up
// (negative: down). The instruments are named as in the plan: Tape for along, up and height, Laser for the distance,
// Level for the tilt; each length may have been read with a tape or a laser.
type MeasuredMount struct {
	Channel  string    `json:"channel"`
	Along    []float64 `json:"along_m"`
	Up       []float64 `json:"up_m"`
	Height   []float64 `json:"height_m,omitempty"`
	Distance []float64 `json:"distance_m,omitempty"`
	Tilt     []float64 `json:"tilt_deg,omitempty"`
	Tape     string    `json:"tape"`
	Laser    string    `json:"laser,omitempty"`
	Level    string    `json:"level,omitempty"`
}

// DecodeMeasured reads a measured file for a plan, as strictly as [Decode] reads a plan; the error is a
// [strict.Problems]. It does not compare numbers with the plan: a wrong reading is for the verdict, not for the reader.
func DecodeMeasured(data []byte, p *Plan) (*Measured, error) {
	m := new(Measured)
	form := strict.Decode(data, m)
	c := checker{p: p, form: form, problems: form}
	c.measured(m)
	if c.problems.Err() != nil {
		c.problems.Sort(data)
		return nil, c.problems
	}
	return m, nil
}

// Encode writes the file as [DecodeMeasured] reads it, in a stable form; it does not check it.
func (m *Measured) Encode() ([]byte, error) { return strict.Encode(m) }

// MountByChannel finds what was measured at a channel, nil if nothing was.
func (m *Measured) MountByChannel(channel string) *MeasuredMount {
	return find(m.Mounts, channel)
}

func (c *checker) measured(m *Measured) {
	c.oneOf("/format", m.Format, MeasuredFormat)
	c.lines("/remark", m.Remark, MaxRemark)
	if m.Plan != "" {
		c.oneOf("/plan", m.Plan, c.p.Title)
	}
	each(c, "/mounts", "channel", 1, MaxMounts, m.Mounts, func(at string, x *MeasuredMount) {
		known(c, at+"/channel", x.Channel, c.p.Mounts)
		c.readings(at+"/along_m", x.Along, 1)
		c.readings(at+"/up_m", x.Up, 1)
		c.readings(at+"/height_m", x.Height, 0)
		c.readings(at+"/distance_m", x.Distance, 0)
		c.readings(at+"/tilt_deg", x.Tilt, 0)
		for j, d := range x.Distance {
			c.above(strict.Pointer(at, "distance_m", j), d, 0)
		}
		c.instrument(at+"/tape", x.Tape, true, Tape, Laser)
		c.instrument(at+"/laser", x.Laser, len(x.Distance) > 0, Laser, Tape)
		c.instrument(at+"/level", x.Level, len(x.Tilt) > 0, Level, PhoneLevel)
	})
}

func (c *checker) readings(at string, list []float64, least int) {
	if len(list) < least || len(list) > MaxReadings {
		c.add(at, fmt.Sprintf("%d readings", len(list)), fmt.Sprintf("%d to %d readings", least, MaxReadings))
	}
}

// instrument wants a named instrument of one of the kinds, or none where nothing was read with it.
func (c *checker) instrument(at, name string, used bool, kinds ...string) {
	if name == "" {
		if used {
			c.add(at, "nothing", "the instrument that was read")
		}
		return
	}
	n := c.p.Instrument(name)
	if n == nil {
		c.add(at, strict.Quote(name), "one of "+quoted(namesOf(c.p.Instruments)))
		return
	}
	c.oneOf(at, n.Kind, kinds...)
}

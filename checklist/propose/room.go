package propose

import (
	"math"
	"slices"

	"hangtrue/checklist/plan"
	"hangtrue/compute/place"
)

// style is how a loudspeaker looks from the seat: a pair wants one.
type style int

const (
	onWall style = iota
	overhead
	onFloor
)

// side is a surface of the room and what matters about it here.
type side struct {
	*place.Surface
	style style
	// construction is the plan's word for what is behind, empty where it says nothing.
	construction string
	title        string // "the left wall"
	up           string // what the second coordinate is called: "up" or "out"
}

// steepest tells walls from ceilings and floors: a surface that leans less than 60° from plumb is a wall. A slope as
// flat as that hangs over people's heads.
const steepest = 0.5

// flat is the least rise of a normal on which something can stand, as a plan's own rule has it: about 25°.
const flat = 0.9

func sidesOf(p *plan.Plan, surfaces []place.Surface) []side {
	all := make([]side, len(surfaces))
	for i := range surfaces {
		s := side{Surface: &surfaces[i], title: "the " + surfaces[i].Name, up: "out"}
		if s.Rises() {
			s.up = "up"
		}
		up := s.Normal().Z
		switch {
		case up >= flat:
			s.style = onFloor
		case up < -steepest:
			s.style = overhead
		}
		if p.Room.Box != nil && slices.Contains([]string{"front", "right", "rear", "left"}, s.Name) {
			s.title += " wall"
		}
		for k := range p.Room.Surfaces {
			if p.Room.Surfaces[k].Name == s.Name {
				s.construction = p.Room.Surfaces[k].Construction.Kind
			}
		}
		all[i] = s
	}
	return all
}

// doorway is the room that a door needs.
type doorway struct {
	name string
	body place.Solid
}

const (
	// threshold is how far above the floor (metres) an opening may begin and still be walked through.
	threshold = 0.1
	// leaf is the most room (metres) kept in front of a doorway. A wide opening has two leaves or slides.
	leaf = 1.0
)

// doorwaysOf are the openings of the walls that reach the floor, with the room a leaf as wide as they are needs to turn
// either way. Common practice, no source.
func doorwaysOf(sides []side) []doorway {
	var all []doorway
	for i := range sides {
		s := &sides[i]
		if s.style != onWall {
			continue
		}
		for _, a := range s.Openings {
			low := s.At(a.Min)
			if low.Z > threshold {
				continue
			}
			middle := s.At(place.Spot{Along: (a.Min.Along + a.Max.Along) / 2, Up: (a.Min.Up + a.Max.Up) / 2})
			width := a.Max.Along - a.Min.Along
			all = append(all, doorway{a.Name, place.Solid{
				Middle: middle, Axes: [3]place.Vec{s.Along, s.Up, s.Normal()},
				Half: [3]float64{width / 2, (a.Max.Up - a.Min.Up) / 2, math.Min(width, leaf)},
			}})
		}
	}
	return all
}

// inDoorway is the door in whose way a cabinet is.
func (s *search) inDoorway(box place.Solid) (name string, in bool) {
	for _, d := range s.doorways {
		if box.Overlaps(d.body) {
			return d.name, true
		}
	}
	return "", false
}

// body is the box of a cabinet as it hangs or stands. The plan does not say where on the cabinet the pivot is: the box is
// taken about the centre of mass. What stands is upright about its acoustic centre, turned to the listener, or a subwoofer
// square to the way the listener faces.
func (s *search) body(model *plan.Model, pose place.Pose, standing bool) place.Solid {
	half := [3]float64{model.Size.Depth / 2, model.Size.Width / 2, model.Size.Height / 2}
	if !standing {
		return place.Solid{Middle: pose.Pivot.Add(pose.Axis.Scale(model.CentreOut)), Axes: [3]place.Vec{pose.Axis, pose.Right, pose.Up}, Half: half}
	}
	heading := pose.Heading
	if model.Kind == plan.Subwoofer {
		heading = s.listener.Facing
	}
	ahead, up := place.Vec{X: -math.Sin(heading), Y: math.Cos(heading)}, place.Vec{Z: 1}
	return place.Solid{Middle: pose.Centre, Axes: [3]place.Vec{ahead, ahead.Cross(up), up}, Half: half}
}

package plan

import (
	"slices"
	"strings"

	"hangtrue/checklist/strict"
	"hangtrue/compute/place"
)

// A shape's surfaces are those of [place.ShapedBox]: the one that is meant by it bears the shape's own name (the slope, the
// face of a breast or column, the back of an alcove), the others that name with "left cheek", "right cheek", "top", "back",
// "base" or "head" behind it. An entry of such a name under room.surfaces gives that surface's construction, lining,
// openings and keep-outs; the shape gives the frame.

// sizesOf are the sizes that each kind of shape has, by key.
var sizesOf = map[string][]string{
	Slope:  {"knee_m", "reach_m"},
	Breast: {"along_m", "width_m", "depth_m", "height_m"},
	Column: {"along_m", "off_m", "width_m", "depth_m", "height_m"},
	Alcove: {"along_m", "up_m", "width_m", "height_m", "depth_m"},
}

// ShapeSizes are the keys of the sizes that a kind of shape has, nil for an unknown kind.
func ShapeSizes(kind string) []string { return slices.Clone(sizesOf[kind]) }

// ShapeWalls are the sides of the box that a shape can belong to.
var ShapeWalls = place.Walls

// SurfaceNames are the names that the shape's surfaces can have; which of them are there depends on what else is in the room.
func (s Shape) SurfaceNames() []string { return s.place().SurfaceNames() }

func (s Shape) sizes() numbers {
	return numbers{"along_m": s.Along, "up_m": s.Up, "off_m": s.Off, "width_m": s.Width, "height_m": s.Height, "depth_m": s.Depth, "knee_m": s.Knee, "reach_m": s.Reach}
}

// place is the shape as package place sees it.
func (s Shape) place() place.Shape {
	kinds := map[string]place.ShapeKind{Slope: place.Slope, Breast: place.Block, Column: place.Block, Alcove: place.Alcove}
	return place.Shape{Kind: kinds[s.Kind], Name: s.Name, Wall: s.Wall, Along: s.Along, Off: s.Off, Up: s.Up, Width: s.Width, Height: s.Height,
		Depth: s.Depth, Knee: s.Knee, Reach: s.Reach}
}

// shaped is the box of the room with its shapes; the room must have a box.
func (r *Room) shaped() place.ShapedBox {
	b := place.ShapedBox{Width: r.Box.Width, Length: r.Box.Length, Height: r.Box.Height}
	for _, s := range r.Shapes {
		b.Shapes = append(b.Shapes, s.place())
	}
	return b
}

// makes tells whether a surface of this name needs no frame: the box or a shape says where it is.
func (r *Room) makes(name string) bool {
	return r.Box != nil && (slices.Contains(boxSides, name) || slices.ContainsFunc(r.Shapes, func(s Shape) bool { return slices.Contains(s.SurfaceNames(), name) }))
}

// shapes checks each shape by itself: its kind, its wall, and that it has the sizes of its kind and no others. How large they
// may be depends on the room.
func (c *checker) shapes() {
	r := &c.p.Room
	if len(r.Shapes) > 0 && r.Box == nil && !c.form.Has("/room/box") {
		c.add("/room/shapes", "shapes without a box", "a box that they are in")
	}
	taken := map[string]string{}
	for _, side := range boxSides {
		taken[side] = "a side of the box"
	}
	each(c, "/room/shapes", "name", 0, MaxItems, r.Shapes, func(at string, s *Shape) {
		c.oneOf(at+"/kind", s.Kind, ShapeKinds...)
		c.oneOf(at+"/wall", s.Wall, ShapeWalls...)
		if !slices.Contains(ShapeKinds, s.Kind) {
			return
		}
		for key, x := range s.sizes() {
			switch has := slices.Contains(sizesOf[s.Kind], key); {
			case !has && x != 0:
				c.add(at+"/"+key, plainNumber(x), "none: "+s.article()+" has "+strings.Join(sizesOf[s.Kind], ", "))
			case has && (key == "along_m" || key == "up_m" || key == "height_m" && s.Kind != Alcove):
				c.from(at+"/"+key, x, 0)
			case has:
				c.above(at+"/"+key, x, 0)
			}
		}
		for _, name := range s.SurfaceNames() {
			if whose := taken[name]; whose != "" && !c.problems.Has(at+"/name") {
				c.add(at+"/name", strict.Quote(s.Name), "another name: it would make a surface "+strict.Quote(name)+", which is "+whose+" already")
			}
		}
		for _, name := range s.SurfaceNames() {
			if taken[name] == "" {
				taken[name] = "one of shape " + strict.Quote(s.Name)
			}
		}
	})
}

func (s Shape) article() string {
	if s.Kind == Alcove {
		return "an " + s.Kind
	}
	return "a " + s.Kind
}

// shapesFit checks the shapes against the room and each other; it is false where one does not fit, and then the room has
// no surfaces to speak of.
func (c *checker) shapesFit() bool {
	r := &c.p.Room
	if r.Box == nil || len(r.Shapes) == 0 {
		return true
	}
	misfits := r.shaped().Misfits()
	for _, m := range misfits {
		at := strict.Pointer("/room/shapes", m.Shape)
		if c.problems.Has(at) {
			continue // of an unfinished plan: what is wrong with it by itself comes first
		}
		switch m.Size {
		case "":
		case "wall":
			at += "/wall"
		default:
			at += "/" + m.Size + "_m"
		}
		c.add(at, m.Read, m.Want)
	}
	return len(misfits) == 0
}

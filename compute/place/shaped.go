package place

import (
	"cmp"
	"math"
	"slices"
)

// ShapeKind is how a shape changes a box room.
type ShapeKind uint8

const (
	// Slope is a ceiling that comes down along a whole wall.
	Slope ShapeKind = iota
	// Block is what stands in the room from the floor up: a chimney breast, a pier, a column.
	Block
	// Alcove is a niche in a wall.
	Alcove
)

// Shape is a slope, a block or an alcove, by sizes that a tape can read (metres). Wall is the side it belongs to, named as
// by [Box]: front, right, rear or left; Along counts from that wall's left corner as seen from inside.
type Shape struct {
	Kind  ShapeKind
	Name  string
	Wall  string
	Along float64 // block, alcove: to its left end
	Off   float64 // block: from the wall to its back; 0 for one that stands against the wall
	Up    float64 // alcove: from the floor to its base
	Width float64 // block, alcove: along the wall
	// Height of a block above the floor, 0 for one up to the ceiling; of an alcove from its base to its head.
	Height float64
	Depth  float64 // block, alcove: square to the wall
	Knee   float64 // slope: its height above the floor at the wall
	Reach  float64 // slope: from the wall to where the ceiling is flat
}

// ShapedBox is a box with shapes in it: width along x, length along y, height along z.
//
// The surfaces of a shape bear its name and, but for the one that is meant by it, what it is of it:
//
//	slope   NAME
//	block   NAME (its face), NAME left cheek, NAME right cheek, NAME back (where it stands off the wall), NAME top (where it
//	        does not reach the ceiling)
//	alcove  NAME (its back), NAME left cheek, NAME right cheek, NAME base, NAME head
//
// Left and right are those of someone inside who faces the wall. A face, a back and a cheek have along from their left
// edge as one faces them, and up from the floor, or from an alcove's base; what lies level has along the wall's along, and
// out from the edge that is nearer to the room, or for a head from the back. A slope is measured as the ceiling that it
// continues: along from its left edge, out from its front edge, each the fold or the knee, whichever is there.
//
// A side of the box behind a block or an alcove keeps its outline and has a [Cut] there; what a slope takes away is no
// longer in the outline. The flat part of the ceiling is measured from its own front left corner, a fold where a slope
// ends there, since that is where a tape can start. A surface of which nothing is left is not listed.
type ShapedBox struct {
	Width, Length, Height float64
	Shapes                []Shape
}

// Walls are the sides of a box that a shape can belong to, in the order of [Box].
var Walls = []string{"front", "right", "rear", "left"}

// Surfaces are the sides of the box in the order of [Box] and then those of the shapes in their order, as far as they are
// there. Errors: [ErrNumber] for a size of the room, and the first [Misfit].
func (r ShapedBox) Surfaces() ([]Surface, error) {
	b, err := r.builder()
	if err != nil {
		return nil, err
	}
	all := make([]Surface, 0, len(b.raw))
	for i := range b.raw {
		if s, ok := b.surface(i); ok {
			all = append(all, s)
		}
	}
	return all, nil
}

// Surface is one surface of [ShapedBox.Surfaces] by its name, without the others. It is false where there is none.
func (r ShapedBox) Surface(name string) (Surface, bool, error) {
	b, err := r.builder()
	if err != nil {
		return Surface{}, false, err
	}
	if i := slices.IndexFunc(b.raw, func(s rawSurface) bool { return s.Name == name }); i >= 0 {
		s, ok := b.surface(i)
		return s, ok, nil
	}
	return Surface{}, false, nil
}

// SurfaceNames are all names that a shape's surfaces can have, those left out among them, since what else is in the room
// decides which are there.
func (s Shape) SurfaceNames() []string {
	switch s.Kind {
	case Slope:
		return []string{s.Name}
	case Alcove:
		return []string{s.Name, s.Name + " left cheek", s.Name + " right cheek", s.Name + " base", s.Name + " head"}
	}
	return []string{s.Name, s.Name + " left cheek", s.Name + " right cheek", s.Name + " back", s.Name + " top"}
}

// builder holds what the surfaces are made of.
type builder struct {
	raw    []rawSurface
	slopes []halfSpace
	blocks []block
	mouths []mouth
}

// rawSurface is a surface before anything is taken off it.
type rawSurface struct {
	Surface
	whole bool // a surface of an alcove: outside the box, nothing is taken off
	of    int  // the shape that it belongs to, -1 for a side of the box
}

// halfSpace is where normal·p >= limit.
type halfSpace struct {
	normal Vec
	limit  float64
	of     int // the shape that makes it
}

func (h halfSpace) at(p Vec) float64 { return h.normal.Dot(p) - h.limit }

// block is a box between two corners.
type block struct {
	low, high Vec
	of        int
}

// mouth is where an alcove opens into the room.
type mouth struct {
	wall string
	cut  Cut
}

func (r ShapedBox) builder() (*builder, error) {
	sides, err := Box(r.Width, r.Length, r.Height)
	if err != nil {
		return nil, err
	}
	if misfits := r.misfits(sides); len(misfits) > 0 {
		return nil, misfits[0]
	}
	b := &builder{raw: make([]rawSurface, 0, 6+5*len(r.Shapes))}
	for _, s := range sides {
		b.raw = append(b.raw, rawSurface{Surface: s, of: -1})
	}
	for i, s := range r.Shapes {
		switch wall := sides[slices.Index(Walls, s.Wall)]; s.Kind {
		case Slope:
			b.addSlope(i, s, r, wall)
		case Block:
			b.addBlock(i, s, r, wall)
		case Alcove:
			b.addAlcove(i, s, wall)
		}
	}
	b.raw[4].Surface = flatPart(b.raw[4].Surface, r)
	return b, nil
}

// flatPart moves the ceiling's datum corner to where a slope along the left or the front wall leaves it.
func flatPart(ceiling Surface, r ShapedBox) Surface {
	var off Spot
	for _, s := range r.Shapes {
		switch {
		case s.Kind == Slope && s.Wall == "left":
			off.Along = s.Reach
		case s.Kind == Slope && s.Wall == "front":
			off.Up = s.Reach
		}
	}
	ceiling.Origin = ceiling.At(off)
	for i := range ceiling.Outline {
		ceiling.Outline[i] = ceiling.Outline[i].minus(off)
	}
	return ceiling
}

func rectangle(name string, origin, along, up Vec, long, high float64) Surface {
	return Surface{Name: name, Origin: origin, Along: along, Up: up, Outline: []Spot{{}, {Along: long}, {long, high}, {Up: high}}}
}

var upward = Vec{Z: 1}

// halfSpace is where a slope leaves the room: under the plane through the knee of its wall and the fold in the ceiling,
//
//	Knee + (Height-Knee)·(distance from the wall)/Reach - z >= 0
func (s Shape) halfSpace(r ShapedBox, wall Surface) halfSpace {
	rise := r.Height - s.Knee
	long := math.Hypot(s.Reach, rise)
	normal := wall.Normal().Scale(rise/long).plus(-s.Reach/long, upward)
	return halfSpace{normal: normal, limit: normal.Dot(wall.Origin.plus(s.Knee, upward))}
}

// block is what a block takes of the room, were there no slopes.
func (s Shape) block(r ShapedBox, wall Surface) block {
	back := wall.At(Spot{Along: s.Along}).plus(s.Off, wall.Normal())
	far := back.plus(s.Depth, wall.Normal()).plus(s.Width, wall.Along)
	return block{
		low:  Vec{math.Min(back.X, far.X), math.Min(back.Y, far.Y), 0},
		high: Vec{math.Max(back.X, far.X), math.Max(back.Y, far.Y), cmp.Or(s.Height, r.Height)},
	}
}

// mouth is an alcove's opening on its wall, anticlockwise.
func (s Shape) mouth() []Spot {
	return Area{Min: Spot{s.Along, s.Up}, Max: Spot{s.Along + s.Width, s.Up + s.Height}}.corners()
}

// addSlope lays the slope between the knee of its wall and the fold in the ceiling.
func (b *builder) addSlope(i int, s Shape, r ShapedBox, wall Surface) {
	inward := wall.Normal()
	rise := r.Height - s.Knee
	long := math.Hypot(s.Reach, rise)
	way := inward.Scale(s.Reach/long).plus(rise/long, upward) // up the slope
	knee := wall.Origin.plus(s.Knee, upward)                  // over the wall's left corner
	side := wall.Outline[1].Along
	b.slopes = append(b.slopes, s.halfSpace(r, wall))
	b.slopes[len(b.slopes)-1].of = i
	var slope Surface
	switch s.Wall {
	case "front": // along from the left wall, out from the knee
		slope = rectangle(s.Name, knee, wall.Along, way, side, long)
	case "rear": // along from the left wall, out from the fold
		slope = rectangle(s.Name, knee.plus(side, wall.Along).plus(long, way), wall.Along.Scale(-1), way.Scale(-1), side, long)
	case "left": // along from the knee, out from the front wall
		slope = rectangle(s.Name, knee.plus(side, wall.Along), way, wall.Along.Scale(-1), long, side)
	case "right": // along from the fold, out from the front wall
		slope = rectangle(s.Name, knee.plus(long, way), way.Scale(-1), wall.Along, long, side)
	}
	b.raw = append(b.raw, rawSurface{Surface: slope, of: i})
}

// addBlock lists the faces that may show; those that lie against something are cut away later.
func (b *builder) addBlock(i int, s Shape, r ShapedBox, wall Surface) {
	along, inward := wall.Along, wall.Normal()
	high := cmp.Or(s.Height, r.Height)
	back := wall.Origin.plus(s.Along, along).plus(s.Off, inward) // its left end, at the floor
	front := back.plus(s.Depth, inward)
	far := front.plus(s.Width, along)
	b.blocks = append(b.blocks, s.block(r, wall))
	b.blocks[len(b.blocks)-1].of = i
	for _, f := range []Surface{
		rectangle(s.Name, front, along, upward, s.Width, high),
		rectangle(s.Name+" left cheek", back, inward, upward, s.Depth, high),
		rectangle(s.Name+" right cheek", far, inward.Scale(-1), upward, s.Depth, high),
		rectangle(s.Name+" back", back.plus(s.Width, along), along.Scale(-1), upward, s.Width, high),
		rectangle(s.Name+" top", front.plus(high, upward), along, inward.Scale(-1), s.Width, s.Depth),
	} {
		b.raw = append(b.raw, rawSurface{Surface: f, of: i})
	}
}

func (b *builder) addAlcove(i int, s Shape, wall Surface) {
	along, inward := wall.Along, wall.Normal()
	edge := wall.At(Spot{s.Along, s.Up}) // of its mouth: left, at its base
	back := edge.plus(-s.Depth, inward)
	for _, f := range []Surface{
		rectangle(s.Name, back, along, upward, s.Width, s.Height),
		rectangle(s.Name+" left cheek", edge, inward.Scale(-1), upward, s.Depth, s.Height),
		rectangle(s.Name+" right cheek", back.plus(s.Width, along), inward, upward, s.Depth, s.Height),
		rectangle(s.Name+" base", edge, along, inward.Scale(-1), s.Width, s.Depth),
		rectangle(s.Name+" head", back.plus(s.Height, upward), along, inward, s.Width, s.Depth),
	} {
		b.raw = append(b.raw, rawSurface{Surface: f, of: i, whole: true})
	}
	b.mouths = append(b.mouths, mouth{wall: s.Wall, cut: Cut{Name: s.Name, Outline: s.mouth()}})
}

// surface takes off a raw surface what the other shapes take; false when nothing is left.
func (b *builder) surface(i int) (Surface, bool) {
	raw := b.raw[i]
	s := raw.Surface
	if raw.whole {
		return s, true
	}
	for _, h := range b.slopes {
		if h.of != raw.of {
			s.Outline = h.on(&s, s.Outline)
		}
	}
	if len(s.Outline) == 0 {
		return Surface{}, false
	}
	for _, other := range b.blocks {
		if other.of == raw.of {
			if b.against(&s) {
				return Surface{}, false
			}
			continue
		}
		if touching := other.covers(&s); len(touching) > 0 {
			s.Cuts = append(s.Cuts, Cut{Name: b.name(other.of), Outline: touching})
		}
	}
	for _, m := range b.mouths {
		if m.wall == s.Name && raw.of < 0 {
			s.Cuts = append(s.Cuts, m.cut)
		}
	}
	return s, s.Area() > leastFace
}

const (
	// flush is how far (metres) two faces may lie apart and still touch: sizes come in whole micrometres.
	flush = 1e-7
	// leastFace is the area (m²) below which nothing is taken to be left: a hundred metres by twice what counts as flush.
	leastFace = 2e-5
)

func (b *builder) name(shape int) string {
	i := slices.IndexFunc(b.raw, func(s rawSurface) bool { return s.of == shape })
	return b.raw[i].Name
}

// against tells whether a face of a block lies in a side of the box, and so is not to be seen.
func (b *builder) against(face *Surface) bool {
	for i := range b.raw[:6] {
		side := &b.raw[i].Surface
		if side.Normal().Dot(face.Normal()) > -0.5 {
			continue
		}
		if _, out := side.Locate(face.Origin); math.Round(out*1e6) <= 0 {
			return true
		}
	}
	return false
}

// on is what lies of a convex polygon on a surface within a half-space. Unlike [clip] it takes what is flush as within, and
// leaves nothing of what is too small to be a face.
func (h halfSpace) on(s *Surface, polygon []Spot) []Spot {
	level := h.at(s.Origin)
	along, up := h.normal.Dot(s.Along), h.normal.Dot(s.Up)
	at := func(p Spot) float64 { return level + float64(p.Along*along) + float64(p.Up*up) }
	var kept []Spot
	for i, p := range polygon {
		q := polygon[(i+1)%len(polygon)]
		here, there := at(p), at(q)
		if here >= -flush {
			kept = append(kept, p)
		}
		if (here > flush && there < -flush) || (here < -flush && there > flush) {
			kept = append(kept, p.plus(q.minus(p).times(here/(here-there))))
		}
	}
	if len(kept) < 3 || area(kept) < leastFace {
		return nil
	}
	return kept
}

// covers is what of a surface lies in a block or against it, nil if nothing does.
func (b block) covers(s *Surface) []Spot {
	polygon := s.Outline
	for _, h := range [...]halfSpace{
		{normal: Vec{X: 1}, limit: b.low.X}, {normal: Vec{X: -1}, limit: -b.high.X},
		{normal: Vec{Y: 1}, limit: b.low.Y}, {normal: Vec{Y: -1}, limit: -b.high.Y},
		{normal: Vec{Z: 1}, limit: b.low.Z}, {normal: Vec{Z: -1}, limit: -b.high.Z},
	} {
		polygon = h.on(s, polygon)
	}
	return polygon
}

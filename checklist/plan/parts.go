package plan

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"hangtrue/checklist/strict"
)

// A Part is a piece of a plan that is edited as one: the room, a bracket, a mount. Name is its kind, and for one of
// several a slash and the name it goes by: "room", "bracket/Wall bracket", "mount/M+030". Value is the JSON of that
// piece as it stands in a document, in one line as [strict.EncodeLine] writes it.
type Part struct {
	Name  string `json:"part"`
	Value string `json:"value"`
}

// ErrPart is returned, wrapped with the name, where a plan has no such kind of part.
var ErrPart = errors.New("plan: no such part")

// About is what a plan says of itself. As a part it goes by "about".
type About struct {
	Title  string `json:"title"`
	Remark string `json:"remark,omitempty"`
	Units  Units  `json:"units"`
	Layout string `json:"layout"`
}

// kindOfPart is one kind of part: where the document has it, and how it goes in and out of a plan.
type kindOfPart struct {
	name string
	at   string // pointer of the piece, or of the list it stands in
	list bool
	// each hands out every piece of the plan of this kind, with the name it goes by.
	each func(p *Plan, hand func(label string, value any))
	// read reads one piece: the name it goes by, and how it goes into a plan, in the place of the one of that name.
	read func(value string) (label string, put func(*Plan), problems strict.Problems)
}

// partKinds are the kinds of part in the order of the document.
var partKinds = []kindOfPart{
	{
		name: "about", at: "",
		each: func(p *Plan, hand func(string, any)) {
			if about := (About{p.Title, p.Remark, p.Units, p.Layout}); about != (About{}) {
				hand("", &about)
			}
		},
		read: single(func(p *Plan, a *About) { p.Title, p.Remark, p.Units, p.Layout = a.Title, a.Remark, a.Units, a.Layout }),
	},
	optional("survey", "/survey", func(p *Plan) **Survey { return &p.Survey }),
	optional("room", "/room/box", func(p *Plan) **Box { return &p.Room.Box }),
	several("shape", "/room/shapes", func(p *Plan) *[]Shape { return &p.Room.Shapes }),
	several("surface", "/room/surfaces", func(p *Plan) *[]Surface { return &p.Room.Surfaces }),
	several("listening", "/listening_positions", func(p *Plan) *[]Listening { return &p.Listening }),
	several("loudspeaker", "/loudspeakers", func(p *Plan) *[]Model { return &p.Models }),
	several("bracket", "/brackets", func(p *Plan) *[]Bracket { return &p.Brackets }),
	several("fixing", "/fixings", func(p *Plan) *[]Fixing { return &p.Fixings }),
	several("cable", "/cables", func(p *Plan) *[]Cable { return &p.Cables }),
	one("processor", func(p *Plan) *Processor { return &p.Processor }),
	several("amplifier", "/amplifiers", func(p *Plan) *[]Amplifier { return &p.Amplifiers }),
	one("rack", func(p *Plan) *Rack { return &p.Rack }),
	optional("sound", "/sound", func(p *Plan) **Sound { return &p.Sound }),
	several("instrument", "/instruments", func(p *Plan) *[]Instrument { return &p.Instruments }),
	one("tolerances", func(p *Plan) *Tolerances { return &p.Tolerances }),
	several("mount", "/mounts", func(p *Plan) *[]Mount { return &p.Mounts }),
}

func single[T any](set func(*Plan, *T)) func(string) (string, func(*Plan), strict.Problems) {
	return func(value string) (string, func(*Plan), strict.Problems) {
		x := new(T)
		problems := strict.Decode([]byte(value), x)
		return "", func(p *Plan) { set(p, x) }, problems
	}
}

// one is a kind of which a plan has one, missing while it is zero.
func one[T comparable](name string, field func(*Plan) *T) kindOfPart {
	return kindOfPart{
		name: name, at: "/" + name,
		each: func(p *Plan, hand func(string, any)) {
			var zero T
			if x := field(p); *x != zero {
				hand("", x)
			}
		},
		read: single(func(p *Plan, x *T) { *field(p) = *x }),
	}
}

// optional is a kind of which a plan has one or none.
func optional[T any](name, at string, field func(*Plan) **T) kindOfPart {
	return kindOfPart{
		name: name, at: at,
		each: func(p *Plan, hand func(string, any)) {
			if x := *field(p); x != nil {
				hand("", x)
			}
		},
		read: single(func(p *Plan, x *T) { *field(p) = x }),
	}
}

// several is a kind of which a plan has a list.
func several[T any, P named[T]](name, at string, field func(*Plan) *[]T) kindOfPart {
	return kindOfPart{
		name: name, at: at, list: true,
		each: func(p *Plan, hand func(string, any)) {
			list := *field(p)
			for i := range list {
				hand(P(&list[i]).label(), &list[i])
			}
		},
		read: func(value string) (string, func(*Plan), strict.Problems) {
			x := new(T)
			problems := strict.Decode([]byte(value), x)
			label := P(x).label()
			return label, func(p *Plan) {
				list := field(p)
				if known := find[T, P](*list, label); known != nil {
					*known = *x
				} else {
					*list = append(*list, *x)
				}
			}, problems
		},
	}
}

// partKind takes a part's name apart. It is [ErrPart] where there is no such kind, or where a name is missing or too many.
func partKind(name string) (kindOfPart, string, error) {
	kind, label, labelled := strings.Cut(name, "/")
	i := slices.IndexFunc(partKinds, func(k kindOfPart) bool { return k.name == kind })
	if i < 0 || partKinds[i].list != labelled || (labelled && label == "") {
		return kindOfPart{}, "", fmt.Errorf("%w: %s", ErrPart, strict.Quote(name))
	}
	return partKinds[i], label, nil
}

// readPart reads a part for its form; how it goes into a plan. The error is [ErrPart] or a [strict.Problems].
func readPart(part Part) (put func(*Plan), err error) {
	k, label, err := partKind(part.Name)
	if err != nil {
		return nil, err
	}
	got, put, problems := k.read(part.Value)
	if problems.Err() == nil && got != label {
		problems.Add("", strict.Quote(got), "the name it goes by, "+strict.Quote(label))
	}
	return put, problems.Err()
}

// CheckPart reads one part by itself, for its form only: what it means with the rest of the plan is told by
// [Plan.Problems]. It has to be written as [Plan.Parts] writes it, so that one value has one hash. The error is [ErrPart]
// or a [strict.Problems] with pointers into the part.
func CheckPart(part Part) error {
	put, err := readPart(part)
	if err != nil {
		return err
	}
	if written, err := alone(put); err != nil || written != part {
		var problems strict.Problems
		problems.Add("", strict.Quote(part.Value), "the part as this program writes it")
		return problems
	}
	return nil
}

// MakePart reads the JSON of a piece of one kind, and gives the part it makes, with the name it goes by. The error is
// [ErrPart] or a [strict.Problems] with pointers into the piece.
func MakePart(kind string, data []byte) (Part, error) {
	i := slices.IndexFunc(partKinds, func(k kindOfPart) bool { return k.name == kind })
	if i < 0 {
		return Part{}, fmt.Errorf("%w: %s", ErrPart, strict.Quote(kind))
	}
	_, put, problems := partKinds[i].read(string(data))
	if problems.Err() != nil {
		return Part{}, problems
	}
	return alone(put)
}

// alone is the one part of a plan that has nothing else.
func alone(put func(*Plan)) (Part, error) {
	p := new(Plan)
	put(p)
	parts, err := p.Parts()
	if err == nil && len(parts) != 1 {
		err = strict.Problems{{Read: "nothing", Want: "a value"}}
	}
	if err != nil {
		return Part{}, err
	}
	return parts[0], nil
}

// Parts takes a plan apart, in the order of the document. What a plan does not have yet is no part. It fails only where
// a value cannot be written, which cannot happen with a plan that was read.
func (p *Plan) Parts() ([]Part, error) {
	var parts []Part
	var failed error
	for _, k := range partKinds {
		k.each(p, func(label string, value any) {
			text, err := strict.EncodeLine(value)
			if err != nil {
				failed = err
			}
			parts = append(parts, Part{k.nameOf(label), string(text)})
		})
	}
	return parts, failed
}

func (k kindOfPart) nameOf(label string) string {
	if k.list {
		return k.name + "/" + label
	}
	return k.name
}

// Names are the names of the plan's parts of one kind, in its order.
func (p *Plan) Names(kind string) []string {
	var names []string
	for _, k := range partKinds {
		if k.name == kind {
			k.each(p, func(label string, _ any) { names = append(names, label) })
		}
	}
	return names
}

// Assemble puts parts together as far as they go: lists in the order of the parts, and of two parts of one name the
// later one. A part that cannot be read is left out; [CheckPart] tells why.
func Assemble(parts []Part) *Plan {
	p := &Plan{Format: Format}
	for _, part := range parts {
		if put, err := readPart(part); err == nil {
			put(p)
		}
	}
	return p
}

// Problems are what keeps the plan from being settled, in the order of the document: everything that [Decode] would say
// of it. Unlike there, what one part says about another is told as well while other parts are missing, as far as it can
// be told.
func (p *Plan) Problems() strict.Problems {
	c := checker{p: p}
	c.values()
	c.related()
	if data, err := p.Encode(); err == nil {
		c.problems.Sort(data)
	}
	return c.problems
}

// PartAt tells which part of the plan a pointer into its document lies in, and what remains of the pointer there, with
// the slash: "/mounts/3/up_m" is "mount/M+090" and "/up_m". Of a list as a whole it gives the kind alone.
func (p *Plan) PartAt(pointer string) (part, rest string) {
	for _, k := range partKinds {
		after, ok := strings.CutPrefix(pointer, k.at)
		if !ok || k.at == "" || (after != "" && after[0] != '/') {
			continue
		}
		if !k.list {
			return k.name, after
		}
		index, after, deeper := strings.Cut(strings.TrimPrefix(after, "/"), "/")
		if n, err := strconv.Atoi(index); err == nil {
			at := 0
			k.each(p, func(label string, _ any) {
				if at == n {
					part = k.nameOf(label)
				}
				at++
			})
			if part != "" {
				if deeper {
					after = "/" + after
				}
				return part, after
			}
		}
		return k.name, ""
	}
	if pointer == "/room" {
		return "room", ""
	}
	return "about", pointer
}

package drawing

import (
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	. "hangtrue/pwa/markup"
)

// Sizes of text on the sheet. A sheet of 360 units, drawn from edge to edge of a
// phone of 360 pixels, keeps them above 12 pixels.
const (
	small  = 12.2
	normal = 12.5
	large  = 14.5
)

// textWidth is about how wide a text runs; it errs on the wide side, since fonts
// differ from phone to phone.
func textWidth(s string, size float64, bold bool) float64 {
	var w float64
	for _, r := range s {
		switch r {
		case 'i', 'l', '.', ',', '\'', '|', ':', ';', '!', '(', ')', '[', ']', ' ', 'j', 't', 'f':
			w += 0.4
		case 'M', 'W', 'm', 'w', '+', '%', '#', '&', '<', '=', '>', '@', '~', '±', '×', '→', '…':
			w += 0.95
		default:
			if unicode.IsUpper(r) || r > 0x2e80 {
				w += 0.78
			} else {
				w += 0.65
			}
		}
	}
	if r, _ := utf8.DecodeLastRuneInString(s); r > 0x2e80 {
		w *= 1.3
	}
	if bold {
		w *= 1.1
	}
	return w * size
}

// wrap breaks a text into lines no wider than most; what does not fit into the
// lines allowed is cut with an ellipsis.
func wrap(s string, size, most float64, lines int) []string {
	var out []string
	for _, word := range strings.Fields(s) {
		if n := len(out); n > 0 && textWidth(out[n-1]+" "+word, size, false) <= most {
			out[n-1] += " " + word
			continue
		}
		if len(out) == lines {
			out[lines-1] = cropped(out[lines-1]+" "+word, size, most)
			return out
		}
		out = append(out, cropped(word, size, most))
	}
	return out
}

// shortened tells whether wrap cut anything.
func shortened(lines []string) bool {
	return slices.ContainsFunc(lines, func(l string) bool { return strings.HasSuffix(l, "…") })
}

func cropped(s string, size, most float64) string {
	if textWidth(s, size, false) <= most {
		return s
	}
	runes := []rune(s)
	for len(runes) > 1 && textWidth(string(runes)+"…", size, false) > most {
		runes = runes[:len(runes)-1]
	}
	return strings.TrimSpace(string(runes)) + "…"
}

// A label is one to three lines of text that want a place.
type label struct {
	lines  []string
	size   float64
	bold   bool
	class  string
	turned bool   // reads upward
	of     *point // the mark it names, where it could be taken for another's
}

func (l *label) size2() (w, h float64) {
	for _, s := range l.lines {
		w = math.Max(w, textWidth(s, l.size, l.bold))
	}
	h = l.size * 1.2 * float64(len(l.lines))
	if l.turned {
		return h, w
	}
	return w, h
}

// A seat is where a label could go: its box and the side that its text keeps to.
type seat struct {
	label  *label
	box    box
	anchor string   // start, middle, end
	leader [2]point // from the label to what it names, when it stands apart
}

// seat makes a seat with its upper left corner at a point.
func (l *label) seat(x, y float64, anchor string) seat { return l.seats()(x, y, anchor) }

// seats makes many: how long a text runs is reckoned once.
func (l *label) seats() func(x, y float64, anchor string) seat {
	w, h := l.size2()
	return func(x, y float64, anchor string) seat {
		return seat{label: l, box: box{x, y, x + w, y + h}, anchor: anchor}
	}
}

// beside offers seats around a box, the easiest to read first, then the same
// farther off. Along a long side there are several.
func (l *label) beside(b box, gap float64) []seat {
	w, h := l.size2()
	at := l.seats()
	seats := make([]seat, 0, 48)
	for _, g := range []float64{gap, gap + 9, gap + 20} {
		for _, f := range []float64{0.5, 0.2, 0.8} {
			x, y := b.x0+f*b.width(), b.y0+f*b.height()
			seats = append(seats,
				at(b.x1+g, y-h/2, "start"), at(b.x0-g-w, y-h/2, "end"),
				at(x-w/2, b.y0-g-h, "middle"), at(x-w/2, b.y1+g, "middle"))
			if b.width() < 30 && b.height() < 30 {
				break // a mark: its sides are all near its middle
			}
		}
		seats = append(seats,
			at(b.x1+g/2, b.y0-g-h, "start"), at(b.x0-g/2-w, b.y0-g-h, "end"),
			at(b.x1+g/2, b.y1+g, "start"), at(b.x0-g/2-w, b.y1+g, "end"))
	}
	return seats
}

// naming offers seats near a mark, then farther off with a line that leads to it.
func (l *label) naming(mark box) [][]seat {
	const near = 8 // seats at the least distance from a mark
	seats := l.beside(mark, 2)
	return [][]seat{seats[:near], pointing(seats[near:], mark), pointing(l.beside(mark, 30), mark)}
}

// pointing gives seats that stand apart from a box a line that leads to it.
func pointing(seats []seat, b box) []seat {
	for i, s := range seats {
		from := b.nearest(s.box.middle())
		seats[i].leader = [2]point{s.box.nearest(from), from}
	}
	return seats
}

// inside offers seats within a box, from its middle outward.
func (l *label) inside(b box) []seat {
	w, h := l.size2()
	at := l.seats()
	seats := make([]seat, 0, 25)
	for _, fy := range []float64{0.5, 0.3, 0.7, 0.12, 0.88} {
		for _, fx := range []float64{0.5, 0.25, 0.75, 0.08, 0.92} {
			if s := at(b.x0+fx*(b.width()-w), b.y0+fy*(b.height()-h), "middle"); b.holds(s.box) {
				seats = append(seats, s)
			}
		}
	}
	return seats
}

// kept are the seats that lie within a box.
func kept(seats []seat, within box) []seat {
	var out []seat
	for _, s := range seats {
		if within.holds(s.box) {
			out = append(out, s)
		}
	}
	return out
}

// at is the one seat whose middle is given.
func (l *label) at(m point) []seat {
	w, h := l.size2()
	return []seat{l.seat(m.x-w/2, m.y-h/2, "middle")}
}

// placer seats labels one after the other so that none covers another or a mark.
// Where it can it keeps off lines as well.
type placer struct {
	bounds box
	taken  []box
	seated []box // those of taken that are labels
	lines  [][2]point
	marks  []point // that a label could be taken to belong to
	texts  []Node
	faults int // of the labels seated, see put
}

func (p *placer) block(boxes ...box) { p.taken = append(p.taken, boxes...) }

func (p *placer) free(b box) bool {
	if !p.bounds.holds(b) {
		return false
	}
	for _, t := range p.taken {
		if t.overlaps(b.grown(apart)) {
			return false
		}
	}
	return true
}

// apart is the air between labels.
const apart = 2

// avoid asks for labels beside a line rather than on it.
func (p *placer) avoid(a, b point) { p.lines = append(p.lines, [2]point{a, b}) }

// crossed tells how many of the lines run through a box.
func (p *placer) crossed(b box) (n int) {
	for _, l := range p.lines {
		if _, _, ok := b.clip(l[0], l[1]); ok {
			n++
		}
	}
	return n
}

// mistaken tells whether a label would stand nearer to another mark than to its own
// or, with a leader, right beside another.
func (p *placer) mistaken(s seat) bool {
	if s.label.of == nil {
		return false
	}
	far := func(m point) float64 {
		n := s.box.nearest(m)
		return math.Hypot(m.x-n.x, m.y-n.y)
	}
	own := far(*s.label.of)
	if s.leader != [2]point{} {
		own = math.Min(own, 12)
	}
	return slices.ContainsFunc(p.marks, func(m point) bool { return far(m) < own })
}

// put takes the free seat with the fewest faults, of several the first: a line that
// runs through it, its leader long or through another label. It is false when none is
// free.
func (p *placer) put(seats ...[]seat) bool {
	var best *seat
	least := 0
	for _, list := range seats {
		for i, s := range list {
			if !p.free(s.box) || p.mistaken(s) {
				continue
			}
			n := p.crossed(s.box)
			if s.leader != [2]point{} {
				const long = 50 // a leader that is longer is as bad as one line more
				n += int(math.Hypot(s.leader[1].x-s.leader[0].x, s.leader[1].y-s.leader[0].y) / long)
				for _, b := range p.seated {
					if _, _, ok := b.clip(s.leader[0], s.leader[1]); ok {
						n++
					}
				}
			}
			if best == nil || n < least {
				best, least = &list[i], n
			}
			if least == 0 {
				p.take(*best, 0)
				return true
			}
		}
	}
	if best != nil {
		p.take(*best, least)
	}
	return best != nil
}

func (p *placer) take(s seat, faults int) {
	p.faults += faults
	p.taken, p.seated = append(p.taken, s.box), append(p.seated, s.box)
	if s.leader != [2]point{} {
		p.avoid(s.leader[0], s.leader[1])
		p.texts = append(p.texts, line("leader", s.leader[0], s.leader[1]))
	}
	p.texts = append(p.texts, s.write())
}

func (s seat) write() Node {
	l := s.label
	weight := Node(nil)
	if l.bold {
		weight = Attr("font-weight", "700")
	}
	lines := make([]Node, len(l.lines))
	for i, text := range l.lines {
		x := map[string]float64{"start": s.box.x0, "middle": (s.box.x0 + s.box.x1) / 2, "end": s.box.x1}[s.anchor]
		y := s.box.y0 + l.size*(0.95+1.2*float64(i))
		turn := Node(nil)
		if l.turned {
			s.anchor = "middle"
			x, y = s.box.x0+l.size*0.95, s.box.middle().y
			turn = Attr("transform", "rotate(-90 "+num(x)+" "+num(y)+")")
		}
		lines[i] = El("text", class(l.class), Attr("x", num(x)), Attr("y", num(y)), Attr("font-size", num(l.size)),
			Attr("text-anchor", s.anchor), weight, turn, Text(text))
	}
	return Group(lines...)
}

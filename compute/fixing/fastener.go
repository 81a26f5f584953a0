package fixing

import (
	"math"
	"strings"

	"hangtrue/compute/figure"
)

// A Kind is a sort of fixing.
type Kind int

const (
	// WoodScrew is a rolled-thread wood screw after ASME B18.6.1: "No. 6" to "No. 24".
	WoodScrew Kind = iota
	// LagScrew is a reduced-body hex lag screw after ASME B18.2.1: "1/4 in" to "1/2 in".
	LagScrew
	// PlainNail is a common wire nail, "6d" to "60d".
	PlainNail
	// RingNail is a ring-shank nail of the common nail's diameter.
	RingNail
	// MetricScrew is a metric wood screw, "3 mm" to "10 mm", for the Eurocode 5 rules.
	MetricScrew
	// Rated is any fixing that its maker rates for a base: an anchor in masonry or
	// concrete, a hollow-wall fixing, a structural screw with a declared load.
	Rated
)

// String names the kind.
func (k Kind) String() string {
	switch k {
	case WoodScrew:
		return "wood screw"
	case LagScrew:
		return "lag screw"
	case PlainNail:
		return "plain nail"
	case RingNail:
		return "ring-shank nail"
	case MetricScrew:
		return "metric wood screw"
	case Rated:
		return "rated fixing"
	}
	return "unknown kind"
}

// ParseKind reads the name that [Kind.String] writes.
func ParseKind(name string) (Kind, error) {
	for k := WoodScrew; k <= Rated; k++ {
		if k.String() == name {
			return k, nil
		}
	}
	return 0, bad(ErrUnknownKind, "fixing.kind", `"`+name+`"`, `a kind such as "wood screw", "lag screw" or "rated fixing"`)
}

// A Fixing is what goes through each hole of the plate.
type Fixing struct {
	Kind Kind
	// Size as its table writes it: "No. 10", "1/4 in", "10d", "6 mm". Not used for
	// Rated.
	Size string
	// Length under the head, m. For Rated it may be 0: not stated.
	Length float64
	// Thread is the length of thread, tip included, m. 0 takes the least that the
	// standard allows ([ThreadLength]).
	Thread float64
	// Pilot is the diameter of the hole drilled for the thread, m. 0: not stated.
	Pilot float64
	// Declared holds the maker's values for Eurocode 5; zero fields are not stated.
	Declared Declared
	// Rating is the maker's rating of a Rated fixing.
	Rating Rating
}

// Declared is what the maker of a metric screw declares.
type Declared struct {
	// Withdrawal is f_ax,k, Pa, at the density Density, kg/m³.
	Withdrawal, Density float64
	// Core is the thread's core diameter d1, m.
	Core float64
	// YieldMoment is M_y,Rk, N·m.
	YieldMoment float64
}

// Dimensions are those of one size, metres.
type Dimensions struct {
	Size     string
	Diameter float64 // nominal: D or d
	Root     float64 // root or core diameter; the nominal one for nails
	Head     float64 // head diameter, 0 if its table does not give one
	Tip      float64 // tapered tip E
	Source   string
	Mark     figure.Mark
}

type row struct {
	size             string
	d, dr, head, tip float64
}

const (
	sourceScrews = "NDS 2018 Table L3 (ASME B18.6.1)"
	sourceLags   = "NDS 2018 Table L2 (ASME B18.2.1)"
	sourceNails  = "NDS 2018 Table L4 (ASTM F1667)"
	sourceMetric = "GB/T 922-1986, same size ladder as DIN 7998"
)

// Inches. The tip of a screw is 2D (note 6 of Table L3) and is filled in by Lookup.
var woodScrews = []row{
	{"No. 6", 0.138, 0.113, 0.262, 0},
	{"No. 7", 0.151, 0.122, 0.287, 0},
	{"No. 8", 0.164, 0.131, 0.312, 0},
	{"No. 9", 0.177, 0.142, 0.337, 0},
	{"No. 10", 0.190, 0.152, 0.363, 0},
	{"No. 12", 0.216, 0.171, 0.414, 0},
	{"No. 14", 0.242, 0.196, 0.480, 0},
	{"No. 16", 0.268, 0.209, 0.515, 0},
	{"No. 18", 0.294, 0.232, 0.602, 0},
	{"No. 20", 0.320, 0.255, 0.616, 0},
	{"No. 24", 0.372, 0.298, 0.724, 0},
}

// Inches.
var lagScrews = []row{
	{"1/4 in", 1. / 4, 0.173, 0, 5. / 32},
	{"5/16 in", 5. / 16, 0.227, 0, 3. / 16},
	{"3/8 in", 3. / 8, 0.265, 0, 7. / 32},
	{"7/16 in", 7. / 16, 0.328, 0, 9. / 32},
	{"1/2 in", 1. / 2, 0.371, 0, 5. / 16},
}

// Inches; common nails. The tip of a nail is 2D (note 2 of Table L4).
var nails = []row{
	{"6d", 0.113, 0.113, 0.266, 0},
	{"8d", 0.131, 0.131, 0.281, 0},
	{"10d", 0.148, 0.148, 0.312, 0},
	{"16d", 0.162, 0.162, 0.344, 0},
	{"20d", 0.192, 0.192, 0.406, 0},
	{"30d", 0.207, 0.207, 0.438, 0},
	{"40d", 0.225, 0.225, 0.469, 0},
	{"50d", 0.244, 0.244, 0.500, 0},
	{"60d", 0.263, 0.263, 0.531, 0},
}

// Millimetres; the root is the least core diameter.
var metricScrews = []row{
	{"3 mm", 3, 1.85, 0, 0},
	{"3.5 mm", 3.5, 2.1, 0, 0},
	{"4 mm", 4, 2.4, 0, 0},
	{"4.5 mm", 4.5, 2.72, 0, 0},
	{"5 mm", 5, 3.02, 0, 0},
	{"5.5 mm", 5.5, 3.32, 0, 0},
	{"6 mm", 6, 3.72, 0, 0},
	{"7 mm", 7, 4.42, 0, 0},
	{"8 mm", 8, 5.12, 0, 0},
	{"10 mm", 10, 6.62, 0, 0},
}

func table(kind Kind) (rows []row, unit float64, source string, ok bool) {
	switch kind {
	case WoodScrew:
		return woodScrews, inch, sourceScrews, true
	case LagScrew:
		return lagScrews, inch, sourceLags, true
	case PlainNail, RingNail:
		return nails, inch, sourceNails, true
	case MetricScrew:
		return metricScrews, mm, sourceMetric, true
	}
	return nil, 0, "", false
}

// Sizes lists the sizes of a kind from the thinnest to the thickest, as [Lookup]
// reads them. It is empty for Rated.
func Sizes(kind Kind) []string {
	rows, _, _, _ := table(kind)
	sizes := make([]string, len(rows))
	for i, r := range rows {
		sizes[i] = r.size
	}
	return sizes
}

// bare strips what people leave out or write differently: "No. 10", "#10" and
// "10" are one size, and so are "1/4 in", `1/4"` and "1/4".
func bare(size string) string {
	size = strings.TrimSpace(size)
	for _, prefix := range []string{"No.", "no.", "#"} {
		size = strings.TrimPrefix(size, prefix)
	}
	for _, suffix := range []string{"in", `"`, "mm"} {
		size = strings.TrimSuffix(size, suffix)
	}
	return strings.TrimSpace(size)
}

// Lookup gives the dimensions of a size. A size its table does not list is
// [ErrUnknownSize].
func Lookup(kind Kind, size string) (Dimensions, error) {
	rows, unit, source, ok := table(kind)
	if !ok {
		return Dimensions{}, bad(ErrUnknownKind, "fixing.kind", kind.String(), "a screw or nail with a table of sizes")
	}
	r, ok := findRow(rows, size)
	if !ok {
		return Dimensions{}, bad(ErrUnknownSize, "fixing.size", `"`+size+`"`, "a "+kind.String()+" from "+rows[0].size+" to "+rows[len(rows)-1].size)
	}
	d := Dimensions{
		Size: r.size, Diameter: r.d * unit, Root: r.dr * unit, Head: r.head * unit, Tip: r.tip * unit,
		Source: source, Mark: figure.Secondary,
	}
	if kind == MetricScrew {
		d.Mark = figure.Published
	}
	if d.Tip == 0 {
		d.Tip = 2 * d.Diameter
	}
	return d, nil
}

func findRow(rows []row, size string) (row, bool) {
	for _, r := range rows {
		if r.size == size {
			return r, true
		}
	}
	wanted := bare(size)
	for _, r := range rows {
		if bare(r.size) == wanted {
			return r, true
		}
	}
	return row{}, false
}

// ThreadLength is the least length of thread of a fixing of the given nominal
// diameter and length, m, tip included:
//
//   - wood screw: max(4D, 2L/3) (NDS 2018 Table L3, note 3);
//   - lag screw: min(6 in, L/2 + 1/2 in), and 3/4 of a 1 in lag (Table L2);
//   - metric screw: 0.6 L (common practice, no source);
//   - nail: its whole length, since its whole shank holds.
//
// It is never longer than the fixing.
func ThreadLength(kind Kind, diameter, length float64) float64 {
	switch kind {
	case WoodScrew:
		return min(length, max(4*diameter, 2*length/3))
	case LagScrew:
		return min(6*inch, length/2+0.5*inch, 0.75*length+max(0, length-inch))
	case MetricScrew:
		return 0.6 * length
	}
	return length
}

// A Penetration is how a fixing sits in the member that holds its point, m.
type Penetration struct {
	// Embedded is the length in the member, tip included.
	Embedded float64
	// Counted is what least penetrations are compared with: Embedded, less the tip
	// for lag screws (NDS 2018 §12.1.4.6, §12.1.5.6, §12.1.6.4).
	Counted float64
	// Thread is the length of thread that holds against withdrawal: less the tip
	// for lag screws (§12.2.1.2), with the tip for the rest (§12.2.2.2, §12.2.3.1).
	Thread float64
	// Bearing is the length lm of the yield equations, p - E/2 (§12.3.5.3).
	Bearing float64
	// Through tells that the point comes out at the back of the member.
	Through bool
}

// Penetrate places a fixing of a kind and its dimensions, of a length and length
// of thread, through what lies before the member (plate and lining) into a
// member of the given depth; depth 0 means deep enough. All metres. A fixing
// that does not reach the member is [ErrTooShort].
func Penetrate(kind Kind, d Dimensions, length, thread, before, depth float64) (Penetration, error) {
	if length <= before {
		return Penetration{}, badNumber(ErrTooShort, "fixing.length", length, "m", "more than plate and lining, "+number(before, "m"))
	}
	p := Penetration{Embedded: length - before, Bearing: max(0, length-before-d.Tip/2)}
	end := length
	if kind == LagScrew {
		end = length - d.Tip
	}
	if depth > 0 {
		p.Through = p.Embedded > depth
		p.Embedded = min(p.Embedded, depth)
		p.Bearing = min(p.Bearing, depth)
		end = min(end, before+depth)
	}
	p.Counted = max(0, end-before)
	p.Thread = max(0, end-math.Max(before, length-thread))
	return p, nil
}

// LeastPenetration is the least counted penetration into the member that the
// yield equations allow, m: 6D for wood screws and nails, tip included, 4D for
// lag screws, tip left out (NDS 2018 §12.1.5.6, §12.1.6.4, §12.1.4.6); 6d for
// metric screws (EN 1995-1-1:2004 §8.7.2).
func LeastPenetration(kind Kind, diameter float64) float64 {
	if kind == LagScrew {
		return 4 * diameter
	}
	return 6 * diameter
}

// LeastLength is the shortest fixing that reaches the least penetration through
// a plate and a lining, m: L = plate + lining + max(least penetration, needed),
// plus the tip of a lag screw. needed is the penetration wanted for strength, m,
// or 0.
func LeastLength(kind Kind, d Dimensions, plate, lining, needed float64) float64 {
	l := plate + lining + max(LeastPenetration(kind, d.Diameter), needed)
	if kind == LagScrew {
		l += d.Tip
	}
	return l
}

// PenetrationFactor reduces a value read from NDS 2018 Tables 12J to 12P for a
// penetration short of the one they were made for: p/10D for wood screws and
// nails from 6D, p/8D for lag screws from 4D, 0 below (notes 3 to the tables).
// The yield equations used here take the real penetration instead, as the same
// notes allow; the factor is for someone working from the tables.
func PenetrationFactor(kind Kind, counted, diameter float64) float64 {
	full := 10 * diameter
	if kind == LagScrew {
		full = 8 * diameter
	}
	if diameter <= 0 || inches(counted) < inches(LeastPenetration(kind, diameter)) {
		return 0
	}
	return min(1, counted/full)
}

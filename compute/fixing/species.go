package fixing

import (
	"strings"

	"hangtrue/compute/figure"
)

// A Species is a group of woods with one assigned specific gravity.
type Species struct {
	Name string
	// Gravity is G, oven-dry, by NDS 2018 Table 12.3.3A.
	Gravity float64
}

const (
	sourceSpecies  = "NDS 2018 Table 12.3.3A"
	markSpecies    = figure.Secondary
	unknownSpecies = "Northern Species"
)

var species = []Species{
	{"Aspen", 0.39},
	{"Douglas Fir-Larch", 0.50},
	{"Douglas Fir-Larch (North)", 0.49},
	{"Douglas Fir-South", 0.46},
	{"Eastern Softwoods", 0.36},
	{"Eastern Spruce", 0.41},
	{"Eastern White Pine", 0.36},
	{"Engelmann Spruce-Lodgepole Pine", 0.38},
	{"Hem-Fir", 0.43},
	{"Hem-Fir (North)", 0.46},
	{"Mixed Southern Pine", 0.51},
	{"Northern Pine", 0.42},
	{"Northern Species", 0.35},
	{"Ponderosa Pine", 0.43},
	{"Red Maple", 0.58},
	{"Red Oak", 0.67},
	{"Red Pine", 0.44},
	{"Redwood", 0.37},
	{"Sitka Spruce", 0.43},
	{"Southern Pine", 0.55},
	{"Spruce-Pine-Fir", 0.42},
	{"Spruce-Pine-Fir (South)", 0.36},
	{"Western Cedars", 0.36},
	{"Western Hemlock", 0.47},
	{"Western Woods", 0.36},
	{"White Oak", 0.73},
}

// AllSpecies lists the species groups by name.
func AllSpecies() []Species { return append([]Species(nil), species...) }

// FindSpecies looks a group up by name, whatever its capitals. A name that is
// empty or not in the table gives the lowest gravity that cannot be ruled out for
// framing, Northern Species at 0.35, and known false.
func FindSpecies(name string) (s Species, known bool) {
	name = strings.TrimSpace(name)
	lowest := Species{Name: unknownSpecies, Gravity: 0.35}
	for _, s := range species {
		if s.Name == name || strings.EqualFold(s.Name, name) {
			return s, true
		}
	}
	return lowest, false
}

// LowestOf gives the group of the lowest gravity among those that cannot be
// ruled out. One unknown name, or none, gives what [FindSpecies] gives for it.
func LowestOf(names ...string) (s Species, known bool) {
	if len(names) == 0 {
		return FindSpecies("")
	}
	s, known = FindSpecies(names[0])
	for _, name := range names[1:] {
		other, ok := FindSpecies(name)
		known = known && ok
		if other.Gravity < s.Gravity {
			s = other
		}
	}
	return s, known
}

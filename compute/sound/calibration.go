package sound

import (
	"cmp"
	"fmt"
	"math"
)

// Kind tells what a channel feeds. Only channels of one kind share an offset and can be taken for each other.
type Kind uint8

const (
	Main Kind = iota // a loudspeaker that is not a subwoofer
	Sub              // a subwoofer
)

// String gives "main" or "sub".
func (k Kind) String() string {
	switch k {
	case Main:
		return "main"
	case Sub:
		return "sub"
	}
	return fmt.Sprintf("Kind(%d)", uint8(k))
}

// Estimate is a value and its standard uncertainty, in the unit of its field.
type Estimate struct {
	Value       float64
	Uncertainty float64
}

// StepUncertainty is the standard uncertainty of a value shown in steps: step/sqrt(12), that of a rectangular distribution
// of half a step to either side (JCGM 100:2008 4.3.7). The error is [ErrInput].
func StepUncertainty(step float64) (float64, error) {
	if err := inRange("step", step, 0, maxDistance, ""); err != nil {
		return 0, err
	}
	return step / math.Sqrt(12), nil
}

// Channel is one channel of a calibration: what geometry expects at its mount, and what was reported for it.
type Channel struct {
	Name string
	Kind Kind
	// MountDistance is the straight distance in metres from the calibrated seat to the mount's acoustic centre.
	MountDistance Estimate
	// ReportedDistance is what the calibration says, in metres; its uncertainty holds the step it is shown in
	// ([StepUncertainty]) and how well such reports repeat.
	ReportedDistance Estimate
	// HasTrim tells whether MountTrim and ReportedTrim are given. A group is compared by trim only where all its
	// channels have one.
	HasTrim bool
	// MountTrim is the gain in decibels expected from distance and sensitivity ([Trims]).
	MountTrim Estimate
	// ReportedTrim is the gain in decibels that the calibration set, positive for louder.
	ReportedTrim Estimate
}

// Deviation is a report less what the mount makes expect, less the group's offset: metres for distances, decibels for trims.
type Deviation struct {
	Value       float64
	Uncertainty float64 // standard, with that of the offset and their correlation
	Known       bool    // false if it was not compared, or the offset could not be parted from it; the rest is then 0
}

// Expanded is the expanded uncertainty, k = 2.
func (d Deviation) Expanded() float64 { return 2 * d.Uncertainty }

// Score is the deviation over its expanded uncertainty: within -1 to 1 the report agrees with the mount (the E_n number
// of ISO 13528; from memory, not verified). 0 if not known.
func (d Deviation) Score() float64 {
	if !d.Known {
		return 0
	}
	return d.Value / d.Expanded()
}

// ChannelCheck is what was found for a channel at the mount that bears its name.
type ChannelCheck struct {
	Name     string
	Distance Deviation
	Trim     Deviation
}

// GroupCheck is what was found for the channels of one kind.
type GroupCheck struct {
	Kind           Kind
	DistanceOffset Offset
	TrimOffset     Offset // not known if trims were not compared
	Channels       []ChannelCheck
	Swaps          []Swap
	// Unseen are pairs so alike in distance and trim that this check would not see them exchanged, such as left and right
	// of a symmetric layout. Only listening at each loudspeaker tells those apart.
	Unseen   [][2]string
	Cautions []string
}

// SubCaution goes with every group of subwoofers.
const SubCaution = "A subwoofer's arrival is spread over 10 to 20 ms across its band (an essay on phase alignment, 2010), " +
	"which is 3 to 7 m, and its filters delay as well: a reported distance far from the tape's is no fault by itself. " +
	"Align at the crossover frequency."

// Cautions about what could not be compared.
const (
	aloneCaution    = "One channel alone: a constant offset and a deviation cannot be told apart, so it is not judged."
	noTrimCaution   = "Not every channel has a trim: levels were not compared."
	majorityCaution = "Fewer than three channels agree on the offset, so one wrong report shifts the deviations of all."
)

// CrossCheck compares what a calibration reports with the geometry. Mains and subwoofers are apart, each with an offset of
// its own taken robustly from the channels that agree; every channel then gets its deviations, and where they are better
// explained by exchanged channels, the swaps ([Swap]). Deviations stay those of each report at its own mount, whether or
// not a swap is named. A group without channels is left out; mains come first.
//
// Errors are [ErrList] for none or more than 32 channels, [ErrChannel] for a missing or repeated name or a kind that does
// not exist, and [ErrInput]; reports need an uncertainty above 0.
func CrossCheck(channels []Channel) ([]GroupCheck, error) {
	if err := listLength("channels", len(channels)); err != nil {
		return nil, err
	}
	groups := map[Kind]group{}
	names := map[string]bool{}
	for _, c := range channels {
		if err := c.check(); err != nil {
			return nil, err
		}
		if names[c.Name] {
			return nil, fmt.Errorf("%w: %.40q twice, want each channel once", ErrChannel, c.Name)
		}
		names[c.Name] = true
		groups[c.Kind] = append(groups[c.Kind], c)
	}
	var out []GroupCheck
	for _, kind := range []Kind{Main, Sub} {
		if g := groups[kind]; len(g) > 0 {
			out = append(out, g.crossCheck(kind))
		}
	}
	return out, nil
}

func (c Channel) check() error {
	if c.Name == "" {
		return fmt.Errorf("%w: a channel without a name", ErrChannel)
	}
	if c.Kind > Sub {
		return fmt.Errorf("%w: %.40q: kind: read %v, want main or sub", ErrChannel, c.Name, c.Kind)
	}
	// A report is never exact, and without an uncertainty there is nothing to compare by. The lower limit keeps squares
	// of deviations over variances from overflowing.
	const least = 1e-6
	err := cmp.Or(
		inRange("mount distance", c.MountDistance.Value, 0, maxDistance, "m"),
		inRange("uncertainty of the mount distance", c.MountDistance.Uncertainty, 0, maxDistance, "m"),
		inRange("reported distance", c.ReportedDistance.Value, -maxDistance, maxDistance, "m"),
		inRange("uncertainty of the reported distance", c.ReportedDistance.Uncertainty, least, maxDistance, "m"),
	)
	if err == nil && c.HasTrim {
		err = cmp.Or(
			levelIn("mount trim", c.MountTrim.Value),
			inRange("uncertainty of the mount trim", c.MountTrim.Uncertainty, 0, maxLevel, "dB"),
			levelIn("reported trim", c.ReportedTrim.Value),
			inRange("uncertainty of the reported trim", c.ReportedTrim.Uncertainty, least, maxLevel, "dB"),
		)
	}
	if err != nil {
		return fmt.Errorf("%.40q: %w", c.Name, err)
	}
	return nil
}

// group is the channels of one kind.
type group []Channel

func (g group) crossCheck(kind Kind) GroupCheck {
	result := GroupCheck{Kind: kind, Channels: make([]ChannelCheck, len(g))}
	for i, c := range g {
		result.Channels[i].Name = c.Name
	}
	if kind == Sub {
		result.Cautions = append(result.Cautions, SubCaution)
	}
	if len(g) == 1 {
		result.Cautions = append(result.Cautions, aloneCaution)
		return result
	}
	quantities := g.quantities()
	if len(quantities) == 1 {
		result.Cautions = append(result.Cautions, noTrimCaution)
	}
	s := newSearch(quantities)
	permutation, swaps := g.findSwaps(s)
	result.Swaps = swaps
	for _, pair := range s.unseen() {
		result.Unseen = append(result.Unseen, [2]string{g[pair[0]].Name, g[pair[1]].Name})
	}

	distance := quantities[0].fit(permutation)
	result.DistanceOffset = distance.Offset
	if distance.Used < 3 {
		result.Cautions = append(result.Cautions, majorityCaution)
	}
	for i := range g {
		result.Channels[i].Distance = quantities[0].deviation(i, permutation, distance)
	}
	if len(quantities) > 1 {
		trim := quantities[1].fit(permutation)
		result.TrimOffset = trim.Offset
		for i := range g {
			result.Channels[i].Trim = quantities[1].deviation(i, permutation, trim)
		}
	}
	return result
}

// quantity is one kind of figure, distance or trim, of all channels of a group.
type quantity struct {
	reported, expected []Estimate
}

// quantities gives the distances, and the trims if all channels have one.
func (g group) quantities() []quantity {
	distance, trim, trims := quantity{}, quantity{}, true
	for _, c := range g {
		distance.reported = append(distance.reported, c.ReportedDistance)
		distance.expected = append(distance.expected, c.MountDistance)
		trim.reported = append(trim.reported, c.ReportedTrim)
		trim.expected = append(trim.expected, c.MountTrim)
		trims = trims && c.HasTrim
	}
	if !trims {
		return []quantity{distance}
	}
	return []quantity{distance, trim}
}

// difference is the report of channel i less what mount j makes expect, and the variance of that.
func (q quantity) difference(i, j int) (value, variance float64) {
	r, e := q.reported[i], q.expected[j]
	return r.Value - e.Value, float64(r.Uncertainty*r.Uncertainty) + float64(e.Uncertainty*e.Uncertainty)
}

// fit takes the offset with the report of channel i compared with mount permutation[i].
func (q quantity) fit(permutation []int) offsetFit {
	values, variances := make([]float64, len(permutation)), make([]float64, len(permutation))
	for i, j := range permutation {
		values[i], variances[i] = q.difference(i, j)
	}
	return fitOffset(values, variances)
}

// deviation is that of channel i from its own mount, with the offset of the fit:
// u^2 = u_i^2 + u_o^2 - 2 cov, where the covariance counts the weight with which the report i and the mount i went into
// the offset (JCGM 100:2008 Eq. 13).
func (q quantity) deviation(i int, permutation []int, fit offsetFit) Deviation {
	value, variance := q.difference(i, i)
	covariance := 0.0
	for k, j := range permutation {
		if k == i {
			covariance += float64(fit.weights[k]*q.reported[i].Uncertainty) * q.reported[i].Uncertainty
		}
		if j == i {
			covariance += float64(fit.weights[k]*q.expected[i].Uncertainty) * q.expected[i].Uncertainty
		}
	}
	squared := variance + float64(fit.Uncertainty*fit.Uncertainty) - 2*covariance
	if squared < 1e-9*variance {
		// The offset is this channel's own difference: nothing is left to judge, and what is computed is rounding.
		return Deviation{}
	}
	return Deviation{Value: value - fit.Value, Uncertainty: math.Sqrt(squared), Known: true}
}

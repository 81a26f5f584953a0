package sound

import (
	"math"
	"slices"
)

// Offset is what all reports of a group have in common beyond the geometry: for distances the delay of the processing, in
// metres; for trims the reference that was chosen, in decibels.
type Offset struct {
	Value       float64
	Uncertainty float64 // standard
	Used        int     // channels that agree, from which it was taken
	Freedom     int     // degrees of freedom left to judge by, Used - 1
}

// Known tells whether the offset could be parted from the deviations: that takes two channels.
func (o Offset) Known() bool { return o.Freedom >= 1 }

// offsetFit is an offset and the weights by which the values made it; the weights add to 1.
type offsetFit struct {
	Offset
	weights []float64
}

// outlying is the distance from the median, in standard uncertainties, beyond which a value takes no part in the offset.
// Common practice, no source.
const outlying = 3

// fitOffset takes the offset of values with the given variances robustly: those near the median, at least a majority, are
// averaged with weights 1/variance (the weighted mean; its variance is 1/sum of weights). The median counts channels and
// not weights, so that one wrong report with a small claimed uncertainty does not carry the others with it.
func fitOffset(values, variances []float64) offsetFit {
	n := len(values)
	fit := offsetFit{weights: make([]float64, n)}
	middle := median(values)
	mean := 0.0
	for _, v := range variances {
		mean += v / float64(n)
	}
	// The median of a normal sample has pi/2 times the variance of its mean.
	medianVariance := math.Pi / 2 * mean / float64(n)
	score := func(i int) float64 { return math.Abs(values[i]-middle) / math.Sqrt(variances[i]+medianVariance) }
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch sa, sb := score(a), score(b); {
		case sa < sb:
			return -1
		case sa > sb:
			return 1
		}
		return 0
	})
	sum := 0.0
	for rank, i := range order {
		if rank > n/2 && score(i) > outlying {
			break
		}
		fit.Used++
		fit.weights[i] = 1 / variances[i]
		sum += fit.weights[i]
	}
	for i := range values {
		fit.weights[i] /= sum
		// From the middle, so that large values with small differences lose nothing.
		fit.Value += float64(fit.weights[i] * (values[i] - middle))
	}
	fit.Value += middle
	fit.Uncertainty = 1 / math.Sqrt(sum)
	fit.Freedom = fit.Used - 1
	return fit
}

func median(values []float64) float64 {
	sorted := slices.Clone(values)
	slices.Sort(sorted)
	n := len(sorted)
	if n%2 == 1 {
		return sorted[n/2]
	}
	return (sorted[n/2-1] + sorted[n/2]) / 2
}

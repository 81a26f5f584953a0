package sound

import "math"

// ChiSquareTail is the probability that a chi-square variable with the given degrees of freedom exceeds x, from the finite
// series for whole degrees of freedom (Abramowitz and Stegun, 26.4.4 and 26.4.5; numbers from memory, not verified).
// It is 1 for x of 0 or less. For fewer than 1 degree of freedom, or an x that is not a number, it is 1 as well, so that
// nothing becomes significant by mistake.
func ChiSquareTail(x float64, freedom int) float64 {
	if !(x > 0) || freedom < 1 {
		return 1
	}
	if math.IsInf(x, 1) {
		return 0
	}
	// Terms are x^k e^(-x/2) over a product of every other number below; each is built from the last, in logarithms at
	// first, so that neither a large x nor many degrees of freedom overflow.
	logTerm, sum, k := -x/2, 0.0, 2
	if freedom%2 == 1 {
		sum = math.Erfc(math.Sqrt(x / 2))
		logTerm += math.Log(2*x/math.Pi) / 2
		k = 3
	}
	for ; k <= freedom; k += 2 {
		sum += math.Exp(logTerm)
		logTerm += math.Log(x / float64(k))
	}
	return min(sum, 1)
}

// chiSquareQuantile is the x with a tail of probability p, for 0 < p < 1, to a few parts in 10^12.
func chiSquareQuantile(p float64, freedom int) float64 {
	low, high := 0.0, 1.0
	for ChiSquareTail(high, freedom) > p {
		low, high = high, 2*high
	}
	for range 60 {
		middle := (low + high) / 2
		if ChiSquareTail(middle, freedom) > p {
			low = middle
		} else {
			high = middle
		}
	}
	return high
}

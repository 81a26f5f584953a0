package gauge

import "math"

// Phi is the standard normal distribution function.
func Phi(x float64) float64 { return math.Erfc(-x/math.Sqrt2) / 2 }

// PhiInverse is the quantile of the standard normal distribution; NaN unless 0 < p < 1.
func PhiInverse(p float64) float64 {
	if !(p > 0 && p < 1) {
		return math.NaN()
	}
	return -math.Sqrt2 * math.Erfcinv(2*p)
}

// Conformance is the probability that the true value lies inside the limits, given a normal distribution around value
// with standard uncertainty u: Phi((upper-value)/u) - Phi((lower-value)/u) (JCGM 106:2012 clause 7). With u = 0 it is 1
// inside, the limits included, and 0 outside. It is 0 for
// a value or u that is not finite, for negative u and for limits that permit nothing.
func (l Limits) Conformance(value, u float64) float64 {
	if !finite(value) || !finite(u) || u < 0 || !(l.Lower <= l.Upper) {
		return 0
	}
	return max(0, 1-tail(value-l.Lower, u)-tail(l.Upper-value, u))
}

// tail is the probability of more than margin away to one side.
func tail(margin, u float64) float64 {
	switch {
	case u > 0:
		return Phi(-margin / u)
	case margin >= 0:
		return 0
	}
	return 1
}

// ConformanceDisc is the probability that a true position lies within distance t of the target when the measured one
// falls on it, with standard uncertainty s on each of two axes: 1 - exp(-t^2 / 2 s^2). 0 for input that is not finite,
// for negative t and for negative s; with s = 0 it is 1.
func ConformanceDisc(t, s float64) float64 {
	z, sure := ratio(t, s)
	if sure || z == 0 {
		return z
	}
	return -math.Expm1(-z * z / 2)
}

// ConformanceBall is [ConformanceDisc] for three axes: erf(z/sqrt 2) - sqrt(2/pi) z exp(-z^2/2), z = t/s.
func ConformanceBall(t, s float64) float64 {
	z, sure := ratio(t, s)
	if sure || z == 0 {
		return z
	}
	return max(0, math.Erf(z/math.Sqrt2)-float64(math.Sqrt(2/math.Pi)*z*math.Exp(-z*z/2)))
}

// ratio is t/s; sure tells that it is already the probability, 0 or 1.
func ratio(t, s float64) (z float64, sure bool) {
	switch {
	case !finite(t) || !finite(s) || t < 0 || s < 0:
		return 0, true
	case s == 0 || math.IsInf(t/s, 0):
		return 1, true
	}
	return t / s, false
}

// Coverage is the factor k by which a standard uncertainty with the given degrees of freedom (0 for unlimited) is
// expanded to cover probability p: the two-sided quantile of Student's t distribution (JCGM 100:2008 G.3), or of the
// normal one. Verdicts use [K] throughout; this tells how much few readings would ask. NaN unless 0 < p < 1 and
// freedom is 0 or at least 1.
func Coverage(p, freedom float64) float64 {
	if !(p > 0 && p < 1) || !(freedom == 0 || freedom >= 1) {
		return math.NaN()
	}
	q := (1 - p) / 2
	if freedom == 0 || math.IsInf(freedom, 0) {
		return -PhiInverse(q)
	}
	lower, upper := 0.0, 1.0
	for studentTail(upper, freedom) > q {
		lower, upper = upper, 2*upper
	}
	for range 200 {
		middle := lower + (upper-lower)/2
		if middle == lower || middle == upper {
			break
		}
		if studentTail(middle, freedom) > q {
			lower = middle
		} else {
			upper = middle
		}
	}
	return upper
}

// studentTail is P(T > t) for t >= 0: half the regularised incomplete beta function of nu/2 and 1/2 at nu/(nu+t^2).
func studentTail(t, nu float64) float64 {
	return regularisedBeta(nu/(nu+t*t), t*t/(nu+t*t), nu/2, 0.5) / 2
}

// regularisedBeta is I_x(a, b), with y = 1-x given apart because the difference would lose it for x near 1. It sums the
// continued fraction of the incomplete beta function (Abramowitz and Stegun 26.5.8, number from memory,
// not verified) from the side where it converges.
func regularisedBeta(x, y, a, b float64) float64 {
	if x <= 0 {
		return 0
	}
	if y <= 0 {
		return 1
	}
	if x > (a+1)/(a+b+2) {
		return 1 - regularisedBeta(y, x, b, a)
	}
	la, _ := math.Lgamma(a)
	lb, _ := math.Lgamma(b)
	lab, _ := math.Lgamma(a + b)
	front := math.Exp(a*math.Log(x)+b*math.Log(y)+lab-la-lb) / a

	// Backward evaluation with a fixed number of terms needs no guard against a vanishing denominator.
	f := 1.0
	for m := 400; m >= 1; m-- {
		i := float64(m / 2)
		var d float64
		if m%2 == 0 {
			d = i * (b - i) * x / ((a + 2*i - 1) * (a + 2*i))
		} else {
			d = -(a + i) * (a + b + i) * x / ((a + 2*i) * (a + 2*i + 1))
		}
		f = 1 + d/f
	}
	return front / f
}

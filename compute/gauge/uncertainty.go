package gauge

import (
	"errors"
	"fmt"
	"math"
)

var (
	// ErrInput is returned when a value is not finite, an uncertainty is negative, or lists do not match.
	ErrInput = errors.New("gauge: bad input")
	// ErrReadings is returned when there are too few readings for what is asked.
	ErrReadings = errors.New("gauge: too few readings")
)

// Component is one source of uncertainty of an input quantity.
type Component struct {
	Name     string
	Standard float64 // standard uncertainty, in the unit of the input quantity
	Freedom  float64 // degrees of freedom, 0 for unlimited
	Basis    string  // where the figure comes from
}

// Contribution is what a component does to a result.
type Contribution struct {
	Component
	Sensitivity float64 // change of the result by change of the input
	Effect      float64 // |Sensitivity| x Standard, in the unit of the result
	Share       float64 // of the result's variance, 0 to 1
}

// Uncertainty is that of a result.
type Uncertainty struct {
	Standard      float64        // standard uncertainty, in the unit of the result
	Freedom       float64        // effective degrees of freedom, 0 for unlimited
	Contributions []Contribution // largest share first
}

// Expanded is the standard uncertainty times [K].
func (u Uncertainty) Expanded() float64 { return K * u.Standard }

// As makes the uncertainty a component of a further result.
func (u Uncertainty) As(name, basis string) Component {
	return Component{Name: name, Standard: u.Standard, Freedom: u.Freedom, Basis: basis}
}

// Measured is a value and what it is worth.
type Measured struct {
	Value       float64
	Uncertainty Uncertainty
}

// Combine is the root of the sum of squares, the combined standard uncertainty of independent effects in one unit.
func Combine(effects ...float64) float64 {
	sum := 0.0
	for _, u := range effects {
		sum = math.Hypot(sum, u)
	}
	return sum
}

// Propagate is the law of propagation for independent inputs (JCGM 100:2008 Eq. 10),
// u^2 = sum (c_i u_i)^2, with sens[i] = c_i the sensitivity to components[i]. Effective degrees of freedom follow
// Welch-Satterthwaite (Eq. G.2b), nu = u^4 / sum ((c_i u_i)^4 / nu_i). Second-order terms are left out: it holds where
// the result is nearly linear over its inputs' uncertainties.
//
// The error is [ErrInput], and names the component.
func Propagate(sens []float64, components []Component) (Uncertainty, error) {
	if len(sens) != len(components) {
		return Uncertainty{}, fmt.Errorf("%w: read %d sensitivities for %d components, want one each", ErrInput, len(sens), len(components))
	}
	u := Uncertainty{Contributions: make([]Contribution, len(components))}
	largest := 0.0
	for i, c := range components {
		if !(c.Standard >= 0) || !finite(c.Standard) || !finite(sens[i]) || !(c.Freedom >= 0) {
			return Uncertainty{}, fmt.Errorf("%w: %.40q: read sensitivity %g, standard uncertainty %g, freedom %g, want finite and not negative",
				ErrInput, c.Name, sens[i], c.Standard, c.Freedom)
		}
		effect := math.Abs(sens[i]) * c.Standard
		largest = max(largest, effect)
		u.Contributions[i] = Contribution{Component: c, Sensitivity: sens[i], Effect: effect}
	}
	if largest == 0 {
		return u, nil
	}
	// Scaled by the largest effect, squares and fourth powers can neither vanish nor overflow.
	var squares, fourths float64
	for i := range u.Contributions {
		c := &u.Contributions[i]
		c.Share = float64(c.Effect/largest) * float64(c.Effect/largest)
		squares += c.Share
		if c.Freedom > 0 && !math.IsInf(c.Freedom, 0) {
			fourths += float64(c.Share*c.Share) / c.Freedom
		}
	}
	u.Standard = largest * math.Sqrt(squares)
	if !finite(u.Standard) {
		return Uncertainty{}, fmt.Errorf("%w: the combined uncertainty is too large for a number", ErrInput)
	}
	if fourths > 0 {
		u.Freedom = float64(squares*squares) / fourths
	}
	for i := range u.Contributions {
		u.Contributions[i].Share /= squares
	}
	sortByShare(u.Contributions)
	return u, nil
}

// sortByShare keeps the given order among equals. The lists are a handful long, and this allocates nothing.
func sortByShare(c []Contribution) {
	for i := 1; i < len(c); i++ {
		for j := i; j > 0 && c[j].Share > c[j-1].Share; j-- {
			c[j], c[j-1] = c[j-1], c[j]
		}
	}
}

// Correlated is the law of propagation with correlated inputs (JCGM 100:2008 Eq. 16),
// u^2 = sum sum c_i c_j u_i u_j r_ij, where correlation[i][j] = r_ij is symmetric with ones on its diagonal.
// The error is [ErrInput].
func Correlated(sens, standard []float64, correlation [][]float64) (float64, error) {
	n := len(sens)
	if len(standard) != n || len(correlation) != n {
		return 0, fmt.Errorf("%w: read %d sensitivities, %d uncertainties, %d rows of correlation, want as many", ErrInput, n, len(standard), len(correlation))
	}
	sum := 0.0
	for i := range n {
		if len(correlation[i]) != n || correlation[i][i] != 1 {
			return 0, fmt.Errorf("%w: row %d of correlation: want %d numbers with 1 on the diagonal", ErrInput, i, n)
		}
		for j := range n {
			r := correlation[i][j]
			if !(math.Abs(r) <= 1) || r != correlation[j][i] || !finite(sens[i]) || !finite(standard[i]) || standard[i] < 0 {
				return 0, fmt.Errorf("%w: row %d: want finite sensitivities, uncertainties of 0 or more, and symmetric correlation from -1 to 1", ErrInput, i)
			}
			sum += float64(float64(sens[i]*standard[i]) * float64(sens[j]*standard[j]) * r)
		}
	}
	// Full correlation can bring the sum to 0, and rounding below it.
	u := math.Sqrt(max(sum, 0))
	if !finite(u) {
		return 0, fmt.Errorf("%w: the combined uncertainty is too large for a number", ErrInput)
	}
	return u, nil
}

// Repeat is the type A evaluation of repeat readings (JCGM 100:2008 4.2): their mean, and the standard uncertainty of
// the mean s/sqrt(n) with n-1 degrees of freedom, s^2 = sum (x - mean)^2 / (n-1). The error is [ErrReadings] for fewer than
// two, [ErrInput] for one that is not finite.
func Repeat(readings []float64) (mean float64, c Component, err error) {
	if len(readings) < 2 {
		return 0, c, fmt.Errorf("%w: read %d, want at least 2", ErrReadings, len(readings))
	}
	mean, s, err := meanAndSpread(readings)
	if err != nil {
		return 0, c, err
	}
	n := float64(len(readings))
	return mean, Component{Name: "repeat readings", Standard: s / math.Sqrt(n), Freedom: n - 1, Basis: "spread of the readings"}, nil
}

// meanAndSpread gives the mean and, for two readings or more, the experimental standard deviation.
func meanAndSpread(readings []float64) (mean, s float64, err error) {
	// Deviations from the first reading, so that equal readings have exactly no spread.
	first, sum := readings[0], 0.0
	for _, x := range readings {
		if !finite(x) {
			return 0, 0, fmt.Errorf("%w: reading %g, want a finite number", ErrInput, x)
		}
		sum += x - first
	}
	n := float64(len(readings))
	mean = first + sum/n
	if len(readings) > 1 {
		squares := 0.0
		for _, x := range readings {
			d := x - mean
			squares += float64(d * d)
		}
		s = math.Sqrt(squares / (n - 1))
	}
	if !finite(mean) || !finite(s) {
		return 0, 0, fmt.Errorf("%w: readings too far apart for a mean", ErrInput)
	}
	return mean, s, nil
}

// Distance is the length of an offset and its standard uncertainty, u_d^2 = sum ((x_i/d) u_i)^2, for independent
// components with standard uncertainties u. Without an offset there is no direction to take a part of: u_d is then the
// largest u, and [ConformanceDisc] or [ConformanceBall] says what it means. The error is [ErrInput].
func Distance(offset, u []float64) (d, standard float64, err error) {
	if len(offset) != len(u) {
		return 0, 0, fmt.Errorf("%w: read %d offsets and %d uncertainties, want as many", ErrInput, len(offset), len(u))
	}
	for i, x := range offset {
		if !finite(x) || !finite(u[i]) || u[i] < 0 {
			return 0, 0, fmt.Errorf("%w: offset %g with uncertainty %g, want finite, uncertainty 0 or more", ErrInput, x, u[i])
		}
		d = math.Hypot(d, x)
		standard = max(standard, u[i])
	}
	if d == 0 {
		return 0, standard, nil
	}
	standard = 0
	for i, x := range offset {
		standard = math.Hypot(standard, x/d*u[i])
	}
	return d, standard, nil
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

package place

import (
	"math"
	"slices"
)

// adjustment is a least-squares problem: distances that depend on unknowns, each with a weight.
type adjustment struct {
	unknowns  int
	distances []float64
	weights   []float64 // 1/u²
	// observe is distance i computed from the unknowns x; it adds its gradient to row.
	observe func(x []float64, i int, row []float64) float64
}

// adjusted is an adjustment at some values of the unknowns.
type adjusted struct {
	x         []float64
	residuals []float64 // v: measured less computed
	squares   float64   // vᵀWv
	right     []float64 // JᵀWv
	values    []float64 // eigenvalues of the normal matrix JᵀWJ, ascending
	vectors   [][]float64
}

// solve is Gauss–Newton, dx = (JᵀWJ)⁻¹JᵀWv, damped after Levenberg and Marquardt where a full step does not reduce vᵀWv.
// It ends when the step is below 1e-10 m.
func (p adjustment) solve(start []float64) adjusted {
	at, damping := p.at(start), 0.0
	for range 500 {
		dx := at.step(damping)
		next := make([]float64, p.unknowns)
		for k := range next {
			next[k] = at.x[k] + dx[k]
		}
		if trial := p.at(next); trial.squares <= at.squares {
			at, damping = trial, damping/10
		} else {
			damping = math.Max(10*damping, 1e-9)
		}
		if !(norm(dx) > 1e-10) {
			break
		}
	}
	return at
}

// at lays out the problem at some values of the unknowns.
func (p adjustment) at(x []float64) adjusted {
	a := adjusted{x: x, right: make([]float64, p.unknowns)}
	normal := matrix(p.unknowns)
	row := make([]float64, p.unknowns)
	for i, measured := range p.distances {
		clear(row)
		v, w := measured-p.observe(x, i, row), p.weights[i]
		a.residuals = append(a.residuals, v)
		a.squares += w * v * v
		for j := range row {
			a.right[j] += w * row[j] * v
			for k := range row {
				normal[j][k] += w * row[j] * row[k]
			}
		}
	}
	a.values, a.vectors = eigen(normal)
	return a
}

// step is (JᵀWJ + damping·λmax)⁻¹JᵀWv. Directions in which the distances say nothing are left alone.
func (a adjusted) step(damping float64) []float64 {
	dx := make([]float64, len(a.x))
	most := a.values[len(a.values)-1]
	for i, value := range a.values {
		if value += damping * most; value <= most*1e-15 {
			continue
		}
		v := a.vectors[i]
		var along float64
		for k := range v {
			along += v[k] * a.right[k]
		}
		for k := range v {
			dx[k] += v[k] * along / value
		}
	}
	return dx
}

// condition is the greatest standard uncertainty of any combination of the unknowns over the least: √(λmax/λmin) of the
// normal matrix, infinite where it is singular.
func (a adjusted) condition() float64 {
	return math.Sqrt(a.values[len(a.values)-1] / math.Max(a.values[0], 0))
}

// covariance is (JᵀWJ)⁻¹.
func (a adjusted) covariance() [][]float64 {
	c := matrix(len(a.x))
	for i, value := range a.values {
		for j, vj := range a.vectors[i] {
			for k, vk := range a.vectors[i] {
				c[j][k] += vj * vk / value
			}
		}
	}
	return c
}

// matrix is an n × n matrix of zeros.
func matrix(n int) [][]float64 {
	m := make([][]float64, n)
	for i := range m {
		m[i] = make([]float64, n)
	}
	return m
}

// scale multiplies a matrix by k.
func scale(m [][]float64, k float64) {
	for _, row := range m {
		for j := range row {
			row[j] *= k
		}
	}
}

func norm(x []float64) float64 {
	var sum float64
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum)
}

// eigen are the eigenvalues, ascending, and unit eigenvectors of a symmetric matrix: Jacobi's rotations, each of which
// makes one pair of off-diagonal elements zero, until all are. The matrix is used up.
func eigen(a [][]float64) (values []float64, vectors [][]float64) {
	n := len(a)
	vectors = matrix(n)
	for i := range n {
		vectors[i][i] = 1
	}
	for range 60 {
		var off, all float64
		for i := range n {
			for j := range n {
				all += a[i][j] * a[i][j]
				if i != j {
					off += a[i][j] * a[i][j]
				}
			}
		}
		if off <= all*1e-32 {
			break
		}
		for p := range n {
			for q := p + 1; q < n; q++ {
				rotate(a, vectors, p, q)
			}
		}
	}
	order := make([]int, n)
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(i, j int) int {
		if a[i][i] < a[j][j] {
			return -1
		}
		return 1
	})
	sorted := make([][]float64, n)
	for k, i := range order {
		values = append(values, a[i][i])
		sorted[k] = vectors[i]
	}
	return values, sorted
}

// rotate turns rows and columns p and q so that a[p][q] vanishes: tan(2φ) = 2a_pq/(a_pp - a_qq).
func rotate(a, vectors [][]float64, p, q int) {
	if a[p][q] == 0 {
		return
	}
	sin, cos := math.Sincos(math.Atan2(2*a[p][q], a[p][p]-a[q][q]) / 2)
	for k := range a {
		a[p][k], a[q][k] = cos*a[p][k]+sin*a[q][k], cos*a[q][k]-sin*a[p][k]
	}
	for k := range a {
		a[k][p], a[k][q] = cos*a[k][p]+sin*a[k][q], cos*a[k][q]-sin*a[k][p]
		vectors[p][k], vectors[q][k] = cos*vectors[p][k]+sin*vectors[q][k], cos*vectors[q][k]-sin*vectors[p][k]
	}
}

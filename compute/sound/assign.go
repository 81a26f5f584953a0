package sound

import (
	"fmt"
	"math"
)

// Assign finds the assignment of rows to columns with the least total cost, by the Hungarian method with shortest
// augmenting paths in O(n^3). columns[i] is the column of row i. Among assignments of equal cost any may be returned, the
// same for the same input.
//
// The error is [ErrList] if cost is empty or not square, [ErrInput] if an entry is not finite or larger than 1e150, where
// sums could overflow.
func Assign(cost [][]float64) (columns []int, total float64, err error) {
	n := len(cost)
	if n == 0 {
		return nil, 0, fmt.Errorf("%w: cost: read no rows, want at least 1", ErrList)
	}
	for i, row := range cost {
		if len(row) != n {
			return nil, 0, fmt.Errorf("%w: cost: row %d: read %d entries, want %d", ErrList, i+1, len(row), n)
		}
		for j, c := range row {
			if !(math.Abs(c) <= 1e150) {
				return nil, 0, fmt.Errorf("%w: cost of row %d, column %d: read %g, want a finite number to 1e150", ErrInput, i+1, j+1, c)
			}
		}
	}
	columns = hungarian(cost)
	for i, j := range columns {
		total += cost[i][j]
	}
	return columns, total, nil
}

// hungarian adds one row at a time. Potentials keep every reduced cost cost[i][j] - rows[i] - cols[j] at 0 or more, and at
// 0 for assigned pairs; so a shortest path over reduced costs from the new row to a free column, along which assignments
// alternate, keeps the assignment optimal for the rows it holds.
func hungarian(cost [][]float64) []int {
	n := len(cost)
	const free = -1
	var (
		rows, cols = make([]float64, n), make([]float64, n)
		rowOf      = make([]int, n)     // row assigned to a column
		distance   = make([]float64, n) // of the shortest path found to a column
		before     = make([]int, n)     // column before it on that path, free at the start
		settled    = make([]bool, n)
	)
	for j := range rowOf {
		rowOf[j] = free
	}
	for start := range n {
		for j := range n {
			distance[j], before[j], settled[j] = math.Inf(1), free, false
		}
		// Grow the tree of shortest paths until it reaches a free column.
		row, from, reached := start, free, 0.0
		for {
			next, least := free, math.Inf(1)
			for j := range n {
				if settled[j] {
					continue
				}
				if d := reached + (cost[row][j] - rows[row] - cols[j]); d < distance[j] {
					distance[j], before[j] = d, from
				}
				if distance[j] < least {
					next, least = j, distance[j]
				}
			}
			settled[next], from, reached = true, next, least
			if rowOf[next] == free {
				break
			}
			row = rowOf[next]
		}
		// Raise the potentials of the tree so that its paths cost nothing.
		rows[start] += reached
		for j := range n {
			if settled[j] && j != from {
				rows[rowOf[j]] += reached - distance[j]
				cols[j] -= reached - distance[j]
			}
		}
		// Alternate the assignments along the path back to the new row.
		for j := from; j != free; {
			previous := before[j]
			if previous == free {
				rowOf[j] = start
			} else {
				rowOf[j] = rowOf[previous]
			}
			j = previous
		}
	}
	columns := make([]int, n)
	for j, i := range rowOf {
		columns[i] = j
	}
	return columns
}

// cycles lists the cycles of a permutation that move anything, each from its smallest member on.
func cycles(permutation []int) [][]int {
	seen := make([]bool, len(permutation))
	var out [][]int
	for start := range permutation {
		var cycle []int
		for i := start; !seen[i]; i = permutation[i] {
			seen[i] = true
			cycle = append(cycle, i)
		}
		if len(cycle) > 1 {
			out = append(out, cycle)
		}
	}
	return out
}

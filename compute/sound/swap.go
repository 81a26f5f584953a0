package sound

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// How a swap is decided. The significance levels are common practice, no source; how they are used is derived here.
const (
	// SwapSignificance is the chance, for a whole group, that a swap is named where there is none.
	SwapSignificance = 0.01
	// fitSignificance is the chance below which the reports of a cycle do not fit their new mounts either; then
	// something other than a swap is wrong, and none is named. It is small, because reports are often worse than they
	// claim, and a swap with a rest is still the thing to look for.
	fitSignificance = 1e-6
)

// Move is one channel of a [Swap].
type Move struct {
	Channel string // whose report it is
	Mount   string // the channel whose mount the report fits
	// Rivals are other mounts it fits as well, in an explanation that moves no more channels: the swap is then certain,
	// but not which way round.
	Rivals []string
}

// Swap is a cycle of exchanged channels that explains the reports significantly better than the names do.
type Swap struct {
	Moves       []Move  // each report fits the mount of the next channel, the last that of the first
	Improvement float64 // fall of chi-square over the cycle
	// Probability is the chance of such an improvement if nothing is swapped, corrected for the number of possible
	// cycles.
	Probability float64
}

// String tells the swap in words, such as "M+090 and M+135 look swapped".
func (s Swap) String() string {
	names := make([]string, len(s.Moves))
	moves := make([]string, len(s.Moves))
	rivals := false
	for i, m := range s.Moves {
		names[i] = m.Channel
		moves[i] = m.Channel + " fits the mount of " + strings.Join(append([]string{m.Mount}, m.Rivals...), " or ")
		rivals = rivals || len(m.Rivals) > 0
	}
	if len(names) == 2 && !rivals {
		return names[0] + " and " + names[1] + " look swapped"
	}
	last := len(names) - 1
	return fmt.Sprintf("%s and %s look exchanged: %s", strings.Join(names[:last], ", "), names[last], strings.Join(moves, "; "))
}

// search holds one search for swaps in a group.
type search struct {
	quantities []quantity
	size       int
	// price is what the search charges for every channel moved, so that of explanations that fit alike the one that moves
	// fewest is taken. Two of it are the improvement at which a swap of two becomes significant.
	price float64
}

func newSearch(quantities []quantity) search {
	s := search{quantities: quantities, size: len(quantities[0].reported)}
	s.price = chiSquareQuantile(SwapSignificance/s.possible(2), 2*len(quantities)) / 2
	return s
}

// identity is the assignment of every report to the mount of its name.
func (s search) identity() []int {
	permutation := make([]int, s.size)
	for i := range permutation {
		permutation[i] = i
	}
	return permutation
}

// findSwaps gives the assignment of reports to mounts that the significant swaps make, and the swaps.
//
// An assignment costs the sum of squared deviations over variances, distances and trims alike, each with the offset that
// fits it. If nothing is swapped, the chi-square of the members of any cycle has at most as many degrees of freedom as they
// have figures, and no exchange can lower it by more than all of it; so the tail of that distribution at the improvement
// bounds the chance of a false swap. There are n!/(m (n-m)!) cycles of m channels among n; the allowed chance is halved
// with each channel more (Bonferroni's inequality, with weights 1/2, 1/4, ... that add to less than 1).
func (g group) findSwaps(s search) ([]int, []Swap) {
	identity := s.identity()
	named := s.costs(s.offsets(identity))
	permutation := s.best(identity)

	// A cycle that does not count is undone, which shifts the offsets: the others are then looked at again.
	for {
		costs := s.costs(s.offsets(permutation))
		var swaps []Swap
		undone := false
		for _, cycle := range cycles(permutation) {
			swap, counts := s.judge(cycle, permutation, named, costs)
			if !counts {
				for _, i := range cycle {
					permutation[i] = i
				}
				undone = true
				continue
			}
			for _, i := range cycle {
				swap.Moves = append(swap.Moves, g.move(i, permutation, s.rivals(i, permutation, costs)))
			}
			swaps = append(swaps, swap)
		}
		if !undone {
			return permutation, swaps
		}
	}
}

func (g group) move(i int, permutation, rivals []int) Move {
	m := Move{Channel: g[i].Name, Mount: g[permutation[i]].Name}
	for _, j := range rivals {
		m.Rivals = append(m.Rivals, g[j].Name)
	}
	return m
}

// possible is the number of cycles of m channels among all, times the weight of Bonferroni's inequality.
func (s search) possible(m int) float64 {
	count := math.Exp2(float64(m-1)) / float64(m)
	for k := s.size - m + 1; k <= s.size; k++ {
		count *= float64(k)
	}
	return count
}

// judge tells what a cycle improves and whether it counts: significant, and fitting.
func (s search) judge(cycle, permutation []int, named, costs [][]float64) (Swap, bool) {
	before, after := 0.0, 0.0
	for _, i := range cycle {
		before += named[i][i]
		after += costs[i][permutation[i]]
	}
	freedom := len(cycle) * len(s.quantities)
	swap := Swap{Improvement: before - after}
	swap.Probability = min(1, s.possible(len(cycle))*ChiSquareTail(swap.Improvement, freedom))
	significant := millionths(swap.Probability) <= millionths(SwapSignificance)
	fits := millionths(ChiSquareTail(after, freedom)) >= millionths(fitSignificance)
	return swap, significant && fits
}

// millionths makes a probability a whole number, so that machines whose last bits differ compare it alike.
func millionths(p float64) int64 { return int64(math.Round(p * 1e6)) }

// offsets fits the offset of every quantity to an assignment.
func (s search) offsets(permutation []int) []offsetFit {
	fits := make([]offsetFit, len(s.quantities))
	for k, q := range s.quantities {
		fits[k] = q.fit(permutation)
	}
	return fits
}

// plainOffsets are the unweighted means of all differences, which no permutation changes: a start that does not depend on
// the names being right.
func (s search) plainOffsets() []offsetFit {
	fits := make([]offsetFit, len(s.quantities))
	for k, q := range s.quantities {
		variances := 0.0
		for i := range s.size {
			value, variance := q.difference(i, i)
			fits[k].Value += value / float64(s.size)
			variances += variance / float64(s.size)
		}
		fits[k].Uncertainty = math.Sqrt(variances / float64(s.size))
	}
	return fits
}

// costs is the chi-square of every report at every mount.
func (s search) costs(fits []offsetFit) [][]float64 {
	costs := make([][]float64, s.size)
	for i := range costs {
		costs[i] = make([]float64, s.size)
		for j := range costs[i] {
			for k, q := range s.quantities {
				value, variance := q.difference(i, j)
				d := value - fits[k].Value
				costs[i][j] += float64(d*d) / (variance + float64(fits[k].Uncertainty*fits[k].Uncertainty))
			}
		}
	}
	return costs
}

// priced is what the search minimises: the price of every channel moved, and costs capped at four times that. One wrong
// report e standard uncertainties off can be shared out over m channels, each taking e/m, which saves e^2 (1 - 1/m); under
// the cap that is never more than the price of moving the m, so a lone wrong report does not pass for a swap.
func (s search) priced(costs [][]float64) [][]float64 {
	out := make([][]float64, s.size)
	for i := range out {
		out[i] = make([]float64, s.size)
		for j := range out[i] {
			out[i][j] = min(costs[i][j], 4*s.price)
			if i != j {
				out[i][j] += s.price
			}
		}
	}
	return out
}

// total is what the search minimises for an assignment.
func (s search) total(costs [][]float64, permutation []int) float64 {
	sum := 0.0
	for i, c := range s.priced(costs) {
		sum += c[permutation[i]]
	}
	return sum
}

// best searches the assignment of least priced cost, offsets and assignment in turn until neither changes, from the
// offsets by name and from the plain ones; the names stand if nothing is cheaper.
func (s search) best(identity []int) []int {
	best := slices.Clone(identity)
	least := s.total(s.costs(s.offsets(identity)), identity)
	for _, fits := range [][]offsetFit{s.offsets(identity), s.plainOffsets()} {
		var permutation []int
		for range 10 {
			next := hungarian(s.priced(s.costs(fits)))
			if slices.Equal(next, permutation) {
				break
			}
			permutation = next
			fits = s.offsets(permutation)
		}
		if total := s.total(s.costs(fits), permutation); total < least {
			best, least = permutation, total
		}
	}
	return best
}

// unseen lists the pairs of channels whose exchange would not be significant even with reports free of error.
func (s search) unseen() [][2]int {
	fits := s.offsets(s.identity())
	var out [][2]int
	for i := range s.size {
		for j := i + 1; j < s.size; j++ {
			improvement := 0.0
			for k, q := range s.quantities {
				apart := q.expected[i].Value - q.expected[j].Value
				for _, own := range []int{i, j} {
					_, variance := q.difference(own, own)
					improvement += float64(apart*apart) / (variance + float64(fits[k].Uncertainty*fits[k].Uncertainty))
				}
			}
			if improvement < 2*s.price {
				out = append(out, [2]int{i, j})
			}
		}
	}
	return out
}

// rivals are the mounts other than its own and the one assigned that report i fits as well: the best assignment that puts
// it there moves no more channels and costs no more than the 1 % point of chi-square with one degree of freedom beyond.
func (s search) rivals(i int, permutation []int, costs [][]float64) []int {
	const asWell = 6.63
	priced := s.priced(costs)
	sum, moved := s.fitOf(priced, permutation)
	var out []int
	for j := range s.size {
		if j == permutation[i] || j == i {
			continue
		}
		otherSum, otherMoved := s.fitOf(priced, forced(priced, i, j))
		if otherMoved <= moved && otherSum <= sum+asWell {
			out = append(out, j)
		}
	}
	return out
}

// fitOf is the cost of an assignment without the price of moving, and the number of channels it moves.
func (s search) fitOf(priced [][]float64, permutation []int) (sum float64, moved int) {
	for i, j := range permutation {
		sum += priced[i][j]
		if i != j {
			moved++
		}
	}
	return sum - float64(moved)*s.price, moved
}

// forced is the best assignment that gives row i column j.
func forced(costs [][]float64, i, j int) []int {
	rest := make([][]float64, 0, len(costs)-1)
	for k, row := range costs {
		if k != i {
			rest = append(rest, slices.Delete(slices.Clone(row), j, j+1))
		}
	}
	permutation := make([]int, 0, len(costs))
	for _, column := range hungarian(rest) {
		if column >= j {
			column++
		}
		permutation = append(permutation, column)
	}
	return slices.Insert(permutation, i, j)
}

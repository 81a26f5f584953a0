package sound_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/combin"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"

	"hangtrue/compute/sound"
)

// bruteForce is the least total over all n! assignments, enumerated by gonum.
func bruteForce(cost [][]float64) float64 {
	least := math.Inf(1)
	for _, permutation := range combin.Permutations(len(cost), len(cost)) {
		total := 0.0
		for i, j := range permutation {
			total += cost[i][j]
		}
		least = min(least, total)
	}
	return least
}

func matrix(t *rapid.T, entry *rapid.Generator[float64]) [][]float64 {
	n := rapid.IntRange(1, 7).Draw(t, "n")
	cost := make([][]float64, n)
	for i := range cost {
		cost[i] = rapid.SliceOfN(entry, n, n).Draw(t, "row")
	}
	return cost
}

func TestAssign_AgainstAllPermutations(t *testing.T) {
	entries := map[string]*rapid.Generator[float64]{
		"spread": rapid.Float64Range(-100, 100),
		"ties":   rapid.Map(rapid.IntRange(0, 3), func(i int) float64 { return float64(i) }),
	}
	for name, entry := range entries {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				cost := matrix(t, entry)
				columns, total, err := sound.Assign(cost)
				require.NoError(t, err)
				assert.InDelta(t, bruteForce(cost), total, 1e-9)
				sum, seen := 0.0, make([]bool, len(cost))
				for i, j := range columns {
					assert.False(t, seen[j], "column %d twice", j)
					seen[j] = true
					sum += cost[i][j]
				}
				assert.InDelta(t, sum, total, 1e-12)
			})
		})
	}
}

// Adding a number to a row or a column adds it to every assignment, so that the best stays the best.
func TestAssign_ShiftsWithRowsAndColumns(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cost := matrix(t, rapid.Float64Range(-50, 50))
		_, before, err := sound.Assign(cost)
		require.NoError(t, err)
		row := rapid.IntRange(0, len(cost)-1).Draw(t, "row")
		column := rapid.IntRange(0, len(cost)-1).Draw(t, "column")
		for i := range cost {
			cost[row][i] += 7
			cost[i][column] -= 3
		}
		_, after, err := sound.Assign(cost)
		require.NoError(t, err)
		assert.InDelta(t, before+4, after, 1e-9)
	})
}

func TestAssign_Refuses(t *testing.T) {
	_, _, err := sound.Assign(nil)
	assert.ErrorIs(t, err, sound.ErrList)
	_, _, err = sound.Assign([][]float64{{1, 2}, {3}})
	assert.ErrorIs(t, err, sound.ErrList)
	assert.ErrorContains(t, err, "row 2")
	_, _, err = sound.Assign([][]float64{{1, 2}, {3, math.NaN()}})
	assert.ErrorIs(t, err, sound.ErrInput)
	_, _, err = sound.Assign([][]float64{{math.Inf(1)}})
	assert.ErrorIs(t, err, sound.ErrInput)
}

func TestChiSquareTail_AgainstGonum(t *testing.T) {
	for freedom := 1; freedom <= 64; freedom++ {
		reference := distuv.ChiSquared{K: float64(freedom)}
		for _, x := range []float64{1e-6, 0.01, 0.5, 1, 3.84, 6.63, 10, 18.6, 30, 64, 100, 300} {
			want, got := reference.Survival(x), sound.ChiSquareTail(x, freedom)
			assert.InEpsilon(t, want, got, 1e-9, "chi-square of %d at %g", freedom, x)
		}
	}
	assert.Equal(t, 1.0, sound.ChiSquareTail(0, 3))
	assert.Equal(t, 1.0, sound.ChiSquareTail(math.NaN(), 3))
	assert.Equal(t, 1.0, sound.ChiSquareTail(5, 0))
	assert.Equal(t, 0.0, sound.ChiSquareTail(math.Inf(1), 3))
	assert.Equal(t, 0.0, sound.ChiSquareTail(1e300, 64))
}

func BenchmarkAssign24(b *testing.B) {
	random := rand.New(rand.NewPCG(1, 2))
	cost := make([][]float64, 24)
	for i := range cost {
		cost[i] = make([]float64, 24)
		for j := range cost[i] {
			cost[i][j] = random.Float64()
		}
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := sound.Assign(cost); err != nil {
			b.Fatal(err)
		}
	}
}

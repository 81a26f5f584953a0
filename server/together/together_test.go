package together_test

import (
	"fmt"
	"runtime"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/server/together"
)

func TestGroup_Run_LoneCallerIsAlone(t *testing.T) {
	var rounds [][]int
	g := together.Group[int]{Do: func(items []int) []error {
		rounds = append(rounds, items)
		return make([]error, len(items))
	}}
	for i := range 3 {
		require.NoError(t, g.Run(i))
	}
	assert.Equal(t, [][]int{{0}, {1}, {2}}, rounds)
}

// TestGroup_Run_EveryItemOnce: each item is done once, its own error comes back to
// its caller, and no two rounds run at the same time.
func TestGroup_Run_EveryItemOnce(t *testing.T) {
	const callers, each = 16, 50
	done := map[int]int{} // guarded by the promise that rounds never overlap; the race detector tells
	rounds := 0
	g := together.Group[int]{Do: func(items []int) []error {
		rounds++
		errs := make([]error, len(items))
		for i, item := range items {
			done[item]++
			if item%7 == 0 {
				errs[i] = fmt.Errorf("no %d", item)
			}
		}
		return errs
	}}
	var wait sync.WaitGroup
	for c := range callers {
		wait.Go(func() {
			for i := range each {
				item := c*each + i
				err := g.Run(item)
				if item%7 == 0 {
					assert.EqualError(t, err, fmt.Sprintf("no %d", item))
				} else {
					assert.NoError(t, err)
				}
			}
		})
	}
	wait.Wait()
	assert.Len(t, done, callers*each)
	for item, n := range done {
		assert.Equal(t, 1, n, "item %d", item)
	}
	assert.LessOrEqual(t, rounds, callers*each)
}

// TestGroup_Run_WaitersShareTheNextRound: those who come while a round runs are
// done together in the next one.
func TestGroup_Run_WaitersShareTheNextRound(t *testing.T) {
	started, release := make(chan bool, 10), make(chan bool)
	var rounds [][]string
	g := together.Group[string]{}
	g.Do = func(items []string) []error {
		rounds = append(rounds, items)
		started <- true
		<-release
		return make([]error, len(items))
	}
	var wait sync.WaitGroup
	wait.Go(func() { assert.NoError(t, g.Run("first")) })
	<-started
	for range 5 {
		wait.Go(func() { assert.NoError(t, g.Run("later")) })
	}
	for g.Waiting() < 5 {
		runtime.Gosched()
	}
	release <- true
	<-started
	release <- true
	wait.Wait()
	require.Len(t, rounds, 2)
	assert.Len(t, rounds[1], 5)
}

// Command run plays seeds of the simulation and tells what happened in them. A
// seed that breaks a promise is shrunk and printed with everything that led there.
package main

import (
	"flag"
	"fmt"
	"log/slog"
	"maps"
	"os"
	"runtime"
	"runtime/debug"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"hangtrue/checklist/plan"
	"hangtrue/server/simulate"
)

func main() {
	slog.SetDefault(slog.New(slog.DiscardHandler))
	debug.SetGCPercent(400) // many small runs: memory for time
	seeds := flag.Int("seeds", 1000, "how many seeds to play")
	first := flag.Uint64("from", 1, "the first of them")
	every := flag.Uint64("every", 1, "play every so many of them; old backups come back in each eighth, so that -from 8 -every 8 plays those alone")
	one := flag.Uint64("seed", 0, "play this one alone and print everything that happens")
	skip := flag.String("skip", "", "steps to leave out of that one, such as 3,7,8")
	phones := flag.Int("phones", 3, "phones in a run")
	steps := flag.Int("steps", 60, "steps in a run")
	file := flag.String("plan", "testdata/plans/example.json", "the plan document")
	onDisk := flag.Int("disk", 0, "every so many seeds the store is a file; 0 for none")
	flag.Parse()
	if err := run(*seeds, *first, *every, *one, *phones, *steps, *onDisk, *file, *skip); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

func run(seeds int, first, every, one uint64, phones, steps, onDisk int, file, skip string) error {
	document, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	p, err := plan.Decode(document)
	if err != nil {
		return err
	}
	options := func(seed uint64) simulate.Options {
		o := simulate.Options{Seed: seed, Phones: phones, Steps: steps, Plan: p}
		if onDisk > 0 && seed%uint64(onDisk) == 0 {
			o.Folder = os.TempDir()
		}
		return o
	}
	if one != 0 {
		o := options(one)
		if o.Skip, err = stepsOf(skip); err != nil {
			return err
		}
		r := simulate.Run(o)
		for _, line := range r.Trace {
			fmt.Println(line)
		}
		if r.Broken != "" {
			return fmt.Errorf("seed %d: %s", one, r.Broken)
		}
		return nil
	}

	begun := time.Now()
	next := make(chan uint64)
	go func() {
		for i := range seeds {
			next <- first + every*uint64(i)
		}
		close(next)
	}()
	var (
		mu     sync.Mutex
		counts = map[string]int{}
		failed []simulate.Options
		work   sync.WaitGroup
	)
	for range runtime.NumCPU() {
		work.Go(func() {
			for seed := range next {
				r := simulate.Run(options(seed))
				mu.Lock()
				for what, n := range r.Counts {
					counts[what] += n
				}
				if r.Broken != "" {
					failed = append(failed, options(seed))
					fmt.Printf("seed %d: %s\n", seed, r.Broken)
				}
				mu.Unlock()
			}
		})
	}
	work.Wait()
	took := time.Since(begun)
	for _, what := range slices.Sorted(maps.Keys(counts)) {
		fmt.Printf("%10d %s\n", counts[what], what)
	}
	fmt.Printf("%d seeds in %.1f s, %.1f a second\n", seeds, took.Seconds(), float64(seeds)/took.Seconds())
	if len(failed) == 0 {
		return nil
	}
	slices.SortFunc(failed, func(a, b simulate.Options) int { return int(a.Seed) - int(b.Seed) })
	o, r := simulate.Shrink(failed[0])
	for _, line := range r.Trace {
		fmt.Println(line)
	}
	skipped := strings.Trim(strings.ReplaceAll(fmt.Sprint(slices.Sorted(maps.Keys(o.Skip))), " ", ","), "[]")
	return fmt.Errorf("%d seeds broke a promise; above is the first, shrunk: -seed %d -phones %d -steps %d -skip %s", len(failed), o.Seed, o.Phones, o.Steps, skipped)
}

// stepsOf reads a list of steps.
func stepsOf(list string) (map[int]bool, error) {
	steps := map[int]bool{}
	for one := range strings.SplitSeq(list, ",") {
		if one == "" {
			continue
		}
		n, err := strconv.Atoi(one)
		if err != nil {
			return nil, fmt.Errorf("-skip is %q, wanted steps such as 3,7,8", list)
		}
		steps[n] = true
	}
	return steps, nil
}

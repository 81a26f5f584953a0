package simulate_test

import (
	"flag"
	"log/slog"
	"os"
	"runtime"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/plan"
	"hangtrue/server/simulate"
)

var seeds = flag.Int("seeds", 100, "seeds that TestRun plays")

func TestMain(m *testing.M) {
	flag.Parse()
	slog.SetDefault(slog.New(slog.DiscardHandler))
	os.Exit(m.Run())
}

// example is a run of the two-loudspeaker example.
func example(t testing.TB, seed uint64) simulate.Options {
	document, err := os.ReadFile("../../testdata/plans/example.json")
	require.NoError(t, err)
	p, err := plan.Decode(document)
	require.NoError(t, err)
	return simulate.Options{Seed: seed, Steps: 40, Plan: p}
}

// each plays runs on all processors.
func each(runs []simulate.Options, done func(simulate.Options, simulate.Result)) {
	var (
		mu   sync.Mutex
		work sync.WaitGroup
	)
	next := make(chan simulate.Options)
	for range runtime.GOMAXPROCS(0) {
		work.Go(func() {
			for o := range next {
				r := simulate.Run(o)
				mu.Lock()
				done(o, r)
				mu.Unlock()
			}
		})
	}
	for _, o := range runs {
		next <- o
	}
	close(next)
	work.Wait()
}

// Whatever breaks, no promise does; and everything that can break did.
func TestRun(t *testing.T) {
	base := example(t, 0)
	runs := make([]simulate.Options, *seeds)
	for i := range runs {
		runs[i] = base
		runs[i].Seed = uint64(i + 1)
		runs[i].Phones = 2 + i%3
	}
	counts := map[string]int{}
	each(runs, func(o simulate.Options, r simulate.Result) {
		for what, n := range r.Counts {
			counts[what] += n
		}
		assert.Empty(t, r.Broken, "seed %d with %d phones; go run ./server/simulate/run -seed %d -phones %d -steps %d", o.Seed, o.Phones, o.Seed, o.Phones, o.Steps)
	})
	if *seeds < 100 {
		t.Log("too few seeds to see everything break")
		return
	}
	for _, what := range []string{
		"answers lost", "answers of something in between", "appends that failed after", "appends that failed before",
		"appends that failed crash after", "appends that failed crash before", "clocks put wrong", "concessions",
		"entries lost with a storage", "entries of a newer envelope", "entries of a newer kind", "entries saved", "exchanges that another tab outran", "gaps told",
		"changes of the photos' disk that failed after", "changes of the photos' disk that failed before", "changes of the photos' disk that failed error",
		"changes of the photos' disk that failed torn", "photos handed out", "times that photos made room by themselves", "bytes that turned on the photos' disk", "spoilt photos that are not handed out", "photos let go", "photos let go by hand", "photos lost with a storage",
		"photos saved", "photos sent again by hand", "photos that found no room at the server", "pictures that found the storage full",
		"pieces that did not follow", "pieces that found the server's disk full", "power cuts",
		"jobs opened", "lines held against the storage", "moments of haste", "numbers taken by another tab",
		"old backups brought back", "old backups without the job", "partitions", "plans settled", "records", "refused", "reloads", "reopenings",
		"requests lost", "requests that came twice", "requests without a network", "rows damaged", "saves that failed",
		"parts noted", "phones that were told of later steps", "phones that took a later program", "refused to a phone by later steps than its own",
		"second tabs", "servers that were brought up to later steps", "server crashes", "sign-offs", "storages lost", "strange entries sent", "strays told",
		"transactions cut off", "writes that found the storage full",
	} {
		assert.Positive(t, counts[what], what)
	}
}

// A seed gives one run, to the last event.
func TestRun_Deterministic(t *testing.T) {
	for seed := range uint64(4) {
		assert.Equal(t, simulate.Run(example(t, seed+1)), simulate.Run(example(t, seed+1)))
	}
}

// The store in a file keeps the same promises; a crash leaves a copy of the file.
func TestRun_File(t *testing.T) {
	for seed := range uint64(4) {
		o := example(t, 500+seed)
		o.Folder = t.TempDir()
		r := simulate.Run(o)
		assert.Empty(t, r.Broken, "seed %d", o.Seed)
	}
}

// What is broken on purpose comes to light, or the promises are not looked after.
func TestRun_Flaws(t *testing.T) {
	const within = 150 // seeds
	for _, flaw := range simulate.Flaws {
		t.Run(string(flaw), func(t *testing.T) {
			for seed := range uint64(within) {
				o := example(t, 1000+seed).With(flaw)
				if flaw == simulate.NeedsBackup {
					o = example(t, 8*(1000+seed)).With(flaw) // old backups come back in each eighth
				}
				o.Steps = 60
				if r := simulate.Run(o); r.Broken != "" {
					t.Logf("after %d seeds: %s", seed+1, r.Broken)
					return
				}
			}
			t.Errorf("%d seeds did not show it", within)
		})
	}
}

// A shrunk run breaks the same promise in fewer steps.
func TestShrink(t *testing.T) {
	for seed := range uint64(120) {
		whole := example(t, 1000+seed).With(simulate.Flaws[1])
		r := simulate.Run(whole)
		if r.Broken == "" {
			continue
		}
		o, least := simulate.Shrink(whole)
		assert.Equal(t, simulate.Subject(r.Broken), simulate.Subject(least.Broken))
		assert.Less(t, o.Steps-len(o.Skip), whole.Steps)
		assert.Equal(t, least, simulate.Run(o), "what it gives replays")
		return
	}
	t.Error("nothing to shrink")
}

func BenchmarkRun(b *testing.B) {
	o := example(b, 0)
	for b.Loop() {
		o.Seed++
		simulate.Run(o)
	}
}

package main

import (
	"flag"
	"fmt"
	"os"
	"runtime"
	"slices"
	"strings"
	"time"
)

type options struct {
	only    string
	jobs    int
	entries int
	data    string
	pushes  int
	rounds  int
	phones  string
	visits  int
	kills   int
	seed    int64
	program string
}

func main() {
	var o options
	flag.StringVar(&o.only, "only", "pushes,store,pages,kill", "what to measure")
	flag.IntVar(&o.jobs, "jobs", 1000, "jobs of the store; 10000 is the whole")
	flag.IntVar(&o.entries, "entries", 500, "entries of each of them")
	flag.StringVar(&o.data, "data", "", "folder for the store of many jobs; one that is there is used as it is; empty: a temporary one")
	flag.IntVar(&o.pushes, "pushes", 6000, "pushes of 64 phones in one round; fewer phones send fewer")
	flag.IntVar(&o.rounds, "rounds", 21, "rounds of pushes")
	flag.StringVar(&o.phones, "phones", "1,8,64", "how many phones push at once")
	flag.IntVar(&o.visits, "visits", 300, "pages asked for")
	flag.IntVar(&o.kills, "kills", 200, "how often the program is killed")
	flag.Int64Var(&o.seed, "seed", time.Now().UnixNano(), "of the moments at which it is killed")
	flag.StringVar(&o.program, "program", "", "the program; empty: it is built")
	flag.Parse()
	if err := o.run(); err != nil {
		fmt.Fprintln(os.Stderr, "measure:", err)
		os.Exit(1)
	}
}

func (o options) run() error {
	fmt.Printf("%s %s/%s, %d processors, load %s\n", runtime.Version(), runtime.GOOS, runtime.GOARCH, runtime.NumCPU(), load())
	for _, part := range strings.Split(o.only, ",") {
		measure, ok := map[string]func(options) error{"pushes": measurePushes, "store": measureStore, "pages": measurePages, "kill": measureKill}[part]
		if !ok {
			return fmt.Errorf("-only has %q, wanted pushes, store, pages or kill", part)
		}
		if part != "pushes" && o.program == "" {
			dir, program, err := build()
			if err != nil {
				return err
			}
			defer os.RemoveAll(dir)
			o.program = program
		}
		fmt.Printf("\n%s\n", part)
		if err := measure(o); err != nil {
			return fmt.Errorf("%s: %w", part, err)
		}
	}
	fmt.Printf("\nload at the end %s\n", load())
	return nil
}

// load is the machine's own figure: how many wanted a processor in the last minutes.
func load() string {
	text, err := os.ReadFile("/proc/loadavg")
	if err != nil {
		return "unknown"
	}
	return strings.Join(strings.Fields(string(text))[:3], " ")
}

// times are how long each of several equal pieces of work took.
type times []time.Duration

// at is the time within which so many of a hundred were done.
func (t times) at(percent float64) time.Duration {
	if len(t) == 0 {
		return 0
	}
	sorted := slices.Sorted(slices.Values(t))
	return sorted[min(int(percent/100*float64(len(sorted))), len(sorted)-1)]
}

func (t times) String() string {
	return fmt.Sprintf("p50 %s, p95 %s, p99 %s, worst %s", ms(t.at(50)), ms(t.at(95)), ms(t.at(99)), ms(t.at(100)))
}

func ms(d time.Duration) string { return fmt.Sprintf("%.2f ms", float64(d)/1e6) }

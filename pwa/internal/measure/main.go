// Command measure prints what the phone's pages cost: the bytes of a first visit,
// and, where a Chromium is installed, how long an offline launch and a recorded
// step take. Beside each time stands what the same browser needs in the same run
// for next to nothing: an empty page out of a service worker, an empty Go program.
// It judges nothing.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"strings"

	"hangtrue/pwa"
	"hangtrue/pwa/browsertest"
)

func main() {
	runs := flag.Int("n", 7, "runs of each measurement")
	entries := flag.Int("entries", 400, "entries of the job")
	document := flag.String("plan", "testdata/demo/plan.json", "plan of the job")
	taps := flag.Bool("taps", false, "time typing and saving alone")
	flag.Parse()
	if err := measure(*runs, *entries, *document, *taps); err != nil {
		fmt.Fprintln(os.Stderr, "measure:", err)
		os.Exit(1)
	}
}

func measure(runs, entries int, document string, taps bool) error {
	index, err := pwa.Files()
	if err != nil {
		return err
	}
	sizes(index)
	s, err := newScene(index, entries, document)
	if err != nil {
		return err
	}
	defer s.close()
	fmt.Printf("\njob of %d mounts, %d entries; medians of %d runs (least to most), in ms\n", s.mounts, entries, runs)
	for _, slower := range []float64{1, 4} {
		b, err := browsertest.Open(context.Background(), browsertest.Options{Throttle: slower})
		if errors.Is(err, browsertest.ErrNoBrowser) {
			fmt.Println("no times:", err)
			return nil
		}
		if err != nil {
			return err
		}
		err = s.measure(b, runs, slower, taps)
		b.Close()
		if err := errors.Join(err, s.reopen()); err != nil { // what this browser did stays with it
			return err
		}
	}
	return nil
}

// sizes prints what a first visit downloads, which is what the service worker's list
// has: all but the whole program.
func sizes(index *pwa.Index) {
	var raw, gzip, brotli int
	fmt.Printf("%-44s %10s %10s %10s\n", "a first visit downloads, bytes", "raw", "gzip", "brotli")
	for _, f := range index.All() {
		if strings.HasPrefix(f.Path, "/assets/whole.") {
			continue
		}
		r, g, b := len(f.Content), smaller(f, "gzip"), smaller(f, "br")
		raw, gzip, brotli = raw+r, gzip+g, brotli+b
		fmt.Printf("%-44s %10d %10d %10d\n", f.Path, r, g, b)
	}
	fmt.Printf("%-44s %10d %10d %10d\n", "all", raw, gzip, brotli)
}

func smaller(f pwa.File, coding string) int {
	if packed, ok := f.Encoded[coding]; ok {
		return len(packed)
	}
	return len(f.Content)
}

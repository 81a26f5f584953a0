package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"hangtrue/server/folder"
)

// inFolder does work on the store of a data folder, which is made if it is not there.
func inFolder(dir string, work func(f *folder.Folder) error) error {
	f, err := folder.Open(dir)
	if err != nil {
		return err
	}
	return errors.Join(work(f), f.Close())
}

func measureStore(o options) error {
	data := o.data
	if data == "" {
		dir, err := os.MkdirTemp("", "hangtrue-measure-")
		if err != nil {
			return err
		}
		defer os.RemoveAll(dir)
		data = filepath.Join(dir, "data")
	}
	if _, err := os.Stat(data); errors.Is(err, os.ErrNotExist) {
		if err := o.generate(data); err != nil {
			return err
		}
	}
	info, err := os.Stat(filepath.Join(data, "jobs.db"))
	if err != nil {
		return err
	}
	fmt.Printf("  on disk: %.0f MB\n", float64(info.Size())/1e6)

	r, err := serve(o.program, data)
	if err != nil {
		return err
	}
	defer r.kill()
	fmt.Printf("  start until the first answer: %s\n", ms(r.start))
	for _, row := range []struct {
		what  string
		count int
		path  func(i int) string
	}{
		{"bare: /healthz", o.visits, func(int) string { return "/healthz" }},
		{"list page", max(5, o.visits/10), func(int) string { return "/" }},
		{"list for phones", max(5, o.visits/10), func(int) string { return "/api/jobs" }},
		{"a job opened first", min(o.visits, o.jobs), func(i int) string { return "/jobs/" + jobID(i*o.jobs/min(o.visits, o.jobs)) }},
		{"a job opened again", o.visits, func(i int) string { return "/jobs/" + jobID(0) }},
	} {
		took, err := r.visit(row.count, row.path)
		if err != nil {
			return err
		}
		fmt.Printf("  %-20s %v\n", row.what+":", took)
	}
	own, all, err := r.memory()
	if err != nil {
		return err
	}
	fmt.Printf("  memory: %.0f MB of its own, %.0f MB with mapped pages of the store\n", float64(own)/1e6, float64(all)/1e6)
	return nil
}

// generate makes the store of many jobs.
func (o options) generate(data string) error {
	l, err := newLog(o.entries)
	if err != nil {
		return err
	}
	began := time.Now()
	if err := inFolder(data, func(f *folder.Folder) error { return fill(f.Store, l, 0, o.jobs-1) }); err != nil {
		return err
	}
	took := time.Since(began)
	fmt.Printf("  %d jobs of %d entries (%d bytes in the mean) made in %.0f s; 5 million entries would take %.0f s\n",
		o.jobs, o.entries, l.bytes()/o.entries, took.Seconds(), took.Seconds()*5e6/float64(o.jobs*o.entries))
	return nil
}

// sizes of the logs whose pages are measured.
var sizes = []int{400, 4000, 50_000}

func measurePages(o options) error {
	dir, err := os.MkdirTemp("", "hangtrue-measure-")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	data := filepath.Join(dir, "data")
	whole, err := newLog(sizes[len(sizes)-1])
	if err != nil {
		return err
	}
	if err := inFolder(data, func(f *folder.Folder) error {
		for n, size := range sizes {
			if err := fill(f.Store, lineUp(whole.job, whole.records[:size]), n, n); err != nil {
				return err
			}
		}
		return nil
	}); err != nil {
		return err
	}
	path := func(n int) func(int) string { return func(int) string { return "/jobs/" + jobID(n) } }
	never, err := firstVisits(o, data, path)
	if err != nil {
		return err
	}
	r, err := serve(o.program, data)
	if err != nil {
		return err
	}
	defer r.kill()
	bare, err := r.crowd(o, func(int) string { return "/healthz" })
	if err != nil {
		return err
	}
	fmt.Printf("  bare: /healthz:        %v\n", bare)
	for n, size := range sizes {
		path := path(n)
		first, err := r.visit(1, path)
		if err != nil {
			return err
		}
		again, err := r.crowd(o, path)
		if err != nil {
			return err
		}
		fmt.Printf("  %6d entries, first: %s (%s of processor); without a snapshot %s; %.3f of that\n", size, ms(first.at(50)), ms(first.each), ms(never[n]), first.at(50).Seconds()/never[n].Seconds())
		fmt.Printf("  %6d entries, then:  %v; %.2f of bare\n", size, again, again.rate/bare.rate)
		add, err := r.addAndLook(jobID(n), path(0))
		if err != nil {
			return err
		}
		fmt.Printf("  %6d entries, after each new entry: %v\n", size, add)
	}
	return nil
}

// firstVisits opens each job whose state was never written down, in a program of
// their own.
func firstVisits(o options, data string, path func(n int) func(int) string) (took times, err error) {
	r, err := serve(o.program, data)
	if err != nil {
		return nil, err
	}
	defer r.kill()
	if _, err := r.visit(1, func(int) string { return "/healthz" }); err != nil {
		return nil, err
	}
	for n := range sizes {
		first, err := r.visit(1, path(n))
		if err != nil {
			return nil, err
		}
		took = append(took, first.at(50))
	}
	return took, nil
}

// a crowd is what several who asked at once got.
type crowd struct {
	times
	rate float64
	each time.Duration
}

func (c crowd) String() string {
	return fmt.Sprintf("%.0f a second, %s of processor each; %v", c.rate, ms(c.each), c.times)
}

// visitors is how many ask at once.
const visitors = 4

// crowd has them all get paths, one page after another.
func (r *running) crowd(o options, path func(int) string) (crowd, error) {
	type result struct {
		took times
		err  error
	}
	results := make(chan result, visitors)
	before, err := r.spent()
	if err != nil {
		return crowd{}, err
	}
	began := time.Now()
	for range visitors {
		go func() {
			took, err := r.each(o.visits, path)
			results <- result{took, err}
		}()
	}
	var c crowd
	var errs []error
	for range visitors {
		one := <-results
		c.times, errs = append(c.times, one.took...), append(errs, one.err)
	}
	c.rate = float64(len(c.times)) / time.Since(began).Seconds()
	after, err := r.spent()
	c.each = (after - before) / time.Duration(max(1, len(c.times)))
	return c, errors.Join(append(errs, err)...)
}

// addAndLook pushes an entry and times the page after it, some times.
func (r *running) addAndLook(job, path string) (times, error) {
	p := &phone{job: job, device: guestPhone}
	if err := p.remarks(20); err != nil {
		return nil, err
	}
	var all times
	for _, e := range p.entries {
		if _, err := r.push(job, e); err != nil {
			return nil, err
		}
		took, err := r.get(path)
		if err != nil {
			return nil, err
		}
		all = append(all, took)
	}
	return all, nil
}

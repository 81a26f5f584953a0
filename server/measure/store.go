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
		took, err := r.each(row.count, row.path)
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
	r, err := serve(o.program, data)
	if err != nil {
		return err
	}
	defer r.kill()
	bare, err := r.visit(o, func(int) string { return "/healthz" })
	if err != nil {
		return err
	}
	fmt.Printf("  bare: /healthz        %v\n", bare)
	for n, size := range sizes {
		path := func(int) string { return "/jobs/" + jobID(n) }
		first, err := r.get(path(0))
		if err != nil {
			return err
		}
		again, err := r.visit(o, path)
		if err != nil {
			return err
		}
		fmt.Printf("  %6d entries, first %s, then %v; %.1f times bare\n", size, ms(first), again, float64(again.took.at(50))/float64(bare.took.at(50)))
		add, err := r.addAndLook(jobID(n), path(0))
		if err != nil {
			return err
		}
		fmt.Printf("  %6d entries, after each new entry: %v\n", size, add)
	}
	return nil
}

// visits are pages got by several at once.
type visits struct {
	took times
	rate float64
}

func (v visits) String() string { return fmt.Sprintf("%.0f a second (%v)", v.rate, v.took) }

// visitors is how many ask at once.
const visitors = 4

func (r *running) visit(o options, path func(int) string) (visits, error) {
	type result struct {
		took times
		err  error
	}
	results := make(chan result, visitors)
	began := time.Now()
	for range visitors {
		go func() {
			took, err := r.each(o.visits, path)
			results <- result{took, err}
		}()
	}
	var v visits
	var errs []error
	for range visitors {
		one := <-results
		v.took, errs = append(v.took, one.took...), append(errs, one.err)
	}
	v.rate = float64(len(v.took)) / time.Since(began).Seconds()
	return v, errors.Join(errs...)
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

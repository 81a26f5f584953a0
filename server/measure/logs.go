package main

import (
	"bytes"
	"fmt"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/rehearsal"
	"hangtrue/server/store"
	"hangtrue/testdata/demo"
)

// The devices of every job. Their ids share no beginning with a job's, see [log.of].
const (
	leadPhone   = "018f3c5e-7a10-7000-8000-00000000d001"
	viewerPhone = "018f3c5e-7a10-7000-8000-00000000d002"
	guestPhone  = "018f3c5f-7a10-7000-8000-00000000d003"
)

// prefixLength is how much of a job's id its entries' ids begin with.
const prefixLength = 23

// jobID is the id of the nth job; its first 23 characters are its own.
func jobID(n int) string { return fmt.Sprintf("%08x-0000-7000-8000-00000000000a", 0x02000000+n) }

// A log is a job's records as they would be had people worked on it for long: all
// steps of the demo plan as planned, then all again and again, with remarks between
// and now and then an entry that is refused.
type log struct {
	job     string
	records []checklist.Record
	line    store.Line
}

// newLog plays a log of so many entries through the rules.
func newLog(entries int) (*log, error) {
	p, err := plan.Decode(demo.Plan)
	if err != nil {
		return nil, err
	}
	s := rehearsal.NewSite(jobID(0), leadPhone)
	if err := s.Open(p); err != nil {
		return nil, err
	}
	for round := 1; len(s.Records) < entries; round++ {
		for _, k := range s.State.Keys() {
			if s.State.Template.Step(k.Step).Kind != checklist.StepRecorded {
				continue
			}
			b, err := rehearsal.Recording(s.State.Plan(), k.Step, k.Mount)
			if err != nil {
				return nil, err
			}
			if err := s.Do(checklist.StepRecorded, b); err != nil {
				return nil, err
			}
			switch n := len(s.Records); {
			case n%20 == 0:
				e, err := s.Entry(viewerPhone, checklist.Viewer, checklist.RemarkWritten, checklist.Remark{Text: "May I?"})
				if err != nil {
					return nil, err
				}
				s.Push(e)
			case n%3 == 0:
				text := fmt.Sprintf("Round %d, %s %s: as planned, tape against the laser.", round, k.Mount, k.Step)
				if err := s.Do(checklist.RemarkWritten, checklist.Remark{Text: text}); err != nil {
					return nil, err
				}
			}
		}
	}
	return lineUp(s.Job, s.Records[:entries]), nil
}

// lineUp gives records the line that a server keeps beside them.
func lineUp(job string, records []checklist.Record) *log {
	s := checklist.NewState(checklist.Loudspeakers, job)
	for _, r := range records {
		s.Fold(r)
	}
	done, all := s.Progress()
	return &log{job, records, store.Line{ID: job, Title: s.Title, Head: s.Head, Received: rehearsal.Clock, Done: done, All: all, Signed: s.Locked()}}
}

// of is the same log as that of another job.
func (l *log) of(n int) (store.Addition, error) {
	job := jobID(n)
	a := store.Addition{Job: job, Records: make([]checklist.Record, len(l.records)), Line: l.line}
	a.Line.ID, a.Line.Title = job, fmt.Sprintf("%s %d", l.line.Title, n)
	was, is := []byte(l.job[:prefixLength]), []byte(job[:prefixLength])
	for i, r := range l.records {
		e, err := checklist.ParseEntry(bytes.ReplaceAll(r.Entry.Bytes(), was, is))
		if err != nil {
			return store.Addition{}, err
		}
		r.Entry = e
		a.Records[i] = r
	}
	return a, nil
}

func (l *log) bytes() (n int) {
	for _, r := range l.records {
		n += len(r.Entry.Bytes())
	}
	return n
}

// oneTransaction is how many entries one transaction of the generator takes.
const oneTransaction = 10_000

// fill puts jobs number first to last into a store.
func fill(s store.Store, l *log, first, last int) error {
	for n := first; n <= last; {
		var additions []store.Addition
		for size := 0; n <= last && (size == 0 || size+len(l.records) <= oneTransaction); n++ {
			a, err := l.of(n)
			if err != nil {
				return err
			}
			additions, size = append(additions, a), size+len(l.records)
		}
		if err := s.Append(additions...); err != nil {
			return err
		}
	}
	return nil
}

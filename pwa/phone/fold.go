package main

import (
	"encoding/json"
	"errors"
	"io"

	"hangtrue/checklist"
)

// fold reads the records of any number of jobs. For each record it writes what
// this machine would have decided about its entry, and at the end the state that
// each job adds up to.
func fold(in io.Reader, out io.Writer) error {
	var jobs []*checklist.State
	byID := map[string]*checklist.State{}
	decisions := json.NewEncoder(out)
	for d := json.NewDecoder(in); ; {
		var r checklist.Record
		if err := d.Decode(&r); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return err
		}
		state := byID[r.Entry.Job]
		if state == nil {
			state = checklist.NewState(checklist.Loudspeakers, r.Entry.Job)
			byID[r.Entry.Job] = state
			jobs = append(jobs, state)
		}
		if err := decisions.Encode(state.Decide(r.Entry)); err != nil {
			return err
		}
		state.Fold(r)
	}
	for _, state := range jobs {
		if err := state.Dump(out); err != nil {
			return err
		}
	}
	return nil
}

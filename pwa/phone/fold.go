package main

import (
	"encoding/json"
	"errors"
	"io"

	"hangtrue/checklist"
)

// fold reads records, the first of which names the job, and writes the state
// they add up to.
func fold(in io.Reader, out io.Writer) error {
	var state *checklist.State
	for d := json.NewDecoder(in); ; {
		var r checklist.Record
		if err := d.Decode(&r); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return err
		}
		if state == nil {
			state = checklist.NewState(checklist.Loudspeakers, r.Entry.Job)
		}
		state.Fold(r)
	}
	if state == nil {
		return errors.New("no record was read")
	}
	return state.Dump(out)
}

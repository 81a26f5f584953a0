package stand

import (
	"fmt"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/rehearsal"
)

// Device is the device that a job's own entries come from.
const Device = "01900000-0000-7000-8000-0000000000a1"

// Open opens a job on a plan document.
func Open(id string, document []byte) (*rehearsal.Site, error) {
	p, err := plan.Decode(document)
	if err != nil {
		return nil, fmt.Errorf("stand: %w", err)
	}
	s := rehearsal.NewSite(id, Device)
	return s, s.Open(p)
}

// Work records what is next, every step as often as told, until the job has so
// many records; when only the sign-off is left it goes on with remarks.
func Work(s *rehearsal.Site, times, records int) error {
	for len(s.Records) < records {
		k, ok := s.State.Next("")
		if !ok || s.State.Template.Step(k.Step).Kind != checklist.StepRecorded {
			if err := s.Do(checklist.RemarkWritten, checklist.Remark{Text: "Nothing left but the sign-off."}); err != nil {
				return err
			}
			continue
		}
		recording, err := rehearsal.Recording(s.State.Plan(), k.Step, k.Mount)
		if err != nil {
			return err
		}
		for range min(times, records-len(s.Records)) {
			if err := s.Do(checklist.StepRecorded, recording); err != nil {
				return err
			}
		}
	}
	return nil
}

package checklist

import (
	"encoding/json"
	"io"
	"maps"
	"slices"

	"hangtrue/checklist/plan"
)

// Dump writes the whole state down, one JSON object a line in a fixed order: the
// job first, then every step of the plan in force with its status, its evidence
// and what holds or stales it, then refusals, remarks, photos and signatures. Two states
// that show a person the same dump the same bytes, on every machine.
func (s *State) Dump(w io.Writer) error {
	e := json.NewEncoder(w)
	lines := []any{dumpedJob{s.Job, s.Title, s.Head, s.Entries, s.Revision(), s.locked}}
	for _, r := range s.Revisions {
		lines = append(lines, dumpedRevision{r.Number, r.SHA256, r.Reason, r.Record.Position})
	}
	for _, k := range s.Keys() {
		d := dumpedStep{Step: k.Step, Mount: k.Mount, Status: s.Status(k), Stale: s.StaleBecause(k)}
		for _, hold := range s.Holds(k) {
			d.Holds = append(d.Holds, dumpedHold{hold.Key.Step, hold.Key.Mount, hold.Text})
		}
		if evidence := s.Evidence(k); evidence != nil {
			d.Evidence, d.Outcome, d.Barred = evidence.Record.Entry.ID, evidence.Record.Outcome, evidence.Record.Barred
			d.Reason = evidence.Reason
			if evidence.Concession != nil {
				d.Concession = evidence.Concession.Entry.ID
			}
			for _, c := range s.Checks(evidence.Recording) {
				d.Checks = append(d.Checks, dumpedCheck{c.Name, c.Verdict.String()})
			}
		}
		for _, r := range s.History(k) {
			d.History = append(d.History, r.Entry.ID)
		}
		lines = append(lines, d)
	}
	for _, edited := range s.Edits {
		lines = append(lines, dumpedEdit{edited.Record.Entry.ID})
	}
	if len(s.Edits) > 0 {
		lines = append(lines, dumpedDraft{s.Draft()})
	}
	for _, part := range slices.Sorted(maps.Keys(s.stock)) {
		lines = append(lines, dumpedStock{s.stock[part].Record.Entry.ID, s.stock[part].Stock})
	}
	for _, x := range s.Shelf {
		lines = append(lines, dumpedShelf{x.Record.Entry.ID, x.Left})
	}
	for _, r := range s.Refused() {
		lines = append(lines, dumpedRefusal{r.Entry.ID, r.Reason})
	}
	for _, r := range s.Remarks() {
		lines = append(lines, dumpedRemark{r.Entry.ID})
	}
	for _, p := range s.Photos {
		lines = append(lines, dumpedPhoto{p.SHA256, p.Record.Entry.ID})
	}
	for _, sig := range s.Signatures {
		lines = append(lines, dumpedSignature{sig.Record.Entry.ID, sig.Signing.Revision, sig.Signing.Head, sig.Since})
	}
	for _, line := range lines {
		if err := e.Encode(line); err != nil {
			return err
		}
	}
	return nil
}

type (
	dumpedJob struct {
		Job      string `json:"job"`
		Title    string `json:"title"`
		Head     int64  `json:"head"`
		Entries  int    `json:"entries"`
		Revision int    `json:"revision"`
		Locked   bool   `json:"locked"`
	}
	dumpedRevision struct {
		Revision int    `json:"revision"`
		SHA256   string `json:"sha256"`
		Reason   string `json:"reason"`
		Position int64  `json:"position"`
	}
	dumpedStep struct {
		Step       string        `json:"step"`
		Mount      string        `json:"mount,omitempty"`
		Status     Status        `json:"status"`
		Holds      []dumpedHold  `json:"holds,omitempty"`
		Stale      []string      `json:"stale,omitempty"`
		Evidence   string        `json:"evidence,omitempty"`
		Outcome    string        `json:"outcome,omitempty"`
		Barred     string        `json:"barred,omitempty"`
		Concession string        `json:"concession,omitempty"`
		Reason     string        `json:"reason,omitempty"`
		Checks     []dumpedCheck `json:"checks,omitempty"`
		History    []string      `json:"history,omitempty"`
	}
	dumpedHold struct {
		Step  string `json:"step,omitempty"`
		Mount string `json:"mount,omitempty"`
		Text  string `json:"text"`
	}
	dumpedCheck struct {
		Check   string `json:"check"`
		Verdict string `json:"verdict"`
	}
	dumpedEdit struct {
		Edit string `json:"edit"`
	}
	dumpedDraft struct {
		Draft []plan.Part `json:"draft"`
	}
	dumpedStock struct {
		Entry string `json:"entry"`
		Stock Stock  `json:"stock"`
	}
	dumpedShelf struct {
		Stowed string `json:"stowed"`
		Left   int    `json:"left"`
	}
	dumpedRefusal struct {
		Refused string `json:"refused"`
		Reason  string `json:"reason"`
	}
	dumpedRemark struct {
		Remark string `json:"remark"`
	}
	dumpedPhoto struct {
		Photo string `json:"photo"`
		Entry string `json:"entry"`
	}
	dumpedSignature struct {
		Signed   string `json:"signed"`
		Revision int    `json:"revision"`
		Head     int64  `json:"head"`
		Since    int    `json:"since"`
	}
)

package main

import (
	"bytes"
	"encoding/json"
	"strings"

	"github.com/spf13/cobra"

	"hangtrue/checklist/judge"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/strict"
	"hangtrue/checklist/table"
	"hangtrue/checklist/workings"
	"hangtrue/compute/gauge"
)

func (m Main) check() *cobra.Command {
	var measured string
	var asJSON, brief bool
	cmd := &cobra.Command{
		Use:   "check PLAN",
		Short: "Judge a plan, and what was measured against it",
		Example: `  hangtrue check plan.json                       directions, brackets, screws, cables, rack
  hangtrue check plan.json --measured read.json  the loudspeakers as they hang
  hangtrue check plan.json --measured read.csv   the same, read from a table
  hangtrue check plan.json --brief               only what is not within
  hangtrue check plan.json --json                for another program`,
		Long: `Each check says what was measured or planned, the target, what is allowed, and
U: how far off the reading itself may be. "within" and "outside" are certain in
spite of U; "unsure" says that the reading is not good enough to tell, and what
would settle it. With --measured, what the readings show comes after the plan;
hangtrue export measured gives a table or file to begin with.

Exit code 0: all within. 1: something is outside or unsure. 2: a file could not
be read; every problem in it is listed. "-" reads the plan from stdin.`,
		Args: want(1, "one plan"),
		RunE: func(_ *cobra.Command, args []string) error {
			checks, p, err := m.judge(args[0], measured)
			if err != nil {
				return err
			}
			if asJSON {
				err = m.checksJSON(checks)
			} else {
				err = listing{out: m.Stdout, system: p.Units.System(), brief: brief}.write(checks)
			}
			if err != nil {
				return err
			}
			if verdict, _ := judge.Worst(checks); verdict != gauge.Within {
				return errOff
			}
			return nil
		},
	}
	cmd.Flags().StringVar(&measured, "measured", "", "`file` with what was measured on the hung loudspeakers")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON instead of a table")
	cmd.Flags().BoolVar(&brief, "brief", false, "leave out of the table what is within")
	return cmd
}

// judge reads the files and runs every check there is on them.
func (m Main) judge(planPath, measuredPath string) ([]judge.Check, *plan.Plan, error) {
	data, err := m.read(planPath, strict.MaxSize)
	if err != nil {
		return nil, nil, err
	}
	p, err := plan.Decode(data)
	if err != nil {
		return nil, nil, inFile(planPath, err)
	}
	checks := append(judge.WholePlan(p), workings.Checks(p)...)
	if measuredPath == "" {
		return checks, p, nil
	}
	read, err := m.readMeasured(measuredPath, p)
	if err != nil {
		return nil, nil, err
	}
	return append(checks, judge.AsBuilt(p, read)...), p, nil
}

// A checkJSON is a check for another program: angles in degrees and ratios in per
// cent, as unit says; a side without a limit is null.
type checkJSON struct {
	Mount      string   `json:"mount,omitempty"`
	Check      string   `json:"check"`
	Title      string   `json:"title"`
	Unit       string   `json:"unit"`
	Measured   *float64 `json:"measured"`
	Target     *float64 `json:"target"`
	Low        *float64 `json:"low"`
	High       *float64 `json:"high"`
	Expanded   *float64 `json:"u"`
	Verdict    string   `json:"verdict"`
	Barred     bool     `json:"barred,omitempty"`
	Says       string   `json:"says,omitempty"`
	Correction string   `json:"correction,omitempty"`
	Largest    string   `json:"largest_contribution,omitempty"`
	Settle     string   `json:"settle,omitempty"`
	Source     string   `json:"source"`
}

func (m Main) checksJSON(checks []judge.Check) error {
	out := struct {
		Verdict string         `json:"verdict"`
		Counts  map[string]int `json:"counts"`
		Checks  []checkJSON    `json:"checks"`
	}{Counts: map[string]int{"within": 0, "outside": 0, "unsure": 0}, Checks: []checkJSON{}}
	worst, _ := judge.Worst(checks)
	out.Verdict = worst.String()
	for _, c := range checks {
		out.Counts[c.Verdict.String()]++
		j := checkJSON{
			Mount: c.Subject, Check: c.Name, Title: c.Title, Unit: string(c.Unit), Verdict: c.Verdict.String(), Barred: c.Barred,
			Says: c.Says, Correction: c.Correction, Largest: c.Largest, Settle: c.Settle, Source: c.Source,
		}
		if c.Unit != judge.Condition {
			j.Measured, j.Target, j.Low, j.High, j.Expanded = shown(c.Measured, c.Unit), shown(c.Target, c.Unit), shown(c.Low, c.Unit), shown(c.High, c.Unit), shown(c.Expanded, c.Unit)
		}
		out.Checks = append(out.Checks, j)
	}
	e := json.NewEncoder(m.Stdout)
	e.SetIndent("", " ")
	e.SetEscapeHTML(false)
	return e.Encode(out)
}

// readMeasured reads a measured file, or a table of the same.
func (m Main) readMeasured(path string, p *plan.Plan) (*plan.Measured, error) {
	data, err := m.read(path, strict.MaxSize)
	if err != nil {
		return nil, err
	}
	decode := table.ReadMeasured
	if isJSON(path, data) {
		decode = plan.DecodeMeasured
	}
	read, err := decode(data, p)
	if err != nil {
		return nil, inFile(path, err)
	}
	return read, nil
}

// isJSON tells a document from a table: by its name, else by its first character, with which no table begins.
func isJSON(path string, data []byte) bool {
	return strings.HasSuffix(path, ".json") || bytes.HasPrefix(bytes.TrimSpace(data), []byte("{"))
}

// inFile puts a file's name before each problem of it.
func inFile(path string, err error) error {
	var lines lines
	for line := range strings.Lines(err.Error()) {
		lines = append(lines, path+": "+strings.TrimRight(line, "\n"))
	}
	return lines
}

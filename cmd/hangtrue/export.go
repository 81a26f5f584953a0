package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/seal"
	"hangtrue/checklist/table"
)

func (m Main) export() *cobra.Command {
	e := exporting{settling: settling{Main: m, who: "lead"}}
	cmd := &cobra.Command{
		Use:   "export plan|mounts|measured|record [FILE]",
		Short: "Take a plan, tables for a spreadsheet, or a record out of a job",
		Example: `  hangtrue export mounts plan.json > mounts.csv             a plan's mounts, for a spreadsheet
  hangtrue export mounts --job ID > mounts.csv              those of the plan in force on a job
  hangtrue export measured --job ID > read.csv              the latest readings of where they are
  hangtrue export measured record.json --json > read.json   the same out of a record, as JSON
  hangtrue export plan --job ID --revision 1 > plan.json    a plan as it was settled, to the byte
  hangtrue export record --job ID > record.json             everything, sealed as it stands`,
		Long: `It reads a plan, a record, or with --job what a running hangtrue serve on this
computer has of a job. mounts and measured are CSV with a header row: a column each
for what a mount has in the plan document, or in a measured file, under the same
names. Lengths are metres and angles degrees. A text that begins like a formula is
written with an apostrophe before it. hangtrue import reads mounts back, hangtrue
check --measured what was measured.

Exit code 0: written to stdout. 2: it could not be read, or does not have it.`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) < 1 || len(args) > 2 || !slices.Contains(exports, args[0]) {
				return fmt.Errorf("%s wants one of %s, and a file or --job; %s --help shows how", cmd.CommandPath(), strings.Join(exports, ", "), cmd.CommandPath())
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			e.what, e.file = args[0], strings.Join(args[1:], "")
			data, err := e.take(cmd.Context())
			if err != nil {
				return err
			}
			_, err = m.Stdout.Write(data)
			return err
		},
	}
	cmd.Flags().StringVar(&e.job, "job", "", "`ID` of the job to take it from")
	cmd.Flags().IntVar(&e.revision, "revision", 0, "which `revision` of the plan; the one in force if left out")
	cmd.Flags().StringVar(&e.measured, "measured", "", "with measured and a plan: `file` of what was measured, to write it in the other form")
	cmd.Flags().BoolVar(&e.asJSON, "json", false, "with measured: write a measured file instead of a table")
	cmd.Flags().StringVar(&e.server, "server", "http://127.0.0.1:8470", "`address` of the running server")
	cmd.Flags().StringVar(&e.data, "data", "", "`folder` the server's jobs are in, to be let in where it is --locked")
	return cmd
}

// What can be taken out.
const (
	exportPlan     = "plan"
	exportMounts   = "mounts"
	exportMeasured = "measured"
	exportRecord   = "record"
)

var exports = []string{exportPlan, exportMounts, exportMeasured, exportRecord}

// exporting is one run of the command.
type exporting struct {
	settling
	what, file, measured string
	revision             int
	asJSON               bool
}

func (e *exporting) take(ctx context.Context) ([]byte, error) {
	switch {
	case (e.job == "") == (e.file == ""):
		return nil, errors.New("say what to take it from: a file, or a job of a server with --job")
	case e.asJSON && e.what != exportMeasured:
		return nil, errors.New("--json goes with measured alone")
	case e.measured != "" && (e.what != exportMeasured || e.job != ""):
		return nil, errors.New("--measured goes with measured and a plan alone")
	case e.revision != 0 && e.what != exportPlan && e.what != exportMounts:
		return nil, errors.New("--revision goes with plan and mounts alone")
	case e.revision < 0:
		return nil, fmt.Errorf("--revision is %d, wanted 1 or more", e.revision)
	case e.job != "" && !checklist.IsUUID(e.job):
		return nil, fmt.Errorf("--job is %.60q, wanted a job's id, as its address has it", e.job)
	case e.job != "":
		return e.fromServer(ctx)
	}
	data, err := e.read(e.file, seal.MaxFile)
	if err != nil {
		return nil, err
	}
	if isRecord(data) {
		data, err = e.fromRecord(data)
	} else {
		data, err = e.fromPlan(data)
	}
	if err != nil {
		return nil, inFile(e.file, err)
	}
	return data, nil
}

// fromServer asks for the file that the server hands out to browsers too.
func (e *exporting) fromServer(ctx context.Context) (data []byte, err error) {
	if err := e.begin(); err != nil {
		return nil, err
	}
	defer e.leave()
	path := "/api/jobs/" + e.job + "/" + e.what
	switch {
	case e.what == exportRecord:
		path = "/jobs/" + e.job + "/record.json"
	case e.asJSON:
		path += ".json"
	case e.what != exportPlan:
		path += ".csv"
	}
	if e.revision > 0 {
		path += fmt.Sprintf("?revision=%d", e.revision)
	}
	return data, e.call(ctx, http.MethodGet, path, nil, &data)
}

// isRecord tells a record file from a plan.
func isRecord(data []byte) bool {
	var head struct {
		Format string `json:"format"`
	}
	return json.Unmarshal(data, &head) == nil && seal.IsFormat(head.Format)
}

func (e *exporting) fromRecord(data []byte) ([]byte, error) {
	if e.what == exportRecord || e.measured != "" {
		return nil, errors.New("it is a record already")
	}
	file, err := seal.Read(data)
	if err != nil {
		return nil, errors.New(strings.TrimPrefix(err.Error(), "seal: "))
	}
	if !file.Verify("").Intact() {
		return nil, errors.New("it is not what was sealed; hangtrue verify tells what was changed")
	}
	state := checklist.NewState(checklist.Loudspeakers, file.Job)
	for _, r := range file.Records {
		state.Fold(r)
	}
	n := state.Revision()
	switch {
	case n == 0:
		return nil, errors.New("no plan is settled in it")
	case e.revision > n:
		return nil, fmt.Errorf("there is no revision %d of the plan in it; the one in force is %d", e.revision, n)
	case e.what == exportMeasured:
		return e.writeMeasured(table.Recorded(state))
	case e.revision > 0:
		n = e.revision
	}
	revision := state.Revisions[n-1]
	if e.what == exportPlan {
		return revision.Document(), nil
	}
	return table.WriteMounts(revision.Plan)
}

func (e *exporting) fromPlan(data []byte) ([]byte, error) {
	p, err := plan.Decode(data)
	switch {
	case err != nil:
		return nil, err
	case e.what == exportMounts && e.revision == 0:
		return table.WriteMounts(p)
	case e.what == exportMeasured && e.measured != "":
		read, err := e.readMeasured(e.measured, p)
		if err != nil {
			return nil, err
		}
		return e.writeMeasured(read)
	case e.what == exportMeasured:
		return nil, errors.New("nothing was measured in a plan; name a record, --job, or with --measured what was")
	}
	return nil, errors.New("it is a plan, which has no revisions and no record; name a record, or --job")
}

func (e *exporting) writeMeasured(m *plan.Measured) ([]byte, error) {
	if e.asJSON {
		return m.Encode()
	}
	return table.WriteMeasured(m)
}

package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"hangtrue/checklist/seal"
)

func (m Main) verify() *cobra.Command {
	var key string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "verify RECORD",
		Short: "Tell whether a record is what was sealed",
		Example: `  hangtrue verify record.json
  hangtrue verify record.json --key hangtrue+1a2b3c4d+AZ…  with the key you noted
  hangtrue verify record.json --json                       for another program`,
		Long: `A record is downloaded from a job's record page. It needs no network and no
server to be checked. Whatever was changed is named: which entry, when, by whom.

Without --key the key in the record itself is used: that shows damage and clumsy
changes, but not a record that somebody made anew with a key of his own. hangtrue
serve says its key when it starts; note it when you sign off.

Exit code 0: signed off, sealed and intact. 1: not, and why. 2: the file is not a
record. "-" reads it from stdin.`,
		Args: want(1, "one record"),
		RunE: func(_ *cobra.Command, args []string) error {
			if key != "" {
				if err := seal.CheckPublic(key); err != nil {
					return errors.New("--key is not a public key such as hangtrue+1a2b3c4d+AZ…")
				}
			}
			data, err := m.read(args[0], seal.MaxFile)
			if err != nil {
				return err
			}
			file, err := seal.Read(data)
			if err != nil {
				return fmt.Errorf("%s: %s", args[0], strings.TrimPrefix(err.Error(), "seal: "))
			}
			report := file.Verify(key)
			if asJSON {
				err = m.reportJSON(report)
			} else {
				_, err = fmt.Fprint(m.Stdout, reportText(report))
			}
			if err != nil {
				return err
			}
			if !report.Intact() || len(report.SignOffs) == 0 {
				return errOff
			}
			return nil
		},
	}
	cmd.Flags().StringVar(&key, "key", "", "the public `key` that you know the record was sealed with")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON instead of sentences")
	return cmd
}

func reportText(r seal.Report) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%q, job %s, %s\n\n", r.Title, r.Job, entries(r.Entries))
	switch {
	case r.Intact():
		b.WriteString("Intact: every entry is what was sealed.\n")
	default:
		b.WriteString("Not intact:\n")
		for _, f := range r.Findings {
			fmt.Fprintf(&b, "- %s\n", f.Text)
		}
	}
	switch n := len(r.SignOffs); {
	case n == 0:
		b.WriteString("Not signed off: no sign-off with a valid seal is in it.\n")
	case r.Later() == 0:
		fmt.Fprintf(&b, "Signed off at entry %d, the last.\n", r.SignOffs[n-1])
	default:
		fmt.Fprintf(&b, "Signed off at entry %d; %s came later.\n", r.SignOffs[n-1], entries(r.Later()))
	}
	if r.Trusted {
		fmt.Fprintf(&b, "Checked with the key you gave.\n")
	} else {
		fmt.Fprintf(&b, "Checked with the key in the record itself. Compare it with the one you noted:\n%q\n", r.Key)
	}
	return b.String()
}

func entries(n int) string {
	if n == 1 {
		return "1 entry"
	}
	return fmt.Sprintf("%d entries", n)
}

func (m Main) reportJSON(r seal.Report) error {
	e := json.NewEncoder(m.Stdout)
	e.SetIndent("", " ")
	e.SetEscapeHTML(false)
	findings, signOffs := r.Findings, r.SignOffs
	if findings == nil {
		findings = []seal.Finding{}
	}
	if signOffs == nil {
		signOffs = []int64{}
	}
	return e.Encode(struct {
		Job      string         `json:"job"`
		Title    string         `json:"title"`
		Key      string         `json:"key"`
		Trusted  bool           `json:"key_given"`
		Entries  int            `json:"entries"`
		Sealed   int64          `json:"sealed"`
		SignOffs []int64        `json:"sign_offs"`
		Intact   bool           `json:"intact"`
		Findings []seal.Finding `json:"findings"`
	}{r.Job, r.Title, r.Key, r.Trusted, r.Entries, r.Sealed, signOffs, r.Intact(), findings})
}

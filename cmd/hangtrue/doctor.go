package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/debug"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hangtrue/server/bolt"
	"hangtrue/server/care"
)

func (m Main) doctor() *cobra.Command {
	var data, pages string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "doctor [BACKUP]",
		Short: "Look through the data folder or a backup and tell what is wrong",
		Example: `  hangtrue doctor                    look through your own data folder
  hangtrue doctor --data /srv/jobs   through this one
  hangtrue doctor jobs.tar           through a backup
  hangtrue doctor --json             for another program`,
		Long: `Every byte is read and none is changed: the pages of the store, every record
against its hash, every seal against the records and the key, the index of ids
both ways, plan documents against their SHA-256, every hold point again, every
photo against its name, what entries name against what is there, records that were
taken over, the list of devices, the local authority, and who may write here. While
a server uses the folder it is asked for a copy, and the copy is looked through.

Exit code 0: sound. 1: something is wrong, and what. 2: it could not look. 3: sound
as far as this program knows the steps; a later edition of them decided something.`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 1 || len(args) == 1 && data != "" {
				return fmt.Errorf("%s wants one folder or backup; %s --help shows how", cmd.CommandPath(), cmd.CommandPath())
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) (err error) {
			if pages != "" {
				return m.printPages(pages)
			}
			path := ""
			if len(args) == 1 {
				path = args[0]
			} else if path, err = m.dataFolder(data); err != nil {
				return err
			}
			report, err := care.Doctor{Pages: m.checkPages}.Look(cmd.Context(), path)
			if err != nil {
				return plainPathError(err)
			}
			if asJSON {
				err = m.printJSON(report)
			} else {
				_, err = io.WriteString(m.Stdout, doctorText(report))
			}
			if err == nil && len(report.Findings) > 0 {
				return errOff
			}
			if err == nil && len(report.Unchecked) > 0 {
				return errPart
			}
			return err
		},
	}
	cmd.Flags().StringVar(&data, "data", "", "`folder` that jobs are kept in")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON instead of sentences")
	cmd.Flags().StringVar(&pages, "pages", "", "")
	cmd.Flags().Lookup("pages").Hidden = true // what checkPages runs
	return cmd
}

func (m Main) printJSON(v any) error {
	e := json.NewEncoder(m.Stdout)
	e.SetIndent("", " ")
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

func doctorText(r care.Report) string {
	var b strings.Builder
	b.WriteString(contentsText(r))
	if len(r.Findings) == 0 {
		b.WriteString("\nSound: everything is what was written.\n")
	} else {
		fmt.Fprintf(&b, "\n%s:\n", count(len(r.Findings), "finding"))
	}
	damaged := false
	for _, f := range r.Findings {
		b.WriteString("- " + findingText(f) + "\n")
		damaged = damaged || f.Damage
	}
	if len(r.Unchecked) > 0 {
		b.WriteString("\nNot all checked:\n")
	}
	for _, u := range r.Unchecked {
		b.WriteString("- " + findingText(care.Finding{Job: u.Job, Title: u.Title, Text: u.String()}) + "\n")
	}
	if damaged {
		b.WriteString("\nRestore a backup from before the damage. Phones that were on the job still have their own copy of its record.\n")
	}
	return b.String()
}

// contentsText says what is in a folder or backup.
func contentsText(r care.Report) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s, %s.\n", r.Path, r.Source)
	if r.Made != "" {
		fmt.Fprintf(&b, "Made %s.\n", r.Made)
	}
	fmt.Fprintf(&b, "%s with %s and %s, %s, %s. Stored format %d.\n",
		count(len(r.Jobs), "job"), count(r.Records, "record"), count(r.Seals, "seal"), count(r.Strays, "stray"), count(r.Photos, "photo"), r.StoreFormat)
	for _, j := range r.Jobs {
		signed := ""
		if j.Signed {
			signed = ", signed off"
		}
		fmt.Fprintf(&b, "  %q, job %s, %s%s\n", j.Title, j.ID, count(j.Records, "record"), signed)
	}
	if r.Key != "" {
		secret := "the secret one is not there"
		if r.Secret {
			secret = "the secret one is there"
		}
		fmt.Fprintf(&b, "Key %q; %s.\n", r.Key, secret)
	}
	return b.String()
}

func findingText(f care.Finding) string {
	var where []string
	if f.Job != "" {
		job := "job " + f.Job
		if f.Title != "" {
			job = fmt.Sprintf("%q, %s", f.Title, job)
		}
		where = append(where, job)
	}
	if f.Position != 0 {
		where = append(where, fmt.Sprintf("record %d", f.Position))
	}
	if len(where) == 0 {
		return f.Text
	}
	return strings.Join(where, ", ") + ": " + f.Text
}

const (
	checkWithin = 2 * time.Minute
	// checkStack bounds the stack of the process that checks pages: damage can send
	// that check round in circles.
	checkStack = 64 << 20
)

// checkPages runs the database's own check in a process of its own, because some
// damage ends that process.
func (m Main) checkPages(ctx context.Context, path string) ([]string, error) {
	self, err := os.Executable()
	if err != nil {
		return nil, err
	}
	if path, err = filepath.Abs(path); err != nil {
		return nil, err
	}
	ctx, cancel := context.WithTimeout(ctx, checkWithin)
	defer cancel()
	cmd := exec.CommandContext(ctx, self, "doctor", "--pages", path)
	out, err := cmd.Output()
	var exit *exec.ExitError
	var problems []string
	switch {
	case ctx.Err() != nil:
		return []string{"it did not come to an end"}, nil
	case errors.As(err, &exit):
		return []string{"it broke down over them"}, nil
	case err != nil:
		return nil, err
	}
	return problems, json.Unmarshal(out, &problems)
}

// printPages is what runs in that process.
func (m Main) printPages(path string) error {
	debug.SetMaxStack(checkStack)
	problems, err := bolt.Check(path)
	if err != nil {
		return err
	}
	if problems == nil {
		problems = []string{}
	}
	return m.printJSON(problems)
}

package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"hangtrue/server/care"
)

func (m Main) restore() *cobra.Command {
	r := care.Restore{}
	cmd := &cobra.Command{
		Use:   "restore BACKUP",
		Short: "Put a backup into a new data folder",
		Example: `  hangtrue restore jobs.tar --dry-run             look what is in it
  hangtrue restore jobs.tar --data /srv/jobs      put it there
  hangtrue restore jobs-2030-01                   put it into your own data folder`,
		Long: `All of the backup is checked before anything is written, and what was written is
read back. A folder that has anything in it is left alone: move the old one away
first. A backup in which anything is damaged is not restored.

Entries that phones sent after the backup was made come back by themselves when
those phones next reach the server, if they still have them.

Exit code 0: restored, or shown. 2: not, and nothing was changed.`,
		Args: want(1, "one backup"),
		RunE: func(cmd *cobra.Command, args []string) (err error) {
			if r.Data, err = m.dataFolder(r.Data); err != nil {
				return err
			}
			r.Backup, r.Pages = args[0], m.checkPages
			report, err := r.Do(cmd.Context())
			if err != nil {
				return plainError(err)
			}
			_, err = io.WriteString(m.Stdout, restoredText(report, r))
			return err
		},
	}
	cmd.Flags().StringVar(&r.Data, "data", "", "`folder` to make")
	cmd.Flags().BoolVar(&r.Dry, "dry-run", false, "check and show what is in it, write nothing")
	return cmd
}

func restoredText(report care.Report, r care.Restore) string {
	var b strings.Builder
	b.WriteString(contentsText(report))
	for _, f := range report.Findings {
		b.WriteString("- " + findingText(f) + "\n")
	}
	b.WriteString("\n")
	if r.Dry {
		fmt.Fprintf(&b, "The backup is sound. Nothing was written.\n")
		return b.String()
	}
	fmt.Fprintf(&b, "Restored into %s and read back.\n", r.Data)
	if !report.Secret {
		b.WriteString("The secret key is not in this backup. Put it into keys/seal.key there, with mode 0600, before you go on.\n")
	}
	fmt.Fprintf(&b, "Next: hangtrue serve --data %s\n", r.Data)
	return b.String()
}

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

Every device has to be paired again, and links no longer open: the backup does not
know who was revoked after it was made. --keep-devices leaves them as they were.
Where the old folder can still be read, its keys/devices.json knows best: put it in
the place of the restored one.

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
				return plainPathError(err)
			}
			_, err = io.WriteString(m.Stdout, restoredText(report, r))
			return err
		},
	}
	cmd.Flags().StringVar(&r.Data, "data", "", "`folder` to make")
	cmd.Flags().BoolVar(&r.KeepDevices, "keep-devices", false, "let in whom the backup lets in, also who was revoked since")
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
		if report.Ended > 0 {
			fmt.Fprintf(&b, "Restoring it ends %s, unless with --keep-devices.\n", pairingsOf(report.Ended))
		}
		return b.String()
	}
	fmt.Fprintf(&b, "Restored into %s and read back.\n", r.Data)
	if !report.Secret {
		b.WriteString("The secret key is not in this backup. Put it into keys/seal.key there, with mode 0600, before you go on.\n")
	}
	switch {
	case report.Ended > 0:
		fmt.Fprintf(&b, "It ended %s: who was revoked after the backup was made must not come back with it.\nPair the phones again (hangtrue pair); they keep what they have recorded and send it then. hangtrue devices lists them.\n", pairingsOf(report.Ended))
	case r.KeepDevices:
		b.WriteString("Devices and links are as the backup has them. Look at hangtrue devices: who was revoked since is let in again.\n")
	}
	fmt.Fprintf(&b, "Next: hangtrue serve --data %s\n", r.Data)
	return b.String()
}

func pairingsOf(n int) string {
	if n == 1 {
		return "the pairing of 1 device or link"
	}
	return fmt.Sprintf("the pairings of %d devices and links", n)
}

package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"hangtrue/server/care"
)

func (m Main) backup() *cobra.Command {
	b := care.Backup{Program: version()}
	cmd := &cobra.Command{
		Use:   "backup FILE-OR-FOLDER",
		Short: "Make a backup of the data folder, also while the server runs",
		Example: `  hangtrue backup /mnt/stick/                one tar file there, named by the time
  hangtrue backup jobs.tar                   one tar file of this name
  hangtrue backup jobs-2030-01               a folder with the same in it
  hangtrue backup --without-key share.tar    without the key that signs`,
		Long: `The backup is of a single moment. A server that uses the folder goes on: it is
asked for a copy; else the folder is read. The backup says which.

It holds the secret key that signs your records: whoever has it can sign in your
place, so keep it where you would keep a house key. --without-key leaves it out;
such a backup can be read and checked, and to go on with it the key must come
from elsewhere.

It gets its name only when it is whole, on the disk, and every record in it was
checked. Nothing is written over. A store in which anything is damaged is not
backed up: hangtrue doctor tells what it is. A damaged photo is left out.

Exit code 0: made. 2: not, and nothing is left of it.`,
		Args: want(1, "the file or folder to make"),
		RunE: func(cmd *cobra.Command, args []string) (err error) {
			if b.Data, err = m.dataFolder(b.Data); err != nil {
				return err
			}
			b.Target, b.Now = args[0], m.Now()
			made, err := b.Make(cmd.Context())
			if err != nil {
				return plainPathError(err)
			}
			_, err = io.WriteString(m.Stdout, madeText(made))
			return err
		},
	}
	cmd.Flags().StringVar(&b.Data, "data", "", "`folder` that jobs are kept in")
	cmd.Flags().BoolVar(&b.WithoutKey, "without-key", false, "leave out the secret key that signs records")
	return cmd
}

func madeText(made care.Made) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n\n", made.Path)
	fmt.Fprintf(&b, "Made %s, %s.\n", made.Made, made.Source)
	records := 0
	for _, j := range made.Jobs {
		records += j.Records
	}
	fmt.Fprintf(&b, "%s with %s, %s, %d bytes.\n", count(len(made.Jobs), "job"), count(records, "record"), count(made.Photos, "photo"), made.Size)
	b.WriteString("Every record and every photo in it was checked.\n")
	for _, name := range made.LeftOut {
		fmt.Fprintf(&b, "Left out, because it is no longer the picture that its name says: %s\n", name)
	}
	if made.Secret {
		b.WriteString("The secret key that signs your records is in it: keep it safe.\n")
	} else {
		b.WriteString("The secret key that signs your records is not in it: to go on from this backup you need it from elsewhere.\n")
	}
	if n := len(made.Findings); n > 0 {
		fmt.Fprintf(&b, "Nothing in it is damaged, but there is something to look at (%s): hangtrue doctor tells what.\n", count(n, "finding"))
	}
	return b.String()
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"hangtrue/checklist/plan"
	"hangtrue/checklist/seal"
	"hangtrue/checklist/strict"
	"hangtrue/checklist/table"
	"hangtrue/server"
	"hangtrue/server/care"
	"hangtrue/server/folder"
)

func (m Main) importing() *cobra.Command {
	i := importing{Main: m}
	cmd := &cobra.Command{
		Use:   "import RECORD-OR-TABLE",
		Short: "Take a job over by its record, or a table of mounts into a plan",
		Example: `  hangtrue import record.json                                  take over a job of another server
  hangtrue import record.json --key hangtrue+1a2b3c4d+AZ…      only if it is sealed with the key you noted
  hangtrue import mounts.csv --plan plan.json                  show what a table changes in a plan
  hangtrue import mounts.csv --plan plan.json --out new.json   write the plan that comes of it`,
		Long: `A record becomes a job with every entry at its place, also while the server runs,
when each is what was sealed. Its sign-offs get this server's own seals; the file
as it came is kept in the data folder under imports/. A job that is here already
is compared with the record and left alone. A job lives on one server: stop working
on the other one. A record has the hashes of its photos alone; copy what is in the
other data folder's photos/ into this one's.

A table has a header row with the names that a mount has in the plan document, in
any order, and a row for each mount, as hangtrue export mounts writes it. Lengths
may be what a tape says. A row replaces or adds the mount of its channel; a column
that is left out changes nothing. Mounts that the table does not list stay, unless
--only is set. Every problem is told with its row and column. hangtrue settle makes
the new plan a job's next revision.

Exit code 0: done, or shown. 2: not, and nothing was changed.`,
		Args: want(1, "one record or table"),
		RunE: func(cmd *cobra.Command, args []string) error {
			i.file = args[0]
			if i.plan != "" {
				return i.mounts()
			}
			if i.out != "" || i.only {
				return errors.New("--out and --only go with --plan")
			}
			return i.record(cmd.Context())
		},
	}
	cmd.Flags().StringVar(&i.plan, "plan", "", "`plan` to take a table of mounts into")
	cmd.Flags().StringVar(&i.out, "out", "", "`file` to write the new plan to; it may be the old one")
	cmd.Flags().BoolVar(&i.only, "only", false, "drop the plan's mounts that the table does not list")
	cmd.Flags().StringVar(&i.key, "key", "", "the public `key` that you know the record was sealed with")
	cmd.Flags().StringVar(&i.data, "data", "", "`folder` to put the job into")
	return cmd
}

// importing is one run of the command.
type importing struct {
	Main
	file, plan, out, key, data string
	only                       bool
}

func (i importing) record(ctx context.Context) error {
	if i.key != "" {
		if err := seal.CheckPublic(i.key); err != nil {
			return errors.New("--key is not a public key such as hangtrue+1a2b3c4d+AZ…")
		}
	}
	data, err := i.read(i.file, seal.MaxFile)
	if err != nil {
		return err
	}
	if !isJSON(i.file, data) {
		return fmt.Errorf("%s: it is no record; for a table of mounts say with --plan which plan it goes into", i.file)
	}
	dir, err := i.dataFolder(i.data)
	if err != nil {
		return err
	}
	in, err := care.Import{Record: data, Key: i.key, Data: dir, Now: i.Now}.Do(ctx)
	if err != nil {
		return inFile(i.file, errors.New(plainImport(err)))
	}
	_, err = fmt.Fprint(i.Stdout, i.imported(in, dir))
	return err
}

// plainImport takes away what is for programmers alone.
func plainImport(err error) string {
	return withoutPackage(plainPathError(err).Error())
}

func (i importing) imported(in server.Imported, dir string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%q, job %s, %s\n\n", in.Title, in.Job, entries(in.Records))
	if !in.Added {
		b.WriteString("The job is here already, and agrees with the record entry for entry. Nothing was added.\n")
		if in.Later > 0 {
			fmt.Fprintf(&b, "Its log goes on here: %s came later.\n", entries(int(in.Later)))
		}
		return b.String()
	}
	fmt.Fprintf(&b, "Taken over into %s.\nThe record as it came, with the seals it had, is kept in %s.\n", dir, filepath.Join(dir, folder.ImportsDir, in.Job+".json"))
	if i.key == "" {
		b.WriteString("Checked with the key in the record itself: somebody may have made it anew with a key of his own. --key checks it with one that you noted.\n")
	} else {
		b.WriteString("Checked with the key you gave.\n")
	}
	return b.String()
}

func (i importing) mounts() error {
	if i.key != "" || i.data != "" {
		return errors.New("--key and --data go with a record, not with --plan")
	}
	data, err := i.read(i.plan, strict.MaxSize)
	if err != nil {
		return err
	}
	p, err := plan.Decode(data)
	if err != nil {
		return inFile(i.plan, err)
	}
	if data, err = i.read(i.file, strict.MaxSize); err != nil {
		return err
	}
	got, err := table.ReadMounts(data, p, table.Rest(i.only))
	if err != nil {
		return inFile(i.file, err)
	}
	for _, c := range got.Changes {
		fmt.Fprintln(i.Stdout, c.String())
	}
	if len(got.Changes) == 0 {
		fmt.Fprintln(i.Stdout, "The plan has these mounts already.")
	}
	if len(got.Left) > 0 && !i.only {
		fmt.Fprintf(i.Stdout, "Not in the table, and left as they are: %s\n", strings.Join(got.Left, ", "))
	}
	if i.out == "" {
		fmt.Fprintln(i.Stdout, "Nothing was written; say with --out where to.")
		return nil
	}
	after := *p
	after.Mounts = got.Mounts
	if data, err = after.Encode(); err != nil {
		return err
	}
	if err := folder.WriteWhole(i.out, data); err != nil {
		return plainPathError(err)
	}
	fmt.Fprintf(i.Stdout, "Written to %s.\n", i.out)
	return nil
}

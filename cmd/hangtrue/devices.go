package main

import (
	"errors"
	"fmt"
	"image/color"
	"io"
	"os"
	"path/filepath"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/boombuler/barcode/qr"
	"github.com/spf13/cobra"

	"hangtrue/checklist"
	"hangtrue/server/folder"
	"hangtrue/server/pairing"
)

func (m Main) pair() *cobra.Command {
	var data, role string
	cmd := &cobra.Command{
		Use:   "pair",
		Short: "Show a code that pairs a phone with the server",
		Example: `  hangtrue pair                     an installer's phone
  hangtrue pair --role lead         a lead's`,
		Long: `The code works once, within ten minutes, on a running server or one that is
started meanwhile. Five wrong tries close it. Whoever may write the data folder may
open pairing.`,
		Args: want(0, "no file"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			book, err := m.book(data)
			if err != nil {
				return err
			}
			return showCode(m.Stdout, book, checklist.Role(role))
		},
	}
	cmd.Flags().StringVar(&data, "data", "", "`folder` the jobs are in")
	cmd.Flags().StringVar(&role, "role", string(checklist.Installer), "what its holder may do: `lead`, installer or viewer")
	return cmd
}

func (m Main) devices() *cobra.Command {
	var data string
	cmd := &cobra.Command{
		Use:   "devices",
		Short: "List paired phones and links, or revoke one",
		Example: `  hangtrue devices                  who may come in
  hangtrue devices revoke ID        not this one any more, from now on`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) > 0 {
				return fmt.Errorf("%s has no command %q; %s --help shows how", cmd.CommandPath(), args[0], cmd.CommandPath())
			}
			return nil
		},
		RunE: func(*cobra.Command, []string) error {
			book, err := m.book(data)
			if err != nil {
				return err
			}
			list, err := book.List()
			if err != nil {
				return err
			}
			return printList(m.Stdout, list, m.Now())
		},
	}
	revoke := &cobra.Command{
		Use:     "revoke ID",
		Short:   "End a device's pairing, or a link and every visit by it",
		Example: `  hangtrue devices revoke 019b0000-0000-7000-8000-00000000dd00`,
		Args:    want(1, "one ID, as hangtrue devices lists them"),
		RunE: func(_ *cobra.Command, args []string) error {
			book, err := m.book(data)
			if err != nil {
				return err
			}
			switch err := book.Revoke(args[0]); {
			case errors.Is(err, pairing.ErrNone):
				return fmt.Errorf("there is no device or link %s that could be revoked; hangtrue devices lists them", args[0])
			case err != nil:
				return err
			}
			fmt.Fprintf(m.Stdout, "Revoked %s.\n", args[0])
			return nil
		},
	}
	cmd.PersistentFlags().StringVar(&data, "data", "", "`folder` the jobs are in")
	cmd.AddCommand(revoke)
	return cmd
}

// book opens the list of paired devices of a data folder that is there.
func (m Main) book(data string) (*pairing.Book, error) {
	dir, err := m.dataFolder(data)
	if err != nil {
		return nil, err
	}
	if _, err := os.Stat(filepath.Join(dir, folder.JobsFile)); err != nil {
		return nil, fmt.Errorf("%w; hangtrue serve makes the folder", plainPathError(err))
	}
	return pairing.Open(dir, m.Now)
}

// showCode opens pairing and shows how to use it.
func showCode(w io.Writer, book *pairing.Book, role checklist.Role) error {
	address, err := book.Address()
	if err != nil {
		return err
	}
	code, err := book.OpenCode(role)
	if errors.Is(err, pairing.ErrInput) {
		return fmt.Errorf("--role %s: wanted lead, installer or viewer", role)
	} else if err != nil {
		return err
	}
	if address == "" {
		fmt.Fprintf(w, "To pair one %s's phone open the server's address, with /pair behind it, and type %s\n"+
			"(phones reach a server that runs with --lan)\n", role, code.Typed)
	} else {
		link := address + "/pair#" + code.Long
		picture, err := blocks(link)
		if err != nil {
			return err
		}
		fmt.Fprintf(w, "%sTo pair one %s's phone point its camera at this, or open\n%s/pair and type %s\n", picture, role, address, code.Typed)
	}
	fmt.Fprintf(w, "It works once, until %s.\n", code.Until.Local().Format("15:04:05"))
	return nil
}

// quiet is the margin that a reader needs around a code, in modules (ISO/IEC 18004).
const quiet = 4

// blocks draws a text as a QR code (ISO/IEC 18004, error correction level L: a screen
// has no stains) out of half blocks, dark on light whatever the terminal's colours are.
func blocks(text string) (string, error) {
	code, err := qr.Encode(text, qr.L, qr.Auto)
	if err != nil {
		return "", fmt.Errorf("a QR code of %d characters: %w", len(text), err)
	}
	size := code.Bounds().Dx()
	dark := func(x, y int) bool {
		x, y = x-quiet, y-quiet
		return x >= 0 && y >= 0 && x < size && y < size && code.At(x, y) == color.Black
	}
	var out strings.Builder
	for y := 0; y < size+2*quiet; y += 2 {
		out.WriteString("\x1b[30;107m") // black on bright white
		for x := range size + 2*quiet {
			switch upper, lower := dark(x, y), dark(x, y+1); {
			case upper && lower:
				out.WriteRune('█')
			case upper:
				out.WriteRune('▀')
			case lower:
				out.WriteRune('▄')
			default:
				out.WriteByte(' ')
			}
		}
		out.WriteString("\x1b[0m\n")
	}
	return out.String(), nil
}

// isTerminal tells whether what is written here is read by a person at once, and
// kept by nobody: a code does not belong into a log.
func isTerminal(w io.Writer) bool {
	f, ok := w.(*os.File)
	if !ok {
		return false
	}
	info, err := f.Stat()
	return err == nil && info.Mode()&os.ModeCharDevice != 0
}

// greet shows a code for the first lead, where a person is there to see it; later
// ones are opened on purpose.
func (m Main) greet(book *pairing.Book) error {
	list, err := book.List()
	if err != nil {
		return err
	}
	for _, d := range list.Devices {
		if d.Role == checklist.Lead && d.Revoked.IsZero() && m.Now().Before(d.Ends()) {
			return nil
		}
	}
	if !m.Terminal {
		fmt.Fprintln(m.Stderr, "No lead's phone is paired. To pair one: hangtrue pair --role lead")
		return nil
	}
	return showCode(m.Stderr, book, checklist.Lead)
}

func printList(w io.Writer, list pairing.List, now time.Time) error {
	if len(list.Devices)+len(list.Links) == 0 {
		fmt.Fprintln(w, "No device is paired. To pair one: hangtrue pair")
		return nil
	}
	day := func(t time.Time) string { return t.UTC().Format("2006-01-02 15:04") }
	state := func(revoked time.Time, stands bool) string {
		switch {
		case !revoked.IsZero():
			return "revoked " + day(revoked)
		case !stands:
			return "ended"
		}
		return "paired"
	}
	table := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	if len(list.Devices) > 0 {
		fmt.Fprintln(table, "DEVICE\tWHO\tROLE\tPAIRED (UTC)\tLAST SEEN\tSTATE")
	}
	for _, d := range list.Devices {
		role := string(d.Role)
		if d.Job != "" {
			role += " of " + d.Job
		}
		fmt.Fprintf(table, "%s\t%s\t%s\t%s\t%s\t%s\n", d.ID, d.Who, role, day(d.Paired), day(d.Seen), state(d.Revoked, now.Before(d.Ends())))
	}
	if err := table.Flush(); err != nil {
		return err
	}
	if len(list.Links) > 0 {
		fmt.Fprintln(table, "LINK\tJOB\tMADE (UTC)\tOPENS UNTIL\tSTATE")
	}
	for _, l := range list.Links {
		s := state(l.Revoked, now.Before(l.Until))
		if s == "paired" {
			s = "open"
		}
		fmt.Fprintf(table, "%s\t%s\t%s\t%s\t%s\n", l.ID, l.Job, day(l.Made), day(l.Until), s)
	}
	return table.Flush()
}

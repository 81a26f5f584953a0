package main

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/strict"
	"hangtrue/pwa/markup"
	"hangtrue/pwa/paper"
	"hangtrue/server/press"
)

func (m Main) paper() *cobra.Command {
	p := papers{Main: m}
	cmd := &cobra.Command{
		Use:   "paper PLAN",
		Short: "Write what is carried to the wall: mark-out, templates, labels, lists",
		Example: `  hangtrue paper plan.json --out sheets                  all of it, on A4
  hangtrue paper plan.json --out sheets --paper letter   on Letter
  hangtrue paper plan.json --out sheets --labels columns=3,rows=8,width=70,height=37,left=0,top=0.5`,
		Long: `It writes a PDF of each kind and one of all, an SVG of each sheet, and the tables
as CSV. Templates are in true size: print at 100%, without fitting to the page, and
measure what says 100 mm before you drill by it.

Every sheet says that the plan is a draft, because a file does not tell whether
anybody settled it. A running hangtrue serve prints the plan that is in force.

The folder must be new or empty, so that no outdated sheet lies among the new ones.
--labels takes the name of a grid or its numbers, lengths in millimetres: grid,
columns, rows, width, height, left, top, across, down, skip, cut.

Exit code 0: written. 2: not. "-" reads the plan from stdin.`,
		Args: want(1, "one plan"),
		RunE: func(_ *cobra.Command, args []string) error { return p.run(args[0]) },
	}
	cmd.Flags().StringVar(&p.out, "out", "", "`folder` to write into; it must be new or empty")
	cmd.Flags().StringVar(&p.size, "paper", paper.A4.Name, "`size` of the paper: a4 or letter")
	cmd.Flags().StringVar(&p.labels, "labels", "", "`grid` of the label sheet; plain paper to cut, if left out")
	return cmd
}

// papers is one run of the command.
type papers struct {
	Main
	out, size, labels string
	written           int
}

func (p *papers) run(path string) error {
	if p.out == "" {
		return errors.New("say with --out which folder to write into")
	}
	size, ok := paper.SizeNamed(p.size)
	if !ok {
		return fmt.Errorf("--paper: read %.30q, want a4 or letter", p.size)
	}
	grid, err := p.grid(size)
	if err != nil {
		return fmt.Errorf("--labels: %s", strings.TrimPrefix(err.Error(), "paper: label grid: "))
	}
	document, err := p.read(path, strict.MaxSize)
	if err != nil {
		return err
	}
	decoded, err := plan.Decode(document)
	if err != nil {
		return inFile(path, err)
	}
	sum := sha256.Sum256(document)
	job := paper.Job{Plan: decoded, Template: checklist.Loudspeakers, SHA256: hex.EncodeToString(sum[:]), Draft: true}
	if err := p.documents(job, size, grid); err != nil {
		return err
	}
	fmt.Fprintf(p.Stdout, "%d files in %s. Print all-%s.pdf at 100%%, and measure what says 100 mm before you drill by it.\n", p.written, p.out, size.Name)
	return nil
}

// grid reads --labels, words of the form name=value with commas between them.
func (p *papers) grid(size paper.Size) (paper.Grid, error) {
	typed := map[string]string{}
	for word := range strings.SplitSeq(p.labels, ",") {
		name, value, ok := strings.Cut(strings.TrimSpace(word), "=")
		if !ok && word != "" {
			return paper.Grid{}, fmt.Errorf("read %.30q, want name=value", word)
		}
		typed[name] = value
	}
	return paper.ReadGrid(size, func(name string) string { return typed[name] })
}

// folder makes the folder, or finds it empty.
func (p *papers) folder() error {
	entries, err := os.ReadDir(p.out)
	switch {
	case errors.Is(err, os.ErrNotExist):
		return plainPathError(os.MkdirAll(p.out, 0o755))
	case err != nil:
		return plainPathError(err)
	case len(entries) > 0:
		return fmt.Errorf("%s: it is not empty; name a new folder, so that no outdated sheet lies among the new ones", p.out)
	}
	return nil
}

// documents makes everything before it writes anything.
func (p *papers) documents(job paper.Job, size paper.Size, grid paper.Grid) error {
	var all []paper.Document
	tables := map[string][]byte{}
	for _, k := range paper.Kinds {
		d, err := job.Document(k.Name, size, grid)
		if err == nil && k.Table {
			tables[k.Name], err = job.Table(k.Name)
		}
		if err != nil {
			return fmt.Errorf("%s: %s", k.Name, strings.TrimPrefix(err.Error(), "paper: "))
		}
		all = append(all, d)
	}
	if err := p.folder(); err != nil {
		return err
	}
	for _, d := range all {
		if err := p.document(d, size); err != nil {
			return err
		}
		if table, ok := tables[d.Name]; ok {
			if err := p.write(d.Name+".csv", table); err != nil {
				return err
			}
		}
	}
	data, err := press.PDF(job.Plan.Title, all...)
	if err != nil {
		return err
	}
	return p.write("all-"+size.Name+".pdf", data)
}

func (p *papers) document(d paper.Document, size paper.Size) error {
	data, err := press.PDF(d.Title, d)
	if err != nil {
		return err
	}
	if err := p.write(d.Name+"-"+size.Name+".pdf", data); err != nil {
		return err
	}
	for i, s := range d.Sheets {
		if err := p.write(fmt.Sprintf("%s-%s-%d.svg", d.Name, size.Name, i+1), []byte(markup.String(s.SVG()))); err != nil {
			return err
		}
	}
	return nil
}

func (p *papers) write(name string, data []byte) error {
	p.written++
	return plainPathError(os.WriteFile(filepath.Join(p.out, name), data, 0o644))
}

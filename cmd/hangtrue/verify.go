package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"hangtrue/checklist"
	"hangtrue/checklist/seal"
	"hangtrue/server/photos"
	"hangtrue/server/store"
)

func (m Main) verify() *cobra.Command {
	var key, dir string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "verify RECORD",
		Short: "Tell whether a record is what was sealed",
		Example: `  hangtrue verify record.json
  hangtrue verify record.json --key hangtrue+1a2b3c4d+AZ…  with the key you noted
  hangtrue verify record.json --photos data/photos         and the photos that it names
  hangtrue verify record.json --json                       for another program`,
		Long: `A record is downloaded from a job's record page. It needs no network and no
server to be checked. Whatever was changed is named: which entry, when, by whom.

Without --key the key in the record itself is used: that shows damage and clumsy
changes, but not a record that somebody made anew with a key of his own. hangtrue
serve says its key when it starts; note it when you sign off.

The record has the hashes of its photos. --photos takes the folder that they are
in, photos/ of a data folder or one with all of them side by side, and holds each
to its hash.

Every entry says by which edition of the steps it was decided, and is held to the
hold points of that one. What a later edition decided than this program knows is
told: the seal is checked all the same, the hold points are not.

Exit code 0: signed off, sealed and intact. 1: not, and why; or a photo is missing
or another. 2: the file is not a record. 3: as 0, but for entries that a later
edition decided: ask a newer hangtrue. "-" reads it from stdin.`,
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
			pictures, err := lookAtPhotos(file, dir)
			if err != nil {
				return plainPathError(err)
			}
			if asJSON {
				err = m.reportJSON(report, pictures)
			} else {
				_, err = fmt.Fprint(m.Stdout, reportText(report)+pictures.text())
			}
			if err != nil {
				return err
			}
			if !report.Intact() || len(report.SignOffs) == 0 || len(pictures.Missing)+len(pictures.Altered) > 0 {
				return errOff
			}
			if len(report.Unchecked) > 0 {
				return errPart
			}
			return nil
		},
	}
	cmd.Flags().StringVar(&key, "key", "", "the public `key` that you know the record was sealed with")
	cmd.Flags().StringVar(&dir, "photos", "", "the `folder` with the photos that the record names")
	cmd.Flags().BoolVar(&asJSON, "json", false, "print JSON instead of sentences")
	return cmd
}

// a pictured record is what became of the photos that a record names.
type pictured struct {
	Named   int         `json:"named"`
	Folder  string      `json:"folder,omitempty"` // empty when nobody said where they are
	Missing []photoName `json:"missing"`
	Altered []photoName `json:"altered"` // there, and another picture
}

type photoName struct {
	SHA256   string `json:"sha256"`
	Position int64  `json:"position"` // of the entry
	entry    string
}

// lookAtPhotos holds the photos in a folder to what the record names.
func lookAtPhotos(f seal.File, dir string) (pictured, error) {
	p := pictured{Folder: dir, Missing: []photoName{}, Altered: []photoName{}}
	if dir != "" {
		if _, err := os.ReadDir(dir); err != nil {
			return p, err
		}
	}
	seen := map[string]bool{}
	for i, r := range f.Records {
		for _, photo := range checklist.PhotosOf(r.Entry) {
			if seen[photo.SHA256] {
				continue
			}
			seen[photo.SHA256] = true
			p.Named++
			if dir == "" {
				continue
			}
			name := photoName{photo.SHA256, int64(i + 1), f.EntryName(i)}
			_, err := photos.In(dir, photo)
			var damage *store.Damage
			switch {
			case errors.Is(err, photos.ErrMissing):
				p.Missing = append(p.Missing, name)
			case errors.As(err, &damage):
				p.Altered = append(p.Altered, name)
			case err != nil:
				return p, err
			}
		}
	}
	return p, nil
}

func (p pictured) text() string {
	var b strings.Builder
	switch {
	case p.Named == 0:
		return ""
	case p.Folder == "":
		fmt.Fprintf(&b, "It names %s; --photos holds them to it.\n", count(p.Named, "photo"))
		return b.String()
	}
	good := p.Named - len(p.Missing) - len(p.Altered)
	fmt.Fprintf(&b, "It names %s; %d in %s are those.\n", count(p.Named, "photo"), good, p.Folder)
	for _, m := range p.Missing {
		fmt.Fprintf(&b, "- %s names the photo %s, which is missing.\n", m.entry, m.SHA256)
	}
	for _, a := range p.Altered {
		fmt.Fprintf(&b, "- %s names the photo %s, and what is there is another.\n", a.entry, a.SHA256)
	}
	return b.String()
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
	if len(r.Unchecked) > 0 {
		b.WriteString("Not all checked:\n")
		for _, u := range r.Unchecked {
			fmt.Fprintf(&b, "- %s\n", u)
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

func (m Main) reportJSON(r seal.Report, p pictured) error {
	e := json.NewEncoder(m.Stdout)
	e.SetIndent("", " ")
	e.SetEscapeHTML(false)
	findings, unchecked, signOffs := r.Findings, r.Unchecked, r.SignOffs
	if findings == nil {
		findings = []seal.Finding{}
	}
	if unchecked == nil {
		unchecked = []seal.Unchecked{}
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
		// Unchecked are entries whose hold points could not be followed.
		Unchecked []seal.Unchecked `json:"unchecked"`
		Photos    pictured         `json:"photos"`
	}{r.Job, r.Title, r.Key, r.Trusted, r.Entries, r.Sealed, signOffs, r.Intact(), findings, unchecked, p})
}

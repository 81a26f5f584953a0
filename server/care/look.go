package care

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"hangtrue/checklist/seal"
	"hangtrue/server/bolt"
	"hangtrue/server/folder"
)

// A Finding is one thing that is wrong, said for a person.
type Finding struct {
	Job      string `json:"job,omitempty"`
	Title    string `json:"title,omitempty"`    // of the job
	Position int64  `json:"position,omitempty"` // of the record it is about
	Text     string `json:"text"`
	// Damage tells that something kept is not what was written. What is not damage
	// is a rule that was not held, or something that is missing around the store.
	Damage bool `json:"damage"`
	// Steps is the edition of the steps by which a hold point was not met, as in
	// [seal.Finding].
	Steps int `json:"steps,omitempty"`
}

// Unchecked is a run of a job's records that was decided by an edition of the steps that
// this program does not know. That is nothing wrong with them.
type Unchecked struct {
	Job   string `json:"job"`
	Title string `json:"title,omitempty"`
	seal.Unchecked
}

// A Report is what a look at a folder or a backup found.
type Report struct {
	Path        string    `json:"path"`
	Source      Source    `json:"source"`
	Made        string    `json:"made,omitempty"` // when it is a backup
	StoreFormat int       `json:"store_format"`
	Key         string    `json:"key"`            // the public key the seals were checked with
	Secret      bool      `json:"has_secret_key"` // the secret one is there
	Jobs        []Job     `json:"jobs"`
	Records     int       `json:"records"`
	Seals       int       `json:"seals"`
	Strays      int       `json:"strays"`
	Photos      int       `json:"photos"`
	Findings    []Finding `json:"findings"`
	// Unchecked are records whose hold points could not be followed.
	Unchecked []Unchecked `json:"unchecked"`

	named map[string]naming // photos that entries name, by hash

	Ended int `json:"-"` // devices and links that restoring ended
}

// Damaged are the findings that are damage.
func (r Report) Damaged() []Finding {
	return slices.DeleteFunc(slices.Clone(r.Findings), func(f Finding) bool { return !f.Damage })
}

// PageCheck checks the pages of a store's file by other means than this package's.
type PageCheck func(ctx context.Context, path string) (problems []string, err error)

// A Doctor looks at folders and backups.
type Doctor struct {
	Pages PageCheck // nil leaves it out
}

// Look reads everything in a data folder or a backup and tells what is wrong. It
// changes nothing. An error means that it could not look.
func (d Doctor) Look(ctx context.Context, path string) (Report, error) {
	if IsBackup(path) {
		return d.backup(ctx, path)
	}
	return d.folder(ctx, path)
}

func (d Doctor) folder(ctx context.Context, dir string) (r Report, err error) {
	if err := hasStore(dir); err != nil {
		return r, err
	}
	r = Report{Path: dir, Source: fromFolder}
	public := r.key(dir)
	err = d.store(ctx, &r, filepath.Join(dir, folder.JobsFile), public)
	if errors.Is(err, bolt.ErrInUse) {
		err = inTemporary(func(temporary string) error {
			store := filepath.Join(temporary, folder.JobsFile)
			if r.Source, err = askServer(ctx, dir, store); err != nil {
				return err
			}
			return d.store(ctx, &r, store, public)
		})
	}
	if err != nil {
		return r, err
	}
	err = r.files(dir)
	r.finish()
	return r, err
}

// key reads a folder's secret key and gives its public one.
func (r *Report) key(dir string) (public string) {
	path := filepath.Join(dir, filepath.FromSlash(folder.KeyFile))
	key, err := folder.ReadKey(path)
	switch {
	case err == nil:
		r.Secret = true
		return key.Public()
	case errors.Is(err, fs.ErrNotExist):
		r.find("The key %s is missing: hangtrue serve does not start without it. Put the backup's in its place.", path)
	default:
		r.find("Something is wrong with the key's file %s.", afterPrefix(err))
	}
	return ""
}

func (d Doctor) backup(ctx context.Context, path string) (r Report, err error) {
	r = Report{Path: path, Source: "read directly: a backup"}
	err = inTemporary(func(temporary string) error {
		m, findings, err := read(path, extract(temporary))
		if err != nil {
			return err
		}
		return d.extracted(ctx, &r, m, findings, temporary)
	})
	return r, err
}

// extracted looks at the parts of a backup that lie in a folder.
func (d Doctor) extracted(ctx context.Context, r *Report, m Manifest, findings []Finding, dir string) error {
	r.Made, r.Findings = m.Made, findings
	public := m.Key
	if m.Secret {
		if own := r.key(dir); own != "" && own != public {
			r.find("The secret key is not the one that the manifest names.")
		}
	}
	if err := hasStore(dir); err == nil {
		if err := d.store(ctx, r, filepath.Join(dir, folder.JobsFile), public); err != nil {
			return err
		}
	} else if len(findings) == 0 {
		r.damage("There is no %s in it.", folder.JobsFile)
	}
	err := r.files(dir)
	r.finish()
	return err
}

// store looks at a store's file.
func (d Doctor) store(ctx context.Context, r *Report, path, public string) error {
	r.named = map[string]naming{}
	j := judge{report: r, titles: map[string]string{}}
	e, err := bolt.Examine(path, j.job)
	if err != nil {
		return err
	}
	r.StoreFormat, r.Strays, r.Key = e.Format, e.Strays, cmp.Or(e.Key, public)
	for _, problem := range e.Pages {
		r.damage("The pages of jobs.db: %s.", problem)
	}
	for _, damage := range e.Damage {
		f := Finding{Job: damage.Job, Title: j.titles[damage.Job], Position: damage.Position, Text: sentence(damage.What), Damage: true}
		r.Findings = append(r.Findings, f)
	}
	if e.Key != "" && public != "" && e.Key != public {
		r.find("The key is another one than the seals here are made with (%s): hangtrue serve does not start with it. Put the backup's in its place.", e.Key)
	}
	j.seals()
	if d.Pages == nil {
		return nil
	}
	problems, err := d.Pages(ctx, path)
	if err != nil {
		return err
	}
	for _, problem := range problems {
		r.damage("The pages of jobs.db, by the database's own check: %s.", problem)
	}
	return nil
}

func (r *Report) find(text string, args ...any) {
	r.Findings = append(r.Findings, Finding{Text: fmt.Sprintf(text, args...)})
}

func (r *Report) damage(text string, args ...any) {
	r.Findings = append(r.Findings, Finding{Text: fmt.Sprintf(text, args...), Damage: true})
}

// finish puts findings in the order of jobs and positions, and leaves no list out.
func (r *Report) finish() {
	slices.SortStableFunc(r.Findings, func(a, b Finding) int {
		return cmp.Or(cmp.Compare(a.Job, b.Job), cmp.Compare(a.Position, b.Position))
	})
	if r.Findings == nil {
		r.Findings = []Finding{}
	}
	if r.Unchecked == nil {
		r.Unchecked = []Unchecked{}
	}
	if r.Jobs == nil {
		r.Jobs = []Job{}
	}
}

// others gives every file of a data folder beside its store: keys, photos, whatever
// else is kept there. Names that begin with a dot are being written and belong to
// nothing yet. Odd is what no backup can have: a link, say, or a name that no part has.
// It counts photos.
func others(dir string, each, odd func(name string) error) (photos int, err error) {
	err = filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		name = filepath.ToSlash(name)
		switch {
		case name == ".":
			return nil
		case d.Name()[0] == '.' && d.IsDir():
			return fs.SkipDir
		case d.IsDir() || d.Name()[0] == '.' || folder.IsStore(name):
			return nil
		case !d.Type().IsRegular() || !isPart(name):
			return odd(name)
		}
		if strings.HasPrefix(name, folder.PhotosDir+"/") {
			photos++
		}
		return each(name)
	})
	return photos, err
}

func inTemporary(do func(dir string) error) error {
	dir, err := os.MkdirTemp("", "hangtrue-*") // mode 0700
	if err != nil {
		return err
	}
	return errors.Join(do(dir), os.RemoveAll(dir))
}

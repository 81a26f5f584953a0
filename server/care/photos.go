package care

import (
	"maps"
	"path/filepath"
	"slices"
	"strings"

	"hangtrue/checklist"
	"hangtrue/server/bolt"
	"hangtrue/server/folder"
	"hangtrue/server/photos"
)

// a naming is the first record of a job that names a photo.
type naming struct {
	job      string
	position int64
}

// photos notes the photos that a job's entries name.
func (j *judge) photos(b bolt.Job) {
	for _, r := range b.Records {
		for _, p := range checklist.PhotosOf(r.Entry) {
			if _, known := j.report.named[p.SHA256]; !known {
				j.report.named[p.SHA256] = naming{b.ID, r.Position}
			}
		}
	}
}

// files looks at everything beside the store: each photo is held to its name, and what
// entries name has to be there. Whether a photo that is not there is still on a phone
// or was lost, nobody can tell from here.
func (r *Report) files(dir string) error {
	titles := map[string]string{}
	for _, j := range r.Jobs {
		titles[j.ID] = j.Title
	}
	here := map[string]bool{}
	err := photos.Look(filepath.Join(dir, folder.PhotosDir), func(f photos.Found) error {
		if f.SHA256 != "" {
			here[f.SHA256] = true
		} else {
			r.Findings = append(r.Findings, photoFinding(f))
		}
		return nil
	})
	if err != nil {
		return err
	}
	for _, hash := range slices.Sorted(maps.Keys(r.named)) {
		if n := r.named[hash]; !here[hash] {
			r.Findings = append(r.Findings, Finding{Job: n.job, Title: titles[n.job], Position: n.position,
				Text: "The photo " + hash + " that it names is not here: it has not arrived yet, or was lost. A phone that took it may still have it."})
		}
	}
	r.beside(dir)
	r.Photos, err = others(dir, r.record(dir), func(name string) error {
		if !strings.HasPrefix(name, folder.PhotosDir+"/") { // which was told
			r.find("%q in the folder is a link, no plain file or of a name that no part of a backup has, so that no backup can be made.", name)
		}
		return nil
	})
	return err
}

func photoFinding(f photos.Found) Finding {
	return Finding{Text: "The file " + strings.TrimSuffix(folder.PhotosDir+"/"+f.Name, "/") + " " + f.Fault + ".", Damage: f.Damage}
}

// leftOut tells whether a file is a photo that is no longer the one of its name. A
// backup that took it in would vouch for it, and one that is not there can be sent again
// by the phone that took it.
func (p *packer) leftOut(name string) (bool, error) {
	within, ok := strings.CutPrefix(name, folder.PhotosDir+"/")
	if !ok {
		return false, nil
	}
	f, err := photos.One(filepath.Join(p.Data, folder.PhotosDir), within)
	if err != nil || !f.Damage {
		return false, err
	}
	p.made.Findings = append(p.made.Findings, photoFinding(f))
	p.made.LeftOut = append(p.made.LeftOut, name)
	return true, nil
}

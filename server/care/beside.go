package care

import (
	"os"
	"path/filepath"
	"strings"
	"time"

	"hangtrue/checklist"
	"hangtrue/checklist/seal"
	"hangtrue/server/authority"
	"hangtrue/server/folder"
	"hangtrue/server/pairing"
)

// beside looks at what lies beside the store and photos and has no hash in them: the
// list of devices, the local authority, and who may write here.
func (r *Report) beside(dir string) {
	for _, err := range []error{pairing.Look(dir), authority.Look(dir, time.Now()), folder.Closed(dir), folder.Closed(filepath.Join(dir, folder.KeysDir))} {
		if err != nil {
			r.find("Something is wrong with %s", strings.TrimSuffix(afterPrefix(err), ".")+".")
		}
	}
}

// record looks at the record files that jobs were made of. They have the seals of
// another server, which nothing else has. What is wrong with one is no damage to the
// jobs, and keeps no backup from being made or restored.
func (r *Report) record(dir string) func(name string) error {
	return func(name string) error {
		within, ok := strings.CutPrefix(name, folder.ImportsDir+"/")
		if !ok {
			return nil
		}
		job, ok := strings.CutSuffix(within, ".json")
		if !ok || !checklist.IsUUID(job) {
			r.find("The file %s is not named as a record is.", name)
			return nil
		}
		data, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(name)))
		if err != nil {
			return err
		}
		if what := unsound(data, job); what != "" {
			r.find("The record %s is not as it came when its job was taken over: %s The job here is not affected; who handed the record over has it too.", name, sentence(what))
		}
		return nil
	}
}

// unsound is what is wrong with a record first, "" where it is intact.
func unsound(data []byte, job string) string {
	file, err := seal.Read(data)
	if err != nil {
		return strings.TrimPrefix(err.Error(), "seal: ")
	}
	if file.Job != job {
		return "it is of another job"
	}
	if report := file.Verify(file.Key); !report.Intact() {
		return report.Findings[0].Text
	}
	return ""
}

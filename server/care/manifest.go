package care

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"strings"

	"hangtrue/server/folder"
)

// Format is the first value of a manifest.
const Format = formatPrefix + "1"

const (
	formatPrefix = "hangtrue-backup/"
	manifestFile = "manifest.json"
	sumFile      = "manifest.sha256"

	// maxManifest bounds a manifest in bytes; a hundred thousand photos take some 15 MB.
	maxManifest = 64 << 20
)

// Errors of backups.
var (
	// ErrBackup is wrapped when something is not a backup, or not a whole one.
	ErrBackup = errors.New("not a whole backup")
	// ErrExists is wrapped when something is already where something was to be written.
	ErrExists = errors.New("there is something already")
	// ErrNoJobs is wrapped when a folder has no store.
	ErrNoJobs = errors.New("no jobs are kept there")
	// ErrDamaged is wrapped when what was to be backed up or restored is not what was written.
	ErrDamaged = errors.New("it is damaged")
)

// A Part is one file of a backup.
type Part struct {
	Name   string `json:"name"` // with slashes
	Size   int64  `json:"size"` // in bytes
	SHA256 string `json:"sha256"`
}

// A Job as backups list it.
type Job struct {
	ID      string `json:"id"`
	Title   string `json:"title"`
	Records int    `json:"records"`
	Seals   int    `json:"seals"`
	Signed  bool   `json:"signed"` // signed off, and nothing reopened since
}

// A Manifest says what a backup is.
type Manifest struct {
	Format      string `json:"format"`
	Made        string `json:"made"`    // RFC 3339, UTC
	Program     string `json:"program"` // the edition that made it
	StoreFormat int    `json:"store_format"`
	Key         string `json:"key"` // the public key its seals are checked with
	Secret      bool   `json:"has_secret_key"`
	Jobs        []Job  `json:"jobs"`
	Parts       []Part `json:"parts"`
}

func (m Manifest) encode() (manifest, sum []byte, err error) {
	manifest, err = json.MarshalIndent(m, "", " ")
	manifest = append(manifest, '\n')
	return manifest, []byte(hash(manifest) + "  " + manifestFile + "\n"), err
}

// readManifest reads what encode wrote.
func readManifest(manifest, sum []byte) (m Manifest, err error) {
	if manifest == nil || sum == nil {
		return m, fmt.Errorf("%w: its manifest is missing, so it was cut short or is something else", ErrBackup)
	}
	var head struct {
		Format string `json:"format"`
	}
	if err := json.Unmarshal(manifest, &head); err == nil && strings.HasPrefix(head.Format, formatPrefix) && head.Format != Format {
		return m, fmt.Errorf("%w: its format is %.40q and this program reads %q. Use the newer program", ErrBackup, head.Format, Format)
	}
	if string(sum) != hash(manifest)+"  "+manifestFile+"\n" {
		return m, fmt.Errorf("%w: its manifest is not what was written", ErrBackup)
	}
	if err := json.Unmarshal(manifest, &m); err != nil || m.Format != Format {
		return m, fmt.Errorf("%w: its manifest cannot be read", ErrBackup)
	}
	return m, nil
}

func hash(data []byte) string {
	sum := sha256.Sum256(data)
	return hex.EncodeToString(sum[:])
}

// isPart tells which names a backup may have; anything else could write elsewhere,
// or pass for what a server leaves in its folder.
func isPart(name string) bool {
	if !fs.ValidPath(name) || name == "." || strings.ContainsAny(name, "\\:\x00") {
		return false
	}
	for element := range strings.SplitSeq(name, "/") {
		if element[0] == '.' {
			return false
		}
	}
	return name == folder.JobsFile || !folder.IsStore(name)
}

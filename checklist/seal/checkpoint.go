package seal

import (
	"encoding/base64"
	"errors"
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/tlog"

	"hangtrue/checklist"
)

// ErrSeal is wrapped by every complaint about a seal.
var ErrSeal = errors.New("seal: not a valid seal")

// A Purpose is what a seal was made for.
type Purpose string

const (
	// SignOff seals a log up to and including an accepted sign-off. It is kept.
	SignOff Purpose = "sign-off"
	// Extract seals a log as it stood when its record was taken out, so that a
	// record of a job that is not finished is protected too. It signs nothing off.
	Extract Purpose = "extract"
)

const (
	originPrefix  = "hangtrue/"
	purposePrefix = "hangtrue seal 1: "

	// maxNote bounds a note: four lines and a signature take some 300 bytes.
	maxNote = 1000
)

// A Checkpoint is what a seal says: the first Size records of Job have the tree root Root.
type Checkpoint struct {
	Job     string
	Size    int64
	Root    tlog.Hash
	Purpose Purpose
}

func (c Checkpoint) text() string {
	return originPrefix + c.Job + "\n" + strconv.FormatInt(c.Size, 10) + "\n" + c.Root.String() + "\n" +
		purposePrefix + string(c.Purpose) + "\n"
}

// parseCheckpoint reads what text wrote, and nothing that is spelled in another way.
func parseCheckpoint(text string) (Checkpoint, error) {
	bad := func(line, want string) (Checkpoint, error) {
		return Checkpoint{}, fmt.Errorf("%w: its %s is not %s", ErrSeal, line, want)
	}
	lines := strings.Split(text, "\n")
	if len(lines) != 5 || lines[4] != "" {
		return bad("text", "four lines")
	}
	job, ok := strings.CutPrefix(lines[0], originPrefix)
	if !ok || !checklist.IsUUID(job) {
		return bad("first line", originPrefix+" and a job's id")
	}
	size, err := strconv.ParseInt(lines[1], 10, 64)
	if err != nil || size < 0 || strconv.FormatInt(size, 10) != lines[1] {
		return bad("second line", "a number of records")
	}
	root, err := parseHash(lines[2])
	if err != nil {
		return bad("third line", "a hash in base64")
	}
	purpose, ok := strings.CutPrefix(lines[3], purposePrefix)
	if !ok || Purpose(purpose) != SignOff && Purpose(purpose) != Extract {
		return bad("fourth line", "the purpose of a seal")
	}
	return Checkpoint{job, size, root, Purpose(purpose)}, nil
}

// parseHash reads a hash in its one base64 spelling.
func parseHash(s string) (tlog.Hash, error) {
	data, err := base64.StdEncoding.Strict().DecodeString(s)
	if err != nil || len(data) != tlog.HashSize {
		return tlog.Hash{}, errors.New("not a hash")
	}
	return tlog.Hash(data), nil
}

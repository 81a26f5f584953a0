package server_test

import (
	"fmt"
	"os"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"

	"hangtrue/server/memory"
	"hangtrue/server/store"
)

// a badDisk is a store whose disk takes nothing.
type badDisk struct {
	store.Store
	err error
}

func (b *badDisk) Append(a ...store.Addition) error {
	if b.err != nil {
		return b.err
	}
	return b.Store.Append(a...)
}

// TestPush_BadDisk: a phone is told in plain words what keeps its entries from being kept,
// and sends them again when it is over.
func TestPush_BadDisk(t *testing.T) {
	logged := catchLog(t)
	b := &badDisk{Store: memory.New()}
	s := serve(t, b)
	d := lead(t, jobA)
	e := string(d.open("Attic lounge").Bytes())
	wrap := func(err error) error {
		return fmt.Errorf("bolt: %w", &os.PathError{Op: "write", Path: "/srv/secret/jobs.db", Err: err})
	}
	for _, row := range []struct {
		err    error
		status int
		says   string
	}{
		{wrap(syscall.ENOSPC), 507, "disk is full"}, {wrap(syscall.EDQUOT), 507, "disk is full"}, {wrap(syscall.EFBIG), 507, "disk is full"},
		{wrap(syscall.EROFS), 500, "disk cannot be written"}, {wrap(syscall.EIO), 500, "disk cannot be written"}, {wrap(syscall.EINVAL), 500, "could not do this"},
	} {
		b.err = row.err
		said := s.do("POST", "/api/jobs/"+jobA+"/entries", pushBody(e)).problem(t, row.status)
		assert.Contains(t, said, row.says)
		assert.Contains(t, said, "Nothing")
		assert.NotContains(t, said, "/srv", "no path of the server's")
	}
	assert.Contains(t, logged(), "/srv/secret/jobs.db", "the cause is in the log (ASVS 5.0 V16.3.4)")
	b.err = nil
	a := s.pushTexts(jobA, e)
	assert.True(t, a.Answers[0].Record != nil && a.Answers[0].Record.Accepted, "%+v", a)
}

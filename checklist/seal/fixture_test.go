package seal_test

import (
	"bytes"
	"fmt"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/seal"
)

const (
	jobA     = "018f3c5e-7a10-7000-8000-0000000000a1"
	jobB     = "018f3c5e-7a10-7000-8000-0000000000b2"
	deviceID = "018f3c5e-7a10-7000-8000-00000000d001"
)

// keyOf makes the same key each time from one byte.
func keyOf(t require.TestingT, b byte) *seal.Key {
	k, _, err := seal.GenerateKey(bytes.NewReader(bytes.Repeat([]byte{b}, 64)))
	require.NoError(t, err)
	return k
}

// a logbook decides entries one after another as a server would.
type logbook struct {
	t       testing.TB
	state   *checklist.State
	records []checklist.Record
}

func newLogbook(t testing.TB, job string) *logbook {
	return &logbook{t: t, state: checklist.NewState(checklist.Loudspeakers, job)}
}

func (l *logbook) add(role checklist.Role, who string, kind checklist.Kind, body any) checklist.Record {
	n := int64(len(l.records) + 1)
	e, err := checklist.NewEntry(checklist.Entry{
		ID: fmt.Sprintf("018f3c5e-7a10-7000-9000-%012d", n), Job: l.state.Job, Device: deviceID, Number: n, Seen: n - 1,
		Who: who, Role: role, Clock: "2030-01-31T09:15:00.000Z", Plan: l.state.Revision(), Kind: kind,
	}, body)
	require.NoError(l.t, err)
	return l.keep(checklist.Record{Position: n, Received: "2030-01-31T09:15:02Z", Decision: l.state.Decide(e), Entry: e})
}

func (l *logbook) keep(r checklist.Record) checklist.Record {
	l.state.Fold(r)
	l.records = append(l.records, r)
	return r
}

// file is the record as it stands, sealed as an extract.
func (l *logbook) file(k *seal.Key, seals ...string) seal.File {
	note, err := k.Sign(seal.Checkpoint{Job: l.state.Job, Size: int64(len(l.records)), Root: seal.Root(l.records), Purpose: seal.Extract})
	require.NoError(l.t, err)
	return seal.NewFile(l.state.Job, l.state.Title, k.Public(), l.records, append(seals, note))
}

// smallLog has five accepted entries and one refused, and no plan.
func smallLog(t testing.TB) []checklist.Record { return smallBook(t, jobA).records }

func smallBook(t testing.TB, job string) *logbook {
	l := newLogbook(t, job)
	require.True(t, l.add(checklist.Lead, "lead", checklist.JobOpened, checklist.Opening{Title: "Attic lounge"}).Accepted)
	require.True(t, l.add(checklist.Installer, "installer 1", checklist.RemarkWritten, checklist.Remark{Text: "Stud 1, 2 and 3 marked, \"left\" of the door <sketch>."}).Accepted)
	require.True(t, l.add(checklist.Installer, "installer 1", checklist.RemarkWritten, checklist.Remark{Step: "hang", Mount: "M+090", Text: "40 mm off, asked."}).Accepted)
	require.False(t, l.add(checklist.Installer, "installer 1", checklist.JobOpened, checklist.Opening{Title: "again"}).Accepted)
	require.True(t, l.add(checklist.Lead, "lead", checklist.RemarkWritten, checklist.Remark{Text: "Agreed."}).Accepted)
	return l
}

// planBook has the plan settled and one remark.
func planBook(t testing.TB) *logbook {
	l := newLogbook(t, jobA)
	document, err := os.ReadFile("../../testdata/demo/plan.json")
	require.NoError(t, err)
	l.add(checklist.Lead, "lead", checklist.JobOpened, checklist.Opening{Title: "Attic lounge"})
	r := l.add(checklist.Lead, "lead", checklist.PlanSettled, checklist.NewSettlement(1, "First plan.", document))
	require.True(t, r.Accepted, r.Reason)
	return l
}

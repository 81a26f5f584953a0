package checklist_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"io"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist"
)

// aPlainRecord is a record for encoding/json alone.
type aPlainRecord struct {
	Position int64  `json:"position"`
	Received string `json:"received"`
	checklist.Decision
	Entry string `json:"entry"`
}

// recordReadPlainly reads a record with encoding/json alone.
func recordReadPlainly(data []byte) (r checklist.Record, err error) {
	var j aPlainRecord
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&j); err != nil {
		return r, err
	}
	if _, err := d.Token(); err != io.EOF {
		return r, io.ErrUnexpectedEOF
	}
	if j.Edition < 0 {
		return r, io.ErrUnexpectedEOF
	}
	e, err := checklist.ParseEntry([]byte(j.Entry))
	return checklist.Record{Position: j.Position, Received: j.Received, Decision: j.Decision, Entry: e}, err
}

// same holds the quick ways of reading and writing a record to the plain ones.
func same(t require.TestingT, data []byte) {
	want, wantErr := recordReadPlainly(data)
	var got checklist.Record
	err := got.UnmarshalJSON(data)
	require.Equal(t, wantErr == nil, err == nil, "%s\nplainly: %v\nquickly: %v", data, wantErr, err)
	if err == nil {
		require.Equal(t, want.Leaf(), got.Leaf(), "%s", data)
		require.Equal(t, want, got, "%s", data)
		written, err := json.Marshal(aPlainRecord{want.Position, want.Received, want.Decision, string(want.Entry.Bytes())})
		require.NoError(t, err)
		require.Equal(t, string(written), string(got.AppendJSON(nil)))
	}
}

// aRecord is one with whatever text in it.
func aRecord(t require.TestingT, text, reason string, edition int) []byte {
	e, err := checklist.NewEntry(checklist.Entry{
		ID: jobID, Job: jobID, Device: deviceA, Number: 1, Who: "lead", Role: checklist.Lead, Clock: received, Kind: checklist.RemarkWritten,
	}, checklist.Remark{Text: text})
	require.NoError(t, err)
	data, err := json.Marshal(checklist.Record{Position: 7, Received: received, Decision: checklist.Decision{Accepted: reason == "", Reason: reason, Edition: edition}, Entry: e})
	require.NoError(t, err)
	return data
}

// The quick way of reading records reads what encoding/json reads, and refuses what
// it refuses: of records with any text in them, and of those that were changed.
func TestRecordReadQuickly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.StringOf(rapid.RuneFrom([]rune("\"\\/\n\t \u2028<>&ab\u00e9\U0001f50a")))).Draw(t, "text")
		data := aRecord(t, text, rapid.SampledFrom([]string{"", "It is held.", "It says \"no\"."}).Draw(t, "reason"), rapid.IntRange(0, 12).Draw(t, "edition"))
		same(t, data)
		for range rapid.IntRange(0, 3).Draw(t, "changes") {
			at := rapid.IntRange(0, len(data)-1).Draw(t, "at")
			piece := rapid.SampledFrom([]string{"", `"`, `\`, `\"`, `\\`, `\n`, `\u0041`, `\ud83d`, "\n", "\xff", "}", ",", "0", " "}).Draw(t, "piece")
			data = append(append(bytes.Clone(data[:at]), piece...), data[at+rapid.IntRange(0, 1).Draw(t, "over"):]...)
			same(t, data)
			if len(data) == 0 {
				return
			}
		}
	})
}

// A record keeps no more of the text it was read from than it needs: changing that
// changes nothing.
func TestRecordIsItsOwn(t *testing.T) {
	data := aRecord(t, "as it is", "", 2)
	var r checklist.Record
	require.NoError(t, json.Unmarshal(data, &r))
	leaf, body := r.Leaf(), string(r.Entry.Body)
	for i := range data {
		data[i] = 'x'
	}
	assert.Equal(t, leaf, r.Leaf())
	assert.JSONEq(t, `{"text":"as it is"}`, body)
	assert.Equal(t, body, string(r.Entry.Body))
}

// The leaf of a record without an edition is what it always was, byte by byte; one with
// an edition has another first line and that number behind it. The SHA-256 values were
// worked out over these texts with sha256sum.
func TestRecordLeaf(t *testing.T) {
	const entry = `{"v":1,"id":"` + jobID + `","job":"` + jobID + `","device":"` + deviceA + `","n":1,"seen":0,"who":"lead","role":"lead","clock":"` + received + `","plan":0,"kind":"remark","body":{"text":"as it is"}}`
	const rest = jobID + "\n7\n" + received + "\nfalse\n\"Why \\\"not\\\".\"\n\n\n" + entry
	for _, row := range []struct {
		edition    int
		leaf, hash string
	}{
		{0, "hangtrue record 1\n" + rest, "c3fd0d706a7f6f22ef2f5ffc6a90ef36603ea68ea97ce6f790bbd8a494545946"},
		{2, "hangtrue record 2\n2\n" + rest, "0d70cf32953d2270adb95262121d8d7ff3fa3558e60e1d2d194275633d3e09e4"},
		{12, "hangtrue record 2\n12\n" + rest, "8ecece2d0e801accef1435a598d8914fbb8215af718d7e307dacd55a667e0330"},
	} {
		data := aRecord(t, "as it is", `Why "not".`, row.edition)
		var r checklist.Record
		require.NoError(t, json.Unmarshal(data, &r))
		assert.Equal(t, row.leaf, string(r.Leaf()), "edition %d", row.edition)
		sum := sha256.Sum256(r.Leaf())
		assert.Equal(t, row.hash, hex.EncodeToString(sum[:]), "edition %d", row.edition)
		assert.Equal(t, row.edition, r.Edition)
		assert.Equal(t, row.edition != 0, bytes.Contains(data, []byte(`"edition":`)), "%s", data)
	}
}

// An edition below 1 is none.
func TestRecordRefusesAnEdition(t *testing.T) {
	data := bytes.Replace(aRecord(t, "as it is", "", 2), []byte(`"edition":2`), []byte(`"edition":-2`), 1)
	var r checklist.Record
	assert.EqualError(t, r.UnmarshalJSON(data), "checklist: record 7: /edition is -2, wanted 1 or more")
}

func FuzzRecord(f *testing.F) {
	f.Add(aRecord(f, "as it is", "", 0))
	f.Add(aRecord(f, "a \"quoted\" \\ piece\n", "Why \"not\".", 12))
	f.Add([]byte(`{"position":1,"received":"","accepted":true,"entry":"\"}`))
	f.Fuzz(func(t *testing.T, data []byte) { same(t, data) })
}

package checklist_test

import (
	"bytes"
	"encoding/json"
	"io"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist"
)

// recordReadPlainly reads a record with encoding/json alone.
func recordReadPlainly(data []byte) (r checklist.Record, err error) {
	var j struct {
		Position int64  `json:"position"`
		Received string `json:"received"`
		checklist.Decision
		Entry string `json:"entry"`
	}
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&j); err != nil {
		return r, err
	}
	if _, err := d.Token(); err != io.EOF {
		return r, io.ErrUnexpectedEOF
	}
	e, err := checklist.ParseEntry([]byte(j.Entry))
	return checklist.Record{Position: j.Position, Received: j.Received, Decision: j.Decision, Entry: e}, err
}

// same holds the quick way of reading a record to the plain one.
func same(t require.TestingT, data []byte) {
	want, wantErr := recordReadPlainly(data)
	var got checklist.Record
	err := got.UnmarshalJSON(data)
	require.Equal(t, wantErr == nil, err == nil, "%s\nplainly: %v\nquickly: %v", data, wantErr, err)
	if err == nil {
		require.Equal(t, want.Leaf(), got.Leaf(), "%s", data)
		require.Equal(t, want, got, "%s", data)
	}
}

// aRecord is one with whatever text in it.
func aRecord(t require.TestingT, text, reason string) []byte {
	e, err := checklist.NewEntry(checklist.Entry{
		ID: jobID, Job: jobID, Device: deviceA, Number: 1, Who: "lead", Role: checklist.Lead, Clock: received, Kind: checklist.RemarkWritten,
	}, checklist.Remark{Text: text})
	require.NoError(t, err)
	data, err := json.Marshal(checklist.Record{Position: 7, Received: received, Decision: checklist.Decision{Accepted: reason == "", Reason: reason}, Entry: e})
	require.NoError(t, err)
	return data
}

// The quick way of reading records reads what encoding/json reads, and refuses what
// it refuses: of records with any text in them, and of those that were changed.
func TestRecordReadQuickly(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.StringOf(rapid.RuneFrom([]rune("\"\\/\n\t \u2028<>&ab\u00e9\U0001f50a")))).Draw(t, "text")
		data := aRecord(t, text, rapid.SampledFrom([]string{"", "It is held.", "It says \"no\"."}).Draw(t, "reason"))
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
	data := aRecord(t, "as it is", "")
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

func FuzzRecord(f *testing.F) {
	f.Add(aRecord(f, "as it is", ""))
	f.Add(aRecord(f, "a \"quoted\" \\ piece\n", "Why \"not\"."))
	f.Add([]byte(`{"position":1,"received":"","accepted":true,"entry":"\"}`))
	f.Fuzz(func(t *testing.T, data []byte) { same(t, data) })
}

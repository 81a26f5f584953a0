package server

import (
	"bytes"
	"encoding/json"
	"testing"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist"
)

// alike holds the quick way of reading a push to encoding/json: what it reads, that
// reads too, and the same.
func alike(t require.TestingT, body []byte) {
	entries, ok := plainPush(body)
	if !ok {
		return
	}
	var push struct {
		Entries []string `json:"entries"`
	}
	d := json.NewDecoder(bytes.NewReader(body))
	d.DisallowUnknownFields()
	require.NoError(t, d.Decode(&push), "%s", body)
	require.Len(t, entries, len(push.Entries), "%s", body)
	for i, text := range push.Entries {
		require.Equal(t, text, string(entries[i]), "%s", body)
	}
}

// anyText is mostly what has to be escaped.
var anyText = rapid.OneOf(rapid.String(), rapid.StringOf(rapid.RuneFrom([]rune("\"\\/\n \u2028<>&ab,]}\u00e9\U0001f50a"))))

func TestPlainPush(t *testing.T) {
	_, ok := plainPush([]byte(`{"entries":["{\"v\":1}","a\\b"]}`))
	require.True(t, ok, "what phones send is read in the quick way")
	rapid.Check(t, func(t *rapid.T) {
		body, err := json.Marshal(map[string][]string{"entries": rapid.SliceOfN(anyText, 0, 4).Draw(t, "entries")})
		require.NoError(t, err)
		for range rapid.IntRange(1, 4).Draw(t, "changes") {
			alike(t, body)
			at := rapid.IntRange(0, len(body)-1).Draw(t, "at")
			piece := rapid.SampledFrom([]string{"", `"`, `\`, `\"`, `\\`, `\n`, "\n", "\xff", "]", "}", ",", " "}).Draw(t, "piece")
			body = append(append(bytes.Clone(body[:at]), piece...), body[at+rapid.IntRange(0, 1).Draw(t, "over"):]...)
			if len(body) == 0 {
				return
			}
		}
	})
}

func FuzzPush(f *testing.F) {
	f.Add([]byte(`{"entries":["{\"v\":1}","a\\b"]}`))
	f.Add([]byte(`{"entries":[]}`))
	f.Fuzz(func(t *testing.T, body []byte) { alike(t, body) })
}

// Answers are written as encoding/json writes them.
func TestAppendAnswers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		answers := []Answer{}
		for range rapid.IntRange(0, 3).Draw(t, "answers") {
			a := Answer{ID: anyText.Draw(t, "id"), Expected: rapid.Int64().Draw(t, "expected"), Stray: anyText.Draw(t, "stray"), Missing: rapid.Bool().Draw(t, "missing")}
			if rapid.Bool().Draw(t, "decided") {
				e, err := checklist.NewEntry(checklist.Entry{
					ID: "018f3c5e-7a10-7000-8000-000000000001", Job: "018f3c5e-7a10-7000-8000-000000000002", Device: "018f3c5e-7a10-7000-8000-000000000003", Number: 1,
					Who: "lead", Role: checklist.Lead, Clock: "2030-01-31T09:00:00.000Z", Kind: checklist.RemarkWritten,
				}, checklist.Remark{Text: anyText.Draw(t, "text")})
				require.NoError(t, err)
				a.Record = &checklist.Record{Position: 7, Received: "2030-01-31T09:00:01.000Z", Decision: checklist.Decision{Accepted: true, Reason: anyText.Draw(t, "reason")}, Entry: e}
			}
			answers = append(answers, a)
		}
		head := rapid.Int64().Draw(t, "head")
		want, err := json.Marshal(map[string]any{"head": head, "answers": answers})
		require.NoError(t, err)
		require.Equal(t, string(want), string(appendAnswers(nil, head, answers)))
	})
}

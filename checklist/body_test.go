package checklist_test

import (
	"bytes"
	"encoding/json"
	"io"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"hangtrue/checklist"
)

// recordingReadPlainly reads a recording with encoding/json alone.
func recordingReadPlainly(data []byte) (b checklist.Recording, err error) {
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&b); err != nil {
		return b, err
	}
	if _, err := d.Token(); err != io.EOF {
		return b, io.ErrUnexpectedEOF
	}
	return b, nil
}

// asRead is what the fold of a job reads of a recording, whatever step it names; the
// evidence that a step stands on is shown with it.
func asRead(t require.TestingT, data []byte) (checklist.Recording, bool) {
	e, err := checklist.NewEntry(checklist.Entry{
		ID: jobID, Job: jobID, Device: deviceA, Number: 1, Who: "lead", Role: checklist.Lead, Clock: received, Kind: checklist.StepRecorded,
	}, json.RawMessage(`{}`))
	require.NoError(t, err)
	raw := bytes.Replace(e.Bytes(), []byte(`"body":{}`), append([]byte(`"body":`), data...), 1)
	if e, err = checklist.ParseEntry(raw); err != nil {
		return checklist.Recording{}, false
	}
	s := checklist.NewState(checklist.Loudspeakers, jobID)
	s.Fold(checklist.Record{Position: 1, Received: received, Decision: checklist.Decision{Accepted: true}, Entry: e})
	for _, step := range checklist.Loudspeakers.Steps {
		for _, mount := range []string{"", "M+030", "M\"030"} {
			if evidence := s.Evidence(checklist.Key{Step: step.ID, Mount: mount}); evidence != nil {
				return evidence.Recording, true
			}
		}
	}
	return checklist.Recording{}, false
}

// The quick way of reading recordings reads what encoding/json reads, of any texts
// and numbers and of bodies that were changed.
func TestRecordingReadQuickly(t *testing.T) {
	text := rapid.OneOf(rapid.StringN(0, 12, 40), rapid.StringOf(rapid.RuneFrom([]rune("ab\"\\<\u2028é, }]")))).Filter(func(s string) bool { return !strings.ContainsRune(s, '\ufffd') })
	rapid.Check(t, func(t *rapid.T) {
		b := checklist.Recording{
			Step: "mark", Mount: rapid.SampledFrom([]string{"", "M+030", "M\"030"}).Draw(t, "mount"),
			Measured:  rapid.MapOfN(text, rapid.SliceOfN(rapid.Int64(), 1, 3), 0, 3).Draw(t, "measured"),
			Chosen:    rapid.MapOfN(text, text, 0, 3).Draw(t, "chosen"),
			Confirmed: rapid.SliceOfN(text, 0, 3).Draw(t, "confirmed"),
			Remark:    text.Draw(t, "remark"),
		}
		data, err := json.Marshal(b)
		require.NoError(t, err)
		for range rapid.IntRange(1, 4).Draw(t, "changes") {
			want, wrong := recordingReadPlainly(data)
			got, ok := asRead(t, data)
			if known := wrong == nil && utf8.Valid(data) && want.Step == "mark" && (want.Mount == "" || want.Mount == "M+030" || want.Mount == "M\"030"); known || ok {
				require.Equal(t, known, ok, "%s: %v", data, wrong)
				require.Equal(t, want, got, "%s", data)
			}
			at := rapid.IntRange(0, len(data)-1).Draw(t, "at")
			piece := rapid.SampledFrom([]string{"", `"`, `\`, "0", "-", "-0", "1", ",", `,"x":[1]`, `{`, `}`, `[`, `]`, " ", "null", "1e2", `,"remark":"again"`}).Draw(t, "piece")
			data = append(append(bytes.Clone(data[:at]), piece...), data[at+rapid.IntRange(0, 1).Draw(t, "over"):]...)
			if len(data) == 0 {
				return
			}
		}
	})
}

// A settlement says what encoding/json reads in it, whatever characters are in its texts
// and however they are spelled; the plan that comes into force is its document's.
func TestSettlementReadQuickly(t *testing.T) {
	p := *examplePlan(t)
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.StringOfN(rapid.RuneFrom([]rune("\"\\/\n <>&abn\u00e9\U0001f50a")), 1, 30, -1)
		p.Remark = text.Draw(t, "remark")
		body, err := json.Marshal(checklist.NewSettlement(1, text.Draw(t, "reason"), document(t, &p)))
		require.NoError(t, err)
		if rapid.Bool().Draw(t, "spelled otherwise") {
			body = bytes.ReplaceAll(body, []byte(`"plan":`), []byte(`"\u0070lan":`))
		}
		if rapid.Bool().Draw(t, "slashes escaped") {
			body = bytes.ReplaceAll(body, []byte(`/`), []byte(`\/`))
		}
		var want checklist.Settlement
		require.NoError(t, json.Unmarshal(body, &want))

		e, err := checklist.NewEntry(checklist.Entry{
			ID: jobID, Job: jobID, Device: deviceA, Number: 1, Who: "lead", Role: checklist.Lead, Clock: received, Kind: checklist.PlanSettled,
		}, json.RawMessage(`{}`))
		require.NoError(t, err)
		e, err = checklist.ParseEntry(bytes.Replace(e.Bytes(), []byte(`"body":{}`), append([]byte(`"body":`), body...), 1))
		require.NoError(t, err)
		s := checklist.NewState(checklist.Loudspeakers, jobID)
		s.Fold(checklist.Record{Position: 1, Received: received, Decision: checklist.Decision{Accepted: true}, Entry: e})
		require.Equal(t, 1, len(s.Revisions))
		require.Equal(t, want.Reason, s.Revisions[0].Reason)
		require.Equal(t, want.SHA256, s.Revisions[0].SHA256)
		require.Equal(t, p.Remark, s.Plan().Remark)
		require.Equal(t, want.Plan, string(s.Revisions[0].Document()))
	})
}

// What an entry recorded is what encoding/json reads out of its body; nothing else is a
// recording.
func TestRecordingOf(t *testing.T) {
	p := examplePlan(t)
	s := newSite(t)
	s.open(p)
	e := s.entry(deviceB, checklist.Lead, checklist.StepRecorded, good(t, p, "mark", "M+030"))
	var want checklist.Recording
	require.NoError(t, json.Unmarshal(e.Body, &want))
	got, ok := checklist.RecordingOf(e)
	require.True(t, ok)
	require.Equal(t, want, got)
	e.Body = json.RawMessage(`{"step":["mark"]}`)
	_, ok = checklist.RecordingOf(e)
	require.False(t, ok)
	_, ok = checklist.RecordingOf(s.entry(deviceB, checklist.Lead, checklist.RemarkWritten, checklist.Remark{Step: "mark", Text: "seen"}))
	require.False(t, ok)
}

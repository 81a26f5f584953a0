package checklist_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
)

const plainEntry = `{"v":1,"id":"01900000-0000-7000-9000-000000000001","job":"` + jobID + `","device":"` + deviceA + `","n":1,"seen":0,"who":"lead","role":"lead","clock":"2030-01-31T09:00:00.000Z","plan":0,"kind":"job.open","body":{"title":"A job"}}`

func TestParseEntry(t *testing.T) {
	e, err := checklist.ParseEntry([]byte(plainEntry))
	require.NoError(t, err)
	assert.Equal(t, plainEntry, string(e.Bytes()), "the bytes stay as they came")
	for _, row := range []struct{ name, old, with, says string }{
		{"nonsense", plainEntry, "}{", "invalid character"},
		{"an unknown key", `"n":1`, `"n":1,"x":2`, "unknown field"},
		{"something behind it", `"A job"}}`, `"A job"}} {}`, "follows"},
		{"another edition", `"v":1`, `"v":2`, "/v is"},
		{"an id that is none", "01900000-0000-7000-9000-000000000001", "7", "/id is"},
		{"number nought", `"n":1`, `"n":0`, "/n is"},
		{"a number past all bounds", `"n":1`, `"n":1e308`, "cannot unmarshal"},
		{"a line break in a name", `"who":"lead"`, `"who":"a\nb"`, "/who is"},
		{"an unknown role", `"role":"lead"`, `"role":"boss"`, "/role is"},
		{"a clock without a zone", "09:00:00.000Z", "09:00:00", "/clock is"},
		{"a clock in another zone", "09:00:00.000Z", "09:00:00+02:00", "/clock is"},
		{"no body", `{"title":"A job"}`, `null`, "/body is"},
		{"bytes that are not text", `"A job"`, "\"\xff\"", "UTF-8"},
		{"more than an entry holds", `"A job"`, `"` + strings.Repeat("a", checklist.MaxEntry) + `"`, "at most"},
	} {
		t.Run(row.name, func(t *testing.T) {
			_, err := checklist.ParseEntry([]byte(strings.Replace(plainEntry, row.old, row.with, 1)))
			require.Error(t, err)
			assert.Contains(t, err.Error(), row.says)
		})
	}
}

// An entry that another program wrote so that two readers could differ on it is
// kept, and refused.
func TestDecideWrittenOtherwise(t *testing.T) {
	for _, row := range []struct{ name, old, with string }{
		{"a key twice", `"n":1`, `"n":7,"n":1`},
		{"a key in capitals", `"who"`, `"Who"`},
		{"a blank", `"n":1`, `"n": 1`},
		{"a key twice in the body", `{"title":"A job"}`, `{"title":"Another","title":"A job"}`},
		{"a key of the body in capitals", `{"title"`, `{"Title"`},
	} {
		t.Run(row.name, func(t *testing.T) {
			e, err := checklist.ParseEntry([]byte(strings.Replace(plainEntry, row.old, row.with, 1)))
			require.NoError(t, err)
			d := checklist.NewState(checklist.Loudspeakers, jobID).Decide(e)
			assert.False(t, d.Accepted)
			assert.Contains(t, d.Reason, "as this program writes it")
		})
	}
	e, err := checklist.ParseEntry([]byte(plainEntry))
	require.NoError(t, err)
	assert.True(t, checklist.NewState(checklist.Loudspeakers, jobID).Decide(e).Accepted)
}

// A clock years wrong is a fact about the device, not a fault of the entry.
func TestDecideWrongClock(t *testing.T) {
	for _, clock := range []string{"1999-12-31T23:59:59Z", "2099-01-01T00:00:00.000Z"} {
		e, err := checklist.ParseEntry([]byte(strings.Replace(plainEntry, "2030-01-31T09:00:00.000Z", clock, 1)))
		require.NoError(t, err)
		assert.True(t, checklist.NewState(checklist.Loudspeakers, jobID).Decide(e).Accepted)
	}
}

func FuzzParseEntry(f *testing.F) {
	f.Add([]byte(plainEntry))
	f.Add([]byte(`{}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		e, err := checklist.ParseEntry(data)
		if err != nil {
			return
		}
		if !bytes.Equal(e.Bytes(), data) {
			t.Fatal("the bytes changed")
		}
		var plain checklist.Entry
		require.NoError(t, json.Unmarshal(data, &plain))
		again, err := json.Marshal(e)
		require.NoError(t, err)
		want, err := json.Marshal(plain)
		require.NoError(t, err)
		require.Equal(t, string(want), string(again), "read as a general reader reads it")
		d := checklist.NewState(checklist.Loudspeakers, e.Job).Decide(e)
		require.Equal(t, string(again) != string(data), strings.Contains(d.Reason, "The entry is not written as"), d.Reason)
	})
}

// FuzzBody: a body is taken only where encoding/json, reading it strictly, would write
// the same bytes again, and is never said to be written otherwise where it would.
func FuzzBody(f *testing.F) {
	f.Add(true, []byte(`{"text":"40 mm off plan, stays"}`))
	f.Add(true, []byte(`{"text":"40 mm off plan, stays"} `))
	f.Add(true, []byte(`{"step":"mark","mount":"M+090","text":"a <b> \u003c \"c\""}`))
	f.Add(false, []byte(`{"step":"mark","mount":"M+090","measured":{"along_um":[1,-2],"up_um":[3]},"chosen":{"a":"b"},"confirmed":["c"],"remark":"d"}`))
	f.Add(false, []byte(`{"step":"mark","mount":"","measured":{"up_um":[1],"along_um":[01]}}`))
	s := newSite(f)
	s.open(examplePlan(f))
	f.Fuzz(func(t *testing.T, remark bool, body []byte) {
		kind, plain := checklist.StepRecorded, any(&checklist.Recording{})
		if remark {
			kind, plain = checklist.RemarkWritten, any(&checklist.Remark{})
		}
		head := fmt.Sprintf(`{"v":1,"id":"018f3c5e-7a10-7000-8000-0000000000ff","job":%q,"device":"018f3c5e-7a10-7000-8000-0000000000fe","n":1,"seen":0,"who":"lead","role":"lead","clock":%q,"plan":1,"kind":%q,"body":`, jobID, received, kind)
		e, err := checklist.ParseEntry(append(append([]byte(head), body...), '}'))
		if err != nil {
			return
		}
		if again, err := json.Marshal(e); err != nil || !bytes.Equal(again, e.Bytes()) {
			return // the envelope is written otherwise, which is found first
		}
		d := json.NewDecoder(bytes.NewReader(e.Body))
		d.DisallowUnknownFields()
		alike := d.Decode(plain) == nil
		if alike {
			again, err := json.Marshal(plain)
			require.NoError(t, err)
			alike = string(again) == string(e.Body)
		}
		reason := s.state.Decide(e).Reason
		spelled := !strings.Contains(reason, " is not written as this program writes it.") && !strings.Contains(reason, " cannot be read: ")
		require.Equal(t, alike, spelled, "%s\n%s", e.Body, reason)
	})
}

func TestIsUUID(t *testing.T) {
	for text, want := range map[string]bool{
		"f81d4fae-7dec-11d0-a765-00a0c91e6bf6":  true, // RFC 9562 section 4
		"F81D4FAE-7DEC-11D0-A765-00A0C91E6BF6":  false,
		"f81d4fae-7dec-11d0-a765-00a0c91e6bf":   false,
		"f81d4fae-7dec-11d0-a765-00a0c91e6bf6a": false,
		"f81d4fae07dec-11d0-a765-00a0c91e6bf6":  false,
		"f81d4fae-7dec-11d0-a765-00a0c91e6bg6":  false,
		"":                                      false,
	} {
		assert.Equal(t, want, checklist.IsUUID(text), text)
	}
}

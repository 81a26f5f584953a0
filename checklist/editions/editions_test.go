package editions_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/editions"
)

// pinned are the SHA-256 of the editions, the first at index 0: of what decides in them,
// and of the whole document of each that another has followed.
var pinned = []struct{ rules, document string }{
	{"f2ec725bc146575cf24ec43b56eb1d8b514c80d70afe0af0fba6a7ea510994fc", "739fa83c00447692f34e1f088cf407994a9b5864edb3462c7cca5235443e34b4"},
	{"87eedc59981bfc5f4def994477fe8287dad1b581bcc16cea38486842539693a9", ""},
}

const routine = `
Logs were decided by the steps as they were, and are held to them for good. Put them back. For other rules:
  1. copy checklist/steps.json as it was to checklist/editions/%d.json;
  2. give checklist/steps.json the version %d, and change it;
  3. pin the new one in this test, and with it the whole document of the one before.
What there is now would be pinned as:
%s
Titles, labels, help and cautions' texts may be put right in checklist/steps.json without all that.`

// No edition of the steps is edited in place: records name it, and verifying them
// years later means following the hold points that they were decided by.
func TestEditionsStayWhatTheyAre(t *testing.T) {
	newest := checklist.Loudspeakers.Version
	type pin struct{ rules, document string }
	var there []pin
	says := ""
	for n := 1; n <= newest; n++ {
		path := fmt.Sprintf("%d.json", n)
		if n == newest {
			path = "../steps.json"
		}
		document, err := os.ReadFile(path)
		require.NoError(t, err, "wanted checklist/steps.json as it was when edition %d came", n+1)
		one := pin{sum(rules(t, document)), sum(document)}
		if n == newest {
			one.document = "" // whose texts may still be put right
		}
		there = append(there, one)
		says += fmt.Sprintf("\t{%q, %q},\n", one.rules, one.document)
	}
	how := fmt.Sprintf(routine, len(pinned), len(pinned)+1, says)
	require.Len(t, there, len(pinned), how)
	for i, one := range there {
		assert.Equal(t, pin(pinned[i]), one, "edition %d%s", i+1, how)
	}
	kept, err := filepath.Glob("*.json")
	require.NoError(t, err)
	assert.Len(t, kept, newest-1, "each former edition, and nothing else")
}

// rules are a document without what only people read.
func rules(t *testing.T, document []byte) []byte {
	d := json.NewDecoder(bytes.NewReader(document))
	d.UseNumber()
	var steps any
	require.NoError(t, d.Decode(&steps))
	var strip func(any)
	strip = func(v any) {
		switch v := v.(type) {
		case map[string]any:
			for _, text := range []string{"name", "title", "do", "photo", "label", "help", "text", "source"} {
				delete(v, text)
			}
			for _, inner := range v {
				strip(inner)
			}
		case []any:
			for _, inner := range v {
				strip(inner)
			}
		}
	}
	strip(steps)
	data, err := json.Marshal(steps)
	require.NoError(t, err)
	return data
}

func sum(data []byte) string {
	s := sha256.Sum256(data)
	return hex.EncodeToString(s[:])
}

// What decides is told from what only people read.
func TestRulesOfADocument(t *testing.T) {
	document, err := os.ReadFile("../steps.json")
	require.NoError(t, err)
	was := rules(t, document)
	for _, row := range []struct {
		from, to string
		same     bool
	}{
		{`"title": "Drill"`, `"title": "Drill the holes"`, true},
		{`"label": "Drill bit"`, `"label": "Bit"`, true},
		{`"text": "Wear eye`, `"text": "Always wear eye`, true},
		{`"confirm": ["amplifier-off"]`, `"confirm": []`, false},
		{`"after": ["mark", "level"]`, `"after": ["mark"]`, false},
		{`"needs": ["fixing"]`, `"needs": []`, false},
		{`"least": 500,`, `"least": 400,`, false},
		{`"hung": true`, `"hung": false`, false},
		{`"id": "held"`, `"id": "held-fast"`, false},
	} {
		changed := bytes.Replace(document, []byte(row.from), []byte(row.to), 1)
		require.NotEqual(t, document, changed, row.from)
		assert.Equal(t, row.same, bytes.Equal(was, rules(t, changed)), row.from)
	}
}

// Steps and fields are added and never renamed, or what was recorded at one is lost.
func TestEditionsOnlyAdd(t *testing.T) {
	l := editions.Loudspeakers()
	require.Equal(t, l.Newest(), checklist.Loudspeakers.Version)
	assert.Same(t, checklist.Loudspeakers, l.Edition(l.Newest()))
	for n := 1; n <= l.Newest(); n++ {
		assert.Equal(t, n, l.Edition(n).Version)
	}
	for n := 1; n < l.Newest(); n++ {
		for _, was := range l.Edition(n).Steps {
			is := l.Edition(n + 1).Step(was.ID)
			if !assert.NotNil(t, is, "step %s of edition %d", was.ID, n) {
				continue
			}
			assert.Equal(t, was.Scope, is.Scope, was.ID)
			assert.Equal(t, was.Kind, is.Kind, was.ID)
			for _, field := range was.Fields {
				f, ok := is.Field(field.ID)
				assert.True(t, ok && f.Quantity == field.Quantity, "field %s of step %s of edition %d", field.ID, was.ID, n)
			}
		}
	}
}

// A record that names no edition is of one from before they were written, and of none
// that did not have what was accepted before it.
func TestDeciders(t *testing.T) {
	record := func(kind checklist.Kind, accepted bool, edition int) checklist.Record {
		return checklist.Record{Decision: checklist.Decision{Accepted: accepted, Edition: edition}, Entry: checklist.Entry{Kind: kind}}
	}
	assert.Equal(t, []int{7}, editions.Deciders(record(checklist.StepRecorded, true, 7), 1))
	assert.Equal(t, []int{2, 1}, editions.Deciders(record(checklist.StepRecorded, true, 0), 0))
	assert.Equal(t, []int{2}, editions.Deciders(record(checklist.StepRecorded, true, 0), 2))
	assert.Equal(t, 2, editions.Since(record(checklist.PartNoted, true, 0)))
	assert.Equal(t, 1, editions.Since(record(checklist.PartNoted, false, 0)), "refused by any program that does not know it")
	assert.Equal(t, 1, editions.Since(record(checklist.DraftEdited, true, 0)))
}

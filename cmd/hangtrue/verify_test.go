package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/rehearsal"
	"hangtrue/checklist/seal"
	"hangtrue/testdata/demo"
)

const recordJob = "018f3c5e-7a10-7000-8000-0000000000a1"

// fixedKey makes the same key each time from one byte.
func fixedKey(t *testing.T, b byte) *seal.Key {
	k, _, err := seal.GenerateKey(bytes.NewReader(bytes.Repeat([]byte{b}, 64)))
	require.NoError(t, err)
	return k
}

func sealOf(t *testing.T, k *seal.Key, records []checklist.Record, purpose seal.Purpose) string {
	note, err := k.Sign(seal.Checkpoint{Job: recordJob, Size: int64(len(records)), Root: seal.Root(records), Purpose: purpose})
	require.NoError(t, err)
	return note
}

// smallRecord is a sealed record that is not signed off.
func smallRecord(t *testing.T) (data []byte, key string) {
	k := fixedKey(t, 7)
	site := rehearsal.NewSite(recordJob, "018f3c5e-7a10-7000-8000-00000000d001")
	require.NoError(t, site.Do(checklist.JobOpened, checklist.Opening{Title: "Attic lounge"}))
	require.NoError(t, site.Do(checklist.RemarkWritten, checklist.Remark{Step: "hang", Mount: "M+090", Text: "40 mm off, asked."}))
	data, err := seal.NewFile(recordJob, "Attic lounge", k.Public(), site.Records, []string{sealOf(t, k, site.Records, seal.Extract)}).Encode()
	require.NoError(t, err)
	return data, k.Public()
}

// signedRecord is the record of the demo job, done and signed off as a server would.
func signedRecord(t *testing.T) (data []byte, key string) {
	k := fixedKey(t, 7)
	p, err := plan.Decode(demo.Plan)
	require.NoError(t, err)
	site := rehearsal.NewSite(recordJob, "018f3c5e-7a10-7000-8000-00000000d001")
	require.NoError(t, site.Open(p))
	require.NoError(t, site.Finish())
	require.NoError(t, site.Do(checklist.JobSigned, checklist.Signing{Revision: 1, Head: site.State.Head}))
	signOff := sealOf(t, k, site.Records, seal.SignOff)
	data, err = seal.NewFile(recordJob, p.Title, k.Public(), site.Records, []string{signOff, sealOf(t, k, site.Records, seal.Extract)}).Encode()
	require.NoError(t, err)
	return data, k.Public()
}

// TestVerify_SignedOff: a whole job done and signed off passes; a comma or a digit
// of it changed, the entry is named.
func TestVerify_SignedOff(t *testing.T) {
	data, key := signedRecord(t)
	got := command(t, string(data), "verify", "-", "--key", key)
	assert.Equal(t, 0, got.code, got.stdout)
	golden(t, "verify-signed.txt", got.stdout)

	hang := regexp.MustCompile(regexp.QuoteMeta(`\"step\":\"hang\",\"mount\":\"M+090\",\"measured\":{\"along_um\":[`) + `(\d)`)
	at := hang.FindSubmatchIndex(data)
	require.NotNil(t, at, "the record has what was measured at M+090")
	comma := at[0] + len(`\"step\":\"hang\"`)
	require.EqualValues(t, ',', data[comma])
	for name, place := range map[string]int{"a digit": at[2], "a comma": comma} {
		changed := bytes.Clone(data)
		changed[place] = '9'
		got = command(t, string(changed), "verify", "-", "--key", key)
		assert.Equal(t, 1, got.code, name)
		assert.Contains(t, got.stdout, "is not what was sealed", name)
		assert.Equal(t, 1, strings.Count(got.stdout, "\n- "), "%s: one change, one finding: %s", name, got.stdout)
		if name == "a digit" {
			assert.Regexp(t, `- Entry \d+ \(M\+090 Hang and measure, recorded \d{4}-\d\d-\d\d by lead\) is not what was sealed\.`, got.stdout)
		}
	}
}

// TestVerify_Steps: where a hold point was not met, the output says by which edition of
// the steps, and only there.
func TestVerify_Steps(t *testing.T) {
	k := fixedKey(t, 7)
	p, err := plan.Decode(demo.Plan)
	require.NoError(t, err)
	site := rehearsal.NewSite(recordJob, "018f3c5e-7a10-7000-8000-00000000d001")
	require.NoError(t, site.Open(p))
	e, err := site.Entry(site.Device, checklist.Lead, checklist.JobSigned, checklist.Signing{Revision: 1, Head: site.State.Head})
	require.NoError(t, err)
	r := site.Push(e)
	require.False(t, r.Accepted)
	records := slices.Clone(site.Records)
	steps := checklist.Loudspeakers.Version
	says := fmt.Sprintf("was accepted although a hold point of edition %d of the steps was not met: ", steps)
	for _, accepted := range []bool{false, true} {
		records[len(records)-1].Decision = checklist.Decision{Accepted: accepted, Edition: steps}
		seals := []string{sealOf(t, k, records, seal.Extract)}
		if accepted {
			seals = append(seals, sealOf(t, k, records, seal.SignOff))
		}
		data, err := seal.NewFile(recordJob, p.Title, k.Public(), records, seals).Encode()
		require.NoError(t, err)
		got := command(t, string(data), "verify", "-")
		assert.Equal(t, accepted, strings.Contains(got.stdout, says), got.stdout)
	}
}

// TestVerify_NewerEdition: what a later edition of the steps decided is told and is no
// failure of the record, and the exit code says that not all was checked.
func TestVerify_NewerEdition(t *testing.T) {
	k := fixedKey(t, 7)
	data, _ := signedRecord(t)
	file, err := seal.Read(data)
	require.NoError(t, err)
	records := file.Records
	for i := range records[100:] {
		records[100+i].Edition = 99
	}
	encoded := func(records []checklist.Record, purposes ...seal.Purpose) string {
		var seals []string
		for _, purpose := range purposes {
			seals = append(seals, sealOf(t, k, records, purpose))
		}
		data, err := seal.NewFile(recordJob, file.Title, k.Public(), records, seals).Encode()
		require.NoError(t, err)
		return string(data)
	}
	whole := encoded(records, seal.SignOff, seal.Extract)
	got := command(t, whole, "verify", "-", "--key", k.Public())
	assert.Equal(t, 3, got.code, got.stdout)
	assert.Empty(t, got.stderr)
	golden(t, "verify-newer.txt", got.stdout)
	got = command(t, whole, "verify", "-", "--key", k.Public(), "--json")
	assert.Equal(t, 3, got.code, got.stdout)
	golden(t, "verify-newer.json", got.stdout)

	got = command(t, strings.Replace(whole, `"edition": 99`, `"edition": 98`, 1), "verify", "-", "--key", k.Public())
	assert.Equal(t, 1, got.code, "changed: %s", got.stdout)
	assert.NotContains(t, got.stdout, "Not all checked", "who finds the record changed has no use for more")
	got = command(t, encoded(records[:101], seal.Extract), "verify", "-", "--key", k.Public())
	assert.Equal(t, 1, got.code, "not signed off: %s", got.stdout)
	assert.Contains(t, got.stdout, "- Entry 101 was decided by edition 99 of the steps")
}

func TestVerify(t *testing.T) {
	data, key := smallRecord(t)
	other := fixedKey(t, 8)
	dir := t.TempDir()
	for _, row := range []struct {
		name     string
		from, to string
		args     []string
		golden   string
		code     int
	}{
		{"intact", "", "", []string{"--key", key}, "verify-intact.txt", 1},
		{"intact, own key", "", "", nil, "verify-own-key.txt", 1},
		{"a digit changed", "40 mm", "46 mm", []string{"--key", key}, "verify-changed.txt", 1},
		{"a comma changed", `\"M+090\",`, `\"M+090\";`, []string{"--key", key}, "verify-comma.txt", 1},
		{"another key", "", "", []string{"--key", other.Public()}, "verify-other-key.txt", 1},
		{"JSON", "40 mm", "46 mm", []string{"--key", key, "--json"}, "verify-changed.json", 1},
	} {
		t.Run(row.name, func(t *testing.T) {
			require.Contains(t, string(data), row.from)
			path := filepath.Join(dir, "record.json")
			require.NoError(t, os.WriteFile(path, []byte(strings.Replace(string(data), row.from, row.to, 1)), 0o600))
			got := command(t, "", append([]string{"verify", path}, row.args...)...)
			assert.Equal(t, row.code, got.code, got.stderr)
			assert.Empty(t, got.stderr)
			golden(t, row.golden, got.stdout)
			if strings.HasSuffix(row.golden, ".json") {
				assert.True(t, json.Valid([]byte(got.stdout)))
			}
		})
	}
	got := command(t, string(data[:len(data)/2]), "verify", "-")
	assert.Equal(t, 2, got.code)
	assert.Contains(t, got.stderr, "hangtrue: -: not a record file: ")
	assert.Empty(t, got.stdout)
}

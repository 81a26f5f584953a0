package seal_test

import (
	"bytes"
	"crypto/rand"
	"encoding/json"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/note"

	"hangtrue/checklist"
	"hangtrue/checklist/plan"
	"hangtrue/checklist/rehearsal"
	"hangtrue/checklist/seal"
)

func TestKey_ParseKey_GivesTheSamePublicKey(t *testing.T) {
	for range 50 { // a key's base64 may hold a plus sign, which also divides its parts
		k, secret, err := seal.GenerateKey(rand.Reader)
		require.NoError(t, err)
		again, err := seal.ParseKey(secret)
		require.NoError(t, err)
		assert.Equal(t, k.Public(), again.Public())
		require.NoError(t, seal.CheckPublic(k.Public()))
	}
	_, err := seal.ParseKey("PRIVATE+KEY+hangtrue+00000000+AQID")
	require.ErrorIs(t, err, seal.ErrKey)
	assert.NotContains(t, err.Error(), "AQID", "an error must not repeat a secret")
}

func TestKey_Sign_TextIsTheCheckpoint(t *testing.T) {
	k := keyOf(t, 1)
	records := smallLog(t)
	c := seal.Checkpoint{Job: jobA, Size: 5, Root: seal.Root(records), Purpose: seal.SignOff}
	text, err := k.Sign(c)
	require.NoError(t, err)

	lines := strings.Split(text, "\n")
	assert.Equal(t, []string{"hangtrue/" + jobA, "5", seal.Root(records).String(), "hangtrue seal 1: sign-off", ""}, lines[:5])
	assert.True(t, strings.HasPrefix(lines[5], "— hangtrue "), lines[5])

	opened, err := seal.Open(text, k.Public())
	require.NoError(t, err)
	assert.Equal(t, c, opened)

	verifier, err := note.NewVerifier(k.Public())
	require.NoError(t, err)
	n, err := note.Open([]byte(text), note.VerifierList(verifier)) // the note package alone opens it too
	require.NoError(t, err)
	assert.Equal(t, strings.Join(lines[:4], "\n")+"\n", n.Text)
}

func TestKey_Sign_RefusesWhatDoesNotOpenAgain(t *testing.T) {
	k := keyOf(t, 1)
	for _, c := range []seal.Checkpoint{
		{Job: jobA + "\t", Size: 1, Purpose: seal.Extract},
		{Job: "not a job", Size: 1, Purpose: seal.Extract},
		{Job: jobA, Size: -1, Purpose: seal.Extract},
		{Job: jobA, Size: 1, Purpose: "something else"},
		{Job: jobA, Size: 1, Purpose: "sign-off\nand more"},
	} {
		_, err := k.Sign(c)
		assert.Error(t, err, "%+v", c)
	}
}

// TestOpen_EveryByteOfASeal changes each byte of a seal to each of several others;
// no change may open, the spare bits of the signature's base64 included.
func TestOpen_EveryByteOfASeal(t *testing.T) {
	k := keyOf(t, 1)
	text, err := k.Sign(seal.Checkpoint{Job: jobA, Size: 37, Root: seal.Root(smallLog(t)), Purpose: seal.SignOff})
	require.NoError(t, err)
	for at := range len(text) {
		for _, changed := range variants([]byte(text), at) {
			_, err := seal.Open(string(changed), k.Public())
			require.ErrorIs(t, err, seal.ErrSeal, "byte %d as %q", at, changed[at])
		}
	}
	second, err := keyOf(t, 2).Sign(seal.Checkpoint{Job: jobA, Size: 37, Purpose: seal.SignOff})
	require.NoError(t, err)
	for name, forged := range map[string]string{
		"another key":     second,
		"two signatures":  text + text[strings.LastIndex(text, "— "):],
		"foreign line":    text + second[strings.LastIndex(second, "— "):],
		"no signature":    text[:strings.LastIndex(text, "— ")],
		"empty":           "",
		"carriage return": strings.ReplaceAll(text, "\n", "\r\n"),
	} {
		_, err := seal.Open(forged, k.Public())
		assert.ErrorIs(t, err, seal.ErrSeal, name)
	}
}

// TestOpen_OtherNotesOfTheSameKey: a note that the key signed for something else is no seal.
func TestOpen_OtherNotesOfTheSameKey(t *testing.T) {
	secret, public, err := note.GenerateKey(rand.Reader, "hangtrue")
	require.NoError(t, err)
	signer, err := note.NewSigner(secret)
	require.NoError(t, err)
	root := seal.Root(nil).String()
	for name, text := range map[string]string{
		"plain checkpoint":  "hangtrue/" + jobA + "\n5\n" + root + "\n",
		"other purpose":     "hangtrue/" + jobA + "\n5\n" + root + "\nhangtrue pairing 1: phone\n",
		"other origin":      "else/" + jobA + "\n5\n" + root + "\nhangtrue seal 1: sign-off\n",
		"leading zero":      "hangtrue/" + jobA + "\n05\n" + root + "\nhangtrue seal 1: sign-off\n",
		"extra line":        "hangtrue/" + jobA + "\n5\n" + root + "\nhangtrue seal 1: sign-off\nmore\n",
		"spare bit in root": "hangtrue/" + jobA + "\n5\n" + strings.Replace(root, "U=", "V=", 1) + "\nhangtrue seal 1: sign-off\n",
	} {
		signed, err := note.Sign(&note.Note{Text: text}, signer)
		require.NoError(t, err)
		_, err = seal.Open(string(signed), public)
		assert.ErrorIs(t, err, seal.ErrSeal, name)
	}
}

func encode(t testing.TB, f seal.File) []byte {
	data, err := f.Encode()
	require.NoError(t, err)
	return data
}

func read(t testing.TB, data []byte) seal.File {
	f, err := seal.Read(data)
	require.NoError(t, err)
	return f
}

// texts are the findings of a report.
func texts(r seal.Report) string {
	var b strings.Builder
	for _, f := range r.Findings {
		fmt.Fprintf(&b, "%d: %s\n", f.Position, f.Text)
	}
	return b.String()
}

func TestFile_Verify_Untouched(t *testing.T) {
	k := keyOf(t, 1)
	for name, l := range map[string]*logbook{"remarks": smallBook(t, jobA), "plan": planBook(t)} {
		for _, trusted := range []string{"", k.Public()} {
			report := read(t, encode(t, l.file(k))).Verify(trusted)
			assert.Empty(t, texts(report), name)
			assert.True(t, report.Intact())
			assert.EqualValues(t, len(l.records), report.Sealed)
			assert.Equal(t, trusted != "", report.Trusted)
			assert.Empty(t, report.SignOffs, "an extract signs nothing off")
		}
	}
}

// variants are other values for the byte at a place: each single bit flipped, and
// a digit, a comma, a quote, a space and a line's end.
func variants(data []byte, at int) [][]byte {
	var all [][]byte
	try := func(b byte) {
		if b != data[at] {
			changed := bytes.Clone(data)
			changed[at] = b
			all = append(all, changed)
		}
	}
	for bit := range 8 {
		try(data[at] ^ 1<<bit)
	}
	for _, b := range []byte("07,\" \n") {
		try(b)
	}
	return all
}

// TestRead_EveryByteOfARecordFile changes every byte of a record file. Each change
// must be refused or reported, except where white space between two values became
// other white space; that list is worked out apart and must be met exactly.
func TestRead_EveryByteOfARecordFile(t *testing.T) {
	k := keyOf(t, 1)
	l := newLogbook(t, jobA) // accepted and refused, and with a reason
	l.add(checklist.Lead, "lead", checklist.JobOpened, checklist.Opening{Title: "Attic \"lounge\""})
	l.add(checklist.Installer, "installer 1", checklist.JobOpened, checklist.Opening{Title: "<again>"})
	data := encode(t, l.file(k))

	insignificant := map[int]bool{}
	for at, inText, escaped := 0, false, false; at < len(data); at++ {
		switch c := data[at]; {
		case escaped:
			escaped = false
		case inText && c == '\\':
			escaped = true
		case c == '"':
			inText = !inText
		case !inText && bytes.IndexByte([]byte(" \n\t\r"), c) >= 0:
			insignificant[at] = true
		}
	}

	passed, tried := map[int]bool{}, 0
	for at := range data {
		for _, changed := range variants(data, at) {
			tried++
			f, err := seal.Read(changed)
			if err != nil || !f.Verify(k.Public()).Intact() {
				continue
			}
			require.True(t, insignificant[at], "byte %d of %d: %q became %q and nothing was found", at, len(data), around(data, at), around(changed, at))
			require.Contains(t, " \n\t\r", string(changed[at]), "byte %d: white space became %q", at, changed[at])
			passed[at] = true
		}
	}
	assert.Equal(t, insignificant, passed, "white space may change, all of it, and nothing else")
	t.Logf("%d bytes, %d changes, %d places of white space", len(data), tried, len(passed))
}

func around(data []byte, at int) []byte { return data[max(0, at-15):min(len(data), at+15)] }

// TestRead_EveryTruncation cuts the file after every byte.
func TestRead_EveryTruncation(t *testing.T) {
	k := keyOf(t, 1)
	data := encode(t, smallBook(t, jobA).file(k))
	for n := range len(data) - 1 { // without the last byte, a line's end, the file is whole
		_, err := seal.Read(data[:n])
		require.ErrorIs(t, err, seal.ErrFile, "%d bytes", n)
	}
}

// TestFile_Verify_NamesTheEntry changes a comma or a digit inside an entry and
// wants it named by place, mount, step, day and person.
func TestFile_Verify_NamesTheEntry(t *testing.T) {
	k := keyOf(t, 1)
	data := encode(t, smallBook(t, jobA).file(k))
	for _, row := range []struct{ name, from, to, want string }{
		{"a comma in a text", "40 mm off, asked", "40 mm off. asked", "3: Entry 3 (M+090 Hang and measure, written 2030-01-31 by installer 1) is not what was sealed."},
		{"a digit in a text", "40 mm off", "46 mm off", "3: Entry 3 (M+090 Hang and measure, written 2030-01-31 by installer 1) is not what was sealed."},
		{"a comma of the entry itself", `\"M+090\",\"text\"`, `\"M+090\";\"text\"`, "3: Entry 3 is not what was sealed: it cannot be read"},
		{"a decision", `"accepted": false`, `"accepted": true`, "4: Entry 4 (Job, opened 2030-01-31 by installer 1) is not what was sealed."},
		{"a reason", "The job is open already.", "The job is open, already.", "4: Entry 4 (Job, opened and refused 2030-01-31 by installer 1) is not what was sealed."},
		{"the server's clock", `"received": "2030-01-31T09:15:02Z"`, `"received": "2030-01-31T09:15:03Z"`, "1: Entry 1 (Job, opened 2030-01-31 by lead) is not what was sealed."},
		{"the device's clock", `09:15:00.000Z`, `09:15:00.001Z`, "1: Entry 1 (Job, opened 2030-01-31 by lead) is not what was sealed."},
		{"a position", `"position": 2`, `"position": 3`, "2: Entry 3 (Remark, written 2030-01-31 by installer 1) stands at place 2"},
		{"the title of the file", `"title": "Attic lounge"`, `"title": "Attic lounges"`, `0: The file's title is "Attic lounges"`},
	} {
		t.Run(row.name, func(t *testing.T) {
			require.Contains(t, string(data), row.from)
			report := read(t, []byte(strings.Replace(string(data), row.from, row.to, 1))).Verify(k.Public())
			assert.Contains(t, texts(report), row.want)
		})
	}
}

func TestFile_Verify_OneChangeOneFinding(t *testing.T) {
	k := keyOf(t, 1)
	data := encode(t, smallBook(t, jobA).file(k))
	report := read(t, bytes.Replace(data, []byte("40 mm off"), []byte("46 mm off"), 1)).Verify(k.Public())
	assert.Len(t, report.Findings, 1)
}

// TestFile_Verify_Damage is a list of things somebody might do to a record on purpose.
func TestFile_Verify_Damage(t *testing.T) {
	k, other := keyOf(t, 1), keyOf(t, 2)
	sealOf := func(k *seal.Key, job string, records []checklist.Record, purpose seal.Purpose) string {
		text, err := k.Sign(seal.Checkpoint{Job: job, Size: int64(len(records)), Root: seal.Root(records), Purpose: purpose})
		require.NoError(t, err)
		return text
	}
	forge := func(r checklist.Record, old, new string) checklist.Record {
		data, err := json.Marshal(r)
		require.NoError(t, err)
		require.Contains(t, string(data), old)
		var changed checklist.Record
		require.NoError(t, json.Unmarshal([]byte(strings.Replace(string(data), old, new, 1)), &changed))
		return changed
	}
	for _, row := range []struct {
		name   string
		damage func(f *seal.File)
		want   []string
	}{
		{"two records swapped", func(f *seal.File) {
			f.Records[1], f.Records[2] = f.Records[2], f.Records[1]
		}, []string{"2: Entry 3 (M+090 Hang and measure, written 2030-01-31 by installer 1) stands at place 2", "3: Entry 2"}},
		{"two records and their hashes swapped", func(f *seal.File) {
			f.Records[1], f.Records[2] = f.Records[2], f.Records[1]
			f.Hashes[1], f.Hashes[2] = f.Hashes[2], f.Hashes[1]
		}, []string{"stands at place 2", "Entries 1 to 5 are not what was sealed"}},
		{"one record dropped", func(f *seal.File) {
			f.Records = append(f.Records[:2], f.Records[3:]...)
		}, []string{"3: Entry 4", "stands at place 3", "covers 5 entries, but the file has only 4"}},
		{"one dropped and the rest moved up", func(f *seal.File) {
			f.Records = append(f.Records[:2], f.Records[3:]...)
			f.Records[2].Position, f.Records[3].Position = 3, 4
			*f = seal.NewFile(f.Job, f.Title, f.Key, f.Records, f.Seals)
		}, []string{"the last are missing"}},
		{"the last record dropped with its hash", func(f *seal.File) {
			f.Records, f.Hashes = f.Records[:4], f.Hashes[:4]
		}, []string{"covers 5 entries, but the file has only 4: the last are missing"}},
		{"all records dropped", func(f *seal.File) {
			f.Records, f.Hashes = nil, nil
		}, []string{"the last are missing"}},
		{"a record twice", func(f *seal.File) {
			f.Records = append(f.Records, f.Records[4])
		}, []string{"has the id of entry 5", "stands at place 6"}},
		{"a record of another job put in", func(f *seal.File) {
			f.Records[2] = smallBook(t, jobB).records[2]
			f.Hashes[2] = seal.Leaf(f.Records[2])
		}, []string{"3: Entry 3 (M+090 Hang and measure, written 2030-01-31 by installer 1) belongs to another job (" + jobB + ")"}},
		{"the whole record moved to another job", func(f *seal.File) {
			f.Job = jobB
		}, []string{"belongs to another job", "Seal 1 belongs to another job (" + jobA + ")"}},
		{"the seal of another job", func(f *seal.File) {
			f.Seals = []string{sealOf(k, jobB, f.Records, seal.Extract)}
		}, []string{"Seal 1 belongs to another job (" + jobB + ")"}},
		{"changed with its hash", func(f *seal.File) {
			f.Records[2] = forge(f.Records[2], "40 mm", "4 mm")
			f.Hashes[2] = seal.Leaf(f.Records[2])
		}, []string{"Entries 1 to 5 are not what was sealed: something among them was changed, together with its hash"}},
		{"a hash changed", func(f *seal.File) {
			f.Hashes[2][5] ^= 1
		}, []string{"3: Entry 3 (M+090 Hang and measure, written 2030-01-31 by installer 1) is what was sealed, but the hash listed for it was changed"}},
		{"a hash dropped", func(f *seal.File) {
			f.Hashes = f.Hashes[:4]
		}, []string{"5 entries but 4 hashes"}},
		{"changed and signed again with another key", func(f *seal.File) {
			f.Records[2] = forge(f.Records[2], "40 mm", "4 mm")
			*f = seal.NewFile(f.Job, f.Title, other.Public(), f.Records, []string{sealOf(other, f.Job, f.Records, seal.Extract)})
		}, []string{"another key than the one you trust", "Seal 1 is not valid"}},
		{"signed with another key under the old name", func(f *seal.File) {
			f.Seals = []string{sealOf(other, f.Job, f.Records, seal.Extract)}
		}, []string{"Seal 1 is not valid"}},
		{"an old checkpoint put in place of the new", func(f *seal.File) {
			f.Seals = []string{sealOf(k, f.Job, f.Records[:3], seal.Extract)}
		}, []string{"4: No seal covers entries 4 to 5"}},
		{"an older checkpoint after the newer", func(f *seal.File) {
			f.Seals = append(f.Seals, sealOf(k, f.Job, f.Records[:3], seal.Extract))
		}, []string{"covers fewer entries than the one before it"}},
		{"the seal taken out", func(f *seal.File) {
			f.Seals = nil
		}, []string{"The record has no seal"}},
		{"a sign-off's seal on what is no sign-off", func(f *seal.File) {
			f.Seals = []string{sealOf(k, f.Job, f.Records, seal.SignOff)}
		}, []string{"5: A sign-off's seal ends at entry 5, which is no sign-off"}},
		{"no key", func(f *seal.File) { f.Key = "hangtrue" }, []string{"another key than the one you trust"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			f := smallBook(t, jobA).file(k)
			row.damage(&f)
			report := read(t, encode(t, f)).Verify(k.Public())
			assert.False(t, report.Intact())
			for _, want := range row.want {
				assert.Contains(t, texts(report), want)
			}
		})
	}
}

// TestFile_Verify_ForgedWithoutATrustedKey: with the file's own key a record made
// anew by somebody else passes, and the report says that the key was not given.
func TestFile_Verify_ForgedWithoutATrustedKey(t *testing.T) {
	report := read(t, encode(t, smallBook(t, jobA).file(keyOf(t, 2)))).Verify("")
	assert.True(t, report.Intact())
	assert.False(t, report.Trusted)

	f := smallBook(t, jobA).file(keyOf(t, 2))
	f.Key = "no key"
	assert.Contains(t, texts(read(t, encode(t, f)).Verify("")), "not a public key")
}

// TestFile_Verify_HoldPoints: a log whose server let a held step pass is sealed
// properly and still found.
func TestFile_Verify_HoldPoints(t *testing.T) {
	k := keyOf(t, 1)
	l := planBook(t)
	r := l.add(checklist.Installer, "installer 1", checklist.StepRecorded, checklist.Recording{Step: "drill", Mount: "M+090"})
	require.False(t, r.Accepted, "the rules refuse it")
	assert.True(t, read(t, encode(t, l.file(k))).Verify(k.Public()).Intact(), "a refused entry is no finding")

	l = planBook(t)
	e := r.Entry
	l.keep(checklist.Record{Position: 3, Received: "2030-01-31T09:20:00Z", Decision: checklist.Decision{Accepted: true, Outcome: "within", Edition: checklist.Loudspeakers.Version}, Entry: e})
	report := read(t, encode(t, l.file(k))).Verify(k.Public())
	require.Len(t, report.Findings, 1, texts(report))
	assert.Contains(t, texts(report), "3: Entry 3 (M+090 ")
	assert.Contains(t, texts(report), fmt.Sprintf("was accepted although a hold point of edition %d of the steps was not met: ", checklist.Loudspeakers.Version))
	assert.Equal(t, checklist.Loudspeakers.Version, report.Findings[0].Steps)

	l = planBook(t)
	signed := l.add(checklist.Lead, "lead", checklist.JobSigned, checklist.Signing{Revision: 1, Head: 2})
	require.False(t, signed.Accepted)
	l = planBook(t)
	l.keep(checklist.Record{Position: 3, Received: "2030-01-31T09:20:00Z", Decision: checklist.Decision{Accepted: true, Edition: checklist.Loudspeakers.Version}, Entry: signed.Entry})
	note, err := k.Sign(seal.Checkpoint{Job: jobA, Size: 3, Root: seal.Root(l.records), Purpose: seal.SignOff})
	require.NoError(t, err)
	report = read(t, encode(t, l.file(k, note))).Verify(k.Public())
	assert.Equal(t, []int64{3}, report.SignOffs)
	assert.Contains(t, texts(report), "3: Entry 3 (Sign-off, signed 2030-01-31 by lead) was accepted although a hold point of edition ")

	report = read(t, encode(t, l.file(k))).Verify(k.Public())
	assert.Contains(t, texts(report), "3: Entry 3 (Sign-off, signed 2030-01-31 by lead) has lost its seal.")
}

// TestFile_Verify_PlanDocument: a plan that is not the one its SHA-256 names is
// found even where the server accepted and sealed it.
func TestFile_Verify_PlanDocument(t *testing.T) {
	k := keyOf(t, 1)
	l := newLogbook(t, jobA)
	l.add(checklist.Lead, "lead", checklist.JobOpened, checklist.Opening{Title: "Attic lounge"})
	settlement := checklist.NewSettlement(1, "First plan.", []byte(`{"a": 1}`))
	settlement.Plan = `{"a": 2}`
	r := l.add(checklist.Lead, "lead", checklist.PlanSettled, settlement)
	require.False(t, r.Accepted)
	l.records[1].Decision = checklist.Decision{Accepted: true, Edition: checklist.Loudspeakers.Version}
	report := read(t, encode(t, l.file(k))).Verify(k.Public())
	assert.Contains(t, texts(report), "2: Entry 2 (Plan, settled 2030-01-31 by lead) has a plan document that is not the one its SHA-256 names.")
}

func TestRead_Refuses(t *testing.T) {
	k := keyOf(t, 1)
	good := string(encode(t, smallBook(t, jobA).file(k)))
	for _, row := range []struct{ name, data, want string }{
		{"nothing", "", "EOF"},
		{"another format", strings.Replace(good, "hangtrue-record/2", "hangtrue-record/3", 1), `its format is "hangtrue-record/3"`},
		{"an unknown key", strings.Replace(good, `"job"`, `"owner": 1, "job"`, 1), "unknown field"},
		{"a key twice", strings.Replace(good, `"job": "`+jobA+`"`, `"job": "`+jobB+`", "job": "`+jobA+`"`, 1), "not spelled"},
		{"a key in capitals", strings.Replace(good, `"title"`, `"TITLE"`, 1), "not spelled"},
		{"a needless escape", strings.Replace(good, `"title": "A`, `"title": "\u0041`, 1), "not spelled"},
		{"a key left out", strings.Replace(good, "\"title\": \"Attic lounge\",", "", 1), "not spelled"},
		{"null records", `{"format":"hangtrue-record/1","job":"` + jobA + `","title":"","key":"","records":null,"hashes":[],"seals":[]}`, "each a list"},
		{"something after it", good + "{}", "follows"},
		{"a comma lost between records", strings.Replace(good, "},\n", "}\n", 1), "line 14, in or after entry 1"},
		{"bytes that are no text", strings.Replace(good, "Attic", "Att\xffic", 1), "no text"},
		{"job is no UUID", strings.Replace(good, jobA, "x", 1), "UUID"},
	} {
		t.Run(row.name, func(t *testing.T) {
			_, err := seal.Read([]byte(row.data))
			require.ErrorIs(t, err, seal.ErrFile)
			assert.Contains(t, err.Error(), row.want)
		})
	}
}

func TestRead_WhiteSpaceChangesNothing(t *testing.T) {
	k := keyOf(t, 1)
	var compact bytes.Buffer
	require.NoError(t, json.Compact(&compact, encode(t, smallBook(t, jobA).file(k))))
	assert.True(t, read(t, compact.Bytes()).Verify(k.Public()).Intact())
}

func FuzzRead(f *testing.F) {
	k := keyOf(f, 1)
	f.Add(encode(f, smallBook(f, jobA).file(k)))
	f.Add([]byte(`{"format":"hangtrue-record/1"}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		file, err := seal.Read(data)
		if err != nil {
			return
		}
		report := file.Verify("")
		if !report.Intact() {
			return
		}
		// What is intact is written again as it was, but for white space.
		var got, want bytes.Buffer
		require.NoError(t, json.Compact(&want, data))
		require.NoError(t, json.Compact(&got, encode(t, file)))
		require.Equal(t, want.String(), got.String())
	})
}

// TestFile_Verify_SignedTwice: a job is done and signed off, reopened, and signed
// off again. Both seals stand; what the first covers can be told from what it does
// not; and a seal taken out or moved is found.
func TestFile_Verify_SignedTwice(t *testing.T) {
	k := keyOf(t, 1)
	document, err := os.ReadFile("../../testdata/demo/plan.json")
	require.NoError(t, err)
	p, err := plan.Decode(document)
	require.NoError(t, err)
	site := rehearsal.NewSite(jobA, deviceID)
	require.NoError(t, site.Open(p))
	sign := func() string {
		require.NoError(t, site.Finish())
		require.NoError(t, site.Do(checklist.JobSigned, checklist.Signing{Revision: 1, Head: site.State.Head}))
		note, err := k.Sign(seal.Checkpoint{Job: jobA, Size: site.State.Head, Root: seal.Root(site.Records), Purpose: seal.SignOff})
		require.NoError(t, err)
		return note
	}
	first := sign()
	at := site.State.Head
	require.NoError(t, site.Do(checklist.StepReopened, checklist.Reasoned{Step: "polarity", Mount: "M+090", Reason: "Heard again, sounds wrong."}))
	second := sign()

	file := func(seals ...string) seal.Report {
		return read(t, encode(t, seal.NewFile(jobA, p.Title, k.Public(), site.Records, seals))).Verify(k.Public())
	}
	report := file(first, second)
	assert.Empty(t, texts(report))
	assert.Equal(t, []int64{at, site.State.Head}, report.SignOffs)
	assert.Zero(t, report.Later())

	assert.Contains(t, texts(file(second)), fmt.Sprintf("%d: Entry %d (Sign-off, signed 2030-01-31 by lead) has lost its seal.", at, at))
	assert.Contains(t, texts(file(first)), fmt.Sprintf("No seal covers entries %d to %d", at+1, site.State.Head))
	assert.Contains(t, texts(file(second, first)), "covers fewer entries than the one before it")

	early := seal.NewFile(jobA, p.Title, k.Public(), site.Records[:at], []string{first})
	report = read(t, encode(t, early)).Verify(k.Public())
	assert.Empty(t, texts(report), "what was handed out at the first sign-off stays valid")
}

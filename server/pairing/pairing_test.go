package pairing_test

import (
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/crypto/pbkdf2"

	"hangtrue/checklist"
	"hangtrue/server/pairing"
)

const (
	phone1 = "018f3c5e-7a10-7000-8000-00000000d001"
	phone2 = "018f3c5e-7a10-7000-8000-00000000d002"
	jobA   = "018f3c5e-7a10-7000-8000-0000000000a1"
)

// a world is a data folder and a clock that stands still.
type world struct {
	*pairing.Book
	t   *testing.T
	dir string
	at  time.Time
}

func open(t *testing.T) *world {
	w := &world{t: t, dir: t.TempDir(), at: time.Date(2030, 1, 31, 9, 15, 0, 0, time.UTC)}
	w.restart()
	return w
}

func (w *world) now() time.Time { return w.at }

// nowhere is somebody who may read no job yet.
func nowhere(string) bool { return false }

// restart is another process with the same folder.
func (w *world) restart() {
	b, err := pairing.Open(w.dir, w.now)
	require.NoError(w.t, err)
	w.Book = b
}

func (w *world) code(role checklist.Role) pairing.Code {
	c, err := w.OpenCode(role)
	require.NoError(w.t, err)
	return c
}

func (w *world) pair(id string, role checklist.Role) string {
	token, d, err := w.Pair(w.code(role).Long, id, "somebody", "")
	require.NoError(w.t, err)
	require.Equal(w.t, role, d.Role)
	return token
}

func (w *world) wrong(given string) {
	w.t.Helper()
	_, _, err := w.Pair(given, phone1, "somebody", "")
	assert.ErrorIs(w.t, err, pairing.ErrCode)
}

func (w *world) file() string {
	data, err := os.ReadFile(filepath.Join(w.dir, pairing.File))
	require.NoError(w.t, err)
	return string(data)
}

// TestCode_Form: 130 and 40 random bits (ASVS 5.0 V6.5.4 asks for 20, V6.6.3 for 64
// where tries are not limited), in letters that are not read as others.
func TestCode_Form(t *testing.T) {
	w := open(t)
	seen, used := map[string]bool{}, map[rune]int{}
	for range 100 {
		c := w.code(checklist.Installer)
		assert.Regexp(t, `^[A-Z2-7]{26}$`, c.Long, "26 letters of 5 bits: at least 128")
		assert.Regexp(t, `^[2-9A-HJ-NP-Z]{4}-[2-9A-HJ-NP-Z]{4}$`, c.Typed)
		assert.False(t, seen[c.Long] || seen[c.Typed])
		seen[c.Long], seen[c.Typed] = true, true
		for _, r := range strings.ReplaceAll(c.Typed, "-", "") {
			used[r]++
		}
		assert.NotContains(t, w.file(), c.Long)
		assert.NotContains(t, w.file(), c.Typed)
		assert.NotContains(t, w.file(), strings.ReplaceAll(c.Typed, "-", ""))
	}
	assert.Len(t, used, 32, "800 letters miss one of 32 once in 10^9 runs")

	// What is kept of a typed code, reckoned again: salted, and dear to guess.
	c := w.code(checklist.Installer)
	var file struct {
		Codes []struct{ Salt, Typed string }
	}
	require.NoError(t, json.NewDecoder(strings.NewReader(w.file())).Decode(&file))
	salts := map[string]bool{}
	for _, one := range file.Codes {
		assert.Regexp(t, `^[A-Z2-7]{26}$`, one.Salt)
		salts[one.Salt] = true
	}
	assert.Len(t, salts, len(file.Codes))
	kept := file.Codes[len(file.Codes)-1]
	slow := pbkdf2.Key([]byte(strings.ReplaceAll(c.Typed, "-", "")), []byte(kept.Salt), 100_000, 32, sha256.New) // RFC 8018 section 5.2
	assert.Equal(t, base64.RawURLEncoding.EncodeToString(slow), kept.Typed)
}

func TestCode_PairsOnce(t *testing.T) {
	for _, form := range []func(pairing.Code) string{
		func(c pairing.Code) string { return c.Long },
		func(c pairing.Code) string { return c.Typed },
		func(c pairing.Code) string { return " " + strings.ToLower(strings.ReplaceAll(c.Typed, "-", " ")) },
	} {
		w := open(t)
		c := w.code(checklist.Installer)
		token, d, err := w.Pair(form(c), phone1, "installer 1", "")
		require.NoError(t, err)
		assert.GreaterOrEqual(t, len(token), 43, "256 bits in base64")
		assert.Equal(t, checklist.Installer, d.Role)
		got, err := w.Who(token)
		require.NoError(t, err)
		assert.Equal(t, "installer 1", got.Who)
		assert.Equal(t, phone1, got.ID)
		assert.NotContains(t, w.file(), token)
		for _, again := range []string{c.Long, c.Typed} {
			_, _, err = w.Pair(again, phone2, "another", "")
			assert.ErrorIs(t, err, pairing.ErrCode, "one success closes both forms")
		}
		w.restart()
		w.wrong(c.Long)
	}
}

func TestCode_TenMinutes(t *testing.T) {
	w := open(t)
	c := w.code(checklist.Lead)
	assert.Equal(t, w.at.Add(10*time.Minute), c.Until)
	w.at = w.at.Add(10 * time.Minute)
	w.wrong(c.Long)
	w = open(t)
	c = w.code(checklist.Lead)
	w.at = w.at.Add(10*time.Minute - time.Nanosecond)
	_, _, err := w.Pair(c.Typed, phone1, "lead", "")
	assert.NoError(t, err)
}

// TestCode_ClockSetBack: a clock that is set back opens no code for longer than ten
// minutes of anybody's.
func TestCode_ClockSetBack(t *testing.T) {
	w := open(t)
	c := w.code(checklist.Lead)
	w.at = w.at.Add(-time.Hour)
	w.wrong(c.Long)
	w = open(t)
	c = w.code(checklist.Lead)
	w.at = w.at.Add(-time.Nanosecond)
	w.wrong(c.Typed)
	w.pair(phone1, checklist.Lead) // one that is opened now is open
}

// TestCode_FiveTries: a restart between tries, and codes of either form, change nothing.
func TestCode_FiveTries(t *testing.T) {
	for tries, opens := range map[int]bool{4: true, 5: false, 6: false} {
		w := open(t)
		c := w.code(checklist.Lead)
		for i := range tries {
			w.restart()
			w.wrong([]string{"22222222", strings.Repeat("A", 26), "", "x", "2222-2223"}[i%5])
		}
		_, _, err := w.Pair(c.Typed, phone1, "lead", "")
		assert.Equal(t, opens, err == nil, "after %d wrong tries: %v", tries, err)
	}
}

// TestCode_Force: many at once get no more tries than one after another, and a
// stranger's tries, when no code is open, write nothing.
func TestCode_Force(t *testing.T) {
	w := open(t)
	c := w.code(checklist.Lead)
	var wait sync.WaitGroup
	var refused atomic.Int64
	other, err := pairing.Open(w.dir, w.now)
	require.NoError(t, err)
	for i := range 40 {
		b := []*pairing.Book{w.Book, other}[i%2]
		wait.Go(func() {
			if _, _, err := b.Pair(fmt.Sprintf("2222222%c", 'A'+i%8), phone1, "x", ""); errors.Is(err, pairing.ErrCode) {
				refused.Add(1)
			}
		})
	}
	wait.Wait()
	assert.EqualValues(t, 40, refused.Load())
	w.wrong(c.Typed)
	before := w.file()
	w.wrong("22222222")
	assert.Equal(t, before, w.file())
}

// TestCode_OneWinner: of many phones that use one code at once, one is paired.
func TestCode_OneWinner(t *testing.T) {
	w := open(t)
	c := w.code(checklist.Installer)
	var wait sync.WaitGroup
	var paired atomic.Int64
	for i := range 16 {
		wait.Go(func() {
			if _, _, err := w.Pair(c.Long, fmt.Sprintf("018f3c5e-7a10-7000-8000-00000000d1%02d", i), "x", ""); err == nil {
				paired.Add(1)
			}
		})
	}
	wait.Wait()
	assert.EqualValues(t, 1, paired.Load())
}

func TestCode_Several(t *testing.T) {
	w := open(t)
	var codes []pairing.Code
	for range 5 {
		codes = append(codes, w.code(checklist.Viewer))
	}
	w.wrong(codes[0].Long) // the fifth closed it, and the try counts against the rest
	for i, c := range codes[1:] {
		_, _, err := w.Pair(c.Long, fmt.Sprintf("018f3c5e-7a10-7000-8000-00000000d1%02d", i), "x", "")
		assert.NoError(t, err)
	}
}

func TestPair_Input(t *testing.T) {
	w := open(t)
	c := w.code(checklist.Lead)
	for _, row := range []struct{ device, who, says string }{
		{"phone", "x", "device is \"phone\""}, {strings.ToUpper(phone1), "x", "lower case"}, {"", "x", "device"},
		{phone1, "", "0 characters"}, {phone1, strings.Repeat("x", 61), "61 characters"}, {phone1, "a\nb", "cannot be shown"},
	} {
		_, _, err := w.Pair(c.Long, row.device, row.who, "")
		assert.ErrorIs(t, err, pairing.ErrInput)
		assert.ErrorContains(t, err, row.says)
	}
	_, err := w.OpenCode("owner")
	assert.ErrorIs(t, err, pairing.ErrInput)
	_, _, err = w.Pair(c.Long, phone1, "x", "")
	assert.NoError(t, err, "and none of these was a try")
}

// TestPair_NobodyElse: a device whose token stands is not taken over; it pairs again
// itself, and after it was revoked anybody with a code may.
func TestPair_NobodyElse(t *testing.T) {
	w := open(t)
	first := w.pair(phone1, checklist.Lead)
	c := w.code(checklist.Installer)
	_, _, err := w.Pair(c.Long, phone1, "a thief", "")
	assert.ErrorIs(t, err, pairing.ErrPaired)
	_, _, err = w.Pair(c.Long, phone1, "a thief", w.pair(phone2, checklist.Installer))
	assert.ErrorIs(t, err, pairing.ErrPaired)
	_, err = w.Who(first)
	require.NoError(t, err)

	second, d, err := w.Pair(c.Long, phone1, "the same", first)
	require.NoError(t, err, "the code was left open")
	assert.Equal(t, checklist.Installer, d.Role)
	assert.NotEqual(t, first, second, "a new token at each pairing (ASVS 5.0 V7.2.4)")
	_, err = w.Who(first)
	assert.ErrorIs(t, err, pairing.ErrToken)

	require.NoError(t, w.Revoke(phone1))
	w.pair(phone1, checklist.Installer)
}

func TestRevoke(t *testing.T) {
	w := open(t)
	one, two := w.pair(phone1, checklist.Lead), w.pair(phone2, checklist.Installer)
	other, err := pairing.Open(w.dir, w.now) // as the command line opens it
	require.NoError(t, err)
	require.NoError(t, other.Revoke(phone2))
	_, err = w.Who(two)
	assert.ErrorIs(t, err, pairing.ErrToken, "at the next question, in the other process")
	_, err = w.Who(one)
	assert.NoError(t, err)
	assert.ErrorIs(t, w.Revoke(phone2), pairing.ErrNone)
	assert.ErrorIs(t, w.Revoke(jobA), pairing.ErrNone)
	l, err := w.List()
	require.NoError(t, err)
	require.Len(t, l.Devices, 2)
	assert.Equal(t, w.at, l.Devices[1].Revoked)
	assert.Empty(t, l.Devices[0].Hash)
	w.restart()
	_, err = w.Who(two)
	assert.ErrorIs(t, err, pairing.ErrToken)
}

// Nothing that lets somebody in outlives the end, also in a process that has the
// book open; the list still says who it was, and each can be paired again.
func TestEnd(t *testing.T) {
	w := open(t)
	one, two := w.pair(phone1, checklist.Lead), w.pair(phone2, checklist.Installer)
	require.NoError(t, w.Revoke(phone2))
	c, err := w.OpenCode(checklist.Lead)
	require.NoError(t, err)
	link, _, err := w.NewLink(jobA)
	require.NoError(t, err)
	visit, _, err := w.Visit(link, func(string) bool { return false })
	require.NoError(t, err)

	other, err := pairing.Open(w.dir, w.now)
	require.NoError(t, err)
	stood, err := other.End()
	require.NoError(t, err)
	assert.Equal(t, 2, stood, "one phone and one link")
	for _, token := range []string{one, two, visit} {
		_, err := w.Who(token)
		assert.ErrorIs(t, err, pairing.ErrToken)
	}
	_, _, err = w.Visit(link, func(string) bool { return false })
	assert.ErrorIs(t, err, pairing.ErrLink)
	_, _, err = w.Pair(c.Long, phone2, "somebody", "")
	assert.ErrorIs(t, err, pairing.ErrCode)
	l, err := w.List()
	require.NoError(t, err)
	require.Len(t, l.Devices, 2)
	for _, d := range l.Devices {
		assert.False(t, d.Revoked.IsZero())
	}
	w.pair(phone1, checklist.Lead)
}

func TestWho_Unknown(t *testing.T) {
	w := open(t)
	token := w.pair(phone1, checklist.Lead)
	for _, not := range []string{"", "x", token[:42], token + "A", strings.Repeat("A", 5000), "null"} {
		_, err := w.Who(not)
		assert.ErrorIs(t, err, pairing.ErrToken)
	}
}

// TestWho_Limits: unused for 90 days, or 400 days old, a token ends.
func TestWho_Limits(t *testing.T) {
	const day = 24 * time.Hour
	w := open(t)
	token := w.pair(phone1, checklist.Lead)
	w.at = w.at.Add(90*day - time.Second)
	_, err := w.Who(token)
	require.NoError(t, err, "a week or a season out of reach is nothing")
	w.at = w.at.Add(90 * day)
	_, err = w.Who(token)
	assert.ErrorIs(t, err, pairing.ErrToken, "idle")

	w = open(t)
	token = w.pair(phone1, checklist.Lead)
	for start := w.at; w.at.Before(start.Add(400 * day)); w.at = w.at.Add(40 * day) {
		_, err = w.Who(token)
		require.NoError(t, err)
	}
	_, err = w.Who(token)
	assert.ErrorIs(t, err, pairing.ErrToken, "absolute, although it was used all the time")
}

func TestWho_Seen(t *testing.T) {
	w := open(t)
	token := w.pair(phone1, checklist.Lead)
	paired := w.at
	seen := func() time.Time {
		_, err := w.Who(token)
		require.NoError(t, err)
		l, err := w.List()
		require.NoError(t, err)
		return l.Devices[0].Seen
	}
	w.at = w.at.Add(9 * time.Minute)
	assert.Equal(t, paired, seen())
	w.at = w.at.Add(time.Minute)
	assert.Equal(t, w.at, seen())
}

func TestLink(t *testing.T) {
	w := open(t)
	link, l, err := w.NewLink(jobA)
	require.NoError(t, err)
	assert.GreaterOrEqual(t, len(link), 43)
	assert.NotContains(t, w.file(), link)
	token, d, err := w.Visit(link, nowhere)
	require.NoError(t, err)
	assert.NotEqual(t, link, token)
	assert.Equal(t, jobA, d.Job)
	assert.Equal(t, checklist.Viewer, d.Role)
	_, err = w.Who(token)
	require.NoError(t, err)
	_, err = w.Who(link)
	assert.ErrorIs(t, err, pairing.ErrToken, "the link itself is no token")
	_, _, err = w.Visit(token, nowhere)
	assert.ErrorIs(t, err, pairing.ErrLink)
	_, _, err = w.Pair(link, phone1, "x", "")
	assert.ErrorIs(t, err, pairing.ErrCode)

	none, d, err := w.Visit(link, func(job string) bool { return job == jobA })
	require.NoError(t, err)
	assert.Empty(t, none, "who may read it already keeps what it has")
	assert.Equal(t, pairing.Device{Job: jobA}, d)

	require.NoError(t, w.Revoke(l.ID))
	_, err = w.Who(token)
	assert.ErrorIs(t, err, pairing.ErrToken)
	_, _, err = w.Visit(link, nowhere)
	assert.ErrorIs(t, err, pairing.ErrLink)
	_, _, err = w.NewLink("x")
	assert.ErrorIs(t, err, pairing.ErrInput)
}

// TestLink_Ends: a visit ends with its link, and many visits push out the oldest.
func TestLink_Ends(t *testing.T) {
	w := open(t)
	link, _, err := w.NewLink(jobA)
	require.NoError(t, err)
	var tokens []string
	for range 21 {
		token, _, err := w.Visit(link, nowhere)
		require.NoError(t, err)
		tokens = append(tokens, token)
	}
	_, err = w.Who(tokens[0])
	assert.ErrorIs(t, err, pairing.ErrToken)
	w.at = w.at.Add(60 * 24 * time.Hour)
	for _, token := range tokens[1:] {
		_, err = w.Who(token)
		assert.NoError(t, err)
	}
	w.at = w.at.Add(30 * 24 * time.Hour)
	_, err = w.Who(tokens[20])
	assert.ErrorIs(t, err, pairing.ErrToken)
	_, _, err = w.Visit(link, nowhere)
	assert.ErrorIs(t, err, pairing.ErrLink)
}

// TestOpen_Damaged: whatever the file is, a damaged one lets nobody in.
func TestOpen_Damaged(t *testing.T) {
	w := open(t)
	token := w.pair(phone1, checklist.Lead)
	path := filepath.Join(w.dir, pairing.File)
	info, err := os.Stat(path)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode())
	good := w.file()
	for _, bad := range []string{"", "{", good[:len(good)/2], `{"format":"hangtrue-devices/1"}{}`, `{"format":"hangtrue-devices/1","more":1}`, `{"format":"hangtrue-devices/2"}`, `{"format":"hangtrue-devices/0"}`, good + "\n", good[1:], strings.Replace(good, `"format"`, `"form"`, 1), "null"} {
		require.NoError(t, os.WriteFile(path, []byte(bad), 0o600))
		_, err := w.Who(token)
		assert.ErrorIs(t, err, pairing.ErrDamaged, bad)
		_, err = pairing.Open(w.dir, w.now)
		assert.ErrorIs(t, err, pairing.ErrDamaged, bad)
		_, err = w.OpenCode(checklist.Lead)
		assert.ErrorIs(t, err, pairing.ErrDamaged, bad)
		assert.Equal(t, bad, w.file(), "and it is left as it is")
	}
	require.NoError(t, os.WriteFile(path, []byte(good), 0o600))
	_, err = w.Who(token)
	assert.NoError(t, err)
	require.NoError(t, os.Chmod(path, 0o622))
	w.restartFails()
	require.NoError(t, os.Remove(path))
	_, err = w.Who(token)
	assert.ErrorIs(t, err, pairing.ErrToken)
}

// TestOpen_Flipped turns over a bit of every byte of a file, one at a time, and of the
// last hundred bytes, its hash among them, each: none is believed.
func TestOpen_Flipped(t *testing.T) {
	w := open(t)
	token := w.pair(phone1, checklist.Lead)
	w.code(checklist.Viewer)
	_, _, err := w.NewLink(jobA)
	require.NoError(t, err)
	path, good := filepath.Join(w.dir, pairing.File), []byte(w.file())
	for bit := range 8 * len(good) {
		if at := bit / 8; at%8 != bit%8 && at < len(good)-100 {
			continue
		}
		bad := slices.Clone(good)
		bad[bit/8] ^= 1 << (bit % 8)
		require.NoError(t, os.WriteFile(path, bad, 0o600))
		_, err := pairing.Open(w.dir, w.now)
		require.True(t, errors.Is(err, pairing.ErrDamaged) || errors.Is(err, pairing.ErrNewer), "bit %d of byte %d (%q): %v", bit%8, bit/8, good[bit/8], err)
	}
	require.NoError(t, os.WriteFile(path, good, 0o600))
	w.restart()
	_, err = w.Who(token)
	assert.NoError(t, err)
}

// TestOpen_FirstFormat: a file as it was written before it had a hash lets in whom it let
// in, and has one after the next change.
func TestOpen_FirstFormat(t *testing.T) {
	data, err := os.ReadFile("testdata/devices-1.json")
	require.NoError(t, err)
	w := open(t)
	w.at = w.at.Add(time.Hour)
	require.NoError(t, os.WriteFile(filepath.Join(w.dir, pairing.File), data, 0o600))
	w.restart()
	lead, err := w.Who("OKt8yy16A3-rmZWgfUm5YnmW8CWNY3AgX8qA8fs5s3g")
	require.NoError(t, err)
	assert.Equal(t, checklist.Lead, lead.Role)
	_, err = w.Who("ZossCgdbomr6Za_UeD4f6-TwkAknHanRQ_CcmM81PBE")
	assert.ErrorIs(t, err, pairing.ErrToken, "which was revoked")
	visitor, err := w.Who("NnNQbZU3VtAXPqao3N7VBy4AgXFgfKkyAAxggNNWOvI")
	require.NoError(t, err)
	assert.Equal(t, jobA, visitor.Job)

	token, d, err := w.Pair("4CR3-M7LX", phone2, "again", "")
	require.NoError(t, err)
	assert.Equal(t, checklist.Viewer, d.Role)
	assert.Contains(t, w.file(), "hangtrue-devices/2")
	assert.Regexp(t, `\nsha256 [0-9a-f]{64}\n$`, w.file())
	w.restart()
	for _, one := range []string{token, "OKt8yy16A3-rmZWgfUm5YnmW8CWNY3AgX8qA8fs5s3g", "NnNQbZU3VtAXPqao3N7VBy4AgXFgfKkyAAxggNNWOvI"} {
		_, err = w.Who(one)
		assert.NoError(t, err)
	}
	address, err := w.Address()
	require.NoError(t, err)
	assert.Equal(t, "https://192.168.1.5:8470", address)
}

// TestOpen_Newer: a list of a later format is refused with what to do, and not thrown away.
func TestOpen_Newer(t *testing.T) {
	w := open(t)
	w.pair(phone1, checklist.Lead)
	newer := strings.Replace(w.file(), "hangtrue-devices/2", "hangtrue-devices/3", 1)
	require.NoError(t, os.WriteFile(filepath.Join(w.dir, pairing.File), []byte(newer), 0o600))
	_, err := pairing.Open(w.dir, w.now)
	require.ErrorIs(t, err, pairing.ErrNewer)
	assert.Contains(t, err.Error(), "Use the newer program")
	assert.NotContains(t, err.Error(), "Remove it")
}

func (w *world) restartFails() {
	_, err := pairing.Open(w.dir, w.now)
	assert.ErrorIs(w.t, err, pairing.ErrDamaged)
}

// TestCode_NotWritten: where a try cannot be counted, nothing is answered that a
// guesser could use.
func TestCode_NotWritten(t *testing.T) {
	w := open(t)
	c := w.code(checklist.Lead)
	keys := filepath.Dir(filepath.Join(w.dir, pairing.File))
	require.NoError(t, os.Rename(keys, keys+"-away"))
	_, _, right := w.Pair(c.Long, phone1, "x", "")
	_, _, wrong := w.Pair("22222222", phone1, "x", "")
	require.Error(t, right)
	require.Error(t, wrong)
	assert.Equal(t, right.Error(), wrong.Error())
}

func TestAnnounce(t *testing.T) {
	w := open(t)
	require.NoError(t, w.Announce("https://attic.local:8470"))
	w.restart()
	got, err := w.Address()
	require.NoError(t, err)
	assert.Equal(t, "https://attic.local:8470", got)
}

// BenchmarkWho is what every request of a paired phone costs, with the file looked
// at and 200 devices in it.
func BenchmarkWho(b *testing.B) {
	book, err := pairing.Open(b.TempDir(), func() time.Time { return time.Date(2030, 1, 31, 9, 15, 0, 0, time.UTC) })
	require.NoError(b, err)
	var token string
	for i := range 200 {
		c, err := book.OpenCode(checklist.Installer)
		require.NoError(b, err)
		token, _, err = book.Pair(c.Long, fmt.Sprintf("018f3c5e-7a10-7000-8000-00000000d%03d", i), "x", "")
		require.NoError(b, err)
	}
	for b.Loop() {
		if _, err := book.Who(token); err != nil {
			b.Fatal(err)
		}
	}
}

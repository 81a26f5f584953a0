package pairing

import (
	"crypto/pbkdf2"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"slices"
	"strings"
	"time"

	"hangtrue/checklist"
)

const (
	// CodeLife is how long a code is open (ASVS 5.0 V6.5.5: at most ten minutes).
	CodeLife = 10 * time.Minute
	// MaxTries is how many wrong codes close a code. Somebody who types at random
	// meets one of 32^8 codes with 5 tries: 5 in 10^12.
	MaxTries = 5
	// maxCodes is how many codes may be open; one more closes the oldest.
	maxCodes = 4

	// Letters of a code that is typed: 32, and none that is read as another (no 0, O, 1, I).
	letters    = "23456789ABCDEFGHJKLMNPQRSTUVWXYZ"
	typedCount = 8

	// rounds makes one guess at a typed code's hash dear: all 2^40 codes take 10^17
	// hashes, at 10^10 a second four months; the code is open for ten minutes.
	rounds = 100_000
)

// A Code is what pairs one phone. Long and Typed open the same: Long is for a link or
// a picture, Typed for fingers.
type Code struct {
	Long, Typed string
	Role        checklist.Role
	Until       time.Time
}

// code is what is kept of one.
type code struct {
	Long  string         `json:"long"` // hash
	Salt  string         `json:"salt"`
	Typed string         `json:"typed"` // salted, slow hash
	Role  checklist.Role `json:"role"`
	Until time.Time      `json:"until"`
	Tries int            `json:"tries"` // wrong ones so far
}

// OpenCode opens pairing for one phone. To call it is an act of the server's owner or
// of a lead: the caller sees to that.
func (b *Book) OpenCode(role checklist.Role) (Code, error) {
	if role != checklist.Lead && role != checklist.Installer && role != checklist.Viewer {
		return Code{}, fmt.Errorf("%w: role is %.20q, wanted lead, installer or viewer", ErrInput, role)
	}
	c := Code{Long: rand.Text(), Role: role}
	var typed [typedCount]byte
	_, _ = rand.Read(typed[:]) // never fails
	for i := range typed {
		typed[i] = letters[typed[i]%byte(len(letters))] // 32 divides 256: no letter is likelier
	}
	salt := rand.Text()
	opened := code{Long: hashOf(c.Long), Salt: salt, Typed: slow(string(typed[:]), salt), Role: role}
	c.Typed = string(typed[:4]) + "-" + string(typed[4:])
	err := b.change(func(k *kept, now time.Time) (bool, error) {
		opened.Until = now.Add(CodeLife)
		c.Until = opened.Until
		k.dropCodes(now)
		k.Codes = append(k.Codes, opened)
		k.Codes = k.Codes[max(0, len(k.Codes)-maxCodes):]
		return true, nil
	})
	if err != nil {
		return Code{}, err
	}
	return c, nil
}

func slow(typed, salt string) string {
	sum, err := pbkdf2.Key(sha256.New, typed, []byte(salt), rounds, sha256.Size)
	if err != nil {
		panic(err) // only for lengths that are not these
	}
	return base64.RawURLEncoding.EncodeToString(sum)
}

// open tells whether a code can still pair. One that would be open for longer than codes
// are is of a clock that was set back since.
func (c code) open(now time.Time) bool {
	return now.Before(c.Until) && c.Until.Sub(now) <= CodeLife && c.Tries < MaxTries
}

// dropCodes forgets codes that are late or were tried too often.
func (k *kept) dropCodes(now time.Time) {
	k.Codes = slices.DeleteFunc(k.Codes, func(c code) bool { return !c.open(now) })
}

// find gives the place of the open code that this is, -1 for none, and counts a wrong
// try against every open code: which of them was meant nobody can know.
func (k *kept) find(given string, now time.Time) int {
	k.dropCodes(now)
	given = strings.ToUpper(strings.Map(func(r rune) rune {
		if r == '-' || r == ' ' {
			return -1
		}
		return r
	}, given))
	found := -1
	for i, c := range k.Codes {
		var right bool
		if len(given) == typedCount {
			right = same(c.Typed, slow(given, c.Salt))
		} else {
			right = same(c.Long, hashOf(given))
		}
		if right {
			found = i
		}
	}
	if found < 0 {
		for i := range k.Codes {
			k.Codes[i].Tries++
		}
	}
	return found
}

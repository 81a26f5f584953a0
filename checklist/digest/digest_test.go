package digest_test

import (
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"hangtrue/checklist/digest"
)

// The values published with FIPS 180-2, appendix B: one block, two blocks, a million
// letters; and that of the empty text.
func TestSHA256_Published(t *testing.T) {
	for _, row := range []struct{ text, want string }{
		{"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
		{"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
		{"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq", "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"},
		{string(bytes.Repeat([]byte("a"), 1_000_000)), "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"},
	} {
		for name, sum := range map[string]func([]byte) [32]byte{"own": digest.Own, "used": digest.SHA256} {
			got := sum([]byte(row.text))
			assert.Equal(t, row.want, hex.EncodeToString(got[:]), "%s of %.20q", name, row.text)
		}
	}
}

// Every length around two blocks, and random texts of any length, as the standard
// library hashes them.
func TestOwn_AsTheLibrary(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 1))
	text := func(n int) []byte {
		b := make([]byte, n)
		for i := range b {
			b[i] = byte(random.Uint32())
		}
		return b
	}
	for n := range 300 {
		data := text(n)
		before := bytes.Clone(data)
		require.Equal(t, sha256.Sum256(data), digest.Own(data), "%d bytes", n)
		require.Equal(t, before, data, "it changes nothing")
	}
	for range 200 {
		data := text(random.IntN(20_000))
		require.Equal(t, sha256.Sum256(data), digest.Own(data), "%d bytes", len(data))
	}
}

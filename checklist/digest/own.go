package digest

import (
	"encoding/binary"
	"math/bits"
)

// The first 32 bits of the fractional parts of the square roots of the first 8 primes
// (FIPS 180-4 section 5.3.3), and of the cube roots of the first 64 (section 4.2.2).
var (
	start = [8]uint32{
		0x6a09e667, 0xbb67ae85, 0x3c6ef372, 0xa54ff53a,
		0x510e527f, 0x9b05688c, 0x1f83d9ab, 0x5be0cd19,
	}
	constants = [64]uint32{
		0x428a2f98, 0x71374491, 0xb5c0fbcf, 0xe9b5dba5, 0x3956c25b, 0x59f111f1, 0x923f82a4, 0xab1c5ed5,
		0xd807aa98, 0x12835b01, 0x243185be, 0x550c7dc3, 0x72be5d74, 0x80deb1fe, 0x9bdc06a7, 0xc19bf174,
		0xe49b69c1, 0xefbe4786, 0x0fc19dc6, 0x240ca1cc, 0x2de92c6f, 0x4a7484aa, 0x5cb0a9dc, 0x76f988da,
		0x983e5152, 0xa831c66d, 0xb00327c8, 0xbf597fc7, 0xc6e00bf3, 0xd5a79147, 0x06ca6351, 0x14292967,
		0x27b70a85, 0x2e1b2138, 0x4d2c6dfc, 0x53380d13, 0x650a7354, 0x766a0abb, 0x81c2c92e, 0x92722c85,
		0xa2bfe8a1, 0xa81a664b, 0xc24b8b70, 0xc76c51a3, 0xd192e819, 0xd6990624, 0xf40e3585, 0x106aa070,
		0x19a4c116, 0x1e376c08, 0x2748774c, 0x34b0bcb5, 0x391c0cb3, 0x4ed8aa4a, 0x5b9cca4f, 0x682e6ff3,
		0x748f82ee, 0x78a5636f, 0x84c87814, 0x8cc70208, 0x90befffa, 0xa4506ceb, 0xbef9a3f7, 0xc67178f2,
	}
)

const block = 64 // bytes

// own is FIPS 180-4 section 6.2.2.
func own(data []byte) (sum [32]byte) {
	h := start
	whole := len(data) / block * block
	for i := 0; i < whole; i += block {
		compress(&h, data[i:i+block])
	}
	var end [2 * block]byte // what is left, a one, noughts, and the length in bits (section 5.1.1)
	n := copy(end[:], data[whole:])
	end[n] = 0x80
	last := end[:block]
	if n >= block-8 {
		last = end[:]
	}
	binary.BigEndian.PutUint64(last[len(last)-8:], uint64(len(data))*8)
	for ; len(last) > 0; last = last[block:] {
		compress(&h, last[:block])
	}
	for i, word := range h {
		binary.BigEndian.PutUint32(sum[4*i:], word)
	}
	return sum
}

// compress takes one block into the hash.
func compress(hash *[8]uint32, data []byte) {
	var w [64]uint32
	for i := range 16 {
		w[i] = binary.BigEndian.Uint32(data[4*i:])
	}
	for i := 16; i < len(w); i++ {
		x, y := w[i-15], w[i-2]
		w[i] = w[i-16] + w[i-7] +
			(bits.RotateLeft32(x, -7) ^ bits.RotateLeft32(x, -18) ^ x>>3) +
			(bits.RotateLeft32(y, -17) ^ bits.RotateLeft32(y, -19) ^ y>>10)
	}
	a, b, c, d, e, f, g, h := hash[0], hash[1], hash[2], hash[3], hash[4], hash[5], hash[6], hash[7]
	for i, word := range w {
		one := h + constants[i] + word + (e&f ^ ^e&g) +
			(bits.RotateLeft32(e, -6) ^ bits.RotateLeft32(e, -11) ^ bits.RotateLeft32(e, -25))
		two := (a&b ^ a&c ^ b&c) +
			(bits.RotateLeft32(a, -2) ^ bits.RotateLeft32(a, -13) ^ bits.RotateLeft32(a, -22))
		h, g, f, e, d, c, b, a = g, f, e, d+one, c, b, a, one+two
	}
	hash[0] += a
	hash[1] += b
	hash[2] += c
	hash[3] += d
	hash[4] += e
	hash[5] += f
	hash[6] += g
	hash[7] += h
}

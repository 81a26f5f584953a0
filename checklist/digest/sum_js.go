//go:build js

package digest

// SHA256 is the hash of data.
func SHA256(data []byte) [32]byte { return own(data) }

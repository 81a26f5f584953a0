//go:build !js

package digest

import "crypto/sha256"

// SHA256 is the hash of data.
func SHA256(data []byte) [32]byte { return sha256.Sum256(data) }

package engine

import (
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"io"
	"time"
)

// The two kinds of UUID that a phone makes. A library for them would bring a
// database driver and big numbers into the file that every phone downloads.

// newDeviceID is a UUIDv4 (RFC 9562 §5.4): random but for version and variant.
func newDeviceID(random io.Reader) (string, error) {
	var id [16]byte
	if _, err := io.ReadFull(random, id[:]); err != nil {
		return "", fmt.Errorf("no random bytes: %w", err)
	}
	return format(id, 4), nil
}

// newEntryID is a UUIDv7 (RFC 9562 §5.7): 48 bits of milliseconds of the device's
// clock, the rest random but for version and variant. It is unique; it orders
// nothing, since a clock may be wrong.
func newEntryID(random io.Reader, now string) (string, error) {
	t, err := time.Parse(time.RFC3339, now)
	if err != nil {
		return "", fmt.Errorf("now is %q, wanted a time in UTC", now)
	}
	var id [16]byte
	if _, err := io.ReadFull(random, id[6:]); err != nil {
		return "", fmt.Errorf("no random bytes: %w", err)
	}
	var ms [8]byte
	binary.BigEndian.PutUint64(ms[:], uint64(t.UnixMilli()))
	copy(id[:6], ms[2:])
	return format(id, 7), nil
}

func format(id [16]byte, version byte) string {
	id[6] = id[6]&0x0f | version<<4
	id[8] = id[8]&0x3f | 0x80
	h := hex.EncodeToString(id[:])
	return h[:8] + "-" + h[8:12] + "-" + h[12:16] + "-" + h[16:20] + "-" + h[20:]
}

package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"

	"hangtrue/checklist"
	"hangtrue/checklist/seal"
)

// PackRecord writes a record as implementations keep it: its leaf hash, which is
// the one that seals cover and which names job and position, and its JSON.
func PackRecord(r checklist.Record) []byte {
	leaf := seal.Leaf(r)
	return r.AppendJSON(leaf[:])
}

// UnpackRecord reads what PackRecord wrote for a place, or returns a [Damage].
func UnpackRecord(job string, position int64, packed []byte) (checklist.Record, error) {
	damage := &Damage{job, position, "its bytes are not the ones that were written"}
	if len(packed) < sha256.Size {
		return checklist.Record{}, damage
	}
	var r checklist.Record
	if err := r.UnmarshalJSON(packed[sha256.Size:]); err != nil { // which checks by itself what json.Unmarshal would check first
		return checklist.Record{}, damage
	}
	leaf := seal.Leaf(r)
	if !bytes.Equal(leaf[:], packed[:sha256.Size]) || r.Entry.Job != job || r.Position != position {
		return checklist.Record{}, damage
	}
	return r, nil
}

// Pack writes any other value as implementations keep it: the SHA-256 of its JSON, and its JSON.
func Pack(v any) ([]byte, error) {
	data, err := json.Marshal(v)
	if err != nil {
		return nil, err
	}
	return PackBytes(data), nil
}

// PackBytes writes bytes as implementations keep them: their SHA-256, and they.
func PackBytes(data []byte) []byte {
	sum := sha256.Sum256(data)
	return append(sum[:], data...)
}

// UnpackBytes reads what PackBytes wrote; false where it is not that.
func UnpackBytes(packed []byte) (data []byte, ok bool) {
	if len(packed) < sha256.Size {
		return nil, false
	}
	data = packed[sha256.Size:]
	sum := sha256.Sum256(data)
	return data, bytes.Equal(sum[:], packed[:sha256.Size])
}

// Unpack reads what Pack wrote, or returns a [Damage] about the job.
func Unpack(job, what string, packed []byte, into any) error {
	data, ok := UnpackBytes(packed)
	if !ok || json.Unmarshal(data, into) != nil {
		return &Damage{Job: job, What: what + " is not what was written"}
	}
	return nil
}

// StrayKey tells strays apart: the same bytes sent to the same job again are the same stray.
func (s Stray) StrayKey() [sha256.Size]byte {
	h := sha256.New()
	h.Write([]byte(s.Job))
	h.Write([]byte{0})
	h.Write(s.Entry)
	return [sha256.Size]byte(h.Sum(nil))
}

package seal

import (
	"fmt"

	"golang.org/x/mod/sumdb/tlog"

	"hangtrue/checklist"
)

// Leaf is the leaf hash of a record: SHA-256(0x00 ‖ Record.Leaf()), RFC 6962 section 2.1.
func Leaf(r checklist.Record) tlog.Hash { return tlog.RecordHash(r.Leaf()) }

// Root is the root of the tree over the records; the hash of nothing for none.
func Root(records []checklist.Record) tlog.Hash {
	var t Tree
	for _, r := range records {
		t.Add(Leaf(r))
	}
	return t.Root(t.Size())
}

// A Tree grows by one leaf hash at a time and knows the root at every size it
// had. The zero value is the empty tree. It is not safe for concurrent use.
type Tree struct {
	size   int64
	stored []tlog.Hash // in the order of tlog.StoredHashIndex
}

// Add appends a leaf hash.
func (t *Tree) Add(leaf tlog.Hash) {
	hashes, err := tlog.StoredHashesForRecordHash(t.size, leaf, tlog.HashReaderFunc(t.read))
	if err != nil {
		panic("seal: tree: " + err.Error()) // read never asks for what is not there
	}
	t.stored = append(t.stored, hashes...)
	t.size++
}

// Size is the number of leaves.
func (t *Tree) Size() int64 { return t.size }

// Root is the root when the tree had this many leaves, 0 to Size.
func (t *Tree) Root(size int64) tlog.Hash {
	if size < 0 || size > t.size {
		panic(fmt.Sprintf("seal: tree: root at %d of %d leaves", size, t.size))
	}
	root, err := tlog.TreeHash(size, tlog.HashReaderFunc(t.read))
	if err != nil {
		panic("seal: tree: " + err.Error())
	}
	return root
}

func (t *Tree) read(indexes []int64) ([]tlog.Hash, error) {
	hashes := make([]tlog.Hash, len(indexes))
	for i, at := range indexes {
		if at >= int64(len(t.stored)) {
			return nil, fmt.Errorf("no hash %d", at)
		}
		hashes[i] = t.stored[at]
	}
	return hashes, nil
}

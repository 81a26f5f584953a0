package bolt

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/fnv"
	"io"
	"math"
)

// Structure is what a look at a store's pages found, without bbolt, which ends the
// program on some damage and goes round in circles on other.
type Structure struct {
	Problems []string
	// Head tells that one of the two heads of the file is damaged. bbolt then goes
	// by the other, which may be that of the transaction before.
	Head bool
	// Astray tells that there are pages on which reading may never end: one that is
	// reached twice, or that leads to where this look could not follow.
	Astray bool
}

const (
	metaMagic   = 0xED0CDAED
	metaVersion = 2
	metaLength  = 64 // bytes, the last eight are the FNV-1a sum of the others
	pageHeader  = 16
	branchItem  = 16
	leafItem    = 16
	bucketValue = 16
	noFreelist  = math.MaxUint64

	branchPage, leafPage, metaPage, freelistPage = 1, 2, 4, 16

	maxProblems = 20
	maxDepth    = 64
)

type meta struct{ pageSize, root, freelist, end, transaction uint64 }

// readMeta reads one of the two heads of a file: where the root and the list of
// free pages are, and how many pages there are.
func readMeta(page []byte) (meta, bool) {
	if len(page) < pageHeader+metaLength {
		return meta{}, false
	}
	o, m := binary.NativeEndian, page[pageHeader:]
	sum := fnv.New64a()
	_, _ = sum.Write(m[:metaLength-8])
	size := o.Uint32(m[8:])
	if o.Uint32(m) != metaMagic || o.Uint32(m[4:]) != metaVersion || o.Uint64(m[metaLength-8:]) != sum.Sum64() || size < 512 || size > 1<<20 {
		return meta{}, false
	}
	return meta{uint64(size), o.Uint64(m[16:]), o.Uint64(m[32:]), o.Uint64(m[40:]), o.Uint64(m[48:])}, true
}

// structure looks at every page that a file's newest head leads to: that each is
// reached once, is of the kind it is used as, that its keys and values lie within
// it and its keys are in order, and that the list of free pages has the others and
// only those. What the values say is checked where they are read.
func structure(file io.ReaderAt, size int64) (Structure, error) {
	var found Structure
	first := make([]byte, pageHeader+metaLength)
	if n, err := file.ReadAt(first, 0); err != nil && err != io.EOF {
		return found, err
	} else if n < len(first) {
		found.Problems = []string{"it is cut short"}
		return found, nil
	}
	newest, ok := readMeta(first)
	found.Head = !ok
	for pageSize := int64(1024); pageSize <= 64<<10; pageSize *= 2 { // as bbolt looks for the second head
		if ok && int64(newest.pageSize) != pageSize {
			continue
		}
		second := make([]byte, len(first))
		if _, err := file.ReadAt(second, pageSize); err != nil && err != io.EOF {
			return found, err
		}
		other, otherOK := readMeta(second)
		if ok && !otherOK {
			found.Head = true
		}
		if otherOK && int64(other.pageSize) == pageSize && (!ok || other.transaction > newest.transaction) {
			newest, ok = other, true
		}
	}
	switch {
	case !ok:
		found.Problems = []string{"both of its heads are damaged"}
		return found, nil
	case newest.end > math.MaxInt64/newest.pageSize || int64(newest.end*newest.pageSize) > size:
		found.Problems = []string{fmt.Sprintf("it has %d bytes of %d", size, newest.end*newest.pageSize)}
		newest.end = (uint64(size) + newest.pageSize - 1) / newest.pageSize // a page that is there in part reads as zeros from there on
	}
	data := make([]byte, newest.end*newest.pageSize)
	if _, err := io.ReadFull(io.NewSectionReader(file, 0, int64(len(data))), data); err != nil && err != io.ErrUnexpectedEOF {
		return found, err
	}
	w := pageWalk{Structure: found, meta: newest, data: data, used: make([]bool, max(newest.end, 2))}
	w.used[0], w.used[1] = true, true
	w.tree(newest.root, "", nil, nil, 0)
	w.free()
	return w.Structure, nil
}

type pageWalk struct {
	Structure
	meta
	data []byte
	used []bool
}

func (w *pageWalk) problem(id uint64, bucket, format string, args ...any) {
	where := fmt.Sprintf("page %d", id)
	if bucket != "" {
		where += " of " + bucket
	}
	if len(w.Problems) < maxProblems {
		w.Problems = append(w.Problems, where+" "+fmt.Sprintf(format, args...))
	}
}

// take gives a page with all that overflows from it, once.
func (w *pageWalk) take(id uint64, bucket string) (page []byte, kind, count int) {
	if id < 2 || id >= w.end {
		w.Astray = w.Astray || id < 2 // bbolt would take a head for a page of a tree
		w.problem(id, bucket, "is beyond the end")
		return nil, 0, 0
	}
	o, at := binary.NativeEndian, id*w.pageSize
	head := w.data[at : at+pageHeader]
	pages := uint64(o.Uint32(head[12:])) + 1
	if o.Uint64(head) != id { // bbolt looks at this as well, and stops
		w.problem(id, bucket, "is not that page")
		return nil, 0, 0
	}
	if pages > w.end-id {
		w.problem(id, bucket, "goes beyond the end")
		pages = w.end - id
	}
	for p := id; p < id+pages; p++ {
		if w.used[p] {
			w.Astray = true
			w.problem(p, bucket, "is used twice")
			return nil, 0, 0
		}
		w.used[p] = true
	}
	return w.data[at : at+pages*w.pageSize], int(o.Uint16(head[8:])), int(o.Uint16(head[10:]))
}

// tree walks the pages of a bucket. Keys are from least on and below the limit.
func (w *pageWalk) tree(id uint64, bucket string, least, limit []byte, depth int) {
	page, kind, count := w.take(id, bucket)
	switch {
	case page == nil:
	case kind == branchPage && depth < maxDepth && count > 0:
		w.branch(id, page, count, bucket, least, limit, depth)
	case kind == leafPage:
		w.leaf(id, page, count, bucket, least, limit)
	default:
		w.Astray = true // bbolt follows whatever is no leaf
		w.problem(id, bucket, "is no page of a tree")
	}
}

func (w *pageWalk) branch(id uint64, page []byte, count int, bucket string, least, limit []byte, depth int) {
	o := binary.NativeEndian
	keys, children := make([][]byte, 0, count), make([]uint64, 0, count)
	for i := range count {
		at := pageHeader + i*branchItem
		if at+branchItem > len(page) {
			w.Astray = true
			w.problem(id, bucket, "has more items than room")
			return
		}
		key, ok := slice(page, uint64(at)+uint64(o.Uint32(page[at:])), uint64(o.Uint32(page[at+4:])))
		if !ok {
			w.problem(id, bucket, "has a key beyond its end")
			key = nil
		}
		keys, children = append(keys, key), append(children, o.Uint64(page[at+8:]))
	}
	if !ordered(keys, least, limit) {
		w.problem(id, bucket, "has keys out of order")
	}
	for i, child := range children {
		next := limit
		if i+1 < count {
			next = keys[i+1]
		}
		w.tree(child, bucket, keys[i], next, depth+1)
	}
}

func (w *pageWalk) leaf(id uint64, page []byte, count int, bucket string, least, limit []byte) {
	o := binary.NativeEndian
	var keys [][]byte
	for i := range count {
		at := pageHeader + i*leafItem
		if at+leafItem > len(page) {
			w.Astray = w.Astray || bucket == "" // there may be buckets that this does not reach
			w.problem(id, bucket, "has more items than room")
			return
		}
		flags, start := o.Uint32(page[at:]), uint64(at)+uint64(o.Uint32(page[at+4:]))
		keySize, valueSize := uint64(o.Uint32(page[at+8:])), uint64(o.Uint32(page[at+12:]))
		key, ok := slice(page, start, keySize)
		value, fits := slice(page, start+keySize, valueSize)
		if !ok || !fits || flags > 1 {
			w.Astray = w.Astray || bucket == ""
			w.problem(id, bucket, "has an item beyond its end")
			return
		}
		keys = append(keys, key)
		if flags == 1 {
			w.bucket(id, bucket, string(key), value)
		}
	}
	if !ordered(keys, least, limit) {
		w.problem(id, bucket, "has keys out of order")
	}
}

// bucket goes into a bucket, which has pages of its own or, when it is small, lies
// in its parent's value.
func (w *pageWalk) bucket(id uint64, parent, name string, value []byte) {
	if parent != "" || len(value) < bucketValue {
		w.Astray = w.Astray || parent == ""
		w.problem(id, parent, "has a bucket that does not belong there")
		return
	}
	name = fmt.Sprintf("%.20q", name)
	if root := binary.NativeEndian.Uint64(value); root != 0 {
		w.tree(root, name, nil, nil, 0)
		return
	}
	inline := value[bucketValue:]
	if len(inline) < pageHeader || binary.NativeEndian.Uint16(inline[8:]) != leafPage {
		w.Astray = true
		w.problem(id, name, "is no page of a tree")
		return
	}
	w.leaf(id, inline, int(binary.NativeEndian.Uint16(inline[10:])), name, nil, nil)
}

// free holds the list of free pages against those that are used: a page that is in
// both would be written over.
func (w *pageWalk) free() {
	if w.freelist == noFreelist {
		return
	}
	const name = "the free pages"
	page, kind, count := w.take(w.freelist, name)
	if page == nil {
		return
	}
	o, at := binary.NativeEndian, pageHeader
	if count == math.MaxUint16 {
		count, at = int(min(o.Uint64(page[at:]), math.MaxInt32)), at+8
	}
	if kind != freelistPage || at+8*count > len(page) {
		w.problem(w.freelist, name, "is no list of free pages")
		return
	}
	free := make([]bool, w.end)
	for i := range count {
		id := o.Uint64(page[at+8*i:])
		if id >= w.end || w.used[id] || free[id] {
			w.problem(id, name, "is in use, or there is none, or it is there twice")
			return
		}
		free[id] = true
	}
	if len(w.Problems) > 0 {
		return // what a damaged page leads to was not reached
	}
	for id := range w.used {
		if !w.used[id] && !free[id] {
			w.problem(uint64(id), name, "is missing although nothing uses it")
			return
		}
	}
}

func slice(page []byte, start, size uint64) ([]byte, bool) {
	if start+size > uint64(len(page)) || start > uint64(len(page)) {
		return nil, false
	}
	return page[start : start+size], true
}

func ordered(keys [][]byte, least, limit []byte) bool {
	for i, key := range keys {
		if i > 0 && bytes.Compare(keys[i-1], key) >= 0 || least != nil && bytes.Compare(key, least) < 0 || limit != nil && bytes.Compare(key, limit) >= 0 {
			return false
		}
	}
	return true
}

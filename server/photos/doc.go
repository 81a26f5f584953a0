// Package photos keeps the pictures that entries name, each under its own hash.
//
//	ab/abcd….jpg    a picture, by its SHA-256 in hexadecimal
//	.parts/abcd…    what has arrived of one that is not whole yet, for each sender apart
//
// A picture arrives in pieces, each at the place where the one before it ended, so
// that an upload goes on where it was cut off. With the last piece it is hashed and
// looked at, synced and only then given its name.
//
// Guarantees:
//   - what has a picture's name was, when it got it, the picture of that hash, whole,
//     and nothing but a picture (package picture); a part is never handed out;
//   - what is said to be whole stays there after a power cut;
//   - each reading hashes again: what is no longer that picture is a [store.Damage],
//     and counts as not there when somebody brings it anew;
//   - the same picture twice is kept once;
//   - a folder that is full, or has no more room than the logs may need, takes no
//     picture, and goes on when there is room;
//   - what was cut off is kept a week (common practice, no source), and at most so many;
//   - what one sender brings of a picture, right or wrong, does nothing to another's;
//   - a device that has a share brings no more than that while the store is open, and
//     what it begins and does not end gives way to what it begins next.
//
// It does not know jobs or who may do what: which pictures are named, who may read
// them and who has a share, is package server's. A power cut may take pieces back: the
// hash at the end finds out, and the picture is brought again.
package photos
